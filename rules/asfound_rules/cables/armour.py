"""Armoured cable of early years."""

from __future__ import annotations

from asfound.authoring import only_if, rule
from asfound_rules.observed import noted

STRIP = "armour that serves as a ground"


@rule(
    "early-armoured-cable",
    of="cable",
    severity="negligible",
    likelihood="occasional",
    caution="Notice: what hangs on this armour may not be grounded. Take its metal for not grounded until a qualified "
    "person has tested the armour.",
    defer="Whether such armour may serve as a ground is for the adopted local code and a licensed electrician.",
    source="NFPA 70 (NEC) 1959 edition on type AC, the bonding strip; UL 4",
    basis="from memory",
)
def early_armoured_cable(cable, tables):
    """Armoured cable is from before its armour had a bonding strip.

    A remark: the cable is no defect. Some makers had the strip earlier; it lies
    bare under the armour at a cut end. Speaks only where the year of the cable
    itself was noted.
    """
    year = noted(cable, "installed")
    method = noted(cable, "method")
    only_if(tables.has(STRIP, method))
    first = tables.value(STRIP, method)
    if year < first:
        yield (
            f"{cable} is {method} of {year:g}; armour from before {first} may have no bonding strip and is tested "
            "before it serves as a ground."
        )
