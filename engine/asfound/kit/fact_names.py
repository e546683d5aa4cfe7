"""The names of facts in Python rules, held against the catalogue before any record is read.

A rule's function is read as text, never run. What a name in it stands for is
known for the parameters of the rule, for related items by the catalogue, and
for what loops over them; everything else is left to the run, where a misspelt
fact is an error as well. So nothing right is ever refused: a name that is bound
twice to different things, or in a way not known here, is not looked at.
"""

from __future__ import annotations

import ast
import builtins
import functools
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from asfound import authoring
from asfound.judge.rules import BadRule, Rule
from asfound.judge.views import facts_of
from asfound.kit.catalogue import words_of
from asfound.names import Names

ABOUT = ("tag", "words", "kind_of_item")
"""What every item has besides its facts."""
_WITH_NAME = {id(authoring.given), id(authoring.for_words), id(authoring.certain), id(authoring.noted)}
"""Functions that take an item and the name of a fact of it."""
_OF_EACH = {id(authoring.some), id(authoring.every)}
"""Functions that take a list and a function of one thing in it."""
_SAME_LIST = {id(sorted), id(list), id(tuple), id(reversed), id(set), id(authoring.by_size)}
"""Functions that give the things of the list they take."""


@dataclass(frozen=True, slots=True)
class Held:
    """What a name stands for: an item of a kind, or a list of such items."""

    kind: str
    several: bool = False


def check_fact_names(rules: Iterable[Rule]) -> None:
    """Raise `BadRule` with everything in rules in Python that the catalogue shows to be wrong.

    A fact that no item of its kind has, a word that it can never be, or a test
    for whether it is there.
    """
    found = []
    for rule in rules:
        for line, kind, name in misspelt(rule):
            hint = _hint(Names([*facts_of(kind), *ABOUT[:2]]), name, kind)
            found.append(f"{rule.file} line {line}, rule {rule.name!r}: no fact named {name!r} on a {kind}; {hint}")
        for line, cause, step in slips(rule):
            found.append(f"{rule.file} line {line}, rule {rule.name!r}: {cause}; {step}")
    if found:
        raise BadRule(".\n".join(dict.fromkeys(found)))


def _hint(names: Names, name: str, kind: str) -> str:
    """The next step for a misspelt fact, and where all facts of the kind are listed."""
    return f"{names.hint(name, 'facts')}; asfound rule facts {kind} prints them all"


def misspelt(rule: Rule) -> Iterator[tuple[int, str, str]]:
    """Line, kind of item and name of each fact read by a rule in Python that the catalogue does not know."""
    reader = _reader(rule)
    if reader is not None:
        yield from reader.found()


def slips(rule: Rule) -> list[tuple[int, str, str]]:
    """Line, cause and next step of comparisons that can never hold, and of tests for whether a fact is there."""
    reader = _reader(rule)
    if reader is None:
        return []
    list(reader.found())
    return sorted(set(reader.slips + list(_returned(reader.function))))


def _reader(rule: Rule) -> _Reader | None:
    function = function_of(rule)
    if function is None:
        return None
    names = [argument.arg for argument in (*function.args.posonlyargs, *function.args.args)]
    start = {names[0]: Held(rule.of)} if names else {}
    if "site" in names[1:]:
        start["site"] = Held("site")
    return _Reader(function, start, getattr(rule.run, "__globals__", {}))


def function_of(rule: Rule) -> ast.FunctionDef | None:
    """The function of a rule in Python as it is written; None for another form, or when it cannot be read."""
    code = getattr(rule.run, "__code__", None)
    return None if code is None else _functions(rule.file).get((code.co_name, code.co_firstlineno))


def _returned(function: ast.FunctionDef) -> Iterator[tuple[int, str, str]]:
    """A finding that is returned, where it has to be yielded, or that stands there and is given to nobody."""
    for node in _own(function):
        alone = node.value if isinstance(node, ast.Expr) else None
        if isinstance(alone, ast.JoinedStr) or (
            isinstance(alone, ast.Call) and isinstance(alone.func, ast.Name) and alone.func.id == "Defect"
        ):
            yield node.lineno, "a finding stands alone", "write yield before it"
        said = node.value if isinstance(node, ast.Return) else None
        if isinstance(said, ast.JoinedStr) or (isinstance(said, ast.Constant) and isinstance(said.value, str)):
            yield node.lineno, "it returns a sentence", "write yield in place of return"
        elif isinstance(said, ast.Call) and isinstance(said.func, ast.Name) and said.func.id == "Defect":
            yield node.lineno, "it returns a finding", "write yield in place of return"


