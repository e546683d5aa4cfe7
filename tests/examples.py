"""How many random examples the tests run: few in every run, as many as wanted from the bench.

SEEDS = seeds(12)                                            # seeds of random houses
@settings(max_examples=examples(100))                        # examples that hypothesis draws
python tests/bench/many_examples.py 20 tests/test_judge.py   # twenty times as many of all of them
"""

from __future__ import annotations

TIMES = 1
"""What every number of examples is multiplied by. Set by the bench before the tests are read."""


def seeds(count: int, first: int = 0) -> range:
    """Seeds from `first` on, `count` of them times `TIMES`."""
    return range(first, first + count * TIMES)


def picked(*chosen: int) -> tuple[int, ...]:
    """These seeds, picked for what their houses hold; where `TIMES` asks for more, all seeds from 0 on besides."""
    return tuple(dict.fromkeys((*chosen, *range(len(chosen) * (TIMES - 1)))))


def examples(count: int) -> int:
    """A number of examples, times `TIMES`."""
    return count * TIMES
