"""The rules and tables against published figures, entry by entry of `fixtures/check_values.yaml`.

Each entry names its source there. What a rule can answer is asked of a whole record, from the text
to the findings; what only a table holds is read from the table as a run reads it.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from itertools import pairwise
from pathlib import Path
from typing import Any

import pytest
import yaml

from asfound.judge.tables import TableSet
from asfound.plugins import collect
from asfound.survey import Survey
from records import clear, findings, open_facts, panel, record_text, sentences, surveyed

ENTRIES: dict[str, dict[str, Any]] = {
    entry["id"]: entry
    for entry in yaml.safe_load(
        (Path(__file__).parents[1] / "fixtures" / "check_values.yaml").read_text(encoding="utf-8")
    )
}

SIZE = "conductor-too-small"
FILL = "box-overfull"
WHITE = "white-used-as-ungrounded"

NOT_RUN: dict[str, str] = {}
"""Entries that no rule or table answers, with the reason."""

Answer = Callable[[dict[str, Any], Path], dict[str, Any]]
ANSWERS: dict[str, Answer] = {}


def answers(*ids: str) -> Callable[[Answer], Answer]:
    """Mark a function as the one that answers these entries."""

    def mark(function: Answer) -> Answer:
        for one in ids:
            assert one not in ANSWERS, f"{one} is answered twice"
            ANSWERS[one] = function
        return function

    return mark


def in_every_edition(function: Answer) -> Answer:
    """Ask under the editions of 2017, 2020 and 2023, where the entry names none, and expect one answer."""

    def asked(given: dict[str, Any], folder: Path) -> dict[str, Any]:
        assert "edition" not in given
        got = [function({**given, "edition": f"NEC {year}"}, folder) for year in (2017, 2020, 2023)]
        assert got[0] == got[1] == got[2]
        return got[0]

    return asked


def numbered(topic: str, *numbers: int) -> list[str]:
    return [f"{topic}-{number:02}" for number in numbers]


def as_of(given: dict[str, Any]) -> str:
    """The last day of the year that an edition is named for; the newest edition when none is."""
    year = re.search(r"[0-9]{4}", str(given.get("edition", "")))
    later = "later" in str(given.get("edition", ""))
    return f"{year.group() if year and not later else 2023}-12-31"


def edition_rows(table: str, date: str) -> dict[str, Any]:
    """The rows of a table in force on a date."""
    edition = TableSet(collect().tables, date).edition(table)
    assert edition is not None
    return edition.rows


def numbers(text: str) -> list[float]:
    return [float(one) for one in re.findall(r"[0-9]+(?:\.[0-9]+)?", text)]


def assert_close(got: Any, expected: Any, tolerance: Any, where: str) -> None:
    """Compare by the entry's tolerance, through lists and mappings."""
    if isinstance(expected, dict):
        assert set(got) == set(expected), where
        for key in expected:
            assert_close(got[key], expected[key], tolerance, f"{where}, {key}")
    elif isinstance(expected, float | int) and not isinstance(expected, bool):
        within = 0.0 if tolerance == "exact" else tolerance["abs"]
        assert abs(got - expected) <= within + 1e-9, f"{where}: {got}, published {expected}"
    else:
        assert got == expected, f"{where}: {got!r}, published {expected!r}"


@pytest.mark.parametrize("one", [pytest.param(one, id=one) for one in ENTRIES if one not in NOT_RUN])
def test_published_figure(one: str, tmp_path: Path) -> None:
    """The rule or table gives the published figure within its tolerance."""
    entry = ENTRIES[one]
    got = ANSWERS[one](entry["given"], tmp_path)
    assert_close(got, entry["expect"], entry["tolerance"], f"{one} ({entry['source']}, {entry['basis']})")


def test_every_entry_is_answered_or_listed() -> None:
    """No entry of the fixture is left out silently, and each has its source and basis."""
    assert set(ANSWERS) | set(NOT_RUN) == set(ENTRIES)
    assert not set(ANSWERS) & set(NOT_RUN)
    for one, entry in ENTRIES.items():
        assert entry["source"], one
        assert entry["basis"] in ("seen in text", "from memory", "common practice"), one


def test_a_wrong_figure_is_noticed() -> None:
    """The comparison used here fails on a figure outside its tolerance."""
    assert_close({"a": [1], "b": 2.01}, {"a": [1], "b": 2.0}, {"abs": 0.01}, "")
    for got in ({"b": 2.02}, {"b": 2.0, "c": 1}, {}):
        with pytest.raises(AssertionError):
            assert_close(got, {"b": 2.0}, {"abs": 0.01}, "")


# -- a: breakers against small conductors

METALS = {
    "Cu": [("", "copper")],
    "Al": [(" AL", "aluminium")],
    "copper-clad Al": [(" CU-CLAD", "copper-clad aluminium")],
    "Al or copper-clad Al": [(" AL", "aluminium"), (" CU-CLAD", "copper-clad aluminium")],
}


def one_run(folder: Path, kind: str, amps: float, date: str, **cable: Any) -> Survey:
    """A breaker, one cable of this type, and an open end at a box."""
    text = record_text(
        panels=panel({"1": amps}),
        boxes={"b": {"kind": "nonmetallic", "volume": 100}},
        cables={"W1": {"type": kind, "from": "A 1", "to": {"at": "b", "black": "capped"}, **cable}},
    )
    return surveyed(folder, text, date)


def limit_said(done: Survey) -> float | None:
    """The largest breaker as the one finding of the rule states it; None when nothing was found."""
    said = sentences(done, SIZE)
    assert len(said) <= 1, said
    if not said:
        assert clear(done, SIZE)
        return None
    found = re.search(r"allows ([0-9.]+) A", said[0])
    assert found is not None, said[0]
    return float(found.group(1))


