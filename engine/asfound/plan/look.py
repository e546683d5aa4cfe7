"""Observations: one act at one place, and which observations would show a fact, wholly or in part."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from typing import Any

from asfound.data import data
from asfound.judge.views import facts_of, left_out
from asfound.plan.acts import Act, acts, acts_for, chance, follows
from asfound.plan.hops import Hops, Stop
from asfound.plan.layout import OPEN, PANEL, Layout
from asfound.plan.standing import points_of
from asfound.record.facts import EXACT, NOT_RECORDED, Fact, Item
from asfound.trace import Installation
from asfound.trace.left import left, left_off
from asfound.trace.sources import ELSEWHERE, Feed, Source
from asfound.wording import natural

Shares = dict["Observation", float]
_HANDY = ("box", "device", PANEL)


@dataclass(frozen=True, slots=True)
class Observation:
    """One act, on one thing, at one place; `side` when an end of a cable has to be followed."""

    act: Act
    of: Item
    place: Item | None
    side: str = ""

    @property
    def name(self) -> str:
        """A name that does not depend on the order of a record: `open | box hall`."""
        return f"{self.act.name} | {self.of.identity}{f' ({self.side})' if self.side else ''}"

    @property
    def order(self) -> tuple[Any, ...]:
        """A total order that does not depend on the order of a record."""
        place = self.place.identity if self.place is not None else ""
        return natural(place), place, self.act.order, natural(self.of.identity), self.of.identity, self.side


@dataclass(frozen=True, slots=True)
class Test:
    """One switching test of the net `at`, which asks for no breaker to be put on.

    `stay` are breakers that could feed it and that the log left off: they stay as they are. With the net shown live
    first, `breakers` are switched off together and it is tested again; where there are none, being live or not is all
    that is asked. `if_dead` and `if_live` are what is left then, None for something not recorded; `left` is how many
    on average. A net that is not live to begin with leaves all of them.
    """

    breakers: tuple[Item, ...]
    stay: tuple[Item, ...]
    at: Item
    if_dead: tuple[Feed, ...]
    if_live: tuple[Feed, ...]
    left: float


class Looker:
    """Finds the observations that show a fact of one installation. `left` is how the log left each breaker."""

    def __init__(self, installation: Installation) -> None:
        self.layout = Layout(installation)
        self.hops = Hops(self.layout)
        self.site = installation.record.site
        self.left = left(installation.record)
        self._made: dict[tuple[str, Item, Item | None, str], Observation] = {}
        self._ways: dict[tuple[Item, str], Shares] = {}
        self.tests: dict[Observation, list[Test]] = {}  # what to switch, for the switching tests made so far

    # -- all of them

    def possible(self) -> list[Observation]:
        """Every observation that would show something which is not certain, in their own order."""
        found: dict[Observation, None] = {}
        for kind, items in self.layout.installation.items.items():
            names = [
                name for name, held in data("facts").get(kind, {"facts": {}})["facts"].items() if "observe" in held
            ]
            for item in items:
                for name in names:
                    if not certain(item, name):
                        found.update(dict.fromkeys(self.ways(item, name)))
        for place in self.layout.places:
            if self.layout.bare[place] or self.layout.unseen_ends(place) or not self.layout.looked_into(place):
                found[self.opening(place)] = None
        for cable, side in self.layout.lost:
            found[self.following(cable, side)] = None
        return sorted(found, key=lambda one: one.order)

    # -- for one fact

    def ways(self, item: Item, name: str) -> Shares:
        """The observations that show a fact, each with its share: 1 shows it, one half shows it in part."""
        held = self._ways.get((item, name))
        if held is None:
            self._ways[item, name] = {}  # what follows from itself is shown by nothing
            held = self._ways[item, name] = self._find(item, name)
        return held

    def _find(self, item: Item, name: str) -> Shares:
        found: Shares = {}
        if item.kind == "end" and item.data["at"] is None:
            conductor = item.data["conductor"]
            return self.finding(conductor.data["cable"], "from" if conductor.data["ends"][0] is item else "to")
        for act, only_unwritten in acts_for(item.kind, name):
            if only_unwritten and not left_out(item, name):
                continue
            for one in self._targets(act, item):
                found[one] = max(found.get(one, 0.0), act.share)
        parts = [part for part in (self._follow(item, path) for path in follows(item.kind, name)) if part]
        for part in parts:
            for one, share in part.items():
                found[one] = min(1.0, found.get(one, 0.0) + share / len(parts))
        return found

    def _follow(self, item: Item, path: str) -> Shares:
        """The observations for what a fact follows from; none where that is certain."""
        if path == "trace":
            return self.tracing(item)
        relation, _, name = path.rpartition(".")
        others = [item] if not relation else related(item, relation)
        opened = [other for other in others if name in facts_of(other.kind) and not certain(other, name)]
        found: Shares = {}
        for other in opened:
            for one, share in self.ways(other, name).items():
                found[one] = found.get(one, 0.0) + share / len(opened)
        return found

    def tracing(self, item: Item) -> Shares:
        """The places to open, and cables to follow, on the way from an item to a source."""
        stops = self.hops.of(item)
        if not stops and not list(self.layout.nets(item)):
            places = [place for place in self.layout.of(item) if not self.layout.looked_into(place)]
            stops = dict.fromkeys(places, 0.5)
        return {self._stop(stop): share for stop, share in stops.items()}

    def _stop(self, stop: Stop) -> Observation:
        return self.following(*stop) if isinstance(stop, tuple) else self.opening(stop)

    def opening(self, place: Item) -> Observation:
        """Looking into a place: the dead front off, the cover off, or going there."""
        name = {PANEL: "dead front off", OPEN: "open place"}.get(self.layout.sort(place), "open")
        return self._make(acts()[name], place, place)

    def following(self, cable: Item, side: str) -> Observation:
        """Following a cable to an end of it that is not traced, from the end that is."""
        places = self.layout.of(cable)
        return self._make(acts()["follow"], cable, places[0] if places else None, side)

    def finding(self, cable: Item, side: str) -> Shares:
        """What shows an end that is not traced: following it, or opening the place where it turns out to be.

        It is in one of the places nobody looked into, or elsewhere, each as
        likely as another; elsewhere for certain when somebody wrote where it goes.
        """
        follow = self.following(cable, side)
        places = [] if self.layout.goes(cable, side) else self.layout.closed
        part = 1.0 / (len(places) + 1)
        return {**{self.opening(place): part for place in places}, follow: follow.act.share * part}

    def test(self, source: Source) -> Test | None:
        """The switching test that narrows what feeds a net; None where no test does that with what was left off."""
        test = source.test
        if test is None:
            return None
        stay = tuple(one for one in source.singles if left_off(self.left, one))
        if not stay:
            return Test(test.breakers, (), test.at, test.if_dead, test.if_live, test.left)
        rest = [one for one in source.singles if one not in stay]
        feeds: list[Feed] = [*rest, *([ELSEWHERE] if source.elsewhere else [])]
        off = tuple(one for one in rest if test.claimed and one in test.breakers) or tuple(rest[: len(feeds) // 2])
        others = tuple(feed for feed in feeds if feed not in off)
        count = len(stay) + len(feeds)
        after = (len(off) ** 2 + len(others) ** 2 + len(stay) * count) / count
        return Test(off, stay, test.at, off, others, after) if feeds else None

    def switching(self, test: Test) -> Observation:
        """Switching breakers off and testing a net, where one gets at it best; all nets of a cable in one go."""
        net = test.at
        cable = net.data["conductors"][0].data["cable"] if net.data["conductors"] else net
        one = self._make(acts()["switch"], cable, self._handiest(net))
        tests = self.tests.setdefault(one, [])
        if test not in tests:
            tests.append(test)
        return one

    def again(self, net: Item) -> Observation:
        """Testing a net again of which the record says what cannot all be true."""
        return self._make(acts()["test again"], net, self._handiest(net))

    def reading(self, probe: Item) -> Observation:
        """Taking the reading that tells best what the readings of a probe mean."""
        places = self.layout.of(probe)
        return self._make(acts()["reading"], probe, places[0] if places else None)

    def odds(self, one: Observation) -> float:
        """The chance that an observation is made.

        Less where building parts have to come off first, and where it is one of what is live and all that feeds it
        was left off: nothing is put on for it, so it waits.
        """
        if one.act.needs_live and self.waits(one.of):
            return chance("on again")
        reachable = one.place.data.get("reachable") if one.place is not None and one.act.live else None
        return chance("reached") if isinstance(reachable, Fact) and reachable.values == (False,) else 1.0

    def waits(self, item: Item) -> list[Item]:
        """What was left off of all that is known to feed an item; none when something that feeds it was not."""
        fed: dict[Item, None] = {}
        readings = item.data["readings"] if item.kind == "probe" else [item] if item.kind == "reading" else []
        at = [thing for reading in readings for thing in points_of(reading)] or [item]
        for net in dict.fromkeys(net for one in at for net in self.layout.nets(one)):
            held = net.data["fed_by"]
            fed.update(dict.fromkeys(breaker for breakers in held.values for breaker in breakers))
        if item.kind == "breaker":
            fed = {item: None}
        off = [left_off(self.left, breaker) for breaker in fed]
        return list(dict.fromkeys(one for found in off for one in found)) if off and all(off) else []

    def _make(self, act: Act, of: Item, place: Item | None, side: str = "") -> Observation:
        key = (act.name, of, place, side)
        made = self._made.get(key)
        if made is None:
            made = self._made[key] = Observation(act, of, place, side)
        return made

    # -- what an act is done on

    def _targets(self, act: Act, item: Item) -> Iterator[Observation]:
        sort, layout = act.one_for, self.layout
        if sort == "site":
            yield self._make(act, self.site, None)
        elif sort == "item":
            places = layout.of(item)
            yield self._make(act, item, places[0] if places else None)
        elif sort in ("panel", "place"):
            for place in layout.of(item):
                if layout.sort(place) in act.at:
                    yield self._make(act, place, place)
        elif sort == "cable":
            cable = item if item.kind == "cable" else item.data["cable"]
            yield self._make(act, cable, self._handiest(cable))

    def _handiest(self, item: Item) -> Item | None:
        """Where a cable or net is looked at: a box before a load before a panel, and where it is open already."""
        places = self.layout.of(item)
        return min(places, key=lambda one: (_HANDY.index(one.kind), not self.layout.looked_into(one)), default=None)


def certain(item: Item, name: str) -> bool:
    """Whether a fact of an item has one value that nothing leaves in doubt."""
    held = item.data.get(name, NOT_RECORDED)
    return not isinstance(held, Fact) or held.kind == EXACT


def related(item: Item, name: str) -> list[Item]:
    """The items that a relation of an item names, as far as they are known."""
    held: Any = item.data.get(name, ())
    if isinstance(held, Fact):
        held = held.values[0] if held.kind == EXACT else ()
    if isinstance(held, Item):
        return [held]
    return [one for one in held if isinstance(one, Item)] if isinstance(held, Iterable) else []
