"""Ways back, ends left behind and feeds, as the trace finds them in small whole records; and figures of open neutrals.

Connections and colours are North American practice (common practice, no source) unless a check names its source.
"""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from asfound.record.facts import UNSEEN, Fact, Item
from asfound.trace import Installation
from asfound_rules.neutral.opened import shared_volts
from records import panel, record_text, surveyed

PAIR = panel({"5": {"amps": 15, "leg": "L1"}, "7": {"amps": 15, "leg": "L2"}})
BOXES = {tag: {"kind": "nonmetallic", "volume": 40} for tag in ("one", "two", "three")}
TWO = "14/2 NM-B with ground"
THREE = "14/3 NM-B with ground"


def traced(folder: Path, **sections: Any) -> Installation:
    return surveyed(folder, record_text(**{"boxes": BOXES, "panels": PAIR, **sections})).installation


def words(held: Any) -> list[str]:
    """Tags or words of a fact or a list of items."""
    found = held.value if isinstance(held, Fact) else held
    return [one.tag if isinstance(one, Item) else one for one in found]


# -- open neutrals


@pytest.mark.parametrize(
    ("watts_one", "watts_two", "volts_one", "volts_two"),
    [
        pytest.param(100, 200, 160.0, 80.0, id="i-15, a published teaching example"),
        pytest.param(1200, 60, 11.43, 228.57, id="i-16"),
        pytest.param(500, 500, 120.0, 120.0, id="i-17, equal loads hide the fault"),
    ],
)
def test_loads_in_series_share_the_voltage(
    watts_one: float, watts_two: float, volts_one: float, volts_two: float
) -> None:
    """Two resistive loads across 240 V with their neutral open: circuit theory; 100 W and 200 W is an open-neutral
    teaching example, the others worked out from the same."""
    assert shared_volts(watts_one, watts_two, 240) == pytest.approx((volts_one, volts_two), abs=0.005)


def lamps(**changes: Any) -> dict[str, Any]:
    """Two lamps on two legs with one white; `changes` go into the record."""
    held: dict[str, Any] = {
        "cables": {
            "W1": {
                "type": THREE,
                "from": {"at": "A", "black": "breaker 5", "red": "breaker 7", "white": "neutral bar"},
                "to": "one",
            },
            "W2": {"type": TWO, "from": "one", "to": "two"},
            "W3": {"type": TWO, "from": "one", "to": "three"},
        },
        "joints": {
            "J1": {"at": "one", "ends": ["W1 black", "W2 black"]},
            "J2": {"at": "one", "ends": ["W1 red", "W3 black"]},
            "J3": {"at": "one", "ends": ["W1 white", "W2 white", "W3 white"]},
        },
        "devices": {
            "LT1": {"kind": "luminaire", "at": "two", "wired_to": "W2"},
            "LT2": {"kind": "luminaire", "at": "three", "wired_to": "W3"},
        },
    }
    held.update(changes)
    return held


def test_whole_neutral(tmp_path: Path) -> None:
    net = traced(tmp_path, **lamps()).item("net", "W1 white")
    assert net.data["reaches_neutral_bar"].value is True
    assert words(net.data["home_runs"]) == ["W1 white"]
    assert words(net.data["neutral_panels"]) == ["A"]
    assert words(net.data["return_poles"]) == ["A 5", "A 7"]
    assert words(net.data["live_through"]) == []
    assert net.data["untraced"].value is False


def test_open_neutral_is_live_through_its_loads(tmp_path: Path) -> None:
    house = lamps()
    house["cables"]["W1"]["to"] = {"at": "one", "white": "capped"}
    house["joints"]["J3"]["ends"] = ["W2 white", "W3 white"]
    done = traced(tmp_path, **house)
    net = done.item("net", "W2 white")
    assert net.data["reaches_neutral_bar"].value is False
    assert words(net.data["live_through"]) == ["LT1", "LT2"]
    assert words(net.data["home_runs"]) == []
    neutral = next(t for t in done.items["terminal"] if t.tag == "LT1 neutral")
    assert neutral.data["connection"].value == "live through a load"


def test_neutral_that_nobody_traced_may_reach_its_bar(tmp_path: Path) -> None:
    house = lamps()
    house["cables"]["W1"]["from"] = {"at": "A", "black": "breaker 5", "red": "breaker 7", "white": "not traced"}
    net = traced(tmp_path, **house).item("net", "W1 white")
    assert net.data["reaches_neutral_bar"].kind == UNSEEN
    assert "W1 white (from)" in net.data["reaches_neutral_bar"].note


