"""Grounding conductors joined to what they must never touch."""

from __future__ import annotations

from asfound.authoring import Defect, for_words, joined, names, only_if, rule


@rule(
    "ground-joined-to-ungrounded",
    of="net",
    severity="catastrophic",
    likelihood="frequent",
    caution="Danger: metal on this grounding conductor can stand at line voltage, and touching it with anything "
    "grounded can kill. Keep everyone off it, open the breaker or the service disconnect, and prove it dead before "
    "going on.",
    defer="What the adopted local code asks of the grounding path, and how it is made good, is for a licensed "
    "electrician.",
    source="NFPA 70 (NEC) 250.4(A)(5), 250.119, 250.148; circuit theory",
    basis="from memory",
)
def ground_joined_to_ungrounded(net):
    """Grounding conductor is joined to an ungrounded conductor.

    A bare or green conductor in the same joint, or under the same screw, as
    what a breaker feeds; each joint where they meet is named. Metal is listed as far as the record shows it; a
    device that touches its metal box through its strap is not followed.
    """
    grounds = net.grounding_conductors
    only_if(grounds)
    others = [conductor for conductor in net.conductors if conductor.tag not in [ground.tag for ground in grounds]]
    only_if(others)
    only_if(net.function in ("ungrounded", "switched", "traveller"))
    feeds = for_words(net, "fed_by")
    fed = f"fed by {names(feeds)}" if feeds else "no breaker is traced to it, so treat it as live"
    metal = f"It can make live: {joined(net.metal_parts)}." if net.metal_parts else "No metal on it is recorded."
    for spot in [joint for joint in net.joints if _meet(joint, grounds)] or [net]:
        here = {conductor.tag for conductor in spot.conductors}
        bare = names(ground for ground in grounds if ground.tag in here)
        live = names(other for other in others if other.tag in here)
        yield Defect(f"{bare} joined to {live}; {fed}. {metal} {_holds_in(net)}", at=spot)


def _meet(joint, grounds):
    tags = {ground.tag for ground in grounds}
    held = {conductor.tag for conductor in joint.conductors}
    return bool(held & tags) and bool(held - tags)


def _holds_in(net):
    if net.on_ground_bar or net.on_neutral_bar:
        return (
            "The record also shows a path to the panel bar, which would trip the breaker at once: a breaker that "
            "holds in means that this path is open somewhere, or that the record is wrong."
        )
    return "No path back to the panel is recorded, so the breaker can hold in while all of it stays live."
