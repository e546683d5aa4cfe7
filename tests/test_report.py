"""Documents: what they say, in which form, and that nothing in a record can harm who opens them.

The points a report has to hold follow ISO/IEC 17020:2012 7.4 and ISO/IEC 17025:2017 7.8 (as quoted in public, seen).
"""

from __future__ import annotations

import csv
import functools
import html
import io
import json
import re
import shutil
import subprocess
import zipfile
from pathlib import Path
from typing import Any
from xml.etree import ElementTree

import pikepdf
import pytest
import yaml
from click.testing import CliRunner
from docx import Document
from PIL import Image

import browser
from asfound.accepted import read_accepted
from asfound.clean import breakable, clean
from asfound.command import main
from asfound.compare import compare
from asfound.compare.former import accepted_in
from asfound.data import data
from asfound.map import drawings, each_circuit
from asfound.report.content import KINDS, Asked, content
from asfound.report.make import FORMATS, make
from asfound.report.pdf import pdf
from asfound.report.tables import findings_csv, workbook
from asfound.report.web import web_page
from asfound.report.word import word
from asfound.survey import Survey, survey
from records import record_text

ROOT = Path(__file__).parents[1]
DEMO = ROOT / "fixtures" / "demo.yaml"
AS_OF = "2026-05-20"
needs_browser = pytest.mark.skipif(browser.CHROMIUM is None, reason="no Chromium is installed here")


@functools.cache
def demo() -> Survey:
    return survey(DEMO, AS_OF)


@functools.cache
def said(kind: str = KINDS[0], only: str = "", issued: str = "2026-05-21") -> dict[str, Any]:
    return content(demo(), Asked(kind, AS_OF, issued=issued, only=only))


def asked(**more: Any) -> Asked:
    return Asked(KINDS[0], AS_OF, **more)


# -- what it says


def test_every_finding_is_in_it_once() -> None:
    """Each finding by its identity, once, in its place or among the questions."""
    held = said()
    ids = [one for place in held["places"] for f in place["findings"] for one in f["ids"]]
    ids += [one for question in held["questions"] for f in question["findings"] for one in f["ids"]]
    assert sorted(ids) == sorted(finding.identity for finding in demo().results.findings)


def test_immediate_dangers_stand_first() -> None:
    """Whatever is graded hands off is on the first page, each once."""
    grave = [f.identity for f in demo().results.findings if f.grade == "hands off" and f.certainty != "possible"]
    assert sorted(one for d in said()["dangers"] for one in d["ids"]) == sorted(grave)
    assert len({(d["place"], d["statement"]) for d in said()["dangers"]}) == len(said()["dangers"])


@pytest.mark.parametrize(
    "point",
    ["site", "visits", "as_of", "scale", "dangers", "places", "questions", "circuits", "in_order", "not_inspected", "open",
     "instruments", "readings", "log", "method", "limits", "blanks", "sources", "versions", "photos", "notes"],
)  # fmt: skip
def test_no_point_is_left_out(point: str) -> None:
    """Every point that the demo record has something for is there."""
    assert said()[point]


def test_each_finding_has_its_caution_and_deferral() -> None:
    for place in said()["places"]:
        for f in place["findings"]:
            assert f["caution"]
            assert f["local_code"]
            assert f["evidence"]
            assert f["source"]


def approved(held: dict[str, Any], **more: str) -> dict[str, Any]:
    """An approval of a draft by its fingerprints."""
    whole = {
        "by": "R. Example",
        "on": "2026-05-21",
        "record": held["versions"]["sha256"],
        "document": held["fingerprint"],
    }
    return {"approval": {**whole, **more}}


def test_draft_until_this_very_document_is_approved() -> None:
    """An approval of another record, date, edition, kind or amendment does not count; number and issue may follow it."""
    given = approved(said())
    assert said()["draft"]
    assert not content(demo(), asked(supplied=given))["draft"]
    assert not content(demo(), asked(supplied={**given, "number": "14", "issuer": "R. Example"}, issued="2026-06-01"))[
        "draft"
    ]
    assert content(demo(), asked(supplied=approved(said(), record="0" * 64)))["draft"]
    assert content(demo(), Asked(KINDS[1], AS_OF, supplied=given))["draft"]
    assert content(demo(), Asked("sheet", AS_OF, only="A 8", supplied=given))["draft"]
    earlier = survey(DEMO, "1999-06-01")
    assert content(earlier, Asked(KINDS[0], "1999-06-01", supplied=given))["draft"]
    amended = survey(DEMO, AS_OF, amended=[ROOT / "fixtures" / "amendments.yaml"])
    assert content(amended, Asked(KINDS[0], AS_OF, supplied=given))["draft"]


