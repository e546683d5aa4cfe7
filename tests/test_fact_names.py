"""Misspelt facts in Python rules are refused at load; what cannot be known by reading is left to the run."""

from __future__ import annotations

import textwrap
from pathlib import Path

import pytest

from asfound.judge.rules import BadRule
from asfound.kit import fact_names
from asfound.kit.fact_names import check_fact_names, misspelt
from asfound.plugins import collect

COLLECTED = collect()
HEAD = '''\
from asfound.authoring import by_size, certain, every, for_words, given, names, noted, only_if, rule, some

LIMIT = 3


def helper(item):
    return item


@rule(
    "invented-rule",
    of="box",
    severity="negligible",
    likelihood="remote",
    caution="Notice: an invented rule.",
    defer="The adopted local code and a licensed electrician decide.",
    source="common practice, no source",
    basis="common practice",
)
def invented_rule(box, tables, site):
    """An invented rule."""
'''


def load(folder: Path, body: str) -> None:
    path = folder / "own.py"
    path.write_text(HEAD + textwrap.indent(textwrap.dedent(body), "    "))
    collect([path])


@pytest.mark.parametrize(
    ("body", "said"),
    [
        pytest.param('yield box.covr', "'covr' on a box; did you mean 'cover'", id="of the item"),
        pytest.param("only_if(noted(box, 'covr'))\nyield ''", "'covr' on a box; did you mean 'cover'", id="where it is noted"),
        pytest.param("yield str(site.bilt)", "'bilt' on a site; did you mean 'built'", id="of the site"),
        pytest.param("only_if(box.metl)\nyield ''", "'metl' on a box", id="in a condition"),
        pytest.param("for c in box.conductors:\n    yield c.gage", "'gage' on a conductor; did you mean 'gauge'", id="in a loop"),
        pytest.param("for c in box.conductors:\n    for b in c.breakers:\n        yield b.ampz", "'ampz' on a breaker", id="in an inner loop"),
        pytest.param("yield names(c for c in box.conductors if c.colr)", "'colr' on a conductor", id="in a comprehension"),
        pytest.param("yield str([d.knd for j in box.joints for d in box.devices])", "'knd' on a device", id="in its second loop"),
        pytest.param("yield box.conductors[0].cable.methd", "'methd' on a cable", id="by way of two items"),
        pytest.param("first = box.conductors[0]\nyield first.mettal", "'mettal' on a conductor", id="by a name"),
        pytest.param("held = by_size(box.conductors)\nyield held[-1].gage", "'gage' on a conductor", id="by a sorted list"),
        pytest.param("for c in [*box.conductors, *box.passing]:\n    yield c.gage", "'gage' on a conductor", id="in two lists"),
        pytest.param("for c in (x for x in box.conductors if x.gauge):\n    yield c.gage", "'gage' on a conductor", id="in a list of some"),
        pytest.param("if some(box.conductors, lambda c: c.gage):\n    yield ''", "'gage' on a conductor", id="in some"),
        pytest.param("if not every(box.joints, lambda j: j.holdz):\n    yield ''", "'holdz' on a joint", id="in every"),
        pytest.param('yield given(box, "added_volme", 0)', "'added_volme' on a box; did you mean 'added_volume'", id="in given"),
        pytest.param('yield for_words(box.conductors[0], "breakrs")', "'breakrs' on a conductor", id="in for_words"),
        pytest.param('yield f"{box.words}: {box.covr}"', "'covr' on a box", id="in a sentence"),
        pytest.param("x = box.conductors if LIMIT else box.passing\nyield x[0].gage", "'gage' on a conductor", id="either of two alike"),
    ],
)  # fmt: skip
def test_a_misspelt_fact_is_an_error_at_load(tmp_path: Path, body: str, said: str) -> None:
    """With file, line, rule and the nearest name, before any record is read."""
    with pytest.raises(BadRule) as error:
        load(tmp_path, body)
    assert f"no fact named {said}" in str(error.value)
    line = len(HEAD.splitlines()) + 1
    assert (
        f"{tmp_path / 'own.py'} line {line}" in str(error.value)
        or f"line {line + 1}" in str(error.value)
        or f"line {line + 2}" in str(error.value)
    )
    assert "rule 'invented-rule'" in str(error.value)


