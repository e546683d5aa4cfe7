"""What every built-in rule promises, held against its own cases.

The cases stand beside the rules; they are read and run here by the same code that prints them on a
rule's page. Signal words: ANSI Z535.4 (2007, 2011), whose CAUTION and NOTICE leave out death and
serious injury, so that a shock at 120 V is never either of them (read in text).
"""

from __future__ import annotations

import ast
import inspect
import io
import json
import re
from collections.abc import Iterable, Iterator
from functools import cache
from pathlib import Path
from typing import Any

import coverage
import pytest

import asfound_rules
from asfound.data import data
from asfound.judge.cases import LISTS, Case, Tried, cases_file, read_cases, reads_of, try_case
from asfound.judge.results import risk_of
from asfound.judge.rules import BadRule, Rule
from asfound.judge.tables import Table, TableSet
from asfound.judge.views import facts_of
from asfound.load import load_file
from asfound.plugins import collect
from asfound.record.facts import Fact, Item
from asfound.render.rulepage import WIDTH, rule_page
from records import TODAY

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


def every_case(*lists: str) -> pytest.MarkDecorator:
    """Every case in these lists, named by its rule and story."""
    found = [
        pytest.param(rule, case, id=f"{rule.name}: {case.why}")
        for rule in RULES
        for case in cases_of(rule)
        if case.list in lists
    ]
    return pytest.mark.parametrize(("rule", "case"), found)


def statements(tried: Tried) -> list[str]:
    return [finding.statement for finding in tried.results.findings]


# -- the cases hold


@every_rule
def test_cases_stand_beside_the_rule(rule: Rule) -> None:
    """Cases in all three lists, none skipped on reading, and none for a rule that is not there."""
    root = load_file(cases_file(rule)).root
    read = read_cases(rule)
    for name in LISTS:
        held = root[rule.name][name]
        assert len(held) == sum(case.list == name for case in read) >= 1, f"{rule.name}, {name}"
    beside = {other.name for other in RULES if other.file == rule.file}
    assert set(root) == beside


@every_case("finds")
def test_finds_in_these_words(rule: Rule, case: Case) -> None:
    """Every sentence word for word, in order, as sure as the case says."""
    tried = try_case(rule, case, TABLES)
    assert statements(tried) == list(case.says)
    assert {finding.certainty for finding in tried.results.findings} == {case.certainty or "confirmed"}


@every_case("clear")
def test_clear_stays_clear(rule: Rule, case: Case) -> None:
    """Clear or not concerned, with nothing found and nothing asked."""
    tried = try_case(rule, case, TABLES)
    assert tried.outcome in ("clear", "does not apply")
    assert not statements(tried)
    assert not tried.results.cannot_tell


@every_case("cannot tell")
def test_cannot_tell_names_what_is_missing(rule: Rule, case: Case) -> None:
    """Neither a defect nor clear; exactly the missing fact is named, with a reason."""
    tried = try_case(rule, case, TABLES)
    assert tried.outcome == "cannot tell"
    assert {one.missing for one in tried.results.cannot_tell} == {case.missing}
    assert all(one.reason for one in tried.results.cannot_tell)


@every_case(*LISTS)
def test_case_expects_only_what_its_list_allows(rule: Rule, case: Case) -> None:
    """Sentences in finds, a missing fact in cannot tell, neither in clear."""
    assert bool(case.says) == (case.list == "finds")
    assert bool(case.missing) == (case.list == "cannot tell")
    assert not (case.certainty and case.list != "finds")


def facts_in(item: Item, named: bool = False) -> Any:
    """The facts of a made item as comparable values, without its own tag."""
    held: list[Any] = []
    for name, value in sorted(item.data.items()):
        if isinstance(value, Fact):
            held.append((name, value.kind, value.values, value.how))
        else:
            listed = (value,) if isinstance(value, Item) else value
            held.append((name, tuple(facts_in(one, named=True) for one in listed)))
    return (item.tag if named else "", tuple(held))


@every_rule
def test_no_case_is_told_twice(rule: Rule) -> None:
    """Two cases of a rule differ in their facts or in their date."""
    seen: dict[Any, str] = {}
    for case in cases_of(rule):
        key = (repr(facts_in(case.item)), repr(facts_in(case.site)), case.as_of)
        assert key not in seen, f"{case.why!r} repeats {seen.get(key)!r}"
        seen[key] = case.why


# -- nothing missing makes a defect go away


def removable(item: Item) -> Iterator[tuple[Item, str]]:
    """Every fact of an item and of what it holds; of related items only those that a person has to trace."""
    for name, held in list(item.data.items()):
        if isinstance(held, Fact) or "observe" in facts_of(item.kind)[name]:
            yield item, name
        if not isinstance(held, Fact):
            for one in (held,) if isinstance(held, Item) else held:
                yield from removable(one)


@every_case("finds")
def test_a_missing_fact_never_clears(rule: Rule, case: Case) -> None:
    """Without any one of its facts it is still a defect, cannot be told or is not concerned.

    Only a fact read with `given` may be absent and mean something, and then the evidence says so.
    """
    for item, name in list(removable(case.item)):
        held = item.data.pop(name)
        try:
            tried = try_case(rule, case, TABLES)
        finally:
            item.data[name] = held
        taken = any(
            other is item and read == name and "; taken as " in fact.note
            for world in tried.explored.worlds
            for other, read, fact in world.reads
        )
        assert tried.outcome != "clear" or taken, f"without {name} of {item.tag} it is clear"
        assert tried.outcome in ("defect", "possible", "cannot tell", "does not apply", "clear")


