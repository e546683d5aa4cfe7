"""Results as text for a terminal: place first, worst first, nothing wider than `WIDTH`."""

from __future__ import annotations

import textwrap
from collections import Counter
from collections.abc import Iterable

from asfound.accepted import Accepted
from asfound.data import data
from asfound.judge.results import CannotTell, Evidence, Finding, Results, Settle
from asfound.record.build import Record
from asfound.render.acceptance import stale_text, words_of_group
from asfound.render.asdata import RunFacts
from asfound.render.lines import wrap
from asfound.wording import joined, plural, quoted_list

WIDTH = 80
MOST_EVIDENCE = 8
MOST_ROWS = 4
MOST_OPEN = 12
LONG = 120  # a value longer than this stands in the sentence already
PLAIN = ("factor", "allowances", "yes/no")  # units that say nothing beside a number


def as_text(record: Record, run: RunFacts, results: Results, *, everything: bool = False) -> str:
    """The whole result. `everything` lists all open facts and every check."""
    parts = [_head(record, run, results)]
    certain = [f for f in results.findings if f.certainty != "possible"]
    for grade in data("grades")["grades"]:
        held = [f for f in certain if f.grade == grade]
        if held:
            parts.append(_grade(grade, held, run.accepted))
    possible = [f for f in results.findings if f.certainty == "possible"]
    if possible:
        parts.append(_questions(possible, run.accepted))
    if results.cannot_tell:
        parts.append(_open(results.cannot_tell, everything))
    if results.failed:
        parts.append(_failed(results))
    skipped = [(v.tag, what, why) for v in record.visits.values() for what, why in v.not_looked_at]
    if skipped:
        parts.append(_list("NOT LOOKED AT", [f"{what}: {why} (visit {tag})" for tag, what, why in skipped]))
    if run.accepted is not None:
        parts.append(stale_text(run.accepted))
    parts.append(_checked(results, everything))
    parts.append(_scale())
    return "\n\n".join(parts) + "\n"


def _head(record: Record, run: RunFacts, results: Results) -> str:
    title = record.name + (" (invented record)" if record.invented else "")
    count = record.count()
    holds = [f"{count['cables']} cables", f"{count['conductors']} conductors", plural(count["boxes"], "box", "boxes"),
             plural(count["joints"], "joint"), plural(count["devices"], "device"),
             plural(count["breakers"], "breaker"), plural(count["readings"], "reading")]  # fmt: skip
    edition = f", tables of the {run.edition} edition" if run.edition else ""
    lines = [
        title,
        *_wrap(f"Record {record.document.name}, SHA-256 {record.document.sha256[:16]}", ""),
        *_wrap(f"Read as of {run.as_of}{edition}. {plural(len(run.rules), 'rule')}.", ""),
        *_wrap(f"Holds {', '.join(holds)}.", ""),
    ]
    for one in run.amendments:
        when = "in force" if one.effective <= run.as_of else "not yet in force"
        lines += _wrap(f"Local amendments: {one.name}, from {one.effective} ({when}); {one.source}.", "")
    for path in run.named:
        lines += _wrap(f"With rules from {path}.", "")
    if run.packs:
        lines += _wrap(f"Packs of rules: {joined(dict.fromkeys(run.packs.values()))}.", "")
    lines += ["", *_wrap(data("wording")["statement"], "")]
    grades = Counter(f.grade for f in results.findings if f.certainty != "possible")
    questions = sum(f.certainty == "possible" for f in results.findings)
    lines.append("")
    for grade in data("grades")["grades"]:
        lines.append(f"{grades[grade]:>6}  {grade}")
    lines.append(f"{questions:>6}  possible, as questions")
    lines.append(f"{results.totals['cannot tell']:>6}  checks that cannot tell")
    if run.accepted is not None:
        lines.append(f"{run.accepted.count:>6}  of these accepted for now")
    if results.failed:
        lines.append(f"{results.totals['rule failed']:>6}  checks whose rule failed")
    return "\n".join(lines)


