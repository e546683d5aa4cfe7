"""Planted defects of overcurrent: breakers against cables, and what lands on them.

Largest breakers by size: NFPA 70 (NEC) 240.4(D), from memory.
"""

from __future__ import annotations

from typing import Any

from asfound.drill.plain import LIVE, SINGLE_POLE, Wiring
from asfound.drill.sites import Change, Changes, writes
from asfound.drill.wires import amps_of, breakers_of, like_cable, new_place

_LARGEST = {"14": 15, "12": 20, "10": 30}
_SMALLER = {"12": "14", "10": "12"}
_NEXT = {15: 20, 20: 30}


def _live(wiring: Wiring, cable: str) -> list[str]:
    """Conductors of a cable that are live by colour, and a white that is marked as such."""
    marked = wiring.record["cables"][cable].get("conductors", {}).get("white", {}).get("marked")
    return [f"{cable} {colour}" for colour in wiring.wires(cable) if colour in LIVE or marked in ("black", "red")]


def larger_breaker(wiring: Wiring) -> Changes:
    """A breaker one size up on cables that do not allow it."""
    for breaker, held in wiring.part("breakers").items():
        amps = amps_of(wiring, breaker)
        if amps not in _NEXT or not SINGLE_POLE.match(breaker.split(" ")[-1]):
            continue
        circuit = wiring.circuit(breaker)
        cables = [tag for tag in circuit if tag in wiring.record["cables"]]
        thin = [cable for cable in cables if _LARGEST.get((wiring.short(cable) or ("",))[0], 99) < _NEXT[amps]]
        if not thin or len(cables) != len(thin):
            continue
        used = [f"conductor {wire}" for cable in thin for wire in _live(wiring, cable)]
        first = f"conductor {wiring.feeds(breaker)[0]} black" if wiring.feeds(breaker) else used[0]
        yield Change(
            at=breaker,
            edit=writes(held, amps=_NEXT[amps]),
            expects=(("conductor-too-small", first),),
            implies=(
                *(("conductor-too-small", wire) for wire in used),
                ("receptacle-below-circuit", f"circuit {breaker}"),
            ),
            touches=circuit,
        )


def smaller_cable_at_the_end(wiring: Wiring) -> Changes:
    """The last cable of a run one size smaller than its breaker asks for."""
    for cable, box, place in wiring.last_cables():
        short = wiring.short(cable)
        ahead = breakers_of(wiring, cable)
        if short is None or short[0] not in _SMALLER or len(ahead) != 1:
            continue
        size = _SMALLER[short[0]]
        if amps_of(wiring, ahead[0]) <= _LARGEST[size]:
            continue

        def edit(cable: str = cable, old: str = short[0], size: str = size) -> None:
            held = wiring.record["cables"][cable]
            held["type"] = held["type"].replace(f"{old}/", f"{size}/", 1)
            for name in ("legend", "jacket"):
                held.pop(name, None)

        live = [("conductor-too-small", f"conductor {wire}") for wire in _live(wiring, cable)]
        yield Change(
            cable, edit, expects=tuple(live[:1]), implies=tuple(live[1:]), touches=frozenset({cable, box, place})
        )


def heater_on_a_larger_breaker(wiring: Wiring) -> Changes:
    """A water heater behind a breaker of 40 A."""
    for tag, device in wiring.record["devices"].items():
        breakers = [one for one in wiring.circuit(tag) if one in wiring.part("breakers")]
        if device.get("kind") != "water heater" or len(breakers) != 1 or amps_of(wiring, breakers[0]) != 30:
            continue
        held = wiring.part("breakers")[breakers[0]]
        wires = [f"conductor {wire}" for cable in wiring.feeds(breakers[0]) for wire in _live(wiring, cable)]
        yield Change(
            at=tag,
            edit=writes(held, amps=40),
            expects=(
                ("water-heater-breaker-too-large", f"device {tag}"),
                *(("conductor-too-small", wire) for wire in wires),
            ),
            touches=wiring.circuit(tag),
        )


def two_cables_on_one_breaker(wiring: Wiring) -> Changes:
    """A second cable to a new light, under the terminal that is marked for one."""
    for breaker, held in wiring.part("breakers").items():
        feeds = wiring.feeds(breaker)
        short = wiring.short(feeds[0]) if len(feeds) == 1 else None
        if short is None or short[1] != "2" or not short[2] or not SINGLE_POLE.match(breaker.split(" ")[-1]):
            continue
        if short[0] not in ("14", "12") or "wires_allowed" in held:
            continue

        def edit(breaker: str = breaker, held: dict[str, Any] = held, size: str = short[0]) -> None:
            held["wires_allowed"] = 1
            cable, lamp = wiring.new_tag("W"), wiring.new_tag("LT")
            place = new_place(wiring, "", "lamp", "ceiling", "shelf lamp")
            first = wiring.at(wiring.feeds(breaker)[0], "to")
            wiring.add("cables", cable, like_cable(wiring, first, size, {"from": breaker, "to": place}))
            wiring.add("boxes", place, {"kind": "nonmetallic", "volume": 14, "clamps": "none", "room": "other",
                                        "cover": "luminaire"}, after=first)  # fmt: skip
            wiring.add("devices", lamp, {"kind": "luminaire", "at": place, "watts": 60, "metal": True,
                                         "wired_to": cable})  # fmt: skip

        yield Change(breaker, edit, (("too-many-wires-on-breaker", f"breaker {breaker}"),), (), wiring.circuit(breaker))


