"""Tests of recorder and writer: what is kept, in which files, and what happens where the disk does not go along."""

from __future__ import annotations

import errno
import io
import os
import signal
import stat
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import pytest
import structlog
from mcap.reader import make_reader
from structlog.testing import capture_logs

from bridge.recording.file_format import encode_message
from bridge.recording.reader import open_recording
from bridge.recording.recorder import MAX_QUEUED
from bridge.recording.retention import list_recordings, prune_to_budget, recording_stem
from bridge.recording.writer import CHUNK_S, SYNC_S, RecordingLimits, open_private
from bridge.session.session_events import SessionChangeKind
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


class Disk(io.BytesIO):
    """A file that fails once so many bytes were written, and has a number like any other."""

    def __init__(self, path: Path, room: int, code: int) -> None:
        """Begin empty; `code` is what the system says then."""
        super().__init__()
        self._real = open_private(path)
        self._room, self._code = room, code

    def write(self, data: bytes) -> int:  # type: ignore[override]
        """Take the bytes while there is room."""
        if self.tell() + len(data) > self._room:
            raise OSError(self._code, os.strerror(self._code))
        self._real.write(data)
        return super().write(data)

    def fileno(self) -> int:
        """The file's own."""
        return self._real.fileno()

    def close(self) -> None:
        """Close the file too."""
        self._real.close()
        super().close()


def failing(room: int, code: int = errno.ENOSPC) -> Callable[[Path], Disk]:
    """Opens files that fail."""
    return lambda path: Disk(path, room, code)


def test_others_read_it(pack: Pack, tmp_path: Path) -> None:
    """The library's own reader finds channels with schemas, the summary, and the messages by the wall's clock."""
    booth = RecordedDevice(pack, tmp_path)
    booth.fly(10)
    booth.recorder.finish()
    (path,) = booth.read().paths
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


def test_the_head_says_what_was_watched(pack: Pack, tmp_path: Path) -> None:
    """Device, session, pack and papers stand in the head; the name of the file says when and what."""
    booth = RecordedDevice(pack, tmp_path)
    booth.send(0.0)
    booth.recorder.finish()
    recording, session = booth.read(), booth.device.session
    head = recording.head
    assert (head.session, head.began_utc, head.device) == (session.uuid, BEGAN_UTC, "device")
    assert (head.pack.id, head.pack.title) == ("small", "Small jet")
    assert len(head.pack.digest) == 64
    assert head.trip.title == "Lindmere 417"
    assert recording.paths[0].name == f"20261125T040000Z-device-{session.uuid[:8]}.mcap"


def test_each_session_has_a_recording_of_its_own(pack: Pack, tmp_path: Path) -> None:
    """When the next session begins the recording of the last is ended, with its end in it."""
    booth = RecordedDevice(pack, tmp_path)
    booth.fly(3)
    booth.wait(2.0)
    booth.request("begin", "Second")
    booth.fly(3)
    booth.recorder.finish()
    first, second = (open_recording(kept.parts[0]) for kept in list_recordings(tmp_path))
    said = [note.change for note in session_changes(booth.events)]
    assert said == [SessionChangeKind.ENDED, SessionChangeKind.STARTED]
    ended, begun = list(first.items()), list(second.items())
    assert first.fault is second.fault is None
    assert encode_message(ended[-1].content) == encode_message(session_changes(booth.events)[0])
    assert encode_message(begun[0].content) == encode_message(session_changes(booth.events)[1])
    assert second.head.name == "Second"
    assert event_messages_of(ended) + event_messages_of(begun) == booth.event_messages()


def test_what_is_older_than_a_second_is_in_the_file(pack: Pack, tmp_path: Path) -> None:
    """While the file is open everything but the last second can be read in it already."""
    booth = RecordedDevice(pack, tmp_path)
    for second in range(20):
        booth.fly(1, since_s=second)
        booth.clock.now_s += CHUNK_S
        booth.recorder.write_queued()
        frames = [line.content.sim_s for line in booth.items() if isinstance(line.content, Frame)]
        assert frames == list(range(second + 1))
    booth.recorder.finish()


