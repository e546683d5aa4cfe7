"""Values with places: what the readers give and how a refused file is described."""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from typing import Any, NamedTuple

MAX_BYTES = 32_000_000
MAX_DEPTH = 40
MAX_VALUES = 2_000_000
MAX_DIGITS = 18
MAX_PROBLEMS = 100
"""Problems of one file after which reading stops; a file with more is not a record with slips in it."""

INVISIBLE = re.compile(
    "[\x00-\x08\x0b\x0c\x0e-\x1f\x7f-\x9f\u2028\u2029\u202a-\u202e\u2066-\u2069\ud800-\udfff\ufeff\ufffe\uffff]"
)
"""Characters that no record holds: control characters, those that break a line or turn its direction unseen,
halves of a character, and marks of byte order."""
ESCAPED_INVISIBLE = re.compile("[\\r]|" + INVISIBLE.pattern)
"""As `INVISIBLE`, for text that was written with escapes: there a carriage return is no line ending."""

_INTEGER = re.compile(r"[-+]?(0|[1-9][0-9]*)\Z")
_FLOAT = re.compile(r"[-+]?(\.[0-9]+|(0|[1-9][0-9]*)(\.[0-9]*)?)([eE][-+]?[0-9]+)?\Z")
_NOT_FINITE = re.compile(r"[-+]?\.(inf|Inf|INF)\Z|\.(nan|NaN|NAN)\Z")
_LINE_END = re.compile("\r\n?|\n")
_WORDS: dict[str, Any] = {
    "true": True, "True": True, "TRUE": True,
    "false": False, "False": False, "FALSE": False,
    "null": None, "Null": None, "NULL": None, "~": None, "": None,
}  # fmt: skip


class Place(NamedTuple):
    """Where a value stands: line and column, both from 1; line 0 means the whole file."""

    line: int
    column: int


class Map(dict[str, Any]):
    """A mapping as written. `places`, `key_places` and `written` are by key."""

    __slots__ = ("key_places", "place", "places", "written")

    def __init__(self, place: Place) -> None:
        super().__init__()
        self.place = place
        self.places: dict[str, Place] = {}
        self.key_places: dict[str, Place] = {}
        self.written: dict[str, str] = {}


class Seq(list[Any]):
    """A list as written. `places` runs parallel to it; `written` is by index."""

    __slots__ = ("place", "places", "written")

    def __init__(self, place: Place) -> None:
        super().__init__()
        self.place = place
        self.places: list[Place] = []
        self.written: dict[int, str] = {}


@dataclass(frozen=True, slots=True)
class Problem:
    """One thing that keeps a record from being accepted: place, thing, cause, next step."""

    place: Place
    where: str
    cause: str
    step: str

    def sentence(self, file: str) -> str:
        spot = file if self.place.line == 0 else f"{file} line {self.place.line}"
        if self.where:
            spot = f"{spot}, {self.where}"
        return f"{spot}: {self.cause}; {self.step}."


class Refused(Exception):
    """The file is not accepted. `problems` lists everything found, in file order."""

    def __init__(self, name: str, problems: list[Problem]) -> None:
        self.name = name
        self.problems = sorted(problems, key=lambda p: p.place)
        super().__init__("\n".join(self.sentences()))

    def sentences(self) -> list[str]:
        return [problem.sentence(self.name) for problem in self.problems]


@dataclass(frozen=True, slots=True)
class Document:
    """One accepted file: its root mapping, name and SHA-256 fingerprint."""

    root: Map
    name: str
    sha256: str


class NotFinite(ValueError):
    """A number that is infinite, not a number, or longer than `MAX_DIGITS` digits."""


def plain_scalar(text: str) -> Any:
    """The value of an unquoted scalar by the YAML 1.2 core schema, less octal, hex and leading zeros.

    `08`, `1/0`, `10:04`, `off` and `2026-05-04` stay text. Raises `NotFinite`.
    """
    if text in _WORDS:
        return _WORDS[text]
    if _INTEGER.match(text):
        if len(text.lstrip("+-")) > MAX_DIGITS:
            raise NotFinite
        return int(text)
    if _FLOAT.match(text):
        if len(text) > 2 * MAX_DIGITS:
            raise NotFinite
        value = float(text)
        if not math.isfinite(value):
            raise NotFinite
        return value
    if _NOT_FINITE.match(text):
        raise NotFinite
    return text


def shown(text: str, limit: int = 60) -> str:
    """Text of a file, in quotes for a sentence, cut to `limit` characters."""
    return repr(text if len(text) <= limit else text[: limit - 3] + "...")


def line_at(text: str, position: int) -> int:
    """The line, from 1, of a position in a text."""
    return 1 + sum(1 for _ in _LINE_END.finditer(text, 0, position))


def invisible(character: str) -> tuple[str, str]:
    """Cause and next step for a character that no record holds."""
    return (
        f"there is a character that cannot be seen (U+{ord(character):04X})",
        "delete it; when nothing shows, type the line anew",
    )
