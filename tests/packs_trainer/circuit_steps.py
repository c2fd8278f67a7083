"""A correct scripted circuit, parked to parked, and parts of other flights.

The numbers are those of an invented trainer on an invented field; only signals that the pack reads are changed.

Takes: nothing.  Gives: `CIRCUIT`, and parts with which a flight can continue: `GO_AROUND`, `TOUCH_AND_GO`,
`REJECTED`, `TAXI_BACK`.
"""

from __future__ import annotations

from itertools import dropwhile, takewhile

from rules.signals.model import Value
from tests.packs_trainer.scripted_circuit import Step

E = "engine.1."
RUNWAY, HOLD = 312.0, 50.0
TIED = {f"parking.tie_down.{where}": "on" for where in ("left", "right", "tail")}
UNTIED = dict.fromkeys(TIED, "removed")

PARKED: dict[str, Value] = {
    "gear.parking_brake": "set", "gear.chocks": "on", "controls.lock": "on", "parking.pitot_cover": "on",
    "parking.engine_cover": "on", "parking.tow_bar": "removed", **TIED, "fuel.tank.left": 40.0,
    "fuel.tank.right": 39.2, "fuel.total": 79.2, "fuel.cap.left": "closed", "fuel.cap.right": "closed",
    "flight.on_ground": "yes", "flight.altitude": 380.0, "flight.pressure_altitude": 270.0,
    "flight.outside_air_temperature": 9.0, "flight.heading": HOLD, "heading.captain": HOLD,
    "heading.standby": HOLD, "weather.qnh": 1017.0, "weather.wind_direction": 290.0, "weather.wind_speed": 7.0,
    "altimeter.captain.setting": 1010.0, "altimeter.captain.altitude": 190.0, "gear.tyres": "good",
    "fire.extinguisher": "charged", "emergency.locator": "armed", "radio.com.1": 119.5, f"{E}oil_temperature": 9.0, f"{E}cht": 9.0,
}  # fmt: skip

