"""The numbers of a circuit against figures worked out by hand, published ones, and laws that every network keeps."""

from __future__ import annotations

import cmath
import math
from collections.abc import Callable
from decimal import Decimal, localcontext
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

import spice
from asfound.circuit.conductors import area_mm2, farads_per_foot, ohms_per_foot
from asfound.circuit.instruments import OHMS, VOLTS, Accuracy, instrument, stated_accuracy, step
from asfound.circuit.network import EARTH, LEAK, Network, shown
from asfound.data import data
from asfound_schemas import schema
from test_check_values_catalogue import ENTRIES, assert_close

FIRM = 1e-6
"""Ohms of a supply or conductor that is not to matter."""


def split_phase(inner: float = FIRM) -> Network:
    """120/240 V with its neutral earthed: nodes L1, N, L2."""
    made = Network()
    made.source("L1", "N", 120.0, inner)
    made.source("N", "L2", 120.0, inner)
    made.resistor("N", EARTH, 0.0)
    return made


# -- published figures

Given = dict[str, Any]
COMPUTED: dict[str, Callable[[Given], dict[str, Any]]] = {}
"""Entries of the catalogue of check values that are worked out here, by id."""


def computes(*ids: str) -> Callable[[Callable[[Given], dict[str, Any]]], Callable[[Given], dict[str, Any]]]:
    """Mark a function as the one that works out these entries."""

    def mark(function: Callable[[Given], dict[str, Any]]) -> Callable[[Given], dict[str, Any]]:
        for one in ids:
            assert one not in COMPUTED, f"{one} is worked out twice"
            COMPUTED[one] = function
        return function

    return mark


def neutral_amps(legs: list[complex], amps: list[float], hertz: float = 60.0) -> float:
    """Amperes in a neutral that loads of these currents at 120 V share."""
    made = Network(hertz)
    for number, (volts, current) in enumerate(zip(legs, amps, strict=True)):
        made.source(f"leg {number}", EARTH, volts, FIRM)
        if current:
            made.resistor(f"leg {number}", "shared", 120.0 / current)
    made.resistor("shared", EARTH, FIRM)
    return abs(made.solve().current("shared", EARTH))


@computes("i-01", "i-02", "i-03")
def split_phase_neutral(given: Given) -> dict[str, Any]:
    legs: list[complex] = [120.0, -120.0 if given["legs"] == "opposite" else 120.0]
    return {"neutral_a": neutral_amps(legs, [given["hot_1_a"], given["hot_2_a"]])}


@computes("i-05", "i-06", "i-07", "i-08")
def three_phase_neutral(given: Given) -> dict[str, Any]:
    """The third harmonic is a network of its own at three times the frequency, where the phases fall together."""
    legs = [cmath.rect(120.0, math.radians(-120 * phase)) for phase in range(3)]
    share = given.get("third_harmonic_share", 0.0)
    third = neutral_amps([leg**3 / 120.0**2 for leg in legs], [share * amps for amps in given["phase_a"]], 180.0)
    return {"neutral_a": math.hypot(neutral_amps(legs, given["phase_a"]), third)}


@computes("i-09", "i-10")
def legs_of_two_hots(given: Given) -> dict[str, Any]:
    """The legs between which a meter shows what was read."""
    multimeter = instrument("multimeter")
    fits = []
    for words, second in (("opposite legs of 120/240 V", "L2"), ("same leg", "L1")):
        made = split_phase()
        made.resistor("L1", "one", 0.1)
        made.resistor(second, "two", 0.1)
        pairs = [("one", "two"), ("one", "N"), ("two", "N")]
        solution = made.solve(pairs)
        read = [given["volts_between_the_two_hots"], *2 * [given["each_hot_to_neutral_v"]]]
        shows = [multimeter.shows(*solution.seen(*pair))[1] for pair in pairs]
        if all(abs(one - other) < 12 for one, other in zip(shows, read, strict=True)):
            fits.append(words)
    (legs,) = fits
    return {"legs": legs}


