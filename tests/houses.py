"""Random houses and shapes that are hard on a trace, as plain records and as YAML text.

Everything here is invented and made from a seed. `house` gives a record as a
plain dictionary that the schema and the builder accept; `as_yaml` writes it
one thing a line; `shuffled` gives the same house with everything that has no
order of its own in another order. Nothing here uses the code under test.

    text = as_yaml(house(7))                     # a small house
    text = as_yaml(house(7, cables=17_000))      # about 50,000 conductors
    text = as_yaml(house(7, wild=1.0))           # joints without regard to colour
"""

from __future__ import annotations

import json
import random
from collections.abc import Iterable
from typing import Any

Record = dict[str, Any]

CONDUCTORS = {
    "14": ["black"], "14/2": ["black", "white"], "14/3": ["black", "red", "white"],
    "14/2 with ground": ["black", "white", "bare"], "14/3 with ground": ["black", "red", "white", "bare"],
    "12/2 NM-B with ground": ["black", "white", "bare"], "12/3 NM-B with ground": ["black", "red", "white", "bare"],
    "14/2 NM-B with ground": ["black", "white", "bare"], "10/2 NM-B with ground": ["black", "white", "bare"],
    "12/2 AL with ground": ["black", "white", "bare"], "8/3 NM-B with ground": ["black", "red", "white", "bare"],
    "14 knob-and-tube": ["black"],
}  # fmt: skip
"""The cable types used here and the conductors each brings; common practice, no source."""

TERMINALS = {
    "duplex receptacle": ["hot", "neutral", "ground", "hot_2", "load_hot", "load_neutral"],
    "switch": ["line", "load", "ground"],
    "three-way switch": ["common", "traveller_1", "traveller_2", "ground"],
    "four-way switch": ["traveller_1", "traveller_2", "traveller_3", "traveller_4", "ground"],
    "double-pole switch": ["line", "load", "line_2", "load_2", "ground"],
    "lampholder": ["hot", "neutral", "ground"],
    "luminaire": ["hot", "neutral", "ground"],
    "timer": ["line", "load", "neutral", "ground"],
    "heater": ["hot", "hot_2", "ground"],
    "motor": ["hot", "neutral", "ground"],
}
"""Terminals by kind of device, the most used first."""

BOXES = ["octagonal 4 x 1-1/2", "square 4 x 1-1/2", "device 3 x 2 x 2-1/2", "nonmetallic", "no box"]
_LIVE_COLOURS = ("black", "red", "blue")
_ROLE = {"neutral": "white", "load_neutral": "white", "ground": "bare"}
_UNTRACED = ("not traced", {"not_seen": "goes up inside the wall"})


