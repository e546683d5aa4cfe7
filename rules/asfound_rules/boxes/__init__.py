"""Boxes: fill, cover, reach."""
