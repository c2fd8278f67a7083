"""Tests of tests.endurance.verdict: a good run is good, and each kind of fault makes the verdict bad by its own rule."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import pytest

from tests.endurance.link_panel import parse_link_panel
from tests.endurance.measurements import FlightMeasurements, FloodMeasurements, WatchSample, percentile
from tests.endurance.verdict import RuleOutcome, judge_flights, judge_flood

SAMPLES = [
    WatchSample(
        10.0 * n, 500.0 * n, 140.0, 30 + n % 3, 5, 20, 55.0, 45.0 + n % 5, 2_000 * n, 0.01, 0, n, 4.0 * n
    )
    for n in range(60)
]


def good_flights() -> FlightMeasurements:
    """Make up a good run."""
    return FlightMeasurements(
        samples=list(SAMPLES), answers_s=[0.01] * 60, delays_s=[0.2] * 500, datagrams=(900, 900), lost=(40, 50),
        findings=(12, 12), notices=(30, 30), lines=30, rejudged={"a": True}, recordings_limit_mb=50.0, flights=20,
    )  # fmt: skip


def good_flood() -> FloodMeasurements:
    """Make up a good run."""
    return FloodMeasurements(
        samples=list(SAMPLES), answers_s=[0.01] * 60, delays_s=[0.2] * 20, hostile=1000, took_s=1.0, good=(1000, 995),
        refusals={"another sender on this port": 1000},
    )  # fmt: skip


def changed_samples(run: FlightMeasurements | FloodMeasurements, **changes: Callable[[int], float]) -> None:
    """Change fields of each sample by its number."""
    run.samples = [
        replace(sample, **{name: value(number) for name, value in changes.items()})  # type: ignore[arg-type]
        for number, sample in enumerate(run.samples)
    ]


def bad_rules(outcomes: list[RuleOutcome]) -> str:
    """Give the rules that are not met, in one text."""
    return "; ".join(outcome.rule for outcome in outcomes if not outcome.good)


def test_good_runs_are_good() -> None:
    """Nothing is wrong with a run whose numbers stay within the limits."""
    assert bad_rules(judge_flights(good_flights())) == ""
    assert bad_rules(judge_flood(good_flood())) == ""


def leak(run: FlightMeasurements) -> None:
    """Two megabytes more with each sample."""
    changed_samples(run, memory_mb=lambda n: 130.0 + 2.0 * n)


def open_files(run: FlightMeasurements) -> None:
    """A file that stays open with every third sample."""
    changed_samples(run, open_files=lambda n: 30 + n // 3)


def threads(run: FlightMeasurements) -> None:
    """A thread that does not end with every fifth sample."""
    changed_samples(run, threads=lambda n: 5 + n // 5)


def file_growth(run: FlightMeasurements) -> None:
    """Recordings that are never removed."""
    changed_samples(run, recordings_mb=lambda n: 5.0 * n)


def slow_answers(run: FlightMeasurements) -> None:
    """Two answers of a hundred that take seconds."""
    run.answers_s = [0.01] * 98 + [3.0] * 2


def slow_judging(run: FlightMeasurements) -> None:
    """Lines that come late."""
    run.delays_s = [0.1] * 90 + [2.5] * 10


def never_printed(run: FlightMeasurements) -> None:
    """No line for any state."""
    run.delays_s = []


def loss(run: FlightMeasurements) -> None:
    """A datagram that was sent and not counted."""
    run.datagrams = (900, 899)


def records_lost(run: FlightMeasurements) -> None:
    """More records lost than the network took away."""
    run.lost = (51, 50)


def dropped(run: FlightMeasurements) -> None:
    """A datagram that the watch counts as dropped."""
    changed_samples(run, dropped=lambda n: n // 59)


def finding_not_stored(run: FlightMeasurements) -> None:
    """A finding that was printed and is not in the store."""
    run.findings = (12, 11)


def notice_not_delivered(run: FlightMeasurements) -> None:
    """A notice that did not arrive at the output."""
    run.lines = 29


def other_judgement(run: FlightMeasurements) -> None:
    """A recording that gives something else when it is judged again."""
    run.rejudged = {"a": True, "b": False}


def no_recording(run: FlightMeasurements) -> None:
    """No recording that could be judged again."""
    run.rejudged = {}


def errors(run: FlightMeasurements) -> None:
    """A traceback at the end."""
    run.end.errors = "Traceback (most recent call last):"


def exit_code(run: FlightMeasurements) -> None:
    """Records that neither the disk nor the store has."""
    run.end.exit_code = 3


def spool(run: FlightMeasurements) -> None:
    """Records that still wait at the end."""
    run.end.spooled = 1


def not_measured(run: FlightMeasurements) -> None:
    """No sample at all."""
    run.samples = []


@pytest.mark.parametrize(
    ("spoil", "rule"),
    [
        (leak, "memory grows"), (open_files, "open files"), (threads, "threads"), (file_growth, "recordings at most"),
        (slow_answers, "control port"), (slow_judging, "judged and printed"), (never_printed, "judged and printed"),
        (loss, "every datagram arrived"), (records_lost, "records lost"), (dropped, "nothing was dropped"),
        (finding_not_stored, "findings: printed"), (notice_not_delivered, "arrived at the output"),
        (other_judgement, "judged again"), (no_recording, "judged again"), (errors, "ended well"),
        (exit_code, "ended well"), (spool, "ended well"), (not_measured, "nothing was dropped"),
    ],
)  # fmt: skip
def test_each_fault_of_a_run_of_flights_has_its_rule(
    spoil: Callable[[FlightMeasurements], None], rule: str
) -> None:
    """A fault makes its own rule bad, and no other unless nothing at all was measured."""
    run = good_flights()
    spoil(run)
    bad = bad_rules(judge_flights(run))
    assert rule in bad
    assert ";" not in bad or spoil is not_measured or spoil is file_growth


def test_each_fault_of_a_flood_has_its_rule() -> None:
    """Loss, a reset, wrong words, memory, delay and an end with an error each make their rule bad."""
    faults: list[tuple[dict[str, object], str]] = [
        ({"good": (1000, 980)}, "of the good frames"),
        ({"good": (0, 0)}, "of the good frames"),
        ({"resets": 1}, "not reset"),
        ({"refusals": {}}, "were refused"),
        ({"false_words": 1}, "never said"),
        ({"samples": [replace(SAMPLES[0], memory_mb=401.0)]}, "memory at most"),
        ({"answers_s": [2.0]}, "control port"),
        ({"delays_s": [3.0]}, "judged and printed"),
    ]
    for fields, rule in faults:
        bad = bad_rules(judge_flood(replace(good_flood(), **fields)))  # type: ignore[arg-type]
        assert rule in bad
        assert ";" not in bad


def test_what_is_removed_late_is_allowed_for_a_minute_only() -> None:
    """Recordings may exceed the limit by what was written within the time in which none is removed."""
    run = good_flights()
    changed_samples(run, recordings_mb=lambda n: 45.0 + n % 10)
    assert bad_rules(judge_flights(run)) == ""
    changed_samples(run, recordings_mb=lambda n: 64.0 + n % 2)
    assert "recordings at most" in bad_rules(judge_flights(run))


@pytest.mark.parametrize(("share", "value"), [(0.5, 2.0), (0.99, 4.0), (0.01, 1.0)])
def test_a_percentile_is_one_of_the_values(share: float, value: float) -> None:
    """The nearest rank; no value of an empty list."""
    assert percentile([4.0, 1.0, 3.0, 2.0], share) == value
    assert percentile([], share) == 0.0


def test_the_panel_of_a_link_is_read() -> None:
    """State, remedy, counters and refusals come from the text that the page sends."""
    text = (
        '<section class="linked" data-state="receiving"><p class="remedy">Data isn&#39;t used.</p></section>'
        '<div class="problem"><dt>Refused</dt> <dd>12</dd> <dd class="meaning">could not be read</dd></div>'
        "<p><strong>name too long</strong>, 11 times: x</p><p><strong>no &lt;map&gt;</strong>, 1 time</p>"
    )
    counters = parse_link_panel(text)
    assert (counters.state, counters.remedy, counters.count("Refused")) == (
        "receiving",
        "Data isn't used.",
        12,
    )
    assert counters.refusals == {"name too long": 11, "no <map>": 1}
    assert counters.count("Frames") == 0
