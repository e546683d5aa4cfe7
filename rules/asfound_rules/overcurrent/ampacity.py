"""How much a conductor may carry, and the largest breaker that follows. No rules here; used by them."""

from __future__ import annotations

from asfound.authoring import given

SHEATHED = ("NM", "NM-B", "NMC", "UF-B")
SMALL = ("18", "16", "14", "12", "10")
LEADS = ("18", "16")
FIXTURES = ("lampholder", "luminaire", "fan", "smoke alarm")
ORDINARY = (30, 1)


def allowed(conductor, breaker, tables):
    """Largest breaker that a conductor allows, in A; None when no standard size is small enough.

    A small size has a limit of its own. Ampacity decides for larger sizes, and
    for small ones whose cable is recorded as hot or bundled.
    """
    small = conductor.gauge in SMALL
    if small:
        limit = tables.value("largest breaker for a small conductor", conductor.metal, conductor.gauge)
        if breaker.amps > limit:
            return limit
    around = conditions(conductor)
    if small and around == ORDINARY:
        return limit
    for column in columns(conductor):
        amps = ampacity(conductor, tables, column, around)
        limit = largest_breaker(tables, amps, receptacles=breaker.receptacles)
        if limit is not None and breaker.amps <= limit:
            break
    return limit


def carries(conductor, needed, tables):
    """Amperes a conductor may carry: at 60 °C, or by its markings when that is less than `needed`."""
    around = conditions(conductor)
    for column in columns(conductor):
        amps = ampacity(conductor, tables, column, around)
        if amps >= needed:
            break
    return amps


def conditions(conductor):
    """Ambient in °C, 30 at least, and cables in the bundle. Not recorded means an ordinary room and no bundle."""
    cable = conductor.cable
    return max(given(cable, "ambient_c", 30), 30), given(cable, "bundled", 1)


def columns(conductor):
    """Temperatures whose ampacity counts, in rising order: 60 °C, then what wire and terminals are marked for."""
    yield 60
    if conductor.method not in SHEATHED:
        yield min(conductor.insulation_c, conductor.cable.terminals_c, 75)


def ampacity(conductor, tables, column, around=ORDINARY):
    """Amperes a conductor may carry where it runs (`around`: ambient in °C, cables in the bundle).

    Correction starts from the insulation's own column and the result is never
    above that of `column`. Source: NFPA 70 (NEC) 310.15, 110.14(C), 334.80.
    """
    ambient, bundled = around
    metal = "aluminium" if conductor.metal == "copper-clad aluminium" else conductor.metal
    held = tables.value("ampacity", metal, conductor.gauge, column)
    if around == ORDINARY:
        return held
    insulation = 90 if conductor.method in ("NM-B", "UF-B") else conductor.insulation_c
    start = tables.value("ampacity", metal, conductor.gauge, insulation)
    factor = tables.at_least("ambient factor", ambient, insulation) if ambient > 30 else 1.0
    if bundled > 1:
        carrying = sum(1 for one in conductor.cable.conductors if one.colour_role != "grounding")
        factor *= tables.at_least("bundling factor", carrying * bundled)
    return min(held, round(start * factor, 2))


def largest_breaker(tables, amps, *, receptacles):
    """Largest breaker for an ampacity: the next standard size up, or down where rounding up is barred.

    None when no standard size is small enough. Source: NFPA 70 (NEC) 240.4(B), 240.6(A).
    """
    sizes = tables.value("standard ratings", "to 600 A") + tables.value("standard ratings", "over 600 A")
    below = [size for size in sizes if size <= amps]
    above = [size for size in sizes if size >= amps]
    if receptacles > 1 or above[0] > tables.value("standard ratings", "no rounding up beyond"):
        return below[-1] if below else None
    return above[0]


def is_luminaire_lead(conductor, breaker, tables):
    """Whether this is a factory lead at a luminaire that the breaker may protect.

    A length that is not recorded is taken as that of a factory lead. Source: NFPA 70 (NEC) 240.5(B)(2).
    """
    if conductor.gauge not in LEADS or not _lands_at_luminaire(conductor):
        return False
    if breaker.amps > tables.value("largest breaker ahead of a luminaire lead", conductor.gauge):
        return False
    return given(conductor.cable, "length", 0) <= tables.value("longest luminaire lead", conductor.gauge)


def _lands_at_luminaire(conductor):
    here = [
        terminal.device.kind
        for terminal in conductor.net.terminals
        if conductor.tag in [one.tag for one in terminal.conductors]
    ]
    return any(kind in FIXTURES for kind in here)
