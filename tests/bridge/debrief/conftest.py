"""Fixtures of the debrief's tests: one flight with the demonstration's slips, recorded once.

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
    """The pack that judged the flight."""
    return load_pack("twin_jet", trip=trip_of_head(open_recording(recording).head))


@pytest.fixture(scope="session")
def debrief(recording: Path, twin_jet: Pack) -> DebriefData:
    """The debrief of the flight."""
    return debrief_from_recording(open_recording(recording), twin_jet)


@pytest.fixture(scope="session")
def plots(debrief: DebriefData) -> Plots:
    """The plots of the debrief."""
    return draw_all(debrief)


@pytest.fixture(scope="session")
def page(debrief: DebriefData, plots: Plots) -> str:
    """The HTML page of the debrief."""
    return render_html(debrief, plots)
