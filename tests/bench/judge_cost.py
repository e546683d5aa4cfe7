"""What judging costs against the bare comparison: `python tests/bench/judge_cost.py`.

Each rule runs on the same facts twice in one process: as the engine judges a
certain item, and as a plain function on plain objects, its findings consumed
with `list()`. Only the ratios mean anything. The first rule that looks at an
item pays for its view; an item has ten rules and more that look at it.
"""

from __future__ import annotations

import sys
import time
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from types import SimpleNamespace
from typing import Any

sys.path.insert(0, str(Path(__file__).parents[1]))

import houses
from asfound.judge.rules import NotHere, Rule, only_if, rule
from asfound.judge.run import judge
from asfound.judge.tables import TableSet
from asfound.judge.views import Plain
from asfound.judge.views import plain as plain_view
from asfound.judge.worlds import settled
from asfound.load import load_bytes
from asfound.plugins import collect
from asfound.record.facts import ASSUMED, EXACT, WEAK, Fact, Item, exact
from asfound.survey import read_record
from asfound.trace import Installation, trace

ABOUT: dict[str, Any] = {
    "severity": "marginal", "likelihood": "remote", "caution": "Notice: an invented rule.",
    "defer": "The adopted local code decides.", "source": "common practice, no source", "basis": "common practice",
}  # fmt: skip
ITEMS = 4_000
ROUNDS = 7
RULES = 20
"""Rules that read the same facts; of the built-in ones many more look at a conductor."""


@rule("bench-two-facts", of="breaker", **ABOUT)
def two_facts(breaker):  # type: ignore[no-untyped-def]
    """Two facts and one comparison."""
    if breaker.amps > 40 and breaker.poles == 1:
        yield f"{breaker} is large."


@rule("bench-six-facts", of="conductor", **ABOUT)
def six_facts(conductor):  # type: ignore[no-untyped-def]
    """Six facts, one of them by way of another item."""
    only_if(conductor.function in ("ungrounded", "switched", "traveller"))
    only_if(conductor.gauge not in ("18", "16"))
    for breaker in conductor.breakers:
        if breaker.amps > (20 if conductor.metal == "copper" else 15) and conductor.gauge == "14":
            yield f"{breaker} is too large for {conductor}."


@rule("bench-does-not-apply", of="conductor", **ABOUT)
def does_not_apply(conductor):  # type: ignore[no-untyped-def]
    """Ends at its condition."""
    only_if(conductor.function == "grounding")
    yield "grounding"


def items(kind: str, amps: Fact) -> list[Item]:
    made = []
    for number in range(ITEMS):
        breaker = Item("breaker", f"A {number}", f"panel A, space {number}")
        breaker.data.update(amps=amps, poles=exact(1))
        if kind == "breaker":
            made.append(breaker)
            continue
        conductor = Item("conductor", f"W{number} black", f"W{number} black")
        conductor.data.update(
            function=exact("ungrounded"), gauge=exact("14"), metal=exact("copper"), breakers=exact((breaker,))
        )
        made.append(conductor)
    return made


def plain(item: Item) -> SimpleNamespace:
    """The same facts on a plain object."""
    held = {name: _plain(fact.values[0]) for name, fact in item.data.items()}
    return SimpleNamespace(**held)


def _plain(value: Any) -> Any:
    return tuple(map(plain, value)) if isinstance(value, tuple) else value


def installation(kind: str, made: list[Item]) -> Installation:
    record = read_record(load_bytes(houses.as_bytes(houses.chain(1)), "bench.yaml"))
    return Installation(record, {kind: made})


def bare(function: Callable[[Any], Any], objects: list[Any]) -> None:
    for one in objects:
        try:
            list(function(one))
        except NotHere:
            pass


def best(work: Callable[[], Any]) -> float:
    """The least seconds of `ROUNDS` runs."""
    times = []
    for _ in range(ROUNDS):
        start = time.perf_counter()
        work()
        times.append(time.perf_counter() - start)
    return min(times)


