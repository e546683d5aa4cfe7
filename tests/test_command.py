"""The command line as a person or a script meets it: output, exit statuses, messages."""

from __future__ import annotations

import json
import os
import re
import subprocess
import sys
from pathlib import Path

import jsonschema
import pytest

from asfound_schemas import schema

ROOT = Path(__file__).parent.parent
DEFECT = """\
asfound: 1
site: {name: Invented hut}
supply: 120/240 split phase
panels: {A: {breakers: {1: 20, 3: 15}}}
boxes: {hall: {kind: octagonal 4 x 2-1/8, clamps: none}}
cables:
  W1: {type: 12/2 NM-B with ground, from: A 1, to: hall}
  W2: {type: 14/2 NM-B with ground, from: hall, to: lamp}
joints:
  J1: {at: hall, ends: [W1 black, W2 black]}
  J2: {at: hall, ends: [W1 white, W2 white]}
  J3: {at: hall, ends: [W1 bare, W2 bare, box]}
devices: {lamp: {kind: luminaire, wired_to: W2}}
"""
CLEAN = DEFECT.replace("{1: 20, 3: 15}", "{1: 15, 3: 15}")


def run(*arguments: str, folder: Path | None = None, **env: str) -> subprocess.CompletedProcess[str]:
    """Run the command in a process of its own."""
    paths = os.pathsep.join(str(ROOT / name) for name in ("engine", "rules", "schemas"))
    return subprocess.run(
        [sys.executable, "-P", "-m", "asfound", *arguments],
        capture_output=True, text=True, cwd=folder or ROOT, check=False,
        env={**os.environ, "PYTHONPATH": paths, **env},
    )  # fmt: skip


@pytest.fixture
def record(tmp_path: Path) -> Path:
    path = tmp_path / "hut.yaml"
    path.write_text(DEFECT)
    return path


@pytest.mark.parametrize(
    ("text", "options", "status"),
    [
        pytest.param(DEFECT, [], 1, id="a defect"),
        pytest.param(CLEAN, [], 0, id="no defect"),
        pytest.param(DEFECT, ["--fail-on", "hands off"], 0, id="a defect below the threshold"),
        pytest.param(DEFECT, ["--fail-on", "first"], 1, id="a defect at the threshold"),
        pytest.param("asfound: 1\nsite: {}\n", [], 3, id="a record of bad form"),
        pytest.param(DEFECT, ["--as-of", "yesterday"], 2, id="a date that is none"),
        pytest.param(DEFECT, ["--as-of", "2020-01-01", "--edition", "2020"], 2, id="date and edition"),
        pytest.param(DEFECT, ["--rules", "nowhere"], 2, id="rules that are not there"),
        pytest.param(DEFECT.split("panels")[0] + "panels: {A: {}}\n", [], 5, id="nothing to check"),
    ],
)
def test_exit_status(tmp_path: Path, text: str, options: list[str], status: int) -> None:
    """Few, documented, scriptable."""
    path = tmp_path / "hut.yaml"
    path.write_text(text)
    done = run("check", str(path), *options)
    assert done.returncode == status, done.stdout + done.stderr
    assert "Traceback" not in done.stderr


def test_possible_findings_do_not_raise_the_status_unless_asked(tmp_path: Path) -> None:
    """A 14 or 12 is a question, not a defect."""
    path = tmp_path / "hut.yaml"
    path.write_text(DEFECT.replace("{type: 14/2 NM-B", "{gauge: 14 or 12, type: 12/2 NM-B"))
    assert run("check", str(path)).returncode == 0
    assert run("check", str(path), "--include-possible").returncode == 1


def test_text_is_eighty_columns_and_says_what_it_must(record: Path) -> None:
    """Place first, the caution and the deferral with every defect, the meaning of every word used."""
    done = run("check", str(record), "--as-of", "2026-05-20")
    lines = done.stdout.splitlines()
    assert max(map(len, lines)) <= 80
    assert "cable W2, hall to lamp" in done.stdout
    for part in ("First, confirmed. 20 A breaker A 1 on 14 AWG copper", "Warning: an overloaded conductor",
                 "Local code:", "as of 2026-05-20", "not an approval", "A check that found nothing is not an all-clear",
                 "confirmed: A defect whatever"):  # fmt: skip
        assert part in " ".join(done.stdout.split()), part


def test_json_is_of_its_schema_and_agrees_with_the_text(record: Path) -> None:
    done = run("check", str(record), "--format", "json", "--as-of", "2026-05-20")
    held = json.loads(done.stdout)
    jsonschema.validate(held, schema("findings"), cls=jsonschema.Draft202012Validator)
    assert list(held) == ["record", "run", "counts", "findings", "cannot_tell", "failed"]
    finding = held["findings"][0]
    assert (finding["rule"], finding["at"]["item"]) == ("conductor-too-small", "conductor W2 black")
    written = {(one["fact"], one.get("written")): one.get("line") for one in finding["evidence"]}
    assert written["amps", "20"] == 4
    assert written["gauge", "14/2 NM-B with ground"] == 8
    assert finding["tables"][0]["value"] == 15
    assert sum(held["counts"]["outcomes"].values()) == held["counts"]["checks"]


def test_edition_is_printed(record: Path) -> None:
    """The tables used are named in the output."""
    out = run("check", str(record), "--edition", "2017").stdout
    assert "tables of the 2017 edition" in " ".join(out.split())


def test_refused_record_lists_every_problem_in_file_order(tmp_path: Path) -> None:
    path = tmp_path / "hut.yaml"
    path.write_text(DEFECT.replace("kind: lum", "knd: lum").replace("[W1 white, W2 white]", "[W1 white, W2 whit]"))
    done = run("check", str(path))
    assert done.returncode == 3
    assert done.stdout == ""
    lines = done.stderr.splitlines()
    assert "line 11" in lines[0]
    assert "did you mean 'W2 white'" in lines[0]
    assert any("did you mean 'kind'" in line and "line 13" in line for line in lines)