def test_approval_is_of_the_document_and_not_of_the_wiring() -> None:
    text = web_page(content(demo(), asked(supplied=approved(said()))), pictures={}).decode()
    assert "This document, not the wiring, is approved by R. Example" in text


def test_dangers_say_what_feeds_them_and_how_that_was_left() -> None:
    """Each names its breakers with the last recorded state; the log's warnings on site stand below."""
    held = said()
    closet = next(d for d in held["dangers"] if d["place"] == "bedroom closet")
    assert "A 9 (left off and locked on 2026-05-04 (log entries 9" in closet["fed"]
    assert any("Log entry 11" in words and "A 9" in words for words in held["told"])
    for one in held["dangers"]:
        assert one["caution"]
        assert one["local_code"]
        assert one["fed"]


def test_findings_are_numbered_through_and_dangers_name_their_numbers() -> None:
    held = said()
    listed = [f for place in held["places"] for f in place["findings"]]
    listed += [f for question in held["questions"] for f in question["findings"]]
    assert [f["number"] for f in listed] == list(range(1, len(listed) + 1))
    by_number = {f["number"]: f for f in listed}
    for one in held["dangers"]:
        assert sorted(one["ids"]) == sorted(i for number in one["numbers"] for i in by_number[number]["ids"])


@pytest.mark.parametrize(("began", "apart"), [("2026-05-13", False), ("2026-05-04", True)])
def test_record_before_the_work_parts_what_is_not_shown_to_be_older(began: str, apart: bool) -> None:
    """With the day on which work began, what rests on that day or later is not among what is acknowledged."""
    held = content(demo(), Asked(KINDS[1], AS_OF, work_began=began))
    assert bool(held["places"]) is not apart
    assert bool(held["after"]) is apart
    ids = [one for part in ("places", "after") for p in held[part] for f in p["findings"] for one in f["ids"]]
    assert sorted(ids) == sorted(f.identity for f in demo().results.findings if f.certainty != "possible")
    text = web_page(held, pictures={}).decode()
    assert ("Not shown to be from before the work" in text) is apart


def test_earlier_danger_that_nobody_saw_again_stands_with_the_dangers() -> None:
    held = later()
    gone = next(part for part in held["since"]["outcomes"] if part["outcome"] == "can no longer be seen")
    grave = [one for one in gone["entries"] if one["graded"].startswith("Hands off")]
    assert grave
    for one in grave:
        assert any(d["statement"] == one["statement"] and "counts as there" in d["fed"] for d in held["dangers"])


def test_records_of_two_sites_are_told_of_on_the_first_page() -> None:
    held = content(demo(), asked(since=compare(survey(EARLIER, AS_OF), demo())))
    assert any("two sites" in words for words in held["notices"])
    text = web_page(held, pictures={}).decode()
    assert text.index("two sites") < text.index("At a glance")


def test_what_is_there_is_listed_whole() -> None:
    """Every cable, box, device and label of the record is in the document, found wanting or not."""
    root = demo().record.document.root
    listed = said()["schedule"]
    for kind in ("cables", "boxes", "devices"):
        assert [one["tag"] for one in listed[kind]] == list(root[kind])
    assert [one["says"] for one in listed["labels"]] == [one["says"] for one in root["labels"]]


def test_fingerprints_can_be_copied() -> None:
    """No place to break stands in one."""
    held = said()
    for text in (
        web_page(held, pictures={}).decode(),
        "\n".join(p.text for p in Document(io.BytesIO(word(held))).paragraphs),
    ):
        assert held["versions"]["sha256"] in text
        assert held["fingerprint"] in text
    assert held["fingerprint"] in plain_text(paper()) or not PDFTOTEXT


def test_nothing_says_that_it_is_safe() -> None:
    """No document calls anything safe, passed or approved by itself."""
    for kind in KINDS[:2]:
        text = json.dumps(said(kind))
        assert not re.search(r"\b(is|are) safe\b|\bpassed\b|\bno hazard", text)


