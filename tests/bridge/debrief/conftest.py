"""What the tests of the debrief share: one flight with the demonstration's slips, recorded once.

Takes: nothing.  Gives: fixtures.
"""

from __future__ import annotations

from pathlib import Path

import pytest

from bridge.debrief.drawing.plots import Plots, draw_all
from bridge.debrief.from_recording import debrief_from_recording
from bridge.debrief.model import DebriefData
from bridge.debrief.report.document import render_html
from bridge.recording.reader import open_recording
from bridge.recording.replay_judge import trip_of_head
from rules.packs.load_pack import load_pack
from rules.packs.model import Pack
from tests.bridge.debrief.recorded_flight import recorded_flight


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
