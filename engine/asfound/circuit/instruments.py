"""What an instrument does to what it measures, and how far its figure can be off.

Figures by type, with their sources, are in data/circuit.yaml. A maker's statement in the
record goes before them where it can be read.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Any, Final

from asfound.data import data

VOLTS: Final = "volts"
OHMS: Final = "ohms"
AMPS: Final = "amps"

_STATED = re.compile(
    r"""\(?\s* (?: (?:±|\+/-|\+-) \s* \(? )? \s*
    (?P<percent> [0-9]+(?:[.,][0-9]+)? ) \s* % \s* (?: (?:of\s+)? (?:the\s+)? (?:reading|rdg\.?) )? \s*
    (?: \+ \s* (?P<digits> [0-9]+ ) \s* (?: d | dgts?\.? | digits? | counts? | lsd )? )? \s* \)?""",
    re.VERBOSE | re.IGNORECASE,
)
_FIGURE = re.compile(r"(?<![\w.])[0-9]+(?:\.(?P<places>[0-9]+))?\s*(?P<unit>mV|V|kohm|Mohm|ohm|mA|A)\b")
_UNITS: Final = {"V": 1.0, "mV": 1e-3, "ohm": 1.0, "kohm": 1e3, "Mohm": 1e6, "A": 1.0, "mA": 1e-3}


@dataclass(frozen=True, slots=True)
class Accuracy:
    """Part of the reading, and how many of its last digit besides."""

    percent: float
    digits: int = 0

    def half_width(self, value: float, step: float) -> float:
        """How far the true value can be from the one shown, whose last digit is one `step`.

        Never less than half the last digit, which may have been rounded when it was written down.
        """
        return abs(value) * self.percent / 100 + max(float(self.digits), 0.5) * step


@dataclass(frozen=True, slots=True)
class Instrument:
    """An instrument as far as the record tells.

    ohms      input resistances to think of when it measures volts; none when it has no leads
    least     the least and `most` the most that instruments of its kind have
    stated    accuracy that its maker states, for every quantity; else the habit of its kind is used
    """

    kind: str
    ohms: tuple[float, ...]
    least: float
    most: float
    stated: Accuracy | None = None

    def accuracy(self, quantity: str) -> Accuracy:
        """Accuracy for volts, ohms or amps. A kind that should not give this quantity has that of an unknown one."""
        if self.stated is not None:
            return self.stated
        usual = _figures(self.kind).get("accuracy", {}).get(quantity) or _figures("")["accuracy"][quantity]
        understood = stated_accuracy(usual)
        assert understood is not None, usual
        return understood

    def half_width(self, quantity: str, value: float, written: str) -> float:
        """How far the true volts, ohms or amps can be from the `value` that was read, written as `written`.

        Ohms take in what the leads add. Raises `ValueError` when `written` has no number with a unit.
        """
        off = self.accuracy(quantity).half_width(value, step(written))
        return off + float(data("circuit")["leads_ohms"]) if quantity == OHMS else off

    def shows(self, open_volts: complex, impedance: complex) -> tuple[float, float]:
        """The least and the most it would show of volts behind an impedance, over all inputs of its kind.

        Behind a small impedance they are the same. Raises `ValueError` for an instrument without leads.
        """
        if not self.ohms:
            raise ValueError(f"a {self.kind} has no leads to measure volts with")
        return shown(open_volts, impedance, self.least), shown(open_volts, impedance, self.most)


def instrument(kind: str = "", accuracy: str = "") -> Instrument:
    """The instrument of a type of the record, `""` when it is not recorded, with its accuracy if its maker states one.

    An accuracy that cannot be read is passed over. Raises `KeyError` for a type that no record has.
    """
    figures = _figures(kind)
    least, most = figures.get("range", (0.0, 0.0))
    return Instrument(kind, tuple(figures.get("ohms", ())), least, most, stated_accuracy(accuracy))


def stated_accuracy(text: str) -> Accuracy | None:
    """Read "1 % + 3 digits", "±(0.5%+2)" or "2 %"; None when anything else stands there too."""
    found = _STATED.fullmatch(text.strip())
    if found is None:
        return None
    return Accuracy(float(found["percent"].replace(",", ".")), int(found["digits"] or 0))


def step(written: str) -> float:
    """One of the last digit written, in volts, ohms or amps: 1 for "121 V", 0.1 for "121.4 V", 10 for "0.12 kohm".

    Of several figures the coarsest counts. Raises `ValueError` when there is none with a unit.
    """
    found = [_UNITS[one["unit"]] * 10.0 ** -len(one["places"] or "") for one in _FIGURE.finditer(written)]
    if not found:
        raise ValueError(f"{written!r} is no number with a unit; write it as the instrument showed it, such as 121 V")
    return max(found)


def shown(open_volts: complex, impedance: complex, meter_ohms: float) -> float:
    """What a meter of this input resistance shows where it sees these volts behind this impedance."""
    return abs(open_volts * meter_ohms / (meter_ohms + impedance))


def _figures(kind: str) -> dict[str, Any]:
    held = data("circuit")
    figures: dict[str, Any] = held["instruments"][kind] if kind else held["unknown instrument"]
    return figures
