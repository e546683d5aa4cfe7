"""The manifest of a sealed document: written in one form, read with care."""

from __future__ import annotations

import functools
import hashlib
import json
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import jsonschema_rs

import asfound
import asfound_schemas
from asfound.load import Refused, load_bytes
from asfound.seal.unpack import Damaged, NotSealed, Unpacked, shown
from asfound.seal.zipform import folded
from asfound_schemas import schema

MANIFEST, SIGNATURE = "manifest.json", "signature.json"
FORMAT = 1
STATEMENT = (
    "A seal shows what has changed since it was made, and nothing else. It approves nothing, and it does not say that "
    "what it holds is right. Whatever is not proven dead is treated as live. The adopted local code and licensed "
    "practice decide."
)
AS_TAKEN, STRIPPED = "as taken", "copies without location"
NOTES = {
    AS_TAKEN: "Photographs are held byte for byte as they were beside the record. An original can hold where and when "
    "it was taken, and whatever else its camera wrote into it; whoever is given this document is given that.",
    STRIPPED: "Photographs are held as copies made anew, without location and without anything else that a camera "
    "writes. The fingerprint of each original is noted; the originals are not in this document. Reports are held as "
    "they were given; whether pictures in them hold a location is not looked at.",
}
ROLES = {
    "record": "record", "findings": "findings", "report": "report", "photograph": "photograph",
    "accepted": "list of accepted findings", "supplied": "file of what a person supplied", "amendment": "amendment",
    "rule": "rule", "table": "table",
}  # fmt: skip
"""What an entry is, by the word for it in a manifest."""
_MAX_MANIFEST = 16_000_000


@dataclass(frozen=True, slots=True)
class Sealed:
    """A manifest that was read: its values, and the fingerprint of its bytes."""

    values: dict[str, Any]
    sha256: str
    content: bytes

    def of_role(self, role: str) -> list[dict[str, Any]]:
        """The entries of a role, in their order."""
        return [entry for entry in self.values["entries"] if entry["role"] == role]


def written(values: dict[str, Any]) -> bytes:
    """A manifest as bytes; the same values give the same bytes, all of them plain ASCII."""
    return (json.dumps(values, indent=1, ensure_ascii=True) + "\n").encode("ascii")


def read(archive: Unpacked) -> Sealed:
    """The manifest in an archive. Raises `NotSealed` when there is none or it is none."""
    if MANIFEST not in archive.entries:
        raise NotSealed("there is no manifest.json in it; it is an archive, but no sealed document")
    try:
        content = archive.content(MANIFEST, _MAX_MANIFEST)
    except Damaged as error:
        raise NotSealed(f"its manifest cannot be read: {error.reason}") from None
    try:
        root = load_bytes(content, MANIFEST).root
    except Refused as refused:
        raise NotSealed(f"its manifest cannot be read: {shown(refused.sentences()[0], 200)[1:-2]}") from None
    if root.get("asfound_seal") != FORMAT:
        raise NotSealed("its manifest is of another form; it was sealed by another version of asfound, or by none")
    for place in trouble(root):
        raise NotSealed(f"its manifest is not of the form of one, at {place}")
    values: dict[str, Any] = dict(root)
    _agrees(values)
    return Sealed(values, hashlib.sha256(content).hexdigest(), content)


def trouble(values: dict[str, Any]) -> Iterator[str]:
    """Places where values do not have the form of a manifest."""
    for wrong in _validator().iter_errors(values):
        yield shown("/".join(map(str, wrong.instance_path)) or MANIFEST)


@functools.cache
def _validator() -> jsonschema_rs.Draft202012Validator:
    return jsonschema_rs.Draft202012Validator(schema("manifest"))


def _agrees(values: dict[str, Any]) -> None:
    """What a schema cannot see: one record and one list of findings, no name twice, everything named is there."""
    paths = [entry["path"] for entry in values["entries"]]
    roles = {entry["path"]: entry["role"] for entry in values["entries"]}
    if len({folded(path) for path in (*paths, MANIFEST, SIGNATURE)}) != len(paths) + 2:
        raise NotSealed("its manifest names an entry twice")
    for role in ("record", "findings"):
        if list(roles.values()).count(role) != 1:
            raise NotSealed(f"its manifest does not name one entry as the {role}")
    for role in ("accepted", "supplied"):
        if list(roles.values()).count(role) > 1:
            raise NotSealed(f"its manifest names more than one {ROLES[role]}")
    named = [("record", values["record"]["path"])]
    named += [("rule", one["path"]) for one in values["rules"]] + [("table", one["path"]) for one in values["tables"]]
    for role, path in named:
        if roles.get(path) != role:
            raise NotSealed(f"its manifest speaks of a {role} {shown(path)} that is not among its entries")


@functools.cache
def engine_sha256() -> str:
    """One fingerprint of the program without its rules: every file of its packages, by name and content.

    Taken once, as the program that runs stays what it was when its files change.
    """
    digest = hashlib.sha256()
    for package in (asfound, asfound_schemas):
        root = Path(str(package.__file__)).parent
        for file in files_below(root, "*"):
            inner = hashlib.sha256(file.read_bytes()).hexdigest()
            digest.update(f"{package.__name__}/{file.relative_to(root).as_posix()} {inner}\n".encode())
    return digest.hexdigest()


def files_below(root: Path, pattern: str) -> Iterator[Path]:
    """Files of a package in one order, without what Python and other tools keep there for themselves."""
    for file in sorted(root.rglob(pattern), key=lambda path: path.relative_to(root).as_posix()):
        inner = file.relative_to(root).parts
        if file.is_file() and not any(one == "__pycache__" or one.startswith(".") for one in inner):
            yield file
