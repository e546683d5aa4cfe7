"""Planted defects of grounding: left off, not joined, joined to what they must not touch."""

from __future__ import annotations

from typing import Any

from asfound.drill.plain import SINGLE_POLE, Wiring
from asfound.drill.sites import Change, Changes, Expected


def ground_left_off(wiring: Wiring) -> Changes:
    """The ground of the last cable folded back behind the device."""
    for cable, box, place in wiring.last_cables():
        for tag in _alone_on(wiring, cable, place):
            device = wiring.record["devices"][tag]
            if device.get("slots") != 3 and device.get("metal") is not True:
                continue

            def edit(cable: str = cable, device: dict[str, Any] = device) -> None:
                del device["wired_to"]
                device["terminals"] = {"hot": f"{cable} black", "neutral": f"{cable} white"}
                wiring.set_state(cable, "to", "bare", "loose")

            yield Change(tag, edit, (("ground-left-off", f"end {cable} bare (to)"),),
                         (), frozenset({cable, box, place, tag}))  # fmt: skip


def ground_folded_back_in_the_box(wiring: Wiring) -> Changes:
    """The ground of the last cable out of the joint where it starts; what hangs on it has no ground."""
    for cable, box, place in wiring.last_cables():
        joint = wiring.joint_of(f"{cable} bare", box)
        devices = [one for one in wiring.devices_at(place) if _takes_ground(wiring, cable, one, place)]
        if joint is None or len(wiring.record["joints"][joint]["ends"]) < 3 or not devices:
            continue

        def edit(cable: str = cable, box: str = box) -> None:
            wiring.take_out(f"{cable} bare", box)
            wiring.set_state(cable, "from", "bare", "loose")

        yield Change(cable, edit, (("grounds-not-joined", f"box {box}"),), _three_slots(wiring, place),
                     frozenset({cable, box, place, joint, *devices}))  # fmt: skip


def _takes_ground(wiring: Wiring, cable: str, device: str, place: str) -> bool:
    """Whether the ground of a cable lands on a device."""
    return wiring.wired_to(device) == cable or f"{device} ground" in wiring.record["joints"].get(
        wiring.joint_of(f"{cable} bare", place) or "", {}
    ).get("ends", ())


def _alone_on(wiring: Wiring, cable: str, place: str) -> list[str]:
    """The one device in the last box of a run that the cable is wired to, with no joint beside it."""
    devices = wiring.devices_at(place)
    usual = len(devices) == 1 and wiring.wired_to(devices[0]) == cable and wiring.wires(cable) == ("black", "white")
    plastic = wiring.record["boxes"].get(place, {}).get("kind") == "nonmetallic"
    return devices if usual and plastic and not wiring.joints_at(place) else []


def _three_slots(wiring: Wiring, place: str) -> tuple[Expected, ...]:
    """The receptacle at the end of a run, found to lack its ground path where nothing else protects it."""
    return tuple(("three-slot-without-ground", f"device {device}") for device in wiring.devices_at(place))


def metal_box_off_the_ground(wiring: Wiring) -> Changes:
    """The pigtail of a metal box is missing."""
    for tag, box in wiring.record["boxes"].items():
        joint = wiring.joint_of("box", tag)
        if joint is None or wiring.devices_at(tag) or box.get("kind") in (None, "nonmetallic", "no box"):
            continue
        others = [end for end in wiring.record["joints"][joint]["ends"] if end != "box"]
        if len(others) < 2:
            continue

        def edit(joint: str = joint, others: list[str] = others) -> None:
            wiring.record["joints"][joint]["ends"] = others

        yield Change(tag, edit, (("metal-box-not-on-ground", f"box {tag}"),), (), frozenset({tag, joint}))


def bars_mixed(wiring: Wiring) -> Changes:
    """A ground of a branch circuit on the neutral bar of a sub-panel."""
    for panel, held in wiring.record["panels"].items():
        if held.get("bonded") is not False or held.get("fed_from") in (None, "supply"):
            continue
        for space in held["breakers"]:
            feeds = wiring.feeds(f"{panel} {space}")
            if not SINGLE_POLE.match(space) or len(feeds) != 1 or (wiring.short(feeds[0]) or "  ")[1:] != ("2", True):
                continue

            def edit(cable: str = feeds[0], panel: str = panel, space: str = space) -> None:
                wiring.record["cables"][cable]["from"] = {
                    "at": panel, "black": f"breaker {space}", "white": "neutral bar", "bare": "neutral bar",
                }  # fmt: skip

            circuit = wiring.circuit(f"{panel} {space}")
            yield Change(f"{panel} {space}", edit, (("bars-mixed-in-sub-panel", f"net {feeds[0]} bare"),), (),
                         circuit | {panel})  # fmt: skip


def ground_in_with_the_live_wires(wiring: Wiring) -> Changes:
    """The ground of the last cable in the joint of the blacks."""
    for cable, box, place in wiring.last_cables():
        ground, black = (wiring.joint_of(f"{cable} {colour}", box) for colour in ("bare", "black"))
        if ground is None or black is None or len(wiring.record["joints"][ground]["ends"]) < 3:
            continue

        def edit(cable: str = cable, box: str = box, black: str = black) -> None:
            wiring.take_out(f"{cable} bare", box)
            wiring.record["joints"][black]["ends"].append(f"{cable} bare")

        yield Change(
            cable, edit, (("ground-joined-to-ungrounded", f"joint {black}"),), _three_slots(wiring, place),
            wiring.circuit(cable),
        )  # fmt: skip


def jumper_behind_the_plate(wiring: Wiring) -> Changes:
    """Neutral and ground of the last receptacle joined, on a last piece of old cable that has no ground."""
    for cable, box, place in wiring.last_cables():
        devices = _alone_on(wiring, cable, place)
        device = wiring.record["devices"][devices[0]] if devices else {}
        joint, short = wiring.joint_of(f"{cable} bare", box), wiring.short(cable)
        if device.get("kind") != "duplex receptacle" or short is None:
            continue
        if joint is None or len(wiring.record["joints"][joint]["ends"]) < 3:
            continue

        def edit(
            cable: str = cable, box: str = box, tag: str = devices[0], device: dict[str, Any] = device,
            place: str = place, size: str = short[0],
        ) -> None:  # fmt: skip
            held = wiring.record["cables"][cable]
            held |= {"type": f"{size}/2 NM", "installed": 1962}
            for name in ("legend", "jacket"):
                held.pop(name, None)
            wiring.take_out(f"{cable} bare", box)
            del device["wired_to"]
            device["terminals"] = {"hot": f"{cable} black"}
            wiring.add("joints", wiring.new_tag("J"), {
                "at": place, "ends": [f"{cable} white", f"{tag} neutral", f"{tag} ground"], "connector": "twist-on",
            })  # fmt: skip

        yield Change(
            devices[0], edit, (("false-ground-at-receptacle", f"device {devices[0]}"),),
            _three_slots(wiring, place),
            frozenset({cable, box, place, joint, *devices}),
            also=("ground-left-off", "three-slot-without-ground", "grounds-not-joined", "no-ground-not-marked"),
        )  # fmt: skip
