"""Service conductors against the main breaker."""

from __future__ import annotations

from asfound.authoring import Defect, given, names, only_if, rule, size_words
from asfound_rules.overcurrent.ampacity import ampacity, largest_breaker
from asfound_rules.overcurrent.sizes import is_smaller, metal_of
from asfound_rules.terms import HOMES


@rule(
    "service-conductor-too-small",
    of="panel",
    severity="catastrophic",
    likelihood="remote",
    caution="Warning: the main lets through more than these conductors carry, so they can overheat and start a fire; "
    "ahead of it they have no protection here and stay live with the main off. Keep away from them; add no load.",
    defer="Parallel conductors, calculated loads and the utility's own conductors follow rules of their own; the "
    "adopted local code and a licensed electrician decide.",
    source="NFPA 70 (NEC) 230.42, 230.90, 240.4(B), 310.12 (310.15(B)(7) and earlier)",
    basis="from memory",
)
def service_conductor_too_small(panel, tables, site):
    """Conductors on the main lugs are too small for the main.

    Only for a panel fed by the utility. By ampacity at 75 °C, or what the
    insulation allows if less, and the next standard size up; in a dwelling of
    100 to 400 A by the smaller sizes allowed there.
    """
    only_if(not panel.feeder)
    live = [conductor for conductor in panel.lugs if not conductor.breakers]
    only_if(live)
    small = [(conductor, why) for conductor in live if (why := _too_small(conductor, panel.main_amps, tables, site))]
    if small:
        first, why = small[0]
        held = [conductor for conductor, _ in small]
        yield Defect(
            f"{size_words(first.gauge)} {first.metal} ({names(held)}) feeds the {panel.main_amps:g} A main of panel "
            f"{panel}; {why}.",
            parts=tuple(held),
        )


def feeds_dwelling(conductor, breaker, tables, site):
    """Whether a conductor has the size allowed for the whole load of one dwelling, and carries just that.

    The only breaker of a panel fed by the utility carries everything. Source: NFPA 70 (NEC) 310.12(B).
    """
    first, last = (tables.value("reach of the dwelling rule", end) for end in ("from", "to"))
    if not first <= breaker.amps <= last:
        return False
    least = tables.at_least("service conductor of a dwelling", breaker.amps, metal_of(conductor))
    if is_smaller(conductor.gauge, least) or breaker.panel.feeder or len(breaker.panel.breakers) > 1:
        return False
    return site.kind in HOMES


def _too_small(conductor, rating, tables, site):
    """Why a service conductor is too small for a main of this rating; empty when it is not."""
    amps = ampacity(conductor, tables, min(given(conductor, "insulation_c", 75), 75))
    if largest_breaker(tables, amps, receptacles=0) >= rating:
        return ""
    reach = [tables.value("reach of the dwelling rule", end) for end in ("from", "to")]
    if not reach[0] <= rating <= reach[1] or site.kind not in HOMES:
        return f"it carries {amps:g} A"
    least = tables.at_least("service conductor of a dwelling", rating, metal_of(conductor))
    return f"the table asks for {size_words(least)}" if is_smaller(conductor.gauge, least) else ""
