"""What the parts of the judge share: the pack, the state, the monitors, the clock, the timers and the entries of a step.

Takes: a pack, its state and its monitors.  Gives: `JudgeContext`.
"""

from __future__ import annotations

from rules.judge.events import JudgeEvent
from rules.judge.timers import Timers
from rules.language.online import Monitors
from rules.packs.model import Gate, Pack
from rules.signals.state import SignalState


class JudgeContext:
    """The common ground of one core.  One writer: the core's present step.

    Attributes:
        sim_s: The simulator's clock in the present step.
        phase: The present phase's id, '' before the first frame.
        in_play: The gates that leave the present phase.
        cued: Those of them whose cue is given.
        out: The entries of the present step so far.
        called: Per call the phase in which it was last made, a call of the present step left out.
        moves: How many phases were entered so far.
    """

    def __init__(self, pack: Pack, state: SignalState, monitors: Monitors) -> None:
        """Before the first frame."""
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
        self.gates: dict[str, Gate] = {gate.id: gate for gate in pack.gates}
        self._phase_titles = {phase.id: phase.title for phase in pack.phases}

    def emit(self, event: JudgeEvent) -> None:
        """Put an entry behind those of this step."""
        self.pending_events.append(event)

    def drain(self) -> list[JudgeEvent]:
        """The entries so far; the next step begins with none."""
        taken, self.pending_events = self.pending_events, []
        return taken

    def gate_title(self, gate: str) -> str:
        """A gate's title, '' where there is no such gate."""
        found = self.gates.get(gate)
        return found.title if found is not None else ""

    def phase_title(self, phase: str) -> str:
        """A phase's title, '' where there is no such phase."""
        return self._phase_titles.get(phase, "")
