"""What a document says, prepared once as plain values; the formats only lay it out.

`content(...)` gives mappings, lists, texts and numbers, ready for JSON. Every
text in it is clean (see `clean`). Nothing in it approves anything: a document is
a draft until a named person's approval of this very record is given.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from asfound import __version__
from asfound.data import data
from asfound.judge.results import CannotTell, Evidence, Finding, Results
from asfound.record.facts import Fact, Item
from asfound.render.text import grouped, statement
from asfound.report.clean import cleaned
from asfound.report.place import WRITTEN, Place, Places
from asfound.survey import Survey
from asfound.wording import joined, plural

KINDS = ("deficiency report", "pre-existing condition record", "sheet")
"""Kinds of document; a sheet is for one circuit, box or panel."""
ASKED = 40
"""Open checks listed one by one; more are counted."""


@dataclass(frozen=True, slots=True)
class Asked:
    """What a run was asked for: the kind of document, dates, and what a person supplies (see `supplied`)."""

    kind: str
    as_of: str
    edition: str = ""
    issued: str = ""
    only: str = ""
    supplied: dict[str, Any] = field(default_factory=dict)


def content(done: Survey, asked: Asked) -> dict[str, Any]:
    """Everything a document says, in its order. Raises `KeyError` when a sheet is asked for what is not there."""
    made: dict[str, Any] = cleaned(_Content(done, asked).all())
    return made


class _Content:
    def __init__(self, done: Survey, asked: Asked) -> None:
        self.done, self.asked = done, asked
        self.record, self.results = done.record, done.results
        self.places = Places(done.installation)
        self.words: dict[str, Any] = data("documents")
        self.photos = self._photos()
        self.findings = list(self._chosen(done.results.findings))

    def all(self) -> dict[str, Any]:
        asked, words = self.asked, self.words["kinds"][self.asked.kind]
        approval = self._approval()
        return {
            "kind": asked.kind,
            "title": words["title"],
            "lead": words["lead"],
            "draft": approval is None,
            "approval": approval,
            "number": asked.supplied.get("number", ""),
            "issued": asked.issued,
            "as_of": asked.as_of,
            "edition": asked.edition,
            "only": asked.only,
            "site": self._site(),
            "people": self._people(),
            "visits": self._visits(),
            "statement": data("wording")["statement"],
            "scale": self._scale(),
            "counts": self._counts(),
            "dangers": [self._brief(group) for group in grouped(self._graded("hands off"))],
            "places": self._by_place(),
            "questions": self._questions(),
            "circuits": self._circuits(),
            "in_order": self._in_order(),
            "not_inspected": self._not_inspected(),
            "open": self._open(),
            "instruments": self._instruments(),
            "readings": self._readings(),
            "log": self._log(),
            "photos": self.photos,
            "method": self.words["method"],
            "limits": self.words["limits"],
            "blanks": words["blanks"],
            "steps": [],
            "sources": self._sources(),
            "versions": self._versions(),
            "notes": [] if asked.only else list(self.record.document.root.get("notes") or ()),
        }

    # -- head

    def _site(self) -> dict[str, Any]:
        held = self.record.document.root["site"]
        facts = {name: _said(self.record.site.data.get(name)) for name in ("kind", "built", "code", "supply")}
        return {
            "name": held["name"],
            "address": held.get("address", ""),
            "unit": held.get("unit", ""),
            "client": held.get("client", ""),
            "note": held.get("note", ""),
            "invented": self.record.invented,
            **facts,
            "panels": [
                {
                    "tag": panel.tag,
                    "where": panel.data.get("where", ""),
                    "main": _said(panel.data.get("main_amps"), " A"),
                    "fed_from": _said(panel.data.get("fed_from")) or "not recorded",
                }
                for panel in self.record.panels.values()
            ],
            "holds": self.record.count(),
        }

    def _people(self) -> dict[str, Any]:
        supplied = self.asked.supplied
        return {name: supplied.get(name, "") for name in self.words["supplied"]}

    def _approval(self) -> dict[str, Any] | None:
        """The approval that was given, when it was given of this very record."""
        held = self.asked.supplied.get("approval")
        return held if held and held.get("record") == self.record.document.sha256 else None

    def _visits(self) -> list[dict[str, Any]]:
        held = self.record.document.root.get("visits") or {}
        return [
            {
                "tag": visit.tag,
                "on": visit.on,
                "by": visit.by,
                "purpose": visit.purpose,
                "scope": visit.scope,
                "with": list(held[visit.tag].get("with", ())),
                "conditions": held[visit.tag].get("conditions", ""),
                "note": held[visit.tag].get("note", ""),
            }
            for visit in self.record.visits.values()
        ]

    def _scale(self) -> list[dict[str, Any]]:
        grades = data("grades")
        return [
            *({"word": word, "meaning": meaning, "of": "grade"} for word, meaning in grades["meanings"].items()),
            *(
                {"word": word, "meaning": meaning, "of": "certainty"}
                for word, meaning in grades["certainty_meanings"].items()
            ),
        ]

    def _counts(self) -> dict[str, int]:
        grades = Counter(one.grade for one in self.findings if one.certainty != "possible")
        return {
            **{grade: grades[grade] for grade in data("grades")["grades"]},
            "possible": sum(one.certainty == "possible" for one in self.findings),
            "cannot tell": len(list(self._asked_open())),
        }

    # -- findings

    def _chosen(self, findings: Iterable[Finding]) -> Iterable[Finding]:
        """The findings of this document: all, or those at the one thing that a sheet is about."""
        if not self.asked.only:
            return findings
        tags = self._of_sheet()
        return [one for one in findings if one.at in tags]

    def _of_sheet(self) -> set[str]:
        """Identities of everything that belongs to the thing a sheet is about."""
        found: dict[Item, None] = {}
        for kind in ("breaker", "box", "panel"):
            try:
                found[self.done.installation.item(kind, self.asked.only)] = None
            except KeyError:
                continue
        if not found:
            raise KeyError(self.asked.only)
        for item in list(found):
            for held in [item, *item.data.get("circuits", ())]:
                for name in (
                    "conductors",
                    "joints",
                    "devices",
                    "cables",
                    "boxes",
                    "breakers",
                    "passing",
                    "nets",
                    "circuits",
                ):
                    part = held.data.get(name, ())
                    found.update(
                        dict.fromkeys(one for one in part if isinstance(one, Item)) if isinstance(part, tuple) else {}
                    )
        return {
            one.identity
            for items in self.done.installation.items.values()
            for one in items
            if one in found or any(held in found for name in _HELD for held in _items(one.data.get(name)))
        }

    def _graded(self, grade: str) -> list[Finding]:
        return [one for one in self.findings if one.grade == grade and one.certainty != "possible"]

    def _brief(self, group: Sequence[Finding]) -> dict[str, Any]:
        first = group[0]
        return {
            "place": joined(dict.fromkeys(self.places.of(one.at).name for one in group)),
            "statement": statement(list(group)),
            "caution": first.rule.caution,
            "certainty": first.certainty,
            "ids": [one.identity for one in group],
        }

    def _by_place(self) -> list[dict[str, Any]]:
        grades = data("grades")["grades"]
        at: dict[Place, list[Finding]] = {}
        for one in self.findings:
            if one.certainty != "possible":
                at.setdefault(self.places.of(one.at), []).append(one)
        found = []
        for place in sorted(at, key=lambda place: place.key):
            groups = sorted(grouped(at[place]), key=lambda group: grades.index(group[0].grade))
            found.append(
                {
                    "name": place.name,
                    "room": place.room,
                    "worst": groups[0][0].grade,
                    "photos": self._photos_of(place, at[place]),
                    "findings": [self._finding(group) for group in groups],
                }
            )
        return found

    def _finding(self, group: Sequence[Finding]) -> dict[str, Any]:
        first = group[0]
        rule = first.rule
        evidence = list(dict.fromkeys(one for finding in group for one in finding.evidence))
        rows = dict.fromkeys(
            (row.table, row.edition, row.key, _row_value(row.value), row.unit, row.source)
            for finding in group
            for row in finding.rows
        )
        settle = dict.fromkeys(
            (one.observe or f"see {one.fact.replace('_', ' ')}", one.fact.replace("_", " "), one.item)
            for finding in group
            for one in finding.settle
        )
        return {
            "ids": [one.identity for one in group],
            "grade": first.grade,
            "certainty": first.certainty,
            "title": rule.title,
            "statement": statement(list(group)),
            "at": [one.place for one in group],
            "caution": rule.caution,
            "local_code": rule.defer,
            "rule": rule.name,
            "revision": rule.revision,
            "source": rule.source,
            "basis": rule.basis,
            "severity": rule.severity,
            "likelihood": rule.likelihood,
            "risk": first.risk,
            "grade_note": first.grade_note,
            "evidence": [_evidence(one) for one in evidence],
            "rows": [
                {"table": table, "edition": edition, "key": key, "value": value, "unit": unit, "source": source}
                for table, edition, key, value, unit, source in rows
            ],
            "settle": [{"observe": observe, "fact": fact, "item": item} for observe, fact, item in settle],
            "next": self.words["next"][first.grade],
        }

    def _questions(self) -> list[dict[str, Any]]:
        """Possible findings by the one fact they hang on."""
        groups: dict[int, list[Finding]] = {}
        for one in self.findings:
            if one.certainty == "possible":
                groups.setdefault(one.settle[0].key if one.settle else id(one), []).append(one)
        found = []
        for group in groups.values():
            settle = group[0].settle[0] if group[0].settle else None
            found.append(
                {
                    "fact": settle.fact.replace("_", " ") if settle else "",
                    "item": settle.item if settle else "",
                    "can_be": list(settle.can_be) if settle else [],
                    "observe": settle.observe if settle else "",
                    "findings": [
                        {
                            **self._finding(one),
                            "if": list(
                                dict.fromkeys(value for f in one for s in f.settle[:1] for value in s.defect_if)
                            ),
                        }
                        for one in grouped(group)
                    ],
                }
            )
        return found

    # -- circuits

    def _circuits(self) -> list[dict[str, Any]]:
        by_item = Counter(one.at for one in self.findings if one.certainty != "possible")
        found = []
        for circuit in self.done.installation.items.get("circuit", ()):
            breakers = circuit.data["breakers"].value
            if self.asked.only and self.asked.only not in {one.tag for one in (*breakers, *circuit.data["boxes"])}:
                continue
            conductors = circuit.data["conductors"]
            found.append(
                {
                    "breaker": circuit.tag,
                    "amps": joined(
                        dict.fromkeys(_said(one.data.get("amps"), " A") or "size not seen" for one in breakers)
                    ),
                    "label": joined(filter(None, dict.fromkeys(_said(one.data.get("label")) for one in breakers))),
                    "cables": [cable.tag for cable in circuit.data["cables"]],
                    "boxes": [box.tag for box in circuit.data["boxes"]],
                    "devices": [_device(one) for one in circuit.data["devices"]],
                    "states": dict(Counter(str(one.data["state"].value) for one in conductors if "state" in one.data)),
                    "findings": sum(
                        by_item[one.identity]
                        for one in (*conductors, *circuit.data["cables"], *circuit.data["devices"], *breakers)
                    ),
                }
            )
        return found

    # -- what was and was not looked at

    def _in_order(self) -> list[dict[str, Any]]:
        """What each rule looked at and found nothing against, so that silence is not read as good."""
        if self.asked.only:
            return []
        titles = {rule.name: rule.title for rule in self.done.rules}
        return [
            {
                "rule": name,
                "title": titles[name],
                "looked_at": count["clear"] + count["defect"] + count["possible"],
                "clear": count["clear"],
                "defect": count["defect"],
                "possible": count["possible"],
                "open": count["cannot tell"],
            }
            for name, count in sorted(self.results.counts.items())
            if count["clear"] or count["defect"] or count["possible"] or count["cannot tell"]
        ]

    def _not_inspected(self) -> list[dict[str, str]]:
        return (
            []
            if self.asked.only
            else [
                {"what": what, "why": why, "visit": visit.tag, "on": visit.on}
                for visit in self.record.visits.values()
                for what, why in visit.not_looked_at
            ]
        )

    def _asked_open(self) -> Iterable[CannotTell]:
        if not self.asked.only:
            return self.results.cannot_tell
        tags = self._of_sheet()
        return [one for one in self.results.cannot_tell if one.at in tags]

    def _open(self) -> dict[str, Any]:
        """Facts that were not seen and would decide, those that decide most first."""
        by_fact: dict[tuple[str, str, str, str], set[str]] = {}
        for one in self._asked_open():
            by_fact.setdefault((one.missing.replace("_", " "), one.reason, one.observe, one.of), set()).add(
                one.rule.name
            )
        groups: dict[tuple[str, str, str, tuple[str, ...]], list[str]] = {}
        for (missing, reason, observe, of), rules in by_fact.items():
            groups.setdefault((missing, reason, observe, tuple(sorted(rules))), []).append(of)
        ordered = sorted(groups.items(), key=lambda pair: (-len(pair[1]) * len(pair[0][3]), pair[0]))
        return {
            "facts": [
                {"fact": missing, "of": of, "reason": reason, "observe": observe, "rules": list(rules)}
                for (missing, reason, observe, rules), of in ordered[:ASKED]
            ],
            "more": max(0, len(ordered) - ASKED),
        }

    # -- evidence

    def _photos(self) -> list[dict[str, Any]]:
        items = {item.tag: item for item in self.done.installation.items.get("photo", ())}
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
                    "at": held.get("at", ""),
                    "by": held.get("by", "") or (visit.by if visit else ""),
                    "on": visit.on if visit else "",
                    "sha256": _said(item.data.get("fingerprint_now")) if item else "",
                    "present": bool(item and item.data["present"].values[:1] == (True,)),
                    "note": held.get("note", ""),
                }
            )
        return found

    def _photos_of(self, place: Place, findings: Iterable[Finding]) -> list[int]:
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

    def _instruments(self) -> list[dict[str, Any]]:
        held = self.record.document.root.get("instruments") or {}
        return [
            {
                "tag": tag,
                **{name: one.get(name, "") for name in ("type", "rating", "accuracy", "serial", "last_check", "note")},
            }
            for tag, one in held.items()
        ]

    def _readings(self) -> list[dict[str, Any]]:
        root = self.record.document.root.get("readings") or ()
        found = []
        for item, held in zip(self.record.readings, root, strict=True):
            visit = self.record.visit_of(held.get("visit", ""))
            value = next(
                (_said(item.data.get(name)) for name in ("volts", "ohms", "amps", "signal") if name in item.data), ""
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

    def _log(self) -> list[dict[str, Any]]:
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
        ]

    # -- what it rests on

    def _sources(self) -> list[dict[str, str]]:
        rows = dict.fromkeys(
            (row.table, row.edition, row.source, row.basis) for one in self.findings for row in one.rows
        )
        return [
            {"table": table, "edition": edition, "source": source, "checked": basis}
            for table, edition, source, basis in sorted(rows)
        ]

    def _versions(self) -> dict[str, Any]:
        used = {one.rule.name for one in self.results.findings}
        return {
            "asfound": __version__,
            "record": Path(self.record.document.name).name,
            "sha256": self.record.document.sha256,
            "rules": len(self.done.rules),
            "rules_used": sorted(f"{r.name} {r.revision}" for r in self.done.rules if r.name in used),
            "amendments": [
                {
                    "name": one.name,
                    "effective": one.effective,
                    "source": one.source,
                    "file": one.file.name,
                    "sha256": one.sha256,
                }
                for one in self.done.tables.amendments.given
            ],
            "failed": [f"{one.rule.name} at {one.place}" for one in self.results.failed],
        }


_HELD = ("conductor", "device", "panel", "breakers", "conductors")
_WITH_PHOTO = ("cables", "boxes", "panels", "devices", "joints")


def _items(held: Any) -> Iterable[Item]:
    if isinstance(held, Item):
        return (held,)
    if isinstance(held, Fact):
        return (
            one for value in held.values for one in (value if isinstance(value, tuple) else ()) if isinstance(one, Item)
        )
    return (one for one in held if isinstance(one, Item)) if isinstance(held, tuple) else ()


def _said(held: Any, unit: str = "") -> str:
    """A fact in words, with its doubt; empty when it was not recorded."""
    if not isinstance(held, Fact):
        return "" if held is None else str(held)
    if not held.values:
        return f"not seen: {held.note}" if held.note and held.note != "not recorded" else ""
    if len(held.values) > 1 and held.kind == "listed":
        return " or ".join(f"{value}{unit}" for value in held.values)
    doubt = f" ({held.how})" if held.kind == "weak" else ""
    return f"{held.values[0]}{unit}{doubt}"


def _device(device: Item) -> str:
    kind = _said(device.data.get("kind"))
    return f"{device.tag}, {kind}" if kind else device.tag


def _row_value(value: Any) -> str:
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, list):
        return ", ".join(map(str, value))
    return f"{value:g}" if isinstance(value, float) else str(value)


def _evidence(one: Evidence) -> dict[str, Any]:
    return {
        "item": one.item,
        "fact": one.say,
        "value": one.value,
        "unit": one.unit,
        "written": "" if one.written == one.value else one.written,
        "line": one.line,
        "how": "" if one.how == "as written" else one.how,
        "by": one.by,
        "on": one.on,
        "note": one.note,
    }


__all__ = ["KINDS", "WRITTEN", "Asked", "Results", "content", "plural"]
