"""Records to test with: one that uses every part of the form, spoilt ones drawn from it, and one of any size."""

from __future__ import annotations

import copy
from collections.abc import Callable, Iterator
from typing import Any

import yaml
from hypothesis import strategies as st

RICH = """\
asfound: 1
invented: true
site: {name: House over the mill, kind: dwelling, built: 1957 or 1958, code: "NFPA 70, 2017 or 2020", note: 5 or 6}
visits:
  V1: {on: 2026-05-04, by: R. Example, with: [owner], scope: kitchen, not_looked_at: [{what: attic, why: flooded}]}
  V2: {on: 2026-05-11, by: S. Example, purpose: remodel}
seen_on: V1
instruments:
  meter 1: {type: multimeter, rating: CAT III 600 V, last_check: 2026-01-15}
  stick: {type: non-contact tester}
supply: {system: 120/240 split phase, amps: {is: 100, how: nameplate}}
panels:
  A:
    where: cellar
    main_amps: 100
    bonded: true
    cover: "on"
    breakers:
      1: 15
      2: {amps: 20, leg: L2, label: bedroom or hall, state: "off", by: S. Example}
      3: {amps: 20, tied_with: 4, tie: handle tie, leg: {one_of: [L1, L2]}}
      4: 20
      5/7: {amps: 60, poles: 2}
      9/11: {amps: {is: 30, how: by eye}}
      13A: {amps: 15 or 20, kind: breaker, wired: false}
  B: {fed_from: A 5/7, metal: true, breakers: {1: 15}}
cables:
  W1: {type: 14/2 NM-B with ground, from: A 1, to: hall, installed: 1999, length: 40 ft}
  W2:
    type: {is: 12/2 with ground, how: by eye}
    from: {at: A 2, white: capped}
    to: hall
    metal: {is: copper, how: told}
  W3: {type: 14/3 NM with ground, from: A 3, to: {at: sink left, red: {is: taped, how: by feel}}, gauge: 14 or 12}
  W4: {type: 10/2, from: A 9/11, to: heater, conductors: {white: {marked: red, by: S. Example}}}
  W5: {type: 14/2, from: hall, to: {not_seen: runs into a finished wall}, jacket: yellow, passes: {sink left: looped}}
  W6:
    jacket: {is: white, how: opened and looked, visit: V2}
    installed: 2010
    conductors: {black: {stranded: true, diameter: 1.6 mm}, white: {}, bare: {condition: [corroded, loose]}}
    from: not traced
    to: sink left
    ambient_c: 45
    bundled: 4
  W7: 12/2 AL with ground
  W8: {type: 14/2 or 12/2, from: sink left, to: sink left, condition: {one_of: [sound, chewed]}}
  W9: {type: 6/3 with ground, from: A 5/7, to: {at: B, black: lug 1, red: lug 2, white: neutral bar, bare: ground bar}}
boxes:
  hall: {kind: octagonal 4 x 1-1/2, where: ceiling, clamps: internal, room: hall, setback: 0.25 in}
  sink left: {kind: nonmetallic, volume: 344 cm3, cover: {not_seen: behind the stove}, reachable: {is: true, how: told}}
  attic: no box
joints:
  J1: {at: hall, ends: [W1 black, W2 black, W5 black], connector: twist-on, holds: 3}
  J2: {at: hall, ends: [W1 white, W2 white], connector: {is: push-in, how: by feel}, listed_for: copper only}
  J3: {at: hall, ends: [W1 bare, W2 bare, box]}
  J4: {at: sink left, ends: [W8 black (from), W3 black, R1 hot]}
devices:
  R1:
    kind: duplex receptacle
    at: sink left
    terminals: {neutral: [W3 white, W8 white (to)], ground: W3 bare}
    tab: removed
  S1: {kind: switch or dimmer, at: hall, terminals: {line: W5 white}, position: up}
  heater:
    {kind: heater, where: bath, wired_to: W4, nameplate: {amps: 12.5, volts: 240, watts: 3000}, marked: 230 or 240 V}
readings:
  - {tag: M1, at: "10:05", kind: voltage, between: [W1 black, W1 white], value: 121 V, instrument: meter 1, visit: V1}
  - {kind: continuity, between: [A neutral bar, hall box], value: 0.3 ohm or 0.4 ohm}
  - {kind: non-contact, between: [A 3], value: silent, instrument: stick, known_source: true}
log:
  - {at: 2026-05-04 10:05, did: switched, what: A 1, to: "off", visit: V1}
  - {did: called dead, what: [W1 black, W1], readings: [M1], by: R. Example}
labels:
  - {on: W1, says: bedroom, found: true}
photos:
  - {file: hall-01.jpg, shows: [hall, W1]}
notes: [The owner says the porch was added later.]
"""
"""A sound record that uses every part of the form and every form of doubt."""


