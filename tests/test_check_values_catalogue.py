"""The rule catalogue against published figures, entry by entry of `fixtures/check_values_catalogue.yaml`.

Each entry names its source there. Like `test_check_values.py`, which holds the other topics: what a rule
can answer is asked of a whole record, what only a table holds is read from the table as a run reads it.
What the project holds nothing for is listed with the reason.
"""

from __future__ import annotations

import importlib
import math
import re
from collections.abc import Callable, Iterable
from functools import partial
from pathlib import Path
from typing import Any

import pytest
import yaml

from asfound.authoring import area_mm2
from asfound.data import data
from asfound.judge.results import Finding, risk_of
from asfound.judge.rules import Rule
from asfound.judge.tables import Tables, TableSet
from asfound.judge.views import Gap, Run
from asfound.plugins import collect
from asfound.survey import Survey
from asfound_rules.neutral.opened import shared_volts
from records import TODAY, clear, findings, open_facts, panel, record_text, sentences, surveyed
from test_check_values import as_of, edition_rows, numbered, one_run

ENTRIES: dict[str, dict[str, Any]] = {
    entry["id"]: entry
    for entry in yaml.safe_load(
        (Path(__file__).parents[1] / "fixtures" / "check_values_catalogue.yaml").read_text(encoding="utf-8")
    )
}

METRIC = "the tables hold the metric sizes of no country; rules are for North American practice"
MEANINGS = "names and order are held, their meanings are not"
TIMES = "times to correct are not held; the grades beside it are checked in {}"
SHOCK = "no table or rule holds effects of current on people or trip times"

NOT_RUN: dict[str, str] = {
    "e-26": "the rule goes by resistance, not by the formula with circular mils",
    "e-28": "the heat of one splice is told in the notes of a rule in whole watts, not worked out",
    **dict.fromkeys(numbered("e", *range(30, 36), 41, 42, 43), METRIC),
    "f-26": "no table dates the grounding type; three slots are judged by the ground behind them",
    "k-02": "no supply over 600 V can be recorded",
    **dict.fromkeys(["k-08", "k-09"], "no rule asks whether work may be done live"),
    **dict.fromkeys(["k-11", "k-12"], "duties of employers at the work itself; no rule checks them"),
    **dict.fromkeys(["l-01", "l-06", "l-07", "l-11"], "a figure of the publication about houses in general"),
    **dict.fromkeys(numbered("m", 1, 2, 3, 4), f"{MEANINGS}: test_severities_are_those_of_the_standard"),
    "m-05": f"{MEANINGS}: test_likelihoods_are_those_of_the_standard",
    "m-06": "quantities behind the likelihood words are not held",
    "m-08": "there is no level for an eliminated hazard, so nothing can be moved to it",
    **dict.fromkeys(numbered("m", 11, 12, 13, 14), f"{MEANINGS}: test_signal_words_are_those_of_the_standard"),
    **dict.fromkeys(numbered("m", *range(16, 28)), TIMES.format("test_grades_keep_the_order_of_nspire")),
    "m-28": "a property and no figure: test_grades_keep_the_order_of_nspire",
    **dict.fromkeys(numbered("n", *range(1, 34)), METRIC),
    **dict.fromkeys(numbered("o", *range(1, 19)), SHOCK),
}
"""Entries that no rule or table answers, with the reason."""

CIRCUIT = [*numbered("e", *range(10, 15), 22, 29), *numbered("i", 1, 2, *range(5, 11), 18), *numbered("j", 18, 19, 20)]
HELD_IN: dict[str, str] = {
    **dict.fromkeys([*CIRCUIT, "k-16"], "test_circuit"),
    **dict.fromkeys([*numbered("j", *range(1, 18)), "i-19"], "test_diagnose"),
}
"""Entries that another test holds, by solving the circuit; it lists them as `COMPUTED`."""

INCHES = "the tables hold inches, the unit of the published text that is read first"
REMARK = "no rule speaks of such wiring where it is sound"
NOT_HELD: dict[str, dict[str, str]] = {
    **{one: {"required_a": "test_dwelling_service_agrees_with_83_percent"} for one in ("b-54", "b-55")},
    "e-07": {"table_cmil": "areas come from the formula; there is no table of circular mils"},
    "f-10": {"min_tap_awg": "tap conductors follow rules of their own and are not judged"},
    "h-01": {"m": INCHES},
    "h-02": {"mm": INCHES},
    "h-03": {"mm": INCHES},
    "h-06": dict.fromkeys(
        ["min_outside_opening_in", "applies_outside_rule_when_opening_under_in"],
        "how far conductors reach out of the opening is not recorded",
    ),
    "h-08": {"limit_mm": INCHES},
    "h-10": dict.fromkeys(["min_plate_in", "min_plate_mm"], "a plate is recorded without its thickness"),
    **{
        one: dict.fromkeys(
            ["r1_ohm", "r2_ohm", "current_a", "p1_w", "p2_w"], "the rule gives voltages; test_circuit the rest"
        )
        for one in ("i-15", "i-16", "i-17")
    },
    "k-01": {"by": "who is qualified is left to local code and licensed practice"},
    "l-13": {"caution_required": REMARK},
    "l-14": dict.fromkeys(["conductor_to_surface_in", "tube_beyond_wood_in"], "neither is recorded"),
    "l-15": {"main": "only the last years are held"},
    "l-19": {"caution_required": REMARK},
    "m-07": {"F": "there is no level for an eliminated hazard"},
}
"""Parts of an expected answer that nothing holds, with the reason or the test that stands for them."""

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


def assert_close(got: Any, expected: Any, tolerance: Any, where: str) -> None:
    """Compare by the entry's tolerance, through lists and mappings."""
    if isinstance(expected, dict):
        assert set(got) == set(expected), where
        for key in expected:
            assert_close(got[key], expected[key], tolerance, f"{where}, {key}")
    elif isinstance(expected, list):
        assert len(got) == len(expected), f"{where}: {got}, published {expected}"
        for one, other in zip(got, expected, strict=True):
            assert_close(one, other, tolerance, where)
    elif isinstance(tolerance, dict) and "any_of" in tolerance:
        assert got in tolerance["any_of"], f"{where}: {got!r}, published {tolerance['any_of']}"
    elif isinstance(expected, float | int) and not isinstance(expected, bool) and tolerance != "exact":
        within = tolerance["abs"] if "abs" in tolerance else tolerance["rel"] * abs(expected)
        assert abs(got - expected) <= within + 1e-9, f"{where}: {got}, published {expected}"
    else:
        assert got == expected, f"{where}: {got!r}, published {expected!r}"


@pytest.mark.parametrize("one", [pytest.param(one, id=one) for one in ENTRIES if one not in {*NOT_RUN, *HELD_IN}])
def test_published_figure(one: str, tmp_path: Path) -> None:
    """The rule or table gives the published figure within its tolerance."""
    entry = ENTRIES[one]
    expected = {key: value for key, value in entry["expect"].items() if key not in NOT_HELD.get(one, {})}
    got = ANSWERS[one](entry["given"], tmp_path)
    assert_close(got, expected, entry["tolerance"], f"{one} ({entry['source']}, {entry['basis']})")


def test_every_entry_is_answered_or_listed() -> None:
    """No entry and no part of one is left out silently, and each entry has its source and basis."""
    assert sorted([*ANSWERS, *NOT_RUN, *HELD_IN]) == sorted(ENTRIES)
    for one, module in HELD_IN.items():
        assert one in importlib.import_module(module).COMPUTED
    for one, parts in NOT_HELD.items():
        assert one in ANSWERS
        assert set(parts) < set(ENTRIES[one]["expect"]), f"{one}: nothing of it is held"
    for reason in [*NOT_RUN.values(), *(reason for parts in NOT_HELD.values() for reason in parts.values())]:
        named = re.search(r"test_[a-z_0-9]+", reason)
        assert named is None or named.group() in globals() or importlib.import_module(named.group()), reason
    for one, entry in ENTRIES.items():
        assert entry["source"], one
        assert entry["basis"] in ("seen in text", "from memory", "common practice"), one


def test_a_wrong_figure_is_noticed() -> None:
    """The comparison used here fails on a figure outside its tolerance."""
    assert_close({"a": [1, "x"], "b": 2.01}, {"a": [1, "x"], "b": 2.0}, {"abs": 0.01}, "")
    assert_close({"b": 2.01}, {"b": 2.0}, {"rel": 0.005}, "")
    assert_close({"b": 1973}, {"b": 1971}, {"any_of": [1971, 1973]}, "")
    wrong: list[tuple[Any, Any, Any]] = [
        ({"b": 2.02}, {"b": 2.0}, {"abs": 0.01}),
        ({"b": 2.02}, {"b": 2.0}, {"rel": 0.005}),
        ({"b": 1972}, {"b": 1971}, {"any_of": [1971, 1973]}),
        ({"b": 3}, {"b": 2}, "exact"),
        ({"b": [1, 2]}, {"b": [1]}, "exact"),
        ({"b": None}, {"b": True}, "exact"),
        ({}, {"b": 2}, "exact"),
    ]
    for got, expected, tolerance in wrong:
        with pytest.raises(AssertionError):
            assert_close(got, expected, tolerance, "")


# -- records and readings of sentences shared by the topics

METALS = {"Cu": {"": "copper"}, "Al": {" AL": "aluminium"}}
METALS["Al or copper-clad Al"] = {**METALS["Al"], " CU-CLAD": "copper-clad aluminium"}


def tables_on(date: str) -> Tables:
    """The tables as a rule reads them on a date."""
    return Tables(TableSet(collect().tables, date), Run({}))


def wire_sizes() -> list[str]:
    """Building wire from small to large, as the tables name it."""
    return [str(size) for size in edition_rows("wire sizes", TODAY)["building wire"]]


