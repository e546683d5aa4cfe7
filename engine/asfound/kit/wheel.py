"""A pack as a wheel: one file that pip installs, the same bytes from the same pack wherever it is built.

The files go into it as their maintainer wrote them, in a package of the pack's
own name. By the binary distribution format and core metadata 2.1 of the Python
packaging specifications (from memory). Entries are stored, not compressed, so
that the bytes do not hang on the version of a compressor.
"""

from __future__ import annotations

import base64
import hashlib
from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path

from asfound import __version__
from asfound.judge.rules import BadRule
from asfound.kit.packs import DISTRIBUTION, INIT, LOCK, Pack
from asfound.plugins import GROUP
from asfound.seal.zipform import archive, part

_TEXTS = ("LICENCE", "LICENSE", "NOTICE")


@dataclass(frozen=True, slots=True)
class Wheel:
    """A built wheel: its file name and its bytes."""

    name: str
    content: bytes


def distribution(pack: str) -> str:
    """The name by which pip knows a pack."""
    return DISTRIBUTION + pack


def module_of(pack: str) -> str:
    """The name of the package around a pack."""
    return distribution(pack).replace("-", "_")


def pack_files(folder: Path) -> tuple[list[Path], list[Path]]:
    """The files of a pack, by their path inside it, and those beside them that do not belong to a pack.

    What begins with a dot, what Python leaves behind and wheels are neither.
    """
    taken: list[Path] = []
    left: list[Path] = []
    for path in sorted(folder.rglob("*")):
        inside = path.relative_to(folder)
        if not path.is_file() or path.suffix == ".whl" or any(s[0] == "." or s == "__pycache__" for s in inside.parts):
            continue
        tables = len(inside.parts) == 2 and inside.parts[0] == "tables" and path.suffix == ".yaml"
        top = len(inside.parts) == 1 and (path.suffix in (".py", ".yaml", ".md") or path.name in _TEXTS)
        (taken if tables or top else left).append(inside)
    return taken, left


def build_wheel(pack: Pack, lock: str | None = None) -> Wheel:
    """The wheel of a pack; `lock` is what its file of verdicts is about to hold.

    Raises `BadRule` for a file that cannot be read or whose name is not of plain letters.
    """
    module = module_of(pack.name)
    entries = [(f"{module}/__init__.py", _init(pack).encode())]
    files = pack_files(pack.folder)[0]
    for inside in files if lock is None or Path(LOCK) in files else sorted([*files, Path(LOCK)]):
        name = inside.as_posix()
        if name == INIT:
            raise BadRule(f"{pack.folder / inside}: a pack is given its {INIT} when it is built; take this one out")
        if not name.isascii() or not name.isprintable():
            raise BadRule(f"{pack.folder / inside}: a file of a pack has a name of plain letters; rename it")
        try:
            held = lock if name == LOCK else None
            content = held.encode() if held is not None else (pack.folder / inside).read_bytes()
        except OSError as error:
            raise BadRule(f"{pack.folder / inside} cannot be read ({error.strerror}); check its permissions") from None
        entries.append((f"{module}/{name}", content))
    info = f"{module}-{pack.version}.dist-info"
    entries += [
        (f"{info}/METADATA", metadata(pack).encode()),
        (f"{info}/WHEEL", _wheel().encode()),
        (f"{info}/entry_points.txt", f"[{GROUP}]\n{pack.name} = {module}\n".encode()),
    ]
    entries.append((f"{info}/RECORD", _record(entries, f"{info}/RECORD").encode()))
    content = b"".join(archive([part(name, held) for name, held in entries], ""))
    return Wheel(f"{module}-{pack.version}-py3-none-any.whl", content)


def _init(pack: Pack) -> str:
    return (
        f'"""Pack of rules {pack.name} {pack.version}; written by `asfound rule pack`, all beside it by others."""\n\n'
        "from asfound.kit.packs import hooks\n\n"
        "asfound_rules, asfound_rule_files, asfound_tables = hooks(__name__, __file__)\n"
    )


def metadata(pack: Pack) -> str:
    """The text of METADATA."""
    lines = [
        "Metadata-Version: 2.1",
        f"Name: {distribution(pack.name)}",
        f"Version: {pack.version}",
        f"Summary: {'Invented: ' if pack.invented else ''}{pack.says}",
        f"Maintainer: {pack.maintainer}",
    ]
    if pack.licence:
        lines.append(f"License: {pack.licence}")
    lines += ["Requires-Python: >=3.11", f"Requires-Dist: asfound{_joined(pack.needs_asfound)}"]
    lines += [
        f"Requires-Dist: {distribution(name)}{_joined(wanted)}" for name, wanted in sorted(pack.needs_packs.items())
    ]
    return "\n".join(lines) + "\n"


def _joined(wanted: str) -> str:
    return ",".join(part.strip() for part in wanted.split(",")) if wanted else ""


def _wheel() -> str:
    return f"Wheel-Version: 1.0\nGenerator: asfound {__version__}\nRoot-Is-Purelib: true\nTag: py3-none-any\n"


def _record(entries: Iterable[tuple[str, bytes]], own: str) -> str:
    """The text of RECORD: name, fingerprint and size of every file, its own line without the last two."""
    lines = []
    for name, content in entries:
        digest = base64.urlsafe_b64encode(hashlib.sha256(content).digest()).rstrip(b"=").decode()
        lines.append(f"{_field(name)},sha256={digest},{len(content)}")
    return "\n".join([*lines, f"{own},,"]) + "\n"


def _field(name: str) -> str:
    """A name as a field of RECORD, which is a file of comma-separated values."""
    return '"' + name.replace('"', '""') + '"' if any(mark in name for mark in ',"') else name
