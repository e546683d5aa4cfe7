"""The one reading or look that tells the conditions that fit apart best, the gravest from the others first."""

from __future__ import annotations

import itertools
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from asfound.circuit.instruments import instrument
from asfound.data import data
from asfound.diagnose.fitting import Found, Way, holding, limits, shown
from asfound.diagnose.gather import SLOTTED, Point
from asfound.diagnose.part import Branch
from asfound.diagnose.results import NextReading, Outcome
from asfound.diagnose.solve import Pair, Solver
from asfound.diagnose.states import State, states_of
from asfound.diagnose.wiring import Node

LOW: Final = "low-impedance meter"
MOST_WAYS: Final = 8
"""Ways of one condition that are worked out for the next reading."""
_WEIGHTS: Final = {"catastrophic": 27.0, "critical": 9.0, "marginal": 3.0, "negligible": 1.0}

OPENED = (
    "Only with the circuit off, locked and proven dead with an instrument tried on a known source before and after; "
    "for a qualified person."
)
BARE = "Bare live parts are touched with the probes: for a qualified person, with an instrument rated for the place."
SLOTS = (
    "Through the slots with the cover on, nothing opened; use a rated instrument, tried on a known source before and "
    "after. For a qualified person; take every part as live until then."
)
LOADED = (
    " A load that is switched on can make metal here live: nobody touches any meanwhile. Use a plain lamp and nothing "
    "that matters; it can get up to twice its voltage."
)


@dataclass(frozen=True, slots=True)
class Group:
    """Ways of one condition, the gravest groups first."""

    name: str
    severity: str
    look: tuple[str, ...]
    ways: tuple[Way, ...]


@dataclass(frozen=True, slots=True)
class _Option:
    words: str
    caution: str
    points: tuple[str, ...]
    cost: float
    outcomes: tuple[Outcome, ...]


def next_reading(found: Found, groups: Sequence[Group]) -> NextReading | None:
    """What to read or look at next; None where nothing is left to tell apart, or nothing listed tells it."""
    if len(groups) < 2:
        return None
    coupled = [option for option in _voltages(found, groups, _points(found), None) if _settles(found, groups, option)]
    best = _best(coupled, groups) or _best(_options(found, groups), groups)
    return None if best is None else NextReading(best.words, best.caution, best.points, best.outcomes)


def _settles(found: Found, groups: Sequence[Group], option: _Option) -> bool:
    """Whether an option reads again, with low impedance, what may have been a coupled voltage."""
    tags = {tag for group in groups for way in group.ways for tag in way.coupled}
    return any(
        one.item.tag in tags and {one.one.words, one.two.words} == set(option.points) for one in found.readings.readings
    )


def _best(options: Iterable[_Option], groups: Sequence[Group]) -> _Option | None:
    """The option that tells most apart, by the gravity of what it tells apart; None when it is nothing."""
    weight = {group.name: _WEIGHTS[group.severity] for group in groups}
    best: _Option | None = None
    score = 0.0
    for option in options:
        told = sum(
            max(weight[one], weight[two])
            for first, second in itertools.combinations(option.outcomes, 2)
            for one in first.names for two in second.names
        ) * (1.0 - option.cost)  # fmt: skip
        if told > score:
            best, score = option, told
    return best


def _options(found: Found, groups: Sequence[Group]) -> Iterator[_Option]:
    points = _points(found)
    yield from _voltages(found, groups, points, None)
    for state in states_of(found.part)[:2]:
        yield from _voltages(found, groups, points, state)
    if found.readings.place.kind != "panel":
        yield from _continuity(found, groups, points)
    place = found.readings.place
    yield _Option(f"Open {place.words} and look.", OPENED, (), 0.25, _looks(groups))


def _looks(groups: Sequence[Group]) -> tuple[Outcome, ...]:
    """Conditions by what can be seen; those that share a sight are not told apart."""
    clusters: list[tuple[dict[str, None], list[str]]] = []
    for group in groups:
        sights, names = dict.fromkeys(group.look), [group.name]
        for other in [one for one in clusters if one[0].keys() & sights.keys()]:
            clusters.remove(other)
            sights, names = other[0] | sights, other[1] + names
        clusters.append((sights, names))
    return tuple(Outcome(" or ".join(sights), tuple(names)) for sights, names in clusters)


