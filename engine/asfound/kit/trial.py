"""A rule on one item of a record, step by step: what it read, what it asked, what it said, in every world."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field, replace
from typing import Any

from asfound.data import data
from asfound.judge.results import CannotTell, Finding, Results, judged, regrade, risk_of, word_of
from asfound.judge.rules import Defect, Rule
from asfound.judge.run import Unsaid, error_words, hold_to_words
from asfound.judge.tables import Row, Tables
from asfound.judge.views import Gap, Missing, NotHere, Run, facts_of, item_of, run_of
from asfound.judge.worlds import World, explore
from asfound.kit.prove_branches import Decision, Watch
from asfound.kit.prove_yaml import condition_of, watched_form
from asfound.names import Names
from asfound.record.facts import ASSUMED, WEAK, Fact, Item
from asfound.survey import Survey
from asfound.wording import joined

FAILED = "rule failed"


@dataclass(frozen=True, slots=True)
class ReadStep:
    """One fact read for the first time: its value in this world, what else it can be, where and how it was written."""

    item: str
    fact: str
    value: str
    can_be: tuple[str, ...]
    unit: str
    kind: str
    line: int
    how: str
    by: str
    on: str
    note: str


@dataclass(frozen=True, slots=True)
class AskStep:
    """One condition met: its line, what it is, its text, and the way it went in words."""

    line: int
    sort: str
    text: str
    went: str


@dataclass(frozen=True, slots=True)
class SayStep:
    """One sentence, with the item it is at where that is another than the one judged."""

    says: str
    at: str


@dataclass(frozen=True, slots=True)
class EndStep:
    """Why a run ended before its last line."""

    why: str


Step = ReadStep | AskStep | Row | SayStep | EndStep


@dataclass(frozen=True, slots=True)
class TrialWorld:
    """One world: the doubtful facts in which it departs from the record, the outcome, what was said, the steps."""

    departs: tuple[tuple[str, str], ...]
    outcome: str
    says: tuple[str, ...]
    steps: tuple[Step, ...]


@dataclass(slots=True)
class Trial:
    """A rule on one item: every world, then what follows from all of them together.

    `outcome` as it is counted in a report; `why` says how it came to its
    certainty or why it did not fire; `error` when the rule raised.
    """

    rule: Rule
    item: Item
    worlds: list[TrialWorld] = field(default_factory=list)
    outcome: str = ""
    why: str = ""
    findings: list[Finding] = field(default_factory=list)
    cannot_tell: list[CannotTell] = field(default_factory=list)
    bound_met: bool = False
    error: str = ""

    @property
    def words(self) -> str:
        """The outcome with its certainty and grade: `defect, likely: first`."""
        if self.error:
            return FAILED
        if not self.findings:
            return self.outcome
        first = self.findings[0]
        many = f" ({len(self.findings)})" if len(self.findings) > 1 else ""
        return f"{self.outcome if self.outcome == 'possible' else f'defect, {first.certainty}'}: {first.grade}{many}"


class NoSuchItem(Exception):
    """No item of the rule's kind has this tag; the message says which there are."""


def items_for(rule: Rule, done: Survey, tag: str = "") -> list[Item]:
    """The items a rule looks at in a record, or the one with a tag. Raises `NoSuchItem`."""
    items = list(done.installation.items.get(rule.of, ()))
    if not tag:
        return items
    found = [item for item in items if tag in (item.tag, item.identity, item.words)]
    if not found:
        hint = Names(item.tag for item in items).hint(tag, "tags")
        raise NoSuchItem(f"there is no {rule.of} {tag!r} in the record; {hint}")
    return found


def tried_on(rule: Rule, item: Item, done: Survey) -> Trial:
    """Try a rule on an item of a judged record. Never raises for what the rule does wrong."""
    trial = Trial(rule, item)
    recorder = _Recorder(rule)
    watched = replace(rule, run=recorder.run)
    try:
        with Watch([rule.file], recorder.asked), watched_form(rule) as told:
            recorder.told = told
            explored = explore(watched, item, done.tables, done.record.site)
    except (Exception, SystemExit) as error:
        trial.outcome, trial.error = FAILED, error_words(rule, error)
        trial.why = f"It raised {trial.error}."
        for events in recorder.runs:
            trial.worlds.append(TrialWorld((), FAILED, (), tuple(_steps(rule, item, events, {}, done))))
        return trial
    results = Results()
    try:
        trial.outcome = judged(rule, item, explored, done.record, results)
        if rule.outside:
            hold_to_words(results.findings)
    except (ValueError, Unsaid) as error:
        results = Results()
        trial.outcome, trial.error, trial.why = FAILED, str(error), f"{str(error)[:1].upper()}{str(error)[1:]}."
    regrade(results, done.tables.amendments)
    trial.findings, trial.cannot_tell = results.findings, results.cannot_tell
    trial.bound_met = explored.bound_met
    for world, events in zip(explored.worlds, recorder.runs, strict=True):
        chosen = {number: world.index(fact) or 0 for number, fact in world.facts.items()}
        steps = tuple(_steps(rule, item, events, chosen, done))
        says = tuple(defect.says for defect in world.defects)
        trial.worlds.append(TrialWorld(tuple(_departs(world)), world.outcome, says, steps))
    if not trial.error:
        trial.why = _why(trial, explored.worlds)
    return trial


