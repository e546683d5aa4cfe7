"""Alternating-current networks of resistances, capacitances and sources, solved exactly for one frequency.

Nodes are any hashable names; `EARTH` is the one of zero volts. Volts and amperes
are complex, root-mean-square. Every node leaks to earth through `LEAK` siemens, so
that a conductor that hangs free has a value, near zero. The leak changes a reading
by about nodes times ohms seen times `LEAK` of itself: with 40 nodes and 10 Mohm
seen, 0.04 %; behind anything that could hurt, nothing that could be noticed.

Resistances of joints and of insulation lie fifteen powers of ten apart, which the
textbook form (volts of nodes against earth) does not bear: the small ones are lost
where they are added to the large ones. Unknowns here are the volts along a tree of
the best conducting elements, from earth outwards. Every other element then enters
with its own size, and volts between near points are no difference of large numbers.
"""

from __future__ import annotations

import heapq
import math
from collections.abc import Hashable, Iterable
from typing import Final

import numpy as np
from numpy.typing import NDArray

from asfound.circuit.instruments import shown

Node = Hashable
Pair = tuple[Node, Node]

__all__ = ["EARTH", "LEAK", "Network", "Solution", "shown"]

EARTH: Final = "earth"
LEAK: Final = 1e-12
"""Siemens from every node to earth: 1 Tohm, far above the insulation of any sound cable."""


class Network:
    """Elements between nodes at one frequency in hertz. Zero hertz leaves the capacitances out."""

    __slots__ = ("_farads", "_nodes", "_ones", "_siemens", "_twos", "_volts", "hertz")

    def __init__(self, hertz: float = 60.0) -> None:
        if not 0.0 <= hertz < math.inf:
            raise ValueError(f"frequency of {hertz} Hz; give zero or more")
        self.hertz = hertz
        self._nodes: dict[Node, int] = {EARTH: 0}
        self._ones: list[int] = []
        self._twos: list[int] = []
        self._siemens: list[float] = []
        self._farads: list[float] = []
        self._volts: list[complex] = []

    def copy(self, hertz: float | None = None) -> Network:
        """An independent network of the same elements, at another frequency if one is given."""
        made = Network(self.hertz if hertz is None else hertz)
        made._nodes = self._nodes.copy()
        made._ones = self._ones.copy()
        made._twos = self._twos.copy()
        made._siemens = self._siemens.copy()
        made._farads = self._farads.copy()
        made._volts = self._volts.copy()
        return made

    def node(self, *names: Node) -> None:
        """Make these nodes known even when no element ends at them."""
        for name in names:
            self._nodes.setdefault(name, len(self._nodes))

    def resistor(self, one: Node, two: Node, ohms: float) -> None:
        """Join two nodes by a resistance; 0 makes one node of them. Raises `ValueError` if negative or not finite."""
        _refuse_unless(0.0 <= ohms < math.inf, "resistor", one, two, f"{ohms} ohm", "zero or more")
        self._element(one, two, 1.0 / ohms if ohms else math.inf, 0.0, 0.0)

    def capacitor(self, one: Node, two: Node, farads: float) -> None:
        """Couple two nodes by a capacitance. Raises `ValueError` if negative or not finite."""
        _refuse_unless(0.0 <= farads < math.inf, "capacitor", one, two, f"{farads} F", "zero or more")
        self._element(one, two, 0.0, farads, 0.0)

    def source(self, one: Node, two: Node, volts: complex, ohms: float) -> None:
        """Put volts behind an inner resistance between two nodes, `one` positive.

        Raises `ValueError` unless the volts are finite and the resistance is finite and above zero.
        """
        finite = math.isfinite(volts.real) and math.isfinite(volts.imag)
        _refuse_unless(finite, "source", one, two, f"{volts} V", "finite")
        _refuse_unless(0.0 < ohms < math.inf, "source", one, two, f"{ohms} ohm", "above zero")
        self._element(one, two, 1.0 / ohms, 0.0, volts)

    def _element(self, one: Node, two: Node, siemens: float, farads: float, volts: complex) -> None:
        self.node(one, two)
        self._ones.append(self._nodes[one])
        self._twos.append(self._nodes[two])
        self._siemens.append(siemens)
        self._farads.append(farads)
        self._volts.append(volts)

    def solve(self, pairs: Iterable[Pair] = ()) -> Solution:
        """Volts everywhere, and for each of the pairs what a meter there would see. New nodes of pairs hang free."""
        wanted = tuple(pairs)
        nodes = self._nodes.copy()
        ends = [nodes.setdefault(name, len(nodes)) for pair in wanted for name in pair]
        ones, twos = np.array(self._ones, dtype=int), np.array(self._twos, dtype=int)
        siemens, volts = np.array(self._siemens), np.array(self._volts, dtype=complex)
        coupled = 2.0 * math.pi * self.hertz * np.array(self._farads)
        paths = _paths(len(nodes), ones, twos, np.maximum(siemens, coupled))
        rows = paths[ones] - paths[twos]
        # One equation a branch: what crosses from the nodes beyond it to all others adds to nothing.
        siemens[np.isinf(siemens)] = np.nan  # both ends are one node: the row is empty, its current not known
        conducts, couples = siemens > 0.0, coupled > 0.0
        matrix = _crossing(rows[conducts], siemens[conducts]) + _crossing(paths, LEAK) + 0j
        matrix.imag = _crossing(rows[couples], coupled[couples])
        between = paths[ends[::2]] - paths[ends[1::2]]
        driven = np.empty((len(matrix), 1 + len(wanted)), dtype=complex)
        driven[:, 0] = (siemens * volts)[conducts] @ rows[conducts]
        driven[:, 1:] = between.T
        scale = 1.0 / np.sqrt(np.abs(matrix.diagonal()))[:, None]
        solved = scale * np.linalg.solve(scale * matrix * scale.T, scale * driven)
        impedances = (between.T * solved[:, 1:]).sum(axis=0).tolist()
        carried = (siemens + 1j * coupled) * (rows @ solved[:, 0] - volts)
        return Solution(nodes, paths, solved[:, 0], dict(zip(wanted, impedances, strict=True)), ones, twos, carried)


