"""Findings as a sealed document holds them, read with care."""

from __future__ import annotations

import functools
import json
from typing import Any, NoReturn

import jsonschema_rs

from asfound.seal.unpack import NotSealed

MAX_FINDINGS = 256_000_000


def read_findings(content: bytes) -> dict[str, Any]:
    """The findings of these bytes. Raises `NotSealed` when they are not of the form that is known here."""
    try:
        held = json.loads(content.decode("utf-8"), parse_constant=_no)
    except (ValueError, RecursionError):
        raise NotSealed("its findings are not written as JSON") from None
    if not _validator().is_valid(held):
        raise NotSealed("its findings are of a form that is not known here; another version of asfound wrote them")
    found: dict[str, Any] = held
    return found


def _listed(*names: str, optional: dict[str, Any] | None = None, **more: Any) -> dict[str, Any]:
    """The form of a list of objects with these texts, and more, in each."""
    told = {**{name: {"type": "string"} for name in names}, **more}
    held = {**told, **(optional or {})}
    return {"type": "array", "items": {"type": "object", "required": list(told), "properties": held}}


_ACCEPTANCE = {
    "type": "object",
    "required": ["state", "finding"],
    "properties": {"state": {"type": "string"}, "finding": {"type": "string"}},
}


_NEEDED = {
    "type": "object",
    "required": ["record", "run", "findings", "cannot_tell", "failed"],
    "properties": {
        "record": {"type": "object", "required": ["sha256"]},
        "run": {"type": "object", "required": ["rules"], "properties": {"rules": _listed("rule")}},
        "findings": _listed(
            "rule",
            "identity",
            "statement",
            at={"type": "object", "required": ["item"], "properties": {"item": {"type": "string"}}},
            optional={"accepted": _ACCEPTANCE},
        ),
        "cannot_tell": _listed("rule", "at", "missing", "of", "reason"),
        "failed": _listed("rule", "at", "error"),
        "accepted": {
            "type": "object",
            "required": ["in_force", "stale"],
            "properties": {"in_force": {"type": "integer"}, "stale": _listed("kind", "finding", "cause")},
        },
    },
}
"""What has to be there for findings to be compared; less than their own schema, which later versions may extend."""


@functools.cache
def _validator() -> jsonschema_rs.Draft202012Validator:
    return jsonschema_rs.Draft202012Validator(_NEEDED)


def _no(word: str) -> NoReturn:
    raise ValueError(word)
