"""The form of a record: what is accepted, and how every fault is told to the person who wrote it."""

from __future__ import annotations

import json
import os
import re
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from jsonschema import Draft202012Validator

from asfound.data import data
from asfound.load import Document, Refused, load_bytes
from asfound.names import SHOWN, Names
from asfound.shape import MOST_CHOICES, _fast, faults, name_of, problems, split_choice
from asfound.shape.doubt import DOUBT, Spot, spots
from asfound.shape.words import explain
from asfound.survey import read_record
from asfound_schemas import schema
from examples import examples as drawn
from strategies import JUNK, RICH, as_yaml, at, rich, spoilt

SCHEMA = schema("record")
SENTENCE = re.compile(r"house\.(yaml|json)( line [1-9][0-9]*)(, [^\n]+?)?: [^\n]+; [^\n]+\.\Z")
FOREIGN = re.compile(
    r"Traceback|jsonschema|schema|valid|regex|does not match|properties|instance|\bNone\b|\bTrue\b|\\Z"
)
"""Words of the validator or of the language it is written in."""

Steps = tuple[str | int, ...]


def document(value: dict[str, Any]) -> Document:
    return load_bytes(as_yaml(value).encode(), "house.yaml")


def changed(path: Steps, value: Any = ...) -> dict[str, Any]:
    """The rich record with the value at `path` set or, without a value, taken out."""
    record = rich()
    holder = at(record, path[:-1])
    if value is ...:
        del holder[path[-1]]
    else:
        holder[path[-1]] = value
    return record


def told(record: dict[str, Any]) -> list[str]:
    """What is said of the form of a record, each sentence checked for its own form."""
    refused = Refused("house.yaml", problems(document(record).root, "record"))
    for sentence in refused.sentences():
        assert SENTENCE.match(sentence), sentence
        assert not FOREIGN.search(sentence), sentence
    return refused.sentences()


def test_rich_record_has_the_right_form() -> None:
    """The record that uses every part of the form is accepted."""
    assert problems(load_bytes(RICH.encode(), "house.yaml").root, "record") == []


# -- how faults are told


