"""Where a splice is, and what kind it is."""

from __future__ import annotations

from asfound.authoring import every, for_words, given, joined, names, only_if, rule
from asfound_rules.splices.holding import at_power

NOT_LISTED = ("solder and tape", "tape only", "twisted bare")
BOTH_METALS = (
    "Which connectors and methods are accepted for the two metals is for the listing, the adopted local code and a "
    "licensed electrician."
)


@rule(
    "splice-outside-box",
    of="joint",
    severity="catastrophic",
    likelihood="remote",
    caution="Warning: an open splice can arc and set fire to what is near it, and its conductors can be live within "
    "reach. Keep away from it and do not move it; switch the circuit off. Have it mended by a qualified person.",
    defer="Some listed splicing devices and old knob-and-tube joints need no box; the adopted local code and a "
    "licensed electrician decide.",
    source="NFPA 70 (NEC) 300.15; Article 394 for soldered knob-and-tube joints",
    basis="seen in text",
)
def splice_outside_box(joint):
    """Splice is not in a box.

    A soldered and taped joint of knob-and-tube conductors among themselves is
    how that system was made and is left out.
    """
    if joint.in_box:
        return
    old = every(joint.conductors, lambda conductor: conductor.method == "knob-and-tube")
    only_if(not (old and joint.connector == "solder and tape"))
    how = for_words(joint, "connector")
    yield f"{names(joint.conductors)} spliced outside any box ({joint.words}{f', {how}' if how else ''})."


@rule(
    "copper-with-aluminium",
    of="joint",
    severity="catastrophic",
    likelihood="occasional",
    caution="Danger: such a joint can heat until it starts a fire that kills, and no breaker sees it. Switch the "
    "circuit off and keep it off until a qualified person has mended the joint.",
    defer=BOTH_METALS,
    source="NFPA 70 (NEC) 110.14; CPSC Publication 516 (2011)",
    basis="seen in text",
)
def copper_with_aluminium(joint):
    """Copper and aluminium are in one connector that is not listed for both.

    Copper-clad aluminium counts as aluminium here. Ask what the connector is
    marked for before cutting it out. Joints of grounding conductors alone have a
    rule of their own.
    """
    only_if(_two_metals(joint))
    only_if(at_power(joint))
    yield from _not_for_both(joint)


@rule(
    "copper-with-aluminium-ground",
    of="joint",
    severity="catastrophic",
    likelihood="remote",
    caution="Warning: such a joint of grounds corrodes until it no longer holds, and metal behind it can then stay "
    "live after a fault and give a shock. At a tingle from metal keep away and switch the circuit off; have a "
    "qualified person mend the joint.",
    defer=BOTH_METALS,
    source="NFPA 70 (NEC) 110.14; CPSC Publication 516 (2011)",
    basis="from memory",
)
def copper_with_aluminium_ground(joint):
    """Grounds of copper and aluminium are in one connector not listed for both.

    It carries no current until there is a fault, so it does not heat in use; it
    fails when it is needed. Copper-clad aluminium counts as aluminium here.
    """
    only_if(_two_metals(joint))
    only_if(not at_power(joint))
    yield from _not_for_both(joint)


def _two_metals(joint):
    """Whether a joint holds copper and another metal."""
    metals = {conductor.metal for conductor in joint.conductors}
    return "copper" in metals and len(metals) > 1


def _not_for_both(joint):
    """A sentence when what holds the two metals is not listed for both."""
    held = joined(f"{conductor} ({conductor.metal})" for conductor in joint.conductors)
    connector = given(joint, "connector", "not recorded")
    if connector in NOT_LISTED:
        yield f"{held} are held together without a listed connector: {connector} ({joint.words})."
    elif joint.listed_for == "not marked":
        yield f"{held} are in one connector that bears no marking for both metals ({joint.words})."
    elif joint.listed_for != "copper and aluminium":
        yield f"{held} are in one connector listed for {joint.listed_for} ({joint.words})."
