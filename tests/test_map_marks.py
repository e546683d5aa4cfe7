"""Marks of the wiring map that hang on a wall: their day and log entry, conductors in an unusual role, what else ends
at a place, and whose the flag numbers are. All records invented.

That a mark on a wall has to be dated and tested again, and that a tag tells who put it there: common practice, no
source; that a proof ends with the next switching stands in `data/proof.yaml`.
"""

from __future__ import annotations

import functools
import re
import xml.etree.ElementTree as ElementTree
from pathlib import Path
from typing import Any

import pytest

from asfound.map import Drawing, drawings, each_circuit
from asfound.map.listed import FOOT, OWN_NUMBERS
from asfound.map.marks import NAME, dead_words, entries_words, unusual
from asfound.record.facts import EXACT, exact
from asfound.survey import Survey, survey
from asfound.trace.state import DEAD, TREAT, State, States
from houses import as_yaml, house
from records import record_text, surveyed

DEMO = Path(__file__).resolve().parent.parent / "fixtures" / "demo.yaml"
AS_OF = "2026-05-20"
NAMESPACE = "{http://www.w3.org/2000/svg}"
LEFT = {
    "A 8": "LEFT OFF 2026-05-12, log entry 17",
    "A 9": "LEFT OFF AND LOCKED 2026-05-04, log entries 9 and 10",
    "A 12": "LEFT OFF AND TAGGED 2026-05-04, log entries 4 and 7",
    "A 15": "LEFT OFF AND LOCKED 2026-05-12, log entries 13 and 18",
    "A 20": "LEFT OFF AND TAGGED 2026-05-04, log entries 6 and 7",
}
"""By the log of the demo, read by hand."""
PROVEN = "PROVEN DEAD 2026-05-12, log entry 19: TEST AGAIN (by K. Sample)"


@functools.cache
def demo() -> Survey:
    return survey(DEMO, AS_OF)


@functools.cache
def demo_drawings() -> tuple[Drawing, ...]:
    return tuple(drawings(demo()))


def groups(drawing: Drawing) -> list[tuple[str, set[str], set[str]]]:
    """The words of each group of a drawing, with what it draws in full and what it refers to."""
    root = ElementTree.fromstring(drawing.svg)
    found = []
    for group in root.iter(f"{NAMESPACE}g"):
        kinds = {
            name: {one.get(f"data-{name}", "") for one in group if one.get(f"data-{name}")} for name in ("item", "ref")
        }
        words = " ".join("".join(text.itertext()) for text in group if text.tag.endswith("}text"))
        found.append((words.replace("\u00a0", " "), kinds["item"], kinds["ref"]))
    return found


def words_at(drawn: tuple[Drawing, ...] | list[Drawing], item: str) -> str:
    """The words of the group that draws an item."""
    return next(words for drawing in drawn for words, items, _ in groups(drawing) if item in items and words)


def in_rows(words: str) -> str:
    """Words above a line are drawn from the lowest row up, and so are read here without regard to the order of rows."""
    return " ".join(sorted(words.split()))


def all_words(drawing: Drawing) -> str:
    root = ElementTree.fromstring(drawing.svg)
    return " ".join("".join(text.itertext()) for text in root.iter(f"{NAMESPACE}text")).replace("\u00a0", " ")


# -- how breakers were left


def test_every_breaker_that_was_left_off_says_so_with_its_day() -> None:
    for breaker, words in LEFT.items():
        assert words in words_at(demo_drawings(), f"breaker {breaker}"), breaker


def test_no_other_breaker_says_so() -> None:
    for breaker in demo().record.breakers.values():
        if breaker.tag not in LEFT:
            assert "LEFT" not in words_at(demo_drawings(), f"breaker {breaker.tag}")


@pytest.mark.parametrize("breaker", LEFT)
@pytest.mark.parametrize("narrow", [True, False], ids=["phone", "paper"])
def test_a_circuit_alone_says_so_too(breaker: str, narrow: bool) -> None:
    drawn = drawings(demo(), breaker, narrow=narrow)
    assert LEFT[breaker] in words_at(drawn, f"breaker {breaker}")
    assert all("LEFT OFF: as it stood that day; look whether it still does." in all_words(one) for one in drawn)


@pytest.mark.parametrize(
    ("breakers", "log", "shown"),
    [
        pytest.param({"1": {"amps": 20, "state": "tripped"}}, [], "FOUND TRIPPED 2025-05-05", id="as found"),
        pytest.param({"1": 20}, [{"did": "tagged", "what": "A 1"}], "LEFT TAGGED 2025-05-05, log entry 1", id="tagged"),
        pytest.param({"1": 20}, [{"did": "switched", "what": "A 1", "to": "on"}], "left on 2025-05-05, log entry 1",
                     id="on is not in capitals"),
        pytest.param({"1": 20}, [{"did": "switched", "what": "A", "to": "off"}], "main LEFT OFF 2025-05-05, log entry 1",
                     id="the main of the panel"),
    ],
)  # fmt: skip
def test_other_ways_to_be_left(breakers: Any, log: list[Any], shown: str, tmp_path: Path) -> None:
    text = record_text(panels={"A": {"breakers": breakers}}, **({"log": log} if log else {}))
    (drawing,) = drawings(surveyed(tmp_path, text))
    assert shown in all_words(drawing)


