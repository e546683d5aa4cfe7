"""Box fill."""

from __future__ import annotations

from asfound.authoring import area_mm2, given, only_if, rule

GREEN = ("bare", "green", "green/yellow")
TABLE = "least volume of a metal box"


@rule(
    "box-overfull",
    of="box",
    severity="catastrophic",
    likelihood="improbable",
    caution="Warning: pressed conductors can be cut or loosened and can short or arc inside the box. "
    "Do not push more in; open it only with the circuits off and proven dead.",
    defer="A larger volume marked on the box or its cover wins over the table; the adopted local code and a licensed "
    "electrician decide.",
    source="NFPA 70 (NEC) 314.16(A), (B), Tables 314.16(A) and 314.16(B)",
    basis="seen in text",
)
def box_overfull(box, tables):
    """Box holds more than its volume allows.

    Counts conductors that end in it or pass through, loops, grounds, clamps,
    support fittings and device yokes, each at its own size. Pigtails and
    connectors count nothing. Exactly full is allowed.
    """
    only_if(box.kind != "no box")
    only_if(box.conductors or box.passing or box.looped)
    room = volume(box, tables)
    used = fill(box, tables)
    if used > room + 1e-9:
        yield f"{box.words}: contents need {used:g} in³, the box has {room:g} in³ ({used - room:g} in³ too little)."


def volume(box, tables):
    """Volume of a box in in³: as marked, or at least by the table; added volume included."""
    marked = given(box, "volume", 0)
    if tables.has(TABLE, box.kind):
        marked = max(marked, tables.value(TABLE, box.kind))
    elif not marked:
        marked = box.volume
    return marked + given(box, "added_volume", 0)


def fill(box, tables):
    """Volume that the contents of a box need, in in³, by the edition of the run."""

    def each(size):
        return tables.value("conductor volume in a box", size)

    def count(item):
        return tables.value("allowances in a box", item)

    held = [(c, count("conductor")) for c in box.conductors]
    held += [(c, count("passing")) for c in box.passing] + [(c, count("looped")) for c in box.looped]
    grounds = [c for c, _ in held if c.colour in GREEN]
    others = [(c, n) for c, n in held if c.colour not in GREEN]
    total = sum(n * each(c.gauge) for c, n in others)
    if grounds:
        beyond = max(0, len(grounds) - count("grounds counted as one"))
        allowances = count("grounds") + beyond * count("each ground beyond")
        total += allowances * each(_largest(grounds))
    for device in box.devices:
        if device.yoke and device.conductors:
            wires = [c for c in device.conductors if c.colour not in GREEN] or list(device.conductors)
            total += count("yoke for each gang") * given(device, "gangs", 1) * each(_largest(wires))
    every = [c for c, _ in held]
    total += given(box, "support_fittings", 0) * count("support fitting") * each(_largest(every))
    if box.clamps == "internal":
        total += count("clamps") * each(_largest(every))
    return total


def _largest(conductors):
    return max((c.gauge for c in conductors), key=area_mm2)
