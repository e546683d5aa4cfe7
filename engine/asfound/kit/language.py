"""The words and the bounds of the language in which conditions of rules in YAML are written, as a page."""

from __future__ import annotations

import textwrap

from asfound.kit import forms, forms_check, forms_run

_WIDTH = 80
_OPERATORS = (
    ("== != < <= > >=", "compare"),
    ("&& || !", "and, or, not; what is not seen is passed over where the rest decides"),
    ("+ - * /", "reckon; a number that stands alone has a decimal there: box.volume + 2.0"),
    ("condition ? a : b", "a where the condition holds, else b"),
    ('x in ["a", "b"]', "whether a value stands in a list"),
    ("list.exists(x, ...)", "whether it holds for one of them; also exists_one and all"),
    ("list.filter(x, ...)", "those for which it holds; list.map(x, ...) gives something of each"),
)


def bounds() -> tuple[tuple[int, str], ...]:
    """Every bound on a file, a rule or an expression, with what it bounds."""
    return (
        (forms.LARGEST, "bytes in one file of rules"),
        (forms_run.LONGEST, "characters in one expression"),
        (forms.MOST_SET, "names under set"),
        (forms.MOST_LOOPS, "loops under each"),
        (forms.MOST_FINDS, "entries under finds"),
        (forms_check.MOST_FOLDS, "uses of exists, all, filter and the like in one expression"),
        (forms_check.DEEPEST_FOLD, "of these in one another"),
        (forms_check.MOST_LISTED, "values in a list that is written out"),
        (forms_check.LONGEST_PATTERN, "characters in a pattern"),
        (forms_run.MOST_STEPS, "steps of one rule on one item in one world"),
    )


def language_page() -> str:
    """Operators, functions and bounds, for a terminal."""
    parts = [
        "Operators of the language:\n",
        *(_line(*pair) for pair in _OPERATORS),
        "\nFunctions, and all there are:\n",
        *(_line(name, means) for name, means in forms_check.MEANS.items()),
        "\nBounds; past one the file is refused, past the last the rule fails on the item:\n",
        *(_line(f"{most:,}", what) for most, what in bounds()),
    ]
    return "\n".join(parts) + "\n"


def _line(name: str, means: str) -> str:
    return textwrap.fill(means, _WIDTH, initial_indent=f"  {name:<20} ", subsequent_indent=" " * 23)
