"""Tests of bridge.outputs.voice.speech_queue: what is said next, what is cut off, and what is never said."""

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


def said_in_order(queue: SpeechQueue, now_s: float = 0.0) -> list[str]:
    """Everything that waits, said one after the other."""
    said = []
    while (utterance := queue.next(now_s)) is not None:
        said.append(utterance.key)
        queue.complete()
    return said


def test_the_gravest_first_and_equals_in_their_order() -> None:
    """What is said next is of the highest priority; of equals, what came first."""
    queue = SpeechQueue()
    for key, priority in [("i", INFO), ("c1", CAUTION), ("r", READ), ("w1", W), ("k", CALL), ("a", ADVICE), ("w2", W), ("c2", CAUTION)]:  # fmt: skip
        queue.put(one(key, priority), 0.0)
    assert [utterance.key for utterance in queue.waiting] == ["w1", "w2", "k", "c1", "c2", "a", "r", "i"]
    assert said_in_order(queue) == ["w1", "w2", "k", "c1", "c2", "a", "r", "i"]
    assert queue.counts[UtteranceEnd.COMPLETED] == queue.offered_count == 8


def test_one_at_a_time() -> None:
    """While something is being said there is no next, whatever waits."""
    queue = SpeechQueue()
    queue.put(one("a", INFO), 0.0)
    first = queue.next(0.0)
    queue.put(one("w", W), 0.0)
    assert queue.current is first
    assert queue.next(0.0) is None


@pytest.mark.parametrize("present", SpeechPriority)
@pytest.mark.parametrize("coming", SpeechPriority)
def test_who_cuts_off_whom(present: SpeechPriority, coming: SpeechPriority) -> None:
    """A warning cuts off all but warnings, a callout what is merely read, and nothing else anything."""
    queue = SpeechQueue()
    queue.put(one("present", present), 0.0)
    queue.next(0.0)
    queue.put(one("coming", coming), 0.0)
    wanted = (coming is W and present is not W) or (coming is CALL and present in (READ, INFO))
    assert queue.should_stop == wanted
    assert (present in INTERRUPTS.get(coming, frozenset())) == wanted


def test_what_was_cut_off_is_said_once_more() -> None:
    """After the warning the interrupted one comes again, before its equals; cut off a second time it is let go."""
    queue = SpeechQueue()
    queue.put(one("a"), 0.0)
    queue.put(one("b"), 0.0)
    queue.next(0.0)
    queue.put(one("w", W), 1.0)
    queue.interrupt(1.0)
    assert [utterance.key for utterance in queue.waiting] == ["w", "a", "b"]
    queue.next(1.0)
    queue.complete()
    again = queue.next(2.0)
    assert again is not None
    assert again.key == "a"
    queue.interrupt(3.0)
    assert queue.counts[UtteranceEnd.INTERRUPTED] == 1
    assert said_in_order(queue, 3.0) == ["b"]


def test_what_was_cut_off_is_not_said_again_too_late() -> None:
    """Where its time is over by then, the interrupted one has expired."""
    queue = SpeechQueue()
    queue.put(one("a", ttl_s=5.0), 0.0)
    queue.next(0.0)
    queue.interrupt(5.0)
    assert queue.next(5.0) is None
    assert queue.counts[UtteranceEnd.EXPIRED] == 1


def test_a_newer_one_of_the_key_takes_the_place() -> None:
    """Of one key only the newest waits, with its own text, priority and time; what is cut off gives way to it too."""
    queue = SpeechQueue()
    queue.put(one("a", text="old", ttl_s=1.0), 0.0)
    queue.put(one("a", ADVICE, text="new"), 0.5)
    assert [utterance.text for utterance in queue.waiting] == ["new"]
    queue.next(2.0)
    queue.put(one("a", ADVICE, text="newest"), 2.0)
    queue.interrupt(2.0)
    assert [utterance.text for utterance in queue.waiting] == ["newest"]
    assert queue.counts[UtteranceEnd.REPLACED] == 2


def test_nothing_is_said_after_its_time() -> None:
    """At the end of its time an utterance is gone, and counted."""
    queue = SpeechQueue()
    queue.put(one("callout", CALL, ttl_s=3.0), 0.0)
    assert queue.expires_in_s(queue.waiting[0], 1.0) == 2.0
    assert queue.next(3.0) is None
    assert queue.counts[UtteranceEnd.EXPIRED] == 1


def test_a_hold_keeps_back_and_keeps_fresh() -> None:
    """What is held waits without growing old, before or after it came; other things are said."""
    queue = SpeechQueue()
    queue.put(one("before", ttl_s=10.0), 0.0)
    queue.hold({CAUTION, W}, 4.0)
    queue.put(one("during", ttl_s=10.0), 20.0)
    queue.put(one("call", CALL), 30.0)
    queue.put(one("w", W), 30.0)
    assert said_in_order(queue, 30.0) == ["w", "call"]
    before, during = queue.waiting
    assert (queue.expires_in_s(before, 60.0), queue.expires_in_s(during, 60.0)) == (6.0, 10.0)
    queue.hold((), 100.0)
    assert (queue.expires_in_s(before, 100.0), queue.expires_in_s(during, 100.0)) == (6.0, 10.0)
    assert said_in_order(queue, 105.0) == ["before", "during"]
    assert queue.next(200.0) is None


