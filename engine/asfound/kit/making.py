"""Check a pack as a whole before it is handed to others, and make its wheel."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path

from asfound.judge.cases import read_cases, reads_of
from asfound.judge.rules import BadRule, Rule
from asfound.judge.tables import Table, TableSet
from asfound.kit.packs import BUILT_IN, LOCK, Pack, check_needs, check_once, in_use, read_pack
from asfound.kit.prove import KEPT, prove
from asfound.kit.verdicts import Held, held_against, newest, read_verdicts, verdicts_text
from asfound.kit.wheel import pack_files
from asfound.names import Names
from asfound.plugins import FORMS, Collected, collect, python_files


@dataclass(frozen=True, slots=True)
class Loaded:
    """A pack with its own rules and tables, and the rules, tables and packs it was loaded beside."""

    pack: Pack
    rules: tuple[Rule, ...]
    tables: tuple[Table, ...]
    beside: Collected
    packs: tuple[Pack, ...]

    @property
    def all_tables(self) -> tuple[Table, ...]:
        return (*self.beside.tables, *self.tables)

    @property
    def newest(self) -> str:
        """The date of the newest edition of any table: the date of cases that give none."""
        return newest(self.all_tables)


@dataclass(frozen=True, slots=True)
class Checked:
    """A checked pack: what fails in plain sentences, files left out of the wheel, its cases and its verdicts to be."""

    loaded: Loaded
    failures: tuple[str, ...]
    left_out: tuple[Path, ...]
    cases: int
    added: int
    lock: str


def load_pack(folder: Path) -> Loaded:
    """A pack by itself, beside what is installed. Raises `BadRule` when a part of it cannot be used."""
    pack = read_pack(folder)
    packs = tuple(one for one in in_use([folder]) if one.folder != folder)
    check_once([*packs, pack])
    try:
        collected = collect([folder], wording=False)
    except BadRule as error:
        raise BadRule(_all_wrong(folder, error)) from None
    home = folder.resolve()
    rules = tuple(rule for rule in collected.rules if rule.file.resolve().parent == home)
    tables = tuple(table for table in collected.tables if table.file.resolve().parent == home / "tables")
    beside = Collected(
        tuple(rule for rule in collected.rules if rule not in rules),
        tuple(table for table in collected.tables if table not in tables),
    )
    return Loaded(pack, rules, tables, beside, packs)


def _all_wrong(folder: Path, error: BadRule) -> str:
    """What keeps each file of a pack from being loaded; the error itself where each by itself can be."""
    found = []
    for source in (*python_files(folder), *sorted(folder.glob(f"*{FORMS}"))):
        try:
            collect([source], wording=False)
        except BadRule as one:
            found.append(str(one))
    return ".\n".join(dict.fromkeys(found)) or str(error)


def check_pack(folder: Path) -> Checked:
    """Everything there is to check of a pack. Raises `BadRule` when it cannot even be loaded."""
    loaded = load_pack(folder)
    pack = loaded.pack
    known = [rule.name for rule in (*loaded.beside.rules, *loaded.rules)]
    tables = TableSet(loaded.all_tables, loaded.newest)
    check_needs([*loaded.packs, pack], known, tables.by_name)
    failures = [*_replaced_by_nothing(pack, known)]
    proven = []
    for rule in loaded.rules:
        found = _proof(rule, tables)
        failures += found
        if not found:
            proven.append(rule)
            failures += _not_needed(loaded, rule, tables)
    held = _verdicts(loaded, proven, tables)
    failures += held.failures
    _, left = pack_files(folder)
    cases = sum(len(read_cases(rule)) for rule in proven)
    lock = verdicts_text(held.verdicts)
    return Checked(loaded, tuple(dict.fromkeys(failures)), tuple(left), cases, held.added, lock)


def _replaced_by_nothing(pack: Pack, known: Iterable[str]) -> Iterable[str]:
    names = Names(known)
    for one in pack.retired:
        for name in one.instead:
            if name not in names:
                yield (
                    f"{pack.file} line {one.line}: {one.rule!r} is said to be replaced by {name!r}, and there is none; "
                    f"{names.hint(name, 'rules')}"
                )


def _not_needed(loaded: Loaded, rule: Rule, tables: TableSet) -> Iterable[str]:
    """Tables of other packs that a rule reads and the pack does not name under needs."""
    others = [one for one in loaded.packs if one.name not in (*loaded.pack.needs_packs, BUILT_IN)]
    for name in reads_of(rule, tables)[1]:
        for other in others:
            if other.folder.resolve() in tables.by_name[name].file.resolve().parents:
                yield (
                    f"rule {rule.name!r} reads the table {name!r} of pack {other.name!r}; name that pack in "
                    f"{loaded.pack.file} under needs: packs"
                )


def _verdicts(loaded: Loaded, rules: Iterable[Rule], tables: TableSet) -> Held:
    file = loaded.pack.folder / LOCK
    before = read_verdicts(file)
    gone = [one.rule for one in loaded.pack.retired]
    unproven = {rule.name for rule in loaded.rules} - {rule.name for rule in rules}
    apart = {name: held for name, held in before.items() if name in unproven}
    rest = {name: held for name, held in before.items() if name not in unproven}
    held = held_against(rules, tables, loaded.newest, rest, gone, LOCK)
    return Held(held.broken, held.added, dict(sorted({**held.verdicts, **apart}.items())))


def _proof(rule: Rule, tables: TableSet) -> list[str]:
    """What a rule does not keep of what every rule promises, in plain sentences; its revision is held by itself."""
    found = []
    for one in prove(rule, tables).failures:
        if one.promise == KEPT:
            continue
        line = f" line {one.line}" if one.line else ""
        case = f", case {one.case!r}" if one.case else ""
        found.append(f"{one.file}{line}, rule {rule.name!r}{case}: {one.cause}; {one.step}")
    return found
