"""What was seen of the condition of the wiring, panels, and aluminium of its time."""
