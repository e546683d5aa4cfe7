"""What a claim that something is dead rests on.

The order of proof is live-dead-live: instrument on a known live source, every
relevant pair on the target, instrument on the known source again.
Source: NFPA 70E 120.5 and the DOE Electrical Safety Handbook (standard
practice); 29 CFR 1910.333(b)(2)(iv) makes the test itself law for employers and
the instrument check law only above 600 V.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from asfound.record.build import Entry, Record
from asfound.record.facts import Fact, Item, exact

NEAR_ZERO_V = 1.0
"""Highest reading taken as no voltage; common practice, no source."""
LIVE_V = 50.0
"""Least reading on a known source that shows the instrument works; the 50 V line of 29 CFR 1910.333(a)(1)."""

BEFORE = "instrument check on a known live source before"
AFTER = "instrument check on a known live source after"
CONTACT = "a test with an instrument that touches the conductor"


def claims(record: Record) -> list[Item]:
    """One item for each log entry that calls something dead, with the steps of proof that are missing."""
    by_tag = {reading.tag: reading for reading in record.readings}
    found = []
    for number, entry in enumerate(record.log):
        if entry.did != "called dead":
            continue
        target = _conductors(record, entry.what)
        words = f"log entry {entry.number}{f' at {entry.at}' if entry.at else ''}, {', '.join(entry.what)}"
        item = Item("claim", f"{entry.at or entry.number} {', '.join(entry.what)}", words, entry.place)
        missing = tuple(_missing(record, number, target, by_tag))
        said = f"called dead: {', '.join(entry.what)}"
        proof = exact(missing, written=said, place=entry.place, by=entry.by)
        item.data.update(at=entry.at, conductors=tuple(target), missing=proof)
        found.append(item)
    return found


def _conductors(record: Record, what: Iterable[str]) -> list[Item]:
    found: dict[Item, None] = {}
    by_tag = {conductor.tag: conductor for conductor in record.conductors}
    for tag in what:
        if tag in by_tag:
            found[by_tag[tag]] = None
        for section in (record.cables, record.boxes, record.devices):
            if tag in section:
                found.update(dict.fromkeys(section[tag].data.get("conductors", ())))
    return list(found)


def _missing(record: Record, number: int, target: list[Item], by_tag: dict[str, Item]) -> list[str]:
    last_switched = max((i for i, entry in enumerate(record.log[:number]) if entry.did == "switched"), default=-1)
    before = _readings(record.log[: number + 1], by_tag)
    fresh = _readings(record.log[last_switched + 1 : number + 1], by_tag)
    tests = [reading for reading in fresh if not reading.data["known_source"].value and _on(reading, target)]
    contact = [reading for reading in tests if "volts" in reading.data and _contact(reading)]
    missing = []
    if not contact:
        missing.append(CONTACT)
    live = [reading for reading in contact if _volts(reading) is None or _volts(reading, 0.0) > NEAR_ZERO_V]
    missing += [f"a reading near zero (reading {r.tag} shows {r.data['volts'].written})" for r in live]
    done = {_pair(reading) for reading in contact}
    for pair in _pairs(target):
        if pair not in done:
            missing.append(f"test {' to '.join(sorted(pair, key=_ORDER.index))}")
    proofs = [reading for reading in before if reading.data["known_source"].value and _volts(reading, 0.0) >= LIVE_V]
    first, last = (before.index(contact[0]), before.index(contact[-1])) if contact else (0, len(before))
    if not any(before.index(reading) < first for reading in proofs):
        missing.append(BEFORE)
    if not any(before.index(reading) > last for reading in proofs):
        missing.append(AFTER)
    return missing


_ORDER = ["ungrounded", "grounded", "ground"]


def _readings(entries: list[Entry], by_tag: dict[str, Item]) -> list[Item]:
    return [by_tag[tag] for entry in entries for tag in entry.readings if tag in by_tag]


def _on(reading: Item, target: list[Item]) -> bool:
    nets = {id(c.data["net"]) for c in target}
    return any(sort == "conductor" and id(item.data["net"]) in nets for sort, item in _points(reading)) or any(
        sort == "terminal" and any(c in target for t in item[0].data["terminals"] if t.data["name"] == item[1]
                                   for c in t.data["conductors"])
        for sort, item in _points(reading)
    )  # fmt: skip


def _points(reading: Item) -> list[tuple[str, Any]]:
    return [point for point in reading.data["points"] if point is not None]


def _contact(reading: Item) -> bool:
    contact = reading.data.get("contact")
    return isinstance(contact, Fact) and contact.values == (True,)


def _volts(reading: Item, default: float | None = None) -> Any:
    volts = reading.data.get("volts")
    return max(volts.values) if isinstance(volts, Fact) and volts.values else default


def _role(point: tuple[str, Any]) -> str:
    sort, item = point
    if sort == "conductor":
        return _role_of(item)
    if sort == "terminal":
        return {"neutral": "grounded", "load_neutral": "grounded", "ground": "ground"}.get(item[1], "ungrounded")
    if sort == "bar":
        return "grounded" if item[1] == "neutral bar" else "ground"
    return "ground"


def _role_of(conductor: Item) -> str:
    function = conductor.data["function"]
    value = function.values[0] if function.values else "ungrounded"
    return {"grounded": "grounded", "grounding": "ground"}.get(value, "ungrounded")


def _pair(reading: Item) -> frozenset[str]:
    return frozenset(_role(point) for point in _points(reading))


def _pairs(target: list[Item]) -> list[frozenset[str]]:
    """Pairs that must be tested: each ungrounded to grounded and to ground, and grounded to ground."""
    roles = {_role_of(conductor) for conductor in target}
    cables = {conductor.data["cable"] for conductor in target}
    roles |= {_role_of(conductor) for cable in cables for conductor in cable.data["conductors"]}
    pairs = [frozenset(("ungrounded", "ground"))]
    if "grounded" in roles:
        pairs.insert(0, frozenset(("ungrounded", "grounded")))
        pairs.append(frozenset(("grounded", "ground")))
    if sum(_role_of(c) == "ungrounded" for cable in cables for c in cable.data["conductors"]) > 1:
        pairs.append(frozenset(("ungrounded",)))
    return pairs
