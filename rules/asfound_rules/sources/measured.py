"""Feeds that a reading shows and the trace does not."""

from __future__ import annotations

from asfound.authoring import names, only_if, rule


@rule(
    "live-with-its-breakers-off",
    of="reading",
    severity="catastrophic",
    likelihood="probable",
    caution="Danger: something that nobody has found feeds this, and it can kill whoever trusts the breakers named "
    "here. Leave it, open the main, prove it dead, and find the other feed before going on.",
    defer="Tracing an unknown feed is for a licensed electrician; the adopted local code decides the rest.",
    source="29 CFR 1910.333(b)(2)(iv)(B), backfeed; tracing by breaker positions is common practice",
    basis="seen in text",
)
def live_with_its_breakers_off(reading, tables):
    """Reading shows a conductor live while every breaker known to feed it is off.

    By the log: all of them switched off before, on the same visit, and none on
    again. Either another breaker feeds it, or current comes back through a
    load or a shared neutral, or the log is wrong. A meter of high impedance can
    show voltage that is only coupled; a low-impedance one settles that.
    """
    off = reading.off_then
    only_if(off)
    volts = reading.volts
    if volts >= tables.value("voltage taken as live", "least"):
        verb = "is" if len(off) == 1 else "are"
        said = f"{volts:g} V to ground or neutral (reading {reading}) while {names(off)} {verb} off"
        yield f"{said}; another feed is there."
