"""What a rule promises, and how what its cases show is held: by fact, by case, and as troubles."""

from __future__ import annotations

from dataclasses import dataclass, field
from pathlib import Path

from asfound.judge.cases import Case
from asfound.judge.tables import Row
from asfound.kit.prove_vary import Variation, Verdict

LISTED, OUTCOME, UNCHANGED, SAME, NEVER_CLEARS, STANDS = (
    "cases stand in all three lists",
    "each case comes out as it says",
    "the record stays as it is",
    "the same facts give the same verdict",
    "a missing fact never clears",
    "no fact makes the rule fail",
)
TWICE, READ, COUNTS, EDGE, WAYS, PARTS, DOUBT = (
    "no case is told twice",
    "every fact stated is read",
    "every fact read can change the verdict",
    "a case stands at every limit",
    "every condition goes both ways",
    "every part of a condition goes both ways",
    "doubt is told by a case",
)
CAUTION, DEFERS, SOURCE, TITLE, WORDING, SENTENCES = (
    "the caution opens with a fitting signal word",
    "it defers to local code and licensed practice",
    "it says where it comes from",
    "it has a title and says what it cannot see",
    "it promises no safety and accuses nobody",
    "its sentences read as sentences",
)
KEPT = "a changed verdict raises the revision"
FOR_EACH_CASE = (OUTCOME, UNCHANGED, SAME, NEVER_CLEARS, STANDS)
PROMISES = (LISTED, *FOR_EACH_CASE, TWICE, READ, COUNTS, EDGE, WAYS, PARTS, DOUBT, CAUTION, DEFERS, SOURCE, TITLE,
            WORDING, SENTENCES, KEPT)  # fmt: skip


@dataclass(frozen=True, slots=True)
class Trouble:
    """One promise not kept, or with `grave` false one thing worth a look.

    `file` and `line` say where, `case` which case (empty for the whole rule),
    `cause` what, `step` what to do next. `beside` holds texts to be read one
    below the other, each with its name: what the case expects, what the rule says.
    """

    promise: str
    grave: bool
    rule: str
    file: Path
    line: int
    cause: str
    step: str
    case: str = ""
    beside: tuple[tuple[str, str], ...] = ()


@dataclass(frozen=True, slots=True)
class ReadFact:
    """One fact a case reads: `box.cover`, of which item, its value in words, and whether the case states it."""

    path: str
    item: str
    value: str
    stated: bool


@dataclass(slots=True)
class CaseProof:
    """One case: what came out, every fact and table row read in whatever world, and every variation.

    `said` are the sentences of every world, and what is asked for where something is missing.
    """

    case: Case
    verdict: Verdict
    worlds: int
    reads: tuple[ReadFact, ...]
    rows: tuple[Row, ...]
    variations: tuple[Variation, ...]
    said: tuple[str, ...]
    troubles: list[Trouble] = field(default_factory=list)


@dataclass(slots=True)
class FactProof:
    """One fact over all cases of a rule: in how many it is stated and read, and what became of it when changed."""

    path: str
    line: int
    relation: bool = False  # leads to other items, and has no value of its own
    number: bool = False
    stated: int = 0
    read: int = 0
    varied: int = 0
    turned: int = 0
    edge: int = 0  # cases in which the smallest step of a number turns the verdict
    missed: int = 0  # cases whose verdict is another without it
    reworded: int = 0
