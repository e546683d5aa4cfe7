"""What was walked, as plain values: one line for each thing met, in the order in which it is read.

Linear in what was walked, and without recursion.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import replace

from asfound.record.facts import EXACT, NOT_RECORDED, UNSEEN, WEAK, Fact, Item
from asfound.render.factwords import cable_words, device_words, doubt_words, where_words
from asfound.render.flags import Flags
from asfound.render.values import (
    BY_LOOK,
    DOUBTFUL,
    NOT_TRACED,
    SEEN,
    Breaker,
    Circuit,
    End,
    Feed,
    Group,
    Lead,
    Line,
    Panel,
    Spot,
    Trace,
)  # fmt: skip
from asfound.trace.circuits import MAX_CANDIDATES, Installation
from asfound.trace.left import left
from asfound.trace.nets import Pole, by_tag, in_order
from asfound.trace.state import DEAD, LIVE, TREAT
from asfound.trace.walk import NOT_LIVE, Branch, Run, Station, Stop, Use, Walk, Wire, may_be_live, panels_in_order
from asfound.wording import quoted_list

HERE = "this tree"
CONTRADICTION = "READINGS, LOG AND TRACE CONTRADICT EACH OTHER HERE"
JOINED = (("spliced",), ("landed",))


class Rows:
    """Makes lines. `flags` are the findings by the item that they are shown at."""

    def __init__(self, installation: Installation, walked: Walk, flags: Flags) -> None:
        self.installation = installation
        self.record = installation.record
        self.walked = walked
        self.flags = flags
        self.poles = dict(zip(installation.items["net"], installation.poles, strict=True))
        self.groups = {branch: number for number, branch in enumerate(walked.stray, 1)}
        self.left = left(self.record)
        self.described: set[Item] = set()  # boxes at which a tree shows what was found
        self._fed: dict[Item, tuple[Feed, str]] = {}
        self.fed: dict[Item, list[str]] = {}  # panels by the breaker that feeds them
        for panel in panels_in_order(self.record):
            for breaker in panel.data["feeder"]:
                self.fed.setdefault(breaker, []).append(panel.tag)
        self.landing: dict[Item, list[tuple[Item, str]]] = {}
        for conductor, tag, spot in self.record.landings:
            self.landing.setdefault(conductor, []).append((self.record.panels[tag], spot))

    def trace(self) -> Trace:
        """Everything."""
        circuits = [self.circuit(branch) for branch in self.walked.circuits]
        groups = [self.group(branch) for branch in self.walked.stray]
        return Trace(
            panels=[self.panel(panel) for panel in panels_in_order(self.record)],
            circuits=circuits,
            groups=groups,
            bare=[self._bare(cable, number) for number, cable in enumerate(self.walked.bare)],
            devices=self._unused(),
            places=self._unmet(),
            flags=self.flags.elsewhere,
        )

    def panel(self, panel: Item) -> Panel:
        """A panel, with the tags of its circuits in order of spaces."""
        feeder = panel.data["feeder"]
        service = panel.data.get("service", NOT_RECORDED)
        fed_by = feeder[0].tag if feeder else "supply" if service.values == (True,) else ""
        circuits = dict.fromkeys(circuit.tag for breaker in sorted(panel.data["breakers"], key=in_order)
                                 for circuit in breaker.data["circuits"])  # fmt: skip
        return Panel(panel.tag, panel.data["where"], fed_by, self.flags.at(panel), list(circuits))

    def circuit(self, branch: Branch) -> Circuit:
        """A circuit with everything that its breakers reach."""
        circuit = branch.circuit
        assert circuit is not None
        breakers = circuit.data["breakers"].value
        landed = {(panel.tag, spot) for wire in branch.wires for panel, spot in self.landing.get(wire.conductor, ())}
        landed |= {place for met in branch.root.meets for place in self._spaces(met)}
        return Circuit(
            circuit=circuit.tag,
            panel=breakers[0].data["panel"].tag,
            breakers=[self._breaker(breaker, landed) for breaker in breakers],
            feeds=[tag for breaker in breakers for tag in self.fed.get(breaker, ())],
            state=worst(wire.conductor for wire in branch.wires),
            flags=[flag for item in (circuit, *breakers) for flag in self.flags.at(item)],
            lines=_Lines(self, branch).lines,
        )

    def _spaces(self, conductor: Item) -> Iterator[tuple[str, str]]:
        return ((panel.tag, spot) for panel, spot in self.landing.get(conductor, ()))

    def _breaker(self, breaker: Item, landed: set[tuple[str, str]]) -> Breaker:
        panel = breaker.data["panel"].tag
        spaces = breaker.tag.removeprefix(f"{panel} ").split("/")
        bare = [space for space in spaces if (panel, space) not in landed]
        held = self.left.get(breaker)
        return Breaker(
            breaker=breaker.tag,
            rating=doubt_words(breaker.data.get("amps"), " A") or "amperes not seen",
            kind=doubt_words(breaker.data.get("kind")),
            legs=doubt_words(breaker.data.get("legs")),
            directory=doubt_words(breaker.data.get("label")),
            found=doubt_words(breaker.data.get("state")),
            log=held.words if held is not None and not held.found else "",
            bare_spaces=bare,
            spare=breaker.tag in self.record.spare,
        )

    def group(self, branch: Branch) -> Group:
        """A group with what can feed it: one entry for each fact, because a group can hang on more than one."""
        feeds = self.feeds(wire.conductor for wire in branch.wires)
        if not feeds:
            feeds.append(Feed([], [], [], True, ["no conductor of it is recorded"]))
        return Group(self.groups[branch], feeds, _Lines(self, branch).lines)

    def feeds(self, conductors: Iterable[Item]) -> list[Feed]:
        """What feeds conductors or can, those of which the same is known together."""
        by_net: dict[Item, list[str]] = {}
        for conductor in conductors:
            by_net.setdefault(conductor.data["net"], []).append(conductor.tag)
        made: dict[str, Feed] = {}
        for net, tags in by_net.items():
            if net not in self._fed:
                feed = self._feed(net)
                self._fed[net] = feed, repr(feed)
            feed, key = self._fed[net]
            made.setdefault(key, replace(feed, conductors=[])).conductors.extend(tags)
        return list(made.values())

    def _feed(self, net: Item) -> Feed:
        """What can feed a net, by the trace and by the switching tests on it, for no conductors yet."""
        fact: Fact = net.data["fed_by"]
        source = self.installation.sources.get(net)
        if source is None:
            certain = _tags(fact.value) if fact.kind in (EXACT, WEAK) else []
            can = dict.fromkeys(breaker for value in fact.values for breaker in value)
            return Feed([], certain, [tag for tag in _tags(can) if tag not in certain], not fact.values, [fact.note])
        more = [reason for reason in source.reasons if reason not in fact.note and not reason.endswith("feed it too")]
        more += [CONTRADICTION] if source.contradictions else []
        sure = dict.fromkeys((*source.certain, *(fact.value if fact.kind == EXACT else ())))
        elsewhere = source.elsewhere or bool(source.contradictions)
        can_be = _tags(source.possible)
        if len(can_be) > MAX_CANDIDATES:
            can_be, elsewhere = [], True
            more.append(f"{len(source.possible)} breakers can")
        return Feed([], _tags(sure), can_be, elsewhere, [fact.note, *more])

    def _bare(self, cable: Item, number: int) -> Line:
        sides = cable.data["sides"]
        line = Line(number, None, 0, "cable", cable.tag, cable_words(cable), traced=NOT_TRACED)
        line.start, line.to = (self.spot(cable, side, sides[side]) for side in ("from", "to"))
        line.leads = [self.lead(Wire(one, "from"), "from", ()) for one in cable.data["conductors"]]
        line.traced = SEEN if all(one.data["function"].kind is EXACT for one in cable.data["conductors"]) else BY_LOOK
        line.ends = [end for side in ("from", "to") for end in self.ends(cable, side)]
        line.flags = self.flags.at(cable)
        return line

    def _unused(self) -> list[Line]:
        devices = by_tag(device for device in self.record.devices.values() if device not in self.walked.used)
        lines = []
        for number, device in enumerate(devices):
            line = Line(number, None, 0, "device", device.tag, device_words(device), traced=NOT_TRACED)
            place = next(iter(device.data["box"]), None)
            line.to = Spot(place.tag, place.kind) if place is not None else None
            line.flags = self.flags.at(device)
            lines.append(line)
        return lines

    def _unmet(self) -> list[Line]:
        """Places that no tree comes to, as far as no cable is recorded there or something was found."""
        unmet = (box for box in by_tag(self.record.boxes.values()) if box not in self.described)
        boxes = [box for box in unmet if not box.data["cables"] or self.flags.at(box)]
        lines = []
        for number, box in enumerate(boxes):
            cables = quoted_list((cable.tag for cable in by_tag(dict.fromkeys(box.data["cables"]))), 6)
            line = Line(
                number, None, 0, "at", box.tag, cables and f"no way leads here; cables {cables}", traced=NOT_TRACED
            )
            line.to, line.flags = self.place(box), self.flags.at(box)
            lines.append(line)
        return lines

    # -- parts of lines

    def spot(self, cable: Item, station: Station, place: Item | None) -> Spot:
        """Where a cable comes to, or why that is not known."""
        if place is None:
            number = ("from", "to").index(str(station))
            reasons = [one.data["ends"][number].data["reason"] for one in cable.data["conductors"]]
            return Spot("", reason=next(iter(reasons), "not recorded"))
        return self.place(place)

    def place(self, place: Item) -> Spot:
        """A place that is known."""
        where = where_words(place) if place.kind != "panel" else ""
        kind = place.data.get("kind", NOT_RECORDED) if place.kind == "box" else NOT_RECORDED
        no_box = "no box" in kind.values
        is_open = "no" if not no_box else "yes" if kind.kind == EXACT else "perhaps"
        return Spot(place.tag, place.kind, where, is_open)

    def ends(self, cable: Item, side: str) -> list[End]:
        """The ends of a cable at one side that are neither spliced nor under a terminal.

        Of conductors that only ground or return, those of which something was written. A white one of which nobody
        wrote where it ends is not yet an open end.
        """
        number = ("from", "to").index(side)
        place = cable.data["sides"][side]
        found = []
        for conductor in cable.data["conductors"]:
            end = conductor.data["ends"][number]
            state: Fact = end.data["state"]
            live = may_be_live(conductor)
            if place is None or (state.values[:1] in JOINED and place.kind != "panel"):
                continue
            if state.kind is UNSEEN and state.note == NOT_RECORDED.note and not live:
                continue
            words = self._end_words(conductor, place, state)
            if words:
                is_open = state.values[:1] not in (("capped",), *JOINED) if state.values else likely_live(conductor)
                is_open = live and is_open
                found.append(End(conductor.tag, place_name(place), words, is_open))
        return found

    def _end_words(self, conductor: Item, place: Item, state: Fact) -> str:
        if place.kind == "panel" and state.values[:1] == ("landed",):
            spots = [spot for panel, spot in self.landing.get(conductor, ()) if panel is place]
            return next((f"on {spot}" for spot in spots if spot.startswith("lug")), "")
        if state.kind is UNSEEN:
            return "not recorded" if state.note == NOT_RECORDED.note else f"not seen: {state.note}"
        return doubt_words(state)

    def lines_from(self, run: Run) -> list[Line]:
        """The lines of a cable and of all that is beyond it on its way."""
        return _Lines(self, run.branch, run).lines

    def traced(self, run: Run) -> tuple[str, str]:
        """How far a cable is traced, and what is doubtful on the way to it."""
        if run.branch.circuit is None and run in run.branch.root.runs:
            return NOT_TRACED, ""
        doubt = next((wire.doubt for wire in run.wires if wire.doubt), "")
        if doubt:
            return DOUBTFUL, doubt
        exact = all(wire.conductor.data["function"].kind == EXACT for wire in run.wires)
        return (SEEN if exact else BY_LOOK), ""

    def landing_words(self, conductor: Item) -> str:
        """Where in a panel a conductor lands: `panel A, space 6` or `panel A, neutral bar`; empty when in none."""
        found = (f"panel {panel.tag}, {spot if ' ' in spot else f'space {spot}'}"
                 for panel, spot in self.landing.get(conductor, ()))  # fmt: skip
        return " and ".join(found)

    def lead(self, wire: Wire, start: Station, own: tuple[Pole, ...]) -> Lead:
        conductor = wire.conductor
        function: Fact = conductor.data["function"]
        poles = [" ".join(pole) for pole in self.poles[conductor.data["net"]] if pole in own] if len(own) > 1 else []
        known = SEEN if function.kind == EXACT else function.how if function.values else "not known"
        does = str(function.value) if function.values else ""
        state = state_of(conductor)
        return Lead(conductor.tag, does, known, wire.entered != start, poles, *state)


class _Lines:
    """The lines of one tree, depth first, without recursion."""

    def __init__(self, rows: Rows, branch: Branch, only: Run | None = None) -> None:
        self.rows = rows
        self.branch = branch
        self.own = set(branch.circuit.data["breakers"].value) if branch.circuit is not None else set()
        self.lines: list[Line] = []
        self.seen: set[Item] = set()  # places that were described in this tree
        self._grow(branch.root if only is None else Stop(None, runs=[only]))

    def _grow(self, root: Stop) -> None:
        """The lines of a stop and of all beyond it."""
        waiting: list[tuple[Run | tuple[Run, Station, Stop], int | None, int]] = []

        def open_up(stop: Stop, under: int | None, depth: int) -> None:
            for use in sorted(stop.uses.values(), key=lambda use: in_order(use.device)):
                self._use(use, under, depth)
            for conductor, by in sorted(stop.meets.items(), key=lambda pair: in_order(pair[0])):
                self._again(conductor, by, under, depth)
            runs = sorted(stop.runs, key=lambda run: in_order(run.cable), reverse=True)
            waiting.extend((run, under, depth) for run in runs)

        open_up(root, None, 0)
        while waiting:
            held, under, depth = waiting.pop()
            if isinstance(held, tuple):
                run, station, stop = held
                line = self._add("at", stop.place.tag if stop.place is not None else "", under, depth)
                line.to = self.rows.spot(run.cable, station, stop.place)
                line.what = self._how(run.cable, stop.place)
                line.state = worst(wire.conductor for wire in run.wires)
                self._describe(line, stop.place)
                open_up(stop, line.line, depth + 1)
                continue
            number = self._run(held, under, depth)
            *passed, (_, last) = held.beyond()
            open_up(last, number, depth + 1)
            busy = [(held, station, stop) for station, stop in passed if _busy(stop)]
            waiting.extend((one, number, depth + 1) for one in reversed(busy))

    def _add(self, kind: str, item: str, under: int | None, depth: int) -> Line:
        line = Line(len(self.lines), under, depth, kind, item)
        self.lines.append(line)
        return line

    def _run(self, run: Run, under: int | None, depth: int) -> int:
        rows, cable = self.rows, run.cable
        line = self._add("cable", cable.tag, under, depth)
        *passed, (station, last) = run.beyond()
        line.what = cable_words(cable)
        line.to = rows.spot(cable, station, last.place)
        line.leads = [rows.lead(wire, run.start, self.branch.poles) for wire in run.wires]
        line.state = cable_state(run)
        line.read_live = also_live(run, last.place)
        line.traced, line.doubt = rows.traced(run)
        quiet = [stop.place for _, stop in passed if stop.place is not None and not _busy(stop)]
        line.passes = [f"{self._how(cable, place)} {place.tag}" for place in quiet]
        self._feeds(line, run)
        if not run.whole:
            whole = rows.walked.whole.get(cable)
            line.shown_under = self._name(whole.branch) if whole is not None else ""
        else:
            line.flags = list(rows.flags.at(cable))
            line.ends = [end for side in _sides(run.start) for end in rows.ends(cable, side)]
        if self.branch.circuit is None and run in self.branch.root.runs:
            line.start = rows.spot(cable, run.start, self.branch.root.place)
            if self.branch.root.place is not None:
                self._flag(line, self.branch.root.place)
        self._describe(line, last.place)
        return line.line

    def _feeds(self, line: Line, run: Run) -> None:
        """Breakers other than those of the circuit that feed it, or can."""
        if self.branch.circuit is None:
            return
        also: dict[Item, None] = {}
        can: dict[Item, None] = {}
        for wire in run.wires:
            net = wire.conductor.data["net"]
            fed_by: Fact = net.data["fed_by"]
            fed = fed_by.value if fed_by.values else ()
            also.update(dict.fromkeys(breaker for breaker in fed if breaker not in self.own))
            source = self.rows.installation.sources.get(net)
            if source is not None:
                can.update(dict.fromkeys(source.possible[: MAX_CANDIDATES + 1]))
                line.elsewhere = line.elsewhere or source.elsewhere
                line.reasons = [CONTRADICTION] if source.contradictions else line.reasons
        line.also_fed_by = _tags(by_tag(also))
        line.can_be_fed_by = [tag for tag in _tags(by_tag(can)) if tag not in line.also_fed_by]
        if len(can) > MAX_CANDIDATES:
            line.can_be_fed_by, line.elsewhere = [], True
            line.reasons = [*line.reasons, f"more than {MAX_CANDIDATES} breakers can feed it too"]

    def _describe(self, line: Line, place: Item | None) -> None:
        """What is to be said of the place that a line leads to, where it is met first in this tree."""
        if place is None or line.to is None:
            return
        if place in self.seen:
            line.to.where = ""
        elif self._flag(line, place) and line.to.open != "no":
            line.splices_in_open = _tags(by_tag(place.data["joints"]))

    def _flag(self, line: Line, place: Item) -> bool:
        """Show the flags of a box at this line, once in a tree."""
        if place in self.seen or place.kind != "box":
            return False
        self.seen.add(place)
        self.rows.described.add(place)
        line.flags = [*line.flags, *self.rows.flags.at(place)]
        return True

    @staticmethod
    def _how(cable: Item, box: Item | None) -> str:
        looped = box is not None and any(one.data["cable"] is cable for one in box.data["looped"])
        return "with a loop through" if looped else "unbroken through"

    def _use(self, use: Use, under: int | None, depth: int) -> None:
        line = self._add("device", use.device.tag, under, depth)
        if under is None and self.branch.root.place is not None:
            line.to = self.rows.place(self.branch.root.place)
        line.what = device_words(use.device)
        line.state = worst(device_conductors(self.rows.walked, use.device))
        line.switched_by = [switch.tag for switch in use.switches if switch is not use.device]
        line.traced, line.doubt = (DOUBTFUL, use.doubt) if use.doubt else (SEEN, "")
        odd = [name for name in use.terminals if name in ("neutral", "load_neutral", "ground")]
        line.reasons = [f"FED AT ITS {name.replace('_', ' ').upper()} TERMINAL" for name in odd]
        line.flags = self.rows.flags.at(use.device)

    def _again(self, conductor: Item, by: Item, under: int | None, depth: int) -> None:
        line = self._add("again", conductor.tag, under, depth)
        run = self.rows.walked.run_of.get(conductor)
        line.what = f"joined here to {by.tag}" if by is not conductor else "lands here"
        line.state = worst([conductor])
        line.shown_under = self._name(run.branch) if run is not None else ""

    def _name(self, branch: Branch) -> str:
        if branch is self.branch:
            return HERE
        return branch.circuit.tag if branch.circuit is not None else f"group {self.rows.groups[branch]}"


def _busy(stop: Stop) -> bool:
    """Whether anything goes on at a stop."""
    return bool(stop.uses or stop.runs or stop.meets)


def place_name(place: Item | None) -> str:
    """A place by its tag, a panel with the word; empty when it is not known."""
    if place is None:
        return ""
    return f"panel {place.tag}" if place.kind == "panel" else str(place.tag)


def likely_live(conductor: Item) -> bool:
    """Whether a conductor is live by its stated function, or nobody knows what it does."""
    function: Fact = conductor.data["function"]
    return not function.values or function.value not in NOT_LIVE


def state_of(conductor: Item) -> tuple[str, str]:
    """State and reason; what has none is treated as live."""
    fact = conductor.data.get("state")
    return (fact.value, fact.note) if isinstance(fact, Fact) and fact.values else (TREAT, "")


def worst(conductors: Iterable[Item]) -> str:
    """The state of several conductors together: live when one is, proven dead only when all are."""
    words = [state_of(conductor)[0] for conductor in conductors]
    if LIVE in words:
        return LIVE
    return DEAD if words and all(word == DEAD for word in words) else TREAT


def cable_state(run: Run) -> str:
    """The state of a cable on a way: that of its conductors on it, proven dead only when all but its grounds are."""
    state = worst(wire.conductor for wire in run.wires)
    return worst(_not_ground(run.cable.data["conductors"])) if state == DEAD else state


def also_live(run: Run, place: Item | None) -> list[str]:
    """What the log has live at its end beside the conductors of a way: others of the cable, and metal of the box."""
    on_way = {wire.conductor for wire in run.wires}
    found = [
        one.tag.rpartition(" ")[2] for one in run.cable.data["conductors"]
        if one not in on_way and state_of(one)[0] == LIVE
    ]  # fmt: skip
    if place is not None and place.kind == "box" and state_of(place)[0] == LIVE:
        found.append(f"the metal of {place.tag}")
    return found


def _not_ground(conductors: Iterable[Item]) -> list[Item]:
    listed = list(conductors)
    return [one for one in listed if not _grounds(one)] or listed


def _grounds(conductor: Item) -> bool:
    function: Fact = conductor.data["function"]
    return bool(function.kind == EXACT and function.value == "grounding")


def device_conductors(walked: Walk, device: Item) -> list[Item]:
    """Conductors under the terminals of a device or pigtailed to them, less those that only ground."""
    found: dict[Item, None] = {}
    for terminal in device.data["terminals"]:
        spot = device.tag, terminal.data["name"]
        for conductor, _ in walked.met.at.get(spot, ()):
            found[conductor] = None
        for edge in walked.met.beside.get(spot, ()):
            if edge.device is None:
                found.update(dict.fromkeys(conductor for conductor, _ in walked.met.at[edge.to]))
    return [one for one in found if not _grounds(one)]


def _tags(items: Iterable[Item]) -> list[str]:
    return [item.tag for item in items]


def _sides(start: Station) -> tuple[str, ...]:
    return ("to", "from") if start == "from" else ("from", "to")
