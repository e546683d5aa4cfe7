"""What can kill now, told first: where, fed by what, how that was left, and who was told on site."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from typing import Any

from asfound.compare.results import NOT_SEEN, Comparison
from asfound.judge.results import Finding
from asfound.render.text import grouped, statement
from asfound.report.place import Places
from asfound.report.standing import Standing

GRADE = "hands off"
TOLD = ("told", "stopped")
"""What the log calls a warning given on site, and work that was stopped for one."""


def dangers(
    findings: Iterable[Finding],
    places: Places,
    standing: Standing,
    accepted: Callable[[Sequence[Finding]], list[str]],
    numbers: dict[str, int],
) -> list[dict[str, Any]]:
    """Findings graded hands off, those of one rule at one place together."""
    groups: dict[tuple[str, str, str], list[Finding]] = {}
    for one in findings:
        if one.grade == GRADE and one.certainty != "possible":
            groups.setdefault((one.rule.name, places.of(one.at).name, one.certainty), []).append(one)
    return [
        {
            "place": place,
            "statement": " ".join(dict.fromkeys(statement(alike) for alike in grouped(group))),
            "caution": group[0].rule.caution,
            "local_code": group[0].rule.defer,
            "certainty": certainty,
            "fed": standing.words(one.at for one in group),
            "accepted": accepted(group),
            "ids": [one.identity for one in group],
            "numbers": sorted({numbers[one.identity] for one in group if one.identity in numbers}),
        }
        for (_, place, certainty), group in groups.items()
    ]


def not_seen_again(found: Comparison | None) -> list[dict[str, Any]]:
    """Dangers of an earlier record that the later one does not show: they count as there."""
    if found is None:
        return []
    return [
        {
            "place": one.place,
            "statement": one.statement,
            "caution": one.rule.caution,
            "local_code": one.rule.defer,
            "certainty": one.certainty,
            "fed": "By the earlier record; nobody is recorded as having looked again, so it counts as there.",
            "accepted": [],
            "ids": [one.identity],
            "numbers": [],
        }
        for one in (entry.finding for entry in found.of(NOT_SEEN))
        if one.grade == GRADE and one.certainty != "possible"
    ]


def told_on_site(log: Iterable[dict[str, Any]]) -> list[str]:
    """Warnings and stops of the log, in words: `Log entry 11, 2026-05-04 11:15, R. Example: told, A 9; owner ...`."""
    return [
        f"Log entry {one['number']}, {one['at'] or 'time not recorded'}, {one['by'] or 'by whom not recorded'}: "
        + "; ".join(filter(None, [", ".join([one["did"], *one["what"]]), one["note"]]))
        for one in log
        if one["did"] in TOLD
    ]
