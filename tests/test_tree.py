"""`asfound trace`: trees, places, conductors, labels and the log.

What a breaker reaches is checked against the reference of `test_trace`, a graph
built from the raw record by networkx. Words and layout of the demo and of
records made by hand are checked word for word. Tags, marks and the trade's way
of reading a circuit from its breaker outward are common practice, no source.
"""

from __future__ import annotations

import json
import re
import sys
import unicodedata
from collections import Counter
from functools import cache
from pathlib import Path
from typing import Any

import jsonschema
import jsonschema_rs
import pytest

import houses
from asfound.load import load_bytes
from asfound.render.asdata import RunFacts
from asfound.render.lines import WIDTH, cells, cut, plain, wrap
from asfound.render.schedule import FLAG
from asfound.render.traced import NotThere, Traced, data_of, text_of
from asfound.survey import read_record, survey
from asfound.trace import MAX_JOINED, trace
from asfound.trace.walk import walk
from asfound_schemas import schema
from compared import run
from examples import seeds
from records import record_text
from test_trace import SHAPES, house_of, reference_of

FIXTURES = Path(__file__).parent.parent / "fixtures"
DEMO, SMALL_HOUSE = FIXTURES / "demo.yaml", FIXTURES / "small.yaml"
VALIDATOR = jsonschema.Draft202012Validator(schema("trace"))
SEEDS = seeds(8)
"""Seeds of the houses that every property is held against, for each shape."""
LONG_CHAIN = sys.getrecursionlimit() + 100
FORBIDDEN = re.compile(r"\b(dead|off|safe|de-?energi[sz]ed)\b", re.IGNORECASE)


def traced(record: dict[str, Any] | str | bytes) -> Traced:
    """A record traced, without rules."""
    raw = (
        houses.as_bytes(record)
        if isinstance(record, dict)
        else record
        if isinstance(record, bytes)
        else record.encode()
    )
    return Traced(trace(read_record(load_bytes(raw, "house.yaml"))), None, RunFacts("2026-01-01", "", ()))


@cache
def tree_of(seed: int, **shape: Any) -> Traced:
    """The house of a seed traced, once for all tests."""
    return Traced(house_of(seed, **shape)[1], None, RunFacts("2026-01-01", "", ()))


@cache
def lines_of(seed: int, **shape: Any) -> dict[str, Any]:
    """The same as data; not to be changed."""
    return data_of(tree_of(seed, **shape))


@cache
def chain() -> Traced:
    """Cables one behind the other, more of them than calls may stand within each other."""
    return traced(houses.chain(LONG_CHAIN))


def judged(path: Path) -> Traced:
    done = survey(path, "2026-05-20")
    return Traced(
        done.installation, done.results, RunFacts("2026-05-20", "", tuple((r.name, r.revision) for r in done.rules))
    )


@pytest.fixture(scope="module")
def demo() -> Traced:
    return traced(DEMO.read_bytes())


def block(text: str, first: str) -> str:
    """The part of a text between empty lines that begins with these words."""
    found = [part for part in text.split("\n\n") if part.startswith(first)]
    assert len(found) == 1, f"{len(found)} parts begin with {first!r}"
    return found[0].rstrip("\n")


def body(text: str) -> str:
    """A text without its head, which names the file."""
    return text.split("\n\n", 1)[1]


def trees(data: dict[str, Any]) -> list[dict[str, Any]]:
    return [*data["circuits"], *data["groups"]]


def lines(data: dict[str, Any]) -> list[dict[str, Any]]:
    return [line for tree in trees(data) for line in tree["lines"]]


# -- word for word

SMALL = """\
A 3: 20 A, leg L2?                                                 treat as live
-- W1 12/2 W/G NM-B to hall                                        treat as live
   -- W2 12/2 W/G NM-B to den                                      treat as live
   |  R1 duplex receptacle                                         treat as live
   -- W3 14/2 W/G NM-B to porch                                    treat as live
      ! first: conductor-too-small (black)
      porch light lampholder                                       treat as live"""

KITCHEN = """\
A 8: 15 A, leg L2; directory: kitchen lights                       treat as live
  By the log: left off on 2026-05-12 (log entry 17).
-- W15 14/2 NM to kitchen ceiling                                  treat as live
   LT1 luminaire, switched by S1                                   treat as live
   -- W16 14/2 NM to kitchen door switch: white feed, black        treat as live
   |    switched back
   |  S1 switch                                                    treat as live
   -- W17 14/2 NM to sink light                                    treat as live
   |  LT2 luminaire, switched by S2                                treat as live
   |  -- W18 14/2 W/G NM-B to sink switch: white feed, black       treat as live
   |  |    switched back
   |  |  S2 switch                                                 treat as live
   |  -- W19 14/2 NM to HOOD (over the range)                      treat as live
   |  |  HOOD fan, over the range                                  treat as live
   |  -- W23 14/2 W/G NM-B to north wall (opened stud bay, 40 in   treat as live
   |       above the floor), no box
   |     OPEN END here: black and bare loose
   |     ends here: white loose
   -- W20 14/2 NM to pantry switch                                 treat as live
      S3 switch                                                    treat as live
      -- W21 14/2 NM to pantry light: black switched               treat as live
      |  LT3 lampholder, switched by S3                            treat as live
      -- W22 14/2 W/G NM-B to broom closet                         treat as live
         LT4 lampholder                                            treat as live"""