PREFLIGHT = (
    Step("cold", 3, PARKED),
    Step("walk", 3, {
        "parking.pitot_cover": "removed", "parking.engine_cover": "removed", **UNTIED, "gear.chocks": "removed",
        "fuel.dipped.left": 40.0, "fuel.dipped.right": 39.0, "fuel.drained": "yes", "oil.dipstick": 5.6,
        "door.baggage": "closed", "cabin.baggage": "secured", "controls.lock": "off",
    }),
    Step("walked", 3, {}, ("walkround_done",)),
    Step("strap_in", 3, {
        "door.left": "closed", "door.right": "closed", "cockpit.window.left": "closed",
        "cockpit.window.right": "closed", "seat.left.lock": "locked", "seat.left.belt": "fastened",
        "seat.right.belt": "fastened",
    }, ("passenger_briefing",)),
    Step("cockpit", 3, {
        "fuel.selector": "both", "fuel.shutoff": "open", f"{E}mixture": 100.0, f"{E}throttle": 10.0,
        "electrical.battery.switch": "on", "electrical.alternator.switch": "on", "lights.beacon": "on",
        "fuel.pump.auxiliary.switch": "on", "fuel.pressure": 4.0,
    }),
    Step("before_start", 4, {}, ("before_start_checklist",)),
)  # fmt: skip
START = (
    Step("crank", 1, {f"{E}magnetos": "start", f"{E}starter": "on"}),
    Step("turns", 2, {f"{E}rpm": 150.0}),
    Step("fires", 3, {f"{E}magnetos": "both", f"{E}starter": "off", f"{E}running": "yes", f"{E}rpm": 1000.0}),
    Step("oil", 5, {
        f"{E}oil_pressure": 60.0, "electrical.alternator.online": "yes", "electrical.ammeter": 8.0,
        "vacuum.suction": 4.2, "fuel.pump.auxiliary.switch": "off",
    }),
    Step("avionics", 4, {
        "electrical.avionics.1": "on", "electrical.avionics.2": "on", "radio.headset": "on",
        "altimeter.captain.setting": 1017.0, "altimeter.captain.altitude": 382.0,
        "transponder.mode": "standby", "transponder.code": 4612.0,
    }),
    Step("after_start", 4, {}, ("after_start_checklist",)),
    Step("taxi_cleared", 3, {}, ("taxi_clearance",)),
)  # fmt: skip
TAXI = (
    Step("release", 2, {"gear.parking_brake": "released"}),
    Step("roll", 2, {
        "flight.ground_speed": 4.0, "gear.brake_pedal.left": 30.0, "gear.brake_pedal.right": 30.0,
    }),
    Step("rolling", 12, {
        "flight.ground_speed": 10.0, "gear.brake_pedal.left": 0.0, "gear.brake_pedal.right": 0.0,
    }),
    Step("stop", 4, {"flight.ground_speed": 0.0, "gear.parking_brake": "set", f"{E}oil_temperature": 45.0}),
)  # fmt: skip
RUN_UP = (
    Step("rising", 2, {f"{E}rpm": 1400.0, f"{E}throttle": 35.0}),
    Step("power", 5, {f"{E}rpm": 1800.0, f"{E}throttle": 50.0, "vacuum.suction": 5.0}),
    Step("left", 4, {f"{E}magnetos": "left", f"{E}rpm": 1720.0}),
    Step("left_done", 3, {f"{E}magnetos": "both", f"{E}rpm": 1800.0}),
    Step("right", 4, {f"{E}magnetos": "right", f"{E}rpm": 1740.0}),
    Step("right_done", 3, {f"{E}magnetos": "both", f"{E}rpm": 1800.0}),
    Step("heat", 4, {"ice.carburettor": 100.0, f"{E}rpm": 1720.0}),
    Step("cold_air", 3, {"ice.carburettor": 0.0, f"{E}rpm": 1800.0}),
    Step("idle", 3, {f"{E}throttle": 0.0, f"{E}rpm": 650.0}),
    Step("fast_idle", 2, {f"{E}throttle": 10.0, f"{E}rpm": 1000.0}),
    Step("run_up", 10, {}, ("runup_checklist",)),
)
BEFORE_TAKEOFF = (
    *(
        Step(f"{axis}_{to:+.0f}", 1, {f"controls.{axis}": to, f"controls.{grip}": to})
        for axis, grip in (("elevator", "column"), ("aileron", "wheel"), ("rudder", "pedals"))
        for to in (-100.0, 100.0, 0.0)
    ),
    Step("set", 3, {
        "controls.flap.lever": 8.0, "controls.flap.position": 8.0, "fuel.pump.auxiliary.switch": "on",
        "ice.pitot": "on",
    }),
    Step("ready", 6, {}, ("before_takeoff_checklist",)),
)  # fmt: skip
LINE_UP = (
    Step("cleared", 2, {}, ("takeoff_clearance",)),
    Step("enter", 5, {
        "gear.parking_brake": "released", "flight.ground_speed": 6.0, "flight.heading": RUNWAY,
        "heading.captain": RUNWAY, "heading.standby": RUNWAY,
    }),
    Step("lights", 4, {
        "flight.ground_speed": 0.0, "lights.strobe": "on", "lights.landing.left": "on",
        "transponder.mode": "altitude",
    }),
)  # fmt: skip
ROLL = (
    Step("full", 3, {f"{E}throttle": 100.0, f"{E}rpm": 2300.0, "flight.ground_speed": 5.0, "vacuum.suction": 5.1}),
    Step("roll_30", 4, {"flight.ground_speed": 30.0, "flight.airspeed": 30.0, "airspeed.captain": 30.0}),
    Step("rotate", 3, {
        "flight.ground_speed": 55.0, "flight.airspeed": 55.0, "airspeed.captain": 55.0, "flight.pitch": 7.0,
    }),
)  # fmt: skip
CLIMB = (
    Step("off", 2, {"flight.on_ground": "no", "flight.height": 20.0, "flight.vertical_speed": 500.0}),
    Step("climb_100", 3, {
        "flight.height": 100.0, "flight.airspeed": 70.0, "airspeed.captain": 70.0, "flight.ground_speed": 70.0,
    }),
    Step("climb_400", 6, {
        "flight.height": 400.0, "controls.flap.lever": 0.0, "controls.flap.position": 0.0,
    }),
    Step("climb_700", 4, {"flight.height": 700.0, "fuel.pump.auxiliary.switch": "off"}, ("after_takeoff_checklist",)),
)  # fmt: skip
LEVEL = (
    Step("level", 13, {
        "flight.height": 1000.0, "flight.vertical_speed": 0.0, f"{E}throttle": 65.0, f"{E}rpm": 2200.0,
        "flight.airspeed": 85.0, "airspeed.captain": 85.0, "flight.ground_speed": 85.0, "flight.pitch": 1.0,
        "flight.heading": 132.0, "heading.captain": 132.0, "heading.standby": 132.0,
    }),
    Step("pump", 2, {"fuel.pump.auxiliary.switch": "on"}),
    Step("downwind", 5, {}, ("downwind_checklist",)),
)  # fmt: skip
APPROACH = (
    Step("heat_first", 1, {"ice.carburettor": 100.0}),
    Step("power_back", 3, {
        f"{E}throttle": 15.0, f"{E}rpm": 1600.0, "flight.airspeed": 78.0, "airspeed.captain": 78.0,
        "controls.flap.lever": 8.0, "controls.flap.position": 8.0,
    }),
    Step("base", 8, {
        "flight.height": 800.0, "flight.vertical_speed": -500.0, "flight.airspeed": 70.0, "airspeed.captain": 70.0,
        "controls.flap.lever": 16.0, "controls.flap.position": 16.0,
    }),
    Step("final", 5, {
        "flight.height": 450.0, "controls.flap.lever": 28.0, "controls.flap.position": 28.0,
        "flight.heading": RUNWAY, "heading.captain": RUNWAY, "heading.standby": RUNWAY, "flight.bank": 0.0,
        "flight.airspeed": 63.0, "airspeed.captain": 63.0, "flight.ground_speed": 56.0, "flight.pitch": -1.0,
    }, ("landing_clearance",)),
    Step("final_380", 4, {"flight.height": 380.0}, ("before_landing_checklist",)),
    Step("final_250", 5, {"flight.height": 250.0}),
    Step("final_120", 4, {"flight.height": 120.0}),
)  # fmt: skip
LANDING = (
    Step("short", 2, {"flight.height": 40.0, "flight.vertical_speed": -300.0}),
    Step("flare", 2, {
        "flight.height": 4.0, f"{E}throttle": 0.0, f"{E}rpm": 1000.0, "flight.pitch": 4.0,
        "flight.airspeed": 55.0, "airspeed.captain": 55.0,
    }),
    Step("touch", 3, {
        "flight.on_ground": "yes", "flight.height": 0.0, "flight.vertical_speed": 0.0, "flight.ground_speed": 45.0,
        "flight.airspeed": 45.0, "airspeed.captain": 45.0,
    }),
)  # fmt: skip
ROLL_OUT = (
    Step("slow", 3, {"flight.ground_speed": 20.0, "flight.airspeed": 20.0, "airspeed.captain": 20.0, "flight.pitch": 0.0}),
    Step("vacate", 3, {
        "flight.ground_speed": 8.0, "flight.heading": HOLD, "heading.captain": HOLD, "heading.standby": HOLD,
        "flight.airspeed": 0.0, "airspeed.captain": 0.0,
    }, ("runway_vacated",)),
    Step("tidy", 4, {
        "flight.ground_speed": 0.0, "controls.flap.lever": 0.0, "controls.flap.position": 0.0,
        "ice.carburettor": 0.0, "lights.strobe": "off", "lights.landing.left": "off",
        "fuel.pump.auxiliary.switch": "off", "ice.pitot": "off", "transponder.mode": "standby",
        f"{E}throttle": 10.0,
    }),
    Step("after_landing", 3, {}, ("after_landing_checklist",)),
    Step("taxi_in", 8, {"flight.ground_speed": 9.0}),
)  # fmt: skip
STAND = (
    Step("park", 4, {"flight.ground_speed": 0.0, "gear.parking_brake": "set"}),
    Step("avionics_off", 3, {"electrical.avionics.1": "off", "electrical.avionics.2": "off", "transponder.mode": "off"}),
    Step("cut", 2, {f"{E}mixture": 0.0}),
    Step("stopped", 5, {
        f"{E}running": "no", f"{E}rpm": 0.0, f"{E}oil_pressure": 0.0, "vacuum.suction": 0.0,
        "electrical.alternator.online": "no", "electrical.ammeter": -3.0, "electrical.low_voltage": "on",
    }),
    Step("key_out", 3, {f"{E}magnetos": "off", "lights.beacon": "off"}),
    Step("master_off", 7, {
        "electrical.battery.switch": "off", "electrical.alternator.switch": "off", "electrical.ammeter": 0.0,
        "electrical.low_voltage": "off",
    }),
    Step("shut_down", 3, {}, ("shutdown_checklist",)),
    Step("leave", 4, {
        "controls.lock": "on", "gear.chocks": "on", "parking.pitot_cover": "on", **TIED,
        "seat.left.belt": "open", "seat.right.belt": "open",
    }),
    Step("secure", 12, {}, ("secure_checklist",)),
)  # fmt: skip

