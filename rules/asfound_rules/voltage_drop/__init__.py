"""Voltage drop: does the load still get what it needs? Advice only."""
