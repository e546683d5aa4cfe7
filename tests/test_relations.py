"""Facts that follow from trace and record together, on small records made by hand.

What each check expects is common practice, no source, unless it names one: a
ground-fault receptacle protects what hangs on its load terminals, a fuse
protects against overcurrent only, metal raceway and armour can be an equipment
grounding path (NFPA 70 (NEC) 250.118, from memory), and the neutral is bonded at
the service only (250.24(A)(5), from memory).
"""

from __future__ import annotations

import json
from typing import Any

import pytest

from asfound.load import load_bytes
from asfound.record.facts import EXACT, LISTED, UNSEEN, WEAK, Fact, Item
from asfound.survey import read_record
from asfound.trace import Installation, trace
from records import panel

PLASTIC = {"kind": "nonmetallic", "volume": 20}
METAL = "square 4 x 2-1/8"
NM = "14/2 NM-B with ground"
OLD = "14/2 NM"
GF, AF = "ground_fault_protected", "arc_fault_protected"


def house(**sections: Any) -> Installation:
    """The traced record of these sections over an invented site, as JSON because parts of it are used twice."""
    record = {
        "asfound": 1, "invented": True, "site": {"name": "Tryout cottage", "kind": "dwelling"},
        "supply": "120/240 split phase", "panels": {"A": {"breakers": {}}}, **sections,
    }  # fmt: skip
    return trace(read_record(load_bytes(json.dumps(record).encode(), "house.json")))


def fact(held: Installation, kind: str, tag: str, name: str) -> Fact:
    found = held.item(kind, tag).data[name]
    assert isinstance(found, Fact)
    return found


def one_receptacle(breaker: Any = None, **device: Any) -> Installation:
    """One receptacle on one breaker."""
    return house(
        panels=panel({"1": breaker if breaker is not None else {"amps": 15}}),
        boxes={"den": PLASTIC},
        cables={"W1": {"type": NM, "from": "A 1", "to": "den"}},
        devices={"R1": {"kind": "duplex receptacle", "at": "den", "wired_to": "W1", **device}},
    )


# -- fault protection of a device


@pytest.mark.parametrize(
    ("breaker", "device", "kind", "values"),
    [
        pytest.param({"protection": "none"}, {"protection": "none"}, EXACT, (False,), id="neither has any"),
        pytest.param({"protection": "none"}, {"protection": "ground-fault"}, EXACT, (True,), id="by the receptacle"),
        pytest.param({"protection": "ground-fault"}, {"protection": "none"}, EXACT, (True,), id="by the breaker"),
        pytest.param({}, {"protection": "ground-fault"}, EXACT, (True,), id="by the receptacle, breaker not looked at"),
        pytest.param({"protection": "dual"}, {}, EXACT, (True,), id="by the breaker, receptacle not looked at"),
        pytest.param({"protection": "arc-fault"}, {"protection": "none"}, EXACT, (False,), id="arc-fault only"),
        pytest.param({}, {"protection": "none"}, UNSEEN, (), id="breaker not looked at"),
        pytest.param({"protection": "none"}, {}, UNSEEN, (), id="receptacle not looked at"),
        pytest.param({"protection": "none"}, {"slots": 2}, EXACT, (False,), id="two slots have none built in"),
        pytest.param({"kind": "plug fuse"}, {"slots": 2}, EXACT, (False,), id="a fuse has none built in"),
        pytest.param(
            {"protection": {"is": "none", "how": "by eye"}}, {"protection": "none"}, WEAK, (False,), id="weakly none"
        ),
        pytest.param(
            {"protection": "none or ground-fault"}, {"protection": "none"}, LISTED, (False, True), id="breaker in doubt"
        ),
        pytest.param(
            {"protection": "none or ground-fault"}, {"protection": "ground-fault"}, EXACT, (True,), id="settled anyway"
        ),
        pytest.param(
            {"protection": "none or ground-fault"},
            {"protection": {"is": "none", "how": "by eye"}},
            WEAK,
            (False, True),
            id="both in doubt",
        ),
        pytest.param(
            {"protection": "ground-fault", "test_button": "does not trip"},
            {"protection": "none"},
            EXACT,
            (False,),
            id="its button does not trip",
        ),
        pytest.param(
            {"protection": "ground-fault", "test_button": "trips or does not trip"},
            {"protection": "none"},
            LISTED,
            (True, False),
            id="its button may not trip",
        ),
        pytest.param(
            {"protection": "ground-fault", "test_button": "not tried"},
            {"protection": "none"},
            EXACT,
            (True,),
            id="its button was not tried",
        ),
    ],
)
def test_ground_fault_protection(breaker: Any, device: Any, kind: str, values: tuple[bool, ...]) -> None:
    """By itself or by its breaker; not seen as long as what decides was not looked at."""
    found = fact(one_receptacle({"amps": 15, **breaker}, **device), "device", "R1", GF)
    assert (found.kind, found.values) == (kind, values)


