"""Tests of a debrief from its recording, against the recorded events and the slips of the mock's crew."""

from __future__ import annotations

import os
from itertools import pairwise
from pathlib import Path

import pytest

from bridge.debrief.evidence import evidence_signals, limits_of
from bridge.debrief.from_recording import debrief_from_recording
from bridge.debrief.model import DebriefData
from bridge.debrief.tables import debrief_tables
from bridge.debrief.time_axis import TimeAxis
from bridge.debrief.wording import gaps_sentence
from bridge.recording.reader import open_recording
from bridge.recording.replay_judge import trip_of_head
from bridge.rejudge.load_input_log import InputLogLoader, LoadedInputLog
from bridge.session.threat_error import ErrorClass
from rules.judge.events import CallEntered, FindingChanged, FindingOpened, ItemStatus, Notice, PhaseEntered
from rules.packs.load_pack import load_pack
from rules.packs.model import Pack
from tests.bridge.debrief.recorded_flight import BEGAN_UTC
from tests.bridge.recording.builders import RecordedDevice
from tests.bridge.rejudge.recorded_flights import record_everything

FOUND = {
    "flow.before_start.beacon": ("omitted", ErrorClass.PROCEDURAL),
    "flow.panel_entries.v2_first_officer": ("wrong_value", ErrorClass.HANDLING),
    "flow.before_start.hold_doors": ("undone", ErrorClass.PROCEDURAL),
    "flow.before_start.stabiliser_trim": ("wrong_value", ErrorClass.HANDLING),
    "flow.before_start.pump_left_aft": ("omitted", ErrorClass.PROCEDURAL),
    "watch.brake_before_push": ("too_early", ErrorClass.PROCEDURAL),
    "watch.moving_with_hold_doors.2": ("undone", ErrorClass.PROCEDURAL),
    "watch.fuel_early.2": ("too_early", ErrorClass.PROCEDURAL),
    "flow.after_start.cautions": ("omitted", ErrorClass.PROCEDURAL),
    "flow.after_start.air_data_heat.left": ("omitted", ErrorClass.PROCEDURAL),
    "flow.after_start.air_data_heat.right": ("omitted", ErrorClass.PROCEDURAL),
}
"""The findings of the demonstration's slips: item, kind and class."""


def test_every_finding_has_its_latest_state(debrief: DebriefData, recording: Path) -> None:
    """Findings, notices, phases and calls are all those of the recording."""
    events = [line.content for line in open_recording(recording).items()]
    last = {e.finding.number: e.finding for e in events if isinstance(e, FindingOpened | FindingChanged)}
    assert [detail.finding for detail in debrief.findings] == [last[number] for number in sorted(last)]
    assert [one.notice for one in debrief.notices] == [e for e in events if isinstance(e, Notice)]
    assert [phase.id for phase in debrief.phases] == [e.phase for e in events if isinstance(e, PhaseEntered)]
    assert [call.call for call in debrief.calls] == [e.call for e in events if isinstance(e, CallEntered)]


def test_the_slips_and_their_classes(debrief: DebriefData) -> None:
    """Each slip of the demonstration is a finding of its kind and class."""
    assert {c.finding.item: (str(c.finding.kind), c.error_class) for c in debrief.findings} == FOUND


def test_the_session(debrief: DebriefData) -> None:
    """The crew, the course, the device and the ending are those of the session."""
    assert (debrief.crew, debrief.course) == ({"captain": "Heron", "first_officer": "Plover"}, "Course 12")
    assert (debrief.device, debrief.device_title, debrief.began_utc) == ("bay-1", "Bay 1", BEGAN_UTC)
    assert debrief.ending == "ended"
    assert {detail.person for detail in debrief.findings if detail.finding.seat == "captain"} == {"Heron"}
    assert debrief.faults == ()


def test_phases_follow_each_other(debrief: DebriefData) -> None:
    """Each phase ends where the next begins, from the first frame to the last."""
    assert debrief.phases[0].from_s == debrief.from_s
    assert debrief.phases[-1].to_s == debrief.to_s
    assert all(one.to_s == after.from_s for one, after in pairwise(debrief.phases))