@pytest.mark.parametrize(
    ("path", "value", "sentence"),
    [
        pytest.param(
            ("cables", "W1", "guage"), 14,
            "cable W1: nothing called 'guage' belongs here; did you mean 'gauge'? Names that do: gauge, type,",
            id="misspelt name",
        ),
        pytest.param(
            ("cabels",), {}, "nothing called 'cabels' belongs here; did you mean 'cables'?",
            id="misspelt part of the record",
        ),
        pytest.param(
            ("panels", "A", "breakers", "1"), {"amp": 15},
            "panel A, breaker 1: nothing called 'amp' belongs here; did you mean 'amps'?",
            id="misspelt name in a breaker",
        ),
        pytest.param(
            ("cables", "W1", "metal"), "coper",
            "cable W1, metal: 'coper' is not one of the words for metal; did you mean 'copper'? The words are: copper,",
            id="misspelt word",
        ),
        pytest.param(
            ("boxes", "hall", "room"), "Kitchen", "is not one of the words for room; did you mean 'kitchen'?",
            id="capital",
        ),
        pytest.param(
            ("boxes", "attic"), "octagon 4 x 1-1/2",
            "box attic: 'octagon 4 x 1-1/2' is not one of the words for box or other place where wires end; "
            "did you mean 'octagonal 4 x 1-1/2'?",
            id="misspelt short form",
        ),
        pytest.param(
            ("devices", "R1", "slots"), 4,
            "device R1, slots: 4 is not one of the words for slots; the words are: 2, 3.",
            id="number that is none of the few",
        ),
        pytest.param(
            ("cables", "W1", "condition"), ["sound", "scorchd"],
            "cable W1, condition, number 2: 'scorchd' is not one of the words for condition word; did you "
            "mean 'scorched'?",
            id="misspelt word in a list",
        ),
        pytest.param(
            ("cables", "W1", "length"), "40 foot",
            "cable W1, length: '40 foot' cannot be read as length; a length with its unit: ft, in, m, cm or mm.",
            id="unit not known",
        ),
        pytest.param(
            ("cables", "W1", "length"), 40, "cable W1, length: 40 cannot be read as length; write it like 40 ft.",
            id="unit missing",
        ),
        pytest.param(
            ("cables", "W1", "length"), "40 ft\n",
            "cable W1, length: '40 ft\\n' cannot be read as length; a length with",
            id="line end after the unit",
        ),
        pytest.param(
            ("cables", "W1", "gauge"), 99,
            "cable W1, gauge: 99 must be at most 24; AWG number, 1/0 to 4/0, kcmil, or square millimetres",
            id="too large",
        ),
        pytest.param(
            ("cables", "W1", "gauge"), "14 AWG",
            "cable W1, gauge: '14 AWG' cannot be read as wire size; AWG number, 1/0",
            id="size with a unit",
        ),
        pytest.param(("panels", "A", "main_amps"), 0, "panel A, main_amps: 0 must be above 0; ", id="nothing at all"),
        pytest.param(
            ("site", "built"), 58, "site, built: 58 must be at least 1850; a year of four digits; ", id="year",
        ),
        pytest.param(
            ("cables", "W1", "bundled"), 2.5, "cable W1, bundled: 2.5 stands where a whole number belongs; ",
            id="half a cable",
        ),
        pytest.param(
            ("invented",), "yes", "invented: 'yes' stands where true or false belongs; write true or false.", id="yes"
        ),
        pytest.param(
            ("cables", "W1", "fished"), "no", "cable W1, fished: 'no' cannot be read as fished; write true or false.",
            id="no",
        ),
        pytest.param(("asfound",), 2, "asfound: 2 is not known as format; write 1.", id="form to come"),
        pytest.param(
            ("visits", "V1", "on"), "2026-13-04",
            "visit V1, on: '2026-13-04' cannot be read as date; a day, written year-month-day: 2026-05-04.",
            id="month 13",
        ),
        pytest.param(
            ("readings", 0, "at"), "25:00",
            "reading 1, at: '25:00' cannot be read as date and time; date and 24-hour time",
            id="hour 25",
        ),
        pytest.param(
            ("readings", 0, "value"), 121,
            "reading 1, value: 121 cannot be read as value; write it like 121 V or 0.3 ohm",
            id="reading without a unit",
        ),
        pytest.param(
            ("readings", 0, "between"), "W1 black",
            "reading 1, between: 'W1 black' stands where a list belongs; write it like [W1 black, W1 bare].",
            id="no list",
        ),
        pytest.param(
            ("readings", 0, "between"), ["W1 black", "W1 white", "W1 bare"],
            "reading 1, between: it lists 3 and at most 2 belong here; ", id="three points",
        ),
        pytest.param(
            ("joints", "J1", "ends"), [], "joint J1, ends: there is nothing in it; fill it in", id="empty list",
        ),
        pytest.param(
            ("site", "name"), "", "site, name: there is nothing in it; fill it in or delete it.", id="empty text",
        ),
        pytest.param(
            ("cables", "W5", "to"), {"not_seen": "no"}, "cable W5, to, not_seen: 'no' is too short to tell anything; ",
            id="reason too short",
        ),
        pytest.param(
            ("boxes", "x" * 61), "no box", f"boxes: '{'x' * 57}...' cannot be a tag; a name of the person's own",
            id="tag too long",
        ),
        pytest.param(
            ("cables", "W,9"), "14/2", "cables: 'W,9' cannot be a tag; a name of the person's own for one thing,",
            id="comma",
        ),
        pytest.param(
            ("panels", "A", "breakers", "05"), 15,
            "panel A, breakers: '05' cannot be a breaker space; the number of a space (3)",
            id="space with a leading zero",
        ),
        pytest.param(("joints", "J1", "at"), ..., "joint J1: 'at' is missing; add it.", id="missing name"),
        pytest.param(
            ("devices", "R1", "kind"), ..., "device R1: 'kind' is missing; add it, or {kind: {not_seen: why}}.",
            id="missing value that may be doubted",
        ),
        pytest.param(("panels",), ..., "'panels' is missing; add it.", id="missing part of the record"),
        pytest.param(
            ("cables", "W1", "gauge"), None,
            "cable W1, gauge: there is no value after the name; write the value, or {not_seen: why}.", id="no value",
        ),
        pytest.param(
            ("devices", "R1"), None,
            "device R1: there is no value after the name; write it like {kind: duplex receptacle, at: hall, "
            "wired_to: W1}.",
            id="nothing said of a device",
        ),
        pytest.param(
            ("notes", 0), None, "notes, number 1: there is nothing at this place of the list; ", id="empty dash"
        ),
        pytest.param(
            ("log", 0), "switched",
            "log entry 1: 'switched' stands where a group of named values belongs; write it like {at:",
            id="text for a group",
        ),
        pytest.param(
            ("labels",), {}, "labels: {} stands where a list belongs; write it like [{on: W1,", id="group for a list",
        ),
        pytest.param(
            ("cables", "W1", "from"), 3,
            "cable W1, from: 3 stands where text belongs; write it like hall or A 3 or {at:",
            id="space without its panel",
        ),
        pytest.param(
            ("cables", "W1", "gauge"), {"guage": 14},
            "cable W1, gauge: {guage: 14} does not say what the value is; write it like 14, or with is, "
            "one_of or not_seen.",
            id="misspelt doubt",
        ),
        pytest.param(
            ("cables", "W1", "gauge"), {"is": 14, "hwo": "by eye"},
            "cable W1, gauge: nothing called 'hwo' belongs here; did you mean 'how'?", id="misspelt name in a doubt",
        ),
        pytest.param(
            ("cables", "W1", "gauge"), {"is": 14, "how": "by eyes"},
            "cable W1, gauge, how: 'by eyes' is not one of the words for how it is known; did you mean 'by eye'?",
            id="misspelt way of knowing",
        ),
        pytest.param(
            ("cables", "W1", "gauge"), {"is": 14, "one_of": [12, 10]},
            "cable W1, gauge: exactly one of is, one_of and not_seen belongs here; keep the one that holds.",
            id="two doubts",
        ),
        pytest.param(
            ("cables", "W1", "gauge"), {"one_of": [14]},
            "cable W1, gauge, one_of: it lists 1 and at least 2 belong here; ", id="choice of one",
        ),
        pytest.param(
            ("cables", "W1", "gauge"), {"one_of": [14, 12, 14]},
            "cable W1, gauge, one_of: the same value is listed twice; keep each once.", id="same choice twice",
        ),
        pytest.param(
            ("cables", "W1", "gauge"), {"one_of": [14, 99]},
            "cable W1, gauge, one_of, number 2: 99 must be at most 24; ",
            id="one choice wrong",
        ),
        pytest.param(
            ("cables", "W1", "gauge"), {"one_of": ["14 or 12", 10]},
            "cable W1, gauge, one_of, number 1: '14 or 12' holds an or inside a list; list each of its "
            "values by itself.",
            id="choice in a choice",
        ),
        pytest.param(
            ("cables", "W1", "gauge"), "14 or 99", "cable W1, gauge: 99 must be at most 24; ", id="short form wrong",
        ),
        pytest.param(
            ("cables", "W1", "gauge"), "14 or 12 or 10 or 8 or 6 or 4 or 3",
            "cable W1, gauge: it can be 7 values, and at most 6 may be listed; ", id="short form of seven",
        ),
        pytest.param(
            ("cables", "W1", "gauge"), "14 or ~", "cable W1, gauge: one of the values in '14 or ~' is missing; ",
            id="short form with nothing in it",
        ),
        pytest.param(
            ("cables", "W1", "gauge"), {"is": "14 or 99",
            "how": "by eye"}, "cable W1, gauge, is: 99 must be at most 24; ",
            id="short form inside a doubt",
        ),
        pytest.param(
            ("cables", "W1", "metal"), {"is": "coper", "how": "told"},
            "cable W1, metal, is: 'coper' is not one of the words for metal; did you mean 'copper'?",
            id="doubted word wrong",
        ),
        pytest.param(
            ("panels", "A", "breakers", "1"), "15 or 20",
            "panel A, breaker 1: '15 or 20' stands where the short form takes one certain value; "
            "write it in full: {amps: 15 or 20}.",
            id="doubt in the short form of a breaker",
        ),
        pytest.param(
            ("boxes", "attic"), {"one_of": ["no box", "other"]},
            "box attic: {one_of: [no box, other]} stands where the short form takes one certain value; "
            "write it in full: {kind: {one_of: [no box, other]}}.",
            id="doubt in the short form of a box",
        ),
        pytest.param(
            ("supply",), {"not_seen": "meter locked"},
            "supply: {not_seen: meter locked} stands where the short form takes one certain value; "
            "write it in full: {system: {not_seen: meter locked}}.",
            id="doubt in the short form of the supply",
        ),
        pytest.param(
            ("cables", "W3", "to", "red"), "losse",
            "cable W3, to, red: 'losse' cannot be read as state of a conductor end; capped, taped, loose",
            id="state of an end",
        ),
        pytest.param(
            ("cables", "W5", "passes", "sink left"), {"one_of": ["looped", "unbroken"]},
            "cable W5, passes, sink left: {one_of: [looped, unbroken]} is not one of the words for how it passes; ",
            id="doubt where none can be",
        ),
    ],
)  # fmt: skip
def test_told(path: Steps, value: Any, sentence: str) -> None:
    """One fault gives one sentence: place, cause, next step."""
    sentences = told(changed(path, value))
    assert len(sentences) == 1, sentences
    assert sentence in sentences[0]


