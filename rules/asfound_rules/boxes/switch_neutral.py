"""A grounded conductor at switches."""

from __future__ import annotations

from asfound.authoring import for_words, only_if, rule


@rule(
    "switch-box-without-neutral",
    of="box",
    severity="negligible",
    likelihood="improbable",
    caution="Notice: no grounded conductor for electronic controls; a ground pressed into that service would carry current.",
    defer="Older work, raceway and open framing are exempt; the edition adopted locally and a licensed electrician decide.",
    source="NFPA 70 (NEC) 404.2(C)",
    basis="seen in text",
)
def switch_box_without_neutral(box, tables):
    """Switch box put in since 2011 has no grounded conductor.

    Absence in older work is normal and is not reported.
    """
    switches = [d for d in box.devices if d.kind in ("switch", "dimmer", "timer")]
    only_if(switches)
    only_if(box.conductors)
    first = tables.value("neutral at switches", "grounded conductor expected from")
    only_if(all(c.installed >= first for c in box.conductors))
    if not any(c.function == "grounded" for c in box.conductors):
        year = for_words(box.conductors[0], "installed")
        yield f"{box.words} (put in {year or 'since ' + str(first)}) holds a switch and no grounded conductor."
