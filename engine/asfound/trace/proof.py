"""What a claim that something is dead rests on.

The order of proof is live-dead-live: instrument on a known live source, every
relevant pair on the target, instrument on the known source again.
Source: NFPA 70E 120.5 and the DOE Electrical Safety Handbook (standard
practice); 29 CFR 1910.333(b)(2)(iv) makes the test itself law for employers and
the instrument check law only above 600 V.

The log is read once, from top to bottom. A test counts until something is
switched or the visit ends; it counts for what is solidly joined to its two
points, or, asked `at` a cable, only where it was taken at that cable.
"""

from __future__ import annotations

import itertools
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from typing import Any

from asfound.record.facts import Fact, Item
from asfound.record.model import Record
from asfound.trace.log import Step
from asfound.trace.nets import groups_of
from asfound.wording import quoted_list

NEAR_ZERO_V = 3.0
"""Highest reading taken as no voltage: what testers for absence of voltage go by (UL 1436, from memory)."""
LIVE_V = 50.0
"""Least reading on a known source that shows the instrument works; the 50 V line of 29 CFR 1910.333(a)(1)."""
ALL_PAIRS = 6
"""Ungrounded nets of one claim that are asked for pair by pair; of more, each is asked for against one other."""

BEFORE = "instrument check on a known live source before"
AFTER = "instrument check on a known live source after"
SLOTS = "a test at the conductors or screws, not through the contacts of a receptacle"
CONTACT = "a test with an instrument that touches the conductor"

Point = tuple[str, Any]
Pair = tuple[Item, Item | str]
"""A net, and the other net or the role of the other point."""
Terminals = Mapping[tuple[Item, str], Item]  # the net under a terminal of a device


@dataclass(slots=True)
class _Tests:
    """Tests between two points since the last switching: first and last place in the log by instrument; live ones."""

    spans: dict[str, tuple[int, int]] = field(default_factory=dict)
    live: list[Item] = field(default_factory=list)
    readings: list[Item] = field(default_factory=list)

    def add(self, position: int, reading: Item) -> None:
        self.readings.append(reading)
        instrument = str(reading.data.get("instrument", ""))
        first, _ = self.spans.get(instrument, (position, position))
        self.spans[instrument] = first, position
        volts = volts_of(reading)
        if not volts or max(volts) > NEAR_ZERO_V:
            self.live.append(reading)