# -- what can be read


@dataclass(frozen=True, slots=True)
class _Spot:
    words: str
    number: int
    bare: bool


def _points(found: Found) -> list[_Spot]:
    """The terminals of the place and an independent earth."""
    read = {point.node: point for point in found.readings.points}
    place = found.readings.place
    slots = place.kind == "device" and "receptacle" in str(next(iter(place.data["kind"].values), ""))
    spots = []
    from_node = {number: node for node, number in reversed(found.part.number.items())}
    for role, number in found.part.roles.items():
        node = next((one for one in read if found.part.number[one] == number), from_node[number])
        held = read.get(node) or _point(found, node, role)
        spots.append(_Spot(held.words, number, held.bare))
        if slots and role in SLOTTED:
            spots[-1] = _Spot(f"{place.tag} {role}", number, False)
    return [*spots, _Spot("an independent earth", -1, False)]


def _at_breakers(found: Found) -> Iterator[tuple[_Spot, _Spot]]:
    """The breaker poles on the way to the place against the neutral bar of their panel, and against each other."""
    held: dict[str, list[_Spot]] = {}
    for at in (at for role in ("hot", "hot_2") for at in found.part.paths.get(role, ())):
        if not isinstance(at, Branch):
            _, pole, element = found.part.poles[at]
            if element.item is not None:
                held.setdefault(element.one[1], []).append(_Spot(f"breaker {element.tags[0]}", pole, True))
    for panel, spots in held.items():
        bar = found.part.number.get(("bar", panel, "neutral bar"))
        if bar is not None:
            yield from ((spot, _Spot(f"the neutral bar of panel {panel}", bar, True)) for spot in spots)
        yield from itertools.combinations(spots, 2)


def _point(found: Found, node: Node, role: str) -> Point:
    """A point nobody read, in words."""
    words = {
        "terminal": lambda: f"{node[1]} {node[2]}", "joint": lambda: f"joint {node[1]}",
        "end": lambda: node[1], "box": lambda: f"the metal of {node[1]}",
        "pole": lambda: f"breaker {node[1]} {node[2]}",
        "bar": lambda: f"the {node[2]} of panel {node[1]}",
    }.get(node[0], lambda: f"the {role} conductor")()  # fmt: skip
    return Point(words, node, role, None, node[0] != "box")


def _voltages(found: Found, groups: Sequence[Group], spots: Sequence[_Spot], state: State | None) -> Iterator[_Option]:
    """Voltages with a low-impedance meter, as things are or with a load switched on."""
    meter = instrument(LOW)
    pairs = [*itertools.combinations(spots, 2), *_at_breakers(found)]
    pairs = [pair for pair in pairs if pair[0].number != pair[1].number]
    if state is None:
        done = {
            frozenset((found.part.number[one.one.node], found.part.number[one.two.node]))
            for one in found.readings.readings if not one.ohms and max(one.meter.ohms, default=0.0) <= max(meter.ohms)
        }  # fmt: skip
        pairs = [pair for pair in pairs if frozenset((pair[0].number, pair[1].number)) not in done]
    numbers = [(one.number, two.number) for one, two in pairs]
    if not pairs:
        return
    spans = {group.name: _spans(found, found.live, group, numbers, state) for group in groups}
    slack = 2.5 * data("faults")["tolerance"] * found.part.house.supply.volts
    for at, (one, two) in enumerate(pairs):
        told = {name: span[at] for name, span in spans.items() if span is not None}
        if len(told) < len(groups):
            continue
        outcomes = _clusters(told, lambda a, b: b[0] - a[1] > slack, _volts_words(found))
        bare = one.bare or two.bare
        loaded = "" if state is None else f", {state.words}"
        words = f"Voltage from {one.words} to {two.words} with a low-impedance meter{loaded}."
        cost = 0.1 * bare + (0.0 if state is None else 0.3 if state.loaded else 0.05)
        caution = (BARE if bare else SLOTS) + (LOADED if state is not None and state.loaded else "")
        yield _Option(words, caution, (one.words, two.words), cost, outcomes)


