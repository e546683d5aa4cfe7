"""Why a finding of one record is not in the other: the other says otherwise, is silent, or was in another time.

Written once for both directions. `this` is the side that has the finding,
`other` the side that does not.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field

from asfound.compare.fill import EVENTS, filled
from asfound.compare.looks import Change, Look, changes, reads, worlds_of
from asfound.compare.match import matched
from asfound.compare.pairs import Links, Pairs, paired
from asfound.compare.side import TAGGED, Side, Statement, conductors_of, related_items, side_of
from asfound.judge.results import CannotTell, Failed, Finding, Results
from asfound.judge.rules import Rule
from asfound.judge.run import judge
from asfound.judge.tables import TableSet
from asfound.judge.views import item_of
from asfound.record.facts import NOT_RECORDED, Item

ANOTHER_TIME = "another time"  # the thing was not there then, and a record says so
NOT_LISTED = "not listed"  # the other record does not have the thing
RULE_FAILED = "rule failed"
CANNOT_TELL = "cannot tell"
SILENT = "silent"  # with what the other record leaves out, the finding would stand there too
LEFT_OUT = "left out"  # with what this record leaves out and the other has, the finding would not stand
UNLISTED = "unlisted"  # one of the two does not list something it rests on
NOT_ONE = "not one record"  # the two records cannot be read as one
NO_CHANGE = "no change"  # nothing that was read is recorded otherwise
SAME_LOOK = "same look"  # recorded otherwise, of the same visit
NOT_TESTED = "not tested"  # it rests on readings, log or labels, and the other record has no readings there
TESTED = "tested otherwise"  # it rests on readings, log or labels, and other readings do not show it
SETTLED = "settled"  # both records can be true; one of them leaves open what the other answers
SAYS_OTHERWISE = "says otherwise"


@dataclass(frozen=True, slots=True)
class Reason:
    """Why, with what the records say differently, what comes or goes, and what the other could not tell."""

    ground: str
    changes: tuple[Change, ...] = ()
    statement: Statement | None = None
    open: tuple[CannotTell, ...] = ()


@dataclass(slots=True)
class Judged:
    """A side with what the rules say of it."""

    side: Side
    results: Results
    tables: TableSet


@dataclass(slots=True)
class Sum:
    """One record filled up from the other, judged."""

    side: Side
    results: Results
    links: Links


class Sums:
    """Each record filled up from the other, made when asked for and judged by the rules named in `wanted`."""

    def __init__(self, earlier: Judged, later: Judged, pairs: Pairs, rules: Iterable[Rule]) -> None:
        self.earlier, self.later, self.pairs = earlier, later, pairs
        self.rules = list(rules)
        self.wanted: set[str] = set()
        self.made: dict[tuple[int, bool], Sum | None] = {}

    def of(self, upper: Judged, *, events: bool) -> Sum | None:
        """`upper` filled up from the other one; None when the two cannot be read as one record."""
        is_later = upper is self.later
        under, pairs = (self.earlier, self.pairs) if is_later else (self.later, self.pairs.turned())
        events = events and any(under.side.record.document.root.get(name) for name in EVENTS)
        key = (id(upper), events)
        if key not in self.made:
            total = filled(upper.side, under.side, pairs, events=events, under_first=is_later)
            self.made[key] = None
            if total is not None:
                rules = [rule for rule in self.rules if rule.name in self.wanted]
                results = judge(total.installation, rules, upper.tables)
                self.made[key] = Sum(side_of(total.installation), results, total.links)
        return self.made[key]


@dataclass(slots=True)
class _Kept:
    """What a sum keeps of one side: its findings by `id`, and rules with what they cannot tell of."""

    findings: set[int] = field(default_factory=set)
    open: set[tuple[str, str]] = field(default_factory=set)


class Resolver:
    """Finds the reason for each finding of one side. `pairs` has that side on its earlier side."""

    def __init__(self, this: Judged, other: Judged, pairs: Pairs, sums: Sums, *, this_first: bool) -> None:
        self.this, self.other, self.pairs, self.sums = this, other, pairs, sums
        self.rules = {rule.name: rule for rule in sums.rules}
        self.this_first = this_first
        self.kept: dict[tuple[int, bool], _Kept | None] = {}
        self.by_defect: dict[str, dict[tuple[str, str], list[Item]]] = {}
        self.open: dict[str, list[CannotTell]] = {}  # by rule: what the other side cannot tell
        self.failed: dict[str, list[Failed]] = {}
        for one in other.results.cannot_tell:
            self.open.setdefault(one.rule.name, []).append(one)
        for failed in other.results.failed:
            self.failed.setdefault(failed.rule.name, []).append(failed)

    def reasons(self, findings: Iterable[Finding]) -> list[Reason]:
        """The reason for each of these findings of this side, none of which the other side has.

        Their rules have to be among those wanted of the sums.
        """
        return [self._reason(finding) for finding in findings]

    def _reason(self, finding: Finding) -> Reason:
        said = self.this.side.other_era.get(finding.at)
        if said is not None:
            return Reason(ANOTHER_TIME, statement=said)
        there = [self.other.side.items[identity] for identity in self.pairs.later(finding.at)]
        if not there:
            return Reason(NOT_LISTED)
        judged = self.judged(finding)
        now = list(dict.fromkeys(
            self.other.side.items[identity] for item in judged for identity in self.pairs.later(item.identity)
        ))  # fmt: skip
        names = {item.identity for item in (*there, *now)}
        rule = finding.rule.name
        if any(one.at in names for one in self.failed.get(rule, ())):
            return Reason(RULE_FAILED)
        found = tuple(self.between(finding.rule, judged, now))
        lacking = tuple(one for one in self.open.get(rule, ()) if one.at in names)
        if lacking:
            return Reason(CANNOT_TELL, found, open=lacking)
        wiring, own = self._kept(self.other, events=False), self._kept(self.this, events=False)
        if wiring is None or own is None:
            return Reason(NOT_ONE, found)
        places = {finding.at, *(item.identity for item in judged)}
        if id(finding) in wiring.findings or any((rule, place) in wiring.open for place in places):
            return Reason(SILENT, found)
        if id(finding) not in own.findings:
            return Reason(LEFT_OUT, found)
        if any(change.unlisted for change in found):  # where it goes now is not known, so neither is what it does
            return Reason(UNLISTED, found)
        told = self._kept(self.other, events=True)
        if told is None or id(finding) in told.findings:
            tests = tuple(self._tests((*there, *now)))
            return Reason(TESTED if tests else NOT_TESTED, (*tests, *found))
        spoken = [change for change in found if not change.silent]
        seen = [change for change in spoken if not change.agree and not change.traced]
        if spoken and all(change.agree for change in spoken):
            return Reason(SETTLED, found)
        if spoken and not seen:  # what was seen otherwise lies elsewhere on the circuit
            more = self._on_the_way(finding.rule, judged, now)
            found = (*found, *(change for change in more if change not in found))
            if any(change.silent for change in more):
                return Reason(SILENT, found)
            seen = [change for change in more if not change.agree]
        if not seen:
            return Reason(NO_CHANGE, found)
        if any(change.fact == "end" or change.traced for change in found if not change.silent) and any(
            change.fact == "end" and change.silent for change in found
        ):  # the wiring is otherwise, and not all of it is told
            return Reason(SILENT, found)
        if not any(map(self._looked_again, seen)):
            return Reason(SAME_LOOK, found)
        return Reason(SAYS_OTHERWISE, found)

    def _on_the_way(self, rule: Rule, mine: Iterable[Item], theirs: Iterable[Item]) -> list[Change]:
        """Ends recorded otherwise on the circuits of the breakers that a rule reads of these items."""
        wires = []
        for one, items in ((self.this, mine), (self.other, theirs)):
            facts = [fact for _, _, fact in reads(one.side, rule, items, one.tables)]
            fed = {item for fact in facts for value in fact.values for item in related_items(value)}
            named = [wire for item in fed if item.kind == "breaker" for wire in conductors_of(item)]
            wires.append([(wire, "", NOT_RECORDED) for wire in dict.fromkeys(named)])
        if self.this_first:
            found = changes(self.this.side, self.other.side, self.pairs, *wires)
        else:
            found = changes(self.other.side, self.this.side, self.pairs.turned(), *reversed(wires))
        return [change for change in found if change.fact == "end" or change.whole]

    def between(self, rule: Rule, mine: Iterable[Item], theirs: Iterable[Item]) -> list[Change]:
        """What the records say differently of what a rule reads, with the earlier record first."""
        before = reads(self.this.side, rule, mine, self.this.tables)
        after = reads(self.other.side, rule, theirs, self.other.tables)
        if self.this_first:
            return changes(self.this.side, self.other.side, self.pairs, before, after)
        return changes(self.other.side, self.this.side, self.pairs.turned(), after, before)

    def _looked_again(self, change: Change) -> bool:
        """Whether the two statements are of two visits, as far as the records say."""
        one, two = change.earlier.visit, change.later.visit
        if one and two:
            return one != two
        if one or two:
            return True
        mine, theirs = (set(held.side.record.visits.values()) for held in (self.this, self.other))
        return mine != theirs or not mine

    # -- what was judged

    def judged(self, finding: Finding) -> list[Item]:
        """The items on which the rule found it: the one it is at, or another when the rule looks at other things."""
        rule = self.rules[finding.rule.name]
        at = self.this.side.items[finding.at]
        if at.kind == rule.of:
            return [at]
        if rule.name not in self.by_defect:
            found: dict[tuple[str, str], list[Item]] = {}
            for item in self.this.side.installation.items.get(rule.of, ()):
                for world in worlds_of(self.this.side, rule, item, self.this.tables):
                    for defect in world.defects:
                        spot = item if defect.at is None else item_of(defect.at)
                        held = found.setdefault((spot.identity, defect.cause), [])
                        if item not in held:
                            held.append(item)
            self.by_defect[rule.name] = found
        return self.by_defect[rule.name].get((finding.at, finding.cause), [at])

    # -- the records filled up

    def _kept(self, upper: Judged, *, events: bool) -> _Kept | None:
        """What this side finds and `upper`, filled up, finds too."""
        key = (id(upper), events)
        if key not in self.kept:
            total = self.sums.of(upper, events=events)
            self.kept[key] = None if total is None else self._in(total, upper)
        return self.kept[key]

    def _in(self, total: Sum, upper: Judged) -> _Kept:
        own = {kind: {tag: (tag,) for tag in self.this.side.tagged(kind)} for kind in TAGGED}
        pairs = paired(self.this.side, total.side, own if upper is self.this else total.links)
        mine = [finding for finding in self.this.results.findings if finding.rule.name in self.sums.wanted]
        edges = matched(self.this.side, total.side, pairs, mine, total.results.findings)
        found = _Kept({id(one) for one, two in edges if one is not None and two is not None})
        open_at = [(one.rule.name, one.at) for one in total.results.cannot_tell]
        open_at += [(one.rule.name, one.at) for one in total.results.failed]
        found.open.update((rule, identity) for rule, at in open_at for identity in pairs.earlier(at))
        return found

    # -- readings of the other record

    def _tests(self, items: Iterable[Item]) -> Iterable[Change]:
        """Readings that only the other record has, on the wires of these items."""
        wires = {wire for item in items for wire in conductors_of(item)}
        wires |= {wire for item in items for net in related_items(item.data.get("net")) for wire in conductors_of(net)}
        nets = {wire.data["net"] for wire in wires}
        record = self.other.side.record
        for reading in record.readings:
            if self.pairs.earlier(reading.identity) or reading.data["known_source"].value:
                continue
            if not any(net in nets for net in reading.data.get("nets", ())):
                continue
            value = next((reading.data[name] for name in _QUANTITIES if name in reading.data), None)
            if value is None or not value.values:
                continue
            visit = record.visit_of(value.visit, reading.visit)
            look = Look(
                value.written, line=value.place.line if value.place else 0, by=value.by or (visit.by if visit else ""),
                on=visit.on if visit else "", visit=f"{visit.tag} {visit.on} {visit.by}" if visit else "",
            )  # fmt: skip
            away = Look("not recorded", seen=False)
            looks = (away, look) if self.this_first else (look, away)
            yield Change(reading.words, "reading", *looks)


_QUANTITIES = ("volts", "ohms", "amps", "signal")

__all__ = [
    "ANOTHER_TIME", "CANNOT_TELL", "LEFT_OUT", "NOT_LISTED", "NOT_ONE", "NOT_TESTED", "NO_CHANGE", "RULE_FAILED",
    "SAME_LOOK", "SAYS_OTHERWISE", "SETTLED", "SILENT", "TESTED", "UNLISTED", "Judged", "Reason", "Resolver", "Sums",
]  # fmt: skip
