"""More than one circuit at one place, and feeds that come by a way nobody expects."""

from __future__ import annotations

from asfound.authoring import names, only_if, rule
from asfound_rules.terms import LIVE

NEUTRALS = ("neutral", "load_neutral")


@rule(
    "live-through-load",
    of="net",
    severity="catastrophic",
    likelihood="remote",
    caution="Warning: nothing feeds this directly, and through the load named here it can stand at line voltage and "
    "kill. Open every breaker named, prove each conductor dead to ground, and not only between the two.",
    defer="Why one side of the load is open, and how it is put right, is for a licensed electrician and the adopted "
    "local code.",
    source="Circuit theory: a load with one side open passes the voltage on; 29 CFR 1910.333(b)(2)(iv)(B), backfeed",
    basis="from memory",
)
def live_through_load(net):
    """Conductor without a feed of its own is live through a load.

    As at a water heater with one side off its breaker: between the two sides a
    meter shows nothing, and both are live to ground. A neutral that is open has
    a rule of its own.
    """
    loads = net.live_through
    only_if(loads)
    only_if(not any(terminal.name in NEUTRALS for terminal in net.terminals))
    wires = net.conductors
    only_if(wires)
    verb = "leads" if len(wires) == 1 else "lead"
    live = "is" if len(wires) == 1 else "are"
    yield (
        f"{names(wires)} {verb} to no breaker and no bar, and {live} live through {names(loads)} from "
        f"{names(net.fed_by)}."
    )


@rule(
    "two-circuits-on-one-yoke",
    of="device",
    severity="catastrophic",
    likelihood="remote",
    caution="Warning: with one breaker off half of this device is still live, and whoever takes it out can be killed. "
    "Open both breakers and prove every terminal dead.",
    defer="Since when breakers of one device have to open together depends on the edition; the adopted local code and "
    "a licensed electrician decide.",
    source="NFPA 70 (NEC) 210.7 (210.7(C) in 2002; in 1999 only multiwire circuits in dwellings), 210.4(B)",
    basis="seen in text",
)
def two_circuits_on_one_yoke(device):
    """Two circuits feed one receptacle, and their breakers do not open together.

    The tab between its halves is broken off and each half has a breaker of its
    own. The trap was the same before the rule came.
    """
    only_if(device.yoke)
    by_name = {terminal.name: terminal for terminal in device.terminals}
    only_if({"hot", "hot_2"} <= by_name.keys())
    one, two = by_name["hot"], by_name["hot_2"]
    only_if(one.net.tag != two.net.tag)
    only_if(one.connection in LIVE and two.connection in LIVE)
    first, second = ({str(breaker): breaker for breaker in side.breakers} for side in (one, two))
    only_if(first and second)
    tied = {str(other) for breaker in first.values() for other in breaker.tied_with}
    if not (first.keys() | tied) & second.keys():
        yield f"One half of {device} is on {names(first)}, the other on {names(second)}; they do not open together."


@rule(
    "circuits-share-a-box",
    of="box",
    severity="negligible",
    likelihood="occasional",
    caution="Warning: with one of these breakers off, something in this box is still live and can kill. Open all of "
    "them before the box is opened, and prove every conductor dead.",
    defer="Several circuits in one box are lawful; the adopted local code and a licensed electrician decide what else "
    "is asked of it.",
    source="29 CFR 1910.333(b)(2); common practice",
    basis="common practice",
)
def circuits_share_a_box(box):
    """Conductors of several circuits are in one box.

    Named so that every breaker is opened. Breakers that open together count as
    one. Conductors that nobody traced may add more.
    """
    found = box.known_breakers
    only_if(len(found) > 1)
    first = {str(found[0]), *map(str, found[0].tied_with)}
    if {str(breaker) for breaker in found} - first:
        yield f"Conductors of {names(found)} are in {box.words}; they do not all open together."
