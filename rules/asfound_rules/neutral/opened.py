"""Neutrals that are open, and neutrals that a switch opens."""

from __future__ import annotations

from asfound.authoring import for_words, joined, names, only_if, rule

NEUTRALS = ("neutral", "load_neutral")
HOTS = ("hot", "hot_2", "load_hot", "line")
ONE_POLE = ("switch", "dimmer", "timer", "three-way switch", "four-way switch")


@rule(
    "neutral-open",
    of="net",
    severity="catastrophic",
    likelihood="occasional",
    caution="Danger: through any load that is switched on, this neutral and everything joined to it stands at line "
    "voltage and can kill, while the load looks dead. Open every breaker named here, prove it dead, plug nothing in.",
    defer="Where the break is and how it is made good is for a licensed electrician and the adopted local code.",
    source="Circuit theory; NFPA 70 (NEC) 200.2(B), 300.13(A)",
    basis="from memory",
)
def neutral_open(net, tables, site):
    """Neutral reaches no neutral bar.

    Every end of it is accounted for, and none leads back to a panel. A meter
    between its terminals shows nothing, and between the neutral and ground it
    shows up to line voltage as soon as a load is on. Where loads of two legs hang on
    it, they lie in series across both legs and share the voltage by their
    sizes; the figures hold for plain resistive loads. A neutral with an end
    that nobody traced is not judged.
    """
    on_it = [terminal for terminal in net.terminals if terminal.name in NEUTRALS]
    only_if(on_it)
    if net.reaches_neutral_bar:
        return
    loads = _each(terminal.device for terminal in on_it)
    through = net.live_through
    only_if(through or net.untraced)
    where = f" ({names(net.conductors)})" if net.conductors else ""
    yield f"The neutral of {names(loads)}{where} reaches no neutral bar; {_live(net, through, loads, tables, site)}"


def _live(net, through, loads, tables, site):
    """What a missing way back does, as far as the other side of the loads is traced."""
    if not through:
        return "nobody traced what feeds the other side of these loads, so take it as live."
    fed = f"with a load on, it stands at up to line voltage from {names(net.fed_by)}."
    sides = _by_leg(loads)
    if len(sides) != 2:
        return fed
    one, two = sides.values()
    watts_one, watts_two = (sum(for_words(load, "watts") or 0 for load in side) for side in (one, two))
    system = for_words(site, "supply")
    if not system or not all(for_words(load, "watts") for load in (*one, *two)):
        return f"{fed} Loads of two legs then lie in series, and the smaller ones get too much."
    volts = tables.value("nominal voltage", system, 2)
    first, second = shared_volts(watts_one, watts_two, volts)
    return (
        f"{fed} Loads of two legs then lie in series across {volts:g} V: {_with_watts(one)} would get "
        f"{first:.0f} V and {_with_watts(two)} {second:.0f} V."
    )


def shared_volts(watts_one, watts_two, across):
    """How two resistive loads, rated for the same voltage, share the voltage `across` both in series.

    Source: circuit theory; each takes it in the inverse share of its rated watts.
    """
    together = watts_one + watts_two
    return across * watts_two / together, across * watts_one / together


def _by_leg(loads):
    """Loads by the leg of their live side; those whose leg is not certain are left out."""
    found = {}
    for load in loads:
        legs = {leg for t in load.terminals if t.name in HOTS for leg in for_words(t, "legs") or ()}
        if len(legs) == 1:
            found.setdefault(legs.pop(), []).append(load)
    return dict(sorted(found.items()))


def _with_watts(loads):
    return joined(f"{load} ({for_words(load, 'watts'):g} W)" for load in loads)


def _each(items):
    return list({item.tag: item for item in items}.values())


@rule(
    "neutral-through-switch",
    of="net",
    severity="catastrophic",
    likelihood="remote",
    caution="Warning: with the switch off the load is dark and still live, and whoever changes a lamp or works on it "
    "can be killed. Open the breaker, not the switch, and prove it dead.",
    defer="A switch that opens every conductor of the circuit at once is lawful; the adopted local code and a licensed "
    "electrician decide.",
    source="NFPA 70 (NEC) 404.2(A), (B)",
    basis="seen in text",
)
def neutral_through_switch(net):
    """Neutral of a load goes through a single-pole switch.

    The switch works, which is why nobody notices. Switches of two poles, which
    may open the neutral together with the live side, are left out.
    """
    only_if(net.neutral_through_switch)
    only_if(net.function == "grounded")
    loads = _each(terminal.device for terminal in net.terminals if terminal.name in NEUTRALS)
    only_if(loads)
    switches = _each(
        t.device for t in net.terminals if t.name not in ("ground", *NEUTRALS) and t.device.kind in ONE_POLE
    )
    only_if(switches)
    verb = "stays" if len(loads) == 1 else "stay"
    yield f"{names(switches)} switches the neutral of {names(loads)}; switched off, {names(loads)} {verb} live."


@rule(
    "switch-between-live-and-neutral",
    of="device",
    severity="catastrophic",
    likelihood="remote",
    caution="Warning: by the position of this switch what it feeds is live on one side, on the other or on both, lamp "
    "shells included, and can kill. Open the breaker before a lamp is changed, and prove it dead.",
    defer="Such switching was given up early in the last century; how it is replaced is for the adopted local code and "
    "a licensed electrician.",
    source="NFPA 70 (NEC) 404.2(A); NFPA 70 (NEC) 410.50 on lamp shells; circuit theory",
    basis="from memory",
)
def switch_between_live_and_neutral(device):
    """Switch has a live conductor on one terminal and a neutral on another.

    In old houses two three-way switches with the live and the neutral between
    them reverse the lamp. On a plain switch it is a short circuit as soon as it
    is closed. Switches of two poles are left out.
    """
    kind = device.kind
    only_if(kind in ONE_POLE)
    switched = [terminal for terminal in device.terminals if terminal.name not in ("ground", *NEUTRALS)]
    only_if(any(terminal.net.home_runs for terminal in switched))
    shown = {terminal.name: terminal.connection for terminal in switched}
    live = [name for name, what in shown.items() if what == "ungrounded"]
    neutral = [name for name, what in shown.items() if what == "grounded"]
    if not (live and neutral):
        return
    does = (
        "it reverses what it feeds, or makes both sides live"
        if kind in ("three-way switch", "four-way switch")
        else "closing it is a short circuit"
    )
    yield f"{device} has a live conductor on {_said(live)} and a neutral on {_said(neutral)}; {does}."


def _said(terminals):
    return joined(name.replace("_", " ") for name in terminals)
