"""Tests of flights on which some speakers enter their calls, and others do not."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import replace

import pytest

from rules.judge.judge import Judge
from tests.packs_flight.recorded_sector import CleanSector, JudgedFlight

TWO = ("trip_sheet_received", "push_approved")


def flown(
    clean: CleanSector, declared: tuple[str, ...] | None, entered: Collection[str], left_out: str = ""
) -> dict[str, str]:
    """Findings up to the climb of the clean flight, with these calls only."""
    judged = JudgedFlight(Judge(clean.pack, replace(clean.trip, calls=declared)))
    others = {call for call in clean.pack.calls if call not in entered or call == left_out}
    return judged.play(clean.between(0, clean.judged.phase_s("climb")), calls_left_out=others).found


def spoken_by(clean: CleanSector, *speakers: str) -> list[str]:
    """Calls of these speakers."""
    return [call.id for call in clean.pack.calls.values() if call.by in speakers]


@pytest.mark.parametrize("declared", [None, ()])
def test_two_calls_make_no_others_omitted(clean: CleanSector, declared: tuple[str, ...] | None) -> None:
    """A crew that enters two calls hears nothing of the other thirty."""
    assert flown(clean, declared, TWO) == {}


@pytest.mark.parametrize("declared", [None, ("captain",)])
def test_one_pilot_who_enters_his_own_calls(clean: CleanSector, declared: tuple[str, ...] | None) -> None:
    """Nothing is found of the first officer's calls, nor of those of controller, ground and cabin."""
    own = spoken_by(clean, "captain")
    assert flown(clean, declared, own) == {}
    assert flown(clean, declared, own, "before_takeoff_checklist") == {
        "flow.before_takeoff.before_takeoff_read": "omitted"
    }
