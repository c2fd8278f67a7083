"""The Halyard 12, an invented single-engine piston trainer for one pilot.

For simulation only; every number is of an invented type: 28 V, two 97 litre tanks, fixed-pitch propeller, carburettor,
vacuum pump, electric flaps at 0, 8, 16 and 28 degrees, no autopilot.

Takes: controls by name, and time.  Gives: all signals of the piston book.

    trainer = Halyard12(seed=7)
    trainer.set("electrical.battery.switch", "on")
    trainer.step(0.05)
    trainer.state()["electrical.bus.voltage"]

At the start it is parked at Hollin Mead (XHOL): tied down, chocked, covered and locked, its gyros stopped and its heading
indicator at a random heading, with 110 litres of fuel.  Systems without power read off or zero; the altimeter and the
airspeed indicator need no power, the gyros need suction.  Ropes, chocks and brakes hold it.

Signals that a person moves are controls of the same name and range, with these exceptions and additions:

    controls.flap.lever: 0, 8, 16, 28 deg
    fuel.tank.{left,right}: 0 to 70 kg
    weather.humidity: 0 to 100 %; 95 and more, or visible moisture, ices a carburettor quickest
    load.zero_fuel_mass: 720 to 1010 kg
    heading.align: no, yes; sets the heading indicator to the compass and returns to no
    fault.alternator: none, failed
    fault.fuel_pump: none, engine, electric
    fault.magneto.{left,right}: none, dead, ungrounded (fires at every key position: no drop)
    fault.starter: none, stuck
    fault.oil_pressure: none, late (70 s after the start), lost
    fault.engine: none, stopped
    fault.vacuum: none, failed
    fault.flaps: none, stuck
    pilot.task: none, hold, taxi_out, line_up, take_off (and on round the circuit to hold), vacate, taxi_in
    pilot.taxi_speed: 3 to 20 kt
    pilot.rotate_speed: 40 to 80 kt
    pilot.climb_speed: 55 to 95 kt
    pilot.circuit_speed: 60 to 100 kt
    pilot.approach_speed: 50 to 90 kt

The pilot moves yoke, pedals, toe brakes and throttle while there is a task; `pilot.task` reads the present one.
"""

from mock_sim.piston.halyard_12 import Halyard12

__all__ = ["Halyard12"]
