"""The trace against outside references: graphs built by networkx from the raw record, and circuits made by hand.

Nets are connected components. What a breaker reaches is reachability in a
graph whose nodes are a net together with the switch it was entered by, because
a switch joins its common to one traveller at a time (common practice, no
source: three-way and four-way switches). Colours, terminals and landings of
the hand-made circuits are North American practice (common practice, no source)
unless a check names its source.
"""

from __future__ import annotations

import re
import sys
from functools import cache
from itertools import product
from typing import Any

import networkx as nx
import pytest

import houses
from asfound.load import load_bytes
from asfound.record.facts import ASSUMED, EXACT, UNSEEN, WEAK, Fact, Item
from asfound.survey import read_record
from asfound.trace import MAX_JOINED, Installation, trace
from asfound.trace.circuits import MAX_CANDIDATES
from examples import seeds

LIVE = {"ungrounded", "switched", "traveller"}
SWITCHED = {
    "switch": [("line", "load")], "timer": [("line", "load")],
    "three-way switch": [("common", "traveller_1"), ("common", "traveller_2")],
    "four-way switch": [(f"traveller_{a}", f"traveller_{b}") for a in (1, 2) for b in (3, 4)],
    "double-pole switch": [("line", "load"), ("line_2", "load_2")],
}  # fmt: skip
FED_ON = {"duplex receptacle": [("hot", "load_hot"), ("neutral", "load_neutral")]}
LOADS = {
    "duplex receptacle": [("hot", "neutral"), ("hot_2", "neutral"), ("load_hot", "load_neutral")],
    "timer": [("line", "neutral")], "lampholder": [("hot", "neutral")], "luminaire": [("hot", "neutral")],
    "heater": [("hot", "hot_2")], "motor": [("hot", "neutral"), ("hot", "hot_2")],
}  # fmt: skip


def traced(record: str | bytes | dict[str, Any]) -> Installation:
    if isinstance(record, dict):
        record = houses.as_bytes(record)
    return trace(read_record(load_bytes(record if isinstance(record, bytes) else record.encode(), "house.yaml")))


# -- the reference: from the raw record to graphs, without the code under test


