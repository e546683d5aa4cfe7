"""Tables of limits: data files with unit, editions by effective date, source, and how checked.

A table is read through `Tables` for one date, which gives the newest edition
not later than it and notes every row read. A date before the first edition, or
a row that is not there, ends the run as `Gap`: cannot tell, never a guess.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field, replace
from datetime import date
from pathlib import Path
from typing import Any

import yaml

from asfound.data import parse
from asfound.judge.amend import NONE, Amendment, Amendments
from asfound.judge.rules import BadRule
from asfound.judge.views import Gap, Run


@dataclass(frozen=True, slots=True)
class Edition:
    """One edition of a table: the date it counts from, its name, source and rows by joined key.

    `local` names the amendment behind each row that one has changed.
    """

    effective: str
    name: str
    source: str
    basis: str
    rows: dict[str, Any]
    from_memory: frozenset[str]
    local: dict[str, Amendment] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Table:
    """A table with its editions in order of date."""

    name: str
    unit: str
    key: tuple[str, ...]
    editions: tuple[Edition, ...]
    file: Path


@dataclass(frozen=True, slots=True)
class Row:
    """One row read: table, key as written, value with unit, edition and source."""

    table: str
    key: str
    value: Any
    unit: str
    edition: str
    effective: str
    source: str
    basis: str


def read_tables(file: Path) -> list[Table]:
    """The tables of one data file. Raises `BadRule` when it cannot be read or a part is missing."""
    try:
        parsed = parse(file.read_text(encoding="utf-8"))
    except OSError as error:
        raise BadRule(f"{file} cannot be read ({error.strerror}); check the path and its permissions") from None
    except (UnicodeDecodeError, yaml.YAMLError) as error:
        raise BadRule(f"{file} is not YAML in UTF-8: {' '.join(str(error).split())}") from None
    if not isinstance(parsed, dict) or not all(isinstance(held, dict) for held in parsed.values()):
        raise BadRule(f"{file} holds no tables; write each as a name with unit, key and editions under it")
    return [_table(str(name), held, file) for name, held in parsed.items()]


def _table(name: str, held: dict[str, Any], file: Path) -> Table:
    where = f"table {name!r} in {file}"
    _complete(held, ("unit", "key", "editions"), where)
    if not isinstance(held["editions"], dict):
        raise BadRule(f"{where}: editions are written by effective date, each with edition, source, checked and rows")
    editions = []
    for effective, edition in sorted(held["editions"].items(), key=lambda pair: str(pair[0])):
        _date(str(effective), where)
        _complete(edition, ("edition", "source", "checked", "rows"), f"{where}, edition {effective},")
        rows = {str(key): value for key, value in edition["rows"].items()}
        memory = edition.get("from_memory") or []
        if not isinstance(memory, list):
            raise BadRule(f"{where}, edition {effective}: from_memory lists keys of rows; write it like [14, 12]")
        about = (edition["edition"], edition["source"], edition["checked"])
        editions.append(Edition(str(effective), *about, rows, frozenset(map(str, memory))))
    return Table(name, held["unit"], tuple(held["key"]), tuple(editions), file)


def _complete(held: Any, parts: tuple[str, ...], where: str) -> None:
    lacking = [part for part in parts if not isinstance(held, dict) or not held.get(part)]
    if lacking:
        raise BadRule(f"{where} lacks {', '.join(lacking)}")
    if "rows" in parts and not isinstance(held["rows"], dict):
        raise BadRule(f"{where} writes its rows as key: value")


def _date(text: str, where: str) -> None:
    try:
        date.fromisoformat(text)
    except ValueError:
        raise BadRule(f"{where}: {text!r} is not a date; write it like 2020-01-01") from None


class TableSet:
    """All tables of a run, by name, read as of one date. Two editions of one table and date are refused."""

    def __init__(self, tables: Iterable[Table], as_of: str, amendments: Amendments = NONE) -> None:
        self.as_of = as_of
        self.amendments = amendments
        self.by_name: dict[str, Table] = {}
        self._editions: dict[str, Edition | None] = {}
        for table in tables:
            held = self.by_name.get(table.name)
            self.by_name[table.name] = table if held is None else _merged(held, table)

    def edition(self, name: str) -> Edition | None:
        """The edition of a table in force on the date of the run; None before the first."""
        if name not in self._editions:
            past = [edition for edition in self.by_name[name].editions if edition.effective <= self.as_of]
            self._editions[name] = self._amended(name, past[-1]) if past else None
        return self._editions[name]

    def _amended(self, name: str, edition: Edition) -> Edition:
        """The edition with the rows that local amendments change or add."""
        changed = self.amendments.rows(name)
        if not changed:
            return edition
        rows = {**edition.rows, **{key: value for key, (value, _) in changed.items()}}
        return replace(edition, rows=rows, local={key: amendment for key, (_, amendment) in changed.items()})


def _merged(one: Table, two: Table) -> Table:
    same = {e.effective for e in one.editions} & {e.effective for e in two.editions}
    if same or one.unit != two.unit or one.key != two.key:
        what = f"edition {min(same)}" if same else "unit or key"
        raise BadRule(f"table {one.name!r} is in {one.file} and in {two.file} with different {what}; keep one")
    editions = tuple(sorted((*one.editions, *two.editions), key=lambda edition: edition.effective))
    return Table(one.name, one.unit, one.key, editions, one.file)


class Tables:
    """What a rule sees of the tables in one run."""

    __slots__ = ("_run", "_tables")

    def __init__(self, tables: TableSet, run: Run) -> None:
        self._tables = tables
        self._run = run

    def value(self, name: str, *key: object) -> Any:
        """The value of the row with this key. Ends as cannot tell when there is none."""
        edition = self._edition(name)
        joined = "/".join(map(str, key))
        if joined not in edition.rows:
            raise Gap(f"the table {name!r} ({edition.name}) has no row {joined}")
        value = edition.rows[joined]
        self._note(name, joined, value, edition)
        return value

    def has(self, name: str, *key: object) -> bool:
        """Whether there is a row with this key in the edition of the run."""
        return "/".join(map(str, key)) in self._edition(name).rows

    def at_least(self, name: str, number: float, *prefix: object) -> Any:
        """The value of the first row, in rising order of its last key part, that is not below `number`."""
        edition = self._edition(name)
        start = "/".join(map(str, prefix)) + "/" if prefix else ""
        steps = sorted(float(key[len(start) :]) for key in edition.rows if key.startswith(start))
        for step in steps:
            if step >= number:
                joined = f"{start}{step:g}"
                value = edition.rows[joined]
                self._note(name, joined, value, edition)
                return value
        raise Gap(f"the table {name!r} ({edition.name}) ends below {number:g}")

    @property
    def as_of(self) -> str:
        """The date of the run, year-month-day."""
        return self._tables.as_of

    def _edition(self, name: str) -> Edition:
        tables = self._tables
        if name not in tables.by_name:
            raise LookupError(f"there is no table named {name!r}; tables: {', '.join(sorted(tables.by_name))}")
        edition = tables.edition(name)
        if edition is None:
            first = tables.by_name[name].editions[0]
            raise Gap(f"the table {name!r} begins with {first.name} ({first.effective}), after {tables.as_of}")
        return edition

    def _note(self, name: str, key: str, value: Any, edition: Edition) -> None:
        self._run.rows[name, key] = (value, edition)

    def rows(self) -> list[Row]:
        """The rows read so far."""
        return [self._row(name, key, value, edition) for (name, key), (value, edition) in self._run.rows.items()]

    def _row(self, name: str, key: str, value: Any, edition: Edition) -> Row:
        unit = self._tables.by_name[name].unit
        local = edition.local.get(key)
        if local is not None:
            return Row(name, key, value, unit, local.name, local.effective, local.source, "local amendment")
        basis = "from memory" if key in edition.from_memory else edition.basis
        return Row(name, key, value, unit, edition.name, edition.effective, edition.source, basis)
