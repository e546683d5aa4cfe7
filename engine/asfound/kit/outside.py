"""What rules from outside are held to when they are loaded, besides the catalogue of facts.

Their imports, before anything of them is run; then what they say of themselves
and the plain parts of their sentences. The built-in rules are held to the same
by the tests. `asfound rule test` and `asfound rule pack` load without the
second part, and list it with everything else that is wrong.
"""

from __future__ import annotations

import ast
import re
import textwrap
from collections.abc import Iterable, Iterator
from pathlib import Path

from asfound.data import data
from asfound.judge.results import risk_of
from asfound.judge.rules import BadRule, Rule
from asfound.judge.unsaid import step, unsaid_in
from asfound.kit.forms import form_of

OWN = ("asfound.authoring", "asfound.items")
PURE = (
    "__future__", "bisect", "collections", "collections.abc", "dataclasses", "decimal", "enum", "fractions",
    "functools", "heapq", "itertools", "math", "operator", "re", "statistics", "string", "textwrap", "typing",
)  # fmt: skip
"""Modules of the standard library that give the same for the same, whatever the day, the place and the machine."""
_CALLS = ("open", "eval", "exec", "compile", "input", "breakpoint", "__import__")
"""Built-in functions that reach outside, or hide what is done."""


def check_source(source: Path, package: str = "") -> None:
    """Hold a file of Python against what a rule may import and call; nothing of it is run.

    `package` is the package it belongs to, whose other modules it may import.
    Raises `BadRule`, for what is no Python too.
    """
    try:
        tree = ast.parse(source.read_bytes())
    except OSError as error:
        raise BadRule(f"{source} cannot be read ({error.strerror}); check the path and its permissions") from None
    except SyntaxError as error:
        place = f" line {error.lineno}" if error.lineno else ""
        raise BadRule(
            f"{source}{place}: it cannot be read as Python ({type(error).__name__}: {error.msg}); put the line right"
        ) from None
    except (ValueError, RecursionError) as error:
        raise BadRule(f"{source}: it cannot be read as Python ({error}); save it again as plain text") from None
    for line, name in _kept(tree):
        raise BadRule(
            f"{source} line {line}: it changes {name}, which stays from item to item, so that what is found hangs on "
            "what was looked at before; keep nothing between items"
        )
    defined = {node.name for node in ast.walk(tree) if isinstance(node, ast.FunctionDef | ast.ClassDef)}
    for node in ast.walk(tree):
        for name in _imported(node):
            if name not in (*OWN, *PURE) and not (package and f"{name}.".startswith(f"{package}.")):
                raise BadRule(
                    f"{source} line {node.lineno}: it imports {name}, and a rule may import only {' and '.join(OWN)}, "  # type: ignore[attr-defined]
                    f"its own pack, and of the standard library {', '.join(PURE[1:])}; do without it"
                )
        if isinstance(node, ast.Call) and isinstance(node.func, ast.Name):
            called = node.func.id
            if called in _CALLS and called not in defined:
                raise BadRule(
                    f"{source} line {node.lineno}: it calls {called}(...), and a rule reads nothing but its item, "
                    "tables and site; do without it"
                )


_GROWS = (
    "append", "extend", "insert", "add", "update", "setdefault", "pop", "popitem", "remove", "discard", "clear",
)  # fmt: skip
"""What changes a list, a set or a mapping."""


def _kept(tree: ast.Module) -> Iterator[tuple[int, str]]:
    """Line and name of each thing of the module that one of its functions changes, so that items hang together."""
    around = {name for node in tree.body if isinstance(node, ast.Assign | ast.AnnAssign) for name in _stored_in(node)}
    for function in ast.walk(tree):
        if not isinstance(function, ast.FunctionDef):
            continue
        arguments = function.args
        own = {one.arg for one in (*arguments.posonlyargs, *arguments.args, *arguments.kwonlyargs)}
        shared = around - own - _stored_in(function)
        for node in ast.walk(function):
            if isinstance(node, ast.Global):
                yield node.lineno, node.names[0]
                continue
            held: ast.AST | None = None
            if isinstance(node, ast.Call) and isinstance(node.func, ast.Attribute) and node.func.attr in _GROWS:
                held = node.func.value
            elif isinstance(node, ast.Subscript) and not isinstance(node.ctx, ast.Load):
                held = node.value
            if isinstance(held, ast.Name) and held.id in shared:
                yield held.lineno, held.id


