"""A session in a paragraph, and the small words of the debrief.

Takes: an account.  Gives: sentences.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping
from datetime import UTC, datetime

from bridge.debrief.account import Account, Case, GatePassed
from bridge.screen import clock
from bridge.threat_error import ErrorClass
from rules.arithmetic.times import clock_time, span_in_words
from rules.judge.entries import TimeNoted
from rules.packs.model import Level, Moment

_LEVELS = (Level.WARNING, Level.CAUTION, Level.ADVISORY)
_SMALL = (
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


def summary(account: Account) -> str:
    """What happened, in a paragraph."""
    return " ".join(
        sentence
        for sentence in (_who(account), _found(account), _gates(account), _lesson(account))
        if sentence
    )


def number(count: int) -> str:
    """A count in words where it is small."""
    return _SMALL[count] if count < len(_SMALL) else str(count)


def counted(count: int, what: str, more: str = "") -> str:
    """`one finding`, `three findings`."""
    return f"{number(count)} {what if count == 1 else more or f'{what}s'}"


def of_many(what: str, count: int) -> str:
    """`procedural errors` where there are several; what has no plural stays."""
    return what if count == 1 or what == ErrorClass.UNSEEN else f"{what}s"


def begun(text: str) -> str:
    """A text as the beginning of a sentence."""
    return text[:1].upper() + text[1:]


def day(utc: float) -> str:
    """`25 November 2026, 04:00 UTC`."""
    when = datetime.fromtimestamp(utc, UTC)
    return f"{when.day} {when:%B %Y, %H:%M} UTC"


def date(utc: float) -> str:
    """`2026-11-25 04:00`, UTC."""
    return f"{datetime.fromtimestamp(utc, UTC):%Y-%m-%d %H:%M}"


def time_of_day(utc: float) -> str:
    """`04:05:12`, UTC."""
    return f"{datetime.fromtimestamp(utc, UTC):%H:%M:%S}"


def plain(word: str) -> str:
    """An id as words."""
    return str(word).replace("_", " ")


def listed(words: Iterable[str]) -> str:
    """`a, b and c`."""
    *most, last = list(words) or [""]
    return f"{', '.join(most)} and {last}" if most else last


def lead(case: Case) -> str:
    """How long before the phase it was told."""
    lead_s = case.finding.lead_s
    return "at once" if lead_s is None else f"{lead_s:.0f} s before"


def spare(passed: GatePassed) -> str:
    """How early all was ready."""
    passage = passed.passage
    if passage.entered_s is None:
        return "not entered"
    spare_s = passage.spare_s
    return "not ready" if spare_s is None else span(spare_s)


def span(seconds: float) -> str:
    """`42 s`, `3 min 05 s`, `1 h 08 min`."""
    if seconds < 60:
        return f"{seconds:.0f} s"
    if seconds < 3600:
        return f"{int(seconds // 60)} min {int(seconds % 60):02d} s"
    return span_in_words(seconds)


def moments(noted: Mapping[Moment, TimeNoted]) -> list[tuple[str, str]]:
    """The moments of a flight that were seen, and the times between them."""
    found = [
        (str(moment), f"{clock_time(one.utc_s)} UTC" if one.utc_s is not None else clock(one.at_s))
        for moment in Moment
        if (one := noted.get(moment)) is not None
    ]
    last = noted.get(Moment.IN)
    for name, between_s in (("block time", last.block_s), ("flight time", last.flight_s)) if last else ():
        if between_s is not None:
            found.append((name, span_in_words(between_s)))
    return found


def _who(account: Account) -> str:
    crew = listed(f"{who} as {account.seats.get(seat, seat).lower()}" for seat, who in account.crew.items())
    course = f" of {account.course}" if account.course else ""
    flown = f"{crew} flew" if account.crew else "The crew flew"
    phases = account.stages
    way = f", from {phases[0].title.lower()} to {phases[-1].title.lower()}" if len(phases) > 1 else ""
    lasted = span(account.to_s - account.from_s)
    return f"On {day(account.began_utc)} {flown} {account.name or 'a session'}{course} on {account.device_title or account.device}: {lasted}{way}."


def _found(account: Account) -> str:
    cases = account.cases
    if not cases:
        return f"Nothing was found wrong, and {counted(len(account.notices), 'notice was', 'notices were')} given."
    levels = Counter(case.finding.level for case in cases)
    by_level = listed(f"{number(levels[level])} at {level}" for level in _LEVELS if levels[level])
    classes = Counter(case.error_class for case in cases)
    by_class = listed(_class(kind, count) for kind, count in classes.most_common())
    mended = sum(case.finding.closed_s is not None and not case.finding.carried for case in cases)
    carried = sum(case.finding.carried for case in cases)
    rest = len(cases) - mended - carried
    never = f"; {_were(rest)} not put right" if rest else ""
    return (
        f"There {'was' if len(cases) == 1 else 'were'} {counted(len(cases), 'finding')} ({by_level}): {by_class}. "
        f"{_were(mended).capitalize()} put right in time; {_were(carried)} carried into the next phase{never}."
    )


def _were(count: int) -> str:
    """`none was`, `one was`, `two were`."""
    return f"{number(count) if count else 'none'} {'was' if count < 2 else 'were'}"


def _class(kind: ErrorClass, count: int) -> str:
    return counted(count, str(kind)) if kind is not ErrorClass.UNSEEN else f"{number(count)} not verifiable"


def _gates(account: Account) -> str:
    entered = [gate.passage for gate in account.gates if gate.passage.entered_s is not None]
    if not entered:
        return ""
    late = [passage.title.lower() for passage in entered if passage.ready_s is None]
    if not late:
        return f"All {number(len(entered))} gates were ready when they were passed."
    return f"{counted(len(entered) - len(late), 'gate').capitalize()} of {number(len(entered))} {'was' if len(entered) - len(late) == 1 else 'were'} ready when passed; not ready: {listed(late)}."


def _lesson(account: Account) -> str:
    """What to talk about first: the gravest that was carried, or else the gravest."""
    order = {level: place for place, level in enumerate(_LEVELS)}
    cases = sorted(
        account.cases,
        key=lambda case: (not case.finding.carried, order[case.finding.level], case.finding.number),
    )
    if not cases:
        return ""
    first = cases[0]
    return f"To talk about first, number {first.finding.number}: {first.finding.sentence} ({clock(first.finding.sim_s)})."
