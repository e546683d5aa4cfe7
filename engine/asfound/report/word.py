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

from asfound.report.clean import breakable

TONES = {"hands off": "7A0000", "first": "6A3C00", "in turn": "123A5A"}
FIXED = (1980, 1, 1, 0, 0, 0)
"""Time of every part of the file, so that the same input gives the same bytes."""


def word(content: Mapping[str, Any], *, pictures: Mapping[int, bytes] | None = None) -> bytes:
    """The document as .docx."""
    made = _Word(content, pictures or {})
    made.write()
    out = io.BytesIO()
    made.document.save(out)
    return _same_times(out.getvalue())


class _Word:
    def __init__(self, content: Mapping[str, Any], pictures: Mapping[int, bytes]) -> None:
        self.c, self.pictures = content, pictures
        self.body: list[str] = []
        self.styles: dict[str, str] = {}
        self.document: Any = Document()
        style = self.document.styles["Normal"]
        style.font.name, style.font.size = "Calibri", Pt(10.5)
        section = self.document.sections[0]
        section.left_margin = section.right_margin = Inches(0.8)
        self._footer(section)
        day = datetime.fromisoformat(content["issued"] or content["as_of"])
        core = self.document.core_properties
        core.title, core.author = f"{content['title']}: {content['site']['name']}", str(content["people"]["issuer"])
        core.created = core.modified = day
        core.comments, core.last_modified_by, core.revision = "", "", 1

    def write(self) -> None:
        c = self.c
        if c["draft"]:
            self.line("Draft. No approval of this record by a named person is recorded.", bold=True)
        self.heading(c["title"] + (f" for {c['only']}" if c["only"] else ""), 0)
        self.line(c["lead"])
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
                    f"{c['as_of']}{', tables of the ' + c['edition'] + ' edition' if c['edition'] else ''}",
                ),
                ("Code in force", site["code"] or "not recorded; ask the local authority"),
            ],
        )
        if c["approval"]:
            self.line(f"Approved by {c['approval']['by']} on {c['approval']['on']}.", bold=True)
        self.line(c["statement"])
        grades = [one for one in c["scale"] if one["of"] == "grade"]
        self.table(
            ("Number", "Grade", "Meaning"), [(c["counts"][one["word"]], one["word"], one["meaning"]) for one in grades]
        )
        if c["dangers"]:
            self.heading("Immediate dangers", 1)
            for one in c["dangers"]:
                self.line(f"{one['place']}. {one['statement']}", bold=True, style="List Bullet")
                self.line(one["caution"])
        self.heading("Findings, place by place", 1)
        if not c["places"]:
            self.line("No finding. That is not an all-clear: what was not recorded was not checked.")
        for place in c["places"]:
            self.heading(place["name"] + (f" ({place['room']})" if place["room"] else ""), 2)
            for number in place["photos"]:
                self.photo(number)
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
        )
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
                ("Check", "Looked at", "Nothing found", "Defect", "Possible", "Cannot tell"),
                [
                    (one["title"], one["looked_at"], one["clear"], one["defect"], one["possible"], one["open"])
                    for one in c["in_order"]
                ],
            )
        if c["readings"]:
            self.heading("Readings, instruments and log", 1)
            self.table(
                ("Reading", "When", "What", "Between", "Shown", "Instrument"),
                [
                    (one["tag"], one["at"], one["kind"], " and ".join(one["between"]), one["value"], one["instrument"])
                    for one in c["readings"]
                ],
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
            )
        self.bullets("Method", c["method"])
        self.table(
            ("Certainty", "Meaning"), [(one["word"], one["meaning"]) for one in c["scale"] if one["of"] == "certainty"]
        )
        self.bullets("Limits", c["limits"])
        self.bullets("Notes of the record", c["notes"])
        self.heading("To be filled in by a person", 1)
        self.table(
            ("What", "Filled in"),
            [(f"{one['label']} ({one['hint']})", c["people"].get(one.get("from", ""), "")) for one in c["blanks"]],
        )
        self.heading("Versions and fingerprints", 1)
        versions = c["versions"]
        self.line(
            f"asfound {versions['asfound']}; {versions['rules']} rules; record {versions['record']}, "
            f"SHA-256 {versions['sha256']}."
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
            ],
        )
        self.line("End of the document.")
        self._put()

    def finding(self, f: Mapping[str, Any]) -> None:
        tone = TONES.get(f["grade"], "")
        self._paragraph(
            [_run(f["grade"].upper(), tone=tone), _run(f", {f['certainty']}. {f['title']}")], self.style("Heading 3")
        )
        self.line(f["statement"], bold=True)
        self.line(f["caution"])
        self.line(f"Next: {f['next']}")
        if f["settle"]:
            said = "; then ".join(f"{one['observe']} ({one['fact']} of {one['item']})" for one in f["settle"][:2])
            self.line(f"Would settle it: {said}.")
        seen = "; ".join(
            f"{one['item']}, {one['fact']}: {one['value']}{' ' + one['unit'] if one['unit'] else ''}"
            f"{', line ' + str(one['line']) if one['line'] else ''}"
            for one in f["evidence"]
        )
        self.line(f"Evidence: {seen}.", small=True)
        if f["rows"]:
            rows = "; ".join(
                f"{one['table']}, {one['edition']}, {one['key']}: {one['value']} {one['unit']}" for one in f["rows"]
            )
            self.line(f"Compared with: {rows}.", small=True)
        self.line(f"Local code: {f['local_code']}", small=True)
        self.line(
            f"Rule {f['rule']}, revision {f['revision']}; {f['source']} ({f['basis']}). Finding {', '.join(f['ids'])}.",
            small=True,
        )

    def photo(self, number: int) -> None:
        held = self.c["photos"][number - 1]
        words = f"Photograph {number}: {', '.join(held['shows']) or 'what it shows was not said'}. {held['file']}"
        if number in self.pictures:
            drawn = self.document.part.new_pic_inline(io.BytesIO(self.pictures[number]), Inches(4.5), None)
            drawn.docPr.set("descr", _text(words))
            inside = etree.tostring(drawn, encoding="unicode")
            self.body.append(f"<w:p><w:pPr><w:keepNext/></w:pPr><w:r><w:drawing>{inside}</w:drawing></w:r></w:p>")
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

    def table(self, head: Sequence[str], rows: Iterable[Sequence[Any]]) -> None:
        """A table whose head is repeated on every page and whose rows are not torn apart."""
        columns = f'<w:gridCol w:w="{10000 // len(head)}"/>' * len(head)
        look = f'<w:tblStyle w:val="{self.style("Table Grid")}"/><w:tblW w:w="5000" w:type="pct"/>'
        made = [f"<w:tbl><w:tblPr>{look}</w:tblPr><w:tblGrid>{columns}</w:tblGrid>"]
        made.append(_row("<w:tblHeader/>", [_run(words, bold=True) for words in head]))
        made += [_row("<w:cantSplit/>", [_run(str(value), size=18) for value in row]) for row in rows]
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

    def _footer(self, section: Any) -> None:
        words = section.footer.paragraphs[0]
        words.alignment = WD_ALIGN_PARAGRAPH.RIGHT
        words.add_run("page ")
        _field(words, "PAGE")
        words.add_run(" of ")
        _field(words, "NUMPAGES")


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


def _row(kind: str, cells: Sequence[str]) -> str:
    inside = "".join(f"<w:tc><w:p>{cell}</w:p></w:tc>" for cell in cells)
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
