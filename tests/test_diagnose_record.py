"""Diagnosis of whole records: how readings are gathered, what the record itself is called, how far live metal reaches,
what is read next. Every record is invented; connections are North American practice (common practice, no source)."""

from __future__ import annotations

import subprocess
import sys
import time
from pathlib import Path
from typing import Any

import pytest

from asfound.data import data
from asfound.diagnose import Diagnosis, diagnose, probes
from asfound.diagnose.fitting import would_show
from asfound.diagnose.gather import gather
from asfound.diagnose.part import part_around
from asfound.diagnose.wiring import House
from asfound.load import load_file
from asfound.record.facts import EXACT, LISTED
from asfound.survey import read_record
from asfound.trace import Installation, trace
from probing import HIGH, LOW, PAIR, RECEPTACLE, all_found, fit, found, names, reading, three, traced

DEMO = Path(__file__).parents[1] / "fixtures" / "demo.yaml"


def receptacle(terminals: dict[str, Any], panel_end: Any = "A 3", **more: Any) -> dict[str, Any]:
    """A receptacle on W1 with these conductors on its terminals."""
    return {
        "cables": {"W1": {"type": "14/3 NM-B with ground", "from": panel_end, "to": {"at": "hall", **more}}},
        "devices": {"R1": {"kind": "duplex receptacle", "at": "hall", "plugged_amps": 4, "terminals": terminals}},
    }


def at_panel(**landed: str) -> dict[str, str]:
    """Where the conductors of W1 land at panel A; what is not named is as usual, the red capped."""
    return {
        "at": "A", "black": "breaker 3", "red": "capped", "white": "neutral bar", "bare": "ground bar", **landed
    }  # fmt: skip


WIRED = {"hot": "W1 black", "neutral": "W1 white", "ground": "W1 bare"}
TRUTHS: dict[str, dict[str, Any]] = {
    "correct": receptacle(WIRED, at_panel(), red="capped"),
    "open ground": receptacle(WIRED, at_panel(bare="cut"), red="capped"),
    "open neutral": receptacle(WIRED, at_panel(white="capped"), red="capped"),
    "open hot": receptacle(WIRED, at_panel(black="capped"), red="capped"),
    "hot and neutral reversed": receptacle(
        {"hot": "W1 white", "neutral": "W1 black", "ground": "W1 bare"}, at_panel(), red="capped"
    ),
    "hot and ground reversed": receptacle(
        {"hot": "W1 bare", "neutral": "W1 white", "ground": "W1 black"}, at_panel(), red="capped"
    ),
    "neutral and ground reversed": receptacle(
        {"hot": "W1 black", "neutral": "W1 bare", "ground": "W1 white"}, at_panel(), red="capped"
    ),
    "bootleg ground": receptacle(
        {"hot": "W1 black", "neutral": ["W1 white", "W9 black"], "ground": "W9 white"}, at_panel(), red="capped", bare="cut"
    ),
    "reversed-polarity bootleg ground": receptacle(
        {"hot": "W1 white", "neutral": ["W1 black", "W9 black"], "ground": "W9 white"}, at_panel(), red="capped", bare="cut"
    ),
    "ground terminal joined to hot": receptacle(
        {"hot": ["W1 black", "W9 black"], "neutral": "W1 white", "ground": "W9 white"}, at_panel(), red="capped", bare="cut"
    ),
    "open ground plus hot and neutral reversed": receptacle(
        {"hot": "W1 white", "neutral": "W1 black"}, at_panel(), red="capped", bare="cut"
    ),
    "neutral slot fed from the other leg": receptacle(
        {"hot": "W1 black", "neutral": "W1 red", "ground": "W1 bare"}, at_panel(red="breaker 5"), white="capped"
    ),
    "neutral slot fed from the same hot": receptacle(
        {"hot": ["W1 black", "W9 black"], "neutral": "W9 white", "ground": "W1 bare"}, at_panel(), red="capped", white="cut"
    ),
    "open neutral plus open ground": receptacle(WIRED, at_panel(white="capped", bare="cut"), red="capped"),
}  # fmt: skip
"""Records that are wired so; W9 is a short piece of cable used as a jumper."""


