"""Compare a sealed document with the files on disk that it was made from, or with what became of them."""

from __future__ import annotations

import stat
from pathlib import Path
from typing import Any

from asfound.load import MAX_BYTES
from asfound.photos import NotRead, opened
from asfound.photos.files import NotThere
from asfound.seal.lines import lines_apart
from asfound.seal.manifest import ROLES, Sealed
from asfound.seal.unpack import Damaged, Unpacked, shown
from asfound.seal.zipform import measured, pieces_of

Told = tuple[str, str, str]


def beside(archive: Unpacked, sealed: Sealed, path: Path) -> tuple[list[Told], list[str]]:
    """What differs between the document and a record, or a folder with one: kind, entry and clause of each.

    Also the names of what was compared. Photographs are looked for beside the
    record by the names under which it lists them; reports, amendments, accepted
    findings and what a person supplied by their names, and only where a file of
    the name is there.
    """
    told: list[Told] = []
    compared: list[str] = []
    folder, name = (path, sealed.values["record"]["name"]) if path.is_dir() else (path.parent, "")
    entry = sealed.of_role("record")[0]
    try:
        now = _named(path) if not name else _below(folder, name)
    except NotRead as error:
        told.append(
            ("beside", entry["path"], f"the record {shown(name or path.name)} cannot be compared: {error.reason}")
        )
    else:
        compared.append(name or path.name)
        told += _record(archive, entry["path"], name or path.name, now)
    for entry in sealed.of_role("photograph"):
        told += _photograph(folder, entry, compared)
    for lost in sealed.values["photographs"]["not_held"]:
        told += _lost(folder, lost)
    for role in ("report", "accepted", "supplied", "amendment"):
        for entry in sealed.of_role(role):
            told += _given(folder, role, entry, compared)
    return told, compared


def _record(archive: Unpacked, path: str, name: str, now: bytes) -> list[Told]:
    try:
        was = archive.content(path, MAX_BYTES)
    except (Damaged, KeyError):
        return [("beside", path, f"the record {shown(name)} cannot be compared: the sealed one cannot be read")]
    return [("line", path, says) for says in lines_apart(shown(name)[1:-1], was, now)]


def _named(path: Path) -> bytes:
    """A file that the person named. Raises `NotRead`."""
    try:
        if not stat.S_ISREG(path.stat().st_mode):
            raise NotRead("it is no file")
        with path.open("rb") as file:
            return _all(file)
    except FileNotFoundError:
        raise NotRead("there is no file of this name") from None
    except (OSError, ValueError) as error:
        raise NotRead(f"it cannot be read ({getattr(error, 'strerror', None) or 'no file can have it'})") from None


def _below(folder: Path, name: str) -> bytes:
    try:
        with opened(folder, name) as file:
            return _all(file)
    except OSError as error:
        raise NotRead(f"it cannot be read ({error.strerror})") from None


def _all(file: Any) -> bytes:
    content: bytes = file.read(MAX_BYTES + 1)
    if len(content) > MAX_BYTES:
        raise NotRead(f"it is larger than {MAX_BYTES // 1_000_000} MB")
    return content


def _now(folder: Path, name: str) -> str:
    """SHA-256 of a file in the folder. Raises `NotRead`."""
    try:
        with opened(folder, name) as file:
            return measured(pieces_of(file)).sha256
    except OSError as error:
        raise NotRead(f"the file cannot be read ({error.strerror})") from None


def _photograph(folder: Path, entry: dict[str, Any], compared: list[str]) -> list[Told]:
    name = entry.get("name", "")
    try:
        now = _now(folder, name)
    except NotRead as error:
        return [("beside", entry["path"], f"the photograph {shown(name)} was sealed; {error.reason}")]
    compared.append(name)
    was = entry.get("original_sha256", entry["sha256"])
    if now == was:
        return []
    return [
        (
            "beside",
            entry["path"],
            f"the photograph {shown(name)} is not the one that was sealed (SHA-256 {was}, now {now})",
        )
    ]


def _lost(folder: Path, lost: dict[str, Any]) -> list[Told]:
    """A photograph that was not there when the document was sealed, and is now."""
    if not lost.get("absent"):
        return []
    try:
        opened(folder, lost["name"]).close()
    except NotRead:
        return []
    return [("beside", "", f"the photograph {shown(lost['name'])} is there now and was not when this was sealed")]


def _given(folder: Path, role: str, entry: dict[str, Any], compared: list[str]) -> list[Told]:
    name = entry.get("name", "")
    try:
        now = _now(folder, name)
    except NotThere:
        return []
    except NotRead as error:
        return [("beside", entry["path"], f"the {ROLES[role]} {shown(name)} cannot be compared: {error.reason}")]
    compared.append(name)
    if now == entry["sha256"]:
        return []
    return [("beside", entry["path"], f"the {ROLES[role]} {shown(name)} is not the one that was sealed")]
