"""Texts of the debrief: the summary of a session, and texts of findings, gates and flight times.

Takes: `DebriefData`.  Gives: sentences.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence

from bridge.common.time_text import (
    duration_text,
    format_clock_time,
    format_duration,
    format_sim_time,
    long_date,
)
from bridge.debrief.gaps import listed_gaps
from bridge.debrief.model import DataGap, DebriefData, DebriefWaiver, FindingDetail, GateTiming
from bridge.session.gate_stats import GatePassage
from bridge.session.threat_error import ErrorClass
from rules.judge.events import TRIP_SHEET, FlightTimeRecorded
from rules.packs.model import Level, OooiMoment
from rules.words import capitalised, count_in_words, join_and, number_word, plural, uncapitalised

_LEVELS = (Level.WARNING, Level.CAUTION, Level.ADVISORY)
_MAX_WAIVERS = 5
_MAX_EVENTS = 6
_ROLES = {"atc": "ATC", "ground": "ground"}
"""Who is named without an article."""


def summary(debrief: DebriefData) -> str:
    """Summarise the session in one paragraph."""
    return " ".join(
        sentence
        for sentence in (
            _crew_sentence(debrief),
            _findings_sentence(debrief),
            _waivers_sentence(debrief),
            _gates_sentence(debrief),
            _first_topic(debrief),
        )
        if sentence
    )


def pluralised(noun: str, count: int) -> str:
    """The plural of an error class for any count but one; `not verifiable` has no plural."""
    return noun if noun == ErrorClass.NOT_VERIFIABLE else plural(noun, count)


def lead_text(detail: FindingDetail) -> str:
    """The time from the finding to its phase, or `at once`."""
    lead_s = detail.finding.lead_s
    return "at once" if lead_s is None else f"{lead_s:.0f} s before"


def spare_text(gate: GateTiming) -> str:
    """The time from the last item met to the gate's entry, `not ready`, or `not entered`."""
    passage = gate.passage
    if passage.entered_s is None:
        return "not entered"
    spare_s = passage.spare_s
    return "not ready" if spare_s is None else duration_text(spare_s)


def flight_moments(times: Mapping[OooiMoment, FlightTimeRecorded]) -> list[tuple[str, str]]:
    """The recorded moments of a flight, then its block time and flight time, each as name and text."""
    lines = [
        (
            str(moment),
            f"{format_clock_time(one.utc_s)} UTC" if one.utc_s is not None else format_sim_time(one.at_s),
        )
        for moment in OooiMoment
        if (one := times.get(moment)) is not None
    ]
    last = times.get(OooiMoment.IN)
    for name, between_s in (("block time", last.block_s), ("flight time", last.flight_s)) if last else ():
        if between_s is not None:
            lines.append((name, format_duration(between_s)))
    return lines


def _crew_sentence(debrief: DebriefData) -> str:
    crew = join_and(
        f"{person} as {debrief.seats.get(seat, seat).lower()}" for seat, person in debrief.crew.items()
    )
    course = f" of {debrief.course}" if debrief.course else ""
    if not debrief.phases:
        name, where = debrief.name or "a session", debrief.device_title or debrief.device
        return f"On {long_date(debrief.began_utc)}, no data came for {name}{course} on {where}: nothing was judged."
    flown = f"{crew} flew" if debrief.crew else "the crew flew"
    phases = debrief.phases
    route = f", from {phases[0].title.lower()} to {phases[-1].title.lower()}" if len(phases) > 1 else ""
    duration = duration_text(debrief.to_s - debrief.from_s)
    return f"On {long_date(debrief.began_utc)}, {flown} {debrief.name or 'a session'}{course} on {debrief.device_title or debrief.device}: {duration}{route}."


def gaps_sentence(gaps: Sequence[DataGap]) -> str:
    """List the times for which data were missing, by the simulator's clock: `1.8 s at 0:09:25`; '' for none."""
    if not gaps:
        return ""
    return f"{listed_gaps(gaps)}. What was done in that time is not known, and counts as no error."


def _findings_sentence(debrief: DebriefData) -> str:
    """Describe the errors, and apart from them what could not be verified."""
    if not debrief.phases:
        return ""
    doubts = sum(detail.error_class is ErrorClass.NOT_VERIFIABLE for detail in debrief.findings)
    verb = "was" if doubts == 1 else "were"
    doubted = f" {capitalised(count_in_words(doubts, 'item'))} {verb} not verifiable." if doubts else ""
    return f"{_errors_sentence(debrief)}{_events_sentence(debrief)}{doubted}"


def _events_sentence(debrief: DebriefData) -> str:
    """Name the events of the aeroplane, which are no errors of the crew; '' for none."""
    events = [detail.finding for detail in debrief.findings if detail.error_class is ErrorClass.THREAT]
    if not events:
        return ""
    named = join_and(
        dict.fromkeys(
            f"{uncapitalised(event.label)} at {format_sim_time(event.sim_s)}"
            for event in events[:_MAX_EVENTS]
        )
    )
    more = f" and {count_in_words(len(events) - _MAX_EVENTS, 'other')}" if len(events) > _MAX_EVENTS else ""
    return f" {capitalised(count_in_words(len(events), 'event'))} of the aeroplane: {named}{more}."