# -- proven dead


def test_proven_dead_stands_nowhere_without_its_day_and_test_again() -> None:
    """On every drawing that the demo can become: the foot and the legend speak of the words, all else is a mark."""
    drawn = [*demo_drawings(), *each_circuit(demo()), *drawings(demo(), "A 15", narrow=False), *drawings(demo(), "DW")]
    drawn += [one for box in demo().record.boxes for one in drawings(demo(), box)]
    marks = 0
    for drawing in drawn:
        for words, items, _ in groups(drawing):
            if "DEAD" in words.split() and items:
                marks += 1
                assert not set(in_rows(PROVEN).split()) - set(words.split()), words
        for title in ElementTree.fromstring(drawing.svg).iter(f"{NAMESPACE}title"):
            if "PROVEN DEAD" in (title.text or ""):
                assert PROVEN in (title.text or "").replace("\u00a0", " ")
    assert marks >= 3


def test_the_words_test_again_are_not_cut_off(tmp_path: Path) -> None:
    """Whatever stands before them: a long name is cut, and what the cable does is longer than usual."""
    text = DEMO.read_text(encoding="utf-8").replace("by: K. Sample", f"by: {'Bartholomew ' * 6}")
    text = text.replace(
        "from: A 15, to: under sink}", "from: A 15, to: under sink, conductors: {white: {colour: red}}}"
    )
    file = tmp_path / "long.yaml"
    file.write_text(text, encoding="utf-8")
    drawn = drawings(survey(file, AS_OF))
    words = words_at(drawn, "cable W51").split()
    assert {"PROVEN", "DEAD", "2026-05-12,", "19:", "TEST", "AGAIN"} <= set(words)
    assert len(" ".join(words)) < len("Bartholomew ") * 6 + 200


@pytest.mark.parametrize(
    ("dead", "item", "before"),
    [
        pytest.param(("W51", "W52", "W53"), "breaker A 15", [], id="a whole circuit"),
        pytest.param(("W52 black",), "cable W52", ["W52"], id="a cable of which all on the way is"),
        pytest.param(("W48 red",), "cable W48", ["red"], id="one conductor of several"),
    ],
)
def test_the_mark_is_whole_wherever_it_stands(dead: tuple[str, ...], item: str, before: list[str]) -> None:
    """States are put in by hand, as if entry 19 had tested these."""
    done = survey(DEMO, AS_OF)
    for conductor in done.record.conductors:
        if conductor.tag in dead or conductor.data["cable"].tag in dead:
            conductor.data["state"] = exact(DEAD)
            done.installation.states.last[conductor] = State(DEAD, "tested", 19)
    marked = [words for one in drawings(done) for words, items, _ in groups(one) if item in items]
    if dead == ("W48 red",):  # it is drawn in full at A 13, and as the red feed of A 17
        marked = [words for one in drawings(done) for words, items, refs in groups(one) if item in items | refs]
    assert any(not {*PROVEN.split(), *before} - set(words.split()) for words in marked), marked


def test_of_several_proofs_the_oldest_day_counts(tmp_path: Path) -> None:
    log = [{"did": "tested", "what": "W1", "at": "2025-05-05 08:00", "by": "A. Example"},
           {"did": "tested", "what": "W2", "at": "2025-05-06 08:00", "by": "B. Example"}]  # fmt: skip
    cables = {name: {"type": "12/2", "from": "A 1", "to": "hall"} for name in ("W1", "W2")}
    text = record_text(panels={"A": {"breakers": {"1": 20}}}, cables=cables, boxes={"hall": {}}, log=log)
    record = surveyed(tmp_path, text).record
    one, two = record.cables["W1"].data["conductors"][0], record.cables["W2"].data["conductors"][0]
    other = record.cables["W2"].data["conductors"][1]
    states = States(last={one: State(DEAD, "", 1), two: State(DEAD, "", 2), other: State(TREAT, "", 2)})
    both = "PROVEN DEAD oldest 2025-05-05, log entries 1 and 2: TEST\u00a0AGAIN (by A. Example, B. Example)"
    assert dead_words(record, states, [two, one, other]) == both
    assert dead_words(record, states, [two]) == "PROVEN DEAD 2025-05-06, log entry 2: TEST\u00a0AGAIN (by B. Example)"
    assert len("A. Example") < NAME


@pytest.mark.parametrize(
    ("numbers", "words"),
    [
        ([9], "log entry 9"),
        ([10, 9], "log entries 9 and 10"),
        ([9, 10, 11], "log entries 9 to 11"),
        ([1, 3, 5], "log entries 1, 3 and 5"),
        ([1, 3, 5, 7, 9, 11], "log entries 1, 3, 5, 7 and 2 more"),
    ],
)
def test_log_entries_in_words(numbers: list[int], words: str) -> None:
    assert entries_words(numbers).replace("\u00a0", " ") == words


