"""Facts that follow from the trace and from the record together: protection, ground path, polarity, labels.

Everything here is worked out once, after circuits are known; no rule repeats it.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import Any

from asfound.data import data
from asfound.record.cabletypes import NotACable, parse_type
from asfound.record.context import derived
from asfound.record.facts import EXACT, NOT_RECORDED, WEAK, Fact, Item, exact, unseen
from asfound.record.model import Record
from asfound.trace.grounds import (
    Wiring,
    box_grounds,
    cable_grounds,
    end_places,
    ground_path,
    net_grounds,
    panel_grounds,
)
from asfound.trace.measured import add_readings
from asfound.trace.nets import by_kind, group_of
from asfound.trace.protection import PROTECTS, Guard
from asfound.trace.reach import Traced
from asfound.trace.said import add_directory, labels
from asfound.trace.sides import add_sides
from asfound.trace.ways import lead_back

_LEGEND = re.compile(r"(?<![0-9/])([1-4]/0|[0-9]{1,2})\s*[-/]\s*([1-9])(?![0-9])")


def relate(traced: Traced) -> dict[str, list[Item]]:
    """Add the facts to the items; give the item lists of labels, log entries and instruments."""
    _net_facts(traced)
    _terminal_facts(traced)
    _box_facts(traced)
    _device_facts(traced)
    _breaker_facts(traced)
    _cable_facts(traced.record)
    _site_facts(traced.record)
    _reading_facts(traced)
    record = traced.record
    lead_back(record)
    add_sides(traced)
    add_directory(traced)
    add_readings(traced)
    return {"label": labels(record), "instrument": _instruments(record)}


def _net_facts(traced: Traced) -> None:
    for net, item in zip(traced.nets, traced.items, strict=True):
        through = traced.reach.grounded[net.number] is True
        item.data["neutral_through_switch"] = exact(through, note="as traced")
        item.data["reaches_neutral_bar"] = exact(traced.reach.grounded[net.number] is not None, note="as traced")
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
    devices = traced.record.devices.values()
    guards = [(sort, Guard(traced.nets, traced.items, traced.by_terminal, devices, sort)) for sort in PROTECTS]
    wiring: dict[Item, Wiring] = {}
    for device in devices:
        boxes = device.data["box"]
        if "room" not in device.data and boxes and isinstance(boxes[0].data.get("room"), Fact):
            device.data["room"] = boxes[0].data["room"]
        kind, reason = device.data.get("kind", NOT_RECORDED), "the kind of device was not seen"
        device.data["receptacles"] = derived(kind, lambda value: by_kind(value).get("receptacles", 0), reason)
        device.data["is_load"] = derived(kind, _is_load, reason)
        for sort, guard in guards:
            device.data[f"{sort.replace('-', '_')}_protected"] = guard.of_device(device)
        on = traced.by_terminal.get((device, "ground"))
        device.data["ground_path"] = ground_path(device, on, traced.items, wiring)


def _is_load(kind: str) -> bool:
    group = by_kind(kind)
    return bool(group.get("load")) and not group.get("receptacles")


# -- boxes, breakers, cables, the site


def _box_facts(traced: Traced) -> None:
    record = traced.record
    for box in record.boxes.values():
        held = (*box.data["conductors"], *box.data["passing"], *box.data["looped"])
        box.data["nets"] = tuple(dict.fromkeys(c.data["net"] for c in held))
    cable_grounds(record.cables.values())
    net_grounds(traced.nets, traced.items)
    panel_grounds(record)
    box_grounds(record, traced.nets, traced.items, traced.by_terminal)
    end_places(record)


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
    return fact.restated(kind, values, note)


def _site_facts(record: Record) -> None:
    record.site.data.update(
        panels=tuple(record.panels.values()), breakers=tuple(record.breakers.values()),
        devices=tuple(record.devices.values()), boxes=tuple(record.boxes.values()),
        cables=tuple(record.cables.values()),
    )  # fmt: skip


# -- readings, the log and instruments


def _reading_facts(traced: Traced) -> None:
    """For each reading the nets that its points are on, in order, as far as they are conductors or terminals."""
    for reading in traced.record.readings:
        nets = []
        for sort, held in filter(None, reading.data["points"]):
            if sort == "conductor":
                nets.append(held.data["net"])
            elif sort == "terminal" and held in traced.by_terminal:
                nets.append(traced.item(traced.by_terminal[held]))
        reading.data["nets"] = tuple(nets)


def entries(record: Record, lacking: Mapping[int, tuple[str, ...]]) -> list[Item]:
    """One item for each log entry, with the proof that one that is work lacks.

    It is `out_of_order` where its time is before that of an entry above it.

    A time alone is on the day of its visit, or of the only visit; where neither says the day, such times are
    compared among themselves.
    """
    found = []
    last: dict[bool, str] = {}
    spoken_of = {c.tag: (c,) for c in record.conductors} | {
        tag: cable.data["conductors"] for tag, cable in record.cables.items()
    }
    for entry in record.log:
        item = Item("entry", str(entry.number), entry.words, entry.place, entry.visit)
        item.data["conductors"] = tuple(dict.fromkeys(c for tag in entry.what for c in spoken_of.get(tag, ())))
        at = record.moment(entry.at, item.visit)
        dated = " " in at
        behind = bool(at) and at < last.get(dated, "")
        item.data.update(
            at=entry.at, did=entry.did, what=entry.what, to=entry.to,
            out_of_order=exact(
                behind, written=entry.at, place=entry.place, note=f"the entry before it: {last.get(dated, 'none')}"
            ),
        )  # fmt: skip
        if entry.number in lacking:
            work = f"{entry.did}: {', '.join(entry.what)}"
            item.data["missing"] = exact(lacking[entry.number], written=work, place=entry.place)
        if at:
            last[dated] = max(at, last.get(dated, ""))
        found.append(item)
    return found


def _instruments(record: Record) -> list[Item]:
    """One item for each instrument: highest voltage read with it, readings at panels, day of its latest reading."""
    highest: dict[str, float] = {}
    latest: dict[str, str] = {}
    at_panel: dict[str, list[str]] = {}
    for reading, held in zip(record.readings, record.document.root.get("readings") or (), strict=True):
        day = record.moment(str(held.get("at") or "00:00"), held.get("visit", "")).split(" ")[0]
        if "instrument" in held and ":" not in day:
            latest[held["instrument"]] = max(day, latest.get(held["instrument"], ""))
        figure, _, unit = str(held.get("value", "")).partition(" ")
        if unit == "V" and "instrument" in held:
            tag = str(held["instrument"])
            highest[tag] = max(highest.get(tag, 0.0), float(figure))
        if unit in ("V", "A") and "instrument" in held and _at_panel(reading):
            at_panel.setdefault(str(held["instrument"]), []).append(str(reading.tag))
    found = []
    for tag, held in (record.document.root.get("instruments") or {}).items():
        item = Item("instrument", tag, f"instrument {tag}", held.place)
        for name in ("type", "rating", "last_check"):
            if name in held:
                item.data[name] = exact(held[name], written=str(held[name]), place=held.places[name])
        item.data["used_on_v"] = exact(
            highest.get(tag, 0.0), note="highest voltage among its readings", place=held.place
        )
        item.data["used_at_panel"] = exact(
            tuple(at_panel.get(tag, ())), note="readings at a breaker, bar or lug", place=held.place
        )
        if tag in latest:
            item.data["last_used"] = exact(latest[tag], note="day of its latest reading", place=held.place)
        found.append(item)
    return found


def _at_panel(reading: Item) -> bool:
    """Whether a reading was taken at a breaker, bar or lug."""
    return any(point is not None and point[0] in ("breaker", "bar") for point in reading.data["points"])
