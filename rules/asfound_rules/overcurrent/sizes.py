"""Sizes and what they allow by the tables alone, without heat or bundling. No rules here; used by them."""

from __future__ import annotations

from asfound.authoring import area_mm2, by_size
from asfound_rules.overcurrent.ampacity import SMALL, largest_breaker
from asfound_rules.terms import LIVE

A_HAIR = 0.005
"""Share by which printed areas of wire differ from the formula; sizes this close are equal."""


def live_in(cable):
    """The conductors of a cable that carry the breaker's voltage, in rising order of size."""
    return by_size(conductor for conductor in cable.conductors if conductor.function in LIVE)


def metal_of(conductor):
    """The metal as tables of ampacity and of grounding conductors know it: copper or aluminium."""
    return "aluminium" if conductor.metal == "copper-clad aluminium" else conductor.metal


def limit_of(metal, size, tables):
    """Largest breaker in A for a size at 60 °C; small sizes by their own limit."""
    if size in SMALL:
        return tables.value("largest breaker for a small conductor", metal, size)
    return largest_breaker(tables, tables.value("ampacity", metal, size, 60), receptacles=0)


def least_size(amps, metal, tables):
    """The smallest size whose limit reaches `amps`, and the sizes above it."""
    sizes = tables.value("wire sizes", "building wire")
    known = (n for n, size in enumerate(sizes) if tables.has("ampacity", metal, size, 60))
    number = next((n for n in known if limit_of(metal, sizes[n], tables) >= amps), len(sizes) - 1)
    return sizes[number], sizes[number:]


def is_smaller(one, two):
    """Whether size `one` is smaller than size `two`, beyond the difference between printed tables."""
    return area_mm2(one) < area_mm2(two) * (1 - A_HAIR)