def verdict(done: Survey, breaker: float, limit: float) -> dict[str, Any]:
    """In the words of the fixture. A clear record states no limit; the one that a larger breaker brings is given."""
    said = limit_said(done)
    return {"defect": said is not None, "max_ocpd_a": limit, "excess_a": breaker - limit if said is not None else 0}


@answers(*numbered("a", *range(1, 9)))
def small_conductor(given: dict[str, Any], folder: Path) -> dict[str, Any]:
    """Clear at the limit of the table, and one ampere more is a defect that states it."""
    limits = set()
    for mark, metal in METALS[given["material"]]:
        kind = f"{given['awg']}/2{mark}"
        limit = edition_rows("largest breaker for a small conductor", as_of(given))[f"{metal}/{given['awg']}"]
        assert limit_said(one_run(folder, kind, limit, as_of(given))) is None
        said = limit_said(one_run(folder, kind, limit + 1, as_of(given)))
        assert said == limit
        limits.add(said)
    assert len(limits) == 1
    return {"max_ocpd_a": limits.pop()}


def test_copper_clad_14_before_2023_has_no_limit(tmp_path: Path) -> None:
    """a-08, note: before the 2023 edition this size has no branch-circuit rating, so the rule cannot tell."""
    done = one_run(tmp_path, "14/2 CU-CLAD", 10, "2022-12-31")
    assert not findings(done, SIZE)
    assert {one.missing for one in open_facts(done, SIZE)} == {"a table row"}


@answers("a-09")
def standard_sizes(given: dict[str, Any], folder: Path) -> dict[str, Any]:
    return {"standard_ocpd_a": edition_rows("standard ratings", as_of(given))["to 600 A"]}


@answers("a-10")
def ten_amperes(given: dict[str, Any], folder: Path) -> dict[str, Any]:
    assert 10 not in edition_rows("standard ratings", "2022-12-31")["to 600 A"]
    return {"answer": 10 in edition_rows("standard ratings", as_of(given))["to 600 A"]}


def larger_run(folder: Path, given: dict[str, Any], amps: float) -> Survey:
    """A run of the size and column of the entry, to one or two receptacles."""
    metal = " AL" if given["material"] == "Al" else ""
    method = "NM-B" if given["column_c"] == 60 else "EMT"
    wires: dict[str, Any] = {"black": {}, "red": {}, "white": {}}
    if given["column_c"] == 75:
        wires = {name: {"insulation_c": 75} for name in wires}
    outlets = ["R1", "R2"] if given["supplies_more_than_one_portable_load_receptacle"] else ["R1"]
    text = record_text(
        panels=panel({"2/4": amps}),
        boxes={"b": {"kind": "nonmetallic", "volume": 300}},
        cables={
            "W1": {
                "type": f"{given['awg']}/3 {method}{metal}",
                "from": "A 2/4",
                "to": "b",
                "conductors": wires,
                "terminals_c": given["column_c"],
            }
        },
        joints={
            "J1": {"at": "b", "ends": ["W1 black", *(f"{one} hot" for one in outlets)]},
            "J2": {"at": "b", "ends": ["W1 red", *(f"{one} hot_2" for one in outlets)]},
            "J3": {"at": "b", "ends": ["W1 white", *(f"{one} neutral" for one in outlets)]},
        },
        devices={one: {"kind": "single receptacle", "at": "b"} for one in outlets},
    )
    return surveyed(folder, text, "2023-12-31")


@answers(*numbered("a", 11, 12, 13, 14, 15))
def rounded_up(given: dict[str, Any], folder: Path) -> dict[str, Any]:
    """The largest standard breaker that is clear; every larger one is a defect that states it."""
    metal = {"Cu": "copper", "Al": "aluminium"}[given["material"]]
    row = edition_rows("ampacity", "2023-12-31")[f"{metal}/{given['awg']}/{given['column_c']}"]
    sizes = edition_rows("standard ratings", "2023-12-31")["to 600 A"]
    near = [size for size in sizes if row - 21 <= size <= row + 31]
    allowed = [size for size in near if clear(larger_run(folder, given, size), SIZE)]
    for size in near:
        said = sentences(larger_run(folder, given, size), SIZE)
        assert (not said) == (size in allowed)
        assert all(f"the table allows {max(allowed):g} A" in one for one in said)
    assert allowed == [size for size in near if size <= max(allowed)]
    return {"ampacity_a": row, "max_ocpd_a": max(allowed)}


@answers(*numbered("a", 16, 17, 18, 19))
def home_run(given: dict[str, Any], folder: Path) -> dict[str, Any]:
    mark = METALS[given["material"]][0][0]
    kind = f"{given['conductor_awg']}/2 NM-B{mark}"
    limit = limit_said(one_run(folder, kind, 200, "2023-12-31"))
    assert limit is not None
    return verdict(one_run(folder, kind, given["breaker_a"], "2023-12-31"), given["breaker_a"], limit)


