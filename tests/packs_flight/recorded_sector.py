"""A recorded correct flight of the mock aeroplane, judged again with changes.

The test of a gate starts some time before the gate, changes the recording by an error, and checks the findings and
their times.

Takes: the mock's scenario of a whole sector.  Gives: `CleanSector` (the recording and its judgement), and parts of it
judged again.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable, Mapping
from dataclasses import dataclass, field
from typing import NamedTuple, TypeAlias

from rules.judge.events import Finding, GateCued, GateEntered, JudgeEvent, Notice, PhaseEntered
from rules.judge.judge import Judge
from rules.packs.model import Pack
from rules.packs.trip_sheet import TripSheet
from rules.signals.model import Frame, Quality, Sample, Value
from tests.recorded_flights import recorded_flight, states
from tests.shipped import shipped

State: TypeAlias = Mapping[str, Value]
Change: TypeAlias = Mapping[str, Value] | Callable[[float, State], Mapping[str, Value]]


class Moment(NamedTuple):
    """One second of the recording."""

    sim_s: float
    state: State
    calls: tuple[str, ...]


@dataclass
class JudgedFlight:
    """A judge and its events."""

    judge: Judge
    entries: list[JudgeEvent] = field(default_factory=list)
    _sent: dict[str, Value] = field(default_factory=dict)

    def send(self, sim_s: float, state: State, calls: Collection[str] = ()) -> None:
        """Send one frame with every signal; `changes` are those that differ from the frame before."""
        changes = [
            Sample(n, v, Quality.FRESH, sim_s)
            for n, v in state.items()
            if n not in self._sent or self._sent[n] != v
        ]
        self._sent = dict(state)
        frame = Frame("test", sim_s, sim_s, 0, tuple(state), changes, tuple(calls))
        self.entries += self.judge.judge_frame(frame)

    def play(
        self, moments: Iterable[Moment], change: Change | None = None, *, calls_left_out: Collection[str] = ()
    ) -> JudgedFlight:
        """Send these moments with changes, without the calls that are left out."""
        for moment in moments:
            state = dict(moment.state)
            if change is not None:
                state |= change(moment.sim_s, moment.state) if callable(change) else change
            self.send(moment.sim_s, state, [call for call in moment.calls if call not in calls_left_out])
        return self

    @property
    def found(self) -> dict[str, str]:
        """Kind of each finding, by its item."""
        return {f.item: str(f.kind) for f in self.judge.findings}

    @property
    def phases(self) -> list[str]:
        """The phases entered so far, in order."""
        return [e.phase for e in self.entries if isinstance(e, PhaseEntered)]

    @property
    def notice_sentences(self) -> list[str]:
        """Sentences of the notices."""
        return [e.sentence for e in self.entries if isinstance(e, Notice)]

    def finding(self, item: str) -> Finding:
        """The first finding on an item."""
        return next(f for f in self.judge.findings if f.item == item)

    def entered_s(self, gate: str) -> float:
        """Time at which a gate was last entered."""
        return max(e.sim_s for e in self.entries if isinstance(e, GateEntered) and e.gate == gate)

    def phase_s(self, phase: str) -> float:
        """Time at which a phase was last entered."""
        return max(e.sim_s for e in self.entries if isinstance(e, PhaseEntered) and e.phase == phase)

    def cued_s(self, gate: str) -> float:
        """Time at which a gate was last cued."""
        return max(e.sim_s for e in self.entries if isinstance(e, GateCued) and e.gate == gate)


@dataclass
class CleanSector:
    """The recording of a correct flight, and its judgement."""

    pack: Pack
    trip: TripSheet
    moments: list[Moment]
    judged: JudgedFlight

    def between(self, first_s: float, last_s: float) -> list[Moment]:
        """Moments of a part of the recording."""
        return [m for m in self.moments if first_s <= m.sim_s <= last_s]

    def state_at(self, sim_s: float) -> State:
        """Every signal at a time of the recording."""
        return next(m.state for m in self.moments if m.sim_s >= sim_s)

    def judge(self) -> Judge:
        """A judge before its first frame."""
        return Judge(self.pack, self.trip)

    def joined(
        self,
        first_s: float,
        last_s: float,
        change: Change | None = None,
        *,
        calls_left_out: Collection[str] = (),
    ) -> JudgedFlight:
        """Judge a part of the recording; earlier calls count as entered, and those left out as never made."""
        judged, earlier = JudgedFlight(self.judge()), self.between(0, first_s - 0.01)
        if calls_left_out:
            # That a call was not made is known only of a flight that is watched from its beginning.
            return judged.play(earlier, calls_left_out=calls_left_out).play(
                self.between(first_s, last_s), change, calls_left_out=calls_left_out
            )
        for moment in earlier:
            for call in moment.calls:
                judged.judge.enter_call(call)
        return judged.play(self.between(first_s, last_s), change, calls_left_out=calls_left_out)


def shifted(moments: Iterable[Moment], by_s: float) -> list[Moment]:
    """The same moments at another time."""
    return [m._replace(sim_s=m.sim_s + by_s) for m in moments]


def record_sector() -> list[Moment]:
    """Fly the mock's whole sector, and record every second of it."""
    flown = recorded_flight("sector", seed=5, rate_hz=1.0)
    return [Moment(m.sim_s, state, m.calls) for m, state in zip(flown, states(flown), strict=True)]


def fly_clean() -> CleanSector:
    """The recording of a correct flight, judged by the pack."""
    pack, trip = shipped("twin_jet")
    moments = record_sector()
    judged = JudgedFlight(Judge(pack, trip)).play(moments)
    return CleanSector(pack, trip, moments, judged)
