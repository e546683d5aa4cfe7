"""Two records of one house compared: every outcome on small whole records, and what holds for any house.

Every record here is invented. What counts as repaired, new or not seen is our own definition, no source.
"""

from __future__ import annotations

import copy
import json
import random
import tempfile
from collections.abc import Callable
from functools import cache
from pathlib import Path
from typing import Any

import jsonschema
import pytest

import compared
import houses
from asfound.compare import Comparison, Entry, compare, resolve
from asfound.compare.fill import filled
from asfound.compare.pairs import paired, tag_links
from asfound.compare.side import side_of
from asfound.data import data
from asfound.judge.results import identity_of
from asfound.judge.run import judge
from asfound.load import Refused
from asfound.render.comparison import Asked, comparison_data, comparison_text
from asfound.render.lines import WIDTH, cells
from asfound.survey import Survey, survey
from asfound.wording import natural
from asfound_schemas import schema
from compared import run
from examples import picked, seeds
from test_command import run as run_apart

FIXTURES = Path(__file__).parent.parent / "fixtures"
EARLIER, LATER = FIXTURES / "compare" / "earlier.yaml", FIXTURES / "compare" / "later.yaml"
AS_OF = "2027-06-01"
Plain = dict[str, Any]

HOUSE: Plain = {
    "asfound": 1, "invented": True, "site": {"name": "Tryout cottage", "kind": "dwelling", "built": 1964},
    "visits": {"V1": {"on": "2026-04-10", "by": "R. Example"}},
    "supply": "120/240 split phase",
    "panels": {"A": {"fed_from": "supply", "breakers": {"1": 15, "3": 20}}},
    "cables": {
        "W1": {"type": "14/2 NM-B with ground", "from": "A 1", "to": "hall"},
        "W2": {"type": "14/2 NM-B with ground", "from": "hall", "to": "lamp"},
        "W3": {"type": "14/2 NM-B with ground", "from": "A 3", "to": "shed"},
    },
    "boxes": {
        "hall": {"kind": "octagonal 4 x 2-1/8", "clamps": "outside", "cover": "missing", "room": "hall"},
        "lamp": {"kind": "octagonal 4 x 2-1/8", "clamps": "outside", "cover": "luminaire", "room": "hall"},
        "shed": {"kind": "square 4 x 2-1/8", "clamps": "outside", "cover": "device plate", "room": "other"},
    },
    "joints": {
        "J1": {"at": "hall", "ends": ["W1 black", "W2 black"], "connector": "twist-on"},
        "J2": {"at": "hall", "ends": ["W1 white", "W2 white"], "connector": "tape only"},
        "J3": {"at": "hall", "ends": ["W1 bare", "W2 bare", "box"], "connector": "twist-on"},
        "J4": {"at": "lamp", "ends": ["W2 bare", "box"], "connector": "terminal screw"},
    },
    "devices": {
        "LT1": {"kind": "lampholder", "at": "lamp", "watts": 60, "metal": False,
                "terminals": {"hot": "W2 black", "neutral": "W2 white"}},
        "R1": {"kind": "single receptacle", "at": "shed", "rating": 20, "slots": 3, "protection": "ground-fault",
               "wired_to": "W3"},
    },
}  # fmt: skip
"""Found in it: a box without a cover, a splice held by tape, 14 AWG on a breaker of 20 A."""
COVER, TAPE, THIN = (
    ("box-without-cover", "box hall"), ("splice-taped-only", "joint J2"), ("conductor-too-small", "conductor W3 black"),
)  # fmt: skip


def house(*steps: Callable[[Plain], object], on: str = "2026-04-10", by: str = "R. Example") -> Plain:
    """The house with these steps done to it, as seen on this day."""
    made = copy.deepcopy(HOUSE)
    made["visits"] = {"V1": {"on": on, "by": by}}
    for step in steps:
        step(made)
    return made


def after(*steps: Callable[[Plain], object]) -> Plain:
    """The house as somebody else saw it a year later."""
    return house(*steps, on="2027-05-10", by="B. Sample")


def put(*path: str, to: Any) -> Callable[[Plain], object]:
    """A step that writes a value at a path."""

    def step(record: Plain) -> None:
        held = record
        for name in path[:-1]:
            held = held.setdefault(name, {})
        held[path[-1]] = copy.deepcopy(to)

    return step


def cut(*path: str) -> Callable[[Plain], object]:
    """A step that takes away what stands at a path."""

    def step(record: Plain) -> None:
        held = record
        for name in path[:-1]:
            held = held[name]
        del held[path[-1]]

    return step


def logged(did: str, *what: str, on: str = "2026-05-06 09:00") -> Callable[[Plain], object]:
    """A step that adds a log entry."""
    return lambda record: record.setdefault("log", []).append({"at": on, "did": did, "what": list(what)})


def no_shed(record: Plain) -> None:
    """Leave the shed out: its cable, box, receptacle and breaker."""
    for path in (("cables", "W3"), ("boxes", "shed"), ("devices", "R1")):
        cut(*path)(record)
    cut("panels", "A", "breakers", "3")(record)


def of(folder: Path, earlier: Plain, later: Plain) -> Comparison:
    """The comparison of two records as judged on one date."""
    one, two = (compared.surveyed(folder, record, f"{n}.yaml") for n, record in enumerate((earlier, later)))
    return compare(one, two)


def entry(found: Comparison, what: tuple[str, str]) -> Entry:
    """What became of the finding of a rule at an item, named as in the record that has it; the only one."""
    rule, at = what
    held = [
        one for one in found.entries
        if one.finding.rule.name == rule and at in {f.at for f in (one.earlier, one.later) if f is not None}
    ]  # fmt: skip
    assert len(held) == 1, [(one.outcome, one.finding.at) for one in held]
    return held[0]


def outcomes(found: Comparison) -> dict[tuple[str, str], tuple[str, str]]:
    """Outcome and ground by rule and item."""
    return {(e.finding.rule.name, e.finding.at): (e.outcome, e.ground) for e in found.entries}


# -- every outcome


