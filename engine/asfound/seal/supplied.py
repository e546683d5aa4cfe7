"""The approval in what a person supplied for the documents."""

from __future__ import annotations

from dataclasses import dataclass

from asfound.load import Refused, load_bytes
from asfound.shape import problems


@dataclass(frozen=True, slots=True)
class Approval:
    """Who approved which state of a record, by its SHA-256, and when, as the file says."""

    by: str
    on: str
    record: str


def approval_in(content: bytes, name: str) -> Approval | None:
    """The approval in what a person supplied; None when there is none. Raises `Refused` for another form."""
    document = load_bytes(content, name)
    found = problems(document.root, "supplied")
    if found:
        raise Refused(name, found)
    held = document.root.get("approval")
    return Approval(held["by"], held["on"], held["record"]) if held is not None else None
