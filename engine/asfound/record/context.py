"""What the builders of a record share: the document, the record so far, and what was found wrong."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from typing import Any, TypeGuard

from asfound.data import data
from asfound.load.values import Document, Map, Place, Problem, Seq, shown
from asfound.names import Names
from asfound.record.facts import ASSUMED, EXACT, LISTED, UNSEEN, Fact, Item, unseen
from asfound.record.forms import read_fact
from asfound.record.model import Record

NOWHERE = Place(0, 0)

State = tuple[Fact, Place]
Member = tuple[str, Any]
"""What a reference stands for: ("conductor", item), ("terminal", (device, name)), ("box", item) and the like."""


class Context:
    """The state of one build.

    `withheld` holds tags whose entry is there and has a form that could not be
    read; what refers to them is let pass, because their own problem is reported
    already. `lost` and `adrift` hold cables and devices whose place is not
    defined, so that one wrong tag is reported once and not for every wire.
    """

    def __init__(self, document: Document, record: Record, withheld: Iterable[str] = ()) -> None:
        self.document = document
        self.root = document.root
        self.record = record
        self.withheld = frozenset(withheld)
        self.problems: list[Problem] = []
        self.places: dict[str, Item] = {}  # what a cable can go to, by tag
        self.closed: dict[str, Fact] = {}  # by box tag: whether it is a box, not an open place
        self.conductors: dict[str, Item] = {}  # by reference, such as W1 black
        self.terminals: dict[str, tuple[Item, str]] = {}  # by reference, such as R1 hot
        self.sides: dict[str, dict[str, Item | None]] = {}  # by cable tag: where "from" and "to" are
        self.passed: dict[str, list[Item]] = {}  # by cable tag: boxes it goes through uncut
        self.used: dict[tuple[str, str], str] = {}  # conductor and side: the joint or terminal that takes it
        self.states: dict[tuple[str, str], State] = {}  # conductor and side: its state as written
        self.lost: set[str] = set()
        self.adrift: set[str] = set()
        self._names: dict[str, Names] = {}

    # -- reading

    def section(self, name: str) -> Map:
        """The named part of the record; empty when it is not there."""
        held = self.root.get(name)
        return held if isinstance(held, Map) else Map(NOWHERE)

    def listed(self, name: str) -> Seq:
        """The named list of the record; empty when it is not there."""
        held = self.root.get(name)
        return held if isinstance(held, Seq) else Seq(NOWHERE)

    def item(self, kind: str, tag: str, words: str, place: Place, held: Any) -> Item:
        """A new item; the visit it names must be known."""
        visit = held.get("visit", "") if isinstance(held, Map) else ""
        if visit and visit not in self.record.visits:
            self.unknown(held.places["visit"], words, visit, self.names("visits"))
        photo = held.get("photo", "") if isinstance(held, Map) else ""
        if photo and photo not in self.names("photos"):
            self.unknown(held.places["photo"], words, photo, self.names("photos"))
        was = held.get("was", ()) if isinstance(held, Map) else ()
        return Item(kind, tag, words, place, visit, (was,) if isinstance(was, str) else tuple(was))

    def fact(self, holder: Map, key: str, name: str, item: Item, by: str = "") -> Fact:
        """The fact `name` of `item`, written at `key` of `holder` and seen by `by` when it does not say itself.

        A visit it names must be known.
        """
        fact = read_fact(holder, key, name, item.kind)
        if fact.visit and fact.visit not in self.record.visits:
            self.unknown(holder[key].places["visit"], f"{item.words}, {key}", fact.visit, self.names("visits"))
        if by and not fact.by and not fact.visit:
            fact.by = by
        return fact

    def take(self, item: Item, held: Map) -> None:
        """Take over the facts that the catalogue has for this kind of item, as they stand in the record."""
        facts = data("facts")[item.kind]["facts"]
        for name in held:
            if name in facts and not facts[name]["is"].startswith("item"):
                item.data[name] = self.fact(held, name, name, item, held.get("by", ""))

    # -- what was found wrong

    def problem(self, place: Place, where: str, cause: str, step: str) -> None:
        """Note one thing that is wrong: place, thing, cause, next step."""
        self.problems.append(Problem(place, shown(where, 100)[1:-1], cause, step))

    def unknown(self, place: Place, where: str, tag: str, known: Names | Iterable[str]) -> None:
        """Report a tag that is used and not defined, with the likely one; silent when its entry is withheld."""
        if self.is_withheld(tag):
            return
        names = known if isinstance(known, Names) else Names(known)
        self.problem(place, where, f"{shown(tag)} is used and not defined", names.hint(tag))

    def is_withheld(self, reference: str) -> bool:
        """Whether a reference speaks of an entry that is there but could not be read."""
        if not self.withheld:
            return False
        words = reference.split(" ")
        return any(" ".join(words[:cut]) in self.withheld for cut in range(1, len(words) + 1))

    def names(self, what: str) -> Names:
        """The names of one kind, for saying which one is meant. Ask only when the kind is complete."""
        if what not in self._names:
            self._names[what] = Names(_KNOWN[what](self))
        return self._names[what]


def _spaces(context: Context) -> Iterable[str]:
    return (f"{panel} {space}" for panel, space in context.record.breakers)


_KNOWN: dict[str, Callable[[Context], Iterable[str]]] = {
    "visits": lambda context: context.record.visits,
    "instruments": lambda context: context.record.instruments,
    "photos": lambda context: (held["file"] for held in context.listed("photos")),
    "boxes": lambda context: context.record.boxes,
    "cables": lambda context: context.record.cables,
    "sources": lambda context: [*_spaces(context), "supply"],
    "places": lambda context: context.places,
    "cable ends": lambda context: [*context.places, *_spaces(context)],
    "wired": lambda context: [*context.record.cables, *context.record.devices],
    "readings": lambda context: (reading.tag for reading in context.record.readings),
}


def given(fact: Any) -> TypeGuard[Fact]:
    """Whether a fact is there and has a value."""
    return isinstance(fact, Fact) and bool(fact.values)


def derived(source: Any, values: Callable[[Any], Any], reason: str) -> Fact:
    """A fact that follows from another, as surely known; not seen when that one was not."""
    if not isinstance(source, Fact):
        return unseen(reason)
    if source.kind == UNSEEN or not source.values:
        return unseen(reason, place=source.place, written=source.written)
    follow = tuple(dict.fromkeys(values(value) for value in source.values))
    settled = len(follow) == 1 and source.kind in (LISTED, ASSUMED)
    return source.restated(EXACT if settled else source.kind, follow)
