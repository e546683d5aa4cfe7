"""A new rule with its cases, written from a few answers.

The rule loads and runs as it is written; its condition is a draft made from the
first things the catalogue says of its facts. Its cases are not filled in, and
each of them fails until it is. Nothing that is there already is touched.
"""

from __future__ import annotations

import json
import re
import textwrap
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from asfound.data import data
from asfound.judge.rules import BASES, BadRule
from asfound.judge.unsaid import step, unsaid_in
from asfound.judge.views import facts_of
from asfound.kit.catalogue import words_of
from asfound.kit.fact_names import ABOUT
from asfound.kit.typed import class_of
from asfound.names import Names
from asfound.plugins import FORMS, collect

PYTHON, YAML = "python", "yaml"
DEFER = "The adopted local code and a licensed electrician decide."
NOTES = "Fill in what it cannot see, and what it leaves out."
FILL = "fill in"
"""What stands in a case until somebody fills it in."""
_WIDTH = 112
_NAME = re.compile(r"[a-z0-9]+(-[a-z0-9]+)*\Z")
_FIELD = re.compile(r"\{([^{}]*)\}")


@dataclass(frozen=True, slots=True)
class Answers:
    """Everything that is asked about a new rule. `facts` are names, or `list.name` for a fact of related items."""

    name: str
    of: str
    form: str
    facts: tuple[str, ...]
    title: str
    says: str
    severity: str
    likelihood: str
    caution: str
    source: str
    basis: str
    defer: str = DEFER
    notes: str = NOTES


class Unusable(Exception):
    """An answer that cannot be used: what is wrong and the next step."""


def usable_name(name: str) -> str:
    """The name of a rule. Raises `Unusable`."""
    if not _NAME.match(name) or len(name) > 60 or not name[0].isalpha():
        raise Unusable(f"{name!r} cannot be the name of a rule; write small letters with hyphens, like cover-missing")
    return name


def free_name(name: str, folder: Path) -> str:
    """A usable name that no rule has yet, here or among those installed. Raises `Unusable`."""
    name = usable_name(name)
    for file in (f"{name.replace('-', '_')}.py", f"{name}{FORMS}"):
        if (folder / file).exists():
            raise Unusable(f"{folder / file} is there already and was left as it was; choose another name or folder")
    try:
        held = collect().rules
    except BadRule:
        return name  # a pack that cannot be loaded is told of where it is used
    if any(rule.name == name for rule in held):
        raise Unusable(f"there is a rule named {name!r} already; choose another name (asfound explain lists them all)")
    return name


def usable_kind(kind: str) -> str:
    """A kind of item. Raises `Unusable`."""
    kinds = Names(data("facts"))
    if kind not in kinds:
        raise Unusable(f"there is no kind of item called {kind!r}; {kinds.hint(kind, 'kinds')}")
    return kind


def usable_facts(kind: str, asked: str) -> tuple[str, ...]:
    """The facts in a list with commas or blanks between. Raises `Unusable`."""
    facts = tuple(dict.fromkeys(part for part in re.split(r"[,\s]+", asked) if part))
    if not facts:
        raise Unusable("name one fact at least")
    lists = set()
    for fact in facts:
        first, _, inner = fact.partition(".")
        _fact(kind, first)
        of = related(kind, first)
        if inner and not of:
            raise Unusable(f"{first} of a {kind} holds no items; write {first} alone")
        if inner:
            _fact(of, inner)
        if of:
            lists.add(first)
    if len(lists) > 1:
        raise Unusable(f"{' and '.join(sorted(lists))} are two lists of items; begin with one of them")
    return facts


def _fact(kind: str, name: str) -> None:
    names = facts_of(kind)
    if name not in names:
        hint = f"{Names(names).hint(name, 'facts')}; asfound rule facts {kind} prints them all"
        raise Unusable(f"no fact named {name!r} on a {kind}; {hint}")


def usable_sentence(kind: str, facts: tuple[str, ...], says: str) -> str:
    """A sentence with facts in braces. Raises `Unusable`."""
    bare = " ".join(says.split())
    names = {kind: kind, **({_loop(kind, facts): _inner(kind, facts)} if _list(kind, facts) else {})}
    for field in _FIELD.findall(bare):
        holder, _, name = field.partition(".")
        if holder not in names:
            raise Unusable(f"{{{field}}} begins with no item; {Names(names).hint(holder, 'items')}")
        if name and name not in ABOUT:
            _fact(names[holder], name)
    if "{" in (rest := _FIELD.sub("", bare)) or "}" in rest:
        raise Unusable(f"a brace stands alone; write facts like {{{kind}.words}}")
    if not bare:
        raise Unusable("a rule has to say something")
    _unsaid("the sentence", _FIELD.sub("…", bare))
    return bare if bare.endswith(".") else f"{bare}."


