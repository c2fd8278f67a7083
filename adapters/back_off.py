"""Growing delays between attempts: 1, 2, 4 .. 30 s, from tenacity.

Links, notifiers, the voice and the store repeat a failed attempt, each in a loop of its own; all take their delays from here.

Takes: the first and the longest delay.  Gives: the delay before the next attempt.
"""

from __future__ import annotations

FIRST_WAIT_S = 1.0
"""Seconds before the first new attempt; each further delay is twice as long."""
MAX_WAIT_S = 30.0
"""Seconds of the longest delay between two attempts."""


class BackOff:
    """Delays that double after each failure up to a maximum; a success starts them again."""

    def __init__(
        self, first_s: float = FIRST_WAIT_S, max_s: float = MAX_WAIT_S, *, jitter_s: float = 0.0
    ) -> None:
        """Make the delays.

        Args:
            first_s: The first delay, in seconds.
            max_s: The longest delay, in seconds.
            jitter_s: A random time of up to this many seconds is added, so that many senders do not return at once.
        """
        # Imported here, since most commands never repeat an attempt.
        from tenacity import RetryCallState, Retrying, wait_exponential_jitter

        self._wait = wait_exponential_jitter(multiplier=first_s, max=max_s, jitter=jitter_s)
        self._state = RetryCallState(Retrying(), None, (), {})
        self.reset()

    def next_s(self) -> float:
        """Count a failure; return the delay before the next attempt, in seconds."""
        return self.after(self._state.attempt_number + 1)

    def after(self, attempts: int) -> float:
        """Return the delay after that many failed attempts, in seconds, for a loop that counts them itself."""
        self._state.attempt_number = attempts
        return self._wait(self._state)

    def reset(self) -> None:
        """Begin with the first delay again, after a success."""
        self._state.attempt_number = 0
