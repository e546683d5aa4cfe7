"""What the wiring map costs, and how it grows: `python tests/bench/map_scale.py`.

Times are of this machine and this run. What counts is the ratio between a
record and one four times as large, 4 when the time grows as the record does,
and what the map costs beside reading and tracing the record. Pages are bounded,
so the size of the drawings is too.
"""

from __future__ import annotations

import sys
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

sys.path.insert(0, str(Path(__file__).parents[1]))

import houses
from asfound.judge.results import Results
from asfound.judge.tables import TableSet
from asfound.load import load_bytes
from asfound.map import Drawing, drawings
from asfound.survey import Survey, read_record, survey
from asfound.trace import trace

ROOT = Path(__file__).parents[2]
SHAPES: list[tuple[str, Callable[[int], Any], int]] = [
    ("a random house of {n} cables", lambda n: houses.house(1, cables=n), 1_000),
    ("a chain of {n} cables", houses.chain, 1_000),
    ("one joint of {n} ends", houses.one_joint, 1_000),
    ("{n} breakers, 20 receptacles", lambda n: houses.many_breakers(n, 20), 50),
    ("one hot net, {n} switches", houses.many_switches, 1_000),
]


def timed(record: Any) -> tuple[Survey, float]:
    """The traced record, and the seconds that reading and tracing it took."""
    start = time.perf_counter()
    built = read_record(load_bytes(houses.as_bytes(record), "bench.yaml"))
    done = Survey(built, trace(built), (), TableSet([], "2026-01-01"), Results())
    return done, time.perf_counter() - start


def least(done: Survey, only: str = "", rounds: int = 3) -> tuple[list[Drawing], float]:
    """The drawings, and the least seconds of some rounds."""
    best = float("inf")
    drawn: list[Drawing] = []
    for _ in range(rounds):
        start = time.perf_counter()
        drawn = drawings(done, only)
        best = min(best, time.perf_counter() - start)
    return drawn, best


def line(name: str, drawn: list[Drawing], seconds: float, more: str = "") -> None:
    size = sum(len(drawing.svg) for drawing in drawn)
    print(f"{name:<34}{len(drawn):>4} drawings{size / 1000:>8.0f} kB{seconds * 1000:>9.1f} ms{more}")


def main() -> None:
    demo = survey(ROOT / "fixtures" / "demo.yaml", "2026-11-25")
    for only in ("", "A 6", "attic junction"):
        line(f"demo {only}", *least(demo, only, 10))
    print()
    for name, shape, size in SHAPES:
        small, _ = timed(shape(size))
        large, traced = timed(shape(4 * size))
        _, before = least(small)
        drawn, after = least(large)
        more = f"   {after / before:5.1f} times {size}; read and traced in {traced * 1000:.0f} ms"
        line(name.format(n=4 * size), drawn, after, more)
    done, traced = timed(houses.house(1, cables=17_000))
    print()
    drawn, seconds = least(done, rounds=1)
    line("a random house of 17000 cables", drawn, seconds, f"   read and traced in {traced * 1000:.0f} ms")
    breaker = next(iter(done.record.breakers.values())).tag
    line(f"breaker {breaker} of it alone", *least(done, breaker, rounds=1))


if __name__ == "__main__":
    main()
