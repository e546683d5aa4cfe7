"""Records changed in known ways, for tests of comparison: silenced, tagged anew, altered. Nothing here is under test.

Everything works on plain records as `houses.house` makes them and changes a copy.
"""

from __future__ import annotations

import copy
import random
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from click.testing import CliRunner, Result

import houses
from asfound.command import main
from asfound.load import load_bytes
from asfound.survey import Survey, survey
from asfound.wording import natural
from records import installed

AS_OF = "2026-05-20"
TAGGED = ("panels", "cables", "boxes", "joints", "devices")
SIDES = ("from", "to")


def surveyed(folder: Path, record: dict[str, Any], name: str = "record.yaml") -> Survey:
    """The record as written to a file of this name, judged."""
    file = folder / name
    file.write_text(houses.as_yaml(record), encoding="utf-8")
    return survey(file, AS_OF, collected=installed())


def run(*arguments: str) -> Result:
    """The command in this process; whatever it raises and does not tell of itself is raised here."""
    done = CliRunner().invoke(main, list(arguments))
    if done.exception is not None and not isinstance(done.exception, SystemExit):
        raise done.exception
    return done


def plain(value: Any) -> Any:
    """A loaded value as ordinary mappings and lists."""
    if isinstance(value, dict):
        return {key: plain(held) for key, held in value.items()}
    return [plain(held) for held in value] if isinstance(value, list) else value


def read(path: Path) -> dict[str, Any]:
    """A record file as plain values, read as the strict loader reads it."""
    held: dict[str, Any] = plain(load_bytes(path.read_bytes(), path.name).root)
    return held


def at(end: Any) -> str:
    """The place that an end of a cable names; empty when it names none."""
    return str(end.get("at", "")) if isinstance(end, dict) else str(end or "")


def revisited(record: dict[str, Any]) -> dict[str, Any]:
    """The same record of a visit a year later, by somebody else."""
    return {**copy.deepcopy(record), "visits": {"V1": {"on": "2027-05-06", "by": "B. Sample"}}}


# -- silence


def silenced(record: dict[str, Any], seed: int, share: float = 0.2) -> dict[str, Any]:
    """The same house with things, facts and connections left out or not seen, and nothing said otherwise."""
    rng = random.Random(seed)
    made = copy.deepcopy(record)
    for section in ("cables", "joints", "devices"):
        for tag in list(made.get(section) or {}):
            if rng.random() < share / 2:
                drop(made, section, tag)
    for section in ("panels", "cables", "boxes", "joints", "devices"):
        for tag, held in list((made.get(section) or {}).items()):
            made[section][tag] = _less(rng, section, held, share)
    for panel in made["panels"].values():
        for space, held in list((panel.get("breakers") or {}).items()):
            panel["breakers"][space] = _less(rng, "breakers", held, share)
    return made


_KEPT = {
    "panels": ("breakers",), "cables": ("type", "gauge", "from", "to", "conductors", "passes"), "boxes": ("kind",),
    "joints": ("at", "ends"), "devices": ("at", "where", "kind", "terminals", "wired_to", "nameplate"),
    "breakers": ("amps", "kind", "poles"),
}  # fmt: skip
_HIDDEN = {"boxes": "kind", "devices": "kind", "breakers": "amps"}


def _less(rng: random.Random, section: str, held: Any, share: float) -> Any:
    """An entry with some of its facts left out or not seen."""
    if not isinstance(held, dict):
        if section in ("boxes", "breakers") and rng.random() < share / 2:
            return {_HIDDEN[section]: {"not_seen": "behind the cupboard"}}
        return held
    kept = ("was", *_KEPT[section])
    less = {name: value for name, value in held.items() if name in kept or rng.random() > share}
    hidden = _HIDDEN.get(section, "")
    if hidden in less and rng.random() < share / 2:
        less[hidden] = {"not_seen": "painted over"}
    if section == "devices" and "terminals" in less:
        used = {name: ends for name, ends in less["terminals"].items() if rng.random() > share / 2}
        less = {**less, "terminals": used} if used else {k: v for k, v in less.items() if k != "terminals"}
    return less


def drop(record: dict[str, Any], section: str, tag: str) -> None:
    """Leave one thing out, with everything that speaks of it."""
    del record[section][tag]
    if section == "devices" and any(at(cable.get(side)) == tag for cable in _cables(record) for side in SIDES):
        for cable in _cables(record):
            for side in SIDES:
                if at(cable.get(side)) == tag:
                    del cable[side]
    if section == "joints":
        return

    def gone(reference: str) -> bool:
        return reference == tag or reference.startswith(f"{tag} ")

    for joint, held in list((record.get("joints") or {}).items()):
        held["ends"] = [end for end in held["ends"] if not gone(end)]
        if not held["ends"] or held["ends"] == ["box"]:
            del record["joints"][joint]
    for device in (record.get("devices") or {}).values():
        terminals = device.get("terminals") or {}
        for name, ends in list(terminals.items()):
            kept = [end for end in ([ends] if isinstance(ends, str) else ends) if not gone(end)]
            if kept:
                terminals[name] = kept if len(kept) > 1 else kept[0]
            else:
                del terminals[name]
        if "terminals" in device and not terminals:
            del device["terminals"]
        wired = device.get("wired_to", [])
        kept = [one for one in ([wired] if isinstance(wired, str) else wired) if one != tag]
        if kept:
            device["wired_to"] = kept
        else:
            device.pop("wired_to", None)


def _cables(record: dict[str, Any]) -> Iterator[dict[str, Any]]:
    yield from (cable for cable in (record.get("cables") or {}).values() if isinstance(cable, dict))


# -- tags


