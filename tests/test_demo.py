"""The demo record: it holds what it is said to hold, and its defects are the planted ones and no others.

`fixtures/demo.planted.yaml` lists the mistakes put in on purpose, each with a
change of the text that mends it, and what looks wrong and is not, often with a
change that makes it wrong. Figures and their sources stand there, beside each.
"""

from __future__ import annotations

import functools
import json
import random
import re
from collections.abc import Iterable, Iterator
from pathlib import Path
from typing import Any

import pytest

from asfound.load import load_file
from asfound.survey import Survey, survey

FIXTURES = Path(__file__).resolve().parent.parent / "fixtures"
DEMO = FIXTURES / "demo.yaml"
SMALL = FIXTURES / "small.yaml"
AS_OF = "2026-05-20"
LIST = load_file(FIXTURES / "demo.planted.yaml").root
PLANTED: list[Any] = LIST["planted"]
NOT_DEFECTS: list[Any] = LIST["not defects"]
FOLLOWS = {(one["rule"], one["at"], one["certainty"]) for one in LIST["follows"]}
"""Remarks and consequences that other rules find, each with its reason in the list."""

Told = tuple[str, str, str]  # rule, item, certainty


@functools.cache
def demo() -> Survey:
    """The demo judged on the fixed date; the survey is not changed by any test."""
    return survey(DEMO, AS_OF)


def told(done: Survey) -> set[Told]:
    """Rule, item and certainty of every finding; two of one rule at one item, for two reasons, count once."""
    return {(found.rule.name, found.at, found.certainty) for found in done.results.findings}


def expected(entry: Any) -> set[Told]:
    """What one planted mistake must give, with what follows from it."""
    return {(one["rule"], one["at"], one["certainty"]) for one in (entry, *entry.get("also", ()))}


def changed(changes: Iterable[Any], folder: Path) -> Survey:
    """The demo judged after changes of its text; each must fit at exactly one place."""
    text = DEMO.read_text(encoding="utf-8")
    for change in changes:
        assert text.count(change["was"]) == 1, f"{change['was']!r} is not in the demo exactly once"
        text = text.replace(change["was"], change["now"])
    file = folder / "changed.yaml"
    file.write_text(text, encoding="utf-8")
    return survey(file, AS_OF)


def by_number(entry: Any) -> str:
    return f"{entry['number']} {entry['rule']}"


def by_what(entry: Any) -> str:
    return str(entry["what"])


# -- what it holds


@pytest.mark.parametrize(
    ("what", "least"),
    [
        pytest.param("cables", 60, id="cables"),
        pytest.param("boxes", 30, id="boxes"),
        pytest.param("joints", 40, id="joints"),
        pytest.param("devices", 25, id="devices"),
        pytest.param("readings", 12, id="readings"),
        pytest.param("log entries", 20, id="log entries"),
        pytest.param("panels", 2, id="main panel and porch panel"),
    ],
)
def test_size(what: str, least: int) -> None:
    """The demo is as large as a kitchen with what hangs on its circuits."""
    assert demo().record.count()[what] >= least


def test_twelve_circuits_with_wiring() -> None:
    """At least twelve breakers of the main panel have wiring on them."""
    wired = [b for b in demo().installation.items["breaker"] if b.tag.startswith("A ") and b.data["conductors"]]
    assert len(wired) >= 12


def test_invented_and_marked_so() -> None:
    """The record says that it is invented, and where an address would stand."""
    root = load_file(DEMO).root
    assert root["invented"] is True
    assert root["site"]["address"] == "invented"


def test_the_log_is_in_order_of_time() -> None:
    """Every entry has its time and none goes back."""
    times = [entry.at for entry in demo().record.log]
    assert all(times)
    assert times == sorted(times)


def test_two_visits_say_what_was_not_looked_at() -> None:
    """Both visits name what was left out and why."""
    visits = demo().record.visits
    assert len(visits) == 2
    assert all(visit.not_looked_at for visit in visits.values())


@pytest.mark.parametrize(
    "way",
    ["by eye", "printed legend", "jacket colour", "told"],
)
def test_way_of_knowing_is_used(way: str) -> None:
    """The demo shows each of these ways of knowing a value."""
    assert f"how: {way}" in DEMO.read_text(encoding="utf-8")


@pytest.mark.parametrize(
    "form",
    [
        pytest.param("{one_of: [", id="listed values"),
        pytest.param("{not_seen: ", id="not seen, with the reason"),
        pytest.param("NM-B with ground or 14/2", id="short form with or"),
        pytest.param("from: not traced", id="end not traced"),
    ],
)
def test_form_of_doubt_is_used(form: str) -> None:
    """The demo shows each form of doubt."""
    assert form in DEMO.read_text(encoding="utf-8")


# -- what is found


def test_no_rule_failed() -> None:
    """Every rule gives an answer on every item."""
    assert demo().results.failed == []


def test_sixteen_are_planted() -> None:
    """The list numbers sixteen mistakes from one on."""
    assert [entry["number"] for entry in PLANTED] == list(range(1, 17))


@pytest.mark.parametrize("entry", PLANTED, ids=by_number)
def test_planted_defect_is_found(entry: Any) -> None:
    """Each planted mistake is found by its rule, at its item, with its certainty."""
    assert expected(entry) <= told(demo())


