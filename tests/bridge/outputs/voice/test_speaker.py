"""Tests of bridge.outputs.voice.speaker: a listener that never stands in the way, and a task that says what waits."""

from __future__ import annotations

import asyncio
from collections.abc import AsyncIterator, Callable
from contextlib import asynccontextmanager

from structlog.testing import capture_logs

from bridge.outputs.voice.engines import MemoryVoice
from bridge.outputs.voice.speaker import FIRST_WAIT_S, Speaker
from bridge.outputs.voice.speech_queue import MuteLevel, SpeechPriority, Utterance, UtteranceEnd
from rules.judge.events import Callout, Notice
from rules.packs.model import ChecklistLine, Level
from tests.bridge.outputs.voice.sample_findings import notice, pack, resolved
from tests.contract.waiting import ManualClock, wait_until

GRAVE = notice("Door: aft door is open.", 9, Level.WARNING, gate="")


class Waits:
    """Waits without waiting, once it is let; keeps what was asked."""

    def __init__(self) -> None:
        """Nothing asked."""
        self.asked: list[float] = []

    async def __call__(self, seconds: float) -> None:
        """Go on at the loop's next turn."""
        self.asked.append(seconds)
        await asyncio.sleep(0)


def speaker_of(voice: MemoryVoice, quiet: Callable[[], tuple[Level, ...]] = tuple) -> Speaker:
    """A speaker with a clock that stands."""
    return Speaker(pack(), voice, quiet_levels=quiet, clock=ManualClock(), wait=Waits())


@asynccontextmanager
async def running(speaker: Speaker) -> AsyncIterator[None]:
    """While the block runs, so does the speaker."""
    task = asyncio.create_task(speaker.run())
    try:
        yield
    finally:
        task.cancel()
        await asyncio.gather(task, return_exceptions=True)


async def turns(count: int = 20) -> None:
    """Let the loop turn, so that whatever could happen has happened."""
    for _ in range(count):
        await asyncio.sleep(0)


async def test_what_is_heard_is_said_as_in_the_air() -> None:
    """A notice and a callout are said, the callout first, with numbers as they are said."""
    voice = MemoryVoice()
    speaker = speaker_of(voice)
    speaker.on_event(notice("Before push back: hydraulic 1 pressure 1 240 psi, needs 2 800 to 3 200.", 1))
    speaker.on_event(Callout(10.0, "start_10", "10 seconds"))
    async with running(speaker):
        await wait_until(lambda: len(voice.finished) == 2)
    assert voice.finished[0] == "one zero seconds"
    assert voice.finished[1].startswith("Before push back: hydraulic one pressure one two four zero p s i")
    assert voice.closed


async def test_a_warning_cuts_in_and_what_it_cut_is_said_again() -> None:
    """A warning stops the sentence that is being said at once; afterwards that is said from its beginning."""
    voice = MemoryVoice(immediate=False)
    speaker = speaker_of(voice)
    speaker.on_event(notice("Before push back: beacon is off.", 1))
    async with running(speaker):
        await wait_until(lambda: voice.started == ["Before push back: beacon is off."])
        speaker.on_event(GRAVE)
        await wait_until(lambda: len(voice.started) == 2)
        assert voice.stop_count == 1
        assert voice.started[1] == "Door: aft door is open."
        voice.finish()
        await wait_until(lambda: len(voice.started) == 3)
        voice.finish()
        await wait_until(lambda: speaker.queue.counts[UtteranceEnd.COMPLETED] == 2)
    assert voice.finished == ["Door: aft door is open.", "Before push back: beacon is off."]


async def test_nothing_talks_over_a_warning() -> None:
    """Whatever comes while a warning is being said waits for its end."""
    voice = MemoryVoice(immediate=False)
    speaker = speaker_of(voice)
    speaker.on_event(GRAVE)
    async with running(speaker):
        await wait_until(lambda: len(voice.started) == 1)
        speaker.on_event(notice("Other: pump is off.", 8, Level.WARNING, gate=""))
        speaker.on_event(Callout(10.0, "x", "80 knots"))
        speaker.speak_challenge(ChecklistLine("Fuel", "{fuel.total} kilograms", "checklist.x.1"))
        await turns()
        assert len(voice.started) == 1
        for said in ("Other: pump is off.", "eight zero knots", "Fuel"):
            voice.finish()
            await wait_until(lambda said=said: voice.started[-1] == said)  # type: ignore[misc]
    assert voice.stop_count <= 1  # the last one, when the speaker ended


async def test_a_quiet_period_holds_back_and_lets_callouts_pass() -> None:
    """While the core holds cautions back, none is said, and what is merely read neither; a callout is; afterwards the rest."""
    voice = MemoryVoice()
    levels: list[tuple[Level, ...]] = [(Level.ADVISORY, Level.CAUTION)]
    speaker = speaker_of(voice, lambda: levels[-1])
    async with running(speaker):
        speaker.on_event(notice("Before push back: beacon is off.", 1))
        speaker.speak_challenge(ChecklistLine("Fuel", "x", "checklist.x.1"))
        speaker.on_event(Callout(10.0, "x", "V1"))
        await wait_until(lambda: voice.finished == ["vee one"])
        await turns()
        assert voice.finished == ["vee one"]
        levels.append(())
        speaker.on_tick()
        await wait_until(lambda: len(voice.finished) == 3)
    assert voice.finished[1:] == ["Before push back: beacon is off.", "Fuel"]


