"""Tests of the real engines: sound is made, more for longer text, and stopping stops."""

from __future__ import annotations

import asyncio
import os
import shutil
from pathlib import Path

import pytest

from bridge.outputs.voice.engines import ESPEAK_HINT, VoiceError, espeak_voice
from bridge.outputs.voice.speech_text import speech_text

SHORT = speech_text("80 knots")
LONG = speech_text(
    "Before push back, three open: beacon is off; hydraulic 1 pressure 1 240 psi; fuel 7 400 kg."
)
HEAD = 44
"""Bytes before the sound in a WAV file."""


@pytest.fixture
def espeak() -> None:
    """The program is installed; without it the tests are skipped with the reason, and fail in CI."""
    if shutil.which("espeak-ng") is None:
        if os.environ.get("CI"):
            pytest.fail(ESPEAK_HINT)
        pytest.skip(ESPEAK_HINT)


def size_of(path: Path) -> int:
    """How many bytes of sound a WAV file has."""
    data = path.read_bytes()
    assert data[:4] == b"RIFF"
    return len(data) - HEAD


async def written(path: Path, text: str, rate: float = 1.0) -> int:
    """How many bytes of sound a text makes."""
    with path.open("wb") as out:
        await espeak_voice(out).speak(text, rate)
    return size_of(path)


@pytest.mark.usefixtures("espeak")
async def test_sound_is_made_and_longer_text_sounds_longer(tmp_path: Path) -> None:
    """A call makes at least a quarter of a second of sound, a sentence several times that, and a quicker one less."""
    short = await written(tmp_path / "short.wav", SHORT)
    long = await written(tmp_path / "long.wav", LONG)
    quick = await written(tmp_path / "quick.wav", LONG, 2.0)
    assert short > 22050 * 2 // 4
    assert long > 4 * short
    assert quick < 0.75 * long


@pytest.mark.usefixtures("espeak")
async def test_stop_really_stops(tmp_path: Path) -> None:
    """A sentence that is stopped while its sound is being made has made only a part of it."""
    whole = await written(tmp_path / "whole.wav", LONG * 20)
    reading, writing = os.pipe()
    voice = espeak_voice(writing)
    saying = asyncio.create_task(voice.speak(LONG * 20))
    head = await asyncio.to_thread(os.read, reading, HEAD)
    voice.stop()
    await saying
    os.close(writing)
    heard = len(head)
    while part := os.read(reading, 65536):
        heard += len(part)
    os.close(reading)
    assert head[:4] == b"RIFF"
    assert heard < whole / 4


@pytest.mark.usefixtures("espeak")
async def test_no_sound_device_is_a_failure_with_its_reason(monkeypatch: pytest.MonkeyPatch) -> None:
    """Where the sound cannot be played the program still ends well; that is told all the same."""
    monkeypatch.setenv("ALSA_CONFIG_PATH", "/nowhere/asound.conf")
    monkeypatch.setenv("PULSE_SERVER", "unix:/nowhere/pulse")
    with pytest.raises(VoiceError, match="espeak-ng failed"):
        await espeak_voice().speak(SHORT)
