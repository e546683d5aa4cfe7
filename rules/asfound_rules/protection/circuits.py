"""Circuits that the receptacles of a room are to have: their rating and their number."""

from __future__ import annotations

from asfound.authoring import Defect, given, names, only_if, plural, rule
from asfound_rules.protection.asked import DWELLINGS, conductors_of
from asfound_rules.terms import ORDINARY_RECEPTACLES

YEARS = "circuits for rooms of a dwelling"
RATING = "rating of circuits for rooms of a dwelling"
PLACES = ("bathroom", "laundry", "garage", "kitchen counter")
DEFER = (
    "Editions are taken up late or in part, and what older work may keep is for the adopted local code and a licensed "
    "electrician."
)


@rule(
    "room-circuit-too-small",
    of="site",
    severity="negligible",
    likelihood="occasional",
    caution="Notice: hair dryers, irons and kettles trip a small breaker often. One that trips often is never to be "
    "swapped for a larger one.",
    defer=DEFER,
    source="NFPA 70 (NEC) 210.11(C)",
    basis="seen in text",
)
def room_circuit_too_small(site, tables):
    """Receptacles of a bathroom, laundry or garage are on no circuit of the rating asked for, or a counter is on less.

    Only where the wiring is no older than the edition that first asked for it:
    in older houses a 15 A circuit there is as it was made. Judged by the
    receptacles that are recorded; one more may be on another circuit.
    """
    only_if(given(site, "kind", "dwelling") in DWELLINGS)
    places = {place: devices for place, devices in _by_place(site).items() if tables.has(YEARS, place)}
    only_if(places)
    for place, devices in places.items():
        only_if(all(device.breakers for device in devices))
        breakers = {breaker.tag: breaker for device in devices for breaker in device.breakers}
        amps = [breaker.amps for breaker in breakers.values()]
        least, first = tables.value(RATING, place), tables.value(YEARS, place)
        found = min(amps) if place == "kitchen counter" else max(amps)
        if found >= least:
            continue
        year = _oldest(devices)
        if year < first:
            continue
        verb = "is" if len(devices) == 1 else "are"
        on = f"{names(devices)} ({place}) {verb} on {names(breakers.values())}, {found:g} A"
        since = f"{least:g} A has been asked for since the {first} edition"
        yield Defect(f"{on}; {since}, which had been published when this was wired in {year:g}.", cause=place)


@rule(
    "counter-on-one-circuit",
    of="site",
    severity="negligible",
    likelihood="occasional",
    caution="Notice: two large kitchen appliances at a time trip the breaker of this counter. One that trips often is "
    "never to be swapped for a larger one.",
    defer=DEFER,
    source="NFPA 70 (NEC) 210.11(C)(1), 210.52(B)(3)",
    basis="seen in text",
    revision=2,
)
def counter_on_one_circuit(site, tables):
    """All kitchen counter receptacles that are recorded are on one circuit.

    A two-pole breaker of a multiwire circuit counts as two. Only where two or
    more are recorded and the wiring is no older than the edition that first
    asked for two circuits; a counter receptacle left out of the record can be
    on the second.
    """
    only_if(given(site, "kind", "dwelling") in DWELLINGS)
    place = "kitchen counter"
    counters = _by_place(site).get(place, [])
    only_if(len(counters) > 1 and tables.has(YEARS, place))
    only_if(all(device.breakers for device in counters))
    breakers = {breaker.tag: breaker for device in counters for breaker in device.breakers}
    needed = tables.value("number of circuits for kitchen counters", place)
    if sum(breaker.poles for breaker in breakers.values()) >= needed:
        return
    first, year = tables.value(YEARS, place), _oldest(counters)
    if year >= first:
        yield (
            f"All {plural(len(counters), 'counter receptacle')} recorded are on {names(breakers.values())}; {needed} "
            f"circuits have been asked for since the {first} edition, which had been published when this was wired in "
            f"{year:g}."
        )


def _by_place(site):
    """Small receptacles by the place whose circuit they belong to; those whose wiring is not recorded are left out."""
    found = {}
    for device in site.devices:
        place = given(device, "room", "")
        if place == "kitchen" and given(device, "serves", "") == "counter":
            place = "kitchen counter"
        if place not in PLACES or given(device, "kind", "") not in ORDINARY_RECEPTACLES:
            continue
        if conductors_of(device):
            found.setdefault(place, []).append(device)
    return found


def _oldest(devices):
    return min(conductor.installed for device in devices for conductor in conductors_of(device))
