"""Flight times in packs: loading, and faults with their places."""

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
    """Each moment has its condition and its phases, by default all of them."""
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
def test_each_mistake_has_its_place(tmp_path: Path, old: str, new: str, fault: str) -> None:
    """An unknown moment or phase, a missing or unknown key: each has its line and column."""
    line, rest = fault.split(":", 1)
    found = load_faults(tmp_path, COMPLETE_PACK + TIMES.replace(old, new))
    assert any(one.startswith(f"{LINE + int(line)}:{rest}") for one in found), found


def test_a_broken_condition_does_not_refuse_the_pack(tmp_path: Path) -> None:
    """The pack loads, and reports the fault of a faulty condition."""
    pack = load_text(tmp_path, COMPLETE_PACK + TIMES.replace("flight.on_ground", "flight.on_grund"))
    assert [fault.what for fault in pack.faults] == ["unknown name flight.on_grund"]


def test_an_inoperative_moment_is_left_out(tmp_path: Path) -> None:
    """A moment whose signals are all dispatched inoperative is left out."""
    trip = TripSheet("A flight", {}, ("flight.on_ground",))
    pack = load_text(tmp_path, COMPLETE_PACK.split("quiets:")[0] + TIMES, trip)
    assert [rule.moment for rule in pack.flight_times] == [OooiMoment.OUT]


@pytest.mark.parametrize("name", ["twin_jet", "trainer"])
def test_the_shipped_packs_have_all_four(name: str) -> None:
    """Each shipped pack has the conditions of out, off, on and in."""
    assert [rule.moment for rule in load_pack(name).flight_times] == list(OooiMoment)
