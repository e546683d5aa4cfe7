"""How many places have to be opened before a conductor is traced, and which.

What nobody opened hides how the ends in it are joined. A net with no known
source is traced when every place on a way from it to a breaker, a bar or a
panel is opened. Places on a shortest such way count, each for an equal part:
one place in three that have to be opened counts for a third.
"""

from __future__ import annotations

import heapq
from itertools import count

from asfound.plan.acts import unknown
from asfound.plan.layout import Layout
from asfound.record.facts import Item

Carrier = int | str
"""Nets that lead into each other through devices, by number; or a cable of which no conductor is recorded, by tag."""
Stop = Item | tuple[Item, str]
"""A place to be opened, or a cable with the side that has to be followed."""


class Hops:
    """Shortest ways from every net to a source over what is still to be opened."""

    def __init__(self, layout: Layout) -> None:
        self.layout = layout
        self.group: dict[Item, int] = {}  # by item of a net
        self.at: dict[Carrier, dict[Item, None]] = {}  # places where a carrier is
        self.unseen: dict[Item, dict[Carrier, None]] = {place: {} for place in layout.places}
        self.stops: dict[Carrier, dict[Stop, None]] = {}  # where a carrier can go on to what nobody saw
        self.sources: dict[Carrier, None] = {}
        self.steps: dict[Carrier, int] = {}  # places to open before it is traced; 0 with a source
        self._before: dict[Carrier | Item, list[Stop | Carrier]] = {}
        self._shares: dict[Carrier, dict[Stop, float]] = {}
        self._group()
        self._carry()
        self._walk()

    def _group(self) -> None:
        """Number the groups of nets that lead into each other; those on a breaker or a bar have a source."""
        installation = self.layout.installation
        number: dict[int, int] = {}
        for net in installation.nets:
            queue = [] if net.number in number else [net.number]
            for one in queue:
                number[one] = net.number
                queue += [edge.to for edge in installation.nets[one].edges if edge.to not in number]
        for net, item in zip(installation.nets, installation.items["net"], strict=True):
            self.group[item] = number[net.number]
            if net.poles or net.bars:
                self.sources[number[net.number]] = None

    def _carry(self) -> None:
        """Note where each carrier is, and where it can go on."""
        layout = self.layout
        for place in layout.places:
            for end in layout.ends[place]:
                self._put(self.group[end.data["conductor"].data["net"]], place, not end.data["state"].values)
            for cable, _ in layout.bare[place]:
                self._put(cable.tag, place, True)
        for cable, side in layout.lost:
            for carrier in self.carriers(cable):
                self.stops.setdefault(carrier, {})[cable, side] = None

    def _put(self, carrier: Carrier, place: Item, goes_on: bool) -> None:
        self.at.setdefault(carrier, {})[place] = None
        if goes_on:
            self.unseen[place][carrier] = None
            self.stops.setdefault(carrier, {})[place] = None

    def carriers(self, item: Item) -> list[Carrier]:
        """What an item is on."""
        if item.kind == "cable" and not item.data["conductors"]:
            return [item.tag]
        return list(dict.fromkeys(self.group[net] for net in self.layout.nets(item)))

    def _walk(self) -> None:
        """Fewest places from every carrier to a source, with what is before it on each shortest way.

        Places come before carriers of as many steps, so that a carrier has met all that lead to it.
        """
        best: dict[Carrier | Item, int] = dict.fromkeys(self.sources, 0)
        heap: list[tuple[int, bool, int, Carrier | Item]] = []
        number = count()

        def offer(node: Carrier | Item, steps: int, came: Stop | Carrier | None) -> None:
            if steps < best.get(node, steps + 1):
                best[node] = steps
                self._before[node] = []
                heapq.heappush(heap, (steps, not isinstance(node, Item), next(number), node))
            if steps == best[node] and came is not None:
                self._before.setdefault(node, []).append(came)

        for source in self.sources:
            heapq.heappush(heap, (0, True, next(number), source))
        for place, carriers in self.unseen.items():
            if place.kind == "panel" and carriers:
                offer(place, 1, None)
        for carrier, stops in self.stops.items():
            for stop in stops if carrier not in self.sources else ():
                if isinstance(stop, tuple):
                    offer(carrier, unknown("places_beyond") + 1, stop)
        done: set[Carrier | Item] = set()
        while heap:
            steps, _, _, node = heapq.heappop(heap)
            if node in done:
                continue
            done.add(node)
            if isinstance(node, Item):
                for carrier in self.unseen[node]:
                    offer(carrier, steps, node)
            else:
                self.steps[node] = steps
                for place in self.at.get(node, ()):
                    if self.unseen[place]:
                        offer(place, steps + 1, node)

    def shares(self, carrier: Carrier) -> dict[Stop, float]:
        """The places to open, or cables to follow, that settle where a carrier leads, each with its part.

        For one with a source: wherever it can go on, because more can hang on it.
        """
        held = self._shares.get(carrier)
        if held is None:
            held = self._shares[carrier] = self._share(carrier)
        return held

    def _share(self, carrier: Carrier) -> dict[Stop, float]:
        stops = self.stops.get(carrier, {})
        steps = self.steps.get(carrier, len(stops) + unknown("places_beyond"))
        if steps == 0 or carrier not in self.steps:
            return dict.fromkeys(stops, 1.0 / max(1, steps, len(stops)))
        found: dict[Stop, None] = {}
        queue: dict[Carrier | Item, None] = {carrier: None}
        waiting: list[Carrier | Item] = [carrier]
        for node in waiting:
            for came in self._before.get(node, ()):
                if not isinstance(came, int | str):
                    found[came] = None
                if not isinstance(came, tuple) and came not in queue:
                    queue[came] = None
                    waiting.append(came)
        return dict.fromkeys(found, 1.0 / steps)

    def of(self, item: Item) -> dict[Stop, float]:
        """The parts for everything that an item is on, averaged over what of it is not settled."""
        parts = [shares for shares in map(self.shares, self.carriers(item)) if shares]
        total: dict[Stop, float] = {}
        for shares in parts:
            for stop, share in shares.items():
                total[stop] = total.get(stop, 0.0) + share / len(parts)
        return total
