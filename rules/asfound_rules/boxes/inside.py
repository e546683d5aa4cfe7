"""What is inside a box: free conductors, other systems, water."""

from __future__ import annotations

from asfound.authoring import for_words, given, only_if, rule
from asfound_rules.observed import noted


@rule(
    "free-conductors-short",
    of="box",
    severity="negligible",
    likelihood="occasional",
    caution="Notice: short conductors leave little to work with and strain their joints when a device is pulled out. "
    "Leave the device in its box until a qualified person works on it.",
    defer="Only practice suffers unless a joint is strained; the adopted local code and a licensed electrician decide.",
    source="NFPA 70 (NEC) 300.14",
    basis="seen in text",
)
def free_conductors_short(box, tables):
    """Free conductors in a box are short.

    Measured from where they leave sheath or raceway. Conductors that pass
    through without a joint need no free length.
    """
    length = noted(box, "free_length")
    only_if(box.joints or box.devices)
    least = tables.value("shortest free conductor at a box", "from the sheath")
    if length < least:
        yield f"The shortest free conductor in box {box.words} is {length:g} in; the table asks for {least:g} in."


@rule(
    "low-voltage-with-power",
    of="box",
    severity="catastrophic",
    likelihood="improbable",
    caution="Warning: where the insulation between them fails, bell, data or thermostat wire becomes live at line "
    "voltage and can shock. Keep away from the low-voltage wires here; have a qualified person part them.",
    defer="Some equipment is listed to hold both; the adopted local code and a licensed electrician decide.",
    source="NFPA 70 (NEC) 725.136, 800.133",
    basis="from memory",
)
def low_voltage_with_power(box):
    """Low-voltage and power conductors share a box without a partition.

    Equipment listed to hold both, such as some relays and transformers, is for
    its marking to say.
    """
    only_if(noted(box, "low_voltage_too"))
    only_if(box.conductors or box.passing or box.looped)
    yield f"Low-voltage conductors are in box {box.words} with power conductors and no partition between them."


@rule(
    "box-not-made-for-wet-place",
    of="box",
    severity="catastrophic",
    likelihood="remote",
    caution="Warning: water in the box can put its metal or the wet wall at line voltage; that can kill. Touch neither "
    "box nor device when wet; switch the circuit off until it is replaced.",
    defer="What counts as a wet or damp place is for the adopted local code and a licensed electrician.",
    source="NFPA 70 (NEC) 314.15, 406.9",
    basis="from memory",
)
def box_not_made_for_wet_place(box):
    """Box or its cover in a wet place is not made for it.

    Wet is where rain or splashed water reaches it. Outdoors under a deep roof it
    may only be damp; note what was seen.
    """
    only_if(noted(box, "wet_place"))
    only_if(given(box, "kind", "a box") != "no box")
    if not box.damp_cover:
        said = for_words(box, "cover")
        cover = f" ({said})" if said else ""
        yield f"Rain or splashed water reaches box {box.words}; its cover{cover} is not made for wet places."
