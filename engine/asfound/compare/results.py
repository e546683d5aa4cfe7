"""What a comparison gives."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass, field

from asfound.compare.looks import Change
from asfound.compare.side import Statement
from asfound.judge.results import CannotTell, Finding
from asfound.survey import Survey

NEW = "new"
CHANGED = "changed"
NEWLY_SEEN = "newly seen"
STILL_THERE = "still there"
NOT_SEEN = "can no longer be seen"
SETTLED = "settled"
NO_LONGER_THERE = "no longer there"
REPAIRED = "repaired"
OUTCOMES = (NEW, CHANGED, NEWLY_SEEN, STILL_THERE, NOT_SEEN, SETTLED, NO_LONGER_THERE, REPAIRED)


@dataclass(frozen=True, slots=True)
class Entry:
    """One finding of either record, or of both, and what became of it.

    `ground` says why (see data/comparison.yaml). `because` are the statements
    in which the records differ, `open` what one of them could not tell,
    `skipped` what the later record says was not looked at in its place.
    `edition` is set where the finding hangs on the date of the tables.
    """

    outcome: str
    ground: str
    earlier: Finding | None
    later: Finding | None
    because: tuple[Change, ...] = ()
    statement: Statement | None = None
    open: tuple[CannotTell, ...] = ()
    worse: bool = False
    edition: str = ""
    skipped: tuple[str, ...] = ()

    @property
    def finding(self) -> Finding:
        """The finding as the later record has it, else as the earlier one has it."""
        found = self.later or self.earlier
        assert found is not None
        return found


@dataclass(slots=True)
class Comparison:
    """Two judged records and what became of every finding. `by_edition` are findings of the earlier record that only
    the tables of its own date give; `notes` what a reader has to know of the two records themselves."""

    earlier: Survey
    later: Survey
    entries: list[Entry] = field(default_factory=list)
    by_edition: list[Finding] = field(default_factory=list)
    as_of_earlier: str = ""
    notes: list[str] = field(default_factory=list)

    @property
    def as_of_later(self) -> str:
        return self.later.tables.as_of

    @property
    def counts(self) -> Counter[str]:
        """Entries by outcome."""
        return Counter(entry.outcome for entry in self.entries)

    def of(self, outcome: str) -> list[Entry]:
        """The entries with this outcome, in order."""
        return [entry for entry in self.entries if entry.outcome == outcome]
