"""From a shaped document to items with facts, with every tag resolved and the trade's defaults filled in.

The document has passed the schema; what is checked here is what a schema
cannot see: tags that are used and not defined, ends named twice, a cable that
has no end where a joint says it has one. All problems are reported at once.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from asfound.load.values import Document, Map, Place, Refused
from asfound.pause import collector_paused
from asfound.record.cables import take_cables
from asfound.record.context import Context
from asfound.record.ends import close_ends
from asfound.record.events import take_events, take_visits
from asfound.record.facts import Item
from asfound.record.joints import take_joints, take_terminals
from asfound.record.model import Entry, Record, Visit
from asfound.record.panels import check_spares, take_panels
from asfound.record.places import close_boxes, take_boxes, take_devices
from asfound.record.references import BARS

__all__ = ["Entry", "Record", "Visit", "build"]

_SAID = ("box", "earth", "supply", "not traced", "untraced")
"""Words that stand for something of their own wherever a tag is expected."""


def build(document: Document, withheld: Iterable[str] = ()) -> Record:
    """Build the record from a document of the right form. Raises `Refused` with every problem found.

    `withheld` names tags that were taken out of the document because their
    form is wrong; what refers to them is not reported.
    """
    root = document.root
    site = Item("site", "site", "the site", root.key_places.get("site", root.place))
    record = Record(
        document=document,
        name=str(root["site"].get("name", "")),
        invented=bool(root.get("invented", False)),
        site=site,
        system="",
    )
    context = Context(document, record, withheld)
    with collector_paused():
        take_visits(context)
        _site(context)
        take_panels(context)
        take_boxes(context)
        take_devices(context)
        take_cables(context)
        take_joints(context)
        take_terminals(context)
        close_ends(context)
        check_spares(context)
        close_boxes(context)
        take_events(context)
        _one_name_each(context)
    if context.problems:
        raise Refused(document.name, context.problems)
    return record


def _site(context: Context) -> None:
    root, site = context.root, context.record.site
    context.take(site, root["site"])
    supply = root["supply"]
    if isinstance(supply, Map):
        site.data["supply"] = context.fact(supply, "system", "supply", site)
        if "amps" in supply:
            site.data["service_amps"] = context.fact(supply, "amps", "service_amps", site)
    else:
        site.data["supply"] = context.fact(root, "supply", "supply", site)
    context.record.system = site.data["supply"].values[0] if site.data["supply"].values else ""


def _one_name_each(context: Context) -> None:
    """One name stands for one thing, over tags, breakers, bars, terminals, conductors and the words of the record."""
    seen = dict.fromkeys(_SAID, "words with a meaning of their own")
    for name, place, kind in _named(context):
        if name in seen:
            cause = f"the name {name!r} is already one of the {seen[name]}"
            context.problem(place, kind, cause, "give one of the two another tag")
        seen.setdefault(name, kind)


def _named(context: Context) -> Iterator[tuple[str, Place, str]]:
    record = context.record
    for section in ("panels", "cables", "boxes", "devices", "joints"):
        held = context.section(section)
        for tag in held:
            yield tag, held.key_places[tag], section
    for tag, panel in record.panels.items():
        for bar in BARS:
            yield f"{tag} {bar}", panel.place or Place(0, 0), "bars of panels"
    for item in record.breakers.values():
        yield item.tag, item.place or Place(0, 0), "breakers"
    for name, (device, _) in context.terminals.items():
        yield name, device.place or Place(0, 0), "terminals of devices"
    for conductor in record.conductors:
        yield conductor.tag, conductor.place or Place(0, 0), "conductors of cables"
