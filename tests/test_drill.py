"""Exercises: made, hidden, marked, scored and explained; in the terminal, from files and on a page."""

from __future__ import annotations

import base64
import copy
import functools
import html
import json
import os
import random
import re
import subprocess
import sys
from collections.abc import Iterable
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner

import browser
from asfound.command import main
from asfound.data import data
from asfound.drill import text, words
from asfound.drill.answers import Answers, nearest, read_answer_bytes, rule_or_topic, tag_in_words, written
from asfound.drill.asked import Asker, Stopped
from asfound.drill.exercise import Exercise, from_file, planted_in
from asfound.drill.houses import IN3, METAL, fill, house, leg_of
from asfound.drill.page import page
from asfound.drill.plain import Wiring, plain
from asfound.drill.planters import planters
from asfound.drill.score import score
from asfound.drill.shown import places
from asfound.drill.shown import words as in_words
from asfound.drill.written import as_yaml
from asfound.load import Refused, load_bytes, load_file
from asfound.plugins import Collected, collect

FIXTURES = Path(__file__).parent.parent / "fixtures"
AS_OF = "2026-05-20"
SAFE = re.compile(
    r"\b(is|are|was|looks?) (now )?(safe|ok|okay|fine)\b|\bpassed\b|\bno hazard|\ball clear\b", re.IGNORECASE
)
needs_browser = pytest.mark.skipif(browser.CHROMIUM is None, reason="no Chromium is installed here")


@functools.cache
def rules() -> Collected:
    return collect()


@functools.cache
def small() -> Exercise:
    """Five circuits, three planted defects, two facts that nobody saw."""
    return planted_in(house(7, circuits=5, doubts=2), AS_OF, rules(), 7, 3)


def run(*arguments: str, lines: Iterable[str] = ()) -> Any:
    return CliRunner().invoke(main, ["drill", *arguments, "--as-of", AS_OF], input="\n".join(lines))


# -- houses


@pytest.mark.parametrize("seed", range(12))
def test_house_has_eight_to_twenty_circuits(seed: int) -> None:
    """Breakers that feed a cable, less those of a sub-panel, which belong to one circuit of the first."""
    record = house(seed)
    assert 8 <= len(record["panels"]["A"]["breakers"]) <= 20
    assert len(house(seed, circuits=3)["panels"]["A"]["breakers"]) <= 4  # a kitchen counter counts two


def gauge(record: dict[str, Any], cable: str) -> str:
    """AWG of a cable, or of the wires in a conduit."""
    held = record["cables"][cable]
    return str(held["gauge"]) if "gauge" in held else str(held["type"].split("/")[0])


@pytest.mark.parametrize("seed", range(12))
def test_cables_of_a_house_have_the_size_for_their_breakers(seed: int) -> None:
    """15 A on 14 AWG, 20 A on 12, 30 A on 10; 40 A on 8 and 50 A on 6 AWG by ampacity at 60 °C.

    NFPA 70 (NEC) 240.4(D) and Table 310.16, from memory.
    """
    largest = {"14": 15, "12": 20, "10": 30, "8": 40, "6": 55}
    record = house(seed)
    wiring = Wiring(record)
    for breaker, held in wiring.part("breakers").items():
        for cable in wiring.circuit(breaker) & record["cables"].keys():
            assert held["amps"] <= largest[gauge(record, cable)], f"{breaker}, {cable}"


@pytest.mark.parametrize("seed", range(12))
def test_boxes_of_a_house_hold_what_is_in_them(seed: int) -> None:
    """NFPA 70 (NEC) 314.16(B), from memory: each conductor, the grounds once, a device twice for each gang."""
    record = house(seed)
    wiring = Wiring(record)
    for tag, box in record["boxes"].items():
        sizes = [gauge(record, cable) for cable, _ in wiring.ends_at(tag)
                 for _ in wiring.wires(cable) or ("black", "red")]  # fmt: skip
        yokes = [record["devices"][one] for one in wiring.devices_at(tag)]
        yokes = [one for one in yokes if re.search("receptacle|switch", one["kind"])]
        needed = fill(sizes, grounds=len(wiring.ends_at(tag)), device=sizes[0] if yokes else None,
                      gangs=sum(one.get("gangs", 1) for one in yokes))  # fmt: skip
        assert needed <= (box["volume"] if box["kind"] == "nonmetallic" else METAL[box["kind"]]), tag


@pytest.mark.parametrize(
    ("sizes", "grounds", "device", "gangs", "expected"),
    [
        pytest.param(["14"] * 4, 2, "14", 1, 14.0, id="two 14/2 cables and a switch"),
        pytest.param(["12"] * 4, 2, None, 1, 11.25, id="two 12/2 cables spliced"),
        pytest.param(["14"] * 6, 5, None, 1, 14.5, id="a fifth ground adds a quarter"),
        pytest.param(["10"] * 3, 1, "10", 2, 20.0, id="dryer receptacle two gangs wide"),
    ],
)
def test_box_fill(sizes: list[str], grounds: int, device: str | None, gangs: int, expected: float) -> None:
    """NFPA 70 (NEC) Table 314.16(B): 14 AWG 2.0, 12 AWG 2.25, 10 AWG 2.5 in³; from memory."""
    assert (IN3["14"], IN3["12"], IN3["10"]) == (2.0, 2.25, 2.5)
    assert fill(sizes, grounds=grounds, device=device, gangs=gangs) == expected


@pytest.mark.parametrize(("space", "leg"), [(1, "L1"), (2, "L1"), (3, "L2"), (4, "L2"), (5, "L1")])
def test_leg_of_a_space(space: int, leg: str) -> None:
    """Common practice, no source: the rows of a panel take turns."""
    assert leg_of(space) == leg


HOUSES = range(60)


def test_air_conditioner_has_a_disconnect_and_a_way_outdoors() -> None:
    """Within sight, NFPA 70 (NEC) 440.14; NM-B stays indoors, 334.12(B); both from memory."""
    seen = 0
    for seed in HOUSES:
        record = house(seed)
        wiring = Wiring(record)
        if "AC" in record["devices"]:
            seen += 1
            ((last, _),) = wiring.ends_at("AC")
            (switch,) = wiring.devices_at(wiring.at(last, "from"))
            assert record["devices"][switch]["kind"] == "double-pole switch"
            path = [last, *(cable for cable, side in wiring.ends_at(wiring.at(last, "from")) if side == "to")]
            assert not any("NM-B" in str(record["cables"][cable].get("type")) for cable in path)
    assert seen


def test_smoke_alarms_are_joined() -> None:
    """The red goes on to the signal lead of each alarm; it is capped nowhere."""
    seen = 0
    for seed in HOUSES:
        record = house(seed)
        if "SM1" in record["devices"]:
            seen += 1
            notes = {joint["note"]: joint["ends"] for joint in record["joints"].values() if "note" in joint}
            reds = [notes[f"with the signal lead of SM{number}"] for number in (1, 2)]
            assert reds[0] == reds[1]
            cable = record["cables"][reds[0][0].split(" ")[0]]
            assert "capped" not in [end.get("red") for end in (cable["from"], cable["to"]) if isinstance(end, dict)]
    assert seen


