"""The file of a photograph: found by the name in the record, and opened only when it is a regular file in the folder.

A name may lead into folders below. It may not be absolute, climb out, hold a
colon or a control character, or be longer than a file name can be. A
backslash parts folders like a slash, so that records written on any system
read alike. Links are not followed, wherever they lead.
"""

from __future__ import annotations

import errno
import io
import os
import stat
import unicodedata
from pathlib import Path

MAX_BYTES = 512_000_000
"""Bytes of a file that are read at most."""
_LONGEST_PART, _LONGEST_NAME = 255, 1000
_MAX_LISTED = 20_000
"""Names of a folder that are looked through for one that is meant."""
_BY_HANDLE = os.open in os.supports_dir_fd and os.stat in os.supports_dir_fd and hasattr(os, "O_NOFOLLOW")
_KINDS = {
    stat.S_IFLNK: "a link, and links are not followed",
    stat.S_IFDIR: "a folder, not a file",
    stat.S_IFIFO: "a pipe, not a file",
    stat.S_IFSOCK: "a socket, not a file",
    stat.S_IFCHR: "a device, not a file",
    stat.S_IFBLK: "a device, not a file",
}


class NotRead(Exception):
    """A photograph that is not read. `reason` says why, as part of a sentence."""

    def __init__(self, reason: str) -> None:
        super().__init__(reason)
        self.reason = reason


class NotThere(NotRead):
    """There is no file of the name."""


def opened(folder: Path, name: str) -> io.BufferedReader:
    """The file called `name` in `folder`, open for reading.

    Raises `NotThere` when there is none, and `NotRead` when the name leads
    elsewhere or what has it is no regular file.
    """
    parts = parts_of(name)
    try:
        return _by_handle(folder, parts) if _BY_HANDLE else _by_path(folder, parts)
    except OSError as error:
        raise NotRead(f"the file cannot be read ({error.strerror or 'no file can have this name'})") from None


def parts_of(name: str) -> list[str]:
    """Folders and file name that a name in a record leads through. Raises `NotRead` for one that may not be used."""
    if any(ord(character) < 32 or ord(character) == 127 for character in name):
        raise NotRead("its name holds a control character")
    try:
        size = len(name.encode())
    except UnicodeEncodeError:
        raise NotRead("its name holds half a character") from None
    listed = name.replace("\\", "/").split("/")
    if listed[0] == "" or ":" in listed[0] or ".." in listed:
        raise NotRead("its name leads out of the folder of the record")
    parts = [part for part in listed if part not in ("", ".")]
    if any(":" in part for part in parts):
        raise NotRead("its name holds a colon, which not every system allows in a file name")
    if size > _LONGEST_NAME or any(len(part.encode()) > _LONGEST_PART for part in parts):
        raise NotRead("its name is longer than a file name can be")
    if not parts:
        raise NotRead("its name is that of a folder")
    return parts


def _by_handle(folder: Path, parts: list[str]) -> io.BufferedReader:
    """Step by step through open folders, so that nothing exchanged meanwhile leads elsewhere."""
    at = os.open(folder, os.O_RDONLY | os.O_DIRECTORY)
    try:
        for part in parts[:-1]:
            found = _meant(part, at)
            held = os.stat(found, dir_fd=at, follow_symlinks=False)
            if not stat.S_ISDIR(held.st_mode):
                raise NotRead(f"the folder in its name is {_kind(held, 'a file')}")
            deeper = os.open(found, os.O_RDONLY | os.O_DIRECTORY | os.O_NOFOLLOW, dir_fd=at)
            os.close(at)
            at = deeper
        found = _meant(parts[-1], at)
        _regular(os.stat(found, dir_fd=at, follow_symlinks=False))
        handle = os.open(found, os.O_RDONLY | os.O_NOFOLLOW | os.O_NONBLOCK | os.O_CLOEXEC, dir_fd=at)
    except FileNotFoundError:
        raise NotThere("there is no file of this name beside the record") from None
    finally:
        os.close(at)
    try:
        _regular(os.fstat(handle))
        return os.fdopen(handle, "rb")
    except BaseException:
        os.close(handle)
        raise


def _by_path(folder: Path, parts: list[str]) -> io.BufferedReader:
    """The same where the system knows no folders by handle."""
    path = folder
    try:
        for number, part in enumerate(parts, 1):
            path = path / _meant(part, path)
            held = path.lstat()
            reparsed = getattr(held, "st_reparse_tag", 0)
            if reparsed or (number < len(parts) and not stat.S_ISDIR(held.st_mode)):
                raise NotRead(f"its name leads through {_kind(held, 'a link')}")
        _regular(path.lstat())
        return path.open("rb")
    except FileNotFoundError:
        raise NotThere("there is no file of this name beside the record") from None


def _meant(part: str, folder: int | Path) -> str:
    """The entry of a folder with this name: as written, else the one that is the same in another Unicode form.

    Raises `FileNotFoundError`, or `NotThere` with the name that differs only in capitals.
    """
    try:
        if isinstance(folder, int):
            os.stat(part, dir_fd=folder, follow_symlinks=False)
        else:
            (folder / part).lstat()
        return part
    except FileNotFoundError:
        alike = _alike(part, folder)
    same = [name for name in alike if unicodedata.normalize("NFC", name) == unicodedata.normalize("NFC", part)]
    if len(same) == 1:
        return same[0]
    if alike:
        shown = alike[0] if alike[0].isprintable() else ascii(alike[0])[1:-1]
        raise NotThere(f"there is no file of this name beside the record; one is called {shown}")
    raise FileNotFoundError(errno.ENOENT, part)


def _alike(part: str, folder: int | Path) -> list[str]:
    """Names in a folder that differ from `part` in capitals or Unicode form only, in order."""
    key = _folded(part)
    found = []
    with os.scandir(folder) as entries:
        for number, entry in enumerate(entries):
            if number >= _MAX_LISTED:
                break
            if _folded(entry.name) == key:
                found.append(entry.name)
    return sorted(found)


def _folded(name: str) -> str:
    return unicodedata.normalize("NFC", unicodedata.normalize("NFC", name).casefold())


def _regular(held: os.stat_result) -> None:
    if not stat.S_ISREG(held.st_mode):
        raise NotRead(f"what has its name is {_kind(held, 'no file')}")


def _kind(held: os.stat_result, otherwise: str) -> str:
    return _KINDS.get(stat.S_IFMT(held.st_mode), otherwise)
