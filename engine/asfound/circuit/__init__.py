"""Numbers of a circuit: what a meter would show between two points of it. Knows nothing of records."""
