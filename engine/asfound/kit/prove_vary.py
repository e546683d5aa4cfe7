"""A case with one fact changed: left out, doubted, or put to its neighbour.

What a fact can be besides is taken from where it is known: sizes from the
ladder of `data/ways.yaml`, words from the record's schema, from what the rule
compared the fact with, and from the other cases of the rule, numbers from the
limit the rule compared with, and where it named none, by going away from the
number until the verdict turns. A change is undone before the next.
"""

from __future__ import annotations

import functools
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Any

from asfound.data import data
from asfound.judge.results import Results, word_of
from asfound.judge.views import facts_of
from asfound.record.facts import EXACT, WEAK, Fact, Item, exact, neighbours, strength
from asfound_schemas import schema

REMOVED, DOUBTED, CHANGED = "removed", "doubted", "changed"
MOST = 6
"""Other values that one fact of one case is put to, at most."""
OTHER = "something else"
"""A word that no rule compares with, for a fact whose words no schema lists."""
_FARTHEST = 12
"""How often the distance is doubled in search of the number at which a verdict turns."""


@dataclass(frozen=True, slots=True)
class Held:
    """One fact, or one relation to other items, as a case states it: `box.conductors.gauge`, its item, its name."""

    path: str
    item: Item
    name: str

    @property
    def form(self) -> str:
        """What the catalogue says it is: word, number, yes/no, `items breaker` and so on."""
        return str(facts_of(self.item.kind)[self.name]["is"])

    @property
    def unit(self) -> str:
        """Its unit, empty for none."""
        return str(facts_of(self.item.kind)[self.name].get("unit", ""))

    @property
    def value(self) -> Any:
        """The `Fact`, or the related items."""
        return self.item.data[self.name]

    @property
    def words(self) -> str:
        """Its value in words."""
        return fact_words(self.value, self.unit)


@dataclass(frozen=True, slots=True)
class Verdict:
    """What a rule made of an item: outcome, each finding by place, cause and certainty, what was missing, sentences."""

    outcome: str
    found: tuple[tuple[str, str, str], ...] = ()
    lacking: tuple[str, ...] = ()
    says: tuple[str, ...] = ()
    error: str = ""

    def same(self, other: Verdict) -> bool:
        """Whether it is the same verdict, in whatever words."""
        mine, others = ((v.outcome, v.found, v.lacking, v.error) for v in (self, other))
        return mine == others

    @property
    def words(self) -> str:
        """`defect, confirmed`, `2 possible`, `cannot tell (cover)`, `clear`."""
        if self.error:
            return f"rule failed ({self.error})"
        if self.found:
            sure = list(dict.fromkeys(certainty for _, _, certainty in self.found))
            many = f"{len(self.found)} " if len(self.found) > 1 else ""
            if sure == ["possible"]:
                return f"{many}possible"
            return f"{many}{'defects' if many else 'defect'}, {' and '.join(sure)}"
        return f"{self.outcome} ({', '.join(self.lacking)})" if self.lacking else self.outcome


@dataclass(frozen=True, slots=True)
class Variation:
    """A case with one fact changed, and what became of the verdict.

    `turned` when the verdict is another; `reworded` when only a sentence is.
    `near` when the change is the smallest step of a number.
    """

    path: str
    item: str
    was: str
    sort: str
    to: str
    verdict: Verdict
    turned: bool
    reworded: bool
    near: bool = False


def verdict_of(outcome: str, results: Results) -> Verdict:
    """The verdict in what a rule gave for one item."""
    return Verdict(
        outcome,
        tuple(sorted((f.at, f.cause, f.certainty) for f in results.findings)),
        tuple(dict.fromkeys(one.missing for one in results.cannot_tell)),
        tuple(f.statement for f in results.findings),
    )


def fact_words(value: Any, unit: str = "") -> str:
    """A fact or related items in words: `14`, `20 A`, `not seen`, `14 or 12`, `A 3 and A 5`."""
    if not isinstance(value, Fact):
        return word_of(value)
    if not value.values:
        return "not seen"
    shown = " or ".join(map(word_of, value.values if value.kind not in (EXACT, WEAK) else value.values[:1]))
    how = f", {value.how}" if value.kind == WEAK else ""
    return f"{shown}{f' {unit}' if unit not in ('', 'year') else ''}{how}"


def held_by(item: Item, path: str) -> Iterator[Held]:
    """Every fact and relation a made item states, its own first, then those of the items it is related to."""
    for name, value in item.data.items():
        yield Held(f"{path}.{name}", item, name)
        if not isinstance(value, Fact):
            for one in (value,) if isinstance(value, Item) else value:
                yield from held_by(one, f"{path}.{name}")


def items_in(item: Item) -> Iterator[Item]:
    """A made item and all it is related to."""
    yield item
    for value in item.data.values():
        if not isinstance(value, Fact):
            for one in (value,) if isinstance(value, Item) else value:
                yield from items_in(one)


