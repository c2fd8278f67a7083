"""Notices: what the crew is told, when, and how often.

A finding is told when it opens, and again with a growing interval while it is open and its gate is still ahead.  What
opens anew within that interval waits for its end, unless it was mended and undone.  A quiet period holds back the
levels that it names; when it ends, one notice sums up what is still open.

Takes: findings as they open and close.  Gives: Notice entries, at the end of each step, the gravest first.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable
from dataclasses import dataclass

from rules.judge.condition_ids import quiet_id
from rules.judge.context import JudgeContext
from rules.judge.events import Finding, Notice
from rules.judge.findings import FindingKey, RuleKind
from rules.judge.wording import notice_text, still_open_text, summary_text
from rules.packs.model import FindingKind, Level

REPEAT_INTERVALS_S = (30.0, 60.0, 120.0)
"""Seconds of the simulator's time until the first, second, ... telling anew; the last one goes on."""

_SEVERITY = {Level.WARNING: 0, Level.CAUTION: 1, Level.ADVISORY: 2}


@dataclass(slots=True)
class RepeatState:
    """How far the back-off about one thing has got."""

    issued_s: float
    interval_index: int = 0
    finding: int = 0
    repeats: int = 0

    @property
    def next_s(self) -> float:
        """When it may be told again."""
        return self.issued_s + REPEAT_INTERVALS_S[min(self.interval_index, len(REPEAT_INTERVALS_S) - 1)]


