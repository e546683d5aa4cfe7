"""Breakers that the log left off: how they were left, and what `asfound next` asks for with them. All records invented.

That a breaker that was left off is not put on for a test, that the lock of somebody else stays and that one looks
before trusting it: common practice, no source; 29 CFR 1910.333(b)(2) and 1926.417 stand behind it, from memory.
"""

from __future__ import annotations

import itertools
import random
import re
from pathlib import Path
from typing import Any

import pytest
import yaml

from asfound.data import data
from asfound.plan import Plan, Step, plan
from asfound.plan.look import Looker
from asfound.plan.words import StepWords, in_words
from asfound.survey import Survey, survey
from asfound.trace.left import ahead, left, left_off
from asfound.trace.log import steps
from records import record_text, surveyed

DEMO = Path(__file__).resolve().parent.parent / "fixtures" / "demo.yaml"
AS_OF = "2026-05-20"
VISITS = {"V1": {"on": "2025-05-05", "by": "A. Example"}, "V2": {"on": "2025-05-09", "by": "B. Example"}}


def switched(to: str, visit: str = "V1", what: Any = "A 1") -> dict[str, Any]:
    return {"did": "switched", "what": what, "to": to, "visit": visit}


def did(word: str, visit: str = "V1", what: Any = "A 1", **more: Any) -> dict[str, Any]:
    return {"did": word, "what": what, "visit": visit, **more}


# -- how a breaker was left


@pytest.mark.parametrize(
    ("found", "log", "words", "stays"),
    [
        pytest.param({}, [switched("off")], "left off on 2025-05-05 (log entry 1)", True, id="off, and a later visit"),
        pytest.param({}, [switched("off"), did("locked")], "left off and locked on 2025-05-05 (log entries 1 and 2)",
                     True, id="off and locked"),
        pytest.param({}, [switched("locked off")], "left off and locked on 2025-05-05 (log entry 1)", True,
                     id="locked off in one"),
        pytest.param({}, [switched("off"), did("locked", "V2"), did("tagged", "V2")],
                     "left off, locked and tagged on 2025-05-05 and 2025-05-09 (log entries 1, 2 and 3)", True,
                     id="locked on a later day"),
        pytest.param({}, [switched("off"), did("locked"), switched("on", "V2")],
                     "left on, last on 2025-05-09 (log entry 3)", False, id="on again takes lock and tag off"),
        pytest.param({}, [did("locked")], "left locked on 2025-05-05 (log entry 1)", True, id="locked, position unknown"),
        pytest.param({}, [switched("on"), did("locked")], "left locked on 2025-05-05 (log entries 1 and 2)", True,
                     id="locked while on is not left on"),
        pytest.param({}, [did("tagged")], "left tagged on 2025-05-05 (log entry 1)", False, id="tagged alone"),
        pytest.param({}, [switched("half way")], "left in a position not recorded on 2025-05-05 (log entry 1)", False,
                     id="a position that is none"),
        pytest.param({"state": "tripped", "visit": "V1"}, [], "found tripped on 2025-05-05", True, id="as found"),
        pytest.param({"state": "off", "visit": "V1"}, [did("tagged")],
                     "left off and tagged on 2025-05-05 (log entry 1)", True, id="found off, then tagged"),
        pytest.param({"state": "on", "visit": "V2"}, [switched("off")], "found on, last on 2025-05-09", False,
                     id="found on at a later visit"),
        pytest.param({"state": "on", "visit": "V1"}, [switched("off", "V2")], "left off on 2025-05-09 (log entry 1)",
                     True, id="found on before"),
    ],
)  # fmt: skip
def test_how_a_breaker_was_left(tmp_path: Path, found: Any, log: list[Any], words: str, stays: bool) -> None:
    """The last that is said of it on any visit, with day and entry; never what was before."""
    text = record_text(visits=VISITS, panels={"A": {"breakers": {"1": {"amps": 20, **found}}}}, log=log)
    record = surveyed(tmp_path, text).record
    (held,) = left(record).values()
    assert (held.words, held.stays) == (words, stays)


