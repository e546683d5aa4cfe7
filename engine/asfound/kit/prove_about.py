"""What a rule says of itself, and what it puts before a reader."""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path

from asfound.judge.cases import cases_file
from asfound.judge.rules import BASES, Rule
from asfound.judge.unsaid import step, unsaid_in
from asfound.kit.new import FILL
from asfound.kit.outside import caution_wrong
from asfound.kit.prove_promises import (
    CAUTION,
    DEFERS,
    SENTENCES,
    SOURCE,
    TITLE,
    WORDING,
    CaseProof,
    Trouble,
)  # fmt: skip


def about(rule: Rule) -> Iterator[Trouble]:
    """What the rule says of itself, besides its cases."""

    def wrong(promise: str, cause: str, step: str, *, grave: bool = True) -> Trouble:
        return Trouble(promise, grave, rule.name, rule.file, rule.line, cause, step)

    if caution := caution_wrong(rule):
        yield wrong(CAUTION, *caution)
    if not rule.defer.strip():
        yield wrong(
            DEFERS, "it has no deferral", "write defer=: that the adopted local code and licensed practice decide"
        )
    elif not (
        re.search(r"\blocal code\b", rule.defer) and re.search(r"\blicensed (practice|electrician)\b", rule.defer)
    ):
        yield wrong(
            DEFERS, f"its deferral {rule.defer!r} does not name both local code and licensed practice",
            "say that the adopted local code and licensed practice, or a licensed electrician, decide",
        )  # fmt: skip
    if not rule.source.strip():
        yield wrong(SOURCE, "it has no source", "write source=, or the words common practice, no source")
    if rule.basis not in BASES:
        yield wrong(SOURCE, f"its basis is {rule.basis!r}", f"write basis=, one of {', '.join(BASES)}")
    if not rule.title.strip():
        yield wrong(TITLE, "it has no title", "say in one line what is wrong when it finds something")
    elif not rule.title[0].isupper() or rule.title.endswith("."):
        yield wrong(TITLE, f"its title is {rule.title!r}", "begin with a capital and leave out the full stop")
    if rule.notes.strip().lower().startswith(FILL):
        yield wrong(TITLE, "its notes are not filled in yet", "say what it cannot see, and what it leaves out")
    elif not rule.notes.strip():
        yield wrong(
            TITLE, "it does not say what it cannot see", "add a line on what it leaves out and what else it can be",
            grave=False,
        )  # fmt: skip


def texts(rule: Rule, cases: list[CaseProof]) -> Iterator[Trouble]:
    """Nothing a rule prints promises safety or accuses, and every sentence reads as one."""
    printed = [(text, rule.file, rule.line, "") for text in (rule.title, rule.notes, rule.caution, rule.defer)]
    for one in cases:
        where = (cases_file(rule), one.case.line, f"{one.case.list}, {one.case.why}")
        printed += [(said, *where) for said in one.said]
        for said in dict.fromkeys(one.verdict.says):
            yield from _sentence(rule, said, *where)
    told: set[str] = set()
    for text, file, line, case in printed:
        found = unsaid_in(text)
        if found and text not in told:
            told.add(text)
            yield Trouble(WORDING, True, rule.name, file, line, f"it says {found!r}: {text}", step(), case)


def _sentence(rule: Rule, said: str, file: Path, line: int, case: str) -> Iterator[Trouble]:
    if not said.endswith("."):
        yield Trouble(SENTENCES, True, rule.name, file, line, f"no full stop: {said}", "end it with a full stop", case)
    if said != " ".join(said.split()):
        yield Trouble(
            SENTENCES, True, rule.name, file, line, f"doubled blanks or a line break: {said!r}",
            "keep it to one line with single blanks", case,
        )  # fmt: skip
    left = re.search(r"None|\{|\}|<|_|\(\)|, ,|\.\.|[0-9]\.[0-9]{5}", said)
    if left:
        yield Trouble(
            SENTENCES, False, rule.name, file, line, f"{left[0]!r} looks like a leftover of a program: {said}",
            "put it in words, and numbers with few decimals", case,
        )  # fmt: skip