def said(done: Survey, rule: str, words: str, at: str = "") -> Any:
    """The groups of a pattern in the one sentence of a rule (at one item): one group alone, or several as a tuple."""
    (sentence,) = [one.statement for one in findings(done, rule) if at in ("", one.at)]
    found = re.search(words, sentence)
    assert found is not None, sentence
    return found.group(1) if len(found.groups()) == 1 else found.groups()


def boxed(
    folder: Path, date: str = TODAY, *, cable: dict[str, Any], box: dict[str, Any] | None = None, **more: Any
) -> Survey:
    """Cable W1 from breaker A 1 of 15 A into box b; its live conductor is capped when nothing else is in the box."""
    held = {"devices", "joints"} & set(more)
    sections = {
        "panels": panel({"1": {"amps": 15, "protection": "none"}}),
        "boxes": {"b": {"kind": "nonmetallic", "volume": 300, "clamps": "none", **(box or {})}},
        "cables": {
            "W1": {"type": "14/2 NM-B", "from": "A 1", "to": "b" if held else {"at": "b", "black": "capped"}, **cable}
        },
        **more,
    }
    return surveyed(folder, record_text(**sections), date)


BETWEEN_LEGS = {"hot": "W1 black", "hot_2": "W1 white"}


def hard_wired(
    folder: Path, date: str, breaker: Any, cable: dict[str, Any], load: dict[str, Any], **more: Any
) -> Survey:
    """A load without a box on a cable of its own, between two legs unless its terminals are given."""
    text = record_text(
        panels=panel({"1/3": breaker}),
        cables={"W1": {"from": "A 1/3", "to": "H1", **cable}},
        devices={"H1": {"kind": "heater", "where": "wall", "terminals": BETWEEN_LEGS, **load}},
        **more,
    )
    return surveyed(folder, text, date)


def carried(folder: Path, date: str, cable: dict[str, Any], **more: Any) -> tuple[float, Finding]:
    """Amperes that the conductors of a cable carry, as said to a nameplate that asks for more than any."""
    asks = {"nameplate": {"min_circuit_amps": 6000}}
    done = hard_wired(folder, date, 15, cable, asks, **more)
    (found,) = findings(done, "conductor-below-nameplate")
    return float(said(done, "conductor-below-nameplate", r"carries ([0-9.]+) A")), found


def in_raceway(size: str, insulation: int, terminals: int, mark: str = "", **more: Any) -> dict[str, Any]:
    wires = {name: {"insulation_c": insulation} for name in ("black", "white")}
    return {"type": f"{size}/2 EMT{mark}", "conductors": wires, "terminals_c": terminals, **more}


def read_rows(found: Finding, table: str) -> dict[str, Any]:
    """Rows of a table that a finding rests on."""
    return {row.key: row.value for row in found.rows if row.table == table}


# -- b: ampacity


@answers(*numbered("b", *range(1, 22), *range(56, 65)))
def ampacity_row(given: dict[str, Any], folder: Path) -> dict[str, Any]:
    """Sheathed cable carries the 60 °C figure and wire with 75 °C marks the next; 90 °C is read from the table."""
    date, size = as_of(given), given["size"]
    got = []
    for mark in METALS[given["material"]]:
        metal = "copper" if not mark else "aluminium"
        got.append(
            {
                "a60": carried(folder, date, {"type": f"{size}/2 NM-B{mark}"})[0],
                "a75": carried(folder, date, in_raceway(size, 75, 75, mark))[0],
                "a90": edition_rows("ampacity", date)[f"{metal}/{size}/90"],
            }
        )
    assert all(one == got[0] for one in got)
    return got[0]


@answers("b-22", "b-23")
def fixture_wire(given: dict[str, Any], folder: Path) -> dict[str, Any]:
    """The 90 °C column only; the others have no row, so a rule cannot tell."""
    rows = edition_rows("ampacity", as_of(given))
    assert not [key for key in rows if key in (f"copper/{given['size']}/60", f"copper/{given['size']}/75")]
    return {"a90": rows[f"copper/{given['size']}/{given['column_c']}"]}


@answers(*numbered("b", 24, 25, 26, 65, 66))
def older_ampacity(given: dict[str, Any], folder: Path) -> dict[str, Any]:
    (metal,) = METALS[given["material"]].values()
    column = given["column_c"]
    figure = edition_rows("ampacity", as_of(given))[f"{metal}/{given['size']}/{column}"]
    if column == 60:
        (mark,) = METALS[given["material"]]
        assert carried(folder, as_of(given), {"type": f"{given['size']}/2 NM-B{mark}"})[0] == figure
    return {f"a{column}": figure}


def ambient_factor(degrees: float, insulation: int) -> float | None:
    try:
        return float(tables_on(TODAY).at_least("ambient factor", degrees, insulation))
    except Gap:
        return None


@answers(*numbered("b", *range(27, 38), 67, 68, 69))
def ambient_band(given: dict[str, Any], folder: Path) -> dict[str, Any]:
    """Both ends of the band give one factor; above the base band the rule uses it, or cannot tell without one."""
    ends = [float(one) for one in re.findall(r"[0-9]+", given["ambient_band_c"])]
    if "or less" in given["ambient_band_c"]:
        ends.append(-10)
    got = {}
    for insulation in (60, 75, 90):
        factor, *others = (ambient_factor(end, insulation) for end in ends)
        assert others == [factor]
        got[f"factor_{insulation}"] = factor
        if min(ends) <= 30:
            continue
        cable = in_raceway("8", insulation, 60, ambient_c=ends[1])
        if factor is None:
            done = hard_wired(folder, TODAY, 15, cable, {"nameplate": {"min_circuit_amps": 6000}})
            assert not findings(done, "conductor-below-nameplate")
            assert {one.missing for one in open_facts(done, "conductor-below-nameplate")} == {"a table row"}
        else:
            assert list(read_rows(carried(folder, TODAY, cable)[1], "ambient factor").values()) == [factor]
    return got


@answers("b-38")
def fahrenheit(given: dict[str, Any], folder: Path) -> dict[str, Any]:
    return {"factor": ambient_factor((given["ambient_f"] - 32) / 1.8, given["insulation_c"])}


@answers(*numbered("b", 39, 40, 41, 42))
def bundling(given: dict[str, Any], folder: Path) -> dict[str, Any]:
    return {"adjustment": tables_on(as_of(given)).at_least("bundling factor", given["current_carrying_conductors"])}


@answers("b-43", "b-44")
def counted(given: dict[str, Any], folder: Path) -> dict[str, Any]:
    """Conductors of one three-wire cable that the rule counts, told from its factor for bundles of 2 to 10 cables."""
    supply = "208Y/120" if "208Y" in given["system"] else "120/240 split phase"
    ground = " with ground" if "equipment ground" in given["conductors"] else ""
    rows = edition_rows("bundling factor", TODAY)
    used = {}
    for cables in range(2, 11):
        done = boxed(
            folder,
            panels=panel({"1": 200, "3": 200}),
            supply=supply,
            cable={
                "type": f"8/3 NM-B{ground}",
                "from": {"at": "A", "black": "breaker 1", "red": "breaker 3", "white": "neutral bar"},
                "bundled": cables,
            },
            joints={
                "J1": {"at": "b", "ends": ["W1 black", "F1 hot"]},
                "J2": {"at": "b", "ends": ["W1 red", "F2 hot"]},
                "J3": {"at": "b", "ends": ["W1 white", "F1 neutral", "F2 neutral"]},
            },
            devices={one: {"kind": "luminaire", "at": "b"} for one in ("F1", "F2")},
        )
        found = next(one for one in findings(done, "conductor-too-small") if one.at == "conductor W1 black")
        (used[cables],) = (float(key) for key in read_rows(found, "bundling factor"))
    steps = sorted(map(float, rows))
    fitting = [
        count
        for count in range(1, 6)
        if all(next(step for step in steps if step >= count * cables) == band for cables, band in used.items())
    ]
    assert len(fitting) == 1, used
    return {"counted_as_current_carrying": fitting[0]}


def in_bundle(given: dict[str, Any]) -> dict[str, Any]:
    """The cable or the raceway of wires of the entry, in its bundle and heat."""
    cable: dict[str, Any]
    if "cable" in given:
        cable = {"type": f"{given['cable']} with ground"}
        bundle = given.get("bundled_cables", 1)
        assert given["ccc"] == 2 * bundle
    else:
        size, insulation = re.fullmatch(r"([0-9]+) AWG (THHN) Cu", given["wire"]).groups()  # type: ignore[union-attr]
        assert insulation == "THHN"
        cable = in_raceway(size, 90, given["termination_c"])
        bundle = given["ccc"] // 2
    if bundle > 1:
        cable["bundled"] = bundle
    if "ambient_c" in given:
        cable["ambient_c"] = given["ambient_c"]
    return cable


def fed(folder: Path, given: dict[str, Any], amps: float) -> Survey:
    """The cable of the entry from a breaker of `amps` to a duplex receptacle, or to a luminaire."""
    kind = "duplex receptacle" if given["multi_receptacle"] else "luminaire"
    return boxed(
        folder,
        as_of(given),
        panels=panel({"1": amps}),
        cable=in_bundle(given),
        devices={"R1": {"kind": kind, "at": "b", "wired_to": "W1"}},
    )


@answers(*numbered("b", 45, 46, 48, 49))
def derated(given: dict[str, Any], folder: Path) -> dict[str, Any]:
    """Ampacity by the 90 °C row and the factors that the rule read, as it states it, and the largest clear breaker."""
    amps, found = carried(folder, as_of(given), in_bundle(given))
    (start,) = [value for key, value in read_rows(found, "ampacity").items() if key.endswith("/90")]
    factors = {**read_rows(found, "ambient factor"), **read_rows(found, "bundling factor")}
    sizes = [size for size in edition_rows("standard ratings", as_of(given))["to 600 A"] if size <= 50]
    allowed = [size for size in sizes if clear(fed(folder, given, size), "conductor-too-small")]
    assert allowed == [size for size in sizes if size <= max(allowed)]
    return {
        "corrected_a": start * math.prod(factors.values()),
        "final_ampacity_a": amps,
        "max_ocpd_a": max(allowed),
    }


