"""Say precisely what differs in a sealed document: entries, manifest, signature, and the archive itself."""

from __future__ import annotations

from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from asfound.load import MAX_BYTES, Refused
from asfound.seal import manifest
from asfound.seal.again import Again, again
from asfound.seal.beside import beside
from asfound.seal.chain import followed
from asfound.seal.findings import MAX_FINDINGS, read_findings
from asfound.seal.make import Told, silent
from asfound.seal.manifest import MANIFEST, SIGNATURE, Sealed
from asfound.seal.origin import MAX_DOCUMENT, dates_of, records_of
from asfound.seal.signing import holds, read_signature
from asfound.seal.supplied import Approval, approval_in
from asfound.seal.unpack import Damaged, NotSealed, Unpacked, WrongSum, shown
from asfound.seal.zipform import Measure, directory, local_head, measured

_MAX_SIGNATURE = 10_000


@dataclass(frozen=True, slots=True)
class Difference:
    """One thing that is not as sealed. `kind` is a word for programs, `what` the entry or part, `says` a clause."""

    kind: str
    what: str
    says: str


@dataclass(slots=True)
class Verified:
    """What a check of a sealed document gave.

    `differences` are what is not as sealed, `undone` what was asked for and
    could not be done, `notes` what to know besides. `recomputed` is how many
    findings were compared, None when none were. `of_record` are the reports
    that carry or name the sealed record, `untold` those that do not say from
    which record they were made. `accepted` is how many findings are accepted as
    sealed, None without a list of them; `approval` is the one supplied. `older`
    are the documents that the chain of amendments leads to.
    """

    sealed: Sealed
    signature: str = ""
    differences: list[Difference] = field(default_factory=list)
    undone: list[str] = field(default_factory=list)
    notes: list[str] = field(default_factory=list)
    compared: list[str] = field(default_factory=list)
    recomputed: int | None = None
    of_record: list[str] = field(default_factory=list)
    untold: list[str] = field(default_factory=list)
    accepted: int | None = None
    approval: Approval | None = None
    older: list[str] = field(default_factory=list)


@dataclass(frozen=True, slots=True)
class Asked:
    """What is to be checked besides the document itself.

    `against` is a record or a folder on disk, `public_key` the 64 digits of
    the key that should have signed, `fingerprint` what the manifest should
    have, `older` the documents that this one amends, one after the other.
    `run_rules` lets the rules in the archive be run, which is code.
    """

    against: Path | None = None
    recompute: bool = False
    run_rules: bool = False
    public_key: str = ""
    fingerprint: str = ""
    older: tuple[Path, ...] = ()


def verify(path: Path, asked: Asked = Asked(), told: Told = silent) -> Verified:
    """Check the sealed document at `path`; `told` hears of the stages.

    Raises `NotSealed` when it is none, or none that may be opened.
    """
    told("reading the archive")
    with Unpacked(path) as archive:
        sealed = manifest.read(archive)
        done = Verified(sealed)
        measures = _entries(archive, done, told)
        _manifest(archive, done, asked)
        _signature(archive, done, asked)
        if not any(one.kind in _CONTENT for one in done.differences):
            _whole(archive, done)
            _reports(archive, done, told)
            _supplied(archive, done)
        if not done.differences:
            _heads(archive, done, measures)
        if asked.against is not None:
            told("comparing with the files on disk")
            apart, done.compared = beside(archive, sealed, asked.against)
            done.differences += [Difference(kind, what, says) for kind, what, says in apart]
        if asked.older:
            told("following the chain of amendments")
            _chain(path, done, asked.older)
        if asked.recompute:
            told("judging the sealed record again")
            _recompute(archive, done, asked.run_rules)
        return done


