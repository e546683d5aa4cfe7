"""Visits, instruments, readings, the log, labels and photographs: who was there, what was measured and done."""

from __future__ import annotations

from datetime import date
from typing import Any

from asfound.load.values import Map, Seq, shown
from asfound.record.context import Context
from asfound.record.facts import Item, exact
from asfound.record.model import Entry, Visit
from asfound.record.references import point

_UNITS = {
    "V": ("volts", 1.0),
    "mV": ("volts", 1e-3),
    "ohm": ("ohms", 1.0),
    "kohm": ("ohms", 1e3),
    "Mohm": ("ohms", 1e6),
    "A": ("amps", 1.0),
    "mA": ("amps", 1e-3),
}
"""Unit as displayed: the fact it gives, and how many of the fact's own unit it is."""
_QUANTITIES = {name for name, _ in _UNITS.values()}
_MEASURES = {"voltage": "volts", "resistance": "ohms", "continuity": "ohms", "current": "amps"}
"""The quantity each kind of reading gives; the others give only a signal."""
_NO_CONTACT = "non-contact"
PUT_IN, TAKEN_OUT = "put in", "taken out"
"""Log entries that say what is new at the site and what is gone from it."""
CHANGES = ("cut", "capped", "moved", PUT_IN, TAKEN_OUT)
"""Log entries that change the wiring; all others look, test, switch, mark or tell."""


def take_visits(context: Context) -> None:
    """Take the visits and the instruments."""
    for tag, held in context.section("visits").items():
        _day(context, held, "on", f"visit {tag}")
        skipped = tuple((one["what"], one["why"]) for one in held.get("not_looked_at", ()))
        context.record.visits[tag] = Visit(
            tag, held["on"], held["by"], held.get("purpose", ""), held.get("scope", ""), skipped
        )
    seen_on = context.root.get("seen_on", "")
    if seen_on and seen_on not in context.record.visits:
        context.unknown(context.root.places["seen_on"], "seen_on", seen_on, context.record.visits)
    context.record.seen_on = seen_on
    for tag, held in context.section("instruments").items():
        _day(context, held, "last_check", f"instrument {tag}")
        context.record.instruments[tag] = held["type"]


def take_events(context: Context) -> None:
    """Take the readings, then the log and the labels, which refer to them and to everything else."""
    readings = context.listed("readings")
    tags: set[str] = set()
    for number, held in enumerate(readings, 1):
        where = f"reading {number}"
        reading = context.item("reading", held.get("tag", str(number)), where, readings.places[number - 1], held)
        if "tag" in held and reading.tag in tags:
            cause = f"the tag {shown(reading.tag)} already names another reading"
            context.problem(held.places["tag"], where, cause, "give one of the two another tag")
        tags.add(reading.tag)
        _day(context, held, "at", where)
        _reading(context, reading, held)
        context.record.readings.append(reading)
    log = context.listed("log")
    for number, held in enumerate(log, 1):
        _day(context, held, "at", f"log entry {number}")
        _entry(context, number, held, log.places[number - 1])
    labels = context.listed("labels")
    for number, held in enumerate(labels, 1):
        where = f"label {number}"
        _day(context, held, "at", where)
        context.item("label", str(number), where, labels.places[number - 1], held)
        point(context, held["on"], held.places["on"], where)
    photos = context.listed("photos")
    for number, held in enumerate(photos, 1):
        where = f"photograph {number}"
        _day(context, held, "at", where)
        context.item("photo", str(number), where, photos.places[number - 1], held)


def _reading(context: Context, reading: Item, held: Map) -> None:
    between: Seq = held["between"]
    reading.data["points"] = tuple(
        point(context, reference, place, reading.words)
        for place, reference in zip(between.places, between, strict=True)
    )
    reading.data["at"] = held.get("at", "")
    kind = held["kind"]
    reading.data["kind"] = exact(kind, place=held.places["kind"], written=kind)
    reading.data["known_source"] = exact(bool(held.get("known_source", False)), place=reading.place)
    instrument = held.get("instrument", "")
    if instrument and instrument not in context.record.instruments:
        context.unknown(held.places["instrument"], reading.words, instrument, context.names("instruments"))
    sort = context.record.instruments.get(instrument, "")
    reading.data["instrument"] = sort
    if kind in (_NO_CONTACT, "lamp tester"):
        reading.data["contact"] = exact(kind != _NO_CONTACT, place=held.places["kind"], written=kind)
    elif sort:
        contact = sort != f"{_NO_CONTACT} tester"
        reading.data["contact"] = exact(contact, place=held.places["instrument"], written=sort)
    if "value" in held:
        _value(context, reading, held)


def _value(context: Context, reading: Item, held: Map) -> None:
    """The value read, as the fact its unit belongs to."""
    fact = context.fact(held, "value", "value", reading, held.get("by", ""))
    taken = [_measured(str(text)) for text in fact.values]
    names = {name for name, _ in taken} or {"signal"}
    if len(names) > 1:
        cause = "the values it can be are of different kinds"
        context.problem(held.places["value"], reading.words, cause, "give one reading for each")
        return
    if names <= _QUANTITIES and names != {_MEASURES.get(held["kind"])}:
        cause = f"{shown(fact.written)} is not what a {held['kind']} reading gives"
        context.problem(held.places["value"], reading.words, cause, "correct the kind or the unit")
        return
    fact.values = tuple(value for _, value in taken)
    reading.data[names.pop()] = fact


def _measured(text: str) -> tuple[str, Any]:
    """The name of the fact and its value: `0.3 ohm` is ("ohms", 0.3), `OL` is ("signal", "OL")."""
    figure, _, unit = text.partition(" ")
    if unit not in _UNITS:
        return "signal", text
    name, factor = _UNITS[unit]
    return name, float(figure) * factor


def _entry(context: Context, number: int, held: Map, place: Any) -> None:
    record = context.record
    where = f"log entry {number}"
    what = held["what"]
    listed = zip(what.places, what, strict=True) if isinstance(what, Seq) else [(held.places["what"], what)]
    tags = []
    for spot, reference in listed:
        if held["did"] != TAKEN_OUT:  # what is gone need not be in the record any more
            point(context, reference, spot, where)
        tags.append(reference)
    readings: Any = held.get("readings", ())
    known = context.names("readings")
    for index, tag in enumerate(readings):
        if tag not in known:
            context.unknown(readings.places[index], where, tag, known)
    item = context.item("entry", str(number), where, place, held)
    visit = record.visit_of(item.visit)
    by = held.get("by") or (record.visits[item.visit].by if item.visit in record.visits else "")
    record.log.append(
        Entry(
            number, held.get("at", ""), held["did"], tuple(tags), held.get("to", ""), by, tuple(readings), place,
            visit.tag if visit else item.visit,
        )
    )  # fmt: skip


def _day(context: Context, held: Map, key: str, where: str) -> None:
    """Report a date that no calendar has."""
    text = str(held.get(key, ""))
    if len(text) < 10:  # absent, or a time alone
        return
    try:
        date.fromisoformat(text[:10])
    except ValueError:
        cause = f"there is no {text[:10]} in the calendar"
        context.problem(held.places[key], where, cause, "correct the date; it is written year-month-day")


__all__ = ["CHANGES", "PUT_IN", "TAKEN_OUT", "take_events", "take_visits"]
