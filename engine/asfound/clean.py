"""Text of a record made harmless for a document: nothing invisible, nothing that turns the direction of reading."""

from __future__ import annotations

import re
import unicodedata
from typing import Any

_TURNING = set("\u061c\u200e\u200f\u202a\u202b\u202c\u202d\u202e\u2066\u2067\u2068\u2069")
_UNSEEN = set("\u00ad\u180e\u200b\u2060\ufeff\ufff9\ufffa\ufffb")
_FINGERPRINT = re.compile(r"[0-9a-f]{64}[.,;:)]?")
LONG = 40
STEP = 24


def clean(text: str) -> str:
    """The text on one line, without control, direction and invisible characters; what was half a character shown so."""
    if text.isascii() and text.isprintable():
        return text
    kept = []
    for char in text:
        sort = unicodedata.category(char)
        if char in "\t\n\r\v\f\u0085\u2028\u2029":
            kept.append(" ")
        elif sort == "Cs" or sort == "Cn":
            kept.append("\ufffd")
        elif sort != "Cc" and char not in _TURNING and char not in _UNSEEN:
            kept.append(char)
    return "".join(kept)


def cleaned(held: Any) -> Any:
    """Every text in lists and mappings made harmless; keys too."""
    if isinstance(held, str):
        return clean(held)
    if isinstance(held, dict):
        return {clean(key): cleaned(value) for key, value in held.items()}
    if isinstance(held, list | tuple):
        return [cleaned(one) for one in held]
    return held


def breakable(text: str) -> str:
    """The text with places to break in words longer than `LONG`, for formats that cannot break a word by themselves.

    A fingerprint stays whole, so that it can be copied.
    """
    if len(text) <= LONG:
        return text
    return " ".join(map(_broken, text.split(" ")))


def _broken(word: str) -> str:
    if len(word) <= LONG or _FINGERPRINT.fullmatch(word):
        return word
    return "\u200b".join(word[i : i + STEP] for i in range(0, len(word), STEP))
