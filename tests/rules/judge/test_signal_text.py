"""Tests of rules.judge.signal_text: values as they are read aloud."""

from __future__ import annotations

import pytest

from rules.judge.signal_text import fill_placeholders
from rules.signals.book import load_books
from rules.signals.state import SignalState


@pytest.mark.parametrize(
    ("book", "text", "values", "said"),
    [
        ("twin_jet", "bank {flight.bank}", {"flight.bank": -18.4}, "bank 18 deg left"),
        ("twin_jet", "bank {flight.bank}", {"flight.bank": 30.0}, "bank 30 deg right"),
        ("twin_jet", "bank {flight.bank}", {"flight.bank": -0.2}, "bank 0 deg"),
        ("twin_jet", "{navigation.glide_path}", {"navigation.glide_path": -1.5}, "1.5 dots low"),
        ("twin_jet", "{flight.vertical_speed}", {"flight.vertical_speed": -1800.0}, "1 800 ft/min down"),
        ("twin_jet", "{airspeed.captain}", {"airspeed.captain": 79.8}, "80 kt"),
        ("twin_jet", "slats {controls.slat.position}", {"controls.slat.position": "transit"}, "slats in transit"),
        ("piston", "mixture {engine.1.mixture}", {"engine.1.mixture": 100.0}, "mixture rich"),
        ("piston", "mixture {engine.1.mixture}", {"engine.1.mixture": 60.0}, "mixture 60 %"),
        ("piston", "mixture {engine.1.mixture}", {"engine.1.mixture": 0.0}, "mixture cut-off"),
        ("piston", "heat {ice.carburettor}", {"ice.carburettor": 3.0}, "heat cold"),
    ],
)  # fmt: skip
def test_a_value_is_said_as_a_pilot_says_it(
    book: str, text: str, values: dict[str, float | str], said: str
) -> None:
    """A side is said instead of a sign, a named part of a range instead of a number, and no more digits than are read."""
    state = SignalState(load_books([book, "trip"]))
    for name, value in values.items():
        state.set_value(name, value, 0.0)
    assert fill_placeholders(text, state) == said
