"""What readings can mean, beyond what the record says."""
