"""What the record says twice of a cable, and not alike."""

from __future__ import annotations

import math
import re

from asfound.authoring import area_mm2, certain, joined, only_if, rule, size_words
from asfound_rules.observed import noted

DEFER = "A remark about the record, not about the wiring; the adopted local code and a licensed electrician decide."
CAUTION = (
    "Notice: two statements of the record do not go together. Until it is settled work with the smaller size and the "
    "worse metal."
)
_SIZE = re.compile(r"[0-9] ?[-/] ?[1-9]")
TRADE_SIZES = ("18", "16", "14", "12", "10", "8", "6", "4", "3", "2", "1", "1/0", "2/0", "3/0", "4/0")
SOLID, STRANDED, COMPACT = (f"diameter of {kind} conductors" for kind in ("solid", "stranded", "compact stranded"))


@rule(
    "jacket-against-size",
    of="cable",
    severity="negligible",
    likelihood="occasional",
    caution=CAUTION,
    defer=DEFER,
    source="NEMA Engineering Bulletin 94 on NM-B jacket colours, as quoted in public texts",
    basis="seen in text",
)
def jacket_against_size(cable, tables):
    """Jacket colour and recorded size of a cable do not go together.

    Makers agreed on colours for NM-B in 2001, and not all keep to them. Only a
    size that is certain is compared; the printed legend decides.
    """
    colour = noted(cable, "jacket")
    only_if(tables.has("jacket colours", colour))
    size, sizes = certain(cable, "gauge"), tables.value("jacket colours", colour)
    only_if(size not in sizes)
    only_if(cable.method in ("NM", "NM-B"))
    since = tables.value("jacket colours", "since")
    if cable.installed >= since:
        usual = joined(map(size_words, sizes))
        yield (
            f"{cable} is recorded as {size_words(size)} and its jacket is {colour}, the colour of {usual} "
            f"since {since}."
        )


@rule(
    "legend-against-size",
    of="cable",
    severity="negligible",
    likelihood="occasional",
    caution=CAUTION,
    defer=DEFER,
    source="The record compared with itself; common practice, no source",
    basis="common practice",
)
def legend_against_size(cable):
    """Printed legend of a cable says another size than the record.

    Only a size that is certain is compared. What is printed on the cable counts until
    somebody has looked again.
    """
    only_if(_SIZE.search(noted(cable, "legend")))
    stated, printed = certain(cable, "gauge"), cable.legend_gauge
    if printed != stated:
        yield f"The legend of {cable} says {size_words(printed)}, and it is recorded as {size_words(stated)}."


@rule(
    "legend-against-metal",
    of="cable",
    severity="negligible",
    likelihood="occasional",
    caution=CAUTION,
    defer=DEFER,
    source="The record compared with itself; CPSC Publication 516 (2011) on the marks of aluminium cable",
    basis="common practice",
)
def legend_against_metal(cable):
    """Printed legend of a cable says another metal than the record.

    A cable type written without a metal is taken for copper; an AL in the
    legend is easily passed over. Only a metal that is certain is compared.
    """
    metal = _metal(noted(cable, "legend"))
    only_if(metal)
    stated = certain(cable, "metal")
    if metal != stated:
        yield f"The legend of {cable} says {metal}, and it is recorded as {stated}."


@rule(
    "diameter-against-size",
    of="conductor",
    severity="negligible",
    likelihood="occasional",
    caution=CAUTION,
    defer=DEFER,
    source="ASTM B258, diameters of solid wire; NFPA 70 (NEC) Chapter 9, Tables 8 and 5A, stranded conductors",
    basis="from memory",
)
def diameter_against_size(conductor, tables):
    """Measured diameter of a conductor does not fit its recorded size.

    Over a stranded conductor the caliper shows more than over a solid one of the
    same size. Half a gauge number is let pass for scraped metal and a pressed
    caliper. Only a size that is certain is compared.
    """
    measured = noted(conductor, "diameter")
    size = certain(conductor, "gauge")
    only_if(tables.has(SOLID, size))
    slack = 1 + tables.value("reading a diameter", "slack")
    solid, stranded = tables.value(SOLID, size), tables.value(STRANDED, size)
    least = tables.value(COMPACT, size) if tables.has(COMPACT, size) else stranded
    as_solid = solid / slack <= measured <= solid * slack
    as_stranded = least / slack <= measured <= stranded * slack
    if as_solid != as_stranded:
        only_if(conductor.stranded != as_stranded)
    if not (as_solid and as_stranded):
        yield (
            f"{conductor} is recorded as {size_words(size)}, {solid:g} mm solid and {stranded:g} mm stranded, and "
            f"{measured:g} mm was measured; a solid conductor of that diameter is nearest to "
            f"{size_words(_nearest(measured))}."
        )


@rule(
    "cable-out-of-its-time",
    of="cable",
    severity="negligible",
    likelihood="occasional",
    caution="Notice: the kind or the year of this cable is not what is recorded. Until it is settled take it for the "
    "older kind, whose insulation stands less heat.",
    defer=DEFER,
    source="NFPA 70 (NEC) 1984, 90 °C insulation of NM-B; University of Illinois report on knob-and-tube wiring (2000)",
    basis="seen in text",
)
def cable_out_of_its_time(cable, tables):
    """Kind of cable was not made in the year it is recorded for.

    The marking B came when the insulation became 90 °C. Knob-and-tube was
    extended now and then after its time.
    """
    year = noted(cable, "installed")
    method = noted(cable, "method")
    table = "years of wiring methods"
    if tables.has(table, method, "from") and year < tables.value(table, method, "from"):
        first = tables.value(table, method, "from")
        yield f"{cable} is recorded as {method} of {year}; the kind came in {first}."
    if tables.has(table, method, "to") and year > tables.value(table, method, "to"):
        last = tables.value(table, method, "to")
        yield f"{cable} is recorded as {method} of {year}; the kind was last put in about {last}."


def _metal(legend):
    """The metal that a printed legend names; empty when it names none."""
    words = re.findall(r"[A-Z]+", legend.upper())
    if "CLAD" in words:
        return "copper-clad aluminium"
    if {"AL", "ALUM", "ALUMINUM", "ALUMINIUM"} & set(words):
        return "aluminium"
    return "copper" if {"CU", "COPPER"} & set(words) else ""


def _nearest(measured):
    """The trade size whose solid conductor comes nearest to a diameter in mm."""
    area = math.pi / 4 * measured**2
    return min(TRADE_SIZES, key=lambda size: abs(math.log(area_mm2(size) / area)))
