"""Formats shares, intervals and spreads as text.

Takes: results of `bridge.trends.intervals`.  Gives: text.
"""

from __future__ import annotations

from bridge.common.time_text import duration_text
from bridge.trends.calculations import MissedItem, Trends
from bridge.trends.intervals import Share, Spread
from bridge.trends.session_list import SessionRow
from rules.words import count_in_digits


def found_text(trends: Trends) -> str:
    """Format what was found as `, 12 findings, 2 not verifiable in 1 session, data missing in 3 sessions`.

    A count that is not shown has no text: it is not 0.
    """
    parts = []
    if trends.findings is not None:
        parts.append(count_in_digits(trends.findings, "finding"))
    if trends.doubts and trends.doubt_sessions is not None:
        parts.append(f"{trends.doubts} not verifiable in {count_in_digits(trends.doubt_sessions, 'session')}")
    if trends.gap_sessions:
        parts.append(f"data missing in {count_in_digits(trends.gap_sessions, 'session')}")
    return "".join(f", {part}" for part in parts)


def session_found_text(session: SessionRow) -> str:
    """Format what was found in a session as `1 warning, 3 cautions, 2 not verifiable`, or `nothing`."""
    parts = [count_in_digits(count, level) for level, count in session.levels.items()]
    if session.doubts:
        parts.append(f"{session.doubts} not verifiable")
    return ", ".join(parts) or "nothing"


def missed_text(missed: MissedItem) -> str:
    """Format in how many sessions an item was wrong as `3 of 6, 1 more not verifiable`."""
    doubts = f", {missed.not_verified} more not verifiable" if missed.not_verified else ""
    return f"{share_text(missed.share)}{doubts}"


def no_items_text(trends: Trends) -> str:
    """Say why no missed item is shown."""
    return "No item with five sessions or more." if trends.findings else "No findings."


def rare_text(trends: Trends) -> str:
    """Say how many rows are not shown; '' for none, or where nothing is shown."""
    return (
        f"{count_in_digits(trends.rare, 'row')} with fewer than five sessions not shown."
        if trends.rare
        else ""
    )


def share_text(share: Share) -> str:
    """Format a share as `3 of 41`; a share of nothing is not 0."""
    return f"{share.count} of {share.of}" if share.of else "not recorded"


def interval_text(share: Share) -> str:
    """Format a share as `7 % [2 to 19]`; '' for a share of nothing."""
    if not share.of:
        return ""
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
