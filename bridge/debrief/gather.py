"""Gathers a session from its recording.

Takes: a recording and its pack.  Gives: `Account`.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from pathlib import Path
from typing import Any

import msgspec

from bridge.debrief.account import Account, Bar, Case, Stretch
from bridge.debrief.axis import Axis
from bridge.debrief.evidence import evidence_for, reads_of
from bridge.debrief.reckoning import leaving_s, planned, reckoned, state_at
from bridge.debrief.samples import Samples
from bridge.debrief.story import Found, Story, titles
from bridge.record.form import KINDS
from bridge.record.reader import Recording
from bridge.rejudge.taping import Hand, Taped, Taping
from bridge.threat_error import Sorter, managed
from rules.judge.entries import Life
from rules.packs.model import Pack
from rules.signals.model import Value

Progress = Callable[[int], None]


def account_of_recording(
    recording: Recording, pack: Pack, progress: Progress = lambda _: None, *, name: str = ""
) -> Account:
    """Gather a session as it was told when it was recorded.

    Args:
        recording: what was recorded; its `fault` says afterwards where it breaks off.
        pack: by which it was judged, loaded with the papers of the recording.
        progress: hears how many rows were read since the last time.
        name: what the session is called, where that is known from elsewhere.
    """
    taped = Taping(recording, _nobody).read(progress)
    axis = Axis(taped)
    head = recording.head
    story = Story(pack, axis, head.began_utc)
    strange = 0
    for (topic, data), place in zip(taped.outputs, taped.places, strict=True):
        told = _decoded(topic, data)
        if told is None:
            strange += 1
        else:
            story.take(told, place)
    papers = _papers(taped, pack, head.trip.values)
    values = state_at(taped.tape, axis, leaving_s(story.stages, axis.to_s))
    return Account(
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
        papers_title=head.trip.title,
        caution=pack.caution,
        seats=pack.seats,
        crew=story.crew,
        from_s=axis.from_s,
        to_s=axis.to_s,
        stages=tuple(story.stages),
        bars=tuple(_bars(story, pack, axis.to_s)),
        cases=tuple(_cases(story, pack, taped, axis, papers)),
        gates=story.gates,
        calls=tuple(story.calls),
        notices=tuple(story.notices),
        remarks=tuple(story.remarks),
        notes=tuple(story.notes),
        times=story.journal.times,
        strips=tuple(story.strips),
        papers=planned(pack, papers),
        working=reckoned(pack, papers, values),
        faults=tuple(_faults(recording, pack, strange)),
        jumps=axis.jumps,
    )


_DECODERS = {topic: msgspec.json.Decoder(kind) for topic, kind in KINDS.items()}


def _decoded(topic: str, data: bytes) -> Any:  # noqa: ANN401 - an entry or note of any kind
    """What was told; None where another program told it."""
    decoder = _DECODERS.get(topic)
    try:
        return decoder.decode(data) if decoder is not None else None
    except msgspec.MsgspecError:
        return None


def _nobody(*_: object) -> None:
    """Grants nothing: what was recorded is taken as it is."""


def _papers(taped: Taped, pack: Pack, first: Mapping[str, Value]) -> dict[str, Value]:
    """The papers as they were amended last."""
    papers = dict(first)
    for place in sorted(taped.tape.between):
        for asked in taped.tape.between[place]:
            if isinstance(asked, Hand):
                papers |= asked.papers(pack)
    return papers


def _bars(story: Story, pack: Pack, to_s: float) -> Iterator[Bar]:
    """Every item of every flow of which something was seen."""
    numbers: dict[str, list[int]] = {}
    for number, found in story.found.items():
        numbers.setdefault(found.finding.item, []).append(number)
    for flow in pack.flows.values():
        for seat, items in flow.seats.items():
            for item in items:
                stretches = tuple(_stretches(story.lives.get(item, []), to_s))
                if stretches:
                    label, found_in = pack.items[item].label, tuple(numbers.get(item, ()))
                    yield Bar(item, label, flow.id, flow.title, flow.phase, seat, stretches, found_in)


def _stretches(lives: list[tuple[float, Life]], to_s: float) -> Iterator[Stretch]:
    """For how long it stood as it did; what lasted no time is left out, what went on being so is one stretch."""
    lasting = [
        lives[at] for at in range(len(lives)) if at + 1 == len(lives) or lives[at + 1][0] > lives[at][0]
    ]
    changes = [now for at, now in enumerate(lasting) if at == 0 or lasting[at - 1][1] is not now[1]]
    ends = [*(at_s for at_s, _ in changes[1:]), to_s][: len(changes)]
    for (from_s, life), end_s in zip(changes, ends, strict=True):
        if end_s > from_s and life is not Life.NO_DATA:
            yield Stretch(from_s, end_s, life)


def _cases(story: Story, pack: Pack, taped: Taped, axis: Axis, papers: Mapping[str, Value]) -> Iterator[Case]:
    """Every finding with its evidence, in the order of their numbers."""
    wanted = {n: pack.signals[n] for found in story.found.values() for n in reads_of(found.finding, pack)}
    samples = Samples(taped.tape, axis, wanted)
    sorter = Sorter(pack)
    gates, phases = titles(pack)
    in_strip = {n: at for at, strip in enumerate(story.strips) for n in strip.kept.findings}
    for number in sorted(story.found):
        found = story.found[number]
        yield Case(
            found.finding,
            sorter.error_class(found.finding),
            managed(found.finding),
            gates.get(found.finding.gate, found.finding.gate),
            phases.get(found.finding.phase, found.finding.phase),
            found.at_s,
            found.closed_at_s,
            found.utc,
            found.person,
            in_strip.get(number),
            evidence_for(found.finding, pack, samples, papers, _span(found, axis)),
        )


def _span(found: Found, axis: Axis) -> tuple[float, float, float]:
    closed_s = found.closed_at_s if found.closed_at_s is not None else found.at_s
    return found.at_s, closed_s, axis.to_s


def _ending(recording: Recording, story: Story) -> str:
    """Ended where it is whole; one that breaks off may be written still, so nothing is said of it."""
    return "ended" if story.ended_utc is not None or recording.fault is None else ""


def _faults(recording: Recording, pack: Pack, strange: int) -> Iterator[str]:
    """What is missing, and why."""
    head = recording.head
    if recording.fault is not None:
        part = Path(recording.fault.place.file).name
        yield f"{part}: {recording.fault.what}. What came after is missing here."
    if head.part > 1:
        yield f"The recording begins with its part {head.part}; what came before is missing here."
    if strange:
        yield f"{strange} entries were written by another version of the program and are left out."
    if (pack.id, pack.version) != (head.pack.id, head.pack.version):
        yield f"Titles are those of {pack.title} {pack.version}; it was judged by {head.pack.title} {head.pack.version}."
