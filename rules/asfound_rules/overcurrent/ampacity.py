"""How much a conductor may carry, and the largest breaker that follows. No rules here; used by them."""

from __future__ import annotations

from asfound.authoring import given

SHEATHED = ("NM", "NM-B", "NMC", "UF-B")
SMALL = ("18", "16", "14", "12", "10")


def ampacity(conductor, tables, column):
    """Amperes a conductor may carry at its recorded ambient and bundling, held to `column` °C.

    Correction starts from the insulation's own column and the result is never
    above the column of the terminals, or 60 °C for sheathed cable.
    Source: NFPA 70 (NEC) 310.15, 110.14(C), 334.80.
    """
    metal = "aluminium" if conductor.metal == "copper-clad aluminium" else conductor.metal
    cable = conductor.cable
    ambient = given(cable, "ambient_c", 30)
    bundled = given(cable, "bundled", 1)
    held = tables.value("ampacity", metal, conductor.gauge, column)
    if ambient <= 30 and bundled == 1:
        return held
    insulation = conductor.insulation_c if conductor.method not in ("NM-B", "UF-B") else 90
    start = tables.value("ampacity", metal, conductor.gauge, insulation)
    factor = tables.at_least("ambient factor", ambient, insulation) if ambient > 30 else 1.0
    if bundled > 1:
        carrying = sum(1 for one in cable.conductors if one.colour_role != "grounding")
        factor *= tables.at_least("bundling factor", carrying * bundled)
    return min(held, round(start * factor, 2))


def largest_breaker(conductor, tables, amps, *, receptacles):
    """Largest breaker for an ampacity: the next standard size up, or down where rounding up is barred.

    None when no standard size is small enough. Source: NFPA 70 (NEC) 240.4(B), 240.6(A).
    """
    sizes = tables.value("standard ratings", "breaker")
    below = [size for size in sizes if size <= amps]
    above = [size for size in sizes if size >= amps]
    if receptacles > 1 or not above or above[0] > 800:
        limit = below[-1] if below else None
    else:
        limit = above[0]
    small = conductor.gauge in SMALL
    if small and limit is not None:
        limit = min(limit, tables.value("largest breaker for a small conductor", conductor.metal, conductor.gauge))
    return limit
