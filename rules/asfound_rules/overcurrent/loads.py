"""What loads draw, as recorded. No rules here; used by them."""

from __future__ import annotations

from asfound.authoring import given, joined

BETWEEN = (
    "range receptacle", "dryer receptacle", "single receptacle", "heater", "water heater", "range", "dryer",
    "appliance", "air conditioner", "motor", "welder", "pump",
)  # fmt: skip
"""Kinds that can be connected between two ungrounded conductors, on the terminals hot and hot_2."""


def amps_of(device, site, tables):
    """Amperes a device draws: by its nameplate, from its watts, or what is plugged in; 0 when none is recorded."""
    if device.receptacles:
        return given(device, "plugged_amps", 0)
    if not device.is_load:
        return 0
    amps = given(device, "amps", 0)
    watts = 0 if amps else given(device, "watts", 0)
    return watts / volts_of(device, site, tables) if watts else amps


def volts_of(device, site, tables):
    """Volts across a device: as marked, else by the supply and by how it is connected."""
    return given(device, "volts", 0) or tables.value("nominal voltage", site.supply, 2 if is_between(device) else 1)


def is_between(device):
    """Whether a device is connected between two ungrounded conductors."""
    return device.kind in BETWEEN and {"hot", "hot_2"} <= {terminal.name for terminal in device.terminals}


def words_of(loads):
    """Loads with their amperes in a sentence: `H1 12.5 A and H2 8 A`; the largest four."""
    listed = sorted(loads, key=lambda load: -load[1])
    said = [f"{device} {amps:.3g} A" for device, amps in listed[:4]]
    if len(listed) > 4:
        said.append(f"{len(listed) - 4} more")
    return joined(said)
