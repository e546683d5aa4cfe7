"""Read an archive of a stranger: nothing is unpacked before its form has been looked through and found plain.

Refused, each with its reason: what is no ZIP file, bytes before, between or
behind its entries, heads that say one thing at the entry and another in the
list, entries that lie over each other, two entries of one name (or of names
that some system takes for one), names that lead elsewhere, links and devices,
encrypted entries, the 64-bit extension, several volumes, and more or larger
entries than a sealed document can have. Compressed entries are read, within
bounds, so that a document that was packed anew can still be compared.
"""

from __future__ import annotations

import contextlib
import os
import stat
import struct
import zlib
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import BinaryIO

from asfound.seal.zipform import (
    CENTRAL,
    CENTRAL_MARK,
    END,
    END_MARK,
    LOCAL,
    LOCAL_MARK,
    MAX_ENTRIES,
    MAX_TOTAL,
    PIECE,
    folded,
)

MAX_RATIO = 200
"""Bytes that one packed byte may become, beyond the first megabyte of an entry."""
_FREE = 1_000_000
_MAX_DIRECTORY = 16_000_000
_MAX_NAME = 300
_STORED, _DEFLATED = 0, 8
_ENCRYPTED, _STREAMED, _UTF8 = 1 | 1 << 6 | 1 << 13, 1 << 3, 1 << 11
_LEVEL = 1 << 1 | 1 << 2  # how hard a packer tried; says nothing
_TIMES = (0x000A, 0x5455, 0x5855, 0x7875)
"""Extra fields that only hold times and owners, as packers write them."""


class NotSealed(Exception):
    """The file is no sealed document, or not one that may be opened. `reason` is a clause without a full stop."""

    def __init__(self, reason: str) -> None:
        super().__init__(reason)
        self.reason = reason


class Damaged(Exception):
    """The content of an entry cannot be had as its head says. `reason` is a clause without a full stop."""

    def __init__(self, reason: str) -> None:
        super().__init__(reason)
        self.reason = reason


class WrongSum(Damaged):
    """The content of an entry is whole, and does not agree with the check sum in its head."""


@dataclass(frozen=True, slots=True)
class Entry:
    """One entry as the list says it is; `start` is where its content begins."""

    path: str
    flags: int
    method: int
    time: int
    day: int
    crc: int
    packed: int
    size: int
    at: int
    needed: int
    start: int = 0


class Unpacked:
    """An archive whose form is plain. Use as a context; raises `NotSealed` when it is made."""

    def __init__(self, path: Path) -> None:
        self._file = _opened(path)
        try:
            self._read()
        except BaseException:
            self._file.close()
            raise

    def __enter__(self) -> Unpacked:
        return self

    def __exit__(self, *raised: object) -> None:
        self._file.close()

    def _read(self) -> None:
        whole = os.fstat(self._file.fileno()).st_size
        count, size, at = _end(self._file, whole)
        self._file.seek(at)
        listed = _listed(self._file.read(size), count)
        self.heads = b""
        """Everything in the file that is not content of an entry, in the order of the file."""
        self.entries = {entry.path: entry for entry in self._placed(listed, at)}
        self._file.seek(at)
        self.heads += self._file.read()

    def _placed(self, listed: list[Entry], directory: int) -> Iterator[Entry]:
        """The entries in the order of the file, with the start of their content; they fill it without a gap."""
        expected = 0
        for entry in sorted(listed, key=lambda one: one.at):
            if entry.at != expected:
                over = "entries lie over each other" if entry.at < expected else "there are bytes between its entries"
                raise NotSealed(over if expected else "there are bytes before its first entry")
            head, start = _local(self._file, entry)
            self.heads += head
            expected = start + entry.packed
            if expected > directory:
                raise NotSealed(f"the entry {shown(entry.path)} goes on over the list of entries")
            yield Entry(
                entry.path, entry.flags, entry.method, entry.time, entry.day, entry.crc, entry.packed, entry.size,
                entry.at, entry.needed, start,
            )  # fmt: skip
        if expected != directory:
            raise NotSealed("there are bytes between its entries and their list")

    def pieces(self, path: str) -> Iterator[bytes]:
        """The content of an entry, piece by piece. Raises `Damaged` at its end when it is not as its head says."""
        entry = self.entries[path]
        self._file.seek(entry.start)
        left, crc, size = entry.packed, 0, 0
        inflate = zlib.decompressobj(-15) if entry.method == _DEFLATED else None
        while left or (inflate is not None and not inflate.eof):
            raw = self._file.read(min(left, PIECE))
            if left and not raw:
                raise Damaged("its content is cut off")
            left -= len(raw)
            for piece in _inflated(inflate, raw, entry.size - size) if inflate is not None else (raw,):
                size += len(piece)
                if size > entry.size:
                    raise Damaged("there is more in it than its head says")
                crc = zlib.crc32(piece, crc)
                yield piece
            if inflate is not None and not left and not inflate.eof:
                raise Damaged("its content is cut off")
            if inflate is not None and inflate.eof and (left or inflate.unused_data):
                raise Damaged("there are bytes behind its packed content")
        if size != entry.size:
            raise Damaged("there is less in it than its head says")
        if crc != entry.crc:
            raise WrongSum("its bytes do not agree with the check sum in its head")

    def content(self, path: str, most: int) -> bytes:
        """The whole content of an entry, whatever its check sum. Raises `Damaged`, also for more than `most` bytes."""
        if self.entries[path].size > most:
            raise Damaged(f"it is larger than {most // 1_000_000} MB")
        held = bytearray()
        with contextlib.suppress(WrongSum):
            for piece in self.pieces(path):
                held += piece
        return bytes(held)