def test_neutral_behind_a_switch_that_nobody_traced(tmp_path: Path) -> None:
    """The net itself is closed; what lies beyond its switch is not."""
    done = traced(
        tmp_path,
        cables={
            "W1": {"type": TWO, "from": "not traced", "to": "one"},
            "W2": {"type": TWO, "from": "one", "to": "two"},
        },
        joints={"J1": {"at": "one", "ends": ["W1 black", "W2 black"]}},
        devices={
            "S1": {"kind": "switch", "at": "one", "terminals": {"line": "W1 white", "load": "W2 white"}},
            "LT1": {"kind": "luminaire", "at": "two", "wired_to": "W2"},
        },
    )
    assert done.item("net", "W2 white").data["reaches_neutral_bar"].kind == UNSEEN


@pytest.mark.parametrize(
    ("devices", "reason"),
    [
        pytest.param(
            {"LT2": {"kind": {"not_seen": "painted over"}, "at": "three", "terminals": {"neutral": "W3 white"}}},
            "nobody saw what LT2 is",
            id="a device that nobody identified",
        ),
        pytest.param(
            {"LT2": {"kind": "luminaire", "at": "three", "terminals": {"hot": "W4 black", "neutral": "W3 white"}}},
            "hot of LT2 is not traced",
            id="a live side that nobody traced",
        ),
    ],
)
def test_what_returns_is_not_seen(devices: dict[str, Any], reason: str, tmp_path: Path) -> None:
    house = lamps()
    house["devices"].update(devices)
    house["cables"]["W4"] = {"type": "14", "conductors": {"black": {}}, "from": "not traced", "to": "three"}
    fact = traced(tmp_path, **house).item("net", "W1 white").data["return_poles"]
    assert (fact.kind, fact.note) == (UNSEEN, reason)


# -- a shared neutral through the terminals of a device (what hangs on it: NFPA 70 (NEC) 300.13(B))


def chain(first: Any, second: Any, **more: Any) -> dict[str, Any]:
    """Cables of three wires from the panel to box one and on to box two, and of two wires on to box three."""
    return {
        "cables": {
            "W1": {
                "type": THREE,
                "from": {"at": "A", "black": "breaker 5", "red": "breaker 7", "white": "neutral bar"},
                "to": "one",
            },
            "W2": {"type": THREE, "from": "one", "to": "two"},
            "W3": {"type": TWO, "from": "two", "to": "three"},
        },
        "joints": {
            "J1": {"at": "one", "ends": ["W1 red", "W2 red"]},
            "J2": {"at": "two", "ends": ["W2 black", "W3 black"]},
            **more,
        },
        "devices": {
            "R1": {"kind": "duplex receptacle", "at": "one", "terminals": first},
            "R2": {"kind": "duplex receptacle", "at": "two", "terminals": second},
            "R3": {"kind": "duplex receptacle", "at": "three", "wired_to": "W3"},
        },
    }


THROUGH_ONE = {"hot": ["W1 black", "W2 black"], "neutral": ["W1 white", "W2 white"]}
THROUGH_TWO = {"hot": "W2 red", "neutral": ["W2 white", "W3 white"]}


def beyond(done: Installation, tag: str) -> list[str] | None:
    found = next(t for t in done.items["terminal"] if t.tag == tag).data.get("poles_beyond")
    return None if found is None else words(found)


def test_poles_beyond_a_terminal(tmp_path: Path) -> None:
    """Beyond the first receptacle both circuits return, beyond the second only one."""
    done = traced(tmp_path, **chain(THROUGH_ONE, THROUGH_TWO))
    assert beyond(done, "R1 neutral") == ["A 5", "A 7"]
    assert beyond(done, "R2 neutral") == ["A 5"]
    assert beyond(done, "R3 neutral") is None


def test_pigtail_leaves_the_splice_whole(tmp_path: Path) -> None:
    first = {"hot": ["W1 black", "W2 black"]}
    splice = {"J9": {"at": "one", "ends": ["W1 white", "W2 white", "R1 neutral"]}}
    done = traced(tmp_path, **chain(first, THROUGH_TWO, **splice))
    assert beyond(done, "R1 neutral") is None
    assert beyond(done, "R2 neutral") == ["A 5"]


def test_second_way_back_makes_no_terminal_the_only_one(tmp_path: Path) -> None:
    """A neutral with two ways to its bar is not opened by one device."""
    house = chain(THROUGH_ONE, {"hot": "W2 red", "neutral": ["W2 white", "W3 white", "W4 white"]})
    house["cables"]["W4"] = {
        "type": "14", "conductors": {"white": {}}, "from": {"at": "A", "white": "neutral bar"}, "to": "two",
    }  # fmt: skip
    assert beyond(traced(tmp_path, **house), "R1 neutral") == []


