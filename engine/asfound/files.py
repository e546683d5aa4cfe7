"""Files written whole or not at all: whoever interrupts a write finds the older file as it was."""

from __future__ import annotations

import contextlib
import os
import tempfile
from collections.abc import Iterable
from pathlib import Path


def write_atomically(path: str | Path, content: bytes | Iterable[bytes]) -> None:
    """Write `content` to `path`: beside it first, then in its place in one step.

    Content in pieces is written as it comes; when making it raises, nothing is
    written. A link is followed to the file it names. Raises `OSError` with the
    path when its folder is missing or cannot be written; nothing is left then.
    """
    target = Path(os.path.realpath(path))
    handle, made = tempfile.mkstemp(dir=target.parent, prefix=f".{target.name[:40]}.", suffix=".part")
    try:
        with os.fdopen(handle, "wb") as file:
            file.writelines((content,) if isinstance(content, bytes) else content)
            file.flush()
            os.fsync(file.fileno())
        os.chmod(made, _mode(target))
        os.replace(made, target)
    except BaseException:
        with contextlib.suppress(OSError):
            os.unlink(made)
        raise
    _settle(target.parent)


def _mode(target: Path) -> int:
    """The permissions of the file that is there, else those of a new file."""
    if target.exists():
        return target.stat().st_mode & 0o777
    mask = os.umask(0)
    os.umask(mask)
    return 0o666 & ~mask


def _settle(folder: Path) -> None:
    """Let the new name survive a power cut, where the system can do that for a folder."""
    with contextlib.suppress(OSError, AttributeError):
        handle = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)
