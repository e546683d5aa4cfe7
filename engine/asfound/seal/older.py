"""The older document that a new one amends: it stays as it is, and the new one names it."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Any

from asfound.seal import manifest
from asfound.seal.apart import findings_apart
from asfound.seal.findings import MAX_FINDINGS, read_findings
from asfound.seal.lines import lines_apart
from asfound.seal.unpack import Damaged, NotSealed, Unpacked, shown
from asfound.seal.zipform import Part

_MOST_CHANGES = 200
_MAX_RECORD = 64_000_000


@dataclass(frozen=True, slots=True)
class Older:
    """An older sealed document and the reason for amending it, with what is needed to say what changed since."""

    values: dict[str, Any]
    sha256: str
    record: bytes
    findings: dict[str, Any]
    reason: str


def older(path: Path, reason: str) -> Older:
    """Read the older document at `path`, known to be intact. Raises `NotSealed`."""
    with Unpacked(path) as archive:
        sealed = manifest.read(archive)
        try:
            record = archive.content(sealed.values["record"]["path"], _MAX_RECORD)
            findings = read_findings(archive.content(sealed.of_role("findings")[0]["path"], MAX_FINDINGS))
        except Damaged as error:
            raise NotSealed(error.reason) from None
    return Older(sealed.values, sealed.sha256, record, findings, reason)


def changes(held: Older, record: Part, findings: Part, entries: list[dict[str, Any]]) -> list[str]:
    """What changed since the older document: lines of the record, other files, findings. One sentence each."""
    with record.open() as file:
        told = lines_apart("record", held.record, file.read())
    told += _files_apart(held.values["entries"], entries)
    with findings.open() as file:
        now = read_findings(file.read())
    told += findings_apart(held.findings, now, lambda one: False, "in the older document", "in this one")
    listed = [f"{clause[:1].upper()}{clause[1:]}." for clause in told]
    if len(listed) > _MOST_CHANGES:
        listed[_MOST_CHANGES:] = [f"And {len(listed) - _MOST_CHANGES} more changes."]
    return listed


def _files_apart(before: list[dict[str, Any]], after: list[dict[str, Any]]) -> list[str]:
    """Other files than record and findings that came, went or changed, by the name they had outside."""
    old, new = ({(one["role"], one.get("name", one["path"])): one for one in listed} for listed in (before, after))
    told = []
    for key in dict.fromkeys((*old, *new)):
        role, name = key
        if role in ("record", "findings"):
            continue
        said = f"{manifest.ROLES[role]} {shown(name)}"
        if key not in new:
            told.append(f"{said} is not in this document")
        elif key not in old:
            told.append(f"{said} was not in the older document")
        elif _origin(old[key]) != _origin(new[key]):
            told.append(f"{said} is not the same as in the older document")
    return told


def _origin(entry: dict[str, Any]) -> str:
    return str(entry.get("original_sha256", entry["sha256"]))
