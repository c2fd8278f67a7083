"""Inoperative signals in counts, in `if` and in comparisons: what is left is judged."""

from __future__ import annotations

from dataclasses import replace

import pytest

from rules.faults import InputFaults
from rules.language.check import AllInoperative, check
from rules.language.checked_tree import Condition
from tests.rules.language.scopes import SCOPES, at


def _checked(text: str, *inoperative: str) -> Condition:
    return check(text, replace(SCOPES["small"], inoperative=inoperative), at(text))


LEFT = "(pump.centre.switch is on, pump.right.switch is on)"


@pytest.mark.parametrize(
    ("count", "left"),
    [
        ("at least 3", "at least 2"),
        ("at least 2", "at least 2"),
        ("at least 1", "at least 1"),
        ("at most 2", "at most 1"),
        ("at most 1", "at most 1"),
        ("at most 0", "at most 0"),
        ("exactly 3", "exactly 2"),
        ("exactly 2", "exactly 2"),
        ("exactly 0", "exactly 0"),
        ("not at most 2", "not at most 1"),
        ("not at least 3", "not at least 2"),
    ],
)
def test_a_count_is_lowered_to_what_is_left(count: str, left: str) -> None:
    """Of three pumps one is inoperative: a number that two can reach and exceed stays, any other is lowered to one."""
    text = f"{count} of (pump.*.switch is on)"
    assert _checked(text, "pump.left") == _checked(f"{left} of {LEFT}")
    within = f"if engine.*.n2 > 5 % then {text}"
    assert _checked(within, "pump.left") == _checked(f"if engine.*.n2 > 5 % then {left} of {LEFT}")


def test_a_list_is_lowered_too() -> None:
    """A condition of a list in which nothing is left is not counted."""
    text = "at least 2 of (any pump.*.switch is on, lights.beacon is on, lights.strobe is on)"
    assert _checked(text, "pump") == _checked("at least 2 of (lights.beacon is on, lights.strobe is on)")
    both = text.replace("2 of", "3 of")
    assert _checked(both, "pump") == _checked("at least 2 of (lights.beacon is on, lights.strobe is on)")


@pytest.mark.parametrize("inoperative", [(), ("pump.left",)])
@pytest.mark.parametrize("count", ["at least 4", "at most 3", "exactly 4", "at least 0"])
def test_a_wrong_number_stays_a_fault(count: str, inoperative: tuple[str, ...]) -> None:
    """A number that could not be reached or exceeded by all of them is a fault, with and without inoperative ones."""
    for text in (f"{count} of (pump.*.switch is on)", f"speed > 5 kt and {count} of (pump.*.switch is on)"):
        with pytest.raises(InputFaults) as caught:
            _checked(text, *inoperative)
        assert [fault.hint for fault in caught.value.faults] == ["3 conditions are counted"]


def test_the_same_count_twice() -> None:
    """Signals that one count left out are left out of the next one too."""
    twice = "at least 3 of (pump.*.switch is on) and at least 3 of (pump.*.low_pressure is off)"
    low = LEFT.replace("switch is on", "low_pressure is off")
    assert _checked(twice, "pump.left") == _checked(f"at least 2 of {LEFT} and at least 2 of {low}")


@pytest.mark.parametrize(
    ("text", "inoperative", "same"),
    [
        ("if any pump.*.switch is on then lights.beacon is on", "pump", "if any pump.*.switch is on then lights.beacon is on"),
        ("if pump.*.switch is on then pump.*.low_pressure is off", "pump.left.switch",
         "if pump.*.switch is on then pump.*.low_pressure is off"),
        ("if pump.*.switch is on then speed > 5 kt", "pump.left",
         "if pump.centre.switch is on and pump.right.switch is on then speed > 5 kt"),
    ],
)  # fmt: skip
def test_what_an_if_asks_for_is_judged(text: str, inoperative: str, same: str) -> None:
    """An `if` of which nothing is left is read all the same, where something is left of what it asks for."""
    found, expected = _checked(text, inoperative), _checked(same)
    assert repr(found).replace("from_wildcard=True", "from_wildcard=False") == repr(expected).replace(
        "from_wildcard=True", "from_wildcard=False"
    )


@pytest.mark.parametrize(
    "text",
    [
        "highest of engine.*.egt - lowest of engine.*.egt < 50 degC",
        "not (highest of engine.*.egt - lowest of engine.*.egt > 50 degC)",
        "engine.*.egt within 40 degC of average of engine.*.egt",
    ],
)
def test_a_comparison_that_can_no_longer_change_is_left_out(text: str) -> None:
    """A spread needs two: of the only engine that is left it says nothing, neither good nor bad."""
    with pytest.raises(AllInoperative):
        _checked(text, "engine.1.egt")
    assert _checked(f"{text} and lights.beacon is on", "engine.1.egt") == _checked("lights.beacon is on")
