"""Where a thing is, for somebody who walks there: box, panel, or run of cable."""

from __future__ import annotations

from dataclasses import dataclass

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


class Places:
    """Finds the place of each item of an installation."""

    def __init__(self, installation: Installation) -> None:
        self.items = {item.identity: item for items in installation.items.values() for item in items}

    def of(self, identity: str) -> Place:
        """The place of an item by its identity; the record itself when it is nowhere."""
        item = self.items.get(identity)
        return Place(PAPERS, WRITTEN) if item is None else self.where(item)

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
        if found is None:
            return Place(PAPERS, WRITTEN)
        for name in found:
            held = item.data.get(name)
            for one in held if isinstance(held, tuple) else (held,):
                if isinstance(one, Item):
                    return self.where(one)
        where = item.data.get("where")
        if isinstance(where, str) and where:
            return Place(PLACES, where, tag=item.tag)
        return Place(PLACES, item.words, tag=item.tag) if item.kind == "device" else Place(PAPERS, WRITTEN)


_HOLDER = {
    "joint": ("box",),
    "device": ("box",),
    "end": ("boxes", "conductor"),
    "conductor": ("cable",),
    "terminal": ("device",),
    "net": ("joints", "conductors", "boxes"),
    "circuit": ("breakers",),
    "probe": ("devices", "boxes"),
}
"""For each kind of item, the items that tell where it is, the nearest first."""


def _box(box: Item) -> Place:
    room = box.data.get("room")
    return Place(PLACES, box.words, str(room.value) if isinstance(room, Fact) and room.values else "", box.tag)


def _run(cable: Item) -> Place:
    return Place(RUNS, cable.words, tag=cable.tag)
