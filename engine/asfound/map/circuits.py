"""From what was walked to parts: the same lines as the trace in words, with symbols and the state of what is drawn.

A place, and a device, is drawn in full where it is met first; met again, it is
referred to. Where two parts meet at one place with conductors joined, by a
second breaker or a ring, they are linked.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

from asfound.map.marks import dead_words, left_words, unusual
from asfound.map.parts import Bold, Chart, Flagged, Link, Note, Part, Say, say
from asfound.map.text import tied
from asfound.record.colours import is_ground
from asfound.record.facts import Fact, Item
from asfound.record.model import Record
from asfound.render.factwords import doubt_words
from asfound.render.flags import Flag
from asfound.render.rows import Rows
from asfound.render.tree import STATES, feed_words, leads_words
from asfound.render.values import SEEN, Breaker, Circuit, Feed, Group, Line, Panel, Spot
from asfound.trace.left import left
from asfound.trace.state import DEAD, TREAT
from asfound.trace.walk import Branch
from asfound.wording import joined, natural, quoted_list

MOST = 4
"""Breakers or joints named in one place."""
_GUARDS = {"ground-fault": "GFCI", "arc-fault": "AFCI", "dual": "GFCI AFCI"}
_OF_CABLE = ("cable", "conductor", "end", "claim", "net", "entry")
_ROUND = ("octagonal", "fan-rated")


class Parts:
    """Makes parts. What was shown in full is remembered, so circuits are made in the order they are drawn."""

    def __init__(self, rows: Rows) -> None:
        self.rows = rows
        self.record: Record = rows.record
        self.breakers = {breaker.tag: breaker for breaker in self.record.breakers.values()}
        self.stood = left(self.record)
        self.conductors = {one.tag: one for one in self.record.conductors}
        self.tree: set[str] = set()  # cables of the tree that is made now
        self.ends_at: dict[str, list[Item]] = {}  # cables by the box in which they end
        for cable in self.record.cables.values():
            for place in dict.fromkeys(cable.data["sides"].values()):
                if place is not None and place.kind == "box":
                    self.ends_at.setdefault(place.tag, []).append(cable)
        self.shown: dict[str, str] = {}  # place or device by kind and tag: in which circuit or group
        self.notes: dict[tuple[str, str, str], Note] = {}
        self.met: dict[str, list[Part]] = {}  # parts by the box they lead to, that in full first
        self.links: list[Link] = []

    # -- charts

    def panel(self, panel: Panel, circuits: Iterable[Circuit]) -> Chart:
        """The chart of a panel."""
        fed = {"supply": "fed by the supply", "": "what feeds it is not recorded"}.get(panel.fed_by)
        where = f", {panel.where}" if panel.where else ""
        main = self.stood.get(self.record.panels[panel.panel])
        stood = f"; main {left_words(main)}" if main is not None and main.state else ""
        head = f"PANEL {panel.panel}{where}; {fed or f'fed by {panel.fed_by}'}{stood}"
        roots = [self.circuit(circuit) for circuit in circuits]
        return Chart(f"Panel {panel.panel}", head, f"panel {panel.panel}", roots, self.flags(panel.flags))

    def circuit(self, circuit: Circuit) -> Part:
        """The tree of a circuit, from its breakers."""
        root = Part("breaker", f"circuit {circuit.circuit}")
        self._begin(circuit.lines)
        root.full = [f"breaker {breaker.breaker}" for breaker in circuit.breakers]
        for breaker in circuit.breakers:
            spaces = 1 + breaker.breaker.removeprefix(f"{circuit.panel} ").count("/")
            root.amps += [_amps(breaker.rating)] * min(spaces, 3)
        root.amps = root.amps[:6]
        if circuit.lines:
            self._breaker_rows(root, circuit)
        else:
            root.under = [self._spare(breaker) for breaker in circuit.breakers]
        root.under_flags = self.flags(circuit.flags)
        root.title = "; ".join(map(_breaker_title, circuit.breakers))
        self._grow(root, circuit.lines, circuit.circuit)
        return root

    def _breaker_rows(self, root: Part, circuit: Circuit) -> None:
        """Words of breakers with wire on them, in rows."""
        for breaker in circuit.breakers:
            root.over.append(say(Bold(tied(breaker.breaker)), _legs(breaker), most=3))
            root.under += [say(words, most=3) for words in self._breaker_words(breaker)]
            root.under += [say(words, most=6) for words in self._stood(breaker)]
            root.under += [say(f"no wire on {space}") for space in breaker.bare_spaces[:MOST]]
        if circuit.state == DEAD:
            tags = {lead.conductor for line in circuit.lines for lead in line.leads}
            root.under.append(say(Bold(self.proven(self.conductors[tag] for tag in tags)), most=8))
        elif circuit.state != TREAT:
            root.under.append(say(Bold(STATES[circuit.state])))

    def _spare(self, breaker: Breaker) -> Say:
        """Words of a breaker on which nothing hangs, in one line."""
        bare = "spare: nothing lands on it, as recorded" if breaker.spare else "no wire is recorded on it"
        stood = self._stood(breaker)
        words = "; ".join([*self._breaker_words(breaker), bare]) + (";" if stood else "")
        return say(Bold(tied(breaker.breaker)), f"{_legs(breaker)};" if breaker.legs else "", words, *stood, most=4)

    def _breaker_words(self, breaker: Breaker) -> list[str]:
        said = [breaker.directory or "no directory entry"]
        said += [breaker.rating] if breaker.rating != f"{_amps(breaker.rating)} A" else []
        said += ["leg not seen"] if not breaker.legs else []
        said += [breaker.kind] if breaker.kind not in ("", "breaker") else []
        held = self.stood.get(self.breakers[breaker.breaker])
        said += [f"found {breaker.found}"] if breaker.found and (held is None or not held.found) else []
        return said

    def _stood(self, breaker: Breaker) -> list[str]:
        """How the record has it left, with the day; whether it still is, nobody knows who has not looked."""
        held = self.stood.get(self.breakers[breaker.breaker])
        if held is None or not held.state:
            return []
        words = left_words(held)
        return [Bold(words) if held.stays or held.tagged else words]

    def proven(self, conductors: Iterable[Item]) -> str:
        """The mark of conductors that were proven dead."""
        return dead_words(self.record, self.rows.installation.states, conductors)

    def _begin(self, lines: Iterable[Line]) -> None:
        self.tree = {line.item for line in lines if line.kind == "cable"}

    def group(self, group: Group) -> Part:
        """The tree of a group that no way from a breaker meets."""
        tops = [line for line in group.lines if line.under is None]
        start = next((line.start for line in tops if line.start is not None), Spot(""))
        name = f"group {group.group}"
        root = Part("start", name, dashed=True)
        self._begin(group.lines)
        self._place(root, start, [line for line in tops if line.kind == "device"], name)
        feeds = feeds_words(group.feeds)
        root.over = [say(Bold(name))]
        root.under += [say(words, most=6) for words in feeds[:MOST]]
        root.title = f"Group {group.group}, not traced to a breaker: {'; '.join(feeds[:MOST])}"
        self._grow(root, group.lines, name)
        return root

    def rest(self, bare: Iterable[Line], devices: Iterable[Line], places: Iterable[Line]) -> list[Part]:
        """What no recorded way leads to: cables that only ground or return, devices, and places."""
        roots = []
        for line in bare:
            root = Part("start")
            self._begin([line])
            self._place(root, line.start or Spot(""), (), "not traced")
            self._grow(root, [line], "not traced")
            root.children[0].over.append(say("only ground or return, by what is recorded", most=3))
            root.title = f"Cable {line.item}: only ground or return, by what is recorded"
            roots.append(root)
        for line in devices:
            root = Part("start")
            spot = line.to if line.to is not None else Spot(line.item, "device")
            self._place(root, spot, [line], "not traced")
            root.under.append(say("nothing recorded feeds it", most=3))
            root.title = f"{line.item} {line.what}: nothing recorded feeds it; treat it as live"
            roots.append(root)
        for line in places:
            if f"box {line.item}" not in self.shown:
                roots.append(self._alone(line.item, line.what or "no cable is recorded"))
        return roots

    def left(self) -> list[Part]:
        """Boxes that nothing else met: those that only a conductor which is not followed leads to."""
        tags = sorted(self.record.boxes, key=lambda tag: (natural(tag), tag))
        return [self._alone(tag, "no way leads to it") for tag in tags if f"box {tag}" not in self.shown]

    def _alone(self, tag: str, words: str) -> Part:
        box = self.record.boxes[tag]
        root = Part("start")
        self._place(root, self.rows.place(box), (), "not traced")
        root.under.append(say(words, most=3))
        root.under_flags = self.flags(self.rows.flags.at(box))
        root.title = f"{tag}: {words}"
        return root

    # -- trees

    def _grow(self, root: Part, lines: list[Line], name: str) -> None:
        """Hang the lines of a tree on its root."""
        held: dict[int | None, Part] = {None: root}
        devices: dict[int | None, list[Line]] = {}
        again: dict[int | None, list[Line]] = {}
        for line in lines:
            if line.kind == "device":
                devices.setdefault(line.under, []).append(line)
            elif line.kind == "again":
                again.setdefault(line.under, []).append(line)
        for line in lines:
            if line.kind in ("device", "again"):
                continue
            make = self._cable if line.kind == "cable" else self._at
            part = held[line.line] = make(line, devices.get(line.line, []), name)
            self._again(part, again.get(line.line, []))
            self._also(part)
            held[line.under].children.append(part)
        self._again(root, again.get(None, []))
        self._also(root)

    def _cable(self, line: Line, devices: list[Line], name: str) -> Part:
        cable = self.record.cables[line.item]
        part = Part("cable", f"cable {line.item}", dashed=line.traced != SEEN)
        (part.refs if line.shown_under else part.full).append(part.item)
        part.grounds = sum(map(is_ground, cable.data["conductors"]))
        part.wires = len(cable.data["conductors"]) - part.grounds
        leads = self._roles(line, cable)
        what = line.what if not line.shown_under else f"in full at {tied(line.shown_under)}"
        state = self._state(line, cable)
        what += ":" if leads else ""
        part.over.append(
            say(Bold(tied(line.item)), what, leads + (";" if leads and state else ""), Bold(state), most=9)
        )
        part.over += self._feeds(line)
        part.over += [say(words, most=3) for words in (line.doubt, *line.passes) if words]
        part.refs += [f"box {tag}" for tag in self._passed(cable, line)]
        own = [flag for flag in line.flags if flag.at.split(" ", 1)[0] in _OF_CABLE]
        part.over_flags = self.flags(own)
        part.under_flags = self.flags(flag for flag in line.flags if flag not in own)
        self._place(part, line.to or Spot(""), devices, name)
        self._ends(part, line)
        to = f" to {part.place.tag}" if part.place.tag else ""
        part.title = f"{line.item} {line.what}{to}; {state if line.state == DEAD else STATES[line.state]}"
        part.title += "".join(f"; {device.item} {device.what}" for device in devices)
        return part

    def _roles(self, line: Line, cable: Item) -> str:
        """What the conductors on the way do, and those beside it whose role is not that of their colour."""
        on_way = {lead.conductor for lead in line.leads}
        beside = [] if line.shown_under else [one for one in cable.data["conductors"] if one.tag not in on_way]
        return ", ".join(filter(None, [_leads(line), *unusual(beside)]))

    def _state(self, line: Line, cable: Item) -> str:
        """What of a cable is live or proven dead: `LIVE`, or `white LIVE`; nothing of what is treated as live.

        With proven dead stand the day, the log entry and by whom.
        """
        if line.state == DEAD:
            return self.proven(cable.data["conductors"])
        held: dict[str, list[str]] = {}
        for lead in line.leads:
            held.setdefault(lead.state, []).append(lead.conductor)
        if set(held) <= {line.state}:
            return STATES[line.state] if line.state != TREAT else ""
        said = []
        for state, tags in held.items():
            words = self.proven(self.conductors[tag] for tag in tags) if state == DEAD else STATES[state]
            colours = joined(tag.rpartition(" ")[2] for tag in tags)
            said += [f"{colours} {words}"] if state != TREAT else []
        return ", ".join(said)

    def _passed(self, cable: Item, line: Line) -> list[str]:
        """Boxes that a cable is said to pass."""
        run = self.rows.walked.whole.get(cable)
        places = [stop.place for _, stop in run.beyond()] if run is not None else []
        return [place.tag for place in places if place is not None and place.kind == "box"
                and any(words.endswith(f" {place.tag}") for words in line.passes)]  # fmt: skip

    def _at(self, line: Line, devices: list[Line], name: str) -> Part:
        part = Part("at", f"at {line.item}")
        part.over.append(say(line.what, most=3))
        part.under_flags = self.flags(line.flags)
        self._place(part, line.to or Spot(""), devices, name)
        part.title = f"{line.what} {line.item}"
        return part

    def _feeds(self, line: Line) -> list[Say]:
        said = []
        if line.also_fed_by:
            said.append(say(Bold(f"ALSO FED BY {_tags(line.also_fed_by)}"), most=4))
        can = [_tags(line.can_be_fed_by)] if line.can_be_fed_by else []
        can += ["what is not recorded"] if line.elsewhere else []
        if can:
            said.append(say(f"can be fed by {', or by '.join(can)}", most=4))
        return [*said, *(say(Bold(words), most=4) for words in line.reasons)]

    def _ends(self, part: Part, line: Line) -> None:
        """Ends that are neither spliced nor under a terminal, those that can be live first."""
        here = line.to.place if line.to is not None else ""
        held: dict[tuple[bool, bool, str], dict[str, list[str]]] = {}
        for end in line.ends:
            by_state = held.setdefault((not end.open, end.at != here, end.at), {})
            by_state.setdefault(end.state, []).append(end.conductor.rpartition(" ")[2])
        for (closed, away, at), by_state in sorted(held.items()):
            where = f" at {at}" if away else ""
            ends = "; ".join(f"{joined(colours)} {state}" for state, colours in by_state.items())
            if closed:
                part.under.append(say(f"{ends}{where}", most=4))
            else:
                part.place.opened |= not away
                part.under.append(say(Bold(f"OPEN END{where}:"), ends, most=5, mark="open"))

    def _again(self, part: Part, lines: list[Line]) -> None:
        """Conductors joined here whose way is drawn elsewhere, those of one cable together."""
        held: dict[tuple[str, str], list[str]] = {}
        for line in lines:
            part.again.append(line.item)
            cable, _, colour = line.item.rpartition(" ")
            held.setdefault((cable, line.shown_under), []).append(colour)
        for (cable, where), colours in held.items():
            where = "drawn here too" if where == "this tree" else f"see {tied(where)}" if where else ""
            words = f"joined to {cable} {joined(colours)}{f', {where}' if where else ''}"
            part.under.append(say(words, most=4, mark=f"again {cable}"))

    def _also(self, part: Part) -> None:
        """Other cables that end in the box drawn here in full, and where each is drawn."""
        if f"box {part.place.tag}" not in part.full:
            return
        here = self.tree | {conductor.rpartition(" ")[0] for conductor in part.again}
        held: dict[str, list[str]] = {}
        for cable in self.ends_at.get(part.place.tag, ()):
            if cable.tag not in here:
                run = self.rows.walked.whole.get(cable)
                held.setdefault(self._tree_of(run.branch) if run is not None else "", []).append(cable.tag)
        for where, tags in sorted(held.items()):
            tags.sort(key=lambda tag: (natural(tag), tag))
            part.refs += [f"cable {tag}" for tag in tags]
            named = quoted_list(map(tied, tags), MOST)
            part.under.append(say(Bold("ALSO HERE:"), f"{named}, {where or 'drawn with what is not traced'}", most=5))

    def _tree_of(self, branch: Branch) -> str:
        if branch.circuit is not None:
            return f"see {tied(branch.circuit.tag)}"
        return f"not traced, see {tied(f'group {self.rows.groups[branch]}')}"

    # -- places and devices

    def _place(self, part: Part, spot: Spot, devices: Iterable[Line], name: str) -> None:
        """The place a part leads to, in full where it is met first, and the devices there."""
        place = part.place
        place.tag = spot.place
        said: list[str] = []
        if not spot.place:
            place.outline = "lost"
            known = spot.reason in ("", "not recorded", "not traced")
            said.append(spot.reason or "not recorded" if known else f"not seen: {spot.reason}")
        elif spot.sort == "panel":
            place.outline = "panel"
            part.refs.append(f"panel {spot.place}")
            said.append(Bold(f"panel {spot.place}"))
        elif spot.sort == "device":
            place.outline = "open"
        else:
            said += self._box(part, spot, name)
        for line in devices:
            part.under_flags += self.flags(line.flags)
            said += self._device(part, line.item, name, _device_notes(line))
        if spot.sort == "device" and not said:  # a cable that ends in a device by conductors that are not followed
            said += self._device(part, spot.place, name, [])
        part.under.insert(0, say(*said, most=10))
        if part.place.outline in ("open", "unseen") and spot.open != "no":
            joints = sorted((joint.tag for joint in self.record.boxes[spot.place].data["joints"]), key=natural)
            if joints:
                part.under.insert(1, say(Bold(f"SPLICE OUTSIDE A BOX: {_tags(joints)}"), most=4, mark="open"))

    def _box(self, part: Part, spot: Spot, name: str) -> list[str]:
        key, place = f"box {spot.place}", part.place
        before = self.shown.get(key)
        self.met.setdefault(key, []).append(part)
        words = [*filter(None, [{"yes": "no box", "perhaps": "perhaps no box"}.get(spot.open, "")])]
        if before is not None:
            part.refs.append(key)
            place.outline = "elsewhere"
            place.boxed = spot.open == "no"
            words.append(_drawn_at(before, name))
            return [Bold(spot.place), f"({', '.join(words)})"]
        self.shown[key] = name
        part.full.append(key)
        box = self.record.boxes[spot.place]
        place.outline = "open" if spot.open == "yes" else "unseen" if spot.open == "perhaps" else shape_of(box)
        place.spliced = bool(box.data["joints"])
        return [Bold(spot.place), f"({words[0]})" if words else ""]

    def _device(self, part: Part, tag: str, name: str, notes: list[str]) -> list[str]:
        device = self.record.devices[tag]
        key = f"device {tag}"
        before = self.shown.get(key)
        if before is None:
            self.shown[key] = name
            part.full.append(key)
            part.place.devices.append((device_kind(device), tag))
        else:
            part.refs.append(key)
            notes = [*notes, f"({_drawn_at(before, name)})"]
        head = Bold(tied(tag)) if part.place.outline == "open" and not device.data["box"] else tied(tag)
        first, *more = [*_device_words(device), *notes, ""]
        return [head, tied(first), *more]

    # -- flags and links

    def flags(self, flags: Iterable[Flag]) -> list[Flagged]:
        """The flags of one part: a keynote for those of one rule, grade and certainty together."""
        held: dict[tuple[str, str, str], list[str]] = {}
        for flag in flags:
            held.setdefault((flag.rule, flag.grade, flag.certainty), []).append(flag.finding)
        for key in held:
            if key not in self.notes:
                self.notes[key] = Note(*key)
        return [Flagged(self.notes[key], tuple(findings)) for key, findings in held.items()]

    def link(self) -> list[Link]:
        """Cross-links between parts at one place, where a conductor of one is joined to what the other brings."""
        for parts in self.met.values():
            first, *others = parts
            for other in others:
                cables = {_cable_of(first), _cable_of(other)}
                if other.again or any(conductor.rpartition(" ")[0] in cables for conductor in first.again):
                    link = Link(f"X{len(self.links) + 1}", first, other)
                    self.links.append(link)
                    for here, there in ((first, other), (other, first)):
                        here.links.append(link)
                        _mark(here, _cable_of(there), link.figures)
        return self.links


def _leads(line: Line) -> str:
    """What the conductors of a cable do: `white feed, black switched back`; with `?` what is only taken to be so."""
    words = leads_words(line.leads)
    for known in dict.fromkeys(lead.known for lead in line.leads if lead.known not in (SEEN, "not known")):
        words = words.replace(f" by {known}", "?")
    return words


def feeds_words(feeds: Iterable[Feed]) -> list[str]:
    """What feeds conductors or can, with their names where it differs among them."""
    held: dict[str, list[str]] = {}
    for feed in feeds:
        held.setdefault(feed_words(feed, why=False), []).extend(feed.conductors)
    return [f"{f'{_tags(tags)}: ' if len(held) > 1 else ''}{words}" for words, tags in held.items()]


def _drawn_at(before: str, name: str) -> str:
    return "drawn above" if before == name else f"drawn at {tied(before)}"


def _mark(part: Part, cable: str, figures: str) -> None:
    """Put the mark of a link before the words that say what it leads to."""
    for index, held in enumerate(part.under):
        if held.mark == f"again {cable}" or (not cable and held.mark.startswith("again ")):
            part.under[index] = replace(held, mark=figures)
            return
    part.under.append(say(f"joined to what comes by {cable}" if cable else "joined here", most=3, mark=figures))


def _cable_of(part: Part) -> str:
    return part.item.removeprefix("cable ") if part.item.startswith("cable ") else ""


def _legs(breaker: Breaker) -> str:
    return breaker.legs.replace(" and ", " ")


def _tags(tags: Iterable[str]) -> str:
    return quoted_list(map(tied, tags), MOST)


def _amps(rating: str) -> str:
    """`20` for the square of a breaker; a question mark where one figure does not say it."""
    figures = rating.removesuffix(" A")
    return figures if rating.endswith(" A") and len(figures) <= 3 and figures.replace(".", "").isdigit() else "?"


def _breaker_title(breaker: Breaker) -> str:
    directory = f"; directory: {breaker.directory}" if breaker.directory else ""
    return f"Breaker {breaker.breaker}: {breaker.rating}{directory}"


def shape_of(box: Item) -> str:
    """`square`, `round`, or `unseen` where nobody saw what it is."""
    kind = box.data.get("kind")
    if not isinstance(kind, Fact) or not kind.values:
        return "unseen"
    return "round" if str(kind.value).startswith(_ROUND) else "square"


def device_kind(device: Item) -> str:
    """The kind of a device when there is one that it can be, else nothing."""
    kind = device.data.get("kind")
    return str(kind.value) if isinstance(kind, Fact) and len(kind.values) == 1 else ""


def _device_notes(line: Line) -> list[str]:
    notes = [f"by {_tags(line.switched_by)}"] if line.switched_by else []
    return [*notes, *(Bold(words) for words in line.reasons), *filter(None, [line.doubt])]


def _device_words(device: Item) -> list[str]:
    """Kind where the symbol does not tell it, rating, protection."""
    kind = device.data.get("kind")
    values = kind.values if isinstance(kind, Fact) else ()
    said = [] if len(values) == 1 else [doubt_words(kind) if values else "kind not seen"]
    rating = doubt_words(device.data.get("rating"), " A")
    guard = doubt_words(device.data.get("protection"))
    short = (
        "" if guard in ("", "none") else _GUARDS.get(guard.rstrip("?"), guard) + ("?" if guard.endswith("?") else "")
    )
    return [*said, *([" ".join(filter(None, (rating, short)))] if rating or short else [])]