@pytest.mark.parametrize(
    ("steps", "what", "expected"),
    [
        pytest.param([], COVER, ("still there", ""), id="nothing was done"),
        pytest.param([put("boxes", "hall", "cover", to="blank cover")], COVER, ("repaired", "says otherwise"),
                     id="cover seen"),
        pytest.param([put("joints", "J2", "connector", to="twist-on")], TAPE, ("repaired", "says otherwise"),
                     id="connector seen"),
        pytest.param([put("panels", "A", "breakers", "3", to=15)], THIN, ("repaired", "says otherwise"),
                     id="smaller breaker seen"),
        pytest.param([put("cables", "W3", "type", to="12/2 NM-B with ground")], THIN, ("repaired", "says otherwise"),
                     id="larger cable seen"),
        pytest.param([cut("boxes", "hall", "cover")], COVER, ("can no longer be seen", "cannot tell"),
                     id="cover not spoken of"),
        pytest.param([put("boxes", "hall", "cover", to={"not_seen": "wardrobe before it"})], COVER,
                     ("can no longer be seen", "cannot tell"), id="cover could not be seen"),
        pytest.param([cut("joints", "J2", "connector")], TAPE, ("can no longer be seen", "silent"),
                     id="connector not spoken of"),
        pytest.param([cut("joints", "J2")], TAPE, ("can no longer be seen", "not listed"), id="joint not listed"),
        pytest.param([no_shed], THIN, ("can no longer be seen", "not listed"), id="whole circuit not listed"),
        pytest.param([no_shed, logged("taken out", "W3", "R1", "shed", "A 3")], THIN,
                     ("no longer there", "another time"), id="cable taken out by the log"),
        pytest.param([no_shed, logged("taken out", "R1")], THIN, ("can no longer be seen", "not listed"),
                     id="something else taken out"),
        pytest.param([cut("joints", "J2"), put("cables", "W1", "to", to={"at": "hall", "white": "capped"}),
                      put("cables", "W2", "from", to={"at": "hall", "white": "capped"})], TAPE,
                     ("no longer there", "another time"), id="both wires of the joint end elsewhere"),
        pytest.param([cut("joints", "J2"), put("cables", "W1", "to", to={"at": "hall", "white": "capped"})], TAPE,
                     ("can no longer be seen", "not listed"), id="one wire of the joint ends elsewhere"),
        pytest.param([cut("panels", "A", "breakers", "3"), put("panels", "A", "breakers", "5", to=15),
                      put("cables", "W3", "from", to="A 5")], THIN, ("repaired", "says otherwise"),
                     id="moved to another breaker"),
        pytest.param([put("cables", "W3", "from", to="not traced")], THIN, ("changed", ""),
                     id="not followed to its breaker"),
        pytest.param([put("panels", "A", "breakers", "3", to={"amps": {"is": 15, "how": "told"}})], THIN,
                     ("repaired", "says otherwise"), id="told of a smaller breaker"),
    ],
)  # fmt: skip
def test_a_finding_of_the_earlier_record(
    tmp_path: Path, steps: list[Any], what: tuple[str, str], expected: tuple[str, str]
) -> None:
    """Repaired only where somebody looked again and recorded it otherwise; silence never is."""
    found = entry(of(tmp_path, house(), after(*steps)), what)
    assert (found.outcome, found.ground) == expected
    assert found.earlier is not None
    if found.outcome == "repaired":
        assert any(change.earlier.line and change.later.line and not change.silent for change in found.because)


@pytest.mark.parametrize(
    ("before", "steps", "what", "expected"),
    [
        pytest.param([put("panels", "A", "breakers", "3", to=15)], [], THIN, ("new", "says otherwise"),
                     id="breaker was smaller"),
        pytest.param([put("boxes", "hall", "cover", to="blank cover")], [], COVER, ("new", "says otherwise"),
                     id="cover was there"),
        pytest.param([put("boxes", "hall", "cover", to={"not_seen": "shelf before it"})], [], COVER,
                     ("newly seen", "cannot tell"), id="cover could not be seen"),
        pytest.param([cut("joints", "J2", "connector")], [], TAPE, ("newly seen", "silent"),
                     id="connector not spoken of"),
        pytest.param([cut("joints", "J2")], [], TAPE, ("newly seen", "not listed"), id="joint not listed"),
        pytest.param([no_shed], [], THIN, ("newly seen", "not listed"), id="whole circuit not listed"),
        pytest.param([no_shed], [logged("put in", "W3", "R1", "shed", "A 3")], THIN, ("new", "another time"),
                     id="cable put in by the log"),
        pytest.param([no_shed], [put("cables", "W3", "installed", to=2027)], THIN, ("new", "another time"),
                     id="cable of a later year"),
        pytest.param([no_shed], [put("cables", "W3", "installed", to=2026)], THIN, ("newly seen", "not listed"),
                     id="cable of the same year"),
        pytest.param([no_shed], [put("cables", "W3", "installed", to=1990)], THIN, ("newly seen", "not listed"),
                     id="cable of an earlier year"),
        pytest.param([cut("joints", "J2"), put("cables", "W1", "to", to={"at": "hall", "white": "capped"}),
                      put("cables", "W2", "from", to={"at": "hall", "white": "capped"})], [], TAPE,
                     ("new", "another time"), id="its wires ended elsewhere"),
        pytest.param([put("cables", "W3", "from", to="not traced"), cut("panels", "A", "breakers", "3")], [], THIN,
                     ("newly seen", "cannot tell"), id="not followed to a breaker"),
    ],
)  # fmt: skip
def test_a_finding_of_the_later_record(
    tmp_path: Path, before: list[Any], steps: list[Any], what: tuple[str, str], expected: tuple[str, str]
) -> None:
    """New only where the earlier record speaks against it or the work is recorded; else it is newly seen."""
    found = entry(of(tmp_path, house(*before), after(*steps)), what)
    assert (found.outcome, found.ground) == expected
    assert found.earlier is None


def test_a_cable_of_an_earlier_year_is_said_to_be_older(tmp_path: Path) -> None:
    found = of(tmp_path, house(no_shed), after(put("cables", "W3", "installed", to=1990)))
    text = comparison_text(found)
    assert "The thing itself is older (installed 1990 (line" in " ".join(text.split())


@pytest.mark.parametrize(
    ("earlier", "later", "expected"),
    [
        pytest.param({"gauge": "14 or 12"}, {"gauge": 12}, ("settled", "settled"), id="14 or 12, and it is 12"),
        pytest.param({"gauge": "14 or 12"}, {"gauge": 14}, ("changed", ""), id="14 or 12, and it is 14"),
        pytest.param({"gauge": {"is": 14, "how": "by eye"}}, {"gauge": 12}, ("settled", "settled"), id="14 by eye was 12"),
        pytest.param({"gauge": {"is": 14, "how": "by eye"}}, {"gauge": 14}, ("changed", ""), id="14 by eye is 14"),
        pytest.param({"gauge": 14}, {"gauge": 12}, ("repaired", "says otherwise"), id="14 as read, and now 12"),
        pytest.param({"gauge": 14}, {"gauge": {"is": 14, "how": "by eye"}}, ("changed", ""), id="less sure now"),
    ],
)  # fmt: skip
def test_a_doubt_that_is_settled_is_no_repair(
    tmp_path: Path, earlier: Plain, later: Plain, expected: tuple[str, str]
) -> None:
    """What both looks can have seen of one unchanged house says nothing of work done."""
    base = {"method": "NM-B", "metal": "copper", "conductors": {"black": {}, "white": {}, "bare": {}}, "from": "A 3",
            "to": "shed"}  # fmt: skip
    one, two = house(put("cables", "W3", to={**base, **earlier})), after(put("cables", "W3", to={**base, **later}))
    found = entry(of(tmp_path, one, two), THIN)
    assert (found.outcome, found.ground) == expected
    if found.outcome == "changed":
        assert any(change.fact == "gauge" for change in found.because)
        assert found.worse == (earlier == {"gauge": "14 or 12"})


