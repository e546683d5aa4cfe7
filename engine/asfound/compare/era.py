"""What a record says was not there in the time of the other: things taken out, put in, or parted since.

Silence says nothing. A thing that the other record just does not list is in
no list here.
"""

from __future__ import annotations

import re
from collections.abc import Iterator

from asfound.compare.pairs import Pairs
from asfound.compare.side import TAGGED, Hold, Side, Statement, holder_of, related_items
from asfound.judge.results import Finding
from asfound.record.events import PUT_IN, TAKEN_OUT
from asfound.record.facts import Fact, Item
from asfound.record.model import Entry, Record


def since(earlier: Record, later: Record, did: str) -> dict[str, Entry]:
    """Tags that log entries of this kind name in the later record and not yet in the earlier one, with the entry."""
    known = {(entry.at, entry.did, entry.what) for entry in earlier.log}
    return {
        tag: entry
        for entry in later.log if entry.did == did and (entry.at, entry.did, entry.what) not in known
        for tag in entry.what
    }  # fmt: skip


def mark_eras(earlier: Side, later: Side, pairs: Pairs) -> None:
    """Fill in `other_era` of both sides: what was gone by the later record, and what came after the earlier one."""
    taken_out = since(earlier.record, later.record, TAKEN_OUT)
    put_in = since(earlier.record, later.record, PUT_IN)
    for one, tags, other in ((earlier, taken_out, pairs.later), (later, put_in, pairs.earlier)):
        for kind in TAGGED:
            for tag, item in one.tagged(kind).items():
                if tag in tags and not other(item.identity):
                    one.other_era[item.identity] = _logged(later.record, tags[tag])
    _dated(earlier, later, pairs)
    _replaced(earlier, later, pairs)
    _replaced(later, earlier, pairs.turned())
    _spread(earlier, later, pairs)
    _spread(later, earlier, pairs.turned())


def _logged(record: Record, entry: Entry) -> Statement:
    visit = record.visits.get(entry.visit)
    on = record.moment(entry.at, entry.visit).partition(" ")[0] if entry.at else ""
    on = on if on.count("-") == 2 else ""
    return Statement(
        f"{entry.did} by {entry.words}", entry.place.line, entry.by or (visit.by if visit else ""),
        on or (visit.on if visit else ""),
    )  # fmt: skip


def _dated(earlier: Side, later: Side, pairs: Pairs) -> None:
    """Cables of a year after the last visit of the earlier record."""
    last = earlier.last_visit()
    for cable in later.tagged("cable").values():
        fact = cable.data.get("installed")
        if last is None or fact is None or not fact.values or pairs.earlier(cable.identity):
            continue
        if min(fact.values) > int(last.on[:4]):
            line = fact.place.line if fact.place else 0
            later.other_era.setdefault(cable.identity, Statement(f"installed {fact.written}", line, fact.by))


def _replaced(one: Side, other: Side, pairs: Pairs) -> None:
    """Breakers whose space holds another one on the other side."""
    for breaker in one.tagged("breaker").values():
        if pairs.later(breaker.identity):
            continue
        panel = breaker.data["panel"]
        for counterpart in pairs.later(panel.identity):
            tag = counterpart.partition(" ")[2]
            for space in breaker.tag.removeprefix(f"{panel.tag} ").split("/"):
                held = other.record.poles.get((tag, space))
                if held is not None:
                    line = held[0].place.line if held[0].place else 0
                    words = f"its space holds {held[0].tag} instead"
                    one.other_era.setdefault(breaker.identity, Statement(words, line))


def _spread(one: Side, other: Side, pairs: Pairs) -> None:
    """What belongs to a thing of another time, and what all wires have left."""
    items = one.installation.items
    for kind in ("breaker", "conductor", "end", "joint", "device", "terminal", "net", "circuit"):
        for item in items.get(kind, ()):
            if item.identity not in one.other_era and not pairs.later(item.identity):
                said = _follows(one, other, pairs, item)
                if said is not None:
                    one.other_era[item.identity] = said


