"""Tests of the control laws: from wanted rates to the library's surfaces."""

from __future__ import annotations

from mock_sim.jsbsim.embedded.control_laws import FlightControlLaws

MOTION = {"aero/qbar-psf": 64.5, "velocities/thetadot-rad_sec": 0.0, "velocities/phidot-rad_sec": 0.0}
ELEVATOR, AILERON, RUDDER = "fcs/elevator-cmd-norm", "fcs/aileron-cmd-norm", "fcs/rudder-cmd-norm"


class UnresponsiveAeroplane:
    """An aeroplane that does not respond."""

    def __init__(self) -> None:
        self.properties = dict(MOTION)

    def __getitem__(self, path: str) -> float:
        return self.properties[path]

    def __setitem__(self, path: str, value: float) -> None:
        self.properties[path] = value

    def run(self, steps: int) -> None:
        """Take steps without any effect."""


def test_hands_move_the_surfaces_in_the_librarys_signs() -> None:
    """On the wheels: nose up is elevator up (negative), right wheel is right, right pedal is rudder right (negative)."""
    aeroplane = UnresponsiveAeroplane()
    FlightControlLaws(aeroplane).direct(50.0, 40.0, 30.0)
    assert aeroplane[ELEVATOR] < -0.5
    assert (aeroplane[AILERON], aeroplane[RUDDER]) == (0.4, -0.3)


def test_a_nose_that_rises_needs_less() -> None:
    """On the wheels the elevator pulls less the faster the nose rises."""
    aeroplane = UnresponsiveAeroplane()
    surfaces = FlightControlLaws(aeroplane)
    surfaces.direct(40.0, 0.0, 0.0)
    before = aeroplane[ELEVATOR]
    aeroplane["velocities/thetadot-rad_sec"] = 0.05
    surfaces.direct(40.0, 0.0, 0.0)
    assert before < aeroplane[ELEVATOR] < 0.0


def test_a_missing_rate_moves_the_surface_further() -> None:
    """In the air a missing rate moves the surface further, to its stop and not beyond."""
    aeroplane = UnresponsiveAeroplane()
    surfaces = FlightControlLaws(aeroplane)
    seen = []
    for _ in range(400):
        surfaces.command_rates(2.0, 3.0, 0.0, 0.05)
        seen.append((aeroplane[ELEVATOR], aeroplane[AILERON]))
    assert seen[0][0] > seen[20][0] > seen[-1][0] == -1.0
    assert 0.0 < seen[0][1] < seen[20][1] <= 1.0


def test_more_air_needs_less_surface() -> None:
    """The faster it flies, the less the surfaces move for the same rate."""
    slow, fast = UnresponsiveAeroplane(), UnresponsiveAeroplane()
    fast["aero/qbar-psf"] = 300.0
    for aeroplane in (slow, fast):
        FlightControlLaws(aeroplane).command_rates(2.0, 2.0, 0.0, 0.05)
    assert slow[ELEVATOR] < fast[ELEVATOR] < 0.0
    assert slow[AILERON] > fast[AILERON] > 0.0


def test_the_hand_over_is_without_a_jerk() -> None:
    """The elevator continues in the air from its position on the wheels."""
    aeroplane = UnresponsiveAeroplane()
    surfaces = FlightControlLaws(aeroplane)
    surfaces.direct(30.0, 0.0, 0.0)
    before = aeroplane[ELEVATOR]
    surfaces.command_rates(0.0, 0.0, 0.0, 0.05)
    assert aeroplane[ELEVATOR] == before