@answers("a-20")
def thinner_downstream(given: dict[str, Any], folder: Path) -> dict[str, Any]:
    """The segments of the entry in a row, spliced in boxes; only the thinner one is named."""
    cables: dict[str, Any] = {}
    joints: dict[str, Any] = {}
    boxes: dict[str, Any] = {}
    last = "A 1"
    for number, size in enumerate(given["segments_awg"], start=1):
        boxes[f"b{number}"] = {"kind": "nonmetallic", "volume": 100}
        cables[f"W{number}"] = {"type": f"{size}/2 NM-B", "from": last, "to": f"b{number}"}
        last = f"b{number}"
        if number > 1:
            at = f"b{number - 1}"
            joints[f"J{number}"] = {"at": at, "ends": [f"W{number - 1} black", f"W{number} black"]}
            joints[f"N{number}"] = {"at": at, "ends": [f"W{number - 1} white", f"W{number} white"]}
    cables[f"W{number}"]["to"] = {"at": last, "black": "capped", "white": "capped"}
    text = record_text(panels=panel({"1": given["breaker_a"]}), boxes=boxes, cables=cables, joints=joints)
    done = surveyed(folder, text, "2023-12-31")
    assert [one.at for one in findings(done, SIZE)] == ["conductor W3 black"]
    limit = limit_said(done)
    assert limit is not None
    return verdict(done, given["breaker_a"], limit)


@answers("a-21")
def sheathed_cable(given: dict[str, Any], folder: Path) -> dict[str, Any]:
    done = one_run(folder, f"{given['conductor_awg']}/2 {given['wiring_method']}", given["breaker_a"], "2023-12-31")
    limit = limit_said(done)
    assert limit is not None
    return verdict(done, given["breaker_a"], limit)


def in_conduit(folder: Path, given: dict[str, Any], amps: float, **marks: Any) -> Survey:
    wires = {"black": {"insulation": "THWN-2", "insulation_c": 90}, "white": {}}
    kind = f"{given['conductor_awg']}/2 EMT"
    return one_run(folder, kind, amps, "2023-12-31", conductors=wires, **marks)


@answers("a-22")
def wire_in_conduit(given: dict[str, Any], folder: Path) -> dict[str, Any]:
    marks = {"terminals_c": given["termination_c"]}
    limit = limit_said(in_conduit(folder, given, 200, **marks))
    assert limit is not None
    return verdict(in_conduit(folder, given, given["breaker_a"], **marks), given["breaker_a"], limit)


def test_terminals_decide_for_wire_in_conduit(tmp_path: Path) -> None:
    """a-22 the other way round: 60 °C terminals hold it to 40 A, unread terminals are asked for (110.14(C))."""
    given = ENTRIES["a-22"]["given"]
    assert limit_said(in_conduit(tmp_path, given, 50, terminals_c=60)) == 40
    done = in_conduit(tmp_path, given, 50)
    assert not findings(done, SIZE)
    assert [one.missing for one in open_facts(done, SIZE)] == ["terminals_c"]


def cooled(folder: Path, given: dict[str, Any], **load: Any) -> Survey:
    """The air conditioner of a-23 on a cable of its own."""
    text = record_text(
        panels=panel({"1/3": given["breaker_a"]}),
        cables={"W1": {"type": f"{given['conductor_awg']}/2 NM-B with ground", "from": "A 1/3", "to": "AC1"}},
        devices={
            "AC1": {
                "kind": "air conditioner",
                "where": "north wall",
                "terminals": {"hot": "W1 black", "hot_2": "W1 white", "ground": "W1 bare"},
                **load,
            }
        },
    )
    return surveyed(folder, text, "2023-12-31")


@answers("a-23")
def air_conditioner(given: dict[str, Any], folder: Path) -> dict[str, Any]:
    """Asks for the nameplate, does not accuse; with the nameplate of the entry it is clear."""
    minimum, largest = numbers(given["load"])
    plate = {"nameplate": {"min_circuit_amps": minimum, "max_breaker_amps": largest}}
    assert clear(cooled(folder, given, **plate), SIZE)
    done = cooled(folder, given)
    asked = {one.missing for one in open_facts(done, SIZE)}
    return {"defect": bool(findings(done, SIZE)), "needs_nameplate_check": asked == {"max_breaker_amps"}}


def test_nameplate_is_held_against_breaker_and_wire(tmp_path: Path) -> None:
    """a-23, the deciding facts: a smaller maximum device or a larger minimum ampacity is a defect (440.22, 440.4)."""
    given = ENTRIES["a-23"]["given"]
    less = {"nameplate": {"min_circuit_amps": 14, "max_breaker_amps": 20}}
    more = {"nameplate": {"min_circuit_amps": 18, "max_breaker_amps": 25}}
    assert all("the nameplate of AC1 allows 20 A" in one for one in sentences(cooled(tmp_path, given, **less), SIZE))
    said = sentences(cooled(tmp_path, given, **more), SIZE)
    assert len(said) == 2
    assert all("asks for a conductor of 18 A, this one carries 15 A" in one for one in said)


def lamp(folder: Path, given: dict[str, Any], feet: float, *, amps: float | None = None) -> Survey:
    """A luminaire on its own factory leads, spliced to building wire in a box."""
    text = record_text(
        panels=panel({"1": amps or given["breaker_a"]}),
        boxes={"b": {"kind": "nonmetallic", "volume": 100}},
        cables={
            "W1": {"type": "12/2 NM-B", "from": "A 1", "to": "b"},
            "L1": {"type": f"{given['conductor_awg']}/2", "from": "b", "to": "F1", "length": f"{feet} ft"},
        },
        joints={
            "J1": {"at": "b", "ends": ["W1 black", "L1 black"]},
            "J2": {"at": "b", "ends": ["W1 white", "L1 white"]},
        },
        devices={"F1": {"kind": "luminaire", "where": "hall ceiling", "wired_to": "L1"}},
    )
    return surveyed(folder, text, "2023-12-31")


