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
        way: Another correct way of the crew (`ways/`), '' for the usual one.
        without: Beginnings of the names of signals and calls that the simulator does not send.
        allowed: Rules that may be found: what the aeroplane itself has.
    """

    scenario: str
    count: int
    event: str = ""
    allowed: frozenset[str] = frozenset()
    way: str = ""
    without: tuple[str, ...] = ()

    @property
    def events(self) -> list[str]:
        """What is flown beside the scenario."""
        return [name for name in (self.event, self.way) if name]


def _event(scenario: str, count: int, event: str, *allowed: str) -> Kind:
    return Kind(scenario, count, event, frozenset(allowed))


NORMAL: dict[str, Kind] = {
    "departure": Kind("departure", 460),
    "circuit": Kind("circuit", 440),
    "whole sector": Kind("sector", 100),
}
OTHERWISE: dict[str, Kind] = {
    "hot start": _event("departure", 8, "hot_start", "watch.hot_start", "watch.hot_coming"),
    "hung start": _event("departure", 8, "hung_start", "watch.hung_start"),
    "no light": _event("departure", 8, "no_light_start", "watch.no_light"),
    "no fan in the start": _event("departure", 8, "no_n1_start", "watch.rotor"),
    "starter stuck": _event("departure", 8, "starter_stuck", "watch.starter_cutout"),
    "rejected take-off": _event("sector", 16, "rejected_takeoff", "watch.fire_warning"),
    "return to the stand": _event("sector", 14, "return_to_stand"),
    "another runway": _event("sector", 12, "runway_change"),
    "go-around": _event("sector", 8, "go_around"),
    "engine failure": _event(
        "sector", 6, "engine_failure", "watch.engine_failure", "watch.alert_master_caution"
    ),
    "one clearance for push and start": Kind("departure", 10, way="one_clearance"),
    "start approved with the push": Kind("departure", 6, way="start_approved_with_the_push"),
    "push without tug signal": Kind("departure", 10, without=("gear.tug",)),
    "no calls": Kind("departure", 10, without=("call.",)),
    "circuit without calls": Kind("circuit", 6, without=("call.",)),
    "one engine to the stand": Kind("sector", 8, "return_to_stand", way="one_engine_home"),
    "one-engine taxi": Kind("sector", 6, way="one_engine_taxi_in"),
}
LAID_OVER = 4
"""Seeds of flights over which the days of `tests/other_days` are laid that a correct crew has."""
TOLD_ALL_THE_SAME: dict[str, str] = {
    "fuel_leak_and_secured": "the fuel that leaks is missing in the plan: a limit is exceeded, by no error of the crew",
}
"""Days on which the crew is correct although more is found than events of the aeroplane, each with its reason."""
NOT_LAID_OVER: dict[str, str] = {}
"""Correct days that cannot be laid over a random flight, each with its reason."""
