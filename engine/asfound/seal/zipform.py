"""The form of a sealed archive: a ZIP file with entries stored as they are, in one order, with one time.

Written without compression, so that the bytes do not hang on the version of a
compressor, and small enough to do without the 64-bit extension. By APPNOTE.TXT
of PKWARE, sections 4.3.7, 4.3.12 and 4.3.16.
"""

from __future__ import annotations

import hashlib
import io
import re
import struct
import unicodedata
import zlib
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from typing import BinaryIO

MAX_ENTRIES = 20_000
MAX_TOTAL = 4_000_000_000
"""Bytes of all entries together; below the limit of a ZIP file without the 64-bit extension."""
PIECE = 1 << 20

LOCAL, CENTRAL, END = struct.Struct("<4s5H3I2H"), struct.Struct("<4s6H3I5H2I"), struct.Struct("<4s4H2IH")
LOCAL_MARK, CENTRAL_MARK, END_MARK = b"PK\x03\x04", b"PK\x01\x02", b"PK\x05\x06"
_NEEDED = 10  # version that takes it apart: stored files, no folders
_MADE_BY = 3 << 8 | _NEEDED  # on Unix, which gives the mode its meaning
_MODE = 0o100644 << 16  # a plain file
_PLAIN = re.compile(r"[^A-Za-z0-9._-]+")
_MOMENT = re.compile(r"([0-9]{4})-([0-9]{2})-([0-9]{2})T([0-9]{2}):([0-9]{2})(?::([0-9]{2}))?")


@dataclass(frozen=True, slots=True)
class Measure:
    """Size and fingerprints of a content: SHA-256 in hexadecimal digits, and the CRC-32 that a ZIP file keeps."""

    size: int
    sha256: str
    crc: int


@dataclass(frozen=True, slots=True)
class Part:
    """One entry to write: its name in the archive, its measure, and a way to open its content or raise `OSError`."""

    path: str
    measure: Measure
    open: Callable[[], BinaryIO]


class Changed(Exception):
    """A file is not what it was when it was measured; `path` is its name in the archive."""

    def __init__(self, path: str) -> None:
        super().__init__(path)
        self.path = path


def part(path: str, source: bytes | Callable[[], BinaryIO]) -> Part:
    """An entry with this content, measured. Raises whatever opening or reading it raises."""
    opening = (lambda: io.BytesIO(source)) if isinstance(source, bytes) else source
    with opening() as file:
        return Part(path, measured(pieces_of(file)), opening)


def pieces_of(file: BinaryIO) -> Iterator[bytes]:
    """The rest of a file, piece by piece."""
    while piece := file.read(PIECE):
        yield piece


def measured(pieces: Iterable[bytes]) -> Measure:
    """Size and fingerprints of a content given in pieces."""
    size, crc, digest = 0, 0, hashlib.sha256()
    for piece in pieces:
        size += len(piece)
        crc = zlib.crc32(piece, crc)
        digest.update(piece)
    return Measure(size, digest.hexdigest(), crc)


def archive(parts: Iterable[Part], moment: str) -> Iterator[bytes]:
    """The bytes of an archive with these entries, piece by piece.

    `moment` is the time all of them have. Raises `Changed` when a content is no
    longer what was measured, and `ValueError` for a name that an archive cannot
    have twice.
    """
    listed = list(parts)
    if len({folded(one.path) for one in listed}) != len(listed):
        raise ValueError("two entries of one name")
    for one in listed:
        yield local_head(one.path, one.measure, moment)
        yield from _as_measured(one)
    yield directory([(one.path, one.measure) for one in listed], moment)


def _as_measured(one: Part) -> Iterator[bytes]:
    size, digest = 0, hashlib.sha256()
    try:
        file = one.open()
    except OSError:
        raise Changed(one.path) from None
    with file:
        while piece := _piece(file, one.path):
            size += len(piece)
            digest.update(piece)
            if size > one.measure.size:
                break
            yield piece
    if (size, digest.hexdigest()) != (one.measure.size, one.measure.sha256):
        raise Changed(one.path)


def _piece(file: BinaryIO, path: str) -> bytes:
    try:
        return file.read(PIECE)
    except OSError:
        raise Changed(path) from None


def local_head(path: str, measure: Measure, moment: str) -> bytes:
    """What stands before the content of an entry."""
    name = path.encode("ascii")
    time, day = dos_time(moment)
    size = measure.size
    return LOCAL.pack(LOCAL_MARK, _NEEDED, 0, 0, time, day, measure.crc, size, size, len(name), 0) + name


def directory(listed: Iterable[tuple[str, Measure]], moment: str) -> bytes:
    """What stands behind the last entry: the list of all, and the end."""
    time, day = dos_time(moment)
    at, count, made = 0, 0, []
    for path, measure in listed:
        name, size = path.encode("ascii"), measure.size
        head = CENTRAL.pack(
            CENTRAL_MARK, _MADE_BY, _NEEDED, 0, 0, time, day, measure.crc, size, size, len(name), 0, 0, 0, 0, _MODE, at
        )
        made.append(head + name)
        at += LOCAL.size + len(name) + size
        count += 1
    body = b"".join(made)
    return body + END.pack(END_MARK, 0, 0, count, count, len(body), at, 0)


def dos_time(moment: str) -> tuple[int, int]:
    """Time and date of a ZIP entry, for `2026-05-20T14:05:30` with or without more; 1980 to 2107, two seconds fine."""
    found = _MOMENT.match(moment)
    if found is None:
        return 0, 1 << 5 | 1
    year, month, day, hour, minute, second = (int(text or 0) for text in found.groups())
    if not 1980 <= year <= 2107:
        return 0, 1 << 5 | 1
    return hour << 11 | minute << 5 | second // 2, (year - 1980) << 9 | month << 5 | day


def plain_name(name: str, longest: int = 80) -> str:
    """A file name of plain letters, digits, points and dashes that says what `name` says, for use in an archive."""
    shown = unicodedata.normalize("NFKD", name).encode("ascii", "ignore").decode()
    stem, point, ending = _PLAIN.sub("-", shown).strip("-.").rpartition(".")
    if not point:
        return (ending or "file")[:longest]
    ending = ending[:12]
    return f"{stem[: longest - len(ending) - 1]}.{ending}"


def folded(path: str) -> str:
    """What two names have in common that some system takes for one."""
    return unicodedata.normalize("NFC", unicodedata.normalize("NFC", path).casefold())
