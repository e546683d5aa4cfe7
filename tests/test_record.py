"""From a shaped document to items: what the short forms bring, how doubt is kept, and which tags do not hold."""

from __future__ import annotations

import time
from collections.abc import Callable
from typing import Any

import pytest

from asfound.data import data
from asfound.load import Refused, load_bytes
from asfound.record import Fact, Item, Record
from asfound.record.cabletypes import NotACable, parse_type
from asfound.record.facts import ASSUMED, EXACT, LISTED, UNSEEN, WEAK, neighbours
from asfound.survey import read_record
from strategies import RICH, large_record

HEAD = """\
asfound: 1
invented: true
site: {name: Tryout cottage, built: 1974}
visits: {V1: {on: 2026-05-04, by: R. Example}, V2: {on: 2026-05-11, by: S. Example}}
instruments: {meter 1: {type: multimeter}, stick: {type: non-contact tester}}
supply: 120/240 split phase
"""
PANEL = "panels: {A: {breakers: {1: 15, 3: 20, 4: 20, 5/7: 30}}}\n"
BOXES = "boxes: {hall: octagonal 4 x 1-1/2, den: nonmetallic, attic: no box}\n"


def made(text: str, head: str = HEAD) -> Record:
    """The record of some sections, with the panel and boxes above where the text has none."""
    whole = f"{head}{text}\n"
    for name, section in (("\npanels:", PANEL), ("\nboxes:", BOXES)):
        whole += "" if name in whole else section
    return read_record(load_bytes(whole.encode(), "house.yaml"))


def refused(text: str, head: str = HEAD) -> list[str]:
    """The sentences with which such a record is refused, without the name of the file and the line."""
    with pytest.raises(Refused) as caught:
        made(text, head)
    assert all(problem.place.line > 0 for problem in caught.value.problems)
    return [f"{problem.where}: {problem.cause}; {problem.step}" for problem in caught.value.problems]


def fact(item: Item, name: str) -> tuple[str, tuple[Any, ...]]:
    held = item.data[name]
    assert isinstance(held, Fact)
    return held.kind, held.values


def landings(record: Record) -> dict[str, str]:
    """Where the conductors land in panels: `{"W1 black": "A 3"}`."""
    return {conductor.tag: f"{panel} {spot}" for conductor, panel, spot in record.landings}


# -- the short form of a cable


@pytest.mark.parametrize(
    ("text", "gauge", "metal", "method", "conductors"),
    [
        ("14/2", "14", "copper", "", "black white"),
        ("12/2 NM-B with ground", "12", "copper", "NM-B", "black white bare"),
        ("12-2 NM-B w/g", "12", "copper", "NM-B", "black white bare"),
        ("14/3 with ground", "14", "copper", "", "black red white bare"),
        ("14/4", "14", "copper", "", "black red blue white"),
        ("10/2 AL", "10", "aluminium", "", "black white"),
        ("6/3 CU-CLAD SER with ground", "6", "copper-clad aluminium", "SER", "black red white bare"),
        ("14 knob-and-tube", "14", "copper", "knob-and-tube", "black"),
        ("2/0", "2/0", "copper", "", "black"),
        ("2/0/3 AL SER with ground", "2/0", "aluminium", "SER", "black red white bare"),
        ("250 kcmil", "250 kcmil", "copper", "", "black"),
        ("2.5 mm2/3", "2.5 mm2", "copper", "", "black red white"),
        ("12/2 NM with ground", "12", "copper", "NM", "black white bare"),
        ("12/2 MC", "12", "copper", "MC", "black white"),
    ],
)  # fmt: skip
def test_cable_type(text: str, gauge: str, metal: str, method: str, conductors: str) -> None:
    """Size, count, method, ground and metal; the make-up of each cable is common practice, no source."""
    read = parse_type(text)
    assert (read.gauge, read.metal, read.method, read.conductors) == (gauge, metal, method, tuple(conductors.split()))


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("NM-B", "'NM-B' is not a cable type; write size, count and method like 14/2 NM-B with ground"),
        ("14/2 NMB", "'NMB' in the cable type is not known; did you mean 'NM-B'? Known here: NM-B, "),
        (
            "14/2 with grnd",
            "'with grnd' in the cable type is not known; did you mean 'with gnd'? Known here: with gnd, ",
        ),
        ("14/7", "a cable of 7 conductors has no usual colours; list them under conductors"),
        ("", "'' is not a cable type; "),
        ("14/0", "'14/0' is not a cable type; "),
    ],
)
def test_no_cable_type(text: str, said: str) -> None:
    """Cause and next step."""
    with pytest.raises(NotACable) as caught:
        parse_type(text)
    assert f"{caught.value.cause}; {caught.value.step}".startswith(said)


def test_words_about_one_conductor_add_to_what_the_type_brings() -> None:
    """A name the type brings is described, another is added, and its colour is the name without its number."""
    record = made("cables: {W1: {type: 12/2, conductors: {white: {marked: black}, red 2: {gauge: 14}, spare: {}}}}")
    black, white, red, spare = record.cables["W1"].data["conductors"]
    assert [c.tag for c in (black, white, red, spare)] == ["W1 black", "W1 white", "W1 red 2", "W1 spare"]
    assert fact(white, "marked") == (EXACT, ("black",))
    assert fact(white, "gauge") == (EXACT, ("12",))
    assert fact(red, "gauge") == (EXACT, ("14",))
    assert fact(red, "colour") == (EXACT, ("red",))
    assert "colour" not in spare.data


# -- where conductors land in a panel


