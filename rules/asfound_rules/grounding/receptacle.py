"""Three slots without a ground behind them, and metal loads on wiring that could ground them."""

from __future__ import annotations

from asfound.authoring import given, names, only_if, rule
from asfound_rules.terms import ORDINARY_RECEPTACLES

MARK = "no equipment ground"
FRAME_ON_NEUTRAL = ("range", "dryer")
FLOATING = ("range receptacle", "dryer receptacle", "range", "dryer")
METAL_BY_NATURE = ("water heater", "air conditioner", "motor", "welder", "pump")


@rule(
    "three-slot-without-ground",
    of="device",
    severity="catastrophic",
    likelihood="remote",
    caution="Warning: it looks grounded and is not; the metal case of a faulty appliance plugged into it stays at line "
    "voltage and can kill. Plug nothing with a three-pin plug into it.",
    defer="What may replace it is for the adopted local code and a licensed electrician.",
    source="NFPA 70 (NEC) 406.4(D)(2), 2014 to 2023; 29 CFR 1910.304(b)(2)",
    basis="seen in text",
)
def three_slot_without_ground(device):
    """Three-slot receptacle has neither a ground path nor ground-fault protection.

    A two-slot receptacle on such wiring is right. Protected by a ground-fault
    device and marked so, three slots are allowed too. Where metal raceway or
    armour can be the path, it has to be tested.
    """
    only_if(given(device, "slots", 3) == 3)
    only_if(device.kind in ORDINARY_RECEPTACLES)
    path = device.ground_path
    if path == "yes":
        return
    only_if(device.slots == 3)
    if not device.ground_fault_protected:
        yield f"{device.words} has three slots, no ground path and no ground-fault protection."


@rule(
    "no-ground-not-marked",
    of="device",
    severity="negligible",
    likelihood="occasional",
    caution="Notice: someone who trusts the third slot may plug in equipment that needs a ground. Tell those who use "
    "it.",
    defer="Which marking is asked for is for the adopted local code and a licensed electrician.",
    source="NFPA 70 (NEC) 406.4(D)(2)(b), (c), 2014 to 2023",
    basis="seen in text",
)
def no_ground_not_marked(device):
    """Three-slot receptacle without a ground, protected against ground faults, does not say that it has none.

    A tester shows it as ungrounded, and its test button may do nothing to a
    device ahead of it; neither is a fault here.
    """
    only_if(given(device, "slots", 2) == 3)
    only_if(device.kind in ORDINARY_RECEPTACLES)
    only_if(device.ground_path == "no")
    only_if(device.ground_fault_protected)
    if MARK not in device.marked.lower():
        yield f"{device.words} has no ground path; it is ground-fault protected and not marked No Equipment Ground."


@rule(
    "metal-load-without-ground",
    of="device",
    severity="critical",
    likelihood="occasional",
    caution="Warning: its metal is not grounded although the wiring beside it has a ground; with a fault it stays at "
    "line voltage and can kill whoever touches it.",
    defer="What has to be grounded, and how, is for the adopted local code and a licensed electrician.",
    source="NFPA 70 (NEC) 250.110, 250.114, 410.44",
    basis="from memory",
)
def metal_load_without_ground(device):
    """Metal luminaire or appliance has no grounding conductor in wiring that has one.

    Only where a ground that leads to the panel ends in its box, or in the box
    its cable comes from. On old wiring without any ground nothing is found,
    and a ground that is on its terminal and leads nowhere has rules of its
    own. Ranges and dryers of the old kind, with the frame on the neutral, are
    left out.
    """
    only_if(given(device, "metal", True))
    only_if(device.is_load and device.kind not in FRAME_ON_NEUTRAL)
    only_if(not any(terminal.name == "ground" for terminal in device.terminals))
    if device.ground_path == "yes":
        return
    boxes = {box.tag: box for c in device.conductors for end in c.ends for box in end.boxes}
    near = [box for box in boxes.values() if box.ground_here]
    only_if(near)
    if device.kind in METAL_BY_NATURE or device.metal:
        yield (
            f"{device.words} is of metal and has no ground path; a ground that leads to the panel ends in "
            f"{names(near)}."
        )


@rule(
    "large-appliance-frame-floating",
    of="device",
    severity="catastrophic",
    likelihood="remote",
    caution="Warning: the metal frame of this appliance is joined to nothing that opens a breaker; with a fault it "
    "stays at line voltage and can kill. Have it left unplugged or switched off until it is looked at.",
    defer="How an old range or dryer circuit may be kept is for the adopted local code and a licensed electrician.",
    source="NFPA 70 (NEC) 250.114, 250.140",
    basis="from memory",
)
def large_appliance_frame_floating(device):
    """Range or dryer, or the receptacle for one, has neither a neutral nor a ground on it.

    Old circuits ground the frame through the neutral; with neither conductor
    nothing does. Metal raceway or armour, where it may be the path, leaves it
    open.
    """
    only_if(device.kind in FLOATING)
    used = [terminal.name for terminal in device.terminals]
    only_if("hot" in used)
    if "neutral" in used or "ground" in used:
        return
    if device.ground_path == "no":
        what = f"{device.words} ({device.kind})"
        yield f"{what} has neither a neutral nor a ground on it, and nothing else grounds its frame."
