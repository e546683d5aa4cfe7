"""What a rule is, and the few words a rule is written with."""

from __future__ import annotations

import inspect
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from asfound.data import data
from asfound.judge.views import Missing, NotHere, Plain, View, item_of, left_out, related, run_of
from asfound.record.facts import EXACT, NOT_RECORDED, Fact

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
    """A rule with everything a report needs to print about it. `run` is the plain function."""

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


class BadRule(Exception):
    """A rule or pack of rules is not usable; the message says which and why."""


def rule(
    name: str,
    *,
    of: str,
    severity: str,
    likelihood: str,
    caution: str,
    defer: str,
    source: str,
    basis: str,
    revision: int = 1,
    since: str = "0.1",
) -> Callable[[RuleFunction], RuleFunction]:
    """Make a function a rule.

    `of` is the kind of item it looks at (see the fact catalogue). `severity` and
    `likelihood` are words of MIL-STD-882E Tables I and II: how bad the credible
    worst is, and how likely as such a thing is usually found. `caution` opens
    with a signal word of ANSI Z535.4. `basis` is `seen in text`, `from memory`
    or `common practice`. Raises `BadRule` when something is missing or unknown.
    """

    def mark(function: RuleFunction) -> RuleFunction:
        made = _make(function, name, of, severity, likelihood, caution, defer, source, basis, revision, since)
        function.asfound_rule = made  # type: ignore[attr-defined]
        return function

    return mark


def _make(
    function: RuleFunction, name: str, of: str, severity: str, likelihood: str, caution: str, defer: str, source: str,
    basis: str, revision: int, since: str,
) -> Rule:  # fmt: skip
    grades = data("grades")
    doc = inspect.getdoc(function) or ""
    title, _, notes = doc.partition("\n")
    wants = tuple(inspect.signature(function).parameters)
    checks = [
        (bool(name) and name == name.lower() and " " not in name, "a name in lower case without spaces"),
        (of in data("facts"), f"of= one of {', '.join(data('facts'))}"),
        (severity in grades["severities"], f"severity= one of {', '.join(grades['severities'])}"),
        (likelihood in grades["likelihoods"], f"likelihood= one of {', '.join(grades['likelihoods'])}"),
        (caution.split(":")[0] in grades["signal_words"], f"a caution opening with {', '.join(grades['signal_words'])}"),
        (bool(defer.strip()), "a deferral to local code and licensed practice"),
        (bool(source.strip()), "a source, or the words common practice, no source"),
        (basis in ("seen in text", "from memory", "common practice"), "basis= seen in text, from memory or common practice"),
        (bool(title.strip()), "a docstring whose first line is its title"),
        (bool(wants), "a first parameter for the item it looks at"),
        (set(wants[1:]) <= {"tables", "site"}, "no parameters besides the item, tables and site"),
    ]  # fmt: skip
    for good, need in checks:
        if not good:
            raise BadRule(f"rule {name!r} in {function.__code__.co_filename} needs {need}")
    module = function.__module__.split(".")
    return Rule(
        name=name, of=of, title=title.strip().rstrip("."), notes=inspect.cleandoc(notes), topic=module[-2] if len(module) > 2 else module[-1],
        severity=severity, likelihood=likelihood, caution=caution, defer=defer, source=source, basis=basis,
        revision=revision, since=since, run=function, wants=wants[1:], file=Path(function.__code__.co_filename),
        line=function.__code__.co_firstlineno,
    )  # fmt: skip


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
    run = run_of(seen)
    before = run.missing
    try:
        return getattr(seen, name)
    except Missing as missing:
        if missing.fact.note != NOT_RECORDED.note:
            raise
        run.missing = before
        run.reads.pop()  # the read that ended in Missing; noted again with what it is taken as
        note = f"{missing.fact.note}; taken as {otherwise}"
        run.reads.append((item_of(seen), name, Fact(missing.fact.kind, (), note=note, place=missing.fact.place)))
        return otherwise


def for_words(seen: View, name: str) -> Any:
    """The fact `name` when it is certain, else None; for the wording of a sentence, never for its decision.

    Opens no worlds and ends no run.
    """
    fact = item_of(seen).data.get(name)
    if fact is None or (isinstance(fact, Fact) and fact.kind != EXACT):
        return None
    return getattr(seen, name)