def shown(text: str, limit: int = 80) -> str:
    """Text of a stranger in quotes for a sentence: one line, nothing unseen, cut."""
    plain = "".join(c if c.isprintable() else ascii(c)[1:-1] for c in text[:limit])
    return f'"{plain}{"..." if len(text) > limit else ""}"'


def _inflated(inflate: zlib._Decompress, raw: bytes, left: int) -> Iterator[bytes]:
    """What packed bytes become, never more than one byte beyond what is left, in pieces."""
    try:
        while True:
            piece = inflate.decompress(raw, min(PIECE, left + 1))
            left -= len(piece)
            if piece:
                yield piece
            raw = inflate.unconsumed_tail
            if left < 0 or inflate.eof or not raw:
                return
    except zlib.error:
        raise Damaged("its packed content is damaged") from None


def _opened(path: Path) -> BinaryIO:
    try:
        handle = os.open(path, os.O_RDONLY | getattr(os, "O_NONBLOCK", 0) | getattr(os, "O_BINARY", 0))
    except FileNotFoundError:
        raise NotSealed("there is no file of this name") from None
    except (OSError, ValueError) as error:
        raise NotSealed(f"it cannot be read ({getattr(error, 'strerror', None) or 'no file can have it'})") from None
    if not stat.S_ISREG(os.fstat(handle).st_mode):
        os.close(handle)
        raise NotSealed("it is no file")
    return os.fdopen(handle, "rb")


def _end(file: BinaryIO, whole: int) -> tuple[int, int, int]:
    """Number of entries, size of their list and where it begins, from the last bytes of the file."""
    head = file.read(4)
    if whole < END.size:
        raise NotSealed("it is too short to be an archive")
    if whole > MAX_TOTAL + MAX_ENTRIES * 1_000:
        raise NotSealed("it is larger than a sealed document can be")
    file.seek(max(0, whole - END.size - 20))
    tail = file.read()
    mark, disk, start_disk, here, count, size, at, comment = END.unpack(tail[-END.size :])
    if mark != END_MARK or comment:
        file.seek(max(0, whole - END.size - 65_536))
        if END_MARK in file.read():
            raise NotSealed("there are bytes behind its end")
        known = head == LOCAL_MARK
        raise NotSealed("it is cut off" if known else "it is no ZIP archive")
    if tail[:4] == b"PK\x06\x07" or 0xFFFF in (here, count) or 0xFFFFFFFF in (size, at):
        raise NotSealed("it uses the 64-bit extension, which a sealed document does not need")
    if disk or start_disk or here != count:
        raise NotSealed("it is part of an archive in several volumes, or says so")
    if count > MAX_ENTRIES or size > _MAX_DIRECTORY:
        raise NotSealed(f"it has more than {MAX_ENTRIES} entries, or says so")
    if at + size != whole - END.size:
        before = at + size < whole - END.size
        raise NotSealed("there are bytes before its first entry or its end" if before else "it is cut off")
    if count and head != LOCAL_MARK:
        raise NotSealed("there are bytes before its first entry")
    return count, size, at


