"""Lamps in closets."""

from __future__ import annotations

import re

from asfound.authoring import given, only_if, rule
from asfound_rules.observed import noted

OTHERWISE = re.compile(r"\b(enclosed|led)\b", re.IGNORECASE)


@rule(
    "lampholder-in-closet",
    of="device",
    severity="catastrophic",
    likelihood="improbable",
    caution="Warning: what touches or lies near a hot bare lamp can start a fire. Keep clothes, paper and boxes well "
    "away from it and switch it off on leaving; have a qualified person put an enclosed luminaire there.",
    defer="What counts as a clothes closet, and which lamps may be there, is for the adopted local code and a licensed "
    "electrician.",
    source="NFPA 70 (NEC) 410.16 (410.8 before 2008)",
    basis="from memory",
)
def lampholder_in_closet(device):
    """Open lampholder is in a closet.

    Meant for closets in which clothes are kept; what is kept there is not in
    the record. A lampholder that is marked or noted as LED or enclosed is left
    out; which lamp is screwed in is not in the record either.
    """
    only_if(device.kind == "lampholder")
    only_if(noted(device, "room") == "closet")
    only_if(not OTHERWISE.search(given(device, "marked", "")))
    yield f"{device.words} is an open lampholder in a closet; if clothes are kept there, the lamp should be enclosed."
