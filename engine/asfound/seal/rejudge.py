"""Judge a record laid out in a folder, with sealed tables. As a program: with the rules in the folder, which it runs.

The folder holds `record/`, `tables/`, `amendments/` and `accepted/`, and for the program
`rules/` (packages, on the path of modules) and `named/`.
"""

from __future__ import annotations

import json
import sys
from pathlib import Path
from typing import Any

from asfound.accepted import held_against, read_accepted
from asfound.compare.former import former_identities
from asfound.judge.tables import read_tables
from asfound.plugins import Collected, collect
from asfound.render.asdata import RunFacts, as_data
from asfound.survey import survey

RULES, NAMED, TABLES, AMENDMENTS, ACCEPTED = "rules", "named", "tables", "amendments", "accepted"
RECORD = "record/asfound-sealed-record"
RESULT = "result.json"


def judged(folder: Path, record: Path, as_of: str, collected: Collected) -> dict[str, Any]:
    """The findings as data, by these rules and the tables in the folder. Raises `Refused` and `BadRule`."""
    tables = tuple(table for file in sorted((folder / TABLES).glob("*.yaml")) for table in read_tables(file))
    amended = sorted((folder / AMENDMENTS).glob("*"))
    done = survey(record, as_of, amended=amended, collected=Collected(collected.rules, tables))
    accepted, found = None, done.results.findings
    for file in (folder / ACCEPTED).glob("*"):
        accepted = held_against(read_accepted(file), found, as_of, former_identities(done.installation, found))
    run = RunFacts(as_of, "", tuple((rule.name, rule.revision) for rule in done.rules), accepted=accepted)
    data: dict[str, Any] = json.loads(json.dumps(as_data(done.record, run, done.results)))
    return data


def main(folder: Path, record: Path, as_of: str) -> None:
    """Judge with the rules in the folder and write the findings into it. Rules from elsewhere are left out."""
    named = sorted((path for path in (folder / NAMED).glob("*") if path.is_dir()), key=lambda path: int(path.name))
    home = folder.resolve()
    rules = tuple(rule for rule in collect(named).rules if rule.file.resolve().is_relative_to(home))
    data = judged(folder, record, as_of, Collected(rules, ()))
    (folder / RESULT).write_text(json.dumps(data), encoding="utf-8")


if __name__ == "__main__":
    main(Path(sys.argv[1]), Path(sys.argv[2]), sys.argv[3])