@pytest.mark.parametrize(
    ("cable", "lands"),
    [
        pytest.param(
            "{type: 12/2 with ground, from: A 3}",
            {"W1 black": "A 3", "W1 white": "A neutral bar", "W1 bare": "A ground bar"},
            id="two-wire on one pole",
        ),
        pytest.param(
            "{type: 12/3 with ground, from: A 3}",
            {"W1 black": "A 3", "W1 white": "A neutral bar", "W1 bare": "A ground bar"},
            id="three-wire on one pole leaves red",
        ),
        pytest.param(
            "{type: 10/2 with ground, from: A 5/7}",
            {"W1 black": "A 5", "W1 white": "A 7", "W1 bare": "A ground bar"},
            id="two-wire on two poles puts white on the second",
        ),
        pytest.param(
            "{type: 10/3 with ground, to: A 5/7}",
            {"W1 black": "A 5", "W1 red": "A 7", "W1 white": "A neutral bar", "W1 bare": "A ground bar"},
            id="three-wire on two poles",
        ),
        pytest.param("{type: 12/2, from: A 7}", {"W1 black": "A 7", "W1 white": "A neutral bar"}, id="one pole of two"),
        pytest.param(
            "{type: 12/2, from: {at: A 3, white: capped}}", {"W1 black": "A 3"}, id="long form takes white out"
        ),
        pytest.param(
            "{type: 12/2, from: {at: A, black: breaker 4, white: lug 1}}", {"W1 black": "A 4", "W1 white": "A lug 1"},
            id="each by itself",
        ),
        pytest.param(
            "{type: 12/2, conductors: {white: {colour: gray}}, from: A 3}",
            {"W1 black": "A 3", "W1 white": "A neutral bar"}, id="grey as white",
        ),
        pytest.param(
            "{conductors: {black: {}, green: {}}, from: A 3}", {"W1 black": "A 3", "W1 green": "A ground bar"},
            id="green",
        ),
        pytest.param("{type: 12/2, from: A}", {}, id="panel alone says nothing"),
        pytest.param(
            "{type: 12/2, from: {at: A, black: {is: breaker 3, how: traced by hand}}}", {"W1 black": "A 3"},
            id="traced by hand",
        ),
        pytest.param("{type: 12/2, from: {at: A, black: {is: breaker 3, how: told}}}", {}, id="told is not seen"),
        pytest.param("{type: 12/2, from: {at: A, black: breaker 3 or breaker 4}}", {}, id="one of two breakers"),
        pytest.param("{type: 12/2, from: {at: A, black: {not_seen: bundled}}}", {}, id="not seen"),
    ],
)  # fmt: skip
def test_landings(cable: str, lands: dict[str, str]) -> None:
    """Coloured on the poles in order, white on neutral or a pole left over, bare or green on ground: trade habit."""
    assert landings(made(f"cables: {{W1: {cable}}}")) == lands


@pytest.mark.parametrize(
    ("state", "reason"),
    [
        ("{is: breaker 3, how: told}", "said to be on breaker 3, told; not seen"),
        ("breaker 3 or breaker 4", "said to be on breaker 3 or breaker 4; not seen"),
        ("{one_of: [breaker 3, capped], how: by eye}", "said to be on breaker 3 or capped, by eye; not seen"),
        ("not traced", "not traced"),
        ("{not_seen: bundled}", "bundled"),
    ],
)
def test_a_landing_that_is_not_certain_leaves_the_end_open(state: str, reason: str) -> None:
    """What may be on a breaker is never traced as if it were, nor as if it were on none."""
    record = made(f"cables: {{W1: {{type: 12/2, from: {{at: A, black: {state}}}}}}}")
    held = record.conductors[0].data["ends"][0].data["state"]
    assert (held.kind, held.note) == (UNSEEN, reason)


@pytest.mark.parametrize(
    ("text", "said"),
    [
        pytest.param(
            "cables: {W1: {type: 12/2, from: {at: A, black: breaker 9}}}",
            "cable W1, from: '9' is used and not defined; known here: 1, 3, 4, 5, 7", id="no such breaker",
        ),
        pytest.param(
            "cables: {W1: {type: 12/2, from: {at: hall, black: breaker 3}}}",
            "cable W1, from: 'breaker 3' is said of an end that is not at a panel; give at: the panel tag",
            id="at a box",
        ),
        pytest.param(
            "cables: {W1: {type: 12/2, from: {at: hall, blak: capped}}}",
            "cable W1, from: 'blak' is used and not defined; did you mean 'black'? Known here: black, white",
            id="no such conductor",
        ),
        pytest.param(
            "cables: {W1: {type: 12/2, from: {at: A 3, not_seen: behind the wall}}}",
            "cable W1, from: it says where this end is and that it was not seen; keep one of the two",
            id="seen and not",
        ),
        pytest.param(
            "cables: {W1: {type: 12/2, from: {black: capped}}}",
            "cable W1, from: it does not say where this end is; add at: or not_seen:", id="nowhere",
        ),
        pytest.param(
            "cables: {W1: {type: 12/2, from: A 9}}",
            "cable W1, from: 'A 9' is used and not defined; did you mean 'A 1'? Known here: A 1, A 3, A 4, ",
            id="space without breaker",
        ),
    ],
)  # fmt: skip
def test_landing_refused(text: str, said: str) -> None:
    """What does not hold is told with the place, and once."""
    sentences = refused(text)
    assert len(sentences) == 1
    assert sentences[0].startswith(said)


# -- what is taken where nothing is said


@pytest.mark.parametrize(
    ("kind", "metal"),
    [
        ("octagonal 4 x 1-1/2", (EXACT, (True,))),
        ("nonmetallic", (EXACT, (False,))),
        ("no box", (EXACT, (False,))),
        ("other", None),
        ("fan-rated", None),
        ("{kind: {is: nonmetallic, how: by eye}}", (WEAK, (False,))),
        ("{kind: octagonal 4 x 1-1/2 or octagonal 4 x 2-1/8}", (EXACT, (True,))),
        ("{kind: octagonal 4 x 1-1/2 or nonmetallic}", (LISTED, (True, False))),
        ("{kind: octagonal 4 x 1-1/2 or other}", None),
        ("{kind: nonmetallic, metal: true}", (EXACT, (True,))),
        ("{kind: {not_seen: painted shut}}", (UNSEEN, ())),
    ],
)
def test_metal_of_a_box(kind: str, metal: tuple[str, tuple[Any, ...]] | None) -> None:
    """By its kind, as surely as the kind is known; trade boxes by size are metal (common practice, no source)."""
    box = made(f"boxes: {{hall: {kind}}}").boxes["hall"]
    assert (fact(box, "metal") if "metal" in box.data else None) == metal


def test_breaker_defaults() -> None:
    """Poles by the spaces it takes, and a breaker unless a fuse is named."""
    record = made("panels: {A: {breakers: {3: 20, 5/7: {amps: 30}, 9: {kind: plug fuse, amps: 15, poles: 1}}}}")
    one, two, fuse = (record.breakers["A", space] for space in ("3", "5/7", "9"))
    assert fact(one, "poles") == (EXACT, (1,))
    assert fact(two, "poles") == (EXACT, (2,))
    assert fact(one, "amps") == (EXACT, (20,))
    assert one.data["amps"].written == "20"
    assert (fact(one, "kind"), fact(fuse, "kind")) == ((EXACT, ("breaker",)), (EXACT, ("plug fuse",)))


@pytest.mark.parametrize(
    ("cable", "expected"),
    [
        pytest.param("14/2 NM-B with ground", (EXACT, ("14",)), id="modern cable"),
        pytest.param("14/2 NM with ground", (WEAK, ("14", "16")), id="older cable can have a smaller one"),
        pytest.param("12/2 with ground", (WEAK, ("12", "14")), id="kind of cable not known"),
        pytest.param("8/2 with ground", None, id="above 10 AWG it is smaller by a table"),
        pytest.param("{type: 14/2 with ground, ground_gauge: 16}", (EXACT, ("16",)), id="as recorded"),
        pytest.param("{type: 14/2 with ground, gauge: 14 or 12}", (LISTED, ("14", "12")), id="as doubtful as the rest"),
    ],
)
def test_size_of_the_grounding_conductor(cable: str, expected: tuple[str, tuple[Any, ...]] | None) -> None:
    """As large as the others up to 10 AWG: NFPA 70 Table 250.122 (from memory); smaller in cable of the 1960s."""
    held = made(f"cables: {{W1: {cable}}}").conductors[-1].data["gauge"]
    assert (held.kind, held.values) == (expected or (UNSEEN, ()))


