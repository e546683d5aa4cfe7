"""A record as plain values, and what is where in it, for planting. Knows nothing of rules or of the trace.

Only what is written out plainly is seen: a doubted value is given as it stands
and fits no planter.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from typing import Any

Plain = dict[str, Any]

_SHORT = re.compile(r"^([0-9]+)/([2-4]) ?(AL|CU-CLAD)? ?([A-Z-]+)?( with ground)?$")
_WIRES = {"2": ("black", "white"), "3": ("black", "red", "white"), "4": ("black", "red", "blue", "white")}
LIVE = ("black", "red", "blue")
SINGLE_POLE = re.compile(r"^[0-9]+[AB]?$")


def plain(value: Any) -> Any:
    """A deep copy of loaded values as ordinary mappings and lists."""
    if isinstance(value, Mapping):
        return {str(name): plain(held) for name, held in value.items()}
    if isinstance(value, list):
        return [plain(held) for held in value]
    return value


_SOLD = (18, 20.3, 22.5, 25, 30, 34, 42, 55, 68)
"""Marked volumes of nonmetallic boxes, in³; common practice, no source."""


def _numbered(tag: str) -> tuple[str, int]:
    """Letters and number of a tag such as W3."""
    letters = tag.rstrip("0123456789")
    return letters, int(tag[len(letters) :] or 0)


class Wiring:
    """What is where in a plain record. Looks at the record as it is now, so it stays true while that is changed."""

    def __init__(self, record: Plain) -> None:
        self.record = record
        for part in ("panels", "cables", "boxes", "joints", "devices"):
            held = record.setdefault(part, {})
            for tag, item in held.items():
                if isinstance(item, str):  # the short form of a box
                    held[tag] = {"kind": item}

    def part(self, name: str) -> Plain:
        """One part of the record by tag; breakers are named with their panel."""
        if name != "breakers":
            held: Plain = self.record[name]
            return held
        found: Plain = {}
        for panel, one in self.record["panels"].items():
            breakers = one.get("breakers", {})
            for space, breaker in breakers.items():
                if not isinstance(breaker, dict):
                    breakers[space] = breaker = {"amps": breaker}
                found[f"{panel} {space}"] = breaker
        return found

    # -- cables

    def short(self, cable: str) -> tuple[str, str, bool] | None:
        """Size, number of wires, and whether there is a ground, where the type says so plainly; copper only."""
        held = self.record["cables"][cable]
        kind = held.get("type")
        found = _SHORT.match(kind) if isinstance(kind, str) else None
        if found is None or found[3] or "gauge" in held or "metal" in held:
            return None
        return found[1], found[2], bool(found[5])

    def wires(self, cable: str) -> tuple[str, ...]:
        """The insulated conductors of a cable of plain type; none when the type does not say."""
        short = self.short(cable)
        return _WIRES[short[1]] if short else ()

    def at(self, cable: str, side: str) -> str:
        """The place where an end is, empty when it is not traced."""
        end = self.record["cables"][cable].get(side)
        if isinstance(end, dict):
            return str(end.get("at", ""))
        return "" if end in (None, "not traced") else str(end)

    def ends_at(self, place: str) -> list[tuple[str, str]]:
        """The cables that end at a place, each with the side by which it does."""
        return [(cable, side) for cable in self.record["cables"] for side in ("from", "to")
                if self.at(cable, side) == place]  # fmt: skip

    def feeds(self, breaker: str) -> list[str]:
        """The cables that start at a breaker in the usual way (from: A 3)."""
        return [cable for cable, held in self.record["cables"].items() if held.get("from") == breaker]

    def set_state(self, cable: str, side: str, colour: str, state: str) -> None:
        """Record the state of one conductor end."""
        held = self.record["cables"][cable]
        end = held[side]
        held[side] = {**(end if isinstance(end, dict) else {"at": end}), colour: state}

    # -- joints and devices

    def joints_at(self, place: str) -> list[str]:
        return [tag for tag, joint in self.record["joints"].items() if joint.get("at") == place]

    def devices_at(self, place: str) -> list[str]:
        return [tag for tag, device in self.record["devices"].items() if device.get("at") == place]

    def joint_of(self, end: str, place: str) -> str | None:
        """The joint at a place that holds a conductor end such as `W3 black`."""
        return next((tag for tag in self.joints_at(place) if end in self.record["joints"][tag]["ends"]), None)

    def take_out(self, end: str, place: str) -> bool:
        """Take a conductor end out of its joint at a place; whether it was in one."""
        tag = self.joint_of(end, place)
        if tag is None:
            return False
        ends = [one for one in self.record["joints"][tag]["ends"] if one != end]
        if ends:
            self.record["joints"][tag]["ends"] = ends
        else:
            del self.record["joints"][tag]
        return True

    def wired_to(self, device: str) -> str:
        """The one cable that a device is wired to as usual, or empty."""
        cable = self.record["devices"][device].get("wired_to")
        return cable if isinstance(cable, str) else ""

    def last_cables(self) -> Iterator[tuple[str, str, str]]:
        """Cables that end where nothing goes on: the cable, the box it comes from, and where it ends."""
        for cable in self.record["cables"]:
            start, place = self.at(cable, "from"), self.at(cable, "to")
            alone = len(self.ends_at(place)) == 1 and (place in self.record["boxes"] or place in self.record["devices"])
            if start in self.record["boxes"] and alone:
                yield cable, start, place

    # -- circuits

    def circuit(self, tag: str) -> frozenset[str]:
        """The boxes, cables, devices and breakers that hang together with one of them through boxes."""
        found: set[str] = set()
        waiting = [tag]
        links = self._links()
        while waiting:
            one = waiting.pop()
            if one not in found:
                found.add(one)
                waiting.extend(links.get(one, ()))
        return frozenset(found)

    def _links(self) -> dict[str, list[str]]:
        links: dict[str, list[str]] = {}

        def link(one: str, two: str) -> None:
            links.setdefault(one, []).append(two)
            links.setdefault(two, []).append(one)

        breakers = self.part("breakers")
        for cable in self.record["cables"]:
            for side in ("from", "to"):
                place = self.at(cable, side)
                if place in self.record["boxes"] or place in breakers or place in self.record["devices"]:
                    link(cable, place)
                elif place in self.record["panels"]:
                    link(cable, place if side == "to" else f"{cable} in {place}")
        for tag, device in self.record["devices"].items():
            if device.get("at"):
                link(tag, device["at"])
        for tag, joint in self.record["joints"].items():
            if joint.get("at"):
                link(tag, joint["at"])
        return links

    def add(self, part: str, tag: str, item: Plain, after: str = "") -> None:
        """Put in a new item: behind another, or where its number belongs, so that it does not stand out as the last."""
        held = self.record[part]
        items = list(held.items())
        items.insert(list(held).index(after) + 1 if after in held else self.number_of(part, tag), (tag, item))
        held.clear()
        held.update(items)

    def number_of(self, part: str, tag: str) -> int:
        """Where a new tag belongs among those of a part: before the first of its letter with a higher number."""
        letters, number = _numbered(tag)
        after = (
            place for place, one in enumerate(self.record[part])
            if _numbered(one)[0] == letters and _numbered(one)[1] > number
        )  # fmt: skip
        return next(after, len(self.record[part]))

    def make_room(self, box: str, more: float) -> None:
        """Give a box with a marked volume one that has so many in³ more, of those that are sold."""
        held = self.record["boxes"][box]
        volume = held.get("volume")
        if isinstance(volume, int | float) and not isinstance(volume, bool):
            held["volume"] = next((one for one in _SOLD if one >= volume + more), volume + more)

    def new_tag(self, letter: str) -> str:
        """A tag that nothing has yet."""
        taken = {tag for part in ("panels", "cables", "boxes", "joints", "devices") for tag in self.record[part]}
        return next(f"{letter}{n}" for n in range(1, 10**6) if f"{letter}{n}" not in taken)
