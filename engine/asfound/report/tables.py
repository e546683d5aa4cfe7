"""The findings as a table: CSV, and a spreadsheet with one sheet each for findings, questions, circuits and readings.

A cell whose text begins like a formula is text all the same: in CSV it gets an
apostrophe before it, in the spreadsheet it is written as a string.
"""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Iterator, Mapping
from datetime import datetime
from typing import Any

import xlsxwriter

HEAD = (
    "number",
    "grade",
    "certainty",
    "place",
    "room",
    "title",
    "statement",
    "caution",
    "next",
    "would settle it",
    "evidence",
    "compared with",
    "local code",
    "rule",
    "revision",
    "source",
    "basis",
    "accepted",
    "before the work",
    "document",
    "findings",
)
FORMULA = ("=", "+", "-", "@", "\t", "\r")
MOST_CHARACTERS = 32_000
"""What a cell of a spreadsheet holds, a little under the 32,767 of its format."""


def findings_csv(content: Mapping[str, Any]) -> bytes:
    """The findings as CSV (RFC 4180), UTF-8 with a byte-order mark so that spreadsheet programs read it right."""
    out = io.StringIO(newline="")
    writer = csv.writer(out, lineterminator="\r\n")
    writer.writerow(HEAD)
    for row in _rows(content):
        writer.writerow([_harmless(cell) for cell in row])
    return b"\xef\xbb\xbf" + out.getvalue().encode("utf-8", "replace")


def workbook(content: Mapping[str, Any]) -> bytes:
    """The spreadsheet as .xlsx."""
    out = io.BytesIO()
    book = xlsxwriter.Workbook(
        out, {"in_memory": True, "strings_to_formulas": False, "strings_to_urls": False, "strings_to_numbers": False}
    )
    day = datetime.fromisoformat(content["issued"] or content["as_of"])
    book.set_properties({"title": f"{content['title']}: {content['site']['name']}", "created": day})
    head = book.add_format({"bold": True, "text_wrap": True, "valign": "top", "bottom": 1})
    plain = book.add_format({"text_wrap": True, "valign": "top"})
    for name, titles, rows, widths in _sheets(content):
        sheet = book.add_worksheet(name)
        sheet.freeze_panes(1, 0)
        sheet.repeat_rows(0)
        sheet.set_landscape()
        sheet.fit_to_pages(1, 0)
        sheet.set_footer("&Rpage &P of &N")
        for column, title in enumerate(titles):
            sheet.write_string(0, column, title, head)
            sheet.set_column(column, column, widths.get(title, 14))
        last = 0
        for last, row in enumerate(rows, 1):
            for column, cell in enumerate(row):
                sheet.write_string(last, column, str(cell)[:MOST_CHARACTERS], plain)
        sheet.autofilter(0, 0, max(last, 1), len(titles) - 1)
    book.close()
    return out.getvalue()


Sheet = tuple[str, tuple[str, ...], Iterable[tuple[Any, ...]], dict[str, int]]


