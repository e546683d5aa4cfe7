"""Worlds against brute force: random rules over random facts, with the full product of values enumerated here.

The reference knows nothing of trees or order: it takes every assignment of
every doubtful fact, runs the rule on it, and reads certainty, what decides and
what is missing off that table, by the definitions in words below.
"""

from __future__ import annotations

import itertools
import random
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest

from asfound.authoring import Defect, every, for_words, given, only_if, some
from asfound.judge.results import FAILED, Finding, Results
from asfound.judge.rules import Rule
from asfound.judge.run import judge
from asfound.judge.tables import Edition, Table, TableSet
from asfound.judge.views import Gap, NotHere
from asfound.judge.worlds import CLEAR, DEFECT, MAX_WORLDS, SKIP, UNKNOWN, certainty, decisive, explore
from asfound.load.values import Document, Map, Place
from asfound.record.build import Record
from asfound.record.facts import ASSUMED, EXACT, LISTED, NOT_RECORDED, UNSEEN, WEAK, Fact, Item, exact, unseen
from asfound.trace import Installation

NAMES = ["jacket", "length", "plate", "fished", "bundled", "method"]
"""Facts of a cable, used here for their names alone."""
TABLES = TableSet([Table("limits", "A", ("key",), (Edition("2000-01-01", "first", "invented", "invented", {"1": 1}, frozenset()),), Path("t"))], "2026-01-01")  # fmt: skip


def made_rule(function: Callable[..., Any], wants: tuple[str, ...] = ()) -> Rule:
    """A rule around a plain function, without the checks that a written rule passes."""
    return Rule(
        name="tried", of="cable", title="Tried", notes="", topic="tests", severity="critical", likelihood="remote",
        caution="Notice: invented.", defer="The local code decides.", source="invented", basis="common practice",
        revision=1, since="0.1", run=function, wants=wants, file=Path("tried.py"), line=1,
    )  # fmt: skip


def cable(tag: str = "W1", **facts: Any) -> Item:
    item = Item("cable", tag, f"cable {tag}")
    item.data.update(facts)
    return item


def record() -> Record:
    return Record(Document(Map(Place(1, 1)), "tried", ""), "tried", True, Item("site", "site", "the site"), "")


def judged(function: Callable[..., Any], *items: Item, wants: tuple[str, ...] = ()) -> Results:
    """What a rule gives on these cables, as the engine runs it."""
    return judge(Installation(record(), {"cable": list(items)}), [made_rule(function, wants)], TABLES)


def outcome(results: Results) -> str:
    """The outcome counted for the one item."""
    counted = results.counts["tried"]
    assert sum(counted.values()) == 1
    return next(iter(counted))


# -- random decision trees


class Tree:
    """A rule made at random: it reads facts one after the other and says things on the way."""

    def __init__(self, rng: random.Random, names: list[str], depth: int) -> None:
        self.name = rng.choice(names)
        self.says = rng.choice(["", "", "", "", "", "", "", "a", "b"])
        self.again = rng.random() < 0.2
        self.branches: list[Tree | str] = [
            Tree(rng, names, depth - 1)
            if depth and rng.random() < 0.75
            else rng.choice(["", "", "a", "b", "skip", "skip", "gap"])
            for _ in range(3)
        ]
        self.also = rng.choice(names) if rng.random() < 0.2 else ""

    def run(self, read: Callable[[str], int], said: set[str]) -> Iterator[Defect]:
        """Walk down; `read` gives the value of a fact."""
        if self.says:
            yield from _say(self.says, said)
        value = read(self.name)
        if self.also:
            read(self.also)  # read for nothing
        branch = self.branches[value % 3]
        if isinstance(branch, Tree):
            yield from branch.run(read, said)
        elif branch == "skip":
            raise NotHere
        elif branch == "gap":
            raise Gap("no row")
        elif branch:
            yield from _say(branch, said)


def _say(cause: str, said: set[str]) -> Iterator[Defect]:
    if cause not in said:
        said.add(cause)
        yield Defect(f"finding {cause}", cause=cause)


