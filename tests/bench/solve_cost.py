"""What a faulted circuit costs to solve, and what two other ways of doing it would give: `python tests/bench/solve_cost.py`.

The same variants of one house are solved in one process, one after another and interleaved; only the ratios mean
anything. The two other ways: the textbook form (admittances between nodes and earth, one dense solve), and one call
of `numpy.linalg.solve` for the equations of all variants of one size at once, which can save no more than the calls.
"""

from __future__ import annotations

import os
import sys
import time
from collections import defaultdict
from collections.abc import Callable
from pathlib import Path
from typing import Any

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
sys.path.insert(0, str(Path(__file__).parents[1]))

import numpy as np

import spice
from asfound.circuit.network import EARTH, LEAK, Network

ROUNDS = 9
SEED = 7
METERS = 6


def variants() -> list[spice.Parts]:
    """One house with each of its wires opened, and with as many random pairs of points joined."""
    house = spice.House(SEED)
    points = [node for node in spice.nodes(house.parts) if isinstance(node, tuple)]
    made = []
    for wire in house.wires:
        made.append([part for at, part in enumerate(house.parts) if at != wire])
        one, two = house.draw.sample(points, 2)
        made.append([*house.parts, spice.Part("resistor", one, two, 0.001)])
    return made


def textbook(parts: spice.Parts, pairs: list[tuple[Any, Any]], hertz: float = 60.0) -> dict[Any, complex]:
    """Volts of the nodes against earth from the admittances between them, and the answer to a current at each pair."""
    at = {node: number for number, node in enumerate(spice.nodes(parts))}
    matrix = np.eye(len(at), dtype=complex) * LEAK
    driven = np.zeros((len(at), 1 + len(pairs)), dtype=complex)
    for part in parts:
        size = 2j * np.pi * hertz * part.value if part.kind == "capacitor" else 1 / (part.ohms or part.value)
        for near, far, sign in ((part.one, part.two, 1), (part.two, part.one, -1)):
            if near != EARTH:
                matrix[at[near], at[near]] += size
                driven[at[near], 0] += sign * part.value * size if part.kind == "source" else 0
                if far != EARTH:
                    matrix[at[near], at[far]] -= size
    for number, pair in enumerate(pairs, 1):
        for node, sign in zip(pair, (1, -1), strict=True):
            if node != EARTH:
                driven[at[node], number] = sign
    solved = np.linalg.solve(matrix, driven)
    return {EARTH: 0j} | {node: complex(solved[number, 0]) for node, number in at.items()}


def equations(networks: list[Network], pairs: list[tuple[Any, Any]]) -> list[tuple[Any, Any]]:
    """What the networks hand to `numpy.linalg.solve`."""
    held: list[tuple[Any, Any]] = []
    real = np.linalg.solve

    def keep(matrix: Any, driven: Any) -> Any:
        held.append((matrix, driven))
        return real(matrix, driven)

    np.linalg.solve = keep  # type: ignore[assignment]
    try:
        for one in networks:
            one.solve(pairs)
    finally:
        np.linalg.solve = real
    return held


def best(*works: Callable[[], Any]) -> list[float]:
    """The least seconds of each of the works, run in turns."""
    times = [float("inf")] * len(works)
    for _ in range(ROUNDS):
        for number, work in enumerate(works):
            start = time.perf_counter()
            work()
            times[number] = min(times[number], time.perf_counter() - start)
    return times


def main() -> None:
    made = variants()
    pairs = [one[:2] for one in spice.metered(made[0], SEED, METERS)]
    pairs = [pair for pair in pairs if all(set(pair) <= {*spice.nodes(parts), EARTH} for parts in made)]
    networks = [spice.network(parts) for parts in made]
    held = equations(networks, pairs)
    stacks: dict[int, list[tuple[Any, Any]]] = defaultdict(list)
    for matrix, driven in held:
        stacks[len(matrix)].append((matrix, driven))
    stacked = [tuple(map(np.array, zip(*same, strict=True))) for same in stacks.values()]
    whole, copies, alone, together, plain = best(
        lambda: [one.copy().solve(pairs) for one in networks],
        lambda: [one.copy() for one in networks],
        lambda: [np.linalg.solve(*one) for one in held],
        lambda: [np.linalg.solve(*one) for one in stacked],
        lambda: [textbook(parts, pairs) for parts in made],
    )
    count = len(made)
    print(
        f"{count} variants of a house of {len(spice.nodes(made[0]))} nodes and {len(made[0])} parts, {len(pairs)} pairs"
    )
    print(f"copy and solve                        {whole / count * 1e3:7.3f} ms     1")
    for name, seconds in (
        ("  of that the copy", copies),
        ("  of that the linear equations", alone),
        ("  the same, all in one call a size", together),
        ("textbook form, built and solved", plain),
    ):
        print(f"{name:<38}{seconds / count * 1e3:7.3f} ms {seconds / whole:8.2f}")
    print(f"saved by one call for all: {(alone - together) / whole:.0%} of copy and solve")
    print("largest difference of the textbook form from the project's, volts, over random faulted circuits")
    worst = 0.0
    for seed in range(100):
        parts = [part for part in spice.faulted(seed)[0] if part.value > 0.0]
        solution = spice.network(parts).solve()
        worst = max(worst, *(abs(solution.volts(node) - volts) for node, volts in textbook(parts, []).items()))
    print(f"  earthed supply                      {worst:.1e}")
    floating = [spice.Part("source", "a", "b", 120.0, 0.01), spice.Part("resistor", "b", "c", 0.001),
                spice.Part("resistor", "a", "d", 0.001), spice.Part("resistor", "c", "d", 0.003)]  # fmt: skip
    solution = spice.network(floating).solve()
    print(f"  supply that hangs free              "
          f"{max(abs(solution.volts(node) - volts) for node, volts in textbook(floating, []).items()):.1e}")  # fmt: skip


if __name__ == "__main__":
    main()