class Proof:
    """The tests of a log as far as it was read."""

    def __init__(self, record: Record, terminals: Terminals) -> None:
        self.record = record
        self.terminals = terminals
        self.by_tag = {conductor.tag: conductor for conductor in record.conductors}
        self.position = 0
        self.visit: str | None = None
        self.sources: dict[str, tuple[int, int]] = {}  # first and last proof of each instrument
        self.tests: dict[Pair, _Tests] = {}
        self.at_cable: dict[Item, dict[Pair, _Tests]] = {}  # the same by the cable at which they were taken
        self.slots: dict[Item, Item] = {}  # nets tested through the contacts of a receptacle only
        self.joined_at = _joined_at(record)

    def take(self, step: Step) -> None:
        """Read one step."""
        if step.visit != self.visit:
            self.visit = step.visit
            self._forget()
            self.sources.clear()
        for reading in step.readings:
            self.position += 1
            self._reading(reading)
        if step.switches:
            self._forget()

    def _forget(self) -> None:
        self.tests.clear()
        self.at_cable.clear()
        self.slots.clear()

    def _reading(self, reading: Item) -> None:
        if reading.data["known_source"].value:
            if min(volts_of(reading), default=0.0) >= LIVE_V:
                instrument = str(reading.data.get("instrument", ""))
                first, _ = self.sources.get(instrument, (self.position, self.position))
                self.sources[instrument] = first, self.position
            return
        points = [point for point in reading.data["points"] if point is not None]
        if len(points) != 2 or "volts" not in reading.data or not _contact(reading):
            return
        slots = [held[0] for sort, held in points if sort == "terminal" and _has_slots(held[0])]
        for here, there in (points, reversed(points)):
            net = self.net(here)
            if net is not None and slots:
                self.slots.setdefault(net, slots[0])
            elif net is not None:
                held = [self.tests, *(self.at_cable.setdefault(cable, {}) for cable in self.cables(here))]
                others: dict[Item | str, None] = {self._role(there): None}
                across = self.net(there)
                if across is not None:
                    others[across] = None
                for other in others:
                    for tests in held:
                        tests.setdefault((net, other), _Tests()).add(self.position, reading)

    def cables(self, point: Point) -> tuple[Item, ...]:
        """The cables at which a point is: its own, or those under the terminal or in the joint."""
        sort, held = point
        if sort == "conductor":
            return (held.data["cable"],)
        if sort == "joint":
            return tuple(dict.fromkeys(conductor.data["cable"] for conductor in held.data["conductors"]))
        if sort == "terminal":
            here = (*self.record.terminals.get((held[0].tag, held[1]), ()), *self.joined_at.get(held, ()))
            return tuple(dict.fromkeys(conductor.data["cable"] for conductor in here))
        return ()

    def net(self, point: Point) -> Item | None:
        """What is solidly joined to a point of a reading; None for a bar, a box or the earth."""
        sort, held = point
        if sort == "conductor":
            net: Item = held.data["net"]
            return net
        if sort == "terminal":
            return self.terminals.get((held[0], held[1]))
        if sort == "joint":
            return next((conductor.data["net"] for conductor in held.data["conductors"]), None)
        return None

    def _role(self, point: Point) -> str:
        sort, held = point
        net = self.net(point)
        if net is not None:
            return _role_of(net)
        if sort == "terminal":
            return {"neutral": "grounded", "load_neutral": "grounded", "ground": "ground"}.get(held[1], "ungrounded")
        if sort == "bar":
            return "grounded" if held[1] == "neutral bar" else "ground"
        return "ungrounded" if sort in ("breaker", "joint") else "ground"

    def conductors(self, what: Iterable[str]) -> list[Item]:
        """Every conductor that these tags speak of."""
        record = self.record
        found: dict[Item, None] = {}
        for tag in what:
            if tag in self.by_tag:
                found[self.by_tag[tag]] = None
            for section in (record.cables, record.boxes, record.devices, record.joints):
                if tag in section:
                    found.update(dict.fromkeys(section[tag].data.get("conductors", ())))
            panel, _, rest = tag.rpartition(" ")
            breaker = record.breakers.get((panel, rest)) or record.poles.get((panel, rest), (None,))[0]
            if breaker is not None:
                found.update(dict.fromkeys(breaker.data["conductors"]))
            found.update(dict.fromkeys(record.terminals.get((panel, rest), ())))
        return list(found)

    def missing(self, target: Iterable[Item], at: Item | None = None) -> Iterator[str]:
        """The steps of proof that the log does not show for these conductors; `at` counts tests at one cable only."""
        target = list(target)
        held_tests = self.tests if at is None else self.at_cable.get(at, {})
        names: dict[Item, Item] = {}  # each net on the cables, and the conductor it is called by here
        for cable in dict.fromkeys(conductor.data["cable"] for conductor in target):
            for conductor in cable.data["conductors"]:
                names.setdefault(conductor.data["net"], conductor)
        live = [net for net in names if _role_of(net) == "ungrounded"]
        grounded = [net for net in names if _role_of(net) == "grounded"]
        if not live:  # nothing here should be live; then what is called dead is tested like what should
            live, grounded = list(dict.fromkeys(conductor.data["net"] for conductor in target)), []
        needed = list(_needed(live, grounded, names))
        seen = [held for pairs, _ in needed for pair in pairs if (held := held_tests.get(pair))]
        if not seen:
            slots = dict.fromkeys(self.slots[net].tag for net in names if net in self.slots)
            yield f"{SLOTS} ({quoted_list(slots, 4)})" if slots else CONTACT
        hot = dict.fromkeys(
            f"reading {reading.tag} shows {reading.data['volts'].written or 'nothing'}"
            for tests in seen for reading in tests.live
        )  # fmt: skip
        if hot:
            yield f"a reading near zero ({quoted_list(hot, 4)})"
        yield from (f"test {words}" for pairs, words in needed if not any(pair in held_tests for pair in pairs))
        spans = [(instrument, span) for tests in seen for instrument, span in tests.spans.items()]
        if not spans or not all(self._proved(instrument, before=first) for instrument, (first, _) in spans):
            yield BEFORE
        if not spans or not all(self._proved(instrument, after=last) for instrument, (_, last) in spans):
            yield AFTER

    def _proved(self, instrument: str, before: int | None = None, after: int | None = None) -> bool:
        """Whether the instrument, or one that may be it, was proved before or after a place in the log."""
        spans = [span for name, span in self.sources.items() if instrument in (name, "") or name == ""]
        return any(
            (before is not None and first < before) or (after is not None and last > after) for first, last in spans
        )


def _joined_at(record: Record) -> dict[tuple[Item, str], list[Item]]:
    """Conductors that a joint holds together with the terminal of a device."""
    found: dict[tuple[Item, str], list[Item]] = {}
    for members in record.joint_members.values():
        conductors = [member for sort, member in members if sort == "conductor"]
        for sort, member in members:
            if sort == "terminal":
                found[record.devices[member[0].tag], member[1]] = conductors
    return found


def _needed(live: list[Item], grounded: list[Item], names: Mapping[Item, Item]) -> Iterator[tuple[list[Any], str]]:
    """Pairs that must be tested, each with its words; any one of the pairs listed together will do."""
    for net in live:
        name = names[net].tag if len(live) > 1 else "ungrounded"
        if grounded:
            yield [(net, "grounded")], f"{name} to grounded"
        yield [(net, "ground")], f"{name} to ground"
    if len(live) <= ALL_PAIRS:
        for one, two in itertools.combinations(live, 2):
            yield [(one, two)], f"{names[one].tag} to {names[two].tag}"
    else:
        for net in live:
            yield [(net, "ungrounded")], f"{names[net].tag} to another ungrounded"
    if grounded:
        yield [(net, "ground") for net in grounded], "grounded to ground"


def _has_slots(device: Item) -> bool:
    """Whether a terminal can have been read through contacts, of a receptacle or of what nobody identified.

    Contacts may not make, and a protective device may have cut them off from a live conductor behind them.
    """
    groups = groups_of(device)
    return not groups or any(group.get("receptacles") for group in groups)


def _contact(reading: Item) -> bool:
    contact = reading.data.get("contact")
    return isinstance(contact, Fact) and contact.values == (True,)


def volts_of(reading: Item) -> tuple[float, ...]:
    """The voltages that a reading can have shown; empty when none was seen."""
    volts = reading.data.get("volts")
    return volts.values if isinstance(volts, Fact) else ()


def _role_of(net: Item) -> str:
    """What a net has to be taken for in a test: whatever is not known to be grounded or grounding is ungrounded."""
    function = net.data["function"]
    value = function.values[0] if function.values else "ungrounded"
    return {"grounded": "grounded", "grounding": "ground"}.get(value, "ungrounded")
