"""Tests of recordings that continue after a failure: nothing is lost, and each failure and its end are published once."""

from __future__ import annotations

import errno
from pathlib import Path

import pytest

from bridge.recording.file_format import RecordingKeyframe
from bridge.recording.reader import open_recording
from bridge.recording.recorder import MAX_WAITING, RETRY_S
from bridge.recording.recording_budget import list_recordings
from bridge.recording.replay_judge import replay_events
from bridge.recording.writer import RecordingLimits
from bridge.session.session_events import RecordingResumed, RecordingStopped
from rules.packs.model import Pack
from rules.signals.model import Frame
from tests.bridge.recording.builders import RecordedDevice, event_messages_of, from_inputs, session_changes
from tests.bridge.recording.failing_disk import FailingDisk


def frames_of(recorded: RecordedDevice) -> list[float]:
    """The simulator's times of all recorded frames."""
    return [item.content.sim_s for item in recorded.items() if isinstance(item.content, Frame)]


def kinds_of(recorded: RecordedDevice) -> list[type]:
    """The problems of the recorder and their ends, in their order."""
    kinds = (RecordingStopped, RecordingResumed)
    return [type(change) for change in session_changes(recorded.events) if isinstance(change, kinds)]


@pytest.mark.parametrize("room", [0, 9_000, 20_000, 40_001])
def test_a_disk_that_is_full_for_a_time_loses_nothing(pack: Pack, tmp_path: Path, room: int) -> None:
    """Whatever byte it fails at, the next part begins with what the last one does not have, and a replay is the same."""
    opener = FailingDisk(room)
    recorded = RecordedDevice(pack, tmp_path, opener=opener)
    recorded.fly(120)
    assert "No space left" in recorded.recorder.problem
    opener.room = 10**12
    recorded.fly(200, since_s=120)
    recorded.recorder.finish()
    assert recorded.recorder.problem == ""
    assert kinds_of(recorded) == [RecordingStopped, RecordingResumed]
    assert recorded.device.persistence_problems == []
    recording = recorded.read()
    assert frames_of(recorded) == list(range(320))
    assert recording.fault is None
    assert event_messages_of(recorded.items()) == recorded.event_messages()
    replayed = list(replay_events(recorded.read(), pack))
    assert from_inputs(replayed) == from_inputs(recorded.events)


def test_each_part_can_be_read_alone(pack: Pack, tmp_path: Path) -> None:
    """The part after the failure begins with the state as of its first message."""
    opener = FailingDisk(20_000)
    recorded = RecordedDevice(pack, tmp_path, opener=opener)
    recorded.fly(60)
    opener.room = 10**12
    recorded.fly(90, since_s=60)
    recorded.recorder.finish()
    first, second = list_recordings(tmp_path)[0].parts
    before = [item.content.sim_s for item in open_recording(first).items() if isinstance(item.content, Frame)]
    alone = open_recording(second)
    frames = [item.content.sim_s for item in alone.items() if isinstance(item.content, Frame)]
    assert alone.fault is None
    assert frames == sorted(frames)
    assert frames[-1] == 149.0
    assert before == list(range(len(before)))


def test_files_that_run_out_are_reported_once(pack: Pack, tmp_path: Path) -> None:
    """While no file can be opened a second part waits; afterwards it has everything."""
    opener = FailingDisk()
    recorded = RecordedDevice(
        pack, tmp_path, RecordingLimits(part_bytes=20_000, min_free_bytes=0), opener=opener
    )
    recorded.fly(20)
    opener.refused = errno.EMFILE
    recorded.fly(200, since_s=20)
    assert "Too many open files" in recorded.recorder.problem
    opener.refused = 0
    recorded.fly(400, since_s=220)
    recorded.recorder.finish()
    assert kinds_of(recorded) == [RecordingStopped, RecordingResumed]
    assert frames_of(recorded) == list(range(620))