@answers("b-47")
def no_breaker_small_enough(given: dict[str, Any], folder: Path) -> dict[str, Any]:
    done = fed(folder, given, given["breaker_a"])
    corrected = said(done, "conductor-too-small", r"may carry ([0-9.]+) A, and no standard breaker is that small")
    sizes = [size for size in edition_rows("standard ratings", as_of(given))["to 600 A"] if size <= 50]
    allowed = [size for size in sizes if clear(fed(folder, given, size), "conductor-too-small")]
    return {
        "corrected_a": float(corrected),
        "defect": bool(sentences(done, "conductor-too-small")),
        "max_ocpd_a": max(allowed, default=None),
    }


@answers("b-50", "b-51", "b-52")
def by_terminals(given: dict[str, Any], folder: Path) -> dict[str, Any]:
    """An unmarked terminal is recorded as 60 °C, and the lower of the two counts, as the form of the record says."""
    marks = [60 if mark == "unmarked" else int(mark[:-1]) for mark in given["termination_marks"]]
    amps, _ = carried(folder, TODAY, in_raceway("8", 90, min(marks)))
    return {"usable_a": amps}


@answers("b-53")
def sheathed_column(given: dict[str, Any], folder: Path) -> dict[str, Any]:
    amps, found = carried(folder, TODAY, {"type": given["cable"]})
    (key,) = read_rows(found, "ampacity")
    return {"ampacity_column_c": int(key.rsplit("/", 1)[1]), "usable_a": amps}


def service(folder: Path, amps: float, size: str, *, mark: str) -> Survey:
    """Service entrance cable of this size on the main lugs of a dwelling."""
    text = record_text(
        panels={"A": {"main_amps": amps, "breakers": {}}},
        cables={
            "W1": {
                "type": f"{size}/3 SE{mark}",
                "from": {"not_seen": "goes up to the meter"},
                "to": {"at": "A", "black": "lug 1", "red": "lug 2", "white": "neutral bar"},
            }
        },
    )
    return surveyed(folder, text)


def smallest_clear(sizes: Iterable[str], run: Callable[[str], Survey], rule: str) -> str:
    """The smallest size on which a rule is clear; every larger one is clear too."""
    got = {size: clear(run(size), rule) for size in sizes}
    assert list(got.values()) == sorted(got.values())
    return next(size for size, good in got.items() if good)


@answers("b-54", "b-55")
def dwelling_service(given: dict[str, Any], folder: Path) -> dict[str, Any]:
    amps = given["dwelling_service_a"]
    got = {}
    for name, mark in {"min_cu": "", "min_al": " AL"}.items():
        sizes = wire_sizes()[wire_sizes().index("6") :]
        got[name] = smallest_clear(sizes, partial(service, folder, amps, mark=mark), "service-conductor-too-small")
    return got


@pytest.mark.parametrize("one", ["b-54", "b-55"])
def test_dwelling_service_agrees_with_83_percent(one: str) -> None:
    """The size of the table is the first whose 75 °C ampacity reaches 83 percent of the service (310.12)."""
    entry = ENTRIES[one]
    needed, rows = entry["expect"]["required_a"], edition_rows("ampacity", TODAY)
    for name, metal in {"min_cu": "copper", "min_al": "aluminium"}.items():
        sizes = [size for size in wire_sizes() if f"{metal}/{size}/75" in rows]
        size = str(entry["expect"][name])
        assert rows[f"{metal}/{size}/75"] >= needed > rows[f"{metal}/{sizes[sizes.index(size) - 1]}/75"]


# -- c: equipment grounding conductors

GROUND = "grounding-conductor-too-small"


def grounded(folder: Path, amps: float, ground: str, circuit: str = "500 kcmil", mark: str = "", **more: Any) -> Survey:
    """A raceway with conductors of one size and a grounding conductor of another, capped at its end."""
    cable = {"type": f"{circuit}/2 EMT with ground{mark}", "ground_gauge": ground, **more}
    return boxed(folder, panels=panel({"1": amps}), cable=cable)


@answers(*numbered("c", *range(1, 8)))
def grounding_size(given: dict[str, Any], folder: Path) -> dict[str, Any]:
    """The size that the finding asks for is clear, and the one below is not; also for a rating just below the row."""
    got = {}
    for name, mark in {"min_egc_cu": "", "min_egc_al": " AL"}.items():
        asked = set()
        for amps in (given["ocpd_a"], given["ocpd_a"] - 0.5):
            asked.add(said(grounded(folder, amps, "18", mark=mark), GROUND, r"the table asks for ([0-9/]+) AWG"))
            sizes = wire_sizes()[: wire_sizes().index("4/0")]
            least = smallest_clear(sizes, partial(grounded, folder, amps, mark=mark), GROUND)
            assert {least} == asked
        (got[name],) = asked
    return got


@answers("c-08", "c-09")
def grounding_beside_circuit(given: dict[str, Any], folder: Path) -> dict[str, Any]:
    done = grounded(folder, given["ocpd_a"], given["egc_awg"], given["circuit_awg"])
    if clear(done, GROUND):
        return {"defect": False}
    return {"defect": True, "min_egc_cu": said(done, GROUND, r"the table asks for ([0-9/]+) AWG")}


@answers("c-10")
def never_larger_than_circuit(given: dict[str, Any], folder: Path) -> dict[str, Any]:
    """The air conditioner of the entry; a grounding conductor one size smaller is a defect."""
    load = {"kind": "air conditioner", "nameplate": {"min_circuit_amps": 18, "max_breaker_amps": given["ocpd_a"]}}
    load["terminals"] = {**BETWEEN_LEGS, "ground": "W1 bare"}
    kind = f"{given['circuit_awg']}/2 NM-B with ground"

    def run(ground: str) -> Survey:
        return hard_wired(folder, TODAY, given["ocpd_a"], {"type": kind, "ground_gauge": ground}, load)

    assert findings(run("14"), GROUND)
    return {"defect": not clear(run(given["egc_awg"]), GROUND)}


@answers("c-11", "c-12")
def grown_in_proportion(given: dict[str, Any], folder: Path) -> dict[str, Any]:
    """The grounding conductor of the table is too small beside larger hots; the size asked for is clear."""
    amps, installed = given["ocpd_a"], given["installed_ungrounded_awg"]
    plain = said(grounded(folder, amps, "18"), GROUND, r"the table asks for ([0-9/]+) AWG")
    done = grounded(folder, amps, plain, installed)
    smallest, asked = said(
        done, "grounding-conductor-not-upsized", r"where ([0-9/]+) AWG would do; in proportion .* be ([0-9/]+) AWG"
    )
    assert smallest == given["min_ungrounded_awg"]
    assert clear(grounded(folder, amps, asked, installed), "grounding-conductor-not-upsized")
    between = wire_sizes()[wire_sizes().index(plain) + 1 : wire_sizes().index(asked)]
    assert all(findings(grounded(folder, amps, size, installed), "grounding-conductor-not-upsized") for size in between)
    return {"egc_needed_cmil": cmil(plain) * cmil(installed) / cmil(smallest), "min_egc_cu": asked}


@answers("c-13")
def early_cable(given: dict[str, Any], folder: Path) -> dict[str, Any]:
    cable = {"type": "14/2 NM with ground", "ground_gauge": "16", "installed": given["install_year"]}
    done = boxed(folder, panels=panel({"1": given["ocpd_a"]}), cable=cable)
    (remark,) = findings(done, "reduced-ground-of-early-cable")
    assert remark.grade == "remark"
    assert remark.rule.caution.startswith("Warning")
    return {
        "undersized_by_today_table": "today's table asks for 14 AWG" in remark.statement,
        "era_consistent": not findings(done, "cable-out-of-its-time"),
        "assert_violation_at_install": bool(findings(done, GROUND)) or "violat" in remark.statement.lower(),
    }


# -- e: wire geometry, resistance and voltage drop


def cmil(size: str) -> float:
    """Circular mils: the area of a circle of one thousandth of an inch is one."""
    return area_mm2(size) / (math.pi / 4 * 0.0254**2)


@answers(*numbered("e", *range(1, 7)))
def geometry(given: dict[str, Any], folder: Path) -> dict[str, Any]:
    size = given["awg"]
    across = edition_rows("diameter of solid conductors", TODAY)[size]
    return {
        "diameter_in": across / 25.4,
        "diameter_mm": across,
        "area_cmil": cmil(size),
        "area_mm2": area_mm2(size),
    }


@answers("e-07")
def area_by_formula(given: dict[str, Any], folder: Path) -> dict[str, Any]:
    return {"formula_cmil": cmil(given["awg"])}


@answers("e-08")
def three_steps(given: dict[str, Any], folder: Path) -> dict[str, Any]:
    """Alike for every pair of sizes three numbers apart."""
    ratios = [area_mm2(str(number)) / area_mm2(str(number + given["step_awg"])) for number in range(20)]
    assert max(ratios) - min(ratios) < 1e-9
    return {"ratio": ratios[0]}


@answers("e-09")
def stranded_diameter(given: dict[str, Any], folder: Path) -> dict[str, Any]:
    """Of all sizes only one fits the diameter over its strands; the solid size of that diameter by area."""
    inches = given["measured_overall_diameter_in"]

    def run(size: str) -> Survey:
        wires = {"black": {"stranded": True, "diameter": f"{inches} in"}, "white": {}}
        return boxed(folder, cable={"type": f"{size}/2 EMT", "conductors": wires})

    fits = [
        size
        for size in wire_sizes()
        if "kcmil" not in size and not any(one(run(size), "diameter-against-size") for one in (findings, open_facts))
    ]
    across = {number: math.sqrt(4 / math.pi * area_mm2(str(number))) / 25.4 for number in range(19)}
    number = min(across, key=lambda one: abs(math.log(across[one] / inches)))
    (only,) = fits
    return {"awg_must_be": only, "solid_with_same_diameter_awg": f"{number} ({across[number]:.4f} in)"}


