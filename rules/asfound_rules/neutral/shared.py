"""One neutral for more than one circuit."""

from __future__ import annotations

from asfound.authoring import for_words, names, only_if, rule


@rule(
    "neutral-of-two-circuits",
    of="net",
    severity="catastrophic",
    likelihood="remote",
    caution="Warning: with one breaker off this neutral can still carry the other circuit's current, and opened it can "
    "stand at line voltage. Open every breaker named here before loosening any neutral.",
    defer="A multiwire circuit whose breakers open together is lawful, and older ones did not always have to; the "
    "adopted local code and a licensed electrician decide.",
    source="NFPA 70 (NEC) 210.4(B) for a multiwire circuit, 200.4 where it is none; circuit theory",
    basis="seen in text",
    revision=2,
)
def neutral_of_two_circuits(net, tables):
    """One neutral serves circuits whose breakers do not open together.

    Before 2008 the breakers had to open together only where both feed one
    device; the danger at an opened neutral is the same. What the neutral can be
    loaded with when the circuits share a leg is a rule of its own.
    """
    only_if(net.function == "grounded")
    breakers = net.return_of
    only_if(len(breakers) > 1)
    table = "breakers of a multiwire circuit"
    asked = tables.value(table, "in general") or (tables.value(table, "two on one yoke") and _share_a_yoke(breakers))
    tags = {breaker.tag for breaker in breakers}
    apart = [breaker for breaker in breakers if not {one.tag for one in breaker.tied_with} & tags]
    if asked and apart:
        only_if(not _old_multiwire(net, tables))
        verb = "is" if len(net.conductors) == 1 else "are"
        leg = _one_leg(breakers)
        more = f" Both are on {leg}: it is no multiwire circuit, and it carries what both carry." if leg else ""
        said = f"{names(net.conductors)} {verb} the neutral of breakers {names(breakers)}"
        yield f"{said}, which do not open together.{more}"


@rule(
    "old-multiwire-not-tied",
    of="net",
    severity="critical",
    likelihood="improbable",
    caution="Warning: with one breaker off this neutral can still carry the other circuit's current, and opened it can "
    "stand at line voltage and kill. Open every breaker named here before anyone loosens a neutral.",
    defer="It was an accepted way when it was put in; whether its breakers must be tied now is for the adopted local "
    "code and a licensed electrician.",
    source="NFPA 70 (NEC) 2005 and 2008, 210.4(B)",
    basis="seen in text",
)
def old_multiwire_not_tied(net, tables):
    """Breakers of an old multiwire circuit do not open together.

    Only where all of its wiring is known to be older than the edition that
    first asked for it in general, and its breakers are known to be on different
    legs.
    """
    only_if(net.function == "grounded")
    breakers = net.return_of
    only_if(len(breakers) > 1)
    only_if(_old_multiwire(net, tables))
    tags = {breaker.tag for breaker in breakers}
    if any(not {one.tag for one in breaker.tied_with} & tags for breaker in breakers):
        first = tables.value("multiwire breakers open together in general", "asked from")
        yield (
            f"{names(breakers)} share the neutral {names(net.conductors)} on different legs and do not open together; "
            f"that has been asked for in general since {first}, and this is older."
        )


def _one_leg(breakers):
    """The leg that two breakers are known to share; nothing for more of them, or where one is not known."""
    legs = {for_words(breaker, "legs") for breaker in breakers}
    (first,) = legs if len(legs) == 1 and len(breakers) == 2 else (None,)
    return first[0] if first is not None and len(first) == 1 else ""


def _old_multiwire(net, tables):
    """Whether all of it is known to be older than the rule, and on different legs."""
    first = tables.value("multiwire breakers open together in general", "asked from")
    years = [for_words(conductor, "installed") for conductor in net.conductors]
    legs = [for_words(breaker, "legs") for breaker in net.return_of]
    if any(year is None or year >= first for year in years) or any(leg is None for leg in legs):
        return False
    every = [one for leg in legs for one in leg]
    return len(every) == len(set(every)) and not _share_a_yoke(net.return_of)


def _share_a_yoke(breakers):
    held = [{device.tag for device in breaker.devices if device.yoke} for breaker in breakers]
    return any(one & two for number, one in enumerate(held) for two in held[:number])
