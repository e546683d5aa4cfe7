"""The log read from top to bottom: how every breaker stood, and which readings were taken, at each step.

What is known of a position holds within one visit: between visits anybody can
have switched anything. A breaker that nobody recorded as on or off stands as
it was found, which is not known. Linear in log entries and breakers.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from typing import Any

from asfound.record.facts import Fact, Item
from asfound.record.model import Entry, Record

OFF = ("off", "locked", "locked off", "locked out", "tripped", "pulled", "removed")


@dataclass(frozen=True, slots=True)
class Position:
    """How a breaker, or the main of a panel, stood.

    `off` is None when nobody recorded it. `by` is what says so and `number` the
    log entry, 0 for as found. `held` when it was locked or tagged while off.
    """

    off: bool | None
    by: str = ""
    number: int = 0
    held: bool = False


NOT_KNOWN = Position(None)


@dataclass(frozen=True, slots=True)
class Supply:
    """Whether a breaker could feed anything: `off` True when it or something ahead of it was off, None when not known.

    `by` are the statements that this rests on. `key` is equal for two steps of one visit between which nothing on
    the way was switched.
    """

    off: bool | None
    by: tuple[str, ...]
    held: bool
    key: tuple[Any, ...]


@dataclass(frozen=True, slots=True)
class Step:
    """One entry of the log, with the positions and the readings that hold for it.

    `turn` counts what was switched on this visit so far: breakers, mains and devices; `device_turn` devices alone.
    """

    entry: Entry
    visit: str
    positions: Mapping[Item, Position]
    readings: tuple[Item, ...]
    switches: bool
    turn: int
    device_turn: int

    def supply(self, breaker: Item) -> Supply:
        """Whether this breaker could feed anything at this step. A main is on unless the log says that it is off."""
        said: list[str] = []
        keys: list[tuple[str, int]] = []
        off: Position | None = None
        known = True
        at: Item | None = breaker
        while at is not None:
            panel: Item = at.data["panel"]
            own, main = self.positions.get(at, NOT_KNOWN), self.positions.get(panel)
            keys.append((at.tag, own.number))
            if main is not None:
                keys.append((panel.tag, main.number))
            off = off or next((one for one in (own, main) if one is not None and one.off), None)
            known = known and own.off is False
            said += [one.by for one in (own, main) if one is not None and one.off is False]
            at = next(iter(panel.data["feeder"]), None)
        key = (self.visit, *keys)
        if off is not None:
            return Supply(True, (off.by,), off.held, key)
        return Supply(False if known else None, tuple(said), False, key)


def steps(record: Record) -> list[Step]:
    """Every entry of the log in order. The readings of an entry that switches were taken before it switched."""
    return list(_steps(record))


def switched_items(record: Record, tags: Iterable[str]) -> list[Item]:
    """The breakers and panels among these tags; a panel stands for its main."""
    found: dict[Item, None] = {}
    for tag in tags:
        panel, _, space = tag.rpartition(" ")
        breaker = record.breakers.get((panel, space)) or record.poles.get((panel, space), (None, 0))[0]
        if breaker is not None:
            found[breaker] = None
        elif tag in record.panels:
            found[record.panels[tag]] = None
    return list(found)


def _steps(record: Record) -> Iterator[Step]:
    readings = {reading.tag: reading for reading in record.readings}
    positions: Mapping[Item, Position] = {}
    visit: str | None = None
    turn = device_turn = 0
    for entry in record.log:
        if entry.visit != visit:
            visit, positions = entry.visit, _as_found(record, entry.visit)
            turn = device_turn = 0
        taken = tuple(readings.pop(tag) for tag in entry.readings if tag in readings)  # a reading is taken once
        switches = entry.did == "switched"
        before = positions
        positions = _after(record, entry, positions)
        if switches:
            turn += 1
            device_turn += not switched_items(record, entry.what)
        shown = before if switches else positions
        yield Step(entry, visit, shown, taken, switches, turn - switches, device_turn)
        if switches:
            yield Step(entry, visit, positions, (), False, turn, device_turn)


def _as_found(record: Record, visit: str) -> Mapping[Item, Position]:
    """Positions that were recorded as found on this visit."""
    found = {}
    for breaker in record.breakers.values():
        state = breaker.data.get("state")
        if not isinstance(state, Fact) or len(state.values) != 1:
            continue
        seen = record.visit_of(state.visit, breaker.visit, breaker.data["panel"].visit)
        if (seen.tag if seen else "") == visit and state.value in ("on", *OFF):
            found[breaker] = Position(state.value != "on", f"{breaker.tag} as found: {state.value}")
    return found


def _after(record: Record, entry: Entry, positions: Mapping[Item, Position]) -> Mapping[Item, Position]:
    """Positions after an entry; the same object when it changes none."""
    items = switched_items(record, entry.what) if entry.did in ("switched", "locked", "tagged") else []
    if not items:
        return positions
    changed = dict(positions)
    for item in items:
        before = changed.get(item, NOT_KNOWN)
        by = f"{entry.words}: {item.tag} {entry.did}{f' {entry.to}' if entry.to else ''}"
        if entry.did == "switched":
            to = entry.to.strip().lower()
            off = True if to in OFF else False if to == "on" else None
            changed[item] = Position(
                off, by if off is not None else "", entry.number, held=off is True and "lock" in to
            )
        elif entry.did == "locked":  # nobody locks a breaker that is on in order to work
            kept = before.off is True
            changed[item] = Position(True, before.by if kept else by, before.number if kept else entry.number, True)
        elif before.off:
            changed[item] = Position(True, before.by, before.number, True)
    return changed
