"""The Halyard 220, an invented two-crew twin jet whose systems depend on each other.

For simulation only; every number is of an invented type.

Takes: controls by name, and time.  Gives: all signals of the twin_jet book.

    aeroplane = Halyard220(seed=7)
    aeroplane.set("electrical.battery.switch", "on")
    aeroplane.step(0.05)
    aeroplane.state()["electrical.battery.voltage"]

At the start it is parked without power: chocks on, parking brake set, doors open, stairs out, tug away, external power
connected but off, 8 200 kg of fuel.  Systems without power read off or zero: lights, annunciators, the pilots'
instruments, heaters, autoflight.  Physical quantities (fuel, pressures, rotor speeds, voltage) read their true value.

Some controls move back by themselves: the gear lever on the ground, the external-power switch once another
source carries the buses, a start switch at starter cut-out, the APU switch from start to on, a pressed button after
two seconds, an autopilot or yaw damper that cannot engage.  Trims and surfaces follow their control at their own rate.

An armed autothrust moves the thrust levers in the air; modes climb and descent become altitude near the selected altitude.
There are two airports, Port Averil (XPAV) and Selmar Point (XSEL), and a route between them: see `airports`.

Controls that are not in the signal book: `fault.*` break something, `tug.*` move the aeroplane while a tug is attached,
`load.zero_fuel_mass` loads it, `alert.cancel` is a press on the master lights.  Tanks, doors, weather and ground
equipment are controls too.  All controls, with their words or range:

    sim.paused: no, yes
    sim.rate: 0 to 64
    flight.outside_air_temperature: -90 to 70 degC
    weather.{visible_moisture,night}: no, yes
    weather.qnh: 850 to 1090 hPa
    weather.wind_direction: 0 to 360 deg
    weather.wind_speed: 0 to 250 kt
    weather.visibility: 0 to 100000 m
    load.zero_fuel_mass: 38000 to 62000 kg
    loading.centre_of_gravity: 0 to 60 %
    parking.{pitot_cover,static_cover}: removed, on
    parking.engine_cover.{1,2}: removed, on
    parking.gear_pin.{nose,left,right}: removed, inserted
    electrical.{battery,external}.switch: off, on
    electrical.essential_power: off, normal, battery
    electrical.external.available: no, yes
    electrical.generator.{1,2,apu}.switch: off, on
    electrical.bus.tie: open, auto
    electrical.coupling.{1,2}: engaged, released
    electrical.galley: off, on
    electrical.breakers_out: 0 to 200
    electrical.breaker.{configuration_warning,flight_recorder,voice_recorder,antiskid,yaw_damper}: closed, open
    fault.{generator,bleed}.{1,2}: none, trip
    apu.switch: off, on, start
    bleed.engine.{1,2}.switch: off, on
    bleed.apu.switch: off, on
    bleed.cross_bleed: closed, automatic, open
    bleed.ground_air: disconnected, connected
    air.pack.{left,right}.switch: off, normal, boost
    air.{recirculation_fan,trim_air}: off, on
    air.bay_cooling: off, normal, reserve
    fuel.tank.{left,right}: 0 to 8000 kg
    fuel.tank.centre: 0 to 12000 kg
    fuel.pump.{left_aft,left_forward,right_aft,right_forward,centre_left,centre_right}.switch: off, on
    fuel.{crossfeed,refuel_door}: closed, open
    fault.fuel_pump: none, left_aft, left_forward, right_aft, right_forward, centre_left, centre_right
    fault.fuel_filter.{1,2}: none, clogged
    hydraulics.{1,2}.pump.{engine,electric}.switch: off, on
    fault.hydraulic.{1,2}: none, leak
    engine.{1,2}.fuel_lever: closed, open
    engine.{1,2}.thrust_lever: -30 to 100 %
    engine.{1,2}.start_switch: off, start, normal, ignition
    engine.{1,2}.control: normal, alternate
    fault.engine.{1,2}: none, hot, hung, no_light, no_n1, starter_stuck, flame_out
    controls.{column,wheel,pedals}: -100 to 100 %
    controls.lock: off, on
    controls.stabiliser_trim: -4 to 14 deg
    controls.trim_isolate: normal, isolated
    controls.rudder_trim: -20 to 20 deg
    controls.aileron_trim: -15 to 15 deg
    controls.flap.lever: 0, 4, 8, 12, 20, 28, 36 deg
    controls.flap.standby_drive: off, on
    controls.speedbrake.lever: stowed, armed, half, full
    controls.supply.{elevator,aileron,rudder}: normal, off
    fault.flaps: none, asymmetry
    gear.lever: up, down
    gear.parking_brake: released, set
    gear.brake_pedal.{left,right}: 0 to 100 %
    gear.autobrake: off, reject, low, medium, high
    gear.antiskid: off, on
    gear.tiller: -80 to 80 deg
    gear.tiller_held: no, yes
    gear.tug: detached, attached
    gear.bypass_pin: removed, inserted
    gear.chocks: removed, on
    tug.speed: -6 to 6 kt
    tug.turn: -70 to 70 deg
    ice.engine.{1,2}: off, on
    ice.wing: off, on
    ice.{air_data,windshield}.{left,right}: off, on
    ice.wiper.{left,right}: parked, slow, fast
    lights.{beacon,strobe,navigation,taxi,logo,wing}: off, on
    lights.{turnoff,landing}.{left,right}: off, on
    lights.{seat_belts,no_smoking}: off, auto, on
    lights.panel: 0 to 100 %
    fire.engine.{1,2}.handle: normal, pulled
    fire.apu.handle: normal, pulled
    fire.cargo.arm: off, armed
    fire.test: off, on
    fire.bottle.{1,2}: charged, discharged
    fault.fire: none, engine_1, engine_2, apu, cargo
    door.{1,2}.{left,right}: open, closed
    door.{hold,overwing}.{1,2}: open, closed
    door.bay: open, closed
    door.stairs: extended, stowed
    door.slides: disarmed, armed
    cabin.ready: no, yes
    cabin.interphone: off, on
    seat.harness.{captain,first_officer}: unlocked, locked
    cockpit.door: unlocked, locked
    cockpit.door_position: open, closed
    cockpit.window.{left,right}: open, closed
    cabin.emergency_lights: off, armed, on
    oxygen.crew_pressure: 0 to 2500 psi
    oxygen.passenger: normal, on
    recorder.{voice,flight}: off, on
    display.lower: blank, shown
    radio.com.{1,2}: 118 to 137 MHz
    radio.selcal: off, on
    autoflight.speed: 80 to 400 kt
    autoflight.speed_mode: dialled, managed
    autoflight.heading: 0 to 360 deg
    autoflight.altitude: 0 to 50000 ft
    autoflight.vertical_speed: -8000 to 6000 ft/min
    autoflight.course.{left,right}: 0 to 360 deg
    autoflight.flight_director.{left,right}: off, on
    autoflight.pilot.{1,2}: off, on
    autoflight.yaw_damper: off, on
    autoflight.thrust_arm: off, armed
    autoflight.thrust_mode: off, armed, takeoff, fixed, climb, speed, idle
    autoflight.lateral_mode: off, takeoff, heading, track, route, localizer, rollout
    autoflight.vertical_mode: off, takeoff, altitude, climb, descent, vertical_speed, glide_path, flare, go_around
    autoflight.takeoff_thrust: 0 to 120 %
    altimeter.{captain,first_officer,standby}.setting: 850 to 1090 hPa
    altimeter.{captain,first_officer}.standard: no, yes
    transponder.mode: off, standby, on, altitude, ta, ta_ra
    transponder.code: 0 to 7777
    inertial.{left,right}.mode: off, align, nav, attitude
    navigation.frequency.{1,2}: 108 to 118 MHz
    weather_radar: off, standby, on
    terrain.inhibit: no, yes
    clock.chronometer.{left,right}: stopped, running
    clock.utc: 0 to 86400 s
    speeds.{v1,vr,v2}.{captain,first_officer}: 0 to 250 kt
    speeds.vref: 0 to 250 kt
    minimums.{captain,first_officer}: 0 to 15000 ft
    position.latitude: -90 to 90 deg
    position.longitude: -180 to 180 deg
    management.route: no, yes
    management.{zero_fuel_mass,takeoff_mass}: 0 to 80000 kg
    management.reserve_fuel: 0 to 20000 kg
    management.cost_index: 0 to 500
    management.outside_temperature: -90 to 70 degC
    management.assumed_temperature: -90 to 90 degC
    management.cruise_altitude: 0 to 50000 ft
    management.centre_of_gravity: 0 to 60 %
    management.takeoff_flap: 0 to 36 deg
    management.runway: up to 4 characters
    cabin.mode: auto, standby, manual
    cabin.outflow_valve: 0 to 100 %
    cabin.arrival_elevation: -1000 to 15000 ft
    fault.takeoff_warning: none, unpowered
    alert.{cancel,stored_shown,test}: off, on
"""

from mock_sim.twin_jet.halyard_220 import Halyard220

__all__ = ["Halyard220"]
