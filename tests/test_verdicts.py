"""A rule keeps its revision: verdicts recorded for every case of every rule, and what is said when one changes.

To renew the file of the built-in rules: `python tests/test_verdicts.py`. It refuses while a verdict has
changed under the same revision.
"""

from __future__ import annotations

import sys
from collections.abc import Iterator
from dataclasses import replace
from functools import cache
from pathlib import Path

import pytest

import asfound_rules
from asfound.judge.cases import read_cases
from asfound.judge.rules import BadRule, Defect, Rule, only_if
from asfound.judge.tables import TableSet
from asfound.kit.making import newest
from asfound.kit.packs import LOCK, in_use
from asfound.kit.verdicts import (
    Held,
    Recorded,
    Verdicts,
    fingerprints_text,
    held_against,
    read_verdicts,
    unraised,
    verdicts_now,
    verdicts_text,
)
from asfound.plugins import Collected, collect

HOME = Path(asfound_rules.__file__).parent
FILE = HOME / LOCK
RENEW = "a case, rule or revision is new: run python tests/test_verdicts.py"


@cache
def built_in() -> tuple[Collected, TableSet, str]:
    """The built-in rules with their tables, and the date of the newest edition."""
    collected = collect()
    rules = tuple(rule for rule in collected.rules if HOME in rule.file.parents)
    tables = tuple(table for table in collected.tables if HOME in table.file.parents)
    day = newest(tables)
    return Collected(rules, tables), TableSet(tables, day), day


def retired() -> list[str]:
    return [one.rule for pack in in_use() if pack.folder == HOME for one in pack.retired]


def against_file() -> Held:
    collected, tables, day = built_in()
    return held_against(collected.rules, tables, day, read_verdicts(FILE), retired(), LOCK)


# -- the built-in rules


def test_no_verdict_of_a_built_in_rule_changed_under_its_revision() -> None:
    """Raise revision= of the rule, or put the rule or its table right; then renew the file."""
    assert against_file().failures == ()


def test_recorded_verdicts_are_those_of_today() -> None:
    """A new case, rule or revision is recorded: run python tests/test_verdicts.py."""
    collected, tables, day = built_in()
    assert FILE.read_text(encoding="utf-8") == fingerprints_text(collected.rules, tables, day), RENEW


def test_every_case_of_every_built_in_rule_is_recorded() -> None:
    """As many as there are cases that differ in facts or date, under the revision the rule has."""
    recorded = read_verdicts(FILE)
    for rule in built_in()[0].rules:
        assert list(recorded[rule.name]) == [rule.revision]
        assert len(recorded[rule.name][rule.revision]) == len(read_cases(rule))


def test_file_of_a_pack_gives_the_cases_back(tmp_path: Path) -> None:
    """Written out and read again, every case of every built-in rule has the same key, story, date and verdict."""
    collected, tables, day = built_in()
    now: Verdicts = {rule.name: {rule.revision: verdicts_now(rule, tables, day)} for rule in collected.rules}
    file = tmp_path / LOCK
    file.write_text(verdicts_text(now), encoding="utf-8")
    again = read_verdicts(file)
    assert {name: {number: [replace(one, line=0) for one in held] for number, held in revisions.items()}
            for name, revisions in again.items()} == now  # fmt: skip


# -- what is said of a change


def taped(least: float = 6, revision: int = 1) -> Rule:
    """The built-in rule about short free conductors, with another limit or revision."""
    rule = built_in()[0].rule("free-conductors-short")

    def run(box: object, tables: object) -> Iterator[Defect | str]:
        only_if(box.joints or box.devices)  # type: ignore[attr-defined]
        if box.free_length < least:  # type: ignore[attr-defined]
            yield f"{box} is short."

    return replace(rule, run=run, revision=revision)


@pytest.fixture
def recorded(tmp_path: Path) -> Path:
    """The file of a pack with the verdicts of the rule as it first was."""
    _, tables, day = built_in()
    file = tmp_path / LOCK
    file.write_text(verdicts_text(held_against([taped()], tables, day, {}, (), LOCK).verdicts))
    return file


def against(file: Path, *rules: Rule, gone: tuple[str, ...] = ()) -> Held:
    _, tables, day = built_in()
    return held_against(rules, tables, day, read_verdicts(file), gone, LOCK)


def test_the_same_rule_passes(recorded: Path) -> None:
    """Nothing fails and nothing is new; the file would be written as it is."""
    held = against(recorded, taped())
    assert (held.failures, held.added) == ((), 0)
    assert verdicts_text(held.verdicts) == recorded.read_text()


def test_a_changed_verdict_asks_for_a_revision(recorded: Path) -> None:
    """Rule, case, both verdicts, the line of the record and the revision to write."""
    failures = against(recorded, taped(least=4.5)).failures
    assert failures
    said = failures[0]
    line = int(said.partition(f"({LOCK} line ")[2].partition(")")[0])
    why = said.partition("case '")[2].partition("'")[0]
    assert f"why: {why}" in recorded.read_text().splitlines()[line - 1]
    assert "free-conductors-short" in said
    assert "and now it is 'clear'" in said
    assert "write revision=2" in said


