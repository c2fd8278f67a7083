"""Curves of the invented engine: the relation of rotor speeds, temperature and fuel flow.

Takes: rotor speeds in per cent, lever in per cent.  Gives: per cent, degrees Celsius, kg/h.  No outside source: the type
is invented; idle near N2 60 and N1 22 is the usual size for a twin-spool turbofan (from memory).
"""

from __future__ import annotations

from mock_sim.common.dynamics import clamp

IDLE_N1 = 22.0
IDLE_N2 = 60.0
IDLE_EGT_C = 480.0
IDLE_FLOW_KG_H = 300.0


def _above_idle(n1: float) -> float:
    """Return the position of N1 between idle and 100 %, 0 to about 1."""
    return clamp((n1 - IDLE_N1) / (100.0 - IDLE_N1), 0.0, 1.1)


def core_speed(n1: float) -> float:
    """Return the N2 for an N1 at or above idle, per cent.

    Args:
        n1: fan speed, per cent.
    """
    share: float = _above_idle(n1) ** 0.8
    return IDLE_N2 + 40.0 * share - max(0.0, IDLE_N1 - n1) * 0.5


def fan_below_idle(n2: float) -> float:
    """Return the N1 for an N2 below idle, per cent; the fan begins to turn at N2 6 %.

    Args:
        n2: core speed, per cent.
    """
    return max(0.0, n2 - 6.0) / (IDLE_N2 - 6.0) * (6.0 + 16.0 * min(1.0, n2 / IDLE_N2) ** 2)


def lever_target(lever: float) -> float:
    """Return the N1 that a thrust lever commands, per cent.

    Args:
        lever: per cent, 0 idle, negative reverse.
    """
    return IDLE_N1 + (0.79 * lever if lever >= 0.0 else -1.9 * lever)


def spool_rate(n1: float) -> float:
    """Return the highest rate of N1, per cent a second: idle to 90 % takes about 8 s.

    Args:
        n1: fan speed, per cent.
    """
    return 4.0 + 12.0 * _above_idle(n1)


def flow_kg_h(n1: float, pressure_altitude_ft: float = 0.0) -> float:
    """Return the fuel flow at or above idle, kg/h; thin air needs less.

    Args:
        n1: fan speed, per cent.
        pressure_altitude_ft: where the engine runs.
    """
    share: float = _above_idle(n1) ** 1.5
    thin = 1.0 - 0.55 * clamp(pressure_altitude_ft / 40000.0, 0.0, 1.0)
    return (IDLE_FLOW_KG_H + 3700.0 * share) * thin


def exhaust_c(n1: float) -> float:
    """Return the steady exhaust gas temperature at or above idle, degrees Celsius.

    Args:
        n1: fan speed, per cent.
    """
    share: float = _above_idle(n1) ** 1.1
    return IDLE_EGT_C + 360.0 * share


def start_peak_c(n2: float, *, hot: bool, fan_blocked: bool) -> float:
    """Return the target of the exhaust temperature during a start, degrees Celsius.

    Args:
        n2: core speed when the flame came, per cent; little air makes it hot.
        hot: the engine is set up to start hot.
        fan_blocked: the fan is blocked, so air is short.
    """
    peak = 690.0 + 30.0 * max(0.0, 27.0 - n2)
    if hot:
        peak = 950.0
    return peak + (70.0 if fan_blocked else 0.0)
