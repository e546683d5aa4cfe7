"""The catalogue of facts with what the record schema adds to it: the words a fact can be, and how it is written.

One entry for each fact of each kind of item. The page of facts, the typed items
of the editor and anything that wants the neighbours of a word read it here.
"""

from __future__ import annotations

import functools
import json
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from asfound.data import data
from asfound.load.values import plain_scalar
from asfound.record.forms import SPELLINGS, text_of
from asfound.shape.doubt import DOUBT, target
from asfound_schemas import schema

IN_RECORD, IN_CASE = "in a record", "in a case"
UNITS = {
    "A": "amperes",
    "V": "volts",
    "W": "watts",
    "ohm": "ohms",
    "in": "inches",
    "in³": "cubic inches",
    "ft": "feet",
    "mm": "millimetres",
    "lb": "pounds",
    "px": "pixels",
    "°C": "degrees Celsius",
}
"""Every unit of the catalogue in words."""


@dataclass(frozen=True, slots=True)
class FactEntry:
    """One fact of one kind of item.

    `form` is as in the catalogue, without the kind of a related item, which is
    `of`. `words` holds every word the fact can be, in the spelling that a rule
    sees; empty where any word can stand. `example` is a line of YAML,
    `written` says where it stands: in a record, or, for what the trace, the log
    or a file gives, in a case of a rule.
    """

    kind: str
    name: str
    form: str
    of: str
    unit: str
    means: str
    observe: str
    words: tuple[str, ...]
    example: str
    written: str


@functools.cache
def kinds() -> tuple[str, ...]:
    """The kinds of items a rule can look at."""
    return tuple(data("facts"))


@functools.cache
def entries(kind: str) -> tuple[FactEntry, ...]:
    """The facts of a kind, in the order of the catalogue. Raises `KeyError` for an unknown kind."""
    return tuple(_entry(kind, name, held) for name, held in data("facts")[kind]["facts"].items())


def entry(kind: str, name: str) -> FactEntry:
    """One fact. Raises `KeyError` when there is none of this name."""
    for one in entries(kind):
        if one.name == name:
            return one
    raise KeyError(name)


def _entry(kind: str, name: str, held: dict[str, Any]) -> FactEntry:
    form, _, of = str(held["is"]).partition(" ")
    words = _words(kind, name)
    example, written = _example(kind, name, form, of, words)
    return FactEntry(
        kind, name, form, of, str(held.get("unit", "")), held["means"], str(held.get("observe", "")), words, example,
        written,
    )  # fmt: skip


# -- the schema


def as_recorded(kind: str, name: str) -> dict[str, Any] | None:
    """What the record schema says of a fact that a record holds as such; None for one that is traced."""
    if str(data("facts")[kind]["facts"][name]["is"]).partition(" ")[0] in ("item", "items"):
        return None
    return _parts(kind).get(name)


def _parts(kind: str) -> dict[str, Any]:
    """What the record schema says of the parts of an item; empty for a kind that is never written."""
    whole = schema("record")
    top, definitions = whole["properties"], whole["$defs"]
    listed = {"label": "labels", "photo": "photos"}
    if kind in listed:
        node = top[listed[kind]]["items"]
    elif kind == "instrument":
        node = top["instruments"]["additionalProperties"]
    else:
        node = top["site"] if kind == "site" else definitions.get(kind, {})
    held: dict[str, Any] = node.get("then", node).get("properties", {})
    return held if kind in data("as_written")["frames"] else {}


def _words(kind: str, name: str) -> tuple[str, ...]:
    about = data("as_written")
    same = about["same"].get(kind, {}).get(name)
    if same:
        return _words(*same.split())
    given = about["words"].get(kind, {}).get(name)
    if given is None:
        part = _parts(kind).get(name)
        given = _closed(part) if part else None
    words = [SPELLINGS.get(word, word) for word in given or () if isinstance(word, str)]
    return tuple(dict.fromkeys(words))


def _closed(part: dict[str, Any]) -> list[Any] | None:
    """The values of a place of the schema where only listed ones may stand; None where others may."""
    if "$ref" in part:
        return _closed(target(part["$ref"], schema("record")))
    if "enum" in part:
        return list(part["enum"])
    if part.get("type") == "array":
        return _closed(part["items"])
    offered = [_closed(one) for one in part.get("anyOf", ()) if one != DOUBT]
    if not offered or None in offered:
        return None
    return [value for one in offered for value in one or ()]


# -- examples


def _example(kind: str, name: str, form: str, of: str, words: tuple[str, ...]) -> tuple[str, str]:
    about = data("as_written")
    elsewhere = about["elsewhere"].get(kind, {}).get(name)
    if elsewhere:
        return elsewhere, IN_RECORD
    part = _parts(kind).get(name)
    if part is not None and form not in ("item", "items"):
        frame = str(about["frames"][kind])
        return frame.replace("FACT", f"{name}: {inline(part['examples'][0])}"), IN_RECORD
    return f"{kind}: {{{name}: {inline(_shown(kind, name, form, of, words))}}}", IN_CASE


def _shown(kind: str, name: str, form: str, of: str, words: tuple[str, ...]) -> Any:
    """A value for a fact that no record holds as such."""
    about = data("as_written")
    if form in ("item", "items"):
        one = {"tag": about["tags"][of]}
        return [one] if form == "items" else one
    given = about["shown"].get(kind, {}).get(name)
    if given is not None:
        return given
    if words:
        return [words[0]] if form == "words" else words[0]
    return True


def inline(value: Any) -> str:
    """A value as YAML on one line."""
    if isinstance(value, dict):
        return f"{{{', '.join(f'{inline(key)}: {inline(held)}' for key, held in value.items())}}}"
    if isinstance(value, list):
        return f"[{', '.join(map(inline, value))}]"
    if isinstance(value, str):
        return value if _plain(value) else json.dumps(value, ensure_ascii=False)
    return text_of(value)


def _plain(text: str) -> bool:
    """Whether a record can hold a text as it stands, without quotes, between brackets too."""
    if not text or text != text.strip() or text[0] in _OPENS or any(mark in text for mark in _INSIDE):
        return False
    return plain_scalar(text) == text and ": " not in text and not text.endswith(":")


_OPENS, _INSIDE = "-?:&*!|>%@`", ",[]{}#\"'"


def words_of(kind: str, name: str) -> tuple[str, ...]:
    """Every word a fact can be; empty where any can stand. Raises `KeyError` for an unknown fact."""
    return entry(kind, name).words


def every() -> Iterator[FactEntry]:
    """Every fact of every kind."""
    for kind in kinds():
        yield from entries(kind)
