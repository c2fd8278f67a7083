"""Evidence of findings: the signals around each finding, and the limits with which they were compared.

Takes: the samples of a recording, findings.  Gives: `Evidence`.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from bridge.debrief.gaps import gaps_within
from bridge.debrief.model import Evidence, SignalSeries
from bridge.debrief.signal_samples import Samples
from bridge.session.finding_signals import signals_of_finding
from rules.judge.events import Finding
from rules.packs.condition_facts import ConditionLimit, limits_in
from rules.packs.model import Pack
from rules.signals.model import FIGURE_PREFIX, TRIP_PREFIX, Value

BEFORE_S, AFTER_S, LONGEST_S = 60.0, 30.0, 600.0
MAX_SERIES = 8


def evidence_signals(finding: Finding, pack: Pack) -> tuple[str, ...]:
    """The names of the aeroplane's signals that a finding reads; a figure counts as its input signals."""
    watches = {watch.id: watch for watch in pack.watches}
    figures = {figure.signal.name: figure for figure in pack.figures}
    names: dict[str, None] = {}

    def add(name: str, depth: int) -> None:
        if name in figures and depth:
            for read in figures[name].input_signals:
                add(read, depth - 1)
        elif name in pack.signals and not name.startswith((TRIP_PREFIX, FIGURE_PREFIX)):
            names[name] = None

    for name in sorted(signals_of_finding(finding, pack, watches)):
        add(name, 3)
    return tuple(names)


def evidence_for(
    finding: Finding,
    pack: Pack,
    samples: Samples,
    trip_values: Mapping[str, Value],
    span: tuple[float, float, float],
) -> Evidence | None:
    """Collect the signals around a finding and their limits; None if none of its signals has a value.

    Args:
        finding: the finding.
        pack: the pack that judged it.
        samples: the samples of the recording.
        trip_values: the values of the trip sheet.
        span: its opening, its close (its opening while it is open) and the end of the session, in seconds on the axis.
    """
    at_s, closed_s, end_s = span
    from_s = at_s - BEFORE_S
    to_s = min(closed_s + AFTER_S, from_s + LONGEST_S, max(end_s, at_s + 1.0))
    series = [_series(name, pack, samples, from_s, to_s) for name in evidence_signals(finding, pack)]
    drawn = [one for one in series if one.times_s]
    drawn.sort(key=lambda one: -len(set(one.values)))  # stable: equals keep the order of their names
    shown = tuple(drawn[:MAX_SERIES])
    if not shown:
        return None
    names = {one.signal for one in shown}
    constants = {**trip_values, **_constant_values(drawn)}
    limits = tuple(limit for limit in limits_of(finding, pack, constants) if limit.signal in names)
    omitted = tuple(one.label for one in drawn[MAX_SERIES:])
    return Evidence(from_s, to_s, shown, limits, omitted, gaps_within(samples.gaps, from_s, to_s))


def _constant_values(series: Iterable[SignalSeries]) -> dict[str, Value]:
    """The signals that had one value only around the finding, with it: they set limits for other signals.

    For `flight.airspeed <= speeds.vref + 20 kt` with a constant VREF the limit is the line VREF plus 20 kt.
    """
    known = {one.signal: {value for value in one.values if value is not None} for one in series}
    return {signal: values.pop() for signal, values in known.items() if len(values) == 1}


def _series(name: str, pack: Pack, samples: Samples, from_s: float, to_s: float) -> SignalSeries:
    signal = pack.signals[name]
    times, values = samples.between(name, from_s, to_s)
    return SignalSeries(name, signal.label, signal.unit, signal.words, tuple(times), tuple(values))


def limits_of(finding: Finding, pack: Pack, trip_values: Mapping[str, Value]) -> tuple[ConditionLimit, ...]:
    """The constant values with which the condition of a finding compares its signals.

    Args:
        finding: the finding.
        pack: the pack that judged it.
        trip_values: the values of the trip sheet, and those of signals that did not change.
    """
    item = pack.items.get(finding.item)
    watch = next((watch for watch in pack.watches if watch.id == finding.item), None)
    condition = item.condition if item is not None else watch.expect if watch is not None else None
    return limits_in(condition, trip_values)