def test_year_of_the_building_stands_in_weakly() -> None:
    """A cable without a year has the building's, as a weak fact with its reason; a shared fact is one fact."""
    record = made("cables: {W1: 14/2, W2: {type: 14/2, installed: 2010}}")
    first, second, own, _ = (conductor.data["installed"] for conductor in record.conductors)
    assert (first.kind, first.values, first.note) == (WEAK, (1974,), "year of the building; the cable can be younger")
    assert first is second
    assert (own.kind, own.values) == (EXACT, (2010,))


@pytest.mark.parametrize(
    ("cable", "expected"),
    [
        # NEMA Engineering Bulletin 94 on NM-B jacket colours (from 2001), a maker convention, seen as quoted in
        # public texts; the sizes beside the inferred one are those a colour leaves open by ways.yaml.
        pytest.param("jacket: white, installed: 2010", (WEAK, "14"), id="white since 2001 is 14"),
        pytest.param("jacket: yellow, installed: 2010", (WEAK, "12"), id="yellow is 12"),
        pytest.param("jacket: black, installed: 2010", (ASSUMED, "8 6"), id="black is 8 or 6"),
        pytest.param("jacket: white, installed: 1988", (UNSEEN, ""), id="white before 2001 says nothing"),
        pytest.param("jacket: white, installed: 2001", (WEAK, "14"), id="first year counts"),
        pytest.param("jacket: white, installed: 2000", (UNSEEN, ""), id="last year before it does not"),
        pytest.param("jacket: white, installed: 1999 or 2010", (UNSEEN, ""), id="can be older"),
        pytest.param("jacket: white", (UNSEEN, ""), id="building older and cable not dated"),
        pytest.param("jacket: white, installed: 2010, method: NM-B", (WEAK, "14"), id="on NM-B"),
        pytest.param("jacket: black, installed: 2010, method: SE", None, id="not on service cable"),
        pytest.param("jacket: grey, installed: 2010", None, id="no such colour"),
        pytest.param("jacket: white or yellow, installed: 2010", None, id="colour not certain"),
        pytest.param("jacket: white, installed: 2010, gauge: 12", (EXACT, "12"), id="a size that was seen goes before"),
        pytest.param("jacket: white, installed: 2010, type: 12/2", (EXACT, "12"), id="so does a type"),
    ],
)
def test_size_by_jacket(cable: str, expected: tuple[str, str] | None) -> None:
    """A colour suggests a size, weakly, on cable that is surely young enough."""
    held = made(f"cables: {{W1: {{{cable}}}}}").cables["W1"].data.get("gauge")
    if expected is None:
        assert held is None
        return
    kind, sizes = expected
    assert held.kind == kind
    assert held.values[: len(sizes.split())] == tuple(sizes.split())
    if kind == WEAK:
        assert held.how == "jacket colour"
        assert set(held.values[1:]) == set(neighbours("gauge", sizes, "jacket colour"))


# -- forms of doubt


@pytest.mark.parametrize(
    ("written", "kind", "values", "text"),
    [
        pytest.param("14", EXACT, ("14",), "14", id="alone"),
        pytest.param("08", EXACT, ("8",), "08", id="leading zero"),
        pytest.param("14.0", EXACT, ("14",), "14.0", id="whole number written as a fraction"),
        pytest.param("0", EXACT, ("1/0",), "0", id="aught"),
        pytest.param("'0000'", EXACT, ("4/0",), "0000", id="four aughts"),
        pytest.param("2.5 mm2", EXACT, ("2.5 mm2",), "2.5 mm2", id="square millimetres stay"),
        pytest.param("{is: 14}", EXACT, ("14",), "14", id="is without a way"),
        pytest.param("{is: 14, how: gauge tool}", EXACT, ("14",), "14", id="measured"),
        pytest.param("{is: 14, how: by eye}", WEAK, ("14", "16", "12"), "14", id="by eye"),
        pytest.param("{is: 18, how: by eye}", WEAK, ("18", "16"), "18", id="by eye at the end of the ladder"),
        pytest.param("{is: 4/0, how: told}", WEAK, ("4/0", "3/0"), "4/0", id="told at the other end"),
        pytest.param("{is: 250 kcmil, how: by eye}", WEAK, ("250 kcmil",), "250 kcmil", id="off the ladder"),
        pytest.param("14 or 12", LISTED, ("14", "12"), "14 or 12", id="short form"),
        pytest.param("{is: 14 or 12, how: by eye}", LISTED, ("14", "12"), "14 or 12", id="short form inside"),
        pytest.param("{one_of: [14, 12]}", LISTED, ("14", "12"), "14 or 12", id="list"),
        pytest.param(
            "{one_of: [14, 12], how: by eye}", LISTED, ("14", "12"), "14 or 12", id="list by eye opens no more"
        ),
        pytest.param("1/0 or 0", EXACT, ("1/0",), "1/0 or 0", id="two spellings of one"),
        pytest.param("{one_of: [14, '14'], how: by eye}", WEAK, ("14", "16", "12"), "14 or 14", id="one value by eye"),
        pytest.param("{not_seen: painted over}", UNSEEN, (), "", id="not seen"),
    ],
)
def test_doubt_of_a_size(written: str, kind: str, values: tuple[str, ...], text: str) -> None:
    """Each form gives its kind of fact; neighbours by eye are one step of the ladder in ways.yaml."""
    held = made(f"cables: {{W1: {{gauge: {written}}}}}").cables["W1"].data["gauge"]
    assert (held.kind, held.values, held.written) == (kind, values, text)


@pytest.mark.parametrize("way", sorted(data("ways")["ways"]))
def test_a_way_is_observed_or_weak_as_the_data_file_says(way: str) -> None:
    """Every way a person may name."""
    if way not in ("as written", "position in the panel", "insulation colour", "terminal it lands on"):
        held = made(f"cables: {{W1: {{length: {{is: 10 ft, how: {way}}}}}}}").cables["W1"].data["length"]
        assert held.kind == (EXACT if data("ways")["ways"][way] == "observed" else WEAK)
        assert held.how == way


