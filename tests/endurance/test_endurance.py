"""Short runs of both kinds of endurance, with a real watch: some simulated minutes, some thousand hostile packets."""

from __future__ import annotations

from itertools import islice
from pathlib import Path

import pytest

from tests.endurance.flight_plan import plan_flights
from tests.endurance.flight_run import rejudge_newest, run_flights
from tests.endurance.flood_run import good_packets, run_flood
from tests.endurance.hostile_packets import LARGE, flood, hostile_packets
from tests.endurance.process_usage import PROCESSES
from tests.endurance.report_plot import draw
from tests.endurance.verdict import judge_flights, judge_flood

needs_processes = pytest.mark.skipif(
    not (PROCESSES / "net" / "udp").exists(),
    reason="the system has no counts of processes and sockets in /proc",
)
DELAYS = ("control port answers", "state judged and printed")
"""Rules on times, which a test does not assert."""


@needs_processes
async def test_some_minutes_of_flight_pass(tmp_path: Path) -> None:
    """Every frame arrives, every finding is stored, every notice delivered, and the recording gives the same again."""
    run = await run_flights(tmp_path, hours=0.2, rate_hz=1.0, seed=4, recordings_limit_mb=50.0, sample_s=1.0)
    run.rejudged = await rejudge_newest(tmp_path / "data", 1)
    bad = [outcome for outcome in judge_flights(run) if not outcome.good]
    assert [outcome for outcome in bad if not outcome.rule.startswith(DELAYS)] == []
    assert run.samples[-1].frames > 500
    picture = tmp_path / "picture.png"
    draw(picture, "some minutes", run.samples, 50.0)
    assert picture.read_bytes().startswith(b"\x89PNG")


@needs_processes
async def test_some_thousand_hostile_packets_disturb_nothing(tmp_path: Path) -> None:
    """Every good frame is judged, the flight goes on, and what is refused is counted by its reason."""
    run = await run_flood(tmp_path, packets=8_000, rate=5_000, seed=2, sample_s=1.0)
    bad = [outcome for outcome in judge_flood(run) if not outcome.good]
    assert [outcome for outcome in bad if not outcome.rule.startswith(DELAYS)] == []
    assert run.hostile == 8_000
    assert set(run.refusals) == {"another sender on this port"}


def test_the_plan_has_everything_by_turns() -> None:
    """Both aeroplanes, flights with and without slips, new and continued sessions, and the same plan for the same seed."""
    flights = list(islice(plan_flights(1), 24))
    assert {flight.scenario for flight in flights} == {"sector", "circuit"}
    assert {bool(flight.slip) for flight in flights} == {True, False}
    assert {flight.new_session for flight in flights} == {True, False}
    assert len({flight.network for flight in flights}) > 20
    assert flights == list(islice(plan_flights(1), 24))


def test_hostile_packets_are_of_many_kinds() -> None:
    """Invented names, the fuzzer's corpus, strangers' and damaged packets; few of a flood are large."""
    kinds = hostile_packets(good_packets(1, 4), 1)
    assert {"signals", "long_list", "random bytes", "good ones again", "damaged"} <= set(kinds)
    assert any(name.startswith("corpus of") for name in kinds)
    mixed = list(islice(flood(kinds, 1), 4_000))
    assert 0 < sum(len(data) > LARGE for data in mixed) < 200
