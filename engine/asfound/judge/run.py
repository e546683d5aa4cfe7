"""Judge an installation with a set of rules."""

from __future__ import annotations

import time
from collections import Counter
from collections.abc import Iterable

from asfound.judge.results import FAILED, Failed, Results, in_order, judged
from asfound.judge.rules import Rule
from asfound.judge.tables import TableSet
from asfound.judge.worlds import explore
from asfound.trace import Installation


def judge(
    installation: Installation, rules: Iterable[Rule], tables: TableSet, times: dict[str, float] | None = None
) -> Results:
    """Run every rule on every item of its kind. A rule that raises is a result, not an end.

    `times`, when given, is filled with seconds by rule name.
    """
    results = Results()
    site = installation.record.site
    for rule in rules:
        started = time.perf_counter()
        counter: Counter[str] = Counter()
        for item in installation.items.get(rule.of, ()):
            before = len(results.findings)
            try:
                explored = explore(rule, item, tables, site)
                outcome = judged(rule, item, explored, installation.record, results)
            except Exception as error:  # whatever a rule does wrong becomes a result
                del results.findings[before:]
                text = f"{type(error).__name__}: {error}"
                results.failed.append(Failed(rule, item.identity, item.words, text))
                outcome = FAILED
            counter[outcome] += 1
        results.counts[rule.name] = counter
        if times is not None:
            times[rule.name] = time.perf_counter() - started
    in_order(results)
    return results