def retagged(record: dict[str, Any], seed: int, *, mixed: bool = False) -> dict[str, Any]:
    """The same house with a new tag on everything, in another order of file, and the old tag as `was`.

    The tags are drawn from one bag, so that many things get a tag that another thing had. Unless `mixed` they keep
    their order, for there are rules that name the first of several things.
    """
    rng = random.Random(seed)
    names: dict[str, str] = {}
    for section in TAGGED:
        tags = sorted(record.get(section) or {}, key=natural)
        bag = rng.sample([*tags, *(f"{tag}x" for tag in tags)], len(tags))
        names.update(zip(tags, bag if mixed else sorted(bag, key=natural), strict=True))
    made: dict[str, Any] = {}
    for section, held in record.items():
        if section in TAGGED:
            pairs = [(names[tag], _entry(section, tag, entry, names)) for tag, entry in held.items()]
            rng.shuffle(pairs)
            made[section] = dict(pairs)
        else:
            made[section] = _listed(section, held, names)
    return made


def _listed(section: str, held: Any, names: dict[str, str]) -> Any:
    """Readings, log and labels with their references renamed; anything else as it is."""
    key = {"readings": "between", "log": "what", "labels": "on"}.get(section)
    return [{**one, key: _refs(one[key], names)} for one in held] if key is not None else held


def _entry(section: str, tag: str, held: Any, names: dict[str, str]) -> dict[str, Any]:
    short = {"cables": "type", "boxes": "kind"}
    made = copy.deepcopy(held) if isinstance(held, dict) else {short[section]: held}
    made["was"] = tag
    if section == "panels":
        if made.get("fed_from", "supply") != "supply":
            made["fed_from"] = _ref(made["fed_from"], names)
    elif section == "cables":
        for side in SIDES:
            if at(made.get(side)):
                where = _ref(at(made[side]), names)
                made[side] = {**made[side], "at": where} if isinstance(made[side], dict) else where
        if "passes" in made:
            made["passes"] = {_ref(box, names): how for box, how in made["passes"].items()}
    elif section == "joints":
        made["at"], made["ends"] = _ref(made["at"], names), _refs(made["ends"], names)
    elif section == "devices":
        for key in ("at", "wired_to"):
            if key in made:
                made[key] = _refs(made[key], names)
        if "terminals" in made:
            made["terminals"] = {name: _refs(ends, names) for name, ends in made["terminals"].items()}
    return made


def _refs(held: Any, names: dict[str, str]) -> Any:
    return [_ref(one, names) for one in held] if isinstance(held, list) else _ref(held, names)


def _ref(reference: str, names: dict[str, str]) -> str:
    """The longest beginning that is a tag, renamed."""
    words = reference.split(" ")
    for cut in range(len(words), 0, -1):
        tag = " ".join(words[:cut])
        if tag in names:
            return " ".join([names[tag], *words[cut:]])
    return reference


def renumbered(record: dict[str, Any], seed: int) -> dict[str, Any]:
    """The same house with the tags of its joints dealt out anew, as by somebody else, and no `was`."""
    made = copy.deepcopy(record)
    tags = list(made.get("joints") or {})
    if tags:
        dealt = random.Random(seed).sample(tags, len(tags))
        made["joints"] = {tag: made["joints"][was] for tag, was in zip(tags, dealt, strict=True)}
    return made


def turned(record: dict[str, Any]) -> dict[str, Any]:
    """The same house with every cable written down from its other end."""
    made: dict[str, Any] = copy.deepcopy(record)
    for cable in _cables(made):
        ends = {side: cable.pop(side, None) for side in SIDES}
        cable.update({side: end for side, end in zip(SIDES, reversed(ends.values()), strict=True) if end is not None})

    def flipped(held: Any) -> Any:
        if isinstance(held, list):
            return [flipped(one) for one in held]
        for side, other in (SIDES, SIDES[::-1]):
            if held.endswith(f" ({side})"):
                return f"{held.removesuffix(f' ({side})')} ({other})"
        return held

    for joint in (made.get("joints") or {}).values():
        joint["ends"] = flipped(joint["ends"])
    for device in (made.get("devices") or {}).values():
        if "terminals" in device:
            device["terminals"] = {name: flipped(ends) for name, ends in device["terminals"].items()}
    return made


# -- changes of the house


def altered(record: dict[str, Any], seed: int, share: float = 0.15) -> dict[str, Any]:
    """The same house with facts seen otherwise and wires joined otherwise; nothing is left out."""
    rng = random.Random(seed)
    made = copy.deepcopy(record)
    for panel in made["panels"].values():
        for space, held in panel["breakers"].items():
            if rng.random() < share and not isinstance(held, dict):
                panel["breakers"][space] = rng.choice([15, 20, 30, 40])
    for cable in _cables(made):
        if rng.random() < share:
            cable["gauge"] = rng.choice([14, 12, 10])
    for joint in (made.get("joints") or {}).values():
        if rng.random() < share:
            joint["connector"] = rng.choice(["twist-on", "tape only", "push-in", "lever"])
    for tag, held in (made.get("boxes") or {}).items():
        if rng.random() < share:
            entry = held if isinstance(held, dict) else {"kind": held}
            made["boxes"][tag] = {**entry, "cover": rng.choice(["missing", "blank cover"])}
    for device in (made.get("devices") or {}).values():
        if rng.random() < share:
            device["condition"] = rng.choice([["scorched"], ["sound"], ["loose"]])
        terminals = device.get("terminals") or {}
        if rng.random() < share and {"hot", "neutral"} <= set(terminals):
            terminals["hot"], terminals["neutral"] = terminals["neutral"], terminals["hot"]
    return made