@answers("a-24")
def luminaire_lead(given: dict[str, Any], folder: Path) -> dict[str, Any]:
    longest = edition_rows("longest luminaire lead", "2023-12-31")[given["conductor_awg"]]
    assert clear(lamp(folder, given, longest), SIZE)
    assert [one.at for one in findings(lamp(folder, given, longest + 1), SIZE)] == ["conductor L1 black"]
    assert [one.at for one in findings(lamp(folder, given, 3, amps=21), SIZE)][:1] == ["conductor L1 black"]
    done = lamp(folder, given, given["length_ft"])
    return {"defect": not clear(done, SIZE), "permitted_run_ft": longest}


# -- d: box fill

CM3 = 16.387064
"""Cubic centimetres in a cubic inch: 2.54 cubed, by the definition of the inch."""

KINDS = {
    "4 x 1-1/4 round or octagonal": "octagonal 4 x 1-1/4",
    "4 x 1-1/2 round or octagonal": "octagonal 4 x 1-1/2",
    "4 x 2-1/8 round or octagonal": "octagonal 4 x 2-1/8",
    "4 x 1-1/2 octagonal": "octagonal 4 x 1-1/2",
    "4 x 2-1/8 octagonal": "octagonal 4 x 2-1/8",
    "4 x 1-1/4 square": "square 4 x 1-1/4",
    "4 x 1-1/2 square": "square 4 x 1-1/2",
    "4 x 2-1/8 square": "square 4 x 2-1/8",
    "4-11/16 x 1-1/4 square": "square 4-11/16 x 1-1/4",
    "4-11/16 x 1-1/2 square": "square 4-11/16 x 1-1/2",
    "4-11/16 x 2-1/8 square": "square 4-11/16 x 2-1/8",
    "3 x 2 x 2 device": "device 3 x 2 x 2",
    "3 x 2 x 2 metal device box": "device 3 x 2 x 2",
    "3 x 2 x 2-1/4 device": "device 3 x 2 x 2-1/4",
    "3 x 2 x 2-1/2 device": "device 3 x 2 x 2-1/2",
    "3 x 2 x 2-1/2 metal device box": "device 3 x 2 x 2-1/2",
    "3 x 2 x 2-3/4 device": "device 3 x 2 x 2-3/4",
    "3 x 2 x 3-1/2 device": "device 3 x 2 x 3-1/2",
    "4 x 2-1/8 x 1-1/2 device (utility)": "utility 4 x 2-1/8 x 1-1/2",
    "4 x 2-1/8 x 1-7/8 device (utility)": "utility 4 x 2-1/8 x 1-7/8",
    "FS minimum depth 1-3/4, single gang": "FS 1-3/4",
}


def filled(
    folder: Path,
    box: dict[str, Any],
    cables: Sequence[str | dict[str, Any]],
    date: str = "2020-12-31",
    *,
    devices: dict[str, Any] | None = None,
    joints: dict[str, Any] | None = None,
) -> Survey:
    """A record with one box b that these cables W1, W2 ... end in."""
    runs: dict[str, Any] = {}
    for number, cable in enumerate(cables, start=1):
        runs[f"W{number}"] = {"type": cable, "to": "b"} if isinstance(cable, str) else cable
    text = record_text(
        boxes={"b": {"clamps": "none", **box}},
        cables=runs,
        devices={tag: {"at": "b", **held} for tag, held in (devices or {}).items()},
        joints={tag: {"at": "b", **held} for tag, held in (joints or {}).items()},
    )
    return surveyed(folder, text, date)


def parts_of(done: Survey) -> tuple[dict[str, float], float]:
    """Volumes by kind of content and in total, in in³, as the finding states them."""
    (said,) = sentences(done, FILL)
    found = re.fullmatch(r"Contents of b need ([0-9.]+) in³ \((.*)\); it has .*", said)
    assert found is not None, said
    parts = dict(part.rsplit(" ", 1) for part in found.group(2).split(", "))
    return {name: float(amount) for name, amount in parts.items()}, float(found.group(1))


TINY = {"kind": "nonmetallic", "volume": 0.01}
"""A box too small for anything, so that the rule states what its contents need."""


@answers(*numbered("d", *range(1, 8)))
@in_every_edition
def conductor_volume(given: dict[str, Any], folder: Path) -> dict[str, Any]:
    """One conductor alone in a box."""
    parts, total = parts_of(filled(folder, TINY, [f"{given['conductor_awg']}/1"], as_of(given)))
    assert parts == {"conductors": total}
    assert total == edition_rows("conductor volume in a box", as_of(given))[given["conductor_awg"]]
    return {"volume_in3": total, "volume_cm3": total * CM3}


@answers(*numbered("d", *range(8, 21), 48, 49, 50, 51))
@in_every_edition
def box_volume(given: dict[str, Any], folder: Path) -> dict[str, Any]:
    """What a box of this kind is said to have when it is overfull."""
    kind = KINDS[given["metal_box"]]
    (said,) = sentences(filled(folder, {"kind": kind}, ["6/4"] * 3, as_of(given)), FILL)
    has = re.search(r"it has ([0-9.]+) in³", said)
    assert has is not None
    assert float(has.group(1)) == edition_rows("least volume of a metal box", as_of(given))[kind]
    return {"min_volume_in3": float(has.group(1))}


@answers("d-21", "d-22", "d-23")
@in_every_edition
def counted_conductor(given: dict[str, Any], folder: Path) -> dict[str, Any]:
    """A conductor of 14 AWG, 2 in³, that ends, passes, or passes with a loop."""
    item = given["item"]
    passes = "looped" if "loop at least" in item else "unbroken" if "unbroken" in item else ""
    cable = {"type": "14/1 EMT", "passes": {"b": passes}} if passes else "14/1 EMT"
    return {"allowances": parts_of(filled(folder, TINY, [cable], as_of(given)))[0]["conductors"] / 2}


