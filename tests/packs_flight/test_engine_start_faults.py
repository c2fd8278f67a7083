"""The mock's bad starts: each gives a notice with its name at once, and its trace is recorded.

Each is flown from just before the push back of the departure, and of the whole sector.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

import pytest

from mock_sim.run import Flight, FlightCheckpoint, FlightMoment
from rules.judge.events import Finding, FindingOpened, Notice, TraceEnd, TraceRecorded
from rules.judge.judge import Judge
from rules.signals.model import Frame, Quality, Sample, Value
from tests.shipped import shipped

RATE_HZ = 5.0
SEED = 3
SCENARIOS = ("departure", "sector")
TRACE = "trace.start_2"
MARKS = ["starter engaged", "N2 rises", "oil pressure rises", "N1 rises", "fuel", "light-off"]


@dataclass
class Start:
    """One start of engine 2: its findings, notices, trace and moments."""

    findings: list[Finding]
    notice_sentences: list[str]
    trace: TraceRecorded
    moments: list[FlightMoment]

    def first_s(self, name: str, least: float) -> float:
        """Time at which a number first reached a value."""
        return next(m.sim_s for m in self.moments if number(m, name) >= least)

    def fuel_s(self) -> float:
        """Time of the fuel lever."""
        return next(m.sim_s for m in self.moments if m.state["engine.2.fuel_lever"] == "open")


def number(moment: FlightMoment, name: str) -> float:
    """A signal that is a number."""
    return float(moment.state[name])


@cache
def before_push(scenario: str) -> tuple[FlightCheckpoint, tuple[str, ...]]:
    """The flight just before the push back is approved, and the calls so far."""
    flight = Flight(scenario, seed=SEED, rate_hz=RATE_HZ)
    calls, known, checkpoint = list[str](), tuple[str, ...](), flight.checkpoint()
    for moment in flight:
        calls_now = [call.name for call in moment.calls]
        if "push_approved" in calls_now:
            return checkpoint, known
        if moment.sim_s % 10.0 == 0.0:
            checkpoint, known = flight.checkpoint(), tuple(calls)
        calls += calls_now
    raise AssertionError("the flight has no push back")


@cache
def started(scenario: str, event: str) -> Start:
    """The first start of engine 2 with an event, '' for none."""
    checkpoint, calls = before_push(scenario)
    flight = Flight(scenario, events=[event] if event else [], seed=SEED, rate_hz=RATE_HZ).resume_from(
        checkpoint
    )
    judge = Judge(*shipped("twin_jet"))
    for call in calls:
        judge.enter_call(call)
    findings, sentences, moments = list[Finding](), list[str](), list[FlightMoment]()
    before: dict[str, Value] = {}
    for moment in flight:
        moments.append(moment)
        changes = [
            Sample(name, value, Quality.FRESH, moment.sim_s)
            for name, value in moment.state.items()
            if name not in before or before[name] != value
        ]
        before = dict(moment.state)
        calls_now = tuple(call.name for call in moment.calls)
        frame = Frame("test", moment.sim_s, moment.sim_s, 0, tuple(before), changes, calls_now)
        for entry in judge.judge_frame(frame):
            match entry:
                case FindingOpened():
                    findings.append(entry.finding)
                case Notice():
                    sentences.append(entry.sentence)
                case TraceRecorded(trace=trace) if trace == TRACE:
                    return Start(findings, sentences, entry, moments)
    raise AssertionError("engine 2 was not started")


CASES = [
    ("hot_start", ["hot_coming.2", "hot_start.2"], "Engine 2 hot start"),
    ("hung_start", ["hung_start.2"], "Engine 2 hung start"),
    ("no_light_start", ["no_light.2"], "Engine 2 no-light start"),
    ("no_n1_start", ["rotor.2"], "Engine 2 no-N1 start"),
    ("starter_stuck", ["starter_cutout.2"], "Engine 2 starter still engaged"),
]


@pytest.mark.parametrize("scenario", SCENARIOS)
@pytest.mark.parametrize(("event", "watches", "name"), CASES, ids=[event for event, _, _ in CASES])
def test_a_bad_start_is_found_by_its_name_alone(
    scenario: str, event: str, watches: list[str], name: str
) -> None:
    """Each event gives the findings that name it and no other, and the notice has the name."""
    start = started(scenario, event)
    assert [finding.item for finding in start.findings] == [f"watch.{watch}" for watch in watches]
    assert any(sentence.startswith(name) for sentence in start.notice_sentences)


@pytest.mark.parametrize("scenario", SCENARIOS)
@pytest.mark.parametrize("event", [event for event, _, _ in CASES])
def test_the_trace_of_a_bad_start_names_its_findings(scenario: str, event: str) -> None:
    """The trace runs from the starter to rest or idle, has every sample, and the numbers of the findings."""
    start = started(scenario, event)
    trace = start.trace
    assert trace.end is TraceEnd.ENDED
    assert trace.findings == tuple(finding.number for finding in start.findings) != ()
    assert all(len(column.values) == len(trace.times_s) for column in trace.columns)
    assert len(trace.times_s) >= (trace.ended_s - trace.began_s) * 3.0
    assert all(trace.began_s <= finding.sim_s <= trace.ended_s for finding in start.findings)


@pytest.mark.parametrize("scenario", SCENARIOS)
def test_a_good_start_leaves_a_trace_and_no_finding(scenario: str) -> None:
    """A clean start is recorded too, with its marks in their order."""
    start = started(scenario, "")
    assert start.findings == []
    assert start.notice_sentences == []
    assert start.trace.findings == ()
    assert [mark.label for mark in start.trace.marks] == [*MARKS, "starter cut-out", "stable idle"]
    egt = next(column for column in start.trace.columns if column.signal == "engine.2.egt")
    assert max(value for value in egt.values if isinstance(value, float)) < 740.0


def at(start: Start, watch: str) -> float:
    """Time at which a watch found an error."""
    return next(f.sim_s for f in start.findings if f.item == f"watch.{watch}")


def test_a_hot_start_is_predicted_and_reported_in_the_frame_of_the_limit() -> None:
    """The rise gives a notice below the limit, and the limit one in the very frame that exceeds it."""
    start = started("departure", "hot_start")
    over_s = start.first_s("engine.2.egt", 740.0)
    assert at(start, "hot_start.2") == over_s
    assert over_s - 2.0 <= at(start, "hot_coming.2") <= over_s


def test_a_hung_start_is_reported_within_eight_seconds() -> None:
    """Counted from N2 within 2 % of where it hangs: 5 s without a rise, 1 s of hold, and the last of the rise."""
    start = started("departure", "hung_start")
    hangs = max(number(m, "engine.2.n2") for m in start.moments)
    hung_s = start.first_s("engine.2.n2", hangs - 2.0)
    assert hung_s <= at(start, "hung_start.2") <= hung_s + 8.0


def test_a_start_without_light_is_reported_at_the_light_off_time() -> None:
    """A start without light-off is reported 15 s after the fuel lever is moved."""
    start = started("departure", "no_light_start")
    assert 14.5 <= at(start, "no_light.2") - start.fuel_s() <= 15.6


def test_a_blocked_fan_is_reported_before_the_fuel() -> None:
    """Within 1.5 s of 20 % N2, with the fuel lever still off."""
    start = started("departure", "no_n1_start")
    turning_s = start.first_s("engine.2.n2", 20.0)
    assert turning_s <= at(start, "rotor.2") <= turning_s + 1.5
    assert all(m.state["engine.2.fuel_lever"] == "closed" for m in start.moments)


def test_a_stuck_starter_is_reported_a_second_after_its_cut_out() -> None:
    """58 % N2 with the start valve open."""
    start = started("departure", "starter_stuck")
    over_s = start.first_s("engine.2.n2", 58.0)
    assert over_s <= at(start, "starter_cutout.2") <= over_s + 1.6
