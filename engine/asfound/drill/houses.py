"""Invented dwellings that give no defect: a panel, its circuits, and boxes, joints and devices on them.

    house(7)               # 8 to 20 circuits, of seed 7
    house(7, circuits=4)   # a small one

A house is a plain record, as the loader gives it. It is new, or an older one
that was wired anew: cables sized for their breakers, boxes large enough for
what is in them, grounds joined, water and rooms protected. Tags are not
numbered through, so that a number tells nothing of when a thing came. Sizes are worked out here, apart from the
rules, so that the rules can be tried on them.

Volumes and sizes: NFPA 70 (NEC) 314.16(B), 240.4(D), Table 250.122, from
memory; the layout of rooms and circuits is common practice, no source.
"""

from __future__ import annotations

import random
from collections.abc import Callable
from typing import Any

Record = dict[str, Any]

IN3 = {"14": 2.0, "12": 2.25, "10": 2.5, "8": 3.0, "6": 5.0}
"""Cubic inches that one conductor takes in a box."""
VOLUMES = (12.5, 14, 16, 18, 20.3, 22.5, 25, 30, 34, 42)
"""Marked volumes of nonmetallic boxes, in³."""
YEARS = (2014, 2024)
"""Years of the work: since breakers with both protections are made; from memory."""
DUAL_TIED_SINCE = 2018
"""Year from which such breakers are put in with two poles; from memory."""
ALUMINIUM_YEARS = (1966, 1972)
"""Years in which branch circuits were wired in aluminium; from memory."""
METAL = {"octagonal 4 x 1-1/2": 15.5, "square 4 x 1-1/2": 21.0, "octagonal 4 x 2-1/8": 21.5, "square 4 x 2-1/8": 30.3,
         "square 4-11/16 x 2-1/8": 42.0}  # fmt: skip
"""Metal boxes and their least volumes, in³."""
_LINES = ("Mill", "Ferry", "Orchard", "Quarry", "Heron", "Chapel", "Lime Kiln", "Alder", "Weir", "Toll")
_SORTS = ("House", "Cottage", "Bungalow")
_WHERE = ("garage, beside the door", "basement, foot of the stairs", "utility room, north wall")
_BEDROOM_BOXES = ("door", "window", "bed", "desk")


def house(seed: int, *, circuits: int | None = None, doubts: int = 0) -> Record:
    """The house of a seed; `circuits` is 8 to 20 when not given, and at least 1.

    A pair of kitchen circuits counts as two. `doubts` leaves so many facts
    unseen, so that there is something to look at next.
    """
    rng = random.Random(f"house {seed}")
    made = _House(rng, circuits if circuits is not None else rng.randint(8, 20)).record
    _note(made, rng)
    _leave_unseen(made, rng, doubts)
    return made


_NOTED: dict[str, tuple[Record, ...]] = {
    "boxes": (
        {"condition": "sound"}, {"open_knockouts": 0}, {"fixed_to": "stud"}, {"free_length": "7 in"},
        {"low_voltage_too": False}, {"setback": "0.1 in", "surface": "drywall"}, {"reachable": True},
    ),
    "cables": (
        {"condition": "sound"}, {"clamped": "clamp"}, {"support_spacing": "4 ft"}, {"exposed": False},
        {"face_distance": "1.5 in"},
    ),
    "joints": ({"condition": "sound"}, {"holds": 5}, {"listed_for": "copper only"}),
    "devices": ({"condition": "sound"},),
    "breakers": ({"condition": "sound"},),
}  # fmt: skip
"""What somebody who looks closely notes of things that are as they should be."""


def _note(record: Record, rng: random.Random) -> None:
    """Write down of some things that they are as they should be, so that a note alone tells nothing."""
    breakers = {name: one for panel in record["panels"].values() for name, one in panel["breakers"].items()}
    for part, choices in _NOTED.items():
        for held in (breakers if part == "breakers" else record[part]).values():
            if rng.random() < 0.4:
                for fact, value in rng.choice(choices).items():
                    held.setdefault(fact, value)