SECOND_FEED = """\
A 20: 20 A, leg L2; directory: porch heater                        treat as live
  By the log: left off and tagged on 2026-05-04 (log entries 6 and 7).
-- W47 12/2 W/G NM-B to attic junction                             treat as live
   ALSO FED BY A 12
   => W44 black, joined here to W47 black, shown under A 12        treat as live"""

COUNTER = """\
A 5/7: 20 A, legs L1 and L2; directory: kitchen counter            treat as live
-- W3 12/3 W/G NM-B to counter left: black on 5, red on 7          treat as live
   R2 duplex receptacle, 15 A, ground-fault protection             treat as live
   -- W4 12/2 W/G NM-B to counter right: black on 7                treat as live
   |  R3 duplex receptacle, 20 A, ground-fault protection          treat as live
   |  -- W6 12/2 W/G NM-B to peninsula: black on 7                 treat as live
   |     R4 duplex receptacle, 15 A                                treat as live
   -- W5 12/2 W/G NM-B to counter window: black on 5               treat as live
      R5 duplex receptacle, 20 A, ground-fault protection          treat as live"""

BENCH = """\
A 17: 20 A, leg L1; directory: workbench                           treat as live
-- W48 to laundry (in full under A 13): red feed                   treat as live
   -- W49 12/2 or 14/2 W/G NM-B to workbench                       treat as live
      R19 duplex receptacle, 15 or 20 A, ground-fault protection   treat as live"""

STRAY = """\
?? W24 14/2 NM from a place not seen (goes down inside the         treat as live
     finished part of the north wall) to north wall (opened stud
     bay, 40 in above the floor), no box: black ungrounded by
     insulation colour, white grounded by insulation colour
   OPEN END here: black loose
   ends here: white capped"""

SHELF = """\
-- W11 black -------------------------------------------------------------------
W11 black: cable 14/2 W/G NM-B, pantry wall to pantry shelf.
  Colour: black."""

WAY_BACK = """\
  Way back to the panel:
    W11 black
    at pantry wall: W10 black
    at pantry ceiling: W9 black
    at dining: W8 black
    at refrigerator: W7 black
    panel A, space 6"""

WALL = """\
Held together here:
  J14 push-in: W10 black and W11 black                             LIVE
      ungrounded as seen; A 6
  J15 push-in: W10 white and W11 white                             treat as live
      grounded as seen
  J16 push-in: W10 bare and W11 bare                               treat as live
      grounding as seen"""


def test_small_record_word_for_word() -> None:
    """With the flag of the rule that README shows for it."""
    text = text_of(judged(FIXTURES / "small.yaml"))
    assert block(text, "A 3:") == SMALL


@pytest.mark.parametrize(
    ("first", "expected"),
    [
        pytest.param("A 8:", KITCHEN, id="switch legs, an open end and a place that is no box"),
        pytest.param("A 5/7:", COUNTER, id="two poles, each conductor with its pole"),
        pytest.param("A 20:", SECOND_FEED, id="a second feed is referred to"),
        pytest.param("A 17:", BENCH, id="a cable shown in full under another breaker, and a listed size"),
    ],
)
def test_demo_circuits_word_for_word(demo: Traced, first: str, expected: str) -> None:
    assert block(text_of(demo), first) == expected


def test_what_is_not_traced_says_what_can_feed_it(demo: Traced) -> None:
    text = text_of(demo)
    group = block(text, "Group 1")
    assert group.endswith(STRAY)
    assert "can be fed by A 9, or by something that is not recorded (not traced" in " ".join(group.split())
    assert "treat all of it as live" in " ".join(block(text, "-- NOT TRACED TO A BREAKER").split())


def test_panel_fed_by_a_breaker_stands_behind_it(demo: Traced) -> None:
    text = text_of(demo)
    assert "Feeds panel B, which follows with its own breakers." in block(text, "A 14/16:")
    assert "Panel B, porch, inside the broom cupboard; fed by A 14/16, its breakers follow." in text
    assert text.index("A 14/16:") < text.index("-- PANEL B") < text.index("B 1: 20 A")


def test_conductor_says_what_feeds_it_and_the_way_back(demo: Traced) -> None:
    text = text_of(demo, at="W11 black")
    assert SHELF in text
    assert WAY_BACK in text
    words = " ".join(text.split())
    assert "Does: ungrounded, as seen (joined to breaker A 6 by way of joints J7, J10, J14)." in words
    assert "Joined to: W7 black, W8 black, W9 black, W10 black, W12 black, W13 white." in words
    assert "The way on, by cable W11: -- W11 14/2 W/G NM-B to pantry shelf" in words


