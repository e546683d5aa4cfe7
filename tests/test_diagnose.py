"""The table of receptacle readings: what each condition shows, and which conditions a set of readings leaves standing.

Figures, tolerance and sources are those of `fixtures/check_values_catalogue.yaml`, topic j (outlet wiring voltage
table derived from circuit definition; EC&M, Failures in Outlet Testing Exposed, 2013), topic i (circuit theory; a
published teaching example of the open neutral) and k-16.
"""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from asfound.data import data
from asfound.diagnose.conditions import conditions
from probing import CHECKS, HIGH, LOW, RECEPTACLE, all_found, fit, found, names, reading, three

NAMES = {
    "j-01": "correct",
    "j-02": "open ground",
    "j-03": "open neutral",
    "j-04": "open neutral",
    "j-05": "open hot",
    "j-06": "hot and neutral reversed",
    "j-07": "hot and ground reversed",
    "j-08": "neutral and ground reversed",
    "j-09": "bootleg ground",
    "j-10": "reversed-polarity bootleg ground",
    "j-11": "ground terminal joined to hot",
    "j-12": "open ground plus hot and neutral reversed",
    "j-13": "neutral slot fed from the other leg",
    "j-14": "neutral slot fed from the same hot",
}
"""The conditions of the table as they are called here."""
COMPUTED = (*NAMES, "j-15", "j-16", "j-17", "i-19")
"""Entries of the catalogue of check values that are held here and by no rule."""
STATES = {"j-03": "with nothing switched on", "j-04": "with a load switched on"}
LAMP_V = 60.0
"""Volts from which a small lamp is taken to light: half of what it is made for; common practice, no source."""


def expected(row: str) -> tuple[float, float, float]:
    """The three voltages of a row of the table: hot to neutral, hot to ground, neutral to ground."""
    held = CHECKS[row]["expect"]
    return held["l_n_v"], held["l_g_v"], held["n_g_v"]


def tolerance(row: str) -> float:
    return float(CHECKS[row]["tolerance"]["volts_abs"])


@pytest.mark.parametrize("row", [pytest.param(row, id=f"{row} {NAMES[row]}") for row in NAMES])
def test_each_condition_shows_its_readings(row: str, tmp_path: Path) -> None:
    """With a low-impedance meter, within the tolerance of the table; j-04 with the load plugged in switched on."""
    held = fit(found(tmp_path, three(*expected(row))), NAMES[row])
    for (low, high), volts in zip(held.shown, expected(row), strict=True):
        assert volts - tolerance(row) <= low <= high <= volts + tolerance(row)
    assert held.alternative == STATES.get(row, "")


@pytest.mark.parametrize("row", [pytest.param(row, id=f"{row} {NAMES[row]}") for row in NAMES])
def test_each_condition_lights_its_lamps(row: str, tmp_path: Path) -> None:
    """The three lamps of a plug-in tester, by the voltages that are worked out."""
    held = fit(found(tmp_path, three(*expected(row))), NAMES[row])
    lit = {pair: low >= LAMP_V for pair, (low, _) in zip(("L-N", "L-G", "N-G"), held.shown, strict=True)}
    assert lit == CHECKS[row]["expect"]["lamps"]


def rows_with(volts: tuple[float, ...], within: float) -> set[str]:
    """The conditions of the table whose published readings are these, read from the table itself."""
    return {
        NAMES[row] for row in NAMES
        if all(abs(one - other) <= within for one, other in zip(expected(row), volts, strict=True))
    }  # fmt: skip


@pytest.mark.parametrize("row", [pytest.param(row, id=f"{row} {NAMES[row]}") for row in NAMES])
def test_readings_leave_every_row_of_the_table_that_has_them(row: str, tmp_path: Path) -> None:
    """Neither a row too few nor one too many, of all rows with readings worked out by the published table."""
    one = found(tmp_path, three(*expected(row)))
    assert names(one) & set(NAMES.values()) == rows_with(expected(row), tolerance(row))


@pytest.mark.parametrize("off", [pytest.param(-5.5, id="low in its tolerance"), pytest.param(5.5, id="high in it")])
@pytest.mark.parametrize("row", [pytest.param(row, id=f"{row} {NAMES[row]}") for row in NAMES])
def test_supply_off_nominal(row: str, off: float, tmp_path: Path) -> None:
    """All live readings 5.5 V to one side, inside ANSI C84.1 range A (from memory) and the tolerance of the table."""
    moved = tuple(volts + off * round(volts / 120) for volts in expected(row))
    assert NAMES[row] in names(found(tmp_path, three(*moved)))


