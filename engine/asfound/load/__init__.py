"""Load one wiring record from YAML or JSON, strictly, with the place of every value.

Gives plain values (`Map`, `Seq`, str, int, float, bool) and the line and column
of each. Refuses, with file, line, cause and next step: repeated keys, anchors
and aliases, tags, merge keys, more than one document, non-finite numbers, text
that is not UTF-8, characters that cannot be seen, anything deeper than
`MAX_DEPTH` levels, larger than `MAX_BYTES` or with more than `MAX_VALUES`
values. Only `true` and `false` are yes and no, so a breaker that is `off` stays
the word off; dates and times stay text; a number with a leading zero stays text
as written. Knows nothing about wiring.
"""

from __future__ import annotations

import hashlib
from pathlib import Path

from asfound.load.jsonfile import read_json
from asfound.load.values import (
    INVISIBLE,
    MAX_BYTES,
    MAX_DEPTH,
    MAX_VALUES,
    Document,
    Map,
    Place,
    Problem,
    Refused,
    Seq,
    invisible,
    line_at,
)
from asfound.load.yamlfile import read_yaml
from asfound.pause import collector_paused

__all__ = [
    "MAX_BYTES",
    "MAX_DEPTH",
    "MAX_VALUES",
    "Document",
    "Map",
    "Place",
    "Problem",
    "Refused",
    "Seq",
    "load_bytes",
    "load_file",
]


def load_file(path: str | Path) -> Document:
    """Read the record at `path`; JSON when the name ends in .json, YAML otherwise.

    Raises `Refused` when the file cannot be read or its form is not accepted.
    """
    path = Path(path)
    name = str(path)
    try:
        with path.open("rb") as handle:
            data = handle.read(MAX_BYTES + 1)
    except FileNotFoundError:
        raise _whole(name, "there is no file of this name", "check the path") from None
    except IsADirectoryError:
        raise _whole(name, "this is a folder, not a record", "name one record file in it") from None
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or "no file can have this name"
        raise _whole(name, f"the file cannot be read ({reason})", "check the path and its permissions") from None
    return load_bytes(data, name)


def load_bytes(data: bytes, name: str) -> Document:
    """Read a record from bytes; `name` is used in messages and decides JSON or YAML by its ending.

    Raises `Refused` when the form is not accepted.
    """
    if len(data) > MAX_BYTES:
        cause = f"the file is larger than {MAX_BYTES // 1_000_000} MB"
        raise _whole(name, cause, "split the record by building or by panel")
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = line_at(data[: error.start].decode("latin-1"), error.start)
        step = "save the file again with UTF-8 encoding"
        raise Refused(name, [Problem(Place(line, 1), "", "the text is not UTF-8 at this line", step)]) from None
    if not text.strip():
        raise _whole(name, "the file is empty", "start one with `asfound new`")
    unseen = INVISIBLE.search(text)
    if unseen:
        place = Place(line_at(text, unseen.start()), 1)
        raise Refused(name, [Problem(place, "", *invisible(unseen.group()))])
    read = read_json if name.lower().endswith(".json") else read_yaml
    with collector_paused():
        root = read(text, name)
    return Document(root=root, name=name, sha256=hashlib.sha256(data).hexdigest())


def _whole(name: str, cause: str, step: str) -> Refused:
    """The refusal of a whole file, for one reason."""
    return Refused(name, [Problem(Place(0, 0), "", cause, step)])
