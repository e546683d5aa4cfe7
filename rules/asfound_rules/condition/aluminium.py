"""Aluminium in branch wiring: its connections, and where it may not be."""

from __future__ import annotations

from asfound.authoring import given, names, only_if, rule
from asfound_rules.observed import noted

LARGE = ("range receptacle", "dryer receptacle")
YEARS = "aluminium branch wiring"
CPSC = "CPSC Publication 516, Repairing Aluminum Wiring (2011)"


@rule(
    "device-not-for-aluminium",
    of="device",
    severity="catastrophic",
    likelihood="remote",
    caution="Warning: aluminium under a screw not made for it loosens and heats until it starts a fire, and no breaker "
    "sees it. Load the device lightly; at a warm plate, flicker or smell switch its circuit off.",
    defer="Which repair is lasting is argued about; the adopted local code and a licensed electrician decide.",
    source=f"NFPA 70 (NEC) 404.14(C), 406.3(C); {CPSC}",
    basis="from memory",
)
def device_not_for_aluminium(device):
    """Aluminium lands on a 15 or 20 A device that is not marked CO/ALR.

    Range and dryer receptacles go by another marking. Copper-clad aluminium and
    aluminium joined to a copper pigtail are not meant. The mark CU/AL on a
    device of this size is from before CO/ALR came, and is found wanting.
    """
    only_if(device.yoke)
    only_if(device.conductors)
    only_if(device.kind not in LARGE)
    wires = [wire for wire in device.conductors if wire.metal == "aluminium"]
    only_if(wires)
    mark = device.terminal_mark
    if mark != "CO/ALR":
        said = "it bears no marking of metals" if mark == "not marked" else f"it is marked {mark}"
        yield f"{names(wires)} of aluminium on the terminals of {device.words}: {said}, not CO/ALR."


@rule(
    "aluminium-branch-wiring",
    of="circuit",
    severity="catastrophic",
    likelihood="improbable",
    caution="Warning: connections of such wiring can overheat and start a fire without a breaker opening. Leave them "
    "alone until a qualified person has looked at them; at a warm plate, flicker or smell switch the circuit off.",
    defer="With devices marked for it the wiring is accepted, while CPSC takes that for an incomplete repair; the "
    "adopted local code and a licensed electrician decide.",
    source=CPSC,
    basis="seen in text",
)
def aluminium_branch_wiring(circuit, tables):
    """Circuit is wired in solid aluminium of the years of its old alloy.

    Its presence is no defect; its connections are what fails, and what to look
    at. Copper-clad aluminium and large stranded cable to a range or panel are not
    meant.
    """
    wires = [wire for wire in circuit.conductors if wire.metal == "aluminium"]
    only_if(wires)
    sizes = tables.value(YEARS, "sizes")
    small = [wire for wire in wires if wire.gauge in sizes and not given(wire, "stranded", False)]
    only_if(small)
    first, last = tables.value(YEARS, "from"), tables.value(YEARS, "to")
    old = [wire for wire in small if first <= wire.installed <= last]
    if old:
        verb = "is" if len(old) == 1 else "are"
        of_then = f"solid aluminium put in between {first} and {last}"
        yield f"{names(old)} {verb} {of_then}; connections of such wiring are known to fail."


@rule(
    "aluminium-in-manufactured-home",
    of="cable",
    severity="catastrophic",
    likelihood="remote",
    caution="Warning: aluminium connections in such a home can overheat and start a fire. Load these circuits lightly; "
    "at a warm plate, flicker or smell switch them off.",
    defer="The federal rule is for homes built under it; the adopted local code and a licensed electrician decide.",
    source="24 CFR 3280.801(e)",
    basis="seen in text",
)
def aluminium_in_manufactured_home(cable, site):
    """Branch circuit of a manufactured home is wired in aluminium.

    Copper-clad aluminium counts too. Feeders to another panel are left out.
    Homes built before the federal rule of 1976 are for local code.
    """
    metal = noted(cable, "metal")
    only_if(metal != "copper")
    only_if(site.kind == "manufactured home")
    only_if(not any(bar.startswith("lug") for wire in cable.conductors for bar in wire.net.bars))
    yield f"{cable} is {metal}; branch circuits of a manufactured home are of copper."
