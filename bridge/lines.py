"""A flight told in lines, for a file, a pipe or a screen that cannot be redrawn.

Takes: entries, as a listener, and sentences about the link.  Gives: a line for each that is for people.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable

from rich.console import Console
from rich.text import Text

from bridge.notes import OF_KEEPING, Change, SessionNoted, Told
from bridge.screen import clock, say_notice
from rules.judge.entries import (
    CallEntered,
    CallRetracted,
    GateCued,
    MonitorsReset,
    Notice,
    PapersAmended,
    PhaseEntered,
)
from rules.packs.model import Pack


class Lines:
    """Prints phases, gates, calls and notices, and what becomes of the link."""

    def __init__(self, console: Console, pack: Pack, gone: Callable[[], None], device: str = "") -> None:
        """Nothing is printed yet.

        Args:
            console: where the lines go.
            pack: has the titles.
            gone: called when nobody reads the lines any more (a closed pipe).
            device: stands before each line, where there are several.
        """
        self._device = f"{device} " if device else ""
        self._console = console
        self._gone = gone
        self._phases = {phase.id: phase.title for phase in pack.phases}
        self._gates = {gate.id: gate.title for gate in pack.gates}
        self._calls = {call.id: call.title for call in pack.calls.values()}

    def __call__(self, entry: Told) -> None:
        """Print the entry if it is for people."""
        line = self._line(entry)
        if line is not None:
            self._print(line)

    def link(self, sentence: str) -> None:
        """Print what became of the link."""
        self._print(Text(f"LINK {sentence}"))

    def _line(self, entry: Told) -> Text | None:
        match entry:
            case Notice():
                return say_notice(entry)
            case PhaseEntered():
                return _said(entry.sim_s, "PHASE", self._phases.get(entry.phase, entry.phase))
            case GateCued():
                gate = self._gates.get(entry.gate, entry.gate)
                return _said(entry.sim_s, "GATE", f"{gate}: {entry.open_items} open")
            case CallEntered():
                title = self._calls.get(entry.call, entry.call)
                return _said(entry.sim_s, "CALL", f"{title}{_by(entry.by)}")
            case CallRetracted():
                title = self._calls.get(entry.call, entry.call)
                return _said(entry.sim_s, "CALL", f"{title}: taken back{_by(entry.by)}")
            case PapersAmended():
                return _said(entry.sim_s, "PAPERS", f"amended: {_names(entry.names)}{_by(entry.by)}")
            case MonitorsReset():
                return _said(entry.sim_s, "RESET", "the simulator's clock jumped back; all is judged anew")
            case SessionNoted() if entry.change in OF_KEEPING and entry.change is not Change.BEGUN:
                return _said(entry.sim_s, "KEEP", f"{entry.change}{f': {entry.text}' if entry.text else ''}")
        return None

    def _print(self, line: Text) -> None:
        try:
            self._console.print(Text.assemble(self._device, line) if self._device else line, soft_wrap=True)
            self._console.file.flush()
        except BrokenPipeError:
            self._gone()


def _by(who: str) -> str:
    return f", by {who}" if who else ""


def _names(papers: Iterable[str]) -> str:
    return ", ".join(name.removeprefix("trip.") for name in papers)


def _said(sim_s: float, what: str, text: str) -> Text:
    return Text(f"{clock(sim_s)} {what:8} {text}")
