"""What a schema error means, said to the person who wrote the record."""

from __future__ import annotations

import functools
import re
from collections.abc import Iterator
from typing import Any

from jsonschema import Draft202012Validator, ValidationError
from jsonschema.validators import extend

from asfound.load.values import shown
from asfound.names import Names
from asfound.shape.doubt import DOUBT, DOUBT_KEYS, Path, is_choice, is_doubt, target

Said = tuple[Path, Path, str, str]
"""Path of what is wrong, path of the thing it belongs to, cause, next step."""

_TYPES = {
    "string": "text",
    "integer": "a whole number",
    "number": "a number",
    "boolean": "true or false",
    "object": "a group of named values",
    "array": "a list",
}
_BOUNDS = {
    "minimum": "at least",
    "exclusiveMinimum": "above",
    "maximum": "at most",
}
_IN_FULL = {"breaker": "amps", "box": "kind", "cable": "type", "supply": "system"}
"""The name of the value that the short form of a thing stands for, by the first word of its title."""
_ABOUT_DOUBT = {*DOUBT_KEYS, "how", "by", "visit", "note"}
_PLAIN_START = re.compile("[A-Z]([a-z]| [a-z])")
_NOTHING = "there is no value after the name"
_WRITE = "write the value, or {not_seen: why}"


def explain(value: Any, schema: dict[str, Any], root: dict[str, Any]) -> Iterator[Said]:
    """Why `value` does not fit `schema`, a part of the schema `root`; nothing when it fits."""
    bare = {name: part for name, part in root.items() if name != "$schema"}  # which would bring back stock `pattern`
    checker = _checker()(bare)
    if schema is not root:
        checker = checker.evolve(schema=schema)
    for error in checker.iter_errors(value):
        yield from _sentence(_Told(error, schema, root))


@functools.cache
def _checker() -> Any:
    return extend(Draft202012Validator, {"pattern": _pattern})


def _pattern(_: Any, pattern: str, instance: Any, __: Any) -> Iterator[ValidationError]:
    """As JSON Schema has it: `$` is the end of the text, not of its last line."""
    if isinstance(instance, str) and not _compiled(pattern).search(instance):
        yield ValidationError("pattern")


@functools.cache
def _compiled(pattern: str) -> re.Pattern[str]:
    return re.compile(re.sub(r"\$\Z", r"\\Z", pattern))


class _Told:
    """An error with what the schema says of its place. `about` is the innermost titled part of the schema."""

    def __init__(self, error: Any, start: dict[str, Any], root: dict[str, Any]) -> None:
        self.error = error
        self.start = start
        self.root = root
        self.value = error.instance
        self.wanted = error.validator_value
        self.path: Path = tuple(error.absolute_path)
        self.way = list(error.absolute_schema_path)
        self.above: dict[str, Any] = {}  # the titled part around `about`
        self.about: dict[str, Any] = {}
        self._walk()

    def _walk(self) -> None:
        at: Any = self.start
        self._note(at)
        for step in self.way:
            while isinstance(at, dict) and step not in at:  # the path does not name the references it goes through
                at = target(at["$ref"], self.root)
                self._note(at)
            at = at[step]
            self._note(at)

    def _note(self, at: Any) -> None:
        if isinstance(at, dict) and isinstance(at.get("title"), str):
            self.above, self.about = self.about, at

    @property
    def title(self) -> str:
        return str(self.about.get("title", "value")).lower()

    @property
    def form(self) -> str:
        """The next step by the description of the place."""
        described = str(self.about.get("description", "")).rstrip(".")
        if not described:
            return self.example
        return described[:1].lower() + described[1:] if _PLAIN_START.match(described) else described

    @property
    def example(self) -> str:
        if self.wanted == "boolean":
            return "write true or false"
        examples = [flow(example, 120) for example in self.about.get("examples", [])[:3]]
        return f"write it like {' or '.join(examples)}" if examples else "look at a record that is accepted"


def _sentence(told: _Told) -> Iterator[Said]:
    said = told.error.validator
    path, value = told.path, told.value
    if "propertyNames" in told.way:
        yield (*path, value), path, f"{shown(value)} cannot be a {told.title}", told.form
    elif _in_full(told):
        step = f"write it in full: {{{_in_full(told)}: {flow(value, 80)}}}"
        yield path, path, f"{_said(value)} stands where the short form takes one certain value", step
    elif said == "additionalProperties":
        known = Names(told.error.schema.get("properties", {}))
        for key in value:
            if key not in known:
                cause = f"nothing called {shown(key)} belongs here"
                yield (*path, key), path, cause, known.hint(key[:60], "names that do")
    elif said == "required":
        for key in told.wanted:
            if key not in value:
                held = told.error.schema.get("properties", {}).get(key, {})
                step = f"add it, or {{{key}: {{not_seen: why}}}}" if DOUBT in held.get("anyOf", ()) else "add it"
                yield path, path, f"{key!r} is missing", step
    elif said == "oneOf":
        yield path, path, "exactly one of is, one_of and not_seen belongs here", "keep the one that holds"
    elif value is None:
        absent = "there is nothing at this place of the list" if path and isinstance(path[-1], int) else _NOTHING
        yield path, path, absent, _WRITE if DOUBT in (told.wanted if said == "anyOf" else ()) else told.example
    elif said == "anyOf":
        yield from _branch(told)
    else:
        cause, step = _plain(told, said)
        yield path, path, cause, step