def test_items_cover_the_findings(debrief: DebriefData, twin_jet: Pack) -> None:
    """The item of a finding was open when the finding opened, and the intervals of an item do not overlap."""
    histories = {item.item: item for item in debrief.item_histories}
    assert len(histories) == sum(
        len(items) for flow in twin_jet.flows.values() for items in flow.seats.values()
    )
    for item in histories.values():
        ends = [(s.from_s, s.to_s) for s in item.intervals]
        assert all(a[1] <= b[0] for a, b in pairwise(ends))
    for detail in debrief.findings:
        if detail.finding.kind in ("omitted", "wrong_value") and detail.finding.item in histories:
            statuses = [
                s.status for s in histories[detail.finding.item].intervals if s.from_s <= detail.at_s < s.to_s
            ]
            assert statuses
            assert statuses[0] in (ItemStatus.OPEN, ItemStatus.LOST)
            assert detail.finding.number in histories[detail.finding.item].findings


def test_evidence_shows_the_wrong_value(debrief: DebriefData) -> None:
    """The trim has both ends of the required range as limits, and is outside of them when the finding opens."""
    (detail,) = [c for c in debrief.findings if c.finding.item == "flow.before_start.stabiliser_trim"]
    assert detail.evidence is not None
    (series,) = detail.evidence.series
    assert (series.signal, series.unit) == ("controls.stabiliser_trim", "deg")
    low, high = sorted(limit.value for limit in detail.evidence.limits)
    assert low == pytest.approx(4.9)
    assert high == pytest.approx(5.5)
    at = dict(zip(series.times_s, series.values, strict=True))
    found = [v for t, v in at.items() if t <= detail.at_s][-1]
    assert isinstance(found, float)
    assert not low <= found <= high
    assert detail.evidence.from_s == detail.at_s - 60


def test_evidence_is_within_its_window_and_in_order(debrief: DebriefData) -> None:
    """Every series is within its window of at most ten minutes, with rising times."""
    for detail in debrief.findings:
        assert detail.evidence is not None, detail.finding.item
        assert detail.evidence.to_s - detail.evidence.from_s <= 600
        for series in detail.evidence.series:
            assert list(series.times_s) == sorted(series.times_s)
            assert detail.evidence.from_s <= series.times_s[0]
            assert series.times_s[-1] <= detail.evidence.to_s
            assert len(series.times_s) <= 601


def test_limits_of_a_condition(debrief: DebriefData, twin_jet: Pack) -> None:
    """The minimum N2 for fuel is a limit of the signal that is compared with it."""
    (early,) = [c.finding for c in debrief.findings if c.finding.item == "watch.fuel_early.2"]
    limits = limits_of(early, twin_jet, {})
    assert [(b.signal, b.value, b.label) for b in limits] == [("engine.2.n2", 25.0, "minimum N2 for fuel")]
    assert "engine.2.n2" in evidence_signals(early, twin_jet)


def test_traces_have_their_findings(debrief: DebriefData) -> None:
    """The engine start with fuel too early has the index of that finding."""
    titles = [trace.record.title for trace in debrief.traces]
    assert titles[:2] == ["Start of engine 2", "Start of engine 1"]
    assert "Control check" in titles
    (early,) = [c for c in debrief.findings if c.finding.item == "watch.fuel_early.2"]
    assert early.trace_index == 0
    assert debrief.traces[0].at_s <= early.at_s


def test_gates_have_their_times(debrief: DebriefData, twin_jet: Pack) -> None:
    """Each error found at the cue of the push back was open there; what lasts kept the engine start from being ready."""
    gates = {gate.passage.gate: gate for gate in debrief.gates}
    push = gates["push_back"]
    found = [one.finding for one in debrief.findings if one.finding.gate == "push_back"]
    carried = sum(finding.carried for finding in found)
    assert (len(found), carried) == (5, 3)
    assert (push.passage.open_at_cue, push.passage.carried, push.passage.spare_s) == (5, carried, None)
    assert push.cue_at_s < (push.entered_at_s or 0)
    assert gates["engine_start"].passage.spare_s is None
    (needs,) = (gate.needs for gate in twin_jet.gates if gate.id == "engine_start")
    lasting = [finding.item for finding in found if finding.carried and finding.item in needs]
    assert len(lasting) == 2
    assert gates["engine_start"].passage.open_at_cue == len(lasting)
    before_start = gates["before_start"]
    assert before_start.passage.ready_s is not None
    assert 0 < (before_start.passage.spare_s or 0) < (before_start.entered_at_s or 0)
    assert gates["high_speed"].entered_at_s is None


