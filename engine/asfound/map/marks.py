"""Words of marks that hang on a wall: when they were true, by whom, and which log entry says so."""

from __future__ import annotations

from collections.abc import Iterable
from itertools import pairwise

from asfound.map.text import short, tied
from asfound.record.facts import EXACT, NOT_RECORDED, Fact, Item
from asfound.record.model import Record
from asfound.render.tree import STATES
from asfound.trace.left import Left
from asfound.trace.nets import by_tag
from asfound.trace.state import DEAD, States
from asfound.wording import joined, quoted_list

MOST = 4
NAME = 24
"""Characters of a name."""
AGAIN = "TEST AGAIN"
_ROLES = {"grounded": "as neutral", "grounding": "as ground", "ungrounded": "feed", "switched": "switched",
          "traveller": "traveller", "isolated": "leads to no bar"}  # fmt: skip
_UNGROUNDED = ("ungrounded", "switched", "traveller")


def entries_words(numbers: Iterable[int]) -> str:
    """`log entry 9`, `log entries 9 and 10`, `log entries 9 to 12`."""
    listed = sorted(dict.fromkeys(numbers))
    if len(listed) > 2 and all(two == one + 1 for one, two in pairwise(listed)):
        return tied(f"log entries {listed[0]} to {listed[-1]}")
    named = [str(one) for one in listed]
    words = joined(named) if len(named) <= MOST else quoted_list(named, MOST)
    return f"log {'entry' if len(listed) == 1 else 'entries'} {words}"


def dead_words(record: Record, states: States, conductors: Iterable[Item]) -> str:
    """`PROVEN DEAD 2026-05-12, log entry 19: TEST AGAIN (by K. Sample)` for conductors of which all were.

    Of several proofs every entry is named, and the day of the oldest.
    """
    numbers = sorted({states.of(one).since for one in conductors if states.of(one).word == DEAD} - {0})
    listed = [record.log[number - 1] for number in numbers]
    days = [day for day in (_day(record, entry.at, entry.visit) for entry in listed) if day]
    who: dict[str, None] = {}
    for entry in listed:
        visit = record.visit_of(entry.visit)
        who[entry.by or (visit.by if visit is not None else "")] = None
    names = [short(name, NAME) for name in who if name]
    when = f"{'oldest ' if len(set(days)) > 1 else ''}{min(days)}" if days else "on a day not recorded"
    by = f" (by {quoted_list(names, 2)})" if names else ""
    told = f", {entries_words(numbers)}" if numbers else ""
    return f"{STATES[DEAD]} {when}{told}: {tied(AGAIN)}{by}"


def _day(record: Record, at: str, visit: str) -> str:
    moment = record.moment(at, visit)
    if moment[4:5] == "-":
        return moment[:10]
    held = record.visit_of(visit)
    return held.on if held is not None else ""


def left_words(held: Left) -> str:
    """`LEFT OFF AND LOCKED 2026-05-04, log entries 9 and 10`; `found tripped 2026-05-04`."""
    state = held.state.upper() if held.stays or held.tagged else held.state
    verb = "found" if held.found else "left"
    when = f" {joined(held.days)}" if held.days else ""
    told = f", {entries_words(entry.number for entry in held.entries)}" if held.entries else ""
    return f"{verb.upper() if state.isupper() else verb} {state}{when}{told}"


def unusual(conductors: Iterable[Item]) -> list[str]:
    """`bare as neutral`, `red as neutral?`: each conductor whose role is not that of its colour, with a question mark
    where the role is only taken to be so."""
    said = []
    for one in by_tag(conductors):
        function: Fact = one.data["function"]
        usual: Fact = one.data.get("colour_role", NOT_RECORDED)
        does = str(function.value) if len(function.values) >= 1 else ""
        group = _UNGROUNDED if does in (*_UNGROUNDED, "isolated") else (does,)
        if does in _ROLES and usual.values and not any(role in group for role in usual.values):
            name = one.tag.removeprefix(f"{one.data['cable'].tag} ")
            said.append(f"{name} {_ROLES[does]}{'' if function.kind == EXACT else '?'}")
    return said
