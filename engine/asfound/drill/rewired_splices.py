"""Planted defects of boxes and splices, and of what was left disconnected.

Volumes: NFPA 70 (NEC) 314.16(B), from memory.
"""

from __future__ import annotations

import re
from functools import partial
from typing import Any

from asfound.drill.plain import LIVE, Wiring
from asfound.drill.sites import Change, Changes, writes
from asfound.drill.wires import amps_of, breakers_of, like_cable, new_place, spliced_whole

ALUMINIUM_YEARS = (1965, 1973)
_YOKE = re.compile("receptacle|switch")


def box_too_small(wiring: Wiring) -> Changes:
    """A smaller box of the same kind around the same conductors."""
    for tag, box in wiring.record["boxes"].items():
        ends = wiring.ends_at(tag)
        wires = sum(len(wiring.wires(cable)) for cable, _ in ends)
        if box.get("kind") != "nonmetallic" or len(ends) < 2 or not all(wiring.wires(cable) for cable, _ in ends):
            continue
        yokes = [one for one in wiring.devices_at(tag) if _YOKE.search(wiring.record["devices"][one]["kind"])]
        least = 2.0 * (wires + 1) + (4.0 if yokes else 0)  # as if all were 14 AWG
        smaller = [volume for volume in (8, 9, 12.5, 14, 16) if volume < least]
        if smaller:
            yield Change(
                at=tag,
                edit=writes(box, volume=smaller[-1]),
                expects=(("box-overfull", f"box {tag}"),),
                touches=frozenset({tag, *wiring.joints_at(tag), *wiring.devices_at(tag)}),
            )


def splice_in_the_open(wiring: Wiring) -> Changes:
    """A junction box taken away, its splices left where they were."""
    for tag, box in wiring.record["boxes"].items():
        joints = [one for one in wiring.joints_at(tag) if len(wiring.record["joints"][one]["ends"]) > 1]
        if not joints or wiring.devices_at(tag) or box.get("kind") in (None, "no box") or isinstance(box["kind"], dict):
            continue

        def edit(box: dict[str, Any] = box, joints: list[str] = joints) -> None:
            for name in [name for name in box if name not in ("room", "where")]:
                del box[name]
            box["kind"] = "no box"
            for joint in joints:
                ends = wiring.record["joints"][joint]["ends"]
                wiring.record["joints"][joint]["ends"] = [end for end in ends if end != "box"]

        found = [("splice-outside-box", f"joint {joint}") for joint in joints]
        yield Change(tag, edit, tuple(found), (), frozenset({tag, *joints, *(c for c, _ in wiring.ends_at(tag))}))


def copper_on_aluminium(wiring: Wiring) -> Changes:
    """The last cable of a run left in aluminium when the rest was wired anew, under connectors for copper.

    Only in a building of the years in which branch circuits were wired in
    aluminium; from memory.
    """
    built = wiring.record["site"].get("built")
    if not isinstance(built, int) or not ALUMINIUM_YEARS[0] <= built <= ALUMINIUM_YEARS[1]:
        return
    for cable, box, place in wiring.last_cables():
        short = wiring.short(cable)
        joints = [wiring.joint_of(f"{cable} {colour}", box) for colour in ("black", "white", "bare")]
        ahead = breakers_of(wiring, cable)
        if (
            short is None
            or short[1:] != ("2", True)
            or not all(joints)
            or len(ahead) != 1
            or amps_of(wiring, ahead[0]) != 15
        ):
            continue
        if not all("volume" in wiring.record["boxes"].get(one, {}) for one in (box, place)):
            continue
        if not all(wiring.wired_to(one) for one in wiring.devices_at(place)):
            continue

        def edit(
            cable: str = cable, box: str = box, joints: list[str] = joints, place: str = place,  # type: ignore[assignment]
        ) -> None:  # fmt: skip
            held = wiring.record["cables"][cable]
            held["type"], held["installed"] = "12/2 AL NM with ground", built
            for name in ("legend", "jacket"):
                held.pop(name, None)
            for one in (box, place):
                wiring.make_room(one, 2)  # the wires are a size thicker
            for joint in joints:
                wiring.record["joints"][joint] |= {"connector": "twist-on", "listed_for": "copper only"}
            for device in wiring.devices_at(place):
                wiring.record["devices"][device]["terminal_mark"] = "CO/ALR"

        black, white, bare = joints
        yield Change(
            cable, edit,
            (("copper-with-aluminium", f"joint {black}"), ("copper-with-aluminium", f"joint {white}"),
             ("copper-with-aluminium-ground", f"joint {bare}"), ("aluminium-branch-wiring", f"circuit {ahead[0]}")),
            (), wiring.circuit(cable),
        )  # fmt: skip


