"""Grounding as recorded: what leads to a bar, what is only joined to something, and what nobody can tell.

Metal raceway and armour can be a path for fault current themselves. Where one
is there, or the wiring method was not seen, a missing wire proves nothing.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from asfound.data import data
from asfound.record.colours import is_ground
from asfound.record.context import derived
from asfound.record.facts import NOT_RECORDED, WEAK, Fact, Item, exact, unseen
from asfound.record.model import Record
from asfound.trace.nets import Net, Terminal, by_tag, group_of


def cable_grounds(cables: Iterable[Item]) -> None:
    """Whether the raceway or armour of each cable is of metal."""
    types = data("cable_types")
    for cable in cables:
        cable.data["metal_way"] = _metal_way(cable.data.get("method", NOT_RECORDED), types)


def box_grounds(record: Record, nets: list[Net], items: list[Item], by_terminal: dict[Terminal, Net]) -> None:
    """For each box its grounding nets, whether one leads to a bar, and what its metal is joined to."""
    bonds = {box: items[net.number] for net in nets for box in net.boxes}
    for box in record.boxes.values():
        grounds = [c for c in by_tag(box.data["conductors"]) if is_ground(c)]
        box.data["grounding_nets"] = tuple(dict.fromkeys(c.data["net"] for c in grounds))
        box.data["bonded_to"] = (bonds[box],) if box in bonds else ()
        box.data["ground_here"] = _ground_here(box)
        box.data["on_ground"] = _on_ground(box, grounds, items, by_terminal)


def net_grounds(nets: list[Net], items: list[Item]) -> None:
    """For each net whether it leads to a bar as grounds do; not seen where it is not traced to its ends."""
    for net in nets:
        item = items[net.number]
        item.data["leads_to_ground"] = _leads(item, net)


def _leads(item: Item, net: Net) -> Fact:
    on_neutral = item.data["on_neutral_bar"].value
    if item.data["on_ground_bar"].value or (on_neutral and item.data["function"].values[:1] == ("grounding",)):
        return exact(True, note="traced to a bar")
    if net.poles or on_neutral:
        return exact(False, note=f"it is joined to a {'breaker' if net.poles else 'neutral'}")
    if net.open:
        return unseen(item.data["fully_traced"].note)
    for cable in (cable for box in net.boxes for cable in by_tag(box.data["cables"])):
        if _may_be_metal(cable):
            return unseen(f"the raceway or armour of {cable.tag} can lead to a bar; not tested")
    return exact(False, note="every end on it is accounted for, and none is on a bar for grounds")


def panel_grounds(record: Record) -> None:
    """For each panel that another one feeds, whether its feeder has a ground path, by wire or by metal raceway."""
    feeders: dict[str, dict[Item, None]] = {}
    for conductor, panel, spot in record.landings:
        if spot.startswith("lug"):
            feeders.setdefault(panel, {})[conductor.data["cable"]] = None
    for cable in record.cables.values():
        ends = [at for at in cable.data["sides"].values() if at is not None and at.kind == "panel"]
        for panel in ends:
            ahead = [breaker.data["panel"] for breaker in panel.data["feeder"]]
            if any(other in ahead for other in ends if other is not panel):
                feeders.setdefault(panel.tag, {})[cable] = None
    for tag, fed in record.panels.items():
        if fed.data["feeder"]:
            fed.data["feeder_ground"] = _feeder_ground(fed, by_tag(feeders.get(tag, ())))


def _feeder_ground(panel: Item, cables: list[Item]) -> Fact:
    if not cables:
        return unseen("its feeder is not recorded", place=panel.place)
    if _grounds_of([c for cable in cables for c in cable.data["conductors"]]):
        return exact(True, note="a grounding conductor in its feeder", place=panel.place)
    for cable in cables:
        if cable.data["metal_way"].values == (True,):
            return exact(True, note=f"the metal raceway or armour of {cable.tag}", place=panel.place)
        if _may_be_metal(cable):
            return unseen(f"the wiring method of its feeder {cable.tag} was not seen", place=panel.place)
    return exact(False, note="no grounding conductor in its feeder", place=panel.place)


def _grounds_of(conductors: list[Item]) -> list[Item]:
    """The grounding conductors of a feeder. A bare one that is its only conductor on the neutral bar is its neutral."""
    on_bar = [c for c in conductors if c.data["net"].data["on_neutral_bar"].value]
    neutral_beside = any(not is_ground(c) for c in on_bar)
    return [c for c in conductors if is_ground(c) and (neutral_beside or c not in on_bar)]


def end_places(record: Record) -> None:
    """The devices in the place where each conductor ends."""
    for end in record.ends:
        at = end.data["at"]
        end.data["devices"] = () if at is None else (at,) if at.kind == "device" else at.data.get("devices", ())


Wiring = tuple[bool, Item | None]  # whether there is a grounding conductor, and the first cable of metal, or not seen


def ground_path(device: Item, net: Net | None, items: list[Item], wiring: dict[Item, Wiring]) -> Fact:
    """Whether the grounding terminal, which is on `net`, has a recorded path to a panel: `yes`, `no`, or not seen.

    `wiring` keeps what is found out about each box, for the other devices in it.
    """
    if "ground" not in group_of(device).get("terminals", ()):
        return NOT_RECORDED
    if net is None:
        return _path_without_terminal(device, wiring)
    leads = items[net.number].data["leads_to_ground"]
    if not leads.values:
        return unseen(leads.note, place=device.place)
    return exact("yes" if leads.value else "no", note=leads.note_source, place=device.place)


def _path_without_terminal(device: Item, wiring: dict[Item, Wiring]) -> Fact:
    """For a device with nothing recorded on its grounding terminal."""
    boxes = [box for box in device.data["box"] if box.data["conductors"]]
    for box in boxes:
        if box not in wiring:
            wiring[box] = _wiring(box.data["conductors"])
    found = [wiring[box] for box in boxes]
    found += [_wiring(device.data["conductors"])] if device.data["conductors"] else []
    if not found or not device.data["terminals"] or any(grounded for grounded, _ in found):
        return unseen("no conductor is recorded on its grounding terminal", place=device.place)
    ways = by_tag(cable for _, cable in found if cable is not None)
    if ways:
        return unseen(f"the raceway or armour of {ways[0].tag} can be its path; not tested", place=device.place)
    return exact("no", note="no cable here has a grounding conductor", place=device.place)


def _wiring(conductors: Iterable[Item]) -> Wiring:
    held = by_tag(dict.fromkeys(conductor.data["cable"] for conductor in conductors))
    grounded = any(is_ground(conductor) for cable in held for conductor in cable.data["conductors"])
    return grounded, next(filter(_may_be_metal, held), None)


def _ground_here(box: Item) -> Fact:
    leads = [net.data["leads_to_ground"] for net in box.data["grounding_nets"]]
    if any(fact.values == (True,) for fact in leads):
        return exact(True, note="as traced", place=box.place)
    opened = next((fact for fact in leads if not fact.values), None)
    if opened is not None:
        return unseen(opened.note, place=box.place)
    return exact(False, note="as traced", place=box.place)


def _on_ground(box: Item, grounds: list[Item], items: list[Item], by_terminal: dict[Terminal, Net]) -> Fact:
    """Whether its metal is joined to a grounding conductor; weakly no where all are accounted for and none names it."""
    for net in box.data["bonded_to"]:
        if net.data["grounding_conductors"]:
            return exact(True, note="named in a joint with a grounding conductor", place=box.place)
    for device in by_tag(box.data["devices"]):
        on = by_terminal.get((device, "ground"))
        if on is not None and items[on.number].data["grounding_conductors"] and device.data["yoke"].values == (True,):
            return exact(True, note=f"through the strap of {device.tag}", place=box.place)
    for cable in by_tag(box.data["cables"]):
        if _may_be_metal(cable):
            return unseen(f"the raceway or armour of {cable.tag} can bond it; not tested", place=box.place)
    for end in (end for c in grounds for end in c.data["ends"] if box in end.data["boxes"]):
        if not end.data["state"].values:
            return unseen(f"what becomes of {end.tag}: {end.data['state'].note}", place=box.place)
    if not grounds:
        return exact(False, note="no grounding conductor ends in it", place=box.place)
    note = "every grounding conductor here is accounted for, and no joint names the box"
    return Fact(WEAK, (False, True), how="by what the joints name", note=note, place=box.place)


def _may_be_metal(cable: Item) -> bool:
    """Whether the raceway or armour of the cable can be a ground path; so it is where its kind was not seen."""
    return bool(cable.data["metal_way"].values != (False,))


def _metal_way(method: Fact, types: dict[str, Any]) -> Fact:
    if method is NOT_RECORDED:
        return method
    if set(method.values) & set(types["perhaps_metal"]):
        return unseen(f"{method.written} can be of metal or of plastic", place=method.place)
    return derived(method, lambda value: value in types["metal"], "the wiring method was not seen")
