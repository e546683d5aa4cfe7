"""Conductor ends that were left, and claims that something is dead."""

from __future__ import annotations

from asfound.authoring import for_words, given, names, only_if, rule

UNCAPPED = {"loose": "bare", "cut": "cut off, its face bare", "taped": "under tape only"}


@rule(
    "ungrounded-end-uncapped",
    of="end",
    severity="catastrophic",
    likelihood="probable",
    caution="Danger: this end can be live now or when someone switches a breaker on, and can kill. "
    "Keep everyone clear; treat it as live until it is proven dead, then cap it in a box.",
    defer="How an unused conductor is ended and whether it is taken out is for the adopted local code and a licensed "
    "electrician.",
    source="NFPA 70 (NEC) 110.14(B), free ends of conductors; 29 CFR 1926.416(a)(3)",
    basis="from memory",
)
def ungrounded_end_uncapped(end):
    """Ungrounded conductor ends without a cap.

    Where the trace does not decide what the conductor does, its colour and
    terminals count as weak evidence and it is treated as live. A breaker that
    is off changes nothing: it can be switched on. Service conductors are left
    out: their far end is the utility's and is not to be opened.
    """
    conductor = end.conductor
    only_if(conductor.function in ("ungrounded", "switched", "traveller"))
    only_if(not _service(conductor))
    if end.state not in UNCAPPED:
        return
    feeds = for_words(conductor, "breakers")
    fed = f"fed by {names(feeds)}" if feeds else "no breaker is traced to it, so treat it as live"
    yield f"{end.words} ends {UNCAPPED[end.state]}; {fed}."


def _service(conductor):
    """Whether it lands on the lugs of a panel that the supply feeds."""
    net = given(conductor, "net", None)
    on_lugs = net is not None and any(bar.startswith("lug") for bar in given(net, "bars", ()))
    return on_lugs and any(given(panel, "service", False) for panel in net.panels)


@rule(
    "called-dead-without-proof",
    of="claim",
    severity="catastrophic",
    likelihood="occasional",
    caution="Danger: what is called dead here may be live and can kill. Prove it: known live source, every pair, "
    "known live source again, with an instrument that touches the conductor.",
    defer="Who may test and how is for the adopted local code, licensed practice and, for employers, 29 CFR 1910.333; "
    "the instrument check at these voltages is standard practice (NFPA 70E 120.5), not that law.",
    source="29 CFR 1910.333(b)(2)(iv); NFPA 70E 120.5; DOE Electrical Safety Handbook",
    basis="seen in text",
)
def called_dead_without_proof(claim):
    """Something is called dead and the log does not show the proof.

    A breaker that is off, a dark lamp and a silent non-contact tester prove
    nothing. A later reading that shows it live, with nothing switched in between,
    is named. This speaks of the log, not of the person: the test may have been
    done and not written down.
    """
    missing = claim.missing
    then = given(claim, "live_after", ())
    showed = f" Reading{'s' if len(then) > 1 else ''} {names(then)} then showed it live." if then else ""
    if missing:
        yield f"Called dead ({claim.words}); the log does not show: {'; '.join(missing)}.{showed}"
    elif then:
        yield f"Called dead ({claim.words}).{showed}"
