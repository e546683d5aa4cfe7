"""Random faulted branch circuits, and ngspice as an outside opinion on what a meter shows in them.

A circuit is a list of parts, written out apart from `asfound.circuit`: `network` builds the project's own network
from it, `solve` asks ngspice. All circuits of a run go into one deck, each a component of its own that meets the
others at earth alone, so that the program starts once.
"""

from __future__ import annotations

import math
import random
import shutil
import subprocess
from collections.abc import Hashable, Iterable, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from asfound.circuit.conductors import farads_per_foot, ohms_per_foot
from asfound.circuit.network import EARTH, LEAK, Network

Node = Hashable
PROGRAM = shutil.which("ngspice")


@dataclass(frozen=True)
class Part:
    """A resistor (ohms), a capacitor (farads), or a source (volts behind ohms, `one` positive)."""

    kind: str
    one: Node
    two: Node
    value: float
    ohms: float = 0.0


Parts = list[Part]


def network(parts: Iterable[Part], hertz: float = 60.0) -> Network:
    """The project's network of these parts."""
    made = Network(hertz)
    for part in parts:
        if part.kind == "source":
            made.source(part.one, part.two, part.value, part.ohms)
        elif part.kind == "capacitor":
            made.capacitor(part.one, part.two, part.value)
        else:
            made.resistor(part.one, part.two, part.value)
    return made


# -- ngspice


def nodes(parts: Iterable[Part]) -> list[Node]:
    """Every node but earth, in order of appearance."""
    return list(dict.fromkeys(node for part in parts for node in (part.one, part.two) if node != EARTH))


def solve(circuits: Sequence[Parts], folder: Path, hertz: float = 60.0) -> list[dict[Node, complex]]:
    """Volts of every node of every circuit against earth, as one run of ngspice in batch mode gives them."""
    deck, raw = folder / "deck.cir", folder / "volts.raw"
    lines = ["faulted circuits", ".options noopac"]
    for number, parts in enumerate(circuits):
        lines += _cards(number, parts)
    lines += [
        ".control", "set filetype=ascii", "set numdgt=16", f"ac lin 1 {hertz} {hertz}", f"write {raw.name} all",
        "quit", ".endc", ".end",
    ]  # fmt: skip
    deck.write_text("\n".join(lines) + "\n", encoding="ascii")
    assert PROGRAM is not None
    done = subprocess.run([PROGRAM, "-n", "-b", deck.name], cwd=folder, capture_output=True, text=True, timeout=120)
    assert raw.exists(), f"ngspice gave nothing:\n{done.stdout[-2000:]}\n{done.stderr[-2000:]}"
    volts = _read(raw)
    return [
        {EARTH: 0j} | {node: volts[f"c{number}n{at}"] for at, node in enumerate(nodes(parts))}
        for number, parts in enumerate(circuits)
    ]


def _cards(number: int, parts: Parts) -> list[str]:
    """The lines of one circuit. Each node has the leak of the project's network; no resistance is a source of 0 V."""
    names: dict[Node, str] = {EARTH: "0"} | {node: f"c{number}n{at}" for at, node in enumerate(nodes(parts))}
    lines = [f"Rleak{name} {name} 0 {1 / LEAK!r}" for name in names.values() if name != "0"]
    for at, part in enumerate(parts):
        ends, own = f"{names[part.one]} {names[part.two]}", f"c{number}p{at}"
        if part.kind == "source":
            lines.append(f"V{own} {names[part.one]} {own}m AC {part.value!r}")
            lines.append(f"R{own} {own}m {names[part.two]} {part.ohms!r}")
        elif part.kind == "capacitor":
            lines.append(f"C{own} {ends} {part.value!r}")
        elif part.value == 0.0:
            lines.append(f"V{own} {ends} AC 0")
        else:
            lines.append(f"R{own} {ends} {part.value!r}")
    return lines


def _read(raw: Path) -> dict[str, complex]:
    """The one point of an ASCII raw file, by the name of the vector."""
    head, _, body = raw.read_text(encoding="ascii").partition("Values:\n")
    names = [line.split()[1] for line in head.partition("Variables:\n")[2].splitlines()]
    figures = body.split()[1:]  # the first is the number of the point
    pairs = (figure.split(",") for figure in figures)
    return {
        name.removeprefix("v(").rstrip(")"): complex(float(a), float(b))
        for name, (a, b) in zip(names, pairs, strict=True)
    }


# -- random circuits


