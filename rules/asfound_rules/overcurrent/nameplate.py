"""What the nameplate of an appliance asks of its breaker and its conductors."""

from __future__ import annotations

from asfound.authoring import Defect, given, only_if, rule, size_words
from asfound_rules.overcurrent.ampacity import carries

LIVE = ("hot", "hot_2")


@rule(
    "breaker-over-nameplate",
    of="device",
    severity="critical",
    likelihood="remote",
    caution="Warning: in a fault the windings or wiring inside can burn before this breaker opens. Do not use the "
    "appliance until the breaker fits its plate.",
    defer="The nameplate, the adopted local code and a licensed electrician decide.",
    source="NFPA 70 (NEC) 110.3(B), 440.22(C), 422.11(A)",
    basis="from memory",
)
def breaker_over_nameplate(device):
    """Breaker is larger than the nameplate of its appliance allows.

    The plate is asked for on air conditioners, which always name a largest
    breaker; on others it counts where it was recorded.
    """
    only_if(device.is_load)
    most = device.max_breaker_amps if device.kind == "air conditioner" else given(device, "max_breaker_amps", 0)
    only_if(most)
    only_if(device.breakers)
    for breaker in device.breakers:
        if breaker.amps > most:
            said = f"{breaker.amps:g} A breaker {breaker} feeds {device}; its nameplate allows {most:g} A."
            yield Defect(said, cause=str(breaker))


@rule(
    "conductor-below-nameplate",
    of="device",
    severity="critical",
    likelihood="remote",
    caution="Warning: the appliance can load this wire beyond what it carries for hours, which can start a fire in the "
    "wall. Do not use it until the wire is settled.",
    defer="The nameplate, the adopted local code and a licensed electrician decide.",
    source="NFPA 70 (NEC) 110.3(B), 440.4(B), Table 310.16",
    basis="from memory",
)
def conductor_below_nameplate(device, tables, site):
    """Conductors carry less than the least circuit ampacity on the nameplate.

    Looks at what is solidly joined to the appliance, back to its breaker or to
    a switch. Heat and bundling count where recorded.
    """
    only_if(device.is_load)
    least = given(device, "min_circuit_amps", 0)
    only_if(least)
    done = set()
    for terminal in device.terminals:
        for conductor in terminal.net.conductors if terminal.name in LIVE else ():
            if str(conductor.cable) in done:
                continue
            done.add(str(conductor.cable))
            amps = carries(conductor, least, tables, site)
            if amps < least:
                said = (
                    f"{device} asks for conductors of {least:g} A by its nameplate; {size_words(conductor.gauge)} "
                    f"{conductor.metal} ({conductor}) carries {amps:g} A."
                )
                yield Defect(said, cause=str(conductor.cable))
