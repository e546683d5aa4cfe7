"""A record as it stands before anybody opened anything, and what each observation adds to it.

The whole record is the truth. `FirstSeen` splits it into atoms: single fields, ends of cables, joints, the wiring of
devices. Each observation of the plan (`open | box hall`) shows the atoms that its act shows by the data file
`observations.yaml`; `record` puts together what a set of atoms leaves. Readings, the log, labels and photographs are
left out altogether: they speak of things nobody has seen yet.
"""

from __future__ import annotations

import functools
import json
import tempfile
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from asfound.data import data
from asfound.judge.amend import Amendments
from asfound.judge.rules import Rule
from asfound.judge.run import judge
from asfound.judge.tables import TableSet
from asfound.load import load_bytes, load_file
from asfound.plan import plan
from asfound.survey import Survey, read_record, survey
from asfound.trace import trace
from houses import house, shuffled
from records import installed

FIXTURES = Path(__file__).resolve().parent.parent / "fixtures"
AS_OF = "2026-05-20"

Record = dict[str, Any]
Atom = tuple[str, ...]

LOOKING_IN = ("open", "open place", "dead front off")
_FACT = {"leg": "legs", "type": "gauge", "wired": "state", "tied_with": "tie"}
"""Fields whose fact has another name. The type of a cable is known with the size of its conductors."""
_KEPT = {
    "panel": ("where", "fed_from"), "box": ("where", "room"), "device": ("kind", "at", "where", "room"), "cable": (),
    "joint": ("at", "ends"), "breaker": ("tie", "tied_with"),
}  # fmt: skip
"""What is seen by walking through; of a joint, what goes with its being seen at all."""
_ASIDE = ("note", "photo", "visit", "by", "was")


def _shows() -> dict[str, set[tuple[str, str]]]:
    """The facts each act shows, as pairs of item kind and fact."""
    found: dict[str, set[tuple[str, str]]] = {}
    for name, act in data("observations")["acts"].items():
        shows = {kind: list(facts) for kind, facts in act["shows"].items() if kind != "unwritten"}
        for kind, facts in act["shows"].get("unwritten", {}).items():
            shows[kind] = [*shows.get(kind, ()), *facts]
        found[name] = {(kind, fact) for kind, facts in shows.items() for fact in facts}
    return found


