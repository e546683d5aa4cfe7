"""Where somebody can mark a finding: the thing itself, and what it is in or leads to.

    near, wide = spots(finding, installation, record)

`near` are the tags that say plainly which thing is meant; `wide` adds what a
person can have meant as well who names the kind of danger rightly.
"""

from __future__ import annotations

import re
from collections.abc import Iterator

from asfound.drill.plain import Plain, Wiring
from asfound.drill.wires import breakers_of
from asfound.judge.results import Finding
from asfound.trace.circuits import Installation


def markable(
    finding: Finding, installation: Installation, record: Plain, said: re.Pattern[str]
) -> tuple[frozenset[str], frozenset[str]]:
    """As `spots`, and near are also all tags that the finding names, and the breaker of what it is about.

    `said` finds tags in a sentence, see `tags_in`.
    """
    wiring = Wiring(record)
    near, wide = spots(finding, installation, record)
    named = set(said.findall(finding.statement))
    for one in finding.evidence:
        named.update([one.item] if one.item in record["panels"] else said.findall(one.item))
    ahead: set[str] = set()
    if finding.at.split(" ", 1)[0] in _ON_A_BREAKER:
        for tag in near & (record["cables"].keys() | record["devices"].keys()):
            ahead.update(breakers_of(wiring, tag))
    more = {one.removeprefix("panel ") for one in named} | ahead
    return near | more, wide | more


_ON_A_BREAKER = ("conductor", "net", "end", "cable", "circuit", "device", "terminal", "claim", "entry")
"""Kinds of item that hang on a breaker."""


def tags_in(record: Plain) -> re.Pattern[str]:
    """A pattern that finds the tags of a record in a sentence, the longest first; a panel only as `panel A`."""
    tags = [tag for part in ("cables", "boxes", "devices", "joints") for tag in record.get(part, {})]
    tags += [f"{panel} {space}" for panel, held in record["panels"].items() for space in held.get("breakers", {})]
    tags += [f"panel {panel}" for panel in record["panels"]]
    listed = "|".join(re.escape(tag) for tag in sorted(tags, key=len, reverse=True))
    return re.compile(rf"(?<!\w)(?:{listed})(?!\w)" if listed else r"(?!)")


def spots(finding: Finding, installation: Installation, record: Plain) -> tuple[frozenset[str], frozenset[str]]:
    """The tags near a finding, and all that count when the danger is named rightly."""
    wiring = Wiring(record)
    near = set(_near(finding.at, installation, wiring)) - {""}
    wide = near | set(_around(finding.at, near, wiring))
    for part in finding.parts:
        wide.update(_near(part, installation, wiring))
    return frozenset(near), frozenset(wide - {""})


def _near(at: str, installation: Installation, wiring: Wiring) -> Iterator[str]:
    kind, tag = at.split(" ", 1)
    record = wiring.record
    if kind in ("panel", "breaker", "cable", "box", "device", "joint", "instrument", "site"):
        yield tag
    if kind == "device":
        yield str(record["devices"].get(tag, {}).get("at", ""))
    elif kind == "joint":
        yield str(record["joints"].get(tag, {}).get("at", ""))
    elif kind == "conductor":
        yield _cable_of(tag, wiring)
    elif kind == "end":
        wire, _, side = tag.rpartition(" (")
        cable = _cable_of(wire, wiring)
        yield cable
        yield wiring.at(cable, side.rstrip(")")) if cable else ""
    elif kind == "terminal":
        device = next((one for one in record["devices"] if tag.startswith(f"{one} ")), "")
        yield device
        yield str(record["devices"].get(device, {}).get("at", ""))
    elif kind == "circuit":
        yield from (name for name in wiring.part("breakers") if name in _names(tag))
    elif kind in ("net", "claim", "entry", "contradiction"):
        for conductor in installation.item(kind, tag).data["conductors"]:
            yield conductor.data["cable"].tag
        yield "" if kind == "net" else "log"
    elif kind == "reading":
        yield from (tag, "readings")
    elif kind == "probe":
        held = [one for part in ("boxes", "devices", "panels", "cables") for one in record[part]]
        yield max((one for one in held if tag.startswith(f"{one} ")), key=len, default="")
        yield "readings"
    elif kind == "photo":
        yield "photos"
    elif kind == "label":
        yield "labels"


def _names(circuit: str) -> list[str]:
    """The breakers of a circuit's tag, which names one or several."""
    return [circuit, *(one.strip() for one in circuit.replace(" and ", ",").replace("+", ",").split(","))]


def _cable_of(wire: str, wiring: Wiring) -> str:
    """The cable of a conductor such as `W3 black`."""
    return max((one for one in wiring.record["cables"] if wire.startswith(f"{one} ")), key=len, default="")


def _around(at: str, near: set[str], wiring: Wiring) -> Iterator[str]:
    """What a finding lies in or between: panels of breakers, places of cables, all of a circuit."""
    record = wiring.record
    for tag in near:
        if tag in record["cables"]:
            for side in ("from", "to"):
                yield wiring.at(tag, side)
        elif tag in wiring.part("breakers"):
            yield tag.rsplit(" ", 1)[0]
        elif tag in record["boxes"]:
            yield from wiring.devices_at(tag)
            yield from wiring.joints_at(tag)
            yield from (cable for cable, _ in wiring.ends_at(tag))
    if at.startswith("circuit "):
        for breaker in near:
            yield from wiring.circuit(breaker)
    elif at.startswith("net "):
        for tag in near & record["cables"].keys():
            for side in ("from", "to"):
                place = wiring.at(tag, side)
                yield from wiring.joints_at(place)
                yield from wiring.devices_at(place)
    elif at == "site site":
        yield from record["devices"]
        yield from record["panels"]
