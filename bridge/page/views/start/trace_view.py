"""Strips for drawing: one that runs or one that was kept, in one shape, and which of them is meant.

Takes: a rig, and the key of a strip or ''.  Gives: `Trace`s, and what a card beside the drawing says of one.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import chain

from bridge.runtime.device import Device
from rules.judge.events import Finding, TraceColumn, TraceEnd, TraceMarkTime, TraceRecorded
from rules.judge.trace_recorder import TraceSnapshot
from rules.packs.model import TraceLimit
from rules.signals.model import Value
from rules.signals.number_format import format_value

START_PREFIX = "start"
"""Strips whose name begins so are engine starts; the newest of them is shown where none is asked for."""

MAX_CHOICES = 12
END_TEXTS = {
    TraceEnd.ENDED: "over",
    TraceEnd.MAX_DURATION: "no more kept: it took too long",
    TraceEnd.RESET: "broken off: the simulator's clock went back",
}


@dataclass(frozen=True, slots=True)
class TraceView:
    """A strip; `end` is None while it runs."""

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
        """From its beginning to its last sample."""
        return self.times_s[-1] - self.began_s if self.times_s else 0.0

    @property
    def plotted_columns(self) -> tuple[TraceColumn, ...]:
        """The columns that are numbers."""
        return tuple(column for column in self.columns if column.unit)

    def rows(self, after: int = 0) -> list[list[Value | None]]:
        """Seconds since its beginning and the number of each drawn column, from the sample numbered `after` on."""
        times = (round(time_s - self.began_s, 3) for time_s in self.times_s[after:])
        return [
            list(row)
            for row in zip(times, *(column.values[after:] for column in self.plotted_columns), strict=True)
        ]


@dataclass(frozen=True, slots=True)
class TraceChoice:
    """A strip among those that can be chosen."""

    key: str
    title: str
    began_s: float
    running: bool
    finding_count: int
    selected: bool


@dataclass(frozen=True, slots=True)
class TraceQuantity:
    """What the card says of one column; `number` is that of its drawing, -1 for a word."""

    plot_index: int
    label: str
    latest: str
    peak: str
    peak_s: float
    limits: tuple[str, ...]


def trace_key(trace_id: str, began_s: float) -> str:
    """What names one run of a strip; it stays when the strip is kept."""
    return f"{trace_id}-{began_s:.2f}"


def select_trace(device: Device, key: str) -> TraceView | None:
    """The strip of this key; where there is none, the engine start that runs or was last, or else any strip.

    Args:
        device: the device.
        key: as of `key_of`, or ''.
    """
    strips = list(_traces(device))
    meant = next((strip for strip in strips if key and _key(strip) == key), None)
    starts = (strip for strip in strips if _id(strip).rpartition(".")[2].startswith(START_PREFIX))
    strip = meant or next(chain(starts, strips), None)
    return None if strip is None else _trace_view(device, strip)


def trace_choices(device: Device, key: str) -> tuple[TraceChoice, ...]:
    """Those that can be chosen, the newest first."""
    found = [
        TraceChoice(
            _key(strip),
            strip.title,
            strip.began_s,
            isinstance(strip, TraceSnapshot),
            len(_findings(device, strip)),
            _key(strip) == key,
        )
        for strip in _traces(device)
    ]
    return tuple(found[:MAX_CHOICES])


def trace_quantities(trace: TraceView) -> tuple[TraceQuantity, ...]:
    """Every column in words."""
    drawn = {column.signal: number for number, column in enumerate(trace.plotted_columns)}
    labels = short_labels([column.label for column in trace.columns])
    return tuple(
        _quantity(trace, column, label, drawn.get(column.signal, -1))
        for column, label in zip(trace.columns, labels, strict=True)
    )


def short_labels(labels: Sequence[str]) -> list[str]:
    """Labels without the two words that half of them or more begin with ("engine 1")."""
    heads = Counter(" ".join(label.split()[:2]) for label in labels if len(label.split()) > 2)
    head, many = max(heads.items(), key=lambda found: found[1], default=("", 0))
    if 2 * many < len(labels):
        return list(labels)
    return [label.removeprefix(f"{head} ") for label in labels]


def _traces(device: Device) -> Iterator[TraceSnapshot | TraceRecorded]:
    """Those that run, then those that were kept, the newest first."""
    yield from sorted(device.session.judge.traces.snapshots, key=lambda strip: -strip.began_s)
    yield from reversed(device.journal.traces)


def _id(trace: TraceSnapshot | TraceRecorded) -> str:
    return trace.id if isinstance(trace, TraceSnapshot) else trace.trace


def _key(trace: TraceSnapshot | TraceRecorded) -> str:
    return trace_key(_id(trace), trace.began_s)


def _findings(device: Device, trace: TraceSnapshot | TraceRecorded) -> tuple[Finding, ...]:
    """What was found in it."""
    known = device.journal.findings
    if isinstance(trace, TraceRecorded):
        return tuple(known[number] for number in trace.findings if number in known)
    about = next((one.evidence_for for one in device.pack.traces if one.id == trace.id), frozenset[str]())
    return tuple(f for f in known.values() if f.item in about and f.sim_s >= trace.began_s)


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
    """The highest number of a column, and how long after the beginning it was; '' for a column without numbers."""
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
    return last[0].replace("_", " ") if isinstance(last[0], str) else format_value(last[0], column.unit)
