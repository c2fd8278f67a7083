"""The option `--speak`: connects a speaker to a device.

Takes: a device and an engine.  Gives: a speaker for every session of the device, with the challenges of its checklists.
"""

from __future__ import annotations

import asyncio
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager

from bridge.outputs.voice.engines import Voice, VoiceError, default_voice
from bridge.outputs.voice.speaker import Speaker
from bridge.outputs.voice.speech_queue import MuteLevel
from bridge.runtime.device import Device
from bridge.runtime.device_events import RunnerTicked
from bridge.runtime.registry import DeviceRegistry
from bridge.session.checklist_run import ChecklistRun
from bridge.session.session_events import KINDS
from rules.faults import Fault, InputFaults, Place


def require_voice(registry: DeviceRegistry) -> Voice:
    """Find the voice of this machine.

    Raises:
        InputFaults: there is no voice, or there are several devices, which would speak at the same time.
    """
    if len(registry.devices) > 1:
        hint = "use the voice of each device's page"
        raise InputFaults([Fault(Place("--speak"), "several devices are watched", "one", hint)])
    try:
        return default_voice()
    except VoiceError as error:
        raise InputFaults([Fault(Place("--speak"), str(error))]) from error


@asynccontextmanager
async def speak_for_device(device: Device, voice: Voice | None) -> AsyncIterator[Speaker | None]:
    """Speak for a device while the block runs.

    Args:
        device: the device.
        voice: the engine; None for no speech.

    Yields:
        The speaker, None without an engine.
    """
    if voice is None:
        yield None
        return
    speaker = Speaker(device.pack, voice, quiet_levels=lambda: device.session.current_snapshot().quiet_levels)
    device.bus.subscribe(speaker.on_event, *KINDS)
    device.bus.subscribe(SpeechPrompter(device, speaker), RunnerTicked)
    task = asyncio.create_task(speaker.run(), name="voice")
    try:
        yield speaker
    finally:
        task.cancel()
        await asyncio.gather(task, return_exceptions=True)


class SpeechPrompter:
    """At each tick passes the session's mute and the next line of its checklist to a speaker."""

    def __init__(self, device: Device, speaker: Speaker) -> None:
        """Start without a checklist.

        Args:
            device: the device whose session is polled.
            speaker: the speaker.
        """
        self._device = device
        self._speaker = speaker
        self._position: tuple[ChecklistRun | None, int] = (None, 0)
        self._muted = False

    def __call__(self, _: RunnerTicked) -> None:
        """Poll the session once."""
        session = self._device.session
        if session.muted != self._muted:
            self._muted = session.muted
            self._speaker.set_mute(MuteLevel.EVERYTHING if self._muted else MuteLevel.NOTHING)
        self._speaker.on_tick()
        run = session.checklist_run
        position = (run, run.line_index if run is not None else 0)
        if position == self._position:
            return
        self._position = position
        if run is not None and run.line is not None:
            self._speaker.speak_challenge(run.line)
