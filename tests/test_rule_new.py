"""`asfound rule new`: a rule and its cases from a few answers, which load, run, and fail until they are filled in."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner, Result

from asfound.command.rule_new import new
from asfound.data import data
from asfound.judge.cases import read_cases, try_case
from asfound.judge.rules import Rule
from asfound.judge.tables import TableSet
from asfound.judge.views import facts_of
from asfound.kit import new as kit
from asfound.kit.catalogue import words_of
from asfound.plugins import collect

TABLES = TableSet(collect().tables, "2026-05-20")
OPTIONS = {
    "--of": "box", "--fact": "cover", "--title": "Box has no cover", "--says": "{box.words}: cover {box.cover}.",
    "--severity": "critical", "--likelihood": "remote", "--caution": "Warning: live parts can be within reach.",
    "--defer": kit.DEFER, "--source": "NFPA 70 (NEC) 314.25", "--basis": "from memory", "--notes": "Sees what is recorded.",
}  # fmt: skip


def call(
    *arguments: str, said: str | None = None, into: Path, form: str | None = "python", **changes: str | None
) -> Result:
    """Run the command; options are as in `OPTIONS`, with `changes` by name, None to leave one out."""
    options = {**OPTIONS, "--form": form, "--into": str(into)}
    options |= {f"--{name}": value for name, value in changes.items()}
    flat = [part for name, value in options.items() if value is not None for part in (name, value)]
    return CliRunner().invoke(new, [*arguments, *flat], input=said)


def loaded(folder: Path, name: str = "cover-missing") -> Rule:
    return collect([folder]).rule(name)


def passes(rule: Rule, case: Any) -> bool:
    """Whether a case comes out as it says."""
    tried = try_case(rule, case, TABLES)
    said = [finding.statement for finding in tried.results.findings]
    if case.list == "finds":
        return said == list(case.says)
    if case.list == "clear":
        return tried.outcome in ("clear", "does not apply")
    return tried.outcome == "cannot tell" and {one.missing for one in tried.results.cannot_tell} == {case.missing}


@pytest.mark.parametrize(
    ("form", "files"),
    [
        pytest.param("python", ["cover_missing.cases.yaml", "cover_missing.py"], id="python"),
        pytest.param("yaml", ["cover-missing.rules.cases.yaml", "cover-missing.rules.yaml"], id="yaml"),
    ],
)
def test_both_forms_are_written_and_run(tmp_path: Path, form: str, files: list[str]) -> None:
    """Everything that was answered is in the rule; filled in, its cases pass."""
    done = call("cover-missing", form=form, into=tmp_path)
    assert done.exit_code == 0, done.output
    assert sorted(path.name for path in tmp_path.iterdir()) == files
    assert f"asfound rule test {tmp_path / files[1]}" in done.output
    rule = loaded(tmp_path)
    assert (rule.of, rule.title, rule.severity, rule.likelihood) == ("box", "Box has no cover", "critical", "remote")
    assert (rule.caution, rule.source, rule.basis) == (OPTIONS["--caution"], OPTIONS["--source"], "from memory")
    assert (rule.defer, rule.notes.rstrip("."), rule.revision) == (kit.DEFER, "Sees what is recorded", 1)
    assert not any(passes(rule, case) for case in read_cases(rule))
    cases = tmp_path / files[0]
    first = 'cover: missing}\n      says: "hall: cover missing."'
    filled = cases.read_text().replace("tag: box 1", "tag: hall")
    for before, after in (
        ("cover: {not_seen: fill in}}\n      says: fill in", first),
        ("cover: {not_seen: fill in}}\n  cannot tell", "cover: blank cover}\n  cannot tell"),
        ("missing: fill in", "missing: cover"),
    ):
        assert before in filled
        filled = filled.replace(before, after, 1)
    cases.write_text(filled)
    draft = f'box.cover == "{words_of("box", "cover")[0]}"'
    path = tmp_path / files[1]
    assert draft in path.read_text()
    path.write_text(path.read_text().replace(draft, 'box.cover == "missing"'))
    rule = loaded(tmp_path)
    assert [passes(rule, case) for case in read_cases(rule)] == [True, True, True]


@pytest.mark.parametrize("form", ["python", "yaml"])
def test_every_fact_of_every_kind_gives_a_rule_that_runs(tmp_path: Path, form: str) -> None:
    """One rule for each fact of the catalogue, and for each fact of related items; no case of it passes yet."""
    wanted = []
    for kind in data("facts"):
        for fact in facts_of(kind):
            of = kit.related(kind, fact)
            looked = [f"{fact}.{next(iter(facts_of(of)))}"] if of else [fact]
            wanted.append((kind, kit.usable_facts(kind, ", ".join(looked))))
        alone = [fact for fact in facts_of(kind) if not kit.related(kind, fact)]
        wanted += [(kind, kit.usable_facts(kind, ", ".join(alone)))] if alone else []
    for number, (kind, facts) in enumerate(wanted):
        says = kit.usable_sentence(kind, facts, kit.drafted(kind, facts))
        answers = kit.Answers(
            f"rule-{number}", kind, form, facts, 'A "quoted" \\ title', says, "critical", "remote",
            "Warning: it can " + "kill " * 40 + "at a touch.", "it's \"here\"", "common practice",
        )  # fmt: skip
        kit.write(answers, tmp_path)
    rules = [rule for rule in collect([tmp_path]).rules if tmp_path in rule.file.parents]
    assert len(rules) == len(wanted) > 200
    for rule in rules:
        assert rule.caution.count("kill") == 40
        cases = read_cases(rule)
        assert {case.list for case in cases} == {"finds", "clear", "cannot tell"}
        assert not any(passes(rule, case) for case in cases), rule.name


def test_related_items_are_gone_through(tmp_path: Path) -> None:
    """In both forms: each related item, by its tag as the cause."""
    for form, name in (("python", "one"), ("yaml", "two")):
        done = call(
            name, into=tmp_path, form=form, fact="conductors.gauge", says="{conductor} is {conductor.gauge} AWG."
        )
        assert done.exit_code == 0, done.output
    text = (tmp_path / "one.py").read_text()
    assert "for conductor in box.conductors:" in text
    assert "def one(box: Box) -> Iterator[Defect]:" in text
    assert "cause=conductor.tag" in text
    assert "each: {conductor: 'box.conductors'}" in (tmp_path / "two.rules.yaml").read_text()
    case = "{0}:\n  finds:\n    - why: a\n      box: {{conductors: [{{tag: W1, gauge: '14'}}, {{tag: W2, gauge: '14'}}]}}\n      says: [W1 is 14 AWG., W2 is 14 AWG.]\n"
    (tmp_path / "one.cases.yaml").write_text(case.format("one"))
    (tmp_path / "two.rules.cases.yaml").write_text(case.format("two"))
    for name in ("one", "two"):
        rule = loaded(tmp_path, name)
        assert all(passes(rule, one) for one in read_cases(rule))


def test_nothing_is_ever_overwritten(tmp_path: Path) -> None:
    """One file of the two that is there is enough: neither is written."""
    (tmp_path / "cover_missing.cases.yaml").write_text("mine\n")
    done = call("cover-missing", into=tmp_path)
    assert done.exit_code == 2
    assert "is there already and was left as it is" in done.output
    assert [path.name for path in tmp_path.iterdir()] == ["cover_missing.cases.yaml"]
    assert (tmp_path / "cover_missing.cases.yaml").read_text() == "mine\n"


def test_a_folder_that_cannot_be_written_is_told(tmp_path: Path) -> None:
    """With the reason."""
    (tmp_path / "file").write_text("")
    done = CliRunner().invoke(new, ["x"])
    assert done.exit_code == 2
    done = call("cover-missing", into=tmp_path / "file" / "folder")
    assert done.exit_code == 2
    assert "cannot be written" in done.output


@pytest.mark.parametrize(
    ("changes", "said"),
    [
        pytest.param({"of": "bx"}, "no kind of item called 'bx'; did you mean 'box'", id="kind"),
        pytest.param({"fact": "covr"}, "no fact named 'covr' on a box; did you mean 'cover'", id="fact"),
        pytest.param({"fact": "conductors.gage"}, "no fact named 'gage' on a conductor; did you mean 'gauge'", id="fact of related items"),
        pytest.param({"fact": "cover.gauge"}, "cover of a box holds no items", id="fact of a word"),
        pytest.param({"fact": "conductors, joints"}, "two lists", id="two lists"),
        pytest.param({"says": "{box.covr}"}, "no fact named 'covr'", id="fact in the sentence"),
        pytest.param({"says": "{bx.cover}"}, "begins with no item", id="item in the sentence"),
        pytest.param({"says": "{box.cover"}, "a brace stands alone", id="brace in the sentence"),
        pytest.param({"says": "{box.cover!r}"}, "no fact named", id="conversion in the sentence"),
        pytest.param({"says": "{__import__('os')}"}, "begins with no item", id="program in the sentence"),
        pytest.param({"severity": "bad"}, "'bad' is no severity", id="severity"),
        pytest.param({"likelihood": "ocasional"}, "did you mean 'occasional'", id="likelihood"),
        pytest.param({"caution": "Caution: a shock can follow."}, "begins with Warning", id="signal word too weak"),
        pytest.param({"caution": "Warning:"}, "begins with Warning", id="no danger named"),
        pytest.param({"severity": "catastrophic", "likelihood": "probable"}, "begins with Danger", id="danger"),
        pytest.param({"defer": "Ask somebody."}, "names the local code", id="deferral"),
        pytest.param({"source": " "}, "the source is empty", id="no source"),
        pytest.param({"basis": "hearsay"}, "'hearsay' is no basis", id="basis"),
        pytest.param({"form": "java"}, "'java' is no form", id="form"),
    ],
)  # fmt: skip
def test_an_answer_that_cannot_be_used_is_told(tmp_path: Path, changes: dict[str, Any], said: str) -> None:
    """As an option: nothing is written, and the status says so."""
    done = call("cover-missing", into=tmp_path, **changes)
    assert done.exit_code == 2
    assert said in done.output
    assert not list(tmp_path.iterdir())


@pytest.mark.parametrize("name", ["Cover", "cover missing", "cover-", "1-cover", "cover_missing", "../cover", ""])
def test_a_name_that_cannot_be_one_is_told(tmp_path: Path, name: str) -> None:
    """No name leads out of the folder."""
    done = call(name, into=tmp_path)
    assert done.exit_code == 2
    assert "cannot be the name of a rule" in done.output
    assert not list(tmp_path.iterdir())


def test_what_no_option_gives_is_asked_until_it_can_be_used(tmp_path: Path) -> None:
    """The answers make the same rule as the options; a slip is named and asked again; the facts are listed."""
    asked = ["Cover", "cover-missing", "bx", "box", "yaml", "covr", "cover", "critical", "remote", "Box has no cover",
             "{box.words}: cover {box.cover}.", "Mind it", "Warning: live parts can be within reach.", "", "", "", ""]  # fmt: skip
    nothing = dict.fromkeys(name.removeprefix("--") for name in OPTIONS)
    done = call(into=tmp_path, form=None, said="\n".join(asked) + "\n", **nothing)
    assert done.exit_code == 0, done.output
    assert "did you mean 'cover'" in done.output
    assert "volume [in³]: marked or measured volume" in done.output
    for word in (*kit.severities(), *kit.likelihoods()):
        assert f"  {word}: {data('grades')['risk_meanings'][word]}\n" in done.output
    assert max(map(len, done.output.split("Name of the rule")[0].splitlines() or [""])) <= 80
    rule = loaded(tmp_path)
    assert (rule.source, rule.basis, rule.defer) == ("common practice, no source", "common practice", kit.DEFER)


def test_answers_that_end_early_write_nothing(tmp_path: Path) -> None:
    """The next step is named."""
    done = call("cover-missing", into=tmp_path, said="", source=None)
    assert done.exit_code == 2
    assert "Nothing was written" in done.output
    assert not list(tmp_path.iterdir())


@pytest.mark.parametrize(
    ("change", "said"),
    [
        pytest.param({"title": "Box is safe"}, "the title says 'safe'", id="title"),
        pytest.param({"says": "{box.words} is OK."}, "the sentence says 'OK'", id="sentence"),
        pytest.param({"caution": "Warning: there is no danger."}, "the caution says 'no danger'", id="caution"),
        pytest.param({"notes": "Others are acceptable."}, "the note says 'are acceptable'", id="notes"),
    ],
)
def test_what_no_rule_may_say_is_not_written(tmp_path: Path, change: dict[str, str], said: str) -> None:
    """Refused where it is asked."""
    done = call("cover-missing", into=tmp_path, **change)
    assert done.exit_code == 2
    assert said in done.output
    assert not list(tmp_path.iterdir())


def test_a_name_that_is_taken_is_refused_at_once(tmp_path: Path) -> None:
    """Before anything else is asked: by a built-in rule, or by a file in either form."""
    done = call("box-overfull", into=tmp_path, kind=None)
    assert (done.exit_code, "there is a rule named 'box-overfull' already" in done.output) == (2, True)
    (tmp_path / "cover-missing.rules.yaml").touch()
    done = call("cover-missing", into=tmp_path)
    assert (done.exit_code, "is there already" in done.output) == (2, True)


def test_facts_with_blanks_between_and_of_related_items(tmp_path: Path) -> None:
    assert kit.usable_facts("box", "cover  metal, setback") == ("cover", "metal", "setback")
    assert kit.usable_facts("box", "devices.kind") == ("devices.kind",)
    with pytest.raises(kit.Unusable, match="asfound rule facts box prints them all"):
        kit.usable_facts("box", "covr")


def test_a_path_with_blanks_is_printed_in_quotes(tmp_path: Path) -> None:
    done = call("cover-missing", into=tmp_path / "my rules")
    assert f"asfound rule test '{tmp_path / 'my rules' / 'cover_missing.py'}'" in done.output