def test_a_moved_folder_is_made_again(pack: Pack, tmp_path: Path) -> None:
    """The first part is complete where it was moved to, and the next one is in a new folder of the old name."""
    folder, elsewhere = tmp_path / "recordings", tmp_path / "elsewhere"
    folder.mkdir()
    recorded = RecordedDevice(pack, folder)
    recorded.fly(30)
    folder.rename(elsewhere)
    recorded.fly(60, since_s=30)
    recorded.recorder.finish()
    assert kinds_of(recorded) == [RecordingStopped, RecordingResumed]
    assert "moved or removed" in session_changes(recorded.events)[0].problem  # type: ignore[attr-defined]
    (moved,) = list_recordings(elsewhere)[0].parts
    (later,) = list_recordings(folder)[0].parts
    assert later.name == f"{moved.name.removesuffix('.mcap')}.2.mcap"
    first, second = open_recording(moved), open_recording(later)
    items = [*first.items(), *second.items()]
    sequences = [item.sequence for item in items if not isinstance(item.content, RecordingKeyframe)]
    assert sequences == list(range(1, len(sequences) + 1))
    assert (first.fault, second.fault) == (None, None)


def test_a_nearly_full_disk_resumes_with_room(pack: Pack, tmp_path: Path) -> None:
    """Recording begins again where the disk has more than the minimum."""
    recorded = RecordedDevice(pack, tmp_path, RecordingLimits(min_free_bytes=300_000_000))
    recorded.fly(15)
    recorded.free = 299_000_000
    recorded.fly(30, since_s=15)
    recorded.free = 301_000_000
    recorded.fly(30, since_s=45)
    assert "nearly full" in recorded.recorder.problem
    recorded.free = 400_000_000
    recorded.fly(15, since_s=75)
    recorded.recorder.finish()
    assert recorded.recorder.problem == ""
    assert frames_of(recorded) == list(range(90))


def test_the_next_session_does_not_wait_for_the_last(pack: Pack, tmp_path: Path) -> None:
    """Where a session still waits for the disk when the next one starts, that one is recorded as soon as it can be."""
    opener = FailingDisk()
    opener.refused = errno.EMFILE
    recorded = RecordedDevice(pack, tmp_path, opener=opener)
    recorded.fly(10)
    recorded.request("start_session", "Second")
    recorded.fly(10)
    opener.refused = 0
    recorded.fly(10, since_s=10)
    recorded.recorder.finish()
    recording = recorded.read()
    assert recording.head.name == "Second"
    assert frames_of(recorded) == list(range(20))


def test_what_waits_for_the_disk_is_limited(pack: Pack, tmp_path: Path) -> None:
    """A disk that fails for good costs a bounded amount of memory, though requests are never dropped."""
    opener = FailingDisk()
    opener.refused = errno.EIO
    recorded = RecordedDevice(pack, tmp_path, opener=opener)
    recorded.fly(2)
    for _ in range(MAX_WAITING):
        recorded.request("remark", "once more")
    recorded.wait(RETRY_S)
    recorded.recorder.write_queued()
    recorded.recorder.write_queued()
    assert "waited for the disk" in recorded.recorder.problem
    assert len(recorded.recorder._queue) == 0


@pytest.mark.parametrize("sim_s", [1.8e10, 1.7e12, 1.7e18, 1e300, -1e300])
def test_a_clock_of_any_size_is_recorded(pack: Pack, tmp_path: Path, sim_s: float) -> None:
    """A frame with a clock that no file can hold is recorded like any other, and recording goes on."""
    recorded = RecordedDevice(pack, tmp_path)
    recorded.fly(5)
    frame = Frame("memory", sim_s, recorded.clock(), 0, (), ())
    recorded.device.session.judge_frame(frame)
    recorded.wait(1.0)
    recorded.recorder.write_queued()
    recorded.fly(5, since_s=5)
    recorded.recorder.finish()
    assert recorded.recorder.problem == ""
    assert len(frames_of(recorded)) == 11


def test_a_value_that_cannot_be_written_costs_one_message(
    pack: Pack, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The message is counted as lost, and everything before and after it is in the file."""
    recorded = RecordedDevice(pack, tmp_path)
    recorded.fly(5)
    write_frame = recorded.recorder._writer.__class__._write_frame  # type: ignore[union-attr]

    def refuse_one(writer: object, sequence: int, utc: float, frame: Frame) -> None:
        if frame.sim_s == 7.0:
            raise ValueError("no form")
        write_frame(writer, sequence, utc, frame)  # type: ignore[arg-type]

    monkeypatch.setattr("bridge.recording.writer.RecordingWriter._write_frame", refuse_one)
    recorded.fly(10, since_s=5)
    recorded.recorder.finish()
    assert frames_of(recorded) == [*range(7), *range(8, 15)]
    assert recorded.read().fault is None
    assert recorded.recorder.problem == ""
    assert recorded.recorder.lost_count == 1