def test_a_question_of_the_earlier_record_is_answered_and_not_repaired(tmp_path: Path) -> None:
    """14 or 12 on 20 A; the breaker is 15 A now, and nobody knows whether it ever was a defect."""
    one = house(put("cables", "W3", "gauge", to="14 or 12"))
    two = after(put("cables", "W3", "gauge", to="14 or 12"), put("panels", "A", "breakers", "3", to=15))
    found = entry(of(tmp_path, one, two), THIN)
    assert (found.outcome, found.ground) == ("settled", "says otherwise")


@pytest.mark.parametrize("visit", ["the same", "another"])
def test_a_change_of_the_record_of_one_visit_is_no_repair(tmp_path: Path, visit: str) -> None:
    """Written otherwise of the same look: somebody has to have looked again."""
    steps = [put("boxes", "hall", "cover", to="blank cover")]
    later = house(*steps) if visit == "the same" else after(*steps)
    found = entry(of(tmp_path, house(), later), COVER)
    assert found.outcome == ("can no longer be seen" if visit == "the same" else "repaired")
    assert found.ground == ("same look" if visit == "the same" else "says otherwise")


def test_a_record_that_goes_on_with_a_second_visit(tmp_path: Path) -> None:
    """One record kept up over two visits: what bears the new visit was looked at again, the rest was not."""
    later = house(put("boxes", "hall", "cover", to={"is": "blank cover", "visit": "V2"}))
    later["visits"]["V2"] = {"on": "2027-05-10", "by": "B. Sample"}
    later["seen_on"] = "V1"
    found = of(tmp_path, house(), later)
    repaired, kept = entry(found, COVER), entry(found, TAPE)
    assert (repaired.outcome, kept.outcome) == ("repaired", "still there")
    change = next(change for change in repaired.because if change.fact == "cover")
    assert (change.later.value, change.later.by, change.later.on) == ("blank cover", "B. Sample", "2027-05-10")
    assert "No later look at it is recorded." in " ".join(comparison_text(found).split())


def test_the_place_that_was_not_looked_at_is_named(tmp_path: Path) -> None:
    later = after(cut("boxes", "hall", "cover"))
    later["visits"]["V1"]["not_looked_at"] = [{"what": "ceiling of the hall", "why": "freshly papered"}]
    found = entry(of(tmp_path, house(), later), COVER)
    assert found.skipped == ("ceiling of the hall: freshly papered",)
    assert entry(of(tmp_path, house(), after(cut("joints", "J2"))), TAPE).skipped == ()


def test_graver_is_worse_and_less_grave_is_not(tmp_path: Path) -> None:
    """14 or 12 is a question; that it is 14 is a defect, and graver."""
    base = {"method": "NM-B", "metal": "copper", "conductors": {"black": {}, "white": {}, "bare": {}}, "from": "A 3",
            "to": "shed"}  # fmt: skip
    question = put("cables", "W3", to={**base, "gauge": "14 or 12"})
    defect = put("cables", "W3", to={**base, "gauge": 14})
    up = entry(of(tmp_path, house(question), after(defect)), THIN)
    down = entry(of(tmp_path, house(defect), after(question)), THIN)
    assert (up.outcome, up.worse, down.outcome, down.worse) == ("changed", True, "changed", False)


# -- readings


LIVE = FIXTURES / "defects" / "fed-by-something-not-recorded.yaml"
FED = ("fed-by-something-not-recorded", "net W9 black")
DEAD = {"tag": "M1", "at": "2027-05-10 10:05", "kind": "voltage", "between": ["W9 black", "A neutral bar"],
        "value": "0.2 V", "instrument": "tester 1"}  # fmt: skip


def later_live(**parts: Any) -> Plain:
    """The record of the live cable a year later, with these parts in place of its readings and log."""
    made = {**compared.read(LIVE), "visits": {"V1": {"on": "2027-05-10", "by": "B. Sample"}}}
    del made["readings"], made["log"]
    return {**made, **parts}


def test_what_rests_on_readings_is_not_repaired_for_want_of_new_ones(tmp_path: Path) -> None:
    """The later record has no reading there; the earlier ones stand."""
    found = entry(of(tmp_path, compared.read(LIVE), later_live()), FED)
    assert (found.outcome, found.ground) == ("can no longer be seen", "not tested")


def test_a_dead_reading_alone_repairs_nothing(tmp_path: Path) -> None:
    """What feeds it from outside can have been off; nobody recorded that anything was changed."""
    later = later_live(
        readings=[DEAD], log=[{"at": "2027-05-10 10:05", "did": "tested", "what": "W9", "readings": ["M1"]}]
    )
    found = entry(of(tmp_path, compared.read(LIVE), later), FED)
    assert (found.outcome, found.ground) == ("can no longer be seen", "tested otherwise")
    assert [change.later.value for change in found.because if change.fact == "reading"] == ["0.2 V"]


def test_nor_does_a_dead_reading_beside_some_other_change(tmp_path: Path) -> None:
    """The end was capped meanwhile; that does not explain what was read before."""
    later = later_live(readings=[DEAD])
    later["cables"]["W9"]["to"]["black"] = "capped"
    found = entry(of(tmp_path, compared.read(LIVE), later), FED)
    assert (found.outcome, found.ground) == ("can no longer be seen", "tested otherwise")


def test_a_reading_that_first_shows_it_is_newly_seen(tmp_path: Path) -> None:
    """The same the other way round."""
    live = later_live(**{name: compared.read(LIVE)[name] for name in ("readings", "log")})
    one = compared.read(LIVE)
    del one["readings"], one["log"]
    found = entry(of(tmp_path, one, live), FED)
    assert (found.outcome, found.ground) == ("newly seen", "not tested")


# -- findings told of at another thing than the rule looks at, and breakers of one space


BARE = ("ground-joined-to-ungrounded", "joint J1")


@pytest.mark.parametrize(
    ("steps", "expected"),
    [
        pytest.param([], ("still there", ""), id="still in the wrong joint"),
        pytest.param([put("joints", "J1", "ends", to=["W1 black", "W2 black"]),
                      put("joints", "J3", "ends", to=["W1 bare", "W2 bare", "box"])], ("repaired", "says otherwise"),
                     id="put where it belongs"),
        pytest.param([put("joints", "J1", "ends", to=["W1 black", "W2 black"])], ("can no longer be seen", "silent"),
                     id="left out of the joint"),
    ],
)  # fmt: skip
def test_a_finding_at_another_thing_than_the_rule_looks_at(
    tmp_path: Path, steps: list[Any], expected: tuple[str, str]
) -> None:
    """The rule looks at nets and tells of the joint."""
    wrong = [put("joints", "J1", "ends", to=["W1 black", "W2 black", "W2 bare"]),
             put("joints", "J3", "ends", to=["W1 bare", "box"])]  # fmt: skip
    found = entry(of(tmp_path, house(*wrong), after(*wrong, *steps)), BARE)
    assert (found.outcome, found.ground) == expected


def test_a_space_that_holds_another_breaker_now(tmp_path: Path) -> None:
    """A breaker of 22 A is no standard rating; its space is one half of a double breaker now."""
    later = after(no_shed, cut("panels", "A", "breakers", "1"), put("panels", "A", "breakers", "1/3", to=30))
    later["cables"]["W1"]["from"] = "A 1/3"
    earlier = house(put("panels", "A", "breakers", "3", to=22))
    found = entry(of(tmp_path, earlier, later), ("breaker-rating-not-standard", "breaker A 3"))
    assert (found.outcome, found.ground) == ("no longer there", "another time")
    assert found.statement is not None
    assert found.statement.words == "its space holds A 1/3 instead"