def two_spliced(folder: Path, date: str, *members: str) -> float:
    """Volume that two cables and a receptacle need, with these further members in the splices."""
    joints = {
        "J1": {"ends": ["W1 black", "W2 black", *(f"{one} hot" for one in members)], "connector": "twist-on"},
        "J2": {"ends": ["W1 white", "W2 white", *(f"{one} neutral" for one in members)], "connector": "twist-on"},
        "J3": {"ends": ["W1 bare", "W2 bare", *(f"{one} ground" for one in members)], "connector": "twist-on"},
    }
    device = {"R1": {"kind": "duplex receptacle"}}
    kind = "14/2 NM-B with ground"
    return parts_of(filled(folder, TINY, [kind, kind], date, devices=device, joints=joints))[1]


@answers("d-24")
@in_every_edition
def pigtail(given: dict[str, Any], folder: Path) -> dict[str, Any]:
    """A receptacle on pigtails from each splice, against the same box without them. 14 AWG is 2 in³."""
    date = as_of(given)
    return {"allowances": (two_spliced(folder, date, "R1") - two_spliced(folder, date)) / 2}


@answers("d-25")
@in_every_edition
def connector_volume(given: dict[str, Any], folder: Path) -> dict[str, Any]:
    """Splices under twist-on connectors and outside clamps, against the cables alone."""
    kind = "14/2 NM-B with ground"
    joints = {
        f"J{number}": {"ends": [f"W1 {colour}", f"W2 {colour}"], "connector": "twist-on"}
        for number, colour in enumerate(("black", "white", "bare"))
    }
    _, joined = parts_of(filled(folder, {**TINY, "clamps": "outside"}, [kind, kind], as_of(given), joints=joints))
    _, apart = parts_of(filled(folder, TINY, [kind, kind], as_of(given)))
    return {"allowances": (joined - apart) / 2}


@answers("d-26")
@in_every_edition
def clamps(given: dict[str, Any], folder: Path) -> dict[str, Any]:
    """Clamps for one and for three cables, the largest of them 12 AWG, 2.25 in³."""
    amounts = {
        parts_of(filled(folder, {**TINY, "clamps": "internal"}, cables, as_of(given)))[0]["clamps"]
        for cables in (["12/2 NM-B"], ["14/2 NM-B", "12/2 NM-B", "14/2 NM-B"])
    }
    assert len(amounts) == 1
    return {"allowances": amounts.pop() / 2.25, "size_basis": "largest conductor in the box"}


@answers("d-27")
@in_every_edition
def fittings(given: dict[str, Any], folder: Path) -> dict[str, Any]:
    box = {**TINY, "support_fittings": 2}
    parts, _ = parts_of(filled(folder, box, ["14/2 NM-B", "12/2 NM-B"], as_of(given)))
    return {"allowances": parts["support fittings"] / 2.25, "size_basis": "largest conductor in the box"}


def on_receptacle(folder: Path, date: str, kind: str, **held: Any) -> float:
    """Volume that a device of this kind on 14 AWG needs in a box that also holds 12 AWG."""
    device = {"R1": {"kind": kind, "wired_to": "W1", **held}}
    return parts_of(filled(folder, TINY, ["14/2 NM-B", "12/2 NM-B"], date, devices=device))[0]["devices"]


@answers("d-28")
@in_every_edition
def one_yoke(given: dict[str, Any], folder: Path) -> dict[str, Any]:
    amount = on_receptacle(folder, as_of(given), "duplex receptacle")
    return {"allowances": amount / 2, "size_basis": "largest conductor connected to that device"}


@answers("d-29")
@in_every_edition
def wide_device(given: dict[str, Any], folder: Path) -> dict[str, Any]:
    amounts = [on_receptacle(folder, as_of(given), "range receptacle", gangs=gangs) for gangs in (1, 2, 3)]
    steps = {(two - one) / 2 for one, two in pairwise(amounts)}
    assert len(steps) == 1
    return {"allowances_per_gang": steps.pop()}


def grounds_part(folder: Path, cables: Sequence[str | dict[str, Any]], date: str) -> float:
    return parts_of(filled(folder, TINY, cables, date))[0]["grounds"]


@answers("d-30")
def few_grounds(given: dict[str, Any], folder: Path) -> dict[str, Any]:
    """One to four grounds of 14 AWG count 2 in³ together; one of 12 AWG among them makes it 2.25 in³."""
    kind = "14/1 NM-B with ground"
    amounts = {grounds_part(folder, [kind] * count, as_of(given)) for count in (1, 2, 3, 4)}
    assert len(amounts) == 1
    assert grounds_part(folder, [kind, kind, "12/1 NM-B with ground"], as_of(given)) == 2.25
    return {"allowances": amounts.pop() / 2, "size_basis": "largest ground in the box"}


@answers("d-31", "d-32")
def five_grounds(given: dict[str, Any], folder: Path) -> dict[str, Any]:
    return {"allowances": grounds_part(folder, ["14/1 NM-B with ground"] * 5, as_of(given)) / 2}


LEADS: dict[str, Any] = {
    "type": "18/4",
    "conductors": {"green": {"gauge": 18}},
    "from": "b",
    "to": {"not_seen": "into the luminaire"},
}


