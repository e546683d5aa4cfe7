"""Legs of breakers by measurement. Full voltage between two: different legs; none, both live: one leg.

Circuit theory; i-09 and i-10 of the check values (NFPA 70 Article 100, multiwire branch circuit, from memory).
"""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from records import record_text, surveyed

A1 = {"amps": 15, "leg": "L1", "state": "on"}
ON = {"amps": 15, "state": "on"}
LIVE = ["A 1", "A neutral bar", "120 V"], ["A 9", "A neutral bar", "120 V"]


def leg(
    folder: Path, *readings: Any, other: Any = 15, turned: str = "", **sections: Any
) -> tuple[str, tuple[Any, ...]]:
    """Kind and values of the leg of A 9, whose place in the panel makes it L1 or L2 by guess."""
    held = [
        {"tag": f"M{number}", "kind": "voltage", "between": between, "value": value, "instrument": "t"}
        for number, (*between, value) in enumerate(readings)
    ]
    log: list[dict[str, Any]] = [{"did": "tested", "what": "A", "readings": [one["tag"]]} for one in held]
    if turned:
        log.insert(-1, {"did": "switched", "what": turned, "to": "off"})
    done = surveyed(folder, record_text(**{
        "instruments": {"t": {"type": "two-pole tester"}}, "readings": held, "log": log,
        "panels": {"A": {"breakers": {"1": A1, "9": other, "11": 15}}}, **sections,
    })).installation  # fmt: skip
    fact = done.item("breaker", "A 9").data["legs"]
    return fact.kind, fact.values


@pytest.mark.parametrize(
    ("readings", "expected"),
    [
        pytest.param([["A 1", "A 9", "240 V"]], "L2", id="240 V to a breaker on L1 (i-09)"),
        pytest.param([*LIVE, ["A 1", "A 9", "0.3 V"]], "L1", id="none, both read live (i-10)"),
        pytest.param([["A 11", "A 9", "0.2 V"], ["A 11", "A neutral bar", "120 V"], ["A 9", "earth", "121 V"], ["A 1", "A 11", "241 V"]],
                     "L2", id="by way of a third breaker"),
    ],
)  # fmt: skip
def test_leg_that_readings_show(readings: Any, expected: str, tmp_path: Path) -> None:
    assert leg(tmp_path, *readings) == ("exact", ((expected,),))


def test_both_on_by_the_record(tmp_path: Path) -> None:
    assert leg(tmp_path, ["A 1", "A 9", "0.3 V"], other=ON) == ("exact", (("L1",),))


@pytest.mark.parametrize(
    ("readings", "more"),
    [
        pytest.param([["A 1", "A 9", "0.3 V"]], {}, id="none, and nobody knows that both were live"),
        pytest.param([LIVE[0], ["A 1", "A 9", "0.3 V"]], {}, id="only one of them known to be live"),
        pytest.param([*LIVE, ["A 1", "A 9", "0.3 V"]], {"turned": "A 9"}, id="one switched off in between"),
        pytest.param([["A 1", "A neutral bar", "120 V"], ["A 9", "A neutral bar", "120 V"], ["A 1", "A 9", "0.3 V"]],
                     {"other": {"amps": 15, "state": "off"}}, id="live behind a breaker that is off"),
        pytest.param([["A 1", "A 9", "120 V"]], {}, id="neither one nor the other"),
        pytest.param([["A 1", "A 9", "208 V"]], {"supply": "208Y/120"}, id="three legs"),
        pytest.param([["A 11", "A 9", "240 V"]], {}, id="no leg known to start from"),
        pytest.param([["A 1", "A 9", "240 V"], *LIVE, ["A 1", "A 9", "0.1 V"]], {}, id="against each other"),
    ],
)  # fmt: skip
def test_readings_that_show_no_leg(readings: Any, more: dict[str, Any], tmp_path: Path) -> None:
    """The place in the panel stays a guess."""
    kind, _ = leg(tmp_path, *readings, **more)
    assert kind != "exact"
