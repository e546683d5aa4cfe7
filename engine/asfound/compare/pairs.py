"""Which thing of one record is which thing of another record of the same place.

Tags are the person's own and stay, unless `was` says otherwise. Conductors,
terminals and ends go with their cables and devices; a net goes with its
conductors, a circuit with its breakers. Joints are often numbered anew, so one
that shares no wire and no place with its namesake is another one, and one
without a namesake goes with its wires. Log entries, readings and labels go by
what they say, photographs by file name. Nothing goes by line or by order.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Hashable, Iterable, Iterator, Mapping

from asfound.compare.side import TAGGED, Hold, Side, conductors_of
from asfound.record.facts import Item
from asfound.record.model import Entry, Record
from asfound.wording import natural

Links = Mapping[str, Mapping[str, tuple[str, ...]]]
"""By kind of item: the tags on the earlier side of each tag on the later side."""


class Pairs:
    """Identities of the two sides that stand for the same thing; one can have several on the other side."""

    def __init__(self) -> None:
        self._earlier: dict[str, dict[str, None]] = {}
        self._later: dict[str, dict[str, None]] = {}
        self.crossed: set[tuple[str, str]] = set()  # tags of cables, earlier and later, recorded from the other end
        self._parent: dict[str, str] = {}
        self._turned: Pairs | None = None

    def add(self, earlier: str, later: str) -> None:
        """Note that two identities stand for one thing."""
        self._earlier.setdefault(later, {})[earlier] = None
        self._later.setdefault(earlier, {})[later] = None
        one, two = self.token(f"<{earlier}"), self.token(f">{later}")
        self._parent[one] = two

    def earlier(self, later: str) -> tuple[str, ...]:
        """What a thing of the later side was on the earlier side; empty when it was not there."""
        return tuple(self._earlier.get(later, ()))

    def later(self, earlier: str) -> tuple[str, ...]:
        """What a thing of the earlier side is on the later side; empty when it is not there."""
        return tuple(self._later.get(earlier, ()))

    def token(self, marked: str) -> str:
        """One word for everything that stands for the same thing; of `<identity` earlier or `>identity` later."""
        at = marked
        while (above := self._parent.get(at, at)) != at:
            at = above
        while self._parent.get(marked, marked) != at:
            self._parent[marked], marked = at, self._parent[marked]
        return at

    def turned(self) -> Pairs:
        """The same pairs with the sides changed. Made once, when no pair is to come any more."""
        if self._turned is not None:
            return self._turned
        made = self._turned = Pairs()
        made._turned = self
        for later, found in self._earlier.items():
            for earlier in found:
                made.add(later, earlier)
        made.crossed = {(later, earlier) for earlier, later in self.crossed}
        return made


def tag_links(earlier: Side, later: Side, gone: Iterable[str] = (), come: Iterable[str] = ()) -> Links:
    """Which tag was which, by what the later record says. `gone` and `come` are tags taken out and put in since."""
    gone, come = set(gone), set(come)
    links: dict[str, dict[str, tuple[str, ...]]] = {}
    for kind in TAGGED:
        before, now = earlier.tagged(kind), later.tagged(kind)
        was = {tag: tuple(dict.fromkeys(_was(item, before, links))) for tag, item in now.items()}
        claimed = {tag for tags in was.values() for tag in tags}
        found: dict[str, tuple[str, ...]] = {}
        for tag, item in now.items():
            own = _own(item, links)
            if was[tag]:
                found[tag] = was[tag]
            elif own in before and own not in claimed and not (own in gone and tag in come):
                found[tag] = (own,)
        links[kind] = found
    return links


def _was(item: Item, before: Mapping[str, Item], links: Links) -> Iterator[str]:
    """The earlier tags that an item names and the earlier record has; a breaker may name its space alone."""
    for tag in item.was:
        if tag in before:
            yield tag
        elif item.kind == "breaker":
            panel = item.data["panel"].tag
            yield from (f"{one} {tag}" for one in links["panel"].get(panel, (panel,)) if f"{one} {tag}" in before)


def _own(item: Item, links: Links) -> str:
    """The tag an item has if nothing else is said; a breaker goes with its panel."""
    if item.kind != "breaker":
        return item.tag
    panel: str = item.data["panel"].tag
    was = links["panel"].get(panel, ())
    return f"{was[0]}{item.tag.removeprefix(panel)}" if was else item.tag


def paired(earlier: Side, later: Side, links: Links) -> Pairs:
    """All pairs, from what is known of the tags."""
    return _Pairing(earlier, later, links).all()


class _Pairing:
    def __init__(self, earlier: Side, later: Side, links: Links) -> None:
        self.before, self.now, self.links = earlier, later, links
        self.pairs = Pairs()

    def all(self) -> Pairs:
        self.pairs.add("site site", "site site")
        for kind in TAGGED:
            if kind != "joint":
                self._tagged(kind)
        self._conductors()
        self._joints()
        self._terminals()
        self._by_parts("net", lambda item: _net_parts(item))
        self._by_parts("circuit", lambda item: [breaker.identity for breaker in item.data["breakers"].value])
        self._readings()
        self._entries()
        self._labels()
        self._contradictions()
        self._others()
        return self.pairs

    def _tagged(self, kind: str) -> None:
        for tag, were in self.links.get(kind, {}).items():
            for was in were:
                self.pairs.add(f"{kind} {was}", f"{kind} {tag}")

    def _same(self, earlier: Item | None, later: Item | None) -> bool:
        return earlier is not None and later is not None and later.identity in self.pairs.later(earlier.identity)

    # -- cables

    def _conductors(self) -> None:
        before, now = self.before.tagged("cable"), self.now.tagged("cable")
        for tag, were in self.links.get("cable", {}).items():
            for was in were:
                one, two = before[was], now[tag]
                crossed = self._crossed(one, two)
                if crossed:
                    self.pairs.crossed.add((was, tag))
                names = {c.tag.removeprefix(f"{was} "): c for c in one.data["conductors"]}
                for conductor in two.data["conductors"]:
                    other = names.get(conductor.tag.removeprefix(f"{tag} "))
                    if other is None:
                        continue
                    self.pairs.add(other.identity, conductor.identity)
                    ends = other.data["ends"][::-1] if crossed else other.data["ends"]
                    for end, later in zip(ends, conductor.data["ends"], strict=True):
                        self.pairs.add(end.identity, later.identity)

    def _crossed(self, one: Item, two: Item) -> bool:
        """Whether `from` and `to` of a cable have changed places, as when somebody else wrote it down."""
        first, second = one.data["sides"], two.data["sides"]
        straight = sum(self._same(first[side], second[side]) for side in ("from", "to"))
        across = sum(self._same(first[a], second[b]) for a, b in (("from", "to"), ("to", "from")))
        if straight == across > 0:  # both ends in one place: what holds the wires tells them apart
            straight, across = (self._held_alike(one, two, turn) for turn in (1, -1))
        return across > straight

    def _held_alike(self, one: Item, two: Item, turn: int) -> int:
        """How many ends of two cables are held alike, taken as they are or, with `turn` -1, the other way round."""
        names = {c.tag.removeprefix(f"{one.tag} "): c for c in one.data["conductors"]}
        count = 0
        for conductor in two.data["conductors"]:
            other = names.get(conductor.tag.removeprefix(f"{two.tag} "))
            for end, later in zip(other.data["ends"][::turn], conductor.data["ends"], strict=True) if other else ():
                first, second = self.before.holds.get(end), self.now.holds.get(later)
                count += (first and first[0]) == (second and second[0])
                count += (
                    first is not None and second is not None and self._names(first, "<") == self._names(second, ">")
                )
        return count

    def _names(self, hold: Hold, mark: str) -> Hold:
        """What holds an end, with the device by what it is on both sides; a joint by its own tag."""
        if hold[0] != "terminal":
            return hold
        return hold[0], self.pairs.token(f"{mark}device {hold[1]}"), hold[2]

    # -- joints and terminals

    def _joints(self) -> None:
        """By `was`, then by tag where a wire is the same too, then by wires, then by tag alone in one place."""
        before, now = self.before.tagged("joint"), self.now.tagged("joint")
        links = [(was, tag) for tag, were in self.links.get("joint", {}).items() for was in were]
        shared: dict[tuple[str, str], int] = Counter(
            (was, tag) for was in before for end in self.before.held.get(("joint", was), ())
            for tag in self._joints_of(end)
        )  # fmt: skip
        ranked = sorted(shared, key=lambda pair: (-shared[pair], natural(pair[0]), natural(pair[1]), pair))
        said = [pair for pair in links if pair[0] != pair[1] or pair[1] in now[pair[1]].was]
        alike = [pair for pair in links if pair in shared]
        alone = [pair for pair in links if self._in_one_place(before[pair[0]], now[pair[1]])]
        done: set[str] = set()
        for was, tag in said:
            self.pairs.add(f"joint {was}", f"joint {tag}")
            done |= {f"<{was}", f">{tag}"}
        for was, tag in (*alike, *ranked, *alone):
            if not {f"<{was}", f">{tag}"} & done:
                self.pairs.add(f"joint {was}", f"joint {tag}")
                done |= {f"<{was}", f">{tag}"}

    def _joints_of(self, end: Item) -> Iterator[str]:
        """The joints of the later side that hold an end of the earlier side."""
        for identity in self.pairs.later(end.identity):
            hold: Hold = self.now.holds.get(self.now.items[identity], ())
            if hold[:1] == ("joint",):
                yield hold[1]

    def _in_one_place(self, one: Item, two: Item) -> bool:
        """Whether two joints are in one box, or neither is in a box."""
        place, other = one.data["box"][:1], two.data["box"][:1]
        return self._same(place[0], other[0]) if place and other else not place and not other

    def _terminals(self) -> None:
        for item in self.now.installation.items.get("terminal", ()):
            name = item.data["name"]
            for device in self.pairs.earlier(item.data["device"].identity):
                was = f"terminal {device.partition(' ')[2]} {name}"
                if was in self.before.items:
                    self.pairs.add(was, item.identity)

    # -- nets, circuits

    def _by_parts(self, kind: str, parts: Callable[[Item], Iterable[str]]) -> None:
        """Pair items that have a part in common."""
        owners: dict[str, list[str]] = {}
        for item in self.before.installation.items.get(kind, ()):
            for part in parts(item):
                owners.setdefault(part, []).append(item.identity)
        for item in self.now.installation.items.get(kind, ()):
            for part in parts(item):
                for was in self.pairs.earlier(part):
                    for owner in owners.get(was, ()):
                        self.pairs.add(owner, item.identity)

    # -- what is listed

    def _listed(self, kind: str, before: Iterable[tuple[Hashable, str]], now: Iterable[tuple[Hashable, str]]) -> None:
        """Pair identities with equal keys, the first with the first."""
        waiting: dict[Hashable, list[str]] = {}
        for key, identity in before:
            waiting.setdefault(key, []).append(identity)
        for key, identity in now:
            if waiting.get(key):
                self.pairs.add(f"{kind} {waiting[key].pop(0)}", f"{kind} {identity}")

    def _readings(self) -> None:
        self._listed("reading", _reading_keys(self.before, self._token_earlier, True),
                     _reading_keys(self.now, self._token_later, True))  # fmt: skip
        rest = [
            [(key, tag) for key, tag in _reading_keys(one, token, False) if not found(f"reading {tag}")]
            for one, token, found in (
                (self.before, self._token_earlier, self.pairs.later), (self.now, self._token_later, self.pairs.earlier),
            )
        ]  # fmt: skip
        self._listed("reading", *rest)

    def _entries(self) -> None:
        self._listed("entry", _entry_keys(self.before, self._token_earlier), _entry_keys(self.now, self._token_later))
        claims = [
            {item.place: item.identity for item in one.installation.items.get("claim", ())}
            for one in (self.before, self.now)
        ]
        numbers = {str(entry.number): entry.place for entry in self.before.record.log}
        for entry in self.now.record.log:
            for was in self.pairs.earlier(f"entry {entry.number}"):
                before = claims[0].get(numbers[was.partition(" ")[2]])
                now = claims[1].get(entry.place)
                if before is not None and now is not None:
                    self.pairs.add(before, now)

    def _labels(self) -> None:
        self._listed("label", _label_keys(self.before, self._token_earlier), _label_keys(self.now, self._token_later))

    def _contradictions(self) -> None:
        for item in self.now.installation.items.get("contradiction", ()):
            kind, _, net = item.tag.partition(", ")
            for was in self.pairs.earlier(f"net {net}"):
                identity = f"contradiction {kind}, {was.partition(' ')[2]}"
                if identity in self.before.items:
                    self.pairs.add(identity, item.identity)
        self._by_parts("probe", lambda item: [reading.identity for reading in item.data["readings"]])

    def _others(self) -> None:
        """Whatever else there is goes by its tag."""
        done = {*TAGGED, "site", "conductor", "end", "terminal", "net", "circuit", "reading", "entry", "claim", "label",
                "contradiction", "probe"}  # fmt: skip
        for kind in self.now.installation.items:
            if kind not in done:
                for item in self.now.installation.items[kind]:
                    if item.identity in self.before.items:
                        self.pairs.add(item.identity, item.identity)

    def _token_earlier(self, reference: str) -> Hashable:
        return _reference(self.pairs, self.before, "<", reference)

    def _token_later(self, reference: str) -> Hashable:
        return _reference(self.pairs, self.now, ">", reference)


def _net_parts(net: Item) -> list[str]:
    """What tells a net: its conductors, else whatever it has."""
    conductors = [conductor.identity for conductor in conductors_of(net)]
    if conductors:
        return conductors
    found = [item.identity for name in ("terminals", "joints", "boxes") for item in net.data.get(name, ())]
    return found or [breaker.identity for breaker in net.data["breakers"].value]


def _reference(pairs: Pairs, one: Side, mark: str, reference: str) -> Hashable:
    """What a reference of a record stands for, equal on both sides when it is one thing."""
    for suffix in ("", " (from)", " (to)", " neutral bar", " ground bar", " box"):
        if not reference.endswith(suffix):
            continue
        bare = reference.removesuffix(suffix) if suffix else reference
        found = one.by_tag.get(bare) or [item.identity for item in _pole(one.record, bare)]
        if found:
            end = f"end {reference}"
            if suffix in (" (from)", " (to)") and end in one.items:
                return pairs.token(f"{mark}{end}")
            return pairs.token(f"{mark}{found[0]}"), suffix
    device, _, name = reference.rpartition(" ")
    return (pairs.token(f"{mark}device {device}"), name) if device in one.record.devices else reference


def _pole(record: Record, reference: str) -> Iterator[Item]:
    panel, _, space = reference.rpartition(" ")
    if (panel, space) in record.poles:
        yield record.poles[panel, space][0]


Token = Callable[[str], Hashable]


def _reading_keys(one: Side, token: Token, whole: bool) -> Iterator[tuple[Hashable, str]]:
    """A key for each reading: when, what and between which points; `whole` with its value, else with its own tag."""
    record = one.record
    for item, held in zip(record.readings, record.document.root.get("readings") or (), strict=True):
        visit = record.visit_of(item.visit)
        when = record.moment(held.get("at", ""), held.get("visit", "")) or (visit.on if visit else "")
        points = frozenset(token(point) for point in held["between"])
        told = repr(held.get("value")) if whole else held.get("tag", "")
        if whole or (told and when):
            yield (when, held["kind"], points, told, bool(held.get("known_source", False))), item.tag


def _entry_keys(one: Side, token: Token) -> Iterator[tuple[Hashable, str]]:
    for entry in one.record.log:
        what = frozenset(token(tag) for tag in entry.what)
        yield (_moment(one.record, entry), entry.did, what, entry.to), str(entry.number)


def _moment(record: Record, entry: Entry) -> str:
    visit = record.visit_of(entry.visit)
    return record.moment(entry.at, entry.visit) or (visit.on if visit else "")


def _label_keys(one: Side, token: Token) -> Iterator[tuple[Hashable, str]]:
    for number, held in enumerate(one.record.document.root.get("labels") or (), 1):
        on = str(held["on"])
        yield (token(on), str(held["says"])), f"{number} on {on}"
