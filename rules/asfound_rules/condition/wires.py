"""Condition of conductors, cables and splices, as somebody noted it."""

from __future__ import annotations

from asfound.authoring import given, joined, only_if, rule
from asfound_rules.observed import among

BURNT = ("scorched", "melted", "arc marks")
TORN = ("damaged", "cracked", "chewed")
MADE_FOR_WATER = ("UF-B", "USE")
DEFER = "What is repaired and what is replaced is for the adopted local code and a licensed electrician."
SOURCE = "HUD NSPIRE Standards v3.0 (88 FR 40832), exposed conductor and water; NFPA 70 (NEC) 110.12(B) from memory"


@rule(
    "insulation-burnt-torn-or-wet",
    of="conductor",
    severity="catastrophic",
    likelihood="occasional",
    caution="Danger: live metal may be bare or under water here and can kill at a touch, and a burnt place can flare "
    "up again. Keep away; switch the circuit off and keep it off until it is put right.",
    defer=DEFER,
    source=SOURCE,
    basis="seen in text",
)
def insulation_burnt_torn_or_wet(conductor):
    """Insulation of a conductor is burnt, torn or wet.

    Speaks only of what was noted at the conductor itself. A bare grounding
    conductor has no insulation; burnt, it shows that it carried a fault.
    """
    marks = among(conductor, (*BURNT, *TORN, "wet"))
    only_if(marks)
    if set(BURNT) & set(marks) or given(conductor, "colour", "not noted") != "bare":
        yield f"{conductor} was found {joined(marks)}."


@rule(
    "wire-brittle-loose-or-corroded",
    of="conductor",
    severity="catastrophic",
    likelihood="remote",
    caution="Warning: brittle insulation falls off when it is bent, and a loose or corroded end heats; either can end "
    "in shock or fire. Do not move or touch the wire; have a qualified person mend it.",
    defer=DEFER,
    source="NFPA 70 (NEC) 110.12(B), 110.14; age of rubber and cloth insulation is common practice, no source",
    basis="from memory",
)
def wire_brittle_loose_or_corroded(conductor):
    """Conductor is brittle, loose or corroded.

    Or it is a bare one and damaged. Old insulation that is sound is no defect,
    whatever its age.
    """
    marks = among(conductor, ("brittle", "loose", "corroded", *TORN))
    if set(TORN) & set(marks) and given(conductor, "colour", "not noted") != "bare":
        marks = [mark for mark in marks if mark not in TORN]
    if marks:
        yield f"{conductor} was found {joined(marks)}."


@rule(
    "cable-burnt",
    of="cable",
    severity="catastrophic",
    likelihood="occasional",
    caution="Danger: a cable that was hot enough to mark its jacket can start a fire when it is loaded again. Switch "
    "its circuit off and keep it off; have a qualified person look along the whole run for the cause.",
    defer=DEFER,
    source="NFPA 70 (NEC) 110.12(B); grading by the like item of HUD NSPIRE Standards v3.0 (88 FR 40832)",
    basis="from memory",
)
def cable_burnt(cable):
    """Cable is scorched, melted or has arc marks.

    The mark shows where the heat came out, which need not be where it arose.
    """
    marks = among(cable, BURNT)
    if marks:
        yield f"{cable} was found with this: {joined(marks)}."


@rule(
    "cable-damaged-or-wet",
    of="cable",
    severity="catastrophic",
    likelihood="remote",
    caution="Warning: under a torn, brittle or wet jacket live metal can be bare; that can end in shock or fire. Do "
    "not touch it, put no more load on it, and have a qualified person mend it.",
    defer=DEFER,
    source=SOURCE,
    basis="from memory",
)
def cable_damaged_or_wet(cable):
    """Cable is torn, chewed, brittle, corroded or wet.

    Cable made to lie in water and earth may be wet. Where a conductor itself is
    bare or wet, note it at the conductor.
    """
    marks = among(cable, (*TORN, "brittle", "corroded", "wet"))
    if marks == ["wet"]:
        only_if(cable.method not in MADE_FOR_WATER)
    if marks:
        yield f"{cable} was found {joined(marks)}."


@rule(
    "splice-burnt-or-wet",
    of="joint",
    severity="catastrophic",
    likelihood="occasional",
    caution="Danger: a burnt joint can start a fire the next time it is loaded, and a wet one can make what is around "
    "it live and kill. Switch the circuit off and keep it off until the joint is made anew.",
    defer=DEFER,
    source=SOURCE,
    basis="seen in text",
)
def splice_burnt_or_wet(joint):
    """Splice is burnt or wet.

    A breaker does not see a joint that heats; that it never tripped says
    nothing. Connectors made for wet places may be wet.
    """
    marks = among(joint, (*BURNT, "wet"))
    if marks:
        yield f"Splice {joint} was found with this: {joined(marks)}."


@rule(
    "splice-loose-or-corroded",
    of="joint",
    severity="catastrophic",
    likelihood="remote",
    caution="Warning: a loose or corroded joint heats under load until it arcs and starts a fire, and no breaker sees "
    "it. Load the circuit lightly; at flicker, heat or smell switch it off.",
    defer=DEFER,
    source="NFPA 70 (NEC) 110.14(B); Joule heating, physics",
    basis="from memory",
)
def splice_loose_or_corroded(joint):
    """Splice is loose, corroded or broken.

    A tenth of an ohm in a joint that carries 12 A makes 14 W of heat.
    """
    marks = among(joint, (*TORN, "loose", "corroded", "brittle"))
    if marks:
        yield f"Splice {joint} was found {joined(marks)}."
