"""One change that a planter can make: where, what it must give, what follows from it."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from functools import partial
from typing import Any

Expected = tuple[str, str]
"""The name of a rule and the identity of the item of its finding, such as `box hall`."""


@dataclass(frozen=True, slots=True)
class Change:
    """A change of a plain record.

    `expects` are the findings that it must give, the first of them the one
    meant; `implies` those that follow from the same mistake and may be given as
    well. An item of `implies` that ends in ` *` stands for every item of its kind.
    `touches` are the tags that no other change may touch. `also` are rules that
    somebody who sees the same mistake can name as rightly at the same place.
    """

    at: str
    edit: Callable[[], object]
    expects: tuple[Expected, ...]
    implies: tuple[Expected, ...] = ()
    touches: frozenset[str] = frozenset()
    also: tuple[str, ...] = ()


Changes = Iterator[Change]


def writes(item: dict[str, Any], **facts: Any) -> Callable[[], None]:
    """The edit that writes facts to an item."""
    return partial(item.update, **facts)
