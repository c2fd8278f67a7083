"""Schedule of the stock twin jet: both starts, set-up, a short taxi, take-off, gear, flaps, climb.

Takes: an aircraft and slips.  Gives: `TwinJetSchedule` and the start state `STAND`.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from types import MappingProxyType

from mock_sim.jsbsim.process.pilot import Gains, StockPilot
from mock_sim.jsbsim.process.properties import AircraftProperties
from mock_sim.jsbsim.process.schedule import EventCallback, Ready, Schedule
from mock_sim.jsbsim_models import model_folder

MODEL = model_folder("twin_jet")
RUNWAY_DEG = 359.0
STAND: Mapping[str, float] = MappingProxyType(
    {
        "ic/h-agl-ft": 8.8,
        "ic/vc-kts": 0.0,
        "ic/psi-true-deg": RUNWAY_DEG,
        "ic/terrain-elevation-ft": 0.0,
        "propulsion/active_engine": -1,
        "propulsion/starter_cmd": 0,
        "propulsion/cutoff_cmd": 1,
        "gear/gear-cmd-norm": 1,
        "fcs/left-brake-cmd-norm": 1,
        "fcs/right-brake-cmd-norm": 1,
        "fcs/center-brake-cmd-norm": 1,
        "fcs/throttle-cmd-norm": 0,
        "fcs/throttle-cmd-norm[1]": 0,
        "fcs/elevator-cmd-norm": 0,
        "fcs/aileron-cmd-norm": 0,
        "fcs/rudder-cmd-norm": 0,
        "fcs/steer-cmd-norm": 0,
        "fcs/pitch-trim-cmd-norm": 0,
        "fcs/flap-cmd-norm": 0,
        "fcs/speedbrake-cmd-norm": 0,
    }
)
GAINS = Gains(
    pitch=0.04, pitch_rate=0.06, pitch_sum=0.0005, bank=0.02, roll_rate=0.02,
    heading=0.05, yaw_rate=0.05, rudder_most=0.3, steer=0.4,
)  # fmt: skip

FUEL_N2 = 25.0  # the library's starter brings N2 to little more than this
EARLY_N2 = 15.0
IDLE_N2 = 57.0
FULL_FLAP_DEG = 30.0
FLAP_DEG = 10.0
TRIM = -0.1
TRIM_OFF = -0.05
TRIM_NOSE_DOWN = 0.15
TAXI_THROTTLE = 0.19
STAND_UP_THROTTLE = 0.30
ROTATE_KT = 145.0
FLAPS_UP_KT = 190.0
SIDES = ("left", "right")


class TwinJetSchedule(Schedule):
    """The schedule of the stock twin jet; left engine first, as its trip sheet says."""

    def __init__(self, aircraft: AircraftProperties, slips: frozenset[str], on_event: EventCallback) -> None:
        super().__init__(aircraft, StockPilot(aircraft, GAINS, RUNWAY_DEG), slips, on_event)

    def steps(self) -> Iterator[Ready]:
        """Run the parts of the flight."""
        yield self.wait_for(5.0)
        order = (1, 0) if self.should_slip("start_order", "right engine first") else (0, 1)
        for place, engine in enumerate(order):
            yield from self._start(engine, first=place == 0)
        yield from self._set_up()
        yield from self._taxi()
        yield from self._take_off()
        yield from self._climb()

    def _start(self, engine: int, *, first: bool) -> Iterator[Ready]:
        """Start one engine."""
        side, n2 = SIDES[engine], f"propulsion/engine[{engine}]/n2"
        self.aircraft["propulsion/active_engine"] = engine
        self.aircraft["propulsion/starter_cmd"] = 1
        self.emit(f"{side} engine: starter")
        yield self.wait_until_at_least(n2, EARLY_N2)
        if not (first and self.should_slip("fuel_early", f"{side} engine: fuel early")):
            yield self.wait_until_at_least(n2, FUEL_N2)
        self.aircraft["propulsion/cutoff_cmd"] = 0
        self.emit(f"{side} engine: fuel at N2 {self.aircraft[n2]:.1f} %")
        yield self.wait_until_at_least(n2, IDLE_N2)
        self.emit(f"{side} engine: idle")
        yield self.wait_for(3.0)

    def _set_up(self) -> Iterator[Ready]:
        """Set flaps, speedbrake and flight controls; the trim last, since it limits this model's elevator travel."""
        aircraft = self.aircraft
        aircraft["propulsion/active_engine"] = -1
        yield self.wait_for(8.0)
        flap_deg = 5.0 if self.should_slip("flaps_5", "flap lever to 5 degrees") else FLAP_DEG
        if not self.should_slip("flaps", "flaps left up"):
            aircraft["fcs/flap-cmd-norm"] = flap_deg / FULL_FLAP_DEG
            self.emit(f"flap lever to {flap_deg:g} degrees")
        yield self.wait_for(2.0)
        aircraft["fcs/speedbrake-cmd-norm"] = 1
        self.emit("speedbrake tried")
        yield self.wait_for(3.0)
        if not self.should_slip("speedbrake", "speedbrake left out"):
            aircraft["fcs/speedbrake-cmd-norm"] = 0
        yield self.wait_for(2.0)
        no_rudder = self.should_slip("controls", "rudder not moved")
        self.emit("flight controls moved stop to stop")
        yield from self.sweep_axes(
            ("elevator", "aileron") if no_rudder else ("elevator", "aileron", "rudder")
        )
        aircraft["fcs/pitch-trim-cmd-norm"] = self._trim()
        self.emit("trim set")
        yield self.wait_for(3.0)

    def _trim(self) -> float:
        """Return the pitch trim to set."""
        if self.should_slip("trim", "trim nose down"):
            return TRIM_NOSE_DOWN
        return TRIM_OFF if self.should_slip("trim_value", "trim one unit off") else TRIM

    def _taxi(self) -> Iterator[Ready]:
        """Roll a short way to the holding point, and set the parking brake there."""
        self.parking_brake(on=False)
        self.pilot.on_runway = True
        self.emit("parking brake released")
        yield self.wait_for(2.0)
        self._thrust(TAXI_THROTTLE)
        self.emit("thrust for the taxi")
        yield self.wait_until_at_least("velocities/vg-fps", 8.0)
        self._thrust(0.0)
        yield self.wait_for(8.0)
        self.emit("brakes to a stop")
        self.toe_brakes(0.5)
        yield self._stopped
        self.pilot.on_runway = False
        self.parking_brake(on=True)
        self.emit("parking brake set at the holding point")
        yield self.wait_for(8.0)

    def _stopped(self) -> bool:
        """Return True if the aeroplane has stopped."""
        return self.aircraft["velocities/vg-fps"] < 0.2

    def _take_off(self) -> Iterator[Ready]:
        """Apply part thrust on the brakes, then roll."""
        forgotten = self.should_slip("parking_brake", "parking brake left set")
        if not forgotten:
            self.parking_brake(on=False)
            self.toe_brakes(1.0)
            self.emit("parking brake released, toe brakes held")
        yield self.wait_for(2.0)
        self._thrust(STAND_UP_THROTTLE)
        self.emit("thrust stood up")
        yield self.wait_for(9.0)
        self.parking_brake(on=False)
        self.pilot.on_runway = True
        self._thrust(1.0)
        self.emit("brakes released, take-off thrust")
        yield self.wait_until_at_least("velocities/vc-kts", ROTATE_KT)
        self.pilot.pitch_deg = 12.0
        self.emit("rotation")
        yield self._off_the_ground
        self.emit(f"lift-off at {self.aircraft['velocities/vc-kts']:.0f} kt")

    def _off_the_ground(self) -> bool:
        """Return True if no wheel carries weight."""
        return not self.aircraft["gear/wow"]

    def _climb(self) -> Iterator[Ready]:
        """Retract gear and flaps, and climb."""
        aircraft = self.aircraft
        yield self._all(
            self.wait_until_at_least("position/h-agl-ft", 60.0),
            self.wait_until_at_least("velocities/h-dot-fps", 5.0),
        )
        aircraft["gear/gear-cmd-norm"] = 0
        self.emit("gear lever up")
        yield self.wait_until_at_least("velocities/vc-kts", FLAPS_UP_KT)
        aircraft["fcs/flap-cmd-norm"] = 0
        self.emit("flap lever up")
        yield self.wait_until_at_least("position/h-agl-ft", 3000.0)
        self.pilot.pitch_deg = 8.0
        self._thrust(0.85)
        self.emit("climb thrust")
        yield self.wait_for(5.0)
        self.emit("end of the schedule")

    def _thrust(self, throttle: float) -> None:
        """Set both thrust levers."""
        self.aircraft["fcs/throttle-cmd-norm"] = throttle
        self.aircraft["fcs/throttle-cmd-norm[1]"] = throttle

    @staticmethod
    def _all(*conditions: Callable[[], bool]) -> Ready:
        """Return a condition: all of these are met."""
        return lambda: all(condition() for condition in conditions)
