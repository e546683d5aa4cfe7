"""Which ways the conditions of a rule in YAML went, in the terms of those of a rule in Python.

The library of the expression language is loaded only for a rule that is written in it.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from typing import Any

from asfound.judge.rules import Rule
from asfound.kit.prove_branches import Condition, Went


def _is_form(rule: Rule) -> bool:
    return rule.file.suffix != ".py"


@contextmanager
def watched_form(rule: Rule) -> Iterator[list[Any]]:
    """While it lasts, the expressions that a rule in YAML runs are added to the list; stays empty for one in Python."""
    if not _is_form(rule):
        yield []
        return
    from asfound.kit.forms_run import watched

    with watched() as told:
        yield told


def conditions_of_form(rule: Rule) -> list[Condition]:
    """The conditions of a rule in YAML, in the order in which they are written; none for one in Python."""
    if not _is_form(rule):
        return []
    from asfound.kit.forms import form_of

    form = form_of(rule)
    return [] if form is None else [condition_of(rule, one) for one in form.conditions()]


def condition_of(rule: Rule, expression: Any) -> Condition:
    """An expression of a rule in YAML as a condition."""
    sort = "only_if" if expression.part.startswith("only_if") else "when"
    text = " ".join(expression.text.split())
    return Condition(rule.file, expression.line, 0, sort, text, expression.part)


def told_in(rule: Rule, told: Iterable[Any]) -> Went:
    """The ways the conditions went, in what was heard of a rule in YAML."""
    went = Went()
    known = set(conditions_of_form(rule))
    for one in told:
        condition = condition_of(rule, one.expression)
        if condition in known and isinstance(one.value, bool):
            went.ways.setdefault(condition, set()).add(one.value)
    return went
