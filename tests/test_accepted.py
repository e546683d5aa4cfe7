"""Accepted findings: a file beside the record, shown with every finding it speaks of, hiding none. All invented."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import jsonschema
import pytest

import compared
import houses
from asfound.accepted import AcceptedFile, held_against, read_accepted
from asfound.compare.former import former_identities
from asfound.judge.results import Finding
from asfound.load import Refused
from asfound.render.lines import WIDTH, cells
from asfound.survey import Survey, survey
from asfound_schemas import schema
from compared import run
from examples import picked
from test_command import run as run_apart
from test_compare import after, cut, house, put

FIXTURES = Path(__file__).parent.parent / "fixtures"
AS_OF = "2026-06-01"
UNTIL = "2026-09-30"
FORMER = picked(7, 8, 13)
"""Houses of 8 to 11 cables, with 19 to 39 findings each."""


def identity(done: Survey, rule: str) -> str:
    """The identity of the only finding of a rule."""
    found = [f.identity for f in done.results.findings if f.rule.name == rule]
    assert len(found) == 1
    return found[0]


def one(finding: str, **more: Any) -> dict[str, Any]:
    """An entry as a person writes it."""
    return {
        "finding": finding,
        "reason": "hall is gutted in August",
        "by": "J. Specimen, owner",
        "until": UNTIL,
        **more,
    }


def written(folder: Path, *entries: dict[str, Any]) -> Path:
    path = folder / "accepted.yaml"
    listed = "".join(f"  - {json.dumps(entry)}\n" for entry in entries)
    path.write_text(f"accepted:\n{listed}" if entries else "accepted: []\n")
    return path


@pytest.fixture(scope="module")
def cottage(tmp_path_factory: pytest.TempPathFactory) -> Survey:
    """A house with three findings: hands off, first and first."""
    return compared.surveyed(tmp_path_factory.mktemp("cottage"), house())


@pytest.fixture
def tape(cottage: Survey) -> str:
    return identity(cottage, "splice-taped-only")


@pytest.fixture
def cover(cottage: Survey) -> str:
    """Graded hands off."""
    found = identity(cottage, "box-without-cover")
    assert next(f.grade for f in cottage.results.findings if f.identity == found) == "hands off"
    return found


def held(folder: Path, done: Survey, *entries: dict[str, Any], as_of: str = AS_OF) -> Any:
    findings = done.results.findings
    former = former_identities(done.installation, findings)
    return held_against(read_accepted(written(folder, *entries)), findings, as_of, former)


# -- the file


def test_an_entry_is_read_with_its_line(tmp_path: Path) -> None:
    file = read_accepted(
        written(tmp_path, one("4e9d9044adcc"), one("123456789012", note="told the tenant", kept_away="locked"))
    )
    assert isinstance(file, AcceptedFile)
    assert [(e.finding, e.line) for e in file.entries] == [("4e9d9044adcc", 2), ("123456789012", 3)]
    assert (file.entries[1].note, file.entries[1].kept_away, file.entries[0].note) == ("told the tenant", "locked", "")


@pytest.mark.parametrize("digits", ["123456789012", "012345678901", "000000000001", "12345678901e", "1e0000000000"])
def test_an_identity_of_digits_is_no_number(tmp_path: Path, digits: str) -> None:
    """Written without quotes, as copied from the output of a check."""
    path = tmp_path / "accepted.yaml"
    path.write_text(f"accepted:\n  - {{finding: {digits}, reason: for now, by: J. Specimen, until: {UNTIL}}}\n")
    assert read_accepted(path).entries[0].finding == digits


@pytest.mark.parametrize(
    ("text", "parts"),
    [
        pytest.param("", ["accepted.yaml", "empty", "write accepted:"], id="empty file"),
        pytest.param("- {finding: 4e9d9044adcc}\n", ["line 1", "accepted at its top", "write accepted:"], id="a list at the top"),
        pytest.param("findings: []\n", ["'findings'", "'accepted' is missing"], id="another name"),
        pytest.param("accepted: yes please\n", ["line 1", "a list belongs"], id="no list"),
        pytest.param("accepted:\n  - {reason: for now, by: J, until: 2026-09-30}\n", ["line 2", "'finding' is missing", "add it"],
                     id="no finding"),
        pytest.param("accepted:\n  - {finding: 4e9d9044adcc, by: J, until: 2026-09-30}\n", ["line 2", "'reason' is missing"],
                     id="no reason"),
        pytest.param("accepted:\n  - {finding: 4e9d9044adcc, reason: for now, until: 2026-09-30}\n", ["'by' is missing"],
                     id="nobody"),
        pytest.param("accepted:\n  - {finding: 4e9d9044adcc, reason: for now, by: J}\n", ["'until' is missing"], id="no end"),
        pytest.param("accepted:\n  - {finding: 4e9d, reason: for now, by: J, until: 2026-09-30}\n",
                     ["line 2", "number 1, finding", "twelve digits"], id="half an identity"),
        pytest.param("accepted:\n  - {finding: 4E9D9044ADCC, reason: for now, by: J, until: 2026-09-30}\n", ["twelve digits"],
                     id="capital letters"),
        pytest.param("accepted:\n  - {finding: 4e9d9044adcc, reason: '', by: J, until: 2026-09-30}\n", ["reason", "fill it in"],
                     id="an empty reason"),
        pytest.param("accepted:\n  - {finding: 4e9d9044adcc, reason: '     ', by: J, until: 2026-09-30}\n", ["reason"],
                     id="a reason of blanks"),
        pytest.param("accepted:\n  - {finding: 4e9d9044adcc, reason: for now, by: J, until: next year}\n", ["until", "year-month-day"],
                     id="a day that is none"),
        pytest.param("accepted:\n  - {finding: 4e9d9044adcc, reason: for now, by: J, until: 2026-02-30}\n",
                     ["line 2", "no 2026-02-30 in the calendar"], id="a day that no calendar has"),
        pytest.param("accepted:\n  - {finding: 4e9d9044adcc, reason: for now, by: J, until: 2026-09-30, grade: remark}\n",
                     ["'grade'", "names that do"], id="a grade of one's own"),
        pytest.param("accepted:\n  - &a {finding: 4e9d9044adcc, reason: for now, by: J, until: 2026-09-30}\n", ["anchor"],
                     id="an anchor"),
    ],
)  # fmt: skip
def test_a_file_of_bad_form_is_refused_with_place_and_next_step(tmp_path: Path, text: str, parts: list[str]) -> None:
    path = tmp_path / "accepted.yaml"
    path.write_text(text)
    with pytest.raises(Refused) as refused:
        read_accepted(path)
    said = str(refused.value)
    for part in parts:
        assert part in said, said
    assert "asfound new" not in said


def test_every_part_of_the_schema_is_told_of() -> None:
    """Title, sentence and example, each of which fits; by the metaschema of draft 2020-12."""
    whole = schema("accepted")
    jsonschema.Draft202012Validator.check_schema(whole)
    for held_part in (whole["properties"], whole["properties"]["accepted"]["items"]["properties"]):
        for name, part in held_part.items():
            assert part["title"], name
            assert part["description"].endswith("."), name
            for example in part["examples"]:
                jsonschema.validate(example, part, cls=jsonschema.Draft202012Validator)


# -- held against findings


@pytest.mark.parametrize(
    ("as_of", "word"),
    [
        pytest.param("2026-06-01", "accepted", id="before its day"),
        pytest.param(UNTIL, "accepted", id="on its day"),
        pytest.param("2026-10-01", "expired", id="the day after"),
    ],
)
def test_an_acceptance_holds_until_its_day(tmp_path: Path, cottage: Survey, tape: str, as_of: str, word: str) -> None:
    found = held(tmp_path, cottage, one(tape), as_of=as_of)
    assert found.of(tape)[0] == word
    assert found.in_force(tape) == (word == "accepted")
    assert [stale.kind for stale in found.stale] == ([] if word == "accepted" else ["expired"])
    assert found.count == (word == "accepted")


@pytest.mark.parametrize(
    ("kept_away", "word"),
    [
        pytest.param(None, "refused", id="nothing said"),
        pytest.param("breaker A 1 locked off", "accepted", id="said what was done"),
    ],
)
def test_hands_off_is_accepted_only_with_what_keeps_people_away(
    tmp_path: Path, cottage: Survey, cover: str, kept_away: str | None, word: str
) -> None:
    found = held(tmp_path, cottage, one(cover, **({} if kept_away is None else {"kept_away": kept_away})))
    assert found.of(cover)[0] == word
    if word == "refused":
        assert not found.in_force(cover)
        (stale,) = found.stale
        assert (stale.kind, stale.entry.line) == ("hands off", 2)
        assert "does not say what was done on site to keep people away" in stale.words
        assert "add kept_away:" in stale.words


def test_a_finding_that_is_not_there_any_more_is_told(tmp_path: Path, cottage: Survey, tape: str) -> None:
    found = held(tmp_path, cottage, one("4e9d9044adcc"), one(tape))
    (stale,) = found.stale
    assert (stale.kind, stale.entry.line) == ("no such finding", 2)
    assert found.in_force(tape)


@pytest.mark.parametrize("first", [UNTIL, "2026-01-01"], ids=["in force", "expired"])
def test_twice_is_told_and_the_first_holds(tmp_path: Path, cottage: Survey, tape: str, first: str) -> None:
    """The cautious way round: a second entry does not renew the first."""
    found = held(tmp_path, cottage, one(tape, until=first), one(tape, until="2030-01-01"))
    assert found.in_force(tape) == (first == UNTIL)
    assert [(s.kind, s.entry.line) for s in found.stale if s.kind == "given twice"] == [("given twice", 3)]


def test_an_acceptance_survives_a_new_tag(tmp_path: Path, cottage: Survey) -> None:
    """What was W3 is C9 now, and says so; without it the entry is stale."""
    thin = identity(cottage, "conductor-too-small")
    later = after(cut("cables", "W3"), put("devices", "R1", "wired_to", to="C9"))
    cable = house()["cables"]["W3"]
    for was, kinds in ((True, []), (False, ["no such finding"])):
        later["cables"]["C9"] = {**cable, "was": "W3"} if was else cable
        done = compared.surveyed(tmp_path, later)
        found = held(tmp_path, done, one(thin))
        assert [stale.kind for stale in found.stale] == kinds
        assert found.in_force(identity(done, "conductor-too-small")) == was


def test_an_identity_that_can_mean_two_findings_accepts_neither(tmp_path: Path) -> None:
    """W3 and W4 have changed tags, and both are too thin."""

    def twin(record: Any) -> None:
        record["panels"]["A"]["breakers"]["5"] = 20
        record["cables"]["W4"] = {**record["cables"]["W3"], "from": "A 5"}
        record["devices"]["R1"]["wired_to"] = ["W3", "W4"]

    before = compared.surveyed(tmp_path, house(twin))
    thin = {f.at: f.identity for f in before.results.findings if f.rule.name == "conductor-too-small"}
    later = after(twin, put("cables", "W3", "was", to="W4"), put("cables", "W4", "was", to="W3"))
    found = held(tmp_path, compared.surveyed(tmp_path, later), one(thin["conductor W3 black"]))
    assert [stale.kind for stale in found.stale] == ["two findings"]
    assert found.by_finding == {}


def test_former_identities_are_those_before_new_tags(tmp_path: Path) -> None:
    """For every finding of any house: by `was` the identity that it had is found again."""
    count = 0
    for seed in FORMER:
        record = houses.house(seed)
        before = compared.surveyed(tmp_path, record).results.findings
        done = compared.surveyed(tmp_path, compared.retagged(record, seed))
        former = former_identities(done.installation, done.results.findings)
        now = {f.identity for f in done.results.findings}
        lost = [f for f in before if f.identity not in former and f.identity not in now]
        assert [(f.rule.name, f.at) for f in lost] == [], seed
        count += len(former)
    assert count > 60
    assert former_identities(compared.surveyed(tmp_path, houses.house(3)).installation, before) == {}


# -- shown by check


def check(folder: Path, *entries: dict[str, Any], options: tuple[str, ...] = (), record: Any = None) -> Any:
    path = folder / "house.yaml"
    path.write_text(houses.as_yaml(record or house()))
    return run("check", str(path), "--accepted", str(written(folder, *entries)), "--as-of", AS_OF, *options)


def everything(done: Survey) -> list[dict[str, Any]]:
    return [one(f.identity, kept_away="breakers locked off") for f in done.results.findings]


def test_an_accepted_finding_stays_where_it_stands(tmp_path: Path, cottage: Survey, tape: str) -> None:
    """Grade, statement, caution and deferral as without; reason, name and day beside them."""
    text = " ".join(check(tmp_path, one(tape, note="agreed on the stairs")).stdout.split())
    bare = " ".join(run("check", str(tmp_path / "house.yaml"), "--as-of", AS_OF).stdout.split())
    finding: Finding = next(f for f in cottage.results.findings if f.identity == tape)
    for part in (f"First, confirmed. {finding.statement}", finding.rule.caution, finding.rule.defer):
        assert part in bare
        assert part in text
    assert (
        f"Accepted by J. Specimen, owner until {UNTIL}: hall is gutted in August. Note: agreed on the stairs." in text
    )
    assert "It stands as graded." in text
    assert "1 of these accepted for now" in text
    assert "Accepted" not in bare


@pytest.mark.parametrize(
    ("pick", "options", "status"),
    [
        pytest.param(lambda all_: [], (), 1, id="nothing accepted"),
        pytest.param(lambda all_: all_[1:], (), 1, id="all but one"),
        pytest.param(lambda all_: all_, (), 0, id="all"),
        pytest.param(lambda all_: [{**e, "until": "2026-05-31"} for e in all_], (), 1, id="all, and past"),
        pytest.param(lambda all_: [{**e, "until": AS_OF} for e in all_], (), 0, id="all, until today"),
        pytest.param(lambda all_: [{k: v for k, v in e.items() if k != "kept_away"} for e in all_], ("--fail-on", "hands off"),
                     1, id="hands off without what keeps people away"),
        pytest.param(lambda all_: all_, ("--include-possible",), 0, id="all, questions counted"),
    ],
)  # fmt: skip
def test_exit_status(tmp_path: Path, cottage: Survey, pick: Any, options: tuple[str, ...], status: int) -> None:
    done = check(tmp_path, *pick(everything(cottage)), options=options)
    assert done.exit_code == status, done.stdout


def test_data_says_what_is_accepted_and_what_is_stale(tmp_path: Path, cottage: Survey, tape: str, cover: str) -> None:
    done = check(tmp_path, one(tape), one(cover), one("4e9d9044adcc"), options=("--format", "json"))
    held_data = json.loads(done.stdout)
    jsonschema.validate(held_data, schema("findings"), cls=jsonschema.Draft202012Validator)
    by_identity = {finding["identity"]: finding for finding in held_data["findings"]}
    assert len(by_identity) == len(cottage.results.findings)
    assert by_identity[tape]["accepted"]["state"] == "accepted"
    assert by_identity[cover]["accepted"]["state"] == "refused"
    assert by_identity[cover]["grade"] == "hands off"
    assert [(s["kind"], s["line"]) for s in held_data["accepted"]["stale"]] == [
        ("hands off", 3),
        ("no such finding", 4),
    ]
    assert held_data["accepted"]["in_force"] == 1
    bare = json.loads(run("check", str(tmp_path / "house.yaml"), "--as-of", AS_OF, "--format", "json").stdout)
    assert "accepted" not in bare
    for finding in bare["findings"]:
        kept = {name: value for name, value in by_identity[finding["identity"]].items() if name != "accepted"}
        assert kept == finding


def test_a_question_can_be_accepted_too(tmp_path: Path) -> None:
    record = house(put("cables", "W3", "gauge", to="14 or 12"))
    thin = identity(compared.surveyed(tmp_path, record), "conductor-too-small")
    done = check(tmp_path, one(thin), record=record, options=("--include-possible", "--fail-on", "in turn"))
    assert "Accepted by J. Specimen, owner" in " ".join(done.stdout.split())


def test_a_file_beside_the_record_is_not_read_by_itself(tmp_path: Path, cottage: Survey) -> None:
    path = tmp_path / "house.yaml"
    path.write_text(houses.as_yaml(house()))
    written(tmp_path, *everything(cottage))
    done = run_apart("check", str(path), "--as-of", AS_OF, folder=tmp_path)
    assert done.returncode == 1
    assert "Accepted" not in done.stdout


@pytest.mark.parametrize("command", ["check", "compare"])
def test_a_refused_file_stops_the_run_with_a_sentence(tmp_path: Path, command: str) -> None:
    path = tmp_path / "house.yaml"
    path.write_text(houses.as_yaml(house()))
    (tmp_path / "bad.yaml").write_text("accepted: {}\n")
    done = run(command, *[str(path)] * (1 + (command == "compare")), "--accepted", str(tmp_path / "bad.yaml"))
    assert done.exit_code == 2
    assert done.stdout == ""
    assert "bad.yaml line 1" in done.stderr
    assert "nothing was judged" in done.stderr


HOSTILE = ["<script>alert(1)</script>", "x" * 300, "\u200fabc", "=1+1", "\u5c4b\u6839" * 60, "{0} %s"]


@pytest.mark.parametrize("text", HOSTILE, ids=range(len(HOSTILE)))
def test_hostile_text_stays_within_eighty_columns(
    tmp_path: Path, cottage: Survey, tape: str, cover: str, text: str
) -> None:
    entries = [one(tape, reason=text, by=text, note=text), one(cover, reason=text, by=text, kept_away=text),
               one("4e9d9044adcc", reason=text)]  # fmt: skip
    done = check(tmp_path, *entries)
    assert done.exit_code == 1
    assert [line for line in done.stdout.splitlines() if cells(line) > WIDTH and "Accepted" in line] == []
    assert "\u200f" not in done.stdout
    start = done.stdout.index("Accepted by" if len(text) < 60 else "Accepted")
    assert all(cells(line) <= WIDTH for line in done.stdout[start:].splitlines())


# -- shown by compare


def test_compare_shows_and_counts_it(tmp_path: Path) -> None:
    """A new finding that is accepted does not count; it is in its place all the same."""
    files = []
    for name, record in (("one", house(put("boxes", "hall", "cover", to="blank cover"))), ("two", after())):
        file = tmp_path / f"{name}.yaml"
        file.write_text(houses.as_yaml(record))
        files.append(str(file))
    cover_now = identity(survey(files[1], AS_OF), "box-without-cover")
    at = ["compare", *files, "--as-of", AS_OF]
    accepted = written(tmp_path, one(cover_now, kept_away="breaker A 1 locked off"))
    assert run(*at).exit_code == 1
    done = run(*at, "--accepted", str(accepted))
    assert done.exit_code == 0
    text = " ".join(done.stdout.split())
    assert "Hands off, confirmed. Box hall has no cover" in text
    assert "Kept away: breaker A 1 locked off." in text
    held_data = json.loads(run(*at, "--accepted", str(accepted), "--format", "json").stdout)
    jsonschema.validate(held_data, schema("comparison"), cls=jsonschema.Draft202012Validator)
    new = [e for e in held_data["findings"] if e["outcome"] == "new"]
    assert [e["accepted"]["state"] for e in new] == ["accepted"]
    past = run(*at, "--accepted", str(written(tmp_path, one(cover_now, kept_away="locked", until="2026-01-01"))))
    assert past.exit_code == 1
    assert "Was accepted by J. Specimen, owner until 2026-01-01, which is past" in " ".join(past.stdout.split())
    assert "-- ACCEPTED FINDINGS --" in past.stdout


# -- the fixture


def test_the_fixture_is_in_order_and_invented() -> None:
    """Every entry is in force on the day its comment names, one of them under an earlier tag."""
    path = FIXTURES / "accepted.yaml"
    done = survey(FIXTURES / "compare" / "later.yaml", "2027-06-01")
    found = held_against(read_accepted(path), done.results.findings, "2027-06-01",
                         former_identities(done.installation, done.results.findings))  # fmt: skip
    assert found.stale == []
    assert found.count == 3
    assert set(found.by_finding) - {e.finding for e in found.file.entries} != set()
    assert "\ninvented: true\n" in path.read_text()
