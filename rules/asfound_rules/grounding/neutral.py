"""Grounds and neutrals joined where they must stay apart, and grounding terminals that are live."""

from __future__ import annotations

from asfound.authoring import for_words, given, joined, names, only_if, rule
from asfound_rules.terms import LIVE

BARE_NEUTRAL = ("SE", "USE")
NEUTRALS = ("neutral", "load_neutral")


@rule(
    "neutral-and-ground-joined",
    of="net",
    severity="catastrophic",
    likelihood="remote",
    caution="Warning: neutral current flows over this metal, and when the neutral opens anywhere ahead, all of it "
    "stands at line voltage and can kill. Loosen neither with the circuit on.",
    defer="Where neutral and ground are joined is for the adopted local code and a licensed electrician; it is one "
    "place only, at the service or a separately derived source.",
    source="NFPA 70 (NEC) 250.24(A)(5), 250.142(B)",
    basis="from memory",
)
def neutral_and_ground_joined(net):
    """Grounding conductor is joined to the neutral beyond the service.

    In a box or at a device, away from the bars, with metal or a grounding
    terminal on it. A bare or green conductor that only serves as a neutral has
    a rule of its own, and so has a receptacle with a jumper and no ground. The
    bare conductor of old service cable to a range can lawfully be its neutral
    and is left out.
    """
    grounds = [ground for ground in net.grounding_conductors if given(ground, "method", "") not in BARE_NEUTRAL]
    only_if(grounds)
    others = _besides(net, net.grounding_conductors)
    only_if(others)
    parts = net.metal_parts
    only_if(parts)
    if net.function == "grounded":
        yield f"{names(grounds)} joined to {names(others)} away from the service. On the neutral: {joined(parts)}."


@rule(
    "false-ground-at-receptacle",
    of="device",
    severity="catastrophic",
    likelihood="remote",
    caution="Warning: a tester shows this receptacle as grounded, and when its neutral opens every metal case plugged "
    "into it stands at line voltage and can kill. Plug nothing with a metal case into it.",
    defer="What may be put in where there is no ground is for the adopted local code and a licensed electrician.",
    source="NFPA 70 (NEC) 250.142(B), 406.4(D)(2)",
    basis="from memory",
)
def false_ground_at_receptacle(device):
    """Neutral and grounding terminal of a receptacle are joined, with no grounding conductor there.

    The jumper behind the plate, put in so that a tester shows a ground. A
    three-lamp tester cannot see it. Ranges and dryers of the old three-wire
    kind, whose frame was lawfully on the neutral, are left out.
    """
    only_if(device.kind in ("duplex receptacle", "single receptacle"))
    grounds = [terminal for terminal in device.terminals if terminal.name == "ground"]
    only_if(grounds)
    net = grounds[0].net
    only_if(any(terminal.name in NEUTRALS and terminal.net.tag == net.tag for terminal in device.terminals))
    only_if(not net.grounding_conductors)
    if net.function not in LIVE:
        yield (
            f"The grounding terminal of {device.words} is joined to its neutral and to no grounding conductor. "
            "It only looks grounded."
        )


@rule(
    "grounding-terminal-live",
    of="terminal",
    severity="catastrophic",
    likelihood="frequent",
    caution="Danger: what is plugged into or fixed to this can stand at line voltage now, and touching it can kill. "
    "Keep everyone off it, open the breaker or the service disconnect, and prove it dead before going on.",
    defer="How it is put right is for the adopted local code and a licensed electrician.",
    source="NFPA 70 (NEC) 250.4(A)(5), 200.11; circuit theory",
    basis="from memory",
)
def grounding_terminal_live(terminal):
    """Grounding terminal of a device is joined to an ungrounded conductor, without a grounding conductor.

    Such as a jumper to the neutral terminal where hot and neutral are
    reversed. The breaker holds in, and a three-lamp tester shows it as right.
    A grounding conductor joined to an ungrounded one has a rule of its own.
    """
    only_if(terminal.name == "ground")
    net = terminal.net
    only_if(not net.grounding_conductors)
    if terminal.function in LIVE:
        feeds = for_words(terminal, "breakers")
        fed = f"fed by {names(feeds)}" if feeds else "no breaker is traced to it, so treat it as live"
        yield f"The grounding terminal of {terminal.device.words} is joined to {names(net.conductors)}; {fed}."


@rule(
    "bars-mixed-in-sub-panel",
    of="net",
    severity="catastrophic",
    likelihood="remote",
    caution="Warning: neutral current and grounds share a bar here, so metal of the circuits carries current, and "
    "stands at line voltage when the neutral of the feeder opens; it can kill. Loosen nothing on the bars with the "
    "feeder on.",
    defer="How neutrals and grounds are parted is for the adopted local code and a licensed electrician.",
    source="NFPA 70 (NEC) 250.24(A)(5), 250.142(B), 408.40",
    basis="from memory",
)
def bars_mixed_in_sub_panel(net):
    """Grounding conductors land on the neutral bar of a sub-panel, or neutrals on its ground bar.

    Where the feeder has no ground path of its own, as to old separate
    buildings, or the bars are bonded here, other rules speak. The feeder
    itself, which lands in two panels, is left out, and so is a bare conductor
    that is the neutral of a device, which has a rule of its own.
    """
    only_if(len(net.panels) == 1)
    panel = net.panels[0]
    only_if(panel.feeder)
    grounds = net.grounding_conductors
    others = _besides(net, grounds)
    wrong = ("neutral bar", grounds) if net.on_neutral_bar and not others else ("ground bar", others)
    only_if(wrong[1] and wrong[0] in net.bars)
    only_if(wrong[0] == "ground bar" or not any(terminal.name == "neutral" for terminal in net.terminals))
    only_if(wrong[0] == "neutral bar" or net.function == "grounded")
    only_if(not panel.bonded)
    if panel.feeder_ground:
        what = "neutral" if wrong[0] == "neutral bar" else "ground"
        verb = "lands" if len(wrong[1]) == 1 else "land"
        yield f"{names(wrong[1])} {verb} on the {what} bar of {panel.words}, a sub-panel where the two bars are apart."


@rule(
    "bare-neutral-from-sub-panel",
    of="net",
    severity="catastrophic",
    likelihood="remote",
    caution="Warning: a bare neutral of this circuit touches grounded metal on its way, which then carries current and "
    "can shock when a neutral opens. Do not move it to the ground bar; have the circuit looked at.",
    defer="Which old range and dryer circuits may stay is for the adopted local code and a licensed electrician.",
    source="NFPA 70 (NEC) 250.140, 338.10(B)(2)",
    basis="from memory",
)
def bare_neutral_from_sub_panel(net):
    """Bare conductor is the neutral of a device on a circuit from a sub-panel.

    A bare neutral was let pass for ranges and dryers on service cable from the
    service panel, where neutral and grounds are one; from a sub-panel they are
    not. Other cable is told by the colour rule.
    """
    only_if(net.grounding_conductors)
    only_if(net.on_neutral_bar and any(terminal.name == "neutral" for terminal in net.terminals))
    only_if(len(net.panels) == 1)
    (panel,) = net.panels
    only_if(all(conductor.method in ("SE", "USE") for conductor in net.grounding_conductors))
    if panel.feeder:
        devices = names(terminal.device for terminal in net.terminals if terminal.name == "neutral")
        yield f"{names(net.grounding_conductors)} is bare, the neutral of {devices}, and starts in sub-panel {panel}."


def _besides(net, grounds):
    tags = {ground.tag for ground in grounds}
    return [conductor for conductor in net.conductors if conductor.tag not in tags]