CIRCUIT = (
    *PREFLIGHT, *START, *TAXI, *RUN_UP, *BEFORE_TAKEOFF, *LINE_UP, *ROLL, *CLIMB, *LEVEL, *APPROACH, *LANDING,
    *ROLL_OUT, *STAND,
)  # fmt: skip
"""One circuit without an error."""

GO_AROUND = (
    Step("throttle_up", 1, {f"{E}throttle": 100.0, f"{E}rpm": 2350.0}),
    Step("heat_off", 1, {"ice.carburettor": 0.0}),
    Step("flaps_16", 3, {"controls.flap.lever": 16.0, "controls.flap.position": 16.0, "flight.vertical_speed": 300.0}),
    Step("climbing", 6, {"flight.height": 300.0, "flight.airspeed": 70.0, "airspeed.captain": 70.0, "flight.pitch": 6.0}),
    Step("clean_up", 7, {"flight.height": 600.0, "controls.flap.lever": 0.0, "controls.flap.position": 0.0,
                         "fuel.pump.auxiliary.switch": "off"}),
)  # fmt: skip
"""From short final back into the circuit, but for the level part."""

TOUCH_AND_GO = (
    Step("flaps_8", 2, {"controls.flap.lever": 8.0, "controls.flap.position": 8.0, "ice.carburettor": 0.0, "flight.ground_speed": 40.0}),
    Step("full_again", 2, {f"{E}throttle": 100.0, f"{E}rpm": 2300.0}),
    Step("rotate_again", 3, {
        "flight.ground_speed": 55.0, "flight.airspeed": 55.0, "airspeed.captain": 55.0, "flight.pitch": 7.0,
    }),
    *CLIMB,
)  # fmt: skip
"""From the landing roll into the climb."""

