"""Plays samples on this machine's audio device; every method blocks, so an event loop calls it in a thread.

Takes: 16-bit samples of one channel.  Gives: sound, or `AudioError`.
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
CONNECT_HINT = "connect one and restart, or do not use sound"
PLAY_TIMEOUT_S = 10.0
"""Longer than any sound: a device that needs longer has stopped."""
_BUFFER_MS = 60
_NULL_BACKEND = "Null"


class AudioError(HoldshortError):
    """The sound was not played; the message has the reason."""


class AudioPlayer:
    """One audio device, opened by the first sound and used until it is closed or fails."""

    def __init__(self, rate_hz: int, backend: str = "") -> None:
        """Make a player.

        Args:
            rate_hz: Samples per second.
            backend: The library's name of an audio backend (`NULL` discards the sound); '' for any that works.
        """
        self._rate_hz = rate_hz
        self._backend = backend
        self._device: Any = None
        self._finished = threading.Event()
        self._stopped = False

    def open(self) -> None:
        """Open the device if it is not open.

        Raises:
            AudioError: The library or a device is missing.
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
        """Play samples to their end, or until `stop`.

        Raises:
            AudioError: There is no device, or it failed; the next sound opens it again.
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
            raise AudioError("the audio device has stopped responding")
        if not self._stopped:
            self._finished.clear()

    def stop(self) -> None:
        """Stop the present sound and play no more; may be called from any thread."""
        self._stopped = True
        self._finished.set()

    def close(self) -> None:
        """Close the device."""
        device, self._device = self._device, None
        if device is not None:
            with suppress(Exception):  # a device that fails to close is unusable anyway
                device.close()

    def _backends(self, audio: ModuleType) -> list[Any] | None:
        return [getattr(audio.Backend, self._backend)] if self._backend else None


def load_audio_library() -> ModuleType:
    """Import the audio library.

    Raises:
        AudioError: The library is not installed, or does not load on this machine.
    """
    try:
        return importlib.import_module("miniaudio")
    except ModuleNotFoundError as error:
        raise AudioError(f"the sound library is not installed; install it with: {INSTALL_HINT}") from error
    except (ImportError, OSError) as error:
        raise AudioError(
            f"the sound library does not load ({error}); reinstall it with: {INSTALL_HINT}"
        ) from error


def _error_text(error: Exception) -> str:
    """Join the parts of a library error, which are a sentence and a number."""
    return " ".join(str(part) for part in error.args)


def _sample_stream(samples: bytes, finished: threading.Event) -> Generator[bytes, int, None]:
    """Yield the samples in blocks of the size that the device requests, then silence, so that the last block is played."""
    start, frames = 0, (yield b"")
    while start < len(samples):
        end = start + 2 * frames
        frames = yield samples[start:end]
        start = end
    yield b""
    finished.set()
