"""Tests of bridge.outputs.voice.pyttsx3_process with a test double for pyttsx3."""

from __future__ import annotations

import io
import sys
from types import SimpleNamespace

import pytest

from bridge.outputs.voice.pyttsx3_process import main


class Engine:
    """Records its calls in order."""

    def __init__(self) -> None:
        self.calls: list[tuple[object, ...]] = []

    def setProperty(self, name: str, value: object) -> None:  # noqa: N802 - the library's own spelling
        """Record a property."""
        self.calls.append((name, value))

    def say(self, text: str) -> None:
        """Record a text."""
        self.calls.append(("say", text))

    def save_to_file(self, text: str, file: str) -> None:
        """Record a text and its file."""
        self.calls.append(("save", text, file))

    def runAndWait(self) -> None:  # noqa: N802 - the library's own spelling
        """Record the run."""
        self.calls.append(("run",))


@pytest.mark.parametrize(
    ("arguments", "how"),
    [(["180"], ("say", "eight zero knots")), (["180", "x.wav"], ("save", "eight zero knots", "x.wav"))],
)
def test_it_speaks_its_standard_input(
    monkeypatch: pytest.MonkeyPatch, arguments: list[str], how: tuple[str, ...]
) -> None:
    """The rate is set, the text is spoken or written, and its end is awaited."""
    engine = Engine()
    monkeypatch.setitem(sys.modules, "pyttsx3", SimpleNamespace(init=lambda: engine))
    monkeypatch.setattr(sys, "stdin", io.StringIO("eight zero knots"))
    assert main(arguments) == 0
    assert engine.calls == [("rate", 180), how, ("run",)]