def test_what_fails_can_be_asked_by_itself(recorded: Path, tmp_path: Path) -> None:
    """Of a file that is there; of one that is not, nothing fails."""
    _, tables, day = built_in()
    assert unraised([taped()], tables, day, recorded) == ()
    assert unraised([taped(least=4.5)], tables, day, recorded) == against(recorded, taped(least=4.5)).failures
    assert unraised([taped(least=4.5)], tables, day, tmp_path / "none.yaml") == ()


def test_a_raised_revision_is_recorded_beside_the_first(recorded: Path) -> None:
    """The verdicts of the first stay as they were."""
    held = against(recorded, taped(least=4.5, revision=2))
    assert held.failures == ()
    assert held.added > 5
    first, second = held.verdicts["free-conductors-short"].values()
    assert {one.verdict for one in first} > {"clear"}
    assert [one.key for one in first] == [one.key for one in second]
    assert [one.verdict for one in first] != [one.verdict for one in second]
    assert recorded.read_text().rstrip() in verdicts_text(held.verdicts)


def test_a_severity_is_part_of_the_verdict(recorded: Path) -> None:
    """Another grade for the same thing is another verdict."""
    assert against(recorded, replace(taped(), severity="catastrophic")).failures


def test_a_wording_is_no_part_of_the_verdict(recorded: Path) -> None:
    rule = replace(taped(), title="Other words", caution="Notice: other words.", source="elsewhere")
    assert against(recorded, rule).failures == ()


def test_a_revision_never_goes_down(recorded: Path) -> None:
    held = against(recorded, taped(revision=2))
    recorded.write_text(verdicts_text(held.verdicts))
    (said,) = against(recorded, taped(revision=1)).failures
    assert "is revision 1" in said
    assert "write revision=3" in said


def test_a_case_that_was_deleted_is_tried_all_the_same(recorded: Path) -> None:
    """The record holds its facts: taking the case out of the file of cases does not hide a changed verdict."""
    verdicts = read_verdicts(recorded)
    (held,) = verdicts["free-conductors-short"].values()
    one = held[0]
    facts = {"box": {"tag": "gone", "free_length": 5.75, "joints": [{"tag": "J1"}]}}
    text = verdicts_text({"free-conductors-short": {1: [Recorded("", "gone", "", one.judged, facts, one.verdict)]}})
    recorded.write_text(text)
    assert against(recorded, taped()).failures == ()
    (said,) = against(recorded, taped(least=5.5)).failures
    assert "case 'gone'" in said


@pytest.mark.parametrize(
    ("change", "words"),
    [
        pytest.param("free_length: -> fre_length:", "no fact named 'fre_length'", id="a fact that is no more"),
        pytest.param("box: { -> joint: {", "the rule looks at a box", id="another kind of item"),
    ],
)
def test_a_recorded_case_that_cannot_be_read_fails(recorded: Path, change: str, words: str) -> None:
    before, _, after = change.partition(" -> ")
    text = recorded.read_text()
    assert before in text
    recorded.write_text(text.replace(before, after))
    failures = against(recorded, taped()).failures
    assert failures
    assert all(words in said for said in failures if "recorded as" in said)


def test_a_rule_that_is_gone_is_named_as_retired(recorded: Path) -> None:
    (said,) = against(recorded).failures
    assert "free-conductors-short" in said
    assert "under retired" in said
    held = against(recorded, gone=("free-conductors-short",))
    assert held.failures == ()
    assert verdicts_text(held.verdicts) == recorded.read_text()


@pytest.mark.parametrize(
    "text",
    [
        pytest.param("verdicts: 1\nrules: {a: {x: []}}\n", id="a revision that is no number"),
        pytest.param("verdicts: 1\nrules: [a]\n", id="rules as a list"),
        pytest.param("verdicts: 1\n", id="no rules"),
        pytest.param("verdicts: 1\nrules: {a: {1: [{why: x}]}}\n", id="a case without a verdict"),
        pytest.param("{", id="no YAML"),
        pytest.param("", id="empty"),
    ],
)
def test_a_record_of_bad_form_is_refused(tmp_path: Path, text: str) -> None:
    """With its name and what to do; never a trace of the program."""
    file = tmp_path / LOCK
    file.write_text(text)
    with pytest.raises(BadRule) as refused:
        read_verdicts(file)
    assert str(file) in str(refused.value)
    assert "take back the file as it was" in str(refused.value)


def test_no_file_holds_no_verdicts(tmp_path: Path) -> None:
    assert read_verdicts(tmp_path / LOCK) == {}


def renew() -> str:
    """Write the file of the built-in rules again, unless a verdict changed under its revision; says what it did."""
    failures = against_file().failures
    if failures:
        return "\n".join([*failures, "Nothing was written."])
    collected, tables, day = built_in()
    FILE.write_text(fingerprints_text(collected.rules, tables, day), encoding="utf-8")
    return f"Wrote {FILE.name} for {len(collected.rules)} rules."


if __name__ == "__main__":
    said = renew()
    sys.exit(said if "Nothing was written" in said else None)