@pytest.mark.parametrize("name", ["absent.yaml", "."], ids=["no such file", "a folder"])
def test_unreadable_record_is_refused_with_a_sentence(tmp_path: Path, name: str) -> None:
    done = run("check", str(tmp_path / name))
    assert done.returncode == 3
    assert len(done.stderr.strip().splitlines()) == 2


FAILING = '''
from asfound.authoring import rule

@rule("always-raises", of="cable", severity="critical", likelihood="remote", caution="Warning: keep away.",
      defer="Local code and licensed practice decide.", source="common practice, no source", basis="common practice")
def always_raises(cable):
    """A rule that is broken."""
    raise RuntimeError("broken on purpose")
    yield ""
'''


def test_failed_rule_is_named_in_every_output_and_has_its_status(record: Path, tmp_path: Path) -> None:
    rules = tmp_path / "own.py"
    rules.write_text(FAILING)
    text = run("check", str(record), "--rules", str(rules))
    assert text.returncode == 4
    assert "RULES THAT FAILED" in text.stdout
    assert "conductor-too-small" in text.stdout
    held = json.loads(run("check", str(record), "--rules", str(rules), "--format", "json").stdout)
    assert {one["rule"] for one in held["failed"]} == {"always-raises"}
    assert held["findings"]


def test_rules_beside_the_record_are_not_loaded(record: Path) -> None:
    """Only rules named on the command line are run."""
    (record.parent / "own.py").write_text(FAILING)
    (record.parent / "asfound_rules.py").write_text("raise SystemExit(9)")
    assert run("check", str(record), folder=record.parent).returncode == 1


@pytest.mark.parametrize("supply", ["120/240 split phase", "208Y/120", "230 single phase"])
def test_new_record_is_accepted_and_says_that_nothing_is_in_it(tmp_path: Path, supply: str) -> None:
    path = tmp_path / "house.yaml"
    assert run("new", str(path), "--supply", supply, "--panel", "Main", "--spaces", "8").returncode == 0
    done = run("check", str(path))
    assert done.returncode == 5
    assert "Nothing was checked" in done.stderr
    assert "not an all-clear" in done.stderr


def test_new_leaves_an_existing_file_alone(record: Path) -> None:
    done = run("new", str(record))
    assert done.returncode == 2
    assert record.read_text() == DEFECT
    assert "was left as it is" in done.stderr


@pytest.mark.parametrize("tag", ["a: b", "x\ny", "#", "'"])
def test_new_makes_no_record_that_check_refuses(tmp_path: Path, tag: str) -> None:
    path = tmp_path / "house.yaml"
    if run("new", str(path), "--panel", tag).returncode == 0:
        assert run("check", str(path)).returncode == 5
    else:
        assert not path.exists()


def test_starter_comments_are_a_valid_record_when_taken_in(tmp_path: Path) -> None:
    """What the comments show can be written as it stands."""
    path = tmp_path / "house.yaml"
    run("new", str(path))
    example = re.compile(r"( +)# ((?:[A-Z]?[0-9a-z ]+: |- ).*)")
    lines = []
    for line in path.read_text().splitlines():
        match = example.fullmatch(line)
        lines.append(match.group(1) + match.group(2) if match else line)
    path.write_text(re.sub(r": (\{\}|\[\])$", ":", "\n".join(lines), flags=re.MULTILINE))
    done = run("check", str(path))
    assert done.returncode in (0, 1), done.stderr
    assert "3 cables" in done.stdout


def test_help_and_version_load_no_rules() -> None:
    """They answer even when the rules cannot be imported."""
    for argument in ("--help", "--version"):
        code = f"import sys; sys.modules['asfound_rules'] = None; sys.modules['asfound.survey'] = None\n" \
               f"sys.argv = ['asfound', '{argument}']\nfrom asfound.command import main; main()"  # fmt: skip
        paths = os.pathsep.join(str(ROOT / name) for name in ("engine", "rules", "schemas"))
        done = subprocess.run(
            [sys.executable, "-c", code],
            capture_output=True, text=True, check=False, env={**os.environ, "PYTHONPATH": paths},
        )  # fmt: skip
        assert done.returncode == 0, done.stderr


def test_explain_prints_a_page_and_lists_all() -> None:
    page = run("explain", "box-overfull").stdout
    assert "NFPA 70 (NEC) 314.16" in page
    assert "Local code:" in page
    assert max(map(len, page.splitlines())) <= 80
    listed = run("explain").stdout
    assert "box-overfull" in listed
    assert max(map(len, listed.splitlines())) <= 80
    lost = run("explain", "box-overful")
    assert lost.returncode == 2
    assert "did you mean 'box-overfull'" in lost.stderr


def test_pages_that_cannot_be_written_give_a_sentence(tmp_path: Path) -> None:
    """A folder below a file is no folder."""
    (tmp_path / "file").write_text("")
    done = run("explain", "--pages", str(tmp_path / "file" / "pages"))
    assert done.returncode == 2
    assert "cannot be written" in done.stderr
    assert "Traceback" not in done.stderr


def test_the_demo_is_eighty_columns_with_every_rule() -> None:
    for options in ([], ["--all"]):
        lines = run("check", "fixtures/demo.yaml", "--as-of", "2026-05-20", *options).stdout.splitlines()
        assert [line for line in lines if len(line) > 80] == []


def test_times_are_printed_on_standard_error(record: Path) -> None:
    done = run("check", str(record), "--times", "--format", "json")
    json.loads(done.stdout)
    assert "box-overfull" in done.stderr
