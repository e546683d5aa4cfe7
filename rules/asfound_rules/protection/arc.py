"""Arc-fault protection by room."""

from __future__ import annotations

from asfound.authoring import Defect, given, names, only_if, rule
from asfound_rules.protection.asked import DWELLINGS, SMALL, asked, year_of_work

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

    One finding for each sort of room on a circuit of 120 V. Old wiring without
    it is no fault of those who made it; the extra protection is worth most
    there. Outlets whose room is not recorded are left out, and so are those of
    240 V.
    """
    only_if(given(site, "kind", "dwelling") in DWELLINGS)
    rooms = {}
    for device in circuit.devices:
        room = given(device, "room", "")
        if room and tables.has(TABLE, room) and _outlet(device):
            rooms.setdefault(room, []).append(device)
    only_if(rooms)
    largest = tables.value("largest circuit with arc-fault protection", "largest")
    only_if(all(breaker.amps <= largest for breaker in circuit.breakers))
    work = year_of_work(circuit.conductors, site)
    for room, devices in rooms.items():
        bare = [device for device in devices if not device.arc_fault_protected]
        if bare:
            where = f"in a {room}" if room != "laundry" else "in laundry areas"
            says = f"{names(bare)} on {circuit} ({room}) {'has' if len(bare) == 1 else 'have'} no arc-fault protection."
            yield Defect(f"{says} {asked(tables, TABLE, room, work, where)}", cause=room)


def _outlet(device):
    """Whether it is an outlet of 120 V: a receptacle of ordinary size, or a load that is not between two legs."""
    if device.kind in SMALL:
        return True
    return device.is_load and not any(terminal.name == "hot_2" for terminal in device.terminals)
