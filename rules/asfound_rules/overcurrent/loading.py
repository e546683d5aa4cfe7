"""Recorded loads against the breaker, the switch and the circuit they are on."""

from __future__ import annotations

from asfound.authoring import Defect, given, names, only_if, rule
from asfound_rules.overcurrent.ampacity import largest_breaker
from asfound_rules.overcurrent.loads import amps_of, is_between, volts_of, words_of
from asfound_rules.terms import HOMES

SWITCHES = ("switch", "three-way switch", "double-pole switch", "dimmer", "timer")
ALWAYS_CONTINUOUS = ("heater", "water heater")
LAMPHOLDERS = ("lampholder", "luminaire")


@rule(
    "loads-over-breaker",
    of="circuit",
    severity="marginal",
    likelihood="occasional",
    caution="Warning: a circuit loaded beyond its breaker runs hot for a long time before it trips. Do not use these "
    "loads together, and fit no larger breaker.",
    defer="Loads that cannot run together and demand factors: the adopted local code and a licensed electrician "
    "decide.",
    source="NFPA 70 (NEC) 210.23, 220.18 (220.11 in 2023)",
    basis="from memory",
)
def loads_over_breaker(circuit, tables, site):
    """Recorded loads of a circuit add up to more than its breaker.

    Loads without recorded watts or amperes are not counted, so a circuit on
    which nothing is found can be overloaded all the same. Household ranges are
    left out; their demand is less than their nameplate. With two poles the sum
    is that of the fuller pole at least.
    """
    loads = _loads(circuit, site, tables)
    drawn = _fuller_pole(circuit, loads)
    rating = max(breaker.amps for breaker in circuit.breakers)
    if drawn > rating:
        yield f"Loads on {names(circuit.breakers)} draw at least {drawn:.3g} A ({words_of(loads)}); rated {rating:g} A."


@rule(
    "continuous-load-over-breaker",
    of="circuit",
    severity="marginal",
    likelihood="remote",
    caution="Warning: hours of full load heat breaker and terminals and can start a fire at a loose one. Feel for "
    "warmth at the panel, and fit no larger breaker on the same wire.",
    defer="Breakers listed for all of their rating are treated apart; the adopted local code and a licensed "
    "electrician decide.",
    source="NFPA 70 (NEC) 210.20(A), 422.13, 424.4(B)",
    basis="from memory",
)
def continuous_load_over_breaker(circuit, tables, site):
    """Loads that run for hours leave the breaker without its margin.

    Space heaters and storage water heaters count as continuous, others where
    that is recorded: a quarter more than they draw. A circuit whose loads are
    over the breaker as they are has a finding of its own.
    """
    loads = _loads(circuit, site, tables)
    lasting = [load for load in loads if _is_continuous(load[0])]
    only_if(lasting)
    factor = tables.value("continuous load", "factor")
    plain = _fuller_pole(circuit, loads)
    drawn = plain + (factor - 1) * _fuller_pole(circuit, lasting)
    rating = max(breaker.amps for breaker in circuit.breakers)
    if plain <= rating < drawn:
        yield (
            f"With {words_of(lasting)} running for hours, taken {factor:g} times, {names(circuit.breakers)} should be "
            f"{drawn:.3g} A or more; rated {rating:g} A."
        )


@rule(
    "water-heater-breaker-too-large",
    of="device",
    severity="critical",
    likelihood="improbable",
    caution="Warning: a failed element or its wiring can burn for longer before a large breaker opens. Fit no larger "
    "breaker than the plate allows.",
    defer="The nameplate decides where it names a breaker; else the adopted local code and a licensed electrician.",
    source="NFPA 70 (NEC) 422.11(E)",
    basis="from memory",
)
def water_heater_breaker_too_large(device, tables, site):
    """Breaker of a water heater is larger than its current allows.

    One and a half times the rated current and the next standard size up. Where
    the nameplate names a largest breaker, that is judged instead.
    """
    only_if(device.kind == "water heater")
    only_if(not given(device, "max_breaker_amps", 0))
    amps = amps_of(device, site, tables)
    only_if(amps)
    only_if(device.breakers)
    if amps > tables.value("water heater", "small to"):
        limit = largest_breaker(tables, amps * tables.value("water heater", "factor"), receptacles=0)
    else:
        limit = tables.value("water heater", "breaker for small")
    for breaker in device.breakers:
        if breaker.amps > limit:
            what = f"Water heater {device} draws {amps:.3g} A and is on {breaker.amps:g} A breaker {breaker}"
            yield Defect(f"{what}; {limit:g} A is the most for it.", cause=str(breaker))