def test_a_hold_cuts_off_what_it_names() -> None:
    """When a quiet period begins, what it holds falls silent, and is said afterwards."""
    queue = SpeechQueue()
    queue.put(one("a"), 0.0)
    queue.next(0.0)
    queue.hold({CAUTION}, 1.0)
    assert queue.should_stop
    queue.interrupt(1.0)
    assert queue.next(2.0) is None
    queue.hold((), 50.0)
    assert said_in_order(queue, 50.0) == ["a"]


@pytest.mark.parametrize(("mute", "heard"), [(MuteLevel.NOTHING, ["w", "c"]), (MuteLevel.BUT_WARNINGS, ["w"]), (MuteLevel.EVERYTHING, [])])  # fmt: skip
def test_mute(mute: MuteLevel, heard: list[str]) -> None:
    """Muted is what waits, what comes, and what is being said."""
    queue = SpeechQueue()
    queue.put(one("now", INFO), 0.0)
    queue.next(0.0)
    queue.put(one("c"), 0.0)
    queue.set_mute(mute)
    queue.put(one("w", W), 0.0)
    queue.put(one("c"), 0.0)
    assert queue.should_stop
    queue.interrupt(0.0)
    assert said_in_order(queue) == [*heard, *(["now"] if mute is MuteLevel.NOTHING else [])]


def test_too_many_wait() -> None:
    """Beyond its bound the queue lets the least important go that has waited longest; a warning never for anything lower."""
    queue = SpeechQueue(max_waiting=2)
    assert queue.put(one("i1", INFO), 0.0)
    assert queue.put(one("i2", INFO), 0.0)
    assert queue.put(one("w", W), 0.0)
    assert queue.put(one("w2", W), 0.0)
    assert not queue.put(one("c"), 0.0)
    assert said_in_order(queue) == ["w", "w2"]
    assert queue.counts[UtteranceEnd.CROWDED_OUT] == 3


def test_revised_and_withdrawn() -> None:
    """What changed before it was said is said as it is now, in its place; what is so no more is not said."""
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


def test_each_end_is_told() -> None:
    """Whoever listens hears how each utterance ended."""
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


class Crew(RuleBasedStateMachine):
    """Anything that can be asked of a queue, in any order."""

    @initialize()
    def begin(self) -> None:
        """A small queue."""
        self.queue = SpeechQueue(max_waiting=5)
        self.now_s = 0.0
        self.count = 0

    @rule(
        key=st.sampled_from("abcdefgh"),
        priority=st.sampled_from(SpeechPriority),
        ttl_s=st.sampled_from([0.5, 3.0, 20.0]),
    )
    def put(self, key: str, priority: SpeechPriority, ttl_s: float) -> None:
        """Something is to be said."""
        self.count += 1
        self.queue.put(Utterance(key, priority, str(self.count), ttl_s), self.now_s)

    @rule(by_s=st.sampled_from([0.25, 1.0, 10.0]))
    def wait(self, by_s: float) -> None:
        """Time passes."""
        self.now_s += by_s

    @rule()
    def next(self) -> None:
        """The next is begun: nothing graver that may be said waits."""
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
    def done(self) -> None:
        """It is said."""
        self.queue.complete()

    @precondition(lambda self: self.queue.current is not None)
    @rule()
    def cut(self) -> None:
        """It is cut off."""
        self.queue.interrupt(self.now_s)

    @rule(held=st.sets(st.sampled_from(SpeechPriority)))
    def hold(self, held: set[SpeechPriority]) -> None:
        """A quiet period begins or ends."""
        self.queue.hold(held, self.now_s)

    @rule(mute=st.sampled_from(MuteLevel))
    def silence(self, mute: MuteLevel) -> None:
        """Somebody mutes."""
        self.queue.set_mute(mute)

    @rule(key=st.sampled_from("abcdefgh"))
    def withdraw(self, key: str) -> None:
        """It is so no more."""
        self.queue.withdraw(key)

    @invariant()
    def all_is_accounted_for(self) -> None:
        """What was put waits, is being said, or has ended; no more than the bound wait, each key once, in order."""
        queue = self.queue
        waiting = queue.waiting
        present = 1 if queue.current else 0
        assert queue.offered_count == self.count == len(waiting) + present + sum(queue.counts.values())
        assert len(waiting) <= 5
        assert len({utterance.key for utterance in waiting}) == len(waiting)
        assert [u.priority for u in waiting] == sorted(u.priority for u in waiting)

    @invariant()
    def no_warning_waits_behind_lower(self) -> None:
        """While a warning waits, whatever lower is being said is to stop, and a warning is not."""
        speaking = self.queue.current
        if speaking is None or self.queue.mute is not MuteLevel.NOTHING:
            return
        if speaking.priority is W:
            assert not self.queue.should_stop
        elif any(utterance.priority is W for utterance in self.queue.waiting):
            assert self.queue.should_stop


TestCrew = Crew.TestCase
TestCrew.settings = settings(max_examples=60, stateful_step_count=40, deadline=None)


@given(st.lists(st.tuples(st.sampled_from(SpeechPriority), st.integers(0, 9)), max_size=30))
def test_equals_keep_their_order(puts: list[tuple[SpeechPriority, int]]) -> None:
    """Of one priority the order is that of coming, whatever else comes in between."""
    queue = SpeechQueue()
    for number, (priority, _) in enumerate(puts):
        queue.put(one(str(number), priority), 0.0)
    said = [int(key) for key in said_in_order(queue)]
    assert said == sorted(range(len(puts)), key=lambda number: (puts[number][0], number))
