"""Score marks against the dangers of an exercise. Plain values in, plain values out; the page does the same.

The key of an exercise is plain data:

    {"grades": [...],                      # worst first
     "dangers": [{"grade": 0, "members": [{"rule": ..., "topic": ..., "own": [...], "near": [...], "wide": [...]}]}],
     "questions": [{"rule": ..., "topic": ..., "own": [...], "near": [...], "wide": [...]}],
     "topics": {rule: topic},
     "checks": [{"rank": 1, "points": 4.0}]}

A mark is `{"at": tag, "what": rule or topic, "grade": word or empty}`; marks are
listed in the order in which the trainee would deal with them. A mark that names
the rule counts at every tag around a finding, one that names the topic at the
thing itself only. One that names another kind at the right place counts as that:
found, of another kind. A mark that fits what the rules can only ask about is
neither right nor wrong, and what is marked in the trainee's own words (`said`)
and fits nothing else goes to the trainer.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

Key = Mapping[str, Any]
Mark = Mapping[str, str]

OTHER = "something else"
"""What a mark says that names no kind and no topic."""
RULE, TOPIC, PLACE = "rule", "topic", "place"
RIGHT, LOW, HIGH, OPEN = "right", "too low", "too high", "not given"


def score(key: Key, marks: Sequence[Mark], chosen: int | None = None) -> dict[str, Any]:
    """What was found, missed and marked without reason; grades, order, and the check chosen.

    `chosen` is the number of a check from 1. Everything is given by number from
    0: of dangers and of marks.
    """
    fitted = _fit(key, marks)
    found = [
        {"danger": danger, "mark": mark, "by": by, "grade": _grade(key, danger, marks[mark])}
        for mark, (danger, by, again) in sorted(fitted.items()) if not again
    ]  # fmt: skip
    by_danger = {one["danger"]: one for one in found}
    loose = [mark for mark in range(len(marks)) if mark not in fitted]
    asked = [mark for mark in loose if _is_asked(key, marks[mark])]
    told = [mark for mark in loose if mark not in asked and (marks[mark].get("said") or marks[mark]["what"] == OTHER)]
    order = [key["dangers"][one["danger"]]["grade"] for one in found]
    pairs = [(one, two) for place, one in enumerate(order) for two in order[place + 1 :] if one != two]
    worst = min((one["grade"] for one in key["dangers"]), default=None)
    return {
        "found": found,
        "missed": [number for number in range(len(key["dangers"])) if number not in by_danger],
        "false_alarms": [mark for mark in loose if mark not in asked and mark not in told],
        "questions": asked,
        "told": told,
        "again": [mark for mark, (_, _, again) in sorted(fitted.items()) if again],
        "grades": {word: sum(one["grade"] == word for one in found) for word in (RIGHT, LOW, HIGH, OPEN)},
        "order": {"pairs": len(pairs), "right": sum(one < two for one, two in pairs)},
        "first": None if worst is None or not marks else bool(0 in fitted and _is_worst(key, fitted[0][0], worst)),
        "check": _check(key["checks"], chosen),
    }


def _fit(key: Key, marks: Sequence[Mark]) -> dict[int, tuple[int, str, bool]]:
    """For each mark that fits: the danger, by rule, topic or place, and whether another mark had it already.

    Marks that name the rule choose first, then those that name the topic. One
    that has the place alone takes a danger that no other mark has. Of several dangers that
    fit, the one that is of the very thing marked (`own`) comes first.
    """
    fitted: dict[int, tuple[int, str, bool]] = {}
    taken: set[int] = set()
    for by in (RULE, TOPIC, PLACE):
        for number, mark in enumerate(marks):
            if number in fitted or (by == PLACE and _is_asked(key, mark)):
                continue
            fits = [
                place for place, danger in enumerate(key["dangers"])
                if any(_says(one, mark, by, key["topics"]) for one in danger["members"])
            ]  # fmt: skip
            fits.sort(key=lambda place: not any(mark["at"] in one["own"] for one in key["dangers"][place]["members"]))
            free = [place for place in fits if place not in taken]
            if free or (fits and by != PLACE):
                fitted[number] = ((free or fits)[0], by, not free)
                taken.add((free or fits)[0])
    return fitted


def _is_asked(key: Key, mark: Mark) -> bool:
    """Whether a mark names what the rules can only ask about."""
    return any(_says(one, mark, by, key["topics"]) for one in key["questions"] for by in (RULE, TOPIC))


def _says(member: Mapping[str, Any], mark: Mark, by: str, topics: Mapping[str, str]) -> bool:
    """Whether a mark means this finding: by rule anywhere around it, by topic at the thing itself, or by its place.

    A rule of the same topic has the place when it is anywhere around, others when it is at the thing itself.
    """
    at, what = mark["at"], mark["what"]
    if by == RULE:
        return bool(what == member["rule"] and at in member["wide"])
    if by == TOPIC:
        return bool(what == member["topic"] and at in member["near"])
    return what != OTHER and (at in member["near"] or (topics.get(what) == member["topic"] and at in member["wide"]))


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
