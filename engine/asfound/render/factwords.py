"""Words for what a record says of a thing, with its doubt."""

from __future__ import annotations

from asfound.record.colours import is_ground
from asfound.record.facts import ASSUMED, EXACT, WEAK, Fact, Item
from asfound.wording import plural


def doubt_words(fact: Fact | None, unit: str = "") -> str:
    """A fact with its doubt: `14`, `14?` when weakly known, `14 or 12` when listed; empty when it was not seen."""
    if fact is None or not fact.values:
        return ""
    if fact.kind in (EXACT, WEAK):
        return f"{_word(fact.value)}{unit}{'' if fact.kind == EXACT else '?'}"
    listed = " or ".join(map(_word, fact.values))
    return f"{listed}{unit}{'?' if fact.kind == ASSUMED else ''}"


def _word(value: object) -> str:
    if isinstance(value, tuple):
        return " and ".join(map(str, value))
    return f"{value:g}" if isinstance(value, float) else str(value)


def cable_words(cable: Item) -> str:
    """Size, count, ground, metal and method: `14/2 W/G NM-B`, `12?/2 AL NM`, `size not seen, 2 wires`."""
    conductors = cable.data["conductors"]
    grounds = sum(is_ground(one) for one in conductors)
    count = len(conductors) - grounds
    size = doubt_words(cable.data.get("gauge"))
    if not conductors:
        head = f"{size or 'size not seen'}, conductors not seen"
    elif not count:
        head = f"{size or 'size not seen'}, {plural(grounds, 'ground wire')}"
    elif size:
        head = " or ".join(f"{one}/{count}" if count > 1 else one for one in size.split(" or "))
    else:
        head = f"size not seen, {plural(count, 'wire')}"
    ground = "W/G" if grounds and count else ""
    metal = doubt_words(cable.data.get("metal"))
    words = [head, ground, _METALS.get(metal, metal), doubt_words(cable.data.get("method"))]
    return " ".join(word for word in words if word) + (", metal not seen" if conductors and not metal else "")


_METALS = {"copper": "", "aluminium": "AL", "aluminium?": "AL?", "copper-clad aluminium": "CU-CLAD"}


def where_words(place: Item) -> str:
    """Where a box or a device with its own wiring compartment is, in the words of the record."""
    return place.words.removeprefix(place.tag).strip().removeprefix("(").removesuffix(")")


def device_words(device: Item) -> str:
    """Kind, rating, protection and, where it is in no box, its place."""
    kind = doubt_words(device.data.get("kind")) or "kind not seen"
    rating = doubt_words(device.data.get("rating"), " A")
    guard = doubt_words(device.data.get("protection"))
    guard = f"{guard} protection" if guard and guard != "none" else ""
    where = "" if device.data["box"] else where_words(device)
    return ", ".join(word for word in (kind, rating, guard, where) if word)
