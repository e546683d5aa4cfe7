"""One record with everything added on which it is silent and the other record is not.

What the upper record says stands. Where it says nothing, because a thing, a
fact, an end of a wire or a connection is not in it or was not seen, the under
record speaks. What the upper record says was not there in its own time is left
out. A finding that is in the sum and not in the upper record alone is gone, or
new, by silence only.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from typing import Any

from asfound.compare.pairs import Links, Pairs
from asfound.compare.side import TAGGED, Side, side_of
from asfound.diagnose import diagnose, probes
from asfound.load.values import Document, Map, Place, Refused, Seq
from asfound.record.build import build
from asfound.record.facts import Fact, Item
from asfound.record.places import terminals_of
from asfound.record.references import BARS
from asfound.trace import Installation, trace

SECTIONS = {"panel": "panels", "box": "boxes", "device": "devices", "cable": "cables", "joint": "joints"}
_SHORT = {"cable": "type", "breaker": "amps", "box": "kind", "supply": "system"}
"""What the short form of a thing stands for."""
_OWN = ("was", "photo", "visit", "by", "note")
"""What belongs to the writing of an entry; never carried over."""
_APART = {
    "cable": ("from", "to", "passes", "conductors"), "joint": ("at", "ends"), "panel": ("breakers", "fed_from"),
    "device": ("at", "terminals", "wired_to", "nameplate"), "breaker": ("tied_with", "wired"), "box": (),
}  # fmt: skip
"""What is carried over in a way of its own."""
EVENTS = ("readings", "log", "labels")
_OTHER = " (other)"
_MOMENTARY = {"breaker": "state", "device": "position"}
"""Positions as found, which hold for one visit."""


@dataclass(slots=True)
class Filled:
    """The sum, traced; `links` say which of its tags was which tag of the under record."""

    installation: Installation
    links: Links


def filled(upper: Side, under: Side, pairs: Pairs, *, events: bool, under_first: bool) -> Filled | None:
    """The upper record filled up from the under one; None when the two cannot be read as one record.

    `pairs` has the under record on its earlier side. With `events` readings,
    log and labels of the under record are added too, before those of the upper
    record when `under_first`.
    """
    filler = _Filler(upper, under, pairs)
    root = filler.all(events, under_first)
    document = upper.record.document
    try:
        record = build(Document(placed(root), document.name, document.sha256))
    except (Refused, KeyError, ValueError):
        return None
    installation = trace(record)
    installation.items["probe"] = probes(diagnose(installation))
    for kind, items in upper.installation.items.items():
        installation.items.setdefault(kind, items)
    return Filled(installation, filler.links(side_of(installation)))


class _Filler:
    def __init__(self, upper: Side, under: Side, pairs: Pairs) -> None:
        self.upper, self.under, self.pairs = upper, under, pairs
        self.root = plain(upper.record.document.root)
        self.names: dict[str, str | None] = {}  # by identity of the under side: the tag in the sum
        self.visits: dict[str, str] = {}
        self.refs: dict[str, str | None] = {}  # by reference of the under record: the reference in the sum
        self.sides: dict[tuple[str, str], str] = {}  # cable and side in the sum: tag of the place
        self.landed: set[tuple[str, str]] = {(panel, spot) for _, panel, spot in upper.record.landings}

    def all(self, events: bool, under_first: bool) -> dict[str, Any]:
        self._name()
        self._add_visits()
        self._site()
        self._panels()
        self._boxes()
        self._devices()
        self._cables()
        self._joints()
        self._terminals()
        if events:
            self._events(under_first)
        return self.root

    def links(self, total: Side) -> Links:
        """The tags of the under record by kind and tag of the sum; a joint that lost all its ends is not in it."""
        found: dict[str, dict[str, tuple[str, ...]]] = {kind: {} for kind in TAGGED}
        for kind in TAGGED:
            for tag, item in self.under.tagged(kind).items():
                names = [one.partition(" ")[2] for one in self.pairs.later(item.identity)]
                name = self.names.get(item.identity)
                for one in dict.fromkeys([*names, *([name] if name else [])]):
                    if one in total.tagged(kind):
                        found[kind][one] = (*found[kind].get(one, ()), tag)
        return found

    # -- names

    def _name(self) -> None:
        """Give everything of the under record its tag in the sum, None where it has no place there."""
        taken = {tag for section in SECTIONS.values() for tag in self.root.get(section) or {}}
        taken |= {item.tag for item in self.upper.record.conductors}
        for kind in SECTIONS:
            for tag, item in self.under.tagged(kind).items():
                there = self.pairs.later(item.identity)
                if there:
                    self.names[item.identity] = there[0].partition(" ")[2]
                elif item.identity in self.under.other_era:
                    self.names[item.identity] = None
                else:
                    name = tag
                    while name in taken:
                        name = f"{name}{_OTHER}"
                    taken.add(name)
                    self.names[item.identity] = name
        self._name_breakers()
        self._references()

    def _name_breakers(self) -> None:
        poles = set(self.upper.record.poles)
        for (panel, space), item in self.under.record.breakers.items():
            there = self.pairs.later(item.identity)
            holder = self.names[f"panel {panel}"]
            singles = {(holder or "", one) for one in space.split("/")}
            if there:
                self.names[item.identity] = there[0].partition(" ")[2]
            elif item.identity in self.under.other_era or holder is None or singles & poles:
                self.names[item.identity] = None
            else:
                poles |= singles
                self.names[item.identity] = f"{holder} {space}"

    def _references(self) -> None:
        refs, names, record = self.refs, self.names, self.under.record
        for kind in SECTIONS:
            for tag, item in self.under.tagged(kind).items():
                refs[tag] = names[item.identity]
        for tag, box in record.boxes.items():
            refs.setdefault(f"{tag} box", _plus(names[box.identity], "box"))
        for tag, panel in record.panels.items():
            refs.update((f"{tag} {bar}", _plus(names[panel.identity], bar)) for bar in BARS)
        for tag, device in record.devices.items():
            refs.update((f"{tag} {name}", _plus(names[device.identity], name)) for name in terminals_of(device))
        for breaker in record.breakers.values():
            refs[breaker.tag] = names[breaker.identity]
        for (holder, space), (breaker, number) in record.poles.items():
            refs.setdefault(f"{holder} {space}", _pole_name(names[breaker.identity], number))
        for conductor in record.conductors:
            refs[conductor.tag] = self._conductor(conductor)

    def _conductor(self, conductor: Item) -> str | None:
        cable = conductor.data["cable"]
        tag = self.names[cable.identity]
        if tag is None:
            return None
        name = conductor.tag.removeprefix(f"{cable.tag} ")
        above = self.upper.record.cables.get(tag)
        known = [one.tag for one in above.data["conductors"]] if above is not None else []
        return f"{tag} {name}" if not known or f"{tag} {name}" in known else None

    def _ref(self, reference: str) -> str | None:
        """A reference of the under record as it is in the sum; None for what has no place there."""
        for side in ("from", "to"):
            bare = reference.removesuffix(f" ({side})")
            if bare != reference and bare in self.refs:
                found = self.refs[bare]
                other = {"from": "to", "to": "from"}[side] if self._is_crossed(bare) else side
                return None if found is None else f"{found} ({other})"
        return self.refs.get(reference, reference)

    def _is_crossed(self, conductor: str) -> bool:
        item = self.under.items.get(f"conductor {conductor}")
        return item is not None and any(was == item.data["cable"].tag for was, _ in self.pairs.crossed)

    # -- visits and site

    def _add_visits(self) -> None:
        record = self.upper.record
        there = self.root.setdefault("visits", {})
        usual = record.visit_of()
        if usual is not None:
            self.root["seen_on"] = usual.tag
        for tag, visit in self.under.record.visits.items():
            name = tag
            while name in there and record.visits.get(name) != visit:
                name = f"{name}{_OTHER}"
            self.visits[tag] = name
            there.setdefault(name, plain(self.under.record.document.root["visits"][tag]))

    def _site(self) -> None:
        under = plain(self.under.record.document.root)
        self._facts(self.root["site"], under["site"], self.upper.record.site, "site", ())
        supply = _long(self.root["supply"], "supply")
        for name, value in _long(under["supply"], "supply").items():
            fact = self.upper.record.site.data.get({"system": "supply", "amps": "service_amps"}.get(name, name))
            if not isinstance(fact, Fact) or not fact.values:
                supply[name] = value
        self.root["supply"] = supply
        for tag, held in (under.get("instruments") or {}).items():
            self.root.setdefault("instruments", {}).setdefault(tag, held)

    def _facts(
        self, into: dict[str, Any], held: Mapping[str, Any], item: Item | None, kind: str, apart: Iterable[str]
    ) -> None:
        """Add what was seen of a thing where the upper record, with its `item`, knows nothing.

        Of a thing that the upper record does not have, what was not seen is taken over as well, with its reason.
        """
        for name, value in held.items():
            if name in apart or name in _OWN or (item is not None and _is_unseen(value)):
                continue
            known = item.data.get(name) if item is not None else None
            if (isinstance(known, Fact) and known.values) or (name in into and not _is_unseen(into[name])):
                continue
            into[name] = self._of_visit(value, kind, name, held)

    def _of_visit(self, value: Any, kind: str, name: str, held: Mapping[str, Any]) -> Any:
        """A value with its visit renamed; a position as found is tied to the visit it was found on."""
        if isinstance(value, dict) and "visit" in value:
            value = {**value, "visit": self.visits.get(value["visit"], "")}
            return value if value["visit"] else {k: v for k, v in value.items() if k != "visit"}
        if _MOMENTARY.get(kind) == name:
            visit = self.under.record.visit_of(str(held.get("visit", "")))
            if visit is not None:
                value = {**value} if isinstance(value, dict) else {"is": value}
                value["visit"] = self.visits[visit.tag]
        return value

    # -- things

    def _section(self, kind: str) -> Iterator[tuple[Item, dict[str, Any], dict[str, Any], Item | None]]:
        """The things of a kind that have a place in the sum: item, entry, entry in the sum, and item above if any."""
        raw = self.under.record.document.root.get(SECTIONS[kind]) or {}
        section = self.root.setdefault(SECTIONS[kind], {})
        for tag, item in self.under.tagged(kind).items():
            name = self.names[item.identity]
            if name is None:
                continue
            above = self.upper.tagged(kind).get(name)
            section[name] = _long(section.get(name, {}), kind)
            yield item, _long(plain(raw[tag]), kind), section[name], above

    def _boxes(self) -> None:
        for _, held, into, above in self._section("box"):
            self._facts(into, held, above, "box", _APART["box"])

    def _panels(self) -> None:
        for item, held, into, above in self._section("panel"):
            self._facts(into, held, above, "panel", _APART["panel"])
            if "fed_from" not in into and "fed_from" in held:
                source = held["fed_from"] if held["fed_from"] == "supply" else self._ref(held["fed_from"])
                into.update({} if source is None else {"fed_from": source})
            breakers = into.setdefault("breakers", {})
            for space, written in (held.get("breakers") or {}).items():
                self._breaker(item.tag, space, _long(written, "breaker"), breakers)

    def _breaker(self, panel: str, space: str, held: dict[str, Any], breakers: dict[str, Any]) -> None:
        name = self.names[f"breaker {panel} {space}"]
        if name is None:
            return
        above = self.upper.tagged("breaker").get(name)
        place = name.rpartition(" ")[2]
        if above is not None and place not in breakers:
            return  # it is in another panel now
        into = breakers[place] = _long(breakers.get(place, {}), "breaker")
        self._facts(into, held, above, "breaker", _APART["breaker"])
        singles = place.split("/")
        tag = name.removesuffix(f" {place}")
        if held.get("wired") is False and "wired" not in into and not any((tag, s) in self.landed for s in singles):
            into["wired"] = False
        if "tied_with" in held and "tied_with" not in into and into.get("tie") != "none":
            other = self._ref(f"{panel} {_space(held['tied_with'])}")
            if other is not None and other.rpartition(" ")[0] == tag:
                into["tied_with"] = other.rpartition(" ")[2]

    def _devices(self) -> None:
        is_place = {value for cable in (self.root.get("cables") or {}).values() for value in _places_of(cable)}
        for item, held, into, above in self._section("device"):
            self._facts(into, held, above, "device", _APART["device"])
            plate = held.get("nameplate") or {}
            if plate:
                self._facts(into.setdefault("nameplate", {}), plate, above, "device", ())
            name = self.names[item.identity]
            if "at" in held and "at" not in into and name not in is_place and (above is None or "where" not in into):
                at = self._ref(held["at"])
                into.update({} if at is None else {"at": at})

    # -- cables

    def _cables(self) -> None:
        for item, held, into, above in self._section("cable"):
            self._facts(into, held, above, "cable", _APART["cable"])
            self._own_conductors(item, held, into, above)
            for side in ("from", "to"):
                self._end(item, side, held, into, above)
            if held.get("passes") and "passes" not in into:
                named = {self._ref(box): how for box, how in held["passes"].items()}
                into["passes"] = {box: how for box, how in named.items() if box is not None}
        for tag, cable in self.upper.record.cables.items():
            for side, at in cable.data["sides"].items():
                if at is not None:
                    self.sides[tag, side] = at.tag

    def _own_conductors(self, item: Item, held: dict[str, Any], into: dict[str, Any], above: Item | None) -> None:
        for name, about in (held.get("conductors") or {}).items():
            reference = self.refs[f"{item.tag} {name}"]
            if reference is None:
                continue
            known = next((c for c in above.data["conductors"] if c.tag == reference), None) if above else None
            own = into.setdefault("conductors", {})
            own[name] = own.get(name) or {}
            self._facts(own[name], about or {}, known, "conductor", ())

    def _end(self, item: Item, side: str, held: dict[str, Any], into: dict[str, Any], above: Item | None) -> None:
        """Fill in where one end of a cable is, and the states of the wires there, as far as the sum has none."""
        name = self.names[item.identity]
        assert name is not None
        place = item.data["sides"][side]
        there = self._other_side(item.tag, name, side)
        if place is None:
            if held.get(side) is not None:  # not traced, with the reason
                into.setdefault(there, held[side])
            return
        at = self._ref(place.tag)
        at = self.root["devices"].get(at, {}).get("at", at)  # a place by itself there, a device in a box here
        now = above.data["sides"][there] if above is not None else None
        if at is None or (now is not None and now.tag != at):
            return
        said: dict[str, Any] = {}
        for conductor in item.data["conductors"]:
            reference = self.refs[conductor.tag]
            state = self._state(conductor, side, held.get(side), at) if reference is not None else None
            if state is not None and self._is_silent(str(reference), there):
                said[str(reference).removeprefix(f"{name} ")] = state
        value = into.get(there)
        if now is None:
            kept = {k: v for k, v in value.items() if k not in ("not_seen", "at")} if isinstance(value, dict) else {}
            into[there] = {"at": at, **said, **kept}
            self.sides[name, there] = at
        elif said:
            into[there] = {**(value if isinstance(value, dict) else {"at": value}), **said}

    def _other_side(self, was: str, name: str, side: str) -> str:
        return {"from": "to", "to": "from"}[side] if (was, name) in self.pairs.crossed else side

    def _state(self, conductor: Item, side: str, written: Any, at: str) -> Any:
        """The state of an end as an entry of a cable says it; None when it is in a joint, on a device or not seen."""
        end = conductor.data["ends"][0 if side == "from" else 1]
        hold = self.under.holds.get(end, ())
        if hold[:1] == ("landing",):
            spot = hold[2]
            if spot[:1].isalpha():
                return spot
            pole = self.refs.get(f"{hold[1]} {spot}")
            tag, _, space = (pole or "").rpartition(" ")
            space = space.split("/")[0]
            spare = (self.root["panels"][tag]["breakers"].get(space) if tag == at else None) or {}
            if tag != at or (isinstance(spare, dict) and spare.get("wired") is False):
                return None
            self.landed.add((tag, space))
            return f"breaker {space}"
        name = conductor.tag.removeprefix(f"{conductor.data['cable'].tag} ")
        return written.get(name) if isinstance(written, dict) and hold[:1] in ((), ("state",)) else None

    def _is_silent(self, reference: str, side: str) -> bool:
        """Whether the upper record says nothing of this end of a conductor."""
        end = self.upper.items.get(f"end {reference} ({side})")
        return end is None or end not in self.upper.holds

    # -- joints and terminals

    def _joints(self) -> None:
        joints = self.root.setdefault("joints", {})
        bonded = {joint["at"] for joint in joints.values() if "box" in joint["ends"]}
        raw = self.under.record.document.root.get("joints") or {}
        for tag, item in self.under.record.joints.items():
            name = self.names[item.identity]
            held = plain(raw[tag])
            at = self._ref(held["at"])
            if name is None or at is None:
                continue
            into = joints.get(name)
            above = self.upper.record.joints.get(name)
            ends = []
            for reference, (sort, member) in zip(held["ends"], self.under.record.joint_members[tag], strict=True):
                if sort == "conductor":
                    ends += self._joint_end(tag, reference, member, at if into is None else into["at"])
                elif sort == "terminal":
                    found = self._ref(reference)
                    ends += [found] if found is not None and self._is_unused(found) else []
                elif into is None and at not in bonded:
                    ends.append("box")
            if into is None:
                if not any(end != "box" for end in ends):
                    continue
                bonded |= {at} if "box" in ends else set()
                into = joints[name] = {"at": at, "ends": []}
            into["ends"] += [end for end in ends if end not in into["ends"]]
            self._facts(into, held, above, "joint", _APART["joint"])

    def _joint_end(self, tag: str, reference: str, conductor: Item, at: str) -> list[str]:
        """A conductor end of a joint as it is in the sum, in a list; empty when the sum has it elsewhere."""
        found = self.refs[conductor.tag]
        if found is None:
            return []
        mine = [end for end in self.under.held.get(("joint", tag), ()) if end.data["conductor"] is conductor]
        if not mine:  # it passes through the box and is tapped
            return [found]
        name = found.removesuffix(f" {conductor.tag.removeprefix(conductor.data['cable'].tag + ' ')}")
        ends = []
        for end in mine:
            side = "from" if end is conductor.data["ends"][0] else "to"
            there = self._other_side(conductor.data["cable"].tag, name, side)
            if self._is_silent(found, there) and self.sides.get((name, there)) == at and self._once(found, there):
                ends.append(f"{found} ({there})")
        return ends

    def _once(self, reference: str, side: str) -> bool:
        """Take an end, once."""
        key = (reference, side)
        if key in self.landed:
            return False
        self.landed.add(key)
        return True

    def _is_unused(self, terminal: str) -> bool:
        """Whether nothing is on a terminal in the upper record, and the device of the sum has it."""
        device, _, name = terminal.rpartition(" ")
        above = self.upper.record.devices.get(device)
        if above is None:
            return True
        return f"terminal {terminal}" not in self.upper.items and name in self._terminals_of(device, above)

    def _terminals_of(self, device: str, above: Item) -> list[str]:
        if above.data["kind"].values:
            return terminals_of(above)
        written = self.root["devices"][device].get("kind")
        kinds = [] if _is_unseen(written) else _kinds(written)
        stand_in = Item("device", device, device)
        stand_in.data["kind"] = Fact("listed", tuple(kinds))
        return terminals_of(stand_in)

    def _terminals(self) -> None:
        for (tag, terminal), conductors in self.under.record.terminals.items():
            device = self.under.record.devices[tag]
            name = self.names[device.identity]
            if name is None:
                continue
            above = self.upper.record.devices.get(name)
            if above is not None and terminal not in self._terminals_of(name, above):
                continue
            into = self.root["devices"][name]
            at = into.get("at", name)
            for conductor in conductors:
                ends = self._terminal_end(tag, terminal, conductor, at)
                if ends:
                    held = into.setdefault("terminals", {})
                    before = held.get(terminal, [])
                    held[terminal] = [*([before] if isinstance(before, str) else before), *ends]

    def _terminal_end(self, tag: str, terminal: str, conductor: Item, at: str) -> list[str]:
        found = self.refs[conductor.tag]
        if found is None:
            return []
        name = found.removesuffix(f" {conductor.tag.removeprefix(conductor.data['cable'].tag + ' ')}")
        ends = []
        for end in self.under.held.get(("terminal", tag, terminal), ()):
            if end.data["conductor"] is conductor:
                side = "from" if end is conductor.data["ends"][0] else "to"
                there = self._other_side(conductor.data["cable"].tag, name, side)
                if self._is_silent(found, there) and self.sides.get((name, there)) == at and self._once(found, there):
                    ends.append(f"{found} ({there})")
        return ends

    # -- readings, log, labels

    def _events(self, under_first: bool) -> None:
        root = plain(self.under.record.document.root)
        tags = {str(held.get("tag", number)) for number, held in enumerate(self.root.get("readings") or (), 1)}
        renamed: dict[str, str] = {}
        readings = []
        for item, held in zip(self.under.record.readings, root.get("readings") or (), strict=True):
            there = self.pairs.later(item.identity)
            if there:
                renamed[item.tag] = there[0].partition(" ")[2]
                continue
            points = [self._ref(point) for point in held["between"]]
            if None in points:
                continue
            name = f"{item.tag}{_OTHER}"
            while name in tags:
                name = f"{name}{_OTHER}"
            tags.add(name)
            renamed[item.tag] = name
            readings.append(self._on_visit({**held, "between": points, "tag": name}, item.visit))
        log = []
        for entry, held in zip(self.under.record.log, root.get("log") or (), strict=True):
            what = [found for found in map(self._ref, entry.what) if found is not None]
            if not what or self.pairs.later(f"entry {entry.number}") or entry.did in ("put in", "taken out"):
                continue
            made = {**held, "what": what}
            taken = [renamed[tag] for tag in entry.readings if tag in renamed]
            made.pop("readings", None)
            made.update({"readings": taken} if taken else {})
            log.append(self._on_visit(made, entry.visit))
        labels = []
        for number, held in enumerate(root.get("labels") or (), 1):
            on = self._ref(str(held["on"]))
            if on is not None and not self.pairs.later(f"label {number} on {held['on']}"):
                labels.append(self._on_visit({**held, "on": on}, held.get("visit", "")))
        for name, more in zip(EVENTS, (readings, log, labels), strict=True):
            if more:
                own = list(self.root.get(name) or ())
                self.root[name] = [*more, *own] if under_first else [*own, *more]

    def _on_visit(self, held: dict[str, Any], visit: str) -> dict[str, Any]:
        found = self.under.record.visit_of(visit)
        made = {name: value for name, value in held.items() if name != "visit"}
        return {**made, "visit": self.visits[found.tag]} if found is not None else made


def _plus(name: str | None, word: str) -> str | None:
    return None if name is None else f"{name} {word}"


def _pole_name(breaker: str | None, number: int) -> str | None:
    """One pole of a breaker: `A 7` for the second of `A 5/7`."""
    if breaker is None:
        return None
    panel, _, spaces = breaker.rpartition(" ")
    listed = spaces.split("/")
    return f"{panel} {listed[number]}" if number < len(listed) else None


def _space(value: Any) -> str:
    return str(int(value) if isinstance(value, float) else value)


def _kinds(written: Any) -> list[str]:
    if isinstance(written, dict):
        return [str(one) for one in written.get("one_of", [written.get("is")])]
    return str(written).split(" or ")


def _places_of(cable: Any) -> Iterator[str]:
    for side in ("from", "to"):
        value = cable.get(side) if isinstance(cable, dict) else None
        yield str(value.get("at", "")) if isinstance(value, dict) else str(value)


def _long(value: Any, kind: str) -> dict[str, Any]:
    """An entry in its long form."""
    if isinstance(value, dict) and not (kind in _SHORT and _is_unseen(value)):
        return dict(value)
    return {_SHORT[kind]: value}


def _is_unseen(value: Any) -> bool:
    return isinstance(value, dict) and "not_seen" in value


def plain(value: Any) -> Any:
    """A loaded value as ordinary lists and mappings, free to change."""
    if isinstance(value, dict):
        return {name: plain(held) for name, held in value.items()}
    return [plain(held) for held in value] if isinstance(value, list) else value


def placed(root: Mapping[str, Any]) -> Map:
    """Ordinary values as a loaded document, every value at a place of its own."""
    counter = iter(range(1, 1 << 62))

    def place() -> Place:
        return Place(next(counter), 1)

    def made(value: Any) -> Any:
        if isinstance(value, Mapping):
            found = Map(place())
            for name, held in value.items():
                found.key_places[name] = found.places[name] = place()
                found[name] = made(held)
            return found
        if isinstance(value, list):
            listed = Seq(place())
            for held in value:
                listed.places.append(place())
                listed.append(made(held))
            return listed
        return value

    top: Map = made(root)
    return top


__all__ = ["EVENTS", "Filled", "filled", "placed", "plain"]
