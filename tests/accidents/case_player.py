"""Player of a recording for the judge, with the overlays of a case.

Takes: a recording, and from some step on a case.  Gives: events.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from typing import NamedTuple

from rules.judge.events import CallEntered, GateCued, GateEntered, JudgeEvent
from rules.judge.judge import Judge
from rules.signals.model import Frame, Quality, Sample, Value
from tests.accidents.accident_case import PLACE, Case, Moment, Overlay
from tests.accidents.clean_flight import CleanRecording
from tests.accidents.day_values import DayValues
from tests.recorded_flights import RecordedMoment

Marks = Mapping[str, float]
"""First time of each event of the clean flight: `cue X`, `entry X`, `call X`."""


def record_marks(marks: dict[str, float], entries: Iterable[JudgeEvent]) -> None:
    """Record the first time of each cue, entry and call."""
    for entry in entries:
        match entry:
            case GateCued(sim_s=at_s, gate=gate):
                marks.setdefault(f"cue {gate}", at_s)
            case GateEntered(sim_s=at_s, gate=gate):
                marks.setdefault(f"entry {gate}", at_s)
            case CallEntered(sim_s=at_s, call=call):
                marks.setdefault(f"call {call}", at_s)


def record_crossings(marks: dict[str, float], recording: CleanRecording, moments: Iterable[Moment]) -> None:
    """Record when signals fall below values, each for the first time after its highest value.

    Raises:
        ValueError: A signal does not fall below its value.
    """
    for moment in moments:
        if moment.crossing is None or moment.event in marks:
            continue
        name, value = moment.crossing
        course = [(step.sim_s, float(step.changes[name])) for step in recording.steps if name in step.changes]
        top = max(range(len(course)), key=lambda place: course[place][1])
        marks[moment.event] = next((at for at, number in course[top:] if number < value), -1.0)
        if marks[moment.event] < 0.0:
            raise ValueError(f"in the clean flight {name} does not fall below {value:g}")


def at_s(moment: Moment, marks: Marks) -> float:
    """Time of a moment of the clean flight, in seconds."""
    return marks[moment.event] + moment.after_s


class CasePlayer:
    """Plays one flight into one judge; a case can start at any step."""

    def __init__(self, recording: CleanRecording) -> None:
        self.recording = recording
        self.judge = Judge(recording.pack, recording.trip)
        self.place = 0
        self._day = DayValues(recording.pack, recording.trip.values)
        self._clean_state: dict[str, Value] = {}
        self._sent: dict[str, Value] = {}
        self._unsent: set[str] = set()
        """Names whose last value was perhaps not sent as it is in the clean flight."""

    def clean(self) -> list[JudgeEvent]:
        """Play the next step unchanged."""
        step = self.recording.steps[self.place]
        return self._step(step, 0.0, (), step.calls)

    @property
    def next_s(self) -> float:
        """Time of the next step in the clean flight."""
        return self.recording.steps[self.place].sim_s

    @property
    def over(self) -> bool:
        """True after the last step."""
        return self.place >= len(self.recording.steps)

    def case(self, case: Case, marks: Marks) -> Iterator[list[JudgeEvent]]:
        """Play the rest of the flight with the case."""
        layers = [_ActiveOverlay(layer, marks, self._day) for layer in case.layers]
        trip_changes = sorted(
            ((at_s(p.at, marks), p.values) for p in case.trip_changes), key=lambda change: change[0]
        )
        added = [(at_s(one.at, marks), one.call) for one in case.added_calls]
        jump_back, later_s = case.jump_back, 0.0
        while not self.over:
            if jump_back is not None and self.next_s >= at_s(jump_back.at, marks):
                later_s, jump_back = self._go_back(at_s(jump_back.back_to, marks)), None
            step = self.recording.steps[self.place]
            now_s = step.sim_s + later_s
            while trip_changes and trip_changes[0][0] <= now_s:
                yield self.judge.update_trip(self._day.change_trip(trip_changes.pop(0)[1], self._clean_state))
            laid = [layer for layer in layers if layer.is_active(now_s)]
            calls = [call for call in step.calls if call not in case.missing_calls]
            calls += [call for at, call in added if at <= now_s]
            added = [(at, call) for at, call in added if at > now_s]
            yield self._step(step, later_s, laid, calls)

    def _go_back(self, to_s: float) -> float:
        """Go to an earlier step and send its whole state; give the offset of the clock from now on."""
        here = self.next_s
        self._clean_state.clear()
        self._unsent.update(self.recording.signals)
        for place, step in enumerate(self.recording.steps):
            if step.sim_s > to_s:
                self.place = place
                return here - step.sim_s
            self._clean_state.update(step.changes)
        raise ValueError(f"nothing comes after {to_s} s")

    def _step(
        self,
        step: RecordedMoment,
        later_s: float,
        layers: Sequence[_ActiveOverlay],
        calls: Sequence[str],
    ) -> list[JudgeEvent]:
        """Play one step."""
        self.place += 1
        self._clean_state.update(step.changes)
        sim_s = step.sim_s + later_s
        shown, mute, changed = self._clean_state, set[str](), set[str]()
        if layers:
            shown = dict(shown)
        for layer in layers:
            layer.apply(shown, now_s=sim_s)
            mute |= set(layer.layer.mute)
            changed |= layer.layer.names
        # Only these can differ from what was sent last, which is much less than the whole state.
        names = dict.fromkeys((*step.changes, *sorted(changed | self._unsent)))
        changes = [
            Sample(name, shown[name], Quality.FRESH, sim_s)
            for name in names
            if name in shown and name not in mute and self._sent.get(name) != shown[name]
        ]
        self._sent.update((sample.name, shown[sample.name]) for sample in changes)
        self._unsent = changed
        carried = (
            [name for name in self.recording.signals if name not in mute] if mute else self.recording.signals
        )
        return self.judge.judge_frame(Frame("mock", sim_s, sim_s, 0, carried, changes, tuple(calls)))


class _ActiveOverlay:
    """Overlay with its times, and its values for the day when it begins."""

    def __init__(self, layer: Overlay, marks: Marks, day: DayValues) -> None:
        """Compute its begin and end."""
        self.layer = layer
        self._begins_s = at_s(layer.begins, marks)
        self._ends_s = at_s(layer.ends, marks) if layer.ends else float("inf")
        self._day = day
        self._held: dict[str, Value] = {}
        self._values: _OverlayValues | None = None

    def is_active(self, now_s: float) -> bool:
        """True if it is active now."""
        return self._begins_s <= now_s < self._ends_s

    def apply(self, shown: dict[str, Value], *, now_s: float) -> None:
        """Change the values of the step."""
        values = self._values = self._values or _values_of_day(self.layer, self._day, shown)
        for name in self.layer.hold:
            shown[name] = self._held.setdefault(name, shown[name])
        for name, more in values.plus.items():
            shown[name] = float(shown[name]) + more
        for name, factor in self.layer.times.items():
            shown[name] = float(shown[name]) * factor
        done = min(1.0, (now_s - self._begins_s) / self.layer.ramp_s)
        for name, target in values.ramp.items():
            began = float(self._held.setdefault(name, shown[name]))
            shown[name] = began + (target - began) * done
        shown.update(values.put)


class _OverlayValues(NamedTuple):
    """What an overlay puts, adds and takes signals to, in numbers and words of the day."""

    put: dict[str, Value]
    plus: dict[str, float]
    ramp: dict[str, float]


def _values_of_day(layer: Overlay, day: DayValues, shown: Mapping[str, Value]) -> _OverlayValues:
    """Resolve the values of an overlay at its begin, where `shown` is the state without it."""

    def numbers(written: Mapping[str, Value]) -> dict[str, float]:
        return {name: day.number(name, value, shown) for name, value in written.items()}

    put = {name: day.value(name, value, shown) for name, value in layer.put.items()}
    plus, ramp = numbers(layer.plus), numbers(layer.ramp)
    ramp |= {name: float(shown[name]) + more for name, more in numbers(layer.ramp_plus).items()}
    if layer.put_place:
        put |= zip(PLACE, day.position_deg(layer.put_place), strict=True)
    if layer.plus_place:
        plus |= zip(PLACE, day.distance_deg(layer.plus_place), strict=True)
    if layer.ramp_place:
        ramp |= zip(PLACE, day.position_deg(layer.ramp_place), strict=True)
    return _OverlayValues(put, plus, ramp)