@answers("d-33")
@in_every_edition
def canopy(given: dict[str, Any], folder: Path) -> dict[str, Any]:
    """Four leads and their ground under a canopy, against the same box without leads; 18 AWG is 1.5 in³."""
    supply = "14/2 NM-B with ground"
    date = as_of(given)
    _, without = parts_of(filled(folder, TINY, [supply], date))
    _, under = parts_of(filled(folder, {**TINY, "canopy_wires": 4}, [supply, LEADS], date))
    bare, _ = parts_of(filled(folder, TINY, [supply, LEADS], date))
    assert bare["conductors"] == 4 + 4 * 1.5
    more: dict[str, Any] = {"type": "18/1", "from": "b", "to": {"not_seen": "into the luminaire"}}
    five, _ = parts_of(filled(folder, {**TINY, "canopy_wires": 5}, [supply, LEADS, more], date))
    assert five["conductors"] == 4 + 1.5, "not over four are left out"
    return {"allowances": (under - without) / 1.5}


@answers("d-34")
def marked_ring(given: dict[str, Any], folder: Path) -> dict[str, Any]:
    """Six conductors of 14 AWG need 12 in³; a box of 8 in³ holds them with a ring marked 4 in³, and not with 3.99."""
    box = {"kind": "nonmetallic", "volume": 8}
    cables = ["14/3 EMT", "14/3 EMT"]
    assert sentences(filled(folder, box, cables), FILL)
    assert sentences(filled(folder, {**box, "added_volume": 3.99}, cables), FILL)
    return {"adds_to_box_volume": clear(filled(folder, {**box, "added_volume": 4}, cables), FILL)}


@answers("d-35")
def many_grounds(given: dict[str, Any], folder: Path) -> dict[str, Any]:
    cables = [f"{size}/1 NM-B with ground" for size, count in given["grounds"].items() for _ in range(count)]
    amount = grounds_part(folder, cables, as_of(given))
    return {"allowances": amount / 2.25, "volume_in3": amount}


@answers("d-36", "d-37")
def equal_conductors(given: dict[str, Any], folder: Path) -> dict[str, Any]:
    """The largest number of equal conductors that is clear; one more is a defect."""
    size, kind = given["only_conductors_awg"], KINDS[given["metal_box"]]
    fits = [clear(filled(folder, {"kind": kind}, [f"{size}/1 EMT"] * count), FILL) for count in range(1, 14)]
    assert fits == sorted(fits, reverse=True)
    return {"max_conductors": sum(fits)}


TWO_12, TWO_14, THREE_14 = "12/2 NM-B with ground", "14/2 NM-B with ground", "14/3 NM-B with ground"
PAIR: dict[str, Any] = {"type": "18/2", "from": "b", "to": {"not_seen": "into the luminaire"}}
WHOLE: dict[str, dict[str, Any]] = {
    "d-38": {"cables": [TWO_12, TWO_12], "devices": {"R1": {"kind": "duplex receptacle", "wired_to": ["W1", "W2"]}}},
    "d-39": {
        "cables": [TWO_14, TWO_14],
        "devices": {"S1": {"kind": "switch", "terminals": {"line": "W1 black", "load": "W2 black"}}},
    },
    "d-40": {
        "cables": [TWO_12, TWO_12, THREE_14, THREE_14],
        "devices": {
            "S1": {"kind": "switch", "terminals": {"line": "W3 black", "load": "W3 red", "ground": "W3 bare"}},
            "R1": {"kind": "duplex receptacle", "wired_to": "W1"},
        },
    },
    "d-41": {"box": {"canopy_wires": 2}, "cables": [TWO_14, TWO_14, TWO_14, PAIR]},
    "d-42": {
        "box": {"canopy_wires": 0},
        "cables": [TWO_12, TWO_12, PAIR],
        "joints": {"J1": {"ends": ["W1 bare", "W2 bare", "box"]}},
    },
    "d-43": {
        "cables": [THREE_14, THREE_14, TWO_14, TWO_14],
        "devices": {
            "S1": {
                "kind": "three-way switch",
                "terminals": {"common": "W3 black", "traveller_1": "W1 black", "traveller_2": "W1 red"},
            },
            "S2": {
                "kind": "three-way switch",
                "terminals": {"common": "W4 black", "traveller_1": "W2 black", "traveller_2": "W2 red"},
            },
        },
    },
    "d-44": {"cables": [TWO_12] * 6},
    "d-45": {"cables": [TWO_12] * 6},
    "d-46": {
        "cables": ["14/2 EMT with ground", "14/2 EMT", {"type": "14/2 EMT", "passes": {"b": "looped"}}],
        "devices": {"S1": {"kind": "switch", "terminals": {"line": "W1 black", "load": "W2 black"}}},
    },
    "d-47": {
        "cables": ["14/2 NM", "14/2 NM"],
        "devices": {"S1": {"kind": "switch", "terminals": {"line": "W1 black", "load": "W2 black"}}},
    },
}
"""The boxes of the worked examples, as cables and devices."""


def whole_box(name: str, given: dict[str, Any], folder: Path, box: dict[str, Any]) -> Survey:
    made = WHOLE[name]
    held = {
        **box,
        "clamps": "internal" if given["internal_clamps"] else "outside",
        "support_fittings": given["support_fitting_types"],
        **made.get("box", {}),
    }
    date = as_of(given)
    return filled(folder, held, made["cables"], date, devices=made.get("devices"), joints=made.get("joints"))


