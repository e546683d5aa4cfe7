"""Small invented circuits with readings taken at them, for the tests of the diagnosis. Public ways only."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import yaml

from asfound.diagnose import Diagnosis, Fit, diagnose
from asfound.load import load_file
from asfound.survey import read_record
from asfound.trace import Installation, trace
from records import record_text

LOW, HIGH = "low-Z", "meter"
INSTRUMENTS = {
    LOW: {"type": "low-impedance meter"},
    HIGH: {"type": "multimeter"},
    "pen": {"type": "non-contact tester"},
}
CHECKS: dict[str, dict[str, Any]] = {
    entry["id"]: entry
    for entry in yaml.safe_load(
        (Path(__file__).parents[1] / "fixtures" / "check_values_catalogue.yaml").read_text(encoding="utf-8")
    )
}
"""The published figures, each with its source."""

PAIR = {"A": {"breakers": {"3": {"amps": 15, "leg": "L1"}, "5": {"amps": 15, "leg": "L2"}}}}
RECEPTACLE: dict[str, Any] = {
    "panels": PAIR,
    "cables": {"W1": {"type": "14/2 NM-B with ground", "from": "A 3", "to": "hall"}},
    "boxes": {"hall": {"kind": "nonmetallic", "volume": 20}},
    "devices": {"R1": {"kind": "duplex receptacle", "at": "hall", "wired_to": "W1", "plugged_amps": 4}},
}
"""One receptacle on breaker A 3, wired as it should be; what is plugged in takes 4 A."""


def reading(tag: str, one: str, two: str, value: Any, instrument: str = LOW, **more: Any) -> dict[str, Any]:
    """One reading: a bare number is volts; a text with ohm, OL, open or closed is a resistance."""
    text = f"{value} V" if isinstance(value, int | float) else str(value)
    kind = "voltage" if text.endswith("V") else "continuity" if text in ("open", "closed") else "resistance"
    return {"tag": tag, "kind": kind, "between": [one, two], "value": text, "instrument": instrument, **more}


def three(hot_neutral: Any, hot_ground: Any, neutral_ground: Any, instrument: str = LOW) -> list[dict[str, Any]]:
    """The three readings at receptacle R1."""
    return [
        reading("LN", "R1 hot", "R1 neutral", hot_neutral, instrument),
        reading("LG", "R1 hot", "R1 ground", hot_ground, instrument),
        reading("NG", "R1 neutral", "R1 ground", neutral_ground, instrument),
    ]


def traced(folder: Path, readings: list[dict[str, Any]], **sections: Any) -> Installation:
    """The traced record of these sections and readings."""
    file = folder / "record.yaml"
    held = {**RECEPTACLE, "instruments": INSTRUMENTS, **sections, "readings": readings}
    file.write_text(record_text(**held), encoding="utf-8")
    return trace(read_record(load_file(file)))


def all_found(folder: Path, readings: list[dict[str, Any]], **sections: Any) -> list[Diagnosis]:
    """Every diagnosis of these readings."""
    return diagnose(traced(folder, readings, **sections))


def found(folder: Path, readings: list[dict[str, Any]], **sections: Any) -> Diagnosis:
    """The one diagnosis of these readings."""
    (one,) = all_found(folder, readings, **sections)
    return one


def names(one: Diagnosis) -> set[str]:
    """The names of what fits."""
    return {fit.name for fit in one.fits}


def fit(one: Diagnosis, name: str) -> Fit:
    """The fit of this name. Fails when it is not among them."""
    held = {fit.name: fit for fit in one.fits}
    assert name in held, f"{name} is not among {sorted(held)}"
    return held[name]