def _spare_cable(wiring: Wiring, box: str, end: dict[str, str], place: dict[str, Any], joined: tuple[str, ...]) -> str:
    """Run a new cable from the joints of a box to a new place; give its tag."""
    cable = wiring.new_tag("W")
    where = new_place(wiring, box, "corner", "closet", "back wall", "ceiling", "window")
    size = (wiring.short(wiring.ends_at(box)[0][0]) or ("14",))[0]
    wiring.add("cables", cable, like_cable(wiring, box, size, {"from": box, "to": {"at": where, **end}}))
    room = wiring.record["boxes"][box].get("room")
    wiring.add("boxes", where, {**place, **({"room": room} if room else {})}, after=box)
    wiring.make_room(box, 12)  # so that the box is not too small as well
    for colour, like in zip(("black", "white", "bare"), joined, strict=True):
        wiring.record["joints"][like]["ends"].append(f"{cable} {colour}")
    return cable


BLANK_BOX = {"kind": "nonmetallic", "volume": 14, "clamps": "none", "cover": "blank cover"}


def _spared(wiring: Wiring, black: str, place: dict[str, Any], rule: str, at: str) -> Changes:
    """A cable joined in a box, the end of its black so, at another place; `at` has the item with the tag left open."""
    tag = wiring.new_tag("W")
    ends = {"black": black, "white": "capped", "bare": "capped"}
    for box, joints in spliced_whole(wiring):
        yield Change(
            box,
            partial(_spare_cable, wiring, box, ends, place, joints),
            ((rule, at.format(tag)),),
            (),
            wiring.circuit(box) | {tag},
        )


def live_end_left_bare(wiring: Wiring) -> Changes:
    """A cable joined in a box, its far ends bare."""
    return _spared(wiring, "loose", BLANK_BOX, "ungrounded-end-uncapped", "end {} black (to)")


def live_end_capped_in_the_open(wiring: Wiring) -> Changes:
    """A cable joined in a box, its far ends capped where there is no box."""
    return _spared(wiring, "capped", {"kind": "no box"}, "live-end-capped-in-the-open", "end {} black (to)")


def cable_kept_for_later(wiring: Wiring) -> Changes:
    """A cable joined in a box, its far ends capped in another."""
    return _spared(wiring, "capped", BLANK_BOX, "cable-live-to-nowhere", "cable {}")


def _visit(wiring: Wiring) -> tuple[str, str]:
    """Tag and date of the last visit, empty when there is none."""
    visits = wiring.record.get("visits", {})
    tag = next(reversed(visits), "")
    return tag, visits[tag]["on"] if tag else ""


def called_dead_on_a_hunch(wiring: Wiring) -> Changes:
    """A line of the log that calls a cable dead, with no reading."""
    visit, day = _visit(wiring)
    for cable in wiring.record["cables"] if visit and not wiring.record.get("log") else ():
        ahead = breakers_of(wiring, cable)
        if len(ahead) != 1 or not wiring.wires(cable):
            continue

        def edit(cable: str = cable, breaker: str = ahead[0]) -> None:
            wiring.record["log"] = [
                {"at": f"{day} 09:10", "did": "switched", "what": breaker, "to": "off", "visit": visit},
                {"at": f"{day} 09:15", "did": "called dead", "what": cable, "visit": visit},
            ]

        yield Change(cable, edit, (("called-dead-without-proof", f"claim {day} 09:15 {cable}"),), (),
                     frozenset({cable, "log"}))  # fmt: skip


def capped_without_a_test(wiring: Wiring) -> Changes:
    """A line of the log that caps the spare wire of a cable, with no test before."""
    visit, day = _visit(wiring)
    for cable, held in wiring.record["cables"].items() if visit and not wiring.record.get("log") else ():
        for side in ("from", "to"):
            end = held.get(side)
            spare = [c for c, state in end.items() if state == "capped" and c in LIVE] if isinstance(end, dict) else []
            ahead = breakers_of(wiring, cable)
            if not spare or len(ahead) != 1:
                continue

            def edit(what: str = f"{cable} {spare[0]}", breaker: str = ahead[0]) -> None:
                wiring.record["log"] = [
                    {"at": f"{day} 10:05", "did": "switched", "what": breaker, "to": "off", "visit": visit},
                    {"at": f"{day} 10:20", "did": "capped", "what": what, "visit": visit},
                ]

            yield Change(cable, edit, (("work-without-proof", "entry 2"),), (),
                         frozenset({cable, "log"}))  # fmt: skip


def two_wires_under_one_screw(wiring: Wiring) -> Changes:
    """Two wires under the plain screw of a receptacle that has a place for each."""
    for tag, device in wiring.record["devices"].items():
        full = [name for name, held in device.get("terminals", {}).items() if isinstance(held, list) and len(held) > 1]
        if device.get("screws_shared") is False and full:
            found = tuple(("device-screw-overfilled", f"terminal {tag} {name}") for name in full)
            yield Change(tag, writes(device, screws_shared=True), found, (),
                         frozenset({tag, device.get("at", "")}))  # fmt: skip
