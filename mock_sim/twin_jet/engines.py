"""Engines: one turbofan from standstill to take-off thrust and back.

A start: air turns the starter, N2 rises 2 to 3 %/s, oil pressure follows, then N1; fuel and ignition light after some
seconds; exhaust temperature peaks while the engine accelerates; the starter disengages near 55 %; idle is N2 60, N1 22.
Behaviour in a start: general training knowledge, from memory; every number is of an invented type.

Takes: start switch, fuel lever, thrust lever, duct pressure, fuel, faults.  Gives: every engine signal.
"""

from __future__ import annotations

from mock_sim.common.dynamics import clamp, fraction_between, lag
from mock_sim.common.panel import Panel, Part, choice_control
from mock_sim.twin_jet.electrical import Electrical
from mock_sim.twin_jet.fuel import Fuel
from mock_sim.twin_jet.hydraulics import Hydraulics
from mock_sim.twin_jet.power_curves import (
    IDLE_EGT_C,
    IDLE_N1,
    IDLE_N2,
    core_speed,
    exhaust_c,
    fan_below_idle,
    flow_kg_h,
    lever_target,
    spool_rate,
    start_peak_c,
)

FAULTS = ("none", "hot", "hung", "no_light", "no_n1", "starter_stuck", "flame_out")
CUT_OUT_N2 = 54.0
LIGHT_S = 4.0
LIGHT_N2 = 10.0
HUNG_N2 = 42.0
START_PSI = 5.0
FULL_START_PSI = 34.0
DUCT = {"1": "left", "2": "right"}


def _part() -> Part:
    """Return the controls and signals of both engines."""
    controls: dict[str, float | str] = {}
    drives: dict[str, float | str] = {}
    for k in "12":
        e = f"engine.{k}."
        controls |= {f"{e}fuel_lever": "closed", f"{e}thrust_lever": 0.0, f"{e}start_switch": "off"}
        controls |= {
            f"{e}control": "normal",
            f"fault.engine.{k}": "none",
            f"parking.engine_cover.{k}": "removed",
        }
        drives |= {f"{e}n1": 0.0, f"{e}n2": 0.0, f"{e}egt": 15.0, f"{e}fuel_flow": 0.0}
        drives |= {f"{e}oil_pressure": 0.0, f"{e}oil_temperature": 15.0, f"{e}oil_quantity": 88.0}
        drives |= {f"{e}vibration": 0.0, f"{e}running": "no", f"{e}reverser": "stowed"}
        drives |= {f"{e}reverser_unlocked": "off", f"{e}start_valve": "closed", f"{e}ignition": "off"}
        drives |= {f"{e}low_oil_pressure": "off"}
    extra = tuple(
        choice_control(f"fault.engine.{k}", FAULTS, f"What goes wrong with engine {k}") for k in "12"
    )
    return Part(controls, drives, extra)


PART = _part()