def truth(name: str) -> dict[str, Any]:
    """The sections of a record that is wired so."""
    held = {section: dict(value) for section, value in TRUTHS[name].items()}
    if any("W9" in str(end) for end in held["devices"]["R1"]["terminals"].values()):
        ends = ["W9 black (to)", "W9 white (to)"]
        terminals = {
            terminal: [end.replace("W9 black", "W9 black (from)").replace("W9 white", "W9 white (from)") for end in
                       ([ends_here] if isinstance(ends_here, str) else ends_here)]
            for terminal, ends_here in held["devices"]["R1"]["terminals"].items()
        }  # fmt: skip
        held["devices"]["R1"] = {**held["devices"]["R1"], "terminals": terminals}
        held["cables"]["W9"] = {"type": "14/2 NM-B", "from": "hall", "to": "hall", "length": "0.5 ft"}
        held["joints"] = {"J9": {"at": "hall", "ends": ends}}
    return held


def would_read(installation: Installation, state: int = 0) -> list[tuple[float, float]]:
    """What the record as written would show at the first place read, with nothing or with everything switched on."""
    house = House(installation.record)
    (readings,) = gather(installation, house)
    shown = would_show(part_around(house, readings), readings)[state]
    assert shown.holds
    return list(shown.volts)


@pytest.mark.parametrize("name", TRUTHS)
def test_record_is_called_what_it_is(name: str, tmp_path: Path) -> None:
    """A record that is wired so, with the readings that such wiring gives, is explained by itself and so called."""
    zeros = traced(tmp_path, three(0, 0, 0), **truth(name))
    taken = three(*(round(low, 1) for low, _ in would_read(zeros)))
    one = found(tmp_path, taken, **truth(name))
    assert one.as_recorded
    assert [held.name for held in one.fits if held.as_recorded] == [name]


@pytest.mark.parametrize("state", [pytest.param(0, id="nothing on"), pytest.param(1, id="a load on")])
@pytest.mark.parametrize("name", TRUTHS)
def test_truth_is_found_from_a_record_that_says_otherwise(name: str, state: int, tmp_path: Path) -> None:
    """Readings of a house wired so, held against a record in which the receptacle is sound: the truth is listed.

    The truth is drawn as wiring and the candidates are changes of a circuit, so neither is made from the other.
    """
    drawn = traced(tmp_path, three(0, 0, 0), **truth(name))
    taken = three(*(round(low, 1) for low, _ in would_read(drawn, state)))
    assert name in names(found(tmp_path, taken, **RECEPTACLE))


# -- places and moments


TESTED = {"did": "tested", "what": "hall"}


def test_switching_parts_readings(tmp_path: Path) -> None:
    """Readings before and after a switching are two sets: what is off explains the second."""
    taken = [reading("M1", "R1 hot", "R1 neutral", 120), reading("M2", "R1 hot", "R1 neutral", 0)]
    log = [
        {**TESTED, "readings": ["M1"]},
        {"did": "switched", "what": "A 3", "to": "off"},
        {**TESTED, "readings": ["M2"]},
    ]
    first, second = all_found(tmp_path, taken, log=log)
    assert first.as_recorded
    assert second.as_recorded
    assert names(second) == {"no supply or breaker off"}
    assert any("say nothing of how it is wired" in note for note in second.notes)


def test_live_with_its_breaker_off_is_a_second_feed(tmp_path: Path) -> None:
    log = [{"did": "switched", "what": "A 3", "to": "off"}, {**TESTED, "readings": ["LN", "LG", "NG"]}]
    one = found(tmp_path, three(120, 120, 0), log=log)
    assert not one.as_recorded
    assert one.fits[0].name == "second feed"
    assert one.fits[0].lethal


def test_what_was_off_on_one_visit_is_not_known_on_the_next(tmp_path: Path) -> None:
    visits = {"V1": {"on": "2025-05-05", "by": "A"}, "V2": {"on": "2025-05-06", "by": "A"}}
    log = [
        {"did": "switched", "what": "A 3", "to": "off", "visit": "V1"},
        {**TESTED, "readings": ["M1"], "visit": "V2"},
    ]
    taken = [reading("M1", "R1 hot", "R1 neutral", 120, visit="V2")]
    assert found(tmp_path, taken, visits=visits, log=log).as_recorded


