"""What a conductor offers to current, by size and metal, and what couples two that lie side by side.

Figures and their sources are in data/circuit.yaml. Resistance is that for direct current: at
60 Hz a round copper wire has less than 1 % more, up to 4/0 AWG (worked out, skin effect). The
inductance is left out: in cable it is a tenth of the resistance at 6 AWG and less in smaller
wire (NEC Chapter 9 Table 9, from memory), but as much as the resistance at 4/0. Stranded
conductors have about 2 % more than solid ones, left out as well: no length is recorded as closely.
"""

from __future__ import annotations

import math
from typing import Final, NamedTuple

from asfound.data import data

_METRES_PER_FOOT: Final = 0.3048
_FARADS_PER_PICOFARAD: Final = 1e-12


class Range(NamedTuple):
    """What something can be."""

    least: float
    usual: float
    most: float


def area_mm2(size: str) -> float:
    """Cross-section of a wire size, in square millimetres.

    AWG by the formula of ASTM B258, d = 0.127 mm x 92^((36 - n) / 39), with n = 0, -1, -2, -3
    for 1/0 to 4/0; kcmil as thousands of circular mils; mm2 as written. Raises `ValueError`.
    """
    if size.endswith(" mm2"):
        return float(size[:-4])
    if size.endswith(" kcmil"):
        return float(size[:-6]) * 1000 * math.pi / 4 * 0.0254**2
    number = 1 - int(size[0]) if size.endswith("/0") else int(size)
    return math.pi / 4 * (0.127 * 92 ** ((36 - number) / 39)) ** 2


def ohms_per_foot(size: str, metal: str = "copper", celsius: float = 20.0) -> float:
    """Resistance of one conductor, one way, at a temperature of the conductor.

    Raises `ValueError` for a size that is none, `KeyError` for an unknown metal.
    """
    figures = data("circuit")["metals"][metal]
    resistivity = figures["resistivity"] * (1 + figures["per_degree"] * (celsius - 20.0))
    return float(resistivity / area_mm2(size) * _METRES_PER_FOOT)


def farads_per_foot(method: str) -> Range:
    """Capacitance between two conductors side by side. A method that is not listed has the widest range."""
    held = data("circuit")["capacitance"]
    return Range(*(figure * _FARADS_PER_PICOFARAD for figure in held["methods"].get(method, held["other"])))
