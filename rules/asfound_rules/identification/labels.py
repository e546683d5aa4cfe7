"""Labels on the site against what the trace and the readings show."""

from __future__ import annotations

from asfound.authoring import given, names, only_if, rule

WIRING = ("cable", "conductor", "device", "box", "joint")


@rule(
    "label-names-another-breaker",
    of="label",
    severity="catastrophic",
    likelihood="remote",
    caution="Warning: who trusts this label switches off the wrong breaker and touches what is still live, which can "
    "kill. Go by the trace and prove dead what you touch; put a right label over this one.",
    defer="How circuits are to be marked is for the adopted local code; tracing on live wiring is for a licensed "
    "electrician.",
    source="29 CFR 1910.333(b)(1), (b)(2)(iv): a label is no test; NFPA 70 (NEC) 408.4(A) for the panel directory",
    basis="from memory",
)
def label_names_another_breaker(label):
    """Label names a breaker that the trace does not find, or leaves one out.

    Looks at labels on cables, conductors, devices, boxes and joints that name a
    breaker by its tag, or in a record of one panel by its number. Both may be
    old truths: circuits are moved and labels stay. One of two breakers that open
    together is enough. What is not traced to a breaker is not judged.
    """
    named = label.names_breakers
    only_if(named)
    only_if(label.on_kind in WIRING)
    feeds = label.fed_by
    only_if(feeds)
    left_out = _without(feeds, named)
    extra = _without(named, feeds)
    if len(left_out) == len(feeds):
        yield f"{_the(label)} names {names(named)}; the trace finds {names(feeds)}."
    elif left_out:
        yield f"{_the(label)} names {names(named)}; the trace finds {names(left_out)} as well."
    elif extra:
        yield f"{_the(label)} names {names(named)}; the trace does not find {names(extra)}."


@rule(
    "label-calls-live-thing-dead",
    of="label",
    severity="catastrophic",
    likelihood="probable",
    caution="Danger: this is labelled as dead or off and is not, and touching it can kill. Keep everyone clear, treat "
    "it as live, and take the label away or correct it now.",
    defer="Proving dead and putting the wiring right is for licensed practice; what the adopted local code asks of "
    "unused wiring decides the rest.",
    source="29 CFR 1910.333(b)(1), (b)(2)(iv); 29 CFR 1926.417 on tags; NFPA 70E 120.5",
    basis="seen in text",
)
def label_calls_live_thing_dead(label):
    """Label says dead or off, and a reading or the trace says otherwise.

    A reading of 50 V or more counts when it is not older than the label. A
    label that says off is let stand while every breaker that feeds the thing is
    recorded as off; one that says dead, abandoned or disconnected is not,
    because anyone can switch that breaker on.
    """
    only_if(label.on_kind in WIRING)
    only_if(label.names_dead or label.names_off)
    said = f'{_the(label)} says "{label.says}"'
    shown = label.live_readings
    if shown:
        yield f"{said}; {names(f'reading {reading} at {reading.volts:g} V' for reading in shown)} showed it live."
        return
    feeds = label.fed_by
    only_if(feeds)
    on = [breaker for breaker in feeds if given(breaker, "state", "on") not in ("off", "removed")]
    if on:
        yield f"{said}; the trace finds it on {names(on)}."
    elif label.names_dead:
        yield f"{said}; the trace finds it on {names(feeds)}, off now and ready for anyone to switch on."


def _without(breakers, others):
    """Breakers that are none of the others and open with none of them."""
    tags = {tag for other in others for tag in (other.tag, *(tied.tag for tied in other.tied_with))}
    return [breaker for breaker in breakers if breaker.tag not in tags]


def _the(label):
    return label.words[0].upper() + label.words[1:]
