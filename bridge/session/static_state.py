"""Reads the values of signals at one moment from a file, for `holdshort judge`.

    {"signals": {"lights.beacon": "on", "fuel.total": 8200, "hydraulics.1.pressure": "206.8 bar"},
     "calls": ["push_approved", {"briefed": "captain"}]}

The short form has the signals at the top level, and calls as `"call.push_approved": true` or `"call.briefed": "captain"`,
with the speaker.  A number is in the unit of the signal book, or written with its own unit.

Takes: a JSON or YAML file and the pack's signals and calls.  Gives: `StaticState`, or every fault of the file.
"""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import NamedTuple

from bridge.session.input_signals import non_input_reason
from rules.faults import Fault, InputFaults
from rules.packs.model import SPEAKERS, Pack
from rules.signals.amounts import parse_amount
from rules.signals.model import CALL_PREFIX, Frame, Quality, Sample, Signal, Value, is_valid
from rules.signals.units import UnitFault, convert
from rules.source import SourceDocument, read_source, unknown_word

SECTIONS = ("signals", "calls")
_CALL_EXPECTED = "true, false, or who made it"

_Path = tuple[str | int, ...]


class StaticState(NamedTuple):
    """State at one moment.

    Attributes:
        frame: Frame at simulator time 0 that carries every value of the file, and the calls whose speaker it does not say.
        calls: The other calls, each with its speaker.
    """

    frame: Frame
    calls: tuple[tuple[str, str], ...]


def read_static_state(path: Path, pack: Pack) -> StaticState:
    """Read a static state.

    Args:
        path: the file.
        pack: has the signals and calls that the file may use.

    Raises:
        InputFaults: the file is missing, is not JSON or YAML, or has a value that its signal cannot have.
    """
    reader = _Reader(read_source(path), pack)
    reader.read_file()
    if reader.faults:
        raise InputFaults(sorted(reader.faults, key=lambda fault: (fault.place.line, fault.place.column)))
    carried = tuple(sample.name for sample in reader.samples)
    frame = Frame(str(path), 0.0, 0.0, 0, carried, tuple(reader.samples), tuple(reader.calls))
    return StaticState(frame, tuple(reader.spoken_calls))


