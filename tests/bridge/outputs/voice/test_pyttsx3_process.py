"""Tests of bridge.outputs.voice.pyttsx3_process with a double in the place of pyttsx3."""

from __future__ import annotations

import io
import sys
from types import SimpleNamespace

import pytest

from bridge.outputs.voice.pyttsx3_process import main


class Engine:
    """Keeps what it is asked, in order."""

    def __init__(self) -> None:
        """Nothing asked."""
        self.asked: list[tuple[object, ...]] = []

    def setProperty(self, name: str, value: object) -> None:  # noqa: N802 - the library's own spelling
        """Set."""
        self.asked.append((name, value))

    def say(self, text: str) -> None:
        """Say."""
        self.asked.append(("say", text))

    def save_to_file(self, text: str, file: str) -> None:
        """Write."""
        self.asked.append(("save", text, file))

    def runAndWait(self) -> None:  # noqa: N802 - the library's own spelling
        """Do it."""
        self.asked.append(("run",))


@pytest.mark.parametrize(
    ("arguments", "how"),
    [(["180"], ("say", "eight zero knots")), (["180", "x.wav"], ("save", "eight zero knots", "x.wav"))],
)
def test_it_says_its_standard_input(
    monkeypatch: pytest.MonkeyPatch, arguments: list[str], how: tuple[str, ...]
) -> None:
    """The pace is set, the text said or written, and waited for."""
    engine = Engine()
    monkeypatch.setitem(sys.modules, "pyttsx3", SimpleNamespace(init=lambda: engine))
    monkeypatch.setattr(sys, "stdin", io.StringIO("eight zero knots"))
    assert main(arguments) == 0
    assert engine.asked == [("rate", 180), how, ("run",)]
