"""What every built-in rule promises, held against its own cases.

The cases stand beside the rules; they are read and run here by the same code that prints them on a
rule's page. Signal words: ANSI Z535.4 (2007, 2011), whose CAUTION and NOTICE leave out death and
serious injury, so that a shock at 120 V is never either of them (read in text).
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from functools import cache
from pathlib import Path

import pytest

import asfound_rules
from asfound.judge.cases import Case, read_cases, reads_of, try_case
from asfound.judge.rules import BadRule, Rule
from asfound.judge.tables import Table, TableSet
from asfound.kit.prove import (
    DOUBT,
    FOR_EACH_CASE,
    PROMISES,
    SENTENCES,
    TITLE,
    WAYS,
    Proof,
    Trouble,
    beside_rules,
    prove,
)
from asfound.plugins import collect
from asfound.render.rulepage import WIDTH, rule_page
from records import TODAY

pytestmark = pytest.mark.uncounted
"""The proof follows every branch of a rule itself."""

HOME = Path(asfound_rules.__file__).parent
COLLECTED = collect()
RULES = [rule for rule in COLLECTED.rules if HOME in rule.file.parents]
BUILT_IN_TABLES = [table for table in COLLECTED.tables if HOME in table.file.parents]
TABLES = TableSet(COLLECTED.tables, TODAY)

every_rule = pytest.mark.parametrize("rule", [pytest.param(rule, id=rule.name) for rule in RULES])


@cache
def cases_of(rule: Rule) -> tuple[Case, ...]:
    """The cases of a rule; none when they cannot be read, which a test of its own reports."""
    try:
        return tuple(read_cases(rule))
    except BadRule:
        return ()


@cache
def tables_of(rule: Rule) -> frozenset[str]:
    """The tables whose rows a rule reads in its cases."""
    return frozenset(reads_of(rule, TABLES)[1] if cases_of(rule) else ())


TRACED_ONLY = {
    "called-dead-without-proof",
    "instrument-check-out-of-date",
    "instrument-rating-too-low",
    "log-out-of-order",
    "photograph-holds-location",
    "photograph-not-as-taken",
    "photograph-of-another-day",
    "photograph-unreadable",
    "two-breakers-one-net",
}
"""Rules whose facts come from the log, the trace and the files of photographs alone, where nobody writes a doubt."""
ASKED_FOR_A_MISSING_FACT = {"metal-load-without-ground"}
"""Rules with a condition that cannot be false where it stands; it is there to ask for the fact where it is missing."""


@cache
def proof_of(rule: Rule) -> Proof:
    """Everything the cases of a rule show: the same that `asfound rule test` prints."""
    return prove(rule, TABLES)


def told(troubles: Iterable[Trouble]) -> list[str]:
    """What is wrong, in words; nothing when all is kept."""
    return [f"{one.file.name} line {one.line}: {one.cause}; {one.step} {one.beside or ''}" for one in troubles]


# -- every promise


@pytest.mark.parametrize(
    ("rule", "number"),
    [
        pytest.param(rule, number, id=f"{rule.name}: {case.why}")
        for rule in RULES
        for number, case in enumerate(cases_of(rule))
    ],
)
def test_case_keeps_what_is_promised_of_each(rule: Rule, number: int) -> None:
    """It comes out as it says, word for word and as sure; no fact left out of it clears it; the record is unchanged."""
    assert not told(one for one in proof_of(rule).cases[number].troubles if one.grave)


@every_rule
@pytest.mark.parametrize("promise", [one for one in PROMISES if one not in FOR_EACH_CASE])
def test_rule_keeps_its_promise(rule: Rule, promise: str) -> None:
    """Cases in all three lists, none twice, every fact read, every condition both ways, and what is printed with it."""
    broken = [one for one in proof_of(rule).troubles if one.grave and one.promise == promise]
    assert not told(one for one in broken if not excused(one))


def excused(one: Trouble) -> bool:
    """Whether a trouble is the one that some built-in rules are known to have."""
    return one.promise == WAYS and one.rule in ASKED_FOR_A_MISSING_FACT


def test_nothing_is_excused_that_is_kept() -> None:
    """The list of what is known to be broken holds nothing else."""
    broken = {one.rule for rule in RULES for one in proof_of(rule).troubles if one.grave and one.promise == WAYS}
    assert broken == ASKED_FOR_A_MISSING_FACT


@every_rule
@pytest.mark.parametrize("promise", [TITLE, SENTENCES, DOUBT])
def test_rule_leaves_nothing_open(rule: Rule, promise: str) -> None:
    """Of the built-in rules more is asked: limits told in the notes, no leftovers in a sentence, doubt told by a case."""
    if promise != DOUBT or rule.name not in TRACED_ONLY:
        assert not told(one for one in proof_of(rule).all_troubles if one.promise == promise)


def test_files_of_rules_hold_nothing_unreached() -> None:
    """No cases without a rule, and the functions beside the rules reached in every line and condition."""
    assert not told(beside_rules([proof_of(rule) for rule in RULES]))


def test_every_helper_is_watched() -> None:
    """No file of a topic is left out of the measure."""
    reached = {file for rule in RULES for file in proof_of(rule).went.lines}
    assert {file for file in HOME.glob("*/*.py") if file.name != "__init__.py"} == reached


COMPARES = {
    "conductor-too-small": (r"([0-9.]+) A \S.* AWG .*?([0-9.]+) A", "equal to the limit is allowed"),
    "box-overfull": (r"need ([0-9.]+) in³ .* has ([0-9.]+) in³", "exactly full"),
    "switch-box-without-neutral": (r"wiring of ([0-9]{4}),.* since ([0-9]{4})", "first year in which one is expected"),
    "grounded-not-white": (r", ([0-9/]+) AWG, .*(?:below|from) ([0-9/]+) AWG", "4 AWG with white tape"),
    "grounding-not-green": (r", ([0-9/]+) AWG, .*(?:below|from) ([0-9/]+) AWG", "4 AWG with green tape"),
}
"""Rules that compare two numbers: how their sentence carries both, and the case at the edge."""


@pytest.mark.parametrize("name", sorted(COMPARES))
def test_sentence_carries_both_numbers(name: str) -> None:
    """The number found and the number it is held against stand in every sentence, and a case stands at the edge."""
    rule = COLLECTED.rule(name)
    pattern, edge = COMPARES[name]
    assert edge in {case.why for case in cases_of(rule)}
    for case in cases_of(rule):
        for said in [one.statement for one in try_case(rule, case, TABLES).results.findings]:
            assert re.search(pattern, said), said


# -- editions


@pytest.mark.parametrize(
    "table", [pytest.param(t, id=t.name) for t in BUILT_IN_TABLES if len({repr(e.rows) for e in t.editions}) > 1]
)
def test_editions_that_differ_have_cases(table: Table) -> None:
    """Where an edition changed a figure, some case is judged by an older one."""
    first, last = table.editions[0].effective, table.editions[-1].effective
    dated = [case.as_of for rule in RULES if table.name in tables_of(rule) for case in cases_of(rule) if case.as_of]
    assert any(first <= date < last for date in dated)


# -- tables


@pytest.mark.parametrize("table", [pytest.param(table, id=table.name) for table in BUILT_IN_TABLES])
def test_table_editions_say_where_they_come_from(table: Table) -> None:
    """Unit, key, dated editions in order with name, source and how checked; remembered rows are rows."""
    assert table.unit
    assert table.key
    dates = [edition.effective for edition in table.editions]
    assert dates == sorted(set(dates))
    assert dates
    for edition in table.editions:
        assert edition.name
        assert edition.source
        assert edition.basis
        assert edition.rows
        assert edition.from_memory <= set(edition.rows), sorted(edition.from_memory - set(edition.rows))


def test_every_table_is_read() -> None:
    """No table that no case reaches."""
    read = {name for rule in RULES for name in tables_of(rule)}
    assert {table.name for table in BUILT_IN_TABLES} == read


# -- the page of a rule


@every_rule
def test_page_shows_every_case_within_its_width(rule: Rule) -> None:
    """Every story, every sentence and every missing fact's remedy, in lines of 80 characters."""
    page = rule_page(rule, TABLES)
    assert max(map(len, page.splitlines())) <= WIDTH
    flat = " ".join(page.split())
    for case in cases_of(rule):
        assert case.why[1:] in flat
        assert all(f'"{said}"' in flat for said in case.says)
        for one in try_case(rule, case, TABLES).results.cannot_tell:
            assert one.observe in flat or one.missing == "a table row"
    for part in (rule.caution, rule.defer, rule.source, rule.title):
        assert part in flat
