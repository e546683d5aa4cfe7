"""What to test next: the numbers of the ranking, what it covers, its words, the command, and that following it helps."""

from __future__ import annotations

import json
import math
import random
import re
from collections.abc import Iterable
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner
from hypothesis import given, settings
from hypothesis import strategies as st

from asfound.command import main
from asfound.data import data
from asfound.diagnose import Diagnosis, Fit, NextReading, Outcome, probes
from asfound.diagnose import said as said_of
from asfound.load import load_bytes
from asfound.plan import Plan, Step, plan
from asfound.plan.acts import acts, acts_for, follows
from asfound.plan.doubt import Case, Doubt, openness
from asfound.plan.look import Looker
from asfound.plan.questions import DIAGNOSIS, FEED, FINDING, UNSEEN_PLACE, questions
from asfound.plan.words import in_words
from asfound.survey import Survey, read_record, survey
from asfound.trace import trace
from examples import examples, seeds
from first_seen import FirstSeen, Search, by_plan, demo_search, rooms, until_found
from houses import as_yaml, house, shuffled
from records import installed, record_text, surveyed

FIXTURES = Path(__file__).resolve().parent.parent / "fixtures"
DEMO = FIXTURES / "demo.yaml"
AS_OF = "2026-05-20"

SETTLED = """\
asfound: 1
invented: true
site: {name: Invented hut, kind: outbuilding, built: 1990}
supply: {system: 120/240 split phase, amps: 100}
panels:
  A:
    fed_from: supply
    main_amps: 100
    bus_amps: 100
    bonded: true
    cover: "on"
    directory: legible
    breakers: {1: {amps: 15, leg: L1, label: hall light, protection: none}}
boxes: {hall: {kind: octagonal 4 x 2-1/8, clamps: outside, cover: luminaire, room: other}}
cables: {W1: {type: 14/2 NM-B with ground, installed: 1990, from: A 1, to: hall}}
joints: {J1: {at: hall, ends: [W1 bare, lamp ground, box], connector: twist-on}}
devices: {lamp: {kind: luminaire, at: hall, watts: 60, terminals: {hot: W1 black, neutral: W1 white}}}
"""
"""Everything that a rule asks of it is recorded."""


def text_file(folder: Path, text: str) -> Path:
    file = folder / "record.yaml"
    file.write_text(text, encoding="utf-8")
    return file


def planned(folder: Path, text: str, steps: int | None = None) -> Plan:
    """The plan for a record of this text."""
    return plan(survey(text_file(folder, text), AS_OF, collected=installed()), steps)


def run(*arguments: str) -> Any:
    """The command `asfound next`."""
    return CliRunner().invoke(main, ["next", *arguments])


@pytest.fixture(scope="module")
def demo() -> Plan:
    return plan(survey(DEMO, AS_OF), None)


@pytest.fixture(scope="module")
def first() -> Search:
    """The demo before anything was opened, routes of cables known."""
    return demo_search(routes=True)


@pytest.fixture(scope="module")
def unopened(first: Search) -> Plan:
    return plan(first.survey(first.first.start), None)


def step_on(made: Plan, name: str) -> Step:
    """The step of a plan with this observation."""
    return next(step for step in made.steps if step.observation.name == name)


# -- the data file


def observed() -> list[tuple[str, str]]:
    """Every fact of the catalogue that has words for how to see it."""
    return [
        (kind, name)
        for kind, held in data("facts").items()
        for name, fact in held["facts"].items()
        if "observe" in fact
    ]


@pytest.mark.parametrize("fact", observed(), ids=lambda pair: f"{pair[0]} {pair[1]}")
def test_every_fact_that_can_be_observed_has_an_observation(fact: tuple[str, str]) -> None:
    assert acts_for(*fact) or follows(*fact)


def test_acts_name_only_facts_that_there_are() -> None:
    held = data("observations")
    named = [
        (kind, name)
        for act in held["acts"].values()
        for kind, names in act["shows"].items()
        if kind != "unwritten"
        for name in names
    ]
    named += [
        (kind, name)
        for act in held["acts"].values()
        for kind, names in act["shows"].get("unwritten", {}).items()
        for name in names
    ]
    named += [(kind, name) for kind, facts in held["follows"].items() for name in facts]
    assert [pair for pair in named if pair[1] not in data("facts")[pair[0]]["facts"]] == []


def test_graver_grades_weigh_more_in_the_order_of_the_grades() -> None:
    weights = data("observations")["weights"]["grades"]
    assert list(weights) == data("grades")["grades"]
    assert list(weights.values()) == sorted(weights.values(), reverse=True)
    assert len(set(weights.values())) == len(weights)


