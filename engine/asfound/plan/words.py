"""A step of a plan in words: where, what, before, with what, by whom, what each outcome would mean, and why here."""

from __future__ import annotations

from collections.abc import Hashable, Iterable, Iterator, Mapping
from dataclasses import dataclass

from asfound.data import data
from asfound.diagnose import Diagnosis, said
from asfound.diagnose.following import OPENED
from asfound.judge.results import word_of
from asfound.judge.views import facts_of, observation
from asfound.judge.worlds import DEFECT
from asfound.plan import Plan
from asfound.plan.doubt import Key
from asfound.plan.look import Observation
from asfound.plan.questions import CANNOT_TELL, CONTRADICTION, DIAGNOSIS, FEED, FINDING, UNSEEN_PLACE, Known, Question
from asfound.plan.rank import Gain, Step
from asfound.plan.standing import Standing, tags_of
from asfound.record.facts import EXACT, Fact, Item
from asfound.trace.left import left_off
from asfound.wording import joined, plural, quoted_list

MOST_VALUES = 4
"""Outcomes spelt out for one step."""
_MOST_NOTES = 4
_MOST_NAMES = 4
_ALIKE = 1e-9


@dataclass(frozen=True, slots=True)
class StepWords:
    """One step, ready to print. `before` is what has to be done first, `looks` what to note, `means` what follows."""

    rank: int
    place: str
    end: str
    do: str
    before: tuple[str, ...]
    looks: tuple[str, ...]
    tool: str
    who: str
    means: tuple[str, ...]
    why: str
    recorded: tuple[str, ...]
    points: float
    open_before: float


def in_words(plan: Plan) -> list[StepWords]:
    """Every step of a plan in words."""
    standing = Standing(plan.survey, plan.looker.left)
    return [_Words(plan, step, standing).made() for step in plan.steps]


