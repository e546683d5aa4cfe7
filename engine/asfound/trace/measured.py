"""Between what readings were taken, and which breakers the log had off at the time.

Linear in readings and log entries. A breaker counts as off by what the log and
the positions as found say of it and of what feeds its panel.
"""

from __future__ import annotations

from typing import Any

from asfound.record.colours import is_ground
from asfound.record.facts import EXACT, Item, exact
from asfound.trace.nets import LIVE, Pole
from asfound.trace.reach import Traced

Point = tuple[str, Any]
"""What a reading was taken at: a sort such as conductor, terminal, bar or earth, and the thing itself."""


def is_reference(point: Point) -> bool:
    """Whether a point of a reading is earth, a bar, metal, or certainly a grounded or grounding conductor."""
    sort, held = point
    if sort == "conductor":
        function = held.data["function"]
        return bool(function.kind == EXACT and function.value in ("grounded", "grounding"))
    return sort in ("earth", "bar", "box", "panel") or (sort == "terminal" and held[1] == "ground")


def add_readings(sides: Traced) -> None:
    """For each reading whether it is from live to neutral, and the breakers of its live point that were off then."""
    record = sides.record
    poles = {pole: sides.items[net.number] for net in sides.nets for pole in net.poles}
    taken = {reading.tag: step for step in sides.log if not step.switches for reading in step.readings}
    for reading in record.readings:
        points = [point for point in reading.data["points"] if point is not None]
        between = len(points) == 2
        across = {_side(sides, poles, point) for point in points} if between else set()
        reading.data["live_to_neutral"] = exact(across == {"live", "neutral"}, note="as traced")
        reading.data["live_metal"] = exact(_metal(points), note="as read") if between else exact((), note="as read")
        reading.data["off_then"] = ()
        if between and reading.tag in taken and not reading.data["known_source"].value:
            live = [here for here, there in (points, points[::-1]) if is_reference(there) and not is_reference(here)]
            net = _net(sides, poles, live[0]) if live else None
            if net is not None and net.data["fed_by"].kind == EXACT:
                fed = net.data["fed_by"].value
                off = bool(fed) and all(taken[reading.tag].supply(breaker).off for breaker in fed)
                reading.data["off_then"] = fed if off else ()


def _metal(points: list[Point]) -> tuple[str, ...]:
    """Metal that can be touched, where a reading was taken from it to earth or to a bar."""
    for (sort, held), (other, _) in (points, points[::-1]):
        if other not in ("earth", "bar"):
            continue
        if sort == "box":
            return (f"the metal of {held.words}",)
        if sort == "panel":
            return (f"the enclosure of {held.words}",)
        if sort == "terminal" and held[1] == "ground":
            return (f"the grounding terminal of {held[0].words}",)
        if sort == "conductor" and is_ground(held):
            return (f"the grounding conductor {held.tag}",)
    return ()


def _net(sides: Traced, poles: dict[Pole, Item], point: Point) -> Item | None:
    """The net at a point of a reading; None for a bar, a box and the earth."""
    sort, held = point
    if sort == "conductor":
        net: Item = held.data["net"]
        return net
    if sort == "terminal" and held in sides.by_terminal:
        return sides.items[sides.by_terminal[held].number]
    if sort == "breaker":
        panel, _, spaces = held.tag.rpartition(" ")
        return poles.get((panel, spaces.split("/")[0]))
    return None


def _side(sides: Traced, poles: dict[Pole, Item], point: Point) -> str:
    if point[0] == "bar":
        return "neutral" if point[1][1] == "neutral bar" else ""
    net = _net(sides, poles, point)
    if net is None or net.data["function"].kind != EXACT:
        return ""
    if net.data["live_through"].value:  # a neutral that is open towards the panel
        return "neutral" if point[0] == "terminal" and point[1][1] in ("neutral", "load_neutral") else ""
    function = net.data["function"].value
    return "live" if function in LIVE else "neutral" if function == "grounded" else ""