@answers(*numbered("e", *range(15, 22), 37, 38, 39, 40))
def resistance(given: dict[str, Any], folder: Path) -> dict[str, Any]:
    (metal,) = METALS[given["material"]].values()
    edition = TableSet(collect().tables, TODAY).edition("conductor resistance")
    assert edition is not None
    assert f"{given['temperature_c']} °C" in edition.source
    return {"ohm_per_1000ft": edition.rows[f"{metal}/{given['awg']}/{given['form']}"]}


@pytest.mark.parametrize("one", numbered("e", 10, 11, 12, 13))
def test_hot_resistance_comes_back_to_the_cold_one(one: str) -> None:
    """75 °C rows brought to 20 °C (0.00323 per K, e-22) are within half a percent of NBS Handbook 100.

    The rows have three figures, so 1.21 alone can be 0.4 percent off.
    """
    entry = ENTRIES[one]
    hot = edition_rows("conductor resistance", TODAY)[f"copper/{entry['given']['awg']}/solid"]
    cold = hot * (1 + 0.00323 * (entry["given"]["temperature_c"] - 75))
    assert cold == pytest.approx(entry["expect"]["ohm_per_1000ft"], rel=0.005)


DROP = "voltage-drop-on-branch"


def long_run(folder: Path, given: dict[str, Any], feet: float) -> Survey:
    """The load of the entry at the end of this length of cable."""
    size = given["wire"].split(" ")[0]
    cable = {"type": f"{size}/2 NM-B", "length": f"{feet} ft"}
    load: dict[str, Any] = {"kind": "appliance", "nameplate": {"amps": given["load_a"]}}
    if given["supply_v"] == 240:
        return hard_wired(folder, TODAY, 30, cable, load)
    terminals = {"hot": "W1 black", "neutral": "W1 white"}
    text = record_text(
        panels=panel({"1": 20}),
        cables={"W1": {"from": "A 1", "to": "H1", **cable}},
        devices={"H1": {**load, "where": "shed", "terminals": terminals}},
    )
    return surveyed(folder, text)


@answers("e-23", "e-24", "e-25")
def drop(given: dict[str, Any], folder: Path) -> dict[str, Any]:
    """As the finding states it; within the advice it is clear, and the loss is read at twice the length and halved."""
    feet = given["one_way_ft"]
    share = 1 if findings(long_run(folder, given, feet), DROP) else 2
    if share == 2:
        assert clear(long_run(folder, given, feet), DROP)
    done = long_run(folder, given, feet * share)
    (found,) = findings(done, DROP)
    assert given["ohm_per_1000ft"] in read_rows(found, "conductor resistance").values()
    volts, supply, percent = said(done, DROP, r"at least ([0-9.]+) V of ([0-9]+) V .*, ([0-9.]+) %; advised")
    assert float(supply) == given["supply_v"]
    return {"drop_v": float(volts) / share, "drop_percent": float(percent) / share}


@answers("e-27")
def drop_is_advice(given: dict[str, Any], folder: Path) -> dict[str, Any]:
    """Both rules give a remark that says no limit is required, at the advised 3 and 5 percent."""
    rows = edition_rows("voltage drop", TODAY)
    assert [f"{rows[part]} percent" in given["question"] for part in ("branch circuit", "with the feeder")] == [
        True
    ] * 2
    rules = [rule for rule in collect().rules if rule.topic == "voltage_drop"]
    assert len(rules) == 2
    required = [
        data("grades")["grade"][risk_of(rule)]["confirmed"] != "remark"
        or "No limit is required by the national text" not in rule.defer
        for rule in rules
    ]
    return {"answer": any(required)}


@answers("e-36")
def metric_areas(given: dict[str, Any], folder: Path) -> dict[str, Any]:
    return {"area_mm2": [area_mm2(size) for size in given["awg"]]}


# -- f: receptacles, ground-fault protection, circuits of rooms

AMPS = (15, 20, 30, 40, 50, 60)
AGAINST = ("receptacle-below-circuit", "receptacle-above-circuit", "single-receptacle-below-circuit")
PLUGGED = "plugged-load-over-receptacle"


def outlets(folder: Path, amps: float, count: int, **device: Any) -> Survey:
    """So many receptacles alike on one circuit, spliced in one box."""
    tags = [f"R{number}" for number in range(1, count + 1)]
    return boxed(
        folder,
        panels=panel({"1": amps}),
        cable={"type": "6/2 NM-B with ground"},
        joints={
            "J1": {"at": "b", "ends": ["W1 black", *(f"{tag} hot" for tag in tags)]},
            "J2": {"at": "b", "ends": ["W1 white", *(f"{tag} neutral" for tag in tags)]},
            "J3": {"at": "b", "ends": ["W1 bare", *(f"{tag} ground" for tag in tags)]},
        },
        devices={tag: {"at": "b", **device} for tag in tags},
    )


def found_by(done: Survey, rules: Iterable[str]) -> list[str]:
    return [rule for rule in rules if findings(done, rule)]


@answers(*numbered("f", 1, 2, 3, 27, 28))
def fitting_receptacles(given: dict[str, Any], folder: Path) -> dict[str, Any]:
    assert given["receptacles"] == "two or more"
    runs = {rating: outlets(folder, given["circuit_a"], 2, kind="single receptacle", rating=rating) for rating in AMPS}
    return {"allowed_receptacle_a": [rating for rating, done in runs.items() if not found_by(done, AGAINST)]}


@answers("f-04", "f-05", "f-06")
def receptacle_on_circuit(given: dict[str, Any], folder: Path) -> dict[str, Any]:
    """What is found, and the ratings that the sentence calls fitting."""
    done = outlets(folder, given["circuit_a"], 1, kind=given["device"], rating=given["receptacle_a"])
    found = found_by(done, AGAINST)
    got: dict[str, Any] = {"defect": bool(found)}
    if found == ["single-receptacle-below-circuit"]:
        got["min_receptacle_a"] = float(said(done, found[0], r"it should be ([0-9]+) A at least"))
    elif found:
        got["allowed_receptacle_a"] = [float(said(done, found[0], r"fitting is ([0-9]+) A"))]
    return got


@answers("f-07", "f-08", "f-09")
def plugged_load(given: dict[str, Any], folder: Path) -> dict[str, Any]:
    """The limit as the finding states it: clear at it, a defect just above."""

    def run(load: float) -> Survey:
        return outlets(
            folder, given["circuit_a"], 2, kind="single receptacle", rating=given["receptacle_a"], plugged_amps=load
        )

    limit = float(said(run(100), PLUGGED, r"the limit is ([0-9.]+) A", at="device R1"))
    assert clear(run(limit), PLUGGED)
    assert findings(run(limit + 0.1), PLUGGED)
    return {"max_cord_and_plug_load_a": limit}


@answers("f-10")
def smallest_wire(given: dict[str, Any], folder: Path) -> dict[str, Any]:
    date = as_of({"edition": "NEC 2020"})

    def smallest(amps: float) -> str:
        run = {size: one_run(folder, f"{size}/2 NM-B", amps, date) for size in wire_sizes()[:8]}
        return smallest_clear(run, run.__getitem__, "conductor-too-small")

    return {"min_circuit_awg": [smallest(amps) for amps in given["copper_circuit_a"]]}


ROOM = "room-circuit-too-small"


def room_circuits(folder: Path, ratings: list[float], year: int, **device: Any) -> Survey:
    """One duplex receptacle on each circuit of these ratings, wired in a year, all in one room."""
    spaces = [str(2 * number + 1) for number in range(len(ratings))]
    text = record_text(
        panels=panel(dict(zip(spaces, ratings, strict=True))),
        boxes={f"b{space}": {"kind": "nonmetallic", "volume": 100} for space in spaces},
        cables={
            f"W{space}": {"type": "12/2 NM-B with ground", "from": f"A {space}", "to": f"b{space}", "installed": year}
            for space in spaces
        },
        devices={
            f"R{space}": {"kind": "duplex receptacle", "at": f"b{space}", "wired_to": f"W{space}", **device}
            for space in spaces
        },
    )
    return surveyed(folder, text)


@answers("f-11")
def counter_circuits(given: dict[str, Any], folder: Path) -> dict[str, Any]:
    """Two circuits of 20 A are clear; one of them, or one of 15 A among them, is not."""
    counter = {"room": "kitchen", "serves": "counter"}
    done = room_circuits(folder, [20, 15], 1990, **counter)
    assert float(said(done, ROOM, r"; ([0-9]+) A has been asked for")) == 20
    both = room_circuits(folder, [20, 20], 1990, **counter)
    assert clear(both, ROOM)
    assert clear(both, "counter-on-one-circuit")
    one = boxed(
        folder,
        panels=panel({"1": 20}),
        cable={"type": "12/2 NM-B with ground", "installed": 1990},
        joints={
            "J1": {"at": "b", "ends": ["W1 black", "R1 hot", "R2 hot"]},
            "J2": {"at": "b", "ends": ["W1 white", "R1 neutral", "R2 neutral"]},
        },
        devices={tag: {"kind": "duplex receptacle", "at": "b", **counter} for tag in ("R1", "R2")},
    )
    return {"min_20a_circuits": int(said(one, "counter-on-one-circuit", r"; ([0-9]+) circuits have been asked for"))}


