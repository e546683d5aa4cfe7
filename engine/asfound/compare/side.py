"""One of two records that are compared: its items by identity, where every conductor ends, and who saw what when."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from typing import Any

from asfound.record.facts import Fact, Item
from asfound.record.model import Record, Visit
from asfound.trace import Installation

TAGGED = ("panel", "breaker", "box", "device", "cable", "joint")
"""Kinds of item that a person tags; all others follow from these or are listed."""

_NAMED = (*TAGGED, "conductor", "terminal", "net", "circuit")

Hold = tuple[str, ...]
"""What holds an end of a conductor: ("joint", tag), ("terminal", device tag, name), ("landing", panel tag, spot) or
("state", word ...)."""


@dataclass(slots=True)
class Side:
    """An installation seen as one side of a comparison.

    `items` is by identity, `holds` by end: what holds it, absent where the
    record does not say. `held` is the other way round. `by_tag` gives the
    identities of everything called by a tag. `other_era` holds what the other
    record says was not there in its own time, by identity, with the statement.
    """

    installation: Installation
    items: dict[str, Item] = field(default_factory=dict)
    holds: dict[Item, Hold] = field(default_factory=dict)
    held: dict[Hold, list[Item]] = field(default_factory=dict)
    by_tag: dict[str, list[str]] = field(default_factory=dict)
    other_era: dict[str, Statement] = field(default_factory=dict)

    @property
    def record(self) -> Record:
        return self.installation.record

    def tagged(self, kind: str) -> dict[str, Item]:
        """The items of a kind that a person tagged, by tag."""
        record = self.record
        if kind == "breaker":
            return {item.tag: item for item in record.breakers.values()}
        found: dict[str, Item] = getattr(record, {"box": "boxes"}.get(kind, f"{kind}s"))
        return found

    def last_visit(self) -> Visit | None:
        """The newest visit of the record; None when it lists none."""
        return max(self.record.visits.values(), key=lambda visit: visit.on, default=None)


@dataclass(frozen=True, slots=True)
class Statement:
    """What a record says of the coming or going of a thing: in words, with its line, by whom and when."""

    words: str
    line: int
    by: str = ""
    on: str = ""


def side_of(installation: Installation) -> Side:
    """One side of a comparison from a traced record."""
    made = Side(installation)
    for kind, items in installation.items.items():
        for item in items:
            made.items[item.identity] = item
            if kind in _NAMED:
                made.by_tag.setdefault(item.tag, []).append(item.identity)
    for end, hold in _holds(installation.record):
        made.holds[end] = hold
        made.held.setdefault(hold, []).append(end)
    return made


def _holds(record: Record) -> Iterator[tuple[Item, Hold]]:
    spots = {(conductor, panel): spot for conductor, panel, spot in record.landings}
    terminals = {f"{device} {name}": ("terminal", device, name) for device, name in record.terminals}
    for end in record.ends:
        state: Fact = end.data["state"]
        if not state.values:
            continue
        if state.values == ("spliced",):
            yield end, ("joint", state.written.removeprefix("joint "))
        elif state.written in terminals and state.values == ("landed",):
            yield end, terminals[state.written]
        elif state.values == ("landed",):
            panel = state.written.removeprefix("panel ")
            yield end, ("landing", panel, spots[end.data["conductor"], panel])
        else:
            yield end, ("state", *map(str, state.values))


def conductors_of(item: Item) -> tuple[Item, ...]:
    """The conductors that an item is, holds or lets through."""
    if item.kind == "conductor":
        return (item,)
    if item.kind == "end":
        return (item.data["conductor"],)
    held = item.data.get("conductors", ())
    found: list[Item] = [one for one in held if isinstance(one, Item)] if isinstance(held, tuple) else []
    for name in ("passing", "looped", "lugs"):
        more = item.data.get(name, ())
        found += [one for one in more if isinstance(one, Item)] if isinstance(more, tuple) else []
    return tuple(dict.fromkeys(found))


def holder_of(item: Item) -> Item | None:
    """The tagged thing that an item is a part of; None for a thing of its own."""
    for kind, name in (("conductor", "cable"), ("terminal", "device"), ("breaker", "panel")):
        if item.kind == kind:
            found: Item = item.data[name]
            return found
    if item.kind == "end":
        cable: Item = item.data["conductor"].data["cable"]
        return cable
    return None


def related_items(value: Any) -> Iterable[Item]:
    """The items in a value, which may be one, a tuple with some, or none."""
    if isinstance(value, Item):
        return (value,)
    return (one for one in value if isinstance(one, Item)) if isinstance(value, tuple) else ()
