"""Expressions of a rule, run by the library of the language on the views that every rule sees.

An item is a number to the library; asked for a fact of it, this module reads the
view, so that worlds, evidence, doubt and what was not seen follow as for a rule
in Python. A fact that was not seen is an error to the language: `&&`, `||`,
`all` and `exists` pass it over where the rest decides, and anything else ends
with it (Language Definition, Logical Operators and Macros, cel-spec
`doc/langdef.md`, seen in text), as `every` and `some` do in Python.

No expression reaches Python: the functions below are all there are, and each
takes and gives plain values. Time is bounded by the library (10,000 steps of
loops and 32 levels in one expression) and by `MOST_STEPS` for one rule on one
item in one world. One thread runs rules at a time.

The library is `cel-expr-python`, the language's own C++ runtime. It runs only
the branch it reaches and asks back for each value, 2 to 4 microseconds for an
expression, and is imported in 5 milliseconds with nothing else. Of two others
tried, `common-expression-language` copies every fact of an item beforehand and
`cel-python` runs both sides of `&&`, takes 500 microseconds for it, and both
take 150 milliseconds or more to import (one machine, November 2026).
"""

from __future__ import annotations

import functools
import re
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from typing import Any

from cel_expr_python import cel  # type: ignore[import-untyped]

from asfound.circuit.conductors import area_mm2
from asfound.judge.rules import certain, for_words, given, noted
from asfound.judge.tables import Tables
from asfound.judge.views import Gap, Missing, View
from asfound.kit.forms_check import ANY, Sort
from asfound.kit.forms_tree import Call, Node, Parsed, read, text, write
from asfound.wording import joined, plural

LONGEST = 2000
"""Characters in one expression."""
MOST_STEPS = 200_000
"""Facts fetched, functions called and expressions begun by one rule on one item in one world."""
A_LOOP = 50
"""Steps that an expression with a loop in it counts for."""
MOST_HELD = 20_000
"""Values in all, in what a name under `set` stands for."""
LONGEST_HELD = 20_000
"""Characters in a text that a name under `set` stands for."""

_T = cel.Type
_FAILED = _T.ERROR


class NotComputed(Exception):
    """An expression that came to no value: which, and why. The rule has failed on the item."""


class _Stop(Exception):
    """Told to the library in place of what a function raised."""


@dataclass(slots=True)
class Expression:
    """One expression of a rule, ready to run.

    `text` as written, `line` in the file, `part` where it stands in the rule
    (`only_if 1`, `finds 2, when`), `sort` what it gives.
    """

    text: str
    line: int
    part: str
    sort: Sort
    program: Any
    cost: int
    loops: frozenset[int]


@dataclass(frozen=True, slots=True)
class Told:
    """One expression that was run while `watched`: what it gave, or the name of what ended it."""

    expression: Expression
    value: Any
    ended: str = ""


class Frame:
    """One run of one rule on one item in one world."""

    __slots__ = ("handles", "kept", "loops", "over", "raised", "sets", "steps", "tables", "views")

    def __init__(self, item: View, site: View, tables: Tables, sets: tuple[Expression, ...], loops: int) -> None:
        self.views: list[View] = [item, site]
        self.handles: dict[View, int] = {site: 1, item: 0}
        self.tables = tables
        self.sets = sets
        self.kept: dict[int, Any] = {}
        self.loops: list[Any] = [None] * loops
        self.raised: list[BaseException] = []
        self.over = False
        self.steps = MOST_STEPS

    def handle(self, seen: View) -> int:
        """The number of an item."""
        number = self.handles.get(seen)
        if number is None:
            number = self.handles[seen] = len(self.views)
            self.views.append(seen)
        return number

    def plain(self, value: Any) -> Any:
        """A value as the library takes it: numbers with decimals, items as their numbers."""
        sort = value.__class__
        if sort is str or sort is bool or sort is float:
            return value
        if sort is int:
            return float(value)
        if isinstance(value, View):
            return self.handle(value)
        if isinstance(value, tuple | list):
            return [self.plain(one) for one in value]
        return value

    def back(self, value: Any, sort: Sort) -> Any:
        """A value that the library gave, with items as views again."""
        if sort.name == "item" and value is not None:
            return self.views[value]
        if sort.name == "list" and sort.of is not None and sort.of.name in ("item", "list"):
            return [self.back(one, sort.of) for one in value]
        return value

    def spend(self, steps: int) -> None:
        """Count steps. Raises `NotComputed` when there are too many."""
        self.steps -= steps
        if self.steps < 0:
            raise NotComputed(f"it takes more than {MOST_STEPS} steps on one item")

    def at(self, number: int, value: Any) -> None:
        """Let loop `number` be at a value; what hung on it is worked out anew."""
        self.loops[number] = value
        for held in [one for one in self.kept if number in self.sets[one].loops]:
            del self.kept[held]


_now: Frame | None = None
_watching: list[list[Told]] = []


@contextmanager
def watched() -> Iterator[list[Told]]:
    """While it lasts, every expression of a YAML rule that is run is added to the list, in order."""
    told: list[Told] = []
    _watching.append(told)
    try:
        yield told
    finally:
        _watching.remove(told)