def errors(debrief: DebriefData) -> list[FindingDetail]:
    """The findings that are errors: not verifiable is a doubt, and a threat an event of the aeroplane."""
    no_errors = (ErrorClass.NOT_VERIFIABLE, ErrorClass.THREAT)
    return [detail for detail in debrief.findings if detail.error_class not in no_errors]


def _errors_sentence(debrief: DebriefData) -> str:
    details = errors(debrief)
    if not details:
        return f"There were no findings; {count_in_words(len(debrief.notices), 'notice was', 'notices were')} given."
    levels = Counter(detail.finding.level for detail in details)
    by_level = join_and(f"{number_word(levels[level])} at {level}" for level in _LEVELS if levels[level])
    classes = Counter(detail.error_class for detail in details)
    by_class = join_and(_class_count(kind, count) for kind, count in classes.most_common())
    carried = sum(detail.finding.carried for detail in details)
    ahead = [detail.finding for detail in details if not detail.finding.carried]
    waived = sum(finding.waived for finding in ahead)
    corrected = sum(finding.corrected for finding in ahead)
    rest = len(ahead) - corrected - waived
    not_corrected = f"; {_was_or_were(waived)} waived" if waived else ""
    not_corrected += f"; {_was_or_were(rest)} not corrected" if rest else ""
    return (
        f"There {'was' if len(details) == 1 else 'were'} {count_in_words(len(details), 'finding')} ({by_level}): {by_class}. "
        f"{capitalised(_was_or_were(corrected))} corrected in time; "
        f"{_was_or_were(carried)} carried into the next phase{not_corrected}."
    )


def author_text(by: str, seats: Mapping[str, str]) -> str:
    """Name who made a request: a seat by its title, a role, or a person."""
    if by in seats or by in ("cabin", "company", "instructor", TRIP_SHEET):
        return f"the {uncapitalised(seats.get(by, by))}"
    return _ROLES.get(by, by)


def _waivers_sentence(debrief: DebriefData) -> str:
    """Say which items were waived, by whom and why."""
    by_author: dict[str, list[DebriefWaiver]] = {}
    for waiver in debrief.waivers:
        by_author.setdefault(waiver.by, []).append(waiver)
    return " ".join(_waivers_by(by, waivers, debrief.seats) for by, waivers in by_author.items())


def _waivers_by(by: str, waivers: Sequence[DebriefWaiver], seats: Mapping[str, str]) -> str:
    """Say which items one author waived."""
    listed = [_waiver_text(waiver) for waiver in waivers[:_MAX_WAIVERS]]
    if len(waivers) > _MAX_WAIVERS:
        listed.append(count_in_words(len(waivers) - _MAX_WAIVERS, "other"))
    count = count_in_words(len(waivers), "item was", "items were")
    author = f" by {author_text(by, seats)}" if by else ""
    return f"{capitalised(count)} waived{author}: {join_and(listed)}."


def _waiver_text(waiver: DebriefWaiver) -> str:
    until = f"until {format_sim_time(waiver.to_s)}" if waiver.to_s is not None else ""
    known = "; ".join(filter(None, (waiver.reason, until)))
    return f"{uncapitalised(waiver.label)} ({known})" if known else uncapitalised(waiver.label)


def _was_or_were(count: int) -> str:
    """Write a count with its verb: `none was`, `one was`, `two were`."""
    return f"{number_word(count) if count else 'none'} {'was' if count < 2 else 'were'}"


def _class_count(kind: ErrorClass, count: int) -> str:
    return count_in_words(count, str(kind))


def _gates_sentence(debrief: DebriefData) -> str:
    entered = [gate.passage for gate in debrief.gates if gate.passage.entered_s is not None]
    if not entered:
        return ""
    late = [passage.title.lower() for passage in entered if passage.ready_s is None]
    if not late:
        return f"All {number_word(len(entered))} gates were ready when they were entered.{_judged_in_part(entered)}"
    ready = len(entered) - len(late)
    return (
        f"{capitalised(count_in_words(ready, 'gate'))} of {number_word(len(entered))} "
        f"{'was' if ready == 1 else 'were'} ready when entered; not ready: {join_and(late)}.{_judged_in_part(entered)}"
    )


def _judged_in_part(entered: Sequence[GatePassage]) -> str:
    """Name the gates at which not every need could be judged, '' where all could."""
    partly = [
        passage.title.lower()
        for passage in entered
        if passage.judged is not None and not passage.fully_judged
    ]
    return f" Judged in part: {join_and(partly)}." if partly else ""


def _first_topic(debrief: DebriefData) -> str:
    """Name the first topic: the most severe finding that was carried, or else the most severe one."""
    order = {level: rank for rank, level in enumerate(_LEVELS)}
    details = sorted(
        errors(debrief),
        key=lambda detail: (not detail.finding.carried, order[detail.finding.level], detail.finding.number),
    )
    if not details:
        return ""
    first = details[0].finding
    return f"First topic, number {first.number}: {first.crew_sentence} ({format_sim_time(first.sim_s)})."
