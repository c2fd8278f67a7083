"""What the tests of the debrief share: one flight with the demonstration's slips, recorded once.

Takes: nothing.  Gives: fixtures.
"""

from __future__ import annotations

from pathlib import Path

import pytest

from bridge.debrief.account import DebriefData
from bridge.debrief.gather import debrief_from_recording
from bridge.debrief.page import render_html
from bridge.debrief.plots import Plots, draw_all
from bridge.record.again import trip_of_head
from bridge.record.reader import open_recording
from rules.packs.load import load_pack
from rules.packs.model import Pack
from tests.bridge.debrief.flown import recorded_flight


@pytest.fixture(scope="session")
def recording(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A departure with the demonstration's slips."""
    return recorded_flight(tmp_path_factory.mktemp("flown"), slips=["demo"])


@pytest.fixture(scope="session")
def twin_jet(recording: Path) -> Pack:
    """The pack by which it was judged."""
    return load_pack("twin_jet", trip=trip_of_head(open_recording(recording).head))


@pytest.fixture(scope="session")
def account(recording: Path, twin_jet: Pack) -> DebriefData:
    """It, gathered."""
    return debrief_from_recording(open_recording(recording), twin_jet)


@pytest.fixture(scope="session")
def plots(account: DebriefData) -> Plots:
    """Its plots."""
    return draw_all(account)


@pytest.fixture(scope="session")
def page(account: DebriefData, plots: Plots) -> str:
    """Its page for a screen."""
    return render_html(account, plots)
