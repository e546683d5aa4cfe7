"""What an expression of a rule means, checked before any record is read.

Every name is held against the catalogue of facts, every operator against what
stands beside it, and what could take too long is refused. The tree that comes
back fetches facts only when they are reached: `box.cover` becomes a call, so
that `&&`, `||` and `?:` decide what is read, as the language has it.

No automatic conversion of numbers: the language adds like to like (Language
Definition, Numeric Values, cel-spec `doc/langdef.md`, seen in text). Facts and
table values that are numbers have decimals, so a sum is written `+ 2.0`; for
comparing, `> 2` will do.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field, replace
from typing import Any, Final

from asfound.data import data
from asfound.judge.views import facts_of
from asfound.kit.catalogue import words_of
from asfound.kit.forms_tree import (
    Call,
    Const,
    Fold,
    Listed,
    Mapped,
    Name,
    Node,
    Parsed,
    Select,
    decimal,
    everything,
    text,
    whole,
)  # fmt: skip
from asfound.names import Names

MOST_FOLDS = 8
"""Uses of all, exists, map and the like in one expression."""
DEEPEST_FOLD = 2
"""How deep such uses may stand in each other; three would take the cube of the length of a list."""
MOST_LISTED = 64
"""Values in one list."""
LONGEST_PATTERN = 200
"""Characters in a pattern for `matches`."""

ABOUT: Final = ("tag", "words", "kind_of_item")
"""What every item has besides its facts."""


@dataclass(frozen=True, slots=True)
class Sort:
    """What kind of value an expression gives. `of` is the sort of the elements of a list, `kind` that of an item.

    `empty` when it can be null besides; `fact` is the kind of item and the name of the fact it comes from.
    """

    name: str
    of: Sort | None = None
    kind: str = ""
    empty: bool = False
    fact: tuple[str, str] | None = None


ANY, NULL, NOTHING = Sort("any"), Sort("null"), Sort("nothing")
YES_NO, WORD, SIZE = Sort("yes/no"), Sort("word"), Sort("size")
WHOLE, NUMBER = Sort("whole number"), Sort("number")


def list_of(one: Sort) -> Sort:
    """The sort of a list of `one`."""
    return Sort("list", one)


class Wrong(Exception):
    """Something in an expression is not right: the node it is at, what it is, and the next step."""

    def __init__(self, node: Node, cause: str, step: str) -> None:
        self.node = node
        self.cause = cause
        self.step = step
        super().__init__(f"{cause}; {step}")


@dataclass(frozen=True, slots=True)
class Known:
    """What a name stands for: its sort, how it is fetched, and the loops (by number) its value hangs on."""

    sort: Sort
    fetch: Callable[[], Node]
    loops: frozenset[int] = frozenset()


@dataclass(slots=True)
class Checked:
    """An expression that may be run: its sort, its tree, whether it loops, the loops of the rule it hangs on.

    `tables` are the tables it names, `facts` the facts it may read, as pairs of kind
    and name, `patterns` what it gives to `matches`.
    """

    sort: Sort
    root: Node
    folds: int = 0
    loops: frozenset[int] = frozenset()
    tables: dict[str, Node] = field(default_factory=dict)
    facts: dict[tuple[str, str], None] = field(default_factory=dict)
    patterns: list[str] = field(default_factory=list)


def sort_of(kind: str, fact: str) -> Sort:
    """The sort of a fact of the catalogue. Raises `KeyError` when items of this kind have no such fact."""
    if fact in ABOUT:
        return WORD
    form, _, of = str(facts_of(kind)[fact]["is"]).partition(" ")
    about = (kind, fact)
    if form == "items":
        return Sort("list", Sort("item", kind=of), fact=about)
    if form == "item":
        return Sort("item", kind=of, fact=about)
    if form == "words":
        return Sort("list", replace(WORD, fact=about), fact=about)
    base = {"number": NUMBER, "yes/no": YES_NO, "size": SIZE}.get(form, WORD)
    return replace(base, fact=about)


def check(parsed: Parsed, known: Mapping[str, Known], given: Mapping[str, Any], item: str) -> Checked:
    """Check an expression; `given` holds defaults for facts of the judged item, which is called `item`.

    Raises `Wrong`.
    """
    folds = [node for node in everything(parsed.root) if isinstance(node, Fold)]
    if len(folds) > MOST_FOLDS:
        raise Wrong(
            folds[-1], f"more than {MOST_FOLDS} loops over lists stand in one expression",
            "give parts of it names of their own under set",
        )  # fmt: skip
    looked = _Look(known, given, item)
    sort, root = looked.at(parsed.root, {})
    return Checked(sort, root, len(folds), looked.loops, looked.tables, looked.facts, looked.patterns)


def _said(sort: Sort) -> str:
    """A sort in a sentence."""
    match sort.name:
        case "item":
            said = f"a {sort.kind}"
        case "list":
            of = sort.of or ANY
            said = f"a list of {of.kind} items" if of.name == "item" else f"a list of {_plural(of)}"
        case "yes/no":
            said = "yes or no"
        case "size":
            said = "a wire size"
        case "any" | "nothing":
            said = "a value"
        case "null":
            said = "null"
        case _:
            said = f"a {sort.name}"
    return f"{said} ({sort.fact[1]} of a {sort.fact[0]})" if sort.fact else said


def _plural(sort: Sort) -> str:
    return "values" if sort.name in ("any", "nothing") else f"{sort.name}s"


def _numeric(sort: Sort) -> bool:
    return sort.name in ("number", "whole number")


def _open(*sorts: Sort) -> bool:
    return any(sort.name in ("any", "nothing") for sort in sorts)


def _texts(*sorts: Sort) -> bool:
    return all(sort.name in ("word", "size") for sort in sorts)


def _alike(one: Sort, two: Sort) -> bool:
    """Whether values of two sorts can be equal."""
    if _open(one, two) or (_numeric(one) and _numeric(two)) or _texts(one, two):
        return True
    if "null" in (one.name, two.name):
        return one.empty or two.empty or one.name == two.name
    if one.name == "list" and two.name == "list":
        return _alike(one.of or ANY, two.of or ANY)
    return (one.name, one.kind) == (two.name, two.kind)


def _common(one: Sort, two: Sort) -> Sort | None:
    """The sort of a value that is one or the other; None when no operator could be held against it."""
    empty = one.empty or two.empty or "null" in (one.name, two.name)
    if "nothing" in (one.name, two.name):
        return two if one.name == "nothing" else one
    if "null" in (one.name, two.name):
        return replace(two if one.name == "null" else one, empty=True)
    if _open(one, two):
        return None if "item" in (one.name, two.name) else ANY
    if one.name == "list" and two.name == "list":
        inner = _common(one.of or ANY, two.of or ANY)
        return None if inner is None else Sort("list", inner, empty=empty)
    if _texts(one, two):
        return Sort(one.name if one.name == two.name else "word", empty=empty)
    if (one.name, one.kind) == (two.name, two.kind):
        return Sort(one.name, one.of, one.kind, empty)
    return None


def written(node: Node) -> str:
    """A simple expression as it was written: names, selections and literals; `...` for the rest."""
    match node:
        case Name():
            return node.name
        case Select():
            return f"{written(node.of)}.{node.field}"
        case Const():
            if isinstance(node.value, bool):
                return "true" if node.value else "false"
            return f'"{node.value}"' if isinstance(node.value, str) else str(node.value)
        case Call():
            return f"{node.name}(...)" if node.name[0] not in "_@!-" else "..."
        case _:
            return "..."


_SLIPS = {"len": "size(...)", "max": "largest(...)", "min": "smallest(...)", "any": "exists(...)"}
"""What a function of another language is called here."""
_PASSING = ("_&&_", "_||_", "_?_:_")
"""Operators that run only what they need."""
_ORDER = ("_<_", "_<=_", "_>_", "_>=_")
_SUMS = {"_+_": "+", "_-_": "-", "_*_": "*", "_/_": "/", "_%_": "%"}
_TEXT_TESTS = ("contains", "startsWith", "endsWith", "matches")
_TURNED = {"int": WHOLE, "double": NUMBER, "string": WORD, "dyn": ANY}
SPECIAL = ("given", "noted", "for_words", "certain")
"""Functions that take a fact itself, not its value."""
_HELPERS: dict[str, tuple[tuple[Sort, ...], Sort]] = {
    "sum": ((list_of(NUMBER),), NUMBER),
    "largest": ((list_of(NUMBER),), NUMBER),
    "smallest": ((list_of(NUMBER),), NUMBER),
    "abs": ((NUMBER,), NUMBER),
    "area_mm2": ((SIZE,), NUMBER),
    "size_words": ((SIZE,), WORD),
    "joined": ((list_of(WORD),), WORD),
    "plural": ((NUMBER, WORD), WORD),
}
"""Helpers with what they take and give; a whole number stands for a number."""
_TABLES = {"table": ANY, "has_row": YES_NO, "table_at_least": NUMBER}
MEANS: dict[str, str] = {
    "abs": "a number without its sign",
    "area_mm2": "cross-section of a wire size, in mm²; for comparing sizes",
    "certain": "a fact where it is certain; else the rule does not apply",
    "contains": 'whether a text holds another: cable.legend.contains("NM")',
    "double": "a whole number as one with decimals",
    "dyn": "a value whose sort is not checked",
    "endsWith": "whether a text ends with another",
    "for_words": "a fact where it is certain, else null; for sentences",
    "given": "a fact, or a default where nobody recorded it: given(box.added_volume, 0)",
    "has_row": 'whether a table has a row: has_row("name", key, ...)',
    "int": "a number as a whole number",
    "joined": "words as: a, b and c",
    "largest": "the largest of a list of numbers",
    "matches": "whether a text holds a pattern (RE2)",
    "names": "items by their tags, as: a, b and c",
    "noted": "a fact; the rule does not apply where nobody recorded it",
    "plural": 'a count in words: plural(size(box.conductors), "wire")',
    "size": "how many are in a list, or characters in a text",
    "size_words": "a wire size in words: 14 AWG",
    "smallest": "the smallest of a list of numbers",
    "startsWith": "whether a text begins with another",
    "string": "a value as a text",
    "sum": "the sum of a list of numbers",
    "table": 'the value of a row of a table: table("name", key, ...)',
    "table_at_least": 'the value of the first row that is not below a number: table_at_least("name", number)',
}
"""Every function that an expression may call, with what it gives. The macros all, exists, exists_one, map and filter,
and the operators, are those of the language."""
FUNCTIONS = tuple(MEANS)
KNOWN = {*_TEXT_TESTS, *_TURNED, *SPECIAL, *_HELPERS, *_TABLES, "size", "names"}
"""The functions that are looked at below; a test holds them against `MEANS`."""


class _Look:
    """One walk through an expression."""

    def __init__(self, known: Mapping[str, Known], given: Mapping[str, Any], item: str) -> None:
        self.known = known
        self.given = given
        self.item = item
        self.depth = 0
        self.bound = 0
        self.loops: frozenset[int] = frozenset()
        self.tables: dict[str, Node] = {}
        self.facts: dict[tuple[str, str], None] = {}
        self.patterns: list[str] = []

    def at(self, node: Node, local: Mapping[str, Sort]) -> tuple[Sort, Node]:
        """The sort of a node and the node to run in its place."""
        match node:
            case Const():
                return self._literal(node), node
            case Name():
                return self._name(node, local)
            case Select():
                return self._select(node, local)
            case Call():
                return self._call(node, local)
            case Listed():
                return self._list(node, local)
            case Fold():
                return self._fold(node, local)
            case Mapped():
                raise Wrong(
                    node, "a map in braces has no place in a rule", "put figures into a table, or write a list in []"
                )

    def _literal(self, node: Const) -> Sort:
        value = node.value
        if value is None:
            return NULL
        if isinstance(value, bool):
            return YES_NO
        if isinstance(value, bytes) or node.raw[:1] == b"\x20":
            raise Wrong(node, "bytes and unsigned numbers are no facts", "write plain text or a plain number")
        if isinstance(value, int):
            return WHOLE
        if isinstance(value, float):
            if value - value != 0:
                raise Wrong(node, "a number without bounds compares with nothing", "write an ordinary number")
            return NUMBER
        return WORD

    def _name(self, node: Name, local: Mapping[str, Sort]) -> tuple[Sort, Node]:
        if node.name in local:
            return local[node.name], node
        found = self.known.get(node.name)
        if found is None:
            names = Names([*self.known, *(name for name in local if name[0] != "@")])
            hint = names.hint(node.name, "names")
            if not names.close(node.name):
                hint = f'put words in quotes, "{node.name}"; {hint}'
            raise Wrong(node, f"nothing here is called {node.name!r}", hint)
        self.loops |= found.loops
        return found.sort, found.fetch()

    def _select(self, node: Select, local: Mapping[str, Sort]) -> tuple[Sort, Node]:
        if node.test:
            raise Wrong(
                node, f"has({written(node.of)}.{node.field}) asks whether somebody recorded a fact",
                "read the fact, and what is not recorded ends as cannot tell; where its absence has a plain "
                f"meaning, write given({written(node.of)}.{node.field}, ...)",
            )  # fmt: skip
        sort, of, kind = self._fact(node, local)
        if isinstance(node.of, Name) and node.of.name == self.item and node.field in self.given:
            default = self._default(node, self.given[node.field], sort)
            return sort, Call(node.id, None, "@given", [of, text(node.field), Listed(0, [default])])
        name = "@fact" if node.field in facts_of(kind) else "@about"
        return sort, Call(node.id, None, name, [of, text(node.field)])

    def _fact(self, node: Select, local: Mapping[str, Sort]) -> tuple[Sort, Node, str]:
        """The sort of a fact, the item it is read of, and the kind of that item."""
        holder, of = self.at(node.of, local)
        if holder.name == "list":
            raise Wrong(
                node, f"{written(node.of)} is {_said(holder)}, and a list has no {node.field!r}",
                "ask each of them: all(x, x...), exists(x, x...), or each: for the whole rule",
            )  # fmt: skip
        if holder.name != "item":
            raise Wrong(node, f"{written(node.of)} is {_said(holder)}; only items have facts", "read the fact itself")
        kind = holder.kind
        if node.field not in ABOUT and node.field not in facts_of(kind):
            hint = Names([*facts_of(kind), *ABOUT[:2]]).hint(node.field, "facts")
            step = f"{hint}; asfound rule facts {kind} prints them all"
            raise Wrong(node, f"no fact named {node.field!r} on a {kind}", step)
        self.facts[kind, node.field] = None
        return sort_of(kind, node.field), of, kind

    def _default(self, node: Node, value: Any, sort: Sort) -> Const:
        """A literal that stands for a fact nobody recorded, in the sort of the fact."""
        if sort.name in ("item", "list"):
            raise Wrong(node, f"{_said(sort)} has no such default", "related items nobody recorded are an empty list; "
                "of a list of words write given(..., [])")  # fmt: skip
        if isinstance(value, bool):
            made, held = _truth_of(value), YES_NO
        elif isinstance(value, int | float):
            made, held = decimal(float(value)), NUMBER
        elif isinstance(value, str):
            made, held = text(value), WORD
        else:
            raise Wrong(node, "a default is one value", "write a word, a number, true or false")
        if not _alike(held, sort):
            raise Wrong(node, f"the default {value!r} is {_said(held)}, and the fact {_said(sort)}", "give one alike")
        return made

    def _list(self, node: Listed, local: Mapping[str, Sort]) -> tuple[Sort, Node]:
        if len(node.items) > MOST_LISTED:
            raise Wrong(node, f"more than {MOST_LISTED} values stand in one list", "put them into a table")
        sort: Sort | None = NOTHING
        items = []
        for one in node.items:
            held, made = self.at(one, local)
            common = _common(sort or ANY, replace(held, fact=None))
            if common is None and (held.name == "item" or (sort or ANY).name == "item"):
                raise Wrong(one, "items and other values stand in one list", "keep them apart")
            sort = common or ANY
            items.append(made)
        return list_of(sort or ANY), self._listed(items)

    def _fold(self, node: Fold, local: Mapping[str, Sort]) -> tuple[Sort, Node]:
        over, made_over = self.at(node.over, local)
        if over.name != "list":
            raise Wrong(node, f"{written(node.over)} is {_said(over)}, not a list", "name a list to go through")
        if isinstance(node.over, Fold) and _makes(node.over):
            raise Wrong(node, "a list that map(...) made is gone through again", "do both in one step, or use each")
        if node.var in self.known or node.var in local:
            raise Wrong(node, f"{node.var!r} is the name of something else here", "choose another name for the loop")
        self.depth += 1
        if self.depth > DEEPEST_FOLD:
            raise Wrong(
                node, f"loops over lists stand more than {DEEPEST_FOLD} deep in each other",
                "use each: for the outer one, or a fact that brings the items together",
            )  # fmt: skip
        inner = {**local, node.var: replace(over.of or ANY, fact=None)}
        start, made_start = self.at(node.start, inner)
        within = {**inner, node.total: start}
        step, made_step = self.at(node.step, within)
        total = _common(start, step) or ANY
        within = {**inner, node.total: total}
        going = self._going(node, total, within)
        result, made_result = self.at(node.result, within)
        self.depth -= 1
        made = Fold(node.id, node.var, made_over, node.total, made_start, going, made_step, made_result)
        return result, made

    def _going(self, node: Fold, total: Sort, within: Mapping[str, Sort]) -> Node:
        """Whether a loop goes on. One that lets no error go ends with the first, instead of at the end of its list."""
        if not (isinstance(node.going, Const) and node.going.value is True):
            return self.at(node.going, within)[1]
        so_far: Node = Name(0, node.total)
        if total.name == "list":
            so_far = Call(0, None, "size", [so_far])
        return Call(0, None, "_>=_", [so_far, whole(0)])

    # -- functions and operators

    def _call(self, node: Call, local: Mapping[str, Sort]) -> tuple[Sort, Node]:
        name = node.name
        if name in SPECIAL and node.of is None:
            return self._special(node, local)
        if name == "@not_strictly_false":
            _, made = self.at(node.args[0], local)
            return YES_NO, Call(node.id, None, name, [made])
        held = [self.at(one, local) for one in ([node.of] if node.of is not None else []) + node.args]
        sorts, made_args = [sort for sort, _ in held], [made for _, made in held]
        if name in _TABLES and node.of is None:
            return self._table(node, sorts, made_args)
        if name == "names" and node.of is None:
            self._count(node, sorts, 1)
            if sorts[0].name != "list" or (sorts[0].of or ANY).name not in ("item", "nothing"):
                raise Wrong(node, f"names(...) of {_said(sorts[0])}", "give it a list of items")
            return WORD, Call(node.id, None, "@names", made_args)
        if name in _HELPERS and node.of is None:
            return self._helper(node, sorts, made_args)
        gives = self._standard(node, sorts)
        if gives is None:
            known = Names([*FUNCTIONS, "all", "exists", "filter", "map"])
            hint = f"write {_SLIPS[name]}" if name in _SLIPS else known.hint(name, "functions")
            raise Wrong(node, f"there is no function named {name!r} here", hint)
        if name in _PASSING:
            return gives, Call(node.id, None, name, made_args)

        def call(args: list[Node]) -> Node:
            return Call(node.id, None if node.of is None else args[0], name, args if node.of is None else args[1:])

        return gives, self._in_turn(made_args, call)

    def _in_turn(self, nodes: list[Node], whole_of: Callable[[list[Node]], Node]) -> Node:
        """What `whole_of` makes of the nodes, so run that none is begun when one before it came to no value.

        The library runs all parts of a sum before it looks for errors; a rule in
        Python ends with the first. Each part before the last that fetches
        something gets a name, as by the macro `cel.bind`, and is looked at first.
        """
        named, bound = list(nodes), []
        for number, one in enumerate(nodes):
            if _fetches(one) and any(map(_fetches, nodes[number + 1 :])):
                self.bound += 1
                named[number] = Name(0, f"@part{self.bound}")
                bound.append((f"@part{self.bound}", one))
        made = whole_of(named)
        for name, one in reversed(bound):
            made = _bind(name, one, made)
        return made

    @staticmethod
    def _count(node: Call, sorts: list[Sort], wanted: int) -> None:
        if len(sorts) != wanted:
            raise Wrong(node, f"{node.name}(...) has {len(sorts)} values in it", f"give it {wanted}")

    def _special(self, node: Call, local: Mapping[str, Sort]) -> tuple[Sort, Node]:
        """`given(x.fact, default)`, `noted(x.fact)`, `for_words(x.fact)`, `certain(x.fact)`."""
        name = node.name
        self._count(node, [ANY] * len(node.args), 2 if name == "given" else 1)
        what = node.args[0]
        if not isinstance(what, Select) or what.test:
            raise Wrong(node, f"{name}(...) takes a fact itself", f"write it like {name}({self.item}.condition, ...)")
        sort, of, kind = self._fact(what, local)
        if what.field not in facts_of(kind):
            raise Wrong(node, f"{what.field!r} is known of every item", f"write {written(what)} alone")
        args: list[Node] = [of, text(what.field)]
        if name == "given":
            default = node.args[1]
            if isinstance(default, Listed) and not default.items and sort.name == "list":
                return sort, Call(node.id, None, "@given", [*args, Listed(0, [default])])
            if not isinstance(default, Const):
                raise Wrong(node, "the default of given(...) is not a plain value", "write a word, a number or true")
            args.append(Listed(0, [self._default(node, default.value, sort)]))
            return sort, Call(node.id, None, "@given", args)
        empty = name == "for_words"
        return replace(sort, empty=empty), Call(node.id, None, f"@{name}", args)

    def _table(self, node: Call, sorts: list[Sort], made: list[Node]) -> tuple[Sort, Node]:
        first = node.args[0] if node.args else None
        if not isinstance(first, Const) or not isinstance(first.value, str):
            raise Wrong(node, f"{node.name}(...) begins with the name of a table", f'write {node.name}("name", ...)')
        if len(sorts) < 2:
            raise Wrong(node, f"{node.name}({written(first)}) names no row", "give the key of the row after the name")
        for sort, one in zip(sorts[1:], node.args[1:], strict=True):
            if sort.name in ("item", "list", "null"):
                raise Wrong(one, f"{_said(sort)} is no key of a row", "give a word, a size or a number")
        if node.name == "table_at_least" and not (_numeric(sorts[1]) or _open(sorts[1])):
            raise Wrong(node.args[1], f"table_at_least(...) of {_said(sorts[1])}", "give a number after the name")
        self.tables.setdefault(first.value, node)
        return _TABLES[node.name], self._helped(node, made)

    def _helper(self, node: Call, sorts: list[Sort], made: list[Node]) -> tuple[Sort, Node]:
        wants, gives = _HELPERS[node.name]
        self._count(node, sorts, len(wants))
        for number, (sort, want) in enumerate(zip(sorts, wants, strict=True)):
            if not _alike(sort, want):
                raise Wrong(node.args[number], f"{node.name}(...) of {_said(sort)}", f"give it {_said(want)}")
        return gives, self._helped(node, made)

    def _helped(self, node: Call, made: list[Node]) -> Node:
        return Call(node.id, None, f"@{node.name}", [self._listed(made)])

    def _listed(self, items: list[Node]) -> Node:
        """A list whose values are run in turn; a long one in halves, so that its tree stays flat."""
        if sum(map(_fetches, items)) <= _FLAT:
            return self._in_turn(items, lambda made: Listed(0, made))
        half = len(items) // 2
        halves = [self._listed(items[:half]), self._listed(items[half:])]
        return self._in_turn(halves, lambda made: Call(0, None, "_+_", made))

    def _standard(self, node: Call, sorts: list[Sort]) -> Sort | None:
        """The sort that an operator or a function of the language gives; None for one that is not known."""
        name = node.name
        if name in ("_&&_", "_||_", "!_"):
            for sort, one in zip(sorts, node.args, strict=True):
                self._truth(sort, one)
            return YES_NO
        if name in ("_==_", "_!=_"):
            self._equal(node, sorts[0], sorts[1])
            return YES_NO
        if name in _ORDER:
            return self._ordered(node, sorts[0], sorts[1])
        if name in _SUMS:
            return self._sum(node, sorts[0], sorts[1])
        if name == "-_":
            return self._negative(node, sorts[0])
        if name == "_?_:_":
            self._truth(sorts[0], node.args[0])
            common = _common(replace(sorts[1], fact=None), replace(sorts[2], fact=None))
            if common is None and not _open(sorts[1], sorts[2]):
                raise Wrong(
                    node, f"a ? b : c gives either {_said(sorts[1])} or {_said(sorts[2])}",
                    _decimals(node.args[1:]) or "let both be of one sort",
                )  # fmt: skip
            return common or ANY
        if name == "@in":
            return self._within(node, sorts[0], sorts[1])
        if name == "_[_]":
            return self._index(node, sorts[0], sorts[1])
        if name == "size":
            self._count(node, sorts, 1)
            if sorts[0].name not in ("list", "word", "any", "size"):
                raise Wrong(node, f"size(...) of {_said(sorts[0])}", "give it a list or a text")
            return WHOLE
        if name in _TEXT_TESTS:
            return self._text_test(node, sorts)
        if name in _TURNED and node.of is None:
            self._count(node, sorts, 1)
            if sorts[0].name in ("item", "list", "null"):
                raise Wrong(node, f"{name}(...) of {_said(sorts[0])}", "give it a word or a number")
            return _TURNED[name]
        return None

    @staticmethod
    def _truth(sort: Sort, node: Node) -> None:
        if sort.name not in ("yes/no", "any", "nothing"):
            what = "a list is never yes or no; write size(...) > 0" if sort.name == "list" else "compare it"
            raise Wrong(node, f"{written(node)} is {_said(sort)}, where yes or no is wanted", what)

    @staticmethod
    def _equal(node: Call, one: Sort, two: Sort) -> None:
        if _alike(one, two):
            _known_word(one, node.args[1])
            _known_word(two, node.args[0])
            return
        if "null" in (one.name, two.name):
            raise Wrong(
                node, "a fact is never null", "read it; what nobody recorded ends as cannot tell, or use given(...)"
            )
        step = "compare like with like"
        for fact, other, literal in ((one, two, node.args[1]), (two, one, node.args[0])):
            if fact.name == "size" and _numeric(other) and isinstance(literal, Const):
                step = f'a size is a text: write "{literal.value}"'
            elif fact.name == "yes/no" and other.name == "word":
                step = "write the fact alone, or ! before it"
            elif fact.name == "list" and other.name in ("word", "item"):
                step = "a list holds several; write ... in ..."
        raise Wrong(node, f"{_said(one)} and {_said(two)} are never equal", step)

    @staticmethod
    def _ordered(node: Call, one: Sort, two: Sort) -> Sort:
        if "size" in (one.name, two.name):
            raise Wrong(node, "wire sizes are texts and have no order", "write area_mm2(...) on both sides")
        if not (_open(one, two) or (_numeric(one) and _numeric(two)) or (one.name == two.name == "word")):
            raise Wrong(node, f"{_said(one)} and {_said(two)} have no order", "compare number with number")
        return YES_NO

    def _sum(self, node: Call, one: Sort, two: Sort) -> Sort:
        sign = _SUMS[node.name]
        macro = isinstance(node.args[0], Name) and node.args[0].name[0] == "@"
        if self.depth and not macro and sign == "+" and not (_numeric(one) and _numeric(two)):
            raise Wrong(
                node, "inside all, exists, filter and map only numbers are added",
                "make sentences in says, with names(...) or joined(...); of a table value write double(...)",
            )  # fmt: skip
        if _numeric(one) and _numeric(two):
            if one.name != two.name:
                raise Wrong(
                    node, f"{_said(one)} {sign} {_said(two)}: the language adds like to like",
                    _decimals(node.args) or "write double(...) around the whole number",
                )  # fmt: skip
            if sign == "%" and one.name == "number":
                raise Wrong(node, "% is for whole numbers", "write int(...) around both")
            if sign == "/" and one.name == "whole number":
                raise Wrong(
                    node, "a whole number by a whole number loses what is behind the point", _fraction(node.args)
                )
            return one if one.name == "whole number" else NUMBER
        if sign == "+" and _texts(one, two):
            return WORD
        if sign == "+" and one.name == two.name == "list":
            common = _common(one.of or ANY, two.of or ANY)
            if common is not None:
                return list_of(common)
        if _open(one, two) and not {one.name, two.name} & {"item", "list", "null", "yes/no"}:
            return ANY
        raise Wrong(node, f"{_said(one)} {sign} {_said(two)} is nothing", "add number to number, or text to text")

    @staticmethod
    def _negative(node: Call, sort: Sort) -> Sort:
        if not (_numeric(sort) or _open(sort)):
            raise Wrong(node, f"- before {_said(sort)}", "put it before a number")
        return sort

    @staticmethod
    def _within(node: Call, one: Sort, two: Sort) -> Sort:
        if two.name not in ("list", "any"):
            raise Wrong(node, f"in {_said(two)}, which is no list", 'write the list in [], or text.contains("...")')
        if not _alike(one, two.of or ANY):
            raise Wrong(node, f"{_said(one)} is never in {_said(two)}", "look for a value of the same sort")
        if isinstance(node.args[1], Listed):
            for value in node.args[1].items:
                _known_word(one, value)
        _known_word(two.of or ANY, node.args[0])
        return YES_NO

    @staticmethod
    def _index(node: Call, one: Sort, two: Sort) -> Sort:
        if one.name != "list":
            raise Wrong(node, f"[...] after {_said(one)}, which is no list", "name a list before it")
        if two.name != "whole number":
            raise Wrong(node, f"[{written(node.args[1])}] is no position in a list", "count from [0]")
        return replace(one.of or ANY, fact=None)

    def _text_test(self, node: Call, sorts: list[Sort]) -> Sort:
        if len(sorts) != 2 or not all(_texts(sort) or _open(sort) for sort in sorts):
            raise Wrong(node, f"{node.name}(...) is asked of a text", f'write it like cable.legend.{node.name}("NM")')
        if node.name == "matches":
            pattern = node.args[-1]
            if not isinstance(pattern, Const):
                raise Wrong(node, "a pattern that changes can take long", "write the pattern out in quotes")
            if len(pattern.value) > LONGEST_PATTERN:
                raise Wrong(node, f"a pattern of more than {LONGEST_PATTERN} characters", "shorten it")
            self.patterns.append(pattern.value)
        return YES_NO


def _bind(name: str, value: Node, whole: Node) -> Node:
    """`whole` with `name` for a value, run only when the value is none that ended in an error."""
    never = Call(0, None, "@in", [Call(0, None, "type", [Name(0, name)]), Listed(0, [])])
    then = Call(0, None, "_?_:_", [never, Const(0, None, b"\x08\x00"), whole])
    return Fold(0, "@none", Listed(0, []), name, value, _truth_of(False), Name(0, name), then)


def _fetches(node: Node) -> bool:
    """Whether a checked node asks the view or a table for something."""
    return any(isinstance(one, Call) and one.name[0] == "@" and one.name not in _NATIVE for one in everything(node))


_FLAT = 6
"""Values that are run in turn before a list is halved."""
_NATIVE = ("@in", "@not_strictly_false")


def _truth_of(value: bool) -> Const:
    return Const(0, value, b"\x10\x01" if value else b"\x10\x00")


def _known_word(sort: Sort, literal: Node) -> None:
    """Raise `Wrong` for a word that a fact with a closed list of words can never be."""
    if sort.fact is None or not isinstance(literal, Const) or not isinstance(literal.value, str):
        return
    kind, name = sort.fact
    words = () if name in ABOUT else words_of(kind, name)
    if words and literal.value not in words:
        raise Wrong(
            literal, f"{name} of a {kind} is never {literal.value!r}", Names(words).hint(literal.value, "words")
        )


def _decimals(nodes: Iterable[Node]) -> str:
    """What to write for a literal whole number beside numbers with decimals; empty when there is none."""
    for one in nodes:
        if isinstance(one, Const) and isinstance(one.value, int) and not isinstance(one.value, bool):
            return f"write {one.value}.0"
    return ""


def _fraction(nodes: list[Node]) -> str:
    """What to write for a whole number by a whole number: its decimals where that is exact, or both with decimals."""
    one, two = (node.value if isinstance(node, Const) and isinstance(node.value, int) else None for node in nodes)
    if one is None or two is None:
        return "write double(...) around what is no literal, and 4.0 for a literal 4"
    tried = f"{one}.0 / {two}.0"
    exact = two != 0 and (one * 10**4) % two == 0
    return f"write {one / two:g} or {tried}" if exact else f"write {tried}"


def _makes(fold: Fold) -> bool:
    """Whether a loop makes a list of new values, as map does; filter gives some of the old ones."""
    if not isinstance(fold.start, Listed):
        return False
    return any(
        isinstance(node, Listed) and node.items and not (
            isinstance(node.items[0], Name) and node.items[0].name == fold.var
        )
        for node in everything(fold.step)
    )  # fmt: skip


def item_name(kind: str) -> Known:
    """The judged item as a name."""
    return Known(Sort("item", kind=kind), lambda: whole(0))


def site_name() -> Known:
    """The site as a name."""
    return Known(Sort("item", kind="site"), lambda: whole(1))


def loop_name(number: int, sort: Sort) -> Known:
    """A name for the item (or value) that a loop of the rule is at."""
    return Known(replace(sort, fact=None), lambda: Call(0, None, "@loop", [whole(number)]), frozenset({number}))


def set_name(number: int, sort: Sort, loops: frozenset[int]) -> Known:
    """A name for a value that a rule works out once."""
    return Known(replace(sort, fact=None), lambda: Call(0, None, "@set", [whole(number)]), loops)


def kinds() -> Iterable[str]:
    """The kinds of items in the catalogue."""
    return data("facts")