def test_protection_and_wiring_fit_the_years() -> None:
    """Breakers with both protections since about 2014, with two poles since about 2018; from memory."""
    tied = 0
    for seed in HOUSES:
        record = house(seed)
        years = {cable["installed"] for cable in record["cables"].values()}
        assert min(years) >= 2014
        breakers = record["panels"]["A"]["breakers"]
        double = [one for space, one in breakers.items() if "/" in space and one["protection"] == "dual"]
        tied += len(double)
        assert not double or min(years) >= 2018
    assert tied


def test_volumes_of_sound_boxes_vary() -> None:
    volumes = [box["volume"] for seed in HOUSES for box in house(seed)["boxes"].values() if "volume" in box]
    assert len(set(volumes)) >= 6
    assert max(volumes.count(one) for one in set(volumes)) < len(volumes) / 2


# -- planted: true, and no give-away


def changed(name: str, seeds: Iterable[int] = range(120)) -> tuple[dict[str, Any], dict[str, Any], Any]:
    """The first house where a kind of defect has a place: before, with it, and the change."""
    for seed in seeds:
        record = house(seed)
        change = next(iter(planters()[name].changes(Wiring(record))), None)
        if change is not None:
            before = copy.deepcopy(record)
            change.edit()
            return before, record, change
    raise AssertionError(name)


def test_jumper_is_where_there_is_no_ground() -> None:
    """The cable has none, so the finding says the truth; whoever says that a ground is missing there is right too."""
    _, record, change = changed("jumper behind the plate")
    cable = next(one for one, held in record["cables"].items() if held["type"].endswith("/2 NM"))
    assert not any(f"{cable} bare" in joint["ends"] for joint in record["joints"].values())
    assert "bare" not in json.dumps(record["cables"][cable])
    exercise = planted_in(house(11, circuits=5), AS_OF, rules(), 3, 1, ["jumper behind the plate"])
    (planted,) = exercise.planted
    for at in (planted.at, *(exercise.dangers[0].findings[0]["at"]["place"].split(" in ")[1:])):
        result = score(exercise.key, [mark(at.rstrip("."), "ground-left-off")])
        assert [one["by"] for one in result["found"]] == ["rule"]
    assert change.at in record["devices"]


def test_circuits_that_are_joined_are_on_one_leg() -> None:
    """Between two legs the joined pair would trip both breakers at once."""
    count = 0
    for seed in HOUSES:
        record = house(seed)
        for change in planters()["two circuits joined"].changes(Wiring(record)):
            legs = {record["panels"][tag.split(" ")[0]]["breakers"][tag.split(" ")[1]]["leg"] for tag in change.touches
                    if tag in Wiring(record).part("breakers")}  # fmt: skip
            assert len(legs) == 1
            count += 1
    assert count


def test_bus_is_of_a_rating_that_is_made() -> None:
    before, record, _ = changed("bus too small for its main")
    assert (before["panels"]["A"]["main_amps"], record["panels"]["A"]["bus_amps"]) == (200, 150)


def test_what_the_directory_said_is_gone_with_it() -> None:
    before, record, _ = changed("directory gone")
    assert any("label" in one for one in before["panels"]["A"]["breakers"].values())
    assert not any("label" in one for one in record["panels"]["A"]["breakers"].values())


def test_aluminium_is_in_houses_of_its_years() -> None:
    """Branch circuits in aluminium: about 1965 to 1973, from memory."""
    _, record, change = changed("copper on aluminium")
    assert 1965 <= record["site"]["built"] <= 1973
    assert record["cables"][change.at]["installed"] == record["site"]["built"]
    assert not list(planters()["copper on aluminium"].changes(Wiring(house(7)))) or house(7)["site"]["built"] < 1974


def test_breaker_was_off_as_the_log_says() -> None:
    _, record, _ = changed("capped without a test")
    assert [(one["did"], one.get("to")) for one in record["log"]] == [("switched", "off"), ("capped", None)]


@pytest.mark.parametrize("name", ["two cables on one breaker", "live end left bare", "cable kept for later",
                                  "neutrals crossed", "two circuits joined"])  # fmt: skip
def test_new_cables_do_not_stand_out(name: str) -> None:
    """Not by their year, a name made of their tag, or the last number and place in every house."""
    last = made = 0
    for seed in range(40):
        record = house(seed)
        before = set(record["cables"]), set(record["boxes"])
        change = next(iter(planters()[name].changes(Wiring(record))), None)
        if change is None:
            continue
        change.edit()
        (cable,) = record["cables"].keys() - before[0]
        made += 1
        last += cable == list(record["cables"])[-1]
        assert record["cables"][cable]["installed"] in {record["cables"][one]["installed"] for one in before[0]}
        assert not any(cable in box for box in record["boxes"].keys() - before[1])
    assert made > 3
    assert last < made / 4


def test_facts_that_nobody_saw_keep_no_planter_from_looking() -> None:
    """A doubted or unseen fact fits no planter and stops none."""
    for seed in range(6):
        wiring = Wiring(house(seed, doubts=100))
        for planter in planters().values():
            list(planter.changes(wiring))


def test_facts_left_unseen() -> None:
    def count(record: Any) -> int:
        if isinstance(record, dict):
            return ("not_seen" in record) + sum(map(count, record.values()))
        return sum(map(count, record)) if isinstance(record, list) else 0

    assert count(house(3)) == 0
    assert count(house(3, doubts=2)) == 2


# -- seeds and planting


def test_same_seed_same_exercise() -> None:
    again = planted_in(house(7, circuits=5, doubts=2), AS_OF, rules(), 7, 3)
    assert again.identity == small().identity
    assert again.key == small().key
    assert page(again) == page(small())


def test_same_seed_same_page_in_another_process(tmp_path: Path) -> None:
    """Nothing hangs on the order in which sets of names happen to be kept."""
    made = []
    for number in ("1", "2"):
        there = tmp_path / f"{number}.html"
        command = [
            sys.executable,
            "-m",
            "asfound",
            "drill",
            "--house",
            "--circuits",
            "5",
            "--seed",
            "9",
            "--as-of",
            AS_OF,
        ]
        subprocess.run([*command, "--page", str(there)], env={**os.environ, "PYTHONHASHSEED": number}, check=True,
                       capture_output=True)  # fmt: skip
        made.append(there.read_bytes())
    assert made[0] == made[1]


@pytest.mark.uncounted
def test_no_two_seeds_give_the_same_exercise() -> None:
    """Over the same house, and over houses of their own."""
    base = house(7, circuits=5)
    same = [planted_in(base, AS_OF, rules(), seed, 2).identity for seed in range(25)]
    assert len(set(same)) == 25
    assert len({json.dumps(house(seed)) for seed in range(200)}) == 200


