"""The label schedule: what to write on each end of each cable, in the order in which a person walks.

A label outlives the day it is written on. None says that anything is dead, off
or safe: what is not proven dead is marked to be treated as live, and what was
proven on one day is marked to be tested. What is not certain is said in words.
Labels take tags and fixed words only, never other text of a record.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from asfound.record.facts import EXACT, Item
from asfound.render.factwords import cable_words
from asfound.render.lines import WIDTH, cells, cut, pad, plain, rule_line, wrap
from asfound.render.rows import Rows, cable_state, likely_live, place_name, worst
from asfound.render.spot import leads_to_words
from asfound.render.values import Trace
from asfound.trace.beyond import Beyond, beyond
from asfound.trace.nets import in_order, pole_order
from asfound.trace.state import DEAD, LIVE, TREAT
from asfound.trace.walk import Run, may_be_live
from asfound.wording import joined, quoted_list

FLAG = 40
"""Characters that a flag on a cable takes."""
MARK = {LIVE: "LIVE", TREAT: "TREAT AS LIVE", DEAD: "TEST BEFORE TOUCH"}
MOST = 6
_TAG_AT_LEAST = 8
SIDES = ("from", "to")


@dataclass(slots=True)
class Label:
    """What to write on one end of a cable.

    `short` fits a flag of `FLAG` characters, `full` says the rest. `at` is the
    place of the end, `start` and `to` are where the cable comes from and goes
    to; each is empty when nobody knows it. `breakers` feed it; `beside` feed other conductors of the same cable;
    `also_fed_by` feed the same conductors from a second place. `uncertain`
    names what of this is not certain.
    """

    cable: str
    end: str
    at: str
    lands: list[str]
    start: str
    to: str
    breakers: list[str]
    beside: list[str]
    also_fed_by: list[str]
    can_be_fed_by: list[str]
    elsewhere: bool
    leads_to: list[str]
    more: int
    open: bool
    again: bool
    state: str
    uncertain: list[str]
    short: str
    full: str


def labels(rows: Rows, trace: Trace) -> list[Label]:
    """A label for each end of each cable: panels first, then place by place along the trees; last the ends that nobody
    found."""
    lies = beyond(rows.walked)
    at: dict[str, list[tuple[Item, str]]] = {}
    for cable in sorted(rows.record.cables.values(), key=in_order):
        for side, place in cable.data["sides"].items():
            at.setdefault("" if place is None else place.tag, []).append((cable, side))
    order = dict.fromkeys(_places(trace))
    order.update(dict.fromkeys(sorted(at, key=lambda tag: (not tag, tag))))
    order.pop("", None)
    found = []
    for tag in (*order, ""):
        ends = at.get(tag, [])
        if tag in rows.record.panels:
            ends = sorted(ends, key=lambda end: _landing_order(rows, *end))
        found += [_label(rows, lies, cable, side) for cable, side in ends]
    return found


def _places(trace: Trace) -> Iterator[str]:
    circuits = {circuit.circuit: circuit for circuit in trace.circuits}
    for panel in trace.panels:
        yield panel.panel
        for tag in panel.circuits:
            for line in circuits[tag].lines:
                if line.kind in ("cable", "at") and line.to is not None:
                    yield line.to.place
    for group in trace.groups:
        for line in group.lines:
            for spot in (line.start, line.to):
                if line.kind != "device" and spot is not None:
                    yield spot.place


def _landing_order(rows: Rows, cable: Item, side: str) -> tuple[object, ...]:
    place = cable.data["sides"][side]
    poles = [(panel.tag, spot) for one in cable.data["conductors"] for panel, spot in rows.landing.get(one, ())
             if panel is place and (panel.tag, spot) in rows.record.poles]  # fmt: skip
    return not poles, pole_order(min(poles, key=pole_order)) if poles else (), in_order(cable)


def _label(rows: Rows, lies: dict[Run, Beyond], cable: Item, side: str) -> Label:
    sides = cable.data["sides"]
    other = sides[SIDES[1 - SIDES.index(side)]]
    place = sides[side]
    run = rows.walked.whole.get(cable)
    start = run.start if run is not None and isinstance(run.start, str) else "from"
    far = lies[run] if run is not None else Beyond()
    feed = _feed(rows, cable, run)
    state = cable_state(run) if run is not None else worst(cable.data["conductors"])
    words = cable_words(cable)
    uncertain = [
        word
        for word, doubtful in (
            ("breaker", feed.doubtful), ("size or type", "?" in words or " or " in words or "not seen" in words),
            ("other end", other is None), ("what it leads to", far.open), ("this end", place is None),
        )
        if doubtful
    ]  # fmt: skip
    made = Label(
        cable=cable.tag, end=side, at=place_name(place), lands=_lands(rows, cable, side),
        start=place_name(sides[start]), to=place_name(sides[SIDES[1 - SIDES.index(start)]]), breakers=feed.breakers,
        beside=feed.beside, also_fed_by=feed.also, can_be_fed_by=feed.can, elsewhere=feed.elsewhere,
        leads_to=far.devices, more=far.count - len(far.devices), open=far.open, again=far.again,
        state=state, uncertain=uncertain, short="", full="",
    )  # fmt: skip
    made.short = _short(made, feed)
    made.full = _full(made, feed, words)
    return made


@dataclass(slots=True)
class _Feed:
    """What feeds the conductors of a cable that can be live. `untraced` are not traced, nor are `pale` ones, which do
    the work of a neutral by colour or terminal; `none` when there is no conductor that can be live."""

    breakers: list[str]
    beside: list[str]
    also: list[str]
    can: list[str]
    elsewhere: bool
    untraced: list[str]
    pale: list[str]
    none: bool

    @property
    def doubtful(self) -> bool:
        return bool(self.untraced or self.pale or self.can or self.elsewhere) or not (self.breakers or self.none)


def _feed(rows: Rows, cable: Item, run: Run | None) -> _Feed:
    live = [one for one in cable.data["conductors"] if may_be_live(one) or _is_fed(one)]
    likely = [one for one in live if likely_live(one)] or live
    circuit = run.branch.circuit if run is not None else None
    own = {breaker.tag: None for breaker in circuit.data["breakers"].value} if circuit is not None else {}
    breakers: dict[str, None] = {}
    beside: dict[str, None] = {}
    also: dict[str, None] = {}
    can: dict[str, None] = {}
    elsewhere = not cable.data["conductors"]
    untraced: list[str] = []
    pale: list[str] = []
    for conductor in live:
        fed_by = conductor.data["net"].data["fed_by"]
        feed = rows.feeds([conductor])[0]
        if fed_by.kind != EXACT:
            (untraced if conductor in likely else pale).append(conductor.tag.rpartition(" ")[2])
        else:
            mine = [tag for tag in feed.certain if tag in own] or feed.certain[:1]
            (breakers if not own or (mine[:1] and mine[0] in own) else beside).update(dict.fromkeys(mine))
            also.update(dict.fromkeys(tag for tag in feed.certain if tag not in mine))
        if conductor in likely:
            can.update(dict.fromkeys(feed.can_be))
            elsewhere = elsewhere or feed.elsewhere
    for tag in (*breakers, *beside):
        also.pop(tag, None)
        can.pop(tag, None)
    none = bool(cable.data["conductors"]) and not live
    return _Feed(list(breakers), list(beside), list(also), list(can), elsewhere, untraced, pale, none)


def _is_fed(conductor: Item) -> bool:
    """Whether a breaker reaches it, whatever else it does."""
    fed_by = conductor.data["net"].data["fed_by"]
    return bool(fed_by.kind == EXACT and fed_by.value)


def _lands(rows: Rows, cable: Item, side: str) -> list[str]:
    """Where its conductors land in the panel at this end."""
    place = cable.data["sides"][side]
    if place is None or place.kind != "panel":
        return []
    return [f"{one.tag.rpartition(' ')[2]} on {spot}" for one in cable.data["conductors"]
            for panel, spot in rows.landing.get(one, ()) if panel is place]  # fmt: skip


def _short(label: Label, feed: _Feed) -> str:
    """The longest wording that fits; the mark at its end is never left out."""
    mark, tag = MARK[label.state], plain(label.cable)
    wordings = list(_feed_wordings(label, feed))
    for words in wordings:
        text = f"{tag} {words} {mark}"
        if cells(text) <= FLAG:
            return text
    rest = f"{wordings[-1]} {mark}"
    if cells(rest) > FLAG - _TAG_AT_LEAST - 1:
        rest = mark
    return f"{cut(tag, FLAG - 1 - cells(rest))} {rest}"


def _feed_wordings(label: Label, feed: _Feed) -> Iterator[str]:
    """What feeds the cable, from the longest wording to the shortest."""
    every = [*label.breakers, *label.beside, *label.also_fed_by]
    if every and feed.untraced:
        yield f"{' + '.join(every)} AND NOT TRACED"
        yield "NOT ALL TRACED"
    elif every and (label.can_be_fed_by or label.elsewhere):
        yield f"{' + '.join(every)} AND PERHAPS MORE"
        yield "NOT CERTAIN WHICH BREAKER"
    elif every and label.also_fed_by:
        yield f"{' + '.join((*label.breakers, *label.beside))} ALSO FED BY {', '.join(label.also_fed_by)}"
        yield f"FED BY {len(every)} BREAKERS"
    elif every:
        yield " + ".join(every)
        yield f"{len(every)} BREAKERS" if len(every) > 1 else "SEE SCHEDULE"
    elif feed.none:
        yield "GROUND OR RETURN"
    elif not feed.untraced and not label.elsewhere:
        yield "NO BREAKER FOUND"
    else:
        yield "BREAKER NOT TRACED"
        yield "NOT TRACED"


def _full(label: Label, feed: _Feed, words: str) -> str:
    """Everything, what is not certain in words."""
    said = [f"From {label.start or 'a place not seen'} to {label.to or 'a place not seen'}"]
    said.append(f"{words}{', size or type not certain' if 'size or type' in label.uncertain else ''}")
    if label.lands:
        said.append(f"Lands: {joined(label.lands)}")
    said += _feed_sentences(label, feed)
    said.append(leads_to_words(label.leads_to, label.more, label.open, label.again))
    said.append({LIVE: "Read live", TREAT: "Treat as live", DEAD: "Test before touching"}[label.state])
    return ". ".join(one[0].upper() + one[1:] for one in said) + "."


def _feed_sentences(label: Label, feed: _Feed) -> Iterator[str]:
    if label.breakers:
        yield f"Breaker {quoted_list(label.breakers, MOST)}"
    if label.beside:
        yield f"Another conductor in it: breaker {quoted_list(label.beside, MOST)}"
    if label.also_fed_by:
        yield f"ALSO FED BY {quoted_list(label.also_fed_by, MOST)}"
    can = [quoted_list(label.can_be_fed_by, MOST)] if label.can_be_fed_by else []
    can += ["something not recorded"] if label.elsewhere else []
    of = f" of {joined(feed.untraced)}" if label.breakers or label.beside else ""
    if feed.untraced or (can and not (label.breakers or label.beside)):
        yield f"Breaker{of} not traced{f'; can be {_either(can)}' if can else ''}"
    elif can:
        yield f"Not certain: can also be fed by {_either(can)}"
    if feed.pale:
        yield f"{joined(feed.pale)} not traced; a neutral only by colour or terminal"
    if feed.none:
        yield "No conductor in it is ungrounded by the record"
    elif not (label.breakers or label.beside or feed.untraced or can):
        yield "No breaker found"


def _either(words: Iterable[str]) -> str:
    return " or ".join(words)


# -- text


def schedule_text(made: list[Label]) -> str:
    """The schedule as text: the short line at the left, the full one beside it."""
    lines = [
        rule_line("LABELS"),
        *wrap(
            f"Left: what fits a flag of {FLAG} characters. Right: the full label. Of a cable whose breaker is not "
            "traced the label says so. A label proves nothing: test at the cable, every time."
        ),
    ]
    at: str | None = None
    for label in made:
        if label.at != at:
            at = label.at
            lines += ["", *wrap(f"At {at}" if at else "Ends that nobody found: label them when they are found")]
        lines += _beside(label.short, label.full)
    return "\n".join(lines)


def _beside(short: str, full: str) -> Iterator[str]:
    left = [*wrap(short, "  ", "  ", FLAG + 2)]
    right = wrap(full, "", "", WIDTH - FLAG - 4)
    for number in range(max(len(left), len(right))):
        one = left[number] if number < len(left) else ""
        two = right[number] if number < len(right) else ""
        yield f"{pad(one, FLAG + 2)}  {two}".rstrip()