def test_what_is_missing_is_named() -> None:
    """The note says whose protection nobody looked at."""
    assert fact(one_receptacle(protection="none"), "device", "R1", GF).note == (
        "fault protection of breaker A 1: not recorded"
    )


def test_not_traced_to_a_breaker() -> None:
    """What feeds the receptacle is not known, so nor is its protection."""
    held = house(
        boxes={"den": PLASTIC},
        cables={"W1": {"type": NM, "from": "not traced", "to": "den"}},
        devices={"R1": {"kind": "duplex receptacle", "at": "den", "wired_to": "W1", "protection": "none"}},
    )
    assert fact(held, "device", "R1", GF).kind == UNSEEN


def test_nothing_on_its_terminals() -> None:
    """Protected when it protects itself, else not to be told."""
    for protection, values in (("ground-fault", (True,)), ("none", ())):
        held = house(
            boxes={"den": PLASTIC},
            devices={"R1": {"kind": "duplex receptacle", "at": "den", "protection": protection}},
        )
        assert fact(held, "device", "R1", GF).values == values


def chain(first: dict[str, Any], terminals: dict[str, Any], **more: Any) -> Installation:
    """Panel, receptacle R1 with these terminals, and receptacle R2 behind it on cable W2."""
    return house(
        panels=panel({"1": {"amps": 20, "protection": "none"}}),
        boxes={"bath": PLASTIC, "wall": PLASTIC, "yard": PLASTIC},
        cables={
            "W1": {"type": NM, "from": "A 1", "to": "bath"},
            "W2": {"type": NM, "from": "bath", "to": "wall"},
            **more.get("cables", {}),
        },
        joints=more.get("joints", {}),
        devices={
            "R1": {"kind": "duplex receptacle", "at": "bath", **first, "terminals": terminals},
            "R2": {"kind": "duplex receptacle", "at": "wall", "protection": "none", "wired_to": "W2"},
            **more.get("devices", {}),
        },
    )


LINE = {"hot": "W1 black", "neutral": "W1 white"}
FED_ON = {**LINE, "load_hot": "W2 black", "load_neutral": "W2 white"}
FED_PAST = {"hot": ["W1 black", "W2 black"], "neutral": ["W1 white", "W2 white"]}


@pytest.mark.parametrize(
    ("first", "terminals", "values"),
    [
        pytest.param({"protection": "ground-fault"}, FED_ON, (True,), id="from its load terminals"),
        pytest.param({"protection": "ground-fault"}, FED_PAST, (False,), id="from its line terminals"),
        pytest.param({"protection": "none"}, FED_ON, (False,), id="through one without protection"),
        pytest.param({"protection": "arc-fault"}, FED_ON, (False,), id="through one against arcs only"),
        pytest.param({}, FED_ON, (), id="through one nobody looked at"),
        pytest.param({"protection": "ground-fault or none"}, FED_ON, (True, False), id="through one in doubt"),
        pytest.param(
            {"protection": "ground-fault", "test_button": "does not trip"}, FED_ON, (False,), id="through a dead one"
        ),
        pytest.param({"kind": "duplex receptacle or switch"}, FED_ON, (), id="through what may be another device"),
    ],
)
def test_protection_from_the_device_ahead(first: Any, terminals: Any, values: tuple[bool, ...]) -> None:
    """Only what hangs on the load terminals of a working device is protected by it."""
    assert fact(chain(first, terminals), "device", "R2", GF).values == values


