"""Which ways the conditions of a rule in Python went, and which of its lines were reached.

Watched by the interpreter's own tracing, instruction by instruction and only in
the files named, so nothing has to be installed and a rule runs unchanged. A
condition is what stands after `if`, `elif` or `while`, a `for`, an `only_if`,
and each part of a condition joined by `and` or `or`. Every condition can go two
ways; a rule whose cases never take one of them is not proven there.
"""

from __future__ import annotations

import ast
import dis
import functools
import sys
from collections import Counter
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, field
from pathlib import Path
from types import CodeType, FrameType, TracebackType
from typing import Any

from asfound.judge.views import NotHere

Span = tuple[int, int, int, int]
"""First line, first column, last line, last column; columns count bytes from 0."""
_LONGEST = 100


@dataclass(frozen=True, slots=True)
class Condition:
    """One condition: where it stands, in its own words, and the function it belongs to.

    `sort` is `if`, `while`, `for`, `case`, `only_if`, or `part` for what is
    joined by `and` or `or`, or stands inside an expression.
    """

    file: Path
    line: int
    column: int
    sort: str
    text: str
    function: str

    def way(self, way: bool) -> str:
        """The way it went in words."""
        yes, no = _WAYS.get(self.sort, ("true", "false"))
        return yes if way else no


_WAYS = {"only_if": ("holds", "does not hold"), "for": ("goes through", "at its end"), "case": ("fits", "does not fit")}


@dataclass(frozen=True, slots=True)
class Decision:
    """One condition as it was met in a run, and the way it went."""

    condition: Condition
    way: bool


@dataclass(slots=True)
class Went:
    """What was seen of some files: the ways each condition went, and the lines reached by file."""

    ways: dict[Condition, set[bool]] = field(default_factory=dict)
    lines: dict[Path, set[int]] = field(default_factory=dict)

    def add(self, other: Went) -> None:
        """Put what another run saw to this."""
        for condition, ways in other.ways.items():
            self.ways.setdefault(condition, set()).update(ways)
        for file, lines in other.lines.items():
            self.lines.setdefault(file, set()).update(lines)


@dataclass(frozen=True, slots=True)
class Function:
    """A function at the top of a file: its name, its lines from the first decorator on, and those that do something."""

    name: str
    first: int
    last: int
    lines: frozenset[int]
    conditions: tuple[Condition, ...]


# -- what a file holds


@dataclass(frozen=True, slots=True)
class _Test:
    """The whole test of an `if`, `while` or `case`, and where it stands."""

    condition: Condition
    span: Span


class _Source:
    """A file of Python: its conditions by place."""

    def __init__(self, file: Path, text: str) -> None:
        self.file = file
        self.text = text
        self.tree = ast.parse(text)
        self.tests: list[_Test] = []
        self.loops: dict[Span, Condition] = {}
        self.limits: dict[Span, Condition] = {}  # calls of only_if
        self.atoms: dict[Span, tuple[ast.expr, tuple[ast.AST, ...]]] = {}
        self.charts: dict[CodeType, _Chart] = {}
        self.functions = [node for node in self.tree.body if isinstance(node, ast.FunctionDef)]
        for node in self.tree.body:
            self._gather(node, (), node.name if isinstance(node, ast.FunctionDef) else "")

    def condition(self, node: Any, sort: str, function: str, text: str = "") -> Condition:
        if not text:
            text = " ".join((ast.get_source_segment(self.text, node) or "").split())
        shown = text if len(text) <= _LONGEST else f"{text[: _LONGEST - 2]}.."
        return Condition(self.file, node.lineno, node.col_offset, sort, shown, function)

    def _gather(self, node: ast.AST, above: tuple[ast.AST, ...], function: str) -> None:
        if isinstance(node, ast.If | ast.While):
            sort = "if" if isinstance(node, ast.If) else "while"
            whole = self.condition(node.test, sort, function)
            self.tests.append(_Test(whole, _span(node.test)))
        elif isinstance(node, ast.For):
            target, over = (ast.get_source_segment(self.text, one) or "" for one in (node.target, node.iter))
            text = " ".join(f"{target} in {over}".split())
            made = self.condition(node, "for", function, text)
            self.loops[_span(node)] = self.loops[_span(node.iter)] = made
        elif isinstance(node, ast.match_case):
            end = _span(node.guard or node.pattern)
            start = _span(node.pattern)
            whole = self.condition(node.pattern, "case", function)
            self.tests.append(_Test(whole, (*start[:2], *end[2:])))
        elif isinstance(node, ast.Call) and isinstance(node.func, ast.Name) and node.func.id == "only_if" and node.args:
            self.limits[_span(node)] = self.condition(node.args[0], "only_if", function)
        if isinstance(node, ast.expr):
            self.atoms.setdefault(_span(node), (node, above))
        for child in ast.iter_child_nodes(node):
            self._gather(child, (*above, node), function)


def _span(node: Any) -> Span:
    return node.lineno, node.col_offset, node.end_lineno, node.end_col_offset


