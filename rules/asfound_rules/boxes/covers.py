"""Covers of boxes, openings in them, and whether they can be reached."""

from __future__ import annotations

from asfound.authoring import for_words, given, names, only_if, plural, rule
from asfound_rules.observed import noted

PARTS_OF_THE_BUILDING = ("drywall", "plaster", "panelling", "flooring")


@rule(
    "box-without-cover",
    of="box",
    severity="catastrophic",
    likelihood="occasional",
    caution="Danger: what is in the open box can be live and can kill at a touch; sparks can get out. Keep children "
    "and everyone else away; switch the circuit off until it is covered.",
    defer="The adopted local code and a licensed electrician decide how it is closed.",
    source="NFPA 70 (NEC) 314.25; 29 CFR 1910.305(b)(2); HUD NSPIRE Standards v3.0 (88 FR 40832), exposed conductor",
    basis="seen in text",
)
def box_without_cover(box):
    """Box with wiring in it has no cover.

    Asked for at junction boxes; at boxes with a device or luminaire only where
    somebody noted it. A cover taken off for the visit is not missing.
    """
    only_if(box.conductors or box.passing or box.looped)
    only_if(given(box, "kind", "a box") != "no box")
    cover = box.cover if _is_junction(box) else noted(box, "cover")
    if cover == "missing":
        yield f"Box {box.words} has no cover{_fed(box)}."


@rule(
    "box-cover-broken",
    of="box",
    severity="catastrophic",
    likelihood="remote",
    caution="Warning: behind a broken cover live metal can be within reach of a finger and can kill. Keep fingers and "
    "children away; switch the circuit off until the cover is replaced.",
    defer="A hairline crack that opens nothing is not meant; the adopted local code and a licensed electrician decide.",
    source="NFPA 70 (NEC) 110.12(B), 314.25, 406.6",
    basis="from memory",
)
def box_cover_broken(box):
    """Cover or plate of a box is broken.

    Where a gap over half an inch leaves a conductor within reach, deal with it
    as with a missing cover.
    """
    only_if(box.conductors or box.passing or box.looped)
    if noted(box, "cover") == "broken":
        yield f"The cover of box {box.words} is broken{_fed(box)}."


@rule(
    "box-knockouts-open",
    of="box",
    severity="catastrophic",
    likelihood="remote",
    caution="Warning: fingers, vermin and dust get in at an open knockout, and sparks get out; it can end in shock or "
    "fire. Keep hands and children away from it; have it closed by a qualified person.",
    defer="The adopted local code and a licensed electrician decide.",
    source="NFPA 70 (NEC) 110.12(A), 314.17(A)",
    basis="from memory",
)
def box_knockouts_open(box):
    """Box has unused openings that are open.

    Screw holes and weep holes made for it are not meant. What can be touched
    through the opening is not recorded; look.
    """
    count = noted(box, "open_knockouts")
    only_if(box.conductors or box.passing or box.looped)
    if count > 0:
        yield f"Box {box.words} has {plural(count, 'open knockout')}{_fed(box)}."


@rule(
    "box-out-of-reach",
    of="box",
    severity="catastrophic",
    likelihood="improbable",
    caution="Warning: nobody sees a joint fail in a hidden box before it starts a fire, and whoever cuts into the wall "
    "can meet live wire. Mark the place and do not cut or drill there; have a qualified person open it up.",
    defer="What counts as reachable, and listed means for use in concealed places, are for the adopted local code and "
    "a licensed electrician.",
    source="NFPA 70 (NEC) 314.29",
    basis="seen in text",
)
def box_out_of_reach(box):
    """Box cannot be reached without taking off part of the building.

    Furniture and loose insulation can be moved and are no part of the building.
    Speaks only where somebody noted what is in the way.
    """
    behind = given(box, "hidden_by", "not noted")
    reachable = given(box, "reachable", "not noted")
    only_if(behind != "not noted" or reachable != "not noted")
    if reachable == "not noted":
        reachable = behind not in PARTS_OF_THE_BUILDING
    if not reachable:
        what = "Open place" if for_words(box, "kind") == "no box" else "Box"
        way = f" ({behind})" if behind not in ("not noted", "nothing") else ""
        yield f"{what} {box.words} cannot be reached without taking off part of the building{way}{_fed(box)}."


def _is_junction(box):
    """A box for splices only, which can be opened."""
    return box.joints and not box.devices and given(box, "reachable", True)


def _fed(box):
    feeds = for_words(box, "breakers")
    return f"; fed by {names(feeds)}" if feeds else ""
