"""The wiring of a record as elements between points, ready to be solved around any place of it.

Points are tuples: `("joint", "J1")`, `("terminal", "R1", "hot")`, `("box", "hall")`,
`("pole", "A", "3")`, `("bar", "A", "neutral bar")`, `("end", "W1 black", "to")` for an end
that hangs free, `("bus", "A", "L1")` behind the main, `("leg", "L1")` and `("star",)` of the
supply, `("earth",)`. Linear in conductors, joints and devices. Nothing is solved here.
"""

from __future__ import annotations

import cmath
import math
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from typing import Any, Final

from asfound.circuit.conductors import farads_per_foot, ohms_per_foot
from asfound.data import data
from asfound.record.facts import Fact, Item
from asfound.record.model import Record
from asfound.trace.nets import groups_of

Node = tuple[str, ...]
EARTH: Final[Node] = ("earth",)
STAR: Final[Node] = ("star",)
BOUNDS: Final = ("bar", "bus", "leg", "star", "earth")
"""Kinds of points beyond which other circuits begin."""

WIRE, CONTACT, BREAKER, SWITCH, LOAD, MAIN, BOND, SERVICE, HOUSE, SOURCE = (
    "wire", "contact", "breaker", "switch", "load", "main", "bond", "service neutral", "house", "source",
)  # fmt: skip


@dataclass(frozen=True, slots=True, eq=False)
class Element:
    """Something between two points.

    `ohms` is None for a load of unknown size. `tags` name what an electrician would open to find it, `cables` and
    `device` what it belongs to. A switch has one element for each pair it joins, with the position that joins it. A
    breaker element is one pole: `item` the breaker, `one` on its bus. A source has its `volts` between `one` and `two`.
    """

    kind: str
    one: Node
    two: Node
    ohms: float | None = 0.0
    tags: tuple[str, ...] = ()
    cables: tuple[str, ...] = ()
    device: str = ""
    position: int = 0
    item: Item | None = None
    volts: complex = 0j


@dataclass(frozen=True, slots=True)
class Supply:
    """The supply: its legs in order with their volts to neutral, and the volts of one leg that it keeps within."""

    legs: tuple[str, ...]
    phasors: tuple[complex, ...]
    volts: float
    least: float
    most: float

    @property
    def across(self) -> float:
        """Volts between two legs; those of the one leg where there is only one."""
        return abs(self.phasors[0] - self.phasors[1]) if len(self.legs) > 1 else self.volts


def supply_of(record: Record) -> Supply:
    """The supply of the record by the first system it can be."""
    held = record.site.data["supply"].values
    figures = data("faults")["supply"][held[0] if held else "120/240 split phase"]
    phasors = tuple(cmath.rect(figures["volts"], math.radians(angle)) for angle in figures["angles"])
    legs = tuple(f"L{number + 1}" for number in range(len(phasors)))
    return Supply(legs, phasors, figures["volts"], figures["least"], figures["most"])