def random_fact(rng: random.Random) -> Fact:
    kind = rng.choice([EXACT, EXACT, WEAK, WEAK, LISTED, ASSUMED, UNSEEN])
    if kind == UNSEEN:
        return rng.choice([unseen("painted over"), NOT_RECORDED])
    count = 1 if kind == EXACT else rng.choice([1, 2, 2, 3]) if kind == WEAK else rng.choice([2, 2, 3])
    return Fact(kind, tuple(rng.sample(range(3), count)))


# -- the reference


class Missed(Exception):
    pass


class Table4:
    """Every assignment of the doubtful facts, with what the rule says in it. Definitions in words beside each."""

    def __init__(self, tree: Tree, facts: dict[str, Fact]) -> None:
        self.facts = facts
        open_names = [name for name, fact in facts.items() if fact.values]
        self.rows = []
        for values in itertools.product(*(facts[name].values for name in open_names)):
            chosen = dict(zip(open_names, values, strict=True))
            self.rows.append((chosen, *self.once(tree, chosen)))

    def once(self, tree: Tree, chosen: dict[str, int]) -> tuple[set[str], str, set[str]]:
        """What is said, how it ends, and which facts are read."""
        said: set[str] = set()
        read_names: set[str] = set()

        def read(name: str) -> int:
            read_names.add(name)
            if name not in chosen:
                raise Missed
            return chosen[name]

        end = CLEAR
        try:
            list(tree.run(read, said))
        except NotHere:
            end = SKIP
        except (Missed, Gap):
            end = UNKNOWN
        return said, end, read_names

    def causes(self) -> set[str]:
        return {cause for _, said, _, _ in self.rows for cause in said}

    def certainty(self, cause: str) -> str:
        """Confirmed: in every assignment, and nothing read was weak or assumed. Likely: in every assignment that
        takes each weak fact as stated. Possible: in any other."""
        doubtful = {
            name for _, said, _, names in self.rows for name in names if self.facts[name].kind in (WEAK, ASSUMED)
        }
        if all(cause in said for _, said, _, _ in self.rows) and not doubtful:
            return "confirmed"
        return "likely" if all(cause in said for _, said, _, _ in self.recorded()) else "possible"

    def recorded(self) -> list[Any]:
        weak = [name for name, fact in self.facts.items() if fact.kind == WEAK]
        return [row for row in self.rows if all(row[0][name] == self.facts[name].values[0] for name in weak)]

    def outcome(self) -> str:
        """The best finding; else cannot tell as soon as one assignment misses something; else clear or nothing here."""
        sure = {self.certainty(cause) for cause in self.causes()}
        if sure:
            return "possible" if sure == {"possible"} else DEFECT
        ends = {end for _, _, end, _ in self.rows}
        return UNKNOWN if UNKNOWN in ends else SKIP if ends == {SKIP} else CLEAR

    def decides(self, cause: str) -> set[str]:
        """Facts for which two assignments differ in it alone and the finding is in one of them only."""
        found = set()
        by_values = {tuple(sorted(chosen.items())): cause in said for chosen, said, _, _ in self.rows}
        for chosen, said, _, _ in self.rows:
            for name in chosen:
                for value in self.facts[name].values:
                    other = tuple(sorted({**chosen, name: value}.items()))
                    if by_values[other] != (cause in said):
                        found.add(name)
        return found

    def holding(self, cause: str, name: str) -> set[int]:
        """Values of a fact with which the finding can hold."""
        return {chosen[name] for chosen, said, _, _ in self.rows if cause in said}

    def alone(self, cause: str, name: str) -> bool:
        """Whether the value of a fact settles the finding, and where it is not there nothing is missing either."""
        for value in self.facts[name].values:
            rows = [row for row in self.rows if row[0][name] == value]
            if len({cause in said for _, said, _, _ in rows}) != 1:
                return False
            if cause not in rows[0][1] and any(end == UNKNOWN for _, _, end, _ in rows):
                return False
        return True


def random_trial(seed: int) -> tuple[Tree, dict[str, Fact], Item]:
    rng = random.Random(seed)
    names = NAMES[: rng.randint(2, 5)]
    facts = {name: random_fact(rng) for name in names}
    tree = Tree(rng, names, 3)
    return tree, facts, cable(**{name: fact for name, fact in facts.items() if fact is not NOT_RECORDED})


