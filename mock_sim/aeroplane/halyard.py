"""The aeroplane: every system of the invented Halyard 220, put together and stepped through time.

Takes: controls as words and numbers, and time.  Gives: all signals of the twin_jet book.
"""

from __future__ import annotations

from collections.abc import Mapping
from functools import cache
from math import isfinite
from types import MappingProxyType

from mock_sim.aeroplane import (
    airframe,
    alerts,
    apu,
    autoflight,
    cabin_doors,
    controls,
    electrical,
    engines,
    fire,
    fuel,
    gear_brakes,
    hydraulics,
    ice,
    instruments,
    lights_signs,
    management,
    motion,
    pneumatic,
    pressurisation,
    takeoff_warning,
    world,
)
from mock_sim.aeroplane.dynamics import SUB_STEP_S
from mock_sim.aeroplane.noise import Noise
from mock_sim.aeroplane.panel import Panel, System
from rules.signals.book import load_books
from rules.signals.model import Signal, Value

LONGEST_STEP_S = 0.5
SHORTEST_STEP_S = 0.01

PARTS = tuple(
    module.PART
    for module in (
        world, motion, airframe, electrical, apu, pneumatic, fuel, hydraulics, engines, controls, gear_brakes, ice,
        lights_signs, fire, cabin_doors, autoflight, instruments, management, pressurisation, takeoff_warning, alerts,
    )
)  # fmt: skip


@cache
def _book() -> Mapping[str, Signal]:
    """The signals of the twin jet, read once."""
    return load_books(["twin_jet"])


class Aeroplane:
    """One Halyard 220, parked and dark at the stand until somebody touches it.

    Systems are public, for tests and for a curious scenario; a sender needs only `state()`.
    """

    def __init__(self, *, seed: int = 1, noise: bool = True) -> None:
        """Build it.

        Args:
            seed: begins the noise; the same seed and the same steps give the same states.
            noise: False for exact values.
        """
        signals = _book()
        self.panel = Panel(signals, PARTS)
        self.sim_s = 0.0
        self._noise = Noise(signals, seed) if noise else None
        self._build()
        self._shown: dict[str, Value] = {}
        self._publish()

    def _build(self) -> None:
        """Put the systems together; the order is the order in which they are stepped."""
        panel = self.panel
        self.world = world.World(panel)
        self.electrical = electrical.Electrical(panel)
        self.apu = apu.Apu(panel, self.electrical)
        self.pneumatic = pneumatic.Pneumatic(panel, self.electrical, self.apu)
        self.fuel = fuel.Fuel(panel, self.electrical, self.apu)
        self.hydraulics = hydraulics.Hydraulics(panel, self.electrical)
        self.engines = {
            k: engines.Engine(k, panel, self.electrical, self.fuel, self.hydraulics) for k in "12"
        }
        self.controls = controls.Controls(panel, self.electrical, self.hydraulics)
        self.gear = gear_brakes.GearBrakes(panel, self.electrical, self.hydraulics)
        self.autoflight = autoflight.Autoflight(panel, self.electrical, self.hydraulics)
        self.airframe = airframe.Airframe(panel, self.world, self.engines)
        self.motion = motion.Motion(panel, self.world, self.airframe, self.gear, self.autoflight)
        self.alerts = alerts.Alerts(panel, self.electrical)
        self._systems: tuple[System, ...] = (
            self.world,
            self.electrical,
            self.apu,
            self.pneumatic,
            self.fuel,
            self.hydraulics,
            *self.engines.values(),
            self.controls,
            self.gear,
            ice.Ice(panel, self.electrical),
            lights_signs.LightsSigns(panel, self.electrical),
            fire.Fire(panel, self.electrical),
            cabin_doors.CabinDoors(panel, self.electrical),
            self.autoflight,
            self.motion,
            instruments.Instruments(panel, self.electrical),
            pressurisation.Pressurisation(panel, self.electrical),
            self.alerts,
        )

    @property
    def controls_known(self) -> Mapping[str, Signal]:
        """Every control that `set` takes, with its kind, words or travel."""
        return MappingProxyType(self.panel.controls)

    def set(self, name: str, value: Value) -> None:
        """Put a control into a position; what follows from it comes with the next steps.

        A control that something holds (a gear lever on the ground, a switch whose relay has let go) is moved back by the
        aeroplane itself, as in a real one.

        Args:
            name: the control's name, most often a signal's.
            value: a word, or a number in the unit of the control.

        Raises:
            ControlError: unknown control or word, or a number outside the travel; names the nearest.
        """
        if self.panel.set(name, value):
            self._shown[name] = (
                self.panel.words[name] if name in self.panel.words else self.panel.numbers[name]
            )

    def get(self, name: str) -> Value:
        """What a signal reads, or where a control stands that no signal shows.

        Args:
            name: a signal or a control.

        Raises:
            ControlError: neither.
        """
        return self._shown[name] if name in self._shown else self.panel.position(name)

    def step(self, dt_s: float) -> None:
        """Let time pass; nothing moves while the simulator is paused.

        Args:
            dt_s: 0.01 to 0.5 simulated seconds.

        Raises:
            ValueError: the time is outside these bounds.
        """
        if not SHORTEST_STEP_S <= dt_s <= LONGEST_STEP_S:
            raise ValueError(f"a step is {SHORTEST_STEP_S} to {LONGEST_STEP_S} s long, not {dt_s}")
        if self.panel.words["sim.paused"] == "yes":
            return
        parts = max(1, round(dt_s / SUB_STEP_S + 0.499))
        for _ in range(parts):
            for system in self._systems:
                system.step(dt_s / parts)
        self.sim_s += dt_s
        self._publish()

    def run(self, seconds: float, dt_s: float = 0.1) -> None:
        """Let a longer time pass in equal steps.

        Args:
            seconds: simulated seconds.
            dt_s: length of one step.
        """
        for _ in range(round(seconds / dt_s)):
            self.step(dt_s)

    def place(self, latitude: float, longitude: float, heading_deg: float) -> None:
        """Reposition the aeroplane on the field, standing on its wheels; shows with the next step.

        Args:
            latitude: degrees, -85 to 85, north positive.
            longitude: degrees, -180 to 180, east positive.
            heading_deg: where the nose points.

        Raises:
            ValueError: the place is not on this sphere.
        """
        if not (abs(latitude) <= 85.0 and abs(longitude) <= 180.0 and isfinite(heading_deg)):
            raise ValueError(f"no such place: {latitude}, {longitude}, heading {heading_deg}")
        self.motion.place(latitude, longitude, heading_deg)

    def state(self) -> dict[str, Value]:
        """All signals of the book as they read now; a copy that the caller may keep."""
        return self._shown.copy()

    def _publish(self) -> None:
        """Bring what is shown up to date."""
        self._shown.update(self.panel.words)
        self._shown.update(self.panel.numbers)
        if self._noise is not None:
            self._noise.add(self._shown, self.panel.numbers)
