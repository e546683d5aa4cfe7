"""More than one breaker on one conductor."""

from __future__ import annotations

from asfound.authoring import for_words, names, only_if, rule


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

    Followed through splices, feed-through devices and switches; named once, at
    the place where the feeds meet.
    """
    only_if(net.breakers_meet)
    breakers = net.fed_by
    legs = [for_words(breaker, "legs") for breaker in breakers]
    known = {leg[0] for leg in legs if leg and len(leg) == 1}
    which = ""
    if len(known) > 1:
        which = " They are on different legs: with both on, this is a short between the legs."
    elif len(known) == 1 and all(leg and len(leg) == 1 for leg in legs):
        which = (
            " They are on the same leg: either one keeps it live, and together they carry more than one is rated for."
        )
    solid = "joined solidly" if len(net.breakers) > 1 else "joined through a switch or device"
    yield f"Breakers {names(breakers)} both reach {names(net.conductors)} ({solid}).{which}"
