"""Shared state of the judge: pack, signal state, monitors, clock, timers, and the events of the present step.

Takes: a pack, its state and its monitors.  Gives: `JudgeContext`.
"""

from __future__ import annotations

from math import inf

from rules.judge.events import JudgeEvent
from rules.judge.timers import Timers
from rules.language.online import Monitors
from rules.packs.model import Gate, Pack, Watch
from rules.signals.state import SignalState


class JudgeContext:
    """State that the parts of one judge share; only the present step writes it.

    Attributes:
        sim_s: Simulator time of the present step, in seconds.
        phase: Id of the present phase, '' before the first frame.
        active_gates: Gates that can be entered from the present phase.
        cued_gates: Active gates whose cue is true.
        pending_events: Events of the present step so far.
        phase_of_call: Phase in which each call was last entered, calls of the present step left out.
        phase_changes: Number of phases entered so far.
        call_changes: Number of times that calls were entered, undone or voided.
        gap_s: Length of the gap in the data that ends with the present step, 0 without one.
        gap_end_s: End of the latest gap in the data, minus infinity without one.
        watched_from_start: True where the flight has been watched from its beginning.
        unseen_phase: Phase in which the flight was when the monitors started, '' for the first one.
        version: Number of steps and requests so far; a snapshot is out of date once it has grown.
    """

    def __init__(self, pack: Pack, state: SignalState, monitors: Monitors) -> None:
        self.pack = pack
        self.state = state
        self.monitors = monitors
        self.timers = Timers()
        self.sim_s = 0.0
        self.phase = ""
        self.active_gates: set[str] = set()
        self.cued_gates: set[str] = set()
        self.pending_events: list[JudgeEvent] = []
        self.phase_of_call: dict[str, str] = {}
        self.phase_changes = 0
        self.call_changes = 0
        self.gap_s = 0.0
        self.gap_end_s = -inf
        self.watched_from_start = False
        self.unseen_phase = ""
        self.version = 0
        self.gates: dict[str, Gate] = {gate.id: gate for gate in pack.gates}
        self.watches: dict[str, Watch] = {watch.id: watch for watch in pack.watches}
        self._phase_titles = {phase.id: phase.title for phase in pack.phases}

    def emit(self, event: JudgeEvent) -> None:
        """Append an event to those of this step."""
        self.pending_events.append(event)

    def drain(self) -> list[JudgeEvent]:
        """Return the events of a step at its end, and start the next step with none."""
        self.version += 1
        self.gap_s = 0.0
        events, self.pending_events = self.pending_events, []
        return events

    def gate_title(self, gate: str) -> str:
        """Title of a gate, '' where there is no such gate."""
        found = self.gates.get(gate)
        return found.title if found is not None else ""

    def phase_title(self, phase: str) -> str:
        """Title of a phase, '' where there is no such phase."""
        return self._phase_titles.get(phase, "")
