"""Judge a sealed record again, with the tables and rules it was sealed with, and compare the findings one by one.

Tables, amendments and photographs are data and are taken from the archive.
Rules are code: the installed ones are run when their files are the sealed ones,
byte for byte. Code out of the archive is run only where the caller says so, in
a process of its own; that keeps it apart from this one and does not make it
harmless.
"""

from __future__ import annotations

import os
import subprocess
import sys
import tempfile
from collections.abc import Callable, Container, Iterable
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from asfound import __version__
from asfound.judge.rules import BadRule
from asfound.load import MAX_BYTES, Refused, load_bytes
from asfound.photos import NotRead
from asfound.photos.files import parts_of
from asfound.plugins import Collected, collect
from asfound.seal.apart import findings_apart
from asfound.seal.findings import MAX_FINDINGS, read_findings
from asfound.seal.make import Unsealable, installed, package_files, table_files
from asfound.seal.manifest import Sealed, engine_sha256
from asfound.seal.rejudge import ACCEPTED, AMENDMENTS, NAMED, RECORD, RESULT, RULES, TABLES, judged
from asfound.seal.unpack import Damaged, NotSealed, Unpacked, shown
from asfound.seal.zipform import measured
from asfound.wording import plural, quoted_list

_SHOWN = 6
_ODD = (TypeError, ValueError, LookupError, AttributeError, ArithmeticError, RecursionError)
WHY_NOT_RUN = (
    "Rules are programs, and one out of an archive can do whatever you can; --run-sealed-rules runs them all the same, "
    "for a document whose maker you trust."
)


@dataclass(slots=True)
class Again:
    """What judging again gave.

    `apart` are differences, `undone` what could not be done, `notes` what to
    know besides, `compared` how many sealed findings were compared.
    """

    apart: list[str] = field(default_factory=list)
    undone: list[str] = field(default_factory=list)
    notes: list[str] = field(default_factory=list)
    compared: int | None = None


def again(archive: Unpacked, sealed: Sealed, run_rules: bool) -> Again:
    """Judge the record in an archive whose entries are intact, and compare. Raises nothing."""
    done = Again()
    asfound = sealed.values["asfound"]
    if asfound["sha256"] != engine_sha256():
        done.notes.append(
            f"It was sealed by asfound {shown(asfound['version'])[1:-1]} and is judged again by asfound {__version__}, "
            f"whose files are not the same; a difference can come from that."
        )
    try:
        with tempfile.TemporaryDirectory(prefix="asfound-") as made:
            folder = Path(made)
            kept = _laid_out(archive, sealed, folder, run_rules)
            now = _run(sealed, folder, run_rules, done)
            if now is None:
                return done
            was = read_findings(archive.content(sealed.of_role("findings")[0]["path"], MAX_FINDINGS))
    except Refused as refused:
        done.undone.append(f"The findings were not judged again: {shown(refused.sentences()[0], 200)[1:-1]}")
        return done
    except (BadRule, NotSealed, Damaged, OSError) as error:
        done.undone.append(f"The findings were not judged again: {shown(str(error), 300)[1:-1]}.")
        return done
    except _ODD as error:  # tables of a stranger can hold anything
        what = shown(f"{type(error).__name__}: {error}", 200)[1:-1]
        done.undone.append(f"The findings were not judged again: what it holds is not of the form of tables ({what}).")
        return done
    left = _left_out(sealed, now, kept, done)
    done.apart = findings_apart(was, now, left)
    done.compared = sum(not left(one) for one in was["findings"])
    return done


def _left_out(sealed: Sealed, now: dict[str, Any], kept: set[str], done: Again) -> Callable[[dict[str, Any]], bool]:
    """Which results are not compared: of rules that were not run, and of photographs that are not there as taken."""
    ran = {one["rule"] for one in now["run"]["rules"]}
    not_run = {one["rule"] for one in sealed.values["rules"]} - ran
    absent = {one["name"] for one in sealed.values["photographs"]["not_held"] if one.get("absent")}
    apart = {one["name"] for one in sealed.values["photographs"]["not_held"]} - absent
    apart |= {entry["name"] for entry in sealed.of_role("photograph")} - kept
    if apart:
        done.notes.append(
            f"What was found about {plural(len(apart), 'photograph')} is not compared, because the document does not "
            f"hold {'it' if len(apart) == 1 else 'them'} as taken."
        )
    items = {f"photo {name}" for name in apart}

    def left_out(one: dict[str, Any]) -> bool:
        at = one["at"]
        return one["rule"] in not_run or (at["item"] if isinstance(at, dict) else at) in items

    return left_out