class Reference:
    """Nets, sources and what is open, by networkx, from a record as `houses` writes it."""

    def __init__(self, record: dict[str, Any]) -> None:
        self.record = record
        self.used: set[tuple[str, str]] = set()  # conductor, side
        self.bars: list[tuple[str, str]] = []  # conductor, bar
        self.kinds = {tag: device["kind"] for tag, device in record.get("devices", {}).items()}
        self.breaker_of = {
            (panel, space): f"{panel} {spaces}"
            for panel, held in record["panels"].items() for spaces in held["breakers"] for space in spaces.split("/")
        }  # fmt: skip
        self.graph: nx.Graph = nx.Graph()
        self.graph.add_nodes_from(("pole", *pole) for pole in self.breaker_of)
        for tag, cable in record["cables"].items():
            self.cable(tag, cable)
        for tag, joint in record.get("joints", {}).items():
            for name in joint["ends"]:
                self.graph.add_edge(("joint", tag), self.member(name, joint["at"]))
        for tag, device in record.get("devices", {}).items():
            self.device(tag, device)
        self.nets = [frozenset(net) for net in nx.connected_components(self.graph)]
        self.net_of = {node: net for net in self.nets for node in net}
        self.ways: list[tuple[frozenset[Any], frozenset[Any], str, bool]] = []
        for tag, kind in self.kinds.items():
            for by_switch, table in ((True, SWITCHED), (False, FED_ON)):
                self.ways += [(*pair, tag, by_switch) for pair in self.pairs(tag, kind, table)]
        self.reach = self.reached()
        self.grounded = self.walk({self.net_of["wire", name] for name, bar in self.bars if bar == "neutral bar"})
        self.barred = {self.net_of["wire", name] for name, _ in self.bars}
        self.groups()
        self.floating()

    def cable(self, tag: str, cable: dict[str, Any]) -> None:
        kind = cable["type"] if isinstance(cable["type"], str) else cable["type"]["is"]
        names = houses.CONDUCTORS[kind]
        self.graph.add_nodes_from(("wire", f"{tag} {name}") for name in names)
        for side in ("from", "to"):
            end = cable.get(side)
            if isinstance(end, dict):
                self.used |= {(f"{tag} {n}", side) for n in names if end.get(n, "not traced") != "not traced"}
            elif isinstance(end, str) and " " in end and end.split(" ")[0] in self.record["panels"]:
                panel, spaces = end.split(" ")
                landed = self.land(tag, names, panel, spaces.split("/"))
                self.used |= {(f"{tag} {n}", side) for n in landed}

    def land(self, tag: str, names: list[str], panel: str, poles: list[str]) -> list[str]:
        """Coloured conductors on the poles in order, then white; white and bare left over on the bars."""
        whites = [n for n in names if n == "white"]
        on_poles = dict(zip([n for n in names if n not in ("white", "bare")] + whites, poles, strict=False))
        for name, space in on_poles.items():
            self.graph.add_edge(("pole", panel, space), ("wire", f"{tag} {name}"))
        barred = [n for n in names if n in ("white", "bare") and n not in on_poles]
        self.bars += [(f"{tag} {n}", "neutral bar" if n == "white" else "ground bar") for n in barred]
        return [*on_poles, *barred]

    def member(self, name: str, place: str) -> Any:
        if name == "box":
            return "box", place
        text = re.sub(r" \((from|to)\)$", "", name)
        tag, _, rest = text.rpartition(" ")
        if tag in self.kinds:
            return "terminal", tag, rest
        self.use(text, name, place)
        return "wire", text

    def use(self, wire: str, written: str, place: str) -> None:
        cable = self.record["cables"][wire.rpartition(" ")[0]]
        for side in ("from", "to"):
            end = cable.get(side)
            at = end.get("at") if isinstance(end, dict) else end
            if at == place and (not written.endswith(")") or written.endswith(f"({side})")):
                self.used.add((wire, side))

    def device(self, tag: str, device: dict[str, Any]) -> None:
        for name, held in device.get("terminals", {}).items():
            for written in held if isinstance(held, list) else [held]:
                self.graph.add_edge(("terminal", tag, name), self.member(written, device["at"]))
        tab = [("terminal", tag, name) for name in ("hot", "hot_2")]
        joined = device["kind"] == "duplex receptacle" and device.get("tab") != "removed"
        if joined and all(node in self.graph for node in tab):
            self.graph.add_edge(*tab)

    def pairs(self, tag: str, kind: Any, table: dict[str, Any]) -> list[tuple[frozenset[Any], frozenset[Any]]]:
        nodes = [
            [("terminal", tag, name) for name in pair]
            for pair in (table.get(kind, ()) if isinstance(kind, str) else ())
        ]
        nets = [[self.net_of[node] for node in pair] for pair in nodes if all(node in self.net_of for node in pair)]
        return [(one, two) for one, two in nets if one != two]

    def states(self, *, switches: bool) -> nx.DiGraph:
        """Nets with the switch they were entered by; an arrow for each way that may follow."""
        graph: nx.DiGraph = nx.DiGraph()
        switches_at: dict[Any, set[str]] = {}
        for one, two, device, by_switch in self.ways:
            if by_switch:
                switches_at.setdefault(one, set()).add(device)
                switches_at.setdefault(two, set()).add(device)
        for here, there, device, by_switch in [w for a, b, d, s in self.ways for w in ((a, b, d, s), (b, a, d, s))]:
            if by_switch and not switches:
                continue
            for entered in [None, *switches_at.get(here, ())]:
                if not (by_switch and entered == device):
                    graph.add_edge((here, entered), (there, device if by_switch else None))
        return graph

    def walk(self, starts: set[Any]) -> dict[Any, bool]:
        """Nets reached and whether only through a switch."""
        found: dict[Any, bool] = {}
        for switches in (True, False):
            graph = self.states(switches=switches)
            for start in starts:
                graph.add_node((start, None))
                for net, _ in {(start, None), *nx.descendants(graph, (start, None))}:
                    found[net] = switches
        return found

    def reached(self) -> dict[Any, dict[str, bool]]:
        """The breakers that reach each net, and whether only through a switch."""
        found: dict[Any, dict[str, bool]] = {net: {} for net in self.nets}
        for pole, breaker in self.breaker_of.items():
            for net, by_switch in self.walk({self.net_of["pole", *pole]}).items():
                found[net][breaker] = found[net].get(breaker, True) and by_switch
        return found

    def groups(self) -> None:
        graph: nx.Graph = nx.Graph()
        graph.add_nodes_from(self.nets)
        graph.add_edges_from((one, two) for one, two, _, _ in self.ways)
        unknown = {self.net_of["terminal", t, n] for _, t, n in [k for k in self.net_of if k[0] == "terminal"]
                   if isinstance(self.kinds[t], dict)}  # fmt: skip
        self.open = {net for net in self.nets if net in unknown or any(
            node[0] == "wire" and (node[1], side) not in self.used for node in net for side in ("from", "to"))}  # fmt: skip
        self.group = {net: frozenset(group) for group in nx.connected_components(graph) for net in group}
        for group in set(self.group.values()):
            poles = [node for net in group for node in net if node[0] == "pole"]
            if len(poles) > MAX_JOINED:  # the bound that is documented: each is taken to reach all
                for net in group:
                    direct = self.reach[net]
                    self.reach[net] = {self.breaker_of[p[1:]]: direct.get(self.breaker_of[p[1:]], True) for p in poles}

    def floating(self) -> None:
        """Nets with no source and every end accounted for: live through loads, beside an open one, or isolated."""
        sourced = {net for net in self.nets if self.reach[net] or net in self.barred or net in self.grounded}
        closed = {net for net in self.nets if net not in sourced and not self.group[net] & self.open}
        loads = [pair for tag, kind in self.kinds.items() for pair in self.pairs(tag, kind, LOADS)]
        graph: nx.Graph = nx.Graph()
        graph.add_nodes_from(closed)
        graph.add_edges_from((a, b) for a, b in [*loads, *((a, b) for a, b, _, _ in self.ways)] if {a, b} <= closed)
        behind = [(a, b) for one, two in loads for a, b in ((one, two), (two, one))]
        self.through: dict[Any, set[str]] = {}
        self.stray = {net for net in self.nets if not self.reach[net] and net not in self.barred
                      and self.grounded.get(net, True) and self.group[net] & self.open}  # fmt: skip
        also = set()
        for part in nx.connected_components(graph):
            feeds = {b for a, other in behind if a in part and other not in closed for b in self.reach[other]}
            if feeds:
                self.through.update(dict.fromkeys(part, feeds))
            elif any(a in part and other in self.stray for a, other in behind):
                also |= set(part)
        across: dict[Any, set[str]] = {}
        for a, other in behind:
            if not self.reach[a]:
                across.setdefault(self.group[a], set()).update(self.reach[other])
        self.stray |= also
        landed = {node for net in self.nets if any(n[0] == "wire" for n in net) for node in net if node[0] == "pole"}
        loose = {b for pole, b in self.breaker_of.items() if ("pole", *pole) not in landed}
        loose |= {b for net in self.open for b in self.reach[net]}
        self.candidates = {net: loose | across.get(self.group[net], set()) for net in self.stray}

    def function(self, net: Any) -> str:
        """What the net does where a connection decides; empty where none does."""
        bars = {bar for name, bar in self.bars if ("wire", name) in net}
        colours = {node[1].rpartition(" ")[2] for node in net if node[0] == "wire"}
        terminals = [node[2] for node in net if node[0] == "terminal"]
        by_switch = self.reach[net].values()
        if any(node[0] == "pole" for node in net):
            return "ungrounded"
        if "neutral bar" in bars and (colours != {"bare"} or {"neutral", "load_neutral"} & set(terminals)):
            return "grounded"
        if bars:  # a neutral that comes back on a ground bar does the work of a neutral
            return "grounded" if {"neutral", "load_neutral"} & set(terminals) else "grounding"
        if not all(by_switch) or net in self.through:
            return "ungrounded"
        if self.grounded.get(net) is False:
            return "grounded"
        if by_switch:
            between = terminals and all(name.startswith("traveller") for name in terminals)
            return "traveller" if between else "switched"
        if net in self.stray:
            return ""
        return "grounded" if net in self.grounded else "isolated"


SEEDS = seeds(15)
"""Seeds of the houses that every property is held against, for each shape."""
SHAPES = [
    pytest.param({"wild": 0.05}, id="tidy houses"),
    pytest.param({"wild": 0.4}, id="houses with odd joints"),
    pytest.param({"wild": 1.0, "untraced": 0.02}, id="everything joined to everything"),
    pytest.param({"wild": 0.1, "untraced": 0.5, "doubt": 0.4}, id="mostly untraced"),
    pytest.param({"wild": 0.1, "untraced": 0.0, "doubt": 0.0, "cables": 40}, id="traced to the last end"),
]


@cache
def house_of(seed: int, **shape: Any) -> tuple[dict[str, Any], Installation]:
    """The house of a seed as made and as traced, once for all tests."""
    record = houses.house(seed, **shape)
    return record, traced(record)


@cache
def reference_of(seed: int, **shape: Any) -> Reference:
    """The graph of the same house."""
    return Reference(house_of(seed, **shape)[0])


def named(nodes: Any) -> frozenset[Any]:
    """Nodes of the reference as this file names parts of a net."""
    return frozenset(node if node[0] != "pole" else ("pole", " ".join(node[1:])) for node in nodes)


def parts(net: Any) -> frozenset[Any]:
    """The same for a net of the trace."""
    return frozenset(
        [("wire", c.tag) for c in net.conductors] + [("joint", j.tag) for j in net.joints]
        + [("terminal", device.tag, name) for device, name in net.terminals] + [("box", box.tag) for box in net.boxes]
        + [("pole", " ".join(pole)) for pole in net.poles]
    )  # fmt: skip


def tags(items: Any) -> set[str]:
    return {item.tag for item in items}


@pytest.mark.parametrize("shape", SHAPES)
def test_nets_are_the_connected_components(shape: dict[str, Any]) -> None:
    """Bars join everything in a building and are left out; whatever else is solid is one net."""
    for seed in SEEDS:
        found = [parts(net) for net in house_of(seed, **shape)[1].nets]
        assert len(found) == len(set(found))
        assert set(found) == {named(net) for net in reference_of(seed, **shape).nets}, f"seed {seed}"


