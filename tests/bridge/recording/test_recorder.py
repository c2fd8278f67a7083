"""Tests of recorder and writer: which files are written, and what happens when the disk fails."""

from __future__ import annotations

import errno
import os
import signal
import stat
import subprocess
import sys
from pathlib import Path
from typing import IO

import pytest
import structlog
from mcap.reader import make_reader
from structlog.testing import capture_logs

from bridge.recording.file_format import encode_message
from bridge.recording.live_file import hold
from bridge.recording.reader import open_recording
from bridge.recording.recorder import MAX_QUEUED
from bridge.recording.recording_budget import list_recordings, prune_to_budget, recording_stem
from bridge.recording.replay_judge import replay_events
from bridge.recording.writer import CHUNK_S, SYNC_S, RecordingLimits
from bridge.session.session_events import DiskNearlyFull, RecordingStopped, SessionEnded, SessionStarted
from rules.judge.events import DataMissing
from rules.packs.model import Pack
from rules.signals.model import Frame
from tests.bridge.builders import write_pack
from tests.bridge.recording.builders import (
    BEGAN_UTC,
    RecordedDevice,
    event_messages_of,
    from_inputs,
    session_changes,
)
from tests.bridge.recording.failing_disk import FailingDisk


def test_the_library_reads_a_recording(pack: Pack, tmp_path: Path) -> None:
    """The library's own reader finds channels with schemas, the summary, and the messages by wall clock."""
    recorded = RecordedDevice(pack, tmp_path)
    recorded.fly(10)
    recorded.recorder.finish()
    (path,) = recorded.read().paths
    with path.open("rb") as stream:
        reader = make_reader(stream, validate_crcs=True)
        summary = reader.get_summary()
        assert summary is not None
        assert summary.statistics is not None
        assert {channel.message_encoding for channel in summary.channels.values()} == {"json"}
        assert {schema.encoding for schema in summary.schemas.values()} == {"jsonschema"}
        frames = [message for _, _, message in reader.iter_messages(["/frame"])]
    assert [message.publish_time for message in frames] == [second * 10**9 for second in range(10)]
    assert frames[0].log_time == round(BEGAN_UTC * 10**9)
    assert b'"lights.beacon":"off"' in frames[0].data
    assert stat.S_IMODE(path.stat().st_mode) == 0o600


def test_the_head_describes_the_session(pack: Pack, tmp_path: Path) -> None:
    """The head has device, session, pack and trip sheet; the file name has start and device."""
    recorded = RecordedDevice(pack, tmp_path)
    recorded.send(0.0)
    recorded.recorder.finish()
    recording, session = recorded.read(), recorded.device.session
    head = recording.head
    assert (head.session, head.began_utc, head.device) == (session.uuid, BEGAN_UTC, "device")
    assert (head.pack.id, head.pack.title) == ("small", "Small jet")
    assert len(head.pack.digest) == 64
    assert head.trip.title == "Lindmere 417"
    assert recording.paths[0].name == f"20261125T040000Z-device-{session.uuid[:8]}.mcap"


def test_each_session_has_its_own_recording(pack: Pack, tmp_path: Path) -> None:
    """The next session closes the recording of the last, with its end in it."""
    recorded = RecordedDevice(pack, tmp_path)
    recorded.fly(3)
    recorded.wait(2.0)
    recorded.request("start_session", "Second")
    recorded.fly(3)
    recorded.recorder.finish()
    first, second = (open_recording(files.parts[0]) for files in list_recordings(tmp_path))
    assert [type(change) for change in session_changes(recorded.events)] == [SessionEnded, SessionStarted]
    ended, started = list(first.items()), list(second.items())
    assert first.fault is second.fault is None
    assert encode_message(ended[-1].content) == encode_message(session_changes(recorded.events)[0])
    assert encode_message(started[0].content) == encode_message(session_changes(recorded.events)[1])
    assert second.head.name == "Second"
    assert event_messages_of(ended) + event_messages_of(started) == recorded.event_messages()


def test_everything_older_than_a_second_is_in_the_file(pack: Pack, tmp_path: Path) -> None:
    """Everything older than a second can be read from an open file."""
    recorded = RecordedDevice(pack, tmp_path)
    for second in range(20):
        recorded.fly(1, since_s=second)
        recorded.clock.now_s += CHUNK_S
        recorded.recorder.write_queued()
        frames = [item.content.sim_s for item in recorded.items() if isinstance(item.content, Frame)]
        assert frames == list(range(second + 1))
    recorded.recorder.finish()


