"""How open a question is, and what knowing some facts would leave of it. Numbers only; nothing of wiring.

A question is a list of cases. Each case has one outcome and holds with certain
values of some facts; facts are independent of each other and each value has
its chance. How open it is, is one number from 0 (decided) to 1 (each outcome
as likely as another): with chances p of K outcomes, K / (K - 1) * (1 - sum p²),
for two outcomes 4 p (1 - p). It is concave in the chances, so that knowing more
never leaves it more open on average.
"""

from __future__ import annotations

from collections.abc import Hashable, Iterable, Mapping
from dataclasses import dataclass, field

Key = Hashable
"""Stands for one fact."""
_SPLITS = 512
"""Combinations of known values looked at for one question; the facts beyond count as not known."""


@dataclass(frozen=True, slots=True)
class Case:
    """One case: the number of the value that each fact has in it, by key, and the outcome."""

    values: Mapping[Key, int]
    outcome: Hashable


@dataclass(slots=True)
class Doubt:
    """One question: its cases, and the chances of the values of each fact.

    Values of a fact that lead to the same in every case count as one:
    `merged` gives by key the number under which each value stands.
    """

    cases: tuple[Case, ...]
    chances: dict[Key, tuple[float, ...]]
    merged: dict[Key, list[int]] = field(default_factory=dict)
    _left: dict[frozenset[Key], float] = field(default_factory=dict, repr=False)
    _kinds: int = 0

    def __post_init__(self) -> None:
        self._kinds = len({case.outcome for case in self.cases})
        self.chances = dict(self.chances)
        for key in self.chances:
            self._merge(key)

    def _merge(self, key: Key) -> None:
        """Let values of a fact that are alike in everything but their number be one."""
        alike: dict[int, set[object]] = {index: set() for index in range(len(self.chances[key]))}
        for case in self.cases:
            if key in case.values:
                others = frozenset(pair for pair in case.values.items() if pair[0] != key)
                alike[case.values[key]].add((others, case.outcome))
        numbers: dict[frozenset[object], int] = {}
        self.merged[key] = [numbers.setdefault(frozenset(held), len(numbers)) for held in alike.values()]
        chances = [0.0] * len(numbers)
        for index, number in enumerate(self.merged[key]):
            chances[number] += self.chances[key][index]
        self.chances[key] = tuple(chances)
        kept: dict[object, Case] = {}
        for case in self.cases:
            values = {**case.values, key: self.merged[key][case.values[key]]} if key in case.values else case.values
            kept.setdefault((frozenset(values.items()), case.outcome), Case(values, case.outcome))
        self.cases = tuple(kept.values())

    def open(self) -> float:
        """How open it is now."""
        return self.left(frozenset())

    def left(self, known: frozenset[Key]) -> float:
        """How open it is on average when these facts are known."""
        known = known.intersection(self.chances)
        held = self._left.get(known)
        if held is None:
            held = self._left[known] = self._expected(self.cases, self._bounded(known))
        return held

    def settled(self, shares: Mapping[Key, float]) -> float:
        """What is settled when each fact is known by its share, from 0 to 1 of `open()`.

        A fact known by half is known with a chance of one half, and one chance
        opens all facts of at least that share: the best such chance counts.
        """
        mine = {key: min(1.0, shares[key]) for key in self.chances if shares.get(key, 0.0) > 0}
        now = self.open()
        best = 0.0
        for share in set(mine.values()):
            known = frozenset(key for key, held in mine.items() if held >= share)
            best = max(best, share * (now - self.left(known)))
        return best

    def given(self, values: Mapping[Key, int]) -> dict[Hashable, float]:
        """The chance of each outcome when these facts have their values of these numbers."""
        fixed = {key: self.merged[key][index] for key, index in values.items() if key in self.merged}
        found: dict[Hashable, float] = {}
        for case in self.cases:
            if all(case.values.get(key, index) == index for key, index in fixed.items()):
                found[case.outcome] = found.get(case.outcome, 0.0) + self._chance(case, frozenset(fixed))
        whole = sum(found.values())
        return {outcome: held / whole for outcome, held in found.items()} if whole else {}

    def _bounded(self, known: frozenset[Key]) -> list[Key]:
        """Known facts in order of reading, as many as keep the combinations within bounds."""
        kept: list[Key] = []
        count = 1
        for key in self.chances:
            if key in known and count * len(self.chances[key]) <= _SPLITS:
                count *= len(self.chances[key])
                kept.append(key)
        return kept

    def _expected(self, cases: Iterable[Case], known: list[Key]) -> float:
        spread = self._split(list(cases), known, frozenset(), 1.0)
        whole = sum(mass for mass, _ in spread)
        return sum(mass * openness for mass, openness in spread) / whole if whole else 0.0

    def _split(
        self, cases: list[Case], known: list[Key], done: frozenset[Key], mass: float
    ) -> list[tuple[float, float]]:
        """Pairs of a chance and how open the question is then, over all values of the known facts."""
        key = next((key for key in known if key not in done and any(key in case.values for case in cases)), None)
        if key is None or len({case.outcome for case in cases}) < 2:
            found: dict[Hashable, float] = {}
            for case in cases:
                found[case.outcome] = found.get(case.outcome, 0.0) + self._chance(case, done)
            whole = sum(found.values())
            return [(mass * whole, openness([held / whole for held in found.values()], self._kinds))] if whole else []
        spread: list[tuple[float, float]] = []
        for index, part in enumerate(self.chances[key]):
            within = [case for case in cases if case.values.get(key, index) == index]
            spread += self._split(within, known, done | {key}, mass * part)
        return spread

    def _chance(self, case: Case, known: frozenset[Key]) -> float:
        """The chance of a case, its known facts being as they are."""
        chance = 1.0
        for key, index in case.values.items():
            if key not in known:
                chance *= self.chances[key][index]
        return chance


def openness(chances: Iterable[float], outcomes: int) -> float:
    """From 0 to 1: how far these chances, of so many possible outcomes, are from a decision."""
    if outcomes < 2:
        return 0.0
    return max(0.0, outcomes / (outcomes - 1) * (1.0 - sum(chance * chance for chance in chances)))
