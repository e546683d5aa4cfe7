"""What a document is about: everything, or the one circuit, box or panel of a sheet."""

from __future__ import annotations

import contextlib
from collections.abc import Iterable, Sequence

from asfound.judge.results import Finding
from asfound.record.facts import Item
from asfound.render.flags import Flags
from asfound.report.place import items_in
from asfound.survey import Survey

_PARTS = ("conductors", "joints", "devices", "cables", "boxes", "breakers", "passing", "nets", "circuits")
_WHOLE = ("panel", "site")
"""What a sheet names only when it is about it, though part of it is on the sheet."""
_HELD = ("conductor", "device", "panel", "breakers", "conductors")


class Scope:
    """What belongs to the thing that the tag `only` names; to everything without one. Raises `KeyError`.

    `sheet` are the items of a sheet by identity, None for everything.
    """

    def __init__(self, done: Survey, only: str) -> None:
        self.done, self.only = done, only
        self.sheet = self._of_sheet()
        self.tags = None if self.sheet is None else {
            one.tag for one in self.sheet.values() if one.tag and (one.kind not in _WHOLE or one.tag == only)
        }  # fmt: skip

    def has(self, identity: str) -> bool:
        """Whether an item belongs to it."""
        return self.sheet is None or identity in self.sheet

    def findings(self, findings: Sequence[Finding]) -> list[Finding]:
        """The findings of this document: all, or those at the one thing that a sheet is about."""
        if self.sheet is None:
            return list(findings)
        flags = Flags(self.done.installation, findings)
        flagged = {
            flag.finding
            for item in self.sheet.values()
            if item.kind not in _WHOLE or item.tag == self.only
            for flag in flags.at(item)
        }
        return [one for one in findings if one.at in self.sheet or one.identity in flagged]

    def names(self, words: Iterable[str]) -> bool:
        """Whether one of these names of things is told of in this document."""
        return self.tags is None or any(
            word == tag or word.startswith(f"{tag} ") for word in words for tag in self.tags
        )

    def _of_sheet(self) -> dict[str, Item] | None:
        """Everything that belongs to the thing a sheet is about, by identity; None when it is about everything."""
        if not self.only:
            return None
        found: dict[Item, None] = {}
        for kind in ("breaker", "box", "panel"):
            with contextlib.suppress(KeyError):
                found[self.done.installation.item(kind, self.only)] = None
        if not found:
            raise KeyError(self.only)
        for item in list(found):
            breakers = item.data.get("breakers", ()) if item.kind == "panel" else ()
            for held in [item, *(circuit for one in (item, *breakers) for circuit in one.data.get("circuits", ()))]:
                for name in _PARTS:
                    part = held.data.get(name)
                    found.update(dict.fromkeys(items_in(part) if isinstance(part, tuple) else ()))
        for cable in [one for one in found if one.kind == "cable"]:
            found.update(dict.fromkeys(cable.data["conductors"]))
        return {
            one.identity: one
            for items in self.done.installation.items.values()
            for one in items
            if one in found or any(held in found for name in _HELD for held in items_in(one.data.get(name)))
        }
