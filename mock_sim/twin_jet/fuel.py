"""Fuel: three tanks, six pumps with their lights, crossfeed, spar valves, burn and density.

A centre pump gives more pressure than a wing pump, so the centre tank is used first.  Without any pump an engine
still draws from its own wing tank below 15 000 ft.

Takes: pump switches, valves, burn of engines and APU.  Gives: quantities, lights, which engine is fed.
"""

from __future__ import annotations

from mock_sim.common.dynamics import lag, slew
from mock_sim.common.panel import Panel, Part, choice_control, quantity_control
from mock_sim.twin_jet.apu import Apu
from mock_sim.twin_jet.electrical import Electrical

TANKS = ("left", "centre", "right")
CAPACITY_KG = {"left": 8000.0, "centre": 12000.0, "right": 8000.0}
PUMPS = {
    "left_aft": ("left", "1"),
    "left_forward": ("left", "2"),
    "right_aft": ("right", "2"),
    "right_forward": ("right", "1"),
    "centre_left": ("centre", "1"),
    "centre_right": ("centre", "2"),
}
"""Each pump's tank and the AC bus that drives it."""

OWN_TANK = {"1": "left", "2": "right"}
WING_PUMPS = {"left": ("left_aft", "left_forward"), "right": ("right_aft", "right_forward")}
CENTRE_PUMPS = {"1": "centre_left", "2": "centre_right"}
UNUSABLE_KG = 5.0
SUCTION_CEILING_FT = 15000.0

PART = Part(
    controls={
        "fuel.tank.left": 3100.0,
        "fuel.tank.centre": 2000.0,
        "fuel.tank.right": 3100.0,
        **{f"fuel.pump.{pump}.switch": "off" for pump in PUMPS},
        "fuel.crossfeed": "closed",
        "fuel.refuel_door": "open",
        "fault.fuel_pump": "none",
        "fault.fuel_filter.1": "none",
        "fault.fuel_filter.2": "none",
    },
    drives={
        "fuel.total": 8200.0,
        "fuel.temperature": 14.0,
        "fuel.density": 0.803,
        **{f"fuel.pump.{pump}.low_pressure": "off" for pump in PUMPS},
        "fuel.valve.engine.1": "closed",
        "fuel.valve.engine.2": "closed",
        "fuel.used.1": 0.0,
        "fuel.used.2": 0.0,
        "fuel.filter_bypass.1": "off",
        "fuel.filter_bypass.2": "off",
    },
    extra=(
        choice_control("fault.fuel_pump", ("none", *PUMPS), "The fuel pump that has failed"),
        *(
            choice_control(f"fault.fuel_filter.{k}", ("none", "clogged"), f"Fuel filter of engine {k}")
            for k in "12"
        ),
        *(
            quantity_control(f"fuel.tank.{tank}", "kg", 0.0, most, "Usable fuel")
            for tank, most in CAPACITY_KG.items()
        ),
    ),
)


