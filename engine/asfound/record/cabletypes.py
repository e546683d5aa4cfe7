"""The trade's short form of a cable: size, count, method, ground, metal."""

from __future__ import annotations

import functools
import re
from dataclasses import dataclass

from asfound.data import data
from asfound.load.values import shown
from asfound.names import Names
from asfound.record.forms import size_word

_TYPE = re.compile(r"([1-4]/0|[0-9]{3,4} kcmil|[0-9]{1,2}|[0-9.]+ mm2)(?:[/-]([1-9]))?(?: (.*))?\Z")


@dataclass(frozen=True, slots=True)
class CableType:
    """What a short form brings; `method` is empty when it does not say."""

    gauge: str
    metal: str
    method: str
    conductors: tuple[str, ...]


class NotACable(ValueError):
    """The text is not a cable type; carries cause and next step."""

    def __init__(self, cause: str, step: str) -> None:
        super().__init__(cause)
        self.cause = cause
        self.step = step


@functools.lru_cache(4096)
def parse_type(text: str) -> CableType:
    """Read `14/2 NM-B with ground`. Raises `NotACable`."""
    types = data("cable_types")
    match = _TYPE.match(text.strip())
    if match is None:
        raise NotACable(f"{shown(text)} is not a cable type", "write size, count and method like 14/2 NM-B with ground")
    size, count, rest = match.groups()
    words = f" {rest or ''} "
    ground = ""
    for phrase in types["ground_words"]:
        if f" {phrase} " in words:
            words = words.replace(f" {phrase} ", " ")
            ground = types["ground"]
    metal = types["metal_when_silent"]
    for mark in sorted(types["metals"], key=len, reverse=True):
        if f" {mark} " in words:
            words = words.replace(f" {mark} ", " ")
            metal = types["metals"][mark]
    method = next((name for name in types["methods"] if f" {name} " in words), "")
    words = words.replace(f" {method} ", " ") if method else words
    if words.strip():
        known = [*types["methods"], *types["ground_words"]]
        cause = f"{shown(words.strip())} in the cable type is not known"
        raise NotACable(cause, Names(known).hint(words.strip()))
    brought = types["conductors"].get(int(count or 1))
    if brought is None:
        raise NotACable(f"a cable of {count} conductors has no usual colours", "list them under conductors")
    return CableType(size_word(size), metal, method, (*brought, *([ground] if ground else [])))