class FirstSeen:
    """One record that is the truth, and what is left of it when only some was seen.

    With `routes` it is known from the start between which places each cable
    runs, as where cellar and attic are open; without, that too has to be found.
    """

    def __init__(self, truth: Record, *, routes: bool) -> None:
        self.truth = truth
        self.shows = _shows()
        self.panels: Record = truth.get("panels", {})
        self.boxes = {
            tag: held if isinstance(held, dict) else {"kind": held} for tag, held in truth.get("boxes", {}).items()
        }
        self.devices: Record = truth.get("devices", {})
        self.joints: Record = truth.get("joints", {})
        self.cables = {
            tag: held if isinstance(held, dict) else {"type": held} for tag, held in truth.get("cables", {}).items()
        }
        self.sides = {
            (tag, side): self._place(held.get(side)) for tag, held in self.cables.items() for side in ("from", "to")
        }
        self.start = frozenset(self._at_first(routes))
        self.universe = self._universe()

    # -- places

    def _place(self, end: Any) -> tuple[str, str] | None:
        """Kind and tag of the place where an end is; None when the truth does not know either."""
        text = end.get("at") if isinstance(end, dict) else end
        if not isinstance(text, str):
            return None
        for kind, held in (("panel", self.panels), ("box", self.boxes), ("device", self.devices)):
            if text in held:
                return kind, text
        panel = text.rpartition(" ")[0]
        return ("panel", panel) if panel in self.panels else None

    def place_of(self, device: str) -> tuple[str, str]:
        at = self.devices[device].get("at")
        return ("box", at) if at is not None else ("device", device)

    def sort(self, place: tuple[str, str]) -> str:
        """The act by which a place is looked into."""
        if place[0] == "panel":
            return "dead front off"
        return "open place" if place[0] == "box" and self.boxes[place[1]].get("kind") == "no box" else "open"

    def places(self) -> list[tuple[str, str]]:
        """All places: panels, boxes in the order of the file, devices with wiring of their own."""
        free = [("device", tag) for tag, held in self.devices.items() if "at" not in held]
        return [*(("panel", tag) for tag in self.panels), *(("box", tag) for tag in self.boxes), *free]

    # -- atoms

    def _at_first(self, routes: bool) -> Iterator[Atom]:
        if routes:
            yield from (("where", *key) for key, place in self.sides.items() if place is not None)
        for tag, held in self.boxes.items():
            if held.get("kind") == "no box":
                yield "box", tag, "kind"

    def _universe(self) -> dict[str, frozenset[Atom]]:
        """What each observation that has an answer shows, by its name, in the order of going room by room."""
        found: dict[str, dict[Atom, None]] = {}

        def add(act: str, kind: str, tag: str, atoms: Iterable[Atom], side: str = "") -> None:
            name = f"{act} | {kind} {tag}{f' ({side})' if side else ''}"
            found.setdefault(name, {}).update(dict.fromkeys(atoms))

        at_cable: set[str] = set()
        for place in self.places():
            kind, tag = place
            here = [key for key, where in self.sides.items() if where == place]
            if kind == "panel":
                for act in ("panel face", "dead front off", "legs"):
                    add(act, kind, tag, self._fields("panel", tag, self.panels[tag], act))
                    for space, held in self.panels[tag].get("breakers", {}).items():
                        add(act, kind, tag, self._fields("breaker", f"{tag} {space}", _long(held), act))
            else:
                add("outside", kind, tag, self._outside(place))
            add(self.sort(place), kind, tag, self._inside(place, here))
            for device in self._devices(place):
                add("button", "device", device, self._fields("device", device, self.devices[device], "button"))
            for cable, side in here:
                if cable not in at_cable:
                    at_cable.add(cable)
                    for act in ("legend", "gauge", "run"):
                        add(act, "cable", cable, self._of_cable(cable, act))
                add("follow", "cable", cable, [("where", cable, side)], side)
        return {name: frozenset(atoms) for name, atoms in found.items() if any(map(self._answers, atoms))}

    def _fields(self, kind: str, tag: str, held: Record, act: str) -> Iterator[Atom]:
        for name in held:
            if (kind, _FACT.get(name, name)) in self.shows[act] or (
                name == "nameplate" and ("device", "amps") in self.shows[act]
            ):
                yield kind, tag, name

    def _devices(self, place: tuple[str, str]) -> list[str]:
        return [tag for tag in self.devices if self.place_of(tag) == place]

    def _outside(self, place: tuple[str, str]) -> Iterator[Atom]:
        if place[0] == "box":
            yield from self._fields("box", place[1], self.boxes[place[1]], "outside")
        for device in self._devices(place):
            yield from self._fields("device", device, self.devices[device], "outside")

    def _inside(self, place: tuple[str, str], here: list[tuple[str, str]]) -> Iterator[Atom]:
        act = self.sort(place)
        if place[0] == "box":
            yield from self._fields("box", place[1], self.boxes[place[1]], act)
            for cable, held in self.cables.items():
                if place[1] in held.get("passes", {}):
                    yield "passes", cable, place[1]
                    yield from self._of_cable(cable, act)
        for device in self._devices(place):
            yield from self._fields("device", device, self.devices[device], act)
            yield "wiring", device
        for joint, held in self.joints.items():
            if held["at"] == place[1]:
                yield "joint", joint
                yield from self._fields("joint", joint, held, act)
        for cable, side in here:
            yield "where", cable, side
            yield "end", cable, side
            yield from self._of_cable(cable, act)

    def _of_cable(self, cable: str, act: str) -> Iterator[Atom]:
        yield from self._fields("cable", cable, self.cables[cable], act)
        for name, held in self.cables[cable].get("conductors", {}).items():
            if act in LOOKING_IN:
                yield "conductor", cable, name
            for field in held:
                if ("conductor", _FACT.get(field, field)) in self.shows[act]:
                    yield "conductor", cable, name, field

    def _answers(self, atom: Atom) -> bool:
        """Whether the truth says anything there."""
        held: Any = True
        if atom[0] == "box":
            held = self.boxes[atom[1]][atom[2]]
        elif atom[0] in ("panel", "device", "joint", "cable") and len(atom) == 3:
            held = getattr(self, f"{atom[0]}{'es' if atom[0] == 'box' else 's'}")[atom[1]][atom[2]]
        return not (isinstance(held, dict) and "not_seen" in held)

    # -- the record

    def after(self, observations: Iterable[str]) -> frozenset[Atom]:
        """The atoms that are seen after these observations."""
        return self.start.union(*(self.universe[name] for name in observations))

    def open(self, name: str, seen: frozenset[Atom]) -> bool:
        """Whether an observation can be made and would show something new: of a cable only where one end is known."""
        atoms = self.universe.get(name)
        if atoms is None or not any(self._answers(atom) for atom in atoms - seen):
            return False
        if name.startswith(("legend |", "gauge |", "run |", "follow |")):
            cable = name.split(" | cable ")[1].removesuffix(" (from)").removesuffix(" (to)")
            return any(("where", cable, side) in seen for side in ("from", "to"))
        return True

    def record(self, seen: frozenset[Atom]) -> Record:
        """The record with what was seen, and nothing else."""
        record: Record = {
            name: self.truth[name]
            for name in ("asfound", "invented", "site", "visits", "seen_on", "supply")
            if name in self.truth
        }
        record["panels"] = {tag: self._panel(tag, held, seen) for tag, held in self.panels.items()}
        cables = {tag: self._cable(tag, held, seen) for tag, held in self.cables.items()}
        record["cables"] = {tag: held for tag, held in cables.items() if held is not None}
        record["boxes"] = {tag: self._kept("box", tag, held, seen) for tag, held in self.boxes.items()}
        record["joints"] = {
            tag: self._kept("joint", tag, held, seen) for tag, held in self.joints.items() if ("joint", tag) in seen
        }
        record["devices"] = {tag: self._device(tag, held, seen) for tag, held in self.devices.items()}
        return {name: held for name, held in record.items() if held != {}}

    def _kept(self, kind: str, tag: str, held: Record, seen: frozenset[Atom]) -> Record:
        return {
            name: value for name, value in held.items()
            if name not in _ASIDE and (name in _KEPT[kind] or (kind, tag, name) in seen)
        }  # fmt: skip

    def _panel(self, tag: str, held: Record, seen: frozenset[Atom]) -> Record:
        kept = self._kept("panel", tag, held, seen)
        kept["breakers"] = {
            space: self._kept("breaker", f"{tag} {space}", _long(breaker), seen)
            for space, breaker in held.get("breakers", {}).items()
        }
        return kept

    def _device(self, tag: str, held: Record, seen: frozenset[Atom]) -> Record:
        kept = self._kept("device", tag, held, seen)
        if ("wiring", tag) in seen:
            kept.update({name: held[name] for name in ("terminals", "wired_to") if name in held})
        return kept

    def _cable(self, tag: str, held: Record, seen: frozenset[Atom]) -> Record | None:
        kept = self._kept("cable", tag, held, seen)
        passes = {box: how for box, how in held.get("passes", {}).items() if ("passes", tag, box) in seen}
        known = bool(passes)
        for side in ("from", "to"):
            place, end = self.sides[tag, side], held.get(side)
            if place is None:
                if end is not None:
                    kept[side] = end
            elif ("end", tag, side) in seen:
                kept[side], known = end, True
            elif ("where", tag, side) in seen:
                kept[side], known = place[1], True
            else:
                kept[side] = "not traced"
        if passes:
            kept["passes"] = passes
        conductors = {
            name: {field: value for field, value in own.items() if ("conductor", tag, name, field) in seen}
            for name, own in held.get("conductors", {}).items()
            if ("conductor", tag, name) in seen
        }
        if conductors:
            kept["conductors"] = conductors
        return kept if known else None


