"""Rules from outside: what they may not say, import, call, keep or ask, refused at load or as a rule that failed."""

from __future__ import annotations

import json
import os
import re
from pathlib import Path
from typing import Any

import jsonschema_rs
import pytest
from click.testing import CliRunner, Result

from asfound.command import main
from asfound.judge.cases import read_cases
from asfound.judge.rules import BadRule
from asfound.judge.unsaid import unsaid_in
from asfound.kit.fact_names import slips
from asfound.kit.outside import caution_wrong, check_source, plain_parts
from asfound.kit.trial import items_for, tried_on
from asfound.plugins import collect
from asfound.survey import survey
from asfound_schemas import schema
from test_rule_test import CASES, FORM, RULE, changed, proven, put, run, told

ROOT = Path(__file__).parent.parent
DEMO = ROOT / "fixtures" / "demo.yaml"
RECORD = """\
asfound: 1
invented: true
site: {name: Invented hut}
supply: 120/240 split phase
panels: {A: {breakers: {1: 15}}}
boxes:
  hall: {kind: nonmetallic, volume: 11, cover: missing}
  safe room: {kind: nonmetallic, volume: 11, cover: missing}
"""
SPOKEN = RULE.replace('f"{box.words}: {box.volume:g} in³."', "SENTENCE")


def check(folder: Path, *more: str) -> Result:
    (folder / "hut.yaml").write_text(RECORD)
    return CliRunner().invoke(main, ["check", str(folder / "hut.yaml"), *more])


def refused(folder: Path, text: str, file: str = "own.py") -> str:
    """Why a file of rules is not loaded."""
    with pytest.raises(BadRule) as error:
        collect([put(folder, rule=text, file=file)])
    return str(error.value)


# -- what no rule may say


@pytest.mark.parametrize(
    "text",
    [
        "Box den is safe.", "Nothing here is unsafe.", "There is no danger.", "It is not dangerous.", "That is harmless.",
        "The box complies with code.", "The fill is acceptable.", "Box den is OK.", "Box den is fine.",
        "Box den is de-energized.", "Wire W1 is de-energised.", "Circuit 3 is dead.", "The circuit may be used.",
        "All clear.", "A violation.", "Conductors dead.", "It meets the local code.",
    ],
)  # fmt: skip
def test_what_no_rule_may_say(text: str) -> None:
    """Common practice, no source: whoever reads it would take it as leave to touch."""
    assert unsaid_in(text)


@pytest.mark.parametrize(
    "text",
    [
        "Leave it on until the circuit is proven dead.", "Wait until it is de-energized.", "Prove it dead.",
        "The panel has no dead front.", "The local code says which colours may be used.",
        "The record does not show that it is dead.", "A neutral that looks harmless can kill.", "Box 4 is a token.",
        "The work was not acceptable to the instructor.",
    ],
)  # fmt: skip
def test_what_warns_may_be_said(text: str) -> None:
    assert not unsaid_in(text)


def test_built_in_rules_are_held_to_the_same() -> None:
    """Titles, notes, cautions, deferrals, sentences as far as they stand there, signal words and comparisons."""
    for rule in collect().rules:
        assert not caution_wrong(rule), rule.name
        assert not slips(rule), rule.name
        printed = [rule.title, rule.notes, rule.caution, rule.defer, *(text for _, text in plain_parts(rule))]
        assert not [text for text in printed if unsaid_in(text)], rule.name
    assert any("…" in text for rule in collect().rules for _, text in plain_parts(rule))


@pytest.mark.parametrize(
    ("text", "file", "said"),
    [
        pytest.param(changed(RULE, "{box.volume:g} in³. -> is safe."), "own.py", "line 21, rule 'own-rule': a sentence says 'safe'", id="sentence in Python"),
        pytest.param(changed(FORM, "{box.volume} in³. -> is OK."), "own.rules.yaml", "a sentence says 'OK'", id="sentence in YAML"),
        pytest.param(changed(RULE, "Box is smaller than it should be -> Box is fine"), "own.py", "its title says 'is fine'", id="title"),
        pytest.param(changed(FORM, "Says nothing of boxes that nobody measured -> Others are acceptable"), "own.rules.yaml", "its notes says 'are acceptable'", id="notes"),
        pytest.param(changed(FORM, "Keep hands out -> Else there is no danger"), "own.rules.yaml", "its caution says 'no danger'", id="caution"),
        pytest.param(changed(FORM, "electrician decide -> electrician decide what complies"), "own.rules.yaml", "its defer says 'complies'", id="deferral"),
        pytest.param(changed(FORM, "Warning: live -> Caution: live"), "own.rules.yaml", "someone can be hurt, and its caution opens with Caution; begin it with Warning", id="signal word in YAML"),
        pytest.param(changed(RULE, "Warning: live -> Danger: live"), "own.py", "its caution opens with Danger and its risk is", id="signal word in Python"),
    ],
)  # fmt: skip
def test_it_is_refused_at_load(tmp_path: Path, text: str, file: str, said: str) -> None:
    """Before any record is read; `rule test` lists it as a broken promise, with all others."""
    why = refused(tmp_path, text, file)
    assert said in why
    assert str(tmp_path / file) in why
    done = check(tmp_path, "--rules", str(tmp_path))
    assert done.exit_code == 2
    assert "Grades follow" not in done.output
    assert run(str(tmp_path / file)).exit_code == 1