@pytest.mark.parametrize("shape", SHAPES)
def test_breakers_reach_what_the_graph_says(shape: dict[str, Any]) -> None:
    """What reaches each conductor, what can still reach it, and what reaches it through a load alone."""
    for seed in SEEDS:
        reference = reference_of(seed, **shape)
        for conductor in house_of(seed, **shape)[1].items["conductor"]:
            net = reference.net_of["wire", conductor.tag]
            fact = conductor.data["breakers"]
            where = f"seed {seed}, {conductor.tag}"
            if net in reference.stray:
                can = reference.candidates[net]
                if not can or len(can) > MAX_CANDIDATES:
                    assert fact.kind == UNSEEN, where
                    continue
                assert fact.kind == ASSUMED, where
                assert {value[0].tag for value in fact.values} == can, where
                assert all(len(value) == 1 for value in fact.values), where
            else:
                assert fact.kind == EXACT, where
                assert tags(fact.value) == set(reference.reach[net]) | reference.through.get(net, set()), where


@pytest.mark.parametrize("shape", SHAPES)
def test_functions_follow_from_connections(shape: dict[str, Any]) -> None:
    """A connection decides; where none does, the function is weak or not seen, never certain."""
    for seed in SEEDS:
        reference = reference_of(seed, **shape)
        for conductor in house_of(seed, **shape)[1].items["conductor"]:
            expected = reference.function(reference.net_of["wire", conductor.tag])
            fact = conductor.data["function"]
            if expected:
                assert (fact.kind, fact.values) == (EXACT, (expected,)), f"seed {seed}, {conductor.tag}"
            else:
                assert fact.kind in (WEAK, UNSEEN), f"seed {seed}, {conductor.tag}"


@pytest.mark.parametrize("shape", SHAPES)
def test_what_nobody_traced_is_certain_nowhere(shape: dict[str, Any]) -> None:
    """No exact fact of a box, device or net rests on a conductor whose feed is not known."""
    for seed in SEEDS:
        _, installation = house_of(seed, **shape)
        for device in installation.items["device"]:
            hot = [
                t.data["name"]
                for t in device.data["terminals"]
                if t.data["name"] not in ("neutral", "load_neutral", "ground")
            ]
            feeds = [
                c.data["breakers"]
                for t in device.data["terminals"]
                if t.data["name"] in hot
                for c in t.data["conductors"]
            ]
            if not hot or any(feed.kind != EXACT for feed in feeds):
                assert device.data["breakers"].kind != EXACT, f"seed {seed}, {device.tag}"
            else:
                assert tags(device.data["breakers"].value) >= {b for feed in feeds for b in tags(feed.value)}
        for box in installation.items["box"]:
            live = [c for c in box.data["conductors"] if c.data["function"].values[:1] != ("grounding",)
                    and (not c.data["function"].values or c.data["function"].value in LIVE)]  # fmt: skip
            if any(c.data["breakers"].kind != EXACT for c in live):
                assert box.data["breakers"].kind != EXACT, f"seed {seed}, {box.tag}"


# -- order changes nothing


def summary(installation: Installation) -> dict[str, Any]:
    """Everything the trace says, by tag."""
    said: dict[str, Any] = {}
    for kind, items in installation.items.items():
        for item in items:
            held = {name: plain(value) for name, value in item.data.items()}
            assert (kind, item.tag) not in said
            said[kind, item.tag] = item.words, held
    return said


def plain(value: Any) -> Any:
    if isinstance(value, Fact):
        return value.kind, tuple(map(plain, value.values)), value.note
    if isinstance(value, Item):
        return f"{value.kind} {value.tag}"
    if isinstance(value, dict):
        return {name: plain(held) for name, held in value.items()}
    if isinstance(value, tuple | list):
        held = [plain(one) for one in value]
        return sorted(held, key=str) if value and isinstance(value[0], Item) else held
    return value


@pytest.mark.parametrize("shape", SHAPES)
def test_order_of_the_record_changes_nothing(shape: dict[str, Any]) -> None:
    """Sections, things, ends and terminals in another order give the same facts, the same notes and the same tags."""
    for seed in seeds(6):
        record, installation = house_of(seed, **shape)
        assert summary(traced(houses.shuffled(record, seed))) == summary(installation), f"seed {seed}"


# -- circuits made by hand


HEAD = """
asfound: 1
invented: true
site: {name: Invented, built: 1985}
supply: 120/240 split phase
"""
BOXES = """
boxes: {B1: nonmetallic, B2: nonmetallic, B3: nonmetallic, metal: octagonal 4 x 1-1/2}
"""


def made(text: str, panel: str = "A: {breakers: {1: 15, 3: 20, 5: 20}}") -> Installation:
    """A record of one panel, three plastic boxes and a metal one, with these further sections."""
    return traced(f"{HEAD}panels: {{{panel}}}\n{BOXES}{text}")


def fact(installation: Installation, tag: str, name: str, kind: str = "conductor") -> Fact:
    held: Fact = installation.item(kind, tag).data[name]
    return held


def function(installation: Installation, tag: str) -> str:
    """The function of a conductor, which has to be certain."""
    held = fact(installation, tag, "function")
    assert held.kind == EXACT
    return str(held.value)


def feeds(installation: Installation, tag: str) -> set[str]:
    """Breakers that reach a conductor, which has to be certain."""
    held = fact(installation, tag, "breakers")
    assert held.kind == EXACT
    return tags(held.value)


SWITCH_LOOP = """
cables:
  W1: {type: 14/2 NM-B with ground, from: A 1, to: B1}
  W2: {type: 14/2 NM-B with ground, from: B1, to: B2}
joints:
  J1: {at: B1, ends: [W1 black, W2 white]}
  J2: {at: B1, ends: [W2 black, L1 hot]}
  J3: {at: B1, ends: [W1 white, L1 neutral]}
  J4: {at: B1, ends: [W1 bare, W2 bare]}
devices:
  L1: {kind: lampholder, at: B1}
  S1: {kind: switch, at: B2, terminals: {line: W2 white, load: W2 black, ground: W2 bare}}
"""


def test_switch_loop_with_a_white_supply() -> None:
    """A white conductor joined to a breaker is ungrounded; what comes back from the switch is switched.

    Source of the practice: NFPA 70 (NEC) 200.7(C)(1), white as the supply of a switch in cable.
    """
    installation = made(SWITCH_LOOP)
    functions = {tag: function(installation, tag) for tag in
                 ("W1 black", "W1 white", "W1 bare", "W2 white", "W2 black", "W2 bare")}  # fmt: skip
    assert functions == {"W1 black": "ungrounded", "W1 white": "grounded", "W1 bare": "grounding",
                         "W2 white": "ungrounded", "W2 black": "switched", "W2 bare": "grounding"}  # fmt: skip
    assert feeds(installation, "W2 black") == {"A 1"}
    assert fact(installation, "W2 white", "switch_supply").value is True
    assert fact(installation, "W2 black", "switch_supply").value is False
    assert tags(fact(installation, "W1 white", "return_of", "net").value if False else
                installation.item("net", "W1 white").data["return_of"].value) == {"A 1"}  # fmt: skip