def run(one: Expression, frame: Frame) -> Any:
    """The value of an expression, with items as views. Raises what the facts it hangs on raise, or `NotComputed`."""
    if not _watching:
        return _run(one, frame)
    try:
        value = _run(one, frame)
    except BaseException as error:
        _tell(Told(one, None, type(error).__name__))
        raise
    _tell(Told(one, value))
    return value


def _tell(told: Told) -> None:
    for listening in _watching:
        listening.append(told)


def _run(one: Expression, frame: Frame) -> Any:
    global _now
    outer, kept = _now, frame.raised
    raised = frame.raised = []
    frame.spend(one.cost)
    _now = frame
    try:
        result = one.program.eval(_NOTHING)
    except RuntimeError as error:
        raise NotComputed(f"line {one.line}, {one.part}: {_reason(str(error))}") from None
    finally:
        frame.raised = kept
        _now = outer
    failed = result.type() == _FAILED
    if raised:
        number = _NUMBER.search(result.value()) if failed else None
        ends = raised[int(number[1])] if number is not None else None
        for one_raised in raised:
            if isinstance(one_raised, Missing) and one_raised is not ends:
                one_raised.forgive()  # what it was asked for was decided without it
        if frame.over:
            raise raised[-1]
        if ends is not None:
            raise ends
    if failed:
        raise NotComputed(f"line {one.line}, {one.part}: {_reason(result.value())}")
    return frame.back(result.plain_value(), one.sort)


_NUMBER = re.compile(r"\x1easfound:([0-9]+)\x1e")
_SENSE = {
    "divide by zero": "something is divided by nothing",
    "modulus by zero": "something is divided by nothing",
    "(double, int64)": "a whole number stands beside one with decimals; write it with decimals, as 1.0",
    "(int64, double)": "a whole number stands beside one with decimals; write it with decimals, as 1.0",
    "Iteration budget exceeded": "its loops take more than 10,000 steps",
}


def _reason(said: str) -> str:
    for begins, reason in _SENSE.items():
        if begins in said:
            return reason
    return " ".join(said.replace("INVALID_ARGUMENT: ", "").replace("UNKNOWN: ", "").split())


# -- what an expression can call; the names begin with @, so that nobody can write them


def _function(name: str, wants: list[Any], work: Callable[..., Any]) -> Any:
    """A function of the library that works on the frame of the moment; whatever it raises is kept for `run`."""

    def call(*given_values: Any) -> Any:
        frame = _now
        assert frame is not None
        if frame.over:
            raise _Stop
        try:
            frame.spend(1)
            return work(frame, *given_values)
        except BaseException as error:
            frame.raised.append(error)
            frame.over = not isinstance(error, Missing | Gap)  # nothing that is read after it counts
            raise _Stop(f"\x1easfound:{len(frame.raised) - 1}\x1e") from None

    return cel.FunctionDecl(
        name, [cel.Overload(name[1:] + "_held", return_type=_T.DYN, parameters=wants, impl=call)]
    )  # fmt: skip


def _fact(frame: Frame, item: int, name: str) -> Any:
    return frame.plain(getattr(frame.views[item], name))


def _given(frame: Frame, item: int, name: str, otherwise: list[Any]) -> Any:
    default = _key(otherwise[0])  # evidence says `taken as 0`, as written
    return frame.plain(given(frame.views[item], name, tuple(default) if isinstance(default, list) else default))


def _noted(frame: Frame, item: int, name: str) -> Any:
    return frame.plain(noted(frame.views[item], name))


def _for_words(frame: Frame, item: int, name: str) -> Any:
    return frame.plain(for_words(frame.views[item], name))


def _certain(frame: Frame, item: int, name: str) -> Any:
    return frame.plain(certain(frame.views[item], name))


def _loop(frame: Frame, number: int) -> Any:
    return frame.loops[number]


def _set(frame: Frame, number: int) -> Any:
    if number not in frame.kept:
        one = frame.sets[number]
        value = _again(frame, run(one, frame))
        _bounded(value, one)
        frame.kept[number] = value
    return frame.kept[number]


def _again(frame: Frame, value: Any) -> Any:
    """A value of `run` as the library takes it; whole numbers stay whole."""
    if isinstance(value, View):
        return frame.handle(value)
    return [_again(frame, one) for one in value] if isinstance(value, list) else value


def _bounded(value: Any, one: Expression) -> None:
    if _count(value) > MOST_HELD:
        raise NotComputed(f"line {one.line}, {one.part}: it holds more than {MOST_HELD} values or characters")


def _count(value: Any) -> int:
    if isinstance(value, list):
        return 1 + sum(map(_count, value))
    return len(value) if isinstance(value, str) else 1


def _key(part: Any) -> Any:
    """A part of the key of a row, as a rule in Python would give it: 20, not 20.0."""
    return int(part) if part.__class__ is float and part.is_integer() else part


def _table(frame: Frame, said: list[Any]) -> Any:
    return frame.plain(frame.tables.value(said[0], *map(_key, said[1:])))


