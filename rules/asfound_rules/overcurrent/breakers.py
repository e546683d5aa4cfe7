"""Breakers, fuses and buses by themselves."""

from __future__ import annotations

from asfound.authoring import given, names, only_if, plural, rule, size_words
from asfound_rules.overcurrent.ampacity import SMALL


@rule(
    "plain-plug-fuse",
    of="breaker",
    severity="negligible",
    likelihood="occasional",
    caution="Warning: a larger plug fuse fits the same socket and lets the wire overheat. Read the rating of every "
    "fuse before trusting it, and note any larger one lying near.",
    defer="Adapters that take one size only exist; the adopted local code and licensed practice decide where they are "
    "asked for.",
    source="NFPA 70 (NEC) 240.51(B), 240.53, 240.54",
    basis="from memory",
)
def plain_plug_fuse(breaker, tables):
    """Plug fuse sits in a socket that takes a larger fuse than its wire allows.

    Right when it was put in, and no overload by itself. The smallest conductor
    found on the circuit decides; a fuse that is too large now is found with
    that conductor.
    """
    only_if(breaker.kind == "plug fuse")
    socket = tables.value("plug fuse", "plain socket takes")
    only_if(breaker.circuits)
    thinnest = breaker.circuits[0].thinnest
    only_if(thinnest)
    wire = thinnest[0]
    only_if(wire.gauge in SMALL)
    limit = tables.value("largest breaker for a small conductor", wire.metal, wire.gauge)
    if limit < socket:
        yield (
            f"Plug fuse {breaker} sits in a plain socket, which takes any to {socket:g} A; {size_words(wire.gauge)} "
            f"{wire.metal} behind it ({wire}) allows {limit:g} A."
        )


@rule(
    "breaker-rating-not-standard",
    of="breaker",
    severity="negligible",
    likelihood="remote",
    caution="Notice: every check of this circuit rests on this figure. Read the handle again before relying on them.",
    defer="Other ratings exist for special uses; the adopted local code and licensed practice decide.",
    source="NFPA 70 (NEC) 240.6(A)",
    basis="seen in text",
)
def breaker_rating_not_standard(breaker, tables, site):
    """Breaker is recorded with a rating that is not a standard one.

    Most often a misread handle. Fuses are left out, since they come in more
    sizes, and so are supplies of 230 V with their own ratings.
    """
    only_if(breaker.kind == "breaker")
    listed = tables.value("standard ratings", "to 600 A") + tables.value("standard ratings", "over 600 A")
    if breaker.amps in listed:
        return
    only_if(site.supply != "230 single phase")
    yield f"Breaker {breaker} is recorded as {breaker.amps:g} A, which is no standard rating."


@rule(
    "too-many-wires-on-breaker",
    of="breaker",
    severity="critical",
    likelihood="remote",
    caution="Warning: a wire held loosely under a shared screw arcs and can start a fire in the panel. Do not pull at "
    "these wires; have them parted with the main off.",
    defer="The marking on the breaker decides; the adopted local code and a licensed electrician do the rest.",
    source="NFPA 70 (NEC) 110.14(A)",
    basis="from memory",
)
def too_many_wires_on_breaker(breaker):
    """More wires are under one breaker terminal than it is marked for.

    Some breakers are marked for two, so the marking is asked for before
    anything is said. One wire is never asked about.
    """
    held = breaker.most_on_one_pole
    only_if(len(held) > 1)
    if len(held) > breaker.wires_allowed:
        yield (
            f"{plural(len(held), 'wire')} ({names(held)}) are under one terminal of breaker {breaker}, which is marked "
            f"for {breaker.wires_allowed:g}."
        )


@rule(
    "bus-below-its-protection",
    of="panel",
    severity="critical",
    likelihood="remote",
    caution="Warning: the bus can be loaded beyond its rating and burn where breakers clip on. Add no load to this "
    "panel; smell of hot plastic: have it switched off at the source.",
    defer="The label inside the panel decides; the adopted local code and a licensed electrician do the rest.",
    source="NFPA 70 (NEC) 408.36 (408.16 before 2005)",
    basis="from memory",
)
def bus_below_its_protection(panel):
    """Panel bus is rated below the breaker that protects it.

    The smaller of its own main and of the breaker that feeds it counts. A panel
    with neither recorded is not judged.
    """
    ahead = [breaker.amps for breaker in panel.feeder]
    main = given(panel, "main_amps", 0)
    if main:
        ahead.append(main)
    only_if(ahead)
    if panel.bus_amps < min(ahead):
        yield (
            f"The bus of panel {panel} is rated {panel.bus_amps:g} A; the smallest breaker ahead of it is "
            f"{min(ahead):g} A."
        )
