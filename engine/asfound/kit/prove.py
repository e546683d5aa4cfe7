"""Prove a rule: hold it to everything a rule promises, by its own cases.

One function, `prove`, for the built-in rules, for `asfound rule test` and for
the pytest plugin. It prints nothing. What it finds are `Trouble` values: a
failure breaks a promise, a warning is worth a look. `PROMISES` lists what is
promised; `FOR_EACH_CASE` are those among them that are kept or broken case by
case.
"""

from __future__ import annotations

import re
import time
from collections.abc import Collection, Iterable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from asfound.judge.cases import LISTS, Case, cases_file, dated, read_cases, try_case
from asfound.judge.rules import BadRule, Rule
from asfound.judge.tables import Tables, TableSet
from asfound.judge.views import Run, plain
from asfound.judge.worlds import settled
from asfound.kit.prove_about import about, texts
from asfound.kit.prove_branches import Condition, Function, Went, functions_of
from asfound.kit.prove_case import NOT_FILLED_IN, Bench, blanks, told_by
from asfound.kit.prove_kept import gone, kept
from asfound.kit.prove_promises import (
    CAUTION,
    COUNTS,
    DEFERS,
    DOUBT,
    EDGE,
    FOR_EACH_CASE,
    KEPT,
    LISTED,
    NEVER_CLEARS,
    OUTCOME,
    PARTS,
    PROMISES,
    READ,
    SAME,
    SENTENCES,
    SOURCE,
    STANDS,
    TITLE,
    TWICE,
    UNCHANGED,
    WAYS,
    WORDING,
    CaseProof,
    FactProof,
    ReadFact,
    Trouble,
)  # fmt: skip
from asfound.kit.prove_yaml import conditions_of_form
from asfound.load import Refused, load_file
from asfound.plugins import FORMS
from asfound.record.facts import Fact, Item
from asfound.wording import joined, plural

__all__ = [
    "CAUTION", "COUNTS", "DEFERS", "DOUBT", "FOR_EACH_CASE", "KEPT", "LISTED", "NEVER_CLEARS", "OUTCOME", "PARTS",
    "PROMISES", "READ", "SAME", "SENTENCES", "SOURCE", "STANDS", "TITLE", "TWICE", "UNCHANGED", "WAYS", "WORDING",
    "CaseProof", "FactProof", "Proof", "ReadFact", "Trouble", "beside_rules", "line_words", "prove", "prove_all",
    "seconds_per_item",
]  # fmt: skip

_ROUNDS = 5
"""How often an item is judged for its time; the shortest counts."""


@dataclass(slots=True)
class Proof:
    """A rule with everything its cases showed. `seconds` is the time for one item, None when it was not taken."""

    rule: Rule
    cases: list[CaseProof]
    facts: list[FactProof]
    conditions: list[tuple[Condition, frozenset[bool]]]
    went: Went
    troubles: list[Trouble]
    seconds: float | None = None

    @property
    def failures(self) -> list[Trouble]:
        """Promises not kept, of the rule and of its cases."""
        return [one for one in self.all_troubles if one.grave]

    @property
    def warnings(self) -> list[Trouble]:
        """What is worth a look."""
        return [one for one in self.all_troubles if not one.grave]

    @property
    def all_troubles(self) -> list[Trouble]:
        """Everything found, of the rule and of its cases, in the order of the promises."""
        found = [*self.troubles, *(one for case in self.cases for one in case.troubles)]
        return sorted(found, key=lambda one: PROMISES.index(one.promise))


def prove(rule: Rule, tables: TableSet, *, timed: bool = False) -> Proof:
    """Hold a rule to everything it promises. Never raises for what the rule or its cases do wrong."""
    proof = Proof(rule, [], [], [], Went(), [])
    proof.troubles += about(rule)
    cases = _cases(proof)
    told = told_by(rule, cases)
    facts: dict[str, FactProof] = {}
    for case in cases:
        blank = blanks(rule, case)
        bench = Bench(rule, case, dated(case, tables))
        proof.cases.append(bench.not_filled_in(blank) if blank else bench.proof(told, proof.went, facts))
    proof.facts = list(facts.values())
    if any(one.verdict.outcome == NOT_FILLED_IN for one in proof.cases):
        return proof  # what follows would speak of the blanks
    proof.troubles += _twice(rule, cases)
    proof.troubles += _facts(proof)
    proof.troubles += _ways(proof)
    proof.troubles += texts(rule, proof.cases)
    if cases and not {"likely", "possible"} & {case.certainty for case in cases}:
        proof.troubles.append(_of_cases(
            rule, DOUBT, False, "no case shows what becomes of the finding when a fact is doubtful",
            "add a case with how: by eye, or with one_of:, and its certainty:",
        ))  # fmt: skip
    if not proof.failures:
        proof.troubles += kept(rule, tables)
    if timed and proof.cases:
        proof.seconds = seconds_per_item(rule, cases, tables)
    return proof


