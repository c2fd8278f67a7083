"""Tests of bridge.outputs.voice.speaker: a listener that never blocks or raises, and a task that speaks the queue."""

from __future__ import annotations

import asyncio
from collections.abc import AsyncIterator, Callable
from contextlib import asynccontextmanager

from structlog.testing import capture_logs

from adapters.back_off import FIRST_WAIT_S
from bridge.outputs.voice.engines import MemoryVoice
from bridge.outputs.voice.speaker import Speaker
from bridge.outputs.voice.speech_queue import MuteLevel, SpeechPriority, Utterance, UtteranceEnd
from rules.judge.events import Callout, LeadIn, Notice
from rules.packs.model import ChecklistLine, Level
from tests.bridge.outputs.voice.sample_findings import notice, pack, resolved
from tests.contract.waiting import ManualClock, wait_until

WARNING = notice("Door: aft door is open", 9, Level.WARNING, lead_in=LeadIn.NONE)


class RecordedSleep:
    """A sleep that returns at once and records its durations."""

    def __init__(self) -> None:
        self.requested_s: list[float] = []

    async def __call__(self, seconds: float) -> None:
        """Return at the loop's next turn."""
        self.requested_s.append(seconds)
        await asyncio.sleep(0)


def speaker_of(voice: MemoryVoice, quiet: Callable[[], tuple[Level, ...]] = tuple) -> Speaker:
    """A speaker with a manual clock."""
    return Speaker(pack(), voice, quiet_levels=quiet, clock=ManualClock(), wait=RecordedSleep())


@asynccontextmanager
async def running(speaker: Speaker) -> AsyncIterator[None]:
    """Run the speaker while the block runs."""
    task = asyncio.create_task(speaker.run())
    try:
        yield
    finally:
        task.cancel()
        await asyncio.gather(task, return_exceptions=True)


async def turns(count: int = 20) -> None:
    """Let the event loop turn several times."""
    for _ in range(count):
        await asyncio.sleep(0)


async def test_events_are_spoken() -> None:
    """A notice and a callout are spoken, the callout first, with numbers in words."""
    voice = MemoryVoice()
    speaker = speaker_of(voice)
    speaker.on_event(notice("hydraulic 1 pressure 1 240 psi, needs 2 800 to 3 200", 1))
    speaker.on_event(Callout(10.0, "start_10", "10 seconds"))
    async with running(speaker):
        await wait_until(lambda: len(voice.finished) == 2)
    assert voice.finished[0] == "one zero seconds"
    assert voice.finished[1].startswith("Before push back: hydraulic one pressure one two four zero p s i")
    assert voice.closed


async def test_a_warning_interrupts() -> None:
    """A warning stops the present sentence at once; afterwards that is spoken from its beginning."""
    voice = MemoryVoice(immediate=False)
    speaker = speaker_of(voice)
    speaker.on_event(notice("beacon is off", 1))
    async with running(speaker):
        await wait_until(lambda: voice.started == ["Before push back: beacon is off."])
        speaker.on_event(WARNING)
        await wait_until(lambda: len(voice.started) == 2)
        assert voice.stop_count == 1
        assert voice.started[1] == "Door: aft door is open."
        voice.finish()
        await wait_until(lambda: len(voice.started) == 3)
        voice.finish()
        await wait_until(lambda: speaker.queue.counts[UtteranceEnd.COMPLETED] == 2)
    assert voice.finished == ["Door: aft door is open.", "Before push back: beacon is off."]


async def test_a_warning_is_not_interrupted() -> None:
    """Utterances that arrive while a warning is being spoken wait for its end."""
    voice = MemoryVoice(immediate=False)
    speaker = speaker_of(voice)
    speaker.on_event(WARNING)
    async with running(speaker):
        await wait_until(lambda: len(voice.started) == 1)
        speaker.on_event(notice("Other: pump is off", 8, Level.WARNING, lead_in=LeadIn.NONE))
        speaker.on_event(Callout(10.0, "x", "80 knots"))
        speaker.speak_challenge(
            ChecklistLine("checklist.x.fuel", "Fuel", "{fuel.total} kilograms", ("checklist.x.fuel",))
        )
        await turns()
        assert len(voice.started) == 1
        for text in ("Other: pump is off.", "eight zero knots", "Fuel"):
            voice.finish()
            await wait_until(lambda text=text: voice.started[-1] == text)  # type: ignore[misc]
    assert voice.stop_count <= 1  # the last one, when the speaker ended


async def test_a_quiet_period() -> None:
    """While cautions are held, neither they nor challenges are spoken, but callouts are; afterwards the rest is."""
    voice = MemoryVoice()
    levels: list[tuple[Level, ...]] = [(Level.ADVISORY, Level.CAUTION)]
    speaker = speaker_of(voice, lambda: levels[-1])
    async with running(speaker):
        speaker.on_event(notice("beacon is off", 1))
        speaker.speak_challenge(ChecklistLine("checklist.x.fuel", "Fuel", "x", ("checklist.x.fuel",)))
        speaker.on_event(Callout(10.0, "x", "V1"))
        await wait_until(lambda: voice.finished == ["vee one"])
        await turns()
        assert voice.finished == ["vee one"]
        levels.append(())
        speaker.on_tick()
        await wait_until(lambda: len(voice.finished) == 3)
    assert voice.finished[1:] == ["Before push back: beacon is off.", "Fuel"]