def test_protection_reaches_past_a_switch() -> None:
    """A lamp behind a switch on the load side is protected, though it is on no load terminal itself."""
    held = chain(
        {"protection": "ground-fault"},
        FED_ON,
        cables={"W3": {"type": NM, "from": "wall", "to": "yard"}},
        joints={
            "J1": {"at": "wall", "ends": ["W2 black", "R2 hot", "S1 line"]},
            "J2": {"at": "wall", "ends": ["W2 white", "R2 neutral", "W3 white"]},
        },
        devices={
            "R2": {"kind": "duplex receptacle", "at": "wall", "protection": "none"},
            "S1": {"kind": "switch", "at": "wall", "terminals": {"load": "W3 black"}},
            "LT1": {"kind": "lampholder", "at": "yard", "terminals": {"hot": "W3 black", "neutral": "W3 white"}},
        },
    )
    for tag in ("R2", "S1", "LT1"):
        assert fact(held, "device", tag, GF).values == (True,), tag


def test_a_way_past_the_protection_counts() -> None:
    """Line and load joined behind the plate: what is fed on is fed from the line as well."""
    terminals = {"neutral": "W1 white", "load_neutral": "W2 white"}
    joints = {"J1": {"at": "bath", "ends": ["W1 black", "W2 black", "R1 hot", "R1 load_hot"]}}
    held = chain({"protection": "ground-fault"}, terminals, joints=joints)
    assert fact(held, "device", "R2", GF).values == (False,)
    assert fact(held, "device", "R1", GF).values == (True,)


def test_two_halves_on_two_circuits() -> None:
    """A split receptacle is protected only when both halves are."""
    for second, values in (("ground-fault", (True,)), ("none", (False,))):
        held = house(
            panels=panel(
                {"1": {"amps": 15, "protection": "ground-fault"}, "3": {"amps": 15, "protection": second}}
            ),
            boxes={"den": PLASTIC},
            cables={
                "W1": {
                    "type": "14/3 NM-B with ground",
                    "from": {"at": "A", "black": "breaker 1", "red": "breaker 3", "white": "neutral bar",
                             "bare": "ground bar"},
                    "to": "den",
                }
            },
            devices={
                "R1": {"kind": "duplex receptacle", "at": "den", "tab": "removed", "protection": "none",
                       "wired_to": "W1"}
            },
        )  # fmt: skip
        assert fact(held, "device", "R1", GF).values == values


@pytest.mark.parametrize(
    ("one", "two", "kind", "values"),
    [
        pytest.param("ground-fault or none", "ground-fault or none", LISTED, (True, False), id="both listed"),
        pytest.param("none or ground-fault", "ground-fault or none", LISTED, (False, True), id="one stated as none"),
        pytest.param("ground-fault or none", "ground-fault", LISTED, (True, False), id="one of them certain"),
        pytest.param(
            {"is": "ground-fault", "how": "by eye"}, "ground-fault or none", WEAK, (True, False), id="one by eye"
        ),
        pytest.param("ground-fault or none", {"is": "none", "how": "by eye"}, WEAK, (False,), id="one weakly none"),
        pytest.param(
            {"is": "ground-fault", "how": "by eye"}, {"is": "ground-fault", "how": "by eye"}, WEAK, (True,),
            id="both weakly protected",
        ),
    ],
)  # fmt: skip
def test_two_halves_in_doubt(one: Any, two: Any, kind: str, values: tuple[bool, ...]) -> None:
    """What both doubts together leave: never more than the worse half, stated value first."""
    held = house(
        panels=panel({"1": {"amps": 15, "protection": one}, "3": {"amps": 15, "protection": two}}),
        boxes={"den": PLASTIC, "wall": PLASTIC},
        cables={"W1": {"type": NM, "from": "A 1", "to": "den"}, "W2": {"type": NM, "from": "A 3", "to": "den"}},
        devices={
            "R1": {
                "kind": "duplex receptacle",
                "at": "den",
                "tab": "removed",
                "protection": "none",
                "terminals": {"hot": "W1 black", "hot_2": "W2 black", "neutral": ["W1 white", "W2 white"]},
            }
        },
    )
    found = fact(held, "device", "R1", GF)
    assert (found.kind, found.values) == (kind, values)


def test_a_second_way_through_a_switch_counts() -> None:
    """Fed on by a receptacle nobody looked at, and by a switch from the line as well: not protected either way."""
    joints = {
        "J1": {"at": "bath", "ends": ["W1 black", "R1 hot", "S1 line"]},
        "J2": {"at": "bath", "ends": ["W2 black", "R1 load_hot", "S1 load"]},
    }
    switch = {"S1": {"kind": "switch", "at": "bath"}}
    terminals = {"neutral": "W1 white", "load_neutral": "W2 white"}
    for protection in ({}, {"protection": "ground-fault"}):
        held = chain(protection, terminals, joints=joints, devices=switch)
        assert fact(held, "device", "R2", GF).values == (False,)