@answers("f-12", "f-13", "f-29")
def room_circuit(given: dict[str, Any], folder: Path) -> dict[str, Any]:
    """The least number of circuits of 20 A that is clear beside one of 15 A, and the edition the sentence names."""
    room = re.search(r"laundry|bathroom|garage", given["area"]).group()  # type: ignore[union-attr]
    counts = [n for n in range(3) if clear(room_circuits(folder, [15, *([20] * n)], 2025, room=room), ROOM)]
    first = int(said(room_circuits(folder, [15], 2025, room=room), ROOM, r"since the ([0-9]{4}) edition"))
    assert clear(room_circuits(folder, [15], first - 1, room=room), ROOM)
    got = {"min_20a_circuits": min(counts)}
    return got if room == "laundry" else {**got, "from_edition": first}


PROTECTED: dict[str, dict[str, Any]] = {
    "f-14": {"rule": "outdoor-receptacle-unprotected", "room": "outdoors"},
    "f-15": {"rule": "bathroom-receptacle-unprotected", "room": "bathroom"},
    "f-16": {"rule": "garage-receptacle-unprotected", "room": "garage"},
    "f-17": {
        "rule": "kitchen-counter-receptacle-unprotected", "room": "kitchen", "serves": "counter", "to_water": "6 ft",
    },
    "f-18": {"rule": "crawl-space-receptacle-unprotected", "room": "crawl space"},
    "f-19": {
        "rule": "kitchen-counter-receptacle-unprotected", "room": "kitchen", "serves": "counter", "to_water": "6.1 ft",
    },
    "f-20": {"rule": "laundry-receptacle-unprotected", "room": "laundry"},
    "f-21": {"rule": "large-receptacle-unprotected", "room": "garage", "kind": "range receptacle"},
}  # fmt: skip
"""The place of each entry as a record says it, and the rule that speaks there."""


@answers(*PROTECTED)
def first_edition(given: dict[str, Any], folder: Path) -> dict[str, Any]:
    """The edition that the sentence names; with the protection nothing is found, and it is never called a violation."""
    one = next(name for name in PROTECTED if ENTRIES[name]["given"] is given)
    device = {"kind": "duplex receptacle", "wired_to": "W1", "at": "b", "protection": "none", **PROTECTED[one]}
    rule = device.pop("rule")

    def run(**more: Any) -> Survey:
        kind = "6/2 NM-B with ground" if one == "f-21" else "14/2 NM-B with ground"
        return boxed(folder, cable={"type": kind, "installed": 2024}, devices={"R1": {**device, **more}})

    assert clear(run(protection="ground-fault"), rule)
    done = run()
    assert "violat" not in sentences(done, rule)[0].lower()
    first, effect = said(done, rule, r"since the ([0-9]{4}) edition(?:, in effect from ([0-9]{4}))?")
    return {"gfci_first_edition": int(first), **({"effective_from": int(effect)} if effect else {})}


@answers("f-22")
def older_bathroom(given: dict[str, Any], folder: Path) -> dict[str, Any]:
    device = {"kind": "duplex receptacle", "wired_to": "W1", "at": "b", "room": given["location"], "protection": "none"}
    site = {"name": "Tryout cottage", "kind": "dwelling", "built": given["built"]}
    done = boxed(folder, site=site, cable={"type": "14/2 NM"}, devices={"R1": device})
    (found,) = findings(done, "bathroom-receptacle-unprotected")
    asked_then = f"it was not asked for when this was built in {given['built']}" not in found.statement
    return {
        "assert_violation_at_install": asked_then or "violat" in found.statement.lower(),
        "hazard_grade_still_reported": found.grade == "first" and found.rule.caution.startswith("Warning"),
    }


@answers("f-23", "f-24", "f-25")
def without_ground(given: dict[str, Any], folder: Path) -> dict[str, Any]:
    """A receptacle on cable without a ground: is anything of the grounding topic found?"""
    device = {
        "kind": "duplex receptacle",
        "wired_to": "W1",
        "at": "b",
        "slots": 2 if "two-slot" in given["found"] else 3,
        "protection": "ground-fault" if given.get("gfci_protected") else "none",
        "marked": ", ".join(given.get("marks", ["15 A"])),
    }
    done = boxed(folder, cable={"type": "14/2 NM"}, devices={"R1": device})
    found = {one.rule.name for one in done.results.findings if one.rule.topic == "grounding"}
    assert found <= {"three-slot-without-ground"}
    return {"defect": bool(found)}


# -- h: physical installation

SUPPORT = "cable-support"


def spaced(folder: Path, **cable: Any) -> Survey:
    return boxed(folder, cable=cable)


@answers("h-01", "h-02")
def support_limits(given: dict[str, Any], folder: Path) -> dict[str, Any]:
    """The limit as the finding states it: clear at it, a defect beyond."""
    fact = "support_spacing" if "max_support_spacing" in given else "first_support"
    limit = float(said(spaced(folder, **{fact: "100 in", "fished": False}), SUPPORT, r"the table allows ([0-9.]+) in"))
    assert clear(spaced(folder, **{fact: f"{limit:g} in"}), SUPPORT)
    assert findings(spaced(folder, **{fact: f"{limit + 0.25:g} in", "fished": False}), SUPPORT)
    return {"in": limit}


@answers("h-03")
def without_clamp(given: dict[str, Any], folder: Path) -> dict[str, Any]:
    """Both figures of the table together are clear; either missed alone is a defect."""
    rule = "cable-not-held-at-box"
    rows = edition_rows("cable in a single-gang box without clamps", TODAY)
    far, sheath = rows["farthest first support"], rows["least sheath inside"]

    def run(first: float, inside: float) -> Survey:
        return spaced(folder, clamped="nothing", first_support=f"{first} in", sheath_in_box=f"{inside} in")

    assert clear(run(far, sheath), rule)
    assert findings(run(far + 0.1, sheath), rule)
    assert findings(run(far, sheath - 0.01), rule)
    return {"in": far, "min_sheath_inside_in": sheath}


@answers("h-04", "h-05")
def wide_spacing(given: dict[str, Any], folder: Path) -> dict[str, Any]:
    inches, fished = given["support_spacing_in"], given["fished_in_finished_wall"]
    done = spaced(folder, support_spacing=f"{inches} in", fished=fished)
    if not findings(done, SUPPORT):
        assert clear(done, SUPPORT)
        return {"defect": False}
    apart, limit = said(done, SUPPORT, r"are ([0-9.]+) in apart; the table allows ([0-9.]+) in")
    return {"defect": True, "excess_in": float(apart) - float(limit)}


FREE = "free-conductors-short"


def free(folder: Path, **box: Any) -> Survey:
    return boxed(folder, cable={}, box=box, devices={"R1": {"kind": "duplex receptacle", "at": "b", "wired_to": "W1"}})


@answers("h-06")
def free_length(given: dict[str, Any], folder: Path) -> dict[str, Any]:
    least = float(said(free(folder, free_length="1 in"), FREE, r"the table asks for ([0-9.]+) in"))
    assert clear(free(folder, free_length=f"{least:g} in"), FREE)
    return {"min_in": least}


@answers("h-07")
def short_conductor(given: dict[str, Any], folder: Path) -> dict[str, Any]:
    done = free(folder, free_length=f"{given['free_conductor_in']} in", opening=f"{given['box_opening_in']} in")
    long, least = said(done, FREE, r"is ([0-9.]+) in; the table asks for ([0-9.]+) in")
    return {"defect": bool(findings(done, FREE)), "short_by_in": float(least) - float(long)}


@answers("h-08", "h-09", "h-10")
def near_the_face(given: dict[str, Any], folder: Path) -> dict[str, Any]:
    rule = "cable-near-face-of-framing"
    plate = bool(given.get("plate", given.get("plate_thickness_in")))
    done = spaced(folder, face_distance=f"{given['bored_hole_edge_to_face_in']} in", plate=plate)
    assert not open_facts(done, rule)
    got: dict[str, Any] = {"defect": bool(findings(done, rule))}
    if given is ENTRIES["h-08"]["given"]:
        close = spaced(folder, face_distance="0.1 in", plate=False)
        got["limit_in"] = float(said(close, rule, r"the table asks for ([0-9.]+) in"))
    return got


def spliced(folder: Path, kind: str, second: str = "", site: dict[str, Any] | None = None, **joint: Any) -> Survey:
    """Two cables joined where there is no box, or in box b."""
    at = joint.pop("at", "open")
    text = record_text(
        **({"site": site} if site else {}),
        panels=panel({"1": 15}),
        boxes={
            "open": "no box",
            "b": {"kind": "nonmetallic", "volume": 100},
            "c": {"kind": "nonmetallic", "volume": 100},
        },
        cables={
            "W1": {"type": kind, "from": "A 1", "to": at},
            "W2": {"type": second or kind, "from": at, "to": {"at": "c", "black": "capped", "white": "capped"}},
        },
        joints={
            f"J{number}": {"at": at, "ends": [f"W1 {colour}", f"W2 {colour}"], **joint}
            for number, colour in enumerate(("black", "white"))
        },
    )
    return surveyed(folder, text)


@answers("h-11")
def open_splice(given: dict[str, Any], folder: Path) -> dict[str, Any]:
    done = spliced(folder, f"14/2 {given['wiring_method']}", connector="twist-on")
    assert len(findings(done, "splice-outside-box")) == 2
    boxed_in = spliced(folder, f"14/2 {given['wiring_method']}", connector="twist-on", at="b")
    return {"defect": not clear(done, "splice-outside-box") and clear(boxed_in, "splice-outside-box")}


@answers("h-12")
def soldered_tap(given: dict[str, Any], folder: Path) -> dict[str, Any]:
    """No splice rule speaks, and the wiring fits its year."""
    site = {"name": "Tryout cottage", "kind": "dwelling", "built": given["era"]}
    done = spliced(folder, f"14/2 {given['wiring_method']}", site=site, connector="solder and tape")
    modern = spliced(folder, f"14/2 {given['wiring_method']}", site=site, connector="twist-on")
    assert findings(modern, "splice-outside-box"), "a modern splice onto it still needs a box"
    dated = boxed(folder, cable={"type": f"14/2 {given['wiring_method']}", "installed": given["era"]})
    return {
        "defect": any(one.rule.topic == "splices" for one in done.results.findings),
        "era_consistent": clear(dated, "cable-out-of-its-time"),
    }


