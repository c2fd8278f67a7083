"""A session gathered from its recording, against what was told and what the mock's crew did wrong."""

from __future__ import annotations

from itertools import pairwise
from pathlib import Path

import pytest

from bridge.debrief.evidence import evidence_signals, limits_of
from bridge.debrief.from_recording import debrief_from_recording
from bridge.debrief.model import DebriefData
from bridge.debrief.time_axis import TimeAxis
from bridge.recording.reader import open_recording
from bridge.recording.replay_judge import trip_of_head
from bridge.rejudge.load_input_log import InputLogLoader, LoadedInputLog
from bridge.session.threat_error import ErrorClass
from rules.judge.events import CallEntered, FindingChanged, FindingOpened, ItemStatus, Notice, PhaseEntered
from rules.packs.load_pack import load_pack
from rules.packs.model import Pack
from tests.bridge.debrief.recorded_flight import BEGAN_UTC
from tests.bridge.rejudge.recorded_flights import record_everything

FOUND = {
    "flow.before_start.hydraulic_pumps": ("out_of_order", ErrorClass.PROCEDURAL),
    "flow.papers.v2_first_officer": ("wrong_value", ErrorClass.HANDLING),
    "flow.before_start.hold_doors": ("undone", ErrorClass.PROCEDURAL),
    "flow.before_start.stabiliser_trim": ("wrong_value", ErrorClass.HANDLING),
    "flow.before_start.pump_left_aft": ("omitted", ErrorClass.PROCEDURAL),
    "watch.brake_before_push": ("too_early", ErrorClass.PROCEDURAL),
    "watch.moving_with_doors": ("undone", ErrorClass.PROCEDURAL),
    "watch.fuel_early_2": ("too_early", ErrorClass.PROCEDURAL),
    "flow.after_start.cautions": ("omitted", ErrorClass.PROCEDURAL),
    "flow.after_start.air_data_heat": ("omitted", ErrorClass.PROCEDURAL),
}
"""What comes of the slips of the demonstration."""


def test_every_finding_is_there_as_it_was_told_last(account: DebriefData, recording: Path) -> None:
    """Findings, notices, phases and calls are those of the recording, none left out."""
    told = [line.content for line in open_recording(recording).items()]
    last = {t.finding.number: t.finding for t in told if isinstance(t, FindingOpened | FindingChanged)}
    assert [case.finding for case in account.findings] == [last[number] for number in sorted(last)]
    assert [one.notice for one in account.notices] == [t for t in told if isinstance(t, Notice)]
    assert [stage.id for stage in account.phases] == [t.phase for t in told if isinstance(t, PhaseEntered)]
    assert [call.call for call in account.calls] == [t.call for t in told if isinstance(t, CallEntered)]


def test_the_slips_and_their_classes(account: DebriefData) -> None:
    """Each slip of the demonstration is a finding of its kind and class."""
    assert {c.finding.item: (str(c.finding.kind), c.error_class) for c in account.findings} == FOUND


def test_who_and_what(account: DebriefData) -> None:
    """The crew, the course, the device and the papers are there."""
    assert (account.crew, account.course) == ({"captain": "Heron", "first_officer": "Plover"}, "Course 12")
    assert (account.device, account.device_title, account.began_utc) == ("bay-1", "Bay 1", BEGAN_UTC)
    assert account.ending == "ended"
    assert {case.person for case in account.findings if case.finding.seat == "captain"} == {"Heron"}
    assert account.faults == ()


def test_stages_follow_each_other(account: DebriefData) -> None:
    """Each phase ends where the next begins, from the first frame to the last."""
    assert account.phases[0].from_s == account.from_s
    assert account.phases[-1].to_s == account.to_s
    assert all(one.to_s == after.from_s for one, after in pairwise(account.phases))


def test_bars_cover_what_was_found(account: DebriefData, twin_jet: Pack) -> None:
    """Every item of a flow that was found open has a bar that was open then, and its stretches do not overlap."""
    bars = {bar.item: bar for bar in account.item_histories}
    assert len(bars) == sum(len(items) for flow in twin_jet.flows.values() for items in flow.seats.values())
    for bar in bars.values():
        ends = [(s.from_s, s.to_s) for s in bar.intervals]
        assert all(a[1] <= b[0] for a, b in pairwise(ends))
    for case in account.findings:
        if case.finding.kind in ("omitted", "wrong_value") and case.finding.item in bars:
            lives = [s.life for s in bars[case.finding.item].intervals if s.from_s <= case.at_s < s.to_s]
            assert lives
            assert lives[0] in (ItemStatus.OPEN, ItemStatus.LOST)
            assert case.finding.number in bars[case.finding.item].findings