@pytest.mark.parametrize(
    ("name", "value", "how", "others"),
    [
        ("metal", "copper", "by eye", {"aluminium", "copper-clad aluminium"}),  # tinned copper looks silvery
        ("metal", "copper", "label", set()),
        ("gauge", "12", "by feel", {"14", "10"}),
        ("ground_gauge", "12", "by eye", {"14", "10"}),
        ("gauge", "1", "told", {"2", "1/0"}),
        ("leg", "L1", "label", {"L2"}),
        ("leg", "L1", "by eye", set()),
        ("kind", "switch", "by eye", set()),
    ],
)
def test_neighbours(name: str, value: str, how: str, others: set[str]) -> None:
    """What a weak way leaves open, by the data file."""
    assert set(neighbours(name, value, how)) == others


def test_free_text_keeps_its_or() -> None:
    """An `or` in a person's own words makes no choice of them."""
    record = read_record(load_bytes(RICH.encode(), "house.yaml"))
    assert fact(record.breakers["A", "2"], "label") == (EXACT, ("bedroom or hall",))
    assert fact(record.devices["heater"], "marked") == (EXACT, ("230 or 240 V",))
    assert fact(record.site, "code") == (EXACT, ("NFPA 70, 2017 or 2020",))
    assert fact(record.site, "built") == (LISTED, (1957, 1958))


@pytest.mark.parametrize(
    ("written", "kind", "values"),
    [
        ("sound", EXACT, (("sound",),)),
        ("[sound, loose]", EXACT, (("sound", "loose"),)),
        ("{is: sound, how: by eye}", WEAK, (("sound",),)),
        ("{is: [wet, loose], how: by eye}", WEAK, (("wet", "loose"),)),
        ("sound or loose", LISTED, (("sound",), ("loose",))),
        ("{one_of: [sound, [wet, loose]]}", LISTED, (("sound",), ("wet", "loose"))),
    ],
)
def test_condition_is_always_a_group_of_words(written: str, kind: str, values: tuple[Any, ...]) -> None:
    """So that a rule can ask whether a word is in it, however it was written."""
    assert fact(made(f"cables: {{W1: {{condition: {written}}}}}").cables["W1"], "condition") == (kind, values)


def test_who_saw_it_and_when() -> None:
    """A fact is by the person named with it, else by the one of its item, unless it belongs to another visit."""
    record = made(
        "cables: {W1: {type: 14/2, by: T. Helper, visit: V1, jacket: white, length: {is: 10 ft, by: U. Other},"
        " gauge: {is: 12, visit: V2}, conductors: {white: {marked: black, visit: V2}}}}"
    )
    cable = record.cables["W1"].data
    assert [(cable[name].by, cable[name].visit) for name in ("jacket", "length", "gauge")] == [
        ("T. Helper", ""),
        ("U. Other", ""),
        ("", "V2"),
    ]
    assert [conductor.visit for conductor in record.conductors] == ["V1", "V2"]


# -- units


@pytest.mark.parametrize(
    ("section", "name", "written", "kept"),
    [
        # 1 in is 25.4 mm and 1 ft is 12 in exactly: NIST SP 811 (2008), B.8, from memory.
        ("cables: {W1: {length: %s}}", "length", "40 ft", 40.0),
        ("cables: {W1: {length: %s}}", "length", "30 in", 2.5),
        ("cables: {W1: {length: %s}}", "length", "2.5 m", 8.2021),
        ("cables: {W1: {length: %s}}", "length", "30.48 cm", 1.0),
        ("cables: {W1: {first_support: %s}}", "first_support", "8 in", 8.0),
        ("cables: {W1: {first_support: %s}}", "first_support", "203.2 mm", 8.0),
        ("cables: {W1: {support_spacing: %s}}", "support_spacing", "4.5 ft", 54.0),
        ("boxes: {W1: {volume: %s}}", "volume", "18", 18.0),
        ("boxes: {W1: {volume: %s}}", "volume", "18.0 in3", 18.0),
        ("boxes: {W1: {volume: %s}}", "volume", "344 cm3", 20.9922),  # 344 / 16.387064
        ("boxes: {W1: {setback: %s}}", "setback", "6.35 mm", 0.25),
        ("boxes: {W1: {volume: {one_of: [%s, 21]}}}", "volume", "18 in3", 18.0),
    ],
)
def test_units(section: str, name: str, written: str, kept: float) -> None:
    """Lengths of runs in feet, other lengths in inches, volumes in cubic inches, as the catalogue says."""
    record = made(section % written)
    item = record.cables.get("W1") or record.boxes["W1"]
    assert item.data[name].values[0] == pytest.approx(kept, abs=5e-5)
    assert written in item.data[name].written


def test_diameter_is_kept_in_millimetres() -> None:
    """A conductor of 0.0641 in, which is 14 AWG (ASTM B258, from memory), is 1.63 mm."""
    record = made("cables: {W1: {type: 14/2, conductors: {black: {diameter: 0.0641 in}, white: {diameter: 1.6 mm}}}}")
    assert [c.data["diameter"].value for c in record.conductors] == [pytest.approx(1.628, abs=5e-4), 1.6]


@pytest.mark.parametrize(
    ("kind", "value", "name", "kept"),
    [
        ("voltage", "121 V", "volts", (121.0,)),
        ("voltage", "95 mV", "volts", (0.095,)),
        ("resistance", "1.2 kohm", "ohms", (1200.0,)),
        ("resistance", "2 Mohm", "ohms", (2e6,)),
        ("continuity", "0.3 ohm", "ohms", (0.3,)),
        ("continuity", "OL", "signal", ("OL",)),
        ("current", "350 mA", "amps", (0.35,)),
        ("non-contact", "silent", "signal", ("silent",)),
        ("voltage", "120 V or 121 V", "volts", (120.0, 121.0)),
    ],
)
def test_reading(kind: str, value: str, name: str, kept: tuple[Any, ...]) -> None:
    """The unit decides which fact a reading gives."""
    (reading,) = made(f"readings: [{{kind: {kind}, between: [earth], value: {value}}}]").readings
    assert reading.data[name].values == pytest.approx(kept)
    assert reading.data[name].written == value


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("kind: voltage, between: [earth], value: 0.3 ohm",
         "'0.3 ohm' is not what a voltage reading gives; correct the kind"),
        ("kind: non-contact, between: [earth], value: 0 V",
         "'0 V' is not what a non-contact reading gives; correct the kind"),
        ("kind: continuity, between: [earth], value: 1 ohm or OL",
         "the values it can be are of different kinds; give one"),
        ("kind: voltage, between: [A 9]", "'A 9' is used and not defined; "),
        ("kind: voltage, between: [earth], instrument: metre 1",
         "'metre 1' is used and not defined; did you mean 'meter 1'?"),
        ("kind: voltage, between: [earth], at: 2026-02-30 10:05",
         "there is no 2026-02-30 in the calendar; correct the date"),
    ],
)  # fmt: skip
def test_reading_refused(text: str, said: str) -> None:
    """A reading whose value, points or instrument do not hold is refused."""
    (sentence,) = refused(f"readings: [{{{text}}}]")
    assert sentence.startswith(f"reading 1: {said}")


