"""What is there, as it was written down: cables, boxes, devices and labels, whether or not anything is wrong."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from asfound.record.model import Record


def schedule(record: Record) -> dict[str, list[dict[str, str]]]:
    """Everything listed in the record, in its order, as written."""
    root = record.document.root
    return {
        "cables": [
            {
                "tag": tag,
                "type": written(held.get("type")),
                "from": _end(held.get("from")),
                "to": _end(held.get("to")),
                "note": written(held.get("note")),
            }
            for tag, held in (root.get("cables") or {}).items()
        ],
        "boxes": [
            {
                "tag": tag,
                "kind": written(held.get("kind")),
                "where": ", ".join(filter(None, (written(held.get("where")), written(held.get("room"))))),
                "cover": written(held.get("cover")) or "not recorded",
                "note": written(held.get("note")),
            }
            for tag, held in (root.get("boxes") or {}).items()
        ],
        "devices": [
            {
                "tag": tag,
                "kind": written(held.get("kind")),
                "at": written(held.get("at")),
                "note": written(held.get("note")),
            }
            for tag, held in (root.get("devices") or {}).items()
        ],
        "labels": [
            {"on": written(held.get("on")), "says": written(held.get("says")), "note": written(held.get("note"))}
            for held in root.get("labels") or ()
        ],
    }


def written(held: Any) -> str:
    """A value of a record as somebody wrote it, with its doubt: `14 (by eye)`, `not seen: painted over`."""
    if held is None:
        return ""
    if isinstance(held, Mapping):
        if "not_seen" in held:
            return f"not seen: {written(held['not_seen'])}"
        if "is" in held:
            about = ", ".join(written(held[name]) for name in ("how", "note") if name in held)
            return f"{written(held['is'])} ({about})" if about else written(held["is"])
        return "; ".join(f"{name} {written(one)}" for name, one in held.items())
    if isinstance(held, list | tuple):
        return ", ".join(map(written, held))
    if isinstance(held, bool):
        return "yes" if held else "no"
    return str(held)


def _end(held: Any) -> str:
    return written(held) or "not recorded"
