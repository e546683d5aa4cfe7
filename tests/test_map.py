"""The wiring map: what is drawn, that it can be read, and that nothing in a record does harm in it.

Drawings are read back from the SVG. Room that a text takes is by one width for
every character, 0.602 of its size: the advance of DejaVu Sans Mono, 1233 of
2048 units, which is what typeset paper uses. Symbols after IEEE Std 315 and
ANSI Y32.9 from memory.
"""

from __future__ import annotations

import functools
import itertools
import json
import os
import random
import re
import subprocess
import sys
from collections import Counter
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any
from xml.etree import ElementTree

import pytest

import houses
from asfound.judge.results import Results
from asfound.judge.tables import TableSet
from asfound.load import load_bytes, load_file
from asfound.map import Drawing, across, drawings, text
from asfound.map.across import Row
from asfound.map.circuits import Parts
from asfound.map.parts import Part, say
from asfound.map.sheet import DASH, LINK_DASH, Sheet
from asfound.render.flags import Flags
from asfound.render.rows import Rows
from asfound.survey import Survey, read_record, survey
from asfound.trace import trace
from asfound.trace.walk import walk
from examples import examples, picked, seeds

ROOT = Path(__file__).parents[1]
NAMESPACE = "{http://www.w3.org/2000/svg}"
CELL = 0.602
LETTER = 612 - 2 * 16 / 25.4 * 72
"""Width of US letter less margins of 16 mm, in points."""
Box = tuple[float, float, float, float, str]
Segment = tuple[float, float, float, float]


@functools.cache
def demo() -> Survey:
    return survey(ROOT / "fixtures" / "demo.yaml", "2026-11-25")


@functools.cache
def demo_drawings() -> tuple[Drawing, ...]:
    return tuple(drawings(demo()))


def traced(record: houses.Record) -> Survey:
    """A record traced and not judged."""
    built = read_record(load_bytes(houses.as_bytes(record), "house.yaml"))
    return Survey(built, trace(built), (), TableSet([], "2026-01-01"), Results())


# -- reading a drawing


def tree(drawing: Drawing) -> ElementTree.Element:
    return ElementTree.fromstring(drawing.svg)


def texts(drawing: Drawing) -> list[str]:
    return ["".join(one.itertext()).replace("\u00a0", " ") for one in tree(drawing).iter(f"{NAMESPACE}text")]


def all_text(drawn: list[Drawing] | tuple[Drawing, ...]) -> str:
    """Everything that is written, line after line."""
    return " ".join(line for drawing in drawn for line in texts(drawing))


def groups(drawing: Drawing) -> Iterator[tuple[ElementTree.Element, list[str], list[str]]]:
    """Each group with what it draws in full and what it refers to."""
    for group in tree(drawing).iter(f"{NAMESPACE}g"):
        inner = group.findall(f"{NAMESPACE}g")
        yield (
            group,
            [one.get("data-item", "") for one in inner if one.get("data-item")],
            [one.get("data-ref", "") for one in inner if one.get("data-ref")],
        )


def named(drawn: list[Drawing] | tuple[Drawing, ...], name: str) -> Counter[str]:
    """How often each thing is drawn as `item`, in full, or as `ref`."""
    found = (one.get(f"data-{name}") for drawing in drawn for one in tree(drawing).iter(f"{NAMESPACE}g"))
    return Counter(one for one in found if one)


def group_of(drawn: list[Drawing] | tuple[Drawing, ...], item: str) -> ElementTree.Element:
    """The group that draws an item in full."""
    return next(group for drawing in drawn for group, items, _ in groups(drawing) if item in items)


def words_of(group: ElementTree.Element) -> str:
    lines = ["".join(one.itertext()) for one in group.iter(f"{NAMESPACE}text")]
    return " ".join(lines).replace("\u00a0", " ")


def boxes(root: ElementTree.Element) -> list[Box]:
    """The room of each text: left, top, right, bottom, and the words."""
    letters = root.find(f"{NAMESPACE}g")
    assert letters is not None
    found = []
    for one in root.iter(f"{NAMESPACE}text"):
        words = "".join(one.itertext())
        size = float(one.get("font-size", letters.get("font-size", "")))
        wide = len(words) * CELL * size
        x, y = float(one.get("x", "")), float(one.get("y", ""))
        x -= {"start": 0.0, "middle": wide / 2, "end": wide}[one.get("text-anchor", "start")]
        found.append((x, y - 0.73 * size, x + wide, y + 0.2 * size, words))
    return found


def segments(path: str) -> Iterator[Segment]:
    """The straight pieces of path commands."""
    x = y = 0.0
    for command, figures in re.findall(r"([MHVLZQT])([-0-9. ]*)", path):
        to = [float(figure) for figure in figures.split()]
        if command == "H":
            to = [to[0], y]
        elif command == "V":
            to = [x, to[0]]
        elif command not in "ML":
            continue
        if command != "M":
            yield x, y, to[0], to[1]
        x, y = to


def crosses(segment: Segment, box: Box) -> bool:
    """Whether a straight line runs through a rectangle: by clipping it (Liang and Barsky, 1984)."""
    x1, y1, x2, y2 = segment
    left, top, right, bottom, _ = box
    start, end = 0.0, 1.0
    for step, room in ((x1 - x2, x1 - left), (x2 - x1, right - x1), (y1 - y2, y1 - top), (y2 - y1, bottom - y1)):
        if step == 0:
            if room < 0:
                return False
        elif step < 0:
            start = max(start, room / step)
        else:
            end = min(end, room / step)
    return start < end


def problems(svg: str) -> list[str]:
    """Texts that lie on each other, on a line, or outside the drawing."""
    root = ElementTree.fromstring(svg)
    wide, high = map(float, root.get("viewBox", "").split()[2:])
    found = []
    held = sorted(boxes(root))
    for number, (left, top, right, bottom, words) in enumerate(held):
        if left < -0.2 or right > wide + 0.2 or top < -0.2 or bottom > high + 0.2:
            found.append(f"outside: {words}")
        for other in held[number + 1 :]:
            if other[0] >= right - 0.2:
                break
            if top + 0.3 < other[3] - 0.3 and other[1] + 0.3 < bottom - 0.3:
                found.append(f"on each other: {words} / {other[4]}")
    labels = [(a + 0.3, b + 0.8, c - 0.3, d - 0.8, words) for a, b, c, d, words in held if len(words) > 2]
    for path in root.iter(f"{NAMESPACE}path"):
        for segment in segments(path.get("d", "")) if path.get("fill") == "none" else ():
            found += [f"on a line: {label[4]}" for label in labels if crosses(segment, label)]
    return found