@pytest.mark.parametrize(
    ("instrument", "contact"), [("meter 1", True), ("stick", False)], ids=["a meter touches", "a stick does not"]
)
def test_contact_by_instrument(instrument: str, contact: bool) -> None:
    """Whether the test touched the conductor, which a proof that it is dead needs."""
    (reading,) = made(f"readings: [{{kind: voltage, between: [earth], instrument: {instrument}}}]").readings
    assert fact(reading, "contact") == (EXACT, (contact,))


def test_points_of_readings() -> None:
    """A point is a conductor, terminal, box, bar, breaker, panel or the earth."""
    record = made(
        "cables: {W1: {type: 14/2, from: A 1, to: hall}}\n"
        "devices: {R1: {kind: duplex receptacle, at: hall, wired_to: W1}}\n"
        "readings:\n"
        "  - {kind: voltage, between: [W1 black, A neutral bar]}\n"
        "  - {kind: voltage, between: [R1 hot, hall box]}\n"
        "  - {kind: voltage, between: [A 5, earth]}\n"
        "  - {kind: voltage, between: [A, hall]}\n"
    )
    sorts = [[point[0] for point in reading.data["points"]] for reading in record.readings]
    assert sorts == [["conductor", "bar"], ["terminal", "box"], ["breaker", "earth"], ["panel", "box"]]
    assert record.readings[2].data["points"][0][1] is record.breakers["A", "5/7"]


# -- tags that do not hold


ONE_CABLE = "cables: {W1: {type: 14/2, from: A 1, to: hall}}\n"


@pytest.mark.parametrize(
    ("text", "said"),
    [
        pytest.param(
            "cables: {W1: {type: 14/2, from: hal}}",
            "cable W1, from: 'hal' is used and not defined; did you mean 'hall'? Known here: hall, A, den, attic, A 1,",
            id="end of a cable",
        ),
        pytest.param(
            ONE_CABLE + "joints: {J1: {at: hal, ends: [W1 black]}}",
            "joint J1: 'hal' is used and not defined; did you mean 'hall'?", id="place of a joint",
        ),
        pytest.param(
            ONE_CABLE + "joints: {J1: {at: hall, ends: [W1 blak]}}",
            "joint J1: 'W1 blak' is used and not defined; did you mean 'W1 black'? Known here: W1 black, W1 white",
            id="conductor",
        ),
        pytest.param(
            ONE_CABLE + "joints: {J1: {at: hall, ends: [w1 black]}}",
            "joint J1: 'w1 black' is used and not defined; did you mean 'W1 black'", id="case of a cable",
        ),
        pytest.param(
            ONE_CABLE + "joints: {J1: {at: hall, ends: [X1 red]}}",
            "joint J1: 'X1 red' is used and not defined; cables and devices: W1", id="cable",
        ),
        pytest.param(
            ONE_CABLE + "joints: {J1: {at: hall, ends: [W1]}}",
            "joint J1: 'W1' is a whole cable, and one conductor of it is wanted; write one of W1 black, W1 white",
            id="whole cable in a joint",
        ),
        pytest.param(
            "cables: {W1: {from: hall}}\njoints: {J1: {at: hall, ends: [W1 black]}}",
            "joint J1: no conductors of cable W1 are recorded; give its type, or name them under conductors",
            id="cable without a type",
        ),
        pytest.param(
            ONE_CABLE + "joints: {J1: {at: A, ends: [box]}}",
            "joint J1: 'box' is named where there is no box; name the conductor ends only", id="box in a panel",
        ),
        pytest.param(
            "devices: {R1: {kind: switch, at: hall, terminals: {hot: W1 black}}}",
            "device R1: 'hot' is used and not defined; known here: line, load, ground",
            id="terminal the device has not",
        ),
        pytest.param(
            "devices: {R1: {kind: switch, at: hall, terminals: {line: W1 black}}}",
            "device R1: 'W1 black' is used and not defined; ", id="conductor at a terminal",
        ),
        pytest.param(
            ONE_CABLE + "devices: {R1: {kind: switch, at: hall, terminals: {line: R1 load}}}",
            "device R1: 'R1 load' is not a conductor end; name a cable and conductor such as W1 black",
            id="terminal on itself",
        ),
        pytest.param(
            "devices: {R1: {kind: duplex receptacle, at: hall, wired_to: W1}}",
            "device R1: 'W1' is used and not defined; none is defined yet; add it first", id="cable of a device",
        ),
        pytest.param(
            ONE_CABLE + "devices: {S1: {kind: switch, at: hall, wired_to: W1}}",
            "device S1: wired_to cannot say where W1 black and W1 white would land on it; use terminals instead",
            id="switch is wired its own way",
        ),
        pytest.param(
            "devices: {R1: {kind: switch, at: halll}}", "device R1: 'halll' is used and not defined; did you "
            "mean 'hall'?",
            id="box of a device",
        ),
        pytest.param(
            "cables: {W1: {type: 14/2, passes: {halll: unbroken}}}",
            "cable W1, passes: 'halll' is used and not defined; did you mean 'hall'?", id="box passed",
        ),
        pytest.param(
            "cables: {W1: {type: 14/2, visit: V3}}",
            "cable W1: 'V3' is used and not defined; known here: V1, V2", id="visit of an item",
        ),
        pytest.param(
            "cables: {W1: {type: 14/2, length: {is: 10 ft, visit: V3}}}",
            "cable W1, length: 'V3' is used and not defined; known here: V1, V2", id="visit of a fact",
        ),
        pytest.param(
            "cables: {W1: {type: 14/2, photo: hall.jpg}}\nphotos: [{file: hall-1.jpg, shows: hall}]",
            "cable W1: 'hall.jpg' is used and not defined; did you mean 'hall-1.jpg', the only one known here",
            id="photograph",
        ),
        pytest.param("log: [{did: cut, what: W7}]", "log entry 1: 'W7' is used and not defined; ", id="log"),
        pytest.param(
            "readings: [{tag: M1, kind: voltage, between: [earth]}]\nlog: [{did: tested, what: hall, readings: [M2]}]",
            "log entry 1: 'M2' is used and not defined; known here: M1", id="reading in the log",
        ),
        pytest.param("labels: [{on: A 9, says: hall}]", "label 1: 'A 9' is used and not defined; ", id="label"),
        pytest.param(
            "panels: {A: {breakers: {5/7: 30}}, B: {fed_from: A 5}, C: {fed_from: A 6}}",
            "panel C: 'A 6' is used and not defined; known here: A 5/7, supply", id="feeder",
        ),
        pytest.param(
            "panels: {A: {breakers: {3: {amps: 20, tied_with: 6}, 5: 20}}}",
            "panel A, breaker 3: '6' is used and not defined; known here: 5", id="tie",
        ),
        pytest.param(
            "panels: {A: {breakers: {3: {amps: 20, tied_with: 3}, 5: 20}}}",
            "panel A, breaker 3: '3' is used and not defined; known here: 5", id="tied with itself",
        ),
        pytest.param(
            "panels: {A: {breakers: {3: {amps: 20, tied_with: 5, tie: none}, 5: 20}}}",
            "panel A, breaker 3: it is tied with 5 and says tie: none; keep one of the two", id="tied and not",
        ),
        pytest.param(
            "panels: {A: {breakers: {5/7: 30, 7/9: 30}}}", "panel A: space 7 is given twice; give each space once",
            id="space",
        ),
        pytest.param(
            "panels: {A: {breakers: {3: {amps: 20, leg: L3}}}}",
            "panel A, space 3: there is no leg L3 in a 120/240 split phase; correct the leg or the supply: L1, L2",
            id="leg",
        ),
        pytest.param(
            "panels: {A: {fed_from: B 1, breakers: {1: 20}}, B: {fed_from: A 1, breakers: {1: 20}}}",
            "panel A: it is fed through itself; correct fed_from; one panel is fed by supply", id="panels in a ring",
        ),
        pytest.param(
            "panels: {A: {breakers: {3: {amps: 20, wired: false}}}}\ncables: {W1: {type: 14/2, from: A 3}}",
            "panel A, space 3: it says that nothing lands on it, and W1 black does; take out wired: false, or correct",
            id="spare in use",
        ),
        pytest.param(
            "cables: {W1: {type: 14/2 or 14/3}}",
            "cable W1: the types listed bring different conductors; list the conductors that were seen under "
            "conductors",
            id="types that differ in conductors",
        ),
    ],
)  # fmt: skip
def test_undefined(text: str, said: str) -> None:
    """Each undefined tag is told once, with the likely one."""
    sentences = refused(text)
    assert len(sentences) == 1, sentences
    assert sentences[0].startswith(said)


