"""How a cable is held along its run, at the box, and where it passes through framing."""

from __future__ import annotations

from asfound.authoring import Defect, area_mm2, given, names, only_if, rule, some
from asfound_rules.observed import noted
from asfound_rules.terms import A_HAIR

SPACING = "largest support spacing"
FIRST = "farthest first support"
SMALL = "small cable held near the box"
FACE = "least distance to the face of framing"
NEEDS_A_GUARD = ("NM", "NM-B", "NMC", "cloth cable", "UF-B", "AC", "MC", "flexible cord", "knob-and-tube")


@rule(
    "cable-support",
    of="cable",
    severity="marginal",
    likelihood="remote",
    caution="Warning: a hanging cable is caught and pulled, and what gives way is insulation or a joint; the end can "
    "be a shock. Do not hang anything on it or move it; have a qualified person fix it.",
    defer="Spacing differs by method and edition; the adopted local code and a licensed electrician decide.",
    source="NFPA 70 (NEC) 334.30, 320.30, 330.30, 340.10, 348.30, 358.30, 344.30, 352.30; conduits from memory",
    basis="seen in text",
)
def cable_support(cable, tables):
    """Supports of a cable are too far apart, or the first is too far from the box.

    Exactly the limit is allowed. A cable fished through a finished wall needs
    none; ask whoever ran it. Short pieces to luminaires above a ceiling have
    exceptions that are not looked at. Conduit goes by the limit of the largest
    trade size; a small one may need supports closer together.
    """
    gap, first = given(cable, "support_spacing", 0), given(cable, "first_support", 0)
    only_if(gap or first)
    method = cable.method
    over = []
    if gap and tables.has(SPACING, method):
        over.append((gap, tables.value(SPACING, method), "spacing", "Supports of {} are {} in apart"))
    if first and tables.has(FIRST, method):
        near = tables.value(FIRST, method)
        if first > near and tables.has(SMALL, method, "size") and _is_large(cable, tables):
            near = tables.value(SPACING, method)
        over.append((first, near, "first", "The first support of {} is {} in from the box"))
    only_if(over)
    over = [one for one in over if one[0] > one[1]]
    if not over or cable.fished:
        return
    for distance, limit, cause, words in over:
        yield Defect(
            f"{words.format(cable, f'{distance:g}')}; the table allows {limit:g} in for {method}.", cause=cause
        )


@rule(
    "cable-not-held-at-box",
    of="cable",
    severity="catastrophic",
    likelihood="improbable",
    caution="Warning: the edge of the box can cut an unheld cable and make the box live, or the pull can open a joint. "
    "Do not pull at the cable or touch a metal box; have a qualified person mend it.",
    defer="Plastic boxes of one gang have an exception; the adopted local code and a licensed electrician decide.",
    source="NFPA 70 (NEC) 314.17(B), (C) and its exception",
    basis="seen in text",
)
def cable_not_held_at_box(cable, tables):
    """Cable enters a box without a clamp or bushing.

    A plastic box for one device needs no clamp when the first support is near
    and the sheath reaches inside; both figures must hold. How many gangs a box
    has is taken from the devices in it.
    """
    only_if(noted(cable, "clamped") == "nothing")
    boxes = [box for box in cable.ends_in if given(box, "kind", "a box") != "no box"]
    only_if(boxes)
    bare = [box for box in boxes if not (_one_gang_of_plastic(box) and _held_near(cable, tables))]
    if bare:
        verb = "box" if len(bare) == 1 else "boxes"
        yield f"Nothing holds {cable} where it enters {verb} {names(bare)}: neither clamp nor bushing."


@rule(
    "cable-near-face-of-framing",
    of="cable",
    severity="catastrophic",
    likelihood="improbable",
    caution="Warning: a nail or screw can go into this cable and make it, or the screw, live. Drive nothing into the "
    "framing here; if something was, treat it as live.",
    defer="The adopted local code and a licensed electrician decide; a plate is the usual remedy.",
    source="NFPA 70 (NEC) 300.4(A), (D)",
    basis="seen in text",
)
def cable_near_face_of_framing(cable, tables):
    """Cable runs close to the face of the framing without a steel plate.

    Measured from the edge of the hole or notch, not from its centre. Exactly
    the distance asked for is enough. Rigid raceways and fished cables need no
    plate.
    """
    distance = noted(cable, "face_distance")
    method = cable.method
    only_if(tables.has(FACE, method))
    least = tables.value(FACE, method)
    only_if(distance < least)
    only_if(not given(cable, "fished", False))
    if not cable.plate:
        yield (
            f"{cable} ({method}) runs {distance:g} in from the face of the framing without a plate; "
            f"the table asks for {least:g} in."
        )


@rule(
    "cable-exposed-to-damage",
    of="cable",
    severity="catastrophic",
    likelihood="improbable",
    caution="Warning: a blow or a shelf can cut this cable and leave live metal bare, which can shock or start a fire. "
    "Put nothing against it and hang nothing on it until it is guarded.",
    defer="What counts as exposed to damage is judged on the spot; the adopted local code and a licensed electrician "
    "decide.",
    source="NFPA 70 (NEC) 334.15(B), 320.12, 330.12, 340.12, 400.12",
    basis="from memory",
)
def cable_exposed_to_damage(cable):
    """Cable runs on the surface where it can be hit.

    Speaks of sheathed and armoured cable and cord. Conduit is a guard itself.
    """
    only_if(noted(cable, "exposed"))
    method = cable.method
    only_if(method in NEEDS_A_GUARD)
    yield f"{cable} ({method}) runs on the surface where it can be hit, without a guard."


def _is_large(cable, tables):
    """Whether a cable has more or larger conductors than those held near the box."""
    count, size = tables.value(SMALL, cable.method, "conductors"), tables.value(SMALL, cable.method, "size")
    wires = cable.conductors or [cable]
    return len(wires) > count or some(wires, lambda wire: area_mm2(wire.gauge) > area_mm2(size) + A_HAIR)


def _one_gang_of_plastic(box):
    """Whether a box is of plastic and holds one single device at most."""
    yokes = [device for device in box.devices if device.yoke]
    return box.kind == "nonmetallic" and len(yokes) < 2 and all(given(device, "gangs", 1) == 1 for device in yokes)


def _held_near(cable, tables):
    """Whether the support beside a box without clamps is near and the sheath reaches into the box."""
    table = "cable in a single-gang box without clamps"
    return (
        cable.first_support <= tables.value(table, "farthest first support")
        and cable.sheath_in_box >= tables.value(table, "least sheath inside")
    )  # fmt: skip
