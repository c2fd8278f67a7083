"""The invented Halyard 12, a single-engine piston trainer for one pilot, whose systems behave like systems.

For simulation only; every number is of an invented type: 28 V, two 97 litre tanks, fixed-pitch propeller, carburettor,
vacuum pump, electric flaps at 0, 10, 20 and 30 degrees, no autopilot.

Takes: controls by name, and time.  Gives: all signals of the piston book.

    trainer = Trainer(seed=7)
    trainer.set("electrical.battery.switch", "on")
    trainer.step(0.05)
    trainer.state()["electrical.bus.voltage"]

At the start it stands roped, chocked, covered and locked on its stand at Hollin Mead (XHOL), its gyros down and its
heading indicator anywhere, with 110 litres of fuel.  What has no power reads off or zero; the altimeter and the airspeed
indicator need none, the gyros need suction.  Ropes and chocks hold it, and so do the brakes.

Signals that a person moves are controls of the same name and range, with these exceptions and additions:

    controls.flap.lever: rests at 0, 10, 20, 30 deg
    fuel.tank.{left,right}: 0 to 70 kg
    weather.humidity: 0 to 100 %; 95 and more, or visible moisture, ices a carburettor quickest
    load.zero_fuel_mass: 720 to 1010 kg
    heading.align: no, yes; sets the heading indicator to the compass and goes back to no
    fault.alternator: none, failed
    fault.fuel_pump: none, engine, electric
    fault.magneto.{left,right}: none, dead, ungrounded (fires whatever the key says: no drop)
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

The hands move yoke, pedals, toe brakes and throttle while they have a task; `pilot.task` tells what they are at.
"""

from mock_sim.piston.halyard_12 import Halyard12

__all__ = ["Halyard12"]
