"""What labels and the panel directory say, set beside what the trace and the readings show.

Linear in labels, breakers, devices and readings. A label names a breaker by
its tag (`A 3`), or in a record of one panel by its number (`circuit 3`, `#3`).
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Mapping
from functools import cache
from typing import Any

from asfound.data import data
from asfound.record.colours import is_ground, is_white
from asfound.record.facts import EXACT, NOT_RECORDED, WEAK, Fact, Item, exact, unseen
from asfound.record.model import Record
from asfound.trace.measured import is_reference
from asfound.trace.nets import Net, Terminal, by_tag
from asfound.trace.proof import LIVE_V
from asfound.trace.reach import Traced

_DEAD = re.compile(
    r"\b(dead(?![ -]?(end|front|bolt|man))|not live|de-?energi[sz]ed|abandoned|disconnected|"
    r"no power|not in use|out of use)\b",
    re.IGNORECASE,
)
_UNSURE = re.compile(r"\b(not|never|no longer|until|unless|before|if|when|test|prove)\b[^.;,]*\Z", re.IGNORECASE)
_OFF = re.compile(r"\A\W*off\b|\b(is|are|breaker|circuit|power|locked) off\b", re.IGNORECASE)
_NUMBERED = re.compile(
    r"(?:\b(?:breaker|circuit|ckt|cct|fuse|space|no\.?)|#)\s*([0-9]+[A-Za-z]?(?:/[0-9]+)*)", re.IGNORECASE
)
_MOST_WORDS = 6
"""Words in a row that are looked up as the tag of a breaker."""


# -- labels


def labels(record: Record) -> list[Item]:
    """One item for each label: what it is on, what it says of breakers and of being dead, and what contradicts it."""
    listed = record.document.root.get("labels") or ()
    if not listed:
        return []
    things = _things(record)
    breakers = _breaker_names(record)
    seen_live = _seen_live(record)
    found = []
    for number, held in enumerate(listed):
        on = str(held["on"])
        words = f"label {number + 1} on {on}"
        item = Item("label", f"{number + 1} on {on}", words, held.place, held.get("visit", ""))
        says = str(held["says"])
        about: dict[str, Any] = {"written": says, "place": held.places["says"]}
        kind, thing = things.get(on, ("other", None))
        item.data.update(
            on=on,
            on_kind=exact(kind, written=on, place=held.places["on"]),
            says=exact(says, **about),
            names_breakers=exact(tuple(_named(record, says, breakers)), **about),
            names_dead=exact(_says_dead(says), **about),
            names_off=exact(_OFF.search(says) is not None, **about),
            fed_by=_feeds(kind, thing),
            live_readings=tuple(_since(record, held, seen_live.get(thing, ()))) if thing is not None else (),
        )
        found.append(item)
    return found


def claimed(
    record: Record, net_of: Mapping[Item, Net], by_terminal: Mapping[Terminal, Net]
) -> dict[int, list[tuple[str, Item]]]:
    """Labels that name a breaker, with it, by the net of what they are on: claims to be tested.

    On a cable they speak of its conductors that are neither white nor for grounding, on a device of its live terminals.
    """
    listed = record.document.root.get("labels") or ()
    if not listed:
        return {}
    breakers, things = _breaker_names(record), _things(record)
    found: dict[int, list[tuple[str, Item]]] = {}
    for number, held in enumerate(listed, 1):
        named = _named(record, str(held["says"]), breakers)
        kind, thing = things.get(str(held["on"]), ("other", None))
        for net in dict.fromkeys(net.number for net in _nets_of(kind, thing, net_of, by_terminal)) if named else ():
            found.setdefault(net, []).extend((f"label {number} on {held['on']}", breaker) for breaker in named)
    return found


def _nets_of(kind: str, thing: Any, net_of: Mapping[Item, Net], by_terminal: Mapping[Terminal, Net]) -> Iterator[Net]:
    if kind == "conductor":
        yield net_of[thing]
    elif kind == "cable":
        yield from (net_of[one] for one in thing.data["conductors"] if not is_white(one) and not is_ground(one))
    elif kind == "joint":
        yield from (net_of[one] for one in thing.data["conductors"][:1])
    elif kind == "device":
        yield from (net for (device, name), net in by_terminal.items() if device is thing and name not in _RETURNS)


_RETURNS = ("neutral", "load_neutral", "ground")


def _says_dead(says: str) -> bool:
    """Whether a label calls something dead, and does not say that it is not, or only when it is."""
    return any(_UNSURE.search(says[: match.start()]) is None for match in _DEAD.finditer(says))


def _things(record: Record) -> dict[str, tuple[str, Item]]:
    """Kind and item of everything a label can be on, by tag."""
    found: dict[str, tuple[str, Item]] = {c.tag: ("conductor", c) for c in record.conductors}
    for section in (record.joints, record.boxes, record.devices, record.cables, record.panels):
        found.update((tag, (item.kind, item)) for tag, item in section.items())
    found.update((item.tag, ("breaker", item)) for item in record.breakers.values())
    found.update((" ".join(pole), ("breaker", breaker)) for pole, (breaker, _) in record.poles.items())
    return found


def _feeds(kind: str, thing: Item | None) -> Fact:
    """The breakers that reach what a label is on; not seen where none is traced."""
    if thing is None or kind in ("panel", "breaker"):
        return NOT_RECORDED
    if kind == "joint":
        conductors = thing.data["conductors"]
        return conductors[0].data["breakers"] if conductors else NOT_RECORDED
    held: Fact = thing.data.get("breakers", NOT_RECORDED)
    if kind != "conductor" and held.kind == EXACT and not held.value:
        return unseen("not traced to a breaker", place=held.place)
    return held


def _breaker_names(record: Record) -> dict[str, Item]:
    """Every way of naming a breaker in full: by all its spaces or one of them, with a blank, a dash or nothing."""
    found: dict[str, Item] = {}
    spaces = [*record.breakers.items(), *((pole, breaker) for pole, (breaker, _) in record.poles.items())]
    for (panel, space), breaker in spaces:
        for between in (" ", "-", ""):
            found.setdefault(f"{panel}{between}{space}", breaker)
    return found


def _named(record: Record, says: str, breakers: dict[str, Item]) -> Iterable[Item]:
    words = [word.strip(".,;:()!\"'") for word in says.split()]
    found: dict[Item, None] = {}
    for start in range(len(words)):
        for end in range(start + 1, min(start + _MOST_WORDS, len(words)) + 1):
            breaker = breakers.get(" ".join(words[start:end]))
            if breaker is not None:
                found[breaker] = None
    if len(record.panels) == 1:
        panel = next(iter(record.panels))
        for number in _NUMBERED.findall(says):
            breaker = breakers.get(f"{panel} {number}")
            if breaker is not None:
                found[breaker] = None
    return found


def _seen_live(record: Record) -> dict[Item, list[Item]]:
    """Readings that show a conductor, its cable or a device live: to a reference, or across the thing itself."""
    found: dict[Item, dict[Item, None]] = {}
    for reading in record.readings:
        volts = reading.data.get("volts")
        points = [point for point in reading.data["points"] if point is not None]
        if not isinstance(volts, Fact) or not volts.values or min(volts.values) < LIVE_V or len(points) != 2:
            continue
        for here, there in (points, reversed(points)):
            if is_reference(here):
                continue
            things = _thing_at(here)
            if is_reference(there) or things & _thing_at(there):
                for thing in things:
                    found.setdefault(thing, {})[reading] = None
    return {thing: list(readings) for thing, readings in found.items()}


def _thing_at(point: tuple[str, Any]) -> set[Item]:
    sort, held = point
    if sort == "conductor":
        return {held, held.data["cable"]}
    if sort == "terminal":
        return {held[0]}
    return {held} if sort == "joint" else set()


def _since(record: Record, label: Any, readings: Iterable[Item]) -> Iterator[Item]:
    """Readings that are not older than a label; all of them when it was found there."""
    put_on = "" if label.get("found") is True else _when(record, label.get("at", ""), label.get("visit", ""))
    for reading in readings:
        at = _when(record, reading.data["at"], reading.visit)
        if label.get("found") is True or (put_on and at and at >= put_on):
            yield reading


def _when(record: Record, at: str, visit: str) -> str:
    """Date and time; empty when the day is not known."""
    moment = record.moment(at, visit)
    return moment if " " in moment else ""


# -- the panel directory


def add_directory(sides: Traced) -> None:
    """For each breaker, what its directory entry names plainly and only other breakers feed: `named_elsewhere`."""
    record = sides.record
    devices_in_order = by_tag(record.devices.values())
    by_kind, by_room = _gathered(devices_in_order, "kind"), _gathered(devices_in_order, "room")
    feeders = {breaker for panel in record.panels.values() for breaker in panel.data["feeder"]}
    open_ended = _open_ended(sides)
    kept: dict[int, Found] = {}
    for breaker in record.breakers.values():
        label, devices = breaker.data.get("label", NOT_RECORDED), breaker.data["devices"]
        if len(label.values) != 1 or not devices or breaker in feeders:
            continue
        kinds, rooms = _entry(str(label.value))
        groups = [by_kind[kind] for kind in kinds if kind in by_kind] + [by_room[r] for r in rooms if r in by_room]
        if not groups:
            continue
        if id(devices) not in kept:
            kept[id(devices)] = _found_on(devices)
        kinds_here, rooms_here, kind_unknown, room_unknown = kept[id(devices)]
        if not (kinds_here.isdisjoint(kinds) and rooms_here.isdisjoint(rooms)) or any(
            breaker in fed for _, fed, _ in groups
        ):
            continue
        unknown = kind_unknown or (room_unknown if rooms else None)
        breaker.data["named_elsewhere"] = _elsewhere(breaker, label, groups, unknown, breaker in open_ended)


Group = tuple[list[Item], set[Item], str]
"""A few devices of one kind or in one room, the breakers that feed all of them, and one that is not traced, if any."""
Found = tuple[set[Any], set[Any], Fact | None, Fact | None]
"""Kinds and rooms of the devices on a circuit, and what is not known of the kind and of the room of one of them."""
_FEW = 3


def _gathered(devices_in_order: Iterable[Item], name: str) -> dict[str, Group]:
    found: dict[str, Group] = {}
    for device in devices_in_order:
        fact = device.data.get(name, NOT_RECORDED)
        if len(fact.values) != 1:
            continue
        devices, fed, lost = found.get(fact.value, ([], set(), ""))
        breakers = device.data["breakers"]
        if breakers.kind == EXACT:
            fed.update(breakers.value)
            if breakers.value and len(devices) < _FEW:
                devices.append(device)
        else:
            lost = lost or device.tag
        found[fact.value] = devices, fed, lost
    return found


def _found_on(devices: Iterable[Item]) -> Found:
    kinds: set[Any] = set()
    rooms: set[Any] = set()
    kind_unknown: Fact | None = None
    room_unknown: Fact | None = None
    for device in devices:
        kind, room = device.data.get("kind", NOT_RECORDED), device.data.get("room", NOT_RECORDED)
        kinds.update(kind.values)
        rooms.update(room.values)
        if not kind.values and kind_unknown is None:
            kind_unknown = unseen(f"kind of {device.tag}: {kind.note}", place=device.place)
        if not room.values and room_unknown is None:
            room_unknown = unseen(f"room of {device.tag}: {room.note}", place=device.place)
    return kinds, rooms, kind_unknown, room_unknown


def _elsewhere(breaker: Item, label: Fact, groups: list[Group], unknown: Fact | None, open_ended: bool) -> Fact:
    devices = tuple(device for group, _, _ in groups for device in group)
    lost = next((lost for _, _, lost in groups if lost), "")
    if not devices:
        return exact((), note="nothing that it names is traced to another breaker", place=breaker.place)
    if lost:
        return unseen(f"{lost} is not traced to its breaker", place=breaker.place)
    if open_ended:
        return unseen(f"the wiring of {breaker.tag} is not traced to its end", place=breaker.place)
    if unknown is not None:
        return unknown
    kind = EXACT if label.kind == EXACT else WEAK
    return label.restated(kind, (devices,), "as traced")


def _open_ended(sides: Traced) -> set[Item]:
    """Breakers with wiring that can go on to what nobody recorded."""
    reached = {id(poles): poles for net in sides.nets if net.open and (poles := sides.reach.poles[net.number])}
    return {sides.record.poles[pole][0] for poles in reached.values() for pole in poles}


def _entry(label: str) -> tuple[list[str], list[str]]:
    """Kinds of devices and of rooms that a directory entry names, each once, in the order of the list of words."""
    words = data("directory_words")
    kinds = dict.fromkeys(kind for pattern, named in _patterns() if pattern.search(label) for kind in named)
    rooms = dict.fromkeys(room for word, room in words["rooms"].items() if _word(word).search(label))
    return list(kinds), list(rooms)


@cache
def _patterns() -> list[tuple[re.Pattern[str], list[str]]]:
    found = []
    for word, held in data("directory_words")["kinds"].items():
        unless = "|".join(held.get("unless", ()))
        after = rf"(?!\s+({unless})s?\b)" if unless else ""
        found.append((re.compile(rf"(?<!\w){re.escape(word)}(?!\w){after}", re.IGNORECASE), held["kinds"]))
    return found


@cache
def _word(word: str) -> re.Pattern[str]:
    return re.compile(rf"(?<!\w){re.escape(word)}(?!\w)", re.IGNORECASE)