def test_record_before_the_work_says_whose_it_is_not() -> None:
    """Owner and contractor sign that it was not caused by the work and is not part of it; the program does not say so."""
    held = said(KINDS[1])
    assert "by signing they agree" in held["lead"]
    assert "not caused by the work" in held["lead"]
    assert {"Owner", "Contractor"} <= {blank["label"] for blank in held["blanks"]}


@pytest.mark.parametrize("only", ["A 8", "pantry switch", "A"])
def test_sheet_is_about_one_thing(only: str) -> None:
    """A sheet has the findings of its circuit, box or panel, and no others."""
    held = said("sheet", only)
    ids = {one for place in held["places"] for f in place["findings"] for one in f["ids"]}
    whole = {one for place in said()["places"] for f in place["findings"] for one in f["ids"]}
    assert ids <= whole
    assert held["circuits"] or only == "A"
    assert ids or only == "A"


def test_sheet_of_one_box_has_what_is_in_it() -> None:
    found = {f["rule"] for place in said("sheet", "pantry switch")["places"] for f in place["findings"]}
    assert "box-overfull" in found
    assert "two-breakers-one-net" not in found


@pytest.mark.parametrize("only", ["A 9", "A 6", "B", "north wall", "pantry ceiling"])
def test_sheet_has_what_its_map_flags(only: str) -> None:
    """A flag on the drawing of a thing is a finding, or a question, of its sheet."""
    held = said("sheet", only)
    titles = {f["title"] for part in ("places", "questions") for p in held[part] for f in p["findings"]}
    (drawing,) = drawings(demo(), only, narrow=False)
    words = " ".join(re.sub(r"<[^>]+>", " ", drawing.svg).split())
    flagged = {rule.title for rule in demo().rules if f"{rule.title}: " in html.unescape(words)}
    assert flagged
    assert flagged <= titles


def test_sheet_tells_of_its_own_readings_and_log_only() -> None:
    """What was read and done elsewhere is not on the sheet; of a panel, everything of it is."""
    whole, sheet = said(), said("sheet", "den north")
    assert len(sheet["log"]) < len(whole["log"]) / 2
    assert all(reading in whole["readings"] for reading in sheet["readings"])
    assert {"R15", "W36", "W37"} & {
        word for one in sheet["log"] + sheet["readings"] for word in str(one).split("'")
    } or not (sheet["log"] or sheet["readings"])


def test_sheet_of_something_that_is_not_there() -> None:
    with pytest.raises(KeyError):
        content(demo(), Asked("sheet", AS_OF, only="A 88"))


def test_no_path_of_the_machine_is_in_it() -> None:
    assert str(ROOT) not in json.dumps(said())


# -- the formats


@functools.cache
def page() -> bytes:
    return web_page(said(), pictures={}, drawings=drawings(demo()), narrow=each_circuit(demo()))


def test_page_is_one_file_without_script() -> None:
    """Nothing is fetched and nothing runs."""
    text = page().decode()
    assert "<script" not in text.lower()
    assert not re.search(r"(src|href)=\"(?!#|data:)", text)
    assert "@import" not in text
    assert "url(" not in text


def test_page_has_every_statement() -> None:
    text = page().decode()
    for finding in demo().results.findings:
        assert finding.identity in text


@needs_browser
@pytest.mark.parametrize("dark", [False, True], ids=["light", "dark"])
@pytest.mark.parametrize("width", [390, 1280], ids=["phone", "desktop"])
def test_page_passes_axe_core(width: int, dark: bool, tmp_path: Path) -> None:
    """No serious or critical finding of axe-core at phone and desktop width, light and dark."""
    found = browser.accessibility(page(), tmp_path, width, dark=dark)
    assert not [one for one in found if one["impact"] in browser.GRAVE]


@needs_browser
def test_axe_core_would_notice(tmp_path: Path) -> None:
    """The check fails on a page that has something wrong."""
    spoilt = page().replace(b'<html lang="en">', b"<html>").replace(b"</main>", b'<img src="data:,"></main>')
    assert [one for one in browser.accessibility(spoilt, tmp_path, 390) if one["impact"] in browser.GRAVE]


