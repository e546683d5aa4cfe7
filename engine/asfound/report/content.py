"""What a document says, prepared once as plain values; the formats only lay it out.

`content(...)` gives mappings, lists, texts and numbers, ready for JSON. Every
text in it is clean (see `clean`). Nothing in it approves anything: a document is
a draft until a named person's approval of this very record is given.
"""

from __future__ import annotations

import hashlib
import json
from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from asfound import __version__
from asfound.accepted import Accepted
from asfound.clean import cleaned
from asfound.compare.results import Comparison
from asfound.data import data
from asfound.judge.results import CannotTell, Finding
from asfound.record.events import CHANGES
from asfound.record.facts import Item
from asfound.record.model import Entry
from asfound.render.acceptance import accepted_words, words_of_group
from asfound.render.comparison import Asked as Compared
from asfound.render.comparison import before_work
from asfound.render.text import grouped
from asfound.report.dangers import dangers, not_seen_again, told_on_site
from asfound.report.finding import finding
from asfound.report.place import Place, Places
from asfound.report.schedule import schedule
from asfound.report.scope import Scope
from asfound.report.since import since
from asfound.report.standing import Standing
from asfound.report.taken import Taken
from asfound.report.words import said
from asfound.survey import Survey
from asfound.wording import joined, plural, quoted_list

KINDS = ("deficiency report", "pre-existing condition record", "sheet")
"""Kinds of document; a sheet is for one circuit, box or panel."""
ASKED = 40
"""Open checks listed one by one; more are counted."""


@dataclass(frozen=True, slots=True)
class Asked:
    """What a run was asked for: the kind of document, dates, and what a person supplies (see `supplied`).

    `accepted` are accepted findings held against this record, `since` its
    comparison with an earlier one, `work_began` the day the work began.
    """

    kind: str
    as_of: str
    edition: str = ""
    issued: str = ""
    only: str = ""
    supplied: dict[str, Any] = field(default_factory=dict)
    accepted: Accepted | None = None
    since: Comparison | None = None
    work_began: str = ""


def content(done: Survey, asked: Asked) -> dict[str, Any]:
    """Everything a document says, in its order. Raises `KeyError` when a sheet is asked for what is not there.

    `fingerprint` is the SHA-256 of all that was judged and is told: an approval
    names it, and is of no other record, date, edition, rules, amendments or kind.
    """
    made: dict[str, Any] = cleaned(_Content(done, asked).all())
    made["fingerprint"] = hashlib.sha256(json.dumps(made, sort_keys=True).encode()).hexdigest()
    supplied = cleaned(asked.supplied)
    approval = supplied.get("approval") or {}
    whole = approval.get("record") == made["versions"]["sha256"] and approval.get("document") == made["fingerprint"]
    made["approval"] = {"licence": "", **approval} if whole else None
    made["draft"] = made["approval"] is None
    made["number"], made["issued"] = supplied.get("number", ""), asked.issued
    words = data("documents")
    made["people"] = {name: supplied.get(name, "") for name in words["supplied"]}
    made["blanks"] = _blanks(words["kinds"][asked.kind]["blanks"], supplied, made["approval"])
    made["steps"] = []
    return made


def _blanks(
    blanks: Sequence[dict[str, Any]], supplied: Mapping[str, Any], approval: Mapping[str, str] | None
) -> list[dict[str, str]]:
    """What is for a person to fill in, with what was supplied for it."""
    signed = ", ".join(filter(None, map((approval or {}).get, ("by", "licence", "on"))))
    given = {**supplied, "approval": signed}
    return [
        {
            "label": one["label"],
            "hint": one["hint"],
            "words": ", ".join(filter(None, (str(given.get(name, "")) for name in one.get("from", ())))),
        }
        for one in blanks
    ]


