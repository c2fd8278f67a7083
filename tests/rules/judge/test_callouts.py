"""Callouts: when a text is spoken, and when it is not."""

from __future__ import annotations

from dataclasses import dataclass, field, replace

import pytest

from rules.judge.events import Callout
from rules.judge.judge import Judge
from rules.packs.model import CalloutRule, Level, Pack, QuietPeriod
from tests.rules.judge.scripted_flight import (
    BEACON,
    HEIGHT,
    SPEED,
    PackBuilder,
    ScriptedFlight,
    above,
    called,
    events_of,
    go,
    item,
    on,
    push,
)


@dataclass
class CalloutPackBuilder(PackBuilder):
    """Builds a pack with callouts."""

    callouts: list[CalloutRule] = field(default_factory=list)

    def pack(self) -> Pack:
        """The pack with them."""
        return replace(super().pack(), callouts=tuple(self.callouts))


def flight_of(*callouts: CalloutRule, quiets: list[QuietPeriod] | None = None) -> ScriptedFlight:
    """A flight whose pack has these callouts, two gates and one item."""
    names = ["flow.before.beacon"]
    rules = CalloutPackBuilder([item("beacon", on(BEACON))], [push(names), go(names)], quiets=quiets or [])
    rules.callouts = list(callouts)
    return ScriptedFlight(rules)


def callout_texts(flight: ScriptedFlight) -> list[tuple[float, str]]:
    """Callouts so far, with their times."""
    return [(entry.sim_s, entry.text) for entry in events_of(flight.events, Callout)]


CROSS_CHECK = CalloutRule("cross_check", "80 knots", above(SPEED, 80))


def test_reported_when_it_becomes_true() -> None:
    """A callout is made in the frame in which its condition becomes true, and not again while it is true."""
    flight = flight_of(CROSS_CHECK)
    flight.send_frame(0.0)
    flight.send_frame(1.0, speed=79.0)
    assert events_of(flight.send_frame(2.0, speed=81.0), Callout) == [Callout(2.0, "cross_check", "80 knots")]
    flight.send_frame(9.0, speed=120.0)
    assert len(callout_texts(flight)) == 1


def test_a_callout_is_made_once_per_occasion() -> None:
    """A callout is made each time its condition becomes true."""
    flight = flight_of(CROSS_CHECK)
    for sim_s, speed in enumerate([0.0, 90.0, 0.0, 90.0, 90.0, 0.0, 90.0]):
        flight.send_frame(float(sim_s), speed=speed)
    assert [sim_s for sim_s, _ in callout_texts(flight)] == [1.0, 3.0, 6.0]


def test_once_per_phase() -> None:
    """With `once per phase` a callout is made again only after the phase changed."""
    flight = flight_of(replace(CROSS_CHECK, when=above(HEIGHT, 10), once_per_phase=True))
    for sim_s, height in enumerate([0.0, 90.0, 0.0, 90.0, 0.0]):
        flight.send_frame(float(sim_s), height=height)
    assert [sim_s for sim_s, _ in callout_texts(flight)] == [1.0]
    flight.send_frame(10.0, speed=5.0)
    assert flight.phases[-1] == "pushing"
    flight.send_frame(11.0, height=90.0)
    assert [sim_s for sim_s, _ in callout_texts(flight)] == [1.0, 11.0]


def test_only_in_its_phases() -> None:
    """In another phase no callout is made; the phase entered in the same frame counts."""
    flight = flight_of(replace(CROSS_CHECK, when=above(SPEED, 30), phases=("rolling",)))
    other = flight_of(replace(CROSS_CHECK, when=above(SPEED, 30), phases=("pushing",)))
    for one in (flight, other):
        one.send_frame(0.0)
        one.send_frame(1.0, ["cleared"], speed=40.0)
    assert flight.phases[-1] == "rolling"
    assert callout_texts(flight) == [(1.0, "80 knots")]
    assert callout_texts(other) == []


def test_a_condition_true_from_the_start_gives_no_callout() -> None:
    """A condition that is true at the first frame, or after a reset, gives no callout until it has been false."""
    flight = flight_of(CROSS_CHECK)
    flight.send_frame(100.0, speed=90.0)
    flight.send_frame(101.0, speed=91.0)
    flight.reset_clock(50.0, speed=90.0)
    assert callout_texts(flight) == []
    flight.send_frame(51.0, speed=10.0)
    flight.send_frame(52.0, speed=90.0)
    assert callout_texts(flight) == [(52.0, "80 knots")]


def test_what_was_false_before_a_reset_gives_no_callout_after_it() -> None:
    """A condition that was false before a reset and is true in the first frame after it gives none: it was not seen to change."""
    flight = flight_of(CROSS_CHECK)
    flight.send_frame(100.0, speed=10.0)
    flight.reset_clock(50.0, speed=90.0)
    flight.send_frame(51.0, speed=91.0)
    assert callout_texts(flight) == []


def test_a_gap_gives_no_second_callout() -> None:
    """A signal that is lost and comes back unchanged gives no callout."""
    flight = flight_of(CROSS_CHECK)
    flight.send_frame(0.0)
    flight.send_frame(1.0, speed=90.0)
    flight.send_after_silence(20.0, 20.0)
    flight.send_frame(21.0)
    assert callout_texts(flight) == [(1.0, "80 knots")]


def test_a_quiet_period_lets_it_pass() -> None:
    """The quiet period of the roll holds cautions back, not callouts; the judge gives the levels."""
    flight = flight_of(
        CROSS_CHECK, quiets=[QuietPeriod("roll", above(SPEED, 50), (Level.ADVISORY, Level.CAUTION))]
    )
    flight.send_frame(0.0)
    assert flight.judge.snapshot().quiet_levels == ()
    flight.send_frame(1.0, speed=60.0)
    assert set(flight.judge.snapshot().quiet_levels) == {Level.ADVISORY, Level.CAUTION}
    flight.send_frame(2.0, speed=90.0)
    assert callout_texts(flight) == [(2.0, "80 knots")]


@pytest.mark.parametrize(
    ("place", "text"), [("{speed}", "90 kt"), ("{beacon}", "off"), ("{probe} {speed}", "off 90 kt")]
)
def test_placeholders_of_a_callout_show_values(place: str, text: str) -> None:
    """A `{signal}` is replaced by its value at that moment."""
    flight = flight_of(replace(CROSS_CHECK, text=place))
    flight.send_frame(0.0)
    flight.send_frame(1.0, speed=90.0)
    assert callout_texts(flight) == [(1.0, text)]


def test_a_call_can_trigger_a_callout() -> None:
    """A callout that waits for a call is made when that is entered; in the order of the pack."""
    first = CalloutRule("first", "First", called("stop"))
    second = CalloutRule("second", "Second", called("stop"))
    flight = flight_of(first, second)
    flight.send_frame(0.0)
    assert [entry.text for entry in events_of(flight.call("stop"), Callout)] == ["First", "Second"]


def test_the_same_flight_gives_the_same_callouts() -> None:
    """Two runs of one flight give the same callouts; a judge without any gives none."""
    runs = []
    for _ in range(2):
        flight = flight_of(CROSS_CHECK)
        for sim_s, speed in enumerate([0.0, 90.0, 0.0, 90.0]):
            flight.send_frame(float(sim_s), speed=speed)
        runs.append(flight.events)
    assert runs[0] == runs[1]
    assert isinstance(flight_of().judge, Judge)
