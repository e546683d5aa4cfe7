"""What differs between two lists of findings, one by one, by identity."""

from __future__ import annotations

import json
from collections import Counter
from collections.abc import Callable, Iterator
from typing import Any

from asfound.seal.unpack import shown

_WORDS = {
    "grade": "grade", "grade_note": "note on the grade", "certainty": "certainty", "statement": "statement",
    "evidence": "evidence", "tables": "table rows", "settle": "what would settle it", "parts": "parts",
    "rule_revision": "revision of the rule", "caution": "caution", "local_code": "deferral", "accepted": "acceptance",
}  # fmt: skip
_SAID = ("grade", "certainty", "statement", "rule_revision")
"""What is told with both values; of the rest it is told that it differs."""

_OF_PLACE = ("topic",)
"""What follows from where the file of a rule lies, which is elsewhere in an archive."""
_OTHERS = {
    "cannot_tell": (("rule", "at", "missing", "of", "reason"), "check that cannot tell"),
    "failed": (("rule", "at", "error"), "failed rule"),
}
"""Results that are no findings: what tells one from another, and how it is called."""

One = dict[str, Any]
Left = Callable[[One], bool]


def findings_apart(sealed: One, now: One, left_out: Left, were: str = "sealed", found: str = "found now") -> list[str]:
    """A clause for each finding, open check and failed rule that is not the same in both.

    Both have the form of `findings.schema.json`; `left_out` says of a result
    that it is not compared. `were` and `found` say in words which list is which.
    """
    told = list(_findings(sealed, now, left_out, were, found))
    for section, (parts, word) in _OTHERS.items():
        before, after = (
            Counter(tuple(str(one[part]) for part in parts) for one in held[section] if not left_out(one))
            for held in (sealed, now)
        )
        told += [f"{word} was {were} and is not {found}: {_told(key)}" for key in sorted((before - after).elements())]
        told += [f"{word} is {found} and was not {were}: {_told(key)}" for key in sorted((after - before).elements())]
    return [*told, *_stale(sealed, now, left_out, were, found)]


def _stale(sealed: One, now: One, left_out: Left, were: str, found: str) -> Iterator[str]:
    """Entries of the accepted findings that do nothing in one of both, but for those of findings that are left out."""
    apart = {
        name for held in (sealed, now) for one in held["findings"] if left_out(one)
        for name in (one["identity"], one.get("accepted", {}).get("finding", ""))
    }  # fmt: skip
    before, after = (
        Counter(
            (one["kind"], one["finding"], one["cause"])
            for one in held.get("accepted", {}).get("stale", ()) if one["finding"] not in apart
        )
        for held in (sealed, now)
    )  # fmt: skip
    for more, less, there, gone in ((before, after, f"was stale {were}", f"is not stale {found}"),
                                    (after, before, f"is stale {found}", f"was not stale {were}")):  # fmt: skip
        for kind, finding, cause in sorted((more - less).elements()):
            said = f"{shown(kind)[1:-1]}, {shown(cause, 200)[1:-1]}"
            yield f"acceptance of finding {shown(finding)[1:-1]} {there} and {gone}: {said}"


def _findings(sealed: One, now: One, left_out: Left, were: str, found: str) -> Iterator[str]:
    before, after = (_by_identity(held, left_out) for held in (sealed, now))
    for identity in dict.fromkeys((*before, *after)):
        mine, theirs = before.get(identity, []), after.get(identity, [])
        for one in mine[len(theirs) :]:
            yield f"finding {_name(one)} was {were} and is not {found}: {shown(one['statement'], 200)}"
        for one in theirs[len(mine) :]:
            yield f"finding {_name(one)} is {found} and was not {were}: {shown(one['statement'], 200)}"
        for one, other in zip(mine, theirs, strict=False):
            told = "; ".join(_fields(one, other))
            if told:
                yield f"finding {_name(one)} differs: {told}"


def _by_identity(held: One, left_out: Left) -> dict[str, list[One]]:
    listed: dict[str, list[One]] = {}
    for one in held["findings"]:
        if not left_out(one):
            listed.setdefault(one["identity"], []).append(one)
    for same in listed.values():
        same.sort(key=lambda one: json.dumps(one, sort_keys=True))
    return listed


def _name(one: One) -> str:
    return f"{one['identity']} ({shown(one['rule'])[1:-1]} at {shown(one['at']['item'])[1:-1]})"


def _fields(one: One, other: One) -> Iterator[str]:
    for name in dict.fromkeys((*one, *other)):
        if one.get(name) != other.get(name) and name not in _OF_PLACE:
            word = _WORDS.get(name, name.replace("_", " "))
            states = [held.get(name, {}).get("state", "none") for held in (one, other)] if name == "accepted" else []
            if states and states[0] != states[1]:
                yield f"{word} was {shown(states[0])}, is {shown(states[1])}"
                continue
            both = f" was {shown(str(one.get(name)), 200)}, is {shown(str(other.get(name)), 200)}"
            yield f"{word}{both if name in _SAID else ' is not the same'}"


def _told(key: tuple[str, ...]) -> str:
    rule, at, *rest = (shown(text, 120)[1:-1] for text in key)
    return f"{rule} at {at} ({'; '.join(rest)})"
