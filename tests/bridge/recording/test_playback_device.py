"""Tests of a recording as a link: what it shows is what was told, from wherever it is played."""

from __future__ import annotations

import asyncio
from pathlib import Path

import pytest

from bridge.recording.file_format import encode_message
from bridge.recording.playback_device import Playback, parse_recording_address
from bridge.session.session import SessionState
from bridge.session.session_events import SessionEvent
from rules.faults import InputFaults
from rules.judge.items import verdict_of
from rules.packs.model import Pack
from tests.bridge.builders import write_pack
from tests.bridge.recording.builders import RecordedDevice, from_inputs
from tests.contract.waiting import ManualClock, wait_until


class RecordedFlight:
    """A recording, what was told when it was made, and a pack's folder to judge it by."""

    def __init__(self, pack: Pack, folder: Path) -> None:
        """Record it."""
        self.folder = str(write_pack(folder / "pack"))
        booth = RecordedDevice(pack, folder)
        booth.send(0.0, push_approved=0.0)
        booth.wait(1.0)
        booth.fly(8, since_s=1)
        booth.request("confirm", "flow.before.documents")
        booth.wait(120.0)
        booth.request("remark", reason="nothing came for two minutes")
        booth.fly(12, since_s=9)
        booth.recorder.finish()
        self.path = booth.read().paths[0]
        self.events = from_inputs(booth.event_messages())


@pytest.fixture(scope="module")
def played(pack: Pack, tmp_path_factory: pytest.TempPathFactory) -> RecordedFlight:
    """One recording for all tests here."""
    return RecordedFlight(pack, tmp_path_factory.mktemp("played"))


async def run_playback(
    playback: Playback, clock: ManualClock, events: list[SessionEvent], *, ticks: int = 400
) -> None:
    """Play to the end, on a clock that goes on by a quarter of a second each time that all is taken."""
    playback.device.add_listener(events.append)
    receiving = asyncio.create_task(playback.device.runner.receive_forever())
    await wait_until(playback.device.runner.supervised_link.opened.is_set)
    link = playback.device.runner.supervised_link.link
    assert link is not None
    for _ in range(ticks):
        clock.now_s += 0.25
        playback.player.on_change()
        for _ in range(6):
            await asyncio.sleep(0)
        playback.device.runner.tick()
    receiving.cancel()
    await asyncio.gather(receiving, return_exceptions=True)
    assert playback.player.ended
    assert "ended at" in link.status_text(0.0)


@pytest.mark.parametrize("speed", [1.0, 7.0, 1000.0])
async def test_played_from_its_beginning_it_tells_the_same(played: RecordedFlight, speed: float) -> None:
    """At any speed the entries are those that were told, to the byte, silence included."""
    clock, told = ManualClock(), list[SessionEvent]()
    stage = Playback(
        f"recording:{played.path}?speed={speed}", played.folder, clock=clock, wall_clock=ManualClock()
    )
    await run_playback(stage, clock, told, ticks=800 if speed == 1.0 else 200)
    ours = [encode_message(each) for each in told if not hasattr(each, "utc")]
    assert ours == [each for each in played.events if b'"utc":' not in each]
    assert stage.same_rules
    assert stage.device.session.receiver.health.rejected == 0
    assert [line.kind for line in stage.device.timeline.entries if line.kind == "remark"] == ["remark"]


async def test_from_a_place_on_it_knows_how_all_stood(played: RecordedFlight) -> None:
    """Begun in the middle it knows values, calls and confirmations at once."""
    clock, told = ManualClock(), list[SessionEvent]()
    stage = Playback(
        f"recording:{played.path}?from=0:00:06&to=0:00:07",
        played.folder,
        clock=clock,
        wall_clock=ManualClock(),
    )
    await run_playback(stage, clock, told, ticks=40)
    session = stage.device.session
    assert session.judge.context.sim_s == 7.0
    assert [each.call for each in told if hasattr(each, "call")] == ["push_approved"]
    assert verdict_of(session.judge.items.states["flow.before.beacon"].truth) == "met"
    assert stage.device.past_sessions == []


async def test_another_place_is_another_session(played: RecordedFlight) -> None:
    """Going back begins a session there, whatever became of the last one, and nothing of later is known in it."""
    clock, told = ManualClock(), list[SessionEvent]()
    stage = Playback(
        f"recording:{played.path}?speed=1000", played.folder, clock=clock, wall_clock=ManualClock()
    )
    await run_playback(stage, clock, told, ticks=20)
    stage.device.session.state = SessionState.ENDED
    before = stage.device.session
    stage.player.set_speed(1.0)
    stage.player.seek(4.0)
    stage.player.end_s = 5.0
    await run_playback(stage, clock, told, ticks=40)
    session = stage.device.session
    assert session is not before
    assert (session.name, session.judge.context.sim_s) == ("from 0:00:04", 5.0)
    assert verdict_of(session.judge.items.states["flow.before.documents"].truth) != "met"
    assert [past.name for past in stage.device.past_sessions] == [before.name]


async def test_after_a_pause_by_hand_nothing_is_missing(played: RecordedFlight) -> None:
    """Who pauses the session while a recording plays knows everything again after it."""
    clock, told = ManualClock(), list[SessionEvent]()
    stage = Playback(f"recording:{played.path}?to=4", played.folder, clock=clock, wall_clock=ManualClock())
    stage.device.session.state = SessionState.PAUSED
    await run_playback(stage, clock, told, ticks=30)
    assert told == []
    stage.device.session.state = SessionState.RUNNING
    stage.player.end_s = 5.0
    stage.player.ended = False
    stage.player.play()
    await run_playback(stage, clock, told, ticks=30)
    assert stage.device.session.judge.context.state.values["flight.ground_speed"] == 0.0


@pytest.mark.parametrize(
    ("address", "said"),
    [
        ("recording:", "no file is named, expected recording:PATH"),
        (
            "recording:a.mcap?form=3",
            "unknown option form, expected one of from, to, speed\n    hint: did you mean from?",
        ),
        ("recording:a.mcap?from=ten", "from is ten, expected a time such as 0:10:00"),
        ("recording:a.mcap?to=1:2:3:4", "to is 1:2:3:4, expected a time"),
        ("recording:a.mcap?speed=0", "speed is 0, expected 0.05 to 1000"),
        ("recording:a.mcap?speed=", "speed is empty"),
    ],
)
def test_an_address_that_cannot_be_understood(address: str, said: str) -> None:
    """Each option that is wrong is told with what was expected."""
    with pytest.raises(InputFaults) as caught:
        parse_recording_address(address)
    assert said in str(caught.value)


def test_times_of_an_address() -> None:
    """Hours, minutes and seconds, or seconds alone."""
    cue = parse_recording_address("recording:kept/a.mcap?from=0:10:00&to=1200.5&speed=4")
    assert (str(cue.path), cue.start_s, cue.end_s, cue.speed) == ("kept/a.mcap", 600.0, 1200.5, 4.0)


def test_what_is_no_recording_is_told_at_once(tmp_path: Path) -> None:
    """The file is looked into before anything is opened."""
    with pytest.raises(InputFaults, match="cannot be read"):
        Playback(f"recording:{tmp_path / 'nothing.mcap'}")
