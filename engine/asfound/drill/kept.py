"""What a file is that is already there: an exercise of this kind may be written over, nothing else may."""

from __future__ import annotations

import re
from pathlib import Path

PAGE_MARK = '<meta name="asfound-exercise" content="'
HEADS = {
    "page": re.compile(rb'^<!doctype html>.{0,2000}<meta name="asfound-exercise" content="[0-9a-f]{10}"', re.DOTALL),
    "record": re.compile(rb"^# (Training record with planted defects|Record of an exercise)"),
    "marks": re.compile(rb"^(\{\s*)?[\"']?exercise[\"']?\s*:\s*[\"']?[0-9a-f]{10}\b"),
}
"""How files of each kind begin."""


def may_be_replaced(path: Path, kind: str) -> bool:
    """Whether nothing is there, or an earlier exercise of this kind: `page`, `record` or `marks`. Raises `OSError`."""
    if not path.exists():
        return True
    if not path.is_file():
        return False
    with path.open("rb") as file:
        return HEADS[kind].match(file.read(4096)) is not None


def has_marks(path: Path) -> bool:
    """Whether a file of marks holds any. Raises `OSError`."""
    return path.is_file() and re.search(rb"\bwhat\b[\"']?\s*:", path.read_bytes()) is not None


def same_file(one: Path, two: Path) -> bool:
    """Whether two names are of one file, by links too, or will be."""
    try:
        return one.samefile(two)
    except OSError:
        return one.resolve() == two.resolve()
