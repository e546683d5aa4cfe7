"""What two records say of the facts behind one finding: where they differ, and where one of them is silent."""

from __future__ import annotations

from collections.abc import Callable, Container, Iterable, Iterator
from dataclasses import dataclass
from typing import Any

from asfound.compare.era import hold_words
from asfound.compare.pairs import Pairs
from asfound.compare.side import Hold, Side, Statement, conductors_of, holder_of
from asfound.judge.results import word_of
from asfound.judge.rules import Rule
from asfound.judge.tables import TableSet
from asfound.judge.views import facts_of
from asfound.judge.worlds import World, explore
from asfound.record.facts import UNSEEN, Fact, Item
from asfound.record.model import Record, Visit


@dataclass(frozen=True, slots=True)
class Look:
    """What one record says of one thing: its value in words, as written, where, how known, by whom and when.

    `seen` is False where it says nothing or that it was not seen; `value` is then the reason.
    """

    value: str
    seen: bool = True
    unit: str = ""
    written: str = ""
    line: int = 0
    how: str = ""
    by: str = ""
    on: str = ""
    visit: str = ""


@dataclass(frozen=True, slots=True)
class Change:
    """One thing that the two records do not say alike.

    `agree` when both can be true of a house in which nothing was changed, as
    14 or 12 and 12. `traced` when it follows from other facts.
    """

    item: str
    fact: str
    earlier: Look
    later: Look
    agree: bool = False
    traced: bool = False
    whole: bool = False  # it is about the thing itself, whether it is there and where its wires go

    @property
    def unlisted(self) -> bool:
        """Whether one of the records has the thing and the other does not speak of it."""
        return self.whole and self.silent

    @property
    def silent(self) -> bool:
        """Whether one of the two records says nothing of it."""
        return not (self.earlier.seen and self.later.seen)


def reads(one: Side, rule: Rule, items: Iterable[Item], tables: TableSet) -> list[tuple[Item, str, Fact]]:
    """Every fact that a rule reads of these items, in any world; each once."""
    found: dict[tuple[int, str], tuple[Item, str, Fact]] = {}
    for item in items:
        for world in worlds_of(one, rule, item, tables):
            for read in world.reads:
                found.setdefault((id(read[0]), read[1]), read)
    return list(found.values())


def worlds_of(one: Side, rule: Rule, item: Item, tables: TableSet) -> list[World]:
    """Every world of a rule and an item; none where the rule fails, which is a result of its own."""
    try:
        return explore(rule, item, tables, one.record.site).worlds
    except (Exception, SystemExit):  # whatever a rule does wrong
        return []


Reads = Iterable[tuple[Item, str, Fact]]


def changes(earlier: Side, later: Side, pairs: Pairs, before: Reads, now: Reads) -> list[Change]:
    """What the two records say differently of the facts read and of the wires they belong to, what was seen first."""
    return _Looking(earlier, later, pairs).all(list(before), list(now))