@computes("i-15", "i-16", "i-17")
def open_neutral(given: Given) -> dict[str, Any]:
    """The two loads are left in series across both legs."""
    watts = [given["load_1_w_at_120v"], given["load_2_w_at_120v"]]
    ohms = [120.0**2 / one for one in watts]
    made = split_phase()
    made.resistor("L1", "shared", ohms[0])
    made.resistor("shared", "L2", ohms[1])
    solution = made.solve()
    assert abs(solution.volts("L1", "L2")) == pytest.approx(given["line_to_line_v"], abs=0.01)
    volts = [abs(solution.volts("L1", "shared")), abs(solution.volts("shared", "L2"))]
    amps = abs(solution.current("L1", "shared"))
    return {
        "r1_ohm": ohms[0], "r2_ohm": ohms[1], "current_a": amps, "v1": volts[0], "v2": volts[1],
        "p1_w": volts[0] * amps, "p2_w": volts[1] * amps,
    }  # fmt: skip


@computes("i-18")
def weak_neutral(given: Given) -> dict[str, Any]:
    made = split_phase()
    made.resistor("L1", "shared", given["r1_ohm"])
    made.resistor("shared", "L2", given["r2_ohm"])
    made.resistor("shared", "N", given["r_neutral_ohm"])
    solution = made.solve()
    return {
        "neutral_shift_v": abs(solution.volts("shared")),
        "v1": abs(solution.volts("L1", "shared")),
        "v2": abs(solution.volts("shared", "L2")),
    }


@computes("j-18", "j-19")
def phantom(given: Given) -> dict[str, Any]:
    made = split_phase()
    made.capacitor("L1", "dead wire", given["coupling_pf"] * 1e-12)
    seen = made.solve([("dead wire", "N")]).seen("dead wire", "N")
    return {"reading_v": shown(*seen, given["meter_input_ohm"])}


@computes("j-20")
def high_and_low(given: Given) -> dict[str, Any]:
    """Of a wire that lies beside a live one, and one that is joined to the same volts, which gives both readings."""
    coupled = Network()
    coupled.source("L1", EARTH, 120.0, FIRM)
    coupled.capacitor("L1", "wire", 600e-12)
    coupled.capacitor("wire", EARTH, 800e-12)
    joined = Network()
    joined.source("wire", EARTH, given["reading_high_z_v"], 1.0)
    high, low = instrument("multimeter"), instrument("low-impedance meter")
    fits = []
    for words, network in (("coupled (phantom) voltage", coupled), ("real source", joined)):
        seen = network.solve([("wire", EARTH)]).seen("wire", EARTH)
        shows = [(high, given["reading_high_z_v"], "48 V"), (low, given["reading_low_z_v"], "0.1 V")]
        if all(
            abs(shown(*seen, meter.ohms[0]) - read) <= meter.half_width(VOLTS, read, written)
            for meter, read, written in shows
        ):
            fits.append(words)
    (classified,) = fits
    return {"classify": classified}


@computes("k-16")
def failed_pole(given: Given) -> dict[str, Any]:
    """A 4500 W element across two conductors of which only one is fed; without it the other conductor is dead."""
    pairs = {"L1-G": ("one", EARTH), "L2-G": ("two", EARTH), "L1-L2": ("one", "two")}
    read = {}
    for element in (True, False):
        made = split_phase()
        made.resistor("L1", "one", 0.1)
        made.node("two")
        if element:
            made.resistor("one", "two", 240.0**2 / 4500)
        solution = made.solve(pairs.values())
        low = instrument("low-impedance meter")
        read[element] = {name: shown(*solution.seen(*pair), low.ohms[0]) for name, pair in pairs.items()}
    fits = [
        element for element, shows in read.items() if all(abs(shows[one] - given["readings"][one]) < 6 for one in pairs)
    ]
    assert fits == [True]
    return {
        "both_terminals_live": min(read[True]["L1-G"], read[True]["L2-G"]) > 50,
        "cause": "backfeed through the element",
    }


@computes("e-10", "e-11", "e-12", "e-13", "e-14", "e-15", "e-16", "e-17", "e-20", "e-21")
def conductor_ohms(given: Given) -> dict[str, Any]:
    metal = "aluminium" if given["material"] == "Al" else "copper"
    return {"ohm_per_1000ft": 1000 * ohms_per_foot(given["awg"], metal, given["temperature_c"])}


