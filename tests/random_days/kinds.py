"""Kinds of correct flights: normal ones, and those on which something happens that is no error of the crew.

Takes: nothing.  Gives: `KINDS`, by name.
"""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Kind:
    """One kind of flight.

    Attributes:
        scenario: What is flown.
        count: How many seeds of the whole run.
        event: Event of the scenario, '' for none.
        allowed: Rules that may be found: what the aeroplane itself has.
    """

    scenario: str
    count: int
    event: str = ""
    allowed: frozenset[str] = frozenset()


def _event(scenario: str, count: int, event: str, *allowed: str) -> Kind:
    return Kind(scenario, count, event, frozenset(allowed))


NORMAL: dict[str, Kind] = {
    "departure": Kind("departure", 460),
    "circuit": Kind("circuit", 440),
    "whole sector": Kind("sector", 100),
}
OTHERWISE: dict[str, Kind] = {
    "hot start": _event("departure", 14, "hot_start", "watch.hot_start", "watch.hot_coming"),
    "hung start": _event("departure", 14, "hung_start", "watch.hung_start"),
    "no light": _event("departure", 14, "no_light_start", "watch.no_light"),
    "no fan in the start": _event("departure", 14, "no_n1_start", "watch.rotor"),
    "starter stuck": _event("departure", 14, "starter_stuck", "watch.starter_cutout"),
    "rejected take-off": _event("sector", 20, "rejected_takeoff", "watch.fire_warning"),
    "return to the stand": _event("sector", 20, "return_to_stand"),
    "another runway": _event("sector", 16, "runway_change"),
    "go-around": _event("sector", 8, "go_around"),
    "engine failure": _event(
        "sector", 6, "engine_failure", "watch.engine_failure", "watch.alert_master_caution"
    ),
}
LAID_OVER = 5
"""Seeds of sectors over which the days of `tests/other_days` are laid that a correct crew has."""
CORRECT = (
    "reject_at_60_kt", "start_during_the_push", "brake_released_on_chocks", "pumps_before_the_beacon", "landing_flap_20", "valley_below_final",
    "hill_below_final", "fire_drill", "no_calls_of_the_roll", "emergency_descent", "engine_1_burns_and_is_cut_off",
)  # fmt: skip
"""Days on which the crew is correct; what is found on some of them is the aeroplane's own."""
