"""Plant defects in a plain record, chosen by a seed, so that none touches what another has changed.

    planted = plant(record, seed=7, count=3)

Deterministic: the same record, seed and count give the same defects. Nothing is
judged here; what must be found is said by each defect that was planted.
"""

from __future__ import annotations

import copy
import random
from collections.abc import Callable, Collection, Iterator
from dataclasses import dataclass

from asfound.drill.plain import Plain, Wiring
from asfound.drill.planters import Change, Expected, Planter, planters


@dataclass(frozen=True, slots=True)
class Planted:
    """A defect that was planted: its name and story, where, what must be found, and what may be found beside it.

    `also` are rules that name it as rightly.
    """

    name: str
    why: str
    at: str
    expects: tuple[Expected, ...]
    implies: tuple[Expected, ...]
    also: tuple[str, ...] = ()

    @property
    def allowed(self) -> frozenset[Expected]:
        """Every finding that comes from it."""
        return frozenset((*self.expects, *self.implies))


Stays = Callable[[Planted, Plain], bool]
"""Whether a planted defect stays: asked with the record as it is with it."""


def plant(
    record: Plain, seed: int, count: int, *, only: Collection[str] = (), stays: Stays | None = None, attempt: int = 0
) -> list[Planted]:
    """Plant `count` defects in `record`, or as many as find a place; `only` names the kinds to choose from.

    Kinds come up once each before any comes up again. With `stays`, one that
    does not stay is taken back, and another place or kind is tried.
    """
    wiring = Wiring(record)
    made: list[Planted] = []
    taken: frozenset[str] = frozenset()
    for planter, rng in _in_turn(f"plant {seed} {attempt}", only):
        if len(made) >= count:
            break
        for _ in range(1 if stays is None else _TRIES):
            change = _choose(planter, wiring, rng, taken)
            if change is None:
                break
            before = copy.deepcopy(record) if stays is not None else None
            change.edit()
            planted = Planted(planter.name, planter.why, change.at, change.expects, change.implies, change.also)
            if before is None or stays is None or stays(planted, record):
                taken |= change.touches
                made.append(planted)
                break
            record.clear()
            record.update(before)
    return made


_ROUNDS = 3
"""How often each kind of defect may come up in one record."""
_TRIES = 3
"""How many places are tried for one kind before the next comes up."""


def _in_turn(seed: str, only: Collection[str]) -> Iterator[tuple[Planter, random.Random]]:
    """Planters in an order of the seed, with the generator that chooses for them."""
    rng = random.Random(seed)
    known = planters()
    for _ in range(_ROUNDS):
        names = [name for name in known if not only or name in only]
        rng.shuffle(names)
        for name in names:
            yield known[name], rng


def _choose(planter: Planter, wiring: Wiring, rng: random.Random, taken: frozenset[str]) -> Change | None:
    """One of the changes that a planter can make and that touches nothing taken; None when there is none."""
    free = [change for change in planter.changes(wiring) if not change.touches & taken]
    return rng.choice(free) if free else None
