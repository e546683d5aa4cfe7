"""The whole command on a traced house of 60 circuits: `python tests/bench/sixty_circuits.py`.

Prints the least seconds of a few runs of `asfound check` with every rule, and
the ratio to the bare start of the interpreter in the same run. Each circuit
has a breaker, three cables, three boxes, a receptacle, a lamp and its splices;
every tenth has a 14 AWG tail behind a 20 A breaker.
"""

from __future__ import annotations

import os
import subprocess
import sys
import tempfile
import time
from pathlib import Path

ROOT = Path(__file__).parents[2]
CIRCUITS = 60
ROUNDS = 7


def record() -> str:
    """The text of the record."""
    parts: dict[str, list[str]] = {name: [] for name in ("breakers", "boxes", "cables", "joints", "devices")}
    for n in range(1, CIRCUITS + 1):
        tail = "14/2" if n % 10 == 0 else "12/2"
        leg = "L1" if n % 4 in (1, 2) else "L2"
        parts["breakers"].append(
            f"      {n}: {{amps: 20, leg: {leg}, kind: breaker, protection: none, label: room {n}}}"
        )
        closed = "cover: device plate, reachable: true, room: stairs"
        parts["boxes"] += [f"  b{n}{x}: {{kind: nonmetallic, volume: 32, clamps: none, {closed}}}" for x in "abc"]
        parts["cables"] += [
            f"  W{n}a: {{type: 12/2 NM-B with ground, installed: 1990, from: A {n}, to: b{n}a}}",
            f"  W{n}b: {{type: 12/2 NM-B with ground, installed: 1990, from: b{n}a, to: b{n}b}}",
            f"  W{n}c: {{type: {tail} NM-B with ground, installed: 1990, from: b{n}a, to: b{n}c}}",
        ]
        parts["joints"] += [
            f"  J{n}{colour}: {{at: b{n}a, ends: [W{n}a {colour}, W{n}b {colour}, W{n}c {colour}], connector: twist-on}}"
            for colour in ("black", "white", "bare")
        ]
        parts["devices"] += [
            f"  R{n}: {{kind: duplex receptacle, at: b{n}b, wired_to: W{n}b, rating: 15, slots: 3, protection: none}}",
            f"  L{n}: {{kind: luminaire, at: b{n}c, wired_to: W{n}c, watts: 60, metal: false}}",
        ]
    text = {name: "\n".join(lines) for name, lines in parts.items()}
    return f"""asfound: 1
invented: true
site: {{name: Invented house of {CIRCUITS} circuits, built: 1990, kind: dwelling}}
visits: {{V1: {{on: 2026-05-04, by: A. Example}}}}
supply: 120/240 split phase
panels:
  A:
    fed_from: supply
    main_amps: 200
    bus_amps: 225
    bonded: true
    cover: "on"
    breakers:
{text["breakers"]}
boxes:
{text["boxes"]}
cables:
{text["cables"]}
joints:
{text["joints"]}
devices:
{text["devices"]}
"""


def least(command: list[str]) -> float:
    """Least seconds of `ROUNDS` runs of a command as a whole process."""
    paths = os.pathsep.join(str(ROOT / name) for name in ("engine", "rules", "schemas"))
    times = []
    for _ in range(ROUNDS):
        start = time.perf_counter()
        subprocess.run(command, capture_output=True, check=False, env={**os.environ, "PYTHONPATH": paths})
        times.append(time.perf_counter() - start)
    return min(times)


def main() -> None:
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "house.yaml"
        path.write_text(record(), encoding="utf-8")
        checked = least([sys.executable, "-m", "asfound", "check", str(path), "--as-of", "2026-05-20"])
        bare = least([sys.executable, "-c", "pass"])
        print(
            f"check of {CIRCUITS} circuits: {checked:.2f} s; interpreter alone {bare:.3f} s; ratio {checked / bare:.0f}"
        )


if __name__ == "__main__":
    main()