def test_a_sentence_put_together_is_a_rule_that_failed(tmp_path: Path) -> None:
    """What cannot be read at load is caught when it is said; the name of a place is no claim."""
    text = changed(
        SPOKEN, "SENTENCE -> f'Box {box.words} is {WORD[::-1]}.'", "def own_rule -> WORD = 'efas'\\n\\n\\ndef own_rule"
    )
    text = text.replace("WORD = 'efas'\n\n\n", "").replace("@rule(", "WORD = 'efas'\n\n\n@rule(")
    file = put(tmp_path, rule=text)
    done = check(tmp_path, "--rules", str(tmp_path))
    assert done.exit_code == 4
    assert "its sentence says 'safe', which no rule may say" in " ".join(done.output.split())
    assert "hall is safe" not in done.output
    rule = collect([file]).rule("own-rule")
    at = survey(tmp_path / "hut.yaml", "2026-05-20", named=[file])
    trial = tried_on(rule, items_for(rule, at, "hall")[0], at)
    assert (trial.outcome, trial.findings) == ("rule failed", [])


def test_the_name_of_a_place_is_no_claim(tmp_path: Path) -> None:
    done = check(tmp_path, "--rules", str(put(tmp_path)))
    assert done.exit_code == 1
    assert "safe room: 11 in³." in done.output


def test_a_rule_that_raises_is_told_with_its_line(tmp_path: Path) -> None:
    """Of the rule, not of the engine."""
    put(tmp_path, rule=changed(SPOKEN, "SENTENCE -> box.volume + box.cover"))
    done = check(tmp_path, "--rules", str(tmp_path))
    assert done.exit_code == 4
    assert "(own.py line 21)" in " ".join(done.output.split())


# -- what a rule may import, call and keep


@pytest.mark.parametrize(
    ("line", "said"),
    [
        pytest.param("import os", "line 1: it imports os", id="the machine"),
        pytest.param("from datetime import date", "it imports datetime", id="a clock"),
        pytest.param("from asfound.judge.views import item_of", "it imports asfound.judge.views", id="inside of the engine"),
        pytest.param("from asfound import survey", "it imports asfound.survey", id="the engine"),
        pytest.param("X = open('a')", "it calls open(...)", id="files"),
        pytest.param("X = __import__('os')", "it calls __import__(...)", id="import in disguise"),
        pytest.param("SEEN = []\ndef f(x):\n    SEEN.append(x)", "line 3: it changes SEEN", id="a list that grows"),
        pytest.param("SEEN = {}\ndef f(x):\n    SEEN[x] = 1", "line 3: it changes SEEN", id="a mapping that grows"),
        pytest.param("N = 0\ndef f(x):\n    global N\n    N += 1", "line 3: it changes N", id="a count"),
        pytest.param("def f(:", "line 1: it cannot be read as Python (SyntaxError", id="no Python"),
    ],
)  # fmt: skip
def test_a_rule_reaches_nothing_but_its_item(tmp_path: Path, line: str, said: str) -> None:
    """Refused with the line, before anything is run."""
    assert said in refused(tmp_path, f"{line}\n{RULE}")


@pytest.mark.parametrize(
    "text",
    [
        "import math, re, itertools\nfrom collections.abc import Iterator\nfrom dataclasses import dataclass",
        "def f(x):\n    seen = []\n    seen.append(x)\n    return seen",
        "SEEN = []\ndef f(SEEN):\n    SEEN.append(1)",
        "def open(x):\n    return x\nY = open(1)",
        "from . import other\nfrom own_pack.helpers import f",
    ],
)
def test_what_only_reckons_is_let_through(tmp_path: Path, text: str) -> None:
    file = tmp_path / "own.py"
    file.write_text(text)
    check_source(file, "own_pack")


def test_what_a_rule_prints_does_not_get_into_the_result(tmp_path: Path) -> None:
    """It goes to standard error."""
    put(tmp_path, rule=RULE.replace("    only_if(", "    print('spoken aside')\n    only_if(", 1))
    done = check(tmp_path, "--rules", str(tmp_path), "--format", "json")
    assert json.loads(done.stdout)["findings"]
    assert "spoken aside" in done.stderr


