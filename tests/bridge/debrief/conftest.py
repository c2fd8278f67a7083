"""What the tests of the debrief share: one flight with the demonstration's slips, recorded once.

Takes: nothing.  Gives: fixtures.
"""

from __future__ import annotations

from pathlib import Path

import pytest

from bridge.debrief.account import Account
from bridge.debrief.gather import account_of_recording
from bridge.debrief.page import write_html
from bridge.debrief.plots import Plots, draw_all
from bridge.record.again import trip_of
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
    return load_pack("twin_jet", trip=trip_of(open_recording(recording).head))


@pytest.fixture(scope="session")
def account(recording: Path, twin_jet: Pack) -> Account:
    """It, gathered."""
    return account_of_recording(open_recording(recording), twin_jet)


@pytest.fixture(scope="session")
def plots(account: Account) -> Plots:
    """Its plots."""
    return draw_all(account)


@pytest.fixture(scope="session")
def page(account: Account, plots: Plots) -> str:
    """Its page for a screen."""
    return write_html(account, plots)
