"""Which rules to prove: those of files and folders, or of an installed pack, with what could not be loaded."""

from __future__ import annotations

import importlib.metadata
import importlib.util
import re
from collections.abc import Iterable
from dataclasses import dataclass, field
from pathlib import Path

from asfound.judge.rules import BadRule, Rule
from asfound.judge.tables import TableSet
from asfound.kit.prove import Trouble
from asfound.plugins import FORMS, GROUP, Collected, collect, python_files, readable

LOADS = "it can be loaded"
CASES = ".cases.yaml"


@dataclass(slots=True)
class Picked:
    """Rules to prove, the tables they read as of a date, and what could not be loaded."""

    rules: list[Rule]
    tables: TableSet
    troubles: list[Trouble] = field(default_factory=list)


def installed_packs() -> dict[str, Path]:
    """The folder of every installed pack of rules, by the name to call it by; `built-in` for those of this package."""
    found = {}
    for entry in sorted(importlib.metadata.entry_points(group=GROUP), key=lambda entry: entry.name):
        try:
            spec = importlib.util.find_spec(entry.module)
        except (ImportError, ValueError):
            continue  # whoever loads it tells why
        if spec is not None and spec.origin:
            found["built-in" if entry.name == "builtin" else entry.name] = Path(spec.origin).parent
    return found


def pick(names: Iterable[str], as_of: str) -> Picked:
    """The rules of files, folders and installed packs, by the tables in force on `as_of`.

    A file that cannot be loaded becomes a trouble, and the others are still
    picked. Raises `BadRule` for a name that is neither, and for tables that
    cannot be put together.
    """
    packs = installed_packs()
    homes: list[Path] = []
    sources: list[Path] = []
    for name in names:
        path = Path(name)
        if name in packs and not path.exists():
            homes.append(packs[name].resolve())
        else:
            sources += sources_of(path, packs)
    collected, troubles = _loaded(sources)
    wanted = {source.resolve() for source in sources}
    rules = [
        rule
        for rule in collected.rules
        if rule.file.resolve() in wanted or any(home in rule.file.resolve().parents for home in homes)
    ]
    return Picked(rules, TableSet(collected.tables, as_of), troubles)


def sources_of(path: Path, packs: Iterable[str] = ()) -> list[Path]:
    """The files of rules at a path: a folder, one file, or the file of cases beside one. Raises `BadRule` for none."""
    if path.is_dir():
        readable(path)
        found = sorted((*python_files(path), *path.glob(f"*{FORMS}")))
        if not found:
            raise BadRule(f"{path} holds no rules: no .py or {FORMS} file in it; name the folder that holds them")
        return found
    if path.name.endswith(CASES):
        stem = path.name.removesuffix(CASES)
        beside = [path.with_name(f"{stem}{ending}") for ending in (".py", ".yaml")]
        found = [one for one in beside if one.is_file()]
        if not found:
            raise BadRule(
                f"{path} stands beside no file of rules called {stem}.py or {stem}.yaml; name the rules themselves"
            )
        return found
    if path.is_file() and path.name.endswith((".py", FORMS)):
        return [path]
    listed = f"; installed packs: {', '.join(packs)}" if packs else ""
    raise BadRule(f"{path} is neither a folder nor a .py or {FORMS} file of rules{listed}")


def _loaded(sources: list[Path]) -> tuple[Collected, list[Trouble]]:
    """Everything installed and these files; those that cannot be loaded are left out and told."""
    try:
        return collect(sources, wording=False), []
    except BadRule as error:
        whole = error
    good, troubles = [], []
    for source in sources:
        try:
            collect([source], wording=False)
            good.append(source)
        except BadRule as error:
            troubles += not_loaded(source, error)
    if not troubles:  # each by itself is good
        raise whole
    return collect(good, wording=False), troubles


def not_loaded(source: Path, error: BadRule) -> list[Trouble]:
    """A file that cannot be loaded, as troubles: the line where a message names one, cause and next step."""
    return [_not_loaded(source, text) for text in str(error).splitlines()]


def _not_loaded(source: Path, text: str) -> Trouble:
    line, said = _place(source, text)
    named = re.match(r"rule '([^']+)'(?:,|:| (?=needs ))\s*", said)
    if named:  # the rule is named before the cause
        said = said[named.end() :]
    cause, _, step = said.partition("; ")
    cause = f"it {cause}" if cause.startswith("needs ") else cause
    return Trouble(
        LOADS, True, named[1] if named else source.name, source, line, cause.rstrip("."),
        step.rstrip(".") or "put that right; nothing of this file was tested",
    )  # fmt: skip


def _place(source: Path, text: str) -> tuple[int, str]:
    """The line that a message opens with, 0 for none, and the message without that place; as it is without one."""
    rule, rest = "", text
    if named := re.match(r"(rule '[^']+') in ", text):
        rule, rest = named[1], text[named.end() :]
    for path in dict.fromkeys((str(source), str(source.resolve()), str(source.absolute()))):
        found = re.match(rf"{re.escape(path)}(?:,? line ([0-9]+))?[,:]?(?= ) *", rest)
        if found:
            return int(found[1] or 0), f"{rule} {rest[found.end() :]}".strip()
    return 0, text
