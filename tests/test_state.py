"""How every conductor stood at every step: live, proven dead, or treat as live.

The order of proof is of NFPA 70E 120.5 (standard practice); treat as energised
what is neither locked nor tagged: 29 CFR 1910.333(b)(1). Check values k-04 to
k-07 and k-10.
"""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

import houses
from asfound.data import data
from asfound.load import load_bytes
from asfound.survey import read_record
from asfound.trace import Installation, trace
from asfound.trace.state import DEAD, LIVE, TREAT
from records import record_text, surveyed

STEPS: dict[str, dict[str, Any]] = {
    "off": {"did": "switched", "what": "A 3", "to": "off"},
    "on": {"did": "switched", "what": "A 3", "to": "on"},
    "lock": {"did": "locked", "what": "A 3"},
    "tag": {"did": "tagged", "what": "A 3"},
    "other off": {"did": "switched", "what": "A 5", "to": "off"},
    "main off": {"did": "switched", "what": "A", "to": "off"},
    "main lock": {"did": "locked", "what": "A"},
    "lamp": {"did": "switched", "what": "S1", "to": "off"},
    "K": {"did": "tested", "what": "A 5", "readings": ["K"]},
    "K2": {"did": "tested", "what": "A 5", "readings": ["K2"]},
    "T": {"did": "tested", "what": "W1", "readings": ["bn", "bg", "ng"]},
    "hot": {"did": "tested", "what": "W1", "readings": ["hot"]},
    "T2": {"did": "tested", "what": "W2", "readings": ["bn2", "bg2", "ng2"]},
    "pen": {"did": "tested", "what": "W1", "readings": ["pen"]},
    "next day": {"did": "opened", "what": "one", "visit": "V2"},
}
READINGS = {
    "K": ["A 5", "A neutral bar", "121 V"], "K2": ["A 5", "A neutral bar", "121 V"], "bn": ["W1 black", "W1 white", "0 V"], "bg": ["W1 black", "W1 bare", "0 V"],
    "ng": ["W1 white", "W1 bare", "0 V"], "hot": ["W1 black", "earth", "120 V"], "bn2": ["W2 black", "W2 white", "0 V"],
    "bg2": ["W2 black", "W2 bare", "0 V"], "ng2": ["W2 white", "W2 bare", "0 V"],
}  # fmt: skip


def log(steps: str, folder: Path, **more: Any) -> Installation:
    """Two cables on one breaker, a switch somewhere, and the log of these steps, by their names and commas."""
    readings: list[dict[str, Any]] = [
        {"tag": tag, "kind": "voltage", "between": between, "value": value, "instrument": "t",
         **({"known_source": True} if tag[0] == "K" else {})}
        for tag, (*between, value) in READINGS.items()
    ]  # fmt: skip
    readings.append({"tag": "pen", "kind": "non-contact", "between": ["W1 black"], "value": "silent"})
    entries = (
        [json.loads(json.dumps({"visit": "V1", **STEPS[name.strip()]})) for name in steps.split(",")] if steps else []
    )
    later = [index for index, entry in enumerate(entries) if entry["visit"] == "V2"]
    for entry in entries[later[0] :] if later else ():
        entry["visit"] = "V2"
    sections: dict[str, Any] = {
        "visits": {"V1": {"on": "2025-05-05", "by": "A. Example"}, "V2": {"on": "2025-05-06", "by": "A. Example"}},
        "seen_on": "V1",
        "instruments": {"t": {"type": "two-pole tester"}},
        "panels": {"A": {"breakers": {"3": 15, "5": 15}}},
        "cables": {
            "W1": {"type": "14/2 with ground", "from": "A 3", "to": "one"},
            "W2": {"type": "14/2 with ground", "from": "one", "to": "two"},
        },
        "boxes": {"one": "nonmetallic", "two": "nonmetallic"},
        "joints": {f"J{c}": {"at": "one", "ends": [f"W1 {c}", f"W2 {c}"]} for c in ("black", "white", "bare")},
        "devices": {
            "R1": {"kind": "duplex receptacle", "at": "two", "wired_to": "W2"},
            "S1": {"kind": "switch", "where": "far away"},
        },
        "readings": readings,
        "log": entries,
    }
    sections.update(more)
    return surveyed(folder, record_text(**sections)).installation


