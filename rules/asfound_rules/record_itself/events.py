"""Log, instruments and readings: what is out of order, or against the rest of the record."""

from __future__ import annotations

import re
from datetime import date

from asfound.authoring import Defect, given, joined, names, only_if, plural, rule
from asfound_rules.observed import noted

CATEGORIES = ("I", "II", "III", "IV")
SHOWN = 6
DEFER = "A remark about the record, not about the wiring; the adopted local code and a licensed electrician decide."


@rule(
    "log-out-of-order",
    of="entry",
    severity="negligible",
    likelihood="occasional",
    caution="Notice: the order of the log decides what was off, tested and proven when. Put it right with the people "
    "who were there; until then nothing it proves counts.",
    defer=DEFER,
    source="Common practice, no source: a log is kept in order of time",
    basis="common practice",
)
def log_out_of_order(entry):
    """Log entry is earlier than one above it.

    A time alone is taken on the day of its visit. Work past midnight needs the
    date.
    """
    if entry.out_of_order:
        yield f"{entry.words.capitalize()} is earlier than an entry above it."


@rule(
    "logged-capped-and-not-capped",
    of="entry",
    severity="negligible",
    likelihood="occasional",
    caution="Notice: the log and the cables do not say the same of these ends. Treat them as live and uncapped until "
    "somebody has looked, then bring the record up to date.",
    defer=DEFER,
    source="The record compared with itself; common practice, no source",
    basis="common practice",
)
def logged_capped_and_not_capped(entry):
    """Log says that a conductor was capped, and neither of its ends is recorded so.

    The state as found may never have been brought up to date.
    """
    only_if(entry.did == "capped")
    only_if(entry.conductors)
    bare = [wire for wire in entry.conductors if all(end.state != "capped" for end in wire.ends)]
    if bare:
        yield f"{entry.words.capitalize()} says that {names(bare)} {_was(bare)} capped; no such end is in the record."


@rule(
    "instrument-rating-too-low",
    of="instrument",
    severity="catastrophic",
    likelihood="improbable",
    caution="Warning: an instrument beyond its rating can arc over in the hand and kill. Do not use it on this supply "
    "again; have what it measured repeated by a qualified person with one that is rated for it.",
    defer="A remark about the record and the instrument; the adopted local code and licensed practice decide what may "
    "be used where.",
    source="29 CFR 1910.334(c)(3), ratings of test equipment; IEC 61010-1 and 61010-2-030 for the categories",
    basis="from memory",
)
def instrument_rating_too_low(instrument, tables):
    """Reading was taken with an instrument whose rating does not reach.

    Compares volts, and the category with readings of voltage or current at the
    breakers, bars and lugs of panels. Category II is for what is plugged in, I
    for what is not joined to the supply. Readings in boxes are not compared.
    """
    rating = noted(instrument, "rating")
    rated = [float(volts) for volts in re.findall(r"([0-9]+) ?V\b", rating)]
    groups = [CATEGORIES.index(found) for found in re.findall(r"\bCAT\.? ?(IV|I{1,3})\b", rating)]
    only_if(rated or groups)
    if rated and instrument.used_on_v > max(rated):
        says = f"Instrument {instrument} is rated {rating}, and {instrument.used_on_v:g} V was read with it."
        yield Defect(says, cause="volts")
    needed = tables.value("least category of an instrument", "at a panel")
    taken = given(instrument, "used_at_panel", ())
    if taken and groups and max(groups) < CATEGORIES.index(needed):
        what = f"{plural(len(taken), 'reading')} at a panel {_was(taken)} taken with it ({joined(taken[:SHOWN])})"
        says = f"Instrument {instrument} is rated {rating}, and {what}; a panel asks for category {needed}."
        yield Defect(says, cause="category")


@rule(
    "instrument-check-out-of-date",
    of="instrument",
    severity="negligible",
    likelihood="occasional",
    caution="Notice: what this instrument showed counts only as far as it was proven on a known source before and "
    "after. Have it checked and repeat the readings that matter.",
    defer=DEFER,
    source="Yearly check of instruments: common practice, no source",
    basis="common practice",
)
def instrument_check_out_of_date(instrument, tables):
    """Instrument was used long after its last check.

    Exactly the time allowed is not a defect. Speaks only where the date of the
    check was noted.
    """
    checked = date.fromisoformat(noted(instrument, "last_check"))
    used = date.fromisoformat(noted(instrument, "last_used"))
    limit = tables.value("longest time between checks", "instrument")
    if (used - checked).days > limit:
        yield f"Instrument {instrument} was last checked on {checked} and used on {used}, more than {limit} days later."


@rule(
    "reading-against-splices",
    of="reading",
    severity="negligible",
    likelihood="occasional",
    caution="Notice: the reading and the recorded splices do not go together. Treat both points as live until somebody "
    "has looked at every joint between them.",
    defer=DEFER,
    source="Circuit theory: between two points of one conductor there is next to no voltage, and continuity",
    basis="common practice",
)
def reading_against_splices(reading, tables):
    """Reading says that two points are apart which the record joins.

    A joint opened for the test, or a broken one, shows the same. Speaks of
    points that are conductors or terminals.
    """
    nets = reading.nets
    only_if(len(nets) == 2 and nets[0].tag == nets[1].tag)
    limit = tables.value("voltage along one conductor", "more than a joint drops")
    volts = given(reading, "volts", 0)
    shown = given(reading, "signal", "closed")
    where = f"between two points that are recorded as joined ({reading.words}: {names(nets[:1])})"
    if volts > limit:
        yield f"{volts:g} V was read {where}."
    elif shown in ("open", "OL") and reading.kind in ("continuity", "resistance"):
        yield f"{shown} was read {where}."


def _was(things):
    return "was" if len(things) == 1 else "were"