def test_two_ways_that_may_both_be_protected() -> None:
    """Fed on by a working device and by one nobody looked at: only the second leaves the answer open."""
    joints = {
        "J1": {"at": "bath", "ends": ["W1 black", "R1 hot", "R3 hot"]},
        "J2": {"at": "bath", "ends": ["W2 black", "R1 load_hot", "R3 load_hot"]},
    }
    terminals = {"neutral": "W1 white", "load_neutral": "W2 white"}
    second = {"R3": {"kind": "duplex receptacle", "at": "bath", "protection": "ground-fault"}}
    assert fact(chain({}, terminals, joints=joints, devices=second), "device", "R2", GF).kind == UNSEEN
    held = chain({"protection": "dual"}, terminals, joints=joints, devices=second)
    assert fact(held, "device", "R2", GF).values == (True,)


def test_feeder_with_ground_fault_protection() -> None:
    """The breaker ahead of a sub-panel protects what the sub-panel feeds; not looked at, it leaves that open."""
    for feeder, values in (("ground-fault", (True,)), ("none", (False,)), (None, ())):
        held = house(
            panels={
                "A": {"breakers": {"2/4": {"amps": 50, **({"protection": feeder} if feeder else {})}}},
                "B": {"fed_from": "A 2/4", "breakers": {"1": {"amps": 20, "protection": "none"}}},
            },
            boxes={"pool": PLASTIC},
            cables={"W1": {"type": NM, "from": "B 1", "to": "pool"}},
            devices={"R1": {"kind": "duplex receptacle", "at": "pool", "protection": "none", "wired_to": "W1"}},
        )
        assert fact(held, "device", "R1", GF).values == values


def test_both_sorts_are_kept_apart() -> None:
    """Arc-fault by the breaker, ground-fault by the receptacle."""
    held = one_receptacle({"amps": 15, "protection": "arc-fault"}, protection="ground-fault")
    assert fact(held, "device", "R1", GF).values == (True,)
    assert fact(held, "device", "R1", AF).values == (True,)
    plain = one_receptacle({"amps": 15, "protection": "ground-fault"}, protection="ground-fault")
    assert fact(plain, "device", "R1", AF).values == (False,)


# -- what a device is


@pytest.mark.parametrize(
    ("kind", "receptacles", "is_load"),
    [
        pytest.param("duplex receptacle", (2,), (False,), id="duplex counts two"),
        pytest.param("range receptacle", (1,), (False,), id="range receptacle counts one"),
        pytest.param("luminaire", (0,), (True,), id="luminaire"),
        pytest.param("switch", (0,), (False,), id="switch"),
        pytest.param({"not_seen": "behind a plate"}, (), (), id="not seen"),
        pytest.param("single receptacle or duplex receptacle", (1, 2), (False,), id="in doubt"),
    ],
)
def test_receptacles_and_loads(kind: Any, receptacles: tuple[int, ...], is_load: tuple[bool, ...]) -> None:
    """A device nobody identified is neither called a load nor counted as no receptacle."""
    held = house(boxes={"den": PLASTIC}, devices={"D1": {"kind": kind, "at": "den"}})
    assert fact(held, "device", "D1", "receptacles").values == receptacles
    assert fact(held, "device", "D1", "is_load").values == is_load


def test_room_of_its_box() -> None:
    """A device is in the room of its box unless it says otherwise."""
    held = house(
        boxes={"den": {**PLASTIC, "room": "bedroom"}},
        devices={
            "R1": {"kind": "duplex receptacle", "at": "den"},
            "R2": {"kind": "duplex receptacle", "at": "den", "room": "bathroom"},
        },
    )
    assert fact(held, "device", "R1", "room").values == ("bedroom",)
    assert fact(held, "device", "R2", "room").values == ("bathroom",)


# -- ground path of a device