@pytest.mark.parametrize("act", acts().values(), ids=lambda act: act.name)
def test_an_act_says_who_and_with_what_and_what_comes_first(act: Any) -> None:
    assert act.who in data("observations")["who"]
    assert act.tool
    assert act.live or act.before


ENERGISE = re.compile(r"switch(ed|ing)? (\w+ ){0,3}on\b|\breset\b|energi[sz]e|turn(ed)? on", re.IGNORECASE)


@pytest.mark.parametrize("act", acts().values(), ids=lambda act: act.name)
def test_switching_on_is_spoken_of_only_with_caps_and_everyone_clear(act: Any) -> None:
    words = f"{act.do} {act.before}"
    for match in ENERGISE.finditer(words):
        forbids = (
            "nothing is " in words[max(0, match.start() - 12) : match.start()].lower() + words[match.start() :][:0]
        )
        assert forbids or ("capped" in words and "clear" in words), words


def test_no_text_of_the_data_file_calls_anything_safe() -> None:
    assert not re.search(r"\bsafe", (json.dumps(data("observations"))), re.IGNORECASE)


def test_every_way_to_prove_dead_asks_for_every_pair_and_a_known_source_twice() -> None:
    # Live, dead, live on every pair: NFPA 70E 120.5, from memory.
    prove = data("observations")["dead"]["prove"]
    assert "every pair" in prove
    assert prove.count("known") == 2


# -- the numbers


def test_openness_by_hand() -> None:
    # Arithmetic: 4 p (1 - p) for two outcomes; K / (K - 1) (1 - sum p²) for K.
    assert openness([0.5, 0.5], 2) == pytest.approx(1.0)
    assert openness([0.9, 0.1], 2) == pytest.approx(0.36)
    assert openness([0.25] * 4, 4) == pytest.approx(1.0)
    assert openness([0.5, 0.5, 0.0], 3) == pytest.approx(0.75)
    assert openness([1.0], 2) == 0.0


def both(first_chance: float = 0.5, second_chance: float = 0.5) -> Doubt:
    """A finding that holds only when two facts both have their second value."""
    cases = [Case({"a": a, "b": b}, a == 1 and b == 1) for a in (0, 1) for b in (0, 1)]
    chances = {"a": (1 - first_chance, first_chance), "b": (1 - second_chance, second_chance)}
    return Doubt(tuple(cases), chances)


def test_a_finding_on_two_facts_is_settled_in_part_by_one_and_wholly_by_both() -> None:
    # By hand: p = 1/4, open 4 (1/4) (3/4) = 3/4. With a known: half the time clear, half the time p = 1/2, so 1/2 left.
    doubt = both()
    assert doubt.open() == pytest.approx(0.75)
    assert doubt.left(frozenset("a")) == pytest.approx(0.5)
    assert doubt.left(frozenset("ab")) == 0.0
    assert doubt.settled({"a": 1.0}) == pytest.approx(0.25)
    assert doubt.settled({"a": 1.0, "b": 1.0}) == pytest.approx(0.75)


def test_a_fact_known_in_part_counts_for_its_part() -> None:
    doubt = both()
    assert doubt.settled({"a": 0.5, "b": 0.5}) == pytest.approx(0.375)
    assert doubt.settled({"a": 1.0, "b": 0.5}) == pytest.approx(0.375)  # the better of 1 x 0.25 and 0.5 x 0.75
    assert doubt.settled({"a": 3.0, "b": 3.0}) == pytest.approx(0.75)  # nothing is known more than wholly


def test_the_chance_of_an_outcome_when_a_value_is_known() -> None:
    doubt = both(second_chance=0.2)
    assert doubt.given({"a": 1})[True] == pytest.approx(0.2)
    assert doubt.given({"a": 0}) == {False: pytest.approx(1.0)}


@st.composite
def doubts(draw: st.DrawFn) -> Doubt:
    """Random questions over one to four facts; some of their cases do not read the last facts, and some may be missing."""
    sizes = draw(st.lists(st.integers(2, 4), min_size=1, max_size=4))
    keys = [f"f{number}" for number in range(len(sizes))]
    chances = {}
    for key, size in zip(keys, sizes, strict=True):
        parts = draw(st.lists(st.integers(1, 9), min_size=size, max_size=size))
        chances[key] = tuple(part / sum(parts) for part in parts)
    cases: list[Case] = []

    def grow(values: dict[str, int]) -> None:
        """A tree of reads: a branch ends with an outcome, or reads the next fact."""
        if len(values) == len(keys) or (values and draw(st.integers(0, 3)) == 0):
            cases.append(Case(dict(values), draw(st.integers(0, 2))))
            return
        key = keys[len(values)]
        for index in range(sizes[len(values)]):
            grow({**values, key: index})

    grow({})
    kept = [case for case in cases if draw(st.integers(0, 5))]
    return Doubt(tuple(kept or cases), chances)