# -- what is drawn


def test_pages_of_the_demo_say_which_they_are() -> None:
    """Pages of a panel are counted in their titles; what is not traced has pages of its own."""
    titles = [drawing.title for drawing in demo_drawings()]
    pages = sum(title.startswith("Panel A") for title in titles)
    assert titles == [
        *(f"Panel A, page {number} of {pages}" for number in range(1, pages + 1)),
        "Panel B",
        "Not traced to a breaker",
    ]
    for drawing in demo_drawings():
        assert drawing.title in drawing.alt
        assert "PROVEN DEAD is to be treated as live" in drawing.alt


def everything(done: Survey) -> tuple[set[str], set[str]]:
    """What must be drawn in full once, and what at least once, in full or as a reference."""
    record = done.record
    once = {f"cable {tag}" for tag in record.cables} | {f"breaker {one.tag}" for one in record.breakers.values()}
    once |= {f"panel {tag}" for tag in record.panels}
    return once, {f"box {tag}" for tag in record.boxes} | {f"device {tag}" for tag in record.devices}


def assert_whole(done: Survey, drawn: list[Drawing] | tuple[Drawing, ...]) -> None:
    once, somewhere = everything(done)
    full, refs = named(drawn, "item"), named(drawn, "ref")
    assert {name: count for name, count in full.items() if name in once | somewhere and count != 1} == {}
    assert once - set(full) == set()
    assert somewhere - set(full) - set(refs) == set()


def test_everything_of_the_demo_is_drawn() -> None:
    """Every cable, breaker and panel is drawn once in full, every box and device in full or as a reference."""
    assert_whole(demo(), demo_drawings())


@pytest.mark.parametrize("seed", seeds(30))
def test_random_houses(seed: int) -> None:
    """Whatever is recorded, everything is drawn once and no text lies on another or on a line."""
    done = traced(houses.house(seed))
    drawn = drawings(done)
    assert_whole(done, drawn)
    tags = [*list(done.record.boxes)[:3], *[breaker.tag for breaker in list(done.record.breakers.values())[:4]]]
    for drawing in (*drawn, *(one for tag in tags for one in drawings(done, tag))):
        assert problems(drawing.svg) == []


@pytest.mark.parametrize("seed", picked(3, 24, 88))
def test_judged_random_houses(tmp_path: Path, seed: int) -> None:
    """With flags and their list the texts still do not lie on each other, and the pages are of letter size."""
    file = tmp_path / "house.yaml"
    file.write_text(houses.as_yaml(houses.house(seed, cables=30)), encoding="utf-8")
    done = survey(file, "2026-01-01")
    for drawing in drawings(done):
        assert problems(drawing.svg) == []
        assert drawing.high <= 646  # what a letter page leaves below a heading and above a caption, for this width


@pytest.mark.parametrize(
    "only", ["", "A 6", "A 8", "A 14/16", "attic junction", "bedroom 2", "north wall", "WH", "W24"]
)
def test_no_text_of_the_demo_lies_on_another(only: str) -> None:
    """Texts keep off each other, off lines, and within the drawing."""
    for drawing in drawings(demo(), only):
        assert problems(drawing.svg) == []


@pytest.mark.parametrize(
    ("body", "found"),
    [
        pytest.param('<text x="0" y="10">W12 14/2</text><text x="30" y="12">den</text>', "on each other", id="two texts"),
        pytest.param('<text x="0" y="10">W12 14/2</text><path d="M5 0V20" fill="none"/>', "on a line", id="text on a line"),
        pytest.param('<text x="90" y="10">W12 14/2</text>', "outside", id="text beyond the edge"),
        pytest.param('<text x="20" y="10" text-anchor="end">W12 14/2</text>', "outside", id="text before the edge"),
    ],
)  # fmt: skip
def test_the_check_finds_what_is_wrong(body: str, found: str) -> None:
    """The check on overlaps is no check unless it finds some."""
    head = '<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 100 50"><g font-size="7">'
    assert [one.split(":")[0] for one in problems(f"{head}{body}</g></svg>")] == [found]


# -- how it is drawn


def spans_of(strip: across.Strip) -> list[tuple[float, float, float]]:
    """Where each upright stands, from where to where, in order."""
    held = []
    for block in strip.blocks:
        heights = [block.y, *(child.y for child in block.children)]
        if block.children:
            held.append((round(block.children[0].x, 1), min(heights), max(heights)))
    return sorted(held)


def assert_apart(strip: across.Strip) -> int:
    """No two uprights share a point, no two parts room; gives how many pairs of uprights stand above each other."""
    seen = 0
    for (x, _, low), (other, top, _) in itertools.pairwise(spans_of(strip)):
        assert x != other or low < top
        seen += x == other
    for one, two in itertools.combinations(strip.blocks, 2):
        apart = one.x + one.wide <= two.x + 0.1 or two.x + two.wide <= one.x + 0.1
        assert apart or one.y + one.down <= two.y - two.up + 0.1 or two.y + two.down <= one.y - one.up + 0.1
    return seen


def test_ways_of_different_cables_do_not_touch() -> None:
    """Uprights of two parents never share a point, or the drawing would show a joint that is none."""
    seen = 0
    for seed in seeds(8):
        done = traced(houses.house(seed, cables=60))
        rows = Rows(done.installation, walk(done.installation), Flags(done.installation))
        parts = Parts(rows)
        strips = across.Strips(400.0, 1)
        found = rows.trace()
        waiting = [*map(parts.circuit, found.circuits), *map(parts.group, found.groups)]
        while waiting:
            strip, more = strips.strip(waiting.pop())
            waiting += more
            seen += assert_apart(strip)
    assert seen > 8


