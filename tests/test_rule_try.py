"""`asfound rule try`: why a rule did or did not fire, step by step, in every world. Everything here is invented."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner, Result

from asfound.command import main
from asfound.judge.tables import Row
from asfound.kit.trial import AskStep, EndStep, ReadStep, SayStep, Trial, items_for, tried_on
from asfound.plugins import collect
from asfound.survey import survey
from records import TODAY, record_text
from test_rule_test import FORM, RULE, put

FORMS = pytest.mark.parametrize(
    ("text", "file"), [pytest.param(RULE, "own.py", id="Python"), pytest.param(FORM, "own.rules.yaml", id="YAML")]
)
BOXES: dict[str, Any] = {
    "small": {"kind": "nonmetallic", "volume": 11},
    "big": {"kind": "nonmetallic", "volume": 18},
    "perhaps": {"kind": "nonmetallic", "volume": "11 or 12"},
    "by eye": {"kind": {"is": "nonmetallic", "how": "by eye"}, "volume": 11},
    "hidden": {"kind": "nonmetallic", "volume": {"not_seen": "behind a cupboard"}},
    "open": {"kind": "no box"},
}


def record(folder: Path, boxes: dict[str, Any] = BOXES) -> Path:
    file = folder / "house.yaml"
    file.write_text(record_text(boxes=boxes))
    return file


def trials(folder: Path, text: str, file: str) -> dict[str, Trial]:
    """The rule in this form, tried on every box, by tag."""
    rules = put(folder / "rules", rule=text, file=file)
    collected = collect([rules])
    rule = collected.rule("own-rule")
    done = survey(record(folder), TODAY, collected=replace(collected, rules=(rule,)))
    return {item.tag: tried_on(rule, item, done) for item in items_for(rule, done)}


def run(*arguments: object) -> Result:
    return CliRunner().invoke(main, ["rule", "try", *map(str, arguments)])


# -- the steps


@FORMS
def test_steps_stand_in_the_order_in_which_they_happen(tmp_path: Path, text: str, file: str) -> None:
    """Read, asked, read, looked up, asked, said: the same of both forms of one rule."""
    (world,) = trials(tmp_path, text, file)["small"].worlds
    kinds = [type(step) for step in world.steps]
    assert kinds == [ReadStep, AskStep, ReadStep, Row, AskStep, SayStep]
    kind, limit, volume, row, less, said = world.steps
    assert isinstance(kind, ReadStep)
    assert (kind.fact, kind.item, kind.value, kind.by, kind.on) == (
        "kind",
        "small",
        "nonmetallic",
        "A. Example",
        "2025-05-05",
    )
    assert isinstance(limit, AskStep)
    assert (limit.text, limit.went) == ('box.kind != "no box"', "holds")
    assert isinstance(volume, ReadStep)
    assert (volume.value, volume.unit) == ("11", "in³")
    assert isinstance(row, Row)
    assert (row.table, row.key, row.value) == ("own limit", "volume", 12)
    assert isinstance(less, AskStep)
    assert less.went == "true"
    assert isinstance(said, SayStep)
    assert said.says == "small: 11 in³."


@FORMS
def test_lines_lead_to_the_record(tmp_path: Path, text: str, file: str) -> None:
    """Each fact names the line it is written in."""
    found = trials(tmp_path, text, file)["small"]
    lines = record(tmp_path).read_text().splitlines()
    read = {step.fact: step.line for step in found.worlds[0].steps if isinstance(step, ReadStep)}
    assert "volume: 11" in lines[read["volume"] - 1]
    assert "kind: nonmetallic" in lines[read["kind"] - 1]


@FORMS
def test_every_item_comes_out_for_its_reason(tmp_path: Path, text: str, file: str) -> None:
    """The outcome as a report counts it, and why, in a sentence."""
    found = trials(tmp_path, text, file)
    assert {tag: trial.words for tag, trial in found.items()} == {
        "small": "defect, confirmed: first", "big": "clear", "perhaps": "possible: in turn",
        "by eye": "defect, likely: first", "hidden": "cannot tell", "open": "does not apply",
    }  # fmt: skip
    assert "every fact read was observed" in found["small"].why
    assert "resting on what is weakly known: kind of by eye" in found["by eye"].why
    assert "Found in 1 of 2 worlds" in found["perhaps"].why
    assert found["hidden"].why == "It hangs on what is not known: volume of hidden."
    assert 'box.kind != "no box" does not hold' in found["open"].why
    assert "the last it asked was line" in found["big"].why
    assert found["big"].why.endswith(": false.")


@FORMS
def test_each_world_tells_where_it_departs_from_the_record(tmp_path: Path, text: str, file: str) -> None:
    """Two values of one fact are two worlds, the second named by its value."""
    worlds = trials(tmp_path, text, file)["perhaps"].worlds
    assert [world.departs for world in worlds] == [(), (("volume of perhaps", "12"),)]
    assert [world.outcome for world in worlds] == ["defect", "clear"]


@FORMS
def test_the_end_of_a_run_is_told(tmp_path: Path, text: str, file: str) -> None:
    """A fact that was not seen, with its reason; a condition that keeps the item out."""
    found = trials(tmp_path, text, file)
    assert found["hidden"].worlds[0].steps[-1] == EndStep("volume of hidden is missing: behind a cupboard")
    assert found["open"].worlds[0].steps[-1] == EndStep("the rule does not apply here")


def test_a_default_is_told_as_such(tmp_path: Path) -> None:
    """What `given` takes an absent fact for stands with the fact, once."""
    text = RULE.replace("box.volume <", "given(box, 'added_volume', 0) + box.volume <")
    steps = trials(tmp_path, text, "own.py")["small"].worlds[0].steps
    notes = [step.note for step in steps if isinstance(step, ReadStep) and step.fact == "added volume"]
    assert notes == ["not recorded; taken as 0"]


def test_a_rule_that_raises_is_shown_up_to_there(tmp_path: Path) -> None:
    """The steps it came to, and the error."""
    trial = trials(tmp_path, RULE.replace("    if box", "    1 / 0\n    if box"), "own.py")["small"]
    assert (trial.words, trial.error) == ("rule failed", "ZeroDivisionError: division by zero (own.py line 20)")
    assert [type(step) for step in trial.worlds[0].steps] == [ReadStep, AskStep, EndStep]


def test_two_findings_of_one_cause_are_a_failed_rule(tmp_path: Path) -> None:
    """As in a report: what cannot be told apart is not shown as two."""
    text = RULE + '        yield f"{box.words}: again."\n'
    trial = trials(tmp_path, text, "own.py")["small"]
    assert trial.words == "rule failed"
    assert "give each its own cause" in trial.why


def test_the_outcome_is_that_of_the_report(tmp_path: Path) -> None:
    """A built-in rule on the demo record: the same certainty and grade for each item as `asfound check` gives."""
    collected = collect()
    rule = collected.rule("conductor-too-small")
    demo = Path(__file__).parent.parent / "fixtures" / "demo.yaml"
    done = survey(demo, TODAY, collected=replace(collected, rules=(rule,)))
    shown = {
        (finding.identity, finding.certainty, finding.grade)
        for item in items_for(rule, done)
        for finding in tried_on(rule, item, done).findings
    }
    assert shown == {(finding.identity, finding.certainty, finding.grade) for finding in done.results.findings}
    assert shown


# -- the command


def test_one_item_step_by_step(tmp_path: Path) -> None:
    """Within 80 columns, the facts with their lines, the other world, the result and what would settle it."""
    rules = put(tmp_path / "rules")
    done = run("own-rule", record(tmp_path), "--item", "perhaps", "--rules", rules)
    assert done.exit_code == 0
    assert max(map(len, done.output.splitlines())) <= 80
    flat = " ".join(done.output.split())
    assert 'asks line 19, only_if box.kind != "no box": holds' in flat
    assert "volume of perhaps: 11 in³ (line " in flat
    assert "listed, can also be 12" in flat
    assert "row own limit, volume: 12 in³ (house rule; invented)" in flat
    assert "-- 1 OTHER WORLD ---" in done.output
    assert "volume of perhaps is 12: clear" in flat
    assert "Would settle it: volume of perhaps (11 or 12)" in flat


def test_all_items_in_a_list(tmp_path: Path) -> None:
    """Counted, those found first, the quiet ones together by their reason; never called clear without a word."""
    done = run("own-rule", record(tmp_path), "--rules", put(tmp_path / "rules"))
    assert done.exit_code == 0
    assert max(map(len, done.output.splitlines())) <= 80
    lines = done.output.splitlines()
    assert "own-rule on 6 box items" in lines
    assert any(line.startswith("small ") and line.endswith(" defect, confirmed: first") for line in lines)
    assert "    big" in lines
    assert "Missing: volume (behind a cupboard)." in lines
    assert "Clear is no all-clear: one rule looked at what was recorded." in lines


@pytest.mark.parametrize(
    ("rule", "boxes", "more", "status", "words"),
    [
        pytest.param("own-rul", BOXES, (), 2, "did you mean 'own-rule'", id="no such rule"),
        pytest.param("own-rule", BOXES, ("--item", "smal"), 2, "did you mean 'small'", id="no such item"),
        pytest.param("own-rule", BOXES, ("--item", "big"), 0, "This is no all-clear", id="clear"),
        pytest.param("own-rule", {"small": BOXES["small"]}, (), 0, "AS RECORDED", id="the only item is shown"),
        pytest.param("own-rule", {}, (), 5, "holds no box", id="nothing to look at"),
        pytest.param("own-rule", {"small": {"kind": "nonmetallic", "volum": 1}}, (), 3, "Nothing was tried", id="record refused"),
        pytest.param("failing", BOXES, (), 4, "rule failed", id="rule fails"),
    ],
)  # fmt: skip
def test_exit_status(
    tmp_path: Path, rule: str, boxes: dict[str, Any], more: tuple[str, ...], status: int, words: str
) -> None:
    """As documented in the help of the command."""
    rules = put(tmp_path / "rules")
    put(
        tmp_path / "rules",
        rule=RULE.replace("own-rule", "failing").replace("    if box", "    1 / 0\n    if box"),
        file="failing.py",
    )
    done = run(rule, record(tmp_path, boxes), "--rules", rules.parent, *more)
    assert (done.exit_code, words in " ".join(done.output.split())) == (status, True), done.output


def test_a_retired_rule_names_what_replaced_it(tmp_path: Path) -> None:
    """As the pack of the invented training centre has it."""
    pack = Path(__file__).parent.parent / "fixtures" / "pack"
    done = run("tails-under-eight-inches", record(tmp_path), "--rules", pack)
    assert done.exit_code == 2
    assert "practice-tails-short replaced it" in done.output
