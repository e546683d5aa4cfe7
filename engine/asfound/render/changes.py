"""The log as text: after each entry the conductors whose state it changed, and why."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from asfound.record.model import Entry
from asfound.render.lines import rule_line, wrap
from asfound.render.tree import STATES
from asfound.trace.circuits import Installation
from asfound.wording import joined, quoted_list

MOST = 12
"""Conductors named in one line of text."""


@dataclass(slots=True)
class Changed:
    """Conductors, and metal of boxes, that one log entry gave one state for one reason."""

    conductors: list[str]
    state: str
    reason: str


@dataclass(slots=True)
class Moment:
    """One log entry: what was done, and what it changed."""

    entry: int
    words: str
    changed: list[Changed]


def moments(installation: Installation) -> list[Moment]:
    """Every entry of the log in order, with what it changed."""
    by_entry: dict[int, dict[tuple[str, str], list[str]]] = {}
    for change in installation.states.changes:
        held = by_entry.setdefault(change.entry.number, {})
        for conductor, state in change.changed:
            tag = f"the metal of {conductor.tag}" if conductor.kind == "box" else conductor.tag
            held.setdefault((state.word, state.reason), []).append(tag)
    return [
        Moment(
            entry.number, _words(entry), [Changed(tags, *key) for key, tags in by_entry.get(entry.number, {}).items()]
        )
        for entry in installation.record.log
    ]


def _words(entry: Entry) -> str:
    to = f"{' ' if entry.did == 'switched' else ', to: '}{entry.to}" if entry.to else ""
    readings = f", readings {joined(entry.readings)}" if entry.readings else ""
    visit = f", visit {entry.visit}" if entry.visit else ""
    return f"{entry.words}{visit}: {joined(entry.what)} {entry.did}{to}{readings}"


def moments_text(told: Iterable[Moment]) -> str:
    """The moments as text."""
    lines = [
        rule_line("STATES, STEP BY STEP"),
        *wrap(
            "Before the first entry, and wherever no entry says otherwise, every conductor is to be treated as live."
        ),
    ]
    for moment in told:
        lines += ["", *wrap(f"{moment.words[:1].upper()}{moment.words[1:]}", "", "  ")]
        for one in moment.changed:
            lines += wrap(f"{STATES[one.state]}: {quoted_list(one.conductors, MOST)}", "  ", "    ")
            lines += wrap(one.reason, "      ", "      ")
        if not moment.changed:
            lines.append("  no state changes")
    return "\n".join(lines)
