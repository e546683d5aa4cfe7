"""Drawings as narrow as a phone: one circuit, or one place from inside."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field

from asfound.judge.results import Finding
from asfound.map import down, inside, listed
from asfound.map.across import draw_row, rows
from asfound.map.circuits import Parts
from asfound.map.down import MARGIN, SIZE, WIDE, Sections, Step
from asfound.map.pages import Drawing
from asfound.map.parts import Chart, Flagged, Note, Part
from asfound.map.sheet import Sheet
from asfound.map.symbols import RECEPTACLES, SOURCE, SWITCHES
from asfound.map.text import drawn, fitting, wrap
from asfound.record.facts import Item
from asfound.wording import plural

MOST_DRAWINGS = 12
HIGHEST = 1600.0
"""A drawing, before its keynotes."""
LINE = SIZE * 1.25
CAUTIONS = 9
"""Sentences of a caution: all of them."""
TREAT_ALL = "What is not marked PROVEN DEAD is to be treated as live."


@dataclass(slots=True)
class Strip:
    """One drawing while it is filled."""

    sections: list[list[Step]] = field(default_factory=list)
    high: float = 0.0


def of_circuits(chart: Chart, site: str, findings: Mapping[str, Finding], digits: int) -> list[Drawing]:
    """One circuit: a drawing, or several when it is long; what is on none of them is counted on the last."""
    strips, left = _filled(chart, digits)
    _number([flag for strip in strips for flag in _flags(strip)], findings)
    made = []
    for number, strip in enumerate(strips, 1):
        paged = f", part {number} of {len(strips)}" if len(strips) > 1 else ""
        sheet = Sheet(WIDE, SIZE)
        y = _head(sheet, [f"{chart.head}{paged}"], site)
        for steps in strip.sections:
            down.move(steps, y)
            down.draw(sheet, steps)
            y = steps[-1].low + 10.0
        if left and number == len(strips):
            for words in wrap(f"NOT DRAWN, for length: {plural(left, 'cable')}.", fitting(WIDE - 2 * MARGIN, SIZE), 4):
                y += LINE
                sheet.text(MARGIN, y, words, bold=True)
        parts = [step.part for steps in strip.sections for step in steps]
        y = _foot(sheet, y, _flags(strip), findings, _used(parts))
        alt = _alt(f"{chart.title}{paged}", parts)
        made.append(Drawing(drawn(f"{chart.title}{paged}"), drawn(alt), sheet.svg(y, alt), WIDE, y))
    return made


def _filled(chart: Chart, digits: int) -> tuple[list[Strip], int]:
    strips = [Strip()]
    left = 0
    for root in chart.roots:
        for steps in Sections(digits).of(root):
            high = steps[-1].low + 10.0
            if strips[-1].sections and strips[-1].high + high > HIGHEST:
                if len(strips) == MOST_DRAWINGS:
                    left += _cables_from(steps)
                    break
                strips.append(Strip())
            strips[-1].sections.append(steps)
            strips[-1].high += high
    if left:
        shown = {step.part for strip in strips for steps in strip.sections for step in steps}
        left = sum(part.item.startswith("cable ") and part not in shown for part in _all(chart.roots))
    return strips, left


def _cables_from(steps: list[Step]) -> int:
    return sum(step.part.item.startswith("cable ") for step in steps)


def _all(roots: list[Part]) -> list[Part]:
    found = list(roots)
    for part in found:
        found += part.children
    return found


def of_place(parts: Parts, place: Item, site: str, findings: Mapping[str, Finding]) -> list[Drawing]:
    """One place from inside."""
    digits = 3
    maker = inside.Maker(parts, place, digits)
    held = maker.all()
    _number(maker.flags, findings)
    sheet = Sheet(WIDE, SIZE)
    y = _head(sheet, held.head, site)
    for row in rows((), held.flags, WIDE - 2 * MARGIN, digits, SIZE):
        y += row.step(SIZE)
        draw_row(sheet, row, MARGIN, y)
    y = inside.draw(sheet, held, y)
    if held.more:
        y += LINE
        sheet.text(
            MARGIN,
            y,
            f"NOT DRAWN, for length: {plural(held.more, 'cable, joint or device', 'cables, joints or devices')}.",
            bold=True,
        )
    symbols = {lead.symbol for lead in (*held.left, *held.right)}
    used = {"inside", "dashed", *({"open"} & symbols), *({"bond"} if "ground" in symbols else ())}
    y = _foot(sheet, y, maker.flags, findings, used)
    alt = f"{held.head[0]}, {held.head[1]}: what comes in and what it is joined to. {TREAT_ALL}"
    return [Drawing(drawn(held.head[0]), drawn(alt), sheet.svg(y, alt), WIDE, y)]


def _flags(strip: Strip) -> list[Flagged]:
    parts = [step.part for steps in strip.sections for step in steps]
    return [flag for part in parts for flag in (*part.over_flags, *part.under_flags)]


def _number(flags: list[Flagged], findings: Mapping[str, Finding]) -> None:
    """Number keynotes, the worst first."""
    for number, note in enumerate(_sorted(flags, findings), 1):
        note.number = number


def _sorted(flags: list[Flagged], findings: Mapping[str, Finding]) -> list[Note]:
    order = {identity: number for number, identity in enumerate(findings)}
    first: dict[Note, int] = {}
    for flag in flags:
        at = min(order[one] for one in flag.findings)
        first[flag.note] = min(at, first.get(flag.note, at))
    return sorted(first, key=lambda note: first[note])


def _head(sheet: Sheet, heads: list[str], site: str) -> float:
    y = 2.0
    for number, words in enumerate(heads):
        size = 13.0 if number == 0 else SIZE
        for line in wrap(drawn(words), fitting(WIDE - 2 * MARGIN, size), 4):
            y += size * 1.25
            sheet.text(MARGIN, y, line, bold=number == 0, size=size)
    for line in wrap(drawn(site), fitting(WIDE - 2 * MARGIN, SIZE), 3):
        y += LINE
        sheet.text(MARGIN, y, line)
    return y + 8.0


def _foot(sheet: Sheet, y: float, flags: list[Flagged], findings: Mapping[str, Finding], used: set[str]) -> float:
    """Keynotes, legend and what holds for every drawing; gives the height of the whole."""
    room = WIDE - 2 * MARGIN
    held: dict[Note, dict[str, None]] = {}
    for flag in flags:
        held.setdefault(flag.note, {}).update(dict.fromkeys(flag.findings))
    notes = sorted(held, key=lambda note: note.number)
    if notes:
        y += 4.0
        sheet.line(f"M{MARGIN:g} {y:.2f}H{WIDE - MARGIN:g}", wide=0.6)
        entries = [
            listed.note_entry(note, [findings[one] for one in held[note]], room, SIZE, CAUTIONS) for note in notes
        ]
        listed.draw_flags(sheet, entries, MARGIN, y + 3, room, 1)
        y += 3 + listed.high(entries, 1)
    grades = {"possible" if note.possible else note.grade for note in notes}
    y += 4.0
    sheet.line(f"M{MARGIN:g} {y:.2f}H{WIDE - MARGIN:g}", wide=0.6)
    legend = listed.legend(room, SIZE, used | grades)
    listed.draw_legend(sheet, legend, MARGIN, y + 3, room, 1)
    y += 3 + listed.high(legend, 1)
    own = f" {listed.OWN_NUMBERS}" if notes else ""
    for words, bold in ((f"{SOURCE}; flags, warnings and links are our own.{own}", False), (listed.FOOT, True)):
        y += 3.0
        for line in wrap(words, fitting(room, SIZE), 8):
            y += LINE
            sheet.text(MARGIN, y, line, bold=bold)
    return y + 6.0


OUTLINES = {"square": "box", "round": "box", "unseen": "unseen", "lost": "unseen", "elsewhere": "elsewhere",
            "panel": "elsewhere"}  # fmt: skip
"""Entries of the legend by the outline of a place."""


def _used(parts: list[Part]) -> set[str]:
    """The entries of the legend that a drawing needs."""
    used = {"wires", *(entry for part in parts for entry in _entries_of(part))}
    return used | {_entry_of(kind) for part in parts for kind, _ in part.place.devices}


def _entries_of(part: Part) -> Iterator[str]:
    yield OUTLINES.get(part.place.outline, "wires")
    words = [text for held in (*part.over, *part.under) for text, _ in held.pieces]
    told = {
        "breaker": part.sort == "breaker",
        "dashed": part.dashed,
        "splice": len(part.children) > 1 or (part.place.spliced and part.place.outline == "open"),
        "open": any(held.mark == "open" for held in part.under),
        "link": bool(part.links),
        "doubt": any("?" in text or " or " in text or "W/G" in text for text in words),
    }
    yield from (entry for entry, holds in told.items() if holds)


def _entry_of(kind: str) -> str:
    if kind in RECEPTACLES:
        return "receptacle"
    if kind in SWITCHES:
        return "switch"
    return "luminaire" if kind in ("luminaire", "lampholder") else "letters"


def _alt(title: str, parts: list[Part]) -> str:
    cables = sum(part.item.startswith("cable ") for part in parts)
    places = [part.place.tag for part in parts if part.place.tag]
    return (f"One-line diagram of {title}: {plural(cables, 'cable')}, to {', '.join(dict.fromkeys(places[:30]))}. "
            f"{TREAT_ALL}")  # fmt: skip
