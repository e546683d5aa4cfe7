"""Trees that run down a phone: one rail, on which what follows hangs, and a rail to the right for each branch.

The last of several branches goes on along the rail of what it hangs on, so a
chain runs straight down. What is too deep, or too long for one drawing, goes on
below under a number.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field

from asfound.map import symbols
from asfound.map.across import Row, bit_wide, draw_row, open_part, paint_breaker, paint_place, pointed, rows
from asfound.map.parts import Bold, Part, say
from asfound.map.sheet import DASH, PAPER, Sheet, path

WIDE = 360.0
SIZE = 10.5
MARGIN = 4.0
RAIL = 17.0
HALF = 9.5
RAILS = 7
MOST = 60
"""Parts in one section."""
TEXT = 14.0
"""From a rail to the words of a cable."""
SPACE = 8.0
LEAST = 6.0
"""The least upright before a symbol, beside the room that the strokes of a cable take."""


@dataclass(slots=True, eq=False)
class Step:
    """A part on its rail, with its lines of text; `top` and `y` are where it begins and its symbols stand."""

    part: Part
    rail: int
    above: Step | None
    over: list[Row]
    under: list[Row]
    top: float = 0.0
    y: float = 0.0
    low: float = 0.0
    below: list[Step] = field(default_factory=list)

    @property
    def x(self) -> float:
        """Where its rail is."""
        return MARGIN + HALF + RAIL * self.rail

    @property
    def half(self) -> float:
        """From the middle of its symbols to their upper edge."""
        return HALF * max(1, len(self.part.amps))

    @property
    def words(self) -> float:
        """Where the words beside its symbols begin."""
        return self.x + HALF * (2 * max(1, min(len(self.part.place.devices), 4)) - 1) + 5.0


class Sections:
    """Cuts a tree into sections; numbers where it goes on."""

    def __init__(self, digits: int) -> None:
        self.digits = digits
        self.count = 0

    def of(self, root: Part) -> Iterator[list[Step]]:
        """The sections of a tree, each placed from 0 downward; the height of one is the `low` of its last step."""
        waiting = [root]
        while waiting:
            steps, more = self._section(waiting.pop(0))
            _place(steps)
            yield steps
            waiting += more

    def _section(self, root: Part) -> tuple[list[Step], list[Part]]:
        steps: list[Step] = []
        cut: dict[Step, list[Part]] = {}
        waiting: list[tuple[Part, int, Step | None]] = [(root, 0, None)]
        while waiting:
            part, rail, above = waiting.pop()
            if above is not None and (rail > RAILS or len(steps) >= MOST):
                cut.setdefault(above, []).append(part)
                continue
            step = self._step(part, rail, above)
            steps.append(step)
            if above is not None:
                above.below.append(step)
            children = part.children
            waiting += [(child, rail + (child is not children[-1]), step) for child in reversed(children)]
        return steps, [self._go_on(step, parts) for step, parts in cut.items()]

    def _step(self, part: Part, rail: int, above: Step | None) -> Step:
        step = Step(part, rail, above, [], [])
        beside = WIDE - MARGIN - step.words
        if above is None:
            step.under = rows(
                [*part.over, *part.under], (*part.over_flags, *part.under_flags), beside, self.digits, SIZE
            )
        else:
            step.over = rows(part.over, part.over_flags, WIDE - MARGIN - step.x - TEXT, self.digits, SIZE)
            step.under = rows(part.under, part.under_flags, beside, self.digits, SIZE)
        return step

    def _go_on(self, step: Step, children: list[Part]) -> Part:
        self.count += 1
        words = ((f"goes on at {self.count}", True),)
        step.under = [*step.under, Row((words,), bit_wide(words, SIZE))]
        place = step.part.place.tag or step.part.item
        root = Part("goes on", f"goes on {self.count}", title=f"Goes on from {self.count}, {place}")
        root.over = [say(Bold(f"{self.count} goes on"), "from", Bold(place), most=4)]
        root.dashed = step.part.dashed
        root.amps = [str(self.count)]
        root.children = children
        return root


def _place(steps: list[Step]) -> None:
    """Give each step its heights, one below the other."""
    y = 0.0
    for step in steps:
        step.top = y
        over = sum(row.step(SIZE) for row in step.over)
        least = LEAST + symbols.stroke_room(step.part.wires, step.part.grounds, SIZE)
        step.y = y + (max(over + 3.0, least) if step.above is not None else 0.0) + step.half
        under = sum(row.step(SIZE) for row in step.under)
        step.low = max(step.y + step.half, step.y - HALF + under + 3.0)
        y = step.low + SPACE


def move(steps: list[Step], down: float) -> None:
    """Move a section down."""
    for step in steps:
        step.top += down
        step.y += down
        step.low += down


def draw(sheet: Sheet, steps: list[Step]) -> None:
    """Draw a section: the ways, then the parts over them."""
    for step in steps:
        _ways(sheet, step)
    for step in steps:
        _draw_step(sheet, step)


def _ways(sheet: Sheet, step: Step) -> None:
    """The lines from a step to those that hang on it."""
    start = step.y if pointed(step.part) else step.y + step.half
    for below in step.below:
        end = below.y if pointed(below.part) else below.y - below.half
        turn = below.top + 1.0
        sheet.line(path((step.x, start), (step.x, turn), (below.x, turn), (below.x, end)),
                   dash=DASH if below.part.dashed else "")  # fmt: skip
        if below.rail != step.rail:
            symbols.splice(sheet, step.x, turn)


def _draw_step(sheet: Sheet, step: Step) -> None:
    part = step.part
    open_part(sheet, part)
    if part.sort == "breaker":
        paint_breaker(sheet, part, step.x, step.y, HALF)
    elif part.sort == "goes on":
        sheet.ring(step.x, step.y, HALF, fill=PAPER)
        symbols.letters(sheet, part.amps[0], step.x, step.y)
    else:
        paint_place(sheet, part, step.x, step.y, HALF, ends=not step.below)
    if part.wires or part.grounds:
        symbols.strokes(sheet, part.wires, part.grounds, step.top + 6.0, step.x, upright=True)
    y = step.top
    for row in step.over:
        y += row.step(SIZE)
        draw_row(sheet, row, step.x + TEXT, y)
    y = step.y - HALF
    for row in step.under:
        y += row.step(SIZE)
        draw_row(sheet, row, step.words, y)
    sheet.close()
