"""The whole way of a record through the house: load, shape, build, trace, judge."""

from __future__ import annotations

from collections.abc import Container, Iterable, Iterator
from dataclasses import dataclass
from pathlib import Path

from asfound.diagnose import Diagnosis, diagnose, probes
from asfound.judge.amend import Amendments, read_amendment
from asfound.judge.results import Results, regrade
from asfound.judge.rules import Rule
from asfound.judge.run import judge
from asfound.judge.tables import TableSet
from asfound.load import Document, Map, Problem, Refused, Seq, load_file
from asfound.pause import collector_paused
from asfound.photos import photo_items
from asfound.plugins import Collected, collect
from asfound.record import Record, build
from asfound.shape import Fault, faults
from asfound.trace import Installation, trace


@dataclass(frozen=True, slots=True)
class Survey:
    """A judged record with everything it came from."""

    record: Record
    installation: Installation
    rules: tuple[Rule, ...]
    tables: TableSet
    results: Results
    diagnoses: tuple[Diagnosis, ...] = ()


def survey(
    path: str | Path,
    as_of: str,
    *,
    named: Iterable[Path] = (),
    amended: Iterable[Path] = (),
    times: dict[str, float] | None = None,
    collected: Collected | None = None,
) -> Survey:
    """Judge the record at `path` by the tables in force on `as_of` (year-month-day).

    `named` adds files or folders of rules, `amended` files of local amendments.
    `collected` gives rules and tables instead of those installed and named.
    Raises `Refused` for the record and `BadRule` for rules, tables or amendments.
    """
    with collector_paused():
        record = read_record(load_file(path))
        installation = trace(record)
        diagnoses = diagnose(installation)
        installation.items["probe"] = probes(diagnoses)
        installation.items["photo"] = photo_items(record, Path(path).parent)
        collected = collected or collect(named)
        amendments = Amendments([read_amendment(file) for file in amended], as_of)
        tables = TableSet(collected.tables, as_of, amendments)
        amendments.check(tables.by_name, (rule.name for rule in collected.rules))
        results = judge(installation, collected.rules, tables, times)
        regrade(results, amendments)
    return Survey(record, installation, collected.rules, tables, results, tuple(diagnoses))


def read_record(document: Document) -> Record:
    """Check the form of a document and build its record.

    Raises `Refused` with every problem of form, and of tags as far as the form
    lets them be read.
    """
    found = faults(document.root, "record")
    if not found:
        return build(document)
    raise Refused(document.name, [*(fault.problem for fault in found), *_tag_problems(document, found)])


_APART = ("asfound", "invented", "notes")
"""Parts that no tag problem can follow from."""


def _tag_problems(document: Document, found: list[Fault]) -> list[Problem]:
    """Problems of tags in what has the right form; entries of wrong form only lend their tags.

    Nothing when a whole part of the record cannot be read, because then every
    tag in it would seem to be missing.
    """
    wrong: dict[str, set[str | int]] = {}
    for fault in found:
        if fault.path[:1] and fault.path[0] in _APART:
            continue
        if len(fault.path) < 2 or fault.path[:2] == ("supply", "system"):
            return []
        wrong.setdefault(str(fault.path[0]), set()).add(fault.path[1])
    root = document.root
    trimmed = _copy(root, ())
    withheld: set[str] = set()
    for section, entries in wrong.items():
        held = root[section]
        trimmed[section] = _copy(held, entries) if isinstance(held, Map) else _rest(held, entries)
        if section not in ("site", "supply"):
            withheld.update(_tags(held, entries))
    try:
        build(Document(trimmed, document.name, document.sha256), withheld)
    except Refused as refused:
        return refused.problems
    return []


def _copy(held: Map, without: Container[str | int]) -> Map:
    """A mapping with the same entries and places, less those named."""
    kept = Map(held.place)
    kept.places, kept.key_places, kept.written = held.places, held.key_places, held.written
    kept.update((name, value) for name, value in held.items() if name not in without)
    return kept


def _rest(held: Seq, without: Container[str | int]) -> Seq:
    """A list with the same entries and places, less those at the positions named."""
    kept = Seq(held.place)
    for index, value in enumerate(held):
        if index not in without:
            kept.append(value)
            kept.places.append(held.places[index])
    return kept


def _tags(held: Map | Seq, entries: Iterable[str | int]) -> Iterator[str]:
    """The tags of the entries named: of a mapping their names, of a list what they call themselves."""
    for entry in entries:
        if isinstance(held, Map):
            yield str(entry)
        elif isinstance(entry, int) and isinstance(held[entry], Map):
            yield str(held[entry].get("file" if "file" in held[entry] else "tag", ""))
