"""Loads the debrief of a session from its recording.

Takes: a recording and its pack.  Gives: `DebriefData`.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import replace
from pathlib import Path

from bridge.debrief.calculations import figure_calculations, off_stand_s, trip_sheet_values, values_at
from bridge.debrief.criteria import STABILISED_PREFIX
from bridge.debrief.event_fold import EventFold
from bridge.debrief.evidence import evidence_for, evidence_signals
from bridge.debrief.model import SESSION_RUNS, DebriefData, FindingDetail, ItemHistory, ItemInterval
from bridge.debrief.signal_samples import Samples
from bridge.debrief.time_axis import TimeAxis
from bridge.recording.reader import Recording, StoredEvent
from bridge.rejudge.load_input_log import InputLogLoader, LoadedInputLog, RecordedRequest
from rules.judge.events import ItemStatus
from rules.packs.model import Pack
from rules.packs.trip_values import strips_left_behind
from rules.signals.model import Value

Progress = Callable[[int], None]


def debrief_from_recording(
    recording: Recording, pack: Pack, progress: Progress = lambda _: None, *, name: str = ""
) -> DebriefData:
    """Load a session with the events that were recorded.

    Args:
        recording: the recording; afterwards its `fault` says where it breaks off.
        pack: the pack that judged it, loaded with the trip sheet of the recording.
        progress: gets the number of rows read since the last call.
        name: the name of the session, if it is known from the store.
    """
    loaded = InputLogLoader(recording, _ignore_request).load(progress)
    axis = TimeAxis(loaded)
    head = recording.head
    fold = EventFold(pack, axis, head.began_utc)
    undecodable = 0
    for (topic, data), frame_count in zip(loaded.outputs, loaded.frame_counts, strict=True):
        event = StoredEvent(topic, data).event()
        if event is None:
            undecodable += 1
        else:
            fold.fold(event, frame_count)
    trip_values = _last_trip_values(loaded, pack, head.trip.values)
    values = values_at(loaded.input_log, axis, off_stand_s(fold.phases, axis.to_s))
    return DebriefData(
        uuid=head.session,
        name=fold.name or name or head.name,
        course=head.course if fold.course is None else fold.course,
        device=head.device,
        device_title=head.title,
        began_utc=head.began_utc,
        ended_utc=_ended_utc(recording, fold, loaded),
        ending=_ending(recording, fold),
        program=head.program,
        pack=head.pack.id,
        pack_title=head.pack.title,
        pack_version=head.pack.version,
        trip_sheet_title=head.trip.title,
        disclaimer=pack.disclaimer,
        seats=pack.seats,
        crew=fold.crew,
        from_s=axis.from_s,
        to_s=axis.to_s,
        phases=tuple(fold.phases),
        item_histories=tuple(_item_histories(fold, pack, axis.to_s)),
        findings=tuple(_finding_details(fold, pack, loaded, axis, trip_values)),
        gates=fold.gates,
        calls=tuple(fold.calls),
        notices=tuple(fold.notices),
        remarks=tuple(fold.remarks),
        session_changes=tuple(fold.session_changes),
        flight_times=fold.journal.flight_times,
        traces=tuple(fold.traces),
        trip_values=trip_sheet_values(pack, trip_values),
        calculations=figure_calculations(pack, trip_values, values),
        faults=tuple(_faults(recording, pack, undecodable)),
        gaps=tuple(fold.gaps),
        waivers=tuple(fold.waivers),
        clock_resets=axis.clock_resets,
    )


def _ignore_request(*_: object) -> None:
    """Do not apply a recorded request: its effects are in the recorded events."""


def _last_trip_values(loaded: LoadedInputLog, pack: Pack, first: Mapping[str, Value]) -> dict[str, Value]:
    """The values of the trip sheet after its last update."""
    values = dict(first)
    for frame in sorted(loaded.input_log.events_before):
        for request in loaded.input_log.events_before[frame]:
            if isinstance(request, RecordedRequest):
                amended = request.trip_values(pack)
                values |= {} if strips_left_behind(values, amended) else amended
    return values


def _item_histories(fold: EventFold, pack: Pack, to_s: float) -> Iterator[ItemHistory]:
    """Every item of a flow whose status was known at some time, and every criterion of an approach, known or not."""
    numbers: dict[str, list[int]] = {}
    for number, detail in fold.findings.items():
        numbers.setdefault(detail.finding.item, []).append(number)
    for flow in pack.flows.values():
        for seat, items in flow.seats.items():
            for item in items:
                intervals = tuple(_intervals(fold.status_changes.get(item, []), to_s))
                if intervals or flow.id.startswith(STABILISED_PREFIX):
                    label, findings = pack.items[item].label, tuple(numbers.get(item, ()))
                    yield ItemHistory(item, label, flow.id, flow.title, flow.phase, seat, intervals, findings)


def _intervals(changes: list[tuple[float, ItemStatus]], to_s: float) -> Iterator[ItemInterval]:
    """Make intervals of status changes: those of no length are left out, equal neighbours are joined.

    `changes`  0 s open, 5 s met, 5 s lost, 9 s lost   and `to_s` 12 s
    gives      0 to 5 s open, 5 to 12 s lost           (met at 5 s lasted no time)
    """
    lasting = [
        change for n, change in enumerate(changes) if n + 1 == len(changes) or changes[n + 1][0] > change[0]
    ]
    distinct = [now for n, now in enumerate(lasting) if n == 0 or lasting[n - 1][1] is not now[1]]
    ends = [*(at_s for at_s, _ in distinct[1:]), to_s][: len(distinct)]
    for (from_s, status), end_s in zip(distinct, ends, strict=True):
        if end_s > from_s and status not in (ItemStatus.NO_DATA, ItemStatus.UNKNOWN):
            yield ItemInterval(from_s, end_s, status)


def _finding_details(
    fold: EventFold, pack: Pack, loaded: LoadedInputLog, axis: TimeAxis, trip_values: Mapping[str, Value]
) -> Iterator[FindingDetail]:
    """Every finding with its evidence, in the order of their numbers."""
    signals = {
        n: pack.signals[n] for one in fold.findings.values() for n in evidence_signals(one.finding, pack)
    }
    samples = Samples(loaded.input_log, axis, signals)
    trace_indexes = {n: index for index, trace in enumerate(fold.traces) for n in trace.record.findings}
    for number in sorted(fold.findings):
        detail = fold.findings[number]
        closed_s = detail.closed_at_s if detail.closed_at_s is not None else detail.at_s
        span = detail.at_s, closed_s, axis.to_s
        evidence = evidence_for(detail.finding, pack, samples, trip_values, span)
        yield replace(detail, trace_index=trace_indexes.get(number), evidence=evidence)


def _ending(recording: Recording, fold: EventFold) -> str:
    """The word `ended` for a session that ended, or a complete recording; '' for one that breaks off or still runs."""
    return "ended" if fold.ended_utc is not None or recording.fault is None else ""


def _ended_utc(recording: Recording, fold: EventFold, loaded: LoadedInputLog) -> float | None:
    """The end in seconds since 1970, or that of the recording where it breaks off; None for a session that still runs."""
    if fold.ended_utc is not None or recording.running or not loaded.utc:
        return fold.ended_utc
    return loaded.utc[-1]


def _faults(recording: Recording, pack: Pack, undecodable: int) -> Iterator[str]:
    """Sentences on the data that is missing, with the reason."""
    head = recording.head
    if recording.fault is not None:
        if recording.running:
            yield SESSION_RUNS
        else:
            yield f"{Path(recording.fault.place.file).name}: {recording.fault.what}. Later data is missing."
    if head.part > 1:
        yield f"The recording begins with its part {head.part}. Earlier data is missing."
    if undecodable:
        yield f"{undecodable} events were written by another version of the program and are left out."
    if (pack.id, pack.version) != (head.pack.id, head.pack.version):
        yield f"Titles are those of {pack.title} {pack.version}; it was judged by {head.pack.title} {head.pack.version}."
