"""Results: what stays the same when nothing that matters has changed, their order, their form, their grades."""

from __future__ import annotations

import hashlib
import json
import os
import random
import re
import subprocess
import sys
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any

import jsonschema
import jsonschema_rs
import pytest

import houses
from asfound.data import data
from asfound.judge.results import Results, identity_of, in_order, risk_of
from asfound.judge.rules import Rule
from asfound.judge.run import judge
from asfound.judge.tables import TableSet
from asfound.load import load_bytes
from asfound.plugins import Collected, collect
from asfound.render.asdata import RunFacts, as_data
from asfound.survey import read_record
from asfound.trace import trace
from asfound_schemas import schema
from examples import seeds

ROOT = Path(__file__).parent.parent
FIXTURES = ROOT / "fixtures"
AS_OF = "2026-05-20"
SEEDS = seeds(12)
"""Random houses that a test runs through."""


@pytest.fixture(scope="module")
def collected() -> Collected:
    return collect()


def results_of(text: bytes, collected: Collected, name: str = "house.yaml") -> Results:
    return judge(trace(read_record(load_bytes(text, name))), collected.rules, TableSet(collected.tables, AS_OF))


@pytest.fixture(scope="module")
def judged(collected: Collected) -> dict[int, tuple[houses.Record, Results]]:
    """A house of each seed, as made and as judged."""
    made = {seed: houses.house(seed, wild=0.3) for seed in SEEDS}
    return {seed: (house, results_of(houses.as_bytes(house), collected)) for seed, house in made.items()}


def told(results: Results) -> dict[str, tuple[str, str, str, str]]:
    """Every finding by identity: rule, item, certainty and grade. No two findings share an identity."""
    found = {f.identity: (f.rule.name, f.at, f.certainty, f.grade) for f in results.findings}
    assert len(found) == len(results.findings)
    return found


def left_open(results: Results) -> set[tuple[str, str, str]]:
    return {(c.rule.name, c.at, c.missing) for c in results.cannot_tell}


# -- what an identity hangs on


def test_order_of_the_file_changes_no_finding(
    collected: Collected, judged: dict[int, tuple[houses.Record, Results]]
) -> None:
    """Sections, things, ends and terminals in another order: the same findings, as sure, and the same open facts."""
    met = 0
    for seed, (house, before) in judged.items():
        after = results_of(houses.as_bytes(houses.shuffled(house, seed)), collected)
        assert told(after) == told(before), f"seed {seed}"
        assert left_open(after) == left_open(before), f"seed {seed}"
        assert after.counts == before.counts, f"seed {seed}"
        assert not before.failed, f"seed {seed}: {before.failed[:3]}"
        met += len(before.findings)
    assert met > 100, "the houses have to hold something to find"


def test_words_and_comments_change_no_identity(
    collected: Collected, judged: dict[int, tuple[houses.Record, Results]]
) -> None:
    """Comment lines, blank lines, names of places and labels of breakers: identities, items and grades stay."""
    for seed, (house, results) in judged.items():
        before = told(results)
        reworded = json.loads(json.dumps(house))
        reworded["site"]["name"] = "Another invented name"
        for tag, box in reworded["boxes"].items() if "boxes" in reworded else ():
            reworded["boxes"][tag] = {**(box if isinstance(box, dict) else {"kind": box}), "where": f"left of {tag}"}
        for panel in reworded["panels"].values():
            panel["where"] = "cellar"
            for space, held in panel["breakers"].items():
                panel["breakers"][space] = {**(held if isinstance(held, dict) else {"amps": held}), "label": "hall"}
        lines = houses.as_yaml(reworded).splitlines()
        text = "\n".join(line for pair in zip(lines, [""] + ["# a note"] * len(lines), strict=False) for line in pair)
        assert told(results_of(text.encode(), collected)) == before, f"seed {seed}"


def test_a_better_sentence_changes_no_identity(collected: Collected) -> None:
    """Identity is rule, item and cause; what the rule says is not in it."""
    text = houses.as_bytes(houses.house(3, wild=0.5))
    before = results_of(text, collected)
    assert before.findings

    def louder(rule: Rule) -> Rule:
        def run(*arguments: Any) -> Iterator[Any]:
            for said in rule.run(*arguments):
                yield said + " Indeed." if isinstance(said, str) else replace(said, says=said.says + " Indeed.")

        return replace(rule, run=run)

    after = results_of(text, Collected(tuple(map(louder, collected.rules)), collected.tables))
    assert told(after) == told(before)
    assert all(f.statement.endswith("Indeed.") for f in after.findings)


def test_identity_is_rule_item_and_cause() -> None:
    """Worked out here by hand: a change of it would make every old defect new."""
    expected = hashlib.sha256(b"box-overfull\x1fbox hall\x1fcause").hexdigest()[:12]
    assert identity_of("box-overfull", "box hall", [], "cause") == expected
    assert identity_of("r", "a", ["x", "y"], "") == identity_of("r", "a", ["y", "x"], "")
    others = [("s", "a", [], ""), ("r", "b", [], ""), ("r", "a", [], "c"), ("r", "a", ["x"], ""), ("ra", "", [], "")]
    assert len({identity_of("r", "a", [], ""), *(identity_of(*one) for one in others)}) == 6


