"""Electrical power: battery, external power, three generators, and their buses.

An AC bus is fed by its own engine's generator, else through the tie by the APU generator, else by external
power, else by the other engine's generator.  A source without a bus is off line.

Takes: switches, engine speed, APU.  Gives: buses, battery voltage and current, the source of each bus.
"""

from __future__ import annotations

from mock_sim.common.dynamics import lag
from mock_sim.common.panel import Panel, Part, choice_control

ON_LINE_N2 = 53.0
OFF_LINE_N2 = 50.0
ON_LINE_S = 1.5
BATTERY_AH = 40.0
BREAKERS = ("configuration_warning", "flight_recorder", "voice_recorder", "antiskid", "yaw_damper")
"""Circuit breakers that are known by name; of the others only their number is."""

PART = Part(
    controls={
        "electrical.battery.switch": "off",
        "electrical.essential_power": "normal",
        "electrical.external.available": "yes",
        "electrical.external.switch": "off",
        "electrical.generator.1.switch": "off",
        "electrical.generator.2.switch": "off",
        "electrical.generator.apu.switch": "off",
        "electrical.bus.tie": "auto",
        "electrical.coupling.1": "engaged",
        "electrical.coupling.2": "engaged",
        "electrical.galley": "off",
        "electrical.breakers_out": 0.0,
        **{f"electrical.breaker.{name}": "closed" for name in BREAKERS},
        "fault.generator.1": "none",
        "fault.generator.2": "none",
    },
    drives={
        "electrical.breakers_out": 0.0,
        "electrical.external.switch": "off",
        "electrical.battery.voltage": 25.0,
        "electrical.battery.current": 0.0,
        "electrical.generator.1.online": "no",
        "electrical.generator.2.online": "no",
        "electrical.generator.apu.online": "no",
        "electrical.bus.ac.1": "off",
        "electrical.bus.ac.2": "off",
        "electrical.bus.dc.1": "off",
        "electrical.bus.dc.2": "off",
        "electrical.bus.essential": "off",
        "electrical.coupling.1": "engaged",
        "electrical.coupling.2": "engaged",
        "electrical.galley": "off",
    },
    extra=tuple(
        choice_control(f"fault.generator.{k}", ("none", "trip"), f"Generator {k} trips off its bus")
        for k in "12"
    ),
)


