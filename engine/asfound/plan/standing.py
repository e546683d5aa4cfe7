"""How the breakers that a step names were left, and what on their circuits is graded hands off. Words only."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Mapping

from asfound.clean import clean
from asfound.record.facts import EXACT, Fact, Item
from asfound.survey import Survey
from asfound.trace.left import Left, ahead, left_off
from asfound.wording import joined, plural

MOST_DANGERS = 3
"""Findings that one sentence names; more are counted."""
MOST_TAGS = 8
LONGEST = 140
"""Characters of what is quoted from a finding or from the log."""
_HANDS_OFF = "hands off"
_CLAUSE = re.compile(r"[.;] ")


class Standing:
    """Says it for the breakers of one survey; `left` is how the log left each."""

    def __init__(self, done: Survey, left: Mapping[Item, Left]) -> None:
        self.done = done
        self.left = left
        self._dangers: dict[Item, dict[str, bool]] | None = None

    def recorded(self, breakers: Iterable[Item]) -> list[tuple[list[Item], Left]]:
        """Breakers, and what is ahead of them and was left off, of which the record says how they stood: alike ones
        together, with how that was."""
        groups: dict[str, tuple[list[Item], Left]] = {}
        for item in self._named(breakers):
            held = self.left.get(item)
            if held is not None and held.state:
                groups.setdefault(held.words, ([], held))[0].append(item)
        return list(groups.values())

    def _named(self, breakers: Iterable[Item]) -> Iterator[Item]:
        listed = list(breakers)
        more = [one for breaker in listed for one in left_off(self.left, breaker)]
        return iter(dict.fromkeys((*listed, *more)))

    def sentences(self, breakers: Iterable[Item]) -> Iterator[str]:
        """How each of these was left, that one has to look, and what was told of it."""
        listed = list(breakers)
        for items, held in self.recorded(listed):
            one = len(items) == 1
            is_so, was = ("is", "was") if one else ("are", "were")
            behind = _behind(items, listed)
            look = f"whether {'it' if one else 'they'} still {is_so}, look first"
            yield f"{tags_of(items)} {was} {held.words}{behind}; {look}."
            yield from self._told(items, held)

    def _told(self, items: list[Item], held: Left) -> Iterator[str]:
        """What the log says that somebody was told of them after they were left so."""
        since = held.entries[0].number if held.entries else 0
        written = self.done.record.document.root.get("log") or ()
        for entry in self.done.record.log:
            if entry.did == "told" and entry.number > since and any(item.tag in entry.what for item in items):
                note = clean(str(written[entry.number - 1].get("note", "")))
                if note:
                    yield f"Log entry {entry.number}: {_short(note)}."

    def dangers(self, breakers: Iterable[Item]) -> list[str]:
        """What is graded hands off on the circuits of these breakers, what is surely on one of them first."""
        if self._dangers is None:
            self._dangers = self._find()
        found: dict[str, bool] = {}
        for breaker in breakers:
            for words, sure in self._dangers.get(breaker, {}).items():
                found[words] = found.get(words, False) or sure
        listed = sorted(found, key=lambda words: not found[words])
        more = [f"{len(listed) - MOST_DANGERS} more"] if len(listed) > MOST_DANGERS else []
        return [*listed[:MOST_DANGERS], *more]

    def _find(self) -> dict[Item, dict[str, bool]]:
        items = {item.identity: item for items in self.done.installation.items.values() for item in items}
        found: dict[Item, dict[str, bool]] = {}
        for finding in self.done.results.findings:
            item = items.get(finding.at)
            if finding.grade != _HANDS_OFF or item is None:
                continue
            words = clean(finding.statement)
            asked = "perhaps " if finding.certainty == "possible" else ""
            for breaker, sure in _fed(item).items():
                for one in (breaker, *(up for up in ahead(breaker) if up.kind == "breaker")):
                    found.setdefault(one, {}).setdefault(f"{asked}{_short(words)}", sure)
        return found


def _behind(items: Iterable[Item], named: Iterable[Item]) -> str:
    """`, ahead of B 1` for what is not named itself."""
    listed = list(named)
    held = [breaker for breaker in listed if any(item in ahead(breaker) for item in items if item not in listed)]
    return f", ahead of {tags_of(held)}" if held else ""


def _fed(item: Item) -> dict[Item, bool]:
    """The breakers that feed an item or can, each with whether that is certain."""
    if item.kind == "breaker":
        return {item: True}
    found: dict[Item, bool] = {}
    for fact in _facts(item):
        for breakers in fact.values:
            for breaker in breakers:
                found[breaker] = found.get(breaker, False) or fact.kind == EXACT
    return found


def _facts(item: Item) -> Iterator[Fact]:
    """The facts that say what feeds an item, or its cable where it is none that is fed itself."""
    kind, held = item.kind, item.data
    if kind == "conductor":
        own = held["breakers"]
        yield own if own.kind != EXACT or own.value else held["cable"].data["breakers"]
    elif kind == "end":
        yield from _facts(held["conductor"])
    elif kind == "net":
        yield held["fed_by"]
    elif kind in ("joint", "claim", "entry", "contradiction"):
        for conductor in held["conductors"]:
            yield from _facts(conductor)
    elif kind in ("reading", "probe"):
        for reading in held["readings"] if kind == "probe" else (item,):
            for thing in points_of(reading):
                yield from _facts(thing)
    elif isinstance(held.get("breakers"), Fact):
        yield held["breakers"]


def points_of(reading: Item) -> Iterator[Item]:
    """The items at the points of a reading; none for the earth."""
    for _, held in filter(None, reading.data["points"]):
        thing = held[0] if isinstance(held, tuple) else held
        if isinstance(thing, Item) and thing.kind not in ("panel", "site"):
            yield thing


def tags_of(items: Iterable[Item]) -> str:
    """`A 9 and the main of panel B`."""
    tags = [f"the main of panel {item.tag}" if item.kind == "panel" else item.tag for item in items]
    return joined(
        [*tags[:MOST_TAGS], *([plural(len(tags) - MOST_TAGS, "more", "more")] if len(tags) > MOST_TAGS else [])]
    )


def _short(words: str) -> str:
    """The first clause, cut where it is too long."""
    first = _CLAUSE.split(words, maxsplit=1)[0].rstrip(".")
    return first if len(first) <= LONGEST else f"{first[:LONGEST].rsplit(' ', 1)[0]} ..."