def test_reading_that_the_log_does_not_name_stands_by_its_time(tmp_path: Path) -> None:
    visits = {"V1": {"on": "2025-05-05", "by": "A"}}
    log = [{"at": "10:00", "did": "switched", "what": "A 3", "to": "off"}]
    late = [reading("M1", "R1 hot", "R1 neutral", 0, at="2025-05-05 10:05")]
    early = [reading("M1", "R1 hot", "R1 neutral", 0, at="2025-05-05 09:55")]
    assert names(found(tmp_path, late, visits=visits, log=log)) == {"no supply or breaker off"}
    assert {"open hot", "open neutral"} <= names(found(tmp_path, early, visits=visits, log=log))


def test_conductors_and_terminals_of_one_box_are_one_place(tmp_path: Path) -> None:
    taken = [reading("M1", "R1 hot", "R1 neutral", 120), reading("M2", "W1 black", "W1 bare", 120)]
    one = found(tmp_path, taken)
    assert one.place.tag == "R1"
    assert [held.tag for held in one.readings] == ["M1", "M2"]


@pytest.mark.parametrize(
    ("held", "reason"),
    [
        pytest.param(
            {"kind": "non-contact", "between": ["W1 black"], "value": "silent", "instrument": "pen"}, "non-contact",
            id="non-contact",
        ),
        pytest.param({"kind": "lamp tester", "between": ["R1 hot", "R1 neutral"], "value": "silent"}, "lamp", id="lamp"),
        pytest.param({"kind": "voltage", "between": ["R1 hot", "R1 neutral"], "instrument": LOW}, "not seen", id="no value"),
        pytest.param({"kind": "current", "between": ["W1 white"], "value": "3 A"}, "currents", id="current"),
        pytest.param({"kind": "voltage", "between": ["W1", "earth"], "value": "0 V", "instrument": LOW}, "two points",
                     id="a whole cable"),
    ],
)  # fmt: skip
def test_weak_readings_never_exclude(held: dict[str, Any], reason: str, tmp_path: Path) -> None:
    """A silent pen beside 120 V changes nothing of what fits; what is left out is named."""
    taken = three(120, 120, 0)
    without = found(tmp_path, taken)
    one = next(d for d in all_found(tmp_path, [*taken, {"tag": "X", **held}]) if d.place.tag == "R1")
    assert names(one) == names(without)
    assert len(one.readings) == 3
    assert reason == "two points" or any(note.startswith("X is not used") and reason in note for note in one.notes)


def test_known_source_gives_the_volts_of_the_supply(tmp_path: Path) -> None:
    """108 V fits a supply of 114 V, not one that was read as 124 V a minute before."""
    source = reading("K", "A 3", "A neutral bar", 124.0, LOW, known_source=True)
    taken = [reading("M1", "R1 hot", "R1 neutral", 110.0)]
    assert found(tmp_path, taken).as_recorded
    one = found(tmp_path, [source, *taken])
    assert not one.as_recorded
    assert {"high-resistance hot", "high-resistance neutral"} <= names(one)


def test_instrument_not_recorded_can_be_of_either_kind(tmp_path: Path) -> None:
    """63 V on an unknown meter can be coupled, so an open ground stays possible."""
    taken = [{**one, "instrument": LOW} for one in three(121, 63, 58)]
    for one in taken:
        del one["instrument"]
    assert "open ground" in names(found(tmp_path, taken))


# -- what the record does not show


def test_device_that_was_not_opened_gets_a_usual_feed(tmp_path: Path) -> None:
    bare = {"devices": {"R1": {"kind": "duplex receptacle", "at": "hall"}}, "cables": {}}
    one = found(tmp_path, three(120, 120, 0), **bare)
    assert any("nothing is recorded on the terminals of R1; a usual feed is assumed" in note for note in one.notes)
    assert {"correct", "bootleg ground", "reversed-polarity bootleg ground"} <= names(one)
    assert not one.whole
    assert not any(held.against for held in one.fits)


def test_cable_that_is_not_traced_gets_a_usual_feed(tmp_path: Path) -> None:
    cables = {"W1": {"type": "14/2 NM-B with ground", "from": "not traced", "to": "hall"}}
    one = found(tmp_path, three(120, 0, 0), cables=cables)
    assert any("cable W1 is not traced to its end" in note for note in one.notes)
    assert "open ground" in names(one)


def test_record_in_full_speaks_against_the_others(tmp_path: Path) -> None:
    one = found(tmp_path, three(120, 120, 0))
    assert one.whole
    assert {held.name for held in one.fits if not held.against} == {"correct"}
    assert fit(one, "reversed-polarity bootleg ground").against


