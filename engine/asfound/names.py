"""Known names: which one a misspelt name means, and a short list of them for a sentence."""

from __future__ import annotations

import bisect
import difflib
from collections.abc import Iterable

SHOWN = 12
"""Names listed in one sentence at most."""
_COMPARED = 100
"""Up to so many names each is compared with the misspelt one; beyond it an index of slips of one letter is used."""


class Names:
    """The names known in one place of a record. Built when first asked; asking costs little however many there are."""

    __slots__ = ("_answers", "_index", "_known", "_listed", "_ordered")

    def __init__(self, names: Iterable[str]) -> None:
        self._known = dict.fromkeys(names)
        self._listed = list(self._known)
        self._answers: dict[str, list[str]] = {}
        self._index: dict[str, list[int]] | None = None
        self._ordered: list[tuple[str, int]] = []

    def __len__(self) -> int:
        return len(self._listed)

    def __contains__(self, name: object) -> bool:
        return name in self._known

    def close(self, word: str) -> list[str]:
        """The names that `word` can be a slip for, nearest first; case does not count."""
        key = word.lower()[:200]
        if key not in self._answers:
            few = len(self._listed) <= _COMPARED
            self._answers[key] = self._compared(key) if few else self._one_letter_off(key)
        return self._answers[key]

    def hint(self, word: str, kind: str = "known here") -> str:
        """The next step for a name that is not known: the likely one, and some of those that are."""
        if not self._listed:
            return "none is defined yet; add it first"
        close = self.close(word)
        rest = self._beside(word.lower()[:200]) if len(self._listed) > _COMPARED else self._listed
        shown = list(dict.fromkeys([*close[:SHOWN], *rest]))[:SHOWN]
        more = len(self._listed) - len(shown)
        names = ", ".join(name if name.isprintable() else repr(name)[1:-1] for name in shown)
        listed = f"{names} and {more} more" if more else names
        if not close:
            return f"{kind}: {listed}"
        if len(self._listed) == 1:
            return f"did you mean {close[0]!r}, the only one known here"
        return f"did you mean {close[0]!r}? {kind[:1].upper()}{kind[1:]}: {listed}"

    def _compared(self, key: str) -> list[str]:
        alike = [name for name in self._listed if difflib.get_close_matches(key, [name.lower()], cutoff=0.6)]
        return self._ranked(key, alike)

    def _one_letter_off(self, key: str) -> list[str]:
        """Names that differ by a letter too many, too few, wrong or changed with its neighbour."""
        if self._index is None:
            self._index = {}
            for number, name in enumerate(self._listed):
                for form in _without_one(name.lower()):
                    self._index.setdefault(form, []).append(number)
        found = sorted({number for form in _without_one(key) for number in self._index.get(form, ())})
        return self._ranked(key, [self._listed[number] for number in found])

    @staticmethod
    def _ranked(key: str, names: list[str]) -> list[str]:
        """Nearest first; of two as near, the one made of the same letters, then the earlier."""

        def distance(name: str) -> tuple[float, bool]:
            lower = name.lower()
            return -difflib.SequenceMatcher(None, key, lower).ratio(), sorted(lower) != sorted(key)

        return sorted(names, key=distance)[:SHOWN]

    def _beside(self, key: str) -> list[str]:
        """Names that stand near `key` in the alphabet."""
        if not self._ordered:
            self._ordered = sorted((name.lower(), number) for number, name in enumerate(self._listed))
        at = bisect.bisect_left(self._ordered, (key, 0))
        start = max(0, min(at - SHOWN // 2, len(self._ordered) - SHOWN))
        return [self._listed[number] for _, number in self._ordered[start : start + SHOWN]]


def _without_one(name: str) -> set[str]:
    """The name, and the name with any one letter left out."""
    return {name, *(name[:i] + name[i + 1 :] for i in range(len(name)))}
