"""The way back to the panel: for each conductor and terminal the conductor ahead of it.

Followed outward from every breaker and neutral bar, through joints, screws,
break-off tabs, switches and feed-through devices, and never through a load.
Each conductor and each terminal is met once; where two ways lead to one, the
shorter counts, and of two as short the one by the lower tags.
"""

from __future__ import annotations

from collections import deque

from asfound.record.facts import Fact, Item
from asfound.record.model import Record
from asfound.trace.nets import by_tag, groups_of, in_order

Spot = Item | tuple[str, str]
"""Where conductors meet: a joint, or a terminal as device tag and name."""

_THROUGH = ("tab", "switch", "feed")


def lead_back(record: Record) -> None:
    """Give each conductor that is reached its `ahead`, and each panel the conductors on its `lugs`."""
    met = _meetings(record)
    spots: dict[Item, list[Spot]] = {}
    for spot, (conductors, _) in met.items():
        for conductor in conductors:
            spots.setdefault(conductor, []).append(spot)
    starts: dict[Item, tuple[Item, ...]] = {}
    lugs: dict[str, dict[Item, None]] = {}
    for conductor, panel, place in sorted(record.landings, key=lambda landing: in_order(landing[0])):
        if (panel, place) in record.poles or place == "neutral bar":
            starts[conductor] = ()
        elif place.startswith("lug"):
            lugs.setdefault(panel, {})[conductor] = None
    for tag, panel_item in record.panels.items():
        panel_item.data["lugs"] = tuple(lugs.get(tag, ()))
    reached: dict[Spot, Item] = {}
    queue = deque(starts)
    while queue:
        conductor = queue.popleft()
        for spot in spots.get(conductor, ()):
            for other in _spread(spot, conductor, met, reached):
                if other not in starts:
                    starts[other] = (conductor,)
                    queue.append(other)
    for conductor, ahead in starts.items():
        conductor.data["ahead"] = ahead
    for device in record.devices.values():
        for terminal in device.data["terminals"]:
            found = reached.get((device.tag, terminal.data["name"]))
            terminal.data["ahead"] = () if found is None else (found,)


def _meetings(record: Record) -> dict[Spot, tuple[list[Item], list[Spot]]]:
    """For each spot the conductors on it and the spots it is joined to inside a device or by a pigtail."""
    met: dict[Spot, tuple[list[Item], list[Spot]]] = {}

    def at(spot: Spot) -> tuple[list[Item], list[Spot]]:
        return met.setdefault(spot, ([], []))

    def join(one: Spot, two: Spot) -> None:
        at(one)[1].append(two)
        at(two)[1].append(one)

    for joint in by_tag(record.joints.values()):
        members = record.joint_members[joint.tag]
        at(joint)[0].extend(by_tag(member for sort, member in members if sort == "conductor"))
        for device, name in sorted((member[0].tag, member[1]) for sort, member in members if sort == "terminal"):
            join(joint, (device, name))
    for spot, conductors in sorted(record.terminals.items()):
        at(spot)[0].extend(by_tag(conductors))
    for device in by_tag(record.devices.values()):
        groups = groups_of(device)
        if len(groups) != 1:
            continue
        tab = device.data.get("tab")
        removed = isinstance(tab, Fact) and tab.values == ("removed",)
        for name in _THROUGH:
            for one, two in () if name == "tab" and removed else groups[0].get(name, ()):
                first, second = (device.tag, one), (device.tag, two)
                if first in met and second in met:
                    join(first, second)
    return met


def _spread(
    spot: Spot, conductor: Item, met: dict[Spot, tuple[list[Item], list[Spot]]], reached: dict[Spot, Item]
) -> list[Item]:
    """The conductors met from `spot` on, at spots that were not reached before."""
    found: list[Item] = []
    if spot in reached:
        return found
    reached[spot] = conductor
    for one in (queue := [spot]):
        conductors, beside = met[one]
        found += conductors
        for other in beside:
            if other not in reached:
                reached[other] = conductor
                queue.append(other)
    return found
