"""The guide for people who write rules, as they would follow it: every file, command and output of it, in order.

A block `yaml PATH`, `python PATH` or `ini PATH` is a file that is written, `diff PATH` a change to one, `diff once
PATH` one that is taken back after the next block. A block `console` holds commands behind `$` with what they print;
a line `...` stands for lines left out, `...` within a line for what differs from run to run. What a person types after
a question is what stands in the block behind it. The table of mistakes is tried on the rule as the guide leaves it.
"""

from __future__ import annotations

import os
import re
import shlex
import shutil
import subprocess
import sys
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import click
import pytest
from click.testing import CliRunner

from asfound.command import main
from asfound.kit.language import language_page
from asfound.kit.prove import PROMISES
from asfound.plugins import collect

ROOT = Path(__file__).parent.parent
PAGE = ROOT / "engine" / "pages" / "writing-rules.md"
GUIDE = PAGE.read_text(encoding="utf-8")
_BLOCK = re.compile(r"^```(\w+)([^\n]*)\n(.*?)^```$", re.MULTILINE | re.DOTALL)


@dataclass(frozen=True)
class Block:
    """One fenced block: the word it opens with, what follows that, its text and the prose between it and the last."""

    sort: str
    about: str
    text: str
    before: str
    line: int


def blocks() -> Iterator[Block]:
    end = 0
    for found in _BLOCK.finditer(GUIDE):
        line = GUIDE.count("\n", 0, found.start()) + 1
        yield Block(found[1], found[2].strip(), found[3], GUIDE[end : found.start()], line)
        end = found.end()


# -- commands


class Person:
    """Somebody at the terminal: types in answer to each question what the block has behind it."""

    def __init__(self, expected: list[str]) -> None:
        self.expected = expected

    def __call__(self, question: str, default: str | None = None, **more: Any) -> str:
        shown = f"{question}{f' [{default}]' if default else ''}:"
        typed = [line.removeprefix(shown).strip() for line in self.expected if line.startswith(shown)]
        assert typed, f"the guide answers no question {shown!r}"
        click.echo(f"{shown} {typed[0]}".rstrip())
        return typed[0] or default or ""


def asfound(arguments: list[str], expected: list[str], monkeypatch: pytest.MonkeyPatch) -> tuple[int, str]:
    with monkeypatch.context() as patched:
        patched.setattr(click, "prompt", Person(expected))
        done = CliRunner().invoke(main, arguments)
    if done.exception is not None and not isinstance(done.exception, SystemExit):
        raise done.exception
    return done.exit_code, done.output


def run(command: str, expected: list[str], monkeypatch: pytest.MonkeyPatch) -> tuple[int, str]:
    """The exit status and all that a command prints; those of the guide and no others."""
    name, *arguments = shlex.split(command)
    match name:
        case "asfound":
            return asfound(arguments, expected, monkeypatch)
        case "cp":
            shutil.copy(*arguments)
        case "rm":
            assert arguments[0] == "-r"
            shutil.rmtree(arguments[1])
        case "pip":
            return installed(arguments, monkeypatch)
        case "pytest":
            return outside("pytest", "-p", "asfound.pytest_plugin", "-p", "no:cacheprovider", *arguments)
        case _:
            raise AssertionError(f"the guide has a command that the test does not know: {command}")
    return 0, ""


def outside(module: str, *arguments: str) -> tuple[int, str]:
    """A module run by a Python of its own."""
    around = {name: value for name, value in os.environ.items() if not name.startswith(("PYTEST", "COV"))}
    around |= {
        "PYTEST_DISABLE_PLUGIN_AUTOLOAD": "1", "PYTHONPATH": os.pathsep.join(filter(None, sys.path)), "COLUMNS": "160",
    }  # fmt: skip
    done = subprocess.run(
        [sys.executable, "-m", module, *arguments], capture_output=True, text=True, check=False, env=around
    )
    return done.returncode, done.stdout + done.stderr


