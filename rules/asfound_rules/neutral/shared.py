"""One neutral for more than one circuit."""

from __future__ import annotations

from asfound.authoring import Defect, names, only_if, rule


@rule(
    "neutral-of-two-circuits",
    of="net",
    severity="catastrophic",
    likelihood="occasional",
    caution="Danger: with one breaker off this neutral can still carry the other circuit's current, and opened it can "
    "stand at line voltage. Open every breaker named here before loosening any neutral.",
    defer="A multiwire circuit whose breakers open together is lawful; the adopted local code and a licensed "
    "electrician decide.",
    source="NFPA 70 (NEC) 210.4(B), 200.4; circuit theory",
    basis="seen in text",
)
def neutral_of_two_circuits(net, tables):
    """One neutral serves two circuits that do not open together, or that share a leg.

    On opposite legs the currents subtract; on the same leg they add, and no
    breaker sees the sum. Legs taken from the order of spaces are only likely.
    Before 2008 the breakers had to open together only where both feed one
    device; the danger at an opened neutral is the same.
    """
    only_if(net.function == "grounded")
    breakers = net.return_of
    only_if(len(breakers) > 1)
    verb = "is" if len(net.conductors) == 1 else "are"
    what = f"{names(net.conductors)} {verb} the neutral of breakers {names(breakers)}"
    table = "breakers of a multiwire circuit"
    if tables.value(table, "in general") or (tables.value(table, "two on one yoke") and _share_a_yoke(breakers)):
        apart = [b for b in breakers if not {one.tag for one in b.tied_with} & {one.tag for one in breakers}]
        if apart:
            yield Defect(f"{what}, which do not open together.", cause="not together")
    same = _on_one_leg(breakers)
    if same:
        total = sum(breaker.amps for breaker in same)
        yield Defect(
            f"{what}. {names(same)} are on one leg: their currents add in it, up to {total:g} A, and no breaker "
            "sees the sum.",
            cause="one leg",
        )


def _share_a_yoke(breakers):
    held = [{device.tag for device in breaker.devices if device.yoke} for breaker in breakers]
    return any(one & two for number, one in enumerate(held) for two in held[:number])


def _on_one_leg(breakers):
    by_leg = {}
    for breaker in breakers:
        for leg in breaker.legs:
            by_leg.setdefault(leg, []).append(breaker)
    return next((found for found in by_leg.values() if len(found) > 1), [])
