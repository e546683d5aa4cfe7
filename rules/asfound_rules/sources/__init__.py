"""More than one source on one thing."""