def _own(function: ast.FunctionDef) -> Iterator[ast.stmt]:
    """The statements of a function without those of functions in it."""
    left: list[ast.AST] = list(function.body)
    while left:
        node = left.pop()
        if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef | ast.ClassDef | ast.Lambda):
            continue
        if isinstance(node, ast.stmt):
            yield node
        left += ast.iter_child_nodes(node)


@functools.lru_cache(maxsize=8)
def _functions(file: Path) -> dict[tuple[str, int], ast.FunctionDef]:
    """The functions of a file by name and first line, decorators counted; none when it cannot be read."""
    try:
        tree = ast.parse(file.read_bytes())
    except (OSError, SyntaxError, ValueError, RecursionError):
        return {}
    found = {}
    for node in ast.walk(tree):
        if isinstance(node, ast.FunctionDef):
            first = min([node.lineno, *(one.lineno for one in node.decorator_list)])
            found[node.name, first] = node
    return found


_SCOPES = (ast.FunctionDef, ast.AsyncFunctionDef, ast.Lambda, ast.ClassDef)
_LISTS = (ast.ListComp, ast.SetComp, ast.GeneratorExp, ast.DictComp)


class _Reader:
    """Reads one function of a rule."""

    def __init__(self, function: ast.FunctionDef, start: dict[str, Held], around: dict[str, Any]) -> None:
        self.function = function
        self.around = around
        self.bound = _bindings(function)
        self.start = start
        self.busy: set[str] = set()
        self.known: dict[str, Held | None] = {}
        self.slips: list[tuple[int, str, str]] = []

    def found(self) -> Iterator[tuple[int, str, str]]:
        for one in self.function.body:
            yield from self._in(one, {})

    # -- every place where a fact is read

    def _in(self, node: ast.AST, local: dict[str, Held | None]) -> Iterator[tuple[int, str, str]]:
        """Misspelt facts in a node. `local` are the names of loops inside expressions, None where not known."""
        if isinstance(node, ast.Try | ast.TryStar | ast.ClassDef | ast.FunctionDef | ast.AsyncFunctionDef):
            return  # what is caught there, or when it is run, is not known
        if isinstance(node, ast.Lambda):
            yield from self._in(node.body, {**local, **dict.fromkeys(_parameters(node.args))})
            return
        if isinstance(node, _LISTS):
            yield from self._in_list(node, local)
            return
        if isinstance(node, ast.Attribute) and isinstance(node.ctx, ast.Load):
            held = self._of(node.value, local)
            if held is not None and not held.several and not _is_fact(held.kind, node.attr):
                yield node.lineno, held.kind, node.attr
        if isinstance(node, ast.Compare):
            self._compared(node, local)
        if isinstance(node, ast.Call):
            self._asked_whether_there(node, local)
            yield from self._named(node, local)
            inner = self._each_of(node, local)
            if inner is not None:
                yield from self._in(node.args[0], local)
                yield from self._in(*inner)
                return
        for one in ast.iter_child_nodes(node):
            yield from self._in(one, local)

    def _fact(self, node: ast.AST, local: dict[str, Held | None]) -> tuple[str, str] | None:
        """The kind of item and the name of the fact that an expression is; None where that is not known."""
        if not isinstance(node, ast.Attribute):
            return None
        held = self._of(node.value, local)
        if held is None or held.several or node.attr not in facts_of(held.kind):
            return None
        return held.kind, node.attr

    def _compared(self, node: ast.Compare, local: dict[str, Held | None]) -> None:
        """Facts held against plain words that they can never be, or against None."""
        sides = [node.left, *node.comparators]
        for one, sign, two in zip(sides, node.ops, sides[1:], strict=False):
            for fact, other in ((self._fact(one, local), two), (self._fact(two, local), one)):
                if fact is None:
                    continue
                literals = [other]
                if isinstance(sign, ast.In | ast.NotIn):
                    if other is two and isinstance(other, ast.List | ast.Tuple | ast.Set):
                        literals = list(other.elts)
                    elif other is two:
                        continue
                elif not isinstance(sign, ast.Eq | ast.NotEq | ast.Is | ast.IsNot):
                    continue
                for literal in literals:
                    if isinstance(literal, ast.Constant):
                        self.slips += _never(literal.lineno, *fact, literal.value)

    def _asked_whether_there(self, call: ast.Call, local: dict[str, Held | None]) -> None:
        """`hasattr(box, "cover")`, and `getattr(box, "cover", ...)` with a default."""
        least = 2 if self._calls(call, {id(hasattr)}, local) else 3 if self._calls(call, {id(getattr)}, local) else 0
        if not least or len(call.args) < least:
            return
        held, name = self._of(call.args[0], local), call.args[1]
        if held is None or held.several or not isinstance(name, ast.Constant) or not isinstance(call.func, ast.Name):
            return
        if name.value in facts_of(held.kind):
            cause = f"{call.func.id}(...) asks whether somebody recorded {name.value}"
            self.slips.append((call.lineno, cause, _READ_IT))

    def _in_list(self, node: Any, local: dict[str, Held | None]) -> Iterator[tuple[int, str, str]]:
        inner = dict(local)
        for loop in node.generators:
            yield from self._in(loop.iter, inner)
            inner.update(dict.fromkeys(_names(loop.target)))
            if isinstance(loop.target, ast.Name):
                inner[loop.target.id] = _one_of(self._of(loop.iter, inner | {loop.target.id: None}))
            for condition in loop.ifs:
                yield from self._in(condition, inner)
        for part in (node.key, node.value) if isinstance(node, ast.DictComp) else (node.elt,):
            yield from self._in(part, inner)

    def _named(self, call: ast.Call, local: dict[str, Held | None]) -> Iterator[tuple[int, str, str]]:
        """`given(box, "volume", 0)` and the like."""
        if self._calls(call, _WITH_NAME, local) and len(call.args) >= 2:
            held, name = self._of(call.args[0], local), call.args[1]
            known = isinstance(name, ast.Constant) and isinstance(name.value, str)
            if held is not None and not held.several and known and not _is_fact(held.kind, name.value):  # type: ignore[attr-defined]
                yield name.lineno, held.kind, name.value  # type: ignore[attr-defined]

    def _each_of(self, call: ast.Call, local: dict[str, Held | None]) -> tuple[ast.AST, dict[str, Held | None]] | None:
        """The body of the lambda in `some(box.conductors, lambda c: ...)`, and what its parameter is."""
        if not (self._calls(call, _OF_EACH, local) and len(call.args) == 2 and not call.keywords):
            return None
        test = call.args[1]
        if not isinstance(test, ast.Lambda) or len(_parameters(test.args)) != 1 or len(test.args.args) != 1:
            return None
        return test.body, {**local, test.args.args[0].arg: _one_of(self._of(call.args[0], local))}

    def _calls(self, call: ast.Call, which: set[int], local: dict[str, Held | None]) -> bool:
        """Whether a call is certainly of one of the functions, by its name in the module."""
        if not isinstance(call.func, ast.Name):
            return False
        name = call.func.id
        if name in local or name in self.bound or name in self.start:
            return False
        meant = self.around.get(name, getattr(builtins, name, None))
        return id(meant) in which

    # -- what an expression stands for

    def _of(self, node: ast.AST, local: dict[str, Held | None]) -> Held | None:
        if isinstance(node, ast.Name):
            return local[node.id] if node.id in local else self._name(node.id)
        if isinstance(node, ast.Attribute):
            held = self._of(node.value, local)
            return None if held is None or held.several else _related(held.kind, node.attr)
        if isinstance(node, ast.Subscript):
            held = self._of(node.value, local)
            if held is None or not held.several:
                return None
            return held if isinstance(node.slice, ast.Slice) else _one_of(held)
        if isinstance(node, ast.Call) and node.args and self._calls(node, _SAME_LIST, local):
            held = self._of(node.args[0], local)
            return held if held is not None and held.several else None
        if isinstance(node, ast.List | ast.Tuple):
            return self._of_several(node.elts, local)
        if isinstance(node, ast.IfExp):
            one, two = self._of(node.body, local), self._of(node.orelse, local)
            return one if one == two else None
        if isinstance(node, ast.ListComp | ast.GeneratorExp | ast.SetComp):
            return self._of_comprehension(node, local)
        return None

    def _of_several(self, elements: list[ast.expr], local: dict[str, Held | None]) -> Held | None:
        kinds: set[str | None] = set()
        for one in elements:
            held = self._of(one.value if isinstance(one, ast.Starred) else one, local)
            kinds.add(None if held is None or held.several != isinstance(one, ast.Starred) else held.kind)
        (kind,) = kinds if len(kinds) == 1 else (None,)
        return None if kind is None else Held(kind, several=True)

    def _of_comprehension(self, node: Any, local: dict[str, Held | None]) -> Held | None:
        inner = dict(local)
        for loop in node.generators:
            inner.update(dict.fromkeys(_names(loop.target)))
            if isinstance(loop.target, ast.Name):
                inner[loop.target.id] = _one_of(self._of(loop.iter, inner | {loop.target.id: None}))
        held = self._of(node.elt, inner)
        return Held(held.kind, several=True) if held is not None and not held.several else None

    def _name(self, name: str) -> Held | None:
        """What a name of the function stands for wherever it is bound; None when that is not the same everywhere."""
        if name in self.known:
            return self.known[name]
        if name in self.busy:
            return None
        self.busy.add(name)
        meant: set[Held | None] = {self.start[name]} if name in self.start else set()
        for source, looped in self.bound.get(name, ()):
            held = None if source is None else self._of(source, {})
            meant.add(_one_of(held) if looped else held)
        self.busy.discard(name)
        (held,) = meant if len(meant) == 1 else (None,)
        self.known[name] = held
        return held


