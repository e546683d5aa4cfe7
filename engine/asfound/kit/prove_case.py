"""One case of a rule: tried as given, then with each fact it reads changed in turn, and the case put back as it was."""

from __future__ import annotations

import copy
import re
from collections.abc import Iterable, Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any

from asfound.judge.cases import Case, Tried, cases_file, try_case
from asfound.judge.rules import Rule
from asfound.judge.tables import Row, Tables, TableSet
from asfound.judge.views import Run, facts_of, plain, run_of
from asfound.judge.worlds import settled
from asfound.kit.catalogue import words_of
from asfound.kit.new import FILL
from asfound.kit.prove_branches import Watch, Went
from asfound.kit.prove_promises import (
    NEVER_CLEARS,
    OUTCOME,
    SAME,
    STANDS,
    UNCHANGED,
    CaseProof,
    FactProof,
    ReadFact,
    Trouble,
)  # fmt: skip
from asfound.kit.prove_vary import (
    CHANGED,
    DOUBTED,
    REMOVED,
    Held,
    Variation,
    Verdict,
    changed,
    doubted,
    fact_words,
    held_by,
    is_near,
    items_in,
    listening,
    others,
    put,
    turning,
    verdict_of,
)  # fmt: skip
from asfound.kit.prove_yaml import told_in, watched_form
from asfound.names import Names
from asfound.record.facts import Fact, Item
from asfound.wording import joined, plural


def told_by(rule: Rule, cases: list[Case]) -> dict[str, list[Any]]:
    """Every value the cases of a rule give each fact, by path."""
    told: dict[str, list[Any]] = {}
    for case in cases:
        for held in stated_by(rule, case):
            if isinstance(held.value, Fact):
                told.setdefault(held.path, []).extend(held.value.values)
    return told


def stated_by(rule: Rule, case: Case) -> list[Held]:
    return [*held_by(case.item, rule.of), *(held_by(case.site, "site") if case.site is not case.item else ())]


NOT_FILLED_IN = "not filled in"


def blanks(rule: Rule, case: Case) -> list[str]:
    """The parts of a case that `asfound rule new` left to be filled in, and nobody has."""
    found = [name for name in ("why", "missing") if getattr(case, name) == FILL]
    found += ["says"] if FILL in case.says else []
    for held in stated_by(rule, case):
        if isinstance(held.value, Fact) and (FILL in held.value.values or held.value.note == FILL):
            found.append(held.path.removeprefix(f"{rule.of}."))
    return list(dict.fromkeys(found))


class _Asked(dict[str, Any]):
    """The facts of an item; notes which of them were asked for."""

    __slots__ = ("asked",)

    def __init__(self, held: dict[str, Any]) -> None:
        super().__init__(held)
        self.asked: dict[str, None] = {}

    def get(self, name: str, default: Any = None) -> Any:
        self.asked[name] = None
        return super().get(name, default)


