"""Random faulted branch circuits: the project's network against ngspice, which was written by others."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace
from pathlib import Path

import pytest

import spice
from asfound.circuit.network import EARTH, shown

pytestmark = pytest.mark.skipif(
    spice.PROGRAM is None,
    reason="the program ngspice is not installed (package ngspice), so nothing outside checks the solved circuits",
)

CIRCUITS = 240
METERS = 3
RELATIVE = 1e-6
VOLTS = 1e-4
"""Two answers agree within this part of the value and so many volts. Reached: 5e-6 V, 1e-7 of values over 1 V."""
OHMMETER = 1_000.0
"""Inner resistance of the ohmmeter that ngspice is given: 1 V behind it."""


def test_nodes_and_meters_agree(tmp_path: Path) -> None:
    """Every node of every faulted circuit, and what meters of four inputs show between random points of it."""
    drawn = [spice.faulted(seed) for seed in range(CIRCUITS)]
    kinds = Counter(name for _, named in drawn for name in named)
    assert min(kinds[name] for name in spice.FAULTS) >= CIRCUITS // 8, kinds
    meters = [spice.metered(parts, seed, METERS) for seed, (parts, _) in enumerate(drawn)]
    bare = [parts for parts, _ in drawn]
    loaded = [spice.with_meter(parts, *one) for parts, put in zip(bare, meters, strict=True) for one in put]
    answers = spice.solve([*bare, *loaded], tmp_path)
    told = iter(answers[CIRCUITS:])
    compared = 0
    for seed, (parts, put) in enumerate(zip(bare, meters, strict=True)):
        solution = spice.network(parts).solve([meter[:2] for meter in put])
        for node, expected in answers[seed].items():
            got = solution.volts(node)
            assert spice.close(got, expected, RELATIVE, VOLTS), f"{seed} {drawn[seed][1]}, {node}: {got}, {expected}"
            compared += 1
        for one, two, ohms in put:
            beside = next(told)
            got, expected = shown(*solution.seen(one, two), ohms), abs(beside[one] - beside[two])
            assert spice.close(got, expected, RELATIVE, VOLTS), f"{seed} {drawn[seed][1]}, {one} to {two} by {ohms} ohm"
            compared += 1
    assert compared > CIRCUITS * (METERS + 20)


def test_resistances_agree(tmp_path: Path) -> None:
    """What an ohmmeter sees with the supply dead: sources are their inner resistance, capacitances nothing."""
    asked = []
    for seed in range(60):
        parts, _ = spice.faulted(seed)
        asked += [(parts, one, two) for one, two, _ in spice.metered(parts, seed, METERS) if one != two]
    dead = [
        [
            *(
                replace(part, value=0.0) if part.kind == "source" else part
                for part in parts
                if part.kind != "capacitor"
            ),
            spice.Part("source", one, two, 1.0, OHMMETER),
        ]
        for parts, one, two in asked
    ]
    seen = 0
    for (parts, one, two), volts in zip(asked, spice.solve(dead, tmp_path), strict=True):
        _, impedance = spice.network(parts).copy(hertz=0.0).solve([(one, two)]).seen(one, two)
        got, expected = impedance.real / (impedance.real + OHMMETER), abs(volts[one] - volts[two])
        assert spice.close(got, expected, RELATIVE, 1e-9), f"{one} to {two}: {impedance}"
        assert impedance.imag == 0.0
        seen += impedance.real < 1e6
    assert seen > len(asked) // 4, "hardly a pair is joined by metal, so little was compared"


PLAIN: spice.Parts = [
    spice.Part("source", "leg", "bar", 120.0, 0.02),
    spice.Part("resistor", "bar", EARTH, 10.0),
    spice.Part("resistor", "leg", "far", 0.2),
    spice.Part("resistor", "back", "bar", 0.1),
    spice.Part("resistor", "far", "back", 12.0),
    spice.Part("capacitor", "far", "free", 500e-12),
    spice.Part("capacitor", "free", "back", 300e-12),
    spice.Part("resistor", "far", EARTH, 300.0),
]


@pytest.mark.parametrize(
    "at", [pytest.param(at, id=f"{part.kind} {part.one} {part.two}") for at, part in enumerate(PLAIN)]
)
def test_a_wrong_part_is_noticed(at: int, tmp_path: Path) -> None:
    """The comparison fails at some node when any one part is off by a hundredth, and only then."""
    wrong = [replace(part, value=part.value * 1.01) if number == at else part for number, part in enumerate(PLAIN)]
    right, off = spice.solve([PLAIN, wrong], tmp_path)
    solution = spice.network(PLAIN).solve()
    assert all(spice.close(solution.volts(node), volts, RELATIVE, VOLTS) for node, volts in right.items())
    assert not all(spice.close(solution.volts(node), volts, RELATIVE, VOLTS) for node, volts in off.items())