class _Words:
    def __init__(self, plan: Plan, step: Step, standing: Standing) -> None:
        self.plan = plan
        self.step = step
        self.one: Observation = step.observation
        self.texts = data("observations")
        self.facts = plan.asked.facts
        self.standing = standing

    def made(self) -> StepWords:
        one = self.one
        return StepWords(
            rank=self.step.rank,
            place=place_words(one.place) if one.place is not None else self._nowhere(),
            end=self._end(),
            do=self._do(),
            before=tuple(self._before()),
            looks=tuple(self._looks()),
            tool=one.act.tool,
            who=str(self.texts["who"][one.act.who]),
            means=tuple(self._means()),
            why=self._why(),
            recorded=tuple(self._recorded()),
            points=round(self.step.points, 1),
            open_before=round(self.step.before, 1),
        )

    # -- where and what

    def _nowhere(self) -> str:
        if self.one.act.one_for == "site":
            return "the site"
        return "the papers" if self.one.act.name == "papers" else self.one.of.words

    def _end(self) -> str:
        """Which end, or which thing, where it is not the place itself."""
        one = self.one
        if one.side:
            return f"{one.of.words}: the end that is not traced ({one.side})"
        if one.of is one.place or one.of.kind == "site":
            return ""
        if one.act.name == "gauge" and one.place is not None:
            return f"cable {one.of.tag}, its end at {one.place.words}"
        return str(one.of.words)

    def _do(self) -> str:
        one = self.one
        if one.of.kind == "probe":
            diagnosis = self._diagnosis()
            if diagnosis is not None and diagnosis.next_reading is not None:
                return diagnosis.next_reading.words
        if one.act.name != "switch":
            return one.act.do
        return "; ".join(self._tests()) or one.act.do

    def _tests(self) -> Iterator[str]:
        """What to switch and test; nets that are only tested as they are together."""
        tests = self.plan.looker.tests.get(self.one, ())
        as_it_is: dict[tuple[Item, ...], list[str]] = {}
        for test in tests:
            if not test.breakers:
                as_it_is.setdefault(test.stay, []).append(test.at.tag)
        for stay, at in as_it_is.items():
            they = "it is" if len(at) == 1 else "they are"
            yield f"leave {self._left(stay)}, and test {joined(at)} on every pair as {they}"
        for test in tests:
            if test.breakers:
                leave = f"leave {self._left(test.stay)}; " if test.stay else ""
                tags = joined(breaker.tag for breaker in test.breakers)
                yield f"{leave}with {test.at.tag} shown live first, switch off {tags} and test {test.at.tag} again"

    def _left(self, breakers: Iterable[Item]) -> str:
        """`A 9 as it is (left off and locked on 2026-05-04 (log entries 9 and 10))`, alike ones together."""
        said = []
        for items, held in self.standing.recorded(breakers):
            if held.stays:
                they = "it is" if len(items) == 1 else "they are"
                said.append(f"{tags_of(items)} as {they}, {held.words}")
        return joined(said)

    def _diagnosis(self) -> Diagnosis | None:
        return next((one for one in self.plan.survey.diagnoses if one.tag == self.one.of.tag), None)

    # -- what comes first

    def _before(self) -> Iterator[str]:
        one, dead = self.one, self.texts["dead"]
        place = one.place
        if one.act.live and place is not None:
            if place.kind == "panel":
                feeders = list(place.data["feeder"])
                yield dead["panel"].format(breakers=joined(one.tag for one in feeders) or "the main")
                yield from self._left_off(feeders)
            else:
                yield from self._off(*self._feeders(place))
            yield dead["prove"]
        reachable = place.data.get("reachable") if place is not None else None
        if one.act.live and isinstance(reachable, Fact) and reachable.values == (False,):
            yield "It is recorded as out of reach: building parts come off first, and what they hide is not known."
        yield from self._switched()
        diagnosis = self._diagnosis() if one.of.kind == "probe" else None
        if diagnosis is not None and diagnosis.next_reading is not None:
            yield diagnosis.next_reading.caution

    def _off(self, known: list[Item], whole: bool) -> Iterator[str]:
        """How what is known to reach a place is made dead: what was left off is looked at, the rest switched off."""
        dead, left = self.texts["dead"], self.plan.looker.left
        if not known:
            yield dead["unknown"]
        rest = [one for one in known if one not in left or not left[one].stays]
        if rest:
            yield dead["known" if whole else "part"].format(breakers=joined(one.tag for one in rest))
        elif known and not whole:
            yield dead["part left off"]
        yield from self._left_off(known)

    def _left_off(self, breakers: list[Item]) -> Iterator[str]:
        """How these were left; of those left off, what to do with what is found there."""
        yield from self.standing.sentences(breakers)
        left = self.plan.looker.left
        off = list(dict.fromkeys(one for breaker in breakers for one in left_off(left, breaker)))
        if off:
            texts = self.texts["left off"]
            yield f"{texts['moved']} {texts['own lock'].format(breakers=tags_of(off))}"

    def _switched(self) -> Iterator[str]:
        """The precaution of the act, and what is known of the breakers that it is about."""
        one, texts, looker = self.one, self.texts["left off"], self.plan.looker
        tests = looker.tests.get(one, ()) if one.act.name == "switch" else ()
        stay = list(dict.fromkeys(breaker for test in tests for breaker in test.stay))
        switched = list(dict.fromkeys(breaker for test in tests for breaker in test.breakers))
        if one.act.name == "test again":
            fed = one.of.data["fed_by"]
            named = list(dict.fromkeys(breaker for breakers in fed.values for breaker in breakers))
            stay = [breaker for breaker in named if left_off(looker.left, breaker)]
            switched = [breaker for breaker in named if breaker not in stay]
        waits = looker.waits(one.of) if self._of_what_is_live() else []
        their = {"stay": "stays" if len(stay) == 1 else "stay", "breakers": tags_of(stay)}
        if stay and not switched:
            yield texts["as it is"].format(**their)
        else:
            yield from filter(None, [one.act.before])
            yield from [texts["as it was"].format(**their)] if stay else []
        yield from self.standing.sentences([*stay, *switched, *(item for item in waits if item.kind == "breaker")])
        yield from [texts["moved"]] if stay or waits else []
        if waits:
            yield texts["waits"].format(breakers=tags_of(waits), are="is" if len(waits) == 1 else "are")
        for breakers, name in ((stay or waits, "danger"), (switched, "danger after")):
            dangers = self.standing.dangers(breakers)
            if dangers:
                they = "stays" if len(breakers) == 1 else "stay"
                yield texts[name].format(breakers=tags_of(breakers), dangers="; ".join(dangers), stay=they)

    def _of_what_is_live(self) -> bool:
        """Whether the act tells nothing of what is off."""
        if self.one.of.kind == "probe":
            diagnosis = self._diagnosis()
            asked = diagnosis.next_reading if diagnosis is not None else None
            return asked is None or asked.caution != OPENED
        return self.one.act.needs_live

    def _feeders(self, place: Item) -> tuple[list[Item], bool]:
        """The breakers known to reach a place, and whether all of what is in it is traced to them."""
        layout = self.plan.looker.layout
        known: dict[Item, None] = {}
        whole = layout.looked_into(place)
        for end in layout.ends[place]:
            fed = end.data["conductor"].data["breakers"]
            if fed.kind == EXACT:
                known.update(dict.fromkeys(fed.value))
            whole = whole and fed.kind == EXACT and bool(end.data["state"].values)
        return list(known), whole and not layout.bare[place]

    # -- what to note

    def _looks(self) -> Iterator[str]:
        """What to note: facts by name, those that settle most first."""
        groups: dict[tuple[str, str], dict[str, None]] = {}
        for key in self._keys():
            known = self.facts[key]
            if known.item.kind in data("facts") and known.name in facts_of(known.item.kind):
                groups.setdefault((known.item.kind, known.name), {})[known.item.tag] = None
        shown = [(pair, tags) for pair, tags in groups.items() if self._shown(*pair)]
        for (kind, name), tags in shown[:_MOST_NOTES]:
            told = observation(kind, name)
            yield f"{say(kind, name)} of {quoted_list(tags, _MOST_NAMES)}{f' ({told})' if told else ''}"
        if len(shown) > _MOST_NOTES:
            yield f"and {plural(len(shown) - _MOST_NOTES, 'more sort')} of facts"

    def _shown(self, kind: str, name: str) -> bool:
        """Whether an act shows a fact itself, not by way of the trace."""
        return bool(data("observations")["follows"].get(kind, {}).get(name) is None)

    def _keys(self) -> list[Key]:
        """The facts of the step in the order of what they settle."""
        points: dict[Key, float] = {}
        for gain in self.step.gains:
            for key in gain.question.doubt.chances:
                if key in self.step.shows:
                    points[key] = points.get(key, 0.0) + gain.points
        return sorted(points, key=lambda key: (-round(points[key], 6), _order(self.facts[key])))

    # -- what follows

    def _means(self) -> Iterator[str]:
        one = self.one
        if one.act.name == "switch":
            yield from self._switching()
        diagnosis = self._diagnosis() if one.of.kind == "probe" else None
        if diagnosis is not None and diagnosis.next_reading is not None:
            for outcome in diagnosis.next_reading.outcomes[:MOST_VALUES]:
                are = "is" if len(outcome.names) == 1 else "are"
                left = joined(said(name, diagnosis.place) for name in outcome.names)
                yield f"If it shows {outcome.shows}: left {are} {left}."
        yield from self._by_value()
        yield from self._unknown_value()
        yield from self._nobody_looked()
        for gain in self.step.gains:
            if gain.question.sort == CONTRADICTION:
                yield f"Of these, one is not true: {gain.question.says}."
        fed = [gain.question for gain in self.step.gains if gain.question.sort == FEED]
        if fed and one.act.name != "switch":
            tags = quoted_list((question.at.tag for question in fed), _MOST_NAMES)
            yield f"It brings the trace of {tags} nearer to a breaker; until it is there, any breaker left can feed it."

    def _switching(self) -> Iterator[str]:
        for test in self.plan.looker.tests.get(self.one, ()):
            dead, live = _feeds(test.if_dead), _feeds(test.if_live)
            if test.breakers:
                yield f"If {test.at.tag} is dead then: fed by {dead}. If it is live still: by {live}."
            else:
                yield f"If {test.at.tag} is live: not by {tags_of(test.stay)} as left, but by {live}."
        yield "If it is not live to begin with, this tells nothing, and it is treated as live as before."
        stay = list(dict.fromkeys(one for test in self.plan.looker.tests.get(self.one, ()) for one in test.stay))
        if stay:
            dealt = "what is hands off there is dealt with" if self.standing.dangers(stay) else "they are in use again"
            yield f"Whether it hangs on {tags_of(stay)} waits until {dealt}, or is settled by following the cable."

    def _by_value(self) -> Iterator[str]:
        """For the facts with listed values: which findings each value would confirm, clear or leave open.

        What the same step shows besides is taken to be as stated.
        """
        listed = [key for key in self._keys() if self.facts[key].values != (None,)]
        stated = dict.fromkeys(listed, 0)
        told = 0
        for key in listed:
            known = self.facts[key]
            asked = [
                g.question for g in self.step.gains if g.question.sort == FINDING and key in g.question.doubt.chances
            ]
            groups: dict[tuple[str, ...], list[str]] = {}
            for number in range(len(known.chances)):
                if number < len(known.values):
                    effect = tuple(_effects(asked, {**stated, key: number}))
                    groups.setdefault(effect, []).append(word_of(known.values[number]))
                else:
                    groups[("what hangs on it has to be judged again",)] = ["another"]
            for effect, values in list(groups.items())[: MOST_VALUES - told] if len(groups) > 1 else ():
                named = f"{say(known.item.kind, known.name)} of {known.item.tag}"
                yield f"If {named} is {quoted_list(values, 6).replace(', ', ' or ')}: {'; '.join(effect)}."
                told += 1

    def _unknown_value(self) -> Iterator[str]:
        """For checks that cannot tell: what is found if the fact is as the rule fears."""
        rules: dict[tuple[str, str, str], list[Gain]] = {}
        for gain in self.step.gains:
            if gain.question.sort == CANNOT_TELL and gain.question.rule is not None:
                rule = gain.question.rule
                rules.setdefault((rule.name, gain.question.grade, rule.title), []).append(gain)
        shown = list(rules.items())
        for (name, grade, title), gains in shown[:MOST_VALUES]:
            at = quoted_list((gain.question.at.tag for gain in gains), _MOST_NAMES)
            part = "" if any(gain.wholly for gain in gains) else ", in part"
            yield f"Answers{part}: {title.rstrip('.')} ({name}), at {at}; {grade} if so."
        if len(shown) > MOST_VALUES:
            yield f"And {plural(len(shown) - MOST_VALUES, 'check')} of other rules that cannot tell now."

    def _nobody_looked(self) -> Iterator[str]:
        unseen = [gain.question for gain in self.step.gains if gain.question.sort == UNSEEN_PLACE]
        if not unseen:
            return
        ends = sum(question.says.startswith("end of a conductor") for question in unseen)
        devices = sum(question.says == "wiring of a device" for question in unseen)
        ratings = sum(question.says == "rating of a breaker" for question in unseen)
        counted = (("conductor end", ends), ("device", devices), ("breaker rating", ratings))
        seen = [plural(count, what) for what, count in counted if count]
        what = f"at {joined(seen)} here" if seen else "in here"
        yield f"Nobody has looked {what}: what is found can settle checks and raise new ones."

    # -- why here

    def _why(self) -> str:
        """One sentence with the figures of the rank."""
        step, opened = self.step, self.plan.ranking.open
        parts = []
        for grade in data("grades")["grades"]:
            gains = [gain for gain in step.gains if gain.question.grade == grade]
            if gains:
                points = sum(gain.points for gain in gains)
                parts.append(f"{plural(len(gains), 'question')} of grade {grade} ({points:.1f})")
        wholly = sum(gain.wholly for gain in step.gains)
        return (
            f"Why here: it is expected to settle {step.points:.1f} of {step.before:.1f} open points "
            f"({100 * step.points / opened:.0f} % of all at the start), from {joined(parts)}; "
            f"wholly {wholly} of {len(step.gains)}."
        )

    def _recorded(self) -> Iterator[str]:
        """Why the record says that it was not seen so far."""
        reasons: dict[str, dict[str, None]] = {}
        for key in self._keys():
            known = self.facts[key]
            if known.values == (None,) and known.reason not in ("", "not recorded", "not traced"):
                named = f"{say(known.item.kind, known.name)} of {known.item.tag}"
                reasons.setdefault(known.reason, {})[named] = None
        for reason, names in list(reasons.items())[:2]:
            yield f"{quoted_list(names, _MOST_NAMES)}: {reason}"


