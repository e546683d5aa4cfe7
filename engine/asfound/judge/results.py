"""From worlds to results: findings with certainty, grade, evidence and what would settle them."""

from __future__ import annotations

import hashlib
from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass, field, replace
from typing import Any

from asfound.data import data
from asfound.judge.amend import Amendments
from asfound.judge.rules import Defect, Rule
from asfound.judge.tables import Row
from asfound.judge.views import Missing, View, facts_of, item_of, observation
from asfound.judge.worlds import CLEAR, DEFECT, SKIP, UNKNOWN, Explored, World, certainty, decisive
from asfound.record.build import Record
from asfound.record.facts import LISTED, UNSEEN, Fact, Item
from asfound.wording import joined, natural

FAILED = "rule failed"


@dataclass(frozen=True, slots=True)
class Evidence:
    """One fact read: of which item, as written, where, how known, by whom, when; `note` for traced facts."""

    item: str
    fact: str
    say: str
    value: str
    unit: str
    written: str
    line: int
    how: str
    by: str
    on: str
    note: str


@dataclass(frozen=True, slots=True)
class Settle:
    """One observation that would decide: the fact, what it can be, for which values the finding holds, what to do."""

    fact: str
    item: str
    can_be: tuple[str, ...]
    defect_if: tuple[str, ...]
    observe: str
    alone: bool
    key: int


@dataclass(frozen=True, slots=True)
class Finding:
    """A graded defect. `identity` depends on rule, items and cause only."""

    rule: Rule
    identity: str
    grade: str
    risk: str
    certainty: str
    at: str
    place: str
    parts: tuple[str, ...]
    cause: str
    statement: str
    evidence: tuple[Evidence, ...]
    rows: tuple[Row, ...]
    settle: tuple[Settle, ...]
    bound_met: bool
    grade_note: str = ""


@dataclass(frozen=True, slots=True)
class CannotTell:
    """A rule that could not decide on an item, the fact that is missing and why it was not seen."""

    rule: Rule
    at: str
    place: str
    missing: str
    of: str
    reason: str
    observe: str


@dataclass(frozen=True, slots=True)
class Failed:
    """A rule that raised on an item. Nothing else is stopped by it."""

    rule: Rule
    at: str
    place: str
    error: str


@dataclass(slots=True)
class Results:
    """Everything a run gave. `counts` is by rule name and outcome."""

    findings: list[Finding] = field(default_factory=list)
    cannot_tell: list[CannotTell] = field(default_factory=list)
    failed: list[Failed] = field(default_factory=list)
    counts: dict[str, Counter[str]] = field(default_factory=dict)

    @property
    def totals(self) -> Counter[str]:
        """Outcomes over all rules."""
        total: Counter[str] = Counter()
        for counter in self.counts.values():
            total.update(counter)
        return total


def judged(rule: Rule, item: Item, explored: Explored, record: Record, results: Results) -> str:
    """Add what the worlds of one item say to `results`; give the outcome that is counted."""
    worlds = explored.worlds
    first = worlds[0]
    if len(worlds) == 1 and not first.defects and first.lacking is None and not explored.bound_met:
        return first.outcome
    said: dict[tuple[str, str], list[tuple[World, Defect]]] = {}
    for world in worlds:
        keys: set[tuple[str, str]] = set()
        for defect in world.defects:
            key = (item_of(defect.at).identity if defect.at is not None else item.identity, defect.cause)
            if key in keys:
                raise ValueError(
                    f"two findings at {key[0]} with the same cause {defect.cause!r}: give each its own cause"
                )
            keys.add(key)
            said.setdefault(key, []).append((world, defect))
    best = ""
    for (at, cause), cases in said.items():
        made = _finding(rule, item, at, cause, cases, explored, record)
        results.findings.append(made)
        best = made.certainty if best in ("", "possible") else best
    # A defect does not answer for what was missing beside it.
    unknown = [world for world in (worlds if best in ("", "possible") else worlds[:1]) if world.lacking is not None]
    if unknown:
        _cannot_tell(rule, item, unknown, results)
    if best:
        return "possible" if best == "possible" else DEFECT
    if unknown:
        return UNKNOWN
    if explored.bound_met:
        reason = f"more than {len(worlds)} combinations of doubtful facts"
        opened = decisive_names(worlds)
        results.cannot_tell.append(
            CannotTell(
                rule,
                item.identity,
                item.words,
                opened,
                item.words,
                reason,
                "settle the doubtful facts it reads",
            )
        )
        return UNKNOWN
    return SKIP if all(world.outcome == SKIP for world in worlds) else CLEAR


def decisive_names(worlds: list[World]) -> str:
    """The names of the doubtful facts that were read, most read first."""
    names = Counter(name for world in worlds for _, name, fact in world.reads if len(fact.values) > 1)
    return joined(name for name, _ in names.most_common(3))


