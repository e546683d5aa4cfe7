"""The stable face for people who write rules. Everything a rule module may import is here."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

import pluggy

from asfound.circuit.conductors import area_mm2
from asfound.judge.rules import BadRule, Defect, certain, every, for_words, given, noted, only_if, rule, some
from asfound.judge.views import View
from asfound.wording import joined, plural

__all__ = [
    "BadRule",
    "Defect",
    "View",
    "area_mm2",
    "by_size",
    "certain",
    "every",
    "for_words",
    "given",
    "hookimpl",
    "joined",
    "names",
    "noted",
    "only_if",
    "plural",
    "rule",
    "size_words",
    "some",
]

hookimpl = pluggy.HookimplMarker("asfound")


def by_size(conductors: Iterable[Any]) -> list[Any]:
    """Conductors in rising order of size; equal sizes keep their order."""
    return sorted(conductors, key=lambda conductor: area_mm2(conductor.gauge))


def size_words(size: str) -> str:
    """A wire size in a sentence: `14 AWG`, `1/0 AWG`, `250 kcmil`, `2.5 mm²`."""
    if size.endswith(" mm2"):
        return size.replace("mm2", "mm²")
    return size if size.endswith("kcmil") else f"{size} AWG"


def names(items: Iterable[Any], limit: int = 6) -> str:
    """Tags in a sentence, with a count of those left out."""
    tags = [str(item) for item in items]
    if len(tags) > limit:
        return f"{', '.join(tags[:limit])} and {len(tags) - limit} more"
    return joined(tags)
