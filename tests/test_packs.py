"""Packs of rules: what they say of themselves, what they need, the wheel that is built, and two that disagree.

The sample in `fixtures/pack` is of a training centre that does not exist. Wheel: binary distribution format,
RECORD and entry points of the Python packaging specifications (from memory), checked by pip and `packaging`.
"""

from __future__ import annotations

import base64
import csv
import hashlib
import io
import json
import os
import shutil
import subprocess
import sys
import venv
import zipfile
from collections.abc import Callable
from email.parser import HeaderParser
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

import asfound
import asfound_rules
import asfound_schemas
from asfound.accepted import Acceptance, AcceptedFile, held_against, read_accepted
from asfound.command import main
from asfound.command.check import check
from asfound.command.compare import compare as compared
from asfound.command.explain import explain
from asfound.command.rule_pack import disagree, pack
from asfound.command.rule_test import test as rule_test
from asfound.compare.former import accepted_in
from asfound.judge.results import identity_of
from asfound.judge.rules import BadRule
from asfound.kit.disagree import CASE, ITEM, NAME, TABLE, compare, side
from asfound.kit.making import check_pack, load_pack
from asfound.kit.packs import BUILT_IN, LOCK, check_packs, fits, in_use, read_pack, retired_rules, with_hints
from asfound.kit.wheel import build_wheel, distribution, module_of, pack_files
from asfound.render.lines import WIDTH, cells
from asfound.survey import survey
from test_plugins import PACKAGE, RULE, package, tables
from test_plugins import TABLE as TABLE_TEXT

ROOT = Path(__file__).parent.parent
SAMPLE = ROOT / "fixtures" / "pack"
STAND = """\
asfound: 1
invented: true
site: {name: Practice stand}
visits: {V1: {on: 2026-05-04, by: A. Example}}
supply: 120/240 split phase
panels: {A: {breakers: {3: 15}}}
cables: {W1: {type: 14/2 NM-B with ground, from: A 3, to: stand 4, support_spacing: 54 in}}
boxes: {stand 4: {kind: nonmetallic, volume: 18, free_length: 7 in}}
devices: {R1: {kind: duplex receptacle, at: stand 4, wired_to: W1}}
"""
TAILS = "The shortest free conductor in stand 4 is 7 in; the course asks for 8 in."
HELD = "is held every 54 in; the course asks for 36 in at most."
"""What the two rules of the sample say of the stand."""


def run(command: Callable[..., object], *arguments: str | Path) -> Result:
    done = CliRunner().invoke(command, [str(one) for one in arguments])  # type: ignore[arg-type]
    assert done.exception is None or isinstance(done.exception, SystemExit), done.exception
    return done


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """A copy of the sample that a test may change."""
    return Path(shutil.copytree(SAMPLE, tmp_path / "own"))


@pytest.fixture
def stand(tmp_path: Path) -> Path:
    file = tmp_path / "stand.yaml"
    file.write_text(STAND)
    return file


def change(file: Path, before: str, after: str) -> None:
    text = file.read_text()
    assert before in text
    file.write_text(text.replace(before, after))


# -- what a pack says of itself


def test_sample_says_what_it_is() -> None:
    """Name, version as written, what it needs, and its retired rule with what replaced it."""
    held = read_pack(SAMPLE)
    assert (held.name, held.version, held.invented) == ("quillhaven-training", "1.2", True)
    assert "invented" in held.maintainer
    assert held.needs_asfound == ">=0.1"
    (one,) = held.retired
    assert (one.rule, one.instead, one.since) == ("tails-under-eight-inches", ("practice-tails-short",), "1.2")
    assert "practice-tails-short replaced it" in one.words


def test_version_is_text(folder: Path) -> None:
    """1.10 comes after 1.9 and is not 1.1."""
    change(folder / "pack.yaml", "version: 1.2", "version: 1.10")
    assert read_pack(folder).version == "1.10"