def installed(arguments: list[str], monkeypatch: pytest.MonkeyPatch) -> tuple[int, str]:
    """`pip install` into a folder of its own, which is then looked into like the others."""
    place = Path("installed").resolve()
    quiet = ("--isolated", "--disable-pip-version-check", "--no-index", "--no-deps", "--no-cache-dir", "--no-compile")
    status, said = outside("pip", *arguments, *quiet, "--target", str(place))
    monkeypatch.syspath_prepend(str(place))
    return status, said


# -- blocks


def write(block: Block, path: Path) -> None:
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_text(block.text, encoding="utf-8")


def change(block: Block, path: Path) -> None:
    """Lines behind a blank or a minus have to be there, once; those behind a minus go and those behind a plus come."""
    before = "".join(f"{line[1:]}\n" for line in block.text.splitlines() if line[0] in " -")
    after = "".join(f"{line[1:]}\n" for line in block.text.splitlines() if line[0] in " +")
    text = path.read_text(encoding="utf-8")
    assert text.count(before) == 1, f"line {block.line} of the guide: {before!r} stands {text.count(before)} times"
    path.write_text(text.replace(before, after), encoding="utf-8")


def console(block: Block, monkeypatch: pytest.MonkeyPatch) -> None:
    for part in re.split(r"^\$ ", block.text, flags=re.MULTILINE)[1:]:
        first, *expected = part.splitlines()
        command, _, note = first.partition("  # exit status ")
        status, said = run(command, expected, monkeypatch)
        assert status == int(note or 0), f"line {block.line} of the guide, {command}:\n{said}"
        assert matches(expected, said), f"line {block.line} of the guide, {command}:\n{said}"


def matches(expected: list[str], said: str) -> bool:
    """Whether an output is as the guide has it; blanks at the end of lines do not count."""
    pattern = []
    for line in expected:
        if line == "...":
            pattern.append(r"(?:.*\n)*?")
        else:
            pattern.append(".*".join(map(re.escape, line.rstrip().split("..."))) + "\n")
    text = "".join(f"{line.rstrip()}\n" for line in said.splitlines())
    return re.fullmatch("".join(pattern), text) is not None


MISTAKES = re.findall(r"^\| `(.+?)` \| `(.+?)` \| (.+) \|$", GUIDE, re.MULTILINE)


def mistaken(folder: Path, right: str, wrong: str, said: str, monkeypatch: pytest.MonkeyPatch) -> None:
    """One row of the table of mistakes: the change made where the right text stands, the message, the change undone."""
    (path,) = [one for one in (folder / "stands").glob("setback-over-course.*.yaml") if right in one.read_text()]
    text = path.read_text(encoding="utf-8")
    path.write_text(text.replace(right, wrong, 1), encoding="utf-8")
    status, output = run("asfound rule test stands", [], monkeypatch)
    path.write_text(text, encoding="utf-8")
    assert status in (1, 2), wrong
    assert said in " ".join(output.split()), f"{wrong}:\n{output}"


# -- the tests


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.chdir(tmp_path)
    return tmp_path


