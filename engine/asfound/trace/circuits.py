"""From nets to circuits: what each breaker reaches, and what each conductor does.

Colour is a clue, not a function: a conductor joined to a breaker is ungrounded
whatever its colour, and only where no connection decides is the function taken
from the terminals it lands on or from its colour, as a weak fact.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Callable, Iterable
from dataclasses import dataclass, field
from typing import Any

from asfound.data import data
from asfound.record.build import Record
from asfound.record.facts import ASSUMED, WEAK, Fact, Item, exact, unseen
from asfound.trace.nets import Edge, Net, Pole, build_nets, group_of
from asfound.trace.proof import claims
from asfound.wording import joined, natural, quoted_list

MAX_JOINED = 8
"""Breakers reaching one group of nets that are still followed one by one; beyond it, each is taken to reach all."""

_TERMINAL_ROLES = {
    "hot": "ungrounded", "hot_2": "ungrounded", "line": "ungrounded", "line_2": "ungrounded", "common": "ungrounded",
    "load_hot": "ungrounded", "load": "switched", "load_2": "switched", "traveller_1": "traveller",
    "traveller_2": "traveller", "traveller_3": "traveller", "traveller_4": "traveller",
    "neutral": "grounded", "load_neutral": "grounded", "ground": "grounding",
}  # fmt: skip
_SUPPLIED = ("line", "line_2", "common", "traveller_1", "traveller_2", "traveller_3", "traveller_4")
_LIVE = ("ungrounded", "switched", "traveller")
_GROUND_COLOURS = ("bare", "green", "green/yellow")
_WHITE = ("white", "grey", "white/black", "white/red", "white/blue")


@dataclass(slots=True)
class Installation:
    """The traced record. `items` holds every item by kind, in file order; `reach` is by net number."""

    record: Record
    items: dict[str, list[Item]] = field(default_factory=dict)
    nets: list[Net] = field(default_factory=list)
    reach: list[dict[Pole, bool]] = field(default_factory=list)

    def item(self, kind: str, tag: str) -> Item:
        """The item of this kind and tag. Raises `KeyError`."""
        for item in self.items.get(kind, ()):
            if item.tag == tag:
                return item
        raise KeyError(f"{kind} {tag}")


def trace(record: Record) -> Installation:
    """Trace `record`. Its items gain their traced facts; run it once for a record."""
    return _Tracer(record).run()


class _Tracer:
    def __init__(self, record: Record) -> None:
        self.record = record
        self.nets, self.net_of = build_nets(record)
        self.reach: list[dict[Pole, bool]] = [{} for _ in self.nets]  # pole -> by a switch
        self.grounded: list[bool | None] = [None] * len(self.nets)  # from a neutral bar; True through a switch
        self.group: list[int] = list(range(len(self.nets)))
        self.items: list[Item] = []

    def run(self) -> Installation:
        self._groups()
        self._spread_breakers()
        self._spread_neutral()
        self._net_items()
        self._conductors()
        self._returns()
        self._places()
        circuits = self._circuits()
        record = self.record
        terminals = [terminal for device in record.devices.values() for terminal in device.data["terminals"]]
        return Installation(
            record=record,
            items={
                "site": [record.site], "panel": [*record.panels.values()], "breaker": [*record.breakers.values()],
                "cable": [*record.cables.values()], "conductor": record.conductors, "end": record.ends,
                "box": [*record.boxes.values()], "joint": [*record.joints.values()],
                "device": [*record.devices.values()], "terminal": terminals, "net": self.items,
                "circuit": circuits, "claim": claims(record), "reading": record.readings,
            },
            nets=self.nets,
            reach=self.reach,
        )  # fmt: skip

    # -- which breaker reaches which net

    def _groups(self) -> None:
        """Number the groups of nets that hang together through switches and protective devices."""
        seen = [False] * len(self.nets)
        for start in range(len(self.nets)):
            if seen[start]:
                continue
            seen[start] = True
            queue = [start]
            for number in queue:
                self.group[number] = start
                for edge in self.nets[number].edges:
                    if not seen[edge.to]:
                        seen[edge.to] = True
                        queue.append(edge.to)

    def _spread_breakers(self) -> None:
        poles: dict[int, list[tuple[Pole, int]]] = {}
        for net in self.nets:
            for pole in net.poles:
                poles.setdefault(self.group[net.number], []).append((pole, net.number))
        crowded = {group for group, found in poles.items() if len(found) > MAX_JOINED}
        for net in self.nets:
            if self.group[net.number] in crowded:
                for pole, start in poles[self.group[net.number]]:
                    self.reach[net.number][pole] = start != net.number
        for group, found in poles.items():
            if group not in crowded:
                for pole, start in found:
                    for number, by_switch in self._walk([start]).items():
                        self.reach[number][pole] = by_switch

    def _spread_neutral(self) -> None:
        starts = [net.number for net in self.nets if any(bar == "neutral bar" for _, bar in net.bars)]
        for number, by_switch in self._walk(starts).items():
            self.grounded[number] = by_switch

    def _walk(self, starts: list[int]) -> dict[int, bool]:
        """Nets reached from `starts`, and whether only through a switch.

        A switch joins its common to one traveller at a time, so a way never
        leaves a device by which it has just come. Each net is left at most twice.
        """
        found: dict[int, bool] = dict.fromkeys(starts, False)
        entered: dict[int, list[Item | None]] = {number: [None] for number in starts}
        queue: deque[tuple[int, Item | None, bool]] = deque((number, None, False) for number in starts)
        while queue:
            number, device, again = queue.popleft()
            for edge in self.nets[number].edges:
                if edge.device is device and edge.by_switch:
                    continue
                if again and edge.device is not entered[number][0]:
                    continue
                self._step(number, edge, found, entered, queue)
        return found

    def _step(
        self,
        number: int,
        edge: Edge,
        found: dict[int, bool],
        entered: dict[int, list[Item | None]],
        queue: deque[tuple[int, Item | None, bool]],
    ) -> None:
        by_switch = found[number] or edge.by_switch
        if edge.to not in found:
            found[edge.to] = by_switch
            entered[edge.to] = [edge.device]
            queue.append((edge.to, edge.device, False))
            return
        ways = entered[edge.to]
        if len(ways) == 1 and ways[0] is not None and ways[0] is not edge.device:
            ways.append(edge.device)
            queue.append((edge.to, edge.device, True))

    # -- what a net does

    def _net_items(self) -> None:
        for net in self.nets:
            first = self._first(net)
            item = Item(
                "net",
                first,
                self._net_words(net, first),
                net.conductors[0].place if net.conductors else None,
            )
            self.items.append(item)
            breakers = self._breakers(self.record.poles[pole][0] for pole in net.poles)
            fed_by = self._fed_by(net)
            item.data.update(
                function=self._function(net),
                conductors=tuple(net.conductors),
                boxes=tuple(net.boxes),
                joints=tuple(net.joints),
                breakers=exact(breakers, note=self._reason(net)),
                fed_by=fed_by,
                grounding_conductors=tuple(c for c in net.conductors if _colour(c) in _GROUND_COLOURS),
                on_neutral_bar=exact(any(bar == "neutral bar" for _, bar in net.bars), note="as traced"),
                on_ground_bar=exact(any(bar == "ground bar" for _, bar in net.bars), note="as traced"),
                fully_traced=exact(not net.open_ends, note=lambda net=net: self._open_words(net)),
                metal_parts=exact(self._metal(net), note="as traced"),
            )
        self._meetings()

    def _meetings(self) -> None:
        """Mark where breakers meet: nets solidly on two, or the first net of a group that only a switch joins."""
        solid = [len(item.data["breakers"].values[0]) > 1 for item in self.items]
        groups_solid = {self.group[number] for number, meets in enumerate(solid) if meets}
        taken: set[int] = set()
        for net, item in zip(self.nets, self.items, strict=True):
            group = self.group[net.number]
            fed = item.data["fed_by"].values
            meets = solid[net.number]
            if group not in groups_solid and group not in taken and len(fed) == 1 and len(fed[0]) > 1:
                meets = True
                taken.add(group)
            item.data["breakers_meet"] = exact(meets, note=self._reason(net))

    def _first(self, net: Net) -> str:
        if net.conductors:
            return str(min((conductor.tag for conductor in net.conductors), key=natural))
        if net.poles:
            return " ".join(net.poles[0])
        if net.terminals:
            return f"{net.terminals[0][0].tag} {net.terminals[0][1]}"
        return net.boxes[0].tag if net.boxes else str(net.joints[0].tag)

    @staticmethod
    def _net_words(net: Net, first: str) -> str:
        """Where to walk to: the joints of the net, else its first conductor."""
        if net.joints:
            more = f" and {len(net.joints) - 3} more joints" if len(net.joints) > 3 else ""
            return joined(joint.words for joint in net.joints[:3]) + more
        return str(net.conductors[0].words) if net.conductors else first

    def _open_words(self, net: Net) -> str:
        if not net.open_ends:
            return "every end on it is accounted for"
        return f"ends not accounted for: {quoted_list((end.tag for end in net.open_ends), 4)}"

    @staticmethod
    def _breakers(found: Iterable[Item]) -> tuple[Item, ...]:
        return tuple(dict.fromkeys(found))

    def _metal(self, net: Net) -> tuple[str, ...]:
        boxes = [
            f"the metal box {box.words}" for box in net.boxes if box.data.get("metal", _FALSE).values[:1] != (False,)
        ]
        parts = [
            f"{device.tag}: {device.data['metal_words']}" for device, terminal in net.terminals if terminal == "ground"
        ]  # fmt: skip
        return tuple(dict.fromkeys(boxes + parts))

    def _fed_by(self, net: Net) -> Fact:
        poles = self.reach[net.number]
        if poles:
            breakers = self._breakers(self.record.poles[pole][0] for pole in poles)
            return exact(breakers, note=self._reason(net), label="breaker")
        if self.grounded[net.number] is not None or net.bars:
            return exact((), note="joined to a bar and to no breaker", label="breaker")
        return self._stray(self.group[net.number])

    def _stray(self, group: int) -> Fact:
        """The breakers that a group without one can still hang on; one fact for the whole group."""
        if not hasattr(self, "_strays"):
            self._strays: dict[int, Fact] = {}
            self._open_groups = {self.group[net.number] for net in self.nets if net.open_ends}
            self._candidates = self._loose_breakers()
        if group not in self._strays:
            if group not in self._open_groups:
                fact = exact((), note="every end is accounted for and none is at a breaker", label="breaker")
            elif self._candidates:
                fact = Fact(
                    ASSUMED, tuple((breaker,) for breaker in self._candidates), written="not traced to the panel",
                    note="not traced to the panel; these breakers have wiring that is not traced to its end",
                    label="breaker",
                )  # fmt: skip
            else:
                fact = unseen("not traced to the panel", label="breaker")
            self._strays[group] = fact
        return self._strays[group]

    def _loose_breakers(self) -> list[Item]:
        """Breakers with no recorded wire, or whose wiring has an end that is not accounted for."""
        landed = {pole for net in self.nets if net.conductors for pole in net.poles}
        loose: dict[Item, None] = {}
        for pole, (breaker, _) in self.record.poles.items():
            if pole not in landed:
                loose[breaker] = None
        for net in self.nets:
            if net.open_ends:
                for pole in self.reach[net.number]:
                    loose[self.record.poles[pole][0]] = None
        order = {breaker: number for number, breaker in enumerate(self.record.breakers.values())}
        return sorted(loose, key=order.__getitem__)

    def _function(self, net: Net) -> Fact:
        """What the net does: by connection when that decides, else weakly by terminals, else by colour."""
        poles = self.reach[net.number]
        bars = {bar for _, bar in net.bars}
        how: dict[str, Any] = {"note": self._reason(net), "label": "function"}
        only_grounds = bool(net.conductors) and all(_colour(c) in _GROUND_COLOURS for c in net.conductors)
        lands_neutral = any(name in ("neutral", "load_neutral") for _, name in net.terminals)
        if net.poles or any(bar.startswith("lug") for bar in bars):
            return exact("ungrounded", **how)
        if "neutral bar" in bars and not (only_grounds and not lands_neutral):
            return exact("grounded", **how)
        if bars:
            return exact("grounding", **how)
        if any(not by_switch for by_switch in poles.values()):
            return exact("ungrounded", **how)
        if self.grounded[net.number] is False:
            return exact("grounded", **how)
        if poles:
            return exact("traveller" if _between_switches(net) else "switched", **how)
        if self.grounded[net.number]:
            return exact("grounded", **how)
        if self.group[net.number] not in self._open_group_set():
            return exact(
                "isolated",
                note="every end is accounted for and none leads to a breaker or a bar",
                label="function",
            )
        return self._weak_function(net)

    def _open_group_set(self) -> set[int]:
        if not hasattr(self, "_open_groups"):
            self._stray(-1)
        return self._open_groups

    def _weak_function(self, net: Net) -> Fact:
        roles = dict.fromkeys(_TERMINAL_ROLES[name] for _, name in net.terminals)
        if _between_switches(net):
            roles = {"traveller": None}
        elif "ungrounded" in roles or "switched" in roles:
            roles = {role: None for role in roles if role != "traveller"}
        by_colour = data("colour_roles")["roles"]
        colours = list(dict.fromkeys(filter(None, (_colour(c) for c in net.conductors))))
        suggested = [role for colour in colours for role in by_colour.get(colour, by_colour["other"])]
        if len(roles) == 1:
            stated, how = next(iter(roles)), "terminal it lands on"
        elif colours:
            usual = [by_colour.get(colour, by_colour["other"])[0] for colour in colours]
            stated = next((role for role in ("ungrounded", "grounded", "grounding") if role in usual), usual[0])
            how = "insulation colour"
        else:
            return unseen("not traced, and its colour was not seen", label="function")
        values = tuple(dict.fromkeys([stated, *roles, *suggested]))
        note = f"not traced to a source; taken from the {how}"
        written = " and ".join(colours) if how == "insulation colour" else how
        return Fact(WEAK, values, written=written, how=how, note=note, label="function")

    def _reason(self, net: Net) -> Callable[[], str]:
        def words() -> str:
            if net.poles:
                return f"joined to breaker {joined(' '.join(pole) for pole in net.poles)}{self._via(net)}"
            if net.bars:
                return f"lands on {joined(f'{bar} of panel {panel}' for panel, bar in net.bars)}{self._via(net)}"
            poles = self.reach[net.number]
            if poles:
                devices = dict.fromkeys(edge.device.tag for edge in net.edges)
                return f"reached from breaker {joined(' '.join(pole) for pole in poles)} through {joined(devices)}"
            if self.grounded[net.number] is not None:
                devices = dict.fromkeys(edge.device.tag for edge in net.edges)
                return f"reached from a neutral bar through {joined(devices)}"
            return self._open_words(net)

        return words

    @staticmethod
    def _via(net: Net) -> str:
        tags = [joint.tag for joint in net.joints]
        return (
            f" by way of joints {quoted_list(tags, 4)}"
            if len(tags) > 1
            else f" by way of joint {tags[0]}"
            if tags
            else ""
        )

    # -- facts of conductors, devices, boxes, breakers

    def _conductors(self) -> None:
        roles = data("colour_roles")["roles"]
        for conductor in self.record.conductors:
            net = self.net_of[id(conductor)]
            item = self.items[net.number]
            conductor.data["net"] = item
            conductor.data["function"] = item.data["function"]
            conductor.data["breakers"] = item.data["fed_by"]
            colour = conductor.data.get("colour")
            if isinstance(colour, Fact) and colour.values:
                suggested = tuple(dict.fromkeys(roles.get(value, roles["other"])[0] for value in colour.values))
                conductor.data["colour_role"] = Fact(
                    colour.kind, suggested, written=colour.written, place=colour.place, how=colour.how
                )
            supplied = any(name in _SUPPLIED for _, name in net.terminals)
            function = item.data["function"]
            if function.values:
                conductor.data["switch_supply"] = exact(
                    supplied and function.values[0] in ("ungrounded", "traveller"), note="as traced"
                )

    def _returns(self) -> None:
        """For each net, the breakers whose loads return on it; for each device, what feeds it."""
        by_terminal = {(device.tag, name): net for net in self.nets for device, name in net.terminals}
        returned: list[dict[Item, None]] = [{} for _ in self.nets]
        made: dict[tuple[str, str], Item] = {}
        for device in self.record.devices.values():
            feeds: dict[Item, None] = {}
            unknown: Fact | None = None
            for one, two in group_of(device).get("load", ()):
                for hot, neutral in ((one, two), (two, one)):
                    if "neutral" not in neutral or (device.tag, hot) not in by_terminal:
                        continue
                    if (device.tag, neutral) in by_terminal:
                        fed = self.items[by_terminal[device.tag, hot].number].data["fed_by"]
                        if len(fed.values) == 1:
                            returned[by_terminal[device.tag, neutral].number].update(dict.fromkeys(fed.values[0]))
            terminals = []
            for name in group_of(device).get("terminals", ()):
                net = by_terminal.get((device.tag, name))
                if net is None:
                    continue
                terminal = Item("terminal", f"{device.tag} {name}", f"{name} of {device.words}", device.place)
                conductors = tuple(self.record.terminals.get((device.tag, name), ()))
                terminal.data.update(name=name, device=device, conductors=conductors)
                terminals.append(terminal)
                made[device.tag, name] = terminal
                if _TERMINAL_ROLES[name] in _LIVE:
                    fed = self.items[net.number].data["fed_by"]
                    if len(fed.values) == 1:
                        feeds.update(dict.fromkeys(fed.values[0]))
                    else:
                        unknown = fed
            device.data["terminals"] = tuple(terminals)
            device.data["conductors"] = tuple(c for t in terminals for c in t.data["conductors"])
            device.data["breakers"] = exact(tuple(feeds), note="as traced") if feeds or unknown is None else unknown
        for net, breakers in zip(self.nets, returned, strict=True):
            item = self.items[net.number]
            item.data["return_of"] = exact(tuple(breakers), note="loads whose neutral lands on it")
            item.data["terminals"] = tuple(made[device.tag, name] for device, name in net.terminals)

    def _places(self) -> None:
        for box in self.record.boxes.values():
            found: dict[Item, None] = {}
            for conductor in (*box.data["conductors"], *box.data["passing"], *box.data["looped"]):
                fed = conductor.data["breakers"]
                if len(fed.values) == 1:
                    found.update(dict.fromkeys(fed.values[0]))
            box.data["breakers"] = exact(tuple(found), note="as traced")

    def _circuits(self) -> list[Item]:
        """One circuit for each breaker or tied pair."""
        circuits: dict[Item, Item] = {}
        listed: list[Item] = []
        for breaker in self.record.breakers.values():
            if breaker in circuits:
                continue
            tied = (breaker, *breaker.data["tied_with"])
            tag = " and ".join(b.tag for b in tied)
            circuit = Item("circuit", tag, f"the circuit of {joined(b.words for b in tied)}", breaker.place)
            circuit.data.update(breakers=exact(tied, note="as traced"), nets=())
            listed.append(circuit)
            for one in tied:
                circuits[one] = circuit
        parts: dict[int, dict[str, dict[Item, None]]] = {
            id(c): {"nets": {}, "conductors": {}, "cables": {}, "boxes": {}, "devices": {}} for c in listed
        }
        for net, item in zip(self.nets, self.items, strict=True):
            for circuit in dict.fromkeys(circuits[self.record.poles[pole][0]] for pole in self.reach[net.number]):
                held = parts[id(circuit)]
                held["nets"][item] = None
                held["conductors"].update(dict.fromkeys(net.conductors))
                held["devices"].update(dict.fromkeys(device for device, _ in net.terminals))
                for conductor in net.conductors:
                    held["cables"][conductor.data["cable"]] = None
                    held["boxes"].update(dict.fromkeys(conductor.data["cable"].data["boxes"]))
        for circuit in listed:
            held = parts[id(circuit)]
            circuit.data.update({name: tuple(values) for name, values in held.items()})
            circuit.data["thinnest"] = _thinnest(circuit.data["conductors"])
        for breaker, circuit in circuits.items():
            devices = circuit.data["devices"]
            breaker.data["circuits"] = (circuit,)
            breaker.data["devices"] = devices
            breaker.data["conductors"] = circuit.data["conductors"]
            count = sum(group_of(d).get("receptacles", 0) for d in devices)
            breaker.data["receptacles"] = exact(count, note="as recorded on the traced circuit")
            breaker.data["nameplate_loads"] = tuple(d for d in devices if d.data["by_nameplate"].values[0])
        return listed


def _thinnest(conductors: tuple[Item, ...]) -> Fact:
    """The smallest conductor by recorded size; not seen when a size is missing or doubtful."""
    ladder = data("ways")["neighbours"]["gauge"]["ladder"]
    best: Item | None = None
    for conductor in conductors:
        size = conductor.data.get("gauge")
        if not isinstance(size, Fact) or len(size.values) != 1 or size.values[0] not in ladder:
            return unseen(f"the size of {conductor.tag} is not certain")
        if best is None or ladder.index(size.value) < ladder.index(best.data["gauge"].value):
            best = conductor
    return exact(() if best is None else (best,), note="as traced")


def _colour(conductor: Item) -> str | None:
    colour = conductor.data.get("colour")
    return colour.values[0] if isinstance(colour, Fact) and colour.values else None


def _between_switches(net: Net) -> bool:
    """Whether the net only joins travellers of switches."""
    return bool(net.terminals) and all(name.startswith("traveller") for _, name in net.terminals)


_FALSE = exact(None)