def _entries(archive: Unpacked, done: Verified, told: Told) -> dict[str, Measure]:
    """Compare every entry with the manifest."""
    found: dict[str, Measure] = {}
    photographs, seen = len(done.sealed.of_role("photograph")), 0
    told(f"checking {len(done.sealed.values['entries'])} files")
    for entry in done.sealed.values["entries"]:
        if entry["role"] == "photograph":
            seen += 1
            told(f"photograph {seen} of {photographs}")
        path = entry["path"]
        said = f"{path}{_outside(entry)}"
        if path not in archive.entries:
            done.differences.append(Difference("missing", path, f"{said} was sealed and is missing"))
            continue
        try:
            measure, wrong = _measure(archive, path)
        except Damaged as error:
            done.differences.append(Difference("changed", path, f"{said} cannot be read: {error.reason}"))
            continue
        found[path] = measure
        if measure.size != entry["size"]:
            says = f"{said} has {measure.size} bytes and was sealed with {entry['size']}"
            done.differences.append(Difference("size", path, f"{says}; its SHA-256 is {measure.sha256}"))
        elif measure.sha256 != entry["sha256"]:
            says = f"{said} changed: SHA-256 {entry['sha256']} was sealed, it is {measure.sha256}"
            done.differences.append(Difference("changed", path, f"{says}{_altered(wrong)}"))
        elif wrong:
            done.differences.append(
                Difference("head", path, f"{said} is as sealed, its check sum in the archive is not")
            )
    known = {entry["path"] for entry in done.sealed.values["entries"]} | {MANIFEST, SIGNATURE}
    for path in archive.entries:
        if path not in known:
            done.differences.append(Difference("added", path, f"{shown(path)} was not sealed and is in the archive"))
    return found


def _outside(entry: dict[str, Any]) -> str:
    return f" ({shown(entry['name'])[1:-1]})" if "name" in entry else ""


def _altered(wrong: bool) -> str:
    return "; its bytes were altered or damaged in the archive itself" if wrong else ""


def _measure(archive: Unpacked, path: str) -> tuple[Measure, bool]:
    """Size and fingerprints of an entry, and whether the check sum in its head is wrong. Raises `Damaged`."""
    wrong = False

    def pieces() -> Any:
        nonlocal wrong
        try:
            yield from archive.pieces(path)
        except WrongSum:
            wrong = True

    return measured(pieces()), wrong


def _manifest(archive: Unpacked, done: Verified, asked: Asked) -> None:
    sealed = done.sealed
    if _measure(archive, MANIFEST)[1]:
        says = "manifest.json does not agree with its check sum; it was altered or damaged in the archive itself"
        done.differences.append(Difference("manifest", MANIFEST, says))
    elif manifest.written(sealed.values) != sealed.content:
        says = "manifest.json is not written as asfound writes it; somebody else wrote it"
        done.differences.append(Difference("manifest", MANIFEST, says))
    if asked.fingerprint and asked.fingerprint != sealed.sha256:
        says = f"manifest.json has the fingerprint {sealed.sha256}, not {asked.fingerprint}; it is another document"
        done.differences.append(Difference("manifest", MANIFEST, says))


def _signature(archive: Unpacked, done: Verified, asked: Asked) -> None:
    trouble = _signature_trouble(archive, done, asked)
    if trouble:
        done.differences.append(Difference("signature", SIGNATURE, trouble))


def _signature_trouble(archive: Unpacked, done: Verified, asked: Asked) -> str:
    """What is wrong with the signature; empty when it holds, or when there is none and none is asked for."""
    named = done.sealed.values["signed_by"]
    if SIGNATURE not in archive.entries:
        if named:
            return f"the signature is missing; the manifest names the key {named}"
        return "it is not signed, and a key was given that should have signed it" if asked.public_key else ""
    try:
        content = archive.content(SIGNATURE, _MAX_SIGNATURE)
    except Damaged as error:
        return f"the signature cannot be read: {error.reason}"
    signature = read_signature(content)
    if signature is None:
        return "signature.json is not of the form of a signature; it was altered or damaged"
    if not holds(signature, done.sealed.content):
        return "the signature does not fit the manifest: one of the two was changed after signing"
    if signature.public_key != named:
        whose = f"the manifest names {named}" if named else "the manifest names none"
        return f"it is signed by the key {signature.public_key}, and {whose}"
    if asked.public_key and signature.public_key != asked.public_key:
        return f"it is signed by another key: {signature.public_key}, not {asked.public_key}"
    done.signature = signature.public_key
    return ""


