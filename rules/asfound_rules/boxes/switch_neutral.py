"""A grounded conductor at switches."""

from __future__ import annotations

from asfound.authoring import only_if, rule

SWITCHES = ("switch", "dimmer", "timer")


@rule(
    "switch-box-without-neutral",
    of="box",
    severity="negligible",
    likelihood="improbable",
    caution="Notice: electronic controls find no grounded conductor here, and a ground pressed into that service would "
    "carry current. Leave the choice and fitting of a control to a qualified person.",
    defer="Older work, raceway and open framing are exempt; the adopted local code and a licensed electrician decide.",
    source="NFPA 70 (NEC) 404.2(C)",
    basis="seen in text",
)
def switch_box_without_neutral(box, tables):
    """Switch box of later years has no grounded conductor.

    Only where every cable in it is recorded as put in since the rule came.
    Absence in older work is normal and is not reported.
    """
    only_if(any(device.kind in SWITCHES for device in box.devices))
    only_if(box.conductors)
    first = tables.value("neutral at switches", "grounded conductor expected from")
    years = [conductor.installed for conductor in box.conductors]
    only_if(min(years) >= first)
    if not any(conductor.function == "grounded" for conductor in box.conductors):
        yield (
            f"Switch in {box.words} on wiring of {min(years)}, and no grounded conductor there; "
            f"one is expected since {first}."
        )
