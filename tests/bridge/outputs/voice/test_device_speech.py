"""Tests of bridge.outputs.voice.device_speech: challenges, mute, sessions, and the number of devices."""

from __future__ import annotations

import pytest

from bridge.outputs.voice.device_speech import SpeechPrompter, require_voice, speak_for_device
from bridge.outputs.voice.engines import MemoryVoice
from bridge.outputs.voice.speaker import Speaker
from bridge.runtime.device import build_device
from bridge.runtime.device_events import RunnerTicked
from bridge.runtime.registry import DeviceRegistry
from bridge.session.requests import Request
from rules.faults import InputFaults
from rules.packs.model import Pack
from tests.bridge.builders import TRIP
from tests.bridge.page.page_builders import FlownDevice, page_pack


@pytest.fixture(scope="module")
def paged(tmp_path_factory: pytest.TempPathFactory) -> Pack:
    """A pack with a checklist."""
    return page_pack(tmp_path_factory.mktemp("packs") / "paged")


def waiting(speaker: Speaker) -> list[str]:
    """The texts that wait in the queue."""
    return [one.text for one in speaker.queue.waiting]


def test_each_checklist_line_is_challenged_once(paged: Pack) -> None:
    """The first challenge is spoken at the start, the next one when the state answers the first, none twice."""
    flown = FlownDevice(paged)
    speaker = Speaker(paged, MemoryVoice(), clock=flown.clock)
    flown.device.bus.subscribe(SpeechPrompter(flown.device, speaker), RunnerTicked)
    flown.frame(0.0, {"lights.beacon": "on"})
    flown.pass_time(0.25)
    assert waiting(speaker) == []
    assert flown.ask("start_checklist", "before").accepted
    flown.pass_time(0.25)
    flown.pass_time(0.25)
    assert waiting(speaker) == ["Beacon"]
    for second in range(1, 8):
        flown.frame(second, {"lights.beacon": "on"})
        flown.pass_time(0.5)
    assert waiting(speaker) == ["Documents"]


def test_a_muted_session_is_not_spoken(paged: Pack) -> None:
    """Mute and unmute apply at the next tick."""
    flown = FlownDevice(paged)
    speaker = Speaker(paged, MemoryVoice(), clock=flown.clock)
    flown.device.bus.subscribe(SpeechPrompter(flown.device, speaker), RunnerTicked)
    flown.ask("mute")
    flown.ask("start_checklist", "before")
    flown.pass_time(0.25)
    assert waiting(speaker) == []
    flown.ask("unmute")
    flown.ask("start_checklist", "before")
    flown.pass_time(0.25)
    assert waiting(speaker) == ["Beacon"]


async def test_without_a_voice_there_is_no_speaker(paged: Pack) -> None:
    """Without an engine the block has no speaker."""
    flown = FlownDevice(paged)
    async with speak_for_device(flown.device, None) as speaker:
        assert speaker is None


async def test_the_speaker_gets_every_session_of_the_device(paged: Pack) -> None:
    """Events of a session that starts later are spoken."""
    flown = FlownDevice(paged)
    async with speak_for_device(flown.device, MemoryVoice()) as speaker:
        assert speaker is not None
        assert flown.device.handle(Request("start_session", "Second")).accepted
        flown.frame(0.0, {"lights.beacon": "off"})
        for second in range(1, 4):
            flown.frame(second, {"lights.beacon": "off"}, push_approved=0.5)
        assert any("beacon is off" in one.text for one in speaker.queue.waiting)


def test_several_devices_have_no_common_speaker(paged: Pack) -> None:
    """The option is refused with a hint, since the devices would speak at the same time."""
    devices = [build_device(paged, TRIP, "udp://127.0.0.1:0", device_id=name) for name in ("bay_1", "bay_2")]
    with pytest.raises(InputFaults, match="use the voice of each device's page"):
        require_voice(DeviceRegistry(devices))