def test_the_calculations(debrief: DebriefData) -> None:
    """A figure has its value and its calculation, with the values at the push back."""
    figures = {one.label: one for one in debrief.calculations}
    assert figures["zero-fuel mass"].value == "48 600 kg"
    assert figures["zero-fuel mass"].explanation == "sheet empty mass 34 200 kg plus sheet load 14 400 kg"
    assert {"sheet V1": "128 kt"}.items() <= {one.label: one.value for one in debrief.trip_values}.items()


def test_a_truncated_recording(recording: Path, twin_jet: Pack, tmp_path: Path) -> None:
    """Half a recording gives the phases of that half, and a fault."""
    cut = tmp_path / recording.name
    cut.write_bytes(recording.read_bytes()[: recording.stat().st_size // 2])
    os.utime(cut, (0, 0))
    debrief = debrief_from_recording(open_recording(cut), twin_jet)
    assert 2 <= len(debrief.phases) < 9
    assert "ends early" in debrief.faults[0]
    assert debrief.ending == ""


def test_a_session_that_still_runs(pack: Pack, tmp_path: Path) -> None:
    """While a recording is being written, the debrief names no damage; after the session's end nothing is missing."""
    recorded = RecordedDevice(pack, tmp_path)
    recorded.fly(5)
    running = debrief_from_recording(recorded.read(), pack)
    assert running.faults == ("The session still runs. Later data is missing.",)
    assert (running.ending, running.ended_utc) == ("", None)
    recorded.request("end")
    recorded.recorder.write_queued()
    recorded.wait(1.0)
    recorded.recorder.write_queued()
    recording = recorded.read()
    ended = debrief_from_recording(recording, pack)
    recorded.recorder.finish()
    assert (ended.faults, ended.ending, recording.fault) == ((), "ended", None)


def test_missing_data_are_listed(pack: Pack, tmp_path: Path) -> None:
    """The debrief lists pauses, silence and lost records as missing data, on the session's axis, and says so in words."""
    debrief = debrief_from_recording(open_recording(record_everything(pack, tmp_path)), pack)
    listed = [(round(gap.missing_s, 6), round(gap.sim_s, 6), gap.records) for gap in debrief.gaps]
    assert listed == [(2.0, 9.0, None), (8.0, 20.0, None), (2.0, 32.0, None), (1.8, 4.5, 18)]
    assert gaps_sentence(debrief.gaps) == (
        "8 s at 0:00:20, 2 s at 0:00:09, 2 s at 0:00:32, 1.8 s (18 records) at 0:00:04. "
        "What was done in that time is not known, and counts as no error."
    )
    assert gaps_sentence(()) == ""
    (table,) = (each for each in debrief_tables(debrief) if each.name == "gaps")
    assert table.rows == [
        (gap.from_s, gap.to_s, gap.sim_s, gap.missing_s, gap.records) for gap in debrief.gaps
    ]


def test_a_clock_that_jumps_back(pack: Pack, tmp_path: Path) -> None:
    """After a jump the axis continues: times never go back and stay within the session."""
    path = record_everything(pack, tmp_path)
    debrief = debrief_from_recording(open_recording(path), pack)
    assert debrief.clock_resets == 1
    loaded = InputLogLoader(open_recording(path), lambda *_: None).load()
    times = TimeAxis(loaded).times_s
    assert (times[1:] >= times[:-1]).all()
    for at_s in [detail.at_s for detail in debrief.findings] + [n.at_s for n in debrief.notices]:
        assert debrief.from_s <= at_s <= debrief.to_s
    notices_s = [notice.at_s for notice in debrief.notices]
    assert notices_s == sorted(notices_s)


def test_an_axis_without_frames() -> None:
    """A recording without frames has an axis from 0 to 0."""
    axis = TimeAxis(LoadedInputLog())
    assert (axis.from_s, axis.to_s, axis.at_s(0, 5.0), axis.utc(0, 7.0)) == (0.0, 0.0, 5.0, 7.0)


def test_another_pack_is_named(recording: Path, debrief: DebriefData) -> None:
    """If the titles are from another pack than the one that judged, a fault says so."""
    other = load_pack("trainer", trip=trip_of_head(open_recording(recording).head))
    with_other_titles = debrief_from_recording(open_recording(recording), other)
    assert any("it was judged by Halyard 220" in fault for fault in with_other_titles.faults)
    assert len(with_other_titles.findings) == len(debrief.findings)
