"""JSON text to values with places.

The standard decoder gives no places and takes NaN and repeated keys, so this
walks the text itself, with the standard library's own string scanner.
"""

from __future__ import annotations

import bisect
import re
from json import JSONDecodeError
from json.decoder import scanstring  # type: ignore[attr-defined]
from typing import Any

from asfound.load.values import (
    MAX_DEPTH,
    MAX_VALUES,
    Map,
    NotFinite,
    Place,
    Problem,
    Refused,
    Seq,
    plain_scalar,
)

_SPACE = re.compile(r"[ \t\n\r]*")
_NUMBER = re.compile(r"-?(0|[1-9][0-9]*)(\.[0-9]+)?([eE][-+]?[0-9]+)?")
_WORD = re.compile(r"[A-Za-z]+|-[A-Za-z]+")
_WORDS = {"true": True, "false": False, "null": None}


def read_json(text: str, name: str) -> Map:
    """The root object of a JSON text. Raises `Refused`."""
    return _Reader(text, name).read()


class _Reader:
    def __init__(self, text: str, name: str) -> None:
        self.text = text
        self.name = name
        self.problems: list[Problem] = []
        self.count = 0
        self.starts = [0] + [match.end() for match in re.finditer("\n", text)]

    def read(self) -> Map:
        value, _, position = self._value(self._skip(0), 0)
        end = self._skip(position)
        if end < len(self.text):
            self._stop(end, "there is text after the end of the record", "delete what follows the last bracket")
        if not isinstance(value, Map):
            self._stop(
                0,
                "a record is an object with named parts such as site, panels and cables",
                "start one with `asfound new`",
            )
        if self.problems:
            raise Refused(self.name, self.problems)
        result: Map = value
        return result

    def _skip(self, position: int) -> int:
        match = _SPACE.match(self.text, position)
        return match.end() if match else position

    def _place(self, position: int) -> Place:
        row = bisect.bisect_right(self.starts, position) - 1
        return Place(row + 1, position - self.starts[row] + 1)

    def _stop(self, position: int, cause: str, step: str) -> None:
        self.problems.append(Problem(self._place(position), "", cause, step))
        raise Refused(self.name, self.problems)

    def _value(self, position: int, depth: int) -> tuple[Any, str | None, int]:
        """The value at `position`, its text when that differs, and where it ends."""
        self.count += 1
        if self.count > MAX_VALUES:
            self._stop(position, f"the file holds more than {MAX_VALUES} values", "split the record")
        character = self.text[position : position + 1]
        if character in ("{", "["):
            if depth >= MAX_DEPTH:
                self._stop(position, f"values are nested deeper than {MAX_DEPTH} levels", "flatten this part")
            if character == "{":
                return self._object(position, depth)
            return self._array(position, depth)
        if character == '"':
            value, end = self._string(position)
            return value, None, end
        number = _NUMBER.match(self.text, position)
        if number:
            return self._number(position, number.group())
        word = _WORD.match(self.text, position)
        if word and word.group() in _WORDS:
            return _WORDS[word.group()], word.group(), word.end()
        if word and word.group().lstrip("-") in ("NaN", "Infinity"):
            self._stop(position, f"{word.group()} is not a finite number", "write the number that was read")
        self._stop(
            position,
            "a value is missing or not written as JSON here",
            "look at the comma, quote or bracket before it",
        )
        raise AssertionError

    def _number(self, position: int, text: str) -> tuple[Any, str | None, int]:
        try:
            value = plain_scalar(text)
        except NotFinite:
            self._stop(
                position,
                f"{text[:40]} is not a finite number of ordinary length",
                "write the number that was read",
            )
        return value, text, position + len(text)

    def _string(self, position: int) -> tuple[str, int]:
        try:
            value, end = scanstring(self.text, position + 1, True)
        except JSONDecodeError as error:
            self._stop(
                error.pos,
                "the quoted text breaks off or holds a character it may not",
                "close the quote on its line",
            )
        try:
            value.encode("utf-8")
        except UnicodeEncodeError:
            self._stop(position, "half of a character pair stands here", "write the whole character")
        return value, end

    def _object(self, position: int, depth: int) -> tuple[Map, None, int]:
        result = Map(self._place(position))
        position = self._skip(position + 1)
        if self.text[position : position + 1] == "}":
            return result, None, position + 1
        while True:
            if self.text[position : position + 1] != '"':
                self._stop(position, "a quoted name is missing here", "write the name in double quotes")
            key_place = self._place(position)
            key, position = self._string(position)
            position = self._skip(position)
            if self.text[position : position + 1] != ":":
                self._stop(position, f"a colon is missing after {key!r}", "put the colon in")
            start = self._skip(position + 1)
            value, written, position = self._value(start, depth + 1)
            if key in result:
                first = result.key_places[key].line
                cause = f"{key!r} is given twice (first on line {first})"
                self.problems.append(Problem(key_place, "", cause, "keep one of the two"))
            else:
                result[key] = value
                result.key_places[key] = key_place
                result.places[key] = self._place(start)
                if written is not None:
                    result.written[key] = written
            position, done = self._next(position, "}")
            if done:
                return result, None, position

    def _array(self, position: int, depth: int) -> tuple[Seq, None, int]:
        result = Seq(self._place(position))
        position = self._skip(position + 1)
        if self.text[position : position + 1] == "]":
            return result, None, position + 1
        while True:
            value, written, end = self._value(position, depth + 1)
            if written is not None:
                result.written[len(result)] = written
            result.append(value)
            result.places.append(self._place(position))
            position, done = self._next(end, "]")
            if done:
                return result, None, position

    def _next(self, position: int, closing: str) -> tuple[int, bool]:
        position = self._skip(position)
        mark = self.text[position : position + 1]
        if mark == closing:
            return position + 1, True
        if mark != ",":
            self._stop(position, f"a comma or {closing} is missing here", "look at the value before it")
        return self._skip(position + 1), False