def test_record_that_does_not_explain_speaks_against_nothing(tmp_path: Path) -> None:
    one = found(tmp_path, three(120, 0, 120))
    assert not one.as_recorded
    assert not any(held.against for held in one.fits)


def test_nothing_fits(tmp_path: Path) -> None:
    one = found(tmp_path, three(180, 20, 90))
    assert one.fits == ()
    assert one.next_reading is None
    assert any("Take everything here as live" in note for note in one.notes)


def test_what_was_not_read_is_not_spoken_of(tmp_path: Path) -> None:
    """Hot to neutral alone tells nothing of the ground."""
    one = found(tmp_path, [reading("M1", "R1 hot", "R1 neutral", 120)])
    assert names(one) == {"correct", "hot and neutral reversed"}
    assert any("No reading touches the ground" in note for note in one.notes)


# -- switches


def three_way() -> dict[str, Any]:
    """A lamp behind two three-way switches."""
    return {
        "cables": {
            "W1": {"type": "14/2 NM-B with ground", "from": "A 3", "to": "one"},
            "W2": {"type": "14/3 NM-B with ground", "from": "one", "to": "two"},
            "W3": {"type": "14/2 NM-B with ground", "from": "two", "to": "lamp"},
        },
        "boxes": {tag: {"kind": "nonmetallic", "volume": 30} for tag in ("one", "two", "lamp")},
        "joints": {
            "J1": {"at": "one", "ends": ["W1 white", "W2 white"]},
            "J2": {"at": "two", "ends": ["W2 white", "W3 white"]},
            "J3": {"at": "one", "ends": ["W1 bare", "W2 bare"]},
            "J4": {"at": "two", "ends": ["W2 bare", "W3 bare"]},
        },
        "devices": {
            "S1": {"kind": "three-way switch", "at": "one",
                   "terminals": {"common": "W1 black", "traveller_1": "W2 black", "traveller_2": "W2 red"}},
            "S2": {"kind": "three-way switch", "at": "two",
                   "terminals": {"common": "W3 black", "traveller_1": "W2 black", "traveller_2": "W2 red"}},
            "L1": {"kind": "lampholder", "at": "lamp", "watts": 60, "wired_to": "W3"},
        },
    }  # fmt: skip


@pytest.mark.parametrize(
    ("one", "two", "volts", "instrument", "fits"),
    [
        pytest.param("L1 hot", "L1 neutral", 120, LOW, True, id="lamp on"),
        pytest.param("L1 hot", "L1 neutral", 0, LOW, True, id="lamp off"),
        pytest.param("L1 hot", "L1 neutral", 60, LOW, False, id="neither"),
        pytest.param("S1 traveller_2", "J1", 55, HIGH, True, id="traveller that hangs free"),
        pytest.param("S1 traveller_2", "J1", 55, LOW, False, id="the same with low impedance"),
        pytest.param("S1 common", "J1", 55, HIGH, False, id="common, which is fed"),
    ],
)
def test_switches_in_either_position(
    one: str, two: str, volts: float, instrument: str, fits: bool, tmp_path: Path
) -> None:
    """Nobody records how a switch stood: both positions explain a reading."""
    assert found(tmp_path, [reading("M1", one, two, volts, instrument)], **three_way()).as_recorded is fits


# -- breakers hold


def test_bolted_fault_would_trip(tmp_path: Path) -> None:
    """With the box grounded through its conduit, a ground joined to hot would trip: only the reversal is left of j-17."""
    cables = {"W1": {"type": "14/2 EMT with ground", "from": "A 3", "to": "hall"}}
    boxes = {"hall": "square 4 x 1-1/2"}
    one = found(tmp_path, three(120, 0, 120), cables=cables, boxes=boxes)
    assert "hot and neutral reversed" in names(one)
    assert "ground terminal joined to hot" not in names(one)


def test_record_that_cannot_be_right_says_so(tmp_path: Path) -> None:
    """Black and white in one joint: no breaker would hold, so 120 V is not explained."""
    cables = {"W1": {"type": "14/2 NM-B with ground", "from": "A 3", "to": "hall"}}
    joints = {"J1": {"at": "hall", "ends": ["W1 black", "W1 white"]}}
    one = found(tmp_path, [reading("M1", "W1 black", "W1 bare", 120)], cables=cables, joints=joints, devices={})
    assert not one.as_recorded
    assert any("a breaker would have to trip" in note for note in one.notes)


