"""What holds a splice, and how many conductors a connector or screw takes."""

from __future__ import annotations

from asfound.authoring import given, names, only_if, plural, rule
from asfound_rules.observed import noted
from asfound_rules.terms import GREEN

WITH_LEADS = ("dimmer", "timer")
EACH = 2  # one under the screw and one in the push-in hole, or two under a clamp plate
DEFER = (
    "Connectors are a matter of their listing; which are accepted is for the adopted local code and a licensed "
    "electrician."
)


@rule(
    "splice-twisted-bare",
    of="joint",
    severity="catastrophic",
    likelihood="probable",
    caution="Danger: bare twisted metal can be live now and can kill at a touch. Keep everyone clear; switch the "
    "circuit off and keep it off until a qualified person has joined them anew.",
    defer=DEFER,
    source="NFPA 70 (NEC) 110.14(B); HUD NSPIRE Standards v3.0 (88 FR 40832), exposed conductor",
    basis="from memory",
)
def splice_twisted_bare(joint):
    """Splice is twisted together and left bare.

    Grounding conductors among themselves and low-voltage wires are left out. A
    colour that nobody noted counts as live.
    """
    only_if(noted(joint, "connector") == "twisted bare")
    only_if(at_power(joint))
    yield f"{names(joint.conductors)} are twisted together and bare, without a connector or cover ({joint.words})."


@rule(
    "splice-taped-only",
    of="joint",
    severity="catastrophic",
    likelihood="remote",
    caution="Warning: tape does not hold conductors together; the joint can heat, arc and start a fire. Load the "
    "circuit lightly and do not move the joint; at heat or smell switch the circuit off. Have it mended by a "
    "qualified person.",
    defer=DEFER,
    source="NFPA 70 (NEC) 110.14(B)",
    basis="from memory",
)
def splice_taped_only(joint):
    """Splice is held by tape alone.

    A soldered and taped joint is an old and accepted way and is left out, as are
    grounding conductors among themselves and low-voltage wires. Under old tape
    solder is easily missed; look before calling it tape only.
    """
    only_if(noted(joint, "connector") == "tape only")
    only_if(at_power(joint))
    yield f"{names(joint.conductors)} are held together by tape only, without a connector or solder ({joint.words})."


@rule(
    "connector-overfilled",
    of="joint",
    severity="catastrophic",
    likelihood="improbable",
    caution="Warning: a conductor that the connector does not grip can work loose, arc and start a fire. Leave the "
    "joint alone; at flicker, warmth or smell switch the circuit off. Have a qualified person mend it.",
    defer="The marking or the instructions of the connector decide for these sizes; the adopted local code and a "
    "licensed electrician decide the rest.",
    source="NFPA 70 (NEC) 110.3(B), 110.14(B)",
    basis="from memory",
)
def connector_overfilled(joint):
    """Connector holds more conductors than it is marked for.

    Speaks only where the number it is marked for was read. Leads of devices and
    pigtails count like any other conductor.
    """
    allowed = noted(joint, "holds")
    if joint.size > allowed:
        yield f"{joint.size} conductors are in one connector that is marked for {allowed:g} ({joint.words})."


@rule(
    "device-screw-overfilled",
    of="terminal",
    severity="catastrophic",
    likelihood="improbable",
    caution="Warning: of several conductors under one screw one is often loose; it can heat, arc and start a fire. "
    "Load the device lightly; at warmth, buzzing or smell switch the circuit off. Have a qualified person mend it.",
    defer="Some devices are made for more than one conductor at a screw or beside it; their marking, the adopted local "
    "code and a licensed electrician decide.",
    source="NFPA 70 (NEC) 110.14(A)",
    basis="from memory",
)
def device_screw_overfilled(terminal):
    """Several conductors are under one screw of a device.

    Speaks only where somebody noted two under one plain screw, or where there
    are more than a screw and a push-in hole for each place could take. One
    under the screw and one in the hole, or one on each side of a clamp plate,
    is usual. Screws of receptacles, switches and lampholders only; the leads of
    a luminaire, dimmer, timer or appliance are spliced.
    """
    held = terminal.conductors
    only_if(len(held) > 1)
    device = terminal.device
    only_if(device.yoke or device.kind == "lampholder")
    only_if(device.kind not in WITH_LEADS)
    name = terminal.name.replace("_", " ")
    where = f"{names(held)} are on the {name} terminal of {device.words}"
    if len(held) > EACH * terminal.holds:
        screws = plural(terminal.holds, "screw")
        yield f"{where}: {len(held)} on {screws}, more than one under each and one in a hole beside it."
        return
    only_if(len(held) > terminal.holds or not any(len(t.conductors) > t.holds for t in device.terminals))
    if noted(device, "screws_shared"):
        yield f"{where}, where two conductors were found under one plain screw."


def at_power(joint):
    """Conductors of a joint that can be live: not bare or green, not low-voltage."""
    held = [c for c in joint.conductors if given(c, "method", "not noted") != "low voltage"]
    return [c for c in held if given(c, "colour", "not noted") not in GREEN]
