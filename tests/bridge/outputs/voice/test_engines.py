"""Tests of bridge.outputs.voice.engines with a program of our own in the engine's place; test_espeak has the real one."""

from __future__ import annotations

import asyncio
import os
import signal
import sys

import pytest

from bridge.outputs.voice.engines import (
    ESPEAK_HINT,
    PYTTSX3_HINT,
    MemoryVoice,
    ProgramVoice,
    Voice,
    VoiceError,
    clamp_rate,
    default_voice,
    espeak_voice,
    pyttsx3_voice,
)
from rules.faults import HoldshortError
from tests.contract.waiting import wait_until


def program(text: str, rates: list[float] | None = None) -> ProgramVoice:
    """An engine that is a line of Python."""

    def command(rate: float) -> list[str]:
        if rates is not None:
            rates.append(rate)
        return [sys.executable, "-c", text]

    return ProgramVoice("parrot", command)


async def test_the_written_voice_keeps_what_it_says() -> None:
    """The double says at once, or until it is let or stopped, and fails as it is told."""
    voice = MemoryVoice()
    as_voice: Voice = voice
    await as_voice.speak("one", 1.5)
    assert (voice.started, voice.finished, voice.rates) == (["one"], ["one"], [1.5])
    voice.error = "no sound"
    with pytest.raises(VoiceError, match="no sound"):
        await voice.speak("two")
    await voice.close()
    assert voice.closed


async def test_the_text_goes_in_by_the_standard_input() -> None:
    """Whatever the text holds, it is no argument and no shell sees it; the rate is within bounds."""
    rates: list[float] = []
    voice = program("import sys; assert sys.stdin.read() == '; rm -rf \\'é'", rates)
    await voice.speak("; rm -rf 'é", 7.0)
    assert rates == [2.0]


@pytest.mark.parametrize(
    ("text", "why"),
    [
        ("import sys; print('first', file=sys.stderr); print('no device', file=sys.stderr); sys.exit(3)", "no device"),
        ("import sys; sys.exit(3)", "ended with 3"),
        ("import sys; print('error: No such file or directory', file=sys.stderr)", "No such file or directory"),
    ],
)  # fmt: skip
async def test_a_program_that_fails_says_why(text: str, why: str) -> None:
    """An error code, or an error that is only written, is an error of ours with the program's last words."""
    with pytest.raises(VoiceError, match=f"parrot failed .*{why}") as caught:
        await program(text).speak("x")
    assert isinstance(caught.value, HoldshortError)


async def test_chatter_is_no_failure() -> None:
    """A program that ends well and writes something else has said its sentence."""
    await program("import sys; print('a note', file=sys.stderr)").speak("x")


async def test_a_program_that_is_not_there() -> None:
    """A missing program is an error of ours; the next sentence can be tried."""
    voice = ProgramVoice("parrot", lambda _: ["/nowhere/parrot"])
    for _ in range(2):
        with pytest.raises(VoiceError, match="parrot cannot be started"):
            await voice.speak("x")


async def test_stop_ends_the_program_in_the_middle() -> None:
    """A program that would go on for ever is ended by stop, which is no failure, and the next sentence is said."""
    voice = program("import sys, signal; sys.stdin.read() == 'long' and signal.pause()")
    saying = asyncio.create_task(voice.speak("long"))
    await wait_until(lambda: voice._process is not None)
    process = voice._process
    assert process is not None
    voice.stop()
    await saying
    assert process.returncode == -signal.SIGKILL
    voice.stop()
    await voice.speak("short")


async def test_a_program_that_is_killed_is_a_failure() -> None:
    """The engine's death in the middle of a sentence is told, and does not stay."""
    voice = program("import sys, signal; sys.stdin.read() == 'long' and signal.pause()")
    saying = asyncio.create_task(voice.speak("long"))
    await wait_until(lambda: voice._process is not None)
    assert voice._process is not None
    os.kill(voice._process.pid, signal.SIGKILL)
    with pytest.raises(VoiceError, match="parrot failed"):
        await saying
    await voice.speak("short")


@pytest.mark.parametrize("how", ["cancel", "close"])
async def test_no_process_is_left_behind(how: str) -> None:
    """When a sentence is cancelled, or the engine closed, its process is gone before that returns."""
    voice = program("import signal; signal.pause()")
    saying = asyncio.create_task(voice.speak("long"))
    await wait_until(lambda: voice._process is not None)
    process = voice._process
    assert process is not None
    if how == "cancel":
        saying.cancel()
    else:
        await voice.close()
    await asyncio.gather(saying, return_exceptions=True)
    assert process.returncode == -signal.SIGKILL


def test_what_is_missing_is_named_with_the_line_that_installs_it(monkeypatch: pytest.MonkeyPatch) -> None:
    """Without an engine the message is the command to type."""
    monkeypatch.setattr("bridge.outputs.voice.engines.shutil.which", lambda _: None)
    monkeypatch.setattr("bridge.outputs.voice.engines.importlib.util.find_spec", lambda _: None)
    with pytest.raises(VoiceError) as caught:
        espeak_voice()
    assert str(caught.value) == ESPEAK_HINT == "espeak-ng is not installed: apt-get install espeak-ng"
    monkeypatch.setattr("bridge.outputs.voice.engines.platform.system", lambda: "Linux")
    with pytest.raises(VoiceError, match="apt-get install espeak-ng"):
        default_voice()
    monkeypatch.setattr("bridge.outputs.voice.engines.platform.system", lambda: "Windows")
    with pytest.raises(VoiceError) as caught:
        default_voice()
    assert str(caught.value) == PYTTSX3_HINT == "the voice needs pyttsx3: pip install 'holdshort[voice]'"


def test_the_engine_that_is_there_is_taken(monkeypatch: pytest.MonkeyPatch) -> None:
    """The program where there is one; else, but on Linux, the system's own voices."""
    monkeypatch.setattr("bridge.outputs.voice.engines.shutil.which", lambda _: "/usr/bin/espeak-ng")
    assert default_voice().name == "espeak-ng"
    monkeypatch.setattr("bridge.outputs.voice.engines.shutil.which", lambda _: None)
    monkeypatch.setattr("bridge.outputs.voice.engines.platform.system", lambda: "Windows")
    monkeypatch.setattr("bridge.outputs.voice.engines.importlib.util.find_spec", lambda _: object())
    assert default_voice().name == pyttsx3_voice().name == "pyttsx3"


@pytest.mark.parametrize(("rate", "kept"), [(0.0, 0.5), (1.0, 1.0), (3.0, 2.0)])
def test_paced(rate: float, kept: float) -> None:
    """A rate is kept within what can be understood."""
    assert clamp_rate(rate) == kept