def test_conductor_that_nobody_traced(demo: Traced) -> None:
    words = " ".join(text_of(demo, at="W24 black").split())
    assert "Does: ungrounded, by insulation colour (not traced to a source" in words
    assert "Feed: can be fed by A 9, or by something that is not recorded" in words
    assert "Way back to a panel: not traced." in words


def test_place_says_where_everything_comes_from_and_goes_to(demo: Traced) -> None:
    text = text_of(demo, at="pantry wall")
    assert block(text, "Held together here:") == WALL
    assert "-- W10 12/2 W/G NM-B comes from pantry ceiling " in text
    assert "-- W11 14/2 W/G NM-B goes to pantry shelf " in text
    assert "   leads to R8" in text


def test_cable_that_passes_uncut(demo: Traced) -> None:
    """W54 goes through the box cellar spare without an end there."""
    assert "   unbroken through cellar spare" in block(text_of(demo), "A 18:")
    assert "W54 14/2 NM passes between panel A and living door" in " ".join(text_of(demo, at="cellar spare").split())


def test_states_are_as_the_log_leaves_them(demo: Traced) -> None:
    """W51 was tested pair by pair with A 15 off and locked; nothing beyond it was, and A 6 was read live."""
    dishwasher = block(text_of(demo), "A 15:").splitlines()
    assert [line[67:] for line in dishwasher if "W51" in line or "W52" in line] == ["PROVEN DEAD", "treat as live"]
    assert dishwasher[0][67:] == "treat as live"
    assert block(text_of(demo), "A 6:").splitlines()[0][67:] == "LIVE"


def test_log_shows_each_state_as_it_changes(demo: Traced) -> None:
    text = text_of(demo, what="log")
    assert [line for line in text.splitlines() if line.startswith("Log entry ")][-1].startswith("Log entry 25")
    entry = block(text, "Log entry 15 ")
    assert entry.startswith(
        "Log entry 15 at 2026-05-12 08:20, visit V2: W23 black tested, readings M9\n  LIVE: W15 black"
    )
    after = block(text, "Log entry 17 ")
    assert "A 8 switched off" in after
    assert "  treat as live: W15 black" in after
    assert block(text, "Log entry 20 ").endswith("no state changes"), "a claim proves nothing"


# -- shapes made by hand

RING = """\
asfound: 1
invented: true
site: {name: Ring hut}
supply: 120/240 split phase
panels: {A: {breakers: {1: 15, 2: {amps: 15, wired: false}, 3: 20}}}
cables:
  W1: {type: "14", from: A 1, to: one}
  W2: {type: "14", from: one, to: two, passes: {attic: looped}}
  W3: {type: "14", from: two, to: three}
  W4: {type: "14", from: three, to: one}
  W5: {type: "14", from: A 3, to: three}
  W6: {type: "14", from: attic, to: {at: open, black: taped}}
  W7: {conductors: {green: {}}, from: one, to: {at: two, green: cut}}
  W8: {from: one, to: not traced}
boxes: {one: nonmetallic, two: nonmetallic, three: {kind: nonmetallic or no box}, attic: no box, open: no box}
joints:
  J1: {at: one, ends: [W1 black, W2 black, W4 black]}
  J2: {at: two, ends: [W2 black, W3 black]}
  J3: {at: three, ends: [W3 black, W4 black, W5 black]}
  J4: {at: attic, ends: [W2 black, W6 black]}
"""
RING_TREE = """\
A 1: 15 A, leg L1?                                                 treat as live
-- W1 14 to one                                                    treat as live
   ALSO FED BY A 3
   -- W2 14 to two                                                 treat as live
   |  ALSO FED BY A 3
   |  -- with a loop through attic, no box                         treat as live
   |  |  SPLICE OUTSIDE A BOX: J4
   |  |  -- W6 14 to open, no box                                  treat as live
   |  |     ALSO FED BY A 3
   |  |     OPEN END here: black taped
   |  -- W3 14 to three, perhaps no box                            treat as live
   |     ALSO FED BY A 3
   |     splice perhaps outside a box: J3
   |     => W4 black, joined here to W3 black, shown elsewhere in  treat as live
   |          this tree
   -- W4 14 to three, perhaps no box                               treat as live
      ALSO FED BY A 3
      => W3 black, joined here to W4 black, shown elsewhere in     treat as live
           this tree
      => W5 black, joined here to W4 black, shown under A 3        treat as live"""


def test_ring_and_second_feed_are_shown_once_and_referred_to() -> None:
    text = text_of(traced(RING))
    assert block(text, "A 1:") == RING_TREE
    assert block(text, "A 2:").endswith("Spare: nothing lands on it, as recorded.")
    assert "no conductor of it is recorded" in " ".join(block(text, "Group 1").split())
    assert "~~ W7 size not seen, 1 ground wire, metal not seen from one to " in block(text, "-- ONLY GROUND OR RETURN")


