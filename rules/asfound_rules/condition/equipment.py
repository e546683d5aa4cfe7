"""Condition of devices, boxes, breakers and panels, as somebody noted it."""

from __future__ import annotations

from asfound.authoring import for_words, joined, names, rule
from asfound_rules.observed import among

BURNT = ("scorched", "melted", "arc marks")
BROKEN = ("damaged", "cracked", "chewed")
NSPIRE = "HUD NSPIRE Standards v3.0 (88 FR 40832)"
DEFER = "What is repaired and what is replaced is for the adopted local code and a licensed electrician."
PANEL_DEFER = "Work inside a panel is for a licensed electrician; the adopted local code decides what is replaced."


@rule(
    "device-burnt-broken-or-wet",
    of="device",
    severity="catastrophic",
    likelihood="occasional",
    caution="Danger: a device in this state can be live on its face and kill, or start a fire. Plug nothing in and "
    "touch nothing on it; switch its circuit off and keep it off until it is replaced.",
    defer=DEFER,
    source=f"{NSPIRE}, damaged outlet or switch, water; NFPA 70 (NEC) 110.12(B)",
    basis="seen in text",
)
def device_burnt_broken_or_wet(device):
    """Device is burnt, broken or wet.

    A hairline crack in a plate is not meant; a broken plate is noted as the
    cover of the box.
    """
    marks = among(device, (*BURNT, *BROKEN, "wet"))
    if marks:
        yield f"{device.words} was found with this: {joined(marks)}{_fed(device)}."


@rule(
    "device-loose-or-corroded",
    of="device",
    severity="catastrophic",
    likelihood="remote",
    caution="Warning: loose or corroded contacts heat under load and can start a fire; a device that moves works its "
    "wires loose. Leave it unloaded; at warmth or smell switch its circuit off.",
    defer=DEFER,
    source="NFPA 70 (NEC) 110.12(B), 110.13(A), 406.5",
    basis="from memory",
)
def device_loose_or_corroded(device):
    """Device is loose, corroded or brittle.

    Loose can mean its screws, its fixing or its contacts; the note of the person
    who saw it says which.
    """
    marks = among(device, ("loose", "corroded", "brittle"))
    if marks:
        yield f"{device.words} was found {joined(marks)}."


@rule(
    "device-painted-over",
    of="device",
    severity="marginal",
    likelihood="remote",
    caution="Warning: paint in the contacts of a receptacle makes them heat, which can start a fire. Plug nothing "
    "heavy into it; have it replaced by a qualified person.",
    defer="The adopted local code and a licensed electrician decide.",
    source="NFPA 70 (NEC) 110.12(B)",
    basis="from memory",
)
def device_painted_over(device):
    """Device was painted over.

    Paint on the plate alone does no harm.
    """
    if among(device, ("painted over",)):
        yield f"{device.words} was painted over."


@rule(
    "box-burnt-or-wet",
    of="box",
    severity="catastrophic",
    likelihood="occasional",
    caution="Danger: something in this box burnt or is under water; it can start a fire, or make the box live and "
    "kill. Do not touch or open it; switch off every circuit that enters it and keep it off.",
    defer=DEFER,
    source=f"{NSPIRE}, water on a conductor; NFPA 70 (NEC) 110.12(B)",
    basis="from memory",
)
def box_burnt_or_wet(box):
    """Box is burnt or wet inside.

    The condition of a box is what was seen inside it. The outside of a box made
    for wet places may be wet.
    """
    marks = among(box, (*BURNT, "wet"))
    if marks:
        yield f"Box {box.words} was found with this inside: {joined(marks)}{_fed(box)}."


@rule(
    "box-damaged-or-corroded",
    of="box",
    severity="catastrophic",
    likelihood="improbable",
    caution="Warning: a damaged, loose or rusted box no longer holds its cables or keeps sparks in; that can end in "
    "shock or fire. Do not pull at it; have a qualified person mend it.",
    defer=DEFER,
    source="NFPA 70 (NEC) 110.12(B), 314.17, 314.23",
    basis="from memory",
)
def box_damaged_or_corroded(box):
    """Box is damaged, loose or corroded.

    Surface rust that eats nothing away is a matter of judgement; note it as
    sound.
    """
    marks = among(box, (*BROKEN, "loose", "corroded", "brittle"))
    if marks:
        yield f"Box {box.words} was found {joined(marks)}."


@rule(
    "breaker-burnt-or-broken",
    of="breaker",
    severity="catastrophic",
    likelihood="occasional",
    caution="Danger: this breaker may not open on a fault, and its contact with the bus can burn; that can kill or "
    "start a fire. Do not switch it under load or push it; have the panel made dead by a licensed electrician.",
    defer=PANEL_DEFER,
    source=f"{NSPIRE}, service panel: damaged overcurrent device",
    basis="seen in text",
)
def breaker_burnt_or_broken(breaker):
    """Breaker or fuse is burnt or broken.

    Look at the bus behind it too; what burnt one burnt the other.
    """
    marks = among(breaker, (*BURNT, *BROKEN))
    if marks:
        yield f"Breaker {breaker} was found with this: {joined(marks)}."


@rule(
    "breaker-wet-loose-or-corroded",
    of="breaker",
    severity="catastrophic",
    likelihood="remote",
    caution="Warning: rust and water keep a breaker from opening, and a loose one arcs on the bus; either can start a "
    "fire. Do not rely on it or wiggle it; keep its load off until it is replaced.",
    defer=PANEL_DEFER,
    source=f"{NSPIRE}, service panel: overcurrent device contaminated by water, rust or corrosion",
    basis="seen in text",
)
def breaker_wet_loose_or_corroded(breaker):
    """Breaker or fuse is wet, corroded or loose.

    A breaker that has been under water is replaced, not dried.
    """
    marks = among(breaker, ("wet", "corroded", "loose", "brittle"))
    if marks:
        yield f"Breaker {breaker} was found {joined(marks)}."


@rule(
    "panel-burnt-or-wet",
    of="panel",
    severity="catastrophic",
    likelihood="occasional",
    caution="Danger: a burnt or wet panel can arc, start a fire or put its enclosure at line voltage, and kill. Do not "
    "touch it or stand in water near it; have the supply made dead ahead of it.",
    defer=PANEL_DEFER,
    source=f"{NSPIRE}, service panel and water on a conductor; NFPA 70 (NEC) 110.12(B)",
    basis="seen in text",
)
def panel_burnt_or_wet(panel):
    """Panel is burnt or wet inside.

    Switching off its main leaves the conductors ahead of the main live.
    """
    marks = among(panel, (*BURNT, "wet"))
    if marks:
        yield f"Panel {panel} was found with this: {joined(marks)}."


@rule(
    "panel-damaged-or-corroded",
    of="panel",
    severity="catastrophic",
    likelihood="remote",
    caution="Warning: rust on the bus heats and a damaged enclosure lets fingers and water in; that can end in fire or "
    "shock. Leave its cover on and its breakers alone until it has been looked at.",
    defer=PANEL_DEFER,
    source=f"{NSPIRE}, service panel; NFPA 70 (NEC) 110.12(B)",
    basis="from memory",
)
def panel_damaged_or_corroded(panel):
    """Panel is damaged, corroded or loose.

    Where the breakers themselves are rusted, note it at each of them.
    """
    marks = among(panel, (*BROKEN, "corroded", "loose", "brittle"))
    if marks:
        yield f"Panel {panel} was found {joined(marks)}."


def _fed(item):
    feeds = for_words(item, "breakers")
    return f"; fed by {names(feeds)}" if feeds else ""
