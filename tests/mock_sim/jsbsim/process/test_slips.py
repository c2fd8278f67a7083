"""The slips and what is said of those that do not exist."""

from __future__ import annotations

import pytest

from mock_sim.jsbsim.process.slips import DEMO, SLIPS, check_slips
from rules.faults import InputFaults
from rules.signals.book import load_book


@pytest.mark.parametrize(("kind", "book"), [("jet", "twin_jet"), ("piston", "piston")])
def test_slips_name_signals_of_the_book(kind: str, book: str) -> None:
    """What a slip touches are signals that exist, so that its findings can be told from others."""
    signals = load_book(book).signals
    assert {name for slip in SLIPS[kind].values() for name in slip.signals} <= set(signals)


@pytest.mark.parametrize("kind", SLIPS)
def test_sets_are_written_out(kind: str) -> None:
    """`all` is every slip, `demo` some of them, and a name beside them is added."""
    assert check_slips(kind, ["all"]) == set(SLIPS[kind])
    assert check_slips(kind, ["demo", "trim"]) == {*DEMO[kind], "trim"}


def test_every_unknown_slip_is_told() -> None:
    """Two wrong names are two faults, each with the names that there are, and a hint where one is near."""
    with pytest.raises(InputFaults) as told:
        check_slips("piston", ["mixtures", "flaps_30", "undercarriage"])
    assert [fault.what for fault in told.value.faults] == [
        "unknown slip mixtures",
        "unknown slip undercarriage",
    ]
    assert "mixture" in told.value.faults[0].hint
    assert "flaps_30" in told.value.faults[1].expected