THREE_WAY = """
cables:
  W1: {type: 14/2, from: A 1, to: B1}
  T1: {type: 14/3, from: B1, to: B2}
  W2: {type: 14/2, from: B2, to: B3}
joints:
  J1: {at: B1, ends: [W1 white, T1 white]}
  J2: {at: B2, ends: [T1 white, W2 white]}
devices:
  S1: {kind: three-way switch, at: B1, terminals: {common: W1 black, traveller_1: T1 black, traveller_2: T1 red}}
  S2: {kind: three-way switch, at: B2, terminals: {common: W2 black, traveller_1: T1 black, traveller_2: T1 red}}
  L1: {kind: lampholder, at: B3, wired_to: W2}
"""


def test_three_way_pair_has_two_travellers() -> None:
    """Either traveller can be the live one, and the common of the far switch is reached by both."""
    installation = made(THREE_WAY)
    assert [function(installation, f"T1 {c}") for c in ("black", "red", "white")] == [
        "traveller",
        "traveller",
        "grounded",
    ]
    assert function(installation, "W2 black") == "switched"
    assert all(feeds(installation, tag) == {"A 1"} for tag in ("T1 black", "T1 red", "W2 black"))
    assert fact(installation, "T1 red", "switch_supply").value is True


FOUR_WAY = """
cables:
  W1: {type: 14/2, from: A 1, to: B1}
  T1: {type: 14/3, from: B1, to: B2}
  T2: {type: 14/3, from: B2, to: B3}
  W2: {type: 14/2, from: B3, to: metal}
joints:
  J1: {at: B1, ends: [W1 white, T1 white]}
  J2: {at: B2, ends: [T1 white, T2 white]}
  J3: {at: B3, ends: [T2 white, W2 white]}
devices:
  S1: {kind: three-way switch, at: B1, terminals: {common: W1 black, traveller_1: T1 black, traveller_2: T1 red}}
  S2:
    kind: four-way switch
    at: B2
    terminals: {traveller_1: T1 black, traveller_2: T1 red, traveller_3: T2 black, traveller_4: T2 red}
  S3: {kind: three-way switch, at: B3, terminals: {common: W2 black, traveller_1: T2 black, traveller_2: T2 red}}
  L1: {kind: lampholder, at: metal, wired_to: W2}
"""


def test_four_way_in_the_middle_passes_both_pairs() -> None:
    """All four travellers are travellers and the lamp is reached."""
    installation = made(FOUR_WAY)
    travellers = [f"{cable} {colour}" for cable, colour in product(("T1", "T2"), ("black", "red"))]
    assert {function(installation, tag) for tag in travellers} == {"traveller"}
    assert function(installation, "W2 black") == "switched"
    assert feeds(installation, "W2 black") == {"A 1"}


def test_dead_end_three_way_does_not_feed_back_through_its_own_switch() -> None:
    """Fed on one traveller, a three-way reaches its common and never its other traveller."""
    installation = made("""
cables:
  W1: {type: '14', from: A 1, to: B1}
  W2: {type: '14', from: B1, to: {at: B2, black: capped}}
  W3: {type: '14', from: B1, to: {at: B3, black: capped}}
devices:
  S1: {kind: three-way switch, at: B1, terminals: {traveller_1: W1 black, traveller_2: W2 black, common: W3 black}}
""")
    assert function(installation, "W1 black") == "ungrounded"
    assert function(installation, "W3 black") == "switched"
    assert function(installation, "W2 black") == "isolated"
    assert feeds(installation, "W2 black") == set()


def test_carter_three_way_is_fed_and_grounded_at_once() -> None:
    """Hot and neutral on the travellers: the common is switched, and its lamp can stand live with the switch off.

    Common practice, no source: the arrangement known in the trade as Carter, no longer allowed.
    """
    installation = made("""
cables:
  W1: {type: 14/2, from: A 1, to: B1}
  W2: {type: '14', from: B1, to: B2}
devices:
  S1: {kind: three-way switch, at: B1, terminals: {traveller_1: W1 black, traveller_2: W1 white, common: W2 black}}
""")
    assert [function(installation, t) for t in ("W1 black", "W1 white")] == ["ungrounded", "grounded"]
    assert fact(installation, "W2 black", "function").value == "switched"
    assert feeds(installation, "W2 black") == {"A 1"}
    assert feeds(installation, "W1 white") == set()


GFCI = """
cables:
  W1: {type: 14/2 NM-B with ground, from: A 1, to: B1}
  W2: {type: 14/2 NM-B with ground, from: B1, to: B2}
joints:
  J1: {at: B1, ends: [W1 bare, W2 bare, R1 ground]}
devices:
  R1:
    kind: duplex receptacle
    at: B1
    protection: ground-fault
    terminals: {hot: W1 black, neutral: W1 white, load_hot: W2 black, load_neutral: W2 white}
  R2: {kind: duplex receptacle, at: B2, wired_to: W2}
"""


def test_ground_fault_receptacle_feeds_through() -> None:
    """Behind a protective device a conductor stays ungrounded or grounded, and returns on its own neutral."""
    installation = made(GFCI)
    assert [function(installation, f"W2 {c}") for c in ("black", "white", "bare")] == [
        "ungrounded",
        "grounded",
        "grounding",
    ]
    assert feeds(installation, "W2 black") == {"A 1"}
    assert installation.item("net", "W1 black") is not fact_net(installation, "W2 black")
    assert tags(fact_net(installation, "W2 white").data["return_of"].value) == {"A 1"}
    assert fact(installation, "A 1", "receptacles", "breaker").value == 4


def fact_net(installation: Installation, tag: str) -> Item:
    net: Item = installation.item("conductor", tag).data["net"]
    return net


def test_multiwire_circuit_on_a_two_pole_breaker() -> None:
    """Two legs, one neutral, one breaker: the neutral returns for that breaker alone."""
    installation = made(
        """
cables:
  W1: {type: 14/3 NM-B with ground, from: A 1/3, to: B1}
joints:
  J1: {at: B1, ends: [W1 white, R1 neutral, R2 neutral]}
devices:
  R1: {kind: duplex receptacle, at: B1, terminals: {hot: W1 black, ground: W1 bare}}
  R2: {kind: duplex receptacle, at: B1, terminals: {hot: W1 red}}
""",
        "A: {breakers: {1/3: 15}}",
    )
    assert [function(installation, f"W1 {c}") for c in ("black", "red", "white")] == [
        "ungrounded",
        "ungrounded",
        "grounded",
    ]
    assert fact_net(installation, "W1 black") is not fact_net(installation, "W1 red")
    assert tags(fact_net(installation, "W1 white").data["return_of"].value) == {"A 1/3"}
    assert not any(net.data["breakers_meet"].value for net in installation.items["net"])
    assert fact(installation, "A 1/3", "legs", "breaker").value == ("L1", "L2")


def test_load_on_two_poles_takes_white_as_ungrounded() -> None:
    """A 240 V load on a two-conductor cable: white lands on the second pole and is ungrounded."""
    installation = made(
        "cables: {W1: {type: 12/2 NM-B with ground, from: A 5/7, to: H1}}\n"
        "devices: {H1: {kind: heater, terminals: {hot: W1 black, hot_2: W1 white, ground: W1 bare}}}",
        "A: {breakers: {5/7: 20}}",
    )
    assert [function(installation, f"W1 {c}") for c in ("black", "white", "bare")] == [
        "ungrounded",
        "ungrounded",
        "grounding",
    ]
    assert feeds(installation, "W1 white") == {"A 5/7"}
    assert tags(fact(installation, "H1", "breakers", "device").value) == {"A 5/7"}


