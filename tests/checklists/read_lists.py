"""Correct mock flights, stopped just before each checklist is called complete.

Takes: the mock's scenarios and the shipped packs.  Gives: `fly`, which stops at each checklist.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Mapping
from dataclasses import dataclass, field

from bridge.session.checklist_run import DWELL_S, ChecklistRun
from rules.judge.judge import Judge
from rules.judge.snapshot import ChecklistSnapshot
from rules.packs.model import Pack
from rules.signals.model import Frame, Quality, Sample, Value
from tests.recorded_flights import recorded_flight, states
from tests.shipped import shipped

SCENARIOS = {"twin_jet": "sector", "trainer": "circuit"}
RATE_HZ = {"twin_jet": 1.0, "trainer": 2.0}
CALLS = {"run_up": "runup_checklist"}
"""Calls of checklists that are not named `LIST_checklist`."""


@dataclass
class JudgedState:
    """A judge, its clock, and the signals that were sent to it."""

    judge: Judge
    sim_s: float = 0.0
    state: dict[str, Value] = field(default_factory=dict)

    def judge_frame(self, frame: Frame) -> None:
        """Judge a frame."""
        self.judge.judge_frame(frame)

    def send(self, sim_s: float, state: Mapping[str, Value], calls: Collection[str] = ()) -> None:
        """Send one frame with these values of signals; the others stay."""
        changes = [
            Sample(name, value, Quality.FRESH, sim_s)
            for name, value in state.items()
            if self.state.get(name) != value
        ]
        self.state |= state
        self.sim_s = sim_s
        self.judge_frame(Frame("test", sim_s, sim_s, 0, tuple(self.state), changes, tuple(calls)))

    def put(self, state: Mapping[str, Value], for_s: float = 0.0) -> None:
        """Change signals and wait.

        Args:
            state: Values that differ.
            for_s: Time for which they stay, in s.
        """
        self.send(self.sim_s + 0.5, state)
        for _ in range(round(for_s / 0.5)):
            self.send(self.sim_s + 0.5, {})

    def checklist(self, name: str) -> ChecklistSnapshot:
        """Present snapshot of a checklist."""
        return self.judge.snapshot().checklists[name]

    def unmet(self, name: str) -> set[str]:
        """Keys of the lines of a checklist that are not met."""
        return {line.id.split(".")[2] for line in self.checklist(name).lines if not line.satisfied}

    def read_through(self, pack: Pack, name: str) -> ChecklistRun:
        """Read a checklist to its end; lines that are not met are left open."""
        items = self.judge.snapshot().items
        run = ChecklistRun(pack.checklists[name], lambda item: items[item].satisfied, 0.0)
        while run.line is not None:
            if not run.advance(now_s := (run.line_index + 1) * 2 * DWELL_S):
                run.leave_open(now_s)
        return run


def call_of(checklist: str) -> str:
    """Call that says that a checklist was read."""
    return CALLS.get(checklist, f"{checklist}_checklist")


def fly(
    pack: str,
    visit: Callable[[str, JudgedState], None],
    *,
    frozen: Mapping[str, Value] | None = None,
    missing_calls: Collection[str] = (),
    until: str = "",
    flown: JudgedState | None = None,
) -> JudgedState:
    """Fly correctly, and stop just before each checklist is called complete.

    Args:
        pack: Name of a shipped pack.
        visit: Called with each checklist; what it changes must be as before at its end. The flight goes on later by the
            time that it takes.
        frozen: Signals that keep these values throughout.
        missing_calls: Calls that nobody makes.
        until: Checklist after which the flight ends; '' for the whole flight.
        flown: State that the flight goes into; a new one with a judge of its own if not given.
    """
    loaded, trip = shipped(pack)
    flown, late_s = flown or JudgedState(Judge(loaded, trip)), 0.0
    visited = set[str]()
    moments = recorded_flight(SCENARIOS[pack], seed=5, rate_hz=RATE_HZ[pack])
    for (sim_s, _, calls), state in zip(moments, states(moments), strict=True):
        for name in loaded.checklists:
            if call_of(name) in calls and name not in visited:
                visited.add(name)
                began_s = flown.sim_s
                visit(name, flown)
                late_s += flown.sim_s - began_s
        if until in visited:
            break
        flown.send(
            sim_s + late_s,
            state | dict(frozen or {}),
            [call for call in calls if call not in missing_calls],
        )
    return flown
