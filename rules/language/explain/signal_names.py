"""What the signals of a reason are called: by their labels, or by somebody who knows how their values came about.

Takes: signals.  Gives: the names that stand in a sentence.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Protocol

from rules.signals.model import Signal


class SignalNames(Protocol):
    """Says what a signal is called, and what else is worth a word."""

    def name(self, signal: Signal) -> str:
        """As the subject of a sentence: "take-off mass"."""

    def calculation(self, signal: Signal) -> str:
        """As what is wanted, with how it came about: "least V2 at 61 200 kg: 1.13 times stall speed 118 kt"."""

    def sources(self, signal: Signal) -> tuple[Signal, ...]:
        """The signals for want of which this one has no value; itself where it does not come from others."""

    def remark(self, wanted: float, actual: float, signals: Sequence[Signal]) -> str:
        """What a wrong value of one of these looks like, '' where it looks like nothing known."""


class SignalLabels:
    """Signals are called by their labels, and nothing is known of where they come from."""

    def name(self, signal: Signal) -> str:
        """The label."""
        return signal.label

    def calculation(self, signal: Signal) -> str:
        """The label."""
        return signal.label

    def sources(self, signal: Signal) -> tuple[Signal, ...]:
        """Itself."""
        return (signal,)

    def remark(self, wanted: float, actual: float, signals: Sequence[Signal]) -> str:  # noqa: ARG002 - the shape of `Names`
        """Nothing."""
        return ""


LABELS = SignalLabels()
