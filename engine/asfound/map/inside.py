"""One place from inside: the conductors that come in, and what each is under.

Cables stand at the left with a line for each of their conductors, joints and
devices at the right. Between them each joint, and each terminal with a
conductor under it, has an upright of its own; a dot says that two lines are
joined, a crossing without a dot that they are not.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field

from asfound.map import symbols
from asfound.map.across import Row, draw_row, rows
from asfound.map.circuits import Parts, device_kind, feeds_words, shape_of
from asfound.map.down import MARGIN, SIZE, WIDE
from asfound.map.parts import Bold, Flagged, Say, say
from asfound.map.sheet import DASH, PAPER, Sheet, path
from asfound.map.text import tied
from asfound.record.facts import EXACT, Fact, Item
from asfound.render.factwords import device_words, doubt_words
from asfound.render.flags import Flag
from asfound.render.rows import Rows, state_of
from asfound.render.spot import Entering, place_of
from asfound.render.tree import STATES, spot_words
from asfound.render.values import SEEN
from asfound.trace.nets import by_tag
from asfound.trace.state import DEAD, TREAT
from asfound.trace.walk import Spot, Station, may_be_live
from asfound.wording import joined, natural

LEFT = 172.0
"""Where the place begins; cables are at the left of it."""
CHANNEL = 72.0
MOST_LANES = 18
MOST_LINES = 90
"""Lines at the left, and at the right; what is beyond is counted."""
MOST_HELD = 40
"""Joints, and devices."""
HALF = 8.5
STEP = SIZE * 1.35
BETWEEN = 7.0
WAYS = {"from": "comes from", "to": "goes to", "between": "between here and", "through": "passes between"}


@dataclass(slots=True, eq=False)
class Lead:
    """A conductor as it is here, or a terminal or joint: its lines of text, and the uprights that it is joined to."""

    lines: list[Row]
    spots: list[Spot] = field(default_factory=list)
    dashed: bool = False
    symbol: str = ""  # a kind of device, `open` for an open end, `ground` for a bond to the box
    item: str = ""
    y: float = 0.0  # of its line, which is that of its first row


@dataclass(slots=True, eq=False)
class Inside:
    """A place with everything that is drawn of it."""

    head: list[str]
    item: str
    outline: str
    left: list[Lead]
    right: list[Lead]
    flags: list[Flagged]
    more: int = 0


class Maker:
    """Finds what is in a place."""

    def __init__(self, parts: Parts, place: Item, digits: int) -> None:
        self.parts = parts
        self.rows: Rows = parts.rows
        self.record = self.rows.record
        self.place = place
        self.digits = digits
        self.flags: list[Flagged] = []
        self.seen = place_of(self.rows, place)
        joints = [self.record.joints[held.item] for held in self.seen.joints]
        self.joints = by_tag(joints)
        self.devices = by_tag(place.data["devices"] if place.kind == "box" else (place,))
        self.here: set[Spot] = set(self.joints)
        self.here |= {
            (device.tag, terminal.data["name"]) for device in self.devices for terminal in device.data["terminals"]
        }

    def all(self) -> Inside:
        """The whole."""
        left: list[Lead] = []
        more = 0
        for entering in self.seen.enters:
            if len(left) > MOST_LINES:
                more += 1
                continue
            left += self._cable(entering)
        right = [self._joint(joint) for joint in self.joints[:MOST_HELD]]
        for device in self.devices[:MOST_HELD]:
            right += self._device(device) if len(right) < MOST_LINES else ()
        shown = sum(1 for lead in right if lead.item)
        more += len(self.joints) + len(self.devices) - shown
        used: set[Spot] = {spot for lead in left for spot in lead.spots}
        used = set(sorted(used, key=_spot_order)[:MOST_LANES])
        for lead in (*left, *right):
            lead.spots = [spot for spot in lead.spots if spot in used]
        flags = self._flags(self.seen.flags)
        outline = shape_of(self.place) if self.place.kind == "box" else "open"
        kind = self.place.data.get("kind")
        if self.place.kind == "box" and isinstance(kind, Fact) and "no box" in kind.values:
            outline = "open" if kind.values == ("no box",) else "unseen"
        head = [f"AT {self.place.tag}", self.seen.what]
        item = f"{self.place.kind} {self.place.tag}"
        return Inside(head, item, outline, left, right, flags, more)

    def _flags(self, flags: Iterable[Flag]) -> list[Flagged]:
        found = self.parts.flags(flags)
        self.flags += found
        return found

    def _text(self, says: Iterable[Say], room: float, flags: Iterable[Flagged] = ()) -> list[Row]:
        return rows(list(says), flags, room, self.digits, SIZE)

    def _cable(self, entering: Entering) -> Iterator[Lead]:
        cable = self.record.cables[entering.cable]
        state = self._state(entering.state, cable.data["conductors"])
        others = joined([spot_words(spot) for spot in entering.others])
        head = [
            say(Bold(tied(entering.cable)), entering.what, Bold(state), most=7),
            say(f"{WAYS[entering.way]} {others}", most=4),
            *(say(words, most=4) for words in feeds_words(entering.feeds)[:3]),
        ]
        dashed = entering.traced != SEEN
        room = LEFT - MARGIN - 6.0
        yield Lead(self._text(head, room, self._flags(entering.flags)), item=f"cable {entering.cable}")
        for conductor in cable.data["conductors"]:
            for station in self._stations(cable, conductor):
                yield self._conductor(conductor, station, dashed, state)

    def _state(self, state: str, conductors: Iterable[Item]) -> str:
        """The mark of conductors in one state; nothing of what is treated as live."""
        if state == DEAD:
            return self.parts.proven(conductors)
        return STATES[state] if state != TREAT else ""

    def _stations(self, cable: Item, conductor: Item) -> list[Station]:
        """Where on the conductor this place is: at its ends, or along it."""
        found: list[Station] = [side for side in ("from", "to") if cable.data["sides"][side] is self.place]
        if not found and self.place.kind == "box":
            passing = (*self.place.data["passing"], *self.place.data["looped"])
            found += [self.place] if any(one is conductor for one in passing) else []
        return found

    def _conductor(self, conductor: Item, station: Station, dashed: bool, said: str) -> Lead:
        spots = [
            spot for spot, at in self.rows.walked.met.spots.get(conductor, ()) if at == station and spot in self.here
        ]
        function: Fact = conductor.data["function"]
        does = str(function.value) if function.values else "function not known"
        does = {"ungrounded": "feed"}.get(does, does) + ("?" if function.values and function.kind != EXACT else "")
        state, _ = state_of(conductor)
        words = self._state(state, [conductor]) if not said else ""
        name = conductor.tag.removeprefix(f"{conductor.data['cable'].tag} ")
        end, opened = self._end(conductor, station) if not spots else ("", False)
        text = say(Bold(name), does, Bold(words), end, most=6)
        lead = Lead(
            self._text([text], LEFT - MARGIN - 14.0), list(dict.fromkeys(spots)), dashed or function.kind != EXACT
        )
        lead.symbol = "open" if opened else ""
        return lead

    def _end(self, conductor: Item, station: Station) -> tuple[str, bool]:
        """What an end under nothing is, and whether it can be live and is not capped."""
        if not isinstance(station, str):
            return "unbroken", False
        number = ("from", "to").index(station)
        state: Fact = conductor.data["ends"][number].data["state"]
        if not state.values:
            return f"not seen: {state.note}" if state.note != "not recorded" else "not recorded", may_be_live(conductor)
        capped = state.values[:1] in (("capped",), ("spliced",), ("landed",))
        return doubt_words(state), may_be_live(conductor) and not capped

    def _joint(self, joint: Item) -> Lead:
        members = self.record.joint_members[joint.tag]
        bonded = any(sort == "box" for sort, _ in members)
        connector = doubt_words(joint.data.get("connector")) or "connector not seen"
        words = say(Bold(tied(joint.tag)), connector, "and the box" if bonded else "", most=3)
        return Lead(
            self._text([words], self._right_room()),
            [joint],
            symbol="ground" if bonded else "",
            item=f"joint {joint.tag}",
        )

    def _device(self, device: Item) -> Iterator[Lead]:
        words = say(Bold(tied(device.tag)), device_words(device), most=5)
        flags = self._flags(self.rows.flags.at(device)) if device is not self.place else []
        kind = device_kind(device)
        yield Lead(
            self._text([words], self._right_room() - 2 * HALF - 3, flags),
            symbol=f"device {kind}",
            item=f"device {device.tag}",
        )
        for terminal in device.data["terminals"]:
            name = terminal.data["name"]
            spot: Spot = (device.tag, name)
            ways: list[Spot] = [spot] if self.rows.walked.met.at.get(spot) else []
            ways += [
                edge.to
                for edge in self.rows.walked.met.beside.get(spot, ())
                if edge.device is None and edge.to in self.here
            ]
            if ways:
                yield Lead(self._text([say(name.replace("_", " "))], self._right_room()), ways)

    def _right_room(self) -> float:
        return WIDE - MARGIN - 4.0 - (LEFT + CHANNEL)


def _spot_order(spot: Spot) -> tuple[object, ...]:
    if isinstance(spot, tuple):
        return (1, natural(spot[0]), spot)
    return (0, natural(spot.tag), (spot.tag, ""))


def draw(sheet: Sheet, inside: Inside, y: float) -> float:
    """Draw a place from a height on; give the height where it ends."""
    top = y + 4.0
    low = _heights(inside, top)
    sheet.open()
    sheet.named("item", inside.item)
    for lead in (*inside.left, *inside.right):
        if lead.item and lead.item != inside.item:
            sheet.named("ref" if lead.item.startswith("cable ") else "item", lead.item)
    if inside.outline != "open":
        sheet.box(LEFT, top, WIDE - LEFT - 1.0, low - top, dash=DASH if inside.outline == "unseen" else "", wide=1.4)
    _lines(sheet, inside)
    for lead in inside.left:
        _text_rows(sheet, lead, MARGIN if not _lined(lead) else MARGIN + 10.0)
    for lead in inside.right:
        _right(sheet, lead)
    sheet.close()
    return low + 4.0


def _lined(lead: Lead) -> bool:
    """Whether it is a conductor, and no heading."""
    return not lead.item


def _heights(inside: Inside, top: float) -> float:
    """Give every lead its height, no two lines at one; give the lower edge."""
    y, taken = top + 2.0, []
    for lead in inside.left:
        y += BETWEEN if not _lined(lead) else 0.0
        lead.y = y + lead.lines[0].step(SIZE) - SIZE * 0.36
        y += sum(row.step(SIZE) for row in lead.lines)
        if _lined(lead):
            taken.append(lead.y)
    low, y = y, top + 4.0
    for lead in inside.right:
        y += BETWEEN if lead.symbol.startswith("device ") else 0.0
        lead.y = y + lead.lines[0].step(SIZE) - SIZE * 0.36
        while any(abs(lead.y - other) < 2.5 for other in taken):
            lead.y += 1.0
            y += 1.0
        taken.append(lead.y)
        y += max(sum(row.step(SIZE) for row in lead.lines), 2 * HALF if lead.symbol.startswith("device ") else 0.0)
    return max(low, y) + 6.0


def _lines(sheet: Sheet, inside: Inside) -> None:
    """Uprights for joints and terminals, and the lines that reach them."""
    used = sorted({spot for lead in (*inside.left, *inside.right) for spot in lead.spots}, key=_spot_order)
    apart = min(9.0, (CHANNEL - 16.0) / max(1, len(used)))
    lane = {spot: LEFT + 10.0 + apart * number for number, spot in enumerate(used)}
    held: dict[Spot, list[Lead]] = {spot: [] for spot in used}
    for lead in (*inside.left, *inside.right):
        for spot in lead.spots:
            held[spot].append(lead)
    for spot, leads in held.items():
        heights = [lead.y for lead in leads]
        sheet.line(path((lane[spot], min(heights)), (lane[spot], max(heights))), wide=1.4)
    for lead in inside.left:
        if _lined(lead):
            start = MARGIN + 10.0 + lead.lines[0].wide + 3.0 if lead.lines else MARGIN
            end = max((lane[spot] for spot in lead.spots), default=LEFT + 4.0)
            sheet.line(path((start, lead.y), (end, lead.y)), dash=DASH if lead.dashed else "")
            if lead.symbol == "open":
                symbols.triangle(sheet, LEFT + 11.0, lead.y, 6.0)
            elif not lead.spots:
                symbols.open_end(sheet, LEFT + 4.0, lead.y, 3.5)
    right = LEFT + CHANNEL
    for lead in inside.right:
        if lead.spots:
            sheet.line(path((min(lane[spot] for spot in lead.spots), lead.y), (right - 2.0, lead.y)))
    for spot, leads in held.items():
        if len(leads) > 2 or not isinstance(spot, tuple):
            for lead in leads:
                symbols.splice(sheet, lane[spot], lead.y)


def _text_rows(sheet: Sheet, lead: Lead, x: float) -> None:
    y = lead.y + SIZE * 0.36
    for number, row in enumerate(lead.lines):
        y += row.step(SIZE) if number else 0.0
        draw_row(sheet, row, x, y)


def _right(sheet: Sheet, lead: Lead) -> None:
    x = LEFT + CHANNEL
    if lead.symbol.startswith("device "):
        sheet.box(x, lead.y - HALF, 2 * HALF, 2 * HALF, fill=PAPER, wide=0.6)
        symbols.device(sheet, lead.symbol.removeprefix("device "), x + HALF, lead.y, HALF - 1.5)
        x += 2 * HALF + 3.0
    elif lead.symbol == "ground":
        symbols.ground(sheet, x - 7.0, lead.y, 6.0)
    _text_rows(sheet, lead, x)
