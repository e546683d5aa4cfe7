"""From nets to circuits: what each breaker reaches, and what each conductor does.

Colour is a clue, not a function: a conductor joined to a breaker is ungrounded
whatever its colour, and only where no connection decides is the function taken
from the terminals it lands on or from its colour, as a weak fact. What nobody
traced stays doubtful in everything that follows from it.
"""

from __future__ import annotations

import gc
import math
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, field, replace
from typing import Any

from asfound.data import data
from asfound.record.build import Record
from asfound.record.colours import colour_of, is_ground
from asfound.record.facts import ASSUMED, EXACT, WEAK, Fact, Item, exact, unseen
from asfound.trace.legs import measure_legs
from asfound.trace.log import Step, steps
from asfound.trace.nets import LIVE, Net, Pole, build_nets, by_tag, groups_of, pole_order
from asfound.trace.reach import Reach, Traced
from asfound.trace.relations import entries, relate
from asfound.trace.said import claimed
from asfound.trace.sources import Contradiction, Known, Source, gather, source_of
from asfound.trace.state import States, replay
from asfound.wording import joined, quoted_list

TERMINAL_ROLES = {
    "hot": "ungrounded", "hot_2": "ungrounded", "line": "ungrounded", "line_2": "ungrounded", "common": "ungrounded",
    "load_hot": "ungrounded", "load": "switched", "load_2": "switched", "traveller_1": "traveller",
    "traveller_2": "traveller", "traveller_3": "traveller", "traveller_4": "traveller",
    "neutral": "grounded", "load_neutral": "grounded", "ground": "grounding",
}  # fmt: skip
_SUPPLIED = ("line", "line_2", "common", "traveller_1", "traveller_2", "traveller_3", "traveller_4")
_NO_UNKNOWN_FEED = exact(False, note="no test shows one")
MAX_CANDIDATES = 20
"""Breakers, or sets of them, that a doubtful fact still lists: the spaces of a large panel. Beyond, it is not seen."""


@dataclass(slots=True)
class Installation:
    """The traced record. `items` holds every item by kind; `poles` reaching a net are by its number.

    `log` is the log with the position of every breaker, `sources` what feeds
    each net that was tested or is not traced, by its item, and `states` how
    every conductor stood at each step.
    """

    record: Record
    items: dict[str, list[Item]] = field(default_factory=dict)
    nets: list[Net] = field(default_factory=list)
    poles: list[tuple[Pole, ...]] = field(default_factory=list)
    log: list[Step] = field(default_factory=list)
    sources: dict[Item, Source] = field(default_factory=dict)
    states: States = field(default_factory=States)
    _by_tag: dict[str, dict[str, Item]] = field(default_factory=dict, repr=False)

    @property
    def contradictions(self) -> list[Contradiction]:
        """Every set of statements of the record that cannot all be true, in order of nets."""
        return [found for source in self.sources.values() for found in source.contradictions]

    def item(self, kind: str, tag: str) -> Item:
        """The item of this kind and tag. Raises `KeyError`."""
        if kind not in self._by_tag:
            self._by_tag[kind] = {item.tag: item for item in self.items.get(kind, ())}
        try:
            return self._by_tag[kind][tag]
        except KeyError:
            raise KeyError(f"{kind} {tag}") from None


def trace(record: Record) -> Installation:
    """Trace `record`. Its items gain their traced facts; run it once for a record."""
    collecting = gc.isenabled()
    gc.disable()  # nearly all that is made here stays, and looking it over again and again would take half the time
    try:
        return _Tracer(record).run()
    finally:
        if collecting:
            gc.enable()


