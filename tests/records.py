"""Small whole records as text, and what the rules say of them. Every record here is invented.

Only public ways are used: the text goes to a file, the file through `asfound.survey.survey`.
"""

from __future__ import annotations

from functools import cache
from pathlib import Path
from typing import Any

import yaml

from asfound.judge.results import CannotTell, Finding
from asfound.plugins import Collected, collect
from asfound.survey import Survey, survey

TODAY = "2026-01-01"
"""Date of a run where the edition does not matter."""


def record_text(**sections: Any) -> str:
    """A record of the right form as YAML: the given sections over an invented site with nothing in it."""
    held: dict[str, Any] = {
        "asfound": 1,
        "invented": True,
        "site": {"name": "Tryout cottage", "kind": "dwelling"},
        "visits": {"V1": {"on": "2025-05-05", "by": "A. Example"}},
        "supply": "120/240 split phase",
        "panels": {"A": {"breakers": {}}},
    }
    held.update(sections)
    return yaml.safe_dump(held, sort_keys=False, allow_unicode=True)


def panel(breakers: dict[str, Any]) -> dict[str, Any]:
    """The section `panels` with one panel A holding these breakers by space: `{"1": 20, "5/7": 30}`."""
    return {"A": {"breakers": breakers}}


@cache
def installed() -> Collected:
    """The rules and tables that are installed, loaded once for all records."""
    return collect()


def surveyed(folder: Path, text: str, as_of: str = TODAY) -> Survey:
    """The record of this text, judged by the tables in force on `as_of`. Raises `Refused` when it is of bad form."""
    file = folder / "record.yaml"
    file.write_text(text, encoding="utf-8")
    return survey(file, as_of, collected=installed())


def findings(done: Survey, rule: str) -> list[Finding]:
    """What a rule found, in the order of the report."""
    return [finding for finding in done.results.findings if finding.rule.name == rule]


def sentences(done: Survey, rule: str) -> list[str]:
    """The sentences of what a rule found."""
    return [finding.statement for finding in findings(done, rule)]


def open_facts(done: Survey, rule: str) -> list[CannotTell]:
    """What a rule could not tell, with the fact that is missing."""
    return [one for one in done.results.cannot_tell if one.rule.name == rule]


def clear(done: Survey, rule: str) -> bool:
    """Whether a rule looked at something and found, asked and failed nothing."""
    counts = done.results.counts[rule]
    return counts["clear"] > 0 and not any(
        counts[outcome] for outcome in ("defect", "possible", "cannot tell", "rule failed")
    )
