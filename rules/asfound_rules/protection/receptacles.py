"""Receptacles near water, on earth and on concrete, without ground-fault protection.

Each sentence keeps three things apart: the hazard today, what the edition in
force on the date of the run asks, and what was asked for when it was built.
"""

from __future__ import annotations

from asfound.authoring import for_words, given, only_if, rule
from asfound_rules.protection.asked import GROUND_FAULT, asked, building, conductors_of, year_of_work
from asfound_rules.terms import ORDINARY_RECEPTACLES

SOURCE = "NFPA 70 (NEC) 210.8(A) and (B) and published summaries of their history; UL 943, Class A"
DEFER = (
    "Editions are taken up late or in part, and what older work may keep is for the adopted local code and a licensed "
    "electrician. A receptacle that is replaced in such a place gets the protection with it."
)
LARGE = ("range receptacle", "dryer receptacle")
ROOMS = ("bathroom", "outdoors", "garage", "crawl space", "basement", "laundry")
OF_ITS_OWN = ("one appliance", "inside a cabinet")


@rule(
    "bathroom-receptacle-unprotected",
    of="device",
    severity="catastrophic",
    likelihood="remote",
    caution="Warning: a wet hand or a hair dryer in the basin can mean a shock that kills before any ordinary breaker "
    "opens. Use nothing here with water running until it is protected.",
    defer=DEFER,
    source=SOURCE,
    basis="seen in text",
)
def bathroom_receptacle_unprotected(device, tables, site):
    """Bathroom receptacle has no ground-fault protection.

    The hazard is the same in a house of any age. This is also the rule that
    asks for the room of a receptacle when it is not recorded; the rules for
    other places then leave it alone.
    """
    only_if(device.kind in ORDINARY_RECEPTACLES)
    only_if(device.room == "bathroom")
    if not device.ground_fault_protected:
        yield _found(device, tables, site, "bathroom", "in a bathroom", "with water at hand")


@rule(
    "outdoor-receptacle-unprotected",
    of="device",
    severity="catastrophic",
    likelihood="remote",
    caution="Warning: a worn cord or tool on wet ground can mean a shock that kills before any ordinary breaker opens. "
    "Use it with a portable ground-fault device or not at all.",
    defer=DEFER,
    source=SOURCE,
    basis="seen in text",
)
def outdoor_receptacle_unprotected(device, tables, site):
    """Outdoor receptacle has no ground-fault protection.

    Published lists print 1971 or 1973 for the first edition, and both are
    given. From 1978 to 1996 only those within reach of the ground were meant.
    """
    only_if(device.kind in ORDINARY_RECEPTACLES)
    only_if("outdoors" in (given(device, "room", ""), given(device, "serves", "")))
    if not device.ground_fault_protected:
        yield _found(device, tables, site, "outdoors", "outdoors", "with someone standing on wet ground")


@rule(
    "garage-receptacle-unprotected",
    of="device",
    severity="catastrophic",
    likelihood="improbable",
    caution="Warning: a worn cord or tool on a damp floor can mean a shock that kills before any ordinary breaker "
    "opens.",
    defer=DEFER,
    source=SOURCE,
    basis="seen in text",
)
def garage_receptacle_unprotected(device, tables, site):
    """Garage receptacle has no ground-fault protection.

    One recorded as serving one appliance is left out: it was excepted until
    2008, and what stays plugged in is seldom held in the hand.
    """
    only_if(device.kind in ORDINARY_RECEPTACLES)
    only_if(given(device, "room", "") == "garage" and given(device, "serves", "general") not in OF_ITS_OWN)
    if not device.ground_fault_protected:
        yield _found(device, tables, site, "garage", "in a garage", "where the floor can be damp")


@rule(
    "crawl-space-receptacle-unprotected",
    of="device",
    severity="catastrophic",
    likelihood="remote",
    caution="Warning: whoever crawls here lies on earth, and a worn cord can mean a shock that kills before any "
    "ordinary breaker opens.",
    defer=DEFER,
    source=SOURCE,
    basis="seen in text",
)
def crawl_space_receptacle_unprotected(device, tables, site):
    """Crawl space receptacle has no ground-fault protection.

    At or below grade. One that serves a sump pump alone counts too.
    """
    only_if(device.kind in ORDINARY_RECEPTACLES)
    only_if(given(device, "room", "") == "crawl space")
    if not device.ground_fault_protected:
        yield _found(device, tables, site, "crawl space", "in a crawl space", "with someone lying on earth")


@rule(
    "basement-receptacle-unprotected",
    of="device",
    severity="catastrophic",
    likelihood="improbable",
    caution="Warning: a worn cord or tool on a damp floor can mean a shock that kills before any ordinary breaker "
    "opens.",
    defer=DEFER,
    source=SOURCE,
    basis="from memory",
)
def basement_receptacle_unprotected(device, tables, site):
    """Basement receptacle has no ground-fault protection.

    Speaks of unfinished basements, and asks when that is not recorded. From
    2020 finished parts count as well and are not told here. One recorded as
    serving one appliance, such as a freezer, is left out.
    """
    only_if(device.kind in ORDINARY_RECEPTACLES)
    only_if(given(device, "room", "") == "basement" and given(device, "serves", "general") not in OF_ITS_OWN)
    if not device.ground_fault_protected and device.unfinished:
        where = "in unfinished basements"
        yield _found(device, tables, site, "unfinished basement", where, "where the floor can be damp")


