"""What a rule sees: items whose facts have one value each, with every read noted.

A view looks like a plain object. Reading a fact gives its value in the world
being run; reading a fact that was not seen ends the run there. A view cannot
be written to.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from asfound.data import data
from asfound.record.facts import ASSUMED, EXACT, LISTED, UNSEEN, WEAK, Fact, Item, unseen
from asfound.wording import nearest

__all__ = ["Gap", "Missing", "NotHere", "Read", "Run", "View", "facts_of", "observation"]

Read = tuple[Item, str, Fact]


class Missing(Exception):
    """A fact that the rule needs was not seen; ends the run of this world."""

    def __init__(self, item: Item, name: str, fact: Fact) -> None:
        self.item = item
        self.name = name
        self.fact = fact
        super().__init__(f"{name} of {item.words} was not seen")


class Gap(Exception):
    """A table has no row for what was asked, or no edition for the date."""


class NotHere(Exception):
    """The rule's condition is absent; raised by `only_if`."""


def facts_of(kind: str) -> dict[str, Any]:
    """The catalogue entry of every fact of an item kind. Raises `KeyError` for an unknown kind."""
    found: dict[str, Any] = data("facts")[kind]["facts"]
    return found


def observation(kind: str, name: str) -> str:
    """What to do to see a fact; empty when the catalogue says nothing."""
    return str(facts_of(kind).get(name, {}).get("observe", "")) if kind in data("facts") else ""


class Run:
    """One run of a rule in one world. `choices` fixes the index of doubtful facts by `id`."""

    __slots__ = ("choices", "open", "reads", "rows")

    def __init__(self, choices: dict[int, int]) -> None:
        self.choices = choices
        self.reads: list[Read] = []
        self.open: dict[int, Fact] = {}  # doubtful facts read and not fixed, in the order of reading
        self.rows: dict[tuple[str, str], Any] = {}

    def resolve(self, item: Item, name: str, fact: Fact) -> Any:
        """The value of a doubtful fact in this world; raises `Missing` when it was not seen."""
        kind = fact.kind
        if kind is UNSEEN or not fact.values:
            raise Missing(item, name, fact)
        number = id(fact)
        index = self.choices.get(number)
        if index is None:
            index = 0
            if len(fact.values) > 1:
                self.open[number] = fact
        return fact.values[index]

    def absent(self, item: Item, name: str) -> Any:
        """A fact the record does not hold: not recorded, or a name that no item of the kind has."""
        names = facts_of(item.kind)
        if name not in names:
            guess = nearest(name, [*names, "tag"])
            hint = f"; did you mean {guess!r}" if guess else f"; facts: {', '.join(names)}"
            raise AttributeError(f"no fact named {name!r} on a {item.kind}{hint}")
        if str(names[name]["is"]).startswith("items "):
            return ()
        fact = unseen("not recorded", place=item.place)
        self.reads.append((item, name, fact))
        raise Missing(item, name, fact)


class View:
    """An item as a rule sees it in one world."""

    __slots__ = ("_item", "_run")

    _item: Item
    _run: Run

    def __getattr__(self, name: str) -> Any:
        item = _get_item(self)
        try:
            held = item.data[name]
        except KeyError:
            return _get_run(self).absent(item, name)
        kind = held.__class__
        run = _get_run(self)
        if kind is Fact:
            run.reads.append((item, name, held))
            value = held.values[0] if held.kind is EXACT else run.resolve(item, name, held)
            if value.__class__ is tuple and value and value[0].__class__ is Item:
                return tuple([view(one, run) for one in value])
            return value
        if kind is tuple:
            return tuple([view(one, run) for one in held])
        if kind is Item:
            return view(held, run)
        return held

    @property
    def tag(self) -> str:
        return _get_item(self).tag

    @property
    def kind_of_item(self) -> str:
        return _get_item(self).kind

    @property
    def words(self) -> str:
        """The item in a sentence: `cable W1, panel A to hall`."""
        return _get_item(self).words

    def __setattr__(self, name: str, value: Any) -> None:
        raise AttributeError(f"a rule may not write to the record ({name} of {self.words})")

    def __delattr__(self, name: str) -> None:
        raise AttributeError(f"a rule may not write to the record ({name} of {self.words})")

    def __eq__(self, other: object) -> bool:
        return isinstance(other, View) and _get_item(self) is _get_item(other)

    def __hash__(self) -> int:
        return id(_get_item(self))

    def __str__(self) -> str:
        return self.tag

    def __iter__(self) -> Iterator[Any]:
        raise TypeError(f"a {self.kind_of_item} is one item, not a list")


_get_item = View._item.__get__  # type: ignore[attr-defined,misc]
_get_run = View._run.__get__  # type: ignore[attr-defined,misc]
_set_item = View._item.__set__  # type: ignore[attr-defined,misc]
_set_run = View._run.__set__  # type: ignore[attr-defined,misc]
_new_view = View.__new__


def view(item: Item, run: Run) -> View:
    """A view of `item` in the world of `run`."""
    made = _new_view(View)
    _set_item(made, item)
    _set_run(made, run)
    return made


def item_of(seen: View) -> Item:
    """The item behind a view."""
    found: Item = _get_item(seen)
    return found


def run_of(seen: View) -> Run:
    """The run a view belongs to."""
    found: Run = _get_run(seen)
    return found


DOUBTFUL = (WEAK, LISTED, ASSUMED)