COVERS = ("box-without-cover", "box-cover-broken", "box-out-of-reach")


@answers("h-13", "h-14")
def covered(given: dict[str, Any], folder: Path) -> dict[str, Any]:
    by = given["covered_by"]
    box = {"cover": "blank cover", "hidden_by": "nothing"} if by == "blank cover plate" else {"hidden_by": by}
    joints = {"J1": {"at": "b", "ends": ["W1 black", "W1 white"], "connector": "twist-on"}}
    done = boxed(folder, cable={}, box={"kind": "octagonal 4 x 2-1/8", **box}, joints=joints)
    found = found_by(done, COVERS)
    assert found in ([], ["box-out-of-reach"])
    return {"defect": bool(found)}


@answers("h-15")
def no_plate(given: dict[str, Any], folder: Path) -> dict[str, Any]:
    assert clear(free(folder, cover="device plate"), "box-without-cover")
    return {"defect": found_by(free(folder, cover="missing"), COVERS) == ["box-without-cover"]}


@answers("h-16")
def set_back(given: dict[str, Any], folder: Path) -> dict[str, Any]:
    done = boxed(folder, cable={}, box={"setback": f"{given['box_setback_in']} in", "surface": "wood"})
    limit = float(said(done, "box-set-back", r"the table allows ([0-9.]+) in"))
    return {"defect": bool(findings(done, "box-set-back")), "max_setback_in": limit}


@answers("h-17")
def two_under_one_screw(given: dict[str, Any], folder: Path) -> dict[str, Any]:
    """A defect on a breaker marked for one, clear on one marked for two, asked for where the marking was not read."""
    rule = "too-many-wires-on-breaker"

    def run(**breaker: Any) -> Survey:
        tags = [f"W{number}" for number in range(1, given["conductors_under"] + 1)]
        text = record_text(
            panels=panel({"1": {"amps": 15, **breaker}}),
            boxes={"b": {"kind": "nonmetallic", "volume": 100}},
            cables={tag: {"type": "14/2 NM-B", "from": "A 1", "to": {"at": "b", "black": "capped"}} for tag in tags},
        )
        return surveyed(folder, text)

    assert clear(run(wires_allowed=2), rule)
    assert [one.missing for one in open_facts(run(), rule)] == ["wires_allowed"]
    return {"defect": bool(findings(run(wires_allowed=2 if given["marked_for_two"] else 1), rule))}


@answers("h-18")
def two_metals(given: dict[str, Any], folder: Path) -> dict[str, Any]:
    def run(listed: str) -> Survey:
        return spliced(folder, "12/2 NM-B", "12/2 NM-B AL", connector="twist-on", listed_for=listed, at="b")

    assert clear(run("copper and aluminium"), "copper-with-aluminium")
    listed = "copper and aluminium" if given["listed_for_cu_al"] else "copper only"
    return {"defect": len(findings(run(listed), "copper-with-aluminium")) == 2}


# -- i: multiwire circuits and neutrals

SHARED = "neutral-of-two-circuits"


def multiwire(
    folder: Path, breakers: dict[str, Any], date: str = TODAY, *, neutral: str = "joined", watts: tuple[float, ...] = ()
) -> Survey:
    """Two luminaires on black and red of one cable from A 1 and A 3, their neutrals on its white or on nothing."""
    lamps = {tag: {"kind": "luminaire", "at": "b"} for tag in ("F1", "F2")}
    for lamp, load in zip(lamps.values(), watts, strict=False):
        lamp["watts"] = load  # type: ignore[assignment]
    together = ["F1 neutral", "F2 neutral"]
    return boxed(
        folder,
        date,
        panels=panel(breakers),
        cable={
            "type": "12/3 NM-B with ground",
            "from": {"at": "A", "black": "breaker 1", "red": "breaker 3", "white": "neutral bar", "bare": "ground bar"},
            "to": "b" if neutral == "joined" else {"at": "b", "white": neutral},
        },
        joints={
            "J1": {"at": "b", "ends": ["W1 black", "F1 hot"]},
            "J2": {"at": "b", "ends": ["W1 red", "F2 hot"]},
            "J3": {"at": "b", "ends": ["W1 white", *together] if neutral == "joined" else together},
        },
        devices=lamps,
    )


def poles(given: dict[str, Any], amps: tuple[float, float]) -> dict[str, Any]:
    second = "L1" if given["legs"] == "same" else "L2"
    return {"1": {"amps": amps[0], "leg": "L1"}, "3": {"amps": amps[1], "leg": second}}


OVERLOAD = "neutral-overloaded"
SENT = r"send ([0-9.]+) A through it, and it may carry ([0-9.]+) A"


@answers("i-03")
def neutral_sum(given: dict[str, Any], folder: Path) -> dict[str, Any]:
    """Breakers of the currents of the entry, both fully loaded."""
    done = multiwire(folder, poles(given, (given["hot_1_a"], given["hot_2_a"])))
    return {"neutral_a": float(said(done, OVERLOAD, SENT)[0])}


@answers("i-04")
def neutral_overload(given: dict[str, Any], folder: Path) -> dict[str, Any]:
    """On opposite legs there is no such finding. That no breaker opens is said in the caution."""
    one, two = given["breakers_a"]
    apart = multiwire(folder, poles({"legs": "opposite"}, (one, two)))
    assert clear(apart, OVERLOAD)
    done = multiwire(folder, poles(given, (one, two)))
    sent, limit = said(done, OVERLOAD, SENT)
    return {
        "neutral_a": float(sent),
        "neutral_limit_a": float(limit),
        "defect": bool(findings(done, OVERLOAD)),
        "breaker_will_trip": "no breaker opens" not in findings(done, OVERLOAD)[0].rule.caution,
    }


def tied(how: str) -> dict[str, Any]:
    first: dict[str, Any] = {"amps": 20, "leg": "L1"}
    if how != "none":
        first = {**first, "tie": how, "tied_with": "3"}
    return {"1": first, "3": {"amps": 20, "leg": "L2"}}


@answers("i-11", "i-12")
def untied(given: dict[str, Any], folder: Path) -> dict[str, Any]:
    """Whether the two breakers are a finding; a caution stands in some finding in any case."""
    done = multiwire(folder, tied("none"), as_of(given))
    cautions = {one.rule.caution.split(":")[0] for one in done.results.findings if "A 1 and A 3" in one.statement}
    got = {"defect": bool(findings(done, SHARED))}
    return {**got, "caution_required": bool(cautions & {"Danger", "Warning"})} if "2005" in given["edition"] else got


@answers("i-13")
def handle_tie(given: dict[str, Any], folder: Path) -> dict[str, Any]:
    """Clear with a handle tie as with a common trip, so the trip is not what is asked for."""
    assert clear(multiwire(folder, tied("common trip")), SHARED)
    good = clear(multiwire(folder, tied("handle tie")), SHARED)
    return {"defect": not good, "common_trip_required": not good}


@answers("i-14")
def neutral_through_device(given: dict[str, Any], folder: Path) -> dict[str, Any]:
    """A receptacle on the way carries the shared neutral on its screws, or hangs on a pigtail of it."""
    rule = "multiwire-neutral-through-device"

    def run(*, pigtail: bool) -> Survey:
        joints = {
            "J1": {"at": "b", "ends": ["W1 black", "W2 black", "R1 hot"]},
            "J2": {"at": "b", "ends": ["W1 red", "W2 red"]},
            "J4": {"at": "c", "ends": ["W2 black", "F1 hot"]},
            "J5": {"at": "c", "ends": ["W2 red", "F2 hot"]},
            "J6": {"at": "c", "ends": ["W2 white", "F1 neutral", "F2 neutral"]},
        }
        outlet: dict[str, Any] = {"kind": "duplex receptacle", "at": "b"}
        if pigtail:
            joints["J3"] = {"at": "b", "ends": ["W1 white", "W2 white", "R1 neutral"]}
        else:
            outlet["terminals"] = {"neutral": ["W1 white", "W2 white"]}
        text = record_text(
            panels=panel(tied("handle tie")),
            boxes={name: {"kind": "nonmetallic", "volume": 300} for name in "bc"},
            cables={
                "W1": {
                    "type": "12/3 NM-B",
                    "from": {"at": "A", "black": "breaker 1", "red": "breaker 3", "white": "neutral bar"},
                    "to": "b",
                },
                "W2": {"type": "12/3 NM-B", "from": "b", "to": "c"},
            },
            joints=joints,
            devices={"R1": outlet, **{tag: {"kind": "luminaire", "at": "c"} for tag in ("F1", "F2")}},
        )
        return surveyed(folder, text)

    assert not findings(run(pigtail=True), rule)
    return {"defect": bool(findings(run(pigtail=False), rule))}


@answers("i-15", "i-16", "i-17")
def open_neutral(given: dict[str, Any], folder: Path) -> dict[str, Any]:
    """What the rule works out, and says in whole volts."""
    watts = (given["load_1_w_at_120v"], given["load_2_w_at_120v"])
    done = multiwire(folder, tied("handle tie"), neutral="capped", watts=watts)
    across, one, two = said(
        done, "neutral-open", r"across ([0-9]+) V: F1 \(.* W\) would get ([0-9]+) V and F2 \(.* W\) ([0-9]+) V"
    )
    first, second = shared_volts(*watts, float(across))
    assert (one, two) == (f"{first:.0f}", f"{second:.0f}")
    assert float(across) == given["line_to_line_v"]
    return {"v1": first, "v2": second}