@pytest.mark.parametrize("row", [pytest.param(row, id=f"{row} {NAMES[row]}") for row in NAMES])
def test_readings_far_off_leave_no_condition(row: str, tmp_path: Path) -> None:
    """25 V beyond what any row shows: nothing of the table fits."""
    moved = tuple(volts + 25.0 for volts in expected(row))
    assert not names(found(tmp_path, three(*moved))) & set(NAMES.values())


# -- sets of readings with published candidates


def test_four_conditions_look_right(tmp_path: Path) -> None:
    """j-15: voltages alone leave exactly these four of the table standing, one of them lethal, and prove none."""
    given, expect = CHECKS["j-15"]["given"], CHECKS["j-15"]["expect"]
    one = found(tmp_path, three(given["l_n_v"], given["l_g_v"], given["n_g_v"]))
    assert names(one) & set(NAMES.values()) == set(expect["candidates"])
    assert one.fits[0].name == "reversed-polarity bootleg ground"
    assert one.fits[0].lethal
    assert expect["must_not_claim"] == "proved correct"
    assert not any("proved" in fit.words or "safe" in fit.words for fit in one.fits)
    assert "do not prove" in fit(one, "correct").words


def test_half_voltage_on_a_high_impedance_meter(tmp_path: Path) -> None:
    """j-16: a floating ground, never an energised one; the low-impedance comparison is asked for."""
    given, expect = CHECKS["j-16"]["given"], CHECKS["j-16"]["expect"]
    one = found(tmp_path, three(given["l_n_v"], given["l_g_v"], given["n_g_v"], HIGH))
    assert set(expect["candidates"]) <= names(one)
    assert not names(one) & {
        "ground terminal joined to hot", "hot and ground reversed", "reversed-polarity bootleg ground"
    }  # fmt: skip
    assert not any("energised" in fit.words for fit in one.fits)
    assert one.phantom
    assert "low-impedance" in one.comparison
    assert set(fit(one, "open ground").coupled) == {"LG", "NG"}


@pytest.mark.parametrize(
    "volts",
    [
        pytest.param((121, 20, 15), id="little of it"),
        pytest.param((121, 100, 8), id="near the neutral"),
        pytest.param((121, 0, 0), id="nothing"),
    ],
)
def test_floating_ground_may_show_anything(volts: tuple[float, float, float], tmp_path: Path) -> None:
    """Note of j-02: high-impedance meters float here and may show anything, up to the highest voltage that couples."""
    assert "open ground" in names(found(tmp_path, three(*volts, HIGH)))
    beyond = found(tmp_path, three(121, 160, 15, HIGH))
    assert "open ground" not in names(beyond)


@pytest.mark.parametrize(
    ("volts", "fits"),
    [
        pytest.param(118, True, id="a heater plugged in"),
        pytest.param(80, True, id="a small lamp plugged in"),
        pytest.param(30, False, id="less than any load lets through"),
    ],
)
def test_open_neutral_with_a_load_nobody_recorded(volts: float, fits: bool, tmp_path: Path) -> None:
    """Circuit theory: 3 kilohm behind 7 W (2057 ohm) shows 71 V of 120 V, behind anything larger more."""
    devices = {"R1": {"kind": "duplex receptacle", "at": "hall", "wired_to": "W1"}}
    one = found(tmp_path, three(0, 120, volts), devices=devices)
    assert ("open neutral" in names(one)) is fits


def test_same_readings_with_low_impedance_leave_nothing_floating(tmp_path: Path) -> None:
    """What a coupled voltage cannot hold up against 3 kilohm is no coupled voltage."""
    given = CHECKS["j-16"]["given"]
    one = found(tmp_path, three(given["l_n_v"], given["l_g_v"], given["n_g_v"], LOW))
    assert "open ground" not in names(one)
    assert not one.phantom


def test_reversed_or_ground_on_hot(tmp_path: Path) -> None:
    """j-17: exactly these two, the worse one first."""
    given, expect = CHECKS["j-17"]["given"], CHECKS["j-17"]["expect"]
    one = found(tmp_path, three(given["l_n_v"], given["l_g_v"], given["n_g_v"]))
    assert expect["candidates"] == ["hot and neutral reversed", "ground terminal joined to hot"]
    assert [fit.name for fit in one.fits] == ["ground terminal joined to hot", "hot and neutral reversed"]