def test_every_demand_of_the_schema_has_its_words() -> None:
    """The explainer knows every keyword the schema makes a demand with; a new one needs words and a case above."""
    words = {
        *("type", "enum", "const", "pattern", "minimum", "maximum", "exclusiveMinimum", "minLength", "maxLength"),
        *("minItems", "maxItems", "uniqueItems", "required", "additionalProperties", "propertyNames", "anyOf", "oneOf"),
        *("properties", "items", "if", "then", "else", "$ref", "$defs", "$schema", "$id"),
        *("title", "description", "examples"),
    }
    assert {key for part in parts(SCHEMA) for key in part} <= words


def test_all_faults_at_once_in_file_order() -> None:
    """Faults of form and of tags come together, by line, however they were found."""
    record = changed(("cables", "W1", "metal"), "coper")
    record["site"]["kind"] = "dweling"
    record["joints"]["J1"]["ends"][0] = "W1 blck"  # W1 is of wrong form: not told of twice
    record["joints"]["J2"]["ends"][0] = "W4 blck"
    record["cables"]["W5"]["from"] = "hal"
    record["cables"]["W8"]["gauge"] = {"one_of": [14, 99]}
    record["devices"]["S1"]["at"] = "hal"
    with pytest.raises(Refused) as caught:
        read_record(document(record))
    told_of = [(problem.place, problem.where) for problem in caught.value.problems]
    assert told_of == sorted(told_of, key=lambda one: one[0])
    assert [where for _, where in told_of] == [
        *("site, kind", "cable W1, metal", "cable W5, from", "cable W8, gauge, one_of, number 2", "joint J2"),
        "device S1",
    ]