@contextmanager
def put(held: Held, value: Any) -> Iterator[None]:
    """The fact at another value, or left out for None, until the block ends."""
    before = dict(held.item.data)
    try:
        if value is None:
            del held.item.data[held.name]
        else:
            held.item.data[held.name] = value
        yield
    finally:
        held.item.data.clear()
        held.item.data.update(before)


# -- what is compared


class _Heard:
    """What facts were compared with, by item and name."""

    def __init__(self) -> None:
        self.by: dict[tuple[int, str], list[Any]] = {}


def _listening(base: type) -> type:
    """A subclass of int, float or str that notes in `heard` what it is compared with."""

    def method(name: str) -> Any:
        plain = getattr(base, name)

        def compared(self: Any, other: Any) -> Any:
            heard = getattr(self, "heard", None)
            if heard is not None and isinstance(other, int | float | str) and not isinstance(other, bool):
                heard.append(str(other) if isinstance(other, str) else other)
            return plain(self, other)

        return compared

    body: dict[str, Any] = {name: method(name) for name in ("__lt__", "__le__", "__gt__", "__ge__", "__eq__", "__ne__")}
    body["__hash__"] = base.__hash__
    return type(f"Compared{base.__name__.capitalize()}", (base,), body)


_LISTENING = {base: _listening(base) for base in (int, float, str)}


@contextmanager
def listening(stated: Iterable[Held]) -> Iterator[_Heard]:
    """While the block lasts, the facts note what they are compared with."""
    heard = _Heard()
    before = []
    for held in stated:
        fact = held.value
        if isinstance(fact, Fact) and fact.values and type(fact.values[0]) in _LISTENING:
            values = []
            for value in fact.values:
                kind = _LISTENING.get(type(value))
                one = kind(value) if kind else value
                if kind:
                    one.heard = heard.by.setdefault((id(held.item), held.name), [])
                values.append(one)
            before.append((held, fact))
            held.item.data[held.name] = fact.restated(fact.kind, tuple(values))
    try:
        yield heard
    finally:
        for held, fact in before:
            held.item.data[held.name] = fact


# -- what a fact can be besides


@functools.cache
def words_allowed(kind: str, name: str) -> tuple[str, ...]:
    """The words that the record's schema allows for a fact; none where it takes any text or is not recorded as such."""
    definitions = schema("record")["$defs"]
    found: dict[str, None] = {}

    def gather(part: Any) -> None:
        if isinstance(part, dict):
            reference = str(part.get("$ref", ""))
            if reference.startswith("#/$defs/") and not reference.endswith("/doubt"):
                gather(definitions[reference.rpartition("/")[2]])
            found.update(dict.fromkeys(word for word in part.get("enum", ()) if isinstance(word, str)))
            for key in ("anyOf", "oneOf", "allOf"):
                for one in part.get(key, ()):
                    gather(one)
            gather(part.get("items"))

    for properties in _properties(definitions.get(kind) or schema("record")["properties"].get(kind, {})):
        if name in properties:
            gather(properties[name])
    return tuple(found)


def _properties(part: Any) -> Iterator[dict[str, Any]]:
    if isinstance(part, dict):
        if isinstance(part.get("properties"), dict):
            yield part["properties"]
        for key in ("then", "else"):
            yield from _properties(part.get(key))
        for key in ("anyOf", "oneOf", "allOf"):
            for one in part.get(key, ()):
                yield from _properties(one)


def doubted(held: Held) -> tuple[str, Fact] | None:
    """A certain fact as it is when weakly known, in the way that leaves most open; None when it is doubtful already."""
    fact = held.value
    if not isinstance(fact, Fact) or fact.kind != EXACT or isinstance(fact.value, Item | tuple):
        return None
    ways = [way for way in data("ways")["ways"] if strength(way) == "weak"]
    how = max(ways, key=lambda way: len(neighbours(held.name, fact.value, way)))
    made = fact.restated(WEAK, (fact.value, *neighbours(held.name, fact.value, how)))
    made.how = how
    return how, made


def others(held: Held, told: Iterable[Any], compared: Iterable[Any]) -> list[Any]:
    """Other values for a fact, likeliest to matter first: `told` by other cases, `compared` with by the rule.

    For a doubtful fact each of the values it can be; for related items one of them fewer.
    """
    fact = held.value
    if not isinstance(fact, Fact):
        return [fact[:-1]] if isinstance(fact, tuple) and len(fact) > 1 else []
    if held.form.startswith("item"):
        return list(fact.values)
    told, compared = list(told), list(compared)
    if fact.kind not in (EXACT, WEAK) and fact.values:
        return list(fact.values[:MOST])
    if not fact.values:
        return _distinct(told)[:MOST]
    by_form: dict[str, Callable[[Held, list[Any], list[Any]], list[Any]]] = {
        "yes/no": lambda held, told, compared: [not held.value.value],
        "size": _sizes,
        "number": _numbers,
        "words": _word_lists,
    }
    found = by_form.get(held.form, _words)(held, told, compared)
    return [value for value in _distinct(found) if value != fact.value][:MOST]


