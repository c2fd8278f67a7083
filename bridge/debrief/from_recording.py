"""Gathers a session from its recording.

Takes: a recording and its pack.  Gives: `Account`.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from pathlib import Path
from typing import Any

import msgspec

from bridge.debrief.calculations import figure_calculations, off_stand_s, trip_sheet_values, values_at
from bridge.debrief.event_fold import EventFold, FindingSpan, gate_and_phase_titles
from bridge.debrief.evidence import evidence_for, evidence_signals
from bridge.debrief.model import DebriefData, FindingDetail, ItemHistory, ItemInterval
from bridge.debrief.signal_samples import Samples
from bridge.debrief.time_axis import TimeAxis
from bridge.recording.file_format import EVENT_TYPES
from bridge.recording.reader import Recording
from bridge.rejudge.load_input_log import InputLogLoader, LoadedInputLog, RecordedRequest
from bridge.session.threat_error import ThreatErrorClassifier, management_text
from rules.judge.events import ItemStatus
from rules.packs.model import Pack
from rules.signals.model import Value

Progress = Callable[[int], None]


def debrief_from_recording(
    recording: Recording, pack: Pack, progress: Progress = lambda _: None, *, name: str = ""
) -> DebriefData:
    """Gather a session as it was told when it was recorded.

    Args:
        recording: what was recorded; its `fault` says afterwards where it breaks off.
        pack: by which it was judged, loaded with the papers of the recording.
        progress: hears how many rows were read since the last time.
        name: what the session is called, where that is known from elsewhere.
    """
    taped = InputLogLoader(recording, _ignore_request).load(progress)
    axis = TimeAxis(taped)
    head = recording.head
    story = EventFold(pack, axis, head.began_utc)
    strange = 0
    for (topic, data), place in zip(taped.outputs, taped.frame_counts, strict=True):
        told = _decode_entry(topic, data)
        if told is None:
            strange += 1
        else:
            story.fold(told, place)
    papers = _last_trip_values(taped, pack, head.trip.values)
    values = values_at(taped.input_log, axis, off_stand_s(story.phases, axis.to_s))
    return DebriefData(
        uuid=head.session,
        name=story.name or name or head.name,
        course=story.course or head.course,
        device=head.device,
        device_title=head.title,
        began_utc=head.began_utc,
        ended_utc=story.ended_utc or (taped.utc[-1] if taped.utc else None),
        ending=_ending(recording, story),
        program=head.program,
        pack=head.pack.id,
        pack_title=head.pack.title,
        pack_version=head.pack.version,
        trip_sheet_title=head.trip.title,
        caution=pack.disclaimer,
        seats=pack.seats,
        crew=story.crew,
        from_s=axis.from_s,
        to_s=axis.to_s,
        phases=tuple(story.phases),
        item_histories=tuple(_item_histories(story, pack, axis.to_s)),
        findings=tuple(_finding_details(story, pack, taped, axis, papers)),
        gates=story.gates,
        calls=tuple(story.calls),
        notices=tuple(story.notices),
        remarks=tuple(story.remarks),
        session_events=tuple(story.session_events),
        flight_times=story.journal.flight_times,
        traces=tuple(story.traces),
        trip_values=trip_sheet_values(pack, papers),
        calculations=figure_calculations(pack, papers, values),
        faults=tuple(_faults(recording, pack, strange)),
        clock_resets=axis.clock_resets,
    )


_DECODERS = {topic: msgspec.json.Decoder(kind) for topic, kind in EVENT_TYPES.items()}


def _decode_entry(topic: str, data: bytes) -> Any:  # noqa: ANN401 - an entry or note of any kind
    """What was told; None where another program told it."""
    decoder = _DECODERS.get(topic)
    try:
        return decoder.decode(data) if decoder is not None else None
    except msgspec.MsgspecError:
        return None


def _ignore_request(*_: object) -> None:
    """Grants nothing: what was recorded is taken as it is."""


def _last_trip_values(taped: LoadedInputLog, pack: Pack, first: Mapping[str, Value]) -> dict[str, Value]:
    """The papers as they were amended last."""
    papers = dict(first)
    for place in sorted(taped.input_log.events_before):
        for asked in taped.input_log.events_before[place]:
            if isinstance(asked, RecordedRequest):
                papers |= asked.trip_values(pack)
    return papers


def _item_histories(fold: EventFold, pack: Pack, to_s: float) -> Iterator[ItemHistory]:
    """Every item of every flow of which something was seen."""
    numbers: dict[str, list[int]] = {}
    for number, found in fold.findings.items():
        numbers.setdefault(found.finding.item, []).append(number)
    for flow in pack.flows.values():
        for seat, items in flow.seats.items():
            for item in items:
                stretches = tuple(_intervals(fold.life_changes.get(item, []), to_s))
                if stretches:
                    label, found_in = pack.items[item].label, tuple(numbers.get(item, ()))
                    yield ItemHistory(item, label, flow.id, flow.title, flow.phase, seat, stretches, found_in)


def _intervals(life_changes: list[tuple[float, ItemStatus]], to_s: float) -> Iterator[ItemInterval]:
    """For how long it stood as it did; what lasted no time is left out, what went on being so is one stretch."""
    lasting = [
        life_changes[at]
        for at in range(len(life_changes))
        if at + 1 == len(life_changes) or life_changes[at + 1][0] > life_changes[at][0]
    ]
    changes = [now for at, now in enumerate(lasting) if at == 0 or lasting[at - 1][1] is not now[1]]
    ends = [*(at_s for at_s, _ in changes[1:]), to_s][: len(changes)]
    for (from_s, life), end_s in zip(changes, ends, strict=True):
        if end_s > from_s and life is not ItemStatus.NO_DATA:
            yield ItemInterval(from_s, end_s, life)


def _finding_details(
    fold: EventFold, pack: Pack, taped: LoadedInputLog, axis: TimeAxis, trip_values: Mapping[str, Value]
) -> Iterator[FindingDetail]:
    """Every finding with its evidence, in the order of their numbers."""
    wanted = {
        n: pack.signals[n] for found in fold.findings.values() for n in evidence_signals(found.finding, pack)
    }
    samples = Samples(taped.input_log, axis, wanted)
    sorter = ThreatErrorClassifier(pack)
    gates, phases = gate_and_phase_titles(pack)
    in_strip = {n: at for at, strip in enumerate(fold.traces) for n in strip.record.findings}
    for number in sorted(fold.findings):
        found = fold.findings[number]
        yield FindingDetail(
            found.finding,
            sorter.classify(found.finding),
            management_text(found.finding),
            gates.get(found.finding.gate, found.finding.gate),
            phases.get(found.finding.phase, found.finding.phase),
            found.at_s,
            found.closed_at_s,
            found.utc,
            found.person,
            in_strip.get(number),
            evidence_for(found.finding, pack, samples, trip_values, _span(found, axis)),
        )


def _span(finding_span: FindingSpan, axis: TimeAxis) -> tuple[float, float, float]:
    closed_s = finding_span.closed_at_s if finding_span.closed_at_s is not None else finding_span.at_s
    return finding_span.at_s, closed_s, axis.to_s


def _ending(recording: Recording, fold: EventFold) -> str:
    """Ended where it is whole; one that breaks off may be written still, so nothing is said of it."""
    return "ended" if fold.ended_utc is not None or recording.fault is None else ""


def _faults(recording: Recording, pack: Pack, undecodable: int) -> Iterator[str]:
    """What is missing, and why."""
    head = recording.head
    if recording.fault is not None:
        part = Path(recording.fault.place.file).name
        yield f"{part}: {recording.fault.what}. What came after is missing here."
    if head.part > 1:
        yield f"The recording begins with its part {head.part}; what came before is missing here."
    if undecodable:
        yield f"{undecodable} entries were written by another version of the program and are left out."
    if (pack.id, pack.version) != (head.pack.id, head.pack.version):
        yield f"Titles are those of {pack.title} {pack.version}; it was judged by {head.pack.title} {head.pack.version}."
