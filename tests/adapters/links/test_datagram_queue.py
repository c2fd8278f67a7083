"""Tests of adapters.links.datagram_queue: order of arrival, room for each sender, counts of what was dropped."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable

from hypothesis import given
from hypothesis import strategies as st

from adapters.links.base import Datagram
from adapters.links.datagram_queue import DatagramQueue


def no_datagram(_: bytes) -> bool:
    """Nothing is essential."""
    return False


def queue_of(
    count: int = 10, size: int = 1_000_000, essential: Callable[[bytes], bool] = no_datagram
) -> DatagramQueue:
    """Make a queue."""
    return DatagramQueue(count, size, essential)


def append(queue: DatagramQueue, sender: str, data: bytes = b"x", at_s: float = 0.0) -> None:
    """Add a datagram of a sender."""
    queue.append(Datagram(data, at_s, sender), sender)


def taken(queue: DatagramQueue) -> list[Datagram]:
    """Take everything."""
    return [queue.pop() for _ in range(len(queue))]


def test_a_flood_drops_nothing_of_another_sender() -> None:
    """However much one sender sends, what little another one sent stays, and is not said to miss anything."""
    queue = queue_of()
    append(queue, "good", b"first")
    for _ in range(500):
        append(queue, "flood")
    append(queue, "good", b"second")
    for _ in range(500):
        append(queue, "flood")
    good = [datagram for datagram in taken(queue) if datagram.peer == "good"]
    assert [(datagram.data, datagram.dropped) for datagram in good] == [(b"first", 0), (b"second", 0)]
    assert queue.dropped == 992


def test_large_datagrams_drop_nothing_of_another_sender() -> None:
    """Where the bytes are short, those of the sender with the most bytes are dropped."""
    queue = queue_of(count=1000, size=10_000)
    for _ in range(50):
        append(queue, "good", bytes(10))
    for _ in range(50):
        append(queue, "flood", bytes(3_000))
    assert Counter(datagram.peer for datagram in taken(queue)) == {"good": 50, "flood": 3}


def test_an_essential_datagram_stays_in_the_order_of_its_sender() -> None:
    """Its successor of the same sender is dropped; it takes that one's place."""
    queue = queue_of(count=3, essential=lambda data: data == b"heading")
    for data in (b"heading", b"1", b"2", b"3"):
        append(queue, "a", data)
    assert [(each.data, each.dropped) for each in taken(queue)] == [(b"heading", 1), (b"2", 0), (b"3", 0)]


@given(
    st.lists(st.tuples(st.sampled_from("abcdefgh"), st.integers(0, 40)), max_size=200),
    st.integers(1, 12),
    st.integers(40, 120),
)
def test_every_datagram_is_taken_or_counted(sending: list[tuple[str, int]], count: int, size: int) -> None:
    """The limits hold after each one, the order of arrival is kept, and each sender's drops are told to that sender."""
    queue = queue_of(count, size)
    for number, (sender, length) in enumerate(sending):
        append(queue, sender, bytes(length), float(number))
        assert len(queue) <= count
        assert sum(len(datagram.data) for _, datagram in _waiting(queue)) <= size
    rest = taken(queue)
    assert [datagram.recv_s for datagram in rest] == sorted(datagram.recv_s for datagram in rest)
    assert len(rest) + queue.dropped == len(sending)
    for sender in {each for each, _ in sending}:
        mine = [datagram for datagram in rest if datagram.peer == sender]
        if mine:
            assert mine[0].dropped + len(mine) == sum(each == sender for each, _ in sending)


def _waiting(queue: DatagramQueue) -> list[tuple[int, Datagram]]:
    return [each for senders in queue._senders.values() for each in senders.waiting]


def test_senders_without_end_take_bounded_memory() -> None:
    """A sender that sends each datagram from another port has no queue of its own for each."""
    queue = queue_of(count=100)
    for number in range(5_000):
        append(queue, f"port {number}")
    assert len(queue) == 100
    assert len(queue._senders) <= 33
    assert len(queue._dropped_before) <= 32
    assert len(taken(queue)) == 100