# -- every line of a rule is reached by its own cases


def body_lines(function: Any) -> tuple[int, int]:
    """First and last line of the body of a function, without its docstring."""
    lines, start = inspect.getsourcelines(function)
    tree = ast.parse(inspect.cleandoc("\n" + "".join(lines)) if lines[0].startswith(" ") else "".join(lines))
    (made,) = tree.body
    assert isinstance(made, ast.FunctionDef)
    body = made.body[1:] if ast.get_docstring(made) else made.body
    return start + body[0].lineno - 1, start + (made.end_lineno or 0) - 1


def not_reached(file: Path, rules: Iterable[Rule], folder: Path) -> tuple[set[int], set[tuple[int, int]]]:
    """Lines and branches of a file that the cases of these rules do not reach, imports and definitions included."""
    measure = coverage.Coverage(branch=True, data_file=None, config_file=False, include=[str(file)])
    measure.start()
    try:
        for rule in rules:
            for case in cases_of(rule):
                try_case(rule, case, TABLES)
    finally:
        measure.stop()
    report = folder / "coverage.json"
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr("sys.stdout", io.StringIO())
        measure.json_report(morfs=[str(file)], outfile=str(report))
    (held,) = json.loads(report.read_text(encoding="utf-8"))["files"].values()
    return set(held["missing_lines"]), {(one, two) for one, two in held["missing_branches"]}


@every_rule
def test_own_cases_reach_every_line_and_branch(rule: Rule, tmp_path: Path) -> None:
    """The body of the rule, each of its branches taken both ways, by its own cases alone."""
    first, last = body_lines(rule.run)
    lines, branches = not_reached(rule.file, [rule], tmp_path)
    assert not {line for line in lines if first <= line <= last}
    assert not {(one, two) for one, two in branches if first <= one <= last}


@pytest.mark.parametrize(
    "file",
    [
        pytest.param(file, id=str(file.relative_to(HOME)))
        for file in sorted(HOME.glob("*/*.py"))
        if file.name != "__init__.py"
    ],
)
def test_cases_reach_every_helper(file: Path, tmp_path: Path) -> None:
    """The functions beside the rules too, by the cases of all rules together."""
    inside: set[int] = set()
    for node in ast.parse(file.read_text(encoding="utf-8")).body:
        if isinstance(node, ast.FunctionDef):
            body = node.body[1:] if ast.get_docstring(node) else node.body
            inside |= set(range(body[0].lineno, (node.end_lineno or 0) + 1))
    assert inside
    lines, branches = not_reached(file, RULES, tmp_path)
    assert not lines & inside
    assert not {(one, two) for one, two in branches if one in inside}


# -- what is printed with a finding


@every_rule
def test_caution_opens_with_a_fitting_signal_word(rule: Rule) -> None:
    """Danger or Warning wherever the worst is death or lasting injury; never Caution or Notice for a shock."""
    word = rule.caution.split(":")[0]
    assert word in data("grades")["signal_words"]
    printed = f"{rule.caution} {rule.title}"
    if rule.severity in ("catastrophic", "critical") or re.search(r"\b(kill|shock|fire)\b", printed):
        assert word in ("Danger", "Warning")
    assert (word == "Danger") == (risk_of(rule) == "high")


@every_rule
def test_defers_to_local_code_and_licensed_practice(rule: Rule) -> None:
    """Both are named in the deferral that stands with every finding."""
    assert re.search(r"\blocal code\b", rule.defer)
    assert re.search(r"\blicensed (practice|electrician)\b", rule.defer)


@every_rule
def test_says_where_it_comes_from(rule: Rule) -> None:
    """Source, basis, and a docstring whose first line is a title and whose rest says what the rule cannot see."""
    assert rule.source
    assert rule.basis in ("seen in text", "from memory", "common practice")
    assert rule.title
    assert rule.title[0].isupper()
    assert not rule.title.endswith(".")
    assert rule.notes


def printed_by(rule: Rule) -> Iterator[str]:
    """Every text a rule can put before a reader."""
    yield from (rule.title, rule.notes, rule.caution, rule.defer)
    for case in cases_of(rule):
        tried = try_case(rule, case, TABLES)
        yield from (defect.says for world in tried.explored.worlds for defect in world.defects)
        yield from (f"{one.missing} {one.reason} {one.observe}" for one in tried.results.cannot_tell)


@every_rule
def test_promises_no_safety_and_accuses_nobody(rule: Rule) -> None:
    """No text says that something is safe or all clear, or speaks of a violation."""
    for text in printed_by(rule):
        assert not re.search(r"\b(un)?safe(ly)?\b|\ball[ -]clear\b|\bviolat", text, re.IGNORECASE), text


@every_rule
def test_sentences_read_as_sentences(rule: Rule) -> None:
    """One line, a full stop, no doubled blanks, no leftovers of a program."""
    for case in cases_of(rule):
        for said in statements(try_case(rule, case, TABLES)):
            assert said.endswith(".")
            assert said == " ".join(said.split())
            assert not re.search(r"None|\{|\}|<|_|\(\)|, ,|\.\.|[0-9]\.[0-9]{5}", said), said


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
        for said in statements(try_case(rule, case, TABLES)):
            assert re.search(pattern, said), said


# -- doubt and editions


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


@every_rule
def test_doubt_is_told_by_cases(rule: Rule) -> None:
    """A rule shows by a case what becomes of its finding when a fact is doubtful."""
    if rule.name not in TRACED_ONLY:
        assert {"likely", "possible"} & {case.certainty for case in cases_of(rule)}


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
