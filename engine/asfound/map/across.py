"""Trees that run across a sheet of paper, placed by the tidy trees of graphlay, which keep the order they are given.

A tree is cut into strips of `DEPTH` cables and of a height that a page takes;
what is cut off goes on in a strip of its own, with the same number at both
places. Each part is a block: words of the cable above the line, words of the
place below it. The line of a block lies `SHIFT` above the middle of its room,
unless its words are much higher on one side, so that a parent in the middle of
its children is joined straight to an only child.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from itertools import pairwise

import graphlay

from asfound.map import symbols
from asfound.map.parts import Bold, Flagged, Note, Part, Say, say
from asfound.map.sheet import DASH, LINK_DASH, PAPER, THICK, Sheet, path
from asfound.map.text import Spans, fitting, short, width, wrapped

SIZE = 7.0
"""Lettering, in points where the sheet is as wide as US letter less its margins."""
WIDE = 520.0
"""A sheet: US letter, 612 pt, less margins of 16 mm."""
FIRST, FIRST_ELSE = 80.0, 120.0
"""The column of breakers, and that of what starts elsewhere."""
DEPTH = 5
LANES = 10.0
"""Room at the right for cross-links."""
WIDEST = 143.0
"""A column."""
STEP = 1.2
"""From one line of text to the next, by its size."""
FLAG_STEP = 1.55
APART = 2.0
"""Between what stands side by side in a line."""
CLEAR = 9.0
"""From the line of a block to the words above it."""
TEXT = 4.0
"""From the left edge of a column to its words."""
HALF = 6.5
"""From the middle of a symbol to its edge."""
SHIFT = 1.5
LEVEL = 14.0
"""Lines are level with each other, or this much or more apart; never nearly level."""
GAP = 3.0
MOST_ROWS = 24
IN_ROW = 4
"""Symbols that stand side by side."""


@dataclass(frozen=True, slots=True)
class Mark:
    """The mark before a text: `open` for the warning at an open end, else the figures of a cross-link."""

    figures: str


Bit = Spans | Note | Mark
"""Words, a flag or a mark."""


@dataclass(frozen=True, slots=True)
class Row:
    """One line in a block: bits from left to right, and the room they take."""

    bits: tuple[Bit, ...]
    wide: float

    def step(self, size: float) -> float:
        """Its height."""
        return size * (STEP if all(isinstance(bit, tuple) for bit in self.bits) else FLAG_STEP)


@dataclass(slots=True, eq=False)
class Block:
    """A part with its lines of text, and where it stands: `x` its left edge, `y` its line.

    `first` is the room at the left in which the symbols of a root stand.
    """

    part: Part
    wide: float
    first: float
    over: list[Row]
    under: list[Row]
    x: float = 0.0
    y: float = 0.0
    children: list[Block] = field(default_factory=list)

    @property
    def root(self) -> bool:
        """Whether it stands at the left of a strip."""
        return self.part.sort not in ("cable", "at")

    @property
    def alone(self) -> bool:
        """Whether nothing hangs on it and its words stand beside its symbols."""
        return self.root and self.wide > self.first

    @property
    def half(self) -> float:
        """From its line to the edge of its symbols."""
        return HALF * max(1, len(self.part.amps))

    @property
    def up(self) -> float:
        """From its line to its upper edge."""
        return max(self.half + 1.0, CLEAR + 6.0 + sum(row.step(SIZE) for row in self.over[1:]) if self.over else 0.0)

    @property
    def down(self) -> float:
        """From its line to its lower edge."""
        return max(self.half + 1.0, 2.0 + (0.0 if self.alone else HALF) + sum(row.step(SIZE) for row in self.under))

    def rise(self, plain: bool) -> float:
        """How far its line lies above the middle of the room it is placed with."""
        steps = 0 if plain else round(((self.down - self.up) / 2 - SHIFT) / LEVEL)
        return SHIFT + steps * LEVEL

    def high(self, plain: bool = False) -> float:
        """The height of the room it is placed with; with `plain` every line lies `SHIFT` above its middle."""
        rise = self.rise(plain)
        return 2 * max(self.up + rise, self.down - rise)


@dataclass(slots=True, eq=False)
class Strip:
    """Blocks of one tree, placed: the root first."""

    blocks: list[Block]
    high: float = 0.0

    @property
    def root(self) -> Block:
        """The block at its left."""
        return self.blocks[0]


class Strips:
    """Cuts trees into strips; numbers where they go on. `digits` is the room that the figures of flags take."""

    def __init__(self, highest: float, digits: int) -> None:
        self.highest = highest
        self.digits = digits
        self.count = 0
        self.blocks: dict[tuple[Part, float], Block] = {}
        self.tall: dict[Block, float] = {}

    def strip(self, root: Part) -> tuple[Strip, list[Part]]:
        """The strip of a tree, and the roots of what goes on from it."""
        more: list[Part] = []
        first = FIRST if root.sort == "breaker" else FIRST_ELSE
        column = min(WIDEST, (WIDE - LANES - first) / max(1, _deep(root)))
        top = self._block(root, first, first)
        order: list[Block] = []
        waiting = [(top, 0)]
        while waiting:
            block, depth = waiting.pop()
            order.append(block)
            children = block.part.children if depth < DEPTH else ()
            block.children = [self._block(child, column, 0.0) for child in children]
            waiting += [(child, depth + 1) for child in reversed(block.children)]
        kept = self._kept(order)
        waiting_blocks, blocks = [top], []
        while waiting_blocks:
            block = waiting_blocks.pop()
            blocks.append(block)
            block.children = block.children[: kept[block]]
            if len(block.children) < len(block.part.children):
                self._go_on(block, block.part.children[len(block.children) :], more)
            waiting_blocks += reversed(block.children)
        strip = Strip(blocks)
        place(strip)
        return strip, more

    def _kept(self, order: list[Block]) -> dict[Block, int]:
        """How many children of each block a page takes, from the ends of the tree inward."""
        high: dict[Block, float] = {}
        kept: dict[Block, int] = {}
        for block in reversed(order):
            total, count = 0.0, 0
            for child in block.children:
                if count and total + high[child] + GAP > self.highest:
                    break
                total += high[child] + GAP
                count += 1
            kept[block] = count
            if block not in self.tall:
                self.tall[block] = block.high()
            high[block] = max(self.tall[block], total)
        return kept

    def _go_on(self, block: Block, children: list[Part], more: list[Part]) -> None:
        self.count += 1
        block.under = [*block.under, _words(f"goes on at {self.count}")]
        place = block.part.place.tag or block.part.item
        root = Part("goes on", f"goes on {self.count}", title=f"Goes on from {self.count}, {place}")
        root.over = [say(Bold(f"{self.count} goes on"))]
        root.under = [say("from", Bold(place), most=4)]
        root.dashed = block.part.dashed
        root.place.tag = place
        root.amps = [str(self.count)]
        root.children = children
        more.append(root)

    def _block(self, part: Part, wide: float, first: float) -> Block:
        """The block of a part in a column; a root on which nothing hangs has its words beside it."""
        key = (part, wide)
        if key not in self.blocks:
            alone = first and not part.children
            room = wide - TEXT - 5.0 if not first else wide - 2 * HALF - 10.0
            if alone:
                room = WIDE - LANES - first - 4.0
            over = rows(part.over, part.over_flags, room, self.digits)
            under = rows(part.under, part.under_flags, room, self.digits)
            self.blocks[key] = Block(part, WIDE - LANES if alone else wide, first, over, under)
        return self.blocks[key]


def _deep(root: Part) -> int:
    """How many cables one behind the other a tree has, `DEPTH` at most."""
    level, deep = root.children, 0
    while level and deep < DEPTH:
        level = [child for part in level for child in part.children]
        deep += 1
    return deep


def _reached(top: Block) -> list[Block]:
    found, waiting = [], [top]
    while waiting:
        block = waiting.pop()
        found.append(block)
        waiting += reversed(block.children)
    return found


def _words(text: str) -> Row:
    spans = ((text, True),)
    return Row((spans,), bit_wide(spans, SIZE))


def rows(says: Iterable[Say], flags: Iterable[Flagged], room: float, digits: int, size: float = SIZE) -> list[Row]:
    """Lines of text for words and flags in a room: flags of one grade side by side, then the grade in words.

    Words end after `MOST_ROWS` lines; flags never do.
    """
    made: list[Row] = []
    for held in says:
        if len(made) >= MOST_ROWS:
            more = ((short("and more: see it alone", fitting(room, size)), True),)
            made.append(Row((more,), bit_wide(more, size)))
            break
        mark = () if held.mark.startswith("again ") or not held.mark else (Mark(held.mark),)
        ahead = sum(bit_wide(one, size, digits) + APART for one in mark)
        for number, spans in enumerate(wrapped(held.pieces, fitting(room - ahead, size), held.most)):
            bits = (*mark, spans) if number == 0 else (spans,)
            made.append(Row(bits, row_wide(bits, size, digits)))
    groups: dict[tuple[str, bool], dict[Note, None]] = {}
    for flag in flags:
        groups.setdefault((flag.note.grade, flag.note.possible), {})[flag.note] = None
    for group in groups.values():
        _add_flags(made, list(group), room, digits, size)
    return made


def _add_flags(made: list[Row], group: list[Note], room: float, digits: int, size: float) -> None:
    """Put flags of one grade behind the last line where they fit, else in lines of their own."""
    words: Bit = ((group[0].words, True),)
    each = max(1, int((room + APART) / (bit_wide(group[0], size, digits) + APART)))
    for start in range(0, len(group), each):
        bits: tuple[Bit, ...] = tuple(group[start : start + each])
        if start + each >= len(group):
            bits = (*bits, words)
        wide = row_wide(bits, size, digits)
        if start == 0 and made and made[-1].wide + 2 * APART + wide <= room:
            made[-1] = Row((*made[-1].bits, *bits), made[-1].wide + 2 * APART + wide)
        elif wide <= room or len(bits) == 1:
            made.append(Row(bits, wide))
        else:
            made.append(Row(bits[:-1], row_wide(bits[:-1], size, digits)))
            made.append(Row(bits[-1:], row_wide(bits[-1:], size, digits)))


def bit_wide(bit: Bit, size: float, digits: int = 0) -> float:
    """The room that a bit takes; `digits` is how many figures a flag can have before it is numbered."""
    if isinstance(bit, Mark):
        return size * 1.5 if bit.figures == "open" else symbols.link_wide(bit.figures, size)
    if isinstance(bit, Note):
        return symbols.flag_wide("0" * (digits + bit.possible) if digits else bit.figures, size)
    return width("".join(text for text, _ in bit), size)


def row_wide(bits: Iterable[Bit], size: float, digits: int = 0) -> float:
    """The room that bits side by side take."""
    wides = [bit_wide(bit, size, digits) for bit in bits]
    return sum(wides) + APART * (len(wides) - 1)


def place(strip: Strip) -> None:
    """Let the layout library place the blocks of a strip; its upper edge is at 0 and its left edge at 0.

    Rooms as high as their words save paper, and a line may then lie above or
    below that of its parent. Where two uprights would so run into each other,
    the strip is placed again with every line at the same height of its room,
    which keeps each upright between its own children.
    """
    _placed(strip, plain=False)
    if _uprights_meet(strip):
        _placed(strip, plain=True)
    root = strip.root
    if root.children:  # nothing stands above or below it
        root.y = (root.children[0].y + root.children[-1].y) / 2
    top = min(block.y - block.up for block in strip.blocks)
    for block in strip.blocks:
        block.y -= top
    strip.high = max(block.y + block.down for block in strip.blocks)


def _placed(strip: Strip, plain: bool) -> None:
    index = {block: number for number, block in enumerate(strip.blocks)}
    nodes = [{"size": {"width": block.wide, "height": block.high(plain)}, "shape": "box", "key": str(number)}
             for block, number in index.items()]  # fmt: skip
    edges = [{"source": index[block], "target": index[child]} for block in strip.blocks for child in block.children]
    options = {"direction": "leftright", "sibling_gap": GAP, "subtree_gap": GAP, "row_gap": 0.0}
    placed = graphlay.layout_tree({"nodes": nodes, "edges": edges}, options=options)
    for block, node in zip(strip.blocks, placed.nodes, strict=True):
        block.x = node["center"]["x"] - block.wide / 2
        block.y = node["center"]["y"] - block.rise(plain)


def _uprights_meet(strip: Strip) -> bool:
    """Whether the uprights of two parents share a point, or one lies on the line of another parent."""
    held: dict[float, list[tuple[float, float]]] = {}
    for block in strip.blocks:
        if block.children:
            heights = [block.y, *(child.y for child in block.children)]
            held.setdefault(round(block.children[0].x, 1), []).append((min(heights), max(heights)))
    for spans in held.values():
        spans.sort()
        if any(after[0] < before[1] + 1.0 for before, after in pairwise(spans)):
            return True
    return False


def move(strip: Strip, down: float) -> None:
    """Move a strip down the page."""
    for block in strip.blocks:
        block.y += down


# -- drawing


def draw_strip(sheet: Sheet, strip: Strip) -> None:
    """Draw lines first, then blocks over them."""
    for block in strip.blocks:
        _ways(sheet, block)
    for block in strip.blocks:
        draw_block(sheet, block)


def symbols_at(block: Block) -> tuple[float, float]:
    """The middle of the first symbol of a block, and the right edge of the last."""
    count = max(1, min(len(block.part.place.devices), IN_ROW))
    right = block.x + (block.first - 4.0 if block.root else block.wide - 5.0)
    return right - (2 * count - 1) * HALF, right


def _ways(sheet: Sheet, block: Block) -> None:
    """The lines from a block to its children."""
    if not block.children:
        return
    first, right = symbols_at(block)
    right = first if pointed(block.part) else right
    bus = block.children[0].x
    for child in block.children:
        dash = DASH if child.part.dashed else ""
        first, _ = symbols_at(child)
        end = first if pointed(child.part) else first - HALF
        sheet.line(path((right, block.y), (bus, block.y), (bus, child.y), (end, child.y)), dash=dash)
    if len(block.children) > 1 and block.part.sort in ("cable", "at", "start"):
        symbols.splice(sheet, bus, block.y)


def pointed(part: Part) -> bool:
    """Whether a line goes to a point, and not to the edge of a symbol."""
    return part.place.outline == "open" and not part.place.devices


def draw_block(sheet: Sheet, block: Block) -> None:
    """A part: symbols on its line, words above and below."""
    part = block.part
    open_part(sheet, part)
    x, _ = symbols_at(block)
    if part.sort == "breaker":
        paint_breaker(sheet, part, x, block.y, HALF)
    elif part.sort == "goes on":
        sheet.ring(x, block.y, HALF, fill=PAPER)
        symbols.letters(sheet, part.amps[0], x, block.y)
    else:
        paint_place(sheet, part, x, block.y, HALF, ends=not block.children)
    if part.wires or part.grounds:
        symbols.strokes(sheet, part.wires, part.grounds, block.x + 6.0, block.y)
    anchor = "start" if block.root else "end"
    left = block.x + (TEXT if not block.alone else block.first + 2.0)
    y = block.y - CLEAR
    for row in reversed(block.over):
        draw_row(sheet, row, left, y, "start")
        y -= row.step(sheet.size)
    y = block.y + (HALF if not block.alone else -SIZE * 0.8)
    for row in block.under:
        y += row.step(sheet.size)
        draw_row(sheet, row, left if block.root else block.x + block.wide - 5.0, y, anchor)
    sheet.close()


def open_part(sheet: Sheet, part: Part) -> None:
    """Begin the group of a part, named by what is drawn in it and what is referred to."""
    sheet.open(part.title)
    for name, tags in (("item", part.full), ("ref", part.refs)):
        for tag in tags:
            sheet.named(name, tag)


def draw_row(sheet: Sheet, row: Row, x: float, y: float, anchor: str = "start") -> None:
    """A line of bits; `x` is its left edge, or with the anchor `end` its right edge."""
    size = sheet.size
    middle = y - size * 0.36
    if anchor == "end":
        x -= row_wide(row.bits, size) + sum(APART for one, two in pairwise(row.bits) if _parted(one, two))
    before: Bit | None = None
    for bit in row.bits:
        x += APART if before is not None and _parted(before, bit) else 0.0
        if isinstance(bit, Note):
            symbols.flag(sheet, bit.grade, bit.possible, bit.figures, x, middle)
        elif isinstance(bit, Mark):
            if bit.figures == "open":
                symbols.triangle(sheet, x + size * 0.75, middle, size * 0.6)
            else:
                symbols.linked(sheet, bit.figures, x, middle)
        else:
            sheet.text(x, y, bit)
        x += bit_wide(bit, size) + APART
        before = bit


def _parted(one: Bit, two: Bit) -> bool:
    """Whether a flag follows words, with more room between."""
    return isinstance(one, tuple) and isinstance(two, Note)


def paint_breaker(sheet: Sheet, part: Part, x: float, y: float, half: float) -> None:
    """Breakers as squares with their rating, around a middle."""
    top = y - half * len(part.amps)
    for number, figures in enumerate(part.amps):
        middle = top + half * (2 * number + 1)
        sheet.box(x - half, middle - half, 2 * half, 2 * half, fill=PAPER)
        symbols.letters(sheet, figures, x, middle)


def paint_place(sheet: Sheet, part: Part, x: float, y: float, half: float, ends: bool) -> None:
    """The outline of a place, with its devices side by side from `x` on; a joint, an open end or a question mark."""
    place = part.place
    devices = place.devices[:IN_ROW]
    around = place.outline if place.outline != "elsewhere" else "square" if place.boxed else "open"
    for number, (kind, _) in enumerate(devices):
        here = x + 2 * half * number
        symbols.outline(sheet, around, here, y, half)
        symbols.device(sheet, kind, here, y, half if around == "open" else half - 1.5, ringed=place.outline == "round")
    if devices:
        return
    symbols.outline(sheet, place.outline, x, y, half)
    if place.outline in ("square", "round"):
        symbols.letters(sheet, "J", x, y)
    elif place.outline == "open":
        if place.spliced:
            symbols.splice(sheet, x, y)
        elif place.opened or ends:
            symbols.open_end(sheet, x, y, 4.0)


# -- cross-links


def draw_links(sheet: Sheet, pairs: Iterable[tuple[Block, Block]], blocks: list[Block]) -> int:
    """Draw cross-links by lanes at the right where there is a free way; give how many were drawn."""
    lanes: list[list[tuple[float, float]]] = [[] for _ in range(3)]
    drawn_links = 0
    for one, two in pairs:
        ways = [_way_out(one, blocks), _way_out(two, blocks)]
        if None in ways:
            continue
        (x1, y1), (x2, y2) = (way for way in ways if way is not None)
        span = (min(y1, y2) - 2, max(y1, y2) + 2)
        free = next(
            (number for number, lane in enumerate(lanes) if all(span[1] < a or b < span[0] for a, b in lane)), None
        )
        if free is None:
            continue
        lanes[free].append(span)
        lane = WIDE - LANES + 3.0 + 2.8 * free
        _, right1 = symbols_at(one)
        _, right2 = symbols_at(two)
        way = path(
            (right1, one.y - 3),
            (x1, one.y - 3),
            (x1, y1),
            (lane, y1),
            (lane, y2),
            (x2, y2),
            (x2, two.y - 3),
            (right2, two.y - 3),
        )
        sheet.line(way, dash=LINK_DASH, wide=THICK * 0.8, stroke=symbols.LINKED)
        drawn_links += 1
    return drawn_links


def _way_out(block: Block, blocks: list[Block]) -> tuple[float, float] | None:
    """Where a link leaves a block: upright beside its symbols, then along a height that is free to the right."""
    x = block.x + block.wide - 2.5
    around = _reached(block)
    top = min(one.y - one.up for one in around) - GAP / 2
    low = max(one.y + one.down for one in around) + GAP / 2
    heights = [block.y - 3] if not block.children else []
    heights += [block.y - block.up - GAP / 2, block.y + block.down + GAP / 2, top, low]
    for y in heights:
        upright = min(y, block.y), max(y, block.y)
        if not any(_hits(other, x, y, upright, block) for other in blocks):
            return x, y
    return None


def _hits(other: Block, x: float, y: float, upright: tuple[float, float], own: Block) -> bool:
    up, low = other.y - other.up, other.y + other.down
    if other is own:
        return False
    if up < y < low and other.x + other.wide > x:
        return True
    return other.x < x < other.x + other.wide and up < upright[1] and low > upright[0]
