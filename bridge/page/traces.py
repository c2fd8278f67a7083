"""Strips for drawing: one that runs or one that was kept, in one shape, and which of them is meant.

Takes: a rig, and the key of a strip or ''.  Gives: `Trace`s, and what a card beside the drawing says of one.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import chain

from bridge.rig import Rig
from rules.judge.entries import Finding, StripColumn, StripEnd, StripKept, StripMoment
from rules.judge.strips import StripPicture
from rules.packs.model import StripLimit
from rules.signals.model import Value
from rules.signals.numbers import say

START = "start"
"""Strips whose name begins so are engine starts; the newest of them is shown where none is asked for."""

MOST_LISTED = 12
ENDS = {
    StripEnd.ENDED: "over",
    StripEnd.LONGEST: "no more kept: it took too long",
    StripEnd.RESET: "broken off: the simulator's clock went back",
}


@dataclass(frozen=True, slots=True)
class Trace:
    """A strip; `end` is None while it runs."""

    key: str
    id: str
    title: str
    began_s: float
    end: StripEnd | None
    times_s: tuple[float, ...]
    columns: tuple[StripColumn, ...]
    marks: tuple[StripMoment, ...]
    limits: tuple[StripLimit, ...]
    findings: tuple[Finding, ...]

    @property
    def lasted_s(self) -> float:
        """From its beginning to its last sample."""
        return self.times_s[-1] - self.began_s if self.times_s else 0.0

    @property
    def drawn(self) -> tuple[StripColumn, ...]:
        """The columns that are numbers."""
        return tuple(column for column in self.columns if column.unit)

    def rows(self, after: int = 0) -> list[list[Value | None]]:
        """Seconds since its beginning and the number of each drawn column, from the sample numbered `after` on."""
        times = (round(time_s - self.began_s, 3) for time_s in self.times_s[after:])
        return [
            list(row) for row in zip(times, *(column.values[after:] for column in self.drawn), strict=True)
        ]


@dataclass(frozen=True, slots=True)
class Listed:
    """A strip among those that can be chosen."""

    key: str
    title: str
    began_s: float
    runs: bool
    findings: int
    chosen: bool


@dataclass(frozen=True, slots=True)
class Quantity:
    """What the card says of one column; `number` is that of its drawing, -1 for a word."""

    number: int
    label: str
    now: str
    peak: str
    peak_s: float
    limits: tuple[str, ...]


def key_of(strip: str, began_s: float) -> str:
    """What names one run of a strip; it stays when the strip is kept."""
    return f"{strip}-{began_s:.2f}"


def chosen(rig: Rig, key: str) -> Trace | None:
    """The strip of this key; where there is none, the engine start that runs or was last, or else any strip.

    Args:
        rig: the device.
        key: as of `key_of`, or ''.
    """
    strips = list(_strips(rig))
    meant = next((strip for strip in strips if key and _key(strip) == key), None)
    starts = (strip for strip in strips if _id(strip).rpartition(".")[2].startswith(START))
    strip = meant or next(chain(starts, strips), None)
    return None if strip is None else _trace(rig, strip)


def listed(rig: Rig, key: str) -> tuple[Listed, ...]:
    """Those that can be chosen, the newest first."""
    found = [
        Listed(
            _key(strip),
            strip.title,
            strip.began_s,
            isinstance(strip, StripPicture),
            len(_findings(rig, strip)),
            _key(strip) == key,
        )
        for strip in _strips(rig)
    ]
    return tuple(found[:MOST_LISTED])


def quantities(trace: Trace) -> tuple[Quantity, ...]:
    """Every column in words."""
    drawn = {column.signal: number for number, column in enumerate(trace.drawn)}
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


def _strips(rig: Rig) -> Iterator[StripPicture | StripKept]:
    """Those that run, then those that were kept, the newest first."""
    yield from sorted(rig.session.core.strips.running, key=lambda strip: -strip.began_s)
    yield from reversed(rig.journal.strips)


def _id(strip: StripPicture | StripKept) -> str:
    return strip.id if isinstance(strip, StripPicture) else strip.strip


def _key(strip: StripPicture | StripKept) -> str:
    return key_of(_id(strip), strip.began_s)


def _findings(rig: Rig, strip: StripPicture | StripKept) -> tuple[Finding, ...]:
    """What was found in it."""
    known = rig.journal.findings
    if isinstance(strip, StripKept):
        return tuple(known[number] for number in strip.findings if number in known)
    about = next((one.about for one in rig.pack.strips if one.id == strip.id), frozenset[str]())
    return tuple(f for f in known.values() if f.item in about and f.sim_s >= strip.began_s)


def _trace(rig: Rig, strip: StripPicture | StripKept) -> Trace:
    return Trace(
        _key(strip),
        _id(strip),
        strip.title,
        strip.began_s,
        strip.end if isinstance(strip, StripKept) else None,
        strip.times_s,
        strip.columns,
        strip.marks,
        strip.limits,
        _findings(rig, strip),
    )


def _quantity(trace: Trace, column: StripColumn, label: str, number: int) -> Quantity:
    limits = tuple(
        f"{limit.label} {say(limit.value, column.unit)}"
        for limit in trace.limits
        if limit.signal == column.signal
    )
    peak, peak_s = _peak(trace, column)
    return Quantity(number, label, _said(column, column.values[-1:]), peak, peak_s, limits)


def _peak(trace: Trace, column: StripColumn) -> tuple[str, float]:
    """The highest number of a column, and how long after the beginning it was; '' for a column without numbers."""
    numbers = [
        (value, -time_s)
        for time_s, value in zip(trace.times_s, column.values, strict=True)
        if isinstance(value, float | int) and column.unit
    ]
    if not numbers:
        return "", 0.0
    value, time_s = max(numbers)
    return say(value, column.unit), -time_s - trace.began_s


def _said(column: StripColumn, last: tuple[Value | None, ...]) -> str:
    if not last or last[0] is None:
        return "no data"
    return last[0].replace("_", " ") if isinstance(last[0], str) else say(last[0], column.unit)