def test_a_record_whose_part_is_misspelt_is_not_said_to_lack_every_tag() -> None:
    """With `cables` written `cabels`, every cable would seem undefined; only the slip is told."""
    record = rich()
    record["cabels"] = record.pop("cables")
    with pytest.raises(Refused) as caught:
        read_record(document(record))
    assert [problem.cause for problem in caught.value.problems] == ["nothing called 'cabels' belongs here"]


@pytest.mark.parametrize("section", ["panels", "cables", "boxes", "joints", "devices", "visits", "instruments"])
def test_one_wrong_entry_is_told_once(section: str) -> None:
    """What refers to an entry of wrong form is not reported as referring to nothing."""
    for tag in rich()[section]:
        record = rich()
        entry = record[section][tag]
        record[section][tag] = {**entry, "nonsense": 1} if isinstance(entry, dict) else 14.5
        with pytest.raises(Refused) as caught:
            read_record(document(record))
        assert len(caught.value.problems) == 1, caught.value.sentences()


@pytest.mark.parametrize("section", ["readings", "log", "labels", "photos"])
def test_one_wrong_list_entry_is_told_once(section: str) -> None:
    """The same for what stands in lists."""
    for index in range(len(rich()[section])):
        record = changed((section, index, "nonsense"), 1)
        with pytest.raises(Refused) as caught:
            read_record(document(record))
        assert len(caught.value.problems) == 1, caught.value.sentences()


