"""Run one rule on one item in every world that the evidence allows.

The rule runs first with stated values. Each doubtful fact it read opens its
other values, and the rule runs again for those, fewest departures from the
record first, until no new doubtful fact is read or `MAX_WORLDS` is met. A
certain item costs one run.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Any

from asfound.judge.rules import Defect, Rule
from asfound.judge.tables import Row, Tables, TableSet
from asfound.judge.views import Gap, Missing, NotHere, Read, Run, view
from asfound.record.facts import ASSUMED, EXACT, LISTED, WEAK, Fact, Item

MAX_WORLDS = 256
"""Worlds run for one rule on one item; a finding met within it stands, and without one the result is cannot tell."""

CLEAR, SKIP, DEFECT, UNKNOWN = "clear", "does not apply", "defect", "cannot tell"


@dataclass(slots=True)
class World:
    """One world: the values chosen, what the rule said in it, and what it read."""

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
        if opened:
            before = choices
            for number, fact in opened.items():
                for index in range(1, len(fact.values)):
                    queue.append({**before, number: index})
                before = {**before, number: 0}
    return explored


def run_once(
    rule: Rule, item: Item, tables: TableSet, site: Item, choices: dict[int, int]
) -> tuple[World, dict[int, Fact]]:
    """Run `rule` in one world; give the world and the doubtful facts it opened."""
    run = Run(choices)
    seen_tables: Tables | None = None
    arguments: list[Any] = [view(item, run)]
    for want in rule.wants:
        if want == "tables":
            seen_tables = Tables(tables, run)
            arguments.append(seen_tables)
        else:
            arguments.append(view(site, run))
    defects: list[Defect] = []
    lacking: Missing | Gap | None = None
    try:
        for said in rule.run(*arguments):
            defects.append(said if said.__class__ is Defect else Defect(_sentence(said)))
        outcome = DEFECT if defects else CLEAR
    except NotHere:
        outcome = DEFECT if defects else SKIP
    except (Missing, Gap) as missing:
        lacking = missing
        outcome = DEFECT if defects else UNKNOWN
    facts = {id(fact): fact for _, _, fact in run.reads if fact.kind is not EXACT}
    rows = seen_tables.rows() if seen_tables is not None and (defects or lacking) else []
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
    """A doubtful fact whose value changes the outcome. `alone` when it decides by itself."""

    item: Item
    name: str
    fact: Fact
    alone: bool
    holding: tuple[Any, ...]


def decisive(worlds: list[World], present: Callable[[World], bool]) -> list[Decisive]:
    """The doubtful facts that decide, those that decide alone first."""
    facts: dict[int, Read] = {}
    for world in worlds:
        for read in world.reads:
            if read[2].kind in (WEAK, LISTED, ASSUMED) and len(read[2].values) > 1:
                facts.setdefault(id(read[2]), read)
    found = []
    for item, name, fact in facts.values():
        groups: dict[int, set[bool]] = {}
        for world in worlds:
            index = world.index(fact)
            if index is not None:
                groups.setdefault(index, set()).add(present(world))
        outcomes = {frozenset(held) for held in groups.values()}
        unread = {present(world) for world in worlds if world.index(fact) is None}
        if len(outcomes) < 2 and not (unread and outcomes and frozenset(unread) not in outcomes):
            continue
        alone = all(len(held) == 1 for held in groups.values()) and not unread
        holding = tuple(fact.values[index] for index, held in sorted(groups.items()) if True in held)
        found.append(Decisive(item, name, fact, alone, holding))
    return sorted(found, key=lambda one: not one.alone)
