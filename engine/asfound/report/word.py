"""The document for a word processor: headings, tables and blanks that a person goes on writing in."""

from __future__ import annotations

import io
import zipfile
from collections.abc import Iterable, Mapping, Sequence
from datetime import datetime
from typing import Any
from xml.sax.saxutils import escape

from docx import Document
from docx.enum.text import WD_ALIGN_PARAGRAPH
from docx.oxml import OxmlElement, parse_xml
from docx.oxml.ns import nsdecls, qn
from docx.shared import Inches, Pt
from lxml import etree
from PIL import Image

from asfound.clean import breakable
from asfound.map import Drawing
from asfound.report.drawn import as_png

TONES = {"hands off": "7A0000", "first": "6A3C00", "in turn": "123A5A"}
SCHEDULES = (
    ("boxes", ("Box or place", "Kind", "Where", "Cover", "Notes"), ("tag", "kind", "where", "cover", "note"),
     (3, 4, 4, 2, 5)),
    ("cables", ("Cable", "Type", "From", "To", "Notes"), ("tag", "type", "from", "to", "note"), (2, 4, 5, 5, 4)),
    ("devices", ("Device", "Kind", "At", "Notes"), ("tag", "kind", "at", "note"), (2, 4, 3, 5)),
    ("labels", ("Label on", "Says", "Notes"), ("on", "says", "note"), (2, 5, 5)),
)  # fmt: skip
ROOM = 9936
"""Width between the margins of US letter, in twentieths of a point."""
FIXED = (1980, 1, 1, 0, 0, 0)
"""Time of every part of the file, so that the same input gives the same bytes."""


def word(
    content: Mapping[str, Any],
    *,
    pictures: Mapping[int, bytes] | None = None,
    drawings: Sequence[Drawing] = (),
) -> bytes:
    """The document as .docx. The drawings stand in it as pictures, for a word processor draws SVG only by chance."""
    made = _Word(content, pictures or {}, drawings)
    made.write()
    out = io.BytesIO()
    made.document.save(out)
    return _same_times(out.getvalue())


