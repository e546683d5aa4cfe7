"""Small helpers for sentences. No layout, no printing."""

from __future__ import annotations

import re
from collections.abc import Iterable


def quoted_list(words: Iterable[str], limit: int = 30) -> str:
    """`a, b, c`, cut after `limit` names with a count of the rest."""
    listed = list(words)
    shown = ", ".join(listed[:limit])
    return shown if len(listed) <= limit else f"{shown} and {len(listed) - limit} more"


def joined(words: Iterable[str]) -> str:
    """`a, b and c`."""
    listed = list(words)
    if len(listed) < 2:
        return "".join(listed)
    return f"{', '.join(listed[:-1])} and {listed[-1]}"


def plural(count: int, one: str, many: str | None = None) -> str:
    """`1 box`, `2 boxes`."""
    return f"{count} {one if count == 1 else many or one + 's'}"


_DIGITS = re.compile(r"([0-9]+)")


def natural(text: str) -> tuple[tuple[int, str], ...]:
    """A sort key that puts W2 before W10."""
    return tuple(
        (int(part), "") if part.isdigit() and part.isascii() else (-1, part) for part in _DIGITS.split(text) if part
    )
