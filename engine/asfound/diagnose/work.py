"""From a set of readings to its diagnosis: names, places, words, live metal, and what to read next."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from typing import Final

import numpy as np

from asfound.data import data
from asfound.diagnose.conditions import Condition, conditions, returning
from asfound.diagnose.fitting import Found, Way, fit
from asfound.diagnose.following import Group, next_reading
from asfound.diagnose.gather import Set, gather
from asfound.diagnose.part import Branch, TooLarge, part_around, roles_read, tied
from asfound.diagnose.results import Diagnosis, Fit, Touch
from asfound.diagnose.wiring import House
from asfound.record.colours import is_ground
from asfound.record.facts import Item
from asfound.trace import Installation
from asfound.wording import joined, plural, quoted_list

MOST_NODES: Final = 160
"""Nodes of a reduced part that are still solved; a larger one is left out and says so."""
MOST_TOUCHED: Final = 12
"""Ways of one condition whose live metal is worked out."""
NONE_FITS: Final = (
    "No condition that is listed explains all of these readings. Check them with an instrument tried on a known "
    "source; more than one thing can be wrong at once. Take everything here as live."
)


def diagnoses(installation: Installation) -> list[Diagnosis]:
    """One diagnosis for each place and moment that was read, in order of the readings."""
    house = House(installation.record)
    return [_diagnosis(house, one) for one in gather(installation, house)]


def _diagnosis(house: House, readings: Set) -> Diagnosis:
    items = tuple(reading.item for reading in readings.readings)
    if not any(not panel.data["feeder"] for panel in house.record.panels.values()):
        return _without(readings, items, "no panel that the supply feeds is recorded")
    try:
        part = part_around(house, readings)
    except TooLarge:
        return _without(readings, items, "too much hangs together here to be worked out")
    if part.count > MOST_NODES:
        return _without(readings, items, "too much hangs together here to be worked out")
    found = fit(part, readings)
    groups, fits = _fits(found)
    phantom = any(one.coupled for one in fits)
    notes = list(_notes(found, fits))
    return Diagnosis(
        readings.tag, _words(readings, fits), readings.place, items, fits, bool(found.recorded) or found.unfed,
        next_reading(found, groups), phantom, _comparison(readings, fits) if phantom else "",
        _touched(fits), tuple(notes), part.whole,
    )  # fmt: skip


def _without(readings: Set, items: tuple[Item, ...], why: str) -> Diagnosis:
    return Diagnosis(
        readings.tag, f"{readings.place.words}: {why}.", readings.place, items, (), False, None, False, "", (),
        (*readings.notes, f"Not worked out: {why}."), False,
    )  # fmt: skip


# -- fits


def _fits(found: Found) -> tuple[list[Group], tuple[Fit, ...]]:
    """What fits, gathered by name, worst first."""
    ways: dict[str, list[Way]] = {}
    named: dict[str, Condition] = {}
    for way in found.recorded:
        condition = _recorded_name(found, way)
        named.setdefault(condition.name, condition)
        ways.setdefault(condition.name, []).append(way)
    recorded = set(ways)
    for way in found.others:
        named.setdefault(way.instance.condition.name, way.instance.condition)
        ways.setdefault(way.instance.condition.name, []).append(way)
    severities = data("grades")["severities"]
    order = list(conditions())
    names = sorted(
        ways,
        key=lambda name: (
            severities.index(named[name].severity), not named[name].lethal,
            order.index(name) if name in order else len(order),
        ),
    )  # fmt: skip
    whole = found.part.whole and bool(recorded)
    fits = [_fit(found, named[name], ways[name], name in recorded, whole) for name in names]
    groups = [Group(name, named[name].severity, named[name].look, tuple(ways[name])) for name in names]
    return groups, tuple(fits)


def _recorded_name(found: Found, way: Way) -> Condition:
    """What the record itself is called: by what hangs on each terminal, or by the coupled voltage alone."""
    held = data("faults")
    if way.coupled and (found.name is None or found.name.name == "open hot"):
        return Condition(
            held["coupled"], held["coupled_severity"], False, held["coupled_means"], ("a conductor that hangs free",)
        )
    if found.name is not None and not (found.dark and found.name.name == "correct"):
        return found.name
    return Condition(
        held["otherwise"], held["otherwise_severity"], False, held["otherwise_means"], ("nothing unusual",)
    )


def _fit(found: Found, condition: Condition, ways: Sequence[Way], recorded: bool, whole: bool) -> Fit:
    tags = tuple(
        dict.fromkeys([*(_joining(found) if recorded else ()), *(t for way in ways for t in way.instance.tags)])
    )
    best = next((way for way in ways if not way.coupled), ways[0])
    alternative = _alternative(ways)
    sides = _sides(found, condition, ways)
    where = f" at {quoted_list(tags, 6)}" if tags else ""
    name = f"{condition.name[0].upper()}{condition.name[1:]}"
    words = f"{name}{where}{f', {alternative}' if alternative else ''}. {condition.means}"
    if recorded:
        words += " This is how the record has it."
    if sides:
        words += f" {_in_series(found, sides)}"
    if best.coupled:
        words += f" {plural(len(best.coupled), 'reading')} ({joined(best.coupled)}) would be coupled (phantom) voltage."
    return Fit(
        condition.name, words, condition.severity, condition.lethal, tags, alternative, best.shown, best.coupled,
        recorded, whole and not recorded, _touch(found, ways), sides,
    )  # fmt: skip


def _joining(found: Found) -> Iterator[str]:
    """Joints and terminals that hold a grounding conductor with others, where the record has the ground live."""
    part = found.part
    here = tied(part, part.roles["ground"]) if "ground" in part.roles else None
    if here is None or not here.legs:
        return
    record = part.house.record
    for tag, members in record.joint_members.items():
        held = {is_ground(member) for sort, member in members if sort == "conductor"}
        held |= {member[1] == "ground" for sort, member in members if sort == "terminal"}
        if held == {True, False} and part.number.get(("joint", tag)) in here.nodes:
            yield tag
    for (device, name), conductors in record.terminals.items():
        crossed = any(is_ground(conductor) != (name == "ground") for conductor in conductors)
        if crossed and part.number.get(("terminal", device, name)) in here.nodes:
            yield f"{device} {name}"


def _alternative(ways: Sequence[Way]) -> str:
    """What has to be switched on or off, where it matters."""
    by_instance: dict[int, list[Way]] = {}
    for way in ways:
        by_instance.setdefault(id(way.instance), []).append(way)
    if any(len({way.state.loaded for way in held}) > 1 for held in by_instance.values()):
        return ""
    first = ways[0]
    return first.state.words


def _sides(found: Found, condition: Condition, ways: Sequence[Way]) -> tuple[tuple[str, float], ...]:
    """Volts across each load in series on an open shared neutral, from the loads recorded."""
    if condition.name != "shared neutral open":
        return ()
    way = next((way for way in ways if way.state.loaded and way.state.known), None)
    branch = None if way is None else _cut(found, way)
    if way is None or branch is None:
        return ()
    closed = {element.tags[0] for _, _, element in found.part.poles if found.part.closed(element)}
    back = {pole: loads for pole, loads in returning(found.part, branch).items() if pole in closed}
    if len(back) < 2:
        return ()
    loads = [load for held in back.values() for load in held]
    solved = found.live.solve(way.state.versions[:1], way.instance.versions[:1], [load[:2] for load in loads])
    volts = np.abs(solved.open_volts[0, 0])
    return tuple(dict.fromkeys((load[2].device, float(value)) for load, value in zip(loads, volts, strict=True)))


def _cut(found: Found, way: Way) -> Branch | None:
    ends = {frozenset(stamp[:2]) for stamp in way.instance.wires[0] if stamp[2] < 0}
    return next((one for one in found.part.branches if frozenset((one.one, one.two)) in ends), None)


def _in_series(found: Found, sides: Iterable[tuple[str, float]]) -> str:
    named = {element.device: element for _, _, element in found.part.loads}
    volts = found.part.house.supply.volts
    said = [f"{tag} ({volts**2 / float(named[tag].ohms or 1.0):.0f} W) gets {value:.0f} V" for tag, value in sides]
    return f"With the recorded loads on, {joined(said)}."


# -- live metal


def _touch(found: Found, ways: Sequence[Way]) -> tuple[Touch, ...]:
    """Metal that stands at a dangerous voltage to earth with a person on it, in the worst of these ways."""
    labels = list(found.part.labels)
    limits = data("faults")["touch"]
    pairs = [(number, -1) for number in labels]
    if not pairs:
        return ()
    found_parts: dict[str, float] = {}
    for way in ways[:MOST_TOUCHED]:
        solved = found.live.solve(way.state.versions, way.instance.versions[:1], pairs)
        through = np.abs(solved.open_volts * limits["body_ohms"] / (limits["body_ohms"] + solved.ohms)).max(axis=(0, 1))
        for number, volts in zip(labels, through, strict=True):
            if volts >= limits["volts"]:
                for words in found.part.labels[number]:
                    found_parts[words] = max(float(volts), found_parts.get(words, 0.0))
    return tuple(Touch(words, volts) for words, volts in found_parts.items())


def _touched(fits: Sequence[Fit]) -> tuple[Touch, ...]:
    """Live metal under the record as written, else under the worst condition that makes any live."""
    open_fits = [one for one in fits if not one.against]
    return next((one.touch for one in sorted(open_fits, key=lambda one: not one.as_recorded) if one.touch), ())


# -- words


def _words(readings: Set, fits: Sequence[Fit]) -> str:
    said = [
        f"{one.item.tag} {_shown(one.item)} from {one.one.words} to {one.two.words}" for one in readings.readings
    ]  # fmt: skip
    many = (
        f"{plural(len(fits), 'condition')} {'fits' if len(fits) == 1 else 'fit'}"
        if fits
        else "nothing that is listed fits"
    )
    return f"{readings.place.words}: {'; '.join(said)}; {many}."


def _shown(reading: Item) -> str:
    fact = next((reading.data[name] for name in ("volts", "ohms", "signal") if name in reading.data), None)
    return fact.written if fact is not None else ""


def _comparison(readings: Set, fits: Sequence[Fit]) -> str:
    tags = dict.fromkeys(tag for one in fits for tag in one.coupled)
    pairs = [f"{one.one.words} to {one.two.words}" for one in readings.readings if one.item.tag in tags]
    return (
        f"Coupled (phantom) voltage is possible: read {joined(pairs)} again with a low-impedance meter. A coupled "
        "voltage falls to almost nothing, a real source stays. Until the instrument was tried on a known source before "
        "and after, neither proves anything dead."
    )


def _notes(found: Found, fits: Sequence[Fit]) -> Iterable[str]:
    yield from found.part.notes
    yield from found.readings.notes
    if not found.holds:
        yield "Wired as in the record, a breaker would have to trip; the record cannot be right while it holds."
    if found.dark and found.recorded:
        yield "Nothing here was fed, or only dead readings were taken: they say nothing of how it is wired."
    if not fits:
        yield NONE_FITS
    read = roles_read(found.part, found.readings)
    left = [role for role in ("hot", "neutral", "ground") if role in found.part.roles and role not in read]
    if left and found.readings.place.kind != "panel":
        yield f"No reading touches the {joined(left)} here, so nothing is said of it."
    if found.readings.place.kind != "panel" and not found.dark:
        yield "A loose or burnt joint shows only while current flows; read again under load to find one."
