"""YAML text to values with places, straight from parser events in one pass."""

from __future__ import annotations

from typing import Any, NoReturn

import yaml

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

_LOADER: Any = getattr(yaml, "CSafeLoader", yaml.SafeLoader)
_NO_KEY = object()  # the mapping waits for its next key
_DROPPED = object()  # a value already refused; stands where it stood

_QUOTES = "put quotes around text that holds : # @ ` % & * ! | > or brackets"
_SAID: dict[str, tuple[str, str]] = {
    "mapping values are not allowed": (
        "a colon stands where none can be",
        "indent the names below each other alike, give each its own line, and " + _QUOTES,
    ),
    "block sequence entries are not allowed": (
        "a dash for a list stands where none can be",
        "begin the list on a line of its own, or put quotes around the dash",
    ),
    "mapping keys are not allowed": ("a question mark stands alone here", "put quotes around it"),
    "found a tab character": ("a tab is used to indent", "indent with spaces only"),
    "found character that cannot start": ("text begins with a character that YAML keeps for itself", _QUOTES),
    "did not find expected alphabetic or numeric": ("text begins with & or *, which YAML keeps for itself", _QUOTES),
    "could not find expected ':'": (
        "a name stands here with no colon and value after it",
        "write a colon and the value, or join the line to the one above",
    ),
    "did not find expected key": (
        "the line fits neither the indentation above it nor what stands before it",
        "indent names of one level alike, and put quotes around the whole of a text or none of it",
    ),
    "did not find expected '-' indicator": (
        "a list has a line without a dash",
        "begin each entry with a dash, in the same column",
    ),
    "did not find expected ',' or ']'": (
        "a list in square brackets is not closed or lacks a comma",
        "put a comma between its values and a ] at its end",
    ),
    "did not find expected ',' or '}'": (
        "a list in curly brackets is not closed or lacks a comma",
        "put a comma between its parts and a } at its end",
    ),
    "did not find expected node content": (
        "a comma or closing bracket stands here with no value before it",
        "delete it",
    ),
    "found unexpected end of stream": ("a quote opened here is not closed", "close the quote"),
    "found unexpected document indicator": ("a quote opened here is not closed", "close the quote"),
    "found unknown escape character": (
        "a backslash stands inside double quotes",
        "use single quotes or two backslashes",
    ),
    "found invalid Unicode character": ("a backslash stands inside double quotes", "use single quotes"),
    "hexdecimal number": ("a backslash stands inside double quotes", "use single quotes or two backslashes"),
    "expected comment or line break": ("text stands after | or > on the same line", "begin the text on the next line"),
    "expected <document start>": ("the record goes on after its end", "delete the line of dots, dashes or % above"),
    "directive": ("a line begins with %", "delete the line"),
    "found incompatible YAML document": ("a line begins with %", "delete the line"),
    "exceeded maximum nesting depth": (f"values are nested deeper than {MAX_DEPTH} levels", "flatten this part"),
    "tag": ("text begins with !, which YAML keeps for itself", "put quotes around it"),
    "expected '!'": ("text begins with !, which YAML keeps for itself", "put quotes around it"),
    "the expected '>'": ("text begins with !, which YAML keeps for itself", "put quotes around it"),
}
"""What the parser says, by a part of its words, and what that means to the writer: cause and next step."""
_FROM_START = ("end of stream", "document indicator", "expected ':'")
"""What is better told at the place where it began than where the parser noticed."""


def read_yaml(text: str, name: str) -> Map:
    """The root mapping of a one-document YAML text. Raises `Refused`."""
    return _Builder(name).build(text)


