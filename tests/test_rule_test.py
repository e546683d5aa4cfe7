"""`asfound rule test`: every promise of a rule broken once, and told in place, cause and next step.

Everything here is invented.
"""

from __future__ import annotations

import sys
from pathlib import Path

import pytest
from click.testing import CliRunner, Result
from hypothesis import given, settings
from hypothesis import strategies as st

from asfound.command import main
from asfound.judge.cases import read_cases
from asfound.kit import prove as proving
from asfound.kit.packs import LOCK
from asfound.kit.prove import Proof, Trouble, prove, prove_all
from asfound.kit.prove_branches import Watch, functions_of
from asfound.kit.prove_pick import pick, sources_of
from asfound.kit.prove_vary import turning, words_allowed
from asfound.kit.verdicts import held_against, newest, verdicts_text
from asfound.plugins import collect
from records import TODAY

RULE = '''\
from asfound.authoring import for_words, given, only_if, rule


@rule(
    "own-rule",
    of="box",
    severity="critical",
    likelihood="occasional",
    caution="Warning: live parts can be within reach; a shock can kill. Keep hands out.",
    defer="The adopted local code and a licensed electrician decide.",
    source="common practice, no source",
    basis="common practice",
)
def own_rule(box, tables):
    """Box is smaller than it should be.

    Says nothing of boxes that nobody measured.
    """
    only_if(box.kind != "no box")
    if box.volume < tables.value("own limit", "volume"):
        yield f"{box.words}: {box.volume:g} in³."
'''
CASES = """\
own-rule:
  finds:
    - why: shallow old box
      box: {tag: hall, kind: nonmetallic, volume: 11}
      says: "hall: 11 in³."
    - why: size taken by eye
      box: {tag: hall, kind: {is: nonmetallic, how: by eye}, volume: 11.5}
      says: "hall: 11.5 in³."
      certainty: likely
  clear:
    - why: equal to the limit
      box: {kind: nonmetallic, volume: 12}
    - why: splice in the open
      box: {kind: no box, volume: 3}
  cannot tell:
    - why: behind a cupboard
      box: {kind: nonmetallic, volume: {not_seen: behind a cupboard}}
      missing: volume
"""
TABLES = """\
own limit:
  unit: in³
  key: [what]
  editions:
    "2000-01-01":
      edition: house rule
      source: invented
      checked: invented
      rows: {volume: 12, sizes: [3, 1, 2]}
"""
FORM = """\
own-rule:
  title: Box is smaller than it should be
  notes: Says nothing of boxes that nobody measured.
  of: box
  severity: critical
  likelihood: occasional
  caution: "Warning: live parts can be within reach; a shock can kill. Keep hands out."
  defer: The adopted local code and a licensed electrician decide.
  source: common practice, no source
  basis: common practice
  only_if: box.kind != "no box"
  finds:
    - when: box.volume < table("own limit", "volume")
      says: "{box.words}: {box.volume} in³."
"""


def put(folder: Path, *, rule: str = RULE, cases: str | None = CASES, file: str = "own.py") -> Path:
    """A folder with a rule, its cases and its table."""
    (folder / "tables").mkdir(parents=True, exist_ok=True)
    (folder / "tables" / "own.yaml").write_text(TABLES)
    (folder / file).write_text(rule)
    if cases is not None:
        (folder / file).with_suffix(".cases.yaml").write_text(cases)
    return folder / file


def proven(file: Path) -> Proof:
    picked = pick([str(file)], TODAY)
    assert not picked.troubles
    (rule,) = picked.rules
    return prove(rule, picked.tables)


def changed(text: str, *changes: str) -> str:
    """A text with each `before -> after` put in; each has to be there."""
    for change in changes:
        before, _, after = change.partition(" -> ")
        assert before in text, before
        text = text.replace(before, after.replace("\\n", "\n"))
    return text


def told(troubles: list[Trouble]) -> list[tuple[str, str]]:
    return [(one.promise, one.cause) for one in troubles]


def run(*arguments: str) -> Result:
    return CliRunner().invoke(main, ["rule", "test", *arguments])


# -- a rule that keeps every promise


