"""For rules that speak only where somebody looked."""

from __future__ import annotations

from asfound.authoring import noted

__all__ = ["among", "noted"]


def among(item, words):
    """Those of `words` that are noted as the condition of an item, in the order written."""
    return [word for word in noted(item, "condition") if word in words]