def _has_row(frame: Frame, said: list[Any]) -> Any:
    return frame.tables.has(said[0], *map(_key, said[1:]))


def _table_at_least(frame: Frame, said: list[Any]) -> Any:
    return frame.plain(frame.tables.at_least(said[0], said[1], *map(_key, said[2:])))


def _names(frame: Frame, items: list[Any]) -> Any:
    from asfound.authoring import names

    return names(frame.views[one] for one in items)


def _largest(_: Frame, said: list[Any]) -> Any:
    return _end(max, said[0], "largest")


def _smallest(_: Frame, said: list[Any]) -> Any:
    return _end(min, said[0], "smallest")


def _end(pick: Callable[..., Any], values: list[Any], name: str) -> Any:
    if not values:
        raise NotComputed(f"{name}(...) of an empty list")
    return float(pick(values))


def _size_words(_: Frame, said: list[Any]) -> Any:
    from asfound.authoring import size_words

    return size_words(said[0])


_WITH_FACT = [_T.INT, _T.STRING]
_ONE_LIST = [_T.List(_T.DYN)]
_OWN = [
    _function("@fact", _WITH_FACT, _fact),
    _function("@about", _WITH_FACT, _fact),
    _function("@given", [*_WITH_FACT, *_ONE_LIST], _given),
    _function("@noted", _WITH_FACT, _noted),
    _function("@for_words", _WITH_FACT, _for_words),
    _function("@certain", _WITH_FACT, _certain),
    _function("@loop", [_T.INT], _loop),
    _function("@set", [_T.INT], _set),
    _function("@table", _ONE_LIST, _table),
    _function("@has_row", _ONE_LIST, _has_row),
    _function("@table_at_least", _ONE_LIST, _table_at_least),
    _function("@names", _ONE_LIST, _names),
    _function("@largest", _ONE_LIST, _largest),
    _function("@smallest", _ONE_LIST, _smallest),
    _function("@sum", _ONE_LIST, lambda _, said: float(sum(said[0]))),
    _function("@abs", _ONE_LIST, lambda _, said: abs(float(said[0]))),
    _function("@area_mm2", _ONE_LIST, lambda _, said: area_mm2(said[0])),
    _function("@size_words", _ONE_LIST, _size_words),
    _function("@joined", _ONE_LIST, lambda _, said: joined(said[0])),
    _function("@plural", _ONE_LIST, lambda _, said: plural(_key(said[0]), said[1])),
]


@functools.cache
def _environment() -> Any:
    return cel.NewEnv(functions=_OWN)


_NOTHING = _environment().Activation({})


class NotRead(Exception):
    """Text that is no expression of the language: the column from 1, or 0, what the library says, the next step."""

    def __init__(self, column: int, said: str, step: str = "") -> None:
        self.column = column
        self.said = said
        self.step = step
        super().__init__(said)


_DIVIDE = "give parts of it names of their own under set"


def parse(expression: str) -> Parsed:
    """The tree of an expression. Raises `NotRead`."""
    if len(expression) > LONGEST:
        raise NotRead(0, f"it is longer than {LONGEST} characters", _DIVIDE)
    try:
        wire = _environment().compile(expression, disable_check=True).serialize()
    except RuntimeError as error:
        raise _not_read(str(error)) from None
    return read(wire)


def _not_read(said: str) -> NotRead:
    if "recursion" in said:
        return NotRead(0, "its parts stand more than 32 deep in each other", _DIVIDE)
    found = re.search(r"ERROR: <input>:(-?\d+):(-?\d+): (.*)", said)
    if found is None:
        return NotRead(0, " ".join(said.split()))
    column = int(found[2]) if found[1] == "1" else 0
    reason = re.sub(r" expecting .*", "", found[3].removeprefix("Syntax error: "))
    return NotRead(max(column, 0), reason.replace("<EOF>", "the end"))


def ready(root: Node) -> Any:
    """The program for a checked tree. Raises `NotRead` when it holds more than the library takes."""
    try:
        return _environment().deserialize(write(root))
    except RuntimeError:
        raise NotRead(0, "it holds too much at once", _DIVIDE) from None


def bad_pattern(pattern: str) -> str:
    """What is wrong with a pattern; empty when nothing is."""
    held = Call(0, text(""), "matches", [text(pattern)])
    result = ready(held).eval(_NOTHING)
    return _reason(result.value()) if result.type() == _FAILED else ""


def shown(value: Any, sort: Sort = ANY) -> str:
    """A value in a sentence: `20`, `2.25`, `yes`, the tag of an item, `a, b and c`. Raises `NotComputed` for null."""
    if value is None:
        what = " of a ".join(reversed(sort.fact)) if sort.fact else "a value"
        raise NotComputed(f"a sentence has nothing to say for {what}: decide with ... == null ? a : b")
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, float):
        near = round(value, 4)
        return str(int(near)) if near.is_integer() else repr(near)
    if isinstance(value, list):
        return joined(shown(one) for one in value) if value else "none"
    return str(value)
