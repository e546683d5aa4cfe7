"""The forms a value can be written in, and the units it is kept in."""

from __future__ import annotations

import re
from collections.abc import Callable
from typing import Any

from asfound.load.values import Map, Seq
from asfound.record.facts import LISTED, NOT_RECORDED, WEAK, Fact, exact, neighbours, strength, unseen
from asfound.shape import is_doubt, split_choice

Converter = Callable[[Any], Any]

SPELLINGS = {
    "aluminum": "aluminium", "copper-clad aluminum": "copper-clad aluminium", "gray": "grey",
    "0": "1/0", "00": "2/0", "000": "3/0", "0000": "4/0",
}  # fmt: skip
_IN_INCHES = {"in": 1.0, "ft": 12.0, "mm": 1 / 25.4, "cm": 1 / 2.54, "m": 39.37007874}
_CM3_PER_IN3 = 16.387064
_FREE_TEXT = ("label", "legend", "code", "insulation", "marks")


def size_word(value: Any) -> str:
    """A wire size as one spelling: `14`, `1/0`, `250 kcmil`, `2.5 mm2`."""
    text = str(value)
    if text in SPELLINGS:
        return SPELLINGS[text]
    return text[1:] if re.fullmatch("0[1-9]", text) else text


def inches(value: str) -> float:
    """A length with unit, in inches."""
    number, unit = value.split()
    return float(number) * _IN_INCHES[unit]


def _feet(value: str) -> float:
    return round(inches(value) / 12, 6)


def _millimetres(value: str) -> float:
    return round(inches(value) * 25.4, 6)


def _inches(value: str) -> float:
    return round(inches(value), 6)


def _cubic_inches(value: Any) -> float:
    if isinstance(value, str):
        number, unit = value.split()
        return round(float(number) / (_CM3_PER_IN3 if unit == "cm3" else 1.0), 4)
    return float(value)


def _word(value: Any) -> Any:
    return SPELLINGS.get(value, value) if isinstance(value, str) else value


_CONVERT: dict[str, Converter] = {
    "gauge": size_word, "ground_gauge": size_word, "length": _feet, "diameter": _millimetres,
    "support_spacing": _inches, "first_support": _inches, "face_distance": _inches, "setback": _inches,
    "free_length": _inches, "opening": _inches, "volume": _cubic_inches, "added_volume": _cubic_inches,
}  # fmt: skip


def read_fact(holder: Map, key: str, name: str) -> Fact:
    """The fact written at `key`, in any of the forms of doubt, converted to the unit of the fact `name`."""
    if key not in holder:
        return NOT_RECORDED
    value = holder[key]
    place = holder.places[key]
    convert = _CONVERT.get(name, _word)
    written = holder.written.get(key, value if isinstance(value, str) else "")
    if isinstance(value, str) and " or " in value and name not in _FREE_TEXT:
        return Fact(LISTED, tuple(convert(one) for one in split_choice(value)), written=value, place=place)
    if isinstance(value, Seq):
        return exact(tuple(value), written=", ".join(map(str, value)), place=place)
    if not is_doubt(value):
        return exact(
            (value,) if name == "condition" else convert(value),
            written=written or text_of(value),
            place=place,
        )
    how = value.get("how", "as written")
    more: dict[str, Any] = {
        "place": place,
        "how": how,
        "by": value.get("by", ""),
        "visit": value.get("visit", ""),
    }
    if "not_seen" in value:
        return unseen(value["not_seen"], **more)
    note = value.get("note", "")
    if "one_of" in value:
        listed = value["one_of"]
        text = " or ".join(listed.written.get(i, text_of(v)) for i, v in enumerate(listed))
        return Fact(LISTED, tuple(convert(one) for one in listed), written=text, note=note, **more)
    stated = value["is"]
    text = value.written.get("is", text_of(stated))
    if isinstance(stated, str) and " or " in stated:
        return Fact(LISTED, tuple(convert(one) for one in split_choice(stated)), written=text, note=note, **more)
    converted = (stated,) if name == "condition" else convert(stated)
    if strength(how) == "observed":
        return exact(converted, written=text, note=note, **more)
    return Fact(WEAK, (converted, *neighbours(name, converted, how)), written=text, note=note, **more)


def text_of(value: Any) -> str:
    """A scalar as a record would write it."""
    if isinstance(value, bool):
        return "true" if value else "false"
    return str(value)