@pytest.mark.parametrize(
    ("text", "file"), [pytest.param(RULE, "own.py", id="Python"), pytest.param(FORM, "own.rules.yaml", id="YAML")]
)
def test_a_good_rule_is_proven_in_either_form(tmp_path: Path, text: str, file: str) -> None:
    """No failure, and the same verdicts, reads, rows and conditions from both forms of one rule."""
    proof = proven(put(tmp_path, rule=text, file=file))
    assert told(proof.failures) == []
    assert told(proof.warnings) == []
    assert [case.verdict.words for case in proof.cases] == [
        "defect, confirmed", "defect, likely", "clear", "does not apply", "cannot tell (volume)",
    ]  # fmt: skip
    assert [[read.path for read in case.reads] for case in proof.cases[:1]] == [["box.kind", "box.volume"]]
    assert {(row.table, row.key, row.value) for row in proof.cases[0].rows} == {("own limit", "volume", 12)}
    assert [len(ways) for _, ways in proof.conditions] == [2, 2]


@pytest.mark.parametrize(
    ("text", "file"), [pytest.param(RULE, "own.py", id="Python"), pytest.param(FORM, "own.rules.yaml", id="YAML")]
)
def test_each_fact_is_left_out_doubted_and_put_beside(tmp_path: Path, text: str, file: str) -> None:
    """Left out it cannot be told, doubted it is likely, and the number just past the limit turns the verdict."""
    first = proven(put(tmp_path, rule=text, file=file)).cases[0]
    became = {(one.path, one.sort, one.to): one.verdict.words for one in first.variations}
    assert became["box.volume", "removed", ""] == "cannot tell (volume)"
    assert became["box.kind", "doubted", "by eye"] == "defect, likely"
    assert became["box.kind", "changed", "no box"] == "does not apply"
    assert became["box.volume", "changed", "12 in³"] == "clear"
    assert became["box.volume", "changed", "10 in³"] == "defect, confirmed"


def test_the_record_of_a_case_is_as_before(tmp_path: Path) -> None:
    """Proving leaves the facts of a case where they were, however many of them were changed in turn."""
    file = put(tmp_path)
    picked = pick([str(file)], TODAY)
    before = [repr(case.item.data) for case in read_cases(picked.rules[0])]
    proof = prove(picked.rules[0], picked.tables)
    assert [repr(dict(one.case.item.data)) for one in proof.cases] == before


@pytest.mark.parametrize("limit", [pytest.param(0.125, id="an eighth"), pytest.param(0.0625, id="a sixteenth")])
def test_a_limit_in_fractions_of_an_inch_is_met(tmp_path: Path, limit: float) -> None:
    """A case that stands at it is one; the next number is past it by a hundredth at most."""
    cases = changed(CASES, f"volume: 12}} -> volume: {limit}}}", "volume: 11} -> volume: 0.01}", "hall: 11 in³ -> hall: 0.01 in³",
                    "volume: 11.5} -> volume: 0.02}", "hall: 11.5 in³ -> hall: 0.02 in³")  # fmt: skip
    file = put(tmp_path, cases=cases)
    (tmp_path / "tables" / "own.yaml").write_text(changed(TABLES, f"volume: 12, -> volume: {limit},"))
    proof = proven(file)
    assert told(proof.failures) == []
    assert told(proof.warnings) == []


# -- each promise broken