# -- which thing is which


def test_a_new_tag_is_known_by_was(tmp_path: Path) -> None:
    """The cable, and everything that follows from it, under another tag."""
    later = after()
    later["cables"]["C9"] = {**later["cables"].pop("W3"), "was": "W3"}
    later["devices"]["R1"]["wired_to"] = "C9"
    found = entry(of(tmp_path, house(), later), THIN)
    assert found.outcome == "still there"
    assert found.later is not None
    assert (found.later.at, found.later.identity) == (
        "conductor C9 black", identity_of("conductor-too-small", "conductor C9 black", [], ""),
    )  # fmt: skip
    assert "in the earlier record" in comparison_text(of(tmp_path, house(), later))


def test_without_was_a_new_tag_is_another_thing(tmp_path: Path) -> None:
    later = after()
    later["cables"]["C9"] = later["cables"].pop("W3")
    later["devices"]["R1"]["wired_to"] = "C9"
    found = of(tmp_path, house(), later)
    assert entry(found, THIN).outcome == "can no longer be seen"
    assert entry(found, ("conductor-too-small", "conductor C9 black")).outcome == "newly seen"


def test_a_tag_that_has_gone_to_another_thing(tmp_path: Path) -> None:
    """W3 is W2 now, and W2 is W3; the thin cable is the one that was W3."""
    later = after()
    cables = later["cables"]
    cables["W2"], cables["W3"] = {**cables["W3"], "was": "W3"}, {**cables["W2"], "was": "W2"}
    text = json.dumps({name: later[name] for name in ("joints", "devices")})
    text = text.replace("W2", "\0").replace("W3", "W2").replace("\0", "W3")
    later.update(json.loads(text))
    found = of(tmp_path, house(), later)
    assert {outcome for outcome, _ in outcomes(found).values()} == {"still there"}
    assert {e.later.at for e in found.entries if e.earlier and e.later and e.earlier.at == THIN[1]} == {
        "conductor W2 black"
    }


def test_two_things_that_turned_out_to_be_one(tmp_path: Path) -> None:
    """A stub in the cellar and a stub in the shed: one cable."""
    earlier = house(put("cables", "W3", "to", to={"not_seen": "goes into the ground"}), put("devices", "R1", to={
        **HOUSE["devices"]["R1"], "wired_to": "W9"}),
        put("cables", "W9", to={"type": "14/2 NM-B with ground", "from": {"not_seen": "comes out of the ground"}, "to": "shed"}))  # fmt: skip
    later = after(put("cables", "W3", "was", to=["W3", "W9"]))
    found = of(tmp_path, earlier, later)
    mine = [e for e in found.entries if e.later is not None and e.later.at == "conductor W3 black"]
    assert {e.earlier.at for e in mine if e.earlier is not None} >= {"conductor W3 black"}
    assert not [e for e in found.entries if e.outcome in ("new", "newly seen") and "W3" in e.finding.at]


@pytest.mark.parametrize("written", ["A 3", "3"], ids=["with its panel", "the space alone"])
def test_a_breaker_that_moved_to_another_space(tmp_path: Path, written: str) -> None:
    later = after()
    del later["panels"]["A"]["breakers"]["3"]
    later["panels"]["A"]["breakers"]["11"] = {"amps": 20, "was": written}
    later["cables"]["W3"]["from"] = "A 11"
    assert {outcome for outcome, _ in outcomes(of(tmp_path, house(), later)).values()} == {"still there"}


def test_joints_numbered_anew_go_by_their_wires(tmp_path: Path) -> None:
    """J1 and J2 have changed numbers, and nothing says so."""
    later = after()
    joints = later["joints"]
    joints["J1"], joints["J2"] = joints["J2"], joints["J1"]
    found = entry(of(tmp_path, house(), later), TAPE)
    assert found.outcome == "still there"
    assert found.later is not None
    assert found.later.at == "joint J1"


def test_notes_on_the_two_records(tmp_path: Path) -> None:
    """Wrong order, other names, lost tags and tags named twice are told."""
    later = house(put("cables", "W3", "was", to="W77"), put("site", "name", to="Other cottage"),
                  put("boxes", "lamp", "was", to="hall"), put("boxes", "hall", "was", to="hall"),
                  logged("taken out", "W55", "R1"), on="2020-01-01")  # fmt: skip
    notes = " ".join(of(tmp_path, house(), later).notes)
    for part in ("two sites", "right order", "hall by hall, lamp", "in neither record: W55", "still lists it: R1"):
        assert part in notes, part
    assert of(tmp_path, house(), after()).notes == []
    text = comparison_text(of(tmp_path, house(), later))
    assert "-- ABOUT THE TWO RECORDS --" in text
    assert all(cells(line) <= WIDTH for line in text.splitlines())
    lost = after(put("cables", "X3", to={**HOUSE["cables"]["W3"], "was": "W77"}), cut("cables", "W3"),
                 put("devices", "R1", "wired_to", to="X3"))  # fmt: skip
    assert "does not have: X3 (was W77)" in of(tmp_path, house(), lost).notes[0]


def test_a_record_may_not_be_judged_by_another_date(tmp_path: Path) -> None:
    one, two = (survey(path, day) for path, day in ((EARLIER, "2020-01-01"), (LATER, AS_OF)))
    with pytest.raises(ValueError, match="one date"):
        compare(one, two)


# -- editions


BEDROOMS = FIXTURES / "defects" / "room-without-arc-fault-protection.yaml"
ARC = ("room-without-arc-fault-protection", "circuit A 1")


def test_a_change_of_edition_is_no_change_of_the_house() -> None:
    """Arc-fault protection of bedrooms came with the 1999 edition of NFPA 70 (tables/arc_fault.yaml)."""
    old, new = survey(BEDROOMS, "1990-01-01"), survey(BEDROOMS, AS_OF)
    found = compare(new, survey(BEDROOMS, AS_OF), old)
    held = entry(found, ARC)
    assert (held.outcome, held.edition) == ("still there", "only by the tables of the later date")
    back = compare(old, survey(BEDROOMS, "1990-01-01"), new)
    assert [(f.rule.name, f.at) for f in back.by_edition] == [ARC]
    assert ARC not in outcomes(back)
    text = " ".join(comparison_text(back).split())
    assert "ONLY BY THE TABLES OF THE EARLIER DATE" in text
    assert "The house need not have changed." in text


def test_a_grade_that_hangs_on_the_date_is_said(tmp_path: Path) -> None:
    """Raised by an office from 2027 on: the same finding, graver by the later date alone."""
    amend = tmp_path / "office.yaml"
    amend.write_text("amendment: Office\neffective: '2027-01-01'\nsource: invented\n"
                     "grades: {splice-taped-only: {raise: 1, why: our experience}}\n")  # fmt: skip
    files = write(tmp_path, house(), after())
    old, one, two = (survey(file, day, amended=[amend]) for file, day in
                     ((files[0], "2026-05-01"), (files[0], AS_OF), (files[1], AS_OF)))  # fmt: skip
    held = entry(compare(one, two, old), TAPE)
    assert (held.outcome, held.edition) == ("still there", "first, confirmed by the tables of the earlier date")
    assert "Earlier record: first, confirmed by the tables" in " ".join(comparison_text(compare(one, two, old)).split())


