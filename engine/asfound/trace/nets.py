"""Nets: conductors, terminals and metal that are solidly joined.

A net ends at a switch, a load, a breaker and at the bars of a panel, because a
bar joins everything in a building. Nets and what they hold stand in order of
tags, so that the order of a file changes nothing.
"""

from __future__ import annotations

import functools
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from typing import Any

from asfound.data import data
from asfound.record.build import Record
from asfound.record.facts import Fact, Item
from asfound.wording import natural

Pole = tuple[str, str]  # panel tag, space
LIVE = ("ungrounded", "switched", "traveller")
"""What a conductor does that a breaker feeds."""
Terminal = tuple[Item, str]  # device, name
Node = Item | Pole | Terminal  # a conductor, joint or box; a pole; a terminal


@dataclass(slots=True)
class Net:
    """What one net holds, by kind; `edges` lead through switches and protective devices to other nets."""

    number: int
    conductors: list[Item] = field(default_factory=list)
    terminals: list[Terminal] = field(default_factory=list)
    boxes: list[Item] = field(default_factory=list)
    joints: list[Item] = field(default_factory=list)
    poles: list[Pole] = field(default_factory=list)
    bars: list[tuple[str, str]] = field(default_factory=list)  # panel tag, "neutral bar" / "ground bar" / "lug 1"
    edges: list[Edge] = field(default_factory=list)
    open_ends: list[Item] = field(default_factory=list)  # ends not accounted for
    unknown_devices: list[Item] = field(default_factory=list)  # on it, and nobody saw what they are
    doubtful_tabs: list[Item] = field(default_factory=list)  # devices without which its breakers may not meet

    @property
    def open(self) -> bool:
        """Whether it can go on to what nobody recorded."""
        return bool(self.open_ends or self.unknown_devices)


@dataclass(frozen=True, slots=True)
class Edge:
    """A way from one net to another through a device: by a switch, or by a protective device that feeds on."""

    to: int
    device: Item
    by_switch: bool


class Links:
    """Disjoint sets over nodes, with path halving and union by size."""

    __slots__ = ("parent", "size")

    def __init__(self) -> None:
        self.parent: dict[Node, Node] = {}
        self.size: dict[Node, int] = {}

    def add(self, node: Node) -> None:
        if node not in self.parent:
            self.parent[node] = node
            self.size[node] = 1

    def find(self, node: Node) -> Node:
        """The node that stands for the set of `node`. Raises `KeyError` for one never added."""
        parent = self.parent
        above = parent[node]
        while above is not node:
            parent[node] = above = parent[above]
            node = above
            above = parent[node]
        return node

    def join(self, one: Node, two: Node) -> None:
        """Put two nodes in one set, adding those that are new."""
        self.add(one)
        self.add(two)
        one, two = self.find(one), self.find(two)
        if one is two:
            return
        if self.size[one] < self.size[two]:
            one, two = two, one
        self.parent[two] = one
        self.size[one] += self.size[two]


_natural = functools.lru_cache(maxsize=1 << 16)(natural)


def in_order(item: Item) -> tuple[Any, str]:
    """A sort key that puts W2 before W10, and never depends on the order of the file."""
    return _natural(item.tag), item.tag


def by_tag(items: Iterable[Item]) -> list[Item]:
    """Items in order of tag."""
    listed = list(items)
    return sorted(listed, key=in_order) if len(listed) > 1 else listed


def pole_order(pole: Pole) -> tuple[Any, Pole]:
    """A sort key for poles: panel by panel, in order of spaces."""
    return _natural(" ".join(pole)), pole


def groups_of(device: Item) -> list[dict[str, Any]]:
    """The behaviours a device can have by what its kind can be; empty when the kind was not seen."""
    kind = device.data.get("kind")
    if not isinstance(kind, Fact):
        return []
    found: list[dict[str, Any]] = []
    for value in kind.values:
        if _BY_KIND[value] not in found:
            found.append(_BY_KIND[value])
    return found


def group_of(device: Item) -> dict[str, Any]:
    """The behaviour of a device by the first thing that its kind can be; empty when its kind was not seen."""
    return next(iter(groups_of(device)), {})


def by_kind(kind: str) -> dict[str, Any]:
    """The behaviour of a kind of device. Raises `KeyError` for a kind that no device has."""
    return _BY_KIND[kind]


_BY_KIND = {kind: group for group in data("devices")["groups"].values() for kind in group["kinds"]}


def build_nets(record: Record) -> tuple[list[Net], dict[Item, Net], dict[Terminal, Net]]:
    """All nets in order of their first conductor, and the net of each conductor and terminal."""
    builder = _Nets(record)
    builder.fill()
    builder.bars()
    builder.edges()
    builder.tabs()
    return builder.nets, builder.by_conductor, builder.by_terminal


