"""What a diagnosis says: conditions that fit a set of readings, what metal they make live, and what to read next."""

from __future__ import annotations

from dataclasses import dataclass

from asfound.data import data
from asfound.record.facts import Item


@dataclass(frozen=True, slots=True)
class Touch:
    """Metal that stands at so many volts to earth while one holds it."""

    words: str
    volts: float


@dataclass(frozen=True, slots=True)
class Fit:
    """One condition under which every reading of the set would come out as it did.

    where       tags of conductors, joints, cables, devices and breakers where it can be
    alternative what has to be so besides, such as a load that is switched on; empty when it need not be said
    shown       for each reading what the instrument would show, least and most
    coupled     tags of the readings that only a coupled (phantom) voltage explains
    as_recorded the record as written is this condition
    against     it is against a record that shows the wiring of the place in full and fits by itself
    sides       volts across loads in series on an open shared neutral, by tag of the load
    """

    name: str
    words: str
    severity: str
    lethal: bool
    where: tuple[str, ...]
    alternative: str
    shown: tuple[tuple[float, float], ...]
    coupled: tuple[str, ...] = ()
    as_recorded: bool = False
    against: bool = False
    touch: tuple[Touch, ...] = ()
    sides: tuple[tuple[str, float], ...] = ()


@dataclass(frozen=True, slots=True)
class Outcome:
    """What the next reading can show, and the conditions that are left then."""

    shows: str
    names: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class NextReading:
    """The reading or look that tells the conditions apart best; `points` is empty for a look."""

    words: str
    caution: str
    points: tuple[str, ...]
    outcomes: tuple[Outcome, ...]


@dataclass(frozen=True, slots=True)
class Diagnosis:
    """What the readings of one place and one moment can mean.

    fits        worst first; empty when nothing that is listed explains them
    as_recorded the record as written explains them
    phantom     a coupled (phantom) voltage is possible in one of them; `comparison` is what settles it
    touch       metal that is live under the record as written, else under the worst condition that makes any live
    notes       what was assumed, what was left out, and what the readings cannot tell
    whole       the record shows the wiring of the place in full
    """

    tag: str
    words: str
    place: Item
    readings: tuple[Item, ...]
    fits: tuple[Fit, ...]
    as_recorded: bool
    next_reading: NextReading | None
    phantom: bool
    comparison: str
    touch: tuple[Touch, ...]
    notes: tuple[str, ...]
    whole: bool


def said(name: str, place: Item) -> str:
    """A condition as it is called towards people: nothing is ever called correct, and metal of a box is no terminal."""
    faults = data("faults")
    at_box: dict[str, str] = faults["says_at_box"] if place.kind == "box" else {}
    return str(at_box.get(name) or faults["says"].get(name, name))