@answers(*WHOLE)
def worked_box(given: dict[str, Any], folder: Path) -> dict[str, Any]:
    """The parts and the total as stated; the total pinned from both sides; the boxes of the example clear or not."""
    name = next(one for one in WHOLE if ENTRIES[one]["given"] is given)
    parts, total = parts_of(whole_box(name, given, folder, TINY))
    assert total == pytest.approx(sum(parts.values()))
    assert clear(whole_box(name, given, folder, {"kind": "nonmetallic", "volume": total}), FILL)
    short = whole_box(name, given, folder, {"kind": "nonmetallic", "volume": round(total - 0.01, 4)})
    assert len(sentences(short, FILL)) == 1
    volume = given["box_volume_in3"]
    own = {"kind": KINDS[given["box"]]} if given["box"] in KINDS else {"kind": "nonmetallic", "volume": volume}
    got = {
        "parts_in3": {part.replace(" ", "_"): amount for part, amount in parts.items()},
        "total_in3": total,
        "pass": clear(whole_box(name, given, folder, own), FILL),
        "spare_in3": volume - total,
    }
    others = ENTRIES[name]["expect"].get("same_contents_in")
    if others:
        got["same_contents_in"] = {
            other: clear(whole_box(name, given, folder, {"kind": KINDS[other]}), FILL) for other in others
        }
    return got


REMEMBERED: dict[str, dict[str, Any]] = {
    "least volume of a metal box": {
        "device 3 x 2 x 1-1/2": 7.5,
        "utility 4 x 2-1/8 x 2-1/8": 14.5,
        "masonry 3-3/4 x 2 x 2-1/2": 14.0,
        "masonry 3-3/4 x 2 x 3-1/2": 21.0,
        "FD 2-3/8": 18.0,
    },
    "longest luminaire lead": {"18": 50, "16": 100},
    "largest breaker ahead of a luminaire lead": {"18": 20, "16": 20},
    "standard ratings": {"over 600 A": [700, 800, 1000, 1200, 1600, 2000, 2500, 3000, 4000, 5000, 6000]},
}
"""Rows of NFPA 70 (NEC) Table 314.16(A), 240.5(B)(2) and 240.6(A) that no entry above holds; all from memory."""


@pytest.mark.parametrize("table", sorted(REMEMBERED))
def test_remembered_rows(table: str) -> None:
    """The rows entered from memory are the ones written here, in every edition, and the table says from memory."""
    for date in ("2000-12-31", "2023-12-31"):
        edition = TableSet(collect().tables, date).edition(table)
        assert edition is not None
        for row, figure in REMEMBERED[table].items():
            assert edition.rows[row] == figure
            assert row in edition.from_memory or edition.basis == "from memory"


# -- g: identification


def wired(folder: Path, from_panel: dict[str, Any], wires: dict[str, Any], **cable: Any) -> Survey:
    """A run of single wires from panel A to a capped end, each as given."""
    text = record_text(
        panels=panel({"1": 15}),
        boxes={"b": {"kind": "nonmetallic", "volume": 300}},
        cables={
            "W1": {
                "conductors": wires,
                "from": {"at": "A", **from_panel},
                "to": {"at": "b", **dict.fromkeys(wires, "capped")},
                **cable,
            }
        },
    )
    return surveyed(folder, text)


@answers("g-01", "g-02", "g-09")
def taped(given: dict[str, Any], folder: Path) -> dict[str, Any]:
    """A black wire with tape of another colour at its ends, on the bar it is said to serve."""
    colour, tape = re.fullmatch(r"([a-z]+), ([a-z]+) tape at ends", given["insulation"]).groups()  # type: ignore[union-attr]
    bar, rule = ("ground bar", "grounding-not-green") if "ground" in given["role"].split() else (
        "neutral bar", "grounded-not-white"
    )  # fmt: skip
    wires = {"black": {}, "black 2": {"colour": colour, "marked": tape}}
    done = wired(folder, {"black": "breaker 1", "black 2": bar}, wires, gauge=given["awg"], metal="copper")
    found = findings(done, rule)
    assert {one.at for one in found} <= {"conductor W1 black 2"}
    assert found or done.results.counts[rule]["clear"] == 1
    return {"defect": bool(found)}


def switch_loop(folder: Path, supply: str, back: str, marked: str, **cable: Any) -> Survey:
    """A lamp switched through a cable of black and white, with the supply on one of them."""
    text = record_text(
        panels=panel({"1": 15}),
        boxes={name: {"kind": "nonmetallic", "volume": 100} for name in ("lamp", "wall")},
        cables={
            "W1": {"type": "14/2 NM-B with ground", "from": "A 1", "to": "lamp"},
            "W5": {
                "type": "14/2 NM-B with ground",
                "from": "lamp",
                "to": "wall",
                "conductors": {"white": {"marked": marked}},
                **cable,
            },
        },
        joints={
            "J1": {"at": "lamp", "ends": ["W1 black", f"W5 {supply}"]},
            "J2": {"at": "lamp", "ends": [f"W5 {back}", "F1 hot"]},
            "J3": {"at": "lamp", "ends": ["W1 white", "F1 neutral"]},
            "J4": {"at": "lamp", "ends": ["W1 bare", "W5 bare", "F1 ground"]},
        },
        devices={
            "F1": {"kind": "luminaire", "at": "lamp"},
            "S1": {
                "kind": "switch",
                "at": "wall",
                "terminals": {"line": f"W5 {supply}", "load": f"W5 {back}", "ground": "W5 bare"},
            },
        },
    )
    return surveyed(folder, text)


@answers("g-03", "g-04", "g-05", "g-06")
def white_in_switch_loop(given: dict[str, Any], folder: Path) -> dict[str, Any]:
    supply, back = ("black", "white") if "return" in given["role"] else ("white", "black")
    year = {"installed": given["built"]} if "built" in given else {}
    done = switch_loop(folder, supply, back, "black" if given["reidentified"] else "none", **year)
    found = findings(done, WHITE)
    if given.get("built", 1999) >= 1999:
        return {"defect": bool(found)}
    assert found == []
    (one,) = findings(done, "white-in-old-switch-loop")
    assert numbers(one.statement)[-2:] == [given["built"], 1999]
    accuses = re.search(r"violat|unlawful|not allowed|must", one.statement) is not None
    return {"assert_violation_at_install": accuses, "caution_required": one.rule.caution.startswith("Warning: ")}


