"""Photographs as items: whether each is beside the record, its fingerprint, and what the picture says of itself."""

from __future__ import annotations

import hashlib
import os
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from asfound.load.values import Map
from asfound.photos.files import MAX_BYTES, NotRead, NotThere, opened
from asfound.photos.picture import ENDINGS, OtherForm, Picture, read_picture
from asfound.record.facts import Fact, Item, exact, unseen
from asfound.record.model import Record

_WORKERS = 4


@dataclass(frozen=True, slots=True)
class Seen:
    """What was found under the name of a photograph.

    `absent` and `barred` say why there is no file or why it is not opened;
    `trouble` why the picture in it is not read, `other` that its form is none
    that is read here. All are empty where nothing is in the way.
    """

    absent: str = ""
    barred: str = ""
    sha256: str = ""
    trouble: str = ""
    other: bool = False
    picture: Picture | None = None


def photo_items(record: Record, folder: Path) -> list[Item]:
    """One item for each photograph listed; files are looked for in `folder` and below it, nowhere else."""
    listed = record.document.root.get("photos") or ()
    names = list(dict.fromkeys(str(held["file"]) for held in listed))
    looked = dict(zip(names, _all(folder, names), strict=True))
    found = []
    for number, held in enumerate(listed, 1):
        name = str(held["file"])
        item = Item("photo", name, f"photograph {number} ({name})", held.place, held.get("visit", ""))
        item.data.update(_facts(held, looked[name]))
        days = _days(record, item.visit)
        if days:
            item.data["visit_days"] = exact(days, place=held.places.get("visit", held.place))
        found.append(item)
    return found


def _days(record: Record, visit: str) -> tuple[str, ...]:
    """The days on which a photograph can have been taken: of its visit, else of all visits."""
    own = record.visit_of(visit)
    return (own.on,) if own else tuple(sorted({one.on for one in record.visits.values()}))


def _all(folder: Path, names: list[str]) -> list[Seen]:
    """What is found under each name; several pictures are decoded at a time."""
    held = [_tried(folder, name) for name in names]
    there = [number for number, one in enumerate(held) if not one.absent and not one.barred]
    if len(there) > 1:
        from concurrent.futures import ThreadPoolExecutor

        with ThreadPoolExecutor(min(_WORKERS, os.cpu_count() or 1)) as pool:
            for number, one in zip(there, pool.map(lambda at: look(folder, names[at]), there), strict=True):
                held[number] = one
    else:
        for number in there:
            held[number] = look(folder, names[number])
    return held


def _tried(folder: Path, name: str) -> Seen:
    try:
        opened(folder, name).close()
        return Seen()
    except NotThere as error:
        return Seen(absent=error.reason)
    except NotRead as error:
        return Seen(barred=error.reason)


def look(folder: Path, name: str) -> Seen:
    """What is found in `folder` under the name of a photograph. Raises nothing."""
    try:
        with opened(folder, name) as file:
            size = os.fstat(file.fileno()).st_size
            if size > MAX_BYTES:
                return Seen(trouble=f"the file is larger than {MAX_BYTES // 1_000_000} MB")
            sha256 = hashlib.file_digest(file, "sha256").hexdigest()
            try:
                return Seen(sha256=sha256, picture=read_picture(file))
            except OtherForm as error:
                return Seen(sha256=sha256, trouble=error.reason, other=True)
            except NotRead as error:
                return Seen(sha256=sha256, trouble=error.reason)
    except NotThere as error:
        return Seen(absent=error.reason)
    except NotRead as error:
        return Seen(barred=error.reason)
    except OSError as error:
        return Seen(barred=f"the file cannot be read ({error.strerror})")


def _facts(held: Map, seen: Seen) -> dict[str, Any]:
    name, place = str(held["file"]), held.places["file"]

    def noted(value: Any, note: str = "") -> Fact:
        return exact(value, place=place, note=note or "of the file as it is now")

    facts: dict[str, Any] = {"file": name}
    if "sha256" in held:
        facts["fingerprint"] = exact(held["sha256"], written=held["sha256"], place=held.places["sha256"])
    if seen.barred:
        facts["present"] = unseen(seen.barred, place=place, written=name)
        return facts
    facts["present"] = exact(not seen.absent, written=name, place=place, note=seen.absent)
    if seen.absent:
        return facts
    facts["fingerprint_now"] = noted(seen.sha256) if seen.sha256 else unseen(seen.trouble, place=place)
    promised = ENDINGS.get(name.rpartition(".")[2].lower())
    if promised:
        facts["named_form"] = noted(promised, "by the ending of its name")
    if seen.picture is None:
        facts["readable"] = unseen(seen.trouble, place=place) if seen.other else noted(False)
        facts["trouble"] = noted(seen.trouble)
        return facts
    facts["readable"] = noted(True)
    facts.update(_told(seen.picture, noted, lambda reason: unseen(reason, place=place)))
    return facts


def _told(picture: Picture, noted: Callable[[Any], Fact], lacking: Callable[[str], Fact]) -> dict[str, Fact]:
    """The facts that a picture tells of itself."""
    facts = {name: noted(getattr(picture, name)) for name in ("form", "width", "height", "turned")}
    located = picture.has_location
    facts["has_location"] = (
        lacking("what the file holds besides the picture cannot be read") if located is None else noted(located)
    )
    if picture.taken is None:
        facts["taken"] = lacking("the date in the file cannot be read")
    elif picture.taken:
        facts["taken"] = noted(picture.taken)
    return facts
