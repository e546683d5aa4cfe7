"""The cases of a rule: three lists written like a record, and what the rule makes of each.

A case gives just the facts the rule reads, in every form a record may use;
facts it leaves out are not recorded. Names are checked against the catalogue.
"""

from __future__ import annotations

import functools
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import jsonschema_rs

from asfound.data import data
from asfound.judge.results import Results, judged
from asfound.judge.rules import BadRule, Rule
from asfound.judge.tables import TableSet
from asfound.judge.views import facts_of
from asfound.judge.worlds import Explored, explore
from asfound.load import Map, Place, Problem, Refused, Seq, load_file
from asfound.names import Names
from asfound.record.build import Record
from asfound.record.facts import Fact, Item, exact, unseen
from asfound.record.forms import is_free_text, read_fact, text_of
from asfound.shape.doubt import DOUBT, is_choice, is_doubt, split_choice
from asfound.wording import joined
from asfound_schemas import schema

LISTS = ("finds", "clear", "cannot tell")
_ABOUT = ("why", "says", "missing", "certainty", "as_of", "site", "ignores")


@dataclass(frozen=True, slots=True)
class Case:
    """One case: the list it stands in, its story, the item, and what is expected.

    `ignores` names facts given to show that the rule does not ask for them, by
    their way from the item: `conductor.breakers.state`.
    """

    rule: str
    list: str
    why: str
    item: Item
    site: Item
    says: tuple[str, ...]
    certainty: str
    missing: str
    as_of: str
    line: int
    ignores: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Tried:
    """What a rule made of a case."""

    outcome: str
    results: Results
    explored: Explored


def cases_file(rule: Rule) -> Path:
    """The file of cases beside the rule's module."""
    return rule.file.with_suffix(".cases.yaml")


def read_cases(rule: Rule) -> list[Case]:
    """The cases of a rule, in file order. Raises `BadRule` when they are missing or not well formed."""
    file = cases_file(rule)
    try:
        root = load_file(file).root
    except Refused as refused:
        said = "\n".join(of_cases(one).sentence(refused.name) for one in refused.problems)
        raise BadRule(f"the cases of rule {rule.name!r}: {said}") from None
    held = root.get(rule.name)
    if not isinstance(held, Map):
        raise BadRule(f"{file} holds no cases for rule {rule.name!r}; add them under its name")
    unknown = [name for name in held if name not in LISTS]
    if unknown:
        line = held.key_places[unknown[0]].line
        raise BadRule(f"{file} line {line}: no list is called {unknown[0]!r}; {Names(LISTS).hint(unknown[0], 'lists')}")
    return [_case(rule, name, entry, file) for name in LISTS for entry in _entries(held, name, file)]


def of_cases(problem: Problem) -> Problem:
    """What the loader says of a record, said of a file of cases."""
    if "asfound new" not in problem.step:
        return problem
    step = f"write the name of a rule, and under it the lists {joined(LISTS)}; asfound rule new begins both"
    return Problem(problem.place, problem.where, problem.cause.replace("a record", "a file of cases"), step)


def _entries(held: Map, name: str, file: Path) -> list[Map]:
    """The cases in one list of a rule. Raises `BadRule` for what is no list of cases."""
    listed = held.get(name)
    if listed is None:
        return []
    if not isinstance(listed, Seq):
        raise BadRule(f"{file} line {held.places[name].line}: {name!r} holds no list; write each case behind a dash")
    for entry, place in zip(listed, listed.places, strict=True):
        if not isinstance(entry, Map):
            raise BadRule(f"{file} line {place.line}: this is no case; write - why: and the facts of the item under it")
    return list(listed)


