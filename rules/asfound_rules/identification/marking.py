"""Tape and paint against what a conductor does, and conductors that nobody identified."""

from __future__ import annotations

from asfound.authoring import given, names, only_if, rule
from asfound_rules.terms import GREEN, LIVE, WHITE

NO_MARK = ("none", "clear", "unreadable")


@rule(
    "marking-contradicts-use",
    of="conductor",
    severity="catastrophic",
    likelihood="remote",
    caution="Warning: this marking tells the next person the opposite of what the conductor is, and believing it can "
    "kill. Before touching it, prove it dead: an instrument tried on a known source, every pair and each to ground, "
    "then the known source again. Then take the marking off or replace it.",
    defer="Which colours may be used for what, and how they may be marked over, is for the adopted local code and a "
    "licensed electrician.",
    source="NFPA 70 (NEC) 200.6, 200.7, 250.119",
    basis="seen in text",
)
def marking_contradicts_use(conductor):
    """Tape or paint on a conductor says what it is not.

    A live conductor of a live colour marked white, grey or green; a white one
    that works as a neutral and is marked in a live colour or green; a green or
    bare one that grounds and is marked as something else. A white conductor in
    live use has rules of its own, and so has one of the wrong colour by itself.
    Where nothing but its colour tells what a conductor does, nothing is said.
    """
    mark = given(conductor, "marked", "none")
    if mark in NO_MARK:
        return
    only_if(not given(conductor, "by_colour_only", False))
    uses, wrong = _wrong_marks(conductor.colour, mark)
    if not wrong:
        return
    does = conductor.function
    only_if(does in uses)
    yield f"{conductor} is marked {mark} and works as {'an' if does == 'ungrounded' else 'a'} {does} conductor."


def _wrong_marks(colour, mark):
    """The uses that go with a colour, and whether a mark would belie them."""
    if colour in GREEN:
        return ("grounding",), mark not in GREEN
    if colour in WHITE or colour.startswith("white/"):
        return ("grounded",), mark not in WHITE
    return LIVE, mark in (*WHITE, *GREEN)


@rule(
    "unidentified-among-live",
    of="box",
    severity="catastrophic",
    likelihood="remote",
    caution="Warning: these conductors are not known to be dead, and can kill. Treat them as live, cap them, mark "
    "them as not identified, and trace them before anything here is closed.",
    defer="Tracing on live wiring is for a licensed electrician; the adopted local code decides what becomes of "
    "wiring without use.",
    source="29 CFR 1926.416(a)(3): find out before work what can be live; 29 CFR 1910.333(b)(1)",
    basis="seen in text",
)
def unidentified_among_live(box):
    """Conductors that nobody identified share a box with live ones.

    Only conductors with an end noted as not traced, joined to nothing that is
    known. One that the record merely does not speak of is not named here.
    """
    lost = box.unidentified
    only_if(lost)
    live = box.known_breakers
    only_if(live)
    verb = "is" if len(lost) == 1 else "are"
    yield f"{names(lost)} in {box} {verb} not identified; conductors of {names(live)} are there too."