# -- rules that fail, and records that cannot be one


FAILING = '''
from asfound.authoring import rule

@rule("shed-rule", of="box", severity="critical", likelihood="remote", caution="Warning: keep away from the box.",
      defer="Local code and licensed practice decide.", source="common practice, no source", basis="common practice")
def shed_rule(box):
    """A rule that fails on a plain cover."""
    if box.cover == "blank cover":
        raise RuntimeError("on purpose")
    if box.cover == "missing":
        yield f"{box.words} is open."
'''


def test_a_rule_that_fails_is_no_all_clear(tmp_path: Path) -> None:
    (tmp_path / "own.py").write_text(FAILING)
    made = []
    for number, record in enumerate((house(), after(put("boxes", "hall", "cover", to="blank cover")))):
        file = tmp_path / f"{number}.yaml"
        file.write_text(houses.as_yaml(record))
        made.append(survey(file, AS_OF, named=[tmp_path / "own.py"]))
    found = entry(compare(*made), ("shed-rule", "box hall"))
    assert (found.outcome, found.ground) == ("can no longer be seen", "rule failed")


def test_records_that_cannot_be_read_as_one_repair_nothing(tmp_path: Path) -> None:
    """Each panel is fed from the other, by one record each."""
    feeding = put("panels", "A", to={"breakers": {"1": 15, "3": 20, "5/7": 40}, "fed_from": "supply"})
    sub = put("panels", "B", to={"breakers": {"1/3": 40}})
    earlier = house(feeding, sub, put("panels", "B", "fed_from", to="A 5/7"), cut("panels", "A", "fed_from"))
    later = after(
        feeding, sub, put("panels", "A", "fed_from", to="B 1/3"), put("boxes", "hall", "cover", to="blank cover")
    )
    found = entry(of(tmp_path, earlier, later), COVER)
    assert (found.outcome, found.ground) == ("can no longer be seen", "not one record")


# -- any house


HOUSES = picked(31, 43, 59, 35, 4, 13, 39)
"""Houses of 1 to 18 cables in which changes show, of the first sixty: with holes in their records, 10 findings are
repaired and 10 new, and in four of them silence would pass for repair if records were not filled up."""
CALM = ("still there",)


def told(found: Comparison) -> list[tuple[str, str, str, str]]:
    """Outcome, ground, rule and place of everything that is not still there."""
    return [(e.outcome, e.ground, e.finding.rule.name, e.finding.place) for e in found.entries if e.outcome not in CALM]


KINDS: dict[str, Callable[[int], Plain]] = {
    "as it was": houses.house,
    "altered": lambda seed: compared.altered(compared.revisited(houses.house(seed)), seed, 0.3),
    "altered, few holes": lambda seed: compared.silenced(KINDS["altered"](seed), seed, 0.1),
    "altered, holes": lambda seed: compared.silenced(KINDS["altered"](seed), seed),
    "later, holes": lambda seed: compared.silenced(compared.revisited(houses.house(seed)), seed),
    "holes": lambda seed: compared.silenced(houses.house(seed), seed),
}


@cache
def seen(kind: str, seed: int) -> Survey:
    """The house of a seed in one of its states, judged once for all tests."""
    with tempfile.TemporaryDirectory() as folder:
        return compared.surveyed(Path(folder), KINDS[kind](seed))


@cache
def between(one: str, two: str, seed: int) -> Comparison:
    """The comparison of two states of a house."""
    return compare(seen(one, seed), seen(two, seed))


SAME: dict[str, Callable[[Plain, int], Plain]] = {
    "itself": lambda record, seed: record,
    "another order": houses.shuffled,
    "new tags": compared.retagged,
    "new joint numbers": compared.renumbered,
    "cables from the other end": lambda record, seed: compared.turned(record),
    "all of it": lambda record, seed: compared.retagged(compared.turned(houses.shuffled(record, seed)), seed),
}


@pytest.mark.parametrize("how", SAME)
def test_the_same_house_has_nothing_but_what_is_still_there(tmp_path: Path, how: str) -> None:
    """However it is written down. Grades and certainties are the same too, or it would be changed."""
    count = 0
    for seed in HOUSES:
        later = SAME[how](compared.revisited(houses.house(seed)), seed)
        found = compare(seen("as it was", seed), compared.surveyed(tmp_path, later))
        assert told(found) == [], seed
        count += len(found.entries)
    assert count > 100


@pytest.mark.parametrize("path", [FIXTURES / "demo.yaml", *sorted((FIXTURES / "defects").glob("*.yaml"))],
                         ids=lambda path: path.stem)  # fmt: skip
def test_a_whole_record_compared_with_itself(path: Path) -> None:
    done = survey(path, AS_OF)
    found = compare(done, done)
    assert told(found) == []
    assert [e.earlier for e in found.entries] == [e.later for e in found.entries]
    assert len(found.entries) == len(done.results.findings)


def without_photos(value: Any) -> Any:
    """A record without its photographs, which are files beside it."""
    if isinstance(value, dict):
        return {key: without_photos(held) for key, held in value.items() if key not in ("photo", "photos")}
    return [without_photos(held) for held in value] if isinstance(value, list) else value


@pytest.fixture(scope="module")
def demo(tmp_path_factory: pytest.TempPathFactory) -> tuple[Plain, Survey]:
    """The demo without photographs, as a plain record and judged; with its readings, log and labels."""
    record = without_photos(compared.read(FIXTURES / "demo.yaml"))
    return record, compared.surveyed(tmp_path_factory.mktemp("demo"), record)


@pytest.mark.parametrize("how", ["another order", "all of it"])
def test_the_demo_written_otherwise(tmp_path: Path, demo: tuple[Plain, Survey], how: str) -> None:
    record, one = demo
    found = compare(one, compared.surveyed(tmp_path, SAME[how](record, 1)))
    assert told(found) == []
    assert len(found.entries) > 30


def test_tags_dealt_out_at_random_make_nothing_new_or_repaired(tmp_path: Path) -> None:
    """Where a rule names the first of several things, the order of tags shows; nothing is taken for work done."""
    for seed in HOUSES:
        later = compared.retagged(compared.revisited(houses.house(seed)), seed, mixed=True)
        found = compare(seen("as it was", seed), compared.surveyed(tmp_path, later))
        assert not [one for one in told(found) if one[0] in ("new", "repaired", "no longer there", "settled")], seed


def test_silence_repairs_nothing_and_makes_nothing_new() -> None:
    """Whatever is left out of a record, nothing is called repaired, gone or new for it."""
    gone = come = 0
    for seed in HOUSES:
        there, back = between("as it was", "later, holes", seed), between("later, holes", "as it was", seed)
        assert {one[0] for one in told(there)} <= {"can no longer be seen", "newly seen", "changed"}, seed
        assert {one[0] for one in told(back)} <= {"can no longer be seen", "newly seen", "changed", "settled"}, seed
        assert all(e.ground == "left out" for e in back.entries if e.outcome == "settled")
        gone += there.counts["can no longer be seen"]
        come += back.counts["newly seen"]
    assert gone > 40
    assert come > 40