UPRIGHTS_MEET = (865, 3076, 3788)
"""Seeds of strips whose uprights would meet; about one in a thousand is such."""


def test_ways_do_not_touch_however_much_is_written(monkeypatch: pytest.MonkeyPatch) -> None:
    """With very many words above some lines and below others, uprights would meet; then lines keep one height."""
    again: list[bool] = []
    meet = across._uprights_meet

    def counted(strip: across.Strip) -> bool:
        again.append(meet(strip))
        return again[-1]

    monkeypatch.setattr(across, "_uprights_meet", counted)
    for seed in (*UPRIGHTS_MEET, *seeds(150)):
        rng = random.Random(seed)
        parts = [Part("breaker", amps=["20"])]
        for number in range(rng.randint(3, 14)):
            part = Part("cable", f"cable W{number}", wires=2)
            part.over = [say("above")] * rng.choice([1, 1, 1, 2, 5, 10])
            part.under = [say("below")] * rng.choice([1, 1, 1, 2, 6, 12])
            parts[rng.randrange(len(parts))].children.append(part)
            parts.append(part)
        assert_apart(across.Strips(600.0, 1).strip(parts[0])[0])
    assert sum(again) >= len(UPRIGHTS_MEET)


def test_breakers_stand_in_order_of_spaces() -> None:
    """From page to page and from top to bottom breakers follow the order of their spaces."""
    found = []
    for drawing in demo_drawings():
        for group, items, _ in groups(drawing):
            tags = [item.removeprefix("breaker ") for item in items if item.startswith("breaker A ")]
            rect = group.find(f"{NAMESPACE}rect")
            if tags and rect is not None:
                found.append((drawing.title, float(rect.get("y", "")), tags[0]))
    assert found == sorted(found)
    assert [tag for *_, tag in found][:6] == ["A 1/3", "A 2/4", "A 5/7", "A 6", "A 8", "A 9"]


SMALL: dict[str, Any] = {
    "panels": {"A": {"breakers": {"1": 20, "3": 15, "5/7": {"amps": 30}, "9": {"amps": "15 or 20"}}}},
    "cables": {
        "W1": {"type": "12/2 NM-B with ground", "from": "A 1", "to": "hall"},
        "W2": {"type": {"is": "14/2 with ground", "how": "by eye"}, "from": "hall", "to": "porch"},
        "W3": {"gauge": "14 or 12", "conductors": {"black": {}, "white": {}}, "from": "hall",
               "to": {"not_seen": "goes up in the wall"}},
        "W4": {"type": "14/2", "from": "hall", "to": {"at": "attic", "black": "loose", "white": "capped"}},
        "W5": {"type": "14/2", "from": "A 3", "to": "den"},
        "W6": {"type": "14/2", "from": "den", "to": "attic"},
        "W7": {"type": "14/2", "from": {"not_seen": "comes out of the floor"}, "to": "shed"},
    },
    "boxes": {
        "hall": {"kind": "octagonal 4 x 1-1/2"}, "porch": {"kind": "nonmetallic"}, "attic": "no box",
        "den": {"kind": {"not_seen": "behind a plate"}}, "shed": {"kind": "nonmetallic"},
    },
    "joints": {
        "J1": {"at": "hall", "ends": ["W1 black", "W2 black", "W3 black", "W4 black"]},
        "J2": {"at": "hall", "ends": ["W1 white", "W2 white", "W3 white", "W4 white"]},
        "J3": {"at": "den", "ends": ["W5 black", "W6 black"]},
        "J4": {"at": "den", "ends": ["W5 white", "W6 white"]},
        "J5": {"at": "attic", "ends": ["W6 black", "S1 line"]},
    },
    "devices": {
        "R1": {"kind": "duplex receptacle", "at": "porch", "wired_to": "W2"},
        "S1": {"kind": "three-way switch", "at": "attic"},
        "R2": {"kind": "duplex receptacle", "at": "shed", "wired_to": "W7"},
    },
}  # fmt: skip


def small(**sections: Any) -> Survey:
    record = houses.empty(SMALL["panels"], **{name: held for name, held in SMALL.items() if name != "panels"})
    record["joints"] = {**record["joints"], "J5": {"at": "attic", "ends": ["W6 black", "W6 white"]}}
    return traced({**record, **sections})


def shapes(group: ElementTree.Element) -> Counter[str]:
    return Counter(one.tag.removeprefix(NAMESPACE) for one in group)


def test_a_box_has_an_outline_and_a_splice_in_the_open_has_none() -> None:
    """Square and round boxes are outlined, one of a kind nobody saw is dashed, and no box is only the joint."""
    drawn = drawings(small())
    assert shapes(group_of(drawn, "box porch"))["rect"] == 1
    hall = group_of(drawn, "box hall")
    assert shapes(hall)["rect"] == 0
    assert float(hall.find(f"{NAMESPACE}circle").get("r", "")) > 5  # type: ignore[union-attr]
    den = group_of(drawn, "box den").find(f"{NAMESPACE}rect")
    assert den is not None
    assert den.get("stroke-dasharray") == DASH
    attic = group_of(drawn, "box attic")
    assert shapes(attic)["rect"] == 0
    assert "SPLICE OUTSIDE A BOX: J5" in words_of(attic)


def test_strokes_across_a_cable_are_its_conductors() -> None:
    """A stroke for each conductor, and a dot at the end of that of a ground."""
    for item, strokes, grounds in (("cable W1", 3, 1), ("cable W5", 2, 0)):
        group = group_of(drawings(small()), item)
        thin = [one for one in group.iter(f"{NAMESPACE}path") if one.get("stroke-width") == "0.6"]
        assert [one.get("d", "").count("M") for one in thin] == [strokes]
        dots = [one for one in group.iter(f"{NAMESPACE}circle") if one.get("r") == "1.1"]
        assert len(dots) == grounds


