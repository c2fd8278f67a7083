"""What the parts of the judge share: the pack, the state, the monitors, the clock, the timers and the entries of a step.

Takes: a pack, its state and its monitors.  Gives: `Session`, and the ids under which conditions are monitored.
"""

from __future__ import annotations

from rules.judge.events import JudgeEvent
from rules.judge.timers import Timers
from rules.language.checked_tree import Condition
from rules.language.online import Monitors
from rules.packs.model import Gate, Pack
from rules.signals.state import SignalState


def cue_id(gate: str) -> str:
    """The id under which a gate's cue is monitored; the space keeps it apart from every item's id."""
    return f"cue {gate}"


def entry_id(gate: str) -> str:
    """The id under which a gate's entry is monitored."""
    return f"entry {gate}"


def after_id(item: str) -> str:
    """The id under which that is monitored which an item comes after."""
    return f"after {item}"


def applies_id(watch: str) -> str:
    """The id under which is monitored whether a watch applies."""
    return f"applies {watch}"


def expect_id(watch: str) -> str:
    """The id under which a watch's expectation is monitored."""
    return f"expect {watch}"


def quiet_id(quiet: str) -> str:
    """The id under which a quiet period is monitored."""
    return f"quiet {quiet}"


def callout_id(callout: str) -> str:
    """The id under which is monitored when a callout is made."""
    return f"callout {callout}"


def flight_time_id(moment: str) -> str:
    """The id under which is monitored whether the aeroplane is out, off, on or in."""
    return f"time {moment}"


def trace_begins_id(trace: str) -> str:
    """The id under which is monitored whether a strip begins."""
    return f"begins {trace}"


def trace_ends_id(trace: str) -> str:
    """The id under which is monitored whether a strip ends."""
    return f"ends {trace}"


def trace_mark_id(trace: str, number: int) -> str:
    """The id under which a mark of a strip is monitored, by its number from 0."""
    return f"mark {number} {trace}"


def monitored_conditions(pack: Pack) -> dict[str, Condition]:
    """Every condition of a pack by the id under which it is monitored.

    Items that were dispatched inoperative are left out: their truth is set from outside.
    """
    found: dict[str, Condition] = {}
    for item in pack.items.values():
        if item.condition is not None and not item.waived:
            found[item.id] = item.condition
        if item.after is not None:
            found[after_id(item.id)] = item.after
    for gate in pack.gates:
        found |= {cue_id(gate.id): gate.cue, entry_id(gate.id): gate.entry}
    for watch in pack.watches:
        found[expect_id(watch.id)] = watch.expect
        if watch.applies is not None:
            found[applies_id(watch.id)] = watch.applies
    found |= {callout_id(rule.id): rule.when for rule in pack.callouts}
    found |= {flight_time_id(rule.moment): rule.when for rule in pack.flight_times}
    for strip in pack.traces:
        found |= {trace_begins_id(strip.id): strip.begins, trace_ends_id(strip.id): strip.ends}
        found |= {trace_mark_id(strip.id, n): mark.when for n, mark in enumerate(strip.marks)}
    return found | {quiet_id(quiet.id): quiet.applies for quiet in pack.quiet_periods}


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
