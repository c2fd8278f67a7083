"""Tests of the slips, and of the faults for unknown ones."""

from __future__ import annotations

import pytest

from mock_sim.jsbsim.process.slips import DEMO, SLIPS, check_slips
from rules.faults import InputFaults
from rules.signals.book import load_book


@pytest.mark.parametrize(("kind", "book"), [("jet", "twin_jet"), ("piston", "piston")])
def test_slips_name_signals_of_the_book(kind: str, book: str) -> None:
    """The signals of a slip exist, so that its findings can be distinguished from others."""
    signals = load_book(book).signals
    assert {name for slip in SLIPS[kind].values() for name in slip.signals} <= set(signals)


@pytest.mark.parametrize("kind", SLIPS)
def test_sets_are_written_out(kind: str) -> None:
    """`all` is every slip, `demo` some of them, and a single name is added to them."""
    assert check_slips(kind, ["all"]) == set(SLIPS[kind])
    assert check_slips(kind, ["demo", "trim"]) == {*DEMO[kind], "trim"}


def test_every_unknown_slip_is_reported() -> None:
    """Two wrong names give two faults, each with the known names, and a hint if one is near."""
    with pytest.raises(InputFaults) as refused:
        check_slips("piston", ["mixtures", "flaps_30", "undercarriage"])
    assert [fault.what for fault in refused.value.faults] == [
        "unknown slip mixtures",
        "unknown slip undercarriage",
    ]
    assert "mixture" in refused.value.faults[0].hint
    assert "flaps_30" in refused.value.faults[1].expected
