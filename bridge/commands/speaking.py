"""The option `--speak`: this machine's loudspeaker, while a flight is watched.

Takes: a rig and an engine.  Gives: a speaker that hears every session of it and reads checklists that are being read.
"""

from __future__ import annotations

import asyncio
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from typing import Annotated, TypeAlias

import typer

from bridge.floor import Floor
from bridge.reading import Reading
from bridge.rig import Rig
from bridge.voice.engines import Voice, VoiceError, any_voice
from bridge.voice.queue import Mute
from bridge.voice.speaker import Speaker
from rules.faults import Fault, InputFaults, Place

Speak: TypeAlias = Annotated[bool, typer.Option("--speak", help="Speak through this machine's loudspeaker.")]


def voice_for(floor: Floor) -> Voice:
    """This machine's voice.

    Raises:
        InputFaults: there is none, or several devices would speak at once.
    """
    if len(floor.rigs) > 1:
        hint = "let each device's page speak"
        raise InputFaults([Fault(Place("--speak"), "several devices are watched", "one", hint)])
    try:
        return any_voice()
    except VoiceError as error:
        raise InputFaults([Fault(Place("--speak"), str(error))]) from error


@asynccontextmanager
async def speaking(rig: Rig, voice: Voice | None) -> AsyncIterator[Speaker | None]:
    """Speak while the block runs.

    Args:
        rig: whose sessions are heard.
        voice: the engine; None to say nothing.
    """
    if voice is None:
        yield None
        return
    speaker = Speaker(rig.pack, voice, quiet=lambda: rig.session.core.quiet_levels)
    rig.listen(speaker.hear)
    rig.run.beats.append(Prompter(rig, speaker))
    task = asyncio.create_task(speaker.run(), name="voice")
    try:
        yield speaker
    finally:
        task.cancel()
        await asyncio.gather(task, return_exceptions=True)


class Prompter:
    """Looks at each tick whether the session was silenced, and whether a checklist has come to its next line."""

    def __init__(self, rig: Rig, speaker: Speaker) -> None:
        """Nothing is being read.

        Args:
            rig: whose session is looked at.
            speaker: what speaks.
        """
        self._rig = rig
        self._speaker = speaker
        self._at: tuple[Reading | None, int] = (None, 0)
        self._silenced = False

    def __call__(self) -> None:
        """Look once."""
        session = self._rig.session
        if session.silenced != self._silenced:
            self._silenced = session.silenced
            self._speaker.mute(Mute.EVERYTHING if self._silenced else Mute.NOTHING)
        self._speaker.beat()
        reading = session.reading
        at = (reading, reading.at if reading is not None else 0)
        if at == self._at:
            return
        self._at = at
        if reading is not None and reading.line is not None:
            self._speaker.challenge(reading.line)
