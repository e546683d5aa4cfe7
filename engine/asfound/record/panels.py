"""Panels and breakers: ratings, legs, ties and what feeds a panel."""

from __future__ import annotations

from typing import Any

from asfound.load.values import Map, Place
from asfound.record.context import NOWHERE, Context, given
from asfound.record.facts import EXACT, NOT_RECORDED, WEAK, Fact, Item, exact, unseen

_LEGS = {"120/240 split phase": 2, "208Y/120": 3, "230 single phase": 1}


def take_panels(context: Context) -> None:
    """Make the panels and breakers; feeders and ties when all are there."""
    record = context.record
    section = context.section("panels")
    for tag, held in section.items():
        panel = context.item("panel", tag, f"panel {tag}", section.key_places[tag], held)
        record.panels[tag] = panel
        context.places[tag] = panel
        context.take(panel, held)
        panel.data["where"] = held.get("where", "")
        spaces = _breakers(held)
        panel.data["breakers"] = tuple(_breaker(context, panel, space, spaces) for space in spaces)
        panel.data["feeder"] = ()
    for tag, held in section.items():
        _feeder(context, tag, held)
        for space, breaker in _breakers(held).items():
            if isinstance(breaker, Map) and "tied_with" in breaker:
                _tie(context, tag, space, breaker)
    _fed_by_itself(context)


def breaker_of(context: Context, reference: str) -> Item | None:
    """The breaker a reference such as `A 3` or `A 5/7` names, whole or by one of its spaces."""
    tag, _, space = reference.rpartition(" ")
    found = context.record.breakers.get((tag, space))
    if found is None and (tag, space) in context.record.poles:
        found = context.record.poles[tag, space][0]
    return found


def _breakers(panel: Map) -> Map:
    return panel.get("breakers") or Map(NOWHERE)


def _breaker(context: Context, panel: Item, space: str, holder: Map) -> Item:
    held = holder[space]
    place = holder.key_places[space]
    words = f"panel {panel.tag}, space {space}"
    breaker = context.item("breaker", f"{panel.tag} {space}", words, place, held)
    context.record.breakers[panel.tag, space] = breaker
    spaces = space.split("/")
    for number, single in enumerate(spaces):
        if (panel.tag, single) in context.record.poles:
            context.problem(place, panel.words, f"space {single} is given twice", "give each space once")
        context.record.poles[panel.tag, single] = (breaker, number)
    if isinstance(held, Map):
        context.take(breaker, held)
        if len(spaces) > 1 and breaker.data.get("tie", NOT_RECORDED).values == ("none",):
            cause = "it takes two spaces and says tie: none"
            context.problem(place, words, cause, "write it as two breakers, or correct the tie")
        if held.get("wired") is False:
            context.record.spare.add(breaker.tag)
    else:
        breaker.data["amps"] = context.fact(holder, space, "amps", breaker)
    breaker.data.setdefault("poles", exact(len(spaces), written=space, place=place))
    breaker.data.setdefault("kind", exact("breaker", place=place))
    breaker.data["panel"] = panel
    breaker.data["tied_with"] = ()
    breaker.data["legs"] = _legs(context, breaker, held, spaces, place)
    if given(breaker.data.get("label")):
        breaker.words += f", {breaker.data['label'].value}"
    return breaker


def _legs(context: Context, breaker: Item, held: Any, spaces: list[str], place: Place) -> Fact:
    """The leg of each pole: as measured, or by the order of spaces, which is only a hint."""
    supply = context.record.site.data["supply"]
    written = "/".join(spaces)
    most = max((_LEGS[system] for system in supply.values), default=3)
    if isinstance(held, Map) and "leg" in held:
        return _measured_legs(context, breaker, held, len(spaces), most)
    if supply.kind is not EXACT:
        return unseen("the supply is not certain, and the leg was not measured", place=place)
    if most == 1:
        return exact(("L1",) * len(spaces), place=place, written=written)
    if len(spaces) == 2 and most == 2:
        return exact(("L1", "L2"), place=place, written=written, note="two poles, one on each leg")
    if not spaces[0].isdigit():
        return unseen("a half-size or lettered space; its leg was not measured", place=place)
    row = (int(spaces[0]) - 1) // 2
    orders = tuple(_in_turn(row + shift, len(spaces), most) for shift in range(most))
    note = "by the order of spaces; measure between the two breakers to be sure"
    return Fact(WEAK, orders, written=written, place=place, how="position in the panel", note=note)