def test_nothing_is_known_of_what_nobody_recorded(tmp_path: Path) -> None:
    text = record_text(panels={"A": {"breakers": {"1": 20, "3": 20}}}, log=[did("tested", what="A 3")])
    assert left(surveyed(tmp_path, text.replace("visit: V1", "visit: V1")).record) == {}


@pytest.mark.parametrize("seed", range(12))
def test_within_one_visit_it_says_what_the_replay_of_the_log_says(seed: int, tmp_path: Path) -> None:
    """`log.steps` is the other reading of the same entries; where nothing is forgotten they agree on what is off."""
    rng = random.Random(seed)
    tags = ["A 1", "A 3", "A 5/7", "A"]
    log = []
    for _ in range(rng.randrange(1, 14)):
        what, word = rng.choice(tags), rng.choice(["switched", "switched", "locked", "tagged", "opened"])
        to = {"to": rng.choice(["off", "on", "tripped", "locked off"])} if word == "switched" else {}
        log.append({"did": word, "what": what, "visit": "V1", **to})
    breakers = {"1": 20, "3": {"amps": 15, "state": "off"}, "5/7": {"amps": 30, "tie": "common trip"}}
    record = surveyed(tmp_path, record_text(panels={"A": {"breakers": breakers}}, log=log)).record
    replayed = steps(record)[-1].positions
    held = left(record)
    off = {item for item, position in replayed.items() if position.off}
    assert off == {item for item, one in held.items() if one.stays}
    on = {item for item, position in replayed.items() if position.off is False}
    assert on == {item for item, one in held.items() if one.off is False and not one.stays}


def test_what_is_ahead_counts(tmp_path: Path) -> None:
    """A breaker of a sub-panel feeds nothing while the breaker or the main ahead of it is off."""
    panels = {"A": {"main_amps": 100, "breakers": {"1/3": {"amps": 40, "tie": "common trip"}}},
              "B": {"fed_from": "A 1/3", "breakers": {"1": 15}}}  # fmt: skip
    done = surveyed(
        tmp_path, record_text(panels=panels, log=[switched("off", what="A 1/3"), switched("off", what="A")])
    )
    record = done.record
    breaker = record.breakers["B", "1"]
    assert [one.tag for one in ahead(breaker)] == ["B", "A 1/3", "A"]
    assert [one.tag for one in left_off(left(record), breaker)] == ["A 1/3", "A"]


# -- the test that is left


def choices(off: tuple[int, ...], count: int = 4) -> str:
    """One cable that nobody traced, `count` breakers that can feed it, and those of the numbers in `off` left off."""
    cables: dict[str, Any] = {
        f"W{one}": {"type": "14/2 with ground", "from": f"A {one}", "to": {"not_seen": "goes up in the wall"}}
        for one in range(1, count + 1)
    }
    ends = {"at": "hall", "black": "loose", "white": "loose", "bare": "loose"}
    cables["W9"] = {"type": "14/2 with ground", "from": "not traced", "to": ends}
    log = [switched("off", "V1", f"A {one}") for one in off]
    return record_text(
        visits=VISITS,
        panels={"A": {"breakers": {str(one): 15 for one in range(1, count + 1)}}},
        cables=cables,
        boxes={"hall": {"kind": "no box"}},
        **({"log": log} if log else {}),
    )


SUBSETS = [subset for size in range(5) for subset in itertools.combinations(range(1, 5), size)]