class _Tracer:
    def __init__(self, record: Record) -> None:
        self.record = record
        self.nets, self.net_of, self.by_terminal = build_nets(record)
        self.reach = Reach(record, self.nets, self.by_terminal)
        self.items = [_net_item(net) for net in self.nets]
        self.log = steps(record)
        measure_legs(record, self.log)
        self.tests = gather(record, self.log, self.nets, self.net_of, self.by_terminal, self.reach)
        self.claims = claimed(record, self.net_of, self.by_terminal)
        self.lists: dict[int, tuple[tuple[Pole, ...], tuple[Item, ...]]] = {}  # poles and their breakers, by `id`
        self.loose = self._loose_breakers()
        self.is_loose = set(self.loose)
        self.loose_lists = tuple((breaker,) for breaker in self.loose[: MAX_CANDIDATES + 1])
        self.strays: dict[int, Fact] = {}
        self.of_group: dict[int, Source] = {}
        self.untested: Source | None = None
        self.members: dict[int, list[int]] = {}  # nets by group
        for net in self.nets:
            self.members.setdefault(self.reach.group[net.number], []).append(net.number)
        self.sources: dict[Item, Source] = {}
        self.passed: dict[Item, dict[Item, None]] = {}  # boxes that a cable goes through uncut
        for box in record.boxes.values():
            for conductor in (*box.data["passing"], *box.data["looped"]):
                self.passed.setdefault(conductor.data["cable"], {})[box] = None

    def run(self) -> Installation:
        self._sort_related()
        self._net_items()
        self._meetings()
        self._conductors()
        terminals = self._devices()
        self._returns(terminals)
        self._boxes()
        circuits = self._circuits()
        record = self.record
        nets_under = {terminal: self.items[net.number] for terminal, net in self.by_terminal.items()}
        more = relate(Traced(record, self.nets, self.items, self.reach, self.by_terminal, self.log))
        told = replay(record, self.log, nets_under)
        return Installation(
            record=record,
            items={
                "site": [record.site], "panel": [*record.panels.values()], "breaker": [*record.breakers.values()],
                "cable": [*record.cables.values()], "conductor": record.conductors, "end": record.ends,
                "box": [*record.boxes.values()], "joint": [*record.joints.values()],
                "device": [*record.devices.values()], "terminal": terminals, "net": self.items,
                "circuit": circuits, "claim": told.claims, "reading": record.readings,
                "entry": entries(record, told.lacking), "contradiction": self._contradictions(),
                **more,
            },
            nets=self.nets,
            poles=self.reach.poles,
            log=self.log,
            sources=self.sources,
            states=told.states,
        )  # fmt: skip

    def _contradictions(self) -> list[Item]:
        """One item for each set of statements that cannot all be true; its readings are told of it as well."""
        found = []
        for source in self.sources.values():
            for one in source.contradictions:
                item = Item("contradiction", f"{one.kind}, {one.net.tag}", one.net.words, one.net.place)
                statements = exact(one.statements, note="the smallest set found that cannot all be true")
                item.data.update(
                    kind=exact(one.kind), statements=statements, readings=one.readings,
                    conductors=one.net.data["conductors"], breakers=one.net.data["fed_by"],
                )  # fmt: skip
                found.append(item)
                for reading in one.readings:
                    reading.data["against"] = statements
        return found

    def _sort_related(self) -> None:
        """Put what boxes and joints hold in order of tags: where a rule stops shall not hang on the file."""
        for joint in self.record.joints.values():
            joint.data["conductors"] = tuple(by_tag(joint.data["conductors"]))
        for box in self.record.boxes.values():
            for name in ("conductors", "passing", "looped", "cables", "joints", "devices"):
                box.data[name] = tuple(by_tag(box.data[name]))

    # -- what a net does

    def _net_items(self) -> None:
        for net in self.nets:
            item = self.items[net.number]
            fed_by = self._fed_by(net)
            item.data.update(
                function=self._function(net),
                conductors=tuple(net.conductors),
                boxes=tuple(net.boxes),
                joints=tuple(net.joints),
                breakers=exact(self._breakers(tuple(net.poles)), note=self._reason(net), label="breaker"),
                fed_by=fed_by,
                grounding_conductors=tuple(c for c in net.conductors if is_ground(c)),
                on_neutral_bar=exact(any(bar == "neutral bar" for _, bar in net.bars), note="as traced"),
                on_ground_bar=exact(any(bar == "ground bar" for _, bar in net.bars), note="as traced"),
                fully_traced=exact(not net.open, note=lambda net=net: _open_words(net)),
                metal_parts=exact(_metal(net), note="as traced"),
            )

    def _breakers(self, poles: tuple[Pole, ...]) -> tuple[Item, ...]:
        """The breakers of these poles, each once; the same object for the same object."""
        held = self.lists.get(id(poles))
        if held is None:
            held = poles, tuple(dict.fromkeys(self.record.poles[pole][0] for pole in poles))
            self.lists[id(poles)] = held
        return held[1]

    def _meetings(self) -> None:
        """Mark where breakers meet: every net solidly on two, and of the others one for each further meeting."""
        shown: dict[int, list[set[Item]]] = {}  # breakers shown as meeting, by group
        for net in self.nets:
            item = self.items[net.number]
            solid = len(item.data["breakers"].value) > 1
            item.data["breakers_meet"] = self._meeting(net) if solid else exact(False, note=self._reason(net))
            if solid:
                fed = set(self._breakers(self.reach.poles[net.number]))
                shown.setdefault(self.reach.group[net.number], []).append(fed)
        done: set[tuple[int, int]] = set()
        for net in self.nets:
            group, poles = self.reach.group[net.number], self.reach.poles[net.number]
            if len(poles) < 2 or (group, id(poles)) in done or self.reach.through[net.number]:
                continue  # what is live only through loads joins nothing
            done.add((group, id(poles)))
            fed = set(self._breakers(poles))
            before = shown.setdefault(group, [])
            if len(fed) > 1 and not any(fed <= met for met in before):
                before.append(fed)
                self.items[net.number].data["breakers_meet"] = exact(True, note=self._reason(net))
        told: set[int] = set()
        for net in self.nets:
            item = self.items[net.number]
            source = self.sources.get(item)
            tested = source is not None and self._meet_by_test(net, source) and id(source.certain) not in told
            item.data["meet_by_test"] = exact(tested, note="as switching and testing shows" if tested else "as traced")
            if source is not None and tested:
                told.add(id(source.certain))
                note = f"{'; '.join(source.reasons)}"
                item.data["breakers_meet"] = exact(True, note=note)
            item.data["unknown_feed"] = (
                exact(source.unknown_feed, note="; ".join(source.reasons)) if source is not None else _NO_UNKNOWN_FEED
            )

    def _meet_by_test(self, net: Net, source: Source) -> bool:
        """Whether tests show two or more breakers on a net that the trace does not bring together."""
        reached = self._breakers(self.reach.poles[net.number])
        return len(source.certain) > 1 and not set(source.certain) <= set(reached)

    def _meeting(self, net: Net) -> Fact:
        if not net.doubtful_tabs:
            return exact(True, note=self._reason(net))
        tags = joined(device.tag for device in net.doubtful_tabs)
        note = f"only through the tab of {tags}, taken to be in place; nobody recorded that it is"
        return Fact(WEAK, (True, False), how="as the device is made", note=note)

    def _fed_by(self, net: Net) -> Fact:
        poles = self.reach.poles[net.number]
        if poles:
            reached = self._breakers(poles)
            if net.number in self.tests or net.number in self.claims:
                source = self.sources[self.items[net.number]] = self._reached(net)
                more = tuple(breaker for breaker in source.certain if breaker not in reached)
                if more:
                    note = f"{self._reason(net)()}; {'; '.join(source.reasons)}"
                    return exact((*reached, *more), note=note, label="breaker")
            return exact(reached, note=self._reason(net), label="breaker")
        if self.reach.stray(net.number):
            return self._stray(net)
        return exact((), note=self._reason(net), label="breaker")

    def _reached(self, net: Net) -> Source:
        """What feeds a net that breakers are traced to, by the trace and by tests."""
        closed = self.reach.group[net.number] not in self.reach.open_groups
        reached = self._breakers(self.reach.poles[net.number])
        how = f"{_first(net)}: {self._reason(net)()}"
        words = f"{how}; every end on the way is accounted for" if closed else how
        solid, claims = self._breakers(tuple(net.poles)), tuple(self.claims.get(net.number, ()))
        known = Known(self.items[net.number], words, solid, reached, () if closed else self.loose, closed, claims)
        return source_of(known, self.tests.get(net.number, ()))

    def _stray(self, net: Net) -> Fact:
        """The breakers that a group without a source can still hang on; one fact for the whole group."""
        group = self.reach.group[net.number]
        if group not in self.of_group:
            behind = self._breakers(tuple(sorted(self.reach.across.get(group, ()), key=pole_order)))
            self.of_group[group] = self._source_of_group(group, net, behind)
            self.strays[group] = self._stray_fact(self.of_group[group], behind)
        self.sources[self.items[net.number]] = replace(self.of_group[group], net=self.items[net.number])
        return self.strays[group]

    def _source_of_group(self, group: int, net: Net, behind: tuple[Item, ...]) -> Source:
        """What can feed a group that nothing is traced to.

        A net of it found live speaks for the group; one found dead only where it is the whole group, because a
        switch may stand between it and what feeds the others.
        """
        more = [breaker for breaker in behind[: MAX_CANDIDATES + 1] if breaker not in self.is_loose]
        can = (*self.loose, *dict.fromkeys(more)) if more else self.loose
        numbers = self.members.get(group, ())
        seen = [one for number in numbers for one in self.tests.get(number, ()) if one.live or len(numbers) == 1]
        claims = tuple(claim for number in numbers for claim in self.claims.get(number, ()))
        words = f"{_first(net)}: {self._reason(net)()}"
        item = self.items[net.number]
        if more or seen or claims:
            return source_of(Known(item, words, (), (), can, False, claims), seen)
        if self.untested is None:  # the same for all of which nothing is known, and in a large building they are many
            self.untested = source_of(Known(item, words, (), (), can, False, ()), ())
        test = self.untested.test
        return replace(self.untested, net=item, test=test and replace(test, at=item))

    def _stray_fact(self, source: Source, behind: tuple[Item, ...]) -> Fact:
        why = "not traced to the panel"
        if source.certain:
            note = f"{why}; {'; '.join(source.reasons)}"
            kind = EXACT if source.decided else ASSUMED
            return Fact(kind, (source.certain,), written="by switching and testing", note=note, label="breaker")
        if source.tested:
            can = tuple((breaker,) for breaker in source.singles)
        else:
            more = dict.fromkeys(breaker for breaker in behind[: MAX_CANDIDATES + 1] if breaker not in self.is_loose)
            can = (*self.loose_lists, *((breaker,) for breaker in more)) if more else self.loose_lists
        if 0 < len(can) <= MAX_CANDIDATES:
            told = (
                "; ".join(source.reasons)
                if source.tested
                else "these breakers have wiring that is not traced to its end"
            )
            return Fact(ASSUMED, can, written=why, note=f"{why}; {told}", label="breaker")
        if source.tested and not can:
            return unseen(f"{why}; no single breaker explains all readings", label="breaker")
        many = f"; more than {MAX_CANDIDATES} breakers are not traced either" if can else ""
        return unseen(f"{why}{many}", label="breaker")

    def _loose_breakers(self) -> tuple[Item, ...]:
        """Breakers with a pole that has no recorded wire, or whose wiring can go on to what nobody recorded."""
        landed = {pole for net in self.nets if net.conductors for pole in net.poles}
        spare = self.record.spare
        loose = {
            pole: None
            for pole, (breaker, _) in self.record.poles.items()
            if pole not in landed and breaker.tag not in spare
        }
        for poles in dict.fromkeys(self.reach.poles[net.number] for net in self.nets if net.open):
            loose.update(dict.fromkeys(poles))
        return self._breakers(tuple(sorted(loose, key=pole_order)))

    def _function(self, net: Net) -> Fact:
        """What the net does: by connection when that decides, else weakly by terminals, else by colour."""
        reach, number = self.reach, net.number
        bars = {bar for _, bar in net.bars}
        only_grounds = bool(net.conductors) and all(is_ground(c) for c in net.conductors)
        lands_neutral = any(name in ("neutral", "load_neutral") for _, name in net.terminals)
        function = ""
        if net.poles or any(bar.startswith("lug") for bar in bars):
            function = "ungrounded"
        elif "neutral bar" in bars and (lands_neutral or not only_grounds):
            function = "grounded"
        elif bars:
            function = "grounded" if lands_neutral else "grounding"
        elif reach.direct[number] or reach.through[number]:
            function = "ungrounded"
        elif reach.grounded[number] is False:
            function = "grounded"
        elif reach.poles[number]:
            function = "traveller" if _between_switches(net) else "switched"
        elif reach.stray(number):
            return self._weak_function(net)
        else:
            function = "grounded" if reach.grounded[number] else "isolated"
        return exact(function, note=self._reason(net), label="function")

    def _weak_function(self, net: Net) -> Fact:
        live = [seen for seen in self.tests.get(net.number, ()) if seen.live]
        if live:
            note = f"{live[-1].words}; an opened neutral with a load on reads the same, and is as live"
            return exact("ungrounded", note=note, label="function")
        roles = dict.fromkeys(TERMINAL_ROLES[name] for _, name in net.terminals)
        if _between_switches(net):
            roles = {"traveller": None}
        elif "ungrounded" in roles or "switched" in roles:
            roles.pop("traveller", None)
        colours = list(dict.fromkeys(filter(None, map(colour_of, net.conductors))))
        suggested = [role for conductor in net.conductors for colour in _colours(conductor) for role in _roles(colour)]
        if len(roles) == 1:
            stated, how = next(iter(roles)), "terminal it lands on"
        elif colours:
            usual = [_roles(colour)[0] for colour in colours]
            stated = next((role for role in ("ungrounded", "grounded", "grounding") if role in usual), usual[0])
            how = "insulation colour"
        else:
            return unseen("not traced, and its colour was not seen", label="function")
        values = tuple(dict.fromkeys([stated, *roles, *suggested]))
        note = f"not traced to a source; taken from the {how}"
        written = " and ".join(colours) if how == "insulation colour" else how
        return Fact(WEAK, values, written=written, how=how, note=note, label="function")

    def _reason(self, net: Net) -> Callable[[], str]:
        """How the facts of a net came about, put into words only when somebody asks."""

        def words() -> str:
            reach, number = self.reach, net.number
            if net.poles:
                return f"joined to breaker {_pole_words(net.poles)}{_via(net)}"
            if net.bars:
                return f"lands on {joined(f'{bar} of panel {panel}' for panel, bar in net.bars)}{_via(net)}"
            if reach.through[number]:
                loads = quoted_list((device.tag for device in reach.through[number]), 4)
                poles = _pole_words(reach.poles[number])
                return f"no way to a bar; reached from breaker {poles} through the load {loads}"
            devices = quoted_list(dict.fromkeys(edge.device.tag for edge in net.edges), 4)
            if reach.poles[number]:
                return f"reached from breaker {_pole_words(reach.poles[number])} through {devices}"
            if reach.grounded[number] is not None and not reach.stray(number):
                return f"reached from a neutral bar through {devices}"
            if not reach.stray(number):
                return "every end is accounted for and none leads to a breaker or a bar"
            return _open_words(net)

        return words

    # -- facts of conductors, devices and boxes

    def _conductors(self) -> None:
        supplied = {net.number for net in self.nets if any(name in _SUPPLIED for _, name in net.terminals)}
        for conductor in self.record.conductors:
            net = self.net_of[conductor]
            item = self.items[net.number]
            conductor.data["net"] = item
            conductor.data["function"] = item.data["function"]
            by_colour = item.data["function"].how == "insulation colour"
            conductor.data["by_colour_only"] = exact(by_colour, note="as traced")
            conductor.data["breakers"] = item.data["fed_by"]
            colour = conductor.data.get("colour")
            if isinstance(colour, Fact) and colour.values:
                suggested = tuple(dict.fromkeys(_roles(value)[0] for value in colour.values))
                conductor.data["colour_role"] = colour.restated(colour.kind, suggested)
            function = item.data["function"]
            if net.number not in supplied:
                conductor.data["switch_supply"] = exact(False, note="as traced")
            elif function.values:
                supplies = tuple(dict.fromkeys(value in ("ungrounded", "traveller") for value in function.values))
                conductor.data["switch_supply"] = Fact(function.kind, supplies, note="as traced")

    def _devices(self) -> list[Item]:
        """Give every device its terminals and what feeds it; all terminals, device by device."""
        used: dict[Item, list[str]] = {}
        for device, name in self.by_terminal:
            used.setdefault(device, []).append(name)
        every: list[Item] = []
        for device in self.record.devices.values():
            terminals, live = [], []
            for name in sorted(used.get(device, ()), key=_TERMINAL_ORDER.index):
                item = Item("terminal", f"{device.tag} {name}", f"{name} of {device.words}", device.place)
                conductors = tuple(by_tag(self.record.terminals.get((device.tag, name), ())))
                item.data.update(name=name, device=device, conductors=conductors)
                terminals.append(item)
                if TERMINAL_ROLES[name] in LIVE:
                    live.append(self.items[self.by_terminal[device, name].number].data["fed_by"])
            device.data["terminals"] = tuple(terminals)
            device.data["conductors"] = tuple(c for terminal in terminals for c in terminal.data["conductors"])
            device.data["breakers"] = _together(live) if live else unseen("nothing is recorded on its live terminals")
            every += terminals
        return every

    def _returns(self, terminals: list[Item]) -> None:
        """For each net its terminals, and the breakers whose loads return on it."""
        returned: list[list[Fact]] = [[] for _ in self.nets]
        for device in self.record.devices.values():
            for hot, neutral in _loads(device):
                live, back = self.by_terminal.get((device, hot)), self.by_terminal.get((device, neutral))
                if live is not None and back is not None:
                    returned[back.number].append(self.items[live.number].data["fed_by"])
        made = {(terminal.data["device"], terminal.data["name"]): terminal for terminal in terminals}
        for net, item, facts in zip(self.nets, self.items, returned, strict=True):
            item.data["return_of"] = _together(facts, note="loads whose neutral lands on it")
            item.data["terminals"] = tuple(made[terminal] for terminal in net.terminals)

    def _boxes(self) -> None:
        """For each box the breakers of what is in it; what is live at most by a doubtful function is left out."""
        for box in self.record.boxes.values():
            held = (*box.data["conductors"], *box.data["passing"], *box.data["looped"])
            nets = {net.number for net in map(self.net_of.__getitem__, held)}
            facts = []
            for number in sorted(nets):
                fed_by, function = (self.items[number].data[name] for name in ("fed_by", "function"))
                if fed_by.kind is EXACT or not function.values or function.value in LIVE:
                    facts.append(fed_by)
            box.data["breakers"] = _together(facts)

    # -- circuits

    def _circuits(self) -> list[Item]:
        """One circuit for each breaker or set of tied breakers, in order of its first breaker in the file."""
        lists: dict[Pole, list[tuple[Pole, ...]]] = {}  # the lists of poles that each pole is in
        nets: dict[int, list[int]] = {}  # nets by the `id` of their list of poles
        for net in self.nets:
            poles = self.reach.poles[net.number]
            if id(poles) not in nets:
                for pole in poles:
                    lists.setdefault(pole, []).append(poles)
            nets.setdefault(id(poles), []).append(net.number)
        poles_of: dict[Item, list[Pole]] = {}
        for pole, (breaker, _) in self.record.poles.items():
            poles_of.setdefault(breaker, []).append(pole)
        parts: dict[tuple[int, ...], dict[str, Any]] = {}  # equal for all circuits that feed the same nets
        circuits: list[Item] = []
        done: set[Item] = set()
        for breaker in self.record.breakers.values():
            if breaker in done:
                continue
            together = [breaker]
            for one in together:  # ties of ties belong together too
                together += [other for other in one.data["tied_with"] if other not in together]
            done.update(together)
            tied = by_tag(together)
            tag = " and ".join(b.tag for b in tied)
            circuit = Item("circuit", tag, f"the circuit of {joined(b.words for b in tied)}", breaker.place)
            key = tuple(dict.fromkeys(id(held) for b in tied for pole in poles_of[b] for held in lists.get(pole, ())))
            if key not in parts:
                parts[key] = self._parts(sorted(number for one in key for number in nets[one]))
            held = dict(parts[key])
            count, loads = held.pop("receptacles"), held.pop("nameplate_loads")
            circuit.data.update(held, breakers=exact(tuple(tied), note="as traced"))
            circuits.append(circuit)
            open_ended = any(one in self.is_loose for one in tied)
            for one in tied:
                one.data.update(
                    circuits=(circuit,), devices=held["devices"], conductors=held["conductors"], nameplate_loads=loads,
                    receptacles=_count(count, open_ended),
                )  # fmt: skip
        return circuits

    def _parts(self, numbers: list[int]) -> dict[str, Any]:
        """What lies on these nets, by kind, with what is said of all of it."""
        conductors = {c: None for number in numbers for c in self.nets[number].conductors}
        devices = {device: None for number in numbers for device, _ in self.nets[number].terminals}
        cables = {c.data["cable"]: None for c in conductors}
        boxes = {box: None for cable in cables for box in (*cable.data["boxes"], *self.passed.get(cable, ()))}
        return {
            "nets": tuple(self.items[number] for number in numbers),
            "conductors": tuple(conductors), "cables": tuple(cables), "boxes": tuple(boxes), "devices": tuple(devices),
            "thinnest": _thinnest(tuple(conductors)),
            "receptacles": sum(max((g.get("receptacles", 0) for g in groups_of(d)), default=0) for d in devices),
            "nameplate_loads": tuple(d for d in devices if d.data["by_nameplate"].values[0]),
        }  # fmt: skip