def _measured_legs(context: Context, breaker: Item, held: Map, poles: int, most: int) -> Fact:
    fact = context.fact(held, "leg", "leg", breaker, held.get("by", ""))
    known = [f"L{number + 1}" for number in range(most)]
    for leg in fact.values:
        if leg not in known:
            system = context.record.system or "supply"
            cause = f"there is no leg {leg} in a {system}"
            context.problem(
                held.places["leg"], breaker.words, cause, f"correct the leg or the supply: {', '.join(known)}"
            )
            return unseen("the leg does not belong to the supply", place=held.places["leg"])
    count = 3 if "L3" in fact.values else most
    fact.values = tuple(_in_turn(known.index(leg), poles, count) for leg in fact.values)
    return fact


def _in_turn(first: int, poles: int, legs: int) -> tuple[str, ...]:
    """The legs of neighbouring poles, beginning with leg number `first` from 0."""
    return tuple(f"L{(first + pole) % legs + 1}" for pole in range(poles))


def _feeder(context: Context, tag: str, held: Map) -> None:
    source = held.get("fed_from", "supply")
    panel = context.record.panels[tag]
    panel.data["service"] = (
        exact(source == "supply", written=str(source), place=held.places["fed_from"])
        if "fed_from" in held
        else NOT_RECORDED
    )
    if source == "supply":
        return
    found = breaker_of(context, source)
    if found is None:
        context.unknown(held.places["fed_from"], f"panel {tag}", source, context.names("sources"))
        return
    context.record.panels[tag].data["feeder"] = (found,)


def check_spares(context: Context) -> None:
    """Report breakers that are said to be spare and have a conductor on them."""
    record = context.record
    for conductor, panel, spot in record.landings:
        breaker = record.poles.get((panel, spot))
        if breaker is not None and breaker[0].tag in record.spare:
            held = _breakers(context.section("panels")[panel])[breaker[0].tag.removeprefix(f"{panel} ")]
            cause = f"it says that nothing lands on it, and {conductor.tag} does"
            context.problem(
                held.places["wired"], breaker[0].words, cause, "take out wired: false, or correct the cable"
            )


def _fed_by_itself(context: Context) -> None:
    """Report panels that feed each other in a ring."""
    reported: set[str] = set()
    for panel in context.record.panels.values():
        way: dict[str, None] = {}
        at: Item | None = panel
        while at is not None and at.tag not in way:
            way[at.tag] = None
            feeder = at.data["feeder"]
            at = feeder[0].data["panel"] if feeder else None
        if at is panel and not reported & way.keys():
            reported |= way.keys()
            place = context.section("panels")[panel.tag].places["fed_from"]
            context.problem(
                place, panel.words, "it is fed through itself", "correct fed_from; one panel is fed by supply"
            )


def _tie(context: Context, tag: str, space: str, held: Map) -> None:
    record = context.record
    place = held.places["tied_with"]
    named = held["tied_with"]
    other_space = str(int(named) if isinstance(named, float) else named)
    other = record.breakers.get((tag, other_space))
    this = record.breakers[tag, space]
    if other is None or other is this:
        known = [s for p, s in record.breakers if p == tag and s != space]
        context.unknown(place, f"panel {tag}, breaker {space}", other_space, known)
        return
    tie = this.data.get("tie")
    if isinstance(tie, Fact) and tie.values == ("none",):
        cause = f"it is tied with {other_space} and says tie: none"
        context.problem(place, f"panel {tag}, breaker {space}", cause, "keep one of the two")
        return
    for one, two in ((this, other), (other, this)):
        if two not in one.data["tied_with"]:
            one.data["tied_with"] += (two,)
        one.data.setdefault("tie", exact("handle tie", written=other_space, place=place))
