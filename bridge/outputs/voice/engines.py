"""Speech engines: the espeak-ng program, pyttsx3 in its own process, and one that keeps texts in memory.

Each sentence is a process, so that the event loop is never blocked and stopping is certain: the process is killed.
On Linux pyttsx3 (2.99) is not used.  Its driver renders a whole sentence, then plays it with `aplay` from within a callback of
the engine, where it cannot be stopped; it is silent if `aplay` is missing, and it lost about half of longer sentences without an
error.

Takes: text, and a rate (1.0 is the usual one).  Gives: `Voice`s, and the one of this machine.
"""

from __future__ import annotations

import asyncio
import importlib.util
import platform
import shutil
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path
from typing import IO, Protocol

from rules.faults import HoldshortError

WORDS_PER_MINUTE = 165
"""The usual rate.

A radio call has at most 100 words a minute (ICAO Annex 10 Volume II, 5.2.1.5.3); checklists are read faster.
"""

MIN_RATE, MAX_RATE = 0.5, 2.0
ESPEAK_HINT = "espeak-ng is not installed: apt-get install espeak-ng"
PYTTSX3_HINT = "the voice needs pyttsx3: pip install 'holdshort[voice]'"


class VoiceError(HoldshortError):
    """A sentence could not be spoken; the message has the reason, and what to install if something is missing."""


class Voice(Protocol):
    """An engine that speaks one sentence at a time."""

    @property
    def name(self) -> str:
        """The name of the engine in logs and on screens."""

    async def speak(self, text: str, rate: float = 1.0) -> None:
        """Speak a sentence; return when it was spoken or stopped.

        Args:
            text: words; the engine decides how it reads digits.
            rate: 0.5 to 2.0 of the usual rate.

        Raises:
            VoiceError: the sentence could not be spoken.
        """

    def stop(self) -> None:
        """Stop the present sentence, so that `speak` returns soon; does nothing if there is none."""

    async def close(self) -> None:
        """Stop, and end every process."""


class MemoryVoice:
    """Test double of an engine, published for tests: keeps its texts; `stop_count` counts stopped sentences.

    With `immediate=False` a sentence lasts until `finish` or `stop`.  While `error` is not empty, every sentence fails with it.
    """

    name = "memory"

    def __init__(self, *, immediate: bool = True) -> None:
        self.started: list[str] = []
        self.finished: list[str] = []
        self.rates: list[float] = []
        self.stop_count = 0
        self.error = ""
        self.closed = False
        self._immediate = immediate
        self._current: asyncio.Future[bool] | None = None

    async def speak(self, text: str, rate: float = 1.0) -> None:
        """Keep the text."""
        if self.error:
            raise VoiceError(self.error)
        self.started.append(text)
        self.rates.append(clamp_rate(rate))
        if not self._immediate:
            self._current = asyncio.get_running_loop().create_future()
            try:
                if not await self._current:
                    return
            finally:
                self._current = None
        self.finished.append(text)

    def finish(self) -> None:
        """End the present sentence as spoken."""
        if self._current is not None and not self._current.done():
            self._current.set_result(True)

    def stop(self) -> None:
        """End the present sentence as stopped."""
        if self._current is not None and not self._current.done():
            self.stop_count += 1
            self._current.set_result(False)

    async def close(self) -> None:
        """Stop, and set `closed`."""
        self.stop()
        self.closed = True