@rule(
    "range-circuit-too-small",
    of="device",
    severity="marginal",
    likelihood="remote",
    caution="Warning: with oven and burners on, the circuit runs beyond its rating until the breaker trips. Use few "
    "burners at a time, and fit no larger breaker on the same wire.",
    defer="Demand of cooking appliances is for the adopted local code and a licensed electrician.",
    source="NFPA 70 (NEC) 210.19(A)(3), Table 220.55",
    basis="from memory",
)
def range_circuit_too_small(device, tables):
    """Range is on a circuit below the least one for its size.

    Only for ranges whose watts were recorded, from 8 3/4 kW on. Smaller ones
    go by their demand.
    """
    only_if(device.kind == "range")
    watts = given(device, "watts", 0)
    only_if(watts >= tables.value("range circuit", "from"))
    only_if(device.breakers)
    least = tables.value("range circuit", "breaker")
    for breaker in device.breakers:
        if breaker.amps < least:
            said = f"Range {device} of {watts:g} W is on {breaker.amps:g} A breaker {breaker}; {least:g} A at least."
            yield Defect(said, cause=str(breaker))


@rule(
    "lampholder-on-large-circuit",
    of="circuit",
    severity="critical",
    likelihood="remote",
    caution="Warning: an ordinary lampholder and its leads can burn in a fault that a breaker of this size rides "
    "through. Leave the lamp off.",
    defer="Heavy-duty lampholders and lighting outside dwellings follow other limits; the adopted local code and a "
    "licensed electrician decide.",
    source="NFPA 70 (NEC) 210.21(A), 210.23",
    basis="from memory",
)
def lampholder_on_large_circuit(circuit, tables, site):
    """Lampholder or luminaire of a dwelling is on a circuit larger than lighting may be on.

    Often a lamp added to a dryer or heater circuit. Outside dwellings larger
    circuits can be right with heavy-duty lampholders, and nothing is said.
    """
    held = [device for device in circuit.devices if device.kind in LAMPHOLDERS]
    only_if(held)
    breaker = max(circuit.breakers, key=lambda one: one.amps)
    limit = tables.value("lampholders", "largest circuit")
    only_if(breaker.amps > limit)
    only_if(site.kind in HOMES)
    verb = "is" if len(held) == 1 else "are"
    said = f"{names(held)} {verb} on {breaker.amps:g} A breaker {breaker}; lighting may be on {limit:g} A at most."
    yield Defect(said, parts=tuple(held))


@rule(
    "switch-overloaded",
    of="device",
    severity="critical",
    likelihood="remote",
    caution="Warning: contacts of an overloaded switch burn or weld, and it can start a fire or fail to switch off. "
    "Switch this load at its breaker until the switch is changed.",
    defer="Ratings by kind of load and derating of dimmers side by side are on the switch and in its instructions; the "
    "adopted local code and a licensed electrician decide.",
    source="NFPA 70 (NEC) 404.14",
    basis="from memory",
)
def switch_overloaded(device, tables, site):
    """Switch carries more than it is rated for.

    Adds the recorded loads on its switched side; loads without watts or amperes
    are not counted. Motors may use 80 percent of a switch. A dimmer can be
    recorded with the watts marked on it. Small loads ask for no rating.
    """
    only_if(device.kind in SWITCHES)
    found = {}
    for terminal in device.terminals:
        if terminal.name in ("load", "load_2") or (terminal.name == "common" and terminal.function == "switched"):
            found.update({str(other.device): other.device for other in terminal.net.terminals})
    loads = [(load, amps) for load in found.values() if (amps := amps_of(load, site, tables))]
    drawn = sum(amps for _, amps in loads)
    only_if(drawn > tables.value("switches", "smallest"))
    marked = given(device, "watts", 0) if device.kind == "dimmer" else 0
    limit = marked / volts_of(device, site, tables) if marked else device.rating
    motors = sum(amps for load, amps in loads if load.by_nameplate)
    share = tables.value("switches", "motors")
    if drawn > limit:
        yield f"{device.kind.capitalize()} {device} carries {drawn:.3g} A ({words_of(loads)}); rated {limit:.3g} A."
    elif motors > share * limit:
        yield (
            f"{device.kind.capitalize()} {device} carries motors of {motors:.3g} A; rated {limit:.3g} A, "
            f"{share * limit:.3g} A for motors."
        )


def _loads(circuit, site, tables):
    """The recorded loads of a circuit with one or two poles, as pairs of device and amperes; ranges left out."""
    found = [
        (device, amps)
        for device in circuit.devices
        if (amps := amps_of(device, site, tables)) and device.kind != "range"
    ]
    only_if(found)
    only_if(sum(breaker.poles for breaker in circuit.breakers) < 3)
    return found


def _fuller_pole(circuit, loads):
    """Amperes on the fuller pole, at least: loads between two poles in full, others spread evenly."""
    poles = sum(breaker.poles for breaker in circuit.breakers)
    return sum(amps if is_between(device) else amps / poles for device, amps in loads)


def _is_continuous(device):
    return device.kind in ALWAYS_CONTINUOUS or given(device, "continuous", False)
