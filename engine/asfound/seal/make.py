"""Put a sealed document together: the record as it stands, what judged it, what was found, and what was given along."""

from __future__ import annotations

import hashlib
import importlib.metadata
import json
import stat
import sys
from collections.abc import Callable, Container, Iterable, Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, Any, BinaryIO

from asfound import __version__
from asfound.accepted import Accepted, held_against, read_accepted
from asfound.compare.former import former_identities
from asfound.load import MAX_BYTES
from asfound.photos import NotRead, delivered_from, opened
from asfound.plugins import GROUP, Collected, collect
from asfound.record.facts import Item
from asfound.render.asdata import RunFacts, as_data
from asfound.seal import manifest
from asfound.seal.older import Older, changes
from asfound.seal.origin import MAX_DOCUMENT, dates_of, records_of
from asfound.seal.signing import digits, signed
from asfound.seal.supplied import Approval, approval_in
from asfound.seal.unpack import shown
from asfound.seal.zipform import MAX_ENTRIES, MAX_TOTAL, Part, archive, part, plain_name
from asfound.survey import Survey, survey

if TYPE_CHECKING:
    from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey


PACK = "pack.yaml"
"""What a folder of rules says of itself."""


class Unsealable(Exception):
    """Something cannot be sealed as it is; the message is a whole sentence."""


Told = Callable[[str], None]
"""Hears what is being done, a few words at a time."""


def silent(words: str) -> None:
    """Tells nobody."""


@dataclass(frozen=True, slots=True)
class Order:
    """What is to be sealed, and how. Dates are given, never taken from the clock.

    `accepted` is a file of accepted findings, `supplied` what a person supplied
    for the documents (issuer, number, approval).
    """

    record: Path
    as_of: str
    sealed_on: str
    named: tuple[Path, ...] = ()
    amended: tuple[Path, ...] = ()
    reports: tuple[Path, ...] = ()
    accepted: Path | None = None
    supplied: Path | None = None
    number: str = ""
    older: Older | None = None
    strip_location: bool = False


@dataclass(frozen=True, slots=True)
class Held:
    """An entry with what the manifest says of it besides size and fingerprint."""

    part: Part
    role: str
    more: dict[str, Any] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Made:
    """A sealed document ready to be written: its entries, and what to tell of it. `approval` is the one supplied."""

    parts: tuple[Part, ...]
    values: dict[str, Any]
    manifest_sha256: str
    results: Survey
    approval: Approval | None = None

    def pieces(self) -> Iterator[bytes]:
        """The bytes of the archive. Raises `zipform.Changed` when a file is not what it was."""
        return archive(self.parts, self.values["sealed_on"])


def make(order: Order, key: Ed25519PrivateKey | None = None, told: Told = silent) -> Made:
    """Judge the record and put the document together; `told` hears of the stages.

    Raises `Refused` and `BadRule` as a check does, `Refused` also for accepted
    findings and for what a person supplied, and `Unsealable`.
    """
    acceptances = read_accepted(order.accepted) if order.accepted is not None else None
    supplied, approval = _supplied(order.supplied) if order.supplied is not None else (None, None)
    told("judging the record")
    collected = collect(order.named)
    done = survey(order.record, order.as_of, amended=order.amended, collected=collected)
    accepted = None
    if acceptances is not None:
        found = done.results.findings
        accepted = held_against(acceptances, found, order.as_of, former_identities(done.installation, found))
    told("reading rules and tables")
    code, packages = _code(collected, order.named)
    photographs, not_held = _photographs(done, order, told)
    held = [
        _record(done, order.record),
        _findings(done, order, accepted),
        *_reports(done, order.reports, told),
        *_accepted(order.accepted, accepted),
        *([supplied] if supplied is not None else []),
        *photographs,
        *_amendments(done),
        *code.values(),
    ]
    _bounded(held)
    values = _values(done, order, held, code, packages, not_held)
    if order.older is not None:
        values["amends"] = {
            "manifest_sha256": order.older.sha256,
            "number": order.older.values["number"],
            "sealed_on": order.older.values["sealed_on"],
            "reason": order.older.reason,
            "changes": changes(order.older, held[0].part, held[1].part, values["entries"]),
        }
    values["signed_by"] = digits(key) if key is not None else ""
    for place in manifest.trouble(values):
        raise Unsealable(f"A name or text is longer or odder than a manifest takes, at {place}; change it.")
    content = manifest.written(values)
    parts = [part(manifest.MANIFEST, content)]
    if key is not None:
        parts.append(part(manifest.SIGNATURE, signed(key, content)))
    parts += [one.part for one in held]
    return Made(tuple(parts), values, hashlib.sha256(content).hexdigest(), done, approval)


