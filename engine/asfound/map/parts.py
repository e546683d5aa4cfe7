"""What is drawn, before it has a place: a tree of parts for each circuit, with words, symbols and flags."""

from __future__ import annotations

from dataclasses import dataclass, field

from asfound.map.text import Spans


class Bold(str):
    """A piece of words that is drawn bold."""

    __slots__ = ()


@dataclass(frozen=True, slots=True)
class Say:
    """Words at a part, in pieces that a space stands between, in `most` lines, and a `mark` before them.

    The mark is `open` for the warning at an open end, the figures of a
    cross-link, or `again` with the tag of a cable until links are known.
    """

    pieces: Spans
    most: int = 2
    mark: str = ""


def say(*pieces: str, most: int = 2, mark: str = "") -> Say:
    """Words of plain and bold pieces."""
    return Say(tuple((str(piece), isinstance(piece, Bold)) for piece in pieces if piece), most, mark)


@dataclass(slots=True, eq=False)
class Note:
    """A keynote: what one rule found with one grade and certainty. Numbered by the first page that shows it."""

    rule: str
    grade: str
    certainty: str
    number: int = 0

    @property
    def possible(self) -> bool:
        """Whether it is a question and no defect yet."""
        return self.certainty == "possible"

    @property
    def figures(self) -> str:
        """What stands in the flag."""
        return f"{self.number}?" if self.possible else str(self.number)

    @property
    def words(self) -> str:
        """`HANDS OFF`; `FIRST?` for a question."""
        return f"{self.grade.upper()}{'?' if self.possible else ''}"


@dataclass(frozen=True, slots=True)
class Flagged:
    """A keynote at a part, for these findings by identity."""

    note: Note
    findings: tuple[str, ...]


@dataclass(slots=True)
class Place:
    """What stands at the end of a line: an outline, with devices in it as kind and tag; `spliced` when joints are."""

    outline: str = "none"
    tag: str = ""
    devices: list[tuple[str, str]] = field(default_factory=list)
    spliced: bool = False
    boxed: bool = True
    opened: bool = False  # an end that can be live ends here and is not capped


@dataclass(slots=True, eq=False)
class Part:
    """A breaker, or a cable with the place it leads to, or a place that a cable passes, and all that hangs on it.

    `over` are words of the cable, `under` words of the place. `item` is what is
    drawn here in full, `refs` what is only referred to. `again` are conductors
    joined here whose way is drawn elsewhere.
    """

    sort: str
    item: str = ""
    wires: int = 0
    grounds: int = 0
    dashed: bool = False
    place: Place = field(default_factory=Place)
    over: list[Say] = field(default_factory=list)
    under: list[Say] = field(default_factory=list)
    over_flags: list[Flagged] = field(default_factory=list)
    under_flags: list[Flagged] = field(default_factory=list)
    full: list[str] = field(default_factory=list)
    refs: list[str] = field(default_factory=list)
    again: list[str] = field(default_factory=list)
    title: str = ""
    amps: list[str] = field(default_factory=list)  # of a breaker: what stands in its squares
    children: list[Part] = field(default_factory=list)
    links: list[Link] = field(default_factory=list)


@dataclass(slots=True, eq=False)
class Link:
    """A cross-link: two parts at which one place is met by ways that are drawn apart, with conductors joined."""

    figures: str
    full: Part
    other: Part


@dataclass(slots=True)
class Chart:
    """The parts of one panel, or of what is not traced."""

    title: str
    head: str
    item: str
    roots: list[Part]
    flags: list[Flagged] = field(default_factory=list)
    links: list[Link] = field(default_factory=list)