class _Content:
    def __init__(self, done: Survey, asked: Asked) -> None:
        self.done, self.asked = done, asked
        self.record, self.results = done.record, done.results
        self.places = Places(done.installation)
        self.words: dict[str, Any] = data("documents")
        self.scope = Scope(done, asked.only)
        self.taken = Taken(done, self.scope)
        self.findings = self.scope.findings(done.results.findings)

    def all(self) -> dict[str, Any]:
        asked, words = self.asked, self.words["kinds"][self.asked.kind]
        taken = self.taken
        places, after = self._by_place()
        numbers = self._number(places, after)
        questions = self._questions(max(numbers.values(), default=0))
        standing = Standing(self.done)
        return {
            "kind": asked.kind,
            "title": words["title"],
            "lead": words["lead"],
            "as_of": asked.as_of,
            "edition": asked.edition,
            "editions": sorted({row.edition for one in self.findings for row in one.rows}),
            "only": asked.only,
            "work_began": asked.work_began,
            "site": self._site(),
            "visits": self._visits(),
            "statement": data("wording")["statement"],
            "notices": self._notices(),
            "scale": self._scale(),
            "risks": data("grades")["risk_meanings"],
            "counts": self._counts(),
            "dangers": [
                *dangers(self.findings, self.places, standing, self._accepted_of, numbers),
                *not_seen_again(asked.since),
            ],
            "told": told_on_site(taken.log),
            "places": places,
            "after": after,
            "questions": questions,
            "accepted": self._accepted(),
            "since": self._since(),
            "circuits": self._circuits(),
            "schedule": schedule(self.record) if self.scope.sheet is None else {},
            "in_order": self._in_order(),
            "not_inspected": self._not_inspected(),
            "open": self._open(),
            "instruments": taken.instruments(),
            "readings": taken.readings,
            "log": taken.log,
            "photos": taken.photos,
            "method": words.get("method", self.words["method"]),
            "limits": words.get("limits", self.words["limits"]),
            "sources": self._sources(),
            "versions": self._versions(),
            "notes": [] if asked.only else list(self.record.document.root.get("notes") or ()),
        }

    # -- head

    def _site(self) -> dict[str, Any]:
        held = self.record.document.root["site"]
        facts = {name: said(self.record.site.data.get(name)) for name in ("kind", "built", "code", "supply")}
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
                    "main": said(panel.data.get("main_amps"), " A"),
                    "fed_from": said(panel.data.get("fed_from")) or "not recorded",
                }
                for panel in self.record.panels.values()
            ],
            "holds": self.record.count(),
        }

    def _notices(self) -> list[str]:
        """What a reader has to know before all else."""
        asked = self.asked
        found = [f"Judged with local amendments: {one.name}." for one in self.done.tables.amendments.given]
        failed = self.results.totals["rule failed"]
        if failed:
            found.append(f"{plural(failed, 'check')} failed; their silence means nothing.")
        if asked.since is not None:
            found += asked.since.notes
        if asked.work_began:
            early = [
                str(entry.number)
                for entry in self.record.log
                if entry.did in CHANGES and "" < self._day(entry) < asked.work_began
            ]
            if early and asked.since is not None:
                found.append(
                    f"Log entries {quoted_list(early, 8)} of this record are dated before the work began on "
                    f"{asked.work_began}, as that day was given here."
                )
        return found

    def _day(self, entry: Entry) -> str:
        """The day of a log entry, empty when it is not known."""
        return self.record.moment(entry.at, entry.visit)[:10] if entry.at or entry.visit else ""

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

    def _accepted_of(self, group: Sequence[Finding]) -> list[str]:
        return words_of_group(group, self.asked.accepted)

    def _by_place(self) -> tuple[list[dict[str, Any]], list[dict[str, Any]]]:
        """Findings by place. Of a record made before the work, those that it does not show to be older stand apart."""
        found = [one for one in self.findings if one.certainty != "possible"]
        if self.asked.kind != KINDS[1] or not self.asked.work_began:
            return self._placed(found), []
        return (
            self._placed(one for one in found if self._before(one)),
            self._placed(one for one in found if not self._before(one)),
        )

    def _before(self, finding: Finding) -> bool | None:
        return before_work(finding, self.record, self.asked.work_began)

    def _placed(self, findings: Iterable[Finding]) -> list[dict[str, Any]]:
        grades = data("grades")["grades"]
        at: dict[Place, list[Finding]] = {}
        for one in findings:
            at.setdefault(self.places.of(one.at), []).append(one)
        found = []
        for place in sorted(at, key=lambda place: place.key):
            groups = sorted(grouped(at[place]), key=lambda group: grades.index(group[0].grade))
            found.append(
                {
                    "name": place.name,
                    "room": place.room,
                    "worst": groups[0][0].grade,
                    "photos": self.taken.photos_of(place, at[place]),
                    "findings": [self._finding(group) for group in groups],
                }
            )
        return found

    @staticmethod
    def _number(*parts: list[dict[str, Any]]) -> dict[str, int]:
        """Number the findings in the order of the document; gives the number of each identity."""
        numbers: dict[str, int] = {}
        listed = (one for part in parts for place in part for one in place["findings"])
        for number, one in enumerate(listed, 1):
            one["number"] = number
            numbers.update(dict.fromkeys(one["ids"], number))
        return numbers

    def _finding(self, group: Sequence[Finding]) -> dict[str, Any]:
        return finding(group, self._accepted_of(group), self._before_words(group))

    def _before_words(self, group: Sequence[Finding]) -> str:
        began = self.asked.work_began
        if not began:
            return ""
        if all(map(self._before, group)):
            return f"Recorded before the work began on {began}."
        return f"Not shown to be from before the work began on {began}."

    # -- accepted findings, and what became of earlier ones

    def _accepted(self) -> dict[str, Any] | None:
        """The file of accepted findings: what of it is in force, and every entry that does nothing."""
        accepted = self.asked.accepted
        if accepted is None:
            return None
        return {
            "file": Path(accepted.file.name).name,
            "sha256": accepted.file.sha256,
            "count": accepted.count,
            "entries": [
                {
                    "finding": one.identity,
                    "place": one.place,
                    "grade": one.grade,
                    "title": one.rule.title,
                    "words": accepted_words(held, one.identity),
                }
                for one in self.findings
                if (held := accepted.of(one.identity)) is not None
            ],
            "stale": [one.words for one in accepted.stale] if not self.asked.only else [],
        }

    def _since(self) -> dict[str, Any] | None:
        asked = self.asked
        if asked.since is None:
            return None
        return since(asked.since, Compared(asked.work_began, (), asked.accepted))

    def _questions(self, before: int) -> list[dict[str, Any]]:
        """Possible findings by the one fact they hang on, numbered on from the findings `before` them."""
        groups: dict[int, list[Finding]] = {}
        for one in self.findings:
            if one.certainty == "possible":
                groups.setdefault(one.settle[0].key if one.settle else id(one), []).append(one)
        found: list[dict[str, Any]] = []
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
        listed: Iterable[dict[str, Any]] = (one for question in found for one in question["findings"])
        for number, held in enumerate(listed, before + 1):
            held["number"] = number
        return found

    # -- circuits

    def _circuits(self) -> list[dict[str, Any]]:
        by_item = Counter(one.at for one in self.findings if one.certainty != "possible")
        found = []
        for circuit in self.done.installation.items.get("circuit", ()):
            breakers = circuit.data["breakers"].value
            if not self.scope.has(circuit.identity):
                continue
            conductors = circuit.data["conductors"]
            found.append(
                {
                    "breaker": circuit.tag,
                    "amps": joined(
                        dict.fromkeys(said(one.data.get("amps"), " A") or "size not seen" for one in breakers)
                    ),
                    "label": joined(filter(None, dict.fromkeys(said(one.data.get("label")) for one in breakers))),
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
                "silent": count["does not apply"],
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
        asked = self.results.cannot_tell
        return [one for one in asked if self.scope.has(one.at)]

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
            "packs": list(dict.fromkeys(r.pack for r in self.done.rules if r.pack)),
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


def _device(device: Item) -> str:
    kind = said(device.data.get("kind"))
    return f"{device.tag}, {kind}" if kind else device.tag


__all__ = ["KINDS", "Asked", "content"]
