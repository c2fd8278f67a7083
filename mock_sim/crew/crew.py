"""The whole crew at work: every seat at the same time, and the record of what they said and did wrong.

Takes: a scenario, an aeroplane, a seed, and the simulator's time.  Gives: calls, and slips really done.
"""

from __future__ import annotations

from dataclasses import replace
from math import inf
from typing import NamedTuple

from mock_sim.crew.drive import Driver
from mock_sim.crew.hands import Hands
from mock_sim.crew.seat import Cockpit, Seat, Shared, holds
from mock_sim.scenario.model import Mend, Scenario, SlipKind


class Call(NamedTuple):
    """Something that was said: its name, who said it, and when, in simulated seconds."""

    name: str
    by: str
    sim_s: float


class Slipped(NamedTuple):
    """A slip that was really done: when, and when it was put right, in simulated seconds; None: never."""

    id: str
    kind: SlipKind
    seat: str
    sim_s: float
    says: str
    signals: tuple[str, ...]
    mended_s: float | None = None

    def as_dict(self) -> dict[str, object]:
        """The slip as plain data, for JSON."""
        return {
            "id": self.id, "kind": str(self.kind), "seat": self.seat, "sim_s": self.sim_s, "says": self.says,
            "signals": self.signals, "mended_s": self.mended_s,
        }  # fmt: skip


class Crew:
    """All seats.  `calls` has everything said so far; `finished` is true when the scenario is over."""

    def __init__(
        self, scenario: Scenario, cockpit: Cockpit, seed: int = 0, *, since: Crew | None = None
    ) -> None:
        """Man every seat of the scenario and make its world.

        Args:
            scenario: what they do.
            cockpit: the aeroplane.
            seed: makes everybody's pace.
            since: another crew that has come so far; this one goes on from there, in a world as it is.
        """
        self._shared = Shared(scenario, cockpit) if since is None else since.handed_over(scenario, cockpit)
        self._seats = [Seat(name, steps, self._shared, seed) for name, steps in scenario.seats.items()]
        self._driver = Driver(cockpit)
        self._hands = Hands(cockpit)
        self._catalogue = {slip.id: slip for slip in scenario.slips}
        self._scenario = scenario
        self.calls: list[Call] = []
        for name, written in scenario.world.items() if since is None else ():
            cockpit.set(name, scenario.value(written))

    def handed_over(self, scenario: Scenario, cockpit: Cockpit) -> Shared:
        """What this crew has done, said and wants, for another one that goes on in another aeroplane.

        Args:
            scenario: what the other crew does.
            cockpit: the other aeroplane, in the same state.
        """
        old = self._shared
        return replace(
            old, scenario=scenario, cockpit=cockpit, done=dict(old.done), said=dict(old.said), calls=[],
            slips=list(old.slips), mends=list(old.mends), mended=dict(old.mended),
            mends_due_s=dict(old.mends_due_s),
        )  # fmt: skip

    def tick(self, sim_s: float) -> list[Call]:
        """Let every seat do what is due.

        Args:
            sim_s: the simulator's time; may not go back.

        Returns:
            The calls made at this moment.
        """
        dt_s, self._shared.sim_s = sim_s - self._shared.sim_s, sim_s
        for seat in self._seats:
            seat.tick()
        self._mend(sim_s)
        if self._shared.drive is not None:
            self._driver.tick(self._shared.drive, self._scenario, dt_s)
        if self._shared.fly is not None:
            self._hands.tick(self._shared.fly, self._scenario)
        made = [Call(name, by, sim_s) for name, by in self._shared.calls]
        self._shared.calls.clear()
        self.calls.extend(made)
        return made

    def _mend(self, sim_s: float) -> None:
        """Put right the slips whose time has come."""
        shared = self._shared
        for seat, mend in tuple(shared.mends):
            if mend.slip not in shared.mends_due_s and all(holds(wait, shared) for wait in mend.wait):
                shared.mends_due_s[mend.slip] = sim_s + mend.after_s
            if sim_s >= shared.mends_due_s.get(mend.slip, inf):
                shared.mends.remove((seat, mend))
                self._put_right(seat, mend)

    def _put_right(self, seat: str, mend: Mend) -> None:
        """Do late what a slip has left undone."""
        shared = self._shared
        for name, written in mend.put.items():
            shared.cockpit.set(name, shared.scenario.value(written))
        for call in mend.calls:
            shared.said[call] = shared.sim_s
            shared.calls.append((call, seat))
        shared.mended[mend.slip] = shared.sim_s

    @property
    def finished(self) -> bool:
        """True when all that the scenario ends with has come."""
        return all(holds(wait, self._shared) for wait in self._scenario.ends)

    @property
    def waiting(self) -> dict[str, str]:
        """The step that each seat is at, for whoever wonders why nothing goes on."""
        return {seat.name: seat.at for seat in self._seats if not seat.finished}

    @property
    def done(self) -> dict[str, float]:
        """When each step was done: `seat.key` and simulated seconds."""
        return dict(self._shared.done)

    def record(self) -> list[Slipped]:
        """The slips that were really done so far, in the order of time; each at its first moment."""
        seen: dict[str, float] = {}
        for name, sim_s in self._shared.slips:
            seen.setdefault(name, sim_s)
        return [
            self._slipped(name, sim_s) for name, sim_s in sorted(seen.items(), key=lambda entry: entry[1])
        ]

    def _slipped(self, name: str, sim_s: float) -> Slipped:
        """One slip as it went."""
        slip = self._catalogue[name]
        return Slipped(
            name, slip.kind, slip.seat, sim_s, slip.says, slip.signals, self._shared.mended.get(name)
        )