def grounded(cable: Any, box: Any, terminals: dict[str, Any], **more: Any) -> Installation:
    """One receptacle on one cable from the panel."""
    written = cable if isinstance(cable, dict) else {"type": cable}
    return house(
        panels=panel({"1": 15}),
        boxes={"den": box},
        cables={"W1": {"from": "A 1", "to": "den", **written}, **more.get("cables", {})},
        joints=more.get("joints", {}),
        devices={"R1": {"kind": "duplex receptacle", "at": "den", "terminals": {**LINE, **terminals}}},
    )


BARE = {"ground": "W1 bare"}


@pytest.mark.parametrize(
    ("cable", "box", "terminals", "values"),
    [
        pytest.param(NM, PLASTIC, BARE, ("yes",), id="bare on the ground bar"),
        pytest.param(OLD, PLASTIC, {}, ("no",), id="cable without a ground"),
        pytest.param("14/2", PLASTIC, {}, (), id="wiring method not recorded"),
        pytest.param("14/2 AC", METAL, {}, (), id="armour can be the path"),
        pytest.param("14/2 EMT", METAL, {}, (), id="conduit can be the path"),
        pytest.param("14/2 surface raceway", METAL, {}, (), id="raceway of metal or plastic"),
        pytest.param(NM, PLASTIC, {}, (), id="a ground in the box and nothing noted on the terminal"),
        pytest.param(
            {"type": NM, "from": {"at": "A", "black": "breaker 1", "white": "neutral bar", "bare": "neutral bar"}},
            PLASTIC, BARE, ("yes",), id="grounds on the one bar there is",
        ),
        pytest.param(
            {"type": NM, "from": {"at": "A", "black": "breaker 1", "white": "neutral bar", "bare": "cut"}},
            PLASTIC, BARE, ("no",), id="cut off at the panel",
        ),
        pytest.param(
            {"type": NM, "from": {"at": "A", "black": "breaker 1", "white": "neutral bar", "bare": "not traced"}},
            PLASTIC, BARE, (), id="not traced at the panel",
        ),
        pytest.param(
            {"type": NM, "from": {"at": "A", "black": "breaker 1", "white": "neutral bar", "bare": "breaker 1"}},
            PLASTIC, BARE, ("no",), id="on the breaker",
        ),
    ],
)  # fmt: skip
def test_ground_path(cable: Any, box: Any, terminals: dict[str, str], values: tuple[str, ...]) -> None:
    """Yes, no, or not seen wherever metal raceway, armour or an open end can make the difference."""
    assert fact(grounded(cable, box, terminals), "device", "R1", "ground_path").values == values


def test_jumper_to_the_neutral_is_no_path() -> None:
    """It leads to the neutral bar and still is no ground path (NFPA 70 (NEC) 250.142(B), from memory)."""
    joints = {"J1": {"at": "den", "ends": ["W1 white", "R1 neutral", "R1 ground"]}}
    held = house(
        panels=panel({"1": 15}),
        boxes={"den": PLASTIC},
        cables={"W1": {"type": OLD, "from": "A 1", "to": "den"}},
        joints=joints,
        devices={"R1": {"kind": "duplex receptacle", "at": "den", "terminals": {"hot": "W1 black"}}},
    )
    found = fact(held, "device", "R1", "ground_path")
    assert (found.values, found.note) == (("no",), "it is joined to a neutral")


def test_ground_joined_to_a_conduit_box_is_not_judged() -> None:
    """A pigtail to a metal box in conduit: the conduit can be the path."""
    held = house(
        panels=panel({"1": 15}),
        boxes={"den": METAL},
        cables={
            "W1": {"type": "14/2 EMT", "from": "A 1", "to": "den"},
            "P1": {"type": "14", "conductors": {"green": {}}, "from": "den", "to": {"at": "den", "black": "capped"}},
        },
        joints={"J1": {"at": "den", "ends": ["P1 green (from)", "box"]}},
        devices={
            "R1": {
                "kind": "duplex receptacle",
                "at": "den",
                "terminals": {**LINE, "ground": "P1 green (to)"},
            }
        },
    )
    assert fact(held, "device", "R1", "ground_path").kind == UNSEEN
    assert fact(held, "net", "P1 green", "leads_to_ground").kind == UNSEEN


def test_device_with_nothing_on_its_terminals() -> None:
    """Beside cable without a ground, and not known to be wired to it: nothing is said of its path."""
    held = house(
        boxes={"den": PLASTIC},
        cables={"W1": {"type": OLD, "from": "not traced", "to": "den"}},
        devices={"R1": {"kind": "duplex receptacle", "at": "den"}},
    )
    assert fact(held, "device", "R1", "ground_path").kind == UNSEEN