def seconds_per_item(rule: Rule, cases: Iterable[Case], tables: TableSet) -> float:
    """The mean over the cases of the time to judge their item, the shortest of a few; a case that fails is left out."""
    spent = []
    for case in cases:
        at = dated(case, tables)
        more = [Tables(at, Run({})) if want == "tables" else plain(case.site, {}) for want in rule.wants]
        seen = plain(case.item, {})
        best = float("inf")
        try:
            for _ in range(_ROUNDS):
                started = time.perf_counter()
                if settled(rule, seen, more) is None:
                    try_case(rule, case, at)
                best = min(best, time.perf_counter() - started)
        except (Exception, SystemExit):
            continue
        spent.append(best)
    return sum(spent) / len(spent) if spent else 0.0


def _of_cases(rule: Rule, promise: str, grave: bool, cause: str, step: str, line: int = 0) -> Trouble:
    return Trouble(promise, grave, rule.name, cases_file(rule), line, cause, step)


# -- its cases


def _cases(proof: Proof) -> list[Case]:
    """The cases of a rule; what keeps them from being read or makes them too few goes to its troubles."""
    rule = proof.rule
    file = cases_file(rule)
    if not file.is_file():
        proof.troubles.append(_of_cases(
            rule, LISTED, True, "there is no file of cases beside the rule",
            f"write {file.name} with the lists {joined(LISTS)} under {rule.name}:",
        ))  # fmt: skip
        return []
    try:
        cases = read_cases(rule)
    except BadRule as error:
        place, cause, step = _split(str(error), str(file))
        proof.troubles.append(_of_cases(rule, LISTED, True, cause, step, place))
        return []
    for name in LISTS:
        if not any(case.list == name for case in cases):
            proof.troubles.append(_of_cases(
                rule, LISTED, True, f"there is no case in the list {name!r}", _WANTED[name],
                cases[0].line if cases else 0,
            ))  # fmt: skip
    return cases


_WANTED = {
    "finds": "add facts with which the rule has to find something, and its sentence under says:",
    "clear": "add facts with which it has to stay quiet, best those just at the limit",
    "cannot tell": "add facts with the one that decides left out or not_seen, and its name under missing:",
}


def _split(message: str, file: str) -> tuple[int, str, str]:
    """A message of the loader as line, cause and next step."""
    message = re.sub(r"^the cases of rule '[^']*': ", "", message)
    found = re.search(rf"{re.escape(file)},? line ([0-9]+)", message)
    text = message.replace(f"{found[0]}", "", 1) if found else message.replace(file, "its file", 1)
    cause, _, step = text.strip(" ,:.").partition("; ")
    return int(found[1]) if found else 0, cause or message, step.rstrip(".") or "put it right and run the test again"


# -- over all cases


def _twice(rule: Rule, cases: list[Case]) -> Iterator[Trouble]:
    """Two cases of a rule differ in their facts or in their date."""
    seen: dict[Any, Case] = {}
    for case in cases:
        key = (repr(_comparable(case.item)), repr(_comparable(case.site)), case.as_of)
        first = seen.setdefault(key, case)
        if first is not case:
            yield Trouble(
                TWICE, True, rule.name, cases_file(rule), case.line,
                f"it repeats the facts of the case in line {first.line} ({first.why})",
                "take one of them out, or change the fact that makes them two", f"{case.list}, {case.why}",
            )  # fmt: skip


