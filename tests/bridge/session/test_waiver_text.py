"""Tests of bridge.session.waiver_text: item, gates, reason."""

from __future__ import annotations

from bridge.session.waiver_text import waived_item, waiver_text
from rules.judge.events import WaiverBegun, WaiverUndone
from rules.packs.model import Pack


def test_an_item_has_its_label_and_its_gates(pack: Pack) -> None:
    """A waived item has the titles of the gates that need it; an item that the pack does not have keeps its id."""
    assert waived_item(pack, "flow.before.beacon") == ("Beacon", ("Push back",))
    assert waived_item(pack, "flow.before.other") == ("flow.before.other", ())


def test_a_text_has_the_reason() -> None:
    """A text says what happened to the waiver, and why where that is known."""
    assert waiver_text(WaiverBegun(1.0, "a", "lamp failed", "atc"), "Beacon") == "Beacon waived: lamp failed"
    assert waiver_text(WaiverUndone(1.0, "a", "", "atc", 0.0), "Beacon") == "Beacon no longer waived"
    mended = WaiverUndone(1.0, "a", "mended", "atc", 0.0)
    assert waiver_text(mended, "Beacon") == "Beacon no longer waived: mended"
