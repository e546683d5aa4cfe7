"""Data of the engine, each file with its source."""

from __future__ import annotations

import functools
from importlib import resources
from typing import Any

import yaml


def parse(text: str) -> Any:
    """Parse trusted YAML of the project's own with the fastest parser at hand."""
    return yaml.load(text, Loader=getattr(yaml, "CSafeLoader", yaml.SafeLoader))


@functools.cache
def data(name: str) -> dict[str, Any]:
    """The parsed data file `name`.yaml of this package. Treat it as read-only."""
    text = resources.files(__package__).joinpath(f"{name}.yaml").read_text(encoding="utf-8")
    parsed: dict[str, Any] = parse(text)
    return parsed
