"""An engine or alternator that fails is the aeroplane's event; one that the pilot stops is the pilot's error."""

from __future__ import annotations

import pytest

from tests.packs_trainer.circuit_steps import CIRCUIT, E
from tests.packs_trainer.scripted_circuit import Changes, ScriptedCircuit, Step

STOPPED: Changes = {f"{E}running": "no", f"{E}rpm": 400.0}
BY_PILOT: dict[str, tuple[Changes, str]] = {
    "mixture": ({f"{E}mixture": 0.0}, "watch.mixture_in_flight"),
    "magnetos": ({f"{E}magnetos": "off"}, "watch.magnetos_in_flight"),
    "selector": ({"fuel.selector": "off"}, "watch.selector_in_flight"),
    "shut-off": ({"fuel.shutoff": "closed"}, "watch.selector_in_flight"),
}
SECURED: Changes = {f"{E}mixture": 0.0, f"{E}magnetos": "off", "fuel.selector": "off"}


def level(*without: str) -> ScriptedCircuit:
    """Settled in level flight, without signals of these names."""
    return ScriptedCircuit(without=without).fly(CIRCUIT, until="pump").fly([Step("settled", 60, {})])


@pytest.mark.parametrize("name", BY_PILOT)
def test_an_engine_that_the_pilot_stops_is_the_pilots_error(name: str) -> None:
    """The control that stopped it is found, and no failure of the engine."""
    control, watch = BY_PILOT[name]
    flight = level().fly([Step("moved", 4, control), Step("stops", 10, STOPPED)])
    assert set(flight.found) == {watch}
    assert flight.finding(watch).seat == "pilot"


def test_an_engine_that_fails_is_the_aeroplanes_event() -> None:
    """It fails, and the pilot secures it: the failure is found, and nothing of the pilot."""
    flight = level().fly([Step("stops", 5, STOPPED), Step("secured", 30, SECURED)])
    assert flight.found == {"watch.engine_out": "aeroplane_event"}
    assert flight.finding("watch.engine_out").seat == "aeroplane"


def test_without_the_controls_a_stopped_engine_is_found() -> None:
    """Where neither mixture nor selector nor magnetos are received, the engine alone decides."""
    without = (f"{E}mixture", f"{E}magnetos", "fuel.selector", "fuel.shutoff")
    assert "watch.engine_out" in level(*without).fly([Step("stops", 5, STOPPED)]).found


def test_an_alternator_that_failed_may_be_switched_off() -> None:
    """After the low-voltage light the pilot tries the switch and leaves it off; only the light is found."""
    low: Changes = {"electrical.low_voltage": "on", "electrical.ammeter": -12.0}
    flight = level().fly([Step("fails", 8, low), Step("off", 60, {"electrical.alternator.switch": "off"})])
    assert flight.found == {"watch.low_voltage": "aeroplane_event"}


def test_an_alternator_that_is_switched_off_is_the_pilots_error() -> None:
    """The switch first, and the light after it: the switch is found, and no event of the aeroplane."""
    low: Changes = {"electrical.low_voltage": "on", "electrical.ammeter": -12.0}
    off: Changes = {"electrical.alternator.switch": "off"}
    flight = level().fly([Step("off", 1, off), Step("drains", 20, low)])
    assert flight.found == {"watch.alternator_switched_off": "limit_exceeded"}
