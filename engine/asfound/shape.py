"""Check the form of a loaded document against a schema and explain, in a person's words, what is off.

`jsonschema_rs` decides, because it is fast; `jsonschema` explains, because its
errors can be walked. A document that either of them rejects is rejected. A
value given as a choice is checked once for each of its choices.
"""

from __future__ import annotations

import functools
from collections.abc import Iterable, Iterator
from typing import Any

import jsonschema_rs

from asfound.load.values import Map, NotFinite, Place, Problem, Seq, plain_scalar
from asfound.wording import nearest, quoted_list
from asfound_schemas import schema

Path = tuple[str | int, ...]

DOUBT_KEYS = ("is", "one_of", "not_seen")
_ITEMS = {
    "panels": "panel", "breakers": "breaker", "cables": "cable", "conductors": "conductor", "boxes": "box",
    "joints": "joint", "devices": "device", "visits": "visit", "instruments": "instrument",
    "readings": "reading", "log": "log entry", "labels": "label", "photos": "photograph",
}  # fmt: skip
_TYPES = {
    "string": "text", "integer": "a whole number", "number": "a number", "boolean": "true or false",
    "object": "a list of named values", "array": "a list",
}  # fmt: skip


def problems(root: Map, schema_name: str) -> list[Problem]:
    """What keeps `root` from having the form of the named schema; empty when nothing does."""
    found: dict[tuple[Path, str], Problem] = {}
    for candidate in _choices(root):
        if _fast(schema_name).is_valid(candidate):
            continue
        explained = list(_explain(candidate, schema_name))
        if not explained:
            cause = "the form of the record is not accepted, though the exact place could not be told"
            explained = [((), cause, "compare the record with the schema")]
        for path, cause, step in explained:
            found.setdefault((path, cause), Problem(place_of(root, path), name_of(path), cause, step))
    return sorted(found.values(), key=lambda problem: problem.place)


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
            words.append(f"{_ITEMS[str(step)]} {tag + 1 if isinstance(tag, int) else tag}")
        elif isinstance(step, int):
            words.append(f"number {step + 1}")
        else:
            words.append(str(step))
    return ", ".join(words)


@functools.cache
def _fast(schema_name: str) -> jsonschema_rs.Draft202012Validator:
    return jsonschema_rs.Draft202012Validator(schema(schema_name))


def is_doubt(value: Any) -> bool:
    """Whether a value is written in one of the forms that carry doubt or a way of knowing."""
    return isinstance(value, dict) and any(key in value for key in DOUBT_KEYS)


def split_choice(text: str) -> list[Any]:
    """The values of the short form `14 or 12`; one value when there is no choice in it."""
    values = []
    for part in text.split(" or "):
        try:
            values.append(plain_scalar(part.strip()))
        except NotFinite:
            values.append(part.strip())
    return values


def _choices(root: Map) -> Iterator[Any]:
    """The document as written, then with every doubted value replaced by its first, second, ... choice."""
    yield root
    count = _longest(root)
    for index in range(count):
        yield _replaced(root, index)


def _longest(value: Any) -> int:
    if isinstance(value, dict):
        if is_doubt(value):
            listed = value.get("one_of")
            return len(listed) if isinstance(listed, list) else 1
        return max(map(_longest, value.values()), default=0)
    if isinstance(value, list):
        return max(map(_longest, value), default=0)
    return value.count(" or ") + 1 if isinstance(value, str) and " or " in value else 0


def _replaced(value: Any, index: int) -> Any:
    if isinstance(value, dict):
        if is_doubt(value):
            listed = value.get("one_of")
            if isinstance(listed, list) and listed:
                return listed[index % len(listed)]
            return value.get("is", value)
        return {key: _replaced(held, index) for key, held in value.items()}
    if isinstance(value, list):
        return [_replaced(held, index) for held in value]
    if isinstance(value, str) and " or " in value:
        listed = split_choice(value)
        return listed[index % len(listed)]
    return value


def _explain(document: Any, schema_name: str) -> Iterator[tuple[Path, str, str]]:
    from jsonschema import Draft202012Validator

    validator = Draft202012Validator(schema(schema_name))
    for error in validator.iter_errors(document):
        yield from _sentence(error)