REJECTED = (
    Step("stop_roll", 4, {f"{E}throttle": 0.0, f"{E}rpm": 900.0, "flight.ground_speed": 5.0, "flight.airspeed": 0.0, "airspeed.captain": 0.0}),
    Step("off_again", 5, {
        "flight.ground_speed": 9.0, "flight.heading": HOLD, "heading.captain": HOLD, "heading.standby": HOLD,
        "lights.strobe": "off", "lights.landing.left": "off", "transponder.mode": "standby",
    }, ("runway_vacated",)),
    Step("back_at_hold", 4, {"flight.ground_speed": 0.0, f"{E}throttle": 10.0, f"{E}rpm": 1000.0, "gear.parking_brake": "set"}),
)  # fmt: skip
"""From the roll back to the holding point."""

TAXI_BACK = (
    Step("back_to_hold", 4, {
        "flight.ground_speed": 0.0, "gear.parking_brake": "set", "controls.flap.lever": 8.0,
        "controls.flap.position": 8.0, "fuel.pump.auxiliary.switch": "on", "ice.pitot": "on",
    }),
    Step("ready_again", 6, {}, ("before_takeoff_checklist",)),
    *LINE_UP,
)  # fmt: skip
"""From the taxi in to the runway for another take-off."""


def before(name: str) -> list[Step]:
    """Steps of the circuit before this one."""
    return list(takewhile(lambda step: step.name != name, CIRCUIT))


def since(name: str) -> list[Step]:
    """Steps of the circuit from this one on."""
    return list(dropwhile(lambda step: step.name != name, CIRCUIT))