# -- ends


TWO = "cables: {W1: {type: 14/2, from: hall, to: hall}, W2: {type: 14/2, from: hall, to: den}, W3: 14/2}\n"


@pytest.mark.parametrize(
    ("text", "said"),
    [
        pytest.param(
            "joints: {J1: {at: hall, ends: [W2 black]}, J2: {at: hall, ends: [W2 black]}}",
            "joint J2: the end of W2 black here is already in joint J1; name each end once", id="in two joints",
        ),
        pytest.param(
            "joints: {J1: {at: hall, ends: [W2 black, W2 black]}}",
            "joint J1: the end of W2 black here is already in joint J1; name each end once", id="twice in one joint",
        ),
        pytest.param(
            "joints: {J1: {at: attic, ends: [W2 black]}}",
            "joint J1: cable W2 has no end at 'attic'; its recorded ends are: from hall and to den; "
            "correct from or to of W2, or the joint", id="no end here",
        ),
        pytest.param(
            "joints: {J1: {at: hall, ends: [W3 black]}}",
            "joint J1: cable W3 has no end at 'hall'; none of its ends is recorded; ", id="no end anywhere",
        ),
        pytest.param(
            "joints: {J1: {at: hall, ends: [W1 black]}}",
            "joint J1: both ends of W1 black are here; write W1 black (from) or W1 black (to)", id="both ends here",
        ),
        pytest.param(
            "joints: {J1: {at: hall, ends: [W2 black (to)]}}",
            "joint J1: cable W2 has no end at 'hall'; ", id="the other end named",
        ),
        pytest.param(
            "devices: {R1: {kind: switch, at: den, terminals: {line: W2 black, load: W2 black}}}",
            "device R1, load: the end of W2 black here is already in R1 line; name each end once",
            id="on two terminals",
        ),
        pytest.param(
            "joints: {J1: {at: den, ends: [W2 black]}}\ndevices: {R1: {kind: lampholder, at: den, wired_to: W2}}",
            "device R1, hot: the end of W2 black here is already in joint J1; name each end once",
            id="in a joint and on a device",
        ),
        pytest.param(
            "devices: {R1: {kind: lampholder, at: attic, wired_to: W2}}",
            "device R1, hot: cable W2 has no end at 'attic'; ", id="device elsewhere",
        ),
    ],
)  # fmt: skip
def test_ends_refused(text: str, said: str) -> None:
    """An end is in one place, once."""
    sentences = refused(TWO + text)
    assert sentences[0].startswith(said)
    assert len(sentences) == (2 if "lampholder, at: attic" in text else 1)  # both conductors of the cable are elsewhere


def test_a_state_and_a_joint_for_one_end() -> None:
    """An end that is said to be capped is in no joint."""
    sentences = refused(
        "cables: {W1: {type: 14/2, to: {at: hall, black: capped}}}\njoints: {J1: {at: hall, ends: [W1 black]}}"
    )
    assert sentences == ["cable W1, to: W1 black is given a state here and is also in joint J1; keep one of the two"]


def test_both_ends_in_one_place_by_side() -> None:
    """With (from) and (to) both ends of a loop are told apart."""
    record = made(
        TWO + "joints: {J1: {at: hall, ends: [W1 black (from), W2 black]}, J2: {at: hall, ends: [W1 black (to)]}}"
    )
    start, end = (one.data["state"] for one in record.conductors[0].data["ends"])
    assert (start.value, start.written) == ("spliced", "joint J1")
    assert (end.value, end.written) == ("spliced", "joint J2")


def test_state_of_every_end() -> None:
    """By joint, terminal or landing, as written, or not seen with the reason."""
    record = made(
        "cables:\n"
        "  W1: {type: 14/2, from: A 1, to: {at: hall, white: {is: taped, how: by feel}}}\n"
        "  W2: {type: 14/2, from: hall, to: {not_seen: runs into a finished wall}}\n"
        "  W3: {type: 14/2, from: not traced}\n"
        "joints: {J1: {at: hall, ends: [W1 black, W2 black]}}\n"
        "devices: {R1: {kind: switch, at: hall, terminals: {line: W2 white}}}\n"
    )
    states = {end.tag: (end.data["state"].values, end.data["state"].note) for end in record.ends}
    assert states == {
        "W1 black (from)": (("landed",), "panel A"),
        "W1 white (from)": (("landed",), "panel A"),
        "W1 black (to)": (("spliced",), "joint J1"),
        "W1 white (to)": (("taped",), ""),
        "W2 black (from)": (("spliced",), "joint J1"),
        "W2 white (from)": (("landed",), "R1 line"),
        "W2 black (to)": ((), "runs into a finished wall"),
        "W2 white (to)": ((), "runs into a finished wall"),
        "W3 black (from)": ((), "not traced"),
        "W3 white (from)": ((), "not traced"),
        "W3 black (to)": ((), "not recorded"),
        "W3 white (to)": ((), "not recorded"),
    }