def _block(body: list[ast.stmt]) -> Span:
    return (*_span(body[0])[:2], *_span(body[-1])[2:])


def _within(inner: Span, outer: Span) -> bool:
    return outer[:2] <= inner[:2] and inner[2:] <= outer[2:]


def _holds(outer: Span, inner: Span | None) -> bool:
    return inner is not None and _within(inner, outer)


@functools.lru_cache(maxsize=256)
def _read(file: Path, changed: int) -> _Source:
    return _Source(file, file.read_text(encoding="utf-8"))


def _source(file: Path) -> _Source:
    return _read(file, file.stat().st_mtime_ns)


def functions_of(file: Path) -> list[Function]:
    """The functions at the top of a file of Python, with every condition and line in them, in order."""
    source = _source(file)
    whole = compile(source.text, str(file), "exec", dont_inherit=True)
    found = []
    for node in source.functions:
        first = min((one.lineno for one in node.decorator_list), default=node.lineno)
        body = node.body[1:] if ast.get_docstring(node) is not None else node.body
        if not body:
            continue
        span = _block(body)
        lines: set[int] = set()
        met: dict[Condition, None] = {}
        for code in _codes(whole):
            if code.co_name != "<module>" and first <= code.co_firstlineno <= span[2]:
                chart = _chart(source, code)
                lines |= {line for line in chart.lines.values() if span[0] <= line <= span[2]}
                met |= dict.fromkeys(chart.conditions())
        ordered = sorted(met, key=lambda one: (one.line, one.column, one.sort == "part"))
        found.append(Function(node.name, first, span[2], frozenset(lines), tuple(ordered)))
    return found


def _codes(code: CodeType) -> Iterator[CodeType]:
    yield code
    for held in code.co_consts:
        if isinstance(held, CodeType):
            yield from _codes(held)


# -- what an instruction decides


@dataclass(frozen=True, slots=True)
class _Turn:
    """A conditional jump: the next instruction when it does not jump, and what each outcome means.

    The value asked is `falls` when it does not jump. `part` is the condition it
    is the value of, when that stands inside a larger one. The whole `test` is as
    the value asked last, or the other way round where it `turns`. `once` is set
    where a true value does not decide, as in the first half of `1 < x < 3`.
    """

    next: int
    falls: bool
    test: _Test | None = None
    part: Condition | None = None
    turns: bool = False
    once: bool = False


class _Chart:
    """The conditional jumps of one code object, its calls of only_if, and the line of each instruction."""

    def __init__(self) -> None:
        self.turns: dict[int, _Turn] = {}
        self.limits: dict[int, Condition] = {}
        self.lines: dict[int, int] = {}
        self.spans: dict[int, Span] = {}

    def conditions(self) -> Iterator[Condition]:
        for turn in self.turns.values():
            if turn.test is not None:
                yield turn.test.condition
            if turn.part is not None:
                yield turn.part
        yield from self.limits.values()


_SILENT = ("RESUME", "RETURN_GENERATOR", "COPY_FREE_VARS", "MAKE_CELL", "NOT_TAKEN", "CACHE")
_CALLS = ("CALL", "CALL_FUNCTION", "CALL_KW")


def _chart(source: _Source, code: CodeType) -> _Chart:
    chart = _Chart()
    listed = list(dis.get_instructions(code))
    halves: Counter[Span] = Counter()
    before: dis.Instruction | None = None
    wide: list[int] = []  # an instruction with a long argument is met at its first extension only
    for index, one in enumerate(listed):
        span = _span_of(one)
        if span is not None:
            chart.spans[one.offset] = span
            if one.opname not in _SILENT:
                chart.lines[one.offset] = span[0]
        if one.opname == "EXTENDED_ARG":
            wide.append(one.offset)
            continue
        following = listed[index + 1].offset if index + 1 < len(listed) else -1
        if one.opname == "FOR_ITER" and not code.co_name.startswith("<"):
            loop = source.loops.get(span) if span else None
            if loop is not None:
                chart.turns |= dict.fromkeys([*wide, one.offset], _Turn(following, True, part=loop))
        elif "JUMP" in one.opname and "IF" in one.opname.split("_") and before is not None:
            turn = _turn(source, code, one.opname, following, chart.spans.get(before.offset), halves)
            if turn is not None:
                chart.turns |= dict.fromkeys([*wide, one.offset], turn)
        elif one.opname in _CALLS and span is not None and span in source.limits:
            chart.limits[one.offset] = source.limits[span]
        if one.opname not in ("COPY", "SWAP", "ROT_TWO", "ROT_THREE", "DUP_TOP", "PRECALL"):
            before = one
        wide = []
    return chart


def _span_of(one: dis.Instruction) -> Span | None:
    place = one.positions
    if place is None:
        return None
    line, column, last, end = place.lineno, place.col_offset, place.end_lineno, place.end_col_offset
    if line is None or column is None or last is None or end is None:
        return None
    return line, column, last, end


