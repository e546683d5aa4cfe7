"""The conditions of data/faults.yaml, made into changes of one part at every place where they can be."""

from __future__ import annotations

import functools
import itertools
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from typing import Any, Final

from asfound.data import data
from asfound.diagnose.part import Branch, Part, reached, tied
from asfound.diagnose.solve import Stamp
from asfound.diagnose.wiring import SERVICE
from asfound.record.facts import EXACT

EVERY: Final = "every"
"""Role of what can be seen at any point, such as the service neutral."""


@dataclass(frozen=True, slots=True)
class Condition:
    """One entry of the data file."""

    name: str
    severity: str
    lethal: bool
    means: str
    look: tuple[str, ...]
    at: dict[str, str] = field(default_factory=dict, compare=False)
    changes: tuple[tuple[str, ...], ...] = ()
    hidden: bool = False
    loaded: bool = False
    panel: bool = False
    apart: bool = False


@functools.cache
def conditions() -> dict[str, Condition]:
    """Every condition by name, in the order of the data file."""
    return {
        name: Condition(
            name, held["severity"], bool(held["lethal"]), held["means"], tuple(held["look"]),
            held.get("at", {}),
            tuple(tuple(one) for one in held["changes"]), bool(held.get("hidden")),
            held.get("needs") == "load on", bool(held.get("panel")), bool(held.get("apart")),
        )
        for name, held in data("faults")["conditions"].items()
    }  # fmt: skip


@dataclass(frozen=True, slots=True)
class Instance:
    """A condition at one place: changes of conductances, in one version or several between which it can lie.

    `wires` are changes of the wiring, `supply` changes of breakers and feeds that count only while the supply is on.
    `roles` are the terminals it is about, `opened` the breaker poles (by position) it opens, `feeds` the ways in which
    it lets another breaker feed on: two nodes and siemens. `parts` are the roles change by change.
    """

    condition: Condition
    wires: tuple[tuple[Stamp, ...], ...] = ((),)
    supply: tuple[Stamp, ...] = ()
    tags: tuple[str, ...] = ()
    roles: frozenset[str] = frozenset()
    opened: frozenset[int] = frozenset()
    feeds: tuple[tuple[int, int, float], ...] = ()
    service: bool = False
    parts: tuple[frozenset[str], ...] = ()

    @property
    def versions(self) -> list[tuple[Stamp, ...]]:
        """Everything it changes while the supply is on, version by version."""
        return [(*wires, *self.supply) for wires in self.wires]


def instances(part: Part, *, at_panel: bool) -> list[Instance]:
    """Every condition at every place of the part where it can be; those that change nothing are left out."""
    maker = _Maker(part)
    found: list[Instance] = []
    for condition in conditions().values():
        if at_panel and not condition.panel:
            continue
        for changes in condition.changes:
            found += maker.made(condition, changes)
    return found


def as_recorded(part: Part, read: Iterable[str], nodes: Iterable[int] = ()) -> Condition | None:
    """The condition that the record itself is, by what hangs on each terminal; None when no row of the table is that.

    Where every terminal that was read hangs on what it should, the record is *correct* there. Two breakers on one of
    the nodes read are a second feed.
    """
    if any(len(tied(part, node).breakers) > 1 for node in nodes if node >= 0):
        return conditions()["second feed"]
    shown = {role: _source(part, role) for role in part.roles}
    bars = {role: tied(part, part.roles[role]).bars for role in ("neutral", "ground") if role in part.roles}
    if bars == {"neutral": {"ground"}, "ground": {"neutral"}}:
        shown |= {"neutral": "ground", "ground": "neutral"}
    told = {"hot": "hot", "neutral": "neutral", "ground": "ground"}
    usual = all(shown.get(role, told[role]) == told[role] for role in told if role in set(read))
    if usual:
        return conditions()["correct"]
    named = {role: what for role, what in shown.items() if role in told}
    for condition in conditions().values():
        if condition.at and all(condition.at[role] == what for role, what in named.items()):
            return condition
    return None


