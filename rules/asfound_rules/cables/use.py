"""Cables and cords where they are not made to be."""

from __future__ import annotations

from asfound.authoring import every, given, joined, names, only_if, rule
from asfound_rules.observed import noted

PLACES = "places a cable may run"
MARKED = "marking for use inside"
WHERE = {
    "dry inside": "inside", "attic": "in an attic", "crawl space": "in a crawl space", "basement": "in a basement",
    "wall cavity": "in a wall cavity", "outdoors": "outdoors", "underground": "under ground",
    "wet place": "in a wet place",
}  # fmt: skip


@rule(
    "cord-as-fixed-wiring",
    of="cable",
    severity="catastrophic",
    likelihood="remote",
    caution="Warning: cord in place of cable wears and overheats unseen and can start a fire or shock. Unload it and "
    "switch its circuit off until it is replaced.",
    defer="Listed cord to some appliances and luminaires is accepted; the adopted local code and a licensed "
    "electrician decide.",
    source="NFPA 70 (NEC) 400.12 (400.8 before 2017)",
    basis="from memory",
)
def cord_as_fixed_wiring(cable):
    """Flexible cord stands in for fixed wiring.

    Cord between two boxes or splices, in a wall or under ground. Cord from one
    box to an appliance or luminaire is left out.
    """
    only_if(noted(cable, "method") == "flexible cord")
    place = given(cable, "runs_in", "not noted")
    if place in ("wall cavity", "underground"):
        yield f"{cable} is flexible cord and runs {WHERE[place]}."
    elif len(cable.ends_in) == 2:
        yield f"{cable} is flexible cord and joins {names(cable.ends_in)} as fixed wiring."


@rule(
    "cable-in-wrong-place",
    of="cable",
    severity="catastrophic",
    likelihood="remote",
    caution="Warning: sun, earth and water destroy a cable not made for them, and what is wet around it can become "
    "live. Touch neither it nor wet metal near it; keep its circuit off.",
    defer="Editions and listings differ in what is a damp or wet place; the adopted local code and a licensed "
    "electrician decide.",
    source="NFPA 70 (NEC) 334.10, 334.12, 320.10, 320.12, 338.10, 338.12, 340.10",
    basis="from memory",
)
def cable_in_wrong_place(cable, tables):
    """Cable runs where its kind may not be.

    Speaks of kinds of cable and the harshest place of the run, as far as the
    table has them. A conduit outdoors or under ground is a wet place inside.
    Cable for the ground that is led on inside has a rule of its own.
    """
    place = noted(cable, "runs_in")
    method = noted(cable, "method")
    only_if(tables.has(PLACES, method, place))
    if not tables.value(PLACES, method, place):
        yield f"{cable} is {method} cable and runs {WHERE[place]}, where that kind may not be."


@rule(
    "ground-cable-led-inside",
    of="cable",
    severity="catastrophic",
    likelihood="improbable",
    caution="Warning: insulation made for the ground alone can carry a fire along inside a building. Keep heat and "
    "things that burn easily away from it; do not touch it where its covering is open.",
    defer="A short piece inside at a service is usual and often accepted; the adopted local code and a licensed "
    "electrician decide.",
    source="NFPA 70 (NEC) 338.12(B)(1)",
    basis="from memory",
)
def ground_cable_led_inside(cable, tables):
    """Cable made for the ground alone runs inside.

    Much USE cable bears a second marking, such as RHH or RHW-2, with which it
    may run inside; it has to be read on the insulation or in the legend. How
    far it runs inside is not in the record.
    """
    place = noted(cable, "runs_in")
    method = noted(cable, "method")
    only_if(tables.has(MARKED, method, place))
    letters = tables.value(MARKED, method, place)
    only_if(not _bears(given(cable, "legend", ""), letters))
    wires = [wire for wire in cable.conductors if given(wire, "colour", "") != "bare"]
    if not every(wires, lambda wire: _bears(wire.insulation, letters)):
        yield (
            f"{cable} is {method} cable and runs {WHERE[place]}; the insulation was read and bears none of the "
            f"letters for use inside ({', '.join(letters)})."
        )