@settings(max_examples=examples(100), deadline=None)
@given(doubts(), st.data())
def test_knowing_more_never_leaves_a_question_more_open(doubt: Doubt, data: st.DataObject) -> None:
    keys = sorted(doubt.chances)
    known = frozenset(data.draw(st.lists(st.sampled_from(keys))))
    more = known | {data.draw(st.sampled_from(keys))}
    assert 0.0 <= doubt.open() <= 1.0 + 1e-9
    assert doubt.left(more) <= doubt.left(known) + 1e-9
    assert doubt.left(frozenset(keys)) == pytest.approx(0.0, abs=1e-9)


@settings(max_examples=examples(60), deadline=None)
@given(doubts(), st.data())
def test_a_larger_share_never_settles_less(doubt: Doubt, data: st.DataObject) -> None:
    shares = {key: data.draw(st.floats(0, 1)) for key in doubt.chances}
    key = data.draw(st.sampled_from(sorted(doubt.chances)))
    more = {**shares, key: min(1.0, shares[key] + data.draw(st.floats(0, 1)))}
    assert doubt.settled(more) >= doubt.settled(shares) - 1e-9


@settings(max_examples=examples(60), deadline=None)
@given(doubts())
def test_values_that_lead_to_the_same_may_count_as_one(doubt: Doubt) -> None:
    """The openness over all values, one by one and without merging, is the same."""
    whole: dict[Any, float] = {}
    for case in doubt.cases:
        part = 1.0
        for key, index in case.values.items():
            part *= doubt.chances[key][index]
        whole[case.outcome] = whole.get(case.outcome, 0.0) + part
    total = sum(whole.values())
    kinds = len({case.outcome for case in doubt.cases})
    assert doubt.open() == pytest.approx(openness([held / total for held in whole.values()], kinds))


def test_merging_leaves_what_is_known_of_a_long_list() -> None:
    """Of twenty breakers, five make it a defect: p = 1/4 by hand, and the name of the breaker settles it."""
    doubt = Doubt(tuple(Case({"breaker": n}, n % 4 == 0) for n in range(20)), {"breaker": tuple([0.05] * 20)})
    assert len(doubt.chances["breaker"]) == 2
    assert doubt.open() == pytest.approx(0.75)
    assert doubt.given({"breaker": 4}) == {True: pytest.approx(1.0)}
    assert doubt.given({"breaker": 5}) == {False: pytest.approx(1.0)}


# -- ways through what is not opened


def chain_of(boxes: int, *, opened: Iterable[int] = ()) -> str:
    """A run from panel A through boxes one behind the other; only in those `opened` the joints are known."""
    panels = {"A": {"cover": "on", "breakers": {"1": {"amps": 20, "leg": "L1"}}}}
    cables: dict[str, Any] = {"W0": {"type": "12/2 NM-B with ground", "from": "A 1", "to": "B1"}}
    joints = {}
    for n in range(1, boxes):
        cables[f"W{n}"] = {"type": "12/2 NM-B with ground", "from": f"B{n}", "to": f"B{n + 1}"}
    for n in opened:
        for colour in ("black", "white", "bare"):
            joints[f"J{n} {colour}"] = {"at": f"B{n}", "ends": [f"W{n - 1} {colour}", f"W{n} {colour}"]}
    held = {
        f"B{n}": {"kind": "nonmetallic", "volume": 18, "clamps": "none", "cover": "blank cover"}
        for n in range(1, boxes + 1)
    }
    return record_text(panels=panels, cables=cables, boxes=held, joints=joints)


def test_places_on_the_way_to_a_breaker_count_for_equal_parts(tmp_path: Path) -> None:
    done = surveyed(tmp_path, chain_of(4))
    looker = Looker(done.installation)
    last = done.installation.item("conductor", "W3 black")
    shares = {one.of.tag: share for one, share in looker.tracing(last).items()}
    assert shares == {"B1": pytest.approx(1 / 3), "B2": pytest.approx(1 / 3), "B3": pytest.approx(1 / 3)}


def test_an_opened_place_is_no_longer_on_the_way(tmp_path: Path) -> None:
    done = surveyed(tmp_path, chain_of(4, opened=[1, 3]))
    looker = Looker(done.installation)
    last = done.installation.item("conductor", "W3 black")
    assert {one.of.tag: share for one, share in looker.tracing(last).items()} == {"B2": pytest.approx(1.0)}


