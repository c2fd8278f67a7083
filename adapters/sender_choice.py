"""Choice of one sender on a port at which anybody can send: the first that is understood, until it is silent.

Two programs that send to one port would otherwise be taken for one simulator whose clock jumps, and each jump would begin a
new flight.  A sender is its address and port.  One that sends each packet from another port is never chosen, so it is read as
long as no other is.

Takes: the sender of each datagram, and whether it gave a state.  Gives: whether to read it.
"""

from __future__ import annotations

from rules.words import printable

CHOSEN_AFTER = 5
"""Datagrams that are understood until their sender is the chosen one."""
RELEASED_AFTER_S = 2.0
"""Seconds without a datagram that is understood, after which another sender may be chosen."""
_MAX_CANDIDATES = 32


class SenderChoice:
    """Remembers who sends, and which sender is read.

    Attributes:
        chosen: Address and port of the sender that is read; '' while each one is.
    """

    def __init__(self) -> None:
        self.chosen = ""
        self._understood: dict[str, int] = {}
        self._last_s = 0.0

    def is_read(self, sender: str, recv_s: float) -> bool:
        """Tell whether to read a datagram; one without a sender always is.

        Args:
            sender: Its sender; '' where the link does not tell senders apart.
            recv_s: The monotonic clock at its arrival, in seconds.
        """
        if not sender or not self.chosen or sender == self.chosen:
            return True
        if recv_s - self._last_s < RELEASED_AFTER_S:
            return False
        self.chosen = ""
        self._understood.clear()
        return True

    def note_read(self, sender: str, recv_s: float, *, understood: bool) -> None:
        """Count a datagram that was read; enough that are understood choose their sender, and any keeps it chosen.

        Args:
            sender: Its sender; '' where the link does not tell senders apart.
            recv_s: The monotonic clock at its arrival, in seconds.
            understood: True if it had a value of at least one signal; any other datagram keeps a sender only.
        """
        if sender and sender == self.chosen:
            self._last_s = recv_s
        elif sender and understood:
            self._count(sender, recv_s)

    def _count(self, sender: str, recv_s: float) -> None:
        """Count an understood datagram of a sender that is not chosen."""
        if len(self._understood) >= _MAX_CANDIDATES:
            self._understood.clear()
        self._understood[sender] = self._understood.get(sender, 0) + 1
        if self._understood[sender] >= CHOSEN_AFTER:
            self.chosen, self._last_s = sender, recv_s

    def refusal(self, sender: str) -> str:
        """Say which sender is refused, and which one is read."""
        return f"{printable(sender)} is refused, {printable(self.chosen)} is read"
