"""What a rule is, and the few words a rule is written with."""

from __future__ import annotations

import inspect
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from asfound.data import data
from asfound.judge.views import Gap, Missing, NotHere, Plain, View, item_of, left_out, related, run_of
from asfound.names import Names
from asfound.record.facts import EXACT, NOT_RECORDED, Fact
from asfound.wording import joined

RuleFunction = Callable[..., Iterable[Any]]


@dataclass(frozen=True, slots=True)
class Defect:
    """One thing found: its sentence, the item it is at, and the cause that tells it from others there.

    `at` is the judged item when not given; `parts` are further items to name.
    """

    says: str
    at: View | None = None
    cause: str = ""
    parts: tuple[View, ...] = ()


@dataclass(frozen=True, slots=True)
class Rule:
    """A rule with everything a report needs to print about it. `run` is the plain function.

    `outside` when it is none of the built-in ones, `pack` the name and version of
    the pack it then comes from, if from one.
    """

    name: str
    of: str
    title: str
    notes: str
    topic: str
    severity: str
    likelihood: str
    caution: str
    defer: str
    source: str
    basis: str
    revision: int
    since: str
    run: RuleFunction
    wants: tuple[str, ...]
    file: Path
    line: int
    outside: bool = False
    pack: str = ""


class BadRule(Exception):
    """A rule or pack of rules is not usable; the message says which and why."""


def rule(
    name: str,
    *,
    of: str = "",
    severity: str = "",
    likelihood: str = "",
    caution: str = "",
    defer: str = "",
    source: str = "",
    basis: str = "",
    revision: int = 1,
    since: str = "0.1",
) -> Callable[[RuleFunction], RuleFunction]:
    """Make a function a rule. Everything up to `basis` has to be given.

    `of` is the kind of item it looks at (see the fact catalogue). `severity` and
    `likelihood` are words of MIL-STD-882E Tables I and II: how bad the credible
    worst is, and how likely as such a thing is usually found. `caution` opens
    with a signal word of ANSI Z535.4. `basis` is `seen in text`, `from memory`
    or `common practice`. Raises `BadRule` when something is missing or unknown.
    """

    def mark(function: RuleFunction) -> RuleFunction:
        made = _make(function, name, of, severity, likelihood, caution, defer, source, basis, revision, since)
        function.asfound_rule = made  # type: ignore[attr-defined]
        # Kept with the module too: a second function of the same name would hide the first.
        function.__globals__.setdefault(RULES, []).append(made)
        return function

    return mark


RULES = "__asfound_rules__"
"""Where a module keeps its rules, in order of definition."""
BASES = ("seen in text", "from memory", "common practice")


def _make(
    function: RuleFunction, name: str, of: str, severity: str, likelihood: str, caution: str, defer: str, source: str,
    basis: str, revision: int, since: str,
) -> Rule:  # fmt: skip
    doc = inspect.getdoc(function) or ""
    title, _, notes = doc.partition("\n")
    wants = tuple(inspect.signature(function).parameters)
    line = f"{function.__code__.co_filename} line {function.__code__.co_firstlineno}"
    complete(
        name, line, of=of, severity=severity, likelihood=likelihood, caution=caution, defer=defer, source=source,
        basis=basis, title=title, title_is="a docstring whose first line is its title",
        sign="=",
    )  # fmt: skip
    if not wants:
        raise BadRule(f"rule {name!r} in {line} needs a first parameter for the item it looks at")
    if not set(wants[1:]) <= {"tables", "site"}:
        raise BadRule(f"rule {name!r} in {line} needs no parameters besides the item, tables and site")
    module = function.__module__.split(".")
    return Rule(
        name=name, of=of, title=title.strip().rstrip("."), notes=inspect.cleandoc(notes),
        topic=module[-2] if len(module) > 2 else module[-1],
        severity=severity, likelihood=likelihood, caution=caution, defer=defer, source=source, basis=basis,
        revision=revision, since=since, run=function, wants=wants[1:], file=Path(function.__code__.co_filename),
        line=function.__code__.co_firstlineno,
    )  # fmt: skip