class ProgramVoice:
    """An engine that is a program: it is run for each sentence and reads it from its standard input.

    A worker thread waits for the program, because our event loop cannot watch processes on every system.
    """

    def __init__(
        self, name: str, command: Callable[[float], list[str]], out: int | IO[bytes] = subprocess.DEVNULL
    ) -> None:
        """Make an engine.

        Args:
            name: the name of the engine.
            command: the program and its arguments for a rate.
            out: the target of its standard output.
        """
        self.name = name
        self._command = command
        self._out = out
        self._process: subprocess.Popen[bytes] | None = None
        self._communication: asyncio.Future[tuple[bytes, bytes]] | None = None
        self._stopping = False

    async def speak(self, text: str, rate: float = 1.0) -> None:
        """Start the program, and wait for its end."""
        process = self._start(clamp_rate(rate))
        self._communication = asyncio.ensure_future(asyncio.to_thread(process.communicate, text.encode()))
        try:
            _, error = await asyncio.shield(self._communication)
            if not self._stopping:
                self._check_exit(process.returncode, error.decode(errors="replace"))
        finally:
            await self._reap()

    def stop(self) -> None:
        """Kill the program."""
        if self._process is not None:
            self._stopping = True
            self._process.kill()

    async def close(self) -> None:
        """Kill the program, and wait for its end."""
        self.stop()
        await self._reap()

    def _start(self, rate: float) -> subprocess.Popen[bytes]:
        """Start a process in its own group, so that it does not get our Ctrl-C."""
        if self._process is not None:
            raise AssertionError("the previous sentence has not ended")
        command, pipe = self._command(rate), subprocess.PIPE
        try:
            self._process = subprocess.Popen(  # noqa: S603 - our own program and arguments; the text is piped
                command, stdin=pipe, stdout=self._out, stderr=pipe, start_new_session=True
            )
        except OSError as error:
            raise VoiceError(f"{self.name} cannot be started ({error.strerror})") from error
        return self._process

    async def _reap(self) -> None:
        """Kill the process if it runs, and wait for its end."""
        if self._process is None or self._communication is None:
            return
        if not self._communication.done():
            self._process.kill()
            await asyncio.wait([self._communication])
        self._process, self._communication, self._stopping = None, None, False

    def _check_exit(self, code: int | None, error: str) -> None:
        """Raise if the program failed: without a sound device espeak-ng exits with 0 and only prints an error."""
        last = (error.strip().splitlines() or [""])[-1]
        if code != 0 or last.lower().startswith("error"):
            raise VoiceError(f"{self.name} failed ({last or f'ended with {code}'})")


def clamp_rate(rate: float) -> float:
    """Limit a rate to the range that can be understood."""
    return min(max(rate, MIN_RATE), MAX_RATE)


def espeak_voice(out: int | IO[bytes] | None = None, *, language: str = "en-gb") -> ProgramVoice:
    """Make an engine of the espeak-ng program.

    Args:
        out: the file for the sound as WAV; None to play it.
        language: one of the voices of the program.

    Raises:
        VoiceError: the program is not installed.
    """
    program = shutil.which("espeak-ng")
    if program is None:
        raise VoiceError(ESPEAK_HINT)
    output = ["--stdout"] if out is not None else []

    def command(rate: float) -> list[str]:
        words_per_minute = str(round(WORDS_PER_MINUTE * rate))
        return [program, "-v", language, "-s", words_per_minute, "--stdin", *output]

    return ProgramVoice("espeak-ng", command, subprocess.DEVNULL if out is None else out)


def pyttsx3_voice(file: Path | None = None) -> ProgramVoice:
    """Make an engine of the system's voices through pyttsx3 (Windows, macOS).

    Args:
        file: the file for the sound; None to play it.

    Raises:
        VoiceError: pyttsx3 is not installed.
    """
    if importlib.util.find_spec("pyttsx3") is None:
        raise VoiceError(PYTTSX3_HINT)

    def command(rate: float) -> list[str]:
        words_per_minute = str(round(WORDS_PER_MINUTE * rate))
        return [
            sys.executable,
            "-m",
            "bridge.outputs.voice.pyttsx3_process",
            words_per_minute,
            *([str(file)] if file else []),
        ]

    return ProgramVoice("pyttsx3", command)


def default_voice() -> Voice:
    """The voice of this machine: espeak-ng if it is installed or on Linux, else the system's voices.

    Raises:
        VoiceError: there is no voice; the message says what to install.
    """
    if shutil.which("espeak-ng") or platform.system() == "Linux":
        return espeak_voice()
    return pyttsx3_voice()