@computes("e-22")
def cooled(given: Given) -> dict[str, Any]:
    colder = ohms_per_foot("14", "copper", given["to_temperature_c"]) / ohms_per_foot("14", "copper", 75.0)
    return {"r_ohm_per_1000ft": given["r75_ohm_per_1000ft"] * colder}


@computes("e-29")
def loop(given: Given) -> dict[str, Any]:
    """An ohmmeter at the near end of a run whose far ends are joined."""
    made = Network(0.0)
    for far in ("out", "back"):
        made.resistor(far, "joined", given["one_way_ft"] * ohms_per_foot("12"))
    return {"loop_ohm": made.solve([("out", "back")]).seen("out", "back")[1].real}


@pytest.mark.parametrize("one", [pytest.param(one, id=one) for one in sorted(COMPUTED)])
def test_published_figure(one: str) -> None:
    """What is worked out is the published figure within its tolerance."""
    entry = ENTRIES[one]
    where = f"{one} ({entry['source']}, {entry['basis']})"
    assert_close(COMPUTED[one](entry["given"]), entry["expect"], entry["tolerance"], where)


# -- networks worked out by hand


def test_divider() -> None:
    """12 V over 1 and 2 ohm: 8 V across the second, two thirds of an ohm behind it."""
    made = Network()
    made.source("a", EARTH, 12.0, 1.0)
    made.resistor("a", EARTH, 2.0)
    volts, impedance = made.solve([("a", EARTH)]).seen("a", EARTH)
    assert volts == pytest.approx(8.0)
    assert impedance == pytest.approx(2 / 3)
    assert shown(volts, impedance, 2 / 3) == pytest.approx(4.0)


@pytest.mark.parametrize(
    ("fourth", "expected"),
    [pytest.param(200.0, 0.0, id="in balance"), pytest.param(300.0, 10 * (2 / 3 - 3 / 4), id="out of balance")],
)
def test_bridge(fourth: float, expected: float) -> None:
    """100 and 200 ohm beside 100 ohm and the fourth, 10 V across both arms."""
    made = Network()
    made.source("top", "bottom", 10.0, 1e-9)
    made.resistor("top", "left", 100.0)
    made.resistor("left", "bottom", 200.0)
    made.resistor("top", "right", 100.0)
    made.resistor("right", "bottom", fourth)
    volts, impedance = made.solve([("left", "right")]).seen("left", "right")
    assert volts == pytest.approx(expected, abs=1e-8)
    assert impedance == pytest.approx(100 * 200 / 300 + 100 * fourth / (100 + fourth), rel=1e-8)


def test_capacitive_divider() -> None:
    """Two capacitances divide the volts whatever the frequency, in phase; at none there is no way through."""
    made = Network(50.0)
    made.source("live", EARTH, 120.0, FIRM)
    made.capacitor("live", "wire", 300e-12)
    made.capacitor("wire", EARTH, 100e-12)
    for hertz in (50.0, 400.0):
        assert made.copy(hertz).solve().volts("wire") == pytest.approx(90.0, rel=1e-4)
    assert made.copy(0.0).solve().volts("wire") == pytest.approx(0.0, abs=1e-9)
    assert made.copy(0.0).solve([("live", "wire")]).seen("live", "wire")[1].real > 0.9 / LEAK
    assert made.hertz == 50.0


def test_no_resistance_makes_one_node() -> None:
    """Joined without resistance, two nodes are one, and what a current would share there is not told."""
    made = split_phase()
    made.resistor("L1", "a", 10.0)
    made.resistor("a", "b", 0.0)
    made.resistor("b", "a", 0.0)
    made.resistor("b", "N", 10.0)
    solution = made.solve([("a", "b")])
    assert solution.volts("a", "b") == 0
    assert solution.seen("a", "b") == (0, 0)
    assert solution.current("L1", "a") == pytest.approx(6.0)
    with pytest.raises(ValueError, match="'a' to 'b'"):
        solution.current("a", "b")


