"""Flight times: out, off, on and in, as in a journey log, for each flight of a session.

A moment is recorded when its condition becomes true in one of its phases after it was known to be false.  A condition
that is true when the monitors start was not seen to become true, so it is not recorded; nor is the time out of a flight
that was joined after it may have been out.  A second touchdown or a second
stop at a stand replaces the first; going out again begins a new flight.

Takes: the ids of conditions whose truth changed.  Gives: a `FlightTimeRecorded` event for each moment, the last with
block and flight time.
"""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass

from msgspec.structs import replace

from rules.arithmetic.times import duration_of_day_s
from rules.judge.condition_ids import flight_time_id
from rules.judge.context import JudgeContext
from rules.judge.events import FlightTimeRecorded
from rules.packs.model import FlightTimeRule, OooiMoment

UTC_SIGNAL = "clock.utc"
"""The aeroplane's own clock, in seconds of the day; where it is not sent, spans are by the simulator's."""

_ALLOWED_PREVIOUS: dict[OooiMoment, tuple[OooiMoment | None, ...]] = {
    OooiMoment.OUT: (None, OooiMoment.OFF, OooiMoment.ON, OooiMoment.IN),
    OooiMoment.OFF: (None, OooiMoment.OUT, OooiMoment.ON, OooiMoment.IN),
    OooiMoment.ON: (None, OooiMoment.OFF),
    OooiMoment.IN: (OooiMoment.OUT, OooiMoment.ON, OooiMoment.IN),
}
"""Where the flight must stand for a moment to be one; None: nothing was seen of it yet."""


@dataclass(slots=True)
class _MomentState:
    """Condition of one moment: its truth within its phases and anywhere, and since when it is true.

    None means not known yet; `rise_pending` is true if it was seen to become true and is not recorded yet.
    """

    rule: FlightTimeRule
    true_in_phase: bool | None = None
    truth: bool | None = None
    rise_pending: bool = False
    since_s: float = 0.0
    since_utc_s: float | None = None


class FlightTimeTracker:
    """Flight times of each flight of a session."""

    def __init__(self, context: JudgeContext) -> None:
        self._context = context
        self._rules = self._new_states()
        self._last_moment: OooiMoment | None = None
        self._sector = 0
        self._recorded: dict[OooiMoment, FlightTimeRecorded] = {}

    def _new_states(self) -> dict[str, _MomentState]:
        """Fresh states of all rules."""
        return {flight_time_id(rule.moment): _MomentState(rule) for rule in self._context.pack.flight_times}

    def step(self, changed: Collection[str], *, full: bool = False) -> None:
        """Record the moments that are due.

        Args:
            changed: Ids of the conditions whose truth changed.
            full: True if the monitors start with this step, so that no change was seen.
        """
        if full:
            self._rules, self._last_moment, self._recorded = self._new_states(), None, {}
        for name, state in self._rules.items():
            if name in changed:
                self._update_truth(name, state)
            self._check_rise(state)

    def _update_truth(self, name: str, state: _MomentState) -> None:
        """Process the new truth of a condition; an unknown truth changes nothing."""
        truth = self._context.monitors.truth(name)
        if truth and not state.truth:
            state.rise_pending = state.truth is False
            state.since_s = self._context.sim_s
            state.since_utc_s = self._utc_s()
        if truth is not None:
            state.truth = truth

    def _may_be_later(self, rule: FlightTimeRule) -> bool:
        """True if the flight was joined so late that it may have been out before: moving then is no block-out."""
        context = self._context
        if rule.moment is not OooiMoment.OUT or self._last_moment is not None or not context.unseen_phase:
            return False
        order = [phase.id for phase in context.pack.phases]
        return order.index(context.unseen_phase) > min(map(order.index, rule.phases), default=0)

    def _check_rise(self, state: _MomentState) -> None:
        """Record a moment whose condition was false and is true."""
        phases = state.rule.phases
        now_true = state.truth if not phases or self._context.phase in phases else False
        rose = bool(now_true) and state.true_in_phase is False and state.rise_pending
        state.true_in_phase = state.true_in_phase if now_true is None else now_true
        if self._may_be_later(state.rule):
            return
        if rose and self._last_moment in _ALLOWED_PREVIOUS[state.rule.moment]:
            state.rise_pending = False
            self._record(state)

    def _record(self, state: _MomentState) -> None:
        """Record a moment; a take-off after a touchdown keeps the first time off."""
        moment = state.rule.moment
        touch_and_go = moment is OooiMoment.OFF and self._last_moment is OooiMoment.ON
        next_flight = moment is OooiMoment.OFF and self._last_moment is OooiMoment.IN
        begins = moment is OooiMoment.OUT or self._last_moment is None or next_flight
        self._last_moment = moment
        if touch_and_go:
            return
        if begins:
            self._sector, self._recorded = self._sector + 1, {}
        now_s, at_s, utc_s = self._context.sim_s, state.since_s, state.since_utc_s
        recorded = self._recorded[moment] = FlightTimeRecorded(now_s, moment, self._sector, at_s, utc_s)
        self._context.emit(self._with_durations(recorded) if moment is OooiMoment.IN else recorded)

    def _with_durations(self, recorded: FlightTimeRecorded) -> FlightTimeRecorded:
        """Add the known durations to the last moment of a flight."""
        block_s, flight_s = (
            self._span_s(OooiMoment.OUT, OooiMoment.IN),
            self._span_s(OooiMoment.OFF, OooiMoment.ON),
        )
        return replace(recorded, block_s=block_s, flight_s=flight_s)

    def _span_s(self, begin: OooiMoment, end: OooiMoment) -> float | None:
        """Duration between two moments of this flight; by the aeroplane's clock if it is known for both."""
        first, last = self._recorded.get(begin), self._recorded.get(end)
        if first is None or last is None:
            return None
        if first.utc_s is not None and last.utc_s is not None:
            return duration_of_day_s(first.utc_s, last.utc_s)
        return last.at_s - first.at_s

    def _utc_s(self) -> float | None:
        """Time of the aeroplane's clock, in seconds of the day; None without one."""
        value = self._context.state.values.get(UTC_SIGNAL)
        return value if isinstance(value, float) else None