def as_rule(tree: Tree) -> Callable[[Any], Iterator[Defect]]:
    def run(seen: Any) -> Iterator[Defect]:
        yield from tree.run(lambda name: getattr(seen, name), set())

    return run


TRIALS = range(1500)


def test_random_rules_agree_with_every_assignment() -> None:
    """Outcome, findings, certainty, what decides, with which values and whether alone."""
    met: dict[str, int] = {}
    for seed in TRIALS:
        tree, facts, item = random_trial(seed)
        table = Table4(tree, facts)
        results = judged(as_rule(tree), item)
        assert not results.failed, seed
        assert outcome(results) == table.outcome(), seed
        assert {f.cause: f.certainty for f in results.findings} == {c: table.certainty(c) for c in table.causes()}, seed
        met[outcome(results)] = met.get(outcome(results), 0) + 1
        for found in results.findings:
            met[found.certainty] = met.get(found.certainty, 0) + 1
            if found.certainty != "confirmed":
                assert {s.fact for s in found.settle} == table.decides(found.cause), seed
            for one in found.settle:
                met[f"alone {one.alone}"] = met.get(f"alone {one.alone}", 0) + 1
                assert set(one.defect_if) == {str(value) for value in table.holding(found.cause, one.fact)}, seed
                assert one.alone == table.alone(found.cause, one.fact), (seed, one)
    every = [DEFECT, "possible", CLEAR, SKIP, UNKNOWN, "confirmed", "likely", "alone True", "alone False"]
    assert min(met.get(name, 0) for name in every) > 20, f"the trials have to reach everything: {met}"


def test_unknown_never_becomes_clear() -> None:
    """Wherever one assignment misses a fact and nothing was found, the answer is cannot tell and names the fact."""
    met = 0
    for seed in TRIALS:
        tree, facts, item = random_trial(seed)
        table = Table4(tree, facts)
        missed = any(end == UNKNOWN for _, _, end, _ in table.rows)
        if missed:
            results = judged(as_rule(tree), item)
            assert outcome(results) not in (CLEAR, SKIP), seed
            sure = [f for f in results.findings if f.certainty != "possible"]
            assert results.cannot_tell or sure, seed
            met += 1
    assert met > 100


def test_number_of_worlds_is_the_number_of_different_ways_through() -> None:
    """Each way a rule takes through its reads is run once, and no way twice."""
    for seed in TRIALS:
        tree, facts, item = random_trial(seed)
        explored = explore(made_rule(as_rule(tree)), item, TABLES, Item("site", "site", "the site"))
        ways = set()
        for chosen, _, _, names in Table4(tree, facts).rows:
            ways.add(tuple(sorted((name, chosen[name]) for name in names if name in chosen)))
        assert len(explored.worlds) == len(ways), seed
        assert not explored.bound_met


def test_plain_and_noted_runs_agree() -> None:
    """What is settled on plain views is what all the worlds say."""
    for seed in TRIALS:
        tree, _, item = random_trial(seed)
        explored = explore(made_rule(as_rule(tree)), item, TABLES, Item("site", "site", "the site"))
        if outcome(judged(as_rule(tree), item)) in (CLEAR, SKIP):
            assert {world.outcome for world in explored.worlds} <= {CLEAR, SKIP}, seed


# -- corner cases, one by one


def fold(*facts: Fact) -> Item:
    return cable(**dict(zip(NAMES, facts, strict=False)))


def only_finding(results: Results) -> Finding:
    assert len(results.findings) == 1
    return results.findings[0]


def test_certain_items_cost_one_run() -> None:
    """Clear or not applicable: one run. A defect: one more, which notes the evidence; never a world more."""
    runs: list[str] = []

    def rule(seen: Any) -> Iterator[str]:
        runs.append(seen.tag)
        only_if(seen.length > 1)
        if seen.length > 5:
            yield "long"

    results = judged(
        rule, cable("none", length=exact(0)), cable("clear", length=exact(3)), cable("long", length=exact(9))
    )
    assert runs == ["none", "clear", "long", "long"]
    assert results.counts["tried"] == {SKIP: 1, CLEAR: 1, DEFECT: 1}
    explored = explore(made_rule(rule), cable(length=exact(9)), TABLES, Item("site", "site", "the site"))
    assert len(explored.worlds) == 1


