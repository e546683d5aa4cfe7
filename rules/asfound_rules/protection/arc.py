"""Arc-fault protection by room."""

from __future__ import annotations

from asfound.authoring import Defect, given, names, only_if, rule
from asfound_rules.protection.asked import DWELLINGS, asked, year_of_work
from asfound_rules.terms import ORDINARY_RECEPTACLES

TABLE = "arc-fault protection of circuits"


@rule(
    "room-without-arc-fault-protection",
    of="circuit",
    severity="catastrophic",
    likelihood="improbable",
    caution="Warning: an arc in a worn cord or at a loose connection can start a fire, and no ordinary breaker opens. "
    "At flicker, crackle or smell switch the circuit off.",
    defer="Editions are taken up late or in part, and some places leave arc-fault protection out; what older work may "
    "keep, and what an extension of it brings, is for the adopted local code and a licensed electrician.",
    source="NFPA 70 (NEC) 210.12 and published summaries of its history",
    basis="seen in text",
)
def room_without_arc_fault_protection(circuit, tables, site):
    """Outlets in rooms of a dwelling have no arc-fault protection.

    One finding for each sort of room on a circuit of 120 V. Wiring known to be
    older than the edition has a remark of its own. Outlets whose room is not
    recorded are left out, and so are those of 240 V.
    """
    yield from _found(circuit, tables, site, old=False)


@rule(
    "old-room-without-arc-fault-protection",
    of="circuit",
    severity="negligible",
    likelihood="occasional",
    caution="Notice: wiring older than arc-fault protection has none; it was made as it was then, and protection can "
    "be added.",
    defer="Editions are taken up late or in part; what an extension of old wiring brings is for the adopted local code "
    "and a licensed electrician.",
    source="NFPA 70 (NEC) 210.12 and published summaries of its history",
    basis="seen in text",
)
def old_room_without_arc_fault_protection(circuit, tables, site):
    """Outlets in rooms wired before arc-fault protection was asked for have none.

    One finding for each sort of room on a circuit of 120 V, where the year of
    the wiring is known.
    """
    yield from _found(circuit, tables, site, old=True)


def _found(circuit, tables, site, *, old):
    """A finding for each sort of room, of wiring that is older than the edition for it or is not."""
    only_if(given(site, "kind", "dwelling") in DWELLINGS)
    work = year_of_work(circuit.conductors, site)
    rooms = {}
    for device in circuit.devices:
        room = given(device, "room", "")
        if not room or not tables.has(TABLE, room) or not _outlet(device):
            continue
        if (work[0] is not None and work[0] < tables.value(TABLE, room)) == old:
            rooms.setdefault(room, []).append(device)
    only_if(rooms)
    largest = tables.value("largest circuit with arc-fault protection", "largest")
    only_if(all(breaker.amps <= largest for breaker in circuit.breakers))
    for room, devices in rooms.items():
        bare = [device for device in devices if not device.arc_fault_protected]
        if bare:
            where = f"in a {room}" if room != "laundry" else "in laundry areas"
            says = f"{names(bare)} on {circuit} ({room}) {'has' if len(bare) == 1 else 'have'} no arc-fault protection."
            yield Defect(f"{says} {asked(tables, TABLE, room, work, where)}", cause=room)


def _outlet(device):
    """Whether it is an outlet of 120 V: a receptacle of ordinary size, or a load that is not between two legs."""
    if device.kind in ORDINARY_RECEPTACLES:
        return True
    return device.is_load and not any(terminal.name == "hot_2" for terminal in device.terminals)