def test_silence_on_the_demo(tmp_path: Path, demo: tuple[Plain, Survey]) -> None:
    """A record with readings, log and labels, less these and much else, written from the other end and tagged anew."""
    record, one = demo
    bare = {name: held for name, held in record.items() if name not in ("readings", "log", "labels", "instruments")}
    for seed in seeds(1):
        less = compared.silenced(compared.turned(bare), seed)
        back = compare(compared.surveyed(tmp_path, less, "less.yaml"), one)
        there = compare(one, compared.surveyed(tmp_path, compared.retagged(less, seed), "two.yaml"))
        assert {e.outcome for e in there.entries} <= {
            "still there",
            "changed",
            "can no longer be seen",
            "newly seen",
        }, seed
        assert not {e.outcome for e in back.entries} & {"new", "repaired", "no longer there"}, seed
        assert "not one record" not in {e.ground for e in (*there.entries, *back.entries)}, seed
        assert there.counts["can no longer be seen"] > 5


def test_a_device_that_was_a_place_and_is_in_a_box(tmp_path: Path) -> None:
    """One wrote the cable to the lamp, the other to the box that holds it; what is silent is still filled up."""
    earlier = house(put("cables", "W2", "to", to="LT1"), cut("devices", "LT1", "at"), cut("joints", "J4"))
    later = after(put("boxes", "hall", "cover", to="blank cover"), cut("cables", "W2", "to"), cut("joints", "J4"),
                  cut("devices", "LT1", "terminals"))  # fmt: skip
    found = of(tmp_path, earlier, later)
    assert entry(found, COVER).outcome == "repaired"
    assert "not one record" not in {e.ground for e in found.entries}


def claims(seed: int) -> tuple[list[Entry], list[Entry], list[Entry]]:
    """A house with changes, recorded with holes: what is called repaired, what new, and what of it wrongly.

    Wrongly is what does not hold for the same record without holes.
    """
    whole = [e for e in between("as it was", "altered", seed).entries if e.earlier and e.later]
    standing, there = {id(e.earlier) for e in whole}, {id(e.later) for e in whole}
    found = compare(seen("as it was", seed), seen("altered, holes", seed))
    gone = [e for e in found.entries if e.outcome in ("repaired", "no longer there")]
    back = compare(seen("holes", seed), seen("altered", seed))
    come = [e for e in back.entries if e.outcome == "new"]
    return gone, come, [e for e in (*gone, *come) if id(e.earlier) in standing or id(e.later) in there]


def test_what_is_called_repaired_or_new_is_so_by_the_whole_record() -> None:
    """What is said from a record with holes holds for the record without them."""
    repaired = new = 0
    for seed in HOUSES:
        gone, come, wrong = claims(seed)
        assert [(e.outcome, e.finding.rule.name, e.finding.at) for e in wrong] == [], seed
        repaired, new = repaired + len(gone), new + len(come)
    assert repaired > 8
    assert new > 8


def test_it_would_not_be_so_if_records_were_not_filled_up(monkeypatch: pytest.MonkeyPatch) -> None:
    """The test above can fail: where a record is taken to say all there is, silence passes for repair."""
    assert all(between("as it was", "altered", seed).entries for seed in HOUSES)  # compared as they should be

    def own(self: resolve.Resolver, upper: resolve.Judged, *, events: bool) -> resolve._Kept:
        return resolve._Kept({id(one) for one in self.this.results.findings} if upper is self.this else set())

    monkeypatch.setattr(resolve.Resolver, "_kept", own)
    monkeypatch.setattr(resolve.Change, "unlisted", False)
    assert any(claims(seed)[2] for seed in HOUSES)


MIRROR = {"repaired": "new", "can no longer be seen": "newly seen", "no longer there": "new", "still there": "still there",
          "changed": "changed"}  # fmt: skip


def test_the_other_way_round_repaired_is_new() -> None:
    """With earlier and later exchanged. What is settled has no counterpart: a later look is no older one."""
    mirrored = 0
    for seed in HOUSES:
        there = between("as it was", "altered, few holes", seed)
        back = between("altered, few holes", "as it was", seed)
        by_pair = {(id(e.later), id(e.earlier)): e for e in back.entries}
        assert len(by_pair) == len(there.entries)
        for e in there.entries:
            other = by_pair[id(e.earlier), id(e.later)]
            assert e.ground == other.ground, (seed, e.finding.at)
            if e.outcome in MIRROR and e.earlier is not None:
                assert other.outcome == MIRROR[e.outcome], (seed, e.finding.at)
                mirrored += e.outcome == "repaired"
    assert mirrored > 10


def test_nothing_hangs_on_the_order_of_the_files(tmp_path: Path) -> None:
    """Both records shuffled: the same outcomes in the same order."""
    for seed in HOUSES:
        plain = between("as it was", "altered, few holes", seed)
        mixed = of(
            tmp_path, *(houses.shuffled(KINDS[kind](seed), seed) for kind in ("as it was", "altered, few holes"))
        )
        assert [(e.outcome, e.ground, e.finding.identity) for e in plain.entries] == [
            (e.outcome, e.ground, e.finding.identity) for e in mixed.entries
        ], seed


def test_filling_up_gives_back_what_was_left_out() -> None:
    """A record with holes, filled up from the whole one, is judged like the whole one."""
    for seed in HOUSES:
        whole, holes = seen("as it was", seed), seen("holes", seed)
        upper, under = side_of(holes.installation), side_of(whole.installation)
        pairs = paired(under, upper, tag_links(under, upper))
        total = filled(upper, under, pairs, events=False, under_first=True)
        assert total is not None
        results = judge(total.installation, whole.rules, whole.tables)
        keys = [(f.rule.name, f.at, f.cause, f.certainty) for f in results.findings]
        assert sorted(keys) == sorted((f.rule.name, f.at, f.cause, f.certainty) for f in whole.results.findings), seed


# -- the two records of the fixture


@pytest.fixture(scope="module")
def cottage() -> Comparison:
    return compare(survey(EARLIER, AS_OF), survey(LATER, AS_OF))


COTTAGE = {
    ("conductor-too-small", "conductor W1 black"): ("new", "says otherwise"),
    ("conductor-too-small", "conductor W2 black"): ("new", "says otherwise"),
    ("conductor-too-small", "conductor W8 black"): ("new", "another time"),
    ("conductor-too-small", "conductor W20 black"): ("changed", ""),
    ("box-without-cover", "box stove"): ("newly seen", "cannot tell"),
    ("ungrounded-end-uncapped", "end W7 black (to)"): ("newly seen", "not listed"),
    ("ungrounded-end-uncapped", "end W7 white (to)"): ("newly seen", "not listed"),
    ("conductor-too-small", "conductor W7 black"): ("newly seen", "not listed"),
    ("conductor-too-small", "conductor W7 white"): ("newly seen", "not listed"),
    ("splice-taped-only", "joint J11"): ("still there", ""),
    ("box-without-cover", "box attic"): ("can no longer be seen", "silent"),
    ("conductor-too-small", "conductor W5 black"): ("settled", "settled"),
    ("conductor-too-small", "conductor W3 black"): ("no longer there", "another time"),
    ("single-receptacle-below-circuit", "device R1"): ("no longer there", "another time"),
    ("box-without-cover", "box hall"): ("repaired", "says otherwise"),
}


