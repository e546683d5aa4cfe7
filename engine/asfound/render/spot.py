"""One place or one conductor of a trace: what comes in, from where and where to; what it is joined to, and how it is
known."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from asfound.record.facts import EXACT, NOT_RECORDED, Fact, Item
from asfound.render.factwords import cable_words, device_words, doubt_words, where_words
from asfound.render.flags import Flag
from asfound.render.lines import rule_line, wrap
from asfound.render.rows import Rows, cable_state, state_of, worst
from asfound.render.tree import (
    MARKS,
    STATES,
    Layout,
    end_lines,
    feed_lines,
    feed_words,
    flag_lines,
    leads_words,
    spot_words,
    state_lines,
)  # fmt: skip
from asfound.render.values import BY_LOOK, SEEN, End, Feed, Lead, Line, Spot
from asfound.trace.beyond import KEPT, Beyond, beyond
from asfound.trace.nets import by_tag
from asfound.trace.walk import Run, Wire
from asfound.wording import joined, plural, quoted_list

MOST_STEPS = 12
"""Steps of a way back that are spelled out; of a longer one the nearest and the last."""


@dataclass(slots=True)
class Entering:
    """A cable in a place. `way` is from (the side of the panel), to, between where no way decides, or through."""

    cable: str
    what: str
    way: str
    others: list[Spot]
    leads: list[Lead]
    feeds: list[Feed]
    state: str
    traced: str
    leads_to: list[str]
    more: int
    open: bool
    again: bool
    flags: list[Flag]


@dataclass(slots=True)
class Held:
    """Conductor ends held together, or the terminals of a device with what is under each."""

    item: str
    what: str
    members: list[str]
    does: str
    known: str
    fed_by: list[str]
    state: str


@dataclass(slots=True)
class Place:
    """A place with all that is in it."""

    place: str
    what: str
    enters: list[Entering]
    joints: list[Held]
    devices: list[Held]
    ends: list[End]
    flags: list[Flag]


@dataclass(slots=True)
class Step:
    """One step back towards the panel: the conductor, and where it meets the one before it."""

    conductor: str
    at: str


@dataclass(slots=True)
class Conductor:
    """One conductor: what it is, what it is joined to, what feeds it, and the way back."""

    conductor: str
    what: str
    between: list[Spot]
    colour: str
    marked: str
    does: str
    known: str
    why: str
    state: str
    reason: str
    feed: Feed
    joined_to: list[str]
    terminals: list[str]
    metal: list[str]
    way_back: list[Step]
    lands: str
    ends: list[End]


@dataclass(slots=True)
class Wires:
    """Some conductors of one cable, and the way on from it."""

    cable: str
    conductors: list[Conductor]
    flags: list[Flag]
    way_on: list[Line]


# -- data


def place_of(rows: Rows, place: Item) -> Place:
    """Everything in a box, an open place, or a device that has no box."""
    lies = beyond(rows.walked)
    cables = by_tag(_cables_at(rows, place))
    devices = place.data["devices"] if place.kind == "box" else (place,)
    joints = place.data["joints"] if place.kind == "box" else _joints_in(rows, cables, place)
    kind = doubt_words(place.data.get("kind")) if place.kind == "box" else device_words(place)
    where = where_words(place) if place.kind == "box" else ""
    ends = [end for cable in cables for side in ("from", "to") if cable.data["sides"][side] is place
            for end in rows.ends(cable, side)]  # fmt: skip
    return Place(
        place=place.tag,
        what=", ".join(word for word in (kind or "kind not seen", where) if word),
        enters=[_entering(rows, cable, place, lies) for cable in cables],
        joints=[_joint(joint, rows) for joint in by_tag(joints)],
        devices=[held for device in by_tag(devices) for held in _terminals(device)],
        ends=ends,
        flags=rows.flags.at(place),
    )


def wires_of(rows: Rows, conductors: Iterable[Item]) -> Wires:
    """One conductor, or all of one cable, with the way on."""
    listed = list(conductors)
    cable: Item = listed[0].data["cable"]
    run = rows.walked.whole.get(cable)
    return Wires(
        cable=cable.tag,
        conductors=[_conductor(rows, one) for one in listed],
        flags=rows.flags.at(cable),
        way_on=rows.lines_from(run) if run is not None else [],
    )


def _cables_at(rows: Rows, place: Item) -> list[Item]:
    if place.kind == "box":
        return list(dict.fromkeys(place.data["cables"]))
    return [cable for cable in rows.record.cables.values() if place in cable.data["sides"].values()]


def _joints_in(rows: Rows, cables: Iterable[Item], place: Item) -> list[Item]:
    """Joints inside a device that has no box: those whose conductors end there."""
    ends = (end for cable in cables for one in cable.data["conductors"] for end in one.data["ends"])
    tags = (end.data["state"].note.removeprefix("joint ") for end in ends if end.data["at"] is place)
    return [rows.record.joints[tag] for tag in dict.fromkeys(tags) if tag in rows.record.joints]


def _entering(rows: Rows, cable: Item, place: Item, lies: dict[Run, Beyond]) -> Entering:
    sides = cable.data["sides"]
    spots = {side: rows.spot(cable, side, held) for side, held in sides.items()}
    run = rows.walked.whole.get(cable)
    here = [side for side in sides if sides[side] is place]
    if not here:
        way, others = "through", list(spots.values())
    elif len(here) == 2:
        way, others = "between", [spots["to"]]
    else:
        others = [spots["to" if here == ["from"] else "from"]]
        way = "between" if run is None else "to" if run.start == here[0] else "from"
    wires = run.wires if run is not None else [Wire(one, "from") for one in cable.data["conductors"]]
    start, poles = (run.start, run.branch.poles) if run is not None else ("from", ())
    leads = [rows.lead(wire, start, poles) for wire in wires]
    far = lies.get(run, Beyond()) if run is not None and way in ("to", "through") else Beyond()
    exact = all(wire.conductor.data["function"].kind == EXACT for wire in wires)
    return Entering(
        cable=cable.tag, what=cable_words(cable), way=way, others=others, leads=leads,
        feeds=rows.feeds(wire.conductor for wire in wires),
        state=cable_state(run) if run is not None else worst(cable.data["conductors"]),
        traced=rows.traced(run)[0] if run is not None else SEEN if exact else BY_LOOK,
        leads_to=far.devices, more=far.count - len(far.devices), open=far.open, again=far.again,
        flags=rows.flags.at(cable),
    )  # fmt: skip


def _joint(joint: Item, rows: Rows) -> Held:
    names = []
    for sort, member in rows.record.joint_members[joint.tag]:
        names.append(f"{member[0].tag} {member[1]}" if sort == "terminal" else "box" if sort == "box" else member.tag)
    conductors = joint.data["conductors"]
    net = conductors[0].data["net"] if conductors else None
    return _held(joint.tag, doubt_words(joint.data.get("connector")) or "connector not seen", names, net, conductors)


def _terminals(device: Item) -> Iterator[Held]:
    for terminal in device.data["terminals"]:
        conductors = terminal.data["conductors"]
        yield _held(
            terminal.tag, device_words(device), [one.tag for one in conductors], terminal.data["net"], conductors
        )


def _held(tag: str, what: str, members: list[str], net: Item | None, conductors: Iterable[Item]) -> Held:
    does, known, _ = _function(net.data["function"]) if net is not None else ("", "", "")
    fed_by = net.data["fed_by"] if net is not None else NOT_RECORDED
    tags = [breaker.tag for breaker in fed_by.value] if fed_by.kind == EXACT else []
    return Held(tag, what, members, does, known, tags, worst(conductors))


def _function(fact: Fact) -> tuple[str, str, str]:
    """What it does, how that is known, and why."""
    if not fact.values:
        return "", "not known", fact.note
    return str(fact.value), SEEN if fact.kind == EXACT else f"by {fact.how}", fact.note


def _conductor(rows: Rows, conductor: Item) -> Conductor:
    net = conductor.data["net"]
    cable = conductor.data["cable"]
    does, known, why = _function(net.data["function"])
    state, reason = state_of(conductor)
    back = list(_way_back(conductor))
    last = conductor if not back else back[-1][0]
    return Conductor(
        conductor=conductor.tag,
        what=cable_words(cable),
        between=[rows.spot(cable, side, place) for side, place in cable.data["sides"].items()],
        colour=doubt_words(conductor.data.get("colour")),
        marked=doubt_words(conductor.data.get("marked")),
        does=does, known=known, why=why, state=state, reason=reason,
        feed=rows.feeds([conductor])[0],
        joined_to=[one.tag for one in net.data["conductors"] if one is not conductor],
        terminals=[terminal.tag for terminal in net.data["terminals"]],
        metal=list(net.data["metal_parts"].value),
        way_back=[Step(ahead.tag, at) for ahead, at in back],
        lands=rows.landing_words(last),
        ends=[end for side in ("from", "to") for end in rows.ends(cable, side) if end.conductor == conductor.tag],
    )  # fmt: skip


def _way_back(conductor: Item) -> Iterator[tuple[Item, str]]:
    """The conductors ahead, the nearest first, each with the place where it meets the one before."""
    seen = {conductor}
    while conductor.data.get("ahead"):
        ahead = conductor.data["ahead"][0]
        if ahead in seen:
            return
        seen.add(ahead)
        places = {end.data["at"] for end in ahead.data["ends"]} - {None}
        at = next((end.data["at"].tag for end in conductor.data["ends"] if end.data["at"] in places), "")
        yield ahead, at
        conductor = ahead


# -- text


def place_text(place: Place) -> str:
    """A place as text."""
    lines = [rule_line(f"AT {place.place}"), *wrap(f"{place.place}: {place.what}.")]
    lines += flag_lines(place.flags, place.place, "  ")
    lines += ["", "Enters here:"]
    for one in place.enters:
        lines += _entering_lines(one)
    lines += [] if place.enters else ["  no recorded cable"]
    if place.joints:
        lines += ["", "Held together here:"]
        for held in place.joints:
            lines += state_lines(f"{held.item} {held.what}: {joined(held.members)}", held.state, "  ", "    ")
            lines += wrap(_does(held), "      ")
    if place.devices:
        lines += ["", "On devices here:"]
        for held in place.devices:
            under = joined(held.members) if held.members else "pigtail only"
            lines += state_lines(f"{held.item} ({held.what}): {under}", held.state, "  ", "    ")
            lines += wrap(_does(held), "      ")
    if place.ends:
        lines += ["", "Neither spliced nor under a terminal:"]
        lines += [line for end in place.ends for line in wrap(_end(end), "  ", "    ")]
    return "\n".join(lines)


def _end(end: End) -> str:
    return f"{'OPEN END: ' if end.open else ''}{end.conductor} {end.state}"


def _does(held: Held) -> str:
    fed = f"; {quoted_list(held.fed_by, 8)}" if held.fed_by else ""
    return f"{held.does or 'function'} {held.known}{fed}" if held.known != "not known" else "function not known"


def _entering_lines(one: Entering) -> Iterator[str]:
    ways = {"from": "comes from", "to": "goes to", "between": "goes between here and", "through": "passes between"}
    others = joined([spot_words(spot) for spot in one.others])
    leads = leads_words(one.leads)
    text = f"{MARKS[one.traced]} {one.cable} {one.what} {ways[one.way]} {others}{f': {leads}' if leads else ''}"
    yield from state_lines(text, one.state, "", "   ")
    yield from feed_lines(one.feeds, "   ", why=False)
    if one.way in ("to", "through"):
        yield from wrap(leads_to_words(one.leads_to, one.more, one.open, one.again), "   ", "     ")
    yield from flag_lines(one.flags, one.cable, "   ")


def leads_to_words(devices: list[str], more: int, is_open: bool, again: bool) -> str:
    """`leads to R8, R9 and 3 more devices, to what is not traced`."""
    said = [quoted_list(devices, KEPT) + (f" and {plural(more, 'more device')}" if more else "")] if devices else []
    said += ["what another cable leads to as well"] if again else []
    said += ["what is not traced"] if is_open else []
    return f"leads to {', to '.join(said)}" if said else "leads to no recorded device"


def wires_text(wires: Wires) -> str:
    """Conductors of one cable as text."""
    lines = []
    for one in wires.conductors:
        lines += [*_conductor_lines(one), ""]
    if not wires.way_on:
        lines += flag_lines(wires.flags, wires.cable, "")
    else:
        lines += [*wrap(f"The way on, by cable {wires.cable}:"), *Layout().tree(wires.way_on, wires.cable)]
    return "\n".join(lines).rstrip()


def _conductor_lines(one: Conductor) -> Iterator[str]:
    yield rule_line(one.conductor)
    between = " to ".join(spot_words(spot) for spot in one.between)
    yield from wrap(f"{one.conductor}: cable {one.what}, {between}.")
    marked = f", marked {one.marked}" if one.marked not in ("", "none") else ""
    yield from wrap(f"Colour: {one.colour or 'not seen'}{marked}.", "  ", "    ")
    yield from wrap(f"State: {STATES[one.state]}{f'; {one.reason}' if one.reason else ''}.", "  ", "    ")
    does = f"{one.does}, {one.known}" if one.does else "not known"
    yield from wrap(f"Does: {does}{f' ({one.why})' if one.why else ''}.", "  ", "    ")
    yield from wrap(f"Feed: {feed_words(one.feed)}.", "  ", "    ")
    joined_to = quoted_list(one.joined_to, 12) or "no other conductor"
    yield from wrap(f"Joined to: {joined_to}.", "  ", "    ")
    if one.terminals:
        yield from wrap(f"On terminals: {quoted_list(one.terminals, 12)}.", "  ", "    ")
    if one.metal:
        yield from wrap(f"METAL AT ITS POTENTIAL: {quoted_list(one.metal, 6)}.", "  ", "    ")
    for end in end_lines(one.ends, ""):
        yield from wrap(f"{end}.", "  ", "    ")
    yield from _back_lines(one)


def _back_lines(one: Conductor) -> Iterator[str]:
    if not one.way_back and not one.lands:
        followed = "not followed for what only grounds" if one.does == "grounding" else "not traced"
        yield from wrap(f"Way back to a panel: {followed}.", "  ", "    ")
        return
    yield "  Way back to the panel:"
    steps = [f"at {step.at}: {step.conductor}" if step.at else step.conductor for step in one.way_back]
    if len(steps) > MOST_STEPS:
        skipped = plural(len(steps) - MOST_STEPS, "more step")
        steps = [*steps[: MOST_STEPS - 2], f"({skipped})", *steps[-2:]]
    for step in (one.conductor, *steps, one.lands):
        yield from wrap(step, "    ", "      ") if step else ()
