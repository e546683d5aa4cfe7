"""Facts that follow from the trace and from the record together: protection, ground path, polarity, labels.

Everything here is worked out once, after circuits are known; no rule repeats it.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Any

from asfound.data import data
from asfound.record.cabletypes import NotACable, parse_type
from asfound.record.facts import EXACT, NOT_RECORDED, WEAK, Fact, Item, exact, unseen
from asfound.record.model import Record
from asfound.trace.nets import Net, Terminal, group_of

_PROTECTS = {"ground-fault": ("ground-fault", "dual"), "arc-fault": ("arc-fault", "dual")}
_LEGEND = re.compile(r"(?<![0-9/])([1-4]/0|[0-9]{1,2})\s*[-/]\s*([1-9])(?![0-9])")


@dataclass(slots=True)
class Traced:
    """What the tracer hands over: nets with their items, and the net of a terminal or conductor."""

    record: Record
    nets: list[Net]
    items: list[Item]
    grounded: list[bool | None]
    by_terminal: dict[Terminal, Net]

    def item(self, net: Net) -> Item:
        return self.items[net.number]


def relate(traced: Traced) -> dict[str, list[Item]]:
    """Add the facts to the items; give the item lists of labels, log entries and instruments."""
    _net_facts(traced)
    _terminal_facts(traced)
    _device_facts(traced)
    _box_facts(traced)
    _breaker_facts(traced)
    _cable_facts(traced.record)
    _site_facts(traced.record)
    record = traced.record
    return {"label": _labels(record), "entry": _entries(record), "instrument": _instruments(record)}


def _net_facts(traced: Traced) -> None:
    for net, item in zip(traced.nets, traced.items, strict=True):
        through = traced.grounded[net.number] is True
        item.data["neutral_through_switch"] = exact(through, note="as traced")
        item.data["reaches_neutral_bar"] = exact(traced.grounded[net.number] is not None, note="as traced")
        panels = dict.fromkeys(traced.record.panels[tag] for tag, _ in net.bars if tag in traced.record.panels)
        item.data["panels"] = tuple(panels)
        item.data["bars"] = exact(tuple(dict.fromkeys(bar for _, bar in net.bars)), note="as traced")


def _terminal_facts(traced: Traced) -> None:
    for device in traced.record.devices.values():
        for terminal in device.data["terminals"]:
            net = traced.by_terminal[device, terminal.data["name"]]
            terminal.data["net"] = traced.item(net)
            terminal.data["function"] = traced.item(net).data["function"]
            terminal.data["breakers"] = traced.item(net).data["fed_by"]
            terminal.data["holds"] = group_of(device).get("screws", {}).get(terminal.data["name"], 1)


# -- devices


def _device_facts(traced: Traced) -> None:
    for device in traced.record.devices.values():
        boxes = device.data["box"]
        if "room" not in device.data and boxes and isinstance(boxes[0].data.get("room"), Fact):
            device.data["room"] = boxes[0].data["room"]
        device.data["receptacles"] = exact(group_of(device).get("receptacles", 0), place=device.place)
        device.data["is_load"] = exact(bool(group_of(device).get("load")) and not group_of(device).get("receptacles"),
                                       place=device.place)  # fmt: skip
        for kind in _PROTECTS:
            device.data[kind.replace("-", "_") + "_protected"] = _protected(traced, device, kind)
        device.data["ground_path"] = _ground_path(traced, device)


def _protected(traced: Traced, device: Item, kind: str) -> Fact:
    """Whether the device is protected: by itself, by a device that feeds it on, or by its breaker."""
    words = _PROTECTS[kind]
    own = device.data.get("protection", NOT_RECORDED)
    if own.values and own.values[0] in words:
        return _like(own, True, f"by {device.tag} itself")
    upstream = _fed_through(traced, device, words)
    if upstream is not None:
        return exact(True, note=f"fed through {upstream.tag}", place=upstream.place)
    fed = device.data["breakers"]
    if len(fed.values) != 1 or not fed.values[0]:
        return unseen("its breaker is not traced", place=device.place)
    unknown: Fact | None = None
    for breaker in fed.values[0]:
        held = breaker.data.get("protection", NOT_RECORDED)
        if not held.values:
            unknown = unseen(f"fault protection of breaker {breaker.tag}: {held.note}", place=breaker.place)
        elif held.values[0] not in words:
            if not own.values:
                return unseen(f"fault protection of {device.tag} itself: {own.note}", place=device.place)
            return _like(held, False, f"neither {device.tag} nor breaker {breaker.tag}")
    return unknown or exact(True, note="by its breaker", place=fed.values[0][0].place)


def _like(fact: Fact, value: bool, note: str) -> Fact:
    """A fact of the same kind as another, with one value."""
    kind = fact.kind if len(fact.values) == 1 else WEAK
    return Fact(
        kind, (value,), written=fact.written, place=fact.place, how=fact.how, by=fact.by, visit=fact.visit, note=note
    )


def _fed_through(traced: Traced, device: Item, words: tuple[str, ...]) -> Item | None:
    """A protective device on whose load side this one hangs."""
    for name in ("hot", "hot_2", "line", "common"):
        net = traced.by_terminal.get((device, name))
        if net is None:
            continue
        for other, terminal in net.terminals:
            protects = other.data.get("protection", NOT_RECORDED)
            if terminal == "load_hot" and other is not device and protects.values[:1] and protects.values[0] in words:
                return other
    return None


def _ground_path(traced: Traced, device: Item) -> Fact:
    """Whether the grounding terminal has a recorded path to a panel: `yes`, `no`, or not seen."""
    if "ground" not in group_of(device).get("terminals", ()):
        return NOT_RECORDED
    net = traced.by_terminal.get((device, "ground"))
    if net is None:
        cables = {c.data["cable"] for box in device.data["box"] for c in box.data["conductors"]}
        cables |= {c.data["cable"] for c in device.data["conductors"]}
        grounds = [c for cable in cables for c in cable.data["conductors"] if _is_ground(c)]
        if cables and not grounds and device.data["conductors"]:
            return exact("no", note="no cable here has a grounding conductor", place=device.place)
        return unseen("no conductor is recorded on its grounding terminal", place=device.place)
    item = traced.item(net)
    if item.data["on_ground_bar"].value or (
        item.data["on_neutral_bar"].value and item.data["function"].values[:1] == ("grounding",)
    ):
        return exact("yes", note="traced to a bar", place=device.place)
    if net.open:
        return unseen(item.data["fully_traced"].note, place=device.place)
    return exact("no", note="its grounding conductor leads to no bar", place=device.place)


def _is_ground(conductor: Item) -> bool:
    colour = conductor.data.get("colour", NOT_RECORDED)
    return colour.values[:1] in (("bare",), ("green",), ("green/yellow",))


# -- boxes, breakers, cables, the site


def _box_facts(traced: Traced) -> None:
    for box in traced.record.boxes.values():
        held = (*box.data["conductors"], *box.data["passing"], *box.data["looped"])
        box.data["nets"] = tuple(dict.fromkeys(c.data["net"] for c in held))
        box.data["grounding_nets"] = tuple(dict.fromkeys(c.data["net"] for c in held if _is_ground(c)))
    bonds: dict[Item, Item] = {}
    for net in traced.nets:
        for box in net.boxes:
            bonds[box] = traced.item(net)
    for box in traced.record.boxes.values():
        box.data["bonded_to"] = (bonds[box],) if box in bonds else ()


def _breaker_facts(traced: Traced) -> None:
    counts: dict[tuple[str, str], list[Item]] = {}
    for conductor, panel, spot in traced.record.landings:
        if (panel, spot) in traced.record.poles:
            counts.setdefault((panel, spot), []).append(conductor)
    for pole, (breaker, _) in traced.record.poles.items():
        most = breaker.data.get("most_on_one_pole")
        here = tuple(counts.get(pole, ()))
        if most is None or len(here) > len(most):
            breaker.data["most_on_one_pole"] = here


def _cable_facts(record: Record) -> None:
    for cable in record.cables.values():
        legend = cable.data.get("legend", NOT_RECORDED)
        if len(legend.values) == 1:
            cable.data["legend_gauge"] = _legend_gauge(legend)
        jacket = cable.data.get("jacket", NOT_RECORDED)
        if len(jacket.values) == 1:
            cable.data["jacket_gauge"] = _jacket_gauge(jacket)
        fed: dict[Item, None] = {}
        for conductor in cable.data["conductors"]:
            breakers = conductor.data["breakers"]
            if len(breakers.values) == 1:
                fed.update(dict.fromkeys(breakers.values[0]))
        cable.data["breakers"] = exact(tuple(fed), note="as traced")
        cable.data["ends_in"] = tuple(p for p in cable.data["sides"].values() if p is not None and p.kind == "box")


def _legend_gauge(legend: Fact) -> Fact:
    match = _LEGEND.search(str(legend.value))
    if match is None:
        return unseen("the legend shows no size", place=legend.place)
    try:
        size = parse_type(f"{match.group(1)}/{match.group(2)}").gauge
    except NotACable:
        return unseen("the legend shows no size that is known", place=legend.place)
    return _with(legend, (size,), "size in the legend")


def _jacket_gauge(jacket: Fact) -> Fact:
    sizes = data("jacket_colours")["gauge"].get(jacket.value)
    if sizes is None:
        return unseen("this colour suggests no size", place=jacket.place)
    return _with(jacket, (tuple(sizes),), "sizes that makers give this colour")


def _with(fact: Fact, values: tuple[Any, ...], note: str) -> Fact:
    kind = EXACT if fact.kind == EXACT else WEAK
    return Fact(
        kind, values, written=fact.written, place=fact.place, how=fact.how, by=fact.by, visit=fact.visit, note=note
    )


def _site_facts(record: Record) -> None:
    record.site.data.update(
        panels=tuple(record.panels.values()), breakers=tuple(record.breakers.values()),
        devices=tuple(record.devices.values()), boxes=tuple(record.boxes.values()),
        cables=tuple(record.cables.values()),
    )  # fmt: skip


# -- labels and the log


def _labels(record: Record) -> list[Item]:
    """One item for each label, with the breakers it names and those that the trace finds at what it is on."""
    found = []
    spaces = sorted(record.breakers, key=lambda key: -len(" ".join(key)))
    for number, held in enumerate(record.document.root.get("labels") or ()):
        item = Item("label", f"{number + 1} on {held['on']}", f"label {number + 1} on {held['on']}", held.place,
                    held.get("visit", ""))  # fmt: skip
        says = str(held["says"])
        named = [
            record.breakers[key] for key in spaces if re.search(rf"(?<![\w/]){re.escape(' '.join(key))}(?![\w/])", says)
        ]
        item.data["says"] = exact(says, written=says, place=held.places["says"])
        item.data["names_breakers"] = exact(tuple(named[:1]), written=says, place=held.places["says"])
        item.data["on"] = held["on"]
        item.data["fed_by"] = _feeds_of(record, str(held["on"]))
        item.data["names_dead"] = exact(bool(re.search(r"\b(dead|off|not live|abandoned)\b", says, re.I)), written=says,
                                        place=held.places["says"])  # fmt: skip
        found.append(item)
    return found


def _names(says: str, tag: str) -> bool:
    return re.search(rf"(?<![\w/]){re.escape(tag)}(?![\w/])", says) is not None


def _feeds_of(record: Record, tag: str) -> Fact:
    for section in (record.cables, record.devices, record.boxes):
        if tag in section:
            held: Fact = section[tag].data["breakers"]
            if held.kind == EXACT and not held.value:
                return unseen("not traced to a breaker", place=held.place)
            return held
    for conductor in record.conductors:
        if conductor.tag == tag:
            fed: Fact = conductor.data["breakers"]
            return fed
    return NOT_RECORDED


def _entries(record: Record) -> list[Item]:
    """One item for each log entry; `out_of_order` where its time is before that of the entry above it."""
    found = []
    last: dict[bool, str] = {}
    for entry in record.log:
        words = f"log entry {entry.number}{f' at {entry.at}' if entry.at else ''}"
        item = Item("entry", str(entry.number), words, entry.place)
        dated = " " in entry.at or "T" in entry.at
        at = entry.at.replace("T", " ")
        behind = bool(at) and at < last.get(dated, "")
        item.data.update(
            at=entry.at, did=entry.did, what=entry.what, to=entry.to,
            out_of_order=exact(
                behind, written=entry.at, place=entry.place, note=f"the entry before it: {last.get(dated, 'none')}"
            ),
        )  # fmt: skip
        if at:
            last[dated] = max(at, last.get(dated, ""))
        found.append(item)
    return found


def _instruments(record: Record) -> list[Item]:
    """One item for each instrument, with the highest voltage read with it."""
    highest: dict[str, float] = {}
    for held in record.document.root.get("readings") or ():
        figure, _, unit = str(held.get("value", "")).partition(" ")
        if unit == "V" and "instrument" in held:
            tag = str(held["instrument"])
            highest[tag] = max(highest.get(tag, 0.0), float(figure))
    found = []
    for tag, held in (record.document.root.get("instruments") or {}).items():
        item = Item("instrument", tag, f"instrument {tag}", held.place)
        for name in ("type", "rating", "last_check"):
            if name in held:
                item.data[name] = exact(held[name], written=str(held[name]), place=held.places[name])
        item.data["used_on_v"] = exact(
            highest.get(tag, 0.0), note="highest voltage among its readings", place=held.place
        )
        found.append(item)
    return found
