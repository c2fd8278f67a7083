"""Tests of the schedules and of the pilot, on an aeroplane that is only a table of properties."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator
from itertools import pairwise

import pytest

from mock_sim.jsbsim.process.pilot import StockPilot
from mock_sim.jsbsim.process.schedule import Ready, Schedule
from mock_sim.jsbsim.process.twin_jet_schedule import GAINS, RUNWAY_DEG, TwinJetSchedule


class Table:
    """An aeroplane whose properties stay as written, and whose clock the test moves."""

    def __init__(self) -> None:
        self.sim_s = 0.0
        self.properties: defaultdict[str, float] = defaultdict(float)

    def __getitem__(self, path: str) -> float:
        return self.properties[path]

    def __setitem__(self, path: str, value: float) -> None:
        self.properties[path] = value


class Sweeping(Schedule):
    """Sweeps one axis."""

    def steps(self) -> Iterator[Ready]:
        """One axis, stop to stop."""
        yield self.wait_for(1.0)
        yield from self.sweep_axes(["rudder"])


def pilot(table: Table) -> StockPilot:
    """A pilot of the jet."""
    return StockPilot(table, GAINS, RUNWAY_DEG)


def test_sweep_reaches_both_stops() -> None:
    """A sweep goes to one stop, to the other and back to the middle, each held long enough for a row at 20 Hz."""
    table = Table()
    script = Sweeping(table, pilot(table), frozenset(), lambda *_: None)
    seen: list[tuple[float, float]] = []
    while not script.finished:
        script.step()
        if not seen or seen[-1][1] != table["fcs/rudder-cmd-norm"]:
            seen.append((table.sim_s, table["fcs/rudder-cmd-norm"]))
        table.sim_s += 0.125
    assert [value for _, value in seen] == [0.0, 1.0, -1.0, 0.0]
    assert all(later - sooner >= 0.5 for (sooner, _), (later, _) in pairwise(seen))


def test_nothing_is_done_before_its_time() -> None:
    """A schedule that waits does nothing."""
    table = Table()
    script = Sweeping(table, pilot(table), frozenset(), lambda *_: None)
    table.sim_s = 0.99
    script.step()
    assert table["fcs/rudder-cmd-norm"] == 0.0


@pytest.mark.parametrize(
    ("slips", "n2", "fuel"),
    [
        (frozenset(), 15.0, False),
        (frozenset(), 24.9, False),
        (frozenset(), 25.0, True),
        ({"fuel_early"}, 15.0, True),
    ],
)
def test_fuel_waits_for_n2(slips: set[str], n2: float, fuel: bool) -> None:
    """Fuel is switched on at 25 % N2, and with the slip at 15 %."""
    table = Table()
    table["propulsion/cutoff_cmd"] = 1
    script = TwinJetSchedule(table, frozenset(slips), lambda *_: None)
    table.sim_s = 5.0
    script.step()
    table["propulsion/engine[0]/n2"] = n2
    for _ in range(3):
        script.step()
    assert (table["propulsion/cutoff_cmd"] == 0) is fuel


@pytest.mark.parametrize(("heading_deg", "rudder_sign"), [(3.0, 1), (355.0, -1), (RUNWAY_DEG, 0)])
def test_runway_is_held_across_north(heading_deg: float, rudder_sign: int) -> None:
    """Nose right of the runway gives left rudder, which the library counts positive; across north it takes the short way."""
    table = Table()
    table["attitude/psi-deg"] = heading_deg
    hands = pilot(table)
    hands.on_runway = True
    hands.fly()
    rudder = table["fcs/rudder-cmd-norm"]
    assert (rudder > 0) - (rudder < 0) == rudder_sign


def test_slip_is_reported_with_its_time() -> None:
    """A slip is reported once, with its name and the simulated time."""
    table, reports = Table(), list[tuple[float, str]]()
    script = TwinJetSchedule(
        table, frozenset({"start_order"}), lambda sim_s, _, slip: reports.append((sim_s, slip))
    )
    table.sim_s = 5.5
    script.step()
    assert [entry for entry in reports if entry[1]] == [(5.5, "start_order")]
    assert table["propulsion/active_engine"] == 1
