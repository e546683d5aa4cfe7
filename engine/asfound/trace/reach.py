"""What reaches each net: breakers and neutral bars, through switches, devices and loads.

A switch joins its common to one traveller at a time, so a way never leaves a
switch by which it has just come. The time is linear in nets and devices:
beyond `MAX_JOINED` breakers in one group of nets they are not followed one by
one, and each is taken to reach all of it.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass

from asfound.record.build import Record
from asfound.record.facts import Item
from asfound.trace.log import Step
from asfound.trace.nets import Net, Pole, Terminal, by_tag, groups_of, pole_order

MAX_JOINED = 8
"""Breaker poles in one group of nets that are still followed one by one."""


class Reach:
    """By net number: `poles` that reach it (equal lists are one object), `direct` when one does without a switch,
    `grounded` False on a neutral bar, True through a switch and None otherwise, `through` the loads by which alone a
    net without a way to a bar is live, `group` the nets that hang together through switches and devices. `across` is
    by group: the poles behind the loads on it.
    """

    def __init__(self, record: Record, nets: list[Net], by_terminal: dict[Terminal, Net]) -> None:
        self.record = record
        self.nets = nets
        self.poles: list[tuple[Pole, ...]] = [()] * len(nets)
        self.direct = [False] * len(nets)
        self.grounded: list[bool | None] = [None] * len(nets)
        self.through: list[tuple[Item, ...]] = [()] * len(nets)
        self.group = self._groups(range(len(nets)), lambda number: (edge.to for edge in nets[number].edges))
        self.open_groups = {self.group[net.number] for net in nets if net.open}
        self.across: dict[int, dict[Pole, None]] = {}
        self.open_nets: set[int] = set()  # closed ones that are joined to an open group through a load
        self._breakers()
        starts = [net.number for net in nets if any(bar == "neutral bar" for _, bar in net.bars)]
        for number, by_switch in self.walk(starts).items():
            self.grounded[number] = by_switch
        self._loads(by_terminal)

    def stray(self, number: int) -> bool:
        """Whether nothing recorded feeds or grounds the net, and something not recorded can."""
        if self.poles[number] or self.nets[number].bars or self.grounded[number] is False:
            return False
        return self.group[number] in self.open_groups or number in self.open_nets

    @staticmethod
    def _groups(numbers: Iterable[int], beside: Callable[[int], Iterable[int]]) -> dict[int, int]:
        """The lowest number of the group each number hangs together with."""
        group: dict[int, int] = {}
        for start in numbers:
            if start in group:
                continue
            group[start] = start
            queue = [start]
            for number in queue:
                for other in beside(number):
                    if other not in group:
                        group[other] = start
                        queue.append(other)
        return group

    def _breakers(self) -> None:
        starts: dict[int, list[tuple[Pole, int]]] = {}
        for net in self.nets:
            for pole in net.poles:
                starts.setdefault(self.group[net.number], []).append((pole, net.number))
        found: list[list[Pole]] = [[] for _ in self.nets]
        crowded: dict[int, tuple[Pole, ...]] = {}
        for group, poles in starts.items():
            poles.sort(key=lambda pair: pole_order(pair[0]))
            if len(poles) > MAX_JOINED:
                crowded[group] = tuple(pole for pole, _ in poles)
                for number in self.walk((number for _, number in poles), switches=False):
                    self.direct[number] = True
                continue
            for pole, start in poles:
                for number, by_switch in self.walk([start]).items():
                    found[number].append(pole)
                    self.direct[number] |= not by_switch
        same: dict[tuple[Pole, ...], tuple[Pole, ...]] = {}
        for net in self.nets:
            held = crowded.get(self.group[net.number])
            if held is None:
                held = tuple(found[net.number])
                held = same.setdefault(held, held)
            self.poles[net.number] = held

    def walk(self, starts: Iterable[int], *, switches: bool = True) -> dict[int, bool]:
        """Nets reached from `starts`, and whether only through a switch. Each net is left at most twice."""
        nets = self.nets
        found = dict.fromkeys(starts, False)
        solid = list(found)
        for number in solid:
            for edge in nets[number].edges:
                if not edge.by_switch and edge.to not in found:
                    found[edge.to] = False
                    solid.append(edge.to)
        if not switches:
            return found
        # By which switches each net was entered; None once it may be left by every way.
        entered: dict[int, Item | None] = dict.fromkeys(found)
        queue: deque[tuple[int, Item | None, Item | None]] = deque((number, None, None) for number in found)
        while queue:
            number, only, never = queue.popleft()
            for edge in nets[number].edges:
                switch = edge.device if edge.by_switch else None
                if (only is not None and switch is not only) or (never is not None and switch is never):
                    continue
                if edge.to not in found:
                    found[edge.to] = True
                    entered[edge.to] = switch
                    queue.append((edge.to, None, switch))
                elif (before := entered[edge.to]) is not None and before is not switch:
                    entered[edge.to] = None
                    queue.append((edge.to, before, None))
        return found

    def _loads(self, by_terminal: dict[Terminal, Net]) -> None:
        """What has no way to a bar is live through a load that has the other side on a breaker."""
        beside: dict[int, list[tuple[int, Item]]] = {}
        for device in self.record.devices.values():
            for group in groups_of(device):
                for one, two in group.get("load", ()):
                    first, second = by_terminal.get((device, one)), by_terminal.get((device, two))
                    if first is not None and second is not None and first is not second:
                        beside.setdefault(first.number, []).append((second.number, device))
                        beside.setdefault(second.number, []).append((first.number, device))
        for number, others in beside.items():
            if not self.poles[number]:
                behind = self.across.setdefault(self.group[number], {})
                for poles in dict.fromkeys(self.poles[other] for other, _ in others):
                    behind.update(dict.fromkeys(poles))
        floating = {
            net.number for net in self.nets
            if not (self.poles[net.number] or net.bars or self.grounded[net.number] is not None)
            and self.group[net.number] not in self.open_groups
        }  # fmt: skip

        def near(number: int) -> Iterator[int]:
            yield from (edge.to for edge in self.nets[number].edges if edge.to in floating)
            yield from (other for other, _ in beside.get(number, ()) if other in floating)

        together: dict[int, list[int]] = {}
        for number, first_of_all in self._groups(sorted(floating), near).items():
            together.setdefault(first_of_all, []).append(number)
        for members in together.values():
            self._float(members, floating, beside)

    def _float(self, members: list[int], floating: set[int], beside: dict[int, list[tuple[int, Item]]]) -> None:
        """Feed nets that float together from the live nets behind their loads, or leave them open with a stray one."""
        poles: dict[Pole, None] = {}
        loads: dict[Item, None] = {}
        stray = False
        for number in members:
            for other, device in beside.get(number, ()):
                if other not in floating and self.poles[other]:
                    poles.update(dict.fromkeys(self.poles[other]))
                    loads[device] = None
                stray = stray or self.stray(other)
        if poles:
            ordered, named = tuple(sorted(poles, key=pole_order)), tuple(by_tag(loads))
            for number in members:
                self.poles[number], self.through[number] = ordered, named
        elif stray:
            self.open_nets.update(members)


@dataclass(slots=True)
class Traced:
    """What the tracer hands on: the nets with their items, what reaches them, the net of each terminal, and the log."""

    record: Record
    nets: list[Net]
    items: list[Item]
    reach: Reach
    by_terminal: dict[Terminal, Net]
    log: list[Step]

    def item(self, net: Net) -> Item:
        """The item of a net."""
        return self.items[net.number]