def test_passing_through() -> None:
    """A cable that passes counts in the box, unbroken or looped, and may be tapped there without an end."""
    record = made(
        "cables: {W1: {type: 14/2, passes: {hall: looped, den: unbroken}}, W2: {type: 14/2, to: hall}}\n"
        "joints: {J1: {at: hall, ends: [W1 black, W2 black]}}"
    )
    hall, den = record.boxes["hall"].data, record.boxes["den"].data
    assert [c.tag for c in hall["looped"]] == ["W1 black", "W1 white"]
    assert [c.tag for c in den["passing"]] == ["W1 black", "W1 white"]
    assert [c.tag for c in hall["conductors"]] == ["W2 black", "W2 white"]
    assert [c.tag for c in hall["cables"]] == ["W1", "W2"]
    assert not hall["passing"]
    assert not den["looped"]


# -- one slip is told once


@pytest.mark.parametrize(
    ("text", "count"),
    [
        pytest.param(
            "cables: {W1: {type: 14/2, to: hal}}\njoints: {J1: {at: hall, ends: [W1 black]}, J2: {at: hall, "
            "ends: [W1 white]}}",
            1, id="cable to an undefined place",
        ),
        pytest.param(
            "cables: {W1: {type: 14/2 NMX, to: hall}}\njoints: {J1: {at: hall, ends: [W1 black]}, J2: {at: hall, "
            "ends: [W1 white]}}",
            1, id="cable of an unknown type",
        ),
        pytest.param(
            ONE_CABLE + "devices: {R1: {kind: duplex receptacle, at: hal, wired_to: W1}}", 1,
            id="device in an undefined box",
        ),
        pytest.param(
            ONE_CABLE + "joints: {J1: {at: hal, ends: [W1 black, W1 nonsense]}}", 1, id="joint in an undefined box"
        ),
        pytest.param(
            "cables: {W1: {type: 14/2, from: {at: B, black: breaker 3, white: neutral bar}}}", 1, id="undefined panel"
        ),
        pytest.param("cables: {W1: {type: 14/2, from: {at: hal, grene: capped}}}", 2, id="two slips of two kinds"),
    ],
)  # fmt: skip
def test_no_cascade(text: str, count: int) -> None:
    """What only follows from a slip is not told besides."""
    assert len(refused(text)) == count


# -- one name for one thing


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("boxes: {W1: no box}\ncables: {W1: 14/2}", "boxes: the name 'W1' is already one of the cables; "),
        ("boxes: {A: no box}", "boxes: the name 'A' is already one of the panels; "),
        ("boxes: {R1: no box}\ndevices: {R1: {kind: switch}}", "devices: the name 'R1' is already one of the boxes; "),
        ("boxes: {A 3: no box}", "breakers: the name 'A 3' is already one of the boxes; "),
        ("boxes: {A neutral bar: no box}", "bars of panels: the name 'A neutral bar' is already one of the boxes; "),
        ("cables: {W1: 14/2, W1 black: 14/2}",
         "conductors of cables: the name 'W1 black' is already one of the cables; "),
        (
            "cables: {W1: {conductors: {red 2: {}}}, W1 red: {conductors: {'2': {}}}}",
            "conductors of cables: the name 'W1 red 2' is already one of the conductors of cables; ",
        ),
        ("boxes: {earth: no box}", "boxes: the name 'earth' is already one of the words with a meaning of their own; "),
        ("boxes: {not traced: no box}", "boxes: the name 'not traced' is already one of the words with a meaning"),
        (
            "readings: [{tag: M1, kind: voltage, between: [earth]}, {tag: M1, kind: voltage, between: [earth]}]",
            "reading 2: the tag 'M1' already names another reading; give one of the two another tag",
        ),
    ],
)  # fmt: skip
def test_one_name_for_one_thing(text: str, said: str) -> None:
    """A name that two things have would be read as either."""
    assert any(sentence.startswith(said) for sentence in refused(text))


def test_a_visit_on_no_day() -> None:
    """A date that no calendar has is refused."""
    head = HEAD.replace("2026-05-11", "2026-02-30")
    assert refused("", head) == [
        "visit V2: there is no 2026-02-30 in the calendar; correct the date; it is written year-month-day"
    ]


# -- panels


def test_tied_breakers() -> None:
    """A tie holds both ways, and is a handle tie unless said otherwise."""
    record = made(
        "panels: {A: {breakers: {3: {amps: 20, tied_with: 5}, 5: 20, 7: {amps: 20, tied_with: 9}, 9: {tie: "
        "common trip}}}}",
    )
    three, five, seven, nine = (record.breakers["A", space] for space in "3579")
    assert (three.data["tied_with"], five.data["tied_with"]) == ((five,), (three,))
    assert fact(three, "tie") == fact(five, "tie") == (EXACT, ("handle tie",))
    assert fact(seven, "tie") == (EXACT, ("handle tie",))
    assert fact(nine, "tie") == (EXACT, ("common trip",))


def test_sub_panel() -> None:
    """A panel is fed by the breaker it names, by either of its spaces, or by the supply."""
    record = made(
        "panels: {A: {breakers: {5/7: 60, 9: 20}}, B: {fed_from: A 5/7}, C: {fed_from: A 7}, D: {fed_from: supply}}"
    )
    feeder = record.breakers["A", "5/7"]
    feeds = [record.panels[tag].data["feeder"] for tag in "ABCD"]
    assert feeds == [(), (feeder,), (feeder,), ()]


@pytest.mark.parametrize(
    ("supply", "breaker", "kind", "values"),
    [
        # Legs alternate by rows of spaces in common North American panelboards: common practice, no source.
        ("120/240 split phase", "1: 15", WEAK, (("L1",), ("L2",))),
        ("120/240 split phase", "2: 15", WEAK, (("L1",), ("L2",))),
        ("120/240 split phase", "3: 15", WEAK, (("L2",), ("L1",))),
        ("120/240 split phase", "5/7: 30", EXACT, (("L1", "L2"),)),
        ("120/240 split phase", "3: {amps: 15, leg: L1}", EXACT, (("L1",),)),
        ("120/240 split phase", "3: {amps: 15, leg: {is: L1, how: label}}", WEAK, (("L1",), ("L2",))),
        ("120/240 split phase", "3: {amps: 15, leg: L1 or L2}", LISTED, (("L1",), ("L2",))),
        ("120/240 split phase", "3A: 15", UNSEEN, ()),
        ("208Y/120", "1/3/5: 30", WEAK, (("L1", "L2", "L3"), ("L2", "L3", "L1"), ("L3", "L1", "L2"))),
        ("208Y/120", "5: {amps: 15, leg: L3}", EXACT, (("L3",),)),
        ("230 single phase", "5/7: 30", EXACT, (("L1", "L1"),)),
        ("{system: {not_seen: meter locked}}", "5/7: 30", UNSEEN, ()),
        ("{system: {not_seen: meter locked}}", "5: {amps: 15, leg: L3}", EXACT, (("L3",),)),
        ("{system: 120/240 split phase or 208Y/120}", "5/7: 30", UNSEEN, ()),
    ],
)
def test_legs(supply: str, breaker: str, kind: str, values: tuple[tuple[str, ...], ...]) -> None:
    """As measured, or weakly by the place in the panel; not at all when the supply is not certain."""
    head = HEAD.replace("supply: 120/240 split phase", f"supply: {supply}")
    (found,) = made(f"panels: {{A: {{breakers: {{{breaker}}}}}}}", head).breakers.values()
    assert fact(found, "legs") == (kind, values)