# -- live metal


def chain(opened: str = "") -> dict[str, Any]:
    """Three metal boxes in a row on A 3, each with a receptacle; the ground of one cable not joined when `opened`."""
    joints: dict[str, Any] = {}
    cables: dict[str, Any] = {"W1": {"type": "14/2 NM-B with ground", "from": "A 3", "to": "B1"}}
    for number in (1, 2, 3):
        here = [f"W{number}", *([f"W{number + 1}"] if number < 3 else [])]
        if number < 3:
            cables[f"W{number + 1}"] = {"type": "14/2 NM-B with ground", "from": f"B{number}", "to": f"B{number + 1}"}
        for colour, terminal in (("black", "hot"), ("white", "neutral"), ("bare", "ground")):
            ends = [f"{cable} {colour}" for cable in here] + [f"R{number} {terminal}"]
            if colour == "bare":
                ends.append("box")
            if colour == "bare" and opened == f"W{number}":
                ends.remove(f"{opened} bare")
            joints[f"{terminal} {number}"] = {"at": f"B{number}", "ends": ends}
    if opened:
        cables[opened]["to"] = {"at": cables[opened]["to"], "bare": "cut"}
    return {
        "cables": cables,
        "joints": joints,
        "boxes": {f"B{number}": "square 4 x 1-1/2" for number in (1, 2, 3)},
        "devices": {f"R{number}": {"kind": "duplex receptacle", "at": f"B{number}"} for number in (1, 2, 3)},
    }


def at_third(hot_neutral: float, hot_ground: float, neutral_ground: float) -> list[dict[str, Any]]:
    return [
        reading("LN", "R3 hot", "R3 neutral", hot_neutral),
        reading("LG", "R3 hot", "R3 ground", hot_ground),
        reading("NG", "R3 neutral", "R3 ground", neutral_ground),
    ]


def test_every_place_where_it_can_be(tmp_path: Path) -> None:
    """An open ground at the last of three can be in any of the three cables or the joints between."""
    held = fit(found(tmp_path, at_third(120, 0, 0), **chain()), "open ground")
    grounds = {"W1 bare", "ground 1", "W2 bare", "ground 2", "W3 bare", "ground 3", "A ground bar"}
    assert set(held.where) == grounds


def test_live_metal_reaches_as_far_as_the_ground_that_is_cut_off(tmp_path: Path) -> None:
    """Ground of the cable to the second box not joined, so what is joined to hot at the third makes two boxes live."""
    house = chain("W2")
    del house["joints"]["ground 3"]
    house["joints"]["mixed"] = {"at": "B3", "ends": ["W3 black", "W3 bare", "R3 hot", "R3 ground", "box"]}
    del house["joints"]["hot 3"]
    one = found(tmp_path, [reading("M1", "B3", "earth", 118)], **house)
    assert one.as_recorded
    held = one.fits[0]
    assert held.name == "ground terminal joined to hot"
    assert "the ground path is open upstream" in held.words
    assert held.where == ("mixed",)
    metal = {touch.words: touch.volts for touch in one.touch}
    assert {"the metal box B2", "the metal box B3"} <= set(metal)
    assert "the metal box B1" not in metal
    assert all(110 < volts < 126 for volts in metal.values())
    assert any(words.startswith("R2:") for words in metal)


def test_metal_that_can_be_live_hangs_on_where_the_ground_is_open(tmp_path: Path) -> None:
    """Readings of j-17 at the last of three: cut off in the first cable, the ground makes all three boxes live."""
    one = found(tmp_path, at_third(120, 0, 120), **chain())
    assert one.fits[0].name == "ground terminal joined to hot"
    metal = {touch.words for touch in one.touch}
    assert {"the metal box B1", "the metal box B2", "the metal box B3"} <= metal
    assert not any(touch.words.startswith("the enclosure") for touch in one.touch)


def test_no_metal_is_live_where_nothing_is_wrong(tmp_path: Path) -> None:
    assert found(tmp_path, at_third(120, 120, 0), **chain()).touch == ()


# -- dead readings