def test_sub_panel_starts_circuits_of_its_own() -> None:
    """A feeder ends at the lugs and bars of the panel it feeds; breakers there are new sources."""
    installation = made(
        """
cables:
  F1:
    type: 8/3 NM-B with ground
    from: A 5/7
    to: {at: C, black: lug 1, red: lug 2, white: neutral bar, bare: ground bar}
  W1: {type: 14/2, from: C 1, to: {at: B1, black: capped, white: capped}}
""",
        "A: {breakers: {5/7: 40}}, C: {fed_from: A 5/7, breakers: {1: 15}}",
    )
    assert function(installation, "F1 black") == "ungrounded"
    assert feeds(installation, "F1 black") == {"A 5/7"}
    assert function(installation, "F1 white") == "grounded"
    assert function(installation, "F1 bare") == "grounding"
    assert feeds(installation, "W1 black") == {"C 1"}
    assert tags(installation.item("circuit", "A 5/7").data["cables"]) == {"F1"}


def test_service_lugs_are_live_without_a_breaker() -> None:
    """What lands on a lug and on no breaker is ungrounded, with no breaker ahead of it."""
    installation = made("cables: {W1: {type: '14', from: {at: A, black: lug 1}, to: {at: B1, black: loose}}}")
    assert function(installation, "W1 black") == "ungrounded"
    assert feeds(installation, "W1 black") == set()


@pytest.mark.parametrize(
    ("spot", "expected"),
    [
        pytest.param("ground bar", "grounding", id="bare on the ground bar"),
        pytest.param("neutral bar", "grounding", id="bare on the neutral bar of a bonded panel"),
    ],
)
def test_bare_on_a_bar_is_grounding(spot: str, expected: str) -> None:
    """Where neutral and enclosure are bonded, grounds and neutrals share bars.

    Source: NFPA 70 (NEC) 250.24(A), 408.40 (from memory).
    """
    installation = made(
        f"cables: {{W1: {{type: 14/2 with ground, from: {{at: A, bare: {spot}, white: neutral bar, black: breaker 1}}, "
        "to: {at: B1, black: capped, white: capped, bare: loose}}}"
    )
    assert function(installation, "W1 bare") == expected
    assert function(installation, "W1 white") == "grounded"


UNTRACED = """
cables:
  W1: {type: 14/2, from: A 1, to: {at: B1, black: capped, white: capped}}
  W2: {type: 14/2, from: A 3, to: {not_seen: down inside the wall}}
  W3: {type: 14/2, from: B2, to: not traced}
devices:
  R1: {kind: duplex receptacle, at: B2, wired_to: W3}
"""


def test_untraced_cable_lists_exactly_the_breakers_that_can_feed_it() -> None:
    """A breaker whose wiring is traced to every end cannot; one with an untraced end or without a wire can."""
    installation = made(UNTRACED)
    held = fact(installation, "W3 black", "breakers")
    assert (held.kind, [tags(value) for value in held.values]) == (ASSUMED, [{"A 3"}, {"A 5"}])
    assert fact_net(installation, "W3 black").data["fed_by"] is held, "one fact, so that it varies together"
    assert fact(installation, "R1", "breakers", "device").kind == ASSUMED
    assert fact(installation, "B2", "breakers", "box").kind == ASSUMED
    assert feeds(installation, "W2 black") == {"A 3"}


def test_untraced_cable_with_no_breaker_left_is_not_seen() -> None:
    """When every breaker is traced to its last end, where the cable comes from is not known at all."""
    installation = made(
        "cables:\n  W1: {type: '14', from: A 1, to: {at: B1, black: capped}}\n  W2: {type: '14', from: B2, to: not traced}",
        "A: {breakers: {1: 15}}",
    )
    assert fact(installation, "W2 black", "breakers").kind == UNSEEN


@pytest.mark.parametrize(
    ("text", "tag", "how", "values"),
    [
        pytest.param("devices: {R1: {kind: duplex receptacle, at: B1, terminals: {neutral: W1 black}}}", "W1 black",
                     "terminal it lands on", ("grounded", "ungrounded", "switched", "traveller"), id="by its terminal"),
        pytest.param("", "W1 white", "insulation colour", ("grounded", "ungrounded", "switched", "traveller"),
                     id="white by colour"),
        pytest.param("", "W1 black", "insulation colour", ("ungrounded", "switched", "traveller", "grounded"),
                     id="black by colour"),
        pytest.param("", "W1 bare", "insulation colour", ("grounding",), id="bare by colour"),
        pytest.param("joints: {J1: {at: B1, ends: [W1 white, W1 black]}}", "W1 white", "insulation colour",
                     ("ungrounded", "switched", "traveller", "grounded"), id="joined to black it is taken as live"),
        pytest.param("devices: {S1: {kind: three-way switch, at: B1, terminals: {traveller_1: W1 white}}}", "W1 white",
                     "terminal it lands on", ("traveller", "grounded", "ungrounded", "switched"), id="on a traveller"),
        pytest.param("devices: {S1: {kind: switch, at: B1, terminals: {load: W1 white}}}", "W1 white",
                     "terminal it lands on", ("switched", "grounded", "ungrounded", "traveller"), id="on a load screw"),
    ],
)  # fmt: skip
def test_without_a_connection_the_function_is_weak(text: str, tag: str, how: str, values: tuple[str, ...]) -> None:
    """The stated function comes from the terminal, else from the colour; all that the colour allows stays possible."""
    installation = made(f"cables: {{W1: {{type: 14/2 with ground, from: B1, to: not traced}}}}\n{text}")
    held = fact(installation, tag, "function")
    assert (held.kind, held.how, held.values[0], set(held.values)) == (WEAK, how, values[0], set(values))


def test_function_without_any_clue_is_not_seen() -> None:
    """No connection, no terminal, no colour: not seen, and no colour is made up for it."""
    installation = made("cables: {W1: {gauge: 14, conductors: {one: {}}, from: B1, to: not traced}}")
    assert fact(installation, "W1 one", "function").kind == UNSEEN


def test_every_colour_that_was_listed_stays_possible() -> None:
    """A colour of which a person lists two leaves the functions of both."""
    installation = made(
        "cables: {W1: {gauge: 14, conductors: {one: {colour: bare or black}}, from: B1, to: not traced}}"
    )
    assert set(fact(installation, "W1 one", "function").values) == {
        "grounding",
        "ungrounded",
        "switched",
        "traveller",
        "grounded",
    }


def test_cut_cable_is_isolated() -> None:
    """Both ends accounted for and nothing at them: isolated, by no breaker; this is not a proof that it is dead."""
    installation = made(
        "cables: {W1: {type: 14/2, from: {at: B1, black: cut, white: cut}, to: {at: B2, black: capped, white: cut}}}"
    )
    assert function(installation, "W1 black") == "isolated"
    assert feeds(installation, "W1 black") == set()