def test_kind_not_seen_has_no_ground_path() -> None:
    """Nothing is said of the ground of a thing nobody identified."""
    held = house(boxes={"den": PLASTIC}, devices={"D1": {"kind": {"not_seen": "behind a plate"}, "at": "den"}})
    assert fact(held, "device", "D1", "ground_path").kind == UNSEEN


# -- boxes and nets


def junction(box: Any, joints: dict[str, Any], **more: Any) -> Installation:
    """Two cables in one box: W1 from the panel and W2 on to a lampholder."""
    return house(
        panels=panel({"1": 15}),
        boxes={"hall": box, "end": PLASTIC},
        cables={
            "W1": {"type": NM, "from": "A 1", "to": more.get("to", "hall")},
            "W2": {"type": NM, "from": "hall", "to": "end"},
        },
        joints=joints,
        devices={"LT1": {"kind": "lampholder", "at": "end", "wired_to": "W2"}, **more.get("devices", {})},
    )


def nets(held: Installation, name: str) -> list[str]:
    found: tuple[Item, ...] = held.item("box", "hall").data[name]
    return [net.tag for net in found]


def test_box_on_ground() -> None:
    """Named in the joint of the grounds."""
    held = junction(METAL, {"J1": {"at": "hall", "ends": ["W1 bare", "W2 bare", "box"]}})
    assert nets(held, "bonded_to") == nets(held, "grounding_nets") == ["W1 bare"]
    assert fact(held, "box", "hall", "on_ground").values == (True,)
    assert fact(held, "box", "hall", "ground_here").values == (True,)


def test_box_not_named_is_weakly_off_ground() -> None:
    """All grounds accounted for and the box in no joint: as recorded it floats, and the screw may be forgotten."""
    found = fact(junction(METAL, {"J1": {"at": "hall", "ends": ["W1 bare", "W2 bare"]}}), "box", "hall", "on_ground")
    assert (found.kind, found.values) == (WEAK, (False, True))


def test_box_with_an_unaccounted_ground() -> None:
    """One bare end that nobody wrote of can be the one on the screw."""
    found = fact(junction(METAL, {}), "box", "hall", "on_ground")
    assert (found.kind, found.note) == (UNSEEN, "what becomes of W1 bare (to): not recorded")


def test_box_grounded_by_a_strap() -> None:
    """A switch whose grounding terminal is on a ground holds the box by its screws."""
    devices = {"S1": {"kind": "switch", "at": "hall", "terminals": {"ground": "W1 bare"}}}
    held = junction(METAL, {"J1": {"at": "hall", "ends": ["W1 black", "S1 line"]}}, devices=devices)
    assert fact(held, "box", "hall", "on_ground").values == (True,)


def test_box_joined_to_the_neutral_only() -> None:
    """Bonded to the neutral and no ground in the joint: joined to something, and not to a ground."""
    held = house(
        panels=panel({"1": 15}),
        boxes={"hall": METAL},
        cables={"W1": {"type": OLD, "from": "A 1", "to": "hall"}},
        joints={"J1": {"at": "hall", "ends": ["W1 white", "box"]}},
    )
    assert nets(held, "bonded_to") == ["W1 white"]
    assert fact(held, "box", "hall", "on_ground").values == (False,)
    assert nets(held, "grounding_nets") == []


def test_grounds_kept_apart() -> None:
    """Two nets in one box, one that leads to the panel and one that is accounted for and does not."""
    joints = {"J1": {"at": "hall", "ends": ["W1 bare"]}, "J2": {"at": "hall", "ends": ["W2 bare", "box"]}}
    held = junction(METAL, joints)
    assert nets(held, "grounding_nets") == ["W1 bare", "W2 bare"]
    assert nets(held, "bonded_to") == ["W2 bare"]
    assert fact(held, "net", "W1 bare", "leads_to_ground").values == (True,)
    assert fact(held, "net", "W2 bare", "leads_to_ground").values == (False,)
    assert fact(held, "box", "hall", "ground_here").values == (True,)