class Electrical:
    """Sources and buses.  `ac`, `dc`, `essential` and `battery` give the live buses for the other systems."""

    def __init__(self, panel: Panel) -> None:
        self._panel = panel
        self.ac = {"1": False, "2": False}
        self.dc = {"1": False, "2": False}
        self.essential = False
        self.battery = False
        self.draw_a = 0.0
        self._charge = 0.95
        self._up_to_speed_s = {"1": 0.0, "2": 0.0}

    @property
    def any_ac(self) -> bool:
        """True while at least one AC bus is powered."""
        return self.ac["1"] or self.ac["2"]

    @property
    def any_dc(self) -> bool:
        """True while a DC bus or the essential bus is powered."""
        return self.dc["1"] or self.dc["2"] or self.essential

    def supplies(self, breaker: str) -> bool:
        """Return True while a circuit breaker is closed.

        Args:
            breaker: one of `BREAKERS`.
        """
        return self._panel.switch[f"electrical.breaker.{breaker}"] == "closed"

    def step(self, dt_s: float) -> None:
        """Advance sources, buses and battery."""
        own = {k: self._generator(k, dt_s) for k in "12"}
        self._assign_sources(own)
        self._battery(dt_s)
        self._publish()
        self.draw_a = 0.0

    def _generator(self, k: str, dt_s: float) -> bool:
        """Return True while the engine generator can supply its bus."""
        panel = self._panel
        self._couple(k)
        fit = (
            panel.switch[f"electrical.generator.{k}.switch"] == "on"
            and panel.words[f"electrical.coupling.{k}"] == "engaged"
            and panel.switch[f"fire.engine.{k}.handle"] == "normal"
            and panel.switch[f"fault.generator.{k}"] == "none"
        )
        online = panel.words[f"electrical.generator.{k}.online"] == "yes"
        fast = panel.numbers[f"engine.{k}.n2"] >= (OFF_LINE_N2 if online else ON_LINE_N2)
        self._up_to_speed_s[k] = self._up_to_speed_s[k] + dt_s if fit and fast else 0.0
        online = self._up_to_speed_s[k] >= ON_LINE_S
        panel.words[f"electrical.generator.{k}.online"] = "yes" if online else "no"
        return online

    def _couple(self, k: str) -> None:
        """Engage a released coupling only while its engine is stopped."""
        wanted = self._panel.switch[f"electrical.coupling.{k}"]
        if wanted == "released" or self._panel.numbers[f"engine.{k}.n2"] < 1.0:
            self._panel.words[f"electrical.coupling.{k}"] = wanted

    def _assign_sources(self, own: dict[str, bool]) -> None:
        """Assign a source to each AC bus."""
        panel = self._panel
        tied = panel.switch["electrical.bus.tie"] == "auto"
        wanting = tied and not (own["1"] and own["2"])
        apu = (
            wanting
            and panel.switch["electrical.generator.apu.switch"] == "on"
            and panel.words["apu.available"] == "yes"
        )
        external = (
            wanting
            and not apu
            and panel.switch["electrical.external.switch"] == "on"
            and panel.switch["electrical.external.available"] == "yes"
        )
        if not external:  # the switch is held by its own relay and falls back when something else takes over
            panel.switch["electrical.external.switch"] = "off"
        shared = apu or external or (tied and (own["1"] or own["2"]))
        self.ac = {k: own[k] or shared for k in "12"}
        panel.words["electrical.generator.apu.online"] = "yes" if apu else "no"
        panel.words["electrical.external.switch"] = "on" if external else "off"

    def _battery(self, dt_s: float) -> None:
        """Charge or discharge the battery, and update its bus."""
        panel = self._panel
        switched = panel.switch["electrical.battery.switch"] == "on"
        voltage = panel.numbers["electrical.battery.voltage"]
        self.battery = switched and voltage > 16.0
        self.dc = dict(self.ac)
        selector = panel.switch["electrical.essential_power"]
        self.essential = (selector == "normal" and (self.dc["1"] or self.battery)) or (
            selector == "battery" and self.battery
        )
        current = self._current(charging=self.ac["1"] and switched)
        self._charge = min(1.0, max(0.0, self._charge + current * dt_s / 3600.0 / BATTERY_AH))
        rest = 22.0 + 3.2 * self._charge
        target = 28.0 if current > 0 else rest + 0.012 * current
        if self._charge < 0.05:
            target = rest * self._charge / 0.05
        panel.numbers["electrical.battery.voltage"] = lag(voltage, target, 1.5, dt_s)
        panel.numbers["electrical.battery.current"] = current

    def _current(self, *, charging: bool) -> float:
        """Return the battery current in ampere, positive when charging."""
        if charging:
            return 3.0 + 60.0 * (1.0 - self._charge) - self.draw_a * 0.5
        if not self.battery:
            return 0.0
        return -(8.0 + (14.0 if self.essential and not self.dc["1"] else 0.0) + self.draw_a)

    def _publish(self) -> None:
        """Publish the buses."""
        words = self._panel.words
        for k in "12":
            words[f"electrical.bus.ac.{k}"] = "powered" if self.ac[k] else "off"
            words[f"electrical.bus.dc.{k}"] = "powered" if self.dc[k] else "off"
        named_open = sum(not self.supplies(name) for name in BREAKERS)
        others = self._panel.dial["electrical.breakers_out"]
        self._panel.numbers["electrical.breakers_out"] = min(200.0, others + named_open)
        words["electrical.bus.essential"] = "powered" if self.essential else "off"
        words["electrical.galley"] = (
            self._panel.switch["electrical.galley"] if self.ac["1"] and self.ac["2"] else "off"
        )
