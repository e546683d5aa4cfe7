"""From a judged record to files: content once, then each format that is asked for."""

from __future__ import annotations

import json
from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from asfound.clean import cleaned
from asfound.load import Refused, load_file
from asfound.map import Drawing, drawings, each_circuit
from asfound.photos import delivered_from
from asfound.plan import plan
from asfound.plan.words import in_words
from asfound.shape import problems
from asfound.survey import Survey

FORMATS = ("pdf", "html", "docx", "xlsx", "csv", "json")
MOST_PX = 1400
"""Longest side of a photograph in a document, in pixels."""


def supplied(path: Path) -> dict[str, Any]:
    """What a person supplies for a document, from a YAML or JSON file. Raises `Refused`."""
    document = load_file(path)
    found = problems(document.root, "supplied")
    if found:
        raise Refused(document.name, found)
    return {str(name): dict(held) if isinstance(held, dict) else str(held) for name, held in document.root.items()}


def make(
    done: Survey,
    record: Path,
    held: dict[str, Any],
    formats: Iterable[str],
    *,
    paper: str = "letter",
    keep_location: bool = False,
    told: Callable[[str], None] = lambda words: None,
) -> Iterator[tuple[str, bytes]]:
    """Each format of a content with its bytes, one after the other. `told` hears what is being done.

    Raises `NotSet` when the PDF cannot be set.
    """
    formats = list(formats)
    held["steps"] = cleaned(_steps(done)) if {"pdf", "html", "docx", "json"} & set(formats) and not held["only"] else []
    pictures: dict[int, bytes] = {}
    drawn = Drawn()
    if {"pdf", "html", "docx"} & set(formats):
        told("drawing the wiring map")
        drawn = _drawn(done, held["only"], "html" in formats)
        pictures = _pictures(held, record.parent, keep_location, told)
    for name in formats:
        told(f"setting the {name}")
        yield name, _made(name, held, record, pictures, drawn, paper)


@dataclass(frozen=True, slots=True)
class Drawn:
    """The wiring map: as wide as paper, and as narrow as a phone."""

    wide: list[Drawing] = field(default_factory=list)
    narrow: list[Drawing] = field(default_factory=list)


def _drawn(done: Survey, only: str, phone: bool) -> Drawn:
    if only:
        wide, narrow = drawings(done, only, narrow=False), drawings(done, only) if phone else []
        return Drawn(wide, narrow if narrow != wide else [])
    return Drawn(drawings(done), each_circuit(done) if phone else [])


def _made(
    name: str, held: Mapping[str, Any], record: Path, pictures: Mapping[int, bytes], drawn: Drawn, paper: str
) -> bytes:
    if name == "pdf":
        from asfound.report.pdf import pdf

        return pdf(held, record.read_bytes(), paper=paper, pictures=pictures, drawings=drawn.wide)
    if name == "html":
        from asfound.report.web import web_page

        return web_page(held, pictures=pictures, drawings=drawn.wide, narrow=drawn.narrow)
    if name == "docx":
        from asfound.report.word import word

        return word(held, pictures=pictures, drawings=drawn.wide)
    if name == "xlsx":
        from asfound.report.tables import workbook

        return workbook(held)
    if name == "csv":
        from asfound.report.tables import findings_csv

        return findings_csv(held)
    return (json.dumps(held, indent=1, ensure_ascii=False, sort_keys=True) + "\n").encode("utf-8", "replace")


def _steps(done: Survey) -> list[dict[str, str]]:
    """What to look at or test next, the first ten."""
    return [
        {"where": step.place, "what": step.do, "tool": step.tool, "who": step.who, "precaution": " ".join(step.before),
         "reason": step.why}
        for step in in_words(plan(done))
    ]  # fmt: skip


def _pictures(
    held: Mapping[str, Any], folder: Path, keep_location: bool, told: Callable[[str], None]
) -> dict[int, bytes]:
    """Photographs that are shown in the document, sized for it, by number; what cannot be read is left out."""
    wanted = sorted({number for place in held["places"] for number in place["photos"]})
    found: dict[int, bytes] = {}
    for at, number in enumerate(wanted, 1):
        photo = held["photos"][number - 1]
        if not photo["present"]:
            continue
        told(f"photograph {at} of {len(wanted)}")
        try:
            found[number] = delivered_from(folder, photo["file"], MOST_PX, keep_location)
        except (OSError, ValueError):
            continue
    return found
