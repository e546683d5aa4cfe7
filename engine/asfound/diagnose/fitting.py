"""Which conditions fit a set of readings: every one is solved in every state and held against every reading."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from asfound.circuit.instruments import Instrument
from asfound.data import data
from asfound.diagnose.conditions import EVERY, Condition, Instance, as_recorded, instances
from asfound.diagnose.gather import Set, Taken
from asfound.diagnose.part import Part, roles_read, tied
from asfound.diagnose.solve import Pair, Solved, Solver
from asfound.diagnose.states import State, house_states, states_of

RECORDED: Final = Condition("", "", False, "", ())
"""Stands for the record as written while it is tried."""


@dataclass(frozen=True, slots=True)
class Way:
    """One way in which the readings come out: a condition at one place in one state, and what each meter would show."""

    instance: Instance
    state: State
    shown: tuple[tuple[float, float], ...]
    coupled: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Shown:
    """What would be shown in one state, reading by reading; `holds` unless a breaker would trip."""

    state: State
    volts: tuple[tuple[float, float], ...]
    holds: bool


@dataclass(slots=True)
class Found:
    """What fits: the record as written by itself, then every condition; all solved on one part."""

    part: Part
    readings: Set
    live: Solver
    name: Condition | None  # the condition that the record itself is
    recorded: list[Way] = field(default_factory=list)
    holds: bool = True  # no breaker would trip under the record as written
    unfed: bool = False  # it explains them where what was only assumed to feed the place is left out
    others: list[Way] = field(default_factory=list)
    dark: bool = False  # nothing was on that could show anything else


def fit(part: Part, readings: Set) -> Found:
    """Everything that fits a set of readings."""
    live = Solver(part)
    tried = _Tried(part, readings, live)
    nodes = {part.number[point.node] for point in readings.points}
    read = roles_read(part, readings)
    named = as_recorded(part, read, nodes)
    found = Found(part, readings, live, named)
    record = Instance(RECORDED)
    states = states_of(part)
    found.recorded, found.holds = tried.ways([record], states)
    bare = _unfed(part)
    found.dark = _dark(part, readings)
    if found.recorded and found.dark:
        return found
    wanted = [
        one for one in instances(part, at_panel=readings.place.kind == "panel")
        if not (found.recorded and one.condition.hidden) and _about(one, read)
    ]  # fmt: skip
    local = [one for one in wanted if not one.service]
    ways, _ = tried.ways(local, states)
    if not found.recorded:
        more, _ = tried.ways([one for one in wanted if one.service], house_states(part))
        ways += more
        if bare is not None:
            found.unfed = bool(tried.ways([bare], states)[0])
    else:
        ways = [way for way in ways if _tells(way, found, tried, read)]
    found.others = ways
    return found


def would_show(part: Part, readings: Set, instance: Instance | None = None) -> list[Shown]:
    """What the record as written, or a condition in it, shows with nothing switched on and with everything on."""
    tried = _Tried(part, readings, Solver(part))
    states = states_of(part)[:2]
    _, _, results = tried.fits([instance or Instance(RECORDED)], states)
    return [
        Shown(state, _spans(results, number, 0), bool(results.held[number, 0])) for number, state in enumerate(states)
    ]


def _spans(results: _Results, state: int, number: int) -> tuple[tuple[float, float], ...]:
    pairs = zip(results.least[state, number], results.most[state, number], strict=True)
    return tuple((float(low), float(high)) for low, high in pairs)


def _tells(way: Way, found: Found, tried: _Tried, read: frozenset[str]) -> bool:
    """Whether the readings say anything of a condition although the record as written fits them.

    They do when every terminal it is about was read, or when it would show something else than the record. What
    only an even balance of loads of unknown size would hide is not asked for.
    """
    if way.instance.condition.name == "shared neutral open" and not way.state.known:
        return False
    if way.instance.roles <= read:
        return True
    slack = tried.slack()
    base = min(found.recorded, key=lambda one: one.state is not way.state)
    return any(
        one[0] > other[1] + slack or one[1] < other[0] - slack for one, other in zip(way.shown, base.shown, strict=True)
    )


def _unfed(part: Part) -> Instance | None:
    """The record with what was only assumed taken away; None when nothing was."""
    stamps = tuple(
        (branch.one, branch.two, -1.0 / branch.ohms) for branch in part.branches
        if any(tag.startswith("feed of ") for tag in branch.tags)
    )  # fmt: skip
    return Instance(RECORDED, (stamps,)) if stamps else None


def _about(instance: Instance, read: frozenset[str]) -> bool:
    """Whether a reading touches what a condition is about."""
    if instance.condition.apart:
        return all(part & read for part in instance.parts)
    return bool(instance.roles & read) or EVERY in instance.roles


def _dark(part: Part, readings: Set) -> bool:
    """Whether nothing at the place was fed, or only dead readings were taken: then nothing else can show."""
    if all(reading.ohms for reading in readings.readings):
        return True
    nodes = {*part.roles.values(), *(part.number[point.node] for point in readings.points)} - {-1}
    return not any(tied(part, node).legs for node in nodes)


class _Tried:
    """Tries instances in states against one set of readings."""

    def __init__(self, part: Part, readings: Set, live: Solver) -> None:
        self.part, self.readings, self.live = part, readings, live
        self.volts = [reading for reading in readings.readings if not reading.ohms]
        self.ohms = [reading for reading in readings.readings if reading.ohms]
        self.dead = Solver(part, live=False) if self.ohms else None
        self.limits = limits(part)

    def ways(self, tried: Sequence[Instance], states: Sequence[State]) -> tuple[list[Way], bool]:
        """Every instance in every state that fits; and whether any version of any of them holds on its breakers."""
        if not tried or not states:
            return [], True
        first = states[:2]
        fits, held, results = self.fits(tried, first)
        ways = self._made(tried, first, fits, results)
        left = [number for number in range(len(tried)) if not fits[:, number].any() and _moves(results, number)]
        if states[2:] and left:
            more = [tried[number] for number in left]
            fits, again, results = self.fits(more, states[2:])
            ways += self._made(more, states[2:], fits, results)
            held = held or again
        return ways, held

    def _made(
        self, tried: Sequence[Instance], states: Sequence[State], fits: NDArray[np.bool_], results: _Results
    ) -> list[Way]:
        found = []
        for number, instance in enumerate(tried):
            for at, state in enumerate(states):
                if fits[at, number] and (state.loaded or not instance.condition.loaded):
                    coupled = tuple(
                        reading.item.tag
                        for reading, floats in zip(self.readings.readings, results.floats[at, number], strict=True)
                        if floats and reading.least > 0.5 * self.slack()
                    )
                    found.append(Way(instance, state, _spans(results, at, number), coupled))
        return found

    def slack(self) -> float:
        return float(data("faults")["tolerance"]) * self.part.house.supply.volts

    def fits(self, tried: Sequence[Instance], states: Sequence[State]) -> tuple[NDArray[np.bool_], bool, _Results]:
        """By state and instance whether every reading is within what it would show; the supply is the same for all."""
        results = _join(self.readings.readings, self._volts(tried, states), self._ohms(tried, states))
        if not self.volts:  # read with the power off; no breaker has to hold
            results.held[:] = True
        slack = self.slack()
        low, high = self.readings.scale
        least = np.array([reading.least for reading in self.readings.readings])
        most = np.array([reading.most for reading in self.readings.readings])
        dead = np.array([reading.ohms for reading in self.readings.readings])
        with np.errstate(divide="ignore", invalid="ignore"):
            up = np.where(results.least > 0, (most + slack) / results.least, np.inf)
            down = np.where(results.most > 0, (least - slack) / results.most, np.where(least <= slack, -np.inf, np.inf))
        direct = (results.least <= most) & (results.most >= least)
        up, down = np.where(dead, np.where(direct, np.inf, -np.inf), up), np.where(dead, -np.inf, down)
        fits = np.maximum(down.max(axis=2), low) <= np.minimum(up.min(axis=2), high)
        return fits & results.held, bool(results.held.any()), results

    # -- what the meters would show

    def _volts(self, tried: Sequence[Instance], states: Sequence[State]) -> _Results:
        readings = self.volts
        pairs = [self.pair(reading) for reading in readings]
        versions = [version for one in tried for version in one.versions]
        solved = self.live.solve([version for state in states for version in state.versions], versions, pairs)
        least, most, floats = shown(self.part, solved, pairs, [reading.meter for reading in readings])
        held = self._held(solved, tried)
        return _folded(
            least, most, floats, held, [len(state.versions) for state in states], [len(one.wires) for one in tried]
        )

    def _ohms(self, tried: Sequence[Instance], states: Sequence[State]) -> _Results | None:
        if self.dead is None:
            return None
        pairs = [self.pair(reading) for reading in self.ohms]
        cold = states_of(self.part, dead=True)
        wanted = [next((one for one in cold if one.words == state.words), cold[0]) for state in states]
        versions = [version for one in tried for version in one.wires]
        solved = self.dead.solve([version for state in wanted for version in state.versions], versions, pairs)
        ohms = np.abs(solved.ohms)
        held = np.ones(ohms.shape[:2], dtype=bool)
        floats = np.zeros(ohms.shape, dtype=bool)
        return _folded(
            ohms, ohms, floats, held, [len(state.versions) for state in wanted], [len(one.wires) for one in tried]
        )

    def pair(self, reading: Taken) -> Pair:
        return self.part.number[reading.one.node], self.part.number[reading.two.node]

    def _held(self, solved: Solved, tried: Sequence[Instance]) -> NDArray[np.bool_]:
        """By state and version whether every breaker would hold."""
        return holding(self.part, solved, [one for one in tried for _ in one.wires], self.limits)


def holding(part: Part, solved: Solved, tried: Sequence[Instance], limits: Sequence[float]) -> NDArray[np.bool_]:
    """By state and version whether every closed breaker carries what it can hold."""
    volts = np.concatenate([solved.volts, np.zeros((*solved.volts.shape[:2], 1))], axis=2)
    held = np.ones(volts.shape[:2], dtype=bool)
    for position, ((bus, pole, element), limit) in enumerate(zip(part.poles, limits, strict=True)):
        if part.closed(element):
            amps = np.abs(volts[..., bus] - volts[..., pole]) / float(element.ohms or 1.0)
            through = np.array([position not in one.opened for one in tried])
            held &= (amps <= limit) | ~through
    usual = data("faults")["usual"]["breaker_amps"] * data("faults")["holds_times"]
    for number, one in enumerate(tried):
        for first, second, siemens in one.feeds:
            held[:, number] &= np.abs(volts[:, number, first] - volts[:, number, second]) * siemens <= usual
    return held


def limits(part: Part) -> list[float]:
    """By breaker pole the amperes at which it is taken to have opened."""
    figures = data("faults")
    found = []
    for _, _, element in part.poles:
        amps = element.item.data.get("amps") if element.item is not None else None
        rated = max(amps.values) if amps is not None and amps.values else figures["usual"]["breaker_amps"]
        found.append(float(rated) * figures["holds_times"])
    return found


@dataclass(frozen=True, slots=True)
class _Results:
    """By state, instance and reading the least and most that is shown, and whether it hangs free; whether it holds."""

    least: NDArray[np.float64]
    most: NDArray[np.float64]
    floats: NDArray[np.bool_]
    held: NDArray[np.bool_]


def shown(
    part: Part, solved: Solved, pairs: Sequence[Pair], meters: Sequence[Instrument]
) -> tuple[NDArray[np.float64], NDArray[np.float64], NDArray[np.bool_]]:
    """What each meter shows, least and most, by state, version and pair, and where it sees a point that hangs free.

    There it can show anything from nothing up to the highest voltage that couples.
    """
    figures = data("faults")
    least = np.zeros(solved.open_volts.shape)
    most = np.zeros(solved.open_volts.shape)
    floats = np.abs(solved.ohms) > figures["floating_ohms"]
    reactance = 1.0 / (2.0 * np.pi * 60.0 * figures["coupling_farads"])
    volts = np.concatenate([solved.volts, np.zeros((*solved.volts.shape[:2], 1))], axis=2)
    for number, ((one, two), meter) in enumerate(zip(pairs, meters, strict=True)):
        across, ohms = solved.open_volts[..., number], solved.ohms[..., number]
        every = np.array([np.abs(across * meter_ohms / (meter_ohms + ohms)) for meter_ohms in meter.ohms])
        couples = np.abs(across)
        for node, other in ((one, two), (two, one)):
            near = part.near[node] if node >= 0 else []
            if near:
                couples = np.maximum(couples, np.abs(volts[..., near] - volts[..., [other]]).max(axis=2))
        share = max(meter_ohms / np.hypot(meter_ohms, reactance) for meter_ohms in meter.ohms)
        hangs = floats[..., number]
        least[..., number] = np.where(hangs, 0.0, every.min(axis=0))
        most[..., number] = np.where(hangs, np.maximum(every.max(axis=0), couples * share), every.max(axis=0))
    return least, most, floats


def _folded(
    least: NDArray[np.float64], most: NDArray[np.float64], floats: NDArray[np.bool_], held: NDArray[np.bool_],
    states: Sequence[int], versions: Sequence[int],
) -> _Results:  # fmt: skip
    """Versions folded together: the least and the most over those that hold."""
    least = np.where(held[..., None], least, np.inf)
    most = np.where(held[..., None], most, -np.inf)
    floats = floats & held[..., None]

    def fold(values: Any, by: np.ufunc) -> Any:
        rows = by.reduceat(values, np.concatenate([[0], np.cumsum(states)[:-1]]), axis=0)
        return by.reduceat(rows, np.concatenate([[0], np.cumsum(versions)[:-1]]), axis=1)

    return _Results(
        fold(least, np.minimum), fold(most, np.maximum), fold(floats, np.logical_or), fold(held, np.logical_or)
    )


def _join(readings: Sequence[Taken], volts: _Results, ohms: _Results | None) -> _Results:
    """Results of live and dead readings in the order of the readings."""
    if ohms is None:
        return volts
    dead = np.array([reading.ohms for reading in readings])
    shape = (*volts.held.shape, len(readings))
    found = [np.zeros(shape), np.zeros(shape), np.zeros(shape, dtype=bool)]
    for place, part_live, part_dead in zip(
        found, (volts.least, volts.most, volts.floats), (ohms.least, ohms.most, ohms.floats), strict=True
    ):
        place[..., ~dead], place[..., dead] = part_live, part_dead
    return _Results(found[0], found[1], found[2], volts.held)


def _moves(results: _Results, number: int) -> bool:
    """Whether the state of the loads changes what an instance shows; if not, single loads need not be tried."""
    if results.least.shape[0] < 2:
        return False
    first, last = results.least[0, number], results.least[-1, number]
    same = np.allclose(first, last, atol=0.5) and np.allclose(
        results.most[0, number], results.most[-1, number], atol=0.5
    )
    return not same
