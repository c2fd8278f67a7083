"""An item is undone only after a time in which it asked for something and was met."""

from __future__ import annotations

from collections.abc import Sequence

import pytest

from rules.judge.events import FindingOpened
from rules.language.checked_tree import And, Condition, Implies, Unless
from rules.packs.model import FindingKind
from tests.rules.judge.scripted_flight import (
    BEACON,
    LIGHT,
    PUMP,
    PackBuilder,
    ScriptedFlight,
    events_of,
    item,
    on,
)

NIGHT_PUMP = Implies(on(LIGHT), on(PUMP))
PUMP_UNLESS_NIGHT = Unless(on(PUMP), on(LIGHT))
"""Conditions that can be true without asking for the pump: where it is no night, and where it is night."""
WITH_BEACON = And((on(BEACON), NIGHT_PUMP))

OMITTED, UNDONE = FindingKind.OMITTED, FindingKind.UNDONE
Step = tuple[str, str]
"""Light and pump for 10 s."""


def _kind(condition: Condition, steps: Sequence[Step]) -> FindingKind:
    """Kind of the one finding at the cue, after the last step."""
    flight = ScriptedFlight(PackBuilder([item("pump", condition)]))
    for number, (light, pump) in enumerate(steps):
        flight.send_frame(10.0 * number, beacon="on", light=light, pump=pump)
    flight.send_frame(10.0 * len(steps) - 5, ["ready"])
    flight.send_frame(10.0 * len(steps))
    (finding,) = (opened.finding for opened in events_of(flight.events, FindingOpened))
    return finding.kind


@pytest.mark.parametrize(
    ("condition", "steps", "kind"),
    [
        (NIGHT_PUMP, [("off", "off"), ("on", "off")], OMITTED),
        (NIGHT_PUMP, [("off", "on"), ("off", "off"), ("on", "off")], OMITTED),
        (NIGHT_PUMP, [("off", "off"), ("on", "on"), ("on", "off")], UNDONE),
        (WITH_BEACON, [("off", "off"), ("on", "off")], OMITTED),
        (WITH_BEACON, [("on", "on"), ("on", "off")], UNDONE),
        (PUMP_UNLESS_NIGHT, [("on", "off"), ("off", "off")], OMITTED),
        (PUMP_UNLESS_NIGHT, [("on", "on"), ("off", "off")], UNDONE),
        (PUMP_UNLESS_NIGHT, [("off", "on"), ("on", "off"), ("off", "off")], UNDONE),
    ],
)
def test_what_asked_for_nothing_was_not_undone(
    condition: Condition, steps: Sequence[Step], kind: FindingKind
) -> None:
    """A condition that was true only because it asked for nothing does not count as met."""
    assert _kind(condition, steps) is kind


def test_a_short_time_does_not_count() -> None:
    """A time shorter than the clear time of the item does not count."""
    flight = ScriptedFlight(PackBuilder([item("pump", NIGHT_PUMP)]))
    flight.send_frame(0, light="on", pump="off")
    flight.send_frame(10, pump="on")
    flight.send_frame(10.1, pump="off")
    flight.send_frame(20, ["ready"])
    flight.send_frame(25)
    (opened,) = events_of(flight.events, FindingOpened)
    assert opened.finding.kind is OMITTED