def test_planting_leaves_the_record_given_as_it_was() -> None:
    record = house(7, circuits=5)
    before = copy.deepcopy(record)
    planted_in(record, AS_OF, rules(), 7, 3)
    assert record == before


def test_each_planted_defect_is_one_danger() -> None:
    """Findings that follow from the same mistake are one thing to be found."""
    assert [bool(danger.planted) for danger in small().dangers] == [True] * 3
    for planted, danger in ((p, d) for p in small().planted for d in small().dangers if d.planted == p.name):
        first = danger.findings[0]
        assert (first["rule"], first["at"]["item"]) == planted.expects[0]


@pytest.mark.parametrize("name", ["demo.yaml", "small.yaml", "lawful/subpanel-with-large-main.yaml"])
def test_planting_into_a_record_of_somebody(name: str) -> None:
    """What is planted is found beside all that was found before, and nothing else is."""
    record = plain(load_file(FIXTURES / name).root)
    before = {
        (f["rule"], f["at"]["item"]) for d in from_file(FIXTURES / name, AS_OF, rules()).dangers for f in d.findings
    }
    before = {one for one in before if not one[0].startswith("photograph")}
    exercise = planted_in(record, AS_OF, rules(), 5, 2)
    after = {(f["rule"], f["at"]["item"]) for danger in exercise.dangers for f in danger.findings}
    assert len(exercise.planted) == 2
    assert after - before <= {one for planted in exercise.planted for one in planted.allowed}
    assert {one for planted in exercise.planted for one in planted.expects} <= after - before
    assert before <= after


def test_planted_record_names_nobody_and_says_what_it_is() -> None:
    """Nobody is made a witness of what was made up: no client, address, person or photograph is left."""
    record = plain(load_file(FIXTURES / "demo.yaml").root)
    record["site"] |= {"client": "Q. Particular", "address": "17 Particular Lane"}
    record["cables"]["W1"]["by"] = "Q. Particular"
    record["labels"][0]["by"] = "Q. Particular"
    made = planted_in(record, AS_OF, rules(), 5, 1).record
    said = json.dumps(made)
    for name in ("Particular", "R. Example", "K. Sample", ".jpg"):
        assert name not in said
    assert made["invented"] is True
    assert "training record" in made["site"]["name"]
    assert any("planted" in note for note in made["notes"])


@pytest.mark.parametrize("path", ["demo.yaml", "small.yaml", "compare/later.yaml"])
def test_written_record_is_read_again_as_it_was(path: str) -> None:
    record = plain(load_file(FIXTURES / path).root)
    assert plain(load_bytes(as_yaml(record, "one\ntwo").encode(), "again.yaml").root) == record


def test_written_record_gives_the_same_dangers(tmp_path: Path) -> None:
    path = tmp_path / "written.yaml"
    path.write_text(as_yaml(small().record), encoding="utf-8")
    again = from_file(path, AS_OF, rules())
    assert again.identity == small().identity
    assert {f["identity"] for d in again.dangers for f in d.findings} == {
        f["identity"] for d in small().dangers for f in d.findings
    }


def test_possible_defects_are_questions_and_no_dangers(tmp_path: Path) -> None:
    record = house(7, circuits=3)
    record["cables"]["W1"]["gauge"] = {"one_of": [14, 18]}
    path = tmp_path / "doubt.yaml"
    path.write_text(as_yaml(record), encoding="utf-8")
    exercise = from_file(path, AS_OF, rules())
    assert exercise.questions
    assert exercise.dangers == ()


# -- what is shown


def test_record_is_shown_whole_and_findings_are_hidden() -> None:
    """Every tag stands in it; no sentence, title, caution or story of a danger does."""
    exercise = small()
    shown = f"{text.head_text(exercise)}\n{text.record_text(exercise)}\n{text.checks_text(exercise)}"
    flat = " ".join(shown.split())
    for part in ("panels", "cables", "boxes", "joints", "devices"):
        for tag in exercise.record[part]:
            assert tag in exercise.tags
            assert tag in flat
    for danger in exercise.dangers:
        for finding in danger.findings:
            for said in (finding["statement"], finding["title"], finding["caution"], danger.why, danger.planted):
                assert said not in flat


def test_every_place_of_the_demo_is_shown() -> None:
    """Untraced cables, doubts, readings and log too."""
    record = plain(load_file(FIXTURES / "demo.yaml").root)
    flat = " ".join(
        place.title + " ".join(place.facts) + " ".join(p.words for p in place.parts) for place in places(record)
    )
    tags = {tag for place in places(record) for tag in place.tags}
    assert {"W69", "north wall", "A 12", "B 2/4", "PUMP", "J30", "log", "readings", "labels", "instruments"} <= tags
    for said in ("not seen: goes down inside", "(by eye)", "2003 or 2009", "118 V", "called dead"):
        assert said in flat


@pytest.mark.parametrize("topic", ["a", "b", "c", "d to k", "l", "m", "n", "o to r", "s to z"])
def test_every_danger_can_be_marked(topic: str) -> None:
    """In the whole records of every rule: at a tag that is shown, and the mark is then found."""
    first, last = topic[0], topic[-1]
    paths = [path for path in sorted((FIXTURES / "defects").glob("*.yaml")) if first <= path.stem[0] <= last]
    assert paths
    for path in paths:
        exercise = from_file(path, AS_OF, rules())
        for number, danger in enumerate(exercise.key["dangers"]):
            for one in danger["members"]:
                shown = [tag for tag in one["near"] if tag in exercise.tags]
                assert shown, f"{path.stem}: {one}"
                result = score(exercise.key, [mark(shown[0], one["rule"])])
                assert result["false_alarms"] == []
                assert len(result["found"]) == 1, number


@pytest.mark.parametrize(
    ("value", "expected"),
    [
        pytest.param({"is": 14, "how": "by eye"}, "14 (by eye)", id="doubted"),
        pytest.param({"not_seen": "painted"}, "not seen: painted", id="not seen"),
        pytest.param({"one_of": [14, 12], "how": "told"}, "14 or 12", id="listed"),
        pytest.param({"load_hot": ["W1 black", "W2 black"]}, "load hot W1 black and W2 black", id="terminals"),
        pytest.param(True, "yes", id="yes"),
        pytest.param(20.0, "20", id="whole number"),
    ],
)
def test_values_in_words(value: Any, expected: str) -> None:
    assert in_words(value) == expected


def test_lines_of_the_terminal_fit() -> None:
    exercise = small()
    marks = [{"at": "A", "what": "boxes", "grade": "first"}]
    shown = [text.head_text(exercise), text.record_text(exercise), text.checks_text(exercise),
             text.score_text(exercise, marks, score(exercise.key, marks)), text.planters_text(planters())]  # fmt: skip
    assert max(len(line) for part in shown for line in part.splitlines()) <= 80


# -- scoring


def member(rule: str, topic: str, near: list[str], wide: list[str]) -> dict[str, Any]:
    return {"rule": rule, "topic": topic, "own": near, "near": near, "wide": [*near, *wide]}


