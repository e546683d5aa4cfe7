"""The bond between neutral and enclosure: at the service, and nowhere after it."""

from __future__ import annotations

from asfound.authoring import given, names, only_if, rule


@rule(
    "neutral-bonded-in-sub-panel",
    of="panel",
    severity="critical",
    likelihood="occasional",
    caution="Warning: neutral current returns over grounds and metal of the building, and what is loosened there can "
    "shock. Do not take the bond out before the feeder is known to have a grounding conductor.",
    defer="Older feeders to separate buildings follow rules of their own; the adopted local code and a licensed "
    "electrician decide.",
    source="NFPA 70 (NEC) 250.24(A)(5), 250.32(B), 250.142(B)",
    basis="seen in text",
)
def neutral_bonded_in_sub_panel(panel):
    """Neutral is bonded to the enclosure in a panel that another panel feeds.

    Only where its feeder has a grounding conductor or metal raceway, so that
    neutral current has two ways back. A feeder without one, as was usual to
    separate buildings before 2008, leaves the bond as the only path for a
    fault, and is left out here whether or not the building is separate.
    """
    only_if(panel.feeder)
    if panel.bonded and panel.feeder_ground:
        yield (
            f"Neutral and enclosure are bonded in {panel.words}, which {names(panel.feeder)} feeds with a ground path "
            "of its own; neutral current returns over both."
        )


@rule(
    "service-neutral-not-bonded",
    of="panel",
    severity="catastrophic",
    likelihood="remote",
    caution="Warning: without this bond a fault to metal opens no breaker, and the metal stays at line voltage and can "
    "kill. Treat all metal on the wiring as possibly live until the bond is found or made.",
    defer="Where the service disconnect and its bond are is for the adopted local code, the utility and a licensed "
    "electrician.",
    source="NFPA 70 (NEC) 250.24(B), 250.28",
    basis="from memory",
)
def service_neutral_not_bonded(panel):
    """Neutral is not bonded to the enclosure in the panel that the supply feeds.

    With a disconnect ahead of this panel, such as one outside, the bond belongs
    there; whether there is one must be recorded. A panel of which nobody noted what feeds it is left out.
    """
    only_if(given(panel, "service", False))
    if not panel.bonded and not panel.disconnect_ahead:
        yield (
            f"Neutral and enclosure are not bonded in {panel.words}, which the supply feeds with no disconnect ahead "
            "of it; a fault to metal opens no breaker."
        )


@rule(
    "sub-panel-without-ground-path",
    of="panel",
    severity="catastrophic",
    likelihood="remote",
    caution="Warning: the grounds of every circuit of this panel lead nowhere, so metal with a fault stays at line "
    "voltage and can kill. Treat all metal on its circuits as possibly live.",
    defer="How a feeder is grounded, and what an old one to a separate building may keep, is for the adopted local "
    "code and a licensed electrician.",
    source="NFPA 70 (NEC) 215.6, 250.32(B)",
    basis="seen in text",
)
def sub_panel_without_ground_path(panel):
    """Sub-panel has neither a grounding conductor in its feeder nor a bond to its neutral.

    Ground rods alone are no path for fault current. A feeder without a
    grounding conductor whose neutral is bonded here is left out: so were
    separate buildings fed before 2008.
    """
    only_if(panel.feeder)
    if panel.feeder_ground:
        return
    if not panel.bonded:
        yield (
            f"The feeder of {panel.words} from {names(panel.feeder)} has no grounding conductor and no metal raceway, "
            "and neutral and enclosure are not bonded there. Its grounds lead nowhere."
        )
