"""Cuts a stream of bytes into messages, at line feeds or by length prefixes.

Takes: pieces of a stream in the sizes that TCP delivers.  Gives: whole messages, and a count of discarded ones.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from enum import StrEnum

MAX_MESSAGE_BYTES = 1 << 20
"""Bytes of the largest message that a stream may carry."""


class Framing(StrEnum):
    """Separation of messages in a stream."""

    LINES = "lines"  # each ends with a line feed
    LENGTHS = "lengths"  # each begins with its length: four bytes, big-endian, not counting themselves


class FramingError(Exception):
    """The framing of the stream is lost; only a new connection restores it."""


@dataclass(slots=True)
class StreamSplitter:
    """Cuts a stream into messages; one for each connection.

    Attributes:
        framing: The separation of messages.
        max_bytes: Bytes of the largest message; a longer line is discarded up to its end.
        oversized: Number of messages discarded for their size.
        failure: Why the framing is lost; '' while it is not.
    """

    framing: Framing
    max_bytes: int = MAX_MESSAGE_BYTES
    oversized: int = 0
    failure: str = ""
    _buffer: bytearray = field(default_factory=bytearray)
    _skipping: bool = False

    def feed(self, piece: bytes) -> list[bytes]:
        """Add a piece of the stream.

        Args:
            piece: Any number of bytes.

        Returns:
            The messages that are complete now, without line feed or length.  Where a length exceeds `max_bytes` they are
            those before it, and `failure` says so.

        Raises:
            FramingError: The framing was lost before this piece.
        """
        if self.failure:
            raise FramingError(self.failure)
        self._buffer += piece
        return self._split_lines() if self.framing is Framing.LINES else self._split_lengths()

    @property
    def unfinished(self) -> int:
        """Bytes of a message that is still incomplete; at the end of a stream they are discarded."""
        return len(self._buffer)

    def _split_lines(self) -> list[bytes]:
        """Take the complete lines out of the buffer."""
        *whole, rest = self._buffer.split(b"\n")
        self._buffer = rest
        if self._skipping and whole:
            whole, self._skipping = whole[1:], False
        if len(rest) > self.max_bytes:
            self.oversized += not self._skipping
            self._skipping = True
            self._buffer = bytearray()
        fitting = [bytes(line) for line in whole if len(line) <= self.max_bytes]
        self.oversized += len(whole) - len(fitting)
        return fitting

    def _split_lengths(self) -> list[bytes]:
        """Take the messages that are complete by their length prefix out of the buffer."""
        data, at, found = self._buffer, 0, list[bytes]()
        while len(data) - at >= 4:
            end = at + 4 + int.from_bytes(data[at : at + 4], "big")
            if end - at - 4 > self.max_bytes:
                self.oversized += 1
                self.failure = (
                    f"the length prefix says {end - at - 4} bytes, at most {self.max_bytes} are allowed"
                )
                break
            if end > len(data):
                break
            found.append(bytes(data[at + 4 : end]))
            at = end
        del data[:at]
        return found
