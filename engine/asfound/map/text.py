"""Words in a drawing: harmless, measured, wrapped and shortened.

Lettering is one width for every character, as on drawings that were lettered by
hand, so that the room a text takes is known without the font: `CELL` of the
size of the text for each character. Only characters that the lettering has are
drawn; any other is drawn by its number, and stands as it was written in the
title of its group.
"""

from __future__ import annotations

import html
import re
import unicodedata

from asfound.clean import clean

FAMILY = "DejaVu Sans Mono, Menlo, Consolas, Roboto Mono, monospace, sans-serif"
"""The first is one that the typesetter of the PDF brings with it; the others are what phones and desktops have."""
CELL = 0.602
"""Width of a character by the size of the text: 1233 of 2048 units in DejaVu Sans Mono, and no more in the others."""
LONGEST = 600
"""Characters of a title."""
TIED = 16
"""Characters that are kept together at most."""
_DRAWN = re.compile(
    "[^\\u0020-\\u007e\\u00a0-\\u00ac\\u00ae-\\u017f\\u0386-\\u0389\\u038c\\u038e-\\u03a1\\u03a3-\\u03ce\\u0400-\\u045f"
    "\\u2010-\\u2015\\u2018-\\u201e\\u2020-\\u2022\\u2026\\u2030\\u2032\\u2033\\u2039\\u203a\\u2044\\u20ac\\u2122"
    "\\u2126\\u2190-\\u2193\\u2212\\u2248\\u2260\\u2264\\u2265]"
)
_SPACES = re.compile(" {2,}")
ELLIPSIS = "\u2026"


def drawn(text: str) -> str:
    """A text as it can be drawn: clean, on one line, what the lettering lacks as `[U+65E5]`."""
    text = _SPACES.sub(" ", clean(text).strip())
    if text.isascii() and text.isprintable():
        return text
    composed = unicodedata.normalize("NFC", text)
    return _DRAWN.sub(lambda found: f"[U+{ord(found.group()):04X}]", composed)


def titled(text: str) -> str:
    """A text for a title: clean, in the characters it was written in, cut after `LONGEST`."""
    text = clean(text)
    return text if len(text) <= LONGEST else text[: LONGEST - 1] + ELLIPSIS


def escaped(text: str) -> str:
    """A text for the inside of an element or of an attribute in double quotes."""
    return html.escape(text, quote=True)


def width(text: str, size: float) -> float:
    """The room that a drawn text takes, in the unit of `size`."""
    return len(text) * CELL * size


def fitting(room: float, size: float) -> int:
    """Characters that fit in a room, one at least."""
    return max(1, int(room / (CELL * size) + 1e-6))


def short(text: str, chars: int) -> str:
    """A text of `chars` characters at most, with an ellipsis where something is left out."""
    return text if len(text) <= chars else text[: max(0, chars - 1)].rstrip() + ELLIPSIS


def tied(text: str) -> str:
    """A short text that is not broken between its words."""
    return text.replace(" ", "\u00a0") if len(text) <= TIED else text


def wrap(text: str, chars: int, most: int) -> list[str]:
    """A drawn text in lines of `chars` characters, `most` of them; the last ends in an ellipsis when it is cut."""
    lines: list[str] = []
    line = ""
    for word in text.split(" "):
        while word:
            joined = f"{line} {word}" if line else word
            if len(joined) <= chars:
                line, word = joined, ""
            elif line and (len(word) <= chars or chars - len(line) < 4):
                lines.append(line)
                line = ""
            else:  # a word longer than a line
                part = chars - len(line) - 1 if line else chars
                lines.append(f"{line} {word[:part]}".strip() if line else word[:part])
                line, word = "", word[part:]
            if len(lines) > most:
                break
        if len(lines) > most:
            break
    if line:
        lines.append(line)
    if len(lines) > most:
        return [*lines[: most - 1], lines[most - 1][: chars - 1].rstrip() + ELLIPSIS]
    return lines


Spans = tuple[tuple[str, bool], ...]
"""Pieces of a text, each plain or bold."""


def wrapped(pieces: Spans, chars: int, most: int) -> list[Spans]:
    """Pieces with a space between them in lines, as `wrap` does it; what is bold stays so."""
    listed = [(drawn(text), bold) for text, bold in pieces]
    listed = [(text, bold) for text, bold in listed if text]
    marks = [bold for text, bold in listed for letter in text if letter != " "]
    made, at = [], 0
    for line in wrap(" ".join(text for text, _ in listed), chars, most):
        spans: list[tuple[str, bool]] = []
        for letter in line:
            bold = spans[-1][1] if letter == " " and spans else marks[min(at, len(marks) - 1)]
            at += letter != " "
            if spans and spans[-1][1] == bold:
                spans[-1] = (spans[-1][0] + letter, bold)
            else:
                spans.append((letter, bold))
        made.append(tuple(spans))
    return made