def test_the_symbol_of_a_device_is_that_of_the_trade() -> None:
    """Duplex receptacle: a circle with two lines. Three-way switch: S3 (ANSI Y32.9, from memory)."""
    drawn = drawings(small())
    receptacle = group_of(drawn, "device R1")
    lines = [one.get("d", "") for one in receptacle.iter(f"{NAMESPACE}path") if one.get("stroke-width") == "1"]
    assert sum("V" in path for path in lines) == 2
    assert shapes(receptacle)["circle"] >= 1
    assert "S3" in words_of(group_of(drawn, "device S1")).split()


def test_what_is_uncertain_is_drawn_so() -> None:
    """Doubtful sizes carry a question mark or both values, unseen ends a question mark and the reason."""
    drawn = drawings(small())
    assert "W2 14?/2 W/G" in words_of(group_of(drawn, "cable W2"))
    third = words_of(group_of(drawn, "cable W3"))
    assert "14 or 12" in third or "14/2 or 12/2" in third
    assert "?" in third.split()
    assert "not seen: goes up in the wall" in third
    assert "15 or 20 A" in words_of(group_of(drawn, "breaker A 9"))


def test_only_what_nobody_followed_is_dashed() -> None:
    """The way of a traced cable is drawn through, that of one not traced is dashed."""
    dashed = dict.fromkeys(("Panel A", "Not traced to a breaker"), 0)
    for drawing in drawings(small()):
        for path in tree(drawing).iter(f"{NAMESPACE}path"):
            long = [one for one in segments(path.get("d", "")) if abs(one[0] - one[2]) > 60]
            dashed[drawing.title] += bool(long) and path.get("stroke-dasharray") == DASH
    assert dashed == {"Panel A": 0, "Not traced to a breaker": 1}


def test_an_open_end_has_a_warning() -> None:
    """An end that can be live and is not capped is named as open, with a triangle before it."""
    drawn = drawings(small())
    fourth = group_of(drawn, "cable W4")
    assert "OPEN END: black loose" in words_of(fourth)
    triangles = [one for one in fourth.iter(f"{NAMESPACE}path") if one.get("d", "").endswith("Z")]
    assert len(triangles) >= 1
    assert "OPEN END" not in words_of(group_of(drawn, "cable W1"))


def test_states_are_words() -> None:
    """LIVE and PROVEN DEAD stand at what the log shows to be so, and nothing where nothing is known."""
    drawn = demo_drawings()
    for cable in demo().record.cables.values():
        said = words_of(group_of(drawn, f"cable {cable.tag}"))
        states = {conductor.data["state"].value for conductor in cable.data["conductors"]}
        assert ("LIVE" in said) == ("live" in states), cable.tag
        if "PROVEN DEAD" in said:
            assert "proven dead" in states
    assert "PROVEN DEAD" in words_of(group_of(drawn, "cable W51"))


def test_nothing_is_called_safe() -> None:
    """No drawing says that something is safe, dead without proof, or fit to be touched."""
    every = all_text([*demo_drawings(), *drawings(demo(), "A 15"), *drawings(demo(), "under sink")]).lower()
    assert re.findall(r"\bsafe|\ball.clear|\bok\b|not live|no danger", every) == []
    for drawing in demo_drawings():
        assert "treat as live" in all_text([drawing])
        assert "licensed practice decide" in all_text([drawing])


def test_every_finding_is_flagged_and_listed() -> None:
    """The grade stands in words beside a flag, and below the drawing what is wrong."""
    said = all_text(demo_drawings())
    for finding in demo().results.findings:
        assert finding.rule.title in said, finding.rule.name
        assert f"{finding.grade.upper()}{'?' if finding.certainty == 'possible' else ''}" in said


@pytest.mark.parametrize(
    ("item", "grade"),
    [
        pytest.param("box bedroom 2", "HANDS OFF", id="ground joined to a feed"),
        pytest.param("cable W11", "FIRST", id="conductor too small"),
        pytest.param("cable W12", "IN TURN?", id="too small only if the size is other than recorded"),
        pytest.param("device LT4", "IN TURN", id="lampholder in a closet"),
    ],
)
def test_flags_stand_where_the_defects_are(item: str, grade: str) -> None:
    """A flag with its grade in words stands at the part that the finding is at."""
    assert grade in words_of(group_of(demo_drawings(), item))


def test_a_page_lists_the_flags_that_it_shows() -> None:
    """Figures in flags are those of the list of the same page, and a figure means one thing in all pages."""
    meaning: dict[str, str] = {}
    for drawing in demo_drawings():
        flags = [
            one for one in tree(drawing).iter(f"{NAMESPACE}text") if re.fullmatch(r"[0-9]+\??", "".join(one.itertext()))
        ]
        shown = Counter("".join(one.itertext()) for one in flags if one.get("fill"))
        lines = texts(drawing)
        listed = {line: lines[number + 1] for number, line in enumerate(lines[:-1])
                  if re.match(r"(HANDS OFF|FIRST|IN TURN|REMARK)\?? [A-Z]", lines[number + 1])
                  and re.fullmatch(r"[0-9]+\??", line)}  # fmt: skip
        legend = {"1", "1?"} if drawing is demo_drawings()[0] else set()
        assert set(shown) - legend <= set(listed)
        for figures, words in listed.items():
            assert meaning.setdefault(figures, words[:40]) == words[:40]
    assert len(meaning) > 10


# -- cross-links

LINKED: dict[str, Any] = houses.empty(
    {"A": {"breakers": {"1": 20, "3": 20}}},
    cables={
        "W1": {"type": "12/2", "from": "A 1", "to": "hall"},
        "W2": {"type": "12/2", "from": "A 3", "to": "hall"},
        "W3": {"type": "12/2", "from": "hall", "to": "porch"},
    },
    boxes={"hall": {"kind": "nonmetallic"}, "porch": {"kind": "nonmetallic"}},
    joints={"J1": {"at": "hall", "ends": ["W1 black", "W2 black", "W3 black"]}},
)


def test_a_place_met_again_is_referred_to() -> None:
    """A box that another circuit comes to as well is drawn in full once, and says where."""
    (other,) = [group for drawing in demo_drawings() for group, items, _ in groups(drawing) if "cable W47" in items]
    assert "attic junction (drawn at A 12)" in words_of(other)
    assert "box attic junction" not in [one.get("data-item") for one in other]


