"""Rules and tables from outside: what is loaded, what is refused and in which words, and what is never loaded."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
import textwrap
from pathlib import Path

import pytest

from asfound.judge.rules import BadRule
from asfound.judge.tables import TableSet, read_tables
from asfound.plugins import collect, python_files

ROOT = Path(__file__).parent.parent
RECORD = """\
asfound: 1
site: {name: Invented hut}
supply: 120/240 split phase
panels: {A: {breakers: {1: 15}}}
boxes: {hall: {kind: octagonal 4 x 2-1/8, clamps: none}}
cables: {W1: {type: 14/2 NM-B with ground, from: A 1, to: {at: hall, black: capped, white: capped, bare: loose}}}
"""
RULE = '''
from asfound.authoring import rule

@rule(
    "{name}",
    of="cable",
    severity="negligible",
    likelihood="remote",
    caution="Notice: an invented rule.",
    defer="The adopted local code decides.",
    source="common practice, no source",
    basis="common practice",
)
def {function}(cable):
    """A rule of an office."""
    yield f"{{cable}} was looked at."
'''


def rule_file(path: Path, name: str = "office-rule", function: str = "office_rule", **changes: str) -> Path:
    """A file with one rule; `changes` are given as text to replace and its replacement."""
    text = RULE.format(name=name, function=function)
    for line in changes.values():
        before, _, after = line.partition(" -> ")
        assert before in text
        text = text.replace(before, after)
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_text(text)
    return path


def run(
    *arguments: str, folder: Path, more_path: str = "", python: tuple[str, ...] = ("-P",)
) -> subprocess.CompletedProcess[str]:
    paths = [str(ROOT / name) for name in ("engine", "rules", "schemas")] + ([more_path] if more_path else [])
    return subprocess.run(
        [sys.executable, *python, "-m", "asfound", *arguments],
        capture_output=True, text=True, cwd=folder, check=False,
        env={**os.environ, "PYTHONPATH": os.pathsep.join(paths)},
    )  # fmt: skip


@pytest.fixture
def hut(tmp_path: Path) -> Path:
    path = tmp_path / "visit" / "hut.yaml"
    path.parent.mkdir()
    path.write_text(RECORD)
    return path


# -- two of one name


def test_two_rules_of_one_name_are_refused_with_both_places(tmp_path: Path) -> None:
    """Neither is taken in silence: the message names both files and lines."""
    one, two = rule_file(tmp_path / "one.py"), rule_file(tmp_path / "two.py")
    with pytest.raises(BadRule) as refused:
        collect([one, two])
    words = str(refused.value)
    assert "two rules are named 'office-rule'" in words
    assert f"{one} line 4" in words
    assert f"{two} line 4" in words


def test_a_rule_may_not_take_the_name_of_a_built_in_one(tmp_path: Path) -> None:
    """It would replace it without a word."""
    with pytest.raises(BadRule, match="two rules are named 'box-overfull'"):
        collect([rule_file(tmp_path / "one.py", name="box-overfull")])


def test_a_function_of_the_same_name_hides_no_rule(tmp_path: Path) -> None:
    """Copied and renamed in the decorator only: Python keeps the second function, and both rules are still there."""
    file = rule_file(tmp_path / "one.py", name="first-rule")
    file.write_text(file.read_text() + RULE.format(name="second-rule", function="office_rule"))
    names = {rule.name for rule in collect([file]).rules}
    assert {"first-rule", "second-rule"} <= names


def test_the_same_file_named_twice_is_loaded_once(tmp_path: Path) -> None:
    """By two spellings of its path too."""
    file = rule_file(tmp_path / "rules" / "one.py")
    collected = collect([file, file.parent / ".." / "rules" / "one.py"])
    assert [rule.name for rule in collected.rules].count("office-rule") == 1


TABLE = """\
{name}:
  unit: A
  key: [gauge]
  editions:
    "{date}":
      edition: Invented {date}
      source: invented
      checked: invented
      rows: {{"14": {value}}}
