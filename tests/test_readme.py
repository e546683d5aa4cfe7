"""README as a new user would follow it."""

from __future__ import annotations

import os
import re
import shlex
import subprocess
import sys
from pathlib import Path

import pytest

from test_command import run

ROOT = Path(__file__).parent.parent
README = (ROOT / "README.md").read_text(encoding="utf-8")
BLOCKS = re.findall(r"```(\w+)\n(.*?)```", README, re.DOTALL)


def blocks(kind: str) -> list[str]:
    return [text for found, text in BLOCKS if found == kind]


def test_the_first_record_is_the_small_fixture() -> None:
    assert blocks("yaml")[0] == (ROOT / "fixtures" / "small.yaml").read_text(encoding="utf-8")


def test_the_shown_result_is_what_it_prints() -> None:
    out = run("check", "fixtures/small.yaml", "--as-of", "2026-05-20").stdout
    assert blocks("text")[0] in out


def test_demo_command_runs_the_main_job() -> None:
    """The part after the set-up, in this environment."""
    command = next(text for text in blocks("sh") if "fixtures/demo.yaml" in text)
    arguments = shlex.split(command.rsplit("&&", 1)[1])
    assert arguments[0] == ".venv/bin/asfound"
    done = run(*arguments[1:])
    assert done.returncode == 1
    assert "HANDS OFF" in done.stdout


def test_ci_runs_the_test_command_as_it_stands() -> None:
    command = next(text.strip() for text in blocks("sh") if "pytest" in text)
    assert command in (ROOT / ".ci" / "run").read_text(encoding="utf-8").splitlines()


def test_first_record_commands_work(tmp_path: Path) -> None:
    lines = next(text for text in blocks("sh") if "asfound new" in text).splitlines()
    for line, status in zip(lines, (0, 5), strict=True):
        assert run(*shlex.split(line, comments=True)[1:], folder=tmp_path).returncode == status


def test_statuses_agree_with_the_help() -> None:
    table = dict(re.findall(r"^\| (\d) \| (\w+)", README, re.MULTILINE))
    helped = dict(re.findall(r"^ +(\d)  (\w+)", run("check", "--help").stdout, re.MULTILINE))
    assert table == helped


def test_options_named_in_readme_exist() -> None:
    commands = re.findall(r"^  ([a-z]+) {2,}", run("--help").stdout, re.MULTILINE)
    assert {"check", "trace", "next", "report"} <= set(commands)
    text = "".join(run(name, "--help").stdout for name in commands)
    named = set(re.findall(r"`(--[a-z-]+)", README)) | {"--cov"}
    assert {name for name in named if name not in text} == {"--cov"}


@pytest.mark.skipif(
    os.environ.get("CI") != "true", reason="sets up a virtual environment from the package index; CI does"
)
def test_package_installs_whole_in_a_fresh_environment(tmp_path: Path) -> None:
    """Rules, tables, schemas and data are in the wheel, and nothing is read from the checkout."""
    subprocess.run([sys.executable, "-m", "venv", str(tmp_path / "v")], check=True)
    subprocess.run([str(tmp_path / "v/bin/pip"), "install", "-q", str(ROOT)], check=True)
    done = subprocess.run(
        [str(tmp_path / "v/bin/asfound"), "check", str(ROOT / "fixtures/demo.yaml"), "--as-of", "2026-05-20"],
        capture_output=True, text=True, cwd=tmp_path, check=False,
    )  # fmt: skip
    assert done.returncode == 1, done.stderr
    assert "HANDS OFF" in done.stdout
