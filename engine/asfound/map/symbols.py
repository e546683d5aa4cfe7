"""Symbols of the trade, drawn around a point.

After IEEE Std 315-1975 (ANSI Y32.2) for one-line diagrams and ANSI Y32.9-1972
for wiring plans of buildings, both from memory: breaker as a square with its
rating, outlet as a circle, duplex receptacle as a circle with two lines, switch
as S with its number, luminaire as a circle with rays, other outlets as a circle
with letters, junction as J, conductors of a cable as strokes across it, ground
as three lines. Boxes as an outline around what is in them, the pentagon for
what is drawn elsewhere, the triangle at open ends and the flags are our own.
"""

from __future__ import annotations

import math

from asfound.map.sheet import DASH, INK, LINE, PAPER, THIN, Sheet, number, path

SOURCE = "Symbols after IEEE Std 315 / ANSI Y32.2 and ANSI Y32.9, from memory"
SWITCHES = {"switch": "S", "dimmer": "SD", "timer": "ST", "three-way switch": "S3", "four-way switch": "S4",
            "double-pole switch": "S2"}  # fmt: skip
ROUND = {
    "lampholder": "L", "fan": "F", "smoke alarm": "SA", "heater": "H", "water heater": "WH", "range": "R",
    "dryer": "D", "appliance": "A", "air conditioner": "AC", "motor": "M", "welder": "W", "pump": "P",
    "bell transformer": "BT",
}  # fmt: skip
RECEPTACLES = {"duplex receptacle": (2, ""), "single receptacle": (1, ""), "range receptacle": (2, "R"),
               "dryer receptacle": (2, "D")}  # fmt: skip
GRADES = {
    "hands off": ("octagon", "#7a0000", True), "first": ("square", "#6a3c00", True),
    "in turn": ("square", "#123a5a", False), "remark": ("round", "#333333", False),
}  # fmt: skip
"""Shape, colour, and whether it is filled, by grade; the word stands beside it always."""
LINKED = "#5a0a5a"
MOST_STROKES = 6
STROKE = 3.2
"""From one stroke to the next, in lettering of 7."""


def device(sheet: Sheet, kind: str, x: float, y: float, r: float, ringed: bool = False) -> None:
    """The symbol of a kind of device, `r` from its middle to its edge; a question mark for one that nobody saw.

    In a round box, `ringed`, the box is the ring of a symbol that is a ring with letters.
    """
    if kind in SWITCHES:
        letters(sheet, SWITCHES[kind], x, y)
    elif kind in RECEPTACLES:
        lines, letter = RECEPTACLES[kind]
        _receptacle(sheet, lines, letter, x, y, r)
    elif kind == "luminaire":
        _luminaire(sheet, x, y, r)
    elif kind in ROUND:
        if not ringed:
            sheet.ring(x, y, r)
        letters(sheet, ROUND[kind], x, y)
    else:
        letters(sheet, "?", x, y)


def letters(sheet: Sheet, words: str, x: float, y: float, fill: str = INK) -> None:
    """Letters in the middle of a symbol."""
    sheet.text(x, y + sheet.size * 0.36, words, bold=True, anchor="middle", fill=fill)


def _receptacle(sheet: Sheet, lines: int, letter: str, x: float, y: float, r: float) -> None:
    ring = r * 0.66 if not letter else r * 0.8
    sheet.ring(x, y, ring)
    for place in (0.0,) if lines == 1 else (-ring * 0.42, ring * 0.42):
        if letter:  # the lines stand out above and below the letter
            sheet.line(f"M{number(x + place)} {number(y - r)}V{number(y - ring * 0.9)}M{number(x + place)} "
                       f"{number(y + ring * 0.9)}V{number(y + r)}")  # fmt: skip
        else:
            sheet.line(path((x + place, y - r), (x + place, y + r)))
    if letter:
        letters(sheet, letter, x, y)


def _luminaire(sheet: Sheet, x: float, y: float, r: float) -> None:
    ring = r * 0.5
    sheet.ring(x, y, ring)
    strokes = []
    for turn in (1, 3, 5, 7):
        one, two = math.cos(turn * math.pi / 4), math.sin(turn * math.pi / 4)
        strokes.append(path((x + one * ring, y + two * ring), (x + one * r * 1.2, y + two * r * 1.2)))
    sheet.line("".join(strokes))


def outline(sheet: Sheet, sort: str, x: float, y: float, r: float) -> None:
    """A box around a point: square, round, or of a shape nobody saw; `open` draws none, `lost` a place not known."""
    if sort in ("square", "unseen"):
        sheet.box(x - r, y - r, 2 * r, 2 * r, fill=PAPER, dash=DASH if sort == "unseen" else "")
    elif sort == "round":
        sheet.ring(x, y, r, fill=PAPER)
    elif sort == "lost":
        sheet.ring(x, y, r, fill=PAPER, dash=DASH)
        letters(sheet, "?", x, y)
    elif sort == "elsewhere":
        left, right = x - r, x + r
        sheet.area(f"{path((left, y - r), (x + r * 0.2, y - r), (right, y), (x + r * 0.2, y + r), (left, y + r))}Z",
                   fill=PAPER, stroke=INK)  # fmt: skip
    elif sort == "panel":
        sheet.box(x - r, y - r, 2 * r, 2 * r, fill=PAPER, wide=2.0)


