"""What is sent of each stock aeroplane: one caption for each property, because the library's own labels repeat.

The library labels a column with the last part of the property's path, so that both engines' `n2` are called the
same. A caption tells them apart; it names the unit, and has no comma, which would not be quoted.

Takes: nothing.  Gives: the columns in the order of sending, and the output file that asks the library for them.
"""

from __future__ import annotations

from typing import NamedTuple
from xml.etree.ElementTree import Element, SubElement, tostring

RATE_HZ = 20
"""It must divide the library's 120 steps a second."""
PRECISION = 9
"""Significant digits; the usual 7 place the aeroplane a metre off and quantise time late in a flight."""


class Column(NamedTuple):
    """A caption and the property that it stands for."""

    caption: str
    path: str


_FLIGHT = (
    Column("airspeed_kt", "velocities/vc-kts"),
    Column("ground_speed_fps", "velocities/vg-fps"),
    Column("altitude_ft", "position/h-sl-ft"),
    Column("pressure_altitude_ft", "atmosphere/pressure-altitude"),
    Column("height_of_mass_ft", "position/h-agl-ft"),
    Column("climb_fps", "velocities/h-dot-fps"),
    Column("heading_true_deg", "attitude/psi-deg"),
    Column("pitch_deg", "attitude/theta-deg"),
    Column("bank_deg", "attitude/phi-deg"),
    Column("mach", "velocities/mach"),
    Column("load_down_g", "accelerations/n-pilot-z-norm"),
    Column("latitude_deg", "position/lat-geod-deg"),
    Column("longitude_deg", "position/long-gc-deg"),
    Column("outside_temperature_degR", "atmosphere/T-R"),
    Column("on_wheels", "gear/wow"),
    Column("elevator_norm", "fcs/elevator-pos-norm"),
    Column("aileron_norm", "fcs/left-aileron-pos-norm"),
    Column("rudder_norm", "fcs/rudder-pos-norm"),
    Column("column_norm", "fcs/elevator-cmd-norm"),
    Column("wheel_norm", "fcs/aileron-cmd-norm"),
    Column("pedals_norm", "fcs/rudder-cmd-norm"),
    Column("pitch_trim_norm", "fcs/pitch-trim-cmd-norm"),
    Column("yaw_trim_norm", "fcs/yaw-trim-cmd-norm"),
    Column("flap_lever_norm", "fcs/flap-cmd-norm"),
    Column("flap_deg", "fcs/flap-pos-deg"),
    Column("brake_left_norm", "fcs/left-brake-cmd-norm"),
    Column("brake_right_norm", "fcs/right-brake-cmd-norm"),
    Column("brake_handle_norm", "fcs/center-brake-cmd-norm"),
    Column("fuel_lbs", "propulsion/total-fuel-lbs"),
)


def _turbine(number: int) -> tuple[Column, ...]:
    """The columns of one turbine, counted from 1; the library counts from 0."""
    engine = f"propulsion/engine[{number - 1}]"
    return (
        Column(f"throttle_{number}_norm", f"fcs/throttle-cmd-norm[{number - 1}]"),
        Column(f"n1_{number}_pct", f"{engine}/n1"),
        Column(f"n2_{number}_pct", f"{engine}/n2"),
        Column(f"fuel_flow_{number}_pps", f"{engine}/fuel-flow-rate-pps"),
        Column(f"fuel_used_{number}_lbs", f"{engine}/fuel-used-lbs"),
        Column(f"running_{number}", f"{engine}/set-running"),
    )


JET = (
    *_FLIGHT,
    Column("roll_trim_norm", "fcs/roll-trim-cmd-norm"),
    Column("gear_lever_norm", "gear/gear-cmd-norm"),
    Column("gear_norm", "gear/gear-pos-norm"),
    Column("speedbrake_lever_norm", "fcs/speedbrake-cmd-norm"),
    Column("speedbrake_norm", "fcs/speedbrake-pos-norm"),
    *_turbine(1),
    *_turbine(2),
)

PISTON = (
    *_FLIGHT,
    Column("tank_left_lbs", "propulsion/tank[0]/contents-lbs"),
    Column("tank_right_lbs", "propulsion/tank[1]/contents-lbs"),
    Column("throttle_norm", "fcs/throttle-cmd-norm"),
    Column("mixture_norm", "fcs/mixture-cmd-norm"),
    Column("starter", "propulsion/starter_cmd"),
    Column("running", "propulsion/engine/set-running"),
    Column("rpm", "propulsion/engine/engine-rpm"),
    Column("manifold_inHg", "propulsion/engine/map-inhg"),
    Column("egt_degF", "propulsion/engine/egt-degF"),
    Column("cht_degF", "propulsion/engine/cht-degF"),
    Column("oil_pressure_psi", "propulsion/engine/oil-pressure-psi"),
    Column("oil_temperature_degF", "propulsion/engine/oil-temperature-degF"),
    Column("fuel_flow_pps", "propulsion/engine/fuel-flow-rate-pps"),
)


def output_file(columns: tuple[Column, ...], port: int) -> bytes:
    """The output file that makes the library send these columns to a port of this machine."""
    output = Element(
        "output",
        name="127.0.0.1",
        type="SOCKET",
        protocol="UDP",
        port=str(port),
        rate=str(RATE_HZ),
        precision=str(PRECISION),
    )
    for column in columns:
        SubElement(output, "property", caption=column.caption).text = column.path
    return tostring(output)
