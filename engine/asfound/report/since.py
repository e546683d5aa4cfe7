"""What became of the findings of an earlier record, as plain values for a document."""

from __future__ import annotations

from dataclasses import asdict
from pathlib import Path
from typing import Any

from asfound.compare.results import OUTCOMES, Comparison
from asfound.data import data
from asfound.record.model import Record
from asfound.render.comparison import Asked, told


def since(found: Comparison, asked: Asked) -> dict[str, Any]:
    """The comparison in the order of its outcomes, what is new and worse first."""
    words = data("comparison")
    return {
        "statement": words["statement"],
        "work_began": asked.work_began,
        "records": [
            _record("earlier", found.earlier.record, found.as_of_earlier),
            _record("later", found.later.record, found.as_of_later),
        ],
        "counts": [
            {
                "outcome": outcome,
                "meaning": words["outcomes"][outcome],
                "count": found.counts[outcome],
                "worse": sum(entry.worse for entry in found.of(outcome)),
            }
            for outcome in OUTCOMES
        ],
        "outcomes": [
            {"outcome": outcome, "entries": [asdict(told(entry, found, asked)) for entry in found.of(outcome)]}
            for outcome in OUTCOMES
            if found.of(outcome)
        ],
        "by_edition": [
            {
                "place": finding.place,
                "graded": f"{finding.grade.capitalize()}, {finding.certainty}.",
                "statement": finding.statement,
                "sentences": [f"Finding {finding.identity}. Rule {finding.rule.name}."],
                "caution": finding.rule.caution,
                "local_code": finding.rule.defer,
            }
            for finding in found.by_edition
        ],
        "notes": list(found.notes),
    }


def _record(which: str, record: Record, as_of: str) -> dict[str, Any]:
    return {
        "which": which,
        "file": Path(record.document.name).name,
        "sha256": record.document.sha256,
        "as_of": as_of,
        "visits": [f"{visit.on} by {visit.by}" for visit in record.visits.values()],
    }
