"""Diagnosis of random invented houses: it never fails, a record explains what it would show itself, a condition is
found from the readings it makes, and the stacked solver agrees with the circuit solver. Nothing here is a published
figure; the figures are in `test_diagnose.py`, the circuit solver is held against ngspice in its own tests."""

from __future__ import annotations

import random
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

import houses
from asfound.circuit.network import EARTH
from asfound.circuit.network import shown as shown_by
from asfound.data import data
from asfound.diagnose import Diagnosis, diagnose, probes
from asfound.diagnose.conditions import EVERY, Instance, instances
from asfound.diagnose.fitting import would_show
from asfound.diagnose.gather import Set, gather
from asfound.diagnose.part import Part, part_around
from asfound.diagnose.solve import Solver
from asfound.diagnose.states import states_of
from asfound.diagnose.wiring import House
from asfound.load import load_file
from asfound.survey import read_record
from asfound.trace import Installation, trace
from examples import seeds

pytestmark = pytest.mark.uncounted
"""Random examples: what they reach is reached by other tests too, and they are much slower with lines counted."""

SEEDS = seeds(20)
"""Random houses that most tests run through; each house has up to six readings in up to five sets."""
VOLTS = ["0 V", "0.3 V", "11.4 V", "48 V", "63 V", "104 V", "118.4 V", "121 V", "136 V", "160 V", "240 V"]
OHMS = ["0.4 ohm", "144 ohm", "2 Mohm", "OL"]


def with_readings(seed: int, wild: float = 0.15) -> dict[str, Any]:
    """A random house with invented readings at random points of it, and switching between them now and then."""
    rng = random.Random(seed)
    house = houses.house(seed, wild=wild)
    points = list(_points(house))
    house["instruments"] = {
        "low": {"type": "low-impedance meter"}, "meter": {"type": "multimeter", "accuracy": "0.5 % + 2 digits"},
        "tester": {"type": "two-pole tester"},
    }  # fmt: skip
    readings = []
    for number in range(6):
        one, two = rng.choice(points), rng.choice([*points, *["earth"] * len(points)])
        if one != two:
            kind = rng.choice(["voltage"] * 4 + ["resistance"])
            value = rng.choice(VOLTS if kind == "voltage" else OHMS)
            instrument = rng.choice(["low", "meter", "tester"])
            readings.append(
                {"tag": f"M{number}", "kind": kind, "between": [one, two], "value": value, "instrument": instrument}
            )
    house["readings"] = readings
    breakers = [f"{panel} {space}" for panel, held in house["panels"].items() for space in held["breakers"]]
    if len(readings) > 2 and rng.random() < 0.5:
        first, *rest = [one["tag"] for one in readings]
        house["log"] = [
            {"did": "tested", "what": rng.choice(breakers), "readings": [first]},
            {"did": "switched", "what": rng.choice(breakers), "to": "off"},
            {"did": "tested", "what": rng.choice(breakers), "readings": rest},
        ]
    return house


def _points(house: dict[str, Any]) -> Iterator[str]:
    for tag, cable in house["cables"].items():
        kind = cable["type"]["is"] if isinstance(cable["type"], dict) else cable["type"]
        yield from (f"{tag} {colour}" for colour in houses.CONDUCTORS[kind])
    yield from house.get("boxes", {})
    for tag, device in house.get("devices", {}).items():
        kind = device["kind"]
        yield from (f"{tag} {name}" for name in (houses.TERMINALS[kind] if isinstance(kind, str) else ()))
    for tag, panel in house["panels"].items():
        yield from (f"{tag} neutral bar", f"{tag} ground bar", *(f"{tag} {space}" for space in panel["breakers"]))


def traced(folder: Path, house: dict[str, Any]) -> Installation:
    file = folder / "house.yaml"
    file.write_bytes(houses.as_bytes(house))
    return trace(read_record(load_file(file)))


def parts(installation: Installation) -> Iterator[tuple[Set, Part]]:
    """Each set of readings with the part around it."""
    house = House(installation.record)
    for readings in gather(installation, house):
        yield readings, part_around(house, readings)


@pytest.mark.parametrize("seed", SEEDS)
def test_any_readings_anywhere(seed: int, tmp_path: Path) -> None:
    """Whatever is read, every diagnosis is whole: worst first, each fit within its names, an item for each."""
    found = diagnose(traced(tmp_path, with_readings(seed)))
    order = data("grades")["severities"]
    for one in found:
        grave = [order.index(fit.severity) for fit in one.fits]
        assert grave == sorted(grave)
        assert len({fit.name for fit in one.fits}) == len(one.fits)
        assert one.as_recorded or not any(fit.as_recorded for fit in one.fits)
        assert all(len(fit.shown) == len(one.readings) for fit in one.fits)
        assert all(low <= high for fit in one.fits for low, high in fit.shown)
        assert bool(one.comparison) is one.phantom
        if one.next_reading is not None:
            told = [name for outcome in one.next_reading.outcomes for name in outcome.names]
            assert sorted(told) == sorted(fit.name for fit in one.fits)
            assert len(one.next_reading.outcomes) > 1
    assert [item.tag for item in probes(found)] == [one.tag for one in found]


def _value(low: float, high: float, dead: bool, rng: random.Random) -> str:
    """A reading between these, as an instrument would write it."""
    if dead:
        return "OL" if low > 5e7 else f"{max(low, 0.001):.3f} ohm"
    return f"{rng.choice([low, (low + high) / 2, high]):.2f} V"