class _Looking:
    def __init__(self, earlier: Side, later: Side, pairs: Pairs) -> None:
        self.before, self.now, self.pairs = earlier, later, pairs

    def all(self, before: list[tuple[Item, str, Fact]], now: list[tuple[Item, str, Fact]]) -> list[Change]:
        found = [
            change for one, two, name in dict.fromkeys(self._read_on_both(before, now))
            if (change := self._fact(one, two, name)) is not None
        ]  # fmt: skip
        found += self._wires([read[0] for read in before], [read[0] for read in now])
        found += self._things(_with_wires(before), _with_wires(now))
        unlike = dict.fromkeys(found)
        return sorted(unlike, key=lambda change: (change.silent, change.traced))

    def _read_on_both(
        self, before: list[tuple[Item, str, Fact]], now: list[tuple[Item, str, Fact]]
    ) -> Iterator[tuple[Item, Item, str]]:
        for item, name, _ in before:
            yield from ((item, self.now.items[two], name) for two in self.pairs.later(item.identity))
        for item, name, _ in now:
            yield from ((self.before.items[one], item, name) for one in self.pairs.earlier(item.identity))

    # -- facts

    def _fact(self, one: Item, two: Item, name: str) -> Change | None:
        about = facts_of(one.kind).get(name, {})
        facts = [item.data.get(name) for item in (one, two)]
        held = [fact if isinstance(fact, Fact) else None for fact in facts]
        if about.get("quiet") or not any(fact is not None and fact.values for fact in held):
            return None
        first, second = held
        values = [_values(first), _values(second)]
        traced = all(fact is None or fact.place is None for fact in held)
        if traced and about.get("is") in ("text", "words"):
            return None  # sentences about other facts, with tags in them
        tokens = [
            [self._token("<", value) for value in values[0]], [self._token(">", value) for value in values[1]]
        ]  # fmt: skip
        if tokens[0] == tokens[1] and _kind(first) == _kind(second):
            return None
        say, unit = str(about.get("say", name.replace("_", " "))), str(about.get("unit", ""))
        return Change(
            two.tag if two.kind != "site" else "the site", say,
            _look(first, one, unit, self.before.record), _look(second, two, unit, self.now.record),
            agree=any(token in tokens[1] for token in tokens[0]), traced=traced,
        )  # fmt: skip

    def _token(self, mark: str, value: Any) -> Any:
        """A value as a thing that is equal on both sides when it means the same."""
        if isinstance(value, Item):
            return self.pairs.token(f"{mark}{value.identity}")
        if isinstance(value, tuple):
            return frozenset(self._token(mark, held) for held in value)
        return value

    # -- wires

    def _wires(self, before: Iterable[Item], now: Iterable[Item]) -> Iterator[Change]:
        """Ends of wires that are held by something else, or that one record does not speak of.

        Where an end is held by something else, the wires beside it count too.
        """
        wires = {wire: None for item in before for wire in conductors_of(item)}
        both = {(wire, self.now.items[other]): None for wire in wires for other in self.pairs.later(wire.identity)}
        more = {wire: None for item in now for wire in conductors_of(item)}
        both |= {(self.before.items[other], wire): None for wire in more for other in self.pairs.earlier(wire.identity)}
        waiting = {(end, self.now.items[two]): None for one, _ in both for end in one.data["ends"]
                   for two in self.pairs.later(end.identity)}  # fmt: skip
        for one, two in waiting:
            change = self._end(one, two)
            if change is not None:
                yield change
                if not change.silent and not change.agree:
                    yield from self._beside(self.before, one, self.pairs.later, waiting)
                    yield from self._beside(self.now, two, self.pairs.earlier, waiting)

    def _beside(
        self, side: Side, end: Item, counterparts: Callable[[str], tuple[str, ...]], done: Container[tuple[Item, Item]]
    ) -> Iterator[Change]:
        """What the other record does not say of the wires in one joint or on one device with an end."""
        other = self.now if side is self.before else self.before
        for beside in _neighbours(side, end):
            there = [other.items[identity] for identity in counterparts(beside.identity)]
            cable = beside.data["conductor"].data["cable"]
            if not there and cable.identity not in side.other_era:
                yield self._only_here(side, cable)
            for held in there:
                pair = (beside, held) if side is self.before else (held, beside)
                change = self._end(*pair) if pair not in done else None
                if change is not None and change.silent:
                    yield change

    def _end(self, one: Item, two: Item) -> Change | None:
        first, second = self.before.holds.get(one), self.now.holds.get(two)
        if first is None and second is None:
            return None
        if first is not None and second is not None and self._hold("<", first) == self._hold(">", second):
            return None
        looks = [
            _end_look(one, first, self.before.record), _end_look(two, second, self.now.record)
        ]  # fmt: skip
        agree = bool(first and second and first[0] == second[0] == "state" and {*first[1:]} & {*second[1:]})
        return Change(two.tag, "end", looks[0], looks[1], agree=agree)

    def _hold(self, mark: str, hold: Hold) -> Any:
        sort, *rest = hold
        if sort in ("joint", "terminal"):
            kind = {"joint": "joint", "terminal": "device"}[sort]
            return sort, self.pairs.token(f"{mark}{kind} {rest[0]}"), *rest[1:]
        if sort == "landing":
            one = self.before if mark == "<" else self.now
            pole = one.record.poles.get((rest[0], rest[1]))
            spot = (self.pairs.token(f"{mark}{pole[0].identity}"), pole[1]) if pole else rest[1]
            return sort, self.pairs.token(f"{mark}panel {rest[0]}"), spot
        return hold

    # -- things that only one record has

    def _things(self, before: Iterable[Item], now: Iterable[Item]) -> Iterator[Change]:
        for side, items, counterparts in (
            (self.before, before, self.pairs.later), (self.now, now, self.pairs.earlier),
        ):  # fmt: skip
            for item in dict.fromkeys(_whole(one) for one in items):
                if item is not None and not counterparts(item.identity):
                    yield self._only_here(side, item)

    def _only_here(self, side: Side, item: Item) -> Change:
        """A thing that only one record has."""
        there, away = _there(item, side.record), _away(side.other_era.get(item.identity))
        looks = (there, away) if side is self.before else (away, there)
        return Change(item.tag, f"the {item.kind}", *looks, whole=item.kind != "breaker")


