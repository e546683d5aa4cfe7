"""What was taken on site: photographs, instruments, readings and the log, as a document lists them."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from asfound.judge.results import Finding
from asfound.record.facts import Fact
from asfound.report.place import Place
from asfound.report.scope import Scope
from asfound.report.words import said
from asfound.survey import Survey

_WITH_PHOTO = ("cables", "boxes", "panels", "devices", "joints")


class Taken:
    """Lists them, of a sheet those that are about its things."""

    def __init__(self, done: Survey, scope: Scope) -> None:
        self.record, self.installation, self.scope = done.record, done.installation, scope
        self.photos = self._photos()
        self.readings = self._readings()
        self.log = self._log({one["tag"] for one in self.readings})

    def photos_of(self, place: Place, findings: Iterable[Finding]) -> list[int]:
        """Numbers of the photographs that show a place, or what was found there."""
        tags = {place.tag, *(one.at.split(" ", 1)[1] for one in findings)}
        tags |= {tag.rsplit(" ", 1)[0] for tag in tags}
        named = {
            str(held.get("photo"))
            for section in _WITH_PHOTO
            for tag in tags
            if (held := (self.record.document.root.get(section) or {}).get(tag)) is not None and hasattr(held, "get")
        }
        return [one["number"] for one in self.photos if one["file"] in named or tags & set(one["shows"])]

    def instruments(self) -> list[dict[str, Any]]:
        """The instruments of the record; of a sheet, those used for its readings."""
        used = {one["instrument"] for one in self.readings}
        held = self.record.document.root.get("instruments") or {}
        return [
            {
                "tag": tag,
                **{name: one.get(name, "") for name in ("type", "rating", "accuracy", "serial", "last_check", "note")},
            }
            for tag, one in held.items()
            if self.scope.sheet is None or tag in used
        ]

    def _photos(self) -> list[dict[str, Any]]:
        items = {item.tag: item for item in self.installation.items.get("photo", ())}
        found = []
        for number, held in enumerate(self.record.document.root.get("photos") or (), 1):
            shows = held.get("shows", ())
            visit = self.record.visit_of(held.get("visit", ""))
            item = items.get(str(held["file"]))
            found.append(
                {
                    "number": number,
                    "file": str(held["file"]),
                    "shows": [shows] if isinstance(shows, str) else list(shows),
                    "listed": self.scope.names([shows] if isinstance(shows, str) else shows),
                    "at": held.get("at", ""),
                    "by": held.get("by", "") or (visit.by if visit else ""),
                    "on": visit.on if visit else "",
                    "sha256": said(item.data.get("fingerprint_now")) if item else "",
                    "present": bool(item and item.data["present"].values[:1] == (True,)),
                    "note": held.get("note", ""),
                }
            )
            found[-1]["caption"] = _caption(found[-1])
        return found

    def _readings(self) -> list[dict[str, Any]]:
        root = self.record.document.root.get("readings") or ()
        told = {tag for entry in self.record.log if self.scope.names(entry.what) for tag in entry.readings}
        found = []
        for item, held in zip(self.record.readings, root, strict=True):
            if not self.scope.names(held["between"]) and item.tag not in told:
                continue
            visit = self.record.visit_of(held.get("visit", ""))
            value = next(
                (said(item.data.get(name)) for name in ("volts", "ohms", "amps", "signal") if name in item.data), ""
            )
            fact = next((item.data[name] for name in ("volts", "ohms", "amps", "signal") if name in item.data), None)
            found.append(
                {
                    "tag": item.tag,
                    "at": self.record.moment(held.get("at", ""), held.get("visit", "")),
                    "kind": held["kind"],
                    "between": list(held["between"]),
                    "value": fact.written if isinstance(fact, Fact) and fact.written else value or "not recorded",
                    "instrument": held.get("instrument", ""),
                    "load": held.get("load", ""),
                    "known_source": bool(held.get("known_source", False)),
                    "by": held.get("by", "") or (visit.by if visit else ""),
                    "note": held.get("note", ""),
                }
            )
        return found

    def _log(self, readings: set[str]) -> list[dict[str, Any]]:
        """The log; of a sheet, what was done to the things it is about or read there."""
        root = self.record.document.root.get("log") or ()
        return [
            {
                "number": entry.number,
                "at": self.record.moment(entry.at, entry.visit),
                "did": entry.did,
                "what": list(entry.what),
                "to": entry.to,
                "by": entry.by,
                "readings": list(entry.readings),
                "note": held.get("note", ""),
            }
            for entry, held in zip(self.record.log, root, strict=True)
            if self.scope.names(entry.what) or not readings.isdisjoint(entry.readings)
        ]


def _caption(photo: dict[str, Any]) -> str:
    """`Photograph 2: pantry switch. pantry-01.jpg, R. Example, 2026-05-04`."""
    shows = ", ".join(photo["shows"]) or "what it shows was not said"
    return ", ".join(
        filter(None, [f"Photograph {photo['number']}: {shows}. {photo['file']}", photo["by"], photo["on"]])
    )