class Engine:
    """One engine."""

    def __init__(
        self, k: str, panel: Panel, electrical: Electrical, fuel: Fuel, hydraulics: Hydraulics
    ) -> None:
        self._engine_id = k
        self._prefix = f"engine.{k}."
        self._panel = panel
        self._electrical = electrical
        self._fuel = fuel
        self._hydraulics = hydraulics
        self._lit = False
        self._spooled = False
        self._mixture_s = 0.0
        self._without_fuel_s = 0.0
        self._peak_c = 0.0
        self._reverse = 0.0

    def step(self, dt_s: float) -> None:
        """Advance the engine."""
        self._starter()
        self._combustion(dt_s)
        self._spools(dt_s)
        self._temperature(dt_s)
        self._oil(dt_s)
        self._reverser(dt_s)

    @property
    def _fault(self) -> str:
        if self._panel.switch[f"parking.engine_cover.{self._engine_id}"] == "on":
            return "no_n1"  # no air reaches the fan
        return self._panel.switch[f"fault.engine.{self._engine_id}"]

    def _starter(self) -> None:
        """Run the start valve; the switch releases at the cut-out speed, unless it is stuck."""
        panel, e = self._panel, self._prefix
        name = f"{e}start_switch"
        n2 = panel.numbers[f"{e}n2"]
        if panel.switch[name] == "start" and n2 >= CUT_OUT_N2 and self._fault != "starter_stuck":
            panel.move(name, "off")
        powered = self._electrical.any_dc or self._electrical.battery
        turns = (
            panel.switch[name] == "start"
            and powered
            and panel.numbers[f"bleed.duct.{DUCT[self._engine_id]}"] > START_PSI
            and panel.switch[f"fire.engine.{self._engine_id}.handle"] == "normal"
        )
        panel.words[f"{e}start_valve"] = "open" if turns else "closed"
        sparks = panel.switch[name] in ("start", "ignition") or (
            panel.switch[name] == "normal" and panel.words[f"ice.engine.valve.{self._engine_id}"] == "open"
        )
        fires = sparks and powered and panel.switch[f"{e}fuel_lever"] == "open"
        panel.words[f"{e}ignition"] = "on" if fires else "off"

    def _combustion(self, dt_s: float) -> None:
        """Light after some seconds of fuel and spark; go out without fuel."""
        panel, e = self._panel, self._prefix
        n2 = panel.numbers[f"{e}n2"]
        fuel = self._fuel.fed[self._engine_id]
        if not self._lit:
            dead = self._fault in ("no_light", "flame_out")
            ready = fuel and panel.words[f"{e}ignition"] == "on" and n2 > LIGHT_N2 and not dead
            self._mixture_s = self._mixture_s + dt_s if ready else 0.0
            if self._mixture_s >= LIGHT_S:
                self._light_off(n2)
        else:
            self._without_fuel_s = 0.0 if fuel else self._without_fuel_s + dt_s
            if self._without_fuel_s > 0.4 or n2 < 5.0 or self._fault == "flame_out":
                self._lit, self._spooled, self._mixture_s = False, False, 0.0
        self._flow(fuel=fuel, n2=n2)

    def _light_off(self, n2: float) -> None:
        """Light the engine; the earlier the fuel came, the hotter the start."""
        self._lit, self._without_fuel_s = True, 0.0
        self._peak_c = start_peak_c(n2, hot=self._fault == "hot", fan_blocked=self._fault == "no_n1")
        self._panel.numbers[f"fuel.used.{self._engine_id}"] = 0.0

    def _flow(self, *, fuel: bool, n2: float) -> None:
        """Update the fuel flow, and whether the engine runs by itself."""
        panel, e = self._panel, self._prefix
        flow = 0.0
        if self._lit:
            high = panel.numbers["flight.pressure_altitude"]
            running = flow_kg_h(panel.numbers[f"{e}n1"], high)
            flow = running if self._spooled else 110.0 + 190.0 * n2 / IDLE_N2
        elif fuel and n2 > 1.0:
            flow = 100.0 * min(1.0, n2 / 20.0)
        panel.numbers[f"{e}fuel_flow"] = flow
        panel.words[f"{e}running"] = "yes" if self._lit and n2 > IDLE_N2 - 3.0 else "no"

    def _spools(self, dt_s: float) -> None:
        """Update both rotor speeds."""
        numbers, e = self._panel.numbers, self._prefix
        n1, n2 = numbers[f"{e}n1"], numbers[f"{e}n2"]
        blocked = self._fault == "no_n1" and not self._spooled
        if self._lit and not blocked and (self._spooled or n2 >= IDLE_N2 - 0.3):
            self._spooled = True
            n1 = self._fan_running(n1, dt_s)
            n2 = lag(n2, core_speed(n1), 0.6, dt_s)
        else:
            n2 = self._core_below_idle(n2, dt_s)
            n1 = lag(n1, fan_below_idle(n2), 1.5 if self._lit or n2 > n1 * 4.0 else 12.0, dt_s)
            n1, n2 = max(n1, self._windmill(0.06)), max(n2, self._windmill(0.08))
        numbers[f"{e}n1"] = n1 if n1 > 0.05 and not blocked else 0.0
        numbers[f"{e}n2"] = n2 if n2 > 0.05 else 0.0

    def _windmill(self, share: float) -> float:
        """Return the rotor speed that the airflow gives in flight, per cent."""
        numbers = self._panel.numbers
        return share * numbers["flight.airspeed"] if self._panel.words["flight.on_ground"] == "no" else 0.0

    def _fan_running(self, n1: float, dt_s: float) -> float:
        """Move N1 towards the thrust lever: slowly near idle, quickly near the top."""
        lever = self._panel.dial[f"{self._prefix}thrust_lever"]
        if lever < 0.0 and self._reverse < 1.0:
            lever = 0.0
        target = lever_target(lever)
        rate = spool_rate(n1)
        return n1 + clamp((target - n1) / 0.7, -1.3 * rate, rate) * dt_s

    def _core_below_idle(self, n2: float, dt_s: float) -> float:
        """Update N2 below idle: starter, combustion and drag."""
        panel, e = self._panel, self._prefix
        rise = 0.0
        if panel.words[f"{e}start_valve"] == "open":
            power = panel.numbers[f"bleed.duct.{DUCT[self._engine_id]}"] / FULL_START_PSI
            most = (56.0 if self._lit else 36.0) * power
            rise += 2.8 * power * max(0.0, 1.0 - (n2 / max(most, 1.0)) ** 3)
        if self._lit:
            rise += self._flame_rise(n2)
        if rise <= 0.0 and not self._lit:
            return lag(n2, 0.0, 11.0 + 0.5 * max(0.0, 20.0 - n2), dt_s) - 0.15 * dt_s
        return max(0.0, n2 + rise * dt_s)

    def _flame_rise(self, n2: float) -> float:
        """Return the acceleration by combustion, %/s; below 30 % it cannot sustain the core alone."""
        if self._fault == "hung":
            return clamp(0.4 * (HUNG_N2 - n2), -3.5, 0.8)
        alone = fraction_between(n2, 25.0, 45.0)
        pull = -0.6 + 2.6 * alone
        return pull * min(1.0, max(0.25, (IDLE_N2 + 0.5 - n2) / 6.0)) if pull > 0 else pull

    def _temperature(self, dt_s: float) -> None:
        """Update the exhaust gas temperature."""
        numbers, e = self._panel.numbers, self._prefix
        outside = numbers["flight.outside_air_temperature"]
        n1, n2 = numbers[f"{e}n1"], numbers[f"{e}n2"]
        if not self._lit:
            target, slow_s = outside, 25.0 if n2 > 10.0 else 120.0
        elif self._spooled:
            target, slow_s = exhaust_c(n1) + 0.6 * (outside - 15.0), 3.0
        elif self._fault == "hung":
            target, slow_s = 690.0 + 2.0 * max(0.0, n2 - 38.0), 7.0
        else:
            easing = fraction_between(n2, 50.0, IDLE_N2) if self._peak_c < 820.0 else 0.0
            settled = IDLE_EGT_C + (130.0 if self._fault == "no_n1" else 0.0)
            target, slow_s = self._peak_c + (settled - self._peak_c) * easing, 3.5
        numbers[f"{e}egt"] = clamp(lag(numbers[f"{e}egt"], target, slow_s, dt_s), -60.0, 1200.0)

    def _oil(self, dt_s: float) -> None:
        """Update oil pressure and temperature, the low-pressure light, and vibration."""
        panel, e = self._panel, self._prefix
        numbers = panel.numbers
        n1, n2 = numbers[f"{e}n1"], numbers[f"{e}n2"]
        target = 46.0 * (n2 / IDLE_N2) ** 0.8 if n2 <= IDLE_N2 else 46.0 + 0.5 * (n2 - IDLE_N2)
        pressure = lag(numbers[f"{e}oil_pressure"], target, 1.2, dt_s)
        numbers[f"{e}oil_pressure"] = pressure if pressure > 0.2 or n2 > 0.5 else 0.0
        low = pressure < 13.0 and self._electrical.any_dc
        panel.words[f"{e}low_oil_pressure"] = "on" if low else "off"
        outside = max(-15.0, numbers["flight.outside_air_temperature"])
        warm = outside + 75.0 * min(1.0, n2 / IDLE_N2) + 0.3 * max(0.0, n1 - IDLE_N1)
        numbers[f"{e}oil_temperature"] = lag(numbers[f"{e}oil_temperature"], warm, 150.0, dt_s)
        numbers[f"{e}oil_quantity"] = 88.0 - 8.0 * min(1.0, n2 / IDLE_N2)
        numbers[f"{e}vibration"] = 0.012 * n1

    def _reverser(self, dt_s: float) -> None:
        """Move the reverser on the ground, by its own hydraulic system."""
        panel, e = self._panel, self._prefix
        wanted = panel.dial[f"{e}thrust_lever"] < 0.0 and panel.words["flight.on_ground"] == "yes"
        if self._hydraulics.works(self._engine_id):
            step = dt_s / 1.6
            self._reverse = clamp(self._reverse + (step if wanted else -step), 0.0, 1.0)
        done = "deployed" if self._reverse >= 1.0 else "stowed" if self._reverse <= 0.0 else "transit"
        panel.words[f"{e}reverser"] = done
        panel.words[f"{e}reverser_unlocked"] = (
            "on" if self._reverse > 0.0 and self._electrical.any_dc else "off"
        )

    @property
    def thrust_factor(self) -> float:
        """Direction of the thrust: 1 forward, negative with the reverser deployed."""
        return 1.0 - 1.5 * self._reverse
