"""Tests of bridge.outputs.notifiers.sound and its player: what is missing is said, what hangs holds nobody up."""

from __future__ import annotations

import asyncio
import sys
import threading

import pytest

from bridge.outputs.notifiers.audio_player import INSTALL_HINT, AudioError, AudioPlayer
from bridge.outputs.notifiers.background import run_in_background
from bridge.outputs.notifiers.base import DeliveryLimits
from bridge.outputs.notifiers.sound import MAX_AGE_S, SoundNotifier
from bridge.outputs.notifiers.tones import RATE_HZ
from rules.judge.events import PhaseEntered
from rules.packs.model import Level
from tests.bridge.outputs.notifiers.sample_messages import envelopes, notice
from tests.contract.notifier_cases import SHORT, RecordingPlayer
from tests.contract.waiting import ManualClock, wait_until


async def test_each_level_has_its_sound() -> None:
    """What has no level is not heard."""
    player = RecordingPlayer()
    notifier = SoundNotifier(player, sounds=SHORT)
    notifier.kind_filter = type(notifier.kind_filter)()
    for message in envelopes(PhaseEntered(0.0, "taxi", ""), *(notice(level=level) for level in Level)):
        notifier.enqueue(message)
    running = asyncio.create_task(notifier.run())
    await wait_until(lambda: notifier.counts.delivered == 4)
    notifier.close()
    await running
    assert player.played == [SHORT[level] for level in Level]


async def test_without_the_library_it_says_how_to_install_it(monkeypatch: pytest.MonkeyPatch) -> None:
    """The exact line is in the words, every notice is counted as given up, and nothing is raised."""
    monkeypatch.setitem(sys.modules, "miniaudio", None)
    notifier = SoundNotifier()
    first, second = envelopes(notice(), notice())
    notifier.enqueue(first)
    await notifier.run()
    notifier.enqueue(second)
    assert f"the sound library is not installed; install it with: {INSTALL_HINT}" in notifier.status_text(0.0)
    assert len(notifier.counts.given_up) == 2


async def test_without_a_device_it_says_so(monkeypatch: pytest.MonkeyPatch) -> None:
    """A machine that can play into nothing only has no device."""
    audio = pytest.importorskip("miniaudio")
    real = audio.PlaybackDevice
    monkeypatch.setattr(
        audio, "PlaybackDevice", lambda **given: real(**{**given, "backends": [audio.Backend.NULL]})
    )
    notifier = SoundNotifier()
    await notifier.run()
    assert "out of order: there is no audio device here; connect one" in notifier.status_text(0.0)


async def test_a_sound_that_comes_late_is_not_played() -> None:
    """It is given up; a fresh one after it is played."""
    clock, player = ManualClock(), RecordingPlayer()
    notifier = SoundNotifier(player, sounds=SHORT, clock=clock)
    late, fresh = envelopes(notice(level=Level.CAUTION), notice(level=Level.WARNING))
    notifier.enqueue(late)
    clock.now_s += MAX_AGE_S + 1
    notifier.enqueue(fresh)
    running = asyncio.create_task(notifier.run())
    await wait_until(lambda: notifier.counts.delivered == 1)
    notifier.close()
    await running
    assert player.played == [SHORT["warning"]]
    assert len(notifier.counts.given_up) == 1


class Hanging(AudioPlayer):
    """A device whose driver does not come back until it is let."""

    def __init__(self) -> None:
        """It hangs."""
        super().__init__(RATE_HZ, "NULL")
        self.let = threading.Event()
        self.entered = 0

    def play(self, samples: bytes) -> None:
        """Hang."""
        assert samples
        self.entered += 1
        self.let.wait(30)


async def test_a_driver_that_hangs_is_entered_once() -> None:
    """The loop goes on; the sounds after it are given up at once instead of hanging too; the end comes."""
    player = Hanging()
    notifier = SoundNotifier(
        player, sounds=SHORT, limits=DeliveryLimits(max_attempts=1, attempt_timeout_s=0.05)
    )
    for message in envelopes(notice(), notice(), notice()):
        notifier.enqueue(message)
    running = asyncio.create_task(notifier.run())
    await wait_until(lambda: len(notifier.counts.given_up) == 3)
    assert player.entered == 1
    assert "still hangs" in notifier.trouble
    notifier.close()
    await running
    player.let.set()


def test_a_player_plays_to_the_end_and_again() -> None:
    """Several sounds through one device; after `end` nothing is played any more."""
    pytest.importorskip("miniaudio")
    player = AudioPlayer(RATE_HZ, "NULL")
    player.play(b"\x01\x00" * 100)
    device = player._device
    player.play(b"\x01\x00" * 100)
    assert player._device is device
    player.stop()
    player.play(b"\x01\x00" * RATE_HZ * 60)
    assert player._device is None
    player.close()


def test_a_device_that_fails_is_opened_anew() -> None:
    """The error says what failed; the next sound gets a new device."""
    audio = pytest.importorskip("miniaudio")
    player = AudioPlayer(RATE_HZ, "NULL")
    player.open()

    class Broken:
        def start(self, _: object) -> None:
            raise audio.MiniaudioError("pulled out", -1)

        def close(self) -> None:
            raise audio.MiniaudioError("gone", -2)

    player._device.close()
    player._device = Broken()
    with pytest.raises(AudioError, match=r"the audio device failed \(pulled out -1\)"):
        player.play(b"\x01\x00")
    player.play(b"\x01\x00")
    player.close()


async def test_work_aside_gives_its_result_or_its_error() -> None:
    """In the loop, from a thread of its own that nobody waits for."""
    thread = await run_in_background(threading.current_thread)
    assert thread is not threading.current_thread()
    assert thread.daemon
    with pytest.raises(ZeroDivisionError):
        await run_in_background(lambda: 1 / 0)


async def test_work_aside_that_is_not_waited_for_any_more_harms_nobody() -> None:
    """Its result comes to nothing."""
    let, done = threading.Event(), threading.Event()

    def work() -> None:
        let.wait(30)
        done.set()

    working = asyncio.create_task(run_in_background(work))
    await asyncio.sleep(0)
    working.cancel()
    with pytest.raises(asyncio.CancelledError):
        await working
    let.set()
    await wait_until(done.is_set)
    await asyncio.sleep(0)
