"""Cables and ends that were left behind, capped, cut or forgotten."""

from __future__ import annotations

from asfound.authoring import for_words, given, names, only_if, rule
from asfound_rules.terms import LIVE


@rule(
    "live-end-capped-in-the-open",
    of="end",
    severity="catastrophic",
    likelihood="remote",
    caution="Warning: a cap outside a box is all that keeps this end from being touched; pulled, cut into or nailed "
    "through it can kill or start a fire. Switch it off, prove it dead, and end it in a box or take it off its feed.",
    defer="Whether a box is asked for at a capped end is read differently from place to place; the adopted local code "
    "and a licensed electrician decide.",
    source="29 CFR 1926.416(a)(3); NFPA 70 (NEC) 300.15, 110.14(B); a box at a live end is common practice",
    basis="from memory",
)
def live_end_capped_in_the_open(end):
    """Live conductor ends capped outside any box.

    The state in which a demolition finds and leaves many cables. Where nobody
    traced the conductor, its colour and terminals count as weak evidence and it
    is treated as live.
    """
    boxes = end.boxes
    only_if(boxes)
    only_if(all(box.kind == "no box" for box in boxes))
    if end.state != "capped":
        return
    conductor = end.conductor
    only_if(conductor.function in LIVE)
    feeds = for_words(conductor, "breakers")
    fed = f"fed by {names(feeds)}" if feeds else "no breaker is traced to it, so treat it as live"
    yield f"{end.words} ends under a cap outside any box; {fed}."


@rule(
    "cable-live-to-nowhere",
    of="cable",
    severity="negligible",
    likelihood="occasional",
    caution="Warning: this cable is live to its capped end, and opened it can kill. Mark both of its ends with its "
    "breaker; while nothing is to hang on it, it can be taken off its feed.",
    defer="Whether a cable without use may stay and how it is ended is for the adopted local code and a licensed "
    "electrician.",
    source="Common practice, no source; NFPA 70 (NEC) 408.4(A) for its entry in the directory",
    basis="common practice",
)
def cable_live_to_nowhere(cable):
    """Cable is live and feeds nothing: its live conductors end capped in a box.

    Kept for later use this is lawful and often wise. It is named so that the
    next person knows. A single spare conductor of a cable in use is not named.
    """
    places = cable.capped_at
    only_if(places)
    fed = cable.breakers
    only_if(fed)
    yield f"Cable {cable} is fed by {names(fed)} and ends capped in {names(places)}; nothing hangs on it there."


@rule(
    "cable-leads-nowhere",
    of="cable",
    severity="negligible",
    likelihood="occasional",
    caution="Warning: a cable without use is joined up again by the next person who finds it, and can then be live at "
    "an end nobody thinks of, which can kill. Mark both of its ends as cut off, or take it out.",
    defer="Whether wiring without use may stay is for the adopted local code and a licensed electrician.",
    source="Common practice, no source",
    basis="common practice",
)
def cable_leads_nowhere(cable):
    """Cable without use: every end is accounted for and none leads to a breaker or a bar.

    By the record, which is no proof that it is dead. Low-voltage wiring is left
    out.
    """
    wires = cable.conductors
    only_if(wires)
    only_if(not any(wire.net.untraced for wire in wires))
    does = {wire.function for wire in wires}
    only_if("isolated" in does and does <= {"isolated", "grounding"})
    if given(cable, "method", "") != "low voltage":
        yield f"Cable {cable} leads to no breaker at either end; it was left without use."


@rule(
    "work-without-proof",
    of="entry",
    severity="catastrophic",
    likelihood="remote",
    caution="Warning: what is cut or capped without proof can be live in the hand and can kill, and its ends may be "
    "live now. Treat them as live until each is proven dead.",
    defer="Who may test and how is for the adopted local code, licensed practice and, for employers, 29 CFR 1910.333, "
    "the lock or tag too; the instrument check at these voltages is standard practice (NFPA 70E 120.5), not that law.",
    source="29 CFR 1910.333(b)(1), (b)(2)(iv); 29 CFR 1926.416(a), 1926.417; NFPA 70E 120.5",
    basis="seen in text",
)
def work_without_proof(entry):
    """Something was cut or capped, and the log above it does not show that it was proven dead.

    Asks for the test itself, with whatever can feed it off and locked or
    tagged. A test counts until something is switched or the visit ends. This
    speaks of the log, not of the person: it may have been done and not written
    down, and the next log can show it.
    """
    only_if(entry.did in ("cut", "capped"))
    lacking = entry.missing
    if lacking:
        what = f" {names(entry.conductors)}" if entry.conductors else ""
        yield f"{entry.did.capitalize()}{what} ({entry.words}); the log above it does not show: {'; '.join(lacking)}."
