"""The project's JSON Schemas (draft 2020-12), as files and as parsed values."""

from __future__ import annotations

import functools
import json
from importlib import resources
from typing import Any

NAMES = ("record", "findings", "trace", "manifest", "supplied", "accepted", "comparison", "pack", "rules", "marks")


@functools.cache
def schema(name: str) -> dict[str, Any]:
    """The schema called `name`, one of `NAMES`. Treat it as read-only. Raises `KeyError` for another name."""
    if name not in NAMES:
        raise KeyError(name)
    text = resources.files(__package__).joinpath(f"{name}.schema.json").read_text(encoding="utf-8")
    parsed: dict[str, Any] = json.loads(text)
    return parsed
