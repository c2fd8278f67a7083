"""Tests of bridge.voice.speaker: a listener that never stands in the way, and a task that says what waits."""

from __future__ import annotations

import asyncio
from collections.abc import AsyncIterator, Callable
from contextlib import asynccontextmanager

from structlog.testing import capture_logs

from bridge.voice.engines import WrittenVoice
from bridge.voice.queue import End, Mute, Priority, Utterance
from bridge.voice.speaker import FIRST_WAIT_S, Speaker
from rules.judge.entries import Callout, Notice
from rules.packs.model import Level, Line
from tests.bridge.voice.making import mended, notice, pack
from tests.contract.until import Clock, until

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


def speaker_of(voice: WrittenVoice, quiet: Callable[[], tuple[Level, ...]] = tuple) -> Speaker:
    """A speaker with a clock that stands."""
    return Speaker(pack(), voice, quiet=quiet, clock=Clock(), wait=Waits())


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
    voice = WrittenVoice()
    speaker = speaker_of(voice)
    speaker.hear(notice("Before push back: hydraulic 1 pressure 1 240 psi, needs 2 800 to 3 200.", 1))
    speaker.hear(Callout(10.0, "start_10", "10 seconds"))
    async with running(speaker):
        await until(lambda: len(voice.whole) == 2)
    assert voice.whole[0] == "one zero seconds"
    assert voice.whole[1].startswith("Before push back: hydraulic one pressure one two four zero p s i")
    assert voice.closed


async def test_a_warning_cuts_in_and_what_it_cut_is_said_again() -> None:
    """A warning stops the sentence that is being said at once; afterwards that is said from its beginning."""
    voice = WrittenVoice(at_once=False)
    speaker = speaker_of(voice)
    speaker.hear(notice("Before push back: beacon is off.", 1))
    async with running(speaker):
        await until(lambda: voice.said == ["Before push back: beacon is off."])
        speaker.hear(GRAVE)
        await until(lambda: len(voice.said) == 2)
        assert voice.stopped == 1
        assert voice.said[1] == "Door: aft door is open."
        voice.finish()
        await until(lambda: len(voice.said) == 3)
        voice.finish()
        await until(lambda: speaker.queue.counts[End.SPOKEN] == 2)
    assert voice.whole == ["Door: aft door is open.", "Before push back: beacon is off."]


async def test_nothing_talks_over_a_warning() -> None:
    """Whatever comes while a warning is being said waits for its end."""
    voice = WrittenVoice(at_once=False)
    speaker = speaker_of(voice)
    speaker.hear(GRAVE)
    async with running(speaker):
        await until(lambda: len(voice.said) == 1)
        speaker.hear(notice("Other: pump is off.", 8, Level.WARNING, gate=""))
        speaker.hear(Callout(10.0, "x", "80 knots"))
        speaker.challenge(Line("Fuel", "{fuel.total} kilograms", "checklist.x.1"))
        await turns()
        assert len(voice.said) == 1
        for said in ("Other: pump is off.", "eight zero knots", "Fuel"):
            voice.finish()
            await until(lambda said=said: voice.said[-1] == said)  # type: ignore[misc]
    assert voice.stopped <= 1  # the last one, when the speaker ended


async def test_a_quiet_period_holds_back_and_lets_callouts_pass() -> None:
    """While the core holds cautions back, none is said, and what is merely read neither; a callout is; afterwards the rest."""
    voice = WrittenVoice()
    levels: list[tuple[Level, ...]] = [(Level.ADVISORY, Level.CAUTION)]
    speaker = speaker_of(voice, lambda: levels[-1])
    async with running(speaker):
        speaker.hear(notice("Before push back: beacon is off.", 1))
        speaker.challenge(Line("Fuel", "x", "checklist.x.1"))
        speaker.hear(Callout(10.0, "x", "V1"))
        await until(lambda: voice.whole == ["vee one"])
        await turns()
        assert voice.whole == ["vee one"]
        levels.append(())
        speaker.beat()
        await until(lambda: len(voice.whole) == 3)
    assert voice.whole[1:] == ["Before push back: beacon is off.", "Fuel"]


async def test_what_was_mended_while_it_waited_is_not_said() -> None:
    """A finding that closed before its turn is left out."""
    voice = WrittenVoice()
    speaker = speaker_of(voice)
    speaker.hear(notice("Before push back: a is off.", 1))
    speaker.hear(notice("Before push back: b is off.", 2))
    speaker.hear(mended(1))
    async with running(speaker):
        await until(lambda: len(voice.whole) == 1)
    assert voice.whole == ["Before push back: b is off."]