# -- conductors in a role that is not that of their colour


@pytest.mark.parametrize(
    ("cable", "words"),
    [("W13", "bare as neutral"), ("W68", "red as neutral"), ("W31", "bare and black feed"), ("W18", "white feed")],
)
def test_unusual_roles_of_the_demo(cable: str, words: str) -> None:
    said = words_at(demo_drawings(), f"cable {cable}").replace(",", "").replace(";", "").split()
    assert not set(words.split()) - set(said)


USUAL = {"white": "grounded", "grey": "grounded", "bare": "grounding", "green": "grounding"}
"""What a colour is for: NFPA 70 (NEC) 200.6 and 250.119, from memory. Every other colour is for ungrounded ones."""
SAID = {"grounded": "neutral", "grounding": "ground"}


@pytest.mark.parametrize("seed", ["demo", *range(0, 20, 4)])
def test_every_conductor_in_an_unusual_role_is_named(seed: str | int, tmp_path: Path) -> None:
    """Counted anew from the functions of the trace and the colours of the record, cable by cable."""
    if seed == "demo":
        done, drawn = demo(), list(demo_drawings())
    else:
        file = tmp_path / "house.yaml"
        file.write_text(as_yaml(house(int(seed))), encoding="utf-8")
        done = survey(file, AS_OF)
        drawn = drawings(done)
    shown = {item for drawing in drawn for _, items, _ in groups(drawing) for item in items}
    for conductor in done.record.conductors:
        function, colour = conductor.data["function"], conductor.data["colour"]
        cable = conductor.data["cable"]
        if function.kind != EXACT or colour.kind != EXACT or f"cable {cable.tag}" not in shown:
            continue
        usual = USUAL.get(colour.value, "ungrounded")
        does = function.value if function.value in SAID else "ungrounded"
        if function.value == "isolated" and usual == "ungrounded":
            continue  # a spare conductor in a colour that promises nothing
        named = conductor.tag.removeprefix(f"{cable.tag} ")
        words = words_at(drawn, f"cable {cable.tag}").replace(",", " ").replace(":", " ").replace(";", " ").split()
        if usual != does:
            assert named in words, conductor.tag
            told = (
                {SAID.get(does, "feed"), function.value, "on"} if function.value != "isolated" else {"bar", "isolated"}
            )
            assert told & set(words), conductor.tag
        elif does in SAID:
            assert f"{named} as {SAID[does]}" not in " ".join(words), conductor.tag


def test_a_weak_role_has_a_question_mark_and_none_is_made_up(tmp_path: Path) -> None:
    text = record_text(
        panels={"A": {"breakers": {"1": 20}}},
        cables={"W1": {"type": "14/3 with ground", "from": "not traced", "to": "hall"}},
        boxes={"hall": {"kind": "nonmetallic"}},
        devices={"R1": {"kind": "duplex receptacle", "at": "hall",
                        "terminals": {"hot": "W1 black", "neutral": "W1 red"}}},
    )  # fmt: skip
    conductors = surveyed(tmp_path, text).record.cables["W1"].data["conductors"]
    assert unusual(conductors) == ["red as neutral?"]


# -- what else ends at a place


def test_a_cable_that_ends_at_a_place_drawn_elsewhere_is_referred_to() -> None:
    said = words_at(demo_drawings(), "box north wall")
    assert "ALSO HERE: W24, not traced, see group 1" in said
    assert "ALSO HERE: W49, see A 17" in words_at(demo_drawings(), "box laundry")


def test_at_every_place_of_the_demo_every_cable_is_drawn_or_referred_to() -> None:
    for box in demo().record.boxes.values():
        drawing = next(one for one in demo_drawings() for _, items, _ in groups(one) if f"box {box.tag}" in items)
        there = {tag for _, items, refs in groups(drawing) for tag in items | refs}
        words = all_words(drawing)
        for cable in demo().record.cables.values():
            if box in cable.data["sides"].values():
                assert f"cable {cable.tag}" in there or cable.tag in words.split(), (box.tag, cable.tag)


# -- keynotes


def test_a_keynote_names_a_log_entry_as_one() -> None:
    words = " ".join(map(all_words, demo_drawings()))
    assert "proven dead: log entry 21." in words
    assert not re.search(r"proven dead: \d", words)


def test_flag_numbers_are_said_to_be_those_of_the_drawing() -> None:
    drawn = [*demo_drawings(), *each_circuit(demo()), *drawings(demo(), "north wall")]
    flagged = 0
    for drawing in drawn:
        words = all_words(drawing)
        has = "No flags" not in drawing.alt if drawing in demo_drawings() else OWN_NUMBERS in words
        flagged += has
        assert (OWN_NUMBERS in words) is has
        assert FOOT in words
    assert flagged > len(demo_drawings()) / 2