def _net_item(net: Net) -> Item:
    first = _first(net)
    return Item("net", first, _net_words(net, first), net.conductors[0].place if net.conductors else None)


def _first(net: Net) -> str:
    """What the net is called by: its first conductor, else what it has."""
    if net.conductors:
        return str(net.conductors[0].tag)
    if net.poles:
        return " ".join(net.poles[0])
    if net.terminals:
        return f"{net.terminals[0][0].tag} {net.terminals[0][1]}"
    return str((net.boxes or net.joints)[0].tag)


def _net_words(net: Net, first: str) -> str:
    """Where to walk to: the joints of the net, else its first conductor."""
    if net.joints:
        more = f" and {len(net.joints) - 3} more joints" if len(net.joints) > 3 else ""
        return joined(joint.words for joint in net.joints[:3]) + more
    return str(net.conductors[0].words) if net.conductors else first


def _open_words(net: Net) -> str:
    if net.unknown_devices:
        return f"lands on a device nobody identified: {quoted_list((d.tag for d in net.unknown_devices), 4)}"
    if net.open_ends:
        return f"ends not accounted for: {quoted_list((end.tag for end in net.open_ends), 4)}"
    return "every end on it is accounted for"


def _pole_words(poles: Sequence[Pole]) -> str:
    listed = [" ".join(pole) for pole in poles[:8]]
    return joined(listed) if len(poles) <= 8 else f"{', '.join(listed)} and {len(poles) - 8} more"