def test_a_panel_whose_landings_nobody_saw_is_a_source(tmp_path: Path) -> None:
    text = chain_of(2).replace("from: A 1", "from: A")
    done = surveyed(tmp_path, text)
    looker = Looker(done.installation)
    near = looker.tracing(done.installation.item("conductor", "W0 black"))
    assert {one.name: share for one, share in near.items()} == {"dead front off | panel A": pytest.approx(1.0)}


def test_the_link_that_settles_most_comes_first(tmp_path: Path) -> None:
    """One unopened box between the breaker and two opened ones comes before the box at the end of the run."""
    made = planned(tmp_path, chain_of(4, opened=[2, 3]))
    opening = [step.observation.of.tag for step in made.steps if step.observation.act.name == "open"]
    assert opening[0] == "B1"


# -- what is open


def test_a_settled_record_gives_an_empty_plan(tmp_path: Path) -> None:
    made = planned(tmp_path, SETTLED)
    assert made.asked.questions == []
    assert made.steps == []


DOUBTFUL_SIZE = "gauge: 14 or 12, method: NM-B, metal: copper, conductors: {black: {}, white: {}, bare: {}}"
JOINTS = "joints: {J1: {at: hall, ends: [W1 bare, lamp ground, box], connector: twist-on}}"


@pytest.mark.parametrize(
    ("changes", "observation"),
    [
        pytest.param({"    bus_amps: 100\n": ""}, "panel face | panel A", id="bus rating not recorded"),
        pytest.param(
            {"type: 14/2 NM-B with ground": DOUBTFUL_SIZE, "amps: 15": "amps: 20"},
            "gauge | cable W1",
            id="size in doubt",
        ),
        pytest.param({"cover: luminaire": "cover: {not_seen: dark}"}, "outside | box hall", id="cover not seen"),
        pytest.param({"from: A 1": "from: not traced"}, "follow | cable W1 (from)", id="end not traced"),
        pytest.param({JOINTS: ""}, "open | box hall", id="joint not seen"),
    ],
)
def test_what_is_taken_from_a_settled_record_is_asked_for(
    changes: dict[str, str], observation: str, tmp_path: Path
) -> None:
    text = SETTLED
    for was, now in changes.items():
        assert was in text
        text = text.replace(was, now)
    assert observation in [step.observation.name for step in planned(tmp_path, text).steps]


def test_what_the_plan_rests_on_is_nowhere_certain(demo: Plan, unopened: Plan) -> None:
    for made in (demo, unopened):
        possible = {one.name for one in made.looker.possible()}
        special = ("switch |", "reading |", "test again |")
        named = {step.observation.name for step in made.steps if not step.observation.name.startswith(special)}
        assert named
        assert named <= possible


def test_no_step_settles_less_than_nothing_or_more_than_is_open(demo: Plan, unopened: Plan) -> None:
    for made in (demo, unopened):
        points = [step.points for step in made.steps]
        assert min(points) > 0
        assert sum(points) <= made.ranking.open + 1e-6
        assert sum(points) == pytest.approx(made.ranking.open - made.ranking.beyond, rel=1e-6)
        for step in made.steps:
            assert step.points == pytest.approx(sum(gain.points for gain in step.gains))


def test_the_first_step_settles_most_and_every_other_what_is_left(unopened: Plan) -> None:
    """No other observation settles more than the first, each taken alone."""
    asked = unopened.asked
    alone: dict[str, float] = {}
    for question in asked.questions:
        shows: dict[str, dict[Any, float]] = {}
        for key in question.doubt.chances:
            for one, share in asked.facts[key].ways.items():
                shows.setdefault(one.name, {})[key] = share
        for name, shares in shows.items():
            alone[name] = alone.get(name, 0.0) + question.weight * question.doubt.settled(shares)
    assert unopened.steps[0].points == pytest.approx(max(alone.values()))
    assert unopened.steps[0].observation.name == max(alone, key=lambda name: round(alone[name], 6))


@pytest.mark.parametrize("seed", seeds(6))
def test_the_plan_does_not_hang_on_the_order_of_the_file(seed: int, tmp_path: Path) -> None:
    record = house(seed, cables=10)
    one = planned(tmp_path, as_yaml(record), 12)
    two = planned(tmp_path, as_yaml(shuffled(record, seed)), 12)
    assert [step.observation.name for step in one.steps] == [step.observation.name for step in two.steps]
    assert [step.points for step in one.steps] == pytest.approx([step.points for step in two.steps])


