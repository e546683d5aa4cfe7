"""Facts and items: the two things everything above the record is made of."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, Final

from asfound.data import data
from asfound.load.values import Place

EXACT: Final = "exact"  # seen or measured, one value
WEAK: Final = "weak"  # one stated value, weakly known; its neighbours are possible
LISTED: Final = "listed"  # a person listed what it can be; no value is preferred
ASSUMED: Final = "assumed"  # a list that follows from what is not known, not from a person
UNSEEN: Final = "not seen"  # no value


class Fact:
    """One value in the record, or one that follows from the trace, with what is known of it.

    `values` holds what it can be, the stated value first; empty when not seen.
    `written` is the text as it stands in the record. `note` says how a traced
    value came about, or why a value was not seen; it may be a function, called
    only when somebody asks.
    """

    __slots__ = ("by", "how", "kind", "label", "note_source", "place", "values", "visit", "written")

    def __init__(
        self,
        kind: str,
        values: tuple[Any, ...],
        *,
        written: str = "",
        place: Place | None = None,
        how: str = "as written",
        by: str = "",
        visit: str = "",
        note: str | Callable[[], str] = "",
        label: str = "",
    ) -> None:
        self.kind = kind
        self.values = values
        self.written = written
        self.place = place
        self.how = how
        self.by = by
        self.visit = visit
        self.note_source = note
        self.label = label

    @property
    def note(self) -> str:
        source = self.note_source
        return source if isinstance(source, str) else source()

    @property
    def value(self) -> Any:
        """The stated value. Raises `IndexError` when the fact was not seen."""
        return self.values[0]

    def restated(self, kind: str, values: tuple[Any, ...], note: str | Callable[[], str] | None = None) -> Fact:
        """Another fact with the evidence of this one: same text, place, way of knowing and witness."""
        return Fact(
            kind, values, written=self.written, place=self.place, how=self.how, by=self.by, visit=self.visit,
            note=self.note_source if note is None else note,
        )  # fmt: skip

    def __repr__(self) -> str:
        return f"Fact({self.kind}, {self.values!r})"


class Item:
    """One thing at the site. `data` holds facts, related items and tuples of items, by name.

    `was` are the tags it had in earlier records.
    """

    __slots__ = ("data", "kind", "place", "tag", "visit", "was", "words")

    def __init__(
        self, kind: str, tag: str, words: str, place: Place | None = None, visit: str = "", was: tuple[str, ...] = ()
    ) -> None:
        self.kind = kind
        self.tag = tag
        self.words = words
        self.place = place
        self.visit = visit
        self.was = was
        self.data: dict[str, Any] = {}

    @property
    def identity(self) -> str:
        """Stable name of the item: its kind and the person's own tag."""
        return f"{self.kind} {self.tag}"

    def __repr__(self) -> str:
        return f"<{self.identity}>"


def unseen(reason: str, **more: Any) -> Fact:
    """A fact without a value, with the reason."""
    return Fact(UNSEEN, (), note=reason, **more)


def exact(value: Any, **more: Any) -> Fact:
    """A fact with one value that was observed or follows from what was."""
    return Fact(EXACT, (value,), **more)


NOT_RECORDED: Final = unseen("not recorded")


def strength(how: str) -> str:
    """`observed` or `weak`, by the data file of ways of knowing."""
    return str(data("ways")["ways"].get(how, "weak"))


def neighbours(name: str, value: Any, how: str) -> tuple[Any, ...]:
    """The other values that a weak way of knowing leaves open for the fact `name`."""
    rule = data("ways")["neighbours"].get("gauge" if name == "ground_gauge" else name)
    if rule is None:
        return ()
    if "ladder" in rule:
        ladder = rule["ladder"]
        steps = rule["steps"].get(how, 0)
        if value not in ladder:
            return ()
        at = ladder.index(value)
        return tuple(ladder[i] for i in range(max(0, at - steps), min(len(ladder), at + steps + 1)) if i != at)
    if how not in rule["ways"]:
        return ()
    return tuple(other for group in rule["groups"] if value in group for other in group if other != value)
