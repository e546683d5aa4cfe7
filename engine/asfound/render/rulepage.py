"""The page of a rule, built from the rule and its cases: text for a terminal that is Markdown as well.

Nothing in it is wider than `WIDTH`.
"""

from __future__ import annotations

import re
import textwrap
from collections import Counter

from asfound.data import data
from asfound.judge.cases import Case, cases_file, read_cases, reads_of, try_case
from asfound.judge.results import risk_of
from asfound.judge.rules import BadRule, Rule
from asfound.judge.tables import TableSet
from asfound.judge.views import Gap, Missing, facts_of, observation
from asfound.record.facts import Fact, Item
from asfound.wording import joined, plural

WIDTH = 80
_LISTS = (("finds", "Found"), ("clear", "Clear, or does not apply"), ("cannot tell", "Cannot tell"))


def rule_page(rule: Rule, tables: TableSet) -> str:
    """Everything there is to know of a rule. A rule without cases says so."""
    grades = data("grades")["grade"][risk_of(rule)]
    lines = [
        *_wrap(rule.title),
        "=" * min(len(rule.title), WIDTH),
        f"{rule.topic}/{rule.name}, revision {rule.revision}, since {rule.since}",
        "",
        *_paras(rule.notes),
        *_wrap(f"Severity {rule.severity}, likelihood {rule.likelihood}: risk {risk_of(rule)}."),
        *_wrap("Grade: " + "; ".join(f"{grades[sure]} when {sure}" for sure in grades) + "."),
        "",
        *_wrap(rule.caution),
        "",
        *_wrap(f"Local code: {rule.defer}"),
        "",
        *_wrap(f"Source: {rule.source} ({rule.basis})."),
        "",
    ]
    try:
        cases = read_cases(rule)
        facts, used = reads_of(rule, tables)
    except BadRule:
        return "\n".join([*lines, *_wrap(f"It has no usable cases in {cases_file(rule).name}.")]) + "\n"
    lines += _wrap(f"Looks at each {rule.of}. Reads {_reads(facts)}.")
    if used:
        lines += ["", "Tables:", ""]
    for name in used:
        lines += _wrap(f"- {_table_words(name, tables)}", then="  ")
    for name, title in _LISTS:
        held = [case for case in cases if case.list == name]
        if held:
            head = f"{title}: {plural(len(held), 'case')}"
            lines += ["", head, "-" * len(head)]
            for case in held:
                lines += _case(rule, case, tables)
    return "\n".join(lines).rstrip() + "\n"


def _reads(facts: list[str]) -> str:
    """`conductor: gauge, metal; breaker: amps`, from names with their item kind before them."""
    by_kind: dict[str, list[str]] = {}
    for fact in facts:
        kind, _, name = fact.partition(" ")
        by_kind.setdefault(kind, []).append(_name(kind, name))
    return "; ".join(f"of {_a(kind)}: {', '.join(names)}" for kind, names in by_kind.items()) or "nothing"


def _table_words(name: str, tables: TableSet) -> str:
    dates = joined(edition.effective for edition in tables.by_name[name].editions)
    edition = tables.edition(name)
    now = f"{edition.name}; {edition.source}; {edition.basis}" if edition else "none"
    return f"{name}; editions in force from {dates}. On {tables.as_of}: {now}."


def _case(rule: Rule, case: Case, tables: TableSet) -> list[str]:
    """Its story, what the rule says, and the facts where they tell more than the sentence does."""
    tried = try_case(rule, case, tables)
    date = f" (as of {case.as_of})" if case.as_of else ""
    lines = ["", *_wrap(f"- {_capital(case.why)}{date}.", then="  ")]
    sure = True
    for finding in tried.results.findings:
        sure = sure and finding.certainty == "confirmed"
        lines += _wrap(f'{_capital(finding.certainty)}: "{finding.statement}"', "  ")
    for lacking in dict.fromkeys(_lacking_words(world.lacking) for world in tried.explored.worlds):
        lines += _wrap(lacking, "  ") if lacking and case.list == "cannot tell" else []
    if case.list == "clear" or not sure:
        lines += _wrap(f"Recorded: {item_words(case.item)}.", "  ")
    return lines


def _lacking_words(lacking: Missing | Gap | None) -> str:
    """What was missing, why, and how it can be seen."""
    if not isinstance(lacking, Missing):
        return f"{_capital(str(lacking))}." if lacking else ""
    item = lacking.item
    observe = observation(item.kind, lacking.name)
    what = f"{_own_tag(item) or f'The {item.kind}'}, {_name(item.kind, lacking.name)}: {lacking.fact.note}"
    return f"{_capital(what)}.{f' To see it: {observe}.' if observe else ''}"


def item_words(item: Item) -> str:
    """The facts of a made item in a few words: `gauge 14, metal copper; breakers: A 1 (20 A)`."""
    facts = [_fact_words(item.kind, name, held) for name, held in item.data.items() if isinstance(held, Fact)]
    parts = [", ".join(facts)] if facts else []
    for name, held in item.data.items():
        if isinstance(held, Fact):
            continue
        listed = (held,) if isinstance(held, Item) else held
        inner = Counter(words for words in map(_related_words, listed) if words)
        if inner or not listed:
            shown = ", ".join(f"{count} × {words}" if count > 1 else words for words, count in inner.items())
            parts.append(f"{_name(item.kind, name)}: {shown or 'none'}")
    return "; ".join(parts) or item.tag


def _related_words(item: Item) -> str:
    facts = item_words(item) if item.data else ""
    return f"{_own_tag(item)} ({facts})".lstrip() if facts else _own_tag(item)


def _own_tag(item: Item) -> str:
    """The tag a case gives an item; empty for one that was only numbered."""
    return "" if re.fullmatch(rf"{item.kind} [0-9]+", item.tag) else item.tag


def _fact_words(kind: str, name: str, fact: Fact) -> str:
    value = {"true": "yes", "false": "no"}.get(fact.written, fact.written or "none") if fact.values else "not seen"
    unit = str(facts_of(kind)[name].get("unit", ""))
    shown = f" {unit}" if unit not in ("", "year") and re.fullmatch(r"[0-9.]+", value) else ""
    how = "" if fact.how in ("as written", "") else f" ({fact.how})"
    return f"{_name(kind, name) if name != 'amps' else ''} {value}{shown}{how}".lstrip()


def _name(kind: str, name: str) -> str:
    """A fact as it is said, without the unit that some names end in: `terminals` for terminals_c."""
    known = facts_of(kind).get(name, {})
    ending = {"°C": "_c", "A": "_amps"}.get(str(known.get("unit", "")), " ")
    return str(known.get("say", name.removesuffix(ending).replace("_", " ")))


def _a(word: str) -> str:
    return f"an {word}" if word[0] in "aeiou" else f"a {word}"


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]


def _paras(text: str) -> list[str]:
    lines: list[str] = []
    for block in text.split("\n\n"):
        if block.strip():
            lines += [*_wrap(" ".join(block.split())), ""]
    return lines


def _wrap(text: str, indent: str = "", then: str = "") -> list[str]:
    return textwrap.wrap(text, WIDTH, initial_indent=indent, subsequent_indent=then or indent, break_on_hyphens=False)