def test_evidence_shows_what_was_wrong(account: DebriefData) -> None:
    """The trim is drawn with both ends of what was wanted, and stands outside them when it is found, inside when it is put right."""
    (case,) = [c for c in account.findings if c.finding.item == "flow.before_start.stabiliser_trim"]
    assert case.evidence is not None
    (series,) = case.evidence.series
    assert (series.signal, series.unit) == ("controls.stabiliser_trim", "deg")
    low, high = sorted(bound.value for bound in case.evidence.limits)
    assert low == pytest.approx(4.9)
    assert high == pytest.approx(5.5)
    at = dict(zip(series.times_s, series.values, strict=True))
    found = [v for t, v in at.items() if t <= case.at_s][-1]
    assert isinstance(found, float)
    assert not low <= found <= high
    assert case.evidence.from_s == case.at_s - 60


def test_evidence_is_in_its_window_and_in_order(account: DebriefData) -> None:
    """Every trace lies in its window, its times rising, and is no longer than ten minutes."""
    for case in account.findings:
        assert case.evidence is not None, case.finding.item
        assert case.evidence.to_s - case.evidence.from_s <= 600
        for series in case.evidence.series:
            assert list(series.times_s) == sorted(series.times_s)
            assert case.evidence.from_s <= series.times_s[0]
            assert series.times_s[-1] <= case.evidence.to_s
            assert len(series.times_s) <= 601


def test_limits_of_a_condition(account: DebriefData, twin_jet: Pack) -> None:
    """The least N2 for fuel is a limit of the signal it is held against; a figure is drawn as what it is worked out from."""
    (early,) = [c.finding for c in account.findings if c.finding.item == "watch.fuel_early_2"]
    bounds = limits_of(early, twin_jet, {})
    assert [(b.signal, b.value, b.label) for b in bounds] == [("engine.2.n2", 25.0, "least N2 for fuel")]
    assert "engine.2.n2" in evidence_signals(early, twin_jet)


def test_strips_have_their_findings(account: DebriefData) -> None:
    """The start in which fuel came too early is linked with that finding."""
    titles = [strip.record.title for strip in account.traces]
    assert titles[:2] == ["Start of engine 2", "Start of engine 1"]
    assert "Control check" in titles
    (early,) = [c for c in account.findings if c.finding.item == "watch.fuel_early_2"]
    assert early.trace_index == 0
    assert account.traces[0].at_s <= early.at_s


def test_gates_have_their_times(account: DebriefData) -> None:
    """The push back had four open at its cue and carried three; engine start was ready."""
    gates = {gate.passage.gate: gate for gate in account.gates}
    push = gates["push_back"]
    assert (push.passage.open_at_cue, push.passage.carried, push.passage.spare_s) == (4, 3, None)
    assert push.cue_at_s < (push.entered_at_s or 0)
    assert gates["engine_start"].passage.spare_s == pytest.approx(5.2, abs=0.3)
    assert gates["high_speed"].entered_at_s is None


def test_the_working_of_the_papers(account: DebriefData) -> None:
    """The sums stand with what went into them, as when the aeroplane left its stand."""
    working = {one.label: one for one in account.calculations}
    assert working["zero-fuel mass"].value == "48 600 kg"
    assert working["zero-fuel mass"].explanation == "sheet empty mass 34 200 kg plus sheet load 14 400 kg"
    assert {"sheet V1": "128 kt"}.items() <= {one.label: one.value for one in account.trip_values}.items()


def test_a_cut_recording_gives_what_is_there(recording: Path, twin_jet: Pack, tmp_path: Path) -> None:
    """Half a recording gives the phases of its half, and says that it breaks off."""
    cut = tmp_path / recording.name
    cut.write_bytes(recording.read_bytes()[: recording.stat().st_size // 2])
    account = debrief_from_recording(open_recording(cut), twin_jet)
    assert 2 <= len(account.phases) < 9
    assert "ends early" in account.faults[0]
    assert account.ending == ""


def test_a_clock_that_jumps_back(pack: Pack, tmp_path: Path) -> None:
    """After a jump the axis goes on: nothing lies before what came before it, and all stays within the session."""
    path = record_everything(pack, tmp_path)
    account = debrief_from_recording(open_recording(path), pack)
    assert account.clock_resets == 1
    taped = InputLogLoader(open_recording(path), lambda *_: None).load()
    times = TimeAxis(taped).times_s
    assert (times[1:] >= times[:-1]).all()
    for at_s in [case.at_s for case in account.findings] + [n.at_s for n in account.notices]:
        assert account.from_s <= at_s <= account.to_s
    told = [notice.at_s for notice in account.notices]
    assert told == sorted(told)


def test_an_axis_without_frames() -> None:
    """A recording without a frame has an axis all the same."""
    axis = TimeAxis(LoadedInputLog())
    assert (axis.from_s, axis.to_s, axis.at_s(0, 5.0), axis.utc(0, 7.0)) == (0.0, 0.0, 5.0, 7.0)


def test_another_pack_is_said(recording: Path, account: DebriefData) -> None:
    """Where titles come of another pack than the one that judged, that is said."""
    other = load_pack("trainer", trip=trip_of_head(open_recording(recording).head))
    told = debrief_from_recording(open_recording(recording), other)
    assert any("it was judged by Halyard 220" in fault for fault in told.faults)
    assert len(told.findings) == len(account.findings)
