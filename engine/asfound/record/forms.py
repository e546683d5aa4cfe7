"""The forms a value can be written in, and the units it is kept in."""

from __future__ import annotations

import functools
import re
from collections.abc import Callable
from typing import Any

from asfound.data import data
from asfound.load.values import Map, Seq
from asfound.record.facts import EXACT, LISTED, NOT_RECORDED, WEAK, Fact, exact, neighbours, strength, unseen
from asfound.shape import is_doubt, split_choice

Converter = Callable[[Any], Any]

SPELLINGS = {
    "aluminum": "aluminium",
    "copper-clad aluminum": "copper-clad aluminium",
    "gray": "grey",
    "0": "1/0",
    "00": "2/0",
    "000": "3/0",
    "0000": "4/0",
}
_INCH_MM = 25.4  # exact by definition (international inch, 1959)
_IN_INCHES = {"in": 1.0, "ft": 12.0, "mm": 1 / _INCH_MM, "cm": 10 / _INCH_MM, "m": 1000 / _INCH_MM}
_PER_IN3 = {"in3": 1.0, "in³": 1.0, "cm3": 16.387064}  # 2.54 cubed


def size_word(value: Any) -> str:
    """A wire size as one spelling: `14`, `1/0`, `250 kcmil`, `2.5 mm2`."""
    text = str(int(value) if isinstance(value, float) and value.is_integer() else value)
    if text in SPELLINGS:
        return SPELLINGS[text]
    return text[1:] if re.fullmatch("0[1-9]", text) else text


def inches(value: Any) -> float:
    """A length with unit, in inches, as `8 in`, `40 ft`, `1-1/4 in` or `0.25"`; a bare number is in inches already.

    Raises `ValueError` and `KeyError` for what is no length.
    """
    if not isinstance(value, str):
        return float(value)
    number, unit = value.replace('"', " in").rsplit(maxsplit=1)
    whole, _, part = number.replace("-", " ").rpartition(" ")
    over, _, under = part.partition("/")
    return (float(whole or 0) + float(over) / float(under or 1)) * _IN_INCHES[unit]


def _length(per_inch: float) -> Converter:
    return lambda value: round(inches(value) * per_inch, 6) if isinstance(value, str) else float(value)


def _cubic_inches(value: Any) -> float:
    if isinstance(value, str):
        number, unit = value.split()
        return round(float(number) / _PER_IN3[unit], 4)
    return float(value)


def _word(value: Any) -> Any:
    return SPELLINGS.get(value, value) if isinstance(value, str) else value


def _words(value: Any) -> tuple[Any, ...]:
    return tuple(value) if isinstance(value, Seq) else (value,)


_BY_FORM: dict[str, Converter] = {"size": size_word, "words": _words}
_BY_UNIT: dict[str, Converter] = {
    "in": _length(1.0),
    "ft": _length(1 / 12),
    "mm": _length(_INCH_MM),
    "in³": _cubic_inches,
}


@functools.cache
def _converter(name: str, kind: str) -> Converter:
    """From a value as written to the value kept, by the form and unit the catalogue gives the fact."""
    facts = _catalogue(name, kind)
    if not facts:
        return _word
    return _BY_FORM.get(facts[0]["is"]) or _BY_UNIT.get(facts[0].get("unit", ""), _word)


def _catalogue(name: str, kind: str) -> list[dict[str, Any]]:
    """What the catalogue says of a fact: of this kind of item, or of every kind when it names none."""
    kinds = data("facts")
    held = [kinds[kind]] if kind in kinds else kinds.values()
    return [one["facts"][name] for one in held if name in one["facts"]]


@functools.cache
def is_free_text(name: str, kind: str = "") -> bool:
    """Whether the fact takes a person's own words, in which `or` is only a word.

    Without a kind of item, whether it does so on every kind that has the fact.
    """
    return {fact["is"] for fact in _catalogue(name, kind)} == {"text"}


def read_fact(holder: Map, key: str, name: str, kind: str = "") -> Fact:
    """The fact `name` of an item of `kind`, written at `key`, in any of the forms of doubt, in the unit it is kept in.

    A list that holds one value after conversion is that value. Not recorded when `key` is not there.
    """
    if key not in holder:
        return NOT_RECORDED
    value = holder[key]
    place = holder.places[key]
    convert = _converter(name, kind)
    if not is_doubt(value):
        return _plain(value, convert, holder.written.get(key), is_free_text(name, kind), {"place": place})
    how = value.get("how", "as written")
    about: dict[str, Any] = {
        "place": place,
        "how": how,
        "by": value.get("by", ""),
        "visit": value.get("visit", ""),
    }
    if "not_seen" in value:
        return unseen(value["not_seen"], **about)
    about["note"] = value.get("note", "")
    if "one_of" in value:
        listed = value["one_of"]
        text = " or ".join(listed.written.get(i, text_of(v)) for i, v in enumerate(listed))
        fact = _listed(map(convert, listed), text, about)
    else:
        fact = _plain(value["is"], convert, value.written.get("is"), is_free_text(name, kind), about)
    if fact.kind is EXACT and strength(how) != "observed":
        fact.kind = WEAK
        fact.values = (*fact.values, *neighbours(name, fact.value, how))
    return fact


def _plain(value: Any, convert: Converter, written: str | None, free: bool, about: dict[str, Any]) -> Fact:
    """A value that stands alone, or the short form `14 or 12`."""
    if isinstance(value, str) and " or " in value and not free:
        return _listed(map(convert, split_choice(value)), value, about)
    if isinstance(value, Seq):
        return exact(tuple(value), written=text_of(value), **about)
    return exact(convert(value), written=written or text_of(value), **about)


def _listed(values: Any, written: str, about: dict[str, Any]) -> Fact:
    distinct = tuple(dict.fromkeys(values))
    return Fact(LISTED if len(distinct) > 1 else EXACT, distinct, written=written, **about)


def text_of(value: Any) -> str:
    """A value as a record would write it; a list with commas."""
    if isinstance(value, list):
        return ", ".join(map(text_of, value))
    if isinstance(value, bool):
        return "true" if value else "false"
    return str(value)