def test_circuit_alone_shows_all_of_it_in_full() -> None:
    """Asked for by its breaker, the second feed has the whole net, and says what else feeds it."""
    data = data_of(traced(RING), at="A 3")
    assert [circuit["circuit"] for circuit in data["circuits"]] == ["A 3"]
    held = {line["item"]: line for line in data["circuits"][0]["lines"] if line["kind"] == "cable"}
    assert set(held) == {"W2", "W3", "W4", "W5", "W6"}
    assert all(line["shown_under"] == "" and line["also_fed_by"] == ["A 1"] for line in held.values())
    again = [line for line in data["circuits"][0]["lines"] if line["kind"] == "again"]
    assert ("W1 black", "A 1") in {(line["item"], line["shown_under"]) for line in again}


def test_way_through_a_device_that_can_be_otherwise_is_marked() -> None:
    """A switch or a receptacle: nobody knows whether it passes the feed on."""
    record = record_text(
        panels={"A": {"breakers": {"1": 15}}}, boxes={"hall": "nonmetallic", "den": "nonmetallic"},
        cables={"W1": {"type": "14/2", "from": "A 1", "to": "hall"}, "W2": {"type": "14/2", "from": "hall", "to": "den"}},
        devices={"D1": {"kind": "switch or timer", "at": "hall", "terminals": {"line": "W1 black", "load": "W2 black"}}},
    )  # fmt: skip
    text = block(text_of(traced(record)), "A 1:")
    assert "   ~~ W2 14/2 to den" in text
    assert "through D1, whose kind is not certain" in text


def test_three_way_switch_is_not_left_by_the_traveller_beside() -> None:
    """Fed at a traveller, a three-way switch passes on to its common only; the other traveller is not reached."""
    record = record_text(
        panels={"A": {"breakers": {"1": 15}}}, boxes={"hall": "nonmetallic", "den": "nonmetallic"},
        cables={"W1": {"type": "14", "from": "A 1", "to": "hall"}, "W2": {"type": "14/2", "from": "hall", "to": "den"}},
        devices={"S1": {"kind": "three-way switch", "at": "hall",
                        "terminals": {"traveller_1": "W1 black", "common": "W2 black", "traveller_2": "W2 white"}}},
    )  # fmt: skip
    leads = [lead["conductor"] for line in data_of(traced(record))["circuits"][0]["lines"] for lead in line["leads"]]
    assert leads == ["W1 black", "W2 black"]


def test_way_does_not_turn_back_through_the_switch_it_came_by() -> None:
    """Both travellers of S1 are fed, the second one by way of the den: W3 is met there, not through S1."""
    record = record_text(
        panels={"A": {"breakers": {"1": 15}}}, boxes={"hall": "nonmetallic", "den": "nonmetallic"},
        cables={"W1": {"type": "14", "from": "A 1", "to": "hall"}, "W2": {"type": "14", "from": "hall", "to": "den"},
                "W3": {"type": "14", "from": "den", "to": "hall"}, "W4": {"type": "14", "from": "hall", "to": "den"}},
        joints={"J1": {"at": "hall", "ends": ["W1 black", "W2 black", "S1 traveller_1"]},
                "J2": {"at": "den", "ends": ["W2 black", "W3 black"]}},
        devices={"S1": {"kind": "three-way switch", "at": "hall",
                        "terminals": {"common": "W4 black", "traveller_2": "W3 black"}}},
    )  # fmt: skip
    held = {line["item"]: line for line in data_of(traced(record))["circuits"][0]["lines"] if line["kind"] == "cable"}
    assert {tag: line["depth"] for tag, line in held.items()} == {"W1": 0, "W2": 1, "W4": 1, "W3": 2}
    assert held["W3"]["leads"][0]["back"] is False
    assert held["W3"]["to"]["place"] == "hall"


def test_cable_is_in_full_where_it_lands() -> None:
    """The red of W2 hangs on A 1 at the far end; the cable lands on A 3 and is in full there."""
    record = record_text(
        panels={"A": {"breakers": {"1": 15, "3": 15}}}, boxes={"hall": "nonmetallic"},
        cables={"W1": {"type": "14", "from": "A 1", "to": "hall"},
                "W2": {"type": "14/3", "from": {"at": "A", "black": "breaker 3", "red": "capped"}, "to": "hall"}},
        joints={"J1": {"at": "hall", "ends": ["W1 black", "W2 red"]}},
    )  # fmt: skip
    first, second = data_of(traced(record))["circuits"]
    assert [(line["item"], line["shown_under"]) for line in first["lines"]] == [("W1", ""), ("W2", "A 3")]
    assert [(line["item"], line["shown_under"]) for line in second["lines"]] == [("W2", "")]


# -- properties on houses made from a seed