def _source(part: Part, role: str) -> str:
    """What a terminal hangs on: hot, other leg, off, neutral, ground or none."""
    here = tied(part, part.roles[role])
    if here.legs:
        hot = tied(part, part.roles["hot"]).legs if "hot" in part.roles else frozenset()
        return "other leg" if role != "hot" and hot and not here.legs & hot else "hot"
    if here.off:
        return "off"
    neutral = part.roles.get("neutral")
    bars = here.bars
    if role == "ground" and neutral is not None and neutral in here.nodes:
        return "neutral" if bars else "none"
    if role in bars:
        return role
    # A neutral on the ground bar, or a ground on the neutral bar, of a panel where both are one.
    return role if bars and role in ("neutral", "ground") and _same_bar(part) else next(iter(bars), "none")


def _same_bar(part: Part) -> bool:
    return any(element.one[0] == "bar" and element.two[0] == "bar" for _, _, element in part.fixed)


class _Maker:
    """Makes changes out of their words. A change is given once for each place where it can be."""

    def __init__(self, part: Part) -> None:
        self.part = part
        self.usual: dict[str, Any] = data("faults")["usual"]
        self.joined = 1.0 / self.usual["joined_ohms"]
        self.legs = {node[1]: number for node, number in part.number.items() if node[0] == "leg"}
        self.hot_legs = tied(part, part.roles["hot"]).legs if "hot" in part.roles else frozenset()

    def made(self, condition: Condition, changes: tuple[str, ...]) -> Iterator[Instance]:
        """Instances of one list of changes: every combination of the places of each change."""
        options = []
        for change in changes:
            places = list(self._places(change, alone=len(changes) == 1))
            if not places:
                return
            options.append(places)
        for combination in itertools.product(*options):
            if _clash(combination):
                continue
            wires: list[tuple[Stamp, ...]] = [()]
            for one in combination:
                wires = [(*before, *version) for before in wires for version in one.wires]
            made = Instance(
                condition,
                tuple(wires),
                tuple(stamp for one in combination for stamp in one.supply),
                tuple(dict.fromkeys(tag for one in combination for tag in one.tags)),
                frozenset(role for one in combination for role in one.roles),
                frozenset(pole for one in combination for pole in one.opened),
                tuple(feed for one in combination for feed in one.feeds),
                any(one.service for one in combination),
                tuple(one.roles for one in combination),
            )
            if any(wires) or made.supply:
                yield made

    def _places(self, change: str, *, alone: bool) -> Iterator[_Change]:
        words = change.split(" ")
        match words:
            case ["open", "shared", role]:
                yield from (
                    self._open(role, branch) for branch in self._branches(role) if len(returning(self.part, branch)) > 1
                )
            case ["open", role]:
                yield from self._opened(role, alone)
            case ["swap", one, two]:
                yield from self._swapped(one, two)
            case ["join", one, two]:
                yield from self._joined(one, two)
            case ["high", "resistance", role]:
                yield from (self._bad(role, branch) for branch in self._branches(role))
            case ["feed", role, "from", "other", "leg"]:
                yield from self._fed(
                    role, [leg for leg in self.legs if leg not in self.hot_legs] if self.hot_legs else []
                )
            case ["feed", role]:
                yield from self._fed(role, list(self.legs))
            case ["breaker", "off"]:
                yield from self._poles(1)
            case ["pole", "open"]:
                yield from self._poles(2)
            case ["move", "to", "other", "leg"]:
                yield from self._moved()
            case ["service", "neutral", "open"]:
                yield from self._service(())
            case ["service", "neutral", "high", "resistance"]:
                yield from self._service(data("faults")["high_resistance"])
            case _:
                raise ValueError(f"{change!r} is no change that can be made")

    def _branches(self, role: str) -> list[Branch]:
        return [one for one in self.part.paths.get(role, ()) if isinstance(one, Branch)]

    # -- openings

    def _opened(self, role: str, alone: bool) -> Iterator[_Change]:
        if role not in self.part.roles:
            return
        branches = self._branches(role)
        if not alone and role in ("neutral", "ground") and len(branches) < len(self.part.paths[role]):
            return  # it leads to a breaker as recorded
        if not branches and not alone:
            yield _Change(roles=frozenset((role,)))  # open as recorded
        for branch in branches:
            if alone and role == "neutral" and len(returning(self.part, branch)) > 1:
                continue  # has a name of its own
            yield self._open(role, branch)

    def _open(self, role: str, branch: Branch) -> _Change:
        return _Change(
            (((branch.one, branch.two, -1.0 / branch.ohms),),), (), branch.tags, frozenset((role,)), branches=(branch,)
        )

    def _bad(self, role: str, branch: Branch) -> _Change:
        versions = tuple(
            ((branch.one, branch.two, 1.0 / (branch.ohms + more) - 1.0 / branch.ohms),)
            for more in data("faults")["high_resistance"]
        )
        return _Change(versions, (), branch.tags, frozenset((role,)))

    def _service(self, more: Iterable[float]) -> Iterator[_Change]:
        for one, two, element in self.part.service:
            assert element.kind == SERVICE
            ohms = float(element.ohms or 1.0)
            left = [1.0 / (ohms + extra) for extra in more] or [0.0]
            yield _Change(
                tuple(((one, two, siemens - 1.0 / ohms),) for siemens in left), (), element.tags, frozenset((EVERY,)),
                service=True,
            )  # fmt: skip

    # -- crossings and joints

    def _swapped(self, one: str, two: str) -> Iterator[_Change]:
        firsts, seconds = self._ways(one), self._ways(two)
        for first, down, up in firsts:
            for second, low, high in seconds:
                cables = first.cables & second.cables
                contacts = not first.cables and not second.cables  # both of the device that was read
                if first is second or up == high or down == low or not (cables or contacts):
                    continue
                stamps = (
                    (down, up, -1.0 / first.ohms), (low, high, -1.0 / second.ohms),
                    (down, high, 1.0 / second.ohms), (low, up, 1.0 / first.ohms),
                )  # fmt: skip
                tags = (*self._here(down), *sorted(cables))
                yield _Change((stamps,), (), tags, frozenset((one, two)), branches=(first, second))

    def _ways(self, role: str) -> list[tuple[Branch, int, int]]:
        """The branches from a terminal to the supply, each with its near and its far node."""
        at = self.part.roles.get(role, -2)
        found = []
        for branch in self.part.paths.get(role, ()):
            if not isinstance(branch, Branch):
                bus, pole, _ = self.part.poles[branch]
                at = bus if at == pole else pole
                continue
            if at not in (branch.one, branch.two):  # beyond a switch or a main
                at = branch.one
            near, far = (branch.one, branch.two) if at == branch.one else (branch.two, branch.one)
            found.append((branch, near, far))
            at = far
        return found

    def _joined(self, one: str, two: str) -> Iterator[_Change]:
        first, second = self.part.roles.get(one), self.part.roles.get(two)
        if first is not None and second is not None and first != second:
            tags = self._here(first) or self._here(second)
            yield _Change((((first, second, self.joined),),), (), tags, frozenset((one, two)))

    def _here(self, number: int) -> tuple[str, ...]:
        """The device, joint or box at a node, when it is one that was read or a terminal of the place."""
        found = {node[0]: node[1] for node, at in self.part.number.items() if at == number}
        return next(((found[sort],) for sort in ("terminal", "joint", "box") if sort in found), ())

    # -- breakers and feeds

    def _poles(self, least: int) -> Iterator[_Change]:
        done: set[object] = set()
        for role in ("hot", "hot_2"):
            for position in self.part.paths.get(role, ()):
                if isinstance(position, Branch):
                    continue
                breaker = self.part.poles[position][2].item
                poles = [
                    n for n, held in enumerate(self.part.poles) if held[2].item is breaker and breaker is not None
                ] or [position]
                if (breaker or position) in done or len(poles) < least:
                    continue
                done.add(breaker or position)
                for opened in [[one] for one in poles] if least > 1 else [poles]:
                    yield self._without(opened, role)

    def _without(self, positions: list[int], role: str) -> _Change:
        held = [self.part.poles[position] for position in positions]
        stamps = tuple(
            (bus, pole, -1.0 / float(element.ohms or 1.0)) for bus, pole, element in held if self.part.closed(element)
        )
        tags = tuple(tag for _, _, element in held for tag in element.tags)
        return _Change(((),), stamps, tags, frozenset(("hot", role)), opened=frozenset(positions))

    def _moved(self) -> Iterator[_Change]:
        """A breaker of one pole whose leg is not certain, on another leg."""
        for role in ("hot", "hot_2"):
            for position in self.part.paths.get(role, ()):
                if isinstance(position, Branch):
                    continue
                bus, pole, element = self.part.poles[position]
                if element.item is None or element.item.data["legs"].kind == EXACT:
                    continue
                siemens = 1.0 / float(element.ohms or 1.0)
                for leg in self.legs:
                    other = self.part.number.get(("bus", element.one[1], leg))
                    if other is not None and other != bus:
                        stamps = ((bus, pole, -siemens), (other, pole, siemens))
                        yield _Change(((),), stamps, element.tags, frozenset((role,)), opened=frozenset((position,)),
                                      feeds=((other, pole, siemens),))  # fmt: skip

    def _fed(self, role: str, legs: Iterable[str]) -> Iterator[_Change]:
        node = self.part.roles.get(role)
        if node is None:
            return
        for leg in legs:
            stamp = self.legs[leg], node, self.joined
            yield _Change(((),), (stamp,), self._here(node), frozenset((role,)), feeds=(stamp,))


