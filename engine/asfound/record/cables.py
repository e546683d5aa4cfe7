"""Cables and their conductors: what the type brings, what is said otherwise, and what follows from it."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from asfound.data import data
from asfound.load.values import Map, Place
from asfound.record.cabletypes import CableType, NotACable, parse_type
from asfound.record.colours import colour_in, is_ground
from asfound.record.context import NOWHERE, Context, given
from asfound.record.ends import take_side
from asfound.record.facts import ASSUMED, EXACT, NOT_RECORDED, WEAK, Fact, Item, exact, neighbours, strength, unseen

_OWN = ("gauge", "metal")
"""Facts a conductor shares with its cable unless it has its own."""


def take_cables(context: Context) -> None:
    """Make every cable with its conductors and ends."""
    section = context.section("cables")
    year = _building_year(context)
    for tag, value in section.items():
        cable = context.item("cable", tag, f"cable {tag}", section.key_places[tag], value)
        context.record.cables[tag] = cable
        short = not isinstance(value, Map)
        held: Map = Map(NOWHERE) if short else value
        brought = _type(context, cable, section if short else held, tag if short else "type")
        context.take(cable, held)
        if "gauge" not in cable.data:
            _size_by_jacket(context, cable)
        cable.data["conductors"] = _conductors(context, cable, brought, held, year)
        _places(context, cable, held)


def _type(context: Context, cable: Item, holder: Map, key: str) -> Iterable[str]:
    """Take what the type says; give the names of the conductors it brings."""
    if key not in holder:
        return ()
    fact = context.fact(holder, key, "type", cable)
    place = holder.places[key]
    parsed: list[CableType] = []
    for text in fact.values:
        try:
            parsed.append(parse_type(str(text)))
        except NotACable as error:
            context.problem(place, cable.words, error.cause, error.step)
            context.lost.add(cable.tag)
            return ()
    if not parsed:
        return ()
    if any(one.conductors != parsed[0].conductors for one in parsed):
        step = "list the conductors that were seen under conductors, and what differs as gauge: 14 or 12"
        context.problem(place, cable.words, "the types listed bring different conductors", step)
    for name in ("gauge", "metal", "method"):
        values = tuple(dict.fromkeys(getattr(one, name) for one in parsed if getattr(one, name)))
        if values:
            cable.data[name] = _from_type(name, values, fact)
    return parsed[0].conductors


def _from_type(name: str, values: tuple[str, ...], fact: Fact) -> Fact:
    """A fact that the type brings, as surely known as the type."""
    kind = fact.kind
    if len(values) == 1:
        kind = EXACT if strength(fact.how) == "observed" else WEAK
        if name == "gauge" and kind is WEAK:
            values = (*values, *neighbours(name, values[0], fact.how))
    return fact.restated(kind, values)


def _size_by_jacket(context: Context, cable: Item) -> None:
    """A jacket colour suggests a size on cable put in since the makers agreed on colours."""
    jacket = cable.data.get("jacket")
    method = cable.data.get("method")
    table = data("jacket_colours")
    if not isinstance(jacket, Fact) or len(jacket.values) != 1:
        return
    sizes = table["gauge"].get(jacket.value)
    if not sizes or (given(method) and not set(method.values) <= set(table["methods"])):
        return
    about: dict[str, Any] = {
        "written": jacket.written,
        "place": jacket.place,
        "how": "jacket colour",
        "by": jacket.by,
        "visit": jacket.visit,
    }
    own = cable.data.get("installed")
    year = own or context.record.site.data.get("built")
    if not given(year):
        return
    if min(year.values) < table["from_year"]:
        since = table["from_year"]
        reason = f"jacket colours say nothing on cable older than {since}"
        if own is None:
            reason = f"the building is older than {since}, and before that jacket colours said nothing of the size"
        cable.data["gauge"] = unseen(reason, **about)
    elif len(sizes) > 1:
        cable.data["gauge"] = Fact(ASSUMED, tuple(sizes), **about)
    else:
        cable.data["gauge"] = Fact(WEAK, (sizes[0], *neighbours("gauge", sizes[0], "jacket colour")), **about)


def _building_year(context: Context) -> Fact:
    """The building's year stands in for the cable's, as a weak fact."""
    built = context.record.site.data.get("built")
    if not isinstance(built, Fact) or not built.values:
        return NOT_RECORDED
    kind = WEAK if built.kind is EXACT else built.kind
    return built.restated(kind, built.values, "year of the building; the cable can be younger")


def _conductors(context: Context, cable: Item, brought: Iterable[str], held: Map, year: Fact) -> tuple[Item, ...]:
    own: Map = held.get("conductors") or Map(NOWHERE)
    made = []
    for name in dict.fromkeys([*brought, *own]):
        place = own.key_places.get(name, cable.place or NOWHERE)
        made.append(_conductor(context, cable, name, own.get(name), place, year))
    return tuple(made)


def _conductor(context: Context, cable: Item, name: str, value: Any, place: Place, year: Fact) -> Item:
    tag = f"{cable.tag} {name}"
    conductor = Item("conductor", tag, tag, place, cable.visit)
    if isinstance(value, Map):
        named = context.item("conductor", tag, tag, place, value)
        conductor.visit = named.visit or cable.visit
        context.take(conductor, value)
    colour = colour_in(name)
    if colour and "colour" not in conductor.data:
        conductor.data["colour"] = exact(colour, written=name, place=place)
    if is_ground(conductor):
        if "gauge" in conductor.data:
            cable.data.setdefault("ground_gauge", conductor.data["gauge"])
        else:
            conductor.data["gauge"] = _ground_size(cable)
    for fact in (*_OWN, "method"):
        if fact in cable.data:
            conductor.data.setdefault(fact, cable.data[fact])
    conductor.data["installed"] = cable.data.get("installed") or year
    conductor.data["cable"] = cable
    conductor.data["ends"] = ()
    context.record.conductors.append(conductor)
    context.conductors.setdefault(tag, conductor)
    return conductor


def _ground_size(cable: Item) -> Fact:
    """As recorded; else as the circuit conductors up to 10 AWG, which older cable did not always keep to."""
    own = cable.data.get("ground_gauge")
    if isinstance(own, Fact):
        return own
    size = cable.data.get("gauge")
    if not isinstance(size, Fact) or not size.values or size.value not in ("14", "12", "10"):
        return NOT_RECORDED
    method = cable.data.get("method")
    modern = given(method) and method.value in ("NM-B", "UF-B", "MC")
    if size.kind is not EXACT or modern:
        return size
    ladder = data("ways")["neighbours"]["gauge"]["ladder"]
    smaller = ladder[ladder.index(size.value) - 1]
    note = "grounding conductor taken to be as large as the others; older cable often has a smaller one"
    return size.restated(WEAK, (size.value, smaller), note)


def _places(context: Context, cable: Item, held: Map) -> None:
    """Put both ends of the cable where they go, and the cable through the boxes it passes."""
    conductors = cable.data["conductors"]
    cable.data["boxes"] = ()
    sides = {side: take_side(context, cable, held, side) for side in ("from", "to")}
    cable.data["sides"] = sides
    context.sides[cable.tag] = sides
    at = [place.words for place in sides.values() if place is not None]
    if at:
        cable.words = f"cable {cable.tag}, {' to '.join(at)}" if len(at) == 2 else f"cable {cable.tag} at {at[0]}"
    for conductor in conductors:
        conductor.words = f"{conductor.tag}, {cable.words}"
    passes: Map = held.get("passes") or Map(NOWHERE)
    for tag, how in passes.items():
        box = context.record.boxes.get(tag)
        if box is None:
            context.unknown(passes.key_places[tag], f"cable {cable.tag}, passes", tag, context.names("boxes"))
            continue
        box.data["looped" if how == "looped" else "passing"].extend(conductors)
        box.data["cables"].append(cable)
        context.passed.setdefault(cable.tag, []).append(box)
