"""The whole crew: all seats work at the same time; calls and slips are recorded.

Takes: a scenario, an aeroplane, a seed, and the simulator's time.  Gives: calls, and slips really done.
"""

from __future__ import annotations

from dataclasses import replace
from math import inf
from typing import NamedTuple

from mock_sim.crew.flight_control import FlightControl
from mock_sim.crew.seat import Cockpit, CrewSeat, CrewState, is_satisfied
from mock_sim.crew.taxi_control import TaxiControl
from mock_sim.scenario.model import Correction, Scenario, SlipKind


class CrewCall(NamedTuple):
    """A call: its name, the seat that made it, and the simulated second."""

    name: str
    by: str
    sim_s: float


class CrewSlip(NamedTuple):
    """A slip that was made: its time, and the time of its correction, in simulated seconds (None: never corrected)."""

    id: str
    kind: SlipKind
    seat: str
    sim_s: float
    sentence: str
    signals: tuple[str, ...]
    corrected_s: float | None = None

    def as_dict(self) -> dict[str, object]:
        """Return the slip as plain data, for JSON."""
        return {
            "id": self.id, "kind": str(self.kind), "seat": self.seat, "sim_s": self.sim_s, "sentence": self.sentence,
            "signals": self.signals, "corrected_s": self.corrected_s,
        }  # fmt: skip


class Crew:
    """All seats.  `calls` holds every call so far; `finished` is True when the scenario is over."""

    def __init__(
        self, scenario: Scenario, cockpit: Cockpit, seed: int = 0, *, previous: Crew | None = None
    ) -> None:
        """Build every seat of the scenario and set its world.

        Args:
            scenario: the steps of all seats.
            cockpit: the aeroplane.
            seed: gives the pace of each person.
            previous: a crew at some moment of its flight; this one continues from there and does not set the world.
        """
        self._state = (
            CrewState(scenario, cockpit) if previous is None else previous.state_for(scenario, cockpit)
        )
        self._seats = [CrewSeat(name, steps, self._state, seed) for name, steps in scenario.seats.items()]
        self._taxi_control = TaxiControl(cockpit)
        self._flight_control = FlightControl(cockpit)
        self._catalogue = {slip.id: slip for slip in scenario.slips}
        self._scenario = scenario
        self.calls: list[CrewCall] = []
        for name, written in scenario.world.items() if previous is None else ():
            cockpit.set(name, scenario.value(written))

    def state_for(self, scenario: Scenario, cockpit: Cockpit) -> CrewState:
        """Copy the progress of this crew for another one that continues in another aeroplane.

        Args:
            scenario: of the other crew.
            cockpit: the other aeroplane, in the same state.
        """
        old = self._state
        return replace(
            old, scenario=scenario, cockpit=cockpit, step_times_s=dict(old.step_times_s), call_times_s=dict(old.call_times_s), new_calls=[],
            slip_times=list(old.slip_times), pending_corrections=list(old.pending_corrections), correction_times_s=dict(old.correction_times_s),
            corrections_due_s=dict(old.corrections_due_s),
        )  # fmt: skip

    def tick(self, sim_s: float) -> list[CrewCall]:
        """Let every seat do what is due.

        Args:
            sim_s: the simulator's time; must not decrease.

        Returns:
            The calls made at this moment.
        """
        dt_s, self._state.sim_s = sim_s - self._state.sim_s, sim_s
        for seat in self._seats:
            seat.tick()
        self._make_due_corrections(sim_s)
        if self._state.drive is not None:
            self._taxi_control.tick(self._state.drive, self._scenario, dt_s)
        if self._state.fly is not None:
            self._flight_control.tick(self._state.fly, self._scenario)
        made = [CrewCall(name, by, sim_s) for name, by in self._state.new_calls]
        self._state.new_calls.clear()
        self.calls.extend(made)
        return made

    def _make_due_corrections(self, sim_s: float) -> None:
        """Make the corrections that are due."""
        shared = self._state
        for seat, correction in tuple(shared.pending_corrections):
            if correction.slip not in shared.corrections_due_s and all(
                is_satisfied(wait, shared) for wait in correction.wait
            ):
                shared.corrections_due_s[correction.slip] = sim_s + correction.after_s
            if sim_s >= shared.corrections_due_s.get(correction.slip, inf):
                shared.pending_corrections.remove((seat, correction))
                self._correct(seat, correction)

    def _correct(self, seat: str, correction: Correction) -> None:
        """Do what a slip has left undone."""
        shared = self._state
        for name, written in correction.settings.items():
            shared.cockpit.set(name, shared.scenario.value(written))
        for call in correction.calls:
            shared.call_times_s[call] = shared.sim_s
            shared.new_calls.append((call, seat))
        shared.correction_times_s[correction.slip] = shared.sim_s

    @property
    def finished(self) -> bool:
        """True when every end condition of the scenario is met."""
        return all(is_satisfied(wait, self._state) for wait in self._scenario.ends)

    @property
    def current_steps(self) -> dict[str, str]:
        """The current step of each seat that is not finished, for diagnosis."""
        return {seat.name: seat.current_step for seat in self._seats if not seat.finished}

    @property
    def step_times_s(self) -> dict[str, float]:
        """The simulated second at which each step (`seat.key`) was done."""
        return dict(self._state.step_times_s)

    def slip_records(self) -> list[CrewSlip]:
        """Return the slips that were made so far, in the order of time; each at its first moment."""
        seen: dict[str, float] = {}
        for name, sim_s in self._state.slip_times:
            seen.setdefault(name, sim_s)
        return [
            self._slip_record(name, sim_s) for name, sim_s in sorted(seen.items(), key=lambda entry: entry[1])
        ]

    def _slip_record(self, name: str, sim_s: float) -> CrewSlip:
        """Return one slip with its times."""
        slip = self._catalogue[name]
        return CrewSlip(
            name,
            slip.kind,
            slip.seat,
            sim_s,
            slip.sentence,
            slip.signals,
            self._state.correction_times_s.get(name),
        )
