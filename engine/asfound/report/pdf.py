"""The document on paper: PDF/A-3a and PDF/UA-1, tagged, with the record attached, the same bytes for the same input.

Typst sets it with the fonts that come inside it and with nothing of the machine.
A character that those fonts do not have is shown by its number; the attached
record has it as it was written.
"""

from __future__ import annotations

import json
import re
import tempfile
import unicodedata
from collections.abc import Mapping, Sequence
from datetime import UTC, datetime
from importlib import resources
from pathlib import Path
from typing import Any

import typst

from asfound.clean import breakable
from asfound.map import Drawing
from asfound.report.notset import NotSet

PAPERS = {"letter": "us-letter", "a4": "a4"}
STANDARDS: Any = ["a-3a", "ua-1"]
MIMES = {".json": "application/json"}
_LACKING = re.compile(r"the text `\"(.*?)\"` could not be displayed", re.DOTALL)
MOST_ALPHABETS = 60
"""Alphabets that the fonts do not have which are found one by one."""


def pdf(
    content: Mapping[str, Any],
    record: bytes,
    *,
    paper: str = "letter",
    pictures: Mapping[int, bytes] | None = None,
    drawings: Sequence[Drawing] = (),
) -> bytes:
    """The document as PDF. Raises `NotSet`."""
    pictures = pictures or {}
    day = datetime.fromisoformat(content["issued"] or content["as_of"]).replace(tzinfo=UTC)
    suffix = ".json" if str(content["versions"]["record"]).endswith(".json") else ".yaml"
    inputs = {
        "paper": PAPERS[paper],
        "year": str(day.year),
        "month": str(day.month),
        "day": str(day.day),
        "pictures": ",".join(map(str, sorted(pictures))),
        "suffix": suffix,
        "mime": MIMES.get(suffix, "application/yaml"),
    }
    with tempfile.TemporaryDirectory(prefix="asfound-") as made:
        folder = Path(made)
        (folder / "report.typ").write_bytes(resources.files(__package__).joinpath("templates/report.typ").read_bytes())
        (folder / f"record{suffix}").write_bytes(record)
        for number, picture in pictures.items():
            (folder / f"photo-{number}.jpg").write_bytes(picture)
        _place(folder, drawings)
        return _set(folder, content, inputs, day)


def _set(folder: Path, content: Mapping[str, Any], inputs: dict[str, str], day: datetime) -> bytes:
    lacking: set[str] = set()
    for _ in range(MOST_ALPHABETS):
        (folder / "content.json").write_text(json.dumps(_shown(content, lacking)), encoding="utf-8")
        try:
            return bytes(
                typst.compile(
                    folder / "report.typ",
                    root=folder,
                    format="pdf",
                    sys_inputs=inputs,
                    ignore_system_fonts=True,
                    pdf_standards=STANDARDS,
                    timestamp=int(day.timestamp()),
                )
            )
        except typst.TypstError as error:
            found = _LACKING.search(str(error))
            new = {_alphabet(char) for char in found.group(1)} - lacking if found else set()
            if not new:
                raise NotSet(str(error)) from None
            lacking |= new
    raise NotSet("the record uses more alphabets than the fonts of the document have")


def _place(folder: Path, drawings: Sequence[Drawing]) -> None:
    """Write the drawings beside the template, and what it has to know of them."""
    placed = []
    for number, one in enumerate(drawings, 1):
        (folder / f"map-{number}.svg").write_text(one.svg, encoding="utf-8")
        placed.append({"file": f"map-{number}.svg", "title": one.title, "alt": one.alt, "wide": one.wide,
                       "high": one.high})  # fmt: skip
    (folder / "drawings.json").write_text(json.dumps(placed), encoding="utf-8")


def _alphabet(char: str) -> str:
    """What a character belongs to: its script by the first word of its name, or itself when it is of none."""
    name = unicodedata.name(char, "")
    sort = unicodedata.category(char)
    return name.split(" ")[0] if name and sort[0] == "L" else char


def _shown(held: Any, lacking: set[str]) -> Any:
    if isinstance(held, str):
        text = breakable(held)
        if not lacking or text.isascii():
            return text
        return "".join(
            f"[U+{ord(char):04X}]" if not char.isascii() and _alphabet(char) in lacking else char for char in text
        )
    if isinstance(held, Mapping):
        return {key: _shown(value, lacking) for key, value in held.items()}
    if isinstance(held, list | tuple):
        return [_shown(one, lacking) for one in held]
    return held