def cost(made: Rule, amps: Fact, rules: int) -> tuple[float, float]:
    """Microseconds for a check: judged when so many rules look at each item, and bare on its stated values."""
    held = items(made.of, amps)
    objects = [plain(item) for item in held]
    place = installation(made.of, held)
    tables = TableSet([], "2026-01-01")
    alike = [replace(made, name=f"{made.name}-{number}") for number in range(rules)]
    judged = best(lambda: judge(place, alike, tables))
    plainly = best(lambda: bare(made.run, objects))
    return judged / ITEMS / rules * 1e6, plainly / ITEMS * 1e6


def rulebook() -> tuple[float, float, int]:
    """Microseconds for a check judged and bare, and the checks: every built-in rule on a traced house.

    Counted are the checks that certain facts settle and that a plain object can stand for; rules that use the
    words of rule authors on items, such as `given`, cannot run on one. Views are made anew in every round.
    """
    record = houses.as_bytes(houses.house(1, cables=600, doubt=0, untraced=0))
    house = trace(read_record(load_bytes(record, "bench.yaml")))
    collected = collect()
    objects = mirrored(house)
    pairs: list[tuple[Rule, list[Item], list[Any]]] = []
    for made in collected.rules:
        if made.wants:
            continue
        certain: dict[Item, Plain] = {}
        able = [item for item in house.items.get(made.of, ()) if settled(made, plain_view(item, certain), ())]
        able = [item for item in able if runs(made.run, objects[item])]
        pairs.append((made, able, [objects[item] for item in able]))

    def judged() -> None:
        certain: dict[Item, Plain] = {}
        for made, able, _ in pairs:
            for item in able:
                settled(made, plain_view(item, certain), ())

    def plainly() -> None:
        for made, _, held in pairs:
            bare(made.run, held)

    count = sum(len(able) for _, able, _ in pairs)
    return best(judged) / count * 1e6, best(plainly) / count * 1e6, count


class Thing:
    """A plain object, compared by identity: things of a house lead back to each other."""


def mirrored(house: Installation) -> dict[Item, Thing]:
    """A plain object for every item of a house, with its certain facts and the objects of related items."""
    objects = {item: Thing() for held in house.items.values() for item in held}

    def value(held: Any) -> Any:
        if isinstance(held, tuple):
            return tuple(map(value, held))
        return objects.get(held, held) if isinstance(held, Item) else held

    for item, made in objects.items():
        vars(made).update(tag=item.tag, words=item.words)
        for name, held in item.data.items():
            if not isinstance(held, Fact) or held.kind == EXACT:
                setattr(made, name, value(held.value if isinstance(held, Fact) else held))
    return objects


def runs(function: Callable[[Any], Any], one: Any) -> bool:
    try:
        bare(function, [one])
    except Exception:
        return False
    return True


def main() -> None:
    print("microseconds for a certain item        judged   bare   ratio")
    for function in (two_facts, six_facts, does_not_apply):
        made = function.asfound_rule
        for rules in (1, 10):
            judged, plainly = cost(made, exact(15), rules)
            print(f"{made.name:<22}{rules:>3} rules on it{judged:8.2f}{plainly:7.2f}{judged / plainly:8.1f}")
    judged, plainly, count = rulebook()
    print(f"{'built-in rules on a house':<38}{judged:7.2f}{plainly:7.2f}{judged / plainly:8.1f}   ({count} checks)")
    print("with one doubtful fact of two values, one rule")
    for fact in (Fact(WEAK, (15, 20)), Fact(ASSUMED, (15, 20))):
        judged, plainly = cost(six_facts.asfound_rule, fact, 1)
        print(f"bench-six-facts, {fact.kind:<21}{judged:7.2f}{plainly:7.2f}{judged / plainly:8.1f}")


if __name__ == "__main__":
    main()
