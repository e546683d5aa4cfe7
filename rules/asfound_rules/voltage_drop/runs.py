"""Voltage lost between the panel and the loads, as far as lengths and loads are recorded."""

from __future__ import annotations

from asfound.authoring import given, only_if, rule
from asfound_rules.overcurrent.ampacity import SMALL
from asfound_rules.overcurrent.loads import amps_of, is_between, volts_of

LIVE = ("hot", "line", "load_hot", "hot_2")
NEUTRAL = ("neutral", "load_neutral")
FEET = 1000


@rule(
    "voltage-drop-on-branch",
    of="circuit",
    severity="negligible",
    likelihood="occasional",
    caution="Notice: dim lamps and slow motors go with such a loss. It is advice on performance; where the loss is "
    "felt, look for a bad splice first.",
    defer="No limit is required by the national text; the adopted local code and licensed practice decide.",
    source="NFPA 70 (NEC) informational note to 210.19(A), Chapter 9 Table 8",
    basis="seen in text",
)
def voltage_drop_on_branch(circuit, tables, site):
    """Recorded loads lose more than the advised share of voltage on the branch circuit.

    Length one way, out and back, times resistance at 75 °C times current. Only
    lengths and loads that were recorded count, so the loss is at least this.
    A shared neutral is not counted.
    """
    load, lost, volts, feet, _ = _worst(circuit, site, tables)
    advised = tables.value("voltage drop", "branch circuit")
    if lost > volts * advised / 100:
        yield f"{_loss(load, lost, volts, feet)}; advised are {advised:g} %."


@rule(
    "voltage-drop-with-feeder",
    of="circuit",
    severity="negligible",
    likelihood="occasional",
    caution="Notice: dim lamps and slow motors go with such a loss. It is advice on performance; where the loss is "
    "felt, look for a bad splice first.",
    defer="No limit is required by the national text; the adopted local code and licensed practice decide.",
    source="NFPA 70 (NEC) informational notes to 210.19(A) and 215.2(A), Chapter 9 Table 8",
    basis="seen in text",
)
def voltage_drop_with_feeder(circuit, tables, site):
    """Recorded loads lose more than the advised share of voltage on branch circuit and feeder together.

    For circuits of a panel fed by another. The feeder is taken to carry this
    circuit alone, so the loss is at least this. A neutral of the feeder is not
    counted.
    """
    panel = circuit.breakers[0].panel
    only_if(panel.feeder)
    load, lost, volts, feet, amps = _worst(circuit, site, tables)
    while panel.feeder:
        ohms, more = _along(panel.lugs[:1], tables)
        lost += amps * ohms * (2 if is_between(load) else 1)
        feet += more
        panel = panel.feeder[0].panel
    advised = tables.value("voltage drop", "with the feeder")
    if lost > volts * advised / 100:
        yield f"{_loss(load, lost, volts, feet)}, feeder included; advised are {advised:g} %."


def _loss(load, lost, volts, feet):
    share = 100 * lost / volts
    return f"{load} loses at least {lost:.3g} V of {volts:g} V over {feet:g} ft recorded, {share:.3g} %"


def _worst(circuit, site, tables):
    """The load that loses most: device, V lost, V of its supply, feet one way, A of the circuit towards it."""
    loads = [(device, amps) for device in circuit.devices if (amps := amps_of(device, site, tables))]
    only_if(loads)
    ways = [(device, amps, _way(device)) for device, amps in loads]
    order = _outward(ways)
    drawn = dict.fromkeys(order, 0)
    for _, amps, way in ways:
        for conductor in way:
            drawn[conductor.tag] += amps
    for tag, conductor in reversed(order.items()):
        for ahead in conductor.ahead:
            drawn[ahead.tag] += drawn[tag]
    lost, feet, first = {}, {}, {}
    for tag, conductor in order.items():
        ohms, length = _ohms(conductor, tables)
        ahead = next((one.tag for one in conductor.ahead), "")
        lost[tag] = lost.get(ahead, 0) + drawn[tag] * ohms
        feet[tag] = feet.get(ahead, 0) + length
        first[tag] = first.get(ahead, drawn[tag])
    found = []
    for device, _, way in ways:
        for nearest in way[:1]:
            volts = volts_of(device, site, tables)
            total = sum(lost[conductor.tag] for conductor in way)
            found.append((total / volts, device, total, volts, feet[nearest.tag], first[nearest.tag]))
    only_if(found)
    return max(found, key=lambda one: one[0])[1:]


def _way(device):
    """The last conductor on the way to a load and the first on its way back; a shared neutral left out."""
    by_name = {terminal.name: terminal for terminal in device.terminals}
    if is_between(device):
        ends = [by_name["hot"], by_name["hot_2"]]
    else:
        ends = [by_name[name] for name in LIVE if name in by_name][:1]
        back = [by_name[name] for name in NEUTRAL if name in by_name][:1]
        ends += [terminal for terminal in back if len(terminal.net.return_of) < 2]
    return [conductor for terminal in ends for conductor in terminal.ahead]


def _outward(ways):
    """Every conductor on these ways, those nearer to the panel first, by tag."""
    order = {}
    for _, _, way in ways:
        for last in way:
            chain, at = [], last
            while at is not None and at.tag not in order:
                chain.append(at)
                at = next(iter(at.ahead), None)
            order.update((conductor.tag, conductor) for conductor in reversed(chain))
    return order


def _along(lugs, tables):
    """Ohms and feet of the conductors from a main lug back to the breaker that feeds it."""
    ohms = feet = 0
    while lugs:
        more = _ohms(lugs[0], tables)
        ohms, feet = ohms + more[0], feet + more[1]
        lugs = lugs[0].ahead
    return ohms, feet


def _ohms(conductor, tables):
    """Ohms at 75 °C and feet of one conductor; nothing when its length is not recorded."""
    length = given(conductor.cable, "length", 0)
    if not length:
        return 0, 0
    metal, size = conductor.metal, conductor.gauge
    form = "stranded" if given(conductor, "stranded", size not in SMALL) else "solid"
    return tables.value("conductor resistance", metal, size, form) * length / FEET, length
