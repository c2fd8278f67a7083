"""The panel: where every control stands and what every signal reads, in one place for all systems.

Takes: the signal book and what each system brings.  Gives: `Panel`, with checked setting of controls.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from difflib import get_close_matches
from math import isfinite
from typing import Protocol

from rules.faults import HoldshortError
from rules.signals.model import Signal, SignalKind, Value


class ControlError(HoldshortError):
    """A control or its position is not known; says what was expected and what may have been meant."""


@dataclass(frozen=True, slots=True)
class Part:
    """What one system brings to the panel.

    `controls` are the start positions of what a person may set; `drives` the start values of the
    signals that the system moves by itself.  A control that is not driven reads where it stands.
    `extra` describes controls that no signal book has, or whose travel is less than the book's range;
    `detents` are the only positions of a lever.
    """

    controls: Mapping[str, Value] = field(default_factory=dict)
    drives: Mapping[str, Value] = field(default_factory=dict)
    extra: tuple[Signal, ...] = ()
    detents: Mapping[str, tuple[float, ...]] = field(default_factory=dict)


def choice_control(name: str, words: tuple[str, ...], meaning: str) -> Signal:
    """A control of our own with words, outside the signal book.

    Args:
        name: dotted name.
        words: its positions, the resting one first.
        meaning: one line.
    """
    kind = SignalKind.SWITCH if len(words) == 2 else SignalKind.CHOICE
    return Signal(name, kind, 0, name.replace(".", " "), meaning, words=words)


def quantity_control(name: str, unit: str, low: float, high: float, meaning: str) -> Signal:
    """A control of our own with a number, outside the signal book.

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
    """Positions of the controls and values of the signals, numbers and words apart.

    `switch` and `dial` hold where a person has put the controls; `words` and `numbers` hold what the
    signals read.  Systems write the second pair, and the first only where a control moves by itself.
    """

    __slots__ = ("_detents", "_system_driven", "controls", "dial", "numbers", "signals", "switch", "words")

    def __init__(self, signals: Mapping[str, Signal], parts: Iterable[Part]) -> None:
        """Lay out the panel in its start state."""
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
        held = self.words.keys() | self.numbers.keys()
        assert held == signals.keys(), f"signals without a system, or unknown: {held ^ signals.keys()}"  # noqa: S101 - ours to keep

    def _add_part(self, part: Part) -> None:
        """Take one system's controls and signals in."""
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
        """Put a value where its kind belongs."""
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
            True where a signal of that name reads the new position at once.

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
        """Let a control move by itself: a spring, a lock or a relay has put it there.

        Args:
            name: a control with words that reads where it stands.
            word: where it goes.
        """
        self.switch[name] = word
        if name in self.words:
            self.words[name] = word

    def turn(self, name: str, number: float) -> None:
        """Let a control with a number move by itself: a motor drives it.

        Args:
            name: a control that reads where it stands.
            number: where it goes, in its own unit.
        """
        self.dial[name] = self.numbers[name] = number

    def position(self, name: str) -> Value:
        """Where a control stands.

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
        """The sentence for a name that is no control."""
        if name in self.signals:
            return f"{name} is not a control: the aeroplane moves it by itself"
        near = get_close_matches(name, self.controls, n=1)
        return f"no control is called {name!r}" + (f" (did you mean {near[0]}?)" if near else "")

    def _number(self, control: Signal, value: Value) -> float:
        """The value as a number within the control's travel."""
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
        """The value as one of the control's words."""
        word = value if isinstance(value, str) else f"{value:g}"
        if control.kind is SignalKind.TEXT:
            if len(word) > control.max_length:
                raise ControlError(f"{control.name} holds {control.max_length} characters, not {len(word)}")
            return word
        if word not in control.words:
            near = get_close_matches(word, control.words, n=1, cutoff=0.5)
            hint = f" (did you mean {near[0]}?)" if near else ""
            raise ControlError(f"{control.name} is one of {', '.join(control.words)}, not {word!r}{hint}")
        return word


def _valid_squawk(name: str, value: float) -> bool:
    """True where the number may stand on that counter: a transponder has no 8 and no 9."""
    return name != "transponder.code" or not set(f"{value:.0f}") & {"8", "9"}
