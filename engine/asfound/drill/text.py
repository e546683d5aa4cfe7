"""An exercise and its score as text for a terminal. Nothing is wider than `WIDTH`."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from asfound.data import data
from asfound.drill import words
from asfound.drill.exercise import Exercise
from asfound.drill.plant import Planted
from asfound.drill.planters import Planter
from asfound.drill.shown import Place
from asfound.render.lines import rule_line, wrap


def head_text(exercise: Exercise) -> str:
    """What stands above an exercise."""
    return "\n".join(line for text in words.head(exercise) for line in wrap(text))


def place_text(place: Place) -> str:
    """One place with all that is recorded there."""
    lines = [rule_line(f"{place.tag}")]
    if place.title != place.tag:
        lines += wrap(place.title, "", "  ")
    for fact in place.facts:
        lines += wrap(fact, "  ", "    ")
    for part in place.parts:
        lines += wrap(f"{part.tag} ({part.kind}): {part.words}", "  ", "    ")
    return "\n".join(lines)


def record_text(exercise: Exercise) -> str:
    """The whole record, place by place."""
    return "\n\n".join(place_text(place) for place in exercise.places)


def checks_text(exercise: Exercise) -> str:
    """The next checks to choose from, by number."""
    lines = [rule_line("NEXT CHECK")]
    lines += wrap(
        "Some things are open in this record, apart from its dangers. Which check would settle most of them, the "
        "gravest counting most?"
    )
    lines += wrap(data("observations")["always"])
    for number, check in enumerate(exercise.checks, 1):
        lines += ["", *wrap(f"{number}. {check.do}.", "  ", "     ")]
        lines += [line for said in words.before(check) for line in wrap(said, "     ", "       ")]
    return "\n".join(lines)


def check_text(exercise: Exercise, number: int, word: str) -> str:
    """A check by its number from 1, with what comes before it; `word` says why it is named."""
    check = exercise.checks[number - 1]
    lines = wrap(f"{word}: {check.do}. What comes before it:", "", "  ")
    return "\n".join([*lines, *(line for said in words.before(check) for line in wrap(said, "  ", "    "))])


def how_text(exercise: Exercise) -> str:
    """The grades and topics, before anything is marked."""
    lines = [rule_line("GRADES AND TOPICS"), *wrap("Grades, how it would be dealt with:")]
    for number, (word, meaning) in enumerate(data("grades")["meanings"].items(), 1):
        lines += wrap(f"{number} {word}: {meaning}", "  ", "    ")
    lines += wrap("Topics; one of them alone counts too, at the thing itself:")
    for word, meaning in words.topic_meanings(exercise):
        lines += wrap(f"{word}: {meaning}" if meaning else word, "  ", "    ")
    return "\n".join(lines)


def marks_text(exercise: Exercise, marks: Sequence[Mapping[str, str]]) -> str:
    """Marks by number."""
    return "\n".join(
        line
        for number, mark in enumerate(marks, 1)
        for line in wrap(f"{number}. {words.mark_words(exercise, mark)}", "  ", "     ")
    )


def score_text(exercise: Exercise, marks: Sequence[Mapping[str, str]], result: Mapping[str, Any]) -> str:
    """The score, then everything found and missed with its explanation, then marks that nothing answers to."""
    parts = [
        "\n".join(
            [rule_line("SCORE"), *(line for text in words.summary(exercise, result) for line in wrap(text, "", "  "))]
        )
    ]
    if result["found"]:
        blocks = []
        for one in result["found"]:
            said = (
                f"Marked: {words.mark_words(exercise, marks[one['mark']])} ({words.grade_words(exercise, one, marks)})."
            )
            other = words.other_kind(exercise, one, marks)
            blocks.append(
                "\n".join([*wrap(said, "", "  "), *wrap(other, "", "  "), *_explained(exercise, one["danger"])])
            )
        parts.append("\n\n".join([rule_line("FOUND"), *blocks]))
    if result["missed"]:
        missed = ["\n".join(_explained(exercise, number)) for number in result["missed"]]
        parts.append("\n\n".join([rule_line("MISSED"), *missed]))
    if result["false_alarms"]:
        lines = [rule_line("FALSE ALARMS"), *wrap("No rule finds this there in what is recorded. It is no all-clear.")]
        for number in result["false_alarms"]:
            lines += wrap(words.mark_words(exercise, marks[number]), "  ", "    ")
        parts.append("\n".join(lines))
    if result["told"]:
        lines = [rule_line("FOR THE TRAINER"), *wrap("Marked in own words; no rule can say whether it is right.")]
        for number in result["told"]:
            lines += wrap(words.mark_words(exercise, marks[number]), "  ", "    ")
        parts.append("\n".join(lines))
    if result["questions"]:
        lines = [rule_line("OPEN QUESTIONS"), *wrap(data("grades")["certainty_meanings"]["possible"])]
        for number in result["questions"]:
            lines += wrap(words.mark_words(exercise, marks[number]), "  ", "    ")
        parts.append("\n".join(lines))
    check = result["check"]
    if check is not None:
        chosen, best = check["chosen"], check["best"]
        shown = [check_text(exercise, chosen, "The check you chose")] if chosen else []
        shown += [check_text(exercise, best, "The check that counts most")] if chosen != best else []
        parts.append("\n".join([rule_line("BEFORE THE NEXT CHECK"), *shown]))
    foot = [rule_line("WHAT THIS IS"), *wrap(words.ABOUT), *wrap(words.AT_THE_END)]
    foot += [*wrap(data("wording")["statement"]), *wrap(words.made(exercise))]
    return "\n\n".join([*parts, "\n".join(foot)])


def _explained(exercise: Exercise, number: int) -> list[str]:
    danger = exercise.dangers[number]
    lines = wrap(danger.title, "", "  ")
    for word, text in words.explained(danger):
        said = text if word in ("Finding", "Caution") else f"{word}: {text}"
        lines += wrap(said if said.endswith((".", "?")) else f"{said}.", "  ", "    ")
    return lines


def planters_text(known: Mapping[str, Planter]) -> str:
    """The kinds of defect that can be planted."""
    lines = ["Defects that can be planted (--defect NAME):"]
    for one in known.values():
        lines += ["", *wrap(one.name), *wrap(f"{one.why} Found by {one.rule}.", "  ")]
    return "\n".join(lines)


def planted_text(planted: Sequence[Planted]) -> str:
    """What was planted, for the trainer."""
    return "\n".join(line for one in planted for line in wrap(f"{one.name}, at {one.at}: {one.why}", "  ", "    "))
