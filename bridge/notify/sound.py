"""A sound for each notice, by its level, on this machine's audio device.

A sound that comes late is worse than none, so few are held and none is tried twice.  Without the library or a device
it says so once, with the line that installs it, and counts what it could not play.

Takes: envelopes.  Gives: sounds.
"""

from __future__ import annotations

import asyncio
import time
from collections.abc import Mapping

from bridge.notify.aside import aside
from bridge.notify.base import Bounds, Clock, Notifier, SendError, Wait, Wanted
from bridge.notify.envelope import Envelope
from bridge.notify.player import Player, PlayError
from bridge.notify.tones import PATTERNS, RATE_HZ, samples_of

FEW = Bounds(held=8, tries=1, try_s=15.0)
LATE_S = 10.0
"""Simulated or not, after so many seconds of ours a sound is about nothing that the crew sees."""


class SoundNotifier(Notifier):
    """Plays one sound after the other."""

    wanted = Wanted(only=("notice",))

    def __init__(
        self,
        player: Player | None = None,
        *,
        sounds: Mapping[str, bytes] | None = None,
        bounds: Bounds | None = None,
        wanted: Wanted | None = None,
        clock: Clock = time.monotonic,
        wait: Wait = asyncio.sleep,
    ) -> None:
        """Nothing is opened yet.

        Args:
            player: The device; None: this machine's.
            sounds: Samples by level; None: our own.
            bounds: As for every notifier.
            wanted: As for every notifier.
            clock: As for every notifier.
            wait: As for every notifier.
        """
        super().__init__("sound", bounds=bounds or FEW, wanted=wanted, clock=clock, wait=wait)
        self._player = player or Player(RATE_HZ)
        self._sounds = sounds if sounds is not None else _our_sounds()
        self._heard_s: dict[int, float] = {}
        self._busy = False

    def hear(self, message: Envelope) -> None:
        """Hold one message, and remember when it came."""
        super().hear(message)
        if message.kind in self.wanted and not self._broken:
            self._heard_s[message.sequence] = self.clock()

    async def _open(self) -> None:
        await self._aside_play(b"")

    async def _send(self, message: Envelope) -> None:
        samples = self._sounds.get(message.level)
        if samples is None:
            return  # it has no level, so there is nothing to hear
        heard_s = self._forget_until(message.sequence)
        if self.clock() - heard_s > LATE_S:
            raise SendError(f"too late for a sound (more than {LATE_S:g} s)", again=False)
        await self._aside_play(samples)

    async def _close(self) -> None:
        self._player.end()
        if not self._busy:  # one that plays closes it itself
            await aside(self._player.close, self.name)

    async def _aside_play(self, samples: bytes) -> None:
        """Play in another thread; one that hangs in the driver is left there, and no second one joins it."""
        if self._busy:
            raise SendError("the audio device still hangs on an earlier sound", again=False)
        self._busy = True
        try:
            await aside(lambda: self._blocking(samples), self.name)
        except PlayError as error:
            raise SendError(str(error), again=False) from error

    def _blocking(self, samples: bytes) -> None:
        try:
            if samples:
                self._player.play(samples)
            else:
                self._player.open()
        finally:
            self._busy = False

    def _forget_until(self, sequence: int) -> float:
        """When this message came; what was lost before it is forgotten too."""
        heard_s = self._heard_s.get(sequence, self.clock())
        self._heard_s = {each: at_s for each, at_s in self._heard_s.items() if each > sequence}
        return heard_s


def _our_sounds() -> dict[str, bytes]:
    """Samples by level."""
    return {str(level): samples_of(pattern).tobytes() for level, pattern in PATTERNS.items()}
