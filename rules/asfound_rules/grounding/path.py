"""The way of a grounding conductor: left off, cut short, not joined, leading nowhere."""

from __future__ import annotations

from asfound.authoring import Defect, given, names, only_if, rule
from asfound_rules.terms import GREEN

LEFT = {"capped": "capped", "cut": "cut off", "loose": "loose", "taped": "taped"}
JOINED = ("landed", "spliced")


@rule(
    "ground-left-off",
    of="end",
    severity="critical",
    likelihood="occasional",
    caution="Warning: metal here is not grounded although a ground is at hand; with a fault it stays at line voltage "
    "and can kill. A loose bare end can also touch a live terminal.",
    defer="How devices and boxes are grounded is for the adopted local code and a licensed electrician.",
    source="NFPA 70 (NEC) 250.110, 250.134, 250.146, 404.9(B)",
    basis="from memory",
)
def ground_left_off(end):
    """Grounding conductor that leads to the panel ends unconnected at a device.

    Pushed back, cut off or under tape behind a device that could use it: a
    three-slot receptacle or what has metal that can be touched. Switches count
    only where their metal is recorded, for older ones had no grounding screw;
    boxes whose metal is on a ground are left out.
    """
    conductor = end.conductor
    only_if(given(conductor, "colour", "") in GREEN)
    devices = [device for device in end.devices if not any(t.name == "ground" for t in device.terminals)]
    only_if(devices)
    only_if(not any(box.bonded_to for box in end.boxes))
    state = end.state
    only_if(state in LEFT)
    bare = [device for device in devices if _could_use_it(device)]
    only_if(bare)
    if conductor.net.leads_to_ground:
        yield (
            f"{end.words} leads to the panel and ends {LEFT[state]}; no conductor is recorded on the grounding "
            f"terminal of {names(bare)}."
        )


def _could_use_it(device):
    if device.receptacles:
        return device.slots == 3
    return device.metal if device.is_load else given(device, "metal", False)


@rule(
    "grounds-not-joined",
    of="box",
    severity="critical",
    likelihood="remote",
    caution="Warning: what hangs on the ground that leads nowhere is not grounded; metal with a fault stays at line "
    "voltage and can kill. Do not trust it as a ground for testing.",
    defer="How grounds are joined in a box is for the adopted local code and a licensed electrician.",
    source="NFPA 70 (NEC) 250.148",
    basis="seen in text",
    revision=2,
)
def grounds_not_joined(box):
    """Grounds in one box are not joined, and one of them leads nowhere.

    Each ends in a splice or on a terminal of its own, or is left off here and
    grounds something further on. Grounds of two circuits that each lead to the
    panel are not reported, though newer editions ask that they be joined too;
    nor are bare conductors that serve as a neutral.
    """
    nets = box.grounding_nets
    only_if(len(nets) > 1)
    leading = [net for net in nets if net.on_ground_bar or (net.on_neutral_bar and net.function == "grounding")]
    only_if(leading)
    led = {net.tag for net in leading}
    for net in nets:
        if net.tag in led or net.function not in ("grounding", "isolated"):
            continue
        grounds = _grounds_of(box, [net])
        here = [c for c in grounds if _ends_in(box, c, JOINED)]
        if not here:
            left = [c for c in grounds if _ends_in(box, c, LEFT)]
            here = left if left and (net.terminals or net.boxes) else []
        if here and not net.leads_to_ground:
            verb = "is" if len(here) == 1 else "are"
            yield Defect(
                f"In {box.words}, {names(here)} {verb} not joined to {names(_grounds_of(box, leading))}; only the "
                "latter leads to the panel.",
                cause=net.tag,
            )


def _ends_in(box, conductor, states):
    """Whether a conductor ends in a box in one of these states."""
    here = [end for end in conductor.ends if box.tag in [held.tag for held in end.boxes]]
    return any(end.state in states for end in here)


def _grounds_of(box, nets):
    tags = {net.tag for net in nets}
    return [c for c in box.conductors if given(c, "colour", "") in GREEN and c.net.tag in tags]


