"""As-found wiring records in, graded defects out."""

__version__ = "0.1.0"
