"""The ends of cables: where they are, what their conductors land on, and the state of each end."""

from __future__ import annotations

from typing import Any

from asfound.load.values import Map, Place, shown
from asfound.record.colours import is_ground, is_white
from asfound.record.context import Context
from asfound.record.facts import EXACT, Fact, Item, exact, unseen
from asfound.record.panels import breaker_of
from asfound.record.references import SIDE

_NOT_TRACED = ("not traced", "untraced")
_LANDINGS = ("breaker ", "lug ", "neutral bar", "ground bar")


def take_side(context: Context, cable: Item, held: Map, side: str) -> Item | None:
    """Where one end of a cable is; makes an end for each conductor, with the states that are said of it."""
    value = held.get(side)
    at: Item | None = None
    reason = "not recorded"
    if isinstance(value, str) and value in _NOT_TRACED:
        reason = "not traced"
    elif isinstance(value, str):
        at = _go(context, cable, value, side, held.places[side], ())
    elif isinstance(value, Map):
        at, reason = _long_form(context, cable, value, side, held.places[side])
    _make_ends(context, cable, side, at, reason, held.places.get(side, cable.place))
    if isinstance(value, Map):
        for name in value:
            if name not in ("at", "not_seen"):
                _state(context, cable, value, name, side)
    if at is not None and at.kind == "box":
        at.data["conductors"].extend(cable.data["conductors"])
        at.data["cables"].append(cable)
        cable.data["boxes"] += (at,)
    return at


def _long_form(context: Context, cable: Item, value: Map, side: str, place: Place) -> tuple[Item | None, str]:
    """The place in `{at: hall, red: capped}`, or the reason in `{not_seen: ...}`."""
    where = f"cable {cable.tag}, {side}"
    if "at" in value and "not_seen" in value:
        context.problem(place, where, "it says where this end is and that it was not seen", "keep one of the two")
    if "at" in value:
        return _go(context, cable, value["at"], side, value.places["at"], value), "not recorded"
    if "not_seen" in value:
        return None, value["not_seen"]
    context.problem(place, where, "it does not say where this end is", "add at: or not_seen:")
    return None, "not recorded"


def _make_ends(context: Context, cable: Item, side: str, at: Item | None, reason: str, place: Place | None) -> None:
    boxes = (at,) if at is not None and at.kind == "box" else ()
    for conductor in cable.data["conductors"]:
        end = Item("end", f"{conductor.tag} ({side})", conductor.tag, place, cable.visit)
        end.data.update(conductor=conductor, boxes=boxes, at=at, reason=reason)
        if at is not None:
            end.words = f"{conductor.tag} at {at.words}"
        conductor.data["ends"] += (end,)
        context.record.ends.append(end)


def _go(context: Context, cable: Item, reference: str, side: str, place: Place, said: Any) -> Item | None:
    """Resolve a place; a panel with a breaker also lands the conductors as usual, less those `said` otherwise."""
    if reference in context.places:
        return context.places[reference]
    if breaker_of(context, reference) is not None:
        tag, _, space = reference.rpartition(" ")
        _land_as_usual(context, cable, side, tag, space.split("/"), said)
        return context.record.panels[tag]
    context.unknown(place, f"cable {cable.tag}, {side}", reference, context.names("cable ends"))
    context.lost.add(cable.tag)
    return None


def _land_as_usual(context: Context, cable: Item, side: str, panel: str, poles: list[str], said: Any) -> None:
    """The short form `A 3`: coloured conductors on the poles in order, white on neutral, bare on ground.

    With more poles than coloured conductors, white takes a pole, as on a 240 V load without neutral.
    """
    conductors = [c for c in cable.data["conductors"] if c.tag.removeprefix(f"{cable.tag} ") not in said]
    grounds = [c for c in conductors if is_ground(c)]
    whites = [c for c in conductors if is_white(c)]
    coloured = [c for c in conductors if c not in grounds and c not in whites]
    for conductor, pole in zip([*coloured, *whites], poles, strict=False):
        _land(context, conductor, side, panel, pole)
    for conductor in whites[max(0, len(poles) - len(coloured)) :]:
        _land(context, conductor, side, panel, "neutral bar")
    for conductor in grounds:
        _land(context, conductor, side, panel, "ground bar")


def _land(context: Context, conductor: Item, side: str, panel: str, spot: str) -> None:
    context.used[conductor.tag, side] = f"panel {panel}"
    context.record.landings.append((conductor, panel, spot))


