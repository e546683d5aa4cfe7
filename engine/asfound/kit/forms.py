"""Rules written in YAML, with conditions in the Common Expression Language.

A file named `*.rules.yaml` holds rules by name, its cases in `*.rules.cases.yaml`
beside it. Each becomes an ordinary `Rule`, run on the same views as one in
Python. The form is in `rules.schema.json`; the language and its functions are
in `forms_check.py`. Anything that is not right is a `BadRule` at load, with
file, line, cause and next step.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from asfound.judge.rules import BadRule, Defect, Rule, complete, only_if
from asfound.judge.tables import Table, Tables
from asfound.judge.views import View, facts_of
from asfound.kit.catalogue import UNITS
from asfound.kit.forms_check import (
    Checked,
    Known,
    Wrong,
    check,
    item_name,
    loop_name,
    set_name,
    site_name,
    sort_of,
    written,
)  # fmt: skip
from asfound.kit.forms_run import (
    A_LOOP,
    Expression,
    Frame,
    NotComputed,
    NotRead,
    Told,
    bad_pattern,
    parse,
    ready,
    run,
    shown,
    watched,
)  # fmt: skip
from asfound.load import Document, Map, Problem, Refused, Seq, load_file
from asfound.names import Names
from asfound.plugins import FORMS
from asfound.shape import problems

__all__ = [
    "ENDING",
    "Expression",
    "Form",
    "NotComputed",
    "Told",
    "check_tables",
    "form_of",
    "read_form_rules",
    "watched",
]

ENDING = FORMS
"""How the name of a file of such rules ends."""
LARGEST = 1_000_000
"""Bytes in one file of rules."""
MOST_SET, MOST_LOOPS, MOST_FINDS = 20, 2, 20
"""Names under `set`, loops under `each`, and entries under `finds`, of one rule."""

Text = tuple["str | Expression", ...]
"""A sentence: plain parts and expressions in turn."""


@dataclass(frozen=True, slots=True)
class Saying:
    """One entry of `finds`: when it holds, what it says, and of what."""

    when: Expression | None
    says: Text
    at: Expression | None
    cause: Text | None
    parts: Expression | None


@dataclass(frozen=True, slots=True)
class Form:
    """A rule in YAML, run like the function of a rule in Python.

    `each` holds the lists that are gone through, one in the other. `tables` are
    the tables it names with their lines, `facts` the facts it may read, as pairs
    of kind and name.
    """

    only_if: tuple[Expression, ...]
    sets: tuple[Expression, ...]
    each: tuple[Expression, ...]
    finds: tuple[Saying, ...]
    first_only: bool
    tables: tuple[tuple[str, int], ...]
    facts: tuple[tuple[str, str], ...]

    def __call__(self, seen: View, tables: Tables, site: View) -> Iterator[Defect]:
        """What the rule says of one item. Raises as the facts it reads do."""
        frame = Frame(seen, site, tables, self.sets, len(self.each))
        for condition in self.only_if:
            only_if(_holds(condition, frame))
        yield from self._through(frame, ())

    def _through(self, frame: Frame, at: tuple[Any, ...]) -> Iterator[Defect]:
        """Go through the lists that are left; then say what holds."""
        if len(at) == len(self.each):
            yield from self._found(frame, at)
            return
        for one in run(self.each[len(at)], frame):
            frame.spend(1)
            frame.at(len(at), frame.handle(one) if isinstance(one, View) else one)
            yield from self._through(frame, (*at, one))

    def _found(self, frame: Frame, at: tuple[Any, ...]) -> Iterator[Defect]:
        for saying in self.finds:
            if saying.when is None or _holds(saying.when, frame):
                says = _said(saying.says, frame)
                place = None if saying.at is None else run(saying.at, frame)
                if saying.cause is not None:
                    cause = _said(saying.cause, frame)
                else:
                    cause = "" if place is not None else ", ".join(map(str, at))
                named = () if saying.parts is None else run(saying.parts, frame)
                yield Defect(says, place, cause, tuple(named) if isinstance(named, list | tuple) else (named,))
                if self.first_only:
                    return

    def expressions(self) -> Iterator[Expression]:
        """Every expression of the rule, in the order in which it is written."""
        yield from (*self.only_if, *self.sets, *self.each)
        for saying in self.finds:
            held = (saying.when, *saying.says, saying.at, *(saying.cause or ()), saying.parts)
            yield from (one for one in held if isinstance(one, Expression))

    def conditions(self) -> tuple[Expression, ...]:
        """The expressions that decide: each has to come out both ways in the cases of the rule."""
        return (*self.only_if, *(saying.when for saying in self.finds if saying.when is not None))


def form_of(rule: Rule) -> Form | None:
    """The form behind a rule that was written in YAML; None for one in Python."""
    return rule.run if isinstance(rule.run, Form) else None


def read_form_rules(file: Path) -> list[Rule]:
    """The rules of one file, in file order. Raises `BadRule`."""
    try:
        if file.stat().st_size > LARGEST:
            raise BadRule(f"{file} is larger than {LARGEST // 1_000_000} MB; divide it into several files of rules")
        document = load_file(file)
    except OSError as error:
        raise BadRule(f"{file} cannot be read ({error.strerror}); check the path and its permissions") from None
    except Refused as refused:
        raise BadRule(_listed([_of_rules(one).sentence(refused.name) for one in refused.problems])) from None
    found = problems(document.root, "rules")
    if found:
        raise BadRule(_listed([problem.sentence(str(file)) for problem in found]))
    rules, wrong = [], []
    for name, held in document.root.items():
        try:
            rules.append(_Reader(document, file, name, held).rule())
        except BadRule as error:
            wrong.append(f"{error}.")
    if wrong:
        raise BadRule(_listed(wrong))
    return rules


def _of_rules(problem: Problem) -> Problem:
    """What the loader says of a record, said of a file of rules."""
    if "asfound new" not in problem.step:
        return problem
    step = "write one with asfound rule new --form yaml"
    return Problem(problem.place, problem.where, problem.cause.replace("a record", "a file of rules"), step)


def check_tables(rules: Iterable[Rule], tables: Iterable[Table]) -> None:
    """Hold the tables that rules in YAML name against those there are. Raises `BadRule`."""
    names: Names | None = None
    for rule in rules:
        form = form_of(rule)
        for name, line in form.tables if form is not None else ():
            names = names or Names(table.name for table in tables)
            if name not in names:
                hint = names.hint(name, "tables")
                raise BadRule(f"{rule.file} line {line}, rule {rule.name!r}: there is no table named {name!r}; {hint}")


def _listed(sentences: list[str]) -> str:
    """Several problems as one message, without the last full stop, which the reader of the message adds."""
    shown_few = sentences[:10]
    if len(sentences) > len(shown_few):
        shown_few.append(f"{len(sentences) - len(shown_few)} more like these.")
    return "\n".join(shown_few).removesuffix(".")


def _holds(condition: Expression, frame: Frame) -> bool:
    value = run(condition, frame)
    if value is True or value is False:
        return value
    raise NotComputed(f"line {condition.line}, {condition.part}: it gives {value!r}, where yes or no is wanted")


def _said(text: Text, frame: Frame) -> str:
    return "".join(one if isinstance(one, str) else shown(run(one, frame), one.sort) for one in text)


# -- reading


class _Reader:
    """Reads one rule of a file."""

    def __init__(self, document: Document, file: Path, name: str, held: Map) -> None:
        self.document = document
        self.file = file
        self.name = name
        self.held = held
        self.line = document.root.key_places[name].line
        self.of = str(held["of"])
        self.known: dict[str, Known] = {}
        self.given: dict[str, Any] = {}
        self.tables: dict[str, int] = {}
        self.facts: dict[tuple[str, str], None] = {}

    def rule(self) -> Rule:
        held = self.held
        about: dict[str, Any] = {
            "of": self.of, "severity": held["severity"], "likelihood": held["likelihood"], "caution": held["caution"],
            "defer": held["defer"], "source": held["source"], "basis": held["basis"],
        }  # fmt: skip
        lines = {part: place.line for part, place in held.places.items()}
        complete(self.name, f"{self.file} line {self.line}", title=held["title"], lines=lines, **about)
        form = self.form()
        return Rule(
            name=self.name, title=held["title"].strip().rstrip("."), notes=str(held.get("notes", "")).strip(),
            topic=self.file.name.removesuffix(ENDING), revision=held.get("revision", 1),
            since=str(held.get("since", "0.1")), run=form, wants=("tables", "site"), file=self.file, line=self.line,
            **about,
        )  # fmt: skip

    def form(self) -> Form:
        held = self.held
        self.known = {"site": site_name(), self.of: item_name(self.of)}
        self.given = self._defaults()
        each = self._each()
        sets = self._sets()
        conditions = tuple(self._only_if())
        entries = list(_numbered(held["finds"]))
        many = len(entries) > 1 and not held.get("first_only", False)
        finds = tuple(self._saying(number, entry, many) for number, entry in entries)
        if len(finds) > MOST_FINDS:
            raise self._bad(self.line, "finds", f"more than {MOST_FINDS} entries", "divide it into several rules")
        return Form(
            conditions, sets, each, finds, bool(held.get("first_only", False)), tuple(self.tables.items()),
            tuple(self.facts),
        )  # fmt: skip

    def _only_if(self) -> Iterator[Expression]:
        asked = self.held.get("only_if", Seq(self.held.place))
        if isinstance(asked, str):
            listed = [(asked, self.held.places["only_if"].line)]
        else:
            listed = [(one, place.line) for one, place in zip(asked, asked.places, strict=True)]
        for number, (text, line) in enumerate(listed, 1):
            part = f"only_if {number}"
            one = self._truth(text, line, part)
            if one.loops:
                step = "put it into when, of each entry of finds"
                raise self._bad(line, part, "only_if is of the item as a whole and knows no loop of each", step)
            yield one

    def _defaults(self) -> dict[str, Any]:
        """What `given` says, held against the catalogue."""
        defaults: Map = self.held.get("given") or Map(self.held.place)
        names = facts_of(self.of)
        for name in defaults:
            if name not in names:
                hint = f"{Names(names).hint(name, 'facts')}; asfound rule facts {self.of} prints them all"
                line = defaults.key_places[name].line
                raise self._bad(line, "given", f"no fact named {name!r} on a {self.of}", hint)
            if sort_of(self.of, name).name in ("item", "list"):
                line = defaults.key_places[name].line
                raise self._bad(line, "given", f"{name} is a list or an item", "it needs no default; empty is empty")
        return dict(defaults)

    def _each(self) -> tuple[Expression, ...]:
        asked = self.held.get("each")
        if asked is None:
            return ()
        if isinstance(asked, str):
            line = self.held.places["each"].line
            asked_pairs = [(self._loop_of(asked, line), f"{self.of}.{asked}", line)]
        else:
            asked_pairs = [(name, text, asked.places[name].line) for name, text in asked.items()]
        if len(asked_pairs) > MOST_LOOPS:
            raise self._bad(
                self.held.places["each"].line, "each", f"more than {MOST_LOOPS} loops", "divide it into several rules"
            )
        made = []
        for number, (name, text, line) in enumerate(asked_pairs):
            part = f"each {name}"
            self._new_name(name, line, part)
            one = self._expression(text, line, part)
            if one.sort.name != "list" or one.sort.of is None:
                raise self._bad(line, part, f"{text!r} is no list", f"write it like {self.of}.conductors")
            self.known[name] = loop_name(number, one.sort.of)
            made.append(one)
        return tuple(made)

    def _loop_of(self, fact: str, line: int) -> str:
        """The name of the loop in the short form `each: conductors`: the kind of the items."""
        lists = [name for name in facts_of(self.of) if sort_of(self.of, name).name == "list"]
        if fact not in lists:
            hint = Names(lists).hint(fact, "lists")
            raise self._bad(line, "each", f"no list named {fact!r} on a {self.of}", f"{hint}, or write {{name: list}}")
        inner = sort_of(self.of, fact).of
        return inner.kind if inner is not None and inner.kind else "word"

    def _sets(self) -> tuple[Expression, ...]:
        held: Map = self.held.get("set") or Map(self.held.place)
        if len(held) > MOST_SET:
            raise self._bad(
                self.held.places["set"].line, "set", f"more than {MOST_SET} names", "divide it into several rules"
            )
        made: list[Expression] = []
        for number, (name, text) in enumerate(held.items()):
            line, part = held.places[name].line, f"set {name}"
            self._new_name(name, line, part)
            one = self._expression(text, line, part)
            self.known[name] = set_name(number, one.sort, one.loops)
            made.append(one)
        return tuple(made)

    def _new_name(self, name: str, line: int, part: str) -> None:
        if name in self.known:
            raise self._bad(line, part, f"{name!r} is the name of something else here", "choose another name")

    def _saying(self, number: int, entry: Map, many: bool) -> Saying:
        def text(key: str) -> tuple[str, int, str]:
            return entry[key], entry.places[key].line, f"finds {number}, {key}"

        when = self._truth(*text("when")) if "when" in entry else None
        if many and "cause" not in entry:
            step = "give each entry a cause, a word or two that stays as it is, or write first_only: true"
            raise self._bad(entry.place.line, f"finds {number}", "several entries can hold at once", step)
        says = self._text(*text("says"))
        at = parts = None
        if "at" in entry:
            at = self._expression(*text("at"))
            if at.sort.name != "item":
                raise self._bad(at.line, at.part, f"{at.text!r} is no item", f"name an item, such as {self.of}")
        if "parts" in entry:
            parts = self._expression(*text("parts"))
            inner = parts.sort.of if parts.sort.name == "list" else parts.sort
            if inner is None or inner.name not in ("item", "nothing"):
                raise self._bad(parts.line, parts.part, f"{parts.text!r} are no items", "name items, or a list of them")
        return Saying(when, says, at, self._text(*text("cause")) if "cause" in entry else None, parts)

    def _truth(self, text: str, line: int, part: str) -> Expression:
        one = self._expression(text, line, part)
        if one.sort.name not in ("yes/no", "any"):
            step = (
                "compare it; of a list write size(...) > 0" if one.sort.name == "list" else "compare it with something"
            )
            raise self._bad(line, part, f"{text!r} is neither yes nor no", step)
        return one

    def _text(self, text: str, line: int, part: str) -> Text:
        made: list[str | Expression] = []
        try:
            pieces = list(pieces_of(text))
        except ValueError as error:
            raise self._bad(line, part, str(error), "close every { with }, and write {{ for a brace itself") from None
        for plain, expression in pieces:
            if plain:
                made.append(plain)
            if expression is not None:
                made.append(self._expression(expression, line, part))
        return tuple(made)

    def _expression(self, text: str, line: int, part: str) -> Expression:
        try:
            parsed = parse(text)
            found = check(parsed, self.known, self.given, self.of)
            program = ready(found.root)
        except NotRead as problem:
            column = f" at character {problem.column}" if problem.column else ""
            cause = f"{_short(text)} cannot be read as an expression{column} ({problem.said})"
            raise self._bad(line, part, cause, problem.step or _slip(text, self.of)) from None
        except Wrong as wrong:
            at = parsed.at.get(wrong.node.id, 0)
            near = written(wrong.node)
            where = f"{near!r}" if "..." not in near and near else f"at character {at + 1}"
            raise self._bad(line, part, f"in {_short(text)}, {where}: {wrong.cause}", wrong.step) from None
        for pattern in found.patterns:
            if wrong_with := bad_pattern(pattern):
                step = "write it as RE2 has patterns, brackets closed"
                raise self._bad(line, part, f"{pattern!r} is no pattern ({wrong_with})", step)
        return self._made(text, line, part, found, program)

    def _made(self, text: str, line: int, part: str, found: Checked, program: Any) -> Expression:
        for name in found.tables:
            self.tables.setdefault(name, line)
        self.facts.update(found.facts)
        cost = A_LOOP if found.folds else 1
        return Expression(text, line, part, found.sort, program, cost, found.loops)

    def _bad(self, line: int, part: str, cause: str, step: str) -> BadRule:
        return BadRule(f"{self.file} line {line}, rule {self.name!r}, {part}: {cause}; {step}")


def _numbered(entries: Iterable[Any]) -> Iterator[tuple[int, Any]]:
    return enumerate(entries, 1)


def _short(text: str) -> str:
    flat = " ".join(text.split())
    return repr(flat if len(flat) <= 70 else f"{flat[:67]}...")


_UNIT = "leave out the unit"
_SLIPS = (
    (r"[0-9](\"| ?(in|ft|mm|cm|m|inch|inches|feet|amps?|A|V|volts?|W|lb|years?)\b(?! *\[))", _UNIT),
    (r"(?<![=!<>])=(?!=)", "write == to compare"),
    (r"\band\b", "write && for and"),
    (r"\bor\b", "write || for or"),
    (r"\bnot\b", "write ! for not"),
    (r"\bis\b", "write == for is"),
    (r"[“”‘’]", "write straight quotes"),
    (r"\bif\b|\belse\b", "write condition ? a : b"),
)


def _slip(text: str, kind: str) -> str:
    """The next step for text that is no expression: the likely slip, looked for outside quotes."""
    bare = re.sub(r"\"[^\"]*\"|'[^']*'", '""', text)
    for pattern, step in _SLIPS:
        found = re.search(pattern, bare)
        if found and step == _UNIT:
            names = re.findall(rf"\b{kind}\.([a-z_]+)", bare[: found.start()])
            unit = facts_of(kind).get(names[-1], {}).get("unit", "") if names else ""
            return f"{_UNIT}; {names[-1]} is in {UNITS.get(unit, unit)}" if unit else _UNIT
        if found:
            return step
    return 'write it like box.cover == "missing" && box.volume > 18'


def pieces_of(text: str) -> Iterator[tuple[str, str | None]]:
    """A sentence as pairs of plain text and the expression in braces after it. Raises `ValueError` for a lone brace."""
    plain: list[str] = []
    at = 0
    while at < len(text):
        one = text[at]
        if one in "{}" and text[at : at + 2] == one * 2:
            plain.append(one)
            at += 2
        elif one == "{":
            end = _closing(text, at + 1)
            yield "".join(plain), text[at + 1 : end]
            plain, at = [], end + 1
        elif one == "}":
            raise ValueError(f"a }} stands alone in {_short(text)}")
        else:
            plain.append(one)
            at += 1
    if plain:
        yield "".join(plain), None


def _closing(text: str, at: int) -> int:
    """Where the brace closes that was opened before `at`; quotes may hold braces."""
    quote = ""
    while at < len(text):
        one = text[at]
        if quote:
            at += one == "\\"
            quote = "" if one == quote else quote
        elif one in "\"'":
            quote = one
        elif one == "}":
            return at
        elif one == "{":
            break
        at += 1
    raise ValueError(f"a {{ is not closed in {_short(text)}")