# -- comparisons in Python that can never hold


@pytest.mark.parametrize(
    ("body", "said"),
    [
        pytest.param("if box.kind == 'nonmetalic':", "kind of a box is never 'nonmetalic'; did you mean 'nonmetallic'", id="word"),
        pytest.param("if 'nonmetalic' != box.kind:", "never 'nonmetalic'", id="word before it"),
        pytest.param("if box.cover in ('missing', 'brokn'):", "never 'brokn'", id="word in a list"),
        pytest.param("if any(d.kind == 'dimer' for d in box.devices):", "kind of a device is never 'dimer'; did you mean", id="of related items"),
        pytest.param("if box.metal == 'yes':", "metal of a box is yes or no, never 'yes'; write the fact alone", id="yes as a word"),
        pytest.param("if box.volume == '18':", "volume of a box is a number", id="a number in quotes"),
        pytest.param("if box.cover is not None:", "cover of a box is never None; read it", id="is not None"),
        pytest.param("if box.cover == None:", "never None", id="equals None"),
        pytest.param("if hasattr(box, 'cover'):", "hasattr(...) asks whether somebody recorded cover; read it", id="hasattr"),
        pytest.param("if getattr(box, 'cover', 'x'):", "getattr(...) asks whether", id="getattr with a default"),
        pytest.param("return Defect(box.words)\n    if box.metal:", "it returns a finding; write yield", id="return of a finding"),
        pytest.param("return f'{box.words}.'\n    if box.metal:", "line 20, rule 'own-rule': it returns a sentence; write yield", id="return for yield"),
    ],
)  # fmt: skip
def test_what_yaml_refuses_python_refuses_too(tmp_path: Path, body: str, said: str) -> None:
    text = changed(
        RULE, f'if box.volume < tables.value("own limit", "volume"): -> {body.replace(chr(10), chr(92) + "n")}'
    )
    assert said in refused(tmp_path, text)


def test_a_sentence_that_is_given_to_nobody_is_refused(tmp_path: Path) -> None:
    """As where yield was forgotten."""
    said = refused(tmp_path, changed(RULE, "yield f -> f"))
    assert "line 21, rule 'own-rule': a finding stands alone; write yield before it" in said


@pytest.mark.parametrize(
    "body",
    [
        "if box.kind == 'nonmetallic':", "kind = 'nonmetalic'\\n    if kind == 'nonmetalic':", "if box.tag == 'x':",
        "if box.words in ('a', 'b'):", "if given(box, 'cover', None) is not None:", "if getattr(box, 'cover'):",
    ],
)  # fmt: skip
def test_what_can_hold_is_let_through(tmp_path: Path, body: str) -> None:
    text = changed(RULE, f'if box.volume < tables.value("own limit", "volume"): -> {body}').replace(
        "import only", "import given, only"
    )
    assert collect([put(tmp_path, rule=text)]).rule("own-rule").outside


# -- cases and files told in their own words


@pytest.mark.parametrize(
    ("changes", "said"),
    [
        pytest.param(["how: by eye -> how: bye eye"], "line 7: box, kind, how: 'bye eye' is not one of the words for how it is known; did you mean 'by eye'", id="way of knowing"),
        pytest.param(["volume: 11.5} -> volume: 11.5, setback: 0.25}"], "0.25 cannot be read as setback; write it like 0.25 in", id="length without unit"),
        pytest.param(["volume: 11.5} -> volume: 11.5, setback: {is: 0.25, how: by eye}}"], "0.25 cannot be read as setback", id="doubted length without unit"),
        pytest.param(["volume: 11.5} -> volume: 11.5, setback: 1 in or 2}"], "2 cannot be read as setback", id="one of two without unit"),
        pytest.param(["volume: 11.5} -> volum: 11.5}"], "line 7: no fact named 'volum' on a box; did you mean 'volume'", id="misspelt fact, on its own line"),
        pytest.param(["volume: 3} -> volume: 3, devices: [R1]}"], "line 14: R1 is no device; write its facts in braces", id="item without facts"),
    ],
)  # fmt: skip
def test_a_case_is_held_to_what_a_record_is_held_to(tmp_path: Path, changes: list[str], said: str) -> None:
    """In the same words, with the line of the fact."""
    rule = collect([put(tmp_path, cases=changed(CASES, *changes))]).rule("own-rule")
    with pytest.raises(BadRule) as error:
        read_cases(rule)
    assert said in str(error.value)