def _case(rule: Rule, name: str, entry: Map, file: Path) -> Case:
    where = f"{file} line {entry.place.line}"
    for key in entry:
        if key not in (*_ABOUT, rule.of):
            raise BadRule(f"{where}: a case has no {key!r}; {Names((*_ABOUT, rule.of)).hint(key, 'parts')}")
    if not entry.get("why") or not isinstance(entry.get(rule.of), Map):
        raise BadRule(f"{where}: a case needs why and {rule.of}")
    said, ignored = entry.get("says", ()), entry.get("ignores", ())
    return Case(
        rule=rule.name,
        list=name,
        why=str(entry["why"]),
        item=made_item(rule.of, entry[rule.of], where),
        site=made_item("site", entry["site"], where) if "site" in entry else Item("site", "site", "the site"),
        says=(said,) if isinstance(said, str) else tuple(said),
        certainty=str(entry.get("certainty", "")),
        missing=str(entry.get("missing", "")),
        as_of=str(entry.get("as_of", "")),
        line=entry.place.line,
        ignores=(ignored,) if isinstance(ignored, str) else tuple(map(str, ignored)),
    )


def made_item(kind: str, held: Map, where: str, counter: list[int] | None = None, *, as_recorded: bool = True) -> Item:
    """An item from a mapping of facts. `tag` names it; facts take any form a record may use.

    `as_recorded` holds every fact to that form; what was kept by an older version may have another.
    """
    names = facts_of(kind)
    counter = counter if counter is not None else [0]
    counter[0] += 1
    tag = str(held.get("tag", f"{kind} {counter[0]}"))
    item = Item(kind, tag, str(held.get("words", tag)), held.place)
    for name in held:
        if name in ("tag", "words"):
            continue
        if name not in names:
            hint = Names([*names, "tag", "words"]).hint(name, "facts")
            step = f"{hint}; asfound rule facts {kind} prints them all"
            raise BadRule(f"{_at(where, held.key_places[name])}: no fact named {name!r} on a {kind}; {step}")
        at = _at(where, held.key_places[name])
        if as_recorded:
            _as_a_record(kind, name, held[name], at)
        item.data[name] = _held(kind, str(names[name]["is"]), held, name, at, counter, as_recorded)
    return item


def _at(where: str, place: Place) -> str:
    """The same file with the line of a place."""
    return f"{where.rpartition(' line ')[0]} line {place.line}" if " line " in where else where


def _as_a_record(kind: str, name: str, value: Any, where: str) -> None:
    """Hold a fact against what the schema of records says of it. Raises `BadRule` in the words of a refused record."""
    fits = _fits(kind, name)
    if fits is None:
        return
    if not is_doubt(value):
        choices = split_choice(value) if is_choice(value) and not is_free_text(name, kind) else [value]
    else:
        doubt = _doubt()
        if not doubt.is_valid(value):
            _refused(kind, name, value, DOUBT, where)
        choices = [value["is"]] if "is" in value else list(value.get("one_of", ()))
        if choices and isinstance(value.get("is"), str) and is_choice(value["is"]) and not is_free_text(name, kind):
            choices = split_choice(value["is"])
    for one in choices:
        if not fits[0].is_valid(one):
            _refused(kind, name, one, fits[1], where)


def _refused(kind: str, name: str, value: Any, part: dict[str, Any], where: str) -> None:
    from asfound.shape.words import explain

    for path, _, cause, step in explain(value, part, schema("record")):
        at = "".join(f", {one}" for one in path)
        raise BadRule(f"{where}: {kind}, {name}{at}: {cause}; {step}")


@functools.cache
def _fits(kind: str, name: str) -> tuple[jsonschema_rs.Draft202012Validator, dict[str, Any]] | None:
    """What decides whether a record can hold a value as this fact, and its part of the schema; None for traced ones."""
    from asfound.kit.catalogue import as_recorded

    part = as_recorded(kind, name)
    return None if part is None else (_validator(part), part)


@functools.cache
def _doubt() -> jsonschema_rs.Draft202012Validator:
    return _validator(DOUBT)


