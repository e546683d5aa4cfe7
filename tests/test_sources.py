"""Which breaker feeds it: what switching tests leave possible, held against counting out every case.

Check values k-13 to k-15 are truth tables of breaker states against a contact
reading (common practice, no source).
"""

from __future__ import annotations

import itertools
import json
import random
from typing import Any

import pytest

from asfound.load import load_bytes
from asfound.survey import read_record
from asfound.trace import Installation, trace
from asfound.trace.sources import Source
from examples import seeds
from records import record_text

LIVE, DEAD = "121 V", "0 V"
Event = tuple[str, Any]


def traced(**sections: Any) -> Installation:
    """A record of these sections traced, without rules."""
    return trace(read_record(load_bytes(record_text(**sections).encode(), "record.yaml")))


def untraced(events: list[Event], breakers: list[int], **more: Any) -> Installation:
    """A cable that nobody traced and these breakers without a recorded wire; events are ("off", 3) or ("read", True)."""
    log: list[dict[str, Any]] = []
    readings: list[dict[str, Any]] = []
    for did, what in events:
        if did == "read":
            tag = f"M{len(readings) + 1}"
            readings.append({"tag": tag, "kind": "voltage", "between": ["W1 black", "A ground bar"],
                             "value": LIVE if what else DEAD, "instrument": "t"})  # fmt: skip
            log.append({"did": "tested", "what": "W1 black", "readings": [tag]})
        else:
            log.append({"did": "switched", "what": f"A {what}", "to": did})
    panel: dict[str, Any] = {"breakers": {str(space): {"amps": 15, **more.get("breaker", {})} for space in breakers}}
    record = {
        "instruments": {"t": {"type": "two-pole tester"}},
        "panels": {"A": panel},
        "cables": {"W1": {"type": "14/2 with ground", "from": "not traced", "to": "hall"}},
        "boxes": {"hall": "nonmetallic"},
        "readings": readings,
        "log": log,
    }
    record.update({key: value for key, value in more.items() if key != "breaker"})
    return traced(**{key: value for key, value in record.items() if value})


def source(done: Installation, conductor: str = "W1 black") -> Source:
    return done.sources[done.item("conductor", conductor).data["net"]]


def tags(items: Any) -> list[str]:
    return [item.tag if item is not None else "elsewhere" for item in items]


# -- truth tables


def test_k_13_on_off_on_shows_the_breaker() -> None:
    """On, off and on again: breaker 3 alone, with the other known to be on (k-13)."""
    events = [("read", True), ("off", 3), ("read", False), ("on", 3), ("read", True)]
    found = source(untraced(events, [3, 5], breaker={"state": "on"}))
    assert tags(found.certain) == ["A 3"]
    assert found.decided
    fed_by = found.net.data["fed_by"]
    assert (fed_by.kind, tags(fed_by.value)) == ("exact", ["A 3"])


def test_k_14_either_keeps_it_live() -> None:
    """Live with either on, dead with both off: both feed it (k-14)."""
    events = [
        ("read", True),
        ("off", 3),
        ("read", True),
        ("on", 3),
        ("off", 5),
        ("read", True),
        ("off", 3),
        ("read", False),
    ]
    found = source(untraced(events, [3, 5], breaker={"state": "on"}))
    assert tags(found.certain) == ["A 3", "A 5"]
    assert found.decided


def test_k_15_live_with_one_off_claims_nothing() -> None:
    """Still live with 3 off: not 3 alone, and no claim that it is 5 (k-15)."""
    found = source(untraced([("read", True), ("off", 3), ("read", True)], [3, 5], breaker={"state": "on"}))
    assert found.certain == ()
    assert tags(found.singles) == ["A 5"]
    assert tags(found.possible) == ["A 3", "A 5"]
    assert found.elsewhere


def test_a_breaker_nobody_saw_on_stays_possible() -> None:
    """Where the position as found is not recorded, one that was off as found can feed it too."""
    events = [("read", True), ("off", 3), ("read", False), ("on", 3), ("read", True)]
    found = source(untraced(events, [3, 5]))
    assert (tags(found.certain), tags(found.possible), found.elsewhere) == (["A 3"], ["A 5"], False)
    assert found.net.data["fed_by"].kind == "assumed"
    assert tags(found.net.data["fed_by"].value) == ["A 3"]


@pytest.mark.parametrize(
    ("events", "why"),
    [
        pytest.param([("off", 3), ("read", False)], "never seen live on the visit", id="dead and never seen live"),
        pytest.param([("off", 3)], "no test", id="a breaker position is no test"),
        pytest.param([], "nothing", id="nothing at all"),
    ],
)
def test_what_narrows_nothing(events: list[Event], why: str) -> None:
    found = source(untraced(events, [3, 5], breaker={"state": "on"}))
    assert (tags(found.possible), found.elsewhere, found.ruled_out) == (["A 3", "A 5"], True, ()), why


