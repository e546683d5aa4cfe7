"""Facts for people who write rules: the page, the typed items of the editor, and the examples in both.

The files are generated; each is held to the catalogue of facts and the record schema, and every example
in them is read back by the engine.
"""

from __future__ import annotations

import json
import os
import subprocess
import sys
from collections.abc import Iterator
from functools import cache
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner

import asfound.items
from asfound.command.rule_facts import facts
from asfound.data import data
from asfound.diagnose import diagnose, probes
from asfound.judge.cases import made_item, read_cases
from asfound.kit.catalogue import IN_RECORD, UNITS, FactEntry, entries, entry, every, kinds, words_of
from asfound.kit.facts_page import PAGE, WIDTH, facts_page, kind_page
from asfound.kit.typed import MODULE, class_of, typed_module
from asfound.load import Refused, load_bytes
from asfound.photos import photo_items
from asfound.plugins import collect
from asfound.record.facts import Fact, Item
from asfound.survey import read_record
from asfound.trace import trace

ROOT = Path(__file__).parent.parent
EVERY = [pytest.param(one, id=f"{one.kind}: {one.name}") for one in every()]


# -- the generated files


def test_page_is_what_the_catalogue_gives_today() -> None:
    """Renew it by `asfound rule facts --page > engine/pages/facts.md`."""
    assert (ROOT / PAGE).read_text(encoding="utf-8") == facts_page()


def test_typed_items_are_what_the_catalogue_gives_today() -> None:
    """Renew them by `asfound rule facts --typed > engine/asfound/items.py`."""
    assert (ROOT / MODULE).read_text(encoding="utf-8") == typed_module()


def test_every_kind_and_fact_is_in_both() -> None:
    """Each fact of the catalogue once in the section of its kind, and once in its class."""
    for kind, held in data("facts").items():
        section = kind_page(kind)
        made = vars(getattr(asfound.items, class_of(kind)))["__annotations__"]
        assert list(made) == list(held["facts"])
        for name in held["facts"]:
            assert section.count(f"- **{name}** (") == 1


def test_every_unit_has_words() -> None:
    units = {fact.get("unit", "") for held in data("facts").values() for fact in held["facts"].values()}
    assert units - {""} == set(UNITS)


def test_sections_fit_a_terminal() -> None:
    assert max(len(line) for kind in kinds() for line in kind_page(kind).splitlines()) <= WIDTH


# -- every example is read by the engine

BASE = """
asfound: 1
invented: true
site: {name: Tryout cottage}
visits: {V1: {on: 2026-05-04, by: A. Example}}
supply: 120/240 split phase
instruments: {meter 1: {type: multimeter}}
panels: {A: {breakers: {3: {amps: 20}}}}
cables:
  W1: {type: 14/2 NM-B with ground, from: A 3, to: hall}
  W2: {type: 14/2 NM-B with ground, from: hall, to: {at: den, black: capped, white: capped, bare: loose}}
boxes: {hall: {kind: nonmetallic}, den: {kind: nonmetallic}}
joints: {J1: {at: hall, ends: [W1 white, W2 white]}}
devices: {R1: {kind: duplex receptacle, at: hall}}
readings: [{kind: voltage, between: [W1 black, earth], value: 120 V}]
log: [{did: switched, what: A 3, to: "off"}]
labels: [{on: W1, says: hall}]
photos: [{file: hall-02.png, shows: hall}]
"""


def merged(one: Any, two: Any) -> Any:
    """A record with what an example says of it, entry by entry."""
    if isinstance(one, dict) and isinstance(two, dict):
        return {**one, **{key: merged(one.get(key), held) for key, held in two.items()}}
    if isinstance(one, list) and isinstance(two, list):
        return [merged(first, second) for first, second in zip(one, two, strict=True)]
    return two


def as_record(one: FactEntry) -> list[Item]:
    """The items of the kind in a record that says what the example says."""
    said = load_bytes(one.example.encode(), "example").root
    held = merged(load_bytes(BASE.encode(), "base").root, said)
    record = read_record(load_bytes(json.dumps(held).encode(), "example.json"))
    return trace(record).items[one.kind] if one.kind != "photo" else photo_items(record, ROOT)


