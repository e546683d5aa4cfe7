"""What is open in a survey, as questions with a weight: findings that are not certain, checks that cannot tell,
places nobody looked into, unknown feeds, contradictions and readings that several conditions fit.
"""

from __future__ import annotations

from collections.abc import Hashable, Iterable, Iterator
from dataclasses import dataclass, field
from typing import Any

from asfound.data import data
from asfound.diagnose import Diagnosis
from asfound.judge.results import risk_of
from asfound.judge.rules import Rule
from asfound.judge.tables import Tables
from asfound.judge.views import Missing, Plain, Read, Run, item_of, plain
from asfound.judge.worlds import CLEAR, DEFECT, Explored, World, explore, settled
from asfound.plan.acts import chance, unknown, weight
from asfound.plan.doubt import Case, Doubt, Key
from asfound.plan.layout import OPEN
from asfound.plan.look import Looker, Shares
from asfound.record.facts import ASSUMED, EXACT, LISTED, NOT_RECORDED, WEAK, Fact, Item
from asfound.survey import Survey
from asfound.trace.nets import LIVE

FINDING, CANNOT_TELL, UNSEEN_PLACE, FEED, CONTRADICTION, DIAGNOSIS = (
    "finding", "cannot tell", "not looked into", "feed", "contradiction", "diagnosis",
)  # fmt: skip


@dataclass(slots=True)
class Known:
    """One fact that questions hang on: of which item, the values it can have, and the observations that show it."""

    item: Item
    name: str
    values: tuple[Any, ...]
    chances: tuple[float, ...]
    ways: Shares
    reason: str = ""


@dataclass(slots=True)
class Question:
    """One open question: what it is about, the grade it would have, and its doubt. `says` is a sentence."""

    sort: str
    grade: str
    at: Item
    says: str
    doubt: Doubt
    rule: Rule | None = None

    @property
    def weight(self) -> float:
        """What it counts for while it is wholly open."""
        return weight(self.grade)

    @property
    def order(self) -> tuple[Any, ...]:
        """A total order that does not depend on the order of a record."""
        return -self.weight, self.sort, self.rule.name if self.rule else "", self.at.identity, self.says


@dataclass(slots=True)
class Open:
    """All that is open: the questions, and the facts they hang on by key."""

    questions: list[Question] = field(default_factory=list)
    facts: dict[Key, Known] = field(default_factory=dict)


def questions(survey: Survey, looker: Looker) -> Open:
    """Everything that is open in a survey, gravest first."""
    asked = Open()
    collect = _Collect(survey, looker, asked)
    collect.checks()
    collect.places()
    collect.feeds()
    collect.contradictions()
    collect.diagnoses()
    asked.questions.sort(key=lambda one: one.order)
    return asked