def word(done: Installation, conductor: str = "W1 black") -> str:
    return str(done.item("conductor", conductor).data["state"].value)


PROOF = "off, lock, K, T, K2"


@pytest.mark.parametrize(
    ("steps", "expected", "because"),
    [
        pytest.param("", TREAT, "nothing in the log", id="nobody tested it"),
        pytest.param(PROOF, DEAD, "W1", id="off, locked, live-dead-live (k-04)"),
        pytest.param("off, tag, K, T, K2", DEAD, "W1", id="tagged instead of locked"),
        pytest.param("off, K, T, K2, lock", DEAD, "W1", id="locked after the test"),
        pytest.param("main off, main lock, K, T, K2", DEAD, "W1", id="off at the main"),
        pytest.param("off, K, T, K2", TREAT, "A 3 locked or tagged", id="neither locked nor tagged (k-10)"),
        pytest.param("K, T, K2", TREAT, "A 3 off", id="tested and never switched off"),
        pytest.param("off, lock", TREAT, "nothing in the log", id="a breaker position is no test (k-06)"),
        pytest.param("off, lock, pen", TREAT, "nothing in the log", id="silent non-contact tester (k-07)"),
        pytest.param("off, lock, T", TREAT, "before", id="instrument not proven (k-05)"),
        pytest.param("off, lock, K, T", TREAT, "after", id="instrument not proven after"),
        pytest.param(f"{PROOF}, on", TREAT, "switched on since", id="switched on again"),
        pytest.param(f"{PROOF}, other off", TREAT, "A 5 switched off since", id="any later switching makes it stale"),
        pytest.param(f"{PROOF}, lamp", TREAT, "S1 switched", id="a switch in the wall too"),
        pytest.param(f"{PROOF}, next day", TREAT, "another visit", id="another visit makes it stale"),
        pytest.param("K, T, K2, off, lock", TREAT, "A 3 switched off since", id="tests before the switching"),
        pytest.param("hot", LIVE, "120 V", id="read live"),
        pytest.param("hot, other off", LIVE, "120 V", id="another circuit switched: still live"),
        pytest.param("hot, off", TREAT, "A 3 switched off since", id="its breaker switched off: not tested again"),
        pytest.param("hot, lamp", TREAT, "S1", id="a switch that may be on the way"),
        pytest.param("hot, T, K", LIVE, "120 V", id="once live, only switching and a new test changes it"),
        pytest.param("off, lock, K, T, K2, hot", LIVE, "120 V", id="live after the proof, nothing switched"),
    ],
)  # fmt: skip
def test_state_at_the_end(steps: str, expected: str, because: str, tmp_path: Path) -> None:
    done = log(steps, tmp_path)
    state = done.item("conductor", "W1 black").data["state"]
    assert state.value == expected
    assert because in state.note


def test_proof_holds_at_the_cable_that_was_tested(tmp_path: Path) -> None:
    """What the record joins further along is not proven by it: a joint may have let go and another feed be there."""
    done = log(PROOF, tmp_path)
    assert (word(done, "W1 black"), word(done, "W1 white"), word(done, "W2 black")) == (DEAD, DEAD, TREAT)
    both = log("off, lock, K, T, T2, K2", tmp_path)
    assert (word(both, "W1 black"), word(both, "W2 black")) == (DEAD, DEAD)


def test_live_holds_for_all_that_is_joined(tmp_path: Path) -> None:
    """What is solidly joined to a live conductor is live."""
    done = log("hot", tmp_path)
    assert (word(done, "W2 black"), word(done, "W2 white")) == (LIVE, TREAT)


