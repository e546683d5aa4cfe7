"""Answers of a trainee: read from a file, understood from a few words, written for keeping.

`what` of a mark becomes the name of a rule or a topic, `at` a tag of the
exercise; a word that is neither is refused with the nearest ones.
"""

from __future__ import annotations

import difflib
import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import yaml

from asfound.drill.exercise import Exercise
from asfound.load import Document, Map, Place, Problem, Refused, load_bytes, load_file
from asfound.names import Names
from asfound.shape import problems

MOST_NEAR = 8


@dataclass(frozen=True, slots=True)
class Answers:
    """Marks in the order in which they would be dealt with, and the number of the next check, None when not chosen."""

    marks: tuple[dict[str, str], ...]
    chosen: int | None
    by: str = ""


def read_answers(path: str | Path, exercise: Exercise) -> Answers:
    """Read a file of answers to this exercise. Raises `Refused` with every problem."""
    return _understood(load_file(path), exercise)


def read_answer_bytes(data: bytes, name: str, exercise: Exercise) -> Answers:
    """As `read_answers`, from bytes."""
    return _understood(load_bytes(data, name), exercise)


def _understood(document: Document, exercise: Exercise) -> Answers:
    root = document.root
    if "exercise" in root.written:
        root["exercise"] = root.written["exercise"]  # ten digits are a name, not a number
    for entry in root.get("marks") or ():
        if isinstance(entry, Map) and "at" in entry.written and not isinstance(entry["at"], str):
            entry["at"] = entry.written["at"]
    found = problems(root, "marks")
    if found:
        raise Refused(document.name, found)
    found = [*_other_exercise(root, exercise)]
    tags, marks = Names(exercise.tags), []
    for number, entry in enumerate(root["marks"], 1):
        where = f"marks, number {number}"
        what = rule_or_topic(entry["what"], exercise)
        if entry["at"] not in tags:
            cause = f"there is no tag {entry['at']!r} in this exercise"
            found.append(Problem(entry.places["at"], where, cause, tags.hint(entry["at"])))
        if not what:
            near = [title for _, title in nearest(entry["what"], exercise)]
            cause = f"no rule and no topic is called {entry['what']!r}"
            step = f"did you mean {near[0]!r}" if near else "take a name or a title from `asfound explain`, or a topic"
            found.append(Problem(entry.places["what"], where, cause, step))
        marks.append({"at": entry["at"], "what": what, "grade": entry.get("grade", "")})
    chosen = root.get("next")
    if chosen is not None and not 1 <= chosen <= len(exercise.checks):
        count = len(exercise.checks)
        step = f"write a number from 1 to {count}" if count else "leave next out; this exercise has no check to choose"
        found.append(Problem(root.places["next"], "next", f"there is no check {chosen} in this exercise", step))
    if found:
        raise Refused(document.name, found)
    return Answers(tuple(marks), chosen, root.get("by", ""))


def _other_exercise(root: Map, exercise: Exercise) -> list[Problem]:
    given = root.get("exercise", exercise.identity)
    if given == exercise.identity:
        return []
    place: Place = root.places["exercise"]
    step = "give the seed, date and record that the marks were made with"
    return [Problem(place, "exercise", f"these are marks of exercise {given}, and this is {exercise.identity}", step)]


def rule_or_topic(words: str, exercise: Exercise) -> str:
    """The name of the rule, or the topic, that is called so; empty when none is. Case does not count."""
    said = _plain(words)
    for name, title, topic, _ in exercise.rules:
        if said in (_plain(name), _plain(title)):
            return name
        if said == _plain(topic):
            return topic
    return ""


def _plain(words: str) -> str:
    return " ".join(words.lower().replace("_", " ").rstrip(".").split())


def nearest(words: str, exercise: Exercise, at: Iterable[str] = (), most: int = MOST_NEAR) -> list[tuple[str, str]]:
    """Rules and topics that a few words can mean, the nearest first: name and title, topics under their own name.

    Of those alike, rules that look at what is `at` those tags come first.
    """
    asked, kinds = _stems(words), {kind for tag in at for kind in _LOOKS_AT.get(_kind(tag, exercise), ())}
    listed = [(name, title, of in kinds, _stems(f"{title} {name}")) for name, title, _, of in exercise.rules]
    listed += [(topic, f"something else: {_plain(topic)}", False, _stems(topic)) for topic in topics(exercise)]
    scored = []
    for number, (name, title, here, held) in enumerate(listed):
        hits = sum(any(_alike(stem, one) for one in held) for stem in asked)
        alike = difflib.SequenceMatcher(None, _plain(words), title.lower()).ratio()
        if hits or alike > 0.5:
            scored.append((-hits, not here, -alike, number, name, title))
    return [(name, title) for *_, name, title in sorted(scored)[:most]]


_LOOKS_AT = {
    "boxes": ("box", "joint", "end"), "devices": ("device", "terminal"), "joints": ("joint", "net"),
    "cables": ("cable", "conductor", "end", "net", "claim"), "panels": ("panel", "breaker"),
    "breakers": ("breaker", "circuit"),
}  # fmt: skip
"""The kinds of item that rules look at, by the part of a record that a tag is in."""


def _kind(tag: str, exercise: Exercise) -> str:
    """The part of the record that a tag is in, `breakers` for one of a panel; empty when in none."""
    parts = [
        part for part in ("boxes", "devices", "joints", "cables", "panels") if tag in exercise.record.get(part, {})
    ]
    breaker = tag.rsplit(" ", 1)[0] in exercise.record["panels"]
    return parts[0] if parts else "breakers" if breaker else ""


def _alike(stem: str, held: str) -> bool:
    """Whether two beginnings of words are of one word: the shorter begins the longer, and is no small word itself."""
    return held.startswith(stem) or (len(held) > 4 and stem.startswith(held))


def topics(exercise: Exercise) -> list[str]:
    """All topics, in the order of the rules."""
    return list(dict.fromkeys(topic for _, _, topic, _ in exercise.rules))


_SMALL_WORDS = {
    "a",
    "an",
    "the",
    "of",
    "is",
    "in",
    "on",
    "to",
    "no",
    "not",
    "has",
    "or",
    "and",
    "than",
    "it",
    "for",
    "at",
}


def _stems(words: str) -> list[str]:
    return [one[:7] for one in re.findall(r"[a-z0-9]+", words.lower()) if one not in _SMALL_WORDS]


def written(exercise: Exercise, marks: Sequence[dict[str, str]], chosen: int | None, by: str = "") -> str:
    """Answers as the YAML that `read_answers` takes."""
    held: dict[str, Any] = {"exercise": exercise.identity}
    if by:
        held["by"] = by
    held["marks"] = [{name: value for name, value in mark.items() if value} for mark in marks]
    if chosen is not None:
        held["next"] = chosen
    return yaml.safe_dump(held, sort_keys=False, allow_unicode=True, width=120)
