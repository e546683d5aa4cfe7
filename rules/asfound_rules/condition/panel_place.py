"""Panels: whether live parts are covered, and whether one can stand in front of them."""

from __future__ import annotations

from asfound.authoring import given, only_if, plural, rule
from asfound_rules.observed import noted
from asfound_rules.terms import HOMES


@rule(
    "panel-open",
    of="panel",
    severity="catastrophic",
    likelihood="occasional",
    caution="Danger: the bus behind the opening is live whatever the breakers say, and can kill at a touch. Keep "
    "everyone, children first, away from the panel until it is closed.",
    defer="Closing a panel is for a licensed electrician; the adopted local code decides which parts fit.",
    source="NFPA 70 (NEC) 110.27, 408.7, 408.38; HUD NSPIRE Standards v3.0 (88 FR 40832), exposed conductor",
    basis="seen in text",
)
def panel_open(panel):
    """Panel has no dead front, or openings in it.

    A dead front taken off for the visit is not missing; put it back before
    leaving. Fillers close the places of breakers that were taken out. Asked for
    where something is wired to the panel.
    """
    count = given(panel, "open_spaces", 0)
    if count > 0:
        yield f"The dead front of panel {panel} has {plural(count, 'opening')} with neither breaker nor filler."
        return
    wired = any(breaker.conductors for breaker in panel.breakers)
    cover = panel.cover if wired else noted(panel, "cover")
    if cover == "missing":
        yield f"Panel {panel} has no dead front: bus and terminals are within reach."
    elif cover == "open spaces":
        yield f"The dead front of panel {panel} has openings with neither breaker nor filler."


@rule(
    "panel-working-depth",
    of="panel",
    severity="critical",
    likelihood="remote",
    caution="Warning: whoever works here cannot step back from an arc or a shock. Clear the space and keep it clear; "
    "leave the panel closed.",
    defer="Old places and panels behind which nothing is live have exceptions; the adopted local code and a licensed "
    "electrician decide.",
    source="NFPA 70 (NEC) 110.26(A)(1); HUD NSPIRE Standards v3.0 (88 FR 40832), panel not accessible",
    basis="from memory",
)
def panel_working_depth(panel, tables):
    """Working space in front of a panel is too shallow.

    For 120 and 240 V with nothing live or grounded opposite. Exactly the depth
    asked for is enough. Boxes and shelves put there since count too.
    """
    depth = noted(panel, "clear_depth")
    least = tables.value("working space at a panel", "depth")
    if depth < least:
        yield f"The space in front of panel {panel} is {depth:g} in deep; the table asks for {least:g} in."


@rule(
    "panel-in-bathroom-or-closet",
    of="panel",
    severity="negligible",
    likelihood="occasional",
    caution="Notice: dampness ages a panel, and things kept before it are in the way when a breaker has to be "
    "switched off. Keep the place before it free and things that burn easily away from it.",
    defer="A panel older than the rule may stay where it is; the adopted local code and a licensed electrician decide.",
    source="NFPA 70 (NEC) 240.24(D), (E)",
    basis="from memory",
)
def panel_in_bathroom_or_closet(panel, site, tables):
    """Panel is in a bathroom or a closet.

    A remark. In bathrooms of dwellings, and near clothes and other things that
    burn easily; what is kept in a closet is not in the record, nor the year a
    panel was put in.
    """
    room = noted(panel, "room")
    table = "rooms that take no panel"
    only_if(tables.has(table, room))
    if room == "bathroom":
        only_if(site.kind in HOMES)
    kept = "if clothes or other things that burn easily are kept there, " if room == "closet" else ""
    first = tables.value(table, room)
    yield f"Panel {panel} is in a {room}; {kept}editions since {first} ask for another place for new panels."