def _via(net: Net) -> str:
    tags = [joint.tag for joint in net.joints]
    if not tags:
        return ""
    return f" by way of joints {quoted_list(tags, 4)}" if len(tags) > 1 else f" by way of joint {tags[0]}"


def _metal(net: Net) -> tuple[str, ...]:
    """Metal that is at the potential of the net. A box that may be metal counts."""
    said = {(False,): None, (True,): "the metal box {}"}
    boxes = [said.get(_values(box, "metal"), "the box {}, which may be metal") for box in net.boxes]
    parts = [words.format(box.words) for words, box in zip(boxes, net.boxes, strict=True) if words]
    parts += [f"{device.tag}: {device.data['metal_words']}" for device, name in net.terminals if name == "ground"]
    return tuple(dict.fromkeys(parts))


def _together(facts: Iterable[Fact], note: str = "as traced") -> Fact:
    """One list of breakers from several; what one of them leaves open stays open in the whole."""
    lists = list({id(fact.values[0]): fact.values[0] for fact in facts if fact.kind is EXACT}.values())
    known = lists[0] if len(lists) == 1 else tuple(dict.fromkeys(breaker for held in lists for breaker in held))
    doubtful = {id(fact): fact for fact in facts if fact.kind is not EXACT}
    if not doubtful:
        return exact(known, note=note, label="breaker")
    if math.prod(len(fact.values) for fact in doubtful.values()) in range(1, MAX_CANDIDATES + 1):
        can = {frozenset(known): known}
        for fact in doubtful.values():
            more = [tuple(dict.fromkeys((*one, *value))) for one in can.values() for value in fact.values]
            can = {frozenset(one): one for one in more}
        open_note = f"{note}; part of it is not traced to the panel"
        return Fact(ASSUMED, tuple(can.values()), written="not traced to the panel", note=open_note, label="breaker")
    if len(known) > 1:  # what is known is enough for most questions, and more can only be added
        return Fact(WEAK, (known,), how="traced in part", note=f"{note}; more can come by what is not traced")
    return unseen("part of it is not traced to the panel", label="breaker")


