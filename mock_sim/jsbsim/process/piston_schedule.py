"""Schedule of the stock piston single: start, run-up, set-up, take-off, climb.

Takes: an aircraft and slips.  Gives: `PistonSchedule` and the start state `STAND`.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from types import MappingProxyType

from mock_sim.jsbsim.process.pilot import Gains, StockPilot
from mock_sim.jsbsim.process.properties import AircraftProperties
from mock_sim.jsbsim.process.schedule import EventCallback, Ready, Schedule
from mock_sim.jsbsim_models import model_folder

MODEL = model_folder("piston")
RUNWAY_DEG = 0.5
STAND: Mapping[str, float] = MappingProxyType(
    {
        "ic/h-agl-ft": 4.36,
        "ic/vc-kts": 0.0,
        "ic/psi-true-deg": RUNWAY_DEG,
        "ic/terrain-elevation-ft": 0.0,
        "propulsion/starter_cmd": 0,
        "propulsion/magneto_cmd": 0,
        "fcs/left-brake-cmd-norm": 1,
        "fcs/right-brake-cmd-norm": 1,
        "fcs/center-brake-cmd-norm": 1,
        "fcs/mixture-cmd-norm": 0,
        "fcs/throttle-cmd-norm": 0,
        "fcs/elevator-cmd-norm": 0,
        "fcs/aileron-cmd-norm": 0,
        "fcs/rudder-cmd-norm": 0,
        "fcs/steer-cmd-norm": 0,
        "fcs/pitch-trim-cmd-norm": 0,
        "fcs/flap-cmd-norm": 0,
    }
)
GAINS = Gains(
    pitch=0.03, pitch_rate=0.02, pitch_sum=0.0003, bank=0.06, roll_rate=0.01,
    heading=0.08, yaw_rate=0.05, rudder_most=0.8, steer=1.0,
)  # fmt: skip

RICH = 0.95
TAXI_MIXTURE = 0.8
IDLE_THROTTLE = 0.12
RUN_UP_THROTTLE = 0.62
TAXI_THROTTLE = 0.35
LEAN = 0.75
FLAP_DEG = 10.0
FULL_FLAP_DEG = 30.0
TRIM_NOSE_UP = -0.35
ROTATE_KT = 52.0
BOTH, RIGHT, LEFT = 3, 2, 1


class PistonSchedule(Schedule):
    """The schedule of the stock piston single."""

    def __init__(self, aircraft: AircraftProperties, slips: frozenset[str], on_event: EventCallback) -> None:
        super().__init__(aircraft, StockPilot(aircraft, GAINS, RUNWAY_DEG), slips, on_event)

    def steps(self) -> Iterator[Ready]:
        """Run the parts of the flight."""
        yield self.wait_for(4.0)
        yield from self._start()
        yield from self._taxi()
        yield from self._run_up()
        yield from self._set_up()
        yield from self._take_off()
        yield from self._climb()

    def _start(self) -> Iterator[Ready]:
        """Start the engine and wait for oil pressure."""
        aircraft = self.aircraft
        aircraft["fcs/mixture-cmd-norm"] = RICH
        aircraft["fcs/throttle-cmd-norm"] = 0.15
        self.emit("mixture rich")
        yield self.wait_for(3.0)
        aircraft["propulsion/magneto_cmd"] = BOTH
        aircraft["propulsion/starter_cmd"] = 1
        self.emit("magnetos both, starter")
        yield (
            lambda: (
                aircraft["propulsion/engine/set-running"] > 0.5
                and aircraft["propulsion/engine/engine-rpm"] > 500
            )
        )
        aircraft["propulsion/starter_cmd"] = 0
        self.emit("engine runs")
        yield self.wait_for(2.0)
        aircraft["fcs/throttle-cmd-norm"] = IDLE_THROTTLE
        aircraft["fcs/mixture-cmd-norm"] = TAXI_MIXTURE
        self.emit("mixture leaned for the ground")
        yield self.wait_until_at_least("propulsion/engine/oil-pressure-psi", 40.0)
        self.emit("oil pressure is up")
        yield self.wait_for(3.0)

    def _taxi(self) -> Iterator[Ready]:
        """Roll a short way to the run-up position and stop."""
        aircraft = self.aircraft
        self.parking_brake(on=False)
        self.pilot.on_runway = True
        aircraft["fcs/throttle-cmd-norm"] = TAXI_THROTTLE
        self.emit("parking brake released, rolling to the run-up place")
        yield self.wait_until_at_least("velocities/vg-fps", 9.0)
        aircraft["fcs/throttle-cmd-norm"] = IDLE_THROTTLE
        yield self.wait_for(5.0)
        self.toe_brakes(0.4)
        yield lambda: aircraft["velocities/vg-fps"] < 0.2
        self.pilot.on_runway = False
        self.parking_brake(on=True)
        self.emit("parking brake set for the run-up")
        yield self.wait_for(2.0)

    def _run_up(self) -> Iterator[Ready]:
        """Increase power on the brakes and check each magneto."""
        aircraft = self.aircraft
        aircraft["fcs/mixture-cmd-norm"] = RICH
        aircraft["fcs/throttle-cmd-norm"] = RUN_UP_THROTTLE
        self.emit("run-up")
        yield self.wait_for(5.0)
        for magneto in (RIGHT, BOTH, LEFT, BOTH):
            aircraft["propulsion/magneto_cmd"] = magneto
            yield self.wait_for(3.0)
        self.emit("magnetos checked")
        aircraft["fcs/throttle-cmd-norm"] = IDLE_THROTTLE
        yield self.wait_for(3.0)

    def _set_up(self) -> Iterator[Ready]:
        """Set flight controls, flaps, trim and mixture for take-off."""
        aircraft = self.aircraft
        if not self.should_slip("controls", "flight controls not moved"):
            self.emit("flight controls moved stop to stop")
            yield from self.sweep_axes(("elevator", "aileron", "rudder"))
        flap_deg = FULL_FLAP_DEG if self.should_slip("flaps_30", "flaps to 30 degrees") else FLAP_DEG
        aircraft["fcs/flap-cmd-norm"] = flap_deg / FULL_FLAP_DEG
        self.emit(f"flap lever to {flap_deg:g} degrees")
        aircraft["fcs/pitch-trim-cmd-norm"] = (
            TRIM_NOSE_UP if self.should_slip("trim", "trim far nose up") else 0.0
        )
        if self.should_slip("mixture", "mixture left lean"):
            aircraft["fcs/mixture-cmd-norm"] = LEAN
        self.emit("set for take-off")
        yield self.wait_for(6.0)

    def _take_off(self) -> Iterator[Ready]:
        """Apply full throttle on the toe brakes, then roll."""
        aircraft = self.aircraft
        if not self.should_slip("parking_brake", "parking brake left set"):
            self.parking_brake(on=False)
            self.toe_brakes(1.0)
            self.emit("parking brake released, toe brakes held")
        yield self.wait_for(2.0)
        aircraft["fcs/throttle-cmd-norm"] = 1.0
        self.emit("full throttle on the brakes")
        yield self.wait_for(4.0)
        self.parking_brake(on=False)
        self.pilot.on_runway = True
        self.emit("brakes released")
        yield self.wait_until_at_least("velocities/vc-kts", ROTATE_KT)
        self.pilot.pitch_deg = 8.0
        self.emit("rotation")
        yield lambda: not aircraft["gear/wow"]
        self.emit(f"lift-off at {aircraft['velocities/vc-kts']:.0f} kt")

    def _climb(self) -> Iterator[Ready]:
        """Retract the flaps at a safe height, and climb."""
        yield self.wait_until_at_least("position/h-agl-ft", 300.0)
        self.aircraft["fcs/flap-cmd-norm"] = 0
        self.emit("flap lever up")
        yield self.wait_until_at_least("position/h-agl-ft", 1200.0)
        self.emit("end of the schedule")
