"""Landing gear, brakes and steering, and the equipment that ground crew attach.

Hydraulic system 2 charges the accumulator, which stores the pressure; it falls with each use of the brakes without that system.

Takes: gear lever, pedals, handles, pins, tug.  Gives: leg positions, accumulator, braking and steering for the motion.
"""

from __future__ import annotations

from mock_sim.common.dynamics import clamp, fraction_between, lag, slew
from mock_sim.common.panel import Panel, Part, choice_control, quantity_control
from mock_sim.twin_jet.electrical import Electrical
from mock_sim.twin_jet.hydraulics import Hydraulics

LEGS = {"nose": 5.0, "left": 6.5, "right": 6.8}
PRECHARGE_PSI = 1000.0
USE_PSI = 1.6
PARKING_PEDAL = 150.0
PEDAL_OVERRIDE = 20.0
"""A pedal beyond this overrides the autobrake in the landing, without a light."""
AUTOBRAKE_STRENGTH = {"off": 0.0, "low": 0.3, "medium": 0.45, "high": 0.8, "reject": 1.0}

PART = Part(
    controls={
        "gear.lever": "down",
        "gear.parking_brake": "set",
        "gear.brake_pedal.left": 0.0,
        "gear.brake_pedal.right": 0.0,
        "gear.autobrake": "off",
        "gear.antiskid": "on",
        "gear.tiller": 0.0,
        "gear.tiller_held": "no",
        "gear.tug": "detached",
        **{f"parking.gear_pin.{leg}": "removed" for leg in LEGS},
        "gear.bypass_pin": "removed",
        "gear.chocks": "on",
        "tug.speed": 0.0,
        "tug.turn": 0.0,
    },
    drives={
        "gear.tiller": 0.0,
        **{f"gear.{leg}.position": 100.0 for leg in LEGS},
        **{f"gear.{leg}.locked": "down" for leg in LEGS},
        "gear.disagree": "off",
        "gear.brake_accumulator": 2400.0,
        "gear.brake_temperature": 15.0,
        "gear.nose_steering": "off",
        "controls.autobrake_disarm": "no",
    },
    extra=(
        choice_control("gear.tiller_held", ("no", "yes"), "A hand holds the tiller against the pedals"),
        quantity_control(
            "tug.speed", "kt", -6.0, 6.0, "Speed that the tug gives the aeroplane, negative backwards"
        ),
        quantity_control(
            "tug.turn", "deg", -70.0, 70.0, "Nose-wheel angle that the tug gives, right positive"
        ),
    ),
)


