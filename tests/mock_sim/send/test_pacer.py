"""Tests of the pace, on a manual clock."""

from __future__ import annotations

import pytest

from mock_sim.send.pacer import SendPacer
from tests.mock_sim.send.manual_clock import ManualClock


@pytest.mark.parametrize(("speed", "waited_s"), [(1.0, 10.0), (20.0, 0.5), (0.5, 20.0), (0.0, 0.0)])
async def test_speed_scales_the_wait(speed: float, waited_s: float) -> None:
    """Ten seconds of the flight take ten seconds divided by the speed, and no time at the speed "as fast as possible"."""
    clock = ManualClock()
    pace = SendPacer(speed, clock)
    for tenth in range(101):
        await pace.wait_until(tenth / 10)
    assert clock.time_s - 1000 == pytest.approx(waited_s)


async def test_a_delay_is_caught_up_and_recorded() -> None:
    """A delayed sender does not wait until it has caught up, and records its delay."""
    clock = ManualClock()
    pace = SendPacer(1.0, clock)
    clock.time_s += 3
    await pace.wait_until(1)
    await pace.wait_until(2)
    assert clock.sleeps == []
    assert pace.late_s == pytest.approx(2)
    await pace.wait_until(5)
    assert clock.sleeps == [pytest.approx(2)]


async def test_the_event_loop_runs_when_no_wait_is_needed() -> None:
    """Other tasks run even when the sender never waits."""
    clock = ManualClock()
    pace = SendPacer(0.0, clock)
    for _ in range(100):
        await pace.wait_until(0)
    assert clock.sleeps == [0] * 5