@pytest.mark.parametrize(
    ("before", "after", "words"),
    [
        pytest.param("version: 1.2\n", "", "version", id="no version"),
        pytest.param("version: 1.2\n", "version: second\n", "second", id="a version in words"),
        pytest.param("pack: quillhaven-training", "pack: Quillhaven Training", "Quillhaven Training", id="a name with blanks"),
        pytest.param("maintainer:", "maintaner:", "maintaner", id="misspelt part"),
        pytest.param('">=0.1"', '"newest"', "newest", id="a range in words"),
        pytest.param("    why: the length now depends on what the box is for, and stands in a table\n", "", "why",
                     id="retired without a reason"),
        pytest.param("    instead: practice-tails-short\n", "", "instead", id="retired without what replaced it"),
        pytest.param("pack: quillhaven-training", "pack: [", "pack.yaml", id="no YAML"),
    ],
)  # fmt: skip
def test_a_pack_file_of_bad_form_is_refused(folder: Path, before: str, after: str, words: str) -> None:
    """With file, place, cause and next step; status 2 and nothing written."""
    change(folder / "pack.yaml", before, after)
    with pytest.raises(BadRule) as refused:
        read_pack(folder)
    assert words in str(refused.value)
    assert "pack.yaml" in str(refused.value)
    done = run(pack, folder, "-o", folder / "out")
    assert done.exit_code == 2
    assert not (folder / "out").exists()


@pytest.mark.parametrize("text", [pytest.param("", id="empty"), pytest.param("- a list", id="a list")])
def test_a_file_that_is_no_pack_file_is_not_called_a_record(folder: Path, text: str) -> None:
    (folder / "pack.yaml").write_text(text)
    with pytest.raises(BadRule) as refused:
        read_pack(folder)
    assert "asfound new" not in str(refused.value)
    assert "pack:, version:" in str(refused.value)


def test_a_folder_without_a_pack_file_is_no_pack(tmp_path: Path) -> None:
    done = run(pack, tmp_path)
    assert done.exit_code == 2
    assert "there is no pack.yaml in it" in done.output


@pytest.mark.parametrize(
    ("version", "wanted", "good"),
    [
        pytest.param("1.2", "", True, id="nothing wanted"),
        pytest.param("1.2", ">=1.2", True, id="least"),
        pytest.param("1.10", ">=1.9", True, id="ten after nine"),
        pytest.param("1.2.0", "==1.2", True, id="a nought more"),
        pytest.param("2", ">=1.2, <2", False, id="below"),
        pytest.param("1.99", ">=1.2, <2", True, id="between"),
        pytest.param("1.2", ">1.2", False, id="above"),
        pytest.param("1.2", "<=1.2", True, id="most"),
        pytest.param("1.3", "==1.2", False, id="another"),
    ],
)
def test_versions_are_compared_number_by_number(version: str, wanted: str, good: bool) -> None:
    """As version specifiers of the Python packaging specifications (PEP 440, from memory) compare release numbers."""
    from packaging.specifiers import SpecifierSet

    assert fits(version, wanted) is good
    assert SpecifierSet(wanted).contains(version) is good


# -- what it needs


@pytest.mark.parametrize(
    ("needs", "words"),
    [
        pytest.param('asfound: ">=99"', "needs asfound >=99", id="a later asfound"),
        pytest.param('packs: {valley-tables: ">=2"}', "needs pack 'valley-tables' >=2", id="a pack that is not here"),
        pytest.param(f'packs: {{{BUILT_IN}: "<0.1"}}', f"version {asfound.__version__} is here", id="another version"),
        pytest.param("rules: [box-overful]", "did you mean 'box-overfull'", id="a misspelt rule"),
        pytest.param("tables: [free conductor]", "needs the table 'free conductor'", id="a table that is not here"),
    ],
)
def test_what_a_pack_needs_has_to_be_there(folder: Path, needs: str, words: str) -> None:
    """Pack, its file, what it needs and what to do."""
    change(folder / "pack.yaml", 'asfound: ">=0.1"', needs)
    known = ("box-overfull",), ("box volume",)
    with pytest.raises(BadRule) as refused:
        check_packs([folder], *known)
    assert words in str(refused.value)
    assert str(folder / "pack.yaml") in str(refused.value)
    assert run(pack, folder, "--check").exit_code == 2