def test_the_disk_gets_it_now_and_then(pack: Pack, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The system is told to put the file on the disk each ten seconds, and at the end."""
    synced: list[float] = []
    booth = RecordedDevice(pack, tmp_path)
    monkeypatch.setattr("bridge.recording.writer.os.fsync", lambda _: synced.append(booth.clock.now_s))
    booth.fly(35)
    assert len(synced) == int(35 / SYNC_S)
    booth.recorder.finish()
    assert len(synced) == int(35 / SYNC_S) + 1


@pytest.mark.parametrize("code", [errno.ENOSPC, errno.EIO, errno.EDQUOT])
def test_a_disk_that_fails_ends_the_recording_and_not_the_watching(
    pack: Pack, tmp_path: Path, code: int
) -> None:
    """Words for people, a note that everyone hears, a warning in the log; judging goes on, what was written is read."""
    structlog.reset_defaults()
    with capture_logs() as logs:
        booth = RecordedDevice(pack, tmp_path, opener=failing(20_000, code))
        booth.fly(120)
        booth.recorder.finish()
    assert os.strerror(code) in booth.recorder.problem
    assert booth.recorder.status_text == booth.recorder.problem
    assert [note.change for note in session_changes(booth.events)] == [SessionChangeKind.RECORDING_STOPPED]
    assert "watching goes on" in session_changes(booth.events)[0].text
    assert [entry["event"] for entry in logs] == ["recording stopped"]
    assert booth.device.session.judge.context.sim_s == 119
    lines = booth.items()
    assert 5 < len([line for line in lines if isinstance(line.content, Frame)]) < 120
    recorded = event_messages_of(lines)
    assert recorded == from_inputs(booth.event_messages())[: len(recorded)]


@pytest.mark.parametrize("room", [0, 10, 500])
def test_a_disk_that_is_full_from_the_beginning(pack: Pack, tmp_path: Path, room: int) -> None:
    """Where not even the beginning can be written that is said, and the next session tries anew."""
    booth = RecordedDevice(pack, tmp_path, opener=failing(room))
    booth.fly(3)
    assert "No space left" in booth.recorder.problem
    booth.request("begin", "Second")
    booth.fly(3)
    booth.recorder.finish()
    assert [note.change for note in session_changes(booth.events)].count(
        SessionChangeKind.RECORDING_STOPPED
    ) == 2


def test_a_nearly_full_disk_ends_the_recording_in_good_order(pack: Pack, tmp_path: Path) -> None:
    """Below the least that must be free the file is ended whole, and it is said how much is left."""
    booth = RecordedDevice(pack, tmp_path, RecordingLimits(min_free_bytes=300_000_000))
    booth.fly(30)
    booth.free = 299_000_000
    booth.fly(30, since_s=30)
    assert "the disk is nearly full: 299 MB left, recording needs 300 MB" in booth.recorder.problem
    recording = booth.read()
    frames = [line for line in recording.items() if isinstance(line.content, Frame)]
    assert recording.fault is None
    assert 30 <= len(frames) <= 41


def test_the_disk_nearly_full_is_said_early_and_once(pack: Pack, tmp_path: Path) -> None:
    """Well before recording stops it is said that it will, on every screen; again only after there was room."""
    booth = RecordedDevice(pack, tmp_path, RecordingLimits(min_free_bytes=300_000_000))
    booth.free = 2_000_000_000
    booth.fly(12)
    assert booth.device.persistence_problems == []
    booth.free = 1_000_000_000
    booth.fly(24, since_s=12)
    said = [note.text for note in session_changes(booth.events) if note.change == "disk nearly full"]
    assert len(said) == 1
    assert said[0].startswith("the disk is nearly full: 1000 MB left; recording stops at 300 MB")
    assert booth.device.persistence_problems == said
    booth.free = 2_000_000_000
    booth.fly(12, since_s=36)
    assert booth.device.persistence_problems == []
    booth.free = 900_000_000
    booth.fly(12, since_s=48)
    assert [note.change for note in session_changes(booth.events)].count(
        SessionChangeKind.DISK_NEARLY_FULL
    ) == 2
    booth.free = 200_000_000
    booth.fly(12, since_s=60)
    assert "recording has stopped" in booth.device.persistence_problems[0]


def test_a_folder_that_is_gone(pack: Pack, tmp_path: Path) -> None:
    """Without its folder nothing is recorded, and that is said."""
    booth = RecordedDevice(pack, tmp_path / "nowhere")
    booth.fly(2)
    assert "No such file" in booth.recorder.problem


def test_the_oldest_recordings_give_way(tmp_path: Path) -> None:
    """Over the budget the oldest go first, whole; what is written now stays, whoever writes it."""
    old = [recording_stem(BEGAN_UTC - 86_400 * day, "device", f"{day}" * 8) for day in (3, 2, 1)]
    for stem in old:
        for name in (f"{stem}.mcap", f"{stem}.2.mcap"):
            (tmp_path / name).write_bytes(b"x" * 1000)
            os.utime(tmp_path / name, (0, 0))
    os.utime(tmp_path / f"{old[0]}.2.mcap", (BEGAN_UTC, BEGAN_UTC))  # another program writes the oldest
    (tmp_path / "notes.txt").write_bytes(b"x" * 100_000)
    assert prune_to_budget(tmp_path, 4500, [], lambda: BEGAN_UTC + 5) == [old[1]]
    assert [kept.stem for kept in list_recordings(tmp_path)] == [old[0], old[2]]
    assert (tmp_path / "notes.txt").exists()


def test_a_running_recording_makes_room_for_itself(pack: Pack, tmp_path: Path) -> None:
    """While it is written the older recordings give way, and the log names each."""
    structlog.reset_defaults()
    old = tmp_path / f"{recording_stem(BEGAN_UTC - 86_400, 'device', 'a' * 8)}.mcap"
    old.write_bytes(b"x" * 50_000)
    os.utime(old, (0, 0))
    with capture_logs() as logs:
        booth = RecordedDevice(pack, tmp_path, RecordingLimits(budget_bytes=60_000, min_free_bytes=0))
        booth.fly(120)
        booth.recorder.finish()
    assert [entry["event"] for entry in logs] == ["oldest recording removed"]
    assert logs[0]["recording"] == old.name.removesuffix(".mcap")
    assert [kept.stem for kept in list_recordings(tmp_path)] == [
        booth.read().paths[0].name.removesuffix(".mcap")
    ]
    assert not booth.recorder.problem


def test_a_recording_that_fills_the_budget_alone_is_ended(pack: Pack, tmp_path: Path) -> None:
    """The running recording is never removed: where it alone is over the budget it ends, and that is said."""
    booth = RecordedDevice(pack, tmp_path, RecordingLimits(budget_bytes=15_000, min_free_bytes=0))
    booth.fly(200)
    assert "this recording alone fills" in booth.recorder.problem
    recording = booth.read()
    assert list(recording.items())
    assert recording.fault is None


def test_a_crowd_is_counted_and_nothing_but_frames_is_left_out(pack: Pack, tmp_path: Path) -> None:
    """Where the thread does not keep up frames are left out and counted; entries are all there, and values are right after it."""
    booth = RecordedDevice(pack, tmp_path)
    for step in range(MAX_QUEUED + 600):
        booth.send(step * 0.05, {"lights.beacon": "on" if step // 100 % 2 else "off"})
    booth.recorder.write_queued()
    assert f"{booth.recorder.lost_count} frames could not be kept" in booth.recorder.status_text
    booth.send((MAX_QUEUED + 600) * 0.05)
    booth.recorder.finish()
    lines = booth.items()
    assert booth.recorder.lost_count > 500
    assert event_messages_of(lines) == booth.event_messages()
    kept = [line for line in lines if isinstance(line.content, Frame)]
    assert len(kept) + booth.recorder.lost_count == MAX_QUEUED + 601
    assert [line.sequence for line in lines] == sorted(line.sequence for line in lines)


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
def test_a_killed_process_leaves_what_it_handed_to_the_system(tmp_path: Path, size: int) -> None:
    """After kill -9 at any moment every closed chunk is read, without a hole, and it is said where it breaks off."""
    folder, kept = write_pack(tmp_path / "pack"), tmp_path / "kept"
    kept.mkdir()
    words = [sys.executable, "-c", _KILLED, str(folder), str(kept)]
    sent = 0
    with subprocess.Popen(words, stdout=subprocess.PIPE) as child:
        assert child.stdout is not None
        while not (there := list_recordings(kept)) or there[0].size < size:
            sent = int(child.stdout.readline())
        child.send_signal(signal.SIGKILL)
        sent = int(([b"%d" % sent, *child.stdout.read().split()])[-1])
    recording = open_recording(list_recordings(kept)[0].parts[0])
    lines = list(recording.items())
    assert "breaks off" in str(recording.fault)
    frames = [line.content for line in lines if isinstance(line.content, Frame)]
    assert 0 < len(frames) <= sent + 1
    assert [frame.sim_s for frame in frames] == [number * 0.05 for number in range(len(frames))]
    assert [line.sequence for line in lines] == list(range(1, len(lines) + 1))
