"""The chain of amendments: from a document to the one it amends, and on, through older documents that are at hand."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from asfound.load import MAX_BYTES
from asfound.seal.findings import MAX_FINDINGS
from asfound.seal.manifest import Sealed, engine_sha256
from asfound.seal.older import changes, older
from asfound.seal.unpack import Damaged, NotSealed, Unpacked, shown
from asfound.seal.zipform import part


@dataclass(slots=True)
class Chain:
    """What following the chain gave: links found, in order, differences as file and clause, and notes."""

    links: list[str] = field(default_factory=list)
    apart: list[tuple[str, str]] = field(default_factory=list)
    notes: list[str] = field(default_factory=list)


Intact = Callable[[Path], tuple[Sealed, str]]
"""The manifest of a document, and what is wrong with it in a clause; raises `NotSealed`."""


def followed(path: Path, sealed: Sealed, files: tuple[Path, ...], intact: Intact) -> Chain:
    """Follow what the document at `path` amends through the older `files`."""
    done = Chain()
    at_hand: dict[str, tuple[Path, Sealed]] = {}
    for file in files:
        try:
            held, wrong = intact(file)
        except NotSealed as error:
            done.apart.append((str(file), f"{file} is no sealed document that can be verified: {error.reason}"))
            continue
        if wrong:
            done.apart.append((str(file), f"{file} is not as it was sealed: {wrong}"))
        at_hand[held.sha256] = (file, held)
    while sealed.values["amends"] is not None:
        said = sealed.values["amends"]
        if said["manifest_sha256"] not in at_hand:
            done.notes.append(f"{_called(path, sealed)} amends a document that was not given; the chain ends here.")
            break
        before, held = at_hand.pop(said["manifest_sha256"])
        done.links.append(f"{before}, sealed on {held.values['sealed_on']}")
        _compare(path, sealed, before, held, done)
        path, sealed = before, held
    done.apart += [
        (str(file), f"{file} is no older document of this one; nothing here amends it") for file, _ in at_hand.values()
    ]
    return done


def _called(path: Path, sealed: Sealed) -> str:
    number = sealed.values["number"]
    return f"{path}{f' (number {shown(number)[1:-1]})' if number else ''}"


def _compare(path: Path, sealed: Sealed, before: Path, held: Sealed, done: Chain) -> None:
    said = sealed.values["amends"]
    for name in ("number", "sealed_on"):
        if said[name] != held.values[name]:
            told = f"{path} says of {before} the {name.replace('_', ' ')} {shown(said[name])}, which is not so"
            done.apart.append((str(path), told))
    signed = held.values["signed_by"]
    if signed and signed != sealed.values["signed_by"]:
        how = "is signed by another key" if sealed.values["signed_by"] else "is not signed"
        done.notes.append(f"{before} is signed; {path}, which amends it, {how}.")
    _changes(path, sealed, before, said, done)


def _changes(path: Path, sealed: Sealed, before: Path, said: dict[str, Any], done: Chain) -> None:
    """Whether the changes that a document lists are those that there are."""
    if sealed.values["asfound"]["sha256"] != engine_sha256():
        done.notes.append(f"The changes that {path} lists were written by another asfound and were not compared.")
        return
    try:
        with Unpacked(path) as archive:
            record = archive.content(sealed.values["record"]["path"], MAX_BYTES)
            findings = archive.content(sealed.of_role("findings")[0]["path"], MAX_FINDINGS)
        found = changes(
            older(before, said["reason"]), part("record", record), part("findings", findings), sealed.values["entries"]
        )
    except (Damaged, NotSealed, KeyError) as error:
        done.notes.append(f"The changes that {path} lists were not compared: {getattr(error, 'reason', error)}.")
        return
    if found != said["changes"]:
        done.apart.append((str(path), f"{path} lists other changes since {before} than there are"))
