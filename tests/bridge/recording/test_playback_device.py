"""Tests of a recording as a device: from any position it shows what was published when it was recorded."""

from __future__ import annotations

import asyncio
from pathlib import Path

import pytest

from bridge.recording.file_format import encode_message
from bridge.recording.playback_device import Playback, parse_recording_address
from bridge.session.session import SessionState
from bridge.session.session_events import KINDS, SessionEvent
from rules.faults import InputFaults
from rules.packs.model import Pack
from tests.bridge.builders import write_pack
from tests.bridge.recording.builders import RecordedDevice, from_inputs
from tests.contract.waiting import ManualClock, wait_until


class RecordedFlight:
    """A recording, the events of its session, and the folder of the pack."""

    def __init__(self, pack: Pack, folder: Path) -> None:
        """Record a flight."""
        self.folder = str(write_pack(folder / "pack"))
        recorded = RecordedDevice(pack, folder)
        recorded.send(0.0, push_approved=0.0)
        recorded.wait(1.0)
        recorded.fly(8, since_s=1)
        recorded.request("confirm", "flow.before.documents")
        recorded.wait(120.0)
        recorded.request("remark", reason="nothing came for two minutes")
        recorded.fly(12, since_s=9)
        recorded.recorder.finish()
        self.path = recorded.read().paths[0]
        self.events = from_inputs(recorded.events)


@pytest.fixture(scope="module")
def flight(pack: Pack, tmp_path_factory: pytest.TempPathFactory) -> RecordedFlight:
    """One recording for all tests of this module."""
    return RecordedFlight(pack, tmp_path_factory.mktemp("played"))


async def run_playback(
    playback: Playback, clock: ManualClock, events: list[SessionEvent], *, ticks: int = 400
) -> None:
    """Play to the end in steps of a quarter of a second; every message is processed before the next step."""
    playback.device.bus.subscribe(events.append, *KINDS)
    receiving = asyncio.create_task(playback.device.runner.receive_forever())
    await wait_until(playback.device.source.opened.is_set)
    link = playback.device.source.link
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
async def test_a_playback_publishes_the_recorded_events(flight: RecordedFlight, speed: float) -> None:
    """At any speed the events equal the recorded ones to the byte."""
    clock, events = ManualClock(), list[SessionEvent]()
    playback = Playback(
        f"recording:{flight.path}?speed={speed}", flight.folder, clock=clock, wall_clock=ManualClock()
    )
    await run_playback(playback, clock, events, ticks=800 if speed == 1.0 else 200)
    published = [encode_message(each) for each in events if not hasattr(each, "utc")]
    assert published == [each for each in flight.events if b'"utc":' not in each]
    assert playback.same_rules
    assert playback.device.source.health.rejected == 0
    assert [entry.kind for entry in playback.device.timeline.entries if entry.kind == "remark"] == ["remark"]


async def test_a_start_in_the_middle_has_the_complete_state(flight: RecordedFlight) -> None:
    """A start in the middle has values, calls and confirmations at once."""
    clock, events = ManualClock(), list[SessionEvent]()
    playback = Playback(
        f"recording:{flight.path}?from=0:00:06&to=0:00:07",
        flight.folder,
        clock=clock,
        wall_clock=ManualClock(),
    )
    await run_playback(playback, clock, events, ticks=40)
    session = playback.device.session
    assert session.snapshot().sim_s == 7.0
    assert [each.call for each in events if hasattr(each, "call")] == ["push_approved"]
    assert session.snapshot().items["flow.before.beacon"].verdict == "met"
    assert playback.device.past_sessions == []


async def test_a_seek_starts_a_session(flight: RecordedFlight) -> None:
    """A seek starts a new session that knows nothing of later frames."""
    clock, events = ManualClock(), list[SessionEvent]()
    playback = Playback(
        f"recording:{flight.path}?speed=1000", flight.folder, clock=clock, wall_clock=ManualClock()
    )
    await run_playback(playback, clock, events, ticks=20)
    playback.device.session.state = SessionState.ENDED
    before = playback.device.session
    playback.player.set_speed(1.0)
    playback.player.seek(4.0)
    playback.player.end_s = 5.0
    await run_playback(playback, clock, events, ticks=40)
    session = playback.device.session
    assert session is not before
    assert (session.name, session.snapshot().sim_s) == ("from 0:00:04", 5.0)
    assert session.snapshot().items["flow.before.documents"].verdict != "met"
    assert [past.name for past in playback.device.past_sessions] == [before.name]


async def test_every_value_is_known_after_a_paused_session(flight: RecordedFlight) -> None:
    """After a paused session every value is known again."""
    clock, events = ManualClock(), list[SessionEvent]()
    playback = Playback(f"recording:{flight.path}?to=4", flight.folder, clock=clock, wall_clock=ManualClock())
    playback.device.session.state = SessionState.PAUSED
    await run_playback(playback, clock, events, ticks=30)
    assert events == []
    playback.device.session.state = SessionState.RUNNING
    playback.player.end_s = 5.0
    playback.player.ended = False
    playback.player.play()
    await run_playback(playback, clock, events, ticks=30)
    assert playback.device.session.snapshot().samples["flight.ground_speed"].value == 0.0


@pytest.mark.parametrize(
    ("address", "expected"),
    [
        ("recording:", "the file is missing, expected recording:PATH"),
        (
            "recording:a.mcap?form=3",
            "unknown option form, expected from, to or speed\n    hint: did you mean from?",
        ),
        ("recording:a.mcap?from=ten", "from is ten, expected a time such as 0:10:00"),
        ("recording:a.mcap?to=1:2:3:4", "to is 1:2:3:4, expected a time"),
        ("recording:a.mcap?speed=0", "speed is 0, expected 0.05 to 1000"),
        ("recording:a.mcap?speed=", "speed is empty"),
    ],
)
def test_a_wrong_address_is_refused(address: str, expected: str) -> None:
    """Each wrong option is reported with what was expected."""
    with pytest.raises(InputFaults) as caught:
        parse_recording_address(address)
    assert expected in str(caught.value)


def test_times_of_an_address() -> None:
    """Times are hours, minutes and seconds, or seconds."""
    playback_range = parse_recording_address("recording:folder/a.mcap?from=0:10:00&to=1200.5&speed=4")
    assert (str(playback_range.path), playback_range.start_s, playback_range.end_s, playback_range.speed) == (
        "folder/a.mcap",
        600.0,
        1200.5,
        4.0,
    )


def test_a_missing_file_is_refused(tmp_path: Path) -> None:
    """The file is read before the device is built."""
    with pytest.raises(InputFaults, match="cannot be read"):
        Playback(f"recording:{tmp_path / 'nothing.mcap'}")
