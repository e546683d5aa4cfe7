"""Accepted findings in words: who accepts one, why and until when, and what in their file does nothing."""

from __future__ import annotations

from collections.abc import Sequence

from asfound.accepted import EXPIRED, IN_FORCE, Acceptance, Accepted
from asfound.judge.results import Finding
from asfound.render.lines import rule_line, wrap


def accepted_words(held: tuple[str, Acceptance], identity: str) -> str:
    """`Accepted by J. Owner until 2027-06-30: kitchen is gutted in June.`"""
    word, entry = held
    reason = f"{entry.reason.rstrip('.')}."
    if entry.finding != identity:
        reason += f" The entry names it {entry.finding}, as under an earlier tag."
    if word == IN_FORCE:
        kept = f" Kept away: {entry.kept_away.rstrip('.')}." if entry.kept_away else ""
        note = f" Note: {entry.note.rstrip('.')}." if entry.note else ""
        return f"Accepted by {entry.by} until {entry.until}: {reason}{kept}{note} It stands as graded."
    if word == EXPIRED:
        return f"Was accepted by {entry.by} until {entry.until}, which is past: {reason} It counts again."
    return f"Not accepted, for the entry of {entry.by} does not say what keeps people away: {reason}"


def words_of_group(group: Sequence[Finding], accepted: Accepted | None) -> list[str]:
    """What is accepted of findings that are told together; with identities where that is not all of them alike."""
    if accepted is None:
        return []
    said: dict[str, list[str]] = {}
    for finding in group:
        held = accepted.of(finding.identity)
        if held is not None:
            said.setdefault(accepted_words(held, finding.identity), []).append(finding.identity)
    return [
        words if len(identities) == len(group) else f"{', '.join(identities)}: {words}"
        for words, identities in said.items()
    ]


def stale_text(accepted: Accepted) -> str:
    """The section that names the file and its stale entries; of a file in order the file alone."""
    lines = [rule_line("ACCEPTED FINDINGS"), *wrap(f"File {accepted.file.name}, SHA-256 {accepted.file.sha256[:16]}.")]
    if not accepted.stale:
        lines += wrap("Every entry in it is in force.", "  ")
    for one in accepted.stale:
        lines += wrap(f"{one.words}.", "  ", "    ")
    return "\n".join(lines)