# -- what happens in a run, in order


class _Recorder:
    """Runs the rule and notes reads, rows, conditions and sentences of each run as they come."""

    def __init__(self, rule: Rule) -> None:
        self.rule = rule
        self.runs: list[list[Any]] = []
        self.told: list[Any] = []
        self._heard = 0

    def run(self, seen: Any, *more: Any) -> Iterator[Any]:
        events: list[Any] = []
        self.runs.append(events)
        run = run_of(seen)
        run.reads = _Reads(self, events)
        run.rows = _Rows(self, events)
        tables = next((one for one in more if isinstance(one, Tables)), None)
        try:
            for said in self.rule.run(seen, *more):
                self.catch_up(events)
                events.append(said if isinstance(said, Defect) else Defect(str(said)))
                yield said
        except NotHere:
            self.catch_up(events)
            events.append(EndStep("the rule does not apply here"))
            raise
        except Missing as missing:
            self.catch_up(events)
            reason = missing.fact.note or "not recorded"
            events.append(EndStep(f"{_say(missing.item, missing.name)} of {missing.item.words} is missing: {reason}"))
            raise
        except Gap as gap:
            self.catch_up(events)
            events.append(EndStep(str(gap)))
            raise
        except (Exception, SystemExit) as error:
            self.catch_up(events)
            events.append(EndStep(f"it raised {type(error).__name__}: {error}"))
            raise
        finally:
            self.catch_up(events)
            rows = {(row.table, row.key): row for row in tables.rows()} if tables is not None else {}
            events[:] = [
                rows.get(one[1:], one) if isinstance(one, tuple) and one[0] == "row" else one for one in events
            ]

    def asked(self, decision: Decision) -> None:
        """A condition of a rule in Python was met."""
        if self.runs:
            self.runs[-1].append(decision)

    def catch_up(self, events: list[Any]) -> None:
        """Add what a rule in YAML has come to since the last event."""
        for one in self.told[self._heard :]:
            events.append(one)
        self._heard = len(self.told)


class _Reads(list[Any]):
    """The reads of a run; each is an event as it comes."""

    def __init__(self, recorder: _Recorder, events: list[Any]) -> None:
        super().__init__()
        self._recorder, self._events = recorder, events

    def append(self, read: Any) -> None:
        super().append(read)
        self._recorder.catch_up(self._events)
        self._events.append(("read", *read))

    def pop(self, index: Any = -1) -> Any:
        read = super().pop(index)
        for at in range(len(self._events) - 1, -1, -1):
            if isinstance(self._events[at], tuple) and self._events[at][1:] == read:
                del self._events[at]
                break
        return read


class _Rows(dict[tuple[str, str], Any]):
    """The table rows of a run; each is an event as it comes."""

    def __init__(self, recorder: _Recorder, events: list[Any]) -> None:
        super().__init__()
        self._recorder, self._events = recorder, events

    def __setitem__(self, key: tuple[str, str], value: Any) -> None:
        if key not in self:
            self._recorder.catch_up(self._events)
            self._events.append(("row", *key))
        super().__setitem__(key, value)


def _steps(
    rule: Rule, judged_item: Item, events: Iterable[Any], chosen: dict[int, int], done: Survey
) -> Iterator[Step]:
    seen: set[tuple[int, str]] = set()
    for event in events:
        match event:
            case ("read", Item() as item, str() as name, Fact() as fact):
                if (id(item), name) not in seen:
                    seen.add((id(item), name))
                    yield _read(item, name, fact, chosen.get(id(fact), 0), done)
            case Decision(condition, way):
                yield AskStep(condition.line, condition.sort, condition.text, condition.way(way))
            case Row() | EndStep():
                yield event
            case Defect():
                place = item_of(event.at) if event.at is not None else judged_item
                yield SayStep(event.says, "" if place is judged_item else place.words)
            case tuple():
                continue  # a row of a table that ended the run before it was known
            case _:
                yield from _told(rule, event)


