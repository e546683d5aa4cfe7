"""Fault protection that does not trip when its test button is pressed."""

from __future__ import annotations

from asfound.authoring import for_words, given, only_if, rule

PROTECTS = ("ground-fault", "arc-fault", "dual")
CAUTION = (
    "Warning: this gives power and no protection; a fault that it should cut off can kill or start a fire. Treat what "
    "it feeds as unprotected until it is replaced."
)
DEFER = "Why it does not trip, and what replaces it, is for the adopted local code and a licensed electrician."
SOURCE = "UL 943; instructions of listed devices, 110.3(B) of NFPA 70 (NEC); HUD NSPIRE Standards v3.0"


@rule(
    "device-does-not-trip",
    of="device",
    severity="catastrophic",
    likelihood="remote",
    caution=CAUTION,
    defer=DEFER,
    source=SOURCE,
    basis="from memory",
)
def device_does_not_trip(device):
    """Test button of a ground-fault or arc-fault device does not trip it.

    A button that was not tried tells nothing. Without power, or wired load for
    line, a sound device does not trip either. A tester plugged in where there
    is no ground cannot trip it; its own button can.
    """
    only_if(given(device, "protection", "none") in PROTECTS or given(device, "test_button", "") == "does not trip")
    only_if(device.test_button != "not tried")
    if device.test_button == "does not trip":
        yield f"{device.words} ({_sort(device)}) does not trip at its test button."


@rule(
    "breaker-does-not-trip",
    of="breaker",
    severity="catastrophic",
    likelihood="remote",
    caution=CAUTION,
    defer=DEFER,
    source=SOURCE,
    basis="from memory",
)
def breaker_does_not_trip(breaker):
    """Test button of a ground-fault or arc-fault breaker does not trip it.

    A button that was not tried tells nothing.
    """
    only_if(given(breaker, "protection", "none") in PROTECTS or given(breaker, "test_button", "") == "does not trip")
    only_if(breaker.test_button != "not tried")
    if breaker.test_button == "does not trip":
        yield f"Breaker {breaker} ({_sort(breaker)}) does not trip at its test button."


def _sort(item):
    return for_words(item, "protection") or "protection not recorded"
