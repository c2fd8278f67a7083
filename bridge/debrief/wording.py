"""A session in a paragraph, and the small words of the debrief.

Takes: an account.  Gives: sentences.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping
from datetime import UTC, datetime

from bridge.debrief.model import DebriefData, FindingDetail, GateTiming
from bridge.session.threat_error import ErrorClass
from bridge.terminal.live_view import format_sim_time
from rules.arithmetic.times import format_clock_time, format_duration
from rules.judge.events import FlightTimeRecorded
from rules.packs.model import Level, OooiMoment

_LEVELS = (Level.WARNING, Level.CAUTION, Level.ADVISORY)
_NUMBER_WORDS = (
    "no",
    "one",
    "two",
    "three",
    "four",
    "five",
    "six",
    "seven",
    "eight",
    "nine",
    "ten",
    "eleven",
    "twelve",
)


def summary(debrief: DebriefData) -> str:
    """What happened, in a paragraph."""
    return " ".join(
        sentence
        for sentence in (
            _crew_sentence(debrief),
            _findings_sentence(debrief),
            _gates_sentence(debrief),
            _first_topic(debrief),
        )
        if sentence
    )


def number_word(count: int) -> str:
    """A count in words where it is small."""
    return _NUMBER_WORDS[count] if count < len(_NUMBER_WORDS) else str(count)


def count_text(count: int, what: str, more: str = "") -> str:
    """`one finding`, `three findings`."""
    return f"{number_word(count)} {what if count == 1 else more or f'{what}s'}"


def pluralised(what: str, count: int) -> str:
    """`procedural errors` where there are several; what has no plural stays."""
    return what if count == 1 or what == ErrorClass.NOT_VERIFIABLE else f"{what}s"


def capitalised(text: str) -> str:
    """A text as the beginning of a sentence."""
    return text[:1].upper() + text[1:]


def long_date(utc: float) -> str:
    """`25 November 2026, 04:00 UTC`."""
    when = datetime.fromtimestamp(utc, UTC)
    return f"{when.day} {when:%B %Y, %H:%M} UTC"


def short_date(utc: float) -> str:
    """`2026-11-25 04:00`, UTC."""
    return f"{datetime.fromtimestamp(utc, UTC):%Y-%m-%d %H:%M}"


def time_of_day(utc: float) -> str:
    """`04:05:12`, UTC."""
    return f"{datetime.fromtimestamp(utc, UTC):%H:%M:%S}"


def words_of_id(word: str) -> str:
    """An id as words."""
    return str(word).replace("_", " ")


def joined(words: Iterable[str]) -> str:
    """`a, b and c`."""
    *most, last = list(words) or [""]
    return f"{', '.join(most)} and {last}" if most else last


def lead_text(detail: FindingDetail) -> str:
    """How long before the phase it was told."""
    lead_s = detail.finding.lead_s
    return "at once" if lead_s is None else f"{lead_s:.0f} s before"


def spare_text(gate: GateTiming) -> str:
    """How early all was ready."""
    passage = gate.passage
    if passage.entered_s is None:
        return "not entered"
    spare_s = passage.spare_s
    return "not ready" if spare_s is None else duration_text(spare_s)


def duration_text(seconds: float) -> str:
    """`42 s`, `3 min 05 s`, `1 h 08 min`."""
    if seconds < 60:
        return f"{seconds:.0f} s"
    if seconds < 3600:
        return f"{int(seconds // 60)} min {int(seconds % 60):02d} s"
    return format_duration(seconds)


def flight_moments(noted: Mapping[OooiMoment, FlightTimeRecorded]) -> list[tuple[str, str]]:
    """The moments of a flight that were seen, and the times between them."""
    found = [
        (
            str(moment),
            f"{format_clock_time(one.utc_s)} UTC" if one.utc_s is not None else format_sim_time(one.at_s),
        )
        for moment in OooiMoment
        if (one := noted.get(moment)) is not None
    ]
    last = noted.get(OooiMoment.IN)
    for name, between_s in (("block time", last.block_s), ("flight time", last.flight_s)) if last else ():
        if between_s is not None:
            found.append((name, format_duration(between_s)))
    return found


def _crew_sentence(debrief: DebriefData) -> str:
    crew = joined(f"{who} as {debrief.seats.get(seat, seat).lower()}" for seat, who in debrief.crew.items())
    course = f" of {debrief.course}" if debrief.course else ""
    flown = f"{crew} flew" if debrief.crew else "The crew flew"
    phases = debrief.phases
    way = f", from {phases[0].title.lower()} to {phases[-1].title.lower()}" if len(phases) > 1 else ""
    lasted = duration_text(debrief.to_s - debrief.from_s)
    return f"On {long_date(debrief.began_utc)} {flown} {debrief.name or 'a session'}{course} on {debrief.device_title or debrief.device}: {lasted}{way}."


def _findings_sentence(debrief: DebriefData) -> str:
    cases = debrief.findings
    if not cases:
        return f"Nothing was found wrong, and {count_text(len(debrief.notices), 'notice was', 'notices were')} given."
    levels = Counter(case.finding.level for case in cases)
    by_level = joined(f"{number_word(levels[level])} at {level}" for level in _LEVELS if levels[level])
    classes = Counter(case.error_class for case in cases)
    by_class = joined(_class_count(kind, count) for kind, count in classes.most_common())
    mended = sum(case.finding.closed_s is not None and not case.finding.carried for case in cases)
    carried = sum(case.finding.carried for case in cases)
    rest = len(cases) - mended - carried
    never = f"; {_was_or_were(rest)} not put right" if rest else ""
    return (
        f"There {'was' if len(cases) == 1 else 'were'} {count_text(len(cases), 'finding')} ({by_level}): {by_class}. "
        f"{_was_or_were(mended).capitalize()} put right in time; {_was_or_were(carried)} carried into the next phase{never}."
    )


def _was_or_were(count: int) -> str:
    """`none was`, `one was`, `two were`."""
    return f"{number_word(count) if count else 'none'} {'was' if count < 2 else 'were'}"


def _class_count(kind: ErrorClass, count: int) -> str:
    return (
        count_text(count, str(kind))
        if kind is not ErrorClass.NOT_VERIFIABLE
        else f"{number_word(count)} not verifiable"
    )


def _gates_sentence(debrief: DebriefData) -> str:
    entered = [gate.passage for gate in debrief.gates if gate.passage.entered_s is not None]
    if not entered:
        return ""
    late = [passage.title.lower() for passage in entered if passage.ready_s is None]
    if not late:
        return f"All {number_word(len(entered))} gates were ready when they were passed."
    return f"{count_text(len(entered) - len(late), 'gate').capitalize()} of {number_word(len(entered))} {'was' if len(entered) - len(late) == 1 else 'were'} ready when passed; not ready: {joined(late)}."


def _first_topic(debrief: DebriefData) -> str:
    """What to talk about first: the gravest that was carried, or else the gravest."""
    order = {level: place for place, level in enumerate(_LEVELS)}
    cases = sorted(
        debrief.findings,
        key=lambda case: (not case.finding.carried, order[case.finding.level], case.finding.number),
    )
    if not cases:
        return ""
    first = cases[0]
    return f"To talk about first, number {first.finding.number}: {first.finding.sentence} ({format_sim_time(first.finding.sim_s)})."