def heater_on_two_single_breakers(wiring: Wiring) -> Changes:
    """A load between the legs on two breakers that nothing ties."""
    for tag, device in wiring.record["devices"].items():
        terminals = device.get("terminals", {})
        ends = [terminals.get("hot"), terminals.get("hot_2")]
        breakers = [one for one in wiring.circuit(tag) if one in wiring.part("breakers")]
        if device.get("kind") not in ("water heater", "air conditioner", "heater") or len(breakers) != 1:
            continue
        panel, spaces = breakers[0].rsplit(" ", 1)
        if not all(isinstance(end, str) for end in ends) or "/" not in spaces or wiring.feeds(breakers[0]) == []:
            continue
        cable = wiring.feeds(breakers[0])[0]
        if wiring.wires(cable) != ("black", "white") or {f"{cable} black", f"{cable} white"} != set(ends):
            continue

        def edit(cable: str = cable, panel: str = panel, spaces: str = spaces) -> None:
            listed = wiring.record["panels"][panel]["breakers"]
            old = listed.pop(spaces)
            one, two = spaces.split("/")
            for space, leg in ((one, "L1"), (two, "L2")):
                listed[space] = {"amps": old["amps"], "leg": leg, "label": old.get("label", "heater"), "tie": "none"}
            wiring.record["cables"][cable]["from"] = {
                "at": panel, "black": f"breaker {one}", "white": f"breaker {two}", "bare": "ground bar",
            }  # fmt: skip

        yield Change(tag, edit, (("load-on-untied-breakers", f"device {tag}"),), (), wiring.circuit(tag))


_PANELS = (100, 125, 150, 200)
"""Ratings in which panels are made, in A; common practice, no source."""


def bus_too_small_for_its_main(wiring: Wiring) -> Changes:
    """A panel of the next lower rating behind the main, with nothing smaller ahead of it."""
    for tag, panel in wiring.record["panels"].items():
        main, bus = panel.get("main_amps"), panel.get("bus_amps")
        if panel.get("fed_from") != "supply" or not isinstance(bus, int) or main not in _PANELS[1:] or bus < main:
            continue
        smaller = _PANELS[_PANELS.index(main) - 1]
        yield Change(tag, writes(panel, bus_amps=smaller), (("bus-below-its-protection", f"panel {tag}"),),
                     (), frozenset({tag}))  # fmt: skip


def directory_gone(wiring: Wiring) -> Changes:
    """The card is gone, and with it what it said of each breaker."""
    for tag, panel in wiring.record["panels"].items():
        if panel.get("directory") != "legible":
            continue

        def edit(tag: str = tag, panel: dict[str, Any] = panel) -> None:
            panel["directory"] = "missing"
            for name, held in wiring.part("breakers").items():
                if name.rsplit(" ", 1)[0] == tag:
                    held.pop("label", None)

        breakers = {name for name in wiring.part("breakers") if name.rsplit(" ", 1)[0] == tag}
        yield Change(tag, edit, (("directory-missing", f"panel {tag}"),), (), frozenset({tag, *breakers}))


def one_leg_for_two_circuits(wiring: Wiring) -> Changes:
    """A shared neutral whose two circuits are on one leg, each on a breaker of its own."""
    for breaker, held in wiring.part("breakers").items():
        panel, spaces = breaker.rsplit(" ", 1)
        feeds = wiring.feeds(breaker)
        if "/" not in spaces or len(feeds) != 1 or wiring.wires(feeds[0]) != ("black", "red", "white"):
            continue
        if wiring.at(feeds[0], "to") not in wiring.record["boxes"] or held.get("amps") != 20:
            continue
        if not wiring.joint_of(f"{feeds[0]} red", wiring.at(feeds[0], "to")):
            continue

        def edit(cable: str = feeds[0], panel: str = panel, spaces: str = spaces) -> None:
            listed = wiring.record["panels"][panel]["breakers"]
            old = listed.pop(spaces)
            one, two = spaces.split("/")
            for space in (one, two):
                listed[space] = {**{k: v for k, v in old.items() if k != "tie"}, "leg": "L1", "tie": "handle tie"}
            listed[one]["tied_with"] = int(two)
            listed[two]["tied_with"] = int(one)
            wiring.record["cables"][cable]["from"] = {
                "at": panel, "black": f"breaker {one}", "red": f"breaker {two}", "white": "neutral bar",
                "bare": "ground bar",
            }  # fmt: skip

        yield Change(breaker, edit, (("neutral-overloaded", f"net {feeds[0]} white"),), (), wiring.circuit(breaker))