def _leave_unseen(record: Record, rng: random.Random, count: int) -> None:
    """Replace facts by the reason why nobody saw them."""
    open_to = [
        (box, "volume", "marking covered by the wires") for box in record["boxes"].values() if "volume" in box
    ] + [
        (breaker, "amps", "figure on the handle hidden by a paper label")
        for breaker in record["panels"]["A"]["breakers"].values()
    ]  # fmt: skip
    for held, fact, why in rng.sample(open_to, min(count, len(open_to))):
        held[fact] = {"not_seen": why}


class _House:
    """One house in the making."""

    def __init__(self, rng: random.Random, circuits: int) -> None:
        self.rng = rng
        self.year = rng.randint(*YEARS)
        self.built = rng.randint(*ALUMINIUM_YEARS) if rng.random() < 0.2 else self.year
        self.metal_boxes = rng.random() < 0.3
        self.record: Record = {
            "asfound": 1, "invented": True,
            "site": {"name": f"{rng.choice(_LINES)} {rng.choice(_SORTS)}", "address": "invented", "kind": "dwelling",
                     "built": self.built},
            "visits": {"V1": {"on": "2026-05-04", "by": "R. Example", "purpose": "before a remodel",
                              "scope": "everything that could be opened", "conditions": "power on, dry"}},
            "supply": {"system": "120/240 split phase", "amps": 200},
            "panels": {"A": {
                "where": rng.choice(_WHERE), "fed_from": "supply", "main_amps": 200, "bus_amps": 200, "bonded": True,
                "disconnect_ahead": False,
                "metal": True, "cover": "on", "open_spaces": 0, "clear_depth": "36 in", "directory": "legible",
                "breakers": {},
            }},
            "cables": {}, "boxes": {}, "joints": {}, "devices": {},
        }  # fmt: skip
        self.next = {1: 1, 2: 2}  # the next free space on each side of panel A
        self.numbers: dict[str, int] = {}
        self.counts = {"bedroom": 0, "living room": 0, "light": 0}
        self._circuits(circuits)

    def _circuits(self, count: int) -> None:
        """Bring in circuits until there are `count`; those that every house has come first."""
        first: list[Callable[[], int]] = [self.bedroom, self.bathroom, self.counter, self.hall, self.water_heater]
        more: list[Callable[[], int]] = [
            self.laundry, self.dryer, self.range, self.garage, self.outdoors, self.living_room, self.refrigerator,
            self.dishwasher, self.attic, self.smoke_alarms, self.heat_pump, self.workshop, self.basement,
        ]  # fmt: skip
        self.rng.shuffle(more)
        self.rng.shuffle(first)
        made = 0
        for make in [*first, *more]:
            if made >= count:
                break
            made += make()
        while made < count:
            made += self.rng.choice((self.bedroom, self.living_room, self.light))()

    # -- parts

    def breaker(self, amps: int, label: str, poles: int = 1, protection: str = "none") -> str:
        """A new breaker in panel A: its name such as `A 5` or `A 5/7`."""
        side = min(self.next, key=lambda one: (self.next[one], one))
        space = self.next[side]
        self.next[side] += 2 * poles
        held: Record = {"amps": amps, "label": label}
        if poles == 2:
            held["tie"] = "common trip"
        else:
            held["leg"] = leg_of(space)
        held["protection"] = protection
        if protection != "none":
            held["test_button"] = "trips"
        name = f"{space}/{space + 2}" if poles == 2 else str(space)
        self.record["panels"]["A"]["breakers"][name] = held
        return f"A {name}"

    def cable(self, size: str, start: Any, to: Any, **facts: Any) -> str:
        """A new cable such as 14/2 or 12/3 between two places."""
        tag = self.tag("W")
        held: Record = {"type": f"{size} NM-B with ground", "installed": self.year}
        if size == "6/3":
            held["ground_gauge"] = 10
        gauge = size.split("/")[0]
        draw = self.rng.random()
        if draw < 0.3:
            held["legend"] = f"NM-B {size.replace('/', '-')} WITH GROUND"
        elif draw < 0.5 and gauge in ("14", "12", "10"):
            held["jacket"] = {"14": "white", "12": "yellow", "10": "orange"}[gauge]
        if self.rng.random() < 0.2:
            held["length"] = f"{self.rng.randint(8, 40)} ft"
        self.record["cables"][tag] = {**held, **facts, "from": start, "to": to}
        return tag

    def tag(self, letter: str) -> str:
        """The next tag of a letter; now and then a number is left out."""
        self.numbers[letter] = self.numbers.get(letter, 0) + (2 if self.rng.random() < 0.15 else 1)
        return f"{letter}{self.numbers[letter]}"

    def box(self, tag: str, room: str, *, cover: str = "device plate", **facts: Any) -> str:
        """A new box; its kind and volume follow when it is known what is in it."""
        self.record["boxes"][tag] = {"room": room, "cover": cover, **facts}
        return tag

    def joint(self, at: str, *ends: str) -> None:
        """A new joint of conductor ends; nothing for one end alone."""
        if len(ends) > 1:
            tag = self.tag("J")
            self.record["joints"][tag] = {"at": at, "ends": list(ends), "connector": "twist-on"}

    def device(self, letter: str, kind: str, at: str = "", **facts: Any) -> str:
        """A new device in a box, or with its own compartment."""
        tag = self.tag(letter)
        self.record["devices"][tag] = {"kind": kind, **({"at": at} if at else {}), **facts}
        return tag

    def close(self, at: str, size: str, *, device: bool, metal: bool | None = None, gangs: int = 1) -> None:
        """Choose the kind of a box for what ends in it, the least that holds it, and join its grounds."""
        ends = self.ends_at(at)
        conductors = sum(len(wires_of(self.record["cables"][cable]["type"])) for cable, _ in ends)
        needed = fill([size] * conductors, grounds=len(ends), device=size if device else None, gangs=gangs)
        held = self.record["boxes"][at]
        metal = (self.metal_boxes and self.rng.random() < 0.6) if metal is None else metal
        if metal:
            kinds = [kind for kind, volume in METAL.items() if volume >= needed and not (device and "octa" in kind)]
            made: Record = {"kind": kinds[0], "clamps": "outside"}
        else:
            made = {"kind": "nonmetallic", "volume": self.volume(needed), "clamps": "none"}
        self.record["boxes"][at] = {**made, **held}
        grounds = [f"{cable} bare" for cable, _ in ends]
        takers = [
            f"{tag} ground" for tag, one in self.record["devices"].items()
            if one.get("at") == at and one["kind"] != "smoke alarm" and "wired_to" not in one
        ]  # fmt: skip
        by_cable = [tag for tag, one in self.record["devices"].items() if one.get("at") == at and "wired_to" in one]
        if by_cable and not metal and len(ends) == 1:
            return  # its ground lands on the device with the others
        takers += [f"{tag} ground" for tag in by_cable if f"{tag} ground" not in takers]
        for tag in by_cable:
            self.spell_out(tag)
        self.joint(at, *grounds, *takers, *(["box"] if metal else []))

    def volume(self, needed: float) -> float:
        """One of the three smallest marked volumes that are enough, in in³."""
        return self.rng.choice([volume for volume in VOLUMES if volume >= needed][:3])

    def spell_out(self, tag: str) -> None:
        """Write the terminals of a device that is wired to one cable, all but its ground."""
        held = self.record["devices"][tag]
        cable = held.pop("wired_to")
        held["terminals"] = {"hot": f"{cable} black", "neutral": f"{cable} white"}

    def ends_at(self, at: str) -> list[tuple[str, str]]:
        """The cables that end at a place, and by which side."""
        return [
            (tag, side) for tag, cable in self.record["cables"].items() for side in ("from", "to")
            if at_of(cable[side]) == at
        ]  # fmt: skip

    # -- runs

    def receptacles(self, feed: str, size: str, places: list[tuple[str, str]], **facts: Any) -> list[str]:
        """Receptacles one after the other on a cable that arrives at the first place; give their tags."""
        made = []
        arriving = feed
        for number, (place, room) in enumerate(places):
            last = number == len(places) - 1
            following = "" if last else self.cable(size, place, places[number + 1][0])
            rating = {"rating": 15, "slots": 3, "protection": "none"}
            if last:
                made.append(self.device("R", "duplex receptacle", place, **rating, **facts, wired_to=arriving))
            elif self.rng.random() < 0.3:
                terminals = {"hot": [f"{arriving} black", f"{following} black"],
                             "neutral": [f"{arriving} white", f"{following} white"]}  # fmt: skip
                made.append(self.device("R", "duplex receptacle", place, **rating, **facts, screws_shared=False,
                                        terminals=terminals))  # fmt: skip
            else:
                tag = self.device("R", "duplex receptacle", place, **rating, **facts)
                made.append(tag)
                self.joint(place, f"{arriving} black", f"{following} black", f"{tag} hot")
                self.joint(place, f"{arriving} white", f"{following} white", f"{tag} neutral")
            self.box(place, room)
            arriving = following
        for place, _ in places:
            self.close(place, size.split("/")[0], device=True)
        return made

    def switched_light(self, feed: str, switch: str, lamp: str, room: str, size: str = "14/2") -> None:
        """A switch where `feed` arrives, and behind it a luminaire; now and then a spare wire for a fan."""
        gauge = size.split("/")[0]
        spare = self.rng.random() < 0.3
        if spare:
            out = self.cable(f"{gauge}/3", {"at": switch, "red": "capped"}, {"at": lamp, "red": "capped"})
        else:
            out = self.cable(size, switch, lamp)
        self.box(switch, room)
        self.device("S", "switch", switch, rating=15, position="off",
                    terminals={"line": f"{feed} black", "load": f"{out} black"})  # fmt: skip
        self.joint(switch, f"{feed} white", f"{out} white")
        self.close(switch, gauge, device=True)
        self.box(lamp, room, cover="luminaire")
        light = self.device("LT", "luminaire", lamp, watts=self.rng.choice((40, 60, 75)), metal=True, wired_to=out)
        if spare:
            self.spell_out(light)
        self.close(lamp, gauge, device=False)

    def three_way_light(self, feed: str, one: str, two: str, lamp: str, room: str) -> None:
        """Two three-way switches and a luminaire."""
        between = self.cable("14/3", one, two)
        out = self.cable("14/2", two, lamp)
        for place, common, into in ((one, feed, between), (two, out, between)):
            self.box(place, room)
            self.device("S", "three-way switch", place, rating=15,
                        terminals={"common": f"{common} black", "traveller_1": f"{into} black",
                                   "traveller_2": f"{into} red"})  # fmt: skip
            self.joint(place, f"{common} white", f"{into} white")
            self.close(place, "14", device=True)
        self.box(lamp, room, cover="luminaire")
        self.device("LT", "luminaire", lamp, watts=60, metal=True, wired_to=out)
        self.close(lamp, "14", device=False)

    def switch_loop(self, feed: str, ceiling: str, switch: str, room: str) -> None:
        """A luminaire where `feed` arrives, its switch at the end of a loop that takes the neutral along, capped."""
        loop = self.cable("14/3", ceiling, {"at": switch, "white": "capped"})
        self.box(ceiling, room, cover="luminaire")
        lamp = self.device("LT", "luminaire", ceiling, watts=60, metal=True)
        self.joint(ceiling, f"{feed} black", f"{loop} black")
        self.joint(ceiling, f"{loop} red", f"{lamp} hot")
        self.joint(ceiling, f"{feed} white", f"{lamp} neutral", f"{loop} white")
        self.close(ceiling, "14", device=False)
        self.box(switch, room)
        self.device("S", "switch", switch, rating=15, terminals={"line": f"{loop} black", "load": f"{loop} red"})
        self.close(switch, "14", device=True)

    def junction(self, feed: str, at: str, room: str, size: str, *ways: str) -> list[str]:
        """A box with a blank cover where `feed` is spliced on to cables to `ways`."""
        out = [self.cable(size, at, way) for way in ways]
        self.box(at, room, cover="blank cover")
        for colour in ("black", "white"):
            self.joint(at, f"{feed} {colour}", *(f"{cable} {colour}" for cable in out))
        self.close(at, size.split("/")[0], device=False)
        return out

    # -- circuits; each gives how many it is

    def bedroom(self) -> int:
        """Receptacles and a light of a bedroom, behind an arc-fault breaker."""
        self.counts["bedroom"] += 1
        name = f"bedroom {self.counts['bedroom']}"
        feed_from = self.breaker(15, name, protection="arc-fault")
        boxes = [f"{name} {part}" for part in self.rng.sample(_BEDROOM_BOXES[1:], self.rng.randint(1, 3))]
        split = f"{name} attic box"
        if self.rng.random() < 0.5:
            feed = self.cable("14/2", feed_from, split)
            to_light, to_outlets = self.junction(feed, split, "attic", "14/2", f"{name} door", boxes[0])
            self.switched_light(to_light, f"{name} door", f"{name} ceiling", "bedroom")
            self.receptacles(to_outlets, "14/2", [(box, "bedroom") for box in boxes])
        else:
            feed = self.cable("14/2", feed_from, boxes[0])
            self.receptacles(feed, "14/2", [(box, "bedroom") for box in boxes])
        return 1

    def living_room(self) -> int:
        """Receptacles of a living room."""
        self.counts["living room"] += 1
        name = f"living room {self.counts['living room']}"
        parts = [f"{name} {part}" for part in ("north", "east", "south", "west")[: self.rng.randint(2, 4)]]
        feed = self.cable("14/2", self.breaker(15, name, protection="arc-fault"), parts[0])
        self.receptacles(feed, "14/2", [(part, "living room") for part in parts])
        return 1

    def hall(self) -> int:
        """Hall and stairs: three-way switches, or a switch loop."""
        at = self.breaker(15, "hall lights", protection="arc-fault")
        if self.rng.random() < 0.5:
            feed = self.cable("14/2", at, "stair foot")
            self.three_way_light(feed, "stair foot", "stair head", "stair lamp", "stairs")
        else:
            feed = self.cable("14/2", at, "hall ceiling")
            self.switch_loop(feed, "hall ceiling", "hall switch", "hall")
        return 1

    def bathroom(self) -> int:
        """A bathroom: a ground-fault receptacle, and behind it another and perhaps a light of its own."""
        at = self.breaker(20, "bathroom")
        feed = self.cable("12/2", at, "bathroom basin")
        protected = self.device("R", "duplex receptacle", "bathroom basin", rating=20, slots=3, to_water="1 ft",
                                protection="ground-fault", test_button="trips")  # fmt: skip
        terminals = {"hot": f"{feed} black", "neutral": f"{feed} white"}
        self.box("bathroom basin", "bathroom")
        if self.rng.random() < 0.6:
            out = self.cable("12/2", "bathroom basin", "bathroom shelf")
            terminals |= {"load_hot": f"{out} black", "load_neutral": f"{out} white"}
            self.record["devices"][protected]["terminals"] = terminals
            self.close("bathroom basin", "12", device=True)
            self.receptacles(out, "12/2", [("bathroom shelf", "bathroom")])
        else:
            self.record["devices"][protected]["terminals"] = terminals
            self.close("bathroom basin", "12", device=True)
        return 1

    def counter(self) -> int:
        """The two circuits of a kitchen counter: apart, or on one cable with a shared neutral."""
        facts = {"serves": "counter"}
        shared = self.year >= DUAL_TIED_SINCE
        if not shared or self.rng.random() < 0.5:
            for name in ("counter left", "counter right"):
                at = self.breaker(20, "kitchen " + name, protection="dual")
                boxes = [f"{name} {part}" for part in ("sink", "end")[: self.rng.randint(1, 2)]]
                feed = self.cable("12/2", at, boxes[0])
                self.receptacles(feed, "12/2", [(box, "kitchen") for box in boxes], **facts)
        else:
            at = self.breaker(20, "kitchen counter", poles=2, protection="dual")
            feed = self.cable("12/3", at, "counter middle")
            left, right = (self.cable("12/2", "counter middle", f"counter {side}") for side in ("left", "right"))
            self.box("counter middle", "kitchen", cover="blank cover")
            self.joint("counter middle", f"{feed} black", f"{left} black")
            self.joint("counter middle", f"{feed} red", f"{right} black")
            self.joint("counter middle", f"{feed} white", f"{left} white", f"{right} white")
            self.close("counter middle", "12", device=False)
            self.receptacles(left, "12/2", [("counter left", "kitchen")], **facts)
            self.receptacles(right, "12/2", [("counter right", "kitchen")], **facts)
        return 2

    def refrigerator(self) -> int:
        """A receptacle for one appliance in the kitchen."""
        feed = self.cable("12/2", self.breaker(20, "refrigerator", protection="dual"), "refrigerator wall")
        self.receptacles(feed, "12/2", [("refrigerator wall", "kitchen")], serves="one appliance")
        return 1

    def dishwasher(self) -> int:
        """A dishwasher wired in."""
        feed = self.cable("12/2", self.breaker(20, "dishwasher", protection="dual"), "DW")
        self.record["devices"]["DW"] = {
            "kind": "appliance", "where": "kitchen, under the counter", "metal": True, "room": "kitchen",
            "nameplate": {"amps": 9.5, "volts": 120}, "wired_to": feed,
        }  # fmt: skip
        return 1

    def laundry(self) -> int:
        """The laundry receptacle."""
        feed = self.cable("12/2", self.breaker(20, "laundry", protection="dual"), "laundry wall")
        self.receptacles(feed, "12/2", [("laundry wall", "laundry")], serves="laundry")
        return 1

    def dryer(self) -> int:
        """A dryer receptacle on 30 A."""
        self._large(30, "dryer", "10/3", "dryer wall", "laundry", "dryer receptacle", 30)
        return 1

    def range(self) -> int:
        """A range receptacle on 50 A."""
        self._large(50, "range", "6/3", "range wall", "kitchen", "range receptacle", 50)
        return 1

    def _large(self, amps: int, label: str, size: str, wall: str, room: str, kind: str, rating: int) -> None:
        feed = self.cable(size, self.breaker(amps, label, poles=2, protection="ground-fault"), wall)
        self.box(wall, room)
        self.device("R", kind, wall, rating=rating, gangs=2, terminals={
            "hot": f"{feed} black", "hot_2": f"{feed} red", "neutral": f"{feed} white"})  # fmt: skip
        self.close(wall, size.split("/")[0], device=True, metal=True, gangs=2)

    def water_heater(self) -> int:
        """A water heater between the legs; the white is marked."""
        return self._between("WH", "water heater", 30, {"watts": 4500, "volts": 240}, "utility room")

    def heat_pump(self) -> int:
        """An air conditioner between the legs: a disconnect on the outside wall in its sight, conduit from there."""
        switch = "AC disconnect"
        feed = self.outdoor_cable("10/2", self.breaker(30, "air conditioner", poles=2), switch)
        self.record["cables"][feed]["conductors"] = {"white": {"marked": "black"}}
        whip = self.tag("W")
        self.record["cables"][whip] = {
            "gauge": 10, "method": "PVC conduit", "metal": "copper", "installed": self.year, "runs_in": "outdoors",
            "conductors": {name: {"insulation_c": 75} for name in ("black", "red", "green")},
            "from": switch, "to": "AC",
        }  # fmt: skip
        volume = self.volume(fill(["10"] * 4, grounds=2, device="10"))
        self.record["boxes"][switch] = {"kind": "nonmetallic", "volume": volume, "clamps": "none", "room": "outdoors",
                                        "cover": "device plate", "wet_place": True, "damp_cover": True}  # fmt: skip
        lever = self.device("S", "double-pole switch", switch, rating=30, position="on", terminals={
            "line": f"{feed} black", "line_2": f"{feed} white", "load": f"{whip} black", "load_2": f"{whip} red",
        })  # fmt: skip
        self.joint(switch, f"{feed} bare", f"{whip} green", f"{lever} ground")
        self.record["devices"]["AC"] = {
            "kind": "air conditioner", "where": "outside, east wall", "metal": True,
            "nameplate": {"volts": 240, "amps": 17, "min_circuit_amps": 21, "max_breaker_amps": 30},
            "terminals": {"hot": f"{whip} black", "hot_2": f"{whip} red", "ground": f"{whip} green"},
        }  # fmt: skip
        return 1

    def outdoor_cable(self, size: str, start: str, to: str) -> str:
        """A cable made for outdoors."""
        tag = self.cable(size, start, to, runs_in="outdoors")
        held = self.record["cables"][tag]
        held["type"] = f"{size} UF-B with ground"
        for name in ("legend", "jacket"):
            held.pop(name, None)
        return tag

    def _between(self, tag: str, kind: str, amps: int, plate: Record, where: str) -> int:
        at = self.breaker(amps, kind, poles=2)
        feed = self.cable("10/2", at, tag, conductors={"white": {"marked": "black"}})
        self.record["devices"][tag] = {
            "kind": kind, "where": where, "metal": True, "nameplate": plate,
            "terminals": {"hot": f"{feed} black", "hot_2": f"{feed} white", "ground": f"{feed} bare"},
        }  # fmt: skip
        return 1

    def garage(self) -> int:
        """Garage receptacles on 20 A; the breaker protects them."""
        boxes = [("garage bench", "garage"), ("garage door", "garage")][: self.rng.randint(1, 2)]
        feed = self.cable("12/2", self.breaker(20, "garage", protection="ground-fault"), boxes[0][0])
        self.receptacles(feed, "12/2", boxes)
        return 1

    def outdoors(self) -> int:
        """A receptacle outdoors, in a box made for rain, on cable made for it."""
        at = self.breaker(15, "outside receptacle")
        feed = self.outdoor_cable("14/2", at, "outside wall")
        self.box("outside wall", "outdoors", wet_place=True, damp_cover=True)
        self.device("R", "duplex receptacle", "outside wall", rating=15, slots=3, protection="ground-fault",
                    test_button="trips", wired_to=feed)  # fmt: skip
        self.close("outside wall", "14", device=True, metal=False)
        return 1

    def attic(self) -> int:
        """A junction box in the attic, a light and a fan on it."""
        at = self.breaker(15, "attic")
        feed = self.cable("14/2", at, "attic junction")
        to_light, to_fan = self.junction(feed, "attic junction", "attic", "14/2", "attic hatch", "porch ceiling")
        self.switched_light(to_light, "attic hatch", "attic lamp", "attic")
        self.box("porch ceiling", "porch", cover="canopy")
        self.device("F", "fan", "porch ceiling", metal=True, hung_from="fan-rated box", weight=22,
                    nameplate={"amps": 0.7, "volts": 120}, wired_to=to_fan)  # fmt: skip
        self.close("porch ceiling", "14", device=False, metal=False)
        return 1

    def basement(self) -> int:
        """Unfinished basement: receptacles that the breaker protects."""
        feed = self.cable("12/2", self.breaker(20, "basement", protection="ground-fault"), "basement north")
        self.receptacles(feed, "12/2", [("basement north", "basement"), ("basement bench", "basement")],
                         unfinished=True)  # fmt: skip
        return 1

    def light(self) -> int:
        """A light with a switch, in a place without special rules."""
        self.counts["light"] += 1
        name = f"store {self.counts['light']}"
        feed = self.cable("14/2", self.breaker(15, f"{name} light"), f"{name} door")
        self.switched_light(feed, f"{name} door", f"{name} lamp", "other")
        return 1

    def smoke_alarms(self) -> int:
        """Smoke alarms joined to each other."""
        at = self.breaker(15, "smoke alarms", protection="arc-fault")
        feed = self.cable("14/2", at, "alarm hall")
        between = self.cable("14/3", "alarm hall", "alarm landing")
        for place, tag, cables in (("alarm hall", "SM1", (feed, between)), ("alarm landing", "SM2", (between,))):
            self.box(place, "hall", cover="luminaire")
            terminals = {"hot": [f"{cable} black" for cable in cables],
                         "neutral": [f"{cable} white" for cable in cables]}  # fmt: skip
            self.record["devices"][tag] = {"kind": "smoke alarm", "at": place, "metal": False}
            for name, ends in terminals.items():
                self.joint(place, *ends, f"{tag} {name}")
            self.record["joints"][self.tag("J")] = {
                "at": place, "ends": [f"{between} red"], "connector": "twist-on",
                "note": f"with the signal lead of {tag}",
            }  # fmt: skip
            self._close_alarm(place, cables)
        return 1

    def _close_alarm(self, place: str, cables: tuple[str, ...]) -> None:
        wires = sum(len(wires_of(self.record["cables"][cable]["type"])) for cable in cables)
        needed = fill(["14"] * wires, grounds=len(cables), device=None)
        self.record["boxes"][place] = {"kind": "nonmetallic", "volume": self.volume(needed), "clamps": "none",
                                       **self.record["boxes"][place]}  # fmt: skip
        if len(cables) > 1:
            self.joint(place, *(f"{cable} bare" for cable in cables))
        else:
            self.record["cables"][cables[0]]["to"] = {"at": place, "bare": "capped"}

    def workshop(self) -> int:
        """A sub-panel for a workshop: feeder with four wires, bars apart, three circuits."""
        if "B" in self.record["panels"]:
            return 0
        at = self.breaker(40, "workshop panel", poles=2)
        self.cable("8/3", at, {"at": "B", "black": "lug 1", "red": "lug 2", "white": "neutral bar",
                               "bare": "ground bar"})  # fmt: skip
        self.record["panels"]["B"] = {
            "where": "workshop, beside the door", "fed_from": at, "main_amps": 40, "bus_amps": 100, "bonded": False,
            "metal": True, "cover": "on", "open_spaces": 0, "clear_depth": "40 in", "directory": "legible",
            "breakers": {
                "1": {"amps": 20, "leg": "L1", "label": "bench", "protection": "none"},
                "2": {"amps": 15, "leg": "L1", "label": "workshop light", "protection": "none"},
                "5": {"amps": 20, "leg": "L1", "label": "tool wall", "protection": "none"},
            },
        }  # fmt: skip
        feed = self.cable("12/2", "B 1", "bench wall")
        self.receptacles(feed, "12/2", [("bench wall", "other"), ("bench end", "other")])
        tools = self.cable("12/2", "B 5", "tool wall left")
        self.receptacles(tools, "12/2", [("tool wall left", "other"), ("tool wall right", "other")])
        light = self.cable("14/2", "B 2", "workshop door")
        self.switched_light(light, "workshop door", "workshop lamp", "other")
        return 1