class _Reader:
    """Reads one file and collects its faults, so that all are reported at once."""

    def __init__(self, source: SourceDocument, pack: Pack) -> None:
        self.faults: list[Fault] = []
        self.samples: list[Sample] = []
        self.calls: list[str] = []
        self.spoken_calls: list[tuple[str, str]] = []
        self._source = source
        self._pack = pack

    def read_file(self) -> None:
        """Read the file, in the long or the short form."""
        data = self._source.data
        if not isinstance(data, dict):
            self._add_fault((), "this is not a set of signals", 'an object such as {"signals": {...}}')
            return
        for at, name, given in self._long_form() if "signals" in data else self._short_form():
            if name.startswith(CALL_PREFIX):
                self._read_call_value(at, name.removeprefix(CALL_PREFIX), given)
            else:
                self._read_signal(at, name, given)
        self._read_calls()

    def _long_form(self) -> Iterator[tuple[_Path, str, object]]:
        for key in self._keys(()):
            if key not in SECTIONS:
                self._add_fault((key,), *unknown_word("section", str(key), SECTIONS), key=True)
        signals = self._source.value_at(("signals",))
        if not isinstance(signals, dict):
            self._add_fault(("signals",), "signals are not a mapping", "names with their values")
            return
        yield from ((("signals", key), str(key), value) for key, value in signals.items())

    def _short_form(self) -> Iterator[tuple[_Path, str, object]]:
        return (((key,), str(key), self._source.value_at((key,))) for key in self._keys(()) if key != "calls")

    def _keys(self, at: _Path) -> list[str | int]:
        data = self._source.value_at(at)
        return list(data) if isinstance(data, dict) else []

    def _read_calls(self) -> None:
        data = self._source.data
        calls = data.get("calls", []) if isinstance(data, dict) else []
        if not isinstance(calls, list):
            self._add_fault(("calls",), "calls are not a list", 'a list such as ["push_approved"]')
            return
        for number, call in enumerate(calls):
            at: _Path = ("calls", number)
            if not isinstance(call, dict):
                self._read_call(at, str(call))
            for name, speaker in call.items() if isinstance(call, dict) else ():
                self._read_call_value((*at, name), str(name), speaker)

    def _read_call_value(self, at: _Path, name: str, given: object) -> None:
        """Read a call with its speaker, or with `true` or `false`."""
        if isinstance(given, bool):
            if given:
                self._read_call(at, name, key=True)
        elif not isinstance(given, str):
            self._add_fault(at, f"call.{name} cannot be {_display_text(given)}", _CALL_EXPECTED)
        elif given not in (speakers := (*self._pack.seats, *SPEAKERS)):
            self._add_fault(at, *unknown_word("speaker", given, speakers, _CALL_EXPECTED))
        else:
            self._read_call(at, name, given, key=True)

    def _read_call(self, at: _Path, name: str, speaker: str = "", *, key: bool = False) -> None:
        if name not in self._pack.calls:
            self._add_fault(at, *unknown_word("call", name, self._pack.calls, "a call of the pack"), key=key)
        elif speaker:
            self.spoken_calls.append((name, speaker))
        else:
            self.calls.append(name)

    def _read_signal(self, at: _Path, name: str, given: object) -> None:
        signal = self._pack.signals.get(name)
        if signal is None:
            expected = "a signal of the pack's books"
            self._add_fault(at, *unknown_word("signal", name, self._pack.signals, expected), key=True)
        elif other := non_input_reason(self._pack, name):
            self._add_fault(at, f"{name} cannot be given here: {other}", "what a signal shows", key=True)
        else:
            self._read_value(at, signal, given)

    def _read_value(self, at: _Path, signal: Signal, given: object) -> None:
        try:
            value = _parse_value(signal, given)
        except UnitFault as fault:
            self._add_fault(at, f"{signal.name}: {fault.what}", f"a number in {signal.unit}", fault.hint)
            return
        if value is None or not is_valid(signal, value):
            self._add_fault(at, f"{signal.name} cannot be {_display_text(given)}", _expected_text(signal))
        else:
            self.samples.append(Sample(signal.name, value, Quality.FRESH, 0.0))

    def _add_fault(self, at: _Path, what: str, expected: str, hint: str = "", *, key: bool = False) -> None:
        self.faults.append(Fault(self._source.place(at, key=key), what, expected, hint))


def _parse_value(signal: Signal, given: object) -> Value | None:
    """Convert to the signal's unit; None for a value of the wrong kind."""
    if not signal.is_numeric:
        return given if isinstance(given, str) else None
    if isinstance(given, str):
        return _parse_amount(given, signal.unit)
    return float(given) if isinstance(given, int | float) and not isinstance(given, bool) else None


def _parse_amount(given: str, to: str) -> float | None:
    """Parse a number with or without a unit; spaces may separate thousands."""
    amount = parse_amount(given)
    if amount is None:
        return None
    return convert(amount.value, amount.unit, to) if amount.unit else amount.value


def _expected_text(signal: Signal) -> str:
    if signal.words:
        return "one of " + ", ".join(signal.words)
    if signal.is_numeric:
        unit = "" if signal.unit == "1" else signal.unit
        return f"a number from {signal.low:g} to {signal.high:g} {unit}".strip()
    return f"text of at most {signal.max_length} characters"


def _display_text(given: object) -> str:
    """Format a value as its author wrote it, shortened to print."""
    if isinstance(given, dict | list):
        return "a mapping" if isinstance(given, dict) else "a list"
    if given is None or isinstance(given, bool):
        return {None: "nothing", True: "true", False: "false"}[given]
    return repr(given) if len(str(given)) <= 40 else f"{str(given)[:37]}..."
