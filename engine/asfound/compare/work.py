"""The comparison itself."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from asfound.compare import resolve
from asfound.compare.era import mark_eras, older, since, skipped
from asfound.compare.match import matched
from asfound.compare.pairs import paired, tag_links
from asfound.compare.resolve import Judged, Reason, Resolver, Sums
from asfound.compare.results import (
    CHANGED,
    NEW,
    NEWLY_SEEN,
    NO_LONGER_THERE,
    NOT_SEEN,
    OUTCOMES,
    REPAIRED,
    SETTLED,
    STILL_THERE,
    Comparison,
    Entry,
)
from asfound.compare.side import TAGGED, Side, side_of
from asfound.data import data
from asfound.judge.results import Finding
from asfound.pause import collector_paused
from asfound.record.events import PUT_IN, TAKEN_OUT
from asfound.survey import Survey
from asfound.wording import natural, quoted_list

_GONE = {
    resolve.ANOTHER_TIME: NO_LONGER_THERE, resolve.SETTLED: SETTLED, resolve.LEFT_OUT: SETTLED,
    resolve.SAYS_OTHERWISE: REPAIRED,
}  # fmt: skip
"""What a finding of the earlier record alone comes to, by its reason; by any other reason it can no longer be seen."""
_COME = {resolve.ANOTHER_TIME: NEW, resolve.SAYS_OTHERWISE: NEW}
"""The same of a finding of the later record alone, which otherwise is newly seen. That an earlier look answers what
a later one leaves open is no comfort: the finding stands."""


def compare(earlier: Survey, later: Survey, before: Survey | None = None) -> Comparison:
    """What became of every finding between two records judged by the tables of one date.

    `before` is the earlier record judged by the tables of another date, its
    own; what differs by that alone is said so and not taken for a change of
    the house. Raises `ValueError` when the two were judged by different dates.
    """
    if earlier.tables.as_of != later.tables.as_of:
        raise ValueError("judge both records as of one date, and give the earlier one of its own date as `before`")
    with collector_paused():
        return _Comparing(earlier, later, before).all()


class _Comparing:
    def __init__(self, earlier: Survey, later: Survey, before: Survey | None) -> None:
        self.earlier, self.later, self.before = earlier, later, before
        self.one, self.two = side_of(earlier.installation), side_of(later.installation)
        gone, come = (since(earlier.record, later.record, did) for did in (TAKEN_OUT, PUT_IN))
        self.links = tag_links(self.one, self.two, gone, come)
        self.pairs = paired(self.one, self.two, self.links)
        mark_eras(self.one, self.two, self.pairs)
        sides = Judged(self.one, earlier.results, earlier.tables), Judged(self.two, later.results, later.tables)
        self.sums = Sums(*sides, self.pairs, earlier.rules)
        self.gone = Resolver(sides[0], sides[1], self.pairs, self.sums, this_first=True)
        self.come = Resolver(sides[1], sides[0], self.pairs.turned(), self.sums, this_first=False)
        self.listed_gone = gone

    def all(self) -> Comparison:
        edges = matched(self.one, self.two, self.pairs, self.earlier.results.findings, self.later.results.findings)
        lost = [one for one, two in edges if one is not None and two is None]
        found = [two for one, two in edges if one is None and two is not None]
        self.sums.wanted = {finding.rule.name for finding in (*lost, *found)}
        entries = [self._both(one, two) for one, two in edges if one is not None and two is not None]
        entries += [self._lost(finding, reason) for finding, reason in zip(lost, self.gone.reasons(lost), strict=True)]
        entries += [
            _entry(_COME.get(reason.ground, NEWLY_SEEN), self._dated(finding, reason), None, finding)
            for finding, reason in zip(found, self.come.reasons(found), strict=True)
        ]
        made = Comparison(self.earlier, self.later, as_of_earlier=self.earlier.tables.as_of)
        if self.before is not None:
            entries = self._by_edition(made, entries, self.before)
        made.entries = sorted(entries, key=_order)
        made.notes = list(self._notes())
        return made

    def _lost(self, finding: Finding, reason: Reason) -> Entry:
        outcome = _GONE.get(reason.ground, NOT_SEEN)
        if outcome == REPAIRED and finding.certainty == "possible":
            outcome = SETTLED  # a question is answered, not repaired
        made = _entry(outcome, reason, finding, None)
        return replace(made, skipped=tuple(skipped(self.one, self.two, finding))) if made.outcome == NOT_SEEN else made

    def _dated(self, finding: Finding, reason: Reason) -> Reason:
        """The reason, with what dates a thing that only the later record lists to before the earlier one."""
        said = older(self.one, self.two.items[finding.at]) if reason.ground == resolve.NOT_LISTED else None
        return replace(reason, statement=said) if said is not None else reason

    def _both(self, one: Finding, two: Finding) -> Entry:
        if (one.grade, one.certainty) == (two.grade, two.certainty):
            return Entry(STILL_THERE, "", one, two)
        mine, theirs = self.gone.judged(one), self.come.judged(two)
        found = tuple(self.gone.between(one.rule, mine, theirs))
        return Entry(CHANGED, "", one, two, found, worse=_is_worse(one, two))

    def _by_edition(self, made: Comparison, entries: list[Entry], before: Survey) -> list[Entry]:
        """Say which findings hang on the date of the tables, by the earlier record judged by both dates."""
        made.as_of_earlier = before.tables.as_of
        then = {finding.identity: finding for finding in before.results.findings}
        now = {finding.identity for finding in self.earlier.results.findings}
        made.by_edition = [finding for identity, finding in then.items() if identity not in now]
        return [_with_edition(entry, then) for entry in entries]

    # -- the two records themselves

    def _notes(self) -> Iterator[str]:
        one, two = self.earlier.record, self.later.record
        if one.name != two.name:
            yield f"The records name two sites: {one.name!r} and {two.name!r}."
        first, last = self.one.last_visit(), self.two.last_visit()
        if first is not None and last is not None and last.on < first.on:
            yield (
                f"The later record ends with a visit of {last.on}, before the last one of the earlier record "
                f"({first.on}); are the two in the right order?"
            )
        yield from _tag_notes(self.one, self.two)
        unknown = [
            tag for tag in self.listed_gone
            if not any(tag in held.by_tag or tag in held.items for held in (self.one, self.two))
        ]  # fmt: skip
        if unknown:
            yield f"Taken out by the log of the later record, and in neither record: {quoted_list(unknown, 6)}."
        kept = [tag for tag in self.listed_gone if tag in self.two.by_tag]
        if kept:
            yield f"Taken out by the log of the later record, which still lists it: {quoted_list(kept, 6)}."


def _tag_notes(one: Side, two: Side) -> Iterator[str]:
    """Earlier tags that are named and were not there, and those that several things name."""
    lost: list[str] = []
    claims: dict[tuple[str, str], list[str]] = {}
    for kind in TAGGED:
        before = one.tagged(kind)
        for tag, item in two.tagged(kind).items():
            named = [was for was in item.was if was in before]
            if item.was and not named and tag not in before and kind != "breaker":
                lost.append(f"{tag} (was {quoted_list(item.was, 3)})")
            for was in named:
                claims.setdefault((kind, was), []).append(tag)
    if lost:
        yield f"Earlier tags that the earlier record does not have: {quoted_list(lost, 6)}."
    split = [f"{was} by {quoted_list(tags, 4)}" for (_, was), tags in claims.items() if len(tags) > 1]
    if split:
        yield f"Earlier tags named by several things: {quoted_list(split, 6)}."


def _entry(outcome: str, reason: Reason, earlier: Finding | None, later: Finding | None) -> Entry:
    return Entry(outcome, reason.ground, earlier, later, reason.changes, reason.statement, reason.open)


def _with_edition(entry: Entry, then: dict[str, Finding]) -> Entry:
    if entry.earlier is None:
        return entry
    held = then.get(entry.earlier.identity)
    if held is None:
        return replace(entry, edition="only by the tables of the later date")
    if (held.grade, held.certainty) != (entry.earlier.grade, entry.earlier.certainty):
        return replace(entry, edition=f"{held.grade}, {held.certainty} by the tables of the earlier date")
    return entry


def _is_worse(one: Finding, two: Finding) -> bool:
    """Whether the grade is graver, or what was a question is a defect."""
    return _rank(two)[0] < _rank(one)[0] or (one.certainty == "possible" != two.certainty)


def _rank(finding: Finding) -> tuple[int, int]:
    grades = data("grades")
    return grades["grades"].index(finding.grade), grades["certainties"].index(finding.certainty)


def _order(entry: Entry) -> tuple[object, ...]:
    finding = entry.finding
    other = entry.earlier.identity if entry.earlier is not None else ""
    return (
        OUTCOMES.index(entry.outcome), not entry.worse, finding.certainty == "possible", *_rank(finding),
        natural(finding.place), finding.rule.name, finding.identity, other,
    )  # fmt: skip


__all__ = ["compare"]