@pytest.mark.parametrize(
    "reading",
    [
        pytest.param({"kind": "non-contact", "value": "silent"}, id="silent non-contact tester"),
        pytest.param({"instrument": "m", "value": "60 V"}, id="coupled voltage on a high-impedance meter"),
        pytest.param({"between": ["W1 black", "W1 white"]}, id="to a white that leads to no bar"),
        pytest.param({"value": "20 V"}, id="neither live nor dead"),
    ],
)
def test_readings_that_do_not_count(reading: dict[str, Any]) -> None:
    """Neither live nor dead follows from these; unknown stays unknown."""
    held = {
        "tag": "M1",
        "kind": "voltage",
        "between": ["W1 black", "earth"],
        "value": LIVE,
        "instrument": "t",
        **reading,
    }
    if held["kind"] == "non-contact":
        del held["instrument"]
    done = untraced(
        [("off", 3)], [3, 5], readings=[held], breaker={"state": "on"},
        instruments={"t": {"type": "two-pole tester"}, "m": {"type": "multimeter"}},
        log=[{"did": "tested", "what": "W1 black", "readings": ["M1"]}],
    )  # fmt: skip
    assert not source(done).tested


def test_a_switch_turned_in_between_takes_the_meaning() -> None:
    """Dead after a wall switch was turned says nothing of the breakers."""
    done = untraced(
        [], [3, 5], breaker={"state": "on"},
        devices={"S1": {"kind": "switch", "where": "hall"}},
        readings=[
            {"tag": "M1", "kind": "voltage", "between": ["W1 black", "earth"], "value": LIVE, "instrument": "t"},
            {"tag": "M2", "kind": "voltage", "between": ["W1 black", "earth"], "value": DEAD, "instrument": "t"},
        ],
        log=[
            {"did": "tested", "what": "W1", "readings": ["M1"]},
            {"did": "switched", "what": "S1", "to": "off"},
            {"did": "tested", "what": "W1", "readings": ["M2"]},
        ],
    )  # fmt: skip
    assert tags(source(done).possible) == ["A 3", "A 5"]


# -- against counting out every case


def every_case(events: list[Event], breakers: list[int], found: dict[int, str]) -> tuple[set[Any], set[Any]]:
    """Breakers (None for something not recorded) in every set of feeds that fits, and in some; by trying them all."""
    feeds = [*breakers, None]
    fitting = []
    unknown = [b for b in breakers if b not in found]
    seen_live = any(did == "read" and what for did, what in events)
    for size in range(len(feeds) + 1):
        for feeding in itertools.combinations(feeds, size):
            for first in itertools.product(["on", "off"], repeat=len(unknown)):
                now = {**found, **dict(zip(unknown, first, strict=True))}
                fits = True
                for did, what in events:
                    if did != "read":
                        now = {**now, what: did}
                    elif what or seen_live:
                        fits = fits and what == any(f is None or now[f] == "on" for f in feeding)
                if fits:
                    fitting.append(set(feeding))
                    break
    if not fitting:
        return set(), set()
    return set.intersection(*fitting), set.union(*fitting)


@pytest.mark.parametrize("seed", seeds(120))
def test_against_every_case(seed: int) -> None:
    """What is certain and what is possible is exactly what trying every set of feeds and every position gives."""
    rng = random.Random(seed)
    breakers = sorted(rng.sample(range(1, 30), rng.randint(1, 5)))
    truth = {b for b in breakers if rng.random() < 0.4} | ({None} if rng.random() < 0.15 else set())
    state = "on" if rng.random() < 0.6 else None
    now = {b: "on" if state or rng.random() < 0.7 else "off" for b in breakers}
    events: list[Event] = []
    for _ in range(rng.randint(1, 9)):
        if rng.random() < 0.5:
            turned = rng.choice(breakers)
            now[turned] = rng.choice(["on", "off"])
            events.append((now[turned], turned))
        else:
            events.append(("read", any(f is None or now[f] == "on" for f in truth)))
    done = untraced(events, breakers, breaker={"state": "on"} if state else {})
    found = source(done)
    certain, possible = every_case(events, breakers, dict.fromkeys(breakers, "on") if state else {})
    assert truth <= possible or not possible
    assert {int(b.tag.split()[1]) for b in found.certain} == certain - {None}
    assert {int(b.tag.split()[1]) for b in (*found.certain, *found.possible)} == possible - {None}
    assert (found.elsewhere, found.unknown_feed) == (None in possible, None in certain)
    assert not found.contradictions


