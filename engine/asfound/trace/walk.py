"""The way outward: from each breaker along conductors as they are joined, place by place.

The ungrounded way decides. From a breaker it goes along the conductors on its
poles, through joints, screws, tabs, switches and feed-through devices, never
through a load, and the shortest way counts. A cable has one `Run` in full: in
the circuit whose breaker it lands on, else in the first that reaches it. Met
again, by a ring, a second feed or a second circuit in the same cable, it is
only referred to. What no way from a breaker meets is gathered into groups that
hang together by conductors that may be live.

Linear in conductors, joints and terminals, without recursion, and in order of
tags, so that the order of a file changes nothing.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, field

from asfound.pause import collector_paused
from asfound.record.facts import Fact, Item
from asfound.record.model import Record
from asfound.trace.circuits import Installation
from asfound.trace.nets import Pole, by_tag, groups_of, in_order, pole_order
from asfound.trace.reach import MAX_JOINED

Spot = Item | tuple[str, str]
"""Where conductors meet: a joint, or a terminal as device tag and name."""
Station = str | Item
"""Where on a cable: its end `from` or `to`, or a box that it passes through uncut."""
NOT_LIVE = ("grounded", "grounding")
MAX_SWITCHES = 4
"""Switches on one way that are still named; the nearest are kept."""


@dataclass(frozen=True, slots=True, eq=False)
class Wire:
    """One conductor on a way: where on its cable it was met, the last switches ahead of it, what is doubtful ahead."""

    conductor: Item
    entered: Station
    switches: tuple[Item, ...] = ()
    doubt: str = ""


@dataclass(slots=True, eq=False)
class Use:
    """A device on a way: its terminals that are reached, and how."""

    device: Item
    terminals: list[str]
    switches: tuple[Item, ...]
    doubt: str


@dataclass(slots=True, eq=False)
class Stop:
    """A place as one way meets it: devices there, cables that go on from it, and conductors met before elsewhere."""

    place: Item | None
    uses: dict[Item, Use] = field(default_factory=dict, repr=False)
    runs: list[Run] = field(default_factory=list, repr=False)
    meets: dict[Item, Item] = field(default_factory=dict, repr=False)  # conductor met again: by which conductor


@dataclass(slots=True, eq=False)
class Run:
    """A cable on a way. `whole` where it is shown in full; `stops` by where on the cable, `start` the first of them.

    `wires` are its conductors on this way; none where all belong to another
    circuit and only something beyond is of this one.
    """

    cable: Item
    branch: Branch = field(repr=False)
    start: Station
    whole: bool = False
    wires: list[Wire] = field(default_factory=list, repr=False)
    stops: dict[Station, Stop] = field(default_factory=dict, repr=False)

    def beyond(self) -> Iterator[tuple[Station, Stop]]:
        """The stops that the way comes to along this cable, passed boxes before the end."""
        return ((station, stop) for station, stop in self.stops.items() if station != self.start)


@dataclass(slots=True, eq=False)
class Branch:
    """One tree: of a circuit, or of a group that no way from a breaker meets (then `circuit` is None)."""

    circuit: Item | None
    root: Stop = field(repr=False)
    poles: tuple[Pole, ...] = ()
    wires: list[Wire] = field(default_factory=list, repr=False)


@dataclass(slots=True)
class Walk:
    """Everything that was walked. `whole` is the run of each cable in full, `run_of` the run of each conductor.

    `stray` are groups without a way from a breaker, `bare` the cables that only
    ground or return, by all that is known.
    """

    circuits: list[Branch]
    stray: list[Branch]
    bare: list[Item]
    whole: dict[Item, Run]
    run_of: dict[Item, Run]
    used: set[Item]  # devices on some way
    met: Meetings


def walk(installation: Installation, first: Item | None = None) -> Walk:
    """Walk outward from every breaker, panel by panel; from the circuit `first` before all others when it is given."""
    with collector_paused():
        walker = _Walker(installation)
        circuits = sorted(in_panel_order(installation), key=lambda circuit: circuit is not first)
        branches = [walker.circuit(circuit) for circuit in circuits]
        walker.claim(branches)
        for branch in branches:
            walker.follow(branch)
        stray, bare = walker.rest()
    return Walk(branches, stray, bare, walker.whole, walker.run_of, walker.used, walker.met)


def panels_in_order(record: Record) -> list[Item]:
    """Panels in order of tags, each behind the one that feeds it."""
    fed: dict[Item | None, list[Item]] = {}
    for panel in by_tag(record.panels.values()):
        feeder = next(iter(panel.data["feeder"]), None)
        fed.setdefault(None if feeder is None else feeder.data["panel"], []).append(panel)
    found: list[Item] = []
    waiting = fed.get(None, [])[::-1]
    while waiting:
        panel = waiting.pop()
        found.append(panel)
        waiting += fed.get(panel, [])[::-1]
    return found


def in_panel_order(installation: Installation) -> list[Item]:
    """Circuits panel by panel, in order of spaces."""
    number = {panel: place for place, panel in enumerate(panels_in_order(installation.record))}

    def order(circuit: Item) -> tuple[object, ...]:
        breaker = circuit.data["breakers"].value[0]
        return number[breaker.data["panel"]], in_order(breaker)

    return sorted(installation.items["circuit"], key=order)


def may_be_live(wire: Item) -> bool:
    """Whether a conductor or net can be live by what it does; what is not known can."""
    function: Fact = wire.data["function"]
    return not function.values or any(value not in NOT_LIVE for value in function.values)


def stations(record: Record) -> dict[Item, dict[Station, Item | None]]:
    """For each cable where it goes: its end `from`, the boxes it passes through, its end `to`."""
    passed: dict[Item, dict[Item, None]] = {}
    for box in record.boxes.values():
        for conductor in (*box.data["passing"], *box.data["looped"]):
            passed.setdefault(conductor.data["cable"], {})[box] = None
    found: dict[Item, dict[Station, Item | None]] = {}
    for cable in record.cables.values():
        found[cable] = {"from": cable.data["sides"]["from"]}
        found[cable].update((box, box) for box in by_tag(passed.get(cable, ())))
        found[cable]["to"] = cable.data["sides"]["to"]
    return found


def _taken_by(end: Item, taker: str) -> bool:
    """Whether an end of a conductor is in this joint or under this terminal."""
    state: Fact = end.data["state"]
    return state.values in (("spliced",), ("landed",)) and state.note == taker


@dataclass(frozen=True, slots=True)
class Edge:
    """A way from one spot to another inside a device: by a `tab`, a `switch` or a protective `feed`; or by a `pigtail`.

    What a device may be, and may not, counts as a switch.
    """

    to: Spot
    device: Item | None
    sort: str
    doubt: str = ""


class Meetings:
    """What meets where: `at` the conductors on each spot with where on their cables, `beside` the ways on from it."""

    def __init__(self, record: Record) -> None:
        self.record = record
        self.at: dict[Spot, list[tuple[Item, Station]]] = {}
        self.beside: dict[Spot, list[Edge]] = {}
        self.spots: dict[Item, list[tuple[Spot, Station]]] = {}
        for joint in by_tag(record.joints.values()):
            members = record.joint_members[joint.tag]
            taker, box = f"joint {joint.tag}", next(iter(joint.data["box"]), None)
            self._on(joint, by_tag(member for sort, member in members if sort == "conductor"), taker, box)
            for device, name in sorted((member[0].tag, member[1]) for sort, member in members if sort == "terminal"):
                self._beside(joint, (device, name), None, "pigtail")
        for (tag, name), conductors in sorted(record.terminals.items()):
            box = next(iter(record.devices[tag].data["box"]), None)
            self._on((tag, name), by_tag(conductors), f"{tag} {name}", box)
        for device in by_tag(record.devices.values()):
            self._inside(device)

    def _on(self, spot: Spot, conductors: Iterable[Item], taker: str, box: Item | None) -> None:
        held = self.at.setdefault(spot, [])
        self.beside.setdefault(spot, [])
        for conductor in conductors:
            ends = zip(conductor.data["ends"], ("from", "to"), strict=True)
            here: list[Station] = [side for end, side in ends if _taken_by(end, taker)]
            if not here and box is not None:  # no end of it is here: a loop of it, uncut
                here.append(box)
            for station in here:
                held.append((conductor, station))
                self.spots.setdefault(conductor, []).append((spot, station))

    def _inside(self, device: Item) -> None:
        """Ways through one device; what it may join, by what its kind can be, is doubtful."""
        groups = groups_of(device)
        tab = device.data.get("tab")
        said = tab.values if isinstance(tab, Fact) else ()
        kind = "" if len(groups) == 1 else f"through {device.tag}, whose kind is not certain"
        for group in groups:
            for sort in ("tab", "switch", "feed"):
                if sort == "tab" and said == ("removed",):
                    continue
                doubt = kind
                if sort == "tab" and said != ("in place",):
                    doubt = doubt or f"through the tab of {device.tag}, taken to be in place"
                for one, two in group.get(sort, ()):
                    if (device.tag, one) in self.at and (device.tag, two) in self.at:  # something is recorded on both
                        self._beside((device.tag, one), (device.tag, two), device, "switch" if kind else sort, doubt)

    def _beside(self, one: Spot, two: Spot, device: Item | None, sort: str, doubt: str = "") -> None:
        for here, there in ((one, two), (two, one)):
            self.at.setdefault(here, [])
            self.beside.setdefault(here, []).append(Edge(there, device, sort, doubt))


@dataclass(frozen=True, slots=True)
class _Way:
    """How a way has come so far; `came` is the switch by which it entered the net that it is on."""

    switches: tuple[Item, ...] = ()
    doubt: str = ""
    came: Item | None = None

    def along(self, edge: Edge) -> _Way:
        """The way with one more step."""
        if edge.device is None:
            return self
        doubt = self.doubt or edge.doubt
        if edge.sort == "tab":  # the same net still
            return _Way(self.switches, doubt, self.came)
        if edge.sort == "feed":
            return _Way(self.switches, doubt)
        more = () if edge.device in self.switches else (edge.device,)
        return _Way((*self.switches, *more)[-MAX_SWITCHES:], doubt, edge.device)


class _Walker:
    def __init__(self, installation: Installation) -> None:
        self.installation = installation
        self.record = installation.record
        self.met = Meetings(self.record)
        self.stations = stations(self.record)
        self.nets = dict(zip(installation.items["net"], installation.poles, strict=True))
        self.terminal_net = {
            (terminal.data["device"].tag, terminal.data["name"]): terminal.data["net"]
            for terminal in installation.items["terminal"]
        }
        self.poles: dict[Item, list[Pole]] = {}
        for pole, (breaker, _) in self.record.poles.items():
            self.poles.setdefault(breaker, []).append(pole)
        self.landed: dict[Pole, list[tuple[Item, Station]]] = {}
        self.claimed: dict[Item, Branch] = {}  # conductors on a pole, by the circuit of that pole
        self.home: dict[Item, Branch] = {}  # their cables, by the circuit in which they are whole
        self.whole: dict[Item, Run] = {}
        self.run_of: dict[Item, Run] = {}
        self.reached: dict[Spot, Item] = {}
        self.used: set[Item] = set()
        self._landings()

    def _landings(self) -> None:
        taken: dict[tuple[Item, str], int] = {}
        for conductor, panel, spot in self.record.landings:
            ends = zip(conductor.data["ends"], ("from", "to"), strict=True)
            here = [side for end, side in ends if end.data["at"] is self.record.panels[panel]]
            turn = taken[conductor, panel] = taken.get((conductor, panel), -1) + 1
            self.landed.setdefault((panel, spot), []).append((conductor, here[min(turn, len(here) - 1)]))
        for held in self.landed.values():
            held.sort(key=lambda pair: in_order(pair[0]))

    # -- circuits

    def circuit(self, circuit: Item) -> Branch:
        """The tree of a circuit, with nothing in it but its breakers."""
        breakers = circuit.data["breakers"].value
        poles = sorted((pole for breaker in breakers for pole in self.poles[breaker]), key=pole_order)
        return Branch(circuit, Stop(breakers[0].data["panel"]), tuple(poles))

    def claim(self, branches: Iterable[Branch]) -> None:
        """Give each conductor on a pole, and its cable, to the circuit of that pole."""
        for branch in branches:
            for pole in branch.poles:
                for conductor, _ in self.landed.get(pole, ()):
                    self.claimed.setdefault(conductor, branch)
                    self.home.setdefault(conductor.data["cable"], branch)

    def follow(self, branch: Branch) -> None:
        """Walk from the poles of a circuit, over all that the trace says they reach."""
        own = set(branch.poles)
        known: dict[int, bool] = {}

        def allowed(net: Item) -> bool:
            poles = self.nets[net]
            if id(poles) not in known:
                known[id(poles)] = not own.isdisjoint(poles)
            return known[id(poles)] and not net.data["live_through"].value  # through a load alone is no way

        tree = _Tree(self, branch, allowed)
        for pole in branch.poles:
            for conductor, station in self.landed.get(pole, ()):
                tree.enter(conductor, station, branch.root, _Way(), conductor)
        tree.grow()

    def crowded(self, conductor: Item) -> bool:
        """Whether so many breakers meet on its net that they are not followed one by one; or none does."""
        return len(self.nets[conductor.data["net"]]) not in range(1, MAX_JOINED + 1)

    # -- what no circuit reaches

    def rest(self) -> tuple[list[Branch], list[Item]]:
        """Groups of cables that no circuit has in full, and the cables that only ground or return."""
        left = [cable for cable in by_tag(self.record.cables.values()) if cable not in self.whole]
        free = {cable: self._free(cable) for cable in left}
        bare = [cable for cable in left if cable.data["conductors"] and not free[cable]]
        groups: list[list[Item]] = []
        done: set[Item] = set(bare)
        for cable in left:
            if cable not in done:
                done.add(cable)
                groups.append(self._group(cable, free, done))
        return [self._stray(group, free) for group in groups], bare

    def _free(self, cable: Item) -> list[Item]:
        return [one for one in cable.data["conductors"] if one not in self.run_of and may_be_live(one)]

    def _group(self, cable: Item, free: dict[Item, list[Item]], done: set[Item]) -> list[Item]:
        """The cables that hang together with this one by conductors that may be live."""
        group, seen = [cable], set()
        for one in group:
            spots: list[Spot] = [spot for c in free[one] for spot, _ in self.met.spots.get(c, ())]
            for spot in spots:
                if spot in seen:
                    continue
                seen.add(spot)
                spots += [edge.to for edge in self.met.beside[spot] if self._open_to(edge.to)]
                for other, _ in self.met.at[spot]:
                    other_cable = other.data["cable"]
                    if other_cable not in done and other in free.get(other_cable, ()):
                        done.add(other_cable)
                        group.append(other_cable)
        return by_tag(group)

    def _open_to(self, spot: Spot) -> bool:
        """Whether a way that no breaker feeds can go on by a spot."""
        net = self.terminal_net.get(spot) if isinstance(spot, tuple) else None
        return spot not in self.reached and (net is None or may_be_live(net))

    def _stray(self, group: list[Item], free: dict[Item, list[Item]]) -> Branch:
        """The tree of a group, from a cable that goes where nobody looked, else from the first."""
        lost = ((cable, side) for cable in group for side in ("from", "to") if self._lost(cable, side, free[cable]))
        start, side = next(lost, (group[0], "from"))
        branch = Branch(None, Stop(self.stations[start][side]))
        tree = _Tree(self, branch, may_be_live)
        for cable in (start, *group):  # nearly always all are reached from the first
            at = side if cable is start else "from"
            for conductor in free[cable]:
                if conductor not in self.run_of:
                    tree.enter(conductor, at, branch.root, _Way(), conductor)
                    for spot, station in self.met.spots.get(conductor, ()):
                        if station == at and cable is start:
                            tree.expand(spot, conductor, branch.root, _Way())
            if not free[cable] and cable not in self.whole:
                tree.own(tree.run(cable, at, branch.root))
            tree.grow()
        return branch

    @staticmethod
    def _lost(cable: Item, side: str, conductors: Iterable[Item]) -> bool:
        """Whether this end of a cable is nowhere known, or is there and not traced."""
        number = ("from", "to").index(side)
        if cable.data["sides"][side] is None:
            return True
        return any(not one.data["ends"][number].data["state"].values for one in conductors)


class _Tree:
    """One tree while it grows, breadth first, so that the shortest way to each cable counts.

    A way also goes along conductors that another circuit has already, because
    more can lie beyond that only this one reaches; what leads to nothing new is
    taken out again, and a mark left where it was met.
    """

    def __init__(self, walker: _Walker, branch: Branch, allowed: Callable[[Item], bool]) -> None:
        self.walker = walker
        self.branch = branch
        self.allowed = allowed
        self.runs: dict[Item, Run] = {}
        self.under: dict[Run, Stop] = {}
        self.met: set[Item] = set()
        self.reached: dict[Spot, Item] = {}
        self.marks: dict[Run, list[tuple[Item, Item]]] = {}  # conductors another circuit has, by what they were met
        self.queue: deque[tuple[Run, Wire, _Way]] = deque()
        self.barred: deque[tuple[Edge, Item, Stop, _Way]] = deque()  # back through the switch just passed

    def grow(self) -> None:
        """Follow every way to its end, then prune."""
        while self.queue or self.barred:
            if self.queue:
                run, wire, way = self.queue.popleft()
                for spot, station in self.walker.met.spots.get(wire.conductor, ()):
                    if station != wire.entered:
                        self.expand(spot, wire.conductor, run.stops[station], way)
            else:
                edge, conductor, stop, way = self.barred.popleft()
                if edge.to not in self.reached:
                    self.expand(edge.to, conductor, stop, way.along(edge))
        self._prune()

    def _prune(self) -> None:
        """Take out the cables that lead to nothing of this circuit alone."""
        empty: set[Run] = set()
        for run in reversed(self.under):
            for _, stop in run.beyond():
                stop.runs = [further for further in stop.runs if further not in empty]
            if not run.wires and not run.whole and not any(stop.uses or stop.runs for _, stop in run.beyond()):
                empty.add(run)
                for conductor, by in self.marks.get(run, ()):
                    self.under[run].meets.setdefault(conductor, by)
        self.branch.root.runs = [run for run in self.branch.root.runs if run not in empty]

    def run(self, cable: Item, station: Station, stop: Stop) -> Run:
        """The run of a cable in this tree; a new one starts at `stop`."""
        found = self.runs.get(cable)
        if found is None:
            places = self.walker.stations[cable]
            order = list(places) if station != "to" else list(places)[::-1]
            stops = {one: stop if one == station else Stop(places[one]) for one in order}
            found = self.runs[cable] = Run(cable, self.branch, station, stops=stops)
            self.under[found] = stop
            stop.runs.append(found)
        return found

    def own(self, run: Run) -> None:
        """Show a cable in full here, unless it is, or will be, in another circuit."""
        walker = self.walker
        if run.cable not in walker.whole and walker.home.get(run.cable, self.branch) is self.branch:
            run.whole = True
            walker.whole[run.cable] = run

    def enter(
        self, conductor: Item, station: Station, stop: Stop, way: _Way, by: Item, *, marked: bool = False
    ) -> None:
        """Go on along a conductor from a stop, or note that it was met before; `by` is what it is joined to.

        `marked` when the stop says already that another circuit comes here.
        """
        walker = self.walker
        if conductor in self.met:
            if stop not in self.runs[conductor.data["cable"]].stops.values():
                stop.meets.setdefault(conductor, by)
            return
        taken = conductor in walker.run_of or walker.claimed.get(conductor, self.branch) is not self.branch
        if taken and walker.crowded(conductor):
            if not marked:
                stop.meets.setdefault(conductor, by)
            return
        self.met.add(conductor)
        run = self.run(conductor.data["cable"], station, stop)
        wire = Wire(conductor, station, way.switches, way.doubt)
        if taken:
            if not marked:
                self.marks.setdefault(run, []).append((conductor, by))
        else:
            if run.stops[station] is not stop:
                stop.meets.setdefault(conductor, by)
            run.wires.append(wire)
            self.own(run)
            walker.run_of[conductor] = run
            self.branch.wires.append(wire)
        self.queue.append((run, wire, way))

    def expand(self, spot: Spot, conductor: Item, stop: Stop, way: _Way) -> None:
        """Go on from a spot that a conductor comes to, through all that is joined to it at this place."""
        walker = self.walker
        if spot in self.reached:
            self._again(self.reached[spot], conductor, stop)
            return
        before = walker.reached.get(spot)
        self.reached[spot] = conductor
        if before is not None and conductor in walker.run_of and walker.run_of[conductor].branch is self.branch:
            stop.meets.setdefault(before, conductor)
            if walker.crowded(conductor):
                return
        queue = [(spot, way)]
        for here, so_far in queue:
            new = here not in walker.reached
            walker.reached.setdefault(here, conductor)
            if isinstance(here, tuple) and new:
                self._use(here, stop, so_far)
            for other, station in walker.met.at[here]:
                if other is not conductor:
                    self.enter(other, station, stop, so_far, conductor, marked=before is not None)
            for edge in walker.met.beside[here]:
                if edge.to in self.reached or not self._may(edge.to):
                    continue
                if edge.sort == "switch" and edge.device is so_far.came:
                    self.barred.append((edge, conductor, stop, so_far))
                    continue
                self.reached[edge.to] = conductor
                queue.append((edge.to, so_far.along(edge)))

    def _again(self, other: Item, conductor: Item, stop: Stop) -> None:
        """A spot was reached before by another conductor: a ring."""
        run = self.runs.get(other.data["cable"])
        if other is not conductor and (run is None or stop not in run.stops.values()):
            stop.meets.setdefault(other, conductor)

    def _may(self, spot: Spot) -> bool:
        net = self.walker.terminal_net.get(spot) if isinstance(spot, tuple) else None
        return net is None or self.allowed(net)

    def _use(self, spot: tuple[str, str], stop: Stop, way: _Way) -> None:
        device = self.walker.record.devices[spot[0]]
        self.walker.used.add(device)
        use = stop.uses.get(device)
        if use is None:
            use = stop.uses[device] = Use(device, [], way.switches, way.doubt)
        use.terminals.append(spot[1])