def test_the_guide_as_it_stands(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Every block from the first to the last in one folder."""
    taken_back: dict[Path, str] = {}
    for block in blocks():
        name = block.about.removeprefix("once ")
        match block.sort:
            case "console":
                console(block, monkeypatch)
            case "diff":
                path = folder / name
                if block.about != name:
                    taken_back[path] = path.read_text(encoding="utf-8")
                change(block, path)
                continue
            case _:
                write(block, folder / name)
        for path, text in taken_back.items():
            path.write_text(text, encoding="utf-8")
        taken_back.clear()
    assert len(MISTAKES) > 8
    for right, wrong, said in MISTAKES:
        mistaken(folder, right, wrong, said, monkeypatch)


def test_every_block_says_what_it_is() -> None:
    """A file or a change has its path behind the word, and the prose before it names that path; a mistake need not."""
    near = ""
    for block in blocks():
        assert block.sort in ("console", "diff", "yaml", "python", "ini"), f"line {block.line}"
        assert bool(block.about) == (block.sort != "console"), f"line {block.line}"
        if block.about and not block.about.startswith("once "):
            near = block.before if block.before.strip() else near  # one block right behind another
            assert f"`{block.about}`" in near, f"line {block.line}"
    assert GUIDE.count("\n```") == 2 * len(list(blocks()))


def test_links_lead_somewhere() -> None:
    """To headings of the page and files beside it."""
    headings = {
        re.sub(r"[^a-z0-9 -]", "", line[3:].lower()).replace(" ", "-")
        for line in GUIDE.splitlines()
        if line.startswith("## ")
    }
    for target in re.findall(r"\]\(([^)]+)\)", GUIDE):
        if target.startswith("#"):
            assert target[1:] in headings, target
        else:
            assert (PAGE.parent / target).is_file(), target


def test_words_and_bounds_are_those_of_the_language() -> None:
    """The whole page that the command prints, not a part of it."""
    assert f"$ asfound rule facts --language\n{language_page()}```" in GUIDE


def test_what_is_named_in_prose_exists() -> None:
    """Options of the commands, promises of rules, and files of the project."""
    commands = [name for group in ("", "rule") for name in _names(group)]
    helped = "".join(CliRunner().invoke(main, [*name.split(), "--help"]).output for name in commands)
    prose = _BLOCK.sub("", GUIDE)
    for option in re.findall(r"`(--[a-z-]+)", prose):
        assert option in helped, option
    for file in re.findall(r"`((?:schemas|tests)/[^`]+)`", prose):
        assert (ROOT / file).is_file(), file
    assert "a changed verdict raises the revision" in PROMISES
    assert "box-set-back" in {rule.name for rule in collect().rules}


def _names(group: str) -> Iterator[str]:
    said = CliRunner().invoke(main, [*group.split(), "--help"]).output.partition("Commands:")[2]
    for name in re.findall(r"^  ([a-z]+) {2,}", said, re.MULTILINE):
        yield f"{group} {name}".strip()


OPERATORS = {
    "== != < <= > >=": 'box.volume == 1 || box.volume != 1 || box.volume < 1 || box.volume <= 1 || box.volume > 1 || box.volume >= 1',
    "&& || !": "(box.metal && box.metal) || !box.metal",
    "+ - * /": "box.volume + 2.0 - 1.0 * 2.0 / 2.0 > 0",
    "condition ? a : b": "box.metal ? box.metal : !box.metal",
    'x in ["a", "b"]': 'box.cover in ["missing", "broken"]',
    "list.exists(x, ...)": "box.joints.exists(x, x.tag != '') || box.joints.exists_one(x, x.tag != '') || box.joints.all(x, x.tag != '')",
    "list.filter(x, ...)": "size(box.joints.filter(x, x.tag != '')) + size(box.joints.map(x, x.tag)) > 0",
}  # fmt: skip


@pytest.mark.parametrize("name", list(OPERATORS))
def test_each_operator_is_one_of_the_language(name: str, tmp_path: Path) -> None:
    """As the page has it; and the page has each of these."""
    assert f"\n  {name:<20} " in language_page()
    file = tmp_path / "own.rules.yaml"
    about = "of: box\n  title: Own\n  severity: marginal\n  likelihood: remote\n  caution: 'Caution: own.'\n  defer: own\n  source: own\n  basis: common practice"
    file.write_text(f"own-rule:\n  {about}\n  finds:\n    - when: |-\n        {OPERATORS[name]}\n      says: Own.\n")
    assert collect([file]).rule("own-rule").of == "box"


def test_every_operator_of_the_page_is_tried() -> None:
    told = language_page().partition("Functions")[0]
    assert {line[2:23].strip() for line in told.splitlines() if re.match(r"  \S", line)} == set(OPERATORS)