# -- what cannot all be true


def test_live_with_its_only_breaker_off() -> None:
    """A closed circuit live with its breaker off: trace, switching and reading, and nothing else, cannot all be true."""
    done = traced(
        instruments={"t": {"type": "two-pole tester"}},
        panels={"A": {"breakers": {"3": 15, "5": 15}}},
        cables={"W1": {"type": "14/2 with ground", "from": "A 3", "to": "hall"}},
        boxes={"hall": "nonmetallic"},
        devices={"R1": {"kind": "duplex receptacle", "at": "hall", "wired_to": "W1"}},
        readings=[
            {"tag": "M1", "kind": "voltage", "between": ["W1 black", "A ground bar"], "value": LIVE, "instrument": "t"},
            {"tag": "M2", "kind": "voltage", "between": ["R1 hot", "earth"], "value": LIVE, "instrument": "t"},
        ],
        log=[
            {"did": "switched", "what": "A 5", "to": "off"},
            {"did": "tested", "what": "W1", "readings": ["M1"]},
            {"did": "switched", "what": "A 3", "to": "off"},
            {"did": "tested", "what": "R1", "readings": ["M2"]},
        ],
    )
    (one,) = done.contradictions
    assert one.kind == "live while off"
    assert [words.split(":")[0] for words in one.statements] == ["W1 black", "log entry 3", "reading M2"]
    assert done.items["contradiction"][0].data["readings"][0].data["against"].value == one.statements


def test_dead_with_its_breaker_on() -> None:
    """Joined to a breaker that is on, and dead: an open joint, a tripped breaker or a wrong trace."""
    done = traced(
        instruments={"t": {"type": "two-pole tester"}},
        panels={"A": {"breakers": {"3": {"amps": 15, "state": "on"}}}},
        cables={"W1": {"type": "14/2 with ground", "from": "A 3", "to": "hall"}},
        boxes={"hall": "nonmetallic"},
        readings=[{"tag": "M1", "kind": "voltage", "between": ["W1 black", "earth"], "value": DEAD, "instrument": "t"}],
        log=[{"did": "tested", "what": "W1", "readings": ["M1"]}],
    )
    (one,) = done.contradictions
    assert one.kind == "dead while on"
    assert len(one.statements) == 3


@pytest.mark.parametrize("seed", seeds(60))
def test_smallest_contradiction_against_every_subset(seed: int) -> None:
    """What is named cannot all be true, and no smaller set of the same readings and positions is so either."""
    rng = random.Random(seed)
    breakers = [1, 3, 5][: rng.randint(1, 3)]
    events: list[Event] = [("read", True)]
    for _ in range(rng.randint(2, 6)):
        if rng.random() < 0.5:
            events.append((rng.choice(["on", "off"]), rng.choice(breakers)))
        else:
            events.append(("read", rng.random() < 0.5))
    done = untraced(events, breakers, breaker={"state": "on"})
    found = source(done).contradictions
    # The same as statements in time: a position holds from its entry to the next of that breaker.
    spans: list[Any] = []
    last: dict[int, int] = dict.fromkeys(breakers, 0)
    reads: list[tuple[bool, dict[int, int], int]] = []
    for number, (did, what) in enumerate(events, 1):
        if did == "read":
            reads.append((what, dict(last), number))
        else:
            last[what] = number
            spans.append((number, what, did == "on"))
    variables = [(b, 0, True) for b in breakers] + [(b, n, on) for n, b, on in spans]
    best: int | None = None
    pool: list[Any] = [("pos", *one) for one in variables] + [("read", *one) for one in reads]
    for size in range(1, len(pool) + 1):
        if any(not _fits(subset, breakers, variables) for subset in itertools.combinations(pool, size)):
            best = size
            break
    assert (best is None) == (not found)
    if found:
        assert min(len(one.statements) for one in found) == best


def _fits(subset: Any, breakers: list[int], variables: list[Any]) -> bool:
    """Whether these readings and positions can all be true; a position that is left out is free, once for its span."""
    fixed = {(b, n): on for sort, b, n, on in (one for one in subset if one[0] == "pos")}
    reads = [one for one in subset if one[0] == "read"]
    # A dead reading speaks of breakers only together with a live one.
    if not any(one[1] for one in reads):
        return True
    free = [(b, n) for b, n, _ in variables if (b, n) not in fixed]
    for values in itertools.product([True, False], repeat=len(free)):
        position = {**fixed, **dict(zip(free, values, strict=True))}
        for feeding in itertools.product([True, False], repeat=len(breakers) + 1):
            named = dict(zip([*breakers, None], feeding, strict=True))
            if all(one[1] == any(named[f] and (f is None or position[f, one[2][f]]) for f in named) for one in reads):
                return True
    return False


