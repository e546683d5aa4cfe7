"""An exercise: a record to look at, what the rules find in it, and what was planted.

    exercise = made(record, name="house", as_of="2026-05-20", collected=collect(), seed=7, plant_count=3)

Planting into a record that somebody wrote is checked: a planted defect stays
only when the rules then find it, find nothing beside what follows from it, and
still find all they found before.
"""

from __future__ import annotations

import copy
import hashlib
import random
import re
import tempfile
from collections.abc import Collection, Iterable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from asfound.data import data
from asfound.drill.plain import Plain, plain
from asfound.drill.plant import Planted, plant
from asfound.drill.shown import Place, places
from asfound.drill.spots import markable, spots, tags_in
from asfound.drill.written import as_yaml
from asfound.judge.results import Finding
from asfound.load import load_file
from asfound.plan import plan
from asfound.plan.words import in_words
from asfound.plugins import Collected
from asfound.render.asdata import finding_data
from asfound.survey import Survey, survey

MOST_CHECKS = 5
ATTEMPTS = 3
TRAINING = ", training record"
NOTE = "Training record with planted defects. Nobody found this wiring; it is no record of a building."


@dataclass(frozen=True, slots=True)
class Danger:
    """One thing to be found: findings that have one cause, the one meant first, as plain values.

    `grade` is the worst of them. `why` is the story of a planted one.
    """

    findings: tuple[dict[str, Any], ...]
    grade: str
    planted: str
    why: str

    @property
    def title(self) -> str:
        return str(self.findings[0]["title"])


@dataclass(frozen=True, slots=True)
class Check:
    """A next check to choose from: what to do where, what comes before it, and what it settles.

    `rank` is its place in the plan, `settles` how many of `asked` open questions
    it settles wholly, `touches` how many it settles at least in part.
    """

    do: str
    before: tuple[str, ...]
    rank: int
    points: float
    settles: int
    touches: int
    asked: int


@dataclass(frozen=True, slots=True)
class Exercise:
    """All of one exercise. `key` is what marks are scored against;

    `rules` are name, title, topic and kind of item of every rule.
    """

    identity: str
    name: str
    seed: int | None
    as_of: str
    record: Plain
    places: tuple[Place, ...]
    dangers: tuple[Danger, ...]
    questions: tuple[dict[str, Any], ...]
    checks: tuple[Check, ...]
    key: dict[str, Any]
    rules: tuple[tuple[str, str, str, str], ...]
    planted: tuple[Planted, ...]
    wanted: int
    failed: int

    @property
    def tags(self) -> list[str]:
        """Every tag that can be marked, in the order of the places."""
        return list(dict.fromkeys(tag for place in self.places for tag in place.tags))


def from_file(path: Path, as_of: str, collected: Collected) -> Exercise:
    """The exercise of a record as it stands. Raises `Refused`."""
    done = survey(path, as_of, collected=collected)
    return _exercise(plain(load_file(path).root), done, as_of, None, (), 0)


def planted_in(
    record: Plain, as_of: str, collected: Collected, seed: int, count: int, only: Collection[str] = ()
) -> Exercise:
    """The exercise of a record with up to `count` defects planted by the seed. The record given is not changed.

    Raises `Refused`.
    """
    sound = as_exercise_record(record)
    before = judged(sound, as_of, collected)
    found = certain(before)
    made = copy.deepcopy(sound)
    planted = plant(made, seed, count, only=only)
    done = judged(made, as_of, collected)
    if len(planted) < count or not _as_said(found, certain(done), planted):
        made, planted, done = _one_by_one(sound, before, as_of, collected, seed, count, only)
    return _exercise(made, done, as_of, seed, planted, count)


def _one_by_one(
    sound: Plain, before: Survey, as_of: str, collected: Collected, seed: int, count: int, only: Collection[str]
) -> tuple[Plain, list[Planted], Survey]:
    """Plant one defect after the other and keep each only when the rules find just what it must give.

    Where they do not all find a place, other orders of the same seed are tried
    and the fullest is kept.
    """
    best: tuple[Plain, list[Planted], Survey] = (copy.deepcopy(sound), [], before)
    for attempt in range(ATTEMPTS):
        last = before

        def stays(planted: Planted, record: Plain) -> bool:
            nonlocal last
            done = judged(record, as_of, collected)
            if not _as_said(certain(last), certain(done), [planted]):
                return False
            last = done
            return True

        made = copy.deepcopy(sound)
        planted = plant(made, seed, count, only=only, stays=stays, attempt=attempt)
        if len(planted) > len(best[1]):
            best = made, planted, last
        if len(planted) == count:
            break
    return best


def _as_said(before: set[tuple[str, str]], after: set[tuple[str, str]], planted: Iterable[Planted]) -> bool:
    """Whether the findings are those of before and those that the planted defects must and may give."""
    listed = list(planted)
    must = {one for planted_one in listed for one in planted_one.expects}
    may = {one for planted_one in listed for one in planted_one.allowed}
    return must <= after - before and after - before <= may and before <= after


def certain(done: Survey) -> set[tuple[str, str]]:
    """Rule and item of every finding that is more than a question."""
    return {(one.rule.name, one.at) for one in done.results.findings if one.certainty != "possible"}


