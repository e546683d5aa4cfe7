"""Fault protection: which devices are covered by a ground-fault or arc-fault protective device, and by which.

Nothing is taken to protect, or not to, unless the record says so: a breaker
whose face nobody read leaves the answer open. Things that are never made with
such protection, such as fuses and lampholders, need no entry.
"""

from __future__ import annotations

from collections.abc import Iterable

from asfound.record.context import derived
from asfound.record.facts import EXACT, LISTED, NOT_RECORDED, UNSEEN, WEAK, Fact, Item, exact, unseen
from asfound.trace.nets import Net, Terminal, groups_of

PROTECTS = {"ground-fault": ("ground-fault", "dual"), "arc-fault": ("arc-fault", "dual")}
"""By what is protected against, the words of built-in protection that do it."""
_SUPPLY = ("hot", "hot_2", "line", "line_2", "common")
_FUSES = {"plug fuse", "type S fuse", "cartridge fuse"}
_MADE_WITH_IT = {"duplex receptacle", "single receptacle"}
_MAY = ((True,), (True, False), (False, True), (None,))


class Guard:
    """What one sort of fault protection covers: by the device itself, by one that feeds it on, or by its breaker.

    A way from a breaker that leads through no protective device leaves a net
    without protection, whatever other ways there are. Two walks over all nets
    are enough: past all but the devices that protect for certain, and past
    none that may.
    """

    def __init__(
        self, nets: list[Net], items: list[Item], by_terminal: dict[Terminal, Net], devices: Iterable[Item], sort: str
    ) -> None:
        self.nets = nets
        self.items = items
        self.by_terminal = by_terminal
        self.words = PROTECTS[sort]
        self.own = {device: self._built_in(device) for device in devices}
        self.not_surely = self._walk(((True,),))
        self.surely_not = self._walk(_MAY)
        self.chains: dict[Item, Fact] = {}
        self.by_list: dict[int, Fact] = {}  # by the `id` of a list of breakers, which nets share

    def of_device(self, device: Item) -> Fact:
        """Whether the device is protected: yes, no, in doubt, or not seen with the reason."""
        nets = [self.by_terminal[device, name] for name in _SUPPLY if (device, name) in self.by_terminal]
        supply = _every(map(self._of_net, nets)) if nets else unseen("nothing is recorded on its live terminals")
        return _either((self.own[device], supply))

    def _of_net(self, net: Net) -> Fact:
        """Whether every way to the net is protected."""
        fed: Fact = self.items[net.number].data["fed_by"]
        if fed.kind is not EXACT or not fed.value:
            return unseen("it is not traced to its breaker", place=fed.place)
        if net.number not in self.not_surely:
            return exact(True, note="every way to it leads through a device that protects what it feeds on")
        parts = [self._chains(fed.value)]
        gate = self.not_surely[net.number]
        if gate is not None and net.number not in self.surely_not:
            parts.append(self.own[gate])
        return _either(parts)

    def _chains(self, breakers: tuple[Item, ...]) -> Fact:
        """Whether all of these breakers protect; asked once for nets that the same breakers reach."""
        held = self.by_list.get(id(breakers))
        if held is None:
            held = self.by_list[id(breakers)] = _every(map(self._chain, breakers))
        return held

    def _chain(self, breaker: Item) -> Fact:
        """Whether the breaker, or one ahead of its panel, protects what it feeds."""
        if breaker not in self.chains:
            ahead = {breaker: None}
            queue = [breaker]
            for one in queue:
                new = [feeder for feeder in one.data["panel"].data["feeder"] if feeder not in ahead]
                ahead.update(dict.fromkeys(new))
                queue += new
            self.chains[breaker] = _either(map(self._built_in, ahead))
        return self.chains[breaker]

    def _built_in(self, item: Item) -> Fact:
        """Whether protection is built in and, where its test button was pressed, works."""
        held = item.data.get("protection", NOT_RECORDED)
        name = f"breaker {item.tag}" if item.kind == "breaker" else item.tag
        if not held.values:
            if _never_protects(item):
                return exact(False, note=f"no such protection is built into {name}", place=item.place)
            return unseen(f"fault protection of {name}: {held.note}", place=item.place)
        built = derived(held, lambda value: value in self.words, "")
        built.note_source = f"fault protection of {name}: {held.written or ' or '.join(held.values)}"
        button = item.data.get("test_button", NOT_RECORDED)
        if built.values == (False,) or "does not trip" not in button.values:
            return built
        works = derived(button, lambda value: value != "does not trip", "")
        works.note_source = f"{name} does not trip at its test button"
        return _every((built, works))

    def _walk(self, blocked: tuple[tuple[bool | None, ...], ...]) -> dict[int, Item | None]:
        """Nets that a breaker reaches past no device of these states, with the last one passed that may protect."""
        found: dict[int, Item | None] = {net.number: None for net in self.nets if net.poles}
        queue = list(found)
        for number in queue:
            for edge in self.nets[number].edges:
                gate = found[number]
                if any("feed" in group for group in groups_of(edge.device)):
                    state = self.own[edge.device].values or (None,)
                    if state in blocked:
                        continue
                    gate = gate if state == (False,) else edge.device
                if edge.to not in found:
                    found[edge.to] = gate
                    queue.append(edge.to)
        return found


def _never_protects(item: Item) -> bool:
    """Whether such a thing is not made with fault protection: a fuse, a two-slot receptacle, a load, a switch."""
    kinds = set(item.data.get("kind", NOT_RECORDED).values)
    if item.kind == "breaker" or not kinds:
        return bool(kinds) and kinds <= _FUSES
    return not kinds & _MADE_WITH_IT or item.data.get("slots", NOT_RECORDED).values == (2,)


def _either(facts: Iterable[Fact]) -> Fact:
    """Whether one of them holds; not seen when that hangs on one that was not seen."""
    return _joined(list(facts), True)


def _every(facts: Iterable[Fact]) -> Fact:
    """Whether all of them hold; not seen when that hangs on one that was not seen."""
    return _joined(list(facts), False)


def _joined(facts: list[Fact], decides: bool) -> Fact:
    """The surest fact that decides alone, else what all of them leave open."""
    alone = [fact for fact in facts if fact.values == (decides,)]
    if alone:
        return min(alone, key=lambda fact: fact.kind is not EXACT)
    opened = [fact for fact in facts if fact.kind is not EXACT]
    for fact in opened:
        if fact.kind is UNSEEN:
            return fact
    if len(opened) < 2:
        return (opened or facts)[0]
    stated = decides if any(fact.value is decides for fact in opened) else not decides
    both = any(
        decides in fact.values for fact in opened
    )  # none of them is bound to decide, so it can come out otherwise
    first = opened[0]
    kind = LISTED if all(fact.kind is LISTED for fact in opened) else WEAK
    return first.restated(kind, (stated, not stated) if both else (stated,))