def _grade(grade: str, findings: list[Finding], accepted: Accepted | None) -> str:
    """One grade. Neighbours of one rule in one place share their caution, deferral and source."""
    lines = [_rule_line(grade.upper())]
    groups = grouped(findings)
    shown: set[Evidence] = set()
    for index, group in enumerate(groups):
        lines += _group(group, shown)
        lines += _accepted(group, accepted, "  ")
        following = groups[index + 1] if index + 1 < len(groups) else None
        if following is None or _block(following) != _block(group):
            lines += _rule_words(group[0])
            shown = set()
    return "\n".join(lines).rstrip()


def _block(group: list[Finding]) -> tuple[str, str]:
    """Rule and place: joints of one box stand together."""
    return group[0].rule.name, group[0].place.split(" in ", 1)[-1]


def _rule_words(finding: Finding) -> list[str]:
    rule = finding.rule
    return [
        *_wrap(rule.caution, "  ", "    "),
        *_wrap(f"Local code: {rule.defer}", "  ", "    "),
        *_wrap(
            f"Rule {rule.name}{f' of pack {rule.pack}' if rule.pack else ''}; source: {rule.source} ({rule.basis}).",
            "  ",
            "    ",
        ),
    ]


def grouped(findings: Iterable[Finding]) -> list[list[Finding]]:
    """Findings of one rule and certainty whose sentences differ only in the item, together; order kept."""
    groups: dict[tuple[str, str, str], list[Finding]] = {}
    for finding in findings:
        key = (finding.rule.name, finding.certainty, _template(finding))
        groups.setdefault(key, []).append(finding)
    return list(groups.values())


def _template(finding: Finding) -> str:
    return finding.statement.replace(_tag(finding), "\x00")


def _tag(finding: Finding) -> str:
    return finding.at.split(" ", 1)[1]


def statement(group: list[Finding]) -> str:
    """The sentence of a group, naming every item."""
    return _template(group[0]).replace("\x00", quoted_list((_tag(f) for f in group), 12))


def _group(group: list[Finding], shown: set[Evidence]) -> list[str]:
    """Places, sentence, evidence that the block has not shown yet, table rows, what would settle it."""
    first = group[0]
    lines = [""]
    for place in dict.fromkeys(f.place for f in group):
        lines += _wrap(place, "", "  ")
    lines += _wrap(f"{first.grade.capitalize()}, {first.certainty}. {statement(group)}", "  ")
    for note in dict.fromkeys(f.grade_note for f in group if f.grade_note):
        lines += _wrap(f"Grade {note}.", "  ", "    ")
    lines += _evidence_words([e for e in dict.fromkeys(e for f in group for e in f.evidence) if e not in shown])
    shown.update(e for f in group for e in f.evidence)
    lines += _row_words(group)
    settle = list(dict.fromkeys(s for f in group for s in f.settle))
    if settle:
        lines += _wrap(f"Would settle it: {_settle_words(settle)}.", "  ", "    ")
    lines += _wrap(f"Finding {quoted_list((f.identity for f in group), 4)}.", "  ", "    ")
    return lines


def _accepted(group: list[Finding], accepted: Accepted | None, indent: str) -> list[str]:
    return [line for words in words_of_group(group, accepted) for line in wrap(words, indent, indent + "  ")]


def _evidence_words(evidence: list[Evidence]) -> list[str]:
    if not evidence:
        return []
    witness = (evidence[0].by, evidence[0].on)
    said: list[str] = []
    notes: set[str] = set()
    for one in evidence[:MOST_EVIDENCE]:
        said.append(_fact_words(one, witness, one.note not in notes))
        notes.add(one.note)
    rest = len(evidence) - len(said)
    more = f"; and {plural(rest, 'more fact')}, all in --format json" if rest > 0 else ""
    return _wrap(f"Read from the record: {'; '.join(said)}{more}.{_seen_by(witness)}", "  ", "    ")


