"""Run one rule on one item in every world that the evidence allows.

A rule that finds nothing by certain facts alone is run once, on a plain view,
and that is all (`settled`). Otherwise it runs on noted views, first with
stated values. Each doubtful fact it read opens its other values, and the rule
runs again for those, fewest departures from the record first, until no new
doubtful fact is read or `MAX_WORLDS` is met. The worlds run are the leaves of
the tree of its reads, so no two of them are the same.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Callable, Iterable
from dataclasses import dataclass, field
from typing import Any

from asfound.judge.rules import Defect, Rule
from asfound.judge.tables import Row, Tables, TableSet
from asfound.judge.views import Doubtful, Gap, Missing, NotHere, Plain, Read, Run, view
from asfound.record.facts import ASSUMED, EXACT, LISTED, WEAK, Fact, Item

MAX_WORLDS = 256
"""Worlds run for one rule on one item; a finding met within it stands, and without one the result is cannot tell."""

CLEAR, SKIP, DEFECT, UNKNOWN = "clear", "does not apply", "defect", "cannot tell"


@dataclass(slots=True)
class World:
    """One world: the values chosen, what the rule said in it, and what it read. `facts` are those not certain."""

    choices: dict[int, int]
    outcome: str
    defects: list[Defect]
    reads: list[Read]
    facts: dict[int, Fact]
    rows: list[Row] = field(default_factory=list)
    lacking: Missing | Gap | None = None

    def index(self, fact: Fact) -> int | None:
        """Which value of a doubtful fact holds in this world; None when the rule did not read it."""
        if id(fact) in self.choices:
            return self.choices[id(fact)]
        return 0 if id(fact) in self.facts else None


@dataclass(slots=True)
class Explored:
    """All worlds run for one item; `bound_met` when there would have been more."""

    worlds: list[World]
    bound_met: bool = False


def settled(rule: Rule, seen: Plain, more: Iterable[Any]) -> str | None:
    """`CLEAR` or `SKIP` when certain facts alone lead there; None when worlds have to be run."""
    try:
        for _ in rule.run(seen, *more):
            return None
    except NotHere:
        return SKIP
    except (Doubtful, Exception, SystemExit):
        return None
    return CLEAR


def explore(rule: Rule, item: Item, tables: TableSet, site: Item, bound: int = MAX_WORLDS) -> Explored:
    """Run `rule` on `item` in every world, fewest departures first. A rule that raises lets it through."""
    queue: deque[dict[int, int]] = deque([{}])
    explored = Explored([])
    while queue:
        if len(explored.worlds) >= bound:
            explored.bound_met = True
            break
        choices = queue.popleft()
        world, opened = run_once(rule, item, tables, site, choices)
        explored.worlds.append(world)
        before = choices
        for number, fact in opened.items():
            queue.extend({**before, number: index} for index in range(1, len(fact.values)))
            before = {**before, number: 0}
    return explored


def run_once(
    rule: Rule, item: Item, tables: TableSet, site: Item, choices: dict[int, int]
) -> tuple[World, dict[int, Fact]]:
    """Run `rule` in one world; give the world and the doubtful facts it opened."""
    run = Run(choices)
    seen_tables = Tables(tables, run)
    more = [seen_tables if want == "tables" else view(site, run) for want in rule.wants]
    defects: list[Defect] = []
    lacking: Missing | Gap | None = None
    absent = False
    try:
        for said in rule.run(view(item, run), *more):
            defects.append(said if said.__class__ is Defect else Defect(_sentence(said)))
    except NotHere:
        absent = True
    except (Missing, Gap) as missing:
        lacking = missing
    if lacking is None and run.misses:  # the rule swallowed it; it is missing all the same
        lacking = Missing(*next(iter(run.misses.values())))
    if lacking is not None:
        lacking.__traceback__ = None  # it would keep every view of the run
    outcome = DEFECT if defects else UNKNOWN if lacking is not None else SKIP if absent else CLEAR
    facts = {id(fact): fact for _, _, fact in run.reads if fact.kind is not EXACT}
    rows = seen_tables.rows() if defects or lacking is not None else []
    return World(choices, outcome, defects, run.reads, facts, rows, lacking), run.open


def _sentence(said: Any) -> str:
    if not isinstance(said, str):
        raise TypeError(f"a rule yields sentences or Defect values, not {type(said).__name__}")
    return said


def certainty(worlds: list[World], present: Callable[[World], bool], bound_met: bool) -> str | None:
    """How sure a finding is, from the worlds in which it is present; None when it is in none.

    Worlds as recorded are those in which every weak fact has its stated value;
    listed and assumed facts have no stated value and range over their list.
    """
    holding = [world for world in worlds if present(world)]
    if not holding:
        return None
    if len(holding) == len(worlds) and not bound_met:
        weak = any(fact.kind in (WEAK, ASSUMED) for world in holding for fact in world.facts.values())
        return "likely" if weak else "confirmed"
    recorded = [
        world for world in worlds
        if all(world.index(fact) == 0 for fact in world.facts.values() if fact.kind is WEAK)
    ]  # fmt: skip
    if recorded and all(present(world) for world in recorded):
        return "likely"
    return "possible"


@dataclass(frozen=True, slots=True)
class Decisive:
    """A doubtful fact whose value changes whether a finding holds, and the values with which it can hold.

    `alone` when its value settles the finding whatever the other facts turn out to be.
    """

    item: Item
    name: str
    fact: Fact
    alone: bool
    holding: tuple[Any, ...]


def decisive(worlds: list[World], present: Callable[[World], bool], bound_met: bool = False) -> list[Decisive]:
    """The doubtful facts that decide, those that decide alone first, else in the order of reading.

    A fact decides when two worlds differ in its value alone, among the facts
    that both of them read, and the finding is present in one of them only.
    """
    reads = {id(read[2]): read for world in reversed(worlds) for read in reversed(world.reads) if _open(read[2])}
    reads = dict(reversed(reads.items()))
    values = {id(world): {id(f): world.index(f) for f in world.facts.values() if _open(f)} for world in worlds}
    holding = [world for world in worlds if present(world)]
    others = [world for world in worlds if not present(world)]
    deciding: set[int] = set()
    for one in holding:
        for two in others:
            if len(deciding) == len(reads):
                break
            mine, theirs = values[id(one)], values[id(two)]
            apart = [number for number, index in mine.items() if theirs.get(number, index) != index]
            if len(apart) == 1:
                deciding.update(apart)
    found = []
    for number, (item, name, fact) in reads.items():
        if number not in deciding:
            continue
        everywhere = any(number not in values[id(world)] for world in holding)
        held = {values[id(world)].get(number) for world in holding}
        can_hold = tuple(value for index, value in enumerate(fact.values) if everywhere or index in held)
        settles = all(
            world.lacking is None and number in values[id(world)] and values[id(world)][number] not in held
            for world in others
        )
        alone = settles and not everywhere and not bound_met
        found.append(Decisive(item, name, fact, alone, can_hold))
    return sorted(found, key=lambda one: not one.alone)


def _open(fact: Fact) -> bool:
    return fact.kind in (WEAK, LISTED, ASSUMED) and len(fact.values) > 1
