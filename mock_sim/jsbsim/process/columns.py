"""Columns sent for each stock aeroplane: one caption for each property, because the library's own labels repeat.

The library labels a column with the last part of the property's path, so that both engines' `n2` are called the
same. A caption distinguishes them; it names the unit, and has no comma, which the library would not quote.

Takes: nothing.  Gives: the columns in the order of sending, and the output file that asks the library for them.
"""

from __future__ import annotations

from typing import NamedTuple
from xml.etree.ElementTree import Element, SubElement, tostring

RATE_HZ = 20
"""It must divide the library's 120 steps a second."""
PRECISION = 9
"""Significant digits; with the default of 7 the position is a metre off, and time is quantised late in a flight."""


class OutputColumn(NamedTuple):
    """A caption and its property, less another property where `less` names one."""

    caption: str
    path: str
    less: str = ""


_FLIGHT_COLUMNS = (
    OutputColumn("airspeed_kt", "velocities/vc-kts"),
    OutputColumn("ground_speed_fps", "velocities/vg-fps"),
    OutputColumn("altitude_ft", "position/h-sl-ft"),
    OutputColumn("pressure_altitude_ft", "atmosphere/pressure-altitude"),
    OutputColumn("height_of_mass_ft", "position/h-agl-ft"),
    OutputColumn("climb_fps", "velocities/h-dot-fps"),
    OutputColumn("heading_true_deg", "attitude/psi-deg"),
    OutputColumn("pitch_deg", "attitude/theta-deg"),
    OutputColumn("bank_deg", "attitude/phi-deg"),
    OutputColumn("mach", "velocities/mach"),
    OutputColumn("load_down_g", "accelerations/n-pilot-z-norm"),
    OutputColumn("latitude_deg", "position/lat-geod-deg"),
    OutputColumn("longitude_deg", "position/long-gc-deg"),
    OutputColumn("outside_temperature_degR", "atmosphere/T-R"),
    OutputColumn("on_wheels", "gear/wow"),
    # Both models trim with the elevator and have no stabiliser that moves.  As on an aeroplane that has one, the elevator is
    # counted from its place in trim: the trim is no pull on the column.
    OutputColumn("elevator_norm", "fcs/elevator-pos-norm", less="fcs/pitch-trim-cmd-norm"),
    OutputColumn("aileron_norm", "fcs/left-aileron-pos-norm"),
    OutputColumn("rudder_norm", "fcs/rudder-pos-norm"),
    OutputColumn("column_norm", "fcs/elevator-cmd-norm"),
    OutputColumn("wheel_norm", "fcs/aileron-cmd-norm"),
    OutputColumn("pedals_norm", "fcs/rudder-cmd-norm"),
    OutputColumn("pitch_trim_norm", "fcs/pitch-trim-cmd-norm"),
    OutputColumn("yaw_trim_norm", "fcs/yaw-trim-cmd-norm"),
    OutputColumn("flap_lever_norm", "fcs/flap-cmd-norm"),
    OutputColumn("flap_deg", "fcs/flap-pos-deg"),
    OutputColumn("brake_left_norm", "fcs/left-brake-cmd-norm"),
    OutputColumn("brake_right_norm", "fcs/right-brake-cmd-norm"),
    OutputColumn("brake_handle_norm", "fcs/center-brake-cmd-norm"),
    OutputColumn("fuel_lbs", "propulsion/total-fuel-lbs"),
)


def _turbine_columns(number: int) -> tuple[OutputColumn, ...]:
    """Return the columns of one turbine, counted from 1; the library counts from 0."""
    engine = f"propulsion/engine[{number - 1}]"
    return (
        OutputColumn(f"throttle_{number}_norm", f"fcs/throttle-cmd-norm[{number - 1}]"),
        OutputColumn(f"n1_{number}_pct", f"{engine}/n1"),
        OutputColumn(f"n2_{number}_pct", f"{engine}/n2"),
        OutputColumn(f"fuel_flow_{number}_pps", f"{engine}/fuel-flow-rate-pps"),
        OutputColumn(f"fuel_used_{number}_lbs", f"{engine}/fuel-used-lbs"),
        OutputColumn(f"running_{number}", f"{engine}/set-running"),
    )


TWIN_JET_COLUMNS = (
    *_FLIGHT_COLUMNS,
    OutputColumn("roll_trim_norm", "fcs/roll-trim-cmd-norm"),
    OutputColumn("gear_lever_norm", "gear/gear-cmd-norm"),
    OutputColumn("gear_norm", "gear/gear-pos-norm"),
    OutputColumn("speedbrake_lever_norm", "fcs/speedbrake-cmd-norm"),
    OutputColumn("speedbrake_norm", "fcs/speedbrake-pos-norm"),
    *_turbine_columns(1),
    *_turbine_columns(2),
)

PISTON_COLUMNS = (
    *_FLIGHT_COLUMNS,
    OutputColumn("tank_left_lbs", "propulsion/tank[0]/contents-lbs"),
    OutputColumn("tank_right_lbs", "propulsion/tank[1]/contents-lbs"),
    OutputColumn("throttle_norm", "fcs/throttle-cmd-norm"),
    OutputColumn("mixture_norm", "fcs/mixture-cmd-norm"),
    OutputColumn("starter", "propulsion/starter_cmd"),
    OutputColumn("running", "propulsion/engine/set-running"),
    OutputColumn("rpm", "propulsion/engine/engine-rpm"),
    OutputColumn("manifold_inHg", "propulsion/engine/map-inhg"),
    OutputColumn("egt_degF", "propulsion/engine/egt-degF"),
    OutputColumn("cht_degF", "propulsion/engine/cht-degF"),
    OutputColumn("oil_pressure_psi", "propulsion/engine/oil-pressure-psi"),
    OutputColumn("oil_temperature_degF", "propulsion/engine/oil-temperature-degF"),
    OutputColumn("fuel_flow_pps", "propulsion/engine/fuel-flow-rate-pps"),
)


def output_directive(columns: tuple[OutputColumn, ...], port: int) -> bytes:
    """Return the output file that makes the library send these columns to a port of this machine."""
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
        SubElement(output, "property", caption=column.caption).text = _property_sent(output, column)
    return tostring(output)


def _property_sent(output: Element, column: OutputColumn) -> str:
    """Return the property of a column; for a difference add the function that computes it in each step."""
    if not column.less:
        return column.path
    computed = f"output/{column.caption}"
    difference = SubElement(SubElement(output, "function", name=computed), "difference")
    for path in (column.path, column.less):
        SubElement(difference, "property").text = path
    return computed