def _follows(one: Side, other: Side, pairs: Pairs, item: Item) -> Statement | None:
    holder = holder_of(item)
    if holder is not None and holder.identity in one.other_era:
        return one.other_era[holder.identity]
    if item.kind in ("net", "circuit"):
        parts = item.data["conductors"] if item.kind == "net" else item.data["breakers"].value
        said = [one.other_era.get(part.identity) for part in parts]
        return said[0] if said and all(said) else None
    if item.kind in ("joint", "device", "terminal"):
        held = [one.held.get(hold, []) for hold in _holds_of(one, item)]
        # A terminal without an end of its own hangs in a joint, which can have been left out.
        return _parted(one, other, pairs, [end for ends in held for end in ends]) if held and all(held) else None
    return None


def _holds_of(one: Side, item: Item) -> Iterator[Hold]:
    if item.kind == "joint":
        yield "joint", item.tag
    elif item.kind == "terminal":
        yield "terminal", item.data["device"].tag, item.data["name"]
    else:
        yield from (("terminal", item.tag, terminal.data["name"]) for terminal in item.data["terminals"])


def _parted(one: Side, other: Side, pairs: Pairs, ends: list[Item]) -> Statement | None:
    """A statement when the other side says of every one of these ends that it is elsewhere, or not there."""
    first: Statement | None = None
    for end in ends:
        conductor = end.data["conductor"]
        if conductor.identity in one.other_era:
            first = first or one.other_era[conductor.identity]
            continue
        there = [other.items[identity] for identity in pairs.later(end.identity)]
        if not there or any(held not in other.holds for held in there):
            return None
        state = there[0].data["state"]
        line = state.place.line if state.place else 0
        first = Statement(f"its wires end elsewhere: {there[0].tag} is {hold_words(other.holds[there[0]])}", line)
    return first


def older(earlier: Side, item: Item) -> Statement | None:
    """What dates a thing of the later record to a year before the last visit of the earlier one, if anything does."""
    holder = holder_of(item) or item
    fact = holder.data.get("installed") if holder.kind == "cable" else None
    last = earlier.last_visit()
    if last is None or fact is None or not fact.values or max(fact.values) >= int(last.on[:4]):
        return None
    return Statement(f"installed {fact.written}", fact.place.line if fact.place else 0, fact.by)


def skipped(earlier: Side, later: Side, finding: Finding) -> Iterator[str]:
    """What the later record says was not looked at, where that names the place of a finding of the earlier record."""
    item = earlier.items[finding.at]
    places = {item, holder_of(item)}
    places |= {
        place for one in tuple(places) if one is not None
        for name in ("box", "boxes", "device", "cable") for place in related_items(one.data.get(name))
    }  # fmt: skip
    names = {str(held).casefold() for place in places if place is not None for held in _called(place)}
    for visit in later.record.visits.values():
        for what, why in visit.not_looked_at:
            if any(re.search(rf"(?<!\w){re.escape(name)}(?!\w)", what.casefold()) for name in names):
                yield f"{what}: {why}"


def _called(place: Item) -> Iterator[str]:
    yield place.tag
    for name in ("room", "where"):
        fact = place.data.get(name)
        if isinstance(fact, Fact) and len(fact.values) == 1:
            yield str(fact.value)
        elif isinstance(fact, str) and fact:
            yield fact


def hold_words(hold: Hold) -> str:
    """`in joint J3`, `on R1 hot`, `on neutral bar of panel A`, `on breaker A 3`, `capped`."""
    sort, *rest = hold
    if sort == "joint":
        return f"in joint {rest[0]}"
    if sort == "terminal":
        return f"on {rest[0]} {rest[1]}"
    if sort == "landing":
        panel, spot = rest
        return f"on {spot} of panel {panel}" if spot[:1].isalpha() else f"on breaker {panel} {spot}"
    return " or ".join(rest)


__all__ = ["hold_words", "mark_eras", "older", "since", "skipped"]
