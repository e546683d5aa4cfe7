"""One neutral for more than one circuit."""

from __future__ import annotations

from asfound.authoring import Defect, names, only_if, rule


@rule(
    "neutral-of-two-circuits",
    of="net",
    severity="catastrophic",
    likelihood="occasional",
    caution="Danger: with one breaker off this neutral can still carry the other circuit's current, and opened it can stand "
    "at line voltage. Open every breaker named here before loosening any neutral.",
    defer="A multiwire circuit whose breakers open together is lawful; the edition adopted locally and a licensed electrician "
    "decide.",
    source="NFPA 70 (NEC) 210.4(B), 200.4; circuit theory",
    basis="seen in text",
)
def neutral_of_two_circuits(net, tables):
    """One neutral serves two circuits that do not open together, or that share a leg.

    On opposite legs the currents subtract; on the same leg they add, and no
    breaker sees the sum. Legs taken from the order of spaces are only likely.
    """
    only_if(net.function == "grounded")
    breakers = net.return_of
    only_if(len(breakers) > 1)
    if tables.value("breakers of a multiwire circuit", "in general"):
        apart = [b for b in breakers if not any(other in b.tied_with for other in breakers)]
    else:
        apart = []
    same = _same_leg(breakers)
    if apart or same:
        add = (
            f"{names(same)} are on one leg: the neutral carries the sum, up to {sum(b.amps for b in same):g} A."
            if same
            else "They are on opposite legs."
        )
        tie = " They do not open together." if apart else ""
        verb = "is" if len(net.conductors) == 1 else "are"
        yield Defect(f"{names(net.conductors)} {verb} the neutral of {names(breakers)}. {add}{tie}")


def _same_leg(breakers):
    by_leg = {}
    for breaker in breakers:
        for leg in breaker.legs:
            by_leg.setdefault(leg, []).append(breaker)
    return next((found for found in by_leg.values() if len(found) > 1), [])
