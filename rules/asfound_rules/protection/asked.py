"""What was asked for, when: in words that keep the hazard, today's edition and the year of the work apart."""

from __future__ import annotations

from asfound.authoring import for_words

DWELLINGS = ("dwelling", "manufactured home", "outbuilding")
GROUND_FAULT = "ground-fault protection of receptacles"


def building(site):
    """`dwelling` or `other`, the first where the use of the building is not certain."""
    kind = for_words(site, "kind")
    return "dwelling" if kind is None or kind in DWELLINGS else "other"


def conductors_of(device):
    """Conductors on a device, or in its box where what lands on it is not recorded."""
    return list(device.conductors) or [conductor for box in device.box for conductor in box.conductors]


def year_of_work(conductors, site):
    """The year that is certain and how to say it: of the oldest wiring there, else of the building, else None.

    The oldest, because an outlet is as old as the first cable to it.
    """
    years = [for_words(conductor, "installed") for conductor in conductors]
    if years and all(years):
        return min(years), "wiring"
    built = for_words(site, "built")
    return (min([built, *filter(None, years)]), "building") if built else (None, "")


def asked(tables, table, key, work, where):
    """One sentence: whether the edition in force asks for it, since when, and whether it was asked for at the time.

    `key` is the row with the year of the first edition; a row of the same name with `in effect` gives a
    later year from which it counted. `work` comes from `year_of_work`.
    """
    if not tables.has(table, key):
        return f"NFPA 70, in the newest edition of these tables up to {tables.as_of}, does not have it {where}."
    first = tables.value(table, key)
    effect = tables.value(table, f"{key} in effect") if tables.has(table, f"{key} in effect") else first
    since = f"since the {first} edition" + (f", in effect from {effect}" if effect > first else "")
    return f"For new work NFPA 70 has it {where} ({since}); {_then(first, effect, *work)}."


def _then(first, effect, year, of):
    """What was asked for in the year of the work."""
    if year is None:
        return "the year of this wiring is not certain, so what was asked for then is open"
    work = f"this was wired in {year:g}" if of == "wiring" else f"this was built in {year:g}"
    if year < first:
        return f"it was not asked for when {work}"
    if year < effect:
        return f"lists differ on whether it was asked for when {work}"
    return f"that edition had been published when {work}"