def test_free_supply_and_free_wire() -> None:
    """A supply without earth settles around it by its leaks alone, and a wire that hangs free stays at zero."""
    made = Network()
    made.source("a", "b", 120.0, 0.01)
    made.resistor("b", "c", 0.001)
    made.resistor("a", "d", 0.001)
    made.node("free")
    made.resistor("free", "end", 0.001)
    solution = made.solve([("a", EARTH), ("free", EARTH), ("new", EARTH)])
    assert solution.volts("a") == pytest.approx(60.0, rel=1e-12)
    assert solution.volts("c") == pytest.approx(-60.0, rel=1e-12)
    assert solution.seen("a", EARTH)[1] == pytest.approx(1 / (4 * LEAK), rel=1e-6)
    assert solution.volts("free") == 0
    assert solution.seen("free", EARTH)[1] == pytest.approx(1 / (2 * LEAK))
    assert solution.seen("new", EARTH) == (0, pytest.approx(1 / LEAK))


def test_error_of_the_leak() -> None:
    """The stated error: below nodes times ohms times leak of what a meter shows through a coupling of 10 Mohm."""
    farads = 1 / (2 * math.pi * 60 * 1e7)
    made = Network()
    made.source("live", EARTH, 120.0, FIRM)
    made.capacitor("live", 0, farads)
    for node in range(39):
        made.resistor(node, node + 1, 0.01)
    got = shown(*made.solve([(39, EARTH)]).seen(39, EARTH), 1e7)
    without = 120.0 / math.sqrt(2)
    assert 0 < (without - got) / without < 40 * 1e7 * LEAK


def test_copy_is_independent() -> None:
    made = split_phase()
    other = made.copy()
    other.resistor("L1", "N", 1.0)
    assert other.solve().current("L1", "N") != made.solve().current("L1", "N")
    assert made.solve().current("L1", "N") == pytest.approx(0.0, abs=1e-6)


def test_empty_network() -> None:
    assert Network().solve().volts(EARTH) == 0


@pytest.mark.parametrize("wrong", [-1.0, math.nan, math.inf])
@pytest.mark.parametrize("kind", ["resistor", "capacitor", "source"])
def test_bad_value_is_refused(kind: str, wrong: float) -> None:
    """The message names the element, its ends and its value."""
    made = Network()
    more = (5.0,) if kind == "source" else ()
    with pytest.raises(ValueError, match=rf"{kind} from 'a' to \('W1', 2\): {wrong}"):
        getattr(made, kind)("a", ("W1", 2), *more, wrong)


@pytest.mark.parametrize(
    ("volts", "ohms"),
    [
        pytest.param(complex(math.nan, 0), 1.0, id="volts that are no number"),
        pytest.param(complex(0, math.inf), 1.0, id="volts without end"),
        pytest.param(120.0, 0.0, id="no inner resistance"),
    ],
)
def test_bad_source_is_refused(volts: complex, ohms: float) -> None:
    with pytest.raises(ValueError, match="source from 'a' to 'b'"):
        Network().source("a", "b", volts, ohms)


@pytest.mark.parametrize("hertz", [-60.0, math.nan, math.inf])
def test_bad_frequency_is_refused(hertz: float) -> None:
    with pytest.raises(ValueError, match="Hz"):
        Network(hertz)


def test_unknown_node_and_element_are_refused() -> None:
    solution = split_phase().solve()
    with pytest.raises(KeyError, match="nowhere"):
        solution.volts("nowhere")
    with pytest.raises(KeyError, match="nothing joins"):
        solution.current("L1", "L2")
    with pytest.raises(KeyError):
        solution.seen("L1", "N")


# -- laws


@st.composite
def circuits(draw: st.DrawFn) -> spice.Parts:
    """Up to a dozen parts between earth and five nodes, from milliohms to gigohms, from picofarads to microfarads."""
    node = st.sampled_from([EARTH, *"abcde"])
    size = st.floats(-3, 9).map(lambda power: 10.0**power)
    made = []
    for _ in range(draw(st.integers(1, 12))):
        kind = draw(st.sampled_from(["resistor", "resistor", "capacitor", "source"]))
        one, two = draw(st.lists(node, min_size=2, max_size=2, unique=True))
        if kind == "source":
            made.append(spice.Part(kind, one, two, draw(st.sampled_from([120.0, -120.0])), draw(size)))
        else:
            made.append(spice.Part(kind, one, two, draw(size) * (1e-15 if kind == "capacitor" else 1.0)))
    return made


def largest(parts: spice.Parts) -> float:
    """Volts that nothing in the circuit can exceed: all sources in a row."""
    return sum(abs(part.value) for part in parts if part.kind == "source")