def _values(
    done: Survey, order: Order, held: list[Held], code: dict[Path, Held], packages: list[tuple[str, str]],
    not_held: list[dict[str, Any]],
) -> dict[str, Any]:  # fmt: skip
    photographs = manifest.STRIPPED if order.strip_location else manifest.AS_TAKEN
    return {
        "asfound_seal": manifest.FORMAT,
        "statement": manifest.STATEMENT,
        "number": order.number,
        "sealed_on": order.sealed_on,
        "as_of": order.as_of,
        "asfound": {"version": __version__, "sha256": manifest.engine_sha256()},
        "signed_by": "",
        "record": {
            "path": held[0].part.path, "name": one_line(order.record.name), "site": done.record.name,
            "invented": done.record.invented, "sha256": held[0].part.measure.sha256,
        },
        "amends": None,
        "photographs": {"held": photographs, "note": manifest.NOTES[photographs], "not_held": not_held},
        "packages": [{"name": name, "module": module} for name, module in packages],
        "rules": [
            {"rule": rule.name, "revision": rule.revision, "path": code[rule.file.resolve()].part.path}
            for rule in done.rules
        ],
        "tables": [_table(done, name, code) for name in sorted(done.tables.by_name)],
        "entries": [
            {"path": one.part.path, "role": one.role, "size": one.part.measure.size,
             "sha256": one.part.measure.sha256, **one.more}
            for one in held
        ],
    }  # fmt: skip


def _table(done: Survey, name: str, code: dict[Path, Held]) -> dict[str, str]:
    edition = done.tables.edition(name)
    return {
        "table": name,
        "edition": edition.name if edition else "",
        "effective": edition.effective if edition else "",
        "path": code[done.tables.by_name[name].file.resolve()].part.path,
    }


def one_line(text: str) -> str:
    """A name of a file as one line of text that can be seen."""
    return shown(text, 200)[1:-1]


def _record(done: Survey, path: Path) -> Held:
    content = _bytes(path)
    if hashlib.sha256(content).hexdigest() != done.record.document.sha256:
        raise Unsealable(f"{path} changed while it was being sealed; nothing was written. Do it again.")
    return Held(part(f"record/{plain_name(path.name)}", content), "record", {"name": one_line(path.name)})


def _findings(done: Survey, order: Order, accepted: Accepted | None) -> Held:
    run = RunFacts(
        as_of=order.as_of,
        edition="",
        rules=tuple((rule.name, rule.revision) for rule in done.rules),
        named=tuple(f"named/{number}" for number in range(1, len(order.named) + 1)),
        amendments=done.tables.amendments.given,
        accepted=accepted,
    )
    data = as_data(done.record, run, done.results)
    data["record"]["file"] = one_line(order.record.name)
    if order.accepted is not None:
        data["accepted"]["file"] = one_line(order.accepted.name)
    return Held(part("findings.json", (json.dumps(data, indent=1, ensure_ascii=False) + "\n").encode()), "findings")


def _reports(done: Survey, paths: Iterable[Path], told: Told) -> Iterator[Held]:
    """Documents that a person names. Raises `Unsealable` for one that says it is of another record."""
    for number, path in enumerate(paths, 1):
        told(f"report {path.name}")
        try:
            if not stat.S_ISREG(path.stat().st_mode):
                raise Unsealable(f"{path} is no file; name the report itself.")
            held = part(f"reports/{number}-{plain_name(path.name)}", _opening(path))
            content = path.read_bytes() if held.measure.size <= MAX_DOCUMENT else b""
        except OSError as error:
            raise Unsealable(f"{path} cannot be read ({error.strerror}); check the path and its permissions.") from None
        of, on = records_of(content), dates_of(content)
        if of and done.record.document.sha256 not in of:
            raise Unsealable(
                f"{path} was made from another record or another state of this one; write the report again, then seal."
            )
        if on and done.tables.as_of not in on:
            raise Unsealable(
                f"{path} was judged as of {' and '.join(sorted(on))}, and the record is sealed as of "
                f"{done.tables.as_of}; write the report again, or seal with --as-of."
            )
        yield Held(held, "report", {"name": one_line(path.name)})


