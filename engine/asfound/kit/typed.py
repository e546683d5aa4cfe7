"""Typed classes of all items, for editors and type checkers, generated from the catalogue of facts.

A rule written with them is completed by an editor, fact by fact with unit and
meaning, and a misspelt fact or word is an error before anything is run.
"""

from __future__ import annotations

import textwrap
from collections.abc import Iterator

from asfound.data import data
from asfound.kit.catalogue import UNITS, FactEntry, entries, kinds

MODULE = "engine/asfound/items.py"
_WIDTH = 120
_PLAIN = {"number": "float", "yes/no": "bool", "size": "str", "text": "str", "word": "str", "words": "tuple[str, ...]"}

_HEAD = '''"""Typed items for people who write rules: what each kind of item holds, with unit, meaning and words.

Written by `asfound rule facts --typed` from the catalogue of facts; not edited by hand.

    from asfound.items import Box

    def cover_missing(box: Box): ...

With the item so marked an editor completes its facts, and a type checker names
a misspelt one. At run time a rule is given views of a record, not these
classes; nothing is made of them.
"""

from __future__ import annotations

from typing import Literal

from asfound.judge.tables import Tables
from asfound.judge.views import View
'''


def class_of(kind: str) -> str:
    """The name of the class of a kind of item: `Box`."""
    return kind.capitalize()


def typed_module() -> str:
    """The text of the module, as `ruff format` leaves it."""
    named = _names()
    lines = [_HEAD, "__all__ = [", *(f"    {_quoted(name)}," for name in _exported()), "]", ""]
    for words, name in named.items():
        lines += [f"{name} = Literal[", *(f"    {_quoted(word)}," for word in words), "]"]
    for kind in kinds():
        lines += ["", "", *_class(kind, named)]
    return "\n".join(lines) + "\n"


def _exported() -> list[str]:
    return sorted([*map(class_of, kinds()), "Tables"])


def _names() -> dict[tuple[str, ...], str]:
    """A name for each set of words, by the first fact that has it, in the order of the catalogue."""
    named: dict[tuple[str, ...], str] = {}
    for kind in kinds():
        for one in entries(kind):
            if one.words:
                named.setdefault(one.words, class_of(kind) + "".join(map(str.capitalize, one.name.split("_"))))
    return named


def _class(kind: str, named: dict[tuple[str, ...], str]) -> Iterator[str]:
    yield f"class {class_of(kind)}(View):"
    yield from _doc(str(data("facts")[kind]["means"]))
    for one in entries(kind):
        yield ""
        yield f"    {one.name}: {type_of(one, named)}"
        yield from _doc(meaning(one))


def type_of(one: FactEntry, named: dict[tuple[str, ...], str]) -> str:
    """The type of a fact as a rule reads it."""
    if one.form == "item":
        return class_of(one.of)
    if one.form == "items":
        return f"tuple[{class_of(one.of)}, ...]"
    if one.words:
        return f"tuple[{named[one.words]}, ...]" if one.form == "words" else named[one.words]
    return _PLAIN[one.form]


def meaning(one: FactEntry) -> str:
    """What a fact means, its unit, and how it is seen: `Marked or measured volume, in cubic inches. To see it: ...`."""
    unit = f", in {UNITS[one.unit]}" if one.unit else ""
    see = f" To see it: {one.observe}." if one.observe else ""
    return f"{one.means}{unit}.{see}"


def _doc(text: str) -> list[str]:
    """A docstring in a class, wrapped."""
    text = text[:1].upper() + text[1:]
    if len(text) <= _WIDTH - 10:
        return [f'    """{text}"""']
    first, *rest = textwrap.wrap(text, _WIDTH - 8, break_on_hyphens=False)
    return [f'    """{first}', *(f"    {line}" for line in rest), '    """']


def _quoted(word: str) -> str:
    return f'"{word}"'


__all__ = ["MODULE", "class_of", "meaning", "type_of", "typed_module"]
