"""Tests of the whole aeroplane: every signal of the book, always valid, reproducible, in steps of any length."""

from __future__ import annotations

from math import isfinite
from random import Random

import pytest

from mock_sim.twin_jet import Halyard220
from mock_sim.twin_jet.controls import FLAP_DETENTS
from rules.signals.book import load_books
from rules.signals.model import Signal, SignalKind, Value
from tests.mock_sim.twin_jet.twin_jet_steps import FUEL, POWER, lift, number, put, start

BOOK = load_books(["twin_jet"])


def _fault_of(signal: Signal, value: Value) -> str:
    """Return what is wrong with a value by the book, or an empty text."""
    if signal.is_numeric:
        if not isinstance(value, float) or not isfinite(value):
            return f"{signal.name}: {value!r} is no finite number"
        if not signal.low <= value <= signal.high:
            return f"{signal.name}: {value} is outside {signal.low} to {signal.high}"
        is_whole = signal.kind is not SignalKind.COUNT or value == int(value)
        return "" if is_whole else f"{signal.name}: {value} is not whole"
    if not isinstance(value, str):
        return f"{signal.name}: {value!r} is no word"
    if signal.kind is SignalKind.TEXT:
        return "" if len(value) <= signal.max_length else f"{signal.name}: {value!r} is too long"
    return "" if value in signal.words else f"{signal.name}: {value!r} is none of {signal.words}"


def _faults(state: dict[str, Value]) -> list[str]:
    """Return everything in a state that the book does not allow."""
    return [fault for name, value in state.items() if (fault := _fault_of(BOOK[name], value))]


def _any_position(control: Signal, random: Random) -> Value:
    """Return a random position of a control."""
    if control.kind is SignalKind.TEXT:
        return random.choice(["", "14", "32L", "14R"])
    if not control.is_numeric:
        return random.choice(control.words)
    if control.name == "controls.flap.lever":
        return random.choice(FLAP_DETENTS)
    if control.name == "transponder.code":
        return float("".join(random.choice("01234567") for _ in range(4)))
    value = random.choice([control.low, control.high, random.uniform(control.low, control.high)])
    return float(round(value)) if control.kind is SignalKind.COUNT else value


def test_every_signal_of_the_book_is_given() -> None:
    """The state has exactly the signals of the common and twin-jet books, before and after a step."""
    aeroplane = Halyard220()
    assert aeroplane.state().keys() == BOOK.keys()
    aeroplane.step(0.05)
    assert aeroplane.state().keys() == BOOK.keys()


def test_the_start_state_is_valid() -> None:
    """Parked without power, every value has its kind and is in its range."""
    assert _faults(Halyard220().state()) == []


@pytest.mark.parametrize("seed", range(6))
def test_random_settings_stay_valid(seed: int) -> None:
    """With random settings of all controls, at any step length, every signal keeps its kind and range."""
    random = Random(seed)
    aeroplane = Halyard220(seed=seed)
    controls = [control for name, control in aeroplane.control_signals.items() if name != "sim.paused"]
    if seed % 2:  # half of them begin alive, so that more than a dark aeroplane is shaken
        put(aeroplane, {**POWER, **FUEL, "apu.switch": "start"})
        aeroplane.run(45.0, 0.5)
    for _ in range(600):
        for control in random.sample(controls, random.choice([0, 1, 4])):
            aeroplane.set(control.name, _any_position(control, random))
        aeroplane.step(random.choice([0.01, 0.05, 0.1, 0.33, 0.5]))
        assert _faults(aeroplane.state()) == []


@pytest.mark.parametrize("seed", range(4))
def test_random_flying_stays_valid(running: Halyard220, seed: int) -> None:
    """With random controls, in climb, descent and ground contact, every signal keeps its kind and range."""
    random = Random(seed)
    lift(running, random.choice([300.0, 9000.0, 38000.0]), 120.0)
    hands = [
        "controls.column",
        "controls.wheel",
        "engine.1.thrust_lever",
        "controls.flap.lever",
        "gear.lever",
    ]
    for _ in range(500):
        name = random.choice(hands)
        running.set(name, _any_position(running.control_signals[name], random))
        running.step(0.5)
        assert _faults(running.state()) == []