@pytest.mark.parametrize(
    ("text", "file", "said"),
    [
        pytest.param("", "own.rules.yaml", "asfound rule new --form yaml", id="no rules"),
        pytest.param("# none\n", "own.rules.yaml", "asfound rule new --form yaml", id="remarks alone"),
        pytest.param("- 1\n", "own.rules.yaml", "asfound rule new --form yaml", id="a list"),
        pytest.param(changed(FORM, "severity: critical -> severity: critica"), "own.rules.yaml", "line 5 needs severity: one of catastrophic, critical, marginal, negligible, not 'critica'; did you mean 'critical'", id="severity"),
        pytest.param(changed(FORM, "of: box -> of: bx"), "own.rules.yaml", "line 4 needs of: one of", id="kind of item"),
        pytest.param(changed(FORM, "Warning: -> Warnin:"), "own.rules.yaml", "line 7 needs a caution: Danger, Warning, Caution, Notice, a colon, and what can happen, not 'Warnin'; did you mean 'Warning'", id="signal word"),
    ],
)  # fmt: skip
def test_a_file_is_told_as_what_it_is(tmp_path: Path, text: str, file: str, said: str) -> None:
    assert said in refused(tmp_path, text, file)


def test_an_empty_file_of_cases_is_told_as_one(tmp_path: Path) -> None:
    proof = proven(put(tmp_path, cases=""))
    (cause,) = [f"{one.cause}; {one.step}" for one in proof.failures if "empty" in one.cause]
    assert "write the name of a rule, and under it the lists finds, clear and cannot tell" in cause, told(
        proof.failures
    )


def test_every_wrong_rule_of_a_file_is_told_at_once(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Each with its line, in `rule test` too."""
    two = FORM.replace("own-rule", "other-rule").replace("box.volume <", "box.volum <")
    text = FORM.replace("box.kind", "box.knd") + two
    put(tmp_path, rule=text, file="own.rules.yaml")
    monkeypatch.chdir(tmp_path)  # a path of any length is told from here
    flat = " ".join(run(".").output.split())
    assert "2 FAILURES" in flat
    assert re.search(r"own.rules.yaml line 11, own-rule .*own.rules.yaml line 2[0-9], other-rule ", flat)


def test_places_are_told_whole(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Two of one name: both files stay in the sentence; and a path is given no capital."""
    monkeypatch.chdir(tmp_path)
    put(tmp_path / "bin", rule=RULE)
    put(tmp_path / "bin", rule=FORM, file="form.rules.yaml")
    output = " ".join(run("bin").output.split())
    assert "Rules: two rules are named 'own-rule': " in output
    assert "/bin/own.py line 4 and bin/form.rules.yaml line 1; rename one of them" in output


@pytest.mark.skipif(os.geteuid() == 0, reason="root reads every folder")
def test_a_folder_that_cannot_be_read_is_told_as_one(tmp_path: Path) -> None:
    folder = put(tmp_path / "own").parent
    folder.chmod(0)
    try:
        with pytest.raises(BadRule, match="cannot be read"):
            collect([folder])
    finally:
        folder.chmod(0o700)


def test_proven_with_warnings_says_so(tmp_path: Path) -> None:
    without = changed(RULE, "\n\n    Says nothing of boxes that nobody measured. -> ")
    assert "proven, with warnings" in run(str(put(tmp_path, rule=without))).output
    assert "proven, with warnings" not in run(str(put(tmp_path))).output


# -- the pack is named


def test_a_pack_is_named_with_its_version(tmp_path: Path) -> None:
    """In the head, beside the rule, and in the data; the built-in rules name none."""
    put(tmp_path)
    (tmp_path / "pack.yaml").write_text(
        "pack: own-pack\nversion: 1.10\nmaintainer: A. Example (invented)\nsays: invented\n"
    )
    text = check(tmp_path, "--rules", str(tmp_path)).output
    assert "Packs of rules: own-pack 1.10." in text
    assert "Rule own-rule of pack own-pack 1.10; source:" in text
    data: dict[str, Any] = json.loads(check(tmp_path, "--rules", str(tmp_path), "--format", "json").stdout)
    assert [one for one in data["run"]["rules"] if "pack" in one] == [
        {"rule": "own-rule", "revision": 1, "pack": "own-pack 1.10"}
    ]
    assert {(one["rule"], one.get("pack")) for one in data["findings"] if one["rule"] == "own-rule"} == {
        ("own-rule", "own-pack 1.10")
    }
    assert jsonschema_rs.Draft202012Validator(schema("findings")).is_valid(data)
    done = CliRunner().invoke(
        main, ["report", str(tmp_path / "hut.yaml"), "--rules", str(tmp_path), "--format", "html", "-o", str(tmp_path / "out")]
    )  # fmt: skip
    assert done.exit_code == 0, done.output
    assert "rules, with the packs own-pack 1.10; record" in next((tmp_path / "out").glob("*.html")).read_text(
        encoding="utf-8"
    )
