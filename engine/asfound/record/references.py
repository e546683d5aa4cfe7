"""What the words of a record refer to: `W1 black`, `R1 hot`, `A 3`, `A neutral bar`, `hall box`, `earth`."""

from __future__ import annotations

import re

from asfound.load.values import Place, shown
from asfound.record.context import Context, Member
from asfound.record.facts import Item
from asfound.record.panels import breaker_of
from asfound.record.places import terminals_of

SIDE = re.compile(r"(.*) \((from|to)\)\Z")
BARS = ("neutral bar", "ground bar")


def member(context: Context, reference: str, at: Item | None, place: Place, where: str) -> Member | None:
    """The conductor, device terminal or box that is named in a joint or at a terminal; None when it is not there.

    `at` is where that joint or terminal is; `box` alone stands for its metal.
    """
    if reference == "box":
        if at is not None and at.kind == "box":
            return "box", at
        context.problem(place, where, "'box' is named where there is no box", "name the conductor ends only")
        return None
    text = SIDE.sub(r"\1", reference) if reference.endswith(")") else reference
    if text in context.conductors:
        return "conductor", context.conductors[text]
    if text in context.terminals:
        return "terminal", context.terminals[text]
    _not_there(context, reference, text, place, where)
    return None


def point(context: Context, reference: str, place: Place, where: str) -> Member | None:
    """What a reading, log entry or label speaks of; None when it is not there."""
    record = context.record
    if reference == "earth":
        return "earth", None
    for sort, held in (
        ("panel", record.panels),
        ("box", record.boxes),
        ("device", record.devices),
        ("cable", record.cables),
        ("joint", record.joints),
    ):
        if reference in held:
            return sort, held[reference]
    breaker = breaker_of(context, reference)
    if breaker is not None:
        return "breaker", breaker
    for bar in BARS:
        panel = record.panels.get(reference.removesuffix(f" {bar}"))
        if panel is not None:
            return "bar", (panel, bar)
    box = record.boxes.get(reference.removesuffix(" box"))
    if box is not None:
        return "box", box
    return member(context, reference, None, place, where)


def _not_there(context: Context, reference: str, text: str, place: Place, where: str) -> None:
    """Report a conductor or terminal that is not there, as far as its first words say what was meant."""
    if context.is_withheld(text):
        return
    words = text.split(" ")
    for cut in range(len(words), 0, -1):
        tag, rest = " ".join(words[:cut]), " ".join(words[cut:])
        if tag in context.lost and tag in context.record.cables and not context.record.cables[tag].data["conductors"]:
            return  # its type could not be read, and that is reported
        if tag in context.record.cables:
            _no_conductor(context, context.record.cables[tag], rest, place, where)
            return
        if tag in context.record.devices:
            terminals = terminals_of(context.record.devices[tag])
            context.unknown(place, where, reference, [f"{tag} {name}" for name in terminals])
            return
    tag, _, rest = text.rpartition(" ")
    wired = context.names("wired")
    for guess in wired.close(tag or text):
        if f"{guess} {rest}" in context.conductors or f"{guess} {rest}" in context.terminals:
            step = f"did you mean '{guess} {rest}'"
            context.problem(place, where, f"{shown(reference)} is used and not defined", step)
            return
    context.problem(
        place, where, f"{shown(reference)} is used and not defined", wired.hint(tag or text, "cables and devices")
    )


def _no_conductor(context: Context, cable: Item, name: str, place: Place, where: str) -> None:
    known = [conductor.tag for conductor in cable.data["conductors"]]
    if not known:
        cause = f"no conductors of cable {cable.tag} are recorded"
        context.problem(place, where, cause, "give its type, or name them under conductors")
    elif not name:
        cause = f"{cable.tag!r} is a whole cable, and one conductor of it is wanted"
        context.problem(place, where, cause, f"write one of {', '.join(known[:12])}")
    else:
        context.unknown(place, where, f"{cable.tag} {name}", known)