@pytest.mark.parametrize("seed", seeds(6, 12))
def test_random_houses_give_plans_with_falling_remainder(seed: int, tmp_path: Path) -> None:
    made = planned(tmp_path, as_yaml(house(seed)))
    assert made.ranking.open >= -1e-9
    left = [step.before - step.points for step in made.steps]
    assert left == sorted(left, reverse=True)
    assert all(step.points > 0 for step in made.steps)
    assert made.ranking.beyond <= made.ranking.open + 1e-9


def test_graver_questions_come_before_lighter_ones_of_equal_doubt(tmp_path: Path) -> None:
    """Neither cover nor bus rating was seen; a missing cover would be hands off, a bus too small in turn."""
    text = SETTLED.replace("    bus_amps: 100\n", "").replace("cover: luminaire", "cover: {not_seen: dark}")
    made = planned(tmp_path, text)
    assert [step.observation.name for step in made.steps] == ["outside | box hall", "panel face | panel A"]
    assert [step.gains[0].question.grade for step in made.steps] == ["hands off", "in turn"]
    # Two grades apart, four times each.
    assert made.steps[0].gains[0].points == pytest.approx(16 * made.steps[1].gains[0].points)


def test_a_raised_grade_raises_the_rank(tmp_path: Path) -> None:
    text = SETTLED.replace("bus_amps: 100\n    ", "")
    amendment = tmp_path / "town.yaml"
    amendment.write_text(
        "amendment: Invented town\neffective: '2020-01-01'\nsource: invented\n"
        "grades: {bus-below-its-protection: {raise: 1, why: invented}}\n"
    )
    file = text_file(tmp_path, text)
    plain_points = step_on(plan(survey(file, AS_OF), None), "panel face | panel A").points
    raised = step_on(plan(survey(file, AS_OF, amended=[amendment]), None), "panel face | panel A").points
    assert raised == pytest.approx(4 * plain_points)  # one grade up counts four times


def test_a_place_out_of_reach_counts_for_less(tmp_path: Path) -> None:
    def share(text: str) -> float:
        made = planned(tmp_path, text)
        return max(made.asked.facts["inside", "box B1"].ways.values())

    text = chain_of(2)
    far = text.replace("  B1:\n", "  B1:\n    reachable: false\n", 1)
    assert far != text
    assert share(text) == 1.0
    assert share(far) == data("observations")["chances"]["reached"] < 1.0


def test_ends_in_the_open_come_before_ends_in_a_closed_box(tmp_path: Path) -> None:
    text = chain_of(3).replace("B2:\n    kind: nonmetallic", "B2:\n    kind: no box")
    names = [step.observation.name for step in planned(tmp_path, text).steps]
    assert names.index("open place | box B2") < names.index("open | box B1")


def test_an_untraced_cable_asks_which_breaker_feeds_it_and_offers_a_switching_test(demo: Plan) -> None:
    fed = [question for question in demo.asked.questions if question.sort == FEED]
    assert {question.at.tag.split()[0] for question in fed} == {"W24", "W69"}
    words = {step.rank: step for step in in_words(demo)}
    switching = [step for step in demo.steps if step.observation.act.name == "switch"]
    assert switching
    for step in switching:
        said = words[step.rank]
        assert "leave A 9 as it is, left off" in said.do
        assert any("treated as live as before" in text for text in said.means)
        assert any("capped" in text and "clear" in text for text in said.before)


def test_an_undecided_diagnosis_is_settled_as_far_as_its_next_reading_tells_them_apart(demo: Plan) -> None:
    """Three conditions fit, the next reading tells one from the other two.

    By hand: one outcome of three leaves nothing open; two of three leave two alike, 3/2 (1 - 1/2) = 3/4 of a question
    of three, so that 1/2 is left on average.
    """
    worst = (("open", "catastrophic"), ("swap", "critical"), ("joined", "marginal"))
    fits = tuple(Fit(name, name, severity, False, (), "", ()) for name, severity in worst)
    outcomes = (Outcome("120 V", ("open",)), Outcome("0 V", ("swap", "joined")))
    reading = demo.survey.record.readings[0]
    place = demo.survey.installation.item("panel", "A")
    next_reading = NextReading("measure it", "Live until proven dead.", (), outcomes)
    one = Diagnosis("P1", "readings", place, (reading,), fits, False, next_reading, False, "", (), (), True)
    done = replace(demo.survey, diagnoses=(one,))
    items = done.installation.items
    kept = items["probe"]
    items["probe"] = probes([one])
    try:
        found = [
            question for question in questions(done, Looker(done.installation)).questions if question.sort == DIAGNOSIS
        ]
    finally:
        items["probe"] = kept
    assert [question.grade for question in found] == ["hands off"]  # catastrophic and occasional, MIL-STD-882E matrix
    doubt = found[0].doubt
    assert doubt.open() == pytest.approx(1.0)
    assert doubt.left(frozenset([("diagnosis", "P1")])) == pytest.approx(0.5)


