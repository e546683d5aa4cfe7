"""Whole records: each defect is found and nothing else is accused; what only looks wrong gives nothing."""

from __future__ import annotations

from pathlib import Path

import pytest

from asfound.plugins import collect
from asfound.survey import survey

FIXTURES = Path(__file__).parent.parent / "fixtures"
AS_OF = "2026-05-20"
DEFECTS = sorted((FIXTURES / "defects").glob("*.yaml"))
# Rules that have their cases and no whole record of their own yet.
NOT_YET: set[str] = set()
LAWFUL = sorted((FIXTURES / "lawful").glob("*.yaml"))


def expected(path: Path) -> set[tuple[str, str, str]]:
    """The `# expect: rule | item | certainty` lines at the top of a record."""
    lines = [line for line in path.read_text(encoding="utf-8").splitlines() if line.startswith("# expect:")]
    parts = [[part.strip() for part in line.removeprefix("# expect:").split("|")] for line in lines]
    return {(rule, at, sure) for rule, at, sure in parts}


def as_of(path: Path) -> str:
    """The date a record is judged by: `# as of:` at its top, or the usual one."""
    for line in path.read_text(encoding="utf-8").splitlines():
        if line.startswith("# as of:"):
            return line.removeprefix("# as of:").strip()
    return AS_OF


@pytest.mark.parametrize("path", DEFECTS, ids=lambda path: path.stem)
def test_defect_is_found_and_nothing_else_is_accused(path: Path) -> None:
    results = survey(path, as_of(path)).results
    assert results.failed == []
    found = {(f.rule.name, f.at, f.certainty) for f in results.findings}
    wanted = expected(path)
    assert wanted, "no expect line"
    assert wanted <= found
    assert {f for f in found if f[2] != "possible"} == {w for w in wanted if w[2] != "possible"}


@pytest.mark.parametrize("path", LAWFUL, ids=lambda path: path.stem)
def test_what_only_looks_wrong_gives_no_defect(path: Path) -> None:
    text = path.read_text(encoding="utf-8")
    assert text.startswith("#"), "the first line says what looks wrong and why it is not"
    results = survey(path, as_of(path)).results
    assert results.failed == []
    assert [(f.rule.name, f.at, f.statement) for f in results.findings] == []
    assert results.totals["clear"] > 0


def test_there_is_a_whole_record_for_every_rule() -> None:
    """As it would be met in the field, not a snippet."""
    shown = {rule for path in DEFECTS for rule, _, _ in expected(path)}
    shown |= {finding.rule.name for finding in survey(FIXTURES / "demo.yaml", AS_OF).results.findings}
    assert {rule.name for rule in collect().rules} - shown <= NOT_YET


def test_enough_lawful_records() -> None:
    assert len(LAWFUL) >= 25


@pytest.mark.parametrize("path", [*DEFECTS, *LAWFUL], ids=lambda path: path.stem)
def test_records_are_invented_and_whole(path: Path) -> None:
    text = path.read_text(encoding="utf-8")
    assert "\ninvented: true\n" in text
    for part in ("site:", "visits:", "panels:", "cables:"):
        assert f"\n{part}" in text