def _accepted(path: Path | None, accepted: Accepted | None) -> Iterator[Held]:
    if path is None or accepted is None:
        return
    content = _bytes(path)
    if hashlib.sha256(content).hexdigest() != accepted.file.sha256:
        raise Unsealable(f"{path} changed while it was being sealed; nothing was written. Do it again.")
    yield Held(part(f"accepted/{plain_name(path.name)}", content), "accepted", {"name": one_line(path.name)})


def _supplied(path: Path) -> tuple[Held, Approval | None]:
    """What a person supplied, with the approval in it. Raises `Refused` when it is not of its form."""
    content = _bytes(path)
    entry = part(f"supplied/{plain_name(path.name)}", content)
    return Held(entry, "supplied", {"name": one_line(path.name)}), approval_in(content, path.name)


def _opening(path: Path) -> Any:
    def opening() -> BinaryIO:
        return path.open("rb")

    return opening


def _bytes(path: Path) -> bytes:
    try:
        if not stat.S_ISREG(path.stat().st_mode):
            raise Unsealable(f"{path} is no file; name the file itself.")
        with path.open("rb") as file:
            content = file.read(MAX_BYTES + 1)
    except OSError as error:
        raise Unsealable(f"{path} cannot be read ({error.strerror}); check the path and its permissions.") from None
    if len(content) > MAX_BYTES:
        raise Unsealable(f"{path} is larger than {MAX_BYTES // 1_000_000} MB, more than is read of such a file.")
    return content


def _amendments(done: Survey) -> Iterator[Held]:
    for number, one in enumerate(done.tables.amendments.given, 1):
        content = _bytes(one.file)
        if hashlib.sha256(content).hexdigest() != one.sha256:
            raise Unsealable(f"{one.file} changed while it was being sealed; nothing was written. Do it again.")
        path = f"amendments/{number}-{plain_name(one.file.name)}"
        yield Held(part(path, content), "amendment", {"name": one_line(one.file.name)})


# -- photographs


def _photographs(done: Survey, order: Order, told: Told) -> tuple[list[Held], list[dict[str, Any]]]:
    """The photographs that are there, and those that are not, with the reason."""
    held: list[Held] = []
    not_held: list[dict[str, Any]] = []
    folder = order.record.parent
    items = {item.tag: item for item in done.installation.items["photo"]}
    for number, (name, item) in enumerate(items.items(), 1):
        told(f"photograph {number} of {len(items)}")
        why = _why_not(item)
        if why:
            not_held.append({"name": name, "why": why, "absent": item.data["present"].values == (False,)})
            continue
        try:
            held.append(_photograph(folder, name, item, number, order.strip_location))
        except NotRead as error:
            why = (
                f"no copy without location can be made of it: {error.reason}" if order.strip_location else error.reason
            )
            not_held.append({"name": name, "why": why, "absent": False})
    return held, not_held


def _why_not(item: Item) -> str:
    present, now = item.data["present"], item.data.get("fingerprint_now")
    if present.values != (True,):
        return str(present.note)
    return "" if now is None or now.values else str(now.note)


def _photograph(folder: Path, name: str, item: Item, number: int, strip: bool) -> Held:
    original = item.data["fingerprint_now"].value
    located = item.data.get("has_location")
    more = {"name": name, "has_location": located.value if located is not None and located.values else None}
    path = f"photographs/{number:03}-{plain_name(name.replace(chr(92), '/').rpartition('/')[2])}"
    if strip:
        copy = part(f"{path.rpartition('.')[0] or path}.jpg", delivered_from(folder, name, 0))
        return Held(copy, "photograph", {**more, "has_location": False, "original_sha256": original})

    def again() -> BinaryIO:
        try:
            return opened(folder, name)
        except NotRead as error:
            raise OSError(error.reason) from None

    taken = Part(path, part(path, lambda: opened(folder, name)).measure, again)
    if taken.measure.sha256 != original:
        raise Unsealable(
            f"Photograph {shown(name)} changed while it was being sealed; nothing was written. Do it again."
        )
    return Held(taken, "photograph", more)