def _stored_in(node: ast.AST) -> set[str]:
    """The names that something binds, wherever in it."""
    return {one.id for one in ast.walk(node) if isinstance(one, ast.Name) and isinstance(one.ctx, ast.Store)}


def _imported(node: ast.AST) -> Iterator[str]:
    """The modules that a node imports; none for one of the same package, named by dots."""
    if isinstance(node, ast.Import):
        yield from (one.name for one in node.names)
    elif isinstance(node, ast.ImportFrom) and not node.level and node.module:
        if node.module == "asfound":
            yield from (f"asfound.{one.name}" for one in node.names)
        else:
            yield node.module


# -- what a rule says of itself


def check_says(rules: Iterable[Rule]) -> None:
    """Raise `BadRule` with everything that rules say and may not say, and cautions that do not fit."""
    found = []
    for rule in rules:
        where = f"{rule.file} line {rule.line}, rule {rule.name!r}"
        if wrong := caution_wrong(rule):
            found.append(f"{where}: {wrong[0]}; {wrong[1]}")
        for part in ("title", "notes", "caution", "defer"):
            text = str(getattr(rule, part))
            if said := unsaid_in(text):
                found.append(f"{where}: its {part} says {said!r} ({_short(text)}); {step()}")
        for line, text in plain_parts(rule):
            if said := unsaid_in(text):
                found.append(
                    f"{rule.file} line {line}, rule {rule.name!r}: a sentence says {said!r} ({_short(text)}); {step()}"
                )
    if found:
        raise BadRule(".\n".join(found))


def caution_wrong(rule: Rule) -> tuple[str, str] | None:
    """What is wrong with the caution of a rule, and the next step; None when it fits how bad it is."""
    signals = data("grades")["signal_words"]
    word, _, danger = rule.caution.partition(":")
    if not rule.caution.strip():
        return "it has no caution", f"write caution=: {', '.join(signals)}, a colon, and what can happen"
    if word not in signals or not danger.strip():
        return (
            f"its caution opens with {word!r}", f"begin with {', '.join(signals)}, then a colon and what can happen"
        )  # fmt: skip
    printed = f"{rule.caution} {rule.title}"
    harms = rule.severity in ("catastrophic", "critical") or re.search(r"\b(kill|shock|fire)\b", printed)
    risk = risk_of(rule)
    if risk == "high" and word != "Danger":
        return f"its risk is high and its caution opens with {word}", "begin it with Danger"
    if risk != "high" and word == "Danger":
        return (
            f"its caution opens with Danger and its risk is {risk}",
            "begin it with Warning, or state a graver severity or likelihood",
        )
    if harms and word not in ("Danger", "Warning"):
        return f"someone can be hurt, and its caution opens with {word}", "begin it with Warning"
    return None


def plain_parts(rule: Rule) -> Iterator[tuple[int, str]]:
    """The sentences of a rule with their lines, as far as they stand in it; `…` for what it fills in."""
    form = form_of(rule)
    if form is not None:
        for saying in form.finds:
            lines = [one.line for one in saying.says if not isinstance(one, str)]
            line = lines[0] if lines else saying.when.line if saying.when is not None else rule.line
            yield line, "".join(one if isinstance(one, str) else "…" for one in saying.says)
        return
    from asfound.kit.fact_names import function_of

    function = function_of(rule)
    for node in ast.walk(function) if function is not None else ():
        if isinstance(node, ast.Yield) and node.value is not None:
            said = node.value
            if isinstance(said, ast.Call):
                named = [one.value for one in said.keywords if one.arg == "says"]
                said = (*said.args, *named, said)[0]
            yield from ((node.lineno, text) for text in _plain(said))


def _plain(node: ast.expr) -> list[str]:
    """What a text can be, as far as it stands there; one for each branch of `a if b else c`."""
    if isinstance(node, ast.Constant):
        return [node.value] if isinstance(node.value, str) else []
    if isinstance(node, ast.JoinedStr):
        parts = (str(one.value) if isinstance(one, ast.Constant) else "…" for one in node.values)
        return ["".join(parts)]
    if isinstance(node, ast.IfExp):
        return [*_plain(node.body), *_plain(node.orelse)]
    if isinstance(node, ast.BinOp) and isinstance(node.op, ast.Add):
        one, two = _plain(node.left) or ["…"], _plain(node.right) or ["…"]
        return [a + b for a in one for b in two][:8]
    return []


def _short(text: str) -> str:
    return textwrap.shorten(text, 120, placeholder=" ...")