@pytest.mark.parametrize(
    ("high", "low", "phantom"),
    [
        pytest.param(CHECKS["j-20"]["given"]["reading_high_z_v"], CHECKS["j-20"]["given"]["reading_low_z_v"], True, id="j-20 collapses"),
        pytest.param(48, 48, False, id="does not collapse: a real source"),
    ],
)  # fmt: skip
def test_reading_that_collapses(high: float, low: float, phantom: bool, tmp_path: Path) -> None:
    """j-20, published explanations of ghost voltage: a spare red beside a live black, both of its ends capped."""
    cables = {
        "W1": {
            "type": "14/3 NM-B with ground",
            "from": {"at": "A", "black": "breaker 3", "white": "neutral bar", "bare": "ground bar", "red": "capped"},
            "to": {"at": "hall", "red": "capped"},
        }
    }
    devices = {
        "R1": {
            "kind": "duplex receptacle",
            "at": "hall",
            "terminals": {"hot": "W1 black", "neutral": "W1 white", "ground": "W1 bare"},
        }
    }
    taken = [reading("H", "W1 red", "W1 white", high, HIGH), reading("L", "W1 red", "W1 white", low, LOW)]
    one = found(tmp_path, taken, cables=cables, devices=devices)
    assert one.phantom is phantom
    assert (CHECKS["j-20"]["expect"]["classify"] in names(one)) is phantom
    assert one.as_recorded is phantom
    if phantom:
        assert "neither proves anything dead" in one.comparison


def test_everything_in_the_cable_couples(tmp_path: Path) -> None:
    """Two spare conductors against each other, beside a live one that was not read: coupled voltage, as recorded."""
    spare = {"red": "capped", "blue": "capped"}
    cables = {
        "W1": {
            "type": "14/4 NM-B",
            "from": {"at": "A", "black": "breaker 3", "white": "neutral bar", **spare},
            "to": {"at": "hall", "black": "capped", "white": "capped", **spare},
        }
    }
    one = found(tmp_path, [reading("M1", "W1 red", "W1 blue", 31, HIGH)], cables=cables, devices={})
    assert one.phantom
    assert one.as_recorded


# -- shared neutrals


def multiwire(watts_one: float, watts_two: float) -> dict[str, Any]:
    """Two lamps on two legs with one white, joined in box one."""
    return {
        "panels": {"A": {"breakers": {"5": {"amps": 15, "leg": "L1"}, "7": {"amps": 15, "leg": "L2"}}}},
        "cables": {
            "W1": {
                "type": "14/3 NM-B with ground",
                "from": {
                    "at": "A", "black": "breaker 5", "red": "breaker 7", "white": "neutral bar", "bare": "ground bar"
                },
                "to": "one",
            },
            "W2": {"type": "14/2 NM-B with ground", "from": "one", "to": "two", "length": "3 ft"},
            "W3": {"type": "14/2 NM-B with ground", "from": "one", "to": "three", "length": "3 ft"},
        },
        "boxes": {tag: {"kind": "nonmetallic", "volume": 40} for tag in ("one", "two", "three")},
        "joints": {
            "J1": {"at": "one", "ends": ["W1 black", "W2 black"]},
            "J2": {"at": "one", "ends": ["W1 red", "W3 black"]},
            "J3": {"at": "one", "ends": ["W1 white", "W2 white", "W3 white"]},
            "J4": {"at": "one", "ends": ["W1 bare", "W2 bare", "W3 bare"]},
        },
        "devices": {
            "L1": {"kind": "lampholder", "at": "two", "watts": watts_one, "wired_to": "W2"},
            "L2": {"kind": "lampholder", "at": "three", "watts": watts_two, "wired_to": "W3"},
        },
    }  # fmt: skip


@pytest.mark.parametrize("entry", [pytest.param(entry, id=entry) for entry in ("i-15", "i-16", "i-17")])
def test_open_shared_neutral_by_the_loads(entry: str, tmp_path: Path) -> None:
    """The voltage on each side from the recorded loads, within 1 % for the few feet of wire; the entry asks for 0.5 %
    between the loads alone, which the ratio keeps."""
    given, expect = CHECKS[entry]["given"], CHECKS[entry]["expect"]
    house = multiwire(given["load_1_w_at_120v"], given["load_2_w_at_120v"])
    held = fit(
        found(tmp_path, [reading("M1", "L1 hot", "L1 neutral", round(expect["v1"], 1))], **house), "shared neutral open"
    )
    sides = dict(held.sides)
    assert sides == pytest.approx({"L1": expect["v1"], "L2": expect["v2"]}, rel=0.01)
    assert sides["L1"] / sides["L2"] == pytest.approx(
        expect["v1"] / expect["v2"], rel=CHECKS[entry]["tolerance"]["rel"]
    )
    assert f"L2 ({given['load_2_w_at_120v']} W) gets {sides['L2']:.0f} V" in held.words
    assert held.severity == "catastrophic"


