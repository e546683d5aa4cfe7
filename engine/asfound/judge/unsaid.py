"""What no rule may say: that something is safe, clear or dead. The words are in `data/unsaid.yaml`."""

from __future__ import annotations

import functools
import re
from typing import TYPE_CHECKING

from asfound.data import data
from asfound.record.forms import is_free_text

if TYPE_CHECKING:
    from asfound.judge.results import Finding


def unsaid_in(text: str) -> str:
    """The words of a text that no rule may say, as they stand there; empty when there are none."""
    for said, unless in _patterns():
        for found in said.finditer(text):
            before = re.split(r"[.:;!?]\s", text[: found.start()])[-1]
            if unless is None or not unless.search(before):
                return found[0]
    return ""


def step() -> str:
    """What to write instead."""
    return str(data("unsaid")["step"])


@functools.cache
def _patterns() -> list[tuple[re.Pattern[str], re.Pattern[str] | None]]:
    return [
        (
            re.compile(one["said"], re.IGNORECASE),
            re.compile(rf"\b({one['unless']})\b", re.IGNORECASE) if "unless" in one else None,
        )
        for one in data("unsaid")["words"]
    ]


def unsaid_of(finding: Finding) -> str:
    """The words of a finding's sentence that no rule may say; names and free texts of the record are not its own."""
    text = finding.statement
    quoted = {finding.place}
    for one in finding.evidence:
        quoted.add(one.item)
        if is_free_text(one.fact):
            quoted |= {one.value, one.written}
    for words in sorted(quoted - {""}, key=len, reverse=True):
        text = re.sub(rf"(?<!\w){re.escape(words)}(?!\w)", "…", text)
    return unsaid_in(text)


def why(words: str) -> str:
    """Why a rule failed that said such words."""
    return f"its sentence says {words!r}, which no rule may say; {step()}"
