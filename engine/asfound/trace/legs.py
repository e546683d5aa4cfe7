"""Legs of breakers by measurement: full voltage between two means different legs, none means the same one.

None means the same leg only where both are known to be live, because two dead
terminals show none either. Speaks of a 120/240 V supply, where a breaker is on
one of two legs, and of single poles; starts from a leg that is known for
certain. Linear in readings and log entries.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import Any

from asfound.record.facts import EXACT, Fact, Item
from asfound.record.model import Record
from asfound.trace.log import Step
from asfound.trace.proof import volts_of

NOMINAL_V = 120.0
SPLIT = "120/240 split phase"
APART = 0.9
"""Share of the voltage between legs, or of a leg, from which it is taken as such; common practice, no source."""
SAME = 0.05
"""Share of the voltage of a leg up to which there is none; common practice, no source."""
Related = tuple[Item, bool, Item]  # other breaker, whether on the same leg, reading


def measure_legs(record: Record, log: Iterable[Step]) -> None:
    """Give breakers whose leg is only a guess the leg that readings show."""
    if record.system != SPLIT:
        return
    beside: dict[Item, list[Related]] = {}
    for one, two, same, reading in _pairs(log):
        beside.setdefault(one, []).append((two, same, reading))
        beside.setdefault(two, []).append((one, same, reading))
    legs = {breaker: leg for breaker in beside if (leg := _leg(breaker))}
    told: dict[Item, list[tuple[str, Item, Item]]] = {}  # leg, by comparison with which breaker, reading
    queue = list(legs)
    for known in queue:
        for other, same, reading in beside[known]:
            leg = legs[known] if same else _OTHER[legs[known]]
            told.setdefault(other, []).append((leg, known, reading))
            if other not in legs:
                legs[other] = leg
                queue.append(other)
    for breaker, said in told.items():
        if not _leg(breaker) and len({leg for leg, _, _ in said}) == 1:
            breaker.data["legs"] = _measured(*said[0])


_OTHER = {"L1": "L2", "L2": "L1"}


def _measured(leg: str, known: Item, reading: Item) -> Fact:
    volts: Fact = reading.data["volts"]
    return Fact(
        EXACT, ((leg,),), written=volts.written, place=reading.place, how="meter", by=volts.by, visit=reading.visit,
        note=f"{volts.written} between it and {known.tag} (reading {reading.tag})",
    )  # fmt: skip


def _leg(breaker: Item) -> str:
    """The leg of a single pole that is known for certain; empty for any other."""
    legs = breaker.data["legs"]
    return str(legs.value[0]) if legs.kind == EXACT and len(legs.value) == 1 else ""


def _pairs(log: Iterable[Step]) -> Iterator[tuple[Item, Item, bool, Item]]:
    """Two single-pole breakers that a reading compares, and whether it shows them on one leg."""
    quiet: list[tuple[Step, Item, Item, Item]] = []  # next to no voltage between two, which may both be dead
    live: set[tuple[str, int, Item]] = set()  # visit, how often was switched, breaker
    for step in log:
        for reading in () if step.switches else step.readings:
            points = [point for point in reading.data["points"] if point is not None]
            breakers = [held for sort, held in points if sort == "breaker" and len(held.data["legs"].values[:1]) == 1]
            volts, contact = volts_of(reading), reading.data.get("contact")
            if len(points) != 2 or not volts or not isinstance(contact, Fact) or contact.values != (True,):
                continue
            if len(breakers) == 1 and _reference(points) and min(volts) >= APART * NOMINAL_V:
                # Live behind a breaker that is off, it is fed from elsewhere, and perhaps by the other leg.
                if not step.supply(breakers[0]).off:
                    live.add((step.visit, step.turn, breakers[0]))
            elif len(breakers) == 2 and breakers[0] is not breakers[1]:
                if min(volts) >= APART * 2 * NOMINAL_V:
                    yield breakers[0], breakers[1], False, reading
                elif max(volts) <= SAME * NOMINAL_V:
                    quiet.append((step, breakers[0], breakers[1], reading))
    for step, one, two, reading in quiet:
        if all(step.supply(b).off is False or (step.visit, step.turn, b) in live for b in (one, two)):
            yield one, two, True, reading


def _reference(points: Iterable[tuple[str, Any]]) -> bool:
    return any(sort in ("bar", "earth", "panel") for sort, _ in points)
