"""The training coordinator's kit: rules written, tried, proven and handed on."""