def rich() -> dict[str, Any]:
    """`RICH` as plain data, read the way the strict loader reads it."""
    return copy.deepcopy(_PLAIN)


def _plain(value: Any) -> Any:
    if isinstance(value, dict):
        return {key: _plain(held) for key, held in value.items()}
    return [_plain(held) for held in value] if isinstance(value, list) else value


def _read() -> dict[str, Any]:
    from asfound.load import load_bytes

    plain: dict[str, Any] = _plain(load_bytes(RICH.encode(), "rich.yaml").root)
    return plain


_PLAIN = _read()


def paths(value: Any, path: tuple[Any, ...] = ()) -> Iterator[tuple[Any, ...]]:
    """The path of every value below `value`, parents first."""
    listed = value.items() if isinstance(value, dict) else enumerate(value) if isinstance(value, list) else ()
    for key, held in listed:
        yield (*path, key)
        yield from paths(held, (*path, key))


def at(value: Any, path: tuple[Any, ...]) -> Any:
    """The value at `path`."""
    for step in path:
        value = value[step]
    return value


JUNK = [
    *(None, True, False, 0, 1, -1, 14.5, 10**17, 20.0, 1e30, "", " ", "x", "W1", "A 3", "hall", "box", "earth"),
    *("NaN", ".inf", "14 or 12", "14 or ", " or ", "or", "a or b or c or d or e or f or g", "40 ft\n", "x" * 300),
    *([], {}, [[]], [None], {"": None}, {"is": 14}, {"is": None}, {"is": "14 or 12", "how": "by eye"}, {"is": [14]}),
    *({"one_of": [14, 12]}, {"one_of": [14]}, {"one_of": "14"}, {"one_of": [None, {}]}, {"not_seen": "no"}),
    *({"not_seen": "behind the wall"}, {"is": 14, "not_seen": "behind the wall"}, {"how": "by eye"}),
    *({"at": "hall"}, {"at": "A 3", "black": "breaker 1"}, {"kind": "switch"}, {"system": "208Y/120"}),
]
"""Values that mostly do not belong where they are put, and sometimes do."""


def spoilt(most: int = 3) -> st.SearchStrategy[dict[str, Any]]:
    """The rich record with one to `most` changes: values deleted, renamed, replaced, doubled, doubted or moved."""
    return st.lists(
        st.tuples(st.sampled_from(sorted(_CHANGES)), _PICK, _PICK, st.sampled_from(JUNK)), max_size=most
    ).map(lambda changes: _spoil(rich(), changes))


_PICK = st.integers(0, 10**6)


def _spoil(record: dict[str, Any], changes: list[tuple[str, int, int, Any]]) -> dict[str, Any]:
    for change, first, second, junk in changes:
        every = list(paths(record))
        if not every:
            break
        path = every[first % len(every)]
        other = every[second % len(every)]
        _CHANGES[change](record, at(record, path[:-1]), path[-1], copy.deepcopy(at(record, other)), other[-1], junk)
    return record


def _delete(record: Any, holder: Any, key: Any, other: Any, name: Any, junk: Any) -> None:
    del holder[key]


def _rename(record: Any, holder: Any, key: Any, other: Any, name: Any, junk: Any) -> None:
    if isinstance(holder, dict):
        value = holder.pop(key)
        holder[junk if isinstance(junk, str) else str(name)] = value


def _misspell(record: Any, holder: Any, key: Any, other: Any, name: Any, junk: Any) -> None:
    if isinstance(holder, dict):
        holder[key[1:] + key[:1]] = holder.pop(key)
    elif isinstance(holder[key], str):
        holder[key] = holder[key][::-1]


def _replace(record: Any, holder: Any, key: Any, other: Any, name: Any, junk: Any) -> None:
    holder[key] = copy.deepcopy(junk)


def _move(record: Any, holder: Any, key: Any, other: Any, name: Any, junk: Any) -> None:
    holder[key] = other


