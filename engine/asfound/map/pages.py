"""Pages of paper: strips one below the other, with the flags of each page listed on it and a legend on the first."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field

from asfound.judge.results import Finding
from asfound.map import across, listed
from asfound.map.across import FIRST, SIZE, WIDE, Strip, Strips, draw_links, draw_row, draw_strip, rows
from asfound.map.listed import Entry
from asfound.map.parts import Chart, Flagged, Note, Part
from asfound.map.sheet import Sheet
from asfound.map.symbols import SOURCE
from asfound.map.text import drawn, fitting, short, wrap
from asfound.wording import plural, quoted_list

HIGHEST = 625.0
"""A page: what US letter leaves below a heading and above a caption, by the width of `WIDE`."""
STRIP = 400.0
"""A strip: what the legend and some flags leave of a page."""
STEP = SIZE * 1.2
MOST_PAGES = 32
"""Pages of panels; what is on none of them is named on the last."""
MORE_PAGES = 8
"""Pages more for what is not traced to a breaker."""
CAUTIONS = {"hands off": 2}
"""Sentences of a caution; one where nothing is said here."""
BETWEEN = 5.0
LEGEND_COLUMNS = 3


@dataclass(frozen=True, slots=True)
class Drawing:
    """A drawing: its title, its text for those who do not see it, and the SVG, of so many units of width and height."""

    title: str
    alt: str
    svg: str
    wide: float = WIDE
    high: float = 0.0


@dataclass(slots=True)
class Page:
    """One page while it is filled."""

    chart: Chart
    number: int
    strips: list[Strip] = field(default_factory=list)
    notes: dict[Note, dict[str, None]] = field(default_factory=dict)  # keynotes with the findings flagged here
    legend: list[Entry] = field(default_factory=list)
    used: float = 0.0
    left: list[str] = field(default_factory=list)
    more: bool = False


class Pages:
    """Fills pages with charts and draws them."""

    def __init__(self, site: str, findings: Mapping[str, Finding], digits: int) -> None:
        self.site = site
        self.findings = findings
        self.digits = digits
        self.order = {identity: number for number, identity in enumerate(findings)}
        self.pages: list[Page] = []
        self.strips = Strips(STRIP, digits)

    def add(self, chart: Chart, most: int = MOST_PAGES) -> None:
        """Fill pages with a chart, up to so many pages in all; what is on none of them is noted on the last."""
        page = self._page(chart, most)
        if page is None:
            self.pages[-1].left += [chart.title]
            return
        _take(page.notes, chart.flags)
        waiting: list[Part] = list(chart.roots)
        while waiting:
            some, waiting = waiting, []
            for number, root in enumerate(some):
                strip, more = self.strips.strip(root)
                waiting += more
                added = [flag for block in strip.blocks for flag in (*block.part.over_flags, *block.part.under_flags)]
                if page.strips and self._full(page, strip, added):
                    following = self._page(chart, most)
                    if following is None:
                        page.left += [_name(one) for one in (*some[number:], *waiting)]
                        return
                    page = following
                page.strips.append(strip)
                page.used += strip.high + BETWEEN
                _take(page.notes, added)

    def _page(self, chart: Chart, most: int) -> Page | None:
        if len(self.pages) >= most:
            return None
        number = 1 + sum(page.chart is chart for page in self.pages)
        page = Page(chart, number)
        if not self.pages:
            page.legend = listed.legend((WIDE - listed.GAP * (LEGEND_COLUMNS - 1)) / LEGEND_COLUMNS, SIZE)
        self.pages.append(page)
        return page

    def _full(self, page: Page, strip: Strip, flags: list[Flagged]) -> bool:
        notes = {note: dict(findings) for note, findings in page.notes.items()}
        _take(notes, flags)
        return self._fixed(page) + page.used + strip.high + listed.high(self._entries(notes), 2) > HIGHEST

    def _entries(self, notes: dict[Note, dict[str, None]], cautions: bool = True) -> list[Entry]:
        """The list of keynotes, the worst first, with what there is room for of their cautions."""
        room = (WIDE - listed.GAP) / 2
        made = []
        for note in self._sorted(notes):
            sentences = CAUTIONS.get(note.grade, 1) if cautions else 0
            made.append(listed.note_entry(note, [self.findings[one] for one in notes[note]], room, SIZE, sentences))
        return made

    def _sorted(self, notes: dict[Note, dict[str, None]]) -> list[Note]:
        return sorted(notes, key=lambda note: min(self.order[one] for one in notes[note]))

    def _fixed(self, page: Page) -> float:
        """Heading, notes and legend."""
        legend = listed.high(page.legend, LEGEND_COLUMNS) + 2 * STEP + 4 if page.legend else 0.0
        return len(_head(page.chart)) * 11.0 + 6 * STEP + 22 + legend

    # -- drawing

    def drawings(self) -> Iterator[Drawing]:
        """Every page drawn. Flags are numbered through all of them, the worst first on each."""
        count = 0
        for page in self.pages:
            for note in self._sorted(page.notes):
                if not note.number:
                    count += 1
                    note.number = count
        pages = {id(page.chart): 0 for page in self.pages}
        for page in self.pages:
            pages[id(page.chart)] += 1
        for page in self.pages:
            yield self._draw(page, pages[id(page.chart)])

    def _draw(self, page: Page, of: int) -> Drawing:
        sheet = Sheet(WIDE, SIZE)
        title = page.chart.title if of == 1 else f"{page.chart.title}, page {page.number} of {of}"
        sheet.open()
        sheet.named("item" if page.number == 1 else "ref", page.chart.item)
        sheet.close()
        y = 0.0
        for words in _head(page.chart):
            y += 11.0
            sheet.text(0, y, words, bold=True, size=9)
        y += STEP
        paged = f"; page {page.number} of {of}" if of > 1 else ""
        sheet.text(0, y, short(drawn(self.site), fitting(WIDE, SIZE) - len(paged)) + paged)
        if page.number == 1 and page.chart.flags:
            for row in rows((), page.chart.flags, WIDE, self.digits):
                y += row.step(SIZE)
                draw_row(sheet, row, 0, y)
        y = self._strips(sheet, page, y + 8.0)
        y = self._notes(sheet, page, y)
        y = self._list(sheet, page, y)
        if page.legend:
            y = self._legend(sheet, page, y)
        y += 3
        for words in wrap(listed.FOOT, fitting(WIDE, SIZE), 3):
            y += STEP
            sheet.text(0, y, words, bold=True)
        return Drawing(
            drawn(title), drawn(_alt(page, title)), sheet.svg(y + 4, f"{title}. {_alt(page, title)}"), WIDE, y + 4
        )

    def _strips(self, sheet: Sheet, page: Page, y: float) -> float:
        tops: list[tuple[float, float]] = []
        for strip in page.strips:
            across.move(strip, y)
            if strip.root.part.sort == "breaker":
                tops.append((y, y + strip.high))
            y += strip.high + BETWEEN
        if tops:
            top, low = tops[0][0] - 3.0, max(end for _, end in tops) + 3.0
            sheet.box(0.7, top, FIRST - 6.0, low - top, wide=1.4)
        if not page.strips:
            sheet.text(0, y + STEP, "No breaker is recorded.")
            y += 2 * STEP
        for strip in page.strips:
            draw_strip(sheet, strip)
        blocks = {block.part: block for strip in page.strips for block in strip.blocks}
        links = [link for link in page.chart.links if link.full in blocks and link.other in blocks]
        draw_links(sheet, [(blocks[link.full], blocks[link.other]) for link in links], list(blocks.values()))
        return y

    def _notes(self, sheet: Sheet, page: Page, y: float) -> float:
        if not page.left:
            return y
        words = f"NOT DRAWN, because the pages are full: {quoted_list(page.left, 12)}. A circuit can be drawn alone."
        for line in wrap(drawn(words), fitting(WIDE, SIZE), 6):
            y += STEP
            sheet.text(0, y, line, bold=True)
        return y + 3

    def _list(self, sheet: Sheet, page: Page, y: float) -> float:
        if not page.notes:
            return y
        y += 3
        sheet.line(f"M0 {y:.2f}H{WIDE:g}", wide=0.6)
        legend = listed.high(page.legend, LEGEND_COLUMNS) + 2 * STEP + 4 if page.legend else 0.0
        room = max(60.0, HIGHEST - y - 4 * STEP - 8 - legend)
        entries = self._entries(page.notes)
        if listed.high(entries, 2) > room:
            entries = self._entries(page.notes, cautions=False)
        kept = len(entries)
        while kept > 1 and listed.high(entries[:kept], 2) > room:
            kept = min(kept - 1, int(kept * 0.9) + 1)
        listed.draw_flags(sheet, entries[:kept], 0, y + 2, WIDE, 2)
        y += 2 + listed.high(entries[:kept], 2)
        if kept < len(entries):
            y += STEP
            sheet.text(
                0, y, f"And {plural(len(entries) - kept, 'more keynote')} of this page: see the findings.", bold=True
            )
        y += STEP
        sheet.text(0, y, f"{listed.OWN_NUMBERS} Statement, evidence, caution, local code: see the findings.")
        return y + 2

    def _legend(self, sheet: Sheet, page: Page, y: float) -> float:
        y += 3
        sheet.line(f"M0 {y:.2f}H{WIDE:g}", wide=0.6)
        listed.draw_legend(sheet, page.legend, 0, y + 2, WIDE, LEGEND_COLUMNS)
        y += 2 + listed.high(page.legend, LEGEND_COLUMNS) + STEP
        sheet.text(0, y, f"{SOURCE}; flags, warnings and links are our own.")
        return y


def _take(notes: dict[Note, dict[str, None]], flags: Iterable[Flagged]) -> None:
    for flag in flags:
        notes.setdefault(flag.note, {}).update(dict.fromkeys(flag.findings))


def _head(chart: Chart) -> list[str]:
    return wrap(drawn(chart.head), fitting(WIDE, 9), 2)


def _name(root: Part) -> str:
    return root.title.split(";")[0].split(":")[0] or root.item


def _alt(page: Page, title: str) -> str:
    """What a page shows, in a few sentences."""
    parts = [block.part for strip in page.strips for block in strip.blocks]
    cables = sum(part.item.startswith("cable ") and part.item in part.full for part in parts)
    boxes = sum(one.startswith("box ") for part in parts for one in part.full)
    devices = sum(one.startswith("device ") for part in parts for one in part.full)
    roots = [_name(strip.root.part) for strip in page.strips]
    grades: dict[str, int] = {}
    for note, findings in page.notes.items():
        grades[note.words] = grades.get(note.words, 0) + len(findings)
    held = f"{plural(cables, 'cable')}, {plural(boxes, 'box', 'boxes')}, {plural(devices, 'device')}"
    said = [f"One-line diagram of {title}: {held}"]
    said.append(f"From {quoted_list(roots, 20)}" if roots else "No breaker")
    said.append(f"Flags: {', '.join(f'{count} {words}' for words, count in grades.items())}" if grades else "No flags")
    said.append("What is not marked PROVEN DEAD is to be treated as live")
    return ". ".join(said) + "."