@settings(deadline=None, max_examples=150)
@given(circuits())
def test_currents_at_a_node_add_to_its_leak(parts: spice.Parts) -> None:
    """What flows away from a node through its elements is what does not leak from it."""
    solution = spice.network(parts).solve()
    joined = {frozenset((part.one, part.two)) for part in parts}
    most = largest(parts) * sum(1 / (part.ohms or part.value) for part in parts if part.kind != "capacitor")
    for node in spice.nodes(parts):
        amps = [solution.current(node, other) for pair in joined if node in pair for other in pair - {node}]
        assert abs(sum(amps) + LEAK * solution.volts(node)) <= 1e-13 * most


@settings(deadline=None, max_examples=150)
@given(circuits(), st.sampled_from(["a", "b"]), st.sampled_from([EARTH, "c"]), st.sampled_from([3e3, 2e5, 1e7]))
def test_a_meter_shows_what_its_equivalent_predicts(parts: spice.Parts, one: str, two: str, ohms: float) -> None:
    """Thevenin: volts and impedance of the open pair foretell the volts once the meter is across it."""
    predicted = shown(*spice.network(parts).solve([(one, two)]).seen(one, two), ohms)
    measured = abs(spice.network(spice.with_meter(parts, one, two, ohms)).solve().volts(one, two))
    assert measured == pytest.approx(predicted, rel=1e-9, abs=1e-9 * (1 + largest(parts)))


@settings(deadline=None, max_examples=150)
@given(circuits())
def test_superposition(parts: spice.Parts) -> None:
    """Volts are the sum of those that each source gives alone, the others being their inner resistance."""
    sources = [at for at, part in enumerate(parts) if part.kind == "source"]
    together = spice.network(parts).solve()
    alone = [
        spice.network(
            spice.Part("resistor", part.one, part.two, part.ohms) if part.kind == "source" and at != only else part
            for at, part in enumerate(parts)
        ).solve()
        for only in sources
    ]
    for node in spice.nodes(parts):
        total = sum(one.volts(node) for one in alone)
        assert together.volts(node) == pytest.approx(total, rel=1e-9, abs=1e-9 * (1 + largest(parts)))


@settings(deadline=None, max_examples=150)
@given(circuits())
def test_reciprocity(parts: spice.Parts) -> None:
    """A battery across one pair gives the other pair the volts that it would get from a battery across that."""
    made = spice.network(part for part in parts if part.kind != "source")
    pairs = (("a", "b"), ("c", "d"))
    across = []
    for (one, two), (far, end) in (pairs, pairs[::-1]):
        driven = made.copy()
        driven.source(one, two, 120.0, 50.0)
        driven.resistor(far, end, 50.0)
        across.append(driven.solve().volts(far, end))
    assert across[0] == pytest.approx(across[1], rel=1e-9, abs=1e-9)


@settings(deadline=None, max_examples=150)
@given(circuits(), st.floats(0.01, 100.0))
def test_nothing_passive_gives_power(parts: spice.Parts, hertz: float) -> None:
    """Behind every pair there is a resistance of zero or more, and a reactance that only capacitances can have."""
    pairs = [("a", "b"), ("b", EARTH), ("c", "d")]
    solution = spice.network(parts, hertz).solve(pairs)
    for pair in pairs:
        impedance = solution.seen(*pair)[1]
        assert impedance.real >= -1e-9 * abs(impedance)
        assert impedance.imag <= 1e-9 * abs(impedance)


def by_elimination(parts: spice.Parts, digits: int = 60) -> dict[Any, complex]:
    """Volts of the nodes in the textbook form, real and imaginary parts side by side, with so many digits."""
    at = {node: number for number, node in enumerate(spice.nodes(parts))}
    size = len(at)
    with localcontext() as context:
        context.prec = digits
        rows = [[Decimal(0)] * (2 * size + 1) for _ in range(2 * size)]
        for number in range(2 * size):
            rows[number][number] += Decimal(LEAK)
        for part in parts:
            couples = part.kind == "capacitor"
            value = Decimal(2 * math.pi * 60 * part.value) if couples else 1 / Decimal(part.ohms or part.value)
            for near, far, sign in ((part.one, part.two, 1), (part.two, part.one, -1)):
                if near == EARTH:
                    continue
                for node, sense in ((near, 1), (far, -1)):
                    if node != EARTH and couples:
                        rows[at[near]][size + at[node]] -= sense * value
                        rows[size + at[near]][at[node]] += sense * value
                    elif node != EARTH:
                        rows[at[near]][at[node]] += sense * value
                        rows[size + at[near]][size + at[node]] += sense * value
                if part.kind == "source":
                    rows[at[near]][-1] += sign * Decimal(part.value) * value
        _eliminate(rows)
        return {node: complex(float(rows[number][-1]), float(rows[size + number][-1])) for node, number in at.items()}