def test_ring_of_neutrals(tmp_path: Path) -> None:
    house = chain(THROUGH_ONE, {"hot": "W2 red", "neutral": ["W2 white", "W3 white", "W4 white"]})
    house["cables"]["W4"] = {"type": "14", "conductors": {"white": {}}, "from": "one", "to": "two"}
    house["devices"]["R1"]["terminals"] = {**THROUGH_ONE, "neutral": ["W1 white", "W2 white", "W4 white"]}
    assert beyond(traced(tmp_path, **house), "R1 neutral") == []


# -- terminals


@pytest.mark.parametrize(
    ("terminal", "legs"),
    [
        pytest.param("LT1 hot", ["L1"], id="first leg"),
        pytest.param("LT2 hot", ["L2"], id="second leg"),
        pytest.param("LT1 neutral", [], id="no breaker reaches a neutral"),
    ],
)
def test_legs_that_reach_a_terminal(terminal: str, legs: list[str], tmp_path: Path) -> None:
    done = traced(tmp_path, **lamps())
    assert words(next(t for t in done.items["terminal"] if t.tag == terminal).data["legs"]) == legs


def test_legs_by_the_order_of_spaces_are_not_certain(tmp_path: Path) -> None:
    done = traced(tmp_path, **lamps(panels=panel({"5": 15, "7": 15})))
    assert next(t for t in done.items["terminal"] if t.tag == "LT1 hot").data["legs"].kind == UNSEEN


def test_each_pole_of_one_breaker_has_its_leg(tmp_path: Path) -> None:
    house = lamps(panels=panel({"5/7": 15}))
    house["cables"]["W1"]["from"] = "A 5/7"
    done = traced(tmp_path, **house)
    legs = {t.tag: words(t.data["legs"]) for t in done.items["terminal"] if t.data["name"] == "hot"}
    assert legs == {"LT1 hot": ["L1"], "LT2 hot": ["L2"]}


def test_connection_of_an_untraced_terminal_is_not_seen(tmp_path: Path) -> None:
    """Neither the screw nor the colour shows what nobody traced."""
    house = lamps()
    house["cables"]["W1"]["from"] = "not traced"
    done = traced(tmp_path, **house)
    assert {t.data["connection"].kind for t in done.items["terminal"] if t.data["name"] != "ground"} == {UNSEEN}


# -- boxes, cables, panels


def test_unidentified_are_those_somebody_gave_up_on(tmp_path: Path) -> None:
    """An end noted as not traced counts; an end that the record does not speak of does not."""
    done = traced(
        tmp_path,
        cables={
            "W1": {"type": TWO, "from": "A 5", "to": "one"},
            "W8": {
                "type": "14/2",
                "from": {"not_seen": "goes into the wall"},
                "to": {"at": "one", "black": "capped", "white": "capped"},
            },
            "W9": {"type": "14/2", "to": {"at": "one", "black": "capped", "white": "capped"}},
        },
        devices={"R1": {"kind": "duplex receptacle", "at": "one", "wired_to": "W1"}},
    )
    box = done.item("box", "one")
    assert words(box.data["unidentified"]) == ["W8 black", "W8 white"]
    assert words(box.data["known_breakers"]) == ["A 5"]


@pytest.mark.parametrize(
    ("to", "places"),
    [
        pytest.param({"at": "two", "black": "capped", "white": "capped"}, ["two"], id="capped in a box"),
        pytest.param({"at": "two", "black": "capped", "white": "loose"}, ["two"], id="its neutral is not asked for"),
        pytest.param({"at": "two", "black": "loose", "white": "capped"}, [], id="its live end is bare"),
        pytest.param({"at": "open", "black": "capped", "white": "capped"}, [], id="capped in the open"),
        pytest.param("two", [], id="the record does not say how it ends"),
        pytest.param("not traced", [], id="nobody knows where it ends"),
    ],
)
def test_cables_that_end_capped(to: Any, places: list[str], tmp_path: Path) -> None:
    done = traced(tmp_path, boxes={**BOXES, "open": "no box"}, cables={"W1": {"type": "14/2", "from": "A 5", "to": to}})
    assert words(done.item("cable", "W1").data["capped_at"]) == places


def test_one_spare_of_a_cable_in_use_is_not_the_cable(tmp_path: Path) -> None:
    house = lamps()
    house["cables"]["W1"]["to"] = {"at": "one", "red": "capped"}
    del house["joints"]["J2"]
    assert words(traced(tmp_path, **house).item("cable", "W1").data["capped_at"]) == []


