"""The list of flags below a drawing, and the legend."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable
from dataclasses import dataclass

from asfound.judge.results import Finding
from asfound.map import symbols
from asfound.map.across import FLAG_STEP, STEP
from asfound.map.parts import Note
from asfound.map.sheet import DASH, LINK_DASH, PAPER, THICK, Sheet, path
from asfound.map.text import Spans, fitting, wrapped
from asfound.wording import quoted_list

GAP = 10.0
"""Between columns."""
Paint = Callable[[Sheet, float, float], None]
"""Draws the symbol of an entry from a point on."""
PLACES = 6
"""Places that one keynote names; the others are only flagged."""
MOST_LINES = 12
_SAID = {"entry": "log entry", "reading": "reading", "claim": "claim of", "photo": "photograph", "label": "label"}
"""Kinds of item whose tag alone says little."""
OWN_NUMBERS = "Flag numbers are this drawing's own, not those of findings."
_SENTENCE = re.compile(r"(?<=[.]) ")
FOOT = (
    "Not to scale. What is not marked PROVEN DEAD: treat as live; PROVEN DEAD counts for nobody who was not there: "
    "test again. LEFT OFF: as it stood that day; look whether it still does. The adopted local code and licensed "
    "practice decide."
)


@dataclass(frozen=True, slots=True)
class Entry:
    """One entry of a list: its lines, and its height."""

    lines: tuple[Spans, ...]
    high: float
    note: Note | None = None
    paint: Paint | None = None


def note_entry(note: Note, held: list[Finding], room: float, size: float, cautions: int) -> Entry:
    """What a keynote stands for: grade, what is wrong, at what, and so many sentences of the caution."""
    tags = quoted_list(dict.fromkeys(map(_at, held)), PLACES)
    rule = held[0].rule
    asked = {"possible": "Only if so: ", "likely": "Likely. "}.get(note.certainty, "")
    caution = " ".join(_SENTENCE.split(rule.caution)[:cautions])
    said = ((note.words, True), (f"{asked}{rule.title}: {tags}.", False), (caution, False))
    lines = wrapped(said, fitting(room - _indent(size), size), MOST_LINES)
    return Entry(tuple(lines), max(len(lines) * size * STEP, FLAG_STEP * size) + size * 0.35, note)


def _at(finding: Finding) -> str:
    """What a finding is at, as one says it: `W3 black`, `log entry 21`, `reading M8`."""
    kind, tag = finding.at.split(" ", 1)
    return f"{_SAID[kind]} {tag}" if kind in _SAID else tag


def _indent(size: float) -> float:
    return symbols.flag_wide("000?", size) + 3.0


def columns(entries: list[Entry], count: int) -> list[list[Entry]]:
    """Entries in columns of nearly the same height, in order from top to bottom."""
    made: list[list[Entry]] = [[] for _ in range(count)]
    rest = sum(entry.high for entry in entries)
    at = 0
    used = 0.0
    for entry in entries:
        if at < count - 1 and used and used + entry.high / 2 > rest / (count - at):
            rest -= used
            at, used = at + 1, 0.0
        made[at].append(entry)
        used += entry.high
    return made


def high(entries: list[Entry], count: int) -> float:
    """The height that entries take in columns."""
    return max(sum(entry.high for entry in column) for column in columns(entries, count)) if entries else 0.0


def draw_entries(
    sheet: Sheet, entries: list[Entry], x: float, y: float, wide: float, count: int, indent: float
) -> None:
    """Draw entries in columns from a corner on."""
    each = (wide - GAP * (count - 1)) / count
    for number, column in enumerate(columns(entries, count)):
        left, top = x + number * (each + GAP), y
        for entry in column:
            first = top + sheet.size * 1.15
            if entry.note is not None:
                note = entry.note
                symbols.flag(sheet, note.grade, note.possible, note.figures, left, first - sheet.size * 0.36)
            if entry.paint is not None:
                entry.paint(sheet, left, first - sheet.size * 0.36)
            for line, words in enumerate(entry.lines):
                sheet.text(left + indent, first + line * sheet.size * STEP, words)
            top += entry.high


def draw_flags(sheet: Sheet, entries: list[Entry], x: float, y: float, wide: float, count: int) -> None:
    """Draw the list of flags."""
    draw_entries(sheet, entries, x, y, wide, count, _indent(sheet.size))


# -- legend

_KEY = 5.6
"""Room for the symbols of a legend, by the size of its lettering."""


def _half(sheet: Sheet) -> float:
    """From the middle of a symbol to its edge, in a legend of this lettering."""
    return sheet.size * 0.8


def _way(dash: str = "", linked: bool = False, wires: tuple[int, int] | None = None) -> Paint:
    def paint(sheet: Sheet, x: float, y: float) -> None:
        if linked:
            sheet.line(path((x, y), (x + 4.6 * sheet.size, y)), dash=LINK_DASH, wide=THICK * 0.8, stroke=symbols.LINKED)
        else:
            sheet.line(path((x, y), (x + 4.6 * sheet.size, y)), dash=dash)
        if wires is not None:
            symbols.strokes(sheet, *wires, x + 8, y)

    return paint


def _box(*outlines: str) -> Paint:
    def paint(sheet: Sheet, x: float, y: float) -> None:
        for number, outline in enumerate(outlines):
            half = _half(sheet)
            here = x + half + number * (2 * half + 4)
            symbols.outline(sheet, outline, here, y, half)
            if outline in ("square", "round"):
                symbols.letters(sheet, "J", here, y)

    return paint


def _crossing(sheet: Sheet, x: float, y: float) -> None:
    half = _half(sheet)
    for at, joined in ((x + half, True), (x + 4 * half, False)):
        sheet.line(path((at - half, y), (at + half, y)) + path((at, y - half), (at, y + half)))
        if joined:
            symbols.splice(sheet, at, y)


def _devices(*kinds: str) -> Paint:
    def paint(sheet: Sheet, x: float, y: float) -> None:
        for number, kind in enumerate(kinds):
            half = _half(sheet)
            symbols.device(sheet, kind, x + half + number * (2 * half + 3), y, half - 0.5)

    return paint


def _breaker(sheet: Sheet, x: float, y: float) -> None:
    half = _half(sheet)
    sheet.box(x, y - half, 2 * half, 2 * half, fill=PAPER)
    symbols.letters(sheet, "20", x + half, y)


def _splice(sheet: Sheet, x: float, y: float) -> None:
    symbols.splice(sheet, x + _half(sheet), y)


def _bond(sheet: Sheet, x: float, y: float) -> None:
    symbols.ground(sheet, x + _half(sheet), y - sheet.size * 0.3, sheet.size * 0.6)


def _warning(sheet: Sheet, x: float, y: float) -> None:
    symbols.triangle(sheet, x + _half(sheet), y, sheet.size * 0.6)


def _doubt(sheet: Sheet, x: float, y: float) -> None:
    sheet.text(x, y + sheet.size * 0.36, "12?")


def _flags(grade: str, possible: bool = False) -> Paint:
    def paint(sheet: Sheet, x: float, y: float) -> None:
        symbols.flag(sheet, grade, possible, "1?" if possible else "1", x, y)

    return paint


LEGEND: tuple[tuple[str, Paint, str], ...] = (
    ("breaker", _breaker, "breaker, amperes"),
    ("wires", _way(wires=(2, 1)), "cable: a stroke for each conductor, with a dot: ground"),
    ("dashed", _way(DASH), "by colour or terminal only, doubtful, or not traced"),
    ("link", _way(linked=True), "joined though drawn apart, X1 at both"),
    ("box", _box("square", "round"), "box; J: no device in it"),
    ("unseen", _box("unseen", "lost"), "box, its kind not seen; place not seen"),
    ("elsewhere", _box("elsewhere", "panel"), "box drawn elsewhere; panel"),
    ("splice", _splice, "splice; without outline: outside a box"),
    ("inside", _crossing, "with a dot: joined; a crossing without a dot: not joined"),
    ("bond", _bond, "to the metal of the box"),
    ("open", _warning, "end not capped that can be live; open splice"),
    ("receptacle", _devices("duplex receptacle", "single receptacle"), "receptacle: duplex, single"),
    ("switch", _devices("switch", "three-way switch"), "switch; S3 three-way, S4 four-way, S2 double-pole, SD dimmer, "
     "ST timer"),
    ("luminaire", _devices("luminaire", "lampholder"), "luminaire; lampholder"),
    ("letters", _devices("fan", "appliance"), "F fan, A appliance, H heater, WH water heater, R range, D dryer, "
     "M motor, P pump, W welder, AC air conditioner, SA smoke alarm, BT bell transformer, ? kind not seen"),
    ("doubt", _doubt, "weakly known; 14 or 12: one of these; W/G: with ground"),
    ("hands off", _flags("hands off"), "HANDS OFF: can kill or start a fire as it is"),
    ("first", _flags("first"), "FIRST: before other work and use"),
    ("in turn", _flags("in turn"), "IN TURN: in the course of the work"),
    ("remark", _flags("remark"), "REMARK: worth knowing"),
    ("possible", _flags("first", True), "with ?: only if a doubtful value is other than recorded"),
)  # fmt: skip


ONLY_INSIDE = ("inside", "bond")
"""Entries of drawings of one place."""


def legend(room: float, size: float, only: Iterable[str] | None = None) -> list[Entry]:
    """Entries of the legend for columns of a width: all, or some by name; then where the symbols come from."""
    wanted = None if only is None else set(only)
    chars = fitting(room - _KEY * size, size)
    made = []
    for name, paint, words in LEGEND:
        if name in wanted if wanted is not None else name not in ONLY_INSIDE:
            lines = tuple(wrapped(((words, False),), chars, 6))
            made.append(Entry(lines, max(len(lines) * size * STEP + 2.0, size * 1.75), None, paint))
    return made


def draw_legend(sheet: Sheet, entries: list[Entry], x: float, y: float, wide: float, count: int) -> None:
    """Draw the legend."""
    draw_entries(sheet, entries, x, y, wide, count, _KEY * sheet.size)
