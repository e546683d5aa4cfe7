"""A test of the engine: 1,000 invented houses, each with planted defects, judged by all rules.

What was planted is found, by the right rule at the right item, and nothing else
is accused beyond what follows from the same mistake, as the planter says. Before
anything is planted no house gives a defect. The houses and the planters know no
rule and no trace; their sizes and years are their own (see `asfound.drill`).
"""

from __future__ import annotations

import functools
import itertools
import json
import random
from pathlib import Path
from typing import Any

import pytest

from asfound.drill.houses import house
from asfound.drill.plain import Wiring
from asfound.drill.plant import Planted, plant
from asfound.drill.planters import planters
from asfound.plugins import Collected, collect
from asfound.survey import survey

pytestmark = pytest.mark.uncounted
"""Random examples: what they reach is reached by other tests too, and they are much slower with lines counted."""

AS_OF = "2026-05-20"
BLOCK = 50
BLOCKS = range(0, 1000, BLOCK)
Found = set[tuple[str, str]]


@functools.cache
def rules() -> Collected:
    return collect()


def found(record: dict[str, Any], folder: Path) -> Found:
    """Rule and item of every defect, and of every question, that the engine finds in a plain record."""
    path = folder / "house.json"
    path.write_text(json.dumps(record), encoding="utf-8")
    results = survey(path, AS_OF, collected=rules()).results
    assert results.failed == []
    return {(finding.rule.name, finding.at) for finding in results.findings}


def wrong(planted: list[Planted], given: Found) -> tuple[Found, Found]:
    """What was planted and not found, and what was found and does not come from what was planted."""
    must = {one for planted_one in planted for one in planted_one.expects}
    may = {one for planted_one in planted for one in planted_one.allowed}
    return must - given, given - may


@pytest.mark.parametrize("first", BLOCKS, ids=lambda first: f"seeds {first} to {first + BLOCK - 1}")
def test_what_was_planted_is_found_and_nothing_else(first: int, tmp_path: Path) -> None:
    """Houses of 3 to 5 circuits with one to three defects each; and the same houses before."""
    for seed in range(first, first + BLOCK):
        record = house(seed, circuits=3 + seed % 3)
        assert found(record, tmp_path) == set(), f"house of seed {seed} before planting"
        planted = plant(record, seed, 1 + seed % 3)
        assert len(planted) == 1 + seed % 3, f"seed {seed}"
        assert wrong(planted, found(record, tmp_path)) == (set(), set()), f"seed {seed}: {planted}"


@pytest.mark.parametrize("first", range(2000, 2030, 10), ids=lambda first: f"seeds {first} to {first + 9}")
def test_houses_of_full_size(first: int, tmp_path: Path) -> None:
    """Houses of 8 to 20 circuits with six defects each; and the same houses before."""
    for seed in range(first, first + 10):
        record = house(seed)
        assert found(record, tmp_path) == set(), f"house of seed {seed} before planting"
        planted = plant(record, seed, 6)
        assert len(planted) == 6
        assert wrong(planted, found(record, tmp_path)) == (set(), set()), f"seed {seed}: {planted}"


def changed(name: str, seed: int) -> tuple[dict[str, Any], Planted] | None:
    """A house of full size with one defect of a kind, None where it has no place."""
    record = house(seed)
    changes = list(planters()[name].changes(Wiring(record)))
    if not changes:
        return None
    change = random.Random(seed).choice(changes)
    change.edit()
    return record, Planted(name, "", change.at, change.expects, change.implies)


@pytest.mark.parametrize("name", planters())
def test_every_kind_of_defect_is_found(name: str, tmp_path: Path) -> None:
    """Each kind by itself, in two houses of full size where it has a place."""
    held = list(itertools.islice((one for seed in range(120) if (one := changed(name, seed)) is not None), 2))
    assert len(held) == 2
    for record, planted in held:
        assert wrong([planted], found(record, tmp_path)) == (set(), set())


@pytest.mark.parametrize(
    "name",
    [
        "larger breaker",
        "ground in with the live wires",
        "ground folded back in the box",
        "jumper behind the plate",
        "two circuits joined",
    ],
)
def test_what_is_said_to_follow_does_follow(name: str, tmp_path: Path) -> None:
    """No planter excuses a rule that its mistake never calls up."""
    excused: set[str] = set()
    seen: set[str] = set()
    for seed in range(120):
        held = changed(name, seed)
        if held is None:
            continue
        record, planted = held
        now = {rule for rule, _ in planted.implies}
        if now - seen:
            excused |= now
            seen |= {rule for rule, at in found(record, tmp_path) if (rule, at) in planted.implies}
        if excused and excused == seen and seed > 5:
            break
    assert excused == seen


def test_nothing_else_is_excused() -> None:
    """The kinds whose mistake has consequences are the five held above."""
    excusing = set()
    for seed in range(30):
        wiring = Wiring(house(seed))  # a change does nothing until it is made
        for name, planter in planters().items():
            if name not in excusing and any(change.implies for change in planter.changes(wiring)):
                excusing.add(name)
    assert excusing == {
        "larger breaker", "ground in with the live wires", "ground folded back in the box", "jumper behind the plate",
        "two circuits joined",
    }  # fmt: skip


def test_every_rule_named_by_a_planter_is_a_rule() -> None:
    known = {rule.name for rule in rules().rules}
    assert {planter.rule for planter in planters().values()} <= known


def test_kinds_of_defect_are_of_many_topics() -> None:
    """At least twenty kinds over most topics of the rule book."""
    topic = {rule.name: rule.topic for rule in rules().rules}
    assert len(planters()) >= 20
    assert len({topic[planter.rule] for planter in planters().values()}) >= 10


def test_would_notice_a_rule_that_is_silent(tmp_path: Path) -> None:
    """Without the change of the record, the finding of the defect is missing, so the check fails."""
    record = house(11)
    planted = plant(record, 11, 2)
    lost, _ = wrong(planted, found(house(11), tmp_path))
    assert lost == {one for planted_one in planted for one in planted_one.expects}


def test_would_notice_a_false_accusation(tmp_path: Path) -> None:
    """A defect that nobody says was planted is named."""
    record = house(11)
    planted = plant(record, 11, 2)
    _, extra = wrong(planted[:1], found(record, tmp_path))
    assert extra == set(planted[1].expects)