def test_every_outcome_in_one_pair_of_records(cottage: Comparison) -> None:
    assert outcomes(cottage) == COTTAGE
    assert {outcome for outcome, _ in COTTAGE.values()} == set(data("comparison")["outcomes"])


@pytest.mark.parametrize(
    "part",
    [
        pytest.param("Was there before the work began on 2026-05-04, seen by R. Example on 2026-04-10 (lines 26, 27, 45 "
                     "of the earlier record). Seen again by B. Sample on 2027-05-10.", id="before the work, seen again"),
        pytest.param("hall, cover: missing (line 37, R. Example on 2026-04-10) before; blank cover (line 37, B. Sample on "
                     "2027-05-10) now.", id="the observation that shows a repair"),
        pytest.param("taken out by log entry 1 at 2026-05-06 09:00 (line 55, K. Worker of the remodelling crew on "
                     "2026-05-06)", id="what says that it is gone"),
        pytest.param("Not looked at, by the later record: attic: hatch papered over.", id="a place not visited"),
        pytest.param("The earlier record could not tell: cover of stove (behind the stove).", id="what could not be told"),
        pytest.param("First, confirmed; was first, likely.", id="a change of certainty"),
        pytest.param("Was a question before the work began on 2026-05-04", id="a question"),
        pytest.param("approves nothing", id="no approval"),
    ],
)  # fmt: skip
def test_what_the_text_says(cottage: Comparison, part: str) -> None:
    text = " ".join(comparison_text(cottage, Asked("2026-05-04")).split())
    assert part in text


def test_before_the_work_is_said_only_where_it_is_shown(cottage: Comparison) -> None:
    """The day of the look itself is not before it."""
    for day, expected in (("2026-04-11", True), ("2026-04-10", False), ("2026-01-01", False)):
        held = comparison_data(cottage, Asked(day))["findings"]
        assert {one["before_work"] for one in held if one["earlier"]} == {expected}, day
        assert {one["before_work"] for one in held if not one["earlier"]} == {None}
        text = comparison_text(cottage, Asked(day))
        assert ("Was there before the work began" in text) == expected
        assert ("Not shown to be before the work" in " ".join(text.split())) != expected
    assert {one["before_work"] for one in comparison_data(cottage)["findings"]} == {None}


def test_a_record_without_visits_shows_no_date(tmp_path: Path) -> None:
    one, two = house(), after()
    del one["visits"]
    held = comparison_data(of(tmp_path, one, two), Asked("2026-05-04"))["findings"]
    assert {e["before_work"] for e in held if e["earlier"]} == {None}


@pytest.mark.parametrize("began", ["", "2026-05-04"])
def test_data_is_of_its_schema_and_agrees_with_the_text(cottage: Comparison, began: str) -> None:
    held = json.loads(json.dumps(comparison_data(cottage, Asked(began))))
    jsonschema.validate(held, schema("comparison"), cls=jsonschema.Draft202012Validator)
    assert sum(held["counts"]["outcomes"].values()) == len(held["findings"]) == len(COTTAGE)
    text = comparison_text(cottage, Asked(began))
    for one in held["findings"]:
        for side in ("earlier", "later"):
            assert one[side] is None or one[side]["identity"] in text


def test_schema_is_a_schema() -> None:
    """By the metaschema of draft 2020-12; its words are those of the data file."""
    jsonschema.Draft202012Validator.check_schema(schema("comparison"))
    words = data("comparison")
    assert list(words["outcomes"]) == schema("comparison")["$defs"]["outcome"]["enum"]
    grounds = schema("comparison")["$defs"]["entry"]["properties"]["ground"]["enum"]
    assert set(grounds) - {""} == set(words["gone"]) == set(words["come"])
    named = {value for name, value in vars(resolve).items() if name.isupper() and isinstance(value, str)}
    assert named == set(words["gone"])


def test_every_finding_that_stands_has_its_caution(cottage: Comparison) -> None:
    """What is settled, gone or repaired keeps at least the deferral."""
    for e in cottage.entries:
        alone = Comparison(cottage.earlier, cottage.later, [e])
        text = " ".join(comparison_text(alone).split())
        closed = e.outcome in ("settled", "no longer there", "repaired")
        assert (" ".join(e.finding.rule.caution.split()) in text) != closed
        assert " ".join(e.finding.rule.defer.split()) in text


def test_words_that_are_never_used(cottage: Comparison) -> None:
    """No conclusion of law and no all-clear, in our own sentences."""
    ours = json.dumps(data("comparison")).casefold()
    for word in ("liable", "fault of", "caused", "guilty", "negligen", "is safe", "compliant", "responsible"):
        assert word not in ours, word
    assert "no approval" in ours


# -- hostile text


HOSTILE = [
    "<script>alert(1)</script>", "=cmd|' /C calc'!A0", "\u200fabc\u200e", "\u5c4b\u6839\u88cf" * 20, "x" * 300,
    "%s {0} {item} {said}", "'; --", "a\u0301" * 40,
]  # fmt: skip


@pytest.mark.parametrize("text", HOSTILE, ids=range(len(HOSTILE)))
def test_hostile_text_comes_out_harmless(tmp_path: Path, text: str) -> None:
    """In every field that a person fills, on both sides."""

    def spoil(record: Plain) -> None:
        record["site"]["name"] = text
        record["visits"]["V1"]["by"] = text
        record["visits"]["V1"]["not_looked_at"] = [{"what": f"hall {text}", "why": text}]
        record["boxes"]["hall"]["where"] = text
        record["cables"]["W3"]["legend"] = text
        record["panels"]["A"]["breakers"]["3"] = {"amps": 20, "label": text}
        record.setdefault("log", []).append({"at": "2026-04-11 10:00", "did": "taken out", "what": text, "by": text})

    found = of(
        tmp_path,
        house(spoil),
        after(spoil, cut("boxes", "hall", "cover"), put("joints", "J2", "connector", to="twist-on")),
    )
    assert {e.outcome for e in found.entries} >= {"still there", "can no longer be seen", "repaired"}
    shown = comparison_text(found, Asked("2026-05-04", (text,)))
    assert [line for line in shown.splitlines() if cells(line) > WIDTH] == []
    assert not {"\u200f", "\u200e", "\x1b"} & set(shown)
    jsonschema.validate(
        json.loads(json.dumps(comparison_data(found))), schema("comparison"), cls=jsonschema.Draft202012Validator
    )


