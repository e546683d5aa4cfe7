"""What labels and the panel directory say, set beside the trace: whole small records through the public ways."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from asfound.record.facts import EXACT, UNSEEN, WEAK, Fact, Item
from records import panel, record_text, surveyed

TWO = panel({"3": {"amps": 15, "leg": "L1"}, "5/7": {"amps": 30}})
CABLES = {
    "W1": {"type": "14/2 NM-B with ground", "from": "A 3", "to": "hall"},
    "W2": {"type": "10/2 NM-B with ground", "from": "A 5/7", "to": "H1"},
    "W3": {"type": "14/2 NM-B with ground", "from": "not traced", "to": "hall"},
}
HOUSE: dict[str, Any] = {
    "panels": TWO,
    "cables": CABLES,
    "boxes": {"hall": {"kind": "nonmetallic", "volume": 30}},
    "devices": {
        "R1": {"kind": "duplex receptacle", "at": "hall", "wired_to": "W1"},
        "H1": {"kind": "heater", "where": "hall", "terminals": {"hot": "W2 black", "hot_2": "W2 white"}},
    },
}


def label(folder: Path, says: str, on: str = "W1", **sections: Any) -> Item:
    """The one label of a record."""
    about = sections.pop("about", {"found": True})
    text = record_text(**{**HOUSE, **sections, "labels": [{"on": on, "says": says, **about}]})
    (found,) = surveyed(folder, text).installation.items["label"]
    return found


def tags(fact: Any) -> list[str]:
    held = fact.value if isinstance(fact, Fact) else fact
    return [item.tag for item in held]


# -- which breaker a label names (how people write it: common practice, no source)


@pytest.mark.parametrize(
    ("says", "named"),
    [
        pytest.param("A 3", ["A 3"], id="tag"),
        pytest.param("hall, A 3.", ["A 3"], id="tag among other words"),
        pytest.param("A3 hall", ["A 3"], id="tag without a blank"),
        pytest.param("A-3", ["A 3"], id="tag with a dash"),
        pytest.param("heater A 5/7", ["A 5/7"], id="both poles"),
        pytest.param("heater A 7", ["A 5/7"], id="one pole of two"),
        pytest.param("circuit 3", ["A 3"], id="number of the circuit in a record of one panel"),
        pytest.param("#3", ["A 3"], id="number sign"),
        pytest.param("ckt 5/7 or breaker 3", ["A 5/7", "A 3"], id="two of them"),
        pytest.param("3", [], id="a bare number may be anything"),
        pytest.param("circuit 9", [], id="no such breaker"),
        pytest.param("hall lights", [], id="a room"),
        pytest.param("VA 3", [], id="end of another word"),
        pytest.param("A 31", [], id="longer number"),
        pytest.param("circuit 31", [], id="longer number of a circuit"),
    ],
)
def test_breakers_a_label_names(says: str, named: list[str], tmp_path: Path) -> None:
    assert tags(label(tmp_path, says).data["names_breakers"]) == named


def test_number_alone_names_nothing_where_there_are_two_panels(tmp_path: Path) -> None:
    panels = {**TWO, "B": {"fed_from": "A 5/7", "breakers": {"3": 15}}}
    found = label(
        tmp_path, "circuit 3", panels=panels, cables={"W1": CABLES["W1"]}, devices={"R1": HOUSE["devices"]["R1"]}
    )
    assert tags(found.data["names_breakers"]) == []


def test_panel_tag_of_several_words(tmp_path: Path) -> None:
    panels = {"shed panel": {"breakers": {"3": 15}}}
    cables = {"W1": {"type": "14/2 NM-B with ground", "from": "shed panel 3", "to": "hall"}}
    found = label(tmp_path, "see shed panel 3", panels=panels, cables=cables, devices={})
    assert tags(found.data["names_breakers"]) == ["shed panel 3"]


# -- what a label says of being dead


@pytest.mark.parametrize(
    ("says", "dead", "off"),
    [
        pytest.param("DEAD", True, False, id="dead"),
        pytest.param("dead - old heater", True, False, id="dead with more"),
        pytest.param("abandoned 1994", True, False, id="abandoned"),
        pytest.param("disconnected at panel", True, False, id="disconnected"),
        pytest.param("de-energized", True, False, id="American spelling"),
        pytest.param("not in use", True, False, id="not in use"),
        pytest.param("proven dead 4 May", True, False, id="proven dead"),
        pytest.param("NOT DEAD", False, False, id="not dead"),
        pytest.param("not proven dead", False, False, id="not proven dead"),
        pytest.param("prove dead before touching", False, False, id="an order to test"),
        pytest.param("treat as live until dead", False, False, id="until"),
        pytest.param("dead end box", False, False, id="dead end"),
        pytest.param("off", False, True, id="off"),
        pytest.param("breaker off", False, True, id="breaker off"),
        pytest.param("this is off for now", False, True, id="is off"),
        pytest.param("switch off A 3 first", False, False, id="an order to switch off"),
        pytest.param("office", False, False, id="beginning of a word"),
        pytest.param("bedroom", False, False, id="a room"),
    ],
)
def test_what_counts_as_dead_or_off(says: str, dead: bool, off: bool, tmp_path: Path) -> None:
    found = label(tmp_path, says)
    assert (found.data["names_dead"].value, found.data["names_off"].value) == (dead, off)


# -- what it is on, and what feeds that


@pytest.mark.parametrize(
    ("on", "kind", "feeds"),
    [
        pytest.param("W1", "cable", ["A 3"], id="cable"),
        pytest.param("W1 black", "conductor", ["A 3"], id="live conductor"),
        pytest.param("W1 white", "conductor", [], id="neutral, which no breaker feeds"),
        pytest.param("H1", "device", ["A 5/7"], id="device"),
        pytest.param("A 3", "breaker", None, id="breaker"),
        pytest.param("A 7", "breaker", None, id="one pole of a breaker"),
        pytest.param("A", "panel", None, id="panel"),
        pytest.param("R1 hot", "other", None, id="terminal"),
        pytest.param("W3", "cable", None, id="cable nobody traced"),
    ],
)
def test_what_a_label_is_on(on: str, kind: str, feeds: list[str] | None, tmp_path: Path) -> None:
    found = label(tmp_path, "bedroom", on)
    assert found.data["on_kind"].value == kind
    fed = found.data["fed_by"]
    assert (None if fed.kind == UNSEEN else tags(fed)) == feeds


def test_a_label_on_a_splice_goes_by_its_conductors(tmp_path: Path) -> None:
    joints = {"J1": {"at": "hall", "ends": ["W1 black", "R1 hot"]}}
    devices = {"R1": {"kind": "duplex receptacle", "at": "hall"}}
    found = label(tmp_path, "A 3", "J1", joints=joints, devices=devices, cables={"W1": CABLES["W1"]})
    assert found.data["on_kind"].value == "joint"
    assert tags(found.data["fed_by"]) == ["A 3"]


# -- readings against a label


def reading(between: list[str], value: str, at: str = "2025-05-05 10:00") -> dict[str, Any]:
    return {"tag": "M1", "at": at, "kind": "voltage", "between": between, "value": value}


@pytest.mark.parametrize(
    ("one", "counts"),
    [
        pytest.param(reading(["W1 black", "earth"], "120 V"), True, id="to earth"),
        pytest.param(reading(["W1 black", "W1 white"], "50 V"), True, id="across the cable, at the 50 V line"),
        pytest.param(reading(["W1 black", "W1 white"], "49.9 V"), False, id="below the 50 V line"),
        pytest.param(reading(["W1 black", "A neutral bar"], "120 V"), True, id="to a bar"),
        pytest.param(reading(["A ground bar", "W1 black"], "120 V"), True, id="the other way round"),
        pytest.param(reading(["W1 black", "hall box"], "120 V"), True, id="to a box"),
        pytest.param(reading(["W1 black", "W3 black"], "120 V"), False, id="against another cable either may be live"),
        pytest.param(reading(["W2 black", "earth"], "120 V"), False, id="another cable"),
        pytest.param(reading(["W1 white", "W2 black"], "120 V"), False, id="its neutral against another cable"),
        pytest.param({"kind": "non-contact", "between": ["W1 black"], "value": "signal"}, False, id="one point only"),
    ],
)
def test_readings_that_show_it_live(one: dict[str, Any], counts: bool, tmp_path: Path) -> None:
    """50 V: the line of 29 CFR 1910.333(a)(1) below which parts need not be de-energised."""
    assert bool(label(tmp_path, "dead", readings=[one]).data["live_readings"]) == counts


@pytest.mark.parametrize(
    ("about", "at", "counts"),
    [
        pytest.param({"found": True}, "2025-05-05 07:00", True, id="label was there before the visit"),
        pytest.param({"at": "2025-05-05 09:00"}, "2025-05-05 08:59", False, id="read before it was put on"),
        pytest.param({"at": "2025-05-05 09:00"}, "2025-05-05 09:00", True, id="read in the same minute"),
        pytest.param({"at": "09:00"}, "2025-05-05 10:00", True, id="time alone, on the day of the only visit"),
        pytest.param({"found": False}, "2025-05-05 10:00", False, id="nobody knows when it was put on"),
    ],
)
def test_readings_count_from_the_label_on(about: dict[str, Any], at: str, counts: bool, tmp_path: Path) -> None:
    one = reading(["W1 black", "earth"], "120 V", at)
    assert bool(label(tmp_path, "dead", readings=[one], about=about).data["live_readings"]) == counts


def test_time_alone_on_one_of_two_visits_is_no_date(tmp_path: Path) -> None:
    visits = {"V1": {"on": "2025-05-05", "by": "A"}, "V2": {"on": "2025-06-05", "by": "A"}}
    one = reading(["W1 black", "earth"], "120 V", "2025-06-05 10:00")
    found = label(tmp_path, "dead", readings=[one], visits=visits, about={"at": "09:00"})
    assert found.data["live_readings"] == ()
    found = label(tmp_path, "dead", readings=[one], visits=visits, about={"at": "09:00", "visit": "V1"})
    assert [held.tag for held in found.data["live_readings"]] == ["M1"]


# -- the directory (common practice, no source; NFPA 70 (NEC) 408.4(A) asks for a specific purpose)


def directory(folder: Path, entry: Any, **devices: Any) -> Fact | None:
    """`named_elsewhere` of breaker A 1; A 3 feeds a range, bathroom and cellar receptacles hang on A 5."""
    text = record_text(
        panels=panel({"1": {"amps": 15, "label": entry}, "3": {"amps": 40}, "5": {"amps": 15}}),
        cables={
            "W1": {"type": "14/2 NM-B with ground", "from": "A 1", "to": "one"},
            "W3": {"type": "8/2 NM-B with ground", "from": "A 3", "to": "RG"},
            "W5": {"type": "14/2 NM-B with ground", "from": "A 5", "to": "five"},
        },
        boxes={
            "one": {"kind": "nonmetallic", "room": "hall"},
            "five": {"kind": "nonmetallic", "room": "bathroom"},
        },
        devices={
            "R1": {"kind": "duplex receptacle", "at": "one", "wired_to": "W1"},
            "RG": {"kind": "range", "where": "kitchen", "wired_to": "W3"},
            "R5": {"kind": "duplex receptacle", "at": "five", "wired_to": "W5"},
            **devices,
        },
    )
    done = surveyed(folder, text).installation
    return done.item("breaker", "A 1").data.get("named_elsewhere")


@pytest.mark.parametrize(
    ("entry", "elsewhere"),
    [
        pytest.param("range", ["RG"], id="an appliance on another breaker"),
        pytest.param("Range & oven", ["RG"], id="in capitals with more"),
        pytest.param("STOVE", ["RG"], id="another word for it"),
        pytest.param("range hood", None, id="a hood is no range"),
        pytest.param("range fan", None, id="a fan is no range"),
        pytest.param("arrange", None, id="part of a word"),
        pytest.param("bathroom", ["R5"], id="a room on another breaker"),
        pytest.param("bath heater", ["R5"], id="short word for a room"),
        pytest.param("garage", None, id="no device in such a room"),
        pytest.param("dryer", None, id="no such appliance anywhere"),
        pytest.param("hall", None, id="a room that is not among the plain ones"),
        pytest.param("upstairs", None, id="says too little"),
    ],
)
def test_what_an_entry_names_elsewhere(entry: str, elsewhere: list[str] | None, tmp_path: Path) -> None:
    found = directory(tmp_path, entry)
    assert (None if found is None else tags(found)) == elsewhere


def test_entry_that_fits_one_of_its_devices_is_no_contradiction(tmp_path: Path) -> None:
    """Kitchen and bathroom: something in one of them is enough."""
    here = {"kind": "lampholder", "where": "bathroom", "room": "bathroom", "terminals": {}}
    assert directory(tmp_path, "bathroom", L1=here) is not None
    text = {"kind": "duplex receptacle", "at": "one", "room": "bathroom", "wired_to": "W1"}
    assert directory(tmp_path, "range and bathroom", R1=text) is None


def test_entry_weakly_known_stays_weak(tmp_path: Path) -> None:
    found = directory(tmp_path, {"is": "range", "how": "told"})
    assert found is not None
    assert found.kind == WEAK


def test_room_not_recorded_on_the_circuit_leaves_it_open(tmp_path: Path) -> None:
    """A device whose room nobody noted may be the one that the entry means."""
    one = {"kind": "fan", "where": "somewhere", "terminals": {}}
    assert directory(tmp_path, "bathroom", F1=one) is not None
    open_one = {"R1": {"kind": "fan", "where": "somewhere", "wired_to": "W1"}}
    text = record_text(
        panels=panel({"1": {"amps": 15, "label": "bathroom"}, "5": 15}),
        cables={
            "W1": {"type": "14/2 NM-B with ground", "from": "A 1", "to": "R1"},
            "W5": {"type": "14/2 NM-B with ground", "from": "A 5", "to": "five"},
        },
        boxes={"five": {"kind": "nonmetallic", "room": "bathroom"}},
        devices={**open_one, "R5": {"kind": "duplex receptacle", "at": "five", "wired_to": "W5"}},
    )
    found = surveyed(tmp_path, text).installation.item("breaker", "A 1").data["named_elsewhere"]
    assert found.kind == UNSEEN
    assert found.note.startswith("room of R1")


def test_wiring_that_goes_on_leaves_it_open(tmp_path: Path) -> None:
    """What is not traced to its end may lead to what the entry means."""
    text = record_text(
        panels=panel({"1": {"amps": 15, "label": "range"}, "3": 40}),
        cables={
            "W1": {"type": "14/2 NM-B with ground", "from": "A 1", "to": "one"},
            "W2": {"type": "14/2 NM-B with ground", "from": "one", "to": "not traced"},
            "W3": {"type": "8/2 NM-B with ground", "from": "A 3", "to": "RG"},
        },
        boxes={"one": {"kind": "nonmetallic", "room": "hall"}},
        joints={"J1": {"at": "one", "ends": ["W1 black", "W2 black", "R1 hot"]}},
        devices={
            "R1": {"kind": "duplex receptacle", "at": "one"},
            "RG": {"kind": "range", "where": "kitchen", "wired_to": "W3"},
        },
    )
    found = surveyed(tmp_path, text).installation.item("breaker", "A 1").data["named_elsewhere"]
    assert found.kind == UNSEEN
    assert "not traced to its end" in found.note


def test_appliance_that_nobody_traced_leaves_it_open(tmp_path: Path) -> None:
    """The untraced range may be the one."""
    lost = {"kind": "range", "where": "shed", "terminals": {"hot": "W9 black"}}
    text = record_text(
        panels=panel({"1": {"amps": 15, "label": "range"}, "3": 40}),
        cables={
            "W1": {"type": "14/2 NM-B with ground", "from": "A 1", "to": "one"},
            "W3": {"type": "8/2 NM-B with ground", "from": "A 3", "to": "RG"},
            "W9": {"type": "8/2 NM-B with ground", "from": "not traced", "to": "R9"},
        },
        boxes={"one": {"kind": "nonmetallic", "room": "hall"}},
        devices={
            "R1": {"kind": "duplex receptacle", "at": "one", "wired_to": "W1"},
            "RG": {"kind": "range", "where": "kitchen", "wired_to": "W3"},
            "R9": lost,
        },
    )
    found = surveyed(tmp_path, text).installation.item("breaker", "A 1").data["named_elsewhere"]
    assert found.kind == UNSEEN
    assert "R9" in found.note


def test_breaker_that_feeds_a_panel_is_not_held_against_rooms(tmp_path: Path) -> None:
    text = record_text(
        panels={
            "A": {"breakers": {"1/3": {"amps": 40, "label": "bathroom panel"}, "5": 15}},
            "B": {"fed_from": "A 1/3", "breakers": {"1": 15}},
        },
        cables={"W5": {"type": "14/2 NM-B with ground", "from": "A 5", "to": "five"}},
        boxes={"five": {"kind": "nonmetallic", "room": "bathroom"}},
        devices={"R5": {"kind": "duplex receptacle", "at": "five", "wired_to": "W5"}},
    )
    breaker = surveyed(tmp_path, text).installation.item("breaker", "A 1/3")
    assert "named_elsewhere" not in breaker.data


def test_exact_where_everything_is_traced(tmp_path: Path) -> None:
    found = directory(tmp_path, "range")
    assert found is not None
    assert found.kind == EXACT
