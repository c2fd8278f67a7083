"""Tests of framing: streams are cut into messages."""

from __future__ import annotations

from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from adapters.links.framing import Framing, FramingError, StreamSplitter

LINE = st.binary(max_size=30).map(lambda data: data.replace(b"\n", b"."))


def pieces(stream: bytes, cuts: list[int]) -> list[bytes]:
    """Cut the stream at these places."""
    places = sorted({0, len(stream), *(cut % (len(stream) + 1) for cut in cuts)})
    return [stream[start:end] for start, end in pairwise(places)]


@given(st.lists(LINE), st.lists(st.integers(0, 1000)))
def test_lines_survive_any_cutting(lines: list[bytes], cuts: list[int]) -> None:
    """For any pieces of a stream of lines, the same lines come out."""
    splitter = StreamSplitter(Framing.LINES)
    found = [
        line
        for piece in pieces(b"".join(line + b"\n" for line in lines), cuts)
        for line in splitter.feed(piece)
    ]
    assert found == lines
    assert splitter.unfinished == 0


@given(st.lists(st.binary(max_size=30)), st.lists(st.integers(0, 1000)))
def test_lengths_survive_any_cutting(messages: list[bytes], cuts: list[int]) -> None:
    """For any pieces of a stream with lengths, the same messages come out, also empty ones."""
    splitter = StreamSplitter(Framing.LENGTHS)
    stream = b"".join(len(message).to_bytes(4, "big") + message for message in messages)
    assert [message for piece in pieces(stream, cuts) for message in splitter.feed(piece)] == messages
    assert splitter.unfinished == 0


def test_an_oversized_line_is_discarded_to_its_end() -> None:
    """An oversized line affects no other, uses no memory, and is counted once."""
    splitter = StreamSplitter(Framing.LINES, max_bytes=10)
    assert splitter.feed(b"x" * 25) == []
    assert splitter.unfinished == 0
    assert splitter.feed(b"y" * 25 + b"\ngood\n") == [b"good"]
    assert splitter.feed(b"z" * 11 + b"\nnext\n") == [b"next"]
    assert splitter.oversized == 2


def test_an_impossible_length_ends_the_connection() -> None:
    """A length above the limit means another framing; the messages before it in the same piece are not lost."""
    splitter = StreamSplitter(Framing.LENGTHS, max_bytes=100)
    assert splitter.feed(b"\0\0\0\3one\0\0\0\3twoHTTP/1.1 200 OK") == [b"one", b"two"]
    assert "at most 100" in splitter.failure
    assert splitter.oversized == 1
    with pytest.raises(FramingError, match="at most 100"):
        splitter.feed(b"more")


def test_an_unfinished_message_is_not_delivered() -> None:
    """The unfinished message of a broken connection is counted and not delivered."""
    splitter = StreamSplitter(Framing.LINES)
    assert splitter.feed(b"heading=359.5\nheading=35") == [b"heading=359.5"]
    assert splitter.unfinished == len(b"heading=35")
