"""Neutrals by what a meter shows."""

from __future__ import annotations

from asfound.authoring import only_if, rule


@rule(
    "voltage-to-neutral-too-high",
    of="reading",
    severity="catastrophic",
    likelihood="remote",
    caution="Warning: an open or loose neutral drives one side of the supply up until things burn, and can start a "
    "fire. Measure both sides at the panel; where they differ so, open the main and call the utility or a licensed "
    "electrician.",
    defer="Whether the fault is the utility's or the building's is for the utility, the adopted local code and a "
    "licensed electrician.",
    source="Circuit theory: the two sides of a split supply add up to the voltage between legs; ANSI C84.1 for the "
    "usual range",
    basis="from memory",
)
def voltage_to_neutral_too_high(reading, tables, site):
    """Voltage between live and neutral is above what a supply delivers.

    Exactly the highest usual voltage is not reported. The other side then reads
    as much too low. A supply that is too high as a whole shows the same on both
    sides and is for the utility.
    """
    only_if(reading.live_to_neutral)
    volts = reading.volts
    highest = tables.value("highest usual voltage to neutral", site.supply)
    if volts > highest:
        yield (
            f"{volts:g} V between live and neutral (reading {reading}), above the {highest:g} V that a supply "
            "delivers at most; an open or loose neutral shows so."
        )