BREAKS = [
    pytest.param([], ["  clear:\n    - why: equal to the limit\n      box: {kind: nonmetallic, volume: 12}\n    - why: splice in the open\n      box: {kind: no box, volume: 3}\n -> "],
                 proving.LISTED, "no case in the list 'clear'", id="a list is missing"),
    pytest.param([], ["finds: -> found:"], proving.LISTED, "no list is called 'found'", id="a list by another name"),
    pytest.param([], ["- why: splice in the open\n      box: {kind: no box, volume: 3} -> - just words"], proving.LISTED, "this is no case", id="no case"),
    pytest.param([], ["kind: no box, volume: 3 -> kind: no box, volum: 3"], proving.LISTED, "did you mean 'volume'",
                 id="misspelt fact in a case"),
    pytest.param([], ["own-rule: -> other-rule:"], proving.LISTED, "holds no cases for rule 'own-rule'", id="cases of another rule"),
    pytest.param([], ["volume: 12} -> volume: 13}\\n    - why: again\\n      box: {kind: nonmetallic, volume: 13}"], proving.TWICE, "repeats the facts", id="told twice"),
    pytest.param([], ["hall: 11 in³ -> hall: 12 in³"], proving.OUTCOME, "sentence is another", id="another sentence"),
    pytest.param([], ['says: "hall: 11 in³." -> says: ""'], proving.OUTCOME, "sentence is another", id="an empty sentence"),
    pytest.param([], ['      says: "hall: 11 in³."\n -> '], proving.OUTCOME, "says is empty", id="no sentence yet"),
    pytest.param([], ['says: "hall: 11 in³." -> says: ["hall: 11 in³.", "More."]'], proving.OUTCOME, "expects 2 sentences", id="too few sentences"),
    pytest.param([], ["      certainty: likely\n -> "], proving.OUTCOME, "it is likely, and the case expects confirmed", id="another certainty"),
    pytest.param([], ["volume: 11} -> volume: 14}"], proving.OUTCOME, "nothing was found", id="nothing found"),
    pytest.param([], ["volume: 12} -> volume: 11.9}"], proving.OUTCOME, "it should be clear, and is defect", id="not clear"),
    pytest.param([], ["kind: no box -> kind: no bx"], proving.LISTED, "did you mean 'no box'", id="a word that no record can hold"),
    pytest.param([], ["volume: 12} -> volume: 12 pints}"], proving.LISTED, "read as volume; a box volume in cubic inches", id="a unit that no record can hold"),
    pytest.param([], ["volume: 12} -> volume: big}"], proving.LISTED, "cannot be read as volume", id="a word for a number"),
    pytest.param([], ["missing: volume -> missing: kind"], proving.OUTCOME, "it misses volume, and the case expects kind", id="another fact missing"),
    pytest.param([], ["      missing: volume\n -> "], proving.OUTCOME, "missing is empty; the rule misses volume", id="missing not filled in"),
    pytest.param([], ["{not_seen: behind a cupboard} -> 11"], proving.OUTCOME, "it should not be told", id="told after all"),
    pytest.param([], ["    - why: equal to the limit -> "
                      "    - why: equal to the limit\\n      says: More."], proving.OUTCOME, "has no says", id="a sentence under clear"),
    pytest.param(["    only_if(box -> "
                  "    item_of = only_if.__globals__['item_of']\\n    item_of(box).data['kind'] = item_of(box).data['kind'].restated('exact', ('other',))\\n    only_if(box"],
                 [], proving.UNCHANGED, "changed the record", id="writes to the record"),
    pytest.param(["    only_if(box -> "
                  "    tables.value('own limit', 'sizes').append(4)\\n    only_if(box"], [], proving.UNCHANGED, "changed a row", id="writes to a table"),
    pytest.param(["box.volume < tables.value(\"own limit\", \"volume\") -> box.volume < 12 if for_words(box, 'volume') else False"], [],
                 proving.NEVER_CLEARS, "without `box.volume` it is clear", id="a missing fact clears"),
    pytest.param(["box.volume < tables -> given(box, 'volume', 'none') < tables"], [], proving.STANDS, "with `box.volume` left out the rule fails", id="fails on a missing fact"),
    pytest.param([], ["volume: 12} -> volume: 12, cover: missing}"], proving.READ, "`box.cover` stands in 1 case", id="a fact never read"),
    pytest.param(["box.volume < tables.value(\"own limit\", \"volume\") -> 2 > 1", "{box.volume:g} in³ -> small"], [], proving.READ, "`box.volume` stands in 5 cases", id="a fact ignored"),
    pytest.param(["        yield -> \\n        if box.kind == 'other':\\n            yield 'Never.'\\n        yield"], [], proving.WAYS, "so that it is true", id="a branch never taken"),
    pytest.param(["    only_if(box -> \\n    if box.volume > 1000:\\n        return\\n    only_if(box"], [], proving.WAYS, "no case reaches line", id="a line never reached"),
    pytest.param(["caution=\"Warning -> caution=\"Notice"], [], proving.CAUTION, "someone can be hurt", id="too mild a caution"),
    pytest.param(["likelihood=\"occasional -> likelihood=\"probable"], [], proving.CAUTION, "its risk is high", id="a high risk without Danger"),
    pytest.param(["caution=\"Warning -> caution=\"Danger"], [], proving.CAUTION, "opens with Danger and its risk is serious", id="Danger too freely"),
    pytest.param(["a licensed electrician decide -> nobody decides"], [], proving.DEFERS, "does not name both", id="half a deferral"),
    pytest.param(["Box is smaller -> box is smaller"], [], proving.TITLE, "its title is", id="a title in lower case"),
    pytest.param(["a shock can kill -> it is unsafe"], [], proving.WORDING, "it says 'unsafe'", id="speaks of safety"),
    pytest.param(["in³.\" -> in³\""], ["in³.\" -> in³\""], proving.SENTENCES, "no full stop", id="no full stop"),
    pytest.param(["in³.\" ->  in³.\""], ["11 in -> 11  in", "11.5 in -> 11.5  in"], proving.SENTENCES, "doubled blanks", id="doubled blanks"),
]  # fmt: skip


