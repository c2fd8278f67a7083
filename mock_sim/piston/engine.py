"""The engine: four cylinders and a fixed-pitch propeller, from standstill to full power and back.

It fires after some turns of the starter, sooner when primed; oil pressure comes after a few seconds; temperatures take minutes.
Behaviour: general training knowledge, from memory; every number is of an invented type.

Takes: throttle, mixture, sparks, fuel, carburettor, airspeed, faults.  Gives: every engine signal.
"""

from __future__ import annotations

from mock_sim.common.dynamics import clamp, fraction_between, lag, slew
from mock_sim.common.panel import Panel, Part, choice_control
from mock_sim.common.world import World
from mock_sim.piston.carburettor import Carburettor
from mock_sim.piston.fuel import Fuel
from mock_sim.piston.ignition import Ignition

CRANK_RPM = 190.0
IDLE_RPM = 640.0
FULL_RPM = 2330.0
MIN_RUNNING_RPM = 300.0
WARM_START_S = 1.8
COLD_START_S = 9.0
RELIGHT_S = 0.2
"""Time until a turning engine fires again with spark and fuel, seconds."""
OIL_LATE_S = 2.5
OIL_SLOW_S = 70.0
HPA_INHG = 33.8639
ENGINE = "engine.1."

PART = Part(
    controls={
        f"{ENGINE}throttle": 0.0,
        f"{ENGINE}primer": "locked",
        "oil.dipstick": 5.6,
        "fault.oil_pressure": "none",
        "fault.engine": "none",
    },
    drives={
        f"{ENGINE}rpm": 0.0,
        f"{ENGINE}manifold_pressure": 29.6,
        f"{ENGINE}running": "no",
        f"{ENGINE}egt": 9.0,
        f"{ENGINE}cht": 9.0,
        f"{ENGINE}oil_pressure": 0.0,
        f"{ENGINE}oil_temperature": 9.0,
        f"{ENGINE}fuel_flow": 0.0,
        f"{ENGINE}cowl_flaps": 100.0,
        "propeller.lever": 100.0,
        "hours.engine": 2143.62,
        "hours.flight": 1876.24,
    },
    extra=(
        choice_control(
            "fault.oil_pressure", ("none", "late", "lost"), "Oil pressure comes only after 70 s, or goes"
        ),
        choice_control("fault.engine", ("none", "stopped"), "The engine stops and will not run"),
    ),
)


def full_rpm(airspeed_kt: float) -> float:
    """Return the engine speed at full throttle, rpm; airspeed increases it.

    Args:
        airspeed_kt: airspeed.
    """
    return FULL_RPM + 2.2 * airspeed_kt


def throttle_fraction(throttle: float) -> float:
    """Return the position of the engine speed between idle and full, 0 to 1.

    Args:
        throttle: control, per cent.
    """
    share: float = (max(0.0, throttle) / 100.0) ** 0.6
    return share