def test_grounds_that_all_lead_nowhere() -> None:
    """Cut off at the panel: nothing in the box leads to a bar."""
    held = house(
        panels=panel({"1": 15}),
        boxes={"hall": METAL},
        cables={
            "W1": {
                "type": NM,
                "from": {"at": "A", "black": "breaker 1", "white": "neutral bar", "bare": "cut"},
                "to": "hall",
            }
        },
        joints={"J1": {"at": "hall", "ends": ["W1 bare", "box"]}},
    )
    assert fact(held, "box", "hall", "ground_here").values == (False,)


def test_one_of_two_cables_has_a_ground() -> None:
    """Old and new cable in one box: the bare of the new one can be on the device, and nobody noted it."""
    held = house(
        panels=panel({"1": 15}),
        boxes={"den": PLASTIC},
        cables={
            "W1": {"type": OLD, "from": "A 1", "to": "den"},
            "W2": {"type": NM, "from": "not traced", "to": "den"},
        },
        devices={"R1": {"kind": "duplex receptacle", "at": "den", "terminals": LINE}},
    )
    assert fact(held, "device", "R1", "ground_path").kind == UNSEEN


def test_grounds_that_pass_through_are_not_in_the_box() -> None:
    """A cable that goes through uncut has no ground to join there."""
    held = house(
        panels=panel({"1": 15}),
        boxes={"hall": METAL, "end": PLASTIC},
        cables={"W1": {"type": NM, "from": "A 1", "to": "end", "passes": {"hall": "unbroken"}}},
    )
    assert nets(held, "grounding_nets") == []
    assert nets(held, "nets") == ["W1 bare", "W1 black", "W1 white"]


def test_ground_that_nobody_traced() -> None:
    """Neither leads to ground nor not, and so for its box."""
    held = house(
        boxes={"hall": METAL},
        cables={"W1": {"type": NM, "from": "not traced", "to": "hall"}},
        joints={"J1": {"at": "hall", "ends": ["W1 bare", "box"]}},
    )
    assert fact(held, "net", "W1 bare", "leads_to_ground").kind == UNSEEN
    assert fact(held, "box", "hall", "ground_here").kind == UNSEEN


def test_devices_where_a_conductor_ends() -> None:
    """In a box all its devices; at a device with its own compartment that device; at a panel none."""
    held = house(
        panels=panel({"1": 15}),
        boxes={"hall": METAL},
        cables={
            "W1": {"type": NM, "from": "A 1", "to": "hall"},
            "W2": {"type": NM, "from": "hall", "to": "PUMP"},
        },
        devices={"S1": {"kind": "switch", "at": "hall"}, "PUMP": {"kind": "pump", "wired_to": "W2"}},
    )
    ends = {end.tag: [device.tag for device in end.data["devices"]] for end in held.items["end"]}
    assert ends["W1 black (from)"] == []
    assert ends["W1 black (to)"] == ends["W2 black (from)"] == ["S1"]
    assert ends["W2 black (to)"] == ["PUMP"]


# -- panels


@pytest.mark.parametrize(
    ("feeder", "values"),
    [
        pytest.param({"type": "8/3 NM-B with ground"}, (True,), id="four wires"),
        pytest.param({"type": "8/3 NM-B"}, (False,), id="three wires"),
        pytest.param({"type": "8/3 EMT"}, (True,), id="three wires in metal conduit"),
        pytest.param({"type": "8/3 PVC conduit"}, (False,), id="three wires in plastic conduit"),
        pytest.param({"type": "8/3"}, (), id="three wires, method not recorded"),
        pytest.param(None, (), id="feeder not recorded"),
    ],
)
def test_ground_path_in_the_feeder(feeder: Any, values: tuple[bool, ...]) -> None:
    """By a grounding conductor or by metal raceway; not told where neither was looked at."""
    lugs = {"at": "B", "black": "lug 1", "red": "lug 2", "white": "neutral bar"}
    grounds = {"bare": "ground bar"} if feeder and "ground" in feeder["type"] else {}
    held = house(
        panels={"A": {"breakers": {"2/4": 40}}, "B": {"fed_from": "A 2/4", "breakers": {"1": 15}}},
        cables={"F1": {**feeder, "from": "A 2/4", "to": {**lugs, **grounds}}} if feeder else {},
    )
    assert fact(held, "panel", "B", "feeder_ground").values == values


