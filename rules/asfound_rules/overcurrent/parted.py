"""One load on two breakers that do not open together."""

from __future__ import annotations

from asfound.authoring import names, only_if, rule
from asfound_rules.overcurrent.loads import BETWEEN


@rule(
    "load-on-untied-breakers",
    of="device",
    severity="critical",
    likelihood="occasional",
    caution="Warning: with one breaker off the other keeps this load and its wires live, and they can kill. Switch "
    "both off and prove every wire dead.",
    defer="Whether a handle tie is enough or a two-pole breaker is needed is for the adopted local code and a licensed "
    "electrician.",
    source="NFPA 70 (NEC) 240.15(B), 210.4(B)",
    basis="from memory",
)
def load_on_untied_breakers(device):
    """One load hangs on two breakers that nothing ties together.

    By trace: its two ungrounded terminals are fed by different breakers. Loads
    with a neutral are named for the shared neutral as well.
    """
    only_if(device.kind in BETWEEN)
    fed = {terminal.name: terminal.breakers for terminal in device.terminals if terminal.name in ("hot", "hot_2")}
    only_if(len(fed) == 2)
    one, two = fed.values()
    only_if(one and two)
    only_if(not {breaker.tag for breaker in one} & {breaker.tag for breaker in two})
    if not {tied.tag for breaker in one for tied in breaker.tied_with} & {breaker.tag for breaker in two}:
        yield f"{device} is fed by {names(one)} on one side and {names(two)} on the other; nothing ties them together."