def _long(breaker: Any) -> Record:
    return (
        breaker
        if isinstance(breaker, dict) and "not_seen" not in breaker and "is" not in breaker
        else {"amps": breaker}
    )


# -- searching for what is known to be there


@dataclass(frozen=True, slots=True)
class Target:
    """A finding to be found again: its rule, item and certainty, and its grade."""

    rule: str
    at: str
    certainty: str
    grade: str


@dataclass(slots=True)
class Search:
    """A record before anything was opened, and what has to be found in it, by name."""

    first: FirstSeen
    targets: dict[str, Target]

    def found(self, seen: frozenset[Atom]) -> set[str]:
        """The targets that are found when these atoms are seen, by running their rules and no others."""
        collected, tables = _collected()
        wanted = {target.rule for target in self.targets.values()}
        installation = trace(read_record(load_bytes(self.text(seen), "record.json")))
        results = judge(installation, [rule for rule in collected if rule.name in wanted], tables)
        told = {(one.rule.name, one.at, one.certainty) for one in results.findings}
        return {name for name, one in self.targets.items() if (one.rule, one.at, one.certainty) in told}

    def text(self, seen: frozenset[Atom]) -> bytes:
        """The record as JSON."""
        return json.dumps(self.first.record(seen)).encode()

    def survey(self, seen: frozenset[Atom]) -> Survey:
        """The record judged by all rules."""
        with tempfile.TemporaryDirectory() as folder:
            file = Path(folder) / "record.json"
            file.write_bytes(self.text(seen))
            return survey(file, AS_OF, collected=installed())