def test_what_is_there_is_taken(folder: Path) -> None:
    """The built-in rules are a pack too, of the version of the program."""
    needs = f'asfound: ">=0.1"\n  packs: {{{BUILT_IN}: ">=0.1"}}\n  rules: [box-overfull]'
    change(folder / "pack.yaml", 'asfound: ">=0.1"', needs)
    assert run(pack, folder, "--check").exit_code == 0
    (built_in,) = [one for one in in_use() if one.name == BUILT_IN]
    assert built_in.version == asfound.__version__


def test_a_file_of_a_pack_stands_for_its_pack(folder: Path) -> None:
    """Naming one of its files does not get around what the pack needs."""
    change(folder / "pack.yaml", 'asfound: ">=0.1"', 'asfound: ">=99"')
    with pytest.raises(BadRule):
        check_packs([folder / "tails.py"], (), ())


def test_one_pack_twice_is_refused(folder: Path, tmp_path: Path) -> None:
    other = shutil.copytree(folder, tmp_path / "older")
    with pytest.raises(BadRule) as refused:
        check_packs([folder, Path(other)], (), ())
    assert "is here twice" in str(refused.value)
    assert distribution("quillhaven-training") in str(refused.value)


# -- checked as a whole


def test_sample_passes_and_its_verdicts_are_recorded() -> None:
    """Every promise of every rule, and nothing new to record."""
    checked = check_pack(SAMPLE)
    assert checked.failures == ()
    assert (len(checked.loaded.rules), len(checked.loaded.tables), checked.added) == (2, 2, 0)
    assert checked.lock == (SAMPLE / LOCK).read_text()
    assert checked.cases == 13


@pytest.mark.parametrize(
    ("file", "before", "after", "words"),
    [
        pytest.param("tails.cases.yaml", "asks for 7 in.", "asks for 9 in.", "tails.cases.yaml", id="a sentence that is not said"),
        pytest.param("tails.py", "box.free_length < least", "box.free_length <= least", "at the length", id="a limit moved"),
        pytest.param("tails.py", "licensed electrician decide", "friend decide", "deferral", id="no deferral"),
        pytest.param("tables/practice.yaml", "splices: 7}", "splices: 5}", "splices alone, a thumb too short", id="a row changed"),
        pytest.param("tables/practice.yaml", "MC: 48", "EMT: 48", "a method the stand book", id="a row more"),
        pytest.param("supports.rules.yaml", "negligible", "critical", "caution", id="graver than its caution"),
        pytest.param("supports.rules.yaml", "likelihood: probable", "likelihood: remote", "write revision: 2", id="another risk"),
        pytest.param("pack.yaml", "instead: practice-tails-short", "instead: practice-tail-short",
                     "did you mean 'practice-tails-short'", id="replaced by nothing"),
    ],
)  # fmt: skip
def test_what_fails_is_said_and_nothing_is_written(
    folder: Path, file: str, before: str, after: str, words: str
) -> None:
    """Plain sentences, status 1, no wheel and no record of verdicts."""
    change(folder / file, before, after)
    lock = (folder / LOCK).read_text()
    done = run(pack, folder, "-o", folder / "out")
    assert done.exit_code == 1, done.output
    assert words in " ".join(done.output.split())
    assert "Nothing was written" in done.output
    assert not (folder / "out").exists()
    assert (folder / LOCK).read_text() == lock


def test_changed_verdict_passes_with_a_higher_revision(folder: Path) -> None:
    """And is recorded under it, the older verdicts left as they are."""
    change(folder / "supports.rules.yaml", "likelihood: probable", "likelihood: remote")
    change(folder / "supports.rules.yaml", '  since: "1.1"\n', '  since: "1.1"\n  revision: 2\n')
    before = (folder / LOCK).read_text()
    done = run(pack, folder, "-o", folder / "out")
    assert done.exit_code == 0, done.output
    assert "Recorded 5 verdicts" in done.output
    after = (folder / LOCK).read_text()
    assert set(before.splitlines()) <= set(after.splitlines())
    assert run(pack, folder, "--check").output.count("not recorded") == 0