@answers("g-07")
def white_by_what_it_does(given: dict[str, Any], folder: Path) -> dict[str, Any]:
    """One cable at a switch, not traced; the white was measured live with the switch open."""
    text = record_text(
        boxes={"wall": {"kind": "nonmetallic", "volume": 18}},
        cables={
            "W5": {
                "type": "14/2 NM-B with ground",
                "from": {"not_seen": "goes up inside the wall"},
                "to": "wall",
                "conductors": {"white": {"marked": "none"}},
            }
        },
        devices={
            "S1": {
                "kind": "switch",
                "at": "wall",
                "position": "off",
                "terminals": {"line": "W5 white", "load": "W5 black", "ground": "W5 bare"},
            }
        },
        readings=[
            {
                "kind": "voltage",
                "between": ["W5 white", "earth"],
                "value": f"{given['white_voltage_to_ground_v']} V",
                "instrument": "M",
            }
        ],
        instruments={"M": {"type": "multimeter"}},
    )
    done = surveyed(folder, text)
    (one,) = findings(done, WHITE)
    assert one.certainty == "likely"
    assert one.statement.startswith("W5 white works as an ungrounded conductor")
    said = [finding.statement for finding in done.results.findings if "W5 white" in finding.statement]
    claimed = any(re.search(r"neutral|works as a grounded", sentence) for sentence in said)
    return {"white_role": "ungrounded supply", "must_not_claim": "" if claimed else "neutral"}


@answers("g-08")
def green_hot(given: dict[str, Any], folder: Path) -> dict[str, Any]:
    wires: dict[str, Any] = {given["insulation"]: {}, "white": {}}
    done = wired(folder, {"green": "breaker 1", "white": "neutral bar"}, wires, gauge=given["awg"], metal="copper")
    found = findings(done, "ground-colour-carries-current")
    return {"defect": [one.at for one in found] == ["conductor W1 green"]}


@answers("g-10")
def bare_neutral(given: dict[str, Any], folder: Path) -> dict[str, Any]:
    text = record_text(
        panels=panel({"1": 15}),
        boxes={"b": {"kind": "nonmetallic", "volume": 18}},
        cables={
            "W1": {
                "type": f"{given['awg']}/2 NM-B with ground",
                "from": {"at": "A", "black": "breaker 1", "white": "capped", "bare": "neutral bar"},
                "to": {"at": "b", "white": "capped"},
            }
        },
        devices={"F1": {"kind": "lampholder", "at": "b", "terminals": {"hot": "W1 black", "neutral": "W1 bare"}}},
    )
    found = findings(surveyed(folder, text), "ground-colour-carries-current")
    return {"defect": [one.at for one in found] == ["conductor W1 bare"]}


def jacketed(folder: Path, given: dict[str, Any], amps: float) -> Survey:
    """A cable known by the colour of its jacket only."""
    wires: dict[str, Any] = {"black": {}, "white": {}}
    text = record_text(
        panels=panel({"1": amps}),
        boxes={"b": {"kind": "nonmetallic", "volume": 300}},
        cables={
            "W1": {
                "jacket": given["nm_jacket"],
                "installed": given["installed"],
                "method": "NM-B",
                "metal": "copper",
                "conductors": wires,
                "from": "A 1",
                "to": {"at": "b", "black": "capped"},
            }
        },
    )
    return surveyed(folder, text)


@answers("g-11", "g-12")
def size_by_jacket(given: dict[str, Any], folder: Path) -> dict[str, Any]:
    """Read as the size that its colour suggests, and the finding is never more than likely."""
    (one,) = findings(jacketed(folder, given, 25), SIZE)
    (gauge,) = [fact for fact in one.evidence if fact.fact == "gauge"]
    weak = one.certainty == "likely" and gauge.how == "jacket colour"
    return {"inferred_awg": gauge.value, "evidence_level": "inferred" if weak else "observed"}


@answers("g-13")
def two_sizes_by_jacket(given: dict[str, Any], folder: Path) -> dict[str, Any]:
    """50 A is too much for 8 AWG and not for 6 AWG, so the finding is possible and asks which of the two it is."""
    (one,) = findings(jacketed(folder, given, 50), SIZE)
    (asked,) = [fact for fact in one.settle if fact.fact == "gauge"]
    assert asked.defect_if == ("8",)
    return {"inferred_awg": list(asked.can_be), "evidence_level": "inferred" if one.certainty == "possible" else ""}


@answers("g-14")
def old_jacket(given: dict[str, Any], folder: Path) -> dict[str, Any]:
    """Nothing is taken from the colour: the size is asked for."""
    done = jacketed(folder, given, 25)
    assert not findings(done, SIZE)
    assert {one.missing for one in open_facts(done, SIZE)} == {"gauge"}
    return {"inferred_awg": None}


@answers("g-15")
def neutral_at_switch(given: dict[str, Any], folder: Path) -> dict[str, Any]:
    """Found missing in a loop of 2011, and not in one of 2010."""
    rule = "switch-box-without-neutral"
    assert not findings(switch_loop(folder, "white", "black", "black", installed=2010), rule)
    done = switch_loop(folder, "white", "black", "black", installed=2011)
    return {"neutral_expected_in_box": len(findings(done, rule)) == 1}