@pytest.mark.parametrize("one", [case for case in EVERY if case.values[0].written == IN_RECORD])
def test_example_in_a_record_gives_the_fact(one: FactEntry) -> None:
    """The line as printed, set into a small record: accepted by the schema, built, and there as a fact of its form."""
    try:
        found = [item.data[one.name] for item in as_record(one) if one.name in item.data]
    except Refused as refused:
        pytest.fail(str(refused))
    values = [value for held in found for value in (held.values if isinstance(held, Fact) else (held,))]
    assert values
    right = [value for value in values if of_form(one, value)]
    assert right
    last = one.example.rstrip("}]").rpartition(": ")[2].strip('"')
    if one.form == "word":
        assert last in right


def of_form(one: FactEntry, value: Any) -> bool:
    """Whether a value has the form that the page names for its fact."""
    if one.form == "number":
        return isinstance(value, int | float) and not isinstance(value, bool)
    if one.form == "yes/no":
        return isinstance(value, bool)
    if one.form == "words":
        return isinstance(value, tuple)
    return isinstance(value, str)


@pytest.mark.parametrize("one", [case for case in EVERY if case.values[0].written != IN_RECORD])
def test_example_in_a_case_gives_the_fact(one: FactEntry) -> None:
    """The line as printed, as the item of a case."""
    held = load_bytes(one.example.encode(), "example").root
    made = made_item(one.kind, held[one.kind], "example").data[one.name]
    if one.of:
        (related,) = (made,) if one.form == "item" else made
        assert related.kind == one.of
    else:
        assert of_form(one, made.value)


# -- the words are all there are


def every_value(item: Item, done: set[int]) -> Iterator[tuple[str, str, Any]]:
    """Kind, name and value of every fact of an item and of what it holds."""
    if id(item) in done:
        return
    done.add(id(item))
    for name, held in item.data.items():
        if name not in data("facts")[item.kind]["facts"]:
            continue
        if isinstance(held, Fact):
            for value in held.values:
                for single in value if isinstance(value, tuple) else (value,):
                    yield item.kind, name, single
        elif isinstance(held, str):
            yield item.kind, name, held
        else:
            for one in held if isinstance(held, tuple) else (held,):
                if isinstance(one, Item):
                    yield from every_value(one, done)


@cache
def met() -> frozenset[tuple[str, str, str]]:
    """Every word met in the demo record, the records of lawful wiring, and the cases of all built-in rules."""
    found: set[tuple[str, str, str]] = set()
    for file in [ROOT / "fixtures" / "demo.yaml", *sorted((ROOT / "fixtures" / "lawful").glob("*.yaml"))]:
        record = read_record(load_bytes(file.read_bytes(), file.name))
        installation = trace(record)
        installation.items["probe"] = probes(diagnose(installation))
        installation.items["photo"] = photo_items(record, file.parent)
        done: set[int] = set()
        for items in installation.items.values():
            for item in items:
                found.update(word for word in every_value(item, done) if isinstance(word[2], str))
    for rule in collect().rules:
        for case in read_cases(rule):
            found.update(word for word in every_value(case.item, set()) if isinstance(word[2], str))
    return frozenset(found)


def test_no_word_is_met_that_the_page_does_not_name() -> None:
    """Where the page lists words, no record and no case has another: the typed items would call it impossible."""
    other = sorted(
        (kind, name, word) for kind, name, word in met() if words_of(kind, name) and word not in words_of(kind, name)
    )
    assert other == []


def test_words_are_met() -> None:
    """The test above looks at something: of most facts that have words, two or more are met."""
    listed = [one for one in every() if one.words]
    twice = [one for one in listed if sum((kind, name) == (one.kind, one.name) for kind, name, _ in met()) > 1]
    assert len(twice) > len(listed) * 2 // 3


def test_spelling_is_as_a_rule_sees_it() -> None:
    """Where a record may be spelt in two ways a rule sees one of them."""
    assert "grey" in words_of("cable", "jacket")
    assert "gray" not in words_of("cable", "jacket")
    assert words_of("conductor", "metal") == ("copper", "aluminium", "copper-clad aluminium")


# -- in an editor and for a type checker

RIGHT = '''
from collections.abc import Iterator

from asfound.authoring import Defect, for_words, given, only_if, rule
from asfound.items import Box, Conductor, Site, Tables


@rule(
    "office-cover", of="box", severity="critical", likelihood="occasional",
    caution="Warning: an invented rule.", defer="The local code and a licensed electrician decide.",
    source="invented", basis="common practice",
)
def cover_missing(box: Box, tables: Tables, site: Site) -> Iterator[str | Defect]:
    """Box without a cover."""
    only_if(box.kind != "no box")
    room = given(box, "volume", 0) + box.added_volume * 2.0
    if box.cover in ("missing", "broken") and site.built < 1960 and room > tables.value("limit", "volume"):
        yield Defect(f"{box.words}: {smallest(box.conductors)}, {for_words(box, 'room')}.", at=box, parts=box.devices)


def smallest(conductors: tuple[Conductor, ...]) -> str:
    return min(conductor.gauge for conductor in conductors if "brittle" in conductor.condition)
'''


