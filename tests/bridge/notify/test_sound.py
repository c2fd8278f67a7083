"""Tests of bridge.notify.sound and its player: what is missing is said, what hangs holds nobody up."""

from __future__ import annotations

import asyncio
import sys
import threading

import pytest

from bridge.notify.aside import aside
from bridge.notify.base import Bounds
from bridge.notify.player import INSTALL, Player, PlayError
from bridge.notify.sound import LATE_S, SoundNotifier
from bridge.notify.tones import RATE_HZ
from rules.judge.entries import PhaseEntered
from rules.packs.model import Level
from tests.bridge.notify.saying import notice, stamped
from tests.contract.until import Clock, until
from tests.contract.ways import SHORT, HeardPlayer


async def test_each_level_has_its_sound() -> None:
    """What has no level is not heard."""
    player = HeardPlayer()
    notifier = SoundNotifier(player, sounds=SHORT)
    notifier.wanted = type(notifier.wanted)()
    for message in stamped(PhaseEntered(0.0, "taxi", ""), *(notice(level=level) for level in Level)):
        notifier.hear(message)
    running = asyncio.create_task(notifier.run())
    await until(lambda: notifier.counts.sent == 4)
    notifier.close()
    await running
    assert player.played == [SHORT[level] for level in Level]


async def test_without_the_library_it_says_how_to_install_it(monkeypatch: pytest.MonkeyPatch) -> None:
    """The exact line is in the words, every notice is counted as given up, and nothing is raised."""
    monkeypatch.setitem(sys.modules, "miniaudio", None)
    notifier = SoundNotifier()
    first, second = stamped(notice(), notice())
    notifier.hear(first)
    await notifier.run()
    notifier.hear(second)
    assert f"the sound library is not installed; install it with: {INSTALL}" in notifier.words(0.0)
    assert len(notifier.counts.failed) == 2


async def test_without_a_device_it_says_so(monkeypatch: pytest.MonkeyPatch) -> None:
    """A machine that can play into nothing only has no device."""
    audio = pytest.importorskip("miniaudio")
    real = audio.PlaybackDevice
    monkeypatch.setattr(
        audio, "PlaybackDevice", lambda **given: real(**{**given, "backends": [audio.Backend.NULL]})
    )
    notifier = SoundNotifier()
    await notifier.run()
    assert "out of order: there is no audio device here; connect one" in notifier.words(0.0)


async def test_a_sound_that_comes_late_is_not_played() -> None:
    """It is given up; a fresh one after it is played."""
    clock, player = Clock(), HeardPlayer()
    notifier = SoundNotifier(player, sounds=SHORT, clock=clock)
    late, fresh = stamped(notice(level=Level.CAUTION), notice(level=Level.WARNING))
    notifier.hear(late)
    clock.now_s += LATE_S + 1
    notifier.hear(fresh)
    running = asyncio.create_task(notifier.run())
    await until(lambda: notifier.counts.sent == 1)
    notifier.close()
    await running
    assert player.played == [SHORT["warning"]]
    assert len(notifier.counts.failed) == 1


class Hanging(Player):
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
    notifier = SoundNotifier(player, sounds=SHORT, bounds=Bounds(tries=1, try_s=0.05))
    for message in stamped(notice(), notice(), notice()):
        notifier.hear(message)
    running = asyncio.create_task(notifier.run())
    await until(lambda: len(notifier.counts.failed) == 3)
    assert player.entered == 1
    assert "still hangs" in notifier.trouble
    notifier.close()
    await running
    player.let.set()


def test_a_player_plays_to_the_end_and_again() -> None:
    """Several sounds through one device; after `end` nothing is played any more."""
    pytest.importorskip("miniaudio")
    player = Player(RATE_HZ, "NULL")
    player.play(b"\x01\x00" * 100)
    device = player._device
    player.play(b"\x01\x00" * 100)
    assert player._device is device
    player.end()
    player.play(b"\x01\x00" * RATE_HZ * 60)
    assert player._device is None
    player.close()


def test_a_device_that_fails_is_opened_anew() -> None:
    """The error says what failed; the next sound gets a new device."""
    audio = pytest.importorskip("miniaudio")
    player = Player(RATE_HZ, "NULL")
    player.open()

    class Broken:
        def start(self, _: object) -> None:
            raise audio.MiniaudioError("pulled out", -1)

        def close(self) -> None:
            raise audio.MiniaudioError("gone", -2)

    player._device.close()
    player._device = Broken()
    with pytest.raises(PlayError, match=r"the audio device failed \(pulled out -1\)"):
        player.play(b"\x01\x00")
    player.play(b"\x01\x00")
    player.close()


async def test_work_aside_gives_its_result_or_its_error() -> None:
    """In the loop, from a thread of its own that nobody waits for."""
    thread = await aside(threading.current_thread)
    assert thread is not threading.current_thread()
    assert thread.daemon
    with pytest.raises(ZeroDivisionError):
        await aside(lambda: 1 / 0)


async def test_work_aside_that_is_not_waited_for_any_more_harms_nobody() -> None:
    """Its result comes to nothing."""
    let, done = threading.Event(), threading.Event()

    def work() -> None:
        let.wait(30)
        done.set()

    working = asyncio.create_task(aside(work))
    await asyncio.sleep(0)
    working.cancel()
    with pytest.raises(asyncio.CancelledError):
        await working
    let.set()
    await until(done.is_set)
    await asyncio.sleep(0)
