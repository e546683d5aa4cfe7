"""A record place by place, as somebody meets it who walks through the house: what is there, not what follows.

Gives plain values for a terminal and for a page. Every text is made harmless.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from typing import Any

from asfound.clean import clean
from asfound.data import data
from asfound.drill.plain import Plain, Wiring
from asfound.wording import joined

_QUIET = ("photo", "visit", "was", "by")
"""What is not shown: who wrote it and which picture, since both can tell what was planted."""
_COUNT = {"cable": 0, "joint": 1, "device": 2}


@dataclass(frozen=True, slots=True)
class Part:
    """One thing at a place: its tag, what kind of thing, and what is recorded of it."""

    tag: str
    kind: str
    words: str


@dataclass(frozen=True, slots=True)
class Place:
    """One place to look at: its tag, a title, what is recorded of it, and what is in it."""

    tag: str
    title: str
    facts: tuple[str, ...]
    parts: tuple[Part, ...]

    @property
    def tags(self) -> tuple[str, ...]:
        """Every tag that can be marked here."""
        return (self.tag, *dict.fromkeys(part.tag for part in self.parts))


def places(record: Plain) -> list[Place]:
    """All places of a record: the site, panels, boxes, devices outside boxes, loose cables, then log and readings."""
    wiring = Wiring(record)
    made = [_site(record)]
    made += [_panel(wiring, tag, held) for tag, held in record["panels"].items()]
    made += [_box(wiring, tag, held) for tag, held in record["boxes"].items()]
    made += [_apart(wiring, tag, held) for tag, held in record["devices"].items() if not held.get("at")]
    made += [*_untraced(wiring), *_written(record)]
    return made


def words(value: Any) -> str:
    """A recorded value in words: as seen, doubted, listed, or why it was not seen."""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, dict):
        if "not_seen" in value:
            return f"not seen: {words(value['not_seen'])}"
        if "is" in value:
            return f"{words(value['is'])} ({words(value['how'])})" if "how" in value else words(value["is"])
        if "one_of" in value:
            return " or ".join(map(words, value["one_of"]))
        return ", ".join(f"{_name(name)} {words(held)}" for name, held in value.items())
    if isinstance(value, list):
        return joined(map(words, value))
    if isinstance(value, float):
        return f"{value:g}"
    return clean(str(value))


def _name(name: str) -> str:
    """A recorded fact by a plain word for it."""
    plainer: dict[str, str] = data("drill")["facts"]
    return plainer.get(str(name)) or clean(str(name)).replace("_", " ")


def _with_unit(name: str, value: Any) -> str:
    """A value in words; a bare number with the unit that it has."""
    number = isinstance(value, int | float) and not isinstance(value, bool)
    unit = data("drill")["units"].get(name, "") if number else ""
    return f"{words(value)} {unit}".strip()


def _facts(held: Plain, without: Iterable[str] = ()) -> Iterator[str]:
    left_out = {*without, *_QUIET}
    for name, value in held.items():
        if name not in left_out:
            yield f"{_name(name)}: {_with_unit(name, value)}"


def _site(record: Plain) -> Place:
    site = record["site"]
    facts = [
        *_facts(site, ("name", "address", "unit", "client")),
        f"supply: {words(record.get('supply', 'not recorded'))}",
    ]
    facts += [f"note: {words(note)}" for note in record.get("notes", ())]
    return Place("site", "The site", tuple(facts), ())


def _panel(wiring: Wiring, tag: str, held: Plain) -> Place:
    parts = []
    for space, breaker in held.get("breakers", {}).items():
        name = f"{tag} {space}"
        facts = "; ".join(_facts(breaker)) if isinstance(breaker, dict) else f"amps: {words(breaker)}"
        on_it = [f"{cable}, {_short(wiring, cable)}" for cable in wiring.feeds(name)]
        on_it += [f"{cable} {colour}" for cable, colour in _landing(wiring, tag, str(space))]
        parts.append(Part(clean(name), "breaker", f"{facts}; on it: {joined(map(clean, on_it)) or 'nothing recorded'}"))
    parts += [_cable(wiring, cable, side) for cable, side in wiring.ends_at(tag)]
    parts += [_cable(wiring, cable, side) for cable, side in _seen_here_alone(wiring, tag)]
    where = f", {words(held['where'])}" if "where" in held else ""
    return Place(clean(tag), f"Panel {clean(tag)}{where}", tuple(_facts(held, ("breakers", "where"))), tuple(parts))


def _seen_here_alone(wiring: Wiring, panel: str) -> Iterator[tuple[str, str]]:
    """Cables on breakers of a panel whose other end is at no known place, so that they are shown nowhere else."""
    breakers = wiring.part("breakers")
    for cable in wiring.record["cables"]:
        for side, other in (("from", "to"), ("to", "from")):
            far = wiring.at(cable, other)
            here = wiring.at(cable, side) in breakers and wiring.at(cable, side).rsplit(" ", 1)[0] == panel
            if here and not any(far in wiring.record[part] for part in ("boxes", "devices", "panels")):
                yield cable, side


def _landing(wiring: Wiring, panel: str, space: str) -> Iterator[tuple[str, str]]:
    """Conductors that are written out as landing on a breaker."""
    for cable, side in wiring.ends_at(panel):
        end = wiring.record["cables"][cable][side]
        for colour, state in end.items() if isinstance(end, dict) else ():
            if state == f"breaker {space}":
                yield cable, colour


def _box(wiring: Wiring, tag: str, held: Plain) -> Place:
    parts = [_cable(wiring, cable, side) for cable, side in wiring.ends_at(tag)]
    for cable, one in wiring.record["cables"].items():
        if tag in one.get("passes", {}):
            parts.append(
                Part(clean(cable), "cable", f"{_short(wiring, cable)}, passes through {words(one['passes'][tag])}")
            )
    for joint in wiring.joints_at(tag):
        one = wiring.record["joints"][joint]
        more = "; ".join(_facts(one, ("at", "ends")))
        parts.append(Part(clean(joint), "joint", f"holds {words(one['ends'])}{'; ' if more else ''}{more}"))
    parts += [_device(wiring, device) for device in wiring.devices_at(tag)]
    kind = words(held.get("kind", "box of unknown kind"))
    title = f"{clean(tag)}: {'no box, wires in the open' if kind == 'no box' else kind}"
    return Place(clean(tag), title, tuple(_facts(held, ("kind",))), tuple(parts))


def _apart(wiring: Wiring, tag: str, held: Plain) -> Place:
    where = f", {words(held['where'])}" if "where" in held else ""
    parts = [_cable(wiring, cable, side) for cable, side in wiring.ends_at(tag)]
    facts = tuple(_facts(held, ("kind", "where")))
    return Place(clean(tag), f"{clean(tag)}: {words(held['kind'])}{where}", facts, tuple(parts))


def _cable(wiring: Wiring, cable: str, side: str) -> Part:
    """A cable as seen from one of its ends: what it is, where it goes, what its ends do here."""
    held = wiring.record["cables"][cable]
    other = held.get("to" if side == "from" else "from", "not recorded")
    there = words(other["at"]) if isinstance(other, dict) and "at" in other else words(other)
    here = held[side]
    ends = {colour: state for colour, state in here.items() if colour != "at"} if isinstance(here, dict) else {}
    said = [_short(wiring, cable), f"{'to' if side == 'from' else 'from'} {there}"]
    if ends:
        said.append(f"here {words(ends)}")
    said += _facts(held, ("type", "from", "to", "passes"))
    return Part(clean(cable), "cable", "; ".join(said))


def _short(wiring: Wiring, cable: str) -> str:
    held = wiring.record["cables"][cable]
    return words(held.get("type", held.get("method", "type not recorded")))


def _device(wiring: Wiring, tag: str) -> Part:
    held = wiring.record["devices"][tag]
    facts = "; ".join(_facts(held, ("at", "kind")))
    return Part(clean(tag), "device", f"{words(held['kind'])}{'; ' if facts else ''}{facts}")


def _untraced(wiring: Wiring) -> Iterator[Place]:
    """Cables with no end at a known place."""
    for cable, held in wiring.record["cables"].items():
        known = [wiring.at(cable, side) for side in ("from", "to")]
        if not any(
            place in wiring.record[part] for place in known for part in ("boxes", "panels", "devices")
        ) and not any(place in wiring.part("breakers") for place in known):
            facts = (f"from: {words(held.get('from', 'not recorded'))}", f"to: {words(held.get('to', 'not recorded'))}")
            yield Place(clean(cable), f"Cable {clean(cable)}", (_short(wiring, cable), *facts, *_facts(held, (
                "type", "from", "to"))), ())  # fmt: skip


_WRITTEN = {
    "log": ("Log", "log entry"), "readings": ("Readings", "reading"), "labels": ("Labels", "label"),
    "instruments": ("Instruments", "instrument"), "photos": ("Photographs", "photograph"),
}  # fmt: skip


def _written(record: Plain) -> Iterator[Place]:
    """What was done, read, labelled, measured with and photographed."""
    for part, (title, kind) in _WRITTEN.items():
        held = record.get(part)
        if not held:
            continue
        entries = held.items() if isinstance(held, dict) else ((one.get("tag", ""), one) for one in held)
        facts, parts = [], []
        for tag, one in entries:
            shown = "; ".join(_facts(one, ("tag",)))
            if tag:
                parts.append(Part(clean(str(tag)), kind, shown))
            else:
                facts.append(shown)
        yield Place(part, title, tuple(facts), tuple(parts))
