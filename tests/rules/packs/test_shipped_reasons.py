"""Every rule of the shipped packs gives a reason or a source, and every warning its reason."""

from __future__ import annotations

from functools import cache

import pytest

from rules.packs.load_pack import load_pack
from rules.packs.model import Item, Level, Pack, Watch, declared_id

IN_FLIGHT = {
    "flow.climb.cabin_in_climb",
    "flow.go_around_set.go_around_speedbrake",
    "flow.go_around_set.go_around_thrust",
    "flow.initial_climb.climb_speed",
    "flow.landing_configuration.landing_altimeters",
    "flow.landing_configuration.landing_flap_lever",
    "flow.landing_configuration.landing_flaps_set",
    "flow.landing_configuration.landing_gear",
    "flow.landing_configuration.landing_gear_lever",
    "flow.landing_configuration.landing_slats",
    "flow.stabilised_500.glide_path",
    "flow.stabilised_500.localizer",
    "flow.stabilised_500.runway_ahead",
    "flow.stabilised_500.sink_rate",
    "flow.stabilised_500.speed_low",
    "flow.stabilised_500.speeds_on_final",
    "flow.stabilised_500.thrust_spooled",
    "flow.touchdown.brake_off",
    "watch.bank_low",
    "watch.bank_steep",
    "watch.brakes_in_rejected",
    "watch.buses_in_flight",
    "watch.core_speed",
    "watch.egt_takeoff",
    "watch.fan_speed",
    "watch.minimum_speed",
    "watch.oil_light",
    "watch.oil_pressure",
    "watch.overspeed_kt",
    "watch.overspeed_mach",
    "watch.pitch_high",
    "watch.pitch_low",
    "watch.sink_after_takeoff",
    "watch.sink_on_short_final",
    "watch.spoilers_in_rejected",
    "watch.thrust_asymmetry",
    "watch.wing_ice",
}
"""Warnings of the twin jet in flight that have a source, and no reason yet; the list may only become shorter."""


@cache
def _pack(name: str) -> Pack:
    return load_pack(name)


def _rules(name: str) -> dict[str, Item | Watch]:
    """Items and watches by their declared ids."""
    pack = _pack(name)
    rules: list[Item | Watch] = [*pack.items.values(), *pack.watches]
    return {declared_id(rule.id): rule for rule in rules}


@pytest.mark.parametrize("name", ["twin_jet", "trainer"])
def test_every_rule_gives_a_reason_or_a_source(name: str) -> None:
    """A rule without both cannot be taught in the debrief."""
    assert not [rule.id for rule in _rules(name).values() if not rule.why and not rule.source]


@pytest.mark.parametrize("name", ["twin_jet", "trainer"])
def test_every_warning_gives_its_reason(name: str) -> None:
    """A warning needs immediate awareness and immediate action (14 CFR 25.1322(b)); its reason says why."""
    without = {rule for rule, one in _rules(name).items() if one.level is Level.WARNING and not one.why}
    assert without <= IN_FLIGHT


def test_no_exception_is_out_of_date() -> None:
    """What has a reason, or is no warning any more, leaves the list."""
    rules = _rules("twin_jet")
    assert {name for name in IN_FLIGHT if rules[name].why or rules[name].level is not Level.WARNING} == set()