def test_feeder_by_where_it_goes() -> None:
    """From the panel ahead to this one, though nobody wrote what lands on the lugs; a cable to elsewhere is none."""
    panels = {"A": {"breakers": {"2/4": 40}}, "B": {"fed_from": "A 2/4", "breakers": {"1": 15}}, "C": {}}
    feeder = {"type": "8/3 NM-B with ground", "from": "A 2/4", "to": "B"}
    other = {"type": "8/3 NM-B with ground", "from": "C", "to": "B"}
    assert fact(house(panels=panels, cables={"F1": feeder}), "panel", "B", "feeder_ground").values == (True,)
    assert fact(house(panels=panels, cables={"F1": other}), "panel", "B", "feeder_ground").kind == UNSEEN


def test_feeder_through_a_box() -> None:
    """The cable on the lugs counts, wherever it comes from."""
    held = house(
        panels={"A": {"breakers": {"2/4": 40}}, "B": {"fed_from": "A 2/4", "breakers": {"1": 15}}},
        boxes={"pull": METAL},
        cables={
            "F1": {"type": "8/3 NM-B with ground", "from": "A 2/4", "to": "pull"},
            "F2": {"type": "8/3 NM-B", "from": "pull",
                   "to": {"at": "B", "black": "lug 1", "red": "lug 2", "white": "neutral bar"}},
        },
    )  # fmt: skip
    assert fact(held, "panel", "B", "feeder_ground").values == (False,)


def test_service_only_where_it_is_written() -> None:
    """A panel of which nobody noted what feeds it is not taken for the service panel."""
    held = house(panels={"A": {"fed_from": "supply"}, "B": {"fed_from": "C 1"}, "C": {"breakers": {"1": 30}}})
    assert [fact(held, "panel", tag, "service").values for tag in "ABC"] == [(True,), (False,), ()]


# -- breakers


def test_fullest_terminal() -> None:
    """Of a two-pole breaker the pole with more conductors; of an empty one none."""
    held = house(
        panels=panel({"1/3": 20, "5": 15}),
        boxes={"one": PLASTIC, "two": PLASTIC},
        cables={
            "W1": {"type": "12/3 NM-B with ground", "from": "A 1/3", "to": "one"},
            "W2": {
                "type": NM,
                "from": {"at": "A", "black": "breaker 3", "white": "capped", "bare": "capped"},
                "to": "two",
            },
        },
    )
    fullest: tuple[Item, ...] = held.item("breaker", "A 1/3").data["most_on_one_pole"]
    assert sorted(c.tag for c in fullest) == ["W1 red", "W2 black"]
    assert held.item("breaker", "A 5").data["most_on_one_pole"] == ()


# -- labels


def labelled(on: str, says: str) -> Item:
    """The label `says` on a breaker, cable or device of a small record."""
    held = house(
        panels=panel({"1": 15, "3": 15, "13": 15}),
        boxes={"den": PLASTIC},
        cables={"W1": {"type": NM, "from": "A 3", "to": "den"}},
        devices={"R1": {"kind": "duplex receptacle", "at": "den", "wired_to": "W1"}},
        labels=[{"on": on, "says": says, "found": True}],
    )
    (label,) = held.items["label"]
    return label


@pytest.mark.parametrize(
    ("says", "breakers"),
    [
        pytest.param("fed by A 3", ["A 3"], id="named in full"),
        pytest.param("fed by A 13", ["A 13"], id="a longer number is another breaker"),
        pytest.param("kitchen lites", [], id="none named"),
    ],
)
def test_breakers_a_label_names(says: str, breakers: list[str]) -> None:
    """By the tag of the breaker, and not by part of a number."""
    label = labelled("R1", says)
    assert [breaker.tag for breaker in label.data["names_breakers"].value] == breakers
    assert [breaker.tag for breaker in label.data["fed_by"].value] == ["A 3"]


@pytest.mark.parametrize(
    ("says", "dead"),
    [
        pytest.param("DEAD", True, id="dead"),
        pytest.param("abandoned", True, id="abandoned"),
        pytest.param("not dead", False, id="said not to be dead"),
        pytest.param("turn off before opening", False, id="an order to switch off"),
        pytest.param("bedroom", False, id="nothing of the kind"),
    ],
)
def test_label_that_calls_something_dead(says: str, dead: bool) -> None:
    """Words that call it dead, and not words that only speak of switching off."""
    assert labelled("W1", says).data["names_dead"].value is dead