def _comparable(item: Item, named: bool = False) -> Any:
    """The facts of a made item as comparable values, without its own tag."""
    held: list[Any] = []
    for name, value in sorted(item.data.items()):
        if isinstance(value, Fact):
            held.append((name, value.kind, value.values, value.how))
        else:
            listed = (value,) if isinstance(value, Item) else value
            held.append((name, tuple(_comparable(one, named=True) for one in listed)))
    return (item.tag if named else "", tuple(held))


def _facts(proof: Proof) -> Iterator[Trouble]:
    """Facts stated and never read, and facts read that change nothing."""
    rule = proof.rule
    if any(case.verdict.error for case in proof.cases):
        return  # a rule that failed has not read all it would
    unread = [one.path for one in proof.facts if not one.read]
    ignored = _ignored(proof)
    known = {one.path: one for one in proof.facts}
    for path, case in ignored.items():
        if path not in known or known[path].read:
            cause = f"`{path}` is said to be ignored, and " + (
                "the rule reads it" if path in known else "no case states it"
            )  # fmt: skip
            yield _of_cases(rule, READ, True, cause, "take it out of ignores:", case.line)
    for one in proof.facts:
        if not one.read:
            if one.path not in ignored and not any(one.path.startswith(f"{other}.") for other in (*unread, *ignored)):
                yield _of_cases(
                    rule, READ, True,
                    f"`{one.path}` stands in {plural(one.stated, 'case')}, and the rule never reads it",
                    "let the rule read it, or take it out; name it under ignores: where that is the point of the case",
                    one.line,
                )  # fmt: skip
        elif one.turned and not one.edge and one.number:
            yield _of_cases(
                rule, EDGE, False, f"`{one.path}` decides, and in no case does the next number turn the verdict",
                "add a case just at the limit, and say in which list it belongs", one.line,
            )  # fmt: skip
        elif one.varied and not one.turned and not one.relation:
            if one.reworded and not one.missed:
                continue  # it serves the sentence alone, and costs nothing where it is missing
            values = plural(one.varied, "other value")
            step = "add a case in which its value decides, or do not read it"
            if one.reworded:
                cause = f"`{one.path}` changes the sentence and never the verdict, and without it nothing is told"
                step = "add a case in which its value decides, or read it with for_words(...)"
            elif one.missed:
                cause = f"`{one.path}` is read, and {values} of it changed no verdict"
            else:
                cause = f"`{one.path}` is read, and neither {values} nor its absence changed anything"
            yield _of_cases(rule, COUNTS, False, cause, step, one.line)


def _ignored(proof: Proof) -> dict[str, Case]:
    """The facts that cases say the rule ignores, each with the first of those cases."""
    found: dict[str, Case] = {}
    for one in proof.cases:
        for path in one.case.ignores:
            found.setdefault(path if path.startswith("site.") else f"{proof.rule.of}.{path}", one.case)
    return found


def rule_function(rule: Rule) -> Function | None:
    """The function of a rule in Python with its conditions; None for another form, or one made elsewhere."""
    if rule.file.suffix != ".py" or not rule.file.is_file():
        return None
    return next((one for one in functions_of(rule.file) if one.first <= rule.line <= one.last), None)


def _ways(proof: Proof) -> Iterator[Trouble]:
    """Conditions that no case takes both ways, and lines that none reaches."""
    rule = proof.rule
    function = rule_function(rule)
    conditions = list(function.conditions) if function else list(conditions_of_form(rule))
    proof.conditions = [(one, frozenset(proof.went.ways.get(one, ()))) for one in conditions]
    if not proof.cases:
        return
    whole_untold = set()
    for one, ways in proof.conditions:
        if len(ways) == 2:
            continue
        if one.sort != "part":
            whole_untold.add(one.line)
        elif one.line in whole_untold or not ways:
            continue  # said of the whole condition already, or of the one that stands before it
        yield Trouble(
            PARTS if one.sort in ("part", "only_if") else WAYS, one.sort not in ("part", "only_if"),
            rule.name, one.file, one.line,
            _never(one, ways),
            "add a case for it, or take the condition out",
        )  # fmt: skip
    if function is not None:
        lines = function.lines - proof.went.lines.get(rule.file, set())
        if lines:
            yield Trouble(
                WAYS, True, rule.name, rule.file, min(lines), f"no case reaches {line_words(lines)}",
                "add a case for what stands there, or take it out",
            )  # fmt: skip


