"""A `*` with two readings is refused, and the hint says both: what it offers is valid and means what it is offered for."""

from __future__ import annotations

import re

import pytest
from hypothesis import assume, example, given, settings

from rules.faults import Fault, InputFaults
from rules.language import checked_tree
from rules.language.check import AllInoperative, check
from rules.language.parser import MAX_LENGTH
from tests.rules.language.check.test_wildcards import SCOPE, texts, traces
from tests.rules.language.oracle import Oracle
from tests.rules.language.oracle_histories import Step
from tests.rules.language.scopes import SCOPES, at

SMALL = SCOPES["small"]
_LAMPS = [Step(8.0, {"e.1.s": "on", "e.2.s": "off"})]


def _faults(text: str, other: str | None = None) -> tuple[Fault, ...]:
    """Faults of a condition of the small scope."""
    try:
        check(text, SMALL, at(text), other=other)
    except InputFaults as error:
        return error.faults
    return ()


@pytest.mark.parametrize(
    "text",
    [
        "not any engine.*.n2 > 5 %",
        "any (not engine.*.n2 > 5 %)",
        "not any (engine.*.n2 > 5 % and engine.*.lever is open)",
        "any (engine.*.n2 > 5 % and not engine.*.lever is open)",
        "if engine.*.n2 > 5 % then not engine.*.lever is open",
        "if not engine.*.n2 > 5 % then engine.*.lever is open",
        "engine.*.n2 > 5 % or not engine.*.lever is open",
        "engine.*.n2 > 5 % and (speed > 5 kt and not engine.*.lever is open)",
        "engine.*.n2 > 5 % since (not engine.*.lever is open) became true",
        "(not engine.*.lever is open) happened before engine.*.lever became closed",
        "at most 1 of (not pump.*.switch is on)",
        "not at most 1 of (pump.*.switch is on)",
        "not at most 1 of (pump.left.switch is on, pump.right.switch is on)",
        "at most 1 of (pump.*.switch is on, pump.*.low_pressure is on)",
        "pump.*.switch is not on",
        "engine.*.n2 != 5 %",
        "pump.*.switch is not one of (on, off) or speed > 5 kt",
        "not highest of engine.*.n2 > 5 %",
        "not lights.beacon is on",
    ],
)  # fmt: skip
def test_a_wildcard_with_one_reading_is_no_fault(text: str) -> None:
    """`any`, a count, `highest of` or a condition around the `not` say which match is meant."""
    assert [
        fault.what for fault in _faults(text) if "can mean" in fault.what or "can count" in fault.what
    ] == []


def test_a_wildcard_that_takes_one_word_has_one_reading() -> None:
    """Of one match none and not all are the same."""
    assert SMALL.matching_words("hydraulic.*") == ("pressure",)
    assert _faults("not hydraulic.* > 5 psi") == ()


def test_the_other_condition_of_a_rule_binds_its_wildcard() -> None:
    """A `*` that both conditions of a rule have is one match outside of both; another `*` is not."""
    text = "not engine.*.lever is open"
    assert _faults(text, "engine.*.n2 > 5 %") == ()
    for other in ("any engine.*.n2 > 5 %", "pump.*.switch is on", "engine.1.n2 > 5 %", "speed >"):
        assert [fault.what for fault in _faults(text, other)] == [
            "`not` with engine.*.lever can mean none or not all"
        ]


def test_inoperative_matches_do_not_hide_the_fault() -> None:
    """The text of a pack is right or wrong whatever a trip sheet says."""
    for scope in ("no left pump", "no pumps"):
        with pytest.raises(InputFaults, match="can mean none or not all"):
            check("not pump.*.switch is on", SCOPES[scope], at(""))
    with pytest.raises(AllInoperative):
        check("not any pump.*.switch is on", SCOPES["no pumps"], at(""))


def _is_valid(text: str) -> bool:
    """True for a condition without a fault."""
    try:
        check(text, SCOPE, at(text))
    except InputFaults:
        return False
    return True


def _unless_constant(text: str) -> checked_tree.Condition:
    """Checked condition; one that can never change is not drawn."""
    try:
        return check(text, SCOPE, at(text))
    except InputFaults as error:
        assume(not all(fault.what.startswith("this is ") for fault in error.faults))
        raise


@settings(max_examples=300, deadline=None)
@given(texts, traces())
@example("e.*.s is on", _LAMPS)
@example("e.*.x > 4 psi", [Step(8.0, {"e.1.x": 6.0, "e.2.x": 3.0})])
@example("e.*.s is on and lamp is on", [Step(8.0, {"e.1.s": "on", "e.2.s": "off", "lamp": "on"})])
@example(
    "if e.*.s is on then e.valve.* is on", [Step(8.0, {"e.1.s": "on", "e.2.s": "off", "e.valve.1": "off"})]
)
def test_both_readings_of_the_hint_mean_what_it_says(inner: str, trace: list[Step]) -> None:
    """The first is true where the condition holds for no match, the second where it does not for all."""
    assume("*" in inner and "any" not in inner and "door" not in inner and "not" not in inner)
    text = f"not ({inner})" if "(" in inner or " and " in inner or "if " in inner else f"not {inner}"
    assume(len(text) < MAX_LENGTH and _is_valid(inner))
    with pytest.raises(InputFaults, match="can mean none or not all") as caught:
        check(text, SCOPE, at(text))
    (fault,) = caught.value.faults
    readings = re.fullmatch(r"write `(not any .+)` for none, or `(any .+)` for not all", fault.hint)
    assert readings
    assume("..." not in readings[0])
    none, not_all = map(_unless_constant, readings.groups())
    each = tuple(
        checked_tree.Not(check(own, SCOPE, at(own)))
        for own in (inner.replace("*", word) for word in ("1", "2"))
    )
    oracle = Oracle(trace)
    assert oracle.truth(none) is oracle.truth(checked_tree.And(each))
    assert oracle.truth(not_all) is oracle.truth(checked_tree.Or(each))
