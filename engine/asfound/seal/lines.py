"""Which lines of a text differ from those of an earlier one."""

from __future__ import annotations

import difflib
import re
from collections.abc import Iterator

from asfound.seal.unpack import shown

_LINE_END = re.compile("\r\n?|\n")
_MOST_PLACES = 40
_MOST_SHOWN = 3
"""Lines of one place that are shown in full."""
_MOST_COMPARED = 3_000
"""Lines between the first and the last difference that are compared one by one; beyond it their range is told."""


def lines_apart(name: str, sealed: bytes, now: bytes) -> list[str]:
    """Where a text differs from the sealed one: a clause for each place, with line numbers; empty when alike."""
    if sealed == now:
        return []
    old, new = _lines(sealed), _lines(now)
    if old == new:
        return [f"{name} differs only in line ends or in a byte order mark"]
    places = list(_places(old, new))
    told = [_clause(name, old, new, place) for place in places[:_MOST_PLACES]]
    if len(places) > _MOST_PLACES:
        told.append(f"{name} differs at {len(places) - _MOST_PLACES} more places")
    return told


def _lines(content: bytes) -> list[str]:
    return _LINE_END.split(content.decode("utf-8-sig", "backslashreplace"))


Place = tuple[int, int, int, int]
"""First line and the one behind the last, of the sealed text and of the other, from 0."""


def _places(old: list[str], new: list[str]) -> Iterator[Place]:
    start = 0
    while start < min(len(old), len(new)) and old[start] == new[start]:
        start += 1
    end = 0
    while end < min(len(old), len(new)) - start and old[-1 - end] == new[-1 - end]:
        end += 1
    mine, theirs = old[start : len(old) - end], new[start : len(new) - end]
    if max(len(mine), len(theirs)) > _MOST_COMPARED:
        yield start, len(old) - end, start, len(new) - end
        return
    for what, i, j, k, m in difflib.SequenceMatcher(None, mine, theirs, autojunk=False).get_opcodes():
        if what != "equal":
            yield start + i, start + j, start + k, start + m


def _clause(name: str, old: list[str], new: list[str], place: Place) -> str:
    i, j, k, m = place
    if i == j:
        return f"{name} {_range(k, m)} {'was' if m - k == 1 else 'were'} added{_text(new[k:m])}"
    if k == m:
        return f"{name}: sealed {_range(i, j)} {'is' if j - i == 1 else 'are'} not there any more{_text(old[i:j])}"
    same = (i, j) == (k, m)
    sealed = "" if same else f" (sealed {_range(i, j)})"
    return f"{name} {_range(k, m)}{sealed} changed; was{_text(old[i:j])}, is{_text(new[k:m])}"


def _range(start: int, end: int) -> str:
    return f"line {start + 1}" if end - start == 1 else f"lines {start + 1} to {end}"


def _text(lines: list[str]) -> str:
    told = " / ".join(shown(line.strip()) for line in lines[:_MOST_SHOWN])
    more = f" and {len(lines) - _MOST_SHOWN} more" if len(lines) > _MOST_SHOWN else ""
    return f" {told}{more}"
