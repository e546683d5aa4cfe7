"""Breaker against the size of the conductors behind it."""

from __future__ import annotations

from asfound.authoring import Defect, only_if, rule, size_words
from asfound_rules.overcurrent.ampacity import SHEATHED, SMALL, ampacity, largest_breaker

LIVE = ("ungrounded", "switched", "traveller")


@rule(
    "conductor-too-small",
    of="conductor",
    severity="catastrophic",
    likelihood="remote",
    caution="Warning: an overloaded conductor can start a fire inside the wall before its breaker opens. "
    "Add no load; at a warm cover or a burnt smell switch this circuit off.",
    defer="Motor, welder, air-conditioner and tap conductors follow rules of their own; the adopted local code "
    "and a licensed electrician decide.",
    source="NFPA 70 (NEC) 240.4(B), (D), (G), 110.14(C), 334.80, Table 310.16",
    basis="seen in text",
)
def conductor_too_small(conductor, tables):
    """Breaker is larger than the conductor behind it allows.

    Every conductor downstream is judged, not only the home run. Small sizes go
    by their own limits, larger ones by ampacity: 60 °C for sheathed cable, else
    by the terminals. A motor, air conditioner or welder on the circuit asks for
    its nameplate. Leads of 18 and 16 AWG at a luminaire are left out.
    """
    only_if(conductor.function in LIVE)
    only_if(conductor.gauge not in ("18", "16") or not _at_luminaire(conductor))
    for breaker in conductor.breakers:
        amps = breaker.amps
        column = 60
        if conductor.gauge in SMALL:
            limit = tables.value("largest breaker for a small conductor", conductor.metal, conductor.gauge)
        else:
            limit = largest_breaker(conductor, tables, ampacity(conductor, tables, 60), receptacles=breaker.receptacles)
        if limit is not None and amps > limit and conductor.gauge not in SMALL and conductor.method not in SHEATHED:
            column = conductor.cable.terminals_c
            limit = largest_breaker(
                conductor,
                tables,
                ampacity(conductor, tables, min(column, 75)),
                receptacles=breaker.receptacles,
            )
        if limit is None or amps <= limit:
            continue
        for load in breaker.nameplate_loads:
            limit = max(limit, load.max_breaker_amps)
        if amps > limit:
            size = f"{size_words(conductor.gauge)} {conductor.metal}"
            said = f"{amps:g} A breaker {breaker} on {size} ({conductor}); the table allows {limit:g} A."
            yield Defect(said, cause=str(breaker))


def _at_luminaire(conductor):
    return any(terminal.device.kind == "luminaire" for terminal in conductor.net.terminals)
