"""The record itself: where it contradicts itself or lost something."""