def _row_words(group: list[Finding]) -> list[str]:
    rows = dict.fromkeys(
        (r.table, r.edition, r.key, r.value, r.unit) for f in group for r in f.rows if not isinstance(r.value, list)
    )
    said = []
    for table, edition, key, value, unit in list(rows)[:MOST_ROWS]:
        shown = "" if unit in PLAIN or unit.startswith("year") else f" {unit}"
        said.append(f"{table}, {edition}, {key}: {_value(value)}{shown}")
    more = f"; and {plural(len(rows) - MOST_ROWS, 'more row')}" if len(rows) > MOST_ROWS else ""
    return _wrap(f"Compared with: {'; '.join(said)}{more}.", "  ", "    ") if said else []


def _seen_by(witness: tuple[str, str]) -> str:
    by, on = witness
    return f" Seen{f' by {by}' if by else ''}{f' on {on}' if on else ''}." if by or on else ""


def _value(value: object) -> str:
    if isinstance(value, bool):
        return "yes" if value else "no"
    return f"{value:g}" if isinstance(value, float) else str(value)


def _fact_words(one: Evidence, witness: tuple[str, str], with_note: bool) -> str:
    """`W3 black, gauge: 14, written 14/2 (line 43, printed legend)`."""
    if one.value == "not seen":
        return f"{one.item}, {one.say}: {one.note.split(';')[0]}"
    unit = f" {one.unit}" if one.unit else ""
    detail = [f"line {one.line}"] if one.line else []
    if one.how not in ("as written", ""):
        detail.append(one.how)
    if (one.by, one.on) != witness:
        detail += [f"by {one.by}"] * bool(one.by) + [one.on] * bool(one.on)
    note = f" ({one.note})" if one.note and with_note and one.note != "as traced" else ""
    written = f", written {one.written}" if one.written and one.written != one.value and not one.note else ""
    value = one.value if len(one.value) <= LONG else "as said above"
    said = f" ({', '.join(detail)})" if detail else ""
    return f"{one.item}, {one.say}: {value}{unit}{written}{note}{said}"


def _settle_words(settle: list[Settle]) -> str:
    words = []
    for one in settle[:2]:
        observe = one.observe or f"see {one.fact.replace('_', ' ')}"
        words.append(f"{observe} ({one.fact.replace('_', ' ')} of {one.item})")
    return "; then ".join(words)


def _questions(possible: list[Finding], accepted: Accepted | None) -> str:
    """Possible findings by the one fact they hang on, so that doubt does not drown the reader."""
    lines = [_rule_line("QUESTIONS"), *_wrap(data("grades")["certainty_meanings"]["possible"], "")]
    groups: dict[int, list[Finding]] = {}
    for finding in possible:
        key = finding.settle[0].key if finding.settle else id(finding)
        groups.setdefault(key, []).append(finding)
    for group in groups.values():
        settle = group[0].settle[0] if group[0].settle else None
        lines.append("")
        if settle is not None:
            can = " or ".join(settle.can_be[:6]) + (
                f" or {len(settle.can_be) - 6} more" if len(settle.can_be) > 6 else ""
            )
            lines += _wrap(f"{settle.fact.replace('_', ' ').capitalize()} of {settle.item}: {can}?", "", "  ")
        for one in grouped(group):
            holds = [value for f in one for s in f.settle[:1] for value in s.defect_if]
            cases = f"If {' or '.join(list(dict.fromkeys(holds))[:6])}: " if holds else ""
            lines += _wrap(f"{cases}{one[0].grade}. {statement(one)}", "  ", "    ")
            lines += _wrap(f"At: {joined(list(dict.fromkeys(f.place for f in one))[:6])}", "    ", "      ")
            lines += _wrap(one[0].rule.caution, "    ", "      ")
            lines += _wrap(f"Local code: {one[0].rule.defer}", "    ", "      ")
            lines += _wrap(
                f"Rule {one[0].rule.name}; finding {quoted_list((f.identity for f in one), 4)}", "    ", "      "
            )
            lines += _accepted(one, accepted, "    ")
        if settle is not None and settle.observe:
            alone = "" if settle.alone else " (other doubtful facts count too)"
            lines += _wrap(f"To settle it: {settle.observe}{alone}.", "  ", "    ")
    return "\n".join(lines)


