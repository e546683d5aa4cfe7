"""Photographs that a record lists: whether each is beside the record, and its fingerprint as it is now."""

from __future__ import annotations

import hashlib
from pathlib import Path, PurePosixPath

from asfound.load.values import Map
from asfound.record.facts import Fact, Item, exact, unseen
from asfound.record.model import Record


def photo_items(record: Record, folder: Path) -> list[Item]:
    """One item for each photograph listed; files are looked for in `folder` and below it, nowhere else."""
    found = []
    for number, held in enumerate(record.document.root.get("photos") or ()):
        name = str(held["file"])
        item = Item("photo", name, f"photograph {number + 1} ({name})", held.place, held.get("visit", ""))
        item.data["file"] = name
        present, now = _look(folder, name, held)
        item.data["present"] = present
        if "sha256" in held:
            item.data["fingerprint"] = exact(held["sha256"], written=held["sha256"], place=held.places["sha256"])
        if now is not None:
            item.data["fingerprint_now"] = now
        found.append(item)
    return found


def _look(folder: Path, name: str, held: Map) -> tuple[Fact, Fact | None]:
    place = held.places["file"]
    parts = PurePosixPath(name.replace("\\", "/"))
    if parts.is_absolute() or ".." in parts.parts or ":" in name or "\x00" in name:
        return unseen("its name leads out of the folder of the record", place=place, written=name), None
    path = folder / parts
    try:
        inside = path.resolve().is_relative_to(folder.resolve())
        if not inside:
            return unseen("its name leads out of the folder of the record", place=place, written=name), None
        if not path.is_file():
            return exact(False, written=name, place=place, note="no file of this name beside the record"), None
        with path.open("rb") as handle:
            digest = hashlib.file_digest(handle, "sha256").hexdigest()
    except OSError as error:
        return unseen(f"the file cannot be read ({error.strerror})", place=place, written=name), None
    return exact(True, written=name, place=place), exact(digest, note="of the file as it is now", place=place)
