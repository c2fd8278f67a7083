"""State: the fold of all frames into what is known of the aeroplane now.

Takes: frames, and the monotonic clock.  Gives: the present sample of every signal, and after each step the
samples that changed.  A value that its signal cannot have (range, word, not finite) becomes INVALID here,
whoever sent it; a signal that nobody has spoken of for longer than its age limit becomes STALE.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence

from rules.signals.model import Frame, Quality, Sample, Signal, SignalKind, Value

_FRESH, _INVALID, _STALE = Quality.FRESH, Quality.INVALID, Quality.STALE

# A 32-bit sender says 100 % as 100.0000015; the ends of a range forgive as much as `=` does.
_SLACK = 1e-6
# The next expiry is a lower bound: this much early costs a look, late would cost a stale value taken as fresh.
_EXPIRY_MARGIN_S = 1e-6
_MAX_PENDING = 64


def value_range(signal: Signal) -> tuple[float, float]:
    """The ends of a number's range, with their slack."""
    slack = _SLACK * max(abs(signal.low), abs(signal.high))
    return signal.low - slack, signal.high + slack


def is_valid(signal: Signal, value: object) -> bool:
    """Whether the signal can have this value: its kind, range, words or length; a number is finite."""
    if signal.is_numeric:
        if not isinstance(value, int | float) or isinstance(value, bool) or not math.isfinite(value):
            return False
        low, high = value_range(signal)
        return low <= value <= high and (signal.kind is not SignalKind.COUNT or value == int(value))
    if not isinstance(value, str):
        return False
    return len(value) <= signal.max_length if signal.kind is SignalKind.TEXT else value in signal.words