# -- the next test


def test_best_test_halves_what_is_left() -> None:
    """Four breakers and something not recorded: two off leave 2 or 3, (4 + 9) / 5 on average."""
    found = source(untraced([], [1, 3, 5, 7]))
    assert found.test is not None
    assert tags(found.test.breakers) == ["A 1", "A 3"]
    assert tags(found.test.if_dead) == ["A 1", "A 3"]
    assert tags(found.test.if_live) == ["A 5", "A 7", "elsewhere"]
    assert found.test.left == pytest.approx(13 / 5)


def test_a_label_is_a_claim_to_be_tested_first() -> None:
    """The breaker that a label names is tested alone, and is no more than a claim until then."""
    label = [{"on": "W1", "says": "from A 5", "found": True}]
    found = source(untraced([], [1, 3, 5, 7], labels=label))
    assert [(c.breaker.tag, c.verdict) for c in found.claims] == [("A 5", "not tested")]
    assert found.test is not None
    assert (tags(found.test.breakers), found.test.claimed) == (["A 5"], True)
    events = [("read", True), ("off", 5), ("read", True), ("on", 5), ("off", 1), ("read", False)]
    found = source(untraced(events, [1, 3, 5, 7], labels=label, breaker={"state": "on"}))
    assert [(c.breaker.tag, c.verdict) for c in found.claims] == [("A 5", "ruled out")]
    assert tags(found.certain) == ["A 1"]


def test_following_the_best_tests_finds_the_breaker() -> None:
    """From twelve breakers the suggested tests find the one that feeds it, in no more tests than halving takes."""
    breakers = list(range(1, 25, 2))
    for truth in (1, 11, 23):
        events: list[Event] = [("read", True)]
        for _ in range(5):
            found = source(untraced(events, breakers, breaker={"state": "on"}))
            if found.test is None:
                break
            off = [int(b.tag.split()[1]) for b in found.test.breakers]
            events += (
                [("off", b) for b in off] + [("read", truth not in off)] + [("on", b) for b in off] + [("read", True)]
            )
        assert tags(source(untraced(events, breakers, breaker={"state": "on"})).certain) == [f"A {truth}"]


def test_many_breakers_and_many_conductors() -> None:
    """Twelve breakers, 600 conductors and 36 tests are worked out, and all agrees with what was wired.

    Larger ones are in `bench/sources_scale.py`.
    """
    breakers = list(range(1, 13))
    cables = {f"W{n}": {"type": "14/2 with ground", "from": "not traced", "to": f"B{n}"} for n in range(200)}
    truth = {f"W{n}": random.Random(n).choice(breakers) for n in range(200)}
    log: list[Any] = []
    readings: list[Any] = []
    for breaker in breakers:
        some = [tag for tag in cables if truth[tag] == breaker][:3]
        for to, value in (("", LIVE), ("off", DEAD), ("on", LIVE)):
            if to:
                log.append({"did": "switched", "what": f"A {breaker}", "to": to})
            taken = [f"{tag} {to or 'first'}" for tag in some]
            readings += [{"tag": name, "kind": "voltage", "between": [f"{tag} black", "A ground bar"], "value": value,
                          "instrument": "t"} for tag, name in zip(some, taken, strict=True)]  # fmt: skip
            if taken:
                log.append({"did": "tested", "what": "A", "readings": taken})
    done = traced(
        instruments={"t": {"type": "two-pole tester"}},
        panels={"A": {"breakers": {str(b): {"amps": 15, "state": "on"} for b in breakers}}},
        cables=cables,
        boxes={f"B{n}": "nonmetallic" for n in range(200)},
        readings=readings,
        log=log,
    )
    tested = {reading["between"][0].split()[0] for reading in readings}
    assert len(tested) == 36
    for tag in tested:
        assert tags(source(done, f"{tag} black").certain) == [f"A {truth[tag]}"]
        assert source(done, f"{tag} black").decided


def test_the_order_of_the_file_changes_nothing() -> None:
    """Breakers listed in another order give the same sources."""
    events = [("read", True), ("off", 3), ("read", True)]
    one = source(untraced(events, [3, 5, 7], breaker={"state": "on"}))
    two = source(untraced(events, [7, 3, 5], breaker={"state": "on"}))
    assert json.dumps([tags(one.possible), tags(one.singles)]) == json.dumps([tags(two.possible), tags(two.singles)])