def _loads(device: Item) -> list[tuple[str, str]]:
    """Pairs of a live and a neutral terminal with a load between them; all there can be when the kind was not seen."""
    groups = groups_of(device)
    if not groups:
        return [(hot, neutral) for hot in TERMINAL_ROLES if TERMINAL_ROLES[hot] in LIVE for neutral in _NEUTRALS]
    pairs = [pair for group in groups for one, two in group.get("load", ()) for pair in ((one, two), (two, one))]
    return [(hot, neutral) for hot, neutral in dict.fromkeys(pairs) if neutral in _NEUTRALS and hot not in _NEUTRALS]


def _count(count: int, open_ended: bool) -> Fact:
    """Receptacles on a circuit; one more can hang on what is not traced to its end."""
    if not open_ended:
        return exact(count, note="as recorded on the traced circuit")
    note = "as recorded on the traced circuit; part of its wiring is not traced to its end"
    return Fact(WEAK, (count, count + 1), how="traced in part", note=note)


def _thinnest(conductors: tuple[Item, ...]) -> Fact:
    """The smallest conductor by recorded size; not seen when a size is missing or doubtful."""
    ladder = data("ways")["neighbours"]["gauge"]["ladder"]
    best: Item | None = None
    for conductor in conductors:
        size = conductor.data.get("gauge")
        if not isinstance(size, Fact) or size.kind is not EXACT or size.value not in ladder:
            return unseen(f"the size of {conductor.tag} is not certain")
        if best is None or ladder.index(size.value) < ladder.index(best.data["gauge"].value):
            best = conductor
    return exact(() if best is None else (best,), note="as traced")


def _values(item: Item, name: str) -> tuple[Any, ...]:
    fact = item.data.get(name)
    return fact.values if isinstance(fact, Fact) else ()


def _colours(conductor: Item) -> tuple[str, ...]:
    """Every colour that the conductor can have."""
    return _values(conductor, "colour")


def _roles(colour: str) -> list[str]:
    """What a colour suggests, the usual first."""
    by_colour = data("colour_roles")["roles"]
    roles: list[str] = by_colour.get(colour, by_colour["other"])
    return roles


def _between_switches(net: Net) -> bool:
    """Whether the net only joins travellers of switches."""
    return bool(net.terminals) and all(name.startswith("traveller") for _, name in net.terminals)


_TERMINAL_ORDER = list(TERMINAL_ROLES)
_NEUTRALS = ("neutral", "load_neutral")