_READ_IT = "read it; what nobody recorded ends as cannot tell, or use given(...)"


def _never(line: int, kind: str, name: str, value: object) -> Iterator[tuple[int, str, str]]:
    """Why a fact is never equal to a plain value; nothing when it can be."""
    form = str(facts_of(kind)[name]["is"]).partition(" ")[0]
    if value is None:
        if form not in ("item", "items"):
            yield line, f"{name} of a {kind} is never None", _READ_IT
        return
    if not isinstance(value, str):
        return
    if form == "yes/no":
        yield line, f"{name} of a {kind} is yes or no, never {value!r}", "write the fact alone, or not before it"
    elif form == "number":
        yield line, f"{name} of a {kind} is a number, never {value!r}", "compare number with number"
    elif form not in ("item", "items"):
        words = words_of(kind, name)
        if words and value not in words:
            yield line, f"{name} of a {kind} is never {value!r}", Names(words).hint(value, "words")


def _is_fact(kind: str, name: str) -> bool:
    return name in facts_of(kind) or name in ABOUT or name.startswith("_")


def _related(kind: str, name: str) -> Held | None:
    """What a fact leads to, when it leads to items."""
    form, _, of = str(facts_of(kind).get(name, {}).get("is", "")).partition(" ")
    return Held(of, form == "items") if form in ("item", "items") else None


