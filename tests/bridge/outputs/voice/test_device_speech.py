"""Tests of bridge.outputs.voice.device_speech: what the host's loudspeaker says of a session, and when it is silent."""

from __future__ import annotations

import pytest

from bridge.outputs.voice.device_speech import SpeechPrompter, require_voice, speak_for_device
from bridge.outputs.voice.engines import MemoryVoice
from bridge.outputs.voice.speaker import Speaker
from bridge.runtime.device import build_device
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
    """What waits to be said."""
    return [one.text for one in speaker.queue.waiting]


def test_each_line_that_a_reading_comes_to_is_challenged_once(paged: Pack) -> None:
    """The first challenge is read when the reading begins, the next when the state has passed it, none twice."""
    flown = FlownDevice(paged)
    speaker = Speaker(paged, MemoryVoice(), clock=flown.clock)
    flown.device.runner.tick_callbacks.append(SpeechPrompter(flown.device, speaker))
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


def test_a_silenced_session_is_not_spoken_of(paged: Pack) -> None:
    """The instructor's silence reaches the loudspeaker at the next tick, and ends there."""
    flown = FlownDevice(paged)
    speaker = Speaker(paged, MemoryVoice(), clock=flown.clock)
    flown.device.runner.tick_callbacks.append(SpeechPrompter(flown.device, speaker))
    flown.ask("mute")
    flown.ask("start_checklist", "before")
    flown.pass_time(0.25)
    assert waiting(speaker) == []
    flown.ask("unmute")
    flown.ask("start_checklist", "before")
    flown.pass_time(0.25)
    assert waiting(speaker) == ["Beacon"]


async def test_without_a_voice_nothing_is_heard(paged: Pack) -> None:
    """No option, no speaker."""
    flown = FlownDevice(paged)
    async with speak_for_device(flown.device, None) as speaker:
        assert speaker is None


async def test_the_speaker_hears_every_session_of_the_rig(paged: Pack) -> None:
    """A session that is begun later is heard too."""
    flown = FlownDevice(paged)
    async with speak_for_device(flown.device, MemoryVoice()) as speaker:
        assert speaker is not None
        assert flown.device.handle(Request("start_session", "Second")).accepted
        flown.frame(0.0, {"lights.beacon": "off"})
        for second in range(1, 4):
            flown.frame(second, {"lights.beacon": "off"}, push_approved=0.5)
        assert any("beacon is off" in one.text for one in speaker.queue.waiting)


def test_several_devices_do_not_share_one_loudspeaker(paged: Pack) -> None:
    """Two simulators would talk over each other; it is refused with what to do instead."""
    rigs = [build_device(paged, TRIP, "udp://127.0.0.1:0", device_id=name) for name in ("bay_1", "bay_2")]
    with pytest.raises(InputFaults, match="let each device's page speak"):
        require_voice(DeviceRegistry(rigs))