class _Nets:
    def __init__(self, record: Record) -> None:
        self.record = record
        # One tuple for one pole and for one terminal, because sets are compared by identity.
        self.poles = {pole: pole for pole in record.poles}
        self.terminals: dict[tuple[str, str], Terminal] = {}
        self.links = self._linked(tabs=True)
        self.nets: list[Net] = []
        self.by_root: dict[Node, Net] = {}
        self.by_conductor: dict[Item, Net] = {}
        self.by_terminal: dict[Terminal, Net] = {}

    def _terminal(self, device: str, name: str) -> Terminal:
        return self.terminals.setdefault((device, name), (self.record.devices[device], name))

    def _linked(self, *, tabs: bool) -> Links:
        """Everything solidly joined; `tabs` whether a tab that may have been removed joins."""
        record = self.record
        links = Links()
        for conductor in record.conductors:
            links.add(conductor)
        for pole in self.poles.values():
            links.add(pole)
        for tag, members in record.joint_members.items():
            joint = record.joints[tag]
            links.add(joint)
            for sort, member in members:
                links.join(joint, self._terminal(member[0].tag, member[1]) if sort == "terminal" else member)
        for (device, name), conductors in record.terminals.items():
            terminal = self._terminal(device, name)
            for conductor in conductors:
                links.join(terminal, conductor)
        for one, two in self._inside(tabs):
            if one in links.parent and two in links.parent:
                links.join(one, two)
        for conductor, panel, spot in record.landings:
            if (panel, spot) in self.poles:
                links.join(self.poles[panel, spot], conductor)
        return links

    def _inside(self, doubtful: bool) -> Iterator[tuple[Terminal, Terminal]]:
        """Pairs of terminals of one device that are joined by a tab."""
        for device in self.record.devices.values():
            tab = device.data.get("tab")
            values = tab.values if isinstance(tab, Fact) else ()
            if values == ("removed",) or (not doubtful and values != ("in place",)):
                continue
            groups = groups_of(device)
            if len(groups) == 1:
                for one, two in groups[0].get("tab", ()):
                    yield self._terminal(device.tag, one), self._terminal(device.tag, two)

    def _net(self, node: Node) -> Net:
        root = self.links.find(node)
        net = self.by_root.get(root)
        if net is None:
            net = self.by_root[root] = Net(len(self.nets))
            self.nets.append(net)
        return net

    def fill(self) -> None:
        for conductor in by_tag(self.record.conductors):
            net = self._net(conductor)
            net.conductors.append(conductor)
            self.by_conductor[conductor] = net
            net.open_ends.extend(end for end in conductor.data["ends"] if not end.data["state"].values)
        for pole in sorted(self.poles.values(), key=pole_order):
            self._net(pole).poles.append(pole)
        parent = self.links.parent
        for joint in by_tag(self.record.joints.values()):
            self._net(joint).joints.append(joint)
        landed = [terminal for terminal in self.terminals.values() if terminal in parent]
        for terminal in sorted(landed, key=lambda terminal: (*in_order(terminal[0]), terminal[1])):
            net = self._net(terminal)
            net.terminals.append(terminal)
            self.by_terminal[terminal] = net
            if not groups_of(terminal[0]) and terminal[0] not in net.unknown_devices[-1:]:
                net.unknown_devices.append(terminal[0])
        for box in by_tag(box for box in self.record.boxes.values() if box in parent):
            self._net(box).boxes.append(box)

    def bars(self) -> None:
        found: dict[int, dict[tuple[str, str], None]] = {}
        for conductor, panel, spot in self.record.landings:
            if (panel, spot) not in self.poles:
                found.setdefault(self.by_conductor[conductor].number, {})[panel, spot] = None
        for number, bars in found.items():
            self.nets[number].bars = sorted(bars, key=lambda bar: (_natural(bar[0]), *bar))

    def edges(self) -> None:
        """Ways through devices. What a device of doubtful kind may join counts as joined by a switch."""
        for device in by_tag(self.record.devices.values()):
            groups = groups_of(device)
            certain = len(groups) == 1
            for group in groups:
                sorts = [("switch", True), ("feed", not certain), *([] if certain else [("tab", True)])]
                for name, by_switch in sorts:
                    for one, two in group.get(name, ()):
                        self._edge(device, one, two, by_switch)

    def _edge(self, device: Item, one: str, two: str, by_switch: bool) -> None:
        first, second = self.by_terminal.get((device, one)), self.by_terminal.get((device, two))
        if first is None or second is None or first is second:
            return
        first.edges.append(Edge(second.number, device, by_switch))
        second.edges.append(Edge(first.number, device, by_switch))

    def tabs(self) -> None:
        """Note the devices whose tab, not recorded as in place, is all that brings two breakers together."""
        certain = {terminal[0] for terminal, _ in self._inside(doubtful=False)}
        doubtful = {terminal[0] for terminal, _ in self._inside(doubtful=True)} - certain
        breaker = {pole: held[0] for pole, held in self.record.poles.items()}
        suspects: dict[int, list[Item]] = {}
        for net in self.nets:
            if doubtful and len({breaker[pole] for pole in net.poles}) > 1:
                found = [device for device in dict.fromkeys(t[0] for t in net.terminals) if device in doubtful]
                suspects.update({net.number: found} if found else {})
        if not suspects:
            return
        solid = self._linked(tabs=False)
        for number, devices in suspects.items():
            first: dict[Node, Item] = {}
            net = self.nets[number]
            if all(first.setdefault(solid.find(pole), breaker[pole]) is breaker[pole] for pole in net.poles):
                net.doubtful_tabs = devices
