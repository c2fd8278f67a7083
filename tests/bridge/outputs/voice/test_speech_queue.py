"""Tests of bridge.outputs.voice.speech_queue: order, interruption, expiry, holds, mute and limits."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, initialize, invariant, precondition, rule

from bridge.outputs.voice.speech_queue import (
    INTERRUPTS,
    MuteLevel,
    SpeechPriority,
    SpeechQueue,
    Utterance,
    UtteranceEnd,
)

W, CALL, CAUTION, ADVICE, READ, INFO = SpeechPriority


def one(key: str, priority: SpeechPriority = CAUTION, ttl_s: float = 10.0, text: str = "") -> Utterance:
    """An utterance."""
    return Utterance(key, priority, text or key, ttl_s)


def keys_in_order(queue: SpeechQueue, now_s: float = 0.0) -> list[str]:
    """The keys of all waiting utterances in the order in which they are spoken."""
    keys = []
    while (utterance := queue.next(now_s)) is not None:
        keys.append(utterance.key)
        queue.complete()
    return keys


def test_the_highest_priority_first_and_equals_in_their_order() -> None:
    """The next utterance has the highest priority; of equals it is the first that came."""
    queue = SpeechQueue()
    for key, priority in [("i", INFO), ("c1", CAUTION), ("r", READ), ("w1", W), ("k", CALL), ("a", ADVICE), ("w2", W), ("c2", CAUTION)]:  # fmt: skip
        queue.put(one(key, priority), 0.0)
    assert [utterance.key for utterance in queue.waiting] == ["w1", "w2", "k", "c1", "c2", "a", "r", "i"]
    assert keys_in_order(queue) == ["w1", "w2", "k", "c1", "c2", "a", "r", "i"]
    assert queue.counts[UtteranceEnd.COMPLETED] == queue.offered_count == 8


def test_one_at_a_time() -> None:
    """While an utterance is being spoken there is no next one."""
    queue = SpeechQueue()
    queue.put(one("a", INFO), 0.0)
    first = queue.next(0.0)
    queue.put(one("w", W), 0.0)
    assert queue.current is first
    assert queue.next(0.0) is None


@pytest.mark.parametrize("present", SpeechPriority)
@pytest.mark.parametrize("coming", SpeechPriority)
def test_interruptions(present: SpeechPriority, coming: SpeechPriority) -> None:
    """A warning interrupts all but warnings, a callout challenges and information, other priorities none."""
    queue = SpeechQueue()
    queue.put(one("present", present), 0.0)
    queue.next(0.0)
    queue.put(one("coming", coming), 0.0)
    expected = (coming is W and present is not W) or (coming is CALL and present in (READ, INFO))
    assert queue.should_stop == expected
    assert (present in INTERRUPTS.get(coming, frozenset())) == expected


def test_an_interrupted_utterance_is_spoken_once_more() -> None:
    """After the warning the interrupted one is next, before its equals; interrupted a second time it ends."""
    queue = SpeechQueue()
    queue.put(one("a"), 0.0)
    queue.put(one("b"), 0.0)
    queue.next(0.0)
    queue.put(one("w", W), 1.0)
    queue.interrupt(1.0)
    assert [utterance.key for utterance in queue.waiting] == ["w", "a", "b"]
    queue.next(1.0)
    queue.complete()
    repeated = queue.next(2.0)
    assert repeated is not None
    assert repeated.key == "a"
    queue.interrupt(3.0)
    assert queue.counts[UtteranceEnd.INTERRUPTED] == 1
    assert keys_in_order(queue, 3.0) == ["b"]


def test_an_interrupted_utterance_can_expire() -> None:
    """An interrupted utterance whose time is over is not spoken again."""
    queue = SpeechQueue()
    queue.put(one("a", ttl_s=5.0), 0.0)
    queue.next(0.0)
    queue.interrupt(5.0)
    assert queue.next(5.0) is None
    assert queue.counts[UtteranceEnd.EXPIRED] == 1


def test_a_newer_utterance_replaces_one_with_its_key() -> None:
    """Of one key only the newest waits, with its own text, priority and time; it also replaces an interrupted one."""
    queue = SpeechQueue()
    queue.put(one("a", text="old", ttl_s=1.0), 0.0)
    queue.put(one("a", ADVICE, text="new"), 0.5)
    assert [utterance.text for utterance in queue.waiting] == ["new"]
    queue.next(2.0)
    queue.put(one("a", ADVICE, text="newest"), 2.0)
    queue.interrupt(2.0)
    assert [utterance.text for utterance in queue.waiting] == ["newest"]
    assert queue.counts[UtteranceEnd.REPLACED] == 2


def test_an_utterance_expires() -> None:
    """At the end of its time an utterance is removed and counted."""
    queue = SpeechQueue()
    queue.put(one("callout", CALL, ttl_s=3.0), 0.0)
    assert queue.expires_in_s(queue.waiting[0], 1.0) == 2.0
    assert queue.next(3.0) is None
    assert queue.counts[UtteranceEnd.EXPIRED] == 1


def test_held_utterances_do_not_age() -> None:
    """A held utterance waits without ageing, put before the hold or during it; others are spoken."""
    queue = SpeechQueue()
    queue.put(one("before", ttl_s=10.0), 0.0)
    queue.hold({CAUTION, W}, 4.0)
    queue.put(one("during", ttl_s=10.0), 20.0)
    queue.put(one("call", CALL), 30.0)
    queue.put(one("w", W), 30.0)
    assert keys_in_order(queue, 30.0) == ["w", "call"]
    before, during = queue.waiting
    assert (queue.expires_in_s(before, 60.0), queue.expires_in_s(during, 60.0)) == (6.0, 10.0)
    queue.hold((), 100.0)
    assert (queue.expires_in_s(before, 100.0), queue.expires_in_s(during, 100.0)) == (6.0, 10.0)
    assert keys_in_order(queue, 105.0) == ["before", "during"]
    assert queue.next(200.0) is None


def test_a_hold_interrupts() -> None:
    """A held utterance that is being spoken is interrupted, and spoken after the hold."""
    queue = SpeechQueue()
    queue.put(one("a"), 0.0)
    queue.next(0.0)
    queue.hold({CAUTION}, 1.0)
    assert queue.should_stop
    queue.interrupt(1.0)
    assert queue.next(2.0) is None
    queue.hold((), 50.0)
    assert keys_in_order(queue, 50.0) == ["a"]


@pytest.mark.parametrize(("mute", "expected"), [(MuteLevel.NOTHING, ["w", "c"]), (MuteLevel.BUT_WARNINGS, ["w"]), (MuteLevel.EVERYTHING, [])])  # fmt: skip
def test_mute(mute: MuteLevel, expected: list[str]) -> None:
    """Mute applies to waiting, coming and present utterances."""
    queue = SpeechQueue()
    queue.put(one("now", INFO), 0.0)
    queue.next(0.0)
    queue.put(one("c"), 0.0)
    queue.set_mute(mute)
    queue.put(one("w", W), 0.0)
    queue.put(one("c"), 0.0)
    assert queue.should_stop
    queue.interrupt(0.0)
    assert keys_in_order(queue) == [*expected, *(["now"] if mute is MuteLevel.NOTHING else [])]


def test_a_full_queue_drops_the_least_important_utterance() -> None:
    """Above its limit the queue drops the least important utterance that waited longest, never a warning for a lower one."""
    queue = SpeechQueue(max_waiting=2)
    assert queue.put(one("i1", INFO), 0.0)
    assert queue.put(one("i2", INFO), 0.0)
    assert queue.put(one("w", W), 0.0)
    assert queue.put(one("w2", W), 0.0)
    assert not queue.put(one("c"), 0.0)
    assert keys_in_order(queue) == ["w", "w2"]
    assert queue.counts[UtteranceEnd.CROWDED_OUT] == 3


def test_revise_and_withdraw() -> None:
    """A revised utterance has its new text in its old position; a withdrawn one is not spoken."""
    queue = SpeechQueue()
    for key in ("a", "b", "c"):
        queue.put(one(key, ttl_s=5.0), 0.0)
    queue.revise(one("a", text="shorter", ttl_s=99.0))
    queue.revise(one("unknown"))
    queue.withdraw("b")
    assert [utterance.text for utterance in queue.waiting] == ["shorter", "c"]
    assert queue.expires_in_s(queue.waiting[0], 0.0) == 5.0
    queue.next(0.0)
    queue.withdraw("a")
    queue.interrupt(0.0)
    assert [utterance.key for utterance in queue.waiting] == ["c"]


def test_each_end_is_reported() -> None:
    """The callback gets each utterance with its end."""
    ends: list[tuple[str, UtteranceEnd]] = []
    queue = SpeechQueue(lambda utterance, end: ends.append((utterance.key, end)))
    queue.put(one("a"), 0.0)
    queue.put(one("b", ttl_s=1.0), 0.0)
    queue.next(0.0)
    queue.complete()
    queue.expire(1.0)
    queue.interrupt(1.0)
    queue.complete()
    assert ends == [("a", UtteranceEnd.COMPLETED), ("b", UtteranceEnd.EXPIRED)]


class QueueMachine(RuleBasedStateMachine):
    """Calls every method of a queue in any order."""

    @initialize()
    def begin(self) -> None:
        """Make a small queue."""
        self.queue = SpeechQueue(max_waiting=5)
        self.now_s = 0.0
        self.count = 0

    @rule(
        key=st.sampled_from("abcdefgh"),
        priority=st.sampled_from(SpeechPriority),
        ttl_s=st.sampled_from([0.5, 3.0, 20.0]),
    )
    def put(self, key: str, priority: SpeechPriority, ttl_s: float) -> None:
        """Put an utterance."""
        self.count += 1
        self.queue.put(Utterance(key, priority, str(self.count), ttl_s), self.now_s)

    @rule(by_s=st.sampled_from([0.25, 1.0, 10.0]))
    def wait(self, by_s: float) -> None:
        """Let time pass."""
        self.now_s += by_s

    @rule()
    def next(self) -> None:
        """Begin the next utterance; no higher priority that may be spoken waits."""
        before = self.queue.current
        utterance = self.queue.next(self.now_s)
        if before is not None:
            assert utterance is None
            assert self.queue.current is before
        elif utterance is not None:
            assert utterance.priority is W or not any(u.priority is W for u in self.queue.waiting)
            assert not self.queue.should_stop

    @precondition(lambda self: self.queue.current is not None)
    @rule()
    def complete(self) -> None:
        """Complete the present utterance."""
        self.queue.complete()

    @precondition(lambda self: self.queue.current is not None)
    @rule()
    def interrupt(self) -> None:
        """Interrupt the present utterance."""
        self.queue.interrupt(self.now_s)

    @rule(held=st.sets(st.sampled_from(SpeechPriority)))
    def hold(self, held: set[SpeechPriority]) -> None:
        """Begin or end a quiet period."""
        self.queue.hold(held, self.now_s)

    @rule(mute=st.sampled_from(MuteLevel))
    def set_mute(self, mute: MuteLevel) -> None:
        """Mute or unmute."""
        self.queue.set_mute(mute)

    @rule(key=st.sampled_from("abcdefgh"))
    def withdraw(self, key: str) -> None:
        """Withdraw a key."""
        self.queue.withdraw(key)

    @invariant()
    def every_utterance_is_counted(self) -> None:
        """Each utterance waits, is being spoken or has ended; those that wait are limited, with unique keys, in order."""
        queue = self.queue
        waiting = queue.waiting
        present = 1 if queue.current else 0
        assert queue.offered_count == self.count == len(waiting) + present + sum(queue.counts.values())
        assert len(waiting) <= 5
        assert len({utterance.key for utterance in waiting}) == len(waiting)
        assert [u.priority for u in waiting] == sorted(u.priority for u in waiting)

    @invariant()
    def no_warning_waits_for_a_lower_priority(self) -> None:
        """While a warning waits, a lower priority must stop, and a warning must not."""
        speaking = self.queue.current
        if speaking is None or self.queue.mute is not MuteLevel.NOTHING:
            return
        if speaking.priority is W:
            assert not self.queue.should_stop
        elif any(utterance.priority is W for utterance in self.queue.waiting):
            assert self.queue.should_stop


TestQueueMachine = QueueMachine.TestCase
TestQueueMachine.settings = settings(max_examples=60, stateful_step_count=40, deadline=None)


@given(st.lists(st.tuples(st.sampled_from(SpeechPriority), st.integers(0, 9)), max_size=30))
def test_equals_keep_their_order(puts: list[tuple[SpeechPriority, int]]) -> None:
    """The order of one priority is that of arrival, also with other priorities in between."""
    queue = SpeechQueue()
    for number, (priority, _) in enumerate(puts):
        queue.put(one(str(number), priority), 0.0)
    numbers = [int(key) for key in keys_in_order(queue)]
    assert numbers == sorted(range(len(puts)), key=lambda number: (puts[number][0], number))
