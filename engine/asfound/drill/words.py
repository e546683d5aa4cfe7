"""What an exercise and its score say, in sentences that the terminal and the page share."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from asfound.clean import clean
from asfound.drill.exercise import Danger, Exercise
from asfound.drill.score import HIGH, LOW, OPEN, RIGHT
from asfound.wording import joined, plural

MOST_FACTS = 8

ABOUT = (
    "An exercise. It says nothing of any building, and a mark that nothing answers to is no all-clear: the rules do "
    "not see everything, and what was not recorded was not judged."
)
AT_THE_END = "Whatever the score: on site, unknown is treated as live until it is proven dead."


def head(exercise: Exercise) -> list[str]:
    """Which exercise this is, how it was made, and what it is not."""
    lines = [f"Exercise {exercise.identity}: {clean(exercise.name)}. Read as of {exercise.as_of}."]
    if exercise.seed is not None:
        made = f"Seed {exercise.seed}; {plural(len(exercise.planted), 'defect')} planted."
        if len(exercise.planted) < exercise.wanted:
            made += f" {exercise.wanted} were asked for; no place was found for more."
        lines.append(made)
    if exercise.failed:
        lines.append(f"{plural(exercise.failed, 'check')} failed; their silence means nothing.")
    return [*lines, ABOUT]


def evidence(finding: Mapping[str, Any]) -> str:
    """The facts that a finding was read from."""
    said = []
    for one in finding["evidence"][:MOST_FACTS]:
        unit = f" {one['unit']}" if one.get("unit") else ""
        name = one["fact"].replace("_", " ")
        note = f" ({one['note']})" if one.get("note") else ""
        said.append(f"{one['item']}, {name}: {one['value']}{unit}{note}")
    more = len(finding["evidence"]) - len(said)
    return clean("; ".join(said) + (f"; and {plural(more, 'more fact')}" if more > 0 else "")) or "nothing"


def figures(finding: Mapping[str, Any]) -> str:
    """The table rows that a finding was held against, empty when there are none."""
    rows = [
        f"{row['table']}, {row['edition']}, {row['key']}: {_value(row['value'])} {row['unit']}".strip()
        for row in finding["tables"] if not isinstance(row["value"], list)
    ]  # fmt: skip
    return "; ".join(dict.fromkeys(rows))


def _value(value: object) -> str:
    if isinstance(value, bool):
        return "yes" if value else "no"
    return f"{value:g}" if isinstance(value, float) else str(value)


def explained(danger: Danger) -> list[tuple[str, str]]:
    """What there is to say of a danger, each with a word before it: where, what, from what, caution, code, source."""
    first = danger.findings[0]
    said = [
        ("Where", clean(first["at"]["place"])),
        ("Finding", f"{danger.grade.capitalize()}, {first['certainty']}. {clean(first['statement'])}"),
    ]
    if danger.why:
        said.append(("Planted", danger.why))
    said.append(("Read from the record", evidence(first)))
    if figures(first):
        said.append(("Compared with", figures(first)))
    settle = [one["observe"] for one in first["settle"] if one.get("observe")]
    if settle:
        said.append(("Would settle it", joined(dict.fromkeys(settle))))
    said += [
        ("Caution", first["caution"]), ("Local code", first["local_code"]),
        ("Source", f"{first['source']} ({first['basis']}); rule {first['rule']}"),
    ]  # fmt: skip
    others = [clean(one["statement"]) for one in danger.findings[1:]]
    if others:
        said.append(("From the same cause", " ".join(dict.fromkeys(others))))
    return said


def summary(exercise: Exercise, result: Mapping[str, Any]) -> list[str]:
    """The score in sentences."""
    count, found = len(exercise.dangers), len(result["found"])
    alarms = plural(len(result["false_alarms"]), "false alarm")
    lines = [f"Found {found} of {count}; missed {len(result['missed'])}; {alarms}."]
    by_topic = sum(one["by"] == "topic" for one in result["found"])
    if by_topic:
        lines.append(f"{by_topic} of those found by topic, not by the kind of danger.")
    if result["questions"]:
        number = len(result["questions"])
        lines.append(f"{plural(number, 'mark')} on what the rules can only ask about; neither right nor wrong.")
    if result["again"]:
        lines.append(f"{plural(len(result['again']), 'mark')} on what another mark had already.")
    grades = result["grades"]
    if found:
        lines.append(
            f"Grade {RIGHT} {grades[RIGHT]}, {LOW} {grades[LOW]}, {HIGH} {grades[HIGH]}, {OPEN} {grades[OPEN]}."
        )
    order = result["order"]
    if order["pairs"]:
        lines.append(f"Order of danger: {order['right']} of {plural(order['pairs'], 'pair')} the worse one first.")
    if result["first"] is not None:
        lines.append(
            "First: one of the worst grade here." if result["first"] else "First: not one of the worst grade here."
        )
    lines += check_words(exercise, result)
    return lines


def check_words(exercise: Exercise, result: Mapping[str, Any]) -> list[str]:
    """What is said of the next check chosen."""
    check = result["check"]
    if check is None:
        return []
    best = exercise.checks[check["best"] - 1]
    said = f"The plan ranks first: {best.do} ({best.points:g} points). {best.why}"
    if check["chosen"] is None:
        return [f"Next check: none chosen. {said}"]
    mine = exercise.checks[check["chosen"] - 1]
    if check["chosen"] == check["best"]:
        return [f"Next check: the one that the plan ranks first. {best.why}"]
    return [f"Next check: ranked {mine.rank} in the plan, {mine.points:g} points. {said}"]


def mark_words(exercise: Exercise, mark: Mapping[str, str]) -> str:
    """A mark in words."""
    titles = {name: title for name, title, _, _ in exercise.rules}
    grade = f", {mark['grade']}" if mark.get("grade") else ""
    return f"{clean(mark['at'])}: {titles.get(mark['what'], mark['what'].replace('_', ' '))}{grade}"


def grade_words(exercise: Exercise, one: Mapping[str, Any], marks: Sequence[Mapping[str, str]]) -> str:
    """What is said of the grade that was given to a danger."""
    danger = exercise.dangers[one["danger"]]
    if one["grade"] == OPEN:
        return f"no grade given; it is {danger.grade}"
    if one["grade"] == RIGHT:
        return f"grade right, {danger.grade}"
    return f"grade {one['grade']}: {marks[one['mark']]['grade']} given, it is {danger.grade}"