@pytest.mark.parametrize("off", SUBSETS, ids=lambda off: f"off {','.join(map(str, off)) or 'none'}")
def test_the_test_leaves_what_counting_says(off: tuple[int, ...], tmp_path: Path) -> None:
    """Each feed in turn is the one; what the outcome then leaves is counted out, by hand and not by the formula."""
    done = surveyed(tmp_path, choices(off))
    looker = Looker(done.installation)
    net = done.installation.item("conductor", "W9 black").data["net"]
    source = done.installation.sources[net]
    feeds = [*source.singles, *([None] if source.elsewhere else [])]
    assert len(feeds) == 5
    test = looker.test(source)
    assert test is not None
    stay = {f"A {one}" for one in off}
    assert {one.tag for one in test.stay} == stay
    assert not stay & {one.tag for one in test.breakers}
    total = 0
    for feed in feeds:
        live_first = feed is None or feed.tag not in stay
        if not live_first:
            total += len(feeds)
            continue
        dead_then = feed in test.breakers
        total += len(test.if_dead if dead_then else test.if_live)
        assert feed in (test.if_dead if dead_then else test.if_live)
    assert test.left == pytest.approx(total / len(feeds))
    if not off:
        assert source.test is not None
        assert test.left == source.test.left


@pytest.mark.parametrize("off", [(), (1,), (1, 2), (1, 2, 3, 4)], ids=["none off", "one", "two", "all"])
def test_what_was_left_off_is_named_with_its_day_and_never_switched(off: tuple[int, ...], tmp_path: Path) -> None:
    made = plan(surveyed(tmp_path, choices(off)), None)
    (said,) = [words for words, step in zip(in_words(made), made.steps, strict=True) if _is_test(step, "W9")]
    whole = " ".join((said.do, *said.before, *said.means))
    for one in range(1, 5):
        named = re.search(rf"switch off [^;]*\bA {one}\b", said.do)
        assert not (one in off and named)
    if off:
        assert "left off on 2025-05-05 (log entr" in said.do
        assert "look first" in whole
        assert "waits until" in " ".join(said.means)
    else:
        assert "shown live first, switch off" in said.do
        assert "look first" not in whole
    assert ("shown live first" in said.do) is (len(off) < 4)


def _is_test(step: Step, cable: str) -> bool:
    one = step.observation
    return one.act.name == "switch" and one.of.tag == cable


def test_with_more_left_off_it_is_expected_to_settle_less(tmp_path: Path) -> None:
    left_of = []
    for off in ((), (1,), (1, 2), (1, 2, 3)):
        done = surveyed(tmp_path, choices(off))
        net = done.installation.item("conductor", "W9 black").data["net"]
        test = Looker(done.installation).test(done.installation.sources[net])
        assert test is not None
        left_of.append(test.left)
    assert left_of == sorted(left_of)
    assert left_of[0] < left_of[2] < left_of[3]


def test_without_anything_else_that_can_feed_it_no_test_is_asked_for(tmp_path: Path) -> None:
    """Every candidate left off, and nothing unrecorded: being live or not would leave all of them."""
    done = surveyed(tmp_path, choices((1, 2, 3, 4)))
    looker = Looker(done.installation)
    net = done.installation.item("conductor", "W9 black").data["net"]
    source = done.installation.sources[net]
    source.elsewhere = False
    assert looker.test(source) is None


def test_a_breaker_behind_one_that_was_left_off_stays_too(tmp_path: Path) -> None:
    panels = {"A": {"breakers": {"1/3": {"amps": 40, "tie": "common trip"}}},
              "B": {"fed_from": "A 1/3", "breakers": {"1": 15}}}  # fmt: skip
    cables = {
        "W1": {"type": "14/2 with ground", "from": "B 1", "to": {"not_seen": "goes up in the wall"}},
        "W2": {"type": "8/3 with ground", "from": "A 1/3",
               "to": {"at": "B", "black": "lug 1", "red": "lug 2", "white": "neutral bar", "bare": "ground bar"}},
        "W9": {"type": "14/2 with ground", "from": "not traced", "to": {"at": "hall", "black": "loose"}},
    }  # fmt: skip
    text = record_text(panels=panels, cables=cables, boxes={"hall": {"kind": "no box"}},
                       log=[switched("off", what="A 1/3")])  # fmt: skip
    made = plan(surveyed(tmp_path, text), None)
    said = next(words for words, step in zip(in_words(made), made.steps, strict=True) if _is_test(step, "W9"))
    assert "switch off" not in said.do
    assert any("A 1/3 was left off on 2025-05-05 (log entry 1), ahead of B 1;" in text for text in said.before)


