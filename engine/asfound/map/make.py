"""From a survey to drawings."""

from __future__ import annotations

from collections.abc import Iterator

from asfound.judge.results import Finding
from asfound.map.circuits import Parts
from asfound.map.narrow import of_circuits, of_place
from asfound.map.pages import MORE_PAGES, MOST_PAGES, Drawing, Pages
from asfound.map.parts import Chart
from asfound.names import Names
from asfound.pause import collector_paused
from asfound.record.facts import Item
from asfound.record.model import Record
from asfound.render.flags import Flags
from asfound.render.rows import Rows
from asfound.survey import Survey
from asfound.trace.walk import Branch, walk
from asfound.wording import joined

REST = "what is not traced"
"""Name of the chart of what no way from a breaker leads to."""
REST_HEAD = "NOT TRACED TO A BREAKER: any of it can be live from one that nobody has found yet; treat all of it as live"


def drawings(done: Survey, only: str = "", *, narrow: bool = True) -> list[Drawing]:
    """Drawings of everything for paper, or of what the tag `only` names.

    A breaker, pole, cable or conductor names its circuit, a device or joint its
    box, a panel all its pages. One circuit is as narrow as a phone, or with
    `narrow` false as wide as paper; one box is always narrow. Raises `KeyError`,
    with the next step, when nothing has the tag.
    """
    with collector_paused():
        if not only:
            return _everything(done)
        kind, item = _named(done, only)
        if kind == "panel":
            return _everything(done, item.tag)
        if kind == "place":
            return of_place(_parts(done), item, site_words(done.record), _findings(done))
        return _circuit(done, item, narrow)


def each_circuit(done: Survey) -> list[Drawing]:
    """Every circuit alone, as narrow as a phone."""
    with collector_paused():
        circuits = done.installation.items.get("circuit", ())
        return [drawing for circuit in circuits for drawing in _circuit(done, circuit, narrow=True)]


def _findings(done: Survey) -> dict[str, Finding]:
    return {finding.identity: finding for finding in done.results.findings}


def _parts(done: Survey, first: Item | None = None) -> Parts:
    installation = done.installation
    return Parts(Rows(installation, walk(installation, first), Flags(installation, done.results.findings)))


def _everything(done: Survey, panel: str = "") -> list[Drawing]:
    """All panels and what is not traced, or one panel."""
    parts = _parts(done)
    trace = parts.rows.trace()
    circuits = {circuit.circuit: circuit for circuit in trace.circuits}
    charts = [parts.panel(one, (circuits[tag] for tag in one.circuits)) for one in trace.panels]
    roots = [parts.group(group) for group in trace.groups]
    roots += parts.rest(trace.bare, trace.devices, trace.places)
    roots += parts.left()
    if roots:
        charts.append(Chart("Not traced to a breaker", REST_HEAD, REST, roots))
    if charts:
        charts[0].flags += parts.flags(trace.flags)
    links = parts.link()
    pages = Pages(site_words(done.record), _findings(done), len(str(len(parts.notes))))
    for chart in charts:
        chart.links = links
        if panel in ("", chart.item.removeprefix("panel ")):
            pages.add(chart, MOST_PAGES + (MORE_PAGES if chart.item == REST else 0))
    return list(pages.drawings())


def _circuit(done: Survey, circuit: Item, narrow: bool) -> list[Drawing]:
    """One circuit, or the group of a cable that no circuit has."""
    parts = _parts(done, circuit if circuit.kind == "circuit" else None)
    branch = _branch_of(parts.rows, circuit)
    if branch is None:  # a cable that only grounds or returns
        (root,) = parts.rest((line for line in parts.rows.trace().bare if line.item == circuit.tag), (), ())
        title, head = "Not traced to a breaker", REST_HEAD
    elif branch.circuit is None:
        root = parts.group(parts.rows.group(branch))
        title, head = "Not traced to a breaker", REST_HEAD
    else:
        held = parts.rows.circuit(branch)
        where = branch.circuit.data["breakers"].value[0].data["panel"]
        place = f", {where.data['where']}" if where.data.get("where") else ""
        title, head = f"Circuit {held.circuit}", f"CIRCUIT {held.circuit}, panel {where.tag}{place}"
        root = parts.circuit(held)
    chart = Chart(title, head, root.item, [root], links=parts.link())
    digits = len(str(len(parts.notes)))
    if narrow:
        return of_circuits(chart, site_words(done.record), _findings(done), digits)
    pages = Pages(site_words(done.record), _findings(done), digits)
    pages.add(chart)
    return list(pages.drawings())


def _branch_of(rows: Rows, item: Item) -> Branch | None:
    if item.kind == "circuit":
        return next((branch for branch in rows.walked.circuits if branch.circuit is item), None)
    run = rows.walked.whole.get(item)
    return run.branch if run is not None else None


def _named(done: Survey, tag: str) -> tuple[str, Item]:
    """What a tag stands for: a circuit, a cable, a place or a panel. Raises `KeyError`."""
    names = dict(_names(done.record))
    if tag not in names:
        raise KeyError(f"{tag} is not in the record; {Names(names).hint(tag)}")
    return names[tag]


def _names(record: Record) -> Iterator[tuple[str, tuple[str, Item]]]:
    for cable in record.cables.values():
        yield cable.tag, ("cable", cable)
        yield from ((conductor.tag, ("cable", cable)) for conductor in cable.data["conductors"])
    for box in record.boxes.values():
        yield box.tag, ("place", box)
    for device in record.devices.values():
        yield device.tag, ("place", next(iter(device.data["box"]), device))
    for joint in record.joints.values():
        if joint.data["box"]:
            yield joint.tag, ("place", joint.data["box"][0])
    for panel in record.panels.values():
        yield panel.tag, ("panel", panel)
    for pole, (breaker, _) in record.poles.items():
        circuit = next(iter(breaker.data["circuits"]), None)
        if circuit is not None:
            yield from ((name, ("circuit", circuit)) for name in (breaker.tag, " ".join(pole)))


def site_words(record: Record) -> str:
    """`Thrushmoor Farm (invented record), as found on 2026-05-04 and 2026-05-12`."""
    days = sorted(dict.fromkeys(visit.on for visit in record.visits.values()))
    found = "as found"
    if days:
        found += f" on {joined(days)}" if len(days) < 4 else f" from {days[0]} to {days[-1]}"
    return f"{record.name}{' (invented record)' if record.invented else ''}, {found}"
