"""What judging costs against the bare comparison: `python tests/bench/judge_cost.py`.

Each rule runs on the same facts twice in one process: as the engine judges a
certain item, and as a plain function on plain objects, its findings consumed
with `list()`. Only the ratios mean anything; they are what is printed first.
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
from asfound.load import load_bytes
from asfound.record.facts import ASSUMED, WEAK, Fact, Item, exact
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


def cost(made: Rule, amps: Fact) -> tuple[float, float, float]:
    """Microseconds for an item: by the first rule that reads its facts, by one of `RULES`, and bare."""
    held = items(made.of, amps)
    objects = [plain(item) for item in held]
    place = installation(made.of, held)
    tables = TableSet([], "2026-01-01")
    rules = [replace(made, name=f"{made.name}-{number}") for number in range(RULES)]
    first = best(lambda: judge(place, [made], tables))
    judged = best(lambda: judge(place, rules, tables)) / RULES
    plainly = best(lambda: bare(made.run, objects))
    return first / ITEMS * 1e6, judged / ITEMS * 1e6, plainly / ITEMS * 1e6


def main() -> None:
    print(
        f"microseconds for a certain item; one of {RULES} rules that read the same facts, against the bare comparison"
    )
    print("rule                     first   one of     bare   ratio, first   ratio, one of")
    for function in (two_facts, six_facts, does_not_apply):
        made = function.asfound_rule
        first, judged, plainly = cost(made, exact(15))
        ratios = f"{first / plainly:15.1f}{judged / plainly:16.1f}"
        print(f"{made.name:<22}{first:8.2f}{judged:9.2f}{plainly:9.2f}{ratios}")
    print("with one doubtful fact of two values")
    for fact in (Fact(WEAK, (15, 20)), Fact(ASSUMED, (15, 20))):
        _, judged, plainly = cost(six_facts.asfound_rule, fact)
        print(f"bench-six-facts {fact.kind:<7}{judged:16.2f}{plainly:9.2f}{judged / plainly:31.1f}")
    house = trace(read_record(load_bytes(houses.as_bytes(houses.house(1, cables=600, doubt=0, untraced=0)), "h.yaml")))
    from asfound.plugins import collect

    collected = collect()
    tables = TableSet(collected.tables, "2026-01-01")
    results = judge(house, collected.rules, tables)
    spent = best(lambda: judge(house, collected.rules, tables))
    checks = sum(results.totals.values())
    print(
        f"a traced house, every rule: {checks} checks, {spent / checks * 1e6:.2f} microseconds each; {dict(results.totals)}"
    )


if __name__ == "__main__":
    main()
