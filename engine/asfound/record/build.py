"""From a shaped document to items with facts, with every tag resolved and the trade's defaults filled in.

The document has passed the schema; what is checked here is what a schema
cannot see: tags that are used and not defined, ends named twice, a cable that
has no end where a joint says it has one. All problems are reported at once.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass, field
from typing import Any

from asfound.data import data
from asfound.load.values import Document, Map, Place, Problem, Refused, Seq
from asfound.record.cabletypes import CableType, NotACable, parse_type
from asfound.record.facts import (
    ASSUMED,
    EXACT,
    NOT_RECORDED,
    WEAK,
    Fact,
    Item,
    exact,
    neighbours,
    strength,
    unseen,
)
from asfound.record.forms import read_fact, size_word
from asfound.shape import is_doubt
from asfound.wording import nearest, quoted_list

_SIDE = re.compile(r"(.*) \((from|to)\)\Z")


@dataclass(frozen=True, slots=True)
class Entry:
    """One log entry as written: what was done to which tags, to what state, with which readings."""

    number: int
    at: str
    did: str
    what: tuple[str, ...]
    to: str
    by: str
    readings: tuple[str, ...]
    place: Place


@dataclass(frozen=True, slots=True)
class Visit:
    """One visit: when, by whom, with what scope; `not_looked_at` pairs a thing with its reason."""

    tag: str
    on: str
    by: str
    purpose: str
    scope: str
    not_looked_at: tuple[tuple[str, str], ...]


@dataclass(slots=True)
class Record:
    """Everything a file says, as items. Lists keep file order."""

    document: Document
    name: str
    invented: bool
    site: Item
    system: str
    visits: dict[str, Visit] = field(default_factory=dict)
    instruments: dict[str, str] = field(default_factory=dict)
    panels: dict[str, Item] = field(default_factory=dict)
    breakers: dict[tuple[str, str], Item] = field(default_factory=dict)
    poles: dict[tuple[str, str], tuple[Item, int]] = field(default_factory=dict)
    cables: dict[str, Item] = field(default_factory=dict)
    boxes: dict[str, Item] = field(default_factory=dict)
    joints: dict[str, Item] = field(default_factory=dict)
    devices: dict[str, Item] = field(default_factory=dict)
    readings: list[Item] = field(default_factory=list)
    log: list[Entry] = field(default_factory=list)
    conductors: list[Item] = field(default_factory=list)
    ends: list[Item] = field(default_factory=list)
    # Connections, for the trace: what each joint holds, what lands where.
    joint_members: dict[str, list[tuple[str, Any]]] = field(default_factory=dict)
    terminals: dict[tuple[str, str], list[Item]] = field(default_factory=dict)
    landings: list[tuple[Item, str, str]] = field(default_factory=list)  # conductor, panel tag, bar or pole

    def count(self) -> dict[str, int]:
        """How many of each kind of thing the record holds."""
        return {
            "panels": len(self.panels), "breakers": len(self.breakers), "cables": len(self.cables),
            "conductors": len(self.conductors), "boxes": len(self.boxes), "joints": len(self.joints),
            "devices": len(self.devices), "readings": len(self.readings), "log entries": len(self.log),
        }  # fmt: skip


def build(document: Document) -> Record:
    """Build the record from a document of the right form. Raises `Refused` with every problem found."""
    builder = _Builder(document)
    record = builder.build()
    if builder.problems:
        raise Refused(document.name, builder.problems)
    return record


_FACTS = {
    "site": ("kind", "built", "code"),
    "panel": ("main_amps", "bonded", "metal", "cover", "condition"),
    "breaker": ("kind", "amps", "poles", "state", "tie", "protection", "label", "condition"),
    "cable": (
        "legend", "jacket", "installed", "length", "ambient_c", "bundled", "support_spacing", "first_support",
        "fished", "face_distance", "plate", "insulated_over", "terminals_c", "clamped", "condition",
    ),
    "conductor": ("marked", "stranded", "diameter", "insulation", "insulation_c", "condition"),
    "box": (
        "kind", "volume", "added_volume", "metal", "cover", "reachable", "clamps", "support_fittings", "canopy_wires",
        "fixed_to", "setback", "surface", "free_length", "opening", "room", "condition",
    ),
    "joint": ("connector", "listed_for", "holds", "condition"),
    "device": (
        "kind", "rating", "volts", "watts", "continuous", "slots", "marked", "gangs", "tab", "position", "protection",
        "terminal_mark", "metal", "condition",
    ),
}  # fmt: skip


class _Builder:
    def __init__(self, document: Document) -> None:
        self.document = document
        self.root = document.root
        self.problems: list[Problem] = []
        site = Item("site", "site", "the site", self._place(self.root, "site"))
        supply = self.root["supply"]
        system = supply if isinstance(supply, str) else supply["system"]
        self.record = Record(
            document=document,
            name=str(self.root["site"].get("name", "")),
            invented=bool(self.root.get("invented", False)),
            site=site,
            system=self._stated(system),
        )
        self.places: dict[str, Item] = {}
        self.used_ends: dict[tuple[int, str], str] = {}
        self.lost: set[str] = set()  # cables with an end at a place that is not defined
        self.explicit: dict[tuple[int, str], tuple[Any, Map, str]] = {}
        self.kinds = {
            kind: group for group in data("devices")["groups"].values() for kind in group["kinds"]
        }  # fmt: skip

    # -- sections, in the order that lets tags be resolved

    def build(self) -> Record:
        self._visits()
        self._site()
        self._panels()
        for tag, value in self._section("boxes"):
            self._box(tag, value)
        for tag, value in self._section("devices"):
            self._device(tag, value)
        for tag, value in self._section("cables"):
            self._cable(tag, value)
        for tag, value in self._section("joints"):
            self._joint(tag, value)
        for tag, value in self._section("devices"):
            self._terminals(tag, value)
        self._ends()
        self._lists()
        self._unique_tags()
        return self.record

    def _section(self, name: str) -> Iterable[tuple[str, Any]]:
        held: Map = self.root.get(name) or Map(Place(0, 0))
        return list(held.items())

    def _visits(self) -> None:
        for tag, value in self._section("visits"):
            skipped = tuple((entry["what"], entry["why"]) for entry in value.get("not_looked_at", []))
            self.record.visits[tag] = Visit(
                tag, value["on"], value["by"], value.get("purpose", ""), value.get("scope", ""), skipped
            )
        for tag, value in self._section("instruments"):
            self.record.instruments[tag] = value["type"]

    def _site(self) -> None:
        held = self.root["site"]
        site = self.record.site
        self._take(site, held, "site")
        supply = self.root["supply"]
        if isinstance(supply, Map):
            site.data["supply"] = self._fact(supply, "system", "supply")
            site.data["service_amps"] = self._fact(supply, "amps", "service_amps")
        else:
            site.data["supply"] = self._fact(self.root, "supply", "supply")

    def _panels(self) -> None:
        for tag, value in self._section("panels"):
            panel = self._item("panel", tag, f"panel {tag}", self.root["panels"], value)
            self.record.panels[tag] = panel
            self.places[tag] = panel
            self._take(panel, value, "panel")
            panel.data["where"] = value.get("where", "")
            breakers = value.get("breakers") or Map(Place(0, 0))
            for space, held in breakers.items():
                self._breaker(tag, panel, space, held, breakers)
            panel.data["breakers"] = tuple(b for (p, _), b in self.record.breakers.items() if p == tag)
            panel.data["feeder"] = ()
        for tag, value in self._section("panels"):
            self._feeder(tag, value)
            for space, held in (value.get("breakers") or {}).items():
                self._tie(tag, space, held, value)

    def _breaker(self, tag: str, panel: Item, space: str, held: Any, holder: Map) -> None:
        breaker = self._item("breaker", f"{tag} {space}", f"panel {tag}, space {space}", holder, held, space)
        spaces = space.split("/")
        self.record.breakers[tag, space] = breaker
        for number, single in enumerate(spaces):
            if (tag, single) in self.record.poles:
                place = holder.key_places[space]
                self._problem(place, f"panel {tag}", f"space {single} is given twice", "give each space once")
            self.record.poles[tag, single] = (breaker, number)
        if isinstance(held, Map):
            self._take(breaker, held, "breaker")
        else:
            breaker.data["amps"] = self._fact(holder, space, "amps")
        breaker.data.setdefault("poles", exact(len(spaces), written=space, place=holder.key_places[space]))
        breaker.data.setdefault("kind", exact("breaker", how="as written", place=holder.key_places[space]))
        breaker.data["panel"] = panel
        breaker.data["tied_with"] = ()
        breaker.data["legs"] = self._legs(held, spaces, holder, space)
        label = breaker.data.get("label")
        if isinstance(label, Fact) and label.values:
            breaker.words += f", {label.value}"

    def _legs(self, held: Any, spaces: list[str], holder: Map, space: str) -> Fact:
        """The leg of each pole: as measured, or by the order of spaces, which is only a hint."""
        place = holder.key_places[space]
        count = 3 if self.record.system == "208Y/120" else 2
        names = [f"L{number + 1}" for number in range(count)]
        if self.record.system == "230 single phase":
            return exact(("L1",) * len(spaces), place=place, written=space)
        if isinstance(held, Map) and "leg" in held:
            given = self._fact(held, "leg", "leg")
            first = [value for value in given.values if value in names]
            lists = tuple(tuple(names[(names.index(v) + k) % count] for k in range(len(spaces))) for v in first)
            return Fact(given.kind, lists, written=given.written, place=given.place, how=given.how,
                        by=given.by, visit=given.visit, note=given.note_source)  # fmt: skip
        if len(spaces) == 2 and count == 2:
            return exact(("L1", "L2"), place=place, written=space, note="two poles, one on each leg")
        if not spaces[0].isdigit():
            return unseen("a half-size or lettered space; its leg was not measured", place=place)
        row = (int(spaces[0]) - 1) // 2
        orders = [tuple(names[(row + shift + k) % count] for k in range(len(spaces))) for shift in range(count)]
        note = "by the order of spaces; measure between the two breakers to be sure"
        return Fact(WEAK, tuple(orders), written=space, place=place, how="position in the panel", note=note)

    def _feeder(self, tag: str, value: Map) -> None:
        source = value.get("fed_from", "supply")
        if source == "supply":
            return
        found = self._pole_or_breaker(source)
        if found is None:
            known = [f"{p} {s}" for p, s in self.record.breakers] + ["supply"]
            self._unknown(value, "fed_from", f"panel {tag}", source, known)
            return
        self.record.panels[tag].data["feeder"] = (found,)

    def _pole_or_breaker(self, reference: str) -> Item | None:
        tag, _, space = reference.rpartition(" ")
        found = self.record.breakers.get((tag, space))
        if found is None and (tag, space) in self.record.poles:
            found = self.record.poles[tag, space][0]
        return found

    def _tie(self, tag: str, space: str, held: Any, panel: Map) -> None:
        if not isinstance(held, Map) or "tied_with" not in held:
            return
        other = self.record.breakers.get((tag, str(held["tied_with"])))
        this = self.record.breakers[tag, space]
        if other is None or other is this:
            known = [s for p, s in self.record.breakers if p == tag and s != space]
            self._unknown(held, "tied_with", f"panel {tag}, breaker {space}", str(held["tied_with"]), known)
            return
        tie = this.data.get("tie")
        if not (isinstance(tie, Fact) and tie.values == ("none",)):
            for one, two in ((this, other), (other, this)):
                if two not in one.data["tied_with"]:
                    one.data["tied_with"] += (two,)
                one.data.setdefault(
                    "tie", exact("handle tie", written=str(held["tied_with"]), place=held.places["tied_with"])
                )

    def _box(self, tag: str, value: Any) -> None:
        holder = self.root["boxes"]
        box = self._item("box", tag, f"{tag}", holder, value)
        if isinstance(value, Map):
            self._take(box, value, "box")
            if value.get("where"):
                box.words = f"{tag} ({value['where']})"
        else:
            box.data["kind"] = self._fact(holder, tag, "kind")
        kind = box.data.get("kind")
        if isinstance(kind, Fact) and len(kind.values) == 1 and "metal" not in box.data:
            if kind.value == "nonmetallic" or kind.value == "no box":
                box.data["metal"] = exact(False, written=kind.written, place=kind.place)
            elif kind.value not in ("other", "fan-rated"):
                box.data["metal"] = exact(True, written=kind.written, place=kind.place)
        box.data.update(conductors=(), passing=(), looped=(), cables=(), joints=(), devices=())
        self.record.boxes[tag] = box
        self.places[tag] = box

    def _device(self, tag: str, value: Map) -> None:
        device = self._item("device", tag, f"{tag}", self.root["devices"], value)
        self._take(device, value, "device")
        device.data["box"] = ()
        group = self._group(device)
        device.data["by_nameplate"] = exact(bool(group.get("by_nameplate")), place=device.place)
        device.data["yoke"] = exact(bool(group.get("yoke")), place=device.place)
        device.data["metal_words"] = group.get("metal", "its metal parts")
        plate = value.get("nameplate")
        if isinstance(plate, Map):
            for name in ("amps", "max_breaker_amps", "min_circuit_amps"):
                if name in plate:
                    device.data[name] = self._fact(plate, name, name)
            for name in ("volts", "watts"):
                if name in plate and name not in device.data:
                    device.data[name] = self._fact(plate, name, name)
        self.record.devices[tag] = device
        if "at" not in value:
            self.places[tag] = device
            where = value.get("where")
            device.words = f"{tag} ({where})" if where else tag
            return
        box = self._box_of(value, "at", f"device {tag}")
        if box is not None:
            device.data["box"] = (box,)
            box.data["devices"] += (device,)
            device.words = f"{tag} in {box.words}"

    def _group(self, device: Item) -> dict[str, Any]:
        kind = device.data.get("kind")
        if isinstance(kind, Fact) and kind.values:
            group: dict[str, Any] = self.kinds[kind.values[0]]
            return group
        return {}

    def _box_of(self, holder: Map, key: str, where: str) -> Item | None:
        tag = holder[key]
        box = self.record.boxes.get(tag)
        if box is None:
            self._unknown(holder, key, where, tag, self.record.boxes)
        return box

    # -- cables

    def _cable(self, tag: str, value: Any) -> None:
        holder = self.root["cables"]
        cable = self._item("cable", tag, f"cable {tag}", holder, value)
        self.record.cables[tag] = cable
        held = value if isinstance(value, Map) else Map(Place(0, 0))
        self._take(cable, held, "cable")
        brought = self._type(
            cable, held if isinstance(value, Map) else holder, "type" if isinstance(value, Map) else tag
        )
        for name in ("gauge", "metal", "method", "ground_gauge"):
            if name in held:
                cable.data[name] = self._fact(held, name, name)
        if "gauge" not in cable.data:
            self._size_by_jacket(cable)
        conductors = []
        given = held.get("conductors") or Map(Place(0, 0))
        for name in [*brought, *(name for name in given if name not in brought)]:
            conductors.append(self._conductor(cable, name, given.get(name), given))
        cable.data["conductors"] = tuple(conductors)
        cable.data["boxes"] = ()
        sides: dict[str, Item | None] = {}
        for side in ("from", "to"):
            sides[side] = self._side(cable, held, side)
        cable.data["sides"] = sides
        words = [place.words for place in sides.values() if place is not None]
        if words:
            cable.words = f"cable {tag}, {' to '.join(words)}" if len(words) == 2 else f"cable {tag} at {words[0]}"
        for conductor in conductors:
            conductor.words = f"{conductor.tag}, {cable.words}"
        for box_tag, how in (held.get("passes") or {}).items():
            box = self.record.boxes.get(box_tag)
            if box is None:
                self._unknown(held["passes"], box_tag, f"cable {tag}, passes", box_tag, self.record.boxes, key=True)
                continue
            box.data["looped" if self._stated(how) == "looped" else "passing"] += tuple(conductors)
            box.data["cables"] += (cable,)
            cable.data["passed"] = (*cable.data.get("passed", ()), box)

    def _type(self, cable: Item, holder: Map, key: str) -> list[str]:
        """Take what the type says; give the names of the conductors it brings."""
        if key not in holder:
            return []
        fact = self._fact(holder, key, "type")
        parsed = [self._parse_type(str(text), cable, holder, key) for text in fact.values]
        if not parsed or any(one is None for one in parsed):
            return []
        known = [one for one in parsed if one is not None]
        if any(one.conductors != known[0].conductors for one in known):
            self._problem(
                holder.places[key], f"cable {cable.tag}", "the types listed bring different conductors",
                "give one type with gauge: 14 or 12",
            )  # fmt: skip
        for name in ("gauge", "metal", "method"):
            values = tuple(dict.fromkeys(getattr(one, name) for one in known if getattr(one, name)))
            if not values:
                continue
            options: tuple[Any, ...] = values
            kind = fact.kind if len(values) > 1 else (EXACT if strength(fact.how) == "observed" else WEAK)
            if name == "gauge" and len(values) == 1 and kind == WEAK:
                options = (*values, *neighbours(name, values[0], fact.how))
            cable.data[name] = Fact(kind, options, written=fact.written, place=fact.place, how=fact.how,
                                    by=fact.by, visit=fact.visit, note=fact.note_source)  # fmt: skip
        return list(known[0].conductors)

    def _parse_type(self, text: str, cable: Item, holder: Map, key: str) -> CableType | None:
        try:
            return parse_type(text)
        except NotACable as error:
            self._problem(holder.places[key], f"cable {cable.tag}", error.cause, error.step)
            return None

    def _size_by_jacket(self, cable: Item) -> None:
        """A jacket colour suggests a size on cable put in since the makers agreed on colours."""
        jacket = cable.data.get("jacket")
        if not isinstance(jacket, Fact) or len(jacket.values) != 1:
            return
        table = data("jacket_colours")
        sizes = table["gauge"].get(jacket.value)
        installed = cable.data.get("installed") or self.record.site.data.get("built")
        if not sizes or not isinstance(installed, Fact) or not installed.values:
            return
        if min(installed.values) < table["from_year"]:
            reason = f"jacket colours say nothing on cable older than {table['from_year']}"
            cable.data["gauge"] = unseen(reason, place=jacket.place, written=jacket.written)
            return
        if len(sizes) > 1:
            kind, values = ASSUMED, tuple(sizes)
        else:
            kind, values = WEAK, (sizes[0], *neighbours("gauge", sizes[0], "jacket colour"))
        cable.data["gauge"] = Fact(
            kind,
            values,
            written=jacket.written,
            place=jacket.place,
            how="jacket colour",
            by=jacket.by,
            visit=jacket.visit,
        )

    def _conductor(self, cable: Item, name: str, value: Any, holder: Map) -> Item:
        tag = f"{cable.tag} {name}"
        place = holder.key_places.get(name, cable.place)
        conductor = Item("conductor", tag, tag, place, cable.visit)
        held = value if isinstance(value, Map) else Map(Place(0, 0))
        self._take(conductor, held, "conductor")
        if "colour" in held:
            conductor.data["colour"] = self._fact(held, "colour", "colour")
        else:
            base = size_word(re.sub(r" [0-9]+\Z", "", name))
            known = {*data("colour_roles")["roles"], "black", "red", "blue", "yellow", "brown", "orange"}
            if base in known:
                conductor.data["colour"] = exact(base, written=name, place=place)
        for fact in ("gauge", "metal"):
            if fact in held:
                conductor.data[fact] = self._fact(held, fact, fact)
            elif fact in cable.data:
                conductor.data[fact] = cable.data[fact]
        if "gauge" not in held and self._is_ground(conductor):
            conductor.data["gauge"] = self._ground_size(cable)
        if "method" in cable.data:
            conductor.data["method"] = cable.data["method"]
        conductor.data["installed"] = cable.data.get("installed") or self._building_year()
        conductor.data["cable"] = cable
        self.record.conductors.append(conductor)
        return conductor

    def _building_year(self) -> Fact:
        """The building's year stands in for the cable's, as a weak fact."""
        held = self.record.site.data.get("built")
        if not isinstance(held, Fact) or not held.values:
            return NOT_RECORDED
        if not hasattr(self, "_year"):
            self._year = Fact(
                WEAK if held.kind == EXACT else held.kind, held.values, written=held.written, place=held.place,
                how=held.how, by=held.by, visit=held.visit, note="year of the building; the cable can be younger",
            )  # fmt: skip
        return self._year

    @staticmethod
    def _is_ground(conductor: Item) -> bool:
        colour = conductor.data.get("colour")
        return isinstance(colour, Fact) and colour.values[:1] in (("bare",), ("green",), ("green/yellow",))

    def _ground_size(self, cable: Item) -> Fact:
        """As recorded; else as the circuit conductors up to 10 AWG, which older cable did not always keep to."""
        given = cable.data.get("ground_gauge")
        if isinstance(given, Fact):
            return given
        size = cable.data.get("gauge")
        if not isinstance(size, Fact) or not size.values or size.value not in ("14", "12", "10"):
            return NOT_RECORDED
        method = cable.data.get("method")
        modern = isinstance(method, Fact) and method.values and method.value in ("NM-B", "UF-B", "MC")
        if size.kind != EXACT or modern:
            return size
        ladder = data("ways")["neighbours"]["gauge"]["ladder"]
        smaller = ladder[ladder.index(size.value) - 1]
        note = "grounding conductor taken to be as large as the others; older cable often has a smaller one"
        return Fact(WEAK, (size.value, smaller), written=size.written, place=size.place, how=size.how, note=note)

    def _side(self, cable: Item, held: Map, side: str) -> Item | None:
        """Where one end of the cable is; makes an end item for each conductor."""
        conductors = cable.data["conductors"]
        value = held.get(side)
        place_item: Item | None = None
        reason = "not recorded"
        spot = held.places.get(side, cable.place)
        where = f"cable {cable.tag}, {side}"
        if value is None:
            pass
        elif isinstance(value, str) and value in ("not traced", "untraced"):
            reason = "not traced"
        elif isinstance(value, str):
            place_item = self._go(cable, held, side, value, where)
        elif "at" in value:
            place_item = self._go(cable, value, "at", value["at"], where)
        elif "not_seen" in value:
            reason = value["not_seen"]
        else:
            self._problem(spot or Place(0, 0), where, "it does not say where this end is", "add at: or not_seen:")
        for conductor in conductors:
            end = Item("end", f"{conductor.tag} ({side})", f"{conductor.tag}", spot, cable.visit)
            end.data["conductor"] = conductor
            end.data["boxes"] = (place_item,) if place_item is not None and place_item.kind == "box" else ()
            end.data["at"] = place_item
            end.data["reason"] = reason
            if place_item is not None:
                end.words = f"{conductor.tag} at {place_item.words}"
            conductor.data["ends"] = (*conductor.data.get("ends", ()), end)
            self.record.ends.append(end)
        if isinstance(value, Map):
            for name, state in value.items():
                if name not in ("at", "not_seen"):
                    self._state(cable, value, name, state, side, where)
        if place_item is not None and place_item.kind == "box":
            place_item.data["conductors"] += conductors
            if cable not in place_item.data["cables"]:
                place_item.data["cables"] += (cable,)
            cable.data["boxes"] += (place_item,)
        return place_item

    def _go(self, cable: Item, holder: Map, key: str, reference: str, where: str) -> Item | None:
        """Resolve a place; a panel with a breaker also lands the conductors as usual."""
        if reference in self.places:
            return self.places[reference]
        breaker = self._pole_or_breaker(reference)
        if breaker is not None:
            tag, _, space = reference.rpartition(" ")
            self._land(cable, tag, space.split("/"), side=where.rsplit(" ", 1)[-1], skip=holder)
            return self.record.panels[tag]
        known = [*self.places, *(f"{p} {s}" for p, s in self.record.breakers)]
        self._unknown(holder, key, where, reference, known)
        self.lost.add(cable.tag)
        return None

    def _land(self, cable: Item, panel: str, poles: list[str], side: str, skip: Map) -> None:
        """The short form `A 3`: coloured conductors on the poles in order, white on neutral, bare on ground."""
        conductors = [c for c in cable.data["conductors"] if c.tag.removeprefix(f"{cable.tag} ") not in skip]
        grounds = [c for c in conductors if self._is_ground(c)]
        whites = [
            c
            for c in conductors
            if c not in grounds and c.data.get("colour", NOT_RECORDED).values[:1] in (("white",), ("grey",))
        ]
        coloured = [c for c in conductors if c not in grounds and c not in whites]
        free = list(poles)
        for conductor in coloured + (whites if len(poles) > len(coloured) else []):
            if free:
                self._landing(conductor, side, panel, free.pop(0))
        for conductor in whites:
            if (id(conductor), side) not in self.used_ends:
                self._landing(conductor, side, panel, "neutral bar")
        for conductor in grounds:
            self._landing(conductor, side, panel, "ground bar")

    def _landing(self, conductor: Item, side: str, panel: str, spot: str) -> None:
        self.used_ends[id(conductor), side] = f"panel {panel}"
        self.record.landings.append((conductor, panel, spot))

    def _state(self, cable: Item, holder: Map, name: str, state: Any, side: str, where: str) -> None:
        conductor = next((c for c in cable.data["conductors"] if c.tag == f"{cable.tag} {name}"), None)
        if conductor is None:
            names = [c.tag.removeprefix(f"{cable.tag} ") for c in cable.data["conductors"]]
            self._unknown(holder, name, where, name, names, key=True)
            return
        text = self._stated(state)
        if isinstance(text, str) and text.startswith(("breaker ", "lug ", "neutral bar", "ground bar")):
            panel = self._panel_of(holder)
            spot = text.removeprefix("breaker ")
            if panel is None:
                self._problem(
                    holder.places[name],
                    where,
                    f"{text!r} is said of an end that is not at a panel",
                    "give at: the panel tag",
                )
                return
            if text.startswith("breaker ") and (panel, spot) not in self.record.poles:
                known = [s for p, s in self.record.poles if p == panel]
                self._unknown(holder, name, where, spot, known)
                return
            self._landing(conductor, side, panel, spot)
            return
        self.explicit[id(conductor), side] = (state, holder, name)

    def _panel_of(self, holder: Map) -> str | None:
        reference = str(holder.get("at", ""))
        if reference in self.record.panels:
            return reference
        tag = reference.rpartition(" ")[0]
        return tag if tag in self.record.panels else None

    # -- joints and terminals

    def _joint(self, tag: str, value: Map) -> None:
        joint = self._item("joint", tag, f"joint {tag}", self.root["joints"], value)
        self._take(joint, value, "joint")
        self.record.joints[tag] = joint
        where = f"joint {tag}"
        at = self.places.get(value["at"])
        members: list[tuple[str, Any]] = []
        self.record.joint_members[tag] = members
        joint.data["box"] = (at,) if at is not None and at.kind == "box" else ()
        joint.data["conductors"] = ()
        joint.data["size"] = len(value["ends"])
        if at is None:
            self._unknown(value, "at", where, value["at"], self.places)
            return
        joint.words = f"joint {tag} in {at.words}"
        kind = at.data.get("kind")
        if at.kind == "box" and isinstance(kind, Fact):
            joint.data["in_box"] = Fact(
                kind.kind, tuple(dict.fromkeys(value != "no box" for value in kind.values)), written=kind.written,
                place=kind.place, how=kind.how, by=kind.by, visit=kind.visit, note=kind.note_source,
            )  # fmt: skip
            at.data["joints"] += (joint,)
        elif at.kind != "box":
            joint.data["in_box"] = exact(True, place=joint.place, written=value["at"])
        for index, reference in enumerate(value["ends"]):
            member = self._reference(reference, at, value["ends"], index, where)
            if member is None:
                continue
            sort, item = member
            if sort == "conductor":
                joint.data["conductors"] += (item,)
                self._use(item, reference, at, where, value["ends"].places[index])
            members.append(member)

    def _reference(
        self, reference: str, at: Item | None, holder: Seq | Map, key: Any, where: str
    ) -> tuple[str, Any] | None:
        """What `W1 black`, `R1 hot` or `box` stands for: ("conductor", item), ("terminal", (device, name)), ("box", item)."""
        if reference == "box":
            if at is not None and at.kind == "box":
                return "box", at
            self._problem(
                _spot(holder, key),
                where,
                "'box' is named where there is no box",
                "name the conductor ends only",
            )
            return None
        text = _SIDE.sub(r"\1", reference)
        words = text.split(" ")
        cable_seen: Item | None = None
        for cut in range(len(words) - 1, 0, -1):
            tag, rest = " ".join(words[:cut]), " ".join(words[cut:])
            cable = self.record.cables.get(tag)
            if cable is not None:
                cable_seen = cable
                for conductor in cable.data["conductors"]:
                    if conductor.tag == f"{tag} {rest}":
                        return "conductor", conductor
            device = self.record.devices.get(tag)
            if device is not None and rest in self._group(device).get("terminals", []):
                return "terminal", (device, rest)
            if device is not None and cable is None:
                names = self._group(device).get("terminals", [])
                self._unknown(holder, key, where, reference, [f"{tag} {name}" for name in names])
                return None
        if cable_seen is not None:
            names = [c.tag for c in cable_seen.data["conductors"]]
            self._unknown(holder, key, where, reference, names)
        else:
            known = [c.tag for c in self.record.conductors] if len(self.record.conductors) < 5000 else []
            self._unknown(holder, key, where, reference, known or list(self.record.cables)[:5000])
        return None

    def _use(self, conductor: Item, reference: str, at: Item | None, where: str, place: Place) -> None:
        """Note that the end of `conductor` at `at` is taken by `where`."""
        sides = conductor.data["cable"].data["sides"]
        match = _SIDE.match(reference)
        here = [side for side, held in sides.items() if held is at and at is not None]
        if match:
            here = [match.group(2)] if sides[match.group(2)] is at else []
        if not here:
            if at is not None and at in conductor.data["cable"].data.get("passed", ()):
                return
            cable = conductor.data["cable"]
            if cable.tag in self.lost:
                return  # reported where the place is named
            ends = [f"{side} {held.tag}" for side, held in sides.items() if held is not None]
            known = f"its recorded ends are: {' and '.join(ends)}" if ends else "none of its ends is recorded"
            place_name = at.tag if at is not None else "here"
            self._problem(
                place, where, f"cable {cable.tag} has no end at {place_name!r}",
                f"{known}; correct from or to of {cable.tag}, or the joint",
            )  # fmt: skip
            return
        free = [side for side in here if (id(conductor), side) not in self.used_ends]
        if not free:
            other = self.used_ends[id(conductor), here[0]]
            self._problem(place, where, f"the end of {conductor.tag} here is already in {other}", "name each end once")
            return
        if len(free) == 2 and not match:
            self._problem(
                place,
                where,
                f"both ends of {conductor.tag} are here",
                f"write {conductor.tag} (from) or {conductor.tag} (to)",
            )
            return
        self.used_ends[id(conductor), free[0]] = where

    def _terminals(self, tag: str, value: Map) -> None:
        device = self.record.devices[tag]
        at = device.data["box"][0] if device.data["box"] else device
        where = f"device {tag}"
        allowed = self._group(device).get("terminals")
        for name, held in (value.get("terminals") or Map(Place(0, 0))).items():
            holder = value["terminals"]
            if allowed is not None and name not in allowed:
                self._unknown(holder, name, where, name, allowed, key=True)
                continue
            references = held if isinstance(held, Seq) else [held]
            for index, reference in enumerate(references):
                spot = held if isinstance(held, Seq) else holder
                member = self._reference(reference, at, spot, index if isinstance(held, Seq) else name, where)
                if member is None:
                    continue
                if member[0] != "conductor":
                    self._problem(
                        _spot(spot, index if isinstance(held, Seq) else name), where,
                        f"{reference!r} is not a conductor end", "name a cable and conductor such as W1 black",
                    )  # fmt: skip
                    continue
                self._use(
                    member[1],
                    reference,
                    at,
                    f"{tag} {name}",
                    _spot(spot, index if isinstance(held, Seq) else name),
                )
                self.record.terminals.setdefault((tag, name), []).append(member[1])
        wired = value.get("wired_to")
        for index, cable_tag in enumerate(wired if isinstance(wired, Seq) else [] if wired is None else [wired]):
            cable = self.record.cables.get(cable_tag)
            spot, key = (wired, index) if isinstance(wired, Seq) else (value, "wired_to")
            if cable is None:
                self._unknown(spot, key, where, cable_tag, self.record.cables)
                continue
            self._wire(device, cable, at, _spot(spot, key))

    def _wire(self, device: Item, cable: Item, at: Item, place: Place) -> None:
        """The usual landing: coloured on hot, white on neutral, bare or green on ground."""
        usual = data("devices")["wired_to"]
        allowed = self._group(device).get("terminals", [])
        hots = list(usual["ungrounded"])
        for conductor in cable.data["conductors"]:
            if self._is_ground(conductor):
                name = usual["grounding"]
            elif conductor.data.get("colour", NOT_RECORDED).values[:1] in (("white",), ("grey",)):
                name = usual["grounded"]
            else:
                name = hots.pop(0) if hots else ""
            if name not in allowed:
                self._problem(
                    place, f"device {device.tag}", f"wired_to does not say where {conductor.tag} lands",
                    "use terminals instead",
                )  # fmt: skip
                continue
            self._use(conductor, conductor.tag, at, f"{device.tag} {name}", place)
            self.record.terminals.setdefault((device.tag, name), []).append(conductor)

    def _ends(self) -> None:
        """Give every end its state: by joint or terminal, as written, or not recorded."""
        for conductor in self.record.conductors:
            for end, side in zip(conductor.data["ends"], ("from", "to"), strict=True):
                used = self.used_ends.get((id(conductor), side))
                said = self.explicit.get((id(conductor), side))
                if used is not None and said is not None:
                    _, holder, name = said
                    self._problem(
                        holder.places[name], f"cable {conductor.data['cable'].tag}, {side}",
                        f"{conductor.tag} is given a state here and is also in {used}", "keep one of the two",
                    )  # fmt: skip
                if said is not None:
                    fact = self._fact(said[1], said[2], "state")
                    if "not traced" in fact.values:
                        fact = unseen("not traced", place=fact.place, written=fact.written)
                    end.data["state"] = fact
                elif used is not None:
                    word = "spliced" if used.startswith("joint ") else "landed"
                    end.data["state"] = exact(word, place=end.place, written=used, note=used)
                else:
                    end.data["state"] = unseen(end.data["reason"], place=end.place)

    # -- readings, log, labels, photographs

    def _lists(self) -> None:
        tags: dict[str, int] = {}
        readings = self.root.get("readings") or Seq(Place(0, 0))
        for index, held in enumerate(readings):
            item = Item(
                "reading",
                held.get("tag", str(index + 1)),
                f"reading {index + 1}",
                readings.places[index],
                held.get("visit", ""),
            )
            tags[item.tag] = index
            self._reading(item, held, index)
            self.record.readings.append(item)
        log = self.root.get("log") or Seq(Place(0, 0))
        for index, held in enumerate(log):
            where = f"log entry {index + 1}"
            what = held["what"] if isinstance(held["what"], Seq) else [held["what"]]
            for number, reference in enumerate(what):
                self._point(reference, held["what"] if isinstance(held["what"], Seq) else held,
                            number if isinstance(held["what"], Seq) else "what", where)  # fmt: skip
            for number, tag in enumerate(held.get("readings", [])):
                if tag not in tags:
                    self._unknown(held["readings"], number, where, tag, tags)
            visit = held.get("visit", "")
            by = held.get("by") or (self.record.visits[visit].by if visit in self.record.visits else "")
            self.record.log.append(
                Entry(
                    index + 1,
                    held.get("at", ""),
                    held["did"],
                    tuple(what),
                    held.get("to", ""),
                    by,
                    tuple(held.get("readings", ())),
                    log.places[index],
                )  # fmt: skip
            )
        for index, held in enumerate(self.root.get("labels") or []):
            self._point(held["on"], held, "on", f"label {index + 1}")

    def _reading(self, item: Item, held: Map, index: int) -> None:
        where = f"reading {index + 1}"
        points = []
        for number, reference in enumerate(held["between"]):
            points.append(self._point(reference, held["between"], number, where))
        item.data["points"] = tuple(points)
        item.data["at"] = held.get("at", "")
        item.data["kind"] = exact(held["kind"], place=held.places["kind"], written=held["kind"])
        item.data["known_source"] = exact(bool(held.get("known_source", False)), place=item.place)
        instrument = held.get("instrument")
        if instrument is not None and instrument not in self.record.instruments:
            self._unknown(held, "instrument", where, instrument, self.record.instruments)
        sort = self.record.instruments.get(instrument or "")
        item.data["instrument"] = sort or ""
        if held["kind"] in ("non-contact", "lamp tester"):
            item.data["contact"] = exact(held["kind"] != "non-contact", place=held.places["kind"], written=held["kind"])
        elif sort is not None:
            item.data["contact"] = exact(
                sort != "non-contact tester", place=held.places.get("instrument"), written=sort
            )
        if "value" not in held:
            return
        value = self._fact(held, "value", "value")
        units = {
            "V": ("volts", 1.0),
            "mV": ("volts", 0.001),
            "ohm": ("ohms", 1.0),
            "kohm": ("ohms", 1e3),
            "Mohm": ("ohms", 1e6),
        }
        numbers = []
        name = "signal"
        for text in value.values:
            figure, _, unit = str(text).partition(" ")
            name, factor = units.get(unit, ("signal", 1.0))
            numbers.append(text if name == "signal" else float(figure) * factor)
        item.data[name] = Fact(value.kind, tuple(numbers), written=value.written, place=value.place, how=value.how,
                               by=value.by, visit=value.visit, note=value.note_source)  # fmt: skip

    def _point(self, reference: str, holder: Seq | Map, key: Any, where: str) -> tuple[str, Any] | None:
        """What a reading, log entry or label speaks of."""
        if reference == "earth":
            return "earth", None
        for sort, held in (
            ("panel", self.record.panels), ("box", self.record.boxes), ("device", self.record.devices),
            ("cable", self.record.cables), ("joint", self.record.joints),
        ):  # fmt: skip
            if reference in held:
                return sort, held[reference]
        breaker = self._pole_or_breaker(reference)
        if breaker is not None:
            return "breaker", breaker
        for bar in ("neutral bar", "ground bar"):
            if reference.endswith(f" {bar}") and reference.removesuffix(f" {bar}") in self.record.panels:
                return "bar", (self.record.panels[reference.removesuffix(f" {bar}")], bar)
        if reference.endswith(" box") and reference.removesuffix(" box") in self.record.boxes:
            return "box", self.record.boxes[reference.removesuffix(" box")]
        return self._reference(reference, None, holder, key, where)

    def _unique_tags(self) -> None:
        """One tag names one thing, across panels, cables, boxes, devices and joints."""
        seen: dict[str, str] = {}
        for section in ("panels", "cables", "boxes", "devices", "joints"):
            for tag in self.root.get(section) or ():
                if tag in seen:
                    self._problem(
                        self.root[section].key_places[tag], section, f"the tag {tag!r} already names one of the {seen[tag]}",
                        "give one of the two another tag",
                    )  # fmt: skip
                seen[tag] = section

    # -- facts

    def _take(self, item: Item, held: Map, kind: str) -> None:
        for name in _FACTS[kind]:
            if name in held:
                item.data[name] = self._fact(held, name, name)

    def _item(self, kind: str, tag: str, words: str, holder: Map, value: Any, key: str | None = None) -> Item:
        visit = value.get("visit", "") if isinstance(value, Map) else ""
        if visit and visit not in self.record.visits:
            self._unknown(value, "visit", words, visit, self.record.visits)
        return Item(kind, tag, words, holder.key_places[key or tag], visit)

    def _fact(self, holder: Map, key: str, name: str) -> Fact:
        """The fact written at `key`; its visit, when it names one, must be known."""
        fact = read_fact(holder, key, name)
        if fact.visit and fact.visit not in self.record.visits:
            self._unknown(holder[key], "visit", key, fact.visit, self.record.visits)
        return fact

    def _stated(self, value: Any) -> Any:
        """The stated value of a raw field, whatever its form; None when not seen."""
        if is_doubt(value):
            listed = value.get("one_of")
            return listed[0] if listed else value.get("is")
        return value

    # -- problems

    def _place(self, holder: Map, key: str) -> Place:
        return holder.key_places.get(key, holder.place)

    def _problem(self, place: Place, where: str, cause: str, step: str) -> None:
        self.problems.append(Problem(place, where, cause, step))

    def _unknown(
        self, holder: Map | Seq, at: Any, where: str, tag: str, known: Iterable[str], *, key: bool = False
    ) -> None:
        """Report a tag that is used and not defined; `key` when the tag is itself the name before the colon."""
        names = list(known)
        guess = nearest(tag, names)
        step = f"did you mean {guess!r}" if guess else f"known here: {quoted_list(names, 12) or 'none'}"
        place = _spot(holder, at, own_key=key)
        self._problem(place, where, f"{tag!r} is used and not defined", step)


def _spot(holder: Map | Seq, key: Any, own_key: bool = False) -> Place:
    if isinstance(holder, Seq):
        return holder.places[key]
    return (holder.key_places if own_key else holder.places).get(key, holder.place)