def test_the_file_is_synchronised(pack: Pack, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The file is synchronised to disk every ten seconds, and at the end."""
    synced: list[float] = []
    recorded = RecordedDevice(pack, tmp_path)
    monkeypatch.setattr("bridge.recording.writer.os.fsync", lambda _: synced.append(recorded.clock.now_s))
    recorded.fly(35)
    assert len(synced) == int(35 / SYNC_S)
    recorded.recorder.finish()
    assert len(synced) == int(35 / SYNC_S) + 1


@pytest.mark.parametrize("code", [errno.ENOSPC, errno.EIO, errno.EDQUOT])
def test_a_failing_disk_ends_recording_but_not_judging(pack: Pack, tmp_path: Path, code: int) -> None:
    """A failing disk gives a problem, a session event and a warning in the log; judging continues, written data is readable."""
    structlog.reset_defaults()
    with capture_logs() as logs:
        recorded = RecordedDevice(pack, tmp_path, opener=FailingDisk(20_000, code))
        recorded.fly(120)
        recorded.recorder.finish()
    assert os.strerror(code) in recorded.recorder.problem
    assert recorded.recorder.status_text == recorded.recorder.problem
    (stopped,) = session_changes(recorded.events)
    assert isinstance(stopped, RecordingStopped)
    assert "watching continues" in stopped.problem
    assert {entry["event"] for entry in logs} == {"recording stopped", "recording still stopped"}
    assert recorded.device.session.snapshot().sim_s == 119
    items = recorded.items()
    assert 5 < len([item for item in items if isinstance(item.content, Frame)]) < 120
    messages = event_messages_of(items)
    assert messages == from_inputs(recorded.events)[: len(messages)]


@pytest.mark.parametrize("room", [0, 10, 500])
def test_a_disk_that_is_full_at_the_start(pack: Pack, tmp_path: Path, room: int) -> None:
    """A full disk is reported at the start, and the next session tries again."""
    recorded = RecordedDevice(pack, tmp_path, opener=FailingDisk(room))
    recorded.fly(3)
    assert "No space left" in recorded.recorder.problem
    recorded.request("start_session", "Second")
    recorded.fly(3)
    recorded.recorder.finish()
    assert [type(change) for change in session_changes(recorded.events)].count(RecordingStopped) == 2


def test_a_nearly_full_disk_closes_the_recording(pack: Pack, tmp_path: Path) -> None:
    """Below the minimum of free space the file is closed properly, and the problem names the free space."""
    recorded = RecordedDevice(pack, tmp_path, RecordingLimits(min_free_bytes=300_000_000))
    recorded.fly(30)
    recorded.free = 299_000_000
    recorded.fly(30, since_s=30)
    assert "the disk is nearly full: 299 MB left, recording needs 300 MB" in recorded.recorder.problem
    recording = recorded.read()
    frames = [item for item in recording.items() if isinstance(item.content, Frame)]
    assert recording.fault is None
    assert 30 <= len(frames) <= 41


def test_a_nearly_full_disk_is_warned_about_once(pack: Pack, tmp_path: Path) -> None:
    """The warning comes once, well before recording stops, and again only after there was room."""
    recorded = RecordedDevice(pack, tmp_path, RecordingLimits(min_free_bytes=300_000_000))
    recorded.free = 2_000_000_000
    recorded.fly(12)
    assert recorded.device.persistence_problems == []
    recorded.free = 1_000_000_000
    recorded.fly(24, since_s=12)
    changes = [
        change.problem for change in session_changes(recorded.events) if isinstance(change, DiskNearlyFull)
    ]
    assert len(changes) == 1
    assert changes[0].startswith("the disk is nearly full: 1000 MB left; recording stops at 300 MB")
    assert recorded.device.persistence_problems == changes
    recorded.free = 2_000_000_000
    recorded.fly(12, since_s=36)
    assert recorded.device.persistence_problems == []
    recorded.free = 900_000_000
    recorded.fly(12, since_s=48)
    assert [type(change) for change in session_changes(recorded.events)].count(DiskNearlyFull) == 2
    recorded.free = 200_000_000
    recorded.fly(12, since_s=60)
    assert "recording has stopped" in recorded.device.persistence_problems[0]


def test_a_missing_folder_is_a_problem(pack: Pack, tmp_path: Path) -> None:
    """Where its folder cannot be made nothing is recorded, and the problem says why."""
    recorded = RecordedDevice(pack, tmp_path / "nowhere" / "recordings")
    recorded.fly(2)
    assert "No such file" in recorded.recorder.problem


def test_the_oldest_recordings_are_removed(tmp_path: Path) -> None:
    """Over budget the oldest recordings are removed with all parts; one that is being written stays, whoever writes it."""
    old = [recording_stem(BEGAN_UTC - 86_400 * day, "device", f"{day}" * 8) for day in (3, 2, 1)]
    for stem in old:
        for name in (f"{stem}.mcap", f"{stem}.2.mcap"):
            (tmp_path / name).write_bytes(b"x" * 1000)
            os.utime(tmp_path / name, (0, 0))
    os.utime(tmp_path / f"{old[0]}.2.mcap", (BEGAN_UTC, BEGAN_UTC))  # another program writes the oldest
    (tmp_path / "notes.txt").write_bytes(b"x" * 100_000)
    assert prune_to_budget(tmp_path, 4500, [], lambda: BEGAN_UTC + 5) == [old[1]]
    assert [files.stem for files in list_recordings(tmp_path)] == [
        old[0],
        old[2],
    ]
    assert (tmp_path / "notes.txt").exists()


def test_a_running_recorder_removes_older_recordings(pack: Pack, tmp_path: Path) -> None:
    """A running recorder removes older recordings, and logs each."""
    structlog.reset_defaults()
    old = tmp_path / f"{recording_stem(BEGAN_UTC - 86_400, 'device', 'a' * 8)}.mcap"
    old.write_bytes(b"x" * 50_000)
    os.utime(old, (0, 0))
    with capture_logs() as logs:
        recorded = RecordedDevice(pack, tmp_path, RecordingLimits(budget_bytes=60_000, min_free_bytes=0))
        recorded.fly(120)
        recorded.recorder.finish()
    assert [entry["event"] for entry in logs] == ["oldest recording removed"]
    assert logs[0]["recording"] == old.name.removesuffix(".mcap")
    assert [files.stem for files in list_recordings(tmp_path)] == [
        recorded.read().paths[0].name.removesuffix(".mcap")
    ]
    assert not recorded.recorder.problem


def test_a_recording_over_budget_ends(pack: Pack, tmp_path: Path) -> None:
    """The running recording is never removed: if it alone is over budget, it ends with a problem."""
    recorded = RecordedDevice(pack, tmp_path, RecordingLimits(budget_bytes=15_000, min_free_bytes=0))
    recorded.fly(200)
    assert "this recording alone fills" in recorded.recorder.problem
    recording = recorded.read()
    assert list(recording.items())
    assert recording.fault is None


def write_for_another_program(folder: Path, size: int) -> IO[bytes]:
    """Write a recording that another program goes on writing, until it is closed."""
    path = folder / f"{recording_stem(BEGAN_UTC, 'other', 'b' * 8)}.mcap"
    stream = path.open("wb")
    hold(stream)
    stream.write(b"x" * size)
    stream.flush()
    os.utime(path, (BEGAN_UTC, BEGAN_UTC))
    return stream


def test_a_recording_does_not_end_for_the_size_of_others(pack: Pack, tmp_path: Path) -> None:
    """One that has less than its share of the budget goes on; one that has more ends, and says so."""
    limits = RecordingLimits(budget_bytes=60_000, min_free_bytes=0)
    with write_for_another_program(tmp_path, 100_000):
        small = RecordedDevice(pack, tmp_path, limits)
        small.fly(60)
        assert small.recorder.problem == ""
        small.fly(200, since_s=60)
        assert "more than its share of the 0 MB that the 2 recordings" in small.recorder.problem
    small.recorder.finish()


def test_a_recording_that_has_just_ended_ends_no_other(pack: Pack, tmp_path: Path) -> None:
    """It cannot be removed for a minute; for so long the budget is exceeded, and the running recording goes on."""
    write_for_another_program(tmp_path, 100_000).close()
    running = RecordedDevice(pack, tmp_path, RecordingLimits(budget_bytes=105_000, min_free_bytes=0))
    running.fly(120)
    assert running.recorder.problem == ""
    assert len(list_recordings(tmp_path)) == 1  # the other one was removed after its minute
    running.recorder.finish()


def test_a_slow_thread_drops_only_frames(pack: Pack, tmp_path: Path) -> None:
    """A slow thread drops only frames, which are counted; all events are recorded, and later values are right."""
    recorded = RecordedDevice(pack, tmp_path)
    for step in range(MAX_QUEUED + 600):
        recorded.send(step * 0.05, {"lights.beacon": "on" if step // 100 % 2 else "off"})
    recorded.recorder.write_queued()
    assert f"{recorded.recorder.lost_count} frames could not be recorded" in recorded.recorder.status_text
    recorded.send((MAX_QUEUED + 600) * 0.05)
    recorded.recorder.finish()
    items = recorded.items()
    assert recorded.recorder.lost_count > 500
    assert event_messages_of(items) == recorded.event_messages()
    frames = [item for item in items if isinstance(item.content, Frame)]
    assert len(frames) + recorded.recorder.lost_count == MAX_QUEUED + 601
    assert [item.sequence for item in items] == sorted(item.sequence for item in items)


def test_frames_that_were_not_recorded_are_missing_data(pack: Pack, tmp_path: Path) -> None:
    """Read back, the frame after the loss says from when on frames are missing, and a replay has the gap as an event."""
    recorded = RecordedDevice(pack, tmp_path)
    for step in range(MAX_QUEUED + 600):
        recorded.send(step * 0.05)
    recorded.recorder.write_queued()
    recorded.send((MAX_QUEUED + 600) * 0.05)
    recorded.recorder.finish()
    frames = [item.content for item in recorded.items() if isinstance(item.content, Frame)]
    last_s, next_s = frames[-2].sim_s, frames[-1].sim_s
    filled = [item.content for item in recorded.read().replay_items() if isinstance(item.content, Frame)]
    (keyframe,) = filled
    assert keyframe.missing_from_s == pytest.approx(last_s + 0.05)
    assert keyframe.sim_s == pytest.approx(next_s - 0.05)
    gaps = [event for event in replay_events(recorded.read(), pack) if isinstance(event, DataMissing)]
    assert [(gap.from_s, gap.sim_s) for gap in gaps] == [(keyframe.missing_from_s, keyframe.sim_s)]
    assert not [event for event in recorded.events if isinstance(event, DataMissing)]


_KILLED = """
import sys
from pathlib import Path
from rules.packs.load_pack import load_pack
from tests.bridge.builders import TRIP
from tests.bridge.builders import write_pack
from tests.bridge.recording.builders import RecordedDevice
import time as clock
booth = RecordedDevice(load_pack(sys.argv[1], trip=TRIP), Path(sys.argv[2]))
booth.recorder._clock = clock.monotonic
booth.recorder.start()
number = 0
while True:
    booth.send(number * 0.05, {"lights.beacon": "on" if number % 7 else "off", "hydraulics.1.pressure": number / 7})
    number += 1
    print(number, flush=True)
    while len(booth.recorder._queue) > 1000:
        clock.sleep(0.001)
"""


@pytest.mark.parametrize("size", [7_000, 20_000, 45_001, 110_003])
def test_a_killed_process_leaves_a_readable_file(tmp_path: Path, size: int) -> None:
    """After kill -9 at any moment every closed chunk is read without a gap, and the fault says where the file ends."""
    folder, recordings = write_pack(tmp_path / "pack"), tmp_path / "recordings"
    recordings.mkdir()
    command = [sys.executable, "-c", _KILLED, str(folder), str(recordings)]
    sent = 0
    with subprocess.Popen(command, stdout=subprocess.PIPE) as child:
        assert child.stdout is not None
        while not (there := list_recordings(recordings)) or there[0].size < size:
            sent = int(child.stdout.readline())
        child.send_signal(signal.SIGKILL)
        sent = int(([b"%d" % sent, *child.stdout.read().split()])[-1])
    recording = open_recording(list_recordings(recordings)[0].parts[0])
    items = list(recording.items())
    assert "ends early" in str(recording.fault)
    frames = [item.content for item in items if isinstance(item.content, Frame)]
    assert 0 < len(frames) <= sent + 1
    assert [frame.sim_s for frame in frames] == [number * 0.05 for number in range(len(frames))]
    assert [item.sequence for item in items] == list(range(1, len(items) + 1))
