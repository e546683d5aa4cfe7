"""What the colour of a conductor says of where it usually lands."""

from __future__ import annotations

import functools
import re
from typing import Any

from asfound.data import data
from asfound.record.facts import Fact, Item
from asfound.record.forms import size_word

_GROUND = ("bare", "green", "green/yellow")
_WHITE = ("white", "grey")
_NUMBERED = re.compile(r" [0-9]+\Z")


def colour_of(conductor: Item) -> Any:
    """The stated colour, or None when it was not seen."""
    colour = conductor.data.get("colour")
    return colour.values[0] if isinstance(colour, Fact) and colour.values else None


def is_ground(conductor: Item) -> bool:
    """Whether its colour is one of a grounding conductor."""
    return colour_of(conductor) in _GROUND


def is_white(conductor: Item) -> bool:
    """Whether its colour is one that usually lands on the neutral bar."""
    return colour_of(conductor) in _WHITE


@functools.lru_cache(4096)
def colour_in(name: str) -> str:
    """The colour a conductor is named by (`red 2` is red); empty when the name is no colour."""
    base = size_word(_NUMBERED.sub("", name))
    return base if base in _colours() else ""


@functools.cache
def _colours() -> frozenset[str]:
    return frozenset({*data("colour_roles")["roles"], "black", "red", "blue", "yellow", "brown", "orange"} - {"other"})
