"""A notifier that plays a sound for each notice, by its level, on this machine's audio device.

A late sound would mislead, so only a few are queued and there is one attempt at each.  Without the library or a device the
notifier is disabled with a hint how to install it, and counts the messages that it could not play.

Takes: envelopes.  Gives: sounds.
"""

from __future__ import annotations

import asyncio
import time
from collections.abc import Mapping

from bridge.outputs.notifiers.audio_player import AudioError, AudioPlayer
from bridge.outputs.notifiers.background import run_in_background
from bridge.outputs.notifiers.base import Clock, DeliveryLimits, KindFilter, Notifier, SendError, Wait
from bridge.outputs.notifiers.envelope import Envelope
from bridge.outputs.notifiers.tones import PATTERNS, RATE_HZ, samples_of

SOUND_LIMITS = DeliveryLimits(max_queued=8, max_attempts=1, attempt_timeout_s=15.0)
MAX_AGE_S = 10.0
"""After this time, by the wall clock, a sound no longer belongs to the present situation."""


class SoundNotifier(Notifier):
    """Plays the sounds of messages one after the other."""

    kind_filter = KindFilter(include=("notice",))

    def __init__(
        self,
        player: AudioPlayer | None = None,
        *,
        sounds: Mapping[str, bytes] | None = None,
        limits: DeliveryLimits | None = None,
        kind_filter: KindFilter | None = None,
        clock: Clock = time.monotonic,
        wait: Wait = asyncio.sleep,
    ) -> None:
        """Make a notifier.

        Args:
            player: The audio device; None for this machine's.
            sounds: Samples by level; None for `PATTERNS`.
            limits: As for every notifier.
            kind_filter: As for every notifier.
            clock: As for every notifier.
            wait: As for every notifier.
        """
        super().__init__(
            "sound", limits=limits or SOUND_LIMITS, kind_filter=kind_filter, clock=clock, wait=wait
        )
        self._player = player or AudioPlayer(RATE_HZ)
        self._sounds = sounds if sounds is not None else _default_sounds()
        self._arrival_s: dict[int, float] = {}
        self._busy = False

    def enqueue(self, message: Envelope) -> None:
        """Queue one message with its time of arrival."""
        super().enqueue(message)
        if message.kind in self.kind_filter and not self._disabled:
            self._arrival_s[message.sequence] = self.clock()

    async def _open(self) -> None:
        await self._play_in_background(b"")

    async def _send(self, message: Envelope) -> None:
        samples = self._sounds.get(message.level)
        if samples is None:
            return  # a message without a level has no sound
        arrival_s = self._pop_arrival_s(message.sequence)
        if self.clock() - arrival_s > MAX_AGE_S:
            raise SendError(f"too late for a sound (more than {MAX_AGE_S:g} s)", retry=False)
        await self._play_in_background(samples)

    async def _close(self) -> None:
        self._player.stop()
        if not self._busy:  # a playing thread closes the device itself
            await run_in_background(self._player.close, self.name)

    async def _play_in_background(self, samples: bytes) -> None:
        """Play in a thread; if the driver hangs, the thread is abandoned and no second one is started."""
        if self._busy:
            raise SendError("the audio device is blocked by an earlier sound", retry=False)
        self._busy = True
        try:
            await run_in_background(lambda: self._play_blocking(samples), self.name)
        except AudioError as error:
            raise SendError(str(error), retry=False) from error

    def _play_blocking(self, samples: bytes) -> None:
        try:
            if samples:
                self._player.play(samples)
            else:
                self._player.open()
        finally:
            self._busy = False

    def _pop_arrival_s(self, sequence: int) -> float:
        """Remove and return the arrival time of a message; those of dropped messages before it are removed too."""
        arrival_s = self._arrival_s.get(sequence, self.clock())
        self._arrival_s = {number: at_s for number, at_s in self._arrival_s.items() if number > sequence}
        return arrival_s


def _default_sounds() -> dict[str, bytes]:
    """The samples of `PATTERNS` by level."""
    return {str(level): samples_of(pattern).tobytes() for level, pattern in PATTERNS.items()}
