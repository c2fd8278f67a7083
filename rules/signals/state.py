"""Signal state: all frames folded into the present samples of the aeroplane.

Takes: frames, and the monotonic clock.  Gives: the present sample of every signal, and after each step the
samples that changed.  A value that its signal cannot have (range, word, not finite) becomes INVALID here,
from any sender; a signal that no link has carried for longer than its age limit becomes STALE.

Ages are measured on the monotonic clock without the stalls: silences after which the sender goes on where it stopped.
Until then a silent signal becomes stale; then it is as if the stall had not been:

    arrival, s       10.0    10.1   (silence)   14.1    14.2
    simulator, s     500.0   500.1              500.2   500.3    no frame is missing
    quality          fresh   fresh  stale       fresh   fresh    fresh again at 500.1 s already
    age clock, s     10.0    10.1   ... 14.1    11.1    11.2     of 4 s silence 1 s counts
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence

from rules.signals.model import (
    Frame,
    Quality,
    Sample,
    Signal,
    SignalKind,
    Value,
    is_valid,
    stalled_s,
    value_range,
)

_FRESH, _INVALID, _STALE = Quality.FRESH, Quality.INVALID, Quality.STALE

# The next expiry is a lower bound: too early costs one check, too late would leave a stale value fresh.
_EXPIRY_MARGIN_S = 1e-6
_MAX_PENDING = 64


class SignalState:
    """Present samples of all signals.  Only one writer folds frames into it.

    Attributes:
        values: The fresh values by name; a name is in it exactly while its sample is FRESH.
        sim_s: The simulator's clock at the last step; within an epoch it never goes back.
        recv_s: The monotonic clock at the last step.
        stalled_s: Length of all stalls so far, in seconds.
        epoch: Increases when the simulator's clock jumps back.
    """

    def __init__(self, signals: Mapping[str, Signal]) -> None:
        """Start with every signal absent."""
        self.signals = signals
        self._values: dict[str, Value] = {}
        self.values: Mapping[str, Value] = self._values
        self.sim_s = 0.0
        self.recv_s = 0.0
        self.epoch = 0
        self.stalled_s = 0.0
        self._last_frame_recv_s = -math.inf
        self._stale_since_frame: list[str] = []
        self._samples: dict[str, Sample] = {}
        self._carried_at_s: dict[str, float] = {}
        self._latest_renewal_s = -math.inf
        # A link carries the same tuple of names in every frame: its time is recorded once, not once for each name.
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
        """Give the present sample; ABSENT where no link has ever carried the signal."""
        known = self._samples.get(name)
        return known if known is not None else Sample(name, None, Quality.ABSENT, self.sim_s)

    def has_sample(self, name: str) -> bool:
        """Check whether any link has ever carried the signal."""
        return name in self._samples

    def samples(self) -> dict[str, Sample]:
        """Copy the samples of all signals that a link has ever carried."""
        return dict(self._samples)

    def carried_at_s(self) -> dict[str, float]:
        """Copy the times at which a link last carried each signal, by the monotonic clock; stalls later count as no time."""
        self._apply_renewals()
        return {name: at_s + self.stalled_s for name, at_s in self._carried_at_s.items()}

    def expire(self, recv_s: float) -> list[Sample]:
        """Mark the samples that have become too old.

        Args:
            recv_s: The monotonic clock now.

        Returns:
            The samples that became STALE: last carried longer ago than their age limit.  The trip sheet never does.
        """
        self.recv_s = max(self.recv_s, recv_s)
        age_s = recv_s - self.stalled_s
        if age_s <= self._next_expiry_s:
            return []
        values, late = self._values, self._overdue(age_s)
        self._stale_since_frame += late
        return [self._store(Sample(name, values[name], _STALE, self.sim_s)) for name in late]

    def resume(self, frame: Frame) -> list[Sample]:
        """End a stall, before the frame after it is folded in; call it before `expire`.

        Returns:
            The samples that became stale in it and are FRESH again, at the simulator's time of the frame before.
        """
        stalled = stalled_s(frame, self._last_frame_recv_s, self.sim_s)
        if not stalled:
            return []
        self._apply_renewals()
        self.stalled_s += stalled
        due_s, ages, carried = frame.recv_s - self.stalled_s, self._max_ages_s, self._carried_at_s
        self._next_expiry_s = -math.inf
        back = [name for name in self._stale_since_frame if due_s <= carried[name] + ages[name]]
        return [
            self._store(Sample(name, self._samples[name].value, _FRESH, self.sim_s))
            for name in back
            if name in self._stale
        ]

    def would_expire(self, recv_s: float) -> bool:
        """Check whether `expire` would find a stale sample; changes no sample."""
        if recv_s - self.stalled_s <= self._next_expiry_s:
            return False
        late = self._overdue(recv_s - self.stalled_s)
        if late:
            self._next_expiry_s = -math.inf
        return bool(late)

    def _overdue(self, age_s: float) -> list[str]:
        """Find the fresh samples that are too old by the age clock, and compute when the next one may be."""
        self._apply_renewals()
        carried, ages, late = self._carried_at_s, self._max_ages_s, []
        self._next_expiry_s = math.inf
        for name in self._values:
            if name not in ages:
                continue
            due_s = carried.get(name, -math.inf) + ages[name]
            if age_s > due_s:
                late.append(name)
            elif due_s - _EXPIRY_MARGIN_S < self._next_expiry_s:
                self._next_expiry_s = due_s - _EXPIRY_MARGIN_S
        return late

    def fold(self, frame: Frame) -> list[Sample]:
        """Fold one frame into the state; call `resume` and `expire`, or for a new epoch `restart`, first.

        Args:
            frame: Contents of one datagram.  Signals that are not in the book are ignored; a change that is
                not among the carried names renews no age, and so is stale at the next check.

        Returns:
            The samples whose value or quality changed, in the frame's order; then those that were stale and that the
            link carried again, unchanged.
        """
        self._last_frame_recv_s = max(self._last_frame_recv_s, frame.recv_s)
        self._stale_since_frame.clear()
        return self._fold_changes(frame)

    def _fold_changes(self, frame: Frame) -> list[Sample]:
        self._advance_clocks(frame)
        now_s, values, samples, spans, words = (
            self.sim_s,
            self._values,
            self._samples,
            self._ranges,
            self._words,
        )
        changed: list[Sample] = []
        for incoming in frame.changes:
            name, value, quality, at_s = incoming
            ends = spans.get(name)
            fits = (
                ends[0] <= value <= ends[1] if ends and type(value) is float else value in words.get(name, ())
            )
            if not fits or quality is not _FRESH or at_s != now_s:
                changed += self._validate(incoming)
            elif value is not None and values.get(name) != value:
                values[name] = value
                samples[name] = incoming
                self._stale.discard(name)
                changed.append(incoming)
        for name in self._stale.intersection(frame.carried) if self._stale else ():
            changed.append(self._store(Sample(name, samples[name].value, _FRESH, now_s)))
        return changed

    def set_value(self, name: str, value: Value, sim_s: float) -> list[Sample]:
        """Set one signal by hand (trip sheet values, a static state); returns as `fold` does."""
        return self._fold_changes(
            Frame("", sim_s, self.recv_s, self.epoch, (name,), (Sample(name, value, _FRESH, sim_s),))
        )

    def set_derived(self, name: str, value: float | None) -> Sample | None:
        """Store a number computed from other signals; it does not age, its inputs do.

        Args:
            name: The derived signal.
            value: In its unit; None where it cannot be computed, which makes it INVALID.

        Returns:
            The sample, None where nothing changed.
        """
        if value is not None:  # in nearly every frame, for each figure of the fuel: no look at the old sample
            if self._values.get(name) == value:
                return None
            self._values[name] = value
            sample = self._samples[name] = Sample(name, value, _FRESH, self.sim_s)
            return sample
        old = self._samples.get(name)
        if old is not None and old.value is None and old.quality is _INVALID:
            return None
        return self._store(Sample(name, None, _INVALID, self.sim_s))

    def forget(self, names: Sequence[str]) -> None:
        """Remove these signals, as if never seen."""
        for name in names:
            self._samples.pop(name, None)
            self._values.pop(name, None)
            self._stale.discard(name)

    def restart(self, epoch: int) -> None:
        """Remove all samples but those that do not age (the trip sheet), after the simulator's clock jumped back."""
        self.epoch = epoch
        self.sim_s = 0.0
        self._started = False
        self._stale.clear()
        self._stale_since_frame.clear()
        for name in [name for name in self._samples if name in self._max_ages_s]:
            del self._samples[name]
            self._values.pop(name, None)

    def _advance_clocks(self, frame: Frame) -> None:
        """Advance the clocks; a second link that is a little behind does not set them back."""
        recv_s, carried = frame.recv_s, frame.carried
        self.sim_s = max(self.sim_s, frame.sim_s) if self._started else frame.sim_s
        self._started = True
        if recv_s < self.recv_s or type(carried) is not tuple or len(self._pending_renewals) >= _MAX_PENDING:
            self._apply_renewals()
            self._renew(carried, recv_s - self.stalled_s)
        else:
            self._pending_renewals[id(carried)] = (carried, recv_s - self.stalled_s)
        self.recv_s = max(self.recv_s, recv_s)
        due_s = recv_s - self.stalled_s + self._min_max_age_s - _EXPIRY_MARGIN_S
        self._next_expiry_s = min(self._next_expiry_s, due_s)

    def _apply_renewals(self) -> None:
        """Give each name the time of the latest name set that carried it."""
        for names, age_s in self._pending_renewals.values():
            self._renew(names, age_s)
        self._pending_renewals.clear()

    def _renew(self, names: Sequence[str], age_s: float) -> None:
        """Set the time, by the age clock, at which a link carried these signals; of two times the later counts."""
        carried = self._carried_at_s
        if age_s >= self._latest_renewal_s:
            self._latest_renewal_s = age_s
            carried.update(dict.fromkeys(names, age_s))
        else:
            carried.update({name: age_s for name in names if carried.get(name, age_s) <= age_s})

    def _validate(self, incoming: Sample) -> list[Sample]:
        """Validate a sample that is not an ordinary change; gives the stored sample, where anything changed."""
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
        """Store a sample as the present one of its signal."""
        name, value, quality, _ = sample
        self._samples[name] = sample
        if quality is _FRESH and value is not None:
            self._values[name] = value
        else:
            self._values.pop(name, None)
        if quality is _STALE:
            self._stale.add(name)
        else:
            self._stale.discard(name)
        return sample