def _laid_out(archive: Unpacked, sealed: Sealed, folder: Path, run_rules: bool) -> set[str]:
    """Write what is needed into a fresh folder; gives the names of the photographs that then lie beside the record."""
    home = folder / "record"
    home.mkdir()
    entry = sealed.of_role("record")[0]
    _new(folder / _record_of(sealed), archive.content(entry["path"], MAX_BYTES))
    kept: set[str] = set()
    for entry in sealed.of_role("photograph"):
        if "original_sha256" in entry or "name" not in entry:
            continue
        try:
            file = home.joinpath(*parts_of(entry["name"]))
            file.parent.mkdir(parents=True, exist_ok=True)
            with file.open("xb") as out:
                for piece in archive.pieces(entry["path"]):
                    out.write(piece)
        except (NotRead, FileExistsError, NotADirectoryError):
            continue
        kept.add(entry["name"])
    for role, place in (("table", TABLES), ("amendment", AMENDMENTS), ("accepted", ACCEPTED)):
        for number, entry in enumerate(sealed.of_role(role), 1):
            content = archive.content(entry["path"], MAX_BYTES)
            load_bytes(content, entry["path"])  # refuses what a table never holds, such as aliases that swell
            ending = "json" if entry.get("name", entry["path"]).lower().endswith(".json") else "yaml"
            _new(folder / place / f"{number:04}.{ending}", content)
    for entry in (*sealed.of_role("rule"), *sealed.of_role("table")) if run_rules else ():
        _new(folder / entry["path"], archive.content(entry["path"], MAX_BYTES))
    return kept


def _record_of(sealed: Sealed) -> str:
    """Where the record is laid; its ending says how it is read."""
    return f"{RECORD}.json" if sealed.values["record"]["name"].lower().endswith(".json") else f"{RECORD}.yaml"


def _new(path: Path, content: bytes) -> None:
    path.parent.mkdir(parents=True, exist_ok=True)
    with path.open("xb") as file:
        file.write(content)


def _run(sealed: Sealed, folder: Path, run_rules: bool, done: Again) -> dict[str, Any] | None:
    """The findings as they are judged now; None when nothing could be judged, which is then said."""
    as_of = sealed.values["as_of"]
    record = folder / _record_of(sealed)
    if run_rules:
        return _apart(folder, record, as_of, done)
    found = collect()
    tables = table_files(found)
    packages = [one["module"] for one in sealed.values["packages"]]
    same = []
    for module in packages:
        differs = _code_differs(sealed, module, tables)
        if differs:
            version = shown(sealed.values["asfound"]["version"])[1:-1]
            done.undone.append(
                f"The rules of {shown(module)[1:-1]} were not judged again: that needs asfound {version} with the "
                f"rules it was sealed with. {_listed(differs)} {WHY_NOT_RUN}"
            )
        else:
            same.append(module)
    named = sorted({one["rule"] for one in sealed.values["rules"] if one["path"].startswith(f"{NAMED}/")})
    if named:
        listed = quoted_list((shown(name)[1:-1] for name in named), _SHOWN)
        done.undone.append(
            f"{plural(len(named), 'rule')} that a person named for the seal: not judged again ({listed}). {WHY_NOT_RUN}"
        )
    if not same:
        return None
    files = {file.resolve() for module in same for file in package_files(module).values()}
    rules = tuple(rule for rule in found.rules if rule.file.resolve() in files)
    return judged(folder, record, as_of, Collected(rules, ()))


def _code_differs(sealed: Sealed, module: str, tables: Container[Path]) -> list[str]:
    """How the installed code of a package differs from the sealed one, file by file; empty when it is the same.

    Tables are not compared, for the sealed ones are used.
    """
    if module not in installed().values():
        return ["It is not installed here"]
    try:
        now = {path: file for path, file in package_files(module).items() if file.resolve() not in tables}
    except Unsealable as error:
        return [str(error).rstrip(".")]
    was = {
        entry["path"]: entry["sha256"] for entry in sealed.of_role("rule")
        if entry["path"] == f"{RULES}/{module}.py" or entry["path"].startswith(f"{RULES}/{module}/")
    }  # fmt: skip
    told = [f"{path} is not installed" for path in was if path not in now]
    told += [f"{path} is installed and was not sealed" for path in now if path not in was]
    told += [f"{path} is not the same" for path in was if path in now and _sha256(now[path]) != was[path]]
    return told


def _sha256(file: Path) -> str:
    return measured([file.read_bytes()]).sha256


def _listed(told: Iterable[str]) -> str:
    listed = list(told)
    more = f"; and {len(listed) - _SHOWN} more" if len(listed) > _SHOWN else ""
    return f"{'; '.join(listed[:_SHOWN])}{more}."


def _apart(folder: Path, record: Path, as_of: str, done: Again) -> dict[str, Any] | None:
    """Judge in another process with the code out of the archive."""
    paths = [str(folder / RULES), *(path for path in sys.path if path)]
    ended = subprocess.run(
        [sys.executable, "-P", "-m", "asfound.seal.rejudge", str(folder), str(record), as_of],
        env={**os.environ, "PYTHONPATH": os.pathsep.join(paths)},
        stdin=subprocess.DEVNULL,
        capture_output=True,
        check=False,
    )
    result = folder / RESULT
    if not result.is_file():
        last = ended.stderr.decode("utf-8", "replace").strip().rpartition("\n")[2]
        done.undone.append(f"The sealed rules gave no result: {shown(last, 300)[1:-1] or 'they ended without one'}.")
        return None
    done.notes.append("The rules in the archive were run.")
    return read_findings(result.read_bytes())