@pytest.mark.parametrize("shape", SHAPES)
def test_every_cable_is_shown_in_full_once(shape: dict[str, Any]) -> None:
    """Over all circuits, what is not traced, and what only grounds or returns."""
    for seed in SEEDS:
        record, data = house_of(seed, **shape)[0], lines_of(seed, **shape)
        whole = Counter(line["item"] for line in lines(data) if line["kind"] == "cable" and not line["shown_under"])
        whole += Counter(line["item"] for line in data["bare"])
        assert whole == Counter(record["cables"].keys()), f"seed {seed}"


@pytest.mark.parametrize("shape", SHAPES)
def test_circuits_hold_what_their_breakers_reach(shape: dict[str, Any]) -> None:
    """Against the graph of the raw record: no conductor in a circuit that its breaker does not reach, none left out."""
    for seed in SEEDS:
        reference, data = reference_of(seed, **shape), lines_of(seed, **shape)
        shown: dict[str, str] = {}
        for circuit in data["circuits"]:
            for line in circuit["lines"]:
                for lead in line["leads"]:
                    assert shown.setdefault(lead["conductor"], circuit["circuit"]) == circuit["circuit"]
        for circuit in data["circuits"]:
            own = {breaker["breaker"] for breaker in circuit["breakers"]}
            for name in (name for name, at in shown.items() if at == circuit["circuit"]):
                assert own & set(reference.reach[reference.net_of["wire", name]]), f"seed {seed}, {name}"
        for net in reference.nets:
            poles = [node for other in reference.group[net] for node in other if node[0] == "pole"]
            if reference.reach[net] and len(poles) <= MAX_JOINED:
                left = {node[1] for node in net if node[0] == "wire"} - set(shown)
                assert not left, f"seed {seed}: {left}"


@pytest.mark.parametrize("shape", SHAPES)
def test_each_line_starts_where_the_line_above_it_ends(shape: dict[str, Any]) -> None:
    """A cable under another has an end, or a box that it passes, at the place where that one leads to."""
    for seed in SEEDS:
        record = house_of(seed, **shape)[0]
        for tree in trees(lines_of(seed, **shape)):
            for line in tree["lines"]:
                assert line["line"] == tree["lines"].index(line)
                if line["under"] is None:
                    assert line["depth"] == 0
                    continue
                above = tree["lines"][line["under"]]
                assert above["depth"] == line["depth"] - 1
                if line["kind"] == "cable":
                    ends = [record["cables"][line["item"]].get(side) for side in ("from", "to")]
                    places = {end.get("at") if isinstance(end, dict) else end for end in ends}
                    assert above["to"]["place"] in places, f"seed {seed}, {line['item']} under {above['item']}"