class GearBrakes:
    """Legs, brakes and steering.  `braking` is 0 to 1, `nose_deg` the angle of the nose wheel."""

    def __init__(self, panel: Panel, electrical: Electrical, hydraulics: Hydraulics) -> None:
        self._panel = panel
        self._electrical = electrical
        self._hydraulics = hydraulics
        self._last_pedals = PARKING_PEDAL
        self._autobrake_active = False
        self._autobrake_overridden = False
        self.braking = 0.0
        self.nose_deg = 0.0

    def step(self, dt_s: float) -> None:
        """Advance gear, brakes and steering."""
        self._legs(dt_s)
        self._accumulator(dt_s)
        self._brakes()
        self._steering(dt_s)
        self._heat(dt_s)

    @property
    def is_held(self) -> bool:
        """True while the parking brake or the chocks hold the aeroplane."""
        return self._parked() or self._panel.switch["gear.chocks"] == "on"

    def _parked(self) -> bool:
        """Return True if the parking brake is set and has pressure."""
        numbers = self._panel.numbers
        return (
            self._panel.switch["gear.parking_brake"] == "set" and numbers["gear.brake_accumulator"] > 1100.0
        )

    def _legs(self, dt_s: float) -> None:
        """Move the legs; the lever cannot leave down on the ground."""
        panel = self._panel
        if panel.words["flight.on_ground"] == "yes" and panel.switch["gear.lever"] != "down":
            panel.move("gear.lever", "down")
        lever = panel.switch["gear.lever"]
        differs = False
        for leg, seconds in LEGS.items():
            name = f"gear.{leg}.position"
            now = panel.numbers[name]
            pinned = panel.switch[f"parking.gear_pin.{leg}"] == "inserted"
            target = 100.0 if pinned else {"up": 0.0, "down": 100.0}.get(lever, now)
            if self._hydraulics.works("1") or (lever == "down" and now < 100.0):
                panel.numbers[name] = slew(now, target, 100.0 / seconds, dt_s)
            panel.words[f"gear.{leg}.locked"] = "down" if panel.numbers[name] >= 100.0 else "no"
            differs = differs or panel.numbers[name] != target
            if now != target:
                self._hydraulics.demand["1"] += 0.25
        panel.words["gear.disagree"] = "on" if differs and self._electrical.any_dc else "off"

    def _accumulator(self, dt_s: float) -> None:
        """Charge the accumulator from system 2; each press of a pedal takes some pressure."""
        panel, numbers = self._panel, self._panel.numbers
        pressure = numbers["gear.brake_accumulator"]
        supply = numbers["hydraulics.2.pressure"]
        pressed = numbers["gear.brake_pedal.left"] + numbers["gear.brake_pedal.right"]
        pressed += PARKING_PEDAL if panel.switch["gear.parking_brake"] == "set" else 0.0
        if supply > pressure:
            pressure = lag(pressure, supply, 3.0, dt_s)
        elif supply < 1500.0:
            pressure -= USE_PSI * max(0.0, pressed - self._last_pedals)
        self._last_pedals = pressed
        numbers["gear.brake_accumulator"] = max(PRECHARGE_PSI, pressure - 0.01 * dt_s)

    def _brakes(self) -> None:
        """Update the braking, 0 to 1."""
        numbers = self._panel.numbers
        best = max(numbers["gear.brake_accumulator"], numbers["hydraulics.2.pressure"])
        strength = fraction_between(best, PRECHARGE_PSI, 2000.0)
        pedals = (numbers["gear.brake_pedal.left"] + numbers["gear.brake_pedal.right"]) / 200.0
        self.braking = strength * max(pedals, self._autobrake(), 1.0 if self._parked() else 0.0)

    def _autobrake(self) -> float:
        """Return the autobrake's demand, and update its disarm light."""
        panel, numbers = self._panel, self._panel.numbers
        selected = panel.switch["gear.autobrake"]
        able = (
            self._electrical.any_dc
            and self._electrical.supplies("antiskid")
            and panel.switch["gear.antiskid"] == "on"
            and self._hydraulics.works("2")
        )
        lit = selected != "off" and not able and self._electrical.any_dc
        panel.words["controls.autobrake_disarm"] = "yes" if lit else "no"
        rolling = panel.words["flight.on_ground"] == "yes" and numbers["flight.wheel_speed"] > 1.0
        closed = all(panel.dial[f"engine.{k}.thrust_lever"] <= 0.0 for k in "12")
        if not (able and rolling and closed):
            self._autobrake_active = self._autobrake_overridden = False
            return 0.0
        pedals = max(numbers["gear.brake_pedal.left"], numbers["gear.brake_pedal.right"])
        self._autobrake_overridden = self._autobrake_overridden or (
            self._autobrake_active and selected != "reject" and pedals > PEDAL_OVERRIDE
        )
        if self._autobrake_overridden:
            return 0.0
        self._autobrake_active = self._autobrake_active or numbers["flight.wheel_speed"] > 80.0
        return AUTOBRAKE_STRENGTH[selected] if self._autobrake_active else 0.0

    def _steering(self, dt_s: float) -> None:
        """Move the nose wheel with the tug, or with tiller and pedals while steering has pressure and no pin.

        A hand that holds the tiller keeps the pedals from turning the wheel.
        """
        panel = self._panel
        active = (
            self._hydraulics.works("1")
            and panel.switch["gear.bypass_pin"] == "removed"
            and panel.words["flight.on_ground"] == "yes"
        )
        panel.words["gear.nose_steering"] = "on" if active else "off"
        if panel.switch["gear.tug"] == "attached":
            self.nose_deg = slew(self.nose_deg, panel.dial["tug.turn"], 15.0, dt_s)
        elif active:
            by_pedals = 0.0 if panel.switch["gear.tiller_held"] == "yes" else 0.07
            wanted_deg = panel.dial["gear.tiller"] + by_pedals * panel.numbers["controls.rudder"]
            self.nose_deg = slew(self.nose_deg, clamp(wanted_deg, -78.0, 78.0), 40.0, dt_s)
        else:
            self.nose_deg = lag(self.nose_deg, 0.0, 5.0, dt_s)
        panel.numbers["gear.tiller"] = self.nose_deg

    def _heat(self, dt_s: float) -> None:
        """Heat the brakes by the energy that they absorb; they cool in minutes."""
        numbers = self._panel.numbers
        speed = numbers["flight.wheel_speed"]
        temperature = numbers["gear.brake_temperature"] + self.braking * speed * 0.09 * dt_s
        outside = numbers["flight.outside_air_temperature"]
        numbers["gear.brake_temperature"] = clamp(lag(temperature, outside, 500.0, dt_s), -60.0, 1150.0)