@pytest.mark.parametrize(
    ("value", "fits_record", "name"),
    [
        pytest.param("0.4 ohm", True, "as recorded", id="joined"),
        pytest.param("closed", True, "as recorded", id="continuity"),
        pytest.param("open", False, "open ground", id="no continuity"),
        pytest.param("OL", False, "open ground", id="over limit"),
    ],
)
def test_grounding_continuity(value: str, fits_record: bool, name: str, tmp_path: Path) -> None:
    one = found(tmp_path, [reading("M1", "R1 ground", "A ground bar", value)])
    assert one.as_recorded is fits_record
    assert name in names(one)


# -- what to read next


def test_gravest_is_told_apart_first(tmp_path: Path) -> None:
    """Of the four of 120/120/0 the lethal one is settled by an independent earth."""
    nxt = found(tmp_path, three(120, 120, 0)).next_reading
    assert nxt is not None
    assert "independent earth" in nxt.words
    alone = next(outcome for outcome in nxt.outcomes if "reversed-polarity bootleg ground" in outcome.names)
    assert alone.names == ("reversed-polarity bootleg ground",)


def test_next_reading_tells_what_it_says_it_tells(tmp_path: Path) -> None:
    """Taking the reading that is asked for leaves just the conditions that it promised, for each of its outcomes."""
    first = found(tmp_path, three(120, 0, 120)).next_reading
    assert first is not None
    assert len(first.outcomes) == 2
    assert first.points == ("R1 hot", "an independent earth")
    for outcome in first.outcomes:
        volts = {"near 0 V": 0, "about 120 V": 120}[outcome.shows]
        more = [*three(120, 0, 120), reading("E", "R1 hot", "earth", volts)]
        assert names(found(tmp_path, more)) == set(outcome.names)


def test_coupled_voltage_is_settled_first(tmp_path: Path) -> None:
    """120/120/0 on a high-impedance meter: the same points with low impedance come before anything is opened."""
    one = found(tmp_path, three(120, 120, 0, HIGH))
    assert one.phantom
    assert one.next_reading is not None
    assert "low-impedance" in one.next_reading.words
    assert not one.next_reading.words.startswith("Open")
    assert set(one.next_reading.points) < {"R1 hot", "R1 neutral", "R1 ground"}


def test_breaker_or_conductor(tmp_path: Path) -> None:
    """k-16 at the heater: the pole or the conductor; the breaker terminal tells, and touching it is said."""
    nothing: dict[str, Any] = {"boxes": {}}
    heater = {
        "panels": {"A": {"breakers": {"2/4": 30}}},
        "cables": {"W2": {"type": "10/2 NM-B with ground", "from": "A 2/4", "to": "WH"}},
        "devices": {"WH": {"kind": "water heater", "volts": 240, "watts": 4500,
                           "terminals": {"hot": "W2 black", "hot_2": "W2 white", "ground": "W2 bare"}}},
    }  # fmt: skip
    taken = [reading("A", "WH hot", "WH ground", 120), reading("B", "WH hot_2", "WH ground", 120),
             reading("C", "WH hot", "WH hot_2", 0)]  # fmt: skip
    nxt = found(tmp_path, taken, **heater, **nothing).next_reading
    assert nxt is not None
    assert "breaker A" in nxt.words
    assert "Bare live parts are touched" in nxt.caution


def test_second_hot_open(tmp_path: Path) -> None:
    """Circuit theory: with the heater's element off, the open side of 240 V shows nothing to ground."""
    heater = {
        "panels": {"A": {"breakers": {"2/4": 30}}},
        "cables": {"W2": {"type": "10/2 NM-B with ground", "from": "A 2/4", "to": "WH"}},
        "devices": {"WH": {"kind": "water heater", "volts": 240, "watts": 4500,
                           "terminals": {"hot": "W2 black", "hot_2": "W2 white", "ground": "W2 bare"}}},
        "boxes": {},
    }  # fmt: skip
    taken = [reading("A", "WH hot", "WH ground", 120), reading("B", "WH hot_2", "WH ground", 0),
             reading("C", "WH hot", "WH hot_2", 0)]  # fmt: skip
    held = fit(found(tmp_path, taken, **heater), "open hot")
    assert "W2 white" in held.where
    assert "W2 black" not in held.where
    assert held.alternative == "with nothing switched on"


