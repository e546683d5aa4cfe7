"""Conditions that fit a set of readings and are not what the record says."""

from __future__ import annotations

from asfound.authoring import given, joined, names, only_if, rule

SOURCE = (
    "Circuit theory: outlet wiring voltages worked out under every condition; EC&M, Failures in Outlet Testing (2013)"
)


@rule(
    "readings-fit-what-can-kill",
    of="probe",
    severity="catastrophic",
    likelihood="occasional",
    caution="Danger: with this condition, metal or a neutral that looks harmless can stand at full voltage and can "
    "kill. Keep everyone off it and open the breaker until a qualified person has taken the reading that tells it "
    "apart.",
    defer="What is to be tested and by whom is for licensed practice; the adopted local code decides how it is mended.",
    source=SOURCE,
    basis="seen in text",
)
def readings_fit_what_can_kill(probe):
    """Readings fit a condition that can kill, and the record does not say so.

    Where several conditions fit, this is a question: readings alone leave them
    all standing, and the reading that tells them apart best is named. Coupled
    voltage, tripping devices and electronic loads can give the same readings.
    A second feed behind breakers that are off has a rule of its own.
    """
    only_if(probe.explained)
    condition = probe.fits
    only_if(condition != "second feed" or not any(given(one, "off_then", ()) for one in probe.readings))
    if condition in probe.lethal and condition != probe.recorded_as:
        yield _sentence(probe)


@rule(
    "readings-fit-a-fault",
    of="probe",
    severity="critical",
    likelihood="occasional",
    caution="Warning: a fault that shows in readings can start a fire or leave metal live with the next fault. Switch "
    "the circuit off until a qualified person has found it.",
    defer="What is to be tested and by whom is for licensed practice; the adopted local code decides how it is mended.",
    source=SOURCE,
    basis="seen in text",
)
def readings_fit_a_fault(probe):
    """Readings fit a fault that the record does not say.

    Speaks of faults that do not kill by themselves; the others have a rule of
    their own. Where several conditions fit, this is a question, unless every
    one of them is a fault: then only which one it is is open.
    """
    only_if(probe.explained)
    only_if(probe.recorded_as not in probe.faults)
    left = probe.open_conditions
    only_if(not left or any(one not in probe.lethal for one in left))
    if left and all(one in probe.faults for one in left):
        yield _sentence(probe)
        return
    condition = probe.fits
    if condition in probe.faults and condition not in probe.lethal:
        yield _sentence(probe)


@rule(
    "readings-not-explained",
    of="probe",
    severity="negligible",
    likelihood="occasional",
    caution="Notice: something is there that is not known. Treat everything at this place as live, and have the "
    "readings repeated by a qualified person with an instrument proven before and after.",
    defer="A remark about the record and the readings; the adopted local code and a licensed electrician decide.",
    source="Common practice, no source: readings that nothing explains are repeated",
    basis="common practice",
)
def readings_not_explained(probe):
    """No condition explains the readings.

    Tried are the record as written and every condition that is listed, with
    loads on and off. A misread figure, a reading written at the wrong point or
    two faults at once can be behind it.
    """
    if not probe.explained:
        yield f"Readings {names(probe.readings)} at {probe.at}: no single condition that is listed explains them all."


def _sentence(probe):
    """The readings, all conditions left, the metal that can be live, and what tells them apart."""
    left = probe.open_conditions
    faults = given(probe, "faults", ())
    every = ", every one of them a fault" if all(one in faults for one in left) else ""
    many = f"fit {len(left)} conditions{every}: {joined(left)}" if len(left) > 1 else f"fit one condition: {left[0]}"
    metal = given(probe, "live_metal", ())
    live = f" Metal that can be live: {joined(metal)}." if metal else ""
    step = given(probe, "next_step", "")
    told = f" To tell them apart: {step.rstrip('.')}." if step and len(left) > 1 else ""
    return f"Readings {names(probe.readings)} at {probe.at} {many}.{live}{told}"
