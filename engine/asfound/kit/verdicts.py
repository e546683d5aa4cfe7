"""A rule keeps its revision: the verdict of every recorded case, by rule and revision, in a file kept with the rules.

A verdict that changed under the same revision is a plain failure: somebody who
holds an older report would find another judgement under the same rule and
revision. The file of a pack holds the cases themselves, so that they are tried
again even when they are gone from the file of cases. The file of the built-in
rules holds a fingerprint of each case and its verdict.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterable
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from asfound.judge.cases import LISTS, Case, Tried, cases_file, made_item, read_cases, try_case
from asfound.judge.rules import BadRule, Rule
from asfound.judge.tables import Table, TableSet
from asfound.kit.catalogue import inline
from asfound.load import Map, Refused, load_file
from asfound.record.facts import Item

_HEAD = (
    "# The verdict of every recorded case, by rule and revision. Written by a command; not edited by hand.",
    "# A verdict that changes asks for a higher revision of its rule.",
    "verdicts: 1",
)
_FACTS = ("site",)


@dataclass(frozen=True, slots=True)
class Recorded:
    """One case and its verdict. `facts` holds the item and the site as written, None where only `key` is kept.

    `as_of` is the date that the case gives, `judged` the one it was judged at.
    `key` stands for the facts and `as_of`, not for the wording; `line` is 0 for
    a case that stands in no file yet.
    """

    key: str
    why: str
    as_of: str
    judged: str
    facts: dict[str, Any] | None
    verdict: str
    line: int = 0


Verdicts = dict[str, dict[int, list[Recorded]]]
"""Cases by rule and revision."""


def verdict_of(tried: Tried) -> str:
    """What a rule made of a case, without wording: the grade and certainty of each finding, else the outcome."""
    found = sorted(f"{finding.grade}, {finding.certainty}" for finding in tried.results.findings)
    return "; ".join(found) or tried.outcome


def verdicts_now(rule: Rule, tables: TableSet, as_of: str) -> list[Recorded]:
    """The verdict of every case of a rule today; `as_of` is the date of a case that gives none.

    Raises `BadRule` when its cases cannot be read.
    """
    root = load_file(cases_file(rule)).root
    raw = [held for name in LISTS for held in root[rule.name].get(name) or () if isinstance(held, Map)]
    found: dict[str, Recorded] = {}
    for case, held in zip(read_cases(rule), raw, strict=True):
        day = case.as_of or as_of
        facts = {part: _plain(held[part]) for part in (rule.of, *_FACTS) if part in held}
        key = key_of(facts, case.as_of)
        tried = try_case(rule, replace(case, as_of=day), tables)
        found.setdefault(key, Recorded(key, case.why, case.as_of, day, facts, verdict_of(tried)))
    return list(found.values())


def key_of(facts: dict[str, Any], as_of: str) -> str:
    """Eight letters that stand for the facts of a case and its date; no YAML takes them for a number."""
    text = json.dumps([facts, as_of], sort_keys=True, ensure_ascii=False)
    return hashlib.sha256(text.encode()).hexdigest()[:8].translate(_LETTERS)


_LETTERS = str.maketrans("0123456789", "ghijklmnop")


def _plain(value: Any) -> Any:
    """A loaded value as plain lists and mappings."""
    if isinstance(value, dict):
        return {str(name): _plain(held) for name, held in value.items()}
    if isinstance(value, list):
        return [_plain(held) for held in value]
    return value


# -- held against what was recorded


@dataclass(frozen=True, slots=True)
class Unkept:
    """What is not as it was recorded of a rule: of one of its cases, or with `case` empty of the rule as a whole.

    `line` is that of the file of verdicts, 0 where there is none.
    """

    rule: str
    revision: int
    case: str
    line: int
    cause: str
    step: str

    @property
    def words(self) -> str:
        """One plain sentence without its full stop."""
        case = f", revision {self.revision}, case {self.case!r}:" if self.case else ""
        return f"rule {self.rule!r}{case} {self.cause}; {self.step}"


@dataclass(frozen=True, slots=True)
class Held:
    """Rules held against their recorded verdicts: what fails, what is new, and the file to be."""

    broken: tuple[Unkept, ...]
    added: int
    verdicts: Verdicts

    @property
    def failures(self) -> tuple[str, ...]:
        """What fails in plain sentences."""
        return tuple(one.words for one in self.broken)


def held_against(
    rules: Iterable[Rule], tables: TableSet, as_of: str, before: Verdicts, retired: Iterable[str], file: str
) -> Held:
    """Hold the verdicts of today against those recorded.

    Fails for a verdict that changed under its revision, a revision that went
    down, and a recorded rule that is gone and not named in `retired`. `file` is
    the name of the record in the sentences.
    """
    rules = list(rules)
    broken: list[Unkept] = []
    after: Verdicts = {}
    added = 0
    for rule in rules:
        held = dict(before.get(rule.name, {}))
        last = max(held, default=rule.revision)
        if rule.revision < last:
            broken.append(Unkept(
                rule.name, rule.revision, "", 0,
                f"is revision {rule.revision}, and {file} holds verdicts of revision {last}",
                f"write {_raised(rule, last)}, or take back the older text of the rule",
            ))  # fmt: skip
            after[rule.name] = held
            continue
        now = verdicts_now(rule, tables, as_of)
        recorded = held.get(rule.revision, [])
        broken += _changed(rule, tables, recorded, now, file)
        known = {one.key for one in recorded}
        new = [one for one in now if one.key not in known]
        added += len(new)
        held[rule.revision] = [*recorded, *new]
        after[rule.name] = dict(sorted(held.items()))
    names = {rule.name for rule in rules}
    gone = set(retired)
    for name, held in before.items():
        if name in names:
            continue
        after[name] = held
        if name not in gone:
            broken.append(gone_rule(name, file))
    return Held(tuple(broken), added, dict(sorted(after.items())))


def gone_rule(name: str, file: str) -> Unkept:
    """What is said of a rule that has verdicts in a file and is not there any more."""
    return Unkept(
        name, 0, "", 0, f"has verdicts in {file} and is not there any more",
        "name it in pack.yaml under retired, with what replaced it",
    )  # fmt: skip


def _raised(rule: Rule, last: int) -> str:
    """The next revision as it is written in the form of the rule."""
    return f"revision{'=' if rule.file.suffix == '.py' else ': '}{last + 1}"


def newest(tables: Iterable[Table]) -> str:
    """The date of the newest edition, year-month-day: that by which cases without a date are recorded."""
    return max((edition.effective for table in tables for edition in table.editions), default="2000-01-01")


def unraised(
    rules: Iterable[Rule], tables: TableSet, as_of: str, file: Path, retired: Iterable[str] = ()
) -> tuple[str, ...]:
    """What fails of the verdicts recorded in a file, in plain sentences; nothing where there is no such file.

    Raises `BadRule` when the file or a file of cases cannot be read.
    """
    return held_against(rules, tables, as_of, read_verdicts(file), retired, file.name).failures


def _changed(rule: Rule, tables: TableSet, recorded: list[Recorded], now: list[Recorded], file: str) -> list[Unkept]:
    """What is said of each recorded case of this revision whose verdict is another one today."""
    today = {(one.key, one.judged): one.verdict for one in now}
    found = []
    for one in recorded:
        try:
            verdict = today.get((one.key, one.judged)) or _again(rule, one, tables, file)
        except BadRule as error:
            now_it = f"it can no longer be tried ({error})"
        else:
            if verdict == one.verdict:
                continue
            now_it = f"it is {verdict!r}"
        at = f"line {one.line}" if one.line else one.key
        found.append(Unkept(
            rule.name, rule.revision, one.why or one.key, one.line,
            f"recorded as {one.verdict!r} ({file} {at}), and now {now_it}",
            f"write {_raised(rule, rule.revision)}, or put the rule or the table right",
        ))  # fmt: skip
    return found


def _again(rule: Rule, one: Recorded, tables: TableSet, file: str) -> str:
    """The verdict today of a recorded case that is gone from the file of cases; as recorded where only its key is."""
    if one.facts is None:
        return one.verdict
    where = f"{file} line {one.line}"
    held = one.facts.get(rule.of)
    if not isinstance(held, Map):
        raise BadRule(f"the rule looks at a {rule.of}, and the case has none")
    site = one.facts.get("site")
    at = made_item("site", site, where, as_recorded=False) if isinstance(site, Map) else None
    item = made_item(rule.of, held, where, as_recorded=False)
    return verdict_of(try_case(rule, case_of(rule, item, at, one.judged), tables))


def case_of(rule: Rule, item: Item, site: Item | None = None, as_of: str = "") -> Case:
    """A case that expects nothing, for trying a rule on an item."""
    return Case(
        rule=rule.name, list=LISTS[0], why="", item=item, site=site or Item("site", "site", "the site"), says=(),
        certainty="", missing="", as_of=as_of, line=0,
    )  # fmt: skip


# -- the file


def read_verdicts(file: Path) -> Verdicts:
    """The recorded verdicts of a file; none when it is not there. Raises `BadRule` when it cannot be read."""
    if not file.exists():
        return {}
    try:
        root = load_file(file).root
    except Refused as refused:
        raise BadRule(f"{str(refused).rstrip('.')}. It is written by asfound; take back the file as it was") from None
    found: Verdicts = {}
    try:
        for name, revisions in root["rules"].items():
            found[name] = {int(revision): _listed(held) for revision, held in revisions.items()}
    except (KeyError, TypeError, ValueError, AttributeError):
        raise BadRule(f"{file} is not as asfound wrote it; take back the file as it was") from None
    return found


def _listed(held: Any) -> list[Recorded]:
    if isinstance(held, Map):  # fingerprints: the keys of each verdict
        return [
            Recorded(key, "", "", "", None, verdict, held.places[verdict].line)
            for verdict, keys in held.items()
            for key in keys.split()
        ]
    return [_recorded(one) for one in held]


def _recorded(one: Map) -> Recorded:
    facts = {name: one[name] for name in one if name not in ("why", "as_of", "judged", "verdict")}
    as_of = str(one.get("as_of", ""))
    judged = as_of or str(one["judged"])
    return Recorded(key_of(_plain(facts), as_of), one["why"], as_of, judged, facts, one["verdict"], one.place.line)


def verdicts_text(verdicts: Verdicts) -> str:
    """The file of a pack, with the facts of every case."""
    lines = [*_HEAD, "rules:"]
    for name, revisions in verdicts.items():
        lines.append(f"  {name}:")
        for revision, held in revisions.items():
            lines.append(f'    "{revision}":')
            for one in held:
                dated = {"as_of": one.as_of} if one.as_of else {"judged": one.judged}
                parts = {"why": one.why, **dated, **_plain(one.facts or {}), "verdict": one.verdict}
                told = [f"{part}: {inline(value)}" for part, value in parts.items()]
                lines += [f"      - {told[0]}", *(f"        {line}" for line in told[1:])]
    return "\n".join(lines) + "\n"


def fingerprints_text(rules: Iterable[Rule], tables: TableSet, as_of: str) -> str:
    """The file of the built-in rules: for each rule and its present revision, the keys of the cases of each verdict."""
    lines = [*_HEAD, "rules:"]
    for rule in sorted(rules, key=lambda rule: rule.name):
        keys: dict[str, list[str]] = {}
        for one in verdicts_now(rule, tables, as_of):
            keys.setdefault(one.verdict, []).append(one.key)
        lines += [f"  {rule.name}:", f'    "{rule.revision}":']
        lines += [f"      {inline(verdict)}: {' '.join(sorted(keys[verdict]))}" for verdict in sorted(keys)]
    return "\n".join(lines) + "\n"