def test_two_breakers_on_one_net_are_linked() -> None:
    """Where a second breaker feeds a net, both ends carry one mark and a line of its own joins them."""
    (drawing,) = drawings(traced(LINKED))
    assert texts(drawing).count("X1") == 2
    paths = [one for one in tree(drawing).iter(f"{NAMESPACE}path") if one.get("stroke-dasharray") == LINK_DASH]
    assert len([one for one in paths if len(list(segments(one.get("d", "")))) > 3]) == 1
    assert "ALSO FED BY A 3" in all_text([drawing])
    assert "joined to W2 black, see A 3" in all_text([drawing])


def test_a_ring_is_linked() -> None:
    """A ring comes back to its first box, which is then only referred to, and linked."""
    cables = {**LINKED["cables"], "W2": {"type": "12/2", "from": "porch", "to": "hall"}}
    joints = {**LINKED["joints"], "J2": {"at": "porch", "ends": ["W3 black", "W2 black"]}}
    drawn = drawings(traced({**LINKED, "cables": cables, "joints": joints}))
    assert texts(drawn[0]).count("X1") == 2
    assert named(drawn, "ref")["box porch"] + named(drawn, "ref")["box hall"] == 1


def test_what_is_not_joined_is_not_linked() -> None:
    """Two circuits in one box that are not joined share a reference and no link."""
    joints = {"J1": {"at": "hall", "ends": ["W1 black", "W3 black"]}}
    drawn = drawings(traced({**LINKED, "joints": joints}))
    assert "X1" not in texts(drawn[0])
    assert named(drawn, "ref")["box hall"] == 1


def test_a_link_needs_a_free_way() -> None:
    """A cross-link is drawn only where it crosses no words; the marks at both ends are there all the same."""

    def block(x: float, y: float) -> across.Block:
        return across.Block(Part("cable"), 100.0, 0.0, [], [], x, y)

    one, two, wall = block(80, 50), block(80, 150), block(180, 100)
    sheet = Sheet(520, 7)
    assert across.draw_links(sheet, [(one, two)], [one, two]) == 1
    assert across.draw_links(sheet, [(one, two)], [one, two, wall]) == 1
    wall.over = [Row((), 0.0)] * 30
    wall.under = [Row((), 0.0)] * 30
    assert across.draw_links(sheet, [(one, two)], [one, two, wall]) == 0


def test_more_links_than_lanes_keep_their_marks() -> None:
    """Lanes are few; what has none is told by its marks alone."""
    blocks = [across.Block(Part("cable"), 100.0, 0.0, [], [], 80, 50.0 * number) for number in range(10)]
    pairs = [(blocks[number], blocks[number + 5]) for number in range(5)]
    assert across.draw_links(Sheet(520, 7), pairs, blocks) == 3


# -- parts of a record that are rare

LOOPED: dict[str, Any] = houses.empty(
    {"A": {"breakers": {"1": 20}}},
    cables={
        "W1": {"type": "12/2", "from": "A 1", "to": "porch", "passes": {"hall": "looped", "attic": "unbroken"}},
        "W2": {"type": "14/2", "from": "hall", "to": "den"},
    },
    boxes={name: {"kind": "nonmetallic"} for name in ("hall", "porch", "attic", "den")},
    devices={
        "R1": {"kind": "duplex receptacle", "at": "hall", "terminals": {"hot": ["W1 black", "W2 black"]}},
        "R2": {"kind": "duplex receptacle", "at": "porch", "wired_to": "W1"},
    },
)


def test_a_cable_that_passes_boxes_uncut() -> None:
    """A box with a loop of a cable in it hangs on that cable; one that it passes unbroken is named."""
    done = traced(LOOPED)
    drawn = drawings(done)
    assert "unbroken through attic" in words_of(group_of(drawn, "cable W1"))
    assert "with a loop through" in words_of(group_of(drawn, "box hall"))
    assert_whole(done, drawn)
    for only in ("A 1", "hall", "attic"):
        assert all(problems(drawing.svg) == [] for drawing in drawings(done, only))
    assert "passes between" in all_text(drawings(done, "hall")).replace("\n", " ")


def test_a_cable_that_only_grounds() -> None:
    """A cable that carries nothing is drawn apart, with what it is taken for, whole and alone."""
    done = traced(houses.empty(
        {"A": {"breakers": {"1": 20}}},
        cables={"G1": {"gauge": 6, "conductors": {"bare": {}}, "from": {"at": "A", "bare": "ground bar"}, "to": "hall"}},
        boxes={"hall": {"kind": "nonmetallic"}},
    ))  # fmt: skip
    drawn = drawings(done)
    assert drawn[-1].title == "Not traced to a breaker"
    assert "only ground or return" in words_of(group_of(drawn, "cable G1"))
    assert_whole(done, drawn)
    assert named(drawings(done, "G1"), "item")["cable G1"] == 1


def test_panels_without_breakers() -> None:
    """A panel with nothing in it has a drawing that says so."""
    (drawing,) = drawings(traced(houses.empty({"A": {"breakers": {}}})))
    assert "No breaker is recorded." in texts(drawing)
    assert problems(drawing.svg) == []


def test_a_flag_of_a_panel_stands_at_its_head() -> None:
    """What is wrong with a panel itself is flagged above its breakers."""
    done = survey(ROOT / "fixtures" / "defects" / "panel-open.yaml", "2026-01-01")
    finding = next(one for one in done.results.findings if one.at.startswith("panel "))
    (drawing, *_) = drawings(done)
    lines = texts(drawing)
    assert any(line.startswith(finding.grade.upper()) for line in lines[:6])
    assert finding.rule.title in " ".join(lines)
    assert problems(drawing.svg) == []


def test_a_device_fed_by_what_is_not_followed() -> None:
    """A cable that is not known to feed the device it ends in still leads to its symbol."""
    done = traced(houses.empty(
        {"A": {"breakers": {"1": 20}}},
        cables={"W1": {"type": "12/2", "from": "A 1", "to": "WH"}},
        devices={"WH": {"kind": "water heater"}},
    ))  # fmt: skip
    assert "WH" in words_of(group_of(drawings(done), "cable W1"))
    assert_whole(done, drawings(done))


