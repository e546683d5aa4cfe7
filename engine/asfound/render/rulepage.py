"""The page of a rule, as text, built from the rule and its cases."""

from __future__ import annotations

import textwrap

from asfound.data import data
from asfound.judge.cases import Case, cases_file, read_cases, reads_of, try_case
from asfound.judge.results import risk_of
from asfound.judge.rules import BadRule, Rule
from asfound.judge.tables import TableSet
from asfound.record.facts import Fact, Item
from asfound.wording import joined


def rule_page(rule: Rule, tables: TableSet) -> str:
    """Everything there is to know of a rule. A rule without cases says so."""
    grades = data("grades")["grade"][risk_of(rule)]
    lines = [
        rule.title,
        "=" * min(len(rule.title), 80),
        f"{rule.topic}/{rule.name}, revision {rule.revision}, since {rule.since}",
        "",
        *_para(rule.notes),
        *_para(f"Severity: {rule.severity}. Likelihood: {rule.likelihood}. Risk: {risk_of(rule)}."),
        *_para("Grade: " + "; ".join(f"{grades[sure]} when {sure}" for sure in grades) + "."),
    ]
    try:
        cases = read_cases(rule)
        facts, used = reads_of(rule, tables)
    except BadRule:
        lines += _para(f"It has no usable cases ({cases_file(rule).name}).")
        cases, facts, used = [], [], []
    lines += _para(f"Looks at: {rule.of}. Reads: {joined(facts) or 'not known without cases'}.")
    for name in used:
        edition = tables.edition(name)
        if edition is not None:
            lines += _para(f"Table: {name}, {edition.name} ({edition.source}; {edition.basis}).")
    lines += _para(rule.caution)
    lines += _para(f"Local code: {rule.defer}")
    lines += _para(f"Source: {rule.source} ({rule.basis}).")
    for name, word in (("finds", "Found"), ("clear", "Clear"), ("cannot tell", "Cannot tell")):
        held = [case for case in cases if case.list == name]
        if held:
            lines += ["", f"{word}:"]
            for case in held:
                lines += _case(rule, case, tables)
    return "\n".join(lines).rstrip() + "\n"


def _case(rule: Rule, case: Case, tables: TableSet) -> list[str]:
    tried = try_case(rule, case, tables)
    said = [f'"{finding.statement}"' for finding in tried.results.findings]
    said += [f"{one.missing} is missing" for one in tried.results.cannot_tell]
    line = f"- {case.why}: {item_words(case.item)}"
    return textwrap.wrap(f"{line}. {' '.join(said)}".rstrip(), 80, subsequent_indent="  ", break_on_hyphens=False)


def item_words(item: Item) -> str:
    """The facts of a made item in a few words: `gauge 14, metal copper, breakers (amps 20)`."""
    words = []
    for name, held in item.data.items():
        if isinstance(held, Fact):
            value = held.written or "not seen"
        elif isinstance(held, Item):
            value = f"({item_words(held)})"
        else:
            value = ", ".join(f"({item_words(one)})" for one in held) or "none"
        words.append(f"{name.replace('_', ' ')} {value}")
    return ", ".join(words) or item.tag


def _para(text: str) -> list[str]:
    lines: list[str] = []
    for block in text.split("\n\n"):
        if block.strip():
            lines += [*textwrap.wrap(" ".join(block.split()), 80, break_on_hyphens=False), ""]
    return lines