def _effects(asked: Iterable[Question], values: Mapping[Key, int]) -> Iterator[str]:
    """What values of facts do to findings: `confirms cover-missing at hall (first)`."""
    done: dict[tuple[str, str, str], list[str]] = {}
    for question in asked:
        given: dict[Hashable, float] = question.doubt.given(values)
        odds = given.get(DEFECT, 0.0)
        verb = "confirms" if odds > 1 - _ALIKE else "clears" if odds < _ALIKE else "leaves open"
        name = question.rule.name if question.rule is not None else question.says
        done.setdefault((verb, name, question.grade), []).append(question.at.tag)
    for (verb, name, grade), tags in sorted(done.items())[:_MOST_NAMES]:
        yield f"{verb} {name} at {quoted_list(tags, _MOST_NAMES)} ({grade})"


def _feeds(feeds: Iterable[Item | None]) -> str:
    named = ["something that is not recorded" if feed is None else feed.tag for feed in feeds]
    return quoted_list(named, 8).replace(", ", " or ") or "nothing that is known"


def say(kind: str, name: str) -> str:
    """A fact in words, by the catalogue where it is in it."""
    held = facts_of(kind).get(name, {}) if kind in data("facts") else {}
    return str(held.get("say", name.replace("_", " ")))


def _order(known: Known) -> tuple[str, str]:
    return known.item.identity, known.name


def place_words(place: Item) -> str:
    """A place for somebody who has to find it: its words, with the room where that is known."""
    where = place.data.get("where", "") if place.kind == "panel" else ""
    room = place.data.get("room")
    known = [where] if isinstance(where, str) and where else []
    if (
        not known
        and isinstance(room, Fact)
        and room.kind == EXACT
        and room.value not in ("other", *place.words.split())
    ):
        known = [str(room.value)]
    return f"{place.words}{f', {joined(known)}' if known else ''}"


__all__ = ["DIAGNOSIS", "MOST_VALUES", "StepWords", "in_words", "place_words"]
