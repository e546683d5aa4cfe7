"""Size of the grounding conductor against the breaker ahead of it."""

from __future__ import annotations

from asfound.authoring import area_mm2, given, only_if, rule, size_words
from asfound_rules.overcurrent.ampacity import ORDINARY, SMALL, conditions
from asfound_rules.overcurrent.sizes import A_HAIR, is_smaller, least_size, live_in, metal_of

CABLES = ("NM", "NM-B", "NMC", "UF-B", "AC", "MC", "SE", "SER", "USE", "cloth cable", "flexible cord", "a cable")
EARLY = ("NM", "NMC", "cloth cable")
AS_MADE = "as the cable is made"


@rule(
    "grounding-conductor-too-small",
    of="conductor",
    severity="critical",
    likelihood="remote",
    caution="Warning: in a fault this wire can burn off before the breaker opens and leave metal parts live. Touch no "
    "metal on this circuit that could be live; prove it first.",
    defer="A raceway or armour can be the grounding path instead; the adopted local code and a licensed electrician "
    "decide.",
    source="NFPA 70 (NEC) 250.122(A), Table 250.122",
    basis="seen in text",
)
def grounding_conductor_too_small(conductor, tables):
    """Grounding conductor is too small for the breaker.

    It need never be larger than the circuit conductors beside it. One that
    nobody sized is taken to be as made in a factory cable, and as large as the
    others beside conductors to 10 AWG. Early cable with its reduced grounding
    conductor has a remark of its own.
    """
    breaker, least = _asked(conductor, tables)
    if not is_smaller(conductor.gauge, least) or _is_early(conductor, breaker, tables):
        return
    yield f"{_what(conductor, breaker)}; the table asks for {size_words(least)}."


@rule(
    "reduced-ground-of-early-cable",
    of="conductor",
    severity="negligible",
    likelihood="occasional",
    caution="Warning: a thin grounding wire carries a fault for a shorter time before it burns off. Hang nothing on it "
    "that relies on a full-sized one.",
    defer="What may be added to such wiring is for the adopted local code and licensed practice.",
    source="NFPA 70 (NEC) 1965, Table 250-95, column for cable assemblies, as told in published summaries",
    basis="from memory",
)
def reduced_ground_of_early_cable(conductor, tables):
    """Early cable has a grounding conductor smaller than the table asks today.

    Cable was made so for some years and was right when it was put in. Only
    where the size of the grounding wire was recorded; cable without a recorded
    year is taken as of that time when its kind fits.
    """
    breaker, least = _asked(conductor, tables)
    if is_smaller(conductor.gauge, least) and _is_early(conductor, breaker, tables):
        last = tables.value("last year of early cable", "reduced grounding conductor")
        yield (
            f"{_what(conductor, breaker)}; today's table asks for {size_words(least)}. Cable was made with reduced "
            f"grounding conductors until {last}."
        )


@rule(
    "grounding-conductor-not-upsized",
    of="conductor",
    severity="negligible",
    likelihood="remote",
    caution="Warning: on a long run a small grounding conductor slows the breaker in a fault. Judge this run by its "
    "length before adding to it.",
    defer="Reasons other than length, such as heat, are treated apart; the adopted local code and a licensed "
    "electrician decide.",
    source="NFPA 70 (NEC) 250.122(B), Chapter 9 Table 8",
    basis="from memory",
)
def grounding_conductor_not_upsized(conductor, tables):
    """Circuit conductors are larger than the breaker needs and the grounding conductor did not grow with them.

    In proportion of areas, from the smallest size that the breaker allows.
    Factory cable is left out: its make-up is fixed. So is a run for which heat
    or bundling is recorded.
    """
    only_if(conductor.function == "grounding")
    only_if(given(conductor, "method", "a cable") not in CABLES)
    breaker, least = _asked(conductor, tables)
    live = live_in(conductor.cable)
    only_if(live)
    only_if(conditions(conductor) == ORDINARY)
    smallest, sizes = least_size(breaker.amps, metal_of(live[-1]), tables)
    share = area_mm2(live[-1].gauge) / area_mm2(smallest)
    if share <= 1 + A_HAIR or is_smaller(conductor.gauge, least):
        return
    needed = area_mm2(least) * share
    if area_mm2(conductor.gauge) < needed * (1 - A_HAIR):
        asked = next((size for size in sizes if area_mm2(size) >= needed * (1 - A_HAIR)), live[-1].gauge)
        yield (
            f"{_what(conductor, breaker)} beside {size_words(live[-1].gauge)} circuit conductors, where "
            f"{size_words(smallest)} would do; in proportion it would be {size_words(asked)}."
        )


def _asked(conductor, tables):
    """The largest breaker ahead of a grounding conductor whose size is recorded, and the size that the table asks."""
    only_if(conductor.function == "grounding")
    cable = conductor.cable
    only_if(cable.breakers)
    if given(cable, "ground_gauge", AS_MADE) == AS_MADE:
        only_if(given(conductor, "method", "a cable") not in CABLES)
        only_if([beside for beside in live_in(cable) if beside.gauge not in SMALL])
    breaker = max(cable.breakers, key=lambda one: one.amps)
    least = tables.at_least("grounding conductor", breaker.amps, metal_of(conductor))
    for beside in live_in(cable)[-1:]:
        if is_smaller(beside.gauge, least):
            least = beside.gauge
    return breaker, least


def _is_early(conductor, breaker, tables):
    """Whether this is a reduced grounding conductor such as early cable was made with."""
    if given(conductor, "method", "a cable") not in EARLY or conductor.metal != "copper":
        return False
    last = tables.value("last year of early cable", "reduced grounding conductor")
    if given(conductor, "installed", last) > last:
        return False
    made = tables.at_least("grounding conductor of early cable", breaker.amps, "copper")
    return not is_smaller(conductor.gauge, made)


def _what(conductor, breaker):
    what = f"{size_words(conductor.gauge)} {conductor.metal} grounding conductor {conductor}"
    return f"{what} behind {breaker.amps:g} A breaker {breaker}"