def test_tags_as_odd_as_the_form_allows(tmp_path: Path) -> None:
    """Blanks, brackets, dots and the words that end a reference."""
    odd = ["a box", "b (from)", "c.d #1", "it's", "e_ f-g", "hall box box", "z (to)"]
    rng = random.Random(5)
    for _ in range(20):
        record = house()
        names = dict(zip(["W1", "W2", "W3", "hall", "lamp", "shed", "LT1"], rng.sample(odd, 7), strict=True))
        text = json.dumps({key: record[key] for key in ("cables", "boxes", "joints", "devices")})
        for old, new in names.items():
            text = text.replace(f'"{old}"', json.dumps(new)).replace(f'"{old} ', json.dumps(new)[:-1] + " ")
        record.update(json.loads(text))
        try:
            one = compared.surveyed(tmp_path, record, "one.yaml")
        except Refused:
            continue  # such tags make a record that nobody can read
        two = compared.surveyed(tmp_path, compared.retagged({**record, "visits": after()["visits"]}, 3), "two.yaml")
        assert told(compare(one, two)) == []


@pytest.mark.parametrize("what", ["nothing is done", "much is done"])
def test_the_demo_is_eighty_columns(tmp_path: Path, demo: tuple[Plain, Survey], what: str) -> None:
    record, one = demo
    two = one
    if what == "much is done":
        visits = {**record["visits"], "V3": {"on": "2027-05-10", "by": "B. Sample"}}
        two = compared.surveyed(tmp_path, {**compared.altered(record, 4, 0.4), "visits": visits})
    lines = comparison_text(compare(one, two), Asked("2026-06-01")).splitlines()
    assert [line for line in lines if cells(line) > WIDTH] == []


# -- the command


def write(folder: Path, *records: Plain) -> list[str]:
    files = []
    for number, record in enumerate(records):
        file = folder / f"{number}.yaml"
        file.write_text(houses.as_yaml(record), encoding="utf-8")
        files.append(str(file))
    return files


@pytest.mark.parametrize(
    ("earlier", "later", "options", "status"),
    [
        pytest.param([], [], [], 0, id="nothing new"),
        pytest.param([], [put("boxes", "hall", "cover", to="blank cover")], [], 0, id="repaired"),
        pytest.param([put("boxes", "hall", "cover", to="blank cover")], [], [], 1, id="new"),
        pytest.param([put("boxes", "hall", "cover", to={"not_seen": "shelf before it"})], [], [], 0, id="newly seen"),
        pytest.param([put("boxes", "hall", "cover", to={"not_seen": "shelf before it"})], [], ["--include-newly-seen"], 1,
                     id="newly seen, and asked for"),
        pytest.param([put("cables", "W3", "gauge", to="12")], [put("cables", "W3", "gauge", to="14 or 12")], [], 0,
                     id="a new question"),
        pytest.param([put("cables", "W3", "gauge", to="14 or 12")], [put("cables", "W3", "gauge", to="14")], [], 1,
                     id="a question that is a defect now"),
        pytest.param([put("cables", "W3", "gauge", to="14")], [put("cables", "W3", "gauge", to="14 or 12")], [], 0,
                     id="a defect that is a question now"),
        pytest.param([], [put("devices", "R1", "wired_to", to="W9")], [], 3, id="a record of bad form"),
        pytest.param([], [], ["--as-of", "2027-01-01", "--as-of-later", "2027-01-01"], 2, id="one date and two"),
        pytest.param([], [], ["--as-of-later", "2027-01-01"], 2, id="half a pair of dates"),
        pytest.param([], [], ["--as-of-earlier", "2026-04-10", "--as-of-later", "2027-05-10"], 0, id="two dates"),
        pytest.param([], [], ["--rules", "nowhere"], 2, id="rules that are not there"),
        pytest.param([], [], ["--accepted", "nowhere.yaml"], 2, id="a file that is not there"),
        pytest.param([], [], ["--work-began", "soon"], 2, id="a day that is none"),
    ],
)  # fmt: skip
def test_exit_status(tmp_path: Path, earlier: list[Any], later: list[Any], options: list[str], status: int) -> None:
    files = write(tmp_path, house(*earlier), after(*later))
    done = run("compare", *files, *options)
    assert done.exit_code == status, done.stdout + done.stderr


def test_a_failed_rule_has_its_status(tmp_path: Path) -> None:
    (tmp_path / "own.py").write_text(FAILING)
    files = write(tmp_path, house(), after(put("boxes", "hall", "cover", to="blank cover")))
    done = run("compare", *files, "--rules", str(tmp_path / "own.py"))
    assert done.exit_code == 4
    assert "whose rule failed" in done.stdout


def test_nothing_to_check_has_its_status(tmp_path: Path) -> None:
    bare = {name: HOUSE[name] for name in ("asfound", "site", "supply")}
    files = write(tmp_path, house(), {**bare, "panels": {"A": {}}})
    assert run("compare", *files).exit_code == 5


def test_the_command_gives_what_the_functions_give(cottage: Comparison) -> None:
    """The same twice, byte for byte and whatever the hash seed, as text; and as data."""
    at = ["compare", str(EARLIER), str(LATER), "--as-of", AS_OF, "--work-began", "2026-05-04"]
    text, again = (run_apart(*at, PYTHONHASHSEED=seed) for seed in ("1", "2"))
    assert text.returncode == 1
    assert text.stdout == again.stdout
    assert max(map(cells, text.stdout.splitlines())) <= WIDTH
    held = json.loads(run(*at, "--format", "json").stdout)
    jsonschema.validate(held, schema("comparison"), cls=jsonschema.Draft202012Validator)
    assert [(one["rule"], one["outcome"]) for one in held["findings"]] == [
        (e.finding.rule.name, e.outcome) for e in cottage.entries
    ]
    assert held["run"]["work_began"] == "2026-05-04"


def test_an_amendment_counts_for_both(tmp_path: Path) -> None:
    """A grade that an office raises is raised in both records, so nothing is changed by it."""
    amend = tmp_path / "office.yaml"
    amend.write_text("amendment: Office\neffective: '2020-01-01'\nsource: invented\n"
                     "grades: {splice-taped-only: {raise: 1, why: our experience}}\n")  # fmt: skip
    files = write(tmp_path, house(), after())
    held = json.loads(run("compare", *files, "--amend", str(amend), "--format", "json", "--as-of", AS_OF).stdout)
    one = next(one for one in held["findings"] if one["rule"] == "splice-taped-only")
    assert (one["outcome"], one["later"]["grade"]) == ("still there", "hands off")
    assert held["run"]["amendments"][0]["name"] == "Office"


def test_entries_stand_worst_first(cottage: Comparison) -> None:
    """Within one outcome by grade; questions last."""
    grades = data("grades")["grades"]
    for outcome in data("comparison")["outcomes"]:
        ranks = [(e.finding.certainty == "possible", grades.index(e.finding.grade)) for e in cottage.of(outcome)]
        assert ranks == sorted(ranks)
    places = [natural(e.finding.place) for e in cottage.of("new")]
    assert places == sorted(places)


def test_findings_of_one_identity_are_all_kept(tmp_path: Path) -> None:
    """A record of any house gives each of its findings once and no more."""
    for seed in seeds(5):
        done = compared.surveyed(tmp_path, houses.house(seed, wild=0.8))
        found = compare(done, done)
        assert sorted(id(e.later) for e in found.entries) == sorted(map(id, done.results.findings))
