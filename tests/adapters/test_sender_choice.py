"""The choice of one sender, alone and in a receiver: a second program on the port cannot disturb a flight."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from adapters.factory import receiver_for
from adapters.receiver import ANOTHER_SENDER, Receiver
from adapters.sender_choice import CHOSEN_AFTER, RELEASED_AFTER_S, SenderChoice
from rules.signals.book import load_book

SIMULATOR, STRANGER = "127.0.0.1:50001", "127.0.0.1:50002"


def chosen(sender: str = SIMULATOR, *, at_s: float = 0.0) -> SenderChoice:
    """A choice that has been made."""
    choice = SenderChoice()
    for _ in range(CHOSEN_AFTER):
        choice.note_read(sender, at_s, understood=True)
    return choice


def test_the_first_understood_sender_is_read_alone() -> None:
    """Until one sender is chosen each is read; then only that one."""
    choice = SenderChoice()
    for _ in range(CHOSEN_AFTER - 1):
        choice.note_read(SIMULATOR, 0.0, understood=True)
        assert choice.is_read(STRANGER, 0.0)
    choice.note_read(SIMULATOR, 0.0, understood=True)
    assert choice.is_read(SIMULATOR, 0.1)
    assert not choice.is_read(STRANGER, 0.1)


@pytest.mark.parametrize(("later_s", "read"), [(RELEASED_AFTER_S - 0.01, False), (RELEASED_AFTER_S, True)])
def test_a_silent_sender_is_released(later_s: float, *, read: bool) -> None:
    """After two silent seconds another one is read: a simulator that was started again has another port."""
    choice = chosen(at_s=10.0)
    assert choice.is_read(STRANGER, 10.0 + later_s) is read
    assert choice.chosen == ("" if read else SIMULATOR)


def test_without_a_sender_everything_is_read() -> None:
    """A link that cannot tell senders apart is not filtered, and chooses none."""
    choice = SenderChoice()
    for _ in range(3 * CHOSEN_AFTER):
        choice.note_read("", 0.0, understood=True)
    assert (choice.chosen, choice.is_read("", 0.0)) == ("", True)
    assert chosen().is_read("", 0.0)


def test_a_sender_with_another_port_each_time_is_always_read() -> None:
    """Some programs open a socket for each packet: none of their ports is chosen, and none is refused."""
    choice = SenderChoice()
    for number in range(1000):
        sender = f"127.0.0.1:{40000 + number % 900}"
        assert choice.is_read(sender, number * 0.05)
        choice.note_read(sender, number * 0.05, understood=True)


@given(st.lists(st.tuples(st.sampled_from("abc"), st.floats(0.0, 1.0)), max_size=80))
def test_two_senders_are_never_read_within_the_same_two_seconds(steps: list[tuple[str, float]]) -> None:
    """Once one is chosen, no other is read until it has been silent for two seconds."""
    choice, now_s, last_s = SenderChoice(), 0.0, 0.0
    for sender, wait_s in steps:
        now_s += wait_s
        before = choice.chosen
        if not choice.is_read(sender, now_s):
            continue
        assert before in ("", sender) or now_s - last_s >= RELEASED_AFTER_S
        choice.note_read(sender, now_s, understood=True)
        last_s = now_s if sender == choice.chosen else last_s


def test_a_stranger_cannot_reset_a_flight() -> None:
    """Its records, with a clock of its own, are refused, counted and named; the flight goes on without a reset."""
    receiver = receiver_of()
    frames = [frame for n in range(8) for frame in _send(receiver, SIMULATOR, 100.0 + 0.1 * n, n)]
    assert len(frames) == 8
    for n in range(8, 20):
        assert _send(receiver, STRANGER, 1.0, n) == []
        assert len(_send(receiver, SIMULATOR, 100.0 + 0.1 * n, n)) == 1
    health = receiver.health
    assert (health.sequence.resets, health.rejects) == (0, {ANOTHER_SENDER: 12})
    assert STRANGER in str(health.examples[ANOTHER_SENDER])
    assert "12 refused" in health.status_text(2.0)


@pytest.mark.parametrize("data", [b"\xff rubbish", b'{"time": 1.0, "another": 1}'])
def test_what_gives_no_state_chooses_no_sender(data: bytes) -> None:
    """A stranger that sends rubbish, or fields that no map names, does not lock the simulator out."""
    receiver = receiver_of()
    for n in range(4 * CHOSEN_AFTER):
        receiver.receive(data, 0.05 * n, sender=STRANGER)
    for n in range(10, 20):
        frames = _send(receiver, SIMULATOR, 100.0 + 0.1 * n, n)
    assert len(frames) == 1
    assert ANOTHER_SENDER not in receiver.health.rejects


def test_a_paused_simulator_stays_chosen() -> None:
    """Records that repeat one state keep their sender, however long."""
    receiver = receiver_of()
    for n in range(100):
        _send(receiver, SIMULATOR, 100.0 + 0.1 * min(n, 10), n)
    assert _send(receiver, STRANGER, 1.0, 100) == []


def receiver_of() -> Receiver:
    """A receiver of JSON without a map."""
    return receiver_for(load_book("twin_jet").signals, format_name="json", link="sim")


def _send(receiver: Receiver, sender: str, time_s: float, number: int) -> list[object]:
    """One record of a sender, a tenth of a second after the one before."""
    return list(receiver.receive(b'{"time": %f, "fuel.total": 4000}' % time_s, 0.1 * number, sender=sender))