def _made(
    house: dict[str, Any], installation: Installation, chosen: dict[str, Instance] | None, rng: random.Random
) -> set[str]:
    """Write what would be shown into the readings of a house; gives the tags of sets that hold on their breakers."""
    values, held = {}, set()
    for readings, part in parts(installation):
        shown = would_show(part, readings, None if chosen is None else chosen.get(readings.tag))
        state = rng.choice(shown)
        if not state.holds and not all(one.ohms for one in readings.readings):
            continue
        held.add(readings.tag)
        for one, (low, high) in zip(readings.readings, state.volts, strict=True):
            values[one.item.tag] = _value(low, high, one.ohms, rng)
    for one in house["readings"]:
        one["value"] = values.get(one["tag"], one["value"])
    return held


def test_record_explains_what_it_would_show_itself(tmp_path: Path) -> None:
    """Readings made from the record as written, in one of its states, are explained by it."""
    checked = 0
    for seed in SEEDS:
        house = with_readings(seed, wild=0.1)
        for one in house["readings"]:
            one["value"] = one["value"] if one["kind"] == "voltage" else "1 ohm"
        held = _made(house, traced(tmp_path, house), None, random.Random(seed))
        for one in diagnose(traced(tmp_path, house)):
            if one.tag in held:
                checked += 1
                assert one.as_recorded, f"house {seed}: {one.words}"
    assert checked > 50


def three_at_each_device(house: dict[str, Any]) -> None:
    """Put the readings between all three terminals at every device that has them."""
    house["readings"] = [
        {"tag": f"{tag}{number}", "kind": "voltage", "between": [f"{tag} {one}", f"{tag} {two}"], "value": "0 V",
         "instrument": "low"}
        for tag, device in house.get("devices", {}).items()
        if {"hot", "neutral", "ground"} <= set(device.get("terminals", ()))
        for number, (one, two) in enumerate((("hot", "neutral"), ("hot", "ground"), ("neutral", "ground")))
    ]  # fmt: skip
    house.pop("log", None)


def test_condition_is_found_from_the_readings_it_makes(tmp_path: Path) -> None:
    """A random condition at a random place of a random house: the readings it gives list it, by name."""
    checked: dict[str, int] = {}
    for seed in seeds(50):
        rng = random.Random(seed)
        house = with_readings(seed, wild=0.02)
        three_at_each_device(house)
        if not house["readings"]:
            continue
        installation = traced(tmp_path, house)
        chosen: dict[str, Instance] = {}
        for readings, part in parts(installation):
            about = {"hot", "neutral", "ground"}
            can = [
                one for one in instances(part, at_panel=False)
                if one.roles <= about and EVERY not in one.roles and not one.condition.hidden
            ]  # fmt: skip
            if can:
                chosen[readings.tag] = rng.choice(can)
        held = _made(house, installation, chosen, rng)
        for one in diagnose(traced(tmp_path, house)):
            if one.tag in held and one.tag in chosen and not _dark(one):
                name = chosen[one.tag].condition.name
                checked[name] = checked.get(name, 0) + 1
                assert name in {fit.name for fit in one.fits}, f"house {seed}: {name} at {one.words}"
    assert sum(checked.values()) > 30
    assert len(checked) >= 6


def _dark(one: Diagnosis) -> bool:
    return any("say nothing of how it is wired" in note for note in one.notes)


def test_stacked_solver_agrees_with_the_circuit_solver(tmp_path: Path) -> None:
    """Volts at the meter within 10 mV on anything that does not hang free, in a hundred random variants or more."""
    compared = 0
    for seed in SEEDS:
        rng = random.Random(seed)
        for readings, part in parts(traced(tmp_path, with_readings(seed))):
            can = instances(part, at_panel=readings.place.kind == "panel") or [None]
            fault = rng.choice(can)
            changes = rng.choice(fault.versions) if fault is not None else ()
            state = rng.choice(rng.choice(states_of(part)).versions)
            pairs = [(part.number[one.one.node], part.number[one.two.node]) for one in readings.readings]
            solver = Solver(part)
            stacked = solver.solve([state], [changes], pairs)
            named = [(EARTH if one < 0 else one, EARTH if two < 0 else two) for one, two in pairs]
            exact = solver.network(state, changes).solve(named)
            for number, pair in enumerate(named):
                volts, ohms = exact.seen(*pair)
                if abs(ohms) > data("faults")["floating_ohms"]:
                    continue
                own, behind = complex(stacked.open_volts[0, 0, number]), complex(stacked.ohms[0, 0, number])
                for meter in (3e3, 2e5, 1e7):
                    compared += 1
                    assert shown_by(own, behind, meter) == pytest.approx(shown_by(volts, ohms, meter), abs=0.01)
    assert compared > 100


def test_what_is_too_large_says_so(tmp_path: Path) -> None:
    """Two hundred switches on one conductor: no list of conditions, and a note instead of silence."""
    house = houses.many_switches(200)
    house["instruments"] = {"low": {"type": "low-impedance meter"}}
    house["readings"] = [{"kind": "voltage", "between": ["W0 black", "earth"], "value": "120 V", "instrument": "low"}]
    (one,) = diagnose(traced(tmp_path, house))
    assert one.fits == ()
    assert any("Not worked out" in note for note in one.notes)


def test_order_of_the_file_changes_nothing(tmp_path: Path) -> None:
    for seed in seeds(6):
        house = with_readings(seed)
        one = diagnose(traced(tmp_path, house))
        two = diagnose(traced(tmp_path, houses.shuffled(house, seed)))
        told = [sorted((d.tag, d.as_recorded, tuple(f.name for f in d.fits)) for d in found) for found in (one, two)]
        assert told[0] == told[1]