def test_a_rule_taken_out_has_to_be_retired(folder: Path) -> None:
    for name in ("supports.rules.yaml", "supports.rules.cases.yaml"):
        (folder / name).unlink()
    done = run(pack, folder, "--check")
    assert done.exit_code == 1
    assert "practice-supports-far-apart" in done.output
    assert "under retired" in done.output
    entry = "  practice-supports-far-apart: {since: 1.2, instead: none, why: stands are boarded up now}\n"
    (folder / "pack.yaml").write_text((folder / "pack.yaml").read_text() + entry)
    assert run(pack, folder, "--check").exit_code == 0
    assert "nothing replaced it" in retired_rules([read_pack(folder)])["practice-supports-far-apart"].words


def test_a_retired_rule_is_not_there(folder: Path) -> None:
    entry = "  practice-tails-short: {since: 1.2, instead: none, why: no more}\n"
    (folder / "pack.yaml").write_text((folder / "pack.yaml").read_text() + entry)
    done = run(pack, folder, "--check")
    assert done.exit_code == 2
    assert "'practice-tails-short' is retired" in done.output


def test_check_alone_writes_nothing(folder: Path, tmp_path: Path) -> None:
    (folder / LOCK).unlink()
    done = run(pack, folder, "--check", "-o", tmp_path / "out")
    assert done.exit_code == 0
    assert "13 verdicts not recorded yet" in done.output
    assert not (folder / LOCK).exists()
    assert not (tmp_path / "out").exists()


def test_a_folder_that_cannot_be_written_is_said(folder: Path, tmp_path: Path) -> None:
    blocked = tmp_path / "file"
    blocked.write_text("")
    done = run(pack, folder, "-o", blocked / "out")
    assert done.exit_code == 2
    assert "cannot be written" in " ".join(done.output.split())


# -- the wheel


def test_wheel_is_the_same_wherever_it_is_built(folder: Path, tmp_path: Path) -> None:
    """Same bytes from another folder, at another time, with files of other dates and modes."""
    for file in folder.rglob("*.yaml"):
        os.utime(file, (1, 1))
        file.chmod(0o600)
    (folder / "__pycache__").mkdir()
    (folder / "__pycache__" / "tails.pyc").write_bytes(b"left behind")
    (folder / ".notes").write_text("mine")
    one, two = build_wheel(read_pack(SAMPLE)), build_wheel(read_pack(folder))
    assert one == two


def test_wheel_holds_the_pack_as_it_is() -> None:
    """Every file of the folder byte for byte; fingerprint and size of each in RECORD; nothing that RECORD leaves out."""
    wheel = build_wheel(read_pack(SAMPLE))
    module = module_of("quillhaven-training")
    assert wheel.name == f"{module}-1.2-py3-none-any.whl"
    with zipfile.ZipFile(io.BytesIO(wheel.content)) as held:
        assert held.testzip() is None
        names = held.namelist()
        for file in sorted(SAMPLE.rglob("*")):
            if file.is_file() and "__pycache__" not in file.parts:
                assert held.read(f"{module}/{file.relative_to(SAMPLE).as_posix()}") == file.read_bytes()
        rows = list(csv.reader(io.StringIO(held.read(f"{module}-1.2.dist-info/RECORD").decode())))
        assert [name for name, _, _ in rows] == names
        for name, digest, size in rows[:-1]:
            content = held.read(name)
            told = base64.urlsafe_b64encode(hashlib.sha256(content).digest()).decode().rstrip("=")
            assert (digest, size) == (f"sha256={told}", str(len(content)))
        assert rows[-1][1:] == ["", ""]


def test_metadata_is_valid(folder: Path) -> None:
    """By the validator of `packaging`; what the pack needs stands as requirements."""
    from packaging.metadata import Metadata

    change(folder / "pack.yaml", 'asfound: ">=0.1"', 'asfound: ">=0.1, <2"\n  packs: {valley-tables: ">=2"}')
    wheel = build_wheel(read_pack(folder))
    with zipfile.ZipFile(io.BytesIO(wheel.content)) as held:
        (name,) = [one for one in held.namelist() if one.endswith("METADATA")]
        text = held.read(name)
    told = Metadata.from_email(text, validate=True)
    assert (told.name, str(told.version)) == (distribution("quillhaven-training"), "1.2")
    assert {str(one) for one in told.requires_dist or ()} == {"asfound<2,>=0.1", "asfound-pack-valley-tables>=2"}
    assert HeaderParser().parsestr(text.decode())["Maintainer"].startswith("J. Example")