@pytest.mark.parametrize("shape", SHAPES)
def test_order_of_the_file_changes_nothing(shape: dict[str, Any]) -> None:
    for seed in SEEDS[: len(SEEDS) // 2]:
        record = house_of(seed, **shape)[0]
        one, two = tree_of(seed, **shape), traced(houses.shuffled(record, seed + 1))
        for what in (None, "labels"):
            assert body(text_of(one, what=what)) == body(text_of(two, what=what)), f"seed {seed}"


@pytest.mark.parametrize("shape", SHAPES)
def test_nothing_is_wider_than_the_page(shape: dict[str, Any]) -> None:
    for seed in SEEDS:
        made = tree_of(seed, **shape)
        for text in (text_of(made), text_of(made, what="labels")):
            assert max(map(cells, text.splitlines())) <= WIDTH, f"seed {seed}"


@pytest.mark.parametrize("shape", SHAPES)
def test_labels_of_houses(shape: dict[str, Any]) -> None:
    """Two for each cable; each fits a flag, names nothing as dead, off or safe, and tells what is not traced."""
    for seed in SEEDS:
        record, reference = house_of(seed, **shape)[0], reference_of(seed, **shape)
        made = data_of(tree_of(seed, **shape), what="labels")["labels"]
        assert Counter((label["cable"], label["end"]) for label in made) == Counter(
            (tag, side) for tag in record["cables"] for side in ("from", "to")
        )
        for label in made:
            where = f"seed {seed}, {label['short']}"
            assert cells(label["short"]) <= FLAG, where
            assert label["short"].startswith(f"{label['cable']} "), where
            assert label["short"].endswith("TREAT AS LIVE"), where
            assert not FORBIDDEN.search(label["short"] + label["full"]), where
            nets = {
                net
                for node, net in reference.net_of.items()
                if node[0] == "wire" and node[1].startswith(f"{label['cable']} ")
            }
            if nets <= reference.stray:
                assert "breaker" in label["uncertain"], where
                assert "NOT TRACED" in label["short"], where
                assert "not traced" in label["full"], where
            fed = {breaker for net in nets for breaker in reference.reach[net]}
            assert fed <= {*label["breakers"], *label["beside"], *label["also_fed_by"]}, where


@pytest.mark.parametrize("what", [None, "labels", "log"])
def test_data_has_the_form_of_its_schema(demo: Traced, what: str | None) -> None:
    VALIDATOR.validate(data_of(demo, what=what))


@pytest.mark.parametrize(
    "tag", ["A", "A 5", "A 5/7", "pantry wall", "WH", "LT1", "J14", "W48", "W48 red", "R18 hot", "cellar spare"]
)
def test_selections_have_the_form_of_the_schema_and_fit_the_page(demo: Traced, tag: str) -> None:
    data = data_of(demo, at=tag)
    VALIDATOR.validate(data)
    assert data["at"] == tag
    assert max(map(cells, text_of(demo, at=tag).splitlines())) <= WIDTH


def test_schema_refuses_what_is_not_said_there(demo: Traced) -> None:
    data = data_of(demo)
    data["circuits"][0]["lines"][0]["colour"] = "red"
    with pytest.raises(jsonschema.ValidationError):
        VALIDATOR.validate(data)


def test_every_kind_of_tag_of_the_demo_can_be_asked_for(demo: Traced) -> None:
    """Every third tag of each kind, of the form of the schema by the fast validator."""
    validator = jsonschema_rs.Draft202012Validator(schema("trace"))
    record = demo.installation.record
    for kind in (record.cables, record.boxes, record.devices, record.joints, record.panels):
        for tag in list(kind)[::3]:
            validator.validate(data_of(demo, at=tag))


def test_unknown_tag_names_the_nearest(demo: Traced) -> None:
    with pytest.raises(NotThere, match="did you mean 'pantry wall'"):
        text_of(demo, at="pantri wall")


# -- long, deep and hostile


def test_long_chain_goes_on_further_down() -> None:
    """Deeper than any recursion; every place where it goes on is found again by its number."""
    text = text_of(chain())
    assert max(map(cells, text.splitlines())) <= WIDTH
    sent = re.findall(r"goes on at \[(\d+)\]", text)
    found = re.findall(r"^\[(\d+)\] A 1 goes on at ", text, re.MULTILINE)
    assert sent == found == [str(number + 1) for number in range(len(found))]
    assert len(found) > 100
    assert re.findall(r"-- (W\d+) 14/2 to B", text) == [f"W{number}" for number in range(LONG_CHAIN)]


def test_long_chain_as_data_and_labels() -> None:
    made, last = chain(), LONG_CHAIN - 1
    assert max(line["depth"] for line in json.loads(json.dumps(data_of(made)))["circuits"][0]["lines"]) == last
    assert len(data_of(made, what="labels")["labels"]) == 2 * LONG_CHAIN
    back = data_of(made, at=f"W{last} black")["wires"]["conductors"][0]["way_back"]
    assert [step["conductor"] for step in back] == [f"W{number} black" for number in reversed(range(last))]


def test_many_switches_and_breakers() -> None:
    """Ladders of three-way pairs, one net with many breakers, and a hub of switches come out whole."""
    for record in (houses.three_way_ladder(60), houses.many_breakers(40, 20), houses.breakers_through_switches(30),
                   houses.many_switches(120, "three-way switch")):  # fmt: skip
        made = traced(record)
        data = data_of(made)
        whole = [line["item"] for line in lines(data) if line["kind"] == "cable" and not line["shown_under"]]
        assert sorted([*whole, *(line["item"] for line in data["bare"])]) == sorted(record["cables"])
        assert max(map(cells, text_of(made).splitlines())) <= WIDTH


RLM, ZWSP, SHY, WIDE = "\u200f", "\u200b", "\u00ad", "\u96fb"
LONG = "x" * 300


def hostile() -> str:
    """A record whose tags and words hide, turn the line, take two cells each, or are very long."""
    tag = {name: f"{name}{RLM}{WIDE * 20}{'y' * 30}"[:60] for name in ("W1", "W2", "hall", "den", "R1")}
    return record_text(
        site={"name": f"Hut {RLM}\tby\nthe {LONG}"},
        panels={"A": {"where": f"{ZWSP}{LONG} {WIDE * 90}", "breakers": {"1": {"amps": 15, "label": f"{RLM}x\ty{SHY}{LONG}"}}}},
        boxes={tag["hall"]: {"kind": "no box", "where": f"({LONG}\n{RLM})"}, tag["den"]: {"kind": {"not_seen": f"{LONG}{RLM}"}}},
        cables={
            tag["W1"]: {"type": "14/2", "from": "A 1", "to": tag["hall"]},
            tag["W2"]: {"type": {"is": "14/2", "how": "by eye"}, "from": {"at": tag["hall"], "white": {"not_seen": f"{RLM}{LONG}"}},
                        "to": tag["den"]},
            "W3": {"type": "14/2", "from": {"not_seen": f"{WIDE * 100}{SHY} {LONG}"}, "to": {"at": tag["hall"], "black": "loose"}},
        },
        joints={f"J{RLM}1": {"at": tag["hall"], "ends": [f"{tag['W1']} black", f"{tag['W2']} black"]}},
        devices={tag["R1"]: {"kind": "duplex receptacle", "at": tag["den"], "terminals": {"hot": f"{tag['W2']} black"}},
                 "alone": {"kind": "fan", "where": f"\t{RLM}{LONG}"}},
        log=[{"did": "switched", "what": "A 1", "to": f"off{RLM}{LONG}", "at": "10:00"}],
    )  # fmt: skip


def test_hostile_words_come_out_harmless_and_within_the_page() -> None:
    made = traced(hostile())
    record = made.installation.record
    texts = [text_of(made), text_of(made, what="labels"), text_of(made, what="log")]
    texts += [text_of(made, at=tag) for tag in (*record.cables, *record.boxes, *record.devices, "A")]
    for text in texts:
        for line in text.split("\n"):
            assert cells(line) <= WIDTH, line
            assert not [c for c in line if unicodedata.category(c) in ("Cc", "Cf", "Zl", "Zp")], repr(line)
    assert "<U+200F>" in texts[0]
    assert "<U+200B>" in texts[0]
    for label in data_of(made, what="labels")["labels"]:
        assert cells(label["short"]) <= FLAG
        assert label["short"].endswith("TREAT AS LIVE")
        assert LONG[:100] not in label["full"], "labels take tags and fixed words only"


def test_labels_leave_out_words_of_the_record_that_call_something_dead() -> None:
    """Where a cable goes was not seen because somebody took it for dead; the label does not repeat that."""
    record = record_text(
        panels={"A": {"breakers": {"1": {"amps": 15, "label": "off, dead"}}}},
        boxes={"hall": {"kind": "nonmetallic", "where": "safe and dead end"}},
        cables={"W1": {"type": "14/2", "from": {"not_seen": "dead, switched off"}, "to": "hall"}},
    )
    made = traced(record)
    text = text_of(made, what="labels").split("-- LABELS", 1)[1]
    assert "W1 BREAKER NOT TRACED TREAT AS LIVE" in text
    assert not FORBIDDEN.search(text)
    assert "dead, switched off" in " ".join(text_of(made).split())


# -- labels word for word


@pytest.mark.parametrize(
    ("cable", "end", "short", "full"),
    [
        pytest.param(
            "W44", "to", "W44 A 12 ALSO FED BY A 20 TREAT AS LIVE",
            "From panel A to attic junction. 12/2 W/G NM-B. Breaker A 12. ALSO FED BY A 20. Leads to R17, AF1, to what "
            "another cable leads to as well. Treat as live.",
            id="fed from two places",
        ),
        pytest.param(
            "W48", "to", "W48 A 13 + A 17 TREAT AS LIVE",
            "From panel A to laundry. 12/3 W/G NM-B. Breaker A 13. Another conductor in it: breaker A 17. Leads to R18. "
            "Treat as live.",
            id="two circuits in one cable",
        ),
        pytest.param(
            "W24", "to", "W24 BREAKER NOT TRACED TREAT AS LIVE",
            "From a place not seen to north wall. 14/2 NM. Breaker not traced; can be A 9 or something not recorded. "
            "White not traced; a neutral only by colour or terminal. Leads to what is not traced. Treat as live.",
            id="breaker not traced",
        ),
        pytest.param(
            "W51", "to", "W51 A 15 TEST BEFORE TOUCH",
            "From panel A to under sink. 12/2 W/G NM-B. Breaker A 15. Leads to DW, DISPOSAL. Test before touching.",
            id="proven on the day, which no label repeats",
        ),
        pytest.param(
            "W12", "to", "W12 A 6 LIVE",
            "From dining to sideboard. 12?/2 W/G NM-B, size or type not certain. Breaker A 6. Leads to R9. Read live.",
            id="size weakly known",
        ),
        pytest.param(
            "W50", "to", "W50 A 14/16 TREAT AS LIVE",
            "From panel A to panel B. 8/3 W/G NM-B. Lands: black on lug 1, red on lug 2, white on neutral bar and bare "
            "on ground bar. Breaker A 14/16. Leads to panel B. Treat as live.",
            id="feeder of a panel",
        ),
    ],
)  # fmt: skip
def test_demo_labels_word_for_word(demo: Traced, cable: str, end: str, short: str, full: str) -> None:
    made = {(label["cable"], label["end"]): label for label in data_of(demo, what="labels")["labels"]}
    assert (made[cable, end]["short"], made[cable, end]["full"]) == (short, full)


def test_labels_stand_in_walking_order(demo: Traced) -> None:
    """Panel A first, then the places of its circuits as the tree comes to them; last the ends that nobody found."""
    places = list(dict.fromkeys(label["at"] for label in data_of(demo, what="labels")["labels"]))
    assert places[:4] == ["panel A", "range", "WH", "counter left"]
    assert places.index("dining") < places.index("pantry ceiling") < places.index("pantry wall")
    assert places[-1] == ""
    assert len(places) == len(set(places))


def test_label_too_long_for_a_flag_keeps_its_mark() -> None:
    tag = "the long cable over the old kitchen ceiling"
    record = record_text(
        panels={"A": {"breakers": {"1": 15, "3": 15}}}, boxes={"hall": "nonmetallic"},
        cables={tag: {"type": "14", "from": "A 1", "to": "hall"}, "W2": {"type": "14", "from": "A 3", "to": "hall"}},
        joints={"J1": {"at": "hall", "ends": [f"{tag} black", "W2 black"]}},
    )  # fmt: skip
    made = {label["cable"]: label["short"] for label in data_of(traced(record), what="labels")["labels"]}
    assert made[tag] == "the lo.. FED BY 2 BREAKERS TREAT AS LIVE"
    assert made["W2"] == "W2 A 3 ALSO FED BY A 1 TREAT AS LIVE"


# -- lines


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        pytest.param("a b", ["a b"], id="as it is"),
        pytest.param("", [""], id="nothing"),
        pytest.param("one two three", ["one two", "three"], id="between words"),
        pytest.param("a " + "b" * 12, ["a bbbbbbbb", "bbbb"], id="a word too long is broken"),
        pytest.param(WIDE * 7, [WIDE * 5, WIDE * 2], id="characters that take two cells"),
        pytest.param("e\u0301" * 10, ["e\u0301" * 10], id="marks that take none"),
        pytest.param(f"a{RLM}", ["a<U+200F>"], id="a mark that turns the line"),
    ],
)
def test_wrapping_by_cells(text: str, expected: list[str]) -> None:
    assert wrap(text, width=10) == expected