def _never(condition: Condition, ways: Collection[bool]) -> str:
    """Which way a condition never goes, in words."""
    if not ways:
        return f"no case gets as far as `{condition.text}`"
    verb = "" if condition.sort in ("only_if", "for", "case") else "is "
    return f"in no case `{condition.text}` is met so that it {verb}{condition.way(True not in ways)}"


def line_words(lines: Iterable[int]) -> str:
    """`line 7`, `lines 7 to 9 and 12`."""
    runs: list[list[int]] = []
    for line in sorted(lines):
        if runs and runs[-1][-1] == line - 1:
            runs[-1].append(line)
        else:
            runs.append([line])
    words = [f"{run[0]} to {run[-1]}" if len(run) > 1 else str(run[0]) for run in runs]
    return f"{'line' if words == [str(runs[0][0])] else 'lines'} {joined(words)}"


# -- rules that stand together


def prove_all(rules: Iterable[Rule], tables: TableSet, *, timed: bool = False) -> tuple[list[Proof], list[Trouble]]:
    """Prove rules that stand together; besides their proofs, what is wrong with their files as a whole.

    That is: cases for a rule that is not there, and functions beside the rules
    that the cases of all of them do not reach in every line and condition.
    """
    proofs = [prove(rule, tables, timed=timed) for rule in rules]
    return proofs, list(beside_rules(proofs))


def beside_rules(proofs: list[Proof]) -> Iterator[Trouble]:
    """What is wrong with the files of rules as a whole, given the proofs of all rules in them.

    What a helper is used for can stand in another file of its folder; it is a
    failure only when the rules of all of them were proven.
    """
    went = Went()
    for proof in proofs:
        went.add(proof.went)
    files = dict.fromkeys(proof.rule.file for proof in proofs)
    for file in files:
        yield from _strangers(file, [proof.rule for proof in proofs if proof.rule.file == file])
    for folder in dict.fromkeys(file.parent for file in files):
        there = {one for one in folder.glob("*.py") if _holds_rules(one)} | set(folder.glob(f"*{FORMS}"))
        if there <= set(files):
            yield from gone(folder, {proof.rule.name for proof in proofs if proof.rule.file.parent == folder})
    for file in sorted(went.lines):
        beside = {one for one in file.parent.glob("*.py") if _holds_rules(one)}
        if file in files or file not in beside:
            rules = {proof.rule.line for proof in proofs if proof.rule.file == file}
            yield from _helpers(file, went, rules, grave=beside <= set(files))


def _holds_rules(file: Path) -> bool:
    return re.search(r"^@(\w+\.)?rule\(", file.read_text(encoding="utf-8", errors="replace"), re.MULTILINE) is not None


def _strangers(file: Path, rules: list[Rule]) -> Iterator[Trouble]:
    beside = cases_file(rules[0])
    if not beside.is_file():
        return
    try:
        root = load_file(beside).root
    except Refused:
        return  # told with the rule
    known = {rule.name for rule in rules}
    for name in root:
        if name not in known:
            yield Trouble(
                LISTED, True, name, beside, root.key_places[name].line,
                f"there are cases for {name!r}, and no such rule",
                f"take them out, or give a rule in {file.name} this name",
            )  # fmt: skip


def _helpers(file: Path, went: Went, rules: set[int], *, grave: bool) -> Iterator[Trouble]:
    """Functions at the top of a file, besides those in whose lines a rule begins: what of them no case reaches."""
    reached = went.lines.get(file, set())
    for function in functions_of(file):
        if any(function.first <= line <= function.last for line in rules):
            continue
        if not function.lines & reached:
            yield Trouble(
                WAYS, False, function.name, file, function.first, f"no case reaches the function {function.name}",
                "use it in a rule, or take it out",
            )  # fmt: skip
            continue
        lines = function.lines - reached
        if lines:
            yield Trouble(
                WAYS, grave, function.name, file, min(lines), f"no case reaches {line_words(lines)} of {function.name}",
                "add a case for what stands there, or take it out",
            )  # fmt: skip
        for one in function.conditions:
            ways = went.ways.get(one, set())
            if len(ways) < 2 and one.sort not in ("part", "only_if") and one.line in reached:
                yield Trouble(
                    WAYS, grave, function.name, file, one.line,
                    _never(one, ways),
                    "add a case for it, or take the condition out",
                )  # fmt: skip
