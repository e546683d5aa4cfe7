"""One part of a house solved in many variants at once.

A variant is the part in one state of its loads and switches with one fault in
it. Both are changes of single conductances, so all variants are one stack of
node matrices that numpy solves together: a few microseconds each. Every node
leaks a little to earth, so that what hangs free has a value; the leak is far
below anything a meter draws. Against `asfound.circuit.network`, which solves
one network without such simplification, the volts agree to some millivolts
(held by a test).
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from asfound.circuit.network import EARTH, Network
from asfound.diagnose.part import Part

Stamp = tuple[int, int, float]
"""Two nodes (-1 is the earth) and the siemens that are added between them."""
Pair = tuple[int, int]

LEAK: Final = 1e-10
"""Siemens from every node to earth."""
_STACK: Final = 1 << 22
"""Complex numbers in one stack of matrices: 64 MB."""


@dataclass(frozen=True, slots=True)
class Solved:
    """By state, variant and then node or pair: volts to earth, and volts and ohms that a meter sees between a pair."""

    volts: NDArray[np.complex128]
    open_volts: NDArray[np.complex128]
    ohms: NDArray[np.complex128]


class Solver:
    """A part as matrices. `live` is 60 Hz with its sources; otherwise it is dead, with every breaker open."""

    def __init__(self, part: Part, *, live: bool = True, hertz: float = 60.0) -> None:
        self.part, self.live, self.hertz = part, live, hertz
        self.matrix = np.zeros((part.count, part.count), dtype=complex)
        self.driven = np.zeros(part.count, dtype=complex)
        np.fill_diagonal(self.matrix, LEAK)
        for one, two, siemens in self._elements():
            add(self.matrix, one, two, siemens)
        for one, two, element in part.sources:
            current = element.volts / float(element.ohms or 1.0) if live else 0.0
            for node, sign in ((one, 1.0), (two, -1.0)):
                if node >= 0:
                    self.driven[node] += sign * current

    def _elements(self) -> Iterable[tuple[int, int, complex]]:
        part = self.part
        yield from ((one.one, one.two, 1.0 / one.ohms) for one in part.branches)
        firm = [*part.fixed, *part.service, *part.sources, *(part.poles if self.live else ())]
        for one, two, element in firm:
            if part.closed(element):
                yield one, two, 1.0 / float(element.ohms or 1.0)
        if self.live:
            yield from ((one, two, 2j * math.pi * self.hertz * farads) for one, two, farads in part.couplings)

    def solve(
        self, states: Sequence[Sequence[Stamp]], faults: Sequence[Sequence[Stamp]], pairs: Sequence[Pair]
    ) -> Solved:
        """Every fault in every state. Shapes: states, faults, nodes or pairs."""
        count = self.part.count
        states_stack, faults_stack = self._stack(states), self._stack(faults)
        driven = np.zeros((count, 1 + len(pairs)), dtype=complex)
        driven[:, 0] = self.driven
        ends = np.array(pairs, dtype=int).reshape(-1, 2)
        for number, (one, two) in enumerate(pairs, 1):
            for node, sign in ((one, 1.0), (two, -1.0)):
                if node >= 0:
                    driven[node, number] += sign
        solved = np.empty((len(states), len(faults), count, 1 + len(pairs)), dtype=complex)
        step = max(1, _STACK // max(1, count * count))
        for number, state in enumerate(states_stack):
            for start in range(0, len(faults), step):
                stack = self.matrix + state + faults_stack[start : start + step]
                solved[number, start : start + step] = np.linalg.solve(
                    stack, np.broadcast_to(driven, (*stack.shape[:1], *driven.shape))
                )
        padded = np.concatenate([solved, np.zeros((*solved.shape[:2], 1, solved.shape[3]))], axis=2)  # -1 is the earth
        across = padded[:, :, ends[:, 0]] - padded[:, :, ends[:, 1]]
        own = across[:, :, np.arange(len(pairs)), 1 + np.arange(len(pairs))]
        return Solved(solved[..., 0], across[..., 0], own)

    def _stack(self, changes: Sequence[Sequence[Stamp]]) -> NDArray[np.complex128]:
        stack = np.zeros((len(changes), self.part.count, self.part.count), dtype=complex)
        for matrix, stamps in zip(stack, changes, strict=True):
            for one, two, siemens in stamps:
                add(matrix, one, two, siemens)
        return stack

    def network(self, state: Sequence[Stamp], fault: Sequence[Stamp]) -> Network:
        """The same variant as a network of its own. Raises `ValueError` where a change takes more than was there."""
        part = self.part
        siemens: dict[Pair, float] = {}
        for one, two, more in [*((o, t, v.real) for o, t, v in map(_complex, self._elements())), *state, *fault]:
            pair = min(one, two), max(one, two)
            siemens[pair] = siemens.get(pair, 0.0) + more
        network = Network(self.hertz if self.live else 0.0)
        network.node(*range(part.count))
        sources = {(min(one, two), max(one, two)): (one, two, element) for one, two, element in part.sources}
        for (one, two), value in siemens.items():
            if (one, two) in sources:
                first, second, element = sources[one, two]
                network.source(_name(first), _name(second), element.volts if self.live else 0j, 1.0 / value)
            elif one != two and value > 1e-12:
                network.resistor(_name(one), _name(two), 1.0 / value)
        for one, two, farads in part.couplings:
            network.capacitor(_name(one), _name(two), farads)
        return network


def add(matrix: NDArray[np.complex128], one: int, two: int, siemens: complex) -> None:
    """Add a conductance between two nodes of a matrix."""
    if one == two:
        return
    for node in (one, two):
        if node >= 0:
            matrix[node, node] += siemens
    if one >= 0 and two >= 0:
        matrix[one, two] -= siemens
        matrix[two, one] -= siemens


def _complex(element: tuple[int, int, complex]) -> tuple[int, int, complex]:
    one, two, siemens = element
    return one, two, complex(siemens)


def _name(node: int) -> object:
    return EARTH if node < 0 else node
