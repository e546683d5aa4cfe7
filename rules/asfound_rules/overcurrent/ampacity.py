"""How much a conductor may carry, and the largest breaker that follows. No rules here; used by them."""

from __future__ import annotations

from asfound.authoring import given

SHEATHED = ("NM", "NM-B", "NMC", "UF-B")
SMALL = ("18", "16", "14", "12", "10")
LEADS = ("18", "16")
FIXTURES = ("lampholder", "luminaire", "fan", "smoke alarm")
ORDINARY = (30, 1)


def allowed(conductor, breaker, tables, site):
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
        amps = ampacity(conductor, tables, column, around, site)
        limit = largest_breaker(tables, amps, receptacles=breaker.receptacles)
        if limit is not None and breaker.amps <= limit:
            break
    return limit


def carries(conductor, needed, tables, site):
    """Amperes a conductor may carry: at 60 °C, or by its markings when that is less than `needed`."""
    around = conditions(conductor)
    for column in columns(conductor):
        amps = ampacity(conductor, tables, column, around, site)
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


def ampacity(conductor, tables, column, around=ORDINARY, site=None):
    """Amperes a conductor may carry where it runs (`around`: ambient in °C, cables in the bundle; then with `site`).

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
        factor *= tables.at_least("bundling factor", carrying(conductor.cable, tables, site) * bundled)
    return min(held, round(start * factor, 2))


def carrying(cable, tables, site):
    """How many conductors of a cable count as current-carrying.

    Not grounding conductors, nor a neutral that carries only the unbalance of
    the legs beside it. Source: NFPA 70 (NEC) 310.15(E), (F).
    """
    held = [one for one in cable.conductors if one.colour_role != "grounding"]
    table = "neutral left out of the count"
    if len(held) < 3 or not tables.has(table, site.supply):
        return len(held)
    neutrals = [one for one in held if one.function == "grounded"]
    legs = {leg for one in held if one not in neutrals for breaker in one.breakers for leg in breaker.legs}
    unbalance = len(neutrals) == 1 and len(legs) == tables.value(table, site.supply)
    return len(held) - 1 if unbalance else len(held)


def largest_breaker(tables, amps, *, receptacles):
    """Largest breaker for an ampacity: the next standard size up, or down where rounding up is barred.

    None when no standard size is small enough. Source: NFPA 70 (NEC) 240.4(B), 240.6(A).
    """
    sizes = tables.value("standard ratings", "to 600 A") + tables.value("standard ratings", "over 600 A")
    if receptacles > 1:
        return max((size for size in sizes if size <= amps), default=None)
    return min(size for size in sizes if size >= amps)


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
