"""A trace as plain values: what a line, a circuit and a panel hold. Words and layout are in `tree.py`.

Lines stand in flat lists. Each names the line it hangs under by its number, so
that a long chain makes no deep value. The form of the whole as data is
`trace.schema.json`.
"""

from __future__ import annotations

from dataclasses import dataclass, field

from asfound.render.flags import Flag
from asfound.trace.state import TREAT

SEEN, DOUBTFUL, BY_LOOK, NOT_TRACED = "as seen", "doubtful", "by colour or terminal", "not traced"
"""How far a line is traced: as recorded back to its breaker; through a device that may be otherwise; what it does
taken from colour or terminal only; not traced to a breaker."""


@dataclass(slots=True)
class Spot:
    """A place in words. `sort` is box, device or panel; `open` is yes for a place that is no box, perhaps where nobody
    is certain; `reason` why the place itself is not known."""

    place: str
    sort: str = ""
    where: str = ""
    open: str = "no"
    reason: str = ""


@dataclass(slots=True)
class Lead:
    """One conductor of a line: what it does and how that is known, the poles it comes from, away from or back to."""

    conductor: str
    does: str
    known: str
    back: bool
    poles: list[str]
    state: str
    reason: str


@dataclass(slots=True)
class End:
    """An end that is neither spliced nor under a terminal; `open` when it can be live and is not capped."""

    conductor: str
    at: str
    state: str
    open: bool


@dataclass(slots=True)
class Line:
    """One line of a tree. `kind` is cable, again (met before, shown elsewhere), device, or at (a box it passes)."""

    line: int
    under: int | None
    depth: int
    kind: str
    item: str
    what: str = ""
    start: Spot | None = None
    to: Spot | None = None
    state: str = TREAT
    traced: str = SEEN
    doubt: str = ""
    leads: list[Lead] = field(default_factory=list)
    ends: list[End] = field(default_factory=list)
    switched_by: list[str] = field(default_factory=list)
    also_fed_by: list[str] = field(default_factory=list)
    can_be_fed_by: list[str] = field(default_factory=list)
    elsewhere: bool = False
    reasons: list[str] = field(default_factory=list)
    passes: list[str] = field(default_factory=list)
    read_live: list[str] = field(default_factory=list)  # what else was read live: other conductors, metal of the box
    splices_in_open: list[str] = field(default_factory=list)
    shown_under: str = ""
    flags: list[Flag] = field(default_factory=list)


@dataclass(slots=True)
class Feed:
    """What feeds some conductors: breakers that certainly do, those that can, whether something not recorded can."""

    conductors: list[str]
    certain: list[str]
    can_be: list[str]
    elsewhere: bool
    reasons: list[str]


@dataclass(slots=True)
class Breaker:
    """A breaker as it heads a circuit."""

    breaker: str
    rating: str
    kind: str
    legs: str
    directory: str
    found: str
    log: str
    bare_spaces: list[str]
    spare: bool


@dataclass(slots=True)
class Circuit:
    """A circuit with its lines; `feeds` are the panels that hang on it."""

    circuit: str
    panel: str
    breakers: list[Breaker]
    feeds: list[str]
    state: str
    flags: list[Flag]
    lines: list[Line]


@dataclass(slots=True)
class Group:
    """Cables that hang together and that no way from a breaker meets."""

    group: int
    feeds: list[Feed]
    lines: list[Line]


@dataclass(slots=True)
class Panel:
    """A panel with what is recorded to feed it."""

    panel: str
    where: str
    fed_by: str
    flags: list[Flag]
    circuits: list[str]


@dataclass(slots=True)
class Trace:
    """The whole. `bare` are cables that only ground or return; `devices` what no way meets at all, `places` where no
    cable is recorded, or something was found and no tree leads."""

    panels: list[Panel]
    circuits: list[Circuit]
    groups: list[Group]
    bare: list[Line]
    devices: list[Line]
    places: list[Line]
    flags: list[Flag]  # of the site, and of what has no line of its own
