"""Findings by the thing they are shown at in a trace."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from asfound.judge.results import Finding
from asfound.record.facts import Item
from asfound.trace.circuits import Installation


@dataclass(frozen=True, slots=True)
class Flag:
    """A finding in short: its grade, certainty and rule, the item it is at, and its identity."""

    grade: str
    certainty: str
    rule: str
    at: str
    finding: str


class Flags:
    """Findings by the panel, breaker, circuit, cable, box or device that they are shown at, in their own order.

    What is at a conductor or end is shown at its cable, at a joint where the
    joint is, at a terminal at its device, and of readings where they were taken.
    `elsewhere` are those at nothing that a trace has.
    """

    def __init__(self, installation: Installation, findings: Iterable[Finding] = ()) -> None:
        self._by_item: dict[str, list[Flag]] = {}
        self.elsewhere: list[Flag] = []
        listed = list(findings)
        homes = _Homes(installation) if listed else None
        for finding in listed:
            flag = Flag(finding.grade, finding.certainty, finding.rule.name, finding.at, finding.identity)
            items = list(homes.of(finding.at)) if homes is not None else []
            for identity in items:
                self._by_item.setdefault(identity, []).append(flag)
            if not items:
                self.elsewhere.append(flag)

    def at(self, item: Item) -> list[Flag]:
        """The flags of an item."""
        return self._by_item.get(item.identity, [])


class _Homes:
    def __init__(self, installation: Installation) -> None:
        self.installation = installation
        self.record = installation.record
        self.cables = {one.tag: one.data["cable"] for one in self.record.conductors}
        self.joints: dict[str, Item] = {}
        for end in self.record.ends:
            taker = end.data["state"].note
            if taker.startswith("joint ") and end.data["at"] is not None:
                self.joints.setdefault(taker.removeprefix("joint "), end.data["at"])

    def of(self, at: str) -> Iterator[str]:
        """Where a finding at this item is shown; nothing when it is nowhere in a trace."""
        kind, tag = at.split(" ", 1)
        if kind in ("panel", "breaker", "circuit", "cable", "box", "device"):
            yield at
        elif kind == "conductor":
            yield self.cables[tag].identity
        elif kind == "end":
            yield self.cables[tag.rpartition(" (")[0]].identity
        elif kind == "joint":
            yield from self._joint(self.record.joints[tag])
        elif kind == "terminal":
            yield self.installation.item("terminal", tag).data["device"].identity
        elif kind in ("net", "claim", "entry", "contradiction"):
            conductors = self.installation.item(kind, tag).data["conductors"]
            cables = dict.fromkeys(conductor.data["cable"].identity for conductor in conductors)
            yield from list(cables)[:1] if kind == "net" else cables

        elif kind == "reading":
            yield from _read_at([self.installation.item(kind, tag)])
        elif kind == "probe":
            yield from _read_at(self.installation.item(kind, tag).data["readings"])

    def _joint(self, joint: Item) -> Iterator[str]:
        place = next(iter(joint.data["box"]), self.joints.get(joint.tag))
        if place is not None:
            yield place.identity


def _read_at(readings: Iterable[Item]) -> list[str]:
    """Where readings were taken: boxes, devices and panels, else the cables of the conductors."""
    places: dict[str, None] = {}
    cables: dict[str, None] = {}
    for sort, held in (point for reading in readings for point in reading.data["points"] if point is not None):
        if sort == "terminal":
            places[held[0].identity] = None
        elif sort == "conductor":
            cables[held.data["cable"].identity] = None
        elif sort in ("box", "device", "panel", "breaker"):
            places[held.identity] = None
    return list(places or cables)
