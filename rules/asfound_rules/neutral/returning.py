"""By which conductor, how loaded, and to which panel the current of a circuit comes back."""

from __future__ import annotations

from asfound.authoring import given, names, only_if, rule, size_words
from asfound_rules.overcurrent.sizes import limit_of, metal_of

RUN_SEPARATELY = (
    "knob-and-tube", "EMT", "rigid conduit", "flexible metal conduit", "PVC conduit", "surface raceway",
)  # fmt: skip
"""Wiring in which the record cannot show that conductors run side by side."""


@rule(
    "neutral-overloaded",
    of="net",
    severity="catastrophic",
    likelihood="remote",
    caution="Warning: this neutral can be loaded beyond what it may carry, overheat in the wall and start a fire, and "
    "no breaker opens. Load one of these circuits only, until the breakers are put on opposite legs or parted.",
    defer="How the circuits are parted is for a licensed electrician; the adopted local code decides.",
    source="Circuit theory: currents of one leg add in a shared neutral; limits: NFPA 70 (NEC) 240.4(D), Table 310.16",
    basis="seen in text",
)
def neutral_overloaded(net, tables):
    """One neutral can get more current than it may carry, with every breaker holding.

    The worst is all circuits of one leg fully loaded and the others idle;
    circuits of other legs only lessen it. Lamps and supplies with electronics
    can add more and are not counted. Equal to the limit is allowed. Legs taken
    from the order of spaces are only likely.
    """
    only_if(len(net.home_runs) == 1)
    only_if(net.function == "grounded")
    only_if(len(net.return_of) > 1)
    by_leg = _amps_by_leg(net)
    only_if(by_leg)
    leg = max(by_leg, key=lambda name: by_leg[name][0])
    worst, breakers = by_leg[leg]
    (home,) = net.home_runs
    limit = limit_of(metal_of(home), home.gauge, tables)
    if worst > limit:
        who = "they" if len(breakers) == len(net.return_of) else names(breakers)
        yield (
            f"{home}, {size_words(home.gauge)} {home.metal}, is the only way back for {names(net.return_of)}; "
            f"on leg {leg} {who} can send {worst:g} A through it, and it may carry {limit:g} A."
        )


def _amps_by_leg(net):
    """Amperes that the breakers returning on a net can send, and those breakers, by leg."""
    poles = net.return_poles
    found = {}
    for breaker in net.return_of:
        for pole, leg in zip(_poles(breaker), breaker.legs, strict=False):
            if pole in poles:
                amps, breakers = found.get(leg, (0, []))
                found[leg] = amps + breaker.amps, [*breakers, breaker]
    return found


def _poles(breaker):
    """The poles of a breaker as the trace names them: A 5 and A 7 of A 5/7."""
    panel, _, spaces = breaker.tag.rpartition(" ")
    return [f"{panel} {space}" for space in spaces.split("/")]


@rule(
    "neutral-in-another-cable",
    of="net",
    severity="catastrophic",
    likelihood="remote",
    caution="Warning: with its own breaker off this circuit's neutral is still joined to another that is on, and "
    "opened it can kill. Open both before loosening any neutral.",
    defer="Knob-and-tube wiring was run with its wires apart, and raceways are not told apart here; the adopted local "
    "code and a licensed electrician decide.",
    source="NFPA 70 (NEC) 300.3(B), 200.4(A); circuit theory",
    basis="seen in text",
)
def neutral_in_another_cable(net):
    """Current of a circuit comes back through the cable of another circuit.

    A lamp between two floors is often wired so: live from below, neutral from
    above. No breaker watches the borrowed neutral for it, a ground-fault or
    arc-fault breaker trips on it, and the wires, being apart, heat metal between
    them. Judged by the cables in which the neutral lands on its bar.
    """
    homes = net.home_runs
    only_if(homes)
    only_if(net.function == "grounded")
    back = net.return_of
    only_if(back)
    cables = {home.cable.tag: home.cable for home in homes}
    beside = {str(breaker): breaker for cable in cables.values() for breaker in cable.breakers}
    lent = [breaker for breaker in back if breaker.tag not in beside]
    if not lent or any(given(cable, "method", "") in RUN_SEPARATELY for cable in cables.values()):
        return
    runs = f"in the cable of {names(beside)}" if beside else "in a cable without a live conductor"
    yield f"The current of {names(lent)} comes back through {names(homes)}, {runs} and not beside its own."


@rule(
    "neutrals-of-two-panels-joined",
    of="net",
    severity="catastrophic",
    likelihood="remote",
    caution="Warning: this branch neutral lies beside the feeder's neutral; if that one opens, it carries a whole "
    "panel, overheats and can start a fire. Both panels must be dead before it is loosened, or it can kill.",
    defer="How the circuits are parted is for a licensed electrician; the adopted local code decides.",
    source="NFPA 70 (NEC) 200.4(A), 250.142(B), 310.10(G) on parallel conductors; circuit theory",
    basis="from memory",
)
def neutrals_of_two_panels_joined(net):
    """Neutral of branch circuits lands on the neutral bars of two panels.

    A feeder's own neutral does so by its nature; one that loads return on must
    not.
    """
    panels = net.neutral_panels
    only_if(len(panels) > 1)
    back = net.return_of
    only_if(back)
    yield (
        f"{names(net.home_runs)} join the neutral bars of panels {names(panels)}, and the loads of {names(back)} "
        "return on them."
    )
