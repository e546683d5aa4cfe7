"""Panels with more than one supply."""

from __future__ import annotations

from asfound.authoring import Defect, given, names, only_if, rule
from asfound_rules.observed import noted

OWN = ("generator", "inverter", "battery")
A = {"inverter": "an inverter"}


@rule(
    "generator-without-transfer",
    of="panel",
    severity="catastrophic",
    likelihood="probable",
    caution="Danger: a generator fed in here without a transfer switch or interlock can put full voltage on the "
    "utility line and kill those who work on it, and the returning utility can wreck the generator and start a fire. "
    "Do not start it connected.",
    defer="Which transfer equipment fits is for its listing, the adopted local code and a licensed electrician.",
    source="NFPA 70 (NEC) 702.5 (702.6 before 2011), 110.3(B)",
    basis="seen in text",
)
def generator_without_transfer(panel):
    """Generator can feed a panel, and nothing keeps it and the utility apart.

    A cord with two plugs into a dryer receptacle counts as such a connection. A
    rule of conduct such as first the main off keeps nothing apart.
    """
    only_if(noted(panel, "other_source") == "generator")
    if panel.transfer == "none":
        yield f"A generator can feed panel {panel}; no transfer switch and no interlock keeps it and the utility apart."


@rule(
    "panel-with-second-source",
    of="panel",
    severity="negligible",
    likelihood="occasional",
    caution="Warning: with the main off this panel can still be live from its second source, which can kill. Shut the "
    "second source down as well, and prove the bus dead before anything is touched.",
    defer="How a second source is connected, marked and shut down is for its listing, the adopted local code and a "
    "licensed electrician.",
    source="NFPA 70 (NEC) 702.7, 705.10 on signs for a second source",
    basis="from memory",
)
def panel_with_second_source(panel):
    """Panel has a second source besides the utility.

    Lawful as such. It is named because the main switch alone does not make the
    panel dead. A generator that nothing keeps apart has a rule of its own.
    """
    source = noted(panel, "other_source")
    only_if(source in OWN)
    apart = given(panel, "transfer", "")
    only_if(not (source == "generator" and apart == "none"))
    what = A.get(source, f"a {source}")
    if apart == "none":
        yield (
            f"Panel {panel} has {what} besides the utility and no transfer switch; that rests on its stopping by "
            "itself when the utility fails."
        )
    else:
        yield f"Panel {panel} has {what} besides the utility; its main alone does not make it dead."


@rule(
    "panel-fed-otherwise",
    of="panel",
    severity="catastrophic",
    likelihood="occasional",
    caution="Danger: opening the breaker that is thought to feed this panel leaves it live, bus and all, and it can "
    "kill. Open every breaker named here and prove the bus dead before anything in it is touched.",
    defer="How the feeds are parted or put right is for a licensed electrician; the adopted local code decides.",
    source="NFPA 70 (NEC) 408.4(B), 408.36, 225.30; circuit theory",
    basis="from memory",
)
def panel_fed_otherwise(panel):
    """Trace finds another feed at a panel than is said, or more than one.

    Looks at what lands on its main lugs. A panel fed back through one of its
    own breakers is not seen here.
    """
    traced = panel.lug_breakers
    only_if(traced)
    apart = _apart(traced)
    if len(apart) > 1:
        feeds = names(breaker for together in apart for breaker in together)
        all_of = "both" if len(traced) == 2 else "all"
        yield Defect(
            f"{feeds} {all_of} land on the main lugs of panel {panel}, and they do not open together.",
            cause="two feeds",
        )
    said = given(panel, "fed_from", "")
    if said == "supply":
        yield Defect(
            f"Panel {panel} is said to be fed by the utility; the trace finds {names(traced)} on its main lugs.",
            cause="not the utility",
        )
    elif said and not {str(breaker) for breaker in panel.feeder} & {str(breaker) for breaker in traced}:
        yield Defect(
            f"Panel {panel} is said to be fed from {said}; the trace finds {names(traced)} on its main lugs.",
            cause="another breaker",
        )


def _apart(breakers):
    """Breakers in groups that open together."""
    groups = []
    for breaker in breakers:
        tied = {str(breaker), *map(str, breaker.tied_with)}
        group = next((held for held in groups if tied & {str(one) for one in held}), None)
        if group is None:
            groups.append([breaker])
        else:
            group.append(breaker)
    return groups