@pytest.mark.parametrize(("rule", "cases", "promise", "words"), BREAKS)
def test_a_broken_promise_is_a_plain_failure(
    tmp_path: Path, rule: list[str], cases: list[str], promise: str, words: str
) -> None:
    """Each with the promise it breaks, file, line, cause and next step."""
    proof = proven(put(tmp_path, rule=changed(RULE, *rule), cases=changed(CASES, *cases)))
    found = [one for one in proof.failures if one.promise == promise and words in f"{one.cause}; {one.step}"]
    assert found, told(proof.failures)
    assert all(one.step and one.file.parent == tmp_path for one in found)
    assert all(one.line for one in found if one.promise != proving.LISTED)


@pytest.mark.parametrize(
    ("rule", "cases", "promise", "words"),
    [
        pytest.param(["\n\n    Says nothing of boxes that nobody measured. -> "], [], proving.TITLE, "cannot see", id="no notes"),
        pytest.param([], ["kind: {is: nonmetallic, how: by eye} -> kind: nonmetallic", "      certainty: likely\n -> "], proving.DOUBT, "doubtful", id="no doubt in the cases"),
        pytest.param([], ["    - why: splice in the open\n      box: {kind: no box, volume: 3}\n -> "], proving.PARTS, "so that it does not hold", id="only_if never keeps anything out"),
        pytest.param(["box.volume < tables -> box.volume < 400 and box.volume < tables"], [], proving.PARTS, "`box.volume < 400`", id="half a condition"),
        pytest.param(["{box.volume:g} in³ -> {box.volume:g} in³ {box.metal}"],
                     ["volume: 11} -> volume: 11, metal: true}", "volume: 11.5} -> volume: 11.5, metal: true}",
                      "11 in³ -> 11 in³ True", "11.5 in³ -> 11.5 in³ True"],
                     proving.COUNTS, "`box.metal` changes the sentence and never the verdict", id="for the sentence alone"),
        pytest.param(["    if box.volume -> "
                      "    box.metal\\n    if box.volume"],
                     ["volume: 11} -> volume: 11, metal: true}", "volume: 11.5} -> volume: 11.5, metal: true}",
                      "volume: 12} -> volume: 12, metal: true}", "{kind: nonmetallic, volume: {not -> {kind: nonmetallic, metal: true, volume: {not"],
                     proving.COUNTS, "`box.metal` is read", id="read and not used"),
        pytest.param([], ["volume: 12} -> volume: 14}", "volume: 11} -> volume: 9}", "hall: 11 in³ -> hall: 9 in³"], proving.EDGE, "`box.volume` decides", id="no case at the limit"),
        pytest.param(["in³. -> in_cubic."], ["in³. -> in_cubic."], proving.SENTENCES, "leftover", id="a leftover in the sentence"),
        pytest.param(["    if box.volume -> \\n    sure = {'nonmetallic': 1, 'no box': 2}[box.kind]\\n    if sure and box.volume"], [],
                     proving.STANDS, "with `box.kind` at", id="fails on another word"),
    ],
)  # fmt: skip
def test_what_is_only_worth_a_look_is_a_warning(
    tmp_path: Path, rule: list[str], cases: list[str], promise: str, words: str
) -> None:
    """Told, and no failure."""
    proof = proven(put(tmp_path, rule=changed(RULE, *rule), cases=changed(CASES, *cases)))
    assert told(proof.failures) == []
    assert any(one.promise == promise and words in one.cause for one in proof.warnings), told(proof.warnings)


@pytest.mark.parametrize(
    ("body", "words"),
    [
        pytest.param("    if next(SEEN) > 0:\n        return\n", "came out otherwise", id="keeps a count"),
        pytest.param("    try:\n        box.cover\n    except BaseException:\n        return\n", "by certain facts alone it is clear", id="catches what it does not know"),
    ],
)  # fmt: skip
def test_a_rule_that_is_not_the_same_twice(tmp_path: Path, body: str, words: str) -> None:
    """One that keeps something between runs, and one that catches what ends a run on certain facts."""
    text = changed(RULE, "\n\n@rule( -> \n\nSEEN = iter(range(999))\n\n\n@rule(").replace(
        "    only_if(box", f"{body}    only_if(box"
    )
    proof = proven(put(tmp_path, rule=text))
    assert any(one.promise == proving.SAME and words in one.cause for one in proof.failures), told(proof.failures)