# -- the demo, where A 9 was left off because metal in the closet stood at 118 V


@pytest.fixture(scope="module")
def demo() -> Plan:
    return plan(survey(DEMO, AS_OF), None)


@pytest.fixture(scope="module")
def untouched(tmp_path_factory: pytest.TempPathFactory) -> Plan:
    """The demo without log entries 9 to 11: nobody switched A 9."""
    text = DEMO.read_text(encoding="utf-8")
    first, after = (
        text.index("  - {at: 2026-05-04 11:08, did: switched"),
        text.index("  - {at: 2026-05-12 08:05, did: opened"),
    )
    file = tmp_path_factory.mktemp("untouched") / "record.yaml"
    file.write_text(text[:first] + text[after:], encoding="utf-8")
    return plan(survey(file, AS_OF), None)


def switching_in(made: Plan) -> list[StepWords]:
    return [words for words, step in zip(in_words(made), made.steps, strict=True)
            if step.observation.act.name == "switch"]  # fmt: skip


def test_no_step_of_the_demo_switches_what_is_off(demo: Plan) -> None:
    for said in in_words(demo):
        for text in (said.do, *said.before):
            for tag in ("A 8", "A 9", "A 12", "A 15", "A 20"):
                assert not re.search(rf"[Ss]witch off [^;.]*\b{tag}\b", text), text


def test_the_tests_of_the_demo_name_the_danger_and_wait(demo: Plan) -> None:
    found = switching_in(demo)
    assert {said.end.split()[1] for said in found} == {"W24", "W69"}
    for said in found:
        before = " ".join(said.before)
        assert said.do.startswith("leave A 9 as it is, left off and locked on 2026-05-04 (log entries 9 and 10)")
        assert (
            "A 9 was left off and locked on 2026-05-04 (log entries 9 and 10); whether it still is, look first."
            in before
        )
        assert "Log entry 11: owner told not to switch it on and not to touch the closet light." in before
        assert "Hands off on what A 9 can feed:" in before
        assert "118 V from the metal of bedroom closet" in before
        assert "waits until that is dealt with and proven" in before
        assert "Whether it hangs on A 9 waits until what is hands off there is dealt with" in " ".join(said.means)


def test_the_way_along_the_cable_comes_before_the_test_that_waits(demo: Plan, untouched: Plan) -> None:
    def rank_of(made: Plan, act: str, cable: str) -> int:
        return next(step.rank for step in made.steps
                    if step.observation.act.name == act and step.observation.of.tag == cable)  # fmt: skip

    for cable in ("W24", "W69"):
        assert rank_of(demo, "follow", cable) < rank_of(demo, "switch", cable)
    assert rank_of(untouched, "switch", "W69") < rank_of(untouched, "follow", "W69")


def test_with_the_breaker_on_the_test_is_whole_and_leaves_it_off(untouched: Plan) -> None:
    for said in switching_in(untouched):
        before = " ".join(said.before)
        assert "shown live first, switch off A 9" in said.do
        assert "left off" not in said.do
        assert "Once off, A 9 stays off until that is dealt with and proven." in before


def test_a_place_to_be_made_dead_says_which_breaker_was_left_off(demo: Plan) -> None:
    at_sink = [said for said in in_words(demo) if said.place.startswith("under sink")]
    assert at_sink
    for said in at_sink:
        assert said.before[0] == (
            "A 15 was left off and locked on 2026-05-12 (log entries 13 and 18); whether it still is, look first."
        )
        assert "a lock and tag of your own on A 15" in said.before[1]
        assert said.before[2] == data("observations")["dead"]["prove"].strip()


