"""Tests of bridge.session.input_signals: the simulator sends neither trip values nor figures."""

from __future__ import annotations

from bridge.session.input_signals import input_signals, non_input_reason
from tests.shipped import shipped_pack


def test_trip_values_and_figures_are_no_input() -> None:
    """All signals but those of the trip sheet and the pack's figures are inputs; the others have a reason."""
    pack = shipped_pack("twin_jet")
    figures = {figure.signal.name for figure in pack.figures}
    trip_signals = {name for name in pack.signals if name.startswith("trip.")}
    assert set(input_signals(pack)) == set(pack.signals) - figures - trip_signals
    assert trip_signals
    assert {non_input_reason(pack, name) for name in trip_signals} == {"it comes from the trip sheet"}
    assert {non_input_reason(pack, name) for name in figures} <= {"the pack calculates it"}
    assert non_input_reason(pack, "lights.beacon") == ""