class Engine:
    """One engine with its propeller."""

    def __init__(
        self, panel: Panel, world: World, fuel: Fuel, ignition: Ignition, carburettor: Carburettor
    ) -> None:
        self._panel = panel
        self._world = world
        self._fuel = fuel
        self._ignition = ignition
        self._carburettor = carburettor
        self._primed = 0.0
        self._primer_open = False
        self._cranked_s = 0.0
        self._running_s = 0.0

    def step(self, dt_s: float) -> None:
        """Advance the engine."""
        self._prime()
        self._burn(dt_s)
        self._turn(dt_s)
        self._breathe(dt_s)
        self._warm(dt_s)
        self._oil(dt_s)
        self._advance_hour_meters(dt_s)

    @property
    def running(self) -> bool:
        """True while the engine runs by itself."""
        return self._panel.words[f"{ENGINE}running"] == "yes"

    @property
    def _available_power(self) -> float:
        """Return the share of the engine speed left by sparks, mixture, heat and ice; 0 if it cannot run."""
        if not self._fuel.fed or self._panel.switch["fault.engine"] == "stopped":
            return 0.0
        return self._ignition.speed_fraction * self._carburettor.power_fraction(self._world.density_kg_m3)

    def _prime(self) -> None:
        """Add fuel to the cylinders at each stroke of the primer."""
        pulled = self._panel.switch[f"{ENGINE}primer"] == "open"
        if self._primer_open and not pulled and self._fuel.fed:
            self._primed = min(1.0, self._primed + 0.5)
        self._primer_open = pulled

    def _burn(self, dt_s: float) -> None:
        """Start to run after some turns; stop if something is missing or the rotation ends."""
        panel, rpm = self._panel, self._panel.numbers[f"{ENGINE}rpm"]
        can = self._available_power > 0.3
        if self.running:
            lives = can and rpm > MIN_RUNNING_RPM
            panel.words[f"{ENGINE}running"] = "yes" if lives else "no"
            return
        turning = (self._ignition.cranking and rpm > 100.0) or rpm > MIN_RUNNING_RPM
        self._cranked_s = self._cranked_s + dt_s if turning and can else 0.0
        ready = fraction_between(panel.numbers[f"{ENGINE}oil_temperature"], 10.0, 45.0)
        wanted = COLD_START_S - (COLD_START_S - WARM_START_S) * max(self._primed, ready)
        wanted = RELIGHT_S if rpm > MIN_RUNNING_RPM else wanted
        if turning and self._cranked_s >= wanted:
            panel.words[f"{ENGINE}running"] = "yes"
            panel.numbers[f"{ENGINE}rpm"] = max(rpm, 1.6 * MIN_RUNNING_RPM)
            self._primed = 0.0

    def _turn(self, dt_s: float) -> None:
        """Move the engine speed to its target from throttle, power and airspeed."""
        numbers, dial = self._panel.numbers, self._panel.dial
        speed = numbers["flight.airspeed"]
        drag = 9.0 * max(0.0, speed - 25.0)
        if self.running:
            share = throttle_fraction(dial[f"{ENGINE}throttle"])
            blown = (7.0 * (1.0 - share) + 2.2 * share) * speed
            target = (IDLE_RPM + (FULL_RPM - IDLE_RPM) * share) * self._available_power + blown
        else:
            target = max(CRANK_RPM if self._ignition.cranking else 0.0, min(drag, 1100.0))
        numbers[f"{ENGINE}rpm"] = clamp(
            lag(numbers[f"{ENGINE}rpm"], target, 0.6 if target else 1.1, dt_s), 0.0, 3900.0
        )
        if numbers[f"{ENGINE}rpm"] < 1.0 and target == 0.0:
            numbers[f"{ENGINE}rpm"] = 0.0

    def _breathe(self, dt_s: float) -> None:
        """Update manifold pressure and fuel flow."""
        numbers = self._panel.numbers
        air = self._world.pressure_hpa / HPA_INHG
        turning = fraction_between(numbers[f"{ENGINE}rpm"], 0.0, IDLE_RPM)
        share = throttle_fraction(self._panel.dial[f"{ENGINE}throttle"])
        sucked = air * (1.0 - turning * 0.64 * (1.0 - share) - 0.03 * turning)
        manifold = lag(numbers[f"{ENGINE}manifold_pressure"], sucked, 0.5, dt_s)
        numbers[f"{ENGINE}manifold_pressure"] = clamp(manifold, 0.0, 44.0)
        rich = self._carburettor.richness(self._world.density_kg_m3)
        flow = (2.4 + 22.0 * self._power_fraction) * (0.45 + 0.55 * rich) if self.running else 0.0
        numbers[f"{ENGINE}fuel_flow"] = clamp(flow, 0.0, 99.0)

    def _warm(self, dt_s: float) -> None:
        """Update exhaust, heads and oil; a stopped engine cools slowly, airflow cools a moving one."""
        numbers, work = self._panel.numbers, self._power_fraction
        outside = numbers["flight.outside_air_temperature"]
        if not self.running:
            for name, time_s in (("egt", 40.0), ("cht", 600.0), ("oil_temperature", 900.0)):
                self._approach(f"{ENGINE}{name}", outside, time_s, dt_s)
            return
        cooling = 1.0 + 0.012 * numbers["flight.airspeed"]
        self._approach(f"{ENGINE}egt", self._exhaust_c(work), 3.0, dt_s)
        self._approach(f"{ENGINE}cht", outside + 75.0 + 190.0 * work / cooling, 110.0, dt_s)
        self._approach(f"{ENGINE}oil_temperature", outside + 48.0 + 45.0 * work / cooling**0.5, 170.0, dt_s)

    @property
    def _power_fraction(self) -> float:
        """Return the power, 1 at full throttle at standstill; 0 while it does not run."""
        return (self._panel.numbers[f"{ENGINE}rpm"] / FULL_RPM) ** 2 if self.running else 0.0

    def _exhaust_c(self, work: float) -> float:
        """Return the target of the exhaust temperature; on one magneto the mixture burns late and hot."""
        burning = self._carburettor.combustion_heat(self._world.density_kg_m3)
        late = 35.0 if len(self._ignition.firing) == 1 else 0.0
        return 360.0 + (330.0 + 130.0 * min(1.2, work)) * burning + late

    def _approach(self, name: str, target: float, time_s: float, dt_s: float) -> None:
        """Move a temperature towards its target."""
        signal = self._panel.signals[name]
        numbers = self._panel.numbers
        numbers[name] = clamp(lag(numbers[name], target, time_s, dt_s), signal.low + 1.0, signal.high - 10.0)

    def _oil(self, dt_s: float) -> None:
        """Update the oil pressure, which rises some seconds after the start; thin oil gives less."""
        numbers, fault = self._panel.numbers, self._panel.switch["fault.oil_pressure"]
        turns = numbers[f"{ENGINE}rpm"] > MIN_RUNNING_RPM
        self._running_s = self._running_s + dt_s if turns else 0.0
        late_s = OIL_SLOW_S if fault == "late" else OIL_LATE_S
        pumps = turns and self._running_s >= late_s and fault != "lost"
        thick = 1.0 - fraction_between(numbers[f"{ENGINE}oil_temperature"], 0.0, 120.0)
        full = 34.0 + 30.0 * fraction_between(numbers[f"{ENGINE}rpm"], IDLE_RPM, 2200.0) + 24.0 * thick
        low = fraction_between(self._panel.dial["oil.dipstick"], 1.0, 2.5)
        target = full * low if pumps else 0.0
        numbers[f"{ENGINE}oil_pressure"] = lag(numbers[f"{ENGINE}oil_pressure"], target, 1.4, dt_s)
        if target == 0.0:
            numbers[f"{ENGINE}oil_pressure"] = slew(numbers[f"{ENGINE}oil_pressure"], 0.0, 0.5, dt_s)

    def _advance_hour_meters(self, dt_s: float) -> None:
        """Advance the hour meters: one by oil pressure, one by airspeed."""
        numbers = self._panel.numbers
        if numbers[f"{ENGINE}oil_pressure"] > 4.0:
            numbers["hours.engine"] += dt_s / 3600.0
        if numbers["flight.airspeed"] > 35.0:
            numbers["hours.flight"] += dt_s / 3600.0