# -- order


def test_findings_at_one_place_by_one_rule_have_an_order_too(collected: Collected) -> None:
    """Two causes at one place differ in nothing but their identity, and that orders them."""
    found = results_of(houses.as_bytes(houses.house(3, wild=0.5)), collected).findings[0]
    alike = [replace(found, identity=f"{number:012x}") for number in range(20)]
    mixed = Results(findings=random.Random(1).sample(alike, 20))
    in_order(mixed)
    assert mixed.findings == alike


def key_of(one: Any) -> Any:
    return repr(one)


@pytest.mark.parametrize("seed", seeds(3))
def test_order_is_total(seed: int, collected: Collected) -> None:
    """However results come in, they leave in one order: worst and most certain first, questions last."""
    results = results_of(houses.as_bytes(houses.house(seed, cables=40, wild=0.4)), collected)
    ordered = [list(map(key_of, held)) for held in (results.findings, results.cannot_tell, results.failed)]
    rng = random.Random(seed)
    for _ in range(5):
        for held in (results.findings, results.cannot_tell, results.failed):
            rng.shuffle(held)
        in_order(results)
        again = [list(map(key_of, held)) for held in (results.findings, results.cannot_tell, results.failed)]
        assert again == ordered
    grades = data("grades")["grades"]
    ranks = [(f.certainty == "possible", grades.index(f.grade)) for f in results.findings]
    assert ranks == sorted(ranks)


# -- the same bytes every time


def run(file: Path, *options: str, **env: str) -> str:
    paths = os.pathsep.join(str(ROOT / name) for name in ("engine", "rules", "schemas"))
    done = subprocess.run(
        [sys.executable, "-P", "-m", "asfound", "check", str(file), "--as-of", AS_OF, *options],
        capture_output=True, text=True, check=False, env={**os.environ, "PYTHONPATH": paths, **env},
    )  # fmt: skip
    assert done.returncode in (0, 1), done.stderr
    return done.stdout


@pytest.mark.parametrize("form", ["text", "json"])
def test_output_is_the_same_bytes_under_any_hash_seed(form: str, tmp_path: Path) -> None:
    """Sets and dictionaries of strings are ordered anew by every hash seed; nothing of that is seen outside."""
    file = tmp_path / "house.yaml"
    file.write_bytes(houses.as_bytes(houses.house(5, cables=30, wild=0.4)))
    outputs = {run(file, "--format", form, "--all", PYTHONHASHSEED=seed) for seed in ("1", "4242")}
    assert len(outputs) == 1


# -- the form of the data


def data_of(text: bytes, collected: Collected, name: str = "house.yaml") -> dict[str, Any]:
    record = read_record(load_bytes(text, name))
    tables = TableSet(collected.tables, AS_OF)
    results = judge(trace(record), collected.rules, tables)
    facts = RunFacts(AS_OF, "", tuple((rule.name, rule.revision) for rule in collected.rules))
    return json.loads(json.dumps(as_data(record, facts, results)))  # type: ignore[no-any-return]


@pytest.mark.parametrize("wild", [0.1, 0.5, 1.0])
def test_data_keeps_to_its_schema(wild: float, collected: Collected) -> None:
    """Whatever the house, what is printed as JSON has the published form; by the fast validator."""
    validator = jsonschema_rs.Draft202012Validator(schema("findings"))
    for seed in SEEDS:
        made = data_of(houses.as_bytes(houses.house(seed, wild=wild)), collected)
        assert [error.message for error in validator.iter_errors(made)] == [], f"seed {seed}"


@pytest.mark.parametrize("name", ["demo.yaml", "small.yaml"])
def test_data_of_the_fixtures_keeps_to_its_schema(name: str, collected: Collected) -> None:
    """And so does that of the invented records that come with the project, by another validator."""
    made = data_of((FIXTURES / name).read_bytes(), collected, name)
    jsonschema.Draft202012Validator(schema("findings")).validate(made)
    assert made["counts"]["checks"] == sum(made["counts"]["outcomes"].values())
    certain = [f for f in made["findings"] if f["certainty"] != "possible"]
    assert sum(made["counts"]["grades"].values()) == len(certain)
    assert made["counts"]["questions"] == len(made["findings"]) - len(certain)


# -- grades


MATRIX = {
    "frequent": ["high", "high", "serious", "medium"],
    "probable": ["high", "high", "serious", "medium"],
    "occasional": ["high", "serious", "medium", "low"],
    "remote": ["serious", "medium", "medium", "low"],
    "improbable": ["medium", "medium", "medium", "low"],
}
"""MIL-STD-882E, System Safety (2012), Table III, rows A to E, columns 1 to 4; from memory."""
SEVERITIES = ["catastrophic", "critical", "marginal", "negligible"]
"""MIL-STD-882E Table I, categories 1 to 4; names and order seen in text."""


