"""Packs of rules: what a folder says of itself in pack.yaml, what it needs, and which of its rules it has retired.

A pack is a folder: `.py` and `.rules.yaml` files of rules with their cases
beside them, tables under `tables/`, and `pack.yaml`. Installed, the same files
stand in a package of their own, which `asfound rule pack` builds.
"""

from __future__ import annotations

import importlib
import importlib.metadata
import importlib.util
from collections.abc import Callable, Iterable
from dataclasses import dataclass, replace
from pathlib import Path
from types import ModuleType
from typing import TYPE_CHECKING, Any

from asfound import __version__
from asfound.judge.rules import BadRule
from asfound.load import Map, Problem, Refused, Seq, load_file
from asfound.names import Names
from asfound.plugins import FORMS, GROUP, python_files
from asfound.shape import problems
from asfound.wording import joined

if TYPE_CHECKING:
    from asfound.accepted import Accepted
    from asfound.judge.results import Finding

FILE = "pack.yaml"
INIT = "__init__.py"
LOCK = "verdicts.lock.yaml"

OWN_ENTRY = "builtin"
"""The entry point of the built-in rules."""
BUILT_IN = "built-in"
"""The name of the pack of built-in rules."""
DISTRIBUTION = "asfound-pack-"
"""Stands before the name of a pack as pip knows it, so that no pack can overwrite somebody else's package."""
NOTHING = "none"


@dataclass(frozen=True, slots=True)
class Retired:
    """A rule that is no more. `instead` names what replaced it; empty when nothing did."""

    rule: str
    pack: str
    since: str
    instead: tuple[str, ...]
    why: str
    line: int

    @property
    def words(self) -> str:
        """What became of it, in one sentence without a full stop."""
        after = f"{joined(self.instead)} replaced it" if self.instead else "nothing replaced it"
        return f"{self.rule!r} was retired in version {self.since} of pack {self.pack!r}: {self.why}; {after}"


@dataclass(frozen=True, slots=True)
class Pack:
    """What a pack says of itself. `needs_packs` gives versions by name; ranges are as written, such as `>=1, <2`."""

    name: str
    version: str
    maintainer: str
    says: str
    licence: str
    invented: bool
    needs_asfound: str
    needs_packs: dict[str, str]
    needs_rules: tuple[str, ...]
    needs_tables: tuple[str, ...]
    retired: tuple[Retired, ...]
    folder: Path

    @property
    def file(self) -> Path:
        return self.folder / FILE


def read_pack(folder: Path) -> Pack:
    """The pack in a folder. Raises `BadRule` with every problem of its pack.yaml: place, cause, next step."""
    file = folder / FILE
    if not file.is_file():
        raise BadRule(
            f"{folder} is no pack: there is no {FILE} in it; write one with pack, version, maintainer and says"
        )
    try:
        root = load_file(file).root
    except Refused as refused:
        raise BadRule(_sentences(refused.name, map(_of_a_pack, refused.problems))) from None
    _as_text(root)
    found = problems(root, "pack")
    if found:
        raise BadRule(_sentences(str(file), found))
    needs = root.get("needs", {})
    return Pack(
        name=root["pack"],
        version=root["version"],
        maintainer=root["maintainer"],
        says=root["says"],
        licence=root.get("licence", ""),
        invented=bool(root.get("invented", False)),
        needs_asfound=needs.get("asfound", ""),
        needs_packs=dict(needs.get("packs", {})),
        needs_rules=tuple(needs.get("rules", ())),
        needs_tables=tuple(needs.get("tables", ())),
        retired=tuple(_retired(root, name, held) for name, held in root.get("retired", {}).items()),
        folder=folder,
    )


def _retired(root: Map, name: str, held: Any) -> Retired:
    instead = held["instead"]
    listed = tuple(instead) if isinstance(instead, Seq) else (instead,)
    names = tuple(one for one in listed if one != NOTHING)
    return Retired(name, root["pack"], held["since"], names, held["why"], root["retired"].key_places[name].line)


def _as_text(root: Map) -> None:
    """Versions are text: 1.10 is not 1.1."""
    holders = [root]
    retired = root.get("retired")
    if isinstance(retired, Map):
        holders += [held for held in retired.values() if isinstance(held, Map)]
    for holder in holders:
        for name in ("version", "since"):
            if isinstance(holder.get(name), int | float) and name in holder.written:
                holder[name] = holder.written[name]


