"""Facts in the words of a document."""

from __future__ import annotations

from typing import Any

from asfound.record.facts import Fact


def said(held: Any, unit: str = "") -> str:
    """A fact in words, with its doubt; empty when it was not recorded."""
    if not isinstance(held, Fact):
        return "" if held is None else str(held)
    if not held.values:
        return f"not seen: {held.note}" if held.note and held.note != "not recorded" else ""
    if len(held.values) > 1 and held.kind == "listed":
        return " or ".join(f"{value}{unit}" for value in held.values)
    doubt = f" ({held.how})" if held.kind == "weak" else ""
    return f"{held.values[0]}{unit}{doubt}"
