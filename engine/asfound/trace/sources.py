"""Which breakers feed a net: what switching tests and the trace together leave possible.

A net is fed by a set of breakers, and perhaps by something nobody recorded. A
test that found it live says that one of those which could feed it then is in
the set; a test that found it dead says that none of those that were on is. A
dead reading counts only where the same net was seen live on the same visit with
no device switched between, or where the record joins it solidly to the breaker:
otherwise a wall switch, a lamp socket or an open neutral tells the same story.
A reading counts only to a point that leads to a bar or to earth, with an
instrument that touches, and as live only where it cannot be coupled voltage.

A breaker whose position nobody recorded is not known to be on: a dead reading
leaves it possible, as one that was off as found.

Each net is worked out by itself, linear in its readings and its breakers; a
smallest contradiction by a bounded search (`MAX_SEARCH`).
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from typing import Any

from asfound.record.facts import Fact, Item
from asfound.record.model import Record
from asfound.trace.log import Step, Supply
from asfound.trace.nets import Net, Terminal
from asfound.trace.proof import LIVE_V, NEAR_ZERO_V
from asfound.trace.reach import Reach
from asfound.wording import quoted_list

SURE_LIVE = 0.9
"""Share of the usual voltage from which a reading is not taken for a coupled one; common practice, no source."""
MAX_SEARCH = 20_000
"""Steps of the search for a smallest contradiction; beyond, the one found so far is given."""
_NOMINAL_V = {"230 single phase": 230.0}

ELSEWHERE = None
"""Stands among the breakers for something that nobody recorded: it is never off."""
Feed = Item | None


@dataclass(frozen=True, slots=True)
class Switching:
    """One switching test: with the net `at` shown live first, switch these off together and test it again.

    `if_dead` and `if_live` are the breakers that are left then; None among them stands for something not recorded.
    `left` is how many are left on average, each being as likely as another, but a breaker that a label names as
    likely as all others together. `claimed` when the test is of what a label says.
    """

    breakers: tuple[Item, ...]
    at: Item
    if_dead: tuple[Feed, ...]
    if_live: tuple[Feed, ...]
    left: float
    claimed: bool = False


@dataclass(frozen=True, slots=True)
class Contradiction:
    """The smallest set of statements of the record that cannot all be true; `kind` says what it is about."""

    net: Item
    kind: str
    statements: tuple[str, ...]
    readings: tuple[Item, ...]


@dataclass(frozen=True, slots=True)
class Claim:
    """What a label says of a net: a claim to be tested, `verdict` as far as it was.

    The verdict is one of: ruled out, shown by test, as traced, not tested.
    """

    label: str
    breaker: Item
    verdict: str


@dataclass(slots=True)
class Source:
    """What feeds one net, as far as trace and tests tell.

    `certain` breakers are in every set that fits, `possible` ones in some;
    `elsewhere` when something not recorded can feed it, `unknown_feed` when it
    must. `singles` are the breakers that explain everything alone, `claims` the
    labels on it that name a breaker. `readings` are those that had a part in it.
    """

    net: Item
    certain: tuple[Item, ...]
    possible: tuple[Item, ...]
    elsewhere: bool
    unknown_feed: bool
    singles: tuple[Item, ...]
    ruled_out: tuple[Item, ...]
    readings: tuple[Item, ...]
    contradictions: tuple[Contradiction, ...] = ()
    test: Switching | None = None
    claims: tuple[Claim, ...] = ()

    @property
    def decided(self) -> bool:
        """Whether nothing but the certain breakers is left."""
        return not self.possible and not self.elsewhere

    @property
    def tested(self) -> bool:
        """Whether a reading had a part in it."""
        return bool(self.readings)

    @property
    def reasons(self) -> tuple[str, ...]:
        """What it rests on, in words."""
        said = []
        if self.readings:
            said.append(f"tested by readings {quoted_list((reading.tag for reading in self.readings), 8)}")
        if self.ruled_out:
            said.append(f"ruled out: {quoted_list((breaker.tag for breaker in self.ruled_out), 8)}")
        if self.unknown_feed:
            said.append("something that is not recorded feeds it")
        elif self.elsewhere:
            said.append("something that is not recorded can feed it too")
        said += [f"{claim.label} says {claim.breaker.tag}: {claim.verdict}" for claim in self.claims]
        return tuple(said)


@dataclass(frozen=True, slots=True)
class Seen:
    """One reading on a net: live or dead, and how everything stood."""

    reading: Item
    live: bool
    step: Step
    words: str


def nominal_volts(record: Record) -> float:
    """The usual voltage to neutral, the lowest of those that the supply can have."""
    return min((_NOMINAL_V.get(system, 120.0) for system in record.site.data["supply"].values), default=120.0)


def gather(
    record: Record, log: Iterable[Step], nets: Sequence[Net], net_of: dict[Item, Net],
    by_terminal: dict[Terminal, Net], reach: Reach,
) -> dict[int, list[Seen]]:  # fmt: skip
    """The readings of the log that say whether a net was live, by the number of the net."""
    tests: dict[int, list[Seen]] = {}
    by_pole = {pole: net.number for net in nets for pole in net.poles}
    nominal = nominal_volts(record)

    def number_at(point: tuple[str, Any]) -> int | None:
        sort, held = point
        if sort == "conductor":
            return net_of[held].number
        if sort == "terminal":
            net = by_terminal.get(held)
            return None if net is None else net.number
        if sort == "joint":
            conductors = held.data["conductors"]
            return net_of[conductors[0]].number if conductors else None
        if sort == "breaker":
            panel, _, spaces = held.tag.rpartition(" ")
            return by_pole.get((panel, spaces.split("/")[0])) if "/" not in spaces else None
        return None

    bonded = {box: net.number for net in nets for box in net.boxes}

    def is_reference(point: tuple[str, Any]) -> bool:
        sort, held = point
        if sort in ("earth", "bar", "panel"):
            return True
        number = bonded.get(held) if sort == "box" else number_at(point)
        return number is not None and bool(nets[number].bars) and not reach.poles[number]

    for step in log:
        if step.switches:
            continue  # taken while something was being switched
        for reading in step.readings:
            for number, live in _observed(reading, number_at, is_reference, nominal):
                words = f"reading {reading.tag}: {reading.data['volts'].written} at {', '.join(_names(reading))}"
                tests.setdefault(number, []).append(Seen(reading, live, step, words))
    return tests


def _observed(reading: Item, number_at: Any, is_reference: Any, nominal: float) -> Iterator[tuple[int, bool]]:
    points = [point for point in reading.data["points"] if point is not None]
    volts, contact = reading.data.get("volts"), reading.data.get("contact")
    if len(points) != 2 or not isinstance(volts, Fact) or not volts.values or reading.data["known_source"].value:
        return
    if not isinstance(contact, Fact) or contact.values != (True,):
        return
    loads = reading.data.get("instrument") in ("low-impedance meter", "two-pole tester")
    least = LIVE_V if loads else SURE_LIVE * nominal
    for here, there in (points, points[::-1]):
        number = None if is_reference(here) or not is_reference(there) else number_at(here)
        if number is None:
            continue
        if min(volts.values) >= least:
            yield number, True
        elif max(volts.values) <= NEAR_ZERO_V:
            yield number, False


def _names(reading: Item) -> list[str]:
    names = []
    for sort, held in filter(None, reading.data["points"]):
        if sort in ("terminal", "bar"):
            names.append(f"{held[0].tag} {held[1]}")
        else:
            names.append("earth" if held is None else f"{held.tag} box" if sort == "box" else str(held.tag))
    return names


# -- one net


@dataclass(frozen=True, slots=True)
class Known:
    """What the trace says of one net: breakers `solid` on it, all that `reach` it, those that can by what is `open`.

    `closed` when every end is accounted for, so that nothing else can. `claims`
    are labels on it, with the breaker that each names.
    """

    net: Item
    words: str
    solid: tuple[Item, ...]
    reached: tuple[Item, ...]
    loose: tuple[Item, ...]
    closed: bool
    claims: tuple[tuple[str, Item], ...] = ()


def source_of(known: Known, seen: Sequence[Seen]) -> Source:
    """Everything that is consistent with the trace and with all readings on one net."""
    can: list[Feed] = [*dict.fromkeys((*known.reached, *(() if known.closed else known.loose)))]
    if not known.closed:
        can.append(ELSEWHERE)
    live = [one for one in seen if one.live]
    dead = [one for one in seen if not one.live and _counts(one, live)]
    excluded = {feed for feed in can for one in dead if _on(feed, one)}
    rest = [feed for feed in can if feed not in excluded]
    hits = [[feed for feed in rest if not _cannot(feed, one, dead)] for one in live]
    sure = dict.fromkeys(known.reached) | dict.fromkeys(hit[0] for hit in hits if len(hit) == 1)
    certain = tuple(feed for feed in can if feed is not None and feed in sure and feed not in excluded)
    possible = tuple(feed for feed in rest if feed is not None and feed not in sure)
    singles = tuple(feed for feed in rest if feed is not None and all(feed in hit for hit in hits))
    contradictions = tuple(_contradictions(known, seen, live, dead))
    ruled_out = tuple(feed for feed in can if feed is not None and feed in excluded)
    source = Source(
        net=known.net,
        certain=certain,
        possible=possible,
        elsewhere=ELSEWHERE in rest,
        unknown_feed=any(hit == [ELSEWHERE] for hit in hits),
        singles=singles,
        ruled_out=ruled_out,
        readings=tuple(dict.fromkeys(one.reading for one in (*live, *dead))),
        contradictions=contradictions,
        claims=tuple(_claim(label, breaker, known, certain, possible) for label, breaker in known.claims),
    )
    source.test = None if contradictions else best_test(source)
    return source


def _claim(label: str, breaker: Item, known: Known, certain: tuple[Item, ...], possible: tuple[Item, ...]) -> Claim:
    if breaker in known.reached:
        return Claim(label, breaker, "as traced" if breaker in certain else "traced so, and ruled out by test")
    if breaker in certain:
        return Claim(label, breaker, "shown by test")
    return Claim(label, breaker, "not tested" if breaker in possible else "ruled out")


def _counts(dead: Seen, live: Iterable[Seen]) -> bool:
    """Whether a dead reading says something of the breakers: the way was seen closed on the same visit."""
    step = dead.step
    return any(one.step.visit == step.visit and one.step.device_turn == step.device_turn for one in live)


def _supply(feed: Feed, at: Seen) -> Supply:
    return Supply(False, (), False, ()) if feed is None else at.step.supply(feed)


def _on(feed: Feed, at: Seen) -> bool:
    return _supply(feed, at).off is False


def _cannot(feed: Feed, at: Seen, dead: Iterable[Seen]) -> bool:
    """Whether a feed cannot have made a net live: it was off, or stood just so when the net was dead."""
    supply = _supply(feed, at)
    return supply.off is True or any(supply.key == _supply(feed, one).key for one in dead)


# -- what cannot all be true


def _contradictions(known: Known, seen: Sequence[Seen], live: list[Seen], dead: list[Seen]) -> Iterator[Contradiction]:
    """The smallest contradiction of each kind that the readings of a net give."""
    best: dict[str, tuple[frozenset[str], Seen]] = {}
    for one in live:
        found = _smallest(known, one, dead)
        if found is not None:
            kind = "live while off" if not any(other.words in found for other in dead) else "live and dead"
            if kind not in best or len(found) < len(best[kind][0]):
                best[kind] = found, one
    for one in seen:
        for feed in known.solid if not one.live else ():
            supply = _supply(feed, one)
            if supply.off is False:
                statements = frozenset((known.words, one.words, *supply.by))
                if "dead while on" not in best or len(statements) < len(best["dead while on"][0]):
                    best["dead while on"] = statements, one
    by_words = {one.words: one.reading for one in seen}
    for kind, (statements, _) in best.items():
        ordered = tuple(sorted(statements, key=lambda words: (words != known.words, words in by_words, words)))
        yield Contradiction(known.net, kind, ordered, tuple(by_words[words] for words in ordered if words in by_words))


def _smallest(known: Known, at: Seen, dead: Iterable[Seen]) -> frozenset[str] | None:
    """The fewest statements that together leave nothing which can have made the net live; None when something can.

    Every feed has ways to be ruled out, each of some statements; what the trace rules out costs its one statement.
    """
    feeds: list[Feed] = [*dict.fromkeys((*known.reached, *(() if known.closed else known.loose))), ELSEWHERE]
    ways: list[list[frozenset[str]]] = []
    for feed in feeds:
        supply = _supply(feed, at)
        options = [frozenset(supply.by)] if supply.off else []
        for one in dead:
            then = _supply(feed, one)
            if supply.key == then.key:
                options.append(frozenset((one.words,)))
            elif then.off is False:
                options.append(frozenset((one.words, *then.by)))
        if known.closed and feed is ELSEWHERE:
            options.append(frozenset((known.words,)))
        if not options:
            return None
        ways.append([option for option in options if not any(other < option for other in options)])
    ways.sort(key=len)
    best: list[frozenset[str]] = []
    steps = [0]

    def search(index: int, chosen: frozenset[str]) -> None:
        steps[0] += 1
        if best and (len(chosen) >= len(best[0]) or steps[0] > MAX_SEARCH):
            return
        if index == len(ways):
            best[:] = [chosen]
            return
        for option in sorted(ways[index], key=lambda option: (len(option - chosen), sorted(option))):
            search(index + 1, chosen | option)

    search(0, frozenset((at.words,)))
    return best[0] if best else None


# -- the next switching test


def best_test(source: Source) -> Switching | None:
    """The switching that leaves fewest breakers on average; None when there is nothing to narrow.

    One breaker that a label names is tested alone; else half of those that can be it are switched off together.
    """
    if source.certain:
        return None  # something feeds it for certain; whether more does is asked with all of that off
    feeds: list[Feed] = [*source.singles, *([ELSEWHERE] if source.elsewhere else [])]
    known = list(source.singles)
    if not known:
        return None
    labelled = {claim.breaker for claim in source.claims}
    named = [breaker for breaker in known if breaker in labelled]
    claimed = len(named) == 1
    off = tuple(named if claimed else known[: max(1, len(feeds) // 2)])
    chosen = set(off)
    others = tuple(feed for feed in feeds if feed not in chosen)
    if claimed:
        left = (1 + len(others)) / 2 if others else 1.0
    else:
        left = (len(off) ** 2 + len(others) ** 2) / len(feeds)
    return Switching(off, source.net, off, others, left, claimed)