@needs_browser
@pytest.mark.parametrize("width", [390, 800])
def test_page_does_not_stick_out(width: int, tmp_path: Path) -> None:
    """The page is no wider than the window, however long a word in it is."""
    long = {**said(), "notes": ["w" * 4000, *said()["notes"]]}
    assert browser.width_needed(
        web_page(long, pictures={}, drawings=drawings(demo()), narrow=each_circuit(demo())), tmp_path, width
    ) <= max(width, 500)


@functools.cache
def paper() -> bytes:
    return pdf(said(), DEMO.read_bytes(), drawings=drawings(demo()))


def test_paper_is_archival_and_tagged() -> None:
    """PDF/A-3a and PDF/UA-1 by its metadata, with a language, a title and tags (ISO 19005-3, ISO 14289-1)."""
    with pikepdf.open(io.BytesIO(paper())) as held:
        with held.open_metadata() as metadata:
            assert metadata["pdfaid:part"] == "3"
            assert metadata["pdfaid:conformance"] == "A"
            assert metadata["pdfuaid:part"] == "1"
            assert "Thrushmoor Farm" in str(metadata["dc:title"])
        assert held.Root.MarkInfo.Marked
        assert str(held.Root.Lang).startswith("en")
        assert "/StructTreeRoot" in held.Root
        assert len(held.pages) > 5


def test_paper_carries_the_record() -> None:
    """The record is inside, byte for byte, named as the source of the document."""
    with pikepdf.open(io.BytesIO(paper())) as held:
        (name,) = held.attachments
        attached = held.attachments[name]
        assert attached.get_file().read_bytes() == DEMO.read_bytes()
        assert str(attached.obj.AFRelationship) == "/Source"


PDFTOTEXT = shutil.which("pdftotext")
needs_pdftotext = pytest.mark.skipif(PDFTOTEXT is None, reason="poppler-utils is not installed here")


def plain_text(paper: bytes) -> str:
    """What pdftotext (poppler) reads; empty where it is not installed."""
    if PDFTOTEXT is None:
        return ""
    done = subprocess.run([PDFTOTEXT, "-layout", "-", "-"], input=paper, capture_output=True, check=True)
    return done.stdout.decode("utf-8")


@needs_pdftotext
def test_paper_says_page_x_of_y_and_every_finding() -> None:
    text = plain_text(paper())
    assert re.search(r"page 1 of [0-9]+", text)
    plain = re.sub(r"\s+", "", text)
    for finding in demo().results.findings:
        assert finding.identity in plain
    assert text.index("Immediate dangers") < text.index("Findings, place by place")


def test_letters_that_the_fonts_lack_are_shown_by_number() -> None:
    """Chinese, Arabic and pictures do not stop the document; the attached record has them as written."""
    held = {**said(), "notes": ["中文 mixed with العربية and 😀"]}
    made = pdf(held, DEMO.read_bytes())
    assert made.startswith(b"%PDF-")


def test_word_document_has_headings_and_repeated_heads() -> None:
    """An ordinary document: heading styles, tables whose heads repeat, a footer with page fields."""
    made = word(said())
    document = Document(io.BytesIO(made))
    headings = [p.text for p in document.paragraphs if p.style.name.startswith(("Heading", "Title"))]
    assert "Immediate dangers" in headings
    assert headings.index("Immediate dangers") < headings.index("Findings, place by place")
    with zipfile.ZipFile(io.BytesIO(made)) as parts:
        body = parts.read("word/document.xml").decode()
        assert body.count("w:tblHeader") == len(document.tables)
        assert "NUMPAGES" in "".join(
            parts.read(n).decode("utf-8", "replace") for n in parts.namelist() if "footer" in n
        )
    text = "\n".join(p.text for p in document.paragraphs)
    for finding in demo().results.findings:
        assert finding.identity in text


def test_table_has_one_row_for_each_group_of_findings() -> None:
    rows = list(csv.reader(io.StringIO(findings_csv(said()).decode("utf-8-sig"))))
    ids = [one for row in rows[1:] for one in row[-1].split(", ")]
    assert sorted(ids) == sorted(finding.identity for finding in demo().results.findings)
    assert len({len(row) for row in rows}) == 1


