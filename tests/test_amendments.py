"""Local amendments change rows and grades, are named wherever they do, and never before their date."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from asfound.judge.amend import read_amendment
from asfound.judge.rules import BadRule
from asfound.survey import survey

FIXTURES = Path(__file__).parent.parent / "fixtures"
AMENDMENTS = FIXTURES / "amendments.yaml"
TWELVE = """\
asfound: 1
site: {name: Invented hut}
supply: 120/240 split phase
panels: {A: {breakers: {1: 20}}}
boxes: {shed: {kind: no box}}
cables:
  W1: {type: 12/2 NM-B with ground, from: A 1, to: shed}
  W2: {type: 12/2 NM-B with ground, from: shed, to: lamp}
joints:
  J1: {at: shed, ends: [W1 black, W2 black], connector: twist-on}
  J2: {at: shed, ends: [W1 white, W2 white], connector: twist-on}
  J3: {at: shed, ends: [W1 bare, W2 bare], connector: twist-on}
devices: {lamp: {kind: luminaire, wired_to: W2}}
"""


@pytest.fixture
def hut(tmp_path: Path) -> Path:
    path = tmp_path / "hut.yaml"
    path.write_text(TWELVE)
    return path


def test_a_changed_row_is_used_and_carries_the_name_of_the_amendment(hut: Path) -> None:
    without = survey(hut, "2026-05-20").results
    with_it = survey(hut, "2026-05-20", amended=[AMENDMENTS]).results
    assert not [f for f in without.findings if f.rule.name == "conductor-too-small"]
    found = [f for f in with_it.findings if f.rule.name == "conductor-too-small"]
    assert found
    row = next(row for row in found[0].rows if row.key == "copper/12")
    assert (row.value, row.edition, row.basis) == (15, "Millwater town amendments", "local amendment")


def test_a_grade_is_raised_with_its_reason_and_severity_stays(hut: Path) -> None:
    plain = next(f for f in survey(hut, "2026-05-20").results.findings if f.rule.name == "splice-outside-box")
    raised = next(
        f
        for f in survey(hut, "2026-05-20", amended=[AMENDMENTS]).results.findings
        if f.rule.name == "splice-outside-box"
    )
    assert (plain.grade, raised.grade) == ("first", "hands off")
    assert raised.grade_note.startswith("raised from first by Millwater town amendments:")
    assert (plain.identity, plain.risk, plain.certainty) == (raised.identity, raised.risk, raised.certainty)


def test_before_its_date_it_changes_nothing(hut: Path) -> None:
    before = survey(hut, "2023-12-31", amended=[AMENDMENTS]).results
    assert not [f for f in before.findings if f.rule.name == "conductor-too-small"]
    assert all(f.grade_note == "" for f in before.findings)


HEAD = "amendment: X\neffective: '2024-01-01'\n"


@pytest.mark.parametrize(
    ("text", "words"),
    [
        pytest.param(HEAD, "'source' is missing", id="no source"),
        pytest.param("amendment: X\neffective: soon\nsource: y\n", "is not a date", id="no date"),
        pytest.param(f"{HEAD}source: y\ntabels: {{}}\n", "did you mean 'tables'", id="typo"),
        pytest.param(f"{HEAD}source: y\ngrades: {{a: {{raise: 9, why: z}}}}\n", "is not 1, 2 or 3", id="too far"),
        pytest.param(f"{HEAD}source: y\ngrades: {{a: {{raise: 1}}}}\n", "why: reason", id="no reason"),
    ],
)
def test_a_bad_file_is_refused_with_a_sentence(tmp_path: Path, text: str, words: str) -> None:
    path = tmp_path / "local.yaml"
    path.write_text(text)
    with pytest.raises(BadRule, match=words.replace("(", r"\(")):
        read_amendment(path)


@pytest.mark.parametrize(
    "part", ["tables: {largest braker: {copper/12: 15}}", "grades: {splice-outside-bx: {raise: 1, why: z}}"]
)
def test_an_amendment_of_nothing_is_refused(hut: Path, tmp_path: Path, part: str) -> None:
    path = tmp_path / "local.yaml"
    path.write_text(f"amendment: X\neffective: '2024-01-01'\nsource: y\n{part}\n")
    with pytest.raises(BadRule, match=r"did you mean|there is none"):
        survey(hut, "2026-05-20", amended=[path])


def test_it_is_named_in_both_outputs(hut: Path) -> None:
    from test_command import run

    text = run("check", str(hut), "--as-of", "2026-05-20", "--amend", str(AMENDMENTS)).stdout
    assert "Local amendments: Millwater town amendments, from 2024-01-01 (in force)" in " ".join(text.split())
    out = run("check", str(hut), "--as-of", "2020-01-01", "--amend", str(AMENDMENTS), "--format", "json").stdout
    held = json.loads(out)["run"]["amendments"]
    assert [(one["name"], one["in_force"]) for one in held] == [("Millwater town amendments", False)]
