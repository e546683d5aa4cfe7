"""The acts by which a fact can be seen, from the data file `observations.yaml`. Pure look-ups."""

from __future__ import annotations

import functools
from dataclasses import dataclass
from typing import Any

from asfound.data import data


@dataclass(frozen=True, slots=True)
class Act:
    """One way of looking: at which kinds of place, on what, with which tool, by whom, after what precaution.

    `live` when the place has to be made and proven dead first, `needs_live` when it tells nothing of what is off.
    `share` is what one such act counts for where it
    shows a thing in part, `order` its place in the data file.
    """

    name: str
    do: str
    at: tuple[str, ...]
    one_for: str
    tool: str
    who: str
    effort: int
    before: str
    live: bool
    needs_live: bool
    share: float
    order: int


@functools.cache
def acts() -> dict[str, Act]:
    """All acts by name."""
    return {
        name: Act(
            name, held["do"], tuple(held["at"]), held["one for"], held["tool"], held["who"], held["effort"],
            held.get("before", ""), held.get("live", False), held.get("needs live", False),
            held.get("share", 1.0), number,
        )
        for number, (name, held) in enumerate(data("observations")["acts"].items())
    }  # fmt: skip


@functools.cache
def _by_fact() -> dict[tuple[str, str], tuple[tuple[Act, bool], ...]]:
    found: dict[tuple[str, str], list[tuple[Act, bool]]] = {}
    for name, held in data("observations")["acts"].items():
        shows: dict[str, Any] = dict(held["shows"])
        unwritten = shows.pop("unwritten", {})
        for part, only in ((shows, False), (unwritten, True)):
            for kind, facts in part.items():
                for fact in facts:
                    found.setdefault((kind, fact), []).append((acts()[name], only))
    return {key: tuple(listed) for key, listed in found.items()}


def acts_for(kind: str, fact: str) -> tuple[tuple[Act, bool], ...]:
    """The acts that show a fact of an item kind, each with whether it does so only where nobody wrote it down yet."""
    return _by_fact().get((kind, fact), ())


def follows(kind: str, fact: str) -> tuple[str, ...]:
    """What a fact follows from: `trace`, a fact of the same item, or `relation.fact`."""
    return tuple(data("observations")["follows"].get(kind, {}).get(fact, ()))


def weight(grade: str) -> float:
    """What one open question of a grade counts for."""
    return float(data("observations")["weights"]["grades"][grade])


def chance(name: str) -> float:
    """`stated` or `defect`: a chance of the data file."""
    return float(data("observations")["chances"][name])


def unknown(name: str) -> int:
    """`conductors`, `cables` or `places_beyond`: what is counted where nothing is known."""
    return int(data("observations")["unknown"][name])