class Solution:
    """A solved network. Asking for a node that it does not know raises `KeyError`."""

    __slots__ = ("_along", "_carried", "_impedances", "_nodes", "_ones", "_paths", "_twos")

    def __init__(
        self,
        nodes: dict[Node, int],
        paths: NDArray[np.float64],
        along: NDArray[np.complex128],
        impedances: dict[Pair, complex],
        ones: NDArray[np.int64],
        twos: NDArray[np.int64],
        carried: NDArray[np.complex128],
    ) -> None:
        self._nodes = nodes
        self._paths = paths
        self._along = along
        self._impedances = impedances
        self._ones = ones
        self._twos = twos
        self._carried = carried

    def volts(self, node: Node, other: Node = EARTH) -> complex:
        """Volts of a node against another, with nothing connected to measure them."""
        path = self._paths[self._nodes[node]] - self._paths[self._nodes[other]]
        return complex(path @ self._along)

    def seen(self, one: Node, two: Node) -> tuple[complex, complex]:
        """Open-circuit volts and the impedance in ohms behind them, for a pair that was given to `solve`."""
        return self.volts(one, two), self._impedances[one, two]

    def current(self, one: Node, two: Node) -> complex:
        """Amperes from `one` to `two` through all elements that join these two directly.

        Raises `KeyError` when none does, `ValueError` when one has no resistance, so that its share is not known.
        """
        first, last = self._nodes[one], self._nodes[two]
        along = (self._ones == first) & (self._twos == last)
        against = (self._ones == last) & (self._twos == first)
        if not (along | against).any():
            raise KeyError(f"nothing joins {one!r} to {two!r} directly")
        total = complex(self._carried[along].sum() - self._carried[against].sum())
        if math.isnan(total.real):
            raise ValueError(f"what flows from {one!r} to {two!r} is not known: they are joined without resistance")
        return total


def _refuse_unless(fits: bool, kind: str, one: Node, two: Node, given: str, asked: str) -> None:
    if not fits:
        raise ValueError(f"{kind} from {one!r} to {two!r}: {given}; give a number that is {asked}")


def _crossing(rows: NDArray[np.float64], sizes: NDArray[np.float64] | float) -> NDArray[np.float64]:
    """For each pair of tree branches, the sizes of the elements (rows) that close over both, with their sense."""
    return (rows.T * sizes) @ rows


def _paths(
    count: int, ones: NDArray[np.int64], twos: NDArray[np.int64], sizes: NDArray[np.float64]
) -> NDArray[np.float64]:
    """For each node (row) the tree branches (columns) from earth to it, as 1 where one lies on the way.

    The tree grows from earth, best element first. What nothing reaches is tied to earth by its leak. An element
    without resistance is no branch: its far end has the path of its near one.
    """
    reach: list[list[tuple[int, int, bool]]] = [[] for _ in range(count)]
    order = np.argsort(-sizes, kind="stable")
    firm = np.isinf(sizes[order]).tolist()
    for rank, (one, two) in enumerate(zip(ones[order].tolist(), twos[order].tolist(), strict=True)):
        reach[one].append((rank, two, firm[rank]))
        reach[two].append((rank, one, firm[rank]))
    paths = np.zeros((count, count - 1))
    known = [False] * count
    branches = 0
    for start in range(count):
        if known[start]:
            continue
        known[start] = True
        if start:
            paths[start, branches] = 1.0
            branches += 1
        waiting = [(*way, start) for way in reach[start]]
        heapq.heapify(waiting)
        while waiting:
            _, node, joined, parent = heapq.heappop(waiting)
            if known[node]:
                continue
            known[node] = True
            paths[node] = paths[parent]
            if not joined:
                paths[node, branches] = 1.0
                branches += 1
            for way in reach[node]:
                if not known[way[1]]:
                    heapq.heappush(waiting, (*way, node))
    return paths[:, :branches]
