"""Finds signals that a sender has stopped sending, by the simulator's clock.

The state knows the age of signals by the clock of this computer, and so is late where the simulator runs faster than real
time.  A sender that goes on without a signal shows sooner that it is gone:

    records      A    A    B    B    B    B    B        A has the beacon, B has not
    sim s        0    2    4    6    8   10   12        40 times real time, one record in 50 ms
    beacon       on   on   .    .    .    .   overdue   not in five records, and for longer than its age limit of 3 s

A sender may alternate records with other fields.  So a set of fields is missed only after more records than it ever stayed
away, twice over.

Takes: the signals of each record, and its time.  Gives: `OverdueFinder`.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass, field

from rules.signals.model import Signal

MISSED_RECORDS = 4
"""Records without a signal after which it can be overdue.  Chosen by us, no source."""
MAX_SETS = 64
"""Sets of signals that are followed; a sender with more layouts has the one forgotten that it has not sent for longest."""
FASTER = 1.5
"""How many times as fast as real time the simulator must run; at less the state finds old signals itself, as stale."""


@dataclass(slots=True)
class _NameSet:
    """Signals that come together: the number and times of their last record, and the longest time away in records."""

    names: Collection[str]
    number: int
    sim_s: float
    recv_s: float
    longest_away: int = 0

    def is_missed(self, number: int) -> bool:
        """Check that they have stayed away for longer than ever."""
        return number - self.number > max(MISSED_RECORDS, 2 * self.longest_away)


@dataclass(slots=True)
class OverdueFinder:
    """Finds the overdue signals of one sender; `overdue` are those at present."""

    signals: Mapping[str, Signal]
    overdue: set[str] = field(default_factory=set)
    _sets: dict[int, _NameSet] = field(default_factory=dict)
    _number: int = 0

    def reset(self) -> None:
        """Start again, as after a reset of the simulator's clock."""
        self.overdue.clear()
        self._sets.clear()
        self._number = 0

    def add_record(self, names: Collection[str], sim_s: float, recv_s: float) -> list[str]:
        """Count one record.

        Args:
            names: The signals that it contains; the same object while the fields stay the same.
            sim_s: Its time by the simulator's clock, in seconds.
            recv_s: Its arrival by the monotonic clock, in seconds.

        Returns:
            The signals that have become overdue.
        """
        self._number += 1
        known = self._sets.get(id(names))
        if known is None or known.names is not names:
            # The object is stored, so that its id cannot become that of another one.
            known = self._sets[id(names)] = _NameSet(names, self._number, sim_s, recv_s)
            if len(self._sets) > MAX_SETS:
                oldest = min(self._sets.values(), key=lambda each: each.number)
                del self._sets[id(oldest.names)]
        away = self._number - known.number
        if away > 1 and not known.is_missed(self._number):
            known.longest_away = max(known.longest_away, away)
        known.number, known.sim_s, known.recv_s = self._number, sim_s, recv_s
        self.overdue.difference_update(names)
        if len(self._sets) == 1:
            return []
        return self._find(sim_s, recv_s)

    def _find(self, sim_s: float, recv_s: float) -> list[str]:
        """Find the signals of missed sets that no other set still brings, and that are too old."""
        missed = [each for each in self._sets.values() if each.is_missed(self._number)]
        if not missed:
            return []
        still_sent = {
            name for each in self._sets.values() if not each.is_missed(self._number) for name in each.names
        }
        last: dict[str, _NameSet] = {}
        for each in sorted(missed, key=lambda missed_set: missed_set.number):
            last.update(dict.fromkeys(each.names, each))
        found = [
            name
            for name, each in last.items()
            if name not in still_sent
            and name not in self.overdue
            and self._is_too_old(name, sim_s - each.sim_s, recv_s - each.recv_s)
        ]
        self.overdue.update(found)
        for each in missed:
            # Of such a set nothing can become overdue any more.
            if all(
                name in self.overdue or name in still_sent or not self._age_s(name) for name in each.names
            ):
                self._sets.pop(id(each.names), None)
        return found

    def _is_too_old(self, name: str, age_s: float, real_age_s: float) -> bool:
        """Check the age limit, where the simulator is fast; a limit of 0 is none."""
        return 0 < self._age_s(name) < age_s and age_s > FASTER * real_age_s

    def _age_s(self, name: str) -> float:
        signal = self.signals.get(name)
        return signal.max_age_s if signal is not None else 0.0
