"""The pytest plugin: the rules of a coordinator's own repository, and nothing at all in any other."""

from __future__ import annotations

import importlib
import tomllib
from pathlib import Path

import pytest

from asfound.kit.prove import FOR_EACH_CASE, PROMISES
from test_rule_test import CASES, FORM, RULE, changed, put

pytest_plugins = ["pytester"]
ROOT = Path(__file__).parent.parent
TESTS = 5 + len(set(PROMISES) - set(FOR_EACH_CASE)) + 1
"""Of the sample: its cases, the promises of a rule as a whole, and the file."""
INI = "[pytest]\nasfound_rules = rules\n"


@pytest.fixture
def own(pytester: pytest.Pytester, monkeypatch: pytest.MonkeyPatch) -> pytest.Pytester:
    """A repository of somebody's own, in which no other plugin is loaded."""
    monkeypatch.setenv("PYTEST_DISABLE_PLUGIN_AUTOLOAD", "1")
    monkeypatch.delenv("PYTEST_ADDOPTS", raising=False)
    pytester.makeini(INI)
    pytester.plugins = []
    return pytester


def run(own: pytest.Pytester, *arguments: str) -> pytest.RunResult:
    return own.runpytest_inprocess("-p", "asfound.pytest_plugin", "-p", "no:cacheprovider", *arguments)


def test_the_plugin_is_found_by_its_entry_point() -> None:
    """What pyproject.toml names can be loaded, and holds the hooks."""
    with (ROOT / "pyproject.toml").open("rb") as handle:
        points = tomllib.load(handle)["project"]["entry-points"]["pytest11"]
    assert list(points) == ["asfound"]
    assert hasattr(importlib.import_module(points["asfound"]), "pytest_collect_file")


@pytest.mark.parametrize(
    ("text", "file"), [pytest.param(RULE, "own.py", id="Python"), pytest.param(FORM, "own.rules.yaml", id="YAML")]
)
def test_one_test_for_each_case_and_each_promise(own: pytest.Pytester, text: str, file: str) -> None:
    """Named by list and story, or by the promise, under the rule."""
    put(own.path / "rules", rule=text, file=file)
    done = run(own, "-v")
    done.assert_outcomes(passed=TESTS)
    beside = Path(file).with_suffix(".cases.yaml").name
    done.stdout.fnmatch_lines([
        f"rules/{beside}::own-rule::finds: shallow old box PASSED*",
        f"rules/{beside}::own-rule::cannot tell: behind a cupboard PASSED*",
        f"rules/{beside}::own-rule::every condition goes both ways PASSED*",
        f"rules/{beside}::the file as a whole PASSED*",
    ])  # fmt: skip


def test_a_failure_reads_like_the_command(own: pytest.Pytester) -> None:
    """File, line, cause, both sentences, next step; no trace of the program."""
    put(own.path / "rules", cases=changed(CASES, "hall: 11 in³ -> hall: 12 in³"))
    done = run(own)
    done.assert_outcomes(passed=TESTS - 1, failed=1)
    done.stdout.fnmatch_lines([
        "*own-rule, finds: shallow old box*",
        "*own.cases.yaml line 3, own-rule: finds, shallow old box",
        "  The sentence is another than the case expects.",
        '    case: "hall: 12 in³."',
        '    rule: "hall: 11 in³."',
        "  Next: put the case or the sentence of the rule right, word for word.",
    ])  # fmt: skip
    assert "Traceback" not in done.stdout.str()


def test_a_promise_of_the_rule_fails_by_itself(own: pytest.Pytester) -> None:
    put(own.path / "rules", cases=changed(CASES, "volume: 12} -> volume: 12, cover: missing}"))
    done = run(own)
    done.assert_outcomes(passed=TESTS - 1, failed=1)
    done.stdout.fnmatch_lines(
        ["*every fact stated is read*", "*`box.cover` stands in 1 case, and the rule never reads it."]
    )


def test_a_rule_without_cases_is_collected_all_the_same(own: pytest.Pytester) -> None:
    """Who forgets the file of cases is told; a helper without a rule in it is no test."""
    put(own.path / "rules", cases=None)
    (own.path / "rules" / "helper.py").write_text("LIMIT = 3\n")
    done = run(own)
    done.stdout.fnmatch_lines(["*There is no file of cases beside the rule."])
    assert done.parseoutcomes()["failed"] == 1
    assert "helper" not in done.stdout.str()


