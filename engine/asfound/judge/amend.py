"""Local amendments: an office or jurisdiction file that changes table rows or raises or lowers grades.

Named on the command line and named in every output. It never edits a table: a
changed row carries the amendment's own name, date and source. Before its
effective date it changes nothing.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import Any

from asfound.data import data
from asfound.judge.rules import BadRule
from asfound.load import Map, Refused, load_file
from asfound.names import Names

_PARTS = ("amendment", "effective", "source", "invented", "tables", "grades")


@dataclass(frozen=True, slots=True)
class Amendment:
    """One file of amendments. `rows` is by table and joined key; `steps` by rule, up the scale when positive."""

    name: str
    effective: str
    source: str
    sha256: str
    rows: dict[str, dict[str, Any]]
    steps: dict[str, tuple[int, str]]
    file: Path


def read_amendment(file: Path) -> Amendment:
    """Read a file of amendments. Raises `BadRule` with place, cause and next step."""
    try:
        document = load_file(file)
    except Refused as refused:
        raise BadRule(str(refused).rstrip(".")) from None
    root = document.root
    for part in root:
        if part not in _PARTS:
            place = f"{file} line {root.key_places[part].line}"
            raise BadRule(f"{place}: nothing called {part!r} belongs here; {Names(_PARTS).hint(part, 'parts')}")
    for part in ("amendment", "effective", "source"):
        if not isinstance(root.get(part), str):
            raise BadRule(f"{file}: {part!r} is missing; add it as text")
    try:
        date.fromisoformat(root["effective"])
    except ValueError:
        raise BadRule(f"{file}: {root['effective']!r} is not a date; write it like 2024-01-01") from None
    rows: dict[str, dict[str, Any]] = {}
    for table, held in (root.get("tables") or {}).items():
        if not isinstance(held, Map) or not held:
            raise BadRule(f"{file}, table {table!r}: give the rows that differ, as key: value")
        rows[table] = dict(held)
    steps = {rule: _step(file, rule, held) for rule, held in (root.get("grades") or {}).items()}
    return Amendment(root["amendment"], root["effective"], root["source"], document.sha256, rows, steps, file)


def _step(file: Path, rule: str, held: Any) -> tuple[int, str]:
    if not isinstance(held, Map) or sum(word in held for word in ("raise", "lower")) != 1 or not held.get("why"):
        raise BadRule(f"{file}, grade of {rule!r}: write {{raise: 1, why: reason}} or {{lower: 1, why: reason}}")
    steps = held.get("raise", held.get("lower"))
    if not isinstance(steps, int) or isinstance(steps, bool) or not 1 <= steps <= 3:
        raise BadRule(f"{file}, grade of {rule!r}: {steps!r} is not 1, 2 or 3 steps")
    return (steps if "raise" in held else -steps), str(held["why"])


class Amendments:
    """The amendments in force on the date of a run."""

    def __init__(self, amendments: Iterable[Amendment], as_of: str) -> None:
        self.given = tuple(amendments)
        self.in_force = tuple(one for one in self.given if one.effective <= as_of)

    def check(self, tables: Iterable[str], rules: Iterable[str]) -> None:
        """Refuse an amendment of a table or rule that does not exist. Raises `BadRule`."""
        known_tables, known_rules = set(tables), set(rules)
        for one in self.given:
            for kind, names, known in (("table", one.rows, known_tables), ("rule", one.steps, known_rules)):
                for name in names:
                    if name not in known:
                        hint = Names(sorted(known)).hint(name)
                        raise BadRule(f"{one.file} amends a {kind} named {name!r}, and there is none; {hint}")

    def rows(self, table: str) -> dict[str, tuple[Any, Amendment]]:
        """The amended rows of a table; the last amendment that names a row wins."""
        return {key: (value, one) for one in self.in_force for key, value in one.rows.get(table, {}).items()}

    def grade(self, rule: str, grade: str) -> tuple[str, str]:
        """The grade after amendments, and a note of who changed it; the note is empty when nobody did."""
        grades = data("grades")["grades"]
        note = ""
        for one in self.in_force:
            if rule in one.steps:
                steps, why = one.steps[rule]
                at = max(0, min(len(grades) - 1, grades.index(grade) - steps))
                if grades[at] != grade:
                    word = "raised" if steps > 0 else "lowered"
                    note = f"{word} from {grade} by {one.name}: {why}"
                    grade = grades[at]
        return grade, note


NONE = Amendments((), "")