@answers("i-20")
def neutral_opened_for_work(given: dict[str, Any], folder: Path) -> dict[str, Any]:
    """Breaker A 1 is off and A 3 on; the opened neutral is named as live from both."""
    breakers = {"1": {"amps": 15, "state": given["breaker_1"]}, "3": {"amps": 15, "state": given["breaker_2"]}}
    done = multiwire(folder, breakers, neutral="loose")
    fed_by = said(done, "neutral-open", r"it stands at up to line voltage from (.*?)\.")
    return {
        "neutral_hazard": "A 3" in fed_by,
        "neutral_can_read_v": edition_rows("nominal voltage", TODAY)["120/240 split phase/1"],
    }


# -- k: proving dead

DEAD = "called-dead-without-proof"
POINTS = {"L": "W1 black", "N": "W1 white", "G": "W1 bare"}
STEPS = {
    "instrument check before": "instrument check on a known live source before",
    "L-N test": "test ungrounded to grounded",
    "L-G test": "test ungrounded to ground",
    "N-G test": "test grounded to ground",
    "instrument check after": "instrument check on a known live source after",
}
"""Steps of proof as the entries name them, and as the rule does."""


def called_dead(folder: Path, record: Iterable[str]) -> Survey:
    """A log with these steps, after which cable W1 is called dead."""
    readings: list[dict[str, Any]] = []
    log: list[dict[str, Any]] = []
    for step in record:
        tag = f"M{len(readings)}"
        if found := re.fullmatch(r"target ([LNG])-([LNG]) ([0-9]+ V)", step):
            points = [POINTS[found.group(1)], POINTS[found.group(2)]]
            readings.append({"tag": tag, "kind": "voltage", "between": points, "value": found.group(3)})
        elif found := re.fullmatch(r"known live source read ([0-9]+ V)", step):
            reading = {"between": ["A 3", "A neutral bar"], "value": found.group(1), "known_source": True}
            readings.append({"tag": tag, "kind": "voltage", **reading})
        elif step == "non-contact tester silent":
            reading = {"between": [POINTS["L"]], "value": "silent", "instrument": "wand"}
            readings.append({"tag": tag, "kind": "non-contact", **reading})
        else:
            assert step == "breaker labelled kitchen switched off"
            log.append({"did": "switched", "what": "A 1", "to": "off"})
            continue
        log.append({"did": "tested", "what": "W1", "readings": [tag]})
    for reading in readings:
        reading.setdefault("instrument", "meter")
    return boxed(
        folder,
        panels=panel({"1": {"amps": 15, "label": "kitchen"}, "3": 15}),
        cable={"type": "14/2 NM-B with ground"},
        instruments={"meter": {"type": "two-pole tester"}, "wand": {"type": "non-contact tester"}},
        readings=readings,
        log=[*log, {"did": "called dead", "what": "W1"}],
    )


@answers("k-04", "k-05", "k-06", "k-07")
def proof(given: dict[str, Any], folder: Path) -> dict[str, Any]:
    done = called_dead(folder, given["record"])
    found = findings(done, DEAD)
    assert found or clear(done, DEAD)
    got: dict[str, Any] = {"proved_dead": not found}
    if given is ENTRIES["k-05"]["given"]:
        lacking = found[0].statement.removesuffix(".").split(": ", 1)[1].split("; ")
        got["missing"] = [step for step, words in STEPS.items() if words in lacking]
        assert len(got["missing"]) == len(lacking)
    return got


@answers("k-01", "k-03")
def law_or_practice(given: dict[str, Any], folder: Path) -> dict[str, Any]:
    """What the rule says of the test itself, and of the instrument check at the voltages of a record."""
    (found,) = findings(called_dead(folder, ["target L-N 0 V"]), DEAD)
    assert "29 CFR 1910.333(b)(2)(iv)" in found.rule.source
    if "instrument" in given["task"]:
        check = re.search(r"instrument check at these voltages is ([a-z ]+) \((.*?)\), not that law", found.rule.defer)
        assert check is not None
        assert check.group(2) == "NFPA 70E 120.5"
        return {"status": check.group(1)}
    who = re.search(r"(for [a-z]+), 29 CFR 1910\.333", found.rule.defer)
    assert who is not None
    return {"status": f"law {who.group(1)}"}


@answers("k-13", "k-14", "k-15")
def fed_by(given: dict[str, Any], folder: Path) -> dict[str, Any]:
    """Breakers that feed a conductor, from readings with these breakers on: what is certain, and what is not claimed."""
    breakers = sorted({one for reading in given["readings"] for one in reading["breakers_on"]})
    now, readings, log = set(breakers), [], []
    for number, reading in enumerate(given["readings"], 1):
        for turned in sorted(now ^ set(reading["breakers_on"])):
            log.append({"did": "switched", "what": f"A {turned}", "to": "off" if turned in now else "on"})
        now = set(reading["breakers_on"])
        readings.append({"tag": f"M{number}", "kind": "voltage", "between": ["W1 black", "A ground bar"],
                         "value": f"{reading['v']} V", "instrument": "t"})  # fmt: skip
        log.append({"did": "tested", "what": "W1 black", "readings": [f"M{number}"]})
    done = surveyed(folder, record_text(
        instruments={"t": {"type": "two-pole tester"}}, boxes={"hall": "nonmetallic"},
        panels=panel({str(one): {"amps": 15, "state": "on"} for one in breakers}), readings=readings, log=log,
        cables={"W1": {"type": "14/2 with ground", "from": "not traced", "to": "hall"}},
    ))  # fmt: skip
    (source,) = {id(s): s for net, s in done.installation.sources.items() if net.tag == "W1 black"}.values()
    certain = [int(one.tag.removeprefix("A ")) for one in source.certain]
    if not certain:
        (alone,) = set(breakers) - {int(one.tag.removeprefix("A ")) for one in source.singles}
        claim = next(iter(source.singles)).tag.removeprefix("A ")
        return {"fed_by": f"not {alone} alone", "must_not_claim": f"fed by {claim}"}
    (said,) = sentences(done, "two-breakers-one-net") or [""]
    assert said == "" or "as switching and testing shows" in said
    return {"fed_by": certain, **({"defect": "two breakers feed one conductor"} if said else {})}


@answers("k-10")
def off_and_not_locked(given: dict[str, Any], folder: Path) -> dict[str, Any]:
    """A loose end behind a breaker that is off is found as behind one that is on, and to be treated as live."""

    def run(state: str) -> Finding:
        done = boxed(
            folder,
            panels=panel({"1": {"amps": 15, "state": state}}),
            cable={"to": {"at": "b", "black": "loose", "white": "capped"}},
        )
        (found,) = findings(done, "ungrounded-end-uncapped")
        return found

    off, on = run("off"), run("on")
    assert (off.statement, off.grade, off.certainty) == (on.statement, on.grade, on.certainty)
    live = re.search(r"treat it as (live) until it is proven dead", off.rule.caution)
    assert live is not None
    return {"treat_as": {"live": "energised"}[live.group(1)]}


# -- l: aluminium, knob-and-tube, eras

ALUMINIUM = "aluminium-branch-wiring"


def wired_in(folder: Path, year: int, kind: str, *, device: dict[str, Any] | None = None, **cable: Any) -> Survey:
    """A receptacle, or the device given, on one cable of this kind in a dwelling of a year."""
    held = {"kind": "duplex receptacle", "at": "b", "wired_to": "W1", **(device or {})}
    site = {"name": "Tryout cottage", "kind": "dwelling", "built": year}
    return boxed(folder, site=site, cable={"type": kind, "installed": year, **cable}, devices={"R1": held})


@answers("l-02")
def aluminium_years(given: dict[str, Any], folder: Path) -> dict[str, Any]:
    """As the remark states them; the years outside are clear."""
    first, last = said(wired_in(folder, 1969, "12/2 AL"), ALUMINIUM, r"put in between ([0-9]{4}) and ([0-9]{4})")
    found = [year for year in range(1955, 1985) if findings(wired_in(folder, year, "12/2 AL"), ALUMINIUM)]
    assert found == list(range(int(first), int(last) + 1))
    return {"from": int(first), "to": int(last)}


@answers("l-03", "l-04", "l-05")
def aluminium_in_house(given: dict[str, Any], folder: Path) -> dict[str, Any]:
    """Solid 12 AWG as the legend says, aluminium where it is not given."""
    metal = {"AL": "AL", "CU-CLAD AL": "CU-CLAD"}[given.get("jacket_legend", "AL")]
    done = wired_in(folder, given["built"], f"12/2 {metal}")
    found = findings(done, ALUMINIUM)
    if metal == "CU-CLAD":
        return {"cpsc_516_covers_it": bool(found)}
    if not found:
        assert clear(done, ALUMINIUM)
        return {"aluminium_branch_wiring_likely": False}
    at = said(done, ALUMINIUM, r"; ([a-z]+) of such wiring are known to fail")
    return {"aluminium_branch_wiring_likely": True, "hazard_at": at}


@answers("l-08")
def large_aluminium(given: dict[str, Any], folder: Path) -> dict[str, Any]:
    """Stranded 6 AWG to a range; solid 12 AWG of 1969 on the same outlet would be found."""
    got = {}
    for kind, year, stranded in (("6/3 AL", given["built"], True), ("12/3 AL", 1969, False)):
        wires = {name: {"stranded": stranded} for name in ("black", "red", "white")}
        device = {"kind": "range receptacle"}
        done = wired_in(folder, year, kind, device=device, conductors=wires)
        got[kind] = bool(found_by(done, [ALUMINIUM, "device-not-for-aluminium"]))
    assert got["12/3 AL"]
    return {"same_hazard_class": got["6/3 AL"]}


@answers("l-09")
def marked_for_aluminium(given: dict[str, Any], folder: Path) -> dict[str, Any]:
    assert findings(wired_in(folder, 1969, "12/2 AL", device={"terminal_mark": "CU/AL"}), "device-not-for-aluminium")
    done = wired_in(folder, 1969, "12/2 AL", device={"terminal_mark": given["device_mark"]})
    (remark,) = findings(done, ALUMINIUM)
    assert "CPSC takes that for an incomplete repair" in remark.rule.defer
    return {
        "code_defect": not clear(done, "device-not-for-aluminium") or bool(findings(done, "conductor-too-small")),
        "caution_required": remark.rule.caution.startswith("Warning"),
    }


