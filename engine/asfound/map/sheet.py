"""A sheet to draw on, and the SVG it becomes: small, without script, style, identifiers or anything from elsewhere.

Several sheets can stand in one page of the web, so nothing in them is named by
an identifier. Every text goes through `drawn` and every title through `titled`.
Lengths are in units of the drawing, which are points on paper and pixels on a
phone, at 1:1.
"""

from __future__ import annotations

from asfound.map.text import FAMILY, Spans, drawn, escaped, titled

INK, PAPER = "#000000", "#ffffff"
DASH = "4 2"
"""What is uncertain."""
LINK_DASH = "7 2 1.5 2"
"""A cross-link: what joins two ways that are drawn apart."""
THIN, LINE, THICK = 0.6, 1.0, 1.6


class Sheet:
    """A sheet of a width, with lettering of one size unless said otherwise."""

    def __init__(self, width: float, size: float) -> None:
        self.width = width
        self.size = size
        self.parts: list[str] = []

    def open(self, title: str = "", **named: str) -> None:
        """Begin a group with a title, and with what it draws as attributes: `item` in full, `ref` as a reference."""
        attributes = "".join(f' data-{name}="{escaped(titled(text))}"' for name, text in named.items() if text)
        self.parts.append(f"<g{attributes}>")
        if title:
            self.parts.append(f"<title>{escaped(titled(title))}</title>")

    def close(self) -> None:
        """End a group."""
        self.parts.append("</g>")

    def named(self, name: str, text: str) -> None:
        """An empty group that only says what is drawn here."""
        self.parts.append(f'<g data-{name}="{escaped(titled(text))}"/>')

    def text(
        self, x: float, y: float, words: str | Spans, *, bold: bool = False, anchor: str = "start", fill: str = INK,
        size: float = 0.0,
    ) -> None:  # fmt: skip
        """A line of text on its baseline, all of it bold or not, or in pieces."""
        spans: Spans = ((drawn(words), bold),) if isinstance(words, str) else words
        if not any(text.strip() for text, _ in spans):
            return
        more = "" if anchor == "start" else f' text-anchor="{anchor}"'
        more += "" if fill == INK else f' fill="{fill}"'
        more += "" if size in (0.0, self.size) else f' font-size="{number(size)}"'
        if len(spans) == 1:
            more += ' font-weight="bold"' if spans[0][1] else ""
            inner = escaped(spans[0][0])
        else:
            inner = "".join(_span(text, heavy) for text, heavy in spans)
        self.parts.append(f'<text x="{number(x)}" y="{number(y)}"{more}>{inner}</text>')

    def line(self, path: str, *, dash: str = "", wide: float = LINE, stroke: str = INK) -> None:
        """A line that is not filled, by path commands."""
        more = f' stroke-dasharray="{dash}"' if dash else ""
        self.parts.append(f'<path d="{path}" fill="none" stroke="{stroke}" stroke-width="{number(wide)}"{more}/>')

    def area(self, path: str, *, fill: str = INK, stroke: str = "", wide: float = LINE, dash: str = "") -> None:
        """A filled area, by path commands."""
        more = f' stroke="{stroke}" stroke-width="{number(wide)}"' if stroke else ""
        more += f' stroke-dasharray="{dash}"' if dash else ""
        self.parts.append(f'<path d="{path}" fill="{fill}"{more}/>')

    def box(
        self, x: float, y: float, w: float, h: float, *, dash: str = "", wide: float = LINE, fill: str = "none"
    ) -> None:
        """A rectangle by its corner and size."""
        more = f' stroke-dasharray="{dash}"' if dash else ""
        self.parts.append(
            f'<rect x="{number(x)}" y="{number(y)}" width="{number(w)}" height="{number(h)}" fill="{fill}" '
            f'stroke="{INK}" stroke-width="{number(wide)}"{more}/>'
        )

    def ring(self, x: float, y: float, r: float, *, dash: str = "", wide: float = LINE, fill: str = "none") -> None:
        """A circle by its centre and radius; a dot when it is filled and has no width."""
        more = f' stroke="{INK}" stroke-width="{number(wide)}"' if wide else ""
        more += f' stroke-dasharray="{dash}"' if dash else ""
        self.parts.append(f'<circle cx="{number(x)}" cy="{number(y)}" r="{number(r)}" fill="{fill}"{more}/>')

    def svg(self, height: float, label: str) -> str:
        """The drawing, named by `label` for those who do not see it."""
        high, wide = number(height), number(self.width)
        head = (
            f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {wide} {high}" width="{wide}" height="{high}" '
            f'role="img" aria-label="{escaped(titled(label))}">'
        )
        ground = f'<rect width="{wide}" height="{high}" fill="{PAPER}"/>'
        letters = f'<g font-family="{FAMILY}" font-size="{number(self.size)}" fill="{INK}">'
        return "\n".join([head, ground, letters, *self.parts, "</g>", "</svg>"]) + "\n"


def _span(text: str, bold: bool) -> str:
    return f'<tspan font-weight="bold">{escaped(text)}</tspan>' if bold else escaped(text)


def number(value: float) -> str:
    """A length with two decimals at most."""
    text = f"{value:.2f}".rstrip("0").rstrip(".")
    return "0" if text == "-0" else text


def path(*points: tuple[float, float]) -> str:
    """Path commands through points; level and upright strokes in short."""
    (x, y), *more = points
    said = [f"M{number(x)} {number(y)}"]
    for one, two in more:
        if number(one) == number(x) and number(two) == number(y):
            continue
        if number(two) == number(y):
            said.append(f"H{number(one)}")
        elif number(one) == number(x):
            said.append(f"V{number(two)}")
        else:
            said.append(f"L{number(one)} {number(two)}")
        x, y = one, two
    return "".join(said)
