"""Times of a flight: out, off, on and in, as a journey log has them, flight after flight.

A moment is noted when its condition becomes so in one of its phases, after it was known not to be so.  What was so when
the monitors began was not seen happening, and is not noted.  A second touchdown replaces the first, and a second stop at
a stand; going out again begins a new flight.

Takes: the ids whose truth changed.  Gives: a `TimeNoted` entry for each moment, the last with block and flight time.
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
    """One moment's condition: whether it was so in its phases, and since when it is so anywhere.

    None is not known yet; `seen` is whether it was seen becoming so, and not noted since.
    """

    rule: FlightTimeRule
    so_in_phase: bool | None = None
    truth: bool | None = None
    rise_pending: bool = False
    since_s: float = 0.0
    since_utc_s: float | None = None


class FlightTimeTracker:
    """The moments of every flight of a session."""

    def __init__(self, context: JudgeContext) -> None:
        """Nothing was seen yet."""
        self._context = context
        self._rules = self._new_states()
        self._last_moment: OooiMoment | None = None
        self._sector = 0
        self._recorded: dict[OooiMoment, FlightTimeRecorded] = {}

    def _new_states(self) -> dict[str, _MomentState]:
        """Every rule, with nothing known of it."""
        return {flight_time_id(rule.moment): _MomentState(rule) for rule in self._context.pack.flight_times}

    def step(self, changed: Collection[str], *, full: bool = False) -> None:
        """Note the moments that have come.

        Args:
            changed: The ids of the conditions whose truth changed.
            full: Whether the monitors begin with this step, so that nothing was seen happening.
        """
        if full:
            self._rules, self._last_moment, self._recorded = self._new_states(), None, {}
        for name, watched in self._rules.items():
            if name in changed:
                self._update_truth(name, watched)
            self._check_rise(watched)

    def _update_truth(self, name: str, state: _MomentState) -> None:
        """Take in a condition's new truth; what becomes unknown stays as it was."""
        truth = self._context.monitors.truth(name)
        if truth and not state.truth:
            state.rise_pending = state.truth is False
            state.since_s = self._context.sim_s
            state.since_utc_s = self._utc_s()
        if truth is not None:
            state.truth = truth

    def _check_rise(self, state: _MomentState) -> None:
        """Note a moment that was not so and now is."""
        phases = state.rule.phases
        so = state.truth if not phases or self._context.phase in phases else False
        came = bool(so) and state.so_in_phase is False and state.rise_pending
        state.so_in_phase = state.so_in_phase if so is None else so
        if came and self._last_moment in _ALLOWED_PREVIOUS[state.rule.moment]:
            state.rise_pending = False
            self._record(state)

    def _record(self, state: _MomentState) -> None:
        """Say a moment; a landing that is followed by another take-off keeps the first time off."""
        moment = state.rule.moment
        touched_only = moment is OooiMoment.OFF and self._last_moment is OooiMoment.ON
        again = moment is OooiMoment.OFF and self._last_moment is OooiMoment.IN
        begins = moment is OooiMoment.OUT or self._last_moment is None or again
        self._last_moment = moment
        if touched_only:
            return
        if begins:
            self._sector, self._recorded = self._sector + 1, {}
        now_s, at_s, utc_s = self._context.sim_s, state.since_s, state.since_utc_s
        noted = self._recorded[moment] = FlightTimeRecorded(now_s, moment, self._sector, at_s, utc_s)
        self._context.emit(self._with_durations(noted) if moment is OooiMoment.IN else noted)

    def _with_durations(self, recorded: FlightTimeRecorded) -> FlightTimeRecorded:
        """The last moment of a flight, with the spans that are known."""
        block_s, flight_s = (
            self._span_s(OooiMoment.OUT, OooiMoment.IN),
            self._span_s(OooiMoment.OFF, OooiMoment.ON),
        )
        return replace(recorded, block_s=block_s, flight_s=flight_s)

    def _span_s(self, begin: OooiMoment, end: OooiMoment) -> float | None:
        """From one moment of this flight to another; by the aeroplane's clock where that is known of both."""
        first, last = self._recorded.get(begin), self._recorded.get(end)
        if first is None or last is None:
            return None
        if first.utc_s is not None and last.utc_s is not None:
            return duration_of_day_s(first.utc_s, last.utc_s)
        return last.at_s - first.at_s

    def _utc_s(self) -> float | None:
        """What the aeroplane's clock says."""
        value = self._context.state.values.get(UTC_SIGNAL)
        return value if isinstance(value, float) else None
