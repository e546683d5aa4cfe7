"""Between what readings were taken, and which breakers the log had off at the time, in small whole records.

Reading a log in order and within one visit is common practice, no source.
"""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from asfound.record.facts import Item
from records import panel, record_text, surveyed

OFF = {"did": "switched", "what": "A 3", "to": "off"}
ON = {"did": "switched", "what": "A 3", "to": "on"}
TESTED = {"did": "tested", "what": "W1", "readings": ["M1"]}


def reading(folder: Path, between: list[str], *log: dict[str, Any], **sections: Any) -> Item:
    """The one reading of a record: W1 on A 3 feeds R1, W2 on A 5 feeds a switch and a lamp, W9 is not traced."""
    about = sections.pop("about", {})
    text = record_text(
        **{
            "panels": panel({"3": {"amps": 15, "leg": "L1"}, "5": {"amps": 15, "leg": "L2"}}),
            "cables": {
                "W1": {"type": "14/2 NM-B with ground", "from": "A 3", "to": "one"},
                "W2": {"type": "14/2 NM-B with ground", "from": "A 5", "to": "two"},
                "W3": {"type": "14/2 NM-B with ground", "from": "two", "to": "LT1"},
                "W9": {"type": "14/2 NM-B with ground", "from": "not traced", "to": "R9"},
            },
            "boxes": {"one": {"kind": "nonmetallic"}, "two": {"kind": "square 4 x 2-1/8"}},
            "joints": {
                "J1": {"at": "two", "ends": ["W2 white", "W3 white"]},
                "J2": {"at": "two", "ends": ["W2 bare", "W3 bare", "box"]},
            },
            "devices": {
                "R1": {"kind": "duplex receptacle", "at": "one", "wired_to": "W1"},
                "S1": {"kind": "switch", "at": "two", "terminals": {"line": "W2 black", "load": "W3 black"}},
                "LT1": {"kind": "luminaire", "where": "hall", "wired_to": "W3"},
                "R9": {"kind": "duplex receptacle", "where": "attic", "wired_to": "W9"},
            },
            "readings": [{"tag": "M1", "kind": "voltage", "between": between, "value": "120 V", **about}],
            "log": list(log),
            **sections,
        }
    )
    (found,) = surveyed(folder, text).installation.items["reading"]
    return found


@pytest.mark.parametrize(
    ("between", "does"),
    [
        pytest.param(["A 3", "A neutral bar"], True, id="breaker and bar"),
        pytest.param(["A neutral bar", "A 3"], True, id="the other way round"),
        pytest.param(["W1 black", "W1 white"], True, id="conductors of a cable"),
        pytest.param(["R1 hot", "R1 neutral"], True, id="terminals of a receptacle"),
        pytest.param(["W3 black", "W3 white"], True, id="switched conductor and neutral"),
        pytest.param(["A 3", "A 5"], False, id="two breakers"),
        pytest.param(["A 3", "A ground bar"], False, id="breaker and ground bar"),
        pytest.param(["W1 black", "earth"], False, id="to earth"),
        pytest.param(["W1 black", "W1 bare"], False, id="to the grounding conductor"),
        pytest.param(["W9 black", "W9 white"], False, id="a cable that nobody traced"),
        pytest.param(["W1 white", "A neutral bar"], False, id="neutral and bar"),
        pytest.param(["R1 hot_2", "R1 neutral"], False, id="a terminal without a wire"),
    ],
)
def test_between_live_and_neutral(between: list[str], does: bool, tmp_path: Path) -> None:
    assert reading(tmp_path, between).data["live_to_neutral"].value is does


def test_neutral_that_is_open_is_no_neutral(tmp_path: Path) -> None:
    """What is live through a load cannot serve as the other point."""
    cables = {"W1": {"type": "14/2 NM-B with ground", "from": {"at": "A 3", "white": "capped"}, "to": "one"}}
    devices = {"R1": {"kind": "duplex receptacle", "at": "one", "wired_to": "W1"}}
    found = reading(tmp_path, ["W1 black", "W1 white"], cables=cables, devices=devices, joints={})
    assert found.data["live_to_neutral"].value is False