def _double(record: Any, holder: Any, key: Any, other: Any, name: Any, junk: Any) -> None:
    if isinstance(holder, dict):
        holder[f"{key} 2"] = copy.deepcopy(holder[key])
    else:
        holder.append(copy.deepcopy(holder[key]))


def _doubt(record: Any, holder: Any, key: Any, other: Any, name: Any, junk: Any) -> None:
    holder[key] = {"is": holder[key], "how": "by eye"}


def _list(record: Any, holder: Any, key: Any, other: Any, name: Any, junk: Any) -> None:
    holder[key] = {"one_of": [holder[key], copy.deepcopy(junk)]}


def _swap_text(record: Any, holder: Any, key: Any, other: Any, name: Any, junk: Any) -> None:
    """Put the text of another place here: tags that are defined, in places where they do not fit."""
    if isinstance(holder[key], str) and isinstance(other, str):
        holder[key] = other


Change = Callable[[Any, Any, Any, Any, Any, Any], None]
_CHANGES: dict[str, Change] = {
    "delete": _delete,
    "double": _double,
    "doubt": _doubt,
    "list": _list,
    "misspell": _misspell,
    "move": _move,
    "rename": _rename,
    "replace": _replace,
    "swap text": _swap_text,
}


def plain_values(leaves: int = 12) -> st.SearchStrategy[dict[str, Any]]:
    """Mappings that YAML and JSON can both write, of text, numbers, yes and no, and nothing."""
    text = st.text(
        st.characters(blacklist_categories=["Cs", "Cc", "Cn", "Co"], blacklist_characters=UNSEEN), max_size=12
    )
    numbers = st.integers(-(10**17), 10**17) | st.floats(-1e9, 1e9, allow_nan=False).map(lambda x: round(x, 6))
    scalars = st.none() | st.booleans() | numbers | text
    values = st.recursive(
        scalars, lambda inner: st.lists(inner, max_size=4) | st.dictionaries(text, inner, max_size=4), max_leaves=leaves
    )
    return st.dictionaries(text.filter(lambda key: key != "<<"), values, min_size=1, max_size=5)


UNSEEN = "\u2028\u2029\u202a\u202b\u202c\u202d\u202e\u2066\u2067\u2068\u2069\ufeff\ufffe\uffff"
"""Characters that are refused though they are no control characters."""


class _Quoting(yaml.SafeDumper):
    """Writes all text in double quotes, so that only its form and not its words decide what it is."""


_Quoting.add_representer(str, lambda dumper, text: dumper.represent_scalar("tag:yaml.org,2002:str", text, style='"'))


def as_yaml(value: Any, *, flow: bool = False) -> str:
    """A value as YAML with all text quoted, in block or flow style."""
    written: str = yaml.dump(
        value, Dumper=_Quoting, allow_unicode=True, default_flow_style=flow, sort_keys=False, width=10**6
    )
    return written


def large_record(cables: int, chain: int = 40) -> str:
    """The YAML text of a sound record of chains: each of `chain` cables from one breaker, joined box by box.

    Three conductors a cable; a joint for each conductor in every box between two cables.
    """
    rows = -(-cables // chain)
    panels = ["panels:"]
    for panel in range(-(-rows // 42)):
        spaces = range(1, min(42, rows - panel * 42) + 1)
        panels.append(f"  P{panel + 1}: {{breakers: {{{', '.join(f'{space}: 20' for space in spaces)}}}}}")
    runs, boxes, joints = ["cables:"], ["boxes:"], ["joints:"]
    for number in range(cables):
        row, place = divmod(number, chain)
        start = f"B{number - 1}" if place else f"P{row // 42 + 1} {row % 42 + 1}"
        runs.append(f"  W{number}: {{type: 12/2 NM-B with ground, from: {start}, to: B{number}}}")
        boxes.append(f"  B{number}: {{kind: octagonal 4 x 2-1/8, clamps: outside}}")
        for colour in ("black", "white", "bare") if place else ():
            ends = f"[W{number - 1} {colour}, W{number} {colour}]"
            joints.append(f"  J{number} {colour}: {{at: B{number - 1}, ends: {ends}}}")
    head = ["asfound: 1", "invented: true", "site: {name: Long row, built: 1974}", "supply: 120/240 split phase"]
    return "\n".join([*head, *panels, *runs, *boxes, *joints, ""])
