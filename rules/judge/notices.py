"""Notices: what the crew is told, when, and how often.

A finding is told when it opens, and again with a growing interval while it is open and its gate is still ahead.  What
opens anew within that interval waits for its end, unless it was mended and undone.  A quiet period holds back the
levels that it names; when it ends, one notice sums up what is still open.

Takes: findings as they open and close.  Gives: Notice entries, at the end of each step, the gravest first.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable
from dataclasses import dataclass

from rules.judge.entries import Finding, Notice
from rules.judge.findings import About, Family
from rules.judge.session import Session, quiet_id
from rules.judge.wording import notice_text, still_open_text, summary_text
from rules.packs.model import FindingKind, Level

BACK_OFF_S = (30.0, 60.0, 120.0)
"""Seconds of the simulator's time until the first, second, ... telling anew; the last one goes on."""

_GRAVEST = {Level.WARNING: 0, Level.CAUTION: 1, Level.ADVISORY: 2}


@dataclass(slots=True)
class Telling:
    """How far the back-off about one thing has got."""

    told_s: float
    step: int = 0
    finding: int = 0
    repeats: int = 0

    @property
    def next_s(self) -> float:
        """When it may be told again."""
        return self.told_s + BACK_OFF_S[min(self.step, len(BACK_OFF_S) - 1)]


