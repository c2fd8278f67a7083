"""Clean flights of the mock simulator, each flown once in a run of the tests and shared by its processes.

A flight is kept as the changes of each moment, in the memory of the process and, where `FLIGHTS_OF_THIS_RUN` names a folder,
in a file: the process that asks first flies, the others wait for it and read the file.

Takes: a scenario, a seed, a rate.  Gives: `RecordedMoment`s, and the whole state at each of them.
"""

from __future__ import annotations

import os
import pickle
from collections.abc import Iterator, Mapping, Sequence
from functools import cache
from pathlib import Path
from typing import NamedTuple

from filelock import FileLock

from mock_sim.run import Flight
from rules.signals.model import Value

FOLDER = "FLIGHTS_OF_THIS_RUN"
"""Variable of the environment; `tests/conftest.py` sets it."""


class RecordedMoment(NamedTuple):
    """One moment: its time, the values that changed, and the calls."""

    sim_s: float
    changes: Mapping[str, Value]
    calls: tuple[str, ...]


@cache
def recorded_flight(scenario: str, *, seed: int, rate_hz: float) -> Sequence[RecordedMoment]:
    """Give a flight without slips and events, with its noise; every number is a float.

    Args:
        scenario: Name of a scenario.
        seed: Seed of the noise and of the crew's pace.
        rate_hz: Moments in a simulated second.
    """
    folder = os.environ.get(FOLDER, "")
    if not folder:
        return _fly(scenario, seed, rate_hz)
    path = Path(folder) / f"flight-{scenario}-{seed}-{rate_hz:g}.pickle"
    with FileLock(f"{path}.lock"):
        if not path.exists():
            path.write_bytes(pickle.dumps(_fly(scenario, seed, rate_hz)))
        flown: Sequence[RecordedMoment] = pickle.loads(path.read_bytes())  # noqa: S301  a process of this run wrote it
    return flown


def states(moments: Sequence[RecordedMoment]) -> Iterator[dict[str, Value]]:
    """Give the whole state at each moment, a new dictionary each time."""
    state: dict[str, Value] = {}
    for moment in moments:
        state |= moment.changes
        yield dict(state)


def _fly(scenario: str, seed: int, rate_hz: float) -> Sequence[RecordedMoment]:
    moments: list[RecordedMoment] = []
    known: dict[str, Value] = {}
    for moment in Flight(scenario, seed=seed, rate_hz=rate_hz):
        state = {name: v if isinstance(v, str) else float(v) for name, v in moment.state.items()}
        changes = {name: value for name, value in state.items() if known.get(name) != value}
        known = state
        moments.append(RecordedMoment(moment.sim_s, changes, tuple(call.name for call in moment.calls)))
    return tuple(moments)
