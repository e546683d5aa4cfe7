"""What planters of several topics ask of a plain record, and how they change its wiring."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from asfound.drill.plain import Wiring


def amps_of(wiring: Wiring, breaker: str) -> int:
    """Amperes of a breaker as a plain number, else 0."""
    amps = wiring.part("breakers").get(breaker, {}).get("amps")
    return amps if isinstance(amps, int) and not isinstance(amps, bool) else 0


def breakers_of(wiring: Wiring, cable: str) -> list[str]:
    """The breakers that a cable hangs together with."""
    breakers = wiring.part("breakers")
    return [tag for tag in wiring.circuit(cable) if tag in breakers]


def like_cable(wiring: Wiring, box: str, size: str, ends: dict[str, Any]) -> dict[str, Any]:
    """A new cable of two wires, of the same years as those in a box."""
    year = next((wiring.record["cables"][cable].get("installed") for cable, _ in wiring.ends_at(box)), None)
    known = {"installed": year} if isinstance(year, int) else {}
    return {"type": f"{size}/2 NM-B with ground", **known, **ends}


def new_place(wiring: Wiring, box: str, *words: str) -> str:
    """A name for a new place near a box, as somebody would write it, that nothing has yet."""
    room = wiring.record["boxes"].get(box, {}).get("room")
    near = room if isinstance(room, str) and room != "other" else "store"
    free = [f"{near} {word}" for word in words if f"{near} {word}" not in wiring.record["boxes"]]
    return (
        free[0]
        if free
        else next(
            f"{near} {words[0]} {n}" for n in range(2, 10**6) if f"{near} {words[0]} {n}" not in wiring.record["boxes"]
        )
    )


def spliced_whole(wiring: Wiring) -> Iterator[tuple[str, tuple[str, str, str]]]:
    """Nonmetallic boxes of one circuit where black, white and bare of one cable are each in a joint."""
    for tag, box in wiring.record["boxes"].items():
        if box.get("kind") != "nonmetallic" or not wiring.ends_at(tag) or len(breakers_of(wiring, tag)) != 1:
            continue
        if not all(wiring.wires(cable) for cable, _ in wiring.ends_at(tag)):
            continue
        feed = wiring.ends_at(tag)[0][0]
        for cable, side in wiring.ends_at(tag):
            if side == "to":
                feed = cable
        joints = [wiring.joint_of(f"{feed} {colour}", tag) for colour in ("black", "white", "bare")]
        black, white, bare = joints
        if black and white and bare:
            yield tag, (black, white, bare)
