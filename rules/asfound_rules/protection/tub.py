"""Receptacles, luminaires and switches within reach from a tub or shower."""

from __future__ import annotations

from asfound.authoring import given, only_if, rule
from asfound_rules.terms import ORDINARY_RECEPTACLES

TABLE = "tub and shower zone"
SIZE = "size of the tub and shower zone"
LUMINAIRES = ("luminaire", "lampholder", "fan")
SWITCHES = ("switch", "three-way switch", "four-way switch", "double-pole switch", "dimmer", "timer")
DEFER = (
    "What may be in the zone, and what older work may keep, is for the adopted local code, its edition and a licensed "
    "electrician."
)


@rule(
    "receptacle-at-tub",
    of="device",
    severity="catastrophic",
    likelihood="remote",
    caution="Warning: someone in the water can plug in, hold or pull in an appliance that kills. Use nothing on it "
    "while the tub or shower is in use.",
    defer=DEFER,
    source="NFPA 70 (NEC) 406.9(C), earlier 410-57(c)",
    basis="from memory",
)
def receptacle_at_tub(device, tables):
    """Receptacle is within reach from a tub or shower.

    One with ground-fault protection has a remark of its own. In a very small
    bathroom the farthest wall may be allowed.
    """
    only_if(device.kind in ORDINARY_RECEPTACLES)
    only_if(given(device, "over_tub", False))
    if not device.ground_fault_protected:
        yield _at_tub(device, tables, "has no ground-fault protection")


@rule(
    "protected-receptacle-at-tub",
    of="device",
    severity="marginal",
    likelihood="improbable",
    caution="Warning: ground-fault protection lessens a shock and does not end it; someone in the water can still be "
    "killed. Have its test button tried, and plug nothing in that can reach the water.",
    defer=DEFER,
    source="NFPA 70 (NEC) 406.9(C), earlier 410-57(c)",
    basis="from memory",
)
def protected_receptacle_at_tub(device, tables):
    """Receptacle within reach from a tub or shower has ground-fault protection.

    Usual in small bathrooms, and lawful near the tub until the 2020 edition.
    """
    only_if(device.kind in ORDINARY_RECEPTACLES)
    only_if(given(device, "over_tub", False))
    if device.ground_fault_protected:
        yield _at_tub(device, tables, "has ground-fault protection")


def _at_tub(device, tables, state):
    """The sentences of a receptacle in the zone: how it is protected, and what new work is asked."""
    what, where = "receptacle in the zone", "of this zone"
    if not tables.has(TABLE, what):
        what, where = "receptacle in the space", "of the tub or shower space only"
    first = tables.value(TABLE, what)
    return (
        f"{device.words} is {_zone(tables)} and {state}. For new work NFPA 70 keeps receptacles out {where} (seen in "
        f"the {first} edition); older work was asked less."
    )


@rule(
    "luminaire-at-tub",
    of="device",
    severity="critical",
    likelihood="remote",
    caution="Warning: steam and spray get into it, and someone wet can reach it; either can mean a shock that kills. "
    "Change no lamp while standing in the tub.",
    defer=DEFER,
    source="NFPA 70 (NEC) 410.10(D), earlier 410-4(d)",
    basis="seen in text",
)
def luminaire_at_tub(device, tables):
    """Luminaire or fan within reach from a tub or shower is not marked for damp or wet places.

    One that hangs by a chain or cord, a track or a paddle fan has no place
    there whatever its marks; how it hangs is not recorded.
    """
    only_if(device.kind in LUMINAIRES)
    only_if(given(device, "over_tub", False))
    if any(word in device.marked.lower() for word in ("damp", "wet")):
        return
    mark = "luminaire without a damp or wet mark"
    then = f" and has been asked for since the {tables.value(TABLE, mark)} edition" if tables.has(TABLE, mark) else ""
    yield f"{device.words} is {_zone(tables)} and bears no mark for damp or wet places; that keeps spray out{then}."


@rule(
    "switch-at-tub",
    of="device",
    severity="critical",
    likelihood="improbable",
    caution="Warning: someone standing in water can touch its screws and plate; with a fault they can give a shock "
    "that kills. Do not use it with wet hands.",
    defer=DEFER,
    source="NFPA 70 (NEC) 404.4(C)",
    basis="seen in text",
)
def switch_at_tub(device, tables):
    """Switch is within reach from a tub or shower.

    Inside the tub or shower space it is kept out by the code, beside it only
    by good sense; the record does not tell the two apart.
    """
    only_if(device.kind in SWITCHES)
    if given(device, "over_tub", False):
        yield (
            f"{device.words} is {_zone(tables)}. Inside the tub or shower space itself NFPA 70 has no place for it; "
            "outside that space it is allowed, and the hazard is the same."
        )


def _zone(tables):
    across, up = tables.value(SIZE, "across"), tables.value(SIZE, "up")
    return f"within {across:g} ft across and {up:g} ft up of a tub or shower"