def house(
    seed: int,
    *,
    cables: int | None = None,
    panels: int | None = None,
    wild: float = 0.15,
    doubt: float = 0.15,
    untraced: float = 0.12,
) -> Record:
    """A house of this seed. `cables` is 1 to 25 when not given, with one panel for each 30 cables or so.

    `wild` is the share of joints and terminals made without regard to colour,
    `doubt` of facts that are weak, listed or not seen, `untraced` of ends that
    lead nowhere known.
    """
    rng = random.Random(seed)
    count = cables if cables is not None else rng.randint(1, 25)
    return _House(rng, count, panels or 1 + count // 30, wild, doubt, untraced).record


class _House:
    def __init__(
        self, rng: random.Random, cables: int, panels: int, wild: float, doubt: float, untraced: float
    ) -> None:
        self.rng = rng
        self.wild, self.doubt, self.untraced = wild, doubt, untraced
        self.record: Record = {
            "asfound": 1, "invented": True, "site": {"name": "Invented house", "built": rng.randint(1925, 2020)},
            "visits": {"V1": {"on": "2026-05-04", "by": "A. Example"}}, "supply": "120/240 split phase",
            "panels": {}, "cables": {}, "boxes": {}, "joints": {}, "devices": {},
        }  # fmt: skip
        self.free: list[str] = []  # breakers without a cable: "A 3", "B 5/7"
        self.wired: list[str] = []  # boxes that a cable reaches
        self.ends: dict[str, list[tuple[str, str, str]]] = {}  # place: (cable, conductor, from or to)
        self._panels(panels)
        for number in range(cables):
            self._cable(f"W{number + 1}")
        for place in list(self.ends):
            self._fill(place)
        for section in ("boxes", "joints", "devices"):
            if not self.record[section]:
                del self.record[section]

    # -- panels and breakers

    def _panels(self, count: int) -> None:
        feeders: list[str] = []
        for number in range(count):
            tag = _letters(number)
            panel: Record = {"breakers": self._breakers(tag)}
            if self.rng.random() < 0.4:
                panel["bonded"] = number == 0
            if number and feeders and self.rng.random() < 0.6:
                panel["fed_from"] = self.rng.choice(feeders)
            self.record["panels"][tag] = panel
            feeders += [f"{tag} {space}" for space in panel["breakers"] if "/" in space]
        self.rng.shuffle(self.free)

    def _breakers(self, tag: str) -> Record:
        rng = self.rng
        breakers: Record = {}
        space = 1
        while space <= rng.randint(8, 40):
            double = rng.random() < 0.2
            name = f"{space}/{space + 2}" if double else str(space)
            amps = rng.choice([15, 15, 20, 20, 30]) if not double else rng.choice([20, 30, 40])
            if rng.random() < self.doubt:
                breakers[name] = {"amps": {"not_seen": "handle painted over"}}
            else:
                breakers[name] = amps if rng.random() < 0.8 else {"amps": amps, "state": rng.choice(["on", "off"])}
            self.free.append(f"{tag} {name}")
            space += 4 if double else rng.choice([1, 2])
        singles = [name for name in breakers if "/" not in name]
        for one, two in zip(singles, singles[1:], strict=False):
            if rng.random() < 0.06 and not isinstance(breakers[one], dict):
                breakers[one] = {"amps": breakers[one], "tied_with": two}
        return breakers

    # -- cables

    def _cable(self, tag: str) -> None:
        rng = self.rng
        kind = rng.choice(list(CONDUCTORS))
        cable: Record = {"type": kind}
        if rng.random() < self.doubt and kind != "14 knob-and-tube":
            cable["type"] = {"is": kind, "how": "by eye"}
        elif rng.random() < self.doubt:
            cable["gauge"] = rng.choice(["14 or 12", {"not_seen": "jacket painted"}, {"is": 12, "how": "by eye"}])
        if rng.random() < self.doubt and "white" in CONDUCTORS[kind]:
            cable["conductors"] = {"white": {"marked": rng.choice(["black", "none"])}}
        cable["from"] = self._from(tag, kind)
        cable["to"] = self._to(tag, kind)
        for side in ("from", "to"):
            if cable[side] is None:
                del cable[side]
        self.record["cables"][tag] = cable

    def _from(self, tag: str, kind: str) -> Any:
        rng = self.rng
        if self.free and (not self.wired or rng.random() < 0.25):
            return self.free.pop()
        if not self.wired or rng.random() < self.untraced / 2:
            return rng.choice(_UNTRACED)
        recent = self.wired[-30:] if rng.random() < 0.8 else self.wired
        return self._at(rng.choice(recent), tag, kind, "from")

    def _to(self, tag: str, kind: str) -> Any:
        rng = self.rng
        draw = rng.random()
        if draw < self.untraced:
            return rng.choice([*_UNTRACED, None])
        if draw < self.untraced + 0.2 and self.wired:
            return self._at(rng.choice(self.wired[-30:]), tag, kind, "to")
        box = f"B{len(self.record['boxes']) + 1}"
        shape = rng.choice(BOXES)
        self.record["boxes"][box] = {"kind": shape, "volume": 18} if shape == "nonmetallic" else shape
        self.wired.append(box)
        return self._at(box, tag, kind, "to")

    def _at(self, place: str, tag: str, kind: str, side: str) -> Any:
        """The cable's end at `place`; some of its conductors get a state, the others are there to be joined."""
        rng = self.rng
        states: Record = {}
        for conductor in CONDUCTORS[kind]:
            if rng.random() < 0.05:
                states[conductor] = rng.choice(["capped", "taped", "loose", "cut", "not traced"])
            else:
                self.ends.setdefault(place, []).append((tag, conductor, side))
        return {"at": place, **states} if states else place

    # -- what is in a box

    def _fill(self, place: str) -> None:
        rng = self.rng
        ends = list(self.ends[place])
        rng.shuffle(ends)
        for _ in range(rng.choice([0, 0, 1, 1, 2])):
            self._device(place, ends)
        groups: dict[Any, list[str]] = {}
        for end in ends:
            if rng.random() < self.untraced / 2:
                continue  # nobody wrote down what happens to it
            if rng.random() < self.wild:
                key: Any = rng.randint(0, 2)
            elif end[1] in _LIVE_COLOURS:
                key = "live" if rng.random() < 0.7 else end[1]
            else:
                key = end[1]
            groups.setdefault(key, []).append(self._name(place, end))
        for key, names in groups.items():
            if len(names) == 1 and rng.random() < 0.6:
                continue
            if key == "bare" and self.record["boxes"][place] != "no box" and rng.random() < 0.5:
                names.append("box")
            joint: Record = {"at": place, "ends": names}
            if rng.random() < 0.7:
                joint["connector"] = rng.choice(["twist-on", "twist-on", "tape only", "push-in"])
            self.record["joints"][f"J{len(self.record['joints']) + 1}"] = joint

    def _device(self, place: str, ends: list[tuple[str, str, str]]) -> None:
        rng = self.rng
        kind = rng.choice(list(TERMINALS))
        if rng.random() < self.doubt / 3:
            written: Any = {"not_seen": "behind a plate that was not removed"}
        else:
            written = kind
        device: Record = {"kind": written, "at": place}
        terminals: Record = {}
        for name in TERMINALS[kind]:
            if not ends or rng.random() < (0.5 if name in ("hot_2", "load_hot", "load_neutral") else 0.1):
                continue
            wanted = _ROLE.get(name)
            fits = [end for end in ends if (end[1] == wanted if wanted else end[1] in _LIVE_COLOURS)]
            pick = rng.choice(ends) if rng.random() < self.wild or not fits else rng.choice(fits)
            if not fits and wanted and rng.random() < 0.7:
                continue
            ends.remove(pick)
            terminals[name] = self._name(place, pick)
            if len(fits) > 1 and rng.random() < 0.1:
                more = next((end for end in fits if end in ends), None)
                if more is not None:
                    ends.remove(more)
                    terminals[name] = [terminals[name], self._name(place, more)]
        if terminals:
            device["terminals"] = terminals
        if kind == "duplex receptacle" and "hot_2" in terminals and rng.random() < 0.5:
            device["tab"] = rng.choice(["in place", "removed"])
        if "load_hot" in terminals or "load_neutral" in terminals:
            device["protection"] = "ground-fault"
        self.record["devices"][f"D{len(self.record['devices']) + 1}"] = device

    def _name(self, place: str, end: tuple[str, str, str]) -> str:
        tag, conductor, side = end
        cable = self.record["cables"][tag]
        both = all(_place(cable.get(one)) == place for one in ("from", "to"))
        return f"{tag} {conductor} ({side})" if both else f"{tag} {conductor}"


def _place(end: Any) -> Any:
    return end.get("at") if isinstance(end, dict) else end


def _letters(number: int) -> str:
    """A, B, ... Z, AA, AB ..."""
    word = ""
    number += 1
    while number:
        number, rest = divmod(number - 1, 26)
        word = chr(65 + rest) + word
    return word


# -- shapes that are hard on a trace


def empty(panels: Record, **sections: Record) -> Record:
    """A record with these panels and sections."""
    return {"asfound": 1, "invented": True, "site": {"name": "Invented shape", "built": 1980},
            "supply": "120/240 split phase", "panels": panels, **sections}  # fmt: skip


def one_joint(ends: int) -> Record:
    """One box with one joint of this many ends, fed by one breaker; the other ends are capped."""
    cables = {"W0": {"type": "14", "from": "A 1", "to": "hub"}}
    cables |= {f"W{n}": {"type": "14", "from": "hub", "to": {"at": "far", "black": "capped"}} for n in range(1, ends)}
    joint = {"at": "hub", "ends": [f"{tag} black" for tag in cables]}
    return empty(_panel(1), cables=cables, boxes={"hub": BOXES[0], "far": BOXES[0]}, joints={"J1": joint})


def chain(cables: int) -> Record:
    """Cables one behind the other from one breaker, black to black and white to white."""
    made = {"W0": {"type": "14/2", "from": "A 1", "to": "B0"}}
    joints = {}
    for n in range(1, cables):
        made[f"W{n}"] = {"type": "14/2", "from": f"B{n - 1}", "to": f"B{n}"}
        for colour in ("black", "white"):
            joints[f"J{n} {colour}"] = {"at": f"B{n - 1}", "ends": [f"W{n - 1} {colour}", f"W{n} {colour}"]}
    return empty(_panel(1), cables=made, boxes={f"B{n}": BOXES[0] for n in range(cables)}, joints=joints)


def many_breakers(breakers: int, loads: int = 0) -> Record:
    """This many breakers joined into one net, with this many receptacles on it."""
    panels = {_letters(p): {"breakers": {str(s + 1): 15 for s in range(min(100, breakers - 100 * p))}}
              for p in range((breakers + 99) // 100)}  # fmt: skip
    feeds = [f"{p} {s}" for p, panel in panels.items() for s in panel["breakers"]]
    cables = {f"F{n}": {"type": "14", "from": feed, "to": "hub"} for n, feed in enumerate(feeds)}
    joints: Record = {"J1": {"at": "hub", "ends": [f"{tag} black" for tag in cables]}}
    boxes: Record = {"hub": BOXES[0]}
    devices: Record = {}
    for n in range(loads):
        cables[f"W{n}"] = {"type": "14/2", "from": "hub", "to": f"B{n}"}
        boxes[f"B{n}"] = BOXES[2]
        joints["J1"]["ends"].append(f"W{n} black")
        joints.setdefault("J2", {"at": "hub", "ends": []})["ends"].append(f"W{n} white")
        devices[f"R{n}"] = {"kind": "duplex receptacle", "at": f"B{n}", "wired_to": f"W{n}"}
    return empty(panels, cables=cables, boxes=boxes, joints=joints, devices=devices)


def breakers_through_switches(breakers: int) -> Record:
    """This many breakers that meet on one net, each through a switch of its own."""
    record = many_breakers(breakers)
    record["joints"] = {"J1": {"at": "hub", "ends": [f"S{n} load" for n in range(breakers)]}}
    record["devices"] = {f"S{n}": {"kind": "switch", "at": "hub", "terminals": {"line": f"F{n} black"}}
                         for n in range(breakers)}  # fmt: skip
    return record


def many_switches(switches: int, kind: str = "switch") -> Record:
    """One hot net with this many switches, each with a lamp behind it."""
    first, second = ("common", "traveller_1") if kind == "three-way switch" else ("line", "load")
    cables: Record = {"W0": {"type": "14/2", "from": "A 1", "to": "hub"}}
    joints: Record = {"J1": {"at": "hub", "ends": ["W0 black"]}, "J2": {"at": "hub", "ends": ["W0 white"]}}
    devices: Record = {}
    for n in range(1, switches + 1):
        cables[f"W{n}"] = {"type": "14/2", "from": "hub", "to": "far"}
        joints["J1"]["ends"].append(f"S{n} {first}")
        joints["J2"]["ends"].append(f"W{n} white")
        devices[f"S{n}"] = {"kind": kind, "at": "hub", "terminals": {second: f"W{n} black"}}
        terminals = {"hot": f"W{n} black", "neutral": f"W{n} white"}
        devices[f"L{n}"] = {"kind": "lampholder", "at": "far", "terminals": terminals}
    return empty(_panel(1), cables=cables, boxes={"hub": BOXES[0], "far": BOXES[0]}, joints=joints, devices=devices)


def three_way_ladder(pairs: int) -> Record:
    """Three-way pairs one behind the other: the common of each second switch feeds the next first one."""
    cables: Record = {"H0": {"type": "14", "from": "A 1", "to": "B0"}}
    devices: Record = {}
    for n in range(pairs):
        cables[f"T{n}"] = {"type": "14/3", "from": f"B{2 * n}", "to": f"B{2 * n + 1}"}
        cables[f"H{n + 1}"] = {"type": "14", "from": f"B{2 * n + 1}", "to": f"B{2 * n + 2}"}
        for place, hot in ((2 * n, f"H{n} black"), (2 * n + 1, f"H{n + 1} black")):
            terminals = {"common": hot, "traveller_1": f"T{n} black", "traveller_2": f"T{n} red"}
            devices[f"S{place}"] = {"kind": "three-way switch", "at": f"B{place}", "terminals": terminals}
    boxes = {f"B{n}": BOXES[2] for n in range(2 * pairs + 1)}
    return empty(_panel(1), cables=cables, boxes=boxes, devices=devices)


def many_claims(claims: int) -> Record:
    """A log with this many readings and claims that something is dead."""
    record = chain(50)
    record["instruments"] = {"M": {"type": "multimeter"}}
    readings, log = [], []
    for n in range(claims):
        tag = f"W{n % 50}"
        readings.append({"tag": f"K{n}", "kind": "voltage", "between": ["A neutral bar", "A 1"], "value": "121 V",
                         "instrument": "M", "known_source": True})  # fmt: skip
        readings.append({"tag": f"R{n}", "kind": "voltage", "between": [f"{tag} black", f"{tag} white"],
                         "value": "0.1 V", "instrument": "M"})  # fmt: skip
        log.append({"did": "tested", "what": tag, "readings": [f"K{n}", f"R{n}"]})
        log.append({"did": "called dead", "what": tag})
    record["readings"], record["log"] = readings, log
    return record


def _panel(breakers: int) -> Record:
    return {"A": {"breakers": {str(2 * n + 1): 15 for n in range(breakers)}}}


# -- text and order


def as_yaml(record: Record) -> str:
    """The record as YAML, one thing a line, everything in quotes so that no word changes its meaning."""
    lines = []
    for section, held in record.items():
        if isinstance(held, dict) and held and all(isinstance(value, dict | str) for value in held.values()):
            lines.append(f"{section}:")
            lines += [f"  {json.dumps(tag)}: {json.dumps(value)}" for tag, value in held.items()]
        elif isinstance(held, list) and held:
            lines.append(f"{section}:")
            lines += [f"  - {json.dumps(value)}" for value in held]
        else:
            lines.append(f"{section}: {json.dumps(held)}")
    return "\n".join(lines) + "\n"


def as_bytes(record: Record) -> bytes:
    """`as_yaml`, encoded as a record file is."""
    return as_yaml(record).encode()


_NO_ORDER = ("panels", "cables", "boxes", "joints", "devices", "breakers", "terminals", "ends", "conductors")


def shuffled(record: Record, seed: int) -> Record:
    """The same house with its sections, things, ends and terminals in another order."""
    rng = random.Random(seed)
    moved = {name: _shuffled(name, value, rng) for name, value in record.items()}
    return dict(_mixed(moved.items(), rng))


def _shuffled(name: str, value: Any, rng: random.Random) -> Any:
    if isinstance(value, dict):
        pairs = [(key, _shuffled(key, held, rng)) for key, held in value.items()]
        return dict(_mixed(pairs, rng) if name in _NO_ORDER else pairs)
    if isinstance(value, list) and name in _NO_ORDER:
        return _mixed(value, rng)
    return value


def _mixed(values: Iterable[Any], rng: random.Random) -> list[Any]:
    mixed = list(values)
    rng.shuffle(mixed)
    return mixed