def test_breakers_traced_to_the_lugs_of_a_panel(tmp_path: Path) -> None:
    feeder = {"black": "lug 1", "red": "lug 2", "white": "neutral bar"}
    done = traced(
        tmp_path,
        panels={
            "A": {"breakers": {"1/3": 40, "5/7": 40}},
            "B": {"fed_from": "A 1/3", "breakers": {"1": 15}},
            "C": {"fed_from": "supply", "breakers": {}},
        },
        cables={
            "F1": {"type": "8/3 NM-B with ground", "from": "A 1/3", "to": {"at": "B", **feeder}},
            "F2": {"type": "8/3 NM-B with ground", "from": "A 5/7", "to": {"at": "B", **feeder}},
        },
    )
    assert words(done.item("panel", "B").data["lug_breakers"]) == ["A 1/3", "A 5/7"]
    assert words(done.item("panel", "C").data["lug_breakers"]) == []
    assert done.item("panel", "C").data["fed_from"].value == "supply"
    assert "fed_from" not in done.item("panel", "A").data
    assert words(done.item("net", "F1 white").data["neutral_panels"]) == ["A", "B"]
    assert words(done.item("net", "F1 white").data["return_poles"]) == []


# -- the log


def cut(folder: Path, *entries: dict[str, Any], did: str = "cut") -> list[str] | None:
    """What the log does not show before W1 is cut or capped."""
    done = traced(
        folder,
        instruments={"t": {"type": "two-pole tester"}},
        cables={"W1": {"type": "14/2", "from": "A 5", "to": "one"}, "W2": {"type": "14/2", "from": "A 7", "to": "two"}},
        devices={
            "R1": {"kind": "duplex receptacle", "at": "one", "wired_to": "W1"},
            "R2": {"kind": "duplex receptacle", "at": "two", "wired_to": "W2"},
        },
        readings=[
            {"tag": "M1", "kind": "voltage", "between": ["A 7", "A neutral bar"], "value": "120 V", "instrument": "t",
             "known_source": True},
            {"tag": "M2", "kind": "voltage", "between": ["W1 black", "W1 white"], "value": "0 V", "instrument": "t"},
            {"tag": "M3", "kind": "voltage", "between": ["W1 black", "earth"], "value": "0 V", "instrument": "t"},
            {"tag": "M4", "kind": "voltage", "between": ["W1 white", "earth"], "value": "0 V", "instrument": "t"},
            {"tag": "M5", "kind": "voltage", "between": ["A 7", "A neutral bar"], "value": "120 V", "instrument": "t",
             "known_source": True},
        ],
        log=[*entries, {"did": did, "what": "W1"}],
    )  # fmt: skip
    found = done.items["entry"][-1].data.get("missing")
    return None if found is None else list(found.value)


OFF = {"did": "switched", "what": "A 5", "to": "off"}
LOCKED = {"did": "locked", "what": "A 5"}
TESTED = {"did": "tested", "what": "W1", "readings": ["M1", "M2", "M3", "M4", "M5"]}


def test_cut_after_live_dead_live(tmp_path: Path) -> None:
    """Live, dead, live with an instrument that touches: NFPA 70E 120.5 (standard practice)."""
    assert cut(tmp_path, OFF, LOCKED, TESTED) == []
    assert cut(tmp_path, OFF, LOCKED, TESTED, did="capped") == []


def test_off_and_not_locked_is_treated_as_live(tmp_path: Path) -> None:
    """De-energised and neither locked nor tagged counts as energised: 29 CFR 1910.333(b)(1), k-10 of the check values."""
    assert cut(tmp_path, OFF, TESTED) == ["A 5 locked or tagged"]
    assert cut(tmp_path, TESTED) == ["A 5 off"]


@pytest.mark.parametrize(
    "entries",
    [
        pytest.param((), id="nothing at all"),
        pytest.param((OFF,), id="a breaker that is off is no test"),
        pytest.param(
            (OFF, LOCKED, TESTED, {"did": "switched", "what": "A 7", "to": "off"}), id="switched after the test"
        ),
        pytest.param(
            (OFF, LOCKED, {**TESTED, "readings": ["M1", "M2", "M3", "M4"]}), id="tester not proven afterwards"
        ),
    ],
)
def test_cut_without_proof_names_what_is_missing(entries: tuple[dict[str, Any], ...], tmp_path: Path) -> None:
    assert cut(tmp_path, *entries)


def test_only_work_on_conductors_is_asked(tmp_path: Path) -> None:
    assert cut(tmp_path, did="labelled") is None
    assert cut(tmp_path, did="capped") is not None
