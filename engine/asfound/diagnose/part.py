"""The part of a house that hangs together with what was read, made small enough to be solved thousands of times.

Taken in are the circuits of the points read, whatever shares a neutral or a
ground with them, and the way back to the supply. Contacts that no reading can
tell apart become one node, conductors in a row become one branch that keeps the
tags of all of them, and ends that lead nowhere are cut off.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from typing import Final

from asfound.diagnose.gather import ROLES, Set, mates
from asfound.diagnose.wiring import (
    BOND,
    BOUNDS,
    BREAKER,
    CONTACT,
    EARTH,
    HOUSE,
    LOAD,
    MAIN,
    SERVICE,
    SOURCE,
    STAR,
    SWITCH,
    WIRE,
    Element,
    House,
    Node,
)
from asfound.record.facts import Item
from asfound.trace.nets import groups_of

MAX_ELEMENTS: Final = 4000
"""Elements of one part that are still looked at."""


class TooLarge(Exception):
    """The part holds more than is worked out."""


@dataclass(slots=True)
class Branch:
    """A way between two nodes (numbers; -1 is the earth) that can open; several conductors in a row are one."""

    one: int
    two: int
    ohms: float
    tags: tuple[str, ...]
    cables: frozenset[str]


@dataclass(slots=True)
class Part:
    """A reduced part. Numbers stand for nodes, -1 for the earth.

    `number` gives the node of every point that is still there, `roles` those of the place. `paths` are by role the
    branches and breaker poles (by position in `poles`) from the place to the supply, in order. `labels` is the metal
    at a node, `near` the nodes that couple with what hangs at a node. `notes` say what was assumed, `whole` is that
    nothing was.
    """

    house: House
    count: int
    number: dict[Node, int]
    roles: dict[str, int]
    branches: list[Branch]
    poles: list[tuple[int, int, Element]]  # bus, pole, breaker element
    fixed: list[tuple[int, int, Element]]  # mains, bonds
    service: list[tuple[int, int, Element]]
    sources: list[tuple[int, int, Element]]
    switches: dict[str, list[tuple[int, int, int]]]  # device: node, node, position
    loads: list[tuple[int, int, Element]]
    houses: list[tuple[int, int, Element]]
    couplings: list[tuple[int, int, float]]
    labels: dict[int, list[str]]
    off: frozenset[Item]
    paths: dict[str, list[Branch | int]] = field(default_factory=dict)
    near: list[list[int]] = field(default_factory=list)
    notes: list[str] = field(default_factory=list)
    whole: bool = False

    def closed(self, element: Element) -> bool:
        """Whether a breaker pole or a main is closed by the log."""
        return element.item is None or element.item not in self.off


def roles_read(part: Part, readings: Set) -> frozenset[str]:
    """The terminals of the place that a reading touches."""
    nodes = {part.number[point.node] for point in readings.points}
    touched = {role for role, number in part.roles.items() if number in nodes}
    return frozenset(touched | {point.role for point in readings.points})


def roles_at(house: House, readings: Set) -> dict[str, Node]:
    """Where the terminals of the place are: those read, those of its device, then those of the cables read."""
    found: dict[str, Node] = {}

    def take(role: str, node: Node) -> None:
        if role == "hot" and found.get("hot", node) != node:
            role = "hot_2"
        if role in ("hot", "hot_2", "neutral", "ground"):
            found.setdefault(role, node)

    for point in readings.points:
        take(point.role, point.node)
    place = readings.place
    if place.kind == "panel":
        return found
    read = [point for point in readings.points if point.node != EARTH]
    devices = [place] if place.kind == "device" else list(place.data.get("devices", ()))
    for device in devices[:1]:
        for name in _terminals(house, device):
            role = ROLES.get(name, "")
            if role and role not in found:
                found[role] = ("terminal", device.tag, name)
    for point in read:
        for role, node in mates(house, point.node, place if place.kind == "box" else point.at):
            if role not in found:
                take(role, node)
    return found


def _terminals(house: House, device: Item) -> list[str]:
    """Terminals of a device that are in the record; the usual ones of its kind when none is."""
    names = house.terminals(device)
    if any(house.beside["terminal", device.tag, name] for name in names):
        return names
    groups = groups_of(device)
    usual = groups[0]["terminals"] if groups else ("hot", "neutral", "ground")
    return [name for name in ("hot", "line", "neutral", "ground") if name in usual]


def part_around(house: House, readings: Set) -> Part:
    """The part around a set of readings. Raises `TooLarge`."""
    roles = roles_at(house, readings)
    points = [point.node for point in readings.points]
    starts = [*dict.fromkeys([*roles.values(), *points])]
    notes = _assume(house, readings, roles)
    elements = _collect(house, [*starts, *_beside(house, starts)])
    devices = {node[1] for node in starts if node[0] == "terminal"}
    part = _Reduction(house, elements, starts, devices).part(roles, readings.off)
    part.notes = notes
    part.whole = not notes and all(_accounted(house, node) for node in starts if node != EARTH)
    return part


# -- what hangs together


def _beside(house: House, starts: Iterable[Node]) -> Iterator[Node]:
    """Both ends of every conductor in the cables at these points: what couples with them."""
    for node in starts:
        for element in house.beside.get(node, ()) if node[0] not in BOUNDS else ():
            for tag in element.cables:
                for one, two, _ in house.couplings.get(tag, ()):
                    yield from (one, two)


def _collect(house: House, starts: Iterable[Node]) -> list[Element]:
    """Elements that hang together with these points, as far as the bars and the supply, and what is ahead of those."""
    service = next((panel for panel in house.record.panels.values() if not panel.data["feeder"]), None)
    found: dict[Element, None] = {}
    seen: set[Node] = set()
    panels: set[str] = set()
    queue = deque(starts)

    def ahead(panel: str) -> None:
        if panel in panels or panel not in house.ahead:
            return
        panels.add(panel)
        for element in house.ahead[panel]:
            found[element] = None
            for node in (element.one, element.two):
                if node[0] in ("bar", "bus") and node[1] != panel:
                    ahead(node[1])
                elif node[0] == "bar" and node[2].startswith("lug"):
                    feeders = [one for one in house.beside[node] if one.kind == WIRE]
                    for tag in (tag for one in feeders for tag in one.cables):
                        for wire in (one for bar in house.bars(panel) for one in house.beside[bar]):
                            if tag in wire.cables:
                                found[wire] = None
                                queue.extend((wire.one, wire.two))
                elif node[0] == "pole":
                    queue.append(node)

    if service is not None:
        ahead(service.tag)
    while queue:
        node = queue.popleft()
        if node in seen:
            continue
        seen.add(node)
        if node[0] in BOUNDS:
            if node[0] in ("bar", "bus"):
                ahead(node[1])
            continue
        for element in house.beside.get(node, ()):
            found[element] = None
            queue.extend((element.one, element.two))
        if len(found) > MAX_ELEMENTS:
            raise TooLarge
    return list(found)


def _joined(house: House, start: Node) -> list[Node]:
    """Everything joined to a point by conductors, contacts and switches in any position, as far as bars and poles."""
    seen = {start}
    order = [start]
    for node in order:
        if node[0] in BOUNDS or node[0] == "pole":
            continue
        for element in house.beside.get(node, ()):
            if element.kind in (WIRE, CONTACT, SWITCH):
                more = [end for end in (element.one, element.two) if end not in seen]
                seen.update(more)
                order += more
    return order


def _accounted(house: House, start: Node) -> bool:
    """Whether every end joined to a point is accounted for, and the point is in the record."""
    joined = _joined(house, start)
    return start in house.beside and not any(node in house.untraced for node in joined)


def _assume(house: House, readings: Set, roles: dict[str, Node]) -> list[str]:
    """Give a usual feed to what leads nowhere because nobody traced it; the sentences that say so."""
    notes: dict[str, None] = {}
    panel = next((tag for tag, held in house.record.panels.items() if not held.data["feeder"]), None)
    if panel is None:
        return []
    if readings.place.kind == "device" and not house.inside.get(readings.place.tag):
        named = [node[2] for node in roles.values() if node[:2] == ("terminal", readings.place.tag)]
        if not any(house.beside.get(node) for node in roles.values()):
            house.device(readings.place, named)
    for role, node in roles.items():
        joined = _joined(house, node)
        if any(one[0] in ("bar", "bus", "pole") for one in joined):
            notes.update({words: None for one in joined for words in _said(house, one)})
            continue
        loose = next((one for one in joined if one in house.untraced), None)
        if loose is not None:
            cable = house.untraced[loose].data["cable"].tag
            house.assume(loose, role, cable, panel, house.untraced[loose].tag)
        elif node[0] == "terminal" and not any(one.kind in (WIRE, CONTACT) for one in house.beside.get(node, ())):
            device = house.record.devices[node[1]]
            if any(
                one.kind in (WIRE, CONTACT) and not one.tags[0].startswith(("strap of", "feed of"))
                for name in _terminals(house, device)
                for one in house.beside.get(("terminal", device.tag, name), ())
            ):
                continue  # other terminals are recorded, so this one has nothing on it
            house.assume(node, role, device.tag, panel)
        else:
            continue
        notes.update({words: None for one in _joined(house, node) for words in _said(house, one)})
    return list(notes)


def _said(house: House, node: Node) -> Iterator[str]:
    for element in house.beside.get(node, ()):
        for tag in element.cables:
            if tag.startswith("feed of "):
                what = tag.removeprefix("feed of ")
                untraced = what in house.record.cables
                where = (
                    f"cable {what} is not traced to its end"
                    if untraced
                    else f"nothing is recorded on the terminals of {what}"
                )
                yield f"{where}; a usual feed is assumed: hot from a breaker, neutral and ground from the bars"


# -- made small


class _Reduction:
    """Points joined into nodes, and conductors in a row into branches."""

    def __init__(self, house: House, elements: list[Element], keep: list[Node], devices: set[str]) -> None:
        self.house, self.elements = house, elements
        self.parent: dict[Node, Node] = {}
        self.kept = set(keep)
        self.openable: list[Element] = []
        for element in elements:
            near = element.kind == CONTACT and element.device in devices and element.one[0] == "joint"
            if element.kind == CONTACT and not near:
                self.parent[self.find(element.one)] = self.find(element.two)
            elif near or element.kind == WIRE:
                self.openable.append(element)

    def find(self, node: Node) -> Node:
        parent = self.parent
        while parent.setdefault(node, node) != node:
            parent[node] = parent[parent[node]]
            node = parent[node]
        return node

    def part(self, roles: dict[str, Node], off: frozenset[Item]) -> Part:
        house, find = self.house, self.find
        labels: dict[Node, list[str]] = {}
        for node in {end for element in self.elements for end in (element.one, element.two)} | self.kept:
            if house.metal.get(node):
                labels.setdefault(find(node), []).append(house.metal[node])
        firm = {find(node) for node in self.kept} | {EARTH, STAR}
        for element in self.elements:
            if element.kind not in (WIRE, CONTACT):
                firm.update((find(element.one), find(element.two)))
            firm.update(find(node) for node in (element.one, element.two) if node[0] in BOUNDS)
        usual = house.usual["contact_ohms"]
        branches = {
            number: _Chain(find(one.one), find(one.two), max(one.ohms or 0.0, usual), one.tags, frozenset(one.cables))
            for number, one in enumerate(self.openable)
            if find(one.one) != find(one.two)
        }
        moved = _simplify(branches, firm, labels)
        numbers: dict[Node, int] = {EARTH: -1}

        def number(node: Node) -> int:
            root = find(node)
            while root in moved:
                root = moved[root]
            return numbers.setdefault(root, len(numbers) - 1)

        reduced = [
            Branch(number(one.one), number(one.two), one.ohms, one.tags, one.cables) for one in branches.values()
        ]
        sorted_out: dict[str, list[tuple[int, int, Element]]] = {}
        switches: dict[str, list[tuple[int, int, int]]] = {}
        for element in self.elements:
            if element.kind in (WIRE, CONTACT):
                continue
            one, two = number(element.one), number(element.two)
            if element.kind == SWITCH:
                switches.setdefault(element.device, []).append((one, two, element.position))
            elif one != two:
                sorted_out.setdefault(element.kind, []).append((one, two, element))
        seen: set[tuple[str, frozenset[int]]] = set()
        loads = []
        for one, two, element in sorted_out.get(LOAD, ()):
            key = element.device, frozenset((one, two))
            if key not in seen:
                seen.add(key)
                loads.append((one, two, element))
        known = {node: number(node) for node in [*self.kept, EARTH, STAR]}
        for element in self.elements:
            known.update({node: number(node) for node in (element.one, element.two)})
        couplings: dict[tuple[int, int], float] = {}
        for tag in {tag for one in self.openable for tag in one.cables}:
            for first, second, farads in house.couplings.get(tag, ()):
                if first in known and second in known and known[first] != known[second]:
                    pair = min(known[first], known[second]), max(known[first], known[second])
                    couplings[pair] = couplings.get(pair, 0.0) + farads
        part = Part(
            house, len(numbers) - 1, known, {role: number(node) for role, node in roles.items()}, reduced,
            sorted_out.get(BREAKER, []), [*sorted_out.get(MAIN, []), *sorted_out.get(BOND, [])],
            sorted_out.get(SERVICE, []), sorted_out.get(SOURCE, []), switches, loads, sorted_out.get(HOUSE, []),
            [(one, two, farads) for (one, two), farads in couplings.items()],
            {numbers[root]: words for root, words in labels.items() if root in numbers}, off,
        )  # fmt: skip
        part.paths = {role: path(part, node) for role, node in part.roles.items()}
        part.near = _near(part)
        return part


@dataclass(slots=True)
class _Chain:
    """A branch between points, before these have numbers."""

    one: Node
    two: Node
    ohms: float
    tags: tuple[str, ...]
    cables: frozenset[str]


def _simplify(branches: dict[int, _Chain], firm: set[Node], labels: dict[Node, list[str]]) -> dict[Node, Node]:
    """Cut ends that lead nowhere and join branches in a row; gives where the points that vanished went."""
    beside: dict[Node, set[int]] = {}
    for number, one in branches.items():
        beside.setdefault(one.one, set()).add(number)
        beside.setdefault(one.two, set()).add(number)
    moved: dict[Node, Node] = {}
    queue = deque(beside)
    while queue:
        node = queue.popleft()
        here = beside.get(node, set())
        if node in firm or node in moved or not 0 < len(here) < 3:
            continue
        first = branches[min(here)]
        other = first.two if first.one == node else first.one
        if len(here) == 1:
            labels.setdefault(other, []).extend(labels.pop(node, ()))
        elif node in labels:
            continue
        else:
            second = branches[max(here)]
            far = second.two if second.one == node else second.one
            if far == node or other == node:
                continue
            tags = tuple(dict.fromkeys((*first.tags, *second.tags)))
            branches[max(here)] = _Chain(other, far, first.ohms + second.ohms, tags, first.cables | second.cables)
            beside[other].add(max(here))
            if other == far:
                beside[far].discard(max(here))
                del branches[max(here)]
            queue.append(far)
        beside[other].discard(min(here))
        del branches[min(here)]
        beside[node] = set()
        moved[node] = other
        queue.append(other)
    return moved


# -- ways


def path(part: Part, start: int) -> list[Branch | int]:
    """Branches and closed breaker poles (by position in `poles`) from a node to the supply, the near ones first.

    Empty when none leads there.
    """
    ends = {part.number[STAR], *(one for one, _, _ in part.sources)}
    ends |= {number for node, number in part.number.items() if node[0] in ("bar", "bus") and _main(part, node[1])}
    ways: dict[int, list[tuple[int, Branch | int | None]]] = {}

    def way(one: int, two: int, through: Branch | int | None) -> None:
        ways.setdefault(one, []).append((two, through))
        ways.setdefault(two, []).append((one, through))

    for branch in part.branches:
        way(branch.one, branch.two, branch)
    for position, (bus, pole, element) in enumerate(part.poles):
        if part.closed(element):
            way(bus, pole, position)
    for one, two, element in part.fixed:
        if element.kind == MAIN:
            way(one, two, None)
    for pairs in part.switches.values():
        for one, two, _ in pairs:
            way(one, two, None)
    came: dict[int, tuple[int, Branch | int | None]] = {start: (start, None)}
    queue = deque([start])
    while queue:
        node = queue.popleft()
        if node in ends and node != start:
            found: list[Branch | int] = []
            while node != start:
                node, through = came[node]
                if through is not None:
                    found.append(through)
            return found[::-1]
        for other, through in ways.get(node, ()):
            if other not in came and other != -1:
                came[other] = (node, through)
                queue.append(other)
    return []


def _main(part: Part, panel: str) -> bool:
    held = part.house.record.panels.get(panel)
    return held is not None and not held.data["feeder"]


@dataclass(frozen=True, slots=True)
class Tie:
    """What a node is joined to by conductors, breakers and switches in any position; bars are not gone through.

    `legs` through closed breakers, `off` through open ones, `breakers` all of them by tag, `bars` neutral or ground.
    """

    legs: frozenset[str]
    off: frozenset[str]
    breakers: frozenset[str]
    bars: frozenset[str]
    nodes: frozenset[int]


def tied(part: Part, start: int) -> Tie:
    """What a node is joined to."""
    bars = {
        number: node[2].removesuffix(" bar")
        for node, number in part.number.items()
        if node[0] == "bar" and node[2] in ("neutral bar", "ground bar")
    }
    legs = {number: node[2] for node, number in part.number.items() if node[0] == "bus"}
    seen = reached(part, start, stop=bars)
    held: dict[bool, set[str]] = {True: set(), False: set()}
    breakers = set()
    for bus, pole, element in part.poles:
        if pole in seen:
            held[part.closed(element)].add(legs[bus])
            breakers.add(element.item.tag if element.item else element.tags[0])
    return Tie(
        frozenset(held[True]), frozenset(held[False]), frozenset(breakers),
        frozenset(bars[node] for node in seen if node in bars), frozenset(seen),
    )  # fmt: skip


def reached(part: Part, start: int, *, stop: Iterable[int] = (), without: Branch | None = None) -> set[int]:
    """Nodes reached by branches and switches in any position, not beyond those where to `stop`."""
    ways: dict[int, list[int]] = {}
    pairs = [(one.one, one.two) for one in part.branches if one is not without]
    for one, two in [*pairs, *(pair[:2] for held in part.switches.values() for pair in held)]:
        ways.setdefault(one, []).append(two)
        ways.setdefault(two, []).append(one)
    seen, ends = {start}, set(stop)
    queue = [start]
    for node in queue:
        if node not in ends:
            more = [other for other in ways.get(node, ()) if other not in seen and other != -1]
            seen.update(more)
            queue += more
    return seen


def _near(part: Part) -> list[list[int]]:
    """For each node the nodes that couple with it or with what it is joined to by branches."""
    group = list(range(part.count))

    def find(node: int) -> int:
        while group[node] != node:
            group[node] = group[group[node]]
            node = group[node]
        return node

    bounds = {number for node, number in part.number.items() if node[0] in BOUNDS}
    for branch in part.branches:
        if not bounds & {branch.one, branch.two} and -1 not in (branch.one, branch.two):
            group[find(branch.one)] = find(branch.two)
    coupled: dict[int, set[int]] = {}
    for one, two, _ in part.couplings:
        if -1 not in (one, two):
            coupled.setdefault(find(one), set()).add(two)
            coupled.setdefault(find(two), set()).add(one)
    return [sorted(coupled.get(find(node), ())) for node in range(part.count)]
