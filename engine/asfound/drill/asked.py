"""Marking in conversation: what is asked, how a few words are understood. Reads and speaks through what it is given."""

from __future__ import annotations

from collections.abc import Callable
from contextlib import suppress

from asfound.data import data
from asfound.drill import text
from asfound.drill.answers import Answers, nearest, rule_or_topic, topics
from asfound.drill.exercise import Exercise
from asfound.drill.words import mark_words
from asfound.names import Names
from asfound.render.lines import cut, wrap

Ask = Callable[[str], "str | None"]
"""Puts a question and gives the line that was answered; None when no more will come."""
Say = Callable[[str], object]
_END = "q"


class Ended(Exception):
    """The trainee is done with marking."""


class Asker:
    """One conversation about one exercise."""

    def __init__(self, exercise: Exercise, ask: Ask, say: Say) -> None:
        self.exercise = exercise
        self._ask = ask
        self._say = say
        self.tags = Names(exercise.tags)
        self.marks: list[dict[str, str]] = []

    def ask(self, *, free: bool) -> Answers:
        """All of it. What was marked before the lines ended counts."""
        with suppress(Ended):
            if free:
                self._free()
            else:
                self._by_place()
        try:
            self._order()
            chosen = self._next()
        except Ended:
            chosen = None
        return Answers(tuple(self.marks), chosen)

    def say(self, words: str) -> None:
        """Speak in lines that fit; a text of several lines is taken to fit already."""
        self._say(words if "\n" in words else "\n".join(wrap(words, "", "  ")))

    def _line(self, question: str) -> str:
        line = self._ask(question)
        if line is None or line.lower() == _END:
            raise Ended
        return line

    def _by_place(self) -> None:
        self._say("")
        self.say("At each place: a few words for a danger, a topic, or Enter for nothing (more). q ends the marking.")
        for number, place in enumerate(self.exercise.places, 1):
            self.say(f"\n{text.place_text(place)}")
            while True:
                words = self._line(f"[{number} of {len(self.exercise.places)}] Danger here? ")
                if not words:
                    break
                self._mark(words, place.tag, place.tags)

    def _free(self) -> None:
        self.say(f"\n{text.record_text(self.exercise)}\n")
        self.say("Name a tag, then the danger. Enter or q ends the marking.")
        while True:
            given = self._line("Tag? ")
            if not given:
                return
            tag = self._tag(given, ())
            if tag:
                words = self._line(f"Danger at {cut(tag, 60)}? ")
                if words:
                    self._mark(words, tag, (tag,))

    def _mark(self, words: str, tag: str, here: tuple[str, ...]) -> None:
        """Make one mark from a few words for the danger; ask which is meant, where, and how grave."""
        what = self._what(words, here)
        if not what:
            return
        if len(here) > 1:
            self.say(f"Here are: {', '.join(here)}.")
            given = self._line(f"At which tag? (Enter: {cut(tag, 40)}) ")
            tag = (self._tag(given, here) if given else tag) or tag
        mark = {"at": tag, "what": what, "grade": self._grade()}
        self.marks.append(mark)
        self.say(f"Marked {len(self.marks)}: {mark_words(self.exercise, mark)}.")

    def _what(self, words: str, here: tuple[str, ...]) -> str:
        known = rule_or_topic(words, self.exercise)
        if known:
            return known
        near = nearest(words, self.exercise, here)
        if not near:
            self.say(f"Nothing is called so. Topics: {', '.join(topics(self.exercise))}.".replace("_", " "))
            return ""
        return self._pick([title for _, title in near], [name for name, _ in near])

    def _tag(self, given: str, here: tuple[str, ...]) -> str:
        if given in self.tags:
            return given
        low = [tag for tag in (*here, *self.exercise.tags) if tag.lower().startswith(given.lower())]
        near = list(dict.fromkeys(low or self.tags.close(given)))[:8]
        if not near:
            self.say(f"There is no tag {given!r}; {self.tags.hint(given)}.")
            return ""
        return near[0] if len(near) == 1 else self._pick(near, near)

    def _pick(self, shown: list[str], meant: list[str]) -> str:
        for number, one in enumerate(shown, 1):
            self._say("\n".join(wrap(f"{number}. {one}", "  ", "     ")))
        given = self._line("Which number? (Enter: none of these) ")
        return meant[int(given) - 1] if given.isascii() and given.isdigit() and 1 <= int(given) <= len(meant) else ""

    def _grade(self) -> str:
        grades = list(data("grades")["grades"])
        listed = ", ".join(f"{number} {grade}" for number, grade in enumerate(grades, 1))
        given = self._line(f"Grade: {listed}; Enter leaves it open: ")
        if given in grades:
            return given
        return grades[int(given) - 1] if given in ("1", "2", "3", "4") else ""

    def _order(self) -> None:
        if len(self.marks) < 2:
            return
        self.say(f"\n{text.marks_text(self.exercise, self.marks)}")
        given = self._line("Worst first, by number, such as 2 1 3 (Enter: as listed): ")
        numbers = [int(one) for one in given.replace(",", " ").split() if one.isascii() and one.isdigit()]
        order = [one - 1 for one in dict.fromkeys(numbers) if 1 <= one <= len(self.marks)]
        self.marks = [self.marks[n] for n in (*order, *(n for n in range(len(self.marks)) if n not in order))]

    def _next(self) -> int | None:
        if not self.exercise.checks:
            return None
        self.say(f"\n{text.checks_text(self.exercise)}")
        given = self._line("Which number? (Enter leaves it open) ")
        valid = given.isascii() and given.isdigit() and 1 <= int(given) <= len(self.exercise.checks)
        return int(given) if valid else None
