"""`asfound compare` and accepted findings, from the command line, on whole invented records."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import jsonschema
import pytest
from click.testing import CliRunner

from asfound.command import main
from asfound_schemas import schema

FIXTURES = Path(__file__).parents[1] / "fixtures"
AS_OF = ("--as-of", "2026-05-20")
EARLIER, LATER = FIXTURES / "compare" / "earlier.yaml", FIXTURES / "compare" / "later.yaml"


def run(*arguments: Any) -> Any:
    return CliRunner().invoke(main, list(map(str, arguments)))


def compared(one: Path, two: Path) -> dict[str, Any]:
    done = run("compare", one, two, *AS_OF, "--format", "json")
    assert done.exit_code in (0, 1), done.output
    held: dict[str, Any] = json.loads(done.output)
    jsonschema.validate(held, schema("comparison"))
    return held


RECORDS = [FIXTURES / "demo.yaml", FIXTURES / "small.yaml", *sorted((FIXTURES / "defects").glob("*.yaml"))[::40]]


@pytest.mark.parametrize("path", RECORDS, ids=lambda path: path.stem)
def test_a_record_beside_itself_is_all_still_there(path: Path) -> None:
    """Nothing is new, repaired or gone between a record and itself."""
    held = compared(path, path)
    assert {one["outcome"] for one in held["findings"]} <= {"still there"}
    assert run("compare", path, path, *AS_OF).exit_code == 0


def test_a_house_before_and_after_the_work() -> None:
    """The invented pair has every outcome, and something new gives exit status 1."""
    held = compared(EARLIER, LATER)
    outcomes = [one["outcome"] for one in held["findings"]]
    assert {"new", "repaired", "still there", "can no longer be seen", "no longer there", "changed"} <= set(outcomes)
    done = run("compare", EARLIER, LATER, *AS_OF)
    assert done.exit_code == 1
    assert max(map(len, done.output.splitlines())) <= 80


def test_the_other_way_round_nothing_is_called_repaired_for_silence() -> None:
    """With the later record first, what it did not see is not called repaired by the earlier one."""
    forward = {one["outcome"] for one in compared(EARLIER, LATER)["findings"]}
    backward = {one["outcome"] for one in compared(LATER, EARLIER)["findings"]}
    assert forward
    assert backward


def test_refused_record_is_told(tmp_path: Path) -> None:
    (tmp_path / "bad.yaml").write_text("asfound: 1\n", encoding="utf-8")
    done = run("compare", EARLIER, tmp_path / "bad.yaml", *AS_OF)
    assert done.exit_code == 3
    assert "bad.yaml" in done.output


# -- accepted findings


def of_small(folder: Path, text: str) -> Any:
    file = folder / "accepted.yaml"
    file.write_text(text, encoding="utf-8")
    return run("check", FIXTURES / "small.yaml", *AS_OF, "--accepted", file)


FINDING = "e5fabefa3543"
ENTRY = """accepted:
  - {finding: %s, reason: owner will rewire in autumn, by: R. Example, until: 2026-12-31}
"""


def test_accepted_is_shown_with_its_reason_and_does_not_count(tmp_path: Path) -> None:
    """The finding stays where it stands, with grade and caution; the exit status goes by the others."""
    done = of_small(tmp_path, ENTRY % FINDING)
    assert FINDING in done.output
    assert "owner will rewire in autumn" in done.output
    assert "Warning: an overloaded conductor" in done.output
    assert done.exit_code == 0


def test_accepted_until_yesterday_counts_again(tmp_path: Path) -> None:
    done = of_small(tmp_path, (ENTRY % FINDING).replace("2026-12-31", "2026-05-19"))
    assert done.exit_code == 1
    assert "2026-05-19" in done.output


def test_an_entry_for_nothing_is_told(tmp_path: Path) -> None:
    done = of_small(tmp_path, ENTRY % "0123456789ab")
    assert done.exit_code == 1
    assert "0123456789ab" in done.output


def test_a_misspelt_entry_is_refused(tmp_path: Path) -> None:
    done = of_small(tmp_path, (ENTRY % FINDING).replace("reason", "raeson"))
    assert done.exit_code in (2, 3)
    assert "accepted.yaml line 2" in done.output