@pytest.mark.parametrize(
    ("path", "words"),
    [
        ((), ""),
        (("site", "built"), "site, built"),
        (("panels", "A", "breakers", "5/7", "amps"), "panel A, breaker 5/7, amps"),
        (("cables", "W1", "conductors", "red 2", "marked"), "cable W1, conductor red 2, marked"),
        (("log", 3, "what", 0), "log entry 4, what, number 1"),
        (("notes", 0), "notes, number 1"),
    ],
)
def test_name_of(path: Steps, words: str) -> None:
    """A path is told in the words of the trade."""
    assert name_of(path) == words


def test_split_choice_reads_its_values_as_a_record_would() -> None:
    """The parts of a short form are values by the same rules."""
    assert split_choice("14 or 1/0 or 08 or true or 2.5 or NM-B or .inf") == [
        14,
        "1/0",
        "08",
        True,
        2.5,
        "NM-B",
        ".inf",
    ]


# -- names that are meant


@pytest.mark.parametrize(
    ("word", "known", "hint"),
    [
        pytest.param("hal", ["hall", "sink"], "did you mean 'hall'? Known here: hall, sink", id="letter missing"),
        pytest.param("w1", ["W1", "W2"], "did you mean 'W1'? Known here: W1, W2", id="case does not count"),
        pytest.param(
            "cabels", ["labels", "cables"], "did you mean 'cables'? Known here: cables, labels", id="same letters"
        ),
        pytest.param("zzz", ["hall", "sink"], "known here: hall, sink", id="nothing near"),
        pytest.param("hal", ["hall"], "did you mean 'hall', the only one known here", id="only one"),
        pytest.param("hal", [], "none is defined yet; add it first", id="none"),
    ],
)
def test_hint(word: str, known: list[str], hint: str) -> None:
    """The likely name first, and a short list."""
    assert Names(known).hint(word) == hint


@pytest.mark.parametrize("count", [50, 5000])
@pytest.mark.parametrize("word", ["box 0042", "box0042", "bxo 0042", "bax 0042", "bo 0042", "BOX 0042"])
def test_nearest_is_found_among_few_and_many(word: str, count: int) -> None:
    """One slip is seen through whatever the number of names, and no list grows past `SHOWN`."""
    names = Names(f"box {number:04}" for number in range(count))
    assert names.close(word)[0] == "box 0042"
    assert names.hint(word).count(",") < SHOWN
    assert f"and {count - SHOWN} more" in names.hint(word)


# -- what is accepted


def doubtable(part: dict[str, Any], root: Spot | None = None) -> Iterator[tuple[str, Spot]]:
    """The names in a part of the schema under which a value may be doubted."""
    top = spots(part, SCHEMA)
    assert top is not None
    yield from ((name, spot) for name, spot in top.parts.items() if spot.plain is not None)


PLACES: dict[str, tuple[Steps, Spot]] = {
    f"{kind} {name}": ((*path, name), spot)
    for kind, path in {
        "panel": ("panels", "A"),
        "breaker": ("panels", "A", "breakers", "2"),
        "cable": ("cables", "W6"),
        "conductor": ("cables", "W6", "conductors", "black"),
        "box": ("boxes", "hall"),
        "joint": ("joints", "J1"),
        "device": ("devices", "S1"),
        "reading": ("readings", 0),
    }.items()
    for name, spot in doubtable(SCHEMA["$defs"][kind])
}
PLACES["site built"] = (("site", "built"), spots(SCHEMA, SCHEMA).parts["site"].parts["built"])  # type: ignore[union-attr]
PLACES["supply system"] = (("supply", "system"), spots(SCHEMA, SCHEMA).parts["supply"].parts["system"])  # type: ignore[union-attr]
PLACES["state of an end"] = (("cables", "W6", "to", "black"), spots(SCHEMA["$defs"]["end"], SCHEMA).other)  # type: ignore[union-attr,assignment]


def accepted(path: Steps, value: Any) -> bool:
    """Whether a record of the right form keeps it with this value; its other entries are left out, for time."""
    whole = rich()
    record = {name: whole[name] for name in ("asfound", "site", "supply")}
    record["panels"] = {"A": {"breakers": {"2": whole["panels"]["A"]["breakers"]["2"]}}}
    if path[0] not in record:
        section = whole[path[0]]
        record[str(path[0])] = {path[1]: section[path[1]]} if isinstance(section, dict) else [section[path[1]]]
    if path[:2] == ("cables", "W6"):
        record["cables"]["W6"]["to"] = {"at": "sink left"}
    if path[:2] == ("panels", "A"):
        record["panels"]["A"] = whole["panels"]["A"]
    at(record, path[:-1])[path[-1]] = value
    return not faults(load_bytes(json.dumps(record).encode(), "house.json").root, "record")