@pytest.mark.parametrize(
    ("strict", "outcome"), [pytest.param("", {"passed": TESTS}, id="a warning"),
                            pytest.param("asfound_strict = true\n", {"passed": TESTS - 1, "failed": 1}, id="strict")]
)  # fmt: skip
def test_what_is_worth_a_look(own: pytest.Pytester, strict: str, outcome: dict[str, int]) -> None:
    """A warning at the file and line of the rule, or a failure when asked for."""
    own.makeini(INI + strict)
    put(own.path / "rules", rule=changed(RULE, "\n\n    Says nothing of boxes that nobody measured. -> "))
    done = run(own)
    done.assert_outcomes(**outcome)
    assert "it does not say what it cannot see" in done.stdout.str().lower()
    assert ("own.py:4: RuleWarning: own-rule: it does not" in done.stdout.str()) == (not strict)


def test_a_file_that_cannot_be_loaded_is_an_error_with_its_line(own: pytest.Pytester) -> None:
    put(own.path / "rules", rule=changed(RULE, '    source="common practice, no source",\n -> '))
    done = run(own)
    done.assert_outcomes(errors=1)
    done.stdout.fnmatch_lines(["*own.py line 4, own-rule", "*needs a source*"])


def test_only_what_was_asked_for_is_run(own: pytest.Pytester) -> None:
    """One case by its name; paths on the command line keep the rest out."""
    put(own.path / "rules")
    run(own, "rules/own.cases.yaml::own-rule::finds: shallow old box").assert_outcomes(passed=1)
    run(own, "-k", "equal").assert_outcomes(passed=1, deselected=TESTS - 1)
    own.makepyfile(test_other="def test_other(): pass")
    run(own, "test_other.py").assert_outcomes(passed=1)


def test_rules_are_taken_in_wherever_testpaths_leads(own: pytest.Pytester) -> None:
    """A plain `pytest` proves the rules beside running the tests of the repository; each once."""
    own.makeini(INI + "testpaths = tests\n")
    put(own.path / "rules")
    (own.path / "tests").mkdir()
    (own.path / "tests" / "test_other.py").write_text("def test_other(): pass\n")
    run(own).assert_outcomes(passed=TESTS + 1)
    own.makeini(INI)
    run(own).assert_outcomes(passed=TESTS + 1)


def test_tables_as_of_a_date(own: pytest.Pytester) -> None:
    """Before the first edition the limit cannot be told."""
    own.makeini(INI + "asfound_as_of = 1990-01-01\n")
    put(own.path / "rules")
    assert run(own).parseoutcomes()["failed"] >= 3


@pytest.mark.parametrize(
    ("ini", "said"),
    [
        pytest.param("asfound_rules = cours\n", "there is no file or folder *cours; name those", id="no such folder"),
        pytest.param(
            "asfound_rules = my rules\n", "there is no file or folder *my; name those*in quotes", id="no quotes"
        ),
        pytest.param("asfound_rules = empty\n", "there are no rules and no cases in *empty", id="nothing in it"),
        pytest.param(
            "asfound_rules = rules\nasfound_as_of = yesterday\n", "'yesterday' is no date; write", id="no date"
        ),
    ],
)
def test_what_would_test_nothing_is_an_error(own: pytest.Pytester, ini: str, said: str) -> None:
    """Not a run in which nothing fails."""
    own.makeini(f"[pytest]\n{ini}")
    put(own.path / "rules")
    (own.path / "empty").mkdir()
    done = run(own)
    assert done.ret == pytest.ExitCode.USAGE_ERROR
    done.stderr.fnmatch_lines([f"*{said}*"])


def test_a_folder_with_blanks_is_named_in_quotes(own: pytest.Pytester) -> None:
    own.makeini('[pytest]\nasfound_rules = "my rules"\n')
    put(own.path / "my rules")
    run(own).assert_outcomes(passed=TESTS)


@pytest.mark.parametrize(
    "ini",
    [pytest.param("[pytest]\n", id="not asked for"), pytest.param("[pytest]\nasfound_rules =\n", id="nothing named")],
)
def test_nothing_happens_in_any_other_repository(own: pytest.Pytester, ini: str) -> None:
    """Rules and cases that lie about are left alone, and the engine is not even loaded."""
    own.makeini(ini)
    put(own.path / "rules")
    own.makepyfile(test_other="import sys\ndef test_other(): assert 'asfound.plugins' not in sys.modules")
    done = own.runpytest_subprocess("-p", "asfound.pytest_plugin", "-p", "no:cacheprovider")
    done.assert_outcomes(passed=1)


def test_this_project_does_not_ask_for_it() -> None:
    """The built-in rules are held by tests/test_rule_promises.py, and by nothing a second time."""
    with (ROOT / "pyproject.toml").open("rb") as handle:
        assert "asfound_rules" not in tomllib.load(handle)["tool"]["pytest"]["ini_options"]
