"""The panel: positions of all controls and values of all signals of one aeroplane.

Takes: the signal book and the parts of all systems.  Gives: `Panel`, which checks every setting of a control.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass, field
from math import isfinite
from typing import Protocol

from rules.faults import HoldshortError
from rules.signals.model import Signal, SignalKind, Value
from rules.source import did_you_mean


class ControlError(HoldshortError):
    """An unknown control or position; the message gives what was expected and the nearest name."""


@dataclass(frozen=True, slots=True)
class Part:
    """Controls and signals that one system adds to the panel.

    `controls` are the start positions of the controls that a person may set; `drives` the start values of the
    signals that the system moves.  A control that no system drives reads its own position.
    `extra` defines controls that are not in the signal book, or whose range is smaller than the book's;
    `detents` are the only positions of a lever.
    """

    controls: Mapping[str, Value] = field(default_factory=dict)
    drives: Mapping[str, Value] = field(default_factory=dict)
    extra: tuple[Signal, ...] = ()
    detents: Mapping[str, tuple[float, ...]] = field(default_factory=dict)


def choice_control(name: str, words: tuple[str, ...], meaning: str) -> Signal:
    """Define a control with words that is not in the signal book.

    Args:
        name: dotted name.
        words: its positions, the resting one first.
        meaning: one line.
    """
    kind = SignalKind.SWITCH if len(words) == 2 else SignalKind.CHOICE
    return Signal(name, kind, 0, name.replace(".", " "), meaning, words=words)


def quantity_control(name: str, unit: str, low: float, high: float, meaning: str) -> Signal:
    """Define a control with a number that is not in the signal book.

    Args:
        name: dotted name.
        unit: unit of the number.
        low: least position.
        high: greatest position.
        meaning: one line.
    """
    return Signal(
        name, SignalKind.QUANTITY, 0, name.replace(".", " "), meaning, unit=unit, low=low, high=high
    )


class System(Protocol):
    """One system of the aeroplane."""

    def step(self, dt_s: float) -> None:
        """Advance by a time of at most `SUB_STEP_S`."""
        ...


class Panel:
    """Positions of the controls and values of the signals; numbers and words are stored separately.

    `switch` and `dial` are the positions in which a person has put the controls; `words` and `numbers` are the
    values of the signals.  Systems write the second pair, and the first only when a control moves by itself.
    """

    __slots__ = ("_detents", "_system_driven", "controls", "dial", "numbers", "signals", "switch", "words")

    def __init__(self, signals: Mapping[str, Signal], parts: Iterable[Part]) -> None:
        self.signals = signals
        self.controls: dict[str, Signal] = {}
        self.switch: dict[str, str] = {}
        self.dial: dict[str, float] = {}
        self.words: dict[str, str] = {}
        self.numbers: dict[str, float] = {}
        self._system_driven: set[str] = set()
        self._detents: dict[str, tuple[float, ...]] = {}
        for part in parts:
            self._add_part(part)
        driven = self.words.keys() | self.numbers.keys()
        assert driven == signals.keys(), _mismatch_text(driven, signals)  # noqa: S101 - our own mistake

    def _add_part(self, part: Part) -> None:
        """Add the controls and signals of one system."""
        extra = {signal.name: signal for signal in part.extra}
        self._system_driven |= part.drives.keys()
        self._detents.update(part.detents)
        for name, value in part.drives.items():
            self._write(self.words, self.numbers, name, value)
        for name, value in part.controls.items():
            self.controls[name] = extra.get(name) or self.signals[name]
            self._write(self.switch, self.dial, name, value)
            if name not in part.drives and name in self.signals:
                self._write(self.words, self.numbers, name, value)

    @staticmethod
    def _write(words: dict[str, str], numbers: dict[str, float], name: str, value: Value) -> None:
        """Store a value by its kind."""
        if isinstance(value, str):
            words[name] = value
        else:
            numbers[name] = float(value)

    def set(self, name: str, value: Value) -> bool:
        """Put a control into a position.

        Args:
            name: the control's name.
            value: a word, or a number in the unit of the control.

        Returns:
            True if a signal of that name reads the new position at once.

        Raises:
            ControlError: no such control, no such word, or a number outside the control's travel.
        """
        control = self.controls.get(name)
        if control is None:
            raise ControlError(self._unknown(name))
        checked = self._number(control, value) if control.is_numeric else self._word(control, value)
        self._write(self.switch, self.dial, name, checked)
        shown = name not in self._system_driven and name in self.signals
        if shown:
            self._write(self.words, self.numbers, name, checked)
        return shown

    def move(self, name: str, word: str) -> None:
        """Move a control with words by itself: a spring, a lock or a relay drives it.

        Args:
            name: a control with words that reads its own position.
            word: its new position.
        """
        self.switch[name] = word
        if name in self.words:
            self.words[name] = word

    def turn(self, name: str, number: float) -> None:
        """Move a control with a number by itself: a motor drives it.

        Args:
            name: a control that reads its own position.
            number: its new position, in its own unit.
        """
        self.dial[name] = self.numbers[name] = number

    def position(self, name: str) -> Value:
        """Return the position of a control.

        Args:
            name: the control's name.

        Raises:
            ControlError: no such control.
        """
        if name in self.switch:
            return self.switch[name]
        if name in self.dial:
            return self.dial[name]
        raise ControlError(self._unknown(name))

    def _unknown(self, name: str) -> str:
        """Return the message for a name that is not a control."""
        if name in self.signals:
            return f"{name} is not a control: the aeroplane moves it by itself"
        hint = did_you_mean(name, self.controls)
        return f"unknown control {name}" + (f" ({hint})" if hint else "")

    def _number(self, control: Signal, value: Value) -> float:
        """Return the value as a number within the control's range."""
        if isinstance(value, (str, bool)) or not isfinite(value):
            raise ControlError(f"{control.name} takes a number, not {value!r}")
        if not control.low <= value <= control.high:
            travel = f"{control.low:g} to {control.high:g} {control.unit}".rstrip()
            raise ControlError(f"{control.name} goes from {travel}, not to {value:g}")
        if control.kind is SignalKind.COUNT and (
            value != int(value) or not _valid_squawk(control.name, value)
        ):
            raise ControlError(
                f"{control.name} takes a whole number (a squawk: digits 0 to 7), not {value:g}"
            )
        stops = self._detents.get(control.name)
        if stops and value not in stops:
            raise ControlError(
                f"{control.name} rests at {', '.join(f'{s:g}' for s in stops)}, not at {value:g}"
            )
        return float(value)

    @staticmethod
    def _word(control: Signal, value: Value) -> str:
        """Return the value as one of the control's words."""
        word = value if isinstance(value, str) else f"{value:g}"
        if control.kind is SignalKind.TEXT:
            if len(word) > control.max_length:
                raise ControlError(f"{control.name} holds {control.max_length} characters, not {len(word)}")
            return word
        if word not in control.words:
            hint = did_you_mean(word, control.words)
            known = ", ".join(control.words)
            raise ControlError(
                f"{control.name} is one of {known}, not {word!r}" + (f" ({hint})" if hint else "")
            )
        return word


def _valid_squawk(name: str, value: float) -> bool:
    """Return True if a number is a possible transponder code: no digit 8 or 9."""
    return name != "transponder.code" or not set(f"{value:.0f}") & {"8", "9"}


def _mismatch_text(driven: Collection[str], signals: Mapping[str, Signal]) -> str:
    """Name the signals that no system drives and those that no book has, and say what to do."""
    missing, unknown = sorted(set(signals) - set(driven)), sorted(set(driven) - set(signals))
    texts = {
        "no system drives {}: add it to `drives` or `controls` of a system's Part": missing,
        "no signal book has {}: add it to a book in rules/signals/books, or correct its name": unknown,
    }
    return "; ".join(text.format(", ".join(names)) for text, names in texts.items() if names)