class _Collect:
    def __init__(self, survey: Survey, looker: Looker, asked: Open) -> None:
        self.survey = survey
        self.looker = looker
        self.layout = looker.layout
        self.asked = asked
        self.weights = data("observations")["weights"]

    # -- facts

    def key(self, item: Item, name: str, fact: Fact) -> Key:
        """The key of a fact as the questions use it: shared facts have one key; notes the ways to see it."""
        held = item.data.get(name)
        key: Hashable = id(fact) if held is fact and fact is not NOT_RECORDED else (item.identity, name)
        known = self.asked.facts.get(key)
        ways = self.looker.ways(item, name)
        if known is None:
            values = fact.values or (None,)
            known = self.asked.facts[key] = Known(item, name, values, _chances(fact), {}, fact.note)
        self._ways(known, ways)
        return key

    def _ways(self, known: Known, ways: Shares) -> None:
        """Add observations that show a fact, each by its share and the chance that it is made."""
        for one, share in ways.items():
            known.ways[one] = max(share * self.looker.odds(one), known.ways.get(one, 0.0))

    def add_key(self, key: Key, item: Item, name: str, ways: Shares, chances: tuple[float, ...]) -> Key:
        """A key for what is no fact of the catalogue."""
        if key not in self.asked.facts:
            self.asked.facts[key] = Known(item, name, (None,), chances, {})
        self._ways(self.asked.facts[key], ways)
        return key

    # -- what rules ask

    def checks(self) -> None:
        """Findings that are not confirmed and checks that cannot tell, from the worlds of each."""
        survey = self.survey
        results = survey.results
        named = {one.rule.name for one in results.cannot_tell}
        named |= {one.rule.name for one in results.findings if one.certainty != "confirmed"}
        failed = {(one.rule.name, one.at) for one in results.failed}
        seen: dict[Item, Plain] = {}
        site = survey.record.site
        for rule in (rule for rule in survey.rules if rule.name in named):
            more = [Tables(survey.tables, Run({})) if want == "tables" else plain(site, seen) for want in rule.wants]
            for item in survey.installation.items.get(rule.of, ()):
                if (rule.name, item.identity) in failed or settled(rule, plain(item, seen), more) is not None:
                    continue
                self.asked.questions += self._of_check(rule, item, explore(rule, item, survey.tables, site))

    def _of_check(self, rule: Rule, item: Item, explored: Explored) -> Iterator[Question]:
        """One question for each finding that can come of a check, and one for what it cannot tell."""
        grades = data("grades")
        grade, _ = self.survey.tables.amendments.grade(rule.name, grades["grade"][risk_of(rule)]["confirmed"])
        found: dict[tuple[Item, str], str] = {}
        for world in explored.worlds:
            for defect in world.defects:
                at = item_of(defect.at) if defect.at is not None else item
                found.setdefault((at, defect.cause), defect.says)
        for (at, cause), says in found.items():
            doubt = self._doubt(rule, item, explored.worlds, (at, cause))
            if doubt is not None:
                yield Question(FINDING, grade, at, says, doubt, rule)
        if not found and any(world.lacking is not None for world in explored.worlds):
            doubt = self._doubt(rule, item, explored.worlds, None)
            if doubt is not None:
                yield Question(CANNOT_TELL, grade, item, rule.title, doubt, rule)

    def _doubt(self, rule: Rule, item: Item, worlds: list[World], finding: tuple[Item, str] | None) -> Doubt | None:
        """The doubt of one finding over the worlds; None when it is the same in all of them."""
        cases: list[Case] = []
        chances: dict[Key, tuple[float, ...]] = {}
        for world in worlds:
            values = {
                self.key(*read): world.index(read[2]) or 0 for read in _doubtful(world) if len(read[2].values) > 1
            }
            present = finding is not None and any(
                ((item_of(one.at) if one.at is not None else item), one.cause) == finding for one in world.defects
            )
            if present:
                cases += self._present(world, values)
            elif not isinstance(world.lacking, Missing):
                cases.append(Case(values, CLEAR))
            else:
                key = self.key(world.lacking.item, world.lacking.name, world.lacking.fact)
                cases += [Case({**values, key: 0}, CLEAR), Case({**values, key: 1}, DEFECT)]
        for case in cases:
            for key in case.values:
                chances.setdefault(key, self.asked.facts[key].chances)
        doubt = Doubt(tuple(cases), chances)
        return doubt if doubt.open() > 0 else None

    def _present(self, world: World, values: dict[Key, int]) -> Iterator[Case]:
        """The case of a world with the finding; beside it those in which a weak fact of one value is not as stated."""
        held = dict(values)
        for read in _doubtful(world):
            if len(read[2].values) == 1:
                key = self.key(*read)
                yield Case({**held, key: 1}, CLEAR)
                held[key] = 0
        yield Case(held, DEFECT)

    # -- what nobody looked into

    def places(self) -> None:
        """One question for each conductor end, device, breaker, pair of cables and place that nobody has looked at."""
        for place in self.layout.places:
            self._ends_at(place)
            if not self.layout.looked_into(place):
                self._inside(place)
        for cable, side in self.layout.lost:
            self._lost(cable, side)
        for breaker in self.survey.installation.items.get("breaker", ()):
            amps = breaker.data.get("amps", NOT_RECORDED)
            if not amps.values:
                self._unseen(breaker, self.key(breaker, "amps", amps), "rating of a breaker", _hidden())

    def _ends_at(self, place: Item) -> None:
        """The ends that are known to be at a place, and what they are on is not."""
        opening: Shares = {self.looker.opening(place): 1.0}
        chances = _hidden(self.layout.sort(place) == OPEN)
        for end in self.layout.unseen_ends(place):
            self._unseen(end, self.key(end, "state", end.data["state"]), "end of a conductor", chances)
        for cable, side in self.layout.bare[place]:
            for number in range(unknown("conductors")):
                key = self.add_key(("side", cable.tag, side, number), cable, "its conductors", opening, chances)
                self._unseen(cable, key, "end of a conductor not yet seen", chances)

    def _inside(self, place: Item) -> None:
        """A place that was never looked into: itself, the devices in it, cables that meet in it."""
        opening: Shares = {self.looker.opening(place): 1.0}

        def ask(at: Item, says: str, *more: Hashable, chances: tuple[float, ...]) -> None:
            key = self.add_key((says, place.identity, *more), at, says, opening, chances)
            self._unseen(at, key, says, chances)

        ask(place, "inside", chances=_hidden())
        for device in self.layout.devices[place]:
            ask(device, "wiring of a device", device.tag, chances=_hidden())
        known = len(
            {end.data["conductor"].data["cable"] for end in self.layout.ends[place]}
            | {c for c, _ in self.layout.bare[place]}
        )
        if not known:
            bare = "cables" if self.layout.devices[place] else "cables without device"
            known = len(place.data["breakers"]) if place.kind == "panel" else unknown(bare)
            in_the_open = _hidden(self.layout.sort(place) == OPEN)
            for number in range(known * unknown("conductors")):
                ask(place, "end of a conductor not yet known", number, chances=in_the_open)
        if place.kind != "panel":
            for number in range(known * (known - 1) // 2):
                ask(place, "cables that meet", number, chances=_hidden())

    def _lost(self, cable: Item, side: str) -> None:
        """The ends of a cable that nobody followed to a place."""
        ends = [one.data["ends"][side == "to"] for one in cable.data["conductors"]]
        for end in ends:
            self._unseen(end, self.key(end, "state", end.data["state"]), "end of a conductor", _hidden())
        for number in range(0 if ends else unknown("conductors")):
            ways = self.looker.finding(cable, side)
            key = self.add_key(("side", cable.tag, side, number), cable, "its conductors", ways, _hidden())
            self._unseen(cable, key, "end of a conductor not yet seen", _hidden())

    def _unseen(self, at: Item, key: Key, says: str, chances: tuple[float, ...]) -> None:
        doubt = Doubt((Case({key: 0}, CLEAR), Case({key: 1}, DEFECT)), {key: chances})
        self.asked.questions.append(Question(UNSEEN_PLACE, self.weights["unseen"], at, says, doubt))

    # -- what the trace, the tests and the readings leave open

    def feeds(self) -> None:
        """One question for each group of nets whose breaker is not known: which of those left is it, or another?"""
        sources = self.survey.installation.sources
        done: set[int] = set()
        for net in self.survey.installation.items.get("net", ()):
            fed, function, source = net.data["fed_by"], net.data["function"], sources.get(net)
            live = function.kind != EXACT or function.value in LIVE
            if fed.kind == EXACT or id(fed) in done or not live:
                continue
            done.add(id(fed))
            left = [*source.singles, *([None] if source.elsewhere else [])] if source is not None else []
            chances = tuple([1.0 / len(left)] * len(left)) if len(left) > 1 else _hidden()
            ways = dict(self.looker.tracing(net))
            asked = self.looker.test(source) if source is not None and len(left) > 1 else None
            if asked is not None:
                test = {self.looker.switching(asked): (len(left) - asked.left) / (len(left) - 1)}
                ways.update(test)
                if id(fed) in self.asked.facts:  # what rules ask of the breakers is settled with it
                    self._ways(self.asked.facts[id(fed)], test)
            key = self.add_key(("feed", net.identity), net, "fed_by", ways, chances)
            doubt = Doubt(tuple(Case({key: number}, number) for number in range(len(chances))), {key: chances})
            self.asked.questions.append(Question(FEED, self.weights["feed"], net, "which breaker feeds it", doubt))

    def contradictions(self) -> None:
        """One question for each set of statements that cannot all be true; testing there again settles it."""
        for one in self.survey.installation.contradictions:
            says = "; ".join(one.statements)
            again = {self.looker.again(one.net): 1.0}
            key = self.add_key(("contradiction", one.net.identity, says), one.net, "what feeds it", again, (0.5, 0.5))
            doubt = Doubt((Case({key: 0}, 0), Case({key: 1}, 1)), {key: (0.5, 0.5)})
            self.asked.questions.append(Question(CONTRADICTION, self.weights["contradiction"], one.net, says, doubt))

    def diagnoses(self) -> None:
        """One question for each set of readings that several conditions fit: which one is it?"""
        probes = {probe.tag: probe for probe in self.survey.installation.items.get("probe", ())}
        for one in self.survey.diagnoses:
            probe = probes.get(one.tag)
            fits = {fit.name: fit for fit in reversed(one.fits) if not fit.against}
            if probe is None or len(fits) < 2:
                continue
            part = 0.0
            if one.next_reading is not None:
                doubt = self._after_reading(one, probe, list(fits))
                self.asked.questions.append(Question(DIAGNOSIS, self._grade(fits.values()), probe, one.words, doubt))
                part = 1.0 - doubt.left(frozenset([("diagnosis", one.tag)])) / doubt.open()
            asked = self.asked.facts.get(id(probe.data.get("fits")))
            if asked is not None:  # the reading tells rules as much as it tells the conditions apart
                asked.ways = {self.looker.reading(probe): part} if part else {}

    def _after_reading(self, one: Diagnosis, probe: Item, names: list[str]) -> Doubt:
        """Which condition it is: the next reading leaves those of one outcome, and which of these stays open."""
        assert one.next_reading is not None
        left = [[name for name in outcome.names if name in names] for outcome in one.next_reading.outcomes]
        left.append([name for name in names if not any(name in outcome for outcome in left)])
        left = [outcome for outcome in left if outcome]
        often = {name: sum(name in outcome for outcome in left) for name in names}
        parts = [[1.0 / (len(names) * often[name]) for name in outcome] for outcome in left]
        chances: dict[Key, tuple[float, ...]] = {("diagnosis", one.tag): tuple(map(sum, parts))}
        cases = []
        for number, (outcome, part) in enumerate(zip(left, parts, strict=True)):
            rest = ("left", one.tag, number)
            chances[rest] = tuple(held / sum(part) for held in part)
            fixed: dict[Key, int] = {("diagnosis", one.tag): number}
            cases += [Case({**fixed, rest: index}, name) for index, name in enumerate(outcome)]
        for key, held in chances.items():
            ways = {self.looker.reading(probe): 1.0} if key == ("diagnosis", one.tag) else {}
            self.add_key(key, probe, "next reading", ways, held)
        return Doubt(tuple(cases), chances)

    def _grade(self, fits: Iterable[Any]) -> str:
        """The grade of the worst condition that fits, if confirmed."""
        grades = data("grades")
        column = min(grades["severities"].index(one.severity) for one in fits)
        risk = grades["matrix"][self.weights["diagnosis_likelihood"]][column]
        found: str = grades["grade"][risk]["confirmed"]
        return found


def _doubtful(world: World) -> list[Read]:
    """The facts read in a world that can have another value than they have in it, each once."""
    found = {id(read[2]): read for read in reversed(world.reads) if read[2].kind in (WEAK, LISTED, ASSUMED)}
    return [read for read in reversed(found.values()) if read[2].kind == WEAK or len(read[2].values) > 1]


def _chances(fact: Fact) -> tuple[float, ...]:
    """The chance of each value: even, but for a stated weak one; of a fact not seen, that it hides a defect."""
    count = len(fact.values)
    stated = chance("stated")
    if not count:
        return _hidden()
    if fact.kind != WEAK:
        return tuple([1.0 / count] * count)
    return (stated, *([(1.0 - stated) / max(1, count - 1)] * max(1, count - 1)))


def _hidden(in_the_open: bool = False) -> tuple[float, float]:
    """The chances of what nobody saw: that it is as it should be, and that it is not."""
    defect = chance("defect in the open" if in_the_open else "defect")
    return (1.0 - defect, defect)


__all__ = [
    "CANNOT_TELL",
    "CONTRADICTION",
    "DIAGNOSIS",
    "FEED",
    "FINDING",
    "UNSEEN_PLACE",
    "Known",
    "Open",
    "Question",
    "questions",
]
