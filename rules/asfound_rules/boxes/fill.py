"""Box fill."""

from __future__ import annotations

from asfound.authoring import area_mm2, for_words, given, only_if, rule, some
from asfound_rules.terms import A_HAIR, GREEN

TABLE = "least volume of a metal box"


@rule(
    "box-overfull",
    of="box",
    severity="catastrophic",
    likelihood="improbable",
    caution="Warning: pressed conductors can be cut or loosened and can short or arc inside the box. "
    "Do not open it or push more in; have a qualified person make room in it.",
    defer="A larger volume marked on the box or its cover wins over the table; the adopted local code and a licensed "
    "electrician decide.",
    source="NFPA 70 (NEC) 314.16(A), (B), Tables 314.16(A) and 314.16(B)",
    basis="seen in text",
)
def box_overfull(box, tables):
    """Box holds more than its volume allows.

    Counts conductors that end in it or pass through, loops, grounds, clamps,
    support fittings and device yokes, each at its own size. Pigtails and
    connectors count nothing. Exactly full is allowed. A device counts by the
    largest conductor on it, or in the box where what lands on it is not
    recorded. Clamps are asked for only where they decide. A box with larger
    conductors than the table has is sized as a pull box and not judged.
    """
    only_if(box.kind != "no box")
    only_if(box.conductors or box.passing or box.looped)
    only_if(not some(_held(box), lambda conductor: _for_a_pull_box(conductor, tables)))
    room = volume(box, tables)
    parts = contents(box, tables)
    clamps = tables.value("allowances in a box", "clamps") * _each(_largest(_held(box)), tables)
    bare = sum(parts.values())
    if bare + clamps <= room + A_HAIR:
        return
    inside = for_words(box, "clamps") if bare > room + A_HAIR else box.clamps
    if inside == "internal":
        parts["clamps"] = clamps
    used = sum(parts.values())
    if used > room + A_HAIR:
        listed = ", ".join(f"{part} {amount:g}" for part, amount in parts.items())
        short = round(used - room, 4)
        yield f"Contents of {box.words} need {used:g} in³ ({listed}); it has {room:g} in³, {short:g} too little."


def volume(box, tables):
    """Volume of a box in in³: as marked, or at least by the table; added volume included."""
    marked = given(box, "volume", 0)
    if tables.has(TABLE, box.kind):
        marked = max(marked, tables.value(TABLE, box.kind))
    elif not marked:
        marked = box.volume
    return marked + given(box, "added_volume", 0)


def contents(box, tables):
    """Volumes in in³ that the contents of a box need, by kind of content, without clamps, by the edition of the run."""

    def count(item):
        return tables.value("allowances in a box", item)

    held = _held(box)
    omitted = _under_canopy(box, count)
    grounds = [c for c in held if c.colour in GREEN and c not in omitted]
    others = [c for c in held if c.colour not in GREEN and c not in omitted]
    parts = {"conductors": sum(count(_how(c, box)) * _each(c.gauge, tables) for c in others)}
    if grounds:
        beyond = max(0, len(grounds) - count("grounds counted as one"))
        allowances = count("grounds") + beyond * count("each ground beyond")
        parts["grounds"] = allowances * _each(_largest(grounds), tables)
    yokes = [device for device in box.devices if device.yoke]
    if yokes:
        each = count("yoke for each gang")
        parts["devices"] = sum(
            each * given(d, "gangs", 1) * _each(_largest(_on(d) or others or held), tables) for d in yokes
        )
    fittings = given(box, "support_fittings", 0)
    if fittings:
        parts["support fittings"] = fittings * count("support fitting") * _each(_largest(held), tables)
    return parts


def _held(box):
    return [*box.conductors, *box.passing, *box.looped]


def _for_a_pull_box(conductor, tables):
    """Whether a conductor is too large to be counted; a box that holds one is sized by its raceways."""
    return area_mm2(conductor.gauge) > area_mm2(tables.value("largest conductor of a counted box", "size")) + A_HAIR


def _how(conductor, box):
    """How a conductor counts: as one that ends here, passes through, or passes with a long loop."""
    if conductor in box.looped:
        return "looped"
    return "passing" if conductor in box.passing else "conductor"


def _under_canopy(box, count):
    """The small wires that come from a domed canopy and count nothing: a few fixture wires, and their grounds."""
    small = [c for c in box.conductors if area_mm2(c.gauge) < area_mm2("14") - A_HAIR]
    canopy = given(box, "canopy_wires", 0) if small else 0
    wires = [c for c in small if c.colour not in GREEN][: min(canopy, count("fixture wires left out under a canopy"))]
    return [*wires, *(c for c in small if canopy and c.colour in GREEN)]


def _on(device):
    """Conductors on a device, without grounds."""
    return [c for c in device.conductors if c.colour not in GREEN]


def _each(size, tables):
    return tables.value("conductor volume in a box", size)


def _largest(conductors):
    return max((c.gauge for c in conductors), key=area_mm2)