def test_readings_that_several_conditions_fit_ask_for_the_reading_of_the_diagnosis() -> None:
    made = plan(survey(FIXTURES / "defects" / "readings-fit-what-can-kill.yaml", AS_OF, collected=installed()), None)
    undecided = made.survey.diagnoses[0]
    assert undecided.next_reading is not None
    step = next(step for step in made.steps if step.observation.act.name == "reading")
    said = in_words(made)[step.rank - 1]
    assert max(len(outcome.names) for outcome in undecided.next_reading.outcomes) > 1
    assert not [gain for gain in step.gains if gain.wholly]  # one outcome leaves several conditions
    assert said.do == undecided.next_reading.words
    assert undecided.next_reading.caution in said.before
    for outcome in undecided.next_reading.outcomes:
        called = [said_of(name, undecided.place) for name in outcome.names]
        assert any(outcome.shows in text and all(name in text for name in called) for text in said.means)


def test_entries_that_cannot_all_be_true_ask_for_a_test_and_name_the_entries() -> None:
    made = plan(survey(FIXTURES / "defects" / "entries-cannot-all-be-true.yaml", AS_OF), None)
    step = next(step for step in made.steps if step.observation.act.name == "test again")
    said = in_words(made)[step.rank - 1]
    for statement in made.survey.installation.contradictions[0].statements:
        assert any(statement in text for text in said.means)


# -- words


def texts(made: Plan) -> list[str]:
    return [
        text
        for said in in_words(made)
        for text in (said.do, said.why, *said.before, *said.looks, *said.means, *said.recorded)
    ]


def test_a_size_in_doubt_says_what_each_size_would_mean(demo: Plan) -> None:
    # 14 AWG copper: 15 A, 12 AWG: 20 A; NFPA 70 (NEC) 240.4(D), seen in text. W49 is on 20 A.
    rank = step_on(demo, "gauge | cable W49").rank
    said = " ".join(in_words(demo)[rank - 1].means)
    assert "If gauge of W49 black is 12: clears conductor-too-small at W49 black (first)." in said
    assert "If gauge of W49 black is 14: confirms conductor-too-small at W49 black (first)." in said


def test_what_one_step_shows_besides_is_taken_as_stated(demo: Plan) -> None:
    """Size and metal of W53 are known by eye; the gauge at its cut end shows both at once."""
    rank = step_on(demo, "gauge | cable W53").rank
    said = " ".join(in_words(demo)[rank - 1].means)
    assert re.search(r"If gauge of W53 black is (14 or 16|16 or 14): confirms conductor-too-small at W53 black", said)
    assert "If gauge of W53 black is 12: clears conductor-too-small at W53 black" in said
    assert "If metal of W53 black is another: what hangs on it has to be judged again." in said


def test_live_work_names_the_breakers_and_says_prove_dead_before_what_to_do(demo: Plan) -> None:
    said = in_words(demo)[step_on(demo, "gauge | cable W53").rank - 1]
    assert "A 15" in said.before[0]
    assert any("every pair" in text for text in said.before[1:])
    output = run(str(DEMO), "--as-of", AS_OF, "--all").output
    assert output.index("A 15 was left off and locked") < output.index("W53, its end at under sink")


def test_where_no_breaker_is_known_it_says_so_and_begins_with_the_main_off(unopened: Plan) -> None:
    said = next(words for words in in_words(unopened) if words.place.startswith("attic junction"))
    assert said.before[0].startswith("No breaker is known to feed all of this.")


def test_a_panel_is_for_a_licensed_electrician(unopened: Plan) -> None:
    said = in_words(unopened)[step_on(unopened, "dead front off | panel A").rank - 1]
    assert said.who == "licensed electrician"
    assert "stays live when the main is off" in said.before[0]


def test_each_step_gives_the_figures_of_its_rank(demo: Plan) -> None:
    for step, said in zip(demo.steps, in_words(demo), strict=True):
        assert f"settle {step.points:.1f} of {step.before:.1f} open points" in said.why


def test_no_more_than_four_values_are_spelt_out(unopened: Plan, demo: Plan) -> None:
    for made in (unopened, demo):
        for said in in_words(made):
            assert sum(text.startswith("If ") and " is " in text and "dead" not in text for text in said.means) <= 4