def test_plain_keeps_letters_and_cut_says_that_it_cut() -> None:
    assert plain("Küche  \t 2\n") == "Küche 2"
    assert cut("kitchen ceiling", 9) == "kitchen.."
    assert cut("hall", 9) == "hall"


# -- the command


@pytest.mark.parametrize(
    ("options", "status", "said"),
    [
        pytest.param([], 0, "", id="printed"),
        pytest.param(["--no-rules"], 0, "", id="without rules"),
        pytest.param(["--at", "den"], 0, "", id="a place"),
        pytest.param(["--labels"], 0, "", id="labels"),
        pytest.param(["--log"], 0, "", id="log"),
        pytest.param(
            ["--at", "dem"], 2, "There is no 'dem' in the record; did you mean 'den'?", id="a tag that is not there"
        ),
        pytest.param(["--at", "den", "--labels"], 2, "give --at or --labels, not both", id="one place and labels"),
        pytest.param(["--labels", "--as-of", "2026-01-01"], 2, "--labels runs no rules", id="labels by a date"),
        pytest.param(["--as-of", "yesterday"], 2, "write it like 2026-05-04", id="a date that is none"),
        pytest.param(["--rules", "nowhere"], 2, "Rules:", id="rules that are not there"),
    ],
)
def test_exit_status(options: list[str], status: int, said: str) -> None:
    done = run("trace", str(SMALL_HOUSE), *options)
    assert done.exit_code == status, done.stdout + done.stderr
    assert said in " ".join(done.stderr.split())
    assert bool(done.stdout) == (status == 0)


