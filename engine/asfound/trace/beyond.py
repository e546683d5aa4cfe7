"""What lies beyond each cable of a walk: devices, and whether the way goes on to what nobody recorded."""

from __future__ import annotations

from dataclasses import dataclass, field

from asfound.record.facts import UNSEEN
from asfound.trace.nets import in_order
from asfound.trace.walk import Run, Station, Stop, Walk

KEPT = 6
"""Devices beyond a cable that are kept by name, the nearest first; of the others the number."""


@dataclass(slots=True)
class Beyond:
    """What a way comes to along a cable: tags of devices, and panels. `open` when it leads on to what is not traced,
    `again` when to what is shown in another place."""

    devices: list[str] = field(default_factory=list)
    count: int = 0
    open: bool = False
    again: bool = False

    def add(self, other: Beyond) -> None:
        """Take over what lies beyond a cable further on."""
        self.devices += other.devices[: KEPT - len(self.devices)]
        self.count += other.count
        self.open = self.open or other.open
        self.again = self.again or other.again


def beyond(walked: Walk) -> dict[Run, Beyond]:
    """For every run, linear in runs and devices."""
    ahead: list[tuple[Run, Run | None]] = []
    waiting: list[tuple[Stop, Run | None]] = [(branch.root, None) for branch in (*walked.circuits, *walked.stray)]
    while waiting:
        stop, by = waiting.pop()
        for run in sorted(stop.runs, key=lambda run: in_order(run.cable), reverse=True):
            ahead.append((run, by))
            waiting += [(further, run) for _, further in run.beyond()]
    found = {run: _own(run) for run, _ in ahead}
    for run, by in reversed(ahead):
        if by is not None:
            found[by].add(found[run])
    return found


def _own(run: Run) -> Beyond:
    own = Beyond()
    for station, stop in run.beyond():
        devices = [use.device.tag for use in sorted(stop.uses.values(), key=lambda use: in_order(use.device))]
        if stop.place is not None and stop.place.kind == "panel":
            devices.append(f"panel {stop.place.tag}")
        own.devices += devices[: KEPT - len(own.devices)]
        own.count += len(devices)
        own.again = own.again or bool(stop.meets)
        own.open = own.open or _open(run, station, stop)
    if run.branch.circuit is None and run in run.branch.root.runs:  # nobody knows on which side it is fed
        own.open = own.open or _open(run, run.start, run.branch.root)
    return own


def _open(run: Run, station: Station, stop: Stop) -> bool:
    """Whether a cable goes on here to what nobody recorded."""
    if not isinstance(station, str):
        return False
    number = ("from", "to").index(station)
    states = (wire.conductor.data["ends"][number].data["state"] for wire in run.wires)
    return stop.place is None or any(state.kind == UNSEEN for state in states)
