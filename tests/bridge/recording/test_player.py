"""Tests of the player: when messages are due, and what follows a pause, a seek or another speed."""

from __future__ import annotations

from pathlib import Path

import msgspec
import pytest

from bridge.recording.file_format import FRAME, REQUEST, RecordingKeyframe
from bridge.recording.mcap_messages import McapMessage
from bridge.recording.player import MAX_SPEED, SEEK, RecordingPlayer
from bridge.recording.reader import open_recording
from rules.packs.model import Pack
from tests.bridge.recording.builders import RecordedDevice
from tests.contract.waiting import ManualClock


@pytest.fixture(scope="module")
def path(pack: Pack, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A recording of 20 frames, a second apart, with a call and a waiver at 5 s."""
    recorded = RecordedDevice(pack, tmp_path_factory.mktemp("played"))
    recorded.fly(5)
    recorded.request("call", "push_approved")
    recorded.request("waive", "flow.before.pressure", "pump out of service")
    recorded.fly(15, since_s=5)
    recorded.recorder.finish()
    return recorded.read().paths[0]


class PlayerOnClock:
    """A player and its clock."""

    def __init__(self, path: Path, **options: float) -> None:
        """Play from now on."""
        self.clock = ManualClock()
        self.player = RecordingPlayer(open_recording(path), self.clock, **options)

    def frames(self, after_s: float = 0.0) -> list[float]:
        """Let time pass and return the simulator times of the frames that are due."""
        self.clock.now_s += after_s
        return [row.sim_s for row in self.player.due_messages() if row.topic == FRAME]

    def keyframe(self) -> RecordingKeyframe:
        """Return the keyframe that follows a seek."""
        (row,) = [row for row in self.player.due_messages() if row.topic == SEEK]
        return msgspec.json.decode(row.data, type=RecordingKeyframe)


def test_messages_are_returned_when_due(path: Path) -> None:
    """At speed 1 a frame is due each second, and the waiting time is known between them."""
    playback = PlayerOnClock(path)
    assert playback.frames() == [0.0]
    assert playback.player.next_due_s() == 1.0
    assert playback.frames(0.5) == []
    assert playback.player.next_due_s() == 0.5
    assert playback.frames(2.0) == [1.0, 2.0]
    assert playback.player.position_s == 2.5
    assert playback.player.duration_s() == 19.0


def test_set_speed(path: Path) -> None:
    """Another speed counts from now on; the position does not jump."""
    playback = PlayerOnClock(path, speed=4.0)
    assert playback.frames(1.0) == [0.0, 1.0, 2.0, 3.0, 4.0]
    playback.player.set_speed(0.5)
    assert playback.player.position_s == 4.0
    assert playback.frames(2.0) == [5.0]
    playback.player.set_speed(float("inf"))
    assert playback.player.speed == 1.0
    playback.player.set_speed(1e9)
    assert playback.player.speed == MAX_SPEED


def test_pause(path: Path) -> None:
    """While paused nothing is due; then playback continues from the same position."""
    playback = PlayerOnClock(path)
    positions = list[float]()
    playback.player.on_change = lambda: positions.append(playback.player.position_s)
    assert playback.frames(2.0) == [0.0, 1.0, 2.0]
    playback.player.pause()
    assert playback.frames(100.0) == []
    assert playback.player.next_due_s() is None
    assert playback.player.position_s == 2.0
    playback.player.play()
    assert playback.frames(1.0) == [3.0]
    assert positions == [2.0, 2.0]


def test_a_seek_delivers_the_complete_state(path: Path) -> None:
    """A seek delivers a keyframe with values, calls and requests, then the next frames; forward and back."""
    playback = PlayerOnClock(path)
    playback.frames()
    playback.player.seek(10.0)
    keyframe = playback.keyframe()
    assert (keyframe.sim_s, keyframe.values["lights.beacon"], keyframe.calls) == (
        9.0,
        "on",
        ("push_approved",),
    )
    assert keyframe.values["flight.ground_speed"] == 0.0
    assert [request.verb for request in keyframe.requests] == ["waive"]
    assert playback.frames(1.0) == [11.0]
    playback.player.seek(3.0)
    keyframe = playback.keyframe()
    assert (keyframe.sim_s, keyframe.values["lights.beacon"], keyframe.calls) == (2.0, "off", ())
    assert keyframe.requests == ()
    assert playback.frames(0.0) == []
    assert playback.frames(1.0) == [4.0]


def test_start_and_end(path: Path) -> None:
    """Start and end are positions; playing again starts at the beginning."""
    playback = PlayerOnClock(path, start_s=5.0, end_s=7.0)
    assert playback.keyframe().sim_s == 4.0
    assert playback.frames(10.0) == [6.0, 7.0]
    assert playback.player.ended
    assert playback.player.next_due_s() is None
    assert playback.player.position_s == 7.0
    playback.player.play()
    assert playback.keyframe().values == {}
    assert playback.frames(2.0) == [1.0, 2.0]


def test_due_messages_are_limited(path: Path) -> None:
    """However much is due, at most `limit` messages are returned, and none is left out."""
    playback = PlayerOnClock(path)
    playback.clock.now_s += 1000
    messages: list[McapMessage] = []
    while not playback.player.ended:
        due = playback.player.due_messages(7)
        assert len(due) <= 7
        messages += due
    assert [row.sim_s for row in messages if row.topic == FRAME] == list(range(20))
    assert len([row for row in messages if row.topic == REQUEST]) == 2


def test_a_cut_recording_ends_early(path: Path, tmp_path: Path) -> None:
    """A recording that was cut is played as far as it can be read."""
    cut = tmp_path / "cut.mcap"
    cut.write_bytes(path.read_bytes()[:-3000])
    playback = PlayerOnClock(cut)
    assert playback.frames(1000.0)[:2] == [0.0, 1.0]
    assert playback.player.ended
    assert "ends early" in str(playback.player.recording.fault)