def _sheets(content: Mapping[str, Any]) -> Iterator[Sheet]:
    wide = {
        "statement": 50,
        "caution": 40,
        "evidence": 50,
        "place": 26,
        "source": 30,
        "local code": 36,
        "title": 26,
        "between": 34,
        "cables": 30,
        "places": 34,
        "devices": 40,
        "note": 30,
        "to what": 26,
    }
    versions, site = content["versions"], content["site"]
    about = {
        "document": content["title"],
        "state": "draft" if content["draft"] else f"approved as a document by {content['approval']['by']}",
        "place": f"{site['name']}{' (invented record)' if site['invented'] else ''}",
        "address": site["address"],
        "number": content["number"],
        "date of issue": content["issued"],
        "visits": "; ".join(f"{one['tag']}: {one['on']}, {one['by']}" for one in content["visits"]),
        "judged as of": content["as_of"],
        "statement": content["statement"],
        "record": f"{versions['record']}, SHA-256 {versions['sha256']}",
        "fingerprint": content["fingerprint"],
        "made with": ", ".join([f"asfound {versions['asfound']}", f"{versions['rules']} rules", *versions["packs"]]),
    }
    yield "about", ("what", "this document"), about.items(), {"what": 20, "this document": 110}
    yield "findings", HEAD, _rows(content), wide
    yield (
        "not seen",
        ("what", "why", "to see it", "open for it"),
        (
            *((one["what"], one["why"], "", f"visit {one['visit']}, {one['on']}") for one in content["not_inspected"]),
            *(
                (f"{one['fact']} of {', '.join(one['of'])}", one["reason"], one["observe"], ", ".join(one["rules"]))
                for one in content["open"]["facts"]
            ),
        ),
        {"what": 60, "why": 40, "to see it": 50, "open for it": 40},
    )
    yield (
        "circuits",
        ("breaker", "rating", "label found", "cables", "places", "devices", "state of its conductors"),
        (
            (
                one["breaker"],
                one["amps"],
                one["label"],
                ", ".join(one["cables"]),
                ", ".join(one["boxes"]),
                "; ".join(one["devices"]),
                "; ".join(f"{count} {state}" for state, count in one["states"].items()),
            )
            for one in content["circuits"]
        ),
        wide,
    )
    yield (
        "readings",
        ("reading", "when", "what", "between", "shown", "instrument", "under load", "by", "note"),
        (
            (
                one["tag"],
                one["at"],
                one["kind"],
                " and ".join(one["between"]),
                one["value"],
                one["instrument"],
                one["load"],
                one["by"],
                one["note"],
            )
            for one in content["readings"]
        ),
        wide,
    )
    since = content["since"]
    if since is not None:
        yield (
            "since earlier",
            ("outcome", "place", "grade", "statement", "how it came to be", "caution", "local code"),
            (
                (
                    part["outcome"],
                    one["place"],
                    one["graded"],
                    one["statement"],
                    " ".join(one["sentences"]),
                    one["caution"],
                    one["local_code"],
                )
                for part in since["outcomes"]
                for one in part["entries"]
            ),
            {**wide, "how it came to be": 60},
        )
    yield (
        "log",
        ("entry", "when", "done", "to what", "by", "readings", "note"),
        (
            (
                one["number"],
                one["at"],
                f"{one['did']} {one['to']}".strip(),
                ", ".join(one["what"]),
                one["by"],
                ", ".join(one["readings"]),
                one["note"],
            )
            for one in content["log"]
        ),
        wide,
    )


def _rows(content: Mapping[str, Any]) -> Iterator[tuple[str, ...]]:
    document = (
        f"{'draft, ' if content['draft'] else ''}judged as of {content['as_of']}, record SHA-256 "
        f"{content['versions']['sha256']}; approves nothing"
    )
    for place in (*content["places"], *content["after"]):
        for one in place["findings"]:
            yield _row(place["name"], place["room"], one, document)
    for question in content["questions"]:
        for one in question["findings"]:
            yield _row(", ".join(dict.fromkeys(one["at"])), "", one, document)


def _row(place: str, room: str, one: Mapping[str, Any], document: str) -> tuple[str, ...]:
    evidence = "; ".join(held["words"] for held in one["evidence"])
    rows = "; ".join(held["words"] for held in one["rows"])
    settle = "; ".join(f"{held['observe']} ({held['fact']} of {held['item']})" for held in one["settle"])
    return (
        str(one["number"]),
        one["grade"],
        one["certainty"],
        place,
        room,
        one["title"],
        one["statement"],
        one["caution"],
        one["next"],
        settle,
        evidence,
        rows,
        one["local_code"],
        one["rule"],
        str(one["revision"]),
        one["source"],
        one["basis"],
        " ".join(one["accepted"]),
        one["before"],
        document,
        ", ".join(one["ids"]),
    )


def _harmless(cell: str) -> str:
    return f"'{cell}" if cell.startswith(FORMULA) else cell