@pytest.mark.parametrize("name", FORMATS)
def test_same_bytes_for_the_same_input(name: str) -> None:
    """Nothing of the clock, of the machine or of chance is in a document."""
    again = survey(DEMO, AS_OF)
    (one,) = [made for _, made in make(demo(), DEMO, content(demo(), asked(issued="2026-05-21")), [name])]
    (two,) = [made for _, made in make(again, DEMO, content(again, asked(issued="2026-05-21")), [name])]
    assert one == two


def test_template_of_the_paper_swallows_no_semicolon() -> None:
    """In markup a semicolon after a code expression ends it and is not printed; it has to be escaped."""
    template = (ROOT / "engine" / "asfound" / "report" / "templates" / "report.typ").read_text(encoding="utf-8")
    assert re.findall(r"#[a-z_][a-z_.]*(?:\([^()\n]*\))?;.*", template) == []
    assert "revision 1; " in plain_text(paper()) or not PDFTOTEXT


# -- the wiring map, accepted findings, what became of earlier ones

LATER, EARLIER = (ROOT / "fixtures" / "compare" / name for name in ("later.yaml", "earlier.yaml"))


@functools.cache
def later() -> dict[str, Any]:
    """The later of two records of one invented cottage, with accepted findings and the earlier record."""
    done, before = survey(LATER, "2027-06-10"), survey(EARLIER, "2027-06-10")
    file = accepted_in(done, read_accepted(ROOT / "fixtures" / "accepted.yaml"))
    return content(
        done, Asked(KINDS[0], "2027-06-10", accepted=file, since=compare(before, done), work_began="2027-05-10")
    )


def as_text(name: str, held: dict[str, Any]) -> str:
    """What a format says, as plain text."""
    if name == "html":
        return html.unescape(re.sub(r"<[^>]+>", " ", web_page(held, pictures={}).decode()))
    if name == "docx":
        return "\n".join(p.text for p in Document(io.BytesIO(word(held))).paragraphs)
    if name == "csv":
        return findings_csv(held).decode("utf-8-sig")
    return plain_text(pdf(held, LATER.read_bytes()))


@pytest.mark.parametrize("name", ["html", "docx", "csv", pytest.param("pdf", marks=needs_pdftotext)])
def test_accepted_findings_are_shown_with_reason_name_and_day(name: str) -> None:
    """An accepted finding stands in its place with its grade and caution, and says who accepts it, why, until when."""
    held = later()
    text = "".join(as_text(name, held).split())
    accepted = [f for place in held["places"] for f in place["findings"] if f["accepted"]]
    assert len(accepted) == held["accepted"]["count"] == 3
    for finding in accepted:
        for said_words in (*finding["accepted"], finding["statement"], finding["caution"]):
            assert "".join(said_words.split()) in text
    assert all("J. Specimen" in words and "until 20" in words for f in accepted for words in f["accepted"])


@pytest.mark.parametrize("name", ["html", "docx", pytest.param("pdf", marks=needs_pdftotext)])
def test_what_became_of_earlier_findings_is_a_section(name: str) -> None:
    """Every entry of the comparison stands in the document, with why, below its outcome."""
    held = later()
    text = "".join(as_text(name, held).split())
    entries = [entry for part in held["since"]["outcomes"] for entry in part["entries"]]
    assert len(entries) == sum(one["count"] for one in held["since"]["counts"])
    assert {"new", "repaired", "can no longer be seen"} <= {part["outcome"] for part in held["since"]["outcomes"]}
    for entry in entries:
        for words in (entry["statement"], *entry["sentences"]):
            assert "".join(words.split()) in text


def test_stale_acceptances_are_told() -> None:
    """A file that speaks of another record does nothing there, and every entry of it is named."""
    file = accepted_in(demo(), read_accepted(ROOT / "fixtures" / "accepted.yaml"))
    held = content(demo(), asked(accepted=file))["accepted"]
    assert held["count"] == 0
    assert len(held["stale"]) == 3
    assert "Entries that do nothing" in web_page(content(demo(), asked(accepted=file)), pictures={}).decode()


