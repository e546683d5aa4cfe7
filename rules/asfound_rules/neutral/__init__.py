"""The grounded conductor (neutral)."""