def test_a_neutral_that_others_return_on_is_not_proven(tmp_path: Path) -> None:
    """An opened neutral is live through a load that is still on (i-20): its other breaker has to be off as well."""
    shared = {
        "cables": {
            "W1": {"type": "14/3 with ground", "to": "one",
                   "from": {"at": "A", "black": "breaker 3", "red": "breaker 5", "white": "neutral bar", "bare": "ground bar"}},
            "W2": {"type": "14/2 with ground", "from": "one", "to": "two"},
        },
        "joints": {**{f"J{c}": {"at": "one", "ends": [f"W1 {c}", f"W2 {c}"]} for c in ("black", "white", "bare")},
                   "J4": {"at": "one", "ends": ["W1 red", "R2 hot"]}, "J5": {"at": "one", "ends": ["W2 white (from)", "R2 neutral"]}},
    }  # fmt: skip
    del shared["joints"]["J5"]
    shared["joints"]["Jwhite"]["ends"].append("R2 neutral")
    devices = {
        "R1": {"kind": "duplex receptacle", "at": "two", "wired_to": "W2"},
        "R2": {"kind": "duplex receptacle", "at": "one"},
        "S1": {"kind": "switch", "where": "far away"},
    }
    done = log("off, lock, K, T2, K2", tmp_path, **shared, devices=devices)
    assert word(done, "W2 white") == TREAT
    assert "A 5 off" in done.item("conductor", "W2 white").data["state"].note


def test_an_untraced_cable_needs_every_breaker_off(tmp_path: Path) -> None:
    """What can feed it is every breaker whose wiring is not known to its end."""
    cables = {"W1": {"type": "14/2 with ground", "from": "not traced", "to": "one"}}
    earth = [
        {
            "tag": "K",
            "kind": "voltage",
            "between": ["A 5", "A neutral bar"],
            "value": "121 V",
            "instrument": "t",
            "known_source": True,
        },
        {
            "tag": "K2",
            "kind": "voltage",
            "between": ["A 5", "A neutral bar"],
            "value": "121 V",
            "instrument": "t",
            "known_source": True,
        },
        {"tag": "bn", "kind": "voltage", "between": ["W1 black", "W1 white"], "value": "0 V", "instrument": "t"},
        {"tag": "bg", "kind": "voltage", "between": ["W1 black", "earth"], "value": "0 V", "instrument": "t"},
        {"tag": "ng", "kind": "voltage", "between": ["W1 white", "earth"], "value": "0 V", "instrument": "t"},
        {"tag": "x", "kind": "voltage", "between": ["W1 bare", "earth"], "value": "0 V", "instrument": "t"},
    ]
    more: dict[str, Any] = {"cables": cables, "joints": {}, "devices": {"S1": {"kind": "switch", "where": "far away"}}}
    one = log("off, lock, K, T, K2", tmp_path, **more, readings=earth)
    assert "A 5 off" in one.item("conductor", "W1 black").data["state"].note
    main = log("main off, main lock, K, T, K2", tmp_path, **more, readings=earth)
    assert word(main) == DEAD


def test_three_wires_dead_to_each_other_can_all_be_live(tmp_path: Path) -> None:
    """Without one point that leads to a bar or is earth nothing is proven."""
    cables = {"W1": {"type": "14/2 with ground", "from": "not traced", "to": "one"}}
    more: dict[str, Any] = {"cables": cables, "joints": {}, "devices": {"S1": {"kind": "switch", "where": "far away"}}}
    readings = [
        {"tag": tag, "kind": "voltage", "between": between, "value": value, "instrument": "t",
         **({"known_source": True} if tag[0] == "K" else {})}
        for tag, (*between, value) in READINGS.items() if tag in ("K", "K2", "bn", "bg", "ng")
    ]  # fmt: skip
    done = log("main off, main lock, K, T, K2", tmp_path, **more, readings=readings)
    assert word(done) == TREAT
    assert "test to earth" in done.item("conductor", "W1 black").data["state"].note


def test_every_step_is_told_in_order(tmp_path: Path) -> None:
    """The replay tells each change at its entry, and the state just before an entry can be asked."""
    done = log("hot, off, lock, K, T, K2, on", tmp_path)
    black = done.item("conductor", "W1 black")
    told = [
        (change.entry.number, state.word)
        for change in done.states.changes
        for one, state in change.changed
        if one is black
    ]
    assert told == [(1, LIVE), (2, TREAT), (5, TREAT), (6, DEAD), (7, TREAT)]
    assert done.states.before(7)[black].word == DEAD
    assert black not in done.states.before(1)


