"""Defects that can be planted, and where each fits in a record.

A planter looks at a plain record and gives every change it could make there.
Most are one recorded fact, described in `data/drill.yaml`; those that change
the wiring are in `rewired.py`. Each change says which finding it must give, at
which item, and which others follow from the same mistake. No planter looks at
a rule or at the trace.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import Any

from asfound.data import data
from asfound.drill.plain import Wiring
from asfound.drill.rewired import REWIRED
from asfound.drill.sites import Change, Expected, writes

__all__ = ["Change", "Expected", "Planter", "planters"]

_SHEATHED = ("NM-B", "UF-B", "NM")


@dataclass(frozen=True, slots=True)
class Planter:
    """One kind of defect: its name, the field story, the rule that must find it, and where it fits."""

    name: str
    why: str
    rule: str
    changes: Callable[[Wiring], Iterator[Change]]


def planters() -> dict[str, Planter]:
    """All planters by name, in the order of the data file."""
    made = {}
    for name, held in data("drill")["planters"].items():
        changes = _by_fact(held) if "in" in held else REWIRED[name]
        made[name] = Planter(name, held["why"], held["rule"], changes)
    return made


def _by_fact(held: dict[str, Any]) -> Callable[[Wiring], Iterator[Change]]:
    """The changes of a planter that writes facts to one item."""

    def changes(wiring: Wiring) -> Iterator[Change]:
        for tag, item in wiring.part(held["in"]).items():
            if not _fits(item, held.get("where", {})):
                continue
            if not all(TESTS[name](wiring, tag, item) for name in held.get("only", ())):
                continue
            if all(item.get(fact) == value for fact, value in held["set"].items()):
                continue
            yield Change(
                at=tag,
                edit=writes(item, **held["set"]),
                expects=((held["rule"], f"{held['as']} {tag}"),),
                touches=_around(wiring, held["in"], tag),
            )

    return changes


def _fits(item: dict[str, Any], where: dict[str, Any]) -> bool:
    """Whether an item has the facts asked for; `true` asks for a plain value of any kind."""
    for fact, wanted in where.items():
        value = item.get(fact)
        if value is None or isinstance(value, dict | list):
            return False
        if wanted is not True and not any(
            value is one or (value == one and type(value) is type(one)) for one in wanted
        ):
            return False
    return True


def _around(wiring: Wiring, part: str, tag: str) -> frozenset[str]:
    """What one recorded fact touches: the item, and the box it is in with what is in that."""
    found = {tag}
    if part in ("joints", "devices"):
        found.add(str(wiring.record[part][tag].get("at", "")))
    for box in [one for one in found if one in wiring.record["boxes"]]:
        found.update(wiring.joints_at(box), wiring.devices_at(box))
    return frozenset(found - {""})


# -- tests of an item by name


def _junction(wiring: Wiring, tag: str, item: dict[str, Any]) -> bool:
    """A box for splices only."""
    spliced = any(len(wiring.record["joints"][joint]["ends"]) > 1 for joint in wiring.joints_at(tag))
    return spliced and not wiring.devices_at(tag) and _real_box(wiring, tag, item)


def _real_box(wiring: Wiring, tag: str, item: dict[str, Any]) -> bool:
    return isinstance(item.get("kind"), str) and item["kind"] != "no box"


def _wired(wiring: Wiring, tag: str, item: dict[str, Any]) -> bool:
    return any(wiring.wires(cable) for cable, _ in wiring.ends_at(tag))


def _sub_panel(wiring: Wiring, tag: str, item: dict[str, Any]) -> bool:
    """Fed from a breaker of another panel, by a cable with a ground."""
    feed = item.get("fed_from")
    return isinstance(feed, str) and any(
        wiring.at(cable, "to") == tag and (wiring.short(cable) or ("", "", False))[2] for cable in wiring.feeds(feed)
    )


def _to_a_box(wiring: Wiring, tag: str, item: dict[str, Any]) -> bool:
    """Ends in boxes, on one side at least, and no support of it is recorded."""
    boxes = wiring.record["boxes"]
    places = [place for place in (wiring.at(tag, "from"), wiring.at(tag, "to")) if place in boxes]
    return any(_real_box(wiring, place, boxes[place]) for place in places) and "first_support" not in item


def _sheathed(wiring: Wiring, tag: str, item: dict[str, Any]) -> bool:
    kind = item.get("type")
    return bool(wiring.wires(tag)) and isinstance(kind, str) and any(f" {one}" in kind for one in _SHEATHED)


def _ungrounded(wiring: Wiring, tag: str, item: dict[str, Any]) -> bool:
    """Holds two ends or more, all of conductors by the colours of live ones, in a box."""
    box = wiring.record["boxes"].get(item.get("at"), {})
    ends = item["ends"]
    black = [end for end in ends if end.split(" ")[-1] in ("black", "red")]
    return len(black) > 1 and len(black) == len([e for e in ends if " hot" not in e]) and box.get("kind") != "no box"


def _in_bathroom(wiring: Wiring, tag: str, item: dict[str, Any]) -> bool:
    return "bathroom" in (item.get("room"), wiring.record["boxes"].get(item.get("at"), {}).get("room"))


TESTS: dict[str, Callable[[Wiring, str, dict[str, Any]], bool]] = {
    "junction": _junction,
    "real box": _real_box,
    "wired": _wired,
    "holds device": lambda wiring, tag, item: bool(wiring.devices_at(tag)),
    "joints": lambda wiring, tag, item: bool(wiring.joints_at(tag)),
    "a circuit": lambda wiring, tag, item: any(wiring.wires(cable) for cable in wiring.feeds(tag)),
    "sub-panel": _sub_panel,
    "to a box": _to_a_box,
    "sheathed": _sheathed,
    "ungrounded joint": _ungrounded,
    "three in it": lambda wiring, tag, item: len(item["ends"]) > 2,
    "in bathroom": _in_bathroom,
    "plain twelve": lambda wiring, tag, item: (
        (wiring.short(tag) or ("", "", False))[:2] == ("12", "2") and "legend" not in item
    ),
}
"""Further tests that a planter of the data file can ask for, by name."""
