"""The whole way of a record through the house: load, shape, build, trace, judge."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path

from asfound.judge.results import Results
from asfound.judge.rules import Rule
from asfound.judge.run import judge
from asfound.judge.tables import TableSet
from asfound.load import Document, Map, Problem, Refused, load_file
from asfound.plugins import collect
from asfound.record import Record, build
from asfound.shape import problems
from asfound.trace import Installation, trace


@dataclass(frozen=True, slots=True)
class Survey:
    """A judged record with everything it came from."""

    record: Record
    installation: Installation
    rules: tuple[Rule, ...]
    tables: TableSet
    results: Results


def survey(
    path: str | Path, as_of: str, *, named: Iterable[Path] = (), times: dict[str, float] | None = None
) -> Survey:
    """Judge the record at `path` by the tables in force on `as_of` (year-month-day).

    Raises `Refused` for the record and `BadRule` for rules or tables.
    """
    record = read_record(load_file(path))
    installation = trace(record)
    collected = collect(named)
    tables = TableSet(collected.tables, as_of)
    results = judge(installation, collected.rules, tables, times)
    return Survey(record, installation, collected.rules, tables, results)


def read_record(document: Document) -> Record:
    """Check the form of a document and build its record.

    Raises `Refused` with every problem of form, and of tags as far as the form
    lets them be read.
    """
    found = problems(document.root, "record")
    if not found:
        return build(document)
    more = _tag_problems(document, found)
    raise Refused(document.name, [*found, *more])


def _tag_problems(document: Document, found: list[Problem]) -> list[Problem]:
    """Problems of tags in the entries whose form is good; entries of bad form only lend their tags."""
    lines = {problem.place.line for problem in found}
    root = document.root
    if any(not isinstance(root.get(key), Map) for key in ("site", "panels")) or "supply" not in root:
        return []
    bad: set[str] = set()
    trimmed = Map(root.place)
    for key, value in root.items():
        trimmed.key_places[key], trimmed.places[key] = root.key_places[key], root.places[key]
        trimmed.written.update({key: root.written[key]} if key in root.written else {})
        trimmed[key] = _trim(value, lines, bad) if isinstance(value, Map) and key in SECTIONS else value
    try:
        build(Document(trimmed, document.name, document.sha256))
    except Refused as refused:
        return [p for p in refused.problems if not any(f"'{tag}'" in p.cause or f"'{tag} " in p.cause for tag in bad)
                and p.place.line not in lines]  # fmt: skip
    except Exception:  # the rest of the record is too far from its form to be read further
        return []
    return []


SECTIONS = ("panels", "cables", "boxes", "joints", "devices", "visits", "instruments")


def _trim(section: Map, lines: set[int], bad: set[str]) -> Map:
    """The section without the entries in which a problem of form lies."""
    kept = Map(section.place)
    starts = [section.key_places[tag].line for tag in section] + [10**9]
    for number, (tag, value) in enumerate(section.items()):
        first, after = starts[number], max(starts[number] + 1, starts[number + 1])
        if any(first <= line < after for line in lines):
            bad.add(tag)
            continue
        kept[tag] = value
        kept.key_places[tag], kept.places[tag] = section.key_places[tag], section.places[tag]
        if tag in section.written:
            kept.written[tag] = section.written[tag]
    return kept
