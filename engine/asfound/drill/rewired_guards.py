"""Planted defects of ground-fault and arc-fault protection.

The first editions that ask for it: NFPA 70 (NEC) 210.12(A), from memory.
"""

from __future__ import annotations

from functools import partial
from typing import Any

from asfound.drill.plain import Wiring
from asfound.drill.sites import Change, Changes, Expected, writes
from asfound.drill.wires import breakers_of

_PROTECTED = {
    "kitchen/counter": "kitchen-counter-receptacle-unprotected", "garage": "garage-receptacle-unprotected",
    "basement": "basement-receptacle-unprotected", "laundry": "laundry-receptacle-unprotected",
    "bathroom": "bathroom-receptacle-unprotected", "outdoors": "outdoor-receptacle-unprotected",
}  # fmt: skip
_ARC_FAULT_SINCE = {"bedroom": 1999, "living room": 2008, "hall": 2008, "kitchen": 2014, "laundry": 2014}


def breaker_without_ground_fault_protection(wiring: Wiring) -> Changes:
    """An ordinary or arc-fault breaker where one with ground-fault protection was."""
    for breaker, held in wiring.part("breakers").items():
        if held.get("protection") not in ("dual", "ground-fault"):
            continue
        found = _unprotected(wiring, wiring.circuit(breaker))
        if found:
            yield Change(breaker, partial(_less, held), tuple(found), (), wiring.circuit(breaker))


def breaker_test_does_nothing(wiring: Wiring) -> Changes:
    """The test button of a breaker that no longer trips; it then protects nothing behind it."""
    for breaker, held in wiring.part("breakers").items():
        protection, circuit = held.get("protection"), wiring.circuit(breaker)
        if held.get("test_button") != "trips" or protection not in ("dual", "ground-fault", "arc-fault"):
            continue
        found = [("breaker-does-not-trip", f"breaker {breaker}")]
        found += _unprotected(wiring, circuit) if protection != "arc-fault" else []
        found += _without_arc_fault(wiring, breaker) if protection != "ground-fault" else []
        yield Change(breaker, writes(held, test_button="does not trip"), tuple(found), (),
                     circuit)  # fmt: skip


def test_button_does_nothing(wiring: Wiring) -> Changes:
    """The test button of a receptacle that no longer trips; neither it nor what is behind it is protected."""
    for tag, device in wiring.record["devices"].items():
        if device.get("test_button") != "trips" or device.get("protection") != "ground-fault":
            continue
        circuit = wiring.circuit(tag)
        yield Change(tag, writes(device, test_button="does not trip"),
                     (("device-does-not-trip", f"device {tag}"), *_unprotected(wiring, circuit, tag)), (),
                     circuit)  # fmt: skip


def _unprotected(wiring: Wiring, circuit: frozenset[str], itself: str = "") -> list[Expected]:
    """What lacks ground-fault protection when the breaker, or the receptacle `itself`, no longer gives it."""
    found = []
    for tag in sorted(circuit):
        device = wiring.record["devices"].get(tag, {})
        room = device.get("room") or wiring.record["boxes"].get(device.get("at"), {}).get("room")
        rule = _PROTECTED.get(f"{room}/{device.get('serves', 'general')}") or _PROTECTED.get(str(room))
        if device.get("kind") == "duplex receptacle" and rule and (device.get("protection") == "none" or tag == itself):
            found.append((rule, f"device {tag}"))
    return found


def _less(breaker: dict[str, Any]) -> None:
    """Take the ground-fault part away, keep the arc-fault part of a dual breaker."""
    breaker["protection"] = "arc-fault" if breaker["protection"] == "dual" else "none"
    if breaker["protection"] == "none":
        breaker.pop("test_button", None)


def ordinary_receptacle_in_its_place(wiring: Wiring) -> Changes:
    """A receptacle with ground-fault protection replaced by one without."""
    for tag, device in wiring.record["devices"].items():
        terminals = device.get("terminals", {})
        box = wiring.record["boxes"].get(device.get("at"), {})
        rule = _PROTECTED.get(str(device.get("room") or box.get("room", "")))
        if device.get("kind") != "duplex receptacle" or device.get("protection") != "ground-fault" or rule is None:
            continue
        breakers = breakers_of(wiring, tag)
        if len(breakers) != 1 or wiring.part("breakers")[breakers[0]].get("protection", "none") != "none":
            continue

        def edit(device: dict[str, Any] = device, terminals: dict[str, Any] = terminals) -> None:
            device["protection"] = "none"
            device.pop("test_button", None)
            for name in ("hot", "neutral"):
                if f"load_{name}" in terminals:
                    terminals[name] = [terminals[name], terminals.pop(f"load_{name}")]
                    device["screws_shared"] = False

        beyond = [
            one for one in wiring.circuit(tag) if one != tag
            and wiring.record["devices"].get(one, {}).get("kind") == "duplex receptacle"
        ] if "load_hot" in terminals else []  # fmt: skip
        found = tuple((rule, f"device {one}") for one in (tag, *sorted(beyond)))
        yield Change(tag, edit, found, (), wiring.circuit(tag))


def breaker_without_arc_fault_protection(wiring: Wiring) -> Changes:
    """An ordinary breaker where one with arc-fault protection was."""
    for breaker, held in wiring.part("breakers").items():
        found = _without_arc_fault(wiring, breaker)
        if held.get("protection") != "arc-fault" or not found:
            continue

        def edit(held: dict[str, Any] = held) -> None:
            held["protection"] = "none"
            held.pop("test_button", None)

        yield Change(breaker, edit, tuple(found), (), wiring.circuit(breaker))


def _without_arc_fault(wiring: Wiring, breaker: str) -> list[Expected]:
    """What lacks arc-fault protection when the breaker no longer gives it: one finding for each age of rule."""
    circuit = wiring.circuit(breaker)
    years = [held.get("installed") for tag, held in wiring.record["cables"].items() if tag in circuit]
    if not years or None in years:
        years.append(wiring.record["site"].get("built"))
    built = min((year for year in years if isinstance(year, int)), default=None)
    devices = [wiring.record["devices"][tag] for tag in circuit if tag in wiring.record["devices"]]
    rooms = {one.get("room") or wiring.record["boxes"].get(one.get("at"), {}).get("room") for one in devices}
    if not isinstance(built, int) or len(rooms & _ARC_FAULT_SINCE.keys()) != 1:
        return []
    since = min(_ARC_FAULT_SINCE[room] for room in rooms if room in _ARC_FAULT_SINCE)
    age = "" if built >= since else "old-"
    return [(f"{age}room-without-arc-fault-protection", f"circuit {breaker}")]