class Bench:
    """One case being tried: the rule on it as given, then with each fact changed in turn."""

    def __init__(self, rule: Rule, case: Case, tables: TableSet) -> None:
        self.rule, self.case, self.tables = rule, case, tables
        self.rows: dict[tuple[str, str], Row] = {}
        self.runs: list[Run] = []
        self.stated = stated_by(rule, case)
        self.items = {id(item): item for root in (case.item, case.site) for item in items_in(root)}
        for item in self.items.values():
            item.data = _Asked(item.data)
        self.watched = replace(rule, run=self._run)
        self.troubles: list[Trouble] = []

    def _run(self, seen: Any, *more: Any) -> Iterator[Any]:
        """The rule, with its run and the rows it reads noted."""
        self.runs.append(run_of(seen))
        try:
            yield from self.rule.run(seen, *more)
        finally:
            for one in more:
                if isinstance(one, Tables):
                    self.rows.update({(row.table, row.key): row for row in one.rows()})

    def tried(self) -> tuple[Tried | None, Verdict]:
        """What the rule makes of the case as it now is."""
        try:
            tried = try_case(self.watched, self.case, self.tables)
        except (Exception, SystemExit) as error:
            return None, Verdict("rule failed", error=f"{type(error).__name__}: {error}")
        return tried, verdict_of(tried.outcome, tried.results)

    def asked(self) -> set[tuple[int, str]]:
        """The facts asked for since the last call, by item and name."""
        found: set[tuple[int, str]] = set()
        for number, item in self.items.items():
            if isinstance(item.data, _Asked):
                found.update((number, name) for name in item.data.asked)
                item.data.asked = {}
        return found

    def wrong(
        self, promise: str, cause: str, step: str, beside: tuple[tuple[str, str], ...] = (), *, grave: bool = True
    ) -> None:  # fmt: skip
        """Add a trouble of this case."""
        case, rule = self.case, self.rule
        self.troubles.append(Trouble(
            promise, grave, rule.name, cases_file(rule), case.line, cause, step, f"{case.list}, {case.why}", beside
        ))  # fmt: skip

    def not_filled_in(self, blank: list[str]) -> CaseProof:
        """A case that still has blanks: it fails, and is not tried."""
        self.wrong(
            OUTCOME, f"it is not filled in yet: {joined(blank)}",
            "write what was seen in place of {not_seen: fill in}, with the story and what is expected",
        )  # fmt: skip
        return CaseProof(self.case, Verdict(NOT_FILLED_IN), 0, (), (), (), (), self.troubles)

    def _words(self) -> None:
        """Words in a case are such as a record can hold."""
        for held in self.stated:
            can_be = words_of(held.item.kind, held.name)
            if not can_be or not isinstance(held.value, Fact):
                continue
            told = [one for value in held.value.values for one in (value if isinstance(value, tuple) else (value,))]
            for word in dict.fromkeys(told):
                if word not in can_be:
                    self.wrong(
                        OUTCOME, f"`{held.path}` is {str(word)!r}, which no record can hold",
                        Names(can_be).hint(str(word), "words"),
                    )  # fmt: skip

    def proof(self, told: dict[str, list[Any]], went: Went, facts: dict[str, FactProof]) -> CaseProof:
        """Try the case and every variation of it."""
        before = _snapshot(self.items.values()), copy.deepcopy(_shared_rows(self.tables))
        self.asked()
        with Watch(python_beside(self.rule)) as watch, watched_form(self.rule) as form:
            tried, verdict = self.tried()
        went.add(watch.went)
        went.add(told_in(self.rule, form))
        asked = self.asked()
        reads, rows = self._reads(asked), tuple(self.rows.values())
        self._words()
        self._unchanged(before)
        self._expected(tried, verdict)
        self._same(verdict, watch, form)
        ever = set(asked)
        variations = [] if verdict.error else list(self._variations(verdict, asked, told, ever, form))
        self._cleared(verdict, variations)
        self._stands(variations)
        self._count(facts, asked, ever, variations)
        shown = tuple(variation for _, variation in variations)
        worlds = tried.explored.worlds if tried else []
        said = [defect.says for world in worlds for defect in world.defects]
        said += [f"{one.missing} {one.reason} {one.observe}" for one in (tried.results.cannot_tell if tried else ())]
        unique = tuple(dict.fromkeys(said))
        return CaseProof(self.case, verdict, len(worlds), reads, rows, shown, unique, self.troubles)

    def _reads(self, asked: set[tuple[int, str]]) -> tuple[ReadFact, ...]:
        """Facts in the order of reading, then the relations that were followed."""
        paths = {(id(held.item), held.name): held for held in self.stated}
        found: dict[tuple[int, str], ReadFact] = {}
        for run in self.runs:
            for item, name, fact in run.reads:
                key = (id(item), name)
                if key in found or facts_of(item.kind).get(name) is None:
                    continue
                unit = str(facts_of(item.kind)[name].get("unit", ""))
                path = paths[key].path if key in paths else f"{item.kind}.{name}"
                value = fact_words(fact, unit) if fact.values else fact.note or "not recorded"
                found[key] = ReadFact(path, item.tag, value, key in paths)
        for key, held in paths.items():
            if key in asked and key not in found:
                found[key] = ReadFact(held.path, held.item.tag, held.words, True)
        self.runs.clear()
        return tuple(found.values())

    def _unchanged(self, before: tuple[Any, Any]) -> None:
        facts, rows = before
        if _snapshot(self.items.values()) != facts:
            self.wrong(
                UNCHANGED, "the rule changed the record", "let it read facts only; keep what it works out in names"
            )
        if _shared_rows(self.tables) != rows:
            self.wrong(
                UNCHANGED, "the rule changed a row of a table",
                "copy a list before sorting or adding to it, as in sorted(row) or [*row, more]",
            )  # fmt: skip

    def _same(self, verdict: Verdict, watch: Watch, form: list[Any]) -> None:
        """A second run, and the run on certain facts alone, have to agree with the first."""
        _, again = self.tried()
        if again != verdict:
            self.wrong(
                SAME, "the second run on the same facts came out otherwise",
                "keep nothing between runs, and use no clock",
                (("first", _told_verdict(verdict)), ("second", _told_verdict(again))),
            )  # fmt: skip
        more = [
            Tables(self.tables, Run({})) if want == "tables" else plain(self.case.site, {}) for want in self.rule.wants
        ]
        quick = settled(self.rule, plain(self.case.item, {}), more)
        if quick is not None and not verdict.error and verdict.outcome != quick:
            self.wrong(
                SAME, f"by certain facts alone it is {quick}, and in every world {verdict.words}",
                "let the rule look at facts only, and never catch what it does not know",
            )  # fmt: skip

    def _expected(self, tried: Tried | None, verdict: Verdict) -> None:
        """The case against what came out."""
        case = self.case
        if tried is None:
            self.wrong(
                OUTCOME, f"the rule failed: {verdict.error}", "put the rule right; a rule never raises on a case"
            )
            return
        for given, allowed, name in (
            (case.says, "finds", "says"), (case.certainty, "finds", "certainty"),
            (case.missing, "cannot tell", "missing"),
        ):  # fmt: skip
            if given and case.list != allowed:
                self.wrong(
                    OUTCOME, f"a case under {case.list!r} has no {name}", f"take it out, or move it to {allowed!r}"
                )
        if case.list == "finds":
            self._finds(tried, verdict)
        elif case.list == "clear":
            if verdict.found or verdict.lacking or verdict.outcome not in ("clear", "does not apply"):
                beside = tuple(("says", said) for said in verdict.says)
                self.wrong(OUTCOME, f"it should be clear, and is {verdict.words}", _NEXT["clear"], beside)
        elif verdict.outcome != "cannot tell":
            beside = tuple(("says", said) for said in verdict.says)
            self.wrong(OUTCOME, f"it should not be told, and is {verdict.words}", _NEXT["cannot tell"], beside)
        elif not case.missing:
            named = joined(verdict.lacking)
            self.wrong(OUTCOME, f"missing is empty; the rule misses {named}", f"write missing: {named}")
        elif set(verdict.lacking) != {case.missing}:
            self.wrong(
                OUTCOME, f"it misses {joined(verdict.lacking)}, and the case expects {case.missing}",
                "name the fact the rule misses first, or give that fact in the case",
            )  # fmt: skip
        elif not all(one.reason for one in tried.results.cannot_tell):
            self.wrong(OUTCOME, "it does not say why the fact is missing", "give a reason under not_seen")

    def _finds(self, tried: Tried, verdict: Verdict) -> None:
        case = self.case
        says = verdict.says
        if not says:
            self.wrong(OUTCOME, f"nothing was found: {verdict.words}", _NEXT["finds"])
            return
        if says != case.says:
            beside = [("case", said) for said in case.says] + [("rule", said) for said in says]
            if not case.says:
                self.wrong(
                    OUTCOME,
                    "says is empty",
                    "when the rule's sentence is right, copy it whole under says:",
                    tuple(beside),
                )
            elif len(says) != len(case.says):
                cause = f"the case expects {plural(len(case.says), 'sentence')}, and the rule says {len(says)}"
                self.wrong(OUTCOME, cause, "list every sentence under says:, in the order of the rule", tuple(beside))
            else:
                cause = "the sentence is another than the case expects"
                self.wrong(
                    OUTCOME, cause, "put the case or the sentence of the rule right, word for word", tuple(beside)
                )
        sure = {certainty for _, _, certainty in verdict.found}
        expected = case.certainty or "confirmed"
        if sure != {expected}:
            step = f"write certainty: {sorted(sure)[0]} if that is right" if len(sure) == 1 else "make a case of each"
            self.wrong(OUTCOME, f"it is {joined(sorted(sure))}, and the case expects {expected}", step)

    # -- one fact changed at a time

    def _variations(
        self, base: Verdict, asked: set[tuple[int, str]], told: dict[str, list[Any]], ever: set[tuple[int, str]],
        form: list[Any],
    ) -> Iterator[tuple[Held, Variation]]:  # fmt: skip
        read = [held for held in self.stated if (id(held.item), held.name) in asked]
        heard, besides = self._compared(base, read), _values_told(form)
        for held in self.stated:
            if held not in read:
                continue
            compared = [*heard.get((id(held.item), held.name), ()), *besides, *_row_values(self.rows.values())]
            yield self._varied(held, base, REMOVED, "", None, ever)
            weak = doubted(held)
            if weak is not None:
                yield self._varied(held, base, DOUBTED, weak[0], weak[1], ever)
            turned = False
            for value in others(held, told.get(held.path, ()), compared):
                made = changed(held, value)
                one = self._varied(held, base, CHANGED, fact_words(made, held.unit), made, ever)
                turned = turned or one[1].turned
                yield one
            if not turned and held.form == "number":
                found = self._turning(held, base)
                if found is not None:
                    made = changed(held, found)
                    yield self._varied(held, base, CHANGED, fact_words(made, held.unit), made, ever)

    def _compared(self, base: Verdict, read: list[Held]) -> dict[tuple[int, str], list[Any]]:
        """What each fact was compared with; nothing where listening disturbs the rule."""
        with listening(read) as heard:
            _, verdict = self.tried()
        return heard.by if verdict.same(base) else {}

    def _varied(
        self, held: Held, base: Verdict, sort: str, to: str, value: Any, ever: set[tuple[int, str]]
    ) -> tuple[Held, Variation]:
        was = held.words
        before = held.value.values if isinstance(held.value, Fact) else ()
        with put(held, value):
            tried, verdict = self.tried()
        ever |= self.asked()
        taken = sort == REMOVED and tried is not None and any(
            item is held.item and name == held.name and "; taken as " in fact.note
            for world in tried.explored.worlds
            for item, name, fact in world.reads
        )  # fmt: skip
        turned = not verdict.same(base)
        to = "taken as its default" if taken else to
        after = value.values if isinstance(value, Fact) else ()
        near = sort == CHANGED and len(before) == len(after) == 1 and is_near(before[0], after[0])
        return held, Variation(
            held.path, held.item.tag, was, sort, to, verdict, turned, not turned and verdict.says != base.says, near
        )

    def _turning(self, held: Held, base: Verdict) -> float | None:
        value = held.value.values[0] if held.value.values else None
        if not isinstance(value, int | float) or isinstance(value, bool) or len(held.value.values) > 1:
            return None

        def stays(number: float) -> bool:
            with put(held, changed(held, number)):
                return self.tried()[1].same(base)

        return turning(value, stays)

    def _cleared(self, base: Verdict, variations: list[tuple[Held, Variation]]) -> None:
        """What is found may become anything without a fact but clear; `given` may say what its absence means."""
        if self.case.list != "finds" or not base.found:
            return
        for held, one in variations:
            if one.sort == REMOVED and one.verdict.outcome == "clear" and not one.to and _is_observed(held):
                self.wrong(
                    NEVER_CLEARS, f"without `{held.path}` it is clear; what nobody recorded must never clear a defect",
                    f"read it as a fact, or say with given(..., {held.name!r}, ...) what its absence means",
                )  # fmt: skip

    def _stands(self, variations: list[tuple[Held, Variation]]) -> None:
        """No fact of a record makes a rule fail: not one that is missing or doubtful, and hardly another value."""
        told: set[tuple[str, str]] = set()
        for held, one in variations:
            if one.verdict.error and _is_observed(held) and (held.path, one.sort) not in told:
                told.add((held.path, one.sort))
                how = {REMOVED: "left out", DOUBTED: f"doubted ({one.to})"}.get(one.sort, f"at {one.to}")
                self.wrong(
                    STANDS, f"with `{held.path}` {how} the rule fails: {one.verdict.error}",
                    "let the rule come to an answer with it; see only_if and given", grave=one.sort != CHANGED,
                )  # fmt: skip

    def _count(
        self, facts: dict[str, FactProof], asked: set[tuple[int, str]], ever: set[tuple[int, str]],
        variations: list[tuple[Held, Variation]],
    ) -> None:  # fmt: skip
        """Add what this case shows of each fact to what the others showed."""
        stated, read = set(), set()
        for held in self.stated:
            place = held.value.place if isinstance(held.value, Fact) else held.item.place
            line = place.line if place and place.line else self.case.line
            numeric = held.form == "number"
            one = facts.setdefault(held.path, FactProof(held.path, line, held.form.startswith("item"), numeric))
            stated.add(held.path)
            if (id(held.item), held.name) in ever:
                read.add(held.path)
        for path in stated:
            facts[path].stated += 1
        for path in read:
            facts[path].read += 1
        for held, variation in variations:
            one = facts[held.path]
            if variation.sort == REMOVED:
                one.missed += variation.turned
            elif variation.sort == CHANGED:
                one.varied += 1
                one.turned += variation.turned
                one.edge += variation.turned and variation.near
                one.reworded += variation.reworded


