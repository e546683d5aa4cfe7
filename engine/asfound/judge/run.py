"""Judge an installation with a set of rules."""

from __future__ import annotations

import time
from collections import Counter
from collections.abc import Iterable

from asfound.judge.results import FAILED, Failed, Finding, Results, in_order, judged
from asfound.judge.rules import Rule
from asfound.judge.tables import Tables, TableSet
from asfound.judge.views import Plain, Run, plain
from asfound.judge.worlds import explore, settled
from asfound.record.facts import Item
from asfound.trace import Installation


def judge(
    installation: Installation, rules: Iterable[Rule], tables: TableSet, times: dict[str, float] | None = None
) -> Results:
    """Run every rule on every item of its kind. A rule that raises is a result, not an end.

    `times`, when given, is filled with seconds by rule name.
    """
    results = Results()
    site = installation.record.site
    certain: dict[Item, Plain] = {}
    for rule in rules:
        started = time.perf_counter()
        counter: Counter[str] = Counter()
        more = [Tables(tables, Run({})) if want == "tables" else plain(site, certain) for want in rule.wants]
        for item in installation.items.get(rule.of, ()):
            outcome = settled(rule, plain(item, certain), more)
            counter[outcome or _judged(rule, item, installation, tables, results)] += 1
        results.counts[rule.name] = counter
        if times is not None:
            times[rule.name] = time.perf_counter() - started
    in_order(results)
    return results


def _judged(rule: Rule, item: Item, installation: Installation, tables: TableSet, results: Results) -> str:
    """Run a rule in every world of one item and add what it gives to `results`; the outcome that is counted."""
    before = len(results.findings), len(results.cannot_tell)
    try:
        explored = explore(rule, item, tables, installation.record.site)
        outcome = judged(rule, item, explored, installation.record, results)
        if rule.outside:
            hold_to_words(results.findings[before[0] :])
        return outcome
    except (Exception, SystemExit) as error:  # whatever a rule does wrong becomes a result
        del results.findings[before[0] :], results.cannot_tell[before[1] :]
        results.failed.append(Failed(rule, item.identity, item.words, error_words(rule, error)))
        return FAILED


class Unsaid(Exception):
    """A rule from outside says what no rule may say."""


def hold_to_words(findings: Iterable[Finding]) -> None:
    """Raise `Unsaid` for a finding whose sentence calls something safe, or the like."""
    from asfound.judge.unsaid import unsaid_of, why

    for finding in findings:
        if words := unsaid_of(finding):
            raise Unsaid(why(words))


def error_words(rule: Rule, error: BaseException) -> str:
    """An error of a rule in words, with the line of the rule it came from where that is known."""
    import traceback

    said = str(error) if isinstance(error, Unsaid) else f"{type(error).__name__}: {error}"
    lines = [one.lineno for one in traceback.extract_tb(error.__traceback__) if one.filename == str(rule.file)]
    return f"{said} ({rule.file.name} line {lines[-1]})" if lines else said