def _told(rule: Rule, told: Any) -> Iterator[Step]:
    """An expression of a rule in YAML: what it came to."""
    condition = condition_of(rule, told.expression)
    if told.ended:
        return  # the end of the run says why
    if isinstance(told.value, bool):
        yield AskStep(condition.line, condition.function, condition.text, condition.way(told.value))
    elif condition.function.startswith(("set ", "each ")):
        yield AskStep(condition.line, condition.function, condition.text, f"is {_value(told.value)}")


def _value(value: Any) -> str:
    if isinstance(value, list | tuple):
        return joined(map(_value, value)) or "an empty list"
    return word_of(value)


def _say(item: Item, name: str) -> str:
    return str(facts_of(item.kind).get(name, {}).get("say", name.replace("_", " ")))


def _read(item: Item, name: str, fact: Fact, index: int, done: Survey) -> ReadStep:
    visit = done.record.visit_of(fact.visit, item.visit)
    values = tuple(map(word_of, fact.values))
    return ReadStep(
        item=item.tag if item.kind != "site" else "the site",
        fact=_say(item, name),
        value=values[index] if values else "not seen",
        can_be=tuple(value for at, value in enumerate(values) if at != index),
        unit=str(facts_of(item.kind).get(name, {}).get("unit", "")),
        kind=fact.kind,
        line=fact.place.line if fact.place else item.place.line if item.place else 0,
        how="" if fact.how == "as written" else fact.how,
        by=fact.by or (visit.by if visit else ""),
        on=visit.on if visit else "",
        note=fact.note,
    )


def _departs(world: World) -> Iterator[tuple[str, str]]:
    """The doubtful facts that have another than their first value here, with that value."""
    told: set[int] = set()
    for item, name, fact in world.reads:
        index = world.choices.get(id(fact), 0)
        if index and id(fact) not in told:
            told.add(id(fact))
            yield f"{_say(item, name)} of {item.tag}", word_of(fact.values[index])


# -- why it came out as it did


def _why(trial: Trial, worlds: list[World]) -> str:
    """How the certainty came about, or why nothing was found."""
    if trial.findings:
        return _why_found(trial, worlds)
    if trial.cannot_tell:
        missing = joined(dict.fromkeys(f"{one.missing.replace('_', ' ')} of {one.of}" for one in trial.cannot_tell))
        return f"It hangs on what is not known: {missing}."
    last = [step for step in trial.worlds[0].steps if isinstance(step, AskStep)] if trial.worlds else []
    many = "in every world" if len(worlds) > 1 else "here"
    if trial.outcome == "does not apply":
        limit = next((step for step in reversed(last) if "only_if" in step.sort), None)
        return f"It does not apply {many}: line {limit.line}, {limit.text} does not hold." if limit else (
            f"It does not apply {many}: it ended before its first condition."
        )  # fmt: skip
    asked = next((step for step in reversed(last) if step.sort not in ("part", "for")), None)
    if asked is None:
        return f"It came to its end {many} and said nothing."
    return f"It said nothing {many}; the last it asked was line {asked.line}, {asked.text}: {asked.went}."


def _why_found(trial: Trial, worlds: list[World]) -> str:
    finding = trial.findings[0]
    holding = [world for world in worlds if world.defects]
    weak = dict.fromkeys(
        f"{_say(item, name)} of {item.tag}"
        for world in holding
        for item, name, fact in world.reads
        if fact.kind in (WEAK, ASSUMED)
    )
    count = f"{len(holding)} of {len(worlds)} worlds"
    if finding.certainty == "confirmed":
        said = "Found in every world, and every fact read was observed or listed by a person"
    elif finding.certainty == "likely" and len(holding) == len(worlds):
        said = f"Found in every world, but resting on what is weakly known: {joined(list(weak)[:4])}"
    elif finding.certainty == "likely":
        said = f"Found in {count}, among them every one that keeps to the record"
    else:
        said = f"Found in {count}, and not in every one that keeps to the record"
    risk = risk_of(trial.rule)
    grade = data("grades")["grade"][risk][finding.certainty]
    return (
        f"{said}: {finding.certainty}. Severity {trial.rule.severity} and likelihood {trial.rule.likelihood} make the "
        f"risk {risk}; {risk} and {finding.certainty} make the grade {grade}."
    )


__all__ = ["AskStep", "EndStep", "NoSuchItem", "ReadStep", "Run", "SayStep", "Step", "Trial", "TrialWorld", "items_for",
           "tried_on"]  # fmt: skip