async def test_mute_stops_in_the_middle() -> None:
    """Muted but for warnings, what is being said stops and is not said again; a warning is."""
    voice = WrittenVoice(at_once=False)
    speaker = speaker_of(voice)
    speaker.hear(notice("Before push back: a is off.", 1))
    async with running(speaker):
        await until(lambda: len(voice.said) == 1)
        speaker.mute(Mute.BUT_WARNINGS)
        await until(lambda: speaker.queue.speaking is None)
        speaker.hear(notice("Before push back: b is off.", 2))
        speaker.hear(GRAVE)
        await until(lambda: len(voice.said) == 2)
        speaker.mute(Mute.EVERYTHING)
        await until(lambda: speaker.queue.speaking is None)
    assert voice.said == ["Before push back: a is off.", "Door: aft door is open."]
    assert voice.stopped == 2
    assert speaker.queue.counts[End.MUTED] == 3


async def test_rate_is_handed_on_within_bounds() -> None:
    """The pace reaches the engine, and never leaves what can be understood."""
    voice = WrittenVoice()
    speaker = speaker_of(voice)
    async with running(speaker):
        for rate in (1.25, 9.0, 0.0):
            speaker.rate = rate
            speaker.say(Utterance(str(rate), Priority.INFORMATION, "x", 5.0))
            await until(lambda: speaker.queue.speaking is None and not speaker.queue.waiting)
    assert voice.rates == [1.25, 2.0, 0.5]


async def test_an_engine_that_fails_is_tried_again_later_and_later() -> None:
    """A dead engine is named in the log with its reason, waits double, and a sentence is tried twice; when it is well again it speaks."""
    voice = WrittenVoice()
    voice.fail = "espeak-ng failed (no sound)"
    waits = Waits()
    speaker = Speaker(pack(), voice, clock=Clock(), wait=waits)
    with capture_logs() as logs:
        async with running(speaker):
            for number in (1, 2):
                speaker.hear(notice(f"Undone: {number}.", number))
            await until(lambda: speaker.queue.counts[End.CUT_OFF] == 2)
            assert speaker.failure == "espeak-ng failed (no sound)"
            voice.fail = ""
            speaker.hear(notice("Undone: beacon.", 3))
            await until(lambda: len(voice.whole) == 1)
            await until(lambda: speaker.failure == "")
            voice.fail = "again"
            speaker.hear(GRAVE)
            await until(lambda: len(waits.asked) == 5)
    assert waits.asked[:4] == [FIRST_WAIT_S, 2.0, 4.0, 8.0]
    assert waits.asked[4] == FIRST_WAIT_S
    assert {"event": "voice failed", "engine": "written", "why": "espeak-ng failed (no sound)", "again_in_s": 1.0, "log_level": "warning"} in logs  # fmt: skip


async def test_an_engine_that_fails_in_another_way_is_outlived() -> None:
    """Even an error that no engine should raise does not end the task."""

    class Odd(WrittenVoice):
        async def say(self, text: str, rate: float = 1.0) -> None:
            if text == "first":
                raise RuntimeError("odd")
            await super().say(text, rate)

    voice = Odd()
    speaker = speaker_of(voice)
    with capture_logs():
        async with running(speaker):
            speaker.say(Utterance("a", Priority.INFORMATION, "first", 5.0))
            speaker.say(Utterance("b", Priority.INFORMATION, "second", 5.0))
            await until(lambda: voice.whole == ["second"])
    assert speaker.failures == 2


def test_hearing_never_raises() -> None:
    """An entry that cannot be made sense of, or a quiet period that cannot be asked, is logged and passed over."""

    def quiet() -> tuple[Level, ...]:
        raise RuntimeError("core gone")

    speaker = speaker_of(WrittenVoice(), quiet)
    broken = Notice(1.0, "loud", "captain", "x", "", "x", 0, 1)  # type: ignore[arg-type]
    with capture_logs() as logs:
        speaker.hear(broken)
        speaker.hear(GRAVE)
    assert [log["event"] for log in logs] == [
        "entry not said",
        "quiet period unknown",
        "quiet period unknown",
    ]
    assert [utterance.text for utterance in speaker.queue.waiting] == ["Door: aft door is open."]


async def test_ending_the_task_stops_the_sentence_and_closes_the_engine() -> None:
    """A cancelled speaker leaves nothing speaking."""
    voice = WrittenVoice(at_once=False)
    speaker = speaker_of(voice)
    async with running(speaker):
        speaker.hear(GRAVE)
        await until(lambda: len(voice.said) == 1)
    assert voice.closed
    assert voice.whole == []
