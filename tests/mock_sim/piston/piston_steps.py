"""Test helpers for the Halyard 12: set several controls, read a number, start the engine, check the book.

Takes: an aeroplane.  Gives: the helpers of this folder.
"""

from __future__ import annotations

from collections.abc import Mapping

from mock_sim.piston import Halyard12
from rules.signals.book import load_books
from rules.signals.model import Quality, Value
from rules.signals.state import SignalState

BOOK = load_books(["piston"])
ALIVE: dict[str, Value] = {
    "electrical.battery.switch": "on",
    "electrical.alternator.switch": "on",
    "fuel.selector": "both",
    "engine.1.mixture": 100.0,
    "engine.1.throttle": 9.0,
}
FREE: dict[str, Value] = {
    **{f"parking.tie_down.{rope}": "removed" for rope in ("left", "right", "tail")},
    "parking.pitot_cover": "removed",
    "parking.engine_cover": "removed",
    "gear.chocks": "removed",
    "controls.lock": "off",
    "gear.parking_brake": "released",
}


def put(trainer: Halyard12, positions: Mapping[str, Value]) -> Halyard12:
    """Put several controls into position."""
    for name, value in positions.items():
        trainer.set(name, value)
    return trainer


def number(trainer: Halyard12, name: str) -> float:
    """A signal that is a number."""
    value = trainer.get(name)
    assert isinstance(value, float)
    return value


def prime(trainer: Halyard12) -> None:
    """Two strokes of the primer."""
    for _ in range(2):
        for position in ("open", "locked"):
            trainer.set("engine.1.primer", position)
            trainer.run(0.5)


def crank(trainer: Halyard12, most_s: float = 15.0) -> float:
    """Hold the key at start until the engine runs; return the seconds, `most_s` if it does not start."""
    trainer.set("engine.1.magnetos", "start")
    for tick in range(round(most_s / 0.1)):
        trainer.run(0.1)
        if trainer.get("engine.1.running") == "yes":
            trainer.set("engine.1.magnetos", "both")
            return (tick + 1) * 0.1
    trainer.set("engine.1.magnetos", "both")
    return most_s


def not_valid(state: Mapping[str, Value]) -> list[str]:
    """Return the signals of a state that the book does not accept as valid."""
    signal_state = SignalState(BOOK)
    for name, value in state.items():
        signal_state.set_value(name, value, 0.0)
    return [
        f"{name}={value!r}"
        for name, value in state.items()
        if signal_state.sample(name).quality is not Quality.FRESH
    ]
