"""Breaker against the size of the conductors behind it."""

from __future__ import annotations

from asfound.authoring import Defect, for_words, only_if, rule, size_words
from asfound_rules.overcurrent.ampacity import SMALL, allowed, carries, is_luminaire_lead
from asfound_rules.overcurrent.service import feeds_dwelling
from asfound_rules.terms import LIVE


@rule(
    "conductor-too-small",
    of="conductor",
    severity="catastrophic",
    likelihood="remote",
    caution="Warning: an overloaded conductor can start a fire inside the wall before its breaker opens. "
    "Add no load; at a warm cover or a burnt smell switch this circuit off.",
    defer="Motor, welder, air-conditioner and tap conductors follow rules of their own; the adopted local code "
    "and a licensed electrician decide.",
    source="NFPA 70 (NEC) 240.4(B), (D), (G), 240.5, 110.14(C), 334.80, Table 310.16",
    basis="seen in text",
)
def conductor_too_small(conductor, tables, site):
    """Breaker is larger than the conductor behind it allows.

    Every conductor downstream is judged, not only the home run. Small sizes go
    by their own limits, larger ones by ampacity: 60 °C for sheathed cable, else
    as wire and terminals are marked. Where a motor, air conditioner or welder
    has the circuit to itself, its nameplate decides. Short factory leads of
    luminaires are left out, and so is the one feeder of a whole dwelling that
    has the size allowed for it. Heat and bundling count only where recorded.
    """
    only_if(conductor.function in LIVE)
    only_if(conductor.breakers)
    for breaker in conductor.breakers:
        if is_luminaire_lead(conductor, breaker, tables):
            continue
        if conductor.gauge not in SMALL and feeds_dwelling(conductor, breaker, tables, site):
            continue
        limit = allowed(conductor, breaker, tables, site)
        if limit is not None and breaker.amps <= limit:
            continue
        if breaker.nameplate_loads and breaker.receptacles < 2:
            why = _against_nameplate(conductor, breaker, tables, site)
        elif limit is None:
            amps = carries(conductor, breaker.amps, tables, site)
            why = f"it may carry {amps:g} A, and no standard breaker is that small"
        else:
            why = f"the table allows {limit:g} A"
        if why:
            what = f"{breaker.amps:g} A {for_words(breaker, 'kind') or 'breaker'} {breaker}"
            said = f"{what} on {size_words(conductor.gauge)} {conductor.metal} ({conductor}); {why}."
            yield Defect(said, cause=str(breaker) if len(conductor.breakers) > 1 else "")


def _against_nameplate(conductor, breaker, tables, site):
    """What the nameplates on a circuit of their own say against it; empty when they allow it."""
    for load in breaker.nameplate_loads:
        if breaker.amps > load.max_breaker_amps:
            return f"the nameplate of {load} allows {load.max_breaker_amps:g} A"
        needed = load.min_circuit_amps
        amps = carries(conductor, needed, tables, site)
        if amps < needed:
            return f"the nameplate of {load} asks for a conductor of {needed:g} A, this one carries {amps:g} A"
    return ""