def test_open_neutral_is_live_through_its_load() -> None:
    """Behind a lamp whose neutral leads nowhere the neutral stands at line voltage. Circuit theory."""
    installation = made("""
cables:
  W1: {type: 14/2, from: A 1, to: B1}
  W2: {type: 14/2, from: B1, to: B2}
joints: {J1: {at: B1, ends: [W1 black, W2 black]}, J2: {at: B1, ends: [W2 white]}}
devices: {L1: {kind: lampholder, at: B2, terminals: {hot: W2 black, neutral: W2 white}}}
""")
    assert function(installation, "W2 white") == "ungrounded"
    assert feeds(installation, "W2 white") == {"A 1"}
    assert "through the load L1" in fact(installation, "W2 white", "function").note


def test_neutral_that_two_circuits_lost_is_live_from_both() -> None:
    """The shared neutral of two loads, cut from the bar: either breaker makes it live. Circuit theory."""
    installation = made("""
cables:
  W1: {type: '14', from: A 1, to: B1}
  W2: {type: '14', from: A 3, to: B1}
  W3: {type: 14/2, from: B1, to: {at: B2, black: capped, white: loose}}
joints: {J1: {at: B1, ends: [L1 neutral, L2 neutral, W3 white]}, J2: {at: B1, ends: [W3 black]}}
devices:
  L1: {kind: lampholder, at: B1, terminals: {hot: W1 black}}
  L2: {kind: lampholder, at: B1, terminals: {hot: W2 black}}
""")
    assert feeds(installation, "W3 white") == {"A 1", "A 3"}
    assert function(installation, "W3 white") == "ungrounded"
    assert function(installation, "W3 black") == "isolated"


def test_what_hangs_behind_a_load_on_an_untraced_cable_is_not_certain() -> None:
    """A closed conductor behind the load of an untraced one can be live: neither isolated nor certain."""
    installation = made("""
cables:
  W1: {type: '14', from: not traced, to: B1}
  W2: {type: '14', from: B1, to: {at: B2, black: capped}}
devices: {L1: {kind: lampholder, at: B1, terminals: {hot: W1 black, neutral: W2 black}}}
""")
    assert fact(installation, "W2 black", "function").kind == WEAK
    assert fact(installation, "W2 black", "breakers").kind == ASSUMED


def test_device_that_nobody_identified_is_an_open_end() -> None:
    """What lands on a device of unseen kind can go on through it: nothing behind it is certain."""
    installation = made("""
cables:
  W1: {type: '14', from: A 1, to: B1}
  W2: {type: '14', from: B1, to: {at: B2, black: capped}}
devices: {D1: {kind: {not_seen: painted shut}, at: B1, terminals: {line: W1 black, load: W2 black}}}
""")
    assert fact(installation, "W2 black", "function").kind == WEAK
    assert "A 1" in {tag for value in fact(installation, "W2 black", "breakers").values for tag in tags(value)}
    assert fact_net(installation, "W2 black").data["fully_traced"].value is False


def test_device_of_doubtful_kind_may_join_what_any_of_its_kinds_joins() -> None:
    """A receptacle or a switch: what is behind it is taken to be reached."""
    installation = made("""
cables:
  W1: {type: '14', from: A 1, to: B1}
  W2: {type: '14', from: B1, to: {at: B2, black: capped}}
devices: {D1: {kind: timer or switch, at: B1, terminals: {line: W1 black, load: W2 black}}}
""")
    assert function(installation, "W2 black") == "switched"
    assert feeds(installation, "W2 black") == {"A 1"}


def test_bare_joined_to_black_is_ungrounded_and_names_the_metal() -> None:
    """The bare conductor does what it is joined to; metal on it is named, as far as it can be metal."""
    installation = made("""
cables:
  W1: {type: 14/2 with ground, from: A 1, to: metal}
  W2: {type: 14/2 with ground, from: metal, to: B2}
joints:
  J1: {at: metal, ends: [W1 black, W2 black, W2 bare, box]}
  J2: {at: metal, ends: [W1 white, W2 white]}
devices: {R1: {kind: duplex receptacle, at: B2, wired_to: W2}}
""")
    assert function(installation, "W2 bare") == "ungrounded"
    net = fact_net(installation, "W2 bare")
    assert tags(net.data["grounding_conductors"]) == {"W2 bare"}
    assert [words for words in net.data["metal_parts"].value if "metal box" in words] == ["the metal box metal"]
    assert any(words.startswith("R1: ") for words in net.data["metal_parts"].value)
    assert function(installation, "W1 bare") == "grounding"


MEETING = """
cables:
  W1: {{type: 14/2, from: A 1, to: B1}}
  W2: {{type: 14/2, from: A {other}, to: B1}}
joints: {joints}
devices: {devices}
"""


@pytest.mark.parametrize(
    ("joints", "devices", "met_at", "solid"),
    [
        pytest.param("{J1: {at: B1, ends: [W1 black, W2 black]}}", "{}", ["W1 black"], True, id="solidly"),
        pytest.param("{}", "{S1: {kind: switch, at: B1, terminals: {line: W1 black, load: W2 black}}}", ["W1 black"], False,
                     id="through a switch, named once"),
        pytest.param("{J1: {at: B1, ends: [W1 black, S1 line, W2 white]}}",
                     "{S1: {kind: switch, at: B1, terminals: {load: W2 black}}}", ["W1 black"], False,
                     id="through a switch with a neutral on it"),
    ],
)  # fmt: skip
@pytest.mark.parametrize(
    ("other", "legs"),
    [pytest.param(3, {"L1", "L2"}, id="opposite legs"), pytest.param(5, {"L1"}, id="same leg")],
)
def test_breakers_meet(joints: str, devices: str, met_at: list[str], solid: bool, other: int, legs: set[str]) -> None:
    """Where two breakers meet, and the legs by the order of spaces: 1 and 5 on one, 3 on the other.

    Common practice, no source: rows of a panel alternate between the legs, two spaces a row.
    """
    installation = made(MEETING.format(joints=joints, devices=devices, other=other))
    meeting = [net for net in installation.items["net"] if net.data["breakers_meet"].value]
    assert [net.tag for net in meeting] == met_at
    assert tags(meeting[0].data["fed_by"].value) == {"A 1", f"A {other}"}
    assert (len(meeting[0].data["breakers"].value) == 2) is solid
    stated = [breaker.data["legs"] for breaker in meeting[0].data["fed_by"].value]
    assert {legs.value[0] for legs in stated} == legs
    assert {held.kind for held in stated} == {WEAK}


def test_a_second_meeting_of_other_breakers_is_named_too() -> None:
    """Breakers 1 and 3 meet solidly; 5 joins them through a switch at another place and is not left out."""
    installation = made("""
cables:
  W1: {type: '14', from: A 1, to: B1}
  W2: {type: '14', from: A 3, to: B1}
  W3: {type: '14', from: A 5, to: B2}
  W4: {type: '14', from: B1, to: B2}
joints: {J1: {at: B1, ends: [W1 black, S0 common]}}
devices:
  S0: {kind: three-way switch, at: B1, terminals: {traveller_1: W2 black, traveller_2: W4 black}}
  S1: {kind: switch, at: B2, terminals: {line: W4 black, load: W3 black}}
""")
    met = {
        frozenset(tags(net.data["fed_by"].value))
        for net in installation.items["net"]
        if net.data["breakers_meet"].value
    }
    every = [set(tags(net.data["fed_by"].value)) for net in installation.items["net"]]
    assert all(any(fed <= shown for shown in met) for fed in every if len(fed) > 1)
    assert {"A 1", "A 3"} in met or any({"A 1", "A 3"} <= shown for shown in met)