class SignalState:
    """What is known now.  One writer: whoever folds frames in.

    Attributes:
        values: The fresh values by name; a name is in it exactly while its sample is FRESH.
        sim_s: The simulator's clock at the last step; within an epoch it never goes back.
        recv_s: The monotonic clock at the last step.
        epoch: Goes up when the simulator's clock jumps back.
    """

    def __init__(self, signals: Mapping[str, Signal]) -> None:
        """Nothing seen yet of any of these signals."""
        self.signals = signals
        self.values: dict[str, Value] = {}
        self.sim_s = 0.0
        self.recv_s = 0.0
        self.epoch = 0
        self._samples: dict[str, Sample] = {}
        self._carried_at_s: dict[str, float] = {}
        # A link carries the same tuple of names in every frame: its time is noted once, not once a name.
        self._pending_renewals: dict[int, tuple[tuple[str, ...], float]] = {}
        self._stale: set[str] = set()
        self._started = False
        self._next_expiry_s = math.inf
        self._ranges = {
            name: value_range(signal)
            for name, signal in signals.items()
            if signal.is_numeric and signal.kind is not SignalKind.COUNT
        }
        self._words = {name: frozenset(signal.words) for name, signal in signals.items()}
        self._max_ages_s = {
            name: signal.max_age_s for name, signal in signals.items() if signal.max_age_s > 0
        }
        self._min_max_age_s = min(self._max_ages_s.values(), default=math.inf)

    def sample(self, name: str) -> Sample:
        """The present sample; ABSENT where no link ever spoke of the signal."""
        known = self._samples.get(name)
        return known if known is not None else Sample(name, None, Quality.ABSENT, self.sim_s)

    def has_sample(self, name: str) -> bool:
        """Whether any link ever spoke of the signal."""
        return name in self._samples

    def age_s(self, name: str, now_s: float = -math.inf) -> float | None:
        """How old what is known of a signal is.

        Args:
            name: The signal.
            now_s: The monotonic clock now; by default that of the last step.

        Returns:
            Seconds since a link last spoke of it; None where none ever did.
        """
        self._apply_renewals()
        now_s = max(now_s, self.recv_s)
        return now_s - self._carried_at_s.get(name, -math.inf) if name in self._samples else None

    def expire(self, recv_s: float) -> list[Sample]:
        """Let time pass without news.

        Args:
            recv_s: The monotonic clock now.

        Returns:
            The samples that became STALE: last carried longer ago than their age limit.  Papers never do.
        """
        self.recv_s = max(self.recv_s, recv_s)
        if recv_s <= self._next_expiry_s:
            return []
        values = self.values
        return [self._store(Sample(name, values[name], _STALE, self.sim_s)) for name in self._overdue(recv_s)]

    def would_expire(self, recv_s: float) -> bool:
        """Whether `expire` would find a sample that is too old; nothing becomes stale by asking."""
        if recv_s <= self._next_expiry_s:
            return False
        late = self._overdue(recv_s)
        if late:
            self._next_expiry_s = -math.inf
        return bool(late)

    def _overdue(self, recv_s: float) -> list[str]:
        """The names whose fresh samples are too old; notes when the others may be."""
        self._apply_renewals()
        carried, ages, late = self._carried_at_s, self._max_ages_s, []
        self._next_expiry_s = math.inf
        for name in self.values:
            if name not in ages:
                continue
            due_s = carried.get(name, -math.inf) + ages[name]
            if recv_s > due_s:
                late.append(name)
            elif due_s - _EXPIRY_MARGIN_S < self._next_expiry_s:
                self._next_expiry_s = due_s - _EXPIRY_MARGIN_S
        return late

    def fold(self, frame: Frame) -> list[Sample]:
        """Take in one frame; `expire(frame.recv_s)` and, for a new epoch, `restart` come first.

        Args:
            frame: What one datagram said.  Signals that are not in the book are passed over; a change that is
                not among the carried names renews no age, and so is stale at the next look.

        Returns:
            The samples whose value or quality is other than before, in the frame's order; then those that a link
            spoke of again, unchanged, after they had gone stale.
        """
        self._advance_clocks(frame)
        now_s, values, samples, spans, words = (
            self.sim_s,
            self.values,
            self._samples,
            self._ranges,
            self._words,
        )
        changed: list[Sample] = []
        for said in frame.changes:
            name, value, quality, at_s = said
            ends = spans.get(name)
            fits = (
                ends[0] <= value <= ends[1] if ends and type(value) is float else value in words.get(name, ())
            )
            if not fits or quality is not _FRESH or at_s != now_s:
                changed += self._validate(said)
            elif value is not None and values.get(name) != value:
                values[name] = value
                samples[name] = said
                self._stale.discard(name)
                changed.append(said)
        for name in self._stale.intersection(frame.carried) if self._stale else ():
            changed.append(self._store(Sample(name, samples[name].value, _FRESH, now_s)))
        return changed

    def set_value(self, name: str, value: Value, sim_s: float) -> list[Sample]:
        """Set one signal by hand (the papers' values; a still picture); what it returns is as for `fold`."""
        return self.fold(
            Frame("", sim_s, self.recv_s, self.epoch, (name,), (Sample(name, value, _FRESH, sim_s),))
        )

    def set_derived(self, name: str, value: float | None) -> Sample | None:
        """Keep a number worked out from other signals; it does not age, its inputs do.

        Args:
            name: The derived signal.
            value: In its unit; None where it cannot be worked out, which makes it INVALID.

        Returns:
            The sample, None where it says what was known already.
        """
        quality = _INVALID if value is None else _FRESH
        old = self._samples.get(name)
        if old is not None and old.value == value and old.quality is quality:
            return None
        return self._store(Sample(name, value, quality, self.sim_s))

    def forget(self, names: Sequence[str]) -> None:
        """Take these signals as never seen."""
        for name in names:
            self._samples.pop(name, None)
            self.values.pop(name, None)
            self._stale.discard(name)

    def restart(self, epoch: int) -> None:
        """The simulator's clock jumped back: all is forgotten except the papers, which do not age."""
        self.epoch = epoch
        self.sim_s = 0.0
        self._started = False
        self._stale.clear()
        for name in [name for name in self._samples if name in self._max_ages_s]:
            del self._samples[name]
            self.values.pop(name, None)

    def _advance_clocks(self, frame: Frame) -> None:
        """Bring the clocks forward; a second link that runs a little behind does not turn them back."""
        recv_s, carried = frame.recv_s, frame.carried
        self.sim_s = max(self.sim_s, frame.sim_s) if self._started else frame.sim_s
        self._started = True
        if recv_s < self.recv_s or type(carried) is not tuple or len(self._pending_renewals) >= _MAX_PENDING:
            self._apply_renewals()
            self._renew(carried, recv_s)
        else:
            self._pending_renewals[id(carried)] = (carried, recv_s)
        self.recv_s = max(self.recv_s, recv_s)
        self._next_expiry_s = min(self._next_expiry_s, recv_s + self._min_max_age_s - _EXPIRY_MARGIN_S)

    def _apply_renewals(self) -> None:
        """Give each name the time of the latest bundle that carried it."""
        for names, recv_s in self._pending_renewals.values():
            self._renew(names, recv_s)
        self._pending_renewals.clear()

    def _renew(self, names: Sequence[str], recv_s: float) -> None:
        """Note that a link spoke of these signals; a later time stands."""
        carried = self._carried_at_s
        carried.update({name: recv_s for name in names if carried.get(name, recv_s) <= recv_s})

    def _validate(self, incoming: Sample) -> list[Sample]:
        """Keep a sample that needs a closer look; the sample as it counts, where anything changed."""
        name, value, quality, _ = incoming
        signal = self.signals.get(name)
        if signal is None:
            return []
        good = quality is _FRESH and is_valid(signal, value)
        sample = Sample(name, value, _FRESH, self.sim_s) if good else Sample(name, None, _INVALID, self.sim_s)
        old = self._samples.get(name)
        if old is not None and old.quality is sample.quality and old.value == sample.value:
            return []
        return [self._store(sample)]

    def _store(self, sample: Sample) -> Sample:
        """Make this the present sample of its signal."""
        name, value, quality, _ = sample
        self._samples[name] = sample
        if quality is _FRESH and value is not None:
            self.values[name] = value
        else:
            self.values.pop(name, None)
        if quality is _STALE:
            self._stale.add(name)
        else:
            self._stale.discard(name)
        return sample