# -- devices


def test_device_of_a_kind_not_seen() -> None:
    """It may have any terminal, and what its kind would decide is not taken as decided."""
    record = made(
        ONE_CABLE
        + "devices: {R1: {kind: {not_seen: painted shut}, at: hall, terminals: {line: W1 black, hot_2: W1 white}}}"
    )
    device = record.devices["R1"]
    assert fact(device, "yoke") == (UNSEEN, ())
    assert fact(device, "by_nameplate") == (ASSUMED, (False, True))
    assert set(record.terminals) == {("R1", "line"), ("R1", "hot_2")}


@pytest.mark.parametrize(
    ("kind", "yoke", "by_nameplate"),
    [
        ("switch", (EXACT, (True,)), (EXACT, (False,))),
        ("motor", (EXACT, (False,)), (EXACT, (True,))),
        ("switch or motor", (LISTED, (True, False)), (LISTED, (False, True))),
        ("switch or dimmer", (EXACT, (True,)), (EXACT, (False,))),
        ("{is: switch, how: told}", (WEAK, (True,)), (WEAK, (False,))),
    ],
)
def test_what_follows_from_the_kind_of_device(kind: str, yoke: Any, by_nameplate: Any) -> None:
    """As surely as the kind is known."""
    device = made(f"devices: {{R1: {{kind: {kind}, at: hall}}}}").devices["R1"]
    assert (fact(device, "yoke"), fact(device, "by_nameplate")) == (yoke, by_nameplate)


def test_wired_as_usual() -> None:
    """Coloured on hot, a second coloured on hot_2, white on neutral, bare on ground: trade habit."""
    record = made(
        "cables: {W1: {type: 12/3 with ground, to: hall}}\n"
        "devices: {R1: {kind: duplex receptacle, at: hall, wired_to: [W1]}}"
    )
    assert {f"{tag} {name}": [c.tag for c in held] for (tag, name), held in record.terminals.items()} == {
        "R1 hot": ["W1 black"],
        "R1 hot_2": ["W1 red"],
        "R1 neutral": ["W1 white"],
        "R1 ground": ["W1 bare"],
    }


def test_nameplate() -> None:
    """Nameplate values are facts of the device; what is marked on the device itself goes before."""
    device = made("devices: {M: {kind: motor, volts: 230, nameplate: {volts: 240, amps: 12.5}}}").devices["M"]
    assert fact(device, "volts") == (EXACT, (230,))
    assert fact(device, "amps") == (EXACT, (12.5,))


# -- size


def test_large_record_is_complete() -> None:
    """Every conductor of a long record has two ends in a known state, and every joint its two conductors."""
    record = read_record(load_bytes(large_record(100).encode(), "house.yaml"))
    assert record.count() == {
        "panels": 1,
        "breakers": 3,
        "cables": 100,
        "conductors": 300,
        "boxes": 100,
        "joints": 291,
        "devices": 0,
        "readings": 0,
        "log entries": 0,
    }
    open_ends = [end.tag for end in record.ends if not end.data["state"].values]
    assert len(record.ends) == 600
    assert len(open_ends) == 9  # the far ends of three chains
    assert all(len(joint.data["conductors"]) == 2 for joint in record.joints.values())


def spoil_nothing(text: str) -> str:
    return text


def every_cable_astray(text: str) -> str:
    return text.replace(", to: B", ", to: C")


def every_joint_misspelt(text: str) -> str:
    return text.replace(" black]", " blakc]").replace(" white]", " whit]")


def every_name_misspelt(text: str) -> str:
    return text.replace("{type:", "{typ:")


@pytest.mark.parametrize("spoil", [spoil_nothing, every_cable_astray, every_joint_misspelt, every_name_misspelt])
def test_time_grows_with_the_record_not_with_its_square(spoil: Callable[[str], str]) -> None:
    """Four times the record takes about four times the processor time, also when every line of it is wrong."""

    def seconds(cables: int) -> float:
        document = load_bytes(spoil(large_record(cables)).encode(), "house.yaml")
        best = float("inf")
        for _ in range(3):
            start = time.process_time()
            try:
                read_record(document)
            except Refused as refusal:
                assert len(refusal.problems) >= cables  # noqa: PT017
            best = min(best, time.process_time() - start)
        return best

    seconds(50)
    assert seconds(600) / seconds(150) < 10  # sixteen by the square


@pytest.mark.parametrize(
    ("written", "inches"),
    [
        pytest.param("8 in", 8.0, id="whole"),
        pytest.param("1/2 in", 0.5, id="a fraction"),
        pytest.param("1-1/4 in", 1.25, id="whole and a fraction"),
        pytest.param("1 3/8 in", 1.375, id="with a blank"),
        pytest.param('0.25"', 0.25, id="with a mark"),
        pytest.param('1-1/16"', 1.0625, id="a fraction with a mark"),
        pytest.param("1.5 ft", 18.0, id="feet"),
        pytest.param("25.4 mm", 1.0, id="millimetres"),
    ],
)
def test_lengths_as_tradespeople_write_them(written: str, inches: float) -> None:
    """Inches by halves of halves; 25.4 mm in an inch (exact by definition, 1959)."""
    text = f"asfound: 1\nsite: {{name: Hut}}\nsupply: 120/240 split phase\npanels: {{A: {{}}}}\nboxes: {{hall: {{kind: nonmetallic, setback: {written}}}}}\n"
    fact = read_record(load_bytes(text.encode(), "hut.yaml")).boxes["hall"].data["setback"]
    assert (fact.value, fact.written) == (inches, written)


@pytest.mark.parametrize(
    "written", ["1/3 in", "0/2 in", "1/2 ft", "1-1/2", "1/2/4 in", "-1/2 in", "1 - 1/2 in", '0.25 "', "0.25"]
)
def test_a_length_that_could_mean_two_things_is_refused(written: str) -> None:
    """With an example of how to write it."""
    text = f"asfound: 1\nsite: {{name: Hut}}\nsupply: 120/240 split phase\npanels: {{A: {{}}}}\nboxes: {{hall: {{kind: nonmetallic, setback: {written}}}}}\n"
    with pytest.raises(Refused, match="cannot be read as"):
        read_record(load_bytes(text.encode(), "hut.yaml"))
