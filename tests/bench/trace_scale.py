"""How the way of a record through the house grows: `python tests/bench/trace_scale.py`.

Times are of this machine and this run; what counts is the ratio between a
record and one four times as large, 4 when the time grows as the record does,
16 when it grows with its square.
"""

from __future__ import annotations

import sys
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

sys.path.insert(0, str(Path(__file__).parents[1]))

import houses
from asfound.judge.run import judge
from asfound.judge.tables import TableSet
from asfound.load import load_bytes
from asfound.plugins import collect
from asfound.survey import read_record
from asfound.trace import trace

SHAPES: list[tuple[str, Callable[[int], Any], int]] = [
    ("one joint of n ends", houses.one_joint, 5_000),
    ("a chain of n cables", houses.chain, 3_750),
    ("n breakers joined solidly", houses.many_breakers, 250),
    ("n breakers through switches", houses.breakers_through_switches, 250),
    ("n breakers, 500 receptacles", lambda n: houses.many_breakers(n, 500), 60),
    ("one hot net, n switches", houses.many_switches, 2_500),
    ("one hot net, n three-ways", lambda n: houses.many_switches(n, "three-way switch"), 2_500),
    ("n three-way pairs in a row", houses.three_way_ladder, 1_000),
    ("n claims that it is dead", houses.many_claims, 500),
]


def steps(record: Any) -> tuple[int, list[float]]:
    """Conductors, and seconds to load, to build, to trace."""
    data = houses.as_bytes(record)
    times = [time.perf_counter()]
    document = load_bytes(data, "bench.yaml")
    times.append(time.perf_counter())
    built = read_record(document)
    times.append(time.perf_counter())
    trace(built)
    times.append(time.perf_counter())
    return len(built.conductors), [after - before for before, after in zip(times, times[1:], strict=False)]


def least(record: Any, rounds: int = 3) -> tuple[int, list[float]]:
    tries = [steps(record) for _ in range(rounds)]
    return tries[0][0], [min(column) for column in zip(*(seconds for _, seconds in tries), strict=True)]


def main() -> None:
    print("random houses          conductors    load   build   trace  seconds   trace, microseconds for a conductor")
    for cables in (1_750, 7_000, 17_500):
        count, seconds = least(houses.house(1, cables=cables))
        spent = "".join(f"{one:8.2f}" for one in seconds)
        print(f"{cables:>7} cables {count:>17}{spent}{seconds[2] / count * 1e6:20.0f}")
    print("\nshape                              n        4n   ratio: load  build  trace")
    for name, shape, size in SHAPES:
        _, small = least(shape(size))
        count, large = least(shape(4 * size))
        ratios = "".join(f"{two / one:7.1f}" for one, two in zip(small, large, strict=True))
        print(f"{name:<30}{size:>6}{4 * size:>10}      {ratios}   {large[1]:6.2f} s build, {large[2]:6.2f} s trace")
    print("\njudging with every rule")
    collected = collect()
    tables = TableSet(collected.tables, "2026-01-01")
    for cables in (1_750, 7_000):
        house = trace(read_record(load_bytes(houses.as_bytes(houses.house(1, cables=cables)), "bench.yaml")))
        start = time.perf_counter()
        results = judge(house, collected.rules, tables)
        spent_judging = time.perf_counter() - start
        checks = sum(results.totals.values())
        print(
            f"{cables:>7} cables, {checks} checks, {spent_judging:6.2f} s, {spent_judging / checks * 1e6:5.1f} microseconds a check"
        )


if __name__ == "__main__":
    main()