def _turn(
    source: _Source, code: CodeType, name: str, following: int, span: Span | None, halves: Counter[Span]
) -> _Turn | None:
    """What a conditional jump decides, by the expression whose value it takes. None for what is no condition.

    `halves` counts the jumps met so far of each comparison with several signs, all but the last of which decide
    only when they fail.
    """
    falls = "TRUE" not in name.split("_")  # a jump if false that is not taken: the value is true
    if span is None or span not in source.atoms:
        test = None if span is None or code.co_name.startswith("<") else _enclosing(source, span)
        return None if test is None else _Turn(following, falls, test)
    node, above = source.atoms[span]
    if name.endswith("NONE"):
        if not above or not isinstance(above[-1], ast.Compare):
            return None
        node, above = above[-1], above[:-1]
        falls = isinstance(node.ops[0], ast.Is) == name.endswith("NOT_NONE")
    while above and (isinstance(above[-1], ast.NamedExpr) or _is_not(above[-1])):
        falls = falls != _is_not(above[-1])
        node, above = above[-1], above[:-1]  # type: ignore[assignment]
    if above and isinstance(above[-1], ast.Assert | ast.ExceptHandler):
        return None
    once = False
    if isinstance(node, ast.Compare) and len(node.ops) > 1:
        halves[_span(node)] += 1
        once = halves[_span(node)] % len(node.ops) != 0
    test = None if code.co_name.startswith("<") else _enclosing(source, _span(node))
    part = None
    if above and isinstance(above[-1], ast.BoolOp | ast.IfExp | ast.comprehension | ast.match_case):
        part = source.condition(node, "part", _owner(source, node))
    if test is None and part is None:
        return None
    turns = test is not None and sum(_is_not(one) and _within(_span(one), test.span) for one in above) % 2 == 1
    return _Turn(following, falls, test, part, turns, once)


def _is_not(node: ast.AST) -> bool:
    return isinstance(node, ast.UnaryOp) and isinstance(node.op, ast.Not)


def _enclosing(source: _Source, span: Span) -> _Test | None:
    holding = [test for test in source.tests if _within(span, test.span)]
    return min(holding, key=lambda test: (test.span[2] - test.span[0], test.span[3] - test.span[1]), default=None)


def _owner(source: _Source, node: Any) -> str:
    return next((f.name for f in source.functions if f.lineno <= node.lineno <= (f.end_lineno or 0)), "")


# -- watching


class Watch:
    """Notes, while it is entered, what the functions of some files do; tells each decision to `heard` as it is made."""

    def __init__(self, files: Iterable[Path], heard: Callable[[Decision], None] | None = None) -> None:
        self.went = Went()
        self._heard = heard
        self._names = {str(file): file for file in files if file.suffix == ".py"}
        self._sources: dict[str, _Source] = {}
        for name, file in list(self._names.items()):
            try:
                self._sources[name] = _source(file)
            except (OSError, SyntaxError, ValueError):  # a file beside the rules that is no Python
                del self._names[name]
        self._before: Any = None

    def __enter__(self) -> Watch:
        self._before = sys.gettrace()
        if self._names:
            sys.settrace(self._called)
        return self

    def __exit__(self, kind: type[BaseException] | None, error: BaseException | None, at: TracebackType | None) -> None:
        sys.settrace(self._before)

    def _called(self, frame: FrameType, event: str, argument: Any) -> Any:
        code = frame.f_code
        if code.co_filename not in self._names or code.co_name == "<module>":
            return None
        source = self._sources[code.co_filename]
        chart = source.charts.get(code)
        if chart is None:
            chart = source.charts[code] = _chart(source, code)
        frame.f_trace_opcodes = True
        frame.f_trace_lines = False
        reached = self.went.lines.setdefault(self._names[code.co_filename], set())
        pending: _Turn | Condition | None = None
        test: _Test | None = None
        value = False

        def local(frame: FrameType, event: str, argument: Any) -> Any:
            nonlocal pending, test, value
            if event == "opcode":
                at = frame.f_lasti
                if isinstance(pending, Condition):
                    self._note(pending, True)
                elif pending is not None:
                    way = pending.falls if at == pending.next else not pending.falls
                    if pending.part is not None and not (pending.once and way):
                        self._note(pending.part, way)
                    if pending.test is not None:
                        test, value = pending.test, way != pending.turns
                if test is not None and not _holds(test.span, chart.spans.get(at)):
                    self._note(test.condition, value)
                    test = None
                line = chart.lines.get(at)
                if line is not None:
                    reached.add(line)
                pending = chart.turns.get(at) or chart.limits.get(at)
            elif event == "exception":
                if isinstance(pending, Condition) and issubclass(argument[0], NotHere):
                    self._note(pending, False)
                pending = test = None
            elif event == "return" and test is not None:  # what follows the test is only the end of the function
                self._note(test.condition, value)
                test = None
            return local

        return local

    def _note(self, condition: Condition, way: bool) -> None:
        self.went.ways.setdefault(condition, set()).add(way)
        if self._heard is not None:
            self._heard(Decision(condition, way))
