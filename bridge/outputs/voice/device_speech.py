"""The option `--speak`: this machine's loudspeaker, while a flight is watched.

Takes: a rig and an engine.  Gives: a speaker that hears every session of it and reads checklists that are being read.
"""

from __future__ import annotations

import asyncio
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager

from bridge.outputs.voice.engines import Voice, VoiceError, default_voice
from bridge.outputs.voice.speaker import Speaker
from bridge.outputs.voice.speech_queue import MuteLevel
from bridge.runtime.device import Device
from bridge.runtime.registry import DeviceRegistry
from bridge.session.checklist_run import ChecklistRun
from rules.faults import Fault, InputFaults, Place


def require_voice(registry: DeviceRegistry) -> Voice:
    """This machine's voice.

    Raises:
        InputFaults: there is none, or several devices would speak at once.
    """
    if len(registry.devices) > 1:
        hint = "let each device's page speak"
        raise InputFaults([Fault(Place("--speak"), "several devices are watched", "one", hint)])
    try:
        return default_voice()
    except VoiceError as error:
        raise InputFaults([Fault(Place("--speak"), str(error))]) from error


@asynccontextmanager
async def speak_for_device(device: Device, voice: Voice | None) -> AsyncIterator[Speaker | None]:
    """Speak while the block runs.

    Args:
        device: whose sessions are heard.
        voice: the engine; None to say nothing.
    """
    if voice is None:
        yield None
        return
    speaker = Speaker(device.pack, voice, quiet_levels=lambda: device.session.judge.quiet_levels)
    device.add_listener(speaker.on_event)
    device.runner.tick_callbacks.append(SpeechPrompter(device, speaker))
    task = asyncio.create_task(speaker.run(), name="voice")
    try:
        yield speaker
    finally:
        task.cancel()
        await asyncio.gather(task, return_exceptions=True)


class SpeechPrompter:
    """Looks at each tick whether the session was silenced, and whether a checklist has come to its next line."""

    def __init__(self, device: Device, speaker: Speaker) -> None:
        """Nothing is being read.

        Args:
            device: whose session is looked at.
            speaker: what speaks.
        """
        self._device = device
        self._speaker = speaker
        self._position: tuple[ChecklistRun | None, int] = (None, 0)
        self._muted = False

    def __call__(self) -> None:
        """Look once."""
        session = self._device.session
        if session.muted != self._muted:
            self._muted = session.muted
            self._speaker.set_mute(MuteLevel.EVERYTHING if self._muted else MuteLevel.NOTHING)
        self._speaker.on_tick()
        reading = session.checklist_run
        at = (reading, reading.line_index if reading is not None else 0)
        if at == self._position:
            return
        self._position = at
        if reading is not None and reading.line is not None:
            self._speaker.speak_challenge(reading.line)