def _eliminate(rows: list[list[Decimal]]) -> None:
    """Gauss and Jordan, in place: the answer is left in the last column."""
    for at, pivot in enumerate(rows):
        pivot[:] = [one / pivot[at] if one else one for one in pivot]
        for other in rows:
            if other is not pivot and (factor := other[at]):
                other[:] = [one - factor * two if two else one for one, two in zip(other, pivot, strict=True)]


@pytest.mark.parametrize("seed", [0, 1, 2])
@pytest.mark.parametrize("earthed", [True, False], ids=["supply earthed", "supply hangs free"])
def test_sixty_digits_give_the_same(seed: int, earthed: bool) -> None:
    """Faulted circuits with joints of a milliohm beside leaks of a teraohm, to a millionth of a millivolt."""
    parts = [
        part for part in spice.faulted(seed)[0] if part.value > 0 and (earthed or EARTH not in (part.one, part.two))
    ]
    solution = spice.network(parts).solve()
    expected = by_elimination(parts)
    worst = max(abs(solution.volts(node) - volts) for node, volts in expected.items())
    assert worst < 1e-9
    assert max(map(abs, expected.values())) > 100


# -- conductors


@pytest.mark.parametrize(
    ("size", "expected"),
    [
        pytest.param("12", 3.3088, id="AWG; ASTM B258"),
        pytest.param("4/0", 107.2193, id="AWG of several noughts; ASTM B258"),
        pytest.param("250 kcmil", 126.68, id="kcmil; one circular mil is 0.00050671 mm2"),
        pytest.param("2.5 mm2", 2.5, id="mm2"),
    ],
)
def test_area(size: str, expected: float) -> None:
    assert area_mm2(size) == pytest.approx(expected, rel=1e-4)


def test_metals_rank_by_resistance() -> None:
    """Copper, copper-clad, aluminium: ASTM B566 has at least 62.9 % IACS with 10 % copper, from memory."""
    copper, clad, plain = (ohms_per_foot("12", metal) for metal in ("copper", "copper-clad aluminium", "aluminium"))
    assert copper / plain == pytest.approx(0.61, rel=1e-3)
    assert copper / clad == pytest.approx(0.629, abs=0.002)


def round_wires(spacing: float, diameter: float, permittivity: float) -> float:
    """Farads per foot between two long round wires (field theory: pi e0 er / arcosh(spacing / diameter))."""
    return math.pi * 8.8542e-12 * permittivity / math.acosh(spacing / diameter) * 0.3048


@pytest.mark.parametrize("diameter", [pytest.param(1.63, id="14 AWG"), pytest.param(2.05, id="12 AWG")])
def test_capacitance_of_sheathed_cable(diameter: float) -> None:
    """The range is that of wires with 0.48 mm of insulation (from memory) that touch, or have a bare one between."""
    touching = round_wires(diameter + 2 * 0.48, diameter, 4.0)
    apart = round_wires(2 * diameter + 2 * 0.48, diameter, 2.0)
    least, usual, most = farads_per_foot("NM-B")
    assert least == pytest.approx(apart, rel=0.1)
    assert most == pytest.approx(touching, rel=0.1)
    assert usual * 25 == pytest.approx(500e-12)


def test_capacitance_of_knob_and_tube() -> None:
    """In air, between 2.5 and 5 in apart."""
    least, _, most = farads_per_foot("knob-and-tube")
    for inches in (2.5, 5.0):
        assert least < round_wires(inches, 0.0641, 1.0) < most


