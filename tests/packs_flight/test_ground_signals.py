"""Signals of the ground that few simulators send: without them no notice speaks of them."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from functools import cache

import pytest

from mock_sim.run import Flight, FlightMoment
from rules.judge.events import Finding
from rules.judge.judge import Judge
from rules.packs.trip_sheet import TripSheet
from rules.signals.model import Value
from tests.checklists.read_lists import JudgedState
from tests.shipped import shipped

RARE = (
    "parking.",
    "gear.tiller",
    "loading.",
    "electrical.breaker.",
    "autoflight.speed_mode",
    "autoflight.managed_speed",
)
WRONG = ("pitot_covers_on", "nose_pin_in", "tiller_not_held", "signal_from_the_right", "breaker_pulled")
BESIDE_DEG = {"flight.latitude": 0.00116, "flight.longitude": 0.00224}
"""214 m to the left of runway 14."""
Changed = Callable[[FlightMoment], Mapping[str, Value]]


@cache
def departure(*slips: str) -> tuple[FlightMoment, ...]:
    """A departure of the mock crew."""
    return tuple(Flight("departure", slips, seed=3, rate_hz=4.0, noise=False))


def judged(
    slips: Iterable[str],
    *,
    without: tuple[str, ...] = (),
    trip_without: Iterable[str] = (),
    changed: Changed | None = None,
) -> dict[str, str]:
    """Findings of a departure by item, where signals and values of the sheet are missing or changed."""
    pack, sheet = shipped("twin_jet")
    values = {name: value for name, value in sheet.values.items() if name not in set(trip_without)}
    flown = JudgedState(Judge(pack, TripSheet(sheet.title, values, sheet.inoperative)))
    for moment in departure(*slips):
        state = {**moment.state, **(changed(moment) if changed else {})}
        sent = {name: value for name, value in state.items() if not name.startswith(without or "-")}
        flown.send(moment.sim_s, sent, [call.name for call in moment.calls])
    findings: list[Finding] = flown.judge.findings
    return {finding.item: str(finding.kind) for finding in findings}


def from_the_line_up(moment: FlightMoment) -> Mapping[str, Value]:
    """The place 214 m to the left, once the lights for the runway are on."""
    if moment.state["lights.strobe"] != "on":
        return {}
    return {name: float(str(moment.state[name])) + beside for name, beside in BESIDE_DEG.items()}


def test_without_the_signals_nothing_is_said_of_them() -> None:
    """The count of open breakers and the warning's own power still are."""
    assert judged(WRONG, without=RARE, trip_without=["trip.signal_side"]) == {
        "flow.power_up.breakers": "undone",
        "flow.before_takeoff.warning_power": "omitted",
    }


def test_without_a_side_on_the_sheet_every_hand_signal_is_right() -> None:
    """Nobody agreed on a side."""
    assert judged(["signal_from_the_right"], trip_without=["trip.signal_side"]) == {}


@pytest.mark.parametrize(
    ("missing", "item"),
    [((), "flow.line_up.runway_beside"), (("trip.variation",), "flow.line_up.runway_place")],
)
def test_without_a_variation_the_distance_alone_is_judged(missing: tuple[str, ...], item: str) -> None:
    """Across and along need the true direction of the runway; one of the two rules speaks."""
    found = judged((), trip_without=missing, changed=from_the_line_up)
    assert {name for name in found if ".line_up.runway_" in name} == {item}