def _whole(archive: Unpacked, done: Verified) -> None:
    """Record, findings and manifest speak of one record and one date."""
    record = done.sealed.of_role("record")[0]["sha256"]
    try:
        found = read_findings(archive.content(done.sealed.of_role("findings")[0]["path"], MAX_FINDINGS))
    except (Damaged, NotSealed) as error:
        done.undone.append(f"The findings in it were not looked at: {error.reason}.")
        return
    if not record == found["record"]["sha256"] == done.sealed.values["record"]["sha256"]:
        says = "findings, record and manifest speak of different records"
        done.differences.append(Difference("findings", "findings.json", says))
    if found["run"].get("as_of") != done.sealed.values["as_of"]:
        says = "findings and manifest speak of different dates by whose tables the record was judged"
        done.differences.append(Difference("findings", "findings.json", says))
    if done.sealed.of_role("accepted"):
        done.accepted = found.get("accepted", {}).get("in_force", 0)


def _reports(archive: Unpacked, done: Verified, told: Told) -> None:
    """Which reports carry or name the sealed record; one that says it is of another is a difference."""
    record = done.sealed.values["record"]["sha256"]
    for entry in done.sealed.of_role("report"):
        name = entry.get("name", entry["path"])
        told(f"report {shown(name)}")
        content = archive.content(entry["path"], MAX_DOCUMENT) if entry["size"] <= MAX_DOCUMENT else b""
        of, on = records_of(content), dates_of(content)
        if of and record not in of:
            says = f"{entry['path']}{_outside(entry)} was made from another record or another state of the sealed one"
            done.differences.append(Difference("report", entry["path"], says))
        elif on and done.sealed.values["as_of"] not in on:
            says = f"{entry['path']}{_outside(entry)} was judged as of another date than the sealed findings"
            done.differences.append(Difference("report", entry["path"], says))
        else:
            (done.of_record if of else done.untold).append(name)


def _supplied(archive: Unpacked, done: Verified) -> None:
    """The approval that was supplied."""
    for entry in done.sealed.of_role("supplied"):
        try:
            done.approval = approval_in(archive.content(entry["path"], MAX_BYTES), entry.get("name", entry["path"]))
        except (Damaged, Refused):
            done.notes.append(f"What a person supplied ({shown(entry['path'])[1:-1]}) is not of the form of it.")


def _heads(archive: Unpacked, done: Verified, measures: dict[str, Measure]) -> None:
    """Whether the archive is byte for byte the one that was written."""
    first = [(name, _measure(archive, name)[0]) for name in (MANIFEST, SIGNATURE) if name in archive.entries]
    listed = [*first, *((entry["path"], measures[entry["path"]]) for entry in done.sealed.values["entries"])]
    moment = done.sealed.values["sealed_on"]
    written = b"".join(local_head(path, measure, moment) for path, measure in listed) + directory(listed, moment)
    if written != archive.heads or any(entry.method for entry in archive.entries.values()):
        says = "the archive was packed anew or its heads were altered; every entry in it is as sealed"
        done.differences.append(Difference("packed", "the archive", says))


def _chain(path: Path, done: Verified, files: tuple[Path, ...]) -> None:
    def intact(file: Path) -> tuple[Sealed, str]:
        found = verify(file)
        return found.sealed, found.differences[0].says if found.differences else ""

    chain = followed(path, done.sealed, files, intact)
    done.older = chain.links
    done.notes += chain.notes
    done.differences += [Difference("older", what, says) for what, says in chain.apart]


def _recompute(archive: Unpacked, done: Verified, run_rules: bool) -> None:
    if any(one.kind not in _ELSEWHERE for one in done.differences):
        done.undone.append(
            "The findings were not judged again, because what is in the document is not what was sealed."
        )
        return
    result: Again = again(archive, done.sealed, run_rules)
    done.undone += result.undone
    done.notes += result.notes
    done.recomputed = result.compared
    done.differences += [Difference("finding", "findings.json", says) for says in result.apart]


_CONTENT = ("missing", "changed", "size")
"""Kinds of difference that lie in what an entry holds."""
_ELSEWHERE = ("beside", "line", "packed", "signature", "report", "older")
"""Kinds of difference that leave alone what the findings were judged from."""
