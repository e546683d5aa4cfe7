"""Judge an installation with a set of rules."""

from __future__ import annotations

import time
from collections import Counter
from collections.abc import Iterable

from asfound.judge.results import FAILED, Failed, Results, in_order, judged
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
        return judged(rule, item, explored, installation.record, results)
    except (Exception, SystemExit) as error:  # whatever a rule does wrong becomes a result
        del results.findings[before[0] :], results.cannot_tell[before[1] :]
        text = f"{type(error).__name__}: {error}"
        results.failed.append(Failed(rule, item.identity, item.words, text))
        return FAILED
