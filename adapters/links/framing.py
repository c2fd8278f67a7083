"""Framing: where one message ends and the next begins in a stream of bytes.

Takes: pieces of a stream as TCP hands them on.  Gives: whole messages, and a count of what had to be thrown away.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from enum import StrEnum

MAX_MESSAGE_BYTES = 1 << 20
"""Bytes of the largest message that a stream may carry."""


class Framing(StrEnum):
    """How messages are told apart on a stream."""

    LINES = "lines"  # each ends with a line feed
    LENGTHS = "lengths"  # each begins with its length: four bytes, big-endian, not counting themselves


class FramingError(Exception):
    """The stream's framing is lost and cannot be found again: the connection has to be made anew."""


@dataclass(slots=True)
class StreamSplitter:
    """Cuts a stream into messages; one for each connection.

    Attributes:
        framing: How messages are told apart.
        largest: Bytes of the largest message; a longer line is thrown away up to its end.
        oversized: How many messages were thrown away for their size.
    """

    framing: Framing
    max_bytes: int = MAX_MESSAGE_BYTES
    oversized: int = 0
    _buffer: bytearray = field(default_factory=bytearray)
    _skipping: bool = False

    def feed(self, piece: bytes) -> list[bytes]:
        """Add a piece of the stream.

        Args:
            piece: The bytes as they came, any number.

        Returns:
            The messages that are now whole, without line feed or length.

        Raises:
            Astray: A length is larger than any message may be.
        """
        self._buffer += piece
        return self._split_lines() if self.framing is Framing.LINES else self._split_lengths()

    @property
    def unfinished(self) -> int:
        """Bytes of a message whose end has not come; at the end of a stream they are lost, never guessed at."""
        return len(self._buffer)

    def _split_lines(self) -> list[bytes]:
        """The whole lines; a half one waits for its end."""
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
        """The messages whose announced length has come."""
        held, at, found = self._buffer, 0, list[bytes]()
        while len(held) - at >= 4:
            end = at + 4 + int.from_bytes(held[at : at + 4], "big")
            if end - at - 4 > self.max_bytes:
                self.oversized += 1
                raise FramingError(
                    f"a message of {end - at - 4} bytes is announced, at most {self.max_bytes} may come"
                )
            if end > len(held):
                break
            found.append(bytes(held[at + 4 : end]))
            at = end
        del held[:at]
        return found