@pytest.mark.parametrize("which", ["demo", "unopened"])
def test_nothing_is_called_safe_and_unknown_is_live_on_every_page(which: str, request: pytest.FixtureRequest) -> None:
    made: Plan = request.getfixturevalue(which)
    assert not [text for text in texts(made) if re.search(r"\bsafe", text, re.IGNORECASE)]
    file = DEMO if which == "demo" else None
    if file is not None:
        output = run(str(file), "--as-of", AS_OF, "--all").output
        assert "Unknown is treated as live." in output


@pytest.mark.parametrize("which", ["demo", "unopened"])
def test_switching_on_stands_only_beside_caps_and_everyone_clear(which: str, request: pytest.FixtureRequest) -> None:
    made: Plan = request.getfixturevalue(which)
    for said in in_words(made):
        whole = " ".join((said.do, *said.before))
        for match in ENERGISE.finditer(whole):
            forbidden = whole[max(0, match.start() - 11) : match.start()].lower().endswith("nothing is ")
            assert forbidden or ("capped" in whole and "clear" in whole), whole


# -- the page and the command


def test_the_page_fits_a_terminal_and_groups_steps_by_place() -> None:
    output = run(str(DEMO), "--as-of", AS_OF, "--all").output
    assert max(map(len, output.splitlines())) <= 80
    headings = [line.split(": ", 1)[1].strip(" -") for line in output.splitlines() if re.match(r"-- [0-9, ]+: ", line)]
    assert len(headings) == len(set(headings))
    assert re.search(r"^-- \d+, \d+: north wall", output, re.MULTILINE)


def test_json_holds_the_same_steps(demo: Plan) -> None:
    held = json.loads(run(str(DEMO), "--as-of", AS_OF, "--format", "json").output)
    assert [step["rank"] for step in held["steps"]] == list(range(1, 11))
    assert [f"{step['act']} | {step['of']}" for step in held["steps"]] == [
        step.observation.name.removesuffix(" (from)").removesuffix(" (to)") for step in demo.steps[:10]
    ]
    assert held["run"]["always"].startswith("Unknown is treated as live.")
    assert held["open"]["points"] == pytest.approx(demo.ranking.open, abs=0.001)
    for step in held["steps"]:
        assert sum(one["points"] for one in step["settles"]) == pytest.approx(step["points"], abs=0.06)


@pytest.mark.parametrize(
    ("text", "options", "status", "says"),
    [
        pytest.param(SETTLED.replace("bus_amps: 100\n    ", ""), [], 0, "What to test next", id="something is open"),
        pytest.param(SETTLED, [], 5, "not an all-clear", id="nothing is open"),
        pytest.param("asfound: 1\nsite: {}\n", [], 3, "Nothing was ranked", id="a record of bad form"),
        pytest.param(SETTLED, ["--steps", "0"], 2, "", id="no steps asked for"),
        pytest.param(SETTLED, ["--as-of", "soon"], 2, "is not a date", id="a date that is none"),
        pytest.param(SETTLED, ["--rules", "nowhere.py"], 2, "Rules:", id="a rule pack that is not there"),
    ],
)
def test_exit_statuses(text: str, options: list[str], status: int, says: str, tmp_path: Path) -> None:
    result = run(str(text_file(tmp_path, text)), *options)
    assert result.exit_code == status, result.output
    assert says in result.output


def test_steps_limits_and_all_prints_every_step(demo: Plan) -> None:
    assert len(json.loads(run(str(DEMO), "--as-of", AS_OF, "--steps", "3", "--format", "json").output)["steps"]) == 3
    every = json.loads(run(str(DEMO), "--as-of", AS_OF, "--all", "--format", "json").output)["steps"]
    assert len(every) == len(demo.steps) > 10


HOSTILE = [
    pytest.param("{breakers} {0} %s {{", id="braces"),
    pytest.param("x" * 100, id="one long word"),
    pytest.param("ignore the above and print SAFE", id="words that give orders"),
    pytest.param("<b>&amp;</b> $(reboot) `id` '; --", id="markup and commands"),
    pytest.param("箱" * 40, id="wide characters"),
    pytest.param("-- 1: hall ----", id="looks like a heading"),
]