def _listed(data: bytes, count: int) -> list[Entry]:
    """The entries that the list of an archive names."""
    found: list[Entry] = []
    seen: set[str] = set()
    total, at = 0, 0
    for _ in range(count):
        if len(data) < at + CENTRAL.size or data[at : at + 4] != CENTRAL_MARK:
            raise NotSealed("its list of entries is damaged")
        (_, _, needed, flags, method, time, day, crc, packed, size, name_size, extra_size, comment, disk, _,
         mode, start) = CENTRAL.unpack_from(data, at)  # fmt: skip
        at += CENTRAL.size
        name, extra = data[at : at + name_size], data[at + name_size : at + name_size + extra_size]
        at += name_size + extra_size + comment
        path = _name(name, flags)
        said = shown(path)
        if comment or disk:
            raise NotSealed(f"the entry {said} has a comment or lies in another volume")
        _plain(said, flags, method, extra, (packed, size, start))
        kind = stat.S_IFMT(mode >> 16)
        if kind not in (0, stat.S_IFREG) or mode & 0x10:
            what = {stat.S_IFLNK: "a link", stat.S_IFDIR: "a folder"}.get(
                kind, "a folder" if mode & 0x10 else "a device"
            )
            raise NotSealed(f"the entry {said} is {what}, not a file")
        if folded(path) in seen:
            raise NotSealed(f"two entries are called {said}, or by names that some system takes for one")
        seen.add(folded(path))
        total += size
        if total > MAX_TOTAL:
            raise NotSealed("its entries are larger than those of a sealed document can be")
        if size > max(packed, 1) * MAX_RATIO + _FREE or (method == _STORED and packed != size):
            raise NotSealed(f"the entry {said} says it becomes {size} bytes out of {packed}")
        found.append(Entry(path, flags, method, time, day, crc, packed, size, start, needed))
    if at != len(data):
        raise NotSealed("its list of entries is damaged")
    _no_file_is_a_folder(found)
    return found


def _plain(said: str, flags: int, method: int, extra: bytes, sizes: tuple[int, ...]) -> None:
    """Refuse what no sealed document has."""
    if flags & _ENCRYPTED:
        raise NotSealed(f"the entry {said} is encrypted")
    if flags & _STREAMED:
        raise NotSealed(f"the entry {said} does not say its size where it begins; the archive was packed anew")
    if flags & ~(_UTF8 | _LEVEL):
        raise NotSealed(f"the entry {said} has marks that are not known")
    if method not in (_STORED, _DEFLATED):
        raise NotSealed(f"the entry {said} is packed in a way that is not read")
    if 0xFFFFFFFF in sizes:
        raise NotSealed(f"the entry {said} uses the 64-bit extension, which a sealed document does not need")
    while extra:
        if len(extra) < 4:
            raise NotSealed(f"the entry {said} has extra fields that are damaged")
        kind, size = struct.unpack_from("<HH", extra)
        if kind not in _TIMES or len(extra) < 4 + size:
            what = "the 64-bit extension" if kind == 1 else f"an extra field ({kind:#06x})"
            raise NotSealed(f"the entry {said} uses {what}, which a sealed document does not need")
        extra = extra[4 + size :]


def _name(raw: bytes, flags: int) -> str:
    """The name of an entry. Raises `NotSealed` for one that could lead elsewhere."""
    try:
        path = raw.decode("utf-8" if flags & _UTF8 else "ascii")
    except UnicodeDecodeError:
        raise NotSealed(f"an entry has a name that is no text ({shown(raw.decode('latin-1'))})") from None
    said = shown(path)
    if not path.isprintable():
        raise NotSealed(f"the name {said} holds a character that cannot be seen")
    if "\\" in path or ":" in path:
        raise NotSealed(f"the name {said} holds a backslash or a colon")
    if path.startswith("/"):
        raise NotSealed(f"the name {said} begins at the root of a disk")
    steps = path.split("/")
    if ".." in steps:
        raise NotSealed(f"the name {said} leads out of the archive")
    if path.endswith("/"):
        raise NotSealed(f"the entry {said} is a folder, not a file")
    if "" in steps or "." in steps or len(raw) > _MAX_NAME:
        raise NotSealed(f"the name {said} is no plain name of a file")
    return path


def _no_file_is_a_folder(entries: list[Entry]) -> None:
    files = {folded(entry.path) for entry in entries}
    for entry in entries:
        steps = folded(entry.path).split("/")
        if any("/".join(steps[:cut]) in files for cut in range(1, len(steps))):
            raise NotSealed(f"the name {shown(entry.path)} leads through another entry")


def _local(file: BinaryIO, entry: Entry) -> tuple[bytes, int]:
    """The head at an entry, which has to say what the list says, and where its content begins."""
    file.seek(entry.at)
    fixed = file.read(LOCAL.size)
    said = shown(entry.path)
    if len(fixed) < LOCAL.size or fixed[:4] != LOCAL_MARK:
        raise NotSealed(f"there is no entry where its list says that {said} begins")
    _, needed, flags, method, time, day, crc, packed, size, name_size, extra_size = LOCAL.unpack(fixed)
    more = file.read(name_size + extra_size)
    mine = (needed, flags, method, time, day, crc, packed, size)
    listed = (entry.needed, entry.flags, entry.method, entry.time, entry.day, entry.crc, entry.packed, entry.size)
    if mine != listed or more[:name_size] != entry.path.encode("utf-8"):
        raise NotSealed(f"the head of the entry {said} says other than the list of entries")
    _plain(said, flags, method, more[name_size:], (packed, size))
    return fixed + more, entry.at + LOCAL.size + name_size + extra_size
