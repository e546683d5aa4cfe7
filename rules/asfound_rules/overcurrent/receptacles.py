"""Receptacles against the circuit they are on, and what is plugged into them."""

from __future__ import annotations

from asfound.authoring import Defect, given, joined, names, only_if, rule

SEVERAL = "receptacles on a circuit of several"
SMALLEST = 15
"""A of the smallest receptacle made, whose rating need not be asked for; common practice, no source."""


@rule(
    "receptacle-below-circuit",
    of="circuit",
    severity="critical",
    likelihood="occasional",
    caution="Warning: what is plugged in can draw more than the receptacle carries, and it can char before the breaker "
    "opens. Plug nothing in here.",
    defer="Receptacles for one welder or motor follow rules of their own; the adopted local code and a licensed "
    "electrician decide.",
    source="NFPA 70 (NEC) Table 210.21(B)(3); 29 CFR 1910.304 Table S-5",
    basis="seen in text",
)
def receptacle_below_circuit(circuit, tables):
    """Receptacles are rated below their circuit of several outlets.

    A duplex counts as two receptacles. A 15 A receptacle on a 20 A circuit is
    usual and right. A single receptacle alone on its circuit and a range
    receptacle are left to rules of their own.
    """
    breaker, held, fitting = _several(circuit, tables, max)
    held = [device for device in held if device.kind != "range receptacle"]
    only_if(held and fitting[0] > SMALLEST)
    small = [device for device in held if given(device, "rating", fitting[0]) < fitting[0]]
    only_if(small or all(device.rating for device in held))
    if small:
        yield _against(small, breaker, fitting)


@rule(
    "receptacle-above-circuit",
    of="circuit",
    severity="negligible",
    likelihood="occasional",
    caution="Notice: the face promises more than the circuit gives. Do not judge the circuit by its receptacles; read "
    "the breaker and the wire.",
    defer="Whether a receptacle has to be changed is for the adopted local code and licensed practice.",
    source="NFPA 70 (NEC) Table 210.21(B)(3); 29 CFR 1910.304 Table S-5",
    basis="seen in text",
)
def receptacle_above_circuit(circuit, tables):
    """Receptacles are rated above their circuit of several outlets.

    A 20 A face on a 15 A circuit invites a load that trips the breaker, or a
    larger breaker on the small wire. A receptacle whose rating is not recorded
    is taken as an ordinary one of 15 A.
    """
    breaker, held, fitting = _several(circuit, tables, min)
    large = [device for device in held if given(device, "rating", SMALLEST) > fitting[-1]]
    if large:
        yield _against(large, breaker, fitting)


@rule(
    "single-receptacle-below-circuit",
    of="device",
    severity="critical",
    likelihood="remote",
    caution="Warning: the breaker lets through more than this receptacle carries, so it can char under a large load. "
    "Plug in nothing that draws more than its rating.",
    defer="Receptacles for one welder or motor follow rules of their own; the adopted local code and a licensed "
    "electrician decide.",
    source="NFPA 70 (NEC) 210.21(B)(1), (B)(4); 29 CFR 1926.404(b)(2)(i)",
    basis="seen in text",
)
def single_receptacle_below_circuit(device, tables):
    """Single receptacle alone on its circuit is rated below the circuit.

    Alone means that nothing else is recorded on the circuit. A range receptacle
    may go by the demand of one range instead of the breaker.
    """
    only_if(device.receptacles == 1)
    only_if(device.breakers)
    for breaker in device.breakers:
        if not is_alone(device, breaker):
            continue
        least = breaker.amps
        if device.kind == "range receptacle":
            least = min(least, tables.value("range receptacle", "least by demand"))
        if least > SMALLEST and device.rating < least:
            said = (
                f"{device.rating:g} A {device.kind} {device} is alone on {breaker.amps:g} A breaker {breaker}; "
                f"it should be {least:g} A at least."
            )
            yield Defect(said, cause=str(breaker))


@rule(
    "plugged-load-over-receptacle",
    of="device",
    severity="critical",
    likelihood="remote",
    caution="Warning: a receptacle loaded to its limit for hours overheats at a worn contact and can start a fire. "
    "Unplug the load; feel for warmth and look for browning.",
    defer="The adopted local code and a licensed electrician decide where such a load may be plugged in.",
    source="NFPA 70 (NEC) Table 210.21(B)(2); 29 CFR 1910.304 Table S-4",
    basis="seen in text",
)
def plugged_load_over_receptacle(device, tables):
    """Load plugged in is more than the receptacle may carry.

    On a circuit of several outlets 80 percent of the receptacle's rating, on
    its own circuit the rating itself. Only the largest load somebody recorded
    counts; what else is plugged in is not seen.
    """
    only_if(device.receptacles)
    load = given(device, "plugged_amps", 0)
    only_if(load)
    alone = any(is_alone(device, breaker) for breaker in device.breakers)
    limit = device.rating
    if not alone and tables.has("largest load plugged in", f"{limit:g}"):
        limit = tables.value("largest load plugged in", f"{limit:g}")
    if load > limit:
        where = "alone on its circuit" if alone else "on a circuit with other outlets"
        what = f"{load:g} A is plugged into {device.rating:g} A {device.kind} {device}"
        yield f"{what} {where}; the limit is {limit:g} A."


def is_alone(device, breaker):
    """Whether a receptacle is a single one with the circuit of a breaker to itself."""
    if device.receptacles > 1 or breaker.receptacles > 1:
        return False
    return not [other for other in breaker.devices if other.is_load]


def _several(circuit, tables, which):
    """The largest or smallest breaker of a circuit of several outlets, its receptacles, and the ratings that fit."""
    held = [device for device in circuit.devices if device.receptacles]
    only_if(held)
    breaker = which(circuit.breakers, key=lambda one: one.amps)
    only_if(tables.has(SEVERAL, f"{breaker.amps:g}"))
    fitting = tables.value(SEVERAL, f"{breaker.amps:g}")
    only_if(breaker.receptacles > 1 or [device for device in circuit.devices if device.is_load])
    return breaker, held, fitting


def _against(found, breaker, fitting):
    ratings = joined(f"{amps:g}" for amps in sorted({device.rating for device in found}))
    what = f"Receptacle {names(found)} rated {ratings} A is"
    if len(found) > 1:
        what = f"Receptacles {names(found)} rated {ratings} A are"
    allowed = " or ".join(f"{amps:g}" for amps in fitting)
    said = f"{what} on {breaker.amps:g} A breaker {breaker} with other outlets; fitting is {allowed} A."
    return Defect(said, parts=tuple(found))