@pytest.mark.parametrize("folder", ["defects", "lawful"])
def test_every_fixture_can_be_drawn(folder: str) -> None:
    """Whole records of all kinds are drawn whole and without overlap."""
    files = sorted((ROOT / "fixtures" / folder).glob("*.yaml"))
    assert len(files) > 50
    for file in files:
        record = read_record(load_file(file))
        done = Survey(record, trace(record), (), TableSet([], "2026-01-01"), Results())
        drawn = drawings(done)
        assert_whole(done, drawn)
        assert [found for drawing in drawn for found in problems(drawing.svg)] == [], file.name


def test_a_page_with_more_flags_than_room() -> None:
    """What the list of a page has no room for is counted, and the worst come first."""
    done = demo()
    rules = {finding.rule.name: finding for finding in done.results.findings}
    one = next(finding for finding in rules.values() if finding.at == "cable W43")
    many = [replace(one, rule=replace(one.rule, name=f"rule {number}", title=f"Thing {number} is wrong"),
                    identity=f"{number:012}") for number in range(120)]  # fmt: skip
    drawn = drawings(replace(done, results=Results(findings=many)))
    said = all_text(drawn)
    assert "Thing 0 is wrong" in said
    assert re.search(r"And [0-9]+ more keynotes of this page: see the findings\.", said)
    assert all(problems(drawing.svg) == [] and drawing.high < 1_000 for drawing in drawn)


# -- paper and phone


def test_lettering_can_be_read_on_letter_paper() -> None:
    """No lettering under 7 points where the drawing is as wide as US letter less margins of 16 mm."""
    for drawing in demo_drawings():
        sizes = [float(one) for one in re.findall(r'font-size="([0-9.]+)"', drawing.svg)]
        assert min(sizes) * LETTER / drawing.wide >= 7
        assert drawing.high <= 646


def test_one_circuit_fits_a_phone() -> None:
    """One circuit or place is 360 pixels wide, with lettering of 10 pixels or more."""
    for only in ("A 6", "pantry ceiling"):
        (drawing,) = drawings(demo(), only)
        assert drawing.wide == 360
        assert min(map(float, re.findall(r'font-size="([0-9.]+)"', drawing.svg))) >= 10


def test_one_circuit_as_wide_as_paper() -> None:
    """For a sheet on paper one circuit is drawn as on the pages of its panel."""
    (drawing,) = drawings(demo(), "A 6", narrow=False)
    assert drawing.wide == 520
    assert {"cable W7", "cable W12"} <= set(named([drawing], "item"))
    assert "cable W15" not in named([drawing], "item")


@pytest.mark.parametrize(
    ("only", "item"),
    [
        pytest.param("A 5/7", "cable W3", id="a breaker"),
        pytest.param("A 5", "cable W3", id="a pole of it"),
        pytest.param("W12", "cable W7", id="a cable, for its circuit"),
        pytest.param("W12 black", "cable W7", id="a conductor, for its circuit"),
        pytest.param("W24", "cable W24", id="a cable that is not traced"),
        pytest.param("sink light", "box sink light", id="a box"),
        pytest.param("S2", "box sink switch", id="a device, for its box"),
        pytest.param("J20", "box sink light", id="a joint, for its box"),
        pytest.param("HOOD", "device HOOD", id="a device without a box"),
        pytest.param("B", "cable W64", id="a panel"),
    ],
)
def test_one_thing(only: str, item: str) -> None:
    """What is asked for by a tag is drawn."""
    assert item in named(drawings(demo(), only), "item")


def test_an_unknown_tag_names_the_likely_one() -> None:
    """A tag that is not there is an error with the next step."""
    with pytest.raises(KeyError, match="sink light"):
        drawings(demo(), "sink lihgt")


def test_a_box_shows_what_is_joined_in_it() -> None:
    """Lines of the conductors of one joint meet its upright in dots, and all of them are there."""
    (drawing,) = drawings(demo(), "pantry ceiling")
    joints = demo().record.joint_members
    ends = sum(sort == "conductor" for tag in ("J10", "J11", "J12", "J13") for sort, _ in joints[tag])
    dots = [one for one in tree(drawing).iter(f"{NAMESPACE}circle") if one.get("r") == "2"]
    assert len(dots) == ends + 4 + 1  # a dot on the line of each joint as well, and one in the legend
    assert {"J10 twist-on", "J13 crimp and the"} <= set(texts(drawing))


def level(drawing: Drawing) -> list[Segment]:
    """The level lines of the place itself, above the rule below it."""
    paths = [one.get("d", "") for one in tree(drawing).iter(f"{NAMESPACE}path") if one.get("fill") == "none"]
    rule = min((y for path in paths for x1, y, x2, y2 in segments(path) if y == y2 and x2 - x1 > 300), default=1e9)
    return [one for path in paths for one in segments(path) if one[1] == one[3] < rule and one[2] - one[0] > 12]


def test_lines_in_a_box_do_not_lie_on_each_other() -> None:
    """Lines from the left and from the right keep apart, or they would show a joint that is none."""
    seen = 0
    for seed in seeds(12):
        done = traced(houses.house(seed, wild=0.6))
        for tag in list(done.record.boxes)[:6]:
            (drawing,) = drawings(done, tag)
            lines = level(drawing)
            for one, two in itertools.combinations(lines, 2):
                assert abs(one[1] - two[1]) > 1.5 or one[2] < two[0] or two[2] < one[0]
            seen += len(lines)
    assert seen > 500


# -- harmless, and always the same

MARKUP = '"/><image href="https://example.invalid/x.png"/><script>alert(1)</script>'
LONG = "W" * 400
TAGS = [
    "<script>alert(1)<&#x202e",
    "\u05d0\u05d1 \u0639\u0631\u0628 den",
    "V" * 60,
    "\u65e5\u672c\u8a9e \ufdfd \U0001f600 e\u0301",
    "zalgo" + "\u0336\u0337\u0338" * 15,
    "a&amp<!--",
]