def test_wiring_map_is_in_every_document() -> None:
    """Paper has it as tagged figures with words for who does not see them; Word as pictures; the page for both widths."""
    drawn = drawings(demo())
    text = page().decode()
    assert text.count("<svg") == len(drawn) + len(each_circuit(demo()))
    with pikepdf.open(io.BytesIO(paper())) as held:
        alts = [str(one.Alt) for one in held.objects if isinstance(one, pikepdf.Dictionary) and "/Alt" in one]
    assert sorted(alts) == sorted(one.alt for one in drawn)
    with zipfile.ZipFile(io.BytesIO(word(said(), drawings=drawn))) as parts:
        pictures = [name for name in parts.namelist() if name.startswith("word/media/")]
        assert len(pictures) == len(drawn)
        for name in pictures:
            with Image.open(io.BytesIO(parts.read(name))) as picture:
                assert picture.width > 1200


def test_command_with_an_earlier_record(tmp_path: Path) -> None:
    arguments = ["--since", str(EARLIER), "--as-of", "2027-06-10", "-o", str(tmp_path), "--format", "json"]
    assert run(str(LATER), *arguments, "--accepted", str(ROOT / "fixtures" / "accepted.yaml")).exit_code == 0
    held = json.loads((tmp_path / "later-deficiency.json").read_text(encoding="utf-8"))
    assert held["since"]["records"][0]["file"].endswith("earlier.yaml")
    assert held["accepted"]["count"] == 3
    assert run(str(LATER), "--work-began", "2027-05-10").exit_code == 2
    assert run(str(LATER), "--kind", "sheet", "--only", "A 1", "--since", str(EARLIER)).exit_code == 2


def test_switching_before_the_work_is_no_work() -> None:
    """Of the log, only what changes the wiring speaks against the day on which the work is said to have begun."""
    began = "2026-05-13"
    held = content(demo(), asked(since=compare(survey(EARLIER, AS_OF), demo()), work_began=began))
    (told,) = [words for words in held["notices"] if "dated before the work began" in words]
    changed = [
        str(entry.number)
        for entry in demo().record.log
        if entry.did in ("cut", "capped", "moved", "put in", "taken out")
    ]
    assert re.findall("[0-9]+", told.split(" of this record")[0]) == changed


def test_a_rule_that_failed_gives_the_status_of_it(tmp_path: Path) -> None:
    """The documents are written, page one says it, and so does the exit status."""
    (tmp_path / "own.py").write_text(
        "from asfound.authoring import rule\n\n\n"
        '@rule("own-fails", of="box", severity="negligible", likelihood="remote", caution="Notice: none.", '
        'defer="The adopted local code and a licensed electrician decide.", source="common practice, no source", '
        'basis="common practice")\n'
        'def own_fails(box):\n    """Fails."""\n    yield from 1 / 0\n',
        encoding="utf-8",
    )
    done = run(
        str(ROOT / "fixtures" / "small.yaml"),
        "-o",
        str(tmp_path),
        "--format",
        "html",
        "--rules",
        str(tmp_path / "own.py"),
    )
    assert done.exit_code == 4, done.output
    assert "failed; their silence means nothing" in (tmp_path / "small-deficiency.html").read_text(encoding="utf-8")


# -- text that means harm

HOSTILE = [
    "<script>alert(1)</script>", "</style><img src=x onerror=alert(1)>", "{{ 7*7 }} {% for x in y %}", "#eval(\"1\") #import",
    "=cmd|' /C calc'!A0", "+1+1", "@SUM(1)", "-2+3", "a | b", "x" * 3000, "&amp;&lt;", "\u0007\u001b[31mred", "]]>", "$x$ \\ _ * `code`",
]  # fmt: skip


@functools.cache
def hostile() -> Survey:
    import tempfile

    notes = [one.replace("\u0007\u001b", "") for one in HOSTILE]
    text = json.dumps(yaml.safe_load(record_text(
        site={"name": HOSTILE[0], "kind": "dwelling", "address": HOSTILE[1], "built": 1970},
        visits={"V1": {"on": "2025-05-05", "by": HOSTILE[4], "purpose": HOSTILE[2], "scope": HOSTILE[3]}},
        panels={"A": {"where": HOSTILE[8], "breakers": {"1": {"amps": 30, "label": HOSTILE[4]}}}},
        cables={"W1": {"type": "14/2 NM-B with ground", "from": "A 1", "to": {"at": "hall", "black": "loose"}, "note": HOSTILE[13]}},
        boxes={"hall": {"kind": "nonmetallic", "volume": 18, "where": HOSTILE[9]}},
        labels=[{"on": "W1", "says": HOSTILE[12]}],
        photos=[{"file": "../../etc/passwd", "shows": HOSTILE[0]}, {"file": "a'\"><b>.jpg", "shows": "hall"}],
        notes=notes,
    )))  # fmt: skip
    folder = Path(tempfile.mkdtemp())
    (folder / "record.json").write_text(text, encoding="utf-8")
    return survey(folder / "record.json", AS_OF)


