"""Findings of two records that are one finding: same rule, same thing, same cause."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from asfound.compare.pairs import Pairs
from asfound.compare.side import Side
from asfound.judge.results import Finding

Edge = tuple[Finding | None, Finding | None]


def matched(earlier: Side, later: Side, pairs: Pairs, before: Iterable[Finding], now: Iterable[Finding]) -> list[Edge]:
    """Every finding of both, with its counterpart; None where there is none. One can have several."""
    before, now = list(before), list(now)
    index: dict[tuple[str, str, str], list[Finding]] = {}
    for finding in before:
        index.setdefault((finding.rule.name, finding.at, finding.cause), []).append(finding)
    edges: list[Edge] = []
    done: set[int] = set()
    rest: list[Finding] = []
    for finding in now:
        found = [
            _one(index[key], done, finding)
            for at in pairs.earlier(finding.at) for cause in _causes(later, earlier, pairs, finding.cause)
            if (key := (finding.rule.name, at, cause)) in index
        ]  # fmt: skip
        edges += [(one, finding) for one in found]
        done |= {id(one) for one in found}
        rest += [] if found else [finding]
    for finding in rest:  # a cause that is also a tag may be just a word
        keys = [(finding.rule.name, at, finding.cause) for at in pairs.earlier(finding.at)]
        free = [one for key in keys for one in index.get(key, ()) if id(one) not in done]
        edges.append((free[0] if free else None, finding))
        done |= {id(one) for one in free[:1]}
    lost = [finding for finding in before if id(finding) not in done]
    edges = list(_elsewhere(earlier, later, pairs, edges, lost))
    return edges + [(finding, None) for finding in lost]


def _elsewhere(earlier: Side, later: Side, pairs: Pairs, edges: list[Edge], lost: list[Finding]) -> Iterator[Edge]:
    """What is said of several nets at once is told at one of them, which can be another one in the other record.

    Such findings are one when the rule and the breakers are. Takes those found out of `lost`.
    """
    waiting: dict[object, list[Finding]] = {}
    for finding in lost:
        waiting.setdefault(_fed(earlier, pairs, "<", finding), []).append(finding)
    waiting.pop(None, None)
    for one, two in edges:
        found = waiting.get(_fed(later, pairs, ">", two)) if one is None and two is not None else None
        if found:
            one = found.pop(0)
            lost.remove(one)
        yield one, two


def _fed(one: Side, pairs: Pairs, mark: str, finding: Finding) -> object:
    """Rule, cause and breakers of a finding at a net that is fed; None for any other."""
    item = one.items.get(finding.at)
    if item is None or item.kind != "net" or not item.data["fed_by"].values:
        return None
    fed = frozenset(pairs.token(f"{mark}{breaker.identity}") for breaker in item.data["fed_by"].value)
    return (finding.rule.name, finding.cause, fed) if fed else None


def _one(listed: list[Finding], done: set[int], finding: Finding) -> Finding:
    """Of findings with one identity the one of the same words, else the first not taken, else the first."""
    free = [one for one in listed if id(one) not in done] or listed
    return next((one for one in free if one.statement == finding.statement), free[0])


def _causes(later: Side, earlier: Side, pairs: Pairs, cause: str) -> Iterator[str]:
    """What a cause reads in the earlier record: the earlier tag where it is a tag, else as it is."""
    named = later.by_tag.get(cause, ()) if cause else ()
    if not named:
        yield cause
    yield from dict.fromkeys(earlier.items[was].tag for identity in named for was in pairs.earlier(identity))


__all__ = ["Edge", "matched"]
