"""Tests of the requests that control a playback."""

from __future__ import annotations

from pathlib import Path

import pytest

from bridge.recording.playback_device import Playback
from bridge.runtime.device import PLAYBACK_VERBS
from bridge.session.requests import Request, Verb
from rules.packs.model import Pack
from tests.bridge.builders import device_on_memory_link, write_pack
from tests.bridge.recording.builders import RecordedDevice
from tests.contract.waiting import ManualClock


@pytest.fixture
def clock() -> ManualClock:
    """The clock of the playback."""
    return ManualClock()


@pytest.fixture
def playback(pack: Pack, tmp_path: Path, clock: ManualClock) -> Playback:
    """A recording of two minutes, at its start."""
    recorded = RecordedDevice(pack, tmp_path)
    recorded.send(0.0)
    recorded.fly(120, since_s=1)
    recorded.recorder.finish()
    folder = write_pack(tmp_path / "pack")
    return Playback(f"recording:{recorded.read().paths[0]}", str(folder), clock=clock)


def _handle(playback: Playback, verb: Verb, name: str = "") -> str:
    reply = playback.device.handle(Request(verb, name))
    assert reply.accepted, reply.text
    return reply.text


def test_pause_and_start(playback: Playback, clock: ManualClock) -> None:
    """While paused the position stays, and playback then continues from there."""
    clock.now_s += 10
    assert _handle(playback, "playback_pause") == "paused at 0:00:10"
    clock.now_s += 1000
    assert playback.player.position_s == 10
    assert playback.device.playback_control is not None
    assert not playback.device.playback_control.status().running
    assert _handle(playback, "playback_start") == "playing from 0:00:10"
    clock.now_s += 5
    assert playback.player.position_s == 15


@pytest.mark.parametrize(
    ("given", "position_s"),
    [("0:01:00", 60), ("1:30", 90), ("45", 45), ("+30", 50), ("-15", 5), ("-100", 0), ("9:00:00", 120)],
)
def test_seek(playback: Playback, clock: ManualClock, given: str, position_s: float) -> None:
    """A time is a position, a signed number an offset; both are limited to the recording."""
    clock.now_s += 20
    _handle(playback, "playback_seek", given)
    assert playback.player.position_s == pytest.approx(position_s, abs=1.0)


def test_speed(playback: Playback, clock: ManualClock) -> None:
    """At speed 4 one second plays four."""
    assert _handle(playback, "playback_speed", "4") == "speed 4"
    clock.now_s += 10
    assert playback.player.position_s == 40


@pytest.mark.parametrize(
    ("verb", "name", "expected"),
    [
        ("playback_seek", "soon", "expected a time such as 0:10:00"),
        ("playback_speed", "fast", "fast is not valid, expected"),
        ("playback_speed", "1e9", "expected"),
    ],
)
def test_invalid_values_are_refused(playback: Playback, verb: Verb, name: str, expected: str) -> None:
    """An invalid time or speed is refused with what was expected, and nothing changes."""
    reply = playback.device.handle(Request(verb, name))
    assert not reply.accepted
    assert expected in reply.text
    assert (playback.player.position_s, playback.player.speed) == (0, 1)


def test_status(playback: Playback, clock: ManualClock) -> None:
    """The status has position, end and speed, and at the end `ended`."""
    assert playback.device.playback_control is not None
    now = playback.device.playback_control.status()
    assert (now.position_s, now.end_s, now.speed, now.running, now.ended) == (0, 119, 1, True, False)
    clock.now_s += 500
    while playback.player.due_messages():
        pass
    now = playback.device.playback_control.status()
    assert (now.position_s, now.running, now.ended) == (119, False, True)
    _handle(playback, "playback_start")
    assert playback.device.playback_control.status().position_s == 0


@pytest.mark.parametrize("verb", PLAYBACK_VERBS)
def test_a_simulator_refuses_playback_requests(pack: Pack, clock: ManualClock, verb: Verb) -> None:
    """A device that plays no recording refuses playback requests."""
    device, _ = device_on_memory_link(pack, clock)
    reply = device.handle(Request(verb, "1"))
    assert not reply.accepted
    assert reply.text.startswith("playback: this device is a simulator")
    assert "--link recording:PATH" in reply.text
