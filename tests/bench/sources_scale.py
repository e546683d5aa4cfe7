"""What narrowing the breakers costs beside the trace, and against counting out every pair of breakers.

    python tests/bench/sources_scale.py

Forty breakers, 660 cables that nobody traced (1,980 conductors), and for each
breaker three cables read live, dead with it off, and live again. The baseline
tries every set of at most two feeds, one of them something not recorded, on
each tested cable. Prints seconds and ratios of one run.
"""

from __future__ import annotations

import itertools
import json
import random
import time
from typing import Any

from asfound.load import load_bytes
from asfound.survey import read_record
from asfound.trace import trace

BREAKERS, CABLES = range(1, 41), 660


def main() -> None:
    record, answers = house()
    with_tests = timed(record)
    without = timed({**record, "readings": [], "log": []})
    counted = counted_out(record["log"], answers)
    print(f"{CABLES * 3} conductors, {len(record['readings'])} readings")
    print(f"trace without tests    {without:7.2f} s   1.00")
    print(f"trace with tests       {with_tests:7.2f} s   {with_tests / without:.2f}")
    print(f"counting out pairs     {counted:7.2f} s   {counted / (with_tests - without):.1f} times the narrowing")


def timed(record: dict[str, Any]) -> float:
    best = float("inf")
    for _ in range(3):
        built = read_record(load_bytes(json.dumps(record).encode(), "house.json"))
        started = time.perf_counter()
        trace(built)
        best = min(best, time.perf_counter() - started)
    return best


def house() -> tuple[dict[str, Any], dict[str, bool]]:
    rng = random.Random(1)
    truth = {f"W{n}": rng.choice(BREAKERS) for n in range(CABLES)}
    log: list[Any] = []
    readings: list[Any] = []
    for breaker in BREAKERS:
        some = [tag for tag, feed in truth.items() if feed == breaker][:3]
        for to in ("first", "off", "on"):
            if to != "first":
                log.append({"did": "switched", "what": f"A {breaker}", "to": to})
            for tag in some:
                value = "0 V" if to == "off" else "121 V"
                readings.append({"tag": f"{tag} {to}", "kind": "voltage", "between": [f"{tag} black", "A ground bar"],
                                 "value": value, "instrument": "t"})  # fmt: skip
                log.append({"did": "tested", "what": tag, "readings": [f"{tag} {to}"]})
    record = {
        "asfound": 1, "invented": True, "site": {"name": "Invented house"}, "supply": "120/240 split phase",
        "visits": {"V1": {"on": "2026-05-04", "by": "A. Example"}}, "instruments": {"t": {"type": "two-pole tester"}},
        "panels": {"A": {"breakers": {str(b): {"amps": 15, "state": "on"} for b in BREAKERS}}},
        "cables": {tag: {"type": "14/2 with ground", "from": "not traced", "to": f"B {tag}"} for tag in truth},
        "boxes": {f"B {tag}": "no box" for tag in truth}, "readings": readings, "log": log,
    }  # fmt: skip
    return record, {reading["tag"]: reading["value"] != "0 V" for reading in readings}


def counted_out(log: list[Any], live: dict[str, bool]) -> float:
    """Seconds for trying every set of at most two feeds on every tested cable."""
    started = time.perf_counter()
    now = dict.fromkeys(BREAKERS, True)
    seen: dict[str, list[tuple[dict[int, bool], bool]]] = {}
    for entry in log:
        if entry["did"] == "switched":
            now = {**now, int(entry["what"].split()[1]): entry["to"] == "on"}
        else:
            seen.setdefault(entry["what"], []).append((now, live[entry["readings"][0]]))
    feeds = [*BREAKERS, 0]
    for readings in seen.values():
        for pair in itertools.combinations_with_replacement(feeds, 2):
            all(found == any(feed == 0 or at[feed] for feed in pair) for at, found in readings)
    return time.perf_counter() - started


if __name__ == "__main__":
    main()