"""


def tables(folder: Path, **files: str) -> list[Path]:
    made = []
    for name, text in files.items():
        path = folder / f"{name}.yaml"
        path.write_text(text)
        made.append(path)
    return made


def test_editions_of_one_table_from_two_files_are_merged(tmp_path: Path) -> None:
    """Disjoint dates: each date is read from the file that has it."""
    files = tables(tmp_path, old=TABLE.format(name="limit", date="2000-01-01", value=1),
                   new=TABLE.format(name="limit", date="2010-01-01", value=2))  # fmt: skip
    held = [table for file in reversed(files) for table in read_tables(file)]
    assert TableSet(held, "2005-01-01").edition("limit").rows == {"14": 1}  # type: ignore[union-attr]
    assert TableSet(held, "2010-01-01").edition("limit").rows == {"14": 2}  # type: ignore[union-attr]
    assert TableSet(held, "1999-12-31").edition("limit") is None


@pytest.mark.parametrize(
    ("second", "words"),
    [
        pytest.param(TABLE.format(name="limit", date="2000-01-01", value=2), "edition 2000-01-01", id="same date"),
        pytest.param(TABLE.format(name="limit", date="2010-01-01", value=2).replace("unit: A", "unit: V"), "unit or key",
                     id="other unit"),
        pytest.param(TABLE.format(name="limit", date="2010-01-01", value=2).replace("[gauge]", "[gauge, metal]"),
                     "unit or key", id="other key"),
    ],
)  # fmt: skip
def test_tables_that_clash_are_refused_with_both_files(tmp_path: Path, second: str, words: str) -> None:
    """Which of two limits holds is never left to the order of files."""
    files = tables(tmp_path, one=TABLE.format(name="limit", date="2000-01-01", value=1), two=second)
    with pytest.raises(BadRule) as refused:
        TableSet([table for file in files for table in read_tables(file)], "2020-01-01")
    assert words in str(refused.value)
    assert all(str(file) in str(refused.value) for file in files)


@pytest.mark.parametrize(
    ("text", "words"),
    [
        pytest.param("limit: {unit: A, key: [a]}", "lacks editions", id="no editions"),
        pytest.param(TABLE.format(name="limit", date="2000-01-01", value=1).replace("      source: invented\n", ""),
                     "lacks source", id="no source"),
        pytest.param(TABLE.format(name="limit", date="2000-01-01", value=1).replace("      checked: invented\n", ""),
                     "lacks checked", id="not said how it was checked"),
        pytest.param(TABLE.format(name="limit", date="2000", value=1), "is not a date", id="year alone"),
        pytest.param(
            TABLE.format(name="limit", date="2000-01-01", value=1) + "      from_memory: true\n",
            "from_memory lists keys of rows", id="no list of rows from memory",
        ),
        pytest.param("limit: [1, 2]", "holds no tables", id="a list"),
        pytest.param("limit: {", "is not YAML", id="broken off"),
        pytest.param("limit: {unit: A, key: [a], editions: [1]}", "by effective date", id="editions as a list"),
        pytest.param("limit: {unit: A, key: [a], editions: {'2000-01-01': {edition: x, source: x, checked: x, rows: [1]}}}",
                     "rows as key: value", id="rows as a list"),
    ],
)  # fmt: skip
def test_a_table_of_bad_form_is_refused_with_its_file(tmp_path: Path, text: str, words: str) -> None:
    """File, table and what is missing; never a trace of the program."""
    (file,) = tables(tmp_path, one=text)
    with pytest.raises(BadRule) as refused:
        read_tables(file)
    assert words in str(refused.value)
    assert str(file) in str(refused.value)


# -- what is loaded and what is not


def test_a_folder_that_is_named_is_loaded(hut: Path, tmp_path: Path) -> None:
    """Its rules run, its tables can be read, and the result says that it was named."""
    folder = tmp_path / "office"
    rule_file(folder / "one.py")
    (folder / "tables").mkdir()
    tables(folder / "tables", limit=TABLE.format(name="limit", date="2000-01-01", value=1))
    collected = collect([folder])
    assert collected.rule("office-rule").title == "A rule of an office"
    assert "limit" in TableSet(collected.tables, "2020-01-01").by_name
    done = run("check", str(hut), "--rules", str(folder), folder=tmp_path)
    assert "W1 was looked at." in done.stdout
    assert f"With rules from {folder}" in " ".join(done.stdout.split())


@pytest.mark.parametrize("python", [pytest.param(("-P",), id="installed command"), pytest.param((), id="python -m")])
def test_a_file_beside_the_record_is_never_loaded(hut: Path, tmp_path: Path, python: tuple[str, ...]) -> None:
    """Opening a stranger's record runs nothing of the stranger's, from whichever folder the command is given."""
    mark = tmp_path / "it ran"
    trap = f"open({str(mark)!r}, 'w').close()\n"
    for name in ("rules.py", "conftest.py", "sitecustomize.py", "asfound_rules.py", "hut.py", "yaml.py", "click.py"):
        (hut.parent / name).write_text(trap)
    (hut.parent / "tables").mkdir()
    info = hut.parent / "trap-1.dist-info"
    info.mkdir()
    (info / "METADATA").write_text("Metadata-Version: 2.1\nName: trap\nVersion: 1\n")
    (info / "entry_points.txt").write_text("[asfound.rules]\ntrap = hut\n")
    done = run("check", hut.name, folder=hut.parent, python=python)
    assert done.returncode in (0, 1), done.stderr
    assert not mark.exists()


@pytest.mark.parametrize(
    ("body", "words"),
    [
        pytest.param("raise RuntimeError('no licence file')", "RuntimeError: no licence file", id="raises"),
        pytest.param("raise SystemExit(0)", "SystemExit: 0", id="ends the program"),
        pytest.param("def broken(:", "SyntaxError", id="is not Python"),
        pytest.param(
            "import something_that_is_not_there",
            "it imports something_that_is_not_there",
            id="imports what is not there",
        ),
    ],
)
def test_a_rule_file_that_cannot_be_loaded_stops_the_command(hut: Path, tmp_path: Path, body: str, words: str) -> None:
    """Status 2, the file and the reason, and no result that lacks its rules."""
    file = tmp_path / "office.py"
    file.write_text(body + "\n")
    done = run("check", str(hut), "--rules", str(file), folder=tmp_path)
    assert (done.returncode, done.stdout) == (2, "")
    assert str(file) in done.stderr
    assert words in done.stderr
    assert "Traceback" not in done.stderr


@pytest.mark.parametrize(
    ("path", "words"),
    [
        pytest.param("nothing here", "neither a folder nor a .py file", id="no such path"),
        pytest.param("visit/hut.yaml", "neither a folder nor a .py file", id="a record"),
        pytest.param("empty", "holds no rules", id="an empty folder"),
    ],
)
def test_a_path_without_rules_is_refused(hut: Path, tmp_path: Path, path: str, words: str) -> None:
    """What was named and holds nothing is a slip, and not passed over."""
    (tmp_path / "empty").mkdir()
    done = run("check", str(hut), "--rules", path, folder=tmp_path)
    assert (done.returncode, done.stdout) == (2, "")
    assert words in done.stderr
    assert path in done.stderr


# -- packages


def package(folder: Path, module: str) -> Path:
    """An installed rule package, as pip would leave it: a module and its dist-info."""
    (folder / "office_rules.py").write_text(textwrap.dedent(module))
    info = folder / "office_rules-1.0.dist-info"
    info.mkdir()
    (info / "METADATA").write_text("Metadata-Version: 2.1\nName: office-rules\nVersion: 1.0\n")
    (info / "entry_points.txt").write_text("[asfound.rules]\noffice = office_rules\n")
    return folder


PACKAGE = """
import sys
from asfound.authoring import hookimpl
from pathlib import Path

