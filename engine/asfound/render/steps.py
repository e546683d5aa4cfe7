"""What to test next, as text for a terminal and as plain values for JSON. Nothing is wider than `WIDTH`."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import asdict
from typing import Any

from asfound import __version__
from asfound.data import data
from asfound.plan import Plan
from asfound.plan.words import StepWords, in_words
from asfound.render.asdata import RunFacts
from asfound.render.lines import WIDTH, cells, rule_line, wrap
from asfound.wording import plural


def steps_text(plan: Plan, run: RunFacts) -> str:
    """The plan, steps at one place together, in the order of the best of them."""
    steps = in_words(plan)
    parts = [_head(plan, run, steps)]
    by_place: dict[str, list[StepWords]] = {}
    for step in steps:
        by_place.setdefault(step.place, []).append(step)
    parts += [_place(place, held) for place, held in by_place.items()]
    parts.append(_foot())
    return "\n\n".join(parts) + "\n"


def _head(plan: Plan, run: RunFacts, steps: list[StepWords]) -> str:
    record, ranking = plan.survey.record, plan.ranking
    title = record.name + (" (invented record)" if record.invented else "")
    left = ranking.open - sum(step.points for step in plan.steps)
    failed = plan.survey.results.totals["rule failed"]
    lines = [
        *wrap(f"What to test next: {title}", "", "  "),
        *wrap(f"Record {record.document.name}, SHA-256 {record.document.sha256[:16]}", "", "  "),
        *wrap(f"Read as of {run.as_of}. {plural(len(run.rules), 'rule')}.", "", "  "),
        "",
        *wrap(data("observations")["always"]),
        *wrap(data("wording")["statement"]),
        "",
        *wrap(
            f"{plural(len(plan.asked.questions), 'open question')}, {ranking.open:.1f} points; "
            f"{left:.1f} are expected to be left after {plural(len(steps), 'step')}.", "", "  ",
        ),
        *wrap(f"A point is {_scale()}", "", "  "),
    ]  # fmt: skip
    if failed:
        lines += wrap(f"{plural(failed, 'check')} failed and asked nothing; their silence means nothing.", "", "  ")
    return "\n".join(lines)


def _scale() -> str:
    """What a point is, from the data file."""
    grades = data("observations")["weights"]["grades"]
    least = min(grades, key=lambda grade: grades[grade])
    others = ", ".join(f"{grade} counts {held}" for grade, held in grades.items() if grade != least)
    return f"one wholly open question of grade {least}; one of {others}."


def _place(place: str, steps: list[StepWords]) -> str:
    ranks = ", ".join(str(step.rank) for step in steps)
    title = f"{ranks}: {place}"
    lines = [rule_line(title)] if cells(title) <= WIDTH - 8 else [rule_line(ranks), *wrap(place, "  ")]
    for index, step in enumerate(steps):
        before = () if index == 0 else steps[index - 1].before
        lines += [*([""] if index else []), *_step(step, before)]
    return "\n".join(lines)


def _step(step: StepWords, said: Iterable[str]) -> list[str]:
    """One step, what has to be done first before all else; what was said for the step above is not said again."""
    lines = []
    if step.before and tuple(said) == step.before:
        lines += wrap("First: as for the step above.", "  ", "    ")
    else:
        for number, text in enumerate(step.before):
            lines += wrap(f"{'Then' if number else 'First'}: {text}", "  ", "    ")
    where = f" ({step.end})" if step.end else ""
    lines += wrap(f"{step.rank}. {step.do[:1].upper()}{step.do[1:].rstrip('.')}{where}.", "", "   ")
    for text in step.looks:
        lines += wrap(f"Note {text}.", "   ", "     ")
    lines += wrap(f"With: {step.tool}. Who: {step.who}.", "   ", "     ")
    for text in step.recorded:
        lines += wrap(f"So far: {text}.", "   ", "     ")
    for text in step.means:
        lines += wrap(text, "   ", "     ")
    return lines + wrap(step.why, "   ", "     ")


def _foot() -> str:
    lines = [rule_line("HOW TO READ THIS")]
    for text in (
        "Each step is chosen after those before it, taking their outcome as found. After every step, write down what "
        "was seen and run this again: the order changes with what is found.",
        "The figures are expectations from stated weights, not measurements of this building. A low rank is no "
        "all-clear, and what is not on the list was not ranked by anybody.",
        data("wording")["silence"],
    ):
        lines += wrap(text, "  ")
    return "\n".join(lines)


def steps_data(plan: Plan, run: RunFacts) -> dict[str, Any]:
    """The plan as plain values."""
    record, weights = plan.survey.record, data("observations")
    return {
        "record": {
            "file": record.document.name, "sha256": record.document.sha256, "site": record.name,
            "invented": record.invented,
        },
        "run": {
            "asfound": __version__, "as_of": run.as_of,
            "rules": [{"rule": name, "revision": revision} for name, revision in run.rules],
            "statement": data("wording")["statement"], "always": weights["always"],
        },
        "weights": weights["weights"]["grades"],
        "open": {
            "questions": len(plan.asked.questions), "points": round(plan.ranking.open, 3),
            "left": round(plan.ranking.open - sum(step.points for step in plan.steps), 3),
        },
        "steps": [
            {
                **asdict(words), "act": step.observation.act.name, "of": step.observation.of.identity,
                "at": step.observation.place.identity if step.observation.place is not None else "",
                "settles": [
                    {
                        "question": gain.question.sort, "grade": gain.question.grade,
                        "rule": gain.question.rule.name if gain.question.rule is not None else "",
                        "item": gain.question.at.identity, "points": round(gain.points, 3), "wholly": gain.wholly,
                    }
                    for gain in step.gains
                ],
            }
            for words, step in zip(in_words(plan), plan.steps, strict=True)
        ],
    }  # fmt: skip
