"""JSON text to values with places.

The standard decoder gives no places and takes NaN and repeated keys, so this
walks the text itself, with the standard library's own string scanner.
"""

from __future__ import annotations

import bisect
import re
from json import JSONDecodeError
from json.decoder import scanstring  # type: ignore[attr-defined]
from typing import Any, NoReturn

from asfound.load.values import (
    ESCAPED_INVISIBLE,
    MAX_DEPTH,
    MAX_PROBLEMS,
    MAX_VALUES,
    Map,
    NotFinite,
    Place,
    Problem,
    Refused,
    Seq,
    invisible,
    plain_scalar,
    shown,
)

_SPACE = re.compile(r"[ \t\n\r]*")
_NUMBER = re.compile(r"-?(0|[1-9][0-9]*)(\.[0-9]+)?([eE][-+]?[0-9]+)?")
_WORD = re.compile(r"[-+.]?[A-Za-z0-9][A-Za-z0-9.+-]*")
_WORDS = {"true": True, "false": False, "null": None}
_LINE_END = re.compile("\r\n?|\n")


def read_json(text: str, name: str) -> Map:
    """The root object of a JSON text. Raises `Refused`."""
    return _Reader(text, name).read()


class _Reader:
    def __init__(self, text: str, name: str) -> None:
        self.text = text
        self.name = name
        self.problems: list[Problem] = []
        self.count = 0
        self.starts = [0] + [match.end() for match in _LINE_END.finditer(text)]

    def read(self) -> Map:
        value, _, position = self._value(self._skip(0), 0)
        end = self._skip(position)
        if end < len(self.text):
            self._stop(end, "there is text after the end of the record", "delete what follows the last bracket")
        if self.problems:
            raise Refused(self.name, self.problems)
        if not isinstance(value, Map):
            cause = "a record is made of named parts such as site, panels and cables; this file begins otherwise"
            self._stop(0, cause, "start one with `asfound new`")
        return value

    def _skip(self, position: int) -> int:
        match = _SPACE.match(self.text, position)
        return match.end() if match else position

    def _place(self, position: int) -> Place:
        row = bisect.bisect_right(self.starts, position) - 1
        return Place(row + 1, position - self.starts[row] + 1)

    def _problem(self, position: int, cause: str, step: str) -> None:
        self.problems.append(Problem(self._place(position), "", cause, step))
        if len(self.problems) >= MAX_PROBLEMS:
            raise Refused(self.name, self.problems)

    def _stop(self, position: int, cause: str, step: str) -> NoReturn:
        self.problems.append(Problem(self._place(position), "", cause, step))
        raise Refused(self.name, self.problems)

    def _value(self, position: int, depth: int) -> tuple[Any, str | None, int]:
        """The value at `position`, its text when that differs, and where it ends."""
        self.count += 1
        if self.count > MAX_VALUES:
            self._stop(position, f"the file holds more than {MAX_VALUES} values", "split the record")
        character = self.text[position : position + 1]
        if character == '"':
            value, end = self._string(position)
            return value, None, end
        if character in ("{", "["):
            if depth >= MAX_DEPTH:
                self._stop(position, f"values are nested deeper than {MAX_DEPTH} levels", "flatten this part")
            return self._object(position, depth) if character == "{" else self._array(position, depth)
        word = _WORD.match(self.text, position)
        if word is None:
            cause, step = "a value is missing here", "look at the comma, quote or bracket before it"
            self._stop(position, cause, step)
        return self._word(position, word.group())

    def _word(self, position: int, text: str) -> tuple[Any, str | None, int]:
        """A number, true, false or null."""
        end = position + len(text)
        if text in _WORDS:
            return _WORDS[text], text, end
        number = _NUMBER.fullmatch(text)
        if number is None and text.lstrip("-+.").lower() not in ("nan", "infinity", "inf"):
            step = "put double quotes around text, and write numbers as in 0.5 and 14"
            self._stop(position, f"{shown(text)} is not written as JSON", step)
        try:
            value = plain_scalar(text) if number else None
        except NotFinite:
            number = None
        if number is None:
            cause = f"{shown(text)} is not a finite number of ordinary length"
            self._problem(position, cause, "write the number that was read; put quotes around it if it is no quantity")
            return None, text, end
        return value, text, end

    def _string(self, position: int) -> tuple[str, int]:
        try:
            value, end = scanstring(self.text, position + 1, True)
        except JSONDecodeError as error:
            if error.msg.startswith("Unterminated"):
                self._stop(position, "a quote opened here is not closed", "close the quote")
            if error.msg.startswith("Invalid control"):
                self._stop(position, "quoted text breaks off at the end of its line", "close the quote on its line")
            cause = "a backslash inside quotes stands before something it cannot stand before"
            self._stop(error.pos, cause, "write two backslashes for one")
        if "\\" in self.text[position:end]:
            unseen = ESCAPED_INVISIBLE.search(value)
            if unseen:
                self._problem(position, *invisible(unseen.group()))
        return value, end

    def _object(self, position: int, depth: int) -> tuple[Map, None, int]:
        result = Map(self._place(position))
        position = self._skip(position + 1)
        if self.text[position : position + 1] == "}":
            return result, None, position + 1
        while True:
            if self.text[position : position + 1] != '"':
                self._stop(position, "a quoted name is missing here", "write the name in double quotes")
            key_start = position
            key, position = self._string(position)
            position = self._skip(position)
            if self.text[position : position + 1] != ":":
                self._stop(position, f"a colon is missing after {shown(key)}", "put the colon in")
            start = self._skip(position + 1)
            value, written, position = self._value(start, depth + 1)
            if key in result:
                first = result.key_places[key].line
                self._problem(key_start, f"{shown(key)} is given twice (first on line {first})", "keep one of the two")
            else:
                result[key] = value
                result.key_places[key] = self._place(key_start)
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
