"""A rule keeps its revision: its cases against the verdicts that are recorded in the folder of its pack."""

from __future__ import annotations

import functools
from collections.abc import Iterable, Iterator
from pathlib import Path

from asfound.judge.rules import BadRule, Rule
from asfound.judge.tables import TableSet
from asfound.kit.packs import FILE, LOCK, read_pack
from asfound.kit.prove_promises import KEPT, Trouble
from asfound.kit.verdicts import Unkept, Verdicts, gone_rule, held_against, newest, read_verdicts


def kept(rule: Rule, tables: TableSet) -> Iterator[Trouble]:
    """What became of the recorded verdicts of a rule; nothing where its folder holds none."""
    file = rule.file.parent / LOCK
    try:
        before = {name: held for name, held in _recorded(file).items() if name == rule.name}
        if before:
            day = newest(tables.by_name.values())
            for one in held_against([rule], tables, day, before, (), LOCK).broken:
                yield _trouble(one, file)
    except BadRule as error:
        cause, _, step = str(error).rpartition("; ")
        yield Trouble(KEPT, True, rule.name, file, 0, cause or str(error), step or "put it right")


def gone(folder: Path, names: Iterable[str]) -> Iterator[Trouble]:
    """Rules with recorded verdicts that are not among those of their folder, and not retired either."""
    file = folder / LOCK
    try:
        retired = {one.rule for one in read_pack(folder).retired} if (folder / FILE).is_file() else set()
        left = [name for name in _recorded(file) if name not in retired | set(names)]
    except BadRule:
        return  # told with the rules, or where the pack is loaded
    for name in left:
        yield _trouble(gone_rule(name, LOCK), file)


def _trouble(one: Unkept, file: Path) -> Trouble:
    case = f"revision {one.revision}, {one.case}" if one.case else ""
    cause = one.cause if one.case else f"it {one.cause}"
    return Trouble(KEPT, True, one.rule, file, one.line, cause, one.step, case)


def _recorded(file: Path) -> Verdicts:
    """The verdicts of a file, read once as long as it stays as it is."""
    if not file.is_file():
        return {}
    about = file.stat()
    return _read(file, about.st_mtime_ns, about.st_size)


@functools.lru_cache(maxsize=4)
def _read(file: Path, changed: int, size: int) -> Verdicts:
    return read_verdicts(file)
