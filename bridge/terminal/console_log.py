"""A flight as printed lines, for a file, a pipe or a terminal without live view.

Takes: events, as a subscriber, and sentences about the link.  Gives: printed lines.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable

from rich.console import Console
from rich.text import Text

from bridge.common.time_text import format_sim_time
from bridge.session.change_text import change_text
from bridge.session.session_events import (
    PERSISTENCE_PROBLEMS,
    ProblemReported,
    RecordingResumed,
    SessionEnded,
    SessionEvent,
    SessionPaused,
    SessionResumed,
    SessionStarted,
    StoreReachable,
)
from bridge.session.waiver_text import waiver_text
from bridge.terminal.live_view import notice_line
from rules.judge.events import (
    CallEntered,
    CallUndone,
    DataMissing,
    GateCued,
    MonitorsReset,
    Notice,
    PhaseEntered,
    TripUpdated,
    WaiverBegun,
    WaiverUndone,
)
from rules.judge.gate_counts import counts_of, gate_text
from rules.packs.model import Pack
from rules.signals.model import TRIP_PREFIX
from rules.signals.number_format import format_missing_data


class ConsoleLog:
    """A subscriber that prints phases, gates, calls, waivers, notices, problems of data, and changes of the link."""

    EVENTS: tuple[type, ...] = (
        Notice,
        PhaseEntered,
        GateCued,
        CallEntered,
        CallUndone,
        WaiverBegun,
        WaiverUndone,
        TripUpdated,
        MonitorsReset,
        DataMissing,
        SessionStarted,
        SessionEnded,
        SessionPaused,
        SessionResumed,
        *PERSISTENCE_PROBLEMS,
    )
    """The types that have a line; others have none."""

    def __init__(self, console: Console, pack: Pack, on_closed: Callable[[], None], device: str = "") -> None:
        """Prepare the titles.

        Args:
            console: where to print.
            pack: for the titles.
            on_closed: called when the output is a closed pipe.
            device: printed before each line, if there are several devices.
        """
        self._device = f"{device} " if device else ""
        self._console = console
        self._on_closed = on_closed
        self._phases = {phase.id: phase.title for phase in pack.phases}
        self._gates = {gate.id: gate.title for gate in pack.gates}
        self._calls = {call.id: call.title for call in pack.calls.values()}
        self._items = {item.id: item.label for item in pack.items.values()}

    def __call__(self, event: SessionEvent) -> None:
        """Print the line of an event if it has one."""
        line = self._line_for(event)
        if line is not None:
            self._print(line)

    def print_link(self, sentence: str) -> None:
        """Print a change of the link."""
        self._print(Text(f"LINK {sentence}"))

    def _line_for(self, event: SessionEvent) -> Text | None:
        match event:
            case Notice():
                return notice_line(event)
            case PhaseEntered():
                return _format_line(event.sim_s, "PHASE", self._phases.get(event.phase, event.phase))
            case GateCued():
                gate = self._gates.get(event.gate, event.gate)
                return _format_line(event.sim_s, "GATE", f"{gate} at the cue: {gate_text(counts_of(event))}")
            case CallEntered() | CallUndone() | WaiverBegun() | WaiverUndone() | TripUpdated():
                return self._request_line(event)
            case MonitorsReset():
                return _format_line(
                    event.sim_s, "RESET", "the simulator's clock jumped back; judging starts again"
                )
            case DataMissing():
                return _format_line(event.sim_s, "DATA", format_missing_data(event.missing_s))
            case ProblemReported() | RecordingResumed() | StoreReachable():
                return _format_line(event.sim_s, "DATA", change_text(event, {}))
            case SessionStarted() | SessionEnded() | SessionPaused() | SessionResumed():
                return _format_line(event.sim_s, "SESSION", change_text(event, {}))
        return None

    def _request_line(
        self, event: CallEntered | CallUndone | WaiverBegun | WaiverUndone | TripUpdated
    ) -> Text:
        """Return the line of a call, a waiver, the undo of one, or a trip update."""
        match event:
            case WaiverBegun() | WaiverUndone():
                what, text = "WAIVER", waiver_text(event, self._items.get(event.item, event.item))
            case TripUpdated():
                what, text = "TRIP", f"amended: {_trip_names(event.names)}"
            case _:
                what, text = "CALL", self._calls.get(event.call, event.call)
                text += (
                    ": undone" if isinstance(event, CallUndone) else ": made earlier" if event.earlier else ""
                )
        return _format_line(event.sim_s, what, f"{text}{_by_whom(event.by)}")

    def _print(self, line: Text) -> None:
        try:
            self._console.print(Text.assemble(self._device, line) if self._device else line, soft_wrap=True)
            self._console.file.flush()
        except BrokenPipeError:
            self._on_closed()


def _by_whom(who: str) -> str:
    return f", by {who}" if who else ""


def _trip_names(names: Iterable[str]) -> str:
    return ", ".join(name.removeprefix(TRIP_PREFIX) for name in names)


def _format_line(sim_s: float, what: str, text: str) -> Text:
    return Text(f"{format_sim_time(sim_s)} {what:8} {text}")