def examples(spot: Spot) -> list[Any]:
    """Values that fit a place, as far as the schema names some: its examples, and the words it takes."""
    named: list[Any] = list(spot.whole.get("examples", []))
    for part in parts(spot.plain):
        named += part.get("enum", [])
        if "$ref" in part:
            target = SCHEMA["$defs"][part["$ref"].rpartition("/")[2]]
            named += [*target.get("enum", []), *target.get("examples", [])]
    return named


SCALARS = [value for value in JUNK if not isinstance(value, dict) and not (isinstance(value, str) and " or " in value)]


@st.composite
def placed(draw: st.DrawFn) -> tuple[Steps, Any, Any]:
    """A place where doubt may stand and two values for it, mostly such as fit."""
    path, spot = PLACES[draw(st.sampled_from(sorted(PLACES)))]
    fitting = [value for value in examples(spot) if not (isinstance(value, str) and " or " in value)]
    value = st.sampled_from(fitting) | st.sampled_from(SCALARS) if fitting else st.sampled_from(SCALARS)
    return path, draw(value), draw(value)


@settings(max_examples=drawn(200), deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(placed())
def test_a_doubted_value_is_accepted_exactly_where_the_value_is(case: tuple[Steps, Any, Any]) -> None:
    """`{is: v}` like v; `{one_of: [v, w]}` where both are; nothing doubted makes a wrong value right."""
    path, one, other = case
    alone = accepted(path, one)
    assert accepted(path, {"is": one}) == alone
    assert accepted(path, {"is": one, "how": "by eye", "by": "R. Example"}) == alone
    assert accepted(path, {"not_seen": "behind the wall"})
    if json.dumps(one) != json.dumps(other) and one != other:
        assert accepted(path, {"one_of": [one, other]}) == (alone and accepted(path, other))


@pytest.mark.parametrize("place", sorted(PLACES))
def test_short_form_of_every_place(place: str) -> None:
    """`v or w` is accepted where v and w are, and `v or nonsense` is not, but where any words are."""
    path, spot = PLACES[place]
    fitting = [v for v in examples(spot) if isinstance(v, (str, int, float)) and " or " not in str(v)]
    written = [{True: "true", False: "false"}.get(v, str(v)) if isinstance(v, bool) else str(v) for v in fitting]
    assert written, "every place has an example"
    assert accepted(path, f"{written[0]} or {written[-1]}")
    assert accepted(path, f"{written[0]} or §") == accepted(path, "§")


# -- spoilt records


@settings(
    max_examples=drawn(100), deadline=None, suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large]
)
@given(spoilt())
def test_a_spoilt_record_is_read_or_refused_with_a_place(record: dict[str, Any]) -> None:
    """Nothing but `Refused` leaves the reading of a record, and every sentence of it can be acted on."""
    try:
        held = load_bytes(json.dumps(record, indent=1).encode(), "house.json")
        read_record(held)
    except Refused as refused:
        problems_told = refused.problems
        sentences = refused.sentences()
    else:
        return
    assert sentences
    for sentence in sentences:
        assert SENTENCE.match(sentence), sentence
        assert not FOREIGN.search(sentence), sentence
        assert len(sentence) < 900
        listed = re.search(r"(words are|names that do|known here): ([^;]*)\.\Z", sentence, re.IGNORECASE)
        assert listed is None or listed.group(2).count(",") < SHOWN
    places = [problem.place for problem in problems_told]
    assert places == sorted(places)
    assert all(place.line >= 1 for place in places)


@settings(
    max_examples=drawn(100), deadline=None, suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large]
)
@given(spoilt())
def test_both_validators_agree(record: dict[str, Any]) -> None:
    """What the fast one refuses the explaining one can explain, and nothing else."""
    held = json.loads(json.dumps(record))
    assert _fast("record").is_valid(held) == (not list(explain(held, SCHEMA, SCHEMA)))