def graded(collected: Collected, severity: str, likelihood: str) -> Rule:
    return replace(collected.rules[0], severity=severity, likelihood=likelihood)


@pytest.mark.parametrize("likelihood", MATRIX)
@pytest.mark.parametrize("column", range(4), ids=SEVERITIES)
def test_risk_of_every_cell(likelihood: str, column: int, collected: Collected) -> None:
    """All 20 cells of MIL-STD-882E Table III; it is no multiplication table."""
    assert risk_of(graded(collected, SEVERITIES[column], likelihood)) == MATRIX[likelihood][column]


@pytest.mark.parametrize("likelihood", ["frequent", "probable", "occasional"])
def test_bare_live_conductor_within_reach_is_high(likelihood: str, collected: Collected) -> None:
    """Electrocution is the credible worst: severity 1, likelihood A to C. MIL-STD-882E Table III applied; from memory."""
    assert risk_of(graded(collected, "catastrophic", likelihood)) == "high"


def test_fourteen_on_twenty_amperes_is_serious(collected: Collected) -> None:
    """Fire can kill, and lightly loaded it is remote: 1D is Serious. MIL-STD-882E Table III applied; from memory."""
    assert risk_of(graded(collected, "catastrophic", "remote")) == "serious"
    rule = collected.rule("conductor-too-small")
    assert (rule.severity, risk_of(rule)) == ("catastrophic", "serious")


def test_certainty_is_kept_apart_from_severity(collected: Collected) -> None:
    """Risk depends on severity and likelihood alone; being less sure never raises a grade, and only doubt lowers it."""
    grades = data("grades")
    order = grades["grades"]
    assert grades["certainties"] == ["confirmed", "likely", "possible"]
    for risk in ("high", "serious", "medium", "low"):
        places = [order.index(grades["grade"][risk][sure]) for sure in grades["certainties"]]
        assert places == sorted(places), risk
        assert places[0] == places[1], "as recorded is dealt with like confirmed"
    for sure in grades["certainties"]:
        places = [order.index(grades["grade"][risk][sure]) for risk in ("high", "serious", "medium", "low")]
        assert places == sorted(places), sure
    for found in results_of(houses.as_bytes(houses.house(5, cables=40, wild=0.4)), collected).findings:
        assert found.risk == MATRIX[found.rule.likelihood][SEVERITIES.index(found.rule.severity)]
        assert found.grade == grades["grade"][found.risk][found.certainty]


TAKEN = {
    "MIL-STD-882E, risk": ["high", "serious", "medium", "low", "eliminated"],
    "MIL-STD-882E, severity": SEVERITIES,
    "MIL-STD-882E, likelihood": [*MATRIX, "eliminated"],
    "ANSI Z535.4": ["danger", "warning", "caution", "notice", "safety instructions"],
    "HUD NSPIRE (2023)": ["life-threatening", "life threatening", "severe", "moderate", "low"],
    "electrical condition reports by class, from memory": ["c1", "c2", "c3", "fi", "danger present",
                                                            "potentially dangerous", "improvement recommended"],
    "home inspection, common practice, no source": ["safety", "major", "minor", "deficient", "repair", "monitor",
                                                     "pass", "fail", "safe", "unsafe", "ok", "satisfactory", "unsatisfactory"],
}  # fmt: skip


@pytest.mark.parametrize("scheme", TAKEN)
def test_grade_words_are_of_no_published_scheme(scheme: str) -> None:
    """A grade that borrows a word would be read as a judgement by that scheme. No grade word, nor any word in it."""
    for grade in data("grades")["grades"]:
        assert grade.lower() not in TAKEN[scheme]
        assert not set(re.findall(r"[a-z0-9-]+", grade.lower())) & set(TAKEN[scheme])


def test_signal_words_fit_the_worst_that_can_happen(collected: Collected) -> None:
    """Caution is for minor or moderate injury, Notice for none: neither opens where the worst is death.

    Source: ANSI Z535.4 (2007 and 2011 editions), signal word definitions; seen in text.
    """
    for rule in collected.rules:
        word = rule.caution.split(":")[0]
        if rule.severity in ("catastrophic", "critical"):
            assert word in ("Danger", "Warning"), rule.name
        elif rule.severity == "negligible":
            assert word != "Danger", rule.name


def test_nothing_printed_says_that_something_is_safe(collected: Collected) -> None:
    """Counts of clear checks come with the sentence that they are no all-clear; no statement calls a thing safe."""
    wording = data("wording")
    assert "not an all-clear" in wording["silence"]
    assert "treated as live" in wording["statement"]
    for seed in seeds(6):
        for found in results_of(houses.as_bytes(houses.house(seed, wild=0.5)), collected).findings:
            assert not re.search(
                r"\b(safe|safely|harmless|no danger|all clear)\b", f"{found.statement} {found.rule.caution}", re.I
            )