def usable_caution(severity: str, likelihood: str, caution: str) -> str:
    """A caution whose signal word fits how bad it is. Raises `Unusable`."""
    bare = " ".join(caution.split())
    word, _, danger = bare.partition(":")
    fitting = signal_words(severity, likelihood)
    if word not in fitting or not danger.strip():
        words = " or ".join(fitting)
        raise Unusable(f"a caution of this severity begins with {words}, a colon, and what can happen; write it so")
    _unsaid("the caution", bare)
    return bare


def _unsaid(what: str, text: str) -> None:
    """Raise `Unusable` for a text that says what no rule may say."""
    if said := unsaid_in(text):
        raise Unusable(f"{what} says {said!r}; {step()}")


def signal_words(severity: str, likelihood: str) -> tuple[str, ...]:
    """The signal words of ANSI Z535.4 that fit: Danger where the risk is high, Warning for death or lasting injury."""
    grades = data("grades")
    if grades["matrix"][likelihood][grades["severities"].index(severity)] == "high":
        return ("Danger",)
    if severity in ("catastrophic", "critical"):
        return ("Warning",)
    return tuple(word for word in grades["signal_words"] if word != "Danger")


def usable_defer(defer: str) -> str:
    """A deferral to local code and licensed practice. Raises `Unusable`."""
    bare = " ".join(defer.split())
    if "local code" not in bare or not re.search(r"\blicensed (practice|electrician)\b", bare):
        raise Unusable("a deferral names the local code and a licensed electrician, or licensed practice; write both")
    _unsaid("the deferral", bare)
    return bare


def usable_text(what: str) -> Callable[[str], str]:
    """A text that is not empty, on one line."""

    def usable(text: str) -> str:
        bare = " ".join(text.split())
        if not bare:
            raise Unusable(f"{what} is empty; write it")
        _unsaid(what, bare)
        return bare

    return usable


def one_of(what: str, listed: list[str] | tuple[str, ...]) -> Callable[[str], str]:
    """A word of a list. Raises `Unusable`."""

    def usable(word: str) -> str:
        if word not in listed:
            raise Unusable(f"{word!r} is no {what}; {Names(listed).hint(word, 'words')}")
        return word

    return usable


def severities() -> list[str]:
    """The words of severity, the worst first."""
    return list(data("grades")["severities"])


def likelihoods() -> list[str]:
    """The words of likelihood."""
    return list(data("grades")["likelihoods"])


def bases() -> tuple[str, ...]:
    """The words for how a source is known."""
    return BASES


def related(kind: str, fact: str) -> str:
    """The kind of the items a fact leads to; empty when it leads to none."""
    form, _, of = str(facts_of(kind)[fact]["is"]).partition(" ")
    return of if form in ("item", "items") else ""


def drafted(kind: str, facts: tuple[str, ...]) -> str:
    """A sentence to begin with."""
    said = []
    for fact in facts:
        first, _, inner = fact.partition(".")
        if inner:
            said.append(f"{inner.replace('_', ' ')} {{{_loop(kind, facts)}.{inner}}}")
        elif not related(kind, first):
            said.append(f"{first.replace('_', ' ')} {{{kind}.{first}}}")
    who = f"{{{kind}.words}}"
    if _list(kind, facts):
        who = f"{{{_loop(kind, facts)}}} in {who}"
    return f"{who}: {', '.join(said)}." if said else f"{who}."


# -- writing


def files_of(answers: Answers) -> dict[str, str]:
    """The two files of a new rule, rule first: text by name."""
    if answers.form == PYTHON:
        stem = answers.name.replace("-", "_")
        return {f"{stem}.py": _python(answers), f"{stem}.cases.yaml": _cases(answers)}
    return {
        f"{answers.name}{FORMS}": _yaml(answers),
        f"{answers.name}{FORMS.removesuffix('.yaml')}.cases.yaml": _cases(answers),
    }


