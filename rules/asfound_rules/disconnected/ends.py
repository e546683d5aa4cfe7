"""Conductor ends that were left, and claims that something is dead."""

from __future__ import annotations

from asfound.authoring import for_words, names, only_if, rule


@rule(
    "ungrounded-end-uncapped",
    of="end",
    severity="catastrophic",
    likelihood="probable",
    caution="Danger: this bare end can be live now or when someone switches a breaker on, and can kill. "
    "Keep everyone clear; treat it as live until it is proven dead, then cap it in a box.",
    defer="How an unused conductor is ended and whether it is taken out is for the adopted local code and a licensed electrician.",
    source="NFPA 70 (NEC) 110.14(B), free ends of conductors; 29 CFR 1926.416(a)(3)",
    basis="from memory",
)
def ungrounded_end_uncapped(end):
    """Ungrounded conductor ends bare and uncapped.

    Where the trace does not decide what the conductor does, its colour and
    terminals count as weak evidence and it is treated as live.
    """
    conductor = end.conductor
    only_if(conductor.function in ("ungrounded", "switched", "traveller"))
    if end.state not in ("loose", "taped"):
        return
    feeds = for_words(conductor, "breakers")
    fed = f"fed by {names(feeds)}" if feeds else "its breaker is not traced, so treat it as live"
    how = "with tape only" if end.state == "taped" else "bare"
    yield f"{end.words} ends {how}; {fed}."


@rule(
    "called-dead-without-proof",
    of="claim",
    severity="catastrophic",
    likelihood="occasional",
    caution="Danger: what is called dead here may be live and can kill. Prove it: known live source, every pair, "
    "known live source again, with an instrument that touches the conductor.",
    defer="Who may test and how is for licensed practice and, for employers, 29 CFR 1910.333; the instrument check at these "
    "voltages is standard practice (NFPA 70E 120.5), not that law.",
    source="29 CFR 1910.333(b)(2)(iv); NFPA 70E 120.5; DOE Electrical Safety Handbook",
    basis="seen in text",
)
def called_dead_without_proof(claim):
    """Something is called dead and the log does not show the proof.

    A breaker that is off, a dark lamp and a silent non-contact tester prove
    nothing. This speaks of the log, not of the person: the test may have been
    done and not written down.
    """
    missing = claim.missing
    if missing:
        yield f"{claim.words} is called dead; the log does not show: {'; '.join(missing)}."