def test_plain_jsonschema_agrees_but_for_a_line_end_after_the_text() -> None:
    """Python's `$` also matches before a last line end, JSON Schema's does not (ECMA-262, RegExp)."""
    stock = Draft202012Validator(SCHEMA)
    assert stock.is_valid(changed(("cables", "W1", "length"), "40 ft\n"))
    assert not _fast("record").is_valid(changed(("cables", "W1", "length"), "40 ft\n"))
    assert not stock.is_valid(changed(("cables", "W1", "length"), "40 ft\n\n"))


def test_explaining_costs_nothing_where_nothing_is_wrong() -> None:
    """The slow validator is not even loaded for a sound record."""
    code = (
        "import sys; from asfound.load import load_file; from asfound.survey import read_record;"
        "read_record(load_file(sys.argv[1])); assert 'jsonschema' not in sys.modules"
    )
    small = Path(__file__).parent.parent / "fixtures" / "small.yaml"
    subprocess.run(
        [sys.executable, "-c", code, str(small)], check=True, env={**os.environ, "PYTHONPATH": ":".join(sys.path)}
    )


# -- the schema itself


def parts(value: Any) -> Iterator[dict[str, Any]]:
    """Every part of a schema that is a schema."""
    yield value
    for key in ("properties", "$defs"):
        for held in value.get(key, {}).values():
            yield from parts(held)
    for key in ("items", "additionalProperties", "propertyNames", "if", "then", "else"):
        if isinstance(value.get(key), dict):
            yield from parts(value[key])
    for key in ("anyOf", "oneOf"):
        for held in value.get(key, []):
            yield from parts(held)


def named_parts() -> Iterator[tuple[str, dict[str, Any]]]:
    """Every property and definition, by a name that is the same in every run."""
    for name, part in SCHEMA["$defs"].items():
        yield name, part
    for holder in parts(SCHEMA):
        for name, part in holder.get("properties", {}).items():
            yield f"{holder.get('title', 'part')} {name}", part


def test_schema_is_a_schema() -> None:
    """By the metaschema of draft 2020-12."""
    Draft202012Validator.check_schema(SCHEMA)


def test_every_property_is_told_of() -> None:
    """Each has a title, a sentence that ends, and an example."""
    for name, part in named_parts():
        assert part.get("title", "")[:1].isupper(), name
        assert part.get("description", "").endswith("."), name
        assert part.get("examples"), name


def test_every_example_fits() -> None:
    """Each example is accepted where it stands."""
    for name, part in named_parts():
        checker = Draft202012Validator({"$defs": SCHEMA["$defs"], **part})
        for example in part["examples"]:
            assert not list(checker.iter_errors(example)), (name, example)


def test_ways_of_knowing_are_those_of_the_data_file() -> None:
    """`how` takes the ways of ways.yaml, less those that only the program uses."""
    own = {"as written", "position in the panel", "insulation colour", "terminal it lands on"}
    how = SCHEMA["$defs"]["doubt"]["then"]["properties"]["how"]["enum"]
    assert set(how) == set(data("ways")["ways"]) - own
    assert len(how) == len(set(how))


@pytest.mark.parametrize("kind", ["panel", "breaker", "cable", "conductor", "box", "joint", "device"])
def test_every_value_that_may_be_doubted_is_a_fact(kind: str) -> None:
    """A value a person can record is one a rule can read; the type brings its own, leg becomes legs."""
    names = {name for name, _ in doubtable(SCHEMA["$defs"][kind])} - {"type", "leg"}
    assert names <= set(data("facts")[kind]["facts"])


@pytest.mark.parametrize("kind", ["panel", "breaker", "cable", "conductor", "box", "joint", "device"])
def test_free_text_is_the_same_to_schema_and_catalogue(kind: str) -> None:
    """Where the schema takes any words, the catalogue says text, so that an `or` in them is only a word."""
    for name, spot in doubtable(SCHEMA["$defs"][kind]):
        if spot.plain == {"type": "string", "minLength": 1} and name != "type":
            assert data("facts")[kind]["facts"][name]["is"] == "text", name
        elif name in data("facts")[kind]["facts"]:
            assert data("facts")[kind]["facts"][name]["is"] != "text", name


def test_lists_are_no_longer_than_the_schema_says() -> None:
    """The short form may list as many values as one_of."""
    assert SCHEMA["$defs"]["doubt"]["then"]["properties"]["one_of"]["maxItems"] == MOST_CHOICES
    assert DOUBT["$ref"].rpartition("/")[2] in SCHEMA["$defs"]