def test_equal_loads_hide_an_open_neutral(tmp_path: Path) -> None:
    """i-17: the record explains 120 V as well, and the open neutral is listed all the same."""
    one = found(tmp_path, [reading("M1", "L1 hot", "L1 neutral", 120)], **multiwire(500, 500))
    assert one.as_recorded
    assert {"correct", "shared neutral open"} <= names(one)


def test_unequal_loads_show_an_open_neutral(tmp_path: Path) -> None:
    """The counterpart of i-17: with 100 W and 200 W, 120 V excludes it."""
    one = found(tmp_path, [reading("M1", "L1 hot", "L1 neutral", 120)], **multiwire(100, 200))
    assert "shared neutral open" not in names(one)


def test_high_resistance_neutral_shifts(tmp_path: Path) -> None:
    """i-18, node-voltage method: 12 and 48 ohm with 1 ohm in the neutral, 113.21 V and 126.79 V.

    The way to the panel is recorded as short; a long one would explain part of it.
    """
    given, expect = CHECKS["i-18"]["given"], CHECKS["i-18"]["expect"]
    house = multiwire(120**2 / given["r1_ohm"], 120**2 / given["r2_ohm"])
    house["cables"]["W1"]["length"] = "10 ft"
    taken = [
        reading("M1", "J1", "J3", round(expect["v1"], 1), HIGH),
        reading("M2", "J2", "J3", round(expect["v2"], 1), HIGH),
        reading("M3", "J1", "J2", 240.0, HIGH),
    ]
    one = found(tmp_path, taken, **house)
    assert "high-resistance neutral" in names(one)
    assert "correct" not in names(one)
    assert "high-resistance neutral" not in names(found(tmp_path, [*three_even()], **house))


def three_even() -> list[dict[str, Any]]:
    """The same three points read with nothing wrong."""
    return [
        reading("M1", "J1", "J3", 120, HIGH),
        reading("M2", "J2", "J3", 120, HIGH),
        reading("M3", "J1", "J2", 240, HIGH),
    ]


def test_open_service_neutral(tmp_path: Path) -> None:
    """i-19, split-phase symmetry: 104 and 136 V at the panel, 240 V between."""
    given, expect = CHECKS["i-19"]["given"], CHECKS["i-19"]["expect"]
    panels = {"A": {"breakers": {"1": {"amps": 15, "leg": "L1"}, "2": {"amps": 15, "leg": "L2"}}}}
    taken = [
        reading("M1", "A 1", "A neutral bar", given["leg_1_to_neutral_v"]),
        reading("M2", "A 2", "A neutral bar", given["leg_2_to_neutral_v"]),
        reading("M3", "A 1", "A 2", given["legs_v"]),
    ]
    one = found(tmp_path, taken, panels=panels, cables={}, boxes={}, devices={})
    assert expect["suspect"] == "open or high-resistance neutral"
    assert names(one) == {"open service neutral", "high-resistance service neutral"}
    assert one.fits[0].severity == "catastrophic"
    assert not one.as_recorded


@pytest.mark.parametrize(
    "entry", [pytest.param("i-09", id="i-09 240 V between"), pytest.param("i-10", id="i-10 0 V between")]
)
def test_legs_of_two_breakers(entry: str, tmp_path: Path) -> None:
    """i-09 and i-10, circuit theory: by their spaces 1 and 3 are on opposite legs; 0 V between says otherwise."""
    given = CHECKS[entry]["given"]
    panels = {"A": {"breakers": {"1": 15, "3": 15}}}
    taken = [
        reading("M1", "A 1", "A neutral bar", given["each_hot_to_neutral_v"]),
        reading("M2", "A 3", "A neutral bar", given["each_hot_to_neutral_v"]),
        reading("M3", "A 1", "A 3", given["volts_between_the_two_hots"]),
    ]
    one = found(tmp_path, taken, panels=panels, cables={}, boxes={}, devices={})
    opposite = CHECKS[entry]["expect"]["legs"].startswith("opposite")
    assert (names(one) == {"correct"}) is opposite
    assert ("breaker on another leg" in names(one)) is not opposite