def test_refused_record_is_not_traced(tmp_path: Path) -> None:
    path = tmp_path / "hut.yaml"
    path.write_text("asfound: 1\nsite: {}\n")
    done = run("trace", str(path))
    assert (done.exit_code, done.stdout) == (3, "")
    assert "The record was not traced" in done.stderr


def test_json_of_the_command_agrees_with_the_text() -> None:
    data = json.loads(run("trace", str(SMALL_HOUSE), "--format", "json", "--as-of", "2026-05-20").stdout)
    VALIDATOR.validate(data)
    flags = {
        line["item"]: [(flag["grade"], flag["rule"], flag["at"]) for flag in line["flags"]] for line in lines(data)
    }
    assert flags["W3"] == [("first", "conductor-too-small", "conductor W3 black")]
    assert flags["W1"] == []
    assert data["run"]["as_of"] == "2026-05-20"


def test_every_finding_of_the_demo_has_a_place() -> None:
    """Each is flagged in the trees, at a panel or breaker, or among the things that no tree shows."""
    made = judged(DEMO)
    assert made.results is not None
    data = data_of(made)
    held = [*lines(data), *data["bare"], *data["devices"], *data["places"], *data["panels"], *data["circuits"]]
    shown = {flag["finding"] for one in held for flag in one["flags"]} | {flag["finding"] for flag in data["flags"]}
    assert shown == {finding.identity for finding in made.results.findings}
    assert {flag["at"].split()[0] for flag in data["flags"]} <= {"site", "reading", "label", "photo", "instrument"}
    stray = next(line for line in lines(data) if line["item"] == "W24")
    assert "end W24 black (to)" in {flag["at"] for flag in stray["flags"]}


def test_walk_meets_each_conductor_once(demo: Traced) -> None:
    walked = walk(demo.installation)
    met = Counter(wire.conductor.tag for branch in (*walked.circuits, *walked.stray) for wire in branch.wires)
    assert set(met.values()) == {1}