KEY = {
    "grades": ["hands off", "first", "in turn", "remark"],
    "dangers": [
        {"grade": 0, "members": [member("box-without-cover", "boxes", ["hall"], ["W1", "J1"])]},
        {"grade": 1, "members": [member("conductor-too-small", "overcurrent", ["W3"], ["den", "hall"]),
                                 member("neutral-too-small", "overcurrent", ["W3"], ["den"])]},
        {"grade": 2, "members": [member("box-overfull", "boxes", ["den"], ["W3"])]},
    ],
    "questions": [member("cable-support", "cables", ["W9"], ["attic"])],
    "checks": [{"rank": 4, "points": 1.0}, {"rank": 1, "points": 5.0}],
    "topics": {"box-overfull": "boxes", "box-set-back": "boxes", "cable-support": "cables"},
}  # fmt: skip


def mark(at: str, what: str, grade: str = "") -> dict[str, str]:
    return {"at": at, "what": what, "grade": grade}


def short(result: dict[str, Any]) -> dict[str, Any]:
    return {
        "found": [(one["danger"], one["by"]) for one in result["found"]], "missed": result["missed"],
        "false": result["false_alarms"], "asked": result["questions"], "again": result["again"],
        "told": result["told"],
    }  # fmt: skip


@pytest.mark.parametrize(
    ("marks", "expected"),
    [
        pytest.param([], {"missed": [0, 1, 2]}, id="nothing marked"),
        pytest.param([mark("hall", "box-without-cover")], {"found": [(0, "rule")], "missed": [1, 2]}, id="at the thing"),
        pytest.param([mark("J1", "box-without-cover")], {"found": [(0, "rule")], "missed": [1, 2]}, id="beside it by rule"),
        pytest.param([mark("hall", "boxes")], {"found": [(0, "topic")], "missed": [1, 2]}, id="at the thing by topic"),
        pytest.param([mark("J1", "boxes")], {"false": [0], "missed": [0, 1, 2]}, id="beside it by topic says too little"),
        pytest.param([mark("attic", "box-without-cover")], {"false": [0], "missed": [0, 1, 2]}, id="somewhere else"),
        pytest.param([mark("hall", "box-overfull")], {"found": [(0, "place")], "missed": [1, 2]}, id="another kind there"),
        pytest.param([mark("hall", "cable-support")], {"found": [(0, "place")], "missed": [1, 2]}, id="another topic there"),
        pytest.param([mark("J1", "box-set-back")], {"found": [(0, "place")], "missed": [1, 2]}, id="another kind beside it"),
        pytest.param([mark("J1", "cable-support")], {"false": [0], "missed": [0, 1, 2]}, id="another topic beside it"),
        pytest.param(
            [mark("hall", "box-overfull"), mark("hall", "box-without-cover")],
            {"found": [(0, "rule")], "missed": [1, 2], "false": [0]}, id="the place counts once, for the better mark",
        ),
        pytest.param(
            [mark("hall", "something else") | {"said": "it hums"}], {"missed": [0, 1, 2], "told": [0]}, id="own words",
        ),
        pytest.param(
            [mark("attic", "boxes") | {"said": "it hums"}], {"missed": [0, 1, 2], "told": [0]},
            id="a topic with a sentence, at another place",
        ),
        pytest.param([mark("W3", "neutral-too-small")], {"found": [(1, "rule")], "missed": [0, 2]}, id="what follows counts"),
        pytest.param(
            [mark("W3", "conductor-too-small"), mark("W3", "neutral-too-small")],
            {"found": [(1, "rule")], "missed": [0, 2], "again": [1]}, id="one cause marked twice",
        ),
        pytest.param(
            [mark("den", "boxes"), mark("den", "box-overfull")],
            {"found": [(2, "rule")], "missed": [0, 1], "again": [0]}, id="the rule goes before the topic",
        ),
        pytest.param([mark("W9", "cables")], {"missed": [0, 1, 2], "asked": [0]}, id="what can only be asked about"),
        pytest.param(
            [mark("den", "conductor-too-small"), mark("hall", "boxes"), mark("den", "box-overfull")],
            {"found": [(1, "rule"), (0, "topic"), (2, "rule")]}, id="all of it",
        ),
    ],
)  # fmt: skip
def test_found_missed_and_false_alarms(marks: list[dict[str, str]], expected: dict[str, Any]) -> None:
    empty: dict[str, Any] = {"found": [], "missed": [], "false": [], "asked": [], "again": [], "told": []}
    assert short(score(KEY, marks)) == empty | expected


def test_of_two_dangers_the_one_of_the_very_thing_is_meant() -> None:
    """A box wet and fed by A 2, and A 2 corroded: a mark at A 2 means the breaker, by whatever it is named."""
    box = member("box-burnt-or-wet", "condition", ["basin"], []) | {"near": ["basin", "A 2"]}
    breaker = member("breaker-wet-loose-or-corroded", "condition", ["A 2"], ["A"])
    key = {**KEY, "dangers": [{"grade": 0, "members": [box]}, {"grade": 1, "members": [breaker]}]}
    for what in ("condition", "panel-damaged-or-corroded"):
        assert [one["danger"] for one in score(key, [mark("A 2", what)])["found"]] == [1]


@pytest.mark.parametrize(
    ("grade", "expected"),
    [
        pytest.param("hands off", "too high", id="above it"),
        pytest.param("first", "right", id="as it is"),
        pytest.param("in turn", "too low", id="below it"),
        pytest.param("remark", "too low", id="far below it"),
        pytest.param("", "not given", id="left open"),
    ],
)
def test_grade(grade: str, expected: str) -> None:
    result = score(KEY, [mark("W3", "conductor-too-small", grade)])
    assert result["grades"] == {"right": 0, "too low": 0, "too high": 0, "not given": 0} | {expected: 1}


