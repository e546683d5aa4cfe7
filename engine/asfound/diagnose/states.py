"""What may be switched on in a part of a house while it is measured: states, tried one after the other.

Nobody writes down every lamp that burned. A state fixes the switches and the
loads; where the size of a load is not recorded it has several versions, from a
small lamp to a heater, and a reading may lie anywhere between what they give.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from typing import Any, Final

from asfound.data import data
from asfound.diagnose.part import Part
from asfound.diagnose.solve import Stamp
from asfound.diagnose.wiring import Element

MAX_SINGLE: Final = 8
"""Loads and switches of one part that are still tried one by one."""
_MIDDLE_WATTS: Final = 60.0


@dataclass(frozen=True, slots=True)
class State:
    """One state: what it is in words, its versions, whether current flows on purpose and whether sizes are known."""

    words: str
    versions: tuple[tuple[Stamp, ...], ...]
    loaded: bool
    known: bool = True


def states_of(part: Part, *, dead: bool = False) -> list[State]:
    """Nothing switched on, everything switched on, then each one. `dead` has filaments cold as well as hot."""
    maker = _Maker(part, dead)
    found = [State("with nothing switched on", (tuple(maker.rest()),), False)]
    if maker.controls:
        found.append(maker.state("with a load switched on", maker.controls))
        if 1 < len(maker.controls) <= MAX_SINGLE:
            found += [
                maker.state(f"with {maker.words(control)} switched on and the rest off", [control])
                for control in maker.controls
            ]
    return found


def house_states(part: Part) -> list[State]:
    """What runs elsewhere in the house, on one leg more than on another, which nobody recorded."""
    if not part.houses:
        return []
    maker = _Maker(part, False)
    rest = tuple(maker.rest())
    volts = part.house.supply.volts
    small, large = (float(watts) for watts in data("faults")["house_watts"])
    versions = []
    for heavy in [*(element.device for _, _, element in part.houses), ""]:
        loads = (
            (one, two, (large if heavy in (element.device, "") else small) / volts**2)
            for one, two, element in part.houses
        )
        versions.append((*rest, *loads))
    return [State("by what runs elsewhere in the house", tuple(versions), True, False)]


class _Maker:
    def __init__(self, part: Part, dead: bool) -> None:
        self.part, self.dead = part, dead
        self.volts = part.house.supply.volts
        behind = self._behind_switches()
        self.constant = [load for load in part.loads if {load[0], load[1]} & behind]
        self.controls: list[Any] = [*sorted(part.switches), *(load for load in part.loads if load not in self.constant)]
        self.largest = self._largest()

    def _behind_switches(self) -> set[int]:
        """Nodes that hang on a switch and lead to no breaker or bar without one."""
        ways: dict[int, set[int]] = {}
        for branch in self.part.branches:
            ways.setdefault(branch.one, set()).add(branch.two)
            ways.setdefault(branch.two, set()).add(branch.one)
        firm = {number for node, number in self.part.number.items() if node[0] in ("bar", "bus", "pole", "leg")}
        found: set[int] = set()
        for start in {node for pairs in self.part.switches.values() for one, two, _ in pairs for node in (one, two)}:
            reached = {start}
            queue = [start]
            for node in queue:
                more = ways.get(node, set()) - reached - {-1} if node not in firm else set()
                reached |= more
                queue += more
            if not reached & firm:
                found |= reached
        return found

    def _largest(self) -> float:
        """Watts of a large load of unknown size, so that all of them together hold on a usual breaker."""
        unknown = sum(element.ohms is None for _, _, element in self.part.loads)
        limit = 0.8 * data("faults")["usual"]["breaker_amps"] * self.volts
        return float(min(data("faults")["load_watts"][1], limit / max(1, unknown)))

    def words(self, control: Any) -> str:
        """What a switch or load is called."""
        return control if isinstance(control, str) else str(control[2].device)

    def rest(self, moved: Iterable[str] = ()) -> Iterator[Stamp]:
        """Switches open, or in turn where they only change over, save those `moved`; loads behind switches in."""
        held = set(moved)
        turned = 0
        for device in sorted(self.part.switches):
            pairs = self.part.switches[device]
            both = {position for _, _, position in pairs} == {0, 1}
            position = min(turned, 1) if both else 1
            turned += both
            yield from self._switch(device, 1 - position if device in held else position)
        for one, two, element in self.constant:
            yield one, two, self._siemens(element, _MIDDLE_WATTS)

    def _switch(self, device: str, position: int) -> Iterator[Stamp]:
        usual = 1.0 / self.part.house.usual["contact_ohms"]
        yield from ((one, two, usual) for one, two, at in self.part.switches[device] if at == position and one != two)

    def _siemens(self, element: Element, watts: float, cold: bool = False) -> float:
        ohms = element.ohms if element.ohms is not None else self.volts**2 / watts
        return 1.0 / (ohms * (data("faults")["cold_share"] if cold else 1.0))

    def state(self, words: str, controls: list[Any]) -> State:
        """These switches and loads on, in every version of what is not known of them."""
        switches = [one for one in controls if isinstance(one, str)]
        loads = [one for one in controls if not isinstance(one, str)]
        everything = len(controls) == len(self.controls)
        base = list(self._all_closed()) if everything else list(self.rest(switches))
        unknown = [load for load in loads if load[2].ohms is None]
        small = float(data("faults")["load_watts"][0])
        sizes: list[dict[int, float]] = [{}]
        if unknown:
            sizes = [dict.fromkeys(map(id, unknown), watts) for watts in (small, self.largest)]
            for side in self._sides(unknown):
                sizes.append({id(one): self.largest if one in side else small for one in unknown})
        versions = [
            (*base, *((one, two, self._siemens(element, size.get(id(load), small), cold))
                      for load in loads for one, two, element in [load]))
            for size in sizes for cold in ((False, True) if self.dead else (False,))
        ]  # fmt: skip
        return State(words, tuple(versions), True, not unknown)

    def _all_closed(self) -> Iterator[Stamp]:
        for device in self.part.switches:
            yield from self._switch(device, 0)
        for one, two, element in self.constant:
            yield one, two, self._siemens(element, _MIDDLE_WATTS)

    def _sides(self, loads: list[Any]) -> list[list[Any]]:
        """Loads by the node on their first side, where there are two or more: each side large against the others."""
        sides: dict[int, list[Any]] = {}
        for load in loads:
            sides.setdefault(load[0], []).append(load)
        return list(sides.values())[:4] if len(sides) > 1 else []
