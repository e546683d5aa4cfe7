"""Expressions of the Common Expression Language as a tree, read from and written to its published wire form.

The library parses and evaluates; between the two the tree is looked at here, so
that names are checked at load and facts are fetched only when they are reached.
The wire form is the message `ParsedExpr` of `cel/expr/syntax.proto` of the
language's specification (field numbers read in what the library writes).
Nothing here knows facts or rules.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field
from struct import pack, unpack
from typing import Any

PARSED = b"type.googleapis.com/cel.expr.ParsedExpr"


@dataclass(slots=True)
class Const:
    """A literal. `value` is None, bool, int, float, str or bytes; `raw` is its wire form."""

    id: int
    value: Any
    raw: bytes


@dataclass(slots=True)
class Name:
    """A name that stands alone."""

    id: int
    name: str


@dataclass(slots=True)
class Select:
    """`of.field`; `test` when it stands in `has(...)`."""

    id: int
    of: Node
    field: str
    test: bool = False


@dataclass(slots=True)
class Call:
    """A function or operator; `of` is what stands before the dot, if anything does."""

    id: int
    of: Node | None
    name: str
    args: list[Node]


@dataclass(slots=True)
class Listed:
    """`[a, b]`."""

    id: int
    items: list[Node]


@dataclass(slots=True)
class Mapped:
    """`{key: value}`; `message` when it is a message with a name."""

    id: int
    message: str
    entries: list[tuple[Node | None, Node]] = field(default_factory=list)


@dataclass(slots=True)
class Fold:
    """What `all`, `exists`, `exists_one`, `map` and `filter` stand for: a loop over a list."""

    id: int
    var: str
    over: Node
    total: str
    start: Node
    going: Node
    step: Node
    result: Node


Node = Const | Name | Select | Call | Listed | Mapped | Fold


@dataclass(frozen=True, slots=True)
class Parsed:
    """A parsed expression; `at` gives the position, from 0, of a node in its text, by id."""

    root: Node
    at: dict[int, int]


def read(wire: bytes) -> Parsed:
    """The tree in what the library gives as a serialised, unchecked expression. Raises `ValueError` for other bytes."""
    outer = dict(_fields(wire))
    if outer.get(1) != PARSED:
        raise ValueError("not a parsed expression")
    root: Node | None = None
    at: dict[int, int] = {}
    for number, held in _fields(outer[2]):
        if number == 2:
            root = _node(held)
        elif number == 3:
            for inner, entry in _fields(held):
                if inner == 4:
                    pair = dict(_fields(entry))
                    at[pair.get(1, 0)] = pair.get(2, 0)
    if root is None:
        raise ValueError("no expression")
    return Parsed(root, at)


def write(root: Node) -> bytes:
    """The wire form of a tree, as the library takes it."""
    return _part(1, PARSED) + _part(2, _part(2, _wire(root)))


def parts(node: Node) -> Iterator[Node]:
    """The nodes directly inside a node, in order."""
    match node:
        case Select():
            yield node.of
        case Call():
            if node.of is not None:
                yield node.of
            yield from node.args
        case Listed():
            yield from node.items
        case Mapped():
            for key, value in node.entries:
                if key is not None:
                    yield key
                yield value
        case Fold():
            yield from (node.over, node.start, node.going, node.step, node.result)


def everything(node: Node) -> Iterator[Node]:
    """A node and all that is inside it."""
    yield node
    for one in parts(node):
        yield from everything(one)


# -- reading the wire form


def _fields(wire: bytes) -> Iterator[tuple[int, Any]]:
    """Number and value of each field of a message."""
    at = 0
    while at < len(wire):
        tag, at = _number(wire, at)
        kind = tag & 7
        if kind == 0:
            value, at = _number(wire, at)
            yield tag >> 3, value
        elif kind == 1:
            yield tag >> 3, wire[at : at + 8]
            at += 8
        elif kind == 2:
            size, at = _number(wire, at)
            yield tag >> 3, wire[at : at + size]
            at += size
        else:
            raise ValueError(f"wire type {kind}")


def _number(wire: bytes, at: int) -> tuple[int, int]:
    value = shift = 0
    while True:
        byte = wire[at]
        at += 1
        value |= (byte & 127) << shift
        shift += 7
        if byte < 128:
            return value, at


def _node(wire: bytes) -> Node:
    number, sort, held = 0, 0, b""
    for one, value in _fields(wire):
        if one == 2:
            number = value
        else:
            sort, held = one, value
    if sort == 3:
        return Const(number, _literal(held), held)
    inner = list(_fields(held))
    first = dict(inner)

    def text(key: int) -> str:
        return bytes(first.get(key, b"")).decode()

    if sort == 4:
        return Name(number, text(1))
    if sort == 5:
        return Select(number, _node(first[1]), text(2), bool(first.get(3)))
    if sort == 6:
        of = _node(first[1]) if 1 in first else None
        return Call(number, of, text(2), [_node(value) for one, value in inner if one == 3])
    if sort == 7:
        return Listed(number, [_node(value) for one, value in inner if one == 1])
    if sort == 8:
        return Mapped(number, text(1), [_entry(value) for one, value in inner if one == 2])
    if sort == 9:
        over, start, going, step, result = (_node(first[key]) for key in (2, 4, 5, 6, 7))
        return Fold(number, text(1), over, text(3), start, going, step, result)
    raise ValueError(f"expression of sort {sort}")


def _entry(wire: bytes) -> tuple[Node | None, Node]:
    held = dict(_fields(wire))
    return (_node(held[3]) if 3 in held else None), _node(held[4])


def _literal(wire: bytes) -> Any:
    for number, value in _fields(wire):
        if number == 2:
            return bool(value)
        if number == 3:
            return value - (1 << 64) if value >= 1 << 63 else value
        if number == 4:
            return value
        if number == 5:
            return unpack("<d", value)[0]
        if number == 6:
            return value.decode()
        if number == 7:
            return bytes(value)
    return None


# -- writing it


def _varint(value: int) -> bytes:
    made = bytearray()
    while value > 127:
        made.append(value & 127 | 128)
        value >>= 7
    made.append(value)
    return bytes(made)


def _part(number: int, held: bytes) -> bytes:
    return _varint(number << 3 | 2) + _varint(len(held)) + held


def _wire(node: Node) -> bytes:
    match node:
        case Const():
            body = _part(3, node.raw)
        case Name():
            body = _part(4, _part(1, node.name.encode()))
        case Select():
            test = b"\x18\x01" if node.test else b""
            body = _part(5, _part(1, _wire(node.of)) + _part(2, node.field.encode()) + test)
        case Call():
            of = b"" if node.of is None else _part(1, _wire(node.of))
            args = b"".join(_part(3, _wire(one)) for one in node.args)
            body = _part(6, of + _part(2, node.name.encode()) + args)
        case Listed():
            body = _part(7, b"".join(_part(1, _wire(one)) for one in node.items))
        case Mapped():
            entries = (
                _part(2, (b"" if key is None else _part(3, _wire(key))) + _part(4, _wire(value)))
                for key, value in node.entries
            )
            body = _part(8, b"".join(entries))
        case Fold():
            inner = (
                (1, node.var.encode()), (2, _wire(node.over)), (3, node.total.encode()), (4, _wire(node.start)),
                (5, _wire(node.going)), (6, _wire(node.step)), (7, _wire(node.result)),
            )  # fmt: skip
            body = _part(9, b"".join(_part(number, held) for number, held in inner))
    return b"\x10" + _varint(node.id) + body


def text(value: str, number: int = 0) -> Const:
    """A literal text."""
    return Const(number, value, _part(6, value.encode()))


def whole(value: int, number: int = 0) -> Const:
    """A literal whole number, not negative."""
    return Const(number, value, b"\x18" + _varint(value))


def decimal(value: float, number: int = 0) -> Const:
    """A literal number with decimals."""
    return Const(number, value, b"\x29" + pack("<d", value))
