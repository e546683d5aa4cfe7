"""A trace as text for a terminal: circuit by circuit a tree that a person can walk along, within `WIDTH` columns.

One line for each cable with the place it leads to, and under it what is there
and what goes on from there. A tree that grows too deep goes on further down,
with a number at both places.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Iterable, Iterator

from asfound.data import data
from asfound.record.build import Record
from asfound.render.asdata import RunFacts
from asfound.render.flags import Flag
from asfound.render.lines import WIDTH, pad, rule_line, wrap
from asfound.render.rows import HERE
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
from asfound.trace.state import DEAD, LIVE, TREAT
from asfound.wording import joined, plural, quoted_list

DEPTH = 7
"""Steps to the right before a tree goes on further down."""
MOST = 8
"""Breakers or tags that one line names."""
STATES = {LIVE: "LIVE", DEAD: "PROVEN DEAD", TREAT: "treat as live"}
MARKS = {SEEN: "--", DOUBTFUL: "~~", BY_LOOK: "~~", NOT_TRACED: "??"}
_ROOM = WIDTH - 15  # what the state leaves on a line
_MEANING = 17
LEGEND = (
    ("--", "joined as somebody saw it, all the way from the breaker"),
    ("~~", "what it does is taken from colour or terminal only, or the way leads through a device that can be "
     "otherwise"),
    ("??", "not traced to a breaker"),
    ("=>", "met before; shown in full where the line says"),
    ("!", "a defect, with its grade and rule; ? before the grade when it is only possible: a question"),
    ("12?", "weakly known, its neighbours stay possible; `14 or 12`: listed as one of these"),
    ("W/G", "with ground"),
    ("feed, switched", "what a conductor does; traveller: between switches; back: it comes back along this cable. A "
     "black feed that goes out alone is not spelled out"),
    ("LIVE", "a reading showed it, and nothing that matters was switched since"),
    ("PROVEN DEAD", "at the end of the log every pair was tested at that cable, by an instrument proven before and "
     "after, with what can feed it off and held. It counts for nobody who was not there: test again"),
    ("treat as live", "everything else"),
)  # fmt: skip


def trace_text(trace: Trace) -> Iterator[str]:
    """The whole tree, block by block."""
    circuits = {circuit.circuit: circuit for circuit in trace.circuits}
    layout = Layout()
    for panel in trace.panels:
        yield "\n".join(_panel(panel))
        for tag in panel.circuits:
            yield "\n".join(layout.circuit(circuits[tag]))
    yield from _rest(trace, layout)


def circuit_lines(circuits: Iterable[Circuit]) -> Iterator[str]:
    """Some circuits alone, block by block."""
    layout = Layout()
    for circuit in circuits:
        yield "\n".join(layout.circuit(circuit))


def head(record: Record, run: RunFacts, failed: int = 0) -> str:
    """What was read, and that it is no approval."""
    title = record.name + (" (invented record)" if record.invented else "")
    flags = f"Flags by {plural(len(run.rules), 'rule')}, as of {run.as_of}." if run.rules else "No rules were run."
    silent = (
        [f"{plural(failed, 'check')} failed, and the silence of a rule that failed means nothing."] if failed else []
    )
    return "\n".join([
        *wrap(title),
        *wrap(" ".join([f"Record {record.document.name}, SHA-256 {record.document.sha256[:16]}.", flags, *silent])),
        "",
        *wrap(data("wording")["statement"]),
    ])  # fmt: skip


def legend() -> str:
    """What the marks and words mean."""
    lines = [rule_line("MARKS")]
    for mark, meaning in LEGEND:
        lines += wrap(f"{meaning}.", pad(f"  {mark}", _MEANING), " " * _MEANING)
    return "\n".join(lines)


def _panel(panel: Panel) -> Iterator[str]:
    where = f", {panel.where}" if panel.where else ""
    yield rule_line(f"PANEL {panel.panel}")
    fed = {"supply": "fed by the supply", "": "what feeds it is not recorded"}.get(panel.fed_by)
    yield from wrap(f"Panel {panel.panel}{where}; {fed or f'fed by {panel.fed_by}, its breakers follow'}.")
    yield from flag_lines(panel.flags, f"panel {panel.panel}", "  ")


def _rest(trace: Trace, layout: Layout) -> Iterator[str]:
    if trace.groups:
        yield "\n".join([
            rule_line("NOT TRACED TO A BREAKER"),
            *wrap("No recorded way leads from a breaker to these. Any of them can be live from a breaker that nobody "
                  "has found yet: treat all of it as live."),
        ])  # fmt: skip
        for group in trace.groups:
            yield "\n".join(layout.group(group))
    if trace.bare:
        lines = [rule_line("ONLY GROUND OR RETURN"), *wrap("No conductor of these is ungrounded by what is recorded.")]
        yield "\n".join([*lines, *layout.tree(trace.bare, "")])
    if trace.devices or trace.places:
        lines = [rule_line("NO WAY LEADS TO THESE")]
        for device in trace.devices:
            at = f" in {device.to.place}" if device.to is not None else ""
            text = f"{device.item} {device.what}{at}: nothing recorded feeds it; treat it as live."
            lines += wrap(text, "  ", "    ")
            lines += flag_lines(device.flags, device.item, "    ")
        for place in trace.places:
            lines += wrap(f"{place.item}: {place.what or 'no cable is recorded'}.", "  ", "    ")
            lines += flag_lines(place.flags, place.item, "    ")
        yield "\n".join(lines)
    if trace.flags:
        lines = [rule_line("FLAGS ON OTHER THINGS"), *flag_lines(trace.flags, "", "  ")]
        yield "\n".join(lines)


class Layout:
    """Lays out trees; numbers the places where one goes on, through the whole of a text."""

    def __init__(self) -> None:
        self.count = 0

    def circuit(self, circuit: Circuit) -> Iterator[str]:
        """Heading and tree of one circuit."""
        words = "; ".join(map(breaker_words, circuit.breakers))
        yield from state_lines(words, circuit.state, "", "  ")
        if not circuit.lines:
            spare = all(breaker.spare for breaker in circuit.breakers)
            yield from wrap("Spare: nothing lands on it, as recorded." if spare else "No wire is recorded on it.", "  ")
        else:
            for breaker in circuit.breakers:
                for space in breaker.bare_spaces:
                    yield from wrap(f"No wire is recorded on space {space}.", "  ")
        for breaker in circuit.breakers:
            yield from wrap(f"By the log: {breaker.log}.", "  ", "    ") if breaker.log else ()
        for panel in circuit.feeds:
            yield from wrap(f"Feeds panel {panel}, which follows with its own breakers.", "  ", "    ")
        yield from flag_lines(circuit.flags, circuit.breakers[0].breaker, "  ")
        yield from self.tree(circuit.lines, circuit.circuit)

    def group(self, group: Group) -> Iterator[str]:
        """What can feed a group, and its tree."""
        yield f"Group {group.group}"
        yield from feed_lines(group.feeds, "  ")
        yield from self.tree(group.lines, f"group {group.group}")

    def tree(self, lines: list[Line], name: str) -> Iterator[str]:
        """The lines of one tree; what is too deep in blocks of its own behind it."""
        under: dict[int | None, list[Line]] = {}
        for line in lines:
            under.setdefault(line.under, []).append(line)
        blocks: deque[tuple[int, Line]] = deque()
        yield from self._block(under, None, blocks)
        while blocks:
            number, line = blocks.popleft()
            place = line.to.place if line.to is not None else line.item
            yield ""
            yield from wrap(f"[{number}] {name} goes on at {place}, from {line.item}", "", "  ")
            yield from self._block(under, line.line, blocks)

    def _block(
        self, under: dict[int | None, list[Line]], root: int | None, blocks: deque[tuple[int, Line]]
    ) -> Iterator[str]:
        waiting = [(line, "", False) for line in reversed(under.get(root, ()))]
        if waiting:
            waiting[0] = (waiting[0][0], "", True)
        while waiting:
            line, before, last = waiting.pop()
            inner = before + ("   " if last else "|  ")
            children = under.get(line.line, [])
            goes_on = 0
            if children and len(inner) > 3 * DEPTH:
                self.count += 1
                goes_on = self.count
                blocks.append((goes_on, line))
                children = []
            yield from line_lines(line, before, inner, goes_on)
            waiting += [(child, inner, child is children[-1]) for child in reversed(children)]


# -- one line


def line_lines(line: Line, before: str, inner: str, goes_on: int = 0) -> Iterator[str]:
    """One line with its notes and flags. `before` stands ahead of its mark, `inner` ahead of everything under it."""
    if line.kind == "device":
        switched = f", switched by {quoted_list(line.switched_by, 4)}" if line.switched_by else ""
        text = f"{line.item} {line.what}{f' in {spot_words(line.to)}' if line.to is not None else ''}{switched}"
        inner = f"{before}   "
        yield from state_lines(text, line.state, before, inner)
    elif line.kind == "again":
        inner = f"{before}   "
        shown = "elsewhere in this tree" if line.shown_under == HERE else f"under {line.shown_under}"
        text = f"=> {line.item}, {line.what}, shown {shown}"
        yield from state_lines(text, line.state, before, inner)
    elif line.kind == "at":
        spot = spot_words(line.to) if line.to is not None else line.item
        yield from state_lines(f"{MARKS[line.traced]} {line.what} {spot}", line.state, before, inner)
    else:
        yield from state_lines(f"{MARKS[line.traced]} {cable_text(line)}", line.state, before, inner)
    for note in notes(line):
        yield from wrap(note, inner, f"{inner}  ")
    yield from flag_lines(line.flags, line.item, inner)
    if goes_on:
        yield from wrap(f"goes on at [{goes_on}]", inner)


def cable_text(line: Line) -> str:
    """`W16 14/2 NM to kitchen door switch: white feed, black switched back`."""
    start = f" from {spot_words(line.start)}" if line.start is not None else ""
    to = f" to {spot_words(line.to)}" if line.to is not None else ""
    leads = leads_words(line.leads)
    what = f" {line.what}" if not line.shown_under else ""
    shown = f" (in full under {line.shown_under})" if line.shown_under else ""
    return f"{line.item}{what}{start}{to}{shown}{f': {leads}' if leads else ''}"


def leads_words(leads: list[Lead]) -> str:
    """`white feed, black switched back`; nothing for one black conductor that goes out as a feed."""
    held: dict[str, list[str]] = {}
    for lead in leads:
        held.setdefault(_lead_words(lead), []).append(lead.conductor.rpartition(" ")[2])
    said = ", ".join(f"{joined(colours)} {does}" for does, colours in held.items())
    return "" if said == "black feed" else said


def _lead_words(lead: Lead) -> str:
    """`on 7`, `switched back`, `grounded by insulation colour`."""
    does = {"ungrounded": "feed", "": "of unknown function"}.get(lead.does, lead.does)
    if lead.known not in (SEEN, "not known"):
        does = f"{lead.does} by {lead.known}"
    poles = f"on {joined(pole.rpartition(' ')[2] for pole in lead.poles[:MOST])}" if lead.poles else ""
    words = ["" if poles and does == "feed" else does, "back" if lead.back else "", poles]
    return " ".join(word for word in words if word)


def spot_words(spot: Spot) -> str:
    """`north wall (opened stud bay), no box`; `not seen (goes down in the wall)`."""
    if not spot.place:
        known = spot.reason in ("not recorded", "not traced")
        return f"a place {spot.reason}" if known else f"a place not seen ({spot.reason})"
    where = f" ({spot.where})" if spot.where else ""
    box = {"yes": ", no box", "perhaps": ", perhaps no box"}.get(spot.open, "")
    return f"{'panel ' if spot.sort == 'panel' else ''}{spot.place}{where}{box}"


def notes(line: Line) -> Iterator[str]:
    """What is to be said of a line beside its text, what was read live first."""
    if line.read_live:
        yield f"READ LIVE: {quoted_list(line.read_live, MOST)}"
    if line.also_fed_by:
        yield f"ALSO FED BY {quoted_list(line.also_fed_by, MOST)}"
    can = [quoted_list(line.can_be_fed_by, MOST)] if line.can_be_fed_by else []
    can += ["something that is not recorded"] if line.elsewhere else []
    if can:
        yield f"can also be fed by {', or by '.join(can)}"
    yield from line.reasons
    if line.doubt:
        yield line.doubt
    yield from line.passes
    if line.splices_in_open:
        sure = line.to is not None and line.to.open == "yes"
        said = "SPLICE OUTSIDE A BOX" if sure else "splice perhaps outside a box"
        yield f"{said}: {quoted_list(line.splices_in_open, MOST)}"
    here = line.to or Spot("")
    yield from end_lines(line.ends, f"panel {here.place}" if here.sort == "panel" else here.place)
    yield from state_notes(line.leads, line.state)


def end_lines(ends: list[End], here: str) -> Iterator[str]:
    """Ends that are neither spliced nor under a terminal, place by place, those that can be live first."""
    held: dict[tuple[bool, str], dict[str, list[str]]] = {}
    for end in ends:
        by_state = held.setdefault((not end.open, end.at), {})
        by_state.setdefault(end.state, []).append(end.conductor.rpartition(" ")[2])
    places: dict[tuple[bool, str], list[str]] = {}
    for (closed, at), by_state in held.items():
        words = "; ".join(f"{joined(colours)} {state}" for state, colours in by_state.items())
        places.setdefault((closed, words), []).append("here" if at == here else f"at {at}")
    for (closed, words), where in sorted(places.items(), key=lambda pair: pair[0][0]):
        yield f"{'ends' if closed else 'OPEN END'} {joined(where)}: {words}"


def state_notes(leads: list[Lead], state: str) -> Iterator[str]:
    """The state of each conductor where they differ from what the line says of all."""
    by_state: dict[str, list[str]] = {}
    for lead in leads:
        by_state.setdefault(lead.state, []).append(lead.conductor.rpartition(" ")[2])
    if set(by_state) - {state}:
        yield "; ".join(f"{joined(colours)}: {STATES[word]}" for word, colours in by_state.items())


def state_lines(text: str, state: str, before: str, inner: str) -> Iterator[str]:
    """A text with the state at the right of its first line."""
    first, *more = wrap(text, before, f"{inner}  ", _ROOM)
    yield f"{pad(first, _ROOM)}  {STATES[state]}"
    yield from more


def flag_lines(flags: list[Flag], here: str, indent: str) -> Iterator[str]:
    """Flags in their order, those of one rule together with the things they are at."""
    held: dict[tuple[str, str, str], list[str]] = {}
    for flag in flags:
        named = _flagged(flag, here)
        held.setdefault((flag.certainty, flag.grade, flag.rule), []).append(named)
    for (certainty, grade, rule), things in held.items():
        at = quoted_list(filter(None, things), 4)
        mark = "?" if certainty == "possible" else "!"
        yield from wrap(f"{mark} {grade}: {rule}{f' ({at})' if at else ''}", indent, f"{indent}    ")


def _flagged(flag: Flag, here: str) -> str:
    """What a flag is at, less what the line says already."""
    kind, tag = flag.at.split(" ", 1)
    if not here:
        return flag.at
    if kind == "claim":
        return f"log, {tag.removesuffix(here).strip()}" if tag != here else "log"
    if kind == "entry":
        return f"log entry {tag}"
    short = tag.removeprefix(f"{here} ") if tag != here else ""
    return f"{short.rpartition(' (')[0]} end" if kind == "end" else short


def breaker_words(breaker: Breaker) -> str:
    """`A 8: 15 A, leg L2, directory: kitchen lights`."""
    kind = f" {breaker.kind}" if breaker.kind not in ("", "breaker") else ""
    legs = f", leg{'s' if ' and ' in breaker.legs else ''} {breaker.legs}" if breaker.legs else ", leg not seen"
    found = f", found {breaker.found}" if breaker.found else ""
    directory = f"; directory: {breaker.directory}" if breaker.directory else ""
    return f"{breaker.breaker}: {breaker.rating}{kind}{legs}{found}{directory}"


def feed_lines(feeds: list[Feed], indent: str, why: bool = True) -> Iterator[str]:
    """What feeds several conductors, named where it differs among them."""
    held: dict[str, list[str]] = {}
    for feed in feeds:
        held.setdefault(feed_words(feed, why), []).extend(feed.conductors)
    for words, conductors in held.items():
        names = f"{quoted_list(conductors, 4)}: " if len(held) > 1 else ""
        yield from wrap(f"{names}{words}", indent, f"{indent}  ")


def feed_words(feed: Feed, why: bool = True) -> str:
    """What feeds conductors, or can, and why."""
    said = []
    if feed.certain:
        said.append(f"fed by {quoted_list(feed.certain, MOST)}")
    can = [quoted_list(feed.can_be, MOST)] if feed.can_be else []
    can += ["something that is not recorded"] if feed.elsewhere else []
    if can:
        said.append(f"can be fed by {', or by '.join(can)}")
    if not said:
        said.append("no breaker by the record")
    reasons = "; ".join(dict.fromkeys(filter(None, feed.reasons))) if why else ""
    return f"{'; '.join(said)} ({reasons})" if reasons else "; ".join(said)
