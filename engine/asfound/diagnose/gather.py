"""Readings gathered by place and moment, each with what it allows the true value to be.

A set holds the readings of one device, box or panel on one visit between which
nothing was switched. Signals of non-contact and lamp testers, currents, and
readings that cannot be placed are left out, with the reason. Known-source
readings prove the instrument and give the volts of the supply on their visit.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from typing import Any, Final

from asfound.circuit.instruments import OHMS, VOLTS, Instrument, instrument
from asfound.data import data
from asfound.diagnose.wiring import EARTH, House, Node
from asfound.record.colours import is_ground, is_white
from asfound.record.facts import EXACT, Fact, Item
from asfound.record.model import Record
from asfound.record.references import SIDE
from asfound.trace import Installation

ROLES: Final = {
    "hot": "hot", "line": "hot", "common": "hot", "load_hot": "hot", "hot_2": "hot_2", "line_2": "hot_2",
    "neutral": "neutral", "load_neutral": "neutral", "ground": "ground",
}  # fmt: skip
"""What a terminal should be; terminals behind a switch have no role of their own."""
SLOTTED: Final = ("hot", "neutral", "ground", "hot_2")


@dataclass(frozen=True, slots=True)
class Point:
    """One point of a reading: where it is in the circuit, what it should be, and where an electrician stands."""

    words: str
    node: Node
    role: str  # "" when it has none
    at: Item | None  # None for the earth
    bare: bool  # a bare part has to be touched to read there


@dataclass(frozen=True, slots=True)
class Taken:
    """One reading that can be used: the window of true values, and the instrument; `ohms` is a dead reading."""

    item: Item
    one: Point
    two: Point
    least: float
    most: float
    meter: Instrument
    ohms: bool


@dataclass(slots=True)
class Set:
    """Readings of one place and moment; `off` are breakers and panel mains the log has off, `on` those it has on."""

    tag: str
    place: Item
    readings: list[Taken] = field(default_factory=list)
    off: frozenset[Item] = frozenset()
    scale: tuple[float, float] = (1.0, 1.0)
    notes: list[str] = field(default_factory=list)

    @property
    def points(self) -> list[Point]:
        """Every point read, in order."""
        return list(dict.fromkeys(point for reading in self.readings for point in (reading.one, reading.two)))


def gather(installation: Installation, house: House) -> list[Set]:
    """The sets of readings of a record, in order of their first reading."""
    record = installation.record
    written = list(record.document.root.get("readings") or ())
    moments = _moments(installation)
    scales = _scales(record, house, written)
    sets: dict[tuple[str, str, Any], Set] = {}
    for reading, held in zip(record.readings, written, strict=True):
        if reading.data["known_source"].value:
            continue
        visit = _visit(record, reading)
        taken, place = _take(house, reading, held)
        key = moments.get(reading.tag) or _by_time(installation, visit, str(held.get("at", "")))
        if place is None:
            continue
        found = sets.get((place.tag, visit, key[0]))
        if found is None:
            named = f"{place.tag} {visit}".strip()
            tag = named if not any(one.tag == named for one in sets.values()) else f"{named} {reading.tag}"
            found = sets[place.tag, visit, key[0]] = Set(
                tag, place, off=key[1], scale=scales.get(visit, house_scale(house))
            )
        if isinstance(taken, str):
            found.notes.append(f"{reading.tag} is not used: {taken}")
        else:
            found.readings.append(taken)
    for found in sets.values():
        devices = [point.at for point in found.points if point.node[0] == "terminal"]
        if devices and found.place.kind == "box":
            found.place = next(device for device in devices if device is not None)
    return [found for found in sets.values() if found.readings]


def house_scale(house: House) -> tuple[float, float]:
    """The supply as a share of nominal, least and most, when nobody read it."""
    supply = house.supply
    return supply.least / supply.volts, supply.most / supply.volts


# -- when


def _visit(record: Record, reading: Item) -> str:
    visit = record.visit_of(reading.visit)
    return visit.tag if visit else reading.visit


Moment = tuple[Any, frozenset[Item]]
"""What is equal for readings between which nothing was switched, and what was off then."""


def _moments(installation: Installation) -> dict[str, Moment]:
    """For each reading named in the log its moment."""
    found: dict[str, Moment] = {}
    for step in installation.log:
        for reading in step.readings:
            found.setdefault(reading.tag, (step.turn, _off(step.positions)))
    return found


def _by_time(installation: Installation, visit: str, at: str) -> Moment:
    """The moment of a reading that the log does not name: by its time, else as everything was found."""
    record = installation.record
    now = record.moment(at, visit)
    last: Moment | None = None
    for step in installation.log:
        then = record.moment(step.entry.at, step.visit)
        if now and then and step.visit == visit and then <= now and (" " in then) == (" " in now):
            last = step.turn + step.switches, _off(step.positions)
    if last is not None:
        return last
    off = (breaker for breaker in record.breakers.values() if _found_off(record, breaker, visit))
    return 0, frozenset(off)


def _found_off(record: Record, breaker: Item, visit: str) -> bool:
    state = breaker.data.get("state")
    if not isinstance(state, Fact) or state.kind != EXACT or state.value not in ("off", "tripped"):
        return False
    seen = record.visit_of(state.visit, breaker.visit, breaker.data["panel"].visit)
    return (seen.tag if seen else "") == visit


def _off(positions: Any) -> frozenset[Item]:
    return frozenset(item for item, position in positions.items() if position.off)


# -- what was read


def _scales(record: Record, house: House, written: list[Any]) -> dict[str, tuple[float, float]]:
    """By visit the supply as a share of nominal, by its known-source readings; nothing for one that has none."""
    drift = float(data("faults")["drift"])
    found: dict[str, tuple[float, float]] = {}
    for reading, held in zip(record.readings, written, strict=True):
        window = _window(record, reading, held)
        if not reading.data["known_source"].value or isinstance(window, str) or "volts" not in reading.data:
            continue
        least, most, _ = window
        for nominal in (house.supply.volts, house.supply.across):
            if 0.75 * nominal <= least and most <= 1.25 * nominal:
                low, high = least / nominal * (1 - drift), most / nominal * (1 + drift)
                before = found.get(_visit(record, reading), (low, high))
                found[_visit(record, reading)] = min(low, before[0]), max(high, before[1])
                break
    return found


def _take(house: House, reading: Item, held: Any) -> tuple[Taken | str, Item | None]:
    """The reading as it can be used, or why it cannot; and its place."""
    texts = [str(text) for text in held["between"]]
    points = [
        _point(house, point, text)
        for point, text in zip(reading.data["points"], texts, strict=True)
        if point is not None
    ]
    known = [point for point in points if point is not None]
    place = _place(known)
    window = _window(house.record, reading, held)
    if isinstance(window, str):
        return window, place
    if len(known) != 2:
        return "it is not between two points of the wiring", place
    least, most, meter = window
    return Taken(reading, known[0], known[1], least, most, meter, "volts" not in reading.data), place


def _window(record: Record, reading: Item, held: Any) -> tuple[float, float, Instrument] | str:
    """Least and most that the true value can be, with the instrument; or why the reading is not used."""
    kind = str(held["kind"])
    if kind in ("non-contact", "lamp tester"):
        return f"a {kind} reading shows neither live nor dead for certain"
    if kind == "current":
        return "currents are not compared"
    about = (record.document.root.get("instruments") or {}).get(held.get("instrument", ""), {})
    meter = instrument(reading.data.get("instrument", ""), str(about.get("accuracy", "")))
    quantity = VOLTS if kind == "voltage" else OHMS
    if quantity == VOLTS and not meter.ohms:
        return f"a {meter.kind} has no leads"
    fact = reading.data.get(quantity)
    if isinstance(fact, Fact) and fact.values:
        off = [meter.half_width(quantity, value, fact.written) for value in fact.values]
        least = min(value - width for value, width in zip(fact.values, off, strict=True))
        most = max(value + width for value, width in zip(fact.values, off, strict=True))
        if quantity == VOLTS:
            return max(least, 0.0), most, meter
        more = data("faults")["ohms"]
        return (
            max(0.0, least - more["floor"] - more["share"] * min(fact.values)),
            most + more["floor"] + more["share"] * max(fact.values),
            meter,
        )
    signal = reading.data.get("signal")
    if quantity == OHMS and isinstance(signal, Fact) and signal.values:
        windows = [window for value in signal.values if (window := _signal(str(value), kind)) is not None]
        if len(windows) == len(signal.values):
            return min(one[0] for one in windows), max(one[1] for one in windows), meter
    return "its value was not seen" if signal is None or not signal.values else "its value is no figure"


def _signal(text: str, kind: str) -> tuple[float, float] | None:
    limits = data("faults")["ohms"]
    if text == "closed":
        return 0.0, float(limits["closed_to"])
    if text == "OL" and kind == "resistance":
        return float(limits["over_limit_from"]), math.inf
    if text in ("open", "OL"):
        return float(limits["open_from"]), math.inf
    return None


# -- where


def _place(points: Iterable[Point]) -> Item | None:
    """The place of a reading: the first of its points that is not at a panel, else its panel."""
    places = [point.at for point in points if point.at is not None]
    found = next((place for place in places if place.kind != "panel"), next(iter(places), None))
    if found is not None and found.kind == "device":
        for box in found.data["box"]:
            if len(box.data["devices"]) == 1:
                return box  # so that what is read at its wires belongs to the same set
    return found


def _point(house: House, point: tuple[str, Any], text: str) -> Point | None:
    """A point of a reading in the circuit; None for a whole cable."""
    sort, held = point
    record = house.record
    if sort == "earth":
        return Point("an independent earth", EARTH, "earth", None, False)
    if sort == "terminal":
        device, name = held
        slots = name in SLOTTED and bool(device.data["kind"].values) and "receptacle" in str(device.data["kind"].value)
        return Point(f"{device.tag} {name}", ("terminal", device.tag, name), ROLES.get(name, ""), device, not slots)
    if sort == "conductor":
        return _conductor(house, held, text)
    if sort == "box":
        return Point(f"the metal of {held.tag}", ("box", held.tag), "ground", held, False)
    if sort == "device":
        return Point(f"the metal of {held.tag}", ("terminal", held.tag, "ground"), "ground", held, False)
    if sort == "joint":
        first = next(iter(held.data["conductors"]), None)
        return Point(f"joint {held.tag}", ("joint", held.tag), role_of(first) if first else "", _at(record, held), True)
    if sort == "panel":
        return Point(f"the enclosure of panel {held.tag}", ("bar", held.tag, "ground bar"), "ground", held, False)
    if sort == "bar":
        panel, bar = held
        return Point(f"the {bar} of panel {panel.tag}", ("bar", panel.tag, bar), bar.removesuffix(" bar"), panel, True)
    if sort == "breaker":
        space = text.rpartition(" ")[2]
        tag = held.data["panel"].tag
        single = space if (tag, space) in record.poles else held.tag.rpartition(" ")[2].split("/")[0]
        return Point(f"breaker {tag} {single}", ("pole", tag, single), "hot", held.data["panel"], True)
    return None


def _conductor(house: House, conductor: Item, text: str) -> Point:
    """A conductor is read where `(from)` or `(to)` says; else at the end that is not at a panel, the far one first."""
    sides: dict[str, Item | None] = conductor.data["cable"].data["sides"]
    match = SIDE.match(text) if text.endswith(")") else None
    order = [match.group(2)] if match else ["to", "from"]
    placed = [side for side in order if sides[side] is not None] or order
    side = next((one for one in placed if getattr(sides[one], "kind", "panel") != "panel"), placed[0])
    at = sides[side]
    node = house.ends[conductor.tag, side]
    role = ROLES.get(node[2], role_of(conductor)) if node[0] == "terminal" else role_of(conductor)
    return Point(
        f"{conductor.tag}{f' at {at.tag}' if at is not None else ''}", node, role, at or conductor.data["cable"], True
    )


def role_of(conductor: Item) -> str:
    """What a conductor should be: grounding by its colour, else by connection where that is certain, else by colour."""
    if is_ground(conductor):
        return "ground"
    function = conductor.data["function"]
    if function.kind == EXACT:
        return {"grounded": "neutral", "grounding": "ground"}.get(function.value, "hot")
    return "neutral" if is_white(conductor) else "hot"


def _at(record: Record, joint: Item) -> Item | None:
    """Where a joint is."""
    tag = str(record.document.root["joints"][joint.tag]["at"])
    return record.boxes.get(tag) or record.devices.get(tag) or record.panels.get(tag)


def mates(house: House, node: Node, at: Item | None) -> Iterator[tuple[str, Node]]:
    """Roles and points of the conductors that share a cable with what is at a point, at the same place."""
    for element in house.beside.get(node, ()):
        for tag in element.cables:
            cable = house.record.cables.get(tag)
            if cable is None:
                continue
            for conductor in cable.data["conductors"]:
                for side, place in cable.data["sides"].items():
                    if place is at or at is None:
                        yield role_of(conductor), house.ends[conductor.tag, side]