@pytest.mark.parametrize(
    ("tab", "kind", "values"),
    [
        pytest.param(", tab: in place", EXACT, (True,), id="in place"),
        pytest.param(", tab: removed", EXACT, (False,), id="removed"),
        pytest.param("", WEAK, (True, False), id="not recorded"),
        pytest.param(", tab: {not_seen: face not taken off}", WEAK, (True, False), id="not seen"),
    ],
)
def test_breakers_that_only_a_tab_joins(tab: str, kind: str, values: tuple[bool, ...]) -> None:
    """The break-off tab of a receptacle decides whether two circuits meet; unrecorded it is as the device is made."""
    installation = made(f"""
cables: {{W1: {{type: '14', from: A 1, to: B1}}, W2: {{type: '14', from: A 3, to: B1}}}}
devices: {{R1: {{kind: duplex receptacle, at: B1{tab}, terminals: {{hot: W1 black, hot_2: W2 black}}}}}}
""")
    held = fact_net(installation, "W1 black").data["breakers_meet"]
    assert (held.kind, held.values) == (kind, values)


def test_box_that_holds_two_circuits() -> None:
    """A box counts what ends in it and what passes through it."""
    installation = made("""
cables:
  W1: {type: 14/2, from: A 1, to: {at: B1, black: capped, white: capped}}
  W2: {type: 14/2, from: A 3, to: {at: B2, black: capped, white: capped}, passes: {B1: unbroken}}
""")
    assert tags(fact(installation, "B1", "breakers", "box").value) == {"A 1", "A 3"}
    assert tags(fact(installation, "B2", "breakers", "box").value) == {"A 3"}
    assert tags(installation.item("circuit", "A 3").data["boxes"]) == {"B1", "B2"}


def test_shared_neutral_returns_for_both() -> None:
    """One neutral for the loads of two breakers, one of them not traced: the untraced one stays open."""
    text = """
cables:
  W1: {{type: 14/2, from: A 1, to: B1}}
  W2: {{type: '14', from: {source}, to: B1}}
joints: {{J1: {{at: B1, ends: [W1 white, L1 neutral, L2 neutral]}}}}
devices:
  L1: {{kind: lampholder, at: B1, terminals: {{hot: W1 black}}}}
  L2: {{kind: lampholder, at: B1, terminals: {{hot: W2 black}}}}
"""
    certain = fact_net(made(text.format(source="A 3")), "W1 white").data["return_of"]
    assert (certain.kind, tags(certain.value)) == (EXACT, {"A 1", "A 3"})
    unsure = fact_net(made(text.format(source="not traced")), "W1 white").data["return_of"]
    assert unsure.kind == ASSUMED
    assert [tags(value) for value in unsure.values] == [{"A 1", "A 3"}, {"A 1", "A 5"}]


def test_thinnest_conductor_needs_every_size() -> None:
    """The smallest size on the circuit; not seen as soon as one size is doubtful."""
    text = """
cables:
  W1: {{type: 10/2, from: A 1, to: B1}}
  W2: {{type: 12/2, from: B1, to: {{at: B2, black: capped, white: capped}}{more}}}
joints: {{J1: {{at: B1, ends: [W1 black, W2 black]}}}}
"""
    assert tags(fact(made(text.format(more="")), "A 1", "thinnest", "circuit").value) == {"W2 black"}
    assert fact(made(text.format(more=", gauge: 14 or 12")), "A 1", "thinnest", "circuit").kind == UNSEEN
    weak = fact(made(text.format(more=", gauge: {is: 12, how: by eye}")), "A 1", "thinnest", "circuit")
    assert weak.kind == UNSEEN


def test_receptacle_count_of_a_circuit_with_an_open_end_is_not_certain() -> None:
    """More can hang on an end that was not traced."""
    text = """
cables:
  W1: {{type: 14/2, from: A 1, to: B1}}
  W2: {{type: 14/2, from: B1, to: {end}}}
joints: {{J1: {{at: B1, ends: [W1 black, W2 black, R1 hot]}}, J2: {{at: B1, ends: [W1 white, W2 white, R1 neutral]}}}}
devices: {{R1: {{kind: duplex receptacle, at: B1}}}}
"""
    closed = fact(made(text.format(end="{at: B2, black: capped, white: capped}")), "A 1", "receptacles", "breaker")
    assert (closed.kind, closed.values) == (EXACT, (2,))
    assert fact(made(text.format(end="not traced")), "A 1", "receptacles", "breaker").kind == WEAK


def test_ties_of_ties_are_one_circuit() -> None:
    """Three single-pole breakers tied in a row open together: one circuit, whichever comes first in the file."""
    orders = [
        "1: {amps: 15, tied_with: 3}, 3: {amps: 15, tied_with: 5}, 5: 15",
        "5: 15, 3: {amps: 15, tied_with: 5}, 1: {amps: 15, tied_with: 3}",
    ]
    for order in orders:
        installation = made("cables: {W1: {type: '14', from: A 1, to: B1}}", f"A: {{breakers: {{{order}}}}}")
        assert [circuit.tag for circuit in installation.items["circuit"]] == ["A 1 and A 3 and A 5"]


def test_every_traced_fact_is_in_the_catalogue() -> None:
    """What the trace and the record put on items by the name of a fact is named in the fact catalogue."""
    from asfound.judge.views import facts_of

    for seed in SEEDS:
        for kind, items in house_of(seed, wild=0.4)[1].items.items():
            for item in items:
                facts = [name for name, held in item.data.items() if isinstance(held, Fact)]
                assert set(facts) <= {*facts_of(kind)}, f"{kind} {item.tag}"


def test_an_item_is_found_by_kind_and_tag() -> None:
    """And one that is not there is a `KeyError` that names it."""
    installation = made(SWITCH_LOOP)
    assert installation.item("joint", "J2").tag == "J2"
    with pytest.raises(KeyError, match="joint J9"):
        installation.item("joint", "J9")


# -- what a claim that something is dead rests on


