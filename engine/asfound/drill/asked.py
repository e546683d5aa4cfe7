"""Marking in conversation: what is asked, how a few words are understood. Reads and speaks through what it is given."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from contextlib import suppress

from asfound.data import data
from asfound.drill import text
from asfound.drill.answers import Answers, nearest, rule_or_topic, tag_in_words, tag_of, topics, usual_tag
from asfound.drill.exercise import Exercise
from asfound.drill.near import in_order
from asfound.drill.score import OTHER
from asfound.drill.words import mark_words
from asfound.names import Names
from asfound.render.lines import cut, wrap

Ask = Callable[[str], "str | None"]
"""Puts a question and gives the line that was answered; None when no more will come."""
Say = Callable[[str], object]
Keep = Callable[[Answers], object]
"""Is given the answers as they are after every change of them."""

HELP = (
    "Commands at any question: ? or help shows this, list shows your marks, undo takes the last mark out, back goes "
    "back, q ends the marking and goes on to order, next check and score. What nobody calls so can be marked in your "
    "own words; it goes to the trainer."
)


class Ended(Exception):
    """The trainee is done with marking."""


class Stopped(Exception):
    """No more lines will come; nothing is to be scored."""


class Back(Exception):
    """The trainee wants to go back."""


class Asker:
    """One conversation about one exercise, begun anew or gone on with from answers that were kept."""

    def __init__(
        self, exercise: Exercise, ask: Ask, say: Say, keep: Keep = lambda answers: None, begun: Answers | None = None
    ) -> None:
        self.exercise = exercise
        self._ask = ask
        self._say = say
        self._keep = keep
        self.tags = Names(exercise.tags)
        self.marks: list[dict[str, str]] = [dict(one) for one in begun.marks] if begun else []
        self.reached = min(begun.reached, len(exercise.places)) if begun else 0
        self.by = begun.by if begun else ""

    def ask(self, *, free: bool) -> Answers:
        """All of it. Raises `Stopped` when the lines end before the trainee is done; what was marked is kept."""
        self.say(f"\n{text.how_text(self.exercise)}\n")
        self.say(HELP)
        if self.marks:
            self.say(f"\nMarked so far:\n{text.marks_text(self.exercise, self.marks)}")
        self._changed()
        with suppress(Ended):
            if free:
                self._free()
            else:
                self._by_place()
        chosen = None
        with suppress(Ended, Back):
            self._order()
        with suppress(Ended, Back):
            chosen = self._next()
        return self._answers(chosen)

    def _answers(self, chosen: int | None = None) -> Answers:
        return Answers(tuple(self.marks), chosen, self.by, self.reached)

    def _changed(self) -> None:
        self._keep(self._answers())

    def say(self, words: str) -> None:
        """Speak in lines that fit; a text of several lines is taken to fit already."""
        self._say(words if "\n" in words else "\n".join(wrap(words, "", "  ")))

    def _line(self, question: str) -> str:
        """The next line that is no command."""
        while True:
            line = self._ask(question)
            if line is None:
                raise Stopped
            said = line.lower().strip()
            if said == "q":
                raise Ended
            if said == "back":
                raise Back
            if said in ("?", "help"):
                self.say(f"{text.how_text(self.exercise)}\n")
                self.say(HELP)
            elif said == "undo":
                self._undo()
            elif said == "list":
                self.say(text.marks_text(self.exercise, self.marks) or "Nothing is marked yet.")
            else:
                return line

    def _undo(self) -> None:
        if not self.marks:
            self.say("Nothing is marked yet.")
            return
        self.say(f"Taken out: {mark_words(self.exercise, self.marks.pop())}.")
        self._changed()

    def _by_place(self) -> None:
        self._say("")
        self.say("At each place: a few words for a danger, or a topic; a tag among them says where. Enter goes on.")
        places = self.exercise.places
        number = self.reached
        while number < len(places):
            place = places[number]
            self.say(f"\n{text.place_text(place)}")
            step = self._at_place(number, place.tag, place.tags)
            number = max(0, number + step)
            if number > self.reached:
                self.reached = number
                self._changed()

    def _at_place(self, number: int, tag: str, tags: tuple[str, ...]) -> int:
        """Ask at one place until nothing more is there; how many places to go on from it."""
        while True:
            try:
                words = self._line(f"[{number + 1} of {len(self.exercise.places)}] Danger here? ")
            except Back:
                return -1
            if not words:
                return 1
            with suppress(Back):
                self._mark(words, tag, tags)

    def _free(self) -> None:
        self.say(f"\n{text.record_text(self.exercise)}\n")
        self.say("Name a tag, then the danger. Enter or q ends the marking.")
        while True:
            with suppress(Back):
                given = self._line("Tag? ")
                if not given:
                    return
                tag = self._tag(given, ())
                if tag:
                    words = self._line(f"Danger at {cut(tag, 60)}? ")
                    if words:
                        self._mark(words, tag, (tag,))

    def _mark(self, words: str, place: str, here: tuple[str, ...]) -> None:
        """Make one mark from a few words for the danger; ask which is meant, where, and how grave."""
        known = rule_or_topic(words, self.exercise)
        tag, rest = ("", words) if known else tag_in_words(words, here, self.exercise.tags)
        what, said = (known, "") if known else self._what(rest, (tag,) if tag else here)
        if not what:
            return
        tag = tag or self._where(what, place, here)
        mark = {"at": tag, "what": what, "grade": self._grade()}
        if said:
            mark["said"] = said
        self.marks.append(mark)
        self._changed()
        self.say(f"Marked {len(self.marks)}: {mark_words(self.exercise, mark)}.")

    def _where(self, what: str, place: str, here: tuple[str, ...]) -> str:
        """The tag of a mark. A panel is never taken for granted for what is in it."""
        if len(here) == 1:
            return here[0]
        usual = usual_tag(what, place, here, self.exercise)
        self.say(f"Here are: {', '.join(here)}.")
        while True:
            given = self._line(f"At which tag? {f'(Enter: {cut(usual, 40)}) ' if usual else ''}")
            tag = self._tag(given, here) if given else usual
            if tag:
                return tag
            if not given:
                self.say("Name one of them; back drops this mark.")

    def _what(self, words: str, here: tuple[str, ...]) -> tuple[str, str]:
        """The kind that is meant, and the trainee's own words where that is no kind; empty when it was dropped."""
        known = rule_or_topic(words, self.exercise)
        if known:
            return known, ""
        near = nearest(words, self.exercise, here)
        if not near:
            self.say(f"Nothing is called so. Topics: {', '.join(topics(self.exercise))}.".replace("_", " "))
            given = self._line("Keep it in your own words for the trainer? (y; Enter: no) ")
            if given.lower() in ("y", "yes"):
                return OTHER, words
            self.say(f'Not marked: "{words}".')
            return "", ""
        names = [*(name for name, _ in near), OTHER]
        what = self._pick([*(title for _, title in near), "something else, in my own words"], names, words)
        return what, words if what == OTHER or what in topics(self.exercise) else ""

    def _tag(self, given: str, here: tuple[str, ...]) -> str:
        whole = tag_of(given, self.exercise)
        if whole:
            return whole
        low = [tag for tag in (*here, *self.exercise.tags) if tag.lower().startswith(given.lower())]
        near = list(dict.fromkeys(low or self.tags.close(given)))[:8]
        if not near:
            self.say(f"There is no tag {given!r}. {in_order(given, self.exercise.tags)}.")
            return ""
        return near[0] if len(near) == 1 else self._pick(near, near, given)

    def _pick(self, shown: list[str], meant: list[str], words: str) -> str:
        """One of several by its number; empty, and said so, when it is none of them."""
        for number, one in enumerate(shown, 1):
            self._say("\n".join(wrap(f"{number}. {one}", "  ", "     ")))
        number = self._number("Which number? (Enter: none of these) ", len(meant))
        if number:
            return meant[number - 1]
        self.say(f'Not marked: "{words}". Say it in other words, or go on with Enter.')
        return ""

    def _number(self, question: str, most: int) -> int:
        """A number from 1 to `most`, or 0 for Enter; other lines are asked again."""
        while True:
            given = self._line(question)
            if not given:
                return 0
            if given.isascii() and given.isdigit() and 1 <= int(given) <= most:
                return int(given)
            self.say(f"Write a number from 1 to {most}, or Enter.")

    def _grade(self) -> str:
        grades = list(data("grades")["grades"])
        listed = ", ".join(f"{number} {grade}" for number, grade in enumerate(grades, 1))
        while True:
            given = self._line(f"Grade: {listed}; Enter leaves it open: ")
            if given in ("", *grades):
                return given
            if given in ("1", "2", "3", "4"):
                return str(grades[int(given) - 1])
            self.say("Write a number from 1 to 4, or Enter; ? says what they mean.")

    def _order(self) -> None:
        if len(self.marks) < 2:
            return
        self.say(f"\n{text.marks_text(self.exercise, self.marks)}")
        given = self._line("Worst first, by number, such as 2 1 3 (Enter: as listed): ")
        order = _numbers(given.replace(",", " ").split(), len(self.marks))
        self.marks = [self.marks[n] for n in (*order, *(n for n in range(len(self.marks)) if n not in order))]
        self._changed()

    def _next(self) -> int | None:
        if not self.exercise.checks:
            return None
        self.say(f"\n{text.checks_text(self.exercise)}")
        chosen = self._number("Which number? (Enter leaves it open) ", len(self.exercise.checks))
        if chosen:
            self.say(f"{text.check_text(self.exercise, chosen, 'Chosen')}\n")
            self._keep(self._answers(chosen))
        return chosen or None


def _numbers(words: Iterable[str], most: int) -> Mapping[int, None]:
    """The numbers from 1 to `most` in a line, each once, counted from 0."""
    given = (int(one) for one in words if one.isascii() and one.isdigit())
    return dict.fromkeys(one - 1 for one in given if 1 <= one <= most)