def test_a_case_that_is_not_filled_in_fails_and_says_what_is_left(tmp_path: Path) -> None:
    """As `asfound rule new` leaves it: one failure for the case, and none that only follows from it."""
    blank = changed(CASES, "{kind: nonmetallic, volume: {not_seen: behind a cupboard}} -> "
                    "{kind: nonmetallic, volume: {not_seen: fill in}}", "missing: volume -> missing: fill in")  # fmt: skip
    proof = proven(put(tmp_path, cases=blank))
    assert told(proof.failures) == [(proving.OUTCOME, "it is not filled in yet: missing and volume")]
    notes = proven(put(tmp_path, rule=changed(RULE, "Says nothing of boxes that nobody -> Fill in what it cannot see")))
    assert told(notes.failures) == [(proving.TITLE, "its notes are not filled in yet")]


def test_a_case_may_say_what_the_rule_ignores(tmp_path: Path) -> None:
    """A fact given to show that it does not count is no slip; one that is read after all, or not given, is."""
    given_too = changed(CASES, "volume: 12} -> volume: 12, cover: missing}\\n      ignores: cover")
    assert told(proven(put(tmp_path / "one", cases=given_too)).failures) == []
    wrong = changed(given_too, "ignores: cover -> ignores: [cover, volume, metal]")
    assert told(proven(put(tmp_path / "two", cases=wrong)).failures) == [
        (proving.READ, "`box.volume` is said to be ignored, and the rule reads it"),
        (proving.READ, "`box.metal` is said to be ignored, and no case states it"),
    ]


def test_a_rule_that_raises_is_told_by_case(tmp_path: Path) -> None:
    """The error in the words of Python, for each case, and no trace."""
    proof = proven(put(tmp_path, rule=changed(RULE, "    only_if(box -> \\n    1 / 0\\n    only_if(box")))
    failed = [one for one in proof.failures if "ZeroDivisionError: division by zero" in one.cause]
    assert len(failed) == 5
    assert proof.cases[0].verdict.words == "rule failed (ZeroDivisionError: division by zero)"


def test_missing_cases_are_a_failure(tmp_path: Path) -> None:
    proof = proven(put(tmp_path, cases=None))
    assert told(proof.failures) == [(proving.LISTED, "there is no file of cases beside the rule")]
    assert "own.cases.yaml" in proof.failures[0].step


def test_cases_and_functions_that_no_rule_uses(tmp_path: Path) -> None:
    """Of the file as a whole: cases for no rule, a helper half reached, and one that nothing uses."""
    helpers = "\n\ndef _half(volume):\n    if volume > 500:\n        return 1\n    return volume\n\n\ndef _unused():\n    return 2\n"
    file = put(tmp_path, rule=changed(RULE, "if box.volume -> if _half(box.volume)") + helpers,
               cases=CASES + "old-rule:\n  finds: []\n")  # fmt: skip
    picked = pick([str(file)], TODAY)
    _, troubles = prove_all(picked.rules, picked.tables)
    causes = {one.cause: one.grave for one in troubles}
    assert causes["there are cases for 'old-rule', and no such rule"]
    assert causes["in no case `volume > 500` is met so that it is true"]
    assert causes["no case reaches the function _unused"] is False
    assert len(causes) == 4  # and the line behind the condition


def test_a_helper_used_by_another_file_is_held_by_both(tmp_path: Path) -> None:
    """Half reached by the rules of one file it is only worth a look, as long as the others were not proven."""
    helper = "\n\ndef half(volume):\n    if volume > 500:\n        return 1\n    return volume\n"
    file = put(tmp_path, rule=changed(RULE, "if box.volume -> if half(box.volume)") + helper)
    other = changed(RULE, "own-rule -> other-rule", "def own_rule -> def other_rule")
    put(tmp_path, rule=other, cases=changed(CASES, "own-rule -> other-rule"), file="other.py")
    (tmp_path / "notes.py").write_text("this is no Python\n")

    def grave(*names: str) -> set[bool]:
        picked = pick(names, TODAY)
        return {one.grave for one in prove_all(picked.rules, picked.tables)[1]}

    assert grave(str(file)) == {False}
    assert grave(str(file), str(tmp_path / "other.py")) == {True}


