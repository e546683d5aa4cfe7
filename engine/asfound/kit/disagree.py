"""Two packs side by side: what they judge differently, by their own cases and, when there is one, on a record.

Compared are tables of one name, rules of one name, and rules about the same
thing: rules of one name, or of one kind of item that read a same fact of it.
Such rules are tried on each other's cases and on every item of the record. They
disagree where one finds a defect and the other is clear, or where both find
one of another grade or certainty. Cannot tell and does not apply contradict nobody.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from pathlib import Path

from asfound.judge.cases import Case, read_cases, try_case
from asfound.judge.results import risk_of, word_of
from asfound.judge.rules import BadRule, Rule
from asfound.judge.tables import Edition, Table, TableSet
from asfound.kit.making import load_pack, newest
from asfound.kit.packs import FILE, Pack, in_use
from asfound.kit.verdicts import case_of
from asfound.names import Names
from asfound.plugins import Collected, collect
from asfound.record.facts import Item

_GENERAL = ("kind", "tag")
"""Facts that do not make two rules be about the same thing."""
_PARTS = ("of", "severity", "likelihood", "source", "basis", "revision")


@dataclass(frozen=True, slots=True)
class Side:
    """One of the two packs: its own rules and tables, and all tables its rules are run with."""

    pack: Pack
    rules: tuple[Rule, ...]
    tables: tuple[Table, ...]
    all_tables: tuple[Table, ...]

    @property
    def words(self) -> str:
        return f"{self.pack.name} {self.pack.version}"


@dataclass(frozen=True, slots=True)
class Verdict:
    """What a rule makes of an item: the outcome, and grade, certainty and sentence of each finding."""

    outcome: str
    findings: tuple[tuple[str, str, str], ...]

    @property
    def graded(self) -> tuple[tuple[str, str], ...]:
        return tuple(sorted((grade, sure) for grade, sure, _ in self.findings))


@dataclass(frozen=True, slots=True)
class Apart:
    """One thing the two packs do not have in common: its sort, what it is about, and what each side has to say."""

    sort: str
    about: str
    one: tuple[str, ...]
    two: tuple[str, ...]


TABLE, NAME, CASE, ITEM = "table", "rule of one name", "case", "item"


@dataclass(frozen=True, slots=True)
class Compared:
    """The result: what stands apart, the pairs of rules about the same thing, and rules without a counterpart."""

    one: Side
    two: Side
    apart: tuple[Apart, ...]
    pairs: int
    alone: tuple[tuple[str, ...], tuple[str, ...]]
    items: int


def side(named: str) -> Side:
    """The pack in a folder, or an installed pack by its name. Raises `BadRule`."""
    folder = Path(named)
    installed = in_use()
    if folder.is_dir() and (folder.joinpath(FILE).is_file() or all(one.name != named for one in installed)):
        loaded = load_pack(folder)
        return Side(loaded.pack, loaded.rules, loaded.tables, loaded.all_tables)
    for pack in installed:
        if pack.name == named:
            return _installed(pack, collect())
    raise BadRule(
        f"{named!r} is neither a folder nor an installed pack; {Names(p.name for p in installed).hint(named, 'packs')}"
    )


def _installed(pack: Pack, collected: Collected) -> Side:
    home = pack.folder.resolve()
    rules = tuple(rule for rule in collected.rules if home in rule.file.resolve().parents)
    tables = tuple(table for table in collected.tables if home in table.file.resolve().parents)
    return Side(pack, rules, tables, collected.tables)


def compare(one: Side, two: Side, as_of: str = "", items: dict[str, list[Item]] | None = None) -> Compared:
    """Hold two packs against each other, by the tables of a date (the newest editions when none is given).

    `items` by kind are those of a traced record.
    """
    day = as_of or newest((*one.all_tables, *two.all_tables))
    sets = TableSet(one.all_tables, day), TableSet(two.all_tables, day)
    found = [*_tables(one, two), *_names(one, two)]
    reads = {
        id(rule): _reads(rule, tables) for held, tables in zip((one, two), sets, strict=True) for rule in held.rules
    }
    pairs = [(a, b) for a in one.rules for b in two.rules if a is not b and _about_the_same(a, b, reads)]
    for a, b in pairs:
        found += _cases(a, b, sets)
        for item in (items or {}).get(a.of, ()):
            site = (items or {}).get("site", [_no_site()])[0]
            found += _at(ITEM, item.words, (a, item, site, sets[0]), (b, item, site, sets[1]))
    paired = {id(rule) for pair in pairs for rule in pair}
    alone = tuple(tuple(rule.name for rule in held.rules if id(rule) not in paired) for held in (one, two))
    looked = sum(len(held) for held in (items or {}).values())
    return Compared(one, two, tuple(found), len(pairs), (alone[0], alone[1]), looked)


def _no_site() -> Item:
    return Item("site", "site", "the site")


# -- tables


def _tables(one: Side, two: Side) -> Iterator[Apart]:
    """Rows that differ in tables of one name, edition by edition."""
    others = {table.name: table for table in two.tables}
    for table in one.tables:
        other = others.get(table.name)
        if other is None or other.file == table.file:
            continue
        if (table.unit, table.key) != (other.unit, other.key):
            forms = ((f"unit {held.unit}, key {', '.join(held.key)}",) for held in (table, other))
            yield Apart(TABLE, table.name, *forms)
            continue
        mine, theirs = ({edition.effective: edition for edition in held.editions} for held in (table, other))
        for date in sorted({*mine, *theirs}):
            yield from _editions(table, date, mine.get(date), theirs.get(date))


def _editions(table: Table, date: str, one: Edition | None, two: Edition | None) -> Iterator[Apart]:
    about = f"{table.name}, edition in force from {date}"
    if one is None or two is None:
        yield Apart(
            TABLE, about, *((f"{held.name} ({held.source})" if held else "no such edition",) for held in (one, two))
        )
        return
    keys = [key for key in dict.fromkeys([*one.rows, *two.rows]) if one.rows.get(key) != two.rows.get(key)]
    if keys:
        sides = (one, two)
        yield Apart(
            TABLE, about, *((f"{h.name} ({h.source})", *(_row(h, key, table.unit) for key in keys)) for h in sides)
        )


def _row(edition: Edition, key: str, unit: str) -> str:
    return f"{key}: {word_of(edition.rows[key])} {unit}" if key in edition.rows else f"{key}: no such row"


# -- rules


def _names(one: Side, two: Side) -> Iterator[Apart]:
    """Rules of one name in both, which cannot be loaded together; with the parts in which they differ."""
    others = {rule.name: rule for rule in two.rules}
    for rule in one.rules:
        other = others.get(rule.name)
        if other is None or other is rule:
            continue
        parts = [part for part in _PARTS if getattr(rule, part) != getattr(other, part)]
        told = (tuple(f"{part}: {getattr(held, part)}" for part in parts) or ("the same in all it says of itself",)
                for held in (rule, other))  # fmt: skip
        yield Apart(NAME, rule.name, *told)


def _reads(rule: Rule, tables: TableSet) -> frozenset[str]:
    """The facts of its own item that a rule reads in its cases; none when it has no usable cases."""
    found: set[str] = set()
    for case in _cases_of(rule):
        for world in try_case(rule, case, tables).explored.worlds:
            found.update(name for item, name, _ in world.reads if item is case.item and name not in _GENERAL)
    return frozenset(found)


def _cases_of(rule: Rule) -> list[Case]:
    try:
        return read_cases(rule)
    except BadRule:
        return []


def _about_the_same(one: Rule, two: Rule, reads: dict[int, frozenset[str]]) -> bool:
    return one.of == two.of and (one.name == two.name or bool(reads[id(one)] & reads[id(two)]))


def _cases(one: Rule, two: Rule, sets: tuple[TableSet, TableSet]) -> Iterator[Apart]:
    """Where two rules disagree on the cases of either."""
    seen: set[str] = set()
    for case in (*_cases_of(one), *_cases_of(two)):
        if case.why in seen:
            continue
        seen.add(case.why)
        at = tuple(TableSet(held.by_name.values(), case.as_of) if case.as_of else held for held in sets)
        yield from _at(CASE, case.why, (one, case.item, case.site, at[0]), (two, case.item, case.site, at[1]))


Run = tuple[Rule, Item, Item, TableSet]


def _at(sort: str, about: str, one: Run, two: Run) -> Iterator[Apart]:
    """One entry when the verdicts of two rules on one item contradict each other."""
    mine, theirs = verdict(*one), verdict(*two)
    if contradict(mine, theirs):
        yield Apart(sort, about, tuple(_told(one[0], mine)), tuple(_told(two[0], theirs)))


def verdict(rule: Rule, item: Item, site: Item, tables: TableSet) -> Verdict:
    """What a rule makes of an item. One that raises has failed, and contradicts nobody."""
    try:
        tried = try_case(rule, case_of(rule, item, site), tables)
    except (Exception, SystemExit) as error:
        return Verdict(f"rule failed: {type(error).__name__}: {error}", ())
    return Verdict(tried.outcome, tuple((f.grade, f.certainty, f.statement) for f in tried.results.findings))


def contradict(one: Verdict, two: Verdict) -> bool:
    """Whether two verdicts cannot stand beside each other: defect and clear, or another grade or certainty."""
    if one.findings and two.findings:
        return one.graded != two.graded
    return {bool(one.findings), bool(two.findings)} == {True, False} and "clear" in (one.outcome, two.outcome)


def _told(rule: Rule, said: Verdict) -> Iterable[str]:
    yield f"{rule.name}, revision {rule.revision}, risk {risk_of(rule)}"
    if not said.findings:
        yield said.outcome
    for grade, sure, statement in said.findings:
        yield f"{grade}, {sure}"
        yield statement


__all__ = ["CASE", "ITEM", "NAME", "TABLE", "Apart", "Compared", "Side", "compare", "contradict", "side", "verdict"]
