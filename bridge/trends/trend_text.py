"""Formats shares, intervals and spreads as text.

Takes: results of `bridge.trends.intervals`.  Gives: text.
"""

from __future__ import annotations

from bridge.common.time_text import duration_text
from bridge.trends.calculations import Trends
from bridge.trends.intervals import Share, Spread
from rules.words import count_in_digits


def found_text(trends: Trends) -> str:
    """Format what was found as `, 12 findings, 2 not verifiable`; '' where the numbers are not shown."""
    if trends.findings is None:
        return ""
    doubts = f", {trends.doubts} not verifiable" if trends.doubts else ""
    return f", {count_in_digits(trends.findings, 'finding')}{doubts}"


def share_text(share: Share) -> str:
    """Format a share as `3 of 41`."""
    return f"{share.count} of {share.of}"


def interval_text(share: Share) -> str:
    """Format a share as `7 % [2 to 19]`."""
    return f"{100 * share.value:.0f} % [{100 * share.low:.0f} to {100 * share.high:.0f}]"


def spread_text(spread: Spread | None) -> str:
    """Format the spread of the spare times as `42 s [30 to 55], half 20 s to 1 min 05 s`."""
    if spread is None:
        return "never"
    interval = (
        f" [{duration_text(spread.low)} to {duration_text(spread.high)}]"
        if spread.low is not None and spread.high is not None
        else ""
    )
    if spread.count < 2:
        return duration_text(spread.median)
    return f"{duration_text(spread.median)}{interval}, half {duration_text(spread.low_quartile)} to {duration_text(spread.high_quartile)}"
