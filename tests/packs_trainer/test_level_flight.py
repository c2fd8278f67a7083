"""Level flight that is not quite level: who corrects a height does not approach, and who comes down does."""

from __future__ import annotations

import pytest

from tests.packs_trainer.circuit_steps import CIRCUIT
from tests.packs_trainer.scripted_circuit import Changes, ScriptedCircuit, Step

LEVEL_FT = 1000.0


def descent(over_ft: float, rate_ft_min: float, *, to_ft: float = LEVEL_FT) -> list[Step]:
    """Second by second from so far above the level down to a height, and then level."""
    lost_ft = rate_ft_min / 60.0
    begin_ft = LEVEL_FT + over_ft
    heights = [begin_ft - lost_ft * n for n in range(1, int((begin_ft - to_ft) / lost_ft) + 1)]
    down: Changes = {"flight.vertical_speed": -rate_ft_min}
    return [
        Step("too_high", 5, {"flight.height": begin_ft}),
        *(Step(f"down_{n}", 1, {"flight.height": height, **down}) for n, height in enumerate(heights)),
        Step("level_again", 20, {"flight.height": to_ft, "flight.vertical_speed": 0.0}),
    ]


def level(*without: str) -> ScriptedCircuit:
    """Settled in level flight, with the power of level flight."""
    return ScriptedCircuit(without=without).fly(CIRCUIT, until="downwind").fly([Step("settled", 60, {})])


@pytest.mark.parametrize("rate_ft_min", [250.0, 400.0, 900.0])
@pytest.mark.parametrize("over_ft", [40.0, 80.0, 100.0, 140.0])
def test_a_corrected_height_is_no_approach(over_ft: float, rate_ft_min: float) -> None:
    """Down again from an overshoot, slowly or fast, the flight stays level and nothing is said."""
    flight = level().fly(descent(over_ft, rate_ft_min))
    assert flight.phases[-1] == "cruise"
    assert flight.notice_sentences == []


@pytest.mark.parametrize("rate_ft_min", [250.0, 400.0, 900.0])
def test_a_descent_is_an_approach(rate_ft_min: float) -> None:
    """From level flight down to 750 ft, the flight is on its approach."""
    flight = level().fly(descent(0.0, rate_ft_min, to_ft=750.0))
    assert flight.phases[-1] == "approach"


def test_without_heights_no_approach_is_recognised() -> None:
    """Where no height is received, nobody knows of an approach, and nothing is said of it."""
    flight = level("flight.height").fly(descent(0.0, 400.0, to_ft=750.0))
    assert "approach" not in flight.phases