_NEXT = {
    "finds": "put the facts of the case or the rule right; `asfound rule test --verbose` shows what was read",
    "clear": "put the facts of the case or the rule right; a rule that finds too much is soon not read any more",
    "cannot tell": "leave out the fact that decides, and let the rule read it without asking whether it is there",
}


def _is_observed(held: Held) -> bool:
    """Whether a person sees and records it: a fact, or a relation that has to be traced."""
    return isinstance(held.value, Fact) or "observe" in facts_of(held.item.kind)[held.name]


def _told_verdict(verdict: Verdict) -> str:
    return " ".join([verdict.words, *verdict.says])


def _values_told(form: list[Any]) -> list[Any]:
    """Numbers and words that stand in the expressions of a rule in YAML that were run."""
    found: list[Any] = []
    for text in dict.fromkeys(told.expression.text for told in form):
        found += [text_ for pair in re.findall(r'"([^"]*)"|\'([^\']*)\'', text) for text_ in pair if text_]
        numbers = re.findall(r"(?<![\w.\"'])[0-9]+(?:\.[0-9]+)?(?![\w\"'])", text)
        found += [int(float(one)) if float(one).is_integer() else float(one) for one in numbers]
    return found


def _row_values(rows: Iterable[Row]) -> list[Any]:
    """The numbers in table rows, first those that stand alone."""
    values = [row.value for row in rows]
    return [one for one in values if isinstance(one, int | float)]


def _snapshot(items: Iterable[Item]) -> list[Any]:
    """All that a rule could change of some items, as plain values."""
    return [
        (item.tag, item.words, item.kind, [(name, _frozen(value)) for name, value in item.data.items()])
        for item in items
    ]


def _frozen(value: Any) -> Any:
    if isinstance(value, Fact):
        return value.kind, value.values, value.how, value.written, value.by, value.visit
    return tuple(map(id, value)) if isinstance(value, tuple) else id(value)


def _shared_rows(tables: TableSet) -> list[Any]:
    """The rows of tables that hold a list or a mapping, which a rule could change for everybody."""
    return [
        row
        for table in tables.by_name.values()
        for edition in table.editions
        for row in edition.rows.values()
        if isinstance(row, list | dict)
    ]


def python_beside(rule: Rule) -> list[Path]:
    """The files of Python in the folder of a rule in Python, which hold it and its helpers."""
    return sorted(rule.file.parent.glob("*.py")) if rule.file.suffix == ".py" and rule.file.is_file() else []