@hookimpl
def asfound_rules():
    return [sys.modules[__name__]]

@hookimpl
def asfound_tables():
    return [Path(__file__).with_name("limit.yaml")]
"""


def test_an_installed_package_brings_rules_and_tables(hut: Path, tmp_path: Path) -> None:
    """By the entry point group asfound.rules, beside the built-in rules."""
    folder = tmp_path / "site"
    folder.mkdir()
    tables(folder, limit=TABLE.format(name="limit", date="2000-01-01", value=42))
    body = RULE.format(name="office-rule", function="office_rule").replace("(cable)", "(cable, tables)")
    body = body.replace("{cable} was looked at.", "{cable} may carry {tables.value('limit', 14)} A.")
    package(folder, PACKAGE + body)
    done = run("check", str(hut), folder=tmp_path, more_path=str(folder))
    assert "W1 may carry 42 A." in done.stdout
    assert "conductor-too-small" in done.stdout
    listed = run("explain", folder=tmp_path, more_path=str(folder)).stdout
    assert "office-rule" in listed


@pytest.mark.parametrize(
    ("module", "words"),
    [
        pytest.param("raise RuntimeError('no licence')", "'office' (office_rules)", id="at import"),
        pytest.param("""
            from asfound.authoring import hookimpl
            @hookimpl
            def asfound_rules():
                import something_that_is_not_there
            """, "'office'", id="when asked for its rules"),
        pytest.param("""
            from asfound.authoring import hookimpl
            @hookimpl
            def asfound_rules():
                return None
            """, "'office'", id="answers nothing"),
        pytest.param("""
            from asfound.authoring import hookimpl
            from pathlib import Path
            @hookimpl
            def asfound_tables():
                return [Path("not there.yaml")]
            """, "not there.yaml", id="names a table file that is not there"),
    ],
)  # fmt: skip
def test_a_package_that_cannot_be_loaded_stops_the_command(hut: Path, tmp_path: Path, module: str, words: str) -> None:
    """Status 2 and the name of the package: a result without its rules would be silent about them."""
    folder = tmp_path / "site"
    folder.mkdir()
    package(folder, module)
    done = run("check", str(hut), folder=tmp_path, more_path=str(folder))
    assert (done.returncode, done.stdout) == (2, "")
    assert words in done.stderr
    assert "Traceback" not in done.stderr


# -- what a rule has to say about itself


@pytest.mark.parametrize(
    ("change", "words"),
    [
        pytest.param('of="cable" -> of="cabl"', "did you mean 'cable'", id="misspelt kind of item"),
        pytest.param('    of="cable",\n -> ', "of= one of", id="no kind of item"),
        pytest.param('    caution="Notice: an invented rule.",\n -> ', "needs a caution", id="no caution"),
        pytest.param(
            "Notice: an invented rule. -> Beware: of it.", "needs a caution: Danger, Warning", id="other word"
        ),
        pytest.param("Notice: an invented rule. -> Notice", "needs a caution", id="signal word alone"),
        pytest.param('    source="common practice, no source",\n -> ', "needs a source", id="no source"),
        pytest.param('    defer="The adopted local code decides.",\n -> ', "needs defer=", id="no deferral"),
        pytest.param('basis="common practice" -> basis="hearsay"', "needs basis=", id="unknown basis"),
        pytest.param('severity="negligible" -> severity="high"', "needs severity= one of", id="a risk for a severity"),
        pytest.param('likelihood="remote" -> likelihood="often"', "needs likelihood= one of", id="unknown likelihood"),
        pytest.param('    """A rule of an office."""\n -> ', "needs a docstring", id="no title"),
        pytest.param("(cable) -> (cable, table)", "no parameters besides", id="misspelt parameter"),
        pytest.param("(cable) -> ()", "needs a first parameter", id="no item"),
        pytest.param('"office-rule" -> "Office rule"', "a name in lower case without spaces", id="name with spaces"),
    ],
)
def test_a_rule_that_leaves_something_out_is_refused_at_load(tmp_path: Path, change: str, words: str) -> None:
    """With the rule, the file, the line and what it needs."""
    file = rule_file(tmp_path / "office.py", change=change)
    with pytest.raises(BadRule) as refused:
        collect([file])
    assert words in str(refused.value)
    assert f"{file} line 4" in str(refused.value)


def test_tests_that_lie_beside_rules_are_not_loaded_as_rules(tmp_path: Path) -> None:
    """A repository of rules may keep its own tests and conftest in the same folder."""
    shutil.copy(ROOT / "fixtures" / "pack" / "tails.py", tmp_path / "tails.py")
    (tmp_path / "tables").mkdir()
    shutil.copy(ROOT / "fixtures" / "pack" / "tables" / "practice.yaml", tmp_path / "tables")
    for name in ("test_tails.py", "conftest.py"):
        (tmp_path / name).write_text("import os\nraise RuntimeError('run')\n", encoding="utf-8")
    assert [path.name for path in python_files(tmp_path)] == ["tails.py"]
    assert collect([tmp_path]).rule("practice-tails-short").file.name == "tails.py"
