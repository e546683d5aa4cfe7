"""Feeds that a reading shows and the trace does not."""

from __future__ import annotations

from asfound.authoring import given, joined, names, only_if, rule


@rule(
    "live-with-its-breakers-off",
    of="reading",
    severity="catastrophic",
    likelihood="probable",
    caution="Danger: what feeds this is not what it was taken for, and it can kill whoever trusts the breakers named "
    "here. Leave it, open the main, prove it dead, and find out why before going on.",
    defer="Tracing an unknown feed is for a licensed electrician; the adopted local code decides the rest.",
    source="29 CFR 1910.333(b)(2)(iv)(B), backfeed; tracing by breaker positions is common practice",
    basis="seen in text",
)
def live_with_its_breakers_off(reading, tables):
    """Reading shows a conductor live while every breaker known to feed it is off.

    By the log: all of them, or what is ahead of them, off on the same visit.
    Either another breaker feeds it, or current comes back through a load or a
    shared neutral, or a breaker is not the one it was taken for, or an entry of
    the log is wrong: where the trace leaves no other feed, the fewest entries
    that cannot all be true are named. A meter of high impedance can show voltage
    that is only coupled; a low-impedance one settles that.
    """
    off = reading.off_then
    only_if(off)
    volts = reading.volts
    if volts >= tables.value("voltage taken as live", "least"):
        verb = "is" if len(off) == 1 else "are"
        said = f"{volts:g} V to ground or neutral (reading {reading}) while {names(off)} {verb} off"
        apart = given(reading, "against", ())
        against = f" These cannot all be true: {'; '.join(apart)}." if apart else ""
        yield (
            f"{said}: it is on another breaker than recorded, or has a second feed, or one of them does not open, or "
            f"another handle was thrown.{against}"
        )


@rule(
    "metal-read-live",
    of="reading",
    severity="catastrophic",
    likelihood="probable",
    caution="Danger: metal that anybody can touch was read live, and it can kill. Keep everyone off it and off what is "
    "plugged in there, open its breaker or the main, and leave it open until the metal is proven dead and mended.",
    defer="Finding and mending the cause is for a licensed electrician; the adopted local code decides the rest.",
    source="29 CFR 1910.333(a)(1), the 50 V line; NFPA 70 (NEC) 250.4(A)",
    basis="seen in text",
)
def metal_read_live(reading, tables):
    """Metal was read live, to earth or to a bar.

    Needs no cause: a wire nicked under a clamp, a screw against the box, a
    ground joined to a live conductor, another circuit. A meter of high
    impedance can show voltage that is only coupled; a low-impedance one settles
    that.
    """
    metal = reading.live_metal
    only_if(metal)
    volts = reading.volts
    if volts >= tables.value("voltage taken as live", "least"):
        yield f"{volts:g} V from {joined(metal)} (reading {reading})."


@rule(
    "fed-by-something-not-recorded",
    of="net",
    severity="catastrophic",
    likelihood="probable",
    caution="Danger: opening every breaker that is known here leaves this live, and it can kill. Keep everyone clear; "
    "open the main, prove it dead, and find what feeds it before going on.",
    defer="Tracing an unknown feed is for a licensed electrician; the adopted local code decides the rest.",
    source="29 CFR 1910.333(b)(2)(iv)(B), backfeed; tracing by breaker positions is common practice",
    basis="seen in text",
)
def fed_by_something_not_recorded(net):
    """Untraced conductor is live with every breaker off that can feed it.

    Of breakers that were seen on or switched in the log. Another panel, another
    supply, a shared neutral or a circuit recorded as traced to its end can be
    the feed.
    """
    only_if(net.untraced)
    if net.unknown_feed:
        yield f"{names(net.conductors)}: live with every breaker off that can feed it as recorded."


@rule(
    "entries-cannot-all-be-true",
    of="contradiction",
    severity="negligible",
    likelihood="occasional",
    caution="Notice: while these entries stand against each other, nothing that follows from them counts. Treat the "
    "conductors named as live, and repeat the test before anybody relies on a breaker.",
    defer="A remark about the record, not about the wiring; the adopted local code and a licensed electrician decide.",
    source="Source tracing by breaker positions and readings, common practice, no source",
    basis="common practice",
)
def entries_cannot_all_be_true(contradiction):
    """Entries of the record that cannot all be true.

    Names the fewest that were found. A conductor that is dead while its breaker
    is on has an open joint, a tripped breaker or another feed than was traced;
    one seen live and dead with nothing switched has a bad connection or a bad
    reading. What is live with its breakers off is a finding of its own.
    """
    only_if(contradiction.kind != "live while off")
    yield f"{contradiction.kind.capitalize()}: these cannot all be true: {'; '.join(contradiction.statements)}."