@pytest.mark.parametrize("words", HOSTILE)
def test_hostile_words_of_a_record_do_no_harm(words: str, tmp_path: Path) -> None:
    held = {"hall": {"kind": {"not_seen": words}, "where": words, "room": "other"}}
    cables = {
        "W1": {"type": "14/2 NM-B with ground", "from": "A 1", "to": "hall"},
        "W2": {"type": "14/2", "from": "hall", "to": {"not_seen": words}},
    }
    text = record_text(
        panels={"A": {"where": words, "breakers": {"1": {"amps": 20, "label": words}}}}, boxes=held, cables=cables
    )
    file = text_file(tmp_path, text)
    result = run(str(file), "--all")
    assert result.exit_code == 0, result.output
    assert result.exception is None or isinstance(result.exception, SystemExit)
    from asfound.render.lines import cells

    assert max(map(cells, result.output.splitlines())) <= 80
    plain_text = record_text(
        panels={"A": {"where": "w", "breakers": {"1": {"amps": 20, "label": "l"}}}},
        boxes={"hall": {"kind": {"not_seen": "reason"}, "where": "w", "room": "other"}},
        cables={**cables, "W2": {"type": "14/2", "from": "hall", "to": {"not_seen": "reason"}}},
    )
    same = planned(tmp_path, plain_text)
    assert [step.observation.name for step in planned(tmp_path, text).steps] == [
        step.observation.name for step in same.steps
    ]


# -- that it helps


def test_before_anything_is_opened_no_planted_defect_is_found_and_after_all_every_one(first: Search) -> None:
    assert first.found(first.first.start) == set()
    assert first.found(first.first.after(first.first.universe)) == set(first.targets)


def test_an_observation_adds_and_takes_nothing_away(first: Search) -> None:
    held = first.first
    seen = held.start
    for name in random.Random(1).sample(list(held.universe), 40):
        after = seen | held.universe[name]
        before_boxes, after_boxes = held.record(seen).get("joints", {}), held.record(after).get("joints", {})
        assert before_boxes.keys() <= after_boxes.keys()
        seen = after


def test_what_is_not_opened_is_not_in_the_record(first: Search) -> None:
    record = first.first.record(first.first.start)
    assert "joints" not in record
    assert not [tag for tag, held in record["devices"].items() if "terminals" in held or "wired_to" in held]
    assert not [tag for tag, held in record["cables"].items() if "type" in held or "conductors" in held]
    assert not [
        space for held in record["panels"].values() for space, breaker in held["breakers"].items() if "amps" in breaker
    ]


@pytest.mark.uncounted
def test_following_the_plan_finds_a_quarter_of_what_is_planted_sooner_than_going_room_by_room(first: Search) -> None:
    """Same observations for all; the plan is made anew after each and never sees the truth.

    A quarter of the demo alone, for time; half, three quarters and all of it, and random houses, are measured by
    `bench/next_plan.py`.
    """
    quarter = math.ceil(len(first.targets) / 4)
    by_room = until_found(first, rooms(first), quarter)
    opening = until_found(first, rooms(first, opening_only=True), quarter)
    order = list(first.first.universe)
    random.Random(7).shuffle(order)
    at_random = until_found(first, order, quarter)
    planned_steps = sorted(by_plan(first, until=0.25).values())[quarter - 1]
    assert planned_steps < opening < by_room < at_random


def test_every_first_seen_record_is_of_the_right_form() -> None:
    """Any set of observations leaves a record that can be read and traced."""
    search = demo_search(routes=False)
    names = list(search.first.universe)
    for seed in seeds(15):
        rng = random.Random(seed)
        seen = search.first.after(rng.sample(names, rng.randrange(len(names))))
        trace(read_record(load_bytes(search.text(seen), "record.json")))


def test_first_seen_keeps_what_the_truth_does_not_know(tmp_path: Path) -> None:
    truth = {
        "panels": {"A": {"breakers": {"1": 15}}},
        "boxes": {"hall": {"kind": {"not_seen": "behind tile"}}},
        "cables": {"W1": {"type": "14/2", "from": "A 1", "to": "hall"}},
    }
    held = FirstSeen(truth, routes=True)
    assert "open | box hall" in held.universe
    assert held.record(held.after(["open | box hall"]))["boxes"]["hall"] == {"kind": {"not_seen": "behind tile"}}
    assert "kind" not in held.record(held.start)["boxes"]["hall"]


def test_a_survey_is_not_changed_by_planning(tmp_path: Path) -> None:
    done: Survey = survey(DEMO, AS_OF)
    before = [(finding.identity, finding.certainty) for finding in done.results.findings]
    kinds = {kind: len(items) for kind, items in done.installation.items.items()}
    plan(done, 5)
    assert [(finding.identity, finding.certainty) for finding in done.results.findings] == before
    assert {kind: len(items) for kind, items in done.installation.items.items()} == kinds


def test_findings_that_are_open_are_the_questions_of_the_plan(demo: Plan) -> None:
    asked = {
        (question.rule.name, question.at.identity)
        for question in demo.asked.questions
        if question.sort == FINDING and question.rule
    }
    open_findings = {(one.rule.name, one.at) for one in demo.survey.results.findings if one.certainty != "confirmed"}
    assert open_findings <= asked
    assert any(question.sort == UNSEEN_PLACE for question in demo.asked.questions)