def judged(record: Plain, as_of: str, collected: Collected) -> Survey:
    """Judge a plain record. Raises `Refused`."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "exercise.yaml"
        path.write_text(as_yaml(record), encoding="utf-8")
        return survey(path, as_of, collected=collected)


def as_exercise_record(record: Plain) -> Plain:
    """A copy marked as invented, without people, address and photographs: what is planted was seen by nobody."""
    made = copy.deepcopy(record)
    made["invented"] = True
    for name in ("address", "unit", "client"):
        made["site"].pop(name, None)
    made.pop("photos", None)
    for visit in made.get("visits", {}).values():
        visit["by"] = "a trainer"
        visit.pop("with", None)
    for part, held in made.items():
        if part != "visits":
            _without_people(held)
    if not str(made["site"]["name"]).endswith(TRAINING):
        made["site"]["name"] = f"{made['site']['name']}{TRAINING}"
    made["notes"] = [*made.get("notes", []), NOTE]
    return made


def _without_people(value: Any) -> None:
    """Drop who saw something and on which photograph, wherever an item says so."""
    if isinstance(value, dict):
        for name in ("by", "photo"):
            value.pop(name, None)
        for held in value.values():
            _without_people(held)
    elif isinstance(value, list):
        for held in value:
            _without_people(held)


def _exercise(
    record: Plain, done: Survey, as_of: str, seed: int | None, planted: Iterable[Planted], wanted: int
) -> Exercise:
    listed = tuple(planted)
    held = [one for one in done.results.findings if one.certainty != "possible"]
    groups = _groups(held, listed, done, record)
    grades = data("grades")["grades"]
    dangers, key, said = [], [], tags_in(record)
    plainer = data("drill")["titles"]
    topics = {rule.name: rule.topic for rule in done.rules}
    for findings, one in groups:
        grade = min((finding.grade for finding in findings), key=grades.index)
        dangers.append(Danger(tuple(map(_plainly, findings)), grade, one.name if one else "", one.why if one else ""))
        members = [_member(f, done, record, said) for f in findings]
        members += [{**members[0], "rule": name, "topic": topics[name]} for name in (one.also if one else ())]
        key.append({"grade": grades.index(grade), "members": members})
    questions = [one for one in done.results.findings if one.certainty == "possible"]
    text = as_yaml(record)
    identity = hashlib.sha256(f"{as_of}\x1f{text}".encode()).hexdigest()[:10]
    checks = _checks(done, identity)
    return Exercise(
        identity=identity,
        name=done.record.name,
        seed=seed,
        as_of=as_of,
        record=record,
        places=tuple(places(copy.deepcopy(record))),
        dangers=tuple(dangers),
        questions=tuple(map(_plainly, questions)),
        checks=tuple(checks),
        key={
            "grades": grades, "dangers": key, "questions": [_member(one, done, record, said) for one in questions],
            "topics": topics,
            "checks": [{"rank": one.rank, "points": one.points} for one in checks],
        },
        rules=tuple((rule.name, plainer.get(rule.name, rule.title), rule.topic, rule.of) for rule in done.rules),
        planted=listed,
        wanted=wanted,
        failed=done.results.totals["rule failed"],
    )  # fmt: skip


def _plainly(finding: Finding) -> dict[str, Any]:
    """A finding as plain values, its title in the words of the exercise."""
    held = finding_data(finding)
    return held | {"title": data("drill")["titles"].get(held["rule"], held["title"])}


def _groups(
    findings: list[Finding], planted: tuple[Planted, ...], done: Survey, record: Plain
) -> list[tuple[list[Finding], Planted | None]]:
    """Findings by what they come from: a planted defect, else rule and place; worst first, as the findings are."""
    groups: dict[Any, list[Finding]] = {}
    of: dict[Any, Planted] = {}
    for finding in findings:
        one = next((p for p in planted if (finding.rule.name, finding.at) in p.allowed), None)
        if one is not None:
            where: Any = id(one)
            of[where] = one
        else:
            near, _ = spots(finding, done.installation, record)
            boxes = sorted(tag for tag in near if tag in record["boxes"])
            where = (finding.rule.name, *(boxes[:1] or sorted(near)))
        groups.setdefault(where, []).append(finding)
    for where, held in groups.items():
        meant = of[where].expects[0] if where in of else None
        first = [one for one in held if (one.rule.name, one.at) == meant]
        held[:] = first + [one for one in held if one not in first]
    return [(held, of.get(where)) for where, held in groups.items()]


def _member(finding: Finding, done: Survey, record: Plain, said: re.Pattern[str]) -> dict[str, Any]:
    own, _ = spots(finding, done.installation, record)
    near, wide = markable(finding, done.installation, record, said)
    held = {"own": sorted(own), "near": sorted(near), "wide": sorted(wide)}
    return {"rule": finding.rule.name, "topic": finding.rule.topic, **held}


def _checks(done: Survey, identity: str) -> list[Check]:
    """The best next check of the plan among others of it, in an order of the exercise; none when there is no choice."""
    ranked = plan(done, None)
    steps = list(zip(in_words(ranked), ranked.steps, strict=True))
    if len(steps) < 2:
        return []
    rng = random.Random(identity)
    others = rng.sample(steps[1:], min(MOST_CHECKS - 1, len(steps) - 1))
    chosen = [steps[0], *others]
    rng.shuffle(chosen)
    return [
        Check(
            f"{said.place}: {said.do}", said.before, said.rank, said.points,
            sum(gain.wholly for gain in step.gains), len(step.gains), len(ranked.asked.questions),
        )
        for said, step in chosen
    ]  # fmt: skip