@dataclass(frozen=True, slots=True)
class _Change:
    """One primitive change at one place; fields as those of `Instance`, and the branches it takes away."""

    wires: tuple[tuple[Stamp, ...], ...] = ((),)
    supply: tuple[Stamp, ...] = ()
    tags: tuple[str, ...] = ()
    roles: frozenset[str] = frozenset()
    opened: frozenset[int] = frozenset()
    feeds: tuple[tuple[int, int, float], ...] = ()
    service: bool = False
    branches: tuple[Branch, ...] = ()


def _clash(combination: Iterable[_Change]) -> bool:
    """Whether two of the changes take the same branch away."""
    taken = [id(branch) for one in combination for branch in one.branches]
    return len(taken) != len(set(taken))


def returning(part: Part, branch: Branch) -> dict[str, list[Any]]:
    """Loads whose way back is cut when a branch opens, by the breaker pole on their other side."""
    cut = _beyond(part, branch)
    poles: dict[int, str] = {pole: element.tags[0] for _, pole, element in part.poles}
    found: dict[str, list[Any]] = {}
    for load in part.loads:
        inside = [node for node in load[:2] if node in cut]
        if len(inside) == 1:
            other = next(node for node in load[:2] if node not in cut)
            for pole in reached(part, other) & poles.keys():
                found.setdefault(poles[pole], []).append(load)
    return found


def _beyond(part: Part, branch: Branch) -> set[int]:
    """Nodes on the side of a branch that no longer leads to the supply when it opens; empty when both do."""
    ends = {number for node, number in part.number.items() if node[0] in ("bar", "bus", "leg", "star", "pole")}
    for start in (branch.one, branch.two):
        beyond = reached(part, start, without=branch)
        if not beyond & ends:
            return beyond
    return set()