def test_markup_is_text_on_the_page() -> None:
    held = content(hostile(), asked())
    text = web_page(held, pictures={}, drawings=drawings(hostile()), narrow=each_circuit(hostile())).decode()
    assert "<script" not in text
    assert "onerror=alert(1)>" not in text.replace("&gt;", "")
    assert "&lt;script&gt;" in text
    assert "49" not in re.sub(r"[0-9a-f]{12,}", "", held["site"]["name"])
    assert not re.search("[\u202a-\u202e\u2066-\u2069\x00-\x08\x0b\x0c\x0e-\x1f]", text)


@needs_browser
def test_nothing_runs_in_a_browser(tmp_path: Path) -> None:
    """No element that the record brought is made: no script, no picture, no handler."""
    file = tmp_path / "page.html"
    file.write_bytes(
        web_page(content(hostile(), asked()), pictures={}, drawings=drawings(hostile()), narrow=each_circuit(hostile()))
    )
    dumped = browser._run("--dump-dom", file.as_uri()).decode()
    assert "<img" not in dumped
    assert "<script" not in dumped


def test_markup_is_text_on_paper() -> None:
    """The PDF is set, and what looks like code of the typesetter is not run."""
    made = pdf(content(hostile(), asked()), b"x", drawings=drawings(hostile()))
    assert made.startswith(b"%PDF-")


def test_markup_is_text_in_the_word_document() -> None:
    made = word(content(hostile(), asked()), drawings=drawings(hostile()))
    with zipfile.ZipFile(io.BytesIO(made)) as parts:
        for name in parts.namelist():
            if name.endswith((".xml", ".rels")):
                ElementTree.fromstring(parts.read(name))
    assert any("<script>" in p.text for p in Document(io.BytesIO(made)).paragraphs) or "<script>" in str(
        [cell.text for table in Document(io.BytesIO(made)).tables for row in table.rows for cell in row.cells]
    )


def test_formulas_are_text_in_tables() -> None:
    """No cell of the CSV begins like a formula, none of the spreadsheet is one (CWE-1236)."""
    held = content(hostile(), asked())
    for row in csv.reader(io.StringIO(findings_csv(held).decode("utf-8-sig"))):
        assert not [cell for cell in row if cell[:1] in ("=", "+", "-", "@", "\t", "\r")]
    with zipfile.ZipFile(io.BytesIO(workbook(held))) as parts:
        for name in parts.namelist():
            if "worksheets/" in name:
                assert b"<f>" not in parts.read(name)
                assert b"hyperlink" not in parts.read(name)


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        pytest.param("a\u202eb", "ab", id="direction"),
        pytest.param("a\nb\tc", "a b c", id="lines"),
        pytest.param("a\x00\x1bb", "ab", id="control"),
        pytest.param("a\ud800b", "a\ufffdb", id="half a character"),
        pytest.param("naïve 中 😀", "naïve 中 😀", id="letters stay"),
    ],
)
def test_clean(text: str, expected: str) -> None:
    assert clean(text) == expected


def test_long_words_can_be_broken() -> None:
    assert breakable("short words stay as they are, even when there are many of them") == (
        "short words stay as they are, even when there are many of them"
    )
    assert max(map(len, breakable("x" * 300).split("\u200b"))) <= 24


# -- photographs


