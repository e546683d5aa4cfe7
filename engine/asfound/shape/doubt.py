"""Values that are doubted: how they are written, and what each can be.

The schema says where a value may be doubted: where it offers `#/$defs/doubt`
beside the value itself. Each thing a doubted value can be is then held to the
same form as the value would be.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from asfound.load.values import NotFinite, plain_scalar

Path = tuple[str | int, ...]

DOUBT_KEYS = ("is", "one_of", "not_seen")
DOUBT = {"$ref": "#/$defs/doubt"}


def is_doubt(value: Any) -> bool:
    """Whether a value is written in one of the forms that carry doubt or a way of knowing."""
    return isinstance(value, dict) and any(key in value for key in DOUBT_KEYS)


def is_choice(value: Any) -> bool:
    """Whether a value is text with an `or` in it, as in the short form `14 or 12`."""
    return isinstance(value, str) and " or " in value


def split_choice(text: str) -> list[Any]:
    """The values of the short form `14 or 12`; one value when there is no choice in it."""
    values = []
    for part in text.split(" or "):
        try:
            values.append(plain_scalar(part.strip()))
        except NotFinite:
            values.append(part.strip())
    return values


@dataclass(slots=True)
class Spot:
    """What the schema says of one place: the named parts, any other part, each of a list; `plain` when doubt may stand.

    `whole` is the schema of the place and `plain` what an undoubted value has to fit.
    """

    parts: dict[str, Spot]
    other: Spot | None
    each: Spot | None
    whole: dict[str, Any]
    plain: dict[str, Any] | None


def spots(schema: dict[str, Any], root: dict[str, Any]) -> Spot | None:
    """The places in `schema` where doubt may stand, or None when it may stand nowhere in it."""
    if "$ref" in schema:
        return spots(target(schema["$ref"], root), root)
    offered = schema.get("anyOf", [])
    if DOUBT in offered:
        plain = next(one for one in offered if one != DOUBT)
        return Spot({}, None, None, schema, plain)
    held = schema.get("then", schema)
    parts = {name: spot for name, one in held.get("properties", {}).items() if (spot := spots(one, root))}
    rest = held.get("additionalProperties")
    other = spots(rest, root) if isinstance(rest, dict) else None
    each = spots(schema["items"], root) if "items" in schema else None
    if not parts and other is None and each is None:
        return None
    return Spot(parts, other, each, schema, None)


def doubted(value: Any, spot: Spot, path: Path = ()) -> Iterator[tuple[Path, Any, Spot]]:
    """Every doubted value below `value`: its path, itself and its place in the schema."""
    if spot.plain is not None:
        if is_choice(value) or is_doubt(value):
            yield path, value, spot
    elif isinstance(value, dict):
        parts, other = spot.parts, spot.other
        for name, held in value.items():
            inner = parts.get(name, other)
            if inner is not None:
                yield from doubted(held, inner, (*path, name))
    elif isinstance(value, list) and spot.each is not None:
        for index, held in enumerate(value):
            yield from doubted(held, spot.each, (*path, index))


def target(reference: str, root: dict[str, Any]) -> dict[str, Any]:
    """The part of the schema `root` that a reference such as `#/$defs/gauge` leads to."""
    found: dict[str, Any] = root["$defs"][reference.rpartition("/")[2]]
    return found