class Teller:
    """Decides what of the findings is told now."""

    def __init__(self, session: Session, sentence: Callable[[About, Finding], str]) -> None:
        """Nothing told yet.

        Args:
            session: The common ground.
            sentence: Why a finding is still open, as it stands now.
        """
        self._session = session
        self._sentence = sentence
        self._open: dict[int, tuple[About, Finding]] = {}
        self._tellings: dict[About, Telling] = {}
        self._queue: list[int] = []
        self._held: set[int] = set()
        self._quiets: dict[str, tuple[Level, ...]] = {}
        self._gate: dict[int, str] = {}

    @property
    def quiet(self) -> tuple[Level, ...]:
        """The levels that are held back now."""
        return tuple(level for level in Level if any(level in held for held in self._quiets.values()))

    def begin(self) -> None:
        """Forget what is open, told and held."""
        self._open.clear()
        self._tellings.clear()
        self._queue.clear()
        self._held.clear()
        self._quiets.clear()
        self._gate.clear()

    def opened(self, about: About, finding: Finding, *, again: bool) -> None:
        """A finding opened: it is told at the end of this step, or when its back-off lets it.

        Args:
            about: What it is about.
            finding: The finding.
            again: It had been met and was undone; that is always news.
        """
        self._open[finding.number] = (about, finding)
        self._gate[finding.number] = finding.gate
        told = self._tellings.get(about)
        if told is not None and not again and self._session.sim_s < told.next_s:
            self._session.timers.set(_key(about), told.next_s)
        else:
            self._tellings.pop(about, None)
            self._queue.append(finding.number)

    def still_open(self, number: int, gate: str) -> None:
        """A later gate finds the same open: it is told before that one, as soon as its back-off lets it."""
        if number in self._queue:
            return  # it is told in this step, for the first gate
        about, _ = self._open[number]
        self._gate[number] = gate
        told = self._tellings.get(about)
        if told is not None and self._session.sim_s < told.next_s:
            self._session.timers.set(_key(about), told.next_s)
        else:
            self._queue.append(number)

    def closed(self, number: int) -> None:
        """A finding closed: it is not told any more."""
        self._gate.pop(number, None)
        self._open.pop(number, None)
        self._held.discard(number)

    def forget(self, about: About) -> None:
        """What was told about this counts as never told."""
        self._tellings.pop(about, None)
        self._session.timers.drop(_key(about))

    def resume(self, gate: str) -> None:
        """The gate is cued again: what was told and is still open goes on where it was."""
        timers = self._session.timers
        for number, (about, _) in self._open.items():
            if self._gate[number] == gate and about in self._tellings and not timers.waiting(_key(about)):
                # Its time came while the gate waited.
                timers.set(_key(about), self._session.sim_s)

    def due(self, family: str, gate: str, item: str) -> None:
        """The back-off about one thing is over; it is told again if it is still open and there is time to act."""
        about = About(Family(family), gate, item)
        for number, (other, finding) in self._open.items():
            if other == about and self._worth_telling(about, finding, self._gate[number]):
                self._queue.append(number)

    def flush(self, changed: Collection[str]) -> None:
        """End the step: tell what is to be told.

        Args:
            changed: The ids of the conditions whose truth changed.
        """
        released = self._look_at_quiets(changed)
        if self._queue:
            self._tell(self._queue)
            self._queue = []
        if released:
            self._sum_up()

    def _worth_telling(self, about: About, finding: Finding, gate: str) -> bool:
        """Whether telling it again serves: the gate is still ahead, and the crew about to go."""
        if finding.kind is FindingKind.NOT_VERIFIABLE:
            told = self._tellings.get(about)
            return told is None or told.finding != finding.number
        if about.family is Family.NEED:
            return gate in self._session.cued
        return not about.gate or about.gate in self._session.in_play

    def _tell(self, numbers: Iterable[int]) -> None:
        """Tell these findings, gravest first; one item is told once in a step, for its first gate."""
        told: set[tuple[Family, str]] = set()
        for about, finding in sorted((self._open[n] for n in numbers if n in self._open), key=_gravest):
            if finding.level in self.quiet:
                self._held.add(finding.number)
                continue
            repeats = self._note_told(about, finding)
            if (about.family, about.item) not in told:
                told.add((about.family, about.item))
                self._say(finding, self._sentence(about, finding), repeats)

    def _note_told(self, about: About, finding: Finding) -> int:
        """Count a telling and set the time of the next; returns how often this finding was told before."""
        now_s = self._session.sim_s
        last = self._tellings.get(about)
        step = 0 if last is None else last.step + 1
        repeats = last.repeats + 1 if last is not None and last.finding == finding.number else 0
        telling = Telling(now_s, step, finding.number, repeats)
        self._tellings[about] = telling
        self._session.timers.set(_key(about), telling.next_s)
        return repeats

    def _say(self, finding: Finding, sentence: str, repeats: int) -> None:
        """Put one notice among the entries."""
        gate = self._gate[finding.number]
        if gate == finding.gate:
            text = notice_text(finding, sentence, self._session.title(gate))
        else:
            text = still_open_text(sentence, self._session.title(gate))
        self._session.say(
            Notice(
                self._session.sim_s,
                finding.level,
                finding.seat,
                finding.item,
                gate,
                text,
                repeats,
                finding.number,
            )
        )

    def _look_at_quiets(self, changed: Collection[str]) -> bool:
        """Let quiet periods begin and end; one whose signals are lost goes on as it was.

        Returns:
            Whether something may be told that was held back.
        """
        before = self.quiet if self._quiets else ()
        for quiet in self._session.pack.quiets:
            if quiet_id(quiet.id) not in changed:
                continue
            truth = self._session.monitors.truth(quiet_id(quiet.id))
            if truth:
                self._quiets[quiet.id] = quiet.holds
            elif truth is False:
                self._quiets.pop(quiet.id, None)
        return bool(self._held) and bool(set(before) - set(self.quiet))

    def _sum_up(self) -> None:
        """Tell in one notice what was held back and is still open."""
        ready = [self._open[n] for n in self._held if self._open[n][1].level not in self.quiet]
        ready.sort(key=_gravest)
        self._held -= {finding.number for _, finding in ready}
        if not ready:
            return
        for about, finding in ready:
            self._note_told(about, finding)
        sentences = [self._sentence(about, finding) for about, finding in ready]
        self._session.say(_summary(self._session.sim_s, [f for _, f in ready], sentences))


def _summary(sim_s: float, findings: list[Finding], sentences: list[str]) -> Notice:
    """One notice for all of them, at the gravest level; it names seat and item where they have one in common."""
    seats = {finding.seat for finding in findings}
    alone = len(findings) == 1
    first = findings[0]
    return Notice(
        sim_s,
        first.level,
        first.seat if len(seats) == 1 else "",
        first.item if alone else "",
        first.gate if alone else "",
        summary_text(list(dict.fromkeys(sentences))),
        finding=first.number if alone else 0,
    )


def _gravest(entry: tuple[About, Finding]) -> tuple[int, int]:
    """Gravest first, then in the order of the record."""
    return _GRAVEST[entry[1].level], entry[1].number


def _key(about: About) -> tuple[str, str, str]:
    """The timer for telling this again."""
    return f"tell {about.family}", about.gate, about.item