def test_what_is_no_part_of_a_pack_is_left_out_and_named(folder: Path, tmp_path: Path) -> None:
    (folder / "photos").mkdir()
    (folder / "photos" / "stand.jpg").write_bytes(b"")
    (folder / "letter.docx").write_bytes(b"")
    (folder / "old.whl").write_bytes(b"")
    taken, left = pack_files(folder)
    assert {path.name for path in left} == {"stand.jpg", "letter.docx"}
    assert Path("tables/practice.yaml") in taken
    done = run(pack, folder, "-o", tmp_path / "out")
    assert done.exit_code == 0
    assert "letter.docx" in done.output
    assert "stand.jpg" in done.output


@pytest.mark.parametrize(
    "name", [pytest.param("__init__.py", id="a package"), pytest.param("règle.md", id="an accent")]
)
def test_a_file_that_a_wheel_cannot_hold_is_refused(folder: Path, name: str, tmp_path: Path) -> None:
    (folder / name).write_text("")
    done = run(pack, folder, "-o", tmp_path / "out")
    assert done.exit_code == 2
    assert name in done.output


# -- installed


@pytest.fixture(scope="module")
def installed(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The Python of a fresh virtual environment that sees asfound, with the built wheel installed by pip, offline."""
    home = tmp_path_factory.mktemp("installed")
    assert run(pack, SAMPLE, "-o", home).exit_code == 0
    (wheel,) = home.glob("*.whl")
    venv.EnvBuilder(with_pip=False, symlinks=os.name != "nt").create(home / "venv")
    python = home / "venv" / ("Scripts" if os.name == "nt" else "bin") / "python"
    where = "import sysconfig; print(sysconfig.get_path('purelib'))"
    packages = Path(subprocess.run([python, "-c", where], capture_output=True, text=True, check=True).stdout.strip())
    ours = [str(Path(str(module.__file__)).parents[1]) for module in (asfound, asfound_rules, asfound_schemas)]
    theirs = [path for path in sys.path if path.endswith(("site-packages", "dist-packages"))]
    (packages / "project.pth").write_text("\n".join(dict.fromkeys([*ours, *theirs])) + "\n")
    pip = [sys.executable, "-m", "pip", "--python", str(python), "--isolated", "--disable-pip-version-check"]
    done = subprocess.run(
        [*pip, "install", "--quiet", "--no-index", "--no-deps", "--no-cache-dir", str(wheel)],
        capture_output=True, text=True, check=False, cwd=home,
    )  # fmt: skip
    assert done.returncode == 0, done.stderr
    return python


def away(python: Path, *arguments: str | Path, folder: Path) -> subprocess.CompletedProcess[str]:
    """A command run by the Python of the fresh environment, with nothing of this one in its surroundings."""
    surroundings = {
        name: value for name, value in os.environ.items() if not name.startswith(("PYTHON", "PYTEST", "COV"))
    }
    return subprocess.run(
        [python, "-P", "-m", "asfound", *map(str, arguments)],
        capture_output=True, text=True, check=False, cwd=folder, env=surroundings,
    )  # fmt: skip


def test_installed_pack_is_found_and_judges(installed: Path, stand: Path) -> None:
    """The rule in Python and the one in YAML, both with their tables, beside the built-in rules, nothing named."""
    done = away(installed, "check", stand, folder=stand.parent)
    said = " ".join(done.stdout.split())
    assert done.returncode == 1, done.stderr
    assert TAILS in said
    assert HELD in said
    assert "Quillhaven stand book, course 2025" in said


def test_installed_and_named_say_the_same(installed: Path, stand: Path) -> None:
    """The findings from the wheel are those from the folder, to the last word of the data."""
    given = ("check", stand, "--format", "json", "--as-of", "2026-05-04")
    there = json.loads(away(installed, *given, folder=stand.parent).stdout)
    here = json.loads(run(main, *given, "--rules", SAMPLE).output)
    assert len(there["findings"]) >= 2
    assert there["findings"] == here["findings"]


def test_installed_pack_explains_its_rules_and_the_retired_one(installed: Path, tmp_path: Path) -> None:
    """The page of a rule is built from the cases inside the wheel."""
    page = away(installed, "explain", "practice-tails-short", folder=tmp_path)
    assert page.returncode == 0, page.stderr
    assert "tails/practice-tails-short, revision 2" in page.stdout
    assert "Cut to the length of the old course" in page.stdout
    gone = away(installed, "explain", "tails-under-eight-inches", folder=tmp_path)
    assert gone.returncode == 0
    assert "was retired in version 1.2" in gone.stdout
    assert "practice-tails-short replaced it" in gone.stdout


def test_installed_pack_is_held_against_another_by_its_name(installed: Path, tmp_path: Path) -> None:
    done = away(installed, "rule", "disagree", BUILT_IN, "quillhaven-training", folder=tmp_path)
    assert done.returncode == 1, done.stderr
    assert f"{BUILT_IN} {asfound.__version__}".ljust(38) + " | quillhaven-training 1.2" in done.stdout.splitlines()
    assert "free-conductors-short" in done.stdout


# -- retired rules


def test_explain_names_what_replaced_a_rule() -> None:
    done = run(explain, "tails-under-eight-inches", "--rules", SAMPLE)
    assert done.exit_code == 0
    assert "practice-tails-short replaced it" in done.output
    assert "asfound explain practice-tails-short prints the page" in done.output
    assert run(explain, "tails-under-eight-inches").exit_code == 2


def test_an_acceptance_of_a_retired_rule_names_what_is_there_now(stand: Path) -> None:
    """It does not count, and says which finding to look at again; any other acceptance is left as it is."""
    done = survey(stand, "2026-05-04", named=[SAMPLE])
    (now,) = [f for f in done.results.findings if f.rule.name == "practice-tails-short"]
    former = identity_of("tails-under-eight-inches", now.at, [], now.cause)
    entries = tuple(
        Acceptance(name, "rebuilt in June", "J. Example", "2026-06-30", "", "", line)
        for line, name in enumerate((former, "0123456789ab"), 2)
    )
    held = held_against(AcceptedFile("accepted.yaml", "", entries), done.results.findings, "2026-05-04")
    with_hints(held, done.results.findings, [read_pack(SAMPLE)])
    one, two = held.stale
    assert "was retired in version 1.2" in one.words
    assert now.identity in one.step
    assert not held.in_force(now.identity)
    assert "was retired" not in two.words


def test_a_comparison_names_what_replaced_a_retired_rule(stand: Path, tmp_path: Path) -> None:
    """As a check and a report do; and without the pack nothing is known of the retired rule."""
    done = survey(stand, "2026-05-04", named=[SAMPLE])
    (now,) = [f for f in done.results.findings if f.rule.name == "practice-tails-short"]
    former = identity_of("tails-under-eight-inches", now.at, [], now.cause)
    file = tmp_path / "accepted.yaml"
    file.write_text(f"accepted: [{{finding: {former}, reason: rebuilt in June, by: J. Example, until: 2026-06-30}}]\n")
    given = ("--accepted", file, "--as-of", "2026-05-04")
    for command, records in ((check, (stand,)), (compared, (stand, stand))):
        said = " ".join(run(command, *records, *given, "--rules", SAMPLE).output.split())
        assert "was retired in version 1.2" in said
        assert now.identity in said
        assert "was retired" not in run(command, *records, *given).output
    (stale,) = accepted_in(done, read_accepted(file), [SAMPLE]).stale
    assert now.identity in stale.step


# -- a pack that is installed and named


def test_a_named_folder_stands_for_the_installed_pack(
    folder: Path, stand: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """By its name: rules and tables of the folder count, in a check, a test and when it is packed; others stay."""
    packages = tmp_path / "packages"
    with zipfile.ZipFile(io.BytesIO(build_wheel(read_pack(folder)).content)) as held:
        held.extractall(packages)
    monkeypatch.syspath_prepend(str(packages))
    assert TAILS in " ".join(run(check, stand, "--as-of", "2026-05-04").output.split())
    change(folder / "tables" / "practice.yaml", "device: 8, splices: 7", "device: 9, splices: 7")
    change(folder / "pack.yaml", "version: 1.2", "version: 1.3")
    for named in (folder, folder / "tails.py"):
        said = " ".join(run(check, stand, "--as-of", "2026-05-04", "--rules", named).output.split())
        assert "the course asks for 9 in." in said
        assert "the course asks for 8 in." not in said
    assert {one.name: one.version for one in in_use([folder])}["quillhaven-training"] == "1.3"
    assert {one.name: one.version for one in in_use()}["quillhaven-training"] == "1.2"
    done = run(rule_test, folder)
    assert "the course asks for 9 in." in " ".join(done.output.split())
    assert run(pack, folder, "--check").exit_code == 1
    change(folder / "pack.yaml", "pack: quillhaven-training", "pack: quillhaven-again")
    clash = run(check, stand, "--rules", folder)
    assert clash.exit_code == 2
    assert "two rules are named" in clash.output


# -- two packs that disagree


@pytest.fixture
def other(tmp_path: Path) -> Path:
    """A pack of another invented centre: six inches do, and it is graver."""
    made = Path(shutil.copytree(SAMPLE, tmp_path / "valley"))
    (made / LOCK).unlink()
    change(made / "pack.yaml", "pack: quillhaven-training\nversion: 1.2", "pack: valley-training\nversion: 0.3")
    change(made / "tables" / "practice.yaml", "device: 8, splices: 7", "device: 6, splices: 6")
    for name in ("tails.py", "tails.cases.yaml"):
        change(made / name, "practice-tails-short", "valley-tails-short")
    return made


def test_disagreements_are_found(other: Path, stand: Path) -> None:
    """Differing rows, a rule of one name, and where one finds what the other calls clear: on cases and on a record."""
    one, two = side(str(SAMPLE)), side(str(other))
    items = survey(stand, "2026-05-04").installation.items
    compared = compare(one, two, "2026-05-04", dict(items))
    by_sort = {sort: [apart for apart in compared.apart if apart.sort == sort] for sort in (TABLE, NAME, CASE, ITEM)}
    (table,) = by_sort[TABLE]
    assert (table.one[1:], table.two[1:]) == (("device: 8 in", "splices: 7 in"), ("device: 6 in", "splices: 6 in"))
    (name,) = by_sort[NAME]
    assert name.about == "practice-supports-far-apart"
    told = {apart.about: (apart.one[1], apart.two[1]) for apart in by_sort[CASE]}
    assert told["cut to the length of the old course"] == ("in turn, confirmed", "clear")
    assert "a device, exactly at the length" not in told
    assert "the plate was not taken off" not in told
    (item,) = by_sort[ITEM]
    assert item.about == "stand 4"
    assert (item.one[-1], item.two[-1]) == (TAILS, "clear")


def test_another_grade_is_a_disagreement(other: Path) -> None:
    """Both find it; the one calls it worse."""
    change(other / "tables" / "practice.yaml", "device: 6, splices: 6", "device: 8, splices: 7")
    change(other / "tails.py", 'severity="negligible"', 'severity="marginal"')
    found = compare(side(str(SAMPLE)), side(str(other))).apart
    told = {apart.about: (apart.one[1], apart.two[1]) for apart in found if apart.sort == CASE}
    assert told["cut to the length of the old course"] == ("in turn, confirmed", "first, confirmed")
    assert "nothing is joined in it" not in told


def test_a_pack_agrees_with_itself(folder: Path, stand: Path) -> None:
    """Same tables, same verdicts; only the names are said to be the same."""
    items = survey(stand, "2026-05-04").installation.items
    compared = compare(side(str(SAMPLE)), side(str(folder)), items=dict(items))
    assert {apart.sort for apart in compared.apart} == {NAME}
    assert compared.pairs == 2


def test_command_shows_them_side_by_side(other: Path, stand: Path) -> None:
    """Two columns within 80, both packs named, status 1; nothing says which is right."""
    done = run(disagree, SAMPLE, other, stand, "--as-of", "2026-05-04")
    assert done.exit_code == 1
    lines = done.output.splitlines()
    assert max(map(cells, lines)) <= WIDTH
    assert "quillhaven-training 1.2                | valley-training 0.3" in lines
    assert "device: 8 in                           | device: 6 in" in lines
    assert "Nothing here says which of the two is right" in " ".join(done.output.split())


def test_command_holds_a_pack_against_the_built_in_rules(stand: Path) -> None:
    """By the name of the installed pack; the built-in limit is six inches."""
    done = run(disagree, BUILT_IN, SAMPLE, stand, "--as-of", "2026-05-04")
    assert done.exit_code == 1
    assert "free-conductors-short" in done.output
    assert "ON THE RECORD" in done.output


def test_two_packs_that_agree_give_status_0(folder: Path, other: Path) -> None:
    for name in ("supports.rules.yaml", "supports.rules.cases.yaml", "tables/practice.yaml"):
        (other / name).unlink()
    shutil.copy(SAMPLE / "tables" / "practice.yaml", other / "tables")
    done = run(disagree, folder, other)
    assert done.exit_code == 0, done.output
    assert "0 disagreements" in done.output


@pytest.mark.parametrize(
    ("arguments", "status", "words"),
    [
        pytest.param(("quillhaven", SAMPLE), 2, "neither a folder nor an installed pack", id="no such pack"),
        pytest.param((ROOT / "fixtures" / "lawful", SAMPLE), 2, "there is no pack.yaml", id="a folder of records"),
        pytest.param((BUILT_IN, SAMPLE, "nothing.yaml"), 3, "there is no file of this name", id="no such record"),
    ],
)
def test_command_refuses(arguments: tuple[str | Path, ...], status: int, words: str) -> None:
    done = run(disagree, *arguments)
    assert done.exit_code == status
    assert words in done.output


def test_an_environment_inside_the_folder_is_no_part_of_the_pack(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Rules installed in a .venv of the pack's own folder stay those of the others."""
    packages = folder / ".venv" / "site-packages"
    packages.mkdir(parents=True)
    package(packages, PACKAGE + RULE.format(name="office-rule", function="office"))
    tables(packages, limit=TABLE_TEXT.format(name="limit", date="2000-01-01", value=42))
    monkeypatch.syspath_prepend(str(packages))
    try:
        loaded = load_pack(folder)
    finally:
        sys.modules.pop("office_rules", None)
    assert {rule.name for rule in loaded.rules} == {"practice-tails-short", "practice-supports-far-apart"}
    assert len(loaded.tables) == 2
    assert "office-rule" in {rule.name for rule in loaded.beside.rules}
    assert "limit" in {table.name for table in loaded.beside.tables}


def test_a_pack_is_loaded_beside_the_built_in_rules() -> None:
    loaded = load_pack(SAMPLE)
    assert {rule.name for rule in loaded.rules} == {"practice-tails-short", "practice-supports-far-apart"}
    assert "box-overfull" in {rule.name for rule in loaded.beside.rules}
    assert not {table.name for table in loaded.tables} & {table.name for table in loaded.beside.tables}


def test_a_wheel_of_the_same_version_is_not_written_over(folder: Path, tmp_path: Path) -> None:
    """The same content may be built again; another one asks for another version, or for --force."""
    wheels = tmp_path / "wheels"
    assert run(pack, folder, "-o", wheels).exit_code == 0
    (wheel,) = wheels.iterdir()
    assert run(pack, folder, "-o", wheels).exit_code == 0
    before = wheel.read_bytes()
    change(folder / "pack.yaml", "says: ", "says: more of ")
    done = run(pack, folder, "-o", wheels)
    assert (done.exit_code, wheel.read_bytes()) == (2, before)
    assert "raise the version in" in " ".join(done.output.split())
    assert run(pack, folder, "-o", wheels, "--force").exit_code == 0
    assert wheel.read_bytes() != before


def test_everything_that_keeps_a_pack_from_loading_is_told_at_once(folder: Path) -> None:
    change(folder / "tails.py", "box.free_length < least", "box.fre_length < least")
    change(folder / "supports.rules.yaml", "cable.support_spacing > most", "cable.suport_spacing > most")
    done = run(pack, folder)
    assert done.exit_code == 2
    flat = " ".join(done.output.split())
    assert "no fact named 'fre_length' on a box" in flat
    assert "no fact named 'suport_spacing' on a cable" in flat
