"""Electrical power of a 28 V system: battery, alternator, external power, main bus and two avionics buses.

Takes: switches, engine speed, what the other systems draw.  Gives: voltages, currents, the low-voltage light.
"""

from __future__ import annotations

from mock_sim.common.dynamics import clamp, fraction_between, lag
from mock_sim.common.panel import Panel, Part, choice_control

ALTERNATOR_V = 28.1
EXTERNAL_V = 27.6
LOW_V = 25.0
BATTERY_AH = 24.0
ON_LINE_RPM = 580.0
OFF_LINE_RPM = 500.0
MIN_V = 15.0
AVIONICS_A = 6.0
BASE_LOAD_A = 1.5
BREAKERS = ("alternator", "flaps", "pitot_heat")
"""Circuit breakers that are known by name; of the others only their number is."""

PART = Part(
    controls={
        "electrical.battery.switch": "off",
        "electrical.alternator.switch": "off",
        "electrical.avionics.1": "off",
        "electrical.avionics.2": "off",
        "electrical.external.switch": "off",
        "electrical.breakers_out": 0.0,
        **{f"electrical.breaker.{name}": "closed" for name in BREAKERS},
        "fault.alternator": "none",
    },
    drives={
        "electrical.breakers_out": 0.0,
        "electrical.battery.voltage": 24.6,
        "electrical.alternator.online": "no",
        "electrical.ammeter": 0.0,
        "electrical.load": 0.0,
        "electrical.bus.voltage": 0.0,
        "electrical.low_voltage": "off",
    },
    extra=(choice_control("fault.alternator", ("none", "failed"), "The alternator gives nothing"),),
)


class Electrical:
    """Sources and buses.  `live` says whether the main bus works; `draw` adds to what it carries until the next step."""

    def __init__(self, panel: Panel) -> None:
        self._panel = panel
        self._charge = 0.93
        self._demand_a = 0.0
        self.powered = False

    def avionics(self, k: str) -> bool:
        """Return True if an avionics bus works.

        Args:
            k: "1" or "2".
        """
        return self.powered and self._panel.switch[f"electrical.avionics.{k}"] == "on"

    def supplies(self, breaker: str) -> bool:
        """Return True while the main bus works and a circuit breaker is closed.

        Args:
            breaker: one of `BREAKERS`.
        """
        return self.powered and not self._is_open(breaker)

    def _is_open(self, breaker: str) -> bool:
        """Return True if a circuit breaker is open."""
        return self._panel.switch[f"electrical.breaker.{breaker}"] == "open"

    def draw(self, ampere: float) -> None:
        """Draw current from the main bus for one step.

        Args:
            ampere: the current, not negative.
        """
        self._demand_a += ampere

    def step(self, dt_s: float) -> None:
        """Advance sources, bus and battery."""
        panel, numbers = self._panel, self._panel.numbers
        battery = panel.switch["electrical.battery.switch"] == "on"
        online = self._alternator(battery=battery)
        outside = panel.switch["electrical.external.switch"] == "on"
        demand_a = self._demand_a + BASE_LOAD_A + sum(AVIONICS_A for k in "12" if self.avionics(k))
        self._demand_a = 0.0
        carried = clamp(demand_a if online else 0.0, 0.0, self._alternator_limit_a())
        amps = self._battery_a(demand_a - carried, battery=battery, fed=online or outside)
        self._charge = clamp(self._charge + amps * dt_s / 3600.0 / BATTERY_AH, 0.0, 1.0)
        rest = (22.3 + 2.5 * self._charge) * min(1.0, self._charge / 0.05)
        before = numbers["electrical.battery.voltage"]
        target = ALTERNATOR_V - 0.1 if amps > 0.0 else rest + 0.028 * amps
        numbers["electrical.battery.voltage"] = clamp(lag(before, target, 0.4, dt_s), 0.0, 39.0)
        numbers["electrical.ammeter"] = amps if battery else 0.0
        numbers["electrical.load"] = clamp(carried + max(0.0, amps), 0.0, 99.0) if online else 0.0
        self._bus(battery=battery, online=online, outside=outside)

    def _alternator_limit_a(self) -> float:
        """Return the alternator's highest current at this engine speed, ampere."""
        return 40.0 + 20.0 * fraction_between(self._panel.numbers["engine.1.rpm"], 600.0, 1600.0)

    def _alternator(self, *, battery: bool) -> bool:
        """Update the alternator: it needs speed, and a battery that feeds its field."""
        panel = self._panel
        was = panel.words["electrical.alternator.online"] == "yes"
        fast = panel.numbers["engine.1.rpm"] >= (OFF_LINE_RPM if was else ON_LINE_RPM)
        switched = panel.switch["electrical.alternator.switch"] == "on"
        online = fast and switched and battery and panel.switch["fault.alternator"] == "none"
        online = online and not self._is_open("alternator")
        panel.words["electrical.alternator.online"] = "yes" if online else "no"
        return online

    def _battery_a(self, missing_a: float, *, battery: bool, fed: bool) -> float:
        """Return the battery current, positive when charging."""
        if not battery:
            return 0.0
        if fed:
            return clamp(1.0 + 90.0 * (1.0 - self._charge) - max(0.0, missing_a), -95.0, 25.0)
        return -clamp(missing_a, 0.0, 95.0)

    def _bus(self, *, battery: bool, online: bool, outside: bool) -> None:
        """Supply the main bus from its best source."""
        panel, numbers = self._panel, self._panel.numbers
        stored = numbers["electrical.battery.voltage"] if battery else 0.0
        volts = ALTERNATOR_V if online else EXTERNAL_V if outside else stored
        self.powered = volts >= MIN_V
        numbers["electrical.bus.voltage"] = volts
        others = panel.dial["electrical.breakers_out"]
        numbers["electrical.breakers_out"] = min(200.0, others + sum(map(self._is_open, BREAKERS)))
        panel.words["electrical.low_voltage"] = "on" if self.powered and volts < LOW_V else "off"
