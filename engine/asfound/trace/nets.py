"""Nets: conductors, terminals and metal that are solidly joined.

A net ends at a switch, a load, a breaker and at the bars of a panel, because a
bar joins everything in a building.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import Any

from asfound.data import data
from asfound.record.build import Record
from asfound.record.facts import Fact, Item

Node = tuple[str, Any]
Pole = tuple[str, str]  # panel tag, space


@dataclass(slots=True)
class Net:
    """What one net holds, by kind; `edges` lead through switches and protective devices to other nets."""

    number: int
    conductors: list[Item] = field(default_factory=list)
    terminals: list[tuple[Item, str]] = field(default_factory=list)
    boxes: list[Item] = field(default_factory=list)
    joints: list[Item] = field(default_factory=list)
    poles: list[Pole] = field(default_factory=list)
    bars: list[tuple[str, str]] = field(default_factory=list)  # panel tag, "neutral bar" / "ground bar" / "lug 1"
    edges: list[Edge] = field(default_factory=list)
    open_ends: list[Item] = field(default_factory=list)


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

    def find(self, node: Node) -> Node:
        parent = self.parent
        if node not in parent:
            parent[node] = node
            self.size[node] = 1
            return node
        while parent[node] != node:
            parent[node] = parent[parent[node]]
            node = parent[node]
        return node

    def join(self, one: Node, two: Node) -> None:
        one, two = self.find(one), self.find(two)
        if one == two:
            return
        if self.size[one] < self.size[two]:
            one, two = two, one
        self.parent[two] = one
        self.size[one] += self.size[two]


def group_of(device: Item) -> dict[str, Any]:
    """The behaviour of a device by its kind; empty when the kind was not seen."""
    kind = device.data.get("kind")
    if not isinstance(kind, Fact) or not kind.values:
        return {}
    found: dict[str, Any] = _BY_KIND[kind.values[0]]
    return found


_BY_KIND = {kind: group for group in data("devices")["groups"].values() for kind in group["kinds"]}


def build_nets(record: Record) -> tuple[list[Net], dict[int, Net]]:
    """All nets in file order of their first conductor, and the net of each conductor by `id`."""
    links = Links()
    for conductor in record.conductors:
        links.find(("conductor", conductor.tag))
    for tag, members in record.joint_members.items():
        joint = ("joint", tag)
        links.find(joint)
        for sort, member in members:
            links.join(joint, _node(sort, member))
    for (device, name), conductors in record.terminals.items():
        for conductor in conductors:
            links.join(("terminal", (device, name)), ("conductor", conductor.tag))
    for one, two in _inside(record):
        if one in links.parent and two in links.parent:
            links.join(one, two)
    for conductor, panel, spot in record.landings:
        if (panel, spot) in record.poles:
            links.join(("pole", (panel, spot)), ("conductor", conductor.tag))
    nets: list[Net] = []
    by_root: dict[Node, Net] = {}

    def net_of(node: Node) -> Net:
        root = links.find(node)
        if root not in by_root:
            by_root[root] = Net(len(nets))
            nets.append(by_root[root])
        return by_root[root]

    by_conductor: dict[int, Net] = {}
    for conductor in record.conductors:
        net = net_of(("conductor", conductor.tag))
        net.conductors.append(conductor)
        by_conductor[id(conductor)] = net
        net.open_ends.extend(end for end in conductor.data["ends"] if not end.data["state"].values)
    for pole in record.poles:
        net_of(("pole", pole)).poles.append(pole)
    for node in list(links.parent):
        sort, key = node
        if sort == "joint":
            net_of(node).joints.append(record.joints[key])
        elif sort == "terminal":
            net_of(node).terminals.append((record.devices[key[0]], key[1]))
        elif sort == "box":
            net_of(node).boxes.append(record.boxes[key])
    for conductor, panel, spot in record.landings:
        if (panel, spot) not in record.poles:
            bars = by_conductor[id(conductor)].bars
            if (panel, spot) not in bars:
                bars.append((panel, spot))
    _edges(record, links, by_root)
    return nets, by_conductor


def _node(sort: str, member: Any) -> Node:
    if sort == "conductor":
        return "conductor", member.tag
    if sort == "terminal":
        return "terminal", (member[0].tag, member[1])
    return "box", member.tag


def _inside(record: Record) -> Iterator[tuple[Node, Node]]:
    """Pairs of terminals of one device that are joined by a tab."""
    for device in record.devices.values():
        tab = device.data.get("tab")
        if isinstance(tab, Fact) and tab.values[:1] == ("removed",):
            continue
        for one, two in group_of(device).get("tab", ()):
            yield ("terminal", (device.tag, one)), ("terminal", (device.tag, two))


def _edges(record: Record, links: Links, by_root: dict[Node, Net]) -> None:
    for device in record.devices.values():
        group = group_of(device)
        for by_switch, pairs in ((True, group.get("switch", ())), (False, group.get("feed", ()))):
            for one, two in pairs:
                nodes = ("terminal", (device.tag, one)), ("terminal", (device.tag, two))
                if any(node not in links.parent for node in nodes):
                    continue
                first, second = (by_root[links.find(node)] for node in nodes)
                if first is not second:
                    first.edges.append(Edge(second.number, device, by_switch))
                    second.edges.append(Edge(first.number, device, by_switch))