def _sentence(error: Any) -> Iterator[tuple[Path, str, str]]:
    path: Path = tuple(error.absolute_path)
    said = error.validator
    value = error.instance
    if said == "anyOf":
        yield from _branch(error)
    elif said == "oneOf":
        yield path, "exactly one of is, one_of and not_seen belongs here", "keep the one that holds"
    elif said == "additionalProperties":
        known = list(error.schema.get("properties", {}))
        what = str(_titled(error).get("title", "part")).lower()
        for key in value:
            if key not in known:
                guess = nearest(key, known)
                hint = f"did you mean {guess!r}? Named here: " if guess else "named here: "
                yield (*path, key), f"nothing called {key!r} belongs to a {what}", hint + quoted_list(known)
    elif said == "required":
        missing = [key for key in error.validator_value if key not in value]
        what = str(_titled(error).get("title", "part")).lower()
        for key in missing:
            text = f"{key!r} is missing from this {what}"
            step = "add it" if not is_doubt_schema(error) else f"add it, or {{{key}: {{not_seen: why}}}}"
            yield path, text, step
    elif said == "propertyNames" or (error.parent is not None and error.parent.validator == "propertyNames"):
        yield (
            (*path, value) if isinstance(value, str) else path,
            f"{value!r} cannot be a name here",
            _form(error),
        )
    elif value is None:
        yield path, "there is no value after the name", "write the value, or {not_seen: why}"
    elif said == "enum":
        allowed = [item for item in error.validator_value if isinstance(item, str)]
        guess = nearest(value, allowed) if isinstance(value, str) else None
        start = f"did you mean {guess!r}? Known: " if guess else "known: "
        yield (
            path,
            f"{_shown(value)} is not {_what(error)}",
            start + quoted_list(map(str, error.validator_value)),
        )
    elif said == "type":
        wanted = error.validator_value
        names = [_TYPES[name] for name in ([wanted] if isinstance(wanted, str) else wanted)]
        yield path, f"{_shown(value)} stands where {' or '.join(names)} belongs", _example(error)
    elif said in ("minimum", "exclusiveMinimum", "maximum", "exclusiveMaximum"):
        word = "above" if said == "exclusiveMinimum" else "at least" if said == "minimum" else "at most"
        yield (
            path,
            f"{_shown(value)} must be {word} {error.validator_value}",
            "write the value as it was read",
        )
    elif said == "const":
        yield path, f"{_shown(value)} is not known here", f"write {error.validator_value!r}"
    elif said in ("minItems", "minLength"):
        yield path, "there is nothing in it", "fill it in or delete it"
    elif said in ("maxItems", "maxLength"):
        yield path, f"it is longer than {error.validator_value}", "shorten it"
    elif said == "uniqueItems":
        yield path, "the same value is listed twice", "keep each once"
    else:
        yield path, f"{_shown(value)} is not {_what(error)}", _form(error)


def is_doubt_schema(error: Any) -> bool:
    """Whether what is missing is a value that may be doubted."""
    properties = error.schema.get("properties", {})
    return any("anyOf" in properties.get(key, {}) for key in error.validator_value)


def _branch(error: Any) -> Iterator[tuple[Path, str, str]]:
    """Explain the alternative the writer most likely meant, told by the form of the value."""
    value = error.instance
    branches: dict[int, list[Any]] = {}
    for inner in error.context:
        branches.setdefault(inner.schema_path[0], []).append(inner)
    if value is None:
        yield (
            tuple(error.absolute_path),
            "there is no value after the name",
            "write the value, or {not_seen: why}",
        )
        return
    if isinstance(value, dict) or (isinstance(value, str) and " or " in value):
        chosen: list[Any] | None = branches[max(branches)]
    else:
        fits = [
            inner for index, inner in sorted(branches.items())
            if not any(e.validator == "type" and not e.relative_path for e in inner)
            and error.validator_value[index] != {"$ref": "#/$defs/doubt"}
        ]  # fmt: skip
        chosen = fits[0] if fits else None
    if chosen is None or (isinstance(value, dict) and not is_doubt(value)):
        yield tuple(error.absolute_path), f"{_shown(value)} is not {_what(error)}", _example(error)
        return
    for inner in chosen:
        yield from _sentence(inner)


def _titled(error: Any) -> dict[str, Any]:
    while error is not None:
        held = error.schema
        if isinstance(held, dict) and "title" in held:
            return held
        error = error.parent
    return {}


def _what(error: Any) -> str:
    title = str(_titled(error).get("title", "value")).lower()
    return f"a known {title}" if error.validator == "enum" else f"a {title} as it is written here"


def _form(error: Any) -> str:
    described = _titled(error).get("description", "")
    return f"{str(described).rstrip('.')}" if described else _example(error)


def _example(error: Any) -> str:
    examples: Iterable[Any] = _titled(error).get("examples", [])
    shown = [_flow(example) for example in examples]
    return f"write it like {' or '.join(shown)}" if shown else "see the schema"


def _flow(value: Any) -> str:
    if isinstance(value, dict):
        return "{" + ", ".join(f"{key}: {_flow(held)}" for key, held in value.items()) + "}"
    if isinstance(value, list):
        return "[" + ", ".join(map(_flow, value)) + "]"
    if isinstance(value, bool):
        return "true" if value else "false"
    return str(value)


def _shown(value: Any) -> str:
    text = _flow(value) if not isinstance(value, str) else repr(value)
    return text if len(text) <= 60 else text[:57] + "..."