@pytest.mark.parametrize(
    ("marked", "right", "first"),
    [
        pytest.param([0, 1, 2], 3, True, id="worst first"),
        pytest.param([2, 1, 0], 0, False, id="backwards"),
        pytest.param([0, 2, 1], 2, True, id="two of three pairs"),
        pytest.param([1, 0], 0, False, id="one pair"),
        pytest.param([2], 0, False, id="no pair"),
    ],
)
def test_order_of_danger(marked: list[int], right: int, first: bool) -> None:
    marks = [mark("hall", "box-without-cover"), mark("W3", "conductor-too-small"), mark("den", "box-overfull")]
    result = score(KEY, [marks[number] for number in marked])
    assert result["order"] == {"pairs": len(marked) * (len(marked) - 1) // 2, "right": right}
    assert result["first"] is first


@pytest.mark.parametrize(
    ("chosen", "expected"),
    [
        pytest.param(2, {"chosen": 2, "rank": 1, "best": 2}, id="the best"),
        pytest.param(1, {"chosen": 1, "rank": 4, "best": 2}, id="another"),
        pytest.param(None, {"chosen": None, "rank": None, "best": 2}, id="none"),
        pytest.param(9, {"chosen": None, "rank": None, "best": 2}, id="one that is not there"),
    ],
)
def test_next_check(chosen: int | None, expected: dict[str, Any]) -> None:
    assert score(KEY, [], chosen)["check"] == expected
    assert score({**KEY, "checks": []}, [], chosen)["check"] is None


def test_next_checks_hold_the_best_of_the_plan() -> None:
    ranks = [check.rank for check in small().checks]
    assert 1 in ranks
    assert len(ranks) == len(set(ranks)) > 1


# -- explaining


def test_everything_is_explained_from_evidence_caution_and_source() -> None:
    """Also what was missed; and what nothing answers to is called no all-clear."""
    exercise = small()
    marks = [mark(sorted(exercise.key["dangers"][0]["members"][0]["near"])[0],
                  exercise.key["dangers"][0]["members"][0]["rule"], "first"),
             mark("site", "voltage_drop")]  # fmt: skip
    shown = " ".join(text.score_text(exercise, marks, score(exercise.key, marks)).split())
    for danger in exercise.dangers:
        first = danger.findings[0]
        for said in (
            danger.title,
            danger.why,
            first["statement"],
            first["caution"],
            first["local_code"],
            first["source"],
        ):
            assert said in shown
        assert first["evidence"][0]["item"] in shown
    assert "Found 1 of 3; missed 2; 1 false alarm." in shown
    assert "no all-clear" in shown
    assert data("wording")["statement"].strip() in shown


@pytest.mark.parametrize("count", range(3))
def test_nothing_says_that_it_is_safe(count: int) -> None:
    """Nor does it when nothing was found, nothing missed, or there was nothing to find."""
    exercise = small() if count else planted_in(house(3, circuits=3), AS_OF, rules(), 3, 0)
    marks = [mark(d["members"][0]["near"][0], d["members"][0]["rule"]) for d in exercise.key["dangers"]][
        : 3 * (count - 1)
    ]
    result = score(exercise.key, marks)
    said = f"{text.head_text(exercise)} {text.score_text(exercise, marks, result)} {page(exercise).decode()}"
    assert not SAFE.search(re.sub(r"<script.*?</script>", "", said, flags=re.DOTALL))
    assert words.AT_THE_END in " ".join(said.split())


# -- answers


def answers(body: str, exercise: Exercise | None = None) -> Any:
    return read_answer_bytes(body.encode(), "marks.yaml", exercise or small())


def test_answers_by_name_title_or_topic() -> None:
    """Case and a full stop do not count."""
    given = answers(
        "by: T. Trainee\nmarks:\n- {at: A, what: box-overfull, grade: first}\n"
        "- {at: A, what: Box holds more than its VOLUME allows.}\n- {at: site, what: voltage drop}\nnext: 1\n"
    )
    assert [one["what"] for one in given.marks] == ["box-overfull", "box-overfull", "voltage_drop"]
    assert (given.chosen, given.by) == (1, "T. Trainee")


@pytest.mark.parametrize(
    ("body", "says"),
    [
        pytest.param(
            "marks:\n- {at: bathrom basin, what: boxes}\n",
            "Did you mean 'bathroom basin'? Nearest first: bathroom basin",
            id="tag",
        ),
        pytest.param("marks:\n- {at: A, what: box to full}\n", "no rule and no topic is called", id="danger"),
        pytest.param("marks:\n- {at: A, what: boxes, grade: bad}\n", "grade", id="grade"),
        pytest.param(
            "exercise: 0123456789\nmarks: []\n", "these are marks of exercise 0123456789", id="other exercise"
        ),
        pytest.param("marks: []\nnext: 19\n", "there is no check 19", id="check"),
        pytest.param("marcs: []\n", "marks", id="misspelt part"),
    ],
)
def test_answers_refused(body: str, says: str) -> None:
    """Place, cause and next step; nothing is scored."""
    with pytest.raises(Refused) as refused:
        answers(body)
    told = list(refused.value.sentences())
    assert any(says in one for one in told)
    assert all("line" in one for one in told)


def test_all_that_is_wrong_with_answers_is_told_at_once() -> None:
    """What the form refuses, tags, dangers and the check, in one pass."""
    body = "marks:\n- {at: nowhere, what: boxes, grade: bad}\n- {what: zzzz qqqq}\n- {at: A, what: something else}\nnext: 19\n"
    with pytest.raises(Refused) as refused:
        answers(body)
    told = " ".join(refused.value.sentences())
    for said in ("grade", "no tag 'nowhere'", "'zzzz qqqq'", "no check 19", "add said"):
        assert said in told


@pytest.mark.parametrize("at", ["A 1", "W3 black", "R2 hot"])
def test_wires_and_terminals_stand_for_what_they_are_of(at: str) -> None:
    tag = at if at.startswith("A") else at.split(" ")[0]
    exercise = small()
    assert tag in exercise.tags
    assert answers(f"marks: [{{at: {at}, what: boxes}}]\n").marks[0]["at"] == tag


def test_answers_are_read_again_as_written() -> None:
    marks = [{"at": "A", "what": "box-overfull", "grade": "first"},
             {"at": "site", "what": "something else", "grade": "", "said": "it hums"}]  # fmt: skip
    again = answers(written(small(), marks, 2, "T. Trainee", 4))
    assert (list(again.marks), again.chosen, again.by, again.reached) == (marks, 2, "T. Trainee", 4)


@pytest.mark.parametrize(
    ("said", "at", "expected"),
    [
        pytest.param("overfull", "bathroom basin", "box-overfull", id="one word of the name"),
        pytest.param("too small wire for breaker", "W1", "conductor-too-small", id="words in another order"),
        pytest.param("corroded", "A 1", "breaker-wet-loose-or-corroded", id="what is at a breaker first"),
        pytest.param("revers", "bathroom basin", "live-and-neutral-reversed", id="half a word"),
    ],
)
def test_nearest_dangers(said: str, at: str, expected: str) -> None:
    assert expected in [name for name, _ in nearest(said, small(), (at,))][:4]


def test_nothing_is_near_to_nonsense() -> None:
    assert nearest("zzzz qqqq", small()) == []
    assert rule_or_topic("zzzz", small()) == ""


# -- in conversation


def talk(lines: list[str], *, free: bool = False, begun: Answers | None = None) -> tuple[Any, str, list[Answers]]:
    """The answers that follow from these lines, all that was said, and what was kept on the way.

    Where the lines end before the trainee is done, the last answers kept.
    """
    said: list[str] = []
    kept: list[Answers] = []
    waiting = iter(lines)

    def ask(question: str) -> str | None:
        said.append(question)
        return next(waiting, None)

    try:
        given = Asker(small(), ask, said.append, kept.append, begun).ask(free=free)
    except Stopped:
        given = kept[-1]
        said.append("STOPPED")
    whole = "\n".join(said)
    assert max(map(len, whole.splitlines())) <= 80
    return given, whole, kept


def test_marking_freely_with_nearest_names() -> None:
    """A tag half written is found; a danger is chosen by number; the order is put right; a check is chosen."""
    given, said, _ = talk(["bathroom b", "overfull", "1", "3", "A", "boxes", "", "q", "2 1", "1"], free=True)
    assert [(one["at"], one["grade"]) for one in given.marks] == [("A", ""), ("bathroom basin", "in turn")]
    assert given.marks[1]["what"] == "box-overfull"
    assert given.chosen == 1
    assert "1. Box holds more than its volume allows" in said


def test_marking_place_by_place() -> None:
    """Enter goes on to the next place; at a panel the tag is asked until it is named."""
    given, said, _ = talk(["", "boxes", "", "A", "1", "boxes", "A 2", "", "", "q", "", ""])
    assert [(one["at"], one["what"], one["grade"]) for one in given.marks] == [
        ("A", "boxes", "hands off"), ("A 2", "boxes", ""),
    ]  # fmt: skip
    assert "Panel A" in said
    assert "Name one of them" in said
    assert given.chosen is None


@pytest.mark.parametrize(
    ("said", "tag", "rest"),
    [
        pytest.param("A 1 corroded breaker", "A 1", "corroded breaker", id="breaker first"),
        pytest.param("corroded breaker at a 1", "A 1", "corroded breaker", id="breaker last, small letters"),
        pytest.param("panel A corroded", "A", "corroded", id="panel"),
        pytest.param("a corroded breaker", "", "a corroded breaker", id="an article is no panel"),
        pytest.param("A 12 corroded", "", "A 12 corroded", id="no part of a number"),
        pytest.param("bathroom basin overfull", "bathroom basin", "overfull", id="a place elsewhere"),
    ],
)
def test_tag_among_the_words(said: str, tag: str, rest: str) -> None:
    assert tag_in_words(said, ("A", "A 1"), ["A", "A 1", "bathroom basin"]) == (tag, rest)


def test_breaker_named_in_the_words_is_marked_and_not_its_panel() -> None:
    given, _, _ = talk(["", "A 1 corroded breaker", "1", "", "q", ""])
    assert [(one["at"], one["what"]) for one in given.marks] == [("A 1", "breaker-wet-loose-or-corroded")]


@pytest.mark.parametrize("lines", [[], ["A"], ["A", "boxes"], ["A", "overfull"], ["A", "boxes", "1"]], ids=str)
def test_lines_that_end_early(lines: list[str]) -> None:
    """Nothing is scored; what was marked before is kept, and nothing is invented."""
    given, said, _ = talk(lines, free=True)
    assert said.endswith("STOPPED")
    assert len(given.marks) == (1 if len(lines) == 3 else 0)


@pytest.mark.parametrize("line", ["nowhere at all", "0", "99", "²"])
def test_odd_lines(line: str) -> None:
    """Nothing said by mistake becomes a mark at a wrong place or a wrong grade."""
    given, _, _ = talk([line, line, "A", "overfull", line, "", "A", "boxes", line, "1", "q", line, ""], free=True)
    assert [(one["at"], one["grade"]) for one in given.marks] == [("A", "hands off")]


@pytest.mark.parametrize("word", ["?", "help", "HELP"])
def test_help_is_no_danger(word: str) -> None:
    given, said, _ = talk([word, "q", ""])
    assert given.marks == ()
    assert said.count("GRADES AND TOPICS") == 2
    assert "Commands at any question" in said
    for meaning in data("grades")["meanings"].values():
        assert meaning in " ".join(said.split())


def test_grades_and_topics_stand_before_the_first_question() -> None:
    _, said, _ = talk(["q", ""])
    for topic, meaning in words.topic_meanings(small()):
        assert meaning
        assert f"{topic}: {meaning}" in " ".join(said.split())
    assert said.index("voltage drop") < said.index("Danger here?")
    assert said.index("4 remark") < said.index("Danger here?")


def test_undo_back_and_list() -> None:
    """undo takes the last mark out, back goes to the place before or drops the mark half made."""
    given, said, _ = talk(["", "A 1 corroded", "1", "", "undo", "A 1 corroded", "back", "list", "back", "", "q", ""])
    assert given.marks == ()
    assert "Taken out: A 1" in said
    assert "Nothing is marked yet." in said
    assert said.count("The site") == 2


def test_what_was_typed_is_never_dropped_in_silence() -> None:
    _, said, _ = talk(["", "corroded", "", "q", ""])
    assert 'Not marked: "corroded".' in said


def test_own_words_go_to_the_trainer() -> None:
    """Where nothing is called so, and where the list has nothing that fits."""
    last = len(nearest("overfull", small(), ("A",))) + 1
    given, said, _ = talk(["zzzz qqqq", "y", "", "", "panel A overfull", str(last), "", "q", "", ""])
    assert [(one["at"], one["what"], one["said"]) for one in given.marks] == [
        ("site", "something else", "zzzz qqqq"), ("A", "something else", "overfull"),
    ]  # fmt: skip
    assert f"{last}. something else, in my own words" in said
    result = score(small().key, given.marks)
    assert result["false_alarms"] == []
    assert "FOR THE TRAINER" in text.score_text(small(), given.marks, result)


def test_marks_are_kept_after_each_of_them_and_gone_on_with() -> None:
    """From the place that was reached; the marks made before are still there."""
    given, _, kept = talk(["", "A 1 corroded", "1", ""])
    assert len(kept[-1].marks) == 1
    again, said, _ = talk(["q", ""], begun=read_answer_bytes(
        written(small(), given.marks, None, "", given.reached).encode(), "kept.yaml", small()))  # fmt: skip
    assert [one["at"] for one in again.marks] == ["A 1"]
    assert "[2 of" in said
    assert "[1 of" not in said


def test_every_check_has_what_comes_first_before_and_after_the_choice() -> None:
    """The steps of `asfound next`: switched off, locked and tagged, proven dead, wherever something is opened."""
    exercise = small()
    _, said, _ = talk(["q", "1"])
    listed, chosen = (" ".join(one.split()) for one in said.split("Which number?"))
    made = page(exercise).decode()
    opened = 0
    for check in exercise.checks:
        assert words.before(check)[0].startswith("First: ")
        for step in words.before(check):
            assert step in listed
            assert step in html.unescape(made)
        if "cover off" in check.do:
            opened += 1
            before = " ".join(check.before)
            assert "lock" in before
            assert "Prove dead with an instrument that touches: on a source known to be live" in before
            assert "known source again" in before
    assert opened
    for step in words.before(exercise.checks[0]):
        assert step in chosen
    after = " ".join(text.score_text(exercise, [], score(exercise.key, [], 1)).split())
    for step in words.before(exercise.checks[0]):
        assert step in after


# -- the command


def test_house_is_marked_from_a_file_and_saved(tmp_path: Path) -> None:
    marks, kept = tmp_path / "marks.yaml", tmp_path / "kept.yaml"
    marks.write_text("marks: [{at: A, what: boxes}]\n", encoding="utf-8")
    arguments = ["--house", "--circuits", "4", "--seed", "7", "--plant", "2"]
    result = run(*arguments, "--answers", str(marks), "--save", str(kept))
    assert result.exit_code == 0
    assert "Seed 7; 2 defects planted." in result.output.split("SCORE")[1]
    assert "Seed" not in result.output.split("SCORE")[0]
    assert "Found 0 of 2; missed 2; 1 false alarm." in result.output
    assert run(*arguments, "--answers", str(kept)).output.splitlines()[-5:] == result.output.splitlines()[-5:]


def test_page_and_record_are_written_and_nothing_is_asked(tmp_path: Path) -> None:
    there, record = tmp_path / "exercise.html", tmp_path / "exercise.yaml"
    result = run("--house", "--circuits", "4", "--seed", "7", "--page", str(there), "--write", str(record))
    assert result.exit_code == 0
    assert "Danger" not in result.stdout
    assert there.read_bytes().startswith(b"<!doctype html>")
    assert load_file(record).root["invented"] is True
    assert record.read_text(encoding="utf-8").startswith("# Training record")
    assert sorted(one.name for one in tmp_path.iterdir()) == ["exercise.html", "exercise.yaml"]


def test_any_record_as_it_stands() -> None:
    """Asked in the terminal, and left at once."""
    result = run(str(FIXTURES / "small.yaml"), lines=["q", "", ""])
    assert result.exit_code == 0
    assert "Found 0 of 1; missed 1; 0 false alarms." in result.output
    assert "20 A breaker A 3 on 14 AWG copper" in " ".join(result.output.split())


def test_a_new_seed_is_printed() -> None:
    shown = [run("--house", "--circuits", "3", "--plant", "1", lines=["q", "", ""]).output for _ in range(3)]
    seeds = {re.search(r"Seed ([0-9]+);", one).group(1) for one in shown}  # type: ignore[union-attr]
    assert len(seeds) > 1


@pytest.mark.parametrize(
    ("arguments", "status", "says"),
    [
        pytest.param([], 2, "name a record, or give --house", id="nothing to make it of"),
        pytest.param([str(FIXTURES / "small.yaml"), "--house"], 2, "give one of them, not both", id="both"),
        pytest.param([str(FIXTURES / "small.yaml"), "--circuits", "4"], 2, "--circuits is for --house", id="circuits"),
        pytest.param([str(FIXTURES / "small.yaml"), "--seed", "4"], 2, "give --plant N", id="seed without defects"),
        pytest.param(
            ["--house", "--defect", "cover of"],
            2,
            "Did you mean 'cover left off'? Nearest first: cover left off",
            id="misspelt defect",
        ),
        pytest.param(
            ["--house", "--seed", "abc"], 2, "write a whole number from 0 to 1000000000", id="seed in letters"
        ),
        pytest.param(["--house", "--seed", "-1"], 2, "write a whole number from 0 to 1000000000", id="seed below 0"),
        pytest.param(["--house", "--answers", "a", "--resume", "b"], 2, "not both", id="score and go on"),
        pytest.param(["nowhere.yaml"], 3, "there is no file of this name", id="no record"),
        pytest.param(
            [str(FIXTURES / "small.yaml"), "--defect", "fan on a lamp box"], 5, "found a place", id="no place"
        ),
        pytest.param(
            ["--house", "--circuits", "3", "--page", "/nowhere/x.html"], 2, "cannot be written", id="no folder"
        ),
        pytest.param(
            ["--house", "--circuits", "3", "--answers", "/nowhere/x"], 3, "The answers were not", id="no answers"
        ),
    ],
)
def test_statuses(arguments: list[str], status: int, says: str) -> None:
    result = run(*arguments)
    assert result.exit_code == status
    assert says in result.output


@pytest.mark.parametrize("option", ["--write", "--page", "--save"])
@pytest.mark.parametrize("name", ["record.yaml", "link.yaml", "./sub/../record.yaml"])
def test_input_record_is_never_written_over(option: str, name: str, tmp_path: Path) -> None:
    """Not by another way of writing its name either, and not with --force."""
    record = tmp_path / "record.yaml"
    record.write_bytes((FIXTURES / "small.yaml").read_bytes())
    (tmp_path / "sub").mkdir()
    (tmp_path / "link.yaml").symlink_to(record)
    result = run(str(record), option, str(tmp_path / name), "--force", lines=["q", "", ""])
    assert result.exit_code == 2
    assert "is read here and is not written over" in result.output
    assert record.read_bytes() == (FIXTURES / "small.yaml").read_bytes()


@pytest.mark.parametrize(("option", "ends"), [("--write", ".yaml"), ("--page", ".html"), ("--save", ".yaml")])
def test_other_files_are_written_over_with_force_alone(option: str, ends: str, tmp_path: Path) -> None:
    """An earlier exercise of the kind may be replaced."""
    there = tmp_path / f"file{ends}"
    there.write_text("asfound: 1\n", encoding="utf-8")
    arguments = ["--house", "--circuits", "3", "--plant", "1", "--seed", "7", option, str(there)]
    refused = run(*arguments, lines=["q", "", ""])
    assert refused.exit_code == 2
    assert "--force" in refused.output
    assert there.read_text(encoding="utf-8") == "asfound: 1\n"
    assert run(*arguments, "--force", lines=["q", "", ""]).exit_code == 0
    made = there.read_bytes()
    assert made != b"asfound: 1\n"
    assert run(*arguments, lines=["q", "", ""]).exit_code == 0
    assert there.read_bytes() == made


def test_two_options_do_not_write_to_one_file(tmp_path: Path) -> None:
    there = str(tmp_path / "x")
    result = run("--house", "--circuits", "3", "--page", there, "--write", there)
    assert result.exit_code == 2
    assert "another option writes to this file" in result.output
    assert not (tmp_path / "x").exists()


def test_end_of_input_scores_nothing_and_keeps_the_marks(tmp_path: Path) -> None:
    """Then --resume goes on; --save does not write over marks."""
    kept = tmp_path / "kept.yaml"
    arguments = ["--house", "--circuits", "5", "--seed", "7"]
    stopped = run(*arguments, "--save", str(kept), lines=["", "A 1 corroded", "1", "", ""])
    assert stopped.exit_code == 5
    assert "SCORE" not in stopped.output
    assert "MISSED" not in stopped.output
    assert f"--resume {kept}" in stopped.output
    assert "A 1" in kept.read_text(encoding="utf-8")
    again = run(*arguments, "--save", str(kept), lines=["q", "", ""])
    assert again.exit_code == 2
    assert "it holds marks already" in again.output
    done = run(*arguments, "--resume", str(kept), lines=["q", "", ""])
    assert done.exit_code == 0
    assert "SCORE" in done.output
    assert "A 1: Breaker or fuse is wet, corroded or loose" in done.output
    scored = run(*arguments, "--answers", str(kept))
    assert "SCORE" in scored.output


def test_kinds_of_defect_are_listed() -> None:
    result = run("--defects")
    assert result.exit_code == 0
    for name in planters():
        assert name in result.output


def test_one_kind_of_defect_alone() -> None:
    result = run("--house", "--seed", "2", "--defect", "larger breaker", "--plant", "1", lines=["q", "", ""])
    assert "Breaker is larger than the conductor behind it allows" in result.output


# -- the page


def test_page_is_one_file_that_loads_nothing() -> None:
    made = page(small()).decode()
    assert not re.search(r"(src|href)=\"(?!#)", made)
    assert "url(" not in made
    assert "import" not in made.split("<script>")[1]


def test_page_can_be_read_without_its_script() -> None:
    """The record and the inputs' meaning are in the markup."""
    made = html.unescape(re.sub(r"<script.*?</script>", "", page(small()).decode(), flags=re.DOTALL))
    for tag in small().tags:
        assert tag in made


def test_page_gives_nothing_away_at_a_glance() -> None:
    """No answer, story or seed in plain words, neither in the markup nor in what the script holds; it says so."""
    made = html.unescape(page(small()).decode())
    for danger in small().dangers:
        for said in (danger.findings[0]["statement"], danger.why, danger.planted):
            assert said not in made
    assert "seed" not in made.lower()
    assert '"near"' not in made
    assert "they are no secret" in made
    held = re.search(r'<script type="text/plain" id="held">(.*?)</script>', made, re.DOTALL)
    assert json.loads(base64.b64decode(held.group(1)))["key"] == json.loads(json.dumps(small().key))  # type: ignore[union-attr]


def test_nothing_is_given_away_before_scoring(tmp_path: Path) -> None:
    """The seed is told beside what is shown; the record for the trainee has it nowhere."""
    there = tmp_path / "exercise.yaml"
    result = run("--house", "--circuits", "4", "--seed", "7", "--write", str(there))
    assert "Seed 7" not in result.stdout
    assert "Seed 7" in result.stderr
    assert "eed 7" not in there.read_text(encoding="utf-8")


def test_markup_in_a_record_is_text_on_the_page() -> None:
    record = house(7, circuits=3)
    record["site"]["name"] = "<script>alert(1)</script>"
    record["boxes"]["</script><b>x"] = {"kind": "nonmetallic", "volume": 18}
    made = page(planted_in(record, AS_OF, rules(), 7, 0)).decode()
    assert made.count("<script") == 2
    assert made.count("</script>") == 2
    assert "<b>x" not in made


def drawn(exercise: Exercise) -> bytes:
    """The page without the policy that would keep a test's own script from running in it."""
    return re.sub(rb"<meta http-equiv=\"Content-Security-Policy\"[^>]*>", b"", page(exercise))


@needs_browser
@pytest.mark.parametrize(("width", "dark"), [(390, False), (1280, True)], ids=["phone", "desktop dark"])
def test_page_passes_axe_core(width: int, dark: bool, tmp_path: Path) -> None:
    """No serious or critical finding of axe-core, with everything open after scoring."""
    act = b"<script>document.getElementById('score').click()</script></body>"
    found = browser.accessibility(drawn(small()).replace(b"</body>", act), tmp_path, width, dark=dark)
    assert not [one for one in found if one["impact"] in browser.GRAVE]


@needs_browser
def test_page_does_not_stick_out(tmp_path: Path) -> None:
    assert browser.width_needed(drawn(small()), tmp_path, 390) <= 500  # headless windows are no narrower


@needs_browser
def test_page_runs_its_script_under_its_own_policy(tmp_path: Path) -> None:
    """And no other: a script put into the page does not run."""
    file = tmp_path / "page.html"
    file.write_bytes(page(small()).replace(b"</body>", b"<script>document.title='changed'</script></body>"))
    dumped = browser._run("--dump-dom", file.as_uri()).decode()
    assert 'class="scripting"' in dumped
    assert "<title>changed" not in dumped


@needs_browser
def test_page_scores_as_the_command_does(tmp_path: Path) -> None:
    """Sixty sets of marks, right, near and wild."""
    exercise, rng = small(), random.Random(5)
    members = [one for danger in exercise.key["dangers"] for one in danger["members"]]
    grades = [*exercise.key["grades"], ""]
    sets = []
    for _ in range(60):
        marks = []
        for _ in range(rng.randint(0, 6)):
            one = rng.choice(members)
            at = rng.choice([*one["near"], *one["wide"], rng.choice(exercise.tags)])
            what = rng.choice([one["rule"], one["topic"], rng.choice(exercise.rules)[0]])
            marks.append(mark(at, what, rng.choice(grades)))
        sets.append([marks, rng.choice([None, 1, 2, 9])])
    ask = (
        f"<script>const p=document.createElement('pre');p.id='scored';p.textContent=JSON.stringify({json.dumps(sets)}"
        ".map(([marks,chosen])=>window.drill.score(marks,chosen)));document.body.append(p)</script></body>"
    )
    file = tmp_path / "scored.html"
    file.write_bytes(drawn(exercise).replace(b"</body>", ask.encode()))
    dumped = browser._run("--dump-dom", file.as_uri()).decode()
    given = json.loads(html.unescape(re.search(r'<pre id="scored">(.*?)</pre>', dumped, re.DOTALL).group(1)))  # type: ignore[union-attr]
    assert given == [score(exercise.key, marks, chosen) for marks, chosen in sets]
    assert len({json.dumps(one["found"]) for one in given}) > 10


@needs_browser
def test_page_is_marked_by_its_inputs(tmp_path: Path) -> None:
    """Add two marks, move one up, score; the marks as a file are accepted by the command."""
    exercise = small()
    first = exercise.key["dangers"][0]["members"][0]
    act = f"""<script>const at=(i)=>document.getElementById(i);
    const add=(a,w,g)=>{{at('at').value=a;at('what').value=w;at('grade').value=g;at('mark').requestSubmit()}};
    add('A','boxes','');add({json.dumps(first["near"][0])},{json.dumps(first["rule"])},'first');
    document.querySelectorAll('#marks li')[1].querySelector('button').click();
    document.querySelector('input[name=next]').click();at('score').click();
    const p=document.createElement('pre');p.id='kept';p.textContent=at('answers-text').value;document.body.append(p)
    </script></body>"""
    file = tmp_path / "marked.html"
    file.write_bytes(drawn(exercise).replace(b"</body>", act.encode()))
    dumped = html.unescape(browser._run("--dump-dom", file.as_uri()).decode())
    kept = answers(re.search(r'<pre id="kept">(.*?)</pre>', dumped, re.DOTALL).group(1))  # type: ignore[union-attr]
    assert [one["what"] for one in kept.marks] == [first["rule"], "boxes"]
    assert kept.chosen == 1
    assert "Found 1 of 3; missed 2; 1 false alarm." in dumped
    assert 'class="danger found"' in dumped