def test_weak_fact_without_neighbours_is_likely() -> None:
    """Nothing but the stated value is possible, and it was not observed."""

    def rule(seen: Any) -> Iterator[str]:
        if seen.length > 5:
            yield "long"

    assert only_finding(judged(rule, cable(length=Fact(WEAK, (9,))))).certainty == "likely"
    assert outcome(judged(rule, cable(length=Fact(WEAK, (3,))))) == CLEAR


@pytest.mark.parametrize(
    ("fact", "expected"),
    [
        pytest.param(Fact(LISTED, (9, 8)), "confirmed", id="whichever of the listed it is"),
        pytest.param(Fact(LISTED, (9, 3)), "possible", id="the first of the listed is not preferred"),
        pytest.param(Fact(LISTED, (3, 9)), "possible", id="nor the last"),
        pytest.param(Fact(ASSUMED, (9, 8)), "likely", id="in every world of a list nobody made"),
        pytest.param(Fact(ASSUMED, (9, 3)), "possible", id="in some of a list nobody made"),
        pytest.param(Fact(WEAK, (9, 3)), "likely", id="as recorded"),
        pytest.param(Fact(WEAK, (3, 9)), "possible", id="only other than recorded"),
        pytest.param(exact(9), "confirmed", id="seen"),
    ],
)
def test_certainty_of_one_fact(fact: Fact, expected: str) -> None:
    """The table of outcomes, one fact at a time."""

    def rule(seen: Any) -> Iterator[str]:
        if seen.length > 5:
            yield "long"

    assert only_finding(judged(rule, cable(length=fact))).certainty == expected


def test_a_defect_does_not_answer_for_what_was_missing_beside_it() -> None:
    """A rule that finds something and then misses a fact: the finding stands, and the fact is listed as open."""

    def rule(seen: Any) -> Iterator[str]:
        yield "found before"
        if seen.plate:
            yield Defect("never", cause="plate")  # type: ignore[misc]

    results = judged(rule, cable(plate=unseen("behind the board")))
    assert (outcome(results), only_finding(results).certainty) == (DEFECT, "confirmed")
    assert [(c.missing, c.reason) for c in results.cannot_tell] == [("plate", "behind the board")]


def test_a_possible_defect_does_not_hide_what_is_missing_as_recorded() -> None:
    """As recorded the rule misses a fact; in another world it finds something: a question and an open fact."""

    def rule(seen: Any) -> Iterator[str]:
        if seen.length > 5 or seen.plate:
            yield "found"

    results = judged(rule, cable(length=Fact(WEAK, (3, 9)), plate=unseen("behind the board")))
    assert (outcome(results), only_finding(results).certainty) == ("possible", "possible")
    assert [c.missing for c in results.cannot_tell] == ["plate"]


def test_condition_after_a_finding_ends_the_run_and_keeps_the_finding() -> None:
    """`only_if` after a yield: what was found stays found."""

    def rule(seen: Any) -> Iterator[str]:
        yield "found"
        only_if(seen.length > 5)

    assert outcome(judged(rule, cable(length=exact(3)))) == DEFECT


def test_condition_that_misses_is_cannot_tell() -> None:
    """Whether the rule applies at all is not known: never does not apply."""

    def rule(seen: Any) -> Iterator[str]:
        only_if(seen.length > 5)
        yield "found"

    assert outcome(judged(rule, cable(length=unseen("not measured")))) == UNKNOWN
    assert outcome(judged(rule, cable())) == UNKNOWN