class _Builder:
    def __init__(self, name: str) -> None:
        self.name = name
        self.problems: list[Problem] = []
        self.stack: list[Map | Seq] = []
        self.keys: list[Any] = []  # for each open mapping its key in hand: text, _NO_KEY or _DROPPED
        self.root: Any = _NO_KEY
        self.count = 0
        self.quiet: int | None = None  # how deep the brackets lie that were refused as a name; nothing in them is told

    def build(self, text: str) -> Map:
        try:
            self._read(text)
        except yaml.MarkedYAMLError as error:
            self._broken(error, text)
        except yaml.YAMLError:
            self._problem(Place(0, 0), "the text cannot be read as YAML", "look for invisible characters")
        if self.problems:
            raise Refused(self.name, self.problems)
        if self.root is _NO_KEY or self.root is None:
            self._stop(Place(0, 0), "the file holds no values", "start one with `asfound new`")
        if not isinstance(self.root, Map):
            cause = "a record is made of named parts such as site, panels and cables; this file begins otherwise"
            self._stop(Place(1, 1), cause, "start one with `asfound new`")
        root: Map = self.root
        return root

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
                if self.quiet == len(self.stack):
                    self.quiet = None
            elif kind is yaml.AliasEvent:
                self._alias(event)
            elif kind is yaml.DocumentStartEvent:
                documents += 1
                if documents > 1:
                    place = _place(event.start_mark)
                    self._stop(place, "a second document starts here", "keep one record in one file")

    def _open(self, event: Any, mapping: bool) -> None:
        place = _place(event.start_mark)
        self._form(event, place)
        if len(self.stack) >= MAX_DEPTH:
            self._stop(place, f"values are nested deeper than {MAX_DEPTH} levels", "flatten this part")
        value: Map | Seq = Map(place) if mapping else Seq(place)
        as_name = self._expects_key()
        self._add(value, place, None)
        if as_name and self.quiet is None:
            self.quiet = len(self.stack)
        self.stack.append(value)
        self.keys.append(_NO_KEY)

    def _scalar(self, event: Any) -> None:
        place = _place(event.start_mark)
        self._form(event, place)
        text = event.value
        value: Any = text
        if event.style == '"':
            unseen = ESCAPED_INVISIBLE.search(text)
            if unseen:
                self._problem(place, *invisible(unseen.group()))
        elif event.implicit[0]:
            if not self._expects_key():
                value = self._plain(text, place)
            elif text == "<<":
                self._problem(place, "a merge key (<<) stands here", "write the values out in full")
                self.keys[-1] = _DROPPED
                return
        self._add(value, place, text)

    def _plain(self, text: str, place: Place) -> Any:
        try:
            return plain_scalar(text)
        except NotFinite:
            cause = f"{shown(text)} is not a finite number of ordinary length"
            self._problem(place, cause, "write the number that was read; put quotes around it if it is no quantity")
            return _DROPPED

    def _alias(self, event: Any) -> None:
        place = _place(event.start_mark)
        if not self.keys or self.keys[-1] is not _DROPPED:
            self._problem(place, f"an alias (*{event.anchor[:40]}) stands here", "write the values out in full")
        self._add(_DROPPED, place, None)

    def _form(self, event: Any, place: Place) -> None:
        if event.anchor is not None:
            cause = f"an anchor (&{event.anchor[:40]}) stands here"
            self._problem(place, cause, "delete it and write the values out wherever they hold")
        if event.tag is not None:
            self._problem(place, f"a tag ({event.tag[:40]}) stands here", "delete the tag and keep the value")

    def _expects_key(self) -> bool:
        return bool(self.stack) and isinstance(self.stack[-1], Map) and self.keys[-1] is _NO_KEY

    def _add(self, value: Any, place: Place, text: str | None) -> None:
        if not self.stack:
            self.root = value
            return
        holder = self.stack[-1]
        key = self.keys[-1]
        if key is _NO_KEY and isinstance(holder, Map):
            self._key(holder, value, place)
            return
        self.count += 1
        if self.count > MAX_VALUES:
            self._stop(place, f"the file holds more than {MAX_VALUES} values", "split the record")
        if isinstance(holder, Seq):
            if text is not None and text != value:
                holder.written[len(holder)] = text
            holder.append(value)
            holder.places.append(place)
            return
        self.keys[-1] = _NO_KEY
        if key is _DROPPED:
            return
        holder[key] = value
        holder.places[key] = place
        if text is not None and text != value:
            holder.written[key] = text

    def _key(self, holder: Map, value: Any, place: Place) -> None:
        """Take `value` as the next key, or drop what follows when it cannot be one."""
        self.keys[-1] = _DROPPED
        if value is _DROPPED:
            return
        if not isinstance(value, str):
            cause = "brackets stand where a name and a colon belong"
            self._problem(place, cause, "write the name as one word or in quotes")
        elif value in holder:
            first = holder.key_places[value].line
            self._problem(place, f"{shown(value)} is given twice (first on line {first})", "keep one of the two")
        else:
            holder.key_places[value] = place
            holder[value] = None
            self.keys[-1] = value

    def _broken(self, error: yaml.MarkedYAMLError, text: str) -> None:
        """Say in the writer's words why the parser could not go on."""
        said = error.problem or error.context or ""
        mark = error.problem_mark or error.context_mark
        if mark and "cannot start any token" in said and text[mark.index : mark.index + 1] == "\t":
            said = "found a tab character"
        cause, step = next(
            (words for part, words in _SAID.items() if part in said),
            ("the indentation or punctuation cannot be read here", "look at this line and the one above"),
        )
        if any(part in said for part in _FROM_START):
            mark = error.context_mark or mark
        self._problem(_place(mark) if mark else Place(0, 0), cause, step)

    def _problem(self, place: Place, cause: str, step: str) -> None:
        if self.quiet is not None:
            return
        self.problems.append(Problem(place, "", cause, step))
        if len(self.problems) >= MAX_PROBLEMS:
            raise Refused(self.name, self.problems)

    def _stop(self, place: Place, cause: str, step: str) -> NoReturn:
        if self.quiet is None:
            self.problems.append(Problem(place, "", cause, step))
        raise Refused(self.name, self.problems)


def _place(mark: Any) -> Place:
    return Place(mark.line + 1, mark.column + 1)
