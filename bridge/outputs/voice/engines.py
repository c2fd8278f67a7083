"""Engines that make sound of words: the espeak-ng program, pyttsx3 in a process of its own, and one that only writes down.

Each sentence is a process, so that nothing blocks the event loop, and stopping is sure: the process is ended.
On Linux pyttsx3 (2.99) is not used.  Its driver renders a whole sentence, then plays it by `aplay` from within a callback of
the engine, where it cannot be stopped, and says nothing where `aplay` is missing; of longer sentences it lost about half,
and ended well.  The program plays by itself.

Takes: text, and a rate (1.0 is the engine's own).  Gives: `Voice`s, and the one that this machine has.
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
"""The usual pace of a radio call is at most 100 words a minute (ICAO Annex 10 Volume II, 5.2.1.5.3); checklists are read faster."""

MIN_RATE, MAX_RATE = 0.5, 2.0
ESPEAK_HINT = "espeak-ng is not installed: apt-get install espeak-ng"
PYTTSX3_HINT = "the voice needs pyttsx3: pip install 'holdshort[voice]'"


class VoiceError(HoldshortError):
    """A sentence could not be said; the message says why, and what to install where that is it."""


class Voice(Protocol):
    """Says one sentence at a time."""

    @property
    def name(self) -> str:
        """What the engine is called, for the log and the screen."""

    async def speak(self, text: str, rate: float = 1.0) -> None:
        """Say it, and return when it was said or stopped.

        Args:
            text: words; digits are read as the engine likes.
            rate: 0.5 to 2.0 of the usual pace.

        Raises:
            VoiceError: it could not be said.
        """

    def stop(self) -> None:
        """Stop in the middle of the sentence; `say` returns soon.  Harmless while nothing is said."""

    async def close(self) -> None:
        """Stop, and leave no process behind."""


class MemoryVoice:
    """Says nothing, and keeps what it would have said; `stopped` counts sentences that were stopped.

    With `at_once=False` a sentence lasts until `finish` or `stop`, so that others can come in between.  `fail` names the
    error of the sentences to come.
    """

    name = "written"

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
        """Keep it."""
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
        """Let the sentence come to its end."""
        if self._current is not None and not self._current.done():
            self._current.set_result(True)

    def stop(self) -> None:
        """Stop the sentence."""
        if self._current is not None and not self._current.done():
            self.stop_count += 1
            self._current.set_result(False)

    async def close(self) -> None:
        """Nothing is left behind."""
        self.stop()
        self.closed = True


class ProgramVoice:
    """A program that says what it reads from its standard input, once for each sentence.

    It is waited for in a worker thread, because the loop that we run in cannot watch processes on every system.
    """

    def __init__(
        self, name: str, command: Callable[[float], list[str]], out: int | IO[bytes] = subprocess.DEVNULL
    ) -> None:
        """Nothing is started yet.

        Args:
            name: what the engine is called.
            command: the program and its arguments for a rate.
            out: where its standard output goes.
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
        """End the program."""
        if self._process is not None:
            self._stopping = True
            self._process.kill()

    async def close(self) -> None:
        """End the program, and wait for it."""
        self.stop()
        await self._reap()

    def _start(self, rate: float) -> subprocess.Popen[bytes]:
        """A new process, in a group of its own so that Ctrl-C is ours alone."""
        if self._process is not None:
            raise AssertionError("one sentence at a time")
        command, pipe = self._command(rate), subprocess.PIPE
        try:
            self._process = subprocess.Popen(  # noqa: S603 - our own program and arguments; the text goes in by a pipe
                command, stdin=pipe, stdout=self._out, stderr=pipe, start_new_session=True
            )
        except OSError as error:
            raise VoiceError(f"{self.name} cannot be started ({error.strerror})") from error
        return self._process

    async def _reap(self) -> None:
        """Leave no process behind."""
        if self._process is None or self._communication is None:
            return
        if not self._communication.done():
            self._process.kill()
            await asyncio.wait([self._communication])
        self._process, self._communication, self._stopping = None, None, False

    def _check_exit(self, code: int | None, error: str) -> None:
        """Raise where the program failed: espeak-ng ends well even where there is no sound device, and only writes so."""
        last = (error.strip().splitlines() or [""])[-1]
        if code != 0 or last.lower().startswith("error"):
            raise VoiceError(f"{self.name} failed ({last or f'ended with {code}'})")


def clamp_rate(rate: float) -> float:
    """A rate within what can be understood."""
    return min(max(rate, MIN_RATE), MAX_RATE)


def espeak_voice(out: int | IO[bytes] | None = None, *, language: str = "en-gb") -> ProgramVoice:
    """The espeak-ng program.

    Args:
        out: where to write the sound as WAV; None plays it.
        language: one of its voices.

    Raises:
        VoiceError: it is not installed.
    """
    program = shutil.which("espeak-ng")
    if program is None:
        raise VoiceError(ESPEAK_HINT)
    to = ["--stdout"] if out is not None else []

    def command(rate: float) -> list[str]:
        pace = str(round(WORDS_PER_MINUTE * rate))
        return [program, "-v", language, "-s", pace, "--stdin", *to]

    return ProgramVoice("espeak-ng", command, subprocess.DEVNULL if out is None else out)


def pyttsx3_voice(file: Path | None = None) -> ProgramVoice:
    """The system's own voices through pyttsx3 (Windows, macOS).

    Args:
        file: where to write the sound instead of playing it.

    Raises:
        VoiceError: pyttsx3 is not installed.
    """
    if importlib.util.find_spec("pyttsx3") is None:
        raise VoiceError(PYTTSX3_HINT)

    def command(rate: float) -> list[str]:
        pace = str(round(WORDS_PER_MINUTE * rate))
        return [
            sys.executable,
            "-m",
            "bridge.outputs.voice.pyttsx3_process",
            pace,
            *([str(file)] if file else []),
        ]

    return ProgramVoice("pyttsx3", command)


def default_voice() -> Voice:
    """The voice that this machine has: espeak-ng where there is one, else the system's own.

    Raises:
        VoiceError: it has none; the message says what to install.
    """
    if shutil.which("espeak-ng") or platform.system() == "Linux":
        return espeak_voice()
    return pyttsx3_voice()