def test_the_same_seed_gives_the_same_flight() -> None:
    """Two aeroplanes with one seed and the same controls give equal states to the bit; another seed does not."""
    states = []
    for seed in (5, 5, 6):
        aeroplane = put(Halyard220(seed=seed), {**POWER, **FUEL, "apu.switch": "start"})
        aeroplane.run(40.0)
        states.append(aeroplane.state())
    assert states[0] == states[1]
    assert states[0] != states[2]


def test_noise_is_small_and_can_be_off() -> None:
    """Noise is small around the true value; without noise the state of a parked aeroplane does not change by a bit."""
    noisy, noiseless = put(Halyard220(seed=3), POWER), put(Halyard220(noise=False), POWER)
    noisy.run(60.0)
    noiseless.run(60.0)
    volts = []
    for _ in range(50):
        noisy.step(0.1)
        volts.append(number(noisy, "electrical.battery.voltage"))
    assert len(set(volts)) == 50
    assert sum(volts) / 50 == pytest.approx(number(noiseless, "electrical.battery.voltage"), abs=0.05)
    assert number(noisy, "engine.1.n2") == 0.0


def test_the_total_is_the_sum_of_the_tanks() -> None:
    """With noise the total still is the sum of the tanks that are shown."""
    aeroplane = Halyard220(seed=4)
    aeroplane.step(0.1)
    tanks = sum(number(aeroplane, f"fuel.tank.{tank}") for tank in ("left", "centre", "right"))
    assert number(aeroplane, "fuel.total") == pytest.approx(tanks)


@pytest.mark.parametrize("dt_s", [0.01, 0.05, 0.25, 0.5])
def test_the_length_of_a_step_hardly_matters(dt_s: float) -> None:
    """The same minute in short or long steps ends in nearly the same state."""
    aeroplane = put(Halyard220(noise=False), {**POWER, "hydraulics.2.pump.electric.switch": "on"})
    aeroplane.run(4.0, dt_s)
    assert aeroplane.sim_s == pytest.approx(4.0)
    assert number(aeroplane, "hydraulics.2.pressure") == pytest.approx(2748.0, abs=40.0)
    aeroplane.set("controls.flap.lever", 8.0)
    aeroplane.run(2.0, dt_s)
    assert number(aeroplane, "controls.flap.position") == pytest.approx(3.0, abs=0.01)


@pytest.mark.parametrize("dt_s", [0.0, 0.009, 0.51, -1.0, float("nan")])
def test_a_step_outside_its_bounds_is_refused(dark: Halyard220, dt_s: float) -> None:
    """A step of no time, too much time, or no number is refused and moves nothing."""
    before = dark.state()
    with pytest.raises(ValueError, match="a step is"):
        dark.step(dt_s)
    assert dark.state() == before
    assert dark.sim_s == 0.0


def test_a_pause_stops_the_clock(air: Halyard220) -> None:
    """While paused nothing moves and the clock stops; afterwards it continues."""
    air.set("engine.1.start_switch", "start")
    air.set("sim.paused", "yes")
    before, clock = air.state(), air.sim_s
    air.run(5.0)
    assert air.state() == before
    assert air.sim_s == clock
    air.set("sim.paused", "no")
    air.run(5.0)
    assert number(air, "engine.1.n2") > 5.0


def test_the_state_is_a_copy(dark: Halyard220) -> None:
    """A change of a returned state does not change the aeroplane."""
    dark.state()["fuel.total"] = 0.0
    assert number(dark, "fuel.total") == 8200.0


def test_every_state_of_a_start_of_both_engines_is_valid() -> None:
    """Every state from no power to both engines running, with noise, is valid by the book."""
    aeroplane = put(Halyard220(seed=9), {**POWER, **FUEL, "apu.switch": "start"})
    aeroplane.run(45.0)
    put(aeroplane, {"electrical.generator.apu.switch": "on", "bleed.apu.switch": "on"})
    aeroplane.run(5.0)
    for k in "21":
        start(aeroplane, k, seconds=50.0)
        assert aeroplane.get(f"engine.{k}.running") == "yes"
        assert _faults(aeroplane.state()) == []
