"""Size of the neutral against the circuit it serves."""

from __future__ import annotations

from asfound.authoring import Defect, only_if, rule, size_words
from asfound_rules.overcurrent.sizes import is_smaller, limit_of, live_in, metal_of


@rule(
    "neutral-too-small",
    of="conductor",
    severity="catastrophic",
    likelihood="remote",
    caution="Warning: the neutral carries the whole load and no breaker watches it alone, so it can overheat inside "
    "the wall and start a fire. Add no load to this circuit.",
    defer="Feeder neutrals go by calculation, and neutrals of ranges and dryers by rules of their own; the adopted "
    "local code and a licensed electrician decide.",
    source="NFPA 70 (NEC) 210.19(A), 220.61, 240.4(D)",
    basis="from memory",
)
def neutral_too_small(conductor, tables):
    """Neutral is smaller than the ungrounded conductors beside it and than the breaker allows.

    On two poles a neutral of 70 percent is accepted, as for ranges and dryers,
    from 10 AWG up. Feeders and services are left to calculation.
    """
    only_if(conductor.function == "grounded")
    live = live_in(conductor.cable)
    only_if(live)
    only_if(conductor.cable.breakers)
    if not is_smaller(conductor.gauge, live[0].gauge):
        return
    only_if(len(conductor.net.panels) < 2)
    limit = limit_of(metal_of(conductor), conductor.gauge, tables)
    for breaker in conductor.cable.breakers:
        if breaker.amps <= limit or _is_enough_on_two_poles(conductor.gauge, limit, breaker, tables):
            continue
        said = (
            f"{size_words(conductor.gauge)} {conductor.metal} neutral {conductor} runs beside "
            f"{size_words(live[0].gauge)} on {breaker.amps:g} A breaker {breaker}; the table allows {limit:g} A."
        )
        yield Defect(said, cause=str(breaker))


def _is_enough_on_two_poles(size, limit, breaker, tables):
    if breaker.poles < 2:
        return False
    share = tables.value("neutral of a two-pole circuit", "share")
    smallest = tables.value("neutral of a two-pole circuit", "smallest")
    return limit >= share * breaker.amps and not is_smaller(size, smallest)