def _validator(part: dict[str, Any]) -> jsonschema_rs.Draft202012Validator:
    return jsonschema_rs.Draft202012Validator({"$defs": schema("record")["$defs"], **part})


_VALUES: dict[str, Any] = {"number": int | float, "yes/no": bool}
"""What a fact of these forms is; the loader of records sees to it, and no schema is held against a case."""


def _not_read(kind: str, name: str, value: Any, where: str) -> BadRule:
    from asfound.kit.catalogue import entry

    said = f"{where}: {name} of a {kind} is written {text_of(value)}, which cannot be read"
    return BadRule(f"{said}; write it as in {entry(kind, name).example}")


def _held(kind_of: str, form: str, holder: Map, name: str, where: str, counter: list[int], as_recorded: bool) -> Any:
    value = holder[name]
    place = holder.places[name]
    sort, _, kind = form.partition(" ")
    if sort in ("item", "items") and kind in data("facts"):
        if is_doubt(value):
            if "not_seen" in value:
                return unseen(value["not_seen"], place=place)
            options = tuple(_items(kind, one, where, counter, as_recorded) for one in value.get("one_of", ()))
            return Fact("assumed", options, place=place)
        made = _items(kind, value, where, counter, as_recorded)
        return made[0] if sort == "item" else made
    if sort == "words" and not is_doubt(value):
        listed = tuple(value) if isinstance(value, Seq) else (value,)
        return exact(listed, written=", ".join(map(str, listed)), place=place)
    try:
        fact = read_fact(holder, name, name)
    except (KeyError, TypeError, ValueError):
        raise _not_read(kind_of, name, value, where) from None
    if not all(isinstance(one, _VALUES.get(sort, object)) for one in fact.values):
        raise _not_read(kind_of, name, value, where)
    if sort == "words":  # a list of words in each of its values
        listed = tuple(held if isinstance(held, tuple) else (held,) for held in fact.values)
        return fact.restated(fact.kind, listed)
    return fact


def _items(kind: str, value: Any, where: str, counter: list[int], as_recorded: bool) -> tuple[Item, ...]:
    listed = value if isinstance(value, Seq) else [value]
    for one in listed:
        if not isinstance(one, Map):
            raise BadRule(f"{where}: {text_of(one)} is no {kind}; write its facts in braces, like {{tag: {kind} 1}}")
    return tuple(made_item(kind, one, where, counter, as_recorded=as_recorded) for one in listed)


def dated(case: Case, tables: TableSet) -> TableSet:
    """The tables as they are on the date of a case; as given when it has none, or theirs."""
    if not case.as_of or case.as_of == tables.as_of:
        return tables
    return TableSet(tables.by_name.values(), case.as_of)


def try_case(rule: Rule, case: Case, tables: TableSet) -> Tried:
    """Run a rule on a case, as the engine would on a record. A rule that raises lets it through."""
    explored = explore(rule, case.item, dated(case, tables), case.site)
    results = Results()
    outcome = judged(rule, case.item, explored, _no_record(), results)
    return Tried(outcome, results, explored)


def _no_record() -> Record:
    from asfound.load.values import Document, Place

    return Record(Document(Map(Place(1, 1)), "case", ""), "case", True, Item("site", "site", "the site"), "")


def reads_of(rule: Rule, tables: TableSet) -> tuple[list[str], list[str]]:
    """The facts and tables a rule reads over all its cases: `conductor gauge`, table names."""
    facts: dict[str, None] = {}
    rows: dict[str, None] = {}
    for case in read_cases(rule):
        tried = try_case(rule, case, tables)
        for world in tried.explored.worlds:
            facts.update(dict.fromkeys(f"{item.kind} {name}" for item, name, _ in world.reads))
            rows.update(dict.fromkeys(row.table for row in world.rows))
    return list(facts), list(rows)


__all__ = ["LISTS", "Case", "Tried", "cases_file", "dated", "made_item", "read_cases", "reads_of", "try_case"]
