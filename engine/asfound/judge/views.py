"""What a rule sees: items whose facts have one value each.

A view looks like a plain object and cannot be written to. There are two kinds.
A `Noted` view belongs to one run in one world: it gives each fact the value it
has there and notes every read. A `Plain` view holds certain facts only, so
that a rule which finds nothing costs little; any other read ends the run.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from asfound.data import data
from asfound.names import Names
from asfound.record.facts import EXACT, NOT_RECORDED, UNSEEN, Fact, Item, unseen

__all__ = [
    "Doubtful", "Gap", "Missing", "NotHere", "Noted", "Plain", "Read", "Run", "View", "facts_of", "item_of",
    "left_out", "observation", "plain", "related", "run_of", "view",
]  # fmt: skip

Read = tuple[Item, str, Fact]


class Missing(Exception):
    """A fact that the rule needs was not seen; ends the run of this world.

    Its run counts it, so that one which a rule swallows is missing all the same;
    `forgive` takes it back, where the answer does not hang on it.
    """

    def __init__(self, item: Item, name: str, fact: Fact, run: Run | None = None) -> None:
        self.item = item
        self.name = name
        self.fact = fact
        self.run = run
        self.number = -1 if run is None else run.miss(item, name, fact)
        super().__init__(f"{name} of {item.words} was not seen")

    def forgive(self) -> None:
        if self.run is not None:
            del self.run.misses[self.number]


class Gap(Exception):
    """A table has no row for what was asked, or no edition for the date."""


class NotHere(Exception):
    """The rule's condition is absent; raised by `only_if`."""


class Doubtful(BaseException):
    """A plain view was asked for what is not certain. Not an `Exception`, so that no rule catches it by accident."""


def facts_of(kind: str) -> dict[str, Any]:
    """The catalogue entry of every fact of an item kind. Raises `KeyError` for an unknown kind."""
    found: dict[str, Any] = data("facts")[kind]["facts"]
    return found


def observation(kind: str, name: str) -> str:
    """What to do to see a fact; empty when the catalogue says nothing."""
    return str(facts_of(kind).get(name, {}).get("observe", "")) if kind in data("facts") else ""


def left_out(item: Item, name: str) -> bool:
    """Whether the record simply does not speak of this fact, as against one that could not be seen for a reason."""
    held = item.data.get(name, NOT_RECORDED)
    return isinstance(held, Fact) and held.kind == UNSEEN and held.note == NOT_RECORDED.note


class Run:
    """One run of a rule in one world. `choices` fixes the index of doubtful facts by `id`."""

    __slots__ = ("choices", "missed", "misses", "open", "reads", "rows")

    def __init__(self, choices: dict[int, int]) -> None:
        self.choices = choices
        self.reads: list[Read] = []
        self.open: dict[int, Fact] = {}  # doubtful facts read and not fixed, in the order of reading
        self.rows: dict[tuple[str, str], Any] = {}
        self.misses: dict[int, Read] = {}  # reads that ended in `Missing`, less those forgiven
        self.missed = 0

    def resolve(self, item: Item, name: str, fact: Fact) -> Any:
        """The value of a doubtful fact in this world; raises `Missing` when it was not seen."""
        if fact.kind is UNSEEN or not fact.values:
            raise Missing(item, name, fact, self)
        number = id(fact)
        index = self.choices.get(number)
        if index is None:
            index = 0
            if len(fact.values) > 1:
                self.open[number] = fact
        return fact.values[index]

    def miss(self, item: Item, name: str, fact: Fact) -> int:
        """Note a read that ended in `Missing`; gives its number."""
        self.missed += 1
        self.misses[self.missed] = (item, name, fact)
        return self.missed

    def absent(self, item: Item, name: str) -> Any:
        """A fact the record does not hold: no related items, not recorded, or a name that no item of the kind has."""
        if related(item, name):
            return ()
        fact = unseen(NOT_RECORDED.note, place=item.place)
        self.reads.append((item, name, fact))
        return self.resolve(item, name, fact)


def related(item: Item, name: str) -> bool:
    """Whether `name` stands for related items. Raises `AttributeError` when items of this kind have no such fact."""
    names = facts_of(item.kind)
    if name not in names:
        hint = Names([*names, "tag"]).hint(name, "facts")
        raise AttributeError(f"no fact named {name!r} on a {item.kind}; {hint}")
    return str(names[name]["is"]).startswith("items ")


