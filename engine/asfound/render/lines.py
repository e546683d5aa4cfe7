"""Lines for a terminal: wrapped by the cells that characters take, and harmless whatever stands in a record.

A reader's own words can hold marks that turn the direction of a line, hide, or
take two cells. Those that show nothing are written out as `<U+200F>`.
"""

from __future__ import annotations

import unicodedata
from collections.abc import Iterable

WIDTH = 80
_HARMFUL = ("Cc", "Cf", "Cs", "Co", "Cn", "Zl", "Zp")


def rule_line(title: str) -> str:
    """A heading across the page: `-- TITLE -----`."""
    return pad(f"-- {cut(plain(title), WIDTH - 4)} ", WIDTH, "-")


def plain(text: str) -> str:
    """Text with single spaces, and with everything that would not show written out."""
    text = " ".join(text.split())
    if text.isascii() and text.isprintable():
        return text
    return "".join(f"<U+{ord(c):04X}>" if unicodedata.category(c) in _HARMFUL else c for c in text)


def cells(text: str) -> int:
    """The columns of a terminal that a text takes."""
    return len(text) if text.isascii() else sum(map(_cells, text))


def _cells(character: str) -> int:
    if unicodedata.category(character) in ("Mn", "Me"):
        return 0
    return 2 if unicodedata.east_asian_width(character) in "WF" else 1


def pad(text: str, width: int, fill: str = " ") -> str:
    """Text filled up to a width; one that is wider stays as it is."""
    return text + fill * max(0, width - cells(text))


def cut(text: str, width: int) -> str:
    """Text no wider than `width`; what does not fit is replaced by `..`."""
    return text if cells(text) <= width else f"{_fitting(text, width - 2)}.."


def wrap(text: str, indent: str = "", then: str | None = None, width: int = WIDTH) -> list[str]:
    """Lines no wider than `width`, the first behind `indent`, the others behind `then`; a word too long is broken."""
    then = indent if then is None else then
    lines: list[str] = []
    line, room = indent, width - cells(indent)
    blank = True
    for word in _words(text):
        wide = cells(word)
        if not blank and wide + 1 <= room:
            line, room = f"{line} {word}", room - wide - 1
            continue
        if not blank and wide > width - cells(then) and room > _cells(word[0]):  # its beginning fills the line
            line, room = f"{line} ", room - 1
            blank = True
        while True:
            if blank and wide <= room:
                line, room, blank = line + word, room - wide, False
                break
            part = _fitting(word, room) if blank else ""
            lines.append((line + part).rstrip())
            word = word[len(part) :]
            wide, line, room, blank = cells(word), then, width - cells(then), True
    return [*lines, line] if not blank else lines or [""]


def _words(text: str) -> Iterable[str]:
    text = plain(text)
    return text.split(" ") if text else ()


def _fitting(text: str, room: int) -> str:
    """The beginning of a text that fits, one character at least."""
    used = 0
    for place, character in enumerate(text):
        used += _cells(character)
        if used > room:
            return text[: max(1, place)]
    return text
