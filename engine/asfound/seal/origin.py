"""From which record a document was made, and as of which date, as far as the document itself says so.

A PDF of `asfound report` carries the record as an attachment; its web page,
Word document and JSON name the record by its SHA-256, as do the other JSON
results. Spreadsheets do not, and a document of somebody else says nothing.
What a document says of itself is no proof: it shows a mix-up, not a forgery.
"""

from __future__ import annotations

import hashlib
import io
import json
import re
import zipfile
import zlib
from collections.abc import Iterator
from typing import Any

from asfound.load import MAX_BYTES

MAX_DOCUMENT = 200_000_000
"""Bytes of a document that is looked into; of a larger one it cannot be told."""
_MAX_TEXT = 64_000_000
_MOST_ATTACHED = 20
_ATTACHED = re.compile(rb"/EmbeddedFile\b")
_HEAD = 600
"""Bytes around the mark of an attachment within which its head lies."""
_RECORD = re.compile(rb"""^[\s{]*["']?asfound["']?\s*:""", re.MULTILINE)
_TAG = re.compile(rb"<[^<>]*>")
_NAMED = re.compile(rb", SHA-256 ([0-9a-f]{64})\b")
_NAME = re.compile(rb"record [^\n]+\Z")
_LONGEST_NAME = 500
_BREAK = "\u200b".encode()
"""Where a long word may be broken."""
_DIGITS = re.compile("[0-9a-f]{64}")
_KEYWORD = re.compile(rb"judged as of ([0-9]{4}-[0-9]{2}-[0-9]{2}), document [0-9a-f]{64}")
_JUDGED = re.compile(rb"Judged as of[:\s]*([0-9]{4}-[0-9]{2}-[0-9]{2})")
_DAY = re.compile("[0-9]{4}-[0-9]{2}-[0-9]{2}")
_PLACES = ("versions", "record", "earlier", "later")
"""Objects in the JSON results that name a record by its SHA-256."""


def records_of(content: bytes) -> frozenset[str]:
    """SHA-256 of the records that a document carries or names; empty when it does not tell."""
    if content.startswith(b"%PDF-"):
        return frozenset(_attached(content))
    if content.startswith(b"PK\3\4"):
        return frozenset(_in_text(_word(content)))
    if content.lstrip()[:1] == b"{":
        return frozenset(_in_json(content))
    return frozenset(_in_text(content)) if b"<html" in content[:2000].lower() else frozenset()


def dates_of(content: bytes) -> frozenset[str]:
    """Dates, year-month-day, as of which a document says that it was judged; empty when it does not tell."""
    if content.startswith(b"%PDF-"):
        return frozenset(found.decode() for found in _KEYWORD.findall(content))
    if content.startswith(b"PK\3\4"):
        return frozenset(found.decode() for found in _JUDGED.findall(_TAG.sub(b"", _word(content))))
    if content.lstrip()[:1] == b"{":
        try:
            held: Any = json.loads(content)
        except (ValueError, RecursionError):
            return frozenset()
        run = held.get("run")
        said = (held.get("as_of"), run.get("as_of") if isinstance(run, dict) else None)
        return frozenset(one for one in said if isinstance(one, str) and _DAY.fullmatch(one))
    page = b"<html" in content[:2000].lower()
    return frozenset(found.decode() for found in _JUDGED.findall(_TAG.sub(b"", content))) if page else frozenset()


def _attached(pdf: bytes) -> Iterator[str]:
    """Fingerprints of the attachments of a PDF that begin as a record does."""
    for mark, _ in zip(_ATTACHED.finditer(pdf), range(_MOST_ATTACHED), strict=False):
        begin = pdf.rfind(b"obj", max(0, mark.start() - _HEAD), mark.start())
        stream = pdf.find(b"stream", mark.end(), mark.end() + _HEAD)
        if begin < 0 or stream < 0:
            continue
        start = stream + len(b"stream") + (2 if pdf[stream + 6 : stream + 8] == b"\r\n" else 1)
        held = _inflated(pdf, start) if b"/FlateDecode" in pdf[begin:stream] else _plain(pdf, start)
        if held is not None and _RECORD.search(held):
            yield hashlib.sha256(held).hexdigest()


def _inflated(pdf: bytes, start: int) -> bytes | None:
    inflate = zlib.decompressobj()
    try:
        held = inflate.decompress(memoryview(pdf)[start:], MAX_BYTES + 1)
    except zlib.error:
        return None
    return held if inflate.eof and len(held) <= MAX_BYTES else None


def _plain(pdf: bytes, start: int) -> bytes | None:
    end = pdf.find(b"endstream", start, start + MAX_BYTES)
    return None if end < 0 else pdf[start:end].removesuffix(b"\n").removesuffix(b"\r")


def _word(content: bytes) -> bytes:
    """The text part of a Word document; nothing when there is none that can be read."""
    try:
        with zipfile.ZipFile(io.BytesIO(content)) as held, held.open("word/document.xml") as text:
            return text.read(_MAX_TEXT)
    except (KeyError, ValueError, EOFError, RuntimeError, NotImplementedError, OSError, zipfile.BadZipFile, zlib.error):
        return b""


def _in_text(content: bytes) -> Iterator[str]:
    text = _TAG.sub(b"", content).replace(_BREAK, b"")
    for found in _NAMED.finditer(text):
        if _NAME.search(text[max(0, found.start() - _LONGEST_NAME) : found.start()]):
            yield found.group(1).decode()


def _in_json(content: bytes) -> Iterator[str]:
    try:
        held: Any = json.loads(content)
    except (ValueError, RecursionError):
        return
    for place in _PLACES:
        one = held.get(place)
        said = one.get("sha256") if isinstance(one, dict) else None
        if isinstance(said, str) and _DIGITS.fullmatch(said):
            yield said
