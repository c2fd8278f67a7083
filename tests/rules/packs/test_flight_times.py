"""Tests of times in packs: what is read, and what is refused with its place."""

from __future__ import annotations

from pathlib import Path

import pytest

from rules.packs.load_pack import load_pack
from rules.packs.model import OooiMoment
from rules.packs.trip_sheet import TripSheet
from tests.rules.packs.sample_packs import COMPLETE_PACK, load_faults, load_text

TIMES = """\
times:
  out: {when: flight.ground_speed > 1 kt, phases: [push_back]}
  off: {when: flight.on_ground is no, source: "common practice, no source"}
"""
LINE = COMPLETE_PACK.count("\n")


def test_times_are_read(tmp_path: Path) -> None:
    """Each moment has its condition and its phases; none that is named holds for all of them."""
    out, off = load_text(tmp_path, COMPLETE_PACK + TIMES).flight_times
    assert (out.moment, out.phases) == (OooiMoment.OUT, ("push_back",))
    assert (off.moment, off.phases) == (OooiMoment.OFF, ())


@pytest.mark.parametrize(
    ("old", "new", "fault"),
    [
        (
            "  off:",
            "  of:",
            "3:3: of is not a moment of a flight, expected out, off, on or in | did you mean off?",
        ),
        ("[push_back]", "[push_bak]", "2:52: unknown phase push_bak | did you mean push_back?"),
        ("when: flight.on_ground is no, ", "", "3:3: "),
        ("source:", "sauce:", "3:"),
    ],
)
def test_what_is_wrong_is_said_with_its_place(tmp_path: Path, old: str, new: str, fault: str) -> None:
    """A moment or a phase that is none, a missing or unknown key: each at its line and column."""
    line, rest = fault.split(":", 1)
    found = load_faults(tmp_path, COMPLETE_PACK + TIMES.replace(old, new))
    assert any(one.startswith(f"{LINE + int(line)}:{rest}") for one in found), found


def test_a_broken_condition_is_kept_with_its_fault(tmp_path: Path) -> None:
    """The pack runs, and tells the fault of a condition that cannot be checked."""
    pack = load_text(tmp_path, COMPLETE_PACK + TIMES.replace("flight.on_ground", "flight.on_grund"))
    assert [fault.what for fault in pack.faults] == ["unknown name flight.on_grund"]


def test_what_nothing_shows_is_left_out(tmp_path: Path) -> None:
    """A moment of whose condition all signals are dispatched inoperative cannot be noted."""
    trip = TripSheet("A flight", {}, ("flight.on_ground",))
    pack = load_text(tmp_path, COMPLETE_PACK.split("quiets:")[0] + TIMES, trip)
    assert [rule.moment for rule in pack.flight_times] == [OooiMoment.OUT]


@pytest.mark.parametrize("name", ["twin_jet", "trainer"])
def test_the_shipped_packs_have_all_four(name: str) -> None:
    """Out, off, on and in."""
    assert [rule.moment for rule in load_pack(name).flight_times] == list(OooiMoment)