def write(answers: Answers, folder: Path) -> list[Path]:
    """Write a new rule and its cases into a folder; both or neither. Raises `FileExistsError` and other `OSError`s."""
    files = files_of(answers)
    folder.mkdir(parents=True, exist_ok=True)
    for name in files:
        if (folder / name).exists():
            raise FileExistsError(str(folder / name))
    made: list[Path] = []
    try:
        for name, text in files.items():
            with (folder / name).open("x", encoding="utf-8", newline="\n") as handle:
                made.append(folder / name)
                handle.write(text)
    except OSError:
        for path in made:
            path.unlink(missing_ok=True)
        raise
    return made


def _list(kind: str, facts: tuple[str, ...]) -> str:
    """The fact that leads to related items, if one is looked at."""
    return next((first for fact in facts if related(kind, first := fact.partition(".")[0])), "")


def _inner(kind: str, facts: tuple[str, ...]) -> str:
    return related(kind, _list(kind, facts))


def _loop(kind: str, facts: tuple[str, ...]) -> str:
    """What one of the related items is called."""
    inner = _inner(kind, facts)
    return inner if inner != kind else "other"


def _one(kind: str, facts: tuple[str, ...]) -> bool:
    """Whether the related item is a single one, not a list."""
    return str(facts_of(kind)[_list(kind, facts)]["is"]).startswith("item ")


def _drafts(answers: Answers, python: bool) -> list[str]:
    """A first test of each fact that is looked at."""
    drafts = []
    for fact in answers.facts:
        first, _, inner = fact.partition(".")
        if inner:
            drafts.append(_test(_inner(answers.of, answers.facts), inner, _loop(answers.of, answers.facts), python))
        elif not related(answers.of, first):
            drafts.append(_test(answers.of, first, answers.of, python))
    return drafts or ["True" if python else "true"]


def _test(kind: str, fact: str, holder: str, python: bool) -> str:
    form = str(facts_of(kind)[fact]["is"])
    words = words_of(kind, fact)
    word = json.dumps(words[0] if words else "word", ensure_ascii=False)
    match form.partition(" ")[0]:
        case "yes/no":
            return f"{holder}.{fact}"
        case "number":
            return f"{holder}.{fact} > 0"
        case "item":
            return f'{holder}.{fact}.tag != ""'
        case "items":
            return f"{'len' if python else 'size'}({holder}.{fact}) > 0"
        case "words":
            return f"{word} in {holder}.{fact}"
        case "size":
            return f'{holder}.{fact} == "14"'
        case _:
            return f"{holder}.{fact} == {word}"


def _python(answers: Answers) -> str:
    kind, facts = answers.of, answers.facts
    about = "\n".join(
        f"    {name}={_quoted(getattr(answers, name))},"
        for name in ("of", "severity", "likelihood", "caution", "defer", "source", "basis")
    )
    condition = " and ".join(_drafts(answers, python=True))
    sentence = _f_string(answers)
    inside = _list(kind, facts)
    lines = [f"if {condition}:  # a draft; change it to what the rule is about"]
    if inside and not _one(kind, facts):
        loop = _loop(kind, facts)
        lines = [f"for {loop} in {kind}.{inside}:", *(f"    {line}" for line in lines)]
        lines.append(f"        yield Defect({sentence}, cause={loop}.tag)")
    elif inside:
        lines = [f"{_loop(kind, facts)} = {kind}.{inside}", *lines, f"    yield {sentence}"]
    else:
        lines.append(f"    yield {sentence}")
    notes = textwrap.indent(textwrap.fill(f"{_doc(answers.notes)}.", 100), "    ")
    imported = "Defect, rule" if inside and not _one(kind, facts) else "rule"
    yields, typed = "Defect" if "Defect" in imported else "str", class_of(kind)
    return (
        f'"""{_doc(answers.title)}."""\n\nfrom __future__ import annotations\n\n'
        f"from collections.abc import Iterator\n\n"
        f"from asfound.authoring import {imported}\nfrom asfound.items import {typed}\n\n\n"
        f"@rule(\n    {_quoted(answers.name)},\n{about}\n)\n"
        f"def {answers.name.replace('-', '_')}({kind}: {typed}) -> Iterator[{yields}]:\n"
        f'    """{_doc(answers.title)}.\n\n{notes}\n    """\n' + textwrap.indent("\n".join(lines), "    ") + "\n"
    )


def _doc(text: str) -> str:
    """A text as it can stand in a docstring."""
    return text.strip().rstrip(".").replace("\\", "\\\\").replace('"""', "'''")


def _quoted(text: str) -> str:
    """A text as Python writes it, in several pieces when it is long."""
    pieces = textwrap.wrap(text, _WIDTH - 20, drop_whitespace=False, break_long_words=False) or [""]
    return "\n    ".join(json.dumps(piece, ensure_ascii=False) for piece in pieces)