def test_photographs_are_sized_and_without_location(tmp_path: Path) -> None:
    """A picture beside the record is in the page and on paper, small, turned upright, without EXIF."""
    folder = tmp_path
    text = DEMO.read_text(encoding="utf-8")
    (folder / "demo.yaml").write_text(text, encoding="utf-8")
    exif = Image.Exif()
    exif[0x0112] = 6
    exif.get_ifd(0x8825)[2] = (51.0, 30.0, 0.0)
    Image.new("RGB", (3000, 2000), "grey").save(folder / "attic-01.jpg", exif=exif)
    done = survey(folder / "demo.yaml", AS_OF)
    made = dict(make(done, folder / "demo.yaml", content(done, asked()), ["html", "pdf", "docx"]))
    (source,) = set(re.findall(rb"data:image/jpeg;base64,([A-Za-z0-9+/=]+)", made["html"]))
    import base64

    with Image.open(io.BytesIO(base64.b64decode(source))) as shown:
        assert max(shown.size) <= 1400
        assert shown.size[1] > shown.size[0]
        assert not shown.getexif()
    assert b"attic-01.jpg" in made["html"]
    assert len(made["pdf"]) > 1000


# -- the command


def run(*arguments: str) -> Any:
    return CliRunner().invoke(main, ["report", *arguments])


def test_command_writes_what_is_asked_for(tmp_path: Path) -> None:
    done = run(str(DEMO), "-o", str(tmp_path), "--as-of", AS_OF, *(f"--format={name}" for name in FORMATS))
    assert done.exit_code == 0, done.output
    assert sorted(path.suffix[1:] for path in tmp_path.iterdir()) == sorted(FORMATS)


def test_command_keeps_to_one_thing_for_a_sheet(tmp_path: Path) -> None:
    assert run(str(DEMO), "--kind", "sheet").exit_code == 2
    done = run(str(DEMO), "-o", str(tmp_path), "--kind", "sheet", "--only", "A 88")
    assert done.exit_code == 2
    assert "A 8" in done.output
    assert run(str(DEMO), "-o", str(tmp_path), "--kind", "sheet", "--only", "A 8", "--format", "html").exit_code == 0


def test_what_a_person_supplies(tmp_path: Path) -> None:
    """Issuer, number and approval come from a file; a fault in it is told with its place."""
    (tmp_path / "who.yaml").write_text("issuer: R. Example\nnumber: '14'\ntold: owner, on the day\n", encoding="utf-8")
    done = run(
        str(DEMO), "-o", str(tmp_path), "--with", str(tmp_path / "who.yaml"), "--format", "html", "--as-of", AS_OF
    )
    assert done.exit_code == 0
    text = (tmp_path / "demo-deficiency.html").read_text(encoding="utf-8")
    assert "owner, on the day" in text
    (tmp_path / "bad.yaml").write_text("isuer: R. Example\n", encoding="utf-8")
    done = run(str(DEMO), "-o", str(tmp_path), "--with", str(tmp_path / "bad.yaml"))
    assert done.exit_code == 3
    assert "bad.yaml line 1" in done.output
    assert "issuer" in done.output


def test_approval_of_another_state_is_told(tmp_path: Path) -> None:
    held = approved(said(), record="0" * 64)
    (tmp_path / "who.json").write_text(json.dumps(held), encoding="utf-8")
    done = run(
        str(DEMO), "-o", str(tmp_path), "--with", str(tmp_path / "who.json"), "--format", "html", "--as-of", AS_OF
    )
    assert "another state of the record" in done.output
    (tmp_path / "who.json").write_text(json.dumps(approved(said(KINDS[1]))), encoding="utf-8")
    arguments = [
        str(DEMO),
        "-o",
        str(tmp_path),
        "--with",
        str(tmp_path / "who.json"),
        "--format",
        "csv",
        "--as-of",
        AS_OF,
    ]
    done = run(*arguments)
    assert "the approval is of another document" in done.output
    assert said()["fingerprint"] in done.output
    done = run(*arguments, "--kind", "before work", "--issued", "2026-05-20")
    assert done.exit_code == 2
    assert "cannot be issued before" in done.output
    assert "Draft." in (tmp_path / "demo-deficiency.html").read_text(encoding="utf-8")


def test_blanks_are_named_by_what_can_be_supplied() -> None:
    """Every blank that can be filled from a file names a field of it, and the schema knows each."""
    words = data("documents")
    schema = json.loads((ROOT / "schemas" / "asfound_schemas" / "supplied.schema.json").read_text(encoding="utf-8"))
    fields = set(schema["properties"])
    assert set(words["supplied"]) <= fields
    named = {name for kind in words["kinds"].values() for blank in kind["blanks"] for name in blank.get("from", ())}
    assert named - {"approval"} <= set(words["supplied"])