@answers("l-10")
def manufactured_home(given: dict[str, Any], folder: Path) -> dict[str, Any]:
    rule = "aluminium-in-manufactured-home"
    site = {"name": "Tryout home", "kind": "manufactured home"}
    found = {mark: bool(findings(boxed(folder, site=site, cable={"type": f"12/2{mark}"}), rule)) for mark in
             ("", " AL", " CU-CLAD")}  # fmt: skip
    assert not found[""]
    return {"allowed": not (found[" AL"] and found[" CU-CLAD"])}


@answers("l-12", "l-13")
def knob_and_tube(given: dict[str, Any], folder: Path) -> dict[str, Any]:
    """Under insulation a defect of its section; in an empty cavity nothing at all is found of the wiring."""
    filled = given["cavity"] != "empty"
    joint = {"at": "b", "connector": "solder and tape"}
    done = boxed(
        folder,
        site={"name": "Tryout cottage", "kind": "dwelling", "built": 1925},
        cable={"type": "14/2 knob-and-tube", "installed": 1925, "insulated_over": filled},
        joints={
            "J1": {**joint, "ends": ["W1 black", "F1 hot"]},
            "J2": {**joint, "ends": ["W1 white", "F1 neutral"]},
        },
        devices={"F1": {"kind": "lampholder", "at": "b", "metal": False}},
    )
    if not filled:
        return {"defect": bool(done.results.findings)}
    (found,) = findings(done, "knob-and-tube-under-insulation")
    section = re.search(r"394[.0-9()]+", found.rule.source)
    assert section is not None
    return {"defect": True, "section": section.group()}


@answers("l-14")
def knob_and_tube_clearance(given: dict[str, Any], folder: Path) -> dict[str, Any]:
    rule = "knob-and-tube-too-close"

    def run(inches: float) -> Survey:
        return boxed(folder, cable={"type": "14/2 knob-and-tube", "spacing": f"{inches:g} in"})

    least = float(said(run(0.5), rule, r"the table asks for ([0-9.]+) in"))
    assert clear(run(least), rule)
    assert findings(run(least - 0.1), rule)
    return {"between_conductors_in": least}


@answers("l-15")
def knob_and_tube_years(given: dict[str, Any], folder: Path) -> dict[str, Any]:
    rule = "cable-out-of-its-time"

    def run(year: int) -> Survey:
        return boxed(folder, cable={"type": "14/2 knob-and-tube", "installed": year})

    last = int(said(run(1990), rule, r"last put in about ([0-9]{4})"))
    assert clear(run(last), rule)
    assert findings(run(last + 1), rule)
    return {"last_seen": last}


HOT = "luminaire-too-hot-for-cable"


def under_lamp(folder: Path, method: str, year: int, asked: int) -> Survey:
    return wired_in(folder, year, f"14/2 {method}", device={"kind": "luminaire", "lamp_c": asked})


@answers("l-16")
def old_cable_at_luminaire(given: dict[str, Any], folder: Path) -> dict[str, Any]:
    done = under_lamp(folder, "NM", given["built"], 90)
    stands = int(said(done, HOT, r"asks for supply wires of 90 °C; .* made for ([0-9]+) °C"))
    assert clear(under_lamp(folder, "NM", given["built"], stands), HOT)
    assert clear(under_lamp(folder, "NM-B", 1990, 90), HOT)
    return {
        "conductor_insulation_c": stands,
        "new_luminaire_needing_90c_supply": "defect" if findings(done, HOT) else "none",
    }


@answers("l-17")
def cable_with_b(given: dict[str, Any], folder: Path) -> dict[str, Any]:
    """90 °C is what a hot luminaire may ask of it; its own ampacity is read at the column of 60 °C."""
    kind = given["cable_legend"]
    stands = max(asked for asked in (60, 75, 90) if clear(under_lamp(folder, kind, 1990, asked), HOT))
    assert stands == edition_rows("temperature of cable conductors", TODAY)[kind]
    (key,) = read_rows(carried(folder, TODAY, {"type": f"14/2 {kind}"})[1], "ampacity")
    return {"conductor_insulation_c": stands, "ampacity_column_c": int(key.rsplit("/", 1)[1])}


@answers("l-18", "l-19")
def old_and_sound(given: dict[str, Any], folder: Path) -> dict[str, Any]:
    """Nothing at all is found on a two-slot receptacle of the time; the cable fits its year."""
    year = given.get("built", 1955)
    kind = "14/2 NM" if "cable" in given else "14/2 cloth cable"
    done = wired_in(folder, year, kind, device={"slots": 2}, condition="sound")
    got = {"defect": bool(done.results.findings)}
    if "cable" not in given:
        return got
    return {**got, "era_consistent": clear(done, "cable-out-of-its-time")}


# -- m: grading


def words(name: str) -> list[str]:
    return [str(word) for word in data("grades")[name]]


@pytest.mark.parametrize("one", numbered("m", 1, 2, 3, 4))
def test_severities_are_those_of_the_standard(one: str) -> None:
    """Names and order of MIL-STD-882E Table I."""
    given = ENTRIES[one]["given"]
    assert words("severities")[given["category"] - 1] == given["name"].lower()
    assert len(words("severities")) == 4


def test_likelihoods_are_those_of_the_standard() -> None:
    """Names and order of MIL-STD-882E Table II, levels A to E; F, eliminated, is no likelihood of a finding."""
    levels = {level: text.split(":")[0].lower() for level, text in ENTRIES["m-05"]["expect"].items()}
    assert words("likelihoods") == [levels[level] for level in "ABCDE"]


def test_signal_words_are_those_of_the_standard() -> None:
    """The four words of ANSI Z535.4, worst first."""
    listed = [ENTRIES[one]["given"]["signal_word"] for one in numbered("m", 11, 12, 13, 14)]
    assert [word.upper() for word in words("signal_words")] == listed


@answers("m-07")
def matrix(given: dict[str, Any], folder: Path) -> dict[str, Any]:
    """All cells, by the words that a rule is written with."""
    rows = data("grades")["matrix"]
    return {
        level: [rows[likelihood][number].capitalize() for number in range(len(words("severities")))]
        for level, likelihood in zip("ABCDE", words("likelihoods"), strict=True)
    }


def risk(severity: int, level: str) -> str:
    column = data("grades")["matrix"][words("likelihoods")["ABCDE".index(level)]]
    return str(column[severity - 1]).capitalize()


@answers("m-09")
def bare_conductor(given: dict[str, Any], folder: Path) -> dict[str, Any]:
    """A loose live end, as the record of it is graded."""
    done = boxed(folder, cable={"to": {"at": "b", "black": "loose", "white": "capped"}})
    (found,) = findings(done, "ungrounded-end-uncapped")
    assert words("severities").index(found.rule.severity) == given["severity"] - 1
    levels = {risk(given["severity"], level) for level in given["probability"]}
    assert levels == {found.risk.capitalize()}
    assert found.grade == words("grades")[0]
    return {"risk": levels.pop()}


@answers("m-10")
def small_wire_on_large_breaker(given: dict[str, Any], folder: Path) -> dict[str, Any]:
    found, *_ = findings(one_run(folder, "14/2 NM-B", 20, "2023-12-31"), "conductor-too-small")
    assert words("severities").index(found.rule.severity) == given["severity"] - 1
    assert risk(given["severity"], given["probability"]) == found.risk.capitalize()
    return {"risk": found.risk.capitalize()}


@answers("m-15")
def words_for_shock(given: dict[str, Any], folder: Path) -> dict[str, Any]:
    """No rule whose caution speaks of being killed or of shock, or whose worst is death, opens with these words."""
    speaking = [rule for rule in collect().rules if rule.severity == "catastrophic" or _speaks_of_shock(rule)]
    used = {rule.caution.split(":")[0] for rule in speaking}
    assert len(speaking) > len(words("signal_words"))
    return {"signal_word_not": [word.upper() for word in words("signal_words") if word not in used]}


def _speaks_of_shock(rule: Rule) -> bool:
    return re.search(r"\b(kill|kills|killed|shock|shocks)\b", rule.caution) is not None


NSPIRE: dict[str, tuple[str, ...]] = {
    "m-17": ("device-burnt-broken-or-wet",),
    "m-18": ("three-slot-without-ground", "live-and-neutral-reversed"),
    "m-20": ("box-without-cover", "panel-open", "splice-twisted-bare", "ungrounded-end-uncapped"),
    "m-21": ("box-burnt-or-wet", "panel-burnt-or-wet", "splice-burnt-or-wet", "insulation-burnt-torn-or-wet"),
    "m-22": ("device-does-not-trip", "breaker-does-not-trip"),
    "m-23": ("device-does-not-trip", "breaker-does-not-trip"),
    "m-24": ("receptacle-near-water-unprotected",),
    "m-25": ("panel-working-depth",),
    "m-26": ("breaker-burnt-or-broken",),
    "m-27": ("breaker-wet-loose-or-corroded",),
}
"""Deficiencies of the HUD standard and the rules that find them; m-19, an outlet without power, is no hazard here."""


def test_grades_keep_the_order_of_nspire() -> None:
    """m-28: what HUD calls life-threatening is in the highest band, and moderate is never above severe."""
    rules = {rule.name: rule for rule in collect().rules}
    bands: dict[str, set[int]] = {}
    for one, named in NSPIRE.items():
        for name in named:
            grade = data("grades")["grade"][risk_of(rules[name])]["confirmed"]
            bands.setdefault(ENTRIES[one]["expect"]["class"], set()).add(words("grades").index(grade))
    assert bands["Life-Threatening"] == {0}
    assert max(bands["Severe"]) <= min(bands["Moderate"])
    assert set(bands) == {"Life-Threatening", "Severe", "Moderate"}