def _one_of(held: Held | None) -> Held | None:
    return Held(held.kind) if held is not None and held.several else None


def _names(target: ast.AST) -> Iterator[str]:
    for node in ast.walk(target):
        if isinstance(node, ast.Name):
            yield node.id


def _parameters(arguments: ast.arguments) -> list[str]:
    every = (*arguments.posonlyargs, *arguments.args, *arguments.kwonlyargs, arguments.vararg, arguments.kwarg)
    return [one.arg for one in every if one is not None]


_Bound = dict[str, list[tuple[ast.expr | None, bool]]]


def _bindings(function: ast.FunctionDef) -> _Bound:
    """Every way in which a name is bound in a function: by an expression, as one of a list, or in a way not known.

    Names of loops inside expressions live there only and are left out; what an
    inner function binds does not count, but what it calls nonlocal does.
    """
    bound: _Bound = {}
    for name in _parameters(function.args):
        bound.setdefault(name, [])
    seen: list[ast.AST] = list(function.body)
    while seen:
        node = seen.pop()
        if isinstance(node, ast.Assign) and len(node.targets) == 1 and isinstance(node.targets[0], ast.Name):
            bound.setdefault(node.targets[0].id, []).append((node.value, False))
            seen.append(node.value)
        elif isinstance(node, ast.AnnAssign | ast.NamedExpr) and isinstance(node.target, ast.Name):
            if node.value is not None:
                bound.setdefault(node.target.id, []).append((node.value, False))
                seen.append(node.value)
        elif isinstance(node, ast.For) and isinstance(node.target, ast.Name):
            bound.setdefault(node.target.id, []).append((node.iter, True))
            seen += [node.iter, *node.body, *node.orelse]
        elif isinstance(node, _LISTS):
            seen += [one for one in ast.walk(node) if isinstance(one, ast.NamedExpr)]
        elif isinstance(node, _SCOPES):
            if not isinstance(node, ast.Lambda):
                bound.setdefault(node.name, []).append((None, False))
            for inner in ast.walk(node):
                if isinstance(inner, ast.Nonlocal):
                    for name in inner.names:
                        bound.setdefault(name, []).append((None, False))
        else:
            for name in _otherwise(node):
                bound.setdefault(name, []).append((None, False))
            seen += ast.iter_child_nodes(node)
    return bound


def _otherwise(node: ast.AST) -> Iterator[str]:
    """Names that a node binds in a way that is not followed."""
    if isinstance(node, ast.Name) and not isinstance(node.ctx, ast.Load):
        yield node.id
    elif isinstance(node, ast.ExceptHandler | ast.MatchAs | ast.MatchStar) and node.name:
        yield node.name
    elif isinstance(node, ast.MatchMapping) and node.rest:
        yield node.rest
    elif isinstance(node, ast.Global | ast.Nonlocal):
        yield from node.names
    elif isinstance(node, ast.Import | ast.ImportFrom):
        yield from (one.asname or one.name.partition(".")[0] for one in node.names)
