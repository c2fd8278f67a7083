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

from bridge.outputs.voice.engines import Voice, VoiceError, clamp_rate
from bridge.outputs.voice.speech_composer import (
    ReviseAction,
    SpeakAction,
    SpeechAction,
    SpeechComposer,
    WithdrawAction,
    challenge_utterance,
    priority_of,
)
from bridge.outputs.voice.speech_queue import MuteLevel, SpeechPriority, SpeechQueue, Utterance, UtteranceEnd
from bridge.outputs.voice.speech_text import speech_text
from bridge.session.session_events import SessionEvent
from rules.packs.model import ChecklistLine, Level, Pack

FIRST_WAIT_S = 1.0
MAX_WAIT_S = 30.0
_READ_ALOUD_ONLY = frozenset({SpeechPriority.CHALLENGE, SpeechPriority.INFORMATION})


class Speaker:
    """One loudspeaker.  Everything but `run` may be called from the event loop at any time."""

    def __init__(
        self,
        pack: Pack,
        voice: Voice,
        *,
        quiet_levels: Callable[[], Collection[Level]] = tuple,
        clock: Callable[[], float] = time.monotonic,
        wait: Callable[[float], Awaitable[None]] = asyncio.sleep,
        radio_spelling: bool = False,
    ) -> None:
        """Nothing waits.

        Args:
            pack: has the titles.
            voice: the engine.
            quiet_levels: the levels that are held back now (`Core.quiet_levels`).
            clock: the monotonic clock, in seconds.
            wait: waits so many seconds, after the engine failed.
            radio_spelling: digits as the radio has them.
        """
        self.voice = voice
        self.last_error = ""
        self.failure_count = 0
        self.queue = SpeechQueue(self._on_utterance_end)
        self._rate = 1.0
        self._composer = SpeechComposer(pack)
        self._quiet_levels = quiet_levels
        self._clock = clock
        self._wait = wait
        self._radio_spelling = radio_spelling
        self._wake = asyncio.Event()
        self._wait_s = FIRST_WAIT_S
        self._log = structlog.get_logger("voice")

    # -- what may be called at any time ------------------------------------------------------------

    def on_event(self, event: SessionEvent) -> None:
        """Take one entry or note; never blocks or raises."""
        try:
            for action in self._composer.actions_for(event):
                self._apply(action)
        except Exception as error:  # noqa: BLE001 - whatever the voice makes of an entry, the session goes on
            self._log.error("entry not said", why=repr(error), entry=type(event).__name__)
        self.on_tick()

    def on_tick(self) -> None:
        """Look whether a quiet period began or ended; called at each tick."""
        try:
            levels = self._quiet_levels()
            held = {priority_of(level) for level in levels} | (_READ_ALOUD_ONLY if levels else frozenset())
            self.queue.hold(held, self._clock())
        except Exception as error:  # noqa: BLE001 - as above
            self._log.error("quiet period unknown", why=repr(error))
        self._wake.set()

    def speak_challenge(self, line: ChecklistLine) -> None:
        """Read a line's challenge aloud; one that waits still gives way to it."""
        self.queue.put(challenge_utterance(line), self._clock())
        self._wake.set()

    def enqueue(self, utterance: Utterance) -> None:
        """Let something else wait for its turn."""
        self.queue.put(utterance, self._clock())
        self._wake.set()

    def set_mute(self, mute: MuteLevel) -> None:
        """Leave so much unsaid from now on; what is being said and is muted stops."""
        self.queue.set_mute(mute)
        self._wake.set()

    @property
    def rate(self) -> float:
        """The pace, 1.0 for the usual one."""
        return self._rate

    @rate.setter
    def rate(self, rate: float) -> None:
        self._rate = clamp_rate(rate)

    # -- the task ----------------------------------------------------------------------------------

    async def run(self) -> None:
        """Say what waits, until cancelled; the engine is closed then."""
        try:
            while True:
                await self._wake.wait()
                self._wake.clear()
                while (utterance := self.queue.next(self._clock())) is not None:
                    self._composer.mark_started(utterance.key)
                    await self._speak(utterance)
        finally:
            await self.voice.close()

    async def _speak(self, utterance: Utterance) -> None:
        """Say one thing, or as far as it is let."""
        text = speech_text(utterance.text, radio_spelling=self._radio_spelling)
        saying = asyncio.create_task(self.voice.speak(text, self._rate))
        try:
            await self._supervise_speech(saying)
            saying.result()
        except VoiceError as error:
            await self._retry_later(str(error))
        except Exception as error:  # noqa: BLE001 - an engine may fail in any way; the next sentence is tried all the same
            await self._retry_later(repr(error))
        else:
            self._complete()
        finally:
            if not saying.done():
                saying.cancel()
                await asyncio.gather(saying, return_exceptions=True)

    async def _supervise_speech(self, speech: asyncio.Task[None]) -> None:
        """Wait until it is said; stop it where the queue asks for that."""
        while not speech.done():
            if self.queue.should_stop:
                self.voice.stop()
                await asyncio.wait([speech])
                self.queue.interrupt(self._clock())
                return
            waking = asyncio.create_task(self._wake.wait())
            await asyncio.wait([speech, waking], return_when=asyncio.FIRST_COMPLETED)
            waking.cancel()
            self._wake.clear()

    def _complete(self) -> None:
        self.queue.complete()
        self.last_error, self._wait_s = "", FIRST_WAIT_S

    async def _retry_later(self, why: str) -> None:
        """The engine failed: the sentence is tried once more, after a while."""
        self.failure_count += 1
        self.last_error = why
        self._log.warning("voice failed", engine=self.voice.name, why=why, again_in_s=self._wait_s)
        self.queue.interrupt(self._clock())
        wait_s, self._wait_s = self._wait_s, min(2 * self._wait_s, MAX_WAIT_S)
        await self._wait(wait_s)

    def _apply(self, action: SpeechAction) -> None:
        """Pass one action on to the queue."""
        match action:
            case SpeakAction():
                self.queue.put(action.utterance, self._clock())
            case ReviseAction():
                self.queue.revise(action.utterance)
            case WithdrawAction():
                self.queue.withdraw(action.key)

    def _on_utterance_end(self, utterance: Utterance, end: UtteranceEnd) -> None:
        """Something left the queue; one that was replaced lives on under its key."""
        if end is not UtteranceEnd.REPLACED:
            self._composer.mark_ended(utterance.key)
