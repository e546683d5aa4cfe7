"""How every conductor stood at every step of the log: live, proven dead, or to be treated as live.

*Live* is what a reading showed, until something is switched that could matter.
*Proven dead* takes a test of every relevant pair at the cable itself, with an
instrument proven on a known source before and after, since the last switching,
while every breaker that can still feed the cable was off and locked or tagged.
Everything else, and everything again after the next switching or visit, is to
be *treated as live*: unknown is treated as energised. What is law in this, what
is standard practice and what is habit is in `data/proof.yaml`, with sources.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field

from asfound.record.facts import EXACT, Fact, Item, exact
from asfound.record.model import Entry, Record
from asfound.trace.log import Step, switched_items
from asfound.trace.proof import LIVE_V, Point, Proof, Terminals, volts_of
from asfound.trace.sources import SURE_LIVE, nominal_volts
from asfound.wording import joined, quoted_list

LIVE, DEAD, TREAT = "live", "proven dead", "treat as live"
WORK = ("cut", "capped")
"""Log entries that are work on the conductors they name."""
COUPLES = ("multimeter", "")
"""Instruments of high impedance, or not named: below the share `SURE_LIVE` they can show a coupled voltage as live."""
COUPLED = "; live or coupled, which an instrument of low impedance tells apart"
SHOWN = 4


@dataclass(frozen=True, slots=True)
class State:
    """How one conductor stood, and why; `since` is the log entry that says so, `partly` when a test falls short.

    `stale` is what ended a proof that stood before.
    """

    word: str
    reason: str
    since: int = 0
    partly: bool = False
    stale: str = ""


UNTESTED = State(TREAT, "nothing in the log tests it")


@dataclass(frozen=True, slots=True)
class Change:
    """What one log entry changed: conductors with their new state, in order of the record."""

    entry: Entry
    changed: tuple[tuple[Item, State], ...]


@dataclass(slots=True)
class States:
    """The log replayed: every change in order, and how each conductor stood at the end."""

    changes: list[Change] = field(default_factory=list)
    last: dict[Item, State] = field(default_factory=dict)

    def of(self, conductor: Item) -> State:
        """How a conductor, or the metal of a box, stands at the end of the log."""
        return self.last.get(conductor, UNTESTED)

    def before(self, entry: int) -> dict[Item, State]:
        """How the conductors stood just before a log entry; one that is not in it is `UNTESTED`."""
        found: dict[Item, State] = {}
        for change in self.changes:
            if change.entry.number >= entry:
                break
            found.update(change.changed)
        return found


@dataclass(slots=True)
class Replay:
    """What the log gives: the states, one item for each claim that something is dead, and by the number of an entry
    that is work the steps of proof it lacks."""

    states: States
    claims: list[Item]
    lacking: dict[int, tuple[str, ...]]


def replay(record: Record, log: Iterable[Step], terminals: Terminals) -> Replay:
    """Read the log once. Gives every conductor its state at the end."""
    reader = _Reader(record, terminals)
    for step in log:
        reader.take(step)
    states = reader.states
    for conductor in record.conductors:
        state = states.of(conductor)
        conductor.data["state"] = exact(state.word, note=state.reason)
    for box in record.boxes.values():
        box.data["state"] = exact(states.of(box).word, note=states.of(box).reason)
    return Replay(states, reader.claims, reader.lacking)


class _Reader:
    def __init__(self, record: Record, terminals: Terminals) -> None:
        self.record = record
        self.proof = Proof(record, terminals)
        self.nominal = nominal_volts(record)
        self.states = States()
        self.claims: list[Item] = []
        self.tags: dict[str, int] = {}
        self.lacking: dict[int, tuple[str, ...]] = {}
        self.open_claims: list[tuple[Item, set[Item]]] = []  # claims that nothing was switched since, and their nets
        self.visit: str | None = None
        self.bonded = {box: box.data["bonded_to"] for box in record.boxes.values() if box.data.get("bonded_to")}

    def take(self, step: Step) -> None:
        changed: dict[Item, State] = {}
        entry = step.entry
        if step.visit != self.visit:
            if self.visit is not None:
                changed.update(self._stale(entry, "another visit began since"))
            self.visit = step.visit
            self.open_claims.clear()
        self.proof.take(step)
        for reading in step.readings:
            changed.update(self._live(step, reading))
        if step.readings or entry.did in ("locked", "tagged"):
            changed.update(self._dead(step, {**self.states.last, **changed}))
        if step.switches:
            changed.update(self._switched(entry))
            self.open_claims.clear()
        if entry.did == "called dead":
            self._claim(entry)
        if entry.did in WORK:
            self.lacking[entry.number] = tuple(self._lacks(step))
        now = self.states.last
        changed = {one: state for one, state in changed.items() if now.get(one, UNTESTED) != state}
        if changed:
            now.update(changed)
            self.states.changes.append(Change(entry, tuple(changed.items())))

    # -- live

    def _live(self, step: Step, reading: Item) -> Iterator[tuple[Item, State]]:
        """Conductors that a reading shows live; of two points without a sure reference, both."""
        volts = min(volts_of(reading), default=0.0)
        contact = reading.data.get("contact")
        points = [point for point in reading.data["points"] if point is not None]
        if volts < LIVE_V or not isinstance(contact, Fact) or contact.values != (True,) or len(points) != 2:
            return
        ranks = [self._reference(point) for point in points]
        where = f"{reading.data['volts'].written} ({step.entry.words}, reading {reading.tag})"
        coupled = reading.data.get("instrument") in COUPLES and volts < SURE_LIVE * self.nominal
        for point, rank in zip(points, ranks, strict=True):
            if rank and rank == max(ranks) and len(set(ranks)) > 1:
                continue
            if point[0] == "box":
                yield point[1], State(LIVE, where, step.entry.number)
            for net in self._nets(point):
                state = State(LIVE, f"{where}{COUPLED if coupled else ''}", step.entry.number)
                yield from ((conductor, state) for conductor in net.data["conductors"])
                for claim, nets in self.open_claims:
                    if net in nets:
                        held = claim.data["live_after"]
                        claim.data["live_after"] = held if reading in held else (*held, reading)

    def _nets(self, point: Point) -> tuple[Item, ...]:
        sort, held = point
        if sort == "box":
            return tuple(self.bonded.get(held, ()))
        if sort == "breaker":
            return tuple(dict.fromkeys(conductor.data["net"] for conductor in held.data["conductors"]
                                       if held in conductor.data["net"].data["breakers"].value))  # fmt: skip
        net = self.proof.net(point)
        return () if net is None else (net,)

    def _reference(self, point: Point) -> int:
        """How sure a point is as a reference: 2 for earth and bars, 1 for what leads to one, 0 for anything else."""
        if point[0] in ("earth", "bar", "panel"):
            return 2
        nets = self._nets(point)
        return int(bool(nets) and all(net.data["bars"].value and not net.data["fed_by"].value for net in nets
                                      if net.data["fed_by"].kind == EXACT)
                   and all(net.data["fed_by"].kind == EXACT for net in nets))  # fmt: skip

    # -- dead

    def _dead(self, step: Step, now: Mapping[Item, State]) -> Iterator[tuple[Item, State]]:
        """Cables tested since the last switching: proven dead, or what the proof lacks; what was seen live stays so."""
        for cable in self.proof.at_cable:
            conductors = cable.data["conductors"]
            if any(now.get(one, UNTESTED).word == LIVE for one in conductors):
                continue
            missing = [*self.proof.missing(conductors, at=cable), *self._no_reference(cable)]
            for conductor in conductors:
                if _ground_only(conductor):
                    continue
                lacking = [*missing, *_still_fed(step, conductor.data["net"])]
                if lacking:
                    said = f"tested at cable {cable.tag}; not shown: {quoted_list(lacking, SHOWN)}"
                    yield conductor, State(TREAT, said, step.entry.number, partly=True)
                elif now.get(conductor, UNTESTED).word != DEAD:
                    said = f"every pair tested at cable {cable.tag} ({step.entry.words}), what can feed it off and held"
                    yield conductor, State(DEAD, said, step.entry.number)

    def _no_reference(self, cable: Item) -> Iterator[str]:
        """A test among conductors of which none leads to a bar proves nothing against earth."""
        tests = self.proof.at_cable.get(cable, {})
        if not any(isinstance(other, str) or other.data["bars"].value for _, other in tests) or not any(
            self._sure(point) for held in tests.values() for reading in held.readings for point in _points(reading)
        ):
            yield "a test to earth, or to what leads to a bar"

    def _sure(self, point: Point) -> bool:
        return self._reference(point) > 0

    def _switched(self, entry: Entry) -> Iterator[tuple[Item, State]]:
        """Every proof is stale once something is switched; what was live is no longer known to be, where it matters."""
        items = set(switched_items(self.record, entry.what))
        why = f"{joined(entry.what)} switched{f' {entry.to}' if entry.to else ''} since"
        for conductor, state in self._stale(entry, why):
            known = conductor.kind == "conductor" and self.states.of(conductor).word == LIVE
            if not known or not items or _matters(conductor, items):
                yield conductor, state

    def _stale(self, entry: Entry, why: str) -> Iterator[tuple[Item, State]]:
        for conductor, state in self.states.last.items():
            if state.word != TREAT or state.partly:
                said = f"{'tested in part' if state.partly else state.word}: {state.reason}; {why} and not tested again"
                stale = state.stale or (f"{why} ({entry.words})" if state.word == DEAD else "")
                yield conductor, State(TREAT, said, entry.number, stale=stale)

    # -- claims and work

    def _claim(self, entry: Entry) -> None:
        target = self.proof.conductors(entry.what)
        what = ", ".join(entry.what)
        tag = f"{entry.at} {what}".strip()
        self.tags[tag] = count = self.tags.get(tag, 0) + 1
        item = Item("claim", tag if count == 1 else f"{tag} ({count})", f"{entry.words}, {what}", entry.place)
        proof = exact(tuple(self.proof.missing(target)), written=f"called dead: {what}", place=entry.place, by=entry.by)
        item.data.update(at=entry.at, conductors=tuple(target), missing=proof, live_after=())
        self.claims.append(item)
        self.open_claims.append((item, {conductor.data["net"] for conductor in target}))

    def _lacks(self, step: Step) -> Iterator[str]:
        """What the log does not show before work on the conductors that an entry names."""
        target = self.proof.conductors(step.entry.what)
        asked = [one for one in target if not _ground_only(one)]
        if target and all(self.states.of(one).word == DEAD for one in asked):
            return
        nets = dict.fromkeys(one.data["net"] for one in target)
        yield from dict.fromkeys(words for net in nets for words in _still_fed(step, net))
        stale = {self.states.of(one).stale for one in asked}
        if asked and "" not in stale:
            yield from (f"a test again: it was proven dead, and {what}" for what in sorted(stale))
        else:
            yield from self.proof.missing(target)


def _matters(conductor: Item, switched: set[Item]) -> bool:
    """Whether one of the breakers or mains switched can be on the way to a conductor."""
    fed_by: Fact = conductor.data["net"].data["fed_by"]
    if not fed_by.values:
        return True
    at = [breaker for value in fed_by.values for breaker in value]
    for breaker in at:
        panel = breaker.data["panel"]
        if breaker in switched or panel in switched:
            return True
        at += [ahead for ahead in panel.data["feeder"] if ahead not in at]
    return False


def _points(reading: Item) -> list[Point]:
    return [point for point in reading.data["points"] if point is not None]


def _ground_only(conductor: Item) -> bool:
    function = conductor.data["function"]
    return bool(function.kind == EXACT and function.value == "grounding")


def _still_fed(step: Step, net: Item) -> Iterator[str]:
    """What can still feed a net: a breaker that is not shown to be off, or off and neither locked nor tagged."""
    function = net.data["function"]
    grounded = function.kind == EXACT and function.value == "grounded"
    fact: Fact = net.data["return_of"] if grounded else net.data["fed_by"]
    if not fact.values:
        yield "every breaker off, for what feeds it is not known"
        return
    for breaker in dict.fromkeys(breaker for value in fact.values for breaker in value):
        supply = step.supply(breaker)
        if not supply.off:
            yield f"{breaker.tag} off"
        elif not supply.held:
            yield f"{breaker.tag} locked or tagged"
