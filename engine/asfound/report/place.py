"""Where a thing is, for somebody who walks there: box, panel, or run of cable."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

from asfound.record.facts import Fact, Item
from asfound.trace import Installation
from asfound.wording import natural

PANELS, PLACES, RUNS, PAPERS = range(4)
"""Order in a document: panels first, then boxes and open places, then runs of cable, then what was written down."""
WRITTEN = "The record itself: log, readings, labels, photographs"
SITE = "The site as a whole"


@dataclass(frozen=True, slots=True)
class Place:
    """One place of a document; places sort by room, then by name."""

    order: int
    name: str
    room: str = ""
    tag: str = ""

    @property
    def key(self) -> tuple[object, ...]:
        return self.order, self.room == "", self.room, natural(self.name)


_PAPER = Place(PAPERS, WRITTEN)


class Places:
    """Finds the place of each item of an installation."""

    def __init__(self, installation: Installation) -> None:
        self.items = {item.identity: item for items in installation.items.values() for item in items}

    def of(self, identity: str) -> Place:
        """The place of an item by its identity; the record itself when it is nowhere."""
        item = self.items.get(identity)
        return _PAPER if item is None else self.where(item)

    def where(self, item: Item) -> Place:
        """The place of an item."""
        found = _HOLDER.get(item.kind)
        if item.kind == "box":
            return _box(item)
        if item.kind in ("panel", "breaker"):
            panel = item if item.kind == "panel" else item.data["panel"]
            return Place(PANELS, panel.words, tag=panel.tag)
        if item.kind == "cable":
            return _run(item)
        if item.kind == "site":
            return Place(PANELS, SITE)
        if item.kind == "reading":
            return next(map(self.where, read_at(item)), _PAPER)
        if found is None:
            return _PAPER
        for name in found:
            for one in items_in(item.data.get(name)):
                return self.where(one)
        where = item.data.get("where")
        if isinstance(where, str) and where:
            return Place(PLACES, where, tag=item.tag)
        return Place(PLACES, item.words, tag=item.tag) if item.kind == "device" else _PAPER


_HOLDER = {
    "joint": ("box",),
    "device": ("box",),
    "end": ("boxes", "conductor"),
    "conductor": ("cable",),
    "terminal": ("device",),
    "net": ("joints", "conductors", "boxes"),
    "circuit": ("breakers",),
    "probe": ("devices", "boxes"),
    "entry": ("conductors",),
    "claim": ("conductors",),
    "contradiction": ("conductors",),
}
"""For each kind of item, the items that tell where it is, the nearest first."""


def read_at(reading: Item) -> list[Item]:
    """Where a reading was taken, boxes and devices before conductors; a bar or earth is nowhere."""
    held = [point for point in reading.data["points"] if point is not None and point[0] in _NEAR]
    held.sort(key=lambda point: _NEAR.index(point[0]))
    return [one[0] if sort == "terminal" else one for sort, one in held]


_NEAR = ("box", "device", "terminal", "conductor", "breaker", "panel")


def items_in(held: Any) -> Iterable[Item]:
    """The items that a datum of an item holds: one, several, or those in the values of a fact."""
    if isinstance(held, Item):
        return (held,)
    if isinstance(held, Fact):
        return (one for value in held.values for one in (value if isinstance(value, tuple) else ()) if _is_item(one))
    return (one for one in held if _is_item(one)) if isinstance(held, tuple) else ()


def _is_item(one: Any) -> bool:
    return isinstance(one, Item)


def _box(box: Item) -> Place:
    room = box.data.get("room")
    return Place(PLACES, box.words, str(room.value) if isinstance(room, Fact) and room.values else "", box.tag)


def _run(cable: Item) -> Place:
    return Place(RUNS, cable.words, tag=cable.tag)