def splice(sheet: Sheet, x: float, y: float) -> None:
    """A joint."""
    sheet.ring(x, y, 2.0, wide=0, fill=INK)


def strokes(sheet: Sheet, wires: int, grounds: int, at: float, across: float, upright: bool = False) -> None:
    """Conductors of a cable from a point on: a stroke for each, with a dot at its end for a ground."""
    drawn = [False] * min(wires, MOST_STROKES) + [True] * min(grounds, 2)
    apart, high, lean = (part * sheet.size / 7.0 for part in (STROKE, 3.4, 1.2))
    lines, dots = [], []
    for place, ground in enumerate(drawn):
        here = at + apart * place
        one, two = (here - lean, across + high), (here + lean, across - high)
        if upright:
            one, two = (across - high, here + lean), (across + high, here - lean)
        lines.append(path(one, two))
        if ground:
            dots.append(two)
    if lines:
        sheet.line("".join(lines), wide=THIN)
    for x, y in dots:
        sheet.ring(x, y, 1.1 * sheet.size / 7.0, wide=0, fill=INK)


def stroke_room(wires: int, grounds: int, size: float) -> float:
    """The length of cable that `strokes` takes."""
    return STROKE * (min(wires, MOST_STROKES) + min(grounds, 2)) * size / 7.0


def triangle(sheet: Sheet, x: float, y: float, r: float) -> None:
    """The warning at an open end, around a point."""
    low, half = y + r * 0.8, r * 0.95
    sheet.area(f"{path((x - half, low), (x, y - r), (x + half, low))}Z", fill=PAPER, stroke=INK, wide=0.9)
    sheet.line(path((x, y - r * 0.35), (x, y + r * 0.3)), wide=0.9)
    sheet.ring(x, y + r * 0.55, 0.5, wide=0, fill=INK)


def open_end(sheet: Sheet, x: float, y: float, r: float) -> None:
    """An end that stands open: a short bar across the cable."""
    sheet.line(path((x, y - r), (x, y + r)), wide=1.4)


def ground(sheet: Sheet, x: float, y: float, r: float) -> None:
    """The ground symbol, hanging from a point."""
    sheet.line(path((x, y), (x, y + r * 0.5))
               + "".join(path((x - r * part, y + r * down), (x + r * part, y + r * down))
                         for part, down in ((0.8, 0.5), (0.5, 0.85), (0.2, 1.2))))  # fmt: skip


def flag_wide(figures: str, size: float) -> float:
    """The width of a flag with these figures in it."""
    return len(figures) * 0.602 * size + size * 0.7


def flag(sheet: Sheet, grade: str, possible: bool, figures: str, x: float, y: float) -> None:
    """A numbered flag from `x` on, its middle at `y`; with a dashed edge, and not filled, when it is a question."""
    shape, colour, filled = GRADES[grade]
    filled = filled and not possible
    wide, half = flag_wide(figures, sheet.size), sheet.size * 0.66
    cut = {"octagon": half * 0.6, "round": half * 0.9}.get(shape, 0.0)
    left, right, top, low = x, x + wide, y - half, y + half
    if shape == "round":
        a, b, c, d, e = map(number, (left, left + cut, right - cut, right, y))
        one, two = number(top), number(low)
        edge = f"M{b} {one}H{c}Q{d} {one} {d} {e}T{c} {two}H{b}Q{a} {two} {a} {e}T{b} {one}Z"
    else:
        corners = [(left + cut, top), (right - cut, top), (right, top + cut), (right, low - cut), (right - cut, low),
                   (left + cut, low), (left, low - cut), (left, top + cut)]  # fmt: skip
        edge = f"{path(*corners)}Z"
    sheet.area(edge, fill=colour if filled else PAPER, stroke=colour, wide=0.9, dash="2 1.2" if possible else "")
    letters(sheet, figures, (left + right) / 2, y, fill=PAPER if filled else colour)


def linked(sheet: Sheet, figures: str, x: float, y: float) -> None:
    """The mark of a cross-link from `x` on, its middle at `y`: a lozenge, the same at both ends."""
    wide, half = flag_wide(figures, sheet.size) + sheet.size * 0.5, sheet.size * 0.68
    cut = half * 0.8
    corners = [(x, y), (x + cut, y - half), (x + wide - cut, y - half), (x + wide, y), (x + wide - cut, y + half),
               (x + cut, y + half)]  # fmt: skip
    sheet.area(f"{path(*corners)}Z", fill=PAPER, stroke=LINKED, wide=LINE)
    letters(sheet, figures, x + wide / 2, y, fill=LINKED)


def link_wide(figures: str, size: float) -> float:
    """The width of the mark of a cross-link."""
    return flag_wide(figures, size) + size * 0.5
