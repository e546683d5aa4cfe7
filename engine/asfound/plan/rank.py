"""A greedy plan: which observations to make, in which order, and what each is expected to settle.

Pure: it knows questions by weight and doubt, and observations by the share of
each fact that they show.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from asfound.plan.doubt import Key
from asfound.plan.look import Observation
from asfound.plan.questions import Open, Question

_LEAST = 1e-9
"""A gain below this is none."""
_DIGITS = 6
"""Figures of a gain that count when two are compared."""


@dataclass(frozen=True, slots=True)
class Gain:
    """What one step settles of one question: points of weight, and whether nothing of it is left open."""

    question: Question
    points: float
    wholly: bool


@dataclass(frozen=True, slots=True)
class Step:
    """One observation of a plan: its rank from 1, what it settles, and points open before it. `shows` is by fact."""

    rank: int
    observation: Observation
    points: float
    before: float
    gains: tuple[Gain, ...]
    shows: Mapping[Key, float] = field(default_factory=dict)


@dataclass(slots=True)
class Ranking:
    """The steps of a plan, the points open at its start, and those that no observation can settle."""

    steps: list[Step]
    open: float
    beyond: float


def rank(asked: Open, most: int | None = None) -> Ranking:
    """The observations that settle most of what is open, each chosen after those before it; at most `most` of them."""
    return _Greedy(asked).run(most)


class _Greedy:
    def __init__(self, asked: Open) -> None:
        self.asked = asked
        self.shares: dict[Key, float] = {}
        self.settled = [0.0] * len(asked.questions)
        self.by_fact: dict[Key, list[int]] = {}
        for number, question in enumerate(asked.questions):
            for key in question.doubt.chances:
                self.by_fact.setdefault(key, []).append(number)
        self.shows: dict[Observation, dict[Key, float]] = {}
        for key, known in asked.facts.items():
            for one, share in known.ways.items() if key in self.by_fact else ():
                self.shows.setdefault(one, {})[key] = share
        self.order = {one: number for number, one in enumerate(sorted(self.shows, key=lambda one: one.order))}
        self.gains: dict[Observation, dict[int, float]] = {one: self._gain(one) for one in self.shows}

    def run(self, most: int | None) -> Ranking:
        """Choose step by step until nothing more is settled, or there are enough."""
        questions = self.asked.questions
        opened = sum(question.weight * question.doubt.open() for question in questions)
        left = opened
        steps: list[Step] = []
        visited: set[object] = set()
        while self.gains and (most is None or len(steps) < most):
            best = min(self.gains, key=lambda one: self._place(one, visited))
            points = sum(self.gains[best].values())
            if points < _LEAST:
                break
            gains = self._take(best)
            steps.append(Step(len(steps) + 1, best, points, left, gains, self.shows[best]))
            left -= points
            visited.add(best.place)
        return Ranking(steps, opened, self._beyond())

    def _place(self, one: Observation, visited: set[object]) -> tuple[float, int, bool, int]:
        """Most points first; of equals the least effort, then where somebody is already, then a fixed order."""
        points = round(sum(self.gains[one].values()), _DIGITS)
        return -points, one.act.effort, one.place not in visited, self.order[one]

    def _gain(self, one: Observation) -> dict[int, float]:
        """Points that an observation settles now, by the number of the question."""
        after: dict[Key, float] = {}
        touched: dict[int, None] = {}
        for key, share in self.shows[one].items():
            after[key] = min(1.0, self.shares.get(key, 0.0) + share)
            touched.update(dict.fromkeys(self.by_fact[key]))
        found = {}
        for number in touched:
            question = self.asked.questions[number]
            mine = {key: after.get(key, self.shares.get(key, 0.0)) for key in question.doubt.chances}
            more = question.weight * (question.doubt.settled(mine) - self.settled[number])
            if more > _LEAST:
                found[number] = more
        return found

    def _take(self, one: Observation) -> tuple[Gain, ...]:
        """Make an observation: its facts count as known, and what hangs on them is worked out again."""
        found = self.gains.pop(one)
        for key, share in self.shows[one].items():
            self.shares[key] = min(1.0, self.shares.get(key, 0.0) + share)
        gains = []
        stale: dict[Observation, None] = {}
        for key in self.shows[one]:
            for number in self.by_fact[key]:
                for other in self.asked.questions[number].doubt.chances:
                    stale.update(dict.fromkeys(self.asked.facts[other].ways))
        for number, points in found.items():
            question = self.asked.questions[number]
            self.settled[number] += points / question.weight
            gains.append(Gain(question, points, question.doubt.open() - self.settled[number] < _LEAST))
        for other in stale:
            if other in self.gains:
                self.gains[other] = self._gain(other)
        return tuple(sorted(gains, key=lambda gain: (-round(gain.points, _DIGITS), gain.question.order)))

    def _beyond(self) -> float:
        """Points of questions that not even all observations together settle."""
        every: dict[Key, float] = {}
        for shows in self.shows.values():
            for key, share in shows.items():
                every[key] = min(1.0, every.get(key, 0.0) + share)
        return sum(
            question.weight * (question.doubt.open() - question.doubt.settled(every))
            for question in self.asked.questions
        )


def points_of(questions: Sequence[Question]) -> float:
    """Points that are open in these questions."""
    return sum(question.weight * question.doubt.open() for question in questions)