def _open(cannot_tell: list[CannotTell], everything: bool) -> str:
    """Facts that were not seen and would decide, those that decide most first."""
    lines = [_rule_line("CANNOT TELL"), *_wrap(data("grades")["certainty_meanings"]["cannot tell"], ""), ""]
    by_fact: dict[tuple[str, str, str, str], dict[str, None]] = {}
    for one in cannot_tell:
        by_fact.setdefault((one.missing, one.reason, one.observe, one.of), {})[one.rule.name] = None
    groups: dict[tuple[str, str, str, tuple[str, ...]], list[str]] = {}
    for (missing, reason, observe, of), rules in by_fact.items():
        groups.setdefault((missing, reason, observe, tuple(rules)), []).append(of)
    ordered = sorted(groups.items(), key=lambda pair: -len(pair[1]) * len(pair[0][3]))
    for (missing, reason, observe, names), places in ordered if everything else ordered[:MOST_OPEN]:
        lines += _wrap(f"{missing.replace('_', ' ').capitalize()} of {quoted_list(places, 6)}: {reason}.", "  ", "    ")
        lines += _wrap(f"Open for it: {quoted_list(names, 5)}.{f' To see it: {observe}.' if observe else ''}", "    ")
    if not everything and len(ordered) > MOST_OPEN:
        lines += _wrap(f"and {len(ordered) - MOST_OPEN} more; --all lists them.", "  ")
    return "\n".join(lines)


def _failed(results: Results) -> str:
    lines = [
        _rule_line("RULES THAT FAILED"),
        *_wrap("These rules gave no answer on these items. Their silence means nothing.", ""),
    ]
    for one in results.failed[:20]:
        lines += _wrap(f"{one.rule.name} ({one.rule.file.name}) at {one.place}: {one.error}", "  ", "    ")
    if len(results.failed) > 20:
        lines.append(f"  and {len(results.failed) - 20} more, all in --format json")
    return "\n".join(lines)


def _list(title: str, entries: list[str]) -> str:
    lines = [_rule_line(title)]
    for entry in entries:
        lines += _wrap(entry, "  ", "    ")
    return "\n".join(lines)


def _checked(results: Results, everything: bool) -> str:
    """Counts by rule, so that silence is not read as good."""
    lines = [_rule_line("WHAT WAS CHECKED"), *_wrap(data("wording")["silence"], ""), ""]
    lines.append(_row("rule", ["defect", "maybe", "clear", "open", "n/a", "failed"]))
    for name, counter in sorted(results.counts.items()):
        numbers = [counter[o] for o in ("defect", "possible", "clear", "cannot tell", "does not apply", "rule failed")]
        if everything or any(numbers[:4]) or numbers[5]:
            lines.append(_row(name, [str(number or "-") for number in numbers]))
    absent = [name for name, c in results.counts.items() if not sum(c.values()) - c["does not apply"]]
    if absent and not everything:
        lines += _wrap(f"{plural(len(absent), 'rule')} found nothing to look at; --all lists them.", "  ")
    return "\n".join(lines)


def _row(name: str, cells: list[str]) -> str:
    """One line of the table of checks: the name, then the numbers, within `WIDTH`."""
    widths = (7, 6, 6, 6, 6, 7)
    numbers = "".join(f"{cell:>{width}}" for cell, width in zip(cells, widths, strict=True))
    return f"  {name:<{WIDTH - 2 - sum(widths)}}{numbers}"


def _scale() -> str:
    grades = data("grades")
    lines = [_rule_line("WHAT THE WORDS MEAN")]
    for word, meaning in {**grades["meanings"], **grades["certainty_meanings"]}.items():
        lines += _wrap(f"{word}: {meaning}", "  ", "    ")
    lines += _wrap(
        f"Grades follow from severity and likelihood ({grades['source'].split(';')[0]}) and certainty.", "  ", "    "
    )
    return "\n".join(lines)


def _rule_line(title: str) -> str:
    return f"-- {title} ".ljust(WIDTH, "-")


def _wrap(text: str, indent: str, then: str | None = None) -> list[str]:
    return textwrap.wrap(
        text, WIDTH, initial_indent=indent, subsequent_indent=indent if then is None else then, break_on_hyphens=False
    ) or [""]
