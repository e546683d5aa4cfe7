"""What feeds a thing, and how each of its breakers was last recorded."""

from __future__ import annotations

from collections.abc import Iterable

from asfound.record.facts import Fact, Item
from asfound.report.place import items_in, read_at
from asfound.survey import Survey
from asfound.trace.left import left
from asfound.wording import joined

_AT = ("conductor", "conductors", "device", "devices", "joint", "joints", "nets", "ends", "box", "boxes", "cable")
"""Data of a thing that name others by which it is fed, the nearest first."""
MOST = 6
"""Breakers that are named; more are counted."""


class Standing:
    """Says of findings which breakers feed what they are at, and how those were last recorded."""

    def __init__(self, done: Survey) -> None:
        self.items = {item.identity: item for items in done.installation.items.values() for item in items}
        self.left = left(done.record)

    def words(self, identities: Iterable[str]) -> str:
        """`Can be fed by A 9 (left off on 2026-05-04 (log entry 9)).`; that none is traced, or nothing."""
        items = [item for item in map(self.items.get, identities) if item is not None]
        facts = [fact for item in items for fact in _feeds(item)]
        breakers = dict.fromkeys(one for fact in facts for one in items_in(fact) if one.kind == "breaker")
        if not breakers:
            return "No breaker is traced to it: any can feed it." if facts else ""
        told = [self._left(breaker) for breaker in breakers]
        more = [f"{len(told) - MOST} more"] if len(told) > MOST else []
        unsure = ", or by something not recorded" if any(fact.kind != "exact" for fact in facts) else ""
        return f"Can be fed by {joined([*told[:MOST], *more])}{unsure}."

    def _left(self, breaker: Item) -> str:
        held = self.left.get(breaker)
        return f"{breaker.tag} ({held.words if held and held.state else 'not recorded whether on or off'})"


def _feeds(item: Item, deep: int = 3) -> list[Fact]:
    """Facts that name the breakers of a thing: its own, else of what is at it, else of its cable."""
    if item.kind == "breaker":
        return [Fact("exact", ((item,),))]
    if item.kind == "reading":
        return [fact for one in read_at(item)[:1] for fact in _feeds(one, deep)]
    held = item.data.get("breakers")
    own = [held] if isinstance(held, Fact) else []
    if any(True for fact in own for _ in items_in(fact)) or deep == 0:
        return own
    for name in _AT:
        near = [one for one in items_in(item.data.get(name)) if one is not item]
        found = [fact for one in near for fact in _feeds(one, deep - 1)]
        if any(True for fact in found for _ in items_in(fact)):
            return found
    return own
