"""Tests of bridge.session.input_signals: the simulator sends neither trip values nor figures."""

from __future__ import annotations

from bridge.session.input_signals import input_signals, non_input_reason
from rules.packs.load_pack import load_pack


def test_what_the_pack_or_the_papers_say_is_not_sent() -> None:
    """All signals but those of the trip sheet and the pack's own figures can be sent, and the others say whose they are."""
    pack = load_pack("twin_jet")
    figures = {figure.signal.name for figure in pack.figures}
    papers = {name for name in pack.signals if name.startswith("trip.")}
    assert set(input_signals(pack)) == set(pack.signals) - figures - papers
    assert papers
    assert {non_input_reason(pack, name) for name in papers} == {"it comes from the trip sheet"}
    assert {non_input_reason(pack, name) for name in figures} <= {"the pack calculates it"}
    assert non_input_reason(pack, "lights.beacon") == ""
