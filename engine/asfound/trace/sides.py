"""What the rules on neutrals, feeds and loose ends need of the trace, beyond circuits and functions.

Linear in conductors, terminals and landings. What nobody traced is not seen
here, with the reason, and never taken for absent.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from typing import Any

from asfound.record.facts import EXACT, NOT_RECORDED, UNSEEN, Fact, Item, exact, unseen
from asfound.record.model import Record
from asfound.trace.nets import LIVE, Net, Pole, Terminal, by_tag, groups_of, pole_order
from asfound.trace.reach import Traced

_NEUTRALS = ("neutral", "load_neutral")
_HOTS = ("hot", "hot_2", "load_hot", "line", "line_2")


def add_sides(sides: Traced) -> None:
    """Add the facts to nets, terminals, boxes, cables and panels."""
    _nets(sides)
    _ways_home(sides)
    _returns(sides)
    _terminals(sides)
    _boxes(sides.record)
    for cable in sides.record.cables.values():
        cable.data["capped_at"] = exact(tuple(_capped_at(cable)), note="as recorded and traced")
    _fed_panels(sides)


def _nets(sides: Traced) -> None:
    reach = sides.reach
    for net, item in zip(sides.nets, sides.items, strict=True):
        number = net.number
        item.data["untraced"] = exact(reach.stray(number), note="as traced")
        item.data["live_through"] = exact(tuple(reach.through[number]), note="no other way to a breaker is recorded")
        if reach.grounded[number] is None and reach.group[number] in reach.open_groups:
            open_here = item.data["fully_traced"].note if net.open else "not traced to its end beyond a switch"
            item.data["reaches_neutral_bar"] = unseen(open_here)


def _ways_home(sides: Traced) -> None:
    """The conductors by which each net lands on neutral bars, and the panels of those bars."""
    homes: dict[Item, dict[Item, None]] = {}
    panels: dict[Item, dict[Item, None]] = {}
    for conductor, panel, spot in sides.record.landings:
        if spot == "neutral bar":
            net = conductor.data["net"]
            homes.setdefault(net, {})[conductor] = None
            panels.setdefault(net, {})[sides.record.panels[panel]] = None
    for item in sides.items:
        item.data["home_runs"] = tuple(by_tag(homes.get(item, ())))
        item.data["neutral_panels"] = tuple(by_tag(panels.get(item, ())))


def _returns(sides: Traced) -> None:
    """The breaker poles whose loads return on each net; not seen where the other side of a load is not traced."""
    at: dict[Terminal, dict[Pole, None]] = {}  # poles whose loads return at each neutral terminal
    unknown: dict[int, str] = {}
    for device in by_tag(sides.record.devices.values()):
        for hot, neutral in _loads(device):
            live, back = sides.by_terminal.get((device, hot)), sides.by_terminal.get((device, neutral))
            if live is None or back is None:
                continue
            at.setdefault((device, neutral), {}).update(dict.fromkeys(sides.reach.poles[live.number]))
            if sides.reach.stray(live.number):
                unknown.setdefault(back.number, f"{hot} of {device.tag} is not traced")
        if not groups_of(device):
            for name in _NEUTRALS:
                net = sides.by_terminal.get((device, name))
                if net is not None:
                    unknown.setdefault(net.number, f"nobody saw what {device.tag} is")
    for net, item in zip(sides.nets, sides.items, strict=True):
        found = _in_words(pole for terminal in net.terminals for pole in at.get(terminal, ()))
        reason = unknown.get(net.number)
        note = "loads whose neutral lands on it"
        item.data["return_poles"] = exact(found, note=note) if reason is None else unseen(reason)
        for (device, name), beyond in _beyond(sides.record, net, item, at).items():
            device_terminal = next(t for t in device.data["terminals"] if t.data["name"] == name)
            note = "loads whose way back leads through this terminal"
            device_terminal.data["poles_beyond"] = exact(beyond, note=note) if reason is None else unseen(reason)


def _in_words(poles: Iterable[Pole]) -> tuple[str, ...]:
    return tuple(" ".join(pole) for pole in sorted(dict.fromkeys(poles), key=pole_order))


def _beyond(
    record: Record, net: Net, item: Item, at: Mapping[Terminal, Iterable[Pole]]
) -> dict[Terminal, tuple[str, ...]]:
    """For each neutral terminal that conductors go on through: poles whose loads have no way back but through it.

    Only where one conductor leads to the neutral bar and no ring gives another way.
    """
    through = [t for t in net.terminals if t[1] in _NEUTRALS and len(record.terminals.get((t[0].tag, t[1]), ())) > 1]
    homes = item.data["home_runs"]
    if not through:
        return {}
    beside = _beside(record, net)
    nodes = len(beside)
    if len(homes) != 1 or sum(map(len, beside.values())) != 2 * (nodes - 1):
        return dict.fromkeys(through, ())
    order: list[tuple[Any, Any]] = [(homes[0], None)]
    for node, ahead in order:
        order += [(other, node) for other in beside[node] if other is not ahead]
    gathered: dict[Any, dict[Pole, None]] = {node: {} for node, _ in order}
    found = {}
    wanted = set(through)
    for node, ahead in reversed(order):
        if node in wanted:
            found[node] = _in_words(gathered[node])
        gathered[node].update(dict.fromkeys(at.get(node, ())))
        if ahead is not None:
            gathered[ahead].update(gathered[node])
    return found


def _beside(record: Record, net: Net) -> dict[Any, list[Any]]:
    """What is joined to what on a net: conductors and terminals to joints, conductors to terminals."""
    terminals = {(device.tag, name): (device, name) for device, name in net.terminals}
    beside: dict[Any, list[Any]] = {node: [] for node in (*net.conductors, *net.joints, *terminals.values())}

    def join(one: Any, two: Any) -> None:
        beside[one].append(two)
        beside[two].append(one)

    for joint in net.joints:
        for sort, member in record.joint_members[joint.tag]:
            if sort == "conductor":
                join(joint, member)
            elif sort == "terminal":
                join(joint, terminals[member[0].tag, member[1]])
    for spot, terminal in terminals.items():
        for conductor in record.terminals.get(spot, ()):
            join(terminal, conductor)
    return beside


def _loads(device: Item) -> Iterator[tuple[str, str]]:
    """Pairs of a live and a neutral terminal with a load between them."""
    for group in groups_of(device):
        for one, two in group.get("load", ()):
            if one in _HOTS and two in _NEUTRALS:
                yield one, two


def _terminals(sides: Traced) -> None:
    """What a connection shows each terminal to be, and the legs that reach it."""
    for device in sides.record.devices.values():
        for terminal in device.data["terminals"]:
            net = sides.by_terminal[device, terminal.data["name"]]
            terminal.data["connection"] = _connection(sides, net)
            terminal.data["legs"] = _legs(sides.record, sides.reach.poles[net.number])


def _connection(sides: Traced, net: Net) -> Fact:
    function: Fact = sides.items[net.number].data["function"]
    if sides.reach.through[net.number]:
        return exact("live through a load", note=function.note)
    if function.kind == EXACT:
        return function
    return unseen(function.note or "not traced", place=function.place)


def _legs(record: Record, poles: tuple[Pole, ...]) -> Fact:
    found: dict[str, None] = {}
    for pole in poles:
        breaker, number = record.poles[pole]
        legs = breaker.data.get("legs", NOT_RECORDED)
        if legs.kind != EXACT or number >= len(legs.value):
            return unseen(f"the leg of {breaker.tag} is not certain", place=breaker.place)
        found[legs.value[number]] = None
    return exact(tuple(found), note="legs of the breakers that reach it")


def _boxes(record: Record) -> None:
    """The breakers that certainly reach what is in each box, and the conductors there that were left untraced."""
    known: dict[tuple[int, ...], tuple[Item, ...]] = {}  # by the `id` of the lists of breakers, which nets share
    for box in record.boxes.values():
        held = (*box.data["conductors"], *box.data["passing"], *box.data["looped"])
        nets = dict.fromkeys(conductor.data["net"] for conductor in held)
        certain = {id(net.data["fed_by"].value): net.data["fed_by"].value for net in nets
                   if net.data["fed_by"].kind == EXACT}  # fmt: skip
        lists = tuple(certain)
        if lists not in known:
            known[lists] = tuple(by_tag(dict.fromkeys(breaker for fed in certain.values() for breaker in fed)))
        box.data["known_breakers"] = exact(known[lists], note="as traced")
        box.data["unidentified"] = exact(
            tuple(c for c in by_tag(dict.fromkeys(held)) if c.data["net"].data["untraced"].value and _given_up(c)),
            note="as recorded: an end of each is noted as not traced",
        )


def _given_up(conductor: Item) -> bool:
    """Whether somebody noted that an end of it was not traced, as against an end that is not spoken of."""
    states = [end.data["state"] for end in conductor.data["ends"]]
    return any(state.kind == UNSEEN and state.note != NOT_RECORDED.note for state in states)


def _capped_at(cable: Item) -> Iterator[Item]:
    """Boxes in which every live conductor of the cable ends capped."""
    live = [number for number, c in enumerate(cable.data["conductors"]) if _certainly(c.data["function"], *LIVE)]
    for side, place in enumerate(cable.data["sides"].values()):
        ends = [cable.data["conductors"][number].data["ends"][side] for number in live]
        in_box = (
            place is not None and place.kind == "box" and "no box" not in place.data.get("kind", NOT_RECORDED).values
        )
        if in_box and ends and all(_certainly(end.data["state"], "capped") for end in ends):
            yield place


def _certainly(fact: Fact, *values: str) -> bool:
    return fact.kind == EXACT and fact.value in values


def _fed_panels(sides: Traced) -> None:
    """The breakers solidly joined to what lands on the main lugs of each panel."""
    fed: dict[str, dict[Item, None]] = {}
    for conductor, panel, spot in sides.record.landings:
        if spot.startswith("lug"):
            fed.setdefault(panel, {}).update(dict.fromkeys(conductor.data["net"].data["breakers"].value))
    for tag, panel_item in sides.record.panels.items():
        panel_item.data["lug_breakers"] = exact(tuple(by_tag(fed.get(tag, ()))), note="as traced")