def hostile() -> Survey:
    """A record with everything that its reader lets through."""
    script, turned, wide, foreign, marks, comment = TAGS
    record = houses.empty(
        {"A": {"breakers": {"1": {"amps": 20, "label": MARKUP}, "3": {"amps": 15, "label": LONG}}, "where": MARKUP}},
        cables={
            "W1": {"type": "12/2", "from": "A 1", "to": turned},
            "W2": {"type": "12/2", "from": turned, "to": wide},
            "W3": {"type": "12/2", "from": wide, "to": {"not_seen": f"{MARKUP} {LONG}"}},
            foreign: {"type": "12/2", "from": "A 3", "to": marks},
        },
        boxes={tag: {"kind": "nonmetallic", "where": f"{MARKUP} {LONG}"} for tag in (turned, wide, marks)},
        joints={"J1": {"at": turned, "ends": ["W1 black", "W2 black"]},
                script: {"at": wide, "ends": ["W2 black", "W3 black"]}},
        devices={comment: {"kind": "duplex receptacle", "at": marks, "wired_to": foreign}},
    )  # fmt: skip
    data = json.dumps({**record, "site": {"name": MARKUP, "built": 1980}}).encode()
    built = read_record(load_bytes(data, "house.json"))
    return Survey(built, trace(built), (), TableSet([], "2026-01-01"), Results())


ALLOWED = {"svg", "g", "title", "rect", "circle", "path", "text", "tspan"}
ATTRIBUTES = {
    "viewBox", "width", "height", "role", "aria-label", "font-family", "font-size", "font-weight", "fill", "stroke",
    "stroke-width", "stroke-dasharray", "x", "y", "cx", "cy", "r", "d", "text-anchor", "data-item", "data-ref",
}  # fmt: skip


def test_hostile_text_is_harmless() -> None:
    """Markup stays text, nothing turns or hides text, and long words are shortened, with the whole in a title."""
    done = hostile()
    drawn = [*drawings(done), *drawings(done, "A 1"), *(one for tag in TAGS[1:3] for one in drawings(done, tag))]
    for drawing in drawn:
        for element in tree(drawing).iter():
            assert element.tag.removeprefix(NAMESPACE) in ALLOWED
            assert set(element.attrib) <= ATTRIBUTES
        assert problems(drawing.svg) == []
        assert "<script" not in drawing.svg
        assert "<image" not in drawing.svg
    assert any(len(one.text or "") > 300 for drawing in drawn for one in tree(drawing).iter(f"{NAMESPACE}title"))
    assert "[U+65E5]" in all_text(drawn)
    assert "[U+05D0]" in all_text(drawn)


@pytest.mark.parametrize(
    ("written", "shown", "title"),
    [
        pytest.param("a\u202eb\u202c c", "ab c", "ab c", id="marks that turn the text"),
        pytest.param("a\u200b\u00adb\u0007", "ab", "ab", id="what cannot be seen"),
        pytest.param(" a\nb\tc ", "a b c", " a b c ", id="lines and tabs"),
        pytest.param("e\u0301", "\u00e9", "e\u0301", id="a mark that composes"),
        pytest.param("a\u0336", "a[U+0336]", "a\u0336", id="a mark that does not"),
        pytest.param("\u65e5", "[U+65E5]", "\u65e5", id="no such character in the lettering"),
        pytest.param("\ud800", "[U+FFFD]", "\ufffd", id="half a character"),
    ],
)
def test_characters(written: str, shown: str, title: str) -> None:
    """What is drawn has only characters that the lettering has; a title keeps what can be kept."""
    assert text.drawn(written) == shown
    assert text.titled(written) == title


def test_drawings_have_no_script_and_nothing_from_elsewhere() -> None:
    """No identifier, style, link or script, so that several drawings can stand in one page."""
    for drawing in (*demo_drawings(), *drawings(demo(), "A 8"), *drawings(demo(), "hall ceiling")):
        elements = list(tree(drawing).iter())
        assert {element.tag.removeprefix(NAMESPACE) for element in elements} <= ALLOWED
        assert {name for element in elements for name in element.attrib} <= ATTRIBUTES
        assert "http" not in drawing.svg.replace("http://www.w3.org/2000/svg", "")


@pytest.mark.parametrize("seed", picked(0, 6, 12, 18, 24))
def test_order_of_the_file_changes_nothing(seed: int) -> None:
    """The same house with its parts in another order gives the same bytes."""
    house = houses.house(seed)
    again = drawings(traced(houses.shuffled(house, seed + 1)))
    assert [one.svg for one in drawings(traced(house))] == [one.svg for one in again]


def test_the_same_bytes_in_another_process() -> None:
    """Neither hashing nor anything else that changes from run to run is in a drawing."""
    roots = os.pathsep.join(str(ROOT / root) for root in ("engine", "rules", "schemas"))
    code = ("import hashlib; from asfound.survey import survey; from asfound.map import drawings; "
            f"done = survey({str(ROOT / 'fixtures' / 'demo.yaml')!r}, '2026-11-25'); "
            "print(hashlib.sha256(''.join(one.svg for one in drawings(done)).encode()).hexdigest())")  # fmt: skip
    runs = {
        subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True, env={**os.environ, "PYTHONPATH": roots, "PYTHONHASHSEED": seed}).stdout
        for seed in ("1", "2")
    }  # fmt: skip
    assert len(runs) == 1


def luminance(colour: str) -> float:
    """Relative luminance by WCAG 2.1."""
    parts = [int(colour[at : at + 2], 16) / 255 for at in (1, 3, 5)]
    red, green, blue = (part / 12.92 if part <= 0.03928 else ((part + 0.055) / 1.055) ** 2.4 for part in parts)
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def test_colours_have_contrast_on_white() -> None:
    """4.5 to 1 or more against white for text and lines (WCAG 2.1, 1.4.3)."""
    found = {
        colour
        for drawing in (*demo_drawings(), *drawings(demo(), "A 12"))
        for colour in re.findall(r'"(#[0-9a-f]{6})"', drawing.svg)
    }
    assert len(found) > 4
    for colour in found - {"#ffffff"}:
        assert 1.05 / (luminance(colour) + 0.05) >= 4.5


