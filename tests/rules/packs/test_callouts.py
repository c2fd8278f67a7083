"""Callouts in packs: loading, faults with their places, and merging."""

from __future__ import annotations

from pathlib import Path

import pytest

from rules.packs.load_pack import load_pack
from rules.packs.trip_sheet import TripSheet
from tests.rules.packs.sample_packs import COMPLETE_PACK, load_faults, load_text

CALLOUTS = """\
callouts:
  cross_check:
    text: "80 knots, {flight.heading}"
    when: flight.airspeed >= 80 kt
    phases: [push_back]
    once_per: phase
    source: common practice, no source
  alive: {text: Alive, when: flight.airspeed > 40 kt}
"""
LINE = COMPLETE_PACK.count("\n")


def test_a_callout_is_read(tmp_path: Path) -> None:
    """A callout has the values of the file; without them it counts in every phase and on every occasion."""
    first, second = load_text(tmp_path, COMPLETE_PACK + CALLOUTS).callouts
    assert (first.id, first.text, first.phases, first.once_per_phase) == (
        "cross_check", "80 knots, {flight.heading}", ("push_back",), True,
    )  # fmt: skip
    assert (second.id, second.text, second.phases, second.once_per_phase) == ("alive", "Alive", (), False)


def test_a_callout_gives_several_values(tmp_path: Path) -> None:
    """A `*` in a placeholder is all that match, and a limit is its value."""
    text = CALLOUTS.replace("{flight.heading}", "{lights.landing.*}, {limit.accumulator_low}")
    first, _ = load_text(tmp_path, COMPLETE_PACK + text).callouts
    assert first.text == "80 knots, {lights.landing.*}, 2 600 psi"
    assert first.shown == {"lights.landing.*": ("lights.landing.left", "lights.landing.right")}


@pytest.mark.parametrize(
    ("old", "new", "fault"),
    [
        ("{flight.heading}", "{flight.headin}",
         "3:23: unknown signal flight.headin, expected a signal | did you mean flight.heading?"),
        ("{flight.heading}", "{flight.heading", "3:22: an unmatched brace, expected {signal}"),
        ("{flight.heading}", "*", "3:22: this `*` stands for nothing"),
        ("[push_back]", "[push_bak]", "5:14: unknown phase push_bak | did you mean push_back?"),
        ("once_per: phase", "once_per: flight", "6:15: "),
        ("    when: flight.airspeed >= 80 kt\n", "", "2:3: "),
        ("text: Alive", "txet: Alive", "8:"),
    ],
)  # fmt: skip
def test_each_mistake_has_its_place(tmp_path: Path, old: str, new: str, fault: str) -> None:
    """An unknown placeholder or phase, a missing or unknown key: each has its line and column."""
    assert CALLOUTS.count(old) == 1
    line, rest = fault.split(":", 1)
    found = load_faults(tmp_path, COMPLETE_PACK + CALLOUTS.replace(old, new))
    assert any(one.startswith(f"{LINE + int(line)}:{rest}") for one in found), found


def test_a_broken_condition_does_not_refuse_the_pack(tmp_path: Path) -> None:
    """The pack loads, and reports the fault of a faulty condition."""
    pack = load_text(
        tmp_path, COMPLETE_PACK + CALLOUTS.replace("flight.airspeed > 40 kt", "flight.airsped > 40 kt")
    )
    assert [fault.what for fault in pack.faults] == ["unknown name flight.airsped"]
    assert len(pack.callouts) == 2


def test_an_extending_pack_changes_callouts(tmp_path: Path) -> None:
    """An operator's pack changes one key of a callout, adds one, and removes one."""
    base = tmp_path / "base"
    base.mkdir()
    (base / "p.yaml").write_text(COMPLETE_PACK + CALLOUTS, encoding="utf-8")
    top = tmp_path / "top.yaml"
    top.write_text(
        "pack: {id: top, title: Top, extends: base}\n"
        "callouts:\n"
        "  cross_check: {text: One hundred, when: flight.airspeed >= 100 kt}\n"
        "  alive: {remove: true}\n"
        "  v1: {text: V1, when: flight.airspeed >= trip.v1}\n",
        encoding="utf-8",
    )
    pack = load_pack(str(top))
    assert [(one.id, one.text, one.once_per_phase) for one in pack.callouts] == [
        ("cross_check", "One hundred", True),
        ("v1", "V1", False),
    ]


def test_callouts_on_inoperative_signals_are_left_out(tmp_path: Path) -> None:
    """A callout whose signals are all dispatched inoperative is left out."""
    trip = TripSheet(title="", note="", values={}, inoperative=("flight.airspeed",))
    assert load_text(tmp_path, COMPLETE_PACK.split("quiets:")[0] + CALLOUTS, trip).callouts == ()


@pytest.mark.parametrize("name", ["twin_jet", "trainer"])
def test_shipped_callouts(name: str) -> None:
    """Each shipped pack calls the time of its start and the speeds of its roll, without faults."""
    pack = load_pack(name)
    assert pack.faults == ()
    assert {"start_10", "start_20", "airspeed_alive", "rotate"} <= {one.id for one in pack.callouts}