@pytest.mark.parametrize(
    ("between", "log", "off"),
    [
        pytest.param(["W1 black", "earth"], (OFF, TESTED), ["A 3"], id="switched off before"),
        pytest.param(["A 3", "A neutral bar"], (OFF, TESTED), ["A 3"], id="at the breaker itself"),
        pytest.param(["R1 hot", "R1 ground"], (OFF, TESTED), ["A 3"], id="at the receptacle"),
        pytest.param(["W1 black", "W1 white"], (OFF, TESTED), ["A 3"], id="to its neutral"),
        pytest.param(["W1 black", "two box"], (OFF, TESTED), ["A 3"], id="to a metal box"),
        pytest.param(["W1 black", "earth"], (TESTED, OFF), [], id="switched off afterwards"),
        pytest.param(["W1 black", "earth"], (OFF, ON, TESTED), [], id="switched on again"),
        pytest.param(["W1 black", "earth"], ({**OFF, "what": "A 5"}, TESTED), [], id="another breaker"),
        pytest.param(["W1 black", "earth"], ({**OFF, "to": "OFF"}, TESTED), ["A 3"], id="in capitals"),
        pytest.param(["W1 black", "earth"], ({**OFF, "what": ["A 5", "A 3"]}, TESTED), ["A 3"], id="two at a time"),
        pytest.param(["W1 black", "earth"], (TESTED,), [], id="nothing switched"),
        pytest.param(["W1 black", "earth"], (OFF,), [], id="reading not named in the log"),
        pytest.param(["W1 black", "W2 black"], (OFF, TESTED), [], id="between two live conductors"),
        pytest.param(["W1 white", "earth"], (OFF, TESTED), [], id="neutral to earth"),
        pytest.param(["W9 black", "earth"], (OFF, TESTED), [], id="a cable that nobody traced"),
        pytest.param(["W1 black"], (OFF, TESTED), [], id="one point only"),
    ],
)
def test_breakers_off_at_the_time(between: list[str], log: Any, off: list[str], tmp_path: Path) -> None:
    assert [breaker.tag for breaker in reading(tmp_path, between, *log).data["off_then"]] == off


def test_known_source_is_no_surprise(tmp_path: Path) -> None:
    found = reading(tmp_path, ["W1 black", "earth"], OFF, TESTED, about={"known_source": True})
    assert found.data["off_then"] == ()


def test_off_counts_within_one_visit(tmp_path: Path) -> None:
    """Between two visits anyone may have switched it on."""
    visits = {"V1": {"on": "2025-05-05", "by": "A"}, "V2": {"on": "2025-05-06", "by": "A"}}
    log = ({**OFF, "visit": "V1"}, {**TESTED, "visit": "V2"})
    assert reading(tmp_path, ["W1 black", "earth"], *log, visits=visits).data["off_then"] == ()


def test_every_breaker_that_feeds_it_has_to_be_off(tmp_path: Path) -> None:
    joints = {"J1": {"at": "one", "ends": ["W1 black", "W2 black", "R1 hot"]}}
    cables = {
        "W1": {"type": "14/2 NM-B with ground", "from": "A 3", "to": "one"},
        "W2": {"type": "14/2 NM-B with ground", "from": "A 5", "to": "one"},
    }
    more: dict[str, Any] = {
        "joints": joints, "cables": cables, "devices": {"R1": {"kind": "duplex receptacle", "at": "one"}},
    }  # fmt: skip
    one = reading(tmp_path, ["W1 black", "earth"], OFF, TESTED, **more)
    assert one.data["off_then"] == ()
    both = reading(tmp_path, ["W1 black", "earth"], OFF, {**OFF, "what": "A 5"}, TESTED, **more)
    assert {breaker.tag for breaker in both.data["off_then"]} == {"A 3", "A 5"}
