"""Boxes and devices: the places where wires end."""

from __future__ import annotations

import functools
from collections.abc import Callable
from typing import Any

from asfound.data import data
from asfound.load.values import Map
from asfound.record.context import Context, derived
from asfound.record.facts import ASSUMED, UNSEEN, Fact, Item

_FILLED = ("conductors", "passing", "looped", "cables", "joints", "devices")
_NOT_METAL = ("nonmetallic", "no box")
_ANY_METAL = ("other", "fan-rated")


def take_boxes(context: Context) -> None:
    """Make the boxes and open places; what is in them is added by cables, joints and devices."""
    section = context.section("boxes")
    for tag, held in section.items():
        box = context.item("box", tag, tag, section.key_places[tag], held)
        if isinstance(held, Map):
            context.take(box, held)
            if held.get("where"):
                box.words = f"{tag} ({held['where']})"
        else:
            box.data["kind"] = context.fact(section, tag, "kind", box)
        kind = box.data.get("kind")
        if "metal" not in box.data and isinstance(kind, Fact) and not set(kind.values) & set(_ANY_METAL):
            box.data["metal"] = derived(kind, lambda value: value not in _NOT_METAL, "the kind of box was not seen")
        if isinstance(kind, Fact):
            context.closed[tag] = derived(kind, lambda value: value != "no box", "")
        for name in _FILLED:
            box.data[name] = []
        context.record.boxes[tag] = box
        context.places[tag] = box


def close_boxes(context: Context) -> None:
    """Fix what is in the boxes, when everything has been added."""
    for box in context.record.boxes.values():
        for name in _FILLED:
            box.data[name] = tuple(dict.fromkeys(box.data[name]) if name == "cables" else box.data[name])


def take_devices(context: Context) -> None:
    """Make the devices; what lands on them is added when the cables are there."""
    section = context.section("devices")
    for tag, held in section.items():
        device = context.item("device", tag, tag, section.key_places[tag], held)
        context.take(device, held)
        device.data["box"] = ()
        _nature(device)
        _nameplate(context, device, held)
        context.record.devices[tag] = device
        _put(context, device, held)
        for name in terminals_of(device):
            context.terminals[f"{tag} {name}"] = (device, name)


def terminals_of(device: Item) -> list[str]:
    """The terminals the device has, by its kind; all there are when the kind was not seen."""
    kind = device.data["kind"]
    groups = [_groups()[value] for value in kind.values] or list(_groups().values())
    return list(dict.fromkeys(name for group in groups for name in group["terminals"]))


@functools.cache
def _groups() -> dict[str, dict[str, Any]]:
    return {kind: group for group in data("devices")["groups"].values() for kind in group["kinds"]}


def _nature(device: Item) -> None:
    """What follows from the kind of device."""
    kind = device.data["kind"]

    def by_kind(name: str) -> Callable[[str], bool]:
        return lambda value: bool(_groups()[value].get(name))

    device.data["yoke"] = derived(kind, by_kind("yoke"), "the kind of device was not seen")
    device.data["by_nameplate"] = (
        Fact(ASSUMED, (False, True), place=kind.place, note="the kind of device was not seen")
        if kind.kind is UNSEEN
        else derived(kind, by_kind("by_nameplate"), "")
    )
    group = _groups()[kind.value] if kind.values else {}
    device.data["metal_words"] = group.get("metal", "its metal parts")


def _nameplate(context: Context, device: Item, held: Map) -> None:
    plate = held.get("nameplate")
    if not isinstance(plate, Map):
        return
    for name in ("amps", "max_breaker_amps", "min_circuit_amps", "volts", "watts"):
        if name in plate and name not in device.data:
            device.data[name] = context.fact(plate, name, name, device, held.get("by", ""))


def _put(context: Context, device: Item, held: Map) -> None:
    """Put the device where it is: in a box, or by itself with its own wiring compartment."""
    tag = held.get("at")
    if tag is None:
        context.places[device.tag] = device
        if held.get("where"):
            device.words = f"{device.tag} ({held['where']})"
        return
    box = context.record.boxes.get(tag)
    if box is None:
        context.unknown(held.places["at"], f"device {device.tag}", tag, context.names("boxes"))
        context.adrift.add(device.tag)
        return
    device.data["box"] = (box,)
    box.data["devices"].append(device)
    device.words = f"{device.tag} in {box.words}"