def complete(
    name: str, where: str, *, of: str, severity: str, likelihood: str, caution: str, defer: str, source: str,
    basis: str, title: str, title_is: str = "a title", sign: str = ":",
    lines: Mapping[str, int] | None = None,
) -> None:  # fmt: skip
    """Hold what is said about a rule, in whatever form it is written, against what every rule has to say.

    `where` is its file and line, `lines` the lines of its parts where each has one of its own, `sign` what
    stands after a name in its form. Raises `BadRule`.
    """
    grades = data("grades")
    signal, _, danger = caution.partition(":")
    kinds = data("facts")
    signals = grades["signal_words"]
    checks: list[tuple[str, bool, Callable[[], str]]] = [
        ("name", bool(name) and name == name.lower() and " " not in name,
         lambda: "a name in lower case without spaces"),
        ("of", of in kinds, lambda: f"of{sign} {_one_of(of, kinds)}"),
        ("severity", severity in grades["severities"],
         lambda: f"severity{sign} {_one_of(severity, grades['severities'])}"),
        ("likelihood", likelihood in grades["likelihoods"],
         lambda: f"likelihood{sign} {_one_of(likelihood, grades['likelihoods'])}"),
        ("caution", signal in signals and bool(danger.strip()),
         lambda: f"a caution: {', '.join(signals)}, a colon, and what can happen{_meant(signal, signals, caution)}"),
        ("defer", bool(defer.strip()), lambda: f"defer{sign} a deferral to local code and licensed practice"),
        ("source", bool(source.strip()), lambda: "a source, or the words common practice, no source"),
        ("basis", basis in BASES, lambda: f"basis{sign} {_one_of(basis, BASES)}"),
        ("title", bool(title.strip()), lambda: title_is),
    ]  # fmt: skip
    for part, good, need in checks:
        if not good:
            at = f"{where.rpartition(' ')[0]} {lines[part]}" if lines and part in lines else where
            raise BadRule(f"rule {name!r} in {at} needs {need()}")


def _one_of(word: str, words: Iterable[str]) -> str:
    """The words that can stand somewhere, with the one that stands there and what is likely meant."""
    return f"one of {', '.join(words)}{_meant(word, words, word)}"


def _meant(word: str, words: Iterable[str], written: str) -> str:
    if not written.strip():
        return ""
    close = Names(words).close(word)
    return f", not {word!r}{f'; did you mean {close[0]!r}' if close else ''}"


def only_if(condition: Any) -> None:
    """Say that the rule does not apply here unless `condition` holds."""
    if not condition:
        raise NotHere


def given(seen: View, name: str, otherwise: Any) -> Any:
    """The fact `name` of an item, or `otherwise` when the record does not speak of it.

    Only for facts whose absence has a plain meaning, such as no added volume.
    A fact that somebody could not see is no such absence: it is missing.
    """
    if isinstance(seen, Plain):
        item = item_of(seen)
        return otherwise if left_out(item, name) and not related(item, name) else getattr(seen, name)
    try:
        return getattr(seen, name)
    except Missing as missing:
        if missing.fact.note != NOT_RECORDED.note:
            raise
        missing.forgive()
        reads = run_of(seen).reads
        reads.pop()  # the read that ended in Missing; noted again with what it is taken as
        note = f"{missing.fact.note}; taken as {_default_words(otherwise)}"
        reads.append((item_of(seen), name, Fact(missing.fact.kind, (), note=note, place=missing.fact.place)))
        return otherwise


def noted(seen: View, name: str) -> Any:
    """The fact `name` of an item; the rule does not apply where the record is silent on it.

    For what people look at or measure here and there. Silence is neither a
    defect nor clear. What could not be seen, with a reason, stays missing.
    """
    value = given(seen, name, None)
    only_if(value is not None)
    return value


def _default_words(default: Any) -> str:
    """A default in the words of evidence: `no` and not `False`, `none` for nothing at all."""
    if isinstance(default, bool):
        return "yes" if default else "no"
    if default is None or (isinstance(default, str | tuple | list | frozenset | set) and not default):
        return "none"
    if isinstance(default, tuple | list | frozenset | set):
        return joined(sorted(map(str, default)))
    return str(default)


def every(things: Iterable[Any], holds: Callable[[Any], Any]) -> bool:
    """Whether `holds` is true of all of them.

    Unlike `all`, one of which it is false decides even when another could not
    be told; when none is false and one could not be told, that one is missing.
    """
    return not some(things, lambda thing: not holds(thing))


def some(things: Iterable[Any], holds: Callable[[Any], Any]) -> bool:
    """Whether `holds` is true of one of them at least.

    Unlike `any`, one of which it is true decides even when an earlier one could
    not be told; when none is true and one could not be told, that one is missing.
    """
    untold: list[Missing | Gap] = []
    for thing in things:
        try:
            if holds(thing):
                for one in untold:
                    if isinstance(one, Missing):
                        one.forgive()
                return True
        except (Missing, Gap) as error:
            untold.append(error)
    if untold:
        for one in untold[1:]:  # the first stands for all of them; whoever can do without it forgives it
            if isinstance(one, Missing):
                one.forgive()
        raise untold[0]
    return False


def certain(seen: View, name: str) -> Any:
    """The fact `name` when it is certain, else the rule does not apply.

    For rules that hold a fact against itself, where a doubt is asked about elsewhere.
    """
    value = for_words(seen, name)
    only_if(value is not None)
    return value


def for_words(seen: View, name: str) -> Any:
    """The fact `name` when it is certain, else None; for the wording of a sentence.

    Never decides whether there is a defect; it may choose which of two rules
    names it, as old work and new are graded apart.

    Opens no worlds and ends no run.
    """
    fact = item_of(seen).data.get(name)
    if fact is None or (isinstance(fact, Fact) and fact.kind != EXACT):
        return None
    return getattr(seen, name)