def _of_a_pack(problem: Problem) -> Problem:
    """What the loader says of a record, said of this kind of file."""
    if "asfound new" not in problem.step:
        return problem
    step = "write pack:, version:, maintainer: and says:, each on a line"
    return Problem(problem.place, problem.where, problem.cause.replace("a record", "a pack file"), step)


def _sentences(name: str, found: Iterable[Problem]) -> str:
    return "\n".join(problem.sentence(name) for problem in found).rstrip(".")


# -- versions


def fits(version: str, wanted: str) -> bool:
    """Whether a version is one of those wanted, such as `>=1.2, <2`; every version is when nothing is wanted."""
    held = _numbers(version)
    for part in filter(None, map(str.strip, wanted.split(","))):
        sign = part[:2] if part[1] == "=" else part[0]
        other = _numbers(part[len(sign) :])
        longest = max(len(held), len(other))
        one, two = (numbers + (0,) * (longest - len(numbers)) for numbers in (held, other))
        if not _SIGNS[sign](one, two):
            return False
    return True


_SIGNS: dict[str, Callable[[tuple[int, ...], tuple[int, ...]], bool]] = {
    ">=": lambda one, two: one >= two,
    "<=": lambda one, two: one <= two,
    "==": lambda one, two: one == two,
    ">": lambda one, two: one > two,
    "<": lambda one, two: one < two,
}


def _numbers(version: str) -> tuple[int, ...]:
    """`1.10` as (1, 10); what is not a number ends it."""
    numbers: list[int] = []
    for part in version.strip().split("."):
        if not part.isdigit():
            break
        numbers.append(int(part))
    return tuple(numbers)


# -- the packs of a run


def in_use(named: Iterable[Path] = ()) -> tuple[Pack, ...]:
    """The packs of installed rule packages and of the folders named; a package or folder without pack.yaml is none.

    A folder that is named stands for the installed pack of its name. Raises
    `BadRule` for a pack.yaml that is not of its form.
    """
    folders = [read_pack(home) for home in _named(named)]
    replaced = {pack.name for pack in folders} - {BUILT_IN}
    installed = (read_pack(home) for home in dict.fromkeys(_installed().values()))
    return (*(pack for pack in installed if pack.name not in replaced), *folders)


def replaced_entries(named: Iterable[Path]) -> frozenset[str]:
    """The entry points of installed packs that folders among those named stand for. Raises `BadRule`.

    Whoever works on a pack that is installed too judges by the folder alone.
    """
    names = {read_pack(home).name for home in _named(named)} - {BUILT_IN}
    if not names:
        return frozenset()
    homes = _installed()
    return frozenset(entry for entry, home in homes.items() if entry != OWN_ENTRY and read_pack(home).name in names)


def _installed() -> dict[str, Path]:
    """The folders of installed packs by the name of their entry point."""
    found: dict[str, Path] = {}
    for entry in sorted(importlib.metadata.entry_points(group=GROUP), key=lambda entry: entry.name):
        try:
            spec = importlib.util.find_spec(entry.module)
        except (ImportError, ValueError):
            continue  # told of where it is loaded
        if spec is not None and spec.origin and (home := Path(spec.origin).parent).joinpath(FILE).is_file():
            found[entry.name] = home
    return found


def _named(paths: Iterable[Path]) -> Iterable[Path]:
    """The folders of the packs that are named, by themselves or by one of their files."""
    folders = (path if path.is_dir() else path.parent for path in map(Path, paths))
    once = {folder.resolve(): folder for folder in folders if (folder / FILE).is_file()}
    return once.values()


