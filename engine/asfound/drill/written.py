"""A plain record as YAML that the loader reads again, one thing a line."""

from __future__ import annotations

import re
from typing import Any

import yaml

_NUMBER = re.compile(r"^[1-9][0-9]{0,2}$")
_BY_TAG = ("visits", "instruments", "cables", "boxes", "joints", "devices")
_LISTS = ("readings", "log", "labels", "photos", "notes")


def as_yaml(record: dict[str, Any], comment: str = "") -> str:
    """The record as text; `comment` stands above it, each of its lines behind a #."""
    lines = [f"# {line}".rstrip() for line in comment.splitlines()]
    for part, held in record.items():
        if part == "panels":
            lines += _panels(held)
        elif part in _BY_TAG and isinstance(held, dict) and held:
            lines += [f"{part}:", *(f"  {_flow(tag)}: {_flow(one)}" for tag, one in held.items())]
        elif part in _LISTS and held:
            lines += [f"{part}:", *(f"  - {_flow(one)}" for one in held)]
        elif held not in ({}, []) or part not in (*_BY_TAG, *_LISTS):
            lines.append(f"{_flow(part)}: {_flow(held)}")
    return "\n".join(lines) + "\n"


def _panels(panels: dict[str, Any]) -> list[str]:
    lines = ["panels:"]
    for tag, held in panels.items():
        lines.append(f"  {_flow(tag)}:")
        lines += [f"    {_flow(name)}: {_flow(value)}" for name, value in held.items() if name != "breakers"]
        breakers = held.get("breakers", {})
        lines.append("    breakers:" if breakers else "    breakers: {}")
        lines += [
            f"      {space if _NUMBER.match(space) else _flow(space)}: {_flow(one)}" for space, one in breakers.items()
        ]
    return lines


def _flow(value: Any) -> str:
    """One value on one line."""
    text = yaml.dump(value, Dumper=_Plain, default_flow_style=True, width=10**9, sort_keys=False, allow_unicode=True)
    return str(text).removesuffix("...\n").rstrip("\n")


class _Plain(yaml.SafeDumper):
    """Without anchors, which the loader refuses."""

    def ignore_aliases(self, data: Any) -> bool:
        return True