def test_shared_fact_varies_together() -> None:
    """The gauge of a cable is one fact for all its conductors: no world has two of it."""
    gauge = Fact(WEAK, ("14", "12"))
    item = cable()
    conductors = [Item("conductor", f"W1 {c}", f"W1 {c}") for c in ("black", "white")]
    for conductor in conductors:
        conductor.data["gauge"] = gauge
    item.data["conductors"] = tuple(conductors)

    def rule(seen: Any) -> Iterator[str]:
        one, two = seen.conductors
        if one.gauge != two.gauge:
            yield "different"

    explored = explore(made_rule(rule), item, TABLES, Item("site", "site", "the site"))
    assert [world.outcome for world in explored.worlds] == [CLEAR, CLEAR]
    conductors[1].data["gauge"] = Fact(WEAK, ("14", "12"))
    explored = explore(made_rule(rule), item, TABLES, Item("site", "site", "the site"))
    assert len(explored.worlds) == 4, "two facts that are alike are still two"


def test_facts_whose_values_only_matter_together_both_decide() -> None:
    """Found when exactly one of two facts is over: neither decides alone, and neither is left out."""

    def rule(seen: Any) -> Iterator[str]:
        if (seen.length > 5) != (seen.bundled > 5):
            yield "one of two"

    found = only_finding(judged(rule, cable(length=Fact(WEAK, (9, 3)), bundled=Fact(WEAK, (3, 9)))))
    assert [(s.fact, s.alone) for s in found.settle] == [("length", False), ("bundled", False)]


# -- the bound


def many(count: int) -> Item:
    return fold(*(Fact(WEAK, (0, 1)) for _ in range(count)))


def all_of(*names: str) -> Callable[[Any], Iterator[str]]:
    def rule(seen: Any) -> Iterator[str]:
        if sum(getattr(seen, name) for name in names) > len(names):
            yield "never"

    return rule


@pytest.mark.parametrize(
    ("bound", "worlds", "met"),
    [
        pytest.param(64, 64, False, id="exactly as many as there are"),
        pytest.param(65, 64, False, id="one more than there are"),
        pytest.param(63, 63, True, id="one less"),
        pytest.param(1, 1, True, id="as recorded only"),
    ],
)
def test_bound_is_exact(bound: int, worlds: int, met: bool) -> None:
    """Six facts of two values are 64 worlds."""
    explored = explore(made_rule(all_of(*NAMES)), many(6), TABLES, Item("site", "site", "the site"), bound)
    assert (len(explored.worlds), explored.bound_met) == (worlds, met)


def test_fewest_departures_come_first() -> None:
    """Of the worlds within the bound the nearest to the record are run."""
    explored = explore(made_rule(all_of(*NAMES)), many(6), TABLES, Item("site", "site", "the site"), 30)
    departures = [sum(world.choices.values()) for world in explored.worlds]
    assert departures == sorted(departures)


def nine_facts() -> Item:
    names = [*NAMES, "installed", "insulated_over", "exposed"]
    return cable(**{name: Fact(WEAK, (0, 1)) for name in names})


def test_bound_without_a_finding_is_cannot_tell_and_says_so() -> None:
    """Nine facts of two values are 512 worlds: more than are run, so nothing found is no answer."""
    names = [*NAMES, "installed", "insulated_over", "exposed"]
    results = judged(all_of(*names), nine_facts())
    assert outcome(results) == UNKNOWN
    assert f"more than {MAX_WORLDS} combinations" in results.cannot_tell[0].reason


def test_finding_met_within_the_bound_stands_and_says_that_the_bound_was_met() -> None:
    """And no fact is said to settle it alone, because not every world was run."""
    names = [*NAMES, "installed", "insulated_over", "exposed"]

    def rule(seen: Any) -> Iterator[str]:
        if sum(getattr(seen, name) for name in names) == 1 and seen.jacket:
            yield "one over"

    found = only_finding(judged(rule, nine_facts()))
    assert (found.certainty, found.bound_met) == ("possible", True)
    assert not any(one.alone for one in found.settle)


# -- rules that do what they may not


def bad(body: Callable[[Any], Any]) -> Callable[[Any], Iterator[Any]]:
    def rule(seen: Any) -> Iterator[Any]:
        if seen.tag == "bad":
            yield body(seen)

    return rule


def _write(seen: Any) -> str:
    seen.length = 1
    return "written"


def _delete(seen: Any) -> str:
    del seen.length
    return "deleted"


def _leave(seen: Any) -> str:
    raise SystemExit(0)


