"""Documents: what they say, in which form, and that nothing in a record can harm who opens them.

The points a report has to hold follow ISO/IEC 17020:2012 7.4 and ISO/IEC 17025:2017 7.8 (as quoted in public, seen).
"""

from __future__ import annotations

import csv
import functools
import io
import json
import re
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
from asfound.command import main
from asfound.data import data
from asfound.report.clean import breakable, clean
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


def test_draft_until_this_very_record_is_approved() -> None:
    """An approval of another state of the record does not count."""
    sha = demo().record.document.sha256
    approval = {"by": "R. Example", "on": "2026-05-21", "record": sha}
    assert said()["draft"]
    assert not content(demo(), asked(supplied={"approval": approval}))["draft"]
    assert content(demo(), asked(supplied={"approval": {**approval, "record": "0" * 64}}))["draft"]


def test_nothing_says_that_it_is_safe() -> None:
    """No document calls anything safe, passed or approved by itself."""
    for kind in KINDS[:2]:
        text = json.dumps(said(kind))
        assert not re.search(r"\b(is|are) safe\b|\bpassed\b|\bno hazard", text)


def test_record_before_the_work_says_whose_it_is_not() -> None:
    """Not caused by the work, not part of it, with lines for owner and contractor."""
    held = said(KINDS[1])
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


def test_sheet_of_something_that_is_not_there() -> None:
    with pytest.raises(KeyError):
        content(demo(), Asked("sheet", AS_OF, only="A 88"))


def test_no_path_of_the_machine_is_in_it() -> None:
    assert str(ROOT) not in json.dumps(said())


# -- the formats


@functools.cache
def page() -> bytes:
    return web_page(said(), pictures={})


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
    assert browser.width_needed(web_page(long, pictures={}), tmp_path, width) <= max(width, 500)


@functools.cache
def paper() -> bytes:
    return pdf(said(), DEMO.read_bytes())


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


@pytest.mark.skipif(not __import__("shutil").which("pdftotext"), reason="poppler-utils is not installed here")
def test_paper_says_page_x_of_y_and_every_finding(tmp_path: Path) -> None:
    file = tmp_path / "report.pdf"
    file.write_bytes(paper())
    text = subprocess.run(["pdftotext", "-layout", str(file), "-"], capture_output=True, check=True, text=True).stdout
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
    (one,) = [made for _, made in make(demo(), DEMO, asked(issued="2026-05-21"), [name])]
    (two,) = [made for _, made in make(survey(DEMO, AS_OF), DEMO, asked(issued="2026-05-21"), [name])]
    assert one == two


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
    text = web_page(held, pictures={}).decode()
    assert "<script" not in text
    assert "onerror=alert(1)>" not in text.replace("&gt;", "")
    assert "&lt;script&gt;" in text
    assert "49" not in re.sub(r"[0-9a-f]{12,}", "", held["site"]["name"])
    assert not re.search("[\u202a-\u202e\u2066-\u2069\x00-\x08\x0b\x0c\x0e-\x1f]", text)


@needs_browser
def test_nothing_runs_in_a_browser(tmp_path: Path) -> None:
    """No element that the record brought is made: no script, no picture, no handler."""
    file = tmp_path / "page.html"
    file.write_bytes(web_page(content(hostile(), asked()), pictures={}))
    dumped = browser._run("--dump-dom", file.as_uri()).decode()
    assert "<img" not in dumped
    assert "<script" not in dumped


def test_markup_is_text_on_paper() -> None:
    """The PDF is set, and what looks like code of the typesetter is not run."""
    made = pdf(content(hostile(), asked()), b"x")
    assert made.startswith(b"%PDF-")


def test_markup_is_text_in_the_word_document() -> None:
    made = word(content(hostile(), asked()))
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
    made = dict(make(done, folder / "demo.yaml", asked(), ["html", "pdf", "docx"]))
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
    held = {"approval": {"by": "R. Example", "on": "2026-05-21", "record": "0" * 64}}
    (tmp_path / "who.json").write_text(json.dumps(held), encoding="utf-8")
    done = run(
        str(DEMO), "-o", str(tmp_path), "--with", str(tmp_path / "who.json"), "--format", "html", "--as-of", AS_OF
    )
    assert "another state of the record" in done.output
    assert "Draft." in (tmp_path / "demo-deficiency.html").read_text(encoding="utf-8")


def test_blanks_are_named_by_what_can_be_supplied() -> None:
    """Every blank that can be filled from a file names a field of it, and the schema knows each."""
    words = data("documents")
    schema = json.loads((ROOT / "schemas" / "asfound_schemas" / "supplied.schema.json").read_text(encoding="utf-8"))
    fields = set(schema["properties"])
    assert set(words["supplied"]) <= fields
    assert {b["from"] for kind in words["kinds"].values() for b in kind["blanks"] if "from" in b} <= set(
        words["supplied"]
    )