def test_nothing_else_is_found() -> None:
    """What is confirmed or likely is exactly what was planted."""
    planted = set().union(*map(expected, PLANTED)) | FOLLOWS
    certain = {one for one in told(demo()) if one[2] != "possible"}
    assert certain == {one for one in planted if one[2] != "possible"}


@pytest.mark.parametrize("entry", PLANTED, ids=by_number)
def test_mended_defect_is_gone(entry: Any, tmp_path: Path) -> None:
    """Put right, the mistake gives nothing more, and mending it starts nothing new that is confirmed or likely."""
    after = told(changed(entry["mend"], tmp_path))
    items = {(rule, at) for rule, at, _ in expected(entry)}
    assert not [one for one in after if one[:2] in items]
    started = {one for one in after if one[2] != "possible"} - told(demo())
    # A reading taken with the mistake in place contradicts the mended wiring, which the record rule says.
    told_by_readings = {"live-with-its-breakers-off", "readings-fit-what-can-kill", "readings-not-explained"}
    assert {rule for rule, _, _ in started} <= {rule for rule, _, _ in FOLLOWS} | told_by_readings


# -- what looks wrong and is not


@pytest.mark.parametrize("entry", NOT_DEFECTS, ids=by_what)
def test_not_a_defect(entry: Any) -> None:
    """Nothing is found at what only looks wrong, not even as a question; the items are there to be looked at."""
    known = {item.identity for items in demo().installation.items.values() for item in items}
    assert set(entry["items"]) <= known
    assert not [one for one in told(demo()) - FOLLOWS if one[1] in entry["items"]]


@pytest.mark.parametrize("entry", [entry for entry in NOT_DEFECTS if "would be" in entry], ids=by_what)
def test_it_would_be_a_defect_if(entry: Any, tmp_path: Path) -> None:
    """The same place with the one thing changed that makes it lawful is found."""
    would = entry["would be"]
    assert expected(would["finds"]) <= told(changed(would["change"], tmp_path))


def test_one_claim_is_proven_and_one_is_not() -> None:
    """Of two things called dead, the log shows live-dead-live for one."""
    counted = demo().results.counts["called-dead-without-proof"]
    assert (counted["clear"], counted["defect"]) == (1, 1)


# -- what stays the same


@pytest.mark.parametrize("seed", [1, 2, 3])
@pytest.mark.parametrize("section", ["cables", "boxes", "joints", "devices"])
def test_order_does_not_matter(section: str, seed: int, tmp_path: Path) -> None:
    """Identities and everything told stay the same when a section is written in another order."""
    root: dict[str, Any] = dict(load_file(DEMO).root)
    tags = list(root[section])
    random.Random(seed).shuffle(tags)
    assert tags != list(root[section])
    root[section] = {tag: root[section][tag] for tag in tags}
    file = tmp_path / "shuffled.json"
    file.write_text(json.dumps(root), encoding="utf-8")
    after = survey(file, AS_OF)
    assert identities(after) == identities(demo())
    assert told(after) == told(demo())


def identities(done: Survey) -> set[str]:
    """Identities of all findings; no two findings share one."""
    found = [finding.identity for finding in done.results.findings]
    assert len(found) == len(set(found))
    return set(found)


# -- the small record


def test_small_record() -> None:
    """The record of the README is short and has one defect: 14 AWG behind a 20 A breaker (NEC 240.4(D): 15 A)."""
    lines = SMALL.read_text(encoding="utf-8").splitlines()
    assert 15 <= len(lines) <= 25
    done = survey(SMALL, AS_OF)
    assert told(done) == {("conductor-too-small", "conductor W3 black", "confirmed")}
    assert done.record.count()["cables"] in (3, 4)
    assert done.record.invented
    assert done.results.failed == []


# -- names


CAPITALS = {
    # invented names
    "R", "K", "L", "Example", "Sample", "Specimen", "Thrushmoor", "Farm", "Cottage",
    # tags, ratings, the trade's letters
    "A", "B", "C", "J", "M", "S", "T", "V", "W", "Z", "LT", "WH", "DW", "HOOD", "DISPOSAL", "PUMP", "AF", "PF",
    "CAT", "III", "IV", "OL", "NM", "UF", "AL", "WITH", "GROUND", "CO", "ALR", "FS", "FD",
    # first words of sentences
    "Loft", "Den", "Owner", "Nobody", "Cloth", "The",
}  # fmt: skip
"""Every word with a capital letter that the fixtures may hold; a brand would stand out among them."""


@pytest.mark.parametrize("file", [DEMO, SMALL], ids=lambda file: file.name)
def test_no_other_names(file: Path) -> None:
    """No word with a capital letter but the invented names, the tags and the trade's own letters."""
    words = {
        word for text in _texts(load_file(file).root) for word in re.findall(r"[A-Z][A-Za-z]*|[a-z]+[A-Z]\w*", text)
    }
    assert words <= CAPITALS


def _texts(value: Any) -> Iterator[str]:
    """Every piece of text in a document, names of things included."""
    if isinstance(value, dict):
        for key, held in value.items():
            yield key
            yield from _texts(held)
    elif isinstance(value, list):
        for held in value:
            yield from _texts(held)
    elif isinstance(value, str):
        yield value