def _loop(seen: Any) -> str:
    return str(list(seen))


@pytest.mark.parametrize(
    ("body", "words"),
    [
        pytest.param(lambda seen: 1 / 0, "ZeroDivisionError", id="raises"),
        pytest.param(_write, "may not write to the record (length of cable bad)", id="writes"),
        pytest.param(_delete, "may not write to the record (length of cable bad)", id="deletes"),
        pytest.param(lambda seen: 5, "not int", id="yields a number"),
        pytest.param(lambda seen: None, "not NoneType", id="yields nothing"),
        pytest.param(lambda seen: seen.lenght, "did you mean 'length'", id="misspelt fact"),
        pytest.param(lambda seen: seen.sides, "no fact named 'sides'", id="what no catalogue names"),
        pytest.param(_leave, "SystemExit", id="tries to end the program"),
        pytest.param(_loop, "is one item, not a list", id="takes an item for a list"),
        pytest.param(lambda seen: TABLES_SEEN[0].value("limit", 1), "no table named 'limit'", id="misspelt table"),
    ],
)
def test_rule_that_fails_is_a_result_and_stops_nothing_else(body: Callable[[Any], Any], words: str) -> None:
    """Failed on the one item, with the words; the items before and after it are judged."""

    def rule(seen: Any, tables: Any) -> Iterator[Any]:
        TABLES_SEEN[:] = [tables]
        yield from bad(body)(seen)
        if seen.tag != "bad" and seen.length > 5:
            yield "long"

    item = cable("bad", length=exact(1))
    item.data["sides"] = {"from": None}
    results = judged(rule, cable("first", length=exact(9)), item, cable("last", length=exact(9)), wants=("tables",))
    assert results.counts["tried"] == {DEFECT: 2, FAILED: 1}
    assert [(one.at, words in one.error) for one in results.failed] == [("cable bad", True)], results.failed
    assert [found.at for found in results.findings] == ["cable first", "cable last"]
    assert item.data["length"].value == 1


TABLES_SEEN: list[Any] = []


def test_two_findings_with_one_cause_are_refused() -> None:
    """Without a cause of its own the second could not be told from the first in the next report."""

    def rule(seen: Any) -> Iterator[str]:
        yield "one"
        yield "two"

    results = judged(rule, cable())
    assert outcome(results) == FAILED
    assert "same cause" in results.failed[0].error
    assert not results.findings


def test_a_rule_cannot_swallow_what_is_missing() -> None:
    """A rule that catches everything still cannot tell, on plain facts and on noted ones."""

    def rule(seen: Any) -> Iterator[str]:
        try:
            long = seen.length > 5
        except Exception:
            long = False
        if long or seen.bundled > 5:
            yield "long"

    for bundled in (exact(1), Fact(WEAK, (1, 2))):
        assert outcome(judged(rule, cable(length=unseen("not measured"), bundled=bundled))) == UNKNOWN


def test_table_without_the_row_is_cannot_tell() -> None:
    """A limit that is not in the table is looked up by a person, not guessed."""

    def rule(seen: Any, tables: Any) -> Iterator[str]:
        if seen.length > tables.value("limits", seen.bundled):
            yield "over"

    assert outcome(judged(rule, cable(length=exact(9), bundled=exact(2)), wants=("tables",))) == UNKNOWN
    assert outcome(judged(rule, cable(length=exact(9), bundled=exact(1)), wants=("tables",))) == DEFECT
    assert outcome(judged(rule, cable(length=exact(1), bundled=exact(1)), wants=("tables",))) == CLEAR


# -- the words a rule is written with