def _bears(text, letters):
    """Whether a marking holds one of these letter groups."""
    return any(one in text.upper() for one in letters)


@rule(
    "knob-and-tube-under-insulation",
    of="cable",
    severity="catastrophic",
    likelihood="remote",
    caution="Warning: these conductors shed their heat into air; under insulation they overheat until the old covering "
    "fails and can start a fire. Load the circuit lightly and do not dig in the insulation; have a qualified person "
    "look at it.",
    defer="Many places allow it after inspection; the adopted local code and a licensed electrician decide.",
    source="NFPA 70 (NEC) 394.12(5), since the 1987 edition",
    basis="seen in text",
)
def knob_and_tube_under_insulation(cable, tables):
    """Knob-and-tube wiring lies in thermal insulation.

    The wiring alone is no defect. Older editions did not speak of insulation,
    and the insulation is mostly younger than the wire.
    """
    only_if(noted(cable, "method") == "knob-and-tube")
    only_if(cable.insulated_over)
    if not tables.value("knob-and-tube in insulation", "allowed"):
        yield f"{cable} is knob-and-tube wiring with thermal insulation around it."


@rule(
    "knob-and-tube-too-close",
    of="cable",
    severity="catastrophic",
    likelihood="improbable",
    caution="Warning: where these conductors touch each other or are pushed together they can arc and start a fire. Do "
    "not move or lean on them and keep away; have a qualified person put them right.",
    defer="Where the space is tight, conductors in unbroken insulating tubing are accepted; the adopted local code and "
    "a licensed electrician decide.",
    source="NFPA 70 (NEC) 394.19",
    basis="seen in text",
)
def knob_and_tube_too_close(cable, tables):
    """Knob-and-tube conductors run too close together.

    Exactly the clearance is enough. The clearance to the surface is not in the
    record.
    """
    apart = noted(cable, "spacing")
    only_if(noted(cable, "method") == "knob-and-tube")
    least = tables.value("clearances of knob-and-tube", "between conductors")
    if apart < least:
        yield f"Conductors of {cable} run {apart:g} in apart; the table asks for {least:g} in."


@rule(
    "luminaire-too-hot-for-cable",
    of="device",
    severity="catastrophic",
    likelihood="remote",
    caution="Warning: the heat above the lamp bakes the insulation until it falls off, and a fire can start over the "
    "ceiling. Use smaller lamps and switch it off when unattended; do not bend the old wires.",
    defer="The label of the luminaire decides what its supply must stand; the adopted local code and a licensed "
    "electrician decide.",
    source="NFPA 70 (NEC) 110.3(B), 334.112 (90 °C since the 1984 edition), 410.117",
    basis="seen in text",
)
def luminaire_too_hot_for_cable(device, tables):
    """Luminaire asks for supply wires of a higher temperature than those that feed it.

    Speaks only where the label of the luminaire was read. The rating of a wire
    is as read on it, else that of its kind of cable.
    """
    asked = noted(device, "lamp_c")
    wires = [*device.conductors, *(wire for box in device.box for wire in box.conductors)]
    rated = {str(wire): _withstands(wire, tables) for wire in wires if given(wire, "colour", "") != "bare"}
    cold = [tag for tag, degrees in rated.items() if degrees < asked]
    if cold:
        least = min(rated.values())
        verb = "is" if len(cold) == 1 else "are"
        yield f"{device.words} asks for supply wires of {asked:g} °C; {joined(cold)} {verb} made for {least:g} °C."


def _withstands(wire, tables):
    """Temperature in °C that the insulation of a wire is made for."""
    table = "temperature of cable conductors"
    marked = given(wire, "insulation_c", "not marked")
    if marked != "not marked":
        return marked
    return tables.value(table, wire.method) if tables.has(table, wire.method) else wire.insulation_c