async def test_what_was_mended_while_it_waited_is_not_said() -> None:
    """A finding that closed before its turn is left out."""
    voice = MemoryVoice()
    speaker = speaker_of(voice)
    speaker.on_event(notice("Before push back: a is off.", 1))
    speaker.on_event(notice("Before push back: b is off.", 2))
    speaker.on_event(resolved(1))
    async with running(speaker):
        await wait_until(lambda: len(voice.finished) == 1)
    assert voice.finished == ["Before push back: b is off."]


async def test_mute_stops_in_the_middle() -> None:
    """Muted but for warnings, what is being said stops and is not said again; a warning is."""
    voice = MemoryVoice(immediate=False)
    speaker = speaker_of(voice)
    speaker.on_event(notice("Before push back: a is off.", 1))
    async with running(speaker):
        await wait_until(lambda: len(voice.started) == 1)
        speaker.set_mute(MuteLevel.BUT_WARNINGS)
        await wait_until(lambda: speaker.queue.current is None)
        speaker.on_event(notice("Before push back: b is off.", 2))
        speaker.on_event(GRAVE)
        await wait_until(lambda: len(voice.started) == 2)
        speaker.set_mute(MuteLevel.EVERYTHING)
        await wait_until(lambda: speaker.queue.current is None)
    assert voice.started == ["Before push back: a is off.", "Door: aft door is open."]
    assert voice.stop_count == 2
    assert speaker.queue.counts[UtteranceEnd.MUTED] == 3


async def test_rate_is_handed_on_within_bounds() -> None:
    """The pace reaches the engine, and never leaves what can be understood."""
    voice = MemoryVoice()
    speaker = speaker_of(voice)
    async with running(speaker):
        for rate in (1.25, 9.0, 0.0):
            speaker.rate = rate
            speaker.enqueue(Utterance(str(rate), SpeechPriority.INFORMATION, "x", 5.0))
            await wait_until(lambda: speaker.queue.current is None and not speaker.queue.waiting)
    assert voice.rates == [1.25, 2.0, 0.5]


async def test_an_engine_that_fails_is_tried_again_later_and_later() -> None:
    """A dead engine is named in the log with its reason, waits double, and a sentence is tried twice; when it is well again it speaks."""
    voice = MemoryVoice()
    voice.error = "espeak-ng failed (no sound)"
    waits = Waits()
    speaker = Speaker(pack(), voice, clock=ManualClock(), wait=waits)
    with capture_logs() as logs:
        async with running(speaker):
            for number in (1, 2):
                speaker.on_event(notice(f"Undone: {number}.", number))
            await wait_until(lambda: speaker.queue.counts[UtteranceEnd.INTERRUPTED] == 2)
            assert speaker.last_error == "espeak-ng failed (no sound)"
            voice.error = ""
            speaker.on_event(notice("Undone: beacon.", 3))
            await wait_until(lambda: len(voice.finished) == 1)
            await wait_until(lambda: speaker.last_error == "")
            voice.error = "again"
            speaker.on_event(GRAVE)
            await wait_until(lambda: len(waits.asked) == 5)
    assert waits.asked[:4] == [FIRST_WAIT_S, 2.0, 4.0, 8.0]
    assert waits.asked[4] == FIRST_WAIT_S
    assert {"event": "voice failed", "engine": "written", "why": "espeak-ng failed (no sound)", "again_in_s": 1.0, "log_level": "warning"} in logs  # fmt: skip


async def test_an_engine_that_fails_in_another_way_is_outlived() -> None:
    """Even an error that no engine should raise does not end the task."""

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


def test_hearing_never_raises() -> None:
    """An entry that cannot be made sense of, or a quiet period that cannot be asked, is logged and passed over."""

    def quiet() -> tuple[Level, ...]:
        raise RuntimeError("core gone")

    speaker = speaker_of(MemoryVoice(), quiet)
    broken = Notice(1.0, "loud", "captain", "x", "", "x", 0, 1)  # type: ignore[arg-type]
    with capture_logs() as logs:
        speaker.on_event(broken)
        speaker.on_event(GRAVE)
    assert [log["event"] for log in logs] == [
        "entry not said",
        "quiet period unknown",
        "quiet period unknown",
    ]
    assert [utterance.text for utterance in speaker.queue.waiting] == ["Door: aft door is open."]


async def test_ending_the_task_stops_the_sentence_and_closes_the_engine() -> None:
    """A cancelled speaker leaves nothing speaking."""
    voice = MemoryVoice(immediate=False)
    speaker = speaker_of(voice)
    async with running(speaker):
        speaker.on_event(GRAVE)
        await wait_until(lambda: len(voice.started) == 1)
    assert voice.closed
    assert voice.finished == []
