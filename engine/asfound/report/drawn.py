"""Drawings as pictures of points, for formats that show no SVG."""

from __future__ import annotations

import json
import tempfile
from collections.abc import Sequence
from pathlib import Path

import typst

from asfound.map import Drawing

POINTS = 200.0
"""Points to an inch of the drawing's own size."""
_PAGE = """#for d in json("drawings.json") {
  page(width: d.wide * 1pt, height: d.high * 1pt, margin: 0pt, image(d.file, width: 100%))
}
"""


def as_png(drawings: Sequence[Drawing]) -> list[bytes]:
    """Each drawing as PNG, in order, set with the same letters as the PDF."""

    if not drawings:
        return []
    with tempfile.TemporaryDirectory(prefix="asfound-") as made:
        folder = Path(made)
        listed = []
        for number, one in enumerate(drawings, 1):
            (folder / f"{number}.svg").write_text(one.svg, encoding="utf-8")
            listed.append({"file": f"{number}.svg", "wide": one.wide, "high": one.high})
        (folder / "drawings.json").write_text(json.dumps(listed), encoding="utf-8")
        (folder / "page.typ").write_text(_PAGE, encoding="utf-8")
        held = typst.compile(folder / "page.typ", root=folder, format="png", ppi=POINTS, ignore_system_fonts=True)
    return [bytes(one) for one in held] if isinstance(held, list) else [bytes(held)]