def test_opened_shared_neutral_is_live_through_the_other_leg(tmp_path: Path) -> None:
    """i-20: breaker 1 off, breaker 2 on, the neutral opened for work; it can read 120 V, and does with a load on."""
    expect = CHECKS["i-20"]["expect"]
    log = [{"did": "switched", "what": "A 5", "to": "off"}, {"did": "tested", "what": "one", "readings": ["M1"]}]
    taken = [reading("M1", "J3", "J4", expect["neutral_can_read_v"])]
    one = found(tmp_path, taken, log=log, **multiwire(100, 200))
    held = fit(one, "shared neutral open")
    assert held.lethal is expect["neutral_hazard"]
    assert held.where == ("W1 white", "A neutral bar", "J3")
    assert held.alternative == "with a load switched on"
    assert not one.as_recorded


@pytest.mark.parametrize(
    "between",
    [
        pytest.param([("WH hot", "WH ground"), ("WH hot_2", "WH ground"), ("WH hot", "WH hot_2")], id="at the heater"),
        pytest.param([("A 2", "A ground bar"), ("A 4", "A ground bar"), ("A 2", "A 4")], id="at the panel"),
    ],
)
def test_pole_that_failed_open(between: list[tuple[str, str]], tmp_path: Path) -> None:
    """k-16, circuit theory: 120 V on both terminals of a 240 V heater and 0 V between; it is fed back through the element."""
    held = CHECKS["k-16"]["given"]["readings"]
    taken = [
        reading(f"M{number}", *pair, held[what])
        for number, (pair, what) in enumerate(zip(between, ("L1-G", "L2-G", "L1-L2"), strict=True))
    ]
    heater = {
        "panels": {"A": {"breakers": {"2/4": {"amps": 30, "tie": "common trip"}}}},
        "cables": {"W2": {"type": "10/2 NM-B with ground", "from": "A 2/4", "to": "WH"}},
        "devices": {
            "WH": {
                "kind": "water heater",
                "volts": 240,
                "watts": 4500,
                "terminals": {"hot": "W2 black", "hot_2": "W2 white", "ground": "W2 bare"},
            }
        },
        "boxes": {},
    }
    one = found(tmp_path, taken, **heater)
    held = fit(one, "failed-open pole")
    assert CHECKS["k-16"]["expect"]["cause"] == "backfeed through the element"
    assert "fed backwards through the load" in held.words
    assert held.alternative == "with a load switched on"
    assert held.lethal
    assert one.fits[0] is held
    assert not one.as_recorded


# -- the data file


def test_conditions_are_in_the_words_of_the_grades() -> None:
    grades = data("grades")
    for condition in conditions().values():
        assert condition.severity in grades["severities"], condition.name
        assert condition.means.endswith("."), condition.name
        assert condition.look, condition.name
        assert data("faults")["conditions"][condition.name]["basis"] in (
            "seen in text",
            "from memory",
            "common practice",
        )


def test_every_condition_of_the_table_has_its_wiring() -> None:
    """What the three terminals hang on is told for each; two conditions with one wiring would have one name too few."""
    told = [tuple(conditions()[name].at.items()) for name in set(NAMES.values())]
    assert all(told)
    assert len(set(told)) == len(told)


PAGE = Path(__file__).parents[1] / "engine" / "pages" / "readings.md"


def page_rows() -> list[list[str]]:
    """The rows of the page's table of conditions and readings."""
    lines = [line for line in PAGE.read_text(encoding="utf-8").splitlines() if line.startswith("|")]
    start = next(number for number, line in enumerate(lines) if "hot to neutral" in line)
    cells = [[cell.strip() for cell in line.strip("|").split("|")] for line in lines[start + 2 :]]
    return [row for row in cells if len(row) == 4 and row[1].isdigit()]


def test_page_shows_what_is_worked_out(tmp_path: Path) -> None:
    """Every row of the table in the documentation, against the circuit; and every condition of the table is there."""
    rows = page_rows()
    assert {row[0].split(",")[0] for row in rows} >= set(NAMES.values())
    for name, *volts in rows:
        held = fit(found(tmp_path, three(*map(float, volts))), name.split(",")[0])
        for (low, high), written in zip(held.shown, volts, strict=True):
            assert low == pytest.approx(float(written), abs=6), name
            assert high == pytest.approx(float(written), abs=6), name


def test_worst_first(tmp_path: Path) -> None:
    order = data("grades")["severities"]
    for row in NAMES:
        grave = [order.index(fit.severity) for fit in found(tmp_path, three(*expected(row))).fits]
        assert grave == sorted(grave)


def test_one_diagnosis_for_one_place(tmp_path: Path) -> None:
    assert len(all_found(tmp_path, three(120, 120, 0), **RECEPTACLE)) == 1
