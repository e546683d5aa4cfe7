"""The record itself: every item a file speaks of, and how they are connected as written."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

from asfound.load.values import Document, Place
from asfound.record.facts import Item


@dataclass(frozen=True, slots=True)
class Entry:
    """One log entry as written: what was done to which tags, to what state, with which readings, on which visit."""

    number: int
    at: str
    did: str
    what: tuple[str, ...]
    to: str
    by: str
    readings: tuple[str, ...]
    place: Place
    visit: str = ""

    @property
    def words(self) -> str:
        """`log entry 3 at 10:05`."""
        return f"log entry {self.number}{f' at {self.at}' if self.at else ''}"


@dataclass(frozen=True, slots=True)
class Visit:
    """One visit: when, by whom, with what scope; `not_looked_at` pairs a thing with its reason."""

    tag: str
    on: str
    by: str
    purpose: str
    scope: str
    not_looked_at: tuple[tuple[str, str], ...]


@dataclass(slots=True)
class Record:
    """Everything a file says, as items. Lists keep file order.

    `breakers` is by panel tag and spaces as written (`5/7`), `poles` by panel
    tag and single space, with the breaker and the number of the pole in it.
    `joint_members`, `terminals` and `landings` are the connections, for the
    trace: what each joint holds, what lies under each terminal of a device, and
    which conductor lands on which pole or bar of which panel.
    """

    document: Document
    name: str
    invented: bool
    site: Item
    system: str
    visits: dict[str, Visit] = field(default_factory=dict)
    seen_on: str = ""  # the visit of everything that names none
    spare: set[str] = field(default_factory=set)  # tags of breakers on which nothing lands
    instruments: dict[str, str] = field(default_factory=dict)
    panels: dict[str, Item] = field(default_factory=dict)
    breakers: dict[tuple[str, str], Item] = field(default_factory=dict)
    poles: dict[tuple[str, str], tuple[Item, int]] = field(default_factory=dict)
    cables: dict[str, Item] = field(default_factory=dict)
    boxes: dict[str, Item] = field(default_factory=dict)
    joints: dict[str, Item] = field(default_factory=dict)
    devices: dict[str, Item] = field(default_factory=dict)
    readings: list[Item] = field(default_factory=list)
    log: list[Entry] = field(default_factory=list)
    conductors: list[Item] = field(default_factory=list)
    ends: list[Item] = field(default_factory=list)
    joint_members: dict[str, list[tuple[str, Any]]] = field(default_factory=dict)
    terminals: dict[tuple[str, str], list[Item]] = field(default_factory=dict)
    landings: list[tuple[Item, str, str]] = field(default_factory=list)

    def visit_of(self, *tags: str) -> Visit | None:
        """The visit of a thing: the first of the tags that is one, else the visit of everything, else the only one."""
        for tag in (*tags, self.seen_on):
            if tag in self.visits:
                return self.visits[tag]
        return next(iter(self.visits.values())) if len(self.visits) == 1 else None

    def moment(self, at: str, visit: str) -> str:
        """A date and time; the day of its visit before a time that stands alone, when that day is known."""
        at = at.replace("T", " ")
        held = None if not at or " " in at else self.visit_of(visit)
        return at if held is None else f"{held.on} {at}"

    def count(self) -> dict[str, int]:
        """How many of each kind of thing the record holds."""
        return {
            "panels": len(self.panels),
            "breakers": len(self.breakers),
            "cables": len(self.cables),
            "conductors": len(self.conductors),
            "boxes": len(self.boxes),
            "joints": len(self.joints),
            "devices": len(self.devices),
            "readings": len(self.readings),
            "log entries": len(self.log),
        }
