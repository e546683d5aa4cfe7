"""The planters that change the wiring, by name as in `data/drill.yaml`."""

from __future__ import annotations

from collections.abc import Callable

from asfound.drill import rewired_grounds, rewired_guards, rewired_loads, rewired_neutrals, rewired_splices
from asfound.drill.plain import Wiring
from asfound.drill.sites import Changes

REWIRED: dict[str, Callable[[Wiring], Changes]] = {
    "larger breaker": rewired_loads.larger_breaker,
    "smaller cable at the end": rewired_loads.smaller_cable_at_the_end,
    "heater on a larger breaker": rewired_loads.heater_on_a_larger_breaker,
    "two cables on one breaker": rewired_loads.two_cables_on_one_breaker,
    "heater on two single breakers": rewired_loads.heater_on_two_single_breakers,
    "bus too small for its main": rewired_loads.bus_too_small_for_its_main,
    "directory gone": rewired_loads.directory_gone,
    "one leg for two circuits": rewired_loads.one_leg_for_two_circuits,
    "box too small": rewired_splices.box_too_small,
    "splice in the open": rewired_splices.splice_in_the_open,
    "copper on aluminium": rewired_splices.copper_on_aluminium,
    "live end left bare": rewired_splices.live_end_left_bare,
    "live end capped in the open": rewired_splices.live_end_capped_in_the_open,
    "cable kept for later": rewired_splices.cable_kept_for_later,
    "called dead on a hunch": rewired_splices.called_dead_on_a_hunch,
    "capped without a test": rewired_splices.capped_without_a_test,
    "ground left off": rewired_grounds.ground_left_off,
    "ground folded back in the box": rewired_grounds.ground_folded_back_in_the_box,
    "metal box off the ground": rewired_grounds.metal_box_off_the_ground,
    "bars mixed": rewired_grounds.bars_mixed,
    "ground in with the live wires": rewired_grounds.ground_in_with_the_live_wires,
    "jumper behind the plate": rewired_grounds.jumper_behind_the_plate,
    "white not marked": rewired_neutrals.white_not_marked,
    "polarity reversed": rewired_neutrals.polarity_reversed,
    "neutral through the switch": rewired_neutrals.neutral_through_the_switch,
    "neutral open": rewired_neutrals.neutral_open,
    "neutrals crossed": rewired_neutrals.neutrals_crossed,
    "two circuits joined": rewired_neutrals.two_circuits_joined,
    "breaker without ground-fault protection": rewired_guards.breaker_without_ground_fault_protection,
    "breaker test does nothing": rewired_guards.breaker_test_does_nothing,
    "test button does nothing": rewired_guards.test_button_does_nothing,
    "two wires under one screw": rewired_splices.two_wires_under_one_screw,
    "ordinary receptacle in its place": rewired_guards.ordinary_receptacle_in_its_place,
    "breaker without arc-fault protection": rewired_guards.breaker_without_arc_fault_protection,
}
"""Each looks at a record as it stands and gives the changes that it could make there."""