def check_needs(packs: Iterable[Pack], rules: Iterable[str], tables: Iterable[str]) -> None:
    """Hold what packs need against what there is, by names. Raises `BadRule` for the first thing that lacks."""
    packs = list(packs)
    check_once(packs)
    known_rules, known_tables = set(rules), set(tables)
    versions = {pack.name: pack.version for pack in packs}
    for pack in packs:
        where = f"pack {pack.name!r} ({pack.file})"
        if not fits(__version__, pack.needs_asfound):
            raise BadRule(
                f"{where} needs asfound {pack.needs_asfound}, and this is {__version__}; take a version that fits"
            )
        for name, wanted in pack.needs_packs.items():
            if name not in versions:
                raise BadRule(
                    f"{where} needs pack {name!r} {wanted}, and it is not here; install it or name its folder too"
                )
            if not fits(versions[name], wanted):
                raise BadRule(
                    f"{where} needs pack {name!r} {wanted}, and version {versions[name]} is here; take one that fits"
                )
        for sort, needed, known in (
            ("rule", pack.needs_rules, known_rules),
            ("table", pack.needs_tables, known_tables),
        ):
            for name in needed:
                if name not in known:
                    raise BadRule(
                        f"{where} needs the {sort} {name!r}, and there is none; {Names(sorted(known)).hint(name)}"
                    )
        for one in pack.retired:
            if one.rule in known_rules:
                raise BadRule(
                    f"{where} line {one.line} says that the rule {one.rule!r} is retired, and it is there; "
                    "take the entry out, or rename the rule"
                )


def check_once(packs: Iterable[Pack]) -> None:
    """Refuse two packs of one name. Raises `BadRule`."""
    seen: dict[str, Pack] = {}
    for pack in packs:
        held = seen.setdefault(pack.name, pack)
        if held is not pack:
            raise BadRule(
                f"pack {pack.name!r} is here twice: version {held.version} in {held.folder} and version "
                f"{pack.version} in {pack.folder}; take one away (an installed one with "
                f"pip uninstall {DISTRIBUTION}{pack.name})"
            )


def check_packs(named: Iterable[Path], rules: Iterable[str], tables: Iterable[str]) -> tuple[Pack, ...]:
    """The packs of a run, held against its rules and tables by name: the whole hook of the loader. Raises `BadRule`."""
    named = list(named)
    if not _named(named) and set(_installed()) <= {OWN_ENTRY}:
        return ()  # the built-in rules alone need nothing
    packs = in_use(named)
    check_needs(packs, rules, tables)
    return packs


def retired_rules(packs: Iterable[Pack]) -> dict[str, Retired]:
    """Retired rules by name; a later pack does not overwrite what an earlier one says."""
    found: dict[str, Retired] = {}
    for pack in packs:
        for one in pack.retired:
            found.setdefault(one.rule, one)
    return found


def with_hints(accepted: Accepted, findings: Iterable[Finding], packs: Iterable[Pack]) -> Accepted:
    """Acceptances as held against a run; one of a finding of a retired rule names the finding that replaced it.

    It is not in force: the rule is another one, so somebody has to look again.
    """
    from asfound.judge.results import identity_of

    retired = retired_rules(packs)
    by_former: dict[str, list[tuple[Retired, Finding]]] = {}
    for finding in findings:
        for one in retired.values():
            if finding.rule.name in one.instead:
                former = identity_of(one.rule, finding.at, [], finding.cause)
                by_former.setdefault(former, []).append((one, finding))
    for index, stale in enumerate(accepted.stale):
        found = by_former.get(stale.entry.finding, [])
        if found and stale.kind == NO_SUCH:
            cause = f"the rule {found[0][0].words}"
            names = joined(f"{finding.identity} of rule {finding.rule.name}" for _, finding in found)
            step = f"look again, and write the identity of what is there now: {names}"
            accepted.stale[index] = replace(stale, cause=cause, step=step)
    return accepted


NO_SUCH = "no such finding"
"""The kind of a stale acceptance whose finding is not there."""


# -- what an installed pack answers


def hooks(package: str, file: str) -> tuple[Any, Any, Any]:
    """The three hooks of an installed pack: its modules, its rules in YAML and its tables.

    `package` and `file` are the name and the `__init__.py` of the package around it.
    """
    from asfound.authoring import hookimpl

    folder = Path(file).parent

    @hookimpl
    def asfound_rules() -> list[ModuleType]:
        return [importlib.import_module(f"{package}.{path.stem}") for path in python_files(folder)]

    @hookimpl
    def asfound_rule_files() -> list[Path]:
        return sorted(folder.glob(f"*{FORMS}"))

    @hookimpl
    def asfound_tables() -> list[Path]:
        return sorted((folder / "tables").glob("*.yaml"))

    return asfound_rules, asfound_rule_files, asfound_tables