def test_one_reading_does_not_prove_an_instrument_twice(tmp_path: Path) -> None:
    """A reading is taken once, whichever entries name it."""
    assert word(log("off, lock, K, T, K", tmp_path)) == TREAT


def test_a_claim_that_a_later_reading_contradicts(tmp_path: Path) -> None:
    """A reading that then shows it live, with nothing switched in between, counts against the claim."""
    STEPS["claim"] = {"did": "called dead", "what": "W1"}
    done = log(f"{PROOF}, claim, hot", tmp_path)
    assert [r.tag for r in done.items["claim"][0].data["live_after"]] == ["hot"]
    done = log(f"{PROOF}, claim, on, hot", tmp_path)
    assert done.items["claim"][0].data["live_after"] == ()
    del STEPS["claim"]


@pytest.mark.parametrize("seed", range(40))
def test_nothing_is_ever_dead_without_a_test(seed: int) -> None:
    """Random houses without a log: everything is to be treated as live, with a reason."""
    done = trace(read_record(load_bytes(houses.as_bytes(houses.house(seed)), "house.yaml")))
    for conductor in done.record.conductors:
        assert conductor.data["state"].value == TREAT
        assert conductor.data["state"].note


def test_law_practice_and_habit_are_told_apart() -> None:
    """Every step of proof has its standing and its source."""
    steps = data("proof")["steps"]
    assert {one["standing"] for one in steps} == {"law", "standard practice", "habit"}
    assert all(one["source"] and one["basis"] in ("seen in text", "from memory", "common practice") for one in steps)
    instrument = next(one for one in steps if "known live source" in one["step"])
    assert instrument["standing"] == "standard practice"  # k-03: not law at 120/240 V


def test_contacts_of_a_receptacle_prove_nothing(tmp_path: Path) -> None:
    """Zero through the slots does not count: a tripped protective device reads so with its screws live."""
    readings = [
        {"tag": tag, "kind": "voltage", "between": between, "value": value, "instrument": "t",
         **({"known_source": True} if tag[0] == "K" else {})}
        for tag, between, value in (
            ("K", ["A 5", "A neutral bar"], "121 V"), ("bn", ["R1 hot", "R1 neutral"], "0 V"), ("bg", ["R1 hot", "R1 ground"], "0 V"),
            ("ng", ["R1 neutral", "R1 ground"], "0 V"), ("K2", ["A 5", "A neutral bar"], "121 V"),
        )
    ]  # fmt: skip
    STEPS["claim"] = {"did": "called dead", "what": "W2"}
    done = log(f"{PROOF}, claim", tmp_path, readings=readings)
    del STEPS["claim"]
    assert word(done, "W2 black") == TREAT
    assert any("contacts" in words and "R1" in words for words in done.items["claim"][0].data["missing"].value)


def test_work_after_a_proof_that_went_stale_is_told_so(tmp_path: Path) -> None:
    """The proof stands in the log; what ended it is named, and no step is called missing that is there."""
    STEPS["cut"] = {"did": "cut", "what": "W1"}
    done = log(f"{PROOF}, other off, cut", tmp_path)
    del STEPS["cut"]
    (said,) = done.items["entry"][-1].data["missing"].value
    assert "it was proven dead, and A 5 switched off since" in said


def test_metal_of_a_box_that_was_read_live(tmp_path: Path) -> None:
    """The metal of a box has a state of its own, whatever it is joined to."""
    reading = {"tag": "box", "kind": "voltage", "between": ["one box", "earth"], "value": "118 V", "instrument": "t"}
    STEPS["box"] = {"did": "tested", "what": "one", "readings": ["box"]}
    done = log("box", tmp_path, readings=[reading], boxes={"one": "square 4 x 2-1/8", "two": "nonmetallic"})
    gone = log("box, off", tmp_path, readings=[reading], boxes={"one": "square 4 x 2-1/8", "two": "nonmetallic"})
    del STEPS["box"]
    assert done.item("box", "one").data["state"].value == LIVE
    assert gone.item("box", "one").data["state"].value == TREAT