class View:
    """An item as a rule sees it. Its facts by kind are in `asfound.items`, for type checkers and editors."""

    __slots__ = ("_item",)

    _item: Item
    tag: str
    words: str  # the item in a sentence: `cable W1, panel A to hall`
    kind_of_item: str

    def __setattr__(self, name: str, value: Any) -> None:
        raise AttributeError(f"a rule may not write to the record ({name} of {self._item.words})")

    def __delattr__(self, name: str) -> None:
        raise AttributeError(f"a rule may not write to the record ({name} of {self._item.words})")

    def __str__(self) -> str:
        return str(self._item.tag)

    def __iter__(self) -> Iterator[Any]:
        raise TypeError(f"a {self._item.kind} is one item, not a list")


_get_item = View._item.__get__  # type: ignore[attr-defined,misc]
_set_item = View._item.__set__  # type: ignore[attr-defined,misc]
_new = object.__new__


def item_of(seen: View) -> Item:
    """The item behind a view."""
    found: Item = _get_item(seen)
    return found


def _about(item: Item, name: str) -> Any:
    """What every view has besides the facts of its item; None for another name."""
    if name == "kind_of_item":
        return item.kind
    return getattr(item, name) if name in ("tag", "words") else None


class Noted(View):
    """A view that belongs to one run and notes what is read. Two of one item are equal."""

    __slots__ = ("_run",)

    _run: Run

    # Not __getattr__: every read comes here anyhow, and a lookup that has to fail first takes longer than the read.
    def __getattribute__(self, name: str) -> Any:
        item = _get_item(self)
        run = _get_run(self)
        held = item.data.get(name)
        if held.__class__ is Fact:
            run.reads.append((item, name, held))
            held = held.values[0] if held.kind is EXACT else run.resolve(item, name, held)
        elif held is None:
            if name[0] == "_":
                return object.__getattribute__(self, name)
            about = _about(item, name)
            return run.absent(item, name) if about is None else about
        elif name not in facts_of(item.kind):
            run.absent(item, name)  # what no catalogue names is no fact
        if held.__class__ is tuple and held and held[0].__class__ is Item:
            return tuple([view(one, run) for one in held])
        return view(held, run) if held.__class__ is Item else held

    def __eq__(self, other: object) -> bool:
        return isinstance(other, View) and _get_item(self) is _get_item(other)

    def __hash__(self) -> int:
        return id(_get_item(self))


_get_run = Noted._run.__get__  # type: ignore[attr-defined,misc]
_set_run = Noted._run.__set__  # type: ignore[attr-defined,misc]


def view(item: Item, run: Run) -> Noted:
    """A view of `item` in the world of `run`."""
    made: Noted = _new(Noted)
    _set_item(made, item)
    _set_run(made, run)
    return made


def run_of(seen: View) -> Run:
    """The run that a view belongs to. Raises `TypeError` for a view that belongs to none."""
    found: Run = _get_run(seen)
    return found


class Plain(View):
    """A view of certain facts, one for each item and kept. What is certain is a plain attribute of it."""

    __slots__ = ("__dict__", "_all")

    _all: dict[Item, Plain]

    def __getattr__(self, name: str) -> Any:
        """What is not there yet: related items, which are kept from then on. For what is not certain `Doubtful`."""
        item = self._item
        held = item.data.get(name)
        if held is None:
            held = _about(item, name)
            if held is None:
                if name not in facts_of(item.kind) or not related(item, name):
                    raise Doubtful
                held = ()
        elif held.__class__ is Fact:
            if held.kind is not EXACT:
                raise Doubtful
            held = held.values[0]
        elif name not in facts_of(item.kind):
            raise Doubtful
        if held.__class__ is tuple and held and held[0].__class__ is Item:
            held = tuple([plain(one, self._all) for one in held])
        elif held.__class__ is Item:
            held = plain(held, self._all)
        self.__dict__[name] = held
        return held


_set_all = Plain._all.__set__  # type: ignore[attr-defined]
_set_dict = Plain.__dict__["__dict__"].__set__


def plain(item: Item, everyone: dict[Item, Plain]) -> Plain:
    """The plain view of `item`; `everyone` keeps those made so far."""
    made = everyone.get(item)
    if made is None:
        made = everyone[item] = _new(Plain)
        _set_item(made, item)
        _set_all(made, everyone)
        certain = {
            name: fact.values[0]
            for name, fact in item.data.items()
            if fact.__class__ is Fact and fact.kind is EXACT and fact.values[0].__class__ is not tuple
        }
        _set_dict(made, certain)
    return made
