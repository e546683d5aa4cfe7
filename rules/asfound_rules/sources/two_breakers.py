"""More than one breaker on one conductor."""

from __future__ import annotations

from asfound.authoring import for_words, given, names, only_if, rule


@rule(
    "two-breakers-one-net",
    of="net",
    severity="catastrophic",
    likelihood="probable",
    caution="Danger: switching one breaker off leaves this live, and it can kill whoever trusts that breaker. "
    "Open every breaker named here, or the main, and prove it dead before touching.",
    defer="How the feeds are parted is for the adopted local code and a licensed electrician.",
    source="NFPA 70 (NEC) 240.8, 310.10(G) on parallel conductors; circuit theory",
    basis="from memory",
)
def two_breakers_one_net(net):
    """Two breakers feed one conductor.

    Followed through splices, feed-through devices and switches, or shown by
    switching each and testing; named once, at the place where the feeds meet. A breaker of a sub-panel that its feeder
    lands on, as its main, is no second feed.
    """
    only_if(net.breakers_meet)
    breakers = net.fed_by
    only_if(len(breakers) - sum(_is_main(breaker, breakers) for breaker in breakers) > 1)
    each = "both" if len(breakers) == 2 else "all"
    how = "through a solid joint" if len(net.breakers) > 1 else "through a switch or device"
    if given(net, "meet_by_test", False):
        how = "as switching and testing shows"
    yield f"Breakers {names(breakers)} {each} feed {names(net.conductors)}, {how}.{_legs(breakers)}"


def _is_main(breaker, breakers):
    """Whether another of the breakers feeds the panel it is in."""
    panel, tags = given(breaker, "panel", None), {one.tag for one in breakers}
    return panel is not None and any(feeder.tag in tags for feeder in panel.feeder)


def _legs(breakers):
    """What their legs add to the danger, where every leg is certain and every breaker has one pole."""
    legs = [for_words(breaker, "legs") for breaker in breakers]
    if not all(legs) or any(len(poles) > 1 for poles in legs):
        return ""
    if len({leg for poles in legs for leg in poles}) > 1:
        return " They are on different legs: with both on, this is a short between the legs."
    return (
        " They are on one leg: either keeps it live, and together they can feed it more than its conductors may carry."
    )
