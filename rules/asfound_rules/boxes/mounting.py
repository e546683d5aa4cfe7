"""How boxes are fixed, set in the surface, and what hangs from them."""

from __future__ import annotations

from asfound.authoring import only_if, rule
from asfound_rules.observed import noted


@rule(
    "box-not-fixed",
    of="box",
    severity="catastrophic",
    likelihood="improbable",
    caution="Warning: a box that moves strains its cables until insulation or a joint gives way; that can end in shock "
    "or fire. Do not push or pull at it; have it fixed by a qualified person.",
    defer="The adopted local code and a licensed electrician decide how it is fixed.",
    source="NFPA 70 (NEC) 314.23",
    basis="from memory",
)
def box_not_fixed(box):
    """Box is fixed to nothing, or to the ceiling finish alone.

    Old-work boxes with clips made for the wall board are fixed.
    """
    fixed = noted(box, "fixed_to")
    only_if(box.conductors or box.passing or box.looped)
    if fixed == "nothing":
        yield f"Box {box.words} is fixed to nothing; its cables carry it."
    elif fixed == "ceiling finish only":
        yield f"Box {box.words} is fixed to the ceiling finish alone."


@rule(
    "box-set-back",
    of="box",
    severity="catastrophic",
    likelihood="improbable",
    caution="Warning: a spark in the box can set fire to the edge of the opening around it. Load the circuit lightly; "
    "at scorching or smell switch it off.",
    defer="An extension ring closes the gap; the adopted local code and a licensed electrician decide.",
    source="NFPA 70 (NEC) 314.20",
    basis="from memory",
)
def box_set_back(box, tables):
    """Box is set back too far behind the finished surface.

    Behind wood and other surfaces that burn it comes flush; behind others a
    little is allowed. Exactly the depth allowed is not a defect.
    """
    depth = noted(box, "setback")
    only_if(depth > 0)
    surface = box.surface
    only_if(surface != "open framing")
    limit = tables.value("deepest setback of a box", surface)
    if depth > limit:
        yield f"Box {box.words} is {depth:g} in behind the {surface} around it; the table allows {limit:g} in."


@rule(
    "hung-from-wrong-box",
    of="device",
    severity="critical",
    likelihood="occasional",
    caution="Warning: it can come down on someone and tear live conductors out as it falls. Keep people from under it "
    "and leave a fan off until its support is put right.",
    defer="The marking of the box decides what it carries; the adopted local code and a licensed electrician decide.",
    source="NFPA 70 (NEC) 314.27(A), (C), 422.18",
    basis="from memory",
)
def hung_from_wrong_box(device, tables):
    """Fan or heavy luminaire hangs from what is not made to carry it.

    Speaks only where what carries it was noted. A box marked for more than the
    table says may carry what its marking says.
    """
    carrier = noted(device, "hung_from")
    if carrier == "ceiling finish":
        yield f"{device.words} hangs from the ceiling finish alone."
        return
    table = "heaviest load hung from a box"
    only_if(tables.has(table, device.kind, carrier))
    limit = tables.value(table, device.kind, carrier)
    if not limit:
        yield f"{device.words} is a {device.kind} and hangs from an {carrier}, which is not made to carry one."
    elif device.weight > limit:
        yield f"{device.words} weighs {device.weight:g} lb and hangs from its {carrier}; the table allows {limit:g} lb."
