"""Plays samples on this machine's audio device; every method blocks, so a loop calls it from another thread.

Takes: 16-bit samples of one channel.  Gives: the sound; errors in words.
"""

from __future__ import annotations

import importlib
import threading
from collections.abc import Generator
from contextlib import suppress
from types import ModuleType
from typing import Any

from rules.faults import HoldshortError

INSTALL_HINT = "pip install 'holdshort[voice]'"
CONNECT_HINT = "connect one and start again, or leave the sound out"
PLAY_TIMEOUT_S = 10.0
"""Longer than any sound: a device that has not played one by then has stopped."""
_BUFFER_MS = 60
_NULL_BACKEND = "Null"


class AudioError(HoldshortError):
    """It was not played, and why."""


class AudioPlayer:
    """One device, opened by the first sound and kept until it is closed or fails."""

    def __init__(self, rate_hz: int, backend: str = "") -> None:
        """Nothing is opened yet.

        Args:
            rate_hz: Samples in a second.
            backend: The library's name of one way to the device (`NULL` plays into nothing); '': what works.
        """
        self._rate_hz = rate_hz
        self._backend = backend
        self._device: Any = None
        self._finished = threading.Event()
        self._stopped = False

    def open(self) -> None:
        """Open the device, where it is not.

        Raises:
            PlayError: The library or a device is missing.
        """
        if self._device is not None:
            return
        audio = load_audio_library()
        try:
            device = audio.PlaybackDevice(
                output_format=audio.SampleFormat.SIGNED16, nchannels=1, sample_rate=self._rate_hz,
                buffersize_msec=_BUFFER_MS, backends=self._backends(audio), app_name="holdshort",
            )  # fmt: skip
        except audio.MiniaudioError as error:
            raise AudioError(
                f"no audio device can be opened here ({_error_text(error)}); {CONNECT_HINT}"
            ) from error
        if device.backend == _NULL_BACKEND and self._backend.title() != _NULL_BACKEND:
            device.close()
            raise AudioError(f"there is no audio device here; {CONNECT_HINT}")
        self._device = device

    def play(self, samples: bytes) -> None:
        """Play to its end, or until `end`.

        Raises:
            PlayError: There is no device, or it failed; it is opened anew by the next sound.
        """
        self.open()
        stream = _sample_stream(samples, self._finished)
        next(stream)
        try:
            self._device.start(stream)
            ended = self._finished.wait(PLAY_TIMEOUT_S)
            self._device.stop()
        except load_audio_library().MiniaudioError as error:
            self.close()
            raise AudioError(f"the audio device failed ({_error_text(error)})") from error
        if not ended or self._stopped:
            self.close()
        if not ended:
            raise AudioError("the audio device has stopped taking sound")
        if not self._stopped:
            self._finished.clear()

    def stop(self) -> None:
        """Cut off what is being played and play nothing more; may be called from any thread."""
        self._stopped = True
        self._finished.set()

    def close(self) -> None:
        """Give the device back."""
        device, self._device = self._device, None
        if device is not None:
            with suppress(Exception):  # a device that fails to close is gone
                device.close()

    def _backends(self, audio: ModuleType) -> list[Any] | None:
        return [getattr(audio.Backend, self._backend)] if self._backend else None


def load_audio_library() -> ModuleType:
    """The library that speaks to the device.

    Raises:
        PlayError: It is not installed, or does not load here.
    """
    try:
        return importlib.import_module("miniaudio")
    except ModuleNotFoundError as error:
        raise AudioError(f"the sound library is not installed; install it with: {INSTALL_HINT}") from error
    except (ImportError, OSError) as error:
        raise AudioError(
            f"the sound library does not load ({error}); install it anew with: {INSTALL_HINT}"
        ) from error


def _error_text(error: Exception) -> str:
    """The library's errors are a sentence and a number."""
    return " ".join(str(part) for part in error.args)


def _sample_stream(samples: bytes, over: threading.Event) -> Generator[bytes, int, None]:
    """What the device asks for, so many frames at a time; then one buffer of silence, so that all was heard."""
    at, frames = 0, (yield b"")
    while at < len(samples):
        end = at + 2 * frames
        frames = yield samples[at:end]
        at = end
    yield b""
    over.set()
