"""The generated pages under rules/pages are current."""

from __future__ import annotations

from pathlib import Path

from asfound.judge.tables import TableSet
from asfound.plugins import collect
from asfound.render.rulebook import rulebook

PAGES = Path(__file__).parent.parent / "rules" / "pages"


def test_pages_are_what_the_code_gives_today() -> None:
    """Run `asfound explain --pages rules/pages` after changing a rule, its cases or its tables."""
    collected = collect()
    newest = max(edition.effective for table in collected.tables for edition in table.editions)
    book = rulebook(collected.rules, TableSet(collected.tables, newest))
    written = {str(path.relative_to(PAGES)): path.read_text(encoding="utf-8") for path in PAGES.rglob("*.md")}
    assert sorted(written) == sorted(book)
    stale = [name for name, text in book.items() if written[name] != text]
    assert stale == []


def test_every_rule_is_in_the_index() -> None:
    index = (PAGES / "index.md").read_text(encoding="utf-8")
    for rule in collect().rules:
        assert f"[{rule.name}]({rule.topic}/{rule.name}.md)" in index
