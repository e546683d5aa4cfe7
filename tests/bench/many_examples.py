"""Run tests with many more random examples than they run by themselves: `python tests/bench/many_examples.py 20 FILE...`

The first argument is how many times as many; the rest goes to pytest. Seeds start where they always do, so that a seed
named by a failure is the seed of that house in any run. It prints how many times the examples and how long it took.
"""

from __future__ import annotations

import sys
import time
from pathlib import Path

ROOT = Path(__file__).parents[2]
sys.path[:0] = [str(ROOT / name) for name in ("engine", "rules", "schemas", "tests")]

import pytest  # noqa: E402

import examples  # noqa: E402


def main() -> int:
    """Set the number of examples before pytest reads the tests; gives its exit status."""
    if len(sys.argv) < 3 or not sys.argv[1].isdecimal() or sys.argv[1] == "0":
        print(__doc__)
        return 2
    examples.TIMES = int(sys.argv[1])
    started = time.process_time()
    status = int(pytest.main(["--rootdir", str(ROOT), *sys.argv[2:]]))
    print(f"{examples.TIMES} times the examples, {time.process_time() - started:.0f} s of processor time")
    return status


if __name__ == "__main__":
    sys.exit(main())
