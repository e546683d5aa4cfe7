"""How every breaker and main was left: the last that the record says of it, whatever visit that was on.

The log in `log.py` forgets positions with the visit, because between visits
anybody can have switched anything, and so nothing here proves that a breaker
still stands as it was left. It is for those who have to know that it was left
off for a reason, and to look. Linear in log entries and breakers.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace

from asfound.record.facts import Fact, Item
from asfound.record.model import Entry, Record, Visit
from asfound.trace.log import OFF, switched_items
from asfound.wording import joined, quoted_list

MOST = 4
"""Log entries that are named for one breaker."""


@dataclass(frozen=True, slots=True)
class Left:
    """How one breaker was left. `off` is None when nobody recorded it; `word` is `off`, `on`, `tripped` or the like.

    `entries` are those of the log that say so, none for one that stands as it was `found`. `days` are theirs, as
    YYYY-MM-DD, in order and each once; none where the record has no date.
    """

    off: bool | None = None
    word: str = ""
    locked: bool = False
    tagged: bool = False
    entries: tuple[Entry, ...] = ()
    days: tuple[str, ...] = ()

    @property
    def stays(self) -> bool:
        """Whether it was left off, or locked in whatever position."""
        return self.off is True or self.locked

    @property
    def found(self) -> bool:
        """Whether nothing in the log speaks of it."""
        return not self.entries

    @property
    def state(self) -> str:
        """`off and locked`; `locked` or `tagged` where nobody wrote the position."""
        return joined(filter(None, [self.word, "locked" * self.locked, "tagged" * self.tagged]))

    @property
    def numbers(self) -> str:
        """`log entries 9 and 10`; empty for one as found."""
        listed = [str(entry.number) for entry in self.entries]
        if len(listed) > MOST:
            return f"log entries {quoted_list(listed, MOST)}"
        return f"log {'entry' if len(listed) == 1 else 'entries'} {joined(listed)}" if listed else ""

    @property
    def words(self) -> str:
        """`left off and locked on 2026-05-04 (log entries 9 and 10)`; `found tripped on 2026-05-04`."""
        when = f" on {joined(self.days)}" if self.days else ""
        between = ", last" if self.state == "on" and when else ""
        why = f" ({self.numbers})" if self.entries else ""
        return f"{'found' if self.found else 'left'} {self.state}{between}{when}{why}"


def left(record: Record) -> dict[Item, Left]:
    """How every breaker, and the main of every panel, was left; those of which nothing is recorded are not in it."""
    held: dict[Item, Left] = {}
    found = _found(record)
    logged = {entry.visit for entry in record.log}
    waiting = sorted((tag for tag in found if tag not in logged), key=lambda tag: _day(record, tag))
    visit: str | None = None
    for entry in record.log:
        if entry.visit != visit:
            visit = entry.visit
            while waiting and _day(record, waiting[0]) <= _day(record, visit):
                held.update(found.pop(waiting.pop(0)))
            held.update(found.pop(visit, {}))
        for item in switched_items(record, entry.what):
            after = _after(record, held.get(item, Left()), entry)
            if after is not None:
                held[item] = after
    for tag in waiting:
        held.update(found[tag])
    return held


def ahead(breaker: Item) -> Iterator[Item]:
    """The main of its panel, the breaker that feeds the panel, the main ahead of that, and so on; each once."""
    seen = {breaker}
    at: Item | None = breaker
    while at is not None:
        panel: Item = at.data["panel"]
        yield panel
        at = next(iter(panel.data["feeder"]), None)
        if at is None or at in seen:
            return
        seen.add(at)
        yield at


def left_off(held: Mapping[Item, Left], breaker: Item) -> list[Item]:
    """What of a breaker and of all ahead of it was left off or locked, the nearest first."""
    return [one for one in (breaker, *ahead(breaker)) if one in held and held[one].stays]


def _found(record: Record) -> dict[str, dict[Item, Left]]:
    """Positions as found, by the tag of the visit."""
    found: dict[str, dict[Item, Left]] = {}
    for breaker in record.breakers.values():
        state = breaker.data.get("state")
        if isinstance(state, Fact) and len(state.values) == 1 and state.value in ("on", *OFF):
            seen = record.visit_of(state.visit, breaker.visit, breaker.data["panel"].visit)
            made = Left(state.value != "on", state.value, days=_days(seen))
            found.setdefault(seen.tag if seen is not None else "", {})[breaker] = made
    return found


def _after(record: Record, before: Left, entry: Entry) -> Left | None:
    """How it stands after an entry; None when the entry says nothing of it."""
    if entry.did in ("locked", "tagged"):
        days = tuple(dict.fromkeys((*before.days, *_days_of(record, entry))))
        now = replace(before, entries=(*before.entries, entry), days=days)
        if entry.did == "tagged":
            return replace(now, tagged=True)
        if before.off is False:  # nobody locks a breaker that is on in order to work
            now = replace(now, off=None, word="")
        return replace(now, locked=True)
    if entry.did != "switched":
        return None
    to = entry.to.strip().lower()
    off = True if to in OFF else False if to == "on" else None
    locked = off is True and "lock" in to
    word = "off" if locked else to if off is not None else "in a position not recorded"
    return Left(off, word, locked, False, (entry,), _days_of(record, entry))


def _days_of(record: Record, entry: Entry) -> tuple[str, ...]:
    moment = record.moment(entry.at, entry.visit)
    return (moment[:10],) if moment[4:5] == "-" else _days(record.visit_of(entry.visit))


def _days(visit: Visit | None) -> tuple[str, ...]:
    return (visit.on,) if visit is not None and visit.on else ()


def _day(record: Record, tag: str) -> str:
    """The day of a visit; empty, which is before all others, when it is not known."""
    return record.visits[tag].on if tag in record.visits else ""