async def test_a_finding_corrected_while_it_waits_is_not_spoken() -> None:
    """A finding that is closed before its turn is left out."""
    voice = MemoryVoice()
    speaker = speaker_of(voice)
    speaker.on_event(notice("a is off", 1))
    speaker.on_event(notice("b is off", 2))
    speaker.on_event(resolved(1))
    async with running(speaker):
        await wait_until(lambda: len(voice.finished) == 1)
    assert voice.finished == ["Before push back: b is off."]


async def test_mute_stops_the_present_sentence() -> None:
    """Muted but for warnings, the present sentence stops and is not repeated; a warning is spoken."""
    voice = MemoryVoice(immediate=False)
    speaker = speaker_of(voice)
    speaker.on_event(notice("a is off", 1))
    async with running(speaker):
        await wait_until(lambda: len(voice.started) == 1)
        speaker.set_mute(MuteLevel.BUT_WARNINGS)
        await wait_until(lambda: speaker.queue.current is None)
        speaker.on_event(notice("b is off", 2))
        speaker.on_event(WARNING)
        await wait_until(lambda: len(voice.started) == 2)
        speaker.set_mute(MuteLevel.EVERYTHING)
        await wait_until(lambda: speaker.queue.current is None)
    assert voice.started == ["Before push back: a is off.", "Door: aft door is open."]
    assert voice.stop_count == 2
    assert speaker.queue.counts[UtteranceEnd.MUTED] == 3


async def test_the_rate_is_passed_on_within_limits() -> None:
    """The engine gets the rate, limited to the range that can be understood."""
    voice = MemoryVoice()
    speaker = speaker_of(voice)
    async with running(speaker):
        for rate in (1.25, 9.0, 0.0):
            speaker.rate = rate
            speaker.enqueue(Utterance(str(rate), SpeechPriority.INFORMATION, "x", 5.0))
            await wait_until(lambda: speaker.queue.current is None and not speaker.queue.waiting)
    assert voice.rates == [1.25, 2.0, 0.5]


async def test_an_engine_that_fails_is_retried_after_growing_delays() -> None:
    """A failed engine is logged with its reason, delays double, and a sentence has two attempts; afterwards it speaks again."""
    voice = MemoryVoice()
    voice.error = "espeak-ng failed (no sound)"
    waits = RecordedSleep()
    speaker = Speaker(pack(), voice, clock=ManualClock(), wait=waits)
    with capture_logs() as logs:
        async with running(speaker):
            for number, level in ((1, Level.CAUTION), (2, Level.ADVISORY)):
                speaker.on_event(notice(f"{number}", number, level, lead_in=LeadIn.UNDONE))
            await wait_until(lambda: speaker.queue.counts[UtteranceEnd.INTERRUPTED] == 2)
            assert speaker.last_error == "espeak-ng failed (no sound)"
            voice.error = ""
            speaker.on_event(notice("beacon", 3, lead_in=LeadIn.UNDONE))
            await wait_until(lambda: len(voice.finished) == 1)
            await wait_until(lambda: speaker.last_error == "")
            voice.error = "again"
            speaker.on_event(WARNING)
            await wait_until(lambda: len(waits.requested_s) == 5)
    assert waits.requested_s[:4] == [FIRST_WAIT_S, 2.0, 4.0, 8.0]
    assert waits.requested_s[4] == FIRST_WAIT_S
    assert {"event": "voice failed", "engine": "memory", "why": "espeak-ng failed (no sound)", "again_in_s": 1.0, "log_level": "warning"} in logs  # fmt: skip


async def test_an_unexpected_error_of_the_engine() -> None:
    """An error that no engine should raise does not end the task."""

    class Odd(MemoryVoice):
        async def speak(self, text: str, rate: float = 1.0) -> None:
            if text == "first":
                raise RuntimeError("odd")
            await super().speak(text, rate)

    voice = Odd()
    speaker = speaker_of(voice)
    with capture_logs():
        async with running(speaker):
            speaker.enqueue(Utterance("a", SpeechPriority.INFORMATION, "first", 5.0))
            speaker.enqueue(Utterance("b", SpeechPriority.INFORMATION, "second", 5.0))
            await wait_until(lambda: voice.finished == ["second"])
    assert speaker.failure_count == 2


def test_listening_never_raises() -> None:
    """An event that cannot be converted, and an error of the quiet period, are logged."""

    def quiet() -> tuple[Level, ...]:
        raise RuntimeError("core gone")

    speaker = speaker_of(MemoryVoice(), quiet)
    broken = Notice(1.0, "loud", "captain", "x", "", "x", 0, 1)  # type: ignore[arg-type]
    with capture_logs() as logs:
        speaker.on_event(broken)
        speaker.on_event(WARNING)
    assert [log["event"] for log in logs] == [
        "event not spoken",
        "quiet period unknown",
        "quiet period unknown",
    ]
    assert [utterance.text for utterance in speaker.queue.waiting] == ["Door: aft door is open."]


async def test_cancelling_stops_the_sentence_and_closes_the_engine() -> None:
    """After the speaker is cancelled its engine is closed."""
    voice = MemoryVoice(immediate=False)
    speaker = speaker_of(voice)
    async with running(speaker):
        speaker.on_event(WARNING)
        await wait_until(lambda: len(voice.started) == 1)
    assert voice.closed
    assert voice.finished == []