@pytest.mark.parametrize(
    ("facts", "expected"),
    [
        pytest.param({}, CLEAR, id="not recorded is taken as said"),
        pytest.param({"bundled": NOT_RECORDED}, CLEAR, id="recorded as not recorded"),
        pytest.param({"bundled": unseen("in the wall")}, UNKNOWN, id="somebody could not see it"),
        pytest.param({"bundled": exact(9)}, DEFECT, id="recorded"),
        pytest.param({"bundled": Fact(WEAK, (1, 9))}, "possible", id="recorded weakly"),
    ],
)
@pytest.mark.parametrize(
    "doubt", [pytest.param({}, id="certain"), pytest.param({"length": Fact(WEAK, (1, 2))}, id="in doubt")]
)
def test_given(facts: dict[str, Fact], expected: str, doubt: dict[str, Fact]) -> None:
    """A plain absence has the meaning the rule gives it; what could not be seen has none."""

    def rule(seen: Any) -> Iterator[str]:
        if given(seen, "length", 0) + given(seen, "bundled", 1) > 5:
            yield "over"

    assert outcome(judged(rule, cable(**facts, **doubt))) == expected


@pytest.mark.parametrize(
    ("fact", "expected"),
    [
        pytest.param({"length": exact(9)}, "9", id="certain"),
        pytest.param({"length": Fact(WEAK, (9,))}, "None", id="weak"),
        pytest.param({"length": Fact(ASSUMED, (9,))}, "None", id="the only one left"),
        pytest.param({"length": unseen("painted")}, "None", id="not seen"),
        pytest.param({}, "None", id="not recorded"),
    ],
)
def test_for_words(fact: dict[str, Fact], expected: str) -> None:
    """Only what is certain goes into a sentence without a doubt, and reading it for that changes no certainty."""

    def rule(seen: Any) -> Iterator[str]:
        yield f"length {for_words(seen, 'length')}"

    found = only_finding(judged(rule, cable(**fact)))
    assert (found.statement, found.certainty) == (f"length {expected}", "confirmed")


KLEENE = {
    # Strong three-valued logic (Kleene): what is known decides where it can; None is what cannot be told.
    some: lambda held: True if True in held else None if None in held else False,
    every: lambda held: False if False in held else None if None in held else True,
}


@pytest.mark.parametrize("word", [pytest.param(some, id="some"), pytest.param(every, id="every")])
@pytest.mark.parametrize("held", list(itertools.product([True, False, None], repeat=3)), ids=str)
@pytest.mark.parametrize(
    "doubt", [pytest.param({}, id="plain"), pytest.param({"bundled": Fact(WEAK, (1, 2))}, id="noted")]
)
def test_some_and_every_decide_by_what_is_known(
    word: Any, held: tuple[bool | None, ...], doubt: dict[str, Fact]
) -> None:
    """What one of them decides, no other that could not be seen takes back, in whatever order they stand."""
    boxes = tuple(Item("box", f"B{n}", f"B{n}") for n in range(3))
    for box, value in zip(boxes, held, strict=True):
        box.data["metal"] = unseen("buried") if value is None else exact(value)

    def rule(seen: Any) -> Iterator[str]:
        given(seen, "bundled", 1)
        if word(seen.boxes, lambda box: box.metal):
            yield "so it is"

    expected = {True: DEFECT, False: CLEAR, None: UNKNOWN}[KLEENE[word](held)]
    found = outcome(judged(rule, cable(boxes=boxes, **doubt)))
    assert found == expected


def test_views_of_one_item_are_equal_and_of_two_are_not() -> None:
    """In, sets and comparison of items work on plain and on noted views."""
    one, two = Item("box", "B1", "B1"), Item("box", "B2", "B2")

    def rule(seen: Any) -> Iterator[str]:
        first, second = seen.boxes
        again = seen.boxes[0]
        if not (first == again and first in seen.boxes and first != second and len({first, again, second}) == 2):
            yield "wrong"
        if seen.length > 99:
            yield Defect("never", cause="length")  # type: ignore[misc]

    for length in (exact(1), Fact(WEAK, (1, 2))):
        assert outcome(judged(rule, cable(boxes=(one, two), length=length))) == CLEAR


def test_certainty_and_decisive_of_nothing() -> None:
    """A finding in no world has no certainty; a finding in all has nothing that decides."""

    def rule(seen: Any) -> Iterator[str]:
        if seen.length:
            yield "always"

    explored = explore(made_rule(rule), cable(length=Fact(LISTED, (8, 9))), TABLES, Item("site", "site", "the site"))
    assert certainty(explored.worlds, lambda world: False, False) is None
    assert decisive(explored.worlds, lambda world: True) == []
