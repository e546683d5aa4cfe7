"""Joints and terminals: what is held together, and what lies under each screw of a device."""

from __future__ import annotations

from asfound.data import data
from asfound.load.values import Map, Place, Seq, shown
from asfound.record.colours import is_ground, is_white
from asfound.record.context import NOWHERE, Context, Member
from asfound.record.ends import use_end
from asfound.record.facts import Item, exact
from asfound.record.places import terminals_of
from asfound.record.references import member
from asfound.wording import joined


def take_joints(context: Context) -> None:
    """Make every joint and give it the conductor ends it names."""
    section = context.section("joints")
    for tag, held in section.items():
        joint = context.item("joint", tag, f"joint {tag}", section.key_places[tag], held)
        context.take(joint, held)
        context.record.joints[tag] = joint
        _hold(context, joint, held)


def _hold(context: Context, joint: Item, held: Map) -> None:
    ends: Seq = held["ends"]
    where = joint.words
    at = context.places.get(held["at"])
    members: list[Member] = []
    context.record.joint_members[joint.tag] = members
    joint.data.update(box=(), conductors=(), size=len(ends))
    if at is None:
        context.unknown(held.places["at"], where, held["at"], context.names("places"))
        return
    joint.words = f"joint {joint.tag} in {at.words}"
    if at.kind == "box":
        joint.data["box"] = (at,)
        at.data["joints"].append(joint)
        if at.tag in context.closed:
            joint.data["in_box"] = context.closed[at.tag]
    else:
        joint.data["in_box"] = exact(True, place=joint.place, written=held["at"])
    for place, reference in zip(ends.places, ends, strict=True):
        found = member(context, reference, at, place, where)
        if found is None:
            continue
        if found[0] == "conductor":
            use_end(context, found[1], reference, at, where, where, place)
        members.append(found)
    joint.data["conductors"] = tuple(item for sort, item in members if sort == "conductor")


def take_terminals(context: Context) -> None:
    """Put the conductors on the terminals of every device."""
    for tag, held in context.section("devices").items():
        device = context.record.devices[tag]
        _on_terminals(context, device, held.get("terminals") or Map(NOWHERE))
        wired = held.get("wired_to")
        if isinstance(wired, Seq):
            for place, cable in zip(wired.places, wired, strict=True):
                _wired_to(context, device, cable, place)
        elif wired is not None:
            _wired_to(context, device, wired, held.places["wired_to"])


def _on_terminals(context: Context, device: Item, terminals: Map) -> None:
    where = f"device {device.tag}"
    allowed = terminals_of(device)
    for name, held in terminals.items():
        if name not in allowed:
            context.unknown(terminals.key_places[name], where, name, allowed)
            continue
        listed = zip(held.places, held, strict=True) if isinstance(held, Seq) else [(terminals.places[name], held)]
        for place, reference in listed:
            found = member(context, reference, _at(device), place, where)
            if found is None:
                continue
            if found[0] != "conductor":
                step = "name a cable and conductor such as W1 black"
                context.problem(place, where, f"{shown(reference)} is not a conductor end", step)
                continue
            _under(context, device, name, found[1], reference, place)


def _wired_to(context: Context, device: Item, tag: str, place: Place) -> None:
    """The usual landing: coloured on hot, white on neutral, bare or green on ground."""
    cable = context.record.cables.get(tag)
    if cable is None:
        context.unknown(place, f"device {device.tag}", tag, context.names("cables"))
        return
    usual = data("devices")["wired_to"]
    hots = iter(usual["ungrounded"])
    allowed = terminals_of(device)
    nowhere = []
    for conductor in cable.data["conductors"]:
        if is_ground(conductor):
            name = usual["grounding"]
        elif is_white(conductor):
            name = usual["grounded"]
        else:
            name = next(hots, "")
        if name in allowed:
            _under(context, device, name, conductor, conductor.tag, place)
        else:
            nowhere.append(conductor.tag)
    if nowhere:
        cause = f"wired_to cannot say where {joined(nowhere)} would land on it"
        context.problem(place, f"device {device.tag}", cause, "use terminals instead")


def _under(context: Context, device: Item, name: str, conductor: Item, reference: str, place: Place) -> None:
    """Put a conductor under a terminal and take the end of it that is there."""
    if device.tag not in context.adrift:
        where = f"device {device.tag}, {name}"
        use_end(context, conductor, reference, _at(device), f"{device.tag} {name}", where, place)
    context.record.terminals.setdefault((device.tag, name), []).append(conductor)


def _at(device: Item) -> Item:
    """Where the wires of a device end: its box, or the device itself."""
    box: Item = device.data["box"][0] if device.data["box"] else device
    return box
