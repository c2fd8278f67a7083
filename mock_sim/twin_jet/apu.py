"""The auxiliary power unit: inlet door, start, running, cool-down, stop, and its temperature.

Takes: its switch, battery, fuel, fire handle, load.  Gives: speed, exhaust temperature, availability.
"""

from __future__ import annotations

from enum import Enum

from mock_sim.common.dynamics import lag, slew
from mock_sim.common.panel import Panel, Part
from mock_sim.twin_jet.electrical import Electrical

AVAILABLE_SPEED = 95.0
STEADY_S = 2.0
COOL_DOWN_S = 60.0
LIGHT_OFF_SPEED = 12.0
STARTER_OUT_SPEED = 50.0
DOOR_S = 4.0
FLOW_KG_H = 110.0

PART = Part(
    controls={"apu.switch": "off"},
    drives={"apu.available": "no", "apu.speed": 0.0, "apu.egt": 15.0, "apu.inlet_door": "closed"},
)


class ApuState(Enum):
    """States of the APU."""

    STOPPED = "stopped"
    STARTING = "starting"
    RUNNING = "running"
    COOLING = "cooling"
    STOPPING = "stopping"


class Apu:
    """The APU.  `burn_kg_h` is its fuel flow from the left tank."""

    def __init__(self, panel: Panel, electrical: Electrical) -> None:
        self._panel = panel
        self._electrical = electrical
        self._state = ApuState.STOPPED
        self._door = 0.0
        self._start_held_s = 0.0
        self._start_requested = False
        self._state_s = 0.0
        self.burn_kg_h = 0.0

    def step(self, dt_s: float) -> None:
        """Advance the APU."""
        self._spring_back_switch(dt_s)
        self._advance_state(dt_s)
        speed = self._rotor_speed(dt_s)
        self._update_temperature(speed, dt_s)
        self._publish(speed)

    def _spring_back_switch(self, dt_s: float) -> None:
        """Return the switch from start to on."""
        switch = self._panel.switch
        if switch["apu.switch"] == "start":
            self._start_requested = True
            self._start_held_s += dt_s
            if self._start_held_s >= 1.0:
                self._panel.move("apu.switch", "on")
        else:
            self._start_held_s = 0.0

    def _advance_state(self, dt_s: float) -> None:
        """Advance the state."""
        alive, wanted = self._may_run(), self._panel.switch["apu.switch"] != "off"
        speed = self._panel.numbers["apu.speed"]
        self._state_s += dt_s
        self._door = slew(self._door, 1.0 if wanted or speed > 10.0 else 0.0, 1.0 / DOOR_S, dt_s)
        if not wanted:
            self._start_requested = False
        if not alive and self._state is not ApuState.STOPPED:
            self._enter(ApuState.STOPPING)
        elif wanted:
            self._advance_switched_on(speed)
        else:
            self._advance_switched_off()
        if self._state is ApuState.STOPPING and speed < 0.5:
            self._enter(ApuState.STOPPED)

    def _may_run(self) -> bool:
        """Return True unless something forbids the APU to run."""
        return (
            self._electrical.battery
            and self._panel.switch["fire.apu.handle"] == "normal"
            and self._panel.numbers["fuel.tank.left"] > 20.0
        )

    def _advance_switched_on(self, speed: float) -> None:
        """Advance the state while the switch is on."""
        if self._state is ApuState.STOPPED and self._start_requested and self._door >= 1.0:
            self._enter(ApuState.STARTING)
        elif (
            self._state is ApuState.STARTING and speed >= AVAILABLE_SPEED
        ) or self._state is ApuState.COOLING:
            self._enter(ApuState.RUNNING)

    def _advance_switched_off(self) -> None:
        """Advance the state while the switch is off."""
        if self._state is ApuState.RUNNING:
            self._enter(ApuState.COOLING)
        elif self._state is ApuState.STARTING or (
            self._state is ApuState.COOLING and self._state_s >= COOL_DOWN_S
        ):
            self._enter(ApuState.STOPPING)

    def _enter(self, phase: ApuState) -> None:
        """Enter a state, unless it is the present one."""
        if phase is not self._state:
            self._state, self._state_s = phase, 0.0
            self._start_requested = self._start_requested and phase is not ApuState.STARTING

    def _rotor_speed(self, dt_s: float) -> float:
        """Return the rotor speed, per cent."""
        speed = self._panel.numbers["apu.speed"]
        if self._state is ApuState.STARTING:
            if speed < STARTER_OUT_SPEED:
                self._electrical.draw_a += 180.0
            return speed + (3.0 if speed < LIGHT_OFF_SPEED else 4.0 if speed < 50.0 else 5.0) * dt_s
        if self._state in (ApuState.RUNNING, ApuState.COOLING):
            return lag(speed, 100.0, 1.5, dt_s)
        slowed = lag(speed, 0.0, 8.0, dt_s)
        return slowed if slowed > 0.2 else 0.0

    def _update_temperature(self, speed: float, dt_s: float) -> None:
        """Update exhaust temperature and fuel flow."""
        numbers, words = self._panel.numbers, self._panel.words
        burning = (
            self._state in (ApuState.STARTING, ApuState.RUNNING, ApuState.COOLING)
            and speed >= LIGHT_OFF_SPEED
        )
        self.burn_kg_h = FLOW_KG_H * speed / 100.0 if burning else 0.0
        target, slow_s = numbers["flight.outside_air_temperature"], 50.0
        if burning and self._state is ApuState.STARTING:
            target, slow_s = 690.0 - 2.0 * max(0.0, speed - 50.0), 3.0
        elif burning:
            load = 40.0 if words["electrical.generator.apu.online"] == "yes" else 0.0
            load += 110.0 if self.supplies_bleed else 0.0
            target, slow_s = 380.0 + load, 5.0
        numbers["apu.egt"] = lag(numbers["apu.egt"], target, slow_s, dt_s)

    @property
    def supplies_bleed(self) -> bool:
        """True while the APU supplies the left duct."""
        return self._panel.words["apu.available"] == "yes" and self._panel.switch["bleed.apu.switch"] == "on"

    def _publish(self, speed: float) -> None:
        """Publish speed, door and availability."""
        panel = self._panel
        ready = self._state is ApuState.RUNNING and speed >= AVAILABLE_SPEED and self._state_s >= STEADY_S
        panel.numbers["apu.speed"] = speed
        panel.words["apu.available"] = "yes" if ready else "no"
        panel.words["apu.inlet_door"] = "open" if self._door >= 1.0 else "closed"
