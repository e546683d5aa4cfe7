"""Score marks against the dangers of an exercise. Plain values in, plain values out; the page does the same.

The key of an exercise is plain data:

    {"grades": [...],                      # worst first
     "dangers": [{"grade": 0, "members": [{"rule": ..., "topic": ..., "near": [...], "wide": [...]}]}],
     "questions": [{"rule": ..., "topic": ..., "near": [...], "wide": [...]}],
     "checks": [{"rank": 1, "points": 4.0}]}

A mark is `{"at": tag, "what": rule or topic, "grade": word or empty}`; marks are
listed in the order in which the trainee would deal with them. A mark that names
the rule counts at every tag around a finding, one that names the topic at the
thing itself only. A mark that fits what the rules can only ask about is neither
right nor wrong.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

Key = Mapping[str, Any]
Mark = Mapping[str, str]

RIGHT, LOW, HIGH, OPEN = "right", "too low", "too high", "not given"


def score(key: Key, marks: Sequence[Mark], chosen: int | None = None) -> dict[str, Any]:
    """What was found, missed and marked without reason; grades, order, and the check chosen.

    `chosen` is the number of a check from 1. Everything is given by number from
    0: of dangers and of marks.
    """
    fitted = _fit(key["dangers"], marks)
    found = [
        {"danger": danger, "mark": mark, "by": by, "grade": _grade(key, danger, marks[mark])}
        for mark, (danger, by, again) in sorted(fitted.items()) if not again
    ]  # fmt: skip
    by_danger = {one["danger"]: one for one in found}
    loose = [mark for mark in range(len(marks)) if mark not in fitted]
    asked = [mark for mark in loose if any(_says(one, marks[mark]) for one in key["questions"])]
    order = [key["dangers"][one["danger"]]["grade"] for one in found]
    pairs = [(one, two) for place, one in enumerate(order) for two in order[place + 1 :] if one != two]
    worst = min((one["grade"] for one in key["dangers"]), default=None)
    return {
        "found": found,
        "missed": [number for number in range(len(key["dangers"])) if number not in by_danger],
        "false_alarms": [mark for mark in loose if mark not in asked],
        "questions": asked,
        "again": [mark for mark, (_, _, again) in sorted(fitted.items()) if again],
        "grades": {word: sum(one["grade"] == word for one in found) for word in (RIGHT, LOW, HIGH, OPEN)},
        "order": {"pairs": len(pairs), "right": sum(one < two for one, two in pairs)},
        "first": None if worst is None or not marks else bool(0 in fitted and _is_worst(key, fitted[0][0], worst)),
        "check": _check(key["checks"], chosen),
    }


def _fit(dangers: Sequence[Mapping[str, Any]], marks: Sequence[Mark]) -> dict[int, tuple[int, str, bool]]:
    """For each mark that fits: the danger, by rule or topic, and whether another mark had it already.

    Marks that name the rule choose first, then those that name the topic.
    """
    fitted: dict[int, tuple[int, str, bool]] = {}
    taken: set[int] = set()
    for by in ("rule", "topic"):
        for number, mark in enumerate(marks):
            fits = [
                place for place, danger in enumerate(dangers)
                if number not in fitted and any(_says(one, mark, by) for one in danger["members"])
            ]  # fmt: skip
            if fits:
                free = [place for place in fits if place not in taken]
                fitted[number] = ((free or fits)[0], by, not free)
                taken.add((free or fits)[0])
    return fitted


def _says(member: Mapping[str, Any], mark: Mark, by: str = "") -> bool:
    """Whether a mark means this finding: by rule anywhere around it, by topic at the thing itself."""
    rule = by in ("", "rule") and mark["what"] == member["rule"] and mark["at"] in member["wide"]
    return rule or (by in ("", "topic") and mark["what"] == member["topic"] and mark["at"] in member["near"])


def _grade(key: Key, danger: int, mark: Mark) -> str:
    if not mark.get("grade"):
        return OPEN
    given, meant = key["grades"].index(mark["grade"]), key["dangers"][danger]["grade"]
    return RIGHT if given == meant else LOW if given > meant else HIGH


def _is_worst(key: Key, danger: int, worst: int) -> bool:
    return bool(key["dangers"][danger]["grade"] == worst)


def _check(checks: Sequence[Mapping[str, Any]], chosen: int | None) -> dict[str, Any] | None:
    """The rank of the check chosen; None when there was nothing to choose."""
    if not checks:
        return None
    if chosen is None or not 1 <= chosen <= len(checks):
        return {"chosen": None, "rank": None, "best": _best(checks)}
    return {"chosen": chosen, "rank": checks[chosen - 1]["rank"], "best": _best(checks)}


def _best(checks: Sequence[Mapping[str, Any]]) -> int:
    return min(range(len(checks)), key=lambda number: checks[number]["rank"]) + 1