class NoticeScheduler:
    """Decides what of the findings is told now."""

    def __init__(self, context: JudgeContext, sentence: Callable[[FindingKey, Finding], str]) -> None:
        """Nothing told yet.

        Args:
            context: The common ground.
            sentence: Why a finding is still open, as it stands now.
        """
        self._context = context
        self._sentence = sentence
        self._open: dict[int, tuple[FindingKey, Finding]] = {}
        self._repeat_states: dict[FindingKey, RepeatState] = {}
        self._queue: list[int] = []
        self._held_back: set[int] = set()
        self._quiet_periods: dict[str, tuple[Level, ...]] = {}
        self._gate_of: dict[int, str] = {}

    @property
    def quiet_levels(self) -> tuple[Level, ...]:
        """The levels that are held back now."""
        return tuple(level for level in Level if any(level in held for held in self._quiet_periods.values()))

    def reset(self) -> None:
        """Forget what is open, told and held."""
        self._open.clear()
        self._repeat_states.clear()
        self._queue.clear()
        self._held_back.clear()
        self._quiet_periods.clear()
        self._gate_of.clear()

    def opened(self, key: FindingKey, finding: Finding, *, undone: bool) -> None:
        """A finding opened: it is told at the end of this step, or when its back-off lets it.

        Args:
            key: What it is about.
            finding: The finding.
            undone: It had been met and was undone; that is always news.
        """
        self._open[finding.number] = (key, finding)
        self._gate_of[finding.number] = finding.gate
        told = self._repeat_states.get(key)
        if told is not None and not undone and self._context.sim_s < told.next_s:
            self._context.timers.set(_timer_key(key), told.next_s)
        else:
            self._repeat_states.pop(key, None)
            self._queue.append(finding.number)

    def repeated_at_gate(self, number: int, gate: str) -> None:
        """A later gate finds the same open: it is told before that one, as soon as its back-off lets it."""
        if number in self._queue:
            return  # it is told in this step, for the first gate
        about, _ = self._open[number]
        self._gate_of[number] = gate
        told = self._repeat_states.get(about)
        if told is not None and self._context.sim_s < told.next_s:
            self._context.timers.set(_timer_key(about), told.next_s)
        else:
            self._queue.append(number)

    def closed(self, number: int) -> None:
        """A finding closed: it is not told any more."""
        self._gate_of.pop(number, None)
        self._open.pop(number, None)
        self._held_back.discard(number)

    def reset_repeat(self, key: FindingKey) -> None:
        """What was told about this counts as never told."""
        self._repeat_states.pop(key, None)
        self._context.timers.cancel(_timer_key(key))

    def gate_cued_again(self, gate: str) -> None:
        """The gate is cued again: what was told and is still open goes on where it was."""
        timers = self._context.timers
        for number, (about, _) in self._open.items():
            if (
                self._gate_of[number] == gate
                and about in self._repeat_states
                and not timers.is_set(_timer_key(about))
            ):
                # Its time came while the gate waited.
                timers.set(_timer_key(about), self._context.sim_s)

    def repeat_due(self, rule_kind: str, gate: str, item: str) -> None:
        """The back-off about one thing is over; it is told again if it is still open and there is time to act."""
        about = FindingKey(RuleKind(rule_kind), gate, item)
        for number, (other, finding) in self._open.items():
            if other == about and self._worth_repeating(about, finding, self._gate_of[number]):
                self._queue.append(number)

    def flush(self, changed: Collection[str]) -> None:
        """End the step: tell what is to be told.

        Args:
            changed: The ids of the conditions whose truth changed.
        """
        released = self._update_quiet_periods(changed)
        if self._queue:
            self._issue(self._queue)
            self._queue = []
        if released:
            self._issue_summary()

    def _worth_repeating(self, key: FindingKey, finding: Finding, gate: str) -> bool:
        """Whether telling it again serves: the gate is still ahead, and the crew about to go."""
        if finding.kind is FindingKind.NOT_VERIFIABLE:
            told = self._repeat_states.get(key)
            return told is None or told.finding != finding.number
        if key.rule_kind is RuleKind.NEED:
            return gate in self._context.cued_gates
        return not key.gate or key.gate in self._context.active_gates

    def _issue(self, numbers: Iterable[int]) -> None:
        """Tell these findings, gravest first; one item is told once in a step, for its first gate."""
        told: set[tuple[RuleKind, str]] = set()
        for about, finding in sorted((self._open[n] for n in numbers if n in self._open), key=_severity_rank):
            if finding.level in self.quiet_levels:
                self._held_back.add(finding.number)
                continue
            repeats = self._record_issue(about, finding)
            if (about.rule_kind, about.item) not in told:
                told.add((about.rule_kind, about.item))
                self._emit(finding, self._sentence(about, finding), repeats)

    def _record_issue(self, key: FindingKey, finding: Finding) -> int:
        """Count a telling and set the time of the next; returns how often this finding was told before."""
        now_s = self._context.sim_s
        last = self._repeat_states.get(key)
        step = 0 if last is None else last.interval_index + 1
        repeats = last.repeats + 1 if last is not None and last.finding == finding.number else 0
        telling = RepeatState(now_s, step, finding.number, repeats)
        self._repeat_states[key] = telling
        self._context.timers.set(_timer_key(key), telling.next_s)
        return repeats

    def _emit(self, finding: Finding, sentence: str, repeats: int) -> None:
        """Put one notice among the entries."""
        gate = self._gate_of[finding.number]
        if gate == finding.gate:
            text = notice_text(finding, sentence, self._context.gate_title(gate))
        else:
            text = still_open_text(sentence, self._context.gate_title(gate))
        self._context.emit(
            Notice(
                self._context.sim_s,
                finding.level,
                finding.seat,
                finding.item,
                gate,
                text,
                repeats,
                finding.number,
            )
        )

    def _update_quiet_periods(self, changed: Collection[str]) -> bool:
        """Let quiet periods begin and end; one whose signals are lost goes on as it was.

        Returns:
            Whether something may be told that was held back.
        """
        before = self.quiet_levels if self._quiet_periods else ()
        for quiet in self._context.pack.quiet_periods:
            if quiet_id(quiet.id) not in changed:
                continue
            truth = self._context.monitors.truth(quiet_id(quiet.id))
            if truth:
                self._quiet_periods[quiet.id] = quiet.holds
            elif truth is False:
                self._quiet_periods.pop(quiet.id, None)
        return bool(self._held_back) and bool(set(before) - set(self.quiet_levels))

    def _issue_summary(self) -> None:
        """Tell in one notice what was held back and is still open."""
        ready = [self._open[n] for n in self._held_back if self._open[n][1].level not in self.quiet_levels]
        ready.sort(key=_severity_rank)
        self._held_back -= {finding.number for _, finding in ready}
        if not ready:
            return
        for about, finding in ready:
            self._record_issue(about, finding)
        sentences = [self._sentence(about, finding) for about, finding in ready]
        self._context.emit(_summary(self._context.sim_s, [f for _, f in ready], sentences))


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


def _severity_rank(pair: tuple[FindingKey, Finding]) -> tuple[int, int]:
    """Gravest first, then in the order of the record."""
    return _SEVERITY[pair[1].level], pair[1].number


def _timer_key(key: FindingKey) -> tuple[str, str, str]:
    """The timer for telling this again."""
    return f"repeat {key.rule_kind}", key.gate, key.item