def _f_string(answers: Answers) -> str:
    """The sentence as an f-string; numbers without needless decimals."""
    kinds = {answers.of: answers.of}
    if _list(answers.of, answers.facts):
        kinds[_loop(answers.of, answers.facts)] = _inner(answers.of, answers.facts)

    def field(found: re.Match[str]) -> str:
        holder, _, name = found[1].partition(".")
        number = name and name not in ABOUT and facts_of(kinds[holder])[name]["is"] == "number"
        return f"{{{found[1]}:g}}" if number else found[0]

    return "f" + _FIELD.sub(field, json.dumps(answers.says, ensure_ascii=False))


def _yaml(answers: Answers) -> str:
    kind, facts = answers.of, answers.facts
    condition = " && ".join(_drafts(answers, python=False))
    lines = [f"{answers.name}:", f"  of: {kind}", f"  title: {_scalar(answers.title.rstrip('.'))}"]
    lines.append(f"  notes: {_scalar(answers.notes)}")
    for name in ("severity", "likelihood", "caution", "defer", "source", "basis"):
        lines.append(f"  {name}: {_scalar(getattr(answers, name))}")
    inside = _list(kind, facts)
    if inside:
        held = f"[{kind}.{inside}]" if _one(kind, facts) else f"{kind}.{inside}"
        lines.append(f"  each: {{{_loop(kind, facts)}: {_scalar(held)}}}")
    lines += [
        "  finds:", "    # A draft; change it to what the rule is about.", f"    - when: {_scalar(condition)}",
        f"      says: {_scalar(answers.says)}",
    ]  # fmt: skip
    return "\n".join(lines) + "\n"


def _scalar(text: str) -> str:
    """A text in YAML: in single quotes, which keep everything as it is."""
    return "'" + text.replace("'", "''") + "'"


def _cases(answers: Answers) -> str:
    kind, facts = answers.of, answers.facts
    unseen = f"{{not_seen: {FILL}}}"
    own = [f"{fact}: {unseen}" for fact in facts if not related(kind, fact.partition(".")[0])]
    inside = _list(kind, facts)
    if inside:
        inner = [f"{fact.partition('.')[2]}: {unseen}" for fact in facts if "." in fact]
        item = f"{{{', '.join([f'tag: {_loop(kind, facts)}', *inner])}}}"
        own.append(f"{inside}: {item}" if _one(kind, facts) else f"{inside}: [{item}]")
    held = ", ".join(own)
    lines = [
        "# Three lists of cases, each at least one. Write what was seen in place of every",
        f"# {{not_seen: {FILL}}}, and a story for each why. Each fails until it is filled in.",
        "# What the facts can be:",
        *_about(kind, facts),
        f"{answers.name}:",
        "  finds:",
        f"    # What has to be found, and the whole sentence: {answers.says}",
        f"    - why: {FILL}",
        f"      {kind}: {{tag: {kind} 1, {held}}}",
        f"      says: {FILL}",
        "  clear:",
        "    # What is right; where figures are compared, the one that is just allowed.",
        f"    - why: {FILL}",
        f"      {kind}: {{tag: {kind} 1, {held}}}",
        "  cannot tell:",
        "    # What could not be seen, and the name of the fact that is missing.",
        f"    - why: {FILL}",
        f"      {kind}: {{tag: {kind} 1, {held}}}",
        f"      missing: {FILL}",
    ]
    return "\n".join(lines) + "\n"


def _about(kind: str, facts: tuple[str, ...]) -> Iterator[str]:
    """A comment for each fact: what it means, its unit, and the words it can be."""
    for fact in facts:
        first, _, inner = fact.partition(".")
        yield from _comment(fact, *((related(kind, first), inner) if inner else (kind, first)))


def _comment(shown: str, kind: str, name: str) -> list[str]:
    held: dict[str, Any] = facts_of(kind)[name]
    form, unit, words = str(held["is"]), str(held.get("unit", "")), words_of(kind, name)
    can_be = {"yes/no": "true or false", "size": 'a size in quotes, such as "14"'}.get(form, "")
    can_be = ", ".join(words) or can_be or (f"a number, {unit}" if unit else "a number" if form == "number" else "")
    text = f"{shown}: {held['means']}" + (f" ({can_be})" if can_be else "")
    return textwrap.wrap(text, 88, initial_indent="#   ", subsequent_indent="#     ")
