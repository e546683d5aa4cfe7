"""Disconnected, abandoned, and called dead."""
