"""Two packs that disagree, as text: each side in a column of its own."""

from __future__ import annotations

from collections.abc import Iterable
from itertools import groupby, zip_longest

from asfound.kit.disagree import CASE, ITEM, NAME, TABLE, Apart, Compared
from asfound.render.lines import WIDTH, pad, rule_line, wrap
from asfound.wording import plural

_BETWEEN = " | "
_COLUMN = (WIDTH - len(_BETWEEN)) // 2
_TITLES = {
    TABLE: "TABLES OF ONE NAME THAT DIFFER",
    NAME: "RULES OF ONE NAME",
    CASE: "RULES ABOUT THE SAME THING, ON THE CASES OF EITHER",
    ITEM: "RULES ABOUT THE SAME THING, ON THE RECORD",
}
_MEANS = {NAME: "The two packs cannot be used in one run until one of each two is renamed."}
_NOTE = (
    "Nothing here says which of the two is right, and neither of them clears anything: the adopted local code and "
    "licensed practice decide."
)


def as_text(compared: Compared) -> str:
    """The whole comparison, in lines of 80 columns."""
    lines: list[str] = []
    for sort, group in groupby(_ordered(compared.apart), key=lambda apart: apart.sort):
        lines += [rule_line(_TITLES[sort]), ""]
        if sort in _MEANS:
            lines += [*wrap(_MEANS[sort]), ""]
        lines += [*_beside([compared.one.words], [compared.two.words]), *_beside(["-" * _COLUMN], ["-" * _COLUMN]), ""]
        for apart in group:
            lines += [*wrap(apart.about), *_beside(apart.one, apart.two), ""]
    return "\n".join([*lines, *_end(compared)]) + "\n"


def _ordered(found: Iterable[Apart]) -> list[Apart]:
    sorts = list(_TITLES)
    return sorted(found, key=lambda apart: sorts.index(apart.sort))


def _beside(one: Iterable[str], two: Iterable[str]) -> list[str]:
    """Two columns; each text begins on a line of its own and is wrapped within its column."""
    columns = ([line for text in texts for line in wrap(text, then="  ", width=_COLUMN)] for texts in (one, two))
    return [f"{pad(left, _COLUMN)}{_BETWEEN}{right}".rstrip() for left, right in zip_longest(*columns, fillvalue="")]


def _end(compared: Compared) -> list[str]:
    one, two = compared.one, compared.two
    lines = [rule_line("COMPARED"), ""]
    pairs = f"{plural(compared.pairs, 'pair')} of rules about the same thing"
    items = f", on {plural(compared.items, 'item')} of the record" if compared.items else ""
    lines += wrap(f"{one.words} with {two.words}: {pairs}{items}. {plural(len(compared.apart), 'disagreement')}.")
    for held, names in zip((one, two), compared.alone, strict=True):
        if names:
            shown = f"{', '.join(names[:8])}{f' and {len(names) - 8} more' if len(names) > 8 else ''}"
            lines += wrap(
                f"Nothing in the other pack looks at what these of {held.pack.name} look at: {shown}.", then="  "
            )
    return [*lines, *wrap(_NOTE)]
