"""Tests of the whole aeroplane: every signal of the piston book, always valid, reproducible, in steps of any length."""

from __future__ import annotations

from random import Random

import pytest

from mock_sim.piston import Halyard12
from mock_sim.piston.controls import FLAP_DETENTS
from mock_sim.piston.pilot import TASKS
from rules.signals.model import Signal, SignalKind, Value
from tests.mock_sim.piston.piston_steps import ALIVE, BOOK, FREE, crank, not_valid, number, prime, put


def _any_position(control: Signal, random: Random) -> Value:
    """Return a random position of a control."""
    if not control.is_numeric:
        return random.choice(control.words)
    if control.name == "controls.flap.lever":
        return random.choice(FLAP_DETENTS)
    if control.name == "transponder.code":
        return float("".join(random.choice("01234567") for _ in range(4)))
    value = random.choice([control.low, control.high, random.uniform(control.low, control.high)])
    return float(round(value)) if control.kind is SignalKind.COUNT else value


def test_every_signal_of_the_book_is_given() -> None:
    """The state has exactly the signals of the common and piston books, before and after a step."""
    trainer = Halyard12()
    assert trainer.state().keys() == BOOK.keys()
    trainer.step(0.05)
    assert trainer.state().keys() == BOOK.keys()


def test_the_start_state_is_valid_and_parked() -> None:
    """On the apron every value is valid, and the aeroplane is tied down, covered, locked and without power."""
    state = Halyard12().state()
    assert not_valid(state) == []
    wanted = {
        "electrical.battery.switch": "off",
        "parking.pitot_cover": "on",
        "parking.tie_down.tail": "on",
        "gear.chocks": "on",
        "controls.lock": "on",
        "fuel.selector": "off",
        "engine.1.magnetos": "off",
        "engine.1.rpm": 0.0,
        "flight.altitude": 380.0,
    }
    assert {name: state[name] for name in wanted} == wanted


@pytest.mark.parametrize("seed", range(4))
def test_random_settings_stay_valid(seed: int) -> None:
    """With random settings of all controls, at any step length, every signal stays valid by the book."""
    random = Random(seed)
    trainer = Halyard12(seed=seed)
    controls = [control for name, control in trainer.control_signals.items() if name != "sim.paused"]
    if seed % 2:  # half of them begin alive, so that more than a dark aeroplane is shaken
        put(trainer, ALIVE).run(3.0)
        prime(trainer)
        crank(trainer)
    for _ in range(500):
        for control in random.sample(controls, random.choice([0, 1, 4])):
            trainer.set(control.name, _any_position(control, random))
        trainer.step(random.choice([0.01, 0.05, 0.1, 0.33, 0.5]))
        assert not_valid(trainer.state()) == []


@pytest.mark.parametrize("seed", range(4))
def test_random_flying_stays_valid(running: Halyard12, seed: int) -> None:
    """With random controls, in climb, descent, stall and ground contact, every signal stays valid."""
    random = Random(seed)
    put(running, FREE)
    running.motion.place((0.0, 0.0), 312.0, random.choice([200.0, 3000.0, 13900.0]), 45.0)
    names = [
        "controls.column",
        "controls.wheel",
        "engine.1.throttle",
        "engine.1.mixture",
        "controls.flap.lever",
    ]
    for _ in range(500):
        control = running.control_signals[random.choice(names)]
        running.set(control.name, _any_position(control, random))
        if random.random() < 0.02:
            running.set("pilot.task", random.choice(TASKS))
        running.step(random.choice([0.05, 0.1, 0.5]))
        assert not_valid(running.state()) == []


def test_the_same_seed_gives_the_same_states() -> None:
    """Two aeroplanes with one seed are equal to the last digit; another seed gives other noise."""

    def fly(seed: int) -> list[dict[str, Value]]:
        trainer = put(Halyard12(seed=seed), ALIVE)
        states = []
        for _ in range(100):
            trainer.step(0.1)
            states.append(trainer.state())
        return states

    assert fly(5) == fly(5)
    assert fly(5)[-1] != fly(6)[-1]


def test_noise_is_small_and_leaves_the_machine_alone(running: Halyard12) -> None:
    """A noisy aeroplane reads near the exact one, and zero values stay zero."""
    noisy = Halyard12(seed=2)
    noisy.run(1.0)
    assert number(noisy, "engine.1.rpm") == 0.0
    put(noisy, ALIVE).run(5.0)
    prime(noisy)
    crank(noisy)
    noisy.run(120.0, 0.2)
    assert number(noisy, "engine.1.rpm") == pytest.approx(number(running, "engine.1.rpm"), abs=40.0)
    assert number(noisy, "engine.1.rpm") != number(running, "engine.1.rpm")
    total = number(noisy, "fuel.tank.left") + number(noisy, "fuel.tank.right")
    assert number(noisy, "fuel.total") == pytest.approx(total)


def test_long_steps_come_near_short_ones(alive: Halyard12) -> None:
    """The engine warms up alike with steps of a tenth and of half a second."""
    prime(alive)
    crank(alive)
    short = number(alive, "engine.1.oil_temperature")
    alive.run(60.0, 0.05)
    fine = number(alive, "engine.1.oil_temperature")
    warm = put(Halyard12(noise=False), {**ALIVE, "fuel.pump.auxiliary.switch": "on"})
    warm.run(3.0)
    prime(warm)
    crank(warm)
    warm.run(60.0, 0.5)
    assert fine > short
    assert number(warm, "engine.1.oil_temperature") == pytest.approx(fine, rel=0.01)
