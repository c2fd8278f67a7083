"""What people turn while a recording is played."""

from __future__ import annotations

from pathlib import Path

import pytest

from bridge.common.sim_time import parse_sim_time
from bridge.recording.playback_device import Playback
from bridge.runtime.control import Request, Verb
from bridge.runtime.device import PLAYBACK_VERBS
from rules.packs.model import Pack
from tests.bridge.builders import device_on_memory_link, write_pack
from tests.bridge.recording.builders import RecordedDevice
from tests.contract.waiting import ManualClock


@pytest.fixture
def clock() -> ManualClock:
    """The clock by which it is played."""
    return ManualClock()


@pytest.fixture
def stage(pack: Pack, tmp_path: Path, clock: ManualClock) -> Playback:
    """A recording of two minutes, about to be played."""
    booth = RecordedDevice(pack, tmp_path)
    booth.send(0.0)
    booth.fly(120, since_s=1)
    booth.recorder.finish()
    folder = write_pack(tmp_path / "pack")
    return Playback(f"recording:{booth.read().paths[0]}", str(folder), clock=clock)


def _handle(playback: Playback, verb: Verb, name: str = "") -> str:
    reply = playback.device.handle(Request(verb, name))
    assert reply.accepted, reply.text
    return reply.text


def test_standing_still_and_going_on(stage: Playback, clock: ManualClock) -> None:
    """While it stands still time passes and the place does not; then it goes on from there."""
    clock.now_s += 10
    assert _handle(stage, "stop") == "standing still at 0:00:10"
    clock.now_s += 1000
    assert stage.player.position_s == 10
    assert stage.device.playback_control is not None
    assert not stage.device.playback_control.status().running
    assert _handle(stage, "play") == "playing from 0:00:10"
    clock.now_s += 5
    assert stage.player.position_s == 15


@pytest.mark.parametrize(
    ("said", "place_s"),
    [("0:01:00", 60), ("1:30", 90), ("45", 45), ("+30", 50), ("-15", 5), ("-100", 0), ("9:00:00", 120)],
)
def test_another_place(stage: Playback, clock: ManualClock, said: str, place_s: float) -> None:
    """A time leads there, a sign leads on or back, and nothing leads beyond the ends."""
    clock.now_s += 20
    _handle(stage, "seek", said)
    assert stage.player.position_s == pytest.approx(place_s, abs=1.0)


def test_another_speed(stage: Playback, clock: ManualClock) -> None:
    """At four times the speed a second is four."""
    assert _handle(stage, "speed", "4") == "speed 4"
    clock.now_s += 10
    assert stage.player.position_s == 40


@pytest.mark.parametrize(
    ("verb", "name", "words"),
    [
        ("seek", "soon", "expected a time such as 0:10:00"),
        ("speed", "fast", "fast is none, expected"),
        ("speed", "1e9", "expected"),
    ],
)
def test_what_makes_no_sense_is_refused(stage: Playback, verb: Verb, name: str, words: str) -> None:
    """A word that is no time or speed is refused with what was expected, and nothing changes."""
    reply = stage.device.handle(Request(verb, name))
    assert not reply.accepted
    assert words in reply.text
    assert (stage.player.position_s, stage.player.speed) == (0, 1)


def test_how_it_plays(stage: Playback, clock: ManualClock) -> None:
    """Screens are told the place, the end and the speed; at the end that it has ended."""
    assert stage.device.playback_control is not None
    now = stage.device.playback_control.status()
    assert (now.position_s, now.end_s, now.speed, now.running, now.ended) == (0, 119, 1, True, False)
    clock.now_s += 500
    while stage.player.due_messages():
        pass
    now = stage.device.playback_control.status()
    assert (now.position_s, now.running, now.ended) == (119, False, True)
    _handle(stage, "play")
    assert stage.device.playback_control.status().position_s == 0


@pytest.mark.parametrize("verb", PLAYBACK_VERBS)
def test_a_simulator_has_no_knobs(pack: Pack, clock: ManualClock, verb: Verb) -> None:
    """What is no recording cannot be turned, which is said."""
    rig, _ = device_on_memory_link(pack, clock)
    reply = rig.handle(Request(verb, "1"))
    assert not reply.accepted
    assert "no recording" in reply.text


@pytest.mark.parametrize(
    ("text", "seconds"),
    [("1:02:03", 3723), ("90", 90), ("", None), ("1:2:3:4", None), ("-5", None), ("inf", None)],
)
def test_times(text: str, seconds: float | None) -> None:
    """Times are hours, minutes, seconds, or seconds alone."""
    assert parse_sim_time(text) == seconds