def checked(folder: Path, text: str) -> str:
    """What mypy says of a rule in its strict form."""
    file = folder / "own.py"
    file.write_text(text)
    paths = os.pathsep.join(str(ROOT / name) for name in ("engine", "rules", "schemas"))
    done = subprocess.run(
        [sys.executable, "-m", "mypy", "--strict", "--follow-imports=silent", "--explicit-package-bases", "--config-file=",
         "--cache-dir", str(ROOT / ".mypy_cache" / "facts"), str(file)],
        capture_output=True, text=True, cwd=folder, env={**os.environ, "MYPYPATH": paths}, check=False,
    )  # fmt: skip
    return done.stdout + done.stderr


@pytest.mark.parametrize(
    ("before", "after", "words"),
    [
        pytest.param("", "", "Success", id="right"),
        pytest.param("box.added_volume", "box.aded_volume", '"Box" has no attribute "aded_volume"; maybe "added_volume"',
                     id="misspelt fact"),
        pytest.param("conductor.gauge", "conductor.gage", '"Conductor" has no attribute "gage"', id="of a related item"),
        pytest.param('"no box"', '"no bx"', "Non-overlapping", id="misspelt word"),
        pytest.param("site.built < 1960", 'site.built < "1960"', "Unsupported operand types", id="text for a number"),
    ],
)  # fmt: skip
def test_type_checker_knows_the_facts(tmp_path: Path, before: str, after: str, words: str) -> None:
    """A right rule passes in the strict form; a slip is named with its line."""
    assert before in RIGHT
    said = checked(tmp_path, RIGHT.replace(before, after) if before else RIGHT)
    assert words in said
    assert ("own.py" in said) == bool(before)


def test_type_checker_accepts_the_sample_pack(tmp_path: Path) -> None:
    """The rule of `fixtures/pack` is written with the typed items."""
    text = (ROOT / "fixtures" / "pack" / "tails.py").read_text(encoding="utf-8")
    assert "box: Box, tables: Tables" in text
    assert "Success" in checked(tmp_path, text)


def test_a_typed_rule_runs(tmp_path: Path) -> None:
    """The classes are there at run time, and a rule written with them is loaded as any other."""
    file = tmp_path / "own.py"
    file.write_text(RIGHT)
    assert collect([file]).rule("office-cover").of == "box"


# -- the command


def test_command_lists_kinds() -> None:
    done = CliRunner().invoke(facts, [])
    assert done.exit_code == 0
    assert all(f"\n{kind} " in f"\n{done.output}" for kind in kinds())
    assert max(map(len, done.output.splitlines())) <= WIDTH


def test_command_prints_a_kind() -> None:
    done = CliRunner().invoke(facts, ["box"])
    assert done.exit_code == 0
    assert done.output.startswith(kind_page("box"))
    assert "{box.words}" in done.output.removeprefix(kind_page("box"))
    both = CliRunner().invoke(facts, ["box", "device"])
    assert all(kind_page(kind) in both.output for kind in ("box", "device"))
    assert "boxes: {hall: {volume: 18}}" in done.output


@pytest.mark.parametrize(
    ("given", "text"),
    [pytest.param("--page", facts_page, id="page"), pytest.param("--typed", typed_module, id="typed items")],
)
def test_command_prints_the_generated_files(given: str, text: Any) -> None:
    done = CliRunner().invoke(facts, [given])
    assert (done.exit_code, done.output) == (0, text())


@pytest.mark.parametrize(
    ("given", "words"),
    [
        pytest.param(["bx"], "did you mean 'box'", id="misspelt kind"),
        pytest.param(["box", "--page"], "leave out 'box'", id="kind and page"),
    ],
)
def test_command_refuses(given: list[str], words: str) -> None:
    done = CliRunner().invoke(facts, given)
    assert done.exit_code == 2
    assert words in " ".join(done.output.split())


def test_an_unknown_fact_has_no_entry() -> None:
    with pytest.raises(KeyError):
        entry("box", "volumes")
    assert entry("box", "volume") in entries("box")
