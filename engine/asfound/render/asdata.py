"""Results as plain values for JSON, in the form of `findings.schema.json`."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict, dataclass, field
from typing import Any

from asfound import __version__
from asfound.accepted import Acceptance, Accepted
from asfound.data import data
from asfound.judge.amend import Amendment
from asfound.judge.results import Evidence, Finding, Results, Settle
from asfound.judge.tables import Row
from asfound.record.build import Record


@dataclass(frozen=True, slots=True)
class RunFacts:
    """What a run depended on besides the record: the date, the edition asked for, rules by name and revision.

    `packs` holds the pack, name and version, of each rule that comes from one besides
    the built-in rules. `accepted` is the file of accepted findings held against its
    result, when one was named.
    """

    as_of: str
    edition: str
    rules: tuple[tuple[str, int], ...]
    named: tuple[str, ...] = ()
    amendments: tuple[Amendment, ...] = ()
    accepted: Accepted | None = None
    packs: Mapping[str, str] = field(default_factory=dict)


def as_data(record: Record, run: RunFacts, results: Results) -> dict[str, Any]:
    """The whole result, in its total order."""
    totals = results.totals
    certain = [f for f in results.findings if f.certainty != "possible"]
    grades = data("grades")
    return {
        "record": {
            "file": record.document.name,
            "sha256": record.document.sha256,
            "site": record.name,
            "invented": record.invented,
            "holds": record.count(),
            "not_looked_at": [
                {"visit": visit.tag, "what": what, "why": why}
                for visit in record.visits.values()
                for what, why in visit.not_looked_at
            ],
        },
        "run": {
            "asfound": __version__,
            "as_of": run.as_of,
            "edition": run.edition,
            "rules": [{"rule": name, "revision": revision, **_pack(name, run)} for name, revision in run.rules],
            "named_rules": list(run.named),
            "amendments": [
                {
                    "name": one.name, "effective": one.effective, "source": one.source, "file": one.file.name,
                    "sha256": one.sha256, "in_force": one.effective <= run.as_of,
                }
                for one in run.amendments
            ],
            "statement": data("wording")["statement"],
        },
        "counts": {
            "checks": sum(totals.values()),
            "outcomes": {name: totals.get(name, 0) for name in OUTCOMES},
            "grades": {grade: sum(f.grade == grade for f in certain) for grade in grades["grades"]},
            "questions": len(results.findings) - len(certain),
            "by_rule": {
                name: {outcome: counter[outcome] for outcome in OUTCOMES if counter[outcome]}
                for name, counter in results.counts.items()
            },
        },
        "findings": [finding_data(one, run.accepted) | _pack(one.rule.name, run) for one in results.findings],
        "cannot_tell": [
            {
                "rule": one.rule.name, "at": one.at, "place": one.place, "missing": one.missing, "of": one.of,
                "reason": one.reason, "observe": one.observe,
            }
            for one in results.cannot_tell
        ],
        "failed": [
            {"rule": one.rule.name, "file": one.rule.file.name, "at": one.at, "place": one.place, "error": one.error}
            for one in results.failed
        ],
        **({} if run.accepted is None else {"accepted": accepted_data(run.accepted)}),
    }  # fmt: skip


def _pack(rule: str, run: RunFacts) -> dict[str, str]:
    """The pack that a rule comes from, name and version; nothing for the built-in rules and a loose file."""
    return {"pack": run.packs[rule]} if rule in run.packs else {}


def accepted_data(accepted: Accepted) -> dict[str, Any]:
    """The file of accepted findings, and what in it does nothing."""
    return {
        "file": accepted.file.name, "sha256": accepted.file.sha256, "in_force": accepted.count,
        "stale": [
            {
                "kind": one.kind, "finding": one.entry.finding, "line": one.entry.line, "cause": one.cause,
                "step": one.step,
            }
            for one in accepted.stale
        ],
    }  # fmt: skip


def acceptance_data(held: tuple[str, Acceptance]) -> dict[str, Any]:
    """What a file of accepted findings says of one finding: accepted, expired or refused, with the entry."""
    word, entry = held
    return {
        "state": word, "finding": entry.finding, "reason": entry.reason, "by": entry.by, "until": entry.until,
        "note": entry.note, "kept_away": entry.kept_away, "line": entry.line,
    }  # fmt: skip


OUTCOMES = ("defect", "possible", "clear", "cannot tell", "does not apply", "rule failed")


def finding_data(finding: Finding, accepted: Accepted | None = None) -> dict[str, Any]:
    """One finding, with its acceptance when there is one."""
    rule = finding.rule
    held = accepted.of(finding.identity) if accepted is not None else None
    return {
        "rule": rule.name, "rule_revision": rule.revision, "title": rule.title, "topic": rule.topic,
        "identity": finding.identity, "grade": finding.grade, "grade_note": finding.grade_note,
        "certainty": finding.certainty,
        "severity": rule.severity, "likelihood": rule.likelihood, "risk": finding.risk,
        "at": {"item": finding.at, "place": finding.place},
        "parts": list(finding.parts), "cause": finding.cause, "statement": finding.statement,
        "evidence": [_evidence(one) for one in finding.evidence],
        "tables": [_row(row) for row in finding.rows],
        "settle": [_settle(one) for one in finding.settle],
        "bound_met": finding.bound_met,
        "caution": rule.caution, "local_code": rule.defer, "source": rule.source, "basis": rule.basis,
        **({} if held is None else {"accepted": acceptance_data(held)}),
    }  # fmt: skip


def _evidence(one: Evidence) -> dict[str, Any]:
    return {key: value for key, value in asdict(one).items() if value not in ("", 0) and key != "say"}


def _row(row: Row) -> dict[str, Any]:
    return asdict(row)


def _settle(one: Settle) -> dict[str, Any]:
    held = asdict(one)
    del held["key"]
    held["can_be"], held["defect_if"] = list(one.can_be), list(one.defect_if)
    return held
