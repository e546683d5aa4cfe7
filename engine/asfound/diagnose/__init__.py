"""What is wrong where readings look odd: every condition that fits them, the worst first.

    found = diagnose(installation)
    installation.items["probe"] = probes(found)

The circuit around the place read is solved under every condition of
data/faults.yaml at every point where it can be; whatever agrees with all
readings of one place and moment within the accuracy of the instruments is
listed. Nothing is ever called safe, proven or dead here. numpy is loaded only
when there are readings to diagnose.
"""

from __future__ import annotations

from asfound.diagnose.probes import probes
from asfound.diagnose.results import Diagnosis, Fit, NextReading, Outcome, Touch, said
from asfound.trace import Installation

__all__ = ["Diagnosis", "Fit", "NextReading", "Outcome", "Touch", "diagnose", "probes", "said"]


def diagnose(installation: Installation) -> list[Diagnosis]:
    """One diagnosis for each place and moment that was read; changes nothing in the installation."""
    if not any(_readable(reading) for reading in installation.record.readings):
        return []
    from asfound.diagnose.work import diagnoses

    return diagnoses(installation)


def _readable(reading: object) -> bool:
    """Whether a reading has a value that is compared."""
    data = getattr(reading, "data", {})
    kind = data["kind"].value
    return (
        kind in ("voltage", "resistance", "continuity") and not data["known_source"].value and len(data["points"]) == 2
    )