@rule(
    "kitchen-counter-receptacle-unprotected",
    of="device",
    severity="catastrophic",
    likelihood="remote",
    caution="Warning: an appliance or cord that falls into the sink can mean a shock that kills before any ordinary "
    "breaker opens. Keep cords away from the water until it is protected.",
    defer=DEFER,
    source=SOURCE,
    basis="seen in text",
)
def kitchen_counter_receptacle_unprotected(device, tables, site):
    """Kitchen counter receptacle has no ground-fault protection.

    Asked for near the sink first and at all counters later. What does not
    serve the counter is left out, though from 2023 all of a kitchen counts.
    """
    only_if(device.kind in ORDINARY_RECEPTACLES)
    only_if(given(device, "room", "") == "kitchen")
    only_if(given(device, "serves", "counter") == "counter")
    if device.ground_fault_protected:
        return
    only_if(device.serves == "counter")
    distance = for_words(device, "to_water")
    near = distance is not None and distance <= tables.value("reach of water", "largest distance")
    row = "kitchen counter near the sink" if near else "kitchen counter"
    where = f"at counters within {tables.value('reach of water', 'largest distance'):g} ft of the sink"
    yield _found(device, tables, site, row, where if near else "at kitchen counters", "with water and metal at hand")


@rule(
    "laundry-receptacle-unprotected",
    of="device",
    severity="catastrophic",
    likelihood="improbable",
    caution="Warning: a washing machine or iron with a fault, a wet floor and a metal tub beside it can mean a shock "
    "that kills before any ordinary breaker opens.",
    defer=DEFER,
    source=SOURCE,
    basis="seen in text",
)
def laundry_receptacle_unprotected(device, tables, site):
    """Laundry receptacle has no ground-fault protection.

    In a room of that kind, or serving the laundry in a room without a rule of
    its own.
    """
    only_if(device.kind in ORDINARY_RECEPTACLES)
    room = given(device, "room", "")
    only_if(room == "laundry" or (given(device, "serves", "") == "laundry" and room not in ROOMS))
    if not device.ground_fault_protected:
        yield _found(device, tables, site, "laundry", "in laundry areas", "beside water and grounded metal")


@rule(
    "receptacle-near-water-unprotected",
    of="device",
    severity="catastrophic",
    likelihood="remote",
    caution="Warning: an appliance or cord that falls into the water can mean a shock that kills before any ordinary "
    "breaker opens. Keep cords away from the water until it is protected.",
    defer=DEFER,
    source=SOURCE,
    basis="seen in text",
)
def receptacle_near_water_unprotected(device, tables, site):
    """Receptacle within a cord's reach of a sink or tub has no ground-fault protection.

    In rooms without a rule of their own, and at a kitchen receptacle that does
    not serve the counter. Exactly at the limit is within it. Some sinks were
    named earlier: wet bars in 1993, laundry and utility sinks in 2005.
    """
    only_if(device.kind in ORDINARY_RECEPTACLES)
    distance = given(device, "to_water", None)
    only_if(distance is not None and given(device, "room", "") not in ROOMS)
    only_if(given(device, "room", "") != "kitchen" or given(device, "serves", "counter") != "counter")
    limit = tables.value("reach of water", "largest distance")
    if distance <= limit and not device.ground_fault_protected:
        where = f"within {limit:g} ft of a sink"
        yield _found(device, tables, site, "sink", where, f"{distance:g} ft from a sink or tub")


@rule(
    "large-receptacle-unprotected",
    of="device",
    severity="catastrophic",
    likelihood="improbable",
    caution="Warning: the frame of a range or dryer with a fault and an open ground can give a shock that kills.",
    defer=DEFER,
    source="NFPA 70 (NEC) 210.8(A), 2020 and 2023",
    basis="seen in text",
)
def large_receptacle_unprotected(device, tables, site):
    """Range or dryer receptacle of recent wiring has no ground-fault protection.

    Only where the wiring is no older than the edition that first asked for it;
    on older wiring the grounded frame is what protects, and nothing is found.
    """
    only_if(device.kind in LARGE)
    room = given(device, "room", "")
    table, key = "ground-fault protection of large receptacles", f"{building(site)}/{room}"
    only_if(room and tables.has(table, key))
    wiring = conductors_of(device)
    only_if(wiring)
    first = tables.value(table, key)
    year = min(conductor.installed for conductor in wiring)
    if year < first:
        return
    if not device.ground_fault_protected:
        yield (
            f"{device.words} ({device.kind}, {room}, wiring of {year:g}) has no ground-fault protection. For new work "
            f"NFPA 70 has it here (since the {first} edition); that edition had been published when this was wired."
        )


def _found(device, tables, site, place, where, hazard):
    """The sentences of a finding: the hazard, then what is asked now and what was asked then."""
    work = year_of_work(conductors_of(device), site)
    key = f"{building(site)}/{place}"
    return f"{device.words} has no ground-fault protection, {hazard}. {asked(tables, GROUND_FAULT, key, work, where)}"
