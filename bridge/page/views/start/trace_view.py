"""Selects a trace of a device, running or recorded, and prepares its plots and its card.

Takes: a device, and the key of a trace or ''.  Gives: `TraceView`s, `TraceChoice`s and `TraceQuantity`s.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import chain

from bridge.runtime.device import Device
from rules.judge.events import Finding, TraceColumn, TraceEnd, TraceMarkTime, TraceRecorded
from rules.judge.snapshot import TraceSnapshot
from rules.packs.model import TraceLimit
from rules.signals.model import Value
from rules.signals.number_format import format_value
from rules.words import words_of_id

START_PREFIX = "start"
"""Traces whose name begins with this are engine starts; the newest is shown if no trace is chosen."""

MAX_CHOICES = 12
END_TEXTS = {
    TraceEnd.ENDED: "ended",
    TraceEnd.MAX_DURATION: "stopped: longest duration reached",
    TraceEnd.RESET: "stopped: the simulator's clock was reset",
}


@dataclass(frozen=True, slots=True)
class TraceView:
    """One trace; `end` is None while it runs."""

    key: str
    id: str
    title: str
    began_s: float
    end: TraceEnd | None
    times_s: tuple[float, ...]
    columns: tuple[TraceColumn, ...]
    marks: tuple[TraceMarkTime, ...]
    limits: tuple[TraceLimit, ...]
    findings: tuple[Finding, ...]

    @property
    def duration_s(self) -> float:
        """Seconds from the beginning to the last sample."""
        return self.times_s[-1] - self.began_s if self.times_s else 0.0

    @property
    def plotted_columns(self) -> tuple[TraceColumn, ...]:
        """The numeric columns."""
        return tuple(column for column in self.columns if column.unit)

    def rows(self, after: int = 0) -> list[list[Value | None]]:
        """Return rows of the seconds since the beginning and the plotted values, from sample number `after`."""
        times = (round(time_s - self.began_s, 3) for time_s in self.times_s[after:])
        return [
            list(row)
            for row in zip(times, *(column.values[after:] for column in self.plotted_columns), strict=True)
        ]


@dataclass(frozen=True, slots=True)
class TraceChoice:
    """A trace in the list to choose from."""

    key: str
    title: str
    began_s: float
    running: bool
    finding_count: int
    selected: bool


@dataclass(frozen=True, slots=True)
class TraceQuantity:
    """One column on the card; `plot_index` is the number of its plot, -1 if its values are words."""

    plot_index: int
    label: str
    latest: str
    peak: str
    peak_s: float
    limits: tuple[str, ...]


def trace_key(trace_id: str, began_s: float) -> str:
    """Return the key of one run of a trace; it stays the same when the run has ended and is recorded."""
    return f"{trace_id}-{began_s:.2f}"


def select_trace(device: Device, key: str) -> TraceView | None:
    """Return the trace with this key, else the running or latest engine start, else the newest trace.

    Args:
        device: the device.
        key: a key as of `trace_key`, or ''.
    """
    traces = list(_traces(device))
    chosen = next((trace for trace in traces if key and _key(trace) == key), None)
    starts = (trace for trace in traces if _id(trace).rpartition(".")[2].startswith(START_PREFIX))
    trace = chosen or next(chain(starts, traces), None)
    return None if trace is None else _trace_view(device, trace)


def trace_choices(device: Device, key: str) -> tuple[TraceChoice, ...]:
    """Return the traces to choose from, the newest first."""
    found = [
        TraceChoice(
            _key(trace),
            trace.title,
            trace.began_s,
            isinstance(trace, TraceSnapshot),
            len(_findings(device, trace)),
            _key(trace) == key,
        )
        for trace in _traces(device)
    ]
    return tuple(found[:MAX_CHOICES])


def trace_quantities(trace: TraceView) -> tuple[TraceQuantity, ...]:
    """Return every column with its latest value, its peak and its limits."""
    plots = {column.signal: index for index, column in enumerate(trace.plotted_columns)}
    labels = short_labels([column.label for column in trace.columns])
    return tuple(
        _quantity(trace, column, label, plots.get(column.signal, -1))
        for column, label in zip(trace.columns, labels, strict=True)
    )


def short_labels(labels: Sequence[str]) -> list[str]:
    """Remove the two words that at least half of the labels begin with ("engine 1")."""
    heads = Counter(" ".join(label.split()[:2]) for label in labels if len(label.split()) > 2)
    head, count = max(heads.items(), key=lambda found: found[1], default=("", 0))
    if 2 * count < len(labels):
        return list(labels)
    return [label.removeprefix(f"{head} ") for label in labels]


def _traces(device: Device) -> Iterator[TraceSnapshot | TraceRecorded]:
    """Yield the running traces, then the recorded ones, each the newest first."""
    yield from sorted(device.session.current_snapshot().traces, key=lambda trace: -trace.began_s)
    yield from reversed(device.journal.traces)


def _id(trace: TraceSnapshot | TraceRecorded) -> str:
    return trace.id if isinstance(trace, TraceSnapshot) else trace.trace


def _key(trace: TraceSnapshot | TraceRecorded) -> str:
    return trace_key(_id(trace), trace.began_s)


def _findings(device: Device, trace: TraceSnapshot | TraceRecorded) -> tuple[Finding, ...]:
    """Return the findings that a trace is evidence for."""
    known = device.journal.findings
    if isinstance(trace, TraceRecorded):
        return tuple(known[number] for number in trace.findings if number in known)
    items = next((one.evidence_for for one in device.pack.traces if one.id == trace.id), frozenset[str]())
    return tuple(f for f in known.values() if f.item in items and f.sim_s >= trace.began_s)


def _trace_view(device: Device, trace: TraceSnapshot | TraceRecorded) -> TraceView:
    return TraceView(
        _key(trace),
        _id(trace),
        trace.title,
        trace.began_s,
        trace.end if isinstance(trace, TraceRecorded) else None,
        trace.times_s,
        trace.columns,
        trace.marks,
        trace.limits,
        _findings(device, trace),
    )


def _quantity(trace: TraceView, column: TraceColumn, label: str, number: int) -> TraceQuantity:
    limits = tuple(
        f"{limit.label} {format_value(limit.value, column.unit)}"
        for limit in trace.limits
        if limit.signal == column.signal
    )
    peak, peak_s = _peak(trace, column)
    return TraceQuantity(number, label, _latest_text(column, column.values[-1:]), peak, peak_s, limits)


def _peak(trace: TraceView, column: TraceColumn) -> tuple[str, float]:
    """Return a column's highest value and its time since the beginning; '' for a column without numbers."""
    numbers = [
        (value, -time_s)
        for time_s, value in zip(trace.times_s, column.values, strict=True)
        if isinstance(value, float | int) and column.unit
    ]
    if not numbers:
        return "", 0.0
    value, time_s = max(numbers)
    return format_value(value, column.unit), -time_s - trace.began_s


def _latest_text(column: TraceColumn, last: tuple[Value | None, ...]) -> str:
    if not last or last[0] is None:
        return "no data"
    return words_of_id(last[0]) if isinstance(last[0], str) else format_value(last[0], column.unit)
