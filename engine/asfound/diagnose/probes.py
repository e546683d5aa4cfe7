"""Diagnoses as items that rules can look at."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from asfound.diagnose.results import Diagnosis, Fit, said
from asfound.record.facts import LISTED, Fact, Item, exact, unseen

NOTHING = "negligible"
"""Severity of a condition that is no fault."""


def probes(diagnoses: Iterable[Diagnosis]) -> list[Item]:
    """One item of kind `probe` for each diagnosis; its facts are in data/facts.yaml."""
    return [_probe(one) for one in diagnoses]


def _probe(one: Diagnosis) -> Item:
    item = Item("probe", one.tag, f"readings at {one.place.words}", one.readings[0].place if one.readings else None)
    written = ", ".join(reading.tag for reading in one.readings)
    read: dict[str, Any] = {"written": written, "place": item.place}
    open_fits = [fit for fit in one.fits if not fit.against]
    item.data.update(
        at=one.place.words,
        readings=one.readings,
        fits=_condition(open_fits, one.place, read),
        open_conditions=exact(tuple(said(fit.name, one.place) for fit in open_fits), **read),
        recorded_as=exact(next((said(fit.name, one.place) for fit in one.fits if fit.as_recorded), "none"), **read),
        fits_record=exact(one.as_recorded, **read),
        explained=exact(bool(one.fits), **read),
        faults=exact(tuple(said(fit.name, one.place) for fit in open_fits if fit.severity != NOTHING), **read),
        lethal=exact(tuple(said(fit.name, one.place) for fit in open_fits if fit.lethal), **read),
        worst=exact(open_fits[0].severity, **read) if open_fits else unseen("no condition fits", **read),
        live_metal=exact(tuple(f"{one.words} ({one.volts:.0f} V)" for one in one.touch), **read),
        phantom=exact(one.phantom, **read),
        comparison=one.comparison,
        next_step=one.next_reading.words if one.next_reading is not None else "",
    )
    return item


def _condition(fits: Iterable[Fit], place: Item, read: dict[str, Any]) -> Fact:
    names = tuple(said(fit.name, place) for fit in fits)
    if not names:
        return unseen("no condition that is listed explains the readings", **read)
    note = "by working out the circuit under every condition"
    return exact(names[0], note=note, **read) if len(names) == 1 else Fact(LISTED, names, note=note, **read)