def _cannot_tell(rule: Rule, item: Item, unknown: list[World], results: Results) -> None:
    seen: set[tuple[str, str]] = set()
    for world in unknown:
        lacking = world.lacking
        if isinstance(lacking, Missing):
            name, of, reason = lacking.name, lacking.item.words, lacking.fact.note or "not recorded"
            observe = observation(lacking.item.kind, lacking.name)
        else:
            name, of, reason, observe = (
                "a table row",
                item.words,
                str(lacking),
                "look up the figure in the source",
            )
        if (name, of) not in seen:
            seen.add((name, of))
            results.cannot_tell.append(CannotTell(rule, item.identity, item.words, name, of, reason, observe))


def _finding(
    rule: Rule,
    item: Item,
    at: str,
    cause: str,
    cases: list[tuple[World, Defect]],
    explored: Explored,
    record: Record,
) -> Finding:
    holding = {id(world) for world, _ in cases}

    def present(world: World) -> bool:
        return id(world) in holding

    sure = certainty(explored.worlds, present, explored.bound_met)
    assert sure is not None
    world, defect = cases[0]
    place = item_of(defect.at) if defect.at is not None else item
    risk = risk_of(rule)
    decides = [] if sure == "confirmed" else decisive(explored.worlds, present, explored.bound_met)
    settle = tuple(_settle(one) for one in decides)
    return Finding(
        rule=rule,
        identity=identity_of(rule.name, at, [], cause),
        grade=data("grades")["grade"][risk][sure],
        risk=risk,
        certainty=sure,
        at=at,
        place=place.words,
        parts=tuple(item_of(part).identity for part in defect.parts),
        cause=cause,
        statement=defect.says,
        evidence=tuple(_evidence(world, record)),
        rows=tuple(world.rows),
        settle=settle,
        bound_met=explored.bound_met,
    )


def identity_of(rule: str, at: str, parts: Iterable[str], cause: str) -> str:
    """Twelve hexadecimal digits from rule, items and cause; free of lines, order and wording."""
    text = "\x1f".join([rule, at, *sorted(parts), cause])
    return hashlib.sha256(text.encode()).hexdigest()[:12]


def risk_of(rule: Rule) -> str:
    """Risk word of a rule by the matrix of MIL-STD-882E Table III."""
    grades = data("grades")
    column = grades["severities"].index(rule.severity)
    word: str = grades["matrix"][rule.likelihood][column]
    return word


def _settle(one: Any) -> Settle:
    fact: Fact = one.fact
    return Settle(
        fact=one.name,
        item=one.item.words if one.item.kind != "conductor" else one.item.tag,
        can_be=tuple(word_of(value) for value in fact.values),
        defect_if=tuple(word_of(value) for value in one.holding),
        observe=observation(one.item.kind, one.name),
        alone=one.alone,
        key=id(fact),
    )


def _evidence(world: World, record: Record) -> Iterable[Evidence]:
    seen: set[int] = set()
    for item, name, fact in world.reads:
        if id(fact) in seen or facts_of(item.kind).get(name, {}).get("quiet"):
            continue
        seen.add(id(fact))
        index = world.index(fact)
        if fact.kind is UNSEEN and not fact.values:
            value = "not seen"
        else:
            value = word_of(fact.values[0 if index is None else index])
        if fact.kind is LISTED and len(fact.values) > 1:
            value = f"{value}, of {' or '.join(map(word_of, fact.values))}"
        visit = record.visit_of(fact.visit, item.visit)
        yield Evidence(
            item=item.tag if item.kind != "site" else "the site",
            fact=name,
            say=str(facts_of(item.kind).get(name, {}).get("say", name.replace("_", " "))),
            value=value,
            unit=str(facts_of(item.kind).get(name, {}).get("unit", "")),
            written=fact.written,
            line=fact.place.line if fact.place else item.place.line if item.place else 0,
            how=fact.how,
            by=fact.by or (visit.by if visit else ""),
            on=visit.on if visit else "",
            note=fact.note,
        )


def word_of(value: Any) -> str:
    """A fact's value in words."""
    if isinstance(value, Item):
        return value.tag
    if isinstance(value, View):
        return value.tag
    if isinstance(value, tuple):
        return joined(map(word_of, value)) if value else "none"
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, float):
        return f"{value:g}"
    return str(value)


def regrade(results: Results, amendments: Amendments) -> None:
    """Raise or lower grades as local amendments say, and restore the order."""
    for index, finding in enumerate(results.findings):
        grade, note = amendments.grade(finding.rule.name, finding.grade)
        if note:
            results.findings[index] = replace(finding, grade=grade, grade_note=note)
    in_order(results)


def in_order(results: Results) -> None:
    """Put everything in its total order: worst first, most certain first, then by place and rule."""
    grades = data("grades")
    results.findings.sort(
        key=lambda f: (
            grades["certainties"].index(f.certainty) == 2, grades["grades"].index(f.grade),
            grades["certainties"].index(f.certainty), natural(f.place), f.rule.name, f.identity,
        )
    )  # fmt: skip
    results.cannot_tell.sort(
        key=lambda c: (c.rule.name, natural(c.place), c.missing, natural(c.of), c.at, c.of, c.reason)
    )
    results.failed.sort(key=lambda f: (f.rule.name, natural(f.place), f.at, f.error))
