"""A trace as asked for: the whole, one circuit, place or conductor, the labels, or the log; as text or as data.

The data has the form of `trace.schema.json`, with the same content as the text.
`record` and `run` say what was read and by what. The whole has `panels` (in
order, each behind the one that feeds it, with the tags of its circuits),
`circuits`, `groups` (what is not traced to a breaker), `bare` (cables that only
ground or return), `devices` and `places` that no way leads to, and `flags` at
none of these. A selection has `circuits`, `place` or `wires` alone, the rest
`labels` or `log`. Lines of a tree stand in one list in the order of reading:
`line` is the place in it, `under` the line that it hangs under, or null, and
`depth` how far in. Keys are only ever added.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, fields, is_dataclass
from typing import Any

from asfound import __version__
from asfound.data import data
from asfound.judge.results import Results
from asfound.load.values import shown
from asfound.names import Names
from asfound.pause import collector_paused
from asfound.record.facts import Item
from asfound.render.asdata import RunFacts
from asfound.render.changes import moments, moments_text
from asfound.render.flags import Flags
from asfound.render.rows import Rows
from asfound.render.schedule import labels, schedule_text
from asfound.render.spot import place_of, place_text, wires_of, wires_text
from asfound.render.tree import circuit_lines, head, legend, trace_text
from asfound.trace.circuits import Installation
from asfound.trace.walk import walk


@dataclass(frozen=True, slots=True)
class Traced:
    """A traced record; `results` is None when no rules were run."""

    installation: Installation
    results: Results | None
    run: RunFacts


class NotThere(Exception):
    """Nothing in the record has this name; the text says which was meant."""


def text_of(traced: Traced, at: str | None = None, what: str | None = None) -> str:
    """What was asked for, as text: all, what is `at` a tag, or `what`: labels or log. Raises `NotThere`."""
    with collector_paused():
        return "\n\n".join(_blocks(traced, at, what)) + "\n"


def _blocks(traced: Traced, at: str | None, what: str | None) -> Iterator[str]:
    parts = _Parts(traced, at)
    failed = len(traced.results.failed) if traced.results is not None else 0
    yield head(traced.installation.record, traced.run, failed)
    if what == "labels":
        yield schedule_text(labels(parts.rows, parts.rows.trace()))
    elif what == "log":
        yield moments_text(moments(traced.installation))
    else:
        yield legend()
        yield from parts.text()


def data_of(traced: Traced, at: str | None = None, what: str | None = None) -> dict[str, Any]:
    """What was asked for, as plain values. Raises `NotThere`."""
    held = {"record": _record(traced), "run": _run(traced), "at": at or ""}
    with collector_paused():
        parts = _Parts(traced, at)
        if what == "labels":
            return {**held, "labels": plain_value(labels(parts.rows, parts.rows.trace()))}
        if what == "log":
            return {**held, "log": plain_value(moments(traced.installation))}
        return {**held, **parts.data()}


class _Parts:
    """What was selected."""

    def __init__(self, traced: Traced, at: str | None) -> None:
        installation = traced.installation
        self.kind, self.items = ("", ()) if at is None else _find(installation, at)
        first = self.items[0] if self.kind == "circuits" else None
        flags = Flags(installation, traced.results.findings if traced.results is not None else ())
        self.rows = Rows(installation, walk(installation, first), flags)

    def text(self) -> Iterator[str]:
        if not self.kind:
            yield from trace_text(self.rows.trace())
        elif self.kind == "circuits":
            yield from circuit_lines(self._circuits())
        elif self.kind == "place":
            yield place_text(place_of(self.rows, self.items[0]))
        else:
            yield wires_text(wires_of(self.rows, self.items))

    def data(self) -> dict[str, Any]:
        if not self.kind:
            held: dict[str, Any] = plain_value(self.rows.trace())
            return held
        if self.kind == "circuits":
            return {"circuits": plain_value(self._circuits())}
        if self.kind == "place":
            return {"place": plain_value(place_of(self.rows, self.items[0]))}
        return {"wires": plain_value(wires_of(self.rows, self.items))}

    def _circuits(self) -> list[Any]:
        wanted = set(self.items)
        return [self.rows.circuit(branch) for branch in self.rows.walked.circuits if branch.circuit in wanted]


def _find(installation: Installation, tag: str) -> tuple[str, tuple[Item, ...]]:
    """What a tag stands for, and the items of it. One name stands for one thing in a record."""
    names = dict(_names(installation))
    if tag not in names:
        raise NotThere(f"{shown(tag)} in the record; {Names(names).hint(tag)}")
    return names[tag]


def _names(installation: Installation) -> Iterator[tuple[str, tuple[str, tuple[Item, ...]]]]:
    record = installation.record
    for tag, cable in record.cables.items():
        if cable.data["conductors"]:
            yield tag, ("wires", cable.data["conductors"])
        for conductor in cable.data["conductors"]:
            yield conductor.tag, ("wires", (conductor,))
    for tag, box in record.boxes.items():
        yield tag, ("place", (box,))
    for tag, device in record.devices.items():
        place = (next(iter(device.data["box"]), device),)
        yield tag, ("place", place)
        yield from ((terminal.tag, ("place", place)) for terminal in device.data["terminals"])
    for tag, joint in record.joints.items():
        if joint.data["box"]:
            yield tag, ("place", joint.data["box"])
    for panel in record.panels.values():
        circuits = dict.fromkeys(circuit for one in panel.data["breakers"] for circuit in one.data["circuits"])
        if circuits:
            yield panel.tag, ("circuits", tuple(circuits))
    for pole, (breaker, _) in record.poles.items():
        yield breaker.tag, ("circuits", breaker.data["circuits"])
        yield " ".join(pole), ("circuits", breaker.data["circuits"])


def _record(traced: Traced) -> dict[str, Any]:
    record = traced.installation.record
    return {
        "file": record.document.name, "sha256": record.document.sha256, "site": record.name,
        "invented": record.invented,
    }  # fmt: skip


def _run(traced: Traced) -> dict[str, Any]:
    run, results = traced.run, traced.results
    return {
        "asfound": __version__, "as_of": run.as_of if results is not None else "",
        "rules": [{"rule": name, "revision": revision} for name, revision in run.rules],
        "named_rules": list(run.named), "failed": len(results.failed) if results is not None else 0,
        "statement": data("wording")["statement"],
    }  # fmt: skip


def plain_value(value: Any) -> Any:
    """Dataclasses as mappings by field, lists and tuples as lists."""
    if is_dataclass(value) and not isinstance(value, type):
        return {field.name: plain_value(getattr(value, field.name)) for field in fields(value)}
    return [plain_value(one) for one in value] if isinstance(value, list | tuple) else value
