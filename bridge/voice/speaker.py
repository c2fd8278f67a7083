"""The loudspeaker of the host: a listener of a session, and a task that says what waits.

Listening only puts things into the queue; it neither waits nor raises.  The task says one thing after the other, stops
in the middle of a sentence where the queue asks for it, and outlives its engine: one that fails is tried again, later and
later, and meanwhile what waits grows old.

Takes: what a session tells, as a listener.  Gives: sound, through a `Voice`.
"""

from __future__ import annotations

import asyncio
import time
from collections.abc import Awaitable, Callable, Collection

import structlog

from bridge.notes import Told
from bridge.voice.engines import Voice, VoiceError, paced
from bridge.voice.queue import End, Mute, Priority, SpeechQueue, Utterance
from bridge.voice.reader import Action, Reader, Revise, Say, Withdraw, priority_of, read_challenge
from bridge.voice.spoken import spoken
from rules.packs.model import Level, Line, Pack

FIRST_WAIT_S = 1.0
LONGEST_WAIT_S = 30.0
_MERELY_READ = frozenset({Priority.CHALLENGE, Priority.INFORMATION})


class Speaker:
    """One loudspeaker.  Everything but `run` may be called from the event loop at any time."""

    def __init__(
        self,
        pack: Pack,
        voice: Voice,
        *,
        quiet: Callable[[], Collection[Level]] = tuple,
        clock: Callable[[], float] = time.monotonic,
        wait: Callable[[float], Awaitable[None]] = asyncio.sleep,
        respelled: bool = False,
    ) -> None:
        """Nothing waits.

        Args:
            pack: has the titles.
            voice: the engine.
            quiet: the levels that are held back now (`Core.quiet_levels`).
            clock: the monotonic clock, in seconds.
            wait: waits so many seconds, after the engine failed.
            respelled: digits as the radio has them.
        """
        self.voice = voice
        self.failure = ""
        self.failures = 0
        self.queue = SpeechQueue(self._ended)
        self._rate = 1.0
        self._reader = Reader(pack)
        self._quiet = quiet
        self._clock = clock
        self._wait = wait
        self._respelled = respelled
        self._wake = asyncio.Event()
        self._wait_s = FIRST_WAIT_S
        self._log = structlog.get_logger("voice")

    # -- what may be called at any time ------------------------------------------------------------

    def hear(self, told: Told) -> None:
        """Take one entry or note; never blocks or raises."""
        try:
            for action in self._reader.read(told):
                self._do(action)
        except Exception as error:  # noqa: BLE001 - whatever the voice makes of an entry, the session goes on
            self._log.error("entry not said", why=repr(error), entry=type(told).__name__)
        self.beat()

    def beat(self) -> None:
        """Look whether a quiet period began or ended; called at each tick."""
        try:
            levels = self._quiet()
            held = {priority_of(level) for level in levels} | (_MERELY_READ if levels else frozenset())
            self.queue.hold(held, self._clock())
        except Exception as error:  # noqa: BLE001 - as above
            self._log.error("quiet period unknown", why=repr(error))
        self._wake.set()

    def challenge(self, line: Line) -> None:
        """Read a line's challenge aloud; one that waits still gives way to it."""
        self.queue.put(read_challenge(line), self._clock())
        self._wake.set()

    def say(self, utterance: Utterance) -> None:
        """Let something else wait for its turn."""
        self.queue.put(utterance, self._clock())
        self._wake.set()

    def mute(self, mute: Mute) -> None:
        """Leave so much unsaid from now on; what is being said and is muted stops."""
        self.queue.silence(mute)
        self._wake.set()

    @property
    def rate(self) -> float:
        """The pace, 1.0 for the usual one."""
        return self._rate

    @rate.setter
    def rate(self, rate: float) -> None:
        self._rate = paced(rate)

    # -- the task ----------------------------------------------------------------------------------

    async def run(self) -> None:
        """Say what waits, until cancelled; the engine is closed then."""
        try:
            while True:
                await self._wake.wait()
                self._wake.clear()
                while (utterance := self.queue.next(self._clock())) is not None:
                    self._reader.begun(utterance.key)
                    await self._say(utterance)
        finally:
            await self.voice.close()

    async def _say(self, utterance: Utterance) -> None:
        """Say one thing, or as far as it is let."""
        text = spoken(utterance.text, respelled=self._respelled)
        saying = asyncio.create_task(self.voice.say(text, self._rate))
        try:
            await self._watch(saying)
            saying.result()
        except VoiceError as error:
            await self._failed(str(error))
        except Exception as error:  # noqa: BLE001 - an engine may fail in any way; the next sentence is tried all the same
            await self._failed(repr(error))
        else:
            self._went_well()
        finally:
            if not saying.done():
                saying.cancel()
                await asyncio.gather(saying, return_exceptions=True)

    async def _watch(self, saying: asyncio.Task[None]) -> None:
        """Wait until it is said; stop it where the queue asks for that."""
        while not saying.done():
            if self.queue.should_stop:
                self.voice.stop()
                await asyncio.wait([saying])
                self.queue.cut(self._clock())
                return
            waking = asyncio.create_task(self._wake.wait())
            await asyncio.wait([saying, waking], return_when=asyncio.FIRST_COMPLETED)
            waking.cancel()
            self._wake.clear()

    def _went_well(self) -> None:
        self.queue.done()
        self.failure, self._wait_s = "", FIRST_WAIT_S

    async def _failed(self, why: str) -> None:
        """The engine failed: the sentence is tried once more, after a while."""
        self.failures += 1
        self.failure = why
        self._log.warning("voice failed", engine=self.voice.name, why=why, again_in_s=self._wait_s)
        self.queue.cut(self._clock())
        wait_s, self._wait_s = self._wait_s, min(2 * self._wait_s, LONGEST_WAIT_S)
        await self._wait(wait_s)

    def _do(self, action: Action) -> None:
        """Pass one action on to the queue."""
        match action:
            case Say():
                self.queue.put(action.utterance, self._clock())
            case Revise():
                self.queue.revise(action.utterance)
            case Withdraw():
                self.queue.withdraw(action.key)

    def _ended(self, utterance: Utterance, end: End) -> None:
        """Something left the queue; one that was replaced lives on under its key."""
        if end is not End.REPLACED:
            self._reader.ended(utterance.key)
