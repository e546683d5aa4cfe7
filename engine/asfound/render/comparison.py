"""A comparison of two records as text for a terminal and as plain values in the form of `comparison.schema.json`."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from typing import Any

from asfound import __version__
from asfound.accepted import Accepted
from asfound.compare.looks import Change, Look
from asfound.compare.results import (
    CHANGED,
    NO_LONGER_THERE,
    OUTCOMES,
    REPAIRED,
    SETTLED,
    STILL_THERE,
    Comparison,
    Entry,
)
from asfound.compare.side import Statement
from asfound.data import data
from asfound.judge.results import Finding
from asfound.record.model import Record
from asfound.render.acceptance import accepted_words, stale_text
from asfound.render.asdata import acceptance_data, accepted_data
from asfound.render.lines import rule_line, wrap
from asfound.wording import joined, plural, quoted_list

MOST = 6
"""Statements shown for one finding; the rest is in the data form."""
_CLOSED = (SETTLED, NO_LONGER_THERE, REPAIRED)
"""Outcomes after which a finding does not stand."""
Seen = tuple[str, str]  # by whom, on which day


@dataclass(frozen=True, slots=True)
class Asked:
    """What a comparison was asked for besides the two records: the day the work began, and rules named."""

    work_began: str = ""
    named: tuple[str, ...] = ()
    accepted: Accepted | None = None


# -- what both forms say


def seen(finding: Finding) -> list[Seen]:
    """Who saw what a finding rests on, and on which days, as far as the record says."""
    return sorted({(one.by, one.on) for one in finding.evidence if one.by or one.on}, key=lambda pair: pair[::-1])


def lines_of(finding: Finding) -> list[int]:
    """The lines of the record that a finding rests on."""
    return sorted({one.line for one in finding.evidence if one.line})


def before_work(finding: Finding, record: Record, began: str) -> bool | None:
    """Whether everything a finding rests on was recorded before a day; None when the record gives no date for it."""
    days = {one.on for one in finding.evidence if one.on}
    if not days or any(not one.on for one in finding.evidence):
        days |= {visit.on for visit in record.visits.values()}
    return all(day < began for day in days) if days else None


def why(entry: Entry) -> str:
    """Why the outcome is what it is, in a sentence; empty where the records simply agree or differ in grade."""
    if not entry.ground:
        return ""
    sentence: str = data("comparison")["come" if entry.earlier is None else "gone"][entry.ground]
    said = statement_words(entry.statement) if entry.statement is not None else ""
    open_words = "; ".join(dict.fromkeys(
        f"{one.missing.replace('_', ' ')} of {one.of} ({one.reason})" for one in entry.open[:MOST]
    ))  # fmt: skip
    text = sentence.format(said=said, item=entry.finding.place, open=open_words)
    if entry.statement is not None and "{said}" not in sentence:
        text += f" The thing itself is older ({said}); that this finding is as old is not shown by it."
    return text


def statement_words(said: Statement) -> str:
    """`taken out by log entry 3 (line 80, B. Sample on 2027-05-06)`."""
    about = [*([f"line {said.line}"] if said.line else []), *_by([(said.by, said.on)])]
    return f"{said.words} ({', '.join(about)})" if about else said.words


def _by(witnesses: Iterable[Seen]) -> list[str]:
    return [" ".join(filter(None, [by, f"on {on}" if on else ""])) for by, on in witnesses if by or on]


def _again(entry: Entry) -> list[Seen]:
    """Who saw it for the later record, less what is the same look as in the earlier one."""
    if entry.earlier is None or entry.later is None:
        return []
    before = set(seen(entry.earlier))
    return [pair for pair in seen(entry.later) if pair not in before]


# -- as text


def comparison_text(found: Comparison, asked: Asked | None = None) -> str:
    """The whole comparison, what is new and worse first, no line wider than 80 columns."""
    asked = asked or Asked()
    parts = [_head(found, asked)]
    for outcome in OUTCOMES:
        entries = found.of(outcome)
        if entries:
            parts.append(_section(outcome, entries, found, asked))
    if found.by_edition:
        parts.append(_editions(found))
    if found.notes:
        notes = [line for note in found.notes for line in wrap(note, "  ", "    ")]
        parts.append("\n".join([rule_line("ABOUT THE TWO RECORDS"), *notes]))
    if asked.accepted is not None and asked.accepted.stale:
        parts.append(stale_text(asked.accepted))
    parts.append(_meanings())
    return "\n\n".join(parts) + "\n"


def _head(found: Comparison, asked: Asked) -> str:
    one, two = found.earlier.record, found.later.record
    lines = wrap(two.name + (" (invented record)" if two.invented else ""))
    for word, record, as_of in (("Earlier", one, found.as_of_earlier), ("Later", two, found.as_of_later)):
        visits = joined([f"{visit.on} by {visit.by}" for visit in record.visits.values()][:MOST])
        lines += wrap(f"{word} record {record.document.name}, SHA-256 {record.document.sha256[:16]}")
        lines += wrap(f"Visits: {visits or 'none recorded'}. Judged as of {as_of}.", "  ")
    if asked.work_began:
        lines += wrap(f"The work began on {asked.work_began}, as given for this comparison.")
    for name in asked.named:
        lines += wrap(f"With rules from {name}.")
    for one_of in found.later.tables.amendments.given:
        lines += wrap(f"Local amendments: {one_of.name}, from {one_of.effective}; {one_of.source}.")
    lines += ["", *wrap(data("comparison")["statement"]), ""]
    counts = found.counts
    for outcome in OUTCOMES:
        worse = sum(entry.worse for entry in found.of(outcome))
        lines.append(f"{counts[outcome]:>6}  {outcome}{f', {worse} of them worse' if worse else ''}")
    if asked.accepted is not None:
        lines.append(f"{asked.accepted.count:>6}  of these accepted for now")
    failed = sum(survey.results.totals["rule failed"] for survey in (found.earlier, found.later))
    if failed:
        lines += wrap(f"{failed:>6}  checks whose rule failed; their silence means nothing")
    return "\n".join(lines)


def _section(outcome: str, entries: list[Entry], found: Comparison, asked: Asked) -> str:
    lines = [rule_line(outcome.upper()), *wrap(data("comparison")["outcomes"][outcome])]
    for entry in entries:
        lines += ["", *_entry_lines(entry, found, asked)]
    return "\n".join(lines)


@dataclass(frozen=True, slots=True)
class Told:
    """One entry in words: place, grade now and before, statement, and the sentences on how it came to be.

    `caution` is empty where the finding does not stand any more.
    """

    place: str
    graded: str
    statement: str
    sentences: tuple[str, ...]
    caution: str
    local_code: str


def told(entry: Entry, found: Comparison, asked: Asked) -> Told:
    """What every form for reading says of an entry, in this order."""
    finding = entry.finding
    held = asked.accepted.of(finding.identity) if asked.accepted is not None else None
    sentences = [*_history(entry, found, asked), *_differences(entry)]
    if held is not None:
        sentences.append(accepted_words(held, finding.identity))
    sentences.append(f"{_named(entry)} Rule {finding.rule.name}.")
    caution = finding.rule.caution if entry.outcome not in _CLOSED else ""
    return Told(finding.place, _graded(entry), finding.statement, tuple(sentences), caution, finding.rule.defer)


def _entry_lines(entry: Entry, found: Comparison, asked: Asked) -> Iterator[str]:
    said = told(entry, found, asked)
    yield from wrap(said.place, "", "  ")
    yield from wrap(f"{said.graded} {said.statement}", "  ")
    for sentence in (*said.sentences, *([said.caution] if said.caution else []), f"Local code: {said.local_code}"):
        yield from wrap(sentence, "  ", "    ")


def _graded(entry: Entry) -> str:
    finding = entry.finding
    if entry.outcome == CHANGED and entry.earlier is not None:
        before = entry.earlier
        worse = "; worse" if entry.worse else ""
        return f"{finding.grade.capitalize()}, {finding.certainty}; was {before.grade}, {before.certainty}{worse}."
    word = "Was " if entry.outcome in _CLOSED else ""
    grade = finding.grade if word else finding.grade.capitalize()
    return f"{word}{grade}, {finding.certainty}."


def _named(entry: Entry) -> str:
    """`Finding 4e99..., in the earlier record 12ab...`."""
    if entry.later is None:
        return f"Finding {entry.finding.identity} of the earlier record."
    if entry.earlier is None or entry.earlier.identity == entry.later.identity:
        return f"Finding {entry.finding.identity}."
    return f"Finding {entry.later.identity}, in the earlier record {entry.earlier.identity}."


def _history(entry: Entry, found: Comparison, asked: Asked) -> Iterator[str]:
    """Since when it is known, who saw it, and whether anybody looked again."""
    if entry.earlier is not None:
        was = "Was there" if entry.earlier.certainty != "possible" else "Was a question"
        about = f", seen by {_seen_by(entry.earlier, found.earlier.record)}{_lines(entry.earlier, 'earlier')}"
        before = before_work(entry.earlier, found.earlier.record, asked.work_began) if asked.work_began else None
        if before:
            yield f"{was} before the work began on {asked.work_began}{about}."
        else:
            late = f" Not shown to be before the work began on {asked.work_began}." if asked.work_began else ""
            yield f"{was} by the earlier record{about}.{late}"
    if entry.edition:
        yield f"Earlier record: {entry.edition}."
    if entry.outcome == STILL_THERE:
        again = _by(_again(entry))
        yield f"Seen again by {quoted_list(again, 4)}." if again else "No later look at it is recorded."
    elif entry.earlier is None:
        yield f"Found by {_seen_by(entry.finding, found.later.record)}{_lines(entry.finding, 'later')}."


def _seen_by(finding: Finding, record: Record) -> str:
    """Who saw it and when; where the record does not say of which visit it is, all of them."""
    named = _by(seen(finding))
    visits = _by((visit.by, visit.on) for visit in record.visits.values())
    return quoted_list(named, 4) if named else " or ".join(visits[:4]) or "somebody, on a day not recorded"


def _lines(finding: Finding, which: str) -> str:
    lines = lines_of(finding)
    if not lines:
        return ""
    return f" (line{'s' * (len(lines) > 1)} {quoted_list(map(str, lines), 8)} of the {which} record)"


def _differences(entry: Entry) -> Iterator[str]:
    sentence = why(entry)
    if sentence:
        yield sentence
    for what in entry.skipped:
        yield f"Not looked at, by the later record: {what}."
    shown = list(_shown(entry))
    for change in shown[:MOST]:
        yield change_words(change)
    if len(shown) > MOST:
        yield f"And {plural(len(shown) - MOST, 'more difference')}, all in --format json."


def _shown(entry: Entry) -> Iterator[Change]:
    """The differences that matter: those both records speak of where they decide, and silences where these do."""
    decided = entry.outcome in (CHANGED, *_CLOSED) or entry.ground == "says otherwise"
    spoken = [change for change in entry.because if not change.silent]
    if entry.ground == "left out" or not spoken:
        yield from entry.because
    elif decided:
        yield from spoken
    else:
        yield from (change for change in entry.because if change.silent)
        yield from spoken


def change_words(change: Change) -> str:
    """`W3, gauge: 14 (line 43, printed legend) before; 12 (line 51, B. Sample on 2027-05-06) now.`"""
    return f"{change.item}, {change.fact}: {look_words(change.earlier)} before; {look_words(change.later)} now."


def look_words(look: Look) -> str:
    """What one record says of one thing, with its line, the way it is known, by whom and when."""
    unit = f" {look.unit}" if look.unit and look.seen else ""
    written = f", written {look.written}" if look.written and look.written != look.value and look.seen else ""
    line = [f"line {look.line}"] if look.line else []
    about = [*line, *([look.how] if look.how else []), *_by([(look.by, look.on)])]
    told = f" ({', '.join(about)})" if about else ""
    return f"{look.value}{unit}{written}{told}"


def _editions(found: Comparison) -> str:
    about = (
        f"Findings of the earlier record by the tables of {found.as_of_earlier} that those of {found.as_of_later} do "
        "not give. The house need not have changed."
    )
    lines = [rule_line("ONLY BY THE TABLES OF THE EARLIER DATE"), *wrap(about)]
    for finding in found.by_edition:
        lines += ["", *wrap(finding.place, "", "  ")]
        lines += wrap(f"{finding.grade.capitalize()}, {finding.certainty}. {finding.statement}", "  ")
        lines += wrap(f"Finding {finding.identity}. Rule {finding.rule.name}.", "  ", "    ")
        lines += wrap(finding.rule.caution, "  ", "    ")
        lines += wrap(f"Local code: {finding.rule.defer}", "  ", "    ")
    return "\n".join(lines)


def _meanings() -> str:
    grades = data("grades")
    lines = [rule_line("WHAT THE WORDS MEAN")]
    for word, meaning in {**grades["meanings"], **grades["certainty_meanings"]}.items():
        lines += wrap(f"{word}: {meaning}", "  ", "    ")
    return "\n".join(lines)


# -- as data


def comparison_data(found: Comparison, asked: Asked | None = None) -> dict[str, Any]:
    """The whole comparison as plain values, in the order of the text."""
    asked = asked or Asked()
    return {
        "earlier": _record_data(found.earlier.record, found.as_of_earlier),
        "later": _record_data(found.later.record, found.as_of_later),
        "run": {
            "asfound": __version__, "work_began": asked.work_began, "named_rules": list(asked.named),
            "rules": [{"rule": rule.name, "revision": rule.revision} for rule in found.later.rules],
            "amendments": [
                {"name": one.name, "effective": one.effective, "source": one.source, "file": one.file.name,
                 "sha256": one.sha256, "in_force": one.effective <= found.as_of_later}
                for one in found.later.tables.amendments.given
            ],
            "statement": data("comparison")["statement"],
        },
        "counts": {
            "outcomes": {outcome: found.counts[outcome] for outcome in OUTCOMES},
            "worse": sum(entry.worse for entry in found.entries),
            "rule_failed": sum(survey.results.totals["rule failed"] for survey in (found.earlier, found.later)),
        },
        "findings": [_entry_data(entry, found, asked) for entry in found.entries],
        "by_edition": [_finding_data(finding) for finding in found.by_edition],
        "notes": list(found.notes),
        "accepted": None if asked.accepted is None else accepted_data(asked.accepted),
    }  # fmt: skip


def _record_data(record: Record, as_of: str) -> dict[str, Any]:
    return {
        "file": record.document.name, "sha256": record.document.sha256, "site": record.name,
        "invented": record.invented, "as_of": as_of,
        "visits": [{"visit": visit.tag, "on": visit.on, "by": visit.by} for visit in record.visits.values()],
    }  # fmt: skip


def _entry_data(entry: Entry, found: Comparison, asked: Asked) -> dict[str, Any]:
    finding, rule = entry.finding, entry.finding.rule
    began = asked.work_began
    held = asked.accepted.of(finding.identity) if asked.accepted is not None else None
    return {
        "outcome": entry.outcome, "ground": entry.ground, "why": why(entry), "worse": entry.worse,
        "rule": rule.name, "title": rule.title,
        "earlier": None if entry.earlier is None else _finding_data(entry.earlier),
        "later": None if entry.later is None else _finding_data(entry.later),
        "before_work": before_work(entry.earlier, found.earlier.record, began) if entry.earlier and began else None,
        "seen_again": [{"by": by, "on": on} for by, on in _again(entry)],
        "because": [_change_data(change) for change in entry.because],
        "statement": None if entry.statement is None else {
            "said": entry.statement.words, "line": entry.statement.line, "by": entry.statement.by,
            "on": entry.statement.on,
        },
        "open": [
            {"missing": one.missing, "of": one.of, "reason": one.reason, "observe": one.observe} for one in entry.open
        ],
        "not_looked_at": list(entry.skipped), "edition": entry.edition,
        "accepted": None if held is None else acceptance_data(held),
        "caution": rule.caution, "local_code": rule.defer,
    }  # fmt: skip


def _finding_data(finding: Finding) -> dict[str, Any]:
    return {
        "identity": finding.identity, "grade": finding.grade, "certainty": finding.certainty, "item": finding.at,
        "place": finding.place, "cause": finding.cause, "statement": finding.statement,
        "seen": [{"by": by, "on": on} for by, on in seen(finding)], "lines": lines_of(finding),
    }  # fmt: skip


def _change_data(change: Change) -> dict[str, Any]:
    return {
        "item": change.item, "fact": change.fact, "earlier": _look_data(change.earlier),
        "later": _look_data(change.later), "agree": change.agree, "traced": change.traced,
    }  # fmt: skip


def _look_data(look: Look) -> dict[str, Any]:
    return {
        "value": look.value, "seen": look.seen, "unit": look.unit, "written": look.written, "line": look.line,
        "how": look.how, "by": look.by, "on": look.on,
    }  # fmt: skip


__all__ = ["Asked", "Told", "comparison_data", "comparison_text", "told"]