def every(tmp_path: Path) -> list[Diagnosis]:
    sets = [three(*volts) for volts in ((120, 120, 0), (120, 0, 120), (0, 0, 0), (0, 120, 120), (120, 0, 0))]
    return [found(tmp_path, taken, **house) for taken in sets for house in (RECEPTACLE, {"devices": {
        "R1": {"kind": "duplex receptacle", "at": "hall"}}, "cables": {}})]  # fmt: skip


def test_nobody_is_sent_to_live_parts_unwarned(tmp_path: Path) -> None:
    """Each next step says that it is for a qualified person; where something is opened, that it is proven dead."""
    for one in every(tmp_path):
        if one.next_reading is not None:
            assert "qualified person" in one.next_reading.caution
            opened = one.next_reading.words.startswith("Open") or "Continuity" in one.next_reading.words
            assert ("proven dead" in one.next_reading.caution) is opened


def test_nothing_is_called_safe(tmp_path: Path) -> None:
    for one in every(tmp_path):
        text = " ".join([one.words, one.comparison, *one.notes, *(held.words for held in one.fits)])
        assert "safe" not in text
        assert "is dead" not in text


# -- other supplies and panels


@pytest.mark.parametrize(
    ("system", "across"),
    [
        pytest.param("120/240 split phase", 240, id="split phase"),
        pytest.param("208Y/120", 208, id="two of three phases, 120 x sqrt 3"),
    ],
)
def test_volts_between_legs(system: str, across: float, tmp_path: Path) -> None:
    """Circuit theory: 2 x 120 V, and 120 V x 1.732 between two phases."""
    taken = [reading("M1", "A 3", "A 5", across), reading("M2", "A 3", "A neutral bar", 120)]
    assert found(tmp_path, taken, supply=system, panels=PAIR).as_recorded
    wrong = [reading("M1", "A 3", "A 5", 448 - across), *taken[1:]]
    assert not found(tmp_path, wrong, supply=system, panels=PAIR).as_recorded


def test_single_phase_230_volts(tmp_path: Path) -> None:
    panels = {"A": {"breakers": {"3": 16}}}
    one = found(tmp_path, three(230, 230, 0), supply="230 single phase", panels=panels)
    assert one.as_recorded
    assert "neutral slot fed from the other leg" not in names(one)
    assert names(one) >= {"correct", "bootleg ground"}


FED = {
    "A": {"breakers": {"1/3": {"amps": 60}}},
    "B": {"fed_from": "A 1/3", "bonded": False, "breakers": {"2": {"amps": 15, "leg": "L1"}}},
}
FEEDER = {"type": "6/3 NM-B with ground", "from": "A 1/3",
          "to": {"at": "B", "black": "lug 1", "red": "lug 2", "white": "neutral bar", "bare": "ground bar"}}  # fmt: skip


@pytest.mark.parametrize(
    "recorded", [pytest.param(True, id="feeder recorded"), pytest.param(False, id="feeder not recorded")]
)
def test_behind_a_second_panel(recorded: bool, tmp_path: Path) -> None:
    """A panel fed by another: its feeder is among the places of an open neutral, by its cable where that is recorded."""
    cables: dict[str, Any] = {"W1": {"type": "14/2 NM-B with ground", "from": "B 2", "to": "hall"}}
    if recorded:
        cables["F1"] = FEEDER
    assert found(tmp_path, three(120, 120, 0), panels=FED, cables=cables).as_recorded
    held = fit(found(tmp_path, three(0, 120, 0), panels=FED, cables=cables), "open neutral")
    assert ("F1 white" if recorded else "feeder of panel B") in held.where
    assert "W1 white" in held.where


# -- items for rules


def test_probe_carries_what_the_catalogue_names(tmp_path: Path) -> None:
    (item,) = probes([found(tmp_path, three(120, 0, 120))])
    assert item.kind == "probe"
    assert set(item.data) == set(data("facts")["probe"]["facts"])
    assert item.data["fits"].kind == LISTED
    assert item.data["fits"].values == ("ground terminal joined to hot", "hot and neutral reversed")
    assert item.data["open_conditions"].value == item.data["fits"].values
    assert [held.tag for held in item.data["readings"]] == ["LN", "LG", "NG"]
    assert item.data["fits_record"].value is False
    assert item.data["worst"].value == "catastrophic"
    assert any(words.startswith("R1:") for words in item.data["live_metal"].value)


