"""Fixtures for several tests of the judge."""

from __future__ import annotations

import pytest

from rules.faults import Fault, Place
from rules.language.checked_tree import FaultyCondition
from rules.packs.model import Item
from tests.rules.judge.scripted_flight import item


@pytest.fixture
def broken() -> Item:
    """An item with a faulty condition."""
    return item("broken", FaultyCondition(Fault(Place("pack.yaml", 3, 7), "unknown name lights.becon")))
