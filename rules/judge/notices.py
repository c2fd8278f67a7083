"""Notices: which findings the crew hears of, when, and how often.

A finding gives a notice when it opens, and further ones at growing intervals while it is open and its gate is ahead.  If
the same error opens again within an interval, its notice waits for the end of the interval, unless the item was met and
undone.  A later gate that finds it open tells it again, but not within the first interval.  While its item is met again, within its clear time, no notice is due; it waits for the end of that time.

Two joint notices have several findings, one notice for each level: the summary at the end of a quiet period, which held
back the levels that it names; and the reminder at the cue of a gate, once for each gate, of the warnings and cautions that
are open beside the needs of the gate.  A reminder leaves out an error of which any notice was given within the first
interval, and a sentence that was, such as that of a need and a watch on the same door.

Takes: findings as they open and close.  Gives: `Notice` events at the end of each step: those of single findings, then the
summary, then the reminders, each with the most severe first.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable
from collections.abc import Set as AbstractSet
from itertools import groupby
from math import inf

from rules.judge.condition_ids import applies_id, expect_id
from rules.judge.context import JudgeContext
from rules.judge.events import Finding, LeadIn, Notice
from rules.judge.finding_sentences import FindingSentence
from rules.judge.findings import FindingKey, RuleKind
from rules.judge.quiet_periods import QuietPeriods
from rules.judge.repeat_state import REPEAT_INTERVALS_S, RepeatState, intervals_of, most_notices
from rules.judge.wording import lead_in_of, notice_text, with_rule_name
from rules.packs.model import FindingKind, Level

_SEVERITY = {Level.WARNING: 0, Level.CAUTION: 1, Level.ADVISORY: 2}


class NoticeScheduler:
    """Decides which findings give a notice in this step."""

    def __init__(
        self, context: JudgeContext, sentence: Callable[[FindingKey, Finding], FindingSentence | None]
    ) -> None:
        """Start without notices.

        Args:
            context: State of the judge.
            sentence: Gives the sentence of an open finding by the present values; None while it is met again.
        """
        self._context = context
        self._sentence = sentence
        self._open: dict[int, tuple[FindingKey, Finding]] = {}
        self._repeat_states: dict[FindingKey, RepeatState] = {}
        self._queue: list[int] = []
        self._held_back: set[int] = set()
        self._quiet_periods = QuietPeriods(context)
        self._gate_of: dict[int, str] = {}
        self._reminded: set[str] = set()
        self._reminders: list[tuple[str, frozenset[str]]] = []
        self._told_s: dict[str, float] = {}

    @property
    def quiet_levels(self) -> tuple[Level, ...]:
        """Levels that are held back."""
        return self._quiet_periods.levels

    def reset(self) -> None:
        """Forget open findings, notices and quiet periods."""
        self._open.clear()
        self._repeat_states.clear()
        self._queue.clear()
        self._held_back.clear()
        self._quiet_periods.reset()
        self._gate_of.clear()
        self._reminded.clear()
        self._reminders.clear()
        self._told_s.clear()

    def opened(self, key: FindingKey, finding: Finding, *, undone: bool) -> None:
        """Schedule the notice of a finding that opened: for this step, or for the end of its interval.

        Args:
            key: Key of the finding.
            finding: The finding.
            undone: True if the item had been met; such a finding gives a notice at once.
        """
        self._open[finding.number] = (key, finding)
        self._gate_of[finding.number] = finding.gate
        repeat = self._repeat_states.get(key)
        if repeat is not None and not undone and self._context.sim_s < repeat.next_s:
            self._context.timers.set(_timer_key(key), repeat.next_s)
        else:
            self._repeat_states.pop(key, None)
            self._queue.append(finding.number)

    def repeated_at_gate(self, number: int, gate: str) -> None:
        """Schedule the notice for a later gate that finds the same error open: now, but not twice within the first interval."""
        if number in self._queue:
            return  # this step gives its notice, for the first gate
        key, _ = self._open[number]
        self._gate_of[number] = gate
        repeat, now_s = self._repeat_states.get(key), self._context.sim_s
        if repeat is not None and now_s < repeat.next_s and repeat.told_within_first_interval(now_s):
            self._context.timers.set(_timer_key(key), repeat.next_s)
        else:
            self._queue.append(number)

    def closed(self, number: int) -> None:
        """Drop a finding that closed."""
        self._gate_of.pop(number, None)
        self._open.pop(number, None)
        self._held_back.discard(number)

    def reset_repeat(self, key: FindingKey) -> None:
        """Forget the notices about this."""
        self._repeat_states.pop(key, None)
        self._context.timers.cancel(_timer_key(key))

    def gate_cued_again(self, gate: str) -> None:
        """Continue the repeated notices of a gate that is cued again."""
        timers = self._context.timers
        for number, (key, _) in self._open.items():
            if (
                self._gate_of[number] == gate
                and key in self._repeat_states
                and not timers.is_set(_timer_key(key))
            ):
                # The interval ended while the gate had no cue.
                timers.set(_timer_key(key), self._context.sim_s)

    def gate_active(self, gate: str) -> None:
        """Start a new round of a gate, in which one reminder may be given."""
        self._reminded.discard(gate)

    def gate_cued(self, gate: str, needs: Collection[str]) -> None:
        """Schedule the reminder of a gate, once in its round.

        Args:
            gate: The gate that is cued.
            needs: Ids of its needs, which have notices of their own.
        """
        if gate not in self._reminded:
            self._reminded.add(gate)
            self._reminders.append((gate, frozenset(needs)))

    def repeat_due(self, rule_kind: str, gate: str, item: str) -> None:
        """Repeat a notice at the end of its interval, if the error is open and there is time to act."""
        key = FindingKey(RuleKind(rule_kind), gate, item)
        for number, (other, finding) in self._open.items():
            if other != key:
                continue
            if key.rule_kind is RuleKind.WATCH and not self._is_violated(item):
                # Not known, or holding again: it is no fact now, but may be one when its clear time is over.
                later_s = max(1.0, self._context.watches[item].clear_s)
                self._context.timers.set(_timer_key(key), self._context.sim_s + later_s)
            elif self._worth_repeating(key, finding, self._gate_of[number]):
                self._queue.append(number)

    def _is_violated(self, watch: str) -> bool:
        """True if a watch is known to apply and not to hold."""
        truth, applies = self._context.monitors.truth, self._context.watches[watch].applies
        return truth(expect_id(watch)) is False and (applies is None or truth(applies_id(watch)) is True)

    def flush(self, changed: Collection[str]) -> None:
        """Emit the notices of this step.

        Args:
            changed: Ids of the conditions whose truth changed.
        """
        released = self._quiet_periods.update(changed) and bool(self._held_back)
        if self._queue:
            self._issue(self._queue)
            self._queue = []
        if released:
            self._issue_summary()
        for gate, needs in self._reminders:
            self._issue_reminder(gate, needs)
        self._reminders = []

    def _worth_repeating(self, key: FindingKey, finding: Finding, gate: str) -> bool:
        """True if the gate is ahead and its cue is given, so that the crew can still act.

        What no crew can put right is told once or twice; the reminder of one gate names it again.
        """
        state = self._repeat_states.get(key)
        told = state.repeats + 1 if state is not None and state.finding == finding.number else 0
        if told >= most_notices(finding, repeats=self._repeats(key)):
            return False
        if key.rule_kind is RuleKind.NEED:
            return gate in self._context.cued_gates
        return not key.gate or key.gate in self._context.active_gates

    def _repeats(self, key: FindingKey) -> bool:
        """False for a watch that has one notice."""
        return key.rule_kind is not RuleKind.WATCH or self._context.watches[key.item].repeats

    def _issue(self, numbers: Iterable[int]) -> None:
        """Emit the notices of these findings, the most severe first; one for each item, for its first gate."""
        repeat: set[tuple[RuleKind, str]] = set()
        for key, finding in sorted((self._open[n] for n in numbers if n in self._open), key=_severity_rank):
            if self._quiet_periods.holds(finding):
                self._held_back.add(finding.number)
                continue
            sentence = self._sentence(key, finding)
            if sentence is None:
                self._wait_for_clear_time(key)
                continue
            repeats = self._record_issue(key, finding)
            if (key.rule_kind, key.item) not in repeat:
                repeat.add((key.rule_kind, key.item))
                self._emit(finding, sentence, repeats)

    def _wait_for_clear_time(self, key: FindingKey) -> None:
        """Set the notice of what is met again to the end of its clear time, when it is closed, or open again."""
        pack = self._context.pack
        subject = self._context.watches[key.item] if key.rule_kind is RuleKind.WATCH else pack.items[key.item]
        self._context.timers.set(_timer_key(key), self._context.sim_s + subject.clear_s)

    def _record_issue(self, key: FindingKey, finding: Finding) -> int:
        """Count a notice and set the time of the next; returns the number of earlier notices of this finding."""
        now_s = self._context.sim_s
        last = self._repeat_states.get(key)
        index = 0 if last is None else last.interval_index + 1
        repeats = last.repeats + 1 if last is not None and last.finding == finding.number else 0
        repeat = RepeatState(now_s, index, finding.number, repeats, intervals_s=intervals_of(finding))
        self._repeat_states[key] = repeat
        self._context.timers.set(_timer_key(key), repeat.next_s)
        return repeats

    def _emit(self, finding: Finding, sentence: FindingSentence, repeats: int) -> None:
        """Emit one notice."""
        self._told_s[sentence.text] = self._context.sim_s
        gate = self._gate_of[finding.number]
        lead_in = lead_in_of(finding, gate)
        named = lead_in is LeadIn.NONE and not sentence.own
        reason = with_rule_name(finding, sentence.text) if named else sentence.text
        text = notice_text(lead_in, (reason,), self._context.gate_title(gate), finding.label)
        self._context.emit(
            Notice(
                self._context.sim_s,
                finding.level,
                self._seat(finding),
                finding.item,
                gate,
                text,
                repeats,
                finding.number,
                lead_in,
                (reason,),
            )
        )

    def _issue_reminder(self, gate: str, needs: Collection[str]) -> None:
        """Remind of what is open beside the needs of a gate; the intervals of its own notices go on."""
        ready = [pair for pair in self._open.values() if self._worth_reminding(*pair, needs)]
        for key in self._issue_joint(ready, gate):
            repeat = self._repeat_states[key]
            repeat.reminded_s = self._context.sim_s
            self._context.timers.set(_timer_key(key), repeat.next_s)

    def _worth_reminding(self, key: FindingKey, finding: Finding, needs: Collection[str]) -> bool:
        """True if a finding is a caution or a warning of which the crew had a notice, but not within the first interval."""
        repeat = self._repeat_states.get(key)
        if key.item in needs or finding.level is Level.ADVISORY or finding.is_doubt or not self._repeats(key):
            return False
        if repeat is None or self._quiet_periods.holds(finding):
            return False
        if finding.kind is FindingKind.AEROPLANE_EVENT and repeat.was_reminded:
            return False
        return not repeat.told_within_first_interval(self._context.sim_s)

    def _issue_summary(self) -> None:
        """Sum up all that was held back and is still open; a doubt has its own notice, while its gate is ahead."""
        held = [self._open[n] for n in self._held_back if not self._quiet_periods.holds(self._open[n][1])]
        self._held_back -= {finding.number for _, finding in held}
        ready, active = [pair for pair in held if not pair[1].is_doubt], self._context.active_gates
        self._issue(f.number for _, f in held if f.is_doubt and self._gate_of[f.number] in active)
        told = self._issue_joint(ready)
        for key, finding in ready:
            if key in told:
                self._record_issue(key, finding)
            else:
                self._wait_for_clear_time(key)

    def _issue_joint(self, ready: list[tuple[FindingKey, Finding]], gate: str = "") -> set[FindingKey]:
        """Emit one notice for each level of several findings, the most severe first, each sentence once.

        Args:
            ready: The open findings.
            gate: Gate before which they are given, '' for the summary of a quiet period.

        Returns:
            Keys of those that are told; what is met again, within its clear time, is not.
        """
        told: set[FindingKey] = set()
        for _, pairs in groupby(sorted(ready, key=_severity_rank), key=lambda pair: pair[1].level):
            sentences = {pair: sentence.text for pair in pairs if (sentence := self._sentence(*pair))}
            told.update(key for key, _ in sentences)
            fresh = {pair: text for pair, text in sentences.items() if not self._is_told(text, gate)}
            self._told_s.update(dict.fromkeys(fresh.values(), self._context.sim_s))
            if fresh:
                findings, reasons = [finding for _, finding in fresh], tuple(dict.fromkeys(fresh.values()))
                title = self._context.gate_title(gate)
                seats = {self._seat(finding) for finding in findings}
                self._context.emit(_joint_notice(self._context.sim_s, findings, seats, reasons, gate, title))
        return told

    def _is_told(self, sentence: str, gate: str) -> bool:
        """True if a notice of this step had a sentence; for the reminder of a gate, one within the first interval."""
        age_s = self._context.sim_s - self._told_s.get(sentence, -inf)
        return age_s < REPEAT_INTERVALS_S[0] if gate else age_s == 0

    def _seat(self, finding: Finding) -> str:
        """Seat that a notice is for: that of the rule, also where the record has another owner."""
        rule = self._context.watches.get(finding.item) or self._context.pack.items.get(finding.item)
        return finding.seat if rule is None else rule.seat


def _joint_notice(
    sim_s: float,
    findings: list[Finding],
    seats: AbstractSet[str],
    reasons: tuple[str, ...],
    gate: str,
    title: str,
) -> Notice:
    """Notice for several findings of one level; it names the seat where all have the same, and the item of a single one.

    Args:
        sim_s: The time.
        findings: The findings.
        seats: The seats that they are for.
        reasons: Their sentences, each once.
        gate: Gate before which it is given, '' for the summary of a quiet period.
        title: Title of the gate.
    """
    lead_in = LeadIn.STILL_OPEN if gate else LeadIn.SUMMARY
    single = len(findings) == 1
    first = findings[0]
    return Notice(
        sim_s,
        first.level,
        min(seats) if len(seats) == 1 else "",
        first.item if single else "",
        gate or (first.gate if single else ""),
        notice_text(lead_in, reasons, title),
        finding=first.number if single else 0,
        lead_in=lead_in,
        reasons=reasons,
    )


def _severity_rank(pair: tuple[FindingKey, Finding]) -> tuple[int, int]:
    """Sort key: the most severe first, then by number."""
    return _SEVERITY[pair[1].level], pair[1].number


def _timer_key(key: FindingKey) -> tuple[str, str, str]:
    """Key of the timer for the next notice."""
    return f"repeat {key.rule_kind}", key.gate, key.item