def test_a_step_about_breakers_nobody_switched_is_as_before(demo: Plan) -> None:
    plain = [said for said in in_words(demo) if any(text.startswith("Switch off") for text in said.before)]
    assert plain
    for said in plain:
        assert not any("was left" in text for text in said.before)


# -- what tells nothing while its breaker is off


GUARDED: dict[str, Any] = {
    "panels": {"A": {"breakers": {"1": 20}}},
    "cables": {"W1": {"type": "12/2 with ground", "from": "A 1", "to": "hall"}},
    "boxes": {"hall": {"kind": "nonmetallic"}},
    "devices": {"R1": {"kind": "duplex receptacle", "at": "hall", "wired_to": "W1", "protection": "ground-fault"}},
}


@pytest.mark.parametrize(
    ("log", "odds", "waits"),
    [
        pytest.param([], 1.0, [], id="position not recorded"),
        pytest.param([switched("on")], 1.0, [], id="left on"),
        pytest.param([switched("off")], 0.25, ["A 1"], id="left off"),
        pytest.param([switched("off"), switched("on", "V2")], 1.0, [], id="on again on a later visit"),
    ],
)
def test_a_test_button_waits_for_its_breaker(log: list[Any], odds: float, waits: list[str], tmp_path: Path) -> None:
    """The quarter is our own choice, like the other chances of the data file."""
    text = record_text(visits=VISITS, **GUARDED, **({"log": log} if log else {}))
    looker = Looker(surveyed(tmp_path, text).installation)
    (button,) = [one for one in looker.possible() if one.act.name == "button" and one.of.kind == "device"]
    assert looker.odds(button) == odds
    assert [one.tag for one in looker.waits(button.of)] == waits


def test_the_step_of_a_test_button_says_that_it_waits(tmp_path: Path) -> None:
    text = record_text(visits=VISITS, **GUARDED, log=[switched("off"), did("locked")])
    made = plan(surveyed(tmp_path, text), None)
    said = next(words for words, step in zip(in_words(made), made.steps, strict=True)
                if step.observation.act.name == "button")  # fmt: skip
    assert said.before[1].startswith("A 1 was left off and locked on 2025-05-05 (log entries 1 and 2);")
    assert said.before[-1] == "It tells nothing while A 1 is off, and nothing is switched on for it: then it waits."


def test_a_place_with_more_than_what_was_left_off_says_that_other_breakers_can_feed_it(tmp_path: Path) -> None:
    cables = {**GUARDED["cables"], "W2": {"type": "12/2 with ground", "from": "not traced", "to": "hall"}}
    text = record_text(visits=VISITS, **{**GUARDED, "cables": cables}, log=[switched("off")])
    made = plan(surveyed(tmp_path, text), None)
    said = next(words for words, step in zip(in_words(made), made.steps, strict=True)
                if step.observation.name == "open | box hall")  # fmt: skip
    assert said.before[0] == "Part of what is here is not traced, and other breakers can feed it too."
    assert said.before[1].startswith("A 1 was left off on 2025-05-05 (log entry 1)")


# -- harmless whatever stands in the record


@pytest.mark.parametrize("note", ["{breakers} {0} {{", "x" * 5000, "two\nlines and <b>&amp;</b>", "a. b. c"])
def test_what_somebody_was_told_is_quoted_clean_and_short(note: str, tmp_path: Path) -> None:
    text = choices((1,))
    held = yaml.safe_load(text)
    held["log"].append(did("told", what="A 1", note=note))
    file = tmp_path / "told.yaml"
    file.write_text(yaml.safe_dump(held, sort_keys=False), encoding="utf-8")
    done: Survey = survey(file, AS_OF)
    told = [text for said in in_words(plan(done, None)) for text in said.before if text.startswith("Log entry 2: ")]
    assert told
    for line in told:
        assert len(line) < 180
        assert not re.search("[\x00-\x1f]", line)
