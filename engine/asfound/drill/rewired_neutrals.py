"""Planted defects of neutrals and of what wires are taken for, and circuits joined to each other."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from itertools import combinations, islice
from typing import Any

from asfound.drill.plain import SINGLE_POLE, Wiring
from asfound.drill.sites import Change, Changes, Expected, writes
from asfound.drill.wires import amps_of, breakers_of, like_cable, spliced_whole


def white_not_marked(wiring: Wiring) -> Changes:
    """A white that is live, its marking gone."""
    for cable, held in wiring.record["cables"].items():
        white = held.get("conductors", {}).get("white", {})
        if white.get("marked") not in ("black", "red"):
            continue
        yield Change(cable, writes(white, marked="none"),
                     (("white-used-as-ungrounded", f"conductor {cable} white"),),
                     (), frozenset({cable}))  # fmt: skip


def polarity_reversed(wiring: Wiring) -> Changes:
    """Black and white changed at a receptacle at the end of its run."""
    for tag, device in wiring.record["devices"].items():
        cable = wiring.wired_to(tag)
        place = device.get("at", "")
        if device.get("kind") != "duplex receptacle" or not cable or len(wiring.ends_at(place)) != 1:
            continue
        if wiring.wires(cable) != ("black", "white") or wiring.joints_at(place):
            continue

        def edit(device: dict[str, Any] = device, cable: str = cable) -> None:
            del device["wired_to"]
            device["terminals"] = {"hot": f"{cable} white", "neutral": f"{cable} black", "ground": f"{cable} bare"}

        yield Change(tag, edit, (("live-and-neutral-reversed", f"device {tag}"),), (), frozenset({tag, cable, place}))


def neutral_through_the_switch(wiring: Wiring) -> Changes:
    """A switch in the white instead of the black."""
    for tag, device in wiring.record["devices"].items():
        terminals, place = device.get("terminals", {}), device.get("at", "")
        line, load = terminals.get("line"), terminals.get("load")
        if device.get("kind") != "switch" or not isinstance(line, str) or not isinstance(load, str):
            continue
        if not (line.endswith(" black") and load.endswith(" black")):
            continue
        whites = [f"{end.removesuffix(' black')} white" for end in (line, load)]
        joint = wiring.joint_of(whites[0], place)
        if joint is None or sorted(wiring.record["joints"][joint]["ends"]) != sorted(whites):
            continue

        def edit(terminals: dict[str, Any] = terminals, joint: str = joint, whites: list[str] = whites) -> None:
            wiring.record["joints"][joint]["ends"] = [terminals["line"], terminals["load"]]
            terminals["line"], terminals["load"] = whites

        yield Change(
            tag, edit, (("neutral-through-switch", f"net {whites[1]}"),), (), wiring.circuit(tag),
        )  # fmt: skip


def neutral_open(wiring: Wiring) -> Changes:
    """The white of the last cable out of its joint, where it starts."""
    for cable, box, place in wiring.last_cables():
        joint = wiring.joint_of(f"{cable} white", box)
        devices = wiring.devices_at(place)
        fed = wiring.joint_of(f"{cable} black", box)
        if joint is None or fed is None or len(wiring.record["joints"][joint]["ends"]) < 3 or len(devices) != 1:
            continue
        terminals = wiring.record["devices"][devices[0]].get("terminals", {})
        if wiring.wired_to(devices[0]) != cable and terminals.get("neutral") != f"{cable} white":
            continue

        def edit(cable: str = cable, box: str = box) -> None:
            wiring.take_out(f"{cable} white", box)
            wiring.set_state(cable, "from", "white", "loose")

        yield Change(cable, edit, (("neutral-open", f"net {cable} white"),
                     ("ungrounded-end-uncapped", f"end {cable} white (from)")), (), wiring.circuit(cable))  # fmt: skip


_MOST_PAIRS = 4
"""Pairs looked at of circuits that are alike."""


def _pairs(wiring: Wiring) -> Iterator[tuple[str, str, tuple[str, str, str], tuple[str, str, str]]]:
    """Pairs of boxes of different circuits alike, with their joints.

    Alike are circuits of one panel and one leg, one size of cable, and plain
    breakers of one size: joined between two legs, or behind breakers that watch
    what comes back, they would trip at once and not stay so.
    """
    held: dict[tuple[Any, ...], list[tuple[str, tuple[str, str, str]]]] = {}
    for box, joints in spliced_whole(wiring):
        breaker = breakers_of(wiring, box)[0]
        facts = wiring.part("breakers")[breaker]
        sizes = {(wiring.short(one) or ("",))[:2] for one in wiring.circuit(box) if one in wiring.record["cables"]}
        plain = facts.get("protection", "none") == "none" and isinstance(facts.get("leg"), str)
        if SINGLE_POLE.match(breaker.split(" ")[-1]) and plain and len(sizes) == 1:
            key = (breaker.split(" ")[0], facts.get("leg"), amps_of(wiring, breaker), *sizes)
            held.setdefault(key, []).append((box, joints))
    for alike in held.values():
        fed = [breakers_of(wiring, box) for box, _ in alike]
        for first, second in islice(
            ((a, b) for a, b in combinations(range(len(alike)), 2) if fed[a] != fed[b]), _MOST_PAIRS
        ):
            yield alike[first][0], alike[second][0], alike[first][1], alike[second][1]


def _net(wiring: Wiring, end: str) -> list[str]:
    """The conductors that hang together with one through joints and terminals, in the order of the record."""
    groups: list[set[str]] = [
        {one for one in joint["ends"] if one.split(" ")[0] in wiring.record["cables"]}
        for joint in wiring.record["joints"].values()
    ]  # fmt: skip
    for device in wiring.record["devices"].values():
        for two in (("hot", "load_hot"), ("neutral", "load_neutral"), ("hot",), ("neutral",)):
            ends: set[str] = set()
            for name in two:
                held = device.get("terminals", {}).get(name, [])
                ends.update([held] if isinstance(held, str) else held)
            groups.append(ends)
    found = {end}
    grown = True
    while grown:
        size = len(found)
        for group in groups:
            if group & found:
                found |= group
        grown = len(found) > size
    order = list(wiring.record["cables"])
    return sorted(found, key=lambda one: order.index(one.split(" ")[0]))


def _between(wiring: Wiring, one: str, two: str) -> str:
    """A new cable between two boxes, which are made large enough for it."""
    cable = wiring.new_tag("W")
    wiring.add("cables", cable, like_cable(wiring, one, "12", {"from": one, "to": two}))
    for box in (one, two):
        wiring.make_room(box, 14)
    return cable


def neutrals_crossed(wiring: Wiring) -> Changes:
    """A cable between boxes of two circuits, joined by its white."""
    tag = wiring.new_tag("W")
    for one, two, ones, twos in _pairs(wiring):
        first, second = (wiring.record["joints"][joints[1]]["ends"][0] for joints in (ones, twos))
        net = _first(wiring, _net(wiring, first)[0], _net(wiring, second)[0], f"{tag} white")
        yield Change(
            one, _joining(wiring, one, two, ones, twos, colour=1), (("neutral-of-two-circuits", f"net {net}"),), (),
            wiring.circuit(one) | wiring.circuit(two) | {tag},
        )  # fmt: skip


def two_circuits_joined(wiring: Wiring) -> Changes:
    """A cable between boxes of two circuits, joined by its black.

    It follows that every box of both has two circuits in it, and that either
    neutral can have to carry what both breakers let through.
    """
    tag = wiring.new_tag("W")
    for one, two, ones, twos in _pairs(wiring):
        first, second = (wiring.record["joints"][joints[0]]["ends"][0] for joints in (ones, twos))
        net = _first(wiring, _net(wiring, first)[0], _net(wiring, second)[0], f"{tag} black")
        circuits = wiring.circuit(one) | wiring.circuit(two)
        cables = [cable for cable in circuits if cable in wiring.record["cables"]]
        implied: list[Expected] = [("circuits-share-a-box", f"box {box}") for box in circuits]
        implied += [
            (rule, f"net {cable} white") for cable in cables
            for rule in ("neutral-of-two-circuits", "neutral-overloaded")
        ]  # fmt: skip
        yield Change(
            one, _joining(wiring, one, two, ones, twos, colour=0), (("two-breakers-one-net", f"net {net}"),),
            tuple(implied), circuits | {tag},
        )  # fmt: skip


def _first(wiring: Wiring, one: str, two: str, new: str) -> str:
    """The first of three conductors in the order of the record, the last of them on a cable that is not in it yet."""
    order = list(wiring.record["cables"])
    old = min((one, two), key=lambda wire: order.index(wire.split(" ")[0]))
    return new if wiring.number_of("cables", new.split(" ")[0]) <= order.index(old.split(" ")[0]) else old


def _joining(
    wiring: Wiring, one: str, two: str, ones: tuple[str, ...], twos: tuple[str, ...], *, colour: int
) -> Callable[[], None]:
    """The edit that runs a cable between two boxes and joins its black (0) or white (1), the other being capped."""

    def edit() -> None:
        cable = _between(wiring, one, two)
        for joints in (ones, twos):
            wiring.record["joints"][joints[colour]]["ends"].append(f"{cable} {('black', 'white')[colour]}")
            wiring.record["joints"][joints[2]]["ends"].append(f"{cable} bare")
        for side in ("from", "to"):
            wiring.set_state(cable, side, ("white", "black")[colour], "capped")

    return edit