def test_probe_of_one_condition_is_exact(tmp_path: Path) -> None:
    (item,) = probes([found(tmp_path, three(240, 120, 120))])
    assert item.data["fits"].kind == EXACT
    assert item.data["fits"].value == "neutral slot fed from the other leg"


def test_probe_of_nothing_is_not_seen(tmp_path: Path) -> None:
    (item,) = probes([found(tmp_path, three(180, 20, 90))])
    assert item.data["fits"].values == ()
    assert item.data["explained"].value is False


# -- the demo record


@pytest.fixture(scope="module")
def demo() -> dict[str, Diagnosis]:
    """The diagnoses of the demo record by their first reading."""
    installation = trace(read_record(load_file(DEMO)))
    return {one.readings[0].tag: one for one in diagnose(installation)}


def test_demo_closet_box(demo: dict[str, Diagnosis]) -> None:
    """M8, planted: bare of the closet cable twisted in with the blacks at joint J30."""
    one = demo["M8"]
    assert one.place.tag == "bedroom closet"
    held = one.fits[0]
    assert (held.name, held.as_recorded, held.lethal) == ("ground terminal joined to hot", True, True)
    assert held.where == ("J30",)
    assert "the ground path is open upstream" in held.words
    assert {touch.words for touch in one.touch} == {
        "the metal box bedroom closet", "LT6: its metal body and chain or canopy"
    }  # fmt: skip


def test_demo_closet_box_with_the_joint_not_seen(tmp_path: Path) -> None:
    """The same 118 V on a record that has the bare elsewhere: found by the reading alone, and the box is live."""
    text = DEMO.read_text(encoding="utf-8").replace(
        "W30 black, W31 black, W31 bare, R11 hot", "W30 black, W31 black, R11 hot"
    )
    file = tmp_path / "demo.yaml"
    file.write_text(text, encoding="utf-8")
    one = next(d for d in diagnose(trace(read_record(load_file(file)))) if d.readings[0].tag == "M8")
    assert not one.as_recorded
    assert "ground terminal joined to hot" in names(one)
    assert all(held.lethal for held in one.fits if held.severity == "catastrophic")
    assert "the metal box bedroom closet" in {touch.words for touch in one.touch}


def test_demo_fed_twice(demo: dict[str, Diagnosis]) -> None:
    """M7, planted: breaker 12 off and its terminal live from breaker 20."""
    one = demo["M7"]
    assert (one.fits[0].name, one.as_recorded) == ("second feed", True)


def test_demo_wall(demo: dict[str, Diagnosis]) -> None:
    """M9: a cable called dead after a silent pen; live to earth, as recorded."""
    one = demo["M9"]
    assert one.as_recorded
    assert [held.tag for held in one.readings] == ["M9"]
    assert any(note.startswith("M6 is not used") for note in one.notes)


def test_demo_dishwasher(demo: dict[str, Diagnosis]) -> None:
    """M11 to M13: dead with its breaker off, which tells nothing of its wiring."""
    one = demo["M11"]
    assert [held.tag for held in one.readings] == ["M11", "M12", "M13"]
    assert names(one) == {"no supply or breaker off"}


def test_demo_panel(demo: dict[str, Diagnosis]) -> None:
    one = demo["M2"]
    assert [held.tag for held in one.readings] == ["M2", "M3", "M4"]
    assert one.as_recorded


def test_demo_takes_little_time() -> None:
    """The best of three runs in under a second, numpy loaded; on a usual machine some twenty milliseconds."""
    installation = trace(read_record(load_file(DEMO)))
    best = 10.0
    for _ in range(3):
        start = time.perf_counter()
        diagnose(installation)
        best = min(best, time.perf_counter() - start)
    assert best < 1.0


def test_numpy_stays_unloaded_without_readings(tmp_path: Path) -> None:
    traced(tmp_path, [reading("K", "A 3", "A neutral bar", 120, known_source=True)])
    code = (
        "import sys; from asfound.diagnose import diagnose; from asfound.load import load_file; "
        "from asfound.survey import read_record; from asfound.trace import trace; "
        f"found = diagnose(trace(read_record(load_file({str(tmp_path / 'record.yaml')!r})))); "
        "sys.exit(bool(found) or 'numpy' in sys.modules)"
    )
    done = subprocess.run([sys.executable, "-c", code], check=False, env={"PYTHONPATH": ":".join(sys.path)})
    assert done.returncode == 0
