"""Names nearest first, for the sentence that refuses one that is not known."""

from __future__ import annotations

import difflib
from collections.abc import Iterable

SHOWN = 8


def in_order(word: str, names: Iterable[str], most: int = SHOWN) -> str:
    """`Did you mean 'hall'? Nearest first: hall, hall switch and 30 more`; the question only when one is close."""
    low = word.lower()[:200]
    held = list(dict.fromkeys(names))
    if not held:
        return "None is defined"
    ranked = sorted(held, key=lambda name: -difflib.SequenceMatcher(None, low, name.lower()).ratio())
    close = difflib.SequenceMatcher(None, low, ranked[0].lower()).ratio() >= 0.6
    more = len(held) - most
    listed = ", ".join(ranked[:most]) + (f" and {more} more" if more > 0 else "")
    return f"{f'Did you mean {ranked[0]!r}? ' if close else ''}Nearest first: {listed}"
