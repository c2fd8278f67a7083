"""Tests of bridge.outputs.notifiers.sound and its player: missing libraries and devices, late sounds, blocked drivers."""

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

NO_MINIAUDIO = f"miniaudio is not installed: {INSTALL_HINT}"


async def test_each_level_has_its_sound() -> None:
    """A message without a level has no sound."""
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


async def test_without_the_library_the_status_says_how_to_install_it(monkeypatch: pytest.MonkeyPatch) -> None:
    """The status text has the command, every notice is counted as given up, and nothing is raised."""
    monkeypatch.setitem(sys.modules, "miniaudio", None)
    notifier = SoundNotifier()
    first, second = envelopes(notice(), notice())
    notifier.enqueue(first)
    await notifier.run()
    notifier.enqueue(second)
    assert f"the sound library is not installed; install it with: {INSTALL_HINT}" in notifier.status_text(0.0)
    assert len(notifier.counts.given_up) == 2


async def test_without_a_device_the_notifier_is_disabled(monkeypatch: pytest.MonkeyPatch) -> None:
    """A machine with only the null backend has no device."""
    audio = pytest.importorskip("miniaudio", reason=NO_MINIAUDIO)
    real = audio.PlaybackDevice
    monkeypatch.setattr(
        audio, "PlaybackDevice", lambda **given: real(**{**given, "backends": [audio.Backend.NULL]})
    )
    notifier = SoundNotifier()
    await notifier.run()
    assert "disabled: there is no audio device here; connect one" in notifier.status_text(0.0)


async def test_a_late_sound_is_not_played() -> None:
    """It is given up, and a later fresh one is played."""
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


class BlockedPlayer(AudioPlayer):
    """A device whose driver blocks until `released` is set."""

    def __init__(self) -> None:
        super().__init__(RATE_HZ, "NULL")
        self.released = threading.Event()
        self.entered = 0

    def play(self, samples: bytes) -> None:
        """Block."""
        assert samples
        self.entered += 1
        self.released.wait(30)


async def test_a_blocked_driver_is_called_once() -> None:
    """The event loop continues, later sounds are given up at once, and the notifier ends."""
    player = BlockedPlayer()
    notifier = SoundNotifier(
        player, sounds=SHORT, limits=DeliveryLimits(max_attempts=1, attempt_timeout_s=0.05)
    )
    for message in envelopes(notice(), notice(), notice()):
        notifier.enqueue(message)
    running = asyncio.create_task(notifier.run())
    await wait_until(lambda: len(notifier.counts.given_up) == 3)
    assert player.entered == 1
    assert "blocked by an earlier sound" in notifier.trouble
    notifier.close()
    await running
    player.released.set()


def test_a_player_plays_several_sounds() -> None:
    """Sounds use one device; after `stop` nothing is played."""
    pytest.importorskip("miniaudio", reason=NO_MINIAUDIO)
    player = AudioPlayer(RATE_HZ, "NULL")
    player.play(b"\x01\x00" * 100)
    device = player._device
    player.play(b"\x01\x00" * 100)
    assert player._device is device
    player.stop()
    player.play(b"\x01\x00" * RATE_HZ * 60)
    assert player._device is None
    player.close()


def test_a_device_that_failed_is_opened_again() -> None:
    """The error has the reason, and the next sound gets a new device."""
    audio = pytest.importorskip("miniaudio", reason=NO_MINIAUDIO)
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


async def test_background_work_returns_its_result_or_raises_its_error() -> None:
    """It runs in a daemon thread."""
    thread = await run_in_background(threading.current_thread)
    assert thread is not threading.current_thread()
    assert thread.daemon
    with pytest.raises(ZeroDivisionError):
        await run_in_background(lambda: 1 / 0)


async def test_the_result_of_cancelled_background_work_is_discarded() -> None:
    """The work continues to its end, and its result is ignored."""
    released, finished = threading.Event(), threading.Event()

    def work() -> None:
        released.wait(30)
        finished.set()

    working = asyncio.create_task(run_in_background(work))
    await asyncio.sleep(0)
    working.cancel()
    with pytest.raises(asyncio.CancelledError):
        await working
    released.set()
    await wait_until(finished.is_set)
    await asyncio.sleep(0)