@pytest.mark.parametrize(
    "body",
    [
        pytest.param("yield box.cover + box.tag + box.words + box.kind_of_item", id="facts and what every item has"),
        pytest.param("yield str(box.__class__)", id="names of Python"),
        pytest.param("box = box.conductors[0]\nyield box.gauge", id="a name used for another thing"),
        pytest.param("thing = box\nthing = box.conductors[0]\nyield thing.gauge", id="a name bound twice"),
        pytest.param("for box in box.conductors:\n    yield box.gauge", id="a loop over the name itself"),
        pytest.param("thing = helper(box).conductors\nyield thing.anything", id="what a function gives"),
        pytest.param("yield box.cover.upper()", id="a method of a value"),
        pytest.param("yield box.conductors.count", id="an attribute of a list"),
        pytest.param("given = helper\nyield given(box, 'no_fact', 0)", id="given is another function"),
        pytest.param("some = helper\nyield some(box.conductors, lambda c: c.no_fact)", id="some is another function"),
        pytest.param("try:\n    yield box.no_fact\nexcept AttributeError:\n    yield ''", id="caught"),
        pytest.param("yield str([box.gauge for box in box.conductors])", id="a loop in a list over the name itself"),
        pytest.param("yield str([c.anything for c, _ in zip(box.conductors, box.cables)])", id="pairs"),
        pytest.param("ask = lambda box: box.anything\nyield str(ask)", id="a parameter of a lambda"),
        pytest.param("def inner(box):\n    return box.anything\nyield str(inner)", id="a parameter of an inner function"),
        pytest.param("while box := helper(box):\n    yield box.anything", id="bound by a walrus"),
        pytest.param("with helper(box) as box:\n    yield box.anything", id="bound by with"),
        pytest.param("box, other = helper(box), 1\nyield box.anything", id="bound in a pair"),
        pytest.param("match box:\n    case [*box]:\n        yield box.anything", id="bound by match"),
        pytest.param("import math as box\nyield box.anything", id="bound by import"),
        pytest.param("del box\nyield box.anything", id="deleted"),
        pytest.param("x = box.conductors[0] if LIMIT else box.joints[0]\nyield x.anything", id="either of two unlike"),
        pytest.param("x = x if LIMIT else box\nyield x.anything", id="bound by itself"),
        pytest.param("yield box.cover if hasattr(box, 'anything') else ''", id="hasattr"),
    ],
)  # fmt: skip
def test_what_is_right_or_not_known_is_let_through(tmp_path: Path, body: str) -> None:
    """Never a false alarm: where a name can stand for something else, the run decides."""
    load(tmp_path, body)


def test_every_built_in_rule_passes() -> None:
    """Held here, so that starting does not have to."""
    check_fact_names(COLLECTED.rules)
    assert len(COLLECTED.rules) >= 173


def test_facts_of_nearly_every_built_in_rule_are_looked_at(monkeypatch: pytest.MonkeyPatch) -> None:
    """With a catalogue that knows no fact at all, the reading finds one to complain of in the built-in rules."""
    monkeypatch.setattr(fact_names, "_is_fact", lambda kind, name: False)
    looked_at = [rule.name for rule in COLLECTED.rules if next(misspelt(rule), None)]
    assert len(looked_at) >= 0.85 * len(COLLECTED.rules)


def test_a_rule_without_source_is_left_to_the_run() -> None:
    """A function that no file holds is not read."""
    space: dict[str, object] = {"__name__": "made"}
    exec(compile(HEAD + "    yield box.covr\n", "/nowhere/made.py", "exec"), space)
    check_fact_names([space["invented_rule"].asfound_rule])  # type: ignore[attr-defined]