def _spans(
    found: Found, solver: Solver, group: Group, pairs: Sequence[Pair], state: State | None
) -> list[tuple[float, float]] | None:
    """For each pair the least and most that a low-impedance meter would show under a condition; None if none holds."""
    meter = instrument(LOW)
    spans: list[tuple[float, float]] | None = None
    for way in group.ways[:MOST_WAYS]:
        at = way.state if state is None else state
        versions = way.instance.versions
        solved = solver.solve(at.versions, versions, pairs)
        held = holding(found.part, solved, [way.instance] * len(versions), limits(found.part))
        if not held.any():
            continue
        least, most, _ = shown(found.part, solved, pairs, [meter] * len(pairs))
        lows = np.where(held[..., None], least, np.inf).min(axis=(0, 1))
        highs = np.where(held[..., None], most, -np.inf).max(axis=(0, 1))
        here = list(zip(lows.tolist(), highs.tolist(), strict=True))
        spans = here if spans is None else [
            (min(one[0], two[0]), max(one[1], two[1])) for one, two in zip(spans, here, strict=True)
        ]  # fmt: skip
    return spans


def _continuity(found: Found, groups: Sequence[Group], spots: Sequence[_Spot]) -> Iterator[_Option]:
    """Grounding continuity to the panel with the power proven off."""
    if "ground" not in found.part.roles:
        return
    panel = next((tag for tag, held in found.part.house.record.panels.items() if not held.data["feeder"]), None)
    bar = found.part.number.get(("bar", str(panel), "ground bar"))
    ground = found.part.roles["ground"]
    if bar is None or bar == ground:
        return
    dead = Solver(found.part, live=False)
    rest = states_of(found.part, dead=True)[0]
    told = {}
    for group in groups:
        ohms = [
            abs(complex(one))
            for way in group.ways[:MOST_WAYS]
            for one in dead.solve(rest.versions, way.instance.wires, [(ground, bar)]).ohms.ravel()
        ]
        told[group.name] = min(ohms), max(ohms)
    limit = data("faults")["ohms"]["open_from"]

    def words(span: tuple[float, float]) -> str:
        return (
            "open" if span[0] > limit else f"{span[1]:.1f} ohm and the leads" if span[1] < limit else "closed or open"
        )

    outcomes = _clusters(told, lambda a, b: b[0] > limit > a[1], words)
    name = next(spot.words for spot in spots if spot.number == ground)
    said = f"Continuity from {name} to the ground bar of panel {panel}, the power off and proven dead."
    yield _Option(said, OPENED, (name, f"{panel} ground bar"), 0.15, outcomes)


Span = tuple[float, float]


def _clusters(
    told: dict[str, Span], apart: Callable[[Span, Span], bool], words: Callable[[Span], str]
) -> tuple[Outcome, ...]:
    """Conditions grouped by what they would show: two are told apart when there is room between them."""
    groups: list[tuple[Span, list[str]]] = []
    for name, span in sorted(told.items(), key=lambda item: item[1]):
        if groups and not apart(groups[-1][0], span):
            low, high = groups[-1][0]
            groups[-1] = (low, max(high, span[1])), [*groups[-1][1], name]
        else:
            groups.append((span, [name]))
    order = list(told)
    return tuple(Outcome(words(span), tuple(sorted(names, key=order.index))) for span, names in groups)


def _volts_words(found: Found) -> Callable[[Span], str]:
    supply = found.part.house.supply
    slack = data("faults")["tolerance"] * supply.volts

    def words(span: Span) -> str:
        low, high = span
        for volts in (0.0, supply.volts, supply.across):
            if volts - slack <= low and high <= volts + slack:
                return f"about {volts:.0f} V" if volts else "near 0 V"
        return f"about {low:.0f} V" if high - low < slack else f"from {low:.0f} to {high:.0f} V"

    return words
