"""Tests of bridge.outputs.voice.engines with a small program as the engine; test_espeak has the real one."""

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
    """An engine that runs a line of Python."""

    def command(rate: float) -> list[str]:
        if rates is not None:
            rates.append(rate)
        return [sys.executable, "-c", text]

    return ProgramVoice("parrot", command)


async def test_the_memory_voice_keeps_its_texts() -> None:
    """The test double keeps texts and rates, and fails with a given error."""
    voice = MemoryVoice()
    as_voice: Voice = voice
    await as_voice.speak("one", 1.5)
    assert (voice.started, voice.finished, voice.rates) == (["one"], ["one"], [1.5])
    voice.error = "no sound"
    with pytest.raises(VoiceError, match="no sound"):
        await voice.speak("two")
    await voice.close()
    assert voice.closed


async def test_the_text_is_piped() -> None:
    """The text is not an argument and no shell reads it; the rate is within limits."""
    rates: list[float] = []
    voice = program("import sys; assert sys.stdin.read() == '; rm -rf \\'é'", rates)
    await voice.speak("; rm -rf 'é", 7.0)
    assert rates == [2.0]


@pytest.mark.parametrize(
    ("text", "reason"),
    [
        ("import sys; print('first', file=sys.stderr); print('no device', file=sys.stderr); sys.exit(3)", "no device"),
        ("import sys; sys.exit(3)", "ended with 3"),
        ("import sys; print('error: No such file or directory', file=sys.stderr)", "No such file or directory"),
    ],
)  # fmt: skip
async def test_a_program_that_fails(text: str, reason: str) -> None:
    """An exit code, or an error that is only printed, raises an error with the program's last line."""
    with pytest.raises(VoiceError, match=f"parrot failed .*{reason}") as caught:
        await program(text).speak("x")
    assert isinstance(caught.value, HoldshortError)


async def test_other_output_is_no_error() -> None:
    """A program that exits with 0 and prints something else has spoken its sentence."""
    await program("import sys; print('a note', file=sys.stderr)").speak("x")


async def test_a_missing_program() -> None:
    """A missing program raises an error, and the next sentence can be tried."""
    voice = ProgramVoice("parrot", lambda _: ["/nowhere/parrot"])
    for _ in range(2):
        with pytest.raises(VoiceError, match="parrot cannot be started"):
            await voice.speak("x")


async def test_stop_kills_the_program() -> None:
    """A program that does not end is killed by `stop` without an error, and the next sentence is spoken."""
    voice = program("import sys, signal; sys.stdin.read() == 'long' and signal.pause()")
    speech = asyncio.create_task(voice.speak("long"))
    await wait_until(lambda: voice._process is not None)
    process = voice._process
    assert process is not None
    voice.stop()
    await speech
    assert process.returncode == -signal.SIGKILL
    voice.stop()
    await voice.speak("short")


async def test_a_program_killed_by_others_is_an_error() -> None:
    """The error applies only to the present sentence."""
    voice = program("import sys, signal; sys.stdin.read() == 'long' and signal.pause()")
    speech = asyncio.create_task(voice.speak("long"))
    await wait_until(lambda: voice._process is not None)
    assert voice._process is not None
    os.kill(voice._process.pid, signal.SIGKILL)
    with pytest.raises(VoiceError, match="parrot failed"):
        await speech
    await voice.speak("short")


@pytest.mark.parametrize("how", ["cancel", "close"])
async def test_no_process_remains(how: str) -> None:
    """When a sentence is cancelled or the engine closed, its process has ended before that returns."""
    voice = program("import signal; signal.pause()")
    speech = asyncio.create_task(voice.speak("long"))
    await wait_until(lambda: voice._process is not None)
    process = voice._process
    assert process is not None
    if how == "cancel":
        speech.cancel()
    else:
        await voice.close()
    await asyncio.gather(speech, return_exceptions=True)
    assert process.returncode == -signal.SIGKILL


def test_a_missing_engine_is_named_with_its_install_command(monkeypatch: pytest.MonkeyPatch) -> None:
    """Without an engine the error has the command that installs one."""
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


def test_the_default_voice(monkeypatch: pytest.MonkeyPatch) -> None:
    """It is espeak-ng if it is installed; else, except on Linux, the system's voices."""
    monkeypatch.setattr("bridge.outputs.voice.engines.shutil.which", lambda _: "/usr/bin/espeak-ng")
    assert default_voice().name == "espeak-ng"
    monkeypatch.setattr("bridge.outputs.voice.engines.shutil.which", lambda _: None)
    monkeypatch.setattr("bridge.outputs.voice.engines.platform.system", lambda: "Windows")
    monkeypatch.setattr("bridge.outputs.voice.engines.importlib.util.find_spec", lambda _: object())
    assert default_voice().name == pyttsx3_voice().name == "pyttsx3"


@pytest.mark.parametrize(("rate", "limited"), [(0.0, 0.5), (1.0, 1.0), (3.0, 2.0)])
def test_rates_are_limited(rate: float, limited: float) -> None:
    """A rate is limited to the range that can be understood."""
    assert clamp_rate(rate) == limited
