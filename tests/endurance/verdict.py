"""Judges what a long run has measured, by rules with stated limits.

Takes: measurements.  Gives: a `RuleOutcome` for each rule; the run is good where every one is.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import NamedTuple

from tests.endurance.measurements import (
    FlightMeasurements,
    FloodMeasurements,
    WatchEnd,
    WatchSample,
    percentile,
)

MAX_MEMORY_GROWTH_MB = 60.0
"""Growth of the resident memory from the second tenth of a run to its last."""
MAX_MEMORY_MB = 400.0
"""As in tests/bridge/commands/test_hostile_watch.py: the most of a watch of one simulator, whatever it is sent."""
MAX_MORE_OPEN_FILES = 8
MAX_MORE_THREADS = 4
MAX_ANSWER_S = 1.0
"""The 99th percentile of the delay of an answer of the control port."""
MAX_JUDGING_S = 2.0
"""The 99th percentile from sending a state to its line; from that age on the watch itself reports to be behind."""
ACTIVE_S = 75.0
"""Recordings that were written within the last minute are not removed, and the space is checked every 10 s."""
MIN_GOOD_SHARE = 0.99
"""Share of the good frames that must be judged beside hostile packets."""
_TENTHS = 10


class RuleOutcome(NamedTuple):
    """A rule, whether it is met, and the numbers by which that was decided."""

    rule: str
    good: bool
    numbers: str


def judge_flights(run: FlightMeasurements) -> list[RuleOutcome]:
    """Judge a run of flights."""
    return [
        _memory_growth(run.samples),
        _not_more(run.samples, "open files", lambda sample: sample.open_files, MAX_MORE_OPEN_FILES),
        _not_more(run.samples, "threads", lambda sample: sample.threads, MAX_MORE_THREADS),
        _recordings(run.samples, run.recordings_limit_mb),
        _delay("control port answers", run.answers_s, MAX_ANSWER_S),
        _delay("state judged and printed", run.delays_s, MAX_JUDGING_S),
        _same("every datagram arrived: sent, counted", run.datagrams),
        _same("records lost: by the network faults, by the watch's count", run.lost[::-1], at_most=True),
        _nothing_dropped(run.samples),
        _same("findings: printed, stored", run.findings),
        _same("notices: printed, stored", run.notices),
        _same("notices: stored, arrived at the output", (run.notices[1], run.lines)),
        _rejudged(run),
        RuleOutcome("every flight ended", not run.stuck, f"{run.flights} flights, {run.stuck} did not"),
        RuleOutcome("no problem was reported", not run.problems, "; ".join(run.problems[:3]) or "none"),
        _ended(run.end),
    ]


def judge_flood(run: FloodMeasurements) -> list[RuleOutcome]:
    """Judge a run of hostile packets."""
    given, judged = run.good
    share = judged / given if given else 0.0
    words = f"{run.false_words} times all is well"
    highest = max((sample.memory_mb for sample in run.samples), default=0.0)
    refused = sum(run.refusals.values())
    return [
        RuleOutcome(
            f"at least {MIN_GOOD_SHARE:.0%} of the good frames were judged",
            share >= MIN_GOOD_SHARE,
            f"{judged} of {given}, {share:.2%}",
        ),
        RuleOutcome("the flight was not reset", not run.resets, f"{run.resets} resets"),
        RuleOutcome("hostile packets were refused", refused > 0, f"{refused} of {run.hostile}"),
        RuleOutcome("the page never said that all is well while it refused", not run.false_words, words),
        RuleOutcome(
            f"memory at most {MAX_MEMORY_MB:.0f} MB",
            bool(run.samples) and highest <= MAX_MEMORY_MB,
            f"{highest:.0f} MB",
        ),
        _delay("control port answers", run.answers_s, MAX_ANSWER_S),
        _delay("state judged and printed", run.delays_s, MAX_JUDGING_S),
        _ended(run.end),
    ]


def _tenths(samples: Sequence[WatchSample]) -> tuple[Sequence[WatchSample], Sequence[WatchSample]]:
    """Give the second tenth of a run, after the warming up, and its last."""
    width = max(1, len(samples) // _TENTHS)
    return samples[width : 2 * width] or samples[:1], samples[-width:]


def _memory_growth(samples: Sequence[WatchSample]) -> RuleOutcome:
    rule = f"memory grows by at most {MAX_MEMORY_GROWTH_MB:.0f} MB after the first tenth"
    if not samples:
        return RuleOutcome(rule, good=False, numbers="not measured")
    early, late = ([sample.memory_mb for sample in part] for part in _tenths(samples))
    before, after = sum(early) / len(early), sum(late) / len(late)
    return RuleOutcome(rule, after - before <= MAX_MEMORY_GROWTH_MB, f"{before:.0f} to {after:.0f} MB")


def _not_more(
    samples: Sequence[WatchSample], what: str, count: Callable[[WatchSample], int], most: int
) -> RuleOutcome:
    """Compare the least count at the end with the most at the beginning, so that no passing client counts."""
    rule = f"at most {most} more {what} after the first tenth"
    if not samples:
        return RuleOutcome(rule, good=False, numbers="not measured")
    early, late = _tenths(samples)
    before, after = max(map(count, early)), min(map(count, late))
    return RuleOutcome(rule, after - before <= most, f"{before} to {after}")


def _recordings(samples: Sequence[WatchSample], limit_mb: float) -> RuleOutcome:
    """Allow the limit, and what was written within the time in which a recording is not removed, at the fastest pace."""
    written_mb = max((_written_mb(samples, number) for number in range(len(samples))), default=0.0)
    highest, allowed = max((sample.recordings_mb for sample in samples), default=0.0), limit_mb + written_mb
    rule = f"recordings at most {limit_mb:.0f} MB and what {ACTIVE_S:.0f} s write"
    return RuleOutcome(rule, bool(samples) and highest <= allowed, f"{highest:.1f} of {allowed:.1f} MB")


def _written_mb(samples: Sequence[WatchSample], last: int) -> float:
    """Give what was written in the time before a sample; a sample with less bytes than the one before adds nothing."""
    grown, number = 0.0, last
    while number > 0 and samples[last].wall_s - samples[number - 1].wall_s <= ACTIVE_S:
        grown += max(0.0, samples[number].recordings_mb - samples[number - 1].recordings_mb)
        number -= 1
    return grown


def _delay(what: str, delays_s: Sequence[float], most_s: float) -> RuleOutcome:
    p50, p99 = percentile(delays_s, 0.5), percentile(delays_s, 0.99)
    numbers = f"{len(delays_s)} of them, p50 {p50 * 1000:.0f} ms, p99 {p99 * 1000:.0f} ms"
    return RuleOutcome(f"{what}: p99 at most {most_s:g} s", bool(delays_s) and p99 <= most_s, numbers)


def _same(rule: str, counts: tuple[int, int], *, at_most: bool = False) -> RuleOutcome:
    """Compare two counts; with `at_most` the second may be smaller."""
    first, second = counts
    return RuleOutcome(rule, second <= first if at_most else first == second > 0, f"{first}, {second}")


def _nothing_dropped(samples: Sequence[WatchSample]) -> RuleOutcome:
    dropped = samples[-1].dropped if samples else 0
    return RuleOutcome("nothing was dropped", bool(samples) and not dropped, f"{dropped} datagrams")


def _rejudged(run: FlightMeasurements) -> RuleOutcome:
    wrong = [name for name, same in run.rejudged.items() if not same]
    numbers = f"{len(run.rejudged)} judged again" + (f", not the same: {', '.join(wrong)}" if wrong else "")
    return RuleOutcome("recordings judged again give the same", bool(run.rejudged) and not wrong, numbers)


def _ended(end: WatchEnd) -> RuleOutcome:
    good = not end.exit_code and not end.errors and not end.spooled
    errors = end.errors.strip().splitlines()
    what = f"exit code {end.exit_code}, {end.spooled} files in the spool, {len(errors)} lines of errors"
    return RuleOutcome("the watch ended well", good, f"{what} {errors[-1] if errors else ''}".rstrip())
