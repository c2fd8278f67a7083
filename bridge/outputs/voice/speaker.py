"""The speaker of this machine: a subscriber that fills a speech queue, and a task that speaks it.

The subscriber neither waits nor raises.  The task speaks one utterance after the other, stops within a sentence if the queue
requires it, and survives errors of its engine: it retries after growing delays, while waiting utterances expire.

Takes: events of a session.  Gives: sound, through a `Voice`.
"""

from __future__ import annotations

import asyncio
import time
from collections.abc import Awaitable, Callable, Collection

import structlog

from adapters.back_off import BackOff
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

_HELD_WITH_ANY_LEVEL = frozenset({SpeechPriority.CHALLENGE, SpeechPriority.INFORMATION})


class Speaker:
    """Speaks the events of one device.  Every method but `run` may be called from the event loop at any time."""

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
        """Make a speaker with an empty queue.

        Args:
            pack: contains the titles.
            voice: the engine.
            quiet_levels: returns the levels that the present quiet period holds back.
            clock: the monotonic clock, in seconds.
            wait: waits the given number of seconds after an error of the engine.
            radio_spelling: spell digits as on the radio.
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
        self._back_off = BackOff()
        self._log = structlog.get_logger("voice")

    # -- may be called at any time -----------------------------------------------------------------

    def on_event(self, event: SessionEvent) -> None:
        """Queue the utterances of one event; never blocks or raises."""
        try:
            for action in self._composer.actions_for(event):
                self._apply(action)
        except Exception as error:  # noqa: BLE001 - an error of the voice must not stop the session
            self._log.error("event not spoken", why=repr(error), type=type(event).__name__)
        self.on_tick()

    def on_tick(self) -> None:
        """Apply the start or the end of a quiet period; called at each tick."""
        try:
            levels = self._quiet_levels()
            held = {priority_of(level) for level in levels} | (
                _HELD_WITH_ANY_LEVEL if levels else frozenset()
            )
            self.queue.hold(held, self._clock())
        except Exception as error:  # noqa: BLE001 - as above
            self._log.error("quiet period unknown", why=repr(error))
        self._wake.set()

    def speak_challenge(self, line: ChecklistLine) -> None:
        """Queue the challenge of a checklist line; it replaces one that waits."""
        self.queue.put(challenge_utterance(line), self._clock())
        self._wake.set()

    def enqueue(self, utterance: Utterance) -> None:
        """Queue any other utterance."""
        self.queue.put(utterance, self._clock())
        self._wake.set()

    def set_mute(self, mute: MuteLevel) -> None:
        """Mute utterances from now on; a muted one that is being spoken stops."""
        self.queue.set_mute(mute)
        self._wake.set()

    @property
    def rate(self) -> float:
        """The rate of speech, 1.0 for the usual one."""
        return self._rate

    @rate.setter
    def rate(self, rate: float) -> None:
        self._rate = clamp_rate(rate)

    # -- the task ----------------------------------------------------------------------------------

    async def run(self) -> None:
        """Speak the queue until cancelled, then close the engine."""
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
        """Speak one utterance to its end or until it is interrupted."""
        text = speech_text(utterance.text, radio_spelling=self._radio_spelling)
        speech = asyncio.create_task(self.voice.speak(text, self._rate))
        try:
            await self._supervise_speech(speech)
            speech.result()
        except VoiceError as error:
            await self._retry_later(str(error))
        except Exception as error:  # noqa: BLE001 - an engine may fail in any way; the next sentence is tried
            await self._retry_later(repr(error))
        else:
            self._complete()
        finally:
            if not speech.done():
                speech.cancel()
                await asyncio.gather(speech, return_exceptions=True)

    async def _supervise_speech(self, speech: asyncio.Task[None]) -> None:
        """Wait for the end of a sentence; stop it if the queue requires that."""
        # The wait ends if the sentence ends or if the queue changes (`_wake`), since a change may require an interruption:
        #   caution   |--------X               |---- caution again ----|
        #   warning        put |-- warning --|
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
        self.last_error = ""
        self._back_off.reset()

    async def _retry_later(self, why: str) -> None:
        """Record an error of the engine, return the utterance to the queue, and wait."""
        self.failure_count += 1
        self.last_error = why
        wait_s = self._back_off.next_s()
        self._log.warning("voice failed", engine=self.voice.name, why=why, again_in_s=wait_s)
        self.queue.interrupt(self._clock())
        await self._wait(wait_s)

    def _apply(self, action: SpeechAction) -> None:
        """Apply one action to the queue."""
        match action:
            case SpeakAction():
                self.queue.put(action.utterance, self._clock())
            case ReviseAction():
                self.queue.revise(action.utterance)
            case WithdrawAction():
                self.queue.withdraw(action.key)

    def _on_utterance_end(self, utterance: Utterance, end: UtteranceEnd) -> None:
        """Tell the composer that an utterance left the queue; a replaced one continues under its key."""
        if end is not UtteranceEnd.REPLACED:
            unspoken = end in (UtteranceEnd.EXPIRED, UtteranceEnd.CROWDED_OUT, UtteranceEnd.INTERRUPTED)
            self._composer.mark_ended(utterance.key, spoken=not unspoken)