# -- rules and tables


def _code(collected: Collected, named: tuple[Path, ...]) -> tuple[dict[Path, Held], list[tuple[str, str]]]:
    """Every file of the rules and tables used, by its place on disk, and the packages they belong to."""
    found: dict[Path, Held] = {}
    tables = table_files(collected)
    rules = {rule.file.resolve() for rule in collected.rules}
    packages = sorted(installed().items())
    for _, module in packages:
        for path, file in package_files(module).items():
            found[file.resolve()] = _code_file(path, file, tables)
    for number, place in enumerate(named, 1):
        for path, file in _named_files(number, place, rules).items():
            found.setdefault(file.resolve(), _code_file(path, file, tables))
    for number, file in enumerate(tables, 1):
        if file not in found:
            found[file] = _code_file(_beside(packages, number, file), file, tables)
    for rule in collected.rules:
        if rule.file.resolve() not in found:
            raise Unsealable(f"Rule {rule.name!r} is in {rule.file}, in no package of rules, and was not named.")
    return found, packages


def table_files(collected: Collected) -> dict[Path, None]:
    """The files that tables were read from, in their order."""
    return dict.fromkeys(table.file.resolve() for table in collected.tables)


def _beside(packages: list[tuple[str, str]], number: int, file: Path) -> str:
    """The name for a table outside every package: beside the module that it lies beside, so that this finds it."""
    for _, module in packages:
        if (
            Path(str(sys.modules[module].__file__)).resolve().parent == file.parent
            and plain_name(file.name) == file.name
        ):
            return f"rules/{file.name}"
    return f"tables/{number}-{plain_name(file.name)}"


def installed() -> dict[str, str]:
    """The packages of rules that are installed: module at the top of each, by the name of its entry point."""
    return {entry.name: entry.module.split(".")[0] for entry in importlib.metadata.entry_points(group=GROUP)}


def package_files(module: str) -> dict[str, Path]:
    """The rules and tables of an installed package, which is loaded: file by its name in an archive."""
    package = sys.modules[module]
    if package.__file__ is None:
        raise Unsealable(f"The rule package {module!r} lies in no folder and cannot be sealed.")
    file = Path(package.__file__)
    if not hasattr(package, "__path__"):
        return {f"rules/{module}.py": file}
    below = [
        one for one in manifest.files_below(file.parent, "*")
        if one.suffix in (".py", ".yaml") and not one.name.endswith(".cases.yaml")
    ]  # fmt: skip
    return {f"rules/{module}/{one.relative_to(file.parent).as_posix()}": one for one in below}


def _named_files(number: int, place: Path, rules: Container[Path]) -> dict[str, Path]:
    """The files of a file or folder of rules that was named; `rules` are the files that rules came from."""
    folder, sources = (place, sorted(place.glob("*.py"))) if place.is_dir() else (place.parent, [place])
    found: dict[str, Path] = {}
    if place.is_dir():  # other YAML that lies there, such as a record, is nothing of the rules
        sources += [file for file in sorted(place.glob("*.yaml")) if file.name == PACK or file.resolve() in rules]
    for below, files in (("", sources), ("tables/", sorted((folder / "tables").glob("*.yaml")))):
        for file in files:
            path = f"named/{number}/{below}{plain_name(file.name)}"
            found[path if path not in found else f"named/{number}/{below}{len(found)}-{plain_name(file.name)}"] = file
    return found


def _code_file(path: str, file: Path, tables: Container[Path]) -> Held:
    """A file of a package; what is no table and lies with the rules goes with them."""
    return Held(part(path, _bytes(file)), "table" if file.resolve() in tables else "rule")


def _bounded(held: list[Held]) -> None:
    total = sum(one.part.measure.size for one in held)
    if total > MAX_TOTAL:
        raise Unsealable(
            f"All together is {total // 1_000_000} MB, and a sealed document holds at most {MAX_TOTAL // 1_000_000} "
            "MB; split the record."
        )
    if len(held) > MAX_ENTRIES - 2:
        raise Unsealable(f"There are {len(held)} files, and a sealed document holds {MAX_ENTRIES} at most.")
