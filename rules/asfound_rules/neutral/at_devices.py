"""The two sides of a circuit at the terminals of a device."""

from __future__ import annotations

from asfound.authoring import for_words, given, names, only_if, rule
from asfound_rules.terms import LIVE

PAIRS = (("hot", "neutral"), ("hot_2", "neutral"), ("load_hot", "load_neutral"), ("line", "neutral"))
NEUTRALS = ("neutral", "load_neutral")
LINE_TO_NEUTRAL = (
    "duplex receptacle", "luminaire", "lampholder", "fan", "smoke alarm", "bell transformer", "timer",
)  # fmt: skip


@rule(
    "multiwire-neutral-through-device",
    of="terminal",
    severity="catastrophic",
    likelihood="improbable",
    caution="Warning: whoever takes this device off opens the neutral for everything beyond it; what is left hangs "
    "across two legs, burns out, and can kill or start a fire. Open both breakers before it is loosened.",
    defer="A pigtail that leaves the splice whole is the usual way; the adopted local code and a licensed electrician "
    "decide.",
    source="NFPA 70 (NEC) 300.13(B)",
    basis="seen in text",
)
def multiwire_neutral_through_device(terminal):
    """Neutral shared by two circuits goes on through the terminals of a device.

    With one circuit only this is ordinary work, and so it is past the point
    where the two circuits part. Counted are the breaker poles whose loads have
    no way back but through this terminal.
    """
    only_if(terminal.name in NEUTRALS)
    only_if(len(terminal.conductors) > 1)
    poles = terminal.poles_beyond
    if len(poles) > 1:
        yield (
            f"The neutral of {names(poles)} goes on through the {terminal.name.replace('_', ' ')} terminal of "
            f"{terminal.device} ({names(terminal.conductors)})."
        )


@rule(
    "live-and-neutral-reversed",
    of="device",
    severity="catastrophic",
    likelihood="remote",
    caution="Warning: lamp shells and the inside of what is plugged in stay live when they are switched off, and can "
    "kill. Use nothing here until the breaker is off and the wires are put right.",
    defer="Which terminal is for what, and how it is put right, is for the adopted local code and a licensed "
    "electrician.",
    source="NFPA 70 (NEC) 200.11, 200.10; HUD NSPIRE Standards v3.0 (2023), outlet not properly wired",
    basis="seen in text",
)
def live_and_neutral_reversed(device):
    """Live and neutral are exchanged at the terminals of a device.

    By trace, not by colour. A plug-in tester shows it only where there is a
    ground. What a protective device passes on is reversed with it. A device on
    whose terminals nothing is recorded is not looked at.
    """
    shown = _shown(device)
    only_if(shown)
    found = [(hot, cold) for hot, cold in PAIRS if shown.get(hot) == "grounded" and shown.get(cold) in LIVE]
    if found:
        hot, cold = found[0]
        live = next(terminal for terminal in device.terminals if terminal.name == cold)
        fed = for_words(live, "breakers")
        by = f", fed by {names(fed)}" if fed else ""
        yield (
            f"On {device} the terminal {_said(cold)} is live{by}, and the terminal {_said(hot)} is on the neutral: the "
            "two are exchanged."
        )


@rule(
    "both-sides-live",
    of="device",
    severity="catastrophic",
    likelihood="probable",
    caution="Danger: there is no neutral here, both sides are live and can kill; across two legs what is used here "
    "gets twice its voltage and can burn. Plug nothing in, open the breakers named here and prove it dead.",
    defer="How it is put right is for a licensed electrician; the adopted local code decides.",
    source="Circuit theory; NFPA 70 (NEC) 200.11",
    basis="from memory",
)
def both_sides_live(device, tables, site):
    """Device made for live and neutral has live conductors on both.

    Kinds that are made for line to neutral, not marked for the voltage between
    legs. In a fuse box so old that it fuses the neutral, the neutral would look
    like this too: measure between the two before anything is changed. Sides
    that a switch makes live or neutral in turn have a rule of their own.
    """
    only_if(device.kind in LINE_TO_NEUTRAL)
    only_if(any(terminal.name in NEUTRALS and not terminal.net.untraced for terminal in device.terminals))
    volts = given(device, "volts", 0)
    only_if(not volts or volts < tables.value("nominal voltage", site.supply, 2))
    shown = _shown(device)
    pair = next((pair for pair in PAIRS if shown.get(pair[0]) in LIVE and shown.get(pair[1]) in LIVE), None)
    only_if(pair)
    by_name = {terminal.name: terminal for terminal in device.terminals}
    one, two = (by_name[name] for name in pair)
    only_if(not (one.net.neutral_through_switch or two.net.neutral_through_switch))
    yield f"Both sides of {device} are live: {_side(one)} and {_side(two)}. {_across(one, two)}"


def _shown(device):
    """What the connection of each terminal shows it to be, by the terminal's name."""
    names_used = {terminal.name for terminal in device.terminals}
    asked = {name for pair in PAIRS if set(pair) <= names_used for name in pair}
    return {terminal.name: terminal.connection for terminal in device.terminals if terminal.name in asked}


def _side(terminal):
    fed = for_words(terminal, "breakers")
    return f"{_said(terminal.name)} on {names(fed)}" if fed else _said(terminal.name)


def _across(one, two):
    """What stands between two live terminals, where the legs of both are certain."""
    first, second = for_words(one, "legs"), for_words(two, "legs")
    if not first or not second:
        return "What stands between them depends on their legs."
    if set(first) & set(second):
        return "They are on one leg: it looks dead to a tester between them and is live to ground."
    return "They are on different legs: the full voltage between legs stands across it."


def _said(name):
    return name.replace("_", " ")