class _Word:
    def __init__(self, content: Mapping[str, Any], pictures: Mapping[int, bytes], drawings: Sequence[Drawing]) -> None:
        self.c, self.pictures, self.drawings = content, pictures, drawings
        self.body: list[str] = []
        self.styles: dict[str, str] = {}
        self.document: Any = Document()
        style = self.document.styles["Normal"]
        style.font.name, style.font.size = "Calibri", Pt(10.5)
        section = self.document.sections[0]
        section.left_margin = section.right_margin = Inches(0.8)
        self._footer(section, content)
        day = datetime.fromisoformat(content["issued"] or content["as_of"])
        core = self.document.core_properties
        core.title, core.author = f"{content['title']}: {content['site']['name']}", str(content["people"]["issuer"])
        core.created = core.modified = day
        core.comments, core.last_modified_by, core.revision = "", "", 1

    def write(self) -> None:
        c = self.c
        if c["draft"]:
            self.line("Draft. No approval of this document by a named person is given.", bold=True)
        self.heading(c["title"] + (f" for {c['only']}" if c["only"] else ""), 0)
        self.line(c["lead"])
        for words in c["notices"]:
            self.line(words, bold=True, style="List Bullet")
        site = c["site"]
        self.table(
            ("About", "This document"),
            [
                ("Place", f"{site['name']}{' (invented record)' if site['invented'] else ''}"),
                ("Address", site["address"]),
                ("Number", c["number"]),
                ("Date of issue", c["issued"]),
                ("For", c["people"]["client"] or site["client"]),
                ("Visits", "; ".join(f"{v['tag']}: {v['on']}, {v['by']}" for v in c["visits"]) or "none recorded"),
                (
                    "Judged as of",
                    f"{c['as_of']}{', tables of the ' + c['edition'] + ' edition' if c['edition'] else ''}"
                    f"{'; tables used: ' + ', '.join(c['editions']) if c['editions'] else ''}",
                ),
                ("Code in force", site["code"] or "not recorded; ask the local authority"),
                (
                    "Building",
                    f"{site['kind'] or 'use not recorded'}{', built ' + site['built'] if site['built'] else ''}; "
                    f"{site['supply'] or 'supply not recorded'}",
                ),
            ],
            (2, 8),
        )
        if c["approval"]:
            licence = f", {c['approval']['licence']}" if c["approval"]["licence"] else ""
            self.line(
                f"This document, not the wiring, is approved by {c['approval']['by']}{licence}, on "
                f"{c['approval']['on']}, as a file given for it says. What is changed here is not approved.",
                bold=True,
            )
        if c["work_began"]:
            self.line(f"The work began on {c['work_began']}, as given for this document.")
        self.line(c["statement"])
        grades = [one for one in c["scale"] if one["of"] == "grade"]
        self.table(
            ("Number", "Grade", "Meaning"),
            [(c["counts"][one["word"]], one["word"], one["meaning"]) for one in grades],
            (1, 2, 9),
        )
        if c["dangers"]:
            self.heading("Immediate dangers", 1)
            for one in c["dangers"]:
                self.line(f"{one['place']}. {one['statement']} {one['fed']}", bold=True, style="List Bullet")
                for words in one["accepted"]:
                    self.line(words, bold=True)
                self.line(one["caution"])
                listed = ", ".join(map(str, one["numbers"] or one["ids"]))
                self.line(f"Finding {listed}, {one['certainty']}. {one['local_code']}", small=True)
            self.line(
                "Told on site, by the log:" if c["told"] else "Told on site: the log says nothing of it.", bold=True
            )
            for words in c["told"]:
                self.line(words, style="List Bullet")
        if c["only"]:
            self.map()
        self.heading("Findings, place by place", 1)
        if not c["places"]:
            self.line("No finding. That is not an all-clear: what was not recorded was not checked.")
        for place in c["places"]:
            self.heading(place["name"] + (f" ({place['room']})" if place["room"] else ""), 2)
            for number in place["photos"]:
                self.photo(number)
            for one in place["findings"]:
                self.finding(one)
        if c["after"]:
            self.heading("Not shown to be from before the work", 1)
            self.line(
                f"What these rest on is of the day the work began, {c['work_began']}, or later, or has no date. They "
                "are not part of what is acknowledged."
            )
        for place in c["after"]:
            self.heading(place["name"] + (f" ({place['room']})" if place["room"] else ""), 2)
            for one in place["findings"]:
                self.finding(one)
        if c["questions"]:
            self.heading("Questions", 1)
        for one in c["questions"]:
            asked = (
                f"{one['fact'].capitalize()} of {one['item']}: {' or '.join(one['can_be'])}?"
                if one["fact"]
                else "Possible"
            )
            self.heading(asked, 2)
            for found in one["findings"]:
                if found["if"]:
                    self.line(f"If {' or '.join(found['if'])}:")
                self.finding(found)
        self.since()
        self.accepted()
        self.rest()

    def rest(self) -> None:
        c = self.c
        self.heading("Circuits as traced", 1)
        self.line("Everything that is not proven dead is treated as live.")
        self.table(
            ("Breaker", "Label found", "Cables", "Places", "Devices", "State of its conductors"),
            [
                (
                    f"{one['breaker']}, {one['amps']}",
                    one["label"] or "none",
                    ", ".join(one["cables"]),
                    ", ".join(one["boxes"]),
                    "; ".join(one["devices"]),
                    "; ".join(f"{count} {state}" for state, count in one["states"].items()),
                )
                for one in c["circuits"]
            ],
            (3, 4, 4, 5, 5, 4),
        )
        if not c["only"]:
            self.map()
        self.bullets(
            "Present and not inspected",
            [f"{one['what']}: {one['why']} (visit {one['visit']}, {one['on']})" for one in c["not_inspected"]],
        )
        self.bullets(
            "Cannot tell: what was not seen and would decide",
            [
                f"{one['fact']} of {', '.join(one['of'])}: {one['reason']}. "
                f"{'To see it: ' + one['observe'] + '.' if one['observe'] else ''}"
                for one in c["open"]["facts"]
            ],
        )
        self.bullets(
            "What to test next",
            [
                f"{one['where']}. {one['what']} With: {one['tool']}. Who: {one['who']}. {one['precaution']}"
                for one in c["steps"]
            ],
        )
        if c["in_order"]:
            self.heading("What was looked at", 1)
            self.table(
                ("Check", "Looked at", "Nothing found", "Defect", "Possible", "Cannot tell", "Not asked"),
                [
                    tuple(one[name] for name in ("title", "looked_at", "clear", "defect", "possible", "open", "silent"))
                    for one in c["in_order"]
                ],
                (11, 3, 3, 3, 3, 3, 3),
            )
        if c["readings"]:
            self.heading("Readings, instruments and log", 1)
            self.table(
                ("Reading", "When", "What", "Between", "Shown", "Instrument", "By, load, notes"),
                [
                    (
                        one["tag"],
                        one["at"],
                        one["kind"] + (", known source" if one["known_source"] else ""),
                        " and ".join(one["between"]),
                        one["value"],
                        one["instrument"],
                        "; ".join(filter(None, (one["by"], one["load"], one["note"]))),
                    )
                    for one in c["readings"]
                ],
                (2, 3, 4, 6, 3, 3, 5),
            )
        if c["instruments"]:
            self.table(
                ("Instrument", "Type", "Rating", "Accuracy", "Serial", "Last check"),
                [
                    (
                        one["tag"],
                        one["type"],
                        one["rating"],
                        one["accuracy"] or "not recorded",
                        one["serial"],
                        one["last_check"] or "not recorded",
                    )
                    for one in c["instruments"]
                ],
                (3, 4, 5, 4, 3, 3),
            )
        if c["log"]:
            self.table(
                ("Entry", "When", "Done", "To what", "By", "Readings and notes"),
                [
                    (
                        one["number"],
                        one["at"],
                        f"{one['did']} {one['to']}".strip(),
                        ", ".join(one["what"]),
                        one["by"],
                        f"{', '.join(one['readings'])} {one['note']}".strip(),
                    )
                    for one in c["log"]
                ],
                (2, 4, 4, 6, 4, 6),
            )
        self.schedule()
        self.bullets("Method", [*map(_visit, c["visits"]), *c["method"]] if c["method"] else [])
        self.table(
            ("Certainty", "Meaning"),
            [(one["word"], one["meaning"]) for one in c["scale"] if one["of"] == "certainty"],
            (2, 9),
        )
        if not c["only"]:
            said = "; ".join(f"{word}, {meaning}" for word, meaning in c["risks"].items())
            self.line(f"Words of severity and likelihood: {said}.", small=True)
        note = [f"Note on the place: {c['site']['note']}"] if c["site"]["note"] and not c["only"] else []
        self.bullets("Limits", [*c["limits"], *note])
        self.bullets("Notes of the record", c["notes"])
        self.heading("To be filled in by a person", 1)
        self.table(
            ("What", "Filled in"),
            [(f"{one['label']} ({one['hint']})", one["words"]) for one in c["blanks"]],
            (4, 7),
            tall=True,
        )
        self.heading("Versions and fingerprints", 1)
        versions = c["versions"]
        packs = f", with the packs {', '.join(versions['packs'])}" if versions["packs"] else ""
        self.line(
            f"asfound {versions['asfound']}; {versions['rules']} rules{packs}; record {versions['record']}, "
            f"SHA-256 {versions['sha256']}. The record is not in this file; keep it with it."
        )
        self.line(
            f"Fingerprint of all that is judged and told here (an approval has to name it): {c['fingerprint']}. What "
            "is changed in this file afterwards is not covered by it."
        )
        self.bullets(
            "Tables used",
            [f"{one['table']}, {one['edition']}: {one['source']} ({one['checked']})" for one in c["sources"]],
        )
        self.bullets(
            "Photographs",
            [
                f"{one['number']}: {one['file']}, shows {', '.join(one['shows']) or 'not said'}"
                f"{'; SHA-256 ' + one['sha256'] if one['sha256'] else ''}"
                for one in c["photos"]
                if one["listed"]
            ],
        )
        self.line("End of the document.")
        self._put()

    def finding(self, f: Mapping[str, Any]) -> None:
        tone = TONES.get(f["grade"], "")
        self._paragraph(
            [_run(f"{f['number']}. "), _run(f["grade"].upper(), tone=tone), _run(f", {f['certainty']}. {f['title']}")],
            self.style("Heading 3"),
        )
        self.line(f["statement"], bold=True)
        self.line(f["caution"])
        if f["before"]:
            self.line(f["before"])
        self.line(f"Next: {f['next']}")
        for words in f["accepted"]:
            self.line(words, bold=True)
        if f["settle"]:
            said = "; then ".join(f"{one['observe']} ({one['fact']} of {one['item']})" for one in f["settle"][:2])
            self.line(f"Would settle it: {said}.")
        seen = "; ".join(one["words"] for one in f["evidence"]) or "by what the record lists"
        self.line(f"Evidence: {seen}.", small=True)
        if f["rows"]:
            rows = "; ".join(one["words"] for one in f["rows"])
            self.line(f"Compared with: {rows}.", small=True)
        self.line(f"Local code: {f['local_code']}", small=True)
        self.line(
            f"Severity {f['severity']}, likelihood {f['likelihood']}, risk {f['risk']}. Rule {f['rule']}, revision "
            f"{f['revision']}; {f['source']} ({f['basis']}). Finding {', '.join(f['ids'])}.",
            small=True,
        )

    def since(self) -> None:
        held = self.c["since"]
        if held is None:
            return
        self.heading("What became of the findings of the earlier record", 1)
        self.line(held["statement"])
        for one in held["records"]:
            self.line(
                f"{one['which'].capitalize()} record {one['file']}, SHA-256 {one['sha256']}; visits: "
                f"{', '.join(one['visits']) or 'none recorded'}; judged as of {one['as_of']}."
            )
        if held["work_began"]:
            self.line(f"The work began on {held['work_began']}, as given for this document.")
        self.table(
            ("Number", "Outcome", "Meaning"),
            [
                (
                    f"{one['count']}, {one['worse']} worse" if one["worse"] else one["count"],
                    one["outcome"],
                    one["meaning"],
                )
                for one in held["counts"]
            ],
            (2, 3, 8),
        )
        for part in held["outcomes"]:
            self.heading(part["outcome"].capitalize(), 2)
            self.entries(part["entries"])
        if held["by_edition"]:
            self.heading("Only by the tables of the earlier date", 2)
            self.entries(held["by_edition"])
        for note in held["notes"]:
            self.line(note, style="List Bullet")

    def schedule(self) -> None:
        held = self.c["schedule"]
        if not held:
            return
        self.heading("What is there, as recorded", 1)
        self.line("Everything that was listed, whether or not anything is wrong with it.")
        for kind, head, names, shares in SCHEDULES:
            if held[kind]:
                self.table(head, [[one[name] for name in names] for one in held[kind]], shares)

    def accepted(self) -> None:
        held = self.c["accepted"]
        if held is None:
            return
        self.heading("Accepted findings", 1)
        self.line(f"By the file {held['file']}, SHA-256 {held['sha256']}. Each stands in its place above, as graded.")
        for one in held["entries"]:
            words = f"{one['place']}. {one['grade']}, {one['title']}. {one['words']} Finding {one['finding']}."
            self.line(words, style="List Bullet")
        if not held["entries"]:
            self.line("It names no finding of this document.")
        for words in held["stale"]:
            self.line(f"Does nothing, or no longer: {words}.", style="List Bullet")

    def entries(self, entries: Iterable[Mapping[str, Any]]) -> None:
        for one in entries:
            self.line(f"{one['place']}. {one['graded']} {one['statement']}", bold=True)
            self.line(" ".join(one["sentences"]))
            if one["caution"]:
                self.line(one["caution"])
            self.line(f"Local code: {one['local_code']}", small=True)

    def map(self) -> None:
        if not self.drawings:
            return
        self.heading("Wiring map", 1)
        for one, drawn in zip(self.drawings, as_png(self.drawings), strict=True):
            scale = min(6.9 / one.wide, 8.6 / one.high)
            self.picture(drawn, one.wide * scale, one.alt)
            self.line(one.title, small=True)

    def picture(self, held: bytes, inches: float, words: str) -> None:
        """A picture of a width, kept with the paragraph that follows, with words for those who do not see it."""
        drawn = self.document.part.new_pic_inline(io.BytesIO(held), Inches(inches), None)
        drawn.docPr.set("descr", _text(words))
        inside = etree.tostring(drawn, encoding="unicode")
        self.body.append(f"<w:p><w:pPr><w:keepNext/></w:pPr><w:r><w:drawing>{inside}</w:drawing></w:r></w:p>")

    def photo(self, number: int) -> None:
        held = self.c["photos"][number - 1]
        words = held["caption"]
        if number in self.pictures:
            with Image.open(io.BytesIO(self.pictures[number])) as taken:
                inches = min(4.5, 3.6 * taken.width / taken.height)
            self.picture(self.pictures[number], inches, words)
            self.line(words, small=True)
        else:
            why = "it cannot be read" if held["present"] else "not beside the record"
            self.line(f"{words} (not shown: {why})", small=True)

    # -- parts, as the XML that the format has for them; python-docx itself takes a second for a hundred findings

    def style(self, name: str) -> str:
        """The identity of a style of the document."""
        if name not in self.styles:
            self.styles[name] = str(self.document.styles[name].style_id)
        return self.styles[name]

    def heading(self, words: str, level: int) -> None:
        self._paragraph([_run(words)], self.style(f"Heading {level}" if level else "Title"))

    def line(self, words: str, *, bold: bool = False, small: bool = False, style: str = "") -> None:
        self._paragraph([_run(words, bold=bold, size=17 if small else 0)], self.style(style) if style else "")

    def bullets(self, title: str, lines: Sequence[str]) -> None:
        if lines:
            self.heading(title, 1)
        for one in lines:
            self.line(one, style="List Bullet")

    def table(
        self, head: Sequence[str], rows: Iterable[Sequence[Any]], shares: Sequence[int] = (), *, tall: bool = False
    ) -> None:
        """A table whose head is repeated on every page and whose rows are not torn apart.

        `shares` are the widths of the columns against each other, equal when left out; a `tall` row has room to write.
        """
        shares = shares or [1] * len(head)
        wide = [ROOM * share // sum(shares) for share in shares]
        columns = "".join(f'<w:gridCol w:w="{one}"/>' for one in wide)
        look = f'<w:tblStyle w:val="{self.style("Table Grid")}"/><w:tblW w:w="{sum(wide)}" w:type="dxa"/>'
        look += '<w:tblLayout w:type="fixed"/>'
        made = [f"<w:tbl><w:tblPr>{look}</w:tblPr><w:tblGrid>{columns}</w:tblGrid>"]
        made.append(_row("<w:tblHeader/>", [_run(words, bold=True, size=18) for words in head], wide))
        kind = "<w:cantSplit/>" + ('<w:trHeight w:val="760" w:hRule="atLeast"/>' if tall else "")
        made += [_row(kind, [_run(str(value), size=18) for value in row], wide) for row in rows]
        self.body.append("".join([*made, "</w:tbl><w:p/>"]))

    def _paragraph(self, runs: Sequence[str], style: str = "") -> None:
        named = f'<w:pPr><w:pStyle w:val="{style}"/></w:pPr>' if style else ""
        self.body.append(f"<w:p>{named}{''.join(runs)}</w:p>")

    def _put(self) -> None:
        """Put what was written into the document, before the settings of its section."""
        body = self.document.element.body
        section = body.sectPr
        for one in parse_xml(f"<w:body {nsdecls('w', 'a', 'pic', 'r', 'wp')}>{''.join(self.body)}</w:body>"):
            section.addprevious(one)

    def _footer(self, section: Any, content: Mapping[str, Any]) -> None:
        head = section.header.paragraphs[0]
        head.add_run(_text(f"{content['title']}: {content['site']['name']}{'. Draft' if content['draft'] else ''}"))
        words = section.footer.paragraphs[0]
        words.add_run(f"Judged as of {content['as_of']}; record SHA-256 {content['versions']['sha256'][:16]}; ")
        words.alignment = WD_ALIGN_PARAGRAPH.RIGHT
        words.add_run("page ")
        _field(words, "PAGE")
        words.add_run(" of ")
        _field(words, "NUMPAGES")


def _visit(held: Mapping[str, Any]) -> str:
    told = {"Purpose": held["purpose"], "Scope": held["scope"], "Conditions": held["conditions"]}
    present = f", with {', '.join(held['with'])}" if held["with"] else ""
    said = "".join(f" {name}: {words}." for name, words in told.items() if words)
    return f"Visit {held['tag']}, {held['on']}, {held['by']}{present}.{said}"


def _field(words: Any, name: str) -> None:
    """A field that the word processor fills in."""
    for kind, text in (("begin", ""), ("", name), ("end", "")):
        run = words.add_run()
        made = OxmlElement("w:fldChar" if kind else "w:instrText")
        if kind:
            made.set(qn("w:fldCharType"), kind)
        else:
            made.text = text
        run._r.append(made)


def _run(words: str, *, bold: bool = False, size: int = 0, tone: str = "") -> str:
    """Words of one look; `size` in half points, `tone` as six hexadecimal digits."""
    look = "<w:b/>" if bold else ""
    look += f'<w:color w:val="{tone}"/>' if tone else ""
    look += f'<w:sz w:val="{size}"/>' if size else ""
    look = f"<w:rPr>{look}</w:rPr>" if look else ""
    return f'<w:r>{look}<w:t xml:space="preserve">{escape(_text(words))}</w:t></w:r>'


def _row(kind: str, cells: Sequence[str], wide: Sequence[int]) -> str:
    inside = "".join(
        f'<w:tc><w:tcPr><w:tcW w:w="{one}" w:type="dxa"/></w:tcPr><w:p>{cell}</w:p></w:tc>'
        for one, cell in zip(wide, cells, strict=True)
    )
    return f"<w:tr><w:trPr>{kind}</w:trPr>{inside}</w:tr>"


def _text(words: str) -> str:
    """Text that XML can hold; long words get places to break."""
    return breakable("".join(char for char in words if ord(char) >= 32 and ord(char) not in (0xFFFE, 0xFFFF)))


def _same_times(held: bytes) -> bytes:
    """The same archive with one fixed time on every part."""
    out = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(held)) as old, zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as new:
        for entry in old.infolist():
            part = zipfile.ZipInfo(entry.filename, FIXED)
            part.compress_type, part.external_attr, part.create_system = zipfile.ZIP_DEFLATED, 0o600 << 16, 3
            new.writestr(part, old.read(entry))
    return out.getvalue()