def _plain(told: _Told, said: str) -> tuple[str, str]:
    """Cause and next step for a value that breaks one simple demand."""
    value, wanted = told.value, told.wanted
    if said == "enum":
        words = [str(one) for one in wanted]
        cause = f"{_said(value)} is not one of the words for {told.title}"
        return cause, Names(words).hint(str(value)[:60], "the words are")
    if said == "const":
        return f"{_said(value)} is not known as {told.title}", f"write {wanted}"
    if said == "type":
        names = [_TYPES[name] for name in ([wanted] if isinstance(wanted, str) else wanted)]
        return f"{_said(value)} stands where {' or '.join(names)} belongs", told.example
    if said in _BOUNDS:
        return f"{_said(value)} must be {_BOUNDS[said]} {wanted}", f"{told.form}; write the value as it was read"
    if said in ("minItems", "minLength") and len(value) == 0:
        return "there is nothing in it", "fill it in or delete it"
    if said == "minItems":
        return f"it lists {len(value)} and at least {wanted} belong here", "add the others, or write the one by itself"
    if said == "minLength":
        return f"{shown(value)} is too short to tell anything", "write it out"
    if said == "maxItems":
        return f"it lists {len(value)} and at most {wanted} belong here", told.form
    if said == "maxLength":
        return f"{shown(value)} is longer than {wanted} characters", "shorten it"
    if said == "uniqueItems":
        return "the same value is listed twice", "keep each once"
    return f"{_said(value)} cannot be read as {told.title}", told.form


def _branch(told: _Told) -> Iterator[Said]:
    """Explain the alternative the writer most likely meant, told by the form of the value."""
    value = told.value
    offered = told.wanted
    branches: dict[int, list[Any]] = {}
    for inner in told.error.context:
        branches.setdefault(inner.schema_path[0], []).append(inner)
    doubt = offered.index(DOUBT) if DOUBT in offered else None
    if doubt is not None and is_doubt(value):
        chosen: list[Any] | None = branches[doubt]
    elif isinstance(value, dict) and doubt is not None:
        cause = f"{_said(value)} does not say what the value is"
        yield told.path, told.path, cause, f"{told.example}, or with is, one_of or not_seen"
        return
    else:
        kind = _kind_of(value)
        fits = [
            errors
            for number, errors in sorted(branches.items())
            if number != doubt and kind in _kinds(offered[number], told.root)
        ]
        chosen = fits[0] if fits else None
    if chosen is None:
        kinds = _kinds({"anyOf": [one for one in offered if one != DOUBT]}, told.root)
        step = "write true or false" if kinds == {"boolean"} else told.example
        yield told.path, told.path, f"{_said(value)} cannot be read as {told.title}", step
        return
    for inner in chosen:
        yield from _sentence(_Told(inner, told.start, told.root))


def _kind_of(value: Any) -> str:
    """The kind of a value in the words of JSON Schema."""
    if isinstance(value, bool):
        return "boolean"
    if isinstance(value, (int, float)):
        return "number"
    return "string" if isinstance(value, str) else "array" if isinstance(value, list) else "object"


def _kinds(schema: dict[str, Any], root: dict[str, Any]) -> set[str]:
    """The kinds of value that a part of the schema can take."""
    if "$ref" in schema:
        return _kinds(target(schema["$ref"], root), root)
    if "anyOf" in schema:
        return set().union(*(_kinds(one, root) for one in schema["anyOf"]))
    if "enum" in schema:
        return {_kind_of(one) for one in schema["enum"]}
    named = schema["type"]
    return {"number" if one == "integer" else one for one in ([named] if isinstance(named, str) else named)}


def _in_full(told: _Told) -> str:
    """The name under which a doubt belongs that stands in place of the short form of a thing; empty when none does."""
    value = told.value
    if is_choice(value):
        short = "else" in told.way
    else:
        short = is_doubt(value) and told.error.validator in ("additionalProperties", "required")
        short = short and set(value) <= _ABOUT_DOUBT
    titles = [str(part.get("title", "")).lower().partition(" ")[0] for part in (told.about, told.above)]
    return next((_IN_FULL[title] for title in titles if title in _IN_FULL), "") if short else ""


def flow(value: Any, limit: int = 60) -> str:
    """A value in the flow style of a record, cut to `limit` characters."""
    text = _flowing(value, limit)
    return text if len(text) <= limit else text[: limit - 3] + "..."


def _cut(text: str, limit: int = 60) -> str:
    return shown(text, limit)[1:-1]


def _said(value: Any) -> str:
    return shown(value) if isinstance(value, str) else flow(value)


def _flowing(value: Any, limit: int) -> str:
    if isinstance(value, str):
        return _cut(value, limit + 3)
    if isinstance(value, bool):
        return "true" if value else "false"
    if not isinstance(value, (dict, list)):
        return "nothing" if value is None else str(value)
    parts: list[str] = []
    length = 0
    for held in value:
        if length > limit:
            break
        part = f"{_cut(held)}: {_flowing(value[held], limit)}" if isinstance(value, dict) else _flowing(held, limit)
        parts.append(part)
        length += len(part) + 2
    return "{" + ", ".join(parts) + "}" if isinstance(value, dict) else "[" + ", ".join(parts) + "]"