def _state(context: Context, cable: Item, holder: Map, name: str, side: str) -> None:
    """The state said of the end of one conductor; a landing only when it was seen and is the only one possible."""
    where = f"cable {cable.tag}, {side}"
    place = holder.places[name]
    conductor = context.conductors.get(f"{cable.tag} {name}")
    if conductor is None or conductor.data["cable"] is not cable:
        if cable.tag not in context.lost or cable.data["conductors"]:
            names = [c.tag.removeprefix(f"{cable.tag} ") for c in cable.data["conductors"]]
            context.unknown(holder.key_places[name], where, name, names)
        return
    fact = context.fact(holder, name, "state", conductor.data["ends"][-1])
    landings = [text for text in fact.values if text.startswith(_LANDINGS)]
    panel = _panel_of(context, holder)
    for text in landings:
        if panel is None:
            if not context.is_withheld(str(holder.get("at", ""))) and cable.tag not in context.lost:
                cause = f"{shown(text)} is said of an end that is not at a panel"
                context.problem(place, where, cause, "give at: the panel tag")
            return
        if text.startswith("breaker ") and (panel, text.removeprefix("breaker ")) not in context.record.poles:
            known = [space for tag, space in context.record.poles if tag == panel]
            context.unknown(place, where, text.removeprefix("breaker "), known)
            return
    if landings and fact.kind is EXACT and panel is not None:
        _land(context, conductor, side, panel, landings[0].removeprefix("breaker "))
        return
    if landings:
        how = "" if fact.how == "as written" else f", {fact.how}"
        fact = unseen(f"said to be on {fact.written}{how}; not seen", place=place, written=fact.written)
    elif "not traced" in fact.values:
        fact = unseen("not traced", place=place, written=fact.written)
    context.states[conductor.tag, side] = (fact, place)


def _panel_of(context: Context, holder: Map) -> str | None:
    reference = str(holder.get("at", ""))
    if reference in context.record.panels:
        return reference
    tag = reference.rpartition(" ")[0]
    return tag if tag in context.record.panels else None


def use_end(
    context: Context, conductor: Item, reference: str, at: Item | None, taker: str, where: str, place: Place
) -> None:
    """Note that `taker` takes the end of `conductor` that is `at` a place; report an end taken twice or not there."""
    cable = conductor.data["cable"]
    sides = context.sides[cable.tag]
    here = [side for side, held in sides.items() if held is at and at is not None]
    match = SIDE.match(reference) if reference.endswith(")") else None
    if match:
        here = [side for side in here if side == match.group(2)]
    if not here:
        if at not in context.passed.get(cable.tag, ()) and cable.tag not in context.lost:
            _no_end_here(context, cable, at, where, place)
        return
    free = [side for side in here if (conductor.tag, side) not in context.used]
    if not free:
        taken = context.used[conductor.tag, here[0]]
        cause = f"the end of {conductor.tag} here is already in {taken}"
        context.problem(place, where, cause, "name each end once")
    elif len(free) == 2 and not match:
        step = f"write {conductor.tag} (from) or {conductor.tag} (to)"
        context.problem(place, where, f"both ends of {conductor.tag} are here", step)
    else:
        context.used[conductor.tag, free[0]] = taker


def _no_end_here(context: Context, cable: Item, at: Item | None, where: str, place: Place) -> None:
    ends = [f"{side} {held.tag}" for side, held in context.sides[cable.tag].items() if held is not None]
    known = f"its recorded ends are: {' and '.join(ends)}" if ends else "none of its ends is recorded"
    cause = f"cable {cable.tag} has no end at {at.tag if at is not None else 'here'!r}"
    context.problem(place, where, cause, f"{known}; correct from or to of {cable.tag}, or the joint")


def close_ends(context: Context) -> None:
    """Give every end its state: by joint, terminal or landing, as written, or not recorded."""
    for conductor in context.record.conductors:
        for end, side in zip(conductor.data["ends"], ("from", "to"), strict=True):
            used = context.used.get((conductor.tag, side))
            said = context.states.get((conductor.tag, side))
            if used is not None and said is not None:
                where = f"cable {conductor.data['cable'].tag}, {side}"
                cause = f"{conductor.tag} is given a state here and is also in {used}"
                context.problem(said[1], where, cause, "keep one of the two")
            end.data["state"] = said[0] if said is not None else _state_by(end, used)


def _state_by(end: Item, used: str | None) -> Fact:
    if used is None:
        return unseen(end.data["reason"], place=end.place)
    word = "spliced" if used.startswith("joint ") else "landed"
    return exact(word, place=end.place, written=used, note=used)


__all__ = ["close_ends", "take_side", "use_end"]
