"""Tests of the Halyard 220 with JSBSim: the same controls, the same signals, always valid by the book."""

from __future__ import annotations

import sys
from copy import deepcopy
from math import isfinite
from random import Random

import pytest

from mock_sim.jsbsim.embedded import JsbsimHalyard220
from mock_sim.jsbsim.embedded.flight_model import JsbsimMissingError
from mock_sim.jsbsim.installation import INSTALL_HINT
from mock_sim.twin_jet import Halyard220
from mock_sim.twin_jet.controls import FLAP_DETENTS
from rules.signals.book import load_books
from rules.signals.model import Signal, SignalKind, Value
from tests.mock_sim.twin_jet.twin_jet_steps import number, put

BOOK = load_books(["twin_jet"])


def _faults(state: dict[str, Value]) -> list[str]:
    """Return every signal whose value the book does not allow."""
    return [name for name, value in state.items() if not _valid(BOOK[name], value)]


def _valid(signal: Signal, value: Value) -> bool:
    """Return True if the book allows a value."""
    if signal.is_numeric:
        return isinstance(value, float) and isfinite(value) and signal.low <= value <= signal.high
    return value in signal.words or signal.kind is SignalKind.TEXT


def _anywhere(control: Signal, random: Random) -> Value:
    """Return a random position of a control."""
    if control.name == "controls.flap.lever":
        return random.choice(FLAP_DETENTS)
    if not control.is_numeric:
        return random.choice(control.words)
    return random.uniform(control.low, control.high)


def test_controls_are_known_without_the_library() -> None:
    """A scenario can be checked where the library is not installed: the controls are the Halyard 220's."""
    assert dict(JsbsimHalyard220().control_signals) == dict(Halyard220().control_signals)


def test_an_absent_library_is_named(monkeypatch: pytest.MonkeyPatch) -> None:
    """Without the library the first step names it and gives the command that installs it."""
    monkeypatch.setitem(sys.modules, "jsbsim", None)
    with pytest.raises(JsbsimMissingError) as missing:
        JsbsimHalyard220().step(0.1)
    assert INSTALL_HINT in str(missing.value)


@pytest.mark.real
def test_it_is_parked_and_nothing_moves(parked: JsbsimHalyard220) -> None:
    """It has the signals of the Halyard 220, and nothing moves: position, heading, speed, rotors."""
    before = parked.state()
    parked.run(20.0)
    state = parked.state()
    assert state.keys() == BOOK.keys()
    assert _faults(state) == []
    assert number(parked, "flight.latitude") == pytest.approx(before["flight.latitude"], abs=1e-6)
    assert number(parked, "flight.heading") == pytest.approx(233.0, abs=0.05)
    assert number(parked, "flight.ground_speed") < 0.01
    assert (state["engine.1.n2"], state["flight.on_ground"], state["flight.altitude"]) == (0.0, "yes", 210.0)


@pytest.mark.real
@pytest.mark.parametrize("seed", [1, 2])
def test_random_settings_stay_valid(running: JsbsimHalyard220, seed: int) -> None:
    """With engines running and any control in any position, every signal stays valid by the book."""
    random = Random(seed)
    controls = [
        c for c in running.control_signals.values() if c.kind not in (SignalKind.TEXT, SignalKind.COUNT)
    ]
    tried = [c for c in controls if not c.name.startswith(("sim.", "position."))]
    for _ in range(40):
        for control in random.sample(tried, 12):
            running.set(control.name, _anywhere(control, random))
        running.run(1.5, 0.25)
        assert _faults(running.state()) == []


@pytest.mark.real
def test_the_same_steps_give_the_same_flight(library: None) -> None:  # noqa: ARG001 - it must be here
    """Two aeroplanes with one seed and the same steps are equal to the last digit."""
    first, second = JsbsimHalyard220(seed=3), JsbsimHalyard220(seed=3)
    for aeroplane in (first, second):
        put(aeroplane, {"gear.chocks": "removed", "gear.tug": "attached", "gear.parking_brake": "released"})
        aeroplane.set("tug.speed", -3.0)
        aeroplane.run(10.0)
    assert first.state() == second.state()


@pytest.mark.real
def test_the_aeroplane_can_be_placed_elsewhere(parked: JsbsimHalyard220) -> None:
    """Placed at the other airport, the aeroplane is on that ground, with that heading."""
    parked.run(1.0)
    parked.place(43.182, -20.395, 268.0)
    parked.run(1.0)
    assert number(parked, "flight.altitude") == 640.0
    assert number(parked, "flight.latitude") == pytest.approx(43.182, abs=1e-4)
    assert number(parked, "flight.heading") == pytest.approx(268.0, abs=0.1)


@pytest.mark.real
def test_the_aeroplane_cannot_be_copied(parked: JsbsimHalyard220) -> None:
    """A copy is refused, since the library's state cannot be copied."""
    parked.step(0.1)
    with pytest.raises(TypeError):
        deepcopy(parked)