@functools.cache
def _collected() -> tuple[tuple[Rule, ...], TableSet]:
    collected = installed()
    return collected.rules, TableSet(collected.tables, AS_OF, Amendments([], AS_OF))


def demo_search(*, routes: bool) -> Search:
    """The demo with its planted defects, less those that hang on the log alone."""
    truth = json.loads(json.dumps(load_file(FIXTURES / "demo.yaml").root))
    planted = load_file(FIXTURES / "demo.planted.yaml").root["planted"]
    grades = {(one.rule.name, one.at): one.grade for one in survey(FIXTURES / "demo.yaml", AS_OF).results.findings}
    named = {
        f"{one['number']}": Target(one["rule"], one["at"], one["certainty"], grades[one["rule"], one["at"]])
        for one in planted
        if not one["at"].startswith(("claim ", "entry "))
    }
    return Search(FirstSeen(truth, routes=routes), named)


def house_search(seed: int, *, mixed: bool = False) -> Search:
    """A random house with its findings of the two gravest grades, possible ones left out.

    Its boxes stand in the file in the order in which the wiring was made, so that going through the file follows the
    wiring outward; `mixed` puts them in another order.
    """
    truth = shuffled(house(seed), seed) if mixed else house(seed)
    with tempfile.TemporaryDirectory() as folder:
        file = Path(folder) / "record.json"
        file.write_text(json.dumps(truth), encoding="utf-8")
        results = survey(file, AS_OF).results
    targets = {
        one.identity: Target(one.rule.name, one.at, one.certainty, one.grade)
        for one in results.findings
        if one.grade in ("hands off", "first") and one.certainty != "possible"
    }
    search = Search(FirstSeen(truth, routes=True), targets)
    whole = search.found(search.first.after(search.first.universe))
    at_once = search.found(search.first.start)
    search.targets = {name: one for name, one in targets.items() if name in whole - at_once}
    return search


def by_plan(search: Search, until: float = 1.0) -> dict[str, int]:
    """The number of the observation with which each target is found, the plan made anew after each."""
    seen = search.first.start
    found: dict[str, int] = {}
    count = 0
    while len(found) < until * len(search.targets):
        name = next_of_plan(search, seen)
        if name is None:
            break
        count += 1
        seen |= search.first.universe[name]
        found.update((one, count) for one in search.found(seen) - found.keys())
    return found


def next_of_plan(search: Search, seen: frozenset[Atom]) -> str | None:
    """The first step of the plan that the truth has an answer to; None when there is none."""
    judged = search.survey(seen)
    for most in (1, 10, None):
        for step in plan(judged, most).steps:
            if search.first.open(step.observation.name, seen):
                return step.observation.name
    return None


def rooms(search: Search, *, opening_only: bool = False) -> list[str]:
    """Every observation, room by room in the order of the file."""
    opening = (*LOOKING_IN, "panel face", "legs")
    return [name for name in search.first.universe if not opening_only or name.split(" | ")[0] in opening]


def states_in_order(search: Search, order: Iterable[str]) -> list[frozenset[Atom]]:
    """What is seen at first and after each observation of a fixed order.

    What cannot be made yet or would show nothing new is passed over, and taken up when it can.
    """
    waiting = list(order)
    states = [search.first.start]
    while True:
        name = next((name for name in waiting if search.first.open(name, states[-1])), None)
        if name is None:
            return states
        waiting.remove(name)
        states.append(states[-1] | search.first.universe[name])


def until_found(search: Search, order: Iterable[str], count: int) -> int:
    """The number of the observation with which so many targets are found, in a fixed order. Found by halving."""
    states = states_in_order(search, order)
    low, high = 0, len(states) - 1
    while high - low > 1:
        middle = (low + high) // 2
        low, high = (low, middle) if len(search.found(states[middle])) >= count else (middle, high)
    return high


def in_order(search: Search, order: Iterable[str]) -> dict[str, int]:
    """The number of the observation with which each target is found, in a fixed order.

    Found by halving: more observations never lose a finding that the whole record has.
    """
    states = states_in_order(search, order)
    known: dict[int, set[str]] = {}

    def found(index: int) -> set[str]:
        if index not in known:
            known[index] = search.found(states[index])
        return known[index]

    steps: dict[str, int] = {}
    for name in search.targets:
        low, high = 0, len(states) - 1
        if name not in found(high):
            continue
        while high - low > 1:
            middle = (low + high) // 2
            low, high = (low, middle) if name in found(middle) else (middle, high)
        steps[name] = high
    return steps