class House:
    """A 120/240 V supply and its branch circuits, drawn at random from one seed.

    `parts` are as they should be. `service` and `runs` hold the indices of the parts that are conductors: those of
    the service, and those of each run of cable from box to box.
    """

    def __init__(self, seed: int) -> None:
        self.draw = random.Random(seed)
        self.parts: Parts = []
        self.runs: list[list[int]] = []
        self._supply()
        for number in range(self.draw.randint(2, 4)):
            self._branch(number, multiwire=self.draw.random() < 0.5)

    def resistor(self, one: Node, two: Node, ohms: float) -> int:
        self.parts.append(Part("resistor", one, two, ohms))
        return len(self.parts) - 1

    @property
    def wires(self) -> list[int]:
        """Every conductor that can be opened."""
        return [*self.service, *(wire for run in self.runs for wire in run)]

    def _supply(self) -> None:
        """Transformer with its neutral earthed, service conductors, panel with its neutral bonded and earthed."""
        inner, service = self.draw.uniform(0.005, 0.03), self.draw.uniform(0.002, 0.02)
        self.parts.append(Part("source", "T1", "TN", 120.0, inner))
        self.parts.append(Part("source", "TN", "T2", 120.0, inner))
        self.resistor("TN", EARTH, self.draw.uniform(1, 25))
        ways = (("T1", "L1"), ("T2", "L2"), ("TN", "N"))
        self.service = [self.resistor(far, near, service) for far, near in ways]
        self.resistor("N", "G", 0.001)
        self.resistor("G", EARTH, self.draw.uniform(5, 100))

    def _branch(self, number: int, multiwire: bool) -> None:
        """One circuit: breakers, runs of cable from box to box, something connected in each box, a spare conductor."""
        draw = self.draw
        legs = ["L1", "L2"] if multiwire else [draw.choice(["L1", "L2"])]
        hots = [f"h{at}" for at in range(len(legs))]
        colours = [*hots, "n", "g", *(["spare"] if draw.random() < 0.5 else [])]
        for hot, leg in zip(hots, legs, strict=True):
            if draw.random() < 0.85:  # else the breaker is off
                self.resistor(leg, (number, 0, hot), 0.003)
        self.resistor("N", (number, 0, "n"), 0.001)
        self.resistor("G", (number, 0, "g"), 0.001)
        size, metal = draw.choice(["14", "12", "10"]), draw.choice(["copper", "aluminium"])
        method = draw.choice(["NM-B", "EMT", "knob-and-tube"])
        for box in range(1, draw.randint(2, 4) + 1):
            feet = draw.uniform(5, 80)
            self.runs.append([])
            for at, colour in enumerate(colours):
                ohms = ohms_per_foot(size, metal, draw.uniform(10, 60)) * feet + draw.choice([0.0, 0.001, 0.01])
                if colour != "spare" or box > 1:
                    self.runs[-1].append(self.resistor((number, box - 1, colour), (number, box, colour), ohms))
                for other in colours[at + 1 :]:
                    farads = draw.uniform(*farads_per_foot(method)[::2]) * feet
                    self.parts.append(Part("capacitor", (number, box, colour), (number, box, other), farads))
            for hot in hots:
                if draw.random() < 0.6:
                    self.resistor((number, box, hot), (number, box, "n"), 120**2 / draw.choice([5, 60, 100, 500, 1500]))
            if multiwire and draw.random() < 0.3:
                self.resistor((number, box, "h0"), (number, box, "h1"), 240**2 / draw.choice([750, 4500]))


FAULTS = ("open", "joined", "swapped", "second feed", "high-resistance joint")


def faulted(seed: int) -> tuple[Parts, tuple[str, ...]]:
    """A random circuit with one or two random faults, and their names."""
    house = House(seed)
    draw, parts = house.draw, house.parts
    named = tuple(draw.choice(FAULTS) for _ in range(draw.randint(1, 2)))
    gone: set[int] = set()
    points = [node for node in nodes(parts) if isinstance(node, tuple)]
    for name in named:
        wire = draw.choice(sorted(set(house.wires) - gone))
        if name == "open":
            gone.add(wire)
        elif name == "high-resistance joint":
            parts[wire] = replace(parts[wire], value=parts[wire].value + 10 ** draw.uniform(0, 5))
        elif name == "joined":
            one, two = draw.sample(points, 2)
            parts.append(Part("resistor", one, two, draw.choice([0.0, 0.001, 0.01, 1.0, 300.0])))
        elif name == "second feed":
            leg, hot = draw.choice(["L1", "L2"]), draw.choice(points)
            parts.append(Part("resistor", leg, hot, 10 ** draw.uniform(-2, 0)))
        else:
            run = draw.choice([left for run in house.runs if len(left := sorted(set(run) - gone)) > 1])
            one, two = draw.sample(run, 2)  # these two end on each other's far ends
            parts[one], parts[two] = replace(parts[one], two=parts[two].two), replace(parts[two], two=parts[one].two)
    return [part for at, part in enumerate(parts) if at not in gone], named


def metered(parts: Parts, seed: int, meters: int) -> list[tuple[Node, Node, float]]:
    """Random pairs of points, each with the input resistance of the meter that is put between them."""
    draw = random.Random(-seed - 1)
    known = [*nodes(parts), EARTH]
    return [(*draw.sample(known, 2), draw.choice([1e7, 1e6, 2e5, 3e3])) for _ in range(meters)]


def with_meter(parts: Parts, one: Node, two: Node, ohms: float) -> Parts:
    return [*parts, Part("resistor", one, two, ohms)]


def close(got: complex, expected: complex, relative: float, volts: float) -> bool:
    """Whether two complex figures agree within a part of the expected one and so many volts besides."""
    return abs(got - expected) <= relative * abs(expected) + volts and math.isfinite(abs(got))
