"""Tests of the real espeak-ng: length of the sound, stopping, and a missing sound device."""

from __future__ import annotations

import asyncio
import os
import shutil
from pathlib import Path

import pytest

from bridge.outputs.voice.engines import ESPEAK_HINT, VoiceError, espeak_voice
from bridge.outputs.voice.speech_text import speech_text
from tests.requirements import skip_or_fail

SHORT = speech_text("80 knots")
LONG = speech_text(
    "Before push back, three open: beacon is off; hydraulic 1 pressure 1 240 psi; fuel 7 400 kg."
)
HEAD = 44
"""Bytes before the sound in a WAV file."""


@pytest.fixture
def espeak() -> None:
    """Skip the test with a reason if the program is not installed; fail in CI."""
    if shutil.which("espeak-ng") is None:
        skip_or_fail(ESPEAK_HINT)


def size_of(path: Path) -> int:
    """The bytes of sound in a WAV file."""
    data = path.read_bytes()
    assert data[:4] == b"RIFF"
    return len(data) - HEAD


async def written(path: Path, text: str, rate: float = 1.0) -> int:
    """The bytes of sound of a text."""
    with path.open("wb") as out:
        await espeak_voice(out).speak(text, rate)
    return size_of(path)


@pytest.mark.usefixtures("espeak")
async def test_a_longer_text_is_a_longer_sound(tmp_path: Path) -> None:
    """A callout lasts at least a quarter of a second, a sentence several times that, and less at a higher rate."""
    short = await written(tmp_path / "short.wav", SHORT)
    long = await written(tmp_path / "long.wav", LONG)
    quick = await written(tmp_path / "quick.wav", LONG, 2.0)
    assert short > 22050 * 2 // 4
    assert long > 4 * short
    assert quick < 0.75 * long


@pytest.mark.usefixtures("espeak")
async def test_stop_ends_the_sound(tmp_path: Path) -> None:
    """A sentence that is stopped has made only a part of its sound."""
    full_size = await written(tmp_path / "whole.wav", LONG * 20)
    reading, writing = os.pipe()
    voice = espeak_voice(writing)
    speech = asyncio.create_task(voice.speak(LONG * 20))
    head = await asyncio.to_thread(os.read, reading, HEAD)
    voice.stop()
    await speech
    os.close(writing)
    received = len(head)
    while part := os.read(reading, 65536):
        received += len(part)
    os.close(reading)
    assert head[:4] == b"RIFF"
    assert received < full_size / 4


@pytest.mark.usefixtures("espeak")
async def test_a_missing_sound_device_is_an_error(monkeypatch: pytest.MonkeyPatch) -> None:
    """The program exits with 0 if the sound cannot be played; that is an error too."""
    monkeypatch.setenv("ALSA_CONFIG_PATH", "/nowhere/asound.conf")
    monkeypatch.setenv("PULSE_SERVER", "unix:/nowhere/pulse")
    with pytest.raises(VoiceError, match="espeak-ng failed"):
        await espeak_voice().speak(SHORT)
