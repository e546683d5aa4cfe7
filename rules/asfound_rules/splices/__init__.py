"""Splices and what holds them."""
