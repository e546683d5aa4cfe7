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
from asfound.drill.near import in_order
from asfound.drill.score import OTHER
from asfound.load import Document, Map, Place, Problem, Refused, load_bytes, load_file
from asfound.shape import problems

MOST_NEAR = 8


@dataclass(frozen=True, slots=True)
class Answers:
    """Marks in the order in which they would be dealt with, and the number of the next check, None when not chosen.

    `reached` is how many places the trainee has gone through.
    """

    marks: tuple[dict[str, str], ...]
    chosen: int | None
    by: str = ""
    reached: int = 0


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
    wrong = {problem.where for problem in found}
    marks = []
    listed = root.get("marks")
    for number, entry in enumerate(listed if isinstance(listed, list) else (), 1):
        if isinstance(entry, Map):
            mark, more = _mark(entry, f"marks, number {number}", exercise)
            marks.append(mark)
            found += [problem for problem in more if problem.where not in wrong]
    found += [problem for problem in (*_other_exercise(root, exercise), *_no_check(root, exercise))
              if problem.where not in wrong]  # fmt: skip
    if found:
        raise Refused(document.name, sorted(found, key=lambda problem: problem.place.line))
    return Answers(tuple(marks), root.get("next"), root.get("by", ""), root.get("reached", 0))


def _mark(entry: Map, where: str, exercise: Exercise) -> tuple[dict[str, str], list[Problem]]:
    """One mark, and what is wrong with it as far as it is there."""
    found = []
    at, what = (entry.get(name) if isinstance(entry.get(name), str) else "" for name in ("at", "what"))
    meant = rule_or_topic(what, exercise) if what else ""
    tag = tag_of(at, exercise) if at else ""
    if at and not tag:
        cause = f"there is no tag {at!r} in this exercise"
        found.append(Problem(entry.places["at"], f"{where}, at", cause, in_order(at, exercise.tags)))
    if what and not meant:
        near = [title for _, title in nearest(what, exercise)]
        step = f"did you mean {near[0]!r}" if near else "take a name or a title from `asfound explain`, or a topic"
        found.append(Problem(entry.places["what"], f"{where}, what", f"no rule and no topic is called {what!r}", step))
    if meant == OTHER and not entry.get("said"):
        found.append(
            Problem(entry.places["what"], f"{where}, what", "it does not say what else", "add said: with a sentence")
        )
    mark = {"at": tag, "what": meant, "grade": entry.get("grade", "")}
    if entry.get("said"):
        mark["said"] = entry["said"]
    return mark, found


def tag_of(at: str, exercise: Exercise) -> str:
    """The tag that is meant: itself, or that of the thing whose terminal or wire is named, such as `R3 hot`."""
    tags = set(exercise.tags)
    words = at.split(" ")
    return next((one for n in range(len(words), 0, -1) if (one := " ".join(words[:n])) in tags), "")


def _no_check(root: Map, exercise: Exercise) -> list[Problem]:
    chosen, count = root.get("next"), len(exercise.checks)
    if not isinstance(chosen, int) or 1 <= chosen <= count:
        return []
    step = f"write a number from 1 to {count}" if count else "leave next out; this exercise has no check to choose"
    return [Problem(root.places["next"], "next", f"there is no check {chosen} in this exercise", step)]


def _other_exercise(root: Map, exercise: Exercise) -> list[Problem]:
    given = root.get("exercise", exercise.identity)
    if given == exercise.identity or not isinstance(given, str):
        return []
    place: Place = root.places["exercise"]
    step = "give the seed, date and record that the marks were made with"
    return [Problem(place, "exercise", f"these are marks of exercise {given}, and this is {exercise.identity}", step)]


def rule_or_topic(words: str, exercise: Exercise) -> str:
    """The name of the rule, or the topic, that is called so; empty when none is. Case does not count."""
    said = _plain(words)
    if said == OTHER:
        return OTHER
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


def tag_in_words(words: str, here: Sequence[str], tags: Sequence[str]) -> tuple[str, str]:
    """The tag that a few words name, of those here before all others, and the other words; no tag when none is named.

    A tag of one letter, such as that of a panel, is named as `panel A` only: the
    letter can be an article. A plain word is taken for a tag only when it is here.
    """
    for known in (here, [tag for tag in tags if not tag.isalpha() or not tag.islower()]):
        for tag in sorted(known, key=len, reverse=True):
            name = f"panel {tag}" if len(tag) == 1 else tag
            found = re.search(rf"(?<!\w){re.escape(name)}(?!\w)", words, re.IGNORECASE)
            if found:
                rest = " ".join(f"{words[: found.start()]} {words[found.end() :]}".split()).strip(" ,:;.-")
                rest = re.sub(r"^(at|in|on|is)\b|\b(at|in|on)$", "", rest).strip()
                return tag, rest or words
    return "", words


def usual_tag(what: str, place: str, here: Sequence[str], exercise: Exercise) -> str:
    """The tag that a mark at a place is at when nothing is said; empty when that has to be asked.

    For a rule the only thing here of the kind that it looks at; else the place,
    but a panel only for what is about panels.
    """
    of = next((kind for name, _, _, kind in exercise.rules if name == what), "")
    fit = [tag for tag in here if of in _LOOKS_AT.get(_kind(tag, exercise), ())]
    if len(fit) == 1:
        return fit[0]
    if _kind(place, exercise) == "panels":
        return place if of == "panel" else ""
    return place


_LOOKS_AT = {
    "boxes": ("box", "joint", "end"), "devices": ("device", "terminal"), "joints": ("joint", "net"),
    "cables": ("cable", "conductor", "end", "net", "claim"), "panels": ("panel",),
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


def written(
    exercise: Exercise, marks: Sequence[dict[str, str]], chosen: int | None, by: str = "", reached: int = 0
) -> str:
    """Answers as the YAML that `read_answers` takes."""
    held: dict[str, Any] = {"exercise": exercise.identity}
    if by:
        held["by"] = by
    if reached:
        held["reached"] = reached
    held["marks"] = [{name: value for name, value in mark.items() if value} for mark in marks]
    if chosen is not None:
        held["next"] = chosen
    return yaml.safe_dump(held, sort_keys=False, allow_unicode=True, width=120)