def _neighbours(side: Side, end: Item) -> Iterator[Item]:
    """The other ends in the joint that holds an end, or on the device."""
    hold = side.holds.get(end, ("",))
    holds = [hold] if hold[0] == "joint" else []
    if hold[0] == "terminal":
        device = side.record.devices[hold[1]]
        holds = [("terminal", hold[1], str(terminal.data["name"])) for terminal in device.data["terminals"]]
    yield from (other for one in holds for other in side.held.get(one, ()) if other is not end)


def _with_wires(read: Iterable[tuple[Item, str, Fact]]) -> list[Item]:
    items = [one[0] for one in read]
    return [*items, *(wire for item in items for wire in conductors_of(item))]


_SHOWN = ("panel", "breaker", "box", "device", "cable", "joint", "reading", "entry", "label", "photo", "instrument")


def _whole(item: Item) -> Item | None:
    """What a person would name: the cable for a conductor, the device for a terminal; None for what is only traced."""
    if item.kind in _SHOWN:
        return item
    return holder_of(item)


def _there(item: Item, record: Record) -> Look:
    visit = record.visit_of(item.visit)
    return Look("recorded", line=item.place.line if item.place else 0, **_witness(visit, ""))


def _away(said: Statement | None) -> Look:
    if said is None:
        return Look("not recorded", seen=False)
    return Look(said.words, line=said.line, by=said.by, on=said.on)


def _values(fact: Fact | None) -> tuple[Any, ...]:
    return () if fact is None else fact.values


def _kind(fact: Fact | None) -> str:
    return UNSEEN if fact is None or not fact.values else fact.kind


def _look(fact: Fact | None, item: Item, unit: str, record: Record) -> Look:
    if fact is None:
        return Look("not recorded", seen=False)
    visit = record.visit_of(fact.visit, item.visit)
    line = fact.place.line if fact.place else item.place.line if item.place else 0
    how = "" if fact.how == "as written" else fact.how
    about: dict[str, Any] = {"line": line, "how": how, **_witness(visit, fact.by)}
    if not fact.values:
        return Look(fact.note or "not seen", seen=False, **about)
    value = word_of(fact.value)
    if len(fact.values) > 1:
        value = " or ".join(map(word_of, fact.values)) if fact.kind == "listed" else value
    return Look(value, unit=unit, written=fact.written, **about)


def _end_look(end: Item, hold: Hold | None, record: Record) -> Look:
    state: Fact = end.data["state"]
    visit = record.visit_of(state.visit, end.visit)
    line = state.place.line if state.place else 0
    if hold is None:
        return Look(state.note or "not recorded", seen=False, line=line, **_witness(visit, state.by))
    return Look(hold_words(hold), line=line, **_witness(visit, state.by))


def _witness(visit: Visit | None, by: str) -> dict[str, Any]:
    return {
        "by": by or (visit.by if visit else ""), "on": visit.on if visit else "",
        "visit": f"{visit.tag} {visit.on} {visit.by}" if visit else "",
    }  # fmt: skip


__all__ = ["Change", "Look", "changes", "reads", "worlds_of"]