CLAIM = """
instruments: {M1: {type: multimeter}, M2: {type: clamp meter}}
cables:
  W1: {type: 14/3 with ground, from: A 1/3, to: {at: B1, black: capped, red: capped, white: capped, bare: capped}}
  W2: {type: 14/2 with ground, from: A 5, to: {at: B2, black: capped, white: capped, bare: capped}}
readings:
  - {tag: K1, kind: voltage, between: [A 5, A neutral bar], value: 121 V, instrument: M1, known_source: true}
  - {tag: K2, kind: voltage, between: [A 5, A neutral bar], value: 121 V, instrument: M1, known_source: true}
  - {tag: K3, kind: voltage, between: [A 5, A neutral bar], value: 121 V, instrument: M2, known_source: true}
  - {tag: K4, kind: voltage, between: [A 5, A neutral bar], value: 3 V, instrument: M1, known_source: true}
  - {tag: bn, kind: voltage, between: [W2 black, W2 white], value: 0.1 V, instrument: M1}
  - {tag: bg, kind: voltage, between: [W2 black, W2 bare], value: 0.1 V, instrument: M1}
  - {tag: ng, kind: voltage, between: [W2 white, W2 bare], value: 0.0 V, instrument: M1}
  - {tag: hot, kind: voltage, between: [W2 black, W2 bare], value: 118 V, instrument: M1}
  - {tag: silent, kind: non-contact, between: [W2 black], value: silent}
  - {tag: 1n, kind: voltage, between: [W1 black, W1 white], value: 0.1 V, instrument: M1}
  - {tag: 2n, kind: voltage, between: [W1 red, W1 white], value: 0.1 V, instrument: M1}
  - {tag: 1g, kind: voltage, between: [W1 black, W1 bare], value: 0.1 V, instrument: M1}
  - {tag: 2g, kind: voltage, between: [W1 red, W1 bare], value: 0.1 V, instrument: M1}
  - {tag: gn, kind: voltage, between: [W1 white, W1 bare], value: 0.1 V, instrument: M1}
  - {tag: both, kind: voltage, between: [W1 black, W1 red], value: 0.1 V, instrument: M1}
log:
"""
BEFORE = "instrument check on a known live source before"
AFTER = "instrument check on a known live source after"
CONTACT = "a test with an instrument that touches the conductor"
EVERY = ["test ungrounded to grounded", "test ungrounded to ground", "test grounded to ground"]


@pytest.mark.parametrize(
    ("steps_taken", "what", "missing"),
    [
        pytest.param("K1 bn bg ng K2", "W2", [], id="live, dead, live again"),
        pytest.param("K1 bn bg ng K2", "W2 black", [], id="one conductor of it"),
        pytest.param("", "W2", [CONTACT, *EVERY, BEFORE, AFTER], id="nothing at all"),
        pytest.param("K1 silent K2", "W2", [CONTACT, *EVERY, BEFORE, AFTER], id="a silent non-contact tester proves nothing"),
        pytest.param("bn bg ng K2", "W2", [BEFORE], id="instrument not proved before"),
        pytest.param("K1 bn bg ng", "W2", [AFTER], id="instrument not proved after"),
        pytest.param("K1 bn bg ng K4", "W2", [AFTER], id="the known source was dead itself"),
        pytest.param("K3 bn bg ng K3", "W2", [BEFORE, AFTER], id="another instrument was proved"),
        pytest.param("K1 bn ng K2", "W2", ["test ungrounded to ground"], id="ungrounded to ground left out"),
        pytest.param("K1 bn bg K2", "W2", ["test grounded to ground"], id="grounded to ground left out"),
        pytest.param("K1 bn bg ng hot K2", "W2", ["a reading near zero (reading hot shows 118 V)"], id="one reading was not near zero"),
        pytest.param("K1 bn bg ng K2 / A 5", "W2", [CONTACT, *EVERY, BEFORE, AFTER], id="something was switched afterwards"),
        pytest.param("K1 1n 2n 1g 2g gn both K2", "W1", [], id="two legs, every pair"),
        pytest.param("K1 1n 1g gn K2", "W1", ["test W1 red to grounded", "test W1 red to ground", "test W1 black to W1 red"],
                     id="one of two legs was tested and stands for the other in nothing"),
        pytest.param("K1 bn bg ng K2", "W1", ["test W1 black to grounded", "test W1 black to ground", "test W1 red to grounded",
                     "test W1 red to ground", "test W1 black to W1 red", "test grounded to ground", CONTACT, BEFORE, AFTER],
                     id="another cable was tested"),
        pytest.param("K1 bn bg ng K2", "A 5", [], id="called dead by its breaker"),
    ],
)  # fmt: skip
def test_proof_of_dead(steps_taken: str, what: str, missing: list[str]) -> None:
    """Live-dead-live on every relevant pair, with one instrument, and nothing switched in between.

    Source: NFPA 70E 120.5 and the DOE Electrical Safety Handbook (standard practice); 29 CFR 1910.333(b)(2)(iv).
    """
    readings, _, switched = steps_taken.partition(" / ")
    lines = [f"  - {{did: tested, what: W2, readings: [{tag}]}}" for tag in readings.split()]
    lines += [f"  - {{did: switched, what: {switched}, to: off}}"] if switched else []
    lines += [f"  - {{did: called dead, what: {what}}}"]
    installation = made(CLAIM + "\n".join(lines), "A: {breakers: {1/3: 15, 5: 20}}")
    (claim,) = installation.items["claim"]
    assert sorted(claim.data["missing"].value) == sorted(missing)


def test_claims_keep_their_names_when_the_log_grows() -> None:
    """A step put in before a claim renames nothing; the same claim twice has two names."""
    claims = "  - {did: called dead, what: W2}\n  - {at: '10:05', did: called dead, what: W2}\n  - {did: called dead, what: W2}\n"
    panel = "A: {breakers: {1/3: 15, 5: 20}}"
    short = [claim.tag for claim in made(CLAIM + claims, panel).items["claim"]]
    grown = [claim.tag for claim in made(CLAIM + "  - {did: opened, what: B2}\n" + claims, panel).items["claim"]]
    assert short == grown == ["W2", "10:05 W2", "W2 (2)"]


# -- the work grows as the record does


def steps(record: dict[str, Any]) -> int:
    """Python lines that the trace of a record runs: the same number in every run, on every machine.

    A loop on one line counts each time round.
    """
    built = read_record(load_bytes(houses.as_bytes(record), "house.yaml"))
    count = 0

    def each(_frame: Any, event: str, _argument: Any) -> Any:
        nonlocal count
        count += event == "line"
        return each

    before = sys.gettrace()
    sys.settrace(each)
    try:
        trace(built)
    finally:
        sys.settrace(before)
    return count


GROWING = [
    pytest.param(houses.one_joint, 60, id="one joint of many ends"),
    pytest.param(houses.chain, 40, id="a chain of cables"),
    pytest.param(houses.many_breakers, 40, id="many breakers joined into one net"),
    pytest.param(lambda n: houses.many_breakers(n, n), 30, id="many breakers and many receptacles on one net"),
    pytest.param(houses.breakers_through_switches, 40, id="many breakers that meet through switches"),
    pytest.param(houses.many_switches, 40, id="one hot net with many switches"),
    pytest.param(lambda n: houses.many_switches(n, "three-way switch"), 40, id="one hot net with many three-ways"),
    pytest.param(houses.three_way_ladder, 20, id="three-way pairs in a row"),
    pytest.param(houses.many_claims, 60, id="many claims that something is dead"),
    pytest.param(lambda n: houses.house(1, cables=n, wild=0.1), 60, id="a random house"),
    pytest.param(lambda n: houses.house(1, cables=n, wild=0.1, untraced=0.6), 60, id="a house that is mostly untraced"),
]


@pytest.mark.parametrize(("shape", "size"), GROWING)
def test_four_times_the_record_is_four_times_the_work(shape: Any, size: int) -> None:
    """Counted in lines that are run, so that no busy machine can spoil it: 4 is linear, 16 would be quadratic."""
    assert steps(shape(4 * size)) < 5.2 * steps(shape(size))
