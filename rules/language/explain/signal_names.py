"""Names of signals in reasons: their labels, or descriptions of the calculation of their values.

Takes: signals.  Gives: their names for sentences.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Protocol

from rules.signals.model import Signal


class SignalNames(Protocol):
    """Names of signals in sentences, with remarks on wrong values."""

    def name(self, signal: Signal) -> str:
        """Give the name as the subject of a sentence: "take-off mass"."""

    def calculation(self, signal: Signal) -> str:
        """Describe how the value is computed: "1.13 times stall speed 118 kt"; '' where it is not."""

    def sources(self, signal: Signal) -> tuple[Signal, ...]:
        """Give the signals whose absence makes this one unknown; the signal itself where it is not computed."""

    def remark(self, wanted: float, actual: float, signals: Sequence[Signal]) -> str:
        """Describe the probable entry error of a wrong value, '' where none is known."""


class SignalLabels:
    """Names signals by their labels; knows no calculations."""

    def name(self, signal: Signal) -> str:
        """Give the label of the signal."""
        return signal.label

    def calculation(self, signal: Signal) -> str:  # noqa: ARG002 - the shape of `SignalNames`
        """Describe no calculation."""
        return ""

    def sources(self, signal: Signal) -> tuple[Signal, ...]:
        """Give the signal itself."""
        return (signal,)

    def remark(self, wanted: float, actual: float, signals: Sequence[Signal]) -> str:  # noqa: ARG002 - the shape of `Names`
        """Give no remark."""
        return ""


LABELS = SignalLabels()
