"""One finding, or several that are told together, as a document says it."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from asfound.data import data
from asfound.judge.results import Evidence, Finding
from asfound.render.text import statement


def finding(group: Sequence[Finding], accepted: list[str], before: str) -> dict[str, Any]:
    """Findings told together, as plain values; `number` is given when their order in the document is known."""
    first = group[0]
    rule = first.rule
    evidence = list(dict.fromkeys(one for finding in group for one in finding.evidence))
    rows = dict.fromkeys(
        (row.table, row.edition, row.key, _row_value(row.value), _unit(row.unit), row.source)
        for finding in group
        for row in finding.rows
    )
    settle = dict.fromkeys(
        (one.observe or f"see {one.fact.replace('_', ' ')}", one.fact.replace("_", " "), one.item)
        for finding in group
        for one in finding.settle
    )
    return {
        "number": 0,
        "ids": [one.identity for one in group],
        "grade": first.grade,
        "certainty": first.certainty,
        "title": rule.title,
        "statement": statement(list(group)),
        "at": [one.place for one in group],
        "caution": rule.caution,
        "local_code": rule.defer,
        "rule": rule.name,
        "revision": rule.revision,
        "source": rule.source,
        "basis": rule.basis,
        "severity": rule.severity,
        "likelihood": rule.likelihood,
        "risk": first.risk,
        "grade_note": first.grade_note,
        "evidence": [_evidence(one) for one in evidence],
        "rows": [
            {
                "table": table,
                "edition": edition,
                "key": key,
                "value": value,
                "unit": unit,
                "source": source,
                "words": f"{table}, {edition}, {key}: {value} {unit}".strip(),
            }
            for table, edition, key, value, unit, source in rows
        ],
        "settle": [{"observe": observe, "fact": fact, "item": item} for observe, fact, item in settle],
        "next": data("documents")["next"][first.grade],
        "accepted": accepted,
        "before": before,
    }


def _row_value(value: Any) -> str:
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, list):
        return ", ".join(map(str, value))
    return f"{value:g}" if isinstance(value, float) else str(value)


def _unit(unit: str) -> str:
    """The unit where it says something: `A`, and not `yes/no` or `year or size`."""
    return "" if unit == "yes/no" or " or " in unit else unit


def _evidence(one: Evidence) -> dict[str, Any]:
    written = "" if one.written == one.value else one.written
    how = "" if one.how == "as written" else one.how
    said = f"{one.item}, {one.say}: {one.value}{f' {one.unit}' if one.unit else ''}"
    if written and not one.note:
        said += f", written {written}"
    if one.note and one.note != "as traced":
        said += f" ({one.note})"
    about = [f"line {one.line}" if one.line else "", how, one.by, one.on]
    return {
        "item": one.item,
        "fact": one.say,
        "value": one.value,
        "unit": one.unit,
        "written": written,
        "line": one.line,
        "how": how,
        "by": one.by,
        "on": one.on,
        "note": one.note,
        "words": ", ".join(filter(None, [said, *about])),
    }