def _sizes(held: Held, told: list[Any], compared: list[Any]) -> list[Any]:
    ladder = data("ways")["neighbours"]["gauge"]["ladder"]
    value = held.value.value
    if value not in ladder:
        return [one for one in [*told, *compared] if isinstance(one, str)]
    at = ladder.index(value)
    return [*ladder[at + 1 : at + 2], *ladder[max(0, at - 1) : at], *(one for one in told if isinstance(one, str))]


def _numbers(held: Held, told: list[Any], compared: list[Any]) -> list[Any]:
    value = held.value.value
    if not _is_number(value):
        return told
    found: list[Any] = []
    for limit in _distinct(one for one in compared if _is_number(one)):
        step = 1 if float(limit).is_integer() and float(value).is_integer() else 0.01
        past = limit + step if value <= limit else limit - step
        found += [limit, past if step == 1 else round(past, _DECIMALS)]
    beside = [value + 1, value - 1] if value > 1 else [value + 1]  # nothing at all is tried where a limit lies there
    return [one for one in [*found[:4], *beside] if one >= 0 or value < 0]


def _is_number(value: Any) -> bool:
    return isinstance(value, int | float) and not isinstance(value, bool)


def _words(held: Held, told: list[Any], compared: list[Any]) -> list[Any]:
    value = held.value.value
    days: list[Any] = []
    if isinstance(value, str):
        try:
            day = date.fromisoformat(value)
            days = [(day + timedelta(days=1)).isoformat(), (day - timedelta(days=1)).isoformat()]
        except (ValueError, OverflowError):
            pass
    known = words_allowed(held.item.kind, held.name)
    asked = [one for one in compared if isinstance(one, type(value)) and (not known or one in known or one in told)]
    beside = [word for word in known if word not in asked]
    if value in beside:  # the next word of the list first
        at = beside.index(value)
        beside = [*beside[at + 1 :], *beside[:at]]
    other = [] if known or days else [OTHER]
    return [*days, *asked[:2], *told[:3], *beside, *other]


def _word_lists(held: Held, told: list[Any], compared: list[Any]) -> list[Any]:
    value = held.value.value
    if not isinstance(value, tuple):
        return told
    more = [word for word in words_allowed(held.item.kind, held.name) if word not in value]
    fewer = [value[:-1]] if value else []
    return [*fewer, *told[:3], *[(*value, word) for word in more[:1]], *[(word,) for word in more[:2]]]


def _distinct(values: Iterable[Any]) -> list[Any]:
    found: list[Any] = []
    for value in values:
        if not any(value == one and isinstance(value, bool) == isinstance(one, bool) for one in found):
            found.append(value)
    return found


def changed(held: Held, value: Any) -> Any:
    """The fact at another certain value, with the evidence of the first; related items as they are given."""
    fact = held.value
    if not isinstance(fact, Fact):
        return value
    if isinstance(value, Item) or (isinstance(value, tuple) and value and isinstance(value[0], Item)):
        return value
    how = fact.how if strength(fact.how) == "observed" else "as written"
    return exact(value, written=word_of(value), place=fact.place, how=how, by=fact.by, visit=fact.visit)


_DECIMALS = 6
"""Decimals kept when a step is added: eighths and sixteenths of an inch stay what they are."""


def turning(value: float, stays: Callable[[float], bool]) -> float | None:
    """The number nearest to `value` for which `stays` no longer holds, of those met by doubling the distance.

    Looked for upward first, then downward to nothing; a whole number stays whole, another is found to a hundredth.
    """
    step = 1 if float(value).is_integer() else 0.01
    for sign in (1, -1):
        near = 0
        for power in range(_FARTHEST):
            far = 2**power
            if sign < 0 and value - far * step < 0 <= value:
                far = int(value / step)
                if far <= near:
                    break
            if not stays(_at(value, sign * far, step)):
                while far - near > 1:
                    middle = (near + far) // 2
                    if stays(_at(value, sign * middle, step)):
                        near = middle
                    else:
                        far = middle
                return _at(value, sign * far, step)
            near = far
    return None


def _at(value: float, steps: int, step: float) -> float:
    return value + steps if step == 1 else round(value + steps * step, _DECIMALS)


def is_near(value: Any, other: Any) -> bool:
    """Whether two numbers are one step apart: one for whole numbers, a hundredth, or no more than that, for others."""
    if not (_is_number(value) and _is_number(other)):
        return False
    return bool(abs(value - other) <= (1 if float(value).is_integer() and float(other).is_integer() else 0.011))