class House:
    """All elements of a record. `beside` gives those at a point, `ends` the point of each end of a conductor."""

    def __init__(self, record: Record) -> None:
        self.record = record
        self.supply = supply_of(record)
        self.usual: dict[str, Any] = data("faults")["usual"]
        self.beside: dict[Node, list[Element]] = {}
        self.ends: dict[tuple[str, str], Node] = {}
        self.untraced: dict[Node, Item] = {}  # ends nobody accounted for, with their conductor
        self.metal: dict[Node, str] = {}  # what can be touched at a point
        self.inside: dict[str, list[Element]] = {}  # by device
        self.couplings: dict[str, list[tuple[Node, Node, float]]] = {}  # by cable
        self.ahead: dict[str, list[Element]] = {}  # by panel: what stands between it and its supply
        self.conductors = {conductor.tag: conductor for conductor in record.conductors}
        self._conductors()
        self._joints()
        for device in record.devices.values():
            self.device(device, self.terminals(device))
        self._boxes()
        for panel in record.panels.values():
            self._panel(panel)

    def terminals(self, device: Item) -> list[str]:
        """The terminals of a device that are in the record."""
        return [name for name in _TERMINALS if ("terminal", device.tag, name) in self.beside]

    def bars(self, panel: str) -> list[Node]:
        """The bars and lugs of a panel on which something lands."""
        spots = ("neutral bar", "ground bar", "lug 1", "lug 2", "lug 3")
        return [("bar", panel, spot) for spot in spots if ("bar", panel, spot) in self.beside]

    def add(self, element: Element) -> Element:
        """Take an element in."""
        self.beside.setdefault(element.one, []).append(element)
        self.beside.setdefault(element.two, []).append(element)
        return element

    # -- conductors, joints, boxes

    def _conductors(self) -> None:
        taken = self._taken()
        for cable in self.record.cables.values():
            feet = self._length(cable)
            for conductor in cable.data["conductors"]:
                held = taken.get(conductor.tag, [])
                first, last = conductor.data["ends"]
                one, two = self._end(first, held), self._end(last, held)
                self.ends[conductor.tag, "from"], self.ends[conductor.tag, "to"] = one, two
                ohms = max(feet * self._ohms_per_foot(conductor), self.usual["contact_ohms"])
                tags = (conductor.tag, *(" ".join(node[1:]) for node in (one, two) if node[0] != "end"))
                self.add(Element(WIRE, one, two, ohms, tags, (cable.tag,)))
            self.couplings[cable.tag] = list(self._coupled(cable, feet))

    def _taken(self) -> dict[str, list[tuple[str, Node]]]:
        """For each conductor what takes its ends: the words the record has for it, and the point."""
        found: dict[str, list[tuple[str, Node]]] = {}
        for tag, members in self.record.joint_members.items():
            for sort, member in members:
                if sort == "conductor":
                    found.setdefault(member.tag, []).append((f"joint {tag}", ("joint", tag)))
        for (device, name), conductors in self.record.terminals.items():
            for conductor in conductors:
                found.setdefault(conductor.tag, []).append((f"{device} {name}", ("terminal", device, name)))
        for conductor, panel, spot in self.record.landings:
            node = ("pole" if (panel, spot) in self.record.poles else "bar", panel, spot)
            found.setdefault(conductor.tag, []).append((f"panel {panel}", node))
        return found

    def _end(self, end: Item, taken: list[tuple[str, Node]]) -> Node:
        """Where an end is; a point of its own where nothing takes it."""
        state = end.data["state"]
        for held in taken:
            if state.written == held[0]:
                taken.remove(held)
                return held[1]
        node = ("end", end.data["conductor"].tag, end.tag)
        if not state.values:
            self.untraced[node] = end.data["conductor"]
        return node

    def _length(self, cable: Item) -> float:
        feet = _first(cable, "length")
        return float(feet if feet is not None else self.usual["length_ft"])

    def _ohms_per_foot(self, conductor: Item) -> float:
        size = _first(conductor, "gauge") or self.usual["size"]
        return ohms_per_foot(str(size), str(_first(conductor, "metal") or "copper"))

    def _coupled(self, cable: Item, feet: float) -> Iterator[tuple[Node, Node, float]]:
        """Capacitance between every two conductors of a cable, half of it at each end."""
        farads = farads_per_foot(str(_first(cable, "method") or "")).usual * feet / 2
        held = cable.data["conductors"]
        for number, one in enumerate(held):
            for two in held[number + 1 :]:
                for side in ("from", "to"):
                    yield self.ends[one.tag, side], self.ends[two.tag, side], farads

    def _joints(self) -> None:
        for tag, members in self.record.joint_members.items():
            for sort, member in members:
                if sort == "terminal":
                    node = ("terminal", member[0].tag, member[1])
                    tags = (f"{member[0].tag} {member[1]}", tag)
                    self.add(Element(CONTACT, ("joint", tag), node, tags=tags, device=member[0].tag))
                elif sort == "box":
                    self.metal[("box", member.tag)] = ""
                    self.add(Element(CONTACT, ("joint", tag), ("box", member.tag), tags=(member.tag, tag)))
        for device, name in self.record.terminals:
            self.beside.setdefault(("terminal", device, name), [])

    def _boxes(self) -> None:
        for box in self.record.boxes.values():
            values = _values(box, "metal")
            if values != (False,):
                sure = values == (True,)
                self.metal["box", box.tag] = (
                    f"the metal box {box.words}" if sure else f"the box {box.words}, which may be metal"
                )
            else:
                self.metal.pop(("box", box.tag), None)
        for cable in self.record.cables.values():
            sides = [place for place in cable.data["sides"].values() if place is not None]
            way = cable.data.get("metal_way")
            if len(sides) == 2 and isinstance(way, Fact) and way.values == (True,):
                one, two = (
                    ("bar", at.tag, "ground bar") if at.kind == "panel" else ("box", at.tag) for at in sides
                )  # fmt: skip
                if all(node[0] == "bar" or node in self.metal for node in (one, two)) and one != two:
                    self.add(Element(WIRE, one, two, self.usual["raceway_ohms"], (cable.tag,), (cable.tag,)))

    # -- devices

    def device(self, device: Item, names: Iterable[str]) -> None:
        """Take in what lies inside a device between these of its terminals, instead of what was taken in before."""
        for element in self.inside.pop(device.tag, []):
            self.beside[element.one].remove(element)
            self.beside[element.two].remove(element)
        here = set(names)
        held = self.inside[device.tag] = [self.add(one) for one in self._inside(device, here)]
        for name in here:
            self.beside.setdefault(("terminal", device.tag, name), [])
        if "ground" in here:
            node = ("terminal", device.tag, "ground")
            self.metal[node] = f"{device.tag}: {device.data['metal_words']}"
            for box in device.data["box"]:
                if _values(box, "metal") == (True,) and _values(device, "yoke") == (True,):
                    strap = Element(
                        CONTACT, node, ("box", box.tag), tags=(f"strap of {device.tag}",), device=device.tag
                    )
                    held.append(self.add(strap))

    def _inside(self, device: Item, here: set[str]) -> Iterator[Element]:
        groups = groups_of(device)
        if not groups:
            return
        group = groups[0]

        def element(kind: str, pair: Iterable[str], **more: Any) -> Element:
            one, two = pair
            nodes = ("terminal", device.tag, one), ("terminal", device.tag, two)
            return Element(kind, *nodes, tags=(device.tag,), device=device.tag, **more)

        joined = [*group.get("feed", ()), *(group.get("tab", ()) if _values(device, "tab") != ("removed",) else ())]
        yield from (element(CONTACT, pair) for pair in joined if here.issuperset(pair))
        for position, pairs in enumerate(_positions(group.get("switch", ()))):
            yield from (element(SWITCH, pair, position=position) for pair in pairs if here.issuperset(pair))
        pairs = [pair for pair in group.get("load", ()) if here.issuperset(pair) and pair[0] != "load_hot"]
        if ["hot", "hot_2"] in pairs:
            pairs = [["hot", "hot_2"]]
        for number, pair in enumerate(pairs):
            ohms = self._load_ohms(device, pair == ["hot", "hot_2"]) if not number else None
            yield element(LOAD, pair, ohms=ohms)

    def _load_ohms(self, device: Item, across: bool) -> float | None:
        """Resistance of a load by its watts, or by amperes on its nameplate; None where neither is recorded."""
        rated = _first(device, "volts")
        volts = float(rated) if rated else self.supply.across if across else self.supply.volts
        watts, amps = _first(device, "watts"), _first(device, "amps") or _first(device, "plugged_amps")
        drawn = float(watts) if watts else float(amps) * volts if amps else 0.0
        return volts**2 / drawn if drawn else None

    # -- panels

    def _panel(self, panel: Item) -> None:
        """What stands ahead of a panel, and its poles on the bus."""
        tag, usual = panel.tag, self.usual
        neutral, ground = ("bar", tag, "neutral bar"), ("bar", tag, "ground bar")
        self.metal[ground] = f"the enclosure of panel {tag} and all metal bonded to it"
        ahead = self.ahead[tag] = []
        feeder = next(iter(panel.data["feeder"]), None)
        ahead += self._feeder(panel, feeder) if feeder is not None else self._service(panel)
        bonded = _values(panel, "bonded")
        if bonded == (True,) or (feeder is None and bonded != (False,)):
            ahead.append(Element(BOND, neutral, ground, usual["contact_ohms"], (tag,)))
        elif feeder is None:  # bonded at a disconnect ahead of it
            ahead.append(Element(BOND, ground, STAR, usual["service_neutral_ohms"], (tag,)))
        if feeder is None:
            ahead.append(Element(BOND, ground, EARTH, usual["electrode_ohms"], (tag,)))
        for breaker in panel.data["breakers"]:
            for space, leg in zip(breaker.tag.removeprefix(f"{tag} ").split("/"), self.legs_of(breaker), strict=False):
                at = ("pole", tag, space)
                self.add(
                    Element(BREAKER, ("bus", tag, leg), at, usual["breaker_ohms"], (f"{tag} {space}",), item=breaker)
                )
        for element in ahead:
            self.add(element)

    def legs_of(self, breaker: Item) -> tuple[str, ...]:
        """The leg of each pole, as stated; in order where it was not seen."""
        count = len(breaker.tag.rpartition(" ")[2].split("/"))
        legs = breaker.data["legs"].values
        known = self.supply.legs
        return tuple(legs[0]) if legs else tuple(known[number % len(known)] for number in range(count))

    def _service(self, panel: Item) -> list[Element]:
        tag, usual, supply = panel.tag, self.usual, self.supply
        neutral = ("bar", tag, "neutral bar")
        found = [
            Element(SERVICE, STAR, neutral, usual["service_neutral_ohms"], (f"service neutral of panel {tag}",)),
            Element(BOND, STAR, EARTH, usual["utility_electrode_ohms"]),
        ]
        for leg, volts in zip(supply.legs, supply.phasors, strict=True):
            found.append(Element(SOURCE, ("leg", leg), STAR, usual["leg_ohms"], volts=volts))
            found.append(Element(MAIN, ("leg", leg), ("bus", tag, leg), usual["contact_ohms"], (tag,), item=panel))
            found.append(Element(HOUSE, ("bus", tag, leg), neutral, None, device=leg))
        return found

    def _feeder(self, panel: Item, breaker: Item) -> list[Element]:
        """The feeder as recorded by what lands on the lugs; otherwise a usual one from the breaker named."""
        tag, usual = panel.tag, self.usual
        legs = dict(enumerate(self.legs_of(breaker), 1))
        lugs = {node for node in self.ends.values() if node[:2] == ("bar", tag) and node[2].startswith("lug ")}
        if lugs:
            return [
                Element(MAIN, lug, ("bus", tag, legs.get(int(lug[2].split()[1]), "L1")), usual["contact_ohms"], (tag,),
                        item=panel)
                for lug in sorted(lugs)
            ]  # fmt: skip
        ohms = usual["feeder_ft"] * ohms_per_foot(usual["feeder_size"])
        above = breaker.data["panel"].tag
        said = (f"feeder of panel {tag}",)
        found = [
            Element(WIRE, ("pole", above, space), ("bus", tag, legs[number]), ohms, said)
            for number, space in enumerate(breaker.tag.removeprefix(f"{above} ").split("/"), 1)
        ]
        if len(found) == 1 and len(self.supply.legs) > 1:  # written as one pole; take both legs to be fed
            other = next(leg for leg in self.supply.legs if leg != legs[1])
            found.append(Element(WIRE, ("bus", above, other), ("bus", tag, other), ohms, said))
        return [
            *found,
            *(
                Element(WIRE, ("bar", above, bar), ("bar", tag, bar), ohms, said)
                for bar in ("neutral bar", "ground bar")
            ),
        ]

    def assume(self, node: Node, role: str, cause: str, panel: str, conductor: str = "") -> list[Element]:
        """A usual feed for a point that leads nowhere recorded: a breaker for a hot, a bar for the others."""
        usual = self.usual
        ohms = usual["length_ft"] * ohms_per_foot(usual["size"])
        tags = (f"feed of {cause}",)
        if role in ("neutral", "ground"):
            return [self.add(Element(WIRE, node, ("bar", panel, f"{role} bar"), ohms, tags, (f"feed of {cause}",)))]
        leg = self.supply.legs[1 if role == "hot_2" and len(self.supply.legs) > 1 else 0]
        pole = ("pole", "", f"{cause} {role} {conductor}")
        return [
            self.add(Element(WIRE, node, pole, ohms, tags, (f"feed of {cause}",))),
            self.add(
                Element(BREAKER, ("bus", panel, leg), pole, usual["breaker_ohms"], (f"breaker of {cause}",))
            ),
        ]  # fmt: skip


def _positions(pairs: Iterable[list[str]]) -> list[list[list[str]]]:
    """The pairs of terminals that a switch joins, position by position; a plain switch joins none in its second."""
    left = list(pairs)
    positions: list[list[list[str]]] = []
    while left:
        used: set[str] = set()
        here = []
        for pair in left:
            if not used & set(pair):
                here.append(pair)
                used |= set(pair)
        left = [pair for pair in left if pair not in here]
        positions.append(here)
    return positions


def _values(item: Item, name: str) -> tuple[Any, ...]:
    fact = item.data.get(name)
    return fact.values if isinstance(fact, Fact) else ()


def _first(item: Item, name: str) -> Any:
    return next(iter(_values(item, name)), None)


_TERMINALS = tuple(dict.fromkeys(name for group in data("devices")["groups"].values() for name in group["terminals"]))
