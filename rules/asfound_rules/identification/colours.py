"""Insulation colour against what the conductor does."""

from __future__ import annotations

from asfound.authoring import area_mm2, for_words, given, only_if, rule, size_words
from asfound_rules.terms import A_HAIR, GREEN, LIVE, WHITE

NO_MARK = ("none", "clear", *WHITE, *GREEN)


@rule(
    "white-used-as-ungrounded",
    of="conductor",
    severity="catastrophic",
    likelihood="remote",
    caution="Warning: this white conductor can be live and can kill whoever takes it for a neutral. "
    "Before touching it, prove it dead: an instrument tried on a known source, every pair and each to ground, then the "
    "known source again.",
    defer="When and how re-marking is asked for depends on the local code and its edition; a licensed electrician "
    "decides.",
    source="NFPA 70 (NEC) 200.7(C)(1); 24 CFR 3280.815(a)(2)",
    basis="seen in text",
)
def white_used_as_ungrounded(conductor, tables):
    """White or grey conductor is used as ungrounded, unmarked or where marking does not help.

    In cable, a re-marked white may be the supply of a switch or a traveller,
    never the return from it. A supply or traveller known to be older than the
    rule on re-marking has a remark of its own. Marking it green, or white again, is no
    re-marking. The year only changes what was asked when it was put in; the
    trap for the next person is the same. Raceway wiring, where a white may not
    be re-marked at all, is not told apart.
    """
    only_if(conductor.colour in WHITE)
    only_if(not given(conductor, "by_colour_only", False))
    only_if(conductor.function in LIVE)
    only_if(not _open_neutral(conductor))
    if conductor.function == "switched":
        yield f"{_seen(conductor)} is the return from a switch; that takes another colour, re-marked or not."
        return
    if conductor.marked not in NO_MARK:
        return
    first = tables.value("white used as ungrounded", "re-marking asked from")
    year = for_words(conductor, "installed")
    only_if(not _old_loop(conductor, year, first))
    then = f" Re-marking has been asked for since {first}; this dates from {year:g}." if year else ""
    yield f"{_seen(conductor)} works as {_a(conductor.function)} conductor and is not re-marked.{then}"


@rule(
    "white-in-old-switch-loop",
    of="conductor",
    severity="marginal",
    likelihood="improbable",
    caution="Warning: this white conductor can be live and can kill whoever takes it for a neutral. Have it marked "
    "where it can be seen, and let nobody trust its colour.",
    defer="It was an accepted way when it was put in; what is asked of it today is for the adopted local code and a "
    "licensed electrician.",
    source="NFPA 70 (NEC) before 1999, 200-7; 200.7(C)(1) since",
    basis="seen in text",
)
def white_in_old_switch_loop(conductor, tables):
    """White conductor of an old switch loop is not re-marked.

    Supplies of switches and travellers in cable known to be older than the
    edition that first asked for re-marking.
    """
    only_if(conductor.colour in WHITE)
    only_if(not given(conductor, "by_colour_only", False))
    only_if(conductor.function in ("ungrounded", "traveller"))
    first = tables.value("white used as ungrounded", "re-marking asked from")
    year = for_words(conductor, "installed")
    only_if(_old_loop(conductor, year, first))
    if conductor.marked in NO_MARK:
        yield (
            f"{_seen(conductor)} works as {_a(conductor.function)} conductor and is not re-marked; it dates from "
            f"{year:g}, and re-marking has been asked for since {first}."
        )


def _open_neutral(conductor):
    """Whether it is live only through loads: a neutral that lost its way back, which has a rule of its own."""
    net = given(conductor, "net", None)
    return net is not None and bool(given(net, "live_through", ()))


def _old_loop(conductor, year, first):
    """Whether it is the supply of a switch or a traveller, known to be older than the rule on re-marking."""
    return year is not None and year < first and given(conductor, "switch_supply", False)


