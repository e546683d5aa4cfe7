"""All rule pages and their index, as files of Markdown by relative path."""

from __future__ import annotations

from collections.abc import Iterable
from itertools import groupby

from asfound.judge.results import risk_of
from asfound.judge.rules import Rule
from asfound.judge.tables import TableSet
from asfound.render.rulepage import rule_page


def rulebook(rules: Iterable[Rule], tables: TableSet) -> dict[str, str]:
    """`index.md` and `<topic>/<rule>.md`, each with its text. Rules come in the order given."""
    listed = list(rules)
    pages = {f"{rule.topic}/{rule.name}.md": rule_page(rule, tables) for rule in listed}
    lines = [
        "# Rules",
        "",
        f"{len(listed)} built-in rules. Written by `asfound explain --pages`; not edited by hand.",
        "",
    ]
    for topic, group in groupby(listed, key=lambda rule: rule.topic):
        lines += [f"## {topic.replace('_', ' ')}", "", "| rule | says | looks at | risk |", "|---|---|---|---|"]
        for rule in group:
            link = f"[{rule.name}]({rule.topic}/{rule.name}.md)"
            lines.append(f"| {link} | {rule.title} | {rule.of} | {risk_of(rule)} |")
        lines.append("")
    pages["index.md"] = "\n".join(lines)
    return pages