def leg_of(space: int) -> str:
    """Leg of a breaker space in the usual panel: spaces 1 and 2 on L1, 3 and 4 on L2, and so on by turns."""
    return "L1" if (space - 1) // 2 % 2 == 0 else "L2"


def at_of(end: Any) -> str:
    """The place of a cable end as recorded, empty when it was not traced."""
    if isinstance(end, dict):
        return str(end.get("at", ""))
    return "" if end in (None, "not traced") else str(end)


def wires_of(kind: str) -> list[str]:
    """Colours of the insulated conductors of a cable by its short form, such as `12/3 NM-B with ground`."""
    return {"2": ["black", "white"], "3": ["black", "red", "white"]}[kind.split("/")[1].split(" ")[0]]


def fill(sizes: list[str], *, grounds: int, device: str | None, gangs: int = 1) -> float:
    """Cubic inches that a box needs: conductors by size, its grounds, and a device of so many gangs.

    Up to four grounds count as one conductor and each more as a quarter, as the
    2020 edition has it. Without clamps. Source: NFPA 70 (NEC) 314.16(B), from memory.
    """
    each = max(IN3[size] for size in sizes)
    needed = sum(IN3[size] for size in sizes)
    if grounds:
        needed += each * (1 + 0.25 * max(0, grounds - 4))
    return needed + (2 * gangs * IN3[device] if device else 0)
