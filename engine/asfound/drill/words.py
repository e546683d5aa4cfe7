"""What an exercise and its score say, in sentences that the terminal and the page share."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from asfound.clean import clean
from asfound.data import data
from asfound.drill.exercise import Check, Danger, Exercise
from asfound.drill.score import HIGH, LOW, OPEN, OTHER, PLACE, RIGHT, TOPIC
from asfound.wording import joined, plural

MOST_FACTS = 8

ABOUT = (
    "An exercise. It says nothing of any building, and a mark that nothing answers to is no all-clear: the rules do "
    "not see everything, and what was not recorded was not judged."
)
AT_THE_END = "Whatever the score: on site, unknown is treated as live until it is proven dead."


def head(exercise: Exercise) -> list[str]:
    """Which exercise this is, and what it is not."""
    lines = [f"Exercise {exercise.identity}: {clean(exercise.name)}. Read as of {exercise.as_of}."]
    if exercise.failed:
        lines.append(f"{plural(exercise.failed, 'check')} failed; their silence means nothing.")
    return [*lines, ABOUT]


def made(exercise: Exercise) -> str:
    """How an exercise was made, for the trainer: whoever has the seed can print its answers. Empty without a seed."""
    if exercise.seed is None:
        return ""
    said = f"Seed {exercise.seed}; {plural(len(exercise.planted), 'defect')} planted."
    if len(exercise.planted) < exercise.wanted:
        said += f" {exercise.wanted} were asked for; no place was found for more."
    return said


def topic_meanings(exercise: Exercise) -> list[tuple[str, str]]:
    """The topics of the rules by name, each with what it is about; empty for one that nobody described."""
    meanings: dict[str, str] = data("drill")["topics"]
    topics = dict.fromkeys(topic for _, _, topic, _ in exercise.rules)
    return [(topic.replace("_", " "), meanings.get(topic, "")) for topic in topics]


def evidence(finding: Mapping[str, Any]) -> str:
    """The facts that a finding was read from."""
    said = []
    for one in finding["evidence"][:MOST_FACTS]:
        unit = f" {one['unit']}" if one.get("unit") and one["value"] != "not seen" else ""
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
    by_topic = sum(one["by"] == TOPIC for one in result["found"])
    if by_topic:
        lines.append(f"{by_topic} of those found by topic, not by the kind of danger.")
    by_place = sum(one["by"] == PLACE for one in result["found"])
    if by_place:
        lines.append(f"{by_place} of those at the right place, under another kind; the difference stands with each.")
    if result["told"]:
        lines.append(f"{plural(len(result['told']), 'mark')} in your own words, for the trainer; not scored.")
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
    about = "Next check, which is about what is open in the record and not about the dangers:"
    if check["chosen"] is None:
        return [f"{about} none chosen. {more(best)}"]
    mine = exercise.checks[check["chosen"] - 1]
    if check["chosen"] == check["best"]:
        return [f"{about} the one that counts most. {settles(mine)}"]
    return [f"{about} another counts more. {settles(mine)} {more(best)}"]


def settles(check: Check) -> str:
    """What a check settles, in one sentence."""
    return f"Yours settles {_of(check)}."


def more(check: Check) -> str:
    """What the check that counts most settles, in one sentence."""
    return f"This settles {_of(check)}, the gravest counting most: {check.do}."


def _of(check: Check) -> str:
    part = check.touches - check.settles
    more = f", and {part} in part" if part else ""
    return f"{check.settles} of {plural(check.asked, 'open question')}{more}"


def before(check: Check) -> list[str]:
    """What comes before a check, each with First or Then; never nothing."""
    said = check.before or (data("drill")["before_any_check"],)
    return [f"{'Then' if number else 'First'}: {one}" for number, one in enumerate(said)]


def mark_words(exercise: Exercise, mark: Mapping[str, str]) -> str:
    """A mark in words."""
    grade = f", {mark['grade']}" if mark.get("grade") else ""
    said = f' ("{clean(mark["said"])}")' if mark.get("said") else ""
    return f"{clean(mark['at'])}: {kind_words(exercise, mark['what'])}{said}{grade}"


def kind_words(exercise: Exercise, what: str) -> str:
    """The kind that a mark names: title of a rule, or a topic."""
    titles = {name: title for name, title, _, _ in exercise.rules}
    return titles.get(what, what if what == OTHER else f"{what.replace('_', ' ')}: something else")


def other_kind(exercise: Exercise, one: Mapping[str, Any], marks: Sequence[Mapping[str, str]]) -> str:
    """Of a danger found by its place alone: what was marked, and what it is. Empty for others."""
    if one["by"] != PLACE:
        return ""
    marked = kind_words(exercise, marks[one["mark"]]["what"])
    meant = exercise.dangers[one["danger"]].title
    return (
        f"Right place, other kind. Marked was: {marked}. No rule finds that here in what is recorded; it is: {meant}."
    )


def grade_words(exercise: Exercise, one: Mapping[str, Any], marks: Sequence[Mapping[str, str]]) -> str:
    """What is said of the grade that was given to a danger."""
    danger = exercise.dangers[one["danger"]]
    if one["grade"] == OPEN:
        return f"no grade given; it is {danger.grade}"
    if one["grade"] == RIGHT:
        return f"grade right, {danger.grade}"
    return f"grade {one['grade']}: {marks[one['mark']]['grade']} given, it is {danger.grade}"
