"""YAML text to values with places, straight from parser events in one pass."""

from __future__ import annotations

from typing import Any

import yaml

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

_LOADER: Any = getattr(yaml, "CSafeLoader", yaml.SafeLoader)
_NO_KEY = object()


def read_yaml(text: str, name: str) -> Map:
    """The root mapping of a one-document YAML text. Raises `Refused`."""
    return _Builder(name).build(text)


class _Builder:
    def __init__(self, name: str) -> None:
        self.name = name
        self.problems: list[Problem] = []
        self.stack: list[Map | Seq] = []
        self.keys: list[Any] = []
        self.root: Any = _NO_KEY
        self.count = 0

    def build(self, text: str) -> Map:
        try:
            self._read(text)
        except yaml.MarkedYAMLError as error:
            mark = error.problem_mark or error.context_mark
            place = _place(mark) if mark else Place(0, 0)
            cause = f"the YAML breaks off here ({error.problem or error.context})"
            self._problem(place, cause, "look at the indentation, quotes and brackets of this and the line above")
        except yaml.reader.ReaderError as error:
            line = text.count("\n", 0, error.position if isinstance(error.position, int) else 0) + 1
            self._problem(
                Place(line, 1),
                "there is a character that text files do not hold",
                "delete the invisible character",
            )
        if self.problems:
            raise Refused(self.name, self.problems)
        if not isinstance(self.root, Map):
            problem = Problem(
                Place(1, 1), "", "a record is a list of named parts such as site, panels and cables",
                "start one with `asfound new`",
            )  # fmt: skip
            raise Refused(self.name, [problem])
        return self.root

    def _read(self, text: str) -> None:
        documents = 0
        event: Any
        for event in yaml.parse(text, Loader=_LOADER):
            kind = type(event)
            if kind is yaml.ScalarEvent:
                self._scalar(event)
            elif kind is yaml.MappingStartEvent or kind is yaml.SequenceStartEvent:
                self._open(event, kind is yaml.MappingStartEvent)
            elif kind is yaml.MappingEndEvent or kind is yaml.SequenceEndEvent:
                self.stack.pop()
                self.keys.pop()
            elif kind is yaml.AliasEvent:
                self._problem(
                    _place(event.start_mark),
                    f"an alias (*{event.anchor}) stands here",
                    "write the values out in full",
                )
                self._add(None, _place(event.start_mark), None)
            elif kind is yaml.DocumentStartEvent:
                documents += 1
                if documents > 1:
                    self._problem(
                        _place(event.start_mark),
                        "a second document starts here",
                        "keep one record in one file",
                    )
                    raise Refused(self.name, self.problems)

    def _open(self, event: Any, mapping: bool) -> None:
        place = _place(event.start_mark)
        self._form(event, place)
        if len(self.stack) >= MAX_DEPTH:
            self._problem(place, f"values are nested deeper than {MAX_DEPTH} levels", "flatten this part")
            raise Refused(self.name, self.problems)
        value: Map | Seq = Map(place) if mapping else Seq(place)
        self._add(value, place, None)
        self.stack.append(value)
        self.keys.append(_NO_KEY)

    def _scalar(self, event: Any) -> None:
        place = _place(event.start_mark)
        self._form(event, place)
        text = event.value
        value: Any = text
        if event.implicit[0] and not self._expects_key():
            try:
                value = plain_scalar(text)
            except NotFinite:
                self._problem(
                    place,
                    f"{text[:40]!r} is not a finite number of ordinary length",
                    "write the number that was read",
                )
        self._add(value, place, text)

    def _form(self, event: Any, place: Place) -> None:
        if event.anchor is not None:
            self._problem(place, f"an anchor (&{event.anchor}) stands here", "write the values out in full")
        if event.tag is not None:
            self._problem(place, f"a tag ({event.tag}) stands here", "delete the tag and keep the value")

    def _expects_key(self) -> bool:
        return bool(self.stack) and isinstance(self.stack[-1], Map) and self.keys[-1] is _NO_KEY

    def _add(self, value: Any, place: Place, text: str | None) -> None:
        self.count += 1
        if self.count > MAX_VALUES:
            self._problem(place, f"the file holds more than {MAX_VALUES} values", "split the record")
            raise Refused(self.name, self.problems)
        if not self.stack:
            self.root = value
            return
        holder = self.stack[-1]
        if isinstance(holder, Seq):
            if text is not None and text != value:
                holder.written[len(holder)] = text
            holder.append(value)
            holder.places.append(place)
            return
        key = self.keys[-1]
        if key is _NO_KEY:
            self._key(holder, value, place)
            return
        self.keys[-1] = _NO_KEY
        if key is None:
            return
        holder[key] = value
        holder.places[key] = place
        if text is not None and text != value:
            holder.written[key] = text

    def _key(self, holder: Map, value: Any, place: Place) -> None:
        """Take `value` as the next key; None stands for a key whose value is to be dropped."""
        self.keys[-1] = None
        if not isinstance(value, str):
            self._problem(
                place, "a name before the colon must be plain text", "write the name as one word or in quotes"
            )
        elif value in holder:
            first = holder.key_places[value].line
            self._problem(place, f"{value!r} is given twice (first on line {first})", "keep one of the two")
        else:
            holder.key_places[value] = place
            holder[value] = None
            self.keys[-1] = value

    def _problem(self, place: Place, cause: str, step: str) -> None:
        self.problems.append(Problem(place, "", cause, step))


def _place(mark: Any) -> Place:
    return Place(mark.line + 1, mark.column + 1)
