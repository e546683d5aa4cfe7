"""From a judged record to files: content once, then each format that is asked for."""

from __future__ import annotations

import json
from collections.abc import Callable, Iterable, Iterator, Mapping
from pathlib import Path
from typing import Any

from asfound.load import Refused, load_file
from asfound.photos import delivered_from
from asfound.plan import plan
from asfound.plan.words import in_words
from asfound.report.clean import cleaned
from asfound.report.content import Asked, content
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
    asked: Asked,
    formats: Iterable[str],
    *,
    paper: str = "letter",
    keep_location: bool = False,
    told: Callable[[str], None] = lambda words: None,
) -> Iterator[tuple[str, bytes]]:
    """Each format with its bytes, one after the other. `told` hears what is being done.

    Raises `KeyError` when a sheet is asked for what is not there, `NotSet` when the PDF cannot be set.
    """
    held = content(done, asked)
    formats = list(formats)
    held["steps"] = cleaned(_steps(done)) if {"pdf", "html", "docx", "json"} & set(formats) and not asked.only else []
    pictures: dict[int, bytes] = {}
    if {"pdf", "html", "docx"} & set(formats):
        pictures = _pictures(held, record.parent, keep_location, told)
    for name in formats:
        told(f"setting the {name}")
        yield name, _made(name, held, record, pictures, paper)


def _made(name: str, held: Mapping[str, Any], record: Path, pictures: Mapping[int, bytes], paper: str) -> bytes:
    if name == "pdf":
        from asfound.report.pdf import pdf

        return pdf(held, record.read_bytes(), paper=paper, pictures=pictures)
    if name == "html":
        from asfound.report.web import web_page

        return web_page(held, pictures=pictures)
    if name == "docx":
        from asfound.report.word import word

        return word(held, pictures=pictures)
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
    for number in wanted:
        photo = held["photos"][number - 1]
        if not photo["present"]:
            continue
        told(f"photograph {number}")
        try:
            found[number] = delivered_from(folder, photo["file"], MOST_PX, keep_location)
        except (OSError, ValueError):
            continue
    return found
