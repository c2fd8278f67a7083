"""Checks a scenario: every name known, every position possible, every step reachable.

Takes: the models of all files with their sources, and the aeroplane's interface.  Gives: faults with their places.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass

from mock_sim.scenario.model import SEATS, Detour, ScenarioEvent, ScenarioFile, Setting, Slip, Step, Wait
from rules.faults import Fault
from rules.signals.model import TRIP_PREFIX, Signal, SignalKind
from rules.source import SourceDocument, unknown_fault

Path = tuple[str | int, ...]


@dataclass(frozen=True, slots=True)
class AeroplaneInterface:
    """The controls of an aeroplane that a scenario may set, and the signals that it may wait for."""

    controls: Mapping[str, Signal]
    signals: Mapping[str, Signal]


class ScenarioChecker:
    """Checks the files of one scenario against the aeroplane and against each other."""

    def __init__(
        self, interface: AeroplaneInterface, files: list[tuple[SourceDocument, ScenarioFile]]
    ) -> None:
        self._interface = interface
        self._files = files
        self._trip = {name: value for _, file in files for name, value in file.trip.items()}
        self._steps = {
            f"{seat}.{step.key}": step
            for _, file in files
            for seat, steps in file.seats.items()
            for step in steps
        }
        self._event_steps = {
            f"{seat}.{step.key}": step
            for _, file in files
            for event in file.events
            for seat, detours in event.seats.items()
            for detour in detours
            for step in detour.steps
        }
        self._all_steps = {**self._event_steps, **self._steps}
        self._calls = {call for step in self._all_steps.values() for call in step.calls}
        self._slips = {slip.id for _, file in files for slip in file.slips}

    def faults(self) -> Iterator[Fault]:
        """Yield every fault, file by file."""
        for source, file in self._files:
            yield from self._settings(source, ("world",), file.world)
            yield from self._seats(source, file)
            yield from self._waits(source, ("ends",), file.ends)
            for number, slip in enumerate(file.slips):
                yield from self._slip(source, ("slips", number), slip)
            for number, event in enumerate(file.events):
                yield from self._event(source, ("events", number), event)
            for number, name in enumerate(file.demo):
                yield from self._name(source, ("demo", number), name, self._slips, "slip")

    def _seats(self, source: SourceDocument, file: ScenarioFile) -> Iterator[Fault]:
        """Check every step of every seat."""
        for seat, steps in file.seats.items():
            yield from self._name(source, ("seats", seat), seat, SEATS, "seat", key=True)
            for number, step in enumerate(steps):
                yield from self._step(source, ("seats", seat, number), step)

    def _step(self, source: SourceDocument, path: Path, step: Step) -> Iterator[Fault]:
        """Check one step: its waits and its controls."""
        yield from self._waits(source, (*path, "wait"), step.wait)
        yield from self._settings(source, (*path, "set"), step.settings)
        for number, move in enumerate(step.move):
            here = (*path, "move", number)
            yield from self._setting(source, here, move.signal, move.to)
            if move.over_s and isinstance(self._resolved(move.to), str):
                yield Fault(
                    source.place((*here, "over_s")), "a control with words moves at once", "hold_s instead"
                )
        for word, wanted in (("drive", step.drive), ("fly", step.fly)):
            if wanted and wanted.heading_deg is not None:
                yield from self._trip_entry(source, (*path, word, "heading_deg"), wanted.heading_deg)

    def _waits(self, source: SourceDocument, path: Path, waits: tuple[Wait, ...]) -> Iterator[Fault]:
        """Check that each awaited thing can happen."""
        for number, wait in enumerate(waits):
            here = (*path, number)
            if wait.call is not None:
                yield from self._name(
                    source, (*here, "call"), wait.call, self._calls, "call that a seat makes"
                )
            elif wait.done is not None:
                yield from self._name(source, (*here, "done"), wait.done, self._all_steps, "step")
            elif wait.signal is not None:
                yield from self._comparison(source, here, wait)

    def _comparison(self, source: SourceDocument, path: Path, wait: Wait) -> Iterator[Fault]:
        """Check that a signal is compared with a value of its own kind."""
        unknown = list(
            self._name(source, (*path, "signal"), wait.signal or "", self._interface.signals, "signal")
        )
        yield from unknown
        if unknown:
            return
        signal = self._interface.signals[wait.signal or ""]
        given = {"at_least": wait.at_least, "at_most": wait.at_most, "is": wait.equals}
        for key, written in given.items():
            if written is not None:
                yield from self._value_allowed(source, (*path, key), signal, written)

    def _settings(
        self, source: SourceDocument, path: Path, settings: Mapping[str, Setting]
    ) -> Iterator[Fault]:
        """Check several control positions."""
        for name, written in settings.items():
            yield from self._setting(source, (*path, name), name, written)

    def _setting(self, source: SourceDocument, path: Path, name: str, written: Setting) -> Iterator[Fault]:
        """Check one control position."""
        unknown = list(self._name(source, path, name, self._interface.controls, "control", key=True))
        yield from unknown or self._value_allowed(source, path, self._interface.controls[name], written)

    def _value_allowed(
        self, source: SourceDocument, path: Path, signal: Signal, written: Setting
    ) -> Iterator[Fault]:
        """Check that the signal can have a value."""
        missing = list(self._trip_entry(source, path, written))
        yield from missing
        value = self._resolved(written)
        if missing or signal.kind is SignalKind.TEXT:
            return
        if signal.words:
            yield from self._name(source, path, value, signal.words, f"word of {signal.name}")
        elif isinstance(value, str):
            yield Fault(source.place(path), f"'{value}' for {signal.name}", f"a number in {signal.unit}")
        elif not signal.low <= value <= signal.high:
            yield Fault(
                source.place(path),
                f"{value:g} for {signal.name}",
                f"{signal.low:g} to {signal.high:g} {signal.unit}",
            )

    def _trip_entry(self, source: SourceDocument, path: Path, written: Setting) -> Iterator[Fault]:
        """Check that a named entry of the trip exists."""
        if isinstance(written, str) and written.startswith(TRIP_PREFIX):
            name = written.removeprefix(TRIP_PREFIX)
            yield from self._name(source, path, name, self._trip, "entry of the trip")

    def _resolved(self, written: Setting) -> Setting:
        """Return the value of a setting, or the setting itself if the trip lacks it."""
        name = written.removeprefix(TRIP_PREFIX) if isinstance(written, str) else ""
        return self._trip.get(name, written) if written != name else written

    def _slip(self, source: SourceDocument, path: Path, slip: Slip) -> Iterator[Fault]:
        """Check that a slip names an existing step and makes a possible change."""
        step = self._steps.get(f"{slip.seat}.{slip.step}")
        if step is None:
            yield from self._name(source, (*path, "step"), f"{slip.seat}.{slip.step}", self._steps, "step")
            return
        here, change = (*path, "change"), slip.change
        for number, name in enumerate(change.leave):
            yield from self._name(
                source, (*here, "leave", number), name, step.controls(), "control of this step"
            )
        for name in change.instead:
            yield from self._name(
                source, (*here, "instead", name), name, step.controls(), "control of this step", key=True
            )
        yield from self._settings(source, (*here, "instead"), change.instead)
        yield from self._waits(source, (*here, "wait"), change.wait or ())
        for word, key in (("before", change.before), ("after", change.after)):
            if key is not None:
                yield from self._name(source, (*here, word), f"{slip.seat}.{key}", self._steps, "step")
        for number, more in enumerate(change.then):
            yield from self._step(source, (*here, "then", number), more)
        yield from self._settings(source, (*path, "corrected_by"), slip.corrected_by)
        yield from self._waits(source, (*path, "corrected_wait"), slip.corrected_wait)

    def _event(self, source: SourceDocument, path: Path, event: ScenarioEvent) -> Iterator[Fault]:
        """Check that an event diverts seats from existing steps and back to existing steps."""
        yield from self._settings(source, (*path, "world"), event.world)
        yield from self._waits(source, (*path, "ends"), event.ends)
        for name in event.trip:
            yield from self._name(
                source, (*path, "trip", name), name, self._trip, "entry of the trip", key=True
            )
        for seat, detours in event.seats.items():
            for number, detour in enumerate(detours):
                yield from self._detour(source, (*path, "seats", seat, number), seat, detour)

    def _detour(self, source: SourceDocument, path: Path, seat: str, detour: Detour) -> Iterator[Fault]:
        """Check one detour of a seat."""
        for word, key in (("after", detour.after), ("to", detour.to)):
            if key is not None:
                yield from self._name(source, (*path, word), f"{seat}.{key}", self._steps, "step")
        for number, step in enumerate(detour.steps):
            yield from self._step(source, (*path, "steps", number), step)

    @staticmethod
    def _name(
        source: SourceDocument,
        path: Path,
        name: Setting,
        known: Iterable[str],
        what: str,
        *,
        key: bool = False,
    ) -> Iterator[Fault]:
        """Check that a name is one of the known names."""
        names = sorted(known) if isinstance(known, set) else list(known)
        if not isinstance(name, str) or name not in names:
            yield unknown_fault(source.place(path, key=key), what, str(name), names)