@rule(
    "metal-box-not-on-ground",
    of="box",
    severity="critical",
    likelihood="remote",
    caution="Warning: this box and its cover screws are not grounded; a loose conductor that touches them leaves them "
    "at line voltage, and touching them can kill.",
    defer="How a metal box is bonded is for the adopted local code and a licensed electrician.",
    source="NFPA 70 (NEC) 250.148(C), 314.4",
    basis="seen in text",
)
def metal_box_not_on_ground(box):
    """Metal box is joined to none of the grounds that end in it.

    Only where a ground that leads to the panel is there, and splices or
    devices too. A box that holds a device whose strap is grounded counts as
    grounded by its screws, though a screw or clip of its own is asked for.
    What joins a box is known only by what the joints name, so this is never
    more than likely.
    """
    only_if(box.grounding_nets)
    only_if(box.joints or box.devices)
    only_if(box.metal)
    only_if(box.ground_here)
    if not box.on_ground:
        grounds = [c for c in box.conductors if given(c, "colour", "") in GREEN]
        yield f"The metal box {box.words} is joined to none of the grounds that end in it ({names(grounds)})."


@rule(
    "metal-raceway-isolated",
    of="cable",
    severity="critical",
    likelihood="remote",
    caution="Warning: this metal is joined to nothing at either end; a conductor that chafes through inside leaves it "
    "at line voltage, and touching it can kill.",
    defer="Which short sleeves need no bonding is for the adopted local code and a licensed electrician.",
    source="NFPA 70 (NEC) 250.80, 250.86, 300.10",
    basis="from memory",
)
def metal_raceway_isolated(cable):
    """Metal raceway or armour runs between two boxes that are not of metal.

    Its fittings then hold on to plastic and nothing bonds it, unless a bonding
    bushing at one end does, which a record does not show. Sleeves that end in
    the open, for protection only, are left out.
    """
    boxes = cable.ends_in
    only_if(len(boxes) == 2)
    only_if(given(cable, "metal_way", False))
    only_if(all(box.kind != "no box" for box in boxes))
    if not any(box.metal for box in boxes):
        yield (
            f"The metal of {cable} ({cable.method}) runs between {names(boxes)}, which are not of metal; unless a "
            "bonding bushing joins it at one end, it is isolated."
        )


@rule(
    "ground-leads-nowhere",
    of="net",
    severity="critical",
    likelihood="remote",
    caution="Warning: metal joined to this conductor looks grounded and is not; a fault in one part leaves all of it "
    "at line voltage, and touching it can kill. Do not use it as a ground for testing.",
    defer="Whether wiring without a ground may be extended, and how, is for the adopted local code and a licensed "
    "electrician.",
    source="NFPA 70 (NEC) 250.4(A)(5), 250.130(C), 406.4(D)",
    basis="from memory",
)
def ground_leads_nowhere(net):
    """Grounding conductor bonds metal and leads to no bar, though it is traced to its ends.

    Such as new cable led on from an old box without a ground. Old wiring that
    has no grounding conductor at all is left out, and so are receptacles,
    which have a rule of their own, and boxes where a ground that does lead to
    the panel is at hand.
    """
    grounds = net.grounding_conductors
    only_if(grounds and len(grounds) == len(net.conductors))
    only_if(all(terminal.name == "ground" for terminal in net.terminals))
    bonded = [*net.boxes, *(terminal.device for terminal in net.terminals if _metal_of_its_own(terminal.device))]
    only_if(bonded)
    if net.leads_to_ground:
        return
    only_if(not any(box.ground_here for ground in grounds for end in ground.ends for box in end.boxes))
    held = names(dict.fromkeys(bonded))
    does = f"bonds {held} and leads" if len(grounds) == 1 else f"bond {held} and lead"
    yield f"{names(grounds)} {does} to no bar."


def _metal_of_its_own(device):
    return not device.receptacles and given(device, "metal", True)
