"""Deviation from guidance, where the guidance is received.

Takes: a deviation in dots, and whether it is received.  Gives: the deviation, or `DomainError`.
"""

from __future__ import annotations

from rules.arithmetic.domain import DomainError


def received_deviation(deviation: float, received: str) -> float:
    """Deviation of a needle; without reception a needle rests anywhere, often in the middle.

    Args:
        deviation: In dots.
        received: `yes` where the guidance is received.

    Raises:
        DomainError: Nothing is received, so that no deviation is known.

    Source: common practice, no source.
    """
    if received != "yes":
        raise DomainError("nothing received", "guidance of the tuned aid")
    return deviation