class Fuel:
    """Tanks, pumps and valves.  `fed` gives the engines that have fuel at their valve."""

    def __init__(self, panel: Panel, electrical: Electrical, apu: Apu) -> None:
        self._panel = panel
        self._electrical = electrical
        self._apu = apu
        self._pump_output = dict.fromkeys(PUMPS, 0.0)
        self._valve = {"1": 0.0, "2": 0.0}
        self.fed = {"1": False, "2": False}

    def step(self, dt_s: float) -> None:
        """Advance pumps, valves and tanks."""
        for pump in PUMPS:
            self._advance_pump(pump, dt_s)
        for k in "12":
            self._move_valve(k, dt_s)
            self._burn(k, dt_s)
            clogged = self._panel.switch[f"fault.fuel_filter.{k}"] == "clogged" and self.fed[k]
            self._panel.words[f"fuel.filter_bypass.{k}"] = (
                "on" if clogged and self._electrical.any_dc else "off"
            )
        self._draw_from("left", self._apu.burn_kg_h * dt_s / 3600.0)
        self._update_totals(dt_s)

    def _advance_pump(self, pump: str, dt_s: float) -> None:
        """Move the output pressure with a lag, which also delays the light."""
        panel = self._panel
        tank, bus = PUMPS[pump]
        turns = (
            panel.switch[f"fuel.pump.{pump}.switch"] == "on"
            and panel.switch["fault.fuel_pump"] != pump
            and self._electrical.ac[bus]
        )
        gives = turns and panel.numbers[f"fuel.tank.{tank}"] > UNUSABLE_KG
        self._pump_output[pump] = output = lag(self._pump_output[pump], 1.0 if gives else 0.0, 0.9, dt_s)
        light = f"fuel.pump.{pump}.low_pressure"
        low = output < (0.75 if panel.words[light] == "on" else 0.6)
        panel.words[light] = "on" if low and self._light_powered(pump) else "off"

    def _light_powered(self, pump: str) -> bool:
        """Return True if the light has power; a centre pump's light is dark while its switch is off."""
        wanted = PUMPS[pump][0] != "centre" or self._panel.switch[f"fuel.pump.{pump}.switch"] == "on"
        return wanted and self._electrical.any_dc

    def _move_valve(self, k: str, dt_s: float) -> None:
        """Move the spar valve with fuel lever and fire handle, in a second, while it has power."""
        panel = self._panel
        wanted = (
            panel.switch[f"engine.{k}.fuel_lever"] == "open"
            and panel.switch[f"fire.engine.{k}.handle"] == "normal"
        )
        was_shut = self._valve[k] <= 0.5
        if self._electrical.any_dc or self._electrical.battery:
            self._valve[k] = slew(self._valve[k], 1.0 if wanted else 0.0, 1.0, dt_s)
        if was_shut and self._valve[k] > 0.5 and panel.words["flight.on_ground"] == "yes":
            panel.numbers[f"fuel.used.{k}"] = 0.0
        panel.words[f"fuel.valve.engine.{k}"] = "open" if self._valve[k] > 0.5 else "closed"

    def _source(self, k: str) -> str | None:
        """Return the tank that feeds an engine now, or None."""
        if self._valve[k] <= 0.5:
            return None
        own, other = OWN_TANK[k], OWN_TANK["2" if k == "1" else "1"]
        crossed = self._panel.switch["fuel.crossfeed"] == "open"
        centre = CENTRE_PUMPS.values() if crossed else (CENTRE_PUMPS[k],)
        if any(self._pump_output[pump] > 0.5 for pump in centre):
            return "centre"
        if any(self._pump_output[pump] > 0.5 for pump in WING_PUMPS[own]):
            return own
        if crossed and any(self._pump_output[pump] > 0.5 for pump in WING_PUMPS[other]):
            return other
        numbers = self._panel.numbers
        sucks = numbers["flight.pressure_altitude"] < SUCTION_CEILING_FT
        return own if sucks and numbers[f"fuel.tank.{own}"] > UNUSABLE_KG else None

    def _burn(self, k: str, dt_s: float) -> None:
        """Take the engine's fuel from the tank that feeds it."""
        source = self._source(k)
        self.fed[k] = source is not None
        if source is None:
            return
        burnt = self._panel.numbers[f"engine.{k}.fuel_flow"] * dt_s / 3600.0
        self._draw_from(source, burnt)
        self._panel.numbers[f"fuel.used.{k}"] += burnt

    def _draw_from(self, tank: str, mass_kg: float) -> None:
        """Take a mass out of a tank, at most its contents."""
        name = f"fuel.tank.{tank}"
        left = max(0.0, self._panel.numbers[name] - mass_kg)
        self._panel.numbers[name] = self._panel.dial[name] = left

    def _update_totals(self, dt_s: float) -> None:
        """Update total, temperature and density; density falls 0.7 g/l a degree (from memory, kerosene)."""
        numbers = self._panel.numbers
        numbers["fuel.total"] = sum(numbers[f"fuel.tank.{tank}"] for tank in TANKS)
        outside = numbers["flight.outside_air_temperature"]
        warm = max(-45.0, min(50.0, outside))
        numbers["fuel.temperature"] = lag(numbers["fuel.temperature"], warm, 1800.0, dt_s)
        numbers["fuel.density"] = 0.803 - 0.0007 * (numbers["fuel.temperature"] - 15.0)
