"""The identities that a finding had under earlier tags, so that what was said of it then still finds it."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from pathlib import Path

from asfound.accepted import Accepted, AcceptedFile, held_against
from asfound.compare.side import TAGGED
from asfound.judge.results import Finding, identity_of
from asfound.record.facts import Item
from asfound.survey import Survey
from asfound.trace import Installation

MOST = 200
"""Earlier names of one thing that are tried; a net has as many as it has conductors."""


def former_identities(installation: Installation, findings: Iterable[Finding]) -> dict[str, list[str]]:
    """Identities that the findings had under the tags named by `was`: by such an identity the present ones.

    The present identity of a finding is not among them.
    """
    if not any(item.was for kind in TAGGED for item in installation.items.get(kind, ())):
        return {}
    items = {item.identity: item for listed in installation.items.values() for item in listed}
    by_tag: dict[str, list[Item]] = {}
    for kind in (*TAGGED, "conductor", "net"):
        for item in installation.items.get(kind, ()):
            by_tag.setdefault(item.tag, []).append(item)
    found: dict[str, list[str]] = {}
    for finding in findings:
        item = items[finding.at]
        causes = dict.fromkeys([finding.cause, *(tag for one in by_tag.get(finding.cause, ()) for tag in _names(one))])
        names = list(dict.fromkeys(_names(item)))[:MOST]
        for name in names:
            for cause in causes if finding.cause else ("",):
                former = identity_of(finding.rule.name, f"{item.kind} {name}", [], cause)
                if former != finding.identity and finding.identity not in found.setdefault(former, []):
                    found[former].append(finding.identity)
    return {former: present for former, present in found.items() if present}


def _names(item: Item) -> Iterator[str]:
    """The tags a thing has and had, the present one first; parts go with what they are parts of."""
    yield item.tag
    if item.kind == "breaker":
        panel = item.data["panel"]
        space = item.tag.removeprefix(f"{panel.tag} ")
        for tag in _names(panel):
            yield f"{tag} {space}"
            yield from (f"{tag} {was}" for was in item.was)
        yield from item.was
    elif item.kind in ("conductor", "terminal"):
        whole = item.data["cable" if item.kind == "conductor" else "device"]
        part = item.tag.removeprefix(f"{whole.tag} ")
        yield from (f"{tag} {part}" for tag in _names(whole))
    elif item.kind == "end":
        conductor = item.data["conductor"]
        side = item.tag.removeprefix(conductor.tag)
        yield from (f"{tag}{side}" for tag in _names(conductor))
    elif item.kind == "net":
        for conductor in item.data["conductors"]:
            yield from _names(conductor)
    elif item.kind == "circuit":
        listed = [list(dict.fromkeys(_names(breaker))) for breaker in item.data["breakers"].value]
        yield from (" and ".join(names) for names in zip(*listed, strict=False))
    else:
        yield from item.was


def accepted_in(done: Survey, file: AcceptedFile, named: Iterable[Path] = ()) -> Accepted:
    """A file of accepted findings held against a judged record, on the date it was judged by, through new tags.

    An acceptance of a finding of a rule that is retired in a pack of the run,
    installed or `named`, says which finding is there now.
    """
    from asfound.kit.packs import in_use, with_hints

    found = done.results.findings
    held = held_against(file, found, done.tables.as_of, former_identities(done.installation, found))
    return with_hints(held, found, in_use(named)) if held.stale else held


__all__ = ["accepted_in", "former_identities"]
