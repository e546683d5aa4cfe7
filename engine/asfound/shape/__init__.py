"""Check the form of a loaded document against a schema and explain, in a person's words, what is off.

`jsonschema_rs` decides, because it is fast; `jsonschema` explains, because its
errors can be walked, and is loaded only when there is something to explain. A
value given as a choice has to fit with each of its choices.
"""

from __future__ import annotations

import functools
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

import jsonschema_rs

from asfound.load.values import Map, Place, Problem, Seq, shown
from asfound.shape.doubt import Path, Spot, doubted, is_choice, is_doubt, split_choice, spots
from asfound_schemas import schema

__all__ = ["Fault", "Path", "faults", "is_doubt", "name_of", "place_of", "problems", "split_choice"]

MOST_CHOICES = 6
"""Values that one doubted value may list; as many as the schema allows under one_of."""

_ITEMS = {
    "panels": "panel",
    "breakers": "breaker",
    "cables": "cable",
    "conductors": "conductor",
    "boxes": "box",
    "joints": "joint",
    "devices": "device",
    "visits": "visit",
    "instruments": "instrument",
    "readings": "reading",
    "log": "log entry",
    "labels": "label",
    "photos": "photograph",
}
_BY_TAG = ("panels", "cables", "boxes", "joints", "devices")

Said = tuple[Path, Path, str, str]


@dataclass(frozen=True, slots=True)
class Fault:
    """One thing off in the form of a document: the path of what it is about, and the problem as it is told."""

    path: Path
    problem: Problem


def problems(root: Map, schema_name: str) -> list[Problem]:
    """What keeps `root` from having the form of the named schema, in file order; empty when nothing does."""
    return [fault.problem for fault in faults(root, schema_name)]


def faults(root: Map, schema_name: str) -> list[Fault]:
    """As `problems`, with the path of each."""
    found: dict[tuple[Path, str], Fault] = {}
    for path, where, cause, step in (*_of_form(root, schema_name), *_of_choices(root, schema_name)):
        problem = Problem(place_of(root, path), name_of(where), cause, step)
        found.setdefault((path, cause), Fault(path, problem))
    return sorted(found.values(), key=lambda fault: fault.problem.place)


def place_of(root: Any, path: Path) -> Place:
    """The place of the value at `path`, or of the nearest holder that has one."""
    value = root
    place: Place = root.place
    for step in path:
        if isinstance(value, Map) and step in value.key_places:
            place = value.key_places[str(step)]
            value = value[str(step)]
        elif isinstance(value, Seq) and isinstance(step, int) and step < len(value):
            place = value.places[step]
            value = value[step]
        else:
            break
    return place


def name_of(path: Path) -> str:
    """A path in words: `cable W1, gauge`."""
    words: list[str] = []
    steps = list(path)
    while steps:
        step = steps.pop(0)
        if step in _ITEMS and steps:
            tag = steps.pop(0)
            words.append(f"{_ITEMS[str(step)]} {tag + 1 if isinstance(tag, int) else _cut(tag)}")
        elif isinstance(step, int):
            words.append(f"number {step + 1}")
        else:
            words.append(_cut(step))
    return ", ".join(words)


def _cut(name: str) -> str:
    return shown(name)[1:-1]


# -- the document as written


@functools.cache
def _fast(schema_name: str) -> jsonschema_rs.Draft202012Validator:
    return jsonschema_rs.Draft202012Validator(schema(schema_name))


def _of_form(root: Map, schema_name: str) -> Iterator[Said]:
    fast = _fast(schema_name)
    if fast.is_valid(root):
        return
    from asfound.shape.words import explain

    whole = schema(schema_name)
    paths = [tuple(error.instance_path) for error in fast.iter_errors(root)]
    explained = list(explain(_only_wrong(root, paths), whole, whole))
    if explained:
        yield from explained
        return
    for path in paths:
        yield path, path, "the form of this is not accepted", "write it as in a record that is accepted"


def _only_wrong(root: Map, paths: list[Path]) -> dict[str, Any]:
    """The document without the entries that are right, so that explaining costs by what is wrong."""
    wrong: dict[str, set[str] | None] = {}  # by section: tags, or None for all of it
    for path in paths:
        if len(path) == 1:
            wrong[str(path[0])] = None
        elif path:
            tags = wrong.setdefault(str(path[0]), set())
            if tags is not None:
                tags.add(str(path[1]))
    kept: dict[str, Any] = dict(root)
    for section in _BY_TAG:
        held = root.get(section)
        tags = wrong.get(section, set())
        if isinstance(held, dict) and tags is not None:
            kept[section] = {tag: value for tag, value in held.items() if tag in tags}
    return kept


# -- every choice of a doubted value


@functools.cache
def _spots(schema_name: str) -> Spot | None:
    whole = schema(schema_name)
    return spots(whole, whole)


class _Fits:
    """Whether a value fits what a place asks of an undoubted one."""

    def __init__(self, root: dict[str, Any]) -> None:
        self.root = root
        self.made: dict[int, jsonschema_rs.Draft202012Validator] = {}

    def __call__(self, value: Any, spot: Spot) -> bool:
        if id(spot) not in self.made:
            self.made[id(spot)] = jsonschema_rs.Draft202012Validator(
                {"$defs": self.root["$defs"], **(spot.plain or {})}
            )
        return self.made[id(spot)].is_valid(value)


@functools.cache
def _fits(schema_name: str) -> _Fits:
    return _Fits(schema(schema_name))


def _of_choices(root: Map, schema_name: str) -> Iterator[Said]:
    top = _spots(schema_name)
    if top is None:
        return
    fits = _fits(schema_name)
    for path, value, spot in doubted(root, top):
        for inner, choice in _choices(value, spot, fits):
            at = (*path, *inner)
            if is_choice(choice) and not fits(choice, spot):
                yield at, at, f"{shown(choice)} holds an or inside a list", "list each of its values by itself"
            elif isinstance(choice, _Many):
                cause = f"it can be {len(choice)} values, and at most {MOST_CHOICES} may be listed"
                yield at, at, cause, "write {not_seen: why} when so many are possible"
            elif choice is None:
                yield at, at, f"one of the values in {shown(value)} is missing", "write out what it can be"
            elif not fits(choice, spot):
                from asfound.shape.words import explain

                for below, _, cause, step in explain(choice, spot.whole, schema(schema_name)):
                    yield (*at, *below), (*at, *below), cause, step


class _Many(list[Any]):
    """More choices than may be listed."""


def _choices(value: Any, spot: Spot, fits: _Fits) -> Iterator[tuple[Path, Any]]:
    """What a doubted value can be, each with its path below the value; nothing when its form is wrong in itself."""
    if isinstance(value, str):
        yield from _either((), value, spot, fits)
    elif "is" in value:
        if _stands(value["is"]):
            yield from _either(("is",), value["is"], spot, fits)
    elif isinstance(value.get("one_of"), list):
        for index, one in enumerate(value["one_of"]):
            if _stands(one) and not (isinstance(one, str) and fits(one, spot)):
                yield ("one_of", index), one


def _stands(value: Any) -> bool:
    """Whether a value can stand by itself; what cannot is told of as a fault of form."""
    return value is not None and not isinstance(value, dict)


def _either(path: Path, value: Any, spot: Spot, fits: _Fits) -> Iterator[tuple[Path, Any]]:
    """The value, or the parts of `14 or 12` where the whole is no value of its own."""
    if not is_choice(value) or fits(value, spot):
        yield path, value
        return
    parts = split_choice(value)
    if len(parts) > MOST_CHOICES:
        yield path, _Many(parts)
        return
    for part in parts:
        yield path, part