# -- which ways conditions go


SHAPES = '''
from asfound.authoring import only_if


def work(a, b, more):
    """A function with every shape of condition."""
    only_if(a != 9)
    if not a:
        yield "none"
    if a is None or b and 1 < a < 4:
        yield "or"
    elif a == 4:
        return
    for one in more:
        if one:
            continue
        yield "one"
    while b:
        b -= 1
    kept = [one for one in more if one]
    match a:
        case 1 | 2 if kept:
            yield "match"
        case _:
            pass
    try:
        int("x" if a is not None else "1")
    except ValueError:
        pass
    assert not isinstance(a, str)
    if (size := len(kept)) > 1:
        yield f"{size}"
'''


@pytest.mark.parametrize(
    ("arguments", "expected"),
    [
        pytest.param((1, 0, ()), {"a != 9": {True}, "not a": {False}, "a is None": {False}, "b": {False},
                                  "a is None or b and 1 < a < 4": {False}, "one in more": {False}, "a == 4": {False},
                                  "1 | 2": {False}, "kept": {False}, "a is not None": {True},
                                  "(size := len(kept)) > 1": {False}}, id="most are false"),
        pytest.param((3, 2, (1, 0, 1)), {"a != 9": {True}, "not a": {False}, "a is None": {False}, "b": {True, False},
                                         "1 < a < 4": {True}, "a is None or b and 1 < a < 4": {True},
                                         "one in more": {True, False}, "one": {True, False}, "1 | 2": {False},
                                         "a is not None": {True}, "(size := len(kept)) > 1": {True}}, id="most are true"),
        pytest.param((5, 1, ()), {"a != 9": {True}, "not a": {False}, "a is None": {False}, "b": {True, False},
                                  "1 < a < 4": {False}, "a is None or b and 1 < a < 4": {False}, "a == 4": {False},
                                  "one in more": {False}, "1 | 2": {False}, "a is not None": {True},
                                  "(size := len(kept)) > 1": {False}}, id="second half of a chain is false"),
        pytest.param((9, 1, ()), {"a != 9": {False}}, id="does not apply"),
        pytest.param((0, 0, ()), {"a != 9": {True}, "not a": {True}, "a is None": {False}, "b": {False},
                                  "a is None or b and 1 < a < 4": {False}, "a == 4": {False}, "one in more": {False},
                                  "1 | 2": {False}, "a is not None": {True}, "(size := len(kept)) > 1": {False}}, id="not"),
        pytest.param((2, 0, (7,)), {"a != 9": {True}, "not a": {False}, "a is None": {False}, "b": {False},
                                    "a is None or b and 1 < a < 4": {False}, "a == 4": {False},
                                    "one in more": {True, False}, "one": {True}, "1 | 2": {True}, "kept": {True},
                                    "a is not None": {True}, "(size := len(kept)) > 1": {False}}, id="a pattern fits"),
    ],
)  # fmt: skip
def test_the_way_each_condition_went(tmp_path: Path, arguments: tuple, expected: dict[str, set[bool]]) -> None:
    """Every shape of condition, the whole and its parts, worked out by hand from the arguments."""
    from asfound.judge.views import NotHere

    file = tmp_path / "shapes.py"
    file.write_text(SHAPES)
    namespace: dict = {}
    exec(compile(SHAPES, str(file), "exec"), namespace)
    with Watch([file]) as watch:
        try:
            list(namespace["work"](*arguments))
        except NotHere:
            pass
    ways: dict[str, set[bool]] = {}
    for condition, met in watch.went.ways.items():
        ways.setdefault(condition.text, set()).update(met)
    assert {text: met for text, met in ways.items() if text in expected} == expected
    assert set(watch.went.ways) <= set(functions_of(file)[0].conditions)


def test_watching_gives_back_the_trace_of_others(tmp_path: Path) -> None:
    """A debugger or a measure of coverage that was there before is there again, after an error too."""
    file = tmp_path / "shapes.py"
    file.write_text(SHAPES)
    before = sys.gettrace()
    with pytest.raises(ZeroDivisionError), Watch([file]):
        1 / 0  # noqa: B018
    assert sys.gettrace() is before


# -- neighbours


@given(limit=st.integers(0, 2000), value=st.integers(0, 2000))
@settings(deadline=None, max_examples=60)
def test_the_number_at_which_a_verdict_turns(limit: int, value: int) -> None:
    """For a limit on one side the first number behind it is found exactly, wherever the case stands."""
    found = turning(value, lambda number: (number > limit) == (value > limit))
    assert found == (limit if value > limit else limit + 1)