@rule(
    "grounded-not-white",
    of="conductor",
    severity="critical",
    likelihood="remote",
    caution="Warning: a neutral in a live colour invites a wrong connection that can kill. "
    "Test before trusting any colour here.",
    defer="Larger sizes may be marked at their ends; the adopted local code and a licensed electrician decide.",
    source="NFPA 70 (NEC) 200.6(A), (B)",
    basis="seen in text",
)
def grounded_not_white(conductor, tables):
    """Grounded conductor is neither white nor grey along its length.

    From 4 AWG up, marking at the ends is enough. Bare service neutrals are
    left out; a bare neutral of a branch circuit has a rule of its own.
    """
    only_if(not given(conductor, "by_colour_only", False))
    only_if(conductor.function == "grounded")
    only_if(given(conductor, "method", "") != "knob-and-tube")
    only_if(conductor.colour not in (*GREEN, "unreadable"))
    if conductor.colour in WHITE or conductor.colour.startswith("white/"):
        return
    works = f"{_seen(conductor)}, {size_words(conductor.gauge)}, works as a grounded conductor"
    least = tables.value("smallest size that may be identified at its ends", "grounded")
    if area_mm2(conductor.gauge) < area_mm2(least) - A_HAIR:
        yield f"{works}; below {size_words(least)} that is white or grey along its whole length."
    elif conductor.marked not in WHITE:
        yield f"{works}; from {size_words(least)} up that is marked white or grey at its ends, and this is not."


@rule(
    "grounding-not-green",
    of="conductor",
    severity="critical",
    likelihood="remote",
    caution="Warning: a grounding conductor in a live colour invites a wrong connection that can kill. "
    "Test before trusting any colour here.",
    defer="Larger sizes may be marked at their ends; the adopted local code and a licensed electrician decide.",
    source="NFPA 70 (NEC) 250.119(A)",
    basis="from memory",
)
def grounding_not_green(conductor, tables):
    """Grounding conductor is neither bare nor green along its length.

    Green tape at the ends is enough from 4 AWG up only.
    """
    only_if(not given(conductor, "by_colour_only", False))
    only_if(conductor.function == "grounding")
    only_if(conductor.colour != "unreadable")
    if conductor.colour in GREEN:
        return
    works = f"{_seen(conductor)}, {size_words(conductor.gauge)}, works as a grounding conductor"
    least = tables.value("smallest size that may be identified at its ends", "grounding")
    if area_mm2(conductor.gauge) < area_mm2(least) - A_HAIR:
        yield f"{works}; below {size_words(least)} that is bare, green or green with yellow along its whole length."
    elif conductor.marked not in GREEN:
        yield f"{works}; from {size_words(least)} up that is marked green at its ends, and this is not."


@rule(
    "ground-colour-carries-current",
    of="conductor",
    severity="catastrophic",
    likelihood="occasional",
    caution="Danger: a bare or green conductor that carries current puts every bonded metal part at risk of being "
    "live. Touch no metal on this circuit until it is off and proven dead.",
    defer="Bare service neutrals have rules of their own; the adopted local code and a licensed electrician decide.",
    source="NFPA 70 (NEC) 250.119; 24 CFR 3280.815(c); bare neutrals from memory",
    basis="seen in text",
)
def ground_colour_carries_current(conductor):
    """Bare or green conductor carries current as a neutral or an ungrounded conductor.

    A bare neutral of flat or underground service cable can be lawful and is
    left out. One joined to an ungrounded conductor has a rule of its own.
    """
    only_if(conductor.colour in GREEN)
    only_if(conductor.function in ("grounded", *LIVE))
    only_if(conductor.function == "grounded" or all(c.colour in GREEN for c in conductor.net.conductors))
    if conductor.function == "grounded" and conductor.colour == "bare" and conductor.method in ("SE", "USE"):
        return
    yield f"{_seen(conductor)} works as {_a(conductor.function)} conductor; bare and green are for grounding only."


def _seen(conductor):
    """The conductor with its colour, which most tags hold already."""
    return str(conductor) if conductor.colour in conductor.tag.split() else f"{conductor} ({conductor.colour})"


def _a(word):
    return f"an {word}" if word[0] in "aeiou" else f"a {word}"
