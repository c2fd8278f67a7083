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

from rules.arithmetic.times import span_of_day_s
from rules.judge.entries import TimeNoted
from rules.judge.session import Session, time_id
from rules.packs.model import Moment, TimeRule

CLOCK = "clock.utc"
"""The aeroplane's own clock, in seconds of the day; where it is not sent, spans are by the simulator's."""

_COMES_AFTER: dict[Moment, tuple[Moment | None, ...]] = {
    Moment.OUT: (None, Moment.OFF, Moment.ON, Moment.IN),
    Moment.OFF: (None, Moment.OUT, Moment.ON, Moment.IN),
    Moment.ON: (None, Moment.OFF),
    Moment.IN: (Moment.OUT, Moment.ON, Moment.IN),
}
"""Where the flight must stand for a moment to be one; None: nothing was seen of it yet."""


@dataclass(slots=True)
class _Watched:
    """One moment's condition: whether it was so in its phases, and since when it is so anywhere.

    None is not known yet; `seen` is whether it was seen becoming so, and not noted since.
    """

    rule: TimeRule
    so: bool | None = None
    true: bool | None = None
    seen: bool = False
    since_s: float = 0.0
    since_utc_s: float | None = None


class Times:
    """The moments of every flight of a session."""

    def __init__(self, session: Session) -> None:
        """Nothing was seen yet."""
        self._session = session
        self._rules = self._fresh()
        self._last: Moment | None = None
        self._sector = 0
        self._noted: dict[Moment, TimeNoted] = {}

    def _fresh(self) -> dict[str, _Watched]:
        """Every rule, with nothing known of it."""
        return {time_id(rule.moment): _Watched(rule) for rule in self._session.pack.times}

    def look(self, changed: Collection[str], *, everywhere: bool = False) -> None:
        """Note the moments that have come.

        Args:
            changed: The ids of the conditions whose truth changed.
            everywhere: Whether the monitors begin with this step, so that nothing was seen happening.
        """
        if everywhere:
            self._rules, self._last, self._noted = self._fresh(), None, {}
        for name, watched in self._rules.items():
            if name in changed:
                self._turn(name, watched)
            self._rise(watched)

    def _turn(self, name: str, watched: _Watched) -> None:
        """Take in a condition's new truth; what becomes unknown stays as it was."""
        truth = self._session.monitors.truth(name)
        if truth and not watched.true:
            watched.seen = watched.true is False
            watched.since_s = self._session.sim_s
            watched.since_utc_s = self._utc_s()
        if truth is not None:
            watched.true = truth

    def _rise(self, watched: _Watched) -> None:
        """Note a moment that was not so and now is."""
        phases = watched.rule.phases
        so = watched.true if not phases or self._session.phase in phases else False
        came = bool(so) and watched.so is False and watched.seen
        watched.so = watched.so if so is None else so
        if came and self._last in _COMES_AFTER[watched.rule.moment]:
            watched.seen = False
            self._note(watched)

    def _note(self, watched: _Watched) -> None:
        """Say a moment; a landing that is followed by another take-off keeps the first time off."""
        moment = watched.rule.moment
        touched_only = moment is Moment.OFF and self._last is Moment.ON
        again = moment is Moment.OFF and self._last is Moment.IN
        begins = moment is Moment.OUT or self._last is None or again
        self._last = moment
        if touched_only:
            return
        if begins:
            self._sector, self._noted = self._sector + 1, {}
        now_s, at_s, utc_s = self._session.sim_s, watched.since_s, watched.since_utc_s
        noted = self._noted[moment] = TimeNoted(now_s, moment, self._sector, at_s, utc_s)
        self._session.say(self._closed(noted) if moment is Moment.IN else noted)

    def _closed(self, noted: TimeNoted) -> TimeNoted:
        """The last moment of a flight, with the spans that are known."""
        block_s, flight_s = self._span_s(Moment.OUT, Moment.IN), self._span_s(Moment.OFF, Moment.ON)
        return replace(noted, block_s=block_s, flight_s=flight_s)

    def _span_s(self, begin: Moment, end: Moment) -> float | None:
        """From one moment of this flight to another; by the aeroplane's clock where that is known of both."""
        first, last = self._noted.get(begin), self._noted.get(end)
        if first is None or last is None:
            return None
        if first.utc_s is not None and last.utc_s is not None:
            return span_of_day_s(first.utc_s, last.utc_s)
        return last.at_s - first.at_s

    def _utc_s(self) -> float | None:
        """What the aeroplane's clock says."""
        value = self._session.state.values.get(CLOCK)
        return value if isinstance(value, float) else None
