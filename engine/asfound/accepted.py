"""Findings that somebody has accepted for a time: a file beside the record, named when it is to be read.

An accepted finding stays where it stands with its grade and its caution, and
says who accepted it, why and until when. Until that day it does not count for
the exit status. What a file says of no finding, no longer, or twice is told of
as stale. A finding graded hands off is accepted only where the entry says what
was done on site to keep people away.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from datetime import date
from pathlib import Path
from typing import Any

from asfound.judge.results import Finding
from asfound.load import Map, Problem, Refused, Seq, load_file
from asfound.shape import problems

IN_FORCE, EXPIRED, NOT_TAKEN = "accepted", "expired", "refused"
HANDS_OFF = "hands off"


@dataclass(frozen=True, slots=True)
class Acceptance:
    """One entry as written. `until` is the last day it holds, year-month-day."""

    finding: str
    reason: str
    by: str
    until: str
    note: str
    kept_away: str
    line: int


@dataclass(frozen=True, slots=True)
class AcceptedFile:
    """A file of acceptances as read."""

    name: str
    sha256: str
    entries: tuple[Acceptance, ...]


@dataclass(frozen=True, slots=True)
class Stale:
    """An entry that does nothing, or no longer: `kind` is a word for it, then cause and next step."""

    kind: str
    entry: Acceptance
    cause: str
    step: str

    @property
    def words(self) -> str:
        return f"line {self.entry.line}, finding {self.entry.finding}: {self.cause}; {self.step}"


@dataclass(slots=True)
class Accepted:
    """A file of acceptances held against the findings of one run.

    `by_finding` gives for the identity of a finding its entry and the word for
    it: accepted, expired or refused.
    """

    file: AcceptedFile
    as_of: str
    by_finding: dict[str, tuple[str, Acceptance]] = field(default_factory=dict)
    stale: list[Stale] = field(default_factory=list)

    def of(self, identity: str) -> tuple[str, Acceptance] | None:
        """The word and the entry for a finding; None when the file does not speak of it."""
        return self.by_finding.get(identity)

    def in_force(self, identity: str) -> bool:
        """Whether a finding is accepted on the date of the run."""
        held = self.by_finding.get(identity)
        return held is not None and held[0] == IN_FORCE

    @property
    def count(self) -> int:
        """How many findings are accepted on the date of the run."""
        return sum(word == IN_FORCE for word, _ in self.by_finding.values())


def read_accepted(path: str | Path) -> AcceptedFile:
    """Read a file of accepted findings. Raises `Refused` with every problem: place, cause, next step."""
    try:
        document = load_file(path)
    except Refused as refused:
        raise Refused(refused.name, [_of_this_file(one) for one in refused.problems]) from None
    root = document.root
    listed = root.get("accepted")
    for entry in listed if isinstance(listed, Seq) else ():
        if isinstance(entry, Map) and "finding" in entry.written:
            entry["finding"] = entry.written["finding"]  # twelve digits are an identity, not a number
    found = problems(root, "accepted") or [*_dates(root)]
    if found:
        raise Refused(document.name, found)
    return AcceptedFile(document.name, document.sha256, tuple(map(_entry, root["accepted"])))


_AS_IS = "write accepted: and under it a list of entries, each with finding, reason, by and until"


def _of_this_file(problem: Problem) -> Problem:
    """What the loader says of a record, said of this kind of file."""
    if "asfound new" not in problem.step:
        return problem
    cause = problem.cause
    if cause.startswith("a record is made of"):
        cause = "a file of accepted findings has the name accepted at its top; this file begins otherwise"
    return Problem(problem.place, problem.where, cause, _AS_IS)


def _dates(root: Map) -> Iterable[Problem]:
    for number, entry in enumerate(root["accepted"], 1):
        try:
            date.fromisoformat(entry["until"])
        except ValueError:
            cause = f"there is no {entry['until']} in the calendar"
            step = "correct the date; it is written year-month-day"
            yield Problem(entry.places["until"], f"accepted, number {number}", cause, step)


def _entry(held: Any) -> Acceptance:
    return Acceptance(
        held["finding"], held["reason"], held["by"], held["until"], held.get("note", ""), held.get("kept_away", ""),
        held.place.line,
    )  # fmt: skip


def held_against(
    file: AcceptedFile, findings: Iterable[Finding], as_of: str, former: Mapping[str, list[str]] | None = None
) -> Accepted:
    """Hold a file against findings, on a date written year-month-day.

    `former` gives present identities by those that the findings had under
    earlier tags (see `compare.former`), so that an acceptance survives new tags.
    """
    by_identity = {finding.identity: finding for finding in findings}
    made = Accepted(file, as_of)
    first: dict[str, Acceptance] = {}
    for entry in file.entries:
        if entry.finding in first:
            cause = f"it is accepted twice (first on line {first[entry.finding].line}, which holds)"
            made.stale.append(Stale("given twice", entry, cause, "keep one of the two"))
            continue
        first[entry.finding] = entry
        moved = (former or {}).get(entry.finding, [])
        there = dict.fromkeys([*([entry.finding] if entry.finding in by_identity else []), *moved])
        if len(there) != 1:
            made.stale.append(_lost(entry) if not there else _two(entry, there))
            continue
        identity = next(iter(there))
        if identity in made.by_finding:
            cause = f"the same finding is accepted on line {made.by_finding[identity][1].line}, which holds"
            made.stale.append(Stale("given twice", entry, cause, "keep one of the two"))
            continue
        made.by_finding[identity] = (_word(made, entry, by_identity[identity]), entry)
    return made


def _word(made: Accepted, entry: Acceptance, finding: Finding) -> str:
    if finding.grade == HANDS_OFF and not entry.kept_away.strip():
        cause = "it is graded hands off and the entry does not say what was done on site to keep people away"
        step = "add kept_away: such as breaker locked off and the door closed off, or delete the entry"
        made.stale.append(Stale("hands off", entry, cause, step))
        return NOT_TAKEN
    if entry.until < made.as_of:
        cause = f"it was accepted until {entry.until}, and this is judged as of {made.as_of}"
        made.stale.append(Stale("expired", entry, cause, "look at it again, then renew or delete the entry"))
        return EXPIRED
    return IN_FORCE


def _lost(entry: Acceptance) -> Stale:
    return Stale("no such finding", entry, "no finding of this record has this identity",
                 "delete the entry, or copy the identity again from the output of a check")  # fmt: skip


def _two(entry: Acceptance, there: Iterable[str]) -> Stale:
    cause = f"since tags were changed it can mean the findings {' and '.join(there)}"
    return Stale("two findings", entry, cause, "write the present identity of the one that is meant")


__all__ = ["EXPIRED", "IN_FORCE", "NOT_TAKEN", "Acceptance", "Accepted", "AcceptedFile", "Stale", "held_against",
           "read_accepted"]  # fmt: skip
