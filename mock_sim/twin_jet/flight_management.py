"""The flight management entries and the speeds that the pilots set.

Takes: entries of the pilots.  Gives: the same; the guidance computes the distance to go.
"""

from __future__ import annotations

from mock_sim.common.panel import Part

PILOTS = ("captain", "first_officer")

PART = Part(
    controls={
        **{f"speeds.{speed}.{seat}": 0.0 for speed in ("v1", "vr", "v2") for seat in PILOTS},
        "speeds.vref": 0.0,
        **{f"minimums.{seat}": 0.0 for seat in PILOTS},
        "position.latitude": 0.0,
        "position.longitude": 0.0,
        "management.route": "no",
        "management.zero_fuel_mass": 0.0,
        "management.takeoff_mass": 0.0,
        "management.reserve_fuel": 0.0,
        "management.cost_index": 0.0,
        "management.outside_temperature": 0.0,
        "management.assumed_temperature": 0.0,
        "management.cruise_altitude": 0.0,
        "management.centre_of_gravity": 0.0,
        "management.takeoff_flap": 0.0,
        "management.runway": "",
    },
    drives={"management.distance_to_go": 0.0, "management.cross_track": 0.0, "autoflight.managed_speed": 0.0},
)