def test_words_allowed_are_those_of_the_schema() -> None:
    """Counted in record.schema.json: the states of a cover; none for free text."""
    assert set(words_allowed("box", "cover")) == {
        "blank cover", "device plate", "canopy", "luminaire", "missing", "broken",
    }  # fmt: skip
    assert "NM-B" in words_allowed("cable", "method")
    assert words_allowed("site", "code") == ()
    assert words_allowed("net", "function") == ()


# -- the command


def test_failures_come_first_within_eighty_columns(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """File, line, rule and case; cause; both sentences one below the other; next step."""
    put(tmp_path, cases=changed(CASES, "hall: 11 in³ -> hall: 12 in³"))
    monkeypatch.chdir(tmp_path)  # a path of any length is told from here
    done = run(".")
    assert done.exit_code == 1
    assert max(map(len, done.output.splitlines())) <= 80
    assert done.output.startswith("-- 1 FAILURE ---")
    flat = " ".join(done.output.split())
    assert (
        "own.cases.yaml line 3, own-rule: finds, shallow old box The sentence is another than the case expects." in flat
    )
    assert 'case: "hall: 12 in³." rule: "hall: 11 in³." Next: put the case or the sentence of the rule right' in flat
    assert "1 rule, 5 cases: 1 failure, 0 warnings." in flat


@pytest.mark.parametrize(
    ("rule", "arguments", "status", "words"),
    [
        pytest.param([], [], 0, "0 failures, 0 warnings", id="proven"),
        pytest.param(["\n\n    Says nothing of boxes that nobody measured. -> "], [], 0, "1 warning", id="a warning"),
        pytest.param(["\n\n    Says nothing of boxes that nobody measured. -> "], ["--strict"], 1, "1 warning", id="a warning, strict"),
        pytest.param([], ["--rule", "own-rul"], 2, "did you mean 'own-rule'", id="no such rule"),
        pytest.param([], ["--rule", "own-rule"], 0, "1 rule, 5 cases", id="one rule"),
        pytest.param([], ["nothing-here"], 2, "neither a folder nor a", id="no such path"),
        pytest.param([], ["--as-of", "1990-01-01"], 1, "cannot tell (a table row)", id="before the table begins"),
        pytest.param(['    source="common practice, no source",\n -> '], [], 2, "needs a source", id="no source"),
        pytest.param(["    caution=\"Warning: live parts can be within reach; a shock can kill. Keep hands out.\",\n -> "], [], 2, "needs a caution", id="no caution"),
        pytest.param(["    defer=\"The adopted local code and a licensed electrician decide.\",\n -> "], [], 2, "needs defer=", id="no deferral"),
        pytest.param(["box.volume < -> box.volum <"], [], 2, "did you mean 'volume'", id="misspelt fact in the rule"),
    ],
)  # fmt: skip
def test_exit_status(tmp_path: Path, rule: list[str], arguments: list[str], status: int, words: str) -> None:
    """As documented in the help of the command."""
    file = put(tmp_path, rule=changed(RULE, *rule))
    done = run(str(file), *arguments)
    assert (done.exit_code, words in " ".join(done.output.split())) == (status, True), done.output


def test_a_file_that_cannot_be_loaded_does_not_hide_the_others(tmp_path: Path) -> None:
    """Told with its line, status 2, and the others are tested all the same."""
    put(tmp_path)
    put(tmp_path, rule=changed(RULE, '    source="common practice, no source",\n -> '), file="bare.py")
    done = run(str(tmp_path))
    flat = " ".join(done.output.split())
    assert done.exit_code == 2
    assert "bare.py line 4, own-rule" in flat
    assert "needs a source" in flat
    assert "1 rule, 5 cases" in flat


def test_nothing_to_test(tmp_path: Path) -> None:
    """A file without a rule in it is no proof of anything."""
    (tmp_path / "empty.py").write_text("X = 1\n")
    done = run(str(tmp_path / "empty.py"))
    assert (done.exit_code, "Nothing was tested" in done.output) == (5, True)


def test_verbose_shows_every_case_and_every_change(tmp_path: Path) -> None:
    """What was read, the rows, and what each fact left out, doubted and changed does."""
    done = run(str(put(tmp_path)), "--verbose")
    lines = [line.strip() for line in done.output.splitlines()]
    assert max(map(len, done.output.splitlines())) <= 80
    for line in (
        "finds: shallow old box (line 3)", "Reads: box.kind nonmetallic; box.volume 11 in³.",
        "Rows: own limit, volume: 12 in³ (house rule).", "left out:                cannot tell (volume)",
        "doubted, by eye:         defect, likely", "no box:                  does not apply",
        'line 19, only_if box.kind != "no box": both ways',
    ):  # fmt: skip
        assert line in lines, done.output


def test_sources_of_a_path(tmp_path: Path) -> None:
    """A folder gives its files of rules, a file of cases the rules beside it."""
    file = put(tmp_path)
    form = put(tmp_path, rule=FORM, file="form.rules.yaml")
    assert sources_of(tmp_path) == [form, file]
    assert sources_of(tmp_path / "own.cases.yaml") == [file]
    assert sources_of(tmp_path / "form.rules.cases.yaml") == [form]


def test_built_in_names_the_rules_of_the_package() -> None:
    """Every rule that comes without naming anything."""
    assert {rule.name for rule in pick(["built-in"], TODAY).rules} == {rule.name for rule in collect().rules}


def test_time_for_an_item_is_taken_when_asked(tmp_path: Path) -> None:
    """Shown, and never held against anything."""
    picked = pick([str(put(tmp_path))], TODAY)
    assert prove(picked.rules[0], picked.tables).seconds is None
    assert (prove(picked.rules[0], picked.tables, timed=True).seconds or 0) > 0


def test_every_promise_has_a_name_of_its_own() -> None:
    """The names are those of the tests in a coordinator's own repository."""
    assert len(set(proving.PROMISES)) == len(proving.PROMISES)
    assert set(proving.FOR_EACH_CASE) < set(proving.PROMISES)


# -- a rule keeps its revision


@pytest.fixture
def recorded(tmp_path: Path) -> Path:
    """A folder with a rule whose verdicts were recorded as it was."""
    file = put(tmp_path)
    picked = pick([str(file)], TODAY)
    day = newest(picked.tables.by_name.values())
    held = held_against(picked.rules, picked.tables, day, {}, (), LOCK)
    (tmp_path / LOCK).write_text(verdicts_text(held.verdicts))
    return tmp_path


def test_recorded_verdicts_that_stand_are_no_trouble(recorded: Path) -> None:
    """And a file of the folder is held against them as well as the folder."""
    assert run(str(recorded)).exit_code == 0
    assert told(proven(recorded / "own.py").failures) == []


def test_a_changed_verdict_under_one_revision_is_a_plain_failure(recorded: Path) -> None:
    """With the line of the record, both verdicts and the revision to write; raised, it is none."""
    rule = recorded / "own.py"
    rule.write_text(changed(RULE, 'likelihood="occasional" -> likelihood="remote"'))
    (one, *_) = proven(rule).failures
    assert (one.promise, one.file.name, one.case) == (proving.KEPT, LOCK, "revision 1, shallow old box")
    assert "shallow old box" in (recorded / LOCK).read_text().splitlines()[one.line - 1]
    assert "recorded as 'first, confirmed'" in one.cause
    assert "write revision=2" in one.step
    assert run(str(recorded), "--rule", "own-rule").exit_code == 1
    rule.write_text(changed(rule.read_text(), "    basis= -> \\n    revision=2,\\n    basis="))
    assert run(str(recorded)).exit_code == 0


def test_a_recorded_rule_that_is_gone_has_to_be_retired(recorded: Path) -> None:
    """Told of the folder as a whole, not of one of its files; retired, it is no trouble."""
    for name in ("own.py", "own.cases.yaml"):
        text = (recorded / name).read_text()
        (recorded / name).write_text(text.replace("own-rule", "new-rule"))
    done = run(str(recorded))
    assert done.exit_code == 1
    assert "name it in pack.yaml under retired" in " ".join(done.output.split())
    pack = "pack: own\nversion: 1\nmaintainer: A. Example\nsays: invented\nretired: {own-rule: {since: 1, instead: new-rule, why: another name}}\n"
    (recorded / "pack.yaml").write_text(pack)
    assert run(str(recorded)).exit_code == 0


def test_a_record_of_verdicts_that_cannot_be_read_is_told(recorded: Path) -> None:
    (recorded / LOCK).write_text("verdicts: 1\n")
    done = run(str(recorded))
    assert done.exit_code == 1
    assert "take back the file as it was" in " ".join(done.output.split())