def test_every_method_has_a_range() -> None:
    held = data("circuit")["capacitance"]["methods"]
    assert set(held) == set(data("cable_types")["methods"])
    for method in [*held, "method of another time"]:
        least, usual, most = farads_per_foot(method)
        assert 0 < least < usual < most


# -- instruments


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("1 % + 3 digits", Accuracy(1.0, 3)),
        ("0.5%+2", Accuracy(0.5, 2)),
        ("2 %", Accuracy(2.0, 0)),
        ("±(1.0 % rdg + 3 dgt)", Accuracy(1.0, 3)),
        ("+/- 1.5 % of reading + 5 counts", Accuracy(1.5, 5)),
        ("0,8 % + 1 digit", Accuracy(0.8, 1)),
        ("1 % of range", None),
        ("1 % + 3 digits to 400 Hz", None),
        ("3 digits", None),
        ("good", None),
        ("", None),
    ],
)
def test_stated_accuracy(text: str, expected: Accuracy | None) -> None:
    """What is not wholly understood is not used."""
    assert stated_accuracy(text) == expected


@pytest.mark.parametrize(
    ("written", "expected"),
    [
        ("121 V", 1.0),
        ("121.4 V", 0.1),
        ("300 mV", 0.001),
        ("0.12 kohm", 10.0),
        ("1.20 Mohm", 10_000.0),
        ("17.8 A", 0.1),
        ("one of 118 V, 121.5 V", 1.0),
    ],
)
def test_step_of_what_was_written(written: str, expected: float) -> None:
    assert step(written) == pytest.approx(expected)


@pytest.mark.parametrize("written", ["OL", "121", "silent", "14 AWG"])
def test_step_needs_a_figure(written: str) -> None:
    with pytest.raises(ValueError, match="no number with a unit"):
        step(written)


def test_half_width_of_a_reading() -> None:
    """A published example of reading a specification: 120 V by 1 % + 3 counts of 0.1 V is 1.5 V either way."""
    stated = instrument("multimeter", "1 % + 3 counts")
    assert stated.half_width(VOLTS, 120.0, "120.0 V") == pytest.approx(1.5)
    assert stated.half_width(VOLTS, 120.0, "120 V") == pytest.approx(4.2)
    assert instrument("multimeter", "2 %").half_width(VOLTS, 0.0, "0 V") == pytest.approx(0.5)
    assert stated.half_width(OHMS, 0.3, "0.3 ohm") == pytest.approx(0.003 + 0.3 + data("circuit")["leads_ohms"])


def test_accuracy_that_cannot_be_read_falls_back() -> None:
    usual = instrument("multimeter").half_width(VOLTS, 121.4, "121.4 V")
    assert instrument("multimeter", "as new").half_width(VOLTS, 121.4, "121.4 V") == usual
    assert instrument("multimeter", "0.1 %").half_width(VOLTS, 121.4, "121.4 V") < usual


def test_every_type_of_a_record_is_held() -> None:
    """Each has a source; each with leads has a range about its inputs, and gives figures for volts."""
    types = schema("record")["properties"]["instruments"]["additionalProperties"]["properties"]["type"]["enum"]
    assert set(data("circuit")["instruments"]) == set(types)
    for kind in ["", *types]:
        made = instrument(kind)
        assert (data("circuit")["instruments"][kind] if kind else data("circuit")["unknown instrument"])["source"]
        if made.ohms:
            assert 0 < made.least <= min(made.ohms) <= max(made.ohms) <= made.most
            assert made.half_width(VOLTS, 120.0, "120 V") > 1
        else:
            with pytest.raises(ValueError, match="no leads"):
                made.shows(120.0, 1.0)
    with pytest.raises(KeyError):
        instrument("crystal ball")


def test_unknown_instrument_spans_both_ends() -> None:
    """Through 500 pF it may show almost nothing or almost all; behind a conductor every instrument shows the same."""
    behind = 1 / (2j * math.pi * 60 * 500e-12)
    low, high = instrument().shows(120.0, behind)
    assert low <= instrument("low-impedance meter").shows(120.0, behind)[0]
    assert high >= instrument("multimeter").shows(120.0, behind)[1]
    assert (low < 0.1, high > 100) == (True, True)
    assert instrument().shows(120.0, 0.5) == pytest.approx((119.97, 120.0), abs=0.01)
