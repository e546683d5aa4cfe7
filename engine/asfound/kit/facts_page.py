"""The page of facts: every kind of item and fact with unit, meaning, words, how to see it and how it is written.

Text for a terminal that is Markdown as well; what is said of a kind is nowhere wider than `WIDTH`.
"""

from __future__ import annotations

import textwrap

from asfound.data import data
from asfound.kit.catalogue import IN_RECORD, UNITS, FactEntry, entries, kinds
from asfound.kit.typed import class_of
from asfound.wording import plural

PAGE = "engine/pages/facts.md"
WIDTH = 80
_FORMS = {"yes/no": "yes or no", "size": "wire size"}
_GROUPS = (
    ("Written in a record", lambda one: one.written == IN_RECORD),
    ("Given by the trace, the log or a file", lambda one: one.written != IN_RECORD and not one.of),
    ("Related items", lambda one: bool(one.of)),
)
_HEAD = """\
# Facts

Every kind of item a rule can look at, and every fact of it. Written by
`asfound rule facts --page`; not edited by hand.

A rule reads a fact as an attribute: `box.volume`. One that nobody saw, or that
is not recorded, ends the rule as *cannot tell*; a doubtful one makes the rule
run once for each value it can be. A rule never asks whether a fact is there.

Anywhere a value stands in a record it may be doubted or say how it is known:

    volume: {is: 18, how: by eye}
    volume: 18 or 20.3
    volume: {one_of: [18, 20.3], how: told}
    volume: {not_seen: painted over}

| form | in a record | in a rule |
|---|---|---|
| number | `18`; a length like `1-1/4 in`, `0.25"`, `3 ft`, `40 mm`; a volume in `in3`, `cm3` | in the unit named here |
| yes or no | `true` or `false` | `True` or `False` |
| wire size | `14`, `1/0`, `250 kcmil`, `2.5 mm2` | the same as text: `"14"` |
| word | `missing`, `device plate` | text |
| words | `scorched` or `[scorched, brittle]` | a tuple of texts, also of a single one |
| text | a person's own words, a name, a date | text |
| item, list of items | by tags | the item, or a tuple of items |

For an editor that completes: `from asfound.items import Box`, then
`def cover_missing(box: Box)`. A type checker names a misspelt fact or word.
"""


def facts_page() -> str:
    """The page of all kinds."""
    lines = [_HEAD, "| item | class | what it is | facts |", "|---|---|---|---|"]
    for kind in kinds():
        means = data("facts")[kind]["means"]
        lines.append(f"| [{kind}](#{kind}) | `{class_of(kind)}` | {means} | {len(entries(kind))} |")
    return "\n".join([*lines, "", *(kind_page(kind) for kind in kinds())]).rstrip() + "\n"


def besides(kind: str) -> str:
    """What every item has besides its facts, in a sentence."""
    return (
        f"Besides its facts {'an' if kind[0] in 'aeiou' else 'a'} {kind} has tag, its name in the record, and "
        f"words, its name in a sentence: {{{kind}.words}}. Neither is a fact that can be missing."
    )


def kind_page(kind: str) -> str:
    """What there is to know of one kind. Raises `KeyError` for an unknown one."""
    listed = entries(kind)
    head = f'{data("facts")[kind]["means"]} In a rule: `of="{kind}"`, class `{class_of(kind)}`.'
    lines = [f"## {kind}", "", *_wrap(head)]
    for title, belongs in _GROUPS:
        held = [one for one in listed if belongs(one)]
        if held:
            lines += ["", f"### {title}: {kind}", ""]
            for one in held:
                lines += _fact(one)
    return "\n".join(lines) + "\n"


def kinds_list() -> str:
    """All kinds in short, for a terminal."""
    lines = [f"{kind:<14} {plural(len(entries(kind)), 'fact'):<9} {data('facts')[kind]['means']}" for kind in kinds()]
    return "\n".join(line for one in lines for line in _wrap(one, "", " " * 25)) + "\n"


def _fact(one: FactEntry) -> list[str]:
    text = f"- **{one.name}** ({_form(one)}): {one.means}."
    if one.observe:
        text += f" To see it: {one.observe}."
    lines = _wrap(text, then="  ")
    if one.words:
        lines += _wrap(f"Can be: {'; '.join(_code(word) for word in one.words)}.", "  ")
    return [*lines, *_example(one)]


def _form(one: FactEntry) -> str:
    if one.of:
        return f"item: {one.of}" if one.form == "item" else f"list of items: {one.of}"
    unit = f", {UNITS[one.unit]}" if one.unit else ""
    return _FORMS.get(one.form, one.form) + unit


def _example(one: FactEntry) -> list[str]:
    """`In a record: ...` on a line of its own, broken only where it is too wide."""
    where = "In a record" if one.written == IN_RECORD else "In a case"
    line = f"  {where}: `{one.example}`"
    if len(line) <= WIDTH:
        return [line]
    return textwrap.wrap(line.strip(), WIDTH, initial_indent="  ", subsequent_indent="  ", break_long_words=False,
                         break_on_hyphens=False)  # fmt: skip


def _code(word: str) -> str:
    """A word as code, whose blanks do not break."""
    return f"`{word}`".replace(" ", _KEEP)


_KEEP = "\x00"


def _wrap(text: str, indent: str = "", then: str = "") -> list[str]:
    wrapped = textwrap.wrap(
        text, WIDTH, initial_indent=indent, subsequent_indent=then or indent, break_on_hyphens=False
    )
    return [line.replace(_KEEP, " ") for line in wrapped]


__all__ = ["PAGE", "WIDTH", "facts_page", "kind_page", "kinds_list"]
