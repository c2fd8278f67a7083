"""Tests of playing: when messages come, and where it goes on after knobs were turned."""

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
    """A recording of 20 frames, a second apart, with a call and an excuse at 5 s."""
    booth = RecordedDevice(pack, tmp_path_factory.mktemp("played"))
    booth.fly(5)
    booth.request("call", "push_approved")
    booth.request("excuse", "flow.before.pressure", "pump out of service")
    booth.fly(15, since_s=5)
    booth.recorder.finish()
    return booth.read().paths[0]


class PlayerOnClock:
    """A player and its clock."""

    def __init__(self, path: Path, **knobs: float) -> None:
        """Play from now on."""
        self.clock = ManualClock()
        self.player = RecordingPlayer(open_recording(path), self.clock, **knobs)

    def frames(self, after_s: float = 0.0) -> list[float]:
        """The simulator's times of the frames that come, after so long."""
        self.clock.now_s += after_s
        return [row.sim_s for row in self.player.due_messages() if row.topic == FRAME]

    def keyframe(self) -> RecordingKeyframe:
        """The picture with which playing begins at another place."""
        (row,) = [row for row in self.player.due_messages() if row.topic == SEEK]
        return msgspec.json.decode(row.data, type=RecordingKeyframe)


def test_messages_come_when_they_are_due(path: Path) -> None:
    """At speed 1 a frame comes each second; between them it is known how long to wait."""
    deck = PlayerOnClock(path)
    assert deck.frames() == [0.0]
    assert deck.player.next_due_s() == 1.0
    assert deck.frames(0.5) == []
    assert deck.player.next_due_s() == 0.5
    assert deck.frames(2.0) == [1.0, 2.0]
    assert deck.player.position_s == 2.5
    assert deck.player.duration_s() == 19.0


def test_speed_holds_from_now_on(path: Path) -> None:
    """Four times as fast gives four seconds in one; the place does not jump when the speed is changed."""
    deck = PlayerOnClock(path, speed=4.0)
    assert deck.frames(1.0) == [0.0, 1.0, 2.0, 3.0, 4.0]
    deck.player.set_speed(0.5)
    assert deck.player.position_s == 4.0
    assert deck.frames(2.0) == [5.0]
    deck.player.set_speed(float("inf"))
    assert deck.player.speed == 1.0
    deck.player.set_speed(1e9)
    assert deck.player.speed == MAX_SPEED


def test_a_pause_stands_still(path: Path) -> None:
    """While it is paused nothing comes and nobody need wait; then it goes on where it was."""
    deck = PlayerOnClock(path)
    turned = list[float]()
    deck.player.on_change = lambda: turned.append(deck.player.position_s)
    assert deck.frames(2.0) == [0.0, 1.0, 2.0]
    deck.player.pause()
    assert deck.frames(100.0) == []
    assert deck.player.next_due_s() is None
    assert deck.player.position_s == 2.0
    deck.player.play()
    assert deck.frames(1.0) == [3.0]
    assert turned == [2.0, 2.0]


def test_at_another_place_all_that_stands_there_is_told(path: Path) -> None:
    """Forward and back: a picture of every value, the calls that stand and what was asked; then what comes next."""
    deck = PlayerOnClock(path)
    deck.frames()
    deck.player.seek(10.0)
    picture = deck.keyframe()
    assert (picture.sim_s, picture.values["lights.beacon"], picture.calls) == (9.0, "on", ("push_approved",))
    assert picture.values["flight.ground_speed"] == 0.0
    assert [request.verb for request in picture.requests] == ["excuse"]
    assert deck.frames(1.0) == [11.0]
    deck.player.seek(3.0)
    picture = deck.keyframe()
    assert (picture.sim_s, picture.values["lights.beacon"], picture.calls) == (2.0, "off", ())
    assert picture.requests == ()
    assert deck.frames(0.0) == []
    assert deck.frames(1.0) == [4.0]


def test_it_may_begin_and_end_somewhere(path: Path) -> None:
    """From and to are places; at the end there is nothing more, and playing again begins at the beginning."""
    deck = PlayerOnClock(path, start_s=5.0, end_s=7.0)
    assert deck.keyframe().sim_s == 4.0
    assert deck.frames(10.0) == [6.0, 7.0]
    assert deck.player.ended
    assert deck.player.next_due_s() is None
    assert deck.player.position_s == 7.0
    deck.player.play()
    assert deck.keyframe().values == {}
    assert deck.frames(2.0) == [1.0, 2.0]


def test_what_is_due_comes_in_pieces(path: Path) -> None:
    """However much is due at once, nobody has to take more than he asks for, and nothing is left out."""
    deck = PlayerOnClock(path)
    deck.clock.now_s += 1000
    rows: list[McapMessage] = []
    while not deck.player.ended:
        some = deck.player.due_messages(7)
        assert len(some) <= 7
        rows += some
    assert [row.sim_s for row in rows if row.topic == FRAME] == list(range(20))
    assert len([row for row in rows if row.topic == REQUEST]) == 2


def test_a_recording_that_breaks_off_ends_there(path: Path, tmp_path: Path) -> None:
    """What was cut is played as far as it goes."""
    cut = tmp_path / "cut.mcap"
    cut.write_bytes(path.read_bytes()[:-3000])
    deck = PlayerOnClock(cut)
    assert deck.frames(1000.0)[:2] == [0.0, 1.0]
    assert deck.player.ended
    assert "breaks off" in str(deck.player.recording.fault)