# -- large records


def test_a_long_record_is_cut_and_says_so() -> None:
    """A building of very many cables has a bounded number of pages, and the last says what is on none.

    Forty pages hold fewer than 500 cables; larger ones are drawn by `bench/map_scale.py`.
    """
    drawn = drawings(traced(houses.house(1, cables=500)))
    assert len(drawn) <= 40
    assert "NOT DRAWN" in all_text(drawn)
    assert all(problems(drawing.svg) == [] for drawing in drawn)


@pytest.mark.uncounted
@pytest.mark.parametrize(
    ("record", "most"),
    [
        pytest.param(houses.chain(400), 40, id="cables one behind the other"),
        pytest.param(houses.one_joint(300), 40, id="one joint of all"),
        pytest.param(houses.many_breakers(40, 10), 40, id="breakers joined into one net"),
        pytest.param(houses.many_switches(400), 40, id="switches on one net"),
    ],
)
def test_hard_shapes(record: houses.Record, most: int) -> None:
    """Shapes that no house has are drawn in bounded room and without overlap, whole and alone."""
    done = traced(record)
    busiest = max(done.record.boxes.values(), key=lambda box: len(box.data["cables"])).tag
    for drawn in (drawings(done), drawings(done, "A 1"), drawings(done, busiest)):
        assert 0 < len(drawn) <= most
        assert sum(len(drawing.svg) for drawing in drawn) < 4_000_000
        assert max(drawing.high for drawing in drawn) < 6_000
        assert all(problems(drawing.svg) == [] for drawing in drawn)


def test_a_chain_goes_on_where_it_says() -> None:
    """What is too long for a strip goes on at a number that stands at both places."""
    said = all_text(drawings(traced(houses.chain(13))))
    for number in (1, 2):
        assert f"goes on at {number}" in said
        assert f"{number} goes on" in said
    assert_whole(done := traced(houses.chain(13)), drawings(done))


# -- words


@pytest.mark.parametrize(
    ("words", "chars", "most", "lines"),
    [
        pytest.param("kitchen door switch", 19, 2, ["kitchen door switch"], id="fits exactly"),
        pytest.param("kitchen door switch", 18, 2, ["kitchen door", "switch"], id="one too many"),
        pytest.param("kitchen door switch by the stair", 12, 2, ["kitchen door", "switch by\u2026"], id="cut"),
        pytest.param("W" * 30, 12, 3, ["W" * 12, "W" * 12, "W" * 6], id="a long word is broken"),
        pytest.param("", 12, 2, [], id="nothing"),
    ],
)
def test_wrap(words: str, chars: int, most: int, lines: list[str]) -> None:
    """Words are wrapped at spaces; what is left out shows."""
    assert text.wrap(words, chars, most) == lines


def test_wrap_never_exceeds_its_room() -> None:
    """Whatever the words, no line is longer than asked for and there are no more lines."""
    rng = random.Random(5)
    for _ in range(examples(1_000)):
        words = " ".join("x" * rng.randint(1, 30) for _ in range(rng.randint(0, 9)))
        chars, most = rng.randint(1, 25), rng.randint(1, 5)
        lines = text.wrap(words, chars, most)
        assert len(lines) <= most
        assert all(0 < len(line) <= chars for line in lines)
        if not any(line.endswith("\u2026") for line in lines):
            assert "".join(lines).replace(" ", "") == words.replace(" ", "")


# -- on paper


def typeset(drawn: list[Drawing], folder: Path) -> bytes:
    """Drawings set as the report sets them, with the fonts of the typesetter alone."""
    typst = pytest.importorskip("typst")
    lines = ['#set document(title: "map")', '#set page(paper: "us-letter", margin: 16mm)', '#set text(lang: "en")']
    for number, drawing in enumerate(drawn):
        (folder / f"{number}.svg").write_text(drawing.svg, encoding="utf-8")
        lines.append(f'#figure(image("{number}.svg", alt: "map", width: 100%), caption: "{number}")')
    (folder / "map.typ").write_text("\n".join(lines), encoding="utf-8")
    return bytes(typst.compile(folder / "map.typ", root=folder, format="pdf", ignore_system_fonts=True,
                               pdf_standards=["a-3a", "ua-1"], timestamp=0))  # fmt: skip


@pytest.mark.uncounted
def test_the_typesetter_has_the_lettering(tmp_path: Path) -> None:
    """Drawings are set in an archival and tagged PDF, one on a page at most, with their words as text."""
    pypdf = pytest.importorskip("pypdf")
    file = tmp_path / "map.pdf"
    file.write_bytes(typeset(list(demo_drawings()), tmp_path))
    pages = pypdf.PdfReader(file).pages
    assert len(pages) <= len(demo_drawings())
    fonts = {str(font["/BaseFont"]) for page in pages for font in (
        held.get_object() for held in page["/Resources"]["/Font"].values())}  # fmt: skip
    assert any("DejaVuSansMono-Bold" in font for font in fonts)
    assert "W12" in "".join(page.extract_text() for page in pages)


def test_hostile_text_does_not_stop_the_typesetter(tmp_path: Path) -> None:
    """A character that the fonts do not have would stop an archival PDF; none is drawn."""
    done = hostile()
    assert typeset([*drawings(done), *drawings(done, "A 1"), *drawings(done, TAGS[2])], tmp_path).startswith(b"%PDF")


def test_every_character_that_is_drawn_can_be_set(tmp_path: Path) -> None:
    """Each character that passes is in the lettering of the typesetter."""
    kept = [char for char in map(chr, range(0x20, 0x3000)) if text.drawn(f"a{char}a") == f"a{char}a" and char != " "]
    assert len(kept) > 500
    lines = ["".join(kept[at : at + 60]) for at in range(0, len(kept), 60)]
    body = "".join(f'<text x="0" y="{8 * n}">{text.escaped(line)}</text>' for n, line in enumerate(lines, 1))
    svg = (f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 520 200"><g font-family="{text.FAMILY}" font-size="7">'
           f"{body}</g></svg>")  # fmt: skip
    assert typeset([Drawing("", "", svg)], tmp_path).startswith(b"%PDF")
